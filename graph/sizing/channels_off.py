"""Channels that are off in an arrangement although what is behind them then stands unprotected."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Band, Device, DeviceKind
from loadloom.graph.model.harness import Harness
from loadloom.graph.sizing.device_settings import Slot, slots
from loadloom.graph.verdict.registry import all_rules

ASSUMED_TOLERANCE = 0.1
"""Share either way, where neither the channel nor another one of the drawing states a tolerance; said so."""

CLEAR_OF = 1.25
"""A first setting stands at least this many times above what the channel has to be set to."""


def off_slots(facts: Facts) -> tuple[Slot, ...]:
    """Slots of limiters that are off, of the arrangements of the cases, with parts that nothing protects then."""
    bad = {word for word, parts in _unprotected(facts).items() if parts}
    return tuple(
        slot
        for device in facts.harness.devices
        if device.kind is DeviceKind.LIMITER and device.fitted
        for slot, words in slots(device, facts).items()
        if bad.intersection(words) and not device.under(slot[1]).active
    )


def turned_on(facts: Facts, off: Iterable[Slot]) -> Harness:
    """The harness with these slots on: at the channel's own value elsewhere, else at a round one above its load."""
    bands = {slot: _band(facts, slot) for slot in off}

    def on(device: Device) -> Device:
        for (name, word), band in bands.items():
            if name != device.id:
                continue
            if word is None:
                device = replace(device, active=True, trip_a=band)
            else:
                own = {**device.by_word.get(word, {}), "trip_a": band, "active": True}
                device = replace(device, by_word={**device.by_word, word: own})
        return device

    return replace(facts.harness, devices=tuple(on(device) for device in facts.harness.devices))


def turned_off(harness: Harness, drawn: Harness, slots: Iterable[Slot]) -> Harness:
    """A harness with these slots as they are drawn: off."""
    words: dict[str, list[str | None]] = {}
    for name, word in slots:
        words.setdefault(name, []).append(word)

    def off(device: Device) -> Device:
        own = drawn.by_id[device.id]
        assert isinstance(own, Device)
        for word in words.get(device.id, ()):
            if word is None:
                device = replace(device, active=own.active, trip_a=own.trip_a)
            else:
                device = replace(device, by_word={**device.by_word, word: own.by_word[word]})
        return device

    return replace(harness, devices=tuple(off(device) for device in harness.devices))


def to_blame(drawn: Facts, on: Facts, off: Iterable[Slot]) -> tuple[Slot, ...]:
    """Those of the slots that guard something, once they are on, that nothing protects as drawn."""
    bad = _unprotected(drawn)
    guarded = {there.word: there.guarded for there in on.protection.arrangements}
    by_id = drawn.harness.by_id
    found = []
    for slot in off:
        device = by_id[slot[0]]
        assert isinstance(device, Device)
        words = slots(device, drawn)[slot]
        if any(not bad.get(w, set()).isdisjoint(guarded.get(w, {}).get(slot[0], ())) for w in words):
            found.append(slot)
    return tuple(found)


def _unprotected(facts: Facts) -> dict[str | None, set[str]]:
    """By arrangement: parts that one fault overloads there, or that a short there burns."""
    word_of = {case.id: case.arrangement for case in facts.cases}
    found: dict[str | None, set[str]] = {}
    for word, answers in facts.faults.by_arrangement.items():
        found[word] = {name for name, answer in answers.items() if answer.protected is False or answer.in_band}
    for rule in ("fault-never-cleared", "damage-before-clearing"):
        check = all_rules()[rule].check
        assert check is not None
        for finding in check(facts):
            if finding.case in word_of:
                found.setdefault(word_of[finding.case], set()).add(finding.subject.id)
    return found


def _band(facts: Facts, slot: Slot) -> Band:
    harness = facts.harness
    device = harness.by_id[slot[0]]
    assert isinstance(device, Device)
    own = [device.trip_a, *(device.under(other).trip_a for other in device.by_word)]
    stated = next((band for band in own if band is not None), None)
    if stated is not None:
        return stated
    words = slots(device, facts)[slot]
    peak_a = facts.currents[device.id].peak_a
    carried_a = max((peak_a.get(case.id, 0.0) for case in facts.cases if case.arrangement in words), default=0.0)
    other = next((d.trip_a for d in harness.devices if d.kind is DeviceKind.LIMITER and d.trip_a), None)
    below = other.lower / other.nominal if other is not None else 1.0 - ASSUMED_TOLERANCE
    above = other.upper / other.nominal if other is not None else 1.0 + ASSUMED_TOLERANCE
    nominal = _round_above(max(carried_a / below, 0.01))
    return Band(nominal, nominal * below, nominal * above)


def _round_above(current_a: float) -> float:
    """The least of 1, 2, 5, 10, … A that is clearly above a current: a channel should not stand at its edge."""
    decade = 10.0 ** math.floor(math.log10(current_a))
    steps = (step * decade for step in (1.0, 2.0, 5.0, 10.0, 20.0))
    return next(round(step, 9) for step in steps if step >= CLEAR_OF * current_a)
