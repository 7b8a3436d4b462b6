"""What the pages of further rules give as passing and failing, drawn and analysed; the numbers by hand.

The pages are the rules' docstrings. Conductors are at 20 °C; where a resistance matters it is stated. A number at
the limit itself passes.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
import wired as by_hand
from page_examples import OUTPUT, Drawn, approx, values
from test_variants import AT_20_C, found

from loadloom.graph.model.elements import Tolerance
from loadloom.graph.model.findings import Severity, Verdict
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import Ambient, ContactType

LIMITER = {"Delay": "1 ms", "Behaviour": "latch-off", "Resistance": "0 Ω"}


def one_way(rating: str, trip: str, amperes: float, **wire: str) -> Results:
    """An output of 100 A, a limiter, a wire out and one back that is allowed 150 A, a load."""
    draw = Drawn()
    draw("CH1", "limiter", "p q", fields={**LIMITER, "Trip": trip})
    draw.wire("W1", "q a", rating, **wire)
    draw.wire("W9", "r m")
    draw.load("L1", "a r", f"{amperes:g} A")
    return draw.results()


# ---- too much current ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("amperes", "over"), [(9.0, False), (10.0, False), (11.0, True)])
def test_wire_overload(amperes: float, over: bool) -> None:
    results = one_way("10 A", "20 A", amperes)
    assert values(results, "wire-overload") == ({"W1": approx(amperes, 10.0)} if over else {})


@pytest.mark.parametrize(("rating", "told"), [("11 A", {}), ("10 A", {}), ("9.2 A", {"J0.1": approx(10.0, 9.2)})])
def test_open_circuit_overload(rating: str, told: dict[str, object]) -> None:
    """50 A over six contacts; one open leaves 10 A on each of five. All are alike: each may be the worst."""
    draw = Drawn()
    for k in range(6):
        draw.contact(f"J{k}", "p q", rating)
    draw.wire("W9", "r m")
    draw.load("L1", "q r", "50 A")
    over = values(draw.results(), "open-circuit-overload")
    assert over == {f"J{k}.1": value for k in range(6) for value in told.values()}


def test_open_circuit_of_what_is_over_anyway_is_not_told_again() -> None:
    """8.33 A on each of six contacts of 8 A is ``contact-overload``."""
    draw = Drawn()
    for k in range(6):
        draw.contact(f"J{k}", "p q", "8 A")
    draw.wire("W9", "r m")
    draw.load("L1", "q r", "50 A")
    results = draw.results()
    assert found(results, "open-circuit-overload") == {}
    assert len(found(results, "contact-overload")) == 6


@pytest.mark.parametrize(("trip", "limit", "told"), [("20 A", "20 A", False), ("125 A", "10 A", True)])
def test_path_unprotected(trip: str, limit: str, told: bool) -> None:
    results = one_way(limit, trip, 3.0)
    held = min(float(trip.removesuffix(" A")), 120.0)
    expected = {"W1": approx(held, float(limit.removesuffix(" A")))} if told else {}
    assert {k: v for k, v in values(results, "path-unprotected").items() if k == "W1"} == expected


@pytest.mark.parametrize(("rating", "told"), [("6.75 A", False), ("6.7 A", True), ("9.2 A", False)])
def test_contact_unprotected(rating: str, told: bool) -> None:
    """UL 248-14: a fuse of 5 A is certain to open above 1.35 times it. A contact has no overload band."""
    draw = Drawn()
    draw("F1", "fuse", "p q", fields={"Rating": "5 A", "Curve": "UL 248-14", "Resistance": "1 mΩ"})
    draw.contact("J0", "q a", rating)
    draw.wire("W9", "r m")
    draw.load("L1", "a r", "3 A")
    expected = {"J0.1": approx(6.75, 6.7)} if told else {}
    assert values(draw.results(), "contact-unprotected") == expected


@pytest.mark.parametrize("kind", ["switch", "splice"])
@pytest.mark.parametrize(("rating", "told"), [(10.0, False), (8.0, False), (3.0, True)])
def test_switch_and_splice_unprotected(kind: str, rating: float, told: bool) -> None:
    """A load of 2 A behind a limiter of 8 A."""
    draw = Drawn()
    draw("CH1", "limiter", "p q", fields={**LIMITER, "Trip": "8 A"})
    stated = {"Rating": f"{rating:g} A"}
    if kind == "switch":
        draw("X1", "switch", "q a", fields={**stated, "Resistance": "2 mΩ"})
    else:
        draw.wire("W0", "q a")
        draw("X1", "splice", "a", pins="1", fields=stated)
    draw.wire("W1", "a b")
    draw.wire("W9", "r m")
    draw.load("L1", "b r", "2 A")
    assert values(draw.results(), f"{kind}-unprotected") == ({"X1": approx(8.0, 3.0)} if told else {})


@pytest.mark.parametrize(("rating", "told"), [("90 A", False), ("87 A", False), ("40 A", True)])
def test_combined_overload(rating: str, told: bool) -> None:
    """Six paths that each hold 14.5 A, on one return: 87 A together, and one alone is within its 40 A."""
    draw = Drawn(Limit="200 A", Trip="200 A")
    for k in range(6):
        draw(f"CH{k}", "limiter", f"p q{k}", fields={**LIMITER, "Trip": "14.5 A"})
        draw.wire(f"W{k}", f"q{k} a{k}")
        draw.load(f"L{k}", f"a{k} r", "2 A")
    draw.wire("W9", "r m", rating)
    expected = {"W9": approx(87.0, 40.0)} if told else {}
    assert values(draw.results(), "combined-overload") == expected


@pytest.mark.parametrize(
    ("rating", "fuse_a", "told"),
    [
        (15.0, 10.0, None),
        (10.0, 10.0, "overload-band"),
        (20.0, 20.0, "overload-band"),
        (9.0, 10.0, "path-unprotected"),
    ],
)
def test_overload_band(rating: float, fuse_a: float, told: str | None) -> None:
    """IEC 60364-4-43 433.1: In <= Iz and I2 = 1.35 In <= 1.45 Iz (values from memory); else it is unprotected."""
    draw = Drawn()
    draw("F1", "fuse", "p q", fields={"Rating": f"{fuse_a:g} A", "Curve": "UL 248-14", "Resistance": "1 mΩ"})
    draw("W1", "wire", "q a", "16 mm²", fields={"Length": "1 m", "Rating": f"{rating:g} A"})
    draw.wire("W9", "r m")
    draw.load("L1", "a r", "3 A")
    results = draw.results()
    for rule in ("overload-band", "path-unprotected"):
        expected = {"W1": approx(1.35 * fuse_a, rating)} if rule == told else {}
        assert values(results, rule) == expected


@pytest.mark.parametrize(("holds_a", "power_w"), [(15.0, None), (20.0, None), (20.1, 241.2), (125.0, 1500.0)])
def test_power_available_to_fault(holds_a: float, power_w: float | None) -> None:
    """12 V times what the output holds, on its terminals, where it has no resistance: 240 W at 20 A."""
    draw = Drawn("12 V", Limit="1 A", Trip=f"{holds_a:g} A", Resistance="0 Ω")
    draw.wire("W1", "p a", Resistance="1 µΩ")
    draw.wire("W9", "r m", Resistance="1 µΩ")
    draw.load("L1", "a r", "1 A")
    told = list(found(draw.results(), "power-available-to-fault").values())
    assert [each.value for each in told] == ([] if power_w is None else [pytest.approx(power_w, rel=1e-3)])


# ---- short circuits ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("length_m", "held_a"), [(1.5, None), (10.0, None), (15.0, 7.52884)])
def test_fault_never_cleared(length_m: float, held_a: float | None) -> None:
    """22 AWG has 0.32553 mm² by ASTM B258; out and back 15 m are 30 · 0.017241 / 0.32553 = 1.58887 Ω.

    With 5 mΩ inside the output 12 V drive 7.52884 A, which a limiter of 10 A never opens at, and heat the loop with
    90.1 W.
    """
    draw = Drawn("12 V", Resistance="5 mΩ")
    draw("CH1", "limiter", "p q", fields={**LIMITER, "Trip": "10 A"})
    for name, nets in (("W1", "q a"), ("W2", "r m")):
        draw(
            name,
            "wire",
            nets,
            "22 AWG",
            fields={"Length": f"{length_m:g} m", "Rating": "10 A", "Insulation": "PVC 70 °C"},
        )
    draw.load("L1", "a r", "2 A")
    told = [each for each in draw.results().findings if each.rule == "fault-never-cleared"]
    if held_a is None:
        assert told == []
    else:
        (short,) = told
        assert short.value == pytest.approx(held_a, rel=1e-5)
        assert "CH1 is certain to open only above 10 A" in short.message and "with 90.1 W" in short.message
        assert short.remedy.startswith("Set or choose CH1 lower")


@pytest.mark.parametrize(("wire_a", "told"), [(40.0, False), (30.0, False), (25.0, True)])
def test_a_limit_that_holds_its_current_is_no_fault_where_all_may_carry_it(wire_a: float, told: bool) -> None:
    """An output that holds 30 A for as long as the short circuit lasts."""
    draw = Drawn(Behaviour="constant current", Limit="30 A", Trip="30 A")
    draw.wire("W1", "p a", f"{wire_a:g} A")
    draw.wire("W9", "r m", "50 A")
    draw.load("L1", "a r", "2 A")
    shorts = [each for each in draw.results().findings if each.rule == "fault-never-cleared"]
    assert bool(shorts) == told
    for short in shorts:
        assert short.value == pytest.approx(30.0)
        assert "PS1 limits the current to this and does not open" in short.message
        assert short.remedy.startswith("Put a device that is certain to open below 30 A on the path")


def test_no_device_on_the_path() -> None:
    """An output that nothing limits: 24 V over 10 + 1 + 1 mΩ is 2 kA for ever."""
    draw = Drawn(Limit="", Trip="none")
    draw.wire("W1", "p a")
    draw.wire("W9", "r m")
    draw.load("L1", "a r", "2 A")
    shorts = [each for each in draw.results().findings if each.rule == "fault-never-cleared"]
    assert [short.value for short in shorts] == [pytest.approx(2000.0)]
    assert "there is no device on the path" in shorts[0].message


@pytest.mark.parametrize(("delay", "told"), [("10 ms", False), ("5 s", False), ("20 s", True)])
def test_cleared_late_on_a_contact(delay: str, told: bool) -> None:
    """A contact of 15 A behind a limiter of 12 A: up to 200 A its slow step alone opens."""
    draw = Drawn(Limit="300 A", Trip="400 A")
    draw(
        "CH1",
        "limiter",
        "p q",
        fields={**LIMITER, "Trip": "12 A", "Delay": delay, "Fast trip": "200 A", "Fast delay": "1 ms"},
    )
    draw.contact("J0", "q a", "15 A")
    draw.wire("W9", "r m")
    draw.load("L1", "a r", "3 A")
    late = found(draw.results(), "cleared-late")
    assert [(each.value, each.limit) for each in late.values()] == ([approx(20.0, 5.0)] if told else [])
    assert all("13.3 times its allowed 15 A" in each.message for each in late.values())


@pytest.mark.parametrize(
    ("fast_trip", "delay", "stress"),
    [("200 A", "5 s", 200.0 / 20.0), ("30 A", "20 s", None), ("40 A", "20 s", 27.5 / 20.0)],
)
def test_damage_before_clearing_of_a_contact(fast_trip: str, delay: str, stress: float | None) -> None:
    """A contact of 20 kA²s and 15 A behind a limiter of 12 A: up to its fast step the current lasts for the delay.

    200² A² · 5 s are 200 kA²s; beyond 5 s what it sheds at 15 A is taken off: (40² - 15²) A² · 20 s are 27.5 kA²s,
    (30² - 15²) · 20 s 13.5 kA²s.
    """
    draw = Drawn(Limit="300 A", Trip="400 A")
    fields = {**LIMITER, "Trip": "12 A", "Delay": delay, "Fast trip": fast_trip, "Fast delay": "0.1 ms"}
    draw("CH1", "limiter", "p q", fields=fields)
    stated = {"Contact": "pin", "Contact rating": "15 A", "Contact resistance": "1 mΩ"}
    draw("J0", "through", "q a", pins="1A 1B", fields=stated)
    draw("J1", "through", "q b", pins="1A 1B")
    draw.wire("W9", "r m")
    draw.load("L1", "a r", "3 A")
    draw.load("L2", "b r", "1 A")
    pin = ContactType("pin", rated_a=((2, 15.0),), i2t_a2s=20e3)
    results = draw.results(replace(AT_20_C, contact_types={"pin": pin}))
    told = {name: f for name, f in found(results, "damage-before-clearing").items() if name == "J0.1"}
    assert [f.value for f in told.values()] == ([] if stress is None else [pytest.approx(stress)])
    assert "J1.1" in found(results, "rating-missing")


@pytest.mark.parametrize(
    ("gauge", "allowed", "told"),
    [("16 mm²", "50 A", None), ("", "50 A", "Gauge"), ("", "2.3 kA", "Gauge"), ("", "2.4 kA", None)],
)
def test_withstand_not_determined(gauge: str, allowed: str, told: str | None) -> None:
    """24 V over the 10 mΩ inside the output: 2.4 kA just behind it, for 100 ms, on what states no gauge."""
    draw = Drawn(Limit="30 A", Trip="40 A", Delay="100 ms")
    draw("W1", "wire", "p a", gauge, fields={"Rating": allowed, "Resistance": "14 mΩ", "Insulation": "PVC 70 °C"})
    draw.wire("W9", "r m", "3 kA")
    draw.load("L1", "a r", "2 A")
    found_here = found(draw.results(), "withstand-not-determined")
    assert {name: each.subject.field for name, each in found_here.items()} == ({} if told is None else {"W1": told})


@pytest.mark.parametrize(
    ("stands_s", "fuse_a", "told"), [(200.0, 10.0, False), (20.0, 10.0, True), (200.0, 40.0, True)]
)
def test_stall_not_cleared(stands_s: float, fuse_a: float, told: bool) -> None:
    """UL 248-14: 120 s at twice its rating is the last gate of 10 A; 40 A on one of 40 A opens nothing."""
    draw = Drawn()
    draw("F1", "fuse", "p q", fields={"Rating": f"{fuse_a:g} A", "Curve": "UL 248-14", "Resistance": "1 mΩ"})
    draw.wire("W1", "q a")
    draw.wire("W9", "r m")
    stall = {"Stalled current": "40 A", "Stated at": "24 V", "Stalled time": f"{stands_s:g} s"}
    draw.load("L1", "a r", "5 A", **stall)
    assert (list(found(draw.results(), "stall-not-cleared")) == ["L1"]) == told


# ---- devices -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("amperes", "share", "over"), [(7.5, 0.75, False), (8.0, 0.75, True), (8.0, None, False), (10.0, 0.75, True)]
)
def test_nuisance_opening(amperes: float, share: float | None, over: bool) -> None:
    """75 % of a fuse of 10 A; above its rating it is another finding."""
    draw = Drawn()
    draw("F1", "fuse", "p q", fields={"Rating": "10 A", "Curve": "UL 248-14", "Resistance": "1 mΩ"})
    draw.wire("W1", "q a")
    draw.wire("W9", "r m")
    draw.load("L1", "a r", f"{amperes:g} A")
    results = draw.results(replace(AT_20_C, fuse_loading=share))
    assert values(results, "nuisance-opening") == ({"F1": approx(amperes, 7.5)} if over else {})


@pytest.mark.parametrize(
    ("role", "fields", "told"),
    [
        ("breaker", {"Rating": "10 A", "Curve": "C"}, False),
        ("fuse", {"Rating": "10 A", "Curve": "blade"}, True),
        ("fuse", {"Rating": "10 A", "Curve": "IEC 60127-2 F"}, False),
        ("fuse", {"Rating": "30 A", "Curve": "IEC 60127-2 F"}, True),
    ],
)
def test_curve_unknown(role: str, fields: dict[str, str], told: bool) -> None:
    draw = Drawn()
    draw("F1", role, "p q", fields={**fields, "Resistance": "1 mΩ"})
    draw.wire("W1", "q a")
    draw.wire("W9", "r m")
    draw.load("L1", "a r", "3 A")
    assert (list(found(draw.results(), "curve-unknown")) == ["F1"]) == told


@pytest.mark.parametrize(
    ("stated", "words"),
    [(("Voltage rating", "Breaking capacity"), ()), ((), ("voltage rating", "breaking capacity"))],
)
def test_device_not_checked(stated: tuple[str, ...], words: tuple[str, ...]) -> None:
    """24 V over 0.8 Ω draw 30 A, which any fuse can break: it is noted, and no reason for incomplete."""
    draw = Drawn(Resistance="0.8 Ω", Trip="30 A", Limit="25 A")
    more = {"Voltage rating": "58 V", "Breaking capacity": "1 kA"}
    fields = {"Rating": "10 A", "Curve": "UL 248-14", **{name: more[name] for name in stated}}
    draw("F1", "fuse", "p q", fields=fields)
    draw.wire("W1", "q a")
    draw.wire("W9", "r m")
    draw.load("L1", "a r", "3 A")
    told = found(draw.results(), "device-not-checked")
    assert list(told) == (["F1"] if words else [])
    assert all(word in each.message for each in told.values() for word in words)


@pytest.mark.parametrize(("breaks", "breaks_more"), [("20 A", False), ("12 A", False), ("11 A", True)])
def test_contactor_breaking(breaks: str, breaks_more: bool) -> None:
    draw = Drawn()
    draw(
        "K1",
        "contactor",
        "p q",
        pins="1 2",
        fields={"Rating": "40 A", "Breaking capacity": breaks, "Resistance": "1 mΩ"},
    )
    draw.wire("W1", "q a")
    draw.wire("W9", "r m")
    draw.load("L1", "a r", "12 A")
    assert values(draw.results(), "contactor-breaking") == ({"K1": approx(12.0, 11.0)} if breaks_more else {})


@pytest.mark.parametrize(("stalls", "told"), [("15 A", False), ("60 A", True)])
def test_contactor_breaking_a_motor_that_stalls(stalls: str, told: bool) -> None:
    """24 V over 0.4 Ω of a motor that draws 60 A at 24 V, and 12 mΩ of the rest: 58.25 A at most."""
    draw = Drawn()
    draw(
        "K1",
        "contactor",
        "p q",
        pins="1 2",
        fields={"Rating": "70 A", "Breaking capacity": "20 A", "Resistance": "0 Ω"},
    )
    draw.wire("W1", "q a")
    draw.wire("W9", "r m")
    draw.load("L1", "a r", "5 A", **{"Stalled current": stalls, "Stated at": "24 V", "Stalled time": "60 s"})
    expected = {"K1": approx(24.0 / (24.0 / 60.0 + 0.012), 20.0)} if told else {}
    assert values(draw.results(), "contactor-breaking") == expected


@pytest.mark.parametrize(("left_out", "told"), [(True, False), (False, True)])
def test_voltage_rating_behind_an_output_that_is_not_fitted(left_out: bool, told: bool) -> None:
    """Two outputs of 24 V in series put 48 V across a fuse of 32 V, where both are there."""
    draw = Drawn("24 V")
    draw("PS2", "output", "m n", "24 V", fields={**OUTPUT, "Limit": "9 A", "Trip": "10 A"})
    if left_out:
        draw.symbols[-1] = replace(draw.symbols[-1], dnp=True)
    draw("F1", "fuse", "p q", fields={"Rating": "10 A", "Curve": "UL 248-14", "Voltage rating": "32 V"})
    draw.wire("W1", "q a", "30 A")
    draw.load("L1", "a m", "3 A")
    draw.load("L2", "a n", "1 A")
    assert values(draw.results(), "voltage-rating") == ({"F1": approx(48.0, 32.0)} if told else {})


# ---- outputs that meet ---------------------------------------------------------------------------------------


def two_outputs(*, diodes: bool = False, meet: bool = True, second: str = "24 V", ohm: str = "1 mΩ") -> Results:
    """Two outputs on one load, each of 100 A, their leads allowed 150 A; or each on a load of its own."""
    draw = Drawn()
    draw("PS2", "output", "s m", second, fields={**OUTPUT, "Limit": "100 A", "Trip": "120 A"})
    for k, start in enumerate("ps", start=1):
        end = "b" if meet else f"b{k}"
        if diodes:
            draw(
                f"D{k}",
                "diode",
                f"{start} {start}d",
                pins="1:A 2:K",
                fields={"Forward drop": "0.5 V", "Rating": "200 A", "Resistance": "1 mΩ"},
            )
            start += "d"
        draw.wire(f"W{k}", f"{start} {end}", Resistance=ohm)
        if not meet:
            draw.load(f"L{k}", f"{end} m", "4 A")
    if meet:
        draw.load("L1", "b m", "4 A")
    return draw.results()


def test_outputs_joined() -> None:
    assert found(two_outputs(meet=False), "outputs-joined") == {}
    assert found(two_outputs(), "outputs-joined") != {}


def test_back_feed() -> None:
    """120 A of the other output flow backwards through the lead, allowed 150 A; none past a diode."""
    assert found(two_outputs(diodes=True), "back-feed") == {}
    assert found(two_outputs(meet=False), "back-feed") == {}
    told = found(two_outputs(), "back-feed")
    assert {name: (each.value, each.limit) for name, each in told.items()} == {
        name: approx(120.0, 150.0) for name in ("PS1", "PS2")
    }
    assert all(
        each.severity is Severity.WARNING and "within its allowed 150 A" in each.message for each in told.values()
    )


def test_outputs_conflict() -> None:
    assert found(two_outputs(second="24.1 V"), "outputs-conflict") == {}
    for second, told in (("12 V", True), ("24 V", False)):
        draw = Drawn(Resistance="0 Ω")
        draw("PS2", "output", "p m", second, fields={**OUTPUT, "Resistance": "0 Ω", "Limit": "9 A", "Trip": "10 A"})
        draw.wire("W1", "p a")
        draw.load("L1", "a m", "4 A")
        assert bool(found(draw.results(), "outputs-conflict")) == told


def test_return_missing() -> None:
    for back, told in (("m", False), ("air", True), ("n", True)):
        draw = Drawn()
        draw("PS2", "output", "s n", "12 V", fields={**OUTPUT, "Limit": "9 A", "Trip": "10 A"})
        draw.wire("W1", "p a")
        draw.wire("W2", f"r {back}")
        draw.load("L1", "a r", "4 A")
        assert (list(found(draw.results(), "return-missing")) == ["L1"]) == told


def test_chassis_carries_load() -> None:
    """A return of 3 mΩ and one of 1 mΩ beside the chassis, which is a joint of 0 Ω: all 20 A take the chassis."""
    for bonds, told in (("m", {}), ("m r", {"G1": approx(20.0), "G2": approx(20.0)})):
        draw = Drawn()
        draw.wire("W1", "p a")
        draw.wire("W2", "r m", Resistance="3 mΩ")
        draw.load("L1", "a r", "20 A")
        for k, net in enumerate(bonds.split(), start=1):
            draw(f"G{k}", "chassis", net, pins="1")
        assert values(draw.results(), "chassis-carries-load") == told


@pytest.mark.parametrize(("bond", "word"), [("m", None), ("x", "bonded to no return"), ("p", "plus side of PS1")])
def test_chassis_floating(bond: str, word: str | None) -> None:
    draw = Drawn()
    draw.wire("W1", "p a")
    draw.wire("W2", "r m")
    draw.load("L1", "a r", "2 A")
    draw("G1", "chassis", bond, pins="1")
    told = found(draw.results(), "chassis-floating")
    assert list(told) == ([] if word is None else ["G1"])
    assert all(word in each.message for each in told.values() if word)
    assert all((word == "plus side of PS1") == each.remedy.startswith("Nothing") for each in told.values())


# ---- what is not known ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("insulation", "told"),
    [
        *((text, False) for text in ("PVC 450/750 V 70 °C", "XLPE 90", "221 °F", "style 1007")),
        *((text, True) for text in ("PVC 150 °C", "PVC 70 °C 105 °C", "105", "PE", "short circuit 250 °C", "")),
    ],
)
def test_insulation_unknown(insulation: str, told: bool) -> None:
    draw = Drawn()
    draw("W1", "wire", "p a", "16 mm²", fields={"Length": "1 m", "Insulation": insulation})
    draw.wire("W9", "r m")
    draw.load("L1", "a r", "2 A")
    results = draw.results()
    assert (list(found(results, "insulation-unknown")) == ["W1"]) == told
    assert not told or results.verdict is not Verdict.PASS


@pytest.mark.parametrize(
    ("material", "told"),
    [(m, False) for m in ("", "copper", "tinned copper")]
    + [(m, True) for m in ("aluminium", "Al", "CCA", "copper-clad aluminium", "bronze")],
)
def test_material_not_rated(material: str, told: bool) -> None:
    results = one_way("30 A", "20 A", 3.0, Material=material)
    assert (list(found(results, "material-not-rated")) == ["W1"]) == told


@pytest.mark.parametrize(("trip", "told"), [("8 A", False), ("", True)])
def test_protection_not_determined(trip: str, told: bool) -> None:
    """That an output of 5 A shuts down at 7.5 A is assumed, where it states no trip."""
    draw = Drawn(Limit="5 A", Trip=trip)
    draw("X1", "switch", "p a", fields={"Rating": "10 A", "Resistance": "2 mΩ"})
    draw.wire("W9", "r m")
    draw.load("L1", "a r", "2 A")
    assert (list(found(draw.results(), "protection-not-determined")) == ["X1"]) == told


RATED = {
    ("fuse", "p q"): ("Rating", "10 A"),
    ("breaker", "p q"): ("Rating", "10 A"),
    ("switch", "p q"): ("Rating", "10 A"),
    ("limiter", "p q"): ("Trip", "12 A"),
    ("resettable", "p q"): ("Hold", "5 A"),
}


@pytest.mark.parametrize("part", RATED)
def test_rating_missing(part: tuple[str, str]) -> None:
    role, nets = part
    name, value = RATED[part]
    for stated in (value, ""):
        draw = Drawn()
        fields = {"fuse": {"Curve": "UL 248-14"}, "resettable": {"Trip": "10 A"}}.get(role, {})
        draw("X1", role, nets, fields={**fields, name: stated, "Resistance": "1 mΩ"})
        draw.wire("W1", "q a")
        draw.wire("W9", "r m")
        draw.load("L1", "a r", "2 A")
        results = draw.results()
        assert (list(found(results, "rating-missing")) == ["X1"]) == (not stated)
        assert stated or results.verdict is not Verdict.PASS


def test_rating_missing_of_an_output_and_of_a_contact() -> None:
    for stated in ("100 A", ""):
        draw = Drawn(Limit=stated)
        draw.contact("J0", "p a", stated)
        draw.wire("W9", "r m")
        draw.load("L1", "a r", "2 A")
        told = [f.subject.id for f in draw.results().findings if f.rule == "rating-missing"]
        assert sorted(told) == ([] if stated else ["J0.1", "PS1"])


def test_nothing_judged() -> None:
    draw = Drawn()
    draw.load("L1", "p m", "2 A")
    assert list(found(draw.results(), "nothing-judged")) == ["harness"]
    draw.wire("W1", "x y")
    draw.wire("W2", "y x")
    assert list(found(draw.results(), "nothing-judged")) == ["harness"]
    draw.wire("W3", "p a")
    draw.load("L2", "a m", "2 A")
    told = found(draw.results(), "nothing-judged")
    assert [each.message.partition(", so")[0] for each in told.values()] == ["No output reaches W1 and W2"]


# ---- contacts and wires --------------------------------------------------------------------------------------

FAMILY = ContactType("pin", rated_a=((2, 25.0),), wire_area_mm2=(0.5, 1.5))


def crimped(*gauges: str, fuse: bool = False, kind: str = "pin") -> Results:
    """Wires of some sizes in one contact, with or without a fuse on the same joint; each to a load of its own."""
    draw = Drawn()
    draw("J1", "through", "p q", pins="1A 1B", fields={"Contact": kind, "Contact resistance": "1 mΩ"})
    if fuse:
        draw("F1", "fuse", "q x", fields={"Rating": "10 A", "Curve": "UL 248-14"})
        draw.load("L9", "x m", "1 A")
    for k, gauge in enumerate(gauges):
        fields = {"Length": "1 m", "Rating": "10 A", "Resistance": "1 mΩ"}
        draw(f"W{k}", "wire", f"q a{k}", gauge, fields=fields)
        draw.load(f"L{k}", f"a{k} m", "1 A")
    types = {"pin": FAMILY, "plain": replace(FAMILY, name="plain", wire_area_mm2=None)}
    return draw.results(replace(AT_20_C, contact_types=types))


@pytest.mark.parametrize(
    ("gauges", "told"),
    [
        (("20 AWG",), {}),
        (("0.5 mm²",), {}),
        (("1.5 mm²",), {}),
        (("0.75 mm²", "0.75 mm²"), {}),
        (("24 AWG",), {"W0": (0.205, 0.5)}),
        (("2.5 mm²",), {"W0": (2.5, 1.5)}),
        (("1.5 mm²",) * 3, {"J1.1": (4.5, 1.5)}),
        (("18 AWG", "1 mm²"), {"J1.1": (1.823, 1.5)}),
    ],
)
def test_crimp_range(gauges: tuple[str, ...], told: dict[str, tuple[float, float]]) -> None:
    """ASTM B258: 24 AWG is 0.2047 mm², 18 AWG 0.8231 mm²; sections of one crimp add up."""
    found_here = values(crimped(*gauges), "crimp-range")
    assert {name: (round(a or 0.0, 3), b) for name, (a, b) in found_here.items()} == told


@pytest.mark.parametrize(
    ("gauges", "fuse", "kind", "told"),
    [
        (("1 mm²",), False, "pin", False),
        (("",), False, "plain", False),
        (("",), False, "pin", True),
        (("1.5 mm²",) * 3, True, "pin", True),
        (("0.5 mm²",) * 3, True, "pin", False),
    ],
)
def test_crimp_not_determined(gauges: tuple[str, ...], fuse: bool, kind: str, told: bool) -> None:
    results = crimped(*gauges, fuse=fuse, kind=kind)
    assert bool(found(results, "crimp-not-determined")) == told
    assert found(results, "crimp-range") == {}


# ---- loads that last for a time ------------------------------------------------------------------------------


@pytest.mark.parametrize(("seconds", "told"), [(0.5, False), (30.0, True)])
def test_event_overload(seconds: float, told: bool) -> None:
    """1.5 mm² of 15 A takes 60 A for 0.5 s, not for 30 s: the copper alone is full after 3.3 s (IEC 60949)."""
    draw = Drawn()
    fields = {"Length": "1 m", "Rating": "15 A", "Insulation": "PVC 70 °C"}
    draw("W1", "wire", "p a", "1.5 mm²", fields=fields)
    draw.wire("W9", "r m")
    draw.load("L1", "a r", "1 A", **{"Load@kick": "60 A", "Duration@kick": f"{seconds:g} s"})
    results = draw.results(replace(AT_20_C, default_ambient=Ambient(0.0, 40.0)))
    assert (list(found(results, "event-overload")) == ["W1"]) == told


# ---- sense leads, heat ---------------------------------------------------------------------------------------


def sensed(ohm: str = "1 mΩ", **fields: str) -> Results:
    """10 A from 12 V through a lead of ``ohm`` out and one back; the sense leads end at the load."""
    draw = Drawn()
    stated = {**OUTPUT, "Limit": "20 A", "Trip": "25 A", "Resistance": "0 Ω", **fields}
    draw("PS2", "output", "s n sp sn", "12 V", pins="1:+ 2:- 3:S+ 4:S-", fields=stated)
    draw.wire("W1", "s a", Resistance=ohm)
    draw.wire("W2", "r n", Resistance=ohm)
    draw.wire("W3", "sp a")
    draw.wire("W4", "sn r")
    draw.load("L2", "a r", "10 A")
    return draw.results()


@pytest.mark.parametrize(("ohm", "over"), [("15 mΩ", False), ("25 mΩ", False), ("45 mΩ", True)])
def test_sense_drop(ohm: str, over: bool) -> None:
    """10 A through twice 15, 25 and 45 mΩ: 0.3, 0.5 and 0.9 V, against the 0.5 V that the unit adds."""
    drop = values(sensed(ohm, **{"Sense limit": "0.5 V"}), "sense-drop")
    assert drop == ({"PS2": approx(0.9, 0.5)} if over else {})


@pytest.mark.parametrize(("fields", "told"), [({}, True), ({"Sense limit": "0.5 V"}, False)])
def test_sense_not_determined(fields: dict[str, str], told: bool) -> None:
    assert (list(found(sensed(**fields), "sense-not-determined")) == ["PS2"]) == told


@pytest.mark.parametrize(("warm_c", "told"), [(55.0, False), (60.0, False), (65.0, True)])
def test_supply_not_determined(warm_c: float, told: bool) -> None:
    stated = {"Supply": "PSU", "Supply power": "500 W", "Power derating": "40 °C: 100 %; 60 °C: 60 %"}
    draw = Drawn("20 V", **stated)
    draw.wire("W1", "p a")
    draw.load("L1", "a m", "2 A")
    results = draw.results(replace(AT_20_C, default_ambient=Ambient(0.0, warm_c)))
    assert (list(found(results, "supply-not-determined")) == ["PSU"]) == told


@pytest.mark.parametrize(
    ("size", "breaker_a", "told"),
    [
        ("12 AWG", 20.0, False),
        ("12 AWG", 25.0, True),
        ("10 AWG", 30.0, False),
        ("14 AWG", 20.0, True),
        ("8 AWG", 50.0, False),
    ],
)
def test_small_conductor_device(size: str, breaker_a: float, told: bool) -> None:
    """NEC 240.4(D): 15 A for 14 AWG, 20 A for 12 AWG, 30 A for 10 AWG; it says nothing of 8 AWG."""
    draw = Drawn()
    draw("Q1", "breaker", "p q", fields={"Rating": f"{breaker_a:g} A", "Curve": "C", "Resistance": "1 mΩ"})
    draw("W1", "wire", "q a", size, fields={"Length": "1 m", "Insulation": "XLPE 90 °C"})
    draw.wire("W9", "r m")
    draw.load("L1", "a r", "3 A")
    results = draw.results(replace(AT_20_C, basis="building-nec"))
    limit = {"14 AWG": 15.0, "12 AWG": 20.0, "10 AWG": 30.0}.get(size, 0.0)
    assert [(f.value, f.limit) for f in found(results, "small-conductor-device").values()] == (
        [approx(breaker_a, limit)] if told else []
    )


# ---- diodes, batteries, converters, solar strings --------------------------------------------------------------


@pytest.mark.parametrize(
    ("amperes", "trip_a", "most_a", "words"),
    [
        (16.0, 20.0, 16.0, "carry 16 A together"),
        (6.0, 12.0, 12.0, "can be made to carry 12 A together"),
        (6.0, 9.0, None, ""),
    ],
)
def test_uneven_sharing_of_diodes_side_by_side(
    amperes: float, trip_a: float, most_a: float | None, words: str
) -> None:
    """Two diodes of 10 A each on the same joints: one has to stand all that the load or a fault brings."""
    draw = Drawn()
    draw("CH1", "limiter", "p q", fields={**LIMITER, "Trip": f"{trip_a:g} A"})
    for k in (1, 2):
        fields = {"Forward drop": "0.5 V", "Rating": "10 A", "Resistance": "4 mΩ"}
        draw(f"D{k}", "diode", "q a", pins="1:A 2:K", fields=fields)
    draw.wire("W9", "r m")
    draw.load("L1", "a r", f"{amperes:g} A")
    told = found(draw.results(), "uneven-sharing")
    assert {name: (each.value, each.limit) for name, each in told.items()} == (
        {} if most_a is None else {name: approx(most_a, 10.0) for name in ("D1", "D2")}
    )
    assert all(words in each.message and each.severity is Severity.ERROR for each in told.values())


@pytest.mark.parametrize(
    ("charger_a", "limit", "told"),
    [
        (8.0, "10 A", None),
        (10.0, "10 A", None),
        (15.0, "10 A", "battery-charge-overload"),
        (8.0, "", "battery-charge-unknown"),
        (None, "", None),
    ],
)
def test_battery_charge(charger_a: float | None, limit: str, told: str | None) -> None:
    """A charger that holds its current, above the voltage of an empty battery; the load takes nothing at night."""
    draw = Drawn(
        "28.8 V", Behaviour="constant-current", Limit=f"{charger_a or 1.0:g} A", Trip=f"{charger_a or 1.0:g} A"
    )
    battery = {
        "Voltage": "21…29 V",
        "Resistance": "8…20 mΩ",
        "Limit": "60 A",
        "Capacity": "40 Ah",
        "Charge limit": limit,
    }
    draw("BT1", "battery", "b m", pins="1:+ 2:-", fields={name: text for name, text in battery.items() if text})
    draw.wire("W1", "p b" if charger_a else "p x")
    draw.load("L1", "b m", "5 A", **{"Load@night": "0 A"})
    results = draw.results()
    for rule, limit_a in (("battery-charge-overload", 10.0), ("battery-charge-unknown", None)):
        assert values(results, rule) == ({"BT1": approx(charger_a or 0.0, limit_a)} if rule == told else {})


MADE = {
    **{"Voltage": "12 V", "Limit": "10 A", "Trip": "12 A", "Delay": "1 ms", "Behaviour": "latch-off"},
    **{"Tolerance": "0 %", "Resistance": "0 Ω", "Efficiency": "90 %", "No-load power": "0 W"},
    **{"Input minimum": "18 V", "Input maximum": "32 V"},
}


def made_from_24_v(
    ohm: str = "1 mΩ", *, isolated: bool = True, load: dict[str, str] | None = None, **fields: str
) -> Results:
    """60 W at 12 V made from 24 V through one wire of ``ohm``; the input's minus is the supply's own."""
    draw = Drawn(Resistance="0 Ω")
    draw.wire("W1", "p a", Resistance=ohm)
    minus = "n" if isolated else "m"
    draw("DC1", "converter", f"a m o {minus}", pins="1:IN+ 2:IN- 3:OUT+ 4:OUT-", fields={**MADE, **fields})
    draw.wire("W2", "o c")
    draw.load("L1", f"c {minus}", "5 A", **(load or {}))
    return draw.results()


@pytest.mark.parametrize(("ohm", "input_v"), [("0.2 Ω", None), ("2 Ω", 15.266)])
def test_converter_input_low(ohm: str, input_v: float | None) -> None:
    """60 W / 0.9 = 66.67 W at 12 + sqrt(144 - 66.67 · R) V: 23.43 V through 0.2 Ω, 15.27 V through 2 Ω."""
    told = values(made_from_24_v(ohm), "converter-input-low")
    assert told == ({} if input_v is None else {"DC1": (pytest.approx(input_v, abs=0.01), pytest.approx(18.0))})


@pytest.mark.parametrize(("limit", "told"), [("4 A", False), ("2.5 A", True)])
def test_converter_input_overload(limit: str, told: bool) -> None:
    """60 W / 0.9 at 24 V less what 1 mΩ drops: 2.778 A."""
    over = values(made_from_24_v(**{"Input limit": limit}), "converter-input-overload")
    assert over == ({"DC1": (pytest.approx(2.7781, abs=1e-4), pytest.approx(2.5))} if told else {})


@pytest.mark.parametrize(
    ("isolated", "most", "told"),
    [(True, "15 V", False), (False, "30 V", False), (False, "24 V", False), (False, "15 V", True)],
)
def test_converter_passes_through(isolated: bool, most: str, told: bool) -> None:
    results = made_from_24_v(isolated=isolated, load={"Maximum voltage": most})
    over = found(results, "converter-passes-through")
    assert [(each.value, each.limit) for each in over.values()] == ([approx(24.0, 15.0)] if told else [])


@pytest.mark.parametrize(("holds", "severity"), [("10 A", None), ("6 A", None), ("5.5 A", Severity.ERROR)])
def test_converter_starts_into_limit(holds: str, severity: Severity | None) -> None:
    """60 W at 10 V are 6 A: an output that holds 5.5 A gives 60 W at 12 V and 55 W at 10 V."""
    draw = Drawn("12 V", Resistance="0 Ω", Behaviour="constant-current", Limit=holds, Trip=holds)
    draw.wire("W1", "p a", Resistance="0 Ω")
    draw.load("L1", "a m", "60 W", **{"Minimum voltage": "10 V"})
    told = list(found(draw.results(), "converter-starts-into-limit").values())
    assert [each.severity for each in told] == ([] if severity is None else [severity])


@pytest.mark.parametrize(
    ("count", "reverse", "told"), [(2, "15 A", None), (3, "15 A", "current"), (2, "", "unknown"), (1, "", None)]
)
def test_solar_reverse_current(count: int, reverse: str, told: str | None) -> None:
    """Each other string drives 1.25 · 9 A; the module stands 1.35 · 15 A (figures of NEC and IEC from memory)."""
    draw = Drawn()
    module = {
        **{"Open-circuit voltage": "45 V", "Short-circuit current": "9 A", "Working voltage": "37 V"},
        **{"Working current": "8.4 A", "Reverse current": reverse},
    }
    for k in range(count):
        draw(
            f"PV{k}",
            "solar",
            f"v{k} n",
            pins="1:+ 2:-",
            fields={name: text for name, text in module.items() if text},
        )
        draw.wire(f"W{k}", f"v{k} c")
    draw.load("L1", "c n", "6 A")
    results = draw.results()
    back_a = 1.25 * 9.0 * (count - 1)
    strings = [f"PV{k}" for k in range(count)]
    assert values(results, "solar-reverse-current") == (
        dict.fromkeys(strings, approx(back_a, 1.35 * 15.0)) if told == "current" else {}
    )
    assert list(found(results, "solar-reverse-unknown")) == (strings if told == "unknown" else [])


@pytest.mark.parametrize(
    ("stated", "told"),
    [((0.02, 0.02), []), ((0.0, 0.0), []), ((0.02, None), ["PS2"]), ((None, None), ["PS1"])],
)
def test_joined_outputs_without_a_tolerance(stated: tuple[float | None, ...], told: list[str]) -> None:
    """Two outputs that share a load: a difference that nobody has stated decides how. Exactly 0 is a statement."""
    outputs = [
        by_hand.output(f"PS{n}", f"p{n}", "m", 24.0, limit_a=10.0, tolerance=None if t is None else Tolerance(t, t))
        for n, t in enumerate(stated, start=1)
    ]
    leads = [by_hand.wire(f"W{n}", f"p{n}", "p", ohm=10e-3, rated=60.0) for n in (1, 2)]
    drawn = by_hand.harness(*outputs, *leads, by_hand.load("L1", "p", "m", 5.0))
    results = by_hand.analysed(drawn)
    found = [finding.subject.id for finding in results.findings if finding.rule == "tolerance-missing"]
    assert found == told
    assert not told or results.verdict is not Verdict.PASS


def test_nothing_judged_where_no_conductor_carries_anything() -> None:
    """A load on the output's terminals, and a wire that ends in the air."""
    draw = Drawn()
    draw.load("L1", "p m", "2 A")
    draw.wire("W1", "p air")
    assert list(found(draw.results(), "nothing-judged")) == ["harness"]
