"""Every quantity of the settings is read by its own dimension and range: anything else is one sentence, exit 2."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from loadloom.graph.model.value_units import VALUE_UNITS
from loadloom.graph.verdict.registry import all_rules
from loadloom.plugin.cli import EXIT_UNUSABLE, main
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.settings_file import read_settings

ROOT = Path(__file__).resolve().parents[2]

ONE_OF_EACH = {
    "length": "5 mm",
    "time": "5 s",
    "current": "5 A",
    "voltage": "5 V",
    "power": "5 W",
    "resistance": "5 mΩ",
    "temperature": "50 °C",
    "share": "50 %",
    "area": "5 mm²",
    "air flow": "5 m³/h",
    "surface coefficient": "5 W/(m²K)",
    "irradiance": "5 W/m²",
    "joule integral": "5 A²s",
    "size": "18 AWG",
}
"""A text of each dimension, small enough to be within every range."""


@dataclass(frozen=True)
class Quantity:
    """A key: the file with ``@`` where its value stands, its dimension, and texts beyond its range."""

    file: str
    dimension: str
    beyond: tuple[str, ...]
    negative: bool = False
    also: tuple[str, ...] = ()
    """Dimensions that are read as well."""


CONTACT, CURVE = "[contact.pin]\n", "[curve.slow]\npoints = [{ multiple = 2, max = '1 s' }]\n"
ENCLOSURE = "[enclosure.DOME]\n"
HUGE = {"length": "1e9 m", "current": "1e9 A", "voltage": "1e9 V", "resistance": "1e12 Ω", "time": "1e12 s"}


def accept(rule: str) -> str:
    return f'[[accept]]\nrule = "{rule}"\nsubject = "W1"\nreason = "r"\nby = "b"\ndate = "2026-01-01"\nvalue = @\n'


QUANTITIES = {
    "conductor_temperature": Quantity("conductor_temperature = @", "temperature", ("501 °C", "-201 °C"), True),
    "insulation_temperature": Quantity("insulation_temperature = @", "temperature", ("261 °C", "59 °C"), True),
    "altitude": Quantity("altitude = @", "length", ("101 km",)),
    "margin": Quantity("margin = @", "share", ("100 %", "101 %", "1000 %")),
    "fuse_loading": Quantity("fuse_loading = @", "share", ("0 %", "101 %")),
    "load_voltage_tolerance": Quantity("load_voltage_tolerance = @", "share", ("100 %", "+1/-101 %")),
    "touch_voltage": Quantity("touch_voltage = @", "voltage", ("0 V", "1501 V", "1e300 V")),
    "contact_resistance": Quantity("contact_resistance = @", "resistance", ("1.1 Ω", "1 mΩ…2 Ω", "3…2 mΩ")),
    "length_tolerance": Quantity("length_tolerance = @", "share", ("100 %", "±150 %")),
    "default_length": Quantity("default_length = @", "length", ("0 m", "101 km")),
    "stocked_sizes": Quantity("stocked_sizes = ['18 AWG', @]", "size", ("99 AWG", "1e6 mm²"), also=("area",)),
    "rule_values length": Quantity("[rule_values]\ntap_length = @", "length", ("101 km",)),
    "rule_values of a set": Quantity("[rule_values.small-craft]\ndevice_within = @", "length", ("101 km",)),
    "rule_values loading": Quantity("[rule_values.loading-75]\nloading_share = @", "share", ("0 %", "101 %")),
    "rule_values wire": Quantity("[rule_values]\nwire_share = @", "share", ("99 %", "1001 %"), also=("share",)),
    "ambient min": Quantity("[ambient]\nmax = '90 °C'\nmin = @", "temperature", ("-201 °C", "91 °C"), True),
    "ambient max": Quantity("[ambient]\nmin = '-90 °C'\nmax = @", "temperature", ("501 °C", "-91 °C"), True),
    "ambient of a zone": Quantity("[ambient.D]\nmin = '0 °C'\nmax = @", "temperature", ("501 °C",), True),
    "surface": Quantity(f"{ENCLOSURE}surface = @", "area", ("0 m²", "10001 m²")),
    "surface_coefficient": Quantity(
        f"{ENCLOSURE}surface = '1 m²'\nsurface_coefficient = @", "surface coefficient", ("201 W/(m²K)",)
    ),
    "width": Quantity(f"{ENCLOSURE}height = '1 m'\ndepth = '1 m'\nwidth = @", "length", ("1 mm", "101 m")),
    "sun": Quantity(f"{ENCLOSURE}surface = '1 m²'\nsun = @", "irradiance", ("1501 W/m²",)),
    "air_flow": Quantity(f"{ENCLOSURE}air_flow = @", "air flow", ("101 m³/s",)),
    "wire_class gauge": Quantity("[wire_class.F]\ngauge = @", "size", ("99 AWG",), also=("area",)),
    "wire_class length": Quantity("[wire_class.F]\nlength = @", "length", ("0 m", HUGE["length"])),
    "wire_class rating": Quantity("[wire_class.F]\nrating = @", "current", ("0 A", HUGE["current"])),
    "wire_class voltage": Quantity("[wire_class.F]\nvoltage_rating = @", "voltage", ("0 V", HUGE["voltage"])),
    "wire_class resistance": Quantity("[wire_class.F]\nresistance = @", "resistance", (HUGE["resistance"],)),
    "net gauge": Quantity('[net."/B"]\ngauge = @', "size", ("99 AWG",), also=("area",)),
    "net length": Quantity('[net."/B"]\nlength = @', "length", (HUGE["length"],)),
    "net segment": Quantity('[net."/B".segments]\n"J1.1-J2.1" = @', "length", ("0 m", HUGE["length"])),
    "rated": Quantity(f"{CONTACT}rated = @", "current", ("0 A", HUGE["current"], "1: 0 A; 6: 9 A", "0: 5 A")),
    "resistance": Quantity(f"{CONTACT}resistance = @", "resistance", ("1.1 Ω",)),
    "rise": Quantity(f"{CONTACT}rise = @", "temperature", ("0 K", "501 K")),
    "max_temperature": Quantity(f"{CONTACT}max_temperature = @", "temperature", ("501 °C", "19 °C"), True),
    "i2t": Quantity(f"{CONTACT}i2t = @", "joule integral", ("0 A²s", "1e13 A²s")),
    "wire_range": Quantity(f"{CONTACT}wire_range = @", "size", ("99 AWG",), also=("area",)),
    "derating": Quantity(f"{CONTACT}derating = @", "points", ("20 °C: 1e9 A", "501 °C: 5 A", "20 °C: -1 A")),
    "curve ambient": Quantity(f"{CURVE}ambient = @", "temperature", ("501 °C",), True),
    "curve rerating": Quantity(f"{CURVE}rerating = @", "points", ("20 °C: 1001 %", "20 °C: 5 A", "1 A: 50 %")),
    "curve point": Quantity("[curve.s]\npoints = [{ multiple = 2, max = @ }]", "time", (HUGE["time"],)),
    "voltage_ratings": Quantity("[design]\nvoltage_ratings = ['32 V', @]", "voltage", ("0 V", HUGE["voltage"])),
    "breaking_capacities": Quantity("[design]\nbreaking_capacities = [@]", "current", ("0 A", HUGE["current"])),
    "accept A": Quantity(accept("wire-overload"), "current", ("0 A", "1e308 kA", "1e7 A")),
    "accept V": Quantity(accept("voltage-low"), "voltage", ("0 V", HUGE["voltage"])),
    "accept W": Quantity(accept("supply-overload"), "power", ("0 W", "1e10 W")),
    "accept m": Quantity(accept("length-assumed"), "length", (HUGE["length"],)),
    "accept mm²": Quantity(accept("crimp-range"), "area", ("0 mm²", "1e9 m²")),
    "accept °C": Quantity(accept("enclosure-too-hot"), "temperature", ("1501 °C", "-300 °C"), True),
    # Its value is an I²t, or a share of what the conductor withstands where the two-body heat model judged it.
    "accept A²s": Quantity(
        accept("damage-before-clearing"), "joule integral", ("0 A²s", "1e13 A²s"), also=("share",)
    ),
}

NUMBERS = {
    "overload_band": ("overload_band = @", ("0.99", "3.01", "1e9")),
    "uneven_sharing": ("uneven_sharing = @", ("0.99", "101")),
    "spread_draws": ("spread_draws = @", ("1000001", "1.5", "'many'")),
    "spread_seed": ("spread_seed = @", ("1000000001", "1.5")),
    "emissivity": (f"{ENCLOSURE}surface = '1 m²'\nemissivity = @", ("0.01", "1.1")),
    "absorptivity": (f"{ENCLOSURE}surface = '1 m²'\nabsorptivity = @", ("0.01", "1.1")),
    "thicken_at_most": ("[design]\nthicken_at_most = @", ("0.99", "1001")),
    "multiple": ("[curve.s]\npoints = [{ max = '1 s', multiple = @ }]", ("1e5", "0.001")),
    "accept number": (accept("wire-overload"), ("1e300", "0")),
}
"""Numbers without a unit: the file, and what is out of their range."""

NO_NUMBER = ("inf", "nan", "-inf", "-1", "true", "[]", "{}", "2026-01-01")


def quoted(text: str) -> str:
    return f"'{text}'"


def bad_texts() -> Iterator[Any]:
    for name, key in QUANTITIES.items():
        read = {key.dimension, *key.also}
        texts = [text for kind, text in ONE_OF_EACH.items() if kind not in read]
        unit = ONE_OF_EACH.get(key.dimension, "5 A").split(" ", 1)[1]
        texts += [f"{number} {unit}" for number in ("1e308", "1e400", "inf", "nan", "-inf", "NaN", "one")]
        texts += ["5", "", " ", "none", "5 parsec", "5 A AC", "5 " + "x" * 500, *key.beyond]
        if not key.negative:
            texts.append(f"-5 {unit}")
        bare = [] if name.startswith("accept") else ["5", "5.0"]
        for value in (*map(quoted, texts), *bare, *NO_NUMBER):
            yield pytest.param(key.file, value, id=f"{name}-{value[:24]}")
    for name, (file, beyond) in NUMBERS.items():
        for value in (*beyond, *NO_NUMBER, *(() if name.startswith("accept") else ("'5 A'", "'5 %'"))):
            yield pytest.param(file, value, id=f"{name}-{value}")


@pytest.mark.parametrize(("file", "value"), list(bad_texts()))
def test_what_is_no_such_quantity_is_refused_with_its_place(tmp_path: Path, file: str, value: str) -> None:
    path = tmp_path / "loadloom.toml"
    path.write_text(file.replace("@", value), encoding="utf-8")
    with pytest.raises(UnusableError) as caught:
        read_settings(path)
    refusal = caught.value
    assert refusal.file == path and refusal.line is not None and refusal.field
    assert "\n" not in str(refusal) and len(str(refusal)) < 800


GOOD = {
    "temperature": "45 °C",
    "points": "20 °C: 50 %",
    "size": "18 AWG",
    "share": "50 %",
    "length": "120 mm",
    "area": "5 mm²",
}
BY_NAME = {
    "derating": "20 °C: 13 A; 60 °C: 0 A",
    "rise": "30 K",
    "insulation_temperature": "105 °C",
    "rule_values wire": "150 %",
}


@pytest.mark.parametrize("name", QUANTITIES)
def test_the_same_key_takes_a_value_of_its_own_kind(tmp_path: Path, name: str) -> None:
    key = QUANTITIES[name]
    value = BY_NAME.get(name) or GOOD.get(key.dimension) or ONE_OF_EACH[key.dimension]
    path = tmp_path / "loadloom.toml"
    path.write_text(key.file.replace("@", quoted(value)), encoding="utf-8")
    read_settings(path)


def test_an_accepted_value_in_mm2_is_held_against_mm2(tmp_path: Path) -> None:
    path = tmp_path / "loadloom.toml"
    path.write_text(accept("crimp-range").replace("@", "'2.5 mm²'"), encoding="utf-8")
    settings, _ = read_settings(path)
    assert (settings.accepted[0].value, settings.accepted[0].unit) == (2.5, "mm²")


@pytest.mark.parametrize(
    ("rule", "value", "why"),
    [
        ("dead-end", "'5 A'", "give no value"),
        ("dead-end", "5", "give no value"),
        ("uneven-sharing", "5", "write it as text with its unit"),
        ("wire-overload", "'5 V'", "is a unit of voltage, not of current"),
    ],
)
def test_an_accepted_value_is_of_its_rules_kind(tmp_path: Path, rule: str, value: str, why: str) -> None:
    path = tmp_path / "loadloom.toml"
    path.write_text(accept(rule).replace("@", value), encoding="utf-8")
    with pytest.raises(UnusableError, match=why):
        read_settings(path)


def test_the_command_ends_with_one_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "loadloom.toml"
    path.write_text('rules = ["student-racing-ev"]\n[rule_values]\ntap_length = "5 A"\n', encoding="utf-8")
    drawing = ROOT / "fixtures/case_07b_tap_short/harness.kicad_sch"
    assert main(["report", str(drawing), "--settings", str(path)]) == EXIT_UNUSABLE
    told = capsys.readouterr()
    assert told.out == "" and told.err.count("\n") == 1
    assert "loadloom.toml:3: rule_values.tap_length: “5 A”: “A” is a unit of current, not of length" in told.err


OWN_TABLE = "size,allowed_a,ambient_c,insulation_c\n18 AWG,@,@,@\n"


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("allowed_a", bad) for bad in ("0", "-5", "1e7", "inf", "nan", "5 A", "", "1e400")
    ] + [("ambient_c", bad) for bad in ("501", "-201", "inf", "nan", "40 °C", "")]
    + [("insulation_c", bad) for bad in ("501", "19", "-5", "inf", "x")],
)  # fmt: skip
def test_the_users_own_table_has_ranges_too(tmp_path: Path, column: str, value: str) -> None:
    good = {"allowed_a": "10", "ambient_c": "40", "insulation_c": "105", column: value}
    (tmp_path / "own.csv").write_text(
        "size,allowed_a,ambient_c,insulation_c\n18 AWG," + ",".join(good.values()) + "\n", encoding="utf-8"
    )
    path = tmp_path / "loadloom.toml"
    path.write_text('ampacity_table = "own.csv"\n', encoding="utf-8")
    with pytest.raises(UnusableError) as caught:
        read_settings(path)
    assert (caught.value.line, caught.value.field) == (2, column)


@pytest.mark.parametrize("row", ["1e5,,1", "0,,1", "-2,,1", "2,-1,1", "2,,1e10", "2,,inf", "nan,,1", "2,x,1"])
def test_the_users_own_curve_has_ranges_too(tmp_path: Path, row: str) -> None:
    (tmp_path / "slow.csv").write_text(f"multiple,min_s,max_s\n{row}\n", encoding="utf-8")
    path = tmp_path / "loadloom.toml"
    path.write_text('[curve.slow]\nfile = "slow.csv"\n', encoding="utf-8")
    with pytest.raises(UnusableError) as caught:
        read_settings(path)
    assert caught.value.line == 2


def test_every_rule_with_a_value_has_its_unit_listed() -> None:
    """Looks into the source: a unit that a rule's module writes must be the one that acceptances are read in."""
    lacking = {}
    for name in all_rules():
        module = ROOT / "graph" / "rules" / f"{name.replace('-', '_')}.py"
        if not module.is_file():
            continue
        units = {
            keyword.value.value
            for node in ast.walk(ast.parse(module.read_text(encoding="utf-8")))
            if isinstance(node, ast.Call)
            for keyword in node.keywords
            if keyword.arg == "unit" and isinstance(keyword.value, ast.Constant)
        }
        if not units <= set(VALUE_UNITS.get(name, ())):
            lacking[name] = units
    assert lacking == {}
    assert set(VALUE_UNITS) <= set(all_rules())
