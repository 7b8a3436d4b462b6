"""Allowed currents of contacts, splices and switches."""

from dataclasses import replace

import pytest

from loadloom.graph.model.elements import Contact, Splice, Switch
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.settings import AnalysisSettings, ContactType
from loadloom.graph.ratings.contact_rating import (
    contact_type_of,
    rate_contact,
    rate_splice,
    rate_switch,
    shipped_contact_types,
)

CONTACT = Contact(id="P1.1", subject=Subject("P1"), node_a="a", node_b="b", connector="P1", pin="1")


def settings(*kinds: ContactType, margin: float = 0.0) -> AnalysisSettings:
    return AnalysisSettings(contact_types={kind.name: kind for kind in kinds}, margin=margin)


def of_type(name: str) -> Contact:
    return replace(CONTACT, contact_type=name)


def test_an_own_rating_comes_first() -> None:
    kind = ContactType("k", rated_a=((6, 5.0),))
    contact = replace(of_type("k"), own_rating_a=9.0)
    assert rate_contact(contact, 12, 40.0, settings(kind)).allowed_a == 9.0
    assert rate_contact(contact, 12, 40.0, settings(kind, margin=0.25)).allowed_a == pytest.approx(6.75)
    unread = replace(contact, placeholders=frozenset({"own_rating_a"}))
    assert rate_contact(unread, 1, 40.0, settings(kind)).allowed_a is None


def test_by_number_of_loaded_positions() -> None:
    # IEC 60512-5-2: a rating holds with all its positions loaded; nothing is said beyond.
    kind = ContactType("k", rated_a=((2, 9.0), (6, 7.0), (12, 5.0)))
    for loaded, current_a in ((1, 9.0), (2, 9.0), (3, 7.0), (6, 7.0), (7, 5.0), (12, 5.0)):
        assert rate_contact(of_type("k"), loaded, 40.0, settings(kind)).allowed_a == current_a
    beyond = rate_contact(of_type("k"), 13, 40.0, settings(kind))
    assert beyond.allowed_a is None
    assert "12 loaded positions" in (beyond.missing or "")


def test_derating_curve() -> None:
    # IEC 60512-5-2:2002, test 5b: usable current 0.8 × base curve; 15.8 A gives 12.64 A.
    kind = ContactType("k", derating=((20.0, 20.0), (60.0, 15.8), (100.0, 0.0)))
    assert rate_contact(of_type("k"), 4, 60.0, settings(kind)).allowed_a == pytest.approx(12.64)
    assert rate_contact(of_type("k"), 4, 40.0, settings(kind)).allowed_a == pytest.approx(0.8 * 17.9)
    assert rate_contact(of_type("k"), 4, -10.0, settings(kind)).allowed_a == pytest.approx(16.0)
    assert rate_contact(of_type("k"), 4, 100.0, settings(kind)).allowed_a is None
    assert "ends at 100 °C" in (rate_contact(of_type("k"), 4, 101.0, settings(kind)).missing or "")
    both = replace(kind, rated_a=((4, 10.0),))
    assert rate_contact(of_type("k"), 4, 60.0, settings(both)).allowed_a == 10.0
    assert rate_contact(of_type("k"), 5, 60.0, settings(both)).allowed_a is None
    with_margin = rate_contact(of_type("k"), 4, 60.0, settings(both, margin=0.2))
    assert with_margin.allowed_a == pytest.approx(8.0)


def test_the_housing_governs() -> None:
    # Rise ∝ I^1.8 (lower end, common practice, no published source): 30 K at 9.2 A, 85 °C housing.
    kind = ContactType("k", rated_a=((12, 9.2),), rise_k=30.0, max_c=85.0)
    assert rate_contact(of_type("k"), 12, 55.0, settings(kind)).allowed_a == pytest.approx(9.2)
    hot = rate_contact(of_type("k"), 12, 70.0, settings(kind))
    assert hot.allowed_a == pytest.approx(9.2 * 0.5 ** (1 / 1.8))
    assert hot.temperature_limit_c == 85.0
    assert rate_contact(of_type("k"), 12, 85.0, settings(kind)).allowed_a is None


def test_no_rating_above_40_c_without_a_highest_temperature() -> None:
    # Common practice, no published source: a rated current that names no temperature holds up to 40 °C.
    bare = ContactType("k", rated_a=((12, 9.0),))
    assert rate_contact(of_type("k"), 12, 40.0, settings(bare)).allowed_a == 9.0
    assert "not rated above 40 °C" in (rate_contact(of_type("k"), 12, 40.1, settings(bare)).missing or "")
    assert "not rated above 40 °C" in (rate_contact(of_type("pitch-3.0-12"), 12, 55.0, settings()).missing or "")
    # No rise stated: the rated current is taken to reach 105 °C at 40 °C; at 72.5 °C half of the rise is left.
    hot = replace(bare, max_c=105.0)
    assert rate_contact(of_type("k"), 12, 40.0, settings(hot)).allowed_a == pytest.approx(9.0)
    half = rate_contact(of_type("k"), 12, 72.5, settings(hot))
    assert half.allowed_a == pytest.approx(9.0 * 0.5 ** (1 / 1.8))
    assert any("states no rise" in note for note in half.assumptions)


def test_ambient_and_rise_stay_within_the_highest_temperature_of_a_type() -> None:
    # Rise ∝ I^1.8 … I^2 (common practice, no published source): 30 K at 9 A, 85 °C.
    kind = ContactType("k", rated_a=((12, 9.0),), rise_k=30.0, max_c=85.0)
    drawn = replace(of_type("k"), own_rating_a=12.0)
    # At 70 °C 15 K are left: 9 × 0.5^(1/1.8); at 25 °C 60 K: 9 × √2, above the 12 A drawn.
    assert rate_contact(drawn, 12, 70.0, settings(kind)).allowed_a == pytest.approx(9.0 * 0.5 ** (1 / 1.8))
    assert rate_contact(drawn, 12, 25.0, settings(kind)).allowed_a == 12.0
    assert "not below the 85 °C" in (rate_contact(drawn, 12, 85.0, settings(kind)).missing or "")
    for ambient_c in (25.0, 55.0, 60.0, 70.0, 80.0):
        for contact in (drawn, of_type("k")):
            allowed_a = rate_contact(contact, 12, ambient_c, settings(kind)).allowed_a
            assert allowed_a is not None
            share = allowed_a / 9.0
            assert ambient_c + 30.0 * max(share**1.8, share**2.0) <= 85.0 + 1e-9
    # A type that states no current: the rating drawn is taken to reach 85 °C at 40 °C; at 62.5 °C half is left.
    bare = ContactType("k", max_c=85.0)
    half = rate_contact(drawn, 12, 62.5, settings(bare))
    assert half.allowed_a == pytest.approx(12.0 * 0.5 ** (1 / 1.8))
    assert half.assumptions == ("the contact rating drawn is taken to reach 85 °C at 40 °C",)
    assert rate_contact(drawn, 12, 40.0, settings(bare)).allowed_a == 12.0
    # A base curve that ends at 105 °C heats its contacts to 105 °C: at 60 °C by 45 K, of which 85 °C leaves 25 K.
    curve = ContactType("k", derating=((20.0, 17.0), (105.0, 0.0)), max_c=85.0)
    at_60 = rate_contact(of_type("k"), 12, 60.0, settings(curve))
    assert at_60.allowed_a == pytest.approx(min(0.8 * 9.0, 9.0 * (25 / 45) ** (1 / 1.8)))
    cut_off = replace(curve, derating=((20.0, 17.0), (105.0, 2.0)))
    assert "rise is not known" in (rate_contact(of_type("k"), 12, 60.0, settings(cut_off)).missing or "")
    # A rating drawn at the contact with no type holds as it stands; that is told where the air is hot.
    plain = replace(CONTACT, own_rating_a=9.0)
    assert rate_contact(plain, 12, 40.0, settings()).assumptions == ()
    assert any("55 °C" in note for note in rate_contact(plain, 12, 55.0, settings()).assumptions)


def test_shipped_contact_types() -> None:
    # Supply design guide 3.0: 9.2 A per contact, 30 K, 12 energised, 3.0 mm pitch; guide 2.1a: 8.0 A, 2×3.
    assert rate_contact(of_type("pitch-3.0-12"), 12, 40.0, settings()).allowed_a == 9.2
    assert rate_contact(of_type("pitch-3.0-12"), 13, 40.0, settings()).allowed_a is None
    assert rate_contact(of_type("pitch-4.2-2x3"), 6, 40.0, settings()).allowed_a == 8.0
    # 600 W at 12 V on six contacts: 8.333 A each, utilisation 0.906 (same guide).
    rated_a = rate_contact(of_type("pitch-3.0-12"), 12, 40.0, settings()).allowed_a
    assert rated_a is not None
    per_contact_a = 600 / 12 / 6
    assert per_contact_a / rated_a == pytest.approx(0.906, abs=5e-4)
    assert all("design guide" in kind.source for kind in shipped_contact_types().values())
    own = ContactType("pitch-3.0-12", rated_a=((12, 8.0),))
    assert contact_type_of("pitch-3.0-12", settings(own)) is own


def test_no_rating_is_said() -> None:
    assert "neither" in (rate_contact(CONTACT, 1, 40.0, settings()).missing or "")
    assert "no contact type “x”" in (rate_contact(of_type("x"), 1, 40.0, settings()).missing or "")
    assert "no current" in (rate_contact(of_type("k"), 1, 40.0, settings(ContactType("k"))).missing or "")


def test_splices_and_switches() -> None:
    splice = Splice(id="S1", subject=Subject("S1"), node="n", rating_a=30.0)
    assert rate_splice(splice, settings(margin=0.1)).allowed_a == pytest.approx(27.0)
    assert "no rating" in (rate_splice(replace(splice, rating_a=None), settings()).missing or "")
    switch = Switch(id="SW1", subject=Subject("SW1"), node_a="a", node_b="b", rating_a=16.0)
    assert rate_switch(switch, settings()).allowed_a == 16.0
    unread = replace(switch, rating_a=None, placeholders=frozenset({"rating_a"}))
    assert "can't be read" in (rate_switch(unread, settings()).missing or "")


def test_a_derating_curve_of_a_signal_contact() -> None:
    """A curve below 1 A is read like any other: 0.8 × 0.6 A half-way; one that is 0 all along leaves nothing."""
    small = ContactType("k", derating=((20.0, 0.8), (60.0, 0.6), (100.0, 0.4)))
    assert rate_contact(of_type("k"), 4, 60.0, settings(small)).allowed_a == pytest.approx(0.48)
    none = ContactType("k", derating=((20.0, 0.0), (100.0, 0.0)))
    rating = rate_contact(of_type("k"), 4, 60.0, settings(none))
    assert rating.allowed_a is None and rating.missing is not None
