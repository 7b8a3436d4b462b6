"""Many loads on channels that are alike: the spread ends, and says what it did not rule out."""

from __future__ import annotations

import numpy as np

from loadloom.graph.sizing.assignment import Problem, assign, is_allowed, margin_of


def test_many_loads_on_like_channels_come_to_an_end() -> None:
    """The search for the proof took minutes and more here. No spread can beat all loads shared out evenly."""
    rng = np.random.default_rng(1)
    loads, channels = 36, 8
    asked_a = rng.uniform(0.3, 1.8, loads)
    limit_a = 8.0
    problem = Problem(
        tuple(f"L{k}" for k in range(loads)),
        ("nominal",),
        tuple(f"C{c}" for c in range(channels)),
        np.repeat(asked_a[:, None, None], channels, axis=2),
        np.full((1, channels), limit_a),
        np.ones((loads, channels)),
        np.arange(loads) % channels,
    )
    found = assign(problem)
    place = {name: c for c, name in enumerate(problem.channels)}
    chosen = [place[channel] for _, channel in found.channel_of]
    even = 1.0 - asked_a.sum() / (channels * limit_a)
    assert is_allowed(problem, chosen)
    assert found.margin is not None and found.most_margin is not None and found.margin_today is not None
    assert found.margin == margin_of(problem, chosen) and found.margin >= found.margin_today
    assert found.margin <= found.most_margin <= even + 1e-6
    assert found.margin > even - 0.05
    assert found.fewest is not None and found.fewest >= asked_a.sum() / limit_a
    if found.most_margin > found.margin + 1e-6:
        assert "not ruled out" in found.reason
