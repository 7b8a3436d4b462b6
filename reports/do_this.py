"""What to do about a part, in one line: the remedies of its findings put together, each said once.

A remedy that another one on the same part holds already is left out, and so is one that speaks against it: where no
setting both carries the load and protects, “set it higher” is no help.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from loadloom.graph.model.figures import figures, raised
from loadloom.graph.model.findings import Finding, Severity
from loadloom.graph.model.naming import all_of, natural_key
from loadloom.graph.model.results import CurrentRow, JunctionRow, Results
from loadloom.reports.open_points import copper

SETTING_RULES = frozenset(
    {"limiter-would-trip", "fuse-would-open", "nuisance-opening", "fuse-above-wire", "device-never-opens"}
)
"""What the setting range of a device answers all at once."""
_UNPROTECTED = frozenset({"path-unprotected", "contact-unprotected", "splice-unprotected", "switch-unprotected"})
_OVERLOADS = ("wire-overload", "contact-overload", "return-overload", "splice-overload", "switch-overload")
_DAMAGE = "damage-before-clearing"
_HELD = {
    "no-setting-range": SETTING_RULES,
    # A part that nothing protects can't rely on the overload band, and stands alone with what several faults hold.
    **{rule: frozenset({"overload-band", "combined-overload"}) for rule in _UNPROTECTED},
    # Who evens out the shares, or rates each path for the most that it can carry, has answered the load as well.
    "uneven-sharing": frozenset({"open-circuit-overload"}),
    # One slip of the drawing, told twice.
    "reversed-polarity": frozenset({"voltage-low"}),
    "return-missing": frozenset({"load-unfed"}),
}
"""Rules whose remedies the remedy of a rule holds, or makes pointless."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step: what was found, and what to do about it."""

    why: str
    do: str


@dataclass(frozen=True, slots=True)
class _Room:
    """What a device before a part asks that it be allowed, in A; the lowest setting of the device; and what else it
    asks of others, in words.
    """

    need_a: float
    device: str
    setting_a: float | None
    others: str


def steps(results: Results) -> Mapping[str, tuple[Step, ...]]:
    """What was found and what to do, for every part with an open error or warning, by its id; the gravest first."""
    on: dict[str, list[Finding]] = defaultdict(list)
    for finding in results.findings:
        if finding.accepted is None and finding.severity is not Severity.NOTE:
            on[finding.subject.id].append(finding)
    room: dict[str, _Room] = {}
    for device in results.devices:
        for part, need_a in device.needs_a.items():
            if part not in room or need_a > room[part].need_a:
                others = _others(device.needs_a, part)
                room[part] = _Room(need_a, device.id, device.setting_low_a, others)
    rows = {row.id: row for row in copper(results)}
    return {part: _steps(found, rows.get(part), room.get(part)) for part, found in on.items()}


def _others(needs_a: Mapping[str, float], part: str) -> str:
    """What other parts have to be allowed, in words."""
    by_need: dict[float, list[str]] = defaultdict(list)
    for name in sorted(needs_a, key=natural_key):
        if name != part:
            by_need[raised(needs_a[name])].append(name)
    return ", ".join(f"{all_of(names)} at least {_amperes(need_a)}" for need_a, names in sorted(by_need.items()))


def do_this(results: Results) -> Mapping[str, str]:
    """One line for every part with an open error or warning, by its id; numbered where it has several steps."""
    return {part: numbered([step.do for step in found]) for part, found in steps(results).items()}


def numbered(lines: Sequence[str]) -> str:
    """Sentences in one line: a single one as it is, several with their numbers."""
    if len(lines) < 2:
        return "".join(lines)
    return " ".join(f"{number}. {line}" for number, line in enumerate(lines, 1))


def _steps(found: Sequence[Finding], row: CurrentRow | JunctionRow | None, room: _Room | None) -> tuple[Step, ...]:
    """The changes that are left, the gravest first. ``row``: that of the part, where it is copper."""
    rules = {finding.rule for finding in found}
    held = frozenset[str]().union(*(_HELD.get(rule, frozenset()) for rule in rules))
    overload = next((finding for finding in found if finding.rule in _OVERLOADS), None)
    fault = next((finding for finding in found if finding.rule in _UNPROTECTED), None)
    damage = next((finding for finding in found if finding.rule == _DAMAGE), None)
    fault_why = fault.in_short if fault is not None else ""
    if fault is not None and damage is not None and _one_device(fault, damage):
        held |= {_DAMAGE}
        fault_why = f"{fault_why} {damage.in_short}"
    made: dict[str, Step] = {}
    if fault is not None and row is not None and (overload is not None or room is not None):
        # No device protects a part from its own load, nor one that has to be set higher for what else it feeds: so
        # the part comes first, and what protects it hangs on that.
        how = overload.first_change if overload is not None else "A larger one, or more of them in parallel."
        how = how[:1].lower() + how[1:].rstrip(".")
        least_a = room.need_a if room is not None else overload.value if overload is not None else None
        first = f"Let it be allowed at least {_amperes(least_a, raised)} (now {_amperes(row.allowed_a)}): {how}."
        then = _then(fault, room)
        if overload is None:
            made = {first: Step(fault_why, f"{first} {then}")}
        else:
            made = {first: Step(overload.in_short, first), then: Step(fault_why, then)}
            held |= {overload.rule}
        held |= _UNPROTECTED | {"uneven-sharing", "open-circuit-overload"}
    for f in found:
        if f.rule not in held and f.remedy:
            made.setdefault(f.first_change, Step(fault_why if f is fault else f.in_short, f.first_change))
    return tuple(made.values())


def _one_device(fault: Finding, damage: Finding) -> bool:
    """Whether one device that is not active is behind both, so that both end once it acts."""
    off, other = fault.inactive, damage.inactive
    return off is not None and other is not None and off.device == other.device


def _then(fault: Finding, room: _Room | None) -> str:
    """What protects a part once it carries its load."""
    if room is None:
        return "Then let a device open before the new allowed current: a new report tells its setting."
    active = ""
    if fault.inactive is not None and fault.inactive.device == room.device:
        active = f", and make it active{f' in {fault.inactive.case}' if fault.inactive.case else ''}"
    others = f". Allow as well, for the same reason: {room.others}" if room.others else ""
    return f"Then set {room.device} to {_amperes(room.setting_a, raised)}{active}{others}."


def _amperes(value: float | None, rounded: Callable[[float], float] = float) -> str:
    return "not known" if value is None else f"{figures(rounded(value))} A"
