"""Builds the harness: finds roles, mates and joints, makes every element, then looks for what is missing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TypeVar

from loadloom.graph.model.elements import Contact, Element
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import natural_key
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.plugin.building import batteries, contactors, converters, parts, solar, sources
from loadloom.plugin.building.alike import report_alike_words
from loadloom.plugin.building.checks import (
    report_assumptions,
    report_dead_ends,
    report_joined_without_conductor,
    report_unused_settings,
)
from loadloom.plugin.building.closed_names import report_closed_names
from loadloom.plugin.building.connectors import (
    MatedPairs,
    lone_contacts,
    paired_contacts,
    set_lone_apart,
    two_sided_contacts,
)
from loadloom.plugin.building.context import Context, Part, pin_key
from loadloom.plugin.building.contradictions import report_contradictions
from loadloom.plugin.building.find_roles import find_roles, report_left_out
from loadloom.plugin.building.joints import Joints
from loadloom.plugin.building.mates import find_pairs
from loadloom.plugin.building.nets_as_wires import Segment, find_segments, net_conductors
from loadloom.plugin.building.pins import unused_pins
from loadloom.plugin.building.tracks import tracks
from loadloom.plugin.building.unread_fields import report_unread_fields
from loadloom.plugin.drawing import Drawing, PinRef
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.fields import SymbolFields, Words
from loadloom.plugin.notes import Notes
from loadloom.plugin.roles import Role

E = TypeVar("E", bound=Element)


def build_harness(drawing: Drawing, settings: AnalysisSettings, drawing_settings: DrawingSettings) -> Harness:
    """The harness that a drawing shows.

    Never raises for what is drawn: what can't be read, is missing or can be read in two ways is a finding of
    the harness, with a placeholder in its stead; what is taken for granted is an assumption.
    """
    context = _context(drawing, settings, drawing_settings)
    joints = Joints(context.net_of, context.pins_of)
    mated = find_pairs(context)
    segments = find_segments(context, mated, joints)
    set_lone_apart(mated, context, joints)
    parts.join_splices(context, joints)

    bodies = [
        *paired_contacts(mated, context, joints),
        *two_sided_contacts(context, joints),
        *lone_contacts(mated, context, joints),
    ]
    contacts: list[Contact] = [contact for _, found in bodies for contact in found]
    built = converters.converters(context, joints)
    switched = contactors.contactors(context, joints)
    harness = Harness(
        conductors=_sorted(
            [
                *parts.conductors(context, joints),
                *tracks(context, joints),
                *net_conductors(segments, context, joints),
            ]
        ),
        contacts=_sorted(contacts),
        devices=_sorted(parts.devices(context, joints)),
        switches=_sorted([*parts.switches(context, joints), *switched.switches]),
        diodes=_sorted([*parts.diodes(context, joints), *switched.diodes]),
        outputs=_sorted(
            [
                *sources.outputs(context, joints),
                *batteries.batteries(context, joints),
                *solar.solar(context, joints),
                *built.outputs,
            ]
        ),
        loads=_sorted([*sources.loads(context, joints), *built.loads, *switched.loads]),
        splices=_sorted(parts.splices(context, joints)),
        chassis=_sorted(parts.chassis_bonds(context, joints)),
        supplies=(*sources.supplies(context), *built.supplies),
        converters=built.converters,
        connectors=tuple(sorted((body for body, _ in bodies), key=lambda c: natural_key(c.id))),
        provenance=drawing.provenance,
    )
    report_unread_fields(context)
    report_joined_without_conductor(context, harness, {segment.net.name for segment in segments})
    report_dead_ends(context, harness)
    report_unused_settings(context, harness)
    report_contradictions(harness, settings, context.notes)
    report_alike_words(harness, context.notes)
    report_closed_names(context, harness)
    report_assumptions(context, harness)
    return replace(harness, findings=context.notes.findings, assumptions=context.notes.assumptions)


def wires_of(
    drawing: Drawing, settings: AnalysisSettings, drawing_settings: DrawingSettings
) -> tuple[Context, MatedPairs, tuple[Segment, ...]]:
    """The drawing with its roles found, which connectors mate, and which nets are wires."""
    context = _context(drawing, settings, drawing_settings)
    joints = Joints(context.net_of, context.pins_of)
    mated = find_pairs(context)
    return context, mated, find_segments(context, mated, joints)


def _context(drawing: Drawing, settings: AnalysisSettings, drawing_settings: DrawingSettings) -> Context:
    notes = Notes(drawing.notices)
    words = Words(
        word for case in settings.cases or () for word in (case.state, case.arrangement) if word is not None
    )
    roles = find_roles(drawing, drawing_settings, notes)
    report_left_out(drawing, drawing_settings, notes)
    found = {
        reference: Part(
            one.symbol, one.role, SymbolFields(one.symbol, one.role, notes, words), one.ends, one.guessed
        )
        for reference, one in roles.items()
        if one.role is not Role.IGNORE
    }
    out = {
        PinRef(reference, pin.number)
        for reference, one in roles.items()
        if one.role is Role.IGNORE
        for pin in one.symbol.pins
    }
    out.update(pin for part in found.values() for pin in unused_pins(part, notes))
    pins_of = {
        net.name: tuple(sorted((pin for pin in net.pins if pin not in out), key=pin_key)) for net in drawing.nets
    }
    net_of = {pin: net for net in drawing.nets for pin in pins_of[net.name]}
    ignored = frozenset(reference for reference, one in roles.items() if one.role is Role.IGNORE)
    return Context(drawing, settings, drawing_settings, found, pins_of, net_of, notes, ignored)


def _sorted(elements: Iterable[E]) -> tuple[E, ...]:
    return tuple(sorted(elements, key=lambda element: natural_key(element.id)))
