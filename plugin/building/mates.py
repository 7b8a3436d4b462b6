"""Finds which connector symbols mate with which.

If both halves stand on a repeated sheet, ``Mates`` may name the mate by its reference in any instance; the mate
is then the same symbol on the naming symbol's own sheet. If both halves name each other, the one that comes first
in natural order counts as the naming one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from loadloom.graph.model.naming import natural_key, with_article
from loadloom.graph.rules import mate_mismatch
from loadloom.plugin.building.connectors import MatedPairs, Pair, pins_of_pairs
from loadloom.plugin.building.context import Context, Part, listed
from loadloom.plugin.roles import Role
from loadloom.plugin.values import shown


def find_pairs(context: Context) -> MatedPairs:
    """The pairs that the drawing states without contradiction; a finding for every other claim."""
    claims: dict[str, Part] = {}
    instances: dict[str, list[Part]] = {}
    for part in context.parts.values():
        for uuid in part.symbol.uuids:
            instances.setdefault(uuid, []).append(part)
    lone = {part.reference for part in context.in_role(Role.CONNECTOR)}
    for part in context.in_role(Role.CONNECTOR):
        view = part.fields.view()
        if view.states("Mates"):
            lone.discard(part.reference)
        named = view.text("mates", "Mates")
        mate = _mate(part, named, instances, context) if named else None
        if mate is not None:
            claims[part.reference] = mate
            lone.discard(mate.reference)
    pairs = []
    for reference, mate in claims.items():
        back = claims.get(mate.reference)
        if (
            back is not None
            and back.reference == reference
            and natural_key(mate.reference) < natural_key(reference)
        ):
            continue  # both name each other; the other half comes first
        pairs.append(Pair(context.parts[reference], mate))
    times = Counter(half.reference for pair in pairs for half in (pair.naming, pair.mate))
    partners: dict[str, list[str]] = {}
    for pair in pairs:
        partners.setdefault(pair.naming.reference, []).append(pair.mate.reference)
        partners.setdefault(pair.mate.reference, []).append(pair.naming.reference)
    sound = []
    for pair in pairs:
        if times[pair.naming.reference] == 1 and times[pair.mate.reference] == 1:
            sound.append(pair)
            _compare_pins(pair, context)
        else:
            shared = pair.mate if times[pair.mate.reference] > 1 else pair.naming
            rivals = partners[shared.reference]
            _mismatch(
                pair.naming,
                f"{pair.naming.reference} mates {pair.mate.reference}, but {shared.reference} has more than one "
                f"mate: {listed(sorted(rivals, key=natural_key))}; no contact is read.",
                context,
            )
    return MatedPairs(tuple(sound), pins_of_pairs(sound), frozenset(lone))


def _mate(part: Part, named: str, instances: Mapping[str, list[Part]], context: Context) -> Part | None:
    """The connector that ``Mates`` names, on the naming symbol's own sheet where it stands there too."""
    there = context.parts.get(named)
    if there is None:
        _mismatch(part, f"{part.reference} mates {shown(named)}, which is not drawn or has no role.", context)
        return None
    if there.symbol.instance_path != part.symbol.instance_path:
        there = next(
            (
                other
                for uuid in there.symbol.uuids
                for other in instances[uuid]
                if other.symbol.instance_path == part.symbol.instance_path
                and other.symbol.sheet_path == part.symbol.sheet_path
            ),
            there,
        )
    if there is part:
        _mismatch(part, f"{part.reference} names itself as its mate.", context)
        return None
    if there.role is not Role.CONNECTOR:
        _mismatch(part, f"{part.reference} mates {there.reference}, which is {with_article(there.role)}.", context)
        return None
    return there


def _compare_pins(pair: Pair, context: Context) -> None:
    here = {pin.number for pin in pair.naming.pins}
    there = {pin.number for pin in pair.mate.pins}
    parts = [
        f"{name} has pin{'s' if len(only) > 1 else ''} {listed(sorted(only, key=natural_key))} that {other} lacks"
        for name, other, only in (
            (pair.naming.reference, pair.mate.reference, here - there),
            (pair.mate.reference, pair.naming.reference, there - here),
        )
        if only
    ]
    if parts:
        _mismatch(
            pair.naming,
            f"{pair.naming.reference} mates {pair.mate.reference}, but {' and '.join(parts)}; "
            "only the pins of both are joined.",
            context,
        )


def _mismatch(part: Part, message: str, context: Context) -> None:
    context.notes.find(
        mate_mismatch.RULE.finding(
            part.subject(field="Mates"),
            message,
            "Name in Mates one connector that is drawn and has the same pins; a connector has one mate.",
        )
    )
