"""How far it is along the drawn conductors to the first device: lengths for taps and for the first device."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from loadloom.graph.elements import Conductor, ConductorKind
from loadloom.graph.harness import Harness
from loadloom.graph.structure.guards import Arrangement
from loadloom.graph.structure.paths import Block, Paths

SAME_AREA = 0.99
"""A conductor counts as thinner below this share of the other's area: sizes written in two systems may be equal."""


@dataclass(frozen=True, slots=True)
class Reach:
    """One way from a start up to its first device or to its end.

    ``length_m`` inf where a length is not stated; ``device`` None where the way ends without one; ``sheathed``
    where all conductors are cores of a cable.
    """

    first: Conductor
    length_m: float
    device: str | None
    sheathed: bool


@dataclass(frozen=True, slots=True)
class Tap:
    """A conductor that is thinner than the one that feeds it with no device between, and its paths onward."""

    conductor: Conductor
    feeding_mm2: float
    paths: tuple[Reach, ...]

    @property
    def bare_m(self) -> float:
        """The length that stands without a device of its own: the longest path up to a device or to its end."""
        return max((path.length_m for path in self.paths), default=0.0)

    @property
    def ends_bare(self) -> bool:
        """Whether a way ends without any device."""
        return any(path.device is None for path in self.paths)


class Walk:
    """The feed of one output in one arrangement, walked along the drawn lengths."""

    def __init__(self, harness: Harness, there: Arrangement, paths: Paths) -> None:
        self.there, self.paths = there, paths
        self.conductors: Mapping[str, Conductor] = {c.id: c for c in harness.conductors}
        self.below: dict[int, list[Block]] = {}
        for block in paths.blocks:
            self.below.setdefault(block.entry, []).append(block)

    def from_source(self) -> Iterator[Reach]:
        """Every way from the output's terminal to its first device or its end."""
        for block in self.below.get(self.paths.root, ()):
            first = self._conductors(block)
            if first or self._device(block) is None:
                yield from self._onward(block, first[0] if first else None, 0.0, True)

    def taps(self) -> Iterator[Tap]:
        """All thinner taps."""
        feeding: dict[int, float | None] = {self.paths.root: None}
        for block in self.paths.blocks:
            above = feeding[block.entry]
            if above is None and block.entry != self.paths.root:
                # Behind a device several conductors may start at once: the thickest counts as the trunk.
                above = self._thickest(block.entry)
            own = [c for c in self._conductors(block) if c.gauge is not None]
            after = above
            if self._device(block) is not None:
                after = None
            elif own:
                thinnest = min(own, key=lambda c: _area_mm2(c))
                after = max(_area_mm2(c) for c in own)
                if above is not None and _area_mm2(thinnest) < SAME_AREA * above:
                    yield Tap(thinnest, above, tuple(self._onward(block, thinnest, 0.0, True)))
            for node in block.inside:
                feeding[node] = after

    def _thickest(self, node: int) -> float | None:
        areas = [_area_mm2(c) for b in self.below.get(node, ()) for c in self._conductors(b) if c.gauge is not None]
        return max(areas, default=None)

    def _onward(self, block: Block, first: Conductor | None, before_m: float, sheathed: bool) -> Iterator[Reach]:
        """Paths that begin with a block, each up to its first device or its end; iterative, depth first."""
        todo = [(block, first, before_m, sheathed)]
        while todo:
            here, start, length_m, covered = todo.pop()
            device = self._device(here)
            own = self._conductors(here)
            start = start or (own[0] if own else None)
            if device is not None:
                if start is not None:
                    yield Reach(start, length_m, device, covered)
                continue
            length_m += max((_length_m(c) for c in own), default=0.0)
            covered = covered and all(c.kind is ConductorKind.CORE for c in own)
            following = [b for node in here.inside for b in self.below.get(node, ())]
            if not following and start is not None:
                yield Reach(start, length_m, None, covered)
            todo.extend((b, start, length_m, covered) for b in following)

    def _conductors(self, block: Block) -> list[Conductor]:
        ids = self.there.branches.ids
        return [self.conductors[ids[k]] for k in block.branches if ids[k] in self.conductors]

    def _device(self, block: Block) -> str | None:
        acting = self.there.acting(block)
        return acting[0][1] if acting else None


def _area_mm2(conductor: Conductor) -> float:
    assert conductor.gauge is not None
    return conductor.gauge.area_mm2


def _length_m(conductor: Conductor) -> float:
    return conductor.length_m if conductor.length_m is not None else math.inf
