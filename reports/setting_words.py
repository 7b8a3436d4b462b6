"""What every channel, fuse and output is set to, the range it may be set to, why both ends, and what to do.

One line for each: the first page of every report has them, and the order list takes the words of a range from here.
Ends of a range are rounded to the safe side: the least up, the most down.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from loadloom.graph.model.figures import NOISE, figures, floored, raised
from loadloom.graph.model.findings import End, Finding, Quantity, Severity
from loadloom.graph.model.naming import all_of, natural_key, some_of
from loadloom.graph.model.results import DeviceRow, OutputRow, Results
from loadloom.reports.do_this import SETTING_RULES, do_this, numbered
from loadloom.reports.guards import guarded, left_unprotected_by
from loadloom.reports.titles import title

LIMITER = "limiter"
_AS_DRAWN = "as drawn"
_NAMED = 4
"""How many parts a line names; more are counted."""


@dataclass(frozen=True, slots=True)
class SettingLine:
    """One line. ``set_to`` and ``range`` are words with their units; ``low_why`` and ``high_why`` tell how both
    ends of the range come about. ``stands`` is that of :class:`DeviceRow`, or for an output whether it carries its
    load. ``kind`` is that of the device, or ``output``.
    """

    id: str
    kind: str
    set_to: str
    range: str
    stands: str
    low_why: str
    high_why: str
    remedy: str


def setting_lines(results: Results) -> tuple[SettingLine, ...]:
    """All lines: limiters, outputs, then fuses and the like, each in the order of their names."""
    todo = do_this(results)
    behind = _unprotected_while_off(results)
    arrangement = {case.id: case.arrangement or _AS_DRAWN for case in results.cases}
    devices = [_device(row, results, todo, behind, arrangement) for row in results.devices]
    exposed = left_unprotected_by(results)
    outputs = [
        _output(row, results, todo, exposed.get(row.id, ()))
        for row in results.outputs
        if row.limit_a is not None or row.trip_a is not None
    ]
    lines = [*(d for d in devices if d.kind == LIMITER), *outputs, *(d for d in devices if d.kind != LIMITER)]
    return tuple(lines)


def range_said(row: DeviceRow) -> str:
    """The settings that both carry every load and protect what lies behind, in words; empty where none is known."""
    low, high = row.setting_low_a, row.setting_high_a
    if low is None and high is None:
        return ""
    least, most = f"{figures(raised(low or 0.0))} A", f"{figures(floored(high or 0.0))} A"
    if low is None:
        return f"at most {most}; lower end not determined"
    if high is None:
        return f"from {least}; upper end {'not determined' if row.range_not_determined else 'open'}"
    if row.setting_stands == "no range" or low > high * (1.0 + 1e-9):
        to_protect = f"to protect {row.setting_high_by}" if row.setting_high_by else "to protect"
        return f"no setting does both: at least {least} to carry the load, at most {most} {to_protect}"
    return f"{figures(raised(low))} to {most}"


def range_why(row: DeviceRow) -> str:
    """How both ends of a range come about, as one text."""
    ends = (("from", row.setting_low_because), ("to", row.setting_high_because), ("", row.setting_range_note))
    return "; ".join(f"{end}: {why}" if end else why for end, why in ends if why)


def _device(
    row: DeviceRow,
    results: Results,
    todo: Mapping[str, str],
    behind: Mapping[str, list[Finding]],
    arrangement: Mapping[str, str],
) -> SettingLine:
    off = row.setting_a is None and bool(row.settings_a)
    stands = "not active" if off else row.setting_stands
    range_words = range_said(row)
    high_why = row.setting_high_because
    if row.setting_high_a is None and row.setting_range_note:
        high_why = row.setting_range_note
    if off:
        range_words = range_words or _if_active(row, behind.get(row.id, []))
    elif row.range_not_determined and row.setting_low_a is not None and row.setting_high_a is None:
        range_words = f"from {figures(raised(row.setting_low_a))} A"
        asked = _least_asked(row, results)
        if asked is None or asked.target is None:
            range_words += "; upper end not determined"
        else:
            most_a = asked.target.value
            range_words += (
                f", at most {figures(most_a)} A for {asked.subject.id}; the upper end for all is not determined"
            )
            stands = "too high" if (row.setting_a or 0.0) > most_a * (1.0 + NOISE) else stands
    elif not range_words:
        range_words = row.setting_range_note or "not determined"
    return SettingLine(
        row.id,
        row.kind,
        _set_to(row, arrangement),
        range_words,
        stands,
        row.setting_low_because or (_load_said(row) if off else "not determined"),
        high_why or (_least_behind(behind.get(row.id, [])) if off else "not determined"),
        _device_remedy(row, results, todo, behind.get(row.id, [])),
    )


def _if_active(row: DeviceRow, behind: list[Finding]) -> str:
    """What a device that is off would have to do."""
    above = _opens_above(behind)
    said = [f"certain to carry {figures(raised(row.current_a))} A"] if row.current_a is not None else []
    said += [f"certain to open above {above} A"] if above else []
    return f"if made active: {' and '.join(said)}" if said else "not worked out while it is not active"


def _load_said(row: DeviceRow) -> str:
    if row.current_a is None:
        return "its load is not known"
    return f"{figures(row.current_a)} A of load{f' in {row.case}' if row.case else ''}"


def _least_behind(behind: list[Finding]) -> str:
    if not behind:
        return "nothing behind it asks for it"
    least = min(behind, key=_limit)
    allowed = f"{least.subject.id} behind it is allowed {figures(least.limit)} A"
    return f"{allowed}, and not protected while it is not active"


def _limit(finding: Finding) -> float:
    return finding.limit if finding.limit is not None else float("inf")


def _opens_above(behind: list[Finding]) -> str:
    """Above how many A a device has to open that is to protect the weakest part behind it; empty if unknown."""
    target = min(behind, key=_limit).target if behind else None
    return figures(target.value) if target is not None and target.quantity is Quantity.TRIPPING_CURRENT else ""


def _set_to(row: DeviceRow, arrangement: Mapping[str, str]) -> str:
    """``20 A; not active in pooled``: the setting as drawn, and what differs in an arrangement."""
    of: dict[str, set[float | None]] = defaultdict(set)
    for case, setting in row.settings_a.items():
        of[arrangement.get(case, case)].add(setting)
    if row.setting_a is None:
        return "not active in any arrangement: it never opens" if row.settings_a else "not stated"
    said = [f"{figures(row.setting_a)} A"]
    for name, settings in of.items():
        if settings != {row.setting_a}:
            words = " or ".join(
                "not active" if a is None else f"{figures(a)} A" for a in sorted(settings, key=_none_last)
            )
            said.append(f"{words} {name}" if name == _AS_DRAWN else f"{words} in {name}")
    return "; ".join(said)


def _none_last(value: float | None) -> float:
    return float("inf") if value is None else value


def _device_remedy(row: DeviceRow, results: Results, todo: Mapping[str, str], behind: list[Finding]) -> str:
    """What to do about a device: set it into its range, then what else was found on it, and what it leaves
    unprotected while it is not active.
    """
    steps: list[str] = []
    found = [f for f in results.findings if f.subject.id == row.id and f.accepted is None and f.remedy]
    verb = "Choose a setting" if row.kind == LIMITER else "Choose a rating"
    into = f"{verb} within the range, {range_said(row)}{_asked_lower(row, results)}."
    others = list(dict.fromkeys(f.remedy for f in found if f.rule not in SETTING_RULES))
    if row.setting_stands == "too low" and row.setting_high_a is None:
        least = figures(raised(row.setting_low_a or 0.0))
        steps += [f"{verb} of at least {least} A; how much more it may be is not determined.", *others]
    elif row.setting_stands in ("too low", "too high"):
        steps += [into, *others]
    elif row.setting_stands == "inside" and row.id in todo:
        # Within its range, and yet something was found: the reason stands beside it.
        steps += dict.fromkeys(f"{f.message} {f.remedy}" for f in found if f.severity is not Severity.NOTE)
    elif row.id in todo:
        steps.append(todo[row.id])
    elif row.setting_stands == "not determined":
        steps.append(_as_it_is(row, results))
    if behind:
        parts = sorted({f.subject.id for f in behind}, key=natural_key)
        where = _idle_in(min(behind, key=_limit))
        above = _opens_above(behind)
        how = f" and certain to open above {above} A" if above else ""
        named = some_of(parts, _NAMED) if len(parts) > _NAMED else all_of(parts)
        steps.append(f"Make it active{where}{how}, or protect otherwise what it then leaves unprotected: {named}.")
    return numbered(steps) or _nothing(row.id, results)


def _asked_lower(row: DeviceRow, results: Results) -> str:
    """What a finding on another part asks of this device within its range."""
    least = _least_asked(row, results)
    if least is None or least.target is None:
        return ""
    return f"; for {least.subject.id} ({title(least.rule).lower()}) at most {figures(least.target.value)} A"


def _least_asked(row: DeviceRow, results: Results) -> Finding | None:
    """The finding on another part that asks the lowest setting of this device: less than its range allows, or where
    the upper end of that is not known.
    """
    known_a = row.setting_high_a
    asked = [
        (f.target.value, f)
        for f in results.findings
        if f.accepted is None
        and f.target is not None
        and (f.target.id, f.target.quantity, f.target.end) == (row.id, Quantity.SETTING, End.AT_MOST)
        and f.subject.id != row.id
        and (row.setting_low_a or 0.0) <= f.target.value
        and (
            known_a is None
            or (
                f.target.value < known_a * (1.0 - 1e-3)
                and not any(found.part == f.subject.id for found in guarded(results)[row.id])
            )
        )
    ]
    return min(asked, key=lambda each: each[0], default=(0.0, None))[1]


def _as_it_is(row: DeviceRow, results: Results) -> str:
    """What is known of a device whose highest setting was not found: what it does as it is drawn."""
    parts = [found.part for found in guarded(results)[row.id] if found.protected and found.by_it]
    drawn = f"As drawn, {figures(row.setting_a)} A,"
    does = f"it protects {some_of(parts, _NAMED)}" if parts else "it carries its load"
    return (
        f"{drawn} {does}. How much higher it may be was not worked out, for the reason beside: a higher one needs "
        "a report of its own."
    )


def _nothing(part: str, results: Results) -> str:
    """What is said where nothing is open on a part: what was accepted on it stays visible."""
    rules = dict.fromkeys(f.rule for f in results.findings if f.subject.id == part and f.accepted is not None)
    return f"Nothing; accepted with a reason: {', '.join(rules)}." if rules else "Nothing."


def _idle_in(finding: Finding) -> str:
    """In which load case a fault on the part comes through the device that is off there."""
    return f" in {finding.inactive.case}" if finding.inactive is not None and finding.inactive.case else ""


def _unprotected_while_off(results: Results) -> Mapping[str, list[Finding]]:
    """The findings on parts that are not protected since a device is off, by its id."""
    found: dict[str, list[Finding]] = defaultdict(list)
    for finding in results.findings:
        if finding.accepted is None and finding.inactive is not None:
            found[finding.inactive.device].append(finding)
    return found


def _output(row: OutputRow, results: Results, todo: Mapping[str, str], exposed: Sequence[str]) -> SettingLine:
    said = [
        f"limit {figures(row.limit_a)} A" if row.limit_a is not None else "no limit",
        f"trip {figures(row.trip_a)} A" if row.trip_a is not None else "no trip of its own",
    ]
    load = f"gives at most {figures(row.current_a)} A" if row.current_a is not None else "its current is not known"
    brief = any(case.for_a_time for case in results.cases if case.id == row.case)
    counted = ", as an even current of the same heat" if brief else ""
    carries = row.utilisation is not None and row.utilisation <= 1.0 + 1e-9
    stands = (
        "carries its load" if carries else "over its limit" if row.utilisation is not None else "not determined"
    )
    names = some_of(exposed, _NAMED) if len(exposed) > _NAMED else all_of(exposed)
    guard = (
        [f"What {names} {'needs' if len(exposed) == 1 else 'need'} stands in the row of each."] if exposed else []
    )
    return SettingLine(
        row.id,
        "output",
        ", ".join(said),
        "not worked out for an output",
        stands,
        f"{load}{f' in {row.case}' if row.case else ''}{counted}",
        f"a fault can hold too much on {names} without it opening"
        if names
        else "whether it protects what is behind it, the rows of those parts say",
        numbered([*filter(None, [todo.get(row.id)]), *guard]) or _nothing(row.id, results),
    )
