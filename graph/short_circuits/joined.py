"""Short circuits in copper with several outputs or devices side by side, over every order in which devices may
open.

An output that is joined to others may be off, or have failed: that is what it was joined for. A short that only
all of them together clear would then be held, and what flows in a lead can be more without the others, where a
resistance is shared. So every short is also followed with some of the outputs off: of up to ``MOST_AT_WILL`` every
set of them, of more each alone and all but each. And with each of paths side by side the better or the worse one
by all that their bands allow (``unlike_paths``); mixtures in between are not followed: in random harnesses no
corner of all parts carried more than is told, and the slowest orders of opening had up to 7 % more heat.

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
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, product
from typing import TypeVar

import numpy as np

from loadloom.graph.circuit.blocks import find_blocks
from loadloom.graph.circuit.disagreeing import outputs_disagree
from loadloom.graph.circuit.network import BoolArray, Network
from loadloom.graph.circuit.unit_flows import branches_of
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.model.elements import Behaviour, Device, Output
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.short_circuits.clearing import Flow
from loadloom.graph.short_circuits.courses import Courses, JoinedCopper
from loadloom.graph.short_circuits.opening_times import NEGLIGIBLE_A, OpeningTimes
from loadloom.graph.short_circuits.unlike_paths import held_of, loops_of_copper, mixed, paths_beside
from loadloom.graph.structure.guards import Arrangement

Behind = tuple[str, int, tuple[int, ...]]
"""A device, the node just behind it, and the terminals of outputs to which it is shorted."""

Some = TypeVar("Some")

MOST_AT_WILL = 4
"""Joined outputs of which every set is tried off: 15 sets."""

MOST_BESIDE_OPEN = 3
"""Devices beside one of which every set is tried open: 8 sets."""

TOGETHER = 400_000
"""Numbers in the tables of the shorts that are followed at a time; no answer hangs on it."""

STATES_TOGETHER = 256
"""States that are worked out at a time; no answer hangs on it."""


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
    """The short circuits of one piece of copper at one corner, loads off.

    ``opposite``: the same piece at the opposite corner, as cold or warm. Paths side by side are mixed of both.
    """

    def __init__(
        self, piece: Network, opposite: Network, there: Arrangement, settings: AnalysisSettings, *, least: bool
    ) -> None:
        self.piece, self._opposite = piece, opposite
        self._thresholds = there.thresholds
        outputs = {o.output.id: o.output for o in there.outputs}
        self._parts: dict[str, Device | Output] = {
            name: there.devices[name] for name in piece.edge_ids if name in there.devices
        }
        self._parts |= {name: outputs[name] for name in piece.source_ids}
        self._times = OpeningTimes(tuple(self._parts.values()), there.thresholds, settings)
        self._held = holding_a(self._parts, there.thresholds, least=least)
        self._held_opposite = holding_a(self._parts, there.thresholds, least=not least)
        self.sets_off = sets_off(piece.source_ids)
        greatest = opposite if least else piece
        # What outputs that disagree through 0 Ω carry rests on placeholders: no mixture is worth anything there.
        self._unclear = outputs_disagree(len(greatest.node_ids), branches_of(greatest))
        self._loops = loops_of_copper(piece, opposite, set(there.devices))
        nothing = np.zeros(len(piece.edge_ids) + len(piece.source_ids), dtype=np.bool_)
        self._as_all_are = self._made(nothing, piece)
        self._copper: dict[bytes, tuple[JoinedCopper, BoolArray] | None] = {}
        self._courses: dict[tuple[int, int], list[tuple[Courses, int]]] = {}
        self.as_drawn: dict[str, None] = {}

    def follow(self, every: Iterable[tuple[int, int]]) -> None:
        """Follow the shorts between these nodes, many at a time, for ``flows``."""
        copper, off = self._as_all_are
        new = [ends for ends in dict.fromkeys(every) if ends not in self._courses]
        unlike: dict[bytes, list[tuple[int, int]]] = defaultdict(list)
        for some in self._batches(new):
            whole = Courses(copper, some, off)
            for k, ends in enumerate(some):
                self._courses[ends] = [(whole, k)]
                carried_a = np.abs(whole.current_a[whole.first[k]]).max(axis=0)[:-1]
                for key in self._unlike(ends, carried_a > NEGLIGIBLE_A):
                    unlike[key].append(ends)
        for key, those in unlike.items():
            made, gone = self._mixture(key)
            for some in self._batches(those):
                mixture = Courses(made, some, gone)
                for k, ends in enumerate(some):
                    self._courses[ends].append((mixture, k))

    def _mixture(self, key: bytes) -> tuple[JoinedCopper, BoolArray]:
        found = self._copper[key]
        assert found is not None  # others are not among ``_unlike``
        return found

    def _batches(self, every: Sequence[Some]) -> Iterator[Sequence[Some]]:
        copper = self._as_all_are[0].opened
        size = max(1, TOGETHER // ((len(copper.names) + 1) * (len(copper.at) + 1)))
        yield from (every[begin : begin + size] for begin in range(0, len(every), size))

    def flows(self, short: Short) -> tuple[Flow, ...]:
        """A short with every set of the piece's outputs off, in every mixture of paths side by side.

        Sets without which the part carries nothing are left out, as long as any other is left.
        """
        self.follow([short.ends])
        flows = [
            flow
            for courses, k in self._courses[short.ends]
            for flow in courses.flows(k, short.edge, self.sets_off, at_source_end=short.at_source_end)
        ]
        return tuple([flow for flow in flows if flow.own_a > NEGLIGIBLE_A] or flows[:1])

    def mixes(self, ends: tuple[int, int]) -> bool:
        """Whether a short that is followed was followed in mixtures of paths side by side."""
        return len(self._courses[ends]) > 1

    def greatest_behind(self, asked: Sequence[Behind]) -> list[float]:
        """For each device the greatest current in A through it in a short circuit just behind it, to any output's
        terminal, with every set of the outputs off and devices beside it open before it; no limit is counted on.
        """
        wanted: dict[bytes | None, list[tuple[int, tuple[int, int]]]] = defaultdict(list)
        for n, (_, far, terminals) in enumerate(asked):
            for ends in ((far, terminal) for terminal in terminals if terminal != far):
                for key in (None, *self._unlike(ends, None)):
                    wanted[key].append((n, ends))
        worst = np.zeros(len(asked))
        outs = [self._beside_out(device) for device, _, _ in asked]
        for key, pairs in wanted.items():
            copper = self._as_all_are[0] if key is None else self._mixture(key)[0]
            place = np.array([copper.opened.place[device] for device, _, _ in asked])
            for some in self._batches(pairs):
                shorts = copper.shorted([ends for _, ends in some])
                which = np.array([n for n, _ in some])
                shorts_at = np.repeat(np.arange(len(some)), [len(outs[n]) for n in which.tolist()])
                every = np.concatenate([outs[n] for n in which.tolist()])
                for begin in range(0, len(every), STATES_TOGETHER):
                    short, out = shorts_at[begin:][:STATES_TOGETHER], every[begin:][:STATES_TOGETHER]
                    table, swapped = copper.from_whole(shorts, short, out)
                    current_a, _ = copper.currents_a(shorts, short, out, swapped, table, limited=False)
                    of = which[short]
                    np.maximum.at(worst, of, np.abs(current_a[np.arange(len(of)), place[of]]))
        return [float(f"{amperes:.9g}") for amperes in worst.tolist()]  # so that rounding orders nothing

    def _beside_out(self, device: str) -> BoolArray:
        """Every set of outputs that is off with every set of devices beside one opened, as parts (N, P) out."""
        copper = self._as_all_are[0]
        off = [copper.named(names) for names in self.sets_off]
        opened = [copper.named(names) for names in self._opened_beside(device)]
        return np.array([one | other for one, other in product(off, opened)])

    def _opened_beside(self, device: str) -> list[tuple[str, ...]]:
        """Sets of devices in a loop of copper with one that may have opened before it: every set of up to
        ``MOST_BESIDE_OPEN``, of more each alone, all but each, and all.
        """
        names = self._beside.get(device, ())
        count = len(names)
        sizes = range(count + 1) if count <= MOST_BESIDE_OPEN else (0, 1, count - 1, count)
        return [some for size in sizes for some in combinations(names, size)]

    @cached_property
    def _beside(self) -> dict[str, tuple[str, ...]]:
        """By device: the others in its block of the copper that can open."""
        piece = self.piece
        closed = np.isfinite(piece.edge_resistance_ohm)
        label = find_blocks(len(piece.node_ids), piece.edge_a, piece.edge_b, closed).label
        opening = [
            name for name, part in self._parts.items() if isinstance(part, Device) and self._thresholds[name].opens
        ]
        block = {name: int(label[piece.edge_index[name]]) for name in opening}
        return {name: tuple(n for n in opening if n != name and block[n] == block[name]) for name in opening}

    def _unlike(self, ends: tuple[int, int], carried: BoolArray | None) -> Iterator[bytes]:
        """The mixtures of paths side by side of which any has a part that is ``carried`` (B,) a current, as far as
        that is known: keys of ``_copper``.
        """
        for beside in () if self._unclear else paths_beside(self.piece, self._loops, ends):
            if carried is not None and not any((mask & carried).any() for mask in beside.paths):
                continue
            if not beside.mixtures:
                self.as_drawn.update(self._named(np.any(beside.paths, axis=0)))
            for mask in beside.mixtures:
                key = mask.tobytes()
                if key not in self._copper:
                    made = mixed(self.piece, self._opposite, mask)
                    self._copper[key] = None if made is None else self._made(mask, made)
                if self._copper[key] is not None:
                    yield key

    def _made(self, mask: BoolArray, network: Network) -> tuple[JoinedCopper, BoolArray]:
        """The copper with the parts of a mask (B,) at the opposite corner, and the sets of outputs that are off."""
        held = held_of(self.piece, mask, self._held, self._held_opposite)
        # What may hold nothing counts as off: it clears nothing.
        gone = tuple(name for name, amperes in held.items() if amperes <= 0.0)
        held = {name: amperes for name, amperes in held.items() if amperes > 0.0}
        copper = JoinedCopper(network, self._parts, self._times, held, self._loops)
        return copper, np.array([copper.named((*names, *gone)) for names in self.sets_off])

    def _named(self, mask: BoolArray) -> dict[str, None]:
        names = (*self.piece.edge_ids, *self.piece.source_ids)
        return {name: None for name, inside in zip(names, mask.tolist(), strict=True) if inside}
