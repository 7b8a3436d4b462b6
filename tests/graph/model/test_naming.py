"""Order of ids. The expected order is common practice (no published source): numbers by value."""

import random
import re

from loadloom.graph.model.naming import all_of, as_drawn, natural_key, place_said


def test_numbers_by_value_and_a_text_before_its_continuation() -> None:
    expected = ["", "7", "@J1.3", "W", "W01", "W1", "W1a", "W7", "W10", "W10.2", "W10.10", "Wa", "a"]
    shuffled = expected[:]
    random.Random(1).shuffle(shuffled)
    assert sorted(shuffled, key=natural_key) == expected


def test_a_run_of_digits_too_long_for_a_number_still_sorts() -> None:
    long = "W" + "9" * 10_000
    assert sorted([long, "W8"], key=natural_key) == ["W8", long]


def test_every_name_is_said_and_runs_are_short() -> None:
    assert all_of([]) == ""
    assert all_of(["F1"]) == "F1"
    assert all_of(["F1", "F2"]) == "F1 and F2"
    assert all_of(["F1", "F2", "F3", "W3"]) == "F1 to F3 and W3"
    assert all_of(["J1.9", "J1.10", "J1.11", "J1.13"]) == "J1.9 to J1.11 and J1.13"
    assert all_of(["W01", "W02", "W03", "Wa", "Wb"]) == "W01, W02, W03, Wa and Wb"


def test_a_run_holds_just_the_names_between_its_ends() -> None:
    chance = random.Random(7)
    for _ in range(200):
        names = sorted({f"{chance.choice('WX')}{chance.randint(1, 40)}" for _ in range(30)}, key=natural_key)
        said: list[str] = []
        for entry in re.split(", | and ", all_of(names)):
            first, _, last = entry.partition(" to ")
            numbers = range(int(first[1:]), int((last or first)[1:]) + 1)
            said += [f"{first[0]}{n}" for n in numbers]
        assert said == names


def test_a_place_of_a_fault_is_said_in_words() -> None:
    said = {
        "W7:0.00": "the beginning of W7",
        "W7:0.50": "the middle of W7",
        "/AUX+:1.00": "the end of /AUX+",
        "W7:0.25": "W7 at 25 % of its length",
        "P1.1|P1.3": "P1.1 and P1.3",
        "@BT1.2": "BT1.2",
        "/Pier A/PIER+": "/Pier A/PIER+",
        "NET:1": "NET:1",
        "L3": "L3",
    }
    assert {place: place_said(place) for place in said} == said


def test_a_joint_that_no_net_names_is_called_by_its_pin() -> None:
    assert as_drawn("from @C3.1B to @PS2.2, through C3.1") == "from C3.1B to PS2.2, through C3.1"
    assert as_drawn("«@J1.3» (@J2.4)") == "«J1.3» (J2.4)"
    for sentence in ("field Trip@night reads “5”", "Load@slew.2", "mail@dome.example", "@ 5 A. Next", "12 V @ 5 A"):
        assert as_drawn(sentence) == sentence
