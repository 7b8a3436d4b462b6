"""Let-through and exposure of the parts of a radial piece's return: the most of what lands behind each."""

from __future__ import annotations

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.unit_flows import BoolArray
from loadloom.graph.faults.radial.lands_on_return import Landing
from loadloom.graph.faults.radial.limits import RadialLimits
from loadloom.graph.faults.radial.part_answers import PartAnswers
from loadloom.graph.faults.radial.radial_piece import RadialPiece
from loadloom.graph.faults.radial.return_paths import WayParts, land_inside
from loadloom.graph.faults.tolerances import MET


def answer_returns(answer: PartAnswers, limits: RadialLimits, landing: Landing | None) -> None:
    """Fill in the parts of the return that all that lands behind them runs through, or a share of it."""
    piece, tree = answer.piece, answer.piece.tree
    some = np.flatnonzero(~answer.feed & (tree.bridge | tree.plain)[answer.parts])
    answer.let_a[~answer.feed] = 0.0
    if landing is None or not len(some):
        return
    upper, lower, shorts = _class_values(landing)
    k = answer.parts[some]
    bridge, plain = tree.bridge[k], tree.plain[k]
    at = np.where(bridge, answer.far[some], tree.exit[tree.label[k]])
    cls = landing.classes.of[at]
    limit = piece.held_a[np.where(bridge, answer.far[some], tree.entry[tree.label[k]])]
    share = np.ones(len(some))
    chain = tree.chain[k[plain]]
    share[plain] = tree.passing(chain)
    used = cls >= 0
    most = np.where(used, np.minimum(upper[cls], limit), 0.0)
    sure = np.where(used, np.minimum(lower[cls], limit), 0.0)
    answer.gain[some], answer.greatest_share[some] = share, share
    answer.let_a[some] = share * most
    met = share * sure >= answer.let_a[some] * (1.0 - MET)
    answer.exact[some] = met & (~acting_behind(piece, at) | (most >= limit * (1.0 - MET)))
    answer.combined_overload_a[some] = np.maximum(
        share * np.where(used, np.minimum(shorts[cls], limit), 0.0), answer.let_a[some]
    )
    name_return(answer, limits, landing, some[used], cls[used], most[used], limit[used])
    _own_ends(answer, limits, landing, dict(zip(some.tolist(), cls.tolist(), strict=True)))
    side_by_side = WayParts(some[plain], cls[plain], share[plain], limit[plain])
    land_inside(answer, limits, landing, side_by_side)


def _class_values(landing: Landing) -> tuple[FloatArray, FloatArray, FloatArray]:
    """By class: let-through of a part that carries all that lands there, what is surely reached, exposure."""
    return (
        landing.most.drawn_a + np.maximum(landing.most.more_a, 0.0),
        # Where all loads at once leave no voltage for a fault anywhere, what they draw is not surely drawn.
        np.where(landing.sure.more_a >= 0.0, landing.sure.drawn_a + landing.sure.more_a, 0.0),
        landing.shorts.drawn_a,
    )


def acting_behind(piece: RadialPiece, at: IntArray) -> BoolArray:
    """Whether a device of the return lies behind a forest node."""
    n = piece.tree.node_count
    acting = np.zeros(len(piece.forest.parent))
    acting[:n] = np.isfinite(piece.own_held_a) & ~piece.is_feed
    found: BoolArray = piece.forest.below(acting)[at] > 0.5
    return found


def name_return(
    answer: PartAnswers,
    limits: RadialLimits,
    landing: Landing,
    some: IntArray,
    cls: IntArray,
    most: FloatArray,
    limit: FloatArray,
) -> None:
    """Place, fault current, holder and loads beside it, for parts that carry all that lands behind them."""
    piece = answer.piece
    tie, region = landing.most.fault[cls], landing.most.region[cls]
    alone = np.where(tie >= 0, limits.tie_a[np.maximum(tie, 0)], 0.0)
    by_itself = (tie >= 0) & (alone >= most * (1.0 - MET))
    adds = (landing.most.more_a[cls] > 0.0) & (tie >= 0)
    answer.tie[some] = np.where(adds | by_itself, tie, -1)
    spared = np.where(region >= 0, region, -1)
    off = np.zeros(len(some))
    asked = np.flatnonzero((spared >= 0) & ~by_itself)
    if len(asked):
        off[asked] = _drawn_by(landing, spared[asked], cls[asked])
    fault = np.where(by_itself, most, np.maximum(landing.most.more_a[cls], 0.0) + off)
    fault = np.minimum(fault, np.maximum(most - np.maximum(landing.most.drawn_a[cls] - off, 0.0), 0.0))
    answer.fault_a[some] = np.where(by_itself, most, fault)
    answer.beside[some] = np.where(by_itself, -1, cls)
    answer.spared[some] = np.where(by_itself, -1, spared)
    # Who holds: the device of the region, a device of the return, or for a fault alone the one on its way.
    device = np.where(region >= 0, piece.device[np.maximum(region, 0)], -1)
    high_region = piece.region[piece.ties.high[np.maximum(tie, 0)]] if len(piece.ties.high) else tie
    alone_device = piece.device[piece.least_region[np.maximum(high_region, 0)]]
    alone_held = piece.held_a[piece.ties.high[np.maximum(tie, 0)]] if len(piece.ties.high) else most
    device = np.where(by_itself, np.where(alone_held <= most * (1.0 + MET), alone_device, -1), device)
    back = np.flatnonzero(limit <= most * (1.0 + MET))
    for q in back.tolist():
        device[q] = _return_device(piece, int(answer.near[some[q]]), float(limit[q]))
    answer.held_by[some] = device


def _return_device(piece: RadialPiece, node: int, held_a: float) -> int:
    """The device of that T on the way from a node to the return terminal."""
    for at in piece.return_devices(node):
        if piece.own_held_a[at] <= held_a * (1.0 + MET):
            return int(piece.bridge_of[at])
    return -1


def _drawn_by(landing: Landing, region: IntArray, cls: IntArray) -> FloatArray:
    """What the loads behind a region's device draw that land in a class and below, for each pair."""
    piece = landing.piece
    pairs, inverse = np.unique(np.stack([region, cls], axis=1), axis=0, return_inverse=True)
    inverse = inverse.reshape(-1)
    loads, forest = piece.piece.loads, piece.forest
    first = forest.entry[piece.top]
    last = forest.leave[piece.top]
    at_high = forest.entry[loads.plus[landing.drawing]]
    at_class = landing.returns.cls[len(piece.ties.high) :]
    order = np.argsort(at_class, kind="stable")
    sorted_class, sorted_high = at_class[order], at_high[order]
    drawn = piece.load_most_a[landing.drawing][order]
    found = np.zeros(len(pairs))
    low = np.searchsorted(sorted_class, pairs[:, 1])
    high = np.searchsorted(sorted_class, landing.classes.leave[pairs[:, 1]])
    for n, (r, i, j) in enumerate(zip(pairs[:, 0].tolist(), low.tolist(), high.tolist(), strict=True)):
        if r < 0:
            continue
        inside = (sorted_high[i:j] >= first[r]) & (sorted_high[i:j] < last[r])
        found[n] = drawn[i:j][inside].sum()
    return found[inverse]


def _own_ends(answer: PartAnswers, limits: RadialLimits, landing: Landing, cls_of: dict[int, int]) -> None:
    """Return conductors on which a fault can land: near the terminal less copper holds it down."""
    piece, own = answer.piece, answer.piece.own_ties
    row_of = np.full(len(piece.piece.branches.ids), -1, dtype=np.int64)
    conductors = np.flatnonzero(answer.is_conductor)
    row_of[answer.parts[conductors]] = conductors
    rows = row_of[own.branch]
    tree = piece.tree
    fine = (rows >= 0) & tree.bridge[np.minimum(own.branch, len(tree.bridge) - 1)]
    fine[fine] &= piece.ties.low[own.tie[fine]] == answer.near[rows[fine]]
    _exposed_at_ends(answer, limits, landing, rows[fine], own.tie[fine], cls_of)
    for row, tie in zip(rows[fine].tolist(), own.tie[fine].tolist(), strict=True):
        fault = float(limits.tie_a[tie])
        # The far end is a place as well; only where copper holds it down there can the near end be worse.
        if fault <= answer.let_a[row] * (1.0 + MET) and answer.exact[row]:
            continue
        cls = cls_of.get(row, -1)
        beside = float(landing.most.drawn_a[cls]) if cls >= 0 else 0.0
        limit = float(min(piece.held_a[piece.ties.high[tie]] + beside, piece.held_a[answer.near[row]]))
        total = min(fault + beside, limit)
        if total > answer.let_a[row] * (1.0 + MET):
            answer.let_a[row], answer.exact[row] = total, beside == 0.0
            answer.combined_overload_a[row] = max(float(answer.combined_overload_a[row]), total)
            answer.tie[row], answer.extent[row], answer.fault_a[row] = tie, 0.0, fault
            answer.beside[row], answer.spared[row] = (cls if beside else -1), -1
            region = int(piece.least_region[piece.region[piece.ties.high[tie]]])
            by_device = piece.held_a[piece.ties.high[tie]] <= fault * (1.0 + MET)
            answer.held_by[row] = int(piece.device[region]) if by_device else -1


def _exposed_at_ends(
    answer: PartAnswers,
    limits: RadialLimits,
    landing: Landing,
    rows: IntArray,
    ties: IntArray,
    cls_of: dict[int, int],
) -> None:
    """Exposure with the places at the near ends of return conductors, where copper holds something down."""
    piece = answer.piece
    more = np.bincount(rows, weights=limits.tie_short_a[ties], minlength=len(answer.parts))
    touched = np.unique(rows)
    cls = np.array([cls_of.get(row, -1) for row in touched.tolist()], dtype=np.int64)
    devices = np.where(cls >= 0, landing.devices.drawn_a[cls], np.inf)
    with_ends = np.minimum(
        np.minimum(answer.combined_overload_a[touched] + more[touched], devices), piece.held_a[answer.far[touched]]
    )
    answer.combined_overload_a[touched] = np.maximum(answer.combined_overload_a[touched], with_ends)
