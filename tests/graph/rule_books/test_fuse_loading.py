"""Continuous loading of fuses by their rating, and what a band without rerating assumes."""

import pytest
from wired import facts, found, fuse, harness, load, output, wire

from loadloom.graph.model.settings import Ambient, AnalysisSettings, Curve, CurvePoint
from loadloom.graph.rule_books import least_rating_a, loading_share
from loadloom.graph.verdict.assumptions import _beyond_rerating, _of_rerating

SPACE = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper", rule_sets=("mil-std-975m-fuses",))


@pytest.mark.parametrize(
    ("rating_a", "share"),
    # MIL-STD-975M (NASA), 5 Aug 1994, appendix A 3.16: greatest share of the rating
    [
        (0.125, 0.25),
        (0.25, 0.3),
        (0.375, 0.35),
        (0.5, 0.4),
        (0.75, 0.4),
        (1.0, 0.45),
        (1.5, 0.45),
        (2.0, 0.5),
        (15, 0.5),
    ],
)
def test_shares_as_printed(rating_a: float, share: float) -> None:
    got = loading_share(SPACE, rating_a, fuse=True)
    assert got is not None and got[0] == share and "975M" in got[1]
    assert loading_share(SPACE, rating_a, fuse=False) is None


@pytest.mark.parametrize(
    ("current_a", "rating_a"),
    # by hand: 5/0.5; 0.9/0.45 = 2 A, which is allowed 1.0 A; 0.2/0.4; 0.03/0.25 = 0.12 A; 0.46/0.45 = 1.02 A
    [(5.0, 10.0), (0.9, 2.0), (0.2, 0.5), (0.03, 0.12), (0.46, 1.0222)],
)
def test_least_rating(current_a: float, rating_a: float) -> None:
    assert least_rating_a(SPACE, current_a, fuse=True) == pytest.approx(rating_a, rel=1e-3)
    assert least_rating_a(AnalysisSettings(), current_a, fuse=True) == current_a


def drawn(amperes: float, rating_a: float = 10.0, curve: str = "UL 248-14"):
    return harness(
        output("PS1", "p", "m", limit_a=60.0, trip_a=90.0),
        fuse("F1", "p", "a", rating_a, curve),
        wire("W1", "a", "lp", awg=12, length_m=1.0, rated=20.0),
        wire("W2", "lm", "m", awg=12, length_m=1.0, rated=20.0),
        load("L1", "lp", "lm", amperes),
    )


@pytest.mark.parametrize(("amperes", "kept"), [(5.0, True), (5.2, False)])
def test_a_fuse_loaded_above_half_of_its_rating(amperes: float, kept: bool) -> None:
    got = found("nuisance-opening", drawn(amperes), SPACE)
    assert [f.subject.id for f in got] == ([] if kept else ["F1"])
    if not kept:
        assert "at least 10.4 A" in got[0].remedy


def test_a_band_without_rerating_is_an_assumption() -> None:
    (said,) = _of_rerating(facts(drawn(5.0), AnalysisSettings(default_ambient=Ambient(-15.0, 45.0))))
    assert said.startswith("F1: the band of UL 248-14 has no rerating") and "-15 to 45 °C" in said
    points = (CurvePoint(1.35, None, 3600.0),)
    own = Curve("own", points, True, "data sheet", rerating=((-40.0, 1.1), (25.0, 1.0), (85.0, 0.8)))
    settings = AnalysisSettings(curves={"own": own})
    assert list(_of_rerating(facts(drawn(5.0, curve="own"), settings))) == []
    at_25 = AnalysisSettings(default_ambient=Ambient(25.0, 25.0))
    assert list(_beyond_rerating(facts(drawn(5.0, curve="own"), settings))) == []
    colder = AnalysisSettings(curves={"own": own}, default_ambient=Ambient(-50.0, 45.0))
    (beyond,) = _beyond_rerating(facts(drawn(5.0, curve="own"), colder))
    assert beyond.startswith(
        "F1: the rerating of curve own is stated for -40 to 85 °C and the ambient is -50 to 45"
    )
    assert list(_of_rerating(facts(drawn(5.0), at_25))) == []
