"""The smallest stocked sizes that the whole analysis finds nothing against.

From the thinnest sizes up: every finding that a size can mend says which conductors have to be how thick; they
all grow at once, and the harness is gathered again, since a thicker wire raises fault currents and lowers drops.
Then down again, one step of one group at a time, as long as nothing is found. What is left can't be lowered by
one step anywhere: the step that was refused names what governs the size. A finding that no stocked size mends is
given up, and said so; the sizes are then those that everything else asks for.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

import networkx as nx

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.voltages import tightest_minimum
from loadloom.graph.model.elements import Conductor, Gauge, Load
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Severity
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.sizing.drop_gains import weights_v
from loadloom.graph.sizing.groups import Group, Grouping, allowed_by_size, with_sizes
from loadloom.graph.sizing.judging import (
    Tell,
    Want,
    findings_of,
    gathered,
    gathered_if_sound,
    guarded_above,
    loads_wants,
    wants,
)
from loadloom.graph.sizing.shelf import copper_g

MOST_ROUNDS = 60

FOR_PROTECTION = (
    "path-unprotected",
    "overload-band",
    "combined-overload",
    "damage-before-clearing",
    "device-not-determined",
    "fuse-above-wire",
    "no-setting-range",
)
"""Rules for whose sake a conductor grows only so far (``thicken_at_most``): beyond it a device is the remedy."""

OF_FAULTS = ("path-unprotected", "overload-band", "combined-overload")
"""Rules on a current that a fault drives through a conductor: on a radial way, thinner ones elsewhere only lessen
it.
"""

SURELY = 0.97
"""A size whose allowed current is below this share of what it has to be is refused without being tried: what it
has to be moves by less than that in one step, since a limit or a load sets it.
"""

VOLTAGE_SURELY = 0.9
"""Share of the drop's first-order rise that is there for sure: a load of constant resistance draws less then."""

Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Governed:
    """Why a group is no thinner: the rule and subject that one step less would break, or "" and a reason."""

    rule: str
    subject: str
    reason: str


@dataclass(frozen=True, slots=True)
class Held:
    """Why a group is not made thinner than drawn: the want that nothing mends. ``outside``: the drawn size is not
    among those that may be chosen (not stocked, outside a crimp range, or not rated).
    """

    want: Want
    outside: bool


@dataclass(frozen=True)
class Sized:
    """Sizes found. ``unmet`` are the wants that no stocked size mends. ``tried`` counts harnesses gathered.

    ``governed`` and ``held`` are by the name of the group, ``grouping`` with the sizes that were open in the end.
    """

    harness: Harness
    facts: Facts
    sizes: Mapping[str, Gauge]
    governed: Mapping[str, Governed]
    unmet: tuple[Want, ...]
    tried: int
    grouping: Grouping
    held: Mapping[str, Held]


def find_sizes(
    drawn: Facts,
    grouping: Grouping,
    settings: AnalysisSettings,
    tell: Tell,
    start: Mapping[str, Gauge] | None = None,
    left_open: frozenset[Key] = frozenset(),
) -> Sized:
    """Find the sizes of all groups of a harness; ``drawn`` is what was gathered about it as it stands.

    ``settings`` are those of the user: in ``drawn`` enclosures have warmed them up. ``start``: sizes by conductor
    to begin with, where they are known to be near. ``left_open``: rule and subject of what no size answers for.
    """
    return _Sizing(drawn, grouping, settings, tell, start or {}, left_open).run()


def thinned_sizes(
    drawn: Facts,
    grouping: Grouping,
    settings: AnalysisSettings,
    tell: Tell,
    start: Mapping[str, Gauge],
    left_open: frozenset[Key] = frozenset(),
) -> Sized:
    """The sizes of ``start``, known to do, made thinner where that does as well; otherwise as ``find_sizes``."""
    return _Sizing(drawn, grouping, settings, tell, start, left_open).run(grow=False)


def sizes_for_loads(drawn: Facts, grouping: Grouping, settings: AnalysisSettings) -> dict[str, Gauge]:
    """Sizes by conductor of those that have to be thicker than drawn by what the load states alone say; arguments
    as ``find_sizes``. For a load that no size gives its voltage, none grows.
    """
    return _Sizing(drawn, grouping, settings, lambda _: None).for_loads()


@dataclass
class _Sizing:
    drawn: Facts
    grouping: Grouping
    settings: AnalysisSettings
    tell: Tell
    near: Mapping[str, Gauge] = field(default_factory=dict)
    left_open: frozenset[Key] = frozenset()
    at: dict[str, int] = field(default_factory=dict)
    for_load: dict[str, int] = field(default_factory=dict)
    known: frozenset[Key] = frozenset()
    newly: Governed = field(default_factory=lambda: Governed("", "", ""))
    given_up: set[Key] = field(default_factory=set)
    held: dict[str, Held] = field(default_factory=dict)
    governed: dict[str, Governed] = field(default_factory=dict)
    tried: int = 0
    _table: tuple[Facts, Mapping[str, tuple[float | None, ...]]] | None = None
    _known: tuple[Facts, list[tuple[str, float, dict[str, float]]]] | None = None

    def __post_init__(self) -> None:
        self.group_of = self.grouping.group_of
        self.harness: Harness = self.drawn.harness

    def run(self, *, grow: bool = True) -> Sized:
        grown = self._grow() if grow else self._as_given()
        self.known = findings_of(grown)
        facts = self._shrink(grown)
        final = tuple(want for want in wants(facts) if want.key not in self.left_open)
        return Sized(
            facts.harness, facts, self._sizes(), self.governed, final, self.tried, self.grouping, self.held
        )

    def for_loads(self) -> dict[str, Gauge]:
        """Sizes that the load states ask for, of the groups that have to be thicker than drawn for it."""
        drawn = {g.name: self._drawn_place(g) for g in self.grouping.groups}
        self.at = dict(drawn)
        self._grow_for_loads()
        while left := self._loads_open():
            self.given_up |= {want.key for want in left}
            self.at = dict(drawn)
            self._grow_for_loads()
        self._thin_out(drawn)
        thicker = {name for name, k in self.at.items() if k > drawn[name]}
        return {name: size for name, size in self._sizes().items() if self.group_of[name].name in thicker}

    def _loads_open(self) -> tuple[Want, ...]:
        return self._by_loads()[1]

    def _by_loads(self) -> tuple[Facts, tuple[Want, ...]]:
        return loads_wants(with_sizes(self.harness, self._sizes()), self.settings, self._is_open)

    def _drawn_place(self, group: Group) -> int:
        """The place in its list of a group's size as drawn, or of the next thicker one."""
        return self._place(group, self._drawn_mm2(group))

    def _place(self, group: Group, area_mm2: float) -> int:
        places = (k for k, size in enumerate(group.sizes) if size.area_mm2 >= area_mm2 * (1.0 - 1e-9))
        return next(places, len(group.sizes) - 1)

    def _sizes(self) -> dict[str, Gauge]:
        return {name: g.sizes[self.at[g.name]] for g in self.grouping.groups for name in g.members}

    def _gather(self) -> Facts:
        self.tried += 1
        self.tell(f"sizing: {self.tried} harnesses tried")
        return gathered(with_sizes(self.harness, self._sizes()), self.settings, lambda _: None)

    def _open(self, facts: Facts) -> list[Want]:
        return [want for want in wants(facts) if self._is_open(want)]

    def _is_open(self, want: Want) -> bool:
        return want.key not in self.given_up | self.left_open

    def _as_given(self) -> Facts:
        """The sizes given, whatever they leave open given up."""
        for group in self.grouping.groups:
            near = self.near.get(group.members[0])
            self.at[group.name] = self._place(group, near.area_mm2 if near is not None else self._drawn_mm2(group))
        return self._all_given_up(self._gather())

    def _all_given_up(self, facts: Facts) -> Facts:
        """Leave open whatever is open, and gather anew where that puts a group back to its drawn size."""
        while left := self._open(facts):
            before = self._sizes()
            for want in left:
                self._give_up(want, facts)
            if self._sizes() != before:
                facts = self._gather()
        return facts

    # --- up ---------------------------------------------------------------------------------------------------

    def _grow(self) -> Facts:
        # First for the loads alone, so that what protection may add to it does not hang on the sizes begun with.
        allowed = self._allowed(self.drawn)
        self.at = self._for_currents(allowed)
        self.for_load = {name: max(k, self.for_load.get(name, 0)) for name, k in self.at.items()}
        self._grow_for_loads()
        self.at = {name: max(k, self.at[name]) for name, k in self._start(allowed).items()}
        facts = self._gather()
        for _ in range(MOST_ROUNDS):
            left = self._open(facts)
            if not left:
                return facts
            targets: dict[str, int] = {}
            before, allowed = self._sizes(), self._allowed(facts)
            hopeless = []
            for want in left:
                moves = self._moves(want, facts, allowed)
                if not moves:
                    hopeless.append(want)
                for name, k in moves.items():
                    targets[name] = max(k, targets.get(name, 0))
            self.at.update({name: max(k, self.at[name]) for name, k in targets.items()})
            for want in hopeless:  # what grew for its sake goes back on the way down
                self._give_up(want, facts)
            if self._sizes() != before:
                facts = self._gather()
        return self._all_given_up(facts)

    def _grow_for_loads(self) -> None:
        """What the load states alone ask for, which costs a fraction of a full gathering."""
        for _ in range(MOST_ROUNDS):
            facts, left = self._by_loads()
            allowed = self._allowed(facts) if left else {}
            targets: dict[str, int] = {}
            for want in left:
                for name, k in self._moves(want, facts, allowed).items():
                    targets[name] = max(k, targets.get(name, self.at[name]))
            if not targets:
                return
            self.at.update(targets)

    def _thin_out(self, least: Mapping[str, int]) -> None:
        """Take back, down to these places in the lists of sizes, what loads don't need of what grew for them:
        where it grew for several, or by whole sizes, less does.
        """
        facts, left = self._by_loads()
        known = {want.key for want in left}
        grown = [g for g in self.grouping.groups if self.at[g.name] > least[g.name]]
        order = sorted(grown, key=lambda g: (-self._length_m(g), g.name))
        for k, group in enumerate(order):
            before = dict(self.at)
            self.at.update({g.name: least[g.name] for g in order[k:]})
            if {want.key for want in self._loads_open()} <= known:
                return
            self.at = before
            while self.at[group.name] > least[group.name] and self._drops_too_much(group, facts) is None:
                self.at[group.name] -= 1
                thinner, left = self._by_loads()
                if not {want.key for want in left} <= known:
                    self.at[group.name] += 1
                    break
                facts = thinner

    def _give_up(self, want: Want, facts: Facts) -> None:
        """Leave a want open. The conductors that it is about are not made thinner than they are drawn: what can't
        be mended must not be made worse for the sake of copper.
        """
        self.given_up.add(want.key)
        if want.rule == "path-unprotected":
            # Where one fault is too much, neither the band nor several overloads ask for anything more.
            self.given_up |= {("overload-band", want.subject), ("combined-overload", want.subject)}
        parts: Iterable[str] = want.parts
        if want.rule == "voltage-low":
            load = facts.harness.by_id[want.subject]
            assert isinstance(load, Load)
            least, _ = tightest_minimum(facts, load)
            # With plus and minus swapped no copper gives a load its voltage: nothing to be kept for its sake.
            parts = weights_v(facts, load) if least is not None and least.volts > 0.0 else ()
        elif want.rule == "fault-never-cleared":
            parts = next(s.loop for s in facts.protection.short_circuits.conductors if s.part == want.subject)
        for name in dict.fromkeys(self.group_of[n].name for n in parts if n in self.group_of):
            if name not in self.held:
                self._hold(name, want)

    def _hold(self, name: str, want: Want) -> None:
        group = next(g for g in self.grouping.groups if g.name == name)
        drawn = max(
            (c.gauge for n in group.members if (c := self._conductor(self.drawn, n)).gauge is not None),
            key=lambda gauge: gauge.area_mm2,
            default=None,
        )
        if drawn is not None:
            thicker = tuple(size for size in group.sizes if size.area_mm2 > drawn.area_mm2 * (1.0 + 1e-9))
            sizes = (drawn, *thicker)
        else:
            sizes = group.sizes[-1:] if want.rule in ("wire-overload", "return-overload") else group.sizes
        self.held[name] = Held(want, drawn is not None and drawn not in group.sizes)
        here = group.sizes[self.at[name]].area_mm2 * (1.0 - 1e-9)
        self.at[name] = next((k for k, size in enumerate(sizes) if size.area_mm2 >= here), len(sizes) - 1)
        load = group.sizes[min(self.for_load.get(name, 0), len(group.sizes) - 1)].area_mm2 * (1.0 - 1e-9)
        self.for_load[name] = next((k for k, size in enumerate(sizes) if size.area_mm2 >= load), len(sizes) - 1)
        groups = tuple(replace(g, sizes=sizes) if g is group else g for g in self.grouping.groups)
        self.grouping = replace(self.grouping, groups=groups)
        self.group_of = self.grouping.group_of
        self._table = None

    def _for_currents(self, allowed: Mapping[str, tuple[float | None, ...]]) -> dict[str, int]:
        """Thinnest sizes that carry what flows as drawn."""
        return {
            g.name: self._enough(g, allowed, lambda name: _load_a(self.drawn, name)) or 0
            for g in self.grouping.groups
        }

    def _start(self, allowed: Mapping[str, tuple[float | None, ...]]) -> dict[str, int]:
        """Thinnest sizes that carry what one fault can hold as drawn, or those given."""
        found = {}
        for group in self.grouping.groups:
            near = self.near.get(group.members[0])
            k = self._enough(group, allowed, lambda name: self._held_a(self.drawn, name))
            if near in group.sizes:
                k = group.sizes.index(near)
            found[group.name] = k if k is not None and k <= self._most(group) else 0
        return found

    def _enough(
        self, group: Group, allowed: Mapping[str, tuple[float | None, ...]], need_a: Callable[[str], float]
    ) -> int | None:
        """The thinnest size that is allowed what every member needs."""
        needs = {name: need_a(name) * (1.0 - 1e-9) for name in group.members}
        for k in range(len(group.sizes)):
            if all((a := allowed[name][k]) is not None and a >= need for name, need in needs.items()):
                return k
        return None

    def _most(self, group: Group) -> int:
        """The thickest size that a group may have for the sake of protection alone."""
        drawn = self._drawn_mm2(group)
        load = group.sizes[min(self.for_load.get(group.name, 0), len(group.sizes) - 1)].area_mm2
        most = self.settings.design.thicken_at_most * max(drawn, load) * (1.0 + 1e-9)
        return max((k for k, size in enumerate(group.sizes) if size.area_mm2 <= most), default=0)

    def _drawn_mm2(self, group: Group) -> float:
        gauges = (self._conductor(self.drawn, name).gauge for name in group.members)
        return max((gauge.area_mm2 for gauge in gauges if gauge is not None), default=0.0)

    def _held_a(self, facts: Facts, part: str) -> float:
        """What a conductor has to be allowed for its protection, the overload band used only where nothing else
        is left.
        """
        banded = ("overload-band", part) in self.given_up or not self._is_band_wanted(part)
        return _protected_a(facts, part) if banded else max(_strict_a(facts, part), _protected_a(facts, part))

    def _is_band_wanted(self, part: str) -> bool:
        settings = self.settings
        if settings.severity.get("overload-band") is Severity.NOTE:
            return False
        return not any(a.rule == "overload-band" and a.subject == part for a in settings.accepted)

    def _moves(self, want: Want, facts: Facts, allowed: Mapping[str, tuple[float | None, ...]]) -> dict[str, int]:
        """Groups to grow for a want, with the place in their list of sizes; empty where nothing can mend it."""
        if want.rule == "voltage-low":
            moves = self._for_voltage(want, facts)
            self.for_load.update({name: max(k, self.for_load.get(name, 0)) for name, k in moves.items()})
            return moves
        if want.rule == "fault-never-cleared":
            return self._for_clearing(want, facts)
        if want.rule == "mixed-gauges":
            return {}
        if want.rule == "fuse-above-wire":
            found: dict[str, int] = {}
            for name, need_a in guarded_above(facts, want.subject):
                if name in want.parts:
                    k = self._rated_for(name, need_a, allowed)
                    if k is None or self._within(name, k) is None:
                        return {}
                    found[self.group_of[name].name] = max(k, found.get(self.group_of[name].name, 0))
            return found
        (part,) = want.parts
        if part not in self.group_of:
            return {}
        if want.rule == "damage-before-clearing":
            place = self._thick_for(part, want)
        elif want.rule == "path-unprotected":
            place = self._within(part, self._rated_for(part, self._held_a(facts, part), allowed))
            if place is None:
                place = self._rated_for(part, _protected_a(facts, part), allowed)
        elif want.unit_is_current:
            place = self._rated_for(part, _needed_a(want, part, facts), allowed)
        else:
            place = self._next(part)
        if want.rule in FOR_PROTECTION:
            place = self._within(part, place)
        return {} if place is None else {self.group_of[part].name: place}

    def _within(self, part: str, place: int | None) -> int | None:
        """A place in the list of sizes, or None where it is more copper than protection alone may ask for."""
        return place if place is not None and place <= self._most(self.group_of[part]) else None

    def _next(self, part: str) -> int | None:
        group = self.group_of[part]
        k = self.at[group.name] + 1
        return k if k < len(group.sizes) else None

    def _rated_for(self, part: str, need_a: float, allowed: Mapping[str, tuple[float | None, ...]]) -> int | None:
        group = self.group_of.get(part)
        if group is None:
            return None
        for k in range(self.at[group.name] + 1, len(group.sizes)):
            there = allowed[part][k]
            if there is not None and there >= need_a * (1.0 - 1e-9):
                return k
        return None

    def _thick_for(self, part: str, want: Want) -> int | None:
        group, finding = self.group_of[part], want.finding
        assert finding.value is not None and finding.limit
        area = group.sizes[self.at[group.name]].area_mm2 * math.sqrt(finding.value / finding.limit)
        places = range(self.at[group.name] + 1, len(group.sizes))
        return next((k for k in places if group.sizes[k].area_mm2 >= area * 0.99), None)

    def _for_voltage(self, want: Want, facts: Facts) -> dict[str, int]:
        load = facts.harness.by_id[want.subject]
        assert isinstance(load, Load)
        least, needed = tightest_minimum(facts, load)
        assert least is not None and needed is not None
        return self._thicken(weights_v(facts, load), needed - least.volts)

    def _for_clearing(self, want: Want, facts: Facts) -> dict[str, int]:
        short = next(s for s in facts.protection.short_circuits.conductors if s.part == want.subject)
        if short.capped_by is not None or short.held_a is None or not short.row.loop_heat_w:
            return {}
        threshold_a = max(
            (
                a.thresholds[short.held_by].held_a
                for a in facts.protection.arrangements
                if short.held_by is not None and short.held_by in a.thresholds
            ),
            default=math.inf,
        )
        loop_ohm = short.row.loop_heat_w / short.held_a**2
        if not math.isfinite(threshold_a):
            return {}
        too_much_ohm = loop_ohm * (1.0 - short.held_a / threshold_a)
        # Resistances in the loop stand to each other as length over area.
        parts = (facts.harness.by_id[name] for name in short.loop)
        wires = [part for part in parts if isinstance(part, Conductor)]
        shape = {c.id: c.length_m / c.gauge.area_mm2 for c in wires if c.gauge and c.length_m}
        scale = _hot_ohm_mm2_per_m(short.row.loop_heat_w, short.held_a, shape)
        return self._thicken({n: x * scale for n, x in shape.items()}, too_much_ohm)

    def _conductor(self, facts: Facts, name: str) -> Conductor:
        part = facts.harness.by_id[name]
        assert isinstance(part, Conductor)
        return part

    def _thicken(self, weights: Mapping[str, float], deficit: float) -> dict[str, int]:
        """Step by step the group that gives most per gram, until the deficit (same unit as the weights) is gone.

        A weight goes with the inverse of the area. Empty where no step is left at all.
        """
        by_group: dict[str, tuple[Group, float, float]] = {}
        for name, weight in weights.items():
            group = self.group_of.get(name)
            if group is not None:
                _, known, _ = by_group.get(group.name, (group, 0.0, 0.0))
                by_group[group.name] = (group, known + weight, self._length_m(group))
        at = {name: self.at[name] for name in by_group}
        moved: dict[str, int] = {}
        gained = 0.0
        while gained < deficit or not moved:
            best: tuple[float, str, float] | None = None
            for name, (group, weight, length_m) in by_group.items():
                k = at[name]
                if weight <= 0.0 or k + 1 >= len(group.sizes):
                    continue
                start, here, there = (group.sizes[j].area_mm2 for j in (self.at[name], k, k + 1))
                gain = weight * start * (1.0 / here - 1.0 / there)
                score = gain / copper_g(there - here, length_m)
                if best is None or score > best[0] * (1.0 + 1e-12):
                    best = (score, name, gain)
            if best is None:
                break
            _, name, gain = best
            at[name] += 1
            moved[name] = at[name]
            gained += gain
        return moved

    def _length_m(self, group: Group) -> float:
        by_id = self.harness.by_id
        return sum(c.length_m or 0.0 for c in (by_id[n] for n in group.members) if isinstance(c, Conductor))

    # --- and down again ---------------------------------------------------------------------------------------

    def _shrink(self, facts: Facts) -> Facts:
        """Lower all groups at once for as long as nothing is found. A group that something is found on then is
        refused, where the others' being thinner can only have helped it; then as many as the loads leave, then one
        behind every device. A lowering puts the refusals to the test again that it bears on.
        """
        order = sorted(self.grouping.groups, key=lambda g: (-self._length_m(g), g.name))
        radial = _bridges(facts.harness)
        behind = _devices_of(order, facts, radial)
        refused: dict[str, tuple[Governed, tuple[int, ...]]] = {}
        alone: set[str] = set()
        light: list[Group] | None = None  # those that the loads leave one size less together; None: not known
        failed: set[frozenset[str]] = set()  # names of groups that were lowered together in vain from these sizes
        named: set[str] = set()  # groups that something was found on then

        def bears_on(group: Group) -> tuple[int, ...]:
            """The sizes that a refusal of a group holds for."""
            mine = behind[group.name]
            return tuple(self.at[g.name] for g in order if not mine or behind[g.name] in (mine, ""))

        while True:
            open_ = [g for g in order if not self._settled(g, facts)]
            fresh = [g for g in open_ if g.name not in refused]
            if not fresh:
                stale = [g.name for g in open_ if refused[g.name][1] != bears_on(g)]
                for name in stale:
                    del refused[name]
                if not stale:
                    self.governed.update({g.name: refused[g.name][0] for g in open_})
                    return facts
                continue
            groups = [g for g in fresh if g.name not in alone]
            if len(groups) < 2 or frozenset(g.name for g in groups) in failed:
                light = self._lighter(fresh) if light is None else light
                groups = light = [g for g in light if g in fresh and g.name not in named]
            if len(groups) < 2 or frozenset(g.name for g in groups) in failed:
                groups = _one_each(fresh, behind)
            if frozenset(g.name for g in groups) in failed:
                groups = groups[:1]
            trial, left = self._lowered(groups)
            if trial is not None:
                facts, light, failed, named = trial, None, set(), set()
                behind = _devices_of(order, facts, radial)
                continue
            failed.add(frozenset(g.name for g in groups))
            own = self._own(groups, left, facts, behind, radial)
            refused |= {g.name: (own[g.name], bears_on(g)) for g in groups if g.name in own}
            named |= {
                self.group_of[name].name
                for w in left
                if w.rule != "voltage-low"
                for name in w.parts
                if name in self.group_of
            }
            if not own:
                blamed = {name for want in left for name in self._blamed(want, facts)}
                alone |= {g.name for g in groups if g.name in blamed} or {g.name for g in groups}
                light = [g for g in light if g.name not in blamed] if light is not None else None

    def _own(
        self,
        groups: list[Group],
        left: tuple[Want, ...],
        facts: Facts,
        behind: Mapping[str, str],
        radial: set[str],
    ) -> dict[str, Governed]:
        """Of groups lowered in vain: those that can't be one size less alone either, with the reason."""
        if len(groups) == 1:
            mine = [want for want in left if set(want.parts) & set(groups[0].members)]
            return {groups[0].name: _said((mine or left)[0]) if left else self.newly}
        found: dict[str, Governed] = {}
        for want in left:
            for group in groups:
                if set(want.parts) <= set(group.members) <= radial and _by_itself(want):
                    found.setdefault(group.name, _said(want))
        devices = [behind[g.name] for g in groups]
        if "" in devices or len(set(devices)) < len(devices):
            return found
        # One behind every device: a finding behind one of them alone is that one's.
        reasons = [(self._blamed(want, facts), _said(want)) for want in left]
        if not left and self.newly.subject in self.group_of:
            reasons = [({self.group_of[self.newly.subject].name}, self.newly)]
        for blamed, reason in reasons:
            to_blame = {behind[name] for name in blamed}
            mine_of = [g for g in groups if behind[g.name] in to_blame]
            if len(mine_of) == 1:
                found.setdefault(mine_of[0].name, reason)
        return found

    def _lighter(self, groups: list[Group]) -> list[Group]:
        """Groups that can all be one size less by what the load states say, found one after the other."""
        found: list[Group] = []
        before = dict(self.at)
        for group in groups:
            self.at[group.name] -= 1
            if self._loads_open():
                self.at[group.name] += 1
            else:
                found.append(group)
        self.at = before
        return found

    def _settled(self, group: Group, facts: Facts) -> bool:
        """Whether a group can't be thinner without being tried; what governs it is then noted."""
        if self.at[group.name] == 0:
            held = self.held.get(group.name)
            if held is not None and self._conductor(self.drawn, group.members[0]).gauge is not None:
                why = f"no stocked size removes {held.want.rule} on {held.want.subject}"
                self.governed[group.name] = Governed("held", held.want.subject, why)
            else:
                self.governed[group.name] = _thinnest(group)
            return True
        surely = self._surely_refused(group, facts)
        if surely is not None:
            self.governed[group.name] = surely
        return surely is not None

    def _lowered(self, groups: list[Group]) -> tuple[Facts | None, tuple[Want, ...]]:
        """The harness with these groups one size less, or None and what is found against it. Nothing may be found
        on any part that was not there before; where that is all, ``newly`` says what.
        """
        before = dict(self.at)
        for group in groups:
            self.at[group.name] -= 1
        self.tried += 1
        self.tell(f"sizing: {self.tried} harnesses tried")
        there = with_sizes(self.harness, self._sizes())
        trial, left = gathered_if_sound(there, self.settings, self._is_open, lambda _: None)
        if not left:
            new = findings_of(trial) - self.known
            if not new:
                return trial, ()
            rule, subject = min(new)
            self.newly = Governed(rule, subject, f"one size less raises {rule} on {subject}")
        self.at = before
        return None, left

    def _blamed(self, want: Want, facts: Facts) -> set[str]:
        parts: Iterable[str] = want.parts
        if want.rule == "voltage-low":
            load = facts.harness.by_id[want.subject]
            assert isinstance(load, Load)
            parts = weights_v(facts, load)
        return {self.group_of[name].name for name in parts if name in self.group_of}

    def _surely_refused(self, group: Group, facts: Facts) -> Governed | None:
        """What one size less would break for sure, by how much the numbers of now can move."""
        k = self.at[group.name] - 1
        allowed = self._allowed(facts)
        for name in group.members:
            there = allowed[name][k]
            if there is None:
                continue
            for rule, need_a, what in _needs(facts, name):
                banded = rule == "combined-overload" and there < (_sustained_fault_a(facts, name) or 0.0)
                banded |= rule == "overload-band" and not self._is_band_wanted(name)
                if there < SURELY * need_a and not banded and (rule, name) not in self.given_up:
                    return Governed(rule, name, f"{what}, and one size less is allowed {figures(there)} A")
        return self._drops_too_much(group, facts)

    def _drops_too_much(self, group: Group, facts: Facts) -> Governed | None:
        """The load that one size less would surely leave without its voltage."""
        k = self.at[group.name] - 1
        here, thinner = group.sizes[k + 1].area_mm2, group.sizes[k].area_mm2
        for load, slack_v, weights in self._slacks(facts):
            lost_v = sum(weights.get(name, 0.0) for name in group.members) * (here / thinner - 1.0)
            if lost_v * VOLTAGE_SURELY > slack_v + 1e-6 and ("voltage-low", load) not in self.given_up:
                why = f"load {load} has {figures(slack_v)} V to spare, and one size less costs {figures(lost_v)} V"
                return Governed("voltage-low", load, why)
        return None

    def _allowed(self, facts: Facts) -> Mapping[str, tuple[float | None, ...]]:
        if self._table is None or self._table[0] is not facts:
            self._table = (facts, allowed_by_size(facts, self.grouping))
        return self._table[1]

    def _slacks(self, facts: Facts) -> list[tuple[str, float, dict[str, float]]]:
        """Of every load that wants a voltage: what it has to spare in V, and the shares of its drop."""
        if self._known is None or self._known[0] is not facts:
            found = []
            for load in facts.harness.loads:
                least, needed = tightest_minimum(facts, load)
                if least is not None and needed is not None:
                    found.append((load.id, least.volts - needed, weights_v(facts, load)))
            self._known = (facts, found)
        return self._known[1]


def _devices_of(groups: Iterable[Group], facts: Facts, radial: set[str]) -> dict[str, str]:
    """By group: the one device that its conductors stand behind without another way, "" for none."""
    outputs = {output.id for output in facts.harness.outputs}
    found = {}
    for group in groups:
        answers = [facts.faults.parts.get(name) for name in group.members]
        devices = {answer.held_by if answer is not None else None for answer in answers}
        (only,) = devices if len(devices) == 1 else (None,)
        found[group.name] = only if only and only not in outputs and set(group.members) <= radial else ""
    return found


def _one_each(groups: list[Group], behind: Mapping[str, str]) -> list[Group]:
    """The first group, and the first of every other device."""
    if not behind[groups[0].name]:
        return groups[:1]
    return list({behind[g.name]: g for g in reversed(groups) if behind[g.name]}.values())


def _by_itself(want: Want) -> bool:
    """Whether thinner conductors elsewhere on a radial way can't be what a finding comes from. A short circuit's
    heat grows with them where a device is slower for less current, which one size makes little of.
    """
    if want.rule == "damage-before-clearing" and want.finding.value is not None and want.finding.limit:
        return math.sqrt(want.finding.limit / want.finding.value) < SURELY
    return want.rule in OF_FAULTS


def _said(want: Want) -> Governed:
    return Governed(want.rule, want.subject, f"one size less: {want.finding.message}")


def _bridges(harness: Harness) -> set[str]:
    """Conductors that no other way runs beside: without them their load has no supply."""
    g: nx.MultiGraph = nx.MultiGraph()
    bonds = itertools.pairwise(bond.node for bond in harness.chassis)
    for a, b in (*((e.node_a, e.node_b) for e in harness.two_ended if e.fitted), *bonds):
        g.add_edge(a, b)
    found = set(nx.bridges(g)) if g.number_of_edges() else set()
    return {c.id for c in harness.conductors if {(c.node_a, c.node_b), (c.node_b, c.node_a)} & found}


def _load_a(facts: Facts, name: str) -> float:
    currents = facts.currents.get(name)
    return currents.worst_continuous[1] if currents is not None else 0.0


def _sustained_fault_a(facts: Facts, name: str) -> float | None:
    answer = facts.faults.parts.get(name)
    return answer.sustained_fault_a if answer is not None else None


def _needs(facts: Facts, name: str) -> Iterator[tuple[str, float, str]]:
    """Rule, current in A that a conductor has to be allowed, and why, for what does not hang on its own size."""
    load_a = _load_a(facts, name)
    rule = "return-overload" if facts.topology.role(_node(facts, name)) == "return" else "wire-overload"
    yield rule, load_a, f"{name} carries {figures(load_a)} A"
    answer = facts.faults.parts.get(name)
    if answer is not None and answer.sustained_fault_a is not None and answer.held_by is not None:
        what = f"behind {answer.held_by} a fault can hold {figures(answer.sustained_fault_a)} A on {name}"
        yield "path-unprotected", _protected_a(facts, name), what
        yield "overload-band", _strict_a(facts, name), what
    short_circuits = [s.own_greatest_a for s in facts.protection.short_circuits.conductors if s.part == name]
    # Within the overload band of one fault no combined overload current is found, so that it is sure only above the
    # sustained fault current.
    shared = (
        answer is not None
        and answer.combined_overload_a
        and answer.sustained_fault_a is not None
        and answer.sustained_fault_a * 1.001 < answer.combined_overload_a
        and 2.0 * answer.combined_overload_a < min(short_circuits, default=0.0)
    )
    if shared and answer is not None and answer.combined_overload_a:
        what = f"several overloads at once can hold up to {figures(answer.combined_overload_a)} A on {name}"
        yield "combined-overload", answer.combined_overload_a, what


def _node(facts: Facts, name: str) -> str:
    part = facts.harness.by_id[name]
    assert isinstance(part, Conductor)
    return part.node_a


def _needed_a(want: Want, part: str, facts: Facts) -> float:
    """The allowed current in A that a conductor needs for a want to go away."""
    if want.rule == "no-setting-range":
        setting_range = facts.protection.setting_ranges[want.subject]
        assert setting_range.low is not None and setting_range.high is not None
        return setting_range.high.current_a * setting_range.low.setting_a / setting_range.high.setting_a
    value = want.finding.value
    assert value is not None
    return value


def _strict_a(facts: Facts, part: str) -> float:
    """The most that one fault can hold on a conductor in A, over all arrangements."""
    answers = (answers.get(part) for answers in facts.faults.by_arrangement.values())
    return max(
        (a.sustained_fault_a for a in answers if a is not None and a.sustained_fault_a is not None), default=0.0
    )


def _protected_a(facts: Facts, part: str) -> float:
    """The least allowed current in A at which a conductor is protected by what is there, the overload band used."""
    worst = 0.0
    for answers in facts.faults.by_arrangement.values():
        answer = answers.get(part)
        if answer is None or answer.sustained_fault_a is None:
            continue
        need_a = answer.sustained_fault_a
        if answer.at_rating_a is not None:
            need_a = min(need_a, max(answer.at_rating_a, need_a / facts.settings.overload_band))
        worst = max(worst, need_a)
    return worst


def _hot_ohm_mm2_per_m(heat_w: float, held_a: float, shape: Mapping[str, float]) -> float:
    """Resistivity in Ω·mm²/m that makes the conductors of a loop its whole resistance: an upper bound."""
    return heat_w / held_a**2 / max(sum(shape.values()), 1e-12)


def _thinnest(group: Group) -> Governed:
    if group.below_by:
        return Governed("", group.below_by, f"thinner sizes are below the crimp range of {group.below_by}")
    return Governed("", "", "it is the thinnest stocked size that is rated")
