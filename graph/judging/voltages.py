"""The least and the greatest voltage that a load gets, and what it wants."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

from loadloom.graph.facts.facts import Facts
from loadloom.graph.load_cases.compensation import compensating, sensed_drop_v
from loadloom.graph.model.elements import Load
from loadloom.graph.model.settings import Case


@dataclass(frozen=True, slots=True)
class VoltageAt:
    """A voltage in V at a load, and the case it was found in."""

    case: str
    volts: float


def _least_by_case(facts: Facts, load: Load) -> list[VoltageAt]:
    """The voltages of a load at the lowest corner of every case; none for one that is never fed."""
    return [
        VoltageAt(case_id, float(solution.load_v[solution.network.load_index[load.id]]))
        for case_id, solutions in facts.lowest.items()
        for solution in solutions
        if load.id in solution.network.load_index and load.id not in solution.unfed
    ]


def tightest_minimum(facts: Facts, load: Load) -> tuple[VoltageAt | None, float | None]:
    """The least voltage in the state in which the load lacks most, or has least to spare, of the minimum that it
    asks there (``Minimum voltage@slew``); without a minimum the least of all.
    """
    return _tightest(facts, load, _least_by_case(facts, load), wanted_minimum_v, 1.0)


def tightest_maximum(facts: Facts, load: Load) -> tuple[VoltageAt | None, float | None]:
    """The greatest voltage in the state in which it is nearest to, or furthest over, the maximum that the load
    withstands there; without a maximum the greatest of all.
    """
    return _tightest(facts, load, _greatest_by_case(facts, load), wanted_maximum_v, -1.0)


def _tightest(
    facts: Facts,
    load: Load,
    found: Sequence[VoltageAt],
    wanted: Callable[[Facts, Load], float | None],
    sign: float,
) -> tuple[VoltageAt | None, float | None]:
    """The voltage, and what is wanted there, with the least to spare on the side of ``sign``."""
    states = {case.id: case.state for case in facts.cases}
    asked = {word: wanted(facts, load.under(word)) for word in set(states.values())}
    spare = [
        (sign * (at.volts - volts), k)
        for k, at in enumerate(found)
        if (volts := asked.get(states.get(at.case))) is not None
    ]
    if spare:
        at = found[min(spare)[1]]
        return at, asked[states[at.case]]
    at_most = min(found, key=lambda at: sign * at.volts, default=None)
    return at_most, None if found else wanted(facts, load)


def greatest_voltage(facts: Facts, load: Load) -> VoltageAt | None:
    """Greatest voltage: highest output voltage and no load at all; None where no output reaches the load.

    Other loads can lift it: a current in a return that two supplies of opposite sign share adds to one of them. So
    every solved corner counts as well.
    """
    return max(_greatest_by_case(facts, load), key=lambda at: at.volts, default=None)


def _greatest_by_case(facts: Facts, load: Load) -> list[VoltageAt]:
    if not load.fitted or not facts.topology.fed_by(load.node_plus, load.node_minus):
        return []
    found: list[VoltageAt] = []
    for case in facts.cases:
        solution = facts.open_circuit.get(case.arrangement)
        if solution is not None:
            index = solution.network.node_index
            volts = solution.node_v[index[load.node_plus]] - solution.node_v[index[load.node_minus]]
            found.append(VoltageAt(case.id, float(volts) + _added_v(facts, load, case)))
        for state in facts.loaded_corners.get(case.id, ()):
            loads = state.solution.network.load_index
            if load.id in loads and not state.bound:
                found.append(VoltageAt(case.id, float(state.solution.load_v[loads[load.id]])))
    return found


def _added_v(facts: Facts, load: Load, case: Case) -> float:
    """What remote sense adds in V at a load nearer to its output than where that senses: the most over the corners.

    What lies there or beyond never gets more than the voltage that is held there.
    """
    nearer = {
        lead.output
        for lead in facts.leads_by_word[case.arrangement]
        if (load.node_plus if lead.plus else load.node_minus) not in lead.held
    }
    fed_by = facts.topology.fed_by(load.node_plus, load.node_minus)
    added_v = 0.0
    for output in compensating(facts.harness, case.arrangement):
        if output.id in fed_by and output.id in nearer:
            drops = (
                sensed_drop_v(s.solution, output) for s in facts.loaded_corners.get(case.id, ()) if not s.bound
            )
            added_v += min(output.sense_added_v, max((drop for drop in drops if drop is not None), default=0.0))
    return max(added_v, 0.0)


def feeding_voltage_v(facts: Facts, load: Load, giving: Collection[str] = ()) -> float | None:
    """Nominal voltage of the lowest output that feeds a load, in V; outputs in series add up.

    ``giving``: outputs that give current; where they feed the load, the others (blocked by a diode) don't count.
    """
    volts = {output.id: output.voltage_v for output in facts.harness.outputs}
    series = facts.topology.series(load.node_plus, load.node_minus)
    series = tuple(path for path in series if set(path) <= set(giving)) or series
    known = [[v for name in path if (v := volts[name]) is not None] for path in series]
    return min((sum(v) for v, path in zip(known, series, strict=True) if len(v) == len(path)), default=None)


def wanted_minimum_v(facts: Facts, load: Load) -> float | None:
    """The load's own minimum, else the settings' tolerance on the feeding output's voltage; None = none asked."""
    return load.minimum_v if load.minimum_v is not None else _by_tolerance(facts, load, -1.0)


def wanted_maximum_v(facts: Facts, load: Load) -> float | None:
    """The load's own maximum, else the settings' tolerance on the feeding output's voltage; None = none asked."""
    return load.maximum_v if load.maximum_v is not None else _by_tolerance(facts, load, 1.0)


def _by_tolerance(facts: Facts, load: Load, sign: float) -> float | None:
    tolerance = facts.settings.load_voltage_tolerance
    nominal_v = feeding_voltage_v(facts, load)
    if tolerance is None or nominal_v is None:
        return None
    return nominal_v * (1.0 + sign * tolerance)
