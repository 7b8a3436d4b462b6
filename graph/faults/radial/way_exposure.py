"""Exposure of returns side by side: every region at once, landing on the ways and where they meet."""

from __future__ import annotations

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.unit_flows import BoolArray
from loadloom.graph.faults.radial.lands_on_return import Landing
from loadloom.graph.faults.radial.limits import RadialLimits
from loadloom.graph.faults.radial.part_answers import PartAnswers
from loadloom.graph.faults.radial.radial_piece import RadialPiece
from loadloom.graph.faults.radial.way_ties import ties_on_paths
from loadloom.graph.faults.tolerances import MET


def expose_paths(
    answer: PartAnswers,
    limits: RadialLimits,
    landing: Landing,
    some: IntArray,
    row: IntArray,
    share: FloatArray,
    common: FloatArray,
    region: IntArray,
    outside: BoolArray,
) -> None:
    """Exposure of parts on whose way faults can land: what comes through where the ways meet, and what every
    region can bring onto the way itself, each at its greatest share. ``outside`` marks places at the joint
    towards the terminal, which only the conductor that ends there carries.
    """
    piece, tree = answer.piece, answer.piece.tree
    k = answer.parts[some]
    label, path_of = tree.label[k], tree.chain[k]
    limit = piece.held_a[tree.entry[label]]
    own_share = tree.passing(path_of)
    at_joint = landing.classes.of[tree.exit[label]]
    whole = landing.classes.of[tree.node_count + label]
    all_a = np.where(whole >= 0, landing.devices.drawn_a[whole], 0.0)
    order = np.lexsort((-share, region, row))
    one = order[
        np.concatenate([[True], (row[order][1:] != row[order][:-1]) | (region[order][1:] != region[order][:-1])])
    ]
    one = one[~_covered(piece, row[one], region[one], share[one])]
    path_a = limits.limit_on_path_a[region[one]]
    # What a region can add to what already comes through where the ways meet.
    adds = landing.returns.slack_a(landing.shorts, region[one], at_joint[row[one]])
    adds = np.clip(adds, 0.0, path_a)
    past = share[one] > common[one]
    past_a = np.multiply(share[one] - common[one], path_a, out=np.zeros(len(one)), where=past)
    more = np.bincount(row[one], weights=past_a, minlength=len(some))
    own_adds = np.bincount(row[one], weights=adds, minlength=len(some))
    extra = np.bincount(row[one], weights=np.where(outside[one], path_a, 0.0), minlength=len(some))
    through = np.where(at_joint >= 0, landing.shorts.drawn_a[at_joint], 0.0) + own_adds
    through = np.minimum(through + others_add(limits, landing)[label], all_a + extra)
    value = own_share * np.minimum(through, limit) + more
    value = np.minimum(value, answer.greatest_share[some] * np.minimum(all_a + extra, limit))
    answer.combined_overload_a[some] = np.maximum(answer.combined_overload_a[some], value)


def _covered(piece: RadialPiece, row: IntArray, region: IntArray, share: FloatArray) -> BoolArray:
    """Of regions that land in the same rows: those inside another one that lands with no lesser share."""
    above = piece.above
    size = len(above) + 1
    keys = row * size + region
    order = np.argsort(keys)
    found = np.zeros(len(row), dtype=np.bool_)
    at = above[region]
    while (at >= 0).any():
        asked = row * size + np.maximum(at, 0)
        place = np.minimum(np.searchsorted(keys[order], asked), max(len(keys) - 1, 0))
        hit = order[place]
        found |= (at >= 0) & (keys[hit] == asked) & (share[hit] >= share * (1.0 - MET))
        at = np.where(at >= 0, above[np.maximum(at, 0)], -1)
    return found


def others_add(limits: RadialLimits, landing: Landing) -> FloatArray:
    """(blocks,) what the regions that can land on any way of a block add where its ways meet, each weighed by
    how much of it goes round by there.
    """
    piece, tree = landing.piece, landing.piece.tree
    tie, way, t, t_most, _ = ties_on_paths(piece).on_any_part
    if not len(tie):
        return np.zeros(len(tree.entry))
    label = tree.above[piece.ties.low[tie]]
    region = piece.region[piece.ties.high[tie]]
    part = tree.along(way, t, t_most)
    order = np.lexsort((-part, region, label))
    new = (label[order][1:] != label[order][:-1]) | (region[order][1:] != region[order][:-1])
    one = order[np.concatenate([[True], new])]
    one = one[~_covered(piece, label[one], region[one], part[one])]
    adds = landing.returns.slack_a(landing.shorts, region[one], landing.classes.of[tree.exit[label[one]]])
    adds = np.clip(adds, 0.0, limits.limit_on_path_a[region[one]])
    return np.bincount(label[one], weights=part[one] * adds, minlength=len(tree.entry)).astype(np.float64)
