"""Which wire class of the settings a wire or core drawn as a symbol belongs to, and what it takes from there.

The field ``Wire class`` names it. Without that field it is the net class of both ends, where that is one and the
same wire class of the settings and not KiCad's ``Default``: a class at one end alone may be meant for another wire
that is joined there.
"""

from __future__ import annotations

from collections.abc import Iterable

from loadloom.plugin.building.context import Context, Part
from loadloom.plugin.building.nets_as_wires import DEFAULT_CLASS, wire_classes
from loadloom.plugin.building.pins import core_pins
from loadloom.plugin.drawing import PinRef
from loadloom.plugin.drawing_settings import WireValues
from loadloom.plugin.fields import View
from loadloom.plugin.roles import Role

FIELD = "Wire class"


def class_of(view: View, ends: Iterable[PinRef], context: Context) -> str | None:
    """The name of the class of a wire, or of a core with these ends; None where it has none.

    A name that the settings do not describe is given all the same; see ``closed_names``.
    """
    written = view.fields.written(FIELD, view.part, view.word)
    if written is not None:
        return written.text.strip()
    found: set[str] = set()
    for pin in ends:
        net = context.net_of.get(pin)
        classes = set(wire_classes(net, context)) - {DEFAULT_CLASS} if net is not None else set()
        if len(classes) != 1:
            return None
        found |= classes
    return found.pop() if len(found) == 1 else None


def values_of(name: str | None, context: Context) -> WireValues:
    """What a class says; nothing where the settings do not describe it."""
    return context.drawing_settings.wire_classes.get(name or "", WireValues())


def named_classes(part: Part, context: Context) -> set[str]:
    """All classes that the fields of a wire or cable name."""
    cores = (None, *core_pins(part, context)) if part.role is Role.CABLE else (None,)
    views = [part.fields.view(core, word) for core in cores for word in (None, *part.fields.words(core))]
    return {name for view in views if (name := class_of(view, (), context)) is not None}
