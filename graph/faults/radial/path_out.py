"""Let-through and exposure of the parts of ways out: a fault directly behind each, against the return terminal."""

from __future__ import annotations

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.faults.radial.limits import RadialLimits, short_circuit_a
from loadloom.graph.faults.radial.loads import drawn_at_nodes
from loadloom.graph.faults.radial.part_answers import PartAnswers
from loadloom.graph.faults.radial.radial_piece import LOAD, UNBOUNDED_A
from loadloom.graph.faults.radial.returns import greatest_in
from loadloom.graph.faults.tolerances import MET


def answer_way_out(answer: PartAnswers, limits: RadialLimits) -> None:
    """Fill in the parts of the ways out, a fault directly behind each."""
    _feed_bridges(answer, limits)
    _feed_paths(answer, limits)


def _feed_bridges(answer: PartAnswers, limits: RadialLimits) -> None:
    piece, tree = answer.piece, answer.piece.tree
    some = np.flatnonzero(answer.feed & tree.bridge[answer.parts])
    near, far = answer.near[some], answer.far[some]
    held, volts = piece.held_a[far], piece.volts[far]
    at_far = short_circuit_a(volts, piece.ohm[far])
    at_near = np.where(answer.is_conductor[some], short_circuit_a(volts, piece.ohm[near]), at_far)
    at_near = np.where(np.isfinite(np.minimum(held, at_near)), at_near, at_far)
    value = np.minimum(held, at_near)
    value = np.where(value < UNBOUNDED_A, value, 0.0)
    answer.let_a[some], answer.fault_a[some] = value, value
    # The furthest point that still takes it: the far end, or where the dead short has fallen to it.
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = (volts / value - piece.ohm[near]) / (piece.ohm[far] - piece.ohm[near])
    whole = at_far >= value * (1.0 - MET)
    reach = np.where(whole, 1.0, np.clip(np.nan_to_num(reach), 0.0, 1.0))
    answer.extent[some], answer.share[some] = reach, reach
    _name_holder(answer, some, held, value, piece.region[far])
    _name_load(answer, limits, some[whole], far[whole], value[whole])
    region = piece.region[far]
    behind = limits.shorts_behind_a[far]
    answer.combined_overload_a[some] = np.maximum(
        np.minimum(limits.limit_on_path_a[region], behind + at_near), value
    )


def _feed_paths(answer: PartAnswers, limits: RadialLimits) -> None:
    """Parts of ways side by side. From the near side the most is at the nearest point, from the far side at
    the furthest: the share falls faster along the way than the short.
    """
    piece, tree = answer.piece, answer.piece.tree
    some = np.flatnonzero(answer.feed & tree.plain[answer.parts])
    if not len(some):
        return
    k = answer.parts[some]
    entry, leave = tree.entry[tree.label[k]], tree.exit[tree.label[k]]
    rho, others = tree.rho[tree.chain[k]], tree.others[tree.chain[k]]
    total = rho + others
    held, volts, up = piece.held_a[entry], piece.volts[entry], piece.ohm[entry]
    sure, most = (
        piece.forest.below(drawn_at_nodes(piece, y))[leave] for y in (piece.load_sure_a, piece.load_most_a)
    )
    conductor = answer.is_conductor[some]

    def at(t: FloatArray) -> FloatArray:
        return up + t * (total - t) / total

    front = np.where(conductor, tree.t_near[k], tree.t_far[k])
    fallback = np.isinf(np.minimum(held, short_circuit_a(volts, at(front))))
    front = np.where(fallback, tree.t_far[k], front)
    front_most = np.where(conductor & ~fallback, tree.t_near_most[k], tree.t_far_most[k])
    share = tree.direct(tree.chain[k], front, front_most)
    passing, mutual = tree.passing(tree.chain[k]), up + front * others / total
    fault, beside = _beside(share, passing, held, volts, at(front), mutual, sure)
    value = share * fault + passing * beside
    top_fault, top_beside = _beside(share, passing, held, volts, at(front), mutual, most)
    upper = share * top_fault + passing * top_beside
    back = np.where(conductor, tree.t_far[k], tree.t_near[k])
    around = tree.around(tree.chain[k], back, np.where(conductor, tree.t_far_most[k], tree.t_near_most[k]))
    back_fault = np.minimum(held, short_circuit_a(volts, at(back)))
    back_value = around * np.where(np.isfinite(back_fault), back_fault, 0.0)
    from_back = back_value > upper
    answer.let_a[some] = np.where(from_back, back_value, upper)
    answer.exact[some] = from_back | (value >= upper * (1.0 - MET))
    answer.fault_a[some] = np.where(from_back, back_fault, top_fault)
    answer.gain[some] = np.where(from_back, around, share)
    answer.greatest_share[some] = np.maximum(share, around)
    answer.share[some] = np.where(conductor, np.where(from_back, 1.0, 0.0), np.where(from_back, 0.0, 1.0))
    answer.extent[some] = np.where(conductor, 0.0, 1.0)
    _name_holder(
        answer, some, held, answer.fault_a[some] + np.where(from_back, 0.0, top_beside), piece.region[entry]
    )
    limit = limits.limit_on_path_a[piece.region[entry]]
    answer.combined_overload_a[some] = np.maximum(answer.greatest_share[some] * limit, answer.let_a[some])


def _name_holder(
    answer: PartAnswers, some: IntArray, held: FloatArray, value: FloatArray, region: IntArray
) -> None:
    """The device that holds where a device does."""
    piece = answer.piece
    device = piece.device[piece.least_region[region]]
    answer.held_by[some] = np.where((held <= value * (1.0 + MET)) & (region >= 0), device, -1)


def _name_load(
    answer: PartAnswers, limits: RadialLimits, some: IntArray, node: IntArray, value: FloatArray
) -> None:
    """Name a load as the place where one behind a node takes as much as a pinch."""
    ties, forest = answer.piece.ties, answer.piece.forest
    loads = np.flatnonzero(np.array([kind == LOAD for kind in ties.kind], dtype=np.bool_))
    if not len(loads):
        return
    loads = loads[np.argsort(forest.entry[ties.high[loads]], kind="stable")]
    where = forest.entry[ties.high[loads]]
    low = np.searchsorted(where, forest.entry[node])
    high = np.searchsorted(where, forest.leave[node])
    best = greatest_in(limits.tie_a[loads], low, high)
    found = np.flatnonzero(best >= 0)
    found = found[limits.tie_a[loads[best[found]]] >= value[found] * (1.0 - MET)]
    answer.tie[some[found]] = loads[best[found]]


def _beside(
    share: FloatArray,
    load_share: FloatArray,
    held: FloatArray,
    volts: FloatArray,
    ohm: FloatArray,
    mutual_ohm: FloatArray,
    loads_a: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """The best fault current and load current beside it: the greater of no load, all of it, and as much as
    leaves device and short equal.
    """
    best_fault, best_load = np.zeros(len(share)), np.zeros(len(share))
    best = np.full(len(share), -np.inf)
    with np.errstate(divide="ignore", invalid="ignore"):
        short = np.where(ohm > 0.0, volts / ohm, np.inf)
        # held - y = (volts - mutual y) / ohm
        equal = np.where(np.isfinite(short) & (ohm > mutual_ohm), (held * ohm - volts) / (ohm - mutual_ohm), 0.0)
        equal = np.clip(np.nan_to_num(equal, nan=0.0, posinf=0.0, neginf=0.0), 0.0, np.minimum(loads_a, held))
        for load in (np.zeros(len(share)), equal, np.minimum(loads_a, held)):
            by_copper = np.where(ohm > 0.0, (volts - mutual_ohm * load) / ohm, np.inf)
            fault = np.maximum(np.minimum(held - load, by_copper), 0.0)
            value = np.where(np.isfinite(fault), share * fault + load_share * load, -np.inf)
            better = value > best * (1.0 + MET) + 1e-12
            best = np.where(better, value, best)
            best_fault = np.where(better, fault, best_fault)
            best_load = np.where(better, load, best_load)
    return best_fault, best_load
