"""What every step of building looks at: the symbols in their roles, the pins' nets, notes and settings."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from loadloom.graph.model.findings import Subject
from loadloom.graph.model.naming import natural_key, some_of
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.plugin.drawing import Drawing, Net, PinRef, Symbol
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.fields import SymbolFields
from loadloom.plugin.notes import Notes, subject_of
from loadloom.plugin.roles import Role
from loadloom.plugin.values import shown


@dataclass(frozen=True)
class Part:
    """A symbol in its role, with its fields. ``ends`` and ``guessed``: see ``find_roles.Found``."""

    symbol: Symbol
    role: Role
    fields: SymbolFields
    ends: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    guessed: bool = False

    @property
    def reference(self) -> str:
        """The symbol's reference."""
        return self.symbol.reference

    @property
    def pins(self) -> tuple[PinRef, ...]:
        """The symbol's pins."""
        return tuple(PinRef(self.symbol.reference, pin.number) for pin in self.symbol.pins)

    def subject(self, id: str | None = None, pin: str | None = None, field: str | None = None) -> Subject:
        """What a finding about this part points at."""
        return subject_of(self.symbol, id=id, pin=pin, field=field)


@dataclass(frozen=True)
class Context:
    """The drawing with its roles found. ``parts`` are in natural order and leave out what is to be ignored.

    ``ignored`` are the references of what is to be ignored. ``pins_of`` are a net's pins without those of ignored
    symbols, in natural order.
    """

    drawing: Drawing
    settings: AnalysisSettings
    drawing_settings: DrawingSettings
    parts: Mapping[str, Part]
    pins_of: Mapping[str, tuple[PinRef, ...]]
    net_of: Mapping[PinRef, Net]
    notes: Notes
    ignored: frozenset[str] = frozenset()

    @cached_property
    def nets(self) -> tuple[Net, ...]:
        """The nets with any pin, by their first one in natural order."""
        nets = {net.name: net for net in self.net_of.values()}
        return tuple(sorted(nets.values(), key=lambda net: pin_key(self.pins_of[net.name][0])))

    def in_role(self, *roles: Role) -> Iterator[Part]:
        """The parts in any of these roles, in natural order."""
        return (part for part in self.parts.values() if part.role in roles)

    def role(self, pin: PinRef) -> Role | None:
        """The role of the symbol that a pin belongs to; None for a symbol without one."""
        part = self.parts.get(pin.reference)
        return part.role if part else None

    def is_alone(self, pin: PinRef) -> bool:
        """Whether nothing is joined to a pin."""
        net = self.net_of.get(pin)
        return net is None or len(self.pins_of[net.name]) < 2


def pin_key(pin: PinRef) -> tuple[object, object]:
    """Sort key of pins: reference, then number, both in natural order."""
    return natural_key(pin.reference), natural_key(pin.number)


def pin_text(pin: PinRef) -> str:
    """``J1.3``."""
    return f"{pin.reference}.{pin.number}"


def nearest(name: str, known: Iterable[str]) -> str:
    """The end of a sentence about a name that nothing has: which known one is nearest, if there is any."""
    names = {each.casefold(): each for each in reversed(list(known))}
    close = difflib.get_close_matches(name.casefold(), list(names), n=1, cutoff=0.0)
    return f"; the nearest is {shown(names[close[0]])}." if close else "."


def listed(ids: Iterable[str], at_most: int = 8) -> str:
    """Ids in a sentence: ``F1, F2 and F3``, the rest of a long list counted."""
    names = list(ids)
    if len(names) > at_most:
        return some_of(names, at_most)
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1]))) if names else ""
