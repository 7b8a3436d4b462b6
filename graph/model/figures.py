"""Numbers in messages: three significant figures, never an exponent."""

from __future__ import annotations

import math

NOISE = 1e-9
"""Smaller than this a value, or a share of one, is rounding."""

DIGITS = 3
"""What a number for people has at most."""


_PREFIXES = ((1e9, "G"), (1e6, "M"), (1e3, "k"))


def quantity(value: float | None, unit: str) -> str:
    """A value with its unit, and from 1000 on with a prefix, so that at most three digits stand before the point:
    ``4.8 kA``.
    """
    size = abs(value) if value is not None and math.isfinite(value) else 0.0
    divisor, prefix = next(((d, p) for d, p in _PREFIXES if size >= 0.9995 * d), (1.0, ""))
    return f"{figures(value / divisor if value is not None else None)} {prefix}{unit}"


def duration(seconds: float | None) -> str:
    """A time in the unit that fits: ``0.218 ms``, ``41.6 ms``, ``9.34 s``, ``20 min``, ``2 h``."""
    if seconds is None or not math.isfinite(seconds):
        return f"{figures(seconds)} s"
    for least_s, unit_s, unit in ((3600.0, 3600.0, "h"), (600.0, 60.0, "min"), (0.1, 1.0, "s"), (1e-4, 1e-3, "ms")):
        if seconds >= least_s * (1.0 - NOISE):
            return f"{figures(seconds / unit_s)} {unit}"
    return f"{figures(seconds * 1e6)} µs" if seconds > NOISE else "0 s"


def i2t(value_a2s: float | None) -> str:
    """An I²t with unit and prefix: ``2.08 MA²s``."""
    return quantity(value_a2s, "A²s")


def floored(value: float) -> float:
    """A value rounded down to three digits, so that it may be printed as a greatest permissible one."""
    step = _step(value)
    return math.floor(value / step * (1.0 + NOISE)) * step if step else 0.0


def raised(value: float) -> float:
    """A value rounded up to three digits, so that it may be printed as a least sufficient one."""
    step = _step(value)
    return math.ceil(value / step * (1.0 - NOISE)) * step if step else value


def _step(value: float) -> float:
    """What the third digit of a positive value counts; 0 for others."""
    if value <= 0.0 or not math.isfinite(value):
        return 0.0
    return float(10.0 ** (math.floor(math.log10(value)) - DIGITS + 1))


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
