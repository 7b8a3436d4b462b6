"""From a harness to advice: settings and sizes found together, and checked by the full analysis."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from loadloom.graph.analysis import explore, results_of
from loadloom.graph.devices.device_bands import most_setting_a, nominal_a
from loadloom.graph.facts.facts import Facts
from loadloom.graph.facts.load_states import LoadStates
from loadloom.graph.judging.fault_words import also_too_much
from loadloom.graph.load_cases.starts import with_starts
from loadloom.graph.model.elements import Conductor, Device, Gauge, Output
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Severity
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.contact_rating import contact_type_of
from loadloom.graph.ratings.crimps import crimped
from loadloom.graph.setting_ranges.setting_ranges import Bound, SettingRange
from loadloom.graph.sizing.advice import Advice, LeftRow, SizeRow
from loadloom.graph.sizing.advice_rows import assumptions, budget, left_row, no_trip, outside_stock, size_rows
from loadloom.graph.sizing.assignment import assign
from loadloom.graph.sizing.channels import channel_problem
from loadloom.graph.sizing.channels_off import off_slots, to_blame, turned_off, turned_on
from loadloom.graph.sizing.contact_families import (
    Family,
    best_allowed,
    both_reasons,
    connectors,
    find_families,
    with_families,
)
from loadloom.graph.sizing.contact_paths import find_paths
from loadloom.graph.sizing.device_settings import (
    Setting,
    Slot,
    carries,
    find_settings,
    lower_setting,
    no_setting,
    protects,
    raised_setting,
    refused,
    reported_ranges,
    slot_setting_ranges,
    trip_plan,
    with_settings,
)
from loadloom.graph.sizing.groups import find_groups, with_sizes
from loadloom.graph.sizing.joining_switches import Opening, find_openings
from loadloom.graph.sizing.judging import (
    OF_LOADS,
    Tell,
    checked,
    counts,
    distinct_cases,
    errors,
    findings_of,
    gathered,
    is_as_good,
    loads_wants,
    wants,
    worse_than,
)
from loadloom.graph.sizing.needed_ratings import FIELD_OF, NeededRating, find_ratings, with_ratings
from loadloom.graph.sizing.shelf import Shelf, shelf
from loadloom.graph.sizing.sizing import Sized, find_sizes, sizes_for_loads, thinned_sizes
from loadloom.graph.sizing.unneeded import crimps, rated_setting_ranges, unneeded_families, unneeded_settings

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
    harness, settings = with_starts(harness, settings)
    return _Advising(harness, settings, tool_version, date, settings_echo, tuple(together), progress).run()


@dataclass(frozen=True)
class _Changes:
    """Settings by slot and families by connector."""

    devices: Mapping[Slot, float] = field(default_factory=dict)
    families: Mapping[str, str] = field(default_factory=dict)

    def and_(self, other: _Changes) -> _Changes:
        return _Changes({**self.devices, **other.devices}, {**self.families, **other.families})

    def made(self, harness: Harness) -> Harness:
        return with_settings(with_families(harness, self.families), self.devices)


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
    left_open: frozenset[tuple[str, str]] = frozenset()
    tried: int = 0

    def run(self) -> Advised:
        facts, states = explore(self.drawn, self.settings, self.tell)
        self.warm = facts.settings
        drawn = self._results(facts, states)
        stock = shelf(self.drawn.conductors, self.settings)
        self.openings, facts = find_openings(facts, self._gather, self.together)
        facts = self._turn_on(facts, self._sizes_for_loads(facts, stock))
        facts = self._set_devices(facts, stock)
        facts = self._choose_families(facts, stock)
        # What the gates of a standard leave open as drawn is mended by the device's own curve, not by more copper;
        # what they settle as drawn has to stay settled.
        self.left_open = frozenset(want.key for want in wants(facts, ("device-not-determined",)))
        sized = self._find_sizes(self._in_drawn_sizes(facts, facts.harness), stock, facts.settings)
        for _ in range(MOST_REPAIRS):
            changed = self._repaired(sized, stock)
            if changed is None:
                break
            facts = self._in_drawn_sizes(sized.facts, changed)
            sized = self._find_sizes(facts, stock, facts.settings, sized.sizes)
        for _ in range(MOST_REPAIRS):
            again = self._put_back(sized, stock)
            if again is None:
                break
            sized = again
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
            sized = self._find_sizes(self._in_drawn_sizes(facts, final), stock, facts.settings, sized.sizes)
        for _ in range(MOST_REPAIRS):
            moved = self._into_ranges(facts)
            if not moved:
                break
            self.devices.update(moved)
            final = with_settings(final, {slot: s.proposed_a for slot, s in moved.items() if s.proposed_a})
            facts, states = explore(final, self.settings, self.tell)
        results = self._results(facts, states)
        sized = replace(sized, harness=final, facts=facts)
        return Advised(self._advice(drawn, results, sized, stock, ratings), final, results, sized.sizes)

    def _results(self, facts: Facts, states: LoadStates) -> Results:
        echo = dict(self.settings_echo)
        return results_of(facts, states, tool_version=self.tool_version, date=self.date, settings_echo=echo)

    def _gather(self, harness: Harness, *, distinct: bool = False) -> Facts:
        """Everything about a harness; ``distinct``: in one case of several that are the same."""
        self.tried += 1
        settings = self._as_warm(self.warm)
        return gathered(harness, distinct_cases(harness, settings) if distinct else settings, self.tell)

    def _as_warm(self, there: AnalysisSettings) -> AnalysisSettings:
        """Settings with enclosures held as warm as they were there, which spares their settling at every try."""
        return replace(there, cases=self.settings.cases, enclosures={})

    def _find_sizes(
        self,
        facts: Facts,
        stock: Shelf,
        warm: AnalysisSettings,
        start: Mapping[str, Gauge] | None = None,
        *,
        grow: bool = True,
    ) -> Sized:
        """Sizes for the harness of ``facts``, in enclosures as warm as in ``warm``: the temperatures are settled
        again when the proposals are checked. ``grow`` false: those of ``start`` or thinner ones.
        """
        settings = self._as_warm(warm)
        grouping = find_groups(facts, stock, self.together)
        settings = distinct_cases(facts.harness, settings)
        if grow or start is None:
            sized = find_sizes(facts, grouping, settings, self.tell, start, self.left_open)
        else:
            sized = thinned_sizes(facts, grouping, settings, self.tell, start, self.left_open)
        self.tried += sized.tried
        return sized

    def _in_drawn_sizes(self, facts: Facts, harness: Harness) -> Facts:
        """A harness with the sizes that are drawn, to find others from. Currents, sharing and temperatures of
        ``facts`` are near enough to start with: what is found is gathered anew.
        """
        drawn = {c.id: c for c in self.drawn.conductors}
        conductors = tuple(
            replace(
                c,
                gauge=drawn[c.id].gauge,
                placeholders=drawn[c.id].placeholders,
                resistance_ohm=drawn[c.id].resistance_ohm,
            )
            for c in harness.conductors
        )
        return replace(facts, harness=replace(harness, conductors=conductors, findings=self.drawn.findings))

    # --- channels and devices ---------------------------------------------------------------------------------

    def _sizes_for_loads(self, facts: Facts, stock: Shelf) -> dict[str, Gauge]:
        """Sizes of the conductors that the loads ask to be thicker than drawn: behind one that is too thin a load
        of constant power draws more, and a device set for that would lend its copper more than it ever needs.
        """
        if not any(True for _ in wants(facts, OF_LOADS)):
            return {}
        settings = distinct_cases(facts.harness, self._as_warm(self.warm))
        return sizes_for_loads(facts, find_groups(facts, stock, self.together), settings)

    def _turn_on(self, facts: Facts, sizes: Mapping[str, Gauge]) -> Facts:
        """Channels that are off in an arrangement where what is behind them then stands unprotected; with sizes by
        conductor.
        """
        slots = off_slots(facts)
        if slots:
            on = self._gather(with_sizes(turned_on(facts, slots), sizes))
            self.off = to_blame(facts, on, slots)
            if self.off == slots:
                return on
        if not self.off and not sizes:
            return facts
        harness = turned_on(facts, self.off) if self.off else facts.harness
        return self._gather(with_sizes(harness, sizes))

    def _set_devices(self, facts: Facts, stock: Shelf) -> Facts:
        grouping = find_groups(facts, stock, self.together)
        found = find_settings(facts, grouping, self.together, contacts_a=best_allowed(facts), off=self.off)
        self.devices = {setting.slot: setting for setting in found}
        # What no setting range holds (the lead of one of several joined outputs) is protected by a lower setting
        # first and by more copper only where none does.
        self.devices |= self._lowered(facts, unheld=True)
        values = {s.slot: s.proposed_a for s in self.devices.values() if s.proposed_a is not None}
        changed = {slot: a for slot, a in values.items() if a != _nominal_a(facts.harness, slot)}
        harness = with_settings(facts.harness, changed)
        # A channel that no setting turns on stays off: what is not proposed can't count as done.
        hopeless = tuple(slot for slot in self.off if slot not in values)
        if hopeless:
            self.off = tuple(slot for slot in self.off if slot in values)
            harness = turned_off(harness, self.drawn, hopeless)
        return self._gather(harness, distinct=True) if changed or hopeless else facts

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
                    reason=both_reasons(before.reason, family.reason),
                )

    # --- what sizes leave open --------------------------------------------------------------------------------

    def _repaired(self, sized: Sized, stock: Shelf) -> Harness | None:
        """The harness with what may mend a finding that the sizes leave; None: nothing."""
        families = find_families(sized.facts, stock, self.together, self._wider(sized, stock))
        self._note_families(families)
        changed = {f.connector: f.proposed for f in families if f.changed and f.proposed is not None}
        reset = self._lowered(sized.facts) | self._set_again(sized.facts)
        if not changed and not reset:
            return None
        self.devices.update(reset)
        values = {slot: s.proposed_a for slot, s in reset.items() if s.proposed_a is not None}
        return with_settings(with_families(sized.harness, changed), values)

    def _wider(self, sized: Sized, stock: Shelf) -> dict[str, float]:
        """By connector: the section that its crimp range has to take for what it keeps from being mended."""
        harness, by_id = sized.harness, sized.harness.by_id
        found: dict[str, float] = {}
        for name, area_mm2 in self._kept_thin(sized, stock).items():
            wire = by_id[name]
            assert isinstance(wire, Conductor)
            for contact in crimped(harness, (wire,)):
                kind = contact_type_of(contact.contact_type, sized.facts.settings)
                if kind is None or kind.wire_area_mm2 is None:
                    continue
                if kind.wire_area_mm2[1] < area_mm2 * (1.0 - 1e-6):
                    found[contact.connector] = max(area_mm2, found.get(contact.connector, 0.0))
        return found

    def _uncrimped(self, sized: Sized, stock: Shelf) -> dict[str, Gauge]:
        """Sizes that the loads would have if contacts took every stocked size, of those that would then grow."""
        conductors = {c.id: c for c in sized.harness.conductors}
        groups = tuple(
            replace(g, sizes=stock.of(conductors[g.members[0]])) if g.above_by else g for g in sized.grouping.groups
        )
        settings = distinct_cases(sized.harness, self._as_warm(sized.facts.settings))
        return sizes_for_loads(sized.facts, replace(sized.grouping, groups=groups), settings)

    def _left(self, sized: Sized, stock: Shelf, results: Results) -> Iterator[LeftRow]:
        """What no size mends, in the words of the full analysis; for a voltage, where contacts stand in the way."""
        said = {(f.rule, f.subject.id): f for f in results.findings}
        low = {want.subject for want in sized.unmet if want.rule == "voltage-low"}
        short = {g.name: g.sizes[-1].area_mm2 for g in sized.grouping.groups if g.above_by}
        sizes = self._uncrimped(sized, stock) if low and short else {}
        if sizes:
            settings = distinct_cases(sized.harness, self._as_warm(sized.facts.settings))
            there = with_sizes(sized.harness, sizes)
            low -= {want.subject for want in loads_wants(there, settings, lambda _: True)[1]}
        group_of = sized.grouping.group_of
        wanted = [
            f"{name} of {size}"
            for name, size in sizes.items()
            if size.area_mm2 > short.get(group_of[name].name, math.inf) * (1.0 + 1e-9)
        ]
        for want in sized.unmet:
            row = left_row(said.get(want.key, want.finding))
            if wanted and want.rule == "voltage-low" and want.subject in low:
                row = replace(
                    row, why=f"{row.why} {', '.join(wanted)} would do; no contact stated there takes that."
                )
            yield row

    def _kept_thin(self, sized: Sized, stock: Shelf) -> dict[str, float]:
        """By conductor whose crimp ends below it: the section that it needs, or already has, in mm²."""
        short = [g for g in sized.grouping.groups if g.above_by]
        if not short or not sized.unmet:
            return {}
        conductors = {c.id: c for c in sized.harness.conductors}
        of_one = {name for want in sized.unmet if len(want.parts) == 1 for name in want.parts}
        for_loads = self._uncrimped(sized, stock)
        found: dict[str, float] = {}
        for group in short:
            needed = [for_loads[name].area_mm2 for name in group.members if name in for_loads]
            held = sized.held.get(group.name)
            if held is not None and held.outside:
                needed.append(sized.sizes[group.members[0]].area_mm2)
            if of_one & set(group.members):
                most = group.sizes[-1].area_mm2 * (1.0 + 1e-9)
                needed += [s.area_mm2 for s in stock.of(conductors[group.members[0]]) if s.area_mm2 > most][:1]
            if needed:
                found.update(dict.fromkeys(group.members, max(needed)))
        return found

    def _lowered(self, facts: Facts, *, unheld: bool = False) -> dict[Slot, Setting]:
        """Devices that hold too much for a part where a lower value rides through as well; ``unheld``: for the
        sake of conductors only that carry their load, by devices only of which no setting range says how high they
        may be.
        """
        lows = slot_setting_ranges(facts, {})
        conductors = {c.id for c in facts.harness.conductors}
        least: dict[Slot, tuple[float, str, float]] = {}
        for word, answers in facts.faults.by_arrangement.items():
            for name, answer in answers.items():
                short = answer.protected is False or (answer.in_band and _counts_band(facts, name))
                if not short or answer.held_by is None or not answer.held_to_protect_a:
                    continue
                load_a = facts.currents[name].worst_continuous[1] if name in facts.currents else 0.0
                if unheld and (name not in conductors or load_a > (answer.allowed_a or 0.0)):
                    continue
                # All that feed the part and hold too much: each would go on where only one is lowered.
                too_much = {answer.held_by: answer.held_to_protect_a}
                too_much |= {g.device: answer.held_to_protect_a / g.factor for g in also_too_much(facts, answer)}
                for device, held_a in too_much.items():
                    slot = (device, word) if (device, word) in self.devices else (device, None)
                    setting, part = self.devices.get(slot), facts.harness.by_id[device]
                    if setting is None or not isinstance(part, Device | Output):
                        continue
                    most_a = most_setting_a(part.under(slot[1]), held_a, facts.settings)
                    if most_a is None or (unheld and setting.high_a is not None):
                        continue
                    if slot not in least or most_a < least[slot][0]:
                        least[slot] = (most_a, name, answer.allowed_a or 0.0)
        found: dict[Slot, Setting] = {}
        for slot, (most_a, name, allowed_a) in least.items():
            low, setting = self._low(lows, slot), self.devices[slot]
            low_a, low_by = (low.setting_a, low.by) if low is not None else (setting.low_a, setting.low_by)
            lower = lower_setting(facts.harness.by_id[slot[0]], slot, low_a or 0.0, most_a)
            now = _nominal_a(facts.harness, slot)
            if lower is None or now is None or lower >= now * (1.0 - 1e-9):
                continue
            for each in self._instances(slot):
                if each in self.devices and (each not in found or lower < (found[each].proposed_a or 0.0)):
                    found[each] = replace(
                        self.devices[each],
                        proposed_a=lower,
                        low_a=low_a,
                        low_by=low_by,
                        high_a=most_a,
                        high_by=name,
                        reason=f"to protect {name}, allowed {figures(allowed_a)} A",
                    )
        return found

    def _set_again(self, facts: Facts) -> dict[Slot, Setting]:
        """Devices that don't ride through with the sizes found: with more drop on the path a load of constant power
        draws more, with less one of constant resistance does. Those for which no setting did both, where
        conductors have grown and one now does.
        """
        found = {}
        setting_ranges = slot_setting_ranges(facts, _allowed_a(facts))
        for slot, setting in self.devices.items():
            low, high = self._ends(setting_ranges, slot)
            part, now = facts.harness.by_id[slot[0]], _nominal_a(facts.harness, slot)
            if low is None or now is None:
                continue
            high_a, high_by = setting.high_a, setting.high_by
            if now < low.setting_a * (1.0 - 1e-9):
                # What was found before the sizes holds, or more where they have grown since.
                if high_a is not None and (high is None or high.setting_a > high_a):
                    high_a, high_by = (high.setting_a, high.by) if high is not None else (None, "")
                value = raised_setting(part, slot, low.setting_a, math.inf if high_a is None else high_a)
                why = f"to carry {figures(low.current_a)} A in case {low.by}"
            elif setting.proposed_a is None and high is not None and now > high.setting_a * (1.0 + 1e-9):
                high_a, high_by = high.setting_a, high.by
                value = lower_setting(part, slot, low.setting_a, high_a)
                why = f"to protect {high.by}, allowed {figures(high.current_a)} A"
            else:
                continue
            for each in self._instances(slot) if value is not None else ():
                if each in self.devices:
                    found[each] = replace(
                        self.devices[each],
                        proposed_a=value,
                        low_a=low.setting_a,
                        low_by=low.by,
                        high_a=high_a,
                        high_by=high_by,
                        reason=why,
                    )
        return found

    def _into_ranges(self, facts: Facts) -> dict[Slot, Setting]:
        """Proposed settings that lie outside of the range that the full analysis gives, moved to the nearest one
        inside. Settings are found by a closed form, which knows less.
        """
        found: dict[Slot, Setting] = {}
        ranges = reported_ranges(facts)
        for slot, setting in self.devices.items():
            low, high = self._ends(ranges, slot)
            now, part = _nominal_a(facts.harness, slot), facts.harness.by_id[slot[0]]
            if not setting.changed or now is None or slot not in ranges or slot in found:
                continue
            least_a = low.setting_a if low is not None else 0.0
            most_a = high.setting_a if high is not None else math.inf
            if now > most_a * (1.0 + 1e-9):
                value, bound = lower_setting(part, slot, least_a, most_a), high
            elif now < least_a * (1.0 - 1e-9):
                value, bound = raised_setting(part, slot, least_a, most_a), low
            else:
                continue
            if value is None or bound is None:  # no setting does both, which is a finding of its own
                continue
            why = carries(bound) if bound is low else protects(bound)
            for each in self._instances(slot):
                if each in self.devices:
                    found[each] = replace(self.devices[each], proposed_a=value, reason=why)
        return found

    def _settings(self, facts: Facts) -> Iterator[Setting]:
        """The settings found, those that stay with their setting range as the sizes leave it, and whether there is
        one."""
        setting_ranges = slot_setting_ranges(facts, _allowed_a(facts))
        reported = reported_ranges(facts)
        for slot, setting in self.devices.items():
            if setting.changed and setting.proposed_a is not None and slot in reported:
                low, high = self._ends(reported, slot)
                if low is not None:
                    setting = replace(setting, low_a=low.setting_a, low_by=low.by)
                if high is not None:  # else others keep all within what it may carry: what it was set for stays
                    setting = replace(setting, high_a=high.setting_a, high_by=high.by)
                yield setting
                continue
            low, high = self._ends(setting_ranges, slot)
            drawn_a = setting.drawn_a
            if setting.changed or drawn_a is None or low is None or high is None:
                yield setting
                continue
            there = replace(setting, low_a=low.setting_a, low_by=low.by, high_a=high.setting_a, high_by=high.by)
            if low.setting_a * (1.0 - 1e-9) <= drawn_a <= high.setting_a * (1.0 + 1e-9):
                yield replace(there, proposed_a=drawn_a, reason="as drawn")
            elif low.setting_a > high.setting_a * (1.0 + 1e-9):
                yield replace(there, proposed_a=None, reason=no_setting(low, high))
            elif others := facts.faults.protectors_without(high.by, setting.id):
                yield replace(there, reason=f"as drawn: {high.by} is protected by {' and '.join(others)}")
            else:
                yield setting

    def _low(self, setting_ranges: Mapping[Slot, SettingRange], slot: Slot) -> Bound | None:
        return self._ends(setting_ranges, slot)[0]

    def _ends(self, setting_ranges: Mapping[Slot, SettingRange], slot: Slot) -> tuple[Bound | None, Bound | None]:
        """What the devices that share a field have to carry, and may be set to."""
        mine = [w for each in self._instances(slot) if (w := setting_ranges.get(each)) is not None]
        return (
            max((w.low for w in mine if w.low), key=lambda bound: bound.setting_a, default=None),
            min((w.high for w in mine if w.high), key=lambda bound: bound.setting_a, default=None),
        )

    def _instances(self, slot: Slot) -> list[Slot]:
        names = next((names for names in self.together if slot[0] in names), frozenset({slot[0]}))
        return [(name, slot[1]) for name in sorted(names)]

    # --- what need not change ---------------------------------------------------------------------------------

    def _put_back(self, sized: Sized, stock: Shelf) -> Sized | None:
        """Settings and families as drawn where nothing is found against them with the sizes found, nor what is left
        made worse: they were changed for sizes that something else then asked to be thicker, or to be thinner than
        a crimp takes. None where all have to be as they are.
        """
        settings = unneeded_settings(sized.facts, self.devices, self.together)
        families = unneeded_families(sized.facts, self.families, self.together)
        changes = [*(_Changes(devices=s) for s in settings), *(_Changes(families=f) for f in families)]
        kept = _Changes()
        for change in changes:
            if self._does(kept.and_(change), sized):
                kept = kept.and_(change)
        if kept == _Changes():
            return None
        facts = self._in_drawn_sizes(sized.facts, kept.made(sized.harness))
        again = self._find_sizes(facts, stock, facts.settings, sized.sizes, grow=False)
        if not is_as_good(again.facts, sized.facts):
            return None
        setting_ranges = rated_setting_ranges(again.facts)
        for slot, drawn_a in kept.devices.items():
            low, high = self._ends(setting_ranges, slot)
            self.devices[slot] = replace(
                self.devices[slot],
                proposed_a=drawn_a,
                low_a=low.setting_a if low is not None else None,
                low_by=low.by if low is not None else "",
                high_a=high.setting_a if high is not None else None,
                high_by=high.by if high is not None else "",
                reason="as drawn",
            )
        for name in kept.families:
            del self.families[name]
        return again

    def _does(self, change: _Changes, sized: Sized) -> bool:
        harness, settings = change.made(sized.harness), sized.facts.settings
        if not all(crimps(harness, settings, name, family) for name, family in change.families.items()):
            return False
        return is_as_good(self._gather(harness, distinct=True), sized.facts)

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
            devices=tuple(self._settings(sized.facts)),
            openings=self.openings,
            families=families,
            ratings=ratings,
            contacts=find_paths(sized.facts),
            left=(
                *self._left(sized, stock, results),
                *outside_stock(sized),
                *no_trip(sized.facts),
            ),
            budget=budget(sized),
            trip_plan=self._trip_plan(sized.facts),
            spread=assign(problem) if problem is not None else None,
            mended=tuple(f for f in drawn.findings if f.accepted is None and (f.rule, f.subject.id) not in keys),
            remaining=open_now,
            copper_drawn_g=sum(row.copper_drawn_g or 0.0 for row in sizes),
            copper_g=sum(row.copper_g or 0.0 for row in sizes),
            loss_drawn_w=sum(row.loss_drawn_w or 0.0 for row in sizes),
            loss_w=sum(row.loss_w or 0.0 for row in sizes),
            assumptions=(stock.note, *self._assumptions(sizes, families), *drawn.assumptions),
            harnesses_tried=self.tried,
            not_sized_for=tuple(_not_sized_for(self.drawn, results)),
        )

    def _trip_plan(self, facts: Facts) -> tuple[Setting, ...]:
        """The trip plan with every setting tried that is another than the one proposed so far: setting ranges look
        at what one device guards, not at what it does beside the others.
        """
        plan = trip_plan(facts)
        values = {s.slot: s.proposed_a for s in plan if s.changed and s.proposed_a is not None}
        if values and self._worse(facts, values):
            tried = {slot: self._worse(facts, {slot: value_a}) for slot, value_a in values.items()}
            plan = tuple(refused(s, worse) if (worse := tried.get(s.slot)) else s for s in plan)
        # The plan is made for the harness as proposed; what is drawn is the setting before any of it.
        return tuple(self._as_drawn(s) for s in plan)

    def _as_drawn(self, planned: Setting) -> Setting:
        """A setting of the plan beside the one that the drawing has, with the reason why the two differ."""
        found = replace(planned, drawn_a=_nominal_a(self.drawn, planned.slot))
        earlier = self.devices.get(planned.slot)
        if planned.changed or not found.changed or earlier is None:
            return found
        return replace(found, reason=earlier.reason)

    def _worse(self, facts: Facts, settings_a: Mapping[Slot, float]) -> list[tuple[str, str]]:
        """What is found on conductors and contacts with these settings, or as an error, that is not there now."""
        there = self._gather(with_settings(facts.harness, settings_a), distinct=True)
        guarded = {part.id for part in (*there.harness.conductors, *there.harness.contacts)}
        grave = errors(there)
        return [key for key in worse_than(there, facts) if key in grave or key[1] in guarded]

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


def _allowed_a(facts: Facts) -> dict[str, float | None]:
    return {name: rating.allowed_a for name, rating in facts.ratings.items()}


def _counts_band(facts: Facts, name: str) -> bool:
    settings = facts.settings
    if settings.severity.get("overload-band") is Severity.NOTE:
        return False
    return not any(a.rule == "overload-band" and a.subject == name for a in settings.accepted)


def _not_sized_for(harness: Harness, results: Results) -> Iterable[str]:
    unfed = {f.subject.id for f in results.findings if f.rule == "load-unfed"}
    # Without any source one finding speaks for all loads.
    if any(f.rule == "nothing-judged" for f in results.findings):
        unfed |= {load.id for load in harness.loads}
    for load in harness.loads:
        said = all(load.under(word).demand is not None for word in (None, *load.by_word))
        if load.fitted and (not said or load.id in unfed):
            yield load.id
