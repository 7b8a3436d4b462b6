"""Numbers in messages: three significant figures, never an exponent."""

from __future__ import annotations

import math


def figures(value: float | None) -> str:
    """A value to three significant figures as people write it: ``4800``, ``27.5``, ``0.331``, ``0.0001``.

    Above 1000 the last figures are zeros; below a millionth the number keeps its exponent. None: "unknown".
    """
    if value is None:
        return "unknown"
    if not math.isfinite(value) or (value != 0.0 and abs(value) < 1e-6):
        return f"{value:.3g}"
    rounded = float(f"{value:.3g}")
    if abs(rounded) >= 1000.0:
        return f"{rounded:.0f}"
    text = f"{rounded:.9f}"
    return text.rstrip("0").rstrip(".")
