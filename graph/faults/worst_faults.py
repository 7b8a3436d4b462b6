"""The worst fault found so far on every conductor and contact, in the cases of one arrangement."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from loadloom.graph.circuit.network import Network
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.faults.piece import Piece, PieceLoads
from loadloom.graph.faults.places import PieceGeometry
from loadloom.graph.faults.radial.closed_form import Radial
from loadloom.graph.faults.radial.radial_rows import RadialFound
from loadloom.graph.faults.sustained_fault import Hit, Search
from loadloom.graph.faults.tolerances import AT_ITS_END, SAME, TINY
from loadloom.graph.model.results import FaultPowerRow
from loadloom.graph.model.settings import Case


@dataclass(frozen=True)
class FoundHit:
    """A hit with where it came from."""

    hit: Hit
    search: Search
    branch: int
    case: Case

    @property
    def dead_output(self) -> str | None:
        """The output that is shorted inside, if one is."""
        dead = self.search.variant.dead
        return self.search.variant.piece.branches.ids[dead] if dead >= 0 else None

    @property
    def driven_unlike(self) -> bool:
        """Whether it hangs on resistances within their bands what the voltages drive through the part."""
        least, most = self.search.own_ends_a
        return bool(most[self.branch] - least[self.branch] > TINY)

    def better_than(self, other: FoundHit | None) -> bool:
        """Whether it is worse for the part than another; of equals, the first in rank."""
        if other is None or self.hit.value_a > other.hit.value_a * (1.0 + SAME) + TINY:
            return True
        same = self.hit.value_a >= other.hit.value_a * (1.0 - SAME) - TINY
        return same and self.hit.rank() < other.hit.rank()


@dataclass(frozen=True)
class Unproved:
    """A piece of which not every state was tried, and what it takes to search one more; ``large``: too large to."""

    geometry: PieceGeometry
    network: Network
    thresholds: Mapping[str, Threshold]
    loads: PieceLoads
    case: Case
    large: bool


@dataclass
class WorstFaults:
    """The worst found so far in the cases of one arrangement, by part id; ``raised``: a case alone puts more on the
    part than any fault that was found; ``bounded``: its sustained fault current is a bound on the safe side.
    ``no_cuts`` are splices that were not searched, ``cut_short`` budgets that have cut something, by name.
    ``at_once``: the most in A that devices let through a part at any moment, by id. ``combined_from``: a combined
    overload current in A, with the search and its branch that found it. ``limit_a`` by part: currents that stay
    below it are of no interest; ``enough_a``: of a part that is above it no more is asked. ``either_way``: devices
    that faults drive a current through one way as well as the other.
    """

    hits: dict[str, FoundHit] = field(default_factory=dict)
    back: dict[tuple[str, str], FoundHit] = field(default_factory=dict)
    combined_overload: dict[str, tuple[float, str]] = field(default_factory=dict)
    combined_from: dict[str, tuple[float, Search, int]] = field(default_factory=dict)
    cover: dict[str, tuple[str, ...]] = field(default_factory=dict)
    powers: dict[str, FaultPowerRow] = field(default_factory=dict)
    joined: dict[tuple[str, ...], str] = field(default_factory=dict)
    too_large: set[str] = field(default_factory=set)
    no_cuts: set[str] = field(default_factory=set)
    radial: dict[str, RadialFound] = field(default_factory=dict)
    radials: list[Radial] = field(default_factory=list)
    raised: dict[str, Case] = field(default_factory=dict)
    searched: dict[tuple[object, ...], list[Piece]] = field(default_factory=dict)
    unproved: list[Unproved] = field(default_factory=list)
    bounded: set[str] = field(default_factory=set)
    cut_short: set[str] = field(default_factory=set)
    at_once: dict[str, float] = field(default_factory=dict)
    either_way: set[str] = field(default_factory=set)
    limit_a: Mapping[str, float] = field(default_factory=dict)
    enough_a: Mapping[str, float] = field(default_factory=dict)

    def value_a(self, name: str) -> float:
        """The sustained fault current found so far of a part, 0 for none."""
        hit, radial = self.hits.get(name), self.radial.get(name)
        return max(hit.hit.value_a if hit else 0.0, radial.value_a if radial else 0.0)

    def least_known_a(self, name: str) -> float:
        """What a sustained fault current of a part must be above to be of interest, in A."""
        return max(self.value_a(name), self.near_limit_a(name))

    def near_limit_a(self, name: str) -> float:
        """Where a part is next to its limit, in A; 0 where none is asked about."""
        return self.limit_a.get(name, 0.0) * (1.0 - AT_ITS_END)

    def raise_to(self, case: Case, continuous_a: Mapping[str, float]) -> None:
        """Let no part's sustained fault current be below what a case carries in it continuously, in A by part
        id."""
        for name, least_a in continuous_a.items():
            if least_a > self.value_a(name) * (1.0 + SAME) and self._raise(name, least_a):
                self.raised[name] = case

    def bound_to(self, name: str, most_a: float) -> None:
        """Take a bound in A, above all that was found, as a part's sustained fault current."""
        if self._raise(name, most_a):
            self.bounded.add(name)

    def _raise(self, name: str, value_a: float) -> bool:
        if name in self.hits:
            found = self.hits[name]
            self.hits[name] = replace(found, hit=replace(found.hit, value_a=value_a))
        elif name in self.radial:
            self.radial[name] = self.radial[name]._replace(value_a=value_a)
        return name in self.hits or name in self.radial
