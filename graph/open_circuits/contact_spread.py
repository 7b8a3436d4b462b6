"""Contact spread: what parallel paths carry when their contacts are not alike.

Every contact lies anywhere between new and aged, every wire within the band of its size and its length tolerance
(wires of one size differ by what make they are, where that is not stated). The current that a set
of paths has to share is held as solved; it moves among the paths inside their block. Two answers:

* *Worst combination* of each way: its own contacts new and its wires at their least resistance, all others' aged
  and at their greatest. For ways side by side between two joints nothing is worse (a way's share falls with its own
  resistance and rises with every other's). In a mesh it is the same combination, which need not be the worst there.
* *Drawn*: every resistance independently and evenly between its ends (common practice, no published source for
  the distribution), a number of draws with a fixed seed. The draws of a block depend on the seed and on its
  parts' ids alone, so that a change elsewhere in the drawing does not change them. The sum over the paths is
  that of the solve in every draw. The mean of one way differs from the solve at mean resistances by the
  curvature of the share, of second order in the relative spread, and by the sampling error.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from loadloom.graph.circuit.chains import BlockShape
from loadloom.graph.circuit.copper import Copper
from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.solution import Solution

BoolArray = npt.NDArray[np.bool_]

MOST_NUMBERS = 50_000_000
"""Drawn resistances in all; a harness of many parts gets fewer draws, not fewer than ``FEWEST_DRAWS``."""

FEWEST_DRAWS = 200
LARGEST_BLOCK = 3_000_000
"""Numbers of a block held at once; a larger block is drawn in slices."""

MOST_LOOPS = 150
"""A mesh of more independent loops is left out: its draws would cost more than all the rest."""

MOST_CORNERS = 10
"""Ways of a mesh, from one thing that is attached to the next, at whose corners currents are looked at: 1,024."""

MOST_MOVES = 8
"""Times that the resistances of a mesh of more ways are moved; nearly always three are enough."""

ALL_CHOICES = 300
"""Paths in parallel up to which every way's current is looked at under every way's worst combination; with more
only its own, which is the one that counts."""

FLOOR_SHARE = 1e-14
"""Resistance that stands for 0 Ω, as a share of the least other in the block."""

DEAD_SHARE = 1e-9
"""A set that carries less than this share of the harness' greatest current carries nothing."""


@dataclass(frozen=True)
class Spread:
    """Spread of one solution. E edges, positions as in ``solution.network``; NaN where an edge has no parallel
    path.

    ``uneven_a`` (E,): greatest magnitude under the worst combinations. ``share_p05``, ``share_p50``,
    ``share_p95`` (E,): share of the current that the set carries, over the draws. ``mean_a`` (E,): mean
    magnitude over the draws. ``overload_probability`` (E,): share of the draws above the allowed current, NaN
    where unrated. ``paths`` (E,): number of paths side by side, 0 where the block is a mesh. ``through_a`` (E,):
    current that enters the edge's block. ``set_number`` (E,): the block, -1 outside; ``path`` (E,): parts in
    series in it have the same number. ``draws`` is the number drawn, less than asked for in a very large
    harness. A mesh of more than ``MOST_LOOPS`` loops stays NaN. ``unsure`` (E,): parts of meshes for which
    ``uneven_a`` is not certain to be the worst, or NaN. ``meshed`` (E,): parts of rings and meshes with several
    places at which current leaves, some of whose resistances have a band. ``carries`` (E,): parts of blocks that
    carry enough to be shared, so that shares can be drawn.
    """

    solution: Solution
    uneven_a: FloatArray
    share_p05: FloatArray
    share_p50: FloatArray
    share_p95: FloatArray
    mean_a: FloatArray
    overload_probability: FloatArray
    paths: IntArray
    through_a: FloatArray
    set_number: IntArray
    path: IntArray
    draws: int
    unsure: BoolArray
    meshed: BoolArray
    carries: BoolArray

    def equal_a(self, edge: int) -> float | None:
        """Equal share in A of an edge in a set of paths side by side; None elsewhere."""
        return float(self.through_a[edge] / self.paths[edge]) if self.paths[edge] else None


def contact_spread(
    solution: Solution,
    least_ohm: FloatArray,
    greatest_ohm: FloatArray,
    *,
    allowed_a: FloatArray,
    draws: int,
    seed: int,
    only: BoolArray | None = None,
) -> Spread:
    """Spread the contacts and conductors of a solved network; with no ``draws`` by the worst combinations alone.

    ``least_ohm`` and ``greatest_ohm`` (E,): least and greatest resistance of every edge; ``allowed_a`` (E,), inf or
    NaN where unrated. ``only`` (E,): blocks with none of these parts are left out.
    """
    edges = len(solution.network.edge_ids)
    spreading = _Spreading(Copper(solution, conducting=True), least_ohm[:edges], greatest_ohm[:edges], allowed_a)
    return spreading.run(draws, seed, np.ones(edges, dtype=np.bool_) if only is None else only)


class _Spreading:
    def __init__(self, copper: Copper, low: FloatArray, high: FloatArray, allowed_a: FloatArray) -> None:
        self.copper, self.chains = copper, copper.chains
        edges = copper.edges
        sources = copper.resistance_ohm[edges:]
        self.low, self.high = np.concatenate([low, sources]), np.concatenate([high, sources])
        self.allowed_a = np.where(np.isnan(allowed_a), np.inf, allowed_a)
        nan = np.full(edges, np.nan)
        self.uneven, self.p05, self.p50, self.p95 = nan.copy(), nan.copy(), nan.copy(), nan.copy()
        self.mean, self.chance, self.through = nan.copy(), nan.copy(), nan.copy()
        self.least_a = DEAD_SHARE * float(np.abs(copper.current_a).max(initial=0.0))
        self.paths = np.zeros(edges, dtype=np.int64)
        self.number = np.full(edges, -1, dtype=np.int64)
        self.path = np.full(edges, -1, dtype=np.int64)
        shared = self.chains.member[self.chains.member < edges]
        self.unsure = np.zeros(edges, dtype=np.bool_)
        self.unsure[shared] = True
        self.meshed = self.unsure.copy()
        self.carries = np.zeros(edges, dtype=np.bool_)
        order = np.argsort(self.chains.segment, kind="stable")
        cuts = np.cumsum(np.bincount(self.chains.segment, minlength=self.chains.segments))[:-1]
        self.members = np.split(order, cuts)

    def run(self, draws: int, seed: int, only: BoolArray) -> Spread:
        parts = max(1, len(self.chains.member))
        draws = min(draws, max(FEWEST_DRAWS, MOST_NUMBERS // parts))
        for number, shape in enumerate(self.chains.shapes(MOST_LOOPS)):
            self._block(number, shape, draws, seed, only)
        return Spread(
            solution=self.copper.solution,
            uneven_a=self.uneven,
            share_p05=self.p05,
            share_p50=self.p50,
            share_p95=self.p95,
            mean_a=self.mean,
            overload_probability=self.chance,
            paths=self.paths,
            through_a=self.through,
            set_number=self.number,
            path=self.path,
            draws=draws,
            unsure=self.unsure,
            meshed=self.meshed,
            carries=self.carries,
        )

    def _block(self, number: int, shape: BlockShape, draws: int, seed: int, only: BoolArray) -> None:
        rows = [self.members[s] for s in shape.segment.tolist()]
        member = np.concatenate(rows)
        branch = self.chains.member[member]
        is_edge = branch < self.copper.edges
        edge = branch[is_edge]
        if not only[edge].any():
            return
        segment = np.repeat(np.arange(len(rows)), [len(row) for row in rows])
        block = _Block(
            shape=shape,
            segment=segment,
            solved_ohm=self.copper.resistance_ohm[branch],
            low_ohm=self.low[branch],
            high_ohm=self.high[branch],
            segment_a=self.copper.segment_a[shape.segment],
            driven=bool((branch >= self.copper.edges).any()),
        )
        through = self._through_a(member, branch)
        self.number[edge], self.through[edge] = number, through
        self.carries[edge] = through > self.least_a
        if shape.paths and is_edge.all():
            self.paths[edge] = shape.paths
        self.path[edge] = shape.segment[segment[is_edge]]
        self.uneven[edge] = block.worst()[segment[is_edge]]
        self.unsure[edge] = not block.certain
        self.meshed[edge] = not shape.paths and len(block.banded) > 0
        if not draws:
            return
        spread = bool((block.low_ohm < block.high_ohm).any())
        names = "\n".join(sorted(self.copper.solution.network.edge_ids[k] for k in edge.tolist()))
        rng = np.random.default_rng([seed, zlib.crc32(names.encode())])
        size = block.draw(rng, draws if spread else 1)
        ordered = np.sort(size, axis=0)
        p05, p50, p95 = (_point(ordered, share) for share in (0.05, 0.5, 0.95))
        scale = 1.0 / through if through > self.least_a else np.nan
        where = segment[is_edge]
        self.p05[edge], self.p50[edge], self.p95[edge] = p05[where] * scale, p50[where] * scale, p95[where] * scale
        self.mean[edge] = size.mean(axis=0)[where]
        limits = self.allowed_a[edge]
        for k, limit, column in zip(edge.tolist(), limits.tolist(), where.tolist(), strict=True):
            if np.isfinite(limit):
                over = len(ordered) - np.searchsorted(ordered[:, column], limit * (1 + 1e-9), side="right")
                self.chance[k] = over / len(ordered)

    def _through_a(self, member: IntArray, branch: IntArray) -> float:
        """Current that enters the block: half the sum of what its joints give or take."""
        current = self.copper.current_a[branch]
        ends = np.concatenate([self.copper.end_a[branch], self.copper.end_b[branch]])
        _, joint = np.unique(ends, return_inverse=True)
        return float(np.abs(np.bincount(joint, weights=np.concatenate([current, -current]))).sum() / 2)


def said_of(spreads: Iterable[Spread]) -> tuple[str, ...]:
    """What is said of the parts for which the worst sharing of the loads' currents is not certain."""
    sought, left, meshed = set[str](), set[str](), set[str]()
    for spread in spreads:
        meshed.update(spread.solution.network.edge_ids[k] for k in np.flatnonzero(spread.meshed).tolist())
        for k in np.flatnonzero(spread.unsure).tolist():
            (sought if np.isfinite(spread.uneven_a[k]) else left).add(spread.solution.network.edge_ids[k])
    said = []
    if meshed:
        said.append(
            f"{len(meshed)} parts lie in rings and meshes from which current is drawn at several places. The "
            "lowest voltages at loads are sought there from one mixture of their resistances to the next; one "
            "that is lower still is not ruled out, and the highest count with all resistances at one end."
        )
    if sought:
        said.append(
            f"{len(sought)} parts lie in meshes of more than {MOST_CORNERS} ways whose resistances have a band. "
            "Which mixture of resistances puts most of the loads' current on each was sought step by step; another "
            "mixture may put more on one."
        )
    if left:
        said.append(
            f"{len(left)} parts lie in meshes of more than {MOST_LOOPS} loops. They are held against the loads' "
            "currents as drawn; contacts and wires that are not alike may put more on one."
        )
    return tuple(said)


@dataclass(frozen=True)
class _Block:
    """One block: P parts with their range and ``segment`` (P,), M segments with their solved current.

    ``driven``: an output is in it.
    """

    shape: BlockShape
    segment: IntArray
    solved_ohm: FloatArray
    low_ohm: FloatArray
    high_ohm: FloatArray
    segment_a: FloatArray
    driven: bool

    @cached_property
    def banded(self) -> IntArray:
        """Segments whose resistance has a band."""
        band = np.bincount(self.segment, weights=self.high_ohm - self.low_ohm, minlength=len(self.segment_a))
        return np.flatnonzero(band > 0.0)

    @property
    def plain(self) -> bool:
        """Whether it is ways side by side with no output in one of them, so that all carry current the same way."""
        return self.shape.loops is None and not self.driven

    @property
    def certain(self) -> bool:
        """Whether no resistances within their bands put more on any segment than ``worst`` says."""
        return self.plain or len(self.banded) <= MOST_CORNERS

    def worst(self) -> FloatArray:
        """(M,) greatest magnitudes that resistances within their bands put on each segment.

        Of ways side by side each in turn has its least resistance and the others their greatest. In a mesh every
        corner counts, the ways being its segments: what is drawn along a chain makes it several. With too many of
        them resistances are moved to where the current rises.
        """
        if self.plain and len(self.segment_a) > ALL_CHOICES:
            return self._own_worst()
        count = len(self.segment_a)
        if self.plain:
            return self._most_of(count, lambda some: some[:, None] == np.arange(count))
        if self.certain:
            return self._most_of(2 ** len(self.banded), self._corners)
        # every segment in either direction, from all others at their greatest and from all at their least
        return self._most_of(
            4 * count, lambda some: (some[:, None] // 4 == np.arange(count)) | (some[:, None] & 1 > 0)
        )

    def _most_of(self, choices: int, at_least: Callable[[IntArray], BoolArray]) -> FloatArray:
        """(M,) greatest magnitudes over so many choices of the segments ``at_least`` (D, M) to begin with."""
        most = np.zeros(len(self.segment_a))
        step = self._step()
        for first in range(0, choices, step):
            some = np.arange(first, min(first + step, choices))
            chosen = at_least(some)
            for _ in range(1 if self.certain else MOST_MOVES):
                ohm = np.where(chosen[:, self.segment], self.low_ohm, self.high_ohm)
                amps = self.currents_a(ohm)
                most = np.maximum(most, np.abs(amps).max(axis=0))
                moved = chosen if self.certain else self._falls_with(some, self._chain_ohm(ohm), amps)
                if (moved == chosen).all():
                    break
                chosen = moved
        return most

    def _corners(self, some: IntArray) -> BoolArray:
        """(D, M) the segments at their least in each of ``some`` corners of those that have a band."""
        at_least = np.zeros((len(some), len(self.segment_a)), dtype=np.bool_)
        at_least[:, self.banded] = some[:, None] >> np.arange(len(self.banded)) & 1 > 0
        return at_least

    def _falls_with(self, choice: IntArray, chain_ohm: FloatArray, amps: FloatArray) -> BoolArray:
        """(D, M) whether the current of the segment of a ``choice`` (D,) falls as the resistance of each rises.

        dI/dR is -Y · I of the other, Y being the current per volt put in series with it (the compensation
        theorem, as in any book on circuits).
        """
        shape, place = self.shape, np.arange(len(choice))
        chain = shape.chain[choice // 4]
        if shape.loops is None:
            turned = shape.turn / chain_ohm
            per_v = -turned * (turned[place, chain] / np.abs(turned).sum(axis=1))[:, None]
            per_v[place, chain] += np.abs(turned[place, chain])
        else:
            matrix = (shape.loops[None] * chain_ohm[:, None, :]) @ shape.loops.T
            per_v = np.linalg.solve(matrix, shape.loops[:, chain].T[:, :, None])[:, :, 0] @ shape.loops
        along = np.where(choice & 2 > 0, 1.0, -1.0)
        found: BoolArray = along[:, None] * per_v[:, shape.chain] * amps > 0.0
        return found

    def _chain_ohm(self, resistance_ohm: FloatArray) -> FloatArray:
        """(D, C) resistances of the chains, none of them 0, at D sets of resistances (D, P)."""
        of_part = self.shape.chain[self.segment]  # ascending: a chain's parts stand together
        ohm = np.add.reduceat(resistance_ohm, np.flatnonzero(np.diff(of_part, prepend=-1)), axis=1)
        floor = FLOOR_SHARE * float(ohm[ohm > 0].min(initial=1.0))
        floored: FloatArray = ohm + floor * np.bincount(of_part)
        return floored

    def _own_worst(self) -> FloatArray:
        """(M,) magnitude of each of many paths under its own worst combination, from sums over all paths."""
        of_part = self.shape.chain[self.segment]
        first = np.flatnonzero(np.diff(of_part, prepend=-1))
        ends = []
        for ohm in (self.low_ohm, self.high_ohm):
            volts = np.add.reduceat((ohm - self.solved_ohm) * self.segment_a[self.segment], first)
            total = np.add.reduceat(ohm, first)
            floor = FLOOR_SHARE * float(total[total > 0].min(initial=1.0))
            ends.append((volts * self.shape.turn, 1.0 / (total + floor * np.bincount(of_part))))
        (low_v, low_s), (high_v, high_s) = ends
        drive = (high_s * high_v).sum() - high_s * high_v + low_s * low_v
        across = drive / (high_s.sum() - high_s + low_s)
        most: FloatArray = np.abs(self.segment_a + self.shape.turn * low_s * (across - low_v))
        return most

    def draw(self, rng: np.random.Generator, draws: int) -> FloatArray:
        """(draws, M) magnitudes at resistances drawn evenly between their ends."""
        size = np.empty((draws, len(self.segment_a)))
        step = self._step()
        for first in range(0, draws, step):
            count = min(step, draws - first)
            share = rng.random((count, len(self.segment))) if draws > 1 else np.full((1, len(self.segment)), 0.5)
            size[first : first + count] = self.currents_a(self.low_ohm + share * (self.high_ohm - self.low_ohm))
        return np.abs(size, out=size)

    def _step(self) -> int:
        """Sets of resistances at once."""
        loops = 0 if self.shape.loops is None else len(self.shape.loops)
        return max(1, LARGEST_BLOCK // max(len(self.segment), loops**2))

    def currents_a(self, resistance_ohm: FloatArray) -> FloatArray:
        """(D, M) currents of the segments at D sets of resistances (D, P).

        The solved currents obey the voltage law at the solved resistances, so only the change drives a loop:
        loops · R' · loopsᵀ · m = -loops · (R' - R) · I.
        """
        shape = self.shape
        of_part = shape.chain[self.segment]  # ascending: a chain's parts stand together
        first = np.flatnonzero(np.diff(of_part, prepend=-1))
        volts = np.add.reduceat((resistance_ohm - self.solved_ohm) * self.segment_a[self.segment], first, axis=1)
        ohm = self._chain_ohm(resistance_ohm)
        if shape.loops is None:  # ways side by side: one voltage over all
            conductance = 1.0 / ohm
            turned = volts * shape.turn
            across = (conductance * turned).sum(axis=1) / conductance.sum(axis=1)
            moved = shape.turn * conductance * (across[:, None] - turned)
        else:
            matrix = (shape.loops[None] * ohm[:, None, :]) @ shape.loops.T
            drive = -(volts @ shape.loops.T)
            moved = np.linalg.solve(matrix, drive[:, :, None])[:, :, 0] @ shape.loops
        answer: FloatArray = self.segment_a[None, :] + moved[:, shape.chain]
        return answer


def _point(ordered: FloatArray, share: float) -> FloatArray:
    """The value below which a share of the rows lies, between two rows in proportion."""
    place = share * (len(ordered) - 1)
    low = int(place)
    high = min(low + 1, len(ordered) - 1)
    point: FloatArray = ordered[low] + (place - low) * (ordered[high] - ordered[low])
    return point
