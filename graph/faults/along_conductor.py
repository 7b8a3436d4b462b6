"""Where along a conductor a fault is worst, if not at an end.

Along a conductor at share s everything drawn at the point is (1 - s) at its one end and s at the other, plus
(1 - s) more in the near part and s less in the far part; the loop resistance is quadratic in s. The most is at
an end, where two rows cross, or where the short's current through the part is stationary: ``shares_along``
solves for all of these.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from loadloom.graph.faults.piece import TINY
from loadloom.graph.faults.places import OwnEnd, PieceGeometry, Place, Places, Point
from loadloom.graph.faults.response import LoadedVariant, Response
from loadloom.graph.solving.network import CHASSIS_NODE, FloatArray

ALMOST_DOUBLE = 1e-14
"""Share of its terms within which the discriminant of a quadratic is rounding."""


def places_along(
    geometry: PieceGeometry, loaded_variant: LoadedVariant, nodes: Places, loaded: Mapping[int, FloatArray] | None
) -> Places:
    """Places between the ends of conductors at which something can be worst.

    ``loaded``: the load currents (L,) with which the rows cross, by branch; None = no load and, in loops,
    every load as well.
    """
    made = Places()
    if loaded_variant.variant.dead >= 0:
        return made
    piece, branches = loaded_variant.variant.piece, loaded_variant.variant.piece.branches
    chosen = geometry.conductors if loaded is None else tuple(loaded)
    # Every conductor of a feed, between its two end places against the same other point.
    by_pair = {(p.high, p.low): n for n, p in enumerate(nodes.listed)}
    all_places = loaded_variant.response_at(nodes) if nodes.listed else None
    for k in chosen:
        a, b = Point.at_node(int(branches.a[k])), Point.at_node(int(branches.b[k]))
        for terminal in geometry.terminals.get(int(geometry.island[a.a]), ()):
            other = Point.at_node(terminal)
            for high in (True, False):
                ends = [by_pair.get((p, other) if high else (other, p)) for p in (a, b)]
                if ends[0] is None or ends[1] is None or all_places is None:
                    continue
                for share in _shares(loaded_variant, k, (ends[0], ends[1]), all_places, high, loaded):
                    point = Point(a.a, b.a, share, k)
                    label, name = f"{branches.ids[k]}:{share:.2f}", piece.node_ids[terminal]
                    kind = "chassis" if name == CHASSIS_NODE else "pinch"
                    place = (
                        Place(point, other, kind, label, name) if high else Place(other, point, kind, name, label)
                    )
                    made.own.append(OwnEnd(made.add(place), k, share, high))
    return made


def _shares(
    at: LoadedVariant,
    k: int,
    pair: tuple[int, int],
    response: Response,
    high: bool,
    loaded: Mapping[int, FloatArray] | None,
) -> list[float]:
    branches = at.variant.piece.branches
    flows = at.variant.flows
    a, b = int(branches.a[k]), int(branches.b[k])
    looped = bool(at.variant.piece.in_loop[k])
    around = flows.fall_ohm[a, a] + flows.fall_ohm[b, b] - 2.0 * flows.fall_ohm[a, b]
    bow = max(float(branches.resistance_ohm[k] - around), 0.0) if looped else 0.0
    ends = list(pair)
    if loaded is not None:
        draws = [loaded[k]]
    else:
        # With a constant-power load's most depending on the place, the greater of the two ends'.
        everything = response.most_a[ends].max(axis=0)
        draws = [np.zeros(len(at.plus)), *([everything] if looped and everything.any() else [])]
    sign = 1.0 if high else -1.0
    found: list[float] = []
    for drawn in draws:
        limit = at.variant.rows.limit - at.load_rows @ drawn
        found += shares_along(
            response.rows[:, ends].T,
            limit,
            response.loop_ohm[ends],
            bow,
            response.open_v[ends] - response.fall[ends] @ drawn,
            sign * response.branch[k, ends],
            looped=looped,
        )
    return sorted({round(s, 12) for s in found if 1e-6 < s < 1.0 - 1e-6})


def shares_along(
    rows: FloatArray,
    limit: FloatArray,
    loop_ohm: FloatArray,
    bow_ohm: float,
    open_v: FloatArray,
    through: FloatArray,
    *,
    looped: bool,
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
    if not looped:
        # On a bridge the rows don't change along it, nor does the open voltage: the short meets the tightest.
        if not len(usable) or r1 == r0:
            return []
        least_a = float((limit[usable] / np.maximum(g0, g1)[usable]).min())
        share = float((max(v0, v1) / least_a - r0) / (r1 - r0)) if least_a > TINY else 0.0
        return [share] if 0.0 < share < 1.0 else []
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
    met_twice = every[:, 1] <= least * (1.0 + 1e-7) if every.shape[1] > 1 else np.ones(len(shares), dtype=bool)
    short_holds = short[:, 0] <= least * (1.0 + 1e-9)
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
