"""Spread of loads over channels: the same margin as trying every assignment, and reasons that hold."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
from wired import AT_20_C, harness, limiter, load, output, wire

from loadloom.graph.model.settings import AnalysisSettings, DesignSettings
from loadloom.graph.sizing.assignment import (
    Assignment,
    Problem,
    assign,
    fewest_channels,
    is_allowed,
    margin_of,
)
from loadloom.graph.sizing.channels import channel_problem
from loadloom.graph.sizing.judging import gathered


def problem(seed: int) -> Problem:
    """Two to five loads, two or three channels and cases, some demands on neighbours."""
    rng = random.Random(seed)
    loads, cases, channels = rng.randint(2, 5), rng.randint(1, 3), rng.randint(2, 3)
    names = tuple(f"L{k}" for k in range(loads))
    asked = np.array([[[rng.uniform(0.5, 8.0)] * channels for _ in range(cases)] for _ in names])
    limits = np.array([[rng.choice((6.0, 10.0, 15.0, np.inf)) for _ in range(channels)] for _ in range(cases)])
    may = np.array([[float(rng.random() < 0.85) for _ in range(channels)] for _ in names])

    def some(chance: float) -> tuple[tuple[int, ...], ...]:
        return (tuple(rng.sample(range(loads), 2)),) if rng.random() < chance else ()

    behind = tuple(rng.randrange(2) for _ in range(channels))
    continuous = 0.8 * asked[:, :, 0]
    most = np.array([[rng.choice((4.0, 12.0, np.inf)) for _ in range(2)] for _ in range(cases)])
    of_outputs = {"outputs": ("PS1", "PS2"), "behind": behind, "continuous_a": continuous, "most_a": most}

    return Problem(
        names,
        tuple(f"case {k}" for k in range(cases)),
        tuple(f"CH{c}" for c in range(channels)),
        asked,
        limits,
        may,
        np.array([rng.randrange(channels) for _ in names]),
        together=some(0.4),
        apart=some(0.4),
        alone=(rng.randrange(loads),) if rng.random() < 0.2 else (),
        **(of_outputs if rng.random() < 0.4 else {}),
    )


def every(p: Problem) -> list[tuple[int, ...]]:
    return [
        choice for choice in itertools.product(range(len(p.channels)), repeat=len(p.loads)) if is_allowed(p, choice)
    ]


def numbers(p: Problem, found: Assignment) -> list[int]:
    return [p.channels.index(channel) for _, channel in found.channel_of]


@pytest.mark.parametrize("seed", range(60))
def test_equal_to_trying_every_assignment(seed: int) -> None:
    p = problem(seed)
    found, choices = assign(p), every(p)
    if not choices:
        assert found.margin is None and found.channel_of == () and found.reason
        return
    best = max(margin_of(p, choice) for choice in choices)
    assert found.margin == pytest.approx(best, abs=1e-5)
    chosen = numbers(p, found)
    assert is_allowed(p, chosen) and margin_of(p, chosen) == pytest.approx(best, abs=1e-5)
    # Among the best ones, none moves fewer loads.
    moves = [
        sum(a != b for a, b in zip(choice, p.today, strict=True))
        for choice in choices
        if margin_of(p, choice) >= best - 1e-9
    ]
    assert len(found.moved) <= min(moves)
    assert bool(found.reason) == (best < -1e-6)
    fits = [len(set(choice)) for choice in choices if margin_of(p, choice) >= -1e-9]
    assert fewest_channels(p) == (min(fits) if fits else None)


def by_hand(amperes: list[float], limits: list[float], **values: object) -> Problem:
    asked = np.repeat(np.array(amperes)[:, None, None], len(limits), axis=2)
    return Problem(
        tuple(f"L{k + 1}" for k in range(len(amperes))),
        ("nominal",),
        tuple(f"CH{c + 1}" for c in range(len(limits))),
        asked,
        np.array([limits]),
        np.ones((len(amperes), len(limits))),
        np.zeros(len(amperes), dtype=np.int64),
        **values,
    )


def test_five_loads_on_two_channels_by_hand() -> None:
    """8, 7, 6, 5 and 4 A on two channels of 20 A: 15 + 15 A is the best split; all on one is 30 A today."""
    found = assign(by_hand([8.0, 7.0, 6.0, 5.0, 4.0], [20.0, 20.0]))
    assert found.margin == pytest.approx(0.25)
    assert found.margin_today == pytest.approx(-0.5)
    assert found.fewest == 2
    assert sorted(use.current_a for use in found.uses) == pytest.approx([15.0, 15.0])
    assert found.reason == "" and len(found.moved) == 2  # 8 + 7 A leave, or 6 + 5 + 4 A would


def test_reasons_name_what_no_assignment_can_fix() -> None:
    one = assign(by_hand([25.0, 1.0], [20.0, 10.0]))
    assert one.margin == pytest.approx(-0.25) and "L1 alone asks 5 A more" in one.reason
    assert one.fewest is None
    total = assign(by_hand([9.0, 9.0, 9.0], [10.0, 10.0]))
    assert "the loads ask for 27 A and all channels together carry 20 A" in total.reason
    # 3 × 6 A on two channels of 10 A: the sum of 18 A would fit, three times 6 A on two channels does not.
    packing = assign(by_hand([6.0, 6.0, 6.0, 0.5], [10.0, 10.0]))
    assert packing.margin == pytest.approx(-0.2)
    assert "L1, L2, L3" in packing.reason and "L4" not in packing.reason
    contradiction = assign(by_hand([1.0, 1.0, 1.0], [10.0, 10.0], apart=((0, 1, 2),)))
    assert contradiction.margin is None and "L1, L2, L3" in contradiction.reason


def drawn(**design: object) -> Problem | None:
    """One unit with three channels of 10 A: two loads of 4 A on the first, one of 3 A on the second."""
    parts = [output("PS1", "p", "m", 12.0, limit_a=40.0, trip_a=60.0)]
    for k, joint in enumerate(("a", "b", "c"), 1):
        parts.append(limiter(f"CH{k}", "p", joint, 10.0))
    for k, (joint, amperes) in enumerate((("a", 4.0), ("a", 4.0), ("b", 3.0)), 1):
        parts.append(wire(f"W{k}", joint, f"l{k}", mm2=1.5, length_m=1.0, rated=20.0))
        parts.append(load(f"L{k}", f"l{k}", "m", amperes))
    settings = AnalysisSettings(
        conductor_temperature_c=AT_20_C.conductor_temperature_c,
        resistance_table="copper",
        design=DesignSettings(**design),
    )
    return channel_problem(gathered(harness(*parts), settings, lambda _: None))


def test_channels_and_todays_assignment_are_found_in_the_drawing() -> None:
    p = drawn()
    assert p is not None
    assert (p.loads, p.channels, p.today.tolist()) == (("L1", "L2", "L3"), ("CH1", "CH2", "CH3"), [0, 0, 1])
    found = assign(p)
    assert found.margin_today == pytest.approx(0.2) and found.margin == pytest.approx(0.6)
    assert len(found.moved) == 1 and found.fewest == 2


@pytest.mark.parametrize(("limit_a", "moved"), [(7.0, 1), (3.0, 0)])
def test_no_output_is_asked_for_more_than_its_limit(limit_a: float, moved: int) -> None:
    """8 A on a channel of 10 A of one unit, a second channel of 10 A with 2.5 A on another one: half of the 8 A
    would be better off there, which a limit of 7 A allows and one of 3 A does not.
    """
    parts = [
        output("PS1", "p", "m", 12.0, limit_a=40.0, trip_a=60.0),
        output("PS2", "q", "m", 12.0, limit_a=limit_a, trip_a=60.0),
        limiter("CH1", "p", "a", 10.0),
        limiter("CH2", "q", "b", 10.0),
    ]
    for k, (joint, amperes) in enumerate((("a", 4.0), ("a", 4.0), ("b", 2.5)), 1):
        parts.append(wire(f"W{k}", joint, f"l{k}", mm2=1.5, length_m=1.0, rated=20.0))
        parts.append(load(f"L{k}", f"l{k}", "m", amperes))
    p = channel_problem(gathered(harness(*parts), AT_20_C, lambda _: None))
    assert p is not None
    found = assign(p)
    assert len(found.moved) == moved
    assert found.margin == pytest.approx(0.35 if moved else 0.2)


def test_an_output_whose_voltage_can_not_be_read_is_no_end_of_the_search() -> None:
    parts = [output("PS1", "p", "m", 12.0, limit_a=40.0, trip_a=60.0), limiter("CH1", "p", "a", 10.0)]
    parts += [output("PS2", "q", "m", None, limit_a=40.0, trip_a=60.0), limiter("CH2", "q", "b", 10.0)]
    for k, joint in enumerate(("a", "b"), 1):
        parts.append(wire(f"W{k}", joint, f"l{k}", mm2=1.5, length_m=1.0, rated=20.0))
        parts.append(load(f"L{k}", f"l{k}", "m", 2.0))
    p = channel_problem(gathered(harness(*parts), AT_20_C, lambda _: None))
    assert p is not None and assign(p).reason == "No channel is open to L2: none has its voltage."


def test_settings_keep_loads_together_apart_and_alone() -> None:
    together = drawn(together=(("L1", "L2"),))
    alone = drawn(alone=("L3",), channels=("CH1", "CH2"))
    apart = drawn(apart=(("L1", "L2", "L3"),), channels=("CH1", "CH2"))
    assert together is not None and alone is not None and apart is not None
    assert assign(together).margin == pytest.approx(0.2)
    assert assign(alone).margin == pytest.approx(0.2)
    assert assign(apart).margin is None
