"""Which load on which channel: the assignment with the largest worst-case margin, by mixed-integer programming.

Variables x(l, c) ∈ {0, 1}, load l on channel c, and the margin m. Largest m with, for every channel c and case k,
Σ a(l, k, c)·x(l, c) ≤ limit(k, c)·(1 − m), every load on one channel that it may be on, loads to be kept together
on one, loads to be kept apart on different ones, and for every output o Σ s(l, k)·x(l, c) ≤ most(k, o) over the
channels behind it. Of all assignments with that margin the one that moves fewest loads from where they are counts.
A negative margin is the proof that nothing fits. Solver: HiGHS by ``scipy``.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.model.figures import figures

SAME_MARGIN = 1e-6
"""Margins that differ by less are the same to the solver."""

_WORST = -1e3
"""Least margin looked at."""

MOST_WORK = 40_000
"""Branches that the solver follows for one question, times the variables of each. A dozen loads on a few channels
never need as many. With many loads on channels that are alike the best spread is found long before the proof that
there is none better; the answer says what is not ruled out.
"""


MOST_WHOLE = 1_000
"""Variables with which the least number of channels is asked in whole loads, where it is known that they fit. With
more, what loads in parts would need stands as the number below which none does: whole ones were never decided.
"""


@dataclass(frozen=True)
class Problem:
    """Loads and channels. Shapes: L loads, K cases, C channels, O outputs.

    ``current_a`` (L, K, C): what a load asks of a channel in a case. ``limit_a`` (K, C): what a channel carries
    for certain; inf where it does not act. ``may`` (L, C): whether a load may be on a channel. ``today`` (L,): the
    channel that it is on, -1 = none of them. ``together``, ``apart``: sets of load numbers. ``alone``: loads that
    share their channel with none. ``behind`` (C,): the number of the output that a channel is behind;
    ``continuous_a``
    (L, K): what a load asks of it continuously; ``most_a`` (K, O): what all of them may; all three or none.
    """

    loads: tuple[str, ...]
    cases: tuple[str, ...]
    channels: tuple[str, ...]
    current_a: FloatArray
    limit_a: FloatArray
    may: FloatArray
    today: IntArray
    together: tuple[tuple[int, ...], ...] = ()
    apart: tuple[tuple[int, ...], ...] = ()
    alone: tuple[int, ...] = ()
    outputs: tuple[str, ...] = ()
    behind: tuple[int, ...] = ()
    continuous_a: FloatArray | None = None
    most_a: FloatArray | None = None


@dataclass(frozen=True, slots=True)
class ChannelUse:
    """One channel with what it would carry: its worst case, current and limit in A."""

    channel: str
    loads: tuple[str, ...]
    loads_today: tuple[str, ...]
    case: str
    current_a: float
    limit_a: float
    margin: float
    margin_today: float | None


@dataclass(frozen=True)
class Assignment:
    """The answer. ``margin`` None: the demands on which load may be where contradict each other, or none was found.

    ``fewest``: no fewer channels carry everything with no margin left; None where no number does. ``moved``:
    loads that leave their channel. ``reason`` is a sentence where the margin is negative, None or not proved to be
    the largest, else empty. ``most_margin``: no assignment has a greater margin; None where there is none.
    """

    channel_of: tuple[tuple[str, str], ...]
    margin: float | None
    margin_today: float | None
    fewest: int | None
    moved: tuple[str, ...]
    uses: tuple[ChannelUse, ...]
    reason: str
    most_margin: float | None = None


def margin_of(problem: Problem, channel: Sequence[int]) -> float:
    """Worst margin over channels and cases of an assignment: the channel's number for every load."""
    return float(_margins(problem, channel).min(initial=1.0))


def is_allowed(problem: Problem, channel: Sequence[int]) -> bool:
    """Whether an assignment keeps to where loads may be, what goes together, apart and alone, and to what outputs
    may be asked for.
    """
    if any(c < 0 or not problem.may[k, c] for k, c in enumerate(channel)):
        return False
    if any(len({channel[k] for k in names}) > 1 for names in problem.together):
        return False
    if any(channel[a] == channel[b] for names in problem.apart for a, b in itertools.combinations(names, 2)):
        return False
    if problem.continuous_a is not None and problem.most_a is not None:
        for o in range(len(problem.outputs)):
            mine = [k for k, c in enumerate(channel) if problem.behind[c] == o]
            if (problem.continuous_a[mine].sum(axis=0) > problem.most_a[:, o] * (1.0 + SAME_MARGIN)).any():
                return False
    return not any(
        channel[k] == c for a in problem.alone for k, c in enumerate([*channel]) if k != a and c == channel[a]
    )


def assign(problem: Problem) -> Assignment:
    """Solve the problem, to proven optimality where that takes no more than ``MOST_WORK``."""
    today = [int(c) for c in problem.today]
    margin_today = margin_of(problem, today) if all(c >= 0 for c in today) else None
    model = _Model(problem, margin=None)
    best = model.solve({model.margin: -1.0})
    if best.values is None:
        reason = _contradiction(problem) if best.proved else NOT_FOUND
        return Assignment((), None, margin_today, None, (), (), reason)
    channel, most = model.channels(best.values), -best.bound
    if margin_today is not None and is_allowed(problem, today) and margin_today > margin_of(problem, channel):
        channel = today
    channel = _fewest_moves(problem, channel)
    margin = margin_of(problem, channel)
    moved = tuple(n for n, new, old in zip(problem.loads, channel, today, strict=True) if new != old)
    reason = _too_much(problem, margin) if most < -SAME_MARGIN else ""
    if not best.proved and most > margin + SAME_MARGIN:
        reason = f"A larger margin is not ruled out, one above {figures(100.0 * most)} % is."
    return Assignment(
        tuple((name, problem.channels[c]) for name, c in zip(problem.loads, channel, strict=True)),
        margin,
        margin_today,
        fewest_channels(problem, fits=margin >= 0.0),
        moved,
        tuple(_uses(problem, channel, today)),
        reason,
        max(most, margin),
    )


NOT_FOUND = "Not determined: no assignment was found, and none was ruled out."


def fewest_channels(problem: Problem, *, fits: bool = False) -> int | None:
    """No fewer channels carry all loads within their limits; None where no number does. ``fits``: an assignment
    that does is known, so that a large problem is not asked for one.
    """
    model = _Model(problem, margin=0.0)
    loads, channels = len(problem.loads), len(problem.channels)
    used = model.extra(channels)
    for c in range(channels):
        for k in range(loads):
            model.row({model.x(k, c): 1.0, used + c: -1.0}, -np.inf, 0.0)
    # A channel that is not used carries nothing: without this, loads in parts on all of them would count as one.
    for (_, c), terms in model.shares():
        model.row({**terms, used + c: -1.0}, -np.inf, 0.0)
    if fits and model.count > MOST_WHOLE:
        model.whole = [0] * model.count
    answer = model.solve({used + c: 1.0 for c in range(channels)})
    if answer.proved and answer.values is None:
        return None
    return math.ceil(answer.bound - 1e-6)


def _fewest_moves(problem: Problem, channel: list[int]) -> list[int]:
    """An assignment with as much margin as a given one that moves the fewest loads, as far as one is found."""
    margin = margin_of(problem, channel)
    model = _Model(problem, margin=margin - SAME_MARGIN * max(1.0, abs(margin)))
    stays = {model.x(k, int(c)): -1.0 for k, c in enumerate(problem.today) if c >= 0}
    answer = model.solve(stays)
    found = channel if answer.values is None else model.channels(answer.values)

    def moves(each: list[int]) -> int:
        return sum(new != int(old) for new, old in zip(each, problem.today, strict=True))

    return min(found, channel, key=moves)


@dataclass(frozen=True, slots=True)
class _Answer:
    """``values`` of the variables, None where none were found; ``bound``: no values cost less; ``proved``: the
    values are the best, or there are none.
    """

    values: FloatArray | None
    bound: float
    proved: bool


SOLVED, INFEASIBLE = 0, 2
"""The solver's words for how it ended (``scipy.optimize.milp``)."""


class _Model:
    """The constraints of a problem; ``margin`` None makes it a variable."""

    def __init__(self, problem: Problem, margin: float | None) -> None:
        self.problem = problem
        loads, channels = len(problem.loads), len(problem.channels)
        self.count = loads * channels
        self.whole = [1] * self.count
        self.low = [0.0] * self.count
        self.high: list[float] = problem.may.ravel().astype(float).tolist()
        self.rows: list[tuple[dict[int, float], float, float]] = []
        self.margin = -1
        if margin is None:
            self.margin = self.extra(1, whole=False, low=_WORST)
        for k in range(loads):
            self.row({self.x(k, c): 1.0 for c in range(channels)}, 1.0, 1.0)
        self._limits(margin)
        self._outputs()
        self._neighbours()

    def x(self, load: int, channel: int) -> int:
        return load * len(self.problem.channels) + channel

    def extra(self, count: int, *, whole: bool = True, low: float = 0.0) -> int:
        first = self.count
        self.count += count
        self.whole += [int(whole)] * count
        self.low += [low] * count
        self.high += [1.0] * count
        return first

    def row(self, terms: dict[int, float], low: float, high: float) -> None:
        self.rows.append((terms, low, high))

    def channels(self, answer: FloatArray) -> list[int]:
        loads, channels = len(self.problem.loads), len(self.problem.channels)
        return [int(c) for c in answer[: loads * channels].reshape(loads, channels).argmax(axis=1)]

    def solve(self, cost: dict[int, float]) -> _Answer:
        from scipy.optimize import Bounds, LinearConstraint, milp  # 0.1 s that only this needs

        vector = np.zeros(self.count)
        for place, value in cost.items():
            vector[place] = value
        places = [(r, c, v) for r, (terms, _, _) in enumerate(self.rows) for c, v in terms.items()]
        r, c, v = zip(*places, strict=True) if places else ((), (), ())
        matrix = sp.csr_array((v, (r, c)), shape=(len(self.rows), self.count))
        limits = LinearConstraint(matrix, [low for _, low, _ in self.rows], [high for _, _, high in self.rows])
        answer = milp(
            vector,
            constraints=limits,
            integrality=np.array(self.whole),
            bounds=Bounds(np.array(self.low), np.array(self.high)),
            options={"mip_rel_gap": 0.0, "node_limit": max(1, MOST_WORK // self.count)},
        )
        if answer.status == INFEASIBLE:
            return _Answer(None, np.inf, proved=True)
        if answer.status != SOLVED and "limit" not in answer.message.lower():
            raise RuntimeError(f"the solver did not finish: {answer.message}")
        values = None if answer.x is None else np.asarray(answer.x)
        # Without whole numbers the best value is its own bound.
        bound = answer.mip_dual_bound if any(self.whole) else answer.fun
        bound = -np.inf if bound is None else bound
        return _Answer(values, float(bound), proved=answer.status == SOLVED)

    def shares(self) -> Iterable[tuple[tuple[int, int], dict[int, float]]]:
        """By case and channel that acts: what every load asks of it, in shares of its limit, so that a tolerance of
        the solver is one of the margin.
        """
        problem = self.problem
        for k, c in itertools.product(range(len(problem.cases)), range(len(problem.channels))):
            limit_a = float(problem.limit_a[k, c])
            if np.isfinite(limit_a) and limit_a > 0.0:
                asked = problem.current_a[:, k, c].tolist()
                yield (k, c), {self.x(n, c): float(a) / limit_a for n, a in enumerate(asked)}

    def _limits(self, margin: float | None) -> None:
        for _, terms in self.shares():
            if margin is None:
                self.row({**terms, self.margin: 1.0}, -np.inf, 1.0)
            else:
                self.row(terms, -np.inf, 1.0 - margin)

    def _outputs(self) -> None:
        problem = self.problem
        if problem.continuous_a is None or problem.most_a is None:
            return
        for k, o in itertools.product(range(len(problem.cases)), range(len(problem.outputs))):
            most_a = float(problem.most_a[k, o])
            if not np.isfinite(most_a) or most_a <= 0.0:
                continue
            mine = [c for c, at in enumerate(problem.behind) if at == o]
            terms = {
                self.x(n, c): float(a) / most_a for n, a in enumerate(problem.continuous_a[:, k]) for c in mine
            }
            self.row(terms, -np.inf, 1.0)

    def _neighbours(self) -> None:
        problem = self.problem
        loads, channels = range(len(problem.loads)), range(len(problem.channels))
        for names, c in itertools.product(problem.together, channels):
            for other in names[1:]:
                self.row({self.x(names[0], c): 1.0, self.x(other, c): -1.0}, 0.0, 0.0)
        for names, c in itertools.product(problem.apart, channels):
            self.row({self.x(k, c): 1.0 for k in names}, -np.inf, 1.0)
        for a, c in itertools.product(problem.alone, channels):
            for k in loads:
                if k != a:
                    self.row({self.x(a, c): 1.0, self.x(k, c): 1.0}, -np.inf, 1.0)


def _margins(problem: Problem, channel: Sequence[int]) -> FloatArray:
    """(K, C) margins; 1 where a channel carries nothing or does not act."""
    found = np.ones(problem.limit_a.shape)
    for c in range(len(problem.channels)):
        mine = [k for k, at in enumerate(channel) if at == c]
        total = problem.current_a[mine, :, c].sum(axis=0) if mine else np.zeros(len(problem.cases))
        limit = problem.limit_a[:, c]
        acts = np.isfinite(limit) & (limit > 0.0)
        found[acts, c] = 1.0 - total[acts] / limit[acts]
    return found


def _uses(problem: Problem, channel: Sequence[int], today: Sequence[int]) -> Iterable[ChannelUse]:
    after = _margins(problem, channel)
    before = _margins(problem, today)
    for c, name in enumerate(problem.channels):
        k = int(after[:, c].argmin())
        mine = [n for n, at in enumerate(channel) if at == c]
        yield ChannelUse(
            name,
            tuple(problem.loads[n] for n in mine),
            tuple(problem.loads[n] for n, at in enumerate(today) if at == c),
            problem.cases[k],
            float(problem.current_a[mine, k, c].sum()),
            float(problem.limit_a[k, c]),
            float(after[k, c]),
            float(before[:, c].min()) if all(at >= 0 for at in today) else None,
        )


def _too_much(problem: Problem, margin: float) -> str:
    """Why no assignment keeps all channels within their limits."""
    head = f"No assignment fits: the best one still asks {figures(-100.0 * margin)} % too much of a channel"
    for n, name in enumerate(problem.loads):
        spare = [
            float((problem.limit_a[:, c] - problem.current_a[n, :, c]).min())
            for c in range(len(problem.channels))
            if problem.may[n, c]
        ]
        if spare and max(spare) < 0.0:
            return (
                f"{head}, and {name} alone asks {figures(-max(spare))} A more than any channel that it may be on."
            )
    for k, case in enumerate(problem.cases):
        least = problem.current_a[:, k, :].min(axis=1).sum()
        total = problem.limit_a[k].sum()
        if np.isfinite(total) and least > total:
            return (
                f"{head}, since in case {case} the loads ask for {figures(float(least))} A and all channels "
                f"together carry {figures(float(total))} A."
            )
    few = _core(problem, margin=0.0)
    return f"{head}; these alone don't fit on {len(problem.channels)} channels{_of(problem)}: {', '.join(few)}."


def _of(problem: Problem) -> str:
    return f" within what {', '.join(problem.outputs)} may be asked for" if problem.outputs else ""


def _contradiction(problem: Problem) -> str:
    for k, name in enumerate(problem.loads):
        if not problem.may[k].any():
            return f"No channel is open to {name}: none has its voltage."
    few = _core(problem, margin=_WORST)
    return (
        f"What is to be together, apart and alone can't be kept with {len(problem.channels)} channels"
        f"{_of(problem)}: {', '.join(few)}."
    )


def _core(problem: Problem, margin: float) -> list[str]:
    """A smallest set of loads, by leaving out one after the other, that still can't be placed."""
    kept = list(range(len(problem.loads)))
    for k in list(kept):
        fewer = [n for n in kept if n != k]
        answer = _Model(_only(problem, fewer), margin=margin).solve({}) if fewer else None
        if answer is not None and answer.proved and answer.values is None:
            kept = fewer
    return [problem.loads[k] for k in kept]


def _only(problem: Problem, kept: Sequence[int]) -> Problem:
    place = {k: n for n, k in enumerate(kept)}

    def those(sets: Iterable[tuple[int, ...]]) -> tuple[tuple[int, ...], ...]:
        return tuple(found for names in sets if len(found := tuple(place[k] for k in names if k in place)) > 1)

    return Problem(
        tuple(problem.loads[k] for k in kept),
        problem.cases,
        problem.channels,
        problem.current_a[kept],
        problem.limit_a,
        problem.may[kept],
        problem.today[kept],
        those(problem.together),
        those(problem.apart),
        tuple(place[k] for k in problem.alone if k in place),
        problem.outputs,
        problem.behind,
        problem.continuous_a[kept] if problem.continuous_a is not None else None,
        problem.most_a,
    )
