"""Faults that land on one of several returns side by side, not only where they meet."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.unit_flows import BoolArray
from loadloom.graph.faults.radial.lands_on_return import Landing
from loadloom.graph.faults.radial.limits import RadialLimits
from loadloom.graph.faults.radial.part_answers import PartAnswers
from loadloom.graph.faults.radial.returns import Landed
from loadloom.graph.faults.radial.way_exposure import expose_paths, others_add
from loadloom.graph.faults.radial.way_ties import WayTies, ties_on_paths
from loadloom.graph.faults.tolerances import MET


class WayParts(NamedTuple):
    """Parts of returns side by side: position, class and share of what lands where the ways meet, and T in A."""

    some: IntArray
    cls: IntArray
    common: FloatArray
    limit: FloatArray


def land_inside(answer: PartAnswers, limits: RadialLimits, landing: Landing, ways: WayParts) -> None:
    """Parts of returns side by side where a fault can land on one of them, not only where they meet.

    A fault that lands at t on a way puts (total - t) / total of it on the parts towards the terminal, t / total
    the other way round on those beyond, total being the way with the others back. Where its share is above
    ``common``, the share of what lands where the ways meet, the fault comes first and the loads take what it
    leaves of the devices: share · x + common · (all that can flow - x).
    """
    piece, tree, ties = answer.piece, answer.piece.tree, answer.piece.ties
    some, cls, common, limit = ways
    found = ties_on_paths(piece)
    tie, way, t, t_most, own = found
    if not len(tie) or not len(some):
        return
    _on_other_paths(answer, limits, landing, ways, found.on_any_part)
    order = np.argsort(way, kind="stable")
    tie, way, t, t_most, own = tie[order], way[order], t[order], t_most[order], own[order]
    mine = tree.chain[answer.parts[some]]
    low, high = np.searchsorted(way, mine), np.searchsorted(way, mine + 1)
    row = np.repeat(np.arange(len(some)), high - low)
    which = np.arange(len(row)) - np.repeat(np.cumsum(high - low) - (high - low), high - low) + low[row]
    k = answer.parts[some[row]]
    fits = (own[which] < 0) | (own[which] == k)
    row, which, k = row[fits], which[fits], k[fits]
    if not len(row):
        return
    chain, here, here_most, is_own = mine[row], t[which], t_most[which], own[which] == k
    at_step = np.where(is_own, 0, tree.node_step[ties.low[tie[which]]])
    towards, away = (tree.step[k] <= at_step) | is_own, (tree.step[k] > at_step) | is_own
    share_to = np.where(towards, tree.direct(chain, here, here_most), 0.0)
    share_from = np.where(away, tree.around(chain, here, here_most), 0.0)
    place = tie[which]
    fault, spare = limits.tie_a[place], common[row]
    region = piece.region[ties.high[place]]
    all_of_it, surely = (
        _with_fault(landing, landed, loads, region, cls[row], fault)
        for landed, loads in ((landing.most, landing.most.drawn_a), (landing.sure, landing.sure.drawn_a))
    )
    all_of_it, surely = np.minimum(all_of_it, limit[row]), np.minimum(surely, limit[row])
    first = np.where(share_to > 0.0, share_to * fault + spare * np.maximum(all_of_it - fault, 0.0), 0.0)
    left = np.maximum(limits.tie_v[place] - landing.tie_fall_v[place], 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        by_copper = np.where(limits.tie_ohm[place] > 0.0, left / limits.tie_ohm[place], np.inf)
    with_loads = np.where(
        (share_to > 0.0) & (by_copper >= fault * (1.0 - MET)),
        share_to * fault + spare * np.maximum(surely - fault, 0.0),
        0.0,
    )
    value = np.maximum(first, share_from * fault)
    reached = np.maximum(with_loads, np.maximum(share_to, share_from) * fault)
    np.maximum.at(answer.greatest_share, some[row], np.maximum(share_to, share_from))
    at_joint = is_own & (here <= 0.0)
    expose_paths(answer, limits, landing, some, row, np.maximum(share_to, share_from), spare, region, at_joint)
    best = np.where(answer.exact[some], answer.let_a[some], 0.0)
    np.maximum.at(best, row, reached)
    order = np.lexsort((value, row))
    last = order[np.concatenate([row[order][1:] != row[order][:-1], [True]])]
    p = some[row[last]]
    over = value[last] > answer.let_a[p] * (1.0 + MET)
    settled = best[row[last]] >= answer.let_a[p] * (1.0 - MET)
    answer.exact[p[~over]] = answer.exact[p[~over]] | settled[~over]
    last, p = last[over], p[over]
    answer.let_a[p], answer.tie[p], answer.fault_a[p] = value[last], place[last], fault[last]
    answer.exact[p] = best[row[last]] >= value[last] * (1.0 - MET)
    answer.gain[p] = np.maximum(share_to, share_from)[last]
    answer.extent[p] = np.where(is_own[last], 0.0, 1.0)
    alone = answer.gain[p] * fault[last] >= value[last] * (1.0 - MET)
    answer.beside[p], answer.spared[p] = np.where(alone, -1, cls[row[last]]), np.where(alone, -1, region[last])
    answer.held_by[p] = _holder_beside(landing, region[last], cls[row[last]], fault[last], alone)
    answer.combined_overload_a[p] = np.maximum(answer.combined_overload_a[p], answer.let_a[p])


def _holder_beside(
    landing: Landing, region: IntArray, cls: IntArray, fault: FloatArray, alone: BoolArray
) -> IntArray:
    """The device that holds a fault in a region, ``alone`` or with the loads beside it that land in a class."""
    piece = landing.piece
    by_itself = np.where(
        piece.held_a[piece.top[region]] <= fault * (1.0 + MET), piece.device[piece.least_region[region]], -1
    )
    slack, tight = landing.returns.slack_and_region(landing.most, region, cls)
    beside = np.where(slack <= fault * (1.0 + MET), piece.device[tight], -1)
    return np.where(alone | (by_itself >= 0), by_itself, beside)


def _with_fault(
    landing: Landing, landed: Landed, drawn_a: FloatArray, region: IntArray, cls: IntArray, fault: FloatArray
) -> FloatArray:
    """All that can flow with a fault in a region and the loads that land in a class."""
    slack = landing.returns.slack_a(landed, region, cls)
    found: FloatArray = np.where(cls >= 0, drawn_a[cls], 0.0) + np.maximum(np.minimum(slack, fault), 0.0)
    return found


def _on_other_paths(
    answer: PartAnswers, limits: RadialLimits, landing: Landing, ways: WayParts, ties: WayTies
) -> None:
    """Faults on another way of the same block reach this one by the far joint, with t / rho of themselves."""
    piece, tree = answer.piece, answer.piece.tree
    some, cls, common, limit = ways
    tie, way, t, t_most, _ = ties
    if not len(tie):
        return
    label = tree.above[piece.ties.low[tie]]
    exit_class = landing.classes.of[tree.exit[label]]
    region = piece.region[piece.ties.high[tie]]
    part = tree.along(way, t, t_most)
    rows = np.flatnonzero(np.isin(tree.label[answer.parts[some]], label))
    for landed, is_sure in ((landing.most, False), (landing.sure, True)):
        slack = landing.returns.slack_a(landed, region, exit_class)
        fault = np.minimum(slack, limits.tie_a[tie])
        if is_sure:
            left = (limits.tie_v[tie] - landing.tie_fall_v[tie]) / np.maximum(limits.tie_ohm[tie], 1e-12)
            fault = np.minimum(fault, left)
        adds = part * np.maximum(fault, 0.0)
        # The greatest of each block, and the greatest not on that one's way.
        order = np.lexsort((-adds, label))
        first = order[np.concatenate([[True], label[order][1:] != label[order][:-1]])]
        best, best_path = np.zeros(len(tree.entry)), np.full(len(tree.entry), -1, dtype=np.int64)
        best_tie = np.full(len(tree.entry), -1, dtype=np.int64)
        best[label[first]], best_path[label[first]], best_tie[label[first]] = adds[first], way[first], tie[first]
        rest = np.flatnonzero(way != best_path[label])
        second, second_tie = np.zeros(len(tree.entry)), np.full(len(tree.entry), -1, dtype=np.int64)
        order = rest[np.argsort(adds[rest], kind="stable")]
        second[label[order]], second_tie[label[order]] = adds[order], tie[order]
        block, mine = tree.label[answer.parts[some[rows]]], tree.chain[answer.parts[some[rows]]]
        own_best = best_path[block] == mine
        more = np.where(own_best, second[block], best[block])
        which = np.where(own_best, second_tie[block], best_tie[block])
        drawn = np.where(cls[rows] >= 0, landed.drawn_a[cls[rows]], 0.0)
        value = common[rows] * np.minimum(drawn + more, limit[rows])
        p = some[rows]
        if is_sure:
            answer.exact[p] |= value >= answer.let_a[p] * (1.0 - MET)
            continue
        over = value > answer.let_a[p] * (1.0 + MET)
        p, which, more = p[over], which[over], more[over]
        answer.let_a[p], answer.exact[p], answer.tie[p], answer.extent[p] = value[over], False, which, 1.0
        share = part[np.argsort(tie)][np.searchsorted(np.sort(tie), which)]
        answer.fault_a[p] = more / np.maximum(share, 1e-12)
        answer.gain[p] = common[rows][over] * share
        answer.beside[p], answer.spared[p] = cls[rows][over], -1
        answer.held_by[p] = _holder_beside(
            landing,
            piece.region[piece.ties.high[which]],
            answer.beside[p],
            answer.fault_a[p],
            np.zeros(len(p), dtype=np.bool_),
        )
        answer.combined_overload_a[p] = np.maximum(answer.combined_overload_a[p], answer.let_a[p])
    add = others_add(limits, landing)[tree.label[answer.parts[some]]]
    through = np.where(cls >= 0, landing.shorts.drawn_a[cls], 0.0) + add
    answer.combined_overload_a[some] = np.maximum(
        answer.combined_overload_a[some], common * np.minimum(through, limit)
    )
