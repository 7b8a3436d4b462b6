"""Many small linear programmes at once: written as one block-diagonal programme and given to the solver."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import scipy.sparse as sp

from loadloom.graph.circuit.network import FloatArray
from loadloom.graph.circuit.unit_flows import BoolArray

TOGETHER = 400
"""Programmes in one call: enough to make the call's own cost small."""


EXCESS = 1e-9
"""By so much a row may be exceeded through rounding, in its own unit."""


@dataclass(frozen=True)
class Programme:
    """Maximise ``gain · v`` over ``rows · v <= limit``, ``0 <= v <= most`` (inf where unbounded); ``possible``: it
    is known that something satisfies the rows.
    """

    gain: FloatArray
    rows: FloatArray
    limit: FloatArray
    most: FloatArray
    possible: bool = False

    @cached_property
    def impossible(self) -> bool:
        """Whether some row is exceeded whatever the variables do, each of them at most what any one row lets it be:
        no state satisfies the rows.
        """
        if self.possible or not (self.limit < -EXCESS).any():
            return False
        falling = np.where(self.rows < 0.0, self.rows, 0.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            eased = np.where(falling < 0.0, falling * self.most, 0.0)
            # What a row lets a variable be where all others ease it the most.
            room = self.limit + EXCESS - eased.sum(axis=1)
            lets = np.where(self.rows > 0.0, room[:, None] / self.rows, np.inf)
            most = np.minimum(self.most, lets.min(axis=0, initial=np.inf))
            least = np.where(falling < 0.0, falling * most, 0.0).sum(axis=1)
        return bool((most < 0.0).any() or (least > self.limit + EXCESS).any())

    @cached_property
    def reduced(self) -> tuple[BoolArray, BoolArray]:
        """Which rows can bind and which variables can matter, as boolean arrays.

        A variable that adds nothing and eases no row is 0; a row that holds whatever the variables do is left
        out.
        """
        rows = np.ones(len(self.limit), dtype=np.bool_)
        free = np.ones(len(self.gain), dtype=np.bool_)
        for _ in range(3):
            free = (self.gain > 0.0) | ((self.rows[rows] < 0.0).any(axis=0) if rows.any() else self.gain > 0.0)
            free &= self.most > 0.0
            positive = np.maximum(self.rows[:, free], 0.0)
            with np.errstate(invalid="ignore"):
                reach = np.where(positive > 0.0, positive * self.most[free], 0.0).sum(axis=1)
            rows = reach > self.limit
        return rows, free

    @property
    def doubtful(self) -> bool:
        """Whether a row is exceeded with all variables 0, so that there may be no state at all."""
        return not self.possible and bool((self.limit[self.reduced[0]] < -EXCESS).any())


def solve_programmes(programmes: Sequence[Programme]) -> list[FloatArray | None]:
    """The best variables of each; None where no state satisfies the rows or nothing bounds the gain."""
    possible = [p for p in programmes if not p.impossible]
    found: list[FloatArray | None] = []
    for start in range(0, len(possible), TOGETHER):
        found += _together(possible[start : start + TOGETHER])
    left = iter(found)
    return [None if p.impossible else next(left) for p in programmes]


def _feasible(programmes: Sequence[Programme]) -> list[bool]:
    """Which of the programmes have any state at all: the least excess over all rows is found, and must be 0."""
    blocks, gains, limits, tops = [], [], [], []
    for programme in programmes:
        rows, free = programme.reduced
        blocks.append(np.column_stack([programme.rows[np.ix_(rows, free)], np.full(rows.sum(), -1.0)]))
        gains.append(np.concatenate([np.zeros(free.sum()), [-1.0]]))
        limits.append(programme.limit[rows])
        tops.append(np.concatenate([programme.most[free], [np.inf]]))
    found = _linprog(blocks, gains, limits, tops)
    return [True for _ in programmes] if found is None else [float(part[-1]) <= EXCESS for part in found]


def _together(programmes: Sequence[Programme], checked: bool = False) -> list[FloatArray | None]:
    if not programmes:
        return []
    if not checked:
        doubtful = [p for p in programmes if p.doubtful]
        if doubtful and len(programmes) > 1:
            possible = iter(_feasible(doubtful))
            keep = [next(possible) if p.doubtful else True for p in programmes]
            left = iter(_together([p for p, yes in zip(programmes, keep, strict=True) if yes], True))
            return [next(left) if yes else None for yes in keep]
    kept = [p.reduced for p in programmes]
    blocks, gains, limits, tops = [], [], [], []
    for programme, (rows, free) in zip(programmes, kept, strict=True):
        blocks.append(programme.rows[np.ix_(rows, free)])
        gains.append(programme.gain[free])
        limits.append(programme.limit[rows])
        tops.append(programme.most[free])
    found = _linprog(blocks, gains, limits, tops)
    if found is None:
        if len(programmes) == 1:
            return [None]
        half = len(programmes) // 2  # one of them has no bound: find it, keep the others
        return _together(programmes[:half], True) + _together(programmes[half:], True)
    answers: list[FloatArray | None] = []
    for programme, (_, free), part in zip(programmes, kept, found, strict=True):
        whole = np.zeros(len(programme.gain))
        whole[free] = part
        answers.append(whole)
    return answers


def _linprog(
    blocks: list[FloatArray], gains: list[FloatArray], limits: list[FloatArray], tops: list[FloatArray]
) -> list[FloatArray] | None:
    gain = np.concatenate(gains)
    if not len(gain):
        return [np.zeros(0) for _ in gains] if all((limit >= -1e-9).all() for limit in limits) else None
    from scipy.optimize import Bounds, LinearConstraint, milp  # 0.1 s that many harnesses do without

    row, column, value = [], [], []
    row_start = column_start = 0
    for block in blocks:
        i, j = np.nonzero(block)
        row.append(i + row_start)
        column.append(j + column_start)
        value.append(block[i, j])
        row_start += block.shape[0]
        column_start += block.shape[1]
    matrix: Any = sp.coo_array(  # the stubs know dense matrices only
        (np.concatenate(value), (np.concatenate(row), np.concatenate(column))), shape=(row_start, column_start)
    ).tocsr()
    top = np.concatenate(tops)
    # Without integers ``milp`` solves the same with the same solver as ``linprog``, in two thirds of the time.
    right = np.concatenate(limits)
    rows_hold = [LinearConstraint(matrix, -np.inf, right)] if len(right) else []
    answer = milp(-gain, constraints=rows_hold, bounds=Bounds(0.0, top))
    if answer.status != 0:
        return None
    best: FloatArray = np.asarray(answer.x)
    return [np.asarray(part) for part in np.split(best, np.cumsum([len(g) for g in gains])[:-1])]
