"""Heat made in a zone, by Ohm's law and by the efficiency stated; numbers that anybody can recompute."""

import pytest

from loadloom.graph.conductors import conductor_resistances
from loadloom.graph.elements import Band, Conductor, Device, DeviceKind, Diode, Load, Output, Supply, Switch
from loadloom.graph.findings import Subject
from loadloom.graph.harness import Harness
from loadloom.graph.network import LOAD_STATE, compile_network
from loadloom.graph.settings import AnalysisSettings, Case
from loadloom.graph.solve import solve
from loadloom.graph.supplies import supply_row
from loadloom.graph.zone_heat import unknown_heat, worst_by_zone_w, zone_heat_w


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


def test_losses_and_waste_heat_of_a_zone() -> None:
    settings = AnalysisSettings()
    resistances = conductor_resistances(HARNESS, settings)
    solution = solve(compile_network(HARNESS, Case("nominal"), LOAD_STATE, settings, resistances))
    row = supply_row(HARNESS.supplies[0], {"O": 240.0}, "nominal", 40.0)
    heat_w = zone_heat_w(HARNESS, solution, [row])
    # Ohm's law at 10 A: wire 1.0 W, fuse 0.5 W, diode 7.0 W; 240 W at 90 % leaves 26.67 W.
    assert heat_w["box"] == pytest.approx(1.0 + 0.5 + 7.0 + 240 / 0.9 - 240)
    assert heat_w["mast"] == pytest.approx(2.0)
    assert set(heat_w) == {"box", "mast"}
    assert worst_by_zone_w([heat_w, {"mast": 3.0}])["mast"] == 3.0
    assert unknown_heat(HARNESS, [row]) == {}
    unknown = supply_row(HARNESS.supplies[0], {"O": None}, "nominal", 40.0)
    assert unknown_heat(HARNESS, [unknown]) == {"box": ("PSU",)}
