"""How soon and how late devices open, at many currents at once.

Between two corners of its band a time is constant or a straight line on log–log axes (``devices``). So five points
of ``opening_time_s`` between two corners tell all of it; where they lie on no such line, it is asked for every
current.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from loadloom.graph.circuit.network import BoolArray, FloatArray, IntArray
from loadloom.graph.devices.device_bands import Threshold, corner_currents_a, opening_time_s
from loadloom.graph.model.elements import Device, Output
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.settings import AnalysisSettings

NEGLIGIBLE_A = 1e-6
"""Below this a part counts as carrying nothing."""

TIE = 1e-9
"""Share by which a solved current may lie beside a limit and still counts as being at it."""

NOBODY = Subject("")
SAMPLES = 5
BEYOND = 1e6
"""Times of the first and last corner within which a band is known."""


@dataclass(frozen=True)
class NextOpened:
    """What may open next in N states, by device (N, K). ``first``: may be the first; ``certain`` (N,): the device
    that is certain to be open within ``within_s``, -1 where none is. ``slowest_s``: of each alone, inf where it
    need not open.
    """

    first: BoolArray
    certain: IntArray
    within_s: FloatArray
    slowest_s: FloatArray


class OpeningTimes:
    """The bands of K devices and outputs; like ones are asked together."""

    def __init__(
        self, parts: Sequence[Device | Output], thresholds: Mapping[str, Threshold], settings: AnalysisSettings
    ) -> None:
        self.held_a = np.array([thresholds[part.id].held_a for part in parts], dtype=np.float64)
        self.opens = np.array([thresholds[part.id].opens for part in parts], dtype=np.bool_)
        like: list[tuple[Device | Output, list[int]]] = []
        for k, part in enumerate(parts):
            if self.opens[k]:
                plain = _nameless(part)
                places = next((at for known, at in like if known == plain), None)
                if places is None:
                    like.append((plain, [k]))
                else:
                    places.append(k)
        self._bands = [(_Band(part, settings), np.array(places)) for part, places in like]

    def at(self, current_a: FloatArray, uncertain: BoolArray | None = None) -> NextOpened:
        """At currents (N, K) in A. ``uncertain`` (N, K) may open, but need not."""
        fast, slow = np.full(current_a.shape, np.nan), np.full(current_a.shape, np.nan)
        for band, places in self._bands:
            fast[:, places], slow[:, places] = band.at(current_a[:, places])
        may = self.opens & (current_a > NEGLIGIBLE_A)
        sure = may & ~np.isnan(slow) & (current_a > self.held_a * (1.0 + TIE))
        late_s = np.where(sure, slow, np.inf)
        some = sure if uncertain is None else sure & ~uncertain
        # An infinite time is one that is not stated: such a device is certain to open all the same.
        order = np.where(some, np.where(np.isinf(slow), np.finfo(np.float64).max, slow), np.inf)
        certain = np.where(some.any(axis=1), order.argmin(axis=1), -1)
        within_s = np.where(certain >= 0, np.take_along_axis(slow, certain[:, None], axis=1)[:, 0], np.inf)
        soon_s = np.where(np.isnan(fast), 0.0, fast)
        first = may & (~np.isnan(fast) | some) & (soon_s <= within_s[:, None] * (1.0 + TIE))
        return NextOpened(first & (certain >= 0)[:, None], certain, within_s, late_s)


def _nameless(part: Device | Output) -> Device | Output:
    """A part as every other one that opens alike: where it is, and what voltage it gives, do not matter."""
    if isinstance(part, Device):
        return replace(part, id="", subject=NOBODY, node_a="", node_b="", resistance_ohm=None)
    return replace(part, id="", subject=NOBODY, node_plus="", node_minus="", voltage_v=None, resistance_ohm=0.0)


class _Band:
    """Fastest and slowest time of one kind of device: NaN where it carries, or need not open."""

    def __init__(self, part: Device | Output, settings: AnalysisSettings) -> None:
        self.part, self.settings = part, settings
        corners = sorted(a for a in corner_currents_a(part, settings) if 0.0 < a < math.inf)
        ends = [corners[0] / BEYOND, *corners, corners[-1] * BEYOND] if corners else []
        # Close beside a corner, the odd intervals, each current is asked for.
        self.bounds = np.array([a * (1.0 + s * 2.0 * TIE) for a in ends for s in (-1.0, 1.0)])
        count = len(self.bounds) + 1
        self.straight = np.zeros(count, dtype=np.bool_)
        self.line = np.full((2, 3, count), np.nan)
        for k in range(2, count - 1, 2):
            self._measure(k)

    def _measure(self, k: int) -> None:
        at = np.geomspace(self.bounds[k - 1], self.bounds[k], SAMPLES)
        at[0], at[-1] = self.bounds[k - 1] * (1.0 + TIE), self.bounds[k] * (1.0 - TIE)
        if at[0] >= at[-1]:
            return
        asked = self._asked(at)
        found = []
        for times in asked:
            if np.isnan(times).all() or (times == times[0]).all():
                found.append((times[0], at[0], 0.0))
            elif np.isfinite(times).all() and (times > 0.0).all():
                slope = math.log(times[-1] / times[0]) / math.log(at[-1] / at[0])
                line = times[0] * (at / at[0]) ** slope
                if (np.abs(line - times) > 1e-12 * times).any():
                    return
                found.append((times[0], at[0], slope))
            else:
                return
        self.straight[k] = True
        self.line[:, :, k] = found

    def _asked(self, current_a: FloatArray) -> FloatArray:
        """(2, N) by ``opening_time_s`` itself."""
        times = [opening_time_s(self.part, a, self.settings) for a in current_a.tolist()]
        return np.array(times, dtype=np.float64).reshape(-1, 2).T

    def at(self, current_a: FloatArray) -> tuple[FloatArray, FloatArray]:
        k = np.searchsorted(self.bounds, current_a)
        start_s, start_a, slope = self.line[:, :, k].swapaxes(0, 1)
        with np.errstate(divide="ignore", invalid="ignore"):
            times = np.where(slope == 0.0, start_s, start_s * (current_a / start_a) ** slope)
        odd = ~self.straight[k] & (current_a > NEGLIGIBLE_A)
        if odd.any():
            values, which = np.unique(current_a[odd], return_inverse=True)
            times[:, odd] = self._asked(values)[:, which]
        return times[0], times[1]
