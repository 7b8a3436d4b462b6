"""What the page of a rule gives as passing and failing, drawn and analysed; the numbers by hand.

The pages are the rules' docstrings. Conductors are at 20 °C; where a resistance matters it is stated.
"""

from __future__ import annotations

import pytest
from page_examples import OUTPUT, Drawn, approx, values
from test_variants import found

from loadloom.graph.model.findings import Severity
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import Ambient, AnalysisSettings

# ---- what carries more than it may ---------------------------------------------------------------------------


def six_paths(count: int, good: int) -> Results:
    """``count`` contacts of 10 mΩ and ``good`` of 1.5 mΩ side by side, 50 A through them."""
    draw = Drawn()
    for k in range(count + good):
        draw.contact(f"J{k}", "p q", "9.2 A", "10 mΩ" if k < count else "1.5 mΩ")
    draw.wire("W9", "r m")
    draw.load("L1", "q r", "50 A")
    return draw.results()


def test_contact_overload() -> None:
    """1 / 1.5 mΩ against 5 / 10 mΩ: the good one takes 0.667 / 1.167 of 50 A, 28.6 A; six alike 8.33 A."""
    assert values(six_paths(6, 0), "contact-overload") == {}
    share = (1 / 1.5) / (1 / 1.5 + 5 / 10.0)
    told = found(six_paths(5, 1), "contact-overload")
    assert [(f.subject.id, f.value, f.limit) for f in told.values()] == [
        ("J5.1", pytest.approx(50.0 * share), pytest.approx(9.2))
    ]


@pytest.mark.parametrize(("contacts", "each_a"), [(3, None), (2, 11.0)])
def test_return_overload(contacts: int, each_a: float | None) -> None:
    draw = Drawn()
    draw.wire("W1", "p q")
    for k in range(contacts):
        draw.contact(f"J{k}", "r m", "9 A")
    draw.load("L1", "q r", "12 A")
    draw.load("L2", "q r", "10 A")
    told = found(draw.results(), "return-overload")
    if each_a is None:
        assert told == {}
    else:
        assert {f.subject.id for f in told.values()} == {"J0.1", "J1.1"}
        assert [f.value for f in told.values()] == pytest.approx([each_a, each_a])


@pytest.mark.parametrize(("amperes", "over"), [(50.0, False), (90.0, True)])
def test_output_overload(amperes: float, over: bool) -> None:
    draw = Drawn(Limit="83.3 A")
    draw.wire("W1", "p q")
    draw.wire("W9", "r m")
    draw.load("L1", "q r", f"{amperes:g} A")
    assert values(draw.results(), "output-overload") == ({"PS1": approx(amperes, 83.3)} if over else {})


@pytest.mark.parametrize(("amperes", "over"), [(8.0, False), (10.0, False), (12.0, True)])
def test_switch_overload(amperes: float, over: bool) -> None:
    draw = Drawn()
    draw("K1", "switch", "p q", fields={"Rating": "10 A", "Resistance": "2 mΩ"})
    draw.wire("W9", "r m")
    draw.load("L1", "q r", f"{amperes:g} A")
    assert values(draw.results(), "switch-overload") == ({"K1": approx(amperes, 10.0)} if over else {})


@pytest.mark.parametrize(("rating", "over"), [("20 A", False), ("15 A", False), ("10 A", True)])
def test_splice_overload(rating: str, over: bool) -> None:
    """Half of 15 A in and three times 5 A out is 15 A."""
    draw = Drawn()
    draw.wire("W1", "p q")
    draw("S1", "splice", "q", pins="1", fields={"Rating": rating})
    for k in range(3):
        draw.wire(f"W{k + 2}", f"q a{k}")
        draw.load(f"L{k}", f"a{k} m", "5 A")
    assert values(draw.results(), "splice-overload") == ({"S1": approx(15.0, 10.0)} if over else {})


def test_uneven_sharing() -> None:
    """0.5 m and 1.0 m share 20 A as 13.3 A and 6.67 A, 1.33 times the equal share."""
    for other, told in (("1 mΩ", {}), ("2 mΩ", {"W1": approx(4.0 / 3.0, 1.2)})):
        draw = Drawn()
        draw.wire("W1", "p q")
        draw.wire("W2", "p q", Resistance=other)
        draw.wire("W9", "r m")
        draw.load("L1", "q r", "20 A")
        settings = AnalysisSettings(conductor_temperature_c=20.0, uneven_sharing=1.2)
        results = draw.results(settings)
        assert values(results, "uneven-sharing") == told
        for each in found(results, "uneven-sharing").values():
            assert "W1 carries 13.3 A, 1.33 times the equal share of 10 A among 2 paths" in each.message


# ---- devices -------------------------------------------------------------------------------------------------


def behind(device: tuple[str, str, dict[str, str]], wire: str, amperes: float, **output: str) -> Results:
    """An output, one device, a wire of a rating, a load."""
    name, role, fields = device
    draw = Drawn(**output)
    draw(name, role, "p q", fields={"Resistance": "1 mΩ", **fields})
    draw.wire("W1", "q a", wire)
    draw.wire("W9", "r m")
    draw.load("L1", "a r", f"{amperes:g} A")
    return draw.results()


def fuse(rating: str, **fields: str) -> tuple[str, str, dict[str, str]]:
    return "F1", "fuse", {"Rating": rating, "Curve": "UL 248-14", "Voltage rating": "58 V", **fields}


@pytest.mark.parametrize(("wire", "over"), [("12 A", False), ("10 A", False), ("6 A", True)])
def test_fuse_above_wire(wire: str, over: bool) -> None:
    assert values(behind(fuse("10 A"), wire, 3.0), "fuse-above-wire") == ({"F1": approx(10.0, 6.0)} if over else {})


@pytest.mark.parametrize(
    ("amperes", "over"), [(7.0, False), (10.0, False), (10.1, True), (12.0, True), (14.0, True)]
)
def test_fuse_would_open(amperes: float, over: bool) -> None:
    """By UL 248-14 it carries 100 % and opens at 135 %; between them nothing is certain."""
    results = behind(fuse("10 A"), "30 A", amperes)
    assert values(results, "fuse-would-open") == ({"F1": approx(amperes, 10.0)} if over else {})
    for each in found(results, "fuse-would-open").values():
        assert ("may open" in each.message) == (amperes < 13.5), each.message


@pytest.mark.parametrize(("trip", "rating", "told"), [("7.5 A", "5 A", False), ("7.5 A", "10 A", True)])
def test_device_never_opens(trip: str, rating: str, told: bool) -> None:
    results = behind(fuse(rating), "30 A", 3.0, Limit="7 A", Trip=trip)
    assert ("F1" in found(results, "device-never-opens")) == told


@pytest.mark.parametrize(("volts", "told"), [("58 V", False), ("48 V", False), ("32 V", True)])
def test_voltage_rating(volts: str, told: bool) -> None:
    draw = Drawn("48 V")
    draw("F1", "fuse", "p q", fields={"Rating": "10 A", "Curve": "UL 248-14", "Voltage rating": volts})
    draw.wire("W1", "q a", "30 A")
    draw.load("L1", "a m", "3 A")
    assert values(draw.results(), "voltage-rating") == ({"F1": approx(48.0, 32.0)} if told else {})


@pytest.mark.parametrize(("ohm", "told"), [("50 mΩ", None), ("24 mΩ", None), ("5 mΩ", 4800.0)])
def test_breaking_capacity(ohm: str, told: float | None) -> None:
    """24 V over the battery's own resistance, the fuse right at it."""
    draw = Drawn(Resistance=ohm)
    draw("F1", "fuse", "p q", fields={"Rating": "10 A", "Curve": "UL 248-14", "Breaking capacity": "1 kA"})
    draw.wire("W1", "q a", "30 A")
    draw.load("L1", "a m", "3 A")
    assert values(draw.results(), "breaking-capacity") == ({} if told is None else {"F1": approx(told, 1000.0)})


@pytest.mark.parametrize(("upper", "lower", "told"), [(20, 5, False), (10, 8, True), (13.5, 10, False)])
def test_not_selective(upper: float, lower: float, told: bool) -> None:
    """UL 248-14: certain to carry 100 % and to open above 135 %: 20 A against 6.75 A, 10 A against 10.8 A.

    What else the upper one feeds loses its supply with it.
    """
    draw = Drawn()
    draw("F1", "fuse", "p q", fields={"Rating": f"{upper:g} A", "Curve": "UL 248-14"})
    draw("F2", "fuse", "q a", fields={"Rating": f"{lower:g} A", "Curve": "UL 248-14"})
    draw.wire("W1", "a b", "40 A")
    draw.load("L1", "b m", "3 A")
    draw.load("L2", "q m", "1 A")
    results = draw.results()
    pairs = [f for f in results.findings if f.rule == "not-selective" and "F1" in f.message and "F2" in f.message]
    assert bool(pairs) == told


@pytest.mark.parametrize(("amperes", "low"), [(15.0, 16.6667), (17.0, 18.8889)])
def test_no_setting_range(amperes: float, low: float) -> None:
    """± 10 %: from load / 0.9 up to 20 A / 1.1 = 18.2 A."""
    limiter = ("CH1", "limiter", {"Trip": "18 A ±10 %", "Delay": "1 ms"})
    results = behind(limiter, "20 A", amperes)
    (row,) = (d for d in results.devices if d.id == "CH1")
    assert (row.setting_low_a, row.setting_high_a) == (
        pytest.approx(low, rel=1e-4),
        pytest.approx(20.0 / 1.1, rel=1e-3),
    )
    assert ("CH1" in found(results, "no-setting-range")) == (amperes > 16.0)


def test_limiter_would_trip() -> None:
    """25 A + 25 A behind 40 A; 40 A on one of exactly 40 A stays."""
    limiter = ("CH1", "limiter", {"Trip": "40 A", "Delay": "1 ms"})
    assert values(behind(limiter, "90 A", 40.0), "limiter-would-trip") == {}
    results = behind(limiter, "90 A", 50.0)
    assert values(results, "limiter-would-trip") == {"CH1": approx(50.0, 40.0)}
    told = found(results, "limiter-would-trip")["CH1"].message
    assert told.startswith("Limiter CH1 has to carry 50 A") and "may " not in told.partition("only")[2]
    banded = ("CH1", "limiter", {"Trip": "40 A ±10 %", "Delay": "1 ms"})
    told = found(behind(banded, "90 A", 40.0), "limiter-would-trip")["CH1"]
    assert (told.value, told.limit) == approx(40.0, 36.0) and "may " in told.message.partition("only")[2]


def test_curve_assumed() -> None:
    """A fuse by rating alone is certain to open only above 2.1 times it (IEC 60127-2)."""
    assert found(behind(fuse("10 A"), "30 A", 3.0), "curve-assumed") == {}
    plain = ("F1", "fuse", {"Rating": "10 A", "Voltage rating": "58 V"})
    told = found(behind(plain, "30 A", 3.0), "curve-assumed")["F1"]
    assert told.value == pytest.approx(21.0) and "21 A, 2.1 times its rating" in told.message
    assert told.severity is Severity.NOTE


def test_poles_of_a_contactor_by_what_each_interrupts() -> None:
    """24 V / 11 mΩ is 2.2 kA behind either pole, each of 1 mΩ behind 10 mΩ; the one that breaks less is told."""
    draw = Drawn()
    for pole, breaks in (("1", "1 kA"), ("2", "500 A")):
        stated = {"Rating": "60 A", "Breaking capacity": breaks, "Resistance": "1 mΩ"}
        draw(f"K{pole}", "contactor", f"p q{pole}", pins="1 2", fields=stated)
        draw.wire(f"W{pole}", f"q{pole} a{pole}")
        draw.load(f"L{pole}", f"a{pole} m", "3 A")
    assert values(draw.results(), "contactor-opens-into-fault") == {
        "K1": approx(24.0 / 0.011, 1000.0),
        "K2": approx(24.0 / 0.011, 500.0),
    }


def test_of_a_contactors_poles_the_one_furthest_over_is_told() -> None:
    """24 V over 10 + 1 mΩ and over 10 + 20 mΩ: 2182 A through one pole, 800 A through the other, both of 500 A."""
    for order in ((0, 1), (1, 0)):
        draw = Drawn()
        ends = [("p q1", "q1 a1"), ("s q2", "q2 a2")]
        stated = {"Rating": "60 A", "Breaking capacity": "500 A", "Resistance": "1 mΩ"}
        draw.wire("W0", "p s", Resistance="19 mΩ")
        nets = " ".join(ends[k][0] for k in order)
        draw("K1", "contactor", nets, pins="1 2 3 4", fields={**stated, "Path": "1-2; 3-4"})
        for k in (0, 1):
            draw.wire(f"W{k + 1}", ends[k][1])
            draw.load(f"L{k + 1}", f"a{k + 1} m", "3 A")
        (told,) = found(draw.results(), "contactor-opens-into-fault").values()
        assert told.value == pytest.approx(24.0 / 0.011), order


# ---- voltages ------------------------------------------------------------------------------------------------


def fed(volts: str, ohm: str, load: str, **fields: str) -> Results:
    """A load at the end of a feed and a return of ``ohm`` each."""
    draw = Drawn(
        volts, **({"Tolerance": fields.pop("tolerance")} if "tolerance" in fields else {}), Resistance="0 Ω"
    )
    draw.wire("W1", "p a", Resistance=ohm)
    draw.wire("W2", "r m", Resistance=ohm)
    draw.load("L1", "a r", load, **fields)
    return draw.results()


def test_voltage_low() -> None:
    """2 A through 2 × 0.15 Ω from 12 V leaves 11.4 V; through 2 × 0.2 Ω 11.2 V."""
    assert values(fed("12 V", "0.15 Ω", "2 A", **{"Minimum voltage": "11.4 V"}), "voltage-low") == {}
    results = fed("12 V", "0.2 Ω", "2 A", **{"Minimum voltage": "11.4 V"})
    assert values(results, "voltage-low") == {"L1": approx(11.2, 11.4)}
    told = found(results, "voltage-low")["L1"]
    assert "gets 11.2 V, 0.2 V less than the 11.4 V" in told.message and "remote sense" not in told.message
    assert "at least 0.2 V" in told.remedy


@pytest.mark.parametrize(("most", "told"), [("13.2 V", False), ("12.6 V", False), ("12.5 V", True)])
def test_voltage_high(most: str, told: bool) -> None:
    results = fed("12 V", "0.1 Ω", "2 A", tolerance="5 %", **{"Maximum voltage": most})
    assert values(results, "voltage-high") == ({"L1": approx(12.6, 12.5)} if told else {})


def test_touch_voltage() -> None:
    """Two outputs of 36 V in series: 72 V from end to end, over 60 V; one of 48 V + 5 % is not."""
    assert values(fed("48 V", "0.1 Ω", "2 A", tolerance="5 %"), "touch-voltage") == {}
    draw = Drawn("36 V")
    draw("PS2", "output", "m n", "36 V", fields={**OUTPUT, "Limit": "9 A", "Trip": "10 A"})
    draw.wire("W1", "p a")
    draw.load("L1", "a n", "2 A")
    told = values(draw.results(), "touch-voltage")
    assert told == {"PS1": approx(72.0, 60.0), "PS2": approx(72.0, 60.0)}


def test_load_unfed() -> None:
    """100 W behind 1 Ω from 12 V, which passes 12² / 4 = 36 W at most."""
    assert found(fed("12 V", "0.5 Ω", "35 W"), "load-unfed") == {}
    assert "L1" in found(fed("12 V", "0.5 Ω", "37 W"), "load-unfed")
    assert "L1" in found(fed("12 V", "0.5 Ω", "100 W"), "load-unfed")
    draw = Drawn()
    draw.wire("W1", "p a")
    draw.load("L1", "a a", "2 A")
    assert "L1" in found(draw.results(), "load-unfed")


def test_reversed_polarity() -> None:
    assert found(fed("12 V", "0.1 Ω", "2 A"), "reversed-polarity") == {}
    draw = Drawn()
    draw.wire("W1", "p a")
    draw.wire("W2", "r m")
    draw.load("L1", "r a", "2 A")
    assert list(found(draw.results(), "reversed-polarity")) == ["L1"]


# ---- heat and power of supplies ------------------------------------------------------------------------------


@pytest.mark.parametrize(("inside", "told"), [(40.0, False), (50.0, True)])
def test_supply_overload(inside: float, told: bool) -> None:
    """400 W of 500 W at 40 °C; of 350 W at 50 °C, where the unit gives 70 %: 114 %."""
    draw = Drawn(
        "20 V",
        Resistance="0 Ω",
        **{"Supply": "PSU", "Supply power": "500 W", "Power derating": "40 °C: 100 %; 50 °C: 70 %"},
    )
    draw.wire("W1", "p a", Resistance="0 Ω")
    draw.wire("W2", "r m", Resistance="0 Ω")
    draw.load("L1", "a r", "20 A")
    settings = AnalysisSettings(conductor_temperature_c=20.0, default_ambient=Ambient(0.0, inside))
    results = draw.results(settings)
    assert values(results, "supply-overload") == ({"PSU": approx(400.0, 350.0)} if told else {})
    assert all("114 %" in each.message for each in found(results, "supply-overload").values())
    assert all("(500 W × 70 % (" in each.message for each in found(results, "supply-overload").values())


def test_supply_overload_of_a_unit_that_nothing_derates() -> None:
    """400 W of 350 W: no factor stands in brackets where there is none."""
    draw = Drawn("20 V", Resistance="0 Ω", **{"Supply": "PSU", "Supply power": "350 W"})
    draw.wire("W1", "p a", Resistance="0 Ω")
    draw.wire("W2", "r m", Resistance="0 Ω")
    draw.load("L1", "a r", "20 A")
    (finding,) = found(draw.results(), "supply-overload").values()
    assert "400 W, 114 % of the 350 W that it may give." in finding.message


# ---- what is drawn -------------------------------------------------------------------------------------------


def test_parts_and_outputs_with_both_ends_on_one_net() -> None:
    draw = Drawn()
    draw("PS2", "output", "x x", "12 V", fields={**OUTPUT, "Limit": "9 A"})
    draw("F1", "fuse", "p p", fields={"Rating": "5 A", "Curve": "UL 248-14"})
    draw.wire("W1", "p a")
    draw.load("L1", "a m", "2 A")
    results = draw.results()
    assert list(found(results, "output-shorted")) == ["PS2"]
    assert list(found(results, "part-bypassed")) == ["F1"]


def test_dead_end() -> None:
    draw = Drawn()
    draw.wire("W1", "p a")
    draw.wire("W2", "a air")
    draw.load("L1", "a m", "2 A")
    assert list(found(draw.results(), "dead-end")) == ["W2"]


def test_mixed_gauges() -> None:
    for size, told in (("16 mm²", False), ("10 mm²", True)):
        draw = Drawn()
        draw.wire("W1", "p q")
        draw.wire("W2", "p q")
        draw("W3", "wire", "p q", size, fields={"Length": "1 m", "Rating": "90 A", "Resistance": "1 mΩ"})
        draw.load("L1", "q m", "2 A")
        assert bool(found(draw.results(), "mixed-gauges")) == told
