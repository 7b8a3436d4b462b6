"""Checks of the finished structure: joints without a conductor, dead ends, bridged parts, unused settings."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from loadloom.graph.model.elements import Conductor, ConductorKind, Contact, Device, Element, Load, Output, TwoEnded
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import all_of, natural_key
from loadloom.graph.rules import conductor_not_drawn, dead_end, part_bypassed, role_rule_unused, settings_unused
from loadloom.plugin.building.context import Context, listed, nearest, pin_text
from loadloom.plugin.building.joints import joint_name
from loadloom.plugin.building.nets_as_wires import CONDUCTOR_ROLES, DEFAULT_CLASS, net_subject, net_values
from loadloom.plugin.building.sources import nodes_of_loads
from loadloom.plugin.building.wire_class import class_of, named_classes
from loadloom.plugin.drawing import WIRE_LIST
from loadloom.plugin.roles import Role, letters_of, matches

ALIKE = 0.8
"""Similarity (difflib's ratio) from which a rule of the settings that matches nothing counts as misspelt."""

_NOT_TERMINALS = (Role.WIRE, Role.CABLE, Role.TRACK, Role.SPLICE, Role.CHASSIS)


def report_joined_without_conductor(context: Context, harness: Harness, wire_nets: Iterable[str]) -> None:
    """Joints that hold an output and a load, or terminals that only a power symbol or a sheet border joins."""
    loads_at = nodes_of_loads(harness.loads)
    told: set[str] = set()
    stated = {joint_name(net, context.pins_of[net.name]) for net in context.nets if net_values(net, context).joint}
    own_input = {converter.output_id: converter.load_id for converter in harness.converters}
    # At a common minus a converter is a load like any other, and inputs of others may be joined to it there.
    inputs = {converter.load_id for converter in harness.converters}
    common = {
        (converter.output_id, load.node_minus)
        for converter in harness.converters
        for load in harness.loads
        if converter.bridged and load.id == converter.load_id
    }
    for output in harness.outputs:
        for node in dict.fromkeys((output.node_plus, output.node_minus)):
            loads = [name for name in loads_at.get(node, ()) if name != own_input.get(output.id)]
            if (output.id, node) in common:
                loads = [name for name in loads if name not in inputs]
            if output.fitted and loads and node not in stated:
                told.add(node)
                _not_drawn(
                    context,
                    replace(output.subject, id=node),
                    f"Output {output.id} and {'loads' if len(loads) > 1 else 'load'} "
                    f"{listed(loads)} are on one joint, {node}, with no conductor drawn between.",
                )
    wires = set(wire_nets)
    for net in context.nets:
        pins = context.pins_of[net.name]
        name = joint_name(net, pins)
        terminals = [pin for pin in pins if context.role(pin) not in _NOT_TERMINALS]
        sheets = {
            context.parts[pin.reference].symbol.sheet_path for pin in terminals if pin.reference in context.parts
        }
        if net.name in wires or name in told or name in stated or len(terminals) < 2:
            continue
        how = "a power symbol" if net.power_symbol else "a connection across sheets" if len(sheets) > 1 else ""
        if how:
            _not_drawn(
                context,
                net_subject(net, context),
                f"{listed(map(pin_text, terminals))} are joined by {how} on {name}, "
                "with no conductor drawn between.",
            )


def report_dead_ends(context: Context, harness: Harness) -> None:
    """Parts with an end that is joined to nothing, and parts that a joint bridges (of a load: ``load-unfed``)."""
    count = Counter(node for element in harness.two_ended for node in (element.node_a, element.node_b))
    count.update(node for load in harness.loads for node in (load.node_plus, load.node_minus))
    count.update(node for output in harness.outputs for node in _output_nodes(output))
    count.update(bond.node for bond in harness.chassis)
    for element in harness.two_ended:
        if element.node_a == element.node_b:
            _bypassed(context, element, element.node_a)
            continue
        free = [node for node in (element.node_a, element.node_b) if count[node] == 1]
        if len(free) == 1 and _is_shield(element):
            context.notes.assume(f"{element.id} is joined at one end alone, as shields are: it carries nothing.")
        elif free and not (len(free) == 2 and _is_spare(element)):
            context.notes.find(
                dead_end.RULE.finding(
                    element.subject,
                    f"{element.id} ends at {listed(free)}, where no other part takes up its current.",
                    "Join the end, or leave the part out.",
                )
            )


def report_unused_settings(context: Context, harness: Harness) -> None:
    """Zones, wire classes and words that the settings name and the drawing does not."""
    classes = {name for net in context.drawing.nets for name in net.classes or (DEFAULT_CLASS,)}
    of_parts = {name for part in context.in_role(*CONDUCTOR_ROLES) for name in named_classes(part, context)}
    of_a_drawing = context.drawing.route != WIRE_LIST  # A wire list may have classes and roles written out.
    for name in context.drawing_settings.wire_classes:
        if name not in classes | of_parts or (not of_a_drawing and name not in of_parts):
            what = f"The settings describe a wire class {name}, and no wire or net is of that class"
            _unused(context, name, what + nearest(name, classes | of_parts), a_slip=of_a_drawing)
    _report_unused_role_rules(context, of_a_drawing=of_a_drawing)
    parts: tuple[TwoEnded | Output | Load, ...] = (*harness.two_ended, *harness.outputs, *harness.loads)
    zones = {there.zone for part in parts for there in part.variants()}
    zones |= {connector.zone for connector in harness.connectors}
    there = sorted(zone for zone in zones if zone is not None)
    for zone in context.settings.enclosures:
        if zone not in zones:
            what = f"The settings describe an enclosure of zone {zone}, and no part is in it"
            _unused(context, zone, what + nearest(zone, there))
    for zone in context.settings.zones:
        if zone not in zones:
            what = f"The settings state an ambient for zone {zone}, and no part is in it"
            _unused(context, zone, what + nearest(zone, there))
    states, arrangements = harness.states(), harness.arrangements()
    for case in context.settings.cases or ():
        if case.state is not None and case.state not in states:
            what = f"Case {case.id} names the state {case.state}, which no load has"
            _unused(context, case.id, what + nearest(case.state, sorted(states)))
        if case.arrangement is not None and case.arrangement not in arrangements:
            what = f"Case {case.id} names the arrangement {case.arrangement}, which no part has"
            _unused(context, case.id, what + nearest(case.arrangement, sorted(arrangements)))


def _report_unused_role_rules(context: Context, *, of_a_drawing: bool) -> None:
    """Rules for parts and roles that match no symbol, each with the nearest that there is."""
    rules = context.drawing_settings.roles
    symbols = (*context.drawing.symbols, *(left.symbol for left in context.drawing.left_out))
    references = sorted({symbol.reference for symbol in symbols}, key=natural_key)
    letters = sorted({letters_of(reference) for reference in references})
    tables = (
        ("part", rules.parts, references),
        ("role.reference", rules.by_reference, [*references, *letters]),
        ("role.library", rules.by_library, sorted({symbol.library_id for symbol in symbols})),
        ("role.value", rules.by_value, sorted({symbol.value for symbol in symbols})),
    )
    for table, patterns, texts in tables:
        for pattern in patterns:
            if pattern in texts or any(matches(pattern, text) for text in texts):
                continue
            near = difflib.get_close_matches(pattern.casefold(), [text.casefold() for text in texts], 1, ALIKE)
            misspelt = bool(near) and near[0] not in {p.casefold() for p in patterns}
            what = f'The settings have a rule for "{pattern}" in [{table}], and no symbol matches it'
            a_slip = table == "part" or (misspelt and of_a_drawing)
            alike = letters if table == "role.reference" and pattern == letters_of(pattern) else texts
            alike = references if table == "role.reference" and alike is texts else alike
            _unused(context, pattern, what + nearest(pattern, alike), a_slip=a_slip)


def report_assumptions(context: Context, harness: Harness) -> None:
    """Sentences for what is taken for granted where the drawing says nothing."""
    notes = context.notes
    unfitted = sorted((p.reference for p in context.parts.values() if p.symbol.dnp), key=natural_key)
    if unfitted:
        notes.assume(f"Not fitted (DNP), taken as open: {all_of(unfitted)}.")
    unknown = {
        name
        for net in context.nets
        if len(pins := context.pins_of[net.name]) > 1
        and not any(context.role(pin) in (Role.WIRE, Role.CABLE, Role.TRACK) for pin in pins)
        for name in net.classes
        if name not in context.drawing_settings.wire_classes and not net_values(net, context).joint
    }
    if unknown and not context.drawing_settings.wire_classes:
        notes.assume(
            f"The settings describe no wire class {all_of(sorted(unknown, key=natural_key))}: what a net of that "
            "class joins is read as without it."
        )
    by_nets: dict[str, list[str]] = {}
    for part in context.in_role(*CONDUCTOR_ROLES):
        if not named_classes(part, context) and (name := class_of(part.fields.view(), part.pins, context)):
            by_nets.setdefault(name, []).append(part.reference)
    for name, references in by_nets.items():
        notes.assume(
            f"What {listed(references, 40)} {'does' if len(references) == 1 else 'do'} not state comes from the "
            f"wire class {name}, that of the nets at both ends."
        )
    if harness.conductors and not context.settings.basis_stated:
        notes.assume(f"The rating basis is not stated: {context.settings.basis} is assumed.")
    default = context.settings.default_ambient
    zones = dict.fromkeys(e.zone for e in (*harness.conductors, *harness.contacts, *harness.devices))
    named = zones | dict.fromkeys((*(o.zone for o in harness.outputs), *context.settings.enclosures))
    unstated = [zone for zone in named if zone is not None and zone not in context.settings.zones]
    band = f"{default.min_c:.3g} to {default.max_c:.3g} °C"
    if None in zones and not default.stated:
        notes.assume(f"The ambient is not stated: {band} is assumed.")
    if unstated:
        notes.assume(
            f"The settings state no ambient for zone {all_of(sorted(unstated, key=natural_key))}: "
            f"{band} is assumed."
        )
    bare = [contact.id for contact in harness.contacts if _takes_default(contact, context)]
    if bare:
        resistance = context.settings.contact_resistance_ohm
        notes.assume(
            f"No contact resistance is stated for {all_of(bare)}: {resistance.lower * 1e3:.3g} mΩ new to "
            f"{resistance.upper * 1e3:.3g} mΩ aged is assumed."
        )
    ideal = [
        element.id
        for element in (*harness.devices, *harness.switches, *harness.diodes)
        if element.resistance_ohm is None
    ]
    ideal += [
        part.reference
        for part in context.in_role(Role.OUTPUT, Role.CONVERTER)
        if part.reference in harness.by_id and not part.fields.view().states("Resistance")
    ]
    if ideal:
        notes.assume(f"No resistance is stated for {all_of(ideal)}: 0 Ω is assumed.")
    unstated_behaviour = [
        part.reference
        for part in context.in_role(Role.OUTPUT, Role.CONVERTER, Role.LIMITER)
        if not part.fields.view().states("Behaviour") and _may_open(harness.by_id.get(part.reference))
    ]
    if unstated_behaviour:
        notes.assume(f"No Behaviour is stated for {all_of(unstated_behaviour)}: latch-off is assumed.")
    stretches = [
        load.id
        for load in harness.loads
        if any(
            there.duty is not None and there.period_s is None and there.duration_s is None
            for there in (load.under(word) for word in (None, *load.by_word))
        )
    ]
    if stretches:
        notes.assume(
            f"No Period is stated with the Duty of {all_of(stretches)}: how long it is on at a stretch is not "
            "known, and it counts as on continuously."
        )
    firm = [output.id for output in harness.outputs if output.tolerance is None]
    if firm:
        notes.assume(f"No voltage tolerance is stated for {all_of(firm)}: none is assumed.")


def _bypassed(context: Context, element: Element, node: str) -> None:
    context.notes.find(
        part_bypassed.RULE.finding(
            element.subject,
            f"Both ends of {element.id} are on {node}, so that it carries nothing.",
            "Put its ends on two nets.",
        )
    )


def _may_open(element: Element | None) -> bool:
    if isinstance(element, Output):
        return element.fitted and not element.never_trips
    return isinstance(element, Device) and element.fitted and element.active


def _takes_default(contact: Contact, context: Context) -> bool:
    kind = context.settings.contact_types.get(contact.contact_type or "")
    return contact.resistance_ohm is None and (kind is None or kind.resistance_ohm is None)


def _output_nodes(output: Output) -> tuple[str, ...]:
    ends = (output.node_plus, output.node_minus, output.sense_plus, output.sense_minus)
    return tuple(node for node in ends if node is not None)


def _is_spare(element: TwoEnded) -> bool:
    """Whether an element may be free at both ends: an unused position, or a spare core."""
    return isinstance(element, Contact) or (isinstance(element, Conductor) and element.kind is ConductorKind.CORE)


def _is_shield(element: TwoEnded) -> bool:
    """Whether an element is the shield of a cable: its core S."""
    return isinstance(element, Conductor) and element.kind is ConductorKind.CORE and element.id.endswith(".S")


def _not_drawn(context: Context, subject: Subject, message: str) -> None:
    context.notes.find(
        conductor_not_drawn.RULE.finding(subject, message, "Draw the wire, or a splice if they are one terminal.")
    )


def _unused(context: Context, id: str, message: str, *, a_slip: bool = True) -> None:
    """A name in the settings that nothing has: most likely a slip, by which something keeps a default, or a rule
    that is merely not needed here."""
    rule, remedy = (
        (settings_unused.RULE, "Correct the name in the settings.")
        if a_slip
        else (role_rule_unused.RULE, "Remove the rule, or correct its name.")
    )
    context.notes.find(rule.finding(Subject(id=id), message, remedy))
