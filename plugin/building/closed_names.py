"""Names that mean something only where somebody else knows them.

These are bundles, supplies, zones, contact types and classes of nets.

Each kind is a closed set. A name outside it is most likely a slip, by which a part keeps a default that nobody
chose, so it makes the verdict incomplete.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from loadloom.graph.model.elements import Conductor, Element, Load, Output, TwoEnded
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import natural_key
from loadloom.graph.ratings.contact_rating import contact_type_of, shipped_contact_types
from loadloom.graph.rules import name_unknown, name_used_once
from loadloom.plugin.building.context import Context, Part, listed, nearest
from loadloom.plugin.building.nets_as_wires import net_subject, net_values
from loadloom.plugin.building.sources import UNIT_FIELD_NAMES
from loadloom.plugin.building.wire_class import named_classes
from loadloom.plugin.drawing import Net
from loadloom.plugin.roles import Role
from loadloom.plugin.values import quoted

NAMED = 5
"""Parts that a sentence names."""


def report_closed_names(context: Context, harness: Harness) -> None:
    """A finding for every name that nothing else knows."""
    _report_lone_bundles(context, harness)
    _report_lone_supplies(context, harness)
    _report_lone_starts(context, harness)
    _report_zones(context, harness)
    _report_contact_types(context, harness)
    _report_net_classes(context)
    _report_wire_classes(context)


def _report_lone_bundles(context: Context, harness: Harness) -> None:
    """A bundle of one wire or one cable: what lies beside it is missing, or it is named otherwise there."""
    members: dict[str, dict[str, Conductor]] = {}
    for conductor in harness.conductors:
        for there in conductor.variants():
            if there.lies_in is not None:
                members.setdefault(there.lies_in, {})[there.cable or there.id] = conductor
    for bundle, parts in members.items():
        if len(parts) == 1:
            ((name, conductor),) = parts.items()
            others = [other for other in members if other != bundle]
            context.notes.find(
                name_used_once.RULE.finding(
                    conductor.subject,
                    f"{name} is alone in bundle {quoted(bundle)}: nothing that lies beside it names that bundle"
                    f"{nearest(bundle, others)}",
                    "Name the bundle on everything that lies in it, or write none for what lies apart.",
                )
            )


def _report_lone_supplies(context: Context, harness: Harness) -> None:
    members: dict[str, list[Output]] = {}
    for output in harness.outputs:
        if output.supply is not None:
            members.setdefault(output.supply, []).append(output)
    for supply, outputs in members.items():
        parts = [context.parts[output.id] for output in outputs if output.id in context.parts]
        stated = any(part.fields.view().states(name) for part in parts for name in UNIT_FIELD_NAMES)
        is_converter = any(converter.output_id == outputs[0].id for converter in harness.converters)
        if len(outputs) == 1 and not stated and not is_converter:
            others = [other for other in members if other != supply]
            context.notes.find(
                name_used_once.RULE.finding(
                    outputs[0].subject,
                    f"{outputs[0].id} is the only output of supply {quoted(supply)}, and nothing is said of that "
                    f"unit{nearest(supply, others)}",
                    "Name the supply on every output of the unit, state Supply power, or remove the name.",
                )
            )


def _report_lone_starts(context: Context, harness: Harness) -> None:
    """A load that starts together with nothing: the other is missing, or it is named otherwise there."""
    members: dict[str, dict[str, Load]] = {}
    for load in harness.loads:
        for there in load.variants():
            if there.start.together is not None:
                members.setdefault(there.start.together, {})[load.id] = load
    for name, loads in members.items():
        if len(loads) == 1:
            ((id, load),) = loads.items()
            others = [other for other in members if other != name]
            context.notes.find(
                name_used_once.RULE.finding(
                    load.subject,
                    f"{id} is the only load of Start together {quoted(name)}{nearest(name, others)}",
                    "Name it on every load that starts at the same moment, or remove the name.",
                )
            )


def _report_zones(context: Context, harness: Harness) -> None:
    """Zones without an ambient or enclosure; those of loads, which heat enclosures only, where there are any."""
    settings = context.settings
    known = {*settings.zones, *settings.enclosures}
    heating: tuple[Load, ...] = harness.loads if settings.enclosures else ()
    parts: tuple[TwoEnded | Output | Load, ...] = (*harness.two_ended, *harness.outputs, *heating)
    users: dict[str, list[Element]] = {}
    for part in parts:
        for there in part.variants():
            if there.zone is not None and there.zone not in known:
                users.setdefault(there.zone, []).append(part)
    for zone, those in users.items():
        _unknown(
            context,
            those,
            f"the settings state neither ambient nor enclosure of zone {quoted(zone)}, so a default counts"
            f"{nearest(zone, known)}",
            f'State it as [ambient."{zone}"] in the settings, or correct the name.',
        )


def _report_contact_types(context: Context, harness: Harness) -> None:
    """Contact types that nobody describes, save where the drawing states itself all that a type would give."""
    settings = context.settings
    known = {*settings.contact_types, *shipped_contact_types()}
    users: dict[str, list[Element]] = {}
    for contact in harness.contacts:
        for there in contact.variants():
            stated = there.own_rating_a is not None and there.resistance_ohm is not None
            matters = not stated or bool(settings.contact_types)
            if there.contact_type and matters and contact_type_of(there.contact_type, settings) is None:
                users.setdefault(there.contact_type, []).append(contact)
    for name, contacts in users.items():
        _unknown(
            context,
            contacts,
            f"the settings do not describe contact type {quoted(name)}, so a default counts{nearest(name, known)}",
            f'Describe it as [contact."{name}"] in the settings, or correct the name.',
        )


def _report_net_classes(context: Context) -> None:
    """Nets of a class that is no wire class of the settings, though others are: they are read as joints of 0 Ω."""
    known = context.drawing_settings.wire_classes
    users: dict[str, list[Net]] = {}
    for net in context.nets if known else ():
        pins = context.pins_of[net.name]
        drawn = any(context.role(pin) in (Role.WIRE, Role.CABLE, Role.TRACK) for pin in pins)
        if len(pins) < 2 or drawn or net_values(net, context).joint:
            continue
        for name in net.classes:
            if name not in known:
                users.setdefault(name, []).append(net)
    for name, nets in users.items():
        subjects = [net_subject(net, context) for net in nets]
        listing = listed([subject.id for subject in subjects], NAMED)
        context.notes.find(
            name_unknown.RULE.finding(
                subjects[0],
                f"{listing}: net class {quoted(name)} is no wire class of the settings, so the net is read "
                f"as without it{nearest(name, known)}",
                f'Describe it as [wire_class."{name}"] in the settings, correct the class, or say joint = true for '
                "the net.",
            )
        )


def _report_wire_classes(context: Context) -> None:
    """Wire classes that wires and cables name and the settings do not describe."""
    known = context.drawing_settings.wire_classes
    users: dict[str, list[Part]] = {}
    for part in context.in_role(Role.WIRE, Role.CABLE):
        for name in sorted(named_classes(part, context) - known.keys()):
            users.setdefault(name, []).append(part)
    for name, parts in users.items():
        names = [part.reference for part in parts]
        counts = f" ({len(names)} parts)" if len(names) > NAMED else ""
        context.notes.find(
            name_unknown.RULE.finding(
                parts[0].subject(field="Wire class"),
                f"{listed(names, NAMED)}{counts}: the settings describe no wire class {quoted(name)}, so nothing "
                f"is taken from it{nearest(name, known)}",
                f'Describe it as [wire_class."{name}"] in the settings, or correct the name.',
            )
        )


def _unknown(context: Context, users: Iterable[Element], what: str, remedy: str) -> None:
    by_id: Mapping[str, Element] = {part.id: part for part in users}
    names = sorted(by_id, key=natural_key)
    counts = f" ({len(names)} parts)" if len(names) > NAMED else ""
    context.notes.find(
        name_unknown.RULE.finding(by_id[names[0]].subject, f"{listed(names, NAMED)}{counts}: {what}", remedy)
    )
