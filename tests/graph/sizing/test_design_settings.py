"""Settings of devices, the trip plan, and ways of contacts: numbers by hand, and checked by the analysis."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import replace

import pytest
from wired import contact, fuse, harness, limiter, load, output, wire

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Band, Behaviour, Device, DeviceKind
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, ContactType, DesignSettings
from loadloom.graph.sizing.advise import advise
from loadloom.graph.sizing.channels_off import off_slots, to_blame, turned_on
from loadloom.graph.sizing.contact_paths import find_paths
from loadloom.graph.sizing.device_settings import Setting, find_settings, trip_plan, with_settings
from loadloom.graph.sizing.groups import Grouping
from loadloom.graph.sizing.judging import gathered
from loadloom.graph.sizing.shelf import standard_between
from loadloom.graph.verdict.registry import all_rules

AT_20_C = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper")
AS_OF = {"tool_version": "test", "date": "2026-01-01", "settings_echo": {}}
NONE = Grouping((), ())
"""Every size as drawn: conductors with a rating of their own are not sized."""


def facts(drawn: Harness, settings: AnalysisSettings = AT_20_C) -> Facts:
    return gathered(drawn, settings, lambda _: None)


def settings_of(drawn: Harness, settings: AnalysisSettings = AT_20_C) -> dict[str, Setting]:
    return {s.id: s for s in find_settings(facts(drawn, settings), NONE)}


def one_way(device, rated_a: float, amperes: float) -> Harness:
    return harness(
        output("PS1", "p", "m", limit_a=83.3, trip_a=125.0),
        device,
        wire("W1", "a", "lp", mm2=2.5, length_m=1.0, rated=rated_a),
        wire("W2", "lm", "m", mm2=2.5, length_m=1.0, rated=rated_a),
        load("L1", "lp", "lm", amperes),
    )


def test_fuse_for_a_load_under_the_75_percent_rule() -> None:
    """3.2 A needs 3.2 / 0.75 = 4.267 A: the next standard rating is 5 A (makers' guidance for UL 248-14 gates)."""
    settings = replace(AT_20_C, fuse_loading=0.75)
    found = settings_of(one_way(fuse("F1", "p", "a", 3.0, "UL 248-14"), 20.0, 3.2), settings)["F1"]
    assert found.low_a == pytest.approx(4.267, abs=5e-4)
    assert found.proposed_a == 5.0 and found.changed


def test_continuous_load_rule_on_device() -> None:
    """NEC continuous load, 125 % (from memory): 12.8 A needs a device of 16 A, and 16 A or the next one, 20 A."""
    settings = replace(AT_20_C, fuse_loading=0.8)
    sixteen = settings_of(one_way(fuse("F1", "p", "a", 10.0, "UL 248-14"), 40.0, 12.8), settings)["F1"]
    assert sixteen.low_a == pytest.approx(16.0) and sixteen.proposed_a == 20.0
    assert standard_between(DeviceKind.BREAKER, 16.0, 20.0) == 16.0


def test_what_is_inside_its_window_stays_and_what_is_too_large_comes_down() -> None:
    kept = settings_of(one_way(limiter("CH1", "p", "a", 18.0), 20.0, 15.0))["CH1"]
    assert (kept.proposed_a, kept.changed, kept.reason) == (18.0, False, "as drawn")
    # ±10 %: from 15 / 0.9 = 16.7 A to 20 / 1.1 = 18.2 A; the round number below is 18 A.
    lowered = settings_of(one_way(limiter("CH1", "p", "a", Band(40.0, 36.0, 44.0)), 20.0, 15.0))["CH1"]
    assert (lowered.proposed_a, lowered.high_by) == (18.0, "W1")
    none = settings_of(one_way(limiter("CH1", "p", "a", Band(40.0, 36.0, 44.0)), 20.0, 17.0))["CH1"]
    assert none.proposed_a is None and "no setting does both" in none.reason


def test_an_output_that_folds_back_is_not_lowered_below_what_it_gives_anyway() -> None:
    """Past its knee it gives its limit of 24 A whatever its trip: set lower, it would still not protect 17 A."""
    folds = output("PS1", "p", "m", limit_a=24.0, trip_a=27.0, behaviour=Behaviour.FOLDBACK)
    copper = [wire(f"W{k}", a, b, mm2=2.5, length_m=1.0, rated=17.0) for k, a, b in ((1, "p", "l"), (2, "n", "m"))]
    settings = replace(AT_20_C, design=DesignSettings(settable=("PS1",)))
    found = settings_of(harness(folds, *copper, load("L1", "l", "n", 9.0)), settings)["PS1"]
    assert not found.changed and "its limit of 24 A" in found.reason and "W1 is allowed 17 A" in found.reason
    # One that opens is brought down to the 17 A.
    opens = replace(folds, behaviour=Behaviour.LATCH_OFF)
    lowered = settings_of(harness(opens, *copper, load("L1", "l", "n", 9.0)), settings)["PS1"]
    assert lowered.proposed_a is not None and 9.0 <= lowered.proposed_a <= 17.0


def test_a_channel_that_is_off_is_turned_on_clear_of_its_edge() -> None:
    """0.2 A / 0.9 = 0.222 A at least, 6 A / 1.1 = 5.45 A at most, by hand: 0.5 A, not 0.222 A, which may trip."""
    drawn = facts(one_way(limiter("CH1", "p", "a", None, active=False), 6.0, 0.2))
    assert off_slots(drawn) == (("CH1", None),)
    on = turned_on(drawn, off_slots(drawn))
    device = on.by_id["CH1"]
    assert isinstance(device, Device) and device.active and device.trip_a == Band(0.5, 0.45, 0.55)
    assert to_blame(drawn, facts(on), off_slots(drawn)) == (("CH1", None),)
    (setting,) = find_settings(facts(on), NONE, off=off_slots(drawn))
    assert (setting.drawn_a, setting.proposed_a) == (None, 0.5)
    assert (setting.low_a, setting.high_a) == pytest.approx((0.2 / 0.9, 6.0 / 1.1))


def three_channels(**rated: float) -> Harness:
    parts = [output("PS1", "p", "m", 12.0, limit_a=60.0, trip_a=90.0)]
    for k, (amperes, joint) in enumerate(((4.0, "a"), (9.0, "b"), (2.0, "c")), 1):
        parts += [
            limiter(f"CH{k}", "p", joint, Band(40.0, 36.0, 44.0)),
            wire(f"W{k}", joint, f"l{k}", mm2=1.5, length_m=1.0, rated=rated.get(f"W{k}", 15.0)),
            wire(f"R{k}", f"n{k}", "m", mm2=1.5, length_m=1.0, rated=15.0),
            load(f"L{k}", f"l{k}", f"n{k}", amperes),
        ]
    return harness(*parts)


def test_trip_plan_protects_and_rides_through() -> None:
    """Set as planned, nothing behind the channels is unprotected and none trips; as drawn all three fail."""
    drawn = three_channels()

    def findings(there: Harness) -> set[tuple[str, str]]:
        known = facts(there)
        rules = ("path-unprotected", "limiter-would-trip", "no-setting-range")
        return {(r, f.subject.id) for r in rules for f in (all_rules()[r].check or list)(known)}

    plan = {s.id: s for s in trip_plan(facts(drawn)) if s.kind == "limiter"}
    assert all(s.high_a == pytest.approx(15.0 / 1.1) for s in plan.values())
    assert plan["CH2"].low_a == pytest.approx(10.0)
    assert {name for _, name in findings(drawn)} == {f"{x}{k}" for x in "WR" for k in (1, 2, 3)}
    assert findings(with_settings(drawn, {s.slot: s.proposed_a for s in plan.values() if s.proposed_a})) == set()


def test_trip_plan_names_the_wire_that_prevents_it() -> None:
    """9 A through ±10 % needs 10 A nominal; W2 of 8 A allows 7.27 A: it would have to be allowed 11 A."""
    plan = {s.id: s for s in trip_plan(facts(three_channels(W2=8.0)))}
    assert plan["CH2"].proposed_a is None and plan["CH2"].high_by == "W2"
    assert "11 A" in plan["CH2"].reason
    assert plan["CH1"].proposed_a is not None


def test_trip_plan_is_tried_before_it_is_named() -> None:
    """15.5 A ask an output of ±5 % for 16.3 A; set to 17 A it holds 17.85 A, and a pinch at the near end of one of
    two wires side by side, behind a channel that holds 20 A, puts nearly all of that on the 17 A of the one. No
    setting range of what each device guards shows it.
    """
    parts = [
        output("PS1", "p", "m", limit_a=15.0, trip_a=Band(16.0, 15.2, 16.8)),
        limiter("CH1", "p", "a", Band(18.0, 16.0, 20.0)),
        *(wire(f"W{k}", "a", "lp", mm2=2.5, length_m=10.0, rated=17.0) for k in (1, 2)),
        wire("W3", "lm", "m", mm2=2.5, length_m=1.0, rated=30.0),
        load("L1", "lp", "lm", 15.5),
    ]
    drawn = harness(*parts)
    settings = replace(AT_20_C, single_open_circuit=False)
    (row,) = (s for s in advise(drawn, settings, **AS_OF).advice.trip_plan if s.id == "PS1")
    assert row.proposed_a is None and "17 A would" in row.reason and "W1" in row.reason
    assert "not named in settable" in row.reason
    # With one wire of 34 A in their place there is no such pinch.
    one = harness(*parts[:2], wire("W1", "a", "lp", mm2=5.0, length_m=10.0, rated=34.0), *parts[4:])
    (row,) = (s for s in advise(one, settings, **AS_OF).advice.trip_plan if s.id == "PS1")
    assert row.proposed_a == 17.0


def test_ways_of_contacts_by_hand() -> None:
    """600 W at 12 V on contacts of 9.2 A: 50 / 9.2 asks for 6; with one open 50 / 9.2 + 1 for 7."""
    kind = ContactType("small", rated_a=((20, 9.2),), resistance_ohm=Band(2e-3, 2e-3, 2e-3))
    parts = [output("PS1", "p", "m", 12.0, limit_a=60.0, trip_a=70.0)]
    for k in range(1, 7):
        parts.append(contact(f"X1.{k}", "p", f"c{k}", rated=None, contact_type="small", resistance_ohm=None))
        parts.append(wire(f"W{k}", f"c{k}", "lp", mm2=2.5, length_m=1.0, rated=20.0))
    parts.append(load("L1", "lp", "m", 50.0))
    settings = replace(AT_20_C, contact_types={"small": kind})
    (found,) = find_paths(facts(harness(*parts), settings))
    assert (found.drawn, found.total_a) == (6, pytest.approx(50.0))
    assert (found.for_load, found.uneven, found.one_open, found.needed) == (6, 6, 7, 7)


def test_uneven_contacts_ask_for_more_ways() -> None:
    """Bare contacts of 1 mΩ new and 3 mΩ aged, 20 A, 9 A each: the new one takes 3/(n+2) of it, so n = 5."""
    kind = ContactType("bare", rated_a=((20, 9.0),), resistance_ohm=Band(2e-3, 1e-3, 3e-3))
    parts = [output("PS1", "p", "m", 12.0, limit_a=60.0, trip_a=70.0)]
    parts += [
        contact(f"X1.{k}", "p", "lp", rated=None, contact_type="bare", resistance_ohm=None) for k in range(1, 4)
    ]
    parts.append(load("L1", "lp", "m", 20.0))
    (found,) = find_paths(facts(harness(*parts), replace(AT_20_C, contact_types={"bare": kind})))
    assert (found.for_load, found.uneven, found.one_open) == (3, 5, 4)
    assert found.needed == 5


def test_settings_and_trip_plan_say_one_number_and_the_drawn_value() -> None:
    """The plan is made for the harness as proposed, whose settings are no longer those of the drawing."""
    drawn = three_channels()
    nominal_a = {part.id: part.trip_a.nominal for part in drawn.devices if part.trip_a is not None}
    advice = advise(drawn, AnalysisSettings(), tool_version="0", date="2026-03-01", settings_echo={}).advice
    proposed = {s.slot: s for s in advice.devices}
    shared = [s for s in advice.trip_plan if s.slot in proposed]
    assert shared and any(proposed[s.slot].changed for s in shared)
    for planned in shared:
        assert planned.drawn_a == nominal_a[planned.id]
        assert planned.proposed_a == proposed[planned.slot].proposed_a
        assert planned.changed == proposed[planned.slot].changed


LESS_WITH_MORE = ((1, 16.0), (2, 13.0), (4, 11.0), (6, 9.0), (12, 7.0), (24, 6.0))
"""A made-up family: A by the number of loaded positions."""


def least_ways(current: Callable[[int], float], positions: Callable[[int], int]) -> int | None:
    """The least number of ways that carry it: by positions, the next point with more of them counts."""
    for n in range(1, 65):
        allowed = next((a for most, a in LESS_WITH_MORE if most >= positions(n)), None)
        if allowed is not None and current(n) <= allowed:
            return n
    return None


@pytest.mark.parametrize("seed", range(6))
def test_ways_of_contact_wire_contact_at_random(seed: int) -> None:
    """Ways of two contacts and a wire: least way all new, greatest all aged; I/n, I/(n-1) and the uneven one."""
    rng = random.Random(seed)
    count, load_a, spare = rng.randint(2, 4), round(rng.uniform(10.0, 24.0), 1), rng.randint(0, 2)
    bands = {
        f"X{end}.{k}": Band(2e-3, rng.uniform(1e-3, 2e-3), rng.uniform(3e-3, 8e-3))
        for end in "12"
        for k in range(1, count + 1)
    }
    wires = {k: rng.uniform(2e-3, 9e-3) for k in range(1, count + 1)}
    parts = [output("PS1", "p", "m", 24.0, limit_a=60.0, trip_a=70.0, resistance_ohm=0.01)]
    for k, ohm in wires.items():
        parts += [
            contact(f"X1.{k}", "p", f"a{k}", contact_type="many", resistance_ohm=bands[f"X1.{k}"]),
            wire(f"W{k}", f"a{k}", f"b{k}", ohm=ohm, length_m=1.0, rated=20.0),
            contact(f"X2.{k}", f"b{k}", "l", contact_type="many", resistance_ohm=bands[f"X2.{k}"]),
        ]
    # Contacts of the first connector that something else loads.
    for k in range(count + 1, count + 1 + spare):
        parts += [
            contact(f"X1.{k}", "p", f"s{k}", contact_type="many", resistance_ohm=Band.exact(1e-3)),
            load(f"S{k}", f"s{k}", "m", 1.0),
        ]
    drawn = harness(*parts, load("L1", "l", "m", load_a))
    kind = ContactType("many", rated_a=LESS_WITH_MORE)
    found = {p.contacts: p for p in find_paths(facts(drawn, replace(AT_20_C, contact_types={"many": kind})))}
    ways = [
        (
            wires[k] + sum(bands[f"X{e}.{k}"].lower for e in "12"),
            wires[k] + sum(bands[f"X{e}.{k}"].upper for e in "12"),
        )
        for k in wires
    ]
    new, aged = min(low for low, _ in ways), max(high for _, high in ways)
    for end, beside in (("1", spare), ("2", 0)):
        paths = found[tuple(f"X{end}.{k}" for k in wires)]
        # Each way counts with its own worst corner: no less than what runs through all of them, by a few percent.
        total_a = paths.total_a
        assert load_a * (1.0 - 1e-9) <= total_a <= 1.2 * load_a
        wanted = [
            least_ways(current, lambda n, beside=beside: n + beside)
            for current in (
                lambda n, total_a=total_a: total_a / n,
                lambda n, total_a=total_a: total_a / (1.0 + (n - 1) * new / aged),
                lambda n, total_a=total_a: total_a / (n - 1) if n > 1 else math.inf,
            )
        ]
        assert [paths.for_load, paths.uneven, paths.one_open] == wanted
        assert paths.needed == (None if None in wanted else max(wanted))
        assert paths.drawn == count
    singles = [p for names, p in found.items() if len(names) == 1]
    assert [p.total_a for p in singles] == pytest.approx([1.0] * spare)
    assert all((p.for_load, p.uneven, p.one_open) == (1, 1, 1) for p in singles)


def test_the_weakest_contact_of_a_set_counts() -> None:
    """5 A of the one and 8 A of the other: 12 A ask for three ways of 5 A. One without a rating: not determined."""
    parts = [
        output("PS1", "p", "m", 12.0, limit_a=60.0, trip_a=70.0),
        contact("X1.1", "p", "l", 2e-3, rated=8.0),
        contact("X1.2", "p", "l", 2e-3, rated=5.0),
        load("L1", "l", "m", 12.0),
    ]
    (found,) = find_paths(facts(harness(*parts)))
    assert (found.allowed_a, found.for_load, found.one_open) == (5.0, 3, 4)
    (found,) = find_paths(facts(harness(*parts, contact("X1.3", "p", "l", 2e-3))))
    assert (found.allowed_a, found.needed, found.drawn) == (None, None, 3) and "not determined" in found.note


def test_a_channel_that_is_off_is_turned_on_above_its_greatest_current() -> None:
    """0.2 A as drawn, 1 A while slewing: 1 A / 0.9 = 1.11 A at least, and the next clear of it is 2 A."""
    drawn = one_way(limiter("CH1", "p", "a", None, active=False), 6.0, 0.2)
    slewing = replace(drawn, loads=tuple(replace(each, by_word={"slew": {"demand": 1.0}}) for each in drawn.loads))
    found = facts(slewing)
    assert len(found.cases) > 1
    device = turned_on(found, off_slots(found)).by_id["CH1"]
    assert isinstance(device, Device) and device.trip_a == Band(2.0, 1.8, 2.2)
