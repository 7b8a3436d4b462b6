"""Faults from one output's way out onto another's, which drive current backwards along that."""

from __future__ import annotations

import numpy as np

from loadloom.graph.faults.radial.limits import RadialLimits, short_circuit_a
from loadloom.graph.faults.radial.loads import drawn_at_nodes
from loadloom.graph.faults.radial.part_answers import PartAnswers
from loadloom.graph.faults.radial.radial_piece import UNBOUNDED_A
from loadloom.graph.faults.radial.returns import greatest_in
from loadloom.graph.faults.radial.tree import along_path
from loadloom.graph.faults.tolerances import MET


def answer_across_outputs(answer: PartAnswers, limits: RadialLimits) -> None:
    """A fault from one output's way out onto another's drives its current backwards along that."""
    piece, tree, cross = answer.piece, answer.piece.tree, answer.piece.cross_ties
    if not len(cross.high):
        return
    at_source = np.zeros(tree.node_count, dtype=np.bool_)
    at_source[piece.plus] = True
    backwards = along_path(tree.parent, np.where(at_source, np.inf, piece.own_held_a), lesser=True)
    # What comes in backwards can feed the loads of that way out on its way.
    backwards = backwards + piece.forest.below(drawn_at_nodes(piece, piece.load_most_a))[tree.root]
    # The copper between is left out: on the safe side.
    ohm = piece.ohm[cross.high] + piece.ohm[tree.root[cross.low]]
    volts = piece.volts[cross.high] - piece.volts[cross.low]
    short = short_circuit_a(volts, ohm)
    fault = np.minimum(np.minimum(piece.held_a[cross.high], short), UNBOUNDED_A)
    forest = piece.forest
    order = np.argsort(forest.entry[cross.low], kind="stable")
    where = forest.entry[cross.low][order]
    some = np.flatnonzero(answer.feed)
    k = answer.parts[some]
    bridge = tree.bridge[k]
    behind = np.where(bridge, answer.far[some], tree.entry[tree.label[k]])
    low = np.searchsorted(where, forest.entry[behind])
    high = np.searchsorted(where, forest.leave[behind])
    best = greatest_in(fault[order], low, high)
    found = np.flatnonzero(best >= 0)
    some, bridge, behind = some[found], bridge[found], behind[found]
    tie = order[best[found]]
    share = np.where(bridge, 1.0, answer.greatest_share[some])
    value = share * np.minimum(fault[tie], backwards[behind])
    over = value > answer.let_a[some] * (1.0 + MET)
    p, tie = some[over], tie[over]
    answer.let_a[p], answer.fault_a[p], answer.gain[p] = value[over], value[over] / share[over], share[over]
    answer.tie[p], answer.cross[p], answer.extent[p] = tie, True, 1.0
    answer.beside[p], answer.exact[p] = -1, False
    region = piece.least_region[piece.region[cross.high[tie]]]
    holds = piece.held_a[cross.high[tie]] <= answer.fault_a[p] * (1.0 + MET)
    answer.held_by[p] = np.where(holds, piece.device[region], -1)
    # At once with the other output's own, and with its devices relieved by what comes in.
    fed = np.flatnonzero(answer.feed)
    fed = fed[limits.brought_in_a[piece.region[answer.near[fed]]] > 0.0]
    most = limits.limit_on_path_a[piece.region[answer.near[fed]]]
    most = np.where(np.isfinite(most), answer.greatest_share[fed] * most, 0.0)
    answer.combined_overload_a[fed] = np.maximum(answer.combined_overload_a[fed], most)
    answer.combined_overload_a[p] = np.maximum(answer.combined_overload_a[p], answer.let_a[p])
