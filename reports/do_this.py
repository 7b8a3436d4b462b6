"""What to do about a part, in one line: the remedies of its findings put together, each said once.

A remedy that another one on the same part holds already is left out, and so is one that speaks against it: where no
setting both carries the load and protects, “set it higher” is no help.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from loadloom.graph.model.findings import Finding, Quantity, Severity
from loadloom.graph.model.results import CurrentRow, JunctionRow, Results
from loadloom.reports.open_points import copper

SETTING_RULES = frozenset(
    {"limiter-would-trip", "fuse-would-open", "nuisance-opening", "fuse-above-wire", "device-never-opens"}
)
"""What the setting range of a device answers all at once."""
_UNPROTECTED = frozenset({"path-unprotected", "contact-unprotected", "splice-unprotected", "switch-unprotected"})
_OVERLOADS = ("wire-overload", "contact-overload", "return-overload", "splice-overload", "switch-overload")
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


def steps(results: Results) -> Mapping[str, tuple[Step, ...]]:
    """What was found and what to do, for every part with an open error or warning, by its id; the gravest first."""
    on: dict[str, list[Finding]] = defaultdict(list)
    room: dict[str, tuple[float, str]] = {}
    for finding in results.findings:
        if finding.accepted is None and finding.severity is not Severity.NOTE:
            on[finding.subject.id].append(finding)
            target = finding.target
            of_another = target is not None and target.id != finding.subject.id
            if target is not None and of_another and target.quantity is Quantity.ALLOWED_CURRENT:
                # What a device without a setting range asks of another part.
                room[target.id] = max(room.get(target.id, (0.0, "")), (target.value, finding.subject.id))
    rows = {row.id: row for row in copper(results)}
    return {part: _steps(found, rows.get(part), room.get(part)) for part, found in on.items()}


def do_this(results: Results) -> Mapping[str, str]:
    """One line for every part with an open error or warning, by its id; numbered where it has several steps."""
    return {part: numbered([step.do for step in found]) for part, found in steps(results).items()}


def numbered(lines: Sequence[str]) -> str:
    """Sentences in one line: a single one as it is, several with their numbers."""
    if len(lines) < 2:
        return "".join(lines)
    return " ".join(f"{number}. {line}" for number, line in enumerate(lines, 1))


def _steps(
    found: Sequence[Finding], row: CurrentRow | JunctionRow | None, room: tuple[float, str] | None
) -> tuple[Step, ...]:
    """The remedies that are left, the gravest first.

    ``row``: that of the part, where it is copper. ``room``: what a device before it asks that it be allowed, in A,
    and the device.
    """
    rules = {finding.rule for finding in found}
    held = frozenset[str]().union(*(_HELD.get(rule, frozenset()) for rule in rules))
    overload = next((finding for finding in found if finding.rule in _OVERLOADS), None)
    fault = next((finding for finding in found if finding.rule in _UNPROTECTED), None)
    made: dict[str, Step] = {}
    if overload is not None and fault is not None and row is not None:
        # No device protects a part from its own load: so the load comes first, and what protects it hangs on that.
        how = overload.remedy[:1].lower() + overload.remedy[1:].rstrip(".")
        least, why = _amperes(overload.value), ""
        if room is not None:
            least, why = _amperes(room[0]), f", since {room[1]} needs room to carry that and still protect it"
        first = f"Let it be allowed at least {least} (now {_amperes(row.allowed_a)}){why}: {how}."
        then = "Then let a device open before the new allowed current: a new report tells its setting."
        held |= _UNPROTECTED | {overload.rule, "uneven-sharing", "open-circuit-overload"}
        made = {first: Step(overload.message, first), then: Step(fault.message, then)}
    for f in found:
        if f.rule not in held and f.remedy:
            made.setdefault(f.remedy, Step(f.message, f.remedy))
    return tuple(made.values())


def _amperes(value: float | None) -> str:
    return "not known" if value is None else f"{value:.3g} A"
