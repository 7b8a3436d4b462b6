"""Dead shorts: the least and the greatest current at the far end of every conductor, and what clears it.

The short stands between a part's far end, seen from the output, and the joint at which the returns of all loads
beyond it meet (for a part of the return: the joint where their feeds part); with no load beyond it, the
output's other terminal. Loads are off. Least: hot, contacts aged, lowest voltage; greatest: cold, new, highest.
The chassis is left out: as drawn returns go, a bond only adds to the greatest current.

Where one output alone feeds the copper the loop resistance adds up along the ways; where several do, or
protected ways run in parallel, the shorted network is solved (``solve``).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from loadloom.graph.conductors import insulation_of
from loadloom.graph.devices import hiccup_share, opening_time_s
from loadloom.graph.elements import Behaviour, Conductor, Contact, Device, Output
from loadloom.graph.guards import Arrangement, Guarded, OutputWays, guard, whole_shares
from loadloom.graph.harness import Harness
from loadloom.graph.network import Network
from loadloom.graph.results import ShortRow
from loadloom.graph.settings import AnalysisSettings
from loadloom.graph.solve import solve
from loadloom.graph.ways import Ways

ADIABATIC_LIMIT_S = 5.0
"""Beyond this the heat no longer stays in the copper and k²S² is out of its range (IEC 60364-4-43, from memory)."""

SHORT = "dead short"


@dataclass(frozen=True, slots=True)
class Flow:
    """One short at one corner: its current, the part's own share of it, what every device on the way carries."""

    current_a: float
    own_a: float
    loop_ohm: float
    devices: tuple[tuple[Device | Output, float], ...]
    capped_by: str | None
    """The output or limiter that holds the current without opening."""


@dataclass(frozen=True, slots=True)
class Clearing:
    """The device that is certain to clear a short first, and how late; ``slowest_s`` inf = not stated."""

    device: Device | Output
    slowest_s: float


@dataclass(frozen=True, slots=True)
class Short:
    """A dead short behind one part in the worst arrangement.

    ``row`` is for the results (``cleared_by`` None = never cleared, ``slowest_s`` None = no time stated).
    ``own_*`` are the part's own currents in A. ``loop``: conductors in the loop, given where nothing clears it.
    ``capped_by``: what holds the current without opening. ``hiccup_rms_a``: the part's own current of equal
    heat where a retrying limit "clears" it. ``untimed``: the clearing device, where its time is not stated.
    """

    part: str
    row: ShortRow
    own_least_a: float
    own_greatest_a: float
    loop: tuple[str, ...] = ()
    capped_by: str | None = None
    held_by: str | None = None
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
    for hard, soft in zip(greatest, least, strict=True):
        case = case_of.get(hard.word)
        for strong, weak in zip(hard.outputs, soft.outputs, strict=True):
            for short in _Loops(hard, strong, soft, weak, settings, parts).shorts(case):
                if short.part not in worst or _gravity(short) > _gravity(worst[short.part]):
                    worst[short.part] = short
            for name, current_a in _behind_devices(hard, strong, {d.id for d in harness.devices}):
                if name not in prospective or current_a > prospective[name].current_a:
                    prospective[name] = Prospective(case, current_a)
    return Shorts(
        tuple(worst[c.id] for c in harness.conductors if c.id in worst),
        tuple(worst[c.id] for c in harness.contacts if c.id in worst),
        prospective,
    )


def shorted(network: Network, a: int, b: int) -> Network:
    """A network with its loads taken off and a 0 Ω branch ``SHORT`` between two nodes."""
    none_f, none_i = np.zeros(0), np.zeros(0, dtype=np.int64)
    return replace(
        network,
        edge_ids=(*network.edge_ids, SHORT),
        edge_a=np.append(network.edge_a, a),
        edge_b=np.append(network.edge_b, b),
        edge_resistance_ohm=np.append(network.edge_resistance_ohm, 0.0),
        edge_drop_v=np.append(network.edge_drop_v, 0.0),
        edge_diode=np.append(network.edge_diode, False),
        load_ids=(),
        load_plus=none_i,
        load_minus=none_i,
        load_kind=none_i,
        load_demand=none_f,
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
    ) -> None:
        self.settings, self.parts, self.thresholds = settings, parts, hard.thresholds
        self.corners = ((hard, strong), (soft, weak))
        self.guards: tuple[tuple[Guarded, Guarded], ...] = tuple(
            (
                guard(view.feed, view.output.id, there, whole_shares),
                guard(view.back, view.output.id, there, whole_shares),
            )
            for there, view in self.corners
        )

    def shorts(self, case: str | None) -> Iterator[Short]:
        there, view = self.corners[0]
        out = [(plus, minus) for _, plus, minus in there.loads]
        back = [(minus, plus) for _, plus, minus in there.loads]
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
                    yield self._short(self.parts[name], k, ends, case, on_feed=on_feed)

    def _short(
        self, part: Conductor | Contact, k: int, ends: tuple[int, int], case: str | None, *, on_feed: bool
    ) -> Short:
        most, few = (self._flow(c, k, ends, on_feed=on_feed) for c in (0, 1))
        clearing = (self._clearing(most), self._clearing(few))
        times = [c.slowest_s for c in clearing if c is not None]
        finite = all(math.isfinite(t) for t in times)
        cleared = clearing[1] if all(c is not None for c in clearing) else None
        i2t = None
        if cleared is not None and finite and math.isfinite(most.own_a):
            i2t = max(
                flow.own_a**2 * c.slowest_s for flow, c in zip((most, few), clearing, strict=True) if c is not None
            )
        slowest_s = max(times) if cleared is not None and finite else None
        never = few if clearing[1] is None else most
        there = self.corners[0][0]
        names = there.network.node_ids
        at, to = (ends[0], ends[1]) if on_feed else (ends[1], ends[0])
        row = ShortRow(
            conductor=part.id,
            at=names[at],
            to=names[to],
            case=case,
            least_a=_finite(few.current_a),
            greatest_a=_finite(most.current_a),
            cleared_by=cleared.device.id if cleared else None,
            slowest_s=slowest_s,
            i2t_a2s=i2t,
            withstand_a2s=self._withstand_a2s(part),
            adiabatic_in_range=slowest_s <= ADIABATIC_LIMIT_S if slowest_s is not None else None,
            loop_heat_w=_finite(never.current_a**2 * never.loop_ohm) if cleared is None else None,
        )
        rms = hiccup_share(cleared.device) if cleared else None
        return Short(
            part.id,
            row,
            few.own_a,
            most.own_a,
            self._loop(ends) if cleared is None else (),
            never.capped_by if cleared is None else None,
            self._just_holds(never) if cleared is None else None,
            rms * most.own_a if rms is not None and math.isfinite(most.own_a) else None,
            cleared.device.id if cleared is not None and not finite else None,
        )

    def _flow(self, corner: int, k: int, ends: tuple[int, int], *, on_feed: bool) -> Flow:
        there, view = self.corners[corner]
        feed_guards, back_guards = self.guards[corner]
        ways = view.feed if on_feed else view.back
        far = ends[0] if on_feed else ends[1]
        block = ways.blocks[ways.above[far]]
        if not view.only_feed or (not block.is_bridge and there.acting(block)):
            return self._solved(there, view, k, ends)
        loop_ohm = float(view.feed.ohm[ends[0]] + view.back.ohm[ends[1]])
        drop_v = 0.0 if corner == 0 else float(view.feed.drop_v[ends[0]] + view.back.drop_v[ends[1]])
        whole_ohm = loop_ohm + view.output.resistance_ohm
        volts = max(view.voltage_v - drop_v, 0.0)
        current_a = volts / whole_ohm if whole_ohm > 0.0 else math.inf
        shares: dict[str, float] = {}
        for chain in (feed_guards.passed[ends[0]], back_guards.passed[ends[1]]):
            shares.update(chain or ())
        current_a, capped_by = self._capped(there, view, current_a, shares)
        devices = tuple((self._part(there, view, name), current_a * share) for name, share in shares.items())
        return Flow(current_a, current_a * float(ways.far_share[k]), loop_ohm, devices, capped_by)

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

    def _solved(self, there: Arrangement, view: OutputWays, k: int, ends: tuple[int, int]) -> Flow:
        solution = solve(shorted(there.network, *ends))
        network = solution.network
        index = network.edge_index
        currents = {name: abs(float(solution.edge_a[index[name]])) for name in there.devices}
        outputs = {o.output.id: o.output for o in there.outputs}
        sources = dict(zip(network.source_ids, np.abs(solution.source_a).tolist(), strict=True))
        devices: list[tuple[Device | Output, float]] = [(there.devices[n], a) for n, a in currents.items() if a > 0]
        # An output that trips leaves the others feeding the short: only one that feeds it alone clears it.
        feeding = [n for n, a in sources.items() if a > 1e-9]
        devices = [(d, a) for d, a in devices if self._carries_all(a, solution.edge_a[index[SHORT]])]
        if len(feeding) == 1:
            devices.append((outputs[feeding[0]], sources[feeding[0]]))
        current_a = abs(float(solution.edge_a[index[SHORT]]))
        own_a = abs(float(solution.edge_a[index[there.branches.ids[k]]]))
        loop_ohm = view.voltage_v / current_a - view.output.resistance_ohm if current_a > 0.0 else math.inf
        holding = solution.holding[0] if solution.holding else None
        return Flow(current_a, own_a, max(loop_ohm, 0.0), tuple(devices), holding)

    @staticmethod
    def _carries_all(current_a: float, short_a: float) -> bool:
        """Whether a device carries the whole of a short, so that its opening ends it."""
        return current_a > 0.999 * abs(float(short_a))

    def _part(self, there: Arrangement, view: OutputWays, name: str) -> Device | Output:
        return view.output if name == view.output.id else there.devices[name]

    def _clearing(self, flow: Flow) -> Clearing | None:
        found: Clearing | None = None
        for part, current_a in flow.devices:
            if not math.isfinite(current_a):
                # Nothing stated limits the current: any device that opens at all opens.
                slowest = math.inf if self.thresholds[part.id].opens else None
            elif current_a <= self.thresholds[part.id].held_a:
                slowest = None
            else:
                slowest = opening_time_s(part, current_a, self.settings)[1]
            if slowest is not None and (found is None or slowest < found.slowest_s):
                found = Clearing(part, slowest)
        return found

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
        blocks = [*reversed(list(view.feed.path(ends[0]))), *view.back.path(ends[1])]
        return tuple(ids[k] for block in blocks for k in block.branches if ids[k] in self.parts)

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


def _behind_devices(there: Arrangement, view: OutputWays, devices: set[str]) -> Iterator[tuple[str, float]]:
    """Every device's greatest current in a dead short just behind it, to the output's other terminal."""
    for ways, other_root, on_feed in ((view.feed, view.back.root, True), (view.back, view.feed.root, False)):
        for k, name in enumerate(there.branches.ids):
            far = int(ways.far_node[k])
            if far < 0 or name not in devices:
                continue
            if not view.only_feed:
                ends = (far, other_root) if on_feed else (other_root, far)
                solution = solve(shorted(there.network, *ends))
                yield name, abs(float(solution.edge_a[solution.network.edge_index[name]]))
                continue
            ohm = float(ways.ohm[far]) + view.output.resistance_ohm
            current_a = view.voltage_v / ohm if ohm > 0.0 else math.inf
            yield name, min(current_a, view.hold_a) * float(ways.far_share[k])


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
