"""Efficiency by load, and the input power that follows from it."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

STANDS_IN = 0.5
"""Efficiency of a converter that states none, or none that can be read: a placeholder, which a finding tells."""


def between(points: Sequence[tuple[float, float]], x: float) -> float:
    """Linear between points in ascending order, the end values outside of them."""
    if x <= points[0][0]:
        return points[0][1]
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return points[-1][1]


def input_power_w(
    power_w: float, efficiency: Sequence[tuple[float, float]], rated_w: float | None, no_load_w: float
) -> float:
    """What an input draws in W while its output gives ``power_w``: power over efficiency, and the no-load power.

    ``efficiency``: points in ascending order (share of ``rated_w``, efficiency 0…1). Without a rated power to take
    a share of, the least efficiency of all points counts. Adding the no-load power to what already holds part of it
    is the safe side.
    """
    if not efficiency:
        return power_w / STANDS_IN + no_load_w
    if len(efficiency) == 1 or not rated_w:
        return power_w / min(share for _, share in efficiency) + no_load_w
    return power_w / between(efficiency, power_w / rated_w) + no_load_w
