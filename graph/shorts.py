"""Dead shorts: the least and the greatest current at the far end of every conductor, and what clears it.

The short stands between a part's far end, seen from the output, and the joint at which the returns of all loads
beyond it meet (for a part of the return: the joint where their feeds part), another output counting as a load;
with nothing beyond it, the output's other terminal. Loads are off. Least: hot, contacts aged, lowest voltage;
greatest: cold, new, highest. A part that a short sends nothing through has none of its own. The chassis is left
out: as drawn returns go, a bond only adds to the greatest current.

Where one output alone feeds the copper the loop resistance adds up along the ways; where several do, or
protected ways run in parallel, the shorted network is solved (``joined_shorts``), with the other outputs on and
off. Outputs in series are shorted one by one and as a whole.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from loadloom.graph.clearing import Flow, first_to_open
from loadloom.graph.conductors import insulation_of
from loadloom.graph.devices import hiccup_share
from loadloom.graph.elements import Behaviour, Conductor, Contact, Device, Output
from loadloom.graph.guards import Arrangement, Guarded, OutputWays, guard, whole_shares
from loadloom.graph.harness import Harness
from loadloom.graph.joined_shorts import NEGLIGIBLE_A, JoinedShorts
from loadloom.graph.network import piece_of
from loadloom.graph.results import ShortRow
from loadloom.graph.settings import AnalysisSettings
from loadloom.graph.ways import Ways

ADIABATIC_LIMIT_S = 5.0
"""Beyond this the heat no longer stays in the copper and k²S² is out of its range (IEC 60364-4-43, from memory)."""


@dataclass(frozen=True, slots=True)
class Short:
    """A dead short behind one part in the worst arrangement.

    ``row`` is for the results (``cleared_by`` None = never cleared, ``slowest_s`` None = no time stated).
    ``own_*`` are the part's own currents in A. ``held_a``: the current that flows for good where nothing clears
    it, None where nothing stated limits it. ``loop``: conductors in the loop, given where nothing clears it.
    ``capped_by``: what holds the current without opening. ``burst_a``: the part's own current while a
    retrying limit tries; ``hiccup_rms_a``: that of equal heat where such a limit "clears" it. ``untimed``: the
    clearing device, where its time is not stated.
    """

    part: str
    row: ShortRow
    own_least_a: float
    own_greatest_a: float
    held_a: float | None = None
    loop: tuple[str, ...] = ()
    capped_by: str | None = None
    held_by: str | None = None
    burst_a: float | None = None
    hiccup_rms_a: float | None = None
    untimed: str | None = None


@dataclass(frozen=True, slots=True)
class Prospective:
    """The greatest dead-short current in A just behind a device; inf where nothing stated limits it."""

    case: str | None
    current_a: float


@dataclass(frozen=True)
class Shorts:
    """All dead shorts: of conductors and of contacts with a stated I²t, and the prospective current by device."""

    conductors: tuple[Short, ...]
    contacts: tuple[Short, ...]
    prospective: Mapping[str, Prospective]


def find_shorts(
    harness: Harness,
    settings: AnalysisSettings,
    greatest: Sequence[Arrangement],
    least: Sequence[Arrangement],
    case_of: Mapping[str | None, str],
) -> Shorts:
    """Dead shorts over all arrangements; ``greatest`` and ``least`` are the same arrangements at the two corners.

    ``case_of`` names a case of each arrangement. For each part the worst arrangement counts: not cleared before
    cleared, then the greatest share of what the conductor withstands, then the slowest.
    """
    parts: dict[str, Conductor | Contact] = {c.id: c for c in harness.conductors}
    parts |= {c.id: c for c in harness.contacts if _contact_i2t(c, settings) is not None}
    worst: dict[str, Short] = {}
    prospective: dict[str, Prospective] = {}
    joined: dict[Hashable, JoinedShorts] = {}
    behind: dict[Hashable, JoinedShorts] = {}
    devices = {d.id for d in harness.devices}
    for hard, soft in zip(greatest, least, strict=True):
        case = case_of.get(hard.word)
        views = zip((*hard.outputs, *hard.stacks), (*soft.outputs, *soft.stacks), strict=True)
        for strong, weak in views:
            for short in _Loops(hard, strong, soft, weak, settings, parts, joined).shorts(case):
                if short.part not in worst or _gravity(short) > _gravity(worst[short.part]):
                    worst[short.part] = short
            for name, current_a in _behind_devices(hard, strong, devices, behind):
                if name not in prospective or current_a > prospective[name].current_a:
                    prospective[name] = Prospective(case, current_a)
    return Shorts(
        tuple(worst[c.id] for c in harness.conductors if c.id in worst),
        tuple(worst[c.id] for c in harness.contacts if c.id in worst),
        prospective,
    )


def _gravity(short: Short) -> tuple[bool, float, float, float]:
    row = short.row
    share = row.i2t_a2s / row.withstand_a2s if row.i2t_a2s is not None and row.withstand_a2s else 0.0
    return row.cleared_by is None, share, row.slowest_s or 0.0, short.own_greatest_a


def _contact_i2t(contact: Contact, settings: AnalysisSettings) -> float | None:
    kind = settings.contact_types.get(contact.contact_type or "")
    return kind.i2t_a2s if kind is not None else None


class _Loops:
    """The dead shorts of one output in one arrangement, at both corners."""

    def __init__(
        self,
        hard: Arrangement,
        strong: OutputWays,
        soft: Arrangement,
        weak: OutputWays,
        settings: AnalysisSettings,
        parts: Mapping[str, Conductor | Contact],
        joined: dict[Hashable, JoinedShorts],
    ) -> None:
        self.settings, self.parts, self.thresholds = settings, parts, hard.thresholds
        self.joined = joined
        self.corners = ((hard, strong), (soft, weak))
        self.pieces = tuple(piece_of(there.network, view.feed.root) for there, view in self.corners)
        self.guards: tuple[tuple[Guarded, Guarded], ...] = tuple(
            (
                guard(view.feed, view.output.id, there, whole_shares),
                guard(view.back, view.output.id, there, whole_shares),
            )
            for there, view in self.corners
        )

    def shorts(self, case: str | None) -> Iterator[Short]:
        there, view = self.corners[0]
        # Another output beyond a part is an end of the way like a load.
        out = [(plus, minus) for _, plus, minus in there.loads]
        out += [(o.feed.root, o.back.root) for o in there.outputs if o.output.id != view.output.id]
        back = [(minus, plus) for plus, minus in out]
        for ways, pairs, other, on_feed in (
            (view.feed, out, view.back, True),
            (view.back, back, view.feed, False),
        ):
            partner = _partners(ways, other, pairs)
            for k, name in enumerate(there.branches.ids):
                far = int(ways.far_node[k])
                if name in self.parts and far >= 0:
                    facing = partner[far]
                    ends = (far, facing) if on_feed else (facing, far)
                    short = self._short(self.parts[name], k, ends, case, on_feed=on_feed)
                    if short.own_greatest_a > NEGLIGIBLE_A or short.own_least_a > NEGLIGIBLE_A:
                        yield short

    def _short(
        self, part: Conductor | Contact, k: int, ends: tuple[int, int], case: str | None, *, on_feed: bool
    ) -> Short:
        most, few = (self._flows(c, k, ends, on_feed=on_feed) for c in (0, 1))
        flows = (*few, *most)
        never = max((f for f in few if f.clearing is None), key=_hold, default=None)
        never = never or max((f for f in most if f.clearing is None), key=_hold, default=None)
        gravest = never or max(flows, key=_slowest_s)
        cleared = gravest.clearing
        slowest_s = _finite(cleared.slowest_s) if cleared else None
        i2t = [flow.own_i2t_a2s for flow in flows if flow.own_i2t_a2s is not None]
        strongest = max(most, key=lambda flow: flow.own_a)
        names = self.corners[0][0].network.node_ids
        at, to = (ends[0], ends[1]) if on_feed else (ends[1], ends[0])
        row = ShortRow(
            conductor=part.id,
            at=names[at],
            to=names[to],
            case=case,
            least_a=_finite(min(flow.current_a for flow in few)),
            greatest_a=_finite(max(flow.current_a for flow in most)),
            cleared_by=cleared.device.id if cleared else None,
            slowest_s=slowest_s,
            i2t_a2s=max(i2t) if cleared is not None and len(i2t) == len(flows) else None,
            withstand_a2s=self._withstand_a2s(part),
            adiabatic_in_range=slowest_s <= ADIABATIC_LIMIT_S if slowest_s is not None else None,
            loop_heat_w=_finite(never.heat_w) if never else None,
            outputs_off=gravest.outputs_off,
        )
        rms = hiccup_share(cleared.device) if cleared else None
        burst_a = strongest.own_a
        if cleared is not None and isinstance(cleared.device, Output) and cleared.device.trip_a is not None:
            # A unit that retries limits its own bursts; a separate limiter passes what comes until it opens.
            burst_a = strongest.own_a * min(1.0, cleared.device.trip_a.upper / strongest.current_a)
        return Short(
            part=part.id,
            row=row,
            own_least_a=min(flow.own_a for flow in few),
            own_greatest_a=strongest.own_a,
            held_a=_finite(never.held_a) if never else None,
            loop=self._loop(ends) if never else (),
            capped_by=never.capped_by if never else None,
            held_by=self._just_holds(never) if never else None,
            burst_a=burst_a,
            hiccup_rms_a=rms * burst_a if rms is not None and math.isfinite(burst_a) else None,
            untimed=cleared.device.id if cleared is not None and slowest_s is None else None,
        )

    def _flows(self, corner: int, k: int, ends: tuple[int, int], *, on_feed: bool) -> tuple[Flow, ...]:
        """The short at one corner: one flow where this output alone feeds it, else one for each set that is off."""
        there, view = self.corners[corner]
        feed_guards, back_guards = self.guards[corner]
        ways = view.feed if on_feed else view.back
        far = ends[0] if on_feed else ends[1]
        block = ways.blocks[ways.above[far]]
        if not view.only_feed or (not block.is_bridge and there.acting(block)):
            return self._solved(corner, k, ends)
        loop_ohm = float(view.feed.ohm[ends[0]] + view.back.ohm[ends[1]])
        drop_v = 0.0 if corner == 0 else float(view.feed.drop_v[ends[0]] + view.back.drop_v[ends[1]])
        whole_ohm = loop_ohm + view.output.resistance_ohm
        volts = max(view.voltage_v - drop_v, 0.0)
        current_a = volts / whole_ohm if whole_ohm > 0.0 else math.inf
        shares: dict[str, float] = {}
        for chain in (feed_guards.passed[ends[0]], back_guards.passed[ends[1]]):
            shares.update(chain or ())
        current_a, capped_by = self._capped(there, view, current_a, shares)
        devices = [(self._part(there, view, name), current_a * share) for name, share in shares.items()]
        clearing = first_to_open(devices, self.thresholds, self.settings)
        own_a = current_a * float(ways.far_share[k])
        timed = clearing is not None and math.isfinite(clearing.slowest_s) and math.isfinite(own_a)
        flow = Flow(
            current_a=current_a,
            own_a=own_a,
            heat_w=current_a**2 * loop_ohm if loop_ohm > 0.0 else 0.0,
            devices=tuple(devices),
            capped_by=capped_by,
            clearing=clearing,
            own_i2t_a2s=own_a**2 * clearing.slowest_s if clearing is not None and timed else None,
            held_a=current_a,
        )
        return (flow,)

    def _solved(self, corner: int, k: int, ends: tuple[int, int]) -> tuple[Flow, ...]:
        """The shorted network, once for what other outputs and arrangements ask alike."""
        there = self.corners[corner][0]
        piece, position = self.pieces[corner]
        inside = [there.devices[name] for name in piece.edge_ids if name in there.devices]
        outputs = [view.output for view in there.outputs if view.output.id in piece.source_ids]
        # A part that the arrangement leaves as drawn is the same object in both.
        key = (piece.electrical_key, tuple(id(part) for part in (*inside, *outputs)))
        joined = self.joined.setdefault(key, JoinedShorts(piece))
        at = (int(position[ends[0]]), int(position[ends[1]]))
        return joined.flows(there, at, there.branches.ids[k], self.settings)

    def _capped(
        self, there: Arrangement, view: OutputWays, current_a: float, shares: Mapping[str, float]
    ) -> tuple[float, str | None]:
        """The current that limits without opening let through, and which of them holds it."""
        capped_by = None
        for name, share in shares.items():
            part = self._part(there, view, name)
            if isinstance(part, Output) and part.behaviour is Behaviour.CONSTANT_CURRENT:
                held = view.hold_a
            else:
                limits = there.thresholds[name]
                held = math.inf if limits.opens else limits.held_a
            if held < current_a * share:
                current_a, capped_by = held / share, name
        return current_a, capped_by

    def _part(self, there: Arrangement, view: OutputWays, name: str) -> Device | Output:
        return view.output if name == view.output.id else there.devices[name]

    def _just_holds(self, flow: Flow) -> str | None:
        """The device that is nearest to opening in a short that nothing clears."""
        ratios = {
            part.id: current_a / held
            for part, current_a in flow.devices
            if math.isfinite(held := self.thresholds[part.id].held_a)
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
        return (k * part.gauge.area_mm2) ** 2 if k is not None and part.gauge is not None else None


def _partners(ways: Ways, other: Ways, pairs: Iterable[tuple[int, int]]) -> list[int]:
    """For every node of ``ways``: where the other sides of all loads beyond it meet; else the other root."""
    joint: list[int | None] = [None] * len(ways.above)
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
        if ways.reaches(here) and other.reaches(there):
            joint[here] = meet(joint[here], there)
    for block in reversed(ways.blocks):
        beyond: int | None = None
        for node in block.inside:
            beyond = meet(beyond, joint[node])
        for node in block.inside:
            if joint[node] is None:
                joint[node] = beyond
        joint[block.entry] = meet(joint[block.entry], beyond)
    return [other.root if node is None else node for node in joint]


def _behind_devices(
    there: Arrangement, view: OutputWays, devices: set[str], joined: dict[Hashable, JoinedShorts]
) -> Iterator[tuple[str, float]]:
    """Every device's greatest current in a dead short just behind it, to the output's other terminal; where other
    outputs have a part in it, to any output's terminal.
    """
    piece, position = piece_of(there.network, view.feed.root)
    roots = dict.fromkeys(node for o in there.outputs for node in (o.feed.root, o.back.root))
    terminals = tuple(int(position[node]) for node in roots if position[node] >= 0)
    for ways in (view.feed, view.back):
        for k, name in enumerate(there.branches.ids):
            far = int(ways.far_node[k])
            if far < 0 or name not in devices:
                continue
            if not view.only_feed:
                shorts = joined.setdefault(piece.electrical_key, JoinedShorts(piece))
                yield name, shorts.greatest_behind(name, int(position[far]), terminals)
                continue
            ohm = float(ways.ohm[far]) + view.output.resistance_ohm
            current_a = view.voltage_v / ohm if ohm > 0.0 else math.inf
            yield name, min(current_a, view.hold_a) * float(ways.far_share[k])


def _hold(flow: Flow) -> tuple[bool, float]:
    """What a limit holds by itself is less grave than what nothing limits."""
    return flow.capped_by is None, flow.held_a


def _slowest_s(flow: Flow) -> float:
    return flow.clearing.slowest_s if flow.clearing is not None else math.inf


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
