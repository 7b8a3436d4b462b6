"""Pieces of which not every state was tried: the bound over all states raises what it does not prove.

The state that comes nearest to a bound is searched as any other. Where that reaches the bound, the sustained fault
current is as exact as in pieces of which every state is tried; where not, the bound counts, marked as one. In a
piece that is too large for that, what its outputs pass together bounds all that lies in its loops and behind them.
"""

from __future__ import annotations

from dataclasses import replace

from loadloom.graph.circuit.network import without
from loadloom.graph.faults.any_place import most_of_outputs_a
from loadloom.graph.faults.opened import behind_loops
from loadloom.graph.faults.piece import Piece, Variant, pieces_of, variant_of
from loadloom.graph.faults.places import PieceGeometry
from loadloom.graph.faults.search import take_variant
from loadloom.graph.faults.state_bound import MOST_A, State, StateBound
from loadloom.graph.faults.tolerances import REACHED, WITHIN
from loadloom.graph.faults.worst_faults import Unproved, WorstFaults


def bound_unproved(unproved: list[Unproved], worst: WorstFaults, *, short: bool = False) -> None:
    """Let nothing of these pieces be below its bound; ``short`` leaves out all but the sustained fault current."""
    for each in unproved:
        if each.large:
            _bound_roughly(each, worst)
        else:
            _bound(each, worst, short=short)


def _bound(each: Unproved, worst: WorstFaults, *, short: bool) -> None:
    bound = StateBound(each.geometry)
    tried: set[State] = set()
    names = each.geometry.piece.branches.ids

    def search(state: State | None) -> None:
        if state is not None and state not in tried:
            tried.add(state)
            _search_state(each, state, worst, short=short)

    above: dict[str, float] = {}
    for k in each.geometry.parts:
        above[names[k]], state = bound.sustained_fault(k, worst.value_a(names[k]))
        search(state)
    exposed: dict[str, float] = {}
    for k in each.geometry.parts if not short else ():
        exposed[names[k]], state = bound.combined_overload(k, worst.combined_overload.get(names[k], (0.0, ""))[0])
        search(state)
    for (name, output), found in list(worst.back.items()) if not short else ():
        k, s = each.geometry.piece.branch_index.get(name, -1), each.geometry.piece.branch_index.get(output, -1)
        if k >= 0 and s in bound.dead_of:
            value, state = bound.sustained_fault(k, found.hit.value_a, inside=s)
            search(state)
            found = worst.back[name, output]
            if value > found.hit.value_a * (1.0 + REACHED):
                worst.back[name, output] = replace(found, hit=replace(found.hit, value_a=value))
    for name, value in above.items():
        if value > worst.value_a(name) * (1.0 + REACHED):
            worst.bound_to(name, value)
    for name, value in exposed.items():
        if value > worst.combined_overload.get(name, (0.0, ""))[0] * (1.0 + REACHED):
            worst.combined_overload[name] = (value, each.case.id)


def _bound_roughly(each: Unproved, worst: WorstFaults) -> None:
    piece = each.geometry.piece
    value = min(most_of_outputs_a(piece), MOST_A)
    behind = behind_loops(piece)
    for k in each.geometry.parts:
        name = piece.branches.ids[k]
        if behind[k] and value > worst.value_a(name) * (1.0 + WITHIN):
            worst.bound_to(name, value)
            worst.combined_overload[name] = (value, each.case.id)


def _search_state(each: Unproved, state: State, worst: WorstFaults, *, short: bool) -> None:
    ids = each.geometry.piece.branches.ids
    network = without(each.network, [ids[k] for k in state.opened]) if state.opened else each.network
    inside = set(each.geometry.piece.node_ids)
    for piece in pieces_of(network, each.thresholds, each.loads):
        if piece.node_ids[0] not in inside:
            continue
        geometry = PieceGeometry(each.geometry.harness, piece, each.geometry.only)
        take_variant(geometry, _variant(piece, ids, state), each.case, worst, short=short)


def _variant(piece: Piece, ids: tuple[str, ...], state: State) -> Variant:
    """The state in what is left of the piece: parts that are no longer in a loop need none of their own."""

    def there(branches: tuple[int, ...]) -> tuple[int, ...]:
        at = [piece.branch_index.get(ids[k], -1) for k in branches]
        return tuple(k for k in at if k >= 0 and piece.in_loop[k])

    (dead,) = there((state.dead,)) or (-1,) if state.dead >= 0 else (-1,)
    blocked, holding = there(state.blocked), list(there(state.holding))
    while True:
        made = variant_of(piece, dead, blocked, tuple(holding))
        if made is not None:
            return made
        holding.pop()
