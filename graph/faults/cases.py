"""Which cases the fault search can leave out: those that equal another or draw less everywhere, and arrangements in
which nothing differs from one before.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from loadloom.graph.circuit.network import Network
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.faults.piece import POWER, RESISTANCE, PieceLoads, piece_loads
from loadloom.graph.load_cases.case_loading import CaseLoading
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Case

ThresholdsByCase = Mapping[str, Mapping[str, Threshold]]


def alike_arrangements(harness: Harness, cases: Sequence[Case]) -> dict[str | None, str | None]:
    """By arrangement the first one with the same parts, all set alike, and with at least the same states of the
    loads: a fault does the same in both.
    """
    states: dict[str | None, set[str | None]] = {}
    for case in cases:
        states.setdefault(case.arrangement, set()).add(case.state)
    parts = [p for p in (*harness.outputs, *harness.two_ended, *harness.splices) if p.by_word]
    # Where the value of a field can't be read, the plain one counts.
    drawn = {word: [replace(p.under(word), placeholders=frozenset()) for p in parts] for word in states}
    return {
        word: next(one for one in states if drawn[one] == drawn[word] and mine <= states[one])
        for word, mine in states.items()
    }


def distinct(
    harness: Harness,
    cases: Sequence[Case],
    networks: Mapping[str, Sequence[Network]],
    thresholds: ThresholdsByCase,
    loading: Mapping[str, CaseLoading],
) -> list[tuple[Case, Network, PieceLoads]]:
    """Networks that can differ in their answer: none that equals another or draws less everywhere."""
    kept: dict[tuple[object, ...], list[tuple[Case, Network, PieceLoads]]] = {}
    alike = alike_arrangements(harness, cases)
    for case in cases:
        if alike[case.arrangement] != case.arrangement:
            continue
        for network in networks.get(case.id, ()):
            key = (
                case.arrangement,
                network.edge_ids,
                network.edge_resistance_ohm.tobytes(),
                network.source_ids,
                network.source_voltage_v.tobytes(),
                network.source_resistance_ohm.tobytes(),
                tuple(sorted((k, t.held_a, t.opens, t.assumed) for k, t in thresholds[case.id].items())),
            )
            loads = piece_loads(network, harness, loading.get(case.id, CaseLoading()).least_v)
            group = kept.setdefault(key, [])
            covering = [n for n, (_, _, other) in enumerate(group) if _covers(other, loads)]
            if covering:
                there, same, other = group[covering[0]]
                group[covering[0]] = there, _asking(same, network), other
                continue
            for _, same, _ in (entry for entry in group if _covers(loads, entry[2])):
                network = _asking(network, same)
            group[:] = [entry for entry in group if not _covers(loads, entry[2])]
            group.append((case, network, loads))
    return [entry for group in kept.values() for entry in group]


def _asking(network: Network, other: Network) -> Network:
    """A network that stands for an equal one as well: for the parts that either of them is searched for."""
    both = None if network.asked is None or other.asked is None else network.asked | other.asked
    return replace(network, asked=both)


def _covers(great: PieceLoads, small: PieceLoads) -> bool:
    """Whether every load of ``small`` can draw at least as much in ``great``."""
    place = {name: k for k, name in enumerate(great.ids)}
    for k, name in enumerate(small.ids):
        n = place.get(name)
        if n is None:
            if small.kind[k] != RESISTANCE and small.demand[k] <= 0.0:
                continue
            return False
        if great.kind[n] != small.kind[k] or not _pulses_alike(great, n, small, k):
            return False
        if small.kind[k] == RESISTANCE:
            if great.demand[n] > small.demand[k]:
                return False
        elif great.demand[n] < small.demand[k] or great.case_a[n] < small.case_a[k]:
            return False
        if small.kind[k] == POWER and great.minimum_v[n] > small.minimum_v[k]:
            return False
    return True


def _pulses_alike(one: PieceLoads, n: int, other: PieceLoads, k: int) -> bool:
    """Whether a load of each has the same pulses, or neither pulses."""
    ours, theirs = ((each.peak[m], each.rest[m], each.share[m], each.on_s[m]) for each, m in ((one, n), (other, k)))
    return bool(ours == theirs)
