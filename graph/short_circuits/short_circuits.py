"""Short circuits: the least and the greatest current at the far end of every conductor, and what clears it.

The short of a part of the feed stands between its far end, seen from the output, and the joint at which the returns
of all loads beyond it meet, another output counting as a load; with nothing beyond it, the output's other terminal:
a feed can touch its return anywhere. Through a part of the return flow the shorts that the drawing lets happen
beyond it (``touching``): across loads, in cables, bundles and connectors, and onto the chassis. Which side of an
output is the feed follows from its rails: of a negative rail, it is the side of the minus terminal. Loads are off.
Least: hot, contacts aged, lowest voltage; greatest: cold, new, highest. A part that a short sends nothing through
has none of its own.

The heat of a conductor of the feed is greatest in a short just behind its source end, onto the output's other
terminal (a pinch): its I²t counts that too, where some stated resistance limits it. The chassis is left out there,
since a bond is no better than that terminal.

Where one output alone feeds the copper the loop resistance adds up along the paths; where several do, or
protected paths run in parallel anywhere on the path, the shorted network is followed (``joined``). Outputs in
series are shorted one by one and as a whole.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from loadloom.graph.circuit.network import IntArray, Network, piece_of
from loadloom.graph.circuit.uneven_ways import UnevenWays
from loadloom.graph.model.elements import Behaviour, Conductor, Contact, Device, Output
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import ShortCircuitRow
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.insulation import insulation_of
from loadloom.graph.short_circuits.clearing import Clearing, Flow, Held, Retry, openers
from loadloom.graph.short_circuits.far_shares import far_shares, greatest_shares, uneven_copper
from loadloom.graph.short_circuits.joined import Behind, JoinedShorts, holding_a
from loadloom.graph.short_circuits.joined import Short as Place
from loadloom.graph.short_circuits.opening_times import NEGLIGIBLE_A
from loadloom.graph.short_circuits.touching import Group, Touching
from loadloom.graph.short_circuits.unlike_paths import at_opposite
from loadloom.graph.structure.guards import Arrangement, Guarded, OutputWays, guard
from loadloom.graph.structure.paths import Paths
from loadloom.graph.structure.rails import Rails, find_rails
from loadloom.graph.structure.skeleton import Skeleton

ADIABATIC_LIMIT_S = 5.0
"""Beyond this the heat no longer stays in the copper and k²S² is out of its range (IEC 60364-4-43, from memory)."""


LARGE = 150
"""Above this many conductors a short is followed in its own part of the copper instead of one factor for all."""


@dataclass(frozen=True, slots=True)
class Short:
    """A short circuit behind one part, in one arrangement and seen from one output.

    ``row`` is for the results (``cleared_by`` None = never cleared, ``slowest_s`` None = no time stated).
    ``own_*`` are the part's own currents in A, the greatest at its source end where that is limited. ``held``: what
    flows continuously where some order of opening clears nothing. ``loop``: conductors in the loop, given where
    nothing clears it. ``held_by``: the device nearest to opening then. ``retry``: the worst limit that tries again.
    ``untimed``: the clearing device, where its time is not stated. ``cleared``: the part's own current in A and the
    time in s until it is cleared, of each way in which that happens. ``mixed``: paths side by side were set against
    one another; mixtures in between were not followed.
    """

    part: str
    row: ShortCircuitRow
    own_least_a: float
    own_greatest_a: float
    held: Held | None = None
    loop: tuple[str, ...] = ()
    held_by: str | None = None
    retry: Retry | None = None
    untimed: str | None = None
    cleared: tuple[tuple[float, float], ...] = ()
    mixed: bool = False

    @property
    def capped_by(self) -> str | None:
        """What holds the current without opening, where nothing clears it."""
        return self.held.capped_by if self.held is not None else None

    @property
    def held_a(self) -> float | None:
        """The current in A that flows continuously; None where nothing stated limits it, or it is cleared."""
        return _finite(self.held.current_a) if self.held is not None else None


@dataclass(frozen=True, slots=True)
class Prospective:
    """The greatest short-circuit current in A just behind a device or pole; inf where nothing stated limits it."""

    case: str | None
    current_a: float


@dataclass(frozen=True)
class Shorts:
    """The worst short circuit of every conductor, and of every contact with a stated I²t or where a limit tries
    again;
    ``every`` one of them in all arrangements and from all outputs, and the prospective current by device, and by
    pole that states what it interrupts. ``as_drawn``: edges and outputs in so many paths side by side that these
    share a short as all of one corner do.
    """

    conductors: tuple[Short, ...]
    contacts: tuple[Short, ...]
    prospective: Mapping[str, Prospective]
    every: tuple[Short, ...] = ()
    as_drawn: tuple[str, ...] = ()


def find_shorts(
    harness: Harness,
    settings: AnalysisSettings,
    greatest: Sequence[Arrangement],
    least: Sequence[Arrangement],
    case_of: Mapping[str | None, str],
    opposite: Sequence[tuple[Network, Network]],
) -> Shorts:
    """Short circuits over all arrangements; ``greatest`` and ``least`` are the same arrangements at the two
    corners. ``opposite``: the networks of both with what their parts have at the other one, as cold and as hot.

    ``case_of`` names a case of each arrangement. The worst of a part is one that nothing clears, then one that is
    more than the part withstands, then one that a limit holds, then the slowest; the rules look at every one.
    """
    parts: dict[str, Conductor | Contact] = {c.id: c for c in harness.conductors}
    behaviours = {device.behaviour for there in greatest for device in there.devices.values()}
    behaviours |= {view.output.behaviour for there in greatest for view in there.outputs}
    again = Behaviour.HICCUP in behaviours
    parts |= {c.id: c for c in harness.contacts if again or _contact_i2t(c, settings) is not None}
    worst: dict[str, Short] = {}
    every: list[Short] = []
    prospective: dict[str, Prospective] = {}
    joined: dict[Hashable, JoinedShorts] = {}
    behind: dict[Hashable, float] = {}
    devices = {d.id for d in harness.devices}
    devices |= {pole.id for pole in harness.switches if any(there.breaking_a for there in pole.variants())}
    for hard, soft, others in zip(greatest, least, opposite, strict=True):
        case = case_of.get(hard.word)
        skeletons = [Skeleton(each.network, each.branches, each.block_map) for each in (hard, soft)]
        views = zip((*hard.outputs, *hard.stacks), (*soft.outputs, *soft.stacks), strict=True)
        uneven = uneven_copper(hard, others[0].edge_resistance_ohm)
        rails = find_rails(hard.network)
        touching = Touching(harness, hard.network, rails)
        for strong, weak in views:
            loops = _Loops(hard, strong, soft, weak, settings, parts, joined, skeletons, uneven, others)
            for short in loops.short_circuits(case, rails, touching):
                every.append(short)
                if short.part not in worst or _gravity(short) > _gravity(worst[short.part]):
                    worst[short.part] = short
            for name, current_a in loops.behind_devices(devices, behind, rails, touching):
                if name not in prospective or current_a > prospective[name].current_a:
                    prospective[name] = Prospective(case, current_a)
    return Shorts(
        tuple(worst[c.id] for c in harness.conductors if c.id in worst),
        tuple(worst[c.id] for c in harness.contacts if c.id in worst),
        prospective,
        tuple(every),
        tuple(dict.fromkeys(name for each in joined.values() for name in each.as_drawn)),
    )


def _gravity(short: Short) -> tuple[bool, bool, float, bool, float, float, float, float]:
    """Order among shorts of one part: of equal heat, as behind a fuse known by gates, the greater current leads;
    of equal currents while a limit tries again the greater heat.
    """
    row = short.row
    heat_a2s = float(f"{row.i2t_a2s or 0.0:.6g}")
    share = row.i2t_a2s / row.withstand_a2s if row.i2t_a2s is not None and row.withstand_a2s else 0.0
    retried_a = float(f"{short.retry.gravity_a:.6g}") if short.retry is not None else 0.0
    never = short.held is not None
    grave = never and short.capped_by is None
    greatest_a = row.greatest_a or math.inf
    return grave, share > 1.0, retried_a, never, share, heat_a2s, greatest_a, row.slowest_s or 0.0


def _contact_i2t(contact: Contact, settings: AnalysisSettings) -> float | None:
    kind = settings.contact_types.get(contact.contact_type or "")
    return kind.i2t_a2s if kind is not None else None


class _Loops:
    """The short circuits of one output in one arrangement, at both corners."""

    def __init__(
        self,
        hard: Arrangement,
        strong: OutputWays,
        soft: Arrangement,
        weak: OutputWays,
        settings: AnalysisSettings,
        parts: Mapping[str, Conductor | Contact],
        joined: dict[Hashable, JoinedShorts],
        skeletons: Sequence[Skeleton],
        uneven: UnevenWays,
        opposite: tuple[Network, Network],
    ) -> None:
        self.uneven, self.opposite = uneven, opposite
        self.settings, self.parts, self.thresholds = settings, parts, hard.thresholds
        self.joined = joined
        self.corners = ((hard, strong), (soft, weak))
        self.pieces = tuple(piece_of(there.network, view.feed.root) for there, view in self.corners)
        self.guards: tuple[tuple[Guarded, Guarded], ...] = tuple(
            (
                guard(view.feed, view.output.id, there),
                guard(view.back, view.output.id, there),
            )
            for there, view in self.corners
        )
        self.skeletons = tuple(skeletons)
        self.beside = tuple(_beside(paths, hard) for paths in (strong.feed, strong.back))
        self.known: dict[tuple[int, tuple[int, int], float], Flow] = {}
        self.places: dict[tuple[int, tuple[int, int]], tuple[JoinedShorts, tuple[int, int]]] = {}

    def short_circuits(self, case: str | None, rails: Rails, touching: Touching) -> Iterator[Short]:
        """The short of every part that one sends a current through."""
        there, view = self.corners[0]
        # Another output beyond a part is an end of the way like a load.
        out = [(plus, minus) for _, plus, minus in there.loads]
        out += [(o.feed.root, o.back.root) for o in there.outputs if o.output.id != view.output.id]
        back = [(minus, plus) for plus, minus in out]
        for paths, pairs, other, on_plus in (
            (view.feed, out, view.back, True),
            (view.back, back, view.feed, False),
        ):
            is_feed = other.root in rails.returns.get(int(rails.island[paths.root]), ())
            places: list[tuple[tuple[int, int], ...]]
            if is_feed:
                share = far_shares(paths, self.uneven)
                places = [((node, facing),) for node, facing in enumerate(_partners(paths, other, pairs))]
            else:
                share = greatest_shares(paths, self.uneven)
                beyond = touching.beyond(paths, other, pairs, _group_of(self.guards[0][1 if on_plus else 0]))
                places = [tuple((pair.back, pair.feed) for pair in here) for here in beyond]
            asked = {
                k: [(at, facing) if on_plus else (facing, at) for at, facing in places[far]]
                for k, (name, far) in enumerate(zip(there.branches.ids, paths.far_node.tolist(), strict=True))
                if name in self.parts and far >= 0 and places[far]
            }
            self._follow(asked, on_plus=on_plus, is_feed=is_feed)
            for k, ends in asked.items():
                part = self.parts[there.branches.ids[k]]
                found = [
                    self._short(part, k, each, case, float(share[k]), on_plus=on_plus, is_feed=is_feed)
                    for each in ends
                ]
                found = [s for s in found if max(s.own_greatest_a, s.own_least_a) > NEGLIGIBLE_A]
                # The gravest that is held, that is cleared, and that nobody knows how fast: each breaks a rule of
                # its own.
                for some in (
                    [short for short in found if short.held is not None],
                    [short for short in found if short.held is None and short.untimed is None],
                    [short for short in found if short.held is None and short.untimed is not None],
                ):
                    if some:
                        yield max(some, key=_gravity)

    def _follow(self, asked: Mapping[int, Sequence[tuple[int, int]]], *, on_plus: bool, is_feed: bool) -> None:
        """Follow the shorts of parts, by branch, that are not in copper of this output alone: many at a time."""
        wanted: dict[JoinedShorts, list[tuple[int, int]]] = defaultdict(list)
        for k, ends in asked.items():
            source = self._source_end(k, on_plus=on_plus, is_feed=is_feed)
            for corner, each in (*((c, each) for c in (0, 1) for each in ends), *((0, each) for each in source)):
                if not self._is_alone(corner, each):
                    joined, there = self._place(corner, each)
                    wanted[joined].append(there)
        for joined, every in wanted.items():
            joined.follow(every)

    def _short(
        self,
        part: Conductor | Contact,
        k: int,
        ends: tuple[int, int],
        case: str | None,
        share: float,
        *,
        on_plus: bool,
        is_feed: bool,
    ) -> Short:
        """The short between a node of the plus side and one of the minus side. ``share`` of it is the part's."""
        most, few = (self._flows(c, k, ends, share) for c in (0, 1))
        at_source = [
            flow
            for end in self._source_end(k, on_plus=on_plus, is_feed=is_feed)
            for flow in self._flows(0, k, end, 1.0, at_source_end=True)
        ]
        origin = at_source if all(math.isfinite(flow.own_a) for flow in at_source) else []
        flows = (*few, *most, *origin)
        never = next((found for found in (_gravest(few), _gravest(most)) if found is not None), None)
        gravest = never or max((*few, *most), key=_slowest_s)
        cleared = gravest.clearing if never is None else None
        slowest_s = _finite(cleared.slowest_s) if cleared else None
        far = [flow.own_i2t_a2s for flow in (*few, *most)]
        # A device in the return does not see the short at the source end: the far end's counts alone then.
        i2t = [a2s for a2s in (*far, *(flow.own_i2t_a2s for flow in origin)) if a2s is not None]
        names = self.corners[0][0].network.node_ids
        at, to = (ends[0], ends[1]) if on_plus else (ends[1], ends[0])
        row = ShortCircuitRow(
            conductor=part.id,
            at=names[at],
            to=names[to],
            case=case,
            least_a=_finite(min(flow.current_a for flow in few)),
            greatest_a=_finite(max(flow.current_a for flow in most)),
            at_source_end_a=max((flow.own_a for flow in origin), default=None),
            cleared_by=cleared.device.id if cleared else None,
            slowest_s=slowest_s,
            i2t_a2s=max(i2t) if never is None and None not in far else None,
            withstand_a2s=self._withstand_a2s(part),
            adiabatic_in_range=slowest_s <= ADIABATIC_LIMIT_S if slowest_s is not None else None,
            loop_heat_w=_finite(never.held.heat_w) if never and never.held else None,
            outputs_off=gravest.outputs_off,
        )
        retries = [flow.retry for flow in flows if flow.retry is not None]
        return Short(
            part=part.id,
            row=row,
            own_least_a=min(flow.own_a for flow in few),
            own_greatest_a=max(flow.own_a for flow in (*most, *origin)),
            held=never.held if never else None,
            loop=self._loop(ends) if never else (),
            held_by=self._just_holds(never.held) if never and never.held else None,
            retry=max(retries, key=_gravity_a, default=None),
            untimed=cleared.device.id if cleared is not None and slowest_s is None else None,
            cleared=tuple(
                (flow.own_a, flow.clearing.slowest_s)
                for flow in flows
                if flow.clearing is not None
                and math.isfinite(flow.clearing.slowest_s)
                and math.isfinite(flow.own_a)
            ),
            mixed=any(self._mixes(corner, ends) for corner in (0, 1)),
        )

    def _mixes(self, corner: int, ends: tuple[int, int]) -> bool:
        if self._is_alone(corner, ends):
            return False
        joined, there = self._place(corner, ends)
        return joined.mixes(there)

    def _source_end(self, k: int, *, on_plus: bool, is_feed: bool) -> list[tuple[int, int]]:
        """Where a short stands just behind the source end of a conductor of the feed, onto the output's other
        terminal; nowhere at that terminal itself.
        """
        there, view = self.corners[0]
        if not is_feed or not isinstance(self.parts[there.branches.ids[k]], Conductor):
            return []
        a, b = int(there.branches.a[k]), int(there.branches.b[k])
        paths, terminal = (view.feed, view.back.root) if on_plus else (view.back, view.feed.root)
        near = b if int(paths.far_node[k]) == a else a
        return [(near, terminal) if on_plus else (terminal, near)] if near != terminal else []

    def _is_alone(self, corner: int, ends: tuple[int, int]) -> bool:
        """Whether this output alone feeds a short, through no devices side by side."""
        only_feed = self.corners[corner][1].only_feed
        return only_feed and not self.beside[0][ends[0]] and not self.beside[1][ends[1]]

    def _flows(
        self, corner: int, k: int, ends: tuple[int, int], share: float, *, at_source_end: bool = False
    ) -> tuple[Flow, ...]:
        """The short at one corner: one flow where this output alone feeds it, else one for each set that is off."""
        if not self._is_alone(corner, ends):
            return self._followed(corner, k, ends, at_source_end)
        if (corner, ends, share) not in self.known:
            self.known[corner, ends, share] = self._in_own_loop(corner, ends, share)
        return (self.known[corner, ends, share],)

    def _in_own_loop(self, corner: int, ends: tuple[int, int], share: float) -> Flow:
        """The short in copper that one output alone feeds."""
        there, view = self.corners[corner]
        feed_guards, back_guards = self.guards[corner]
        loop_ohm = float(view.feed.ohm[ends[0]] + view.back.ohm[ends[1]])
        drop_v = 0.0 if corner == 0 else float(view.feed.drop_v[ends[0]] + view.back.drop_v[ends[1]])
        whole_ohm = loop_ohm + view.output.resistance_ohm
        volts = max(view.voltage_v - drop_v, 0.0)
        short_a = volts / whole_ohm if whole_ohm > 0.0 else math.inf
        passed: dict[str, float] = {}
        for chain in (feed_guards.passed[ends[0]], back_guards.passed[ends[1]]):
            passed.update(chain or ())
        parts = {name: view.output if name == view.output.id else there.devices[name] for name in passed}
        return self._in_one_loop(short_a, share, loop_ohm, parts, least=corner == 1)

    def _in_one_loop(
        self, short_a: float, share: float, loop_ohm: float, parts: Mapping[str, Device | Output], *, least: bool
    ) -> Flow:
        """A short whose whole current goes through every device on the path, so that the first to open clears
        it."""
        limits = holding_a(parts, self.thresholds, least=least)
        capped_by = min(limits, key=lambda name: limits[name], default=None)
        current_a = short_a
        if capped_by is not None and limits[capped_by] < short_a:
            current_a = limits[capped_by]
        else:
            capped_by = None
        devices = tuple((part, current_a) for part in parts.values())
        found = openers(devices, self.thresholds, self.settings)
        own_a = current_a * share
        held = retry = None
        if found.certain is None:
            held_a = short_a if capped_by is None else min(short_a, self.thresholds[capped_by].held_a)
            heat_w = held_a**2 * loop_ohm if loop_ohm > 0.0 else 0.0
            held = Held(held_a, heat_w, devices, capped_by, {})
        else:
            again = [part for part in found.first if part.behaviour is Behaviour.HICCUP]
            retry = max((Retry.of((part,), own_a, current_a) for part in again), key=_gravity_a, default=None)
        timed = held is None and math.isfinite(found.within_s) and math.isfinite(own_a)
        return Flow(
            current_a=current_a,
            own_a=own_a,
            clearing=Clearing(found.certain, found.within_s) if found.certain is not None else None,
            held=held,
            own_i2t_a2s=own_a**2 * found.within_s if timed else None,
            retry=retry,
        )

    def _followed(self, corner: int, k: int, ends: tuple[int, int], at_source_end: bool) -> tuple[Flow, ...]:
        """The shorted network, once for what other outputs and arrangements ask alike."""
        joined, at = self._place(corner, ends)
        # Just behind a source end nothing need come from the part's other end: then it is in no way that matters.
        edge = joined.piece.edge_index.get(self.corners[corner][0].branches.ids[k])
        return joined.flows(Place(at, edge, at_source_end))

    def _place(self, corner: int, ends: tuple[int, int]) -> tuple[JoinedShorts, tuple[int, int]]:
        """The short circuits of the copper in which a short is, and between which of its nodes it is there."""
        if (corner, ends) not in self.places:
            joined, position = self._joined(corner, *ends)
            self.places[corner, ends] = joined, (int(position[ends[0]]), int(position[ends[1]]))
        return self.places[corner, ends]

    def _joined(self, corner: int, *nodes: int) -> tuple[JoinedShorts, IntArray]:
        """The short circuits of the copper in which these nodes are, and where its nodes are in there."""
        there = self.corners[corner][0]
        piece, position = self.pieces[corner]
        if len(piece.edge_ids) > LARGE:
            piece, position = self.skeletons[corner].piece(*nodes)
        inside = [there.devices[name] for name in piece.edge_ids if name in there.devices]
        outputs = [view.output for view in there.outputs if view.output.id in piece.source_ids]
        # A part that the arrangement leaves as drawn is the same object in both.
        other = at_opposite(piece, self.opposite[corner])
        acting = tuple(id(part) for part in (*inside, *outputs))
        key = (corner, piece.electrical_key, other.electrical_key, acting)
        if key not in self.joined:
            self.joined[key] = JoinedShorts(piece, other, there, self.settings, least=corner == 1)
        return self.joined[key], position

    def behind_devices(
        self, devices: set[str], known: dict[Hashable, float], rails: Rails, touching: Touching
    ) -> Iterator[tuple[str, float]]:
        """Every device's greatest current in a short circuit just behind it, to the output's other terminal; where
        other outputs have a part in it, devices are side by side, or another one's way out can touch what lies
        behind the device, to any output's terminal.
        """
        there, view = self.corners[0]
        fed = {int(rails.island[node]) for o in there.outputs for node in (o.feed.root, o.back.root)}
        others = fed - {int(rails.island[node]) for node in (view.feed.root, view.back.root)}
        crossed = {rail for rail, other in touching.rails if other in others}
        roots = dict.fromkeys(node for o in there.outputs for node in (o.feed.root, o.back.root))
        terminals = [node for node in roots if self.pieces[0][1][node] >= 0]
        joint: list[tuple[str, Hashable]] = []
        asked: dict[JoinedShorts, dict[Hashable, Behind]] = defaultdict(dict)
        for paths, beside in zip((view.feed, view.back), self.beside, strict=True):
            for k, name in enumerate(there.branches.ids):
                far = int(paths.far_node[k])
                if far < 0 or name not in devices:
                    continue
                if view.only_feed and not beside[far] and int(rails.island[far]) not in crossed:
                    ohm = float(paths.ohm[far]) + view.output.resistance_ohm
                    current_a = view.voltage_v / ohm if ohm > 0.0 else math.inf
                    yield name, min(current_a, view.hold_a) * float(paths.far_share[k])
                    continue
                joined, position = self._joined(0, far)
                at, to = int(position[far]), tuple(int(position[node]) for node in terminals)
                # Other outputs and arrangements ask the same of the same copper.
                key = (name, at, to, joined.piece.electrical_key)
                joint.append((name, key))
                if key not in known:
                    asked[joined][key] = (name, at, to)
        for joined, each in asked.items():
            known.update(zip(each, joined.greatest_behind(list(each.values())), strict=True))
        yield from ((name, known[key]) for name, key in joint)

    def _just_holds(self, held: Held) -> str | None:
        """The device that is nearest to opening in a short that nothing clears."""
        ratios = {
            part.id: current_a / most_a
            for part, current_a in held.devices
            if math.isfinite(most_a := self.thresholds[part.id].held_a) and most_a > 0.0
        }
        return max(ratios, key=lambda name: ratios[name], default=None)

    def _loop(self, ends: tuple[int, int]) -> tuple[str, ...]:
        there, view = self.corners[1]
        ids = there.branches.ids
        out, back = reversed(list(view.feed.path(ends[0]))), view.back.path(ends[1])
        places = (
            *(k for block in out for k in block.branches),
            *(k for block in back for k in block.branches),
            *view.between,
        )
        return tuple(ids[k] for k in places if ids[k] in self.parts)

    def _withstand_a2s(self, part: Conductor | Contact) -> float | None:
        """k²S² of a conductor (IEC 60364-4-43 434.5.2, IEC 60949), or a contact's own I²t, in A²·s."""
        if isinstance(part, Contact):
            return _contact_i2t(part, self.settings)
        k = insulation_of(part, self.settings).k_as05_per_mm2
        area_mm2 = part.area_mm2
        return (k * area_mm2) ** 2 if k is not None and area_mm2 is not None else None


def _group_of(guarded: Guarded) -> Callable[[int], Group]:
    """The nearest devices of a node."""
    return lambda node: tuple(each.device for each in guarded.of_node[node] or ())


def _beside(paths: Paths, there: Arrangement) -> list[bool]:
    """For every node: whether devices side by side, or in a loop, are on the path to it."""
    found = [False] * len(paths.above)
    for block in paths.blocks:
        here = found[block.entry] or (not block.is_bridge and bool(there.acting(block)))
        for node in block.inside:
            found[node] = here
    return found


def _partners(paths: Paths, other: Paths, pairs: Iterable[tuple[int, int]]) -> list[int]:
    """For every node of ``paths``: where the other sides of all loads beyond it meet; else the other root."""
    joint: list[int | None] = [None] * len(paths.above)
    depth = [0] * len(other.above)
    for block in other.blocks:
        for node in block.inside:
            depth[node] = depth[block.entry] + 1

    def meet(one: int | None, two: int | None) -> int | None:
        if one is None or two is None:
            return one if two is None else two
        while one != two:
            if depth[one] >= depth[two]:
                one = other.parent(one)
            else:
                two = other.parent(two)
        return one

    for here, there in pairs:
        if paths.reaches(here) and other.reaches(there):
            joint[here] = meet(joint[here], there)
    for block in reversed(paths.blocks):
        beyond: int | None = None
        for node in block.inside:
            beyond = meet(beyond, joint[node])
        for node in block.inside:
            if joint[node] is None:
                joint[node] = beyond
        joint[block.entry] = meet(joint[block.entry], beyond)
    return [other.root if node is None else node for node in joint]


def _gravest(flows: Iterable[Flow]) -> Flow | None:
    """The gravest of those that some order of opening leaves held."""
    held = [(flow.held.gravity, flow) for flow in flows if flow.held is not None]
    return max(held, key=lambda found: found[0])[1] if held else None


def _gravity_a(retry: Retry) -> float:
    return retry.gravity_a


def _slowest_s(flow: Flow) -> float:
    return flow.clearing.slowest_s if flow.clearing is not None else 0.0


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
