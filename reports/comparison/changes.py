"""What changed between two Results."""

from __future__ import annotations

import enum
import json
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from loadloom.graph.model.findings import Finding, Verdict
from loadloom.graph.model.naming import natural_key
from loadloom.graph.model.results import Results
from loadloom.reports.numbers import UNKNOWN, quantity, share

SETTING_SHOWN = 120
"""Characters of a setting that a change shows."""

SAME = 1e-6
"""Relative difference of two numbers that is no change."""


class Effect(enum.StrEnum):
    """What a change does to the harness."""

    WORSE = "worse"
    CHANGED = "changed"
    BETTER = "better"

    @property
    def rank(self) -> int:
        """0 for what stands first."""
        return list(Effect).index(self)


@dataclass(frozen=True, slots=True)
class Change:
    """One difference. ``part`` is an id, ``what`` the quantity or ``finding``; ``old`` and ``new`` are words.

    ``step`` is the relative change of a number, infinite where one of both is not known or 0. ``old_value`` and
    ``new_value`` are the numbers themselves in ``unit`` (SI), None where the change is one of words.
    """

    effect: Effect
    kind: str
    part: str
    what: str
    old: str
    new: str
    note: str = ""
    step: float = math.inf
    old_value: float | None = None
    new_value: float | None = None
    unit: str = ""


@dataclass(frozen=True)
class Comparison:
    """All differences, what got worse first. ``new_findings`` are those not accepted and not there before.

    ``slight`` counts the numbers that differ, but not in the figures that are printed.
    """

    old: Results
    new: Results
    changes: tuple[Change, ...]
    new_findings: tuple[Finding, ...]
    slight: int = 0

    @property
    def parts(self) -> tuple[int, int, int]:
        """How many parts the old and the new have, and how many of them bear the same reference in both."""
        old, new = (
            {row.id for table in _TABLES for row in getattr(results, table)} for results in (self.old, self.new)
        )
        return len(old), len(new), len(old & new)

    def count(self, effect: Effect) -> int:
        """How many changes have an effect."""
        return sum(1 for change in self.changes if change.effect is effect)


@dataclass(frozen=True, slots=True)
class _Quantity:
    """A column that is compared: its key, name, unit, and whether a greater value is worse (None = neither)."""

    key: str
    name: str
    unit: str
    greater_is_worse: bool | None


_CURRENT = _Quantity("current_a", "current", "A", True)
_ALLOWED = _Quantity("allowed_a", "allowed current", "A", False)
_USED = _Quantity("utilisation", "utilisation", "share", True)
_SUSTAINED_FAULT = _Quantity("sustained_fault_a", "sustained fault current", "A", True)
_JUNCTION = (_CURRENT, _ALLOWED, _USED, _SUSTAINED_FAULT)
_PART = (
    _CURRENT,
    _ALLOWED,
    _USED,
    _Quantity("open_circuit_a", "current with one open circuit", "A", True),
    _SUSTAINED_FAULT,
    _Quantity("combined_overload_a", "combined overload current", "A", True),
    _Quantity("drop_v", "drop", "V", True),
)
_TABLES: Mapping[str, tuple[str, tuple[_Quantity, ...]]] = {
    "outputs": ("output", (_CURRENT, _Quantity("limit_a", "limit", "A", None), _USED)),
    "supplies": (
        "supply",
        (_Quantity("power_w", "power", "W", True), _Quantity("heat_w", "heat", "W", True), _USED),
    ),
    "devices": (
        "device",
        (
            _Quantity("setting_a", "setting", "A", None),
            _CURRENT,
            _Quantity("setting_low_a", "setting range, lower end", "A", None),
            _Quantity("setting_high_a", "setting range, upper end", "A", None),
        ),
    ),
    "conductors": ("conductor", (_Quantity("length_m", "length", "m", None), *_PART)),
    "contacts": ("contact", _PART),
    "splices": ("splice", _JUNCTION),
    "switches": ("switch", _JUNCTION),
    "loads": ("load", (_CURRENT, _Quantity("voltage_v", "least voltage", "V", False))),
}
_WORDS = {
    "conductors": ("gauge", "insulation", "bundle", "zone"),
    "contacts": ("contact_type",),
    "loads": ("demand",),
}
_VERDICTS = (Verdict.FAIL, Verdict.INCOMPLETE, Verdict.PASS)


def compare(old: Results, new: Results) -> Comparison:
    """All differences between two analyses; parts are the same where their ids are."""
    fresh = tuple(_new_findings(old, new))
    found = [*_verdict(old, new), *_findings(old, new, fresh), *_settings(old.settings, new.settings)]
    for table in _TABLES:
        found += _rows(table, getattr(old, table), getattr(new, table))
    seen = [change for change in found if change.old != change.new]
    ordered = sorted(seen, key=lambda c: (c.effect.rank, _ORDER.get(c.kind, 9), natural_key(c.part), c.what))
    return Comparison(old, new, tuple(ordered), fresh, len(found) - len(seen))


_ORDER = {"verdict": 0, "finding": 1, "setting": 2}

_OF_LOOKS = frozenset({"assigned", "decimal_sign", "source_file", "open_page", "fields_for_people", "what_if"})
"""Settings that bear on no number and on no finding."""

_BY_NAME = frozenset(
    {"zones", "enclosures", "contact_types", "curves", "severity", "rule_set_values", "design", "roles", "nets"}
    | {"wire_classes", "make"}
)
"""Settings that are told entry by entry."""


def _settings(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Change]:
    """What was set otherwise, so that numbers that got better by it are not taken for a better harness.

    A setting that only one of both versions of the tool knows is passed over.
    """
    before, after = (_by_entry({**top, **top.get("drawing", {})}) for top in (old, new))
    known = {name.partition(".")[0] for name in before} & {name.partition(".")[0] for name in after}
    for name in sorted(before.keys() | after.keys()):
        was, now = before.get(name), after.get(name)
        if was != now and name.partition(".")[0] in known:
            yield Change(Effect.CHANGED, "setting", name, "setting", _compact(was), _compact(now))


def _by_entry(settings: Mapping[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in settings.items():
        if key in _OF_LOOKS or key == "drawing":
            continue
        found[key] = value
        if key == "accepted":
            found[key] = None
            found |= {f"accepted.{e['rule']} on {e['subject']} by {e['by']}": e for e in value}
        elif key in _BY_NAME and isinstance(value, Mapping):
            found[key] = None
            found |= {f"{key}.{name}": each for name, each in value.items()}
    return found


def _compact(value: Any) -> str:
    text = UNKNOWN if value is None else value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= SETTING_SHOWN else f"{text[: SETTING_SHOWN - 1]}…"


def _verdict(old: Results, new: Results) -> Iterator[Change]:
    if old.verdict is not new.verdict:
        worse = _VERDICTS.index(new.verdict) < _VERDICTS.index(old.verdict)
        effect = Effect.WORSE if worse else Effect.BETTER
        yield Change(
            effect, "verdict", new.provenance.title or new.provenance.file, "verdict", old.verdict, new.verdict
        )


def _key(finding: Finding) -> tuple[str, str, str | None, str | None]:
    """What makes two findings the same: rule and part, the field that is read, the clause that is not kept."""
    clause = finding.source if finding.rule == "rule-book" else None
    return finding.rule, finding.subject.id, finding.subject.field, clause


def _new_findings(old: Results, new: Results) -> Iterator[Finding]:
    before = {_key(f) for f in old.findings}
    seen: set[tuple[str, str, str | None, str | None]] = set()
    for finding in new.findings:
        if finding.accepted is None and _key(finding) not in before | seen:
            seen.add(_key(finding))
            yield finding


def _findings(old: Results, new: Results, fresh: Iterable[Finding]) -> Iterator[Change]:
    for finding in fresh:
        yield Change(
            Effect.WORSE, "finding", finding.subject.id, f"{finding.severity} {finding.rule}", "–", finding.message
        )
    before = {_key(f): f for f in reversed(old.findings)}
    after = {_key(f): f for f in reversed(new.findings)}
    for key, finding in before.items():
        if key not in after:
            what = f"{finding.severity} {finding.rule}"
            yield Change(Effect.BETTER, "finding", finding.subject.id, what, finding.message, "–")
    for key, finding in after.items():
        if key in before:
            yield from _same_finding(
                before[key], finding, old.settings.get("severity") != new.settings.get("severity")
            )
        elif finding.accepted is not None:
            what, by = f"{finding.severity} {finding.rule}", finding.accepted.by
            yield Change(
                Effect.CHANGED, "finding", finding.subject.id, what, UNKNOWN, f"accepted by {by}: {finding.message}"
            )


def _same_finding(was: Finding, now: Finding, severities_differ: bool) -> Iterator[Change]:
    what = f"{now.severity} {now.rule}"
    if was.severity is not now.severity:
        worse = now.severity.rank < was.severity.rank
        # A severity that the settings have lowered makes nothing better.
        effect = Effect.WORSE if worse else Effect.CHANGED if severities_differ else Effect.BETTER
        yield Change(effect, "finding", now.subject.id, now.rule, was.severity, now.severity)
    if (was.accepted is None) is not (now.accepted is None):
        effect = Effect.WORSE if now.accepted is None else Effect.CHANGED
        before, after = ("open" if f.accepted is None else f"accepted by {f.accepted.by}" for f in (was, now))
        yield Change(effect, "finding", now.subject.id, what, before, after)
    if was.unit != now.unit or (_same_or_none(was.value, now.value) and _same_or_none(was.limit, now.limit)):
        return
    if was.value is None or now.value is None:
        yield Change(
            Effect.WORSE if now.value is None else Effect.CHANGED,
            "finding",
            now.subject.id,
            what,
            _value_of(was, now),
            _value_of(now, was),
        )
    else:
        worse = _beyond(now, now) > _beyond(was, now)
        unit = now.unit or "1"
        before, after = _value_of(was, now), _value_of(now, was)
        yield Change(
            Effect.WORSE if worse else Effect.BETTER,
            "finding",
            now.subject.id,
            what,
            before,
            after,
            old_value=was.value,
            new_value=now.value,
            unit=unit,
        )


def _value_of(finding: Finding, other: Finding) -> str:
    """The value of a finding, with its limit where that of the other one is not the same."""
    unit = finding.unit or "1"
    value = _written(finding.value, unit)
    return value if _same_or_none(finding.limit, other.limit) else f"{value} at {_written(finding.limit, unit)}"


def _beyond(finding: Finding, now: Finding) -> float:
    """How far a finding's value is beyond its limit, on the side on which it now is: the greater the worse."""
    above = now.value is None or now.limit is None or now.value >= now.limit
    value, limit = finding.value or 0.0, finding.limit
    if limit is None or now.limit is None or not min(value, limit) > 0.0:
        return value if above else -value
    return value / limit if above else limit / value


def _same_or_none(was: float | None, now: float | None) -> bool:
    return was is now if was is None or now is None else _same(was, now)


def _rows(table: str, old: Iterable[Any], new: Iterable[Any]) -> Iterator[Change]:
    kind, quantities = _TABLES[table]
    before, after = {row.id: row for row in old}, {row.id: row for row in new}
    for name in before.keys() - after.keys():
        yield Change(Effect.CHANGED, kind, name, "removed", "there", "–")
    for name in after.keys() - before.keys():
        yield Change(Effect.CHANGED, kind, name, "added", "–", "there")
    for name in before.keys() & after.keys():
        was, now = before[name], after[name]
        for word in _WORDS.get(table, ()):
            if getattr(was, word) != getattr(now, word):
                yield Change(Effect.CHANGED, kind, name, word.replace("_", " "), _text(was, word), _text(now, word))
        for each in quantities:
            yield from _number(kind, name, each, getattr(was, each.key), getattr(now, each.key))
        if kind in ("conductor", "contact") and was.protected is not now.protected:
            effect = Effect.BETTER if now.protected is True else Effect.WORSE
            yield Change(effect, kind, name, "protected", _yes_no(was.protected), _yes_no(now.protected))


def _number(kind: str, name: str, each: _Quantity, was: float | None, now: float | None) -> Iterator[Change]:
    if was is None and now is None:
        return
    effect = Effect.CHANGED
    if was is None or now is None:
        if each.greater_is_worse is not None:
            effect = Effect.WORSE if now is None else Effect.CHANGED
    elif _same(was, now):
        return
    elif each.greater_is_worse is not None:
        effect = Effect.WORSE if (now > was) is each.greater_is_worse else Effect.BETTER
    step = now / was - 1.0 if was and now is not None else None
    note = "" if step is None else f"{100.0 * step:+.3g} %".replace("-", "−")
    before, after = _written(was, each.unit), _written(now, each.unit)
    unit = "1" if each.unit == "share" else each.unit
    size = math.inf if step is None else abs(step)
    yield Change(effect, kind, name, each.name, before, after, note, size, was, now, unit)


def _same(was: float, now: float) -> bool:
    return math.isclose(was, now, rel_tol=SAME, abs_tol=1e-9)


def _written(value: float | None, unit: str) -> str:
    return share(value) if unit == "share" else quantity(value, unit)


def _text(row: Any, key: str) -> str:
    return str(getattr(row, key) or UNKNOWN)


def _yes_no(value: bool | None) -> str:
    return {True: "yes", False: "no", None: "not determined"}[value]
