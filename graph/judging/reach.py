"""How far it is along the drawn conductors to the first device: lengths for taps and for the first device."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from loadloom.graph.model.elements import Conductor, ConductorKind
from loadloom.graph.model.harness import Harness
from loadloom.graph.structure.guards import Arrangement, OutputWays
from loadloom.graph.structure.paths import Block


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
    """The first conductor that is allowed less than the device before it, and its paths onward."""

    conductor: Conductor
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

    def __init__(self, harness: Harness, there: Arrangement, view: OutputWays) -> None:
        self.there, self.output, self.paths = there, view.output, view.feed
        self.conductors: Mapping[str, Conductor] = {c.id: c for c in harness.conductors}
        self.loads = {node for _, *ends in there.loads for node in ends}
        self.below: dict[int, list[Block]] = {}
        for block in self.paths.blocks:
            self.below.setdefault(block.entry, []).append(block)

    def from_source(self) -> Iterator[Reach]:
        """Every way from the output's terminal to its first device or its end."""
        for block in self.below.get(self.paths.root, ()):
            first = self._conductors(block)
            if first or self._device(block) is None:
                yield from self._onward(block, first[0] if first else None, 0.0, True)

    def first_devices(self) -> tuple[str | None, ...]:
        """The first device of every way from the output's terminal; None among them where a way has none."""
        found: dict[str | None, None] = {}
        todo = list(self.below.get(self.paths.root, ()))
        while todo:
            block = todo.pop()
            acting = [name for _, name in self.there.acting(block)]
            found.update(dict.fromkeys(acting))
            bare = self._past_devices(block)
            following = [b for node in bare for b in self.below.get(node, ())]
            if bare & self.loads or not (acting or following):
                found[None] = None
            todo += following
        return tuple(found)

    def taps(self, weak: Callable[[Conductor], bool]) -> Iterator[Tap]:
        """All taps: the first of each run of conductors that are allowed less than the device before."""
        in_run: dict[int, bool] = {self.paths.root: False}
        for block in self.paths.blocks:
            here = in_run[block.entry]
            if self._device(block) is not None:
                here = False
            elif not here:
                first = next((c for c in self._conductors(block) if weak(c)), None)
                if first is not None:
                    yield Tap(first, tuple(self._onward(block, first, 0.0, True)))
                    here = True
            for node in block.inside:
                in_run[node] = here

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
        """A device of a block, where no way leads past all of them."""
        acting = self.there.acting(block)
        return acting[0][1] if acting and self._past_devices(block).isdisjoint(block.exits) else None

    def _past_devices(self, block: Block) -> set[int]:
        """The nodes of a block that are reached from its entry through no device."""
        acting = {place for place, _ in self.there.acting(block)}
        branches = self.there.branches
        beside: dict[int, list[int]] = {}
        for place, k in enumerate(block.branches):
            if place not in acting:
                a, b = int(branches.a[k]), int(branches.b[k])
                beside.setdefault(a, []).append(b)
                beside.setdefault(b, []).append(a)
        found = {block.entry}
        for node in (todo := [block.entry]):
            todo += (new := [other for other in beside.get(node, ()) if other not in found])
            found.update(new)
        return found - {block.entry}


def _length_m(conductor: Conductor) -> float:
    return conductor.length_m if conductor.length_m is not None else math.inf
