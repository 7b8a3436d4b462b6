"""The fault search of one network: small pieces by linear programmes, large radial ones in closed form."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from loadloom.graph.circuit.network import Network
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.faults.budgets import LARGEST_PIECE, RADIAL_FROM
from loadloom.graph.faults.combined_overload import combined_overloads
from loadloom.graph.faults.cut_off import cut_off_hits
from loadloom.graph.faults.driven_either_way import driven_either_way, driven_in_large
from loadloom.graph.faults.opened import OpenedSets, opened_networks, opened_sets
from loadloom.graph.faults.parallel_paths import OpenedSet, diodes_that_open
from loadloom.graph.faults.piece import (
    Piece,
    PieceLoads,
    Variant,
    every_state_tried,
    pieces_of,
    variant_of,
    variants,
)
from loadloom.graph.faults.places import PieceGeometry, find_places
from loadloom.graph.faults.power import fault_powers
from loadloom.graph.faults.protecting_devices import note_cover
from loadloom.graph.faults.radial.closed_form import Radial
from loadloom.graph.faults.radial.radial_piece import RadialPiece
from loadloom.graph.faults.radial.radial_rows import RadialFound, radial_powers
from loadloom.graph.faults.splice_cuts import splices_in
from loadloom.graph.faults.state_bound import StateBound
from loadloom.graph.faults.stretch_search import run_search
from loadloom.graph.faults.sustained_fault import Search
from loadloom.graph.faults.tolerances import BACK_FEED_A, SAME
from loadloom.graph.faults.worst_faults import FoundHit, Unproved, WorstFaults
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating
from loadloom.graph.model.settings import Case


def search_network(
    harness: Harness,
    case: Case,
    network: Network,
    thresholds: Mapping[str, Threshold],
    loads: PieceLoads,
    ratings: Mapping[str, Rating],
    worst: WorstFaults,
    *,
    short: bool = False,
    only: frozenset[str] | None = None,
) -> None:
    """Search one network, and what is left of it once devices and outputs of its loops have opened.

    ``short`` leaves out all but the sustained fault current, ``only`` all but these parts.
    """
    if network.asked is not None:
        only = network.asked if only is None else only & network.asked
    for piece in pieces_of(network, thresholds, loads):
        geometry = PieceGeometry.of(harness, piece, only)
        if not _is_new(piece, worst):
            continue
        opening = OpenedSets((), True) if network.opened else opened_sets(piece)
        every = every_state_tried(piece, diodes_that_open(piece))
        complete = bool(network.opened) or (every and opening.complete)
        # What is asked for may lie elsewhere now, and hang together with this once something has opened.
        asked_here = geometry.has_any_asked
        if asked_here and not complete:
            large = len(piece.node_ids) > LARGEST_PIECE
            worst.unproved.append(Unproved(geometry, network, thresholds, loads, case, large))
            worst.no_cuts.update(name for name, _ in splices_in(harness, piece))  # the bound is for branches
        if asked_here:
            _search_piece(geometry, case, ratings, worst, short=short, few=not complete)
        sets = _that_matter(opening.sets, geometry, worst, short=short)
        for (chosen, asked), rest, inside in opened_networks(network, piece, sets, loads):
            for left in pieces_of(rest, thresholds, inside):
                if chosen.for_all and not short:
                    _note_state(PieceGeometry.of(harness, left, only), case, ratings, worst)
                here = PieceGeometry.of(harness, left, only if asked is None else asked)
                if here.has_any_asked and _is_new(left, worst, asked):
                    if chosen.inside >= 0:
                        _search_inside(here, piece.branches.ids[chosen.inside], case, worst)
                        continue
                    alone = chosen.most_a is not None
                    _search_piece(here, case, ratings, worst, short=short, few=not complete, alone=alone)
        if opening.beside and not short:
            _bound_together(geometry, case, worst)


def _that_matter(
    sets: Iterable[OpenedSet], geometry: PieceGeometry, worst: WorstFaults, *, short: bool
) -> Iterator[tuple[OpenedSet, frozenset[str] | None]]:
    """Sets of openings that can still put more on a part than is known when their turn comes, with those parts;
    None where all are to be searched.
    """
    for chosen in sets:
        if not (short and chosen.inside >= 0):
            asked = _asked_in(chosen, geometry, worst)
            if asked is None or asked or (chosen.for_all and not short):
                yield chosen, asked


def _asked_in(chosen: OpenedSet, geometry: PieceGeometry, worst: WorstFaults) -> frozenset[str] | None:
    """The parts, and splices, for which a set of openings can still matter; None where all are to be searched."""
    ids = geometry.piece.branches.ids
    if chosen.most_a is None:
        return geometry.only
    if chosen.inside >= 0:
        back = ((k, worst.back.get((ids[k], ids[chosen.inside]))) for k in geometry.parts)
        known = {k: found.hit.value_a if found else 0.0 for k, found in back}
        return frozenset(ids[k] for k, a in known.items() if chosen.most_a[k] > a * (1.0 + SAME))
    asked = {ids[k] for k in geometry.parts if chosen.most_a[k] > worst.value_a(ids[k]) * (1.0 + SAME)}
    splices = set(geometry.cuts.listed)
    return frozenset(asked | (splices if geometry.only is None else splices & geometry.only))


def _search_inside(geometry: PieceGeometry, output: str, case: Case, worst: WorstFaults) -> None:
    """Search what is left of a piece with one output shorted inside."""
    piece = geometry.piece
    dead = piece.branch_index.get(output, -1)
    made = variant_of(piece, dead, (), ()) if dead >= 0 and piece.in_loop[dead] else None
    if made is not None:
        take_variant(geometry, made, case, worst, short=False)


def _bound_together(geometry: PieceGeometry, case: Case, worst: WorstFaults) -> None:
    """Bound combined overloads, which are not followed through every set of paths, by Kirchhoff's current law."""
    ids = geometry.piece.branches.ids
    bound = StateBound(geometry)
    for k in geometry.parts:
        value_a = worst.combined_overload.get(ids[k], (worst.value_a(ids[k]), case.id))[0]
        most_a = bound.combined_overload_by_law(k)
        if most_a > value_a * (1.0 + SAME):
            worst.combined_overload[ids[k]] = (most_a, case.id)


def _is_new(piece: Piece, worst: WorstFaults, asked: frozenset[str] | None = None) -> bool:
    """Whether no equal piece that draws at least as much was searched before, for all parts; it is noted."""
    if asked is not None:
        return True
    same = worst.searched.setdefault(piece.electrical_key, [])
    if any(piece.draws_no_more_than(other) for other in same):
        return False
    same.append(piece)
    return True


def _search_piece(
    geometry: PieceGeometry,
    case: Case,
    ratings: Mapping[str, Rating],
    worst: WorstFaults,
    *,
    short: bool,
    few: bool,
    alone: bool = False,
) -> None:
    """Search what hangs together; ``few``: see ``variants``; ``alone``: combined overloads and outputs shorted
    inside are seen to otherwise.
    """
    piece = geometry.piece
    radial, large = _radial(geometry), len(piece.node_ids) > LARGEST_PIECE
    if radial is not None or large:
        answered = radial.splices if radial is not None else ()
        worst.no_cuts.update(
            name
            for name, _ in splices_in(geometry.harness, piece)
            if geometry.asks_for(name) and name not in answered
        )
    if radial is not None:
        _take_radial(radial, case, worst, short=short)
        return
    if large:
        worst.too_large.update(piece.branches.ids)
        return
    worst.no_cuts.update(geometry.cuts.unknown)
    apart = diodes_that_open(piece)
    few = few or not every_state_tried(piece, apart)
    for variant in variants(piece, few=few, apart=apart, outputs_too=not alone):
        search = take_variant(geometry, variant, case, worst, short=short, alone=alone)
        if not (short or variant.name):
            note_cover(search, ratings, worst)
            worst.either_way.update(driven_either_way(search))
    group = tuple(piece.branches.ids[s] for s in piece.sources if piece.in_loop[s])
    if len(group) > 1 and not piece.opened:
        worst.joined.setdefault(group, case.id)


def take_variant(
    geometry: PieceGeometry,
    variant: Variant,
    case: Case,
    worst: WorstFaults,
    *,
    short: bool,
    alone: bool = False,
) -> Search:
    """Search one variant of a piece and take what is worse than what was found so far; ``alone``: combined
    overloads are seen to otherwise.
    """
    names = geometry.piece.branches.ids
    dead = names[variant.dead] if variant.dead >= 0 else ""

    def known_a(name: str) -> float:
        back = worst.back.get((name, dead))
        value = (back.hit.value_a if back else 0.0) if dead and not short else worst.value_a(name)
        return max(value, worst.near_limit_a(name))

    search = Search(geometry, variant, known_a, worst.enough_a)
    for branch, hit in run_search(search).items():
        found = FoundHit(hit, search, branch, case)
        name = search.name(branch)
        if found.better_than(worst.hits.get(name)):
            worst.hits[name] = found
        back = (name, dead)
        if dead and hit.fault_a > BACK_FEED_A and found.better_than(worst.back.get(back)):
            worst.back[back] = found
    for branch, hit, standing in cut_off_hits(search, worst.least_known_a):
        found, name = FoundHit(hit, standing, branch, case), search.name(branch)
        if found.better_than(worst.hits.get(name)):
            worst.hits[name] = found
    worst.cut_short |= search.cut_short
    if short or dead:
        return search

    def together_a(name: str) -> float:
        return worst.combined_overload.get(name, (0.0, ""))[0]

    for branch, value in () if alone else combined_overloads(search, together_a).items():
        name = search.name(branch)
        if value > worst.combined_overload.get(name, (-1.0, ""))[0] * (1.0 + SAME):
            worst.combined_overload[name] = (value, case.id)
            worst.combined_from[name] = (value, search, branch)
    _take_powers(search, case, worst)
    return search


def _take_powers(search: Search, case: Case, worst: WorstFaults) -> None:
    for at, row in fault_powers(search, case.id).items():
        known = worst.powers.get(at)
        if known is None or row.power_w > known.power_w * (1.0 + SAME):
            worst.powers[at] = row


def _note_state(geometry: PieceGeometry, case: Case, ratings: Mapping[str, Rating], worst: WorstFaults) -> None:
    """Note the powers of faults in what is left of a piece, and which devices protect its parts there."""
    for variant in variants(geometry.piece, apart=diodes_that_open(geometry.piece), outputs_too=False):
        search = Search(geometry, variant)
        search.places = find_places(geometry, variant)
        _take_powers(search, case, worst)
        if not variant.name:
            note_cover(search, ratings, worst)


def _radial(geometry: PieceGeometry) -> Radial | None:
    """The closed form of a large radial piece; None where the search does better, or where it does not suit."""
    piece = geometry.piece
    count = len(piece.node_ids)
    if count < RADIAL_FROM or not RadialPiece.fits(piece):
        return None
    if piece.pulses and count <= LARGEST_PIECE:
        return None  # the closed form follows no cycle
    radial = Radial(geometry)
    tree = radial.piece
    rough = tree.coarse or len(tree.in_return) or len(tree.in_loop_acting) or len(tree.cross_ties.high)
    return None if rough and count <= LARGEST_PIECE else radial


def _take_radial(radial: Radial, case: Case, worst: WorstFaults, *, short: bool) -> None:
    names = radial.ids
    known = worst.radial
    for part, (name, value) in enumerate(zip(names, radial.let_a.tolist(), strict=True)):
        before = known.get(name)
        if before is None or value > before.value_a * (1.0 + SAME):
            known[name] = RadialFound(radial, part, case, value)
    if short:
        return
    worst.radials.append(radial)
    worst.either_way.update(driven_in_large(radial))
    for name, value in zip(names, radial.combined_overload_a.tolist(), strict=True):
        if value > worst.combined_overload.get(name, (-1.0, ""))[0] * (1.0 + SAME):
            worst.combined_overload[name] = (value, case.id)
    for at, row in radial_powers(radial, case.id).items():
        held = worst.powers.get(at)
        if held is None or row.power_w > held.power_w * (1.0 + SAME):
            worst.powers[at] = row
