"""Time–current bands of fuses and breakers from published standards, and the user's own.

A band is a list of points at multiples of the rating (``settings.Curve``). Only rows that were read in a copy
of the standard ship; blade fuses and time-lag fuses are left to the user's own curve. A gate table stays a
gate table: ``gates`` is true and no curve is drawn between the gates.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

from loadloom.graph.model.settings import Curve, CurvePoint

DC_INSTANTANEOUS_SPREAD = 1.5
"""On DC the instantaneous trip of an AC breaker lies higher: upper end × 1.5, value from memory. The lower end
stays as it is.
"""


@dataclass(frozen=True, slots=True)
class ShippedCurve:
    """A band of a standard with the ratings in A that it holds for, both ends included."""

    curve: Curve
    kind: str
    rating_min_a: float
    rating_max_a: float


@cache
def shipped_curves() -> Mapping[str, tuple[ShippedCurve, ...]]:
    """Every shipped band by name, one entry per range of ratings, in ascending order."""
    folder = resources.files(__package__)
    sources = {row["source_id"]: row for row in _rows((folder / "sources.csv").read_text(encoding="utf-8"))}
    points: dict[tuple[str, str, float, float, str], list[CurvePoint]] = {}
    for row in _rows((folder / "curves.csv").read_text(encoding="utf-8")):
        least, most = float(row["rating_min_a"]), float(row["rating_max_a"])
        key = (row["name"], row["kind"], least, most, row["source_id"])
        points.setdefault(key, []).append(
            CurvePoint(float(row["multiple"]), _seconds(row["min_s"]), _seconds(row["max_s"]))
        )
    found: dict[str, list[ShippedCurve]] = {}
    for (name, kind, least, most, source_id), band in points.items():
        source = sources[source_id]
        curve = Curve(name, tuple(band), gates=True, source=source["citation"], note=source["note"])
        if kind == "breaker":
            curve = _for_direct_current(curve)
        found.setdefault(name, []).append(ShippedCurve(curve, kind, least, most))
    return {name: tuple(sorted(curves, key=lambda c: c.rating_min_a)) for name, curves in found.items()}


@cache
def shipped_named(name: str) -> tuple[ShippedCurve, ...]:
    """The shipped bands of a name, without regard to case, spaces and hyphens; empty where there is none.

    A breaker's letter is also known with the standard before it (``IEC 60898-1 C``).
    """
    wanted = _plain(name)
    for known, curves in shipped_curves().items():
        names = {_plain(known), _plain(f"IEC 60898-1 {known}") if curves[0].kind == "breaker" else _plain(known)}
        if wanted in names:
            return curves
    return ()


def own_named(name: str, curves: Mapping[str, Curve]) -> Curve | None:
    """The user's own band of a name, without regard to case, spaces and hyphens."""
    if not curves:
        return None
    wanted = _plain(name)
    return next((curve for known, curve in curves.items() if _plain(known) == wanted), None)


def _rows(text: str) -> Iterator[dict[str, str]]:
    return csv.DictReader(io.StringIO(text))


def _seconds(text: str | None) -> float | None:
    return float(text) if text and text.strip() else None


def _plain(name: str) -> str:
    return "".join(character for character in name.casefold() if character.isalnum())


def _for_direct_current(curve: Curve) -> Curve:
    """Move the upper end of the instantaneous band up, as it stands for AC."""
    last = curve.points[-1]
    moved = CurvePoint(last.multiple * DC_INSTANTANEOUS_SPREAD, last.min_s, last.max_s)
    return Curve(curve.name, (*curve.points[:-1], moved), True, curve.source, curve.ambient_c, curve.note)
