"""Texts to SI values. Where a check rests on a published figure, its source stands beside it."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadloom.graph.model.elements import Band, Behaviour, GaugeSystem, LoadKind
from loadloom.plugin import values
from loadloom.plugin.values import UnreadableValue

MM2_PER_CIRCULAR_MIL = math.pi / 4 * 0.0254**2  # a circle of one thousandth of an inch (25.4 mm, ISO 31-1)


def reason(parse, text: str) -> str:
    with pytest.raises(UnreadableValue) as caught:
        parse(text)
    return caught.value.reason


# Circular mils as printed, to three or four figures, in NEC (NFPA 70) chapter 9, table 8.
@pytest.mark.parametrize(
    ("size", "circular_mils"),
    [
        ("18", 1620),
        ("16", 2580),
        ("14", 4110),
        ("12", 6530),
        ("10", 10380),
        ("8", 16510),
        ("6", 26240),
        ("4", 41740),
        ("2", 66360),
        ("1/0", 105600),
        ("4/0", 211600),
    ],
)
def test_awg_areas_are_those_of_the_handbook(size: str, circular_mils: int) -> None:
    assert values.awg_gauge(size).area_mm2 == pytest.approx(circular_mils * MM2_PER_CIRCULAR_MIL, rel=3e-3)


def test_awg_ends_are_exact() -> None:
    # ASTM B258: 36 AWG is 0.0050 in and 4/0 is 0.4600 in by definition.
    for size, inches in (("36", 0.005), ("4/0", 0.46)):
        assert values.awg_gauge(size).area_mm2 == pytest.approx(math.pi / 4 * (25.4 * inches) ** 2, rel=1e-12)


@pytest.mark.parametrize("text", ["18 AWG", "18AWG", "AWG18", "AWG 18", "awg 18", " 18  awg "])
def test_awg_spellings(text: str) -> None:
    gauge = values.gauge(text)
    assert (gauge.system, gauge.size, str(gauge)) == (GaugeSystem.AWG, "18", "18 AWG")


@pytest.mark.parametrize(
    ("text", "size"),
    [("1/0 AWG", "1/0"), ("0 AWG", "1/0"), ("AWG 4/0", "4/0"), ("0000 AWG", "4/0"), ("00AWG", "2/0")],
)
def test_awg_noughts(text: str, size: str) -> None:
    assert values.gauge(text).size == size


@pytest.mark.parametrize(
    ("text", "area_mm2"),
    [
        ("0.75 mm²", 0.75),
        ("0.75mm2", 0.75),
        ("0.75 mm^2", 0.75),
        ("0,75 mm²", 0.75),
        ("1,5 mm²", 1.5),
        ("2.50 sqmm", 2.5),
        ("0,125 mm²", 0.125),
    ],
)
def test_metric_spellings(text: str, area_mm2: float) -> None:
    gauge = values.gauge(text)
    assert (gauge.system, gauge.area_mm2, gauge.size) == (GaugeSystem.MM2, area_mm2, f"{area_mm2:g}")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("16", "it could be AWG or mm²"),
        ("1.5", "it could be AWG or mm²"),
        ("1,500 mm²", "thousands or decimals"),
        ("0.75 mm", "not a size"),
        ("2x0.75 mm²", "one size"),
        ("250 kcmil", "circular mils"),
        ("5/0 AWG", "no AWG size"),
        ("57 AWG", "no AWG size"),
        ("18.5 AWG", "not a size"),
        ("0 mm²", "no conductor"),
        ("-1 mm²", "not a size"),
        ("nan mm²", "not a size"),
        ("", "not a size"),
    ],
)
def test_unreadable_gauges(text: str, why: str) -> None:
    assert why in reason(values.gauge, text)


@pytest.mark.parametrize(
    ("parse", "text", "value"),
    [
        (values.length_m, "350 mm", 0.35),
        (values.length_m, "14 in", 0.3556),  # 1 in = 25.4 mm exactly (international inch, 1959)
        (values.length_m, '14"', 0.3556),
        (values.length_m, "107 ft", 32.6136),  # 1 ft = 0.3048 m exactly
        (values.length_m, "1.2 m", 1.2),
        (values.length_m, "1,2 m", 1.2),
        (values.length_m, "1.5e3 mm", 1.5),
        (values.current_a, "5 A", 5.0),
        (values.current_a, "500mA", 0.5),
        (values.current_a, "1 kA DC", 1000.0),
        (values.power_w, "0.5 kW", 500.0),
        (values.voltage_v, "32 VDC", 32.0),
        (values.resistance_ohm, "2.4 Ω", 2.4),
        (values.resistance_ohm, "2.4 \u2126", 2.4),
        (values.resistance_ohm, "4 mOhm", 4e-3),
        (values.resistance_ohm, "7.9 mΩ", 7.9e-3),
        (values.resistance_ohm, "50 µΩ", 50e-6),
        (values.resistance_ohm, "50 \u03bcΩ", 50e-6),
        (values.resistance_ohm, "0 Ω", 0.0),
        (values.duration_s, "80 ms", 0.08),
        (values.duration_s, "2 h", 7200.0),
        (values.temperature_c, "-20 °C", -20.0),
        (values.temperature_c, "\u221220 °C", -20.0),
        (values.temperature_c, "104 °F", 40.0),
        (values.temperature_c, "300 K", 26.85),
        (values.temperature_rise_k, "30 K", 30.0),
        (values.share, "92 %", 0.92),
        (values.joule_integral_a2s, "120 A²s", 120.0),
        (values.tolerance, "±5 %", 0.05),
        (values.tolerance, "+5/-3 %", 0.05),
        (values.tolerance, "5%", 0.05),
    ],
)
def test_quantities(parse, text: str, value: float) -> None:
    assert parse(text) == pytest.approx(value, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(
    ("parse", "text", "why"),
    [
        (values.length_m, "350", "no unit"),
        (values.length_m, "1,000 m", "thousands or decimals"),
        (values.length_m, "12,000 mm", "thousands or decimals"),
        (values.length_m, "1,000,000 mm", "thousands or decimals"),
        (values.length_m, "1.000,5 m", "not a unit"),
        (values.length_m, "0 m", "0 has no meaning"),
        (values.length_m, "-3 m", "negative"),
        (values.length_m, "nan m", "finite"),
        (values.length_m, "inf", "finite"),
        (values.length_m, "1e400 m", "too large"),
        (values.length_m, "1e300 m", "no harness"),
        (values.length_m, "1e-300 m", "no harness"),
        (values.length_m, "3 A", "unit of current"),
        (values.length_m, "3 ells", "not a known unit"),
        (values.length_m, "3**9**9 m", "not a unit"),
        (values.length_m, "=2+3", "begin with a number"),
        (values.length_m, "9" * 1000 + " m", "characters long"),
        (values.current_a, "5 h", "unit of time"),
        (values.current_a, "5 A AC", "alternating"),
        (values.current_a, "0 A", "0 has no meaning"),
        (values.resistance_ohm, "-2 mΩ", "negative"),
        (values.temperature_c, "-300 °C", "absolute zero"),
        (values.temperature_c, "40", "no unit"),
        (values.share, "120 %", "100 %"),
        (values.share, "0.9", "no unit"),
        (values.voltage_v, "", "empty"),
    ],
)
def test_unreadable_quantities(parse, text: str, why: str) -> None:
    assert why in reason(parse, text)


@pytest.mark.parametrize(
    ("text", "lower", "nominal", "upper"),
    [
        ("40 A", 40, 40, 40),
        ("40 A ±10 %", 36, 40, 44),
        ("40 A +/-10 %", 36, 40, 44),
        ("40 A ± 4 A", 36, 40, 44),
        ("40 A +20/-0 %", 40, 40, 48),
        ("40 A +20 % -0 %", 40, 40, 48),
        ("40 A -0/+20 %", 40, 40, 48),
        ("40 A +2 A/-1 A", 39, 40, 42),
        ("36…44 A", 36, 40, 44),
        ("36..44 A", 36, 40, 44),
        ("36 A - 44 A", 36, 40, 44),
        ("36–44 A", 36, 40, 44),
        ("500 mA…1,5 A", 0.5, 1.0, 1.5),
        ("1e-3…3e-3 A", 1e-3, 2e-3, 3e-3),
    ],
)
def test_bands(text: str, lower: float, nominal: float, upper: float) -> None:
    band = values.current_band_a(text)
    assert (band.lower, band.nominal, band.upper) == pytest.approx((lower, nominal, upper))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("44…36 A", "above its upper"),
        ("36…44", "no unit"),
        ("40 ± 10 %", "no unit"),
        ("40 A ±120 %", "negative"),
        ("40 A ±100 %", "0 has no meaning"),
        ("40 A +10/+20 %", "twice"),
        ("36 V…44 A", "unit of voltage"),
        ("about 40 A", "begin with a number"),
    ],
)
def test_unreadable_bands(text: str, why: str) -> None:
    assert why in reason(values.current_band_a, text)


def test_contact_resistance_from_new_to_aged() -> None:
    assert values.resistance_band_ohm("1.5…10 mΩ") == Band(5.75e-3, 1.5e-3, 10e-3)


def test_points() -> None:
    assert values.power_derating("50 °C: 70 %; 40 °C: 100 %") == ((40.0, 1.0), (50.0, 0.7))
    assert values.efficiency("20 %: 90 %; 50 %: 92 %; 100 %: 89 %") == ((0.2, 0.9), (0.5, 0.92), (1.0, 0.89))
    assert values.efficiency("92 %") == ((1.0, 0.92),)
    assert "colon" in reason(values.power_derating, "40 °C 100 %")
    assert "same point" in reason(values.power_derating, "40 °C: 100 %; 40 °C: 70 %")
    assert "no meaning" in reason(values.efficiency, "0 %")


def test_mounting_derating() -> None:
    assert values.mounting_derating("80 %") == (("mounting", 0.8),)
    assert values.mounting_derating("upside down: 80 %; dust  filter: 90 %;") == (
        ("upside down", 0.8),
        ("dust filter", 0.9),
    )
    for text in ("0 %", "120 %", "80", "upside down", "upside down: 80 %; ; 90 %"):
        reason(values.mounting_derating, text)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("5 A", LoadKind.CURRENT, 5.0),
        ("60 W", LoadKind.POWER, 60.0),
        ("2.4 Ω", LoadKind.RESISTANCE, 2.4),
        ("0 A", LoadKind.CURRENT, 0.0),
    ],
)
def test_demand(text: str, kind: LoadKind, value: float) -> None:
    assert values.demand(text) == (kind, value)


@pytest.mark.parametrize(("text", "why"), [("5", "no unit"), ("5 V", "not in A, W or Ω"), ("0 Ω", "no meaning")])
def test_unreadable_demand(text: str, why: str) -> None:
    assert why in reason(values.demand, text)


def test_words() -> None:
    assert values.behaviour("Constant current") is Behaviour.CONSTANT_CURRENT
    assert values.behaviour("latch_off") is Behaviour.LATCH_OFF
    assert "none of latch-off" in reason(values.behaviour, "trips")
    assert values.is_none(" None ")
    assert values.closed("Open") is False
    assert values.gauge_range_mm2("20…16 AWG") == pytest.approx(
        (values.gauge("20 AWG").area_mm2, values.gauge("16 AWG").area_mm2)
    )
    assert values.gauge_range_mm2("0.5…1.5 mm²") == (0.5, 1.5)


def test_quoting_is_short_and_harmless() -> None:
    assert values.quoted("a\x00b\n\u202ec") == "“a·b ·c”"
    assert len(values.quoted("x" * 40_000)) == 62


PREFIXES = {"m": 1e-3, "": 1.0, "k": 1e3}
POSITIVE = st.floats(min_value=1e-3, max_value=9e2)


@given(POSITIVE, st.sampled_from(sorted(PREFIXES)), st.booleans(), st.booleans())
def test_what_is_written_is_read(value: float, prefix: str, comma: bool, space: bool) -> None:
    written = f"{value:.9f}"  # nine decimals can't be mistaken for thousands
    text = (written.replace(".", ",") if comma else written) + (" " if space else "") + f"{prefix}A"
    assert values.current_a(text) == pytest.approx(float(written) * PREFIXES[prefix], rel=1e-12)


@given(POSITIVE, st.floats(min_value=0.0, max_value=0.99))
def test_a_tolerance_is_a_band(value: float, share: float) -> None:
    band = values.current_band_a(f"{value!r} A ±{100 * share:.6f} %")
    assert band.lower == pytest.approx(value * (1 - share), rel=1e-6, abs=1e-6)
    assert band.upper == pytest.approx(value * (1 + share), rel=1e-6, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "below", "above"),
    [
        ("5 %", 0.05, 0.05),
        ("±5 %", 0.05, 0.05),
        ("+20/-0 %", 0.0, 0.2),
        ("-3/+5 %", 0.03, 0.05),
        ("+20 %/-0 %", 0.0, 0.2),
    ],
)
def test_each_side_of_a_tolerance_stands_by_itself(text: str, below: float, above: float) -> None:
    found = values.tolerance_each_way(text)
    assert (found.below, found.above) == (pytest.approx(below), pytest.approx(above))


def test_a_tolerance_does_not_give_one_side_twice() -> None:
    with pytest.raises(UnreadableValue):
        values.tolerance_each_way("+5/+3 %")


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused(text: str) -> None:
    for parse in (
        values.gauge,
        values.length_m,
        values.current_band_a,
        values.demand,
        values.tolerance,
        values.power_derating,
        values.temperature_c,
        values.gauge_range_mm2,
        values.area_mm2,
    ):
        try:
            found = parse(text)
        except UnreadableValue as unreadable:
            assert unreadable.reason
        else:
            assert found is not None


@given(st.from_regex(r"[0-9.,…±+/% AVWΩm-]{1,40}", fullmatch=True))
def test_bands_are_ordered_and_finite(text: str) -> None:
    try:
        band = values.current_band_a(text)
    except UnreadableValue:
        return
    assert 0.0 <= band.lower <= band.nominal <= band.upper < math.inf


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("solid", 1),
        ("19", 19),
        ("19/0.2 mm", 19),
        ("7/34", 7),
        ("26/36 AWG", 26),
        ("7×0.25", 7),
        ("84 x 0.1 mm", 84),
        # ropes of several layers: all of their strands
        ("7x19x0.1 mm", 133),
        ("7x7x0.2", 49),
        ("7x19/0.1", 133),
    ],
)
def test_strands(text: str, count: int) -> None:
    assert values.strands(text) == count


@pytest.mark.parametrize("text", ["0", "7x7", "x", "7x", "many", "-7", "7.5", "99999x99999x0.1"])
def test_what_is_no_number_of_strands(text: str) -> None:
    with pytest.raises(values.UnreadableValue):
        values.strands(text)


# Every unit with every prefix, as pint's own registry of all units has it; the units of flow, heat and squares are
# written out, since a drawing writes them in ways of its own.
WRITTEN_OUT = {
    "A2s": "ampere ** 2 * second",
    "Ah": "ampere * hour",
    "mm2": "millimeter ** 2",
    "m2": "meter ** 2",
    "m3_per_s": "meter ** 3 / second",
    "m3_per_h": "meter ** 3 / hour",
    "liter_per_s": "liter / second",
    "w_per_m2": "watt / meter ** 2",
    "w_per_m2k": "watt / meter ** 2 / kelvin",
    "mil": "thou",
}
BASE = {
    "length": "meter",
    "time": "second",
    "current": "ampere",
    "voltage": "volt",
    "power": "watt",
    "resistance": "ohm",
    "share": "dimensionless",
    "area": "meter ** 2",
    "air flow": "meter ** 3 / second",
    "surface coefficient": "watt / meter ** 2 / kelvin",
    "irradiance": "watt / meter ** 2",
    "joule integral": "ampere ** 2 * second",
    "capacitance": "farad",
    "charge": "ampere * hour",
}


def test_units_are_what_pint_says() -> None:
    registry = pint.UnitRegistry()
    units = {unit: (unit, 1.0) for unit in (*values._PLAIN, *values._PREFIXED)}
    units |= {f"{p}{u}": (u, size) for p, size in values._PREFIXES.items() for u in values._PREFIXED}
    for unit, (name, prefix) in units.items():
        found = values._unit_of(unit)
        assert found is not None, unit
        dimension, size = found
        if dimension == "temperature":
            continue
        there = registry.parse_expression(WRITTEN_OUT.get(name, name)).to(BASE[dimension]).magnitude
        assert size == pytest.approx(prefix * float(there), rel=1e-14), unit
        assert values._convert(1.0, unit, dimension) == pytest.approx(size, rel=1e-13), unit


@pytest.mark.parametrize("unit", ["degC", "degF", "kelvin"])
@pytest.mark.parametrize("value", [300.0, 451.0])
def test_temperatures_are_what_pint_says(unit: str, value: float) -> None:
    there = pint.UnitRegistry().Quantity(value, unit).to("degC").magnitude
    assert values._convert(value, unit, "temperature") == pytest.approx(float(there), rel=1e-13)


@pytest.mark.parametrize("text", ["5 kAs", "5 As", "5 kVs", "5 inchess", "5 kmin"])
def test_symbols_have_no_plural_and_words_but_one(text: str) -> None:
    for read in (values.current_a, values.voltage_v, values.length_m, values.duration_s):
        with pytest.raises(UnreadableValue):
            read(text)
