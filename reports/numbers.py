"""Numbers as engineers write them: three significant figures, one prefix within a column, a chosen decimal sign."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

SIGNIFICANT = 3
UNKNOWN = "–"
NOISE = 1e-9
"""What is smaller is shown as 0: the solve itself is no finer (sum of currents at a joint)."""
_PREFIXES = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"))
_PREFIXED_UNITS = ("A", "V", "W", "Ω", "s", "m")
_MOST_DECIMALS = 6


@dataclass(frozen=True, slots=True)
class Scale:
    """How a column's values are written: divided by ``divisor``, in ``unit``."""

    divisor: float
    unit: str

    def of(self, value: float | None) -> float | None:
        """A value in this scale's unit; None stays None, and so does what is not finite."""
        return None if value is None or not math.isfinite(value) else value / self.divisor


def column_scale(values: Iterable[float | None], unit: str) -> Scale:
    """One scale for a column: the prefix that suits its median magnitude.

    Prefixes are only put before A, V, W, Ω and s, and before m below one; other units stay as they are. A
    prefix of a unit is kept plain while the median lies from 0.1 to 10 000, as people write them.
    """
    sizes = sorted(abs(v) for v in values if v is not None and math.isfinite(v) and abs(v) >= NOISE)
    if not sizes or unit not in _PREFIXED_UNITS:
        return Scale(1.0, unit)
    middle = sizes[len(sizes) // 2]
    if 0.1 <= middle < 10_000.0 or (unit == "m" and middle >= 1.0):
        return Scale(1.0, unit)
    divisor, prefix = next(((d, p) for d, p in _PREFIXES if middle >= d), _PREFIXES[-1])
    return Scale(divisor, prefix + unit)


def decimals(value: float, significant: int = SIGNIFICANT) -> int:
    """How many decimals show a value to ``significant`` figures; never negative, at most six."""
    if abs(value) < NOISE or not math.isfinite(value):
        return 0
    exponent = math.floor(math.log10(abs(value)))
    if round(abs(value) / 10.0**exponent, significant - 1) >= 10.0:
        exponent += 1
    return min(max(0, significant - 1 - exponent), _MOST_DECIMALS)


def figures(value: float | None, decimal_sign: str = ".", significant: int = SIGNIFICANT) -> str:
    """A value to three significant figures; ``–`` for what is not known or not finite."""
    if value is None or not math.isfinite(value):
        return UNKNOWN
    if abs(value) < NOISE:
        return "0"
    if abs(value) < 10.0 ** (significant - 1 - _MOST_DECIMALS):
        text = f"{value:.{significant - 1}e}"
    else:
        text = f"{value:.{decimals(value, significant)}f}"
    text = text.replace("-", "−", 1) if value < 0 else text
    return text.replace(".", decimal_sign)


def quantity(value: float | None, unit: str, decimal_sign: str = ".") -> str:
    """A single value with its own prefix: ``7.90 mΩ``."""
    scale = column_scale((value,), unit)
    text = figures(scale.of(value), decimal_sign)
    return text if text == UNKNOWN or scale.unit in ("", "1") else f"{text} {scale.unit}"


def share(value: float | None, decimal_sign: str = ".") -> str:
    """A share as a percentage to three significant figures: 0.906 is ``90.6 %``."""
    return UNKNOWN if value is None or not math.isfinite(value) else f"{figures(100.0 * value, decimal_sign)} %"


def of_allowed(value: float | None, decimal_sign: str = ".") -> str:
    """A share of what is allowed: up to it as a percentage, above it how many times it is, as ``18.2 ×``."""
    if value is None or not math.isfinite(value) or value <= 1.0 + NOISE:
        return share(value, decimal_sign)
    return f"{figures(value, decimal_sign)} ×"


def aligned(values: Iterable[float | None], decimal_sign: str = ".") -> list[str]:
    """A column's values as texts of one width, the decimal signs under each other."""
    texts = [figures(value, decimal_sign) for value in values]
    parts = [text.partition(decimal_sign) for text in texts]
    left = max((len(whole) for whole, _, _ in parts), default=0)
    right = max((len(sign + rest) for _, sign, rest in parts), default=0)
    return [whole.rjust(left) + (sign + rest).ljust(right) for whole, sign, rest in parts]


def sheet_format(value: float | None, most_decimals: int) -> str:
    """A spreadsheet number format: three significant figures at this value, aligned with its column.

    Decimals that the value does not need are replaced by blanks as wide as a digit (``_0``), so that decimal
    signs stand under each other in a column whose values need up to ``most_decimals``.
    """
    if value is not None and NOISE <= abs(value) < 10.0 ** (SIGNIFICANT - 1 - _MOST_DECIMALS):
        return "0.00E+00"
    shown = 0 if value is None else min(decimals(value), most_decimals)
    fill = "_0" * (most_decimals - shown)
    if shown:
        return "0." + "0" * shown + fill
    return "0" + ("_." + fill if most_decimals else "")
