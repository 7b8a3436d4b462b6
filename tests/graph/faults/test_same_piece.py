"""A piece that another case has searched already is not searched again: the answer is that of the whole search."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from fault_bench import faults_of
from harnesses import random_harness
from wired import load as load_of
from wired import output, wire

from loadloom.graph.faults.piece import Piece
from loadloom.graph.model.harness import Harness


def with_states(seed: int) -> Harness:
    """Several outputs, with states in which the loads of some of them draw more, less, or as much as without."""
    rng = np.random.default_rng(seed)
    drawn = random_harness(seed)
    loads = []
    for load in drawn.loads:
        shares = {word: float(rng.choice([0.5, 1.0, 1.0, 1.2])) for word in ("slow", "fast")}
        assert load.demand is not None
        loads.append(replace(load, by_word={w: {"demand": load.demand * share} for w, share in shares.items()}))
    # One output apart, whose load draws the most in the plain state.
    apart = (
        output("PSX", "xp", "xm", limit_a=10.0, trip_a=15.0),
        wire("WX", "xp", "xl", ohm=0.1, rated=9.0),
        wire("WY", "xr", "xm", ohm=0.1, rated=9.0),
        replace(load_of("LX", "xl", "xr", 3.0), by_word={"slow": {"demand": 1.0}, "fast": {"demand": 2.0}}),
    )
    return replace(
        drawn,
        loads=(*loads, apart[3]),
        conductors=(*drawn.conductors, *apart[1:3]),
        outputs=(*drawn.outputs, apart[0]),
    )


@pytest.mark.parametrize("seed", range(8))
def test_leaving_out_what_another_case_covers_changes_nothing(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = with_states(seed)
    tried: list[bool] = []
    compare = Piece.draws_no_more_than
    monkeypatch.setattr(
        Piece, "draws_no_more_than", lambda self, other: tried.append(compare(self, other)) or tried[-1]
    )
    short = faults_of(drawn)
    assert True in tried and False in tried
    monkeypatch.setattr(Piece, "draws_no_more_than", lambda self, other: False)
    whole = faults_of(drawn)
    assert set(short.parts) == set(whole.parts)
    for name, answer in whole.parts.items():
        assert short.parts[name].sustained_fault_a == pytest.approx(answer.sustained_fault_a, rel=1e-9), name
        assert short.parts[name].combined_overload_a == pytest.approx(answer.combined_overload_a, rel=1e-9), name
        assert short.parts[name].protected == answer.protected, name
        assert short.parts[name].protected_by == answer.protected_by, name
