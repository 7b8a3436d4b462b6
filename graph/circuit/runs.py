"""Branches in series: the runs of a loop from one joint to the next."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.unit_flows import BoolArray


@dataclass(frozen=True)
class Run:
    """Branches in series from the joint ``first`` to the joint ``last``, and their signs along that way."""

    branches: IntArray
    signs: FloatArray
    first: int
    last: int


def runs_between(a: IntArray, b: IntArray, inside: IntArray, joint: BoolArray) -> tuple[Run, ...]:
    """The runs of the branches ``inside``, given by position, of all that lead from ``a`` to ``b`` (B,).

    ``joint`` (N,): where runs end. Every other node of theirs joins two of these branches.
    """
    ends_a, ends_b = a.tolist(), b.tolist()
    near: dict[int, list[int]] = defaultdict(list)
    for k in inside.tolist():
        near[ends_a[k]].append(k)
        near[ends_b[k]].append(k)
    done: set[int] = set()
    found: list[Run] = []
    for start in sorted(node for node in near if joint[node]):
        for first in near[start]:
            if first in done:
                continue
            members: list[int] = []
            signs: list[float] = []
            node, k = start, first
            while True:
                done.add(k)
                members.append(k)
                signs.append(1.0 if ends_a[k] == node else -1.0)
                node = ends_b[k] if ends_a[k] == node else ends_a[k]
                if joint[node]:
                    break
                k = near[node][0] if near[node][1] == k else near[node][1]
            found.append(Run(np.array(members, dtype=np.int64), np.array(signs), start, node))
    return tuple(found)
