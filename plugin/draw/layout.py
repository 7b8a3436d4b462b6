"""Where everything stands: parts in columns by their distance from the sources, wires in channels between columns.

Every wire between neighbouring columns is drawn as lines with its symbol in the middle, each with a height and
with upright lines of its own, so that lines cross but never lie on each other. A wire between columns further apart
runs below all parts; if there were many of these, labels join them instead.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from loadloom.graph.model.naming import natural_key
from loadloom.plugin.draw.shapes import PITCH, Shape

End = tuple[str, str]
"""A part and one of its pins."""

Joined = Iterable[tuple[str, str]]
"""Parts that something joins, two by two."""

LANES_AT_MOST = 24
"""Lines that run below all parts; beyond, labels are easier to follow."""

STEP = 2.54
CONDUCTOR_HALF = 10.16
"""Half the length of a wire's or cable's symbol."""
LABEL_ROOM = 12.7
TOP = 35.56
LEFT = 30.48


@dataclass
class Part:
    """A part to be placed: its shape, its place (mm, y down), whether it is turned over."""

    reference: str
    shape: Shape
    x: float = 0.0
    y: float = 0.0
    mirrored: bool = False

    def pin(self, number: str) -> tuple[float, float]:
        """Where a pin stands."""
        px, py = self.shape.pins[number]
        return round(self.x + (-px if self.mirrored else px), 2), round(self.y - py, 2)

    def faces(self, number: str) -> int:
        """-1 for a pin that faces left, 1 for right."""
        px = self.shape.pins[number][0] * (-1 if self.mirrored else 1)
        return -1 if px < 0 else 1


@dataclass
class Run:
    """A wire, or all cores of a cable: the ends of each core by pins of the part that it is drawn as."""

    reference: str
    shape: Shape
    cores: list[tuple[str, End, str, End]]
    x: float = 0.0
    y: float = 0.0
    mirrored: bool = False

    def as_part(self) -> Part:
        """The symbol where it stands."""
        return Part(self.reference, self.shape, self.x, self.y, self.mirrored)


@dataclass
class Block:
    """Parts side by side that are placed together: one part, or a mated pair."""

    parts: list[Part]
    rank: int = 0
    is_return: bool = False

    @property
    def width(self) -> float:
        """From the left edge to the right, in mm."""
        return sum(part.shape.right - part.shape.left for part in self.parts)

    @property
    def height(self) -> float:
        """From the first pins down to the last, in mm."""
        return max(part.shape.height for part in self.parts)

    def put(self, x: float, y: float) -> None:
        """Place it with its left edge at x and its first pins at height y."""
        for part in self.parts:
            width = part.shape.right - part.shape.left
            part.x = x + (part.shape.right if part.mirrored else -part.shape.left)
            part.y = y
            x += width


@dataclass
class Sheet:
    """What is drawn: parts, lines, junctions, labels (text, place, angle), pins joined to nothing; its size.

    ``tile`` is its column and row among several sheets.
    """

    parts: list[Part] = field(default_factory=list)
    lines: list[tuple[float, float, float, float]] = field(default_factory=list)
    junctions: set[tuple[float, float]] = field(default_factory=set)
    labels: list[tuple[str, float, float, int]] = field(default_factory=list)
    free: list[tuple[float, float]] = field(default_factory=list)
    width: float = 0.0
    height: float = 0.0
    tile: tuple[int, int] = (0, 0)


def ranks(blocks: list[Block], fed: dict[str, int], joined: Joined) -> None:
    """Give every block its column: how many conductors the feed takes to it, by part in ``fed``.

    A block that no feed reaches, as a return's busbar, stands one column before what it is joined to.
    """
    block_of = {part.reference: k for k, block in enumerate(blocks) for part in block.parts}
    near: dict[int, set[int]] = defaultdict(set)
    for a, b in joined:
        if a in block_of and b in block_of and block_of[a] != block_of[b]:
            near[block_of[a]].add(block_of[b])
            near[block_of[b]].add(block_of[a])
    known: dict[int, int] = {}
    for reference, rank in fed.items():
        k = block_of[reference]
        known[k] = min(rank, known.get(k, rank))
    left = [k for k in range(len(blocks)) if k not in known]
    while left:
        k = next((k for k in left if near[k] & known.keys()), left[0])
        there = [known[n] for n in near[k] if n in known]
        known[k] = max(1, max(there) - 1) if there else 0
        blocks[k].is_return = bool(there)
        left.remove(k)
    for k, block in enumerate(blocks):
        block.rank = known[k]


class Layout:
    """Places blocks and runs; ``names`` gives every end the name of its net for labels."""

    def __init__(self, blocks: list[Block], runs: list[Run], names: dict[End, str], ties: list[set[End]]) -> None:
        self.blocks = blocks
        self.runs = runs
        self.names = names
        self.ties = ties
        self.part_of = {part.reference: part for block in blocks for part in block.parts}
        self.rank_of = {part.reference: block.rank for block in blocks for part in block.parts}
        self.sheet = Sheet()
        self.branches: dict[End, list[float]] = defaultdict(list)
        self.labelled: set[End] = set()
        self.label_room = LABEL_ROOM
        self.lanes: dict[tuple[str, str], End] = {}
        self.extras: dict[tuple[int, int], list[tuple[str, str]]] = defaultdict(list)
        self.tracks: dict[tuple[str, str], list[float]] = defaultdict(list)

    def run(self) -> Sheet:
        """Place everything and draw the lines."""
        columns: dict[int, list[Block]] = defaultdict(list)
        for block in self.blocks:
            columns[block.rank].append(block)
        channels: dict[int, list[Run]] = defaultdict(list)
        for run in self.runs:
            channels[self.channel_of(run)].append(run)
        for group in self.ties:
            self.labelled |= {end for end in group if end[0] in self.part_of}
        x = LEFT
        self.find_lanes(channels)
        last = max([*columns, *channels, *(rank for rank, _ in self.extras)], default=0)
        self.heights(columns)
        if channels.get(-1) or self.extras.get((-1, 1)):
            x = self.channel(-1, channels.get(-1, []), x)
        for rank in range(last + 1):
            blocks = columns.get(rank, [])
            width = max((block.width for block in blocks), default=0.0)
            for block in blocks:
                block.put(x, block.parts[0].y)
            x += width
            if channels.get(rank) or columns.get(rank + 1) or self.extras.get((rank, -1)):
                x = self.channel(rank, channels.get(rank, []), x)
        self.draw_lanes()
        self.finish()
        self.sheet.width = x + LABEL_ROOM
        return self.sheet

    def find_lanes(self, channels: dict[int, list[Run]]) -> None:
        """Ends of runs that are not beside their channel: a line below all parts leads there, if there are few."""
        found = {}
        for rank, runs in channels.items():
            for run in runs:
                run.mirrored = self.is_turned(run, rank)
                for pin_one, one, pin_two, two in run.cores:
                    for pin, end in ((pin_one, one), (pin_two, two)):
                        if end[0] in self.part_of and not self.is_beside(run, pin, end, rank):
                            found[run.reference, pin] = end
        ends = [end for run in self.runs for _, one, _, two in run.cores for end in (one, two)]
        away = any(reference not in self.part_of for reference, _ in ends)
        self.label_room = LABEL_ROOM if self.labelled or away or len(found) > LANES_AT_MOST else STEP
        if len(found) <= LANES_AT_MOST:
            self.lanes = found
            for key, end in found.items():
                side = self.side(end)
                self.extras[self.rank_of[end[0]] - (side < 0), -side].append(key)

    def is_beside(self, run: Run, pin: str, end: End, rank: int) -> bool:
        """Whether an end stands at the channel that a run is drawn in, on the side of the run's pin."""
        side = run.as_part().faces(pin)
        return self.rank_of[end[0]] == (rank if side < 0 else rank + 1) and self.side(end) == -side

    def draw_lanes(self) -> None:
        """The lines below all parts, the one with the shortest way nearest."""
        y = self.sheet.height + PITCH
        ends = sorted(self.lanes.items(), key=lambda item: abs(self.tracks[item[0]][0] - self.tracks[item[0]][1]))
        runs = {run.reference: run for run in self.runs}
        for key, end in ends:
            near, far = sorted(self.tracks[key], key=lambda t: abs(t - runs[key[0]].x))
            _, from_y = runs[key[0]].as_part().pin(key[1])
            _, to_y = self.part_of[end[0]].pin(end[1])
            self.line(near, from_y, near, y)
            self.line(near, y, far, y)
            self.line(far, y, far, to_y)
            self.branches[end].append(far)
            y += STEP
        self.sheet.height = max(self.sheet.height, y + PITCH)

    def heights(self, columns: dict[int, list[Block]]) -> None:
        """Stack every column, each block as near as may be to the middle of what it is joined to on its left."""
        neighbours: dict[str, list[str]] = defaultdict(list)
        for run in self.runs:
            for _, one, _, two in run.cores:
                neighbours[one[0]].append(two[0])
                neighbours[two[0]].append(one[0])
        placed: dict[str, float] = {}
        for rank in sorted(columns):

            def wish(block: Block) -> tuple[bool, float, object]:
                there = [placed[n] for part in block.parts for n in neighbours[part.reference] if n in placed]
                middle = sum(there) / len(there) if there else 0.0
                return block.is_return, middle, natural_key(block.parts[0].reference)

            y = TOP
            for block in sorted(columns[rank], key=wish):
                for part in block.parts:
                    part.y = y
                    placed[part.reference] = y + block.height / 2
                y += round((block.height + 4 * PITCH) / PITCH) * PITCH
            self.sheet.height = max(self.sheet.height, y)

    def fits(self, one: End, two: End) -> bool:
        """Whether a line can run straight from one to the other through one channel."""
        if one[0] not in self.part_of or two[0] not in self.part_of:
            return False
        left, right = (one, two) if self.rank_of[one[0]] < self.rank_of[two[0]] else (two, one)
        neighbours = self.rank_of[right[0]] == self.rank_of[left[0]] + 1
        return neighbours and self.side(left) > 0 and self.side(right) < 0

    def side(self, end: End) -> int:
        """-1 where a part's pin faces left, 1 for right."""
        return self.part_of[end[0]].faces(end[1])

    def channel_of(self, run: Run) -> int:
        """The channel that a run is drawn in: between its ends' columns, else beside one of them."""
        for _, one, _, two in run.cores:
            if self.fits(one, two):
                return min(self.rank_of[one[0]], self.rank_of[two[0]])
        for _, one, _, two in run.cores:
            for end in (one, two):
                if end[0] in self.part_of:
                    return self.rank_of[end[0]] - (self.side(end) < 0)
        return 0

    def channel(self, rank: int, runs: list[Run], x: float) -> float:
        """Place the runs of one channel that begins at x, with their lines; gives where it ends."""
        left: list[tuple[Run, str, End]] = []
        right: list[tuple[Run, str, End]] = []
        for run in runs:
            run.mirrored = self.is_turned(run, rank)
            for pin_one, one, pin_two, two in run.cores:
                for pin, end in ((pin_one, one), (pin_two, two)):
                    at = run.as_part().faces(pin)
                    (left if at < 0 else right).append((run, pin, end))
        more_left, more_right = self.extras[rank, -1], self.extras[rank, 1]
        # The place nearest to a run's pin is its label's: a label on another run's line would join the two.
        left_gutter = x + self.label_room + STEP * (len(left) + len(more_left) + 2)
        middle = round((left_gutter + CONDUCTOR_HALF) / STEP) * STEP
        start_right = middle + CONDUCTOR_HALF
        beyond = round((start_right + STEP * (len(right) + len(more_right) + 2) + self.label_room) / STEP) * STEP
        for k, key in enumerate(more_left):
            self.tracks[key].append(round(left_gutter - STEP * (len(left) + k + 2), 2))
        for k, key in enumerate(more_right):
            self.tracks[key].append(round(start_right + STEP * (len(right) + k + 2), 2))
        free_from = TOP - PITCH
        for run in sorted(runs, key=lambda run: (self.wish(run), natural_key(run.reference))):
            # Rows of runs lie between those of parts, so that no two level lines meet.
            first = math.ceil((free_from + run.shape.above - STEP) / PITCH - 1e-6) * PITCH + STEP
            y = max(first, round((self.wish(run) - run.shape.height / 2 - STEP) / PITCH) * PITCH + STEP)
            run.x, run.y = middle, round(y, 2)
            free_from = y + run.shape.below
            self.sheet.parts.append(run.as_part())
        self.sheet.height = max(self.sheet.height, free_from + PITCH)
        for side, found in ((-1, left), (1, right)):
            found.sort(key=lambda item: item[0].as_part().pin(item[1])[1])
            for k, (run, pin, there) in enumerate(found):
                track = start_right + STEP * (k + 2) if side > 0 else left_gutter - STEP * (k + 2)
                self.connect(run, pin, there, rank, side, round(track, 2))
        return float(beyond)

    def is_turned(self, run: Run, rank: int) -> bool:
        """Whether most of a run's first ends are on its right."""
        votes = 0
        for _, one, _, two in run.cores:
            for end, weight in ((one, 1), (two, -1)):
                if end[0] in self.part_of:
                    votes += weight * (1 if self.rank_of[end[0]] > rank else -1)
        return votes > 0

    def wish(self, run: Run) -> float:
        """The height that would be nearest to what a run joins."""
        there = [
            self.part_of[e[0]].pin(e[1])[1] for _, a, _, b in run.cores for e in (a, b) if e[0] in self.part_of
        ]
        return sum(there) / len(there) if there else TOP

    def connect(self, run: Run, pin: str, end: End, rank: int, side: int, track: float) -> None:
        """Lines from a run's pin to a part's, or a label at either."""
        x, y = run.as_part().pin(pin)
        if end[0] in self.part_of and self.is_beside(run, pin, end, rank):
            _, py = self.part_of[end[0]].pin(end[1])
            self.line(x, y, track, y)
            self.line(track, y, track, py)
            self.branches[end].append(track)
            return
        if (run.reference, pin) in self.lanes:
            self.line(x, y, track, y)
            self.tracks[run.reference, pin].append(track)
            return
        self.line(x, y, x + side * STEP, y)
        self.label(self.names[end], x + side * STEP, y, side)
        if end[0] in self.part_of:
            self.labelled.add(end)

    def line(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """Draw a line, unless it has no length."""
        if (x0, y0) != (x1, y1):
            self.sheet.lines.append((round(x0, 2), round(y0, 2), round(x1, 2), round(y1, 2)))

    def label(self, text: str, x: float, y: float, side: int) -> None:
        """Put a label, its text running away from the part."""
        self.sheet.labels.append((text, round(x, 2), round(y, 2), 0 if side > 0 else 180))

    def finish(self) -> None:
        """The lines out of every part's pins, junctions where they branch, labels, pins joined to nothing."""
        for part in self.parts():
            self.sheet.parts.append(part)
            for number in part.shape.pins:
                end = (part.reference, number)
                px, py = part.pin(number)
                side = part.faces(number)
                x = px
                for k, track in enumerate(sorted(self.branches.get(end, ()), key=lambda t: abs(t - px))):
                    self.line(x, py, track, py)
                    x = track
                    if k < len(self.branches[end]) - 1:
                        self.sheet.junctions.add((track, py))
                if end in self.labelled:
                    at = px + side * STEP
                    if end not in self.branches:
                        self.line(px, py, at, py)
                    self.label(self.names[end], at, py, side)
                elif end not in self.branches:
                    self.sheet.free.append((px, py))

    def parts(self) -> Iterator[Part]:
        """Every part of every block."""
        for block in self.blocks:
            yield from block.parts
