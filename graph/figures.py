"""Numbers in messages: three significant figures, never an exponent."""

from __future__ import annotations

import math

NOISE = 1e-9


_PREFIXES = ((1e9, "G"), (1e6, "M"), (1e3, "k"))


def i2t(value_a2s: float | None) -> str:
    """An I²t with unit and prefix, so that one to three digits stand before the point: ``2.08 MA²s``."""
    size = abs(value_a2s) if value_a2s is not None and math.isfinite(value_a2s) else 0.0
    divisor, prefix = next(((d, p) for d, p in _PREFIXES if size >= 0.9995 * d), (1.0, ""))
    return f"{figures(value_a2s / divisor if value_a2s is not None else None)} {prefix}A²s"


def figures(value: float | None, significant: int = 3) -> str:
    """A value to three significant figures as people write it: ``4800``, ``27.5``, ``0.331``, ``0.0001``.

    ``significant`` asks for more. Above 1000 the last figures are zeros; below a millionth the number keeps its
    exponent, below a thousandth of that it is 0, since nothing is computed that finely. None: "unknown".
    """
    if value is None:
        return "unknown"
    if abs(value) < NOISE:
        return "0"
    if not math.isfinite(value) or abs(value) < 1e-6:
        return f"{value:.{significant}g}"
    rounded = float(f"{value:.{significant}g}")
    if abs(rounded) >= 10.0**significant:
        return f"{rounded:.0f}"
    text = f"{rounded:.9f}"
    return text.rstrip("0").rstrip(".")
