"""What the sizes of conductors are answerable for: the findings of the analysis that another size can mend."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace

from loadloom.graph.facts.facts import Facts
from loadloom.graph.facts.find_facts import add_faults, add_open_circuits, find_load_facts, settle_enclosures
from loadloom.graph.facts.load_states import LoadStates, solve_load_states
from loadloom.graph.judging.by_gates import by_gates
from loadloom.graph.model.findings import Finding, Severity
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.verdict.registry import all_rules

Tell = Callable[[str], None]

OF_CONDUCTORS = (
    "wire-overload",
    "return-overload",
    "voltage-low",
    "path-unprotected",
    "fault-never-cleared",
    "damage-before-clearing",
    "device-not-determined",
    "no-setting-range",
    "fuse-above-wire",
    "event-overload",
    "overload-band",
    "open-circuit-overload",
    "uneven-sharing",
    "combined-overload",
    "mixed-gauges",
    "rule-book",
)
"""The rules that a conductor's size is to keep, the gravest first: what governs a size is named by the first."""

LENIENT = ("overload-band", "combined-overload")
"""Rules that a user may live with by accepting them; the others bear on function or safety whatever is accepted."""

ALIKE = 1.001
"""Two currents whose ratio is below this count as one: another contact's resistance moves them as much."""

OF_LOADS = ("wire-overload", "return-overload", "voltage-low")
"""Those that the load states alone decide."""

OF_OPEN_CIRCUITS = ("open-circuit-overload",)
"""Those that single open circuits decide, which are found in a small part of the time of the faults."""


@dataclass(frozen=True, slots=True)
class Want:
    """A finding that sizes are answerable for. ``parts`` are the conductors that it is about, "" for none."""

    rule: str
    subject: str
    parts: tuple[str, ...]
    finding: Finding

    @property
    def key(self) -> tuple[str, str]:
        """Rule and subject."""
        return self.rule, self.subject

    @property
    def unit_is_current(self) -> bool:
        """Whether the finding holds a current against an allowed one, so that a higher rating mends it."""
        return self.finding.unit == "A" and self.finding.value is not None


def gathered(harness: Harness, settings: AnalysisSettings, tell: Tell) -> Facts:
    """Everything about a harness that decides what the rules find, as ``analyse`` finds it."""
    facts, states = _loads(harness, settings, tell)
    return add_faults(facts, states, tell, only_judged=True)


def counts(finding: Finding, settings: AnalysisSettings) -> bool:
    """Whether a proposal has to answer for a finding: not where the user made it a note, or accepted it there."""
    if settings.severity.get(finding.rule, finding.severity) is Severity.NOTE:
        return False
    return not any(a.rule == finding.rule and a.subject == finding.subject.id for a in settings.accepted)


def distinct_cases(harness: Harness, settings: AnalysisSettings) -> AnalysisSettings:
    """The settings with one case of several that are the same: an arrangement in which every part has the values
    of another one tells nothing new about a harness that is only tried.
    """
    parts = (*harness.outputs, *harness.two_ended, *harness.splices)

    def values(word: str | None) -> tuple[tuple[str, str], ...]:
        found = []
        for part in parts:
            own = part.by_word.get(word, {}) if word is not None else {}
            differs = {k: v for k, v in sorted(own.items()) if v != getattr(part, k)}
            if differs:
                found.append((part.id, repr(differs)))
        return tuple(found)

    kept: dict[tuple[str | None, tuple[tuple[str, str], ...]], Case] = {}
    known = {word: values(word) for word in {case.arrangement for case in harness.cases(settings)}}
    for case in harness.cases(settings):
        kept.setdefault((case.state, known[case.arrangement]), case)
    return replace(settings, cases=tuple(kept.values()))


def gathered_if_sound(
    harness: Harness, settings: AnalysisSettings, open_: Callable[[Want], bool], tell: Tell
) -> tuple[Facts, tuple[Want, ...]]:
    """As ``gathered``, with the wants for which ``open_`` holds; what the load states or open circuits rule out
    already ends it.
    """
    facts, states = _loads(harness, settings, tell)
    left = tuple(want for want in wants(facts, OF_LOADS) if open_(want))
    if left:
        return facts, left
    facts = add_open_circuits(facts, states)
    left = tuple(want for want in wants(facts, OF_OPEN_CIRCUITS) if open_(want))
    if left:
        return facts, left
    facts = add_faults(facts, states, tell, only_judged=True, opened=True)
    return facts, tuple(want for want in wants(facts) if open_(want))


def checked(facts: Facts, rules: Iterable[str] | None = None) -> list[Finding]:
    """What rules find, all of them by default."""
    registered = all_rules()
    found: list[Finding] = []
    for name in rules if rules is not None else registered:
        check = registered[name].check
        if check is not None:
            found += check(facts)
    return found


def errors(facts: Facts) -> set[tuple[str, str]]:
    """Rule and subject of every error of the analysis."""
    severity = facts.settings.severity
    return {(f.rule, f.subject.id) for f in checked(facts) if severity.get(f.rule, f.severity) is Severity.ERROR}


def findings_of(facts: Facts) -> frozenset[tuple[str, str]]:
    """Rule and subject of everything that the analysis finds and that counts. What is not about one part (the
    place where a fault burns most) is told by its rule alone.
    """
    return frozenset(_currents_found(facts))


def is_as_good(facts: Facts, other: Facts) -> bool:
    """Whether nothing is found that is not found about the other, nor a finding on a current with a greater one."""
    return not worse_than(facts, other)


def worse_than(facts: Facts, other: Facts) -> list[tuple[str, str]]:
    """Rule and subject of what is found that is not found about the other, or with a greater current."""
    wanted = {want.key for want in wants(other)}
    found, known = _currents_found(facts), _currents_found(other)
    worse = [key for key, current_a in found.items() if key not in known or current_a > known[key] * ALIKE]
    return list(dict.fromkeys([*(want.key for want in wants(facts) if want.key not in wanted), *worse]))


def _currents_found(facts: Facts) -> dict[tuple[str, str], float]:
    """By rule and subject of every finding that counts: the greatest current in A that it is about, 0 for none."""
    found: dict[tuple[str, str], float] = {}
    for finding in checked(facts):
        if counts(finding, facts.settings):
            key = finding.rule, "" if finding.rule == "power-available-to-fault" else finding.subject.id
            current_a = finding.value if finding.unit == "A" and finding.value is not None else 0.0
            found[key] = max(current_a, found.get(key, 0.0))
    return found


def loads_wants(
    harness: Harness, settings: AnalysisSettings, open_: Callable[[Want], bool]
) -> tuple[Facts, tuple[Want, ...]]:
    """What the load states alone say about a harness, and the wants that they decide."""
    facts, _ = _loads(harness, settings, lambda _: None)
    return facts, tuple(want for want in wants(facts, OF_LOADS) if open_(want))


def _loads(harness: Harness, settings: AnalysisSettings, tell: Tell) -> tuple[Facts, LoadStates]:
    cases = harness.cases(settings)
    settings = replace(settings, spread_draws=1)  # the drawn spread is for information and bears on no rule
    settings, inside = settle_enclosures(harness, settings, cases, tell)
    states = solve_load_states(harness, settings, cases, tell)
    return find_load_facts(harness, settings, cases, states, inside, tell), states


def wants(facts: Facts, of: tuple[str, ...] = OF_CONDUCTORS) -> Iterator[Want]:
    """What sizes have to answer for, in the order of the rules. Of the rules that warn of a band that is lent on,
    notes and accepted findings don't count; of the others they do.
    """
    rules = all_rules()
    for rule in of:
        check = rules[rule].check
        assert check is not None
        for finding in check(facts):
            parts = _parts(facts, finding)
            if parts and (rule not in LENIENT or counts(finding, facts.settings)):
                yield Want(rule, finding.subject.id, parts, finding)


def _parts(facts: Facts, finding: Finding) -> tuple[str, ...]:
    """The conductors that a finding is about; none where it is not about a conductor's size."""
    conductors = {c.id for c in facts.harness.conductors}
    subject = finding.subject.id
    if finding.rule == "voltage-low":
        return tuple(conductors)
    if finding.rule == "device-not-determined":
        part, _ = by_gates(facts).get(subject, ("", 0.0))
        return (part,) if part in conductors else ()  # what else is missing of a device, no size makes up for
    if finding.rule == "uneven-sharing" and finding.unit != "A":
        return ()  # ways of unlike length: no size mends that
    if finding.rule == "no-setting-range":
        setting_range = facts.protection.setting_ranges[subject]
        return (
            (setting_range.high.by,)
            if setting_range.high is not None and setting_range.high.by in conductors
            else ()
        )
    if finding.rule == "fuse-above-wire":
        return tuple(name for name, _ in guarded_above(facts, subject) if name in conductors)
    return (subject,) if subject in conductors else ()


def guarded_above(facts: Facts, device: str) -> list[tuple[str, float]]:
    """Parts that a device guards and whose allowed current is below its rating, with what they need in A."""
    found: dict[str, float] = {}
    for there in facts.protection.arrangements:
        part = there.parts.get(device)
        nominal_a = getattr(part, "setting_a", None)
        if nominal_a is None:
            continue
        for name, factor in there.guarded.get(device, {}).items():
            rating = facts.ratings.get(name)
            reach_a = nominal_a * factor
            if rating is not None and rating.allowed_a and reach_a > rating.allowed_a * (1.0 + 1e-9):
                found[name] = max(reach_a, found.get(name, 0.0))
    return sorted(found.items())
