"""Proposals beyond sizes: contact families, channels that are off, ratings, switches; numbers by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from wired import contact, fuse, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Band, Behaviour, Diode, Element, LoadKind, Switch, Tolerance
from loadloom.graph.model.findings import Severity, Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, ContactType, DesignSettings
from loadloom.graph.sizing.advise import Advised, advise
from loadloom.graph.sizing.shelf import gauge_of

FAMILIES = {
    "small": ContactType("small", rated_a=((4, 7.0),), resistance_ohm=Band(3e-3, 2e-3, 5e-3)),
    "middle": ContactType("middle", rated_a=((4, 20.0),), resistance_ohm=Band(1e-3, 1e-3, 2e-3)),
    "large": ContactType(
        "large", rated_a=((4, 25.0),), resistance_ohm=Band(1e-3, 5e-4, 2e-3), wire_area_mm2=(2.5, 6.0)
    ),
}
SETTINGS = AnalysisSettings(
    contact_types=FAMILIES, stocked_sizes=("0.75 mm²", "1.5 mm²", "2.5 mm²", "4 mm²", "6 mm²"), spread_draws=1
)


def advised(drawn: Harness, settings: AnalysisSettings = SETTINGS) -> Advised:
    return advise(drawn, settings, tool_version="test", date="2026-01-01", settings_echo={})


def rules(found: Advised) -> set[tuple[str, str]]:
    """Rule and subject of every error and warning that remains."""
    return {
        (f.rule, f.subject.id)
        for f in found.advice.remaining
        if f.severity is not Severity.NOTE and f.rule not in ("power-available-to-fault", "device-not-checked")
    }


def behind_a_channel(trip_a: float, amperes: float = 10.0, family: str = "small", **channel: object) -> Harness:
    """One channel of ±10 %, a contact, 6 mm² out and back, a load."""
    copper = {"mm2": 6.0, "length_m": 1.0, "insulation": "PVC 70 °C"}
    band = Band(trip_a, 0.9 * trip_a, 1.1 * trip_a)
    return harness(
        output("PS1", "p", "m", limit_a=60.0, trip_a=Band(100.0, 90.0, 110.0), resistance_ohm=5e-3, delay_s=0.01),
        limiter("CH1", "p", "a", band, **{"delay_s": 0.01, **channel}),
        contact("X1.1", "a", "b", rated=None, contact_type=family, resistance_ohm=None),
        wire("W1", "b", "l+", **copper),
        wire("W2", "l-", "m", **copper),
        load("L1", "l+", "l-", amperes),
    )


# --- contact families -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("trip_a", "family"),
    # ±10 %: a channel of 18 A can hold 19.8 A, which 20 A stands; one of 20 A 22 A, which it does not.
    [(18.0, "middle"), (20.0, "large")],
)
def test_the_smallest_family_that_stands_what_the_channel_lets_through(trip_a: float, family: str) -> None:
    found = advised(behind_a_channel(trip_a))
    (row,) = found.advice.families
    assert (row.connector, row.drawn, row.proposed) == ("X1", "small", family)
    assert row.needed_a == pytest.approx(1.1 * trip_a, rel=1e-3)
    assert {c.contact_type for c in found.harness.contacts} == {family}
    assert not {s for r, s in rules(found) if s.startswith("X1")}


def test_a_family_that_does_stays_and_the_list_of_the_settings_is_kept_to() -> None:
    assert advised(behind_a_channel(18.0, family="middle")).advice.families == ()
    only = replace(SETTINGS, design=DesignSettings(contacts=("large",)))
    (row,) = advised(behind_a_channel(18.0), only).advice.families
    assert row.proposed == "large"


def test_a_family_whose_crimp_takes_no_wire_for_the_load_is_passed_over() -> None:
    """10 A needs more than 0.75 mm² here; a family that takes no more is not proposed though it is rated enough."""
    thin = replace(FAMILIES["middle"], wire_area_mm2=(0.2, 0.75))
    settings = replace(SETTINGS, contact_types={**FAMILIES, "middle": thin})
    (row,) = advised(behind_a_channel(18.0), settings).advice.families
    assert row.proposed == "large"


def test_where_no_family_does_the_device_is_lowered_or_it_is_said() -> None:
    """25 A is the most that a family stands: a channel of 30 A comes down to 25 / 1.1 = 22.7 A or less."""
    found = advised(behind_a_channel(30.0))
    (setting,) = (s for s in found.advice.devices if s.id == "CH1")
    assert setting.proposed_a is not None and 10.0 / 0.9 <= setting.proposed_a <= 25.0 / 1.1
    # A load of 24 A needs 26.7 A, which holds 29.3 A: no setting and no family does both.
    none = advised(behind_a_channel(30.0, amperes=24.0))
    (setting,) = (s for s in none.advice.devices if s.id == "CH1")
    assert setting.proposed_a is None and "no setting does both" in setting.reason
    (row,) = none.advice.families
    assert row.proposed in (None, "large") and row.reason


# --- channels -------------------------------------------------------------------------------------------------


def test_a_channel_that_is_off_in_an_arrangement_is_given_its_setting_there() -> None:
    """Pooled, 110 A of the unit stand behind 6 mm²; with 20 A there as well nothing is left."""
    drawn = behind_a_channel(20.0, family="large", by_word={"pooled": {"trip_a": None, "active": False}})
    found = advised(drawn)
    settings = {s.slot: s for s in found.advice.devices}
    assert not settings[("CH1", None)].changed
    pooled = settings[("CH1", "pooled")]
    assert (pooled.drawn_a, pooled.proposed_a, pooled.changed) == (None, 20.0, True)
    assert ("path-unprotected", "W1") in {(f.rule, f.subject.id) for f in found.advice.mended}
    assert rules(found) == set()
    assert {s.slot for s in found.advice.trip_plan if s.id == "CH1"} == {("CH1", None), ("CH1", "pooled")}


def test_a_channel_that_is_off_stays_off_where_nothing_needs_it() -> None:
    """Behind 10 A of the unit itself the pooled channel is missed by nobody."""
    drawn = behind_a_channel(
        20.0, amperes=5.0, family="large", by_word={"pooled": {"trip_a": None, "active": False}}
    )
    outputs = tuple(replace(o, limit_a=8.0, trip_a=Band(10.0, 9.0, 11.0)) for o in drawn.outputs)
    assert ("CH1", "pooled") not in {s.slot for s in advised(replace(drawn, outputs=outputs)).advice.devices}


def test_a_channel_drawn_as_off_is_given_a_value_and_the_tolerance_is_said() -> None:
    """10 A through -10 % needs 11.1 A; whatever is chosen from there carries the load and protects."""
    drawn = behind_a_channel(20.0, family="large", active=False)
    devices = tuple(replace(d, trip_a=None) for d in drawn.devices)
    found = advised(replace(drawn, devices=devices))
    (setting,) = (s for s in found.advice.devices if s.id == "CH1")
    assert setting.drawn_a is None and setting.proposed_a is not None
    assert 10.0 / 0.9 * (1.0 - 1e-9) <= setting.proposed_a <= 25.0 / 1.1
    assert rules(found) == set()
    assert any("CH1" in text and "tolerance" in text for text in found.advice.assumptions)


def test_an_output_is_set_only_where_the_settings_say_that_it_can_be() -> None:
    parts = [
        output("PS1", "p", "m", limit_a=60.0, trip_a=Band(100.0, 90.0, 110.0), resistance_ohm=5e-3, delay_s=0.01),
        wire("W1", "p", "l+", mm2=6.0, length_m=1.0, insulation="PVC 70 °C"),
        wire("W2", "l-", "m", mm2=6.0, length_m=1.0, insulation="PVC 70 °C"),
        load("L1", "l+", "l-", 10.0),
    ]
    fixed = advised(harness(*parts))
    assert fixed.advice.devices == () and ("path-unprotected", "W1") in rules(fixed)
    can = replace(SETTINGS, design=DesignSettings(settable=("PS1",)))
    (setting,) = advised(harness(*parts), can).advice.devices
    assert setting.kind == "output" and setting.proposed_a is not None and setting.proposed_a < 30.0
    # One that never trips is given no trip, whatever the settings say: it needs a device.
    never = replace(parts[0], trip_a=None, never_trips=True)
    found = advised(harness(never, *parts[1:]), can)
    assert found.advice.devices == ()
    assert any(row.subject == "PS1" and "Put a device" in row.remedy for row in found.advice.left)


# --- settings hang on sizes, and the other way round ------------------------------------------------------------


def far_load(trip_a: float, mm2: float) -> Harness:
    """60 W at 12 V, 23 m away; a channel of ±10 %."""
    copper = {"mm2": mm2, "length_m": 23.0, "insulation": "PVC 70 °C"}
    return harness(
        output("PS1", "p", "m", limit_a=60.0, trip_a=Band(100.0, 90.0, 110.0), delay_s=0.01),
        limiter("CH1", "p", "a", Band(trip_a, 0.9 * trip_a, 1.1 * trip_a), delay_s=0.01),
        wire("W1", "a", "l+", **copper),
        wire("W2", "l-", "m", **copper),
        load("L1", "l+", "l-", 60.0, demand_kind=LoadKind.POWER, minimum_v=11.0),
    )


def test_a_device_is_set_for_what_the_load_takes_behind_conductors_that_do() -> None:
    """Behind 1.5 mm², 0.53 Ω cold, 60 W take over 7 A; with its 11 V the load takes 5.45 A at most, which a channel
    of 6.5 A carries (5.85 A for certain). One of 5 A has to come up to 5.45 / 0.9 = 6.06 A, and by no more than is
    given for a round value.
    """
    settings = replace(SETTINGS, stocked_sizes=(*SETTINGS.stocked_sizes, "10 mm²", "16 mm²"))
    thin = advised(far_load(6.5, 1.5), settings)
    (channel,) = thin.advice.devices
    assert not channel.changed and rules(thin) == set()
    assert {(f.rule, f.subject.id) for f in thin.advice.mended} >= {
        ("voltage-low", "L1"),
        ("limiter-would-trip", "CH1"),
    }
    (channel,) = advised(far_load(5.0, 1.5), settings).advice.devices
    assert channel.proposed_a is not None and 60.0 / 11.5 / 0.9 < channel.proposed_a < 1.1 * 60.0 / 11.0 / 0.9


def test_a_device_is_raised_as_far_as_conductors_have_grown() -> None:
    """1 Ω behind 16 m of 1.5 mm² draws 10.1 A, behind 4 mm² 11.1 A. A short circuit of 1.2 kA at the near end, up
    to the 0.1 s of the channel, asks for 4 mm²; the channel then has to come up to 11.1 / 0.9 = 12.3 A, more than
    the 1.5 mm² drawn would have let it: those are allowed 13.1 A, and it holds 1.1 times its setting.
    """
    drawn = harness(
        output("PS1", "p", "m", limit_a=60.0, trip_a=Band(100.0, 90.0, 110.0), resistance_ohm=0.01, delay_s=0.2),
        limiter("CH1", "p", "a", Band(11.5, 10.35, 12.65), delay_s=0.1),
        wire("W1", "a", "l+", mm2=1.5, length_m=16.0, insulation="PVC 70 °C"),
        wire("W2", "l-", "m", ohm=0.01, rated=20.0),
        load("L1", "l+", "l-", 1.0, demand_kind=LoadKind.RESISTANCE),
    )
    found = advised(drawn)
    (channel,) = found.advice.devices
    assert found.sizes["W1"].area_mm2 >= 4.0
    assert channel.proposed_a is not None and 11.0 / 0.9 <= channel.proposed_a <= (channel.high_a or 0.0)
    assert not {part for rule, part in rules(found) if rule == "limiter-would-trip"}


def test_a_setting_stays_where_other_devices_protect() -> None:
    """A fuse of 7.5 A holds 10.1 A, more than the 9 A of the return of one of two joined outputs; but no more than
    8.12 A come out of the one and 4.88 A out of the other, so that the return never needed a smaller one.
    """
    own = {"limit_a": 4.1, "behaviour": Behaviour.CONSTANT_CURRENT, "resistance_ohm": 0.02}
    paths = (("W1", "o", "p", 9.0), ("W2", "q", "p", 9.0), ("W3", "m", "n", 9.0))
    paths += (("W4", "p", "t", 16.0), ("W5", "d", "l+", 16.0), ("W6", "l-", "m", 16.0))
    drawn = harness(
        output("PS1", "o", "m", tolerance=Tolerance.even(0.01), trip_a=Band(7.6, 7.06, 8.12), **own),
        output("PS2", "q", "n", tolerance=Tolerance.even(0.03), trip_a=Band(4.56, 4.24, 4.88), **own),
        fuse("F2", "t", "d", 7.5, "UL 248-14"),
        *(wire(name, a, b, mm2=1.0, length_m=1.0, rated=amperes) for name, a, b, amperes in paths),
        load("L1", "l+", "l-", 4.0),
    )
    (row,) = advised(drawn).advice.devices
    assert row.proposed_a == 7.5 and "W3 is protected by PS1" in row.reason
    # Alone, an output of 12 A would leave it to the fuse.
    outputs = (replace(drawn.outputs[0], node_minus="n", trip_a=Band(12.0, 11.0, 13.0)),)
    alone = replace(drawn, outputs=outputs, conductors=tuple(c for c in drawn.conductors if c.id != "W2"))
    (row,) = advised(alone).advice.devices
    assert row.proposed_a == 5.0


def test_one_of_joined_outputs_is_lowered_before_its_leads_are_thickened() -> None:
    """4 mm² carry 27 A or less here and 6 mm² more; the leads stay as drawn and the output comes down."""
    copper = {"mm2": 4.0, "length_m": 1.0, "insulation": "PVC 70 °C"}
    drawn = harness(
        output(
            "BT1", "p", "m", 12.0, limit_a=40.0, trip_a=Band(35.0, 34.0, 36.0), resistance_ohm=5e-3, delay_s=0.01
        ),
        output("PS2", "q", "n", 12.0, limit_a=8.0, trip_a=Band(9.0, 8.5, 9.5), resistance_ohm=5e-3, delay_s=0.01),
        wire("W1", "p", "b+", **copper),
        wire("W2", "b-", "m", **copper),
        wire("W3", "q", "b+", **copper),
        wire("W4", "b-", "n", **copper),
        load("L1", "b+", "b-", 6.0),
    )
    can = replace(SETTINGS, design=DesignSettings(settable=("BT1",)))
    found = advised(drawn, can)
    (setting,) = (s for s in found.advice.devices if s.id == "BT1")
    assert setting.proposed_a is not None and setting.proposed_a < 27.0 and setting.changed
    sizes = {row.id: row.area_mm2 for row in found.advice.sizes}
    assert sizes["W1"] <= 4.0 and sizes["W2"] <= 4.0
    assert not {s for r, s in rules(found) if r == "path-unprotected"}


def test_all_devices_that_share_a_return_come_down_together() -> None:
    """Six channels of 10 A, 2 A each: one fault brings 10 + 5 × 2 = 20 A onto a return that is allowed 15 A. It is
    protected once each of them holds 5 A, and by none alone.
    """
    parts: list[Element] = [output("PS1", "p", "m", limit_a=100.0, trip_a=120.0, delay_s=0.01)]
    for k in range(1, 7):
        parts += [
            limiter(f"CH{k}", "p", f"c{k}", 10.0, delay_s=0.01),
            wire(f"W{k}", f"c{k}", f"l{k}", mm2=4.0, length_m=1.0, rated=20.0),
            load(f"L{k}", f"l{k}", "r", 2.0),
        ]
    drawn = harness(*parts, wire("W7", "r", "m", mm2=4.0, length_m=1.0, rated=15.0))
    found = advised(drawn)
    assert {s.id: s.proposed_a for s in found.advice.devices} == {f"CH{k}": 5.0 for k in range(1, 7)}
    assert ("path-unprotected", "W7") in {(f.rule, f.subject.id) for f in found.advice.mended}


def test_a_family_that_is_changed_for_its_crimp_says_so() -> None:
    """A load of 11 A needs a channel of 12.2 A, which holds 13.4 A: more than the 13.1 A that 1.5 mm² are allowed,
    where the crimp of the drawn family ends. Its 20 A were never the matter, and where its crimp takes 2.5 mm² it
    stays.
    """
    drawn = behind_a_channel(12.5, amperes=11.0, family="middle")
    drawn = replace(drawn, conductors=tuple(replace(w, gauge=gauge_of("1.5 mm²")) for w in drawn.conductors))
    narrow = replace(FAMILIES["middle"], wire_area_mm2=(0.5, 1.5))
    found = advised(drawn, replace(SETTINGS, contact_types={**FAMILIES, "middle": narrow}))
    (row,) = found.advice.families
    assert row.proposed == "large" and row.reason == "a wire of 2.5 mm² has to fit its crimp range"
    assert found.sizes["W1"].area_mm2 == 2.5 and rules(found) == set()
    assert advised(drawn).advice.families == ()


@pytest.mark.parametrize("wide", [True, False])
def test_a_family_gives_way_to_the_wire_that_a_load_needs_its_voltage_by(wide: bool) -> None:
    """8 A over 2 × 8 m lose 8 × 16 × 0.0175 / 4 = 0.56 V in 4 mm², 0.9 V in 2.5 mm² and 1.5 V in 1.5 mm², more when
    warm: with 1 V to lose behind 0.05 Ω, the crimp of the drawn family, up to 1.5 mm², is what stands in the way.
    """
    copper = {"mm2": 1.5, "length_m": 8.0, "insulation": "PVC 70 °C"}
    drawn = harness(
        output("PS1", "p", "m", 12.0, limit_a=60.0, trip_a=100.0, resistance_ohm=0.05, delay_s=0.01),
        limiter("CH1", "p", "a", Band(9.0, 8.1, 9.9), delay_s=0.01),
        contact("X1.1", "a", "b", contact_type="middle", resistance_ohm=None),
        wire("W1", "b", "l+", **copper),
        wire("W2", "l-", "m", **copper),
        load("L1", "l+", "l-", 8.0, minimum_v=10.6),
    )
    narrow = replace(FAMILIES["middle"], wire_area_mm2=(0.5, 1.5))
    large = replace(FAMILIES["large"], wire_area_mm2=(0.5, 6.0) if wide else (0.5, 1.5))
    settings = replace(SETTINGS, contact_types={"middle": narrow, "large": large})
    found = advised(drawn, settings)
    if wide:
        (row,) = found.advice.families
        assert row.proposed == "large" and "has to fit its crimp range" in row.reason
        assert found.advice.left == () and rules(found) == set()
        assert found.sizes["W1"].area_mm2 > 1.5
    else:
        (row,) = found.advice.families
        assert row.proposed is None and "has to fit its crimp range" in row.reason
        (left,) = found.advice.left
        assert left.rule == "voltage-low" and "W1 of" in left.why and "no contact stated there takes" in left.why


def test_a_family_suits_the_wire_that_another_connector_holds() -> None:
    """22 A ask the only family of 25 A of X1, from 2.5 mm² up. At the other end of its wire X2 has five loaded
    positions, for which no other family is rated, and takes 1.5 mm²: X1 then stays, and no wire is left between two
    contacts that take no common size.
    """
    copper = {"mm2": 1.5, "length_m": 1.0, "insulation": "PVC 70 °C"}
    row = ContactType("row", rated_a=((6, 4.0),), resistance_ohm=Band(3e-3, 2e-3, 5e-3), wire_area_mm2=(0.5, 1.5))
    parts: list[Element] = [
        output("PS1", "p", "m", limit_a=60.0, trip_a=100.0, resistance_ohm=0.05, delay_s=0.01),
        limiter("CH1", "p", "a", Band(20.0, 18.0, 22.0), delay_s=0.01),
        limiter("CH2", "p", "d", 3.0, delay_s=0.01),
        contact("X1.1", "a", "b", contact_type="small", resistance_ohm=None),
        wire("W1", "b", "c1", **copper),
        load("L1", "l1", "m", 15.0),
    ]
    for k in range(1, 6):
        parts.append(contact(f"X2.{k}", f"c{k}", f"l{k}", contact_type="row", resistance_ohm=None))
    for k in range(2, 6):
        parts += [wire(f"W{k}", "d", f"c{k}", **copper), load(f"L{k}", f"l{k}", "m", 0.5)]
    found = advised(harness(*parts), replace(SETTINGS, contact_types={**FAMILIES, "row": row}))
    families = {each.connector: each for each in found.advice.families}
    assert families["X2"].proposed is None and "5 loaded positions" in families["X2"].reason
    assert families["X1"].proposed is None
    assert not {part for rule, part in rules(found) if rule == "crimp-range"}


def test_a_channel_is_set_once_its_wires_have_grown() -> None:
    """A load of 12 A needs a channel of 13.3 A, which holds 14.7 A. The crimp of the drawn family ends at 1.5 mm²,
    13.1 A: no setting does both. With another family the wires come to 17.4 A or more, and one does.
    """
    drawn = behind_a_channel(30.0, amperes=12.0, family="middle")
    wires = tuple(replace(w, gauge=gauge_of("1.5 mm²")) for w in drawn.conductors)
    unit = replace(drawn.outputs[0], limit_a=13.0, trip_a=Band(14.0, 13.5, 14.5))
    drawn = replace(drawn, conductors=wires, outputs=(unit,))
    narrow = replace(FAMILIES["middle"], wire_area_mm2=(0.5, 1.5))
    found = advised(drawn, replace(SETTINGS, contact_types={**FAMILIES, "middle": narrow}))
    (channel,) = found.advice.devices
    assert channel.proposed_a is not None and channel.proposed_a * (1.0 + 1e-9) >= 12.0 / 0.9
    assert channel.high_a is not None and channel.proposed_a <= channel.high_a
    assert {s.proposed_a for s in found.advice.trip_plan if s.id == "CH1"} == {channel.proposed_a}
    assert not rules(found)


# --- ratings --------------------------------------------------------------------------------------------------


def fused(**values: object) -> Harness:
    return harness(
        output(
            "BT1",
            "p",
            "m",
            24.0,
            limit_a=20.0,
            trip_a=22.0,
            tolerance=Tolerance.even(0.05),
            resistance_ohm=25e-3,
            delay_s=0.01,
        ),
        fuse("F1", "p", "a", 7.5, "UL 248-14", **values),
        wire("W1", "a", "l+", mm2=2.5, length_m=1.0, insulation="PVC 70 °C"),
        wire("W2", "l-", "m", mm2=2.5, length_m=1.0, insulation="PVC 70 °C"),
        load("L1", "l+", "l-", 4.0),
    )


@pytest.mark.parametrize(
    ("listed", "volts", "amperes"),
    # 24 V + 5 % = 25.2 V; 25.2 V / 25 mΩ = 1008 A at the fuse. Without a list three figures, rounded up.
    [(False, 25.2, 1010.0), (True, 32.0, 2000.0)],
)
def test_parts_to_choose(listed: bool, volts: float, amperes: float) -> None:
    made = DesignSettings(voltage_ratings_v=(16.0, 32.0, 58.0), breaking_capacities_a=(500.0, 1000.0, 2000.0))
    settings = replace(SETTINGS, design=made) if listed else SETTINGS
    found = advised(fused(voltage_rating_v=16.0, breaking_capacity_a=500.0), settings)
    rows = {row.field: row for row in found.advice.ratings}
    assert rows["Voltage rating"].needed == pytest.approx(25.2)
    assert rows["Breaking capacity"].needed == pytest.approx(1008.0)
    assert (rows["Voltage rating"].proposed, rows["Breaking capacity"].proposed) == (volts, amperes)
    assert not {rule for rule, _ in rules(found)} & {"voltage-rating", "breaking-capacity"}
    assert advised(fused(voltage_rating_v=32.0, breaking_capacity_a=2000.0), settings).advice.ratings == ()


# --- switches -------------------------------------------------------------------------------------------------


def joined(*, bypassed: bool) -> Harness:
    """A unit and a battery behind diodes on one bus; a closed switch across the unit's diode, or in its place."""
    copper = {"mm2": 4.0, "length_m": 0.5, "insulation": "PVC 70 °C"}
    values = {"limit_a": 15.0, "trip_a": Band(18.0, 17.0, 19.0), "resistance_ohm": 0.04, "delay_s": 0.01}
    parts: list[Element] = [
        output("PS2", "p", "m", 24.0, **values),
        output("BT1", "q", "m", 24.0, **values),
        wire("W1", "p", "a", **copper),
        wire("W2", "q", "b", **copper),
        wire("W3", "bus", "l+", **copper),
        wire("W4", "l-", "m", **copper),
        load("L1", "l+", "l-", 4.0),
    ]
    switch = Switch(id="SW1", subject=Subject("SW1"), node_a="a", node_b="bus", rating_a=25.0)
    diodes = [Diode(id="D2", subject=Subject("D2"), node_a="b", node_b="bus", forward_drop_v=0.4, rating_a=25.0)]
    if bypassed:
        diodes += [replace(diodes[0], id="D1", subject=Subject("D1"), node_a="a")]
    return replace(harness(*parts), switches=(switch,), diodes=tuple(diodes))


def test_a_bypass_left_closed_across_a_blocking_diode_is_to_be_open() -> None:
    found = advised(joined(bypassed=True))
    (opening,) = found.advice.openings
    assert opening.id == "SW1" and "back-feed" in opening.mends
    assert ("back-feed", "PS2") in {(f.rule, f.subject.id) for f in found.advice.mended}
    assert not found.harness.switches[0].fitted
    assert all(row.voltage_v is not None and row.voltage_v > 20.0 for row in found.results.loads)


def test_a_switch_that_a_load_needs_stays_closed() -> None:
    """A load of its own behind the switch, which nothing else feeds."""
    drawn = joined(bypassed=False)
    own = replace(drawn.switches[0], node_b="far")
    parts = replace(
        drawn,
        switches=(own,),
        conductors=(*drawn.conductors, replace(drawn.conductors[2], id="W9", node_a="far", node_b="bus")),
        diodes=(replace(drawn.diodes[0], node_a="bus", node_b="b"),),
    )
    assert advised(parts).advice.openings == ()
