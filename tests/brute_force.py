"""A judge of the fault search that shares nothing with it: nodal solution, every place, load, state and opening.

A ``Drawing`` is plain data. Its conductors are cut at ``CUTS``, so that a fault can stand on them. For every set of
devices that a fault can have opened one after the other, every way in which diodes block and parts hold their
current, and every set of loads that draw, the network is linear in the fault current: the range of it in which all
of that holds follows from as many inequalities, and what a part carries is greatest at an end of the range.

So ``most_a`` is a lower bound of the greatest sustained fault current, by numpy alone. ``carried`` solves one fault
again, from its resistance and the currents of the loads. Nothing here imports the product.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

CUTS = (0.002, 0.5, 0.998)
"""Shares of a conductor at which a fault on it is tried, besides its ends."""

LEAST_OHM = 1e-7
"""Stands for 0 Ω: a bond to the chassis, a device that states nothing."""

END = 1e-6
"""The share of a conductor that is left between its end and a fault there."""

LEEWAY = 1e-9
ROUNDS = 12
SETTLED = 1e-7
CHASSIS = "«chassis»"


@dataclass(frozen=True)
class Part:
    """A part between two joints. ``held_a``: the most that it lets through without opening, or where ``holds`` the
    current that it holds. ``kind`` is ``wire``, ``contact``, ``device`` or ``diode`` (from a to b, ``drop_v``).
    """

    id: str
    kind: str
    a: str
    b: str
    ohm: float
    held_a: float = math.inf
    holds: bool = False
    drop_v: float = 0.0
    cable: str | None = None
    bundle: str | None = None
    connector: str | None = None
    curve: str | None = None


@dataclass(frozen=True)
class Source:
    """An output. ``held_a`` as for a part; what flows backwards does not make it open. One that ``folds`` gives no
    more than ``held_a``, and how much less below its voltage nobody knows.
    """

    id: str
    plus: str
    minus: str
    volts: float
    ohm: float
    held_a: float = math.inf
    holds: bool = False
    folds: bool = False


@dataclass(frozen=True)
class Draw:
    """A load of constant ``current`` (A), ``power`` (W) or ``resistance`` (Ω); constant power stops at ``least_v``.

    One that pulses draws ``demand`` for a share ``duty`` of the time, and ``rest`` in between. All begin together.
    """

    id: str
    plus: str
    minus: str
    kind: str
    demand: float
    least_v: float = 0.0
    duty: float = 1.0
    rest: float = 0.0


@dataclass(frozen=True)
class Drawing:
    """A harness. ``returns``: for a joint of every rail, the joints that its conductors can touch anywhere.

    ``bonds``: joints bonded to the chassis.
    """

    parts: tuple[Part, ...]
    sources: tuple[Source, ...]
    draws: tuple[Draw, ...]
    returns: Mapping[str, tuple[str, ...]]
    bonds: tuple[str, ...] = ()


class NotReachedError(ValueError):
    """No state of the network is the one that is asked for."""


@dataclass(frozen=True)
class Found:
    """The greatest current of a part in A, and the state that has it, in words."""

    current_a: float
    state: str


@dataclass(frozen=True)
class _Branch:
    owner: str
    a: int
    b: int
    ohm: float
    emf_v: float
    held_a: float
    holds: bool
    diode: bool
    source: bool
    folds: bool = False


@dataclass
class _Circuit:
    """A drawing cut into branches between numbered joints."""

    drawing: Drawing
    nodes: dict[str, int] = field(default_factory=dict)
    branches: list[_Branch] = field(default_factory=list)

    def __post_init__(self) -> None:
        for part in self.drawing.parts:
            emf = -part.drop_v if part.kind == "diode" else 0.0
            if part.kind != "wire":
                self._add(part.id, part.a, part.b, part.ohm, emf, part.held_a, part.holds, part.kind == "diode")
                continue
            stops = [0.0, *CUTS, 1.0]
            joints = [part.a, *(f"{part.id}:{share}" for share in CUTS), part.b]
            for k, (one, other) in enumerate(itertools.pairwise(joints)):
                self._add(part.id, one, other, part.ohm * (stops[k + 1] - stops[k]), 0.0, math.inf, False, False)
        for source in self.drawing.sources:
            ends = self.node(source.minus), self.node(source.plus)
            held, holds, folds = source.held_a, source.holds, source.folds
            ohm = max(source.ohm, LEAST_OHM)
            self.branches.append(_Branch(source.id, *ends, ohm, source.volts, held, holds, False, True, folds))
        for n, joint in enumerate(self.drawing.bonds):
            self._add(f"bond {n}", joint, CHASSIS, LEAST_OHM, 0.0, math.inf, False, False)

    def node(self, name: str) -> int:
        """The number of a joint, a new one where it has none."""
        return self.nodes.setdefault(name, len(self.nodes))

    def _add(
        self,
        owner: str,
        a: str,
        b: str,
        ohm: float,
        emf: float,
        held: float,
        holds: bool,
        diode: bool,
    ) -> None:
        ends = self.node(a), self.node(b)
        self.branches.append(_Branch(owner, *ends, max(ohm, LEAST_OHM), emf, held, holds, diode, False))

    def copper(self) -> dict[str, int]:
        """Which joints hang together by copper, outputs taken out."""
        leader = list(range(len(self.nodes)))

        def find(n: int) -> int:
            while leader[n] != n:
                n = leader[n]
            return n

        for each in self.branches:
            if not each.source:
                leader[find(each.a)] = find(each.b)
        return {name: find(n) for name, n in self.nodes.items()}


@dataclass(frozen=True)
class Place:
    """Two joints between which a fault can stand; ``inside``: the output that it is in."""

    high: str
    low: str
    name: str
    inside: str | None = None


def places(drawing: Drawing) -> list[Place]:
    """Every place: across loads, from rails to their returns and the chassis, in cables, bundles and connectors,
    inside every output.
    """
    circuit = _Circuit(drawing)
    copper = circuit.copper()
    found: dict[frozenset[str], Place] = {}

    def add(one: str, other: str, name: str, inside: str | None = None) -> None:
        if one != other:
            key = frozenset((one, other, inside or ""))
            found.setdefault(key, Place(one, other, name, inside))

    for draw in drawing.draws:
        add(draw.plus, draw.minus, draw.id)
    wires = [part for part in drawing.parts if part.kind == "wire"]
    for rail, returns in drawing.returns.items():
        here = [joint for joint in circuit.nodes if copper[joint] == copper[rail]]
        for terminal, joint in itertools.product(returns, here):
            add(joint, terminal, f"{joint} to {terminal}")
    for kind in ("cable", "bundle"):
        bodies: dict[str, list[Part]] = {}
        for wire in wires:
            if (body := getattr(wire, kind)) is not None:
                bodies.setdefault(body, []).append(wire)
        for one, other in itertools.chain.from_iterable(itertools.combinations(b, 2) for b in bodies.values()):
            if copper[one.a] != copper[other.a]:
                for x, y in itertools.product(_points(one), _points(other)):
                    add(x, y, f"{x} onto {y}")
    contacts: dict[str, list[Part]] = {}
    for part in drawing.parts:
        if part.connector is not None:
            contacts.setdefault(part.connector, []).append(part)
    for mates in contacts.values():
        for one, other in itertools.combinations(mates, 2):
            if copper[one.a] != copper[other.a]:
                add(one.a, other.a, f"{one.id}|{other.id}")
                add(one.b, other.b, f"{one.id}|{other.id}")
    for source in drawing.sources:
        add(source.plus, source.minus, f"inside {source.id}", source.id)
    return list(found.values())


def _points(wire: Part) -> list[str]:
    return [wire.a, *(f"{wire.id}:{share}" for share in CUTS), wire.b]


class _State:
    """A circuit with branches out, holding, and with conductances of resistive loads: its response."""

    def __init__(
        self, circuit: _Circuit, out: frozenset[int], holding: frozenset[int], ohmic: Sequence[Draw] = ()
    ) -> None:
        self.circuit = circuit
        branches = circuit.branches
        count = len(circuit.nodes)
        self.a = np.array([each.a for each in branches])
        self.b = np.array([each.b for each in branches])
        off = np.array([k in out or k in holding or ~k in holding for k in range(len(branches))])
        self.g = np.where(off, 0.0, [1.0 / each.ohm for each in branches])
        self.emf = np.array([each.emf_v for each in branches])
        held = [each.held_a for each in branches]
        self.fixed = np.array([a if k in holding else -a if ~k in holding else 0.0 for k, a in enumerate(held)])
        links = [(each.a, each.b) for k, each in enumerate(branches) if not off[k]]
        matrix = np.zeros((count, count))
        sides = [(self.a, self.b, self.g)]
        if ohmic:
            plus = np.array([circuit.nodes[draw.plus] for draw in ohmic])
            minus = np.array([circuit.nodes[draw.minus] for draw in ohmic])
            sides.append((plus, minus, np.array([1.0 / draw.demand for draw in ohmic])))
        self.piece = _pieces(count, links)
        for a, b, g in sides:
            for x, y in ((a, b), (b, a)):
                np.add.at(matrix, (x, x), g)
                np.add.at(matrix, (x, y), -g)
        # A load draws between two pieces only where copper joins them as well: it is no way for a fault.
        grounded = np.array([not (self.piece[:n] == self.piece[n]).any() for n in range(count)])
        free = np.flatnonzero(~grounded)
        self.z = np.zeros((count, count))
        self.z[np.ix_(free, free)] = np.linalg.inv(matrix[np.ix_(free, free)])
        fed = np.zeros(count)
        np.add.at(fed, self.b, self.g * self.emf + self.fixed)
        np.add.at(fed, self.a, -self.g * self.emf - self.fixed)
        self.own_v = self.z @ fed
        held_apart = (branches[max(k, ~k)] for k in holding)
        self.valid = all(self.piece[each.a] == self.piece[each.b] for each in held_apart)
        self.valid &= all(self.piece[circuit.nodes[d.plus]] == self.piece[circuit.nodes[d.minus]] for d in ohmic)
        self.own_a = self._currents(self.own_v[:, None], own=True)[:, 0]

    def _currents(self, volts: np.ndarray, *, own: bool) -> np.ndarray:
        """(B, K) branch currents from (N, K) potentials."""
        emf = self.emf[:, None] if own else 0.0
        through = self.g[:, None] * (volts[self.a] - volts[self.b] + emf)
        return through + self.fixed[:, None] if own else through

    def drawn(self, plus: Sequence[int], minus: Sequence[int]) -> tuple[np.ndarray, np.ndarray]:
        """(N, K) potentials and (B, K) currents for an ampere drawn from each ``plus`` to each ``minus``."""
        volts = self.z[:, list(minus)] - self.z[:, list(plus)]
        return volts, self._currents(volts, own=False)


def _pieces(count: int, links: Sequence[tuple[int, int]]) -> np.ndarray:
    leader = list(range(count))

    def find(n: int) -> int:
        while leader[n] != n:
            leader[n] = leader[leader[n]]
            n = leader[n]
        return n

    for one, other in links:
        leader[find(one)] = find(other)
    return np.array([find(n) for n in range(count)])


def most_a(drawing: Drawing, most_opened: int = 3) -> dict[str, Found]:
    """The greatest current of every wire, contact and diode with one fault anywhere, nothing opening any more."""
    return _Search(drawing).run(most_opened)


@dataclass(frozen=True)
class _Rows:
    """R rows ``own + load · amps + step · x <= limit`` for C columns (a place in a direction): ``own`` (R,),
    ``load`` (R, L), ``step`` (R, C), ``limit`` (R,). ``device`` (R,): whether it is a limit of what may open.
    """

    own: np.ndarray
    load: np.ndarray
    step: np.ndarray
    limit: np.ndarray
    device: np.ndarray

    def ranges(self, amps: np.ndarray, some: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """(C,) least and greatest x by some of the rows, with loads at ``amps`` (C, L); least > greatest: none."""
        room = (self.limit - self.own)[some, None] - self.load[some] @ amps.T
        step = self.step[some]
        slack = LEEWAY * (1.0 + np.abs(self.limit[some]))[:, None]
        flat = np.abs(step) <= 1e-12
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = room / step
        high = np.where(~flat & (step > 0.0), ratio, np.inf).min(axis=0, initial=np.inf)
        low = np.where(~flat & (step < 0.0), ratio, -np.inf).max(axis=0, initial=-np.inf)
        broken = (flat & (room < -slack)).any(axis=0)
        return np.where(broken, np.inf, low), np.where(broken, -np.inf, high)


class _Search:
    def __init__(self, drawing: Drawing) -> None:
        self.drawing = drawing
        self.circuit = _Circuit(drawing)
        self.nodes, self.branches = self.circuit.nodes, self.circuit.branches
        self.owners = [each.owner for each in self.branches]
        self.can_open = [k for k, each in enumerate(self.branches) if math.isfinite(each.held_a) and not each.holds]
        self.continuous = [draw for draw in drawing.draws if draw.kind != "resistance"]
        self.ohmic = [draw for draw in drawing.draws if draw.kind == "resistance"]
        self.best: dict[str, Found] = {}

    def run(self, most_opened: int) -> dict[str, Found]:
        """Every place in every state, those inside an output with that output gone."""
        every = places(self.drawing)
        plain = [place for place in every if place.inside is None]
        self._from_nothing_open(plain, -1, most_opened)
        for place in every:
            if place.inside is not None:
                self._from_nothing_open([place], self.owners.index(place.inside), most_opened)
        return self.best

    def _from_nothing_open(self, listed: list[Place], dead: int, most_opened: int) -> None:
        """All that can open one after the other because of a fault at each place."""
        reached: dict[frozenset[int], np.ndarray] = {frozenset(): np.ones(len(listed), dtype=bool)}
        for size in range(most_opened + 1):
            for opened in [each for each in reached if len(each) == size]:
                at = np.flatnonzero(reached[opened])
                over = self._in([listed[n] for n in at.tolist()], opened, dead)
                if size == most_opened:
                    continue
                for k in self.can_open:
                    if k not in opened and k != dead and over[k].any():
                        mine = reached.setdefault(opened | {k}, np.zeros(len(listed), dtype=bool))
                        mine[at[over[k]]] = True

    def _in(self, listed: list[Place], opened: frozenset[int], dead: int) -> np.ndarray:
        """Note what every part carries with ``opened`` open; (B, P) what may open next because of each place."""
        gone = opened | ({dead} if dead >= 0 else set())
        diodes = [k for k, each in enumerate(self.branches) if each.diode and k not in gone]
        # What an output gives once it folds back is not known: it is followed up to its limit only.
        holders = [k for k, each in enumerate(self.branches) if each.holds and not each.folds and k not in gone]
        over = np.zeros((len(self.branches), len(listed)), dtype=bool)
        ways = list(_ways_of_holding(holders, self.branches))
        for blocked, holding, ohmic in itertools.product(_subsets(diodes), ways, _subsets(self.ohmic)):
            state = _State(self.circuit, gone | frozenset(blocked), frozenset(holding), ohmic)
            if state.valid:
                self._note(state, listed, opened, blocked, holding, ohmic, over)
        return over

    def _note(
        self,
        state: _State,
        listed: list[Place],
        opened: frozenset[int],
        blocked: Sequence[int],
        holding: Sequence[int],
        ohmic: Sequence[Draw],
        over: np.ndarray,
    ) -> None:
        nodes, piece = self.nodes, state.piece
        fed = [d for d in self.continuous if piece[nodes[d.plus]] == piece[nodes[d.minus]]]
        here = [n for n, p in enumerate(listed) if piece[nodes[p.high]] == piece[nodes[p.low]]]
        if not here:
            return
        high = np.array([nodes[listed[n].high] for n in here])
        low = np.array([nodes[listed[n].low] for n in here])
        turned_high, turned_low = np.concatenate([high, low]), np.concatenate([low, high])
        column = np.arange(len(turned_high))
        step_v, step_a = state.drawn(turned_high, turned_low)
        plus = np.array([nodes[d.plus] for d in fed], dtype=int)
        minus = np.array([nodes[d.minus] for d in fed], dtype=int)
        per_v, per_a = state.drawn(plus, minus)
        across = (turned_high, turned_low, column)
        for on in _subsets(list(range(len(fed)))):
            pulsing = [n for n in on if fed[n].duty < 1.0]
            if pulsing:
                self._note_cycles(
                    state, (step_v, step_a), (per_v, per_a), [listed[n] for n in here], across, fed, on
                )
                continue
            rows = self._rows(state, (step_v, step_a), (per_v, per_a), blocked, holding, fed, on)
            amps = np.zeros((len(column), len(fed)))
            amps[:, list(on)] = [_first_a(fed[n]) for n in on]
            power = [n for n in on if fed[n].kind == "power"]
            settled = np.ones(len(column), dtype=bool)
            for _ in range(ROUNDS if power else 1):
                bounds = self._bounded(rows, state, per_v, amps, step_v, across)
                if not power:
                    break
                seen = (
                    state.own_v[:, None]
                    + per_v @ amps.T
                    + np.where(np.isfinite(bounds[1]), bounds[1], 0.0) * step_v
                )
                now = amps.copy()
                for n in power:
                    volts = np.maximum(seen[plus[n]] - seen[minus[n]], max(fed[n].least_v, 1e-3))
                    now[:, n] = fed[n].demand / volts
                settled = (np.abs(now - amps) <= SETTLED * (1.0 + np.abs(now))).all(axis=1)
                amps = now
            low_x, high_x, free_low, free_high = bounds
            through = state.own_a[:, None] + per_a @ amps.T
            for x in (free_low, free_high):
                fine = np.isfinite(x) & (free_low <= free_high + LEEWAY)
                flow = through + np.where(fine, x, 0.0) * step_a
                for k in self.can_open:
                    amount = flow[k] if self.branches[k].source else np.abs(flow[k])
                    hit = fine & (amount > self.branches[k].held_a * (1.0 + LEEWAY)) & (state.g[k] > 0.0)
                    over[k, [here[c % len(here)] for c in np.flatnonzero(hit).tolist()]] = True
            for x in (low_x, high_x):
                fine = np.isfinite(x) & (low_x <= high_x + LEEWAY) & settled
                if fine.any():
                    flow = np.where(fine, np.abs(through + np.where(fine, x, 0.0) * step_a), -1.0)
                    words = (opened, blocked, holding, [fed[n].id for n in on], [d.id for d in ohmic])
                    self._keep(flow, x, [listed[n] for n in here], words)

    def _note_cycles(
        self,
        state: _State,
        step: tuple[np.ndarray, np.ndarray],
        per: tuple[np.ndarray, np.ndarray],
        listed: list[Place],
        across: tuple,
        fed: Sequence[Draw],
        on: Sequence[int],
    ) -> None:
        """Note the root mean square of what every part carries, with one fault current that holds in every moment.

        For drawings without diodes and parts that hold their current. Each pulsing load also draws its rest alone.
        """
        (_, step_a), (_, per_a) = step, per
        pulsing = [n for n in on if fed[n].duty < 1.0]
        rows = self._rows(state, step, per, (), (), fed, on)
        for calm in _subsets(pulsing):
            ends = sorted({*(fed[n].duty for n in pulsing if n not in calm), 1.0})
            moments = []
            for start, end in itertools.pairwise([0.0, *ends]):
                wanted = np.zeros(len(fed))
                for n in on:
                    is_on = fed[n].duty >= 1.0 or (n not in calm and fed[n].duty >= end)
                    wanted[n] = fed[n].demand if is_on else fed[n].rest
                moments.append((end - start, wanted))
            words = (
                (),
                (),
                (),
                [fed[n].id for n in on if n not in calm],
                [f"rest {fed[n].id}" for n in calm],
            )
            for least in (True, False):
                x, fine, drawn = self._held_throughout(state, step, per, rows, across, fed, on, moments, least)
                if fine.any():
                    at = np.where(fine, x, 0.0) * step_a
                    flow = np.sqrt(
                        sum(
                            share * (state.own_a[:, None] + per_a @ amps.T + at) ** 2
                            for (share, _), amps in zip(moments, drawn, strict=True)
                        )
                    )
                    self._keep(np.where(fine, flow, -1.0), x, listed, words)

    def _held_throughout(
        self,
        state: _State,
        step: tuple[np.ndarray, np.ndarray],
        per: tuple[np.ndarray, np.ndarray],
        rows: _Rows,
        across: tuple,
        fed: Sequence[Draw],
        on: Sequence[int],
        moments: Sequence[tuple[float, np.ndarray]],
        least: bool,
    ) -> tuple[np.ndarray, np.ndarray, list[np.ndarray]]:
        """(C,) the least or greatest fault current that holds in every moment, where there is one, and for every
        moment what each load (C, L) draws with it: constant power at the voltage that it then has.
        """
        (step_v, _), (per_v, _) = step, per
        plus = [self.nodes[draw.plus] for draw in fed]
        minus = [self.nodes[draw.minus] for draw in fed]
        power = [n for n in on if fed[n].kind == "power"]
        count = step_v.shape[1]
        drawn = [np.tile(wanted, (count, 1)) for _, wanted in moments]
        for amps in drawn:
            for n in power:
                amps[:, n] /= max(fed[n].least_v, 1.0)
        settled = np.ones(count, dtype=bool)
        for _ in range(ROUNDS if power else 1):
            low_x, high_x = np.zeros(count), np.full(count, np.inf)
            for amps in drawn:
                low, high, _, _ = self._bounded(rows, state, per_v, amps, step_v, across)
                low_x, high_x = np.maximum(low_x, low), np.minimum(high_x, high)
            x = low_x if least else high_x
            if not power:
                break
            settled = np.ones(count, dtype=bool)
            for (_, wanted), amps in zip(moments, drawn, strict=True):
                seen = state.own_v[:, None] + per_v @ amps.T + np.where(np.isfinite(x), x, 0.0) * step_v
                for n in power:
                    now = wanted[n] / np.maximum(seen[plus[n]] - seen[minus[n]], max(fed[n].least_v, 1e-3))
                    settled &= np.abs(now - amps[:, n]) <= SETTLED * (1.0 + np.abs(now))
                    amps[:, n] = now
        return x, np.isfinite(x) & (low_x <= high_x + LEEWAY) & settled, drawn

    def _bounded(
        self, rows: _Rows, state: _State, per_v: np.ndarray, amps: np.ndarray, step_v: np.ndarray, across: tuple
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """(C,) least and greatest fault current with devices that may not open, and with devices that may."""
        high, low, column = across
        volts = state.own_v[:, None] + per_v @ amps.T
        open_v = volts[high, column] - volts[low, column]
        fall = step_v[low, column] - step_v[high, column]
        with np.errstate(divide="ignore", invalid="ignore"):
            short = np.where(fall > 1e-12, open_v / fall, np.where(open_v >= 0.0, np.inf, -np.inf))
        free_low, free_high = rows.ranges(amps, ~rows.device)
        free_low, free_high = np.maximum(free_low, 0.0), np.minimum(free_high, short)
        held_low, held_high = rows.ranges(amps, rows.device)
        return np.maximum(free_low, held_low), np.minimum(free_high, held_high), free_low, free_high

    def _rows(
        self,
        state: _State,
        step: tuple[np.ndarray, np.ndarray],
        per: tuple[np.ndarray, np.ndarray],
        blocked: Sequence[int],
        holding: Sequence[int],
        fed: Sequence[Draw],
        on: Sequence[int],
    ) -> _Rows:
        """What holds a fault current down, or keeps diodes, holders and loads in the state they are taken in."""
        (step_v, step_a), (per_v, per_a) = step, per
        own: list[float] = []
        load, steps, limit, device = [], [], [], []

        def add(
            mine: float, by_load: np.ndarray, by_fault: np.ndarray, most: float, *, may_open: bool = False
        ) -> None:
            own.append(mine)
            load.append(by_load)
            steps.append(by_fault)
            limit.append(most)
            device.append(may_open)

        def voltage(a: int, b: int, sign: float, most: float) -> None:
            add(
                sign * float(state.own_v[a] - state.own_v[b]),
                sign * (per_v[a] - per_v[b]),
                sign * (step_v[a] - step_v[b]),
                most,
            )

        def current(k: int, sign: float, most: float, *, may_open: bool = False) -> None:
            add(sign * float(state.own_a[k]), sign * per_a[k], sign * step_a[k], most, may_open=may_open)

        for k, each in enumerate(self.branches):
            if each.diode and k in blocked:
                voltage(each.a, each.b, 1.0, -each.emf_v)
            elif each.diode and state.g[k] > 0.0:
                current(k, -1.0, 0.0)
            elif each.holds and k in holding:
                voltage(each.a, each.b, -1.0, each.emf_v - each.ohm * each.held_a)
            elif each.holds and ~k in holding:
                voltage(each.a, each.b, 1.0, -each.emf_v - each.ohm * each.held_a)
            elif each.holds and state.g[k] > 0.0:
                current(k, 1.0, each.held_a)
                if not each.source:
                    current(k, -1.0, each.held_a)
            elif math.isfinite(each.held_a) and state.g[k] > 0.0:
                current(k, 1.0, each.held_a, may_open=True)
                if not each.source:
                    current(k, -1.0, each.held_a, may_open=True)
        for n in on:
            least = fed[n].least_v if fed[n].kind == "power" else 0.0
            voltage(self.nodes[fed[n].plus], self.nodes[fed[n].minus], -1.0, -least)
        columns = step_v.shape[1]
        return _Rows(
            np.array(own),
            np.array(load).reshape(len(own), len(fed)),
            np.array(steps).reshape(len(own), columns),
            np.array(limit),
            np.array(device, dtype=bool),
        )

    def _keep(self, flow: np.ndarray, x: np.ndarray, listed: list[Place], words: tuple) -> None:
        column = flow.argmax(axis=1)
        for k, (c, amps) in enumerate(zip(column.tolist(), flow.max(axis=1).tolist(), strict=True)):
            owner = self.owners[k]
            if owner not in self.best or amps > self.best[owner].current_a:
                opened, blocked, holding, on, ohmic = words
                held = [self.owners[n] if n >= 0 else f"{self.owners[~n]} backwards" for n in holding]
                state = (
                    f"{listed[c % len(listed)].name}, {x[c]:.6g} A, open {[self.owners[n] for n in opened]}, "
                    f"blocked {[self.owners[n] for n in blocked]}, "
                    f"holding {held}, on {on} {ohmic}"
                )
                self.best[owner] = Found(amps, state)


def _first_a(draw: Draw) -> float:
    if draw.kind == "power":
        return draw.demand / max(draw.least_v, 1.0)
    return draw.demand


def _ways_of_holding(holders: Sequence[int], branches: Sequence[_Branch]) -> Iterator[tuple[int, ...]]:
    """Which of some parts hold: ``k`` forwards, ``~k`` backwards, which an output never does."""
    for chosen in _subsets(holders):
        yield from itertools.product(*((k,) if branches[k].source else (k, ~k) for k in chosen))


def _subsets(members: Sequence) -> Iterator[tuple]:
    return itertools.chain.from_iterable(itertools.combinations(members, n) for n in range(len(members) + 1))


# -- one fault again -----------------------------------------------------------------------------------------


def carried(
    drawing: Drawing,
    at: str,
    to: str,
    fault_ohm: float,
    loads_a: Mapping[str, float],
    opened: Sequence[str] = (),
    inside: str | None = None,
    fault_a: float | None = None,
) -> dict[str, float]:
    """What every part carries with one fault of a resistance between two points and loads at fixed currents.

    Points are joints, or ``W7:0.25`` for a share of a conductor. Of a conductor with the fault on it the greater
    part counts. Diodes and parts that hold their current are tried in every combination until one agrees with
    itself. ``fault_a`` stands for the resistance where it is given.
    """
    parts: list[Part] = []
    owner: dict[str, str] = {}
    for part in drawing.parts:
        if part.id in opened:
            continue
        # A fault at the end of a conductor is just inside it: the little that is left carries the fault's current.
        cuts = sorted(
            (min(max(float(point.rpartition(":")[2]), END), 1.0 - END), point)
            for point in {at, to}
            if point.rpartition(":")[0] == part.id
        )
        stops, joints = [0.0], [part.a]
        for share, point in cuts:
            stops.append(share)
            joints.append(point)
        stops.append(1.0)
        joints.append(part.b)
        for n, (one, other) in enumerate(itertools.pairwise(joints)):
            name = part.id if len(joints) == 2 else f"{part.id}#{n}"
            owner[name] = part.id
            kind = "wire piece" if part.kind == "wire" else part.kind
            parts.append(
                replace(part, id=name, kind=kind, a=one, b=other, ohm=part.ohm * (stops[n + 1] - stops[n]))
            )
    sources = tuple(s for s in drawing.sources if s.id not in opened and s.id != inside)
    ohm = max(fault_ohm, LEAST_OHM) if fault_a is None else math.inf
    parts.append(Part("«fault»", "fault", at, to, ohm))
    circuit = _Circuit(replace(drawing, parts=tuple(parts), sources=sources))
    branches = circuit.branches
    diodes = [k for k, each in enumerate(branches) if each.diode]
    holders = [k for k, each in enumerate(branches) if each.holds and not each.folds]
    folding = [k for k, each in enumerate(branches) if each.folds]
    draws = [d for d in drawing.draws if loads_a.get(d.id, 0.0) > 0.0]
    if fault_a is not None:
        draws.append(Draw("«fault»", at, to, "current", fault_a))
        loads_a = {**loads_a, "«fault»": fault_a}
    amps = np.array([loads_a[d.id] for d in draws])
    plus = [circuit.node(d.plus) for d in draws]
    minus = [circuit.node(d.minus) for d in draws]
    for blocked, holding in itertools.product(_subsets(diodes), list(_ways_of_holding(holders, branches))):
        state = _State(circuit, frozenset(blocked), frozenset(holding))
        if not state.valid or any(state.piece[p] != state.piece[m] for p, m in zip(plus, minus, strict=True)):
            continue
        volts, through = _with_loads(state, plus, minus, draws, amps)
        fine = True
        for k in diodes:
            across = volts[branches[k].a] - volts[branches[k].b] + branches[k].emf_v
            fine &= across <= 1e-6 if k in blocked else through[k] >= -1e-6
        for k in holders:
            each = branches[k]
            spare = volts[each.a] - volts[each.b] + each.emf_v
            if k in holding or ~k in holding:
                fine &= (spare if k in holding else -spare) >= each.ohm * each.held_a - 1e-6
                continue
            most = each.held_a * (1.0 + 1e-6)
            fine &= through[k] <= most and (each.source or through[k] >= -most)
        fine &= all(through[k] <= branches[k].held_a * (1.0 + 1e-5) for k in folding)
        if fine:
            found: dict[str, float] = {}
            for each, flow in zip(branches, np.abs(through).tolist(), strict=True):
                name = owner.get(each.owner, each.owner)
                found[name] = max(flow, found.get(name, 0.0))
            return found
    raise NotReachedError("no state of diodes and holders agrees with itself")


def _with_loads(
    state: _State, plus: Sequence[int], minus: Sequence[int], draws: Sequence[Draw], stated: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """(N,) potentials and (B,) currents with loads that draw what is stated, and no more than their power or their
    resistance draws at the voltage that they then have; nothing where that is turned round.
    """
    if not draws:
        return state.own_v, state.own_a
    per_v, per_a = state.drawn(plus, minus)
    amps = stated.copy()
    for _ in range(ROUNDS):
        volts = state.own_v + per_v @ amps
        for n, draw in enumerate(draws):
            across = max(volts[plus[n]] - volts[minus[n]], 0.0)
            if draw.id != "«fault»" and across == 0.0:
                amps[n] = 0.0
                continue
            if draw.kind == "power" and draw.duty >= 1.0:
                most = draw.demand / across if across >= draw.least_v * (1.0 - 1e-6) else 0.0
            elif draw.kind == "resistance":
                most = across / draw.demand
            else:
                most = math.inf
            amps[n] = min(stated[n], most)
    return state.own_v + per_v @ amps, state.own_a + per_a @ amps
