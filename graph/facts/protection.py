"""Protection of a harness, put together: thresholds, guards, demands, setting ranges, short circuits."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType

from loadloom.graph.circuit.network import (
    FRESH,
    GREATEST_FAULT,
    LEAST_FAULT,
    WORN,
    Corner,
    Network,
    at_corner,
    compile_network,
)
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.heat.conductors import conductor_resistances
from loadloom.graph.load_cases.charging import Charge, find_charges
from loadloom.graph.load_cases.demands import Demands, find_demands, together
from loadloom.graph.model.elements import Device, Output
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.open_circuits.case_spread import shared_demands
from loadloom.graph.open_circuits.contact_spread import Spread
from loadloom.graph.setting_ranges.setting_ranges import SettingRange, find_setting_ranges
from loadloom.graph.short_circuits.feed_back import with_feed_back
from loadloom.graph.short_circuits.short_circuits import Shorts, find_shorts
from loadloom.graph.short_circuits.stalls import Stall, find_stalls
from loadloom.graph.structure.guards import (
    Arrangement,
    Guard,
    Guarded,
    Most,
    arrange,
    guard,
)
from loadloom.graph.structure.paths import Paths
from loadloom.graph.structure.welded import welded

MOST_GUARDS = 50
"""Devices listed for one return; what many can send down it together is its combined overload current."""


@dataclass(frozen=True, slots=True)
class Series:
    """A device with one that comes before it on the path from the output, in one arrangement.

    ``always``: the upstream one is before it on the path from every output that reaches it. ``loses``: loads that
    are behind the upstream one and not behind the other.
    """

    case: str
    upstream: Device | Output
    downstream: Device
    always: bool = True
    loses: int = 0


@dataclass(frozen=True)
class Protected:
    """One arrangement: parts as resolved for it, their thresholds, and who guards what.

    ``guards`` is by conductor and contact id, nearest devices only; ``series`` all pairs of acting devices and
    outputs in series; ``limits_a`` by device id the most that its source side can pass continuously (the least
    threshold upstream, of parallel devices and of several sources their sum), ``limited_by`` what does so.
    """

    word: str | None
    case: str
    parts: Mapping[str, Device | Output]
    thresholds: Mapping[str, Threshold]
    guards: Mapping[str, tuple[Guard, ...]]
    series: tuple[Series, ...]
    limits_a: Mapping[str, float]
    limited_by: Mapping[str, tuple[str, ...]]

    @cached_property
    def guarded(self) -> Mapping[str, Mapping[str, float]]:
        """By device id: the conductors and contacts that it guards, with its factor on each."""
        found: dict[str, dict[str, float]] = {}
        for part, guards in self.guards.items():
            for g in guards:
                parts = found.setdefault(g.device, {})
                parts[part] = max(g.factor, parts.get(part, 0.0))
        return found

    @cached_property
    def always_before(self) -> Mapping[str, frozenset[str]]:
        """By device id: the devices and outputs that are before it on the path from every output that reaches
        it."""
        found: dict[str, set[str]] = {}
        for pair in self.series:
            if pair.always:
                found.setdefault(pair.downstream.id, set()).add(pair.upstream.id)
        return {name: frozenset(upstream) for name, upstream in found.items()}

    @cached_property
    def before(self) -> Mapping[str, tuple[str, ...]]:
        """By device id: the devices and outputs before it, nearest first."""
        found: dict[str, dict[str, None]] = {}
        for pair in self.series:
            found.setdefault(pair.downstream.id, {})[pair.upstream.id] = None
        return {name: tuple(upstream) for name, upstream in found.items()}


@dataclass(frozen=True)
class Protection:
    """Everything about the protection, over all arrangements. Empty where nothing was solved.

    ``copper``: the paths of every output in every arrangement, cold and with new contacts. ``charges``: the inrush
    of every case that switches a capacitance on; ``stalls``: every motor that stands still. ``shared``: what
    devices in parallel paths have to carry beside ``demands`` where the paths share unevenly.
    """

    arrangements: tuple[Protected, ...] = ()
    demands: Demands = field(default_factory=dict)
    setting_ranges: Mapping[str, SettingRange] = field(default_factory=dict)
    short_circuits: Shorts = field(default_factory=lambda: Shorts((), (), {}))
    copper: tuple[Arrangement, ...] = ()
    charges: tuple[Charge, ...] = ()
    stalls: tuple[Stall, ...] = ()
    shared: Demands = field(default_factory=dict)

    def thresholds(self, word: str | None) -> Mapping[str, Threshold]:
        """Thresholds of all devices and outputs in an arrangement."""
        return next(a.thresholds for a in self.arrangements if a.word == word)

    def under(self, case: Case) -> Protected | None:
        """The protection as it is in a case."""
        return next((a for a in self.arrangements if a.word == case.arrangement), None)

    def upstream(self, device: str) -> tuple[str, ...]:
        """Ids of the devices and outputs before a device, nearest first, of all arrangements."""
        return tuple(dict.fromkeys(name for a in self.arrangements for name in a.before.get(device, ())))

    def guards_of(self, part: str) -> tuple[str, ...]:
        """Ids of the nearest devices of a conductor or contact, of all arrangements."""
        return tuple(dict.fromkeys(g.device for a in self.arrangements for g in a.guards.get(part, ())))

    def guarded_by(self, device: str) -> tuple[str, ...]:
        """Ids of the conductors and contacts that a device guards as the nearest."""
        return tuple(dict.fromkeys(name for a in self.arrangements for name in a.guarded.get(device, ())))


def find_protection(
    harness: Harness,
    settings: AnalysisSettings,
    cases: tuple[Case, ...],
    ratings: Mapping[str, Rating],
    temperatures_c: Mapping[str, float] | None = None,
    tell: Callable[[str], None] = lambda text: None,
    uncoupled: Harness | None = None,
    failed: Sequence[Harness] = (),
    spread: Mapping[str, Sequence[Spread]] = MappingProxyType({}),
) -> Protection:
    """Work out the protection of a harness. ``cases`` are those that could be solved.

    ``uncoupled``: the harness with every converter's input as a load of its own; without it ``harness`` has none.
    ``failed``: the harness with a part failed, in which short circuits have to be cleared as well. ``spread``: how
    unevenly parallel paths may share their loads, by case.
    """
    if not cases:
        return Protection()
    case_of: dict[str | None, str] = {}
    for case in cases:
        case_of.setdefault(case.arrangement, case.id)
    copper = harness if uncoupled is None else uncoupled
    tell("finding what protects what")
    hard = [_arranged(copper, settings, word, GREATEST_FAULT) for word in case_of]
    soft = [_arranged(copper, settings, word, LEAST_FAULT) for word in case_of]
    parts = [c.id for c in (*harness.conductors, *harness.contacts)]
    allowed_a = {name: ratings[name].allowed_a if name in ratings else None for name in parts}
    tell("following the starts of loads")
    charges = find_charges(harness, settings, cases, temperatures_c)
    demands = find_demands(harness, settings, cases, temperatures_c, charges)
    tell("finding setting ranges")
    shared = shared_demands([part.id for part in harness.devices], spread)
    setting_ranges = find_setting_ranges(copper, settings, cases, hard, together(demands, shared), allowed_a)
    tell("finding short circuits")
    stuck = [(there, word) for word in case_of for there in (*welded(copper, word), *failed)]
    greatest = [*hard, *(_arranged(there, settings, word, GREATEST_FAULT) for there, word in stuck)]
    least = [*soft, *(_arranged(there, settings, word, LEAST_FAULT) for there, word in stuck)]
    shorts = find_shorts(
        copper,
        settings,
        greatest,
        least,
        case_of,
        [
            (_at(WORN, drawn, settings, there), _at(FRESH, drawn, settings, weak))
            for drawn, there, weak in zip(
                [*(copper for _ in hard), *(drawn for drawn, _ in stuck)], greatest, least, strict=True
            )
        ],
    )
    short_circuits = with_feed_back(harness, shorts)
    protected = tuple(_protected(there, case_of[there.word], copper) for there in hard)
    stalls = find_stalls(harness, settings, cases)
    return Protection(protected, demands, setting_ranges, short_circuits, tuple(hard), charges, stalls, shared)


def _at(corner: Corner, harness: Harness, settings: AnalysisSettings, there: Arrangement) -> Network:
    """The network of an arrangement at another corner."""
    return at_corner(there.network, harness, corner, settings, conductor_resistances(harness, settings))


def _arranged(harness: Harness, settings: AnalysisSettings, word: str | None, corner: Corner) -> Arrangement:
    network = compile_network(
        harness,
        Case(word or "", None, word),
        corner,
        settings,
        conductor_resistances(harness, settings),
        with_chassis=False,
    )
    return arrange(harness, word, network, settings)


def _protected(there: Arrangement, case: str, harness: Harness) -> Protected:
    parts: dict[str, Device | Output] = {view.output.id: view.output for view in there.outputs}
    parts |= {d.id: d for d in (d.under(there.word) for d in harness.devices) if d.fitted}
    thresholds = there.thresholds
    rated = {c.id for c in (*harness.conductors, *harness.contacts)}
    guards: dict[str, dict[Guard, None]] = {}
    before_it: dict[str, list[list[str]]] = {}
    behind: dict[str, set[str]] = {}
    limits: dict[str, list[Most]] = {}
    for view in there.outputs:
        feed = guard(view.feed, view.output.id, there)
        back = guard(view.back, view.output.id, there)
        for k, name in enumerate(there.branches.ids):
            if name in rated:
                guards.setdefault(name, {}).update(dict.fromkeys(feed.of_branch[k] or ()))
        for name, found in _return_guards(there, view.back, feed):
            if name in rated:
                guards.setdefault(name, {}).update(found)
        for load, plus, minus in there.loads:
            for node, guarded in ((plus, feed), (minus, back)):
                for device, _ in guarded.passed[node] or ():
                    behind.setdefault(device, set()).add(load)
        for paths, guarded in ((view.feed, feed), (view.back, back)):
            for block in paths.blocks:
                for _, name in there.acting(block):
                    before = list(guarded.passed[block.entry] or ())
                    limit = guarded.most[block.entry]
                    assert limit is not None
                    limits.setdefault(name, []).append(limit)
                    before_it.setdefault(name, []).append([upstream for upstream, _ in before])
    for stack in there.stacks:
        feed = guard(stack.feed, stack.output.id, there)
        for name, found in _return_guards(there, stack.back, feed):
            if name in rated:
                guards.setdefault(name, {}).update(found)
    return Protected(
        there.word,
        case,
        parts,
        thresholds,
        {name: tuple(nearest) for name, nearest in guards.items()},
        tuple(_in_series(case, there, parts, before_it, behind)),
        {name: sum(limit.current_a for limit in each) for name, each in limits.items()},
        {name: tuple(dict.fromkeys(d for limit in each for d in limit.devices)) for name, each in limits.items()},
    )


def _in_series(
    case: str,
    there: Arrangement,
    parts: Mapping[str, Device | Output],
    before_it: Mapping[str, list[list[str]]],
    behind: Mapping[str, set[str]],
) -> Iterator[Series]:
    for name, paths in before_it.items():
        for upstream in dict.fromkeys(device for path in paths for device in path):
            yield Series(
                case,
                parts[upstream],
                there.devices[name],
                all(upstream in path for path in paths),
                len(behind.get(upstream, set()) - behind.get(name, set())),
            )


def _return_guards(there: Arrangement, back: Paths, feed: Guarded) -> Iterator[tuple[str, dict[Guard, None]]]:
    """For every branch of the return: the nearest devices of the loads whose current it carries back.

    At most ``MOST_GUARDS`` each; factors are 1, since what the shares of a return are is no device's doing.
    """
    at_node: dict[int, dict[Guard, None]] = {}
    for _, plus, minus in there.loads:
        nearest = feed.of_node[plus]
        if nearest is not None and back.reaches(minus):
            at_node.setdefault(minus, {}).update(dict.fromkeys(Guard(g.device, 1.0) for g in nearest))
    for block in reversed(back.blocks):
        beyond: dict[Guard, None] = {}
        for node in block.inside:
            for g in at_node.get(node, ()):
                if len(beyond) < MOST_GUARDS:
                    beyond[g] = None
        for k in block.branches:
            yield there.branches.ids[k], beyond
        if beyond and not there.acting(block):
            at_node.setdefault(block.entry, {}).update(beyond)
        elif beyond:
            own = {Guard(name, 1.0): None for _, name in there.acting(block)}
            at_node.setdefault(block.entry, {}).update(own)
