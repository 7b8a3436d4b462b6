"""Short circuits in copper with several outputs or devices side by side, over every order in which devices may
open.

An output that is joined to others may be off, or have failed: that is what it was joined for. A short that only
all of them together clear would then be held, and what flows in a lead can be more without the others, where a
resistance is shared. So every short is also followed with some of the outputs off: of up to ``MOST_AT_WILL`` every
set of them, of more each alone and all but each.

From state to state: of the devices that carry more than they certainly do, any whose fastest time is within the
slowest of those that are certain to open may be the first. Each is followed; the times are added up, as if nothing
had warmed up meanwhile. A limit that tries again is off and on: another device is certain to open beside it only
if it is in its pause, or at the lower of the currents of both. What an open device leaves in no loop counts as
open too, so that it is all one which of the devices of a lead has opened. Of more than ``courses.MOST_BESIDE``
states with as much open, those are followed in which the device that is certain first has opened each time, and the
few that are nearest to being held; the time of what leads to others counts as not stated.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from loadloom.graph.circuit.network import Network
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.model.elements import Behaviour, Device, Output
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.short_circuits.clearing import Flow
from loadloom.graph.short_circuits.courses import Courses, JoinedCopper
from loadloom.graph.short_circuits.opening_times import NEGLIGIBLE_A
from loadloom.graph.structure.guards import Arrangement

MOST_AT_WILL = 4
"""Joined outputs of which every set is tried off: 15 sets."""


def sets_off(outputs: Sequence[str]) -> list[tuple[str, ...]]:
    """Sets of outputs that may be off together, the empty one first; one is always left on."""
    count = len(outputs)
    sizes = range(count) if count <= MOST_AT_WILL else (0, 1, count - 1)
    return [names for size in sizes for names in combinations(outputs, size)]


def holding_a(
    parts: Mapping[str, Device | Output], thresholds: Mapping[str, Threshold], *, least: bool
) -> dict[str, float]:
    """What devices and outputs that limit without opening hold, in A by id: the most, or the least, which nobody
    states of a foldback.
    """
    found = {}
    for name, part in parts.items():
        limits = thresholds[name]
        if not limits.opens and math.isfinite(limits.held_a):
            lower = 0.0 if part.behaviour is Behaviour.FOLDBACK else limits.non_tripping_a or 0.0
            found[name] = lower if least else limits.held_a
    return found


@dataclass(frozen=True, slots=True)
class Short:
    """Where a short is in a piece: its two nodes, the edge whose part is asked for (None: nothing can flow in it),
    and whether it stands just behind the source end of that part, which then carries what comes from there, or
    from its other end.
    """

    ends: tuple[int, int]
    edge: int | None
    at_source_end: bool = False


class JoinedShorts:
    """The short circuits of one piece of copper at one corner, loads off."""

    def __init__(self, piece: Network, there: Arrangement, settings: AnalysisSettings, *, least: bool) -> None:
        self.piece = piece
        outputs = {o.output.id: o.output for o in there.outputs}
        parts: dict[str, Device | Output] = {
            name: there.devices[name] for name in piece.edge_ids if name in there.devices
        }
        parts |= {name: outputs[name] for name in piece.source_ids}
        held = holding_a(parts, there.thresholds, least=least)
        # What may hold nothing counts as off: it clears nothing.
        gone = tuple(name for name, amperes in held.items() if amperes <= 0.0)
        held = {name: amperes for name, amperes in held.items() if amperes > 0.0}
        self.sets_off = sets_off(piece.source_ids)
        self._copper = JoinedCopper(piece, parts, there.thresholds, settings, held)
        self._off = np.array([self._copper.named((*names, *gone)) for names in self.sets_off])
        self._courses: dict[tuple[int, int], Courses] = {}

    def flows(self, short: Short) -> tuple[Flow, ...]:
        """A short with every set of the piece's outputs off.

        Sets without which the part carries nothing are left out, as long as any other is left.
        """
        if short.ends not in self._courses:
            self._courses[short.ends] = Courses(self._copper, short.ends, self._off)
        found = self._courses[short.ends].flows(short.edge, at_source_end=short.at_source_end)
        flows = [replace(flow, outputs_off=off) for flow, off in zip(found, self.sets_off, strict=True)]
        return tuple([flow for flow in flows if flow.own_a > NEGLIGIBLE_A] or flows[:1])

    def greatest_behind(self, device: str, far: int, terminals: Sequence[int]) -> float:
        """The greatest current in A through a device in a short circuit just behind it, at the node ``far``, to any
        output's terminal, with every set of the outputs off; no limit is counted on.
        """
        copper = self._copper
        out = np.array([copper.named(names) for names in self.sets_off])
        swapped = np.zeros((len(out), len(copper.opened.at)), dtype=np.bool_)
        swapped[:, copper.column[copper.column >= 0]] = out[:, copper.column >= 0]
        found = [
            copper.currents_a(ends, copper.opened.shorted(*ends), out, swapped, None, limited=False)[0]
            for ends in ((far, terminal) for terminal in terminals if terminal != far)
        ]
        place = copper.opened.place[device]
        return max((float(np.abs(current_a[:, place]).max()) for current_a in found), default=0.0)
