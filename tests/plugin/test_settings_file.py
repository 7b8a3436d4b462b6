"""The settings file: what it can say, and how it refuses what it does not understand."""

import dataclasses
import datetime
import json
from pathlib import Path

import pytest

from loadloom.graph.model.elements import Band
from loadloom.graph.model.findings import Severity
from loadloom.graph.model.settings import Ambient, AnalysisSettings, Case, CurvePoint, DesignSettings, Enclosure
from loadloom.graph.ratings.catalogue import BASES
from loadloom.graph.rule_books import known_rule_sets, known_values
from loadloom.plugin import settings_file
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.roles import Role, RoleRule
from loadloom.plugin.settings_file import read_settings, settings_echo

WHOLE = """
basis = "building-iec"
rules = ["student-racing-ev", "continuous-125"]
conductor_temperature = "20 °C"
insulation_temperature = "105 °C"
terminal_temperature = "75 °C"
resistance_table = "copper"
altitude = "1200 m"
margin = "10 %"
overload_band = 1.3
fuse_loading = "75 %"
load_voltage_tolerance = "±5 %"
touch_voltage = "50 V"
contact_resistance = "1.5…10 mΩ"
length_tolerance = "5 %"
default_length = "350 mm"
net_shape = "chain"
stocked_sizes = ["18AWG", "0,75 mm²"]
uneven_sharing = 1.5
single_open_circuit = false
spread_draws = 500
spread_seed = 7
decimal_sign = ","
ampacity_table = "own.csv"

[rule_values]
tap_length = "120 mm"
wire_share = "150 %"

[rule_values.student-racing-ev]
tap_length = "100 mm"

[enclosure.DOME]
surface = "0.5 m²"
surface_coefficient = "6 W/(m²K)"
air_flow = "36 m³/h"

[ambient]
min = "-10 °C"
max = "40 °C"

[ambient.DOME]
min = "-20 °C"
max = "55 °C"

[role.library]
"Device:Fuse" = "fuse"
"Connector_Generic:*" = "Connector"

[role.reference]
W = "wire"

[role.value]
"*lamp*" = "load"

[wire_class.Feed]
gauge = "2.5 mm²"
length = "1 m"
insulation = "PVC"
bundle = "A"
zone = "DOME"
rating = "20 A"
voltage_rating = "60 V"
resistance = "8 mΩ"
terminal = "90 °C"
material = "copper"
layout = "Tray"

[net."/BUS"]
gauge = "18 AWG"
shape = "star"
pins = ["J1.1"]
segments = { "J1.1-J2.1" = "20 mm" }

[net.GND]
joint = true

[contact.pitch-3]
rated = "1: 13 A; 6: 9 A"
resistance = "2…10 mΩ"
derating = "20 °C: 13 A; 60 °C: 0 A"
rise = "30 K"
max_temperature = "105 °C"
i2t = "120 A²s"
wire_range = "24…18 AWG"
source = "own tests"

[contact.plain]
rated = "5 A"

[curve.slow]
points = [{ multiple = 2.0, max = "1 s" }, { multiple = 1.1, min = "4 h" }]
gates = true
ambient = "25 °C"
rerating = "0 °C: 110 %; 60 °C: 80 %"
note = "invented"

[curve.file]
file = "curve.csv"

[case.nominal]
state = "Nominal"
arrangement = "as drawn"

[case.surge]
state = "surge"
arrangement = "pooled"

[severity]
dead-end = "note"

[[accept]]
rule = "wire-overload"
subject = "W7"
reason = "spare"
by = "A. Tester"
date = 2026-01-31
until = "2027-01-31"
value = "500 mA"
"""


@pytest.fixture
def whole(tmp_path: Path) -> Path:
    path = tmp_path / "loadloom.toml"
    path.write_text(WHOLE, encoding="utf-8")
    (tmp_path / "own.csv").write_text(
        "# own\nsize;allowed_a;ambient_c;insulation_c;note\n18 AWG;10,5;40;105;loose\n0.75 mm²;9;-5;;\n",
        encoding="utf-8",
    )
    (tmp_path / "curve.csv").write_text("multiple,min_s,max_s\n2,,120\n1.1,14400,\n", encoding="utf-8")
    return path


def refusal(tmp_path: Path, text: str) -> UnusableError:
    path = tmp_path / "loadloom.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(UnusableError) as caught:
        read_settings(path)
    assert caught.value.file is not None
    return caught.value


def test_without_a_file_the_defaults_hold() -> None:
    settings, drawing = read_settings(None)
    assert settings == AnalysisSettings()
    assert drawing == DrawingSettings()
    assert settings.basis == "general-equipment"
    assert settings.ambient(None) == Ambient(20.0, 40.0, stated=False)


def test_an_empty_file_changes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "loadloom.toml"
    path.write_text("", encoding="utf-8")
    settings, drawing = read_settings(path)
    assert drawing == DrawingSettings()
    assert {**settings_echo(settings, drawing), "source_file": None} == settings_echo(*read_settings(None))


def test_every_key(whole: Path) -> None:
    settings, drawing = read_settings(whole)
    assert settings.basis == "building-iec"
    assert settings.rule_sets == ("student-racing-ev", "continuous-125")
    assert settings.rule_set_values == {
        "tap_length_m": 0.12,
        "wire_share": 1.5,
        "student-racing-ev.tap_length_m": 0.1,
    }
    assert settings.enclosures == {"DOME": Enclosure(0.5, 6.0, 0.01)}
    assert settings.conductor_temperature_c == 20.0
    assert settings.insulation_default_c == 105.0
    assert settings.terminal_default_c == 75.0
    assert settings.altitude_m == 1200.0
    assert settings.margin == 0.1
    assert settings.overload_band == 1.3
    assert settings.fuse_loading == 0.75
    assert settings.load_voltage_tolerance == 0.05
    assert settings.touch_voltage_v == 50.0
    assert settings.contact_resistance_ohm == Band(5.75e-3, 1.5e-3, 10e-3)
    assert settings.length_tolerance == 0.05
    assert settings.stocked_sizes == ("18 AWG", "0.75 mm²")
    assert settings.uneven_sharing == 1.5
    assert settings.single_open_circuit is False
    assert (settings.spread_draws, settings.spread_seed) == (500, 7)
    assert settings.decimal_sign == ","
    assert settings.default_ambient == Ambient(-10.0, 40.0)
    assert settings.zones == {"DOME": Ambient(-20.0, 55.0)}
    assert settings.cases == (Case("nominal"), Case("surge", "surge", "pooled"))
    assert settings.severity == {"dead-end": Severity.NOTE}
    assert settings.source_file is not None
    assert settings.source_file.name == "loadloom.toml"

    contact = settings.contact_types["pitch-3"]
    assert contact.rated_a == ((1, 13.0), (6, 9.0))
    assert contact.resistance_ohm == Band(6e-3, 2e-3, 10e-3)
    assert contact.derating == ((20.0, 13.0), (60.0, 0.0))
    assert (contact.rise_k, contact.max_c, contact.i2t_a2s, contact.source) == (30.0, 105.0, 120.0, "own tests")
    assert settings.contact_types["plain"].rated_a[0][1] == 5.0

    slow = settings.curves["slow"]
    assert slow.points == (CurvePoint(1.1, 14400.0, None), CurvePoint(2.0, None, 1.0))
    assert (slow.gates, slow.ambient_c, slow.note) == (True, 25.0, "invented")
    assert slow.rerating == ((0.0, 1.1), (60.0, 0.8))
    assert settings.curves["file"].points == (CurvePoint(1.1, 14400.0, None), CurvePoint(2.0, None, 120.0))

    rows = settings.own_table
    assert [(r.system, r.size, r.allowed_a, r.insulation_c, r.ambient_c) for r in rows] == [
        ("AWG", "18", 10.5, 105.0, 40.0),
        ("mm²", "0.75", 9.0, None, -5.0),
    ]

    accepted = settings.accepted[0]
    assert (accepted.rule, accepted.subject, accepted.by) == ("wire-overload", "W7", "A. Tester")
    assert (accepted.value, accepted.unit) == (0.5, "A")
    assert (accepted.date, accepted.until) == (datetime.date(2026, 1, 31), datetime.date(2027, 1, 31))

    roles = drawing.roles
    assert roles.by_library == {"Device:Fuse": RoleRule(Role.FUSE), "Connector_Generic:*": RoleRule(Role.CONNECTOR)}
    assert roles.by_reference == {"W": RoleRule(Role.WIRE)}
    assert roles.by_value == {"*lamp*": RoleRule(Role.LOAD)}
    feed = drawing.wire_classes["Feed"]
    assert str(feed.gauge) == "2.5 mm²"
    assert (feed.length_m, feed.own_rating_a, feed.voltage_rating_v) == (1.0, 20.0, 60.0)
    assert (feed.insulation, feed.bundle, feed.zone, feed.resistance_ohm) == ("PVC", "A", "DOME", Band.exact(8e-3))
    assert (feed.terminal_c, feed.material, feed.layout) == (90.0, "copper", "tray")
    bus = drawing.nets["/BUS"]
    assert (bus.star, bus.pins, bus.lengths_m) == (True, ("J1.1",), {"J1.1-J2.1": 0.02})
    assert drawing.nets["GND"].joint
    assert drawing.default_length_m == 0.35
    assert drawing.star is False


def test_every_key_is_in_the_documentation() -> None:
    page = (Path(__file__).parents[2] / "plugin/SETTINGS.md").read_text(encoding="utf-8")
    keys = [key for key, _, _ in settings_file._PLAIN_KEYS]
    keys += [*settings_file.wire_readers(), *(each.name for each in dataclasses.fields(DesignSettings))]
    keys = [key.removesuffix("_v").removesuffix("_a") for key in keys]
    keys += ["default_length", "net_shape", "ampacity_table", "open_page", "fields_for_people", "[rule_values]"]
    keys += [f"[role.{by}]" for by in ("library", "reference", "value")] + ["[part.REF]", '[net."NAME"]']
    keys += ["[ambient]", "[ambient.ZONE]", "[enclosure.ZONE]", "[severity]", "[[accept]]", "[[open_point]]"]
    keys += [f"[{name}.NAME]" for name in ("wire_class", "contact", "curve", "case")]
    keys += [*BASES, *known_rule_sets(), *(name.removesuffix("_m") for name in known_values() if "." not in name)]
    assert [key for key in keys if f"`{key}`" not in page] == []


def test_the_echo_is_plain_data(whole: Path) -> None:
    echo = settings_echo(*read_settings(whole))
    assert json.loads(json.dumps(echo)) == echo
    assert echo["zones"]["DOME"] == {"min_c": -20.0, "max_c": 55.0, "stated": True}
    assert echo["drawing"]["wire_classes"]["Feed"]["gauge"]["size"] == "2.5"
    assert echo["accepted"][0]["date"] == "2026-01-31"


@pytest.mark.parametrize(
    ("text", "line", "field", "says"),
    [
        ("\nambiant = 3", 2, "ambiant", "nearest is ambient"),
        ('[wire_class.Q]\n# note\nguage = "3 mm²"', 3, "wire_class.Q.guage", "nearest is gauge"),
        ('rules = ["student-racing"]', 1, "rules", "nearest is student-racing-ev"),
        ('[rule_values]\ntab_length = "1 m"', 2, "rule_values.tab_length", "nearest is tap_length"),
        ("[rule_values.small-craft]\ntap_length = 3", 2, "rule_values.small-craft.tap_length", "not a known"),
        ('[enclosure.box]\nsurface_coefficient = "6 W/(m²K)"', 1, "enclosure.box", "surface or air_flow"),
        (
            '[enclosure.box]\nwidth = "1 m"\nheight = "1 m"\ndepth = "1 m"\n'
            'covered = ["top", "bottom", "front", "back", "left", "right"]',
            5,
            "enclosure.box.covered",
            "nothing carries its heat off",
        ),
        ('[enclosure.box]\nwidth = "1 m"\nheight = "1 m"', 1, "enclosure.box", "width, height and depth"),
        (
            '[enclosure.box]\nsurface = "1 m²"\ncovered = ["back"]',
            3,
            "enclosure.box.covered",
            "leave covered sides",
        ),
        ('resistance_table = "coppper"', 1, "resistance_table", "copper"),
        ("class = 7", 1, "class", "1, 2, 5 and 6"),
        ('strands = "many"', 1, "strands", "number of strands"),
        ("margin = 10", 1, "margin", "with its unit"),
        ('margin = "10"', 1, "margin", "no unit"),
        ('default_length = "1,000 m"', 1, "default_length", "thousands or decimals"),
        ('basis = "general equipment"', 1, "basis", "nearest is general-equipment"),
        ('[severity]\ndeadend = "note"', 2, "severity.deadend", "nearest is dead-end"),
        ('[severity]\ndead-end = "hint"', 2, "severity.dead-end", "nearest is note"),
        ('[net."/A B"]\njoint = true\nlength = "3 m"', 2, "net./A B.joint", "no wire values"),
        ('[role.library]\n"X:*" = "fues"', 2, "role.library.X:*", "nearest is fuse"),
        ('[role]\nX = "fuse"', 2, "role.X", "not a known setting"),
        ("[curve.q]", 1, "curve.q", "either file or points"),
        ('[ambient.X]\nmin = "3 °C"', 1, "ambient.X", "both min and max"),
        ('[ambient]\nmin = "30 °C"\nmax = "3 °C"', 2, "ambient.min", "above max"),
        ('[[accept]]\nrule = "dead-end"', 1, "accept.1", "needs subject"),
        ("uneven_sharing = nan", 1, "uneven_sharing", "finite"),
        ("single_open_circuit = 1", 1, "single_open_circuit", "true nor false"),
        ("spread_draws = 1.5", 1, "spread_draws", "whole number"),
        ('[contact.c]\nrated = "0: 5 A"', 2, "contact.c.rated", "loaded positions"),
        ("ambient = 3", 1, "ambient", "not a table"),
        ('accept = "all"', 1, "accept", "not a list"),
    ],
)
def test_what_is_not_understood_is_refused(tmp_path: Path, text: str, line: int, field: str, says: str) -> None:
    error = refusal(tmp_path, text)
    assert (error.line, error.field) == (line, field)
    assert says in str(error)


def test_the_line_of_the_second_of_several_tables(tmp_path: Path) -> None:
    one = '[[accept]]\nrule = "dead-end"\nsubject = "W"\nreason = "r"\nby = "b"\ndate = 2026-01-01\n'
    error = refusal(tmp_path, one + one.replace("dead-end", "deadend"))
    assert (error.line, error.field) == (8, "accept.2.rule")


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"a = [", "not valid TOML"),
        (b"a = 1\na = 2", "not valid TOML"),
        (b"\xff\xfe\x01", "not UTF-8"),
        (b"x = " + b"[" * 5000, "not valid TOML"),
    ],
)
def test_files_that_are_no_settings(tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "loadloom.toml"
    path.write_bytes(content)
    with pytest.raises(UnusableError, match=says):
        read_settings(path)


def test_missing_files(tmp_path: Path) -> None:
    with pytest.raises(UnusableError, match="there is no such file"):
        read_settings(tmp_path / "none.toml")
    assert "no file own.csv" in str(refusal(tmp_path, 'ampacity_table = "own.csv"'))


@pytest.mark.parametrize(
    ("table", "line", "says"),
    [
        ("size,allowed_a,ambient_c\n18,5,40\n", 2, "AWG or mm²"),
        ("size,allowed_a,ambient_c\n18 AWG,-5,40\n", 2, "not within"),
        ("size,allowed_a,ambient_c\n18 AWG,0,40\n", 2, "not within 0.001…1000000 A"),
        ("size,allowed_a,ambient_c\n18 AWG,nan,40\n", 2, "not a number"),
        ("size,allowed_a\n", 1, "no column ambient_c"),
        ("size,allowed_a,ambient_c,colour\n", 1, "unknown column"),
        # more in the heat: two figures have changed places
        ("size,allowed_a,ambient_c\n18 AWG,5,40\n16 AWG,9,60\n18 AWG,7,60\n", 4, "more at 60 °C than at 40 °C"),
        ("size,allowed_a,ambient_c\n18 AWG,7,60\n18 AWG,5,40\n", 3, "more at 60 °C than at 40 °C"),
        ("size,allowed_a,ambient_c\n18 AWG,5,40,1,2\n", 2, "more cells"),
        ("", None, "empty"),
    ],
)
def test_own_tables_are_read_strictly(tmp_path: Path, table: str, line: int | None, says: str) -> None:
    (tmp_path / "own.csv").write_text(table, encoding="utf-8")
    error = refusal(tmp_path, 'ampacity_table = "own.csv"')
    assert error.line == line
    assert says in str(error)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[contact.pin]\nrated = "13 A"\nderating = "20 °C: 10 A; 60 °C: 13 A"', "more at 60 than at 20"),
        ('[contact.pin]\nrated = "1: 9 A; 6: 13 A"', "more at 6 than at 1"),
        (
            '[curve.slow]\nrerating = "0 °C: 80 %; 60 °C: 110 %"\npoints = [{ multiple = 2.0, min = "1 s" }]',
            "more at 60 than at 0",
        ),
        (
            '[curve.slow]\npoints = [{ multiple = 2.0, min = "1 s" }, { multiple = 6.0, min = "9 s" }]',
            "a longer least time at 6 × the rating than at 2 ×",
        ),
        (
            '[curve.slow]\npoints = [{ multiple = 6.0, max = "60 s" }, { multiple = 2.0, max = "1 s" }]',
            "a longer greatest time at 6 × the rating than at 2 ×",
        ),
    ],
)
def test_figures_that_have_changed_places_are_refused(text: str, says: str, tmp_path: Path) -> None:
    """What gets warmer or has more beside it takes less, and more current never opens a device later."""
    assert says in str(refusal(tmp_path, text))


def test_figures_that_stay_the_same_are_no_slip(tmp_path: Path) -> None:
    (tmp_path / "loadloom.toml").write_text(
        '[contact.pin]\nrated = "1: 9 A; 6: 9 A"\nderating = "20 °C: 9 A; 60 °C: 9 A"\n'
        '[curve.slow]\npoints = [{ multiple = 2.0, max = "1 s" }, { multiple = 6.0, max = "1 s" }]\n',
        encoding="utf-8",
    )
    settings, _ = read_settings(tmp_path / "loadloom.toml")
    assert settings.contact_types["pin"].derating == ((20.0, 9.0), (60.0, 9.0))


@pytest.mark.parametrize(
    ("line", "now"),
    [
        ("single_break = true", "single_open_circuit"),
        ('[severity]\nbreak-overload = "error"', "open-circuit-overload"),
        ('[severity]\nexposure-above-rating = "note"', "combined-overload"),
        (
            '[[accept]]\nrule = "no-setting-window"\nsubject = "F1"\nreason = "x"\nby = "y"\ndate = 2026-01-01',
            "no-setting-range",
        ),
    ],
)
def test_a_name_of_before_is_refused_and_the_new_one_told(line: str, now: str, tmp_path: Path) -> None:
    path = tmp_path / "loadloom.toml"
    path.write_text(line, encoding="utf-8")
    with pytest.raises(UnusableError, match=f"it is now {now}"):
        read_settings(path)
