"""What can be bought: conductor sizes and ratings of devices."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from loadloom.graph.model.elements import Conductor, DeviceKind, Gauge, GaugeSystem
from loadloom.graph.model.settings import AnalysisSettings

COPPER_G_PER_CM3 = 8.89
"""Density of copper at 20 °C; value from memory (IEC 60028)."""

DEFAULT_AWG = ("26", "24", "22", "20", "18", "16", "14", "12", "10", "8", "6", "4", "2", "1", "1/0", "2/0", "4/0")
"""Common sizes; common practice, no published source."""

DEFAULT_MM2 = (
    *("0.22", "0.35"),
    *("0.5", "0.75", "1", "1.5", "2.5", "4", "6", "10", "16", "25", "35", "50", "70", "95", "120"),
)
"""IEC 60228 from 0.5 mm² up; the two below are common practice, no published source."""

STANDARD_RATINGS_A = {
    DeviceKind.FUSE: (0.5, 1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 35, 40, 50, 60, 70, 80, 100, 125, 150, 200),
    DeviceKind.BREAKER: (0.5, 1, 2, 3, 4, 5, 6, 8, 10, 13, 15, 16, 20, 25, 30, 32, 40, 50, 63, 80, 100, 125),
}
"""Ratings that devices are made in, in A. Fuses: blade fuses to 40 A (ISO 8820-3), bolted ones above; breakers:
preferred ratings of IEC 60898-1 and IEC 60934. All from memory.
"""


@dataclass(frozen=True, slots=True)
class Shelf:
    """The sizes at hand, thinnest first. ``is_default``: the settings name none, common sizes stand in."""

    sizes: tuple[Gauge, ...]
    is_default: bool
    fallback: GaugeSystem

    def of(self, conductor: Conductor) -> tuple[Gauge, ...]:
        """The sizes for a conductor: those of the system that it is drawn in, else whatever there is."""
        system = conductor.gauge.system if conductor.gauge is not None else self.fallback
        own = tuple(size for size in self.sizes if size.system is system)
        return own or self.sizes

    @property
    def note(self) -> str:
        """For the assumptions of the advice."""
        lists = []
        for system in GaugeSystem:
            sizes = [gauge.size for gauge in self.sizes if gauge.system is system]
            if sizes:
                lists.append(f"{', '.join(sizes)} {system.value}")
        listed = " and ".join(lists)
        if not self.is_default:
            return f"Sizes are those of stocked_sizes in the settings: {listed}."
        return f"The settings name no stocked_sizes: common sizes are taken instead, {listed}."


def shelf(conductors: Iterable[Conductor], settings: AnalysisSettings) -> Shelf:
    """The stocked sizes of the settings, else common ones of the systems that the drawing uses."""
    drawn = Counter(c.gauge.system for c in conductors if c.gauge is not None)
    fallback = drawn.most_common(1)[0][0] if drawn else GaugeSystem.MM2
    if settings.stocked_sizes:
        sizes = [gauge_of(text) for text in settings.stocked_sizes]
        return Shelf(_ascending(sizes), False, fallback)
    systems = set(drawn) or {fallback}
    sizes = [Gauge(GaugeSystem.AWG, s, awg_area_mm2(s)) for s in DEFAULT_AWG if GaugeSystem.AWG in systems]
    sizes += [Gauge(GaugeSystem.MM2, s, float(s)) for s in DEFAULT_MM2 if GaugeSystem.MM2 in systems]
    return Shelf(_ascending(sizes), True, fallback)


def gauge_of(text: str) -> Gauge:
    """A size as ``Gauge`` writes it, ``18 AWG`` or ``0.75 mm²``. ValueError for anything else."""
    size, _, system = text.partition(" ")
    if system == GaugeSystem.AWG:
        return Gauge(GaugeSystem.AWG, size, awg_area_mm2(size))
    if system == GaugeSystem.MM2:
        return Gauge(GaugeSystem.MM2, size, float(size))
    raise ValueError(f"{text!r} is no size of a conductor")


def awg_area_mm2(size: str) -> float:
    """Cross-section by ASTM B258, d = 0.127 mm × 92^((36-n)/39); ``2/0`` is n = −1."""
    n = 1 - int(size.partition("/")[0]) if "/" in size else int(size)
    diameter_mm = 0.127 * 92.0 ** ((36 - n) / 39)
    return math.pi / 4.0 * float(diameter_mm) ** 2


def copper_g(area_mm2: float, length_m: float) -> float:
    """Mass of copper in g of a length in m."""
    return area_mm2 * length_m * COPPER_G_PER_CM3


def standard_between(kind: DeviceKind, low_a: float, high_a: float) -> float | None:
    """The least standard rating in A from ``low_a`` to ``high_a``, both included; None where there is none."""
    for rating_a in STANDARD_RATINGS_A.get(kind, ()):
        if low_a * (1.0 - 1e-9) <= rating_a <= high_a * (1.0 + 1e-9):
            return float(rating_a)
    return None


def _ascending(sizes: Iterable[Gauge]) -> tuple[Gauge, ...]:
    return tuple(sorted(dict.fromkeys(sizes), key=lambda size: (size.area_mm2, str(size))))
