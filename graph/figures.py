"""Numbers in messages: three significant figures, never an exponent."""

from __future__ import annotations

import math

NOISE = 1e-9


def figures(value: float | None) -> str:
    """A value to three significant figures as people write it: ``4800``, ``27.5``, ``0.331``, ``0.0001``.

    Above 1000 the last figures are zeros; below a millionth the number keeps its exponent, below a thousandth of
    that it is 0, since nothing is computed that finely. None: "unknown".
    """
    if value is None:
        return "unknown"
    if abs(value) < NOISE:
        return "0"
    if not math.isfinite(value) or abs(value) < 1e-6:
        return f"{value:.3g}"
    rounded = float(f"{value:.3g}")
    if abs(rounded) >= 1000.0:
        return f"{rounded:.0f}"
    text = f"{rounded:.9f}"
    return text.rstrip("0").rstrip(".")
