"""What to do about a part, in one line: the remedies of its findings put together, each said once.

A remedy that another one on the same part holds already is left out, and so is one that speaks against it: where no
setting both carries the load and protects, “set it higher” is no help.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from loadloom.graph.model.findings import Finding, Severity
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


def do_this(results: Results) -> Mapping[str, str]:
    """One line for every part with an open error or warning, by its id; numbered where it has several steps."""
    on: dict[str, list[Finding]] = defaultdict(list)
    for finding in results.findings:
        if finding.accepted is None and finding.severity is not Severity.NOTE:
            on[finding.subject.id].append(finding)
    rows = {row.id: row for row in copper(results)}
    return {part: numbered(_steps(found, rows.get(part))) for part, found in on.items()}


def numbered(steps: Sequence[str]) -> str:
    """Steps in one line: a single one as it is, several with their numbers."""
    if len(steps) < 2:
        return "".join(steps)
    return " ".join(f"{number}. {step}" for number, step in enumerate(steps, 1))


def _steps(found: Sequence[Finding], row: CurrentRow | JunctionRow | None) -> list[str]:
    """The remedies that are left, the gravest first; ``row``: that of the part, where it is copper."""
    rules = {finding.rule for finding in found}
    held = frozenset[str]().union(*(_HELD.get(rule, frozenset()) for rule in rules))
    overload = next((finding for finding in found if finding.rule in _OVERLOADS), None)
    if overload is not None and rules & _UNPROTECTED and row is not None:
        # No device protects a part from its own load: so the load comes first, and what protects it hangs on that.
        load = overload.remedy[:1].lower() + overload.remedy[1:].rstrip(".")
        first = (
            f"Let it carry its load, at least {_amperes(overload.value)} (now {_amperes(row.allowed_a)}): {load}."
        )
        then = "Then let a device open before the new allowed current: run loadloom again for its setting."
        held |= _UNPROTECTED | {overload.rule, "uneven-sharing", "open-circuit-overload"}
        steps = [first, then]
    else:
        steps = []
    return list(dict.fromkeys((*steps, *(f.remedy for f in found if f.rule not in held and f.remedy))))


def _amperes(value: float | None) -> str:
    return "not known" if value is None else f"{value:.3g} A"
