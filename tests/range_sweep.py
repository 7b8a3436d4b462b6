"""Setting ranges held against the fault search itself: every setting in a range protects, none above does.

A range is found by the analysis with one device drawn at three settings. Then the device is set to 0.999 of the
highest, 1.001 of the lowest and five settings between, and to 1.01 of the highest, and the whole fault search is
run anew at each. By hand: ``python range_sweep.py joined 0 200``, also ``drawn`` and ``outputs``; it prints what
does not hold, and the counts.
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from wired import analysed

from loadloom.graph.devices.device_bands import Threshold, nominal_a, threshold
from loadloom.graph.devices.other_settings import set_everywhere
from loadloom.graph.facts import find_facts
from loadloom.graph.faults.answer import FaultAnswer
from loadloom.graph.faults.every_case import search_faults
from loadloom.graph.model.elements import Device
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import DeviceRow
from loadloom.graph.setting_ranges.highest_settings import Highest, HighestSettings, with_highest
from loadloom.graph.setting_ranges.setting_ranges import SettingRange

DRAWN_TIMES = (0.4, 2.5)
"""Further settings that a device is drawn with, as multiples of the first: they may not matter."""

OVER = 1.0 + 1e-6


@dataclass(frozen=True)
class Judged:
    """A harness that was analysed, and what its setting ranges were found from."""

    rows: tuple[DeviceRow, ...]
    highest: HighestSettings
    ranges: Mapping[str, SettingRange]

    @classmethod
    def of(cls, drawn: Harness) -> Judged:
        """Analyse a harness, and keep what the search for highest settings was given."""
        given: list[tuple[HighestSettings, Mapping[str, SettingRange]]] = []

        def noted(highest: HighestSettings, setting_ranges: Mapping[str, SettingRange]) -> dict[str, SettingRange]:
            given.append((highest, setting_ranges))
            return with_highest(highest, setting_ranges)

        find_facts.with_highest = noted  # type: ignore[attr-defined]
        try:
            results = analysed(drawn)
        finally:
            find_facts.with_highest = with_highest  # type: ignore[attr-defined]
        return cls(results.devices, *given[0])

    def with_setting(self, device: str, setting_a: float) -> HighestSettings:
        """The same with a device set otherwise, and the fault search run anew."""
        known = self.highest

        def changed(part: Device) -> Device:
            there = set_everywhere(part, setting_a) if part.id == device else part
            assert isinstance(there, Device)
            return there

        harness = replace(known.harness, devices=tuple(changed(d) for d in known.harness.devices))
        thresholds = {case.id: self._thresholds(harness, case.arrangement) for case in known.cases}
        found: FaultAnswer = search_faults(
            *(harness, known.settings, known.cases, known.networks, thresholds, known.ratings),
            loading=known.loading,
        )
        return replace(known, harness=harness, thresholds=thresholds, found=found)

    def _thresholds(self, harness: Harness, word: str | None) -> dict[str, Threshold]:
        parts = [part.under(word) for part in (*harness.outputs, *harness.devices)]
        return {part.id: threshold(part, self.highest.settings, None) for part in parts if part.fitted}

    def found_as_drawn(self, device: str, setting_a: float) -> Highest:
        """The highest setting of a device that is drawn at another setting."""
        return self.with_setting(device, setting_a).of_all({device: self.ranges[device]})[device]

    def over(self, device: str, setting_a: float, parts: Iterable[str]) -> list[str]:
        """Those of some parts that are above their allowed current and not protected, at a setting of a device."""
        answers = self.with_setting(device, setting_a).found.parts
        found = (answers[name] for name in parts if name in answers)
        return [
            each.id
            for each in found
            if not each.protected and (each.sustained_fault_a or 0.0) > (each.allowed_a or math.inf) * OVER
        ]


def failures(drawn: Harness, counts: Counter[str]) -> Iterator[str]:
    """What does not hold of a harness's ranges, a line each; ``counts`` says how much was looked at."""
    judged = Judged.of(drawn)
    drawn_a = {d.id: a for d in drawn.devices if (a := nominal_a(d)) is not None}
    for row in (row for row in judged.rows if row.id in drawn_a):
        name, high, note = row.id, row.setting_high_a, row.setting_range_note
        counts["devices"] += 1
        if high is None:
            counts["without an upper end"] += 1
            counts["not determined"] += "not determined" in note
            if not note:
                yield f"{name}: no upper end and no cause"
        others = [judged.found_as_drawn(name, drawn_a[name] * times).bound for times in DRAWN_TIMES]
        same = [
            (o is None) == (high is None) and (o is None or math.isclose(o.setting_a, high or 0.0, rel_tol=1e-4))
            for o in others
        ]
        if not all(same):
            yield f"{name}: {high} A as drawn, else {others}"
        if high is None:
            continue
        counts["ranges"] += 1
        if not judged.over(name, 1.01 * high, row.protects):
            yield f"{name}: nothing is over at 1.01 of {high} A"
        low = row.setting_low_a if row.setting_low_a is not None else 0.5 * high
        between = [1.001 * low, *(low + (high - low) * k / 6.0 for k in range(1, 6))] if low < high else []
        for setting_a in (0.999 * high, *between):
            counts["settings"] += 1
            over = judged.over(name, min(setting_a, 0.999 * high), row.protects)
            if over:
                yield f"{name}: at {setting_a} A of {low} to {high} A, {over} is over"


def main(name: str, first: int, last: int, kinds: Mapping[str, Callable[[int], Harness]]) -> None:
    """Print what does not hold, and the counts so far."""
    counts: Counter[str] = Counter()
    for seed in range(first, last):
        for line in failures(kinds[name](seed), counts):
            print(f"{name} {seed} {line}", flush=True)
        print(name, seed, dict(counts), flush=True)


if __name__ == "__main__":
    from joined_harnesses import random_joined, random_outputs
    from range_harnesses import drawn_at_random

    made = {"drawn": drawn_at_random, "joined": random_joined, "outputs": random_outputs}
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]), made)
