"""Variants of the acceptance cases, from the fields of a drawing to the results, each with its formula by hand.

Copper 0.017241 Ω·mm²/m (IEC 60028), all conductors at 20 °C unless a test says otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pytest
from drawings import build, net, symbol
from wired import analysed

from loadloom.graph.model.findings import Severity, Verdict
from loadloom.graph.model.results import ConductorRow, ContactRow, Results
from loadloom.graph.model.settings import Ambient, AnalysisSettings, Enclosure
from loadloom.plugin.drawing import Symbol

RHO = 0.017241
AT_20_C = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper")


class Sketch:
    """Symbols with the nets of their pins, in the order of the pins."""

    def __init__(self) -> None:
        self.symbols: list[Symbol] = []
        self.pins: dict[str, list[str]] = {}

    def __call__(
        self,
        reference: str,
        role: str,
        nets: str,
        value: str = "",
        *,
        pins: str | None = None,
        fields: Mapping[str, str] | None = None,
        **more: str,
    ) -> None:
        names = nets.split()
        numbers = pins or ("1:+ 2:-" if role in ("output", "load") else " ".join("12345678"[: len(names)]).strip())
        self.symbols.append(symbol(reference, role, pins=numbers, value=value, fields=fields, **more))
        for number, name in zip(numbers.split(), names, strict=True):
            self.pins.setdefault(name, []).append(f"{reference}.{number.split(':')[0]}")

    def results(self, settings: AnalysisSettings = AT_20_C) -> Results:
        nets = [net(" ".join(pins), name) for name, pins in self.pins.items()]
        drawn = build(self.symbols, nets, settings)
        return analysed(drawn, settings)


def rows(results: Results) -> dict[str, ConductorRow | ContactRow]:
    return {row.id: row for row in (*results.conductors, *results.contacts)}


def found(results: Results, rule: str) -> dict[str, Any]:
    return {finding.subject.id: finding for finding in results.findings if finding.rule == rule}


def test_three_ways_of_different_gauge_behind_a_limiter() -> None:
    """24 A over 0.75, 1 and 2.5 mm² with one contact of 3 mΩ each; ±10 % on 30 A holds 33 A."""
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="40 A", Trip="60 A")
    draw("CH1", "limiter", "p q", "30 A ±10 %", Delay="2 ms")
    sizes = ((0.75, 1.0), (1.0, 1.0), (2.5, 1.5))
    for k, (area, length) in enumerate(sizes, start=1):
        draw(
            f"J{k}",
            "through",
            f"q n{k}",
            pins="1A 1B",
            fields={"Contact rating": "13 A", "Contact resistance": "3 mΩ"},
        )
        draw(f"W{k}", "wire", f"n{k} r", f"{area} mm²", Length=f"{length} m", Rating="9 A")
    draw("W9", "wire", "s m", "6 mm²", Length="1 m", Rating="40 A")
    draw("L1", "load", "r s", Load="24 A")
    results = draw.results()
    here = rows(results)
    ohms = [0.003 + RHO * length / area for area, length in sizes]
    g = [1.0 / ohm for ohm in ohms]
    for k in range(3):
        assert here[f"W{k + 1}"].current_a == pytest.approx(24.0 * g[k] / sum(g))
    assert here["W1"].open_circuit_a == pytest.approx(24.0 * g[0] / (g[0] + g[1]))  # way 3 open
    # Pinch just behind contact 1: it against its own wire in series with both other ways.
    near, far = 1.0 / 0.003, 1.0 / (RHO * 1.0 / 0.75 + 1.0 / (g[1] + g[2]))
    assert here["J1.1"].sustained_fault_a == pytest.approx(33.0 * near / (near + far))
    (device,) = results.devices
    assert device.setting_low_a == pytest.approx(24.0 / 0.9)
    # A pinch at the source end of W1, of 9 A, puts the same share of the fault on it as on its contact, of 13 A.
    assert device.setting_high_a == pytest.approx(9.0 * (near + far) / near / 1.1, rel=1e-3)


SIDE_BY_SIDE = {
    "switch": ("", {"Rating": "10 A", "Resistance": "1 mΩ"}),
    "fuse": ("10 A", {"Curve": "UL 248-14", "Resistance": "1 mΩ"}),
    "limiter": ("11 A", {"Resistance": "1 mΩ", "Delay": "10 ms"}),
}


@pytest.mark.parametrize("role", SIDE_BY_SIDE)
@pytest.mark.parametrize(("worst_mohm", "over"), [(10.0, True), (1.5, False)])
def test_what_lies_behind_unlike_contacts_may_have_to_carry_more_than_its_half(
    role: str, worst_mohm: float, over: bool
) -> None:
    """18 A through two ways of 1 mΩ, a contact of 1…10 mΩ and 0.2 m of 2.5 mm² (1.379 mΩ).

    One contact new, the other aged: 18 · 12.38 / (12.38 + 3.38) = 14.1 A, more than 10 A of a switch or fuse and
    11 A of a limiter. With 1…1.5 mΩ: 18 · 3.88 / (3.88 + 3.38) = 9.62 A.
    """
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="22 A", Trip="22 A")
    value, fields = SIDE_BY_SIDE[role]
    for k in (1, 2):
        draw(f"S{k}", role, f"p s{k}", value, fields=fields)
        contact = {"Contact rating": "25 A", "Contact resistance": f"1…{worst_mohm} mΩ"}
        draw(f"J{k}", "through", f"s{k} t{k}", pins="1A 1B", fields=contact)
        draw(f"W{k}", "wire", f"t{k} b", "2.5 mm²", Length="0.2 m", Rating="25 A")
    draw("L1", "load", "b m", Load="18 A")
    results = draw.results()
    own = 1.0 + 1000.0 * RHO * 0.2 / 2.5
    most = 18.0 * (own + worst_mohm) / (2.0 * own + worst_mohm + 1.0)
    told = {name: f for name, f in found(results, "uneven-sharing").items() if name in ("S1", "S2")}
    assert set(told) == ({"S1", "S2"} if over else set())
    for finding in told.values():
        assert finding.value == pytest.approx(most, rel=1e-4) and finding.severity is Severity.ERROR


DIODE = {"Forward drop": "0.5 V", "Rating": "10 A", "Resistance": "4 mΩ"}


@pytest.mark.parametrize(("amperes", "fuse", "alone_a"), [(16, 20, 16.0), (9, 10, 13.5), (6, 7, None)])
def test_diodes_side_by_side_are_each_held_against_the_whole(
    amperes: int, fuse: int, alone_a: float | None
) -> None:
    """Two diodes of 10 A on the same joints (common practice, no published source: the warmer one drops less and
    takes more): 16 A is too much for one, and so are the 13.5 A that a 10 A fuse may never open at (UL 248-14,
    1.35 times); 7 A hold 9.45 A.
    """
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="40 A", Trip="none", Resistance="10 mΩ")
    draw("F1", "fuse", "p f", f"{fuse} A", Curve="UL 248-14")
    for k in (1, 2):
        draw(f"D{k}", "diode", "b f", pins="1:K 2:A", fields=DIODE)
    draw("W1", "wire", "b l", "4 mm²", Length="1 m", Rating="40 A")
    draw("L1", "load", "l m", Load=f"{amperes} A")
    told = found(draw.results(), "uneven-sharing")
    assert set(told) == (set() if alone_a is None else {"D1", "D2"})
    assert all(f.value == pytest.approx(alone_a) and f.severity is Severity.ERROR for f in told.values())


def test_a_ring_feed() -> None:
    """Four alike segments, loads of 8, 4 and 2 A at the joints: W1 carries (3·8 + 2·4 + 1·2) / 4."""
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="30 A", Trip="30 A")
    for k, (a, b) in enumerate((("p", "x"), ("x", "y"), ("y", "z"), ("z", "p")), start=1):
        draw(f"W{k}", "wire", f"{a} {b}", "2.5 mm²", Length="5 m", Rating="20 A")
    draw("W9", "wire", "r m", "10 mm²", Length="5 m", Rating="60 A")
    for k, (at, amperes) in enumerate((("x", 8), ("y", 4), ("z", 2)), start=1):
        draw(f"L{k}", "load", f"{at} r", Load=f"{amperes} A")
    here = rows(draw.results())
    first = (3 * 8.0 + 2 * 4.0 + 2.0) / 4.0
    for name, amperes in (("W1", first), ("W2", first - 8.0), ("W3", first - 12.0), ("W4", first - 14.0)):
        assert here[name].current_a == pytest.approx(abs(amperes))
    assert here["W1"].open_circuit_a == pytest.approx(14.0)
    assert here["W2"].sustained_fault_a == pytest.approx(
        30.0 * 3 / 4
    )  # pinched at its end by W1: 3 segments against 1


def test_cores_of_a_cable_with_fields_of_their_own() -> None:
    """Returns of 3 m at 1 mm² and 4 m at 0.5 mm² share 7 A by their conductance."""
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="9 A", Trip="9 A")
    draw(
        "C1",
        "cable",
        "p a p b c m c m",
        pins="1A 1B 2A 2B 3A 3B 4A 4B",
        Gauge="1 mm²",
        Length="3 m",
        Rating="9 A",
        fields={"Gauge.4": "0.5 mm²", "Length.4": "4 m"},
    )
    draw("L1", "load", "a c", Load="4 A")
    draw("L2", "load", "b c", Load="3 A")
    here = rows(draw.results())
    three, four = RHO * 3.0 / 1.0, RHO * 4.0 / 0.5
    assert here["C1.3"].current_a == pytest.approx(7.0 * four / (three + four))
    assert here["C1.4"].current_a == pytest.approx(7.0 * three / (three + four))


def test_corners_of_a_long_thin_loop() -> None:
    """22 AWG, 2 × 15 m, PVC 70 °C, 0 to 40 °C, contacts 2 to 10 mΩ, 12 V ± 5 %: cold and new, hot and aged."""
    draw = Sketch()
    draw("PS1", "output", "p m", "12 V", Limit="30 A", Trip="40 A", Tolerance="5 %")
    draw("CH1", "limiter", "p q", "10 A", Delay="1 ms")
    fields = {"Contact rating": "12 A", "Contact resistance": "2…10 mΩ"}
    draw("P1", "connector", "q m", Mates="J1", fields=fields)
    draw("J1", "connector", "a b")
    for name, nets in (("W1", "a x"), ("W2", "b y")):
        draw(name, "wire", nets, "22 AWG", Length="15 m", Rating="12 A", Insulation="PVC 70 °C")
    draw("L1", "load", "x y", Load="1 A", fields={"Minimum voltage": "9 V"})
    results = draw.results(AnalysisSettings(default_ambient=Ambient(0.0, 40.0), resistance_table="copper"))
    area = math.pi / 4.0 * (0.127 * 92.0 ** (14 / 39)) ** 2  # ASTM B258
    loop = 2 * RHO * 15.0 / area
    hot, cold = loop * (1 + 0.00393 * 50.0), loop * (1 - 0.00393 * 20.0)  # IACS, NBS Handbook 100
    short = next(row for row in results.short_circuits if row.conductor == "W1")
    assert short.least_a == pytest.approx(11.4 / (hot + 0.02))
    assert short.greatest_a == pytest.approx(12.6 / (cold + 0.004))
    (load,) = results.loads
    assert load.voltage_v == pytest.approx(11.4 - (hot + 0.02))
    assert load.voltage_high_v == pytest.approx(12.6)
    assert "W1" in found(results, "fault-never-cleared")


def test_two_channels_in_parallel_hold_twice_as_much() -> None:
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="50 A", Trip="60 A")
    for k in (1, 2):
        draw(f"CH{k}", "limiter", f"p q{k}", "10 A")
        draw(f"W{k}", "wire", f"q{k} n", "1.5 mm²", Length="2 m", Rating="11 A")
    draw("W3", "wire", "n b", "1.5 mm²", Length="2 m", Rating="15 A")
    draw("W4", "wire", "c m", "4 mm²", Length="2 m", Rating="25 A")
    draw("L1", "load", "b c", Load="12 A")
    results = draw.results()
    here = rows(results)
    assert here["W3"].sustained_fault_a == pytest.approx(20.0)
    assert here["W1"].sustained_fault_a == pytest.approx(10.0)
    assert set(found(results, "path-unprotected")) == {"W3"}


def test_a_fuse_in_the_return_does_not_see_a_pinch_before_it() -> None:
    """Fuse of 5 A that opens above 6.75 A in the return: the feed pinched to the output's minus bypasses it."""
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="50 A", Trip="60 A")
    draw("W1", "wire", "p b", "1.5 mm²", Length="2 m", Rating="10 A")
    draw("W2", "wire", "c x", "1.5 mm²", Length="2 m", Rating="10 A")
    draw("F1", "fuse", "x m", "5 A", Curve="UL 248-14")
    draw("L1", "load", "b c", Load="3 A")
    here = rows(draw.results())
    assert here["W1"].sustained_fault_a == pytest.approx(60.0)
    assert here["W2"].sustained_fault_a == pytest.approx(6.75)


def test_a_chassis_bond_of_thin_wire_carries_its_share_of_a_fault() -> None:
    """Chassis bonded at both ends by 0.3 m of 22 AWG; the return between is 2 m of 4 mm²: 25 A to the chassis."""
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="20 A", Trip="25 A", Resistance="1 mΩ")
    for name, nets in (("W1", "p b"), ("W2", "c m")):
        draw(name, "wire", nets, "4 mm²", Length="2 m", Rating="26 A")
    for name, nets in (("W3", "m h"), ("W5", "k c")):
        draw(name, "wire", nets, "22 AWG", Length="0.3 m", Rating="5 A")
    draw("H1", "chassis", "h", pins="1")
    draw("H2", "chassis", "k", pins="1")
    draw("L1", "load", "b c", Load="15 A")
    results = draw.results()
    here = rows(results)
    bond = RHO * 0.3 / (math.pi / 4.0 * (0.127 * 92.0 ** (14 / 39)) ** 2)
    back = RHO * 2.0 / 4.0
    assert here["W3"].sustained_fault_a == pytest.approx(25.0 * (bond + back) / (2 * bond + back), rel=1e-6)
    assert here["W2"].current_a == pytest.approx(15.0)  # as if no chassis were there
    assert set(found(results, "chassis-carries-load")) == {"H1", "H2"}


@pytest.mark.parametrize(
    ("fields", "rule", "value", "limit", "case"),
    [
        # 0.0338 Ω of loop: 11 A leave 23.63 V, 1 A 23.97 V
        ({"Load@slew": "11 A", "Minimum voltage@slew": "23.8 V"}, "voltage-low", 23.6283, 23.8, "slew"),
        ({"Minimum voltage@slew": "23.98 V"}, "voltage-low", 23.9662, 23.98, "slew"),
        # more than the state of 11 A lacks of its 20 V
        ({"Load@slew": "11 A", "Minimum voltage@park": "23.97 V"}, "voltage-low", 23.9662, 23.97, "park"),
        ({"Maximum voltage@park": "12 V"}, "voltage-high", 24.0, 12.0, "park"),
        # less is asked in a state: the plain minimum is that of the others
        ({"Load@slew": "11 A", "Minimum voltage": "23.9 V", "Minimum voltage@slew": "12 V"}, None, 0, 0, ""),
        ({"Minimum voltage@slew": "23.9 V", "Maximum voltage@slew": "25 V"}, None, 0, 0, ""),
    ],
)
def test_voltages_that_a_load_asks_in_one_state(
    fields: dict[str, str], rule: str | None, value: float, limit: float, case: str
) -> None:
    """24 V behind 20 mΩ, and 1 m of 2.5 mm² (6.896 mΩ) out and back."""
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="20 A", Trip="25 A", Resistance="20 mΩ", Tolerance="0 %")
    draw("W1", "wire", "p l", "2.5 mm²", Length="1 m", Rating="30 A")
    draw("W2", "wire", "r m", "2.5 mm²", Length="1 m", Rating="30 A")
    load = {"Load": "1 A", "Minimum voltage": "20 V", "Maximum voltage": "30 V", **fields}
    draw("L1", "load", "l r", fields=load)
    results = draw.results()
    told = {name: finding for name in ("voltage-low", "voltage-high") for finding in found(results, name).values()}
    assert set(told) == ({rule} if rule is not None else set())
    if rule is not None:
        finding = told[rule]
        assert (finding.value, finding.limit) == (pytest.approx(value, abs=1e-4), limit)
        assert finding.case == case
    (row,) = results.loads
    assert row.voltage_v is not None and row.minimum_v is not None
    assert (row.voltage_v < row.minimum_v) is (rule == "voltage-low")


def test_a_unit_with_two_outputs_derated_by_heat() -> None:
    """15 A at 24 V and 5 A at 12 V of 600 W; 75 % left at 50 °C; 91.2 % efficient at 70 % load."""
    draw = Sketch()
    unit = {
        "Supply": "U",
        "Supply power": "600 W",
        "Power derating": "40 °C: 100 %; 60 °C: 50 %",
        "Efficiency": "20 %: 88 %; 50 %: 92 %; 100 %: 90 %",
        "Fanless below": "40 %",
        "Zone": "box",
    }
    draw("PS1", "output", "p m", "24 V", Limit="20 A", Trip="25 A", fields=unit)
    draw("PS2", "output", "q m", "12 V", Limit="10 A", Trip="12 A", fields={"Supply": "U", "Zone": "box"})
    for k, (plus, amperes) in enumerate((("p", 15), ("q", 5))):
        draw(f"W{2 * k + 1}", "wire", f"{plus} b{k}", "4 mm²", Length="2 m", Rating="26 A")
        draw(f"W{2 * k + 2}", "wire", f"c{k} m", "4 mm²", Length="2 m", Rating="26 A")
        draw(f"L{k + 1}", "load", f"b{k} c{k}", Load=f"{amperes} A")
    settings = AnalysisSettings(
        conductor_temperature_c=20.0, resistance_table="copper", zones={"box": Ambient(0.0, 50.0)}
    )
    (row,) = draw.results(settings).supplies
    assert (row.power_w, row.allowed_w) == (pytest.approx(420.0), pytest.approx(450.0))
    assert row.utilisation == pytest.approx(420.0 / 450.0)
    efficiency = 0.92 - 0.02 * (0.70 - 0.50) / 0.50
    assert row.input_w == pytest.approx(420.0 / efficiency)
    assert row.heat_w == pytest.approx(420.0 / efficiency - 420.0)
    assert row.fan_off is False


@pytest.mark.parametrize(
    ("warmest_c", "rules", "verdict"),
    [
        (45.0, set(), Verdict.PASS),  # 480 W × 85 % = 408 W
        (50.0, {"supply-overload"}, Verdict.FAIL),  # 480 W × 70 % = 336 W
        (50.1, {"supply-not-determined"}, Verdict.INCOMPLETE),
        (90.0, {"supply-not-determined"}, Verdict.INCOMPLETE),
    ],
)
def test_a_unit_warmer_than_its_derating_says_is_not_determined(
    warmest_c: float, rules: set[str], verdict: Verdict
) -> None:
    """360 W of a unit that states ``40 °C: 100 %; 50 °C: 70 %``: what it gives beyond nobody says."""
    draw = Sketch()
    unit = {"Supply": "U1", "Supply power": "480 W", "Power derating": "40 °C: 100 %; 50 °C: 70 %", "Zone": "box"}
    draw("PS1", "output", "p m", "24 V", Limit="20 A", Trip="25 A", Delay="1 ms", Resistance="10 mΩ", fields=unit)
    for name, nets in (("W1", "p l"), ("W2", "r m")):
        draw(name, "wire", nets, "10 mm²", Length="1 m", Rating="40 A", Insulation="PVC 70 °C")
    draw("L1", "load", "l r", Load="15 A")
    results = draw.results(AnalysisSettings(zones={"box": Ambient(0.0, warmest_c)}, basis_stated=True))
    supply = {"supply-overload", "supply-not-determined"}
    assert {f.rule for f in results.findings} & supply == rules and results.verdict is verdict


def test_a_unit_derated_by_heat_and_by_its_mounting() -> None:
    """Case 18 hung upside down: 500 W × 70 % × 80 % = 280 W, and 240 W with a filter that leaves 6/7 of it."""
    draw = Sketch()
    unit = {"Supply": "U", "Supply power": "500 W", "Power derating": "40 °C: 100 %; 50 °C: 70 %", "Zone": "box"}
    mounted = {"Mounting derating": "upside down: 80 %"}
    draw("PS1", "output", "p m", "40 V", Limit="20 A", Trip="25 A", fields=unit | mounted)
    draw("PS2", "output", "q m", "40 V", Limit="20 A", Trip="25 A", fields={"Supply": "U"})
    draw("PS3", "output", "r m", "40 V", Limit="20 A", Trip="25 A", fields={"Supply power": "10 W", **mounted})
    for k, (plus, amperes) in enumerate((("p", 6), ("q", 1.5), ("r", 0.1))):
        draw(f"W{2 * k + 1}", "wire", f"{plus} b{k}", "4 mm²", Length="2 m", Rating="26 A")
        draw(f"W{2 * k + 2}", "wire", f"c{k} m", "4 mm²", Length="2 m", Rating="26 A")
        draw(f"L{k + 1}", "load", f"b{k} c{k}", Load=f"{amperes} A")
    settings = AnalysisSettings(
        conductor_temperature_c=20.0, resistance_table="copper", zones={"box": Ambient(0.0, 50.0)}
    )
    results = draw.results(settings)
    supplies = {row.id: row for row in results.supplies}
    assert supplies["U"].power_w == pytest.approx(300.0)
    assert supplies["U"].allowed_w == pytest.approx(500 * 0.7 * 0.8)
    assert supplies["U"].utilisation == pytest.approx(300 / 280)
    assert supplies["PS3"].allowed_w == pytest.approx(8.0)
    message = found(results, "supply-overload")["U"].message
    assert message.endswith("of the 280 W that it may give (500 W × 70 % (50 °C inside) × 80 % (upside down)).")
    # Two outputs of one unit that contradict each other: the lesser share counts, and it is a finding.
    twice = Sketch()
    for k, text in ((1, "90 %"), (2, "on its side: 70 %; filter: 90 %")):
        fields = {"Supply": "U", "Supply power": "500 W", "Mounting derating": text}
        twice(f"PS{k}", "output", f"p{k} m{k}", "24 V", Limit="20 A", Trip="25 A", fields=fields)
        twice(f"L{k}", "load", f"p{k} m{k}", Load="1 A")
    results = twice.results()
    assert results.supplies[0].allowed_w == pytest.approx(500 * 0.63)
    assert "Mounting derating" in found(results, "supply-clash")["U"].message


def in_a_cabinet(
    unit: Mapping[str, str], load: Mapping[str, str], *, surface_m2: float, held_c: float | None = 20.0
) -> Results:
    """5 A at 20 V in a cabinet: a unit, a wire of 2 m with a contact each way, a load; 1 A goes outside."""
    draw = Sketch()
    draw("PS1", "output", "p m", "20 V", Limit="20 A", Trip="25 A", fields={"Zone": "cabinet", **unit})
    for k, (source, side) in enumerate((("p", "b"), ("m", "c")), start=1):
        contact = {"Contact rating": "13 A", "Contact resistance": "4 mΩ", "Zone": "cabinet"}
        draw(f"J{k}", "through", f"{source} n{k}", pins="1A 1B", fields=contact)
        draw(f"W{k}", "wire", f"n{k} {side}", "1.5 mm²", Length="2 m", Zone="cabinet")
    draw("L1", "load", "b c", Load="5 A", fields=load)
    draw("L2", "load", "b c", Load="1 A")
    settings = AnalysisSettings(
        conductor_temperature_c=held_c,
        resistance_table="copper",
        insulation_default_c=90.0,
        zones={"cabinet": Ambient(10.0, 30.0)},
        enclosures={"cabinet": Enclosure(surface_m2, 5.5)},
    )
    return draw.results(settings)


def test_a_cabinet_is_as_warm_as_all_that_is_in_it_makes_it() -> None:
    """6 A from a unit of 90 % at 20 V, 100 W of them in the cabinet with 30 % heat; 0.4 m² × 5.5 W/(m²·K)."""
    unit = {"Supply power": "150 W", "Efficiency": "90 %", "Power derating": "40 °C: 100 %; 70 °C: 50 %"}
    results = in_a_cabinet(unit, {"Zone": "cabinet", "Heat share": "30 %"}, surface_m2=0.4)
    loop_ohm = 2 * (RHO * 2.0 / 1.5 + 0.004)
    heat_w = 120.0 / 0.9 - 120.0 + 36.0 * loop_ohm + 0.3 * 5.0 * (20.0 - 6.0 * loop_ohm)
    inside_c = 30.0 + heat_w / (0.4 * 5.5)
    (row,) = results.supplies
    assert row.inside_c == pytest.approx(inside_c, abs=0.02)
    assert row.allowed_w == pytest.approx(150.0 * (1.0 - 0.5 * (inside_c - 40.0) / 30.0), rel=1e-3)
    ambient = next(f for f in rows(results)["W1"].rating.factors if f.kind == "ambient")
    assert ambient.input_value == pytest.approx(inside_c, abs=0.02)
    (said,) = [text for text in results.assumptions if text.startswith("Zone cabinet is")]
    for words in ("13.3 W by supplies", "29.", "W by loads", "W by contacts", "W by conductors", "2.2 W/K"):
        assert words in said
    # A load that does not say where it stands gives the cabinet no heat.
    away = in_a_cabinet(unit, {}, surface_m2=0.4)
    assert away.supplies[0].inside_c == pytest.approx(
        30.0 + (heat_w - 0.3 * 5.0 * (20.0 - 6.0 * loop_ohm)) / 2.2, abs=0.02
    )


def test_heat_of_a_cabinet_balances_with_warm_conductors() -> None:
    """What is made inside, over 0.05 m² × 5.5 W/(m²·K), is the rise of the inside.

    Copper counts at the temperature that its own current gives it, not at the 90 °C that its insulation stands.
    """
    results = in_a_cabinet({"Supply power": "150 W", "Efficiency": "95 %"}, {}, surface_m2=0.05, held_c=None)
    (row,) = results.supplies
    parts = rows(results)
    made_w = row.heat_w + parts["J1.1"].loss_w + parts["J2.1"].loss_w
    made_w += parts["W1"].loss_w + parts["W2"].loss_w
    assert (row.inside_c - 30.0) * 0.05 * 5.5 == pytest.approx(made_w, rel=2e-3)
    assert parts["W1"].temperature_c > row.inside_c
    assert "enclosure-heat-unknown" not in {f.rule for f in results.findings}


def test_a_cabinet_that_finds_no_equilibrium_is_a_finding() -> None:
    """10 cm² for hundreds of watts: it passes 300 °C, and the report still comes out."""
    results = in_a_cabinet({"Supply power": "150 W", "Efficiency": "60 %"}, {}, surface_m2=0.001, held_c=None)
    assert "no equilibrium" in found(results, "enclosure-too-hot")["cabinet"].message
    assert results.verdict is Verdict.FAIL


def test_a_unit_of_unknown_heat_in_a_cabinet_leaves_the_report_incomplete() -> None:
    results = in_a_cabinet({"Supply power": "150 W"}, {}, surface_m2=0.4)
    assert "PS1" in found(results, "enclosure-heat-unknown")
    assert results.verdict is not Verdict.PASS
    battery = in_a_cabinet({"Resistance": "50 mΩ"}, {}, surface_m2=0.4)
    assert "enclosure-heat-unknown" not in {f.rule for f in battery.findings}


def test_what_opens_under_load_opens_in_every_arrangement() -> None:
    """1.5 A on a fuse of 1 A with the channel before it active and not: it is listed for both."""
    draw = Sketch()
    draw("PS1", "output", "p m", "12 V", Limit="10 A", Trip="12 A")
    draw("CH1", "limiter", "p q", "2 A", fields={"Trip@pooled": "none"})
    draw("F1", "fuse", "q a", "1 A", Curve="UL 248-14")
    draw("W1", "wire", "a b", "1.5 mm²", Length="1 m", Rating="15 A")
    draw("W2", "wire", "c m", "1.5 mm²", Length="1 m", Rating="15 A")
    draw("L1", "load", "b c", Load="1.5 A")
    draw("L2", "load", "b c", Load="0 A", fields={"Load@surge": "1 A"})
    rows = {row.arrangement: row.trips for row in draw.results().arrangements}
    assert rows == {"as drawn": ("CH1", "F1"), "pooled": ("F1",)}
