"""``loadloom setup`` on unprepared drawings: Enter alone places the symbols; the first line names the next step."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from habits import HABITS, PINS, VAN, Drawn, Habit

from loadloom.graph.model.findings import Verdict
from loadloom.plugin.building.find_roles import Found, find_roles
from loadloom.plugin.drawing import Drawing
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.notes import Notes
from loadloom.plugin.pipeline import analyse_file
from loadloom.plugin.reading import read_drawing
from loadloom.plugin.roles import Role
from loadloom.plugin.settings_file import read_settings
from loadloom.plugin.setup.proposals import propose
from loadloom.plugin.setup.run import Prepared, prepare
from loadloom.plugin.setup.settings_text import settings_text
from loadloom.plugin.setup.words import made_voltage, stated_in
from loadloom.reports.next_step import next_step
from loadloom.reports.page import render
from loadloom.reports.safe_text import html_text
from loadloom.reports.terminal import text

ENOUGH = 0.8
MOST_QUESTIONS = 20


@pytest.fixture(autouse=True)
def _without_kicad_cli(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOADLOOM_KICAD_CLI", "none")


def enter(_: str) -> str:
    return ""


def roles_of(drawing: Drawing, made: Prepared) -> dict[str, Found]:
    return find_roles(drawing, read_settings(made.settings)[1], Notes())


def is_right(drawn: Drawn, drawing: Drawing, roles: dict[str, Found]) -> bool:
    """The role that it should have, and the feed on the pin where it is."""
    found = roles.get(drawn.reference)
    if found is None:
        return drawn.role == "left out"
    if found.role != drawn.role:
        return False
    pins = next(s.pins for s in drawing.symbols if s.reference == drawn.reference)
    named = found.ends.get("+", ("+",))
    plus = {p.number for p in pins if p.number in named} or {p.number for p in pins if p.name in named} or {"1"}
    return not drawn.plus or plus == {drawn.plus}


@pytest.mark.parametrize("habit", HABITS, ids=lambda habit: habit.name)
def test_enter_alone_places_the_symbols(habit: Habit, tmp_path: Path) -> None:
    root = habit.write(tmp_path)
    made = prepare(root, ask=enter)
    drawing = read_drawing(root)
    roles = roles_of(drawing, made)
    right = [drawn for drawn in habit.symbols if is_right(drawn, drawing, roles)]
    assert len(right) >= ENOUGH * len(habit.symbols), {d.reference for d in habit.symbols} - {
        d.reference for d in right
    }
    assert 0 < made.questions <= MOST_QUESTIONS
    results = analyse_file(root)
    step = next_step(results)
    assert step is not None and step.startswith(habit.next_step), step
    assert f"Next step: {step[:30]}" in text(results, 400).splitlines()[1]
    assert f"Next step: {html_text(step)[:30]}" in render(results).decode("utf-8")
    assert results.verdict is not Verdict.PASS


@pytest.mark.parametrize("habit", HABITS, ids=lambda habit: habit.name)
def test_before_setup_the_report_leads_there(habit: Habit, tmp_path: Path) -> None:
    """Groups are named, not single parts, and what is missing stands before what follows from it."""
    results = analyse_file(habit.write(tmp_path))
    step = next_step(results)
    assert step is not None and ("loadloom setup" in step or "no number yet" in step)
    shown = text(results, 200)
    assert shown.count("role-missing") <= len({d.library for d in habit.symbols}) + 1
    assert shown.index("role-missing") < shown.index("nothing-judged")


def test_what_nobody_confirmed_is_a_guess(tmp_path: Path) -> None:
    root = VAN.write(tmp_path)
    made = prepare(root)
    assert made.questions == 0
    results = analyse_file(root)
    guessed = [f for f in results.findings if f.rule == "role-guessed"]
    assert len(guessed) == 6 and results.verdict is not Verdict.PASS
    assert all(found.guessed for found in roles_of(read_drawing(root), made).values())


def test_what_is_surely_no_part_is_asked_about_once(tmp_path: Path) -> None:
    """A board has a dozen kinds of capacitors and test points: one question for all, or one by one where wanted."""
    capacitors = [Drawn(f"C{k}", f"Device:C_{size}", "100n", "BUS GND", "ignore") for k, size in enumerate("ABC")]
    symbols = (*VAN.symbols, *capacitors, Drawn("TP1", "Connector:TestPoint", "TP", "BUS", "ignore"))
    PINS.update({f"Device:C_{size}": "1 2" for size in "ABC"})
    root = Habit("board", symbols, "").write(tmp_path)
    asked: list[str] = []
    made = prepare(root, ask=lambda question: str(asked.append(question) or ""))
    (once,) = [question for question in asked if "no part of the harness" in question]
    assert "4 symbols" in once and "a capacitor: C0, C1, C2; a test point: TP1" in once
    assert not [question for question in asked if "Device:C_" in question]
    assert roles_of(read_drawing(root), made)["C1"].role is Role.IGNORE
    made.settings.unlink()
    one_by_one: list[str] = []

    def ask(question: str) -> str:
        one_by_one.append(question)
        return "-" if question.startswith("Are these") else ""

    prepare(root, ask=ask)
    assert len(one_by_one) == len(asked) + 4


def test_a_guessed_field_is_a_guess_though_the_role_is_confirmed(tmp_path: Path) -> None:
    """What was read out of a value, and pins that a guess gave, are guesses until their own rule is confirmed."""
    root = VAN.write(tmp_path)
    made = prepare(root)
    text_ = made.settings.read_text(encoding="utf-8")
    confirmed = text_.replace(", confirmed = false }", " }")
    assert confirmed != text_ and "confirmed = false\n" in confirmed
    made.settings.write_text(confirmed, encoding="utf-8")
    guessed = {reference for reference, found in roles_of(read_drawing(root), made).items() if found.guessed}
    assert guessed == {"BT1", "F3", "LA1", "LA2", "M1"}  # Those whose value says a quantity, or that are turned.
    only_parts = text_.replace("confirmed = false\n", "") + '[part.F1]\nrole = "fuse"\n'
    made.settings.write_text(only_parts, encoding="utf-8")
    found = roles_of(read_drawing(root), made)
    assert not found["F1"].guessed and found["F2"].guessed


def test_answers_are_taken(tmp_path: Path) -> None:
    answers = {
        "Device:Lamp": "resistor!",
        "Motor:Fan": "-",
        "Is every line": "no",
        "Continuous current": "20 Amperes of it",
    }
    said: list[str] = []
    asked: list[str] = []

    def ask(question: str) -> str:
        asked.append(question)
        answer = next((text for part, text in answers.items() if part in question), "")
        again = sum(part in question for part in answers for question in asked if part in question)
        if "Device:Lamp" in question and len([q for q in asked if "Device:Lamp" in q]) > 1:
            return "ignore"
        if "Continuous current" in question and len([q for q in asked if "Continuous current" in q]) > 1:
            return "20 A"
        assert again < 100
        return answer

    root = VAN.write(tmp_path)
    made = prepare(root, ask=ask, say=said.append)
    roles = roles_of(read_drawing(root), made)
    assert roles["LA1"].role is Role.IGNORE and "M2" not in roles
    drawing_settings = read_settings(made.settings)[1]
    assert not drawing_settings.wire_classes
    assert drawing_settings.roles.parts["BT1"].fields == {
        "voltage": "12 V",
        "capacity": "100 Ah",
        "limit": "20 A",
    }
    assert any("there is no role" in line.casefold() for line in said)
    assert made.questions == len(asked)


def test_what_the_user_wrote_stays(tmp_path: Path) -> None:
    root = VAN.write(tmp_path)
    mine = '# my own\nmargin = "10 %"\n\n[role.library]  # here\n"Device:Fuse" = "breaker"\n\n'
    mine += '[part.LA1]\nrole = "load"\n'
    (tmp_path / "loadloom.toml").write_text(mine, encoding="utf-8")
    made = prepare(root, ask=enter)
    written = made.settings.read_text(encoding="utf-8")
    for line in mine.splitlines():
        assert line in written.splitlines()
    roles = roles_of(read_drawing(root), made)
    assert roles["F1"].role is Role.BREAKER and roles["LA2"].role is Role.LOAD
    assert read_settings(made.settings)[0].margin == 0.1
    again = prepare(root, ask=enter)
    assert not again.proposals.groups
    assert again.settings.read_text(encoding="utf-8") == written or not again.written


def test_a_file_that_can_not_be_added_to_is_left_alone(tmp_path: Path) -> None:
    root = VAN.write(tmp_path)
    mine = 'role = { library = { "Device:Fuse" = "breaker" } }\n'
    (tmp_path / "loadloom.toml").write_text(mine, encoding="utf-8")
    with pytest.raises(UnusableError, match="can't be completed by itself"):
        prepare(root, ask=enter)
    assert (tmp_path / "loadloom.toml").read_text(encoding="utf-8") == mine
    assert sorted(f.name for f in tmp_path.iterdir()) == ["loadloom.toml", "p.kicad_pro", "p.kicad_sch"]


def test_odd_texts_come_through_the_file(tmp_path: Path) -> None:
    """Values and names with quotes, backslashes and line ends are written so that they are read back."""
    habit = Habit(
        "odd", tuple(Drawn(d.reference, d.library, 'a "b" \\ c\x07 #', d.nets, d.role) for d in VAN.symbols), ""
    )
    root = habit.write(tmp_path)
    made = prepare(root, ask=enter)
    read_settings(made.settings)
    assert (
        settings_text(made.proposals, made.answers).isprintable() is False
    )  # It has line ends, and nothing worse:
    assert all(c.isprintable() or c == "\n" for c in made.settings.read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    ("value", "units", "found"),
    [
        ("Battery 12V 100Ah", "V", "12 V"),
        ("12V 21W", "WA", "21 W"),
        ("15A ATO", "A", "15 A"),
        ("7,5 A/32V", "A", "7.5 A"),
        ("500mA", "A", "500 mA"),
        ("12V/24V", "V", None),
        ("Pump", "WA", None),
        ("IRLZ44N", "A", None),
        ("2A or 3A", "A", None),
    ],
)
def test_quantities_in_values(value: str, units: str, found: str | None) -> None:
    assert stated_in(value, units) == found


@pytest.mark.parametrize(
    ("value", "found"),
    [
        ("24V to 12V 10A", "12 V"),
        ("24V/5V", "5 V"),
        ("48V->12 V", "12 V"),
        ("5V 3A", "5 V"),
        ("12V/24V/5V", None),
        ("LM2596", None),
    ],
)
def test_the_voltage_that_a_converter_makes(value: str, found: str | None) -> None:
    assert made_voltage(value) == found


@pytest.mark.parametrize(
    ("value", "found"),
    [("4k7", "4.7 kΩ"), ("4R7", "4.7 Ω"), ("R10", "0.10 Ω"), ("10k", "10 kΩ"), ("1M", "1 MΩ"), ("10", None)],
)
def test_resistances_as_they_are_written(value: str, found: str | None) -> None:
    """IEC 60062: the letter stands for the decimal sign."""
    assert stated_in(value, "WA", resistor=True) == found


def test_the_command(tmp_path: Path) -> None:
    root = VAN.write(tmp_path)
    command = [sys.executable, "-m", "loadloom.plugin.cli", "setup", str(root), "--yes"]
    done = subprocess.run(command, env=os.environ, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0].startswith("Next step: State what BT1 can give")
    assert "6 groups of symbols, 0 left open, 0 questions asked" in lines[1]
    assert "guesses until confirmed" in lines[2]
    assert (tmp_path / "loadloom.toml").is_file()


def test_a_prepared_drawing_is_not_asked_about() -> None:
    fixture = Path(__file__).resolve().parents[2] / "fixtures/stock_symbols/harness.kicad_sch"
    settings = read_settings(fixture.with_name("loadloom.toml"))[1]
    found = propose(read_drawing(fixture), settings)
    assert found.groups == () and not found.lines_are_wires


def test_the_same_on_a_page(tmp_path: Path) -> None:
    """The button's page shows the proposals, refuses a size that can't be read, and writes what is sent."""
    import threading
    import urllib.parse
    import urllib.request

    from loadloom.plugin.kicad.first_settings import offer_settings

    root = VAN.write(tmp_path)
    pages: list[str] = []

    def user(address: str) -> None:
        def get(**query: str) -> None:
            more = urllib.parse.urlencode(query)
            with urllib.request.urlopen(f"{address}&{more}", timeout=30) as answer:
                pages.append(answer.read().decode())

        def browse() -> None:
            get()
            get(write="yes", wires="yes", gauge="16", role0="output")
            get(write="yes", wires="yes", gauge="2.5 mm²", length="3 m", role0="output", role1="load", role2="load")

        threading.Thread(target=browse).start()

    written = offer_settings(root, user, wait_s=60)
    assert written == tmp_path / "loadloom.toml"
    assert "2 × Device:Lamp (LA1, LA2)" in pages[0] and pages[0].count("<select") == 6
    assert "either system" in pages[1] or "unit" in pages[1]
    settings = read_settings(written)[1]
    roles = find_roles(read_drawing(root), settings, Notes())
    assert roles["BT1"].role is Role.OUTPUT and "F1" not in roles  # It was sent so.
    assert str(settings.wire_classes["Default"].gauge) == "2.5 mm²" and settings.default_length_m == 3.0
    assert offer_settings(root, user, wait_s=1) is None  # There are settings now.
