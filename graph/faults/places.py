"""Where a fault can be: every pair of points of a piece between which insulation or a load can fail.

(a) Across every load. (b) From every point of a rail (``structure.rails``), along its conductors, to the return
terminals of the outputs that feed it and to the chassis. (c) Between two conductors of one cable or bundle, all
along both. (d) Between two contacts of one connector: a conductor that ends at a contact, or at a joint where one
lands, is touched there with that end only. (e) Inside a source.

The drawing decides what can touch, before anything opens. A state decides only whether a voltage stands there. Ends
of conductors are nodes; points between are added by the search where they can matter.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from loadloom.graph.circuit.network import CHASSIS_NODE, IntArray
from loadloom.graph.faults.budgets import MOST_SHARED
from loadloom.graph.faults.piece import Piece, Variant
from loadloom.graph.faults.splice_cuts import Cuts, find_cuts, splices_in
from loadloom.graph.faults.tolerances import TINY
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import natural_key
from loadloom.graph.structure.bodies import conductor_bodies, contact_bodies

KINDS = ("load", "contacts", "chassis", "pinch", "wires", "source")
"""What fails, in the order in which equally bad places are named."""

NAMED_BY_POINTS = ("chassis", "pinch", "wires")
"""Kinds of places whose two names are those of their two points, the higher potential first."""


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
    """Places without doubles, and the conductors on which they lie. ``name``: under which a variant keeps them."""

    listed: list[Place] = field(default_factory=list)
    own: list[OwnEnd] = field(default_factory=list)
    name: str = ""
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

    def asks_for(self, name: str) -> bool:
        """Whether a part or splice is asked for."""
        return self.only is None or name in self.only

    @classmethod
    def of(cls, harness: Harness, piece: Piece, only: frozenset[str] | None = None) -> PieceGeometry:
        """The geometry of a piece, of which what hangs on no setting is found once."""
        if len(piece.node_ids) > MOST_SHARED:
            return cls(harness, piece, only)
        return piece.keep("geometry", lambda: cls(harness, piece)).asking(only, piece)

    def asking(self, only: frozenset[str] | None, piece: Piece | None = None) -> PieceGeometry:
        """The same geometry, asked for some parts and splices only; ``piece``: the same one, set otherwise."""
        other = replace(self, only=only, piece=piece or self.piece)
        shared = ("numbers", "conductors", "_branch_at", "bodies", "mated", "end_names")
        vars(other).update({name: getattr(self, name) for name in shared})
        return other

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
        return tuple(k for k in found if self.asks_for(ids[k]))

    @cached_property
    def cuts(self) -> Cuts:
        """Sums of currents at the splices, by which these are answered for."""
        splices = (name for name, _ in splices_in(self.harness, self.piece))
        if self.only is not None and self.only.isdisjoint(splices):
            return Cuts((), np.zeros((0, len(self.piece.branches.ids))), frozenset())
        return find_cuts(self.harness, self.piece)

    @property
    def island(self) -> IntArray:
        """(N,) the piece of copper of every node, as drawn."""
        return self.piece.rails.island

    @property
    def terminals(self) -> Mapping[int, tuple[int, ...]]:
        """For every island that is a rail, the nodes that its conductors can touch anywhere."""
        return self.piece.rails.returns

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
    def _branch_at(self) -> Mapping[int, int]:
        """The branch of every part that is in the piece, by its position in ``Harness.two_ended``."""
        return {n: k for k, n in enumerate(self.numbers.tolist()) if n >= 0}

    @cached_property
    def bodies(self) -> tuple[tuple[int, ...], ...]:
        """Groups of conductors of more than one island that share a cable or a bundle."""
        island = self.piece.island[self.piece.branches.a]
        found = [
            tuple(sorted(self._branch_at[n] for n in members if n in self._branch_at))
            for members in conductor_bodies(self.harness)
        ]
        return tuple(dict.fromkeys(body for body in found if len({int(island[k]) for k in body}) > 1))

    @cached_property
    def mated(self) -> tuple[tuple[tuple[int, str], ...], ...]:
        """For every side of a connector with contacts of more than one island: the node and id of each contact."""
        branches, island, first = self.piece.branches, self.piece.island, len(self.harness.conductors)
        found = []
        for members in contact_bodies(self.harness):
            here = [self._branch_at[first + n] for n in members if first + n in self._branch_at]
            for nodes in (branches.a, branches.b):
                side: dict[int, str] = {}
                for k in here:
                    side.setdefault(int(nodes[k]), branches.ids[k])
                if len({int(island[node]) for node in side}) > 1:
                    found.append(tuple(side.items()))
        return tuple(found)


def find_places(geometry: PieceGeometry, variant: Variant, *, every_node: bool = False) -> Places:
    """All places of one variant of a piece, at nodes. A dead output has one place only: inside itself. With
    ``every_node`` no point in a body of conductors stands for others.
    """
    # Which points stand for others hangs on the devices between them.
    if every_node:
        return variant.keep_copper("every node", lambda: _find_places(geometry, variant, every_node=True))
    return variant.keep("places", lambda: _find_places(geometry, variant, every_node=False))


def _find_places(geometry: PieceGeometry, variant: Variant, *, every_node: bool) -> Places:
    tries = _Tries(variant, Places(name="every node" if every_node else "places"))
    piece = geometry.piece
    if variant.dead >= 0:
        plus, minus = int(piece.branches.b[variant.dead]), int(piece.branches.a[variant.dead])
        tries.add(plus, minus, "source", piece.branches.ids[variant.dead], piece.node_ids[minus])
        return tries.places
    _across_loads(tries, geometry)
    _to_terminals(tries, geometry)
    for body in geometry.bodies:
        _within_body(tries, geometry, variant, body, every_node=every_node)
    for side in geometry.mated:
        _within_connector(tries, geometry, variant, side, every_node=every_node)
    return tries.places


class _Tries:
    """Places that are tried between the nodes of a variant."""

    def __init__(self, variant: Variant, places: Places) -> None:
        self.places = places
        # Single numbers are read faster from lists.
        self.own_v: list[float] = variant.flows.own_v.tolist()
        self.piece: list[int] = variant.flows.piece.tolist()
        self._points = [Point.at_node(n) for n in range(len(self.own_v))]
        self._own: set[OwnEnd] = set()

    def add(self, n: int, m: int, kind: str, at: str, to: str) -> int | None:
        """Add a fault between two nodes, the higher potential first; None where no voltage stands between them."""
        if n == m or self.piece[n] != self.piece[m]:
            return None
        voltage = self.own_v[n] - self.own_v[m]
        if abs(voltage) <= TINY:
            return None
        if voltage < 0.0:
            n, m = m, n
            if kind in NAMED_BY_POINTS:
                at, to = to, at
        return self.places.add(Place(self._points[n], self._points[m], kind, at, to))

    def add_on(self, k: int, share: float, n: int, m: int, kind: str, at: str, to: str) -> None:
        """Add a fault between two nodes of which the first is an end of conductor ``k``."""
        where = self.add(n, m, kind, at, to)
        if where is None:
            return
        end = OwnEnd(where, k, share, self.places.listed[where].high.a == n)
        if end not in self._own:  # a conductor in the same cable or bundle can end at the terminal itself
            self._own.add(end)
            self.places.own.append(end)


def _across_loads(tries: _Tries, geometry: PieceGeometry) -> None:
    index = geometry.piece.node_index
    for load in geometry.harness.loads:
        plus, minus = index.get(load.node_plus), index.get(load.node_minus)
        if load.fitted and plus is not None and minus is not None:
            tries.add(plus, minus, "load", load.id, load.node_minus)


def _to_terminals(tries: _Tries, geometry: PieceGeometry) -> None:
    piece, branches = geometry.piece, geometry.piece.branches
    ends_a, ends_b, island = branches.a.tolist(), branches.b.tolist(), geometry.island.tolist()
    for of, nodes in geometry.terminals.items():
        here = [n for n, its in enumerate(island) if its == of]
        conductors = [k for k in geometry.conductors if island[ends_a[k]] == of]
        for terminal in nodes:
            name = piece.node_ids[terminal]
            kind = "chassis" if name == CHASSIS_NODE else "pinch"
            for node in here:
                tries.add(node, terminal, kind, geometry.name(node), name)
            for k in conductors:
                for node, share in ((ends_a[k], 0.0), (ends_b[k], 1.0)):
                    tries.add_on(k, share, node, terminal, kind, geometry.name(node), name)


def _within_body(
    tries: _Tries, geometry: PieceGeometry, variant: Variant, body: Iterable[int], *, every_node: bool
) -> None:
    """From conductors of a rail to the ends of every other conductor of lower potential in the cable or bundle. The
    fault may stand on either conductor just beside its end.
    """
    branches = geometry.piece.branches
    ends: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for k in sorted(body):
        for node, share in ((int(branches.a[k]), 0.0), (int(branches.b[k]), 1.0)):
            ends[node].append((k, share))
    for node, other in _pairs(geometry, variant, ends, every_node=every_node):
        for k, share in ends[other]:
            label = f"{branches.ids[k]}:{share:.2f}"
            tries.add_on(k, share, other, node, "wires", label, geometry.name(node))
        for k, share in ends[node]:
            label = f"{branches.ids[k]}:{share:.2f}"
            tries.add_on(k, share, node, other, "wires", label, geometry.name(other))


def _within_connector(
    tries: _Tries,
    geometry: PieceGeometry,
    variant: Variant,
    side: Iterable[tuple[int, str]],
    *,
    every_node: bool,
) -> None:
    """Between the contacts of one side of a connector, neighbours or not: conductors meet behind it."""
    name = dict(side)
    for n, m in _pairs(geometry, variant, list(name), every_node=every_node):
        high, low = (n, m) if variant.flows.own_v[n] >= variant.flows.own_v[m] else (m, n)
        tries.add(high, low, "contacts", f"{name[high]}|{name[low]}", name[low])


def _pairs(
    geometry: PieceGeometry, variant: Variant, nodes: Iterable[int], *, every_node: bool
) -> Iterator[tuple[int, int]]:
    """Pairs of nodes in one body: one on a rail, the other on any other copper, each pair of two rails once.

    Of the points of one island with one output that the same devices feed, the one with the least loop
    resistance stands for all: to what lies outside the island they differ in nothing else.
    """
    island, flows = geometry.piece.island, variant.flows
    by_island: dict[int, dict[int, None]] = defaultdict(dict)
    for node in nodes:
        by_island[int(island[node])][node] = None
    is_rail = {
        of: int(geometry.island[next(iter(members))]) in geometry.terminals for of, members in by_island.items()
    }
    for of, members in by_island.items():
        if not is_rail[of] or len(by_island) == 1:
            continue
        here = list(members)
        for node in here if every_node else _standing_for_all(geometry, variant, of, here):
            for other, there in by_island.items():
                if other == of:
                    continue
                for end in there:
                    if flows.piece[node] != flows.piece[end]:
                        continue
                    if is_rail[other] and flows.own_v[node] - flows.own_v[end] <= TINY:
                        continue  # tried from the other one
                    yield node, end


def _standing_for_all(geometry: PieceGeometry, variant: Variant, island: int, nodes: list[int]) -> list[int]:
    piece, branches, fall = geometry.piece, geometry.piece.branches, variant.flows.fall_ohm
    touching = [s for s in piece.sources if island in (piece.island[branches.a[s]], piece.island[branches.b[s]])]
    if len(touching) != 1:
        return nodes
    terminal = next(iter(geometry.terminals[int(geometry.island[nodes[0]])]))
    best: dict[bytes, tuple[float, int]] = {}
    keys = np.round(variant.rows.per_node[:, nodes] - variant.rows.per_node[:, [terminal]], 9) + 0.0
    for column, node in enumerate(nodes):
        loop = float(fall[node, node] + fall[terminal, terminal] - 2.0 * fall[node, terminal])
        key = keys[:, column].tobytes()
        if key not in best or loop < best[key][0]:
            best[key] = (loop, node)
    return sorted((node for _, node in best.values()), key=lambda n: natural_key(geometry.name(n)))
