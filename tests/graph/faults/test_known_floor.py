"""What other states hold on a part spares programmes and changes no answer: searched with it and without."""

from __future__ import annotations

import pytest
from fault_bench import faults_of
from joined_harnesses import random_joined, random_outputs

from loadloom.graph.faults.piece import Variant
from loadloom.graph.faults.places import PieceGeometry
from loadloom.graph.faults.sustained_fault import Search

DRAWN = [(random_joined, seed) for seed in range(6)] + [(random_outputs, seed) for seed in range(6)]


@pytest.mark.parametrize(("draw", "seed"), DRAWN)
def test_what_is_known_of_other_states_changes_no_answer(draw, seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = draw(seed)
    spared = faults_of(drawn)
    whole = Search.__init__

    def forgetful(self: Search, geometry: PieceGeometry, variant: Variant, *known: object) -> None:
        whole(self, geometry, variant)

    monkeypatch.setattr(Search, "__init__", forgetful)
    for name, part in faults_of(drawn).parts.items():
        found = spared.parts[name]
        assert found.sustained_fault_a == pytest.approx(part.sustained_fault_a, rel=1e-6, abs=1e-9), name
        assert found.combined_overload_a == pytest.approx(part.combined_overload_a, rel=1e-6, abs=1e-9), name
        assert found.exact == part.exact, name
