"""What a converter's input draws at most, whatever is wrong behind it.

In the search for faults a converter is two parts that know nothing of each other: its output holds what it itself
can hold, as any output does, and its input is a load that may draw anything up to the greatest power along the
output's whole curve. So no fault behind a converter needs to be searched together with one before it: the input
never draws more than it is allowed for here.

Greatest output power: voltage at the high end of the tolerance, behind the internal resistance, times the current,
the greatest over all currents up to the one that the output's own limit can hold. Where the trip is not stated, or
only assumed, nothing stands for that limit: what the copper can give then counts, or ``NO_BOUND_W``.
"""

from __future__ import annotations

import math
from dataclasses import replace

from loadloom.graph.circuit.network import OutputVoltage, output_voltage_v, rated_power_w
from loadloom.graph.devices.device_bands import threshold
from loadloom.graph.model.efficiency import input_power_w
from loadloom.graph.model.elements import Converter, Load, LoadKind, Output
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings

NO_BOUND_W = 1e6
"""Stands for a power that nothing stated bounds: more than any device before the input lets through."""


def with_greatest_inputs(harness: Harness, settings: AnalysisSettings) -> Harness:
    """The harness with every converter's input as a load of its own that draws up to the most it ever can."""
    if not harness.converters:
        return harness
    outputs = {output.id: output for output in harness.outputs}
    by_load = {converter.load_id: converter for converter in harness.converters}
    loads = tuple(
        _greatest(load, by_load[load.id], outputs[by_load[load.id].output_id], settings)
        if load.id in by_load
        else load
        for load in harness.loads
    )
    return replace(harness, loads=loads, converters=())


def greatest_input_w(converter: Converter, output: Output, settings: AnalysisSettings) -> float:
    """The most that the input draws in W, over all arrangements of the output; at most ``NO_BOUND_W``.

    Power over efficiency is greatest at an end of a straight piece of the efficiency, since it rises or falls all
    along such a piece.
    """
    worst = 0.0
    for there in output.variants():
        if there.voltage_v is None or not there.fitted:
            continue
        given_w = _greatest_output_w(there, settings)
        if not math.isfinite(given_w):
            return NO_BOUND_W
        rated_w = rated_power_w(there)
        points = tuple(sorted(converter.efficiency))
        tried = [given_w, *(share * rated_w for share, _ in points if rated_w and share * rated_w < given_w)]
        worst = max(worst, *(input_power_w(w, points, rated_w, converter.no_load_w) for w in tried))
    return min(worst, NO_BOUND_W)


def _greatest_output_w(output: Output, settings: AnalysisSettings) -> float:
    held = threshold(output, settings, None)
    volts, ohm = output_voltage_v(output, OutputVoltage.HIGHEST), output.resistance_ohm
    most_a = math.inf if held.assumed else held.held_a
    if ohm > 0.0:
        most_a = min(most_a, volts / (2.0 * ohm))
    return (volts - ohm * most_a) * most_a if math.isfinite(most_a) else math.inf


def _greatest(load: Load, converter: Converter, output: Output, settings: AnalysisSettings) -> Load:
    power_w = greatest_input_w(converter, output, settings)
    limit_a, least_v = converter.input_limit_a, converter.input_minimum_v
    if limit_a is not None and (not least_v or power_w / least_v > limit_a):
        return replace(load, demand_kind=LoadKind.CURRENT, demand=limit_a)
    return replace(load, demand=power_w)
