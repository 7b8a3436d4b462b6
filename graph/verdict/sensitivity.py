"""What would fail under worse conditions: the load states judged again with one condition made worse.

Only parts that pass as they are can count.

A part counts that then fails, or whose sustained fault current then exceeds what it is allowed, though the overload
band may still excuse that.

The load states are solved anew (ratings, currents, voltages, what trips), and allowed currents are held against the
sustained fault currents that were found; the fault search itself is not repeated. So a condition that raises fault
currents, such as a higher supply voltage, is seen in the load states alone, and the rows say so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from loadloom.graph.facts.facts import Facts
from loadloom.graph.facts.find_facts import find_load_facts
from loadloom.graph.facts.load_states import solve_load_states
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.elements import Band, Contact, Output, Tolerance
from loadloom.graph.model.findings import Severity
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import natural_key
from loadloom.graph.model.results import Rating, SensitivityRow
from loadloom.graph.model.settings import Ambient, AnalysisSettings
from loadloom.graph.ratings.bundles import bundle_of
from loadloom.graph.ratings.conductor_rating import rate_conductors
from loadloom.graph.verdict.registry import all_rules

NEIGHBOURS = (2, 4, 10)
WARMER_K = (10.0, 20.0)
SUPPLY, AGED, LONGER = 0.05, 2.0, 0.10
"""The conditions that a review asks about; common practice, no published source."""

RULES = (
    *("wire-overload", "return-overload", "contact-overload", "splice-overload", "switch-overload"),
    *("output-overload", "supply-overload", "fuse-would-open", "limiter-would-trip"),
    *("voltage-low", "voltage-high", "load-unfed", "voltage-rating"),
)
"""Rules that the load states alone decide."""

NAMED = 3
"""Parts that a row names."""


def sensitivity_rows(facts: Facts) -> tuple[SensitivityRow, ...]:
    """How many parts turn under each condition, and the first three by name."""
    before = _failing(facts)
    rows = []
    for n in NEIGHBOURS:
        crowded = _with_neighbours(facts, n)
        words = f"{n} loaded neighbours beside every conductor that states no Bundle"
        rows.append(_row(words, _newly(before, crowded, facts), "ratings against the currents found"))
    for kelvin in WARMER_K:
        warm = _load_facts(facts.harness, _warmer(facts.settings, kelvin), facts)
        rows.append(_row(f"ambient {kelvin:g} K warmer", _newly(before, warm, facts), "load states and ratings"))
    for words, harness, settings in (
        ("supply 5 % beyond its tolerance", _supplied(facts.harness), facts.settings),
        ("contacts at twice their aged resistance", _aged(facts), facts.settings),
        ("lengths 10 % beyond their tolerance", facts.harness, _longer(facts.settings)),
    ):
        rows.append(_row(words, _newly(before, _load_facts(harness, settings, facts), facts), "load states alone"))
    return tuple(rows)


def _row(words: str, failing: set[str], judged: str) -> SensitivityRow:
    names = sorted(failing, key=natural_key)
    return SensitivityRow(words, len(names), tuple(names[:NAMED]), judged)


def _newly(before: set[str], changed: Facts, facts: Facts) -> set[str]:
    """Subjects that fail now, or rely on the overload band, and did neither before."""
    return (_failing(changed) | set(_overtaken(facts, changed.ratings))) - before


def _failing(facts: Facts) -> set[str]:
    severity, known = facts.settings.severity, all_rules()
    found = (finding for name in RULES if (check := known[name].check) for finding in check(facts))
    errors = {f.subject.id for f in found if severity.get(f.rule, f.severity) is Severity.ERROR}
    return errors | set(_overtaken(facts, facts.ratings))


def _overtaken(facts: Facts, ratings: Mapping[str, Rating]) -> Iterator[str]:
    """Parts whose sustained fault current exceeds what they are allowed."""
    for name, part in facts.faults.parts.items():
        allowed_a = ratings[name].allowed_a if name in ratings else None
        if part.sustained_fault_a is None or allowed_a is None:
            continue
        if exceeds(part.sustained_fault_a, allowed_a):
            yield name


def _load_facts(harness: Harness, settings: AnalysisSettings, facts: Facts) -> Facts:
    """What the load states say under other conditions; enclosures stay as warm as they were found."""
    settings = replace(settings, spread_draws=1)
    states = solve_load_states(harness, settings, facts.cases, lambda _: None)
    return find_load_facts(harness, settings, facts.cases, states, facts.inside, lambda _: None)


def _with_neighbours(facts: Facts, n: int) -> Facts:
    """The facts with other ratings: each conductor without a bundle lies with ``n`` more that are loaded.

    The cores of a cable that states no bundle count with the cable's own.
    """
    crowded, counts = [], {}
    cores: dict[str, int] = {}
    for conductor in facts.harness.conductors:
        if conductor.cable is not None:
            cores[conductor.cable] = cores.get(conductor.cable, 0) + 1
    for conductor in facts.harness.conductors:
        if not conductor.lies_in:
            conductor = replace(conductor, bundle=f"beside {conductor.cable or conductor.id}")
            name = bundle_of(conductor)
            assert name is not None
            counts[name] = n + cores.get(conductor.cable or "", 1)
        crowded.append(conductor)
    rated = rate_conductors(replace(facts.harness, conductors=tuple(crowded)), facts.settings, counts, {})
    ratings = dict(facts.ratings)
    for drawn, there in zip(facts.harness.conductors, crowded, strict=True):
        if not drawn.lies_in:
            ratings[there.id] = rated[there.id]
    return replace(facts, ratings=ratings)


def _warmer(settings: AnalysisSettings, kelvin: float) -> AnalysisSettings:
    def warm(ambient: Ambient) -> Ambient:
        return replace(ambient, max_c=ambient.max_c + kelvin)

    zones = {name: warm(ambient) for name, ambient in settings.zones.items()}
    return replace(settings, zones=zones, default_ambient=warm(settings.default_ambient))


def _supplied(harness: Harness) -> Harness:
    def wider(output: Output) -> Output:
        drawn = output.tolerance or Tolerance(0.0, 0.0)
        return replace(output, tolerance=Tolerance(min(drawn.below + SUPPLY, 0.99), drawn.above + SUPPLY))

    return replace(harness, outputs=tuple(wider(output) for output in harness.outputs))


def _aged(facts: Facts) -> Harness:
    settings = facts.settings

    def worn(contact: Contact) -> Contact:
        kind = settings.contact_types.get(contact.contact_type or "")
        drawn = contact.resistance_ohm or (kind.resistance_ohm if kind else None) or settings.contact_resistance_ohm
        return replace(contact, resistance_ohm=Band(drawn.nominal, drawn.lower, AGED * drawn.upper))

    return replace(facts.harness, contacts=tuple(worn(contact) for contact in facts.harness.contacts))


def _longer(settings: AnalysisSettings) -> AnalysisSettings:
    return replace(settings, length_tolerance=settings.length_tolerance + LONGER)
