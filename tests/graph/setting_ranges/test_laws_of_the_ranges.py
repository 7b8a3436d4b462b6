"""Setting ranges in other units of current and voltage are the same ranges, and no end of a wire is its first.

Source: Ohm's and Kirchhoff's laws are linear.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from joined_harnesses import random_outputs
from other_units import Units, differences
from range_harnesses import drawn_at_random
from wired import AT_20_C

from loadloom.graph.analysis import explore
from loadloom.graph.model.harness import Harness
from loadloom.graph.setting_ranges.setting_ranges import SettingRange

SEEDS = range(72, 76)
AS_DRAWN = Units(1.0, 1.0)


def ranges(drawn: Harness) -> dict[str, SettingRange]:
    return dict(explore(drawn, AT_20_C, lambda _: None)[0].protection.setting_ranges)


@pytest.mark.parametrize("seed", SEEDS)
def test_other_units_are_the_same_ranges(seed: int) -> None:
    units = Units(4.0, 2.0)
    drawn = random_outputs(seed) if seed in (73, 75) else drawn_at_random(seed)
    assert list(differences(ranges(drawn), ranges(units.of(drawn)), units)) == []


@pytest.mark.parametrize("seed", SEEDS)
def test_which_end_was_drawn_first_changes_no_range(seed: int) -> None:
    drawn = drawn_at_random(seed)
    turned = tuple(replace(c, node_a=c.node_b, node_b=c.node_a) for c in drawn.conductors)
    assert list(differences(ranges(drawn), ranges(replace(drawn, conductors=turned)), AS_DRAWN)) == []
