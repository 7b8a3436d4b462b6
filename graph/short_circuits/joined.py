"""Short circuits in copper with several outputs or devices side by side, over every order in which devices may
open.

An output that is joined to others may be off, or have failed: that is what it was joined for. A short that only
all of them together clear would then be held, and what flows in a lead can be more without the others, where a
resistance is shared. So every short is also followed with some of the outputs off: of up to ``MOST_AT_WILL`` every
set of them, of more each alone and all but each.

From state to state: of the devices that carry more than they certainly do, any whose fastest time is within the
slowest of those that are certain to open may be the first. Each is followed; the times are added up, as if nothing
had warmed up meanwhile. A limit that tries again is off and on: another device is certain to open beside it only
if it is in its pause, or at the lower of the currents of both. Beyond ``MOST_STATES`` only the device that is
certain first is followed, and the time counts as not stated.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from loadloom.graph.circuit.network import Network, without
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.model.elements import Behaviour, Device, Output
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.short_circuits.clearing import Clearing, DeviceCurrents, Flow, Held, Openers, Retry, openers
from loadloom.graph.short_circuits.shorted_copper import Drawn, ShortedCopper
from loadloom.graph.structure.guards import Arrangement

MOST_AT_WILL = 4
"""Joined outputs of which every set is tried off: 15 sets."""

MOST_STATES = 128
"""States of opened devices that one short is followed through."""

NEGLIGIBLE_A = 1e-6
"""Below this a part counts as carrying nothing."""


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

    def own_a(self, drawn: Drawn) -> float:
        """The part's own current in A."""
        through = abs(float(drawn.edge_a[self.edge])) if self.edge is not None else 0.0
        return max(abs(drawn.short_a) - through, through) if self.at_source_end else through


class JoinedShorts:
    """The short circuits of one piece of copper at one corner, loads off; every state of it is factored once."""

    def __init__(self, piece: Network, there: Arrangement, settings: AnalysisSettings, *, least: bool) -> None:
        self.piece, self.thresholds, self.settings = piece, there.thresholds, settings
        self.outputs = {o.output.id: o.output for o in there.outputs if o.output.id in piece.source_ids}
        self.devices = {name: there.devices[name] for name in piece.edge_ids if name in there.devices}
        self.parts: dict[str, Device | Output] = {**self.devices, **self.outputs}
        held = holding_a(self.parts, self.thresholds, least=least)
        # What may hold nothing counts as off: it clears nothing.
        self.gone = frozenset(name for name, amperes in held.items() if amperes <= 0.0)
        self.held_a = {name: amperes for name, amperes in held.items() if amperes > 0.0}
        self.ohm = np.where(np.isfinite(piece.edge_resistance_ohm), piece.edge_resistance_ohm, 0.0)
        self._states: dict[frozenset[str], ShortedCopper] = {}
        self.carried_a: dict[str, float] = {}
        self.steps: dict[
            tuple[tuple[int, int], tuple[str, ...], frozenset[str]], tuple[DeviceCurrents, Openers]
        ] = {}
        """By ends of a short, outputs off and what has opened: currents, and what may open next."""
        self._flows: dict[Short, tuple[Flow, ...]] = {}

    def flows(self, short: Short) -> tuple[Flow, ...]:
        """A short with every set of the piece's outputs off.

        Sets without which the part carries nothing are left out, as long as any other is left.
        """
        if short not in self._flows:
            flows = [_Courses(self, short, off).flow() for off in sets_off(self.piece.source_ids)]
            self._flows[short] = tuple([flow for flow in flows if flow.own_a > NEGLIGIBLE_A] or flows[:1])
        return self._flows[short]

    def state(self, out: frozenset[str]) -> ShortedCopper:
        """The copper with these devices open and outputs off."""
        out |= self.gone
        if out not in self._states:
            self._states[out] = ShortedCopper(without(self.piece, sorted(out)), self.held_a)
        return self._states[out]


def greatest_behind(piece: Network, device: str, far: int, terminals: Sequence[int]) -> float:
    """The greatest current in A through a device in a short circuit just behind it, at the node ``far``, to any
    output's terminal, with every set of the outputs off; no limit is counted on.
    """
    place = piece.edge_index[device]
    states = [ShortedCopper(without(piece, off), {}) for off in sets_off(piece.source_ids)]
    found = [
        abs(float(state.drawn(far, terminal).edge_a[place]))
        for terminal in terminals
        if terminal != far
        for state in states
    ]
    return max(found, default=0.0)


@dataclass(frozen=True, slots=True)
class _End:
    """How a short goes on from a state: the worst of all orders. ``time_s`` inf: not stated."""

    time_s: float = 0.0
    i2t_a2s: float = 0.0
    last: Device | Output | None = None
    held: Held | None = None
    retry: Retry | None = None


class _Courses:
    """Every course of one short with some outputs off."""

    def __init__(self, joined: JoinedShorts, short: Short, off: tuple[str, ...]) -> None:
        self.joined, self.short, self.off = joined, short, off
        self.known: dict[frozenset[str], _End] = {}

    def flow(self) -> Flow:
        """The worst over all orders."""
        drawn = self._drawn(frozenset())
        end = self._from(frozenset())
        timed = end.held is None and math.isfinite(end.time_s)
        return Flow(
            current_a=abs(drawn.short_a),
            own_a=self.short.own_a(drawn),
            clearing=Clearing(end.last, end.time_s) if end.held is None and end.last is not None else None,
            held=end.held,
            own_i2t_a2s=end.i2t_a2s if timed else None,
            retry=end.retry,
            outputs_off=self.off,
        )

    def _drawn(self, opened: frozenset[str]) -> Drawn:
        return self.joined.state(opened | frozenset(self.off)).drawn(*self.short.ends)

    def _from(self, opened: frozenset[str]) -> _End:
        if opened not in self.known:
            self.known[opened] = self._found_from(opened)
        return self.known[opened]

    def _found_from(self, opened: frozenset[str]) -> _End:
        drawn = self._drawn(opened)
        own_a = self.short.own_a(drawn)
        again = [part for name in sorted(opened) if (part := self.joined.parts[name]).behaviour is Behaviour.HICCUP]
        # What flows on while the short takes nothing, as between two outputs of unequal voltage, is not its own.
        if own_a <= NEGLIGIBLE_A or abs(drawn.short_a) <= NEGLIGIBLE_A:
            return _End(retry=self._retry(opened, again))
        currents, found = self._step(opened, again, drawn)
        if found.certain is None:
            return _End(held=self._held(drawn, currents))
        first = found.first if len(self.known) < MOST_STATES else (found.certain,)
        ends = [(part, self._from(opened | {part.id})) for part in first]
        slowest, after = max(ends, key=lambda end: end[1].time_s)
        whole = len(first) == len(found.first)
        held = [end.held for _, end in ends if end.held is not None]
        retries = [end.retry for _, end in ends if end.retry is not None]
        return _End(
            time_s=found.within_s + after.time_s if whole else math.inf,
            i2t_a2s=own_a**2 * found.within_s + max(end.i2t_a2s for _, end in ends),
            last=after.last or (found.certain if not after.time_s else slowest),
            held=max(held, key=lambda each: each.gravity, default=None),
            retry=max(retries, key=lambda each: each.gravity_a, default=None),
        )

    def _step(
        self, opened: frozenset[str], again: Sequence[Device | Output], drawn: Drawn
    ) -> tuple[DeviceCurrents, Openers]:
        """Currents, and what may open next: the same for every part that is asked for with this short."""
        key, joined = (self.short.ends, self.off, opened), self.joined
        if key not in joined.steps:
            currents = self._currents(opened, drawn)
            uncertain = self._uncertain(opened, again, currents)
            found = openers(currents, joined.thresholds, joined.settings, uncertain, joined.carried_a)
            joined.steps[key] = currents, found
        return joined.steps[key]

    def _currents(self, opened: frozenset[str], drawn: Drawn) -> DeviceCurrents:
        index = self.joined.piece.edge_index
        state = self.joined.state(opened | frozenset(self.off))
        sources = zip(state.network.source_ids, drawn.source_a.tolist(), strict=True)
        return (
            *(
                (device, abs(float(drawn.edge_a[index[name]])))
                for name, device in self.joined.devices.items()
                if name not in opened
            ),
            *((self.joined.outputs[name], amperes) for name, amperes in sources if amperes > 0.0),
        )

    def _uncertain(
        self, opened: frozenset[str], again: Sequence[Device | Output], currents: DeviceCurrents
    ) -> set[str]:
        """Devices certain to open only while a limit that tries again is off, and that need more than its pause."""
        if not again:
            return set()
        pause_s = min(part.retry_off_s or 0.0 for part in again)
        meanwhile = opened - {part.id for part in again}
        trying = {part.id: amperes for part, amperes in self._currents(meanwhile, self._drawn(meanwhile))}
        found = set()
        for part, amperes in currents:
            within_s = openers([(part, amperes)], self.joined.thresholds, self.joined.settings).within_s
            beside_a = trying.get(part.id, 0.0)
            if within_s > pause_s and beside_a <= self.joined.thresholds[part.id].held_a:
                found.add(part.id)
        return found

    def _held(self, drawn: Drawn, currents: DeviceCurrents) -> Held:
        limiting = [name for name in drawn.holding if name in self.joined.held_a]
        return Held(
            current_a=abs(drawn.short_a),
            heat_w=float(np.sum(drawn.edge_a**2 * self.joined.ohm)),
            devices=currents,
            capped_by=limiting[0] if limiting else None,
            carried_a=dict(zip(self.joined.piece.edge_ids, np.abs(drawn.edge_a).tolist(), strict=True)),
        )

    def _retry(self, opened: frozenset[str], again: Sequence[Device | Output]) -> Retry | None:
        """What the part carries while the opened limits try again."""
        if not again:
            return None
        meanwhile = opened - {part.id for part in again}
        drawn = self._drawn(meanwhile)
        given_a = {part.id: amperes for part, amperes in self._currents(meanwhile, drawn)}
        return Retry.of(again, self.short.own_a(drawn), given_a.get(again[0].id, 0.0))
