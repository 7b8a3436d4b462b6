"""Where along a conductor a fault is worst, if not at an end.

Along a conductor at share s everything drawn at the point is (1 - s) at its one end and s at the other, plus
(1 - s) more in the near part and s less in the far part; the loop resistance is quadratic in s. The most is at
an end, where two rows cross, or where the short's current through the part is stationary: ``shares_in_loop``
solves for all of these.
"""

from __future__ import annotations

import numpy as np

from loadloom.graph.circuit.network import FloatArray
from loadloom.graph.faults.response import LoadedVariant, Response
from loadloom.graph.faults.stretches import Stretch
from loadloom.graph.faults.tolerances import ALMOST_DOUBLE, AT_AN_END, MET, SAME, TINY


def shares_on_bridges(rows: FloatArray, limit: FloatArray, loop_ohm: FloatArray, open_v: FloatArray) -> FloatArray:
    """(K,) share of each of K bridges up to which the whole of what its rows let through is still driven; NaN
    where that is an end.

    ``rows`` (R, K, 2), ``loop_ohm`` and ``open_v`` (K, 2): with the fault at either end. On a bridge the rows don't
    change along it, nor does the open voltage: the short meets the tightest row.
    """
    per_fault = rows.max(axis=2)
    with np.errstate(divide="ignore", invalid="ignore"):
        usable = (per_fault > TINY) & (limit > TINY)[:, None]
        least_a = np.where(usable, limit[:, None] / per_fault, np.inf).min(axis=0, initial=np.inf)
        share = (open_v.max(axis=1) / least_a - loop_ohm[:, 0]) / (loop_ohm[:, 1] - loop_ohm[:, 0])
    inside = np.isfinite(least_a) & (share > AT_AN_END) & (share < 1.0 - AT_AN_END)
    found: FloatArray = np.where(inside, share.round(12), np.nan)
    return found


def shares_in_loop(at: LoadedVariant, stretch: Stretch, response: Response, drawn: FloatArray) -> set[float]:
    """Shares along a conductor of a loop at which something can be worst, with loads drawing ``drawn`` (L,) A."""
    flows, branches, k = at.variant.flows, at.variant.piece.branches, stretch.conductor
    a, b = int(branches.a[k]), int(branches.b[k])
    around = flows.fall_ohm[a, a] + flows.fall_ohm[b, b] - 2.0 * flows.fall_ohm[a, b]
    ends = list(stretch.corners)
    found = _shares(
        response.rows[:, ends].T,
        at.variant.rows.limit - at.load_rows @ drawn,
        response.loop_ohm[ends],
        max(float(branches.resistance_ohm[k] - around), 0.0),
        response.open_v[ends] - response.fall[ends] @ drawn,
        (1.0 if stretch.high >= 0 else -1.0) * response.branch[k, ends],
    )
    return {round(s, 12) for s in found if AT_AN_END < s < 1.0 - AT_AN_END}


def _shares(
    rows: FloatArray,
    limit: FloatArray,
    loop_ohm: FloatArray,
    bow_ohm: float,
    open_v: FloatArray,
    through: FloatArray,
) -> list[float]:
    """Shares s in 0…1 along a conductor at which the most current on it or on anything else can stand.

    ``rows`` (2, R), ``loop_ohm``, ``open_v``, ``through`` (2,): values with the fault at s = 0 and s = 1; all
    but the loop resistance, ``(1-s)·r0 + s·r1 + s·(1-s)·bow_ohm``, are linear in s. The fault current is the
    least of limit/row and open voltage/loop resistance; its maxima times a linear share lie at an end, where
    two of these cross, or where the short's current through the near or far part is stationary.
    """
    g0, g1 = rows
    r0, r1 = loop_ohm
    v0, v1 = open_v
    loop = np.array([-bow_ohm, r1 - r0 + bow_ohm, r0])
    volts = np.array([v1 - v0, v0])
    usable = np.flatnonzero(((g0 > TINY) | (g1 > TINY)) & (limit > TINY))
    # A row meets the short: limit · loop = volts · row, both quadratic in s.
    slope, level = g1[usable] - g0[usable], g0[usable]
    meets = limit[usable, None] * loop[None, :]
    meets -= np.stack([slope * volts[0], slope * volts[1] + level * volts[0], level * volts[1]], axis=1)
    # (f / loop)' = 0 with f the near or far part's share of the short times its voltage: the cubic terms cancel.
    per_s, near = through[1] - through[0] - 1.0, through[0]
    tops = np.array(
        [[per_s * volts[0], per_s * volts[1] + at_0 * volts[0], at_0 * volts[1]] for at_0 in (near + 1.0, near)]
    )
    stationary = np.stack(
        [
            tops[:, 0] * loop[1] - tops[:, 1] * loop[0],
            2.0 * (tops[:, 0] * loop[2] - tops[:, 2] * loop[0]),
            tops[:, 1] * loop[2] - tops[:, 2] * loop[1],
        ],
        axis=1,
    )
    # Two rows cross.
    first, second = np.triu_indices(len(usable), 1)
    i, j = usable[first], usable[second]
    crossing = np.zeros((len(i), 3))
    crossing[:, 1] = limit[i] * (g1[j] - g0[j]) - limit[j] * (g1[i] - g0[i])
    crossing[:, 2] = limit[i] * g0[j] - limit[j] * g0[i]
    candidates = _real_roots(np.concatenate([meets, stationary, crossing]))
    inside = np.unique(candidates[(candidates > 0.0) & (candidates < 1.0)])
    edges: list[float] = _on_the_edge(inside, rows, limit, loop, volts).tolist()
    return edges


def _on_the_edge(
    shares: FloatArray, rows: FloatArray, limit: FloatArray, loop: FloatArray, volts: FloatArray
) -> FloatArray:
    """Of the shares, those where the least of all rows is met twice, or the short alone holds."""
    if not len(shares):
        return shares
    g = rows[0][None] * (1.0 - shares)[:, None] + rows[1][None] * shares[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(g > TINY, np.maximum(limit, 0.0)[None] / g, np.inf)
        short = (np.polyval(volts, shares) / np.polyval(loop, shares))[:, None]
    every = np.sort(np.concatenate([ratio, short], axis=1), axis=1)
    least = every[:, 0]
    met_twice = every[:, 1] <= least * (1.0 + SAME) if every.shape[1] > 1 else np.ones(len(shares), dtype=bool)
    short_holds = short[:, 0] <= least * (1.0 + MET)
    return shares[met_twice | short_holds]


def _real_roots(quadratics: FloatArray) -> FloatArray:
    """All real roots of K polynomials (K, 3) of at most the second degree, the highest power first.

    By the form that loses no digits: q = -(b + sign(b) · root(b² - 4ac)) / 2, roots q / a and c / q. Slightly
    negative b² - 4ac counts as 0: a double root must not be lost to rounding.
    """
    scale = np.abs(quadratics).max(axis=1, initial=0.0)
    a, b, c = np.where(np.abs(quadratics) > 1e-15 * scale[:, None], quadratics, 0.0).T
    inside = b * b - 4.0 * a * c
    inside = np.where(np.abs(inside) <= ALMOST_DOUBLE * (b * b + np.abs(4.0 * a * c)), 0.0, inside)
    with np.errstate(divide="ignore", invalid="ignore"):
        q = -0.5 * (b + np.where(b < 0.0, -1.0, 1.0) * np.sqrt(inside))
        both = np.concatenate([q / a, c / q])
    found: FloatArray = both[np.isfinite(both)]
    return found
