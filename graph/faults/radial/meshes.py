"""Let-through and exposure of the parts of meshes, blocks that are no set of plain ways, as bounds."""

from __future__ import annotations

import numpy as np

from loadloom.graph.faults.radial.lands_on_return import Landing
from loadloom.graph.faults.radial.limits import RadialLimits
from loadloom.graph.faults.radial.part_answers import PartAnswers
from loadloom.graph.faults.radial.return_parts import name_return
from loadloom.graph.faults.radial.tree import DenseBlock
from loadloom.graph.faults.tolerances import MET


def answer_mesh(answer: PartAnswers, limits: RadialLimits, landing: Landing | None, block: DenseBlock) -> None:
    """Parts of a block that is no set of plain ways: a bound, reached where a device and no copper holds."""
    piece, tree = answer.piece, answer.piece.tree
    row_of = {k: n for n, k in enumerate(block.branches.tolist())}
    mine = np.flatnonzero(np.isin(answer.parts, block.branches))
    if not len(mine):
        return
    entry = block.entry
    index = {node: n for n, node in enumerate(block.nodes.tolist())}
    feed = bool(piece.is_feed[entry])
    held, volts, up = float(piece.held_a[entry]), float(piece.volts[entry]), float(piece.ohm[entry])
    own_ties: dict[int, list[int]] = {}
    if not feed:
        for k, tie in zip(piece.own_ties.branch.tolist(), piece.own_ties.tie.tolist(), strict=True):
            own_ties.setdefault(k, []).append(tie)
    cls = -1
    if not feed and landing is not None:
        cls = int(landing.classes.of[tree.node_count + block.label])
        if cls < 0:
            answer.let_a[mine] = answer.combined_overload_a[mine] = 0.0
            return
    for p in mine.tolist():
        k = int(answer.parts[p])
        mixed = [share[row_of[k]] for share in block.share] if block.known else []
        shares = np.max([np.abs(each) for each in mixed], axis=0) if block.known else np.ones(len(block.nodes))
        points = (
            [(float(s), up + float(o), int(n)) for s, o, n in zip(shares, block.ohm, block.nodes, strict=True)]
            if block.known
            else []
        )
        if answer.is_conductor[p] and block.known:
            for end, sign in ((int(piece.piece.branches.a[k]), -1.0), (int(piece.piece.branches.b[k]), 1.0)):
                through = [float(each[index[end]]) for each in mixed] if end in index else [0.0]
                # Just inside the end: the ampere leaves on the part's own other side.
                ohm = up + (float(block.ohm[index[end]]) if end in index else 0.0)
                points.append((max(abs(amps - sign) for amps in through), ohm, end))
        greatest = max((s for s, _, _ in points), default=1.0) if block.known else 1.0
        answer.greatest_share[p] = greatest
        if feed:
            with np.errstate(divide="ignore"):
                reached = max(
                    ((s * min(held, volts / o if o > 0.0 else np.inf), s, o, n) for s, o, n in points),
                    default=(0.0, 1.0, up, entry),
                    key=lambda item: item[0] if np.isfinite(item[0]) else -1.0,
                )
            most = greatest * min(held, volts / up if up > 0.0 else np.inf)
            value = most if np.isfinite(most) else reached[0]
            answer.let_a[p], answer.exact[p] = value, reached[0] >= value * (1.0 - MET)
            answer.gain[p] = greatest
            answer.fault_a[p] = value / greatest if greatest > 0.0 else 0.0
            near_end = reached[3] == answer.near[p]
            answer.share[p], answer.extent[p] = (0.0 if near_end else 1.0), (0.0 if answer.is_conductor[p] else 1.0)
            region = int(piece.region[entry])
            limit = float(limits.limit_on_path_a[region])
            answer.combined_overload_a[p] = max(greatest * limit, value) if np.isfinite(limit) else value
            holds = np.isfinite(held) and answer.fault_a[p] >= held * (1.0 - MET)
            answer.held_by[p] = int(piece.device[piece.least_region[region]]) if holds else -1
            continue
        if landing is None:
            continue
        most = min(float(landing.most.drawn_a[cls] + max(landing.most.more_a[cls], 0.0)), held)
        more = float(landing.sure.more_a[cls])
        sure = min(float(landing.sure.drawn_a[cls]) + more, held) if more >= 0.0 else 0.0
        ends = [n for n in block.nodes.tolist() if landing.classes.of[n] >= 0]
        at_nodes = [float(shares[index[n]]) for n in ends] if block.known else [1.0]
        top = max([*at_nodes, *([greatest] if own_ties.get(k) else [])], default=1.0)
        answer.let_a[p] = top * most
        answer.exact[p] = bool(
            len(ends) == 1 and not own_ties.get(k) and block.known and sure >= most * (1.0 - MET)
        )
        answer.gain[p], answer.greatest_share[p] = top, top
        answer.combined_overload_a[p] = max(top * min(float(landing.shorts.drawn_a[cls]), held), answer.let_a[p])
        name_return(answer, limits, landing, np.array([p]), np.array([cls]), np.array([most]), np.array([held]))
