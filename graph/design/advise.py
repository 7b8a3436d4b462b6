"""From a harness to advice: settings and sizes found together, and checked by the full analysis."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from loadloom.graph.analysis import explore, results_of
from loadloom.graph.design.advice import Advice, SizeRow
from loadloom.graph.design.advice_rows import assumptions, budget, left_row, no_trip, outside_stock, size_rows
from loadloom.graph.design.assignment import assign
from loadloom.graph.design.channels import channel_problem
from loadloom.graph.design.channels_off import off_slots, to_blame, turned_on
from loadloom.graph.design.contact_families import Family, best_allowed, connectors, find_families, with_families
from loadloom.graph.design.contact_ways import find_ways
from loadloom.graph.design.device_settings import (
    Setting,
    Slot,
    find_settings,
    lower_setting,
    raised_setting,
    slot_windows,
    trip_plan,
    with_settings,
)
from loadloom.graph.design.groups import crimped, find_groups
from loadloom.graph.design.joining_switches import Opening, find_openings
from loadloom.graph.design.judging import Tell, checked, counts, distinct_cases, findings_of, gathered
from loadloom.graph.design.needed_ratings import FIELD_OF, NeededRating, find_ratings, with_ratings
from loadloom.graph.design.shelf import Shelf, shelf
from loadloom.graph.design.sizing import Sized, find_sizes
from loadloom.graph.devices import held_multiple, nominal_a
from loadloom.graph.elements import Conductor, Device, Gauge, Output
from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures
from loadloom.graph.findings import Severity
from loadloom.graph.harness import Harness
from loadloom.graph.load_states import LoadStates
from loadloom.graph.ratings.contact_rating import contact_type_of
from loadloom.graph.results import Results
from loadloom.graph.settings import AnalysisSettings

MOST_REPAIRS = 4
MOST_FAMILIES = 6


@dataclass(frozen=True)
class Advised:
    """The advice, the harness as proposed, and what the full analysis says about it."""

    advice: Advice
    harness: Harness
    results: Results
    sizes: Mapping[str, Gauge]


def advise(
    harness: Harness,
    settings: AnalysisSettings,
    *,
    tool_version: str,
    date: str,
    settings_echo: dict[str, Any],
    together: Iterable[frozenset[str]] = (),
    progress: Tell = lambda _: None,
) -> Advised:
    """Find settings and sizes for a harness.

    ``together``: ids of conductors, devices and connectors that share a field on the drawing: they get one size,
    setting or family, the greatest that any of them needs.
    """
    return _Advising(harness, settings, tool_version, date, settings_echo, tuple(together), progress).run()


@dataclass
class _Advising:
    """Switches first, then settings up to what sane sizes and the best contacts protect, contacts, and sizes with
    all of that in force. What sizes leave open goes back to contacts and settings; ratings come last.
    """

    drawn: Harness
    settings: AnalysisSettings
    tool_version: str
    date: str
    settings_echo: dict[str, Any]
    together: tuple[frozenset[str], ...]
    tell: Tell
    warm: AnalysisSettings = field(default_factory=AnalysisSettings)
    openings: tuple[Opening, ...] = ()
    off: tuple[Slot, ...] = ()
    devices: dict[Slot, Setting] = field(default_factory=dict)
    families: dict[str, Family] = field(default_factory=dict)
    gathered: int = 0

    def run(self) -> Advised:
        facts, states = explore(self.drawn, self.settings, self.tell)
        self.warm = facts.settings
        drawn = self._results(facts, states)
        stock = shelf(self.drawn.conductors, self.settings)
        self.openings, facts = find_openings(facts, self._gather, self.together)
        facts = self._turn_on(facts)
        facts = self._set_devices(facts, stock)
        facts = self._choose_families(facts, stock)
        sized = self._find_sizes(facts, stock, facts.settings)
        for _ in range(MOST_REPAIRS):
            changed = self._repaired(sized, stock)
            if changed is None:
                break
            # Currents, sharing and temperatures are near enough to start from: what is found is gathered anew.
            facts = replace(sized.facts, harness=changed)
            sized = self._find_sizes(facts, stock, facts.settings, sized.sizes)
        for _ in range(MOST_REPAIRS):
            asked = (f for f in checked(sized.facts, FIELD_OF) if counts(f, self.settings))
            ratings = find_ratings(sized.harness, asked, self.settings, self.together)
            final = with_ratings(sized.harness, ratings)
            self.tell("checking the proposals")
            facts, states = explore(final, self.settings, self.tell)
            warmer = set(facts.inside) and not findings_of(facts) <= findings_of(sized.facts)
            if not warmer:
                break
            # Thinner conductors have warmed an enclosure: sizes once more, as warm as that.
            back = replace(final, conductors=self._as_drawn(final), findings=self.drawn.findings)
            sized = self._find_sizes(replace(facts, harness=back), stock, facts.settings, sized.sizes)
        results = self._results(facts, states)
        sized = replace(sized, harness=final, facts=facts)
        return Advised(self._advice(drawn, results, sized, stock, ratings), final, results, sized.sizes)

    def _results(self, facts: Facts, states: LoadStates) -> Results:
        echo = dict(self.settings_echo)
        return results_of(facts, states, tool_version=self.tool_version, date=self.date, settings_echo=echo)

    def _gather(self, harness: Harness, *, distinct: bool = False) -> Facts:
        """Everything about a harness; ``distinct``: in one case of several that are the same."""
        self.gathered += 1
        settings = self._as_warm(self.warm)
        return gathered(harness, distinct_cases(harness, settings) if distinct else settings, self.tell)

    def _as_warm(self, there: AnalysisSettings) -> AnalysisSettings:
        """Settings with enclosures held as warm as they were there, which spares their settling at every try."""
        return replace(there, cases=self.settings.cases, enclosures={})

    def _find_sizes(
        self, facts: Facts, stock: Shelf, warm: AnalysisSettings, start: Mapping[str, Gauge] | None = None
    ) -> Sized:
        """Sizes for the harness of ``facts``, in enclosures as warm as in ``warm``: the temperatures are settled
        again when the proposals are checked.
        """
        settings = self._as_warm(warm)
        grouping = find_groups(facts, stock, self.together)
        return find_sizes(facts, grouping, distinct_cases(facts.harness, settings), self.tell, start)

    def _as_drawn(self, harness: Harness) -> tuple[Conductor, ...]:
        """The conductors with the sizes that are drawn."""
        drawn = {c.id: c for c in self.drawn.conductors}
        return tuple(
            replace(
                c,
                gauge=drawn[c.id].gauge,
                placeholders=drawn[c.id].placeholders,
                resistance_ohm=drawn[c.id].resistance_ohm,
            )
            for c in harness.conductors
        )

    # --- channels and devices ---------------------------------------------------------------------------------

    def _turn_on(self, facts: Facts) -> Facts:
        """Channels that are off in an arrangement where what is behind them then stands unprotected."""
        slots = off_slots(facts)
        if not slots:
            return facts
        on = self._gather(turned_on(facts, slots))
        self.off = to_blame(facts, on, slots)
        if self.off == slots:
            return on
        return self._gather(turned_on(facts, self.off)) if self.off else facts

    def _set_devices(self, facts: Facts, stock: Shelf) -> Facts:
        grouping = find_groups(facts, stock, self.together)
        found = find_settings(facts, grouping, self.together, contacts_a=best_allowed(facts), off=self.off)
        self.devices = {setting.slot: setting for setting in found}
        changed = {
            s.slot: s.proposed_a
            for s in found
            if s.proposed_a is not None and s.proposed_a != _nominal_a(facts.harness, s.slot)
        }
        return self._gather(with_settings(facts.harness, changed), distinct=True) if changed else facts

    # --- contacts ---------------------------------------------------------------------------------------------

    def _choose_families(self, facts: Facts, stock: Shelf, least_mm2: Mapping[str, float] | None = None) -> Facts:
        """Families that do with the facts as they are, until no other one is asked for."""
        for _ in range(MOST_FAMILIES):
            found = find_families(facts, stock, self.together, least_mm2)
            self._note_families(found)
            changed = {f.connector: f.proposed for f in found if f.changed and f.proposed is not None}
            if not changed:
                return facts
            facts = self._gather(with_families(facts.harness, changed), distinct=True)
            least_mm2 = None
        return facts

    def _note_families(self, found: Iterable[Family]) -> None:
        for family in found:
            before = self.families.get(family.connector)
            if before is None or not before.changed:
                self.families[family.connector] = family
            elif family.changed:
                self.families[family.connector] = replace(
                    family,
                    drawn=before.drawn,
                    allowed_drawn_a=before.allowed_drawn_a,
                    needed_a=max(before.needed_a, family.needed_a),
                    reason=before.reason if family.reason == before.reason else f"{before.reason}; {family.reason}",
                )

    # --- what sizes leave open --------------------------------------------------------------------------------

    def _repaired(self, sized: Sized, stock: Shelf) -> Harness | None:
        """The harness, with sizes as drawn, with what may mend a finding that the sizes leave; None: nothing."""
        families = find_families(sized.facts, stock, self.together, _wider(sized, stock))
        self._note_families(families)
        changed = {f.connector: f.proposed for f in families if f.changed and f.proposed is not None}
        reset = self._lowered(sized) | self._raised(sized)
        if not changed and not reset:
            return None
        harness = with_families(sized.harness, changed)
        self.devices.update(reset)
        values = {slot: s.proposed_a for slot, s in reset.items() if s.proposed_a is not None}
        harness = with_settings(harness, values)
        return replace(harness, conductors=self._as_drawn(harness), findings=self.drawn.findings)

    def _lowered(self, sized: Sized) -> dict[Slot, Setting]:
        """Devices that hold too much for a part that no size mends, where a lower value rides through as well."""
        least: dict[Slot, tuple[float, str, float]] = {}
        facts = sized.facts
        for word, answers in facts.faults.by_arrangement.items():
            for name, answer in answers.items():
                short = answer.protected is False or (answer.in_band and _counts_band(facts, name))
                if not short or answer.held_by is None or not answer.held_to_protect_a:
                    continue
                slot = (answer.held_by, word)
                if slot not in self.devices:
                    slot = (answer.held_by, None)
                setting = self.devices.get(slot)
                part = facts.harness.by_id[answer.held_by]
                if setting is None or not isinstance(part, Device | Output):
                    continue
                multiple = held_multiple(part.under(slot[1]), facts.settings)
                if multiple is None:
                    continue
                most_a = answer.held_to_protect_a / multiple
                if slot not in least or most_a < least[slot][0]:
                    least[slot] = (most_a, name, answer.allowed_a or 0.0)
        found = {}
        for slot, (most_a, name, allowed_a) in least.items():
            setting = self.devices[slot]
            lower = lower_setting(facts.harness.by_id[slot[0]], slot, setting.low_a or 0.0, most_a)
            now = _nominal_a(facts.harness, slot)
            if lower is None or now is None or lower >= now * (1.0 - 1e-9):
                continue
            why = f"to protect {name}, allowed {figures(allowed_a)} A"
            for each in self._instances(slot):
                if each in self.devices:
                    found[each] = replace(
                        self.devices[each], proposed_a=lower, high_a=most_a, high_by=name, reason=why
                    )
        return found

    def _raised(self, sized: Sized) -> dict[Slot, Setting]:
        """Devices that no longer ride through: with more drop on the way a load of constant power draws more."""
        found = {}
        harness = sized.facts.harness
        windows = slot_windows(sized.facts, {})
        for slot, setting in self.devices.items():
            low, now = windows[slot].low if slot in windows else None, _nominal_a(harness, slot)
            if setting.proposed_a is None or low is None or now is None or now >= low.setting_a * (1.0 - 1e-9):
                continue
            high_a = math.inf if setting.high_a is None else setting.high_a
            value = raised_setting(harness.by_id[slot[0]], slot, low.setting_a, high_a)
            if value is None:
                continue
            why = f"to carry {figures(low.current_a)} A in case {low.by}"
            for each in self._instances(slot):
                if each in self.devices:
                    found[each] = replace(
                        self.devices[each], proposed_a=value, low_a=low.setting_a, low_by=low.by, reason=why
                    )
        return found

    def _instances(self, slot: Slot) -> list[Slot]:
        names = next((names for names in self.together if slot[0] in names), frozenset({slot[0]}))
        return [(name, slot[1]) for name in sorted(names)]

    # --- advice -----------------------------------------------------------------------------------------------

    def _advice(
        self, drawn: Results, results: Results, sized: Sized, stock: Shelf, ratings: tuple[NeededRating, ...]
    ) -> Advice:
        sizes = tuple(size_rows(self.drawn, drawn, results, sized))
        open_now = tuple(f for f in results.findings if f.accepted is None)
        problem = channel_problem(sized.facts)
        keys = {(f.rule, f.subject.id) for f in open_now}
        families = tuple(self.families[name] for name in connectors(self.drawn) if name in self.families)
        return Advice(
            provenance=drawn.provenance,
            tool_version=drawn.tool_version,
            date=drawn.date,
            settings=drawn.settings,
            verdict_drawn=drawn.verdict,
            verdict=results.verdict,
            sizes=sizes,
            devices=tuple(self.devices.values()),
            openings=self.openings,
            families=families,
            ratings=ratings,
            contacts=find_ways(sized.facts),
            left=(*(left_row(f.finding) for f in sized.unmet), *outside_stock(sized), *no_trip(sized.facts)),
            budget=budget(sized.facts, stock),
            trip_plan=trip_plan(sized.facts),
            spread=assign(problem) if problem is not None else None,
            mended=tuple(f for f in drawn.findings if f.accepted is None and (f.rule, f.subject.id) not in keys),
            remaining=open_now,
            copper_drawn_g=sum(row.copper_drawn_g or 0.0 for row in sizes),
            copper_g=sum(row.copper_g or 0.0 for row in sizes),
            loss_drawn_w=sum(row.loss_drawn_w or 0.0 for row in sizes),
            loss_w=sum(row.loss_w or 0.0 for row in sizes),
            assumptions=(stock.note, *self._assumptions(sizes, families), *drawn.assumptions),
            harnesses_tried=sized.tried + self.gathered,
        )

    def _assumptions(self, sizes: Iterable[SizeRow], families: Iterable[Family]) -> Iterable[str]:
        yield from assumptions(sizes)
        reset = [s for s in self.devices.values() if s.changed and s.drawn_a is not None]
        by_id = self.drawn.by_id
        stated = [s.id for s in reset if getattr(by_id[s.id], "resistance_ohm", None) is not None]
        if stated:
            yield (
                "Devices with another rating keep the resistance that the drawing states for the one drawn; a "
                "smaller fuse has more, so state that of the part chosen: " + ", ".join(stated) + "."
            )
        of_old = {c.connector for c in self.drawn.contacts if c.resistance_ohm is not None}
        swapped = [f.connector for f in families if f.changed and f.connector in of_old]
        if swapped:
            yield (
                "A contact resistance stated in the drawing is that of the old contact and no longer counts: "
                + ", ".join(swapped)
                + "."
            )
        assumed = [f"{name}{f'@{word}' if word else ''}" for name, word in self.off if not self._stated(name)]
        if assumed:
            yield (
                "Channels that are off as drawn state no tolerance; that of another channel, else ±10 %, stands "
                "in and is written with the setting: " + ", ".join(assumed) + "."
            )

    def _stated(self, name: str) -> bool:
        part = self.drawn.by_id[name]
        assert isinstance(part, Device)
        return any(p.trip_a is not None for p in (part, *(part.under(word) for word in part.by_word)))


def _nominal_a(harness: Harness, slot: Slot) -> float | None:
    part = harness.by_id[slot[0]]
    assert isinstance(part, Device | Output)
    return nominal_a(part.under(slot[1]))


def _counts_band(facts: Facts, name: str) -> bool:
    settings = facts.settings
    if settings.severity.get("overload-band") is Severity.NOTE:
        return False
    return not any(a.rule == "overload-band" and a.subject == name for a in settings.accepted)


def _wider(sized: Sized, stock: Shelf) -> dict[str, float]:
    """By connector: the section that its crimp range has to take so that a wire there can be one size more."""
    found: dict[str, float] = {}
    harness = sized.harness
    group_of = sized.grouping.group_of
    blocked = {
        group_of[n].name for want in sized.unmet for n in want.parts if n in group_of and len(want.parts) == 1
    }
    for group in sized.grouping.groups:
        if group.name not in blocked or not group.above_by:
            continue
        most = group.sizes[-1].area_mm2
        wires = [c for c in harness.conductors if c.id in group.members]
        step = next((s for s in stock.of(wires[0]) if s.area_mm2 > most * (1.0 + 1e-9)), None)
        if step is None:
            continue
        for contact in crimped(harness, wires):
            kind = contact_type_of(contact.contact_type, sized.facts.settings)
            if (
                kind is not None
                and kind.wire_area_mm2 is not None
                and kind.wire_area_mm2[1] < step.area_mm2 * (1.0 - 1e-6)
            ):
                found[contact.connector] = max(step.area_mm2, found.get(contact.connector, 0.0))
    return found
