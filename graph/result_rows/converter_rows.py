"""Rows of what converters draw, give and lose in every load case."""

from __future__ import annotations

from collections.abc import Mapping

from loadloom.graph.circuit.solution import Solution
from loadloom.graph.converters.greatest_input import NO_BOUND_W, greatest_input_w
from loadloom.graph.converters.passed_through import open_side
from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Converter
from loadloom.graph.model.results import ConverterCase, ConverterRow


def converter_rows(facts: Facts, names: Mapping[str, tuple[str, ...]]) -> tuple[ConverterRow, ...]:
    """One row for each converter; ``names``: rules that found something, by subject."""
    return tuple(_row(facts, converter, names) for converter in facts.harness.converters)


def _row(facts: Facts, converter: Converter, names: Mapping[str, tuple[str, ...]]) -> ConverterRow:
    cases = {case.id: _worst(facts, converter, case.id) for case in facts.cases}
    solved = {name: there for name, there in cases.items() if there is not None}
    worst = max(solved, key=lambda name: solved[name].input_a, default=None)
    output = next(o for o in facts.harness.outputs if o.id == converter.output_id)
    limit_a = converter.input_limit_a
    most_w = greatest_input_w(converter, output, facts.settings)
    return ConverterRow(
        id=converter.id,
        case=worst,
        isolated=open_side(facts.harness, converter) is None,
        input_minimum_v=converter.input_minimum_v,
        input_maximum_v=converter.input_maximum_v,
        input_limit_a=limit_a,
        no_load_w=converter.no_load_w,
        greatest_input_w=most_w if most_w < NO_BOUND_W else None,
        utilisation=solved[worst].input_a / limit_a if worst is not None and limit_a else None,
        cases=solved,
        findings=tuple(dict.fromkeys((*names.get(converter.id, ()), *names.get(converter.load_id, ())))),
    )


def _worst(facts: Facts, converter: Converter, case: str) -> ConverterCase | None:
    """The steady state of a case in which the input draws most; None where it was not solved."""
    states = [state.solution for state in facts.continuous_corners.get(case, ()) if not state.bound]
    found = [there for solution in states if (there := _in_state(converter, solution)) is not None]
    return max(found, key=lambda there: there.input_a, default=None)


def _in_state(converter: Converter, solution: Solution) -> ConverterCase | None:
    network = solution.network
    k, n = network.load_index.get(converter.load_id), network.source_index.get(converter.output_id)
    if k is None or n is None:
        return None
    volts, amps = float(solution.load_v[k]), abs(float(solution.load_a[k]))
    plus, minus = network.source_plus[n], network.source_minus[n]
    running = converter.output_id not in solution.off
    given_w = (
        float(solution.node_v[plus] - solution.node_v[minus]) * float(solution.source_a[n]) if running else 0.0
    )
    given_w = max(0.0, given_w)
    into_w = abs(volts) * amps
    net_w = into_w - converter.no_load_w
    return ConverterCase(
        input_v=volts,
        input_a=amps,
        input_w=into_w,
        output_w=given_w,
        efficiency=given_w / net_w if running and given_w > 0.0 and net_w > 0.0 else None,
        heat_w=into_w - given_w,
        running=running,
    )
