"""Heat made in a zone, by Ohm's law and by the efficiency stated; numbers that anybody can recompute."""

from dataclasses import replace

import pytest

from loadloom.graph.circuit.loading import continuous_harness
from loadloom.graph.circuit.network import GREATEST_FAULT, LEAST_FAULT, LOAD_STATE, compile_network
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import solve
from loadloom.graph.facts.supplies import supply_row
from loadloom.graph.heat.conductors import conductor_resistances
from loadloom.graph.heat.zone_heat import ZoneHeat, greatest_heats, unknown_heat, worst_heats, zone_heats
from loadloom.graph.model.elements import Band, Conductor, Device, DeviceKind, Diode, Load, Output, Supply, Switch
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Ambient, AnalysisSettings, Case, Enclosure
from loadloom.graph.verdict.assumptions import _of_walls
from loadloom.plugin.values import awg_gauge


def wire(name: str, a: str, b: str, ohm: float, zone: str | None) -> Conductor:
    return Conductor(id=name, subject=Subject(name), node_a=a, node_b=b, resistance_ohm=Band.exact(ohm), zone=zone)


HARNESS = Harness(
    outputs=(Output(id="O", subject=Subject("O"), node_plus="p", node_minus="m", voltage_v=24.0, supply="PSU"),),
    conductors=(
        wire("W1", "p", "q", 0.010, "box"),
        wire("W2", "n", "m", 0.020, "mast"),
        wire("W3", "d", "l", 1e-3, None),
    ),
    devices=(
        Device(
            id="F1",
            subject=Subject("F1"),
            node_a="q",
            node_b="f",
            kind=DeviceKind.FUSE,
            resistance_ohm=Band.exact(0.005),
            zone="box",
        ),
    ),
    switches=(Switch(id="S1", subject=Subject("S1"), node_a="q", node_b="f", fitted=False, zone="box"),),
    diodes=(Diode(id="D1", subject=Subject("D1"), node_a="f", node_b="d", forward_drop_v=0.7, zone="box"),),
    loads=(Load(id="L", subject=Subject("L"), node_plus="l", node_minus="n", demand=10.0),),
    supplies=(Supply("PSU", ("O",), power_w=480.0, efficiency=((1.0, 0.90),), zone="box"),),
)


def solved(harness: Harness, state: str | None = None) -> tuple[Case, Solution]:
    settings, case = AnalysisSettings(), Case("case", state)
    continuous = replace(harness, loads=continuous_harness(harness, case).loads)
    resistances = conductor_resistances(continuous, settings)
    return case, solve(compile_network(continuous, Case("case"), LOAD_STATE, settings, resistances))


def test_losses_and_waste_heat_of_a_zone() -> None:
    case, solution = solved(HARNESS)
    row = supply_row(HARNESS.supplies[0], {"O": 240.0}, "nominal", 40.0)
    heats = zone_heats(HARNESS, case, solution, [row])
    # Ohm's law at 10 A: wire 1.0 W, fuse 0.5 W, diode 7.0 W; 240 W at 90 % leaves 26.67 W.
    assert heats["box"].conductors_w == pytest.approx(1.0)
    assert heats["box"].devices_w == pytest.approx(0.5 + 7.0)
    assert heats["box"].supplies_w == pytest.approx(240 / 0.9 - 240)
    assert heats["box"].total_w == pytest.approx(1.0 + 0.5 + 7.0 + 240 / 0.9 - 240)
    assert heats["mast"] == ZoneHeat(conductors_w=pytest.approx(2.0))
    assert set(heats) == {"box", "mast"}
    assert worst_heats([heats, {"mast": ZoneHeat(loads_w=3.0)}])["mast"].loads_w == 3.0
    assert unknown_heat(HARNESS, [row]) == {}
    unknown = supply_row(HARNESS.supplies[0], {"O": None}, "nominal", 40.0)
    assert unknown_heat(HARNESS, [unknown]) == {"box": ("PSU",)}


def test_a_load_inside_gives_the_share_of_its_power_that_becomes_heat() -> None:
    # 24 V less 10 A × (10 + 20 + 5 + 1) mΩ less 0.7 V is 22.94 V at the load: 229.4 W, 30 % of it heat.
    (load,) = HARNESS.loads
    inside = replace(HARNESS, loads=(replace(load, zone="box", heat_share=0.3),))
    heats = zone_heats(inside, *solved(inside))
    assert heats["box"].loads_w == pytest.approx(0.3 * 10.0 * (24.0 - 0.36 - 0.7))


def test_a_load_with_a_duty_heats_by_its_mean_power_and_wires_by_its_root_mean_square() -> None:
    # On a quarter of the time: 5 A root mean square in the wires, 2.5 A on the mean at the load.
    (load,) = HARNESS.loads
    cycling = replace(HARNESS, loads=(replace(load, zone="box", duty=0.25, period_s=1.0),))
    heats = zone_heats(cycling, *solved(cycling))
    assert heats["mast"].conductors_w == pytest.approx(25.0 * 0.020)
    assert heats["box"].loads_w == pytest.approx(2.5 * (24.0 - 5.0 * 0.036 - 0.7))
    # A state of 8 A for 3 s of every 4 s over a plain 2 A: mean 6.5 A, root mean square 7 A.
    surge = {"demand": 8.0, "duration_s": 3.0, "period_s": 4.0}
    stepping = replace(HARNESS, loads=(replace(load, zone="box", demand=2.0, by_word={"surge": surge}),))
    heats = zone_heats(stepping, *solved(stepping, "surge"))
    assert heats["mast"].conductors_w == pytest.approx(49.0 * 0.020)
    assert heats["box"].loads_w == pytest.approx(6.5 * (24.0 - 7.0 * 0.036 - 0.7))


def test_a_battery_heats_by_its_internal_resistance_and_a_silent_unit_is_told() -> None:
    (output,) = HARNESS.outputs
    battery = replace(
        HARNESS, supplies=(), outputs=(replace(output, supply=None, resistance_ohm=0.02, zone="box"),)
    )
    heats = zone_heats(battery, *solved(battery))
    assert heats["box"].supplies_w == pytest.approx(100.0 * 0.02)
    assert unknown_heat(battery, []) == {}
    silent = replace(battery, outputs=(replace(output, supply=None, zone="box"),))
    assert unknown_heat(silent, []) == {"box": ("O",)}


def test_copper_heats_its_zone_as_warm_as_its_own_current_makes_it() -> None:
    # 20 A in 6 AWG of 1.444 mΩ/m at 20 °C (AC 43.13-1B table 11-9), 32.61 m: 18.83 W × (1 + 0.00393·(T − 20)).
    # Solved at the 105 °C that PVC stands it would be 25.1 W; by NEC 310.17 (95 A for 45 K) its current
    # warms it by 45·(20/95)² = 2 K above 25 °C, and by some more where the rise is small.
    size = awg_gauge("6")
    plain = {"subject": Subject("W1"), "gauge": size, "length_m": 32.61, "insulation": "PVC 105 °C", "zone": "box"}
    harness = Harness(
        outputs=HARNESS.outputs,
        conductors=(Conductor(id="W1", node_a="p", node_b="l", **plain),),  # type: ignore[arg-type]
        loads=(Load(id="L", subject=Subject("L"), node_plus="l", node_minus="m", demand=20.0),),
    )
    settings, case = AnalysisSettings(zones={"box": Ambient(20.0, 25.0)}), Case("case")
    hot = solve(compile_network(harness, case, LEAST_FAULT, settings, conductor_resistances(harness, settings)))
    at_20_w = 400.0 * 1.444e-3 * 32.61
    assert zone_heats(harness, case, hot)["box"].conductors_w == pytest.approx(
        at_20_w * (1 + 0.00393 * 85), rel=1e-3
    )
    own_w = zone_heats(harness, case, hot, (), settings)["box"].conductors_w
    assert at_20_w * (1 + 0.00393 * 7) < own_w < at_20_w * (1 + 0.00393 * 9)
    # Of several states the worst is the same whether or not copper's own warmth is found for each.
    cold = solve(compile_network(harness, case, GREATEST_FAULT, settings, conductor_resistances(harness, settings)))
    each = [zone_heats(harness, case, solution, (), settings) for solution in (cold, hot)]
    assert greatest_heats(harness, case, [cold, hot], (), settings) == worst_heats(each)
    # What states its resistance, or differs by arrangement, is left as it was solved.
    stated = replace(harness, conductors=(replace(harness.conductors[0], resistance_ohm=Band.exact(0.05)),))
    solution = solve(compile_network(stated, case, LEAST_FAULT, settings, conductor_resistances(stated, settings)))
    assert zone_heats(stated, case, solution, (), settings)["box"].conductors_w == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("size_m", "rise_k", "beyond"),
    [((0.5, 0.5, 0.2), 30.0, False), ((0.5, 0.5, 0.2), 70.0, True), ((0.5, 0.5, 0.05), 30.0, True)],
)
def test_a_box_beyond_what_the_films_are_meant_for_is_told(
    size_m: tuple[float, float, float], rise_k: float, beyond: bool
) -> None:
    assert ("this one is beyond" in _of_walls(Enclosure(size_m=size_m), rise_k)) == beyond
    assert "beyond" not in _of_walls(Enclosure(size_m=size_m, surface_coefficient_w_per_m2k=5.5), rise_k)
