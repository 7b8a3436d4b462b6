"""Order of ids. The expected order is common practice (no published source): numbers by value."""

import random

from loadloom.graph.naming import natural_key


def test_numbers_by_value_and_a_text_before_its_continuation() -> None:
    expected = ["", "7", "@J1.3", "W", "W01", "W1", "W1a", "W7", "W10", "W10.2", "W10.10", "Wa", "a"]
    shuffled = expected[:]
    random.Random(1).shuffle(shuffled)
    assert sorted(shuffled, key=natural_key) == expected


def test_a_run_of_digits_too_long_for_a_number_still_sorts() -> None:
    long = "W" + "9" * 10_000
    assert sorted([long, "W8"], key=natural_key) == ["W8", long]
