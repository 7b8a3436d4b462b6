"""The words for the ends of a setting range: every quotient in them is worked out again and must give the end."""

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import pytest

from loadloom.graph.devices.device_bands import held_multiple
from loadloom.graph.judging.range_words import high_words, low_words
from loadloom.graph.model.elements import Band, Conductor, Device, DeviceKind
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.results import DeviceRow, Results
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.setting_ranges.setting_ranges import Bound

ROUNDED = 0.011
"""Three digits in each number of a sentence."""


def worked_out(text: str) -> float | None:
    """The value of the quotient that a sentence begins with; None where it makes no quotient."""
    found = re.match(r"(?:([\d.]+) × )?([\d.]+) A[^÷;]*((?: ÷ [\d.]+)+), since", text)
    if found is None:
        return None
    value = float(found[1] or 1.0) * float(found[2])
    for divisor in re.findall(r"÷ ([\d.]+)", found[3]):
        value /= float(divisor)
    return value


@pytest.mark.parametrize("version", ["sound", "flawed", "cart_sound", "cart_flawed"])
def test_what_the_words_say_gives_the_end(version: str, demo_results: Callable[[str], Results]) -> None:
    counts: Counter[str] = Counter()
    for row in demo_results(version).devices:
        for end_a, text in (
            (row.setting_low_a, row.setting_low_because),
            (row.setting_high_a, row.setting_high_because),
        ):
            assert (end_a is None) == (text == ""), row.id
            value = worked_out(text)
            if value is not None:
                assert value == pytest.approx(end_a, rel=ROUNDED), (row.id, text)
                counts["quotients"] += 1
            elif held := re.search(r"holds up to ([\d.]+) A, ([\d.]+) times its rating", text):
                assert float(held[1]) == pytest.approx(float(held[2]) * (end_a or 0.0), rel=ROUNDED), text
                counts["held"] += 1
            elif "standing still within" in text:
                counts["stalls"] += 1
    assert counts.total() >= 5


def test_the_channel_of_the_demo_is_told_as_one_would_by_hand(demo_results: Callable[[str], Results]) -> None:
    """10.7 A at slew, ±10 %: 10.7 A / 0.9 = 11.9 A; W20 of 24.6 A: 24.6 A / 1.1 = 22.4 A."""
    (row,) = [row for row in demo_results("sound").devices if row.id == "CH1"]
    assert row.setting_low_because == "10.7 A in slew ÷ 0.9, since it certainly carries 0.9 times its setting"
    assert row.setting_high_because == "24.6 A allowed on W20 ÷ 1.1, since it may hold 1.1 times its setting"


FUSE = Device(id="F1", subject=Subject("F1"), node_a="a", node_b="b", kind=DeviceKind.FUSE, rating_a=10.0)
LIMITER = Device(
    id="CH1", subject=Subject("CH1"), node_a="a", node_b="b", kind=DeviceKind.LIMITER, trip_a=Band(10.0, 9.0, 11.0)
)
WIRE = Conductor(id="W1", subject=Subject("W1"), node_a="a", node_b="b")


def test_the_overload_band_is_told() -> None:
    """A fuse by the gates of the standard band certainly opens above a multiple of its rating: rated for what the
    wire is allowed, it holds more than that."""
    text = high_words(FUSE, Bound(20.0, "W1", 20.0), WIRE, (None,), AnalysisSettings())
    assert text.startswith("rated for the 20 A allowed on W1; it then holds up to ")
    assert "within the overload band of 1.45 times" in text


def test_why_the_band_is_not_counted_is_told() -> None:
    """A range that ends where the fuse holds just what the wire is allowed, though 1.45 times would be within the
    band: another feed reaches the wire as well. A contact has no band, and a limiter none either.
    """
    multiple = held_multiple(FUSE, AnalysisSettings())
    assert multiple is not None and multiple > 1.0
    bound = Bound(20.0 / multiple, "W1", 20.0)
    told = high_words(FUSE, bound, WIRE, (None,), AnalysisSettings())
    assert told.startswith("20 A allowed on W1 ÷ ")
    assert "the overload band of 1.45 times is not counted, since F1 is not shown to be the one device" in told
    assert "band" not in high_words(FUSE, bound, object(), (None,), AnalysisSettings())
    assert "band" not in high_words(LIMITER, Bound(20.0 / 1.1, "W1", 20.0), WIRE, (None,), AnalysisSettings())
    assert "band" not in high_words(FUSE, bound, WIRE, (None,), AnalysisSettings(overload_band=1.0))


def test_what_other_feeds_bring_and_shares_are_told() -> None:
    more = high_words(LIMITER, Bound(10.0, "P1", 15.0), object(), (None,), AnalysisSettings())
    assert more == (
        "it then holds up to 11 A, 1.1 times its setting; with what else can come to P1 that makes the 15 A "
        "allowed on it"
    )
    less = high_words(LIMITER, Bound(10.0, "P1", 5.0), object(), (None,), AnalysisSettings())
    assert less == "it then holds up to 11 A, 1.1 times its setting, of which P1 carries the 5 A allowed on it"
    low = low_words(LIMITER, Bound(10.0, "nominal", 9.0), (None,), AnalysisSettings())
    assert low == "9 A in nominal ÷ 0.9, since it certainly carries 0.9 times its setting"


@pytest.mark.parametrize(
    ("low", "says"),
    [
        # Certain to carry 90 % of its setting: 9 A / 0.9; with half of that allowed by the books 4.5 A / 0.9 / 0.5.
        (Bound(10.0, "", 9.0), "9 A ÷ 0.9, since it certainly carries 0.9 times its setting"),
        (
            Bound(10.0, "nominal", 4.5),
            "4.5 A in nominal ÷ 0.9 ÷ 0.5, since it certainly carries 0.9 times its setting and the rule books let "
            "it be loaded to 0.5 of that",
        ),
        (Bound(0.0, "nominal", 0.0), ""),
    ],
)
def test_how_the_lower_end_comes_about(low: Bound, says: str) -> None:
    assert low_words(LIMITER, low, (None,), AnalysisSettings()) == says


def test_one_that_carries_just_its_number_is_divided_by_nothing() -> None:
    exact = replace(LIMITER, trip_a=Band.exact(10.0))
    assert (
        low_words(exact, Bound(9.0, "", 9.0), (None,), AnalysisSettings())
        == "9 A; it certainly carries its setting"
    )
    told = low_words(exact, Bound(18.0, "", 9.0), (None,), AnalysisSettings())
    assert told == "9 A ÷ 0.5, since the rule books let it be loaded to 0.5 of that"


def test_of_several_arrangements_the_one_that_asks_for_the_end_is_told() -> None:
    """Certain to carry 0.9 of its setting as drawn and 0.7 pooled: 7 A asks by the latter, 9 A by the other."""
    both = replace(LIMITER, by_word={"pooled": {"trip_a": Band(10.0, 7.0, 11.0)}})
    for amperes, share in ((7.0, "0.7"), (9.0, "0.9")):
        told = low_words(both, Bound(10.0, "", amperes), (None, "pooled"), AnalysisSettings())
        assert told == f"{amperes:g} A ÷ {share}, since it certainly carries {share} times its setting"


@pytest.mark.parametrize(
    ("low", "setting", "high", "note", "stands"),
    [
        (2.0, 3.0, 4.0, "", "inside"),
        (2.0, 1.0, 4.0, "", "too low"),
        (2.0, 5.0, 4.0, "", "too high"),
        (4.0, 5.0, 2.0, "", "no range"),
        (2.0, None, 4.0, "", "not set"),
        (None, 3.0, 4.0, "", "not determined"),
        (2.0, 3.0, None, "", "not determined"),
        (2.0, 3.0, None, "not determined: too much hangs together", "not determined"),
        (2.0, 3.0, None, "however high it is set, other devices keep it", "inside"),
    ],
)
def test_where_a_setting_stands(
    low: float | None, setting: float | None, high: float | None, note: str, stands: str
) -> None:
    row = DeviceRow(
        id="F1",
        kind="fuse",
        case=None,
        setting_a=setting,
        current_a=1.0,
        setting_low_a=low,
        setting_high_a=high,
        setting_range_note=note,
    )
    assert row.setting_stands == stands
