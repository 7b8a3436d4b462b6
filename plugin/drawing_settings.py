"""What the settings say about reading a drawing: roles by rule, wire classes, nets, default length."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from loadloom.graph.model.elements import Band, Gauge
from loadloom.plugin.roles import RoleRules

BUILT_IN_LENGTH_M = 1.0
"""Length of a wire drawn as a net where the settings state none; reported as assumed, and its results marked."""


@dataclass(frozen=True, slots=True)
class WireValues:
    """What a wire class, or the settings of one net, say about the wire; None = not stated."""

    gauge: Gauge | None = None
    length_m: float | None = None
    insulation: str | None = None
    bundle: str | None = None
    zone: str | None = None
    own_rating_a: float | None = None
    voltage_rating_v: float | None = None
    resistance_ohm: Band | None = None
    terminal_c: float | None = None
    material: str | None = None
    layout: str | None = None
    strands: int | None = None
    tinned: bool | None = None
    iec_class: int | None = None

    def beside(self, gauge: Gauge | None) -> WireValues:
        """What a class says of a wire that states a size itself: with another size than the class's, not the rating
        and the resistance, which belong to the class's own."""
        if self.gauge is None or gauge == self.gauge:
            return self
        return replace(self, own_rating_a=None, resistance_ohm=None)


@dataclass(frozen=True, slots=True)
class NetValues:
    """The settings of one net: its wire, and how its pins hang together.

    ``joint`` true: the pins are one joint, whatever the class says. ``star``: with more than two pins, a star
    around the first pin (true) or a chain (false) in the order of ``pins``; None = not stated. ``pins`` are
    texts such as ``J1.3``; empty = natural order. ``lengths_m`` is by segment, ``J1.3-J2.3``.
    """

    wire: WireValues = WireValues()
    joint: bool = False
    star: bool | None = None
    pins: tuple[str, ...] = ()
    lengths_m: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class DrawingSettings:
    """Settings of reading. ``roles`` says what symbols are.

    ``default_length_m`` is for wires without a length of either drawing style; None = not stated. ``star``:
    how nets of a wire class with more than two pins are read where ``nets`` does not say. ``open_page``: whether
    a report started from KiCad's windows ends with its page in the browser. ``fields_for_people``: names of fields
    that nothing reads and nobody need be told of, ``*`` for any text.
    """

    roles: RoleRules = field(default_factory=RoleRules)
    wire_classes: Mapping[str, WireValues] = field(default_factory=dict)
    nets: Mapping[str, NetValues] = field(default_factory=dict)
    default_length_m: float | None = None
    star: bool = True
    open_page: bool = True
    fields_for_people: tuple[str, ...] = ()
