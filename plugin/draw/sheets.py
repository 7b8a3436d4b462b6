"""A drawing too large for one sheet, cut into several: parts that belong together stay on one sheet.

The drawing is laid out whole first, and cut where it lies. Parts that are joined without a conductor stay together,
since a joint is one place. A wire between two sheets stands on one of them, and a label on the other says where it
goes.
"""

from __future__ import annotations

from collections import defaultdict

import networkx as nx

from loadloom.graph.model.naming import natural_key
from loadloom.plugin.draw.layout import Block, End, Layout, Run, Sheet

Tile = tuple[int, int]
"""Column and row of a sheet."""

LARGEST_MM = (570.0, 370.0)
"""Room on an A2 sheet, beside its frame and above its title block; the largest that people print and read."""


TRIES = 3
"""Times that a drawing is cut more finely where a sheet is still too large; what belongs together may be larger."""


def lay_out(blocks: list[Block], runs: list[Run], names: dict[End, str], ties: list[set[End]]) -> list[Sheet]:
    """One sheet, or several where one would be larger than A2, from the sources to the loads."""
    whole = Layout(blocks, runs, names, ties).run()
    if whole.width <= LARGEST_MM[0] and whole.height <= LARGEST_MM[1]:
        return [whole]
    place = {part.reference: (block.parts[0].x, block.parts[0].y) for block in blocks for part in block.parts}
    across = int(whole.width // LARGEST_MM[0]) + 1
    sheets: list[Sheet] = []
    for more in range(TRIES):
        sheets = _sheets(blocks, runs, names, ties, _tiles(place, blocks, ties, across + more, {}))
        rows = {sheet.tile[0]: int(sheet.height // LARGEST_MM[1]) + 1 for sheet in sheets}
        if max(rows.values()) > 1:
            sheets = _sheets(blocks, runs, names, ties, _tiles(place, blocks, ties, across + more, rows))
        if all(sheet.width <= LARGEST_MM[0] and sheet.height <= LARGEST_MM[1] for sheet in sheets):
            break
    return sheets


def _sheets(
    blocks: list[Block], runs: list[Run], names: dict[End, str], ties: list[set[End]], tile_of: dict[str, Tile]
) -> list[Sheet]:
    home = {run.reference: _home(run, tile_of) for run in runs}
    return [_one(tile, blocks, runs, names, ties, tile_of, home) for tile in sorted(set(tile_of.values()))]


def _one(
    tile: Tile,
    blocks: list[Block],
    runs: list[Run],
    names: dict[End, str],
    ties: list[set[End]],
    tile_of: dict[str, Tile],
    home: dict[str, Tile],
) -> Sheet:
    """The sheet of one tile, with labels where wires of other sheets land."""
    here = [block for block in blocks if tile_of[block.parts[0].reference] == tile]
    layout = Layout(here, [run for run in runs if home[run.reference] == tile], names, ties)
    for run in runs:
        for _, one, _, two in run.cores:
            layout.labelled |= {end for end in (one, two) if home[run.reference] != tile == tile_of.get(end[0])}
    sheet = layout.run()
    sheet.tile = tile
    return sheet


def _tiles(
    place: dict[str, tuple[float, float]],
    blocks: list[Block],
    ties: list[set[End]],
    across: int,
    rows: dict[int, int],
) -> dict[str, Tile]:
    """The tile of every part by its place in the whole: so many columns, each of so many rows."""
    belong: nx.Graph = nx.Graph()
    for block in blocks:
        nx.add_path(belong, [part.reference for part in block.parts])
    for group in ties:
        nx.add_path(belong, sorted({reference for reference, _ in group}))
    width, height = (max((at[k] for at in place.values()), default=0.0) + 1.0 for k in (0, 1))
    found: dict[str, Tile] = {}
    for cluster in nx.connected_components(belong):
        first = min(cluster, key=lambda reference: (place[reference], natural_key(reference)))
        x, y = place[first]
        column = int(x / width * across)
        found |= dict.fromkeys(cluster, (column, int(y / height * rows.get(column, 1))))
    return found


def _home(run: Run, tile_of: dict[str, Tile]) -> Tile:
    """The sheet that a run is drawn on: that of most of its ends, the one nearer to the sources if it is a tie."""
    counts: dict[tuple[int, int], int] = defaultdict(int)
    for _, one, _, two in run.cores:
        for end in (one, two):
            if end[0] in tile_of:
                counts[tile_of[end[0]]] += 1
    return min(counts, key=lambda tile: (-counts[tile], tile)) if counts else min(tile_of.values())
