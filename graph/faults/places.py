"""Where a fault can be: every pair of points of a piece between which insulation or a load can fail.

(a) across every load; (b) from every point of the feed, along its conductors, to its output's return
terminal, to every conductor of lower potential that shares its cable, bundle or connector, and to the chassis;
(c) between neighbouring contacts of a connector; (d) inside a source. Ends of conductors are nodes; points
between are added by the search where they can matter.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np

from loadloom.graph.faults.piece import TINY, Piece, Variant
from loadloom.graph.faults.splice_cuts import Cuts, find_cuts, splices_in
from loadloom.graph.harness import Harness
from loadloom.graph.naming import natural_key
from loadloom.graph.solving.network import CHASSIS_NODE, IntArray

KINDS = ("load", "contacts", "chassis", "pinch", "wires", "source")
"""What fails, in the order in which equally bad places are named."""


@dataclass(frozen=True, slots=True)
class Point:
    """A point of a piece: ``share`` of the way from node ``a`` to node ``b`` along branch ``branch`` (-1 at a
    node).
    """

    a: int
    b: int
    share: float = 0.0
    branch: int = -1

    @classmethod
    def at_node(cls, node: int) -> Point:
        """A node."""
        return cls(node, node)


@dataclass(frozen=True, slots=True)
class Place:
    """A fault from ``high`` to ``low``. ``at`` and ``to`` name the two points as results do (design, section 2)."""

    high: Point
    low: Point
    kind: str
    at: str
    to: str


@dataclass(frozen=True, slots=True)
class OwnEnd:
    """The part of conductor ``branch`` next to a place on it, which carries the fault current itself.

    ``share`` is where on it; ``at_high`` whether the place's high or low point lies on it.
    """

    place: int
    branch: int
    share: float
    at_high: bool


@dataclass
class Places:
    """Places without doubles, and the conductors on which they lie."""

    listed: list[Place] = field(default_factory=list)
    own: list[OwnEnd] = field(default_factory=list)
    _known: dict[tuple[Point, Point], int] = field(default_factory=dict)

    def add(self, place: Place) -> int:
        """Position of a place; an equal one under another name is kept once, under its first name."""
        key = (place.high, place.low)
        if key not in self._known:
            self._known[key] = len(self.listed)
            self.listed.append(place)
        return self._known[key]


@dataclass(frozen=True)
class PieceGeometry:
    """What of a harness a piece's places depend on, found once: conductors, connectors, shared bodies.

    ``only``: the parts and splices that are asked for; None = all.
    """

    harness: Harness
    piece: Piece
    only: frozenset[str] | None = None

    @property
    def has_any_asked(self) -> bool:
        """Whether anything that is asked for is in the piece."""
        if self.only is None:
            return True
        splices = (name for name, _ in splices_in(self.harness, self.piece))
        return not self.only.isdisjoint(self.piece.branches.ids) or not self.only.isdisjoint(splices)

    @cached_property
    def numbers(self) -> IntArray:
        """(B,) position of every branch in ``Harness.two_ended``, -1 for outputs and bonds."""
        ids, parts = self.piece.branches.ids, self.harness.two_ended
        found = self.piece.origin.copy()
        # Edges of a whole network are the harness' parts in their order; a piece cut out of one is looked up.
        if len(found) == len(ids):
            found[found >= len(parts)] = -1
            found[self.piece.branches.edge_count :] = -1
            known = np.flatnonzero(found >= 0)
            if all(ids[k] == parts[n].id for k, n in zip(known.tolist(), found[known].tolist(), strict=True)):
                return found
        place = {part.id: n for n, part in enumerate(parts)}
        return np.array([place.get(name, -1) for name in ids], dtype=np.int64)

    @cached_property
    def conductors(self) -> tuple[int, ...]:
        """Branches that are conductors."""
        count = len(self.harness.conductors)
        return tuple(np.flatnonzero((self.numbers >= 0) & (self.numbers < count)).tolist())

    @cached_property
    def parts(self) -> tuple[int, ...]:
        """Branches that are answered for: conductors, contacts, switches and diodes."""
        first = len(self.harness.conductors) + len(self.harness.contacts)
        is_device = (self.numbers >= first) & (self.numbers < first + len(self.harness.devices))
        found = np.flatnonzero((self.numbers >= 0) & ~is_device).tolist()
        ids = self.piece.branches.ids
        return tuple(k for k in found if self.only is None or ids[k] in self.only)

    @cached_property
    def cuts(self) -> Cuts:
        """Sums of currents at the splices, by which these are answered for."""
        splices = (name for name, _ in splices_in(self.harness, self.piece))
        if self.only is not None and self.only.isdisjoint(splices):
            return Cuts((), np.zeros((0, len(self.piece.branches.ids))), frozenset())
        return find_cuts(self.harness, self.piece)

    @cached_property
    def terminals(self) -> Mapping[int, tuple[int, ...]]:
        """For every island that is a feed, the nodes that a pinch on it is tried against."""
        piece, branches = self.piece, self.piece.branches
        bond = piece.node_index.get(CHASSIS_NODE)
        common = {int(piece.island[branches.a[s]]) for s in piece.sources}
        if bond is not None:
            common.add(int(piece.island[bond]))
        found: dict[int, dict[int, None]] = defaultdict(dict)
        plus_islands = [int(piece.island[branches.b[s]]) for s in piece.sources]
        for s, out in zip(piece.sources, plus_islands, strict=True):
            minus, plus = int(branches.a[s]), int(branches.b[s])
            back = int(piece.island[minus])
            others = [int(piece.island[branches.a[t]]) for t in piece.sources if t != s]
            if out == back:
                continue  # shorted by copper; nothing can be said about feeds
            if out in others and back not in others and out in common and back not in plus_islands:
                found[back][plus] = None  # a negative rail: its minus is the feed
            else:
                found[out][minus] = None
        if bond is not None:
            for island in found:
                if island != int(piece.island[bond]):
                    found[island][bond] = None
        return {island: tuple(nodes) for island, nodes in found.items()}

    @cached_property
    def end_names(self) -> Mapping[int, str]:
        """A name for every node: the end of a conductor there, else the joint itself."""
        names: dict[int, str] = {}
        branches = self.piece.branches
        for k in self.conductors:
            names.setdefault(int(branches.a[k]), f"{branches.ids[k]}:0.00")
            names.setdefault(int(branches.b[k]), f"{branches.ids[k]}:1.00")
        return names

    def name(self, node: int) -> str:
        """How results name a node."""
        return self.end_names.get(node, self.piece.node_ids[node])

    @cached_property
    def _contact_nodes(self) -> tuple[IntArray, IntArray, IntArray, list[str]]:
        """The piece's contacts: their two nodes, the number of their connector, and the connectors' names."""
        branches, first, contacts = self.piece.branches, len(self.harness.conductors), self.harness.contacts
        at = np.flatnonzero((self.numbers >= first) & (self.numbers < first + len(contacts)))
        numbers: dict[str, int] = {}
        of = [numbers.setdefault(contacts[k].connector, len(numbers)) for k in (self.numbers[at] - first).tolist()]
        return branches.a[at], branches.b[at], np.array(of, dtype=np.int64), list(numbers)

    @cached_property
    def bodies(self) -> tuple[tuple[int, ...], ...]:
        """Groups of conductors of more than one island that share a cable, a bundle or a connector."""
        piece, branches = self.piece, self.piece.branches
        groups: dict[tuple[str, str], dict[int, None]] = defaultdict(dict)
        for index in self.conductors:
            conductor = self.harness.conductors[int(self.numbers[index])]
            if conductor.cable:
                groups["cable", conductor.cable][index] = None
            if conductor.bundle:
                groups["bundle", conductor.bundle][index] = None
        found = [tuple(sorted(members)) for members in groups.values()]
        found += self._in_connectors()
        island = piece.island[branches.a]
        return tuple(dict.fromkeys(body for body in found if len({int(island[k]) for k in body}) > 1))

    def _in_connectors(self) -> list[tuple[int, ...]]:
        """Conductors that end at the contacts of each connector that has conductors of several islands."""
        piece, branches = self.piece, self.piece.branches
        one, two, connector, names = self._contact_nodes
        conductors = np.array(self.conductors, dtype=np.int64)
        if not len(one) or not len(conductors):
            return []
        # Every connector at every node, joined with every conductor that ends there.
        count = len(names)
        at = np.unique(np.concatenate([one, two]) * count + np.concatenate([connector, connector]))
        node, of = at // count, at % count
        ends = np.concatenate([branches.a[conductors], branches.b[conductors]])
        owner = np.concatenate([conductors, conductors])
        first = np.searchsorted(node, ends)
        width = np.searchsorted(node, ends, side="right") - first
        member = np.repeat(owner, width)
        body = of[np.repeat(first - (np.cumsum(width) - width), width) + np.arange(len(member))]
        pairs = np.unique(body * len(branches.a) + member)
        body, member = pairs // len(branches.a), pairs % len(branches.a)
        island = piece.island[branches.a[member]]
        least, most = np.full(count, np.iinfo(np.int64).max), np.full(count, -1)
        np.minimum.at(least, body, island)
        np.maximum.at(most, body, island)
        mixed = least[body] < most[body]
        body, member = body[mixed], member[mixed]
        cuts = np.flatnonzero(np.diff(body)) + 1
        return [tuple(part.tolist()) for part in np.split(member, cuts)] if len(member) else []

    @cached_property
    def neighbours(self) -> tuple[tuple[int, int, str, str], ...]:
        """Pairs of nodes on the same side of neighbouring contacts, with the contacts' ids."""
        piece = self.piece
        one, two, number, names = self._contact_nodes
        # A connector of one island has no two contacts between which a voltage stands.
        islands = np.concatenate([piece.island[one], piece.island[two]])
        least, most = np.full(len(names), np.iinfo(np.int64).max), np.full(len(names), -1)
        np.minimum.at(least, np.concatenate([number, number]), islands)
        np.maximum.at(most, np.concatenate([number, number]), islands)
        mixed = {names[n] for n in np.flatnonzero(least < most).tolist()}
        contacts = {c.id: c for c in self.harness.contacts if c.connector in mixed}
        found = []
        for connector in self.harness.connectors:
            if connector.id not in mixed:
                continue
            for first, second in _beside(connector.rows, connector.contact_ids):
                near, other = contacts.get(first), contacts.get(second)
                if near is None or other is None:
                    continue
                for x, y in ((near.node_a, other.node_a), (near.node_b, other.node_b)):
                    n, m = piece.node_index.get(x), piece.node_index.get(y)
                    if n is not None and m is not None and piece.island[n] != piece.island[m]:
                        found.append((n, m, first, second))
        return tuple(found)


def _beside(rows: tuple[tuple[str, ...], ...], every: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    """Neighbouring contacts: beside each other in a row, and above each other or aslant in the next one."""
    if not rows:
        yield from ((every[i], every[j]) for i in range(len(every)) for j in range(i + 1, len(every)))
        return
    for upper, lower in zip(rows, (*rows[1:], ()), strict=True):
        yield from pairwise(upper)
        for i, name in enumerate(upper):
            yield from ((name, lower[j]) for j in (i - 1, i, i + 1) if 0 <= j < len(lower))


def find_places(geometry: PieceGeometry, variant: Variant, *, every_node: bool = False) -> Places:
    """All places of one variant of a piece, at nodes. A dead output has one place only: inside itself. With
    ``every_node`` no point in a body of conductors stands for others.
    """
    places = Places()
    piece = geometry.piece
    if variant.dead >= 0:
        plus, minus = int(piece.branches.b[variant.dead]), int(piece.branches.a[variant.dead])
        _try(places, variant, plus, minus, "source", piece.branches.ids[variant.dead], piece.node_ids[minus])
        return places
    _across_loads(places, geometry, variant)
    for n, m, first, second in geometry.neighbours:
        high, low = (first, second) if variant.flows.own_v[n] >= variant.flows.own_v[m] else (second, first)
        _try(places, variant, n, m, "contacts", f"{high}|{low}", low)
    _to_terminals(places, geometry, variant)
    for body in geometry.bodies:
        _within_body(places, geometry, variant, body, every_node=every_node)
    return places


def _try(places: Places, variant: Variant, n: int, m: int, kind: str, at: str, to: str) -> int | None:
    """Add a fault between two nodes, the higher potential first; None where no voltage stands between them."""
    flows = variant.flows
    if flows.piece[n] != flows.piece[m]:
        return None
    voltage = flows.own_v[n] - flows.own_v[m]
    if abs(voltage) <= TINY:
        return None
    high, low = (n, m) if voltage > 0.0 else (m, n)
    return places.add(Place(Point.at_node(high), Point.at_node(low), kind, at, to))


def _across_loads(places: Places, geometry: PieceGeometry, variant: Variant) -> None:
    index = geometry.piece.node_index
    for load in geometry.harness.loads:
        plus, minus = index.get(load.node_plus), index.get(load.node_minus)
        if load.fitted and plus is not None and minus is not None:
            _try(places, variant, plus, minus, "load", load.id, load.node_minus)


def _to_terminals(places: Places, geometry: PieceGeometry, variant: Variant) -> None:
    piece, branches = geometry.piece, geometry.piece.branches
    for island, nodes in geometry.terminals.items():
        for terminal in nodes:
            name = piece.node_ids[terminal]
            kind = "chassis" if name == CHASSIS_NODE else "pinch"
            for node in np.flatnonzero(piece.island == island).tolist():
                _try(places, variant, node, terminal, kind, geometry.name(node), name)
            for k in geometry.conductors:
                if piece.island[branches.a[k]] == island:
                    for node, share in ((int(branches.a[k]), 0.0), (int(branches.b[k]), 1.0)):
                        where = _try(places, variant, node, terminal, kind, geometry.name(node), name)
                        if where is not None:
                            places.own.append(OwnEnd(where, k, share, places.listed[where].high.a == node))


def _within_body(
    places: Places, geometry: PieceGeometry, variant: Variant, body: Iterable[int], *, every_node: bool
) -> None:
    """From conductors of a feed to every other conductor of lower potential in the same body.

    Of the points of one island with one output that the same devices feed, the one with the least loop
    resistance stands for all: to what lies outside the island they differ in nothing else.
    """
    piece, branches, flows = geometry.piece, geometry.piece.branches, variant.flows
    by_island: dict[int, list[int]] = defaultdict(list)
    for k in body:
        by_island[int(piece.island[branches.a[k]])].append(k)
    for island, feeds in by_island.items():
        if island not in geometry.terminals or len(by_island) == 1:
            continue
        nodes = list(dict.fromkeys(int(n) for k in feeds for n in (branches.a[k], branches.b[k])))
        for node in nodes if every_node else _standing_for_all(geometry, variant, island, nodes):
            for other, returns in by_island.items():
                if other == island:
                    continue
                for k in returns:
                    for end, share in ((int(branches.a[k]), 0.0), (int(branches.b[k]), 1.0)):
                        if flows.piece[node] != flows.piece[end] or (
                            flows.own_v[node] - flows.own_v[end] <= TINY and other in geometry.terminals
                        ):
                            continue
                        label = f"{branches.ids[k]}:{share:.2f}"
                        where = _try(places, variant, node, end, "wires", geometry.name(node), label)
                        if where is not None:
                            at_high = places.listed[where].high.a == end
                            places.own.append(OwnEnd(where, k, share, at_high))


def _standing_for_all(geometry: PieceGeometry, variant: Variant, island: int, nodes: list[int]) -> list[int]:
    piece, branches, fall = geometry.piece, geometry.piece.branches, variant.flows.fall_ohm
    touching = [s for s in piece.sources if island in (piece.island[branches.a[s]], piece.island[branches.b[s]])]
    if len(touching) != 1:
        return nodes
    terminal = geometry.terminals[island][0]
    best: dict[bytes, tuple[float, int]] = {}
    keys = np.round(variant.rows.per_node[:, nodes] - variant.rows.per_node[:, [terminal]], 9) + 0.0
    for column, node in enumerate(nodes):
        loop = float(fall[node, node] + fall[terminal, terminal] - 2.0 * fall[node, terminal])
        key = keys[:, column].tobytes()
        if key not in best or loop < best[key][0]:
            best[key] = (loop, node)
    return sorted((node for _, node in best.values()), key=lambda n: natural_key(geometry.name(n)))
