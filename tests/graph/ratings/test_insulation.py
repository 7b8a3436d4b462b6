"""What a field Insulation says, against published classes and constants; the source stands beside each check."""

import csv
import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadloom.graph.model.elements import Conductor, Gauge, GaugeSystem, Make
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.insulation import (
    adiabatic_k_as05_per_mm2,
    insulation_named,
    insulation_of,
    known_classes,
    known_classes_page,
)

ROOT = Path(__file__).resolve().parents[3]
SETTINGS = AnalysisSettings()
EXAMPLES = {
    row["id"]: row
    for row in csv.DictReader(
        line
        for line in (Path(__file__).parents[1] / "data" / "worked_examples_ratings.csv")
        .read_text(encoding="utf-8")
        .splitlines()
        if not line.startswith("#")
    )
}


@pytest.mark.parametrize(
    ("text", "limit_c", "assumed"),
    [
        ("PVC 70 °C", 70, False),
        ("PVC 90°C", 90, False),
        ("105 °C", 105, False),
        ("200C", 200, False),
        ("XLPE 90", 90, False),
        ("PVC-105°C", 105, False),
        ("PVC 80 degC", 80, False),
        ("221 F", 105, False),  # (221 − 32)/1.8
        ("PVC 221 °F", 105, False),
        ("PVC 80 °C / 176 °F", 80, False),
        # Voltages, sizes and currents are no temperatures.
        ("PVC 300 V", 70, True),
        ("PVC 105 V", 70, True),
        ("PVC 90V", 70, True),
        ("PVC 90 kV", 70, True),
        ("PVC 1000 V", 70, True),
        ("PVC 300/500 V", 70, True),
        ("PVC 600 V DC", 70, True),
        ("PVC 70 mm²", 70, True),
        ("PVC 105 mm", 70, True),
        ("PVC 90 A", 70, True),
        ("PVC 80 AWG", 70, True),
        ("PVC AWG 90", 70, True),
        ("PVC 3x90", 70, True),
        ("PVC 300V 80", 80, False),
        ("PVC 105°C 300 V", 105, False),
        ("PVC 105°C/300V", 105, False),
        ("PVC 450/750 V 70 °C", 70, False),
        ("XLPE 0.6/1 kV 90 °C", 90, False),
        ("XLPE 0,6/1kV", 90, True),
        ("PVC 2.5 mm² 70 °C", 70, False),
        ("PTFE 200C 600V", 200, False),
        ("silicone 180 °C", 180, False),
        ("silicone rubber 180", 180, False),
        ("IEC 60227 PVC 70 °C", 70, False),
        ("H05V-K 70 °C", 70, False),
        ("UL 758 105 °C", 105, False),
        # A temperature at or below 0 °C is the lowest that the wire stands.
        ("PVC -40...105 °C", 105, False),
        ("−40 °C to 80 °C PVC", 80, False),
        ("PVC", 70, True),
        ("rubber", 60, True),
        ("class A", 85, False),  # ISO 6722 / ISO 19642
        ("class B", 100, False),
        ("ISO 6722 class H", 250, False),
        ("style 1007", 80, False),  # UL style 1007
        ("UL1007 300V", 80, False),
        ("style 1001", 80, False),  # public style pages of UL 758
        ("UL 1638", 90, False),
        ("AWM 10127", 60, False),
        ("H05V-K", 70, False),  # HD 361: V ordinary PVC, V2 PVC 90 °C, R rubber 60 °C, B EPR 90 °C
        ("H07V2-K", 90, False),
        ("H07RN-F 3G1.5", 60, False),
        ("H05VV-F", 70, False),
        ("A05BB-F", 90, False),
        ("FEP", 150, True),  # 200 °C; tin-plated copper stands 150 °C; AC 21-99 (Australia)
        ("FEP 200 °C", 200, False),
        ("ETFE", 150, True),  # tin-plated; AC 21-99 (Australia)
        ("cross-linked ETFE silver-plated", 200, False),
        ("TW", 60, False),  # NEC type letters, SAE J1128 types: openly published guides
        ("THWN", 75, False),
        ("THHN/THWN-2 600 V", 90, False),
        ("XHHW", 75, False),
        ("XHHW-2 14 AWG", 90, False),
        ("GPT", 80, False),
        ("TXL 18 AWG", 125, False),
        ("PVC 105 oC", 105, False),
        # What looks like a style or a class and is something else.
        ("PVC RAL 1015", 70, True),  # a colour
        ("PVC RAL1007", 70, True),
        ("PVC 105 °C RAL 1007", 105, False),
        ("ISO 6722 class B, PVC", 100, False),
        ("XLPE 90, black", 90, False),
        ("silicone rubber insulated wire 180 max", 180, False),
        ("PVC insulated 105", 105, False),
        ("cross-linked polyethylene 90", 90, False),
    ],
)
def test_a_text_is_read_with_its_units(text: str, limit_c: float, assumed: bool) -> None:
    found = insulation_named(text, SETTINGS)
    assert found.problem is None
    assert (found.limit_c, found.assumed) == (pytest.approx(limit_c, abs=0.05), assumed)
    if assumed:
        assert f"{limit_c:g} °C is assumed" in found.note


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("PVC 150 °C", "60 to 105 °C"),
        ("PVC 300", "300 without a unit"),
        ("PVC 300 °C", "60 to 105 °C"),
        ("PVC 40 °C", "60 to 105 °C"),
        ("XLPE 70 °C", "75 to 150 °C"),
        ("style 1015 PVC 60", "contradicts itself"),
        ("PVC 70 °C 105 °C", "contradicts itself"),
        ("PVC 70/90 °C", "contradicts itself"),
        ("90 °C dry / 75 °C wet", "contradicts itself"),
        ("style 1007 105 °C", "contradicts itself"),
        ("class B 105 °C", "contradicts itself"),
        ("PVC 70 °C..90 °C", "contradicts itself"),
        ("XLPE/PVC", "names PVC and XLPE"),
        ("ETFE tin-plated 200 °C", "150 °C that its plating withstands"),  # AC 21-99 (Australia)
        ("class F", "differs between standards"),  # ISO 6722: 200 °C; IEC 60085: 155 °C (from memory)
        ("400 °C", "classes of wire lie between"),
        ("105", "105 without a unit"),
        ("PVC 104", "104 without a unit"),
        ("300 V", "is not known"),
        ("105 A", "is not known"),
        ("style 1061", "is not known"),
        ("H05Z-K", "is not known"),
        ("H05V-K 105 °C", "contradicts itself"),
        ("H07V2-K 70 °C", "contradicts itself"),
        ("something", "is not known"),
        ("?", "is not known"),
        ("PVC " + "x" * 500, "characters long"),
        # A bare number beside a word that makes it a count, a length or a part number.
        *((f"PVC 105 {word}", "105 without a unit") for word in ("feet", "meters", "pairs", "pcs", "psi", "VA")),
        *((f"PVC {word} 90", "90 without a unit") for word in ("Shore A", "part", "No.", "Ti", "OD", "lot")),
        ("PVC 1015 feet", "1015 without a unit"),
        ("PVC 1015", "1015 without a unit"),
        # Classes by letter of something else: ASTM B8 stranding, EN 13501-6 reaction to fire.
        ("PVC class B stranding", "differs between standards"),
        ("XLPE class C stranded", "differs between standards"),
        ("XLPE fire class C", "differs between standards"),
        # Temperatures that a wire does not stand all the time.
        ("short circuit 250 °C", "not the continuous one"),
        ("XLPE emergency 130 °C", "not the continuous one"),
        ("melts at 105 °C", "not the continuous one"),
        ("ambient 80 °C", "not the continuous one"),
        ("silicone 180 °C peak", "not the continuous one"),
    ],
)
def test_what_is_not_understood_is_a_problem_and_never_the_coolest_class_in_silence(text: str, why: str) -> None:
    found = insulation_named(text, SETTINGS)
    assert found.problem is not None
    assert why in found.problem


@pytest.mark.parametrize(
    ("text", "known"),
    [
        ("PTFE 200 °C", False),
        ("FEP 150 °C", True),
        ("PVC 105 °C", True),
        ("PTFE 200 °C silver-plated", True),
        ("nickel-plated PTFE 260 °C", True),
    ],
)
def test_tinned_copper_stands_no_more_than_tin(text: str, known: bool) -> None:
    """AC 21-99 (Australia): 150 °C for tin-plated conductors, whatever is around them."""
    conductor = Conductor(
        id="W1", subject=Subject("W1"), node_a="a", node_b="b", insulation=text, make=Make(tinned=True)
    )
    assert (insulation_of(conductor, SETTINGS).problem is None) is known
    by_settings = replace(conductor, make=Make())
    assert (insulation_of(by_settings, AnalysisSettings(make=Make(tinned=True))).problem is None) is known
    assert insulation_of(by_settings, SETTINGS).problem is None


def test_what_nobody_states_is_a_problem_unless_the_settings_state_it() -> None:
    for text in (None, "", "  "):
        assert insulation_named(text, SETTINGS).problem == "no insulation is stated"
    assert insulation_named(None, AnalysisSettings(basis="building-nec")).limit_c == 60.0
    assert insulation_named(None, AnalysisSettings(basis="vehicle")).limit_c == 105.0
    stated = insulation_named(None, AnalysisSettings(basis="vehicle", insulation_default_c=85.0))
    assert (stated.limit_c, stated.problem) == (85.0, None)


def test_every_known_name_is_understood_and_listed() -> None:
    for known in known_classes():
        found = insulation_named(known.name, SETTINGS)
        assert (found.problem, found.limit_c) == (None, known.alone_c), known
        for value_c in (known.coolest_c, known.warmest_c):
            there = insulation_named(f"{known.name} {value_c:g} °C", SETTINGS)
            assert (there.problem, there.limit_c) == (None, value_c), known
        if "plated" in known.name:
            continue  # a kind of ETFE, whose range reaches further
        for outside_c in (known.coolest_c - 5.0, known.warmest_c + 5.0):
            assert insulation_named(f"{known.name} {outside_c:g} °C", SETTINGS).problem is not None, known
    page = (ROOT / "graph" / "ratings" / "README.md").read_text(encoding="utf-8")
    assert page == known_classes_page(), "write it anew: loadloom insulation > graph/ratings/README.md"


@pytest.mark.parametrize(
    ("example", "initial_c", "final_c"),
    [("W25", 70.0, 160.0), ("W26", 90.0, 250.0)],  # IEC 60949 constants 226 and 234.5
)
def test_adiabatic_k(example: str, initial_c: float, final_c: float) -> None:
    k = adiabatic_k_as05_per_mm2(initial_c, final_c)
    assert k == pytest.approx(float(EXAMPLES[example]["value"]), abs=0.1)


def test_adiabatic_time_limit() -> None:
    # IEC 60949: t = (k·S/I)², 1.5 mm² in PVC at 300 A.
    k = insulation_named("PVC 70 °C", SETTINGS).k_as05_per_mm2
    assert k is not None
    assert (k * 1.5 / 300) ** 2 == pytest.approx(float(EXAMPLES["W28"]["value"]), rel=1e-3)


def test_k_of_materials_and_of_what_is_not_known() -> None:
    def k(text: str, size: str) -> float | None:
        gauge = Gauge(GaugeSystem.MM2, size, float(size))
        conductor = Conductor(id="W1", subject=Subject("W1"), node_a="a", node_b="b", gauge=gauge, insulation=text)
        return insulation_of(conductor, SETTINGS).k_as05_per_mm2

    # BS 7671:2018 table 43.1 (second-hand): PVC 70 °C 115, 103 above 300 mm²; thermosetting 60 °C 141, 90 °C 143.
    assert k("PVC 70 °C", "4") == 115
    assert k("PVC 70 °C", "400") == pytest.approx(102.8, abs=0.1)
    assert k("rubber 60 °C", "4") == 141
    assert k("XLPE 90 °C", "4") == 143
    assert k("rubber 85", "4") == 134
    assert k("PVC 105 °C", "4") == pytest.approx(226 * math.sqrt(math.log(394.5 / 339.5)))
    assert k("105 °C", "4") == k("PVC 105 °C", "4")
    assert k("260 °C", "4") is None
    # Two materials: the lower k.
    assert k("XLPE/PVC 90 °C", "4") == k("PVC 90 °C", "4")


@given(
    st.text(max_size=60)
    | st.from_regex(r"(PVC|class|style)? ?[0-9]{1,4}([.,][0-9]+)? ?(°C|C|K|F|V|mm²)?", fullmatch=True)
)
def test_any_text_is_either_understood_or_a_problem(text: str) -> None:
    found = insulation_named(text, SETTINGS)
    assert 59.0 <= found.limit_c <= 261.0
    assert found.source
    assert not found.assumed or found.note
    assert found.k_as05_per_mm2 is None or 0 < found.k_as05_per_mm2 < 226


@given(
    st.sampled_from(["105", "90", "80", "90,0", "105.0", "1015"]),
    st.sampled_from(["metre", "bar", "shore", "pcs", "lot", "Nm", "dB", "pair", "RAL", "page"]),
    st.sampled_from(
        [
            "PVC {n} {w}",
            "PVC {w} {n}",
            "{w} {n} PVC",
            "{n} {w} PVC",
            "PVC {n}{w}",
            "PVC ({w} {n})",
            "PVC {w}: {n}",
            "PVC {w} ({n})",
            "PVC {w}/{n}",
            "PVC, {w}, {n}",
        ]
    ),
)
def test_no_bare_number_beside_a_word_raises_the_class(number: str, word: str, form: str) -> None:
    found = insulation_named(form.format(n=number, w=word), SETTINGS)
    assert found.problem is not None or found.limit_c == 70.0


@given(
    st.sampled_from(["PVC", "XLPE", "silicone", "PTFE", ""]),
    st.floats(0.5, 1000.0),
    st.sampled_from(["V", " V", "kV", " kV", " V AC", " Vdc", " mm", " mm²", "mm2", " A", " AWG"]),
)
def test_no_number_with_another_unit_ever_raises_the_class(material: str, value: float, unit: str) -> None:
    for number in (f"{value:.0f}", f"{value:.1f}", f"{value:.1f}".replace(".", ",")):
        found = insulation_named(f"{material} {number}{unit}", SETTINGS)
        plain = insulation_named(material or "?", SETTINGS)
        assert found.limit_c == plain.limit_c
        assert (found.problem is None) == (plain.problem is None)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("PVC 70 90", "70 (70 °C) and 90 (90 °C)"),
        ("PVC 105 70 °C", "70 °C (70 °C) and 105 (105 °C)"),
        ("ETFE 150 200", "150 (150 °C) and 200 (200 °C)"),
    ],
)
def test_what_contradicts_itself_is_told_in_its_own_words(text: str, words: str) -> None:
    """Two classes of one material: IEC 60364-5-52 and IEC 60204-1 know each, and a conductor has one."""
    assert insulation_named(text, SETTINGS).problem == f"insulation “{text}” contradicts itself: {words}"


@pytest.mark.parametrize(("length", "shown"), [(60, "x" * 60), (61, "x" * 59 + "…"), (100, "x" * 59 + "…")])
def test_a_long_text_is_shown_in_60_characters(length: int, shown: str) -> None:
    assert insulation_named("x" * length, SETTINGS).problem == f"insulation “{shown}” is not known"
