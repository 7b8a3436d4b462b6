"""The parts of a harness, typed: what each is, which joints it connects, and its values in SI units.

Sign convention: a two-ended element's current is positive from ``node_a`` to ``node_b``. Node ids are joint
ids (a net's name or ``@J1.3``) or the id of a pin side that is a node of its own.

``None`` is "not stated"; what a calculation then uses instead is decided in one place (``settings``) and
reported. ``placeholders`` names the attributes whose drawn text could not be read, so that every result that
rests on them can be marked.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Self

from loadloom.graph.model.findings import Subject


@dataclass(frozen=True, slots=True)
class Band:
    """A value with its tolerance: nominal, least and greatest, in the unit of the attribute that holds it."""

    nominal: float
    lower: float
    upper: float

    @classmethod
    def exact(cls, value: float) -> Band:
        """A value without tolerance."""
        return cls(value, value, value)


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a value may lie below and above its nominal, as shares of it (0.05 = 5 %)."""

    below: float
    above: float

    @classmethod
    def even(cls, share: float) -> Tolerance:
        """The same share both ways."""
        return cls(share, share)


class GaugeSystem(enum.StrEnum):
    """Which system a conductor size was written in; they are never swapped."""

    AWG = "AWG"
    MM2 = "mm²"


@dataclass(frozen=True, slots=True)
class Gauge:
    """A conductor size.

    ``size`` is ``"18"``, ``"1/0"`` for AWG or ``"0.75"`` for mm². ``area_mm2`` is the metallic cross-section:
    for AWG by ASTM B258, d = 0.127 mm · 92^((36-n)/39).
    """

    system: GaugeSystem
    size: str
    area_mm2: float

    def __str__(self) -> str:
        return f"{self.size} {self.system.value}"


@dataclass(frozen=True, slots=True)
class Make:
    """How a conductor is made, as far as it is stated; None = not stated.

    ``strands``: 1 is solid. ``iec_class``: class of IEC 60228, for sizes in mm²: 1, 2, 5 or 6.
    """

    strands: int | None = None
    tinned: bool | None = None
    iec_class: int | None = None

    def over(self, other: Make) -> Make:
        """This make, with what it leaves open taken from another."""
        return Make(
            other.strands if self.strands is None else self.strands,
            other.tinned if self.tinned is None else self.tinned,
            other.iec_class if self.iec_class is None else self.iec_class,
        )


UNSTATED_MAKE = Make()


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """What all parts have. ``by_word`` holds attribute values that replace the plain ones in a state or
    arrangement of that name (``Load@idle``, ``Trip@pooled``).
    """

    id: str
    subject: Subject
    by_word: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    placeholders: frozenset[str] = frozenset()

    def under(self, word: str | None) -> Self:
        """This element as it is in the state or arrangement ``word``."""
        changes = self.by_word.get(word) if word is not None else None
        return replace(self, **changes) if changes else self

    def variants(self) -> tuple[Self, ...]:
        """This element as it is plainly, and under every word that changes something."""
        return (self, *(self.under(word) for word, changes in self.by_word.items() if changes))


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoEnded(Element):
    """A part with two ends. ``fitted`` is false for DNP parts and open switches: an open circuit.

    ``resistance_ohm`` is the part's own stated resistance, taken as it stands at every temperature.
    """

    node_a: str
    node_b: str
    fitted: bool = True
    resistance_ohm: Band | None = None
    zone: str | None = None


class ConductorKind(enum.StrEnum):
    """How a conductor was drawn."""

    WIRE = "wire"
    CORE = "core"
    NET = "net"
    TRACK = "track"


@dataclass(frozen=True, slots=True)
class Vias:
    """Plated holes side by side: how many, the finished hole's diameter and the plating's thickness in m."""

    count: int
    hole_m: float
    plating_m: float

    @property
    def area_mm2(self) -> float:
        """The section of all barrels in mm²: π·(d + t)·t each."""
        return self.count * math.pi * (self.hole_m + self.plating_m) * self.plating_m * 1e6


@dataclass(frozen=True, slots=True)
class Track:
    """A copper track of a board: least width and finished thickness in m, on an outer layer or inside.

    ``limit_c`` is the greatest temperature in °C of the board; ``vias`` stand in series with the track.
    """

    width_m: float | None
    copper_m: float | None
    outer: bool
    limit_c: float | None
    vias: Vias | None = None

    @property
    def area_mm2(self) -> float | None:
        """The cross-section in mm²; None where it is not stated."""
        return None if self.width_m is None or self.copper_m is None else self.width_m * self.copper_m * 1e6

    def __str__(self) -> str:
        if self.width_m is None or self.copper_m is None:
            return ""
        layer = "outer" if self.outer else "inner"
        return f"{self.width_m * 1e3:.4g} mm × {self.copper_m * 1e6:.3g} µm, {layer}"


APART = "none"
"""What ``Bundle`` reads of a conductor that lies in no bundle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Conductor(TwoEnded):
    """A wire, one core of a cable, or a track of a board. ``length_m`` is one way, as routed.

    ``bundle`` is the name of what it lies in, ``none`` where the drawing states that it lies apart.

    ``length_assumed`` marks a length that is the settings' default. ``cable`` is the reference of the cable
    symbol of which this is a core. ``own_rating_a`` replaces the basis. ``terminal_c`` is the greatest temperature
    in °C of the terminals that it ends on, ``material`` what it is made of (None = copper), ``layout`` how the
    cables of its bundle lie. ``make``: its strands, tin and class.
    """

    kind: ConductorKind = ConductorKind.WIRE
    gauge: Gauge | None = None
    make: Make = UNSTATED_MAKE
    length_m: float | None = None
    length_assumed: bool = False
    insulation: str | None = None
    bundle: str | None = None
    cable: str | None = None
    own_rating_a: float | None = None
    voltage_rating_v: float | None = None
    terminal_c: float | None = None
    material: str | None = None
    layout: str | None = None
    track: Track | None = None

    @property
    def lies_in(self) -> str | None:
        """The bundle that it shares with others; None where it states none, or that it lies apart."""
        return None if self.bundle is None or self.bundle.casefold() == APART else self.bundle

    @property
    def area_mm2(self) -> float | None:
        """The metallic cross-section in mm², of the narrowest of a track and its vias; None where it is not
        known."""
        if self.track is not None:
            area, vias = self.track.area_mm2, self.track.vias
            return area if area is None or vias is None else min(area, vias.area_mm2)
        return self.gauge.area_mm2 if self.gauge is not None else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact(TwoEnded):
    """One mated terminal pair, or a lone terminal in series with a wire.

    ``connector`` is the reference that names the pair in results (the naming half, the two-sided symbol or the
    lone connector); ``pin`` its pin. ``resistance_ohm`` holds new (lower) to aged (upper).
    """

    connector: str
    pin: str
    contact_type: str | None = None
    own_rating_a: float | None = None
    voltage_rating_v: float | None = None


class DeviceKind(enum.StrEnum):
    """Kinds of protective devices."""

    LIMITER = "limiter"
    FUSE = "fuse"
    BREAKER = "breaker"
    RESETTABLE = "resettable"


class Behaviour(enum.StrEnum):
    """What an electronic limit does once it acts."""

    LATCH_OFF = "latch-off"
    HICCUP = "hiccup"
    CONSTANT_CURRENT = "constant-current"
    FOLDBACK = "foldback"


@dataclass(frozen=True, slots=True, kw_only=True)
class Device(TwoEnded):
    """A protective device. ``node_a`` is the source side.

    Limiter: ``trip_a`` (None with ``active`` true = missing; ``active`` false = ``Trip`` is ``none``),
    ``delay_s``, ``behaviour``, ``retry_on_s``, ``retry_off_s``; a faster step above it, ``fast_trip_a`` within
    ``fast_delay_s``; a fuse in series inside it, ``fuse_rating_a`` of ``fuse_curve``. Fuse and breaker:
    ``rating_a`` and ``curve``. A fuse's ``melting_a2s`` is the least I²t at which it melts; a breaker's
    ``magnetic`` part acts at these multiples of its rating on DC, within ``magnetic_s``. Resettable: ``hold_a`` and
    ``trip_a``,
    ``delay_s`` the latest that it trips there.
    """

    kind: DeviceKind
    active: bool = True
    trip_a: Band | None = None
    delay_s: float | None = None
    behaviour: Behaviour = Behaviour.LATCH_OFF
    retry_on_s: float | None = None
    retry_off_s: float | None = None
    fast_trip_a: Band | None = None
    fast_delay_s: float | None = None
    fuse_rating_a: float | None = None
    fuse_curve: str | None = None
    rating_a: float | None = None
    curve: str | None = None
    melting_a2s: float | None = None
    magnetic: Band | None = None
    magnetic_s: float | None = None
    hold_a: float | None = None
    voltage_rating_v: float | None = None
    breaking_capacity_a: float | None = None

    @property
    def setting_a(self) -> float | None:
        """The nominal number printed on the device or set on it, in amperes."""
        if not self.active:
            return None
        if self.kind is DeviceKind.LIMITER:
            return self.trip_a.nominal if self.trip_a else None
        if self.kind is DeviceKind.RESETTABLE:
            return self.hold_a
        return self.rating_a


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch(TwoEnded):
    """A switch, a pole of a contactor or a transistor; an open one has ``fitted`` false.

    ``welds``: it may stay closed when it should be open, or be closed again by hand; false only for one that is not
    on the board at all. ``breaking_a``: the current that it interrupts. ``part``: the reference of the symbol of
    which this is a pole.
    """

    rating_a: float | None = None
    voltage_rating_v: float | None = None
    welds: bool = True
    breaking_a: float | None = None
    part: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Diode(TwoEnded):
    """A blocking part: conducts from ``node_a`` (anode) to ``node_b`` (cathode) only."""

    forward_drop_v: float = 0.0
    rating_a: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Output(Element):
    """One output of a supply: a voltage behind an internal resistance, with a limit.

    ``trip_a``: the unit's own shutdown; None with ``never_trips`` false = not stated. ``tolerance``: of the
    voltage, None = not stated. ``sense_plus`` and ``sense_minus`` are joints, ``sense_limit_v`` the most that the
    output adds to its voltage for the drop on its leads; None = not stated. ``resistance_ohm`` is the least,
    ``resistance_high_ohm`` the greatest where they differ, as of a battery. ``battery`` and
    ``solar``: what makes it one.
    """

    node_plus: str
    node_minus: str
    fitted: bool = True
    voltage_v: float | None = None
    tolerance: Tolerance | None = None
    limit_a: float | None = None
    trip_a: Band | None = None
    never_trips: bool = False
    behaviour: Behaviour = Behaviour.LATCH_OFF
    delay_s: float | None = None
    retry_on_s: float | None = None
    retry_off_s: float | None = None
    fast_trip_a: Band | None = None
    fast_delay_s: float | None = None
    resistance_ohm: float = 0.0
    resistance_high_ohm: float | None = None
    supply: str | None = None
    sense_plus: str | None = None
    sense_minus: str | None = None
    sense_limit_v: float | None = None
    zone: str | None = None
    battery: Battery | None = None
    solar: Solar | None = None

    @property
    def senses(self) -> bool:
        """Whether a sense terminal is joined to anything."""
        return self.sense_plus is not None or self.sense_minus is not None

    @property
    def sense_added_v(self) -> float:
        """The most in V that remote sense adds to the voltage; 0 where none is drawn or its limit is not stated."""
        return self.sense_limit_v or 0.0 if self.senses else 0.0


@dataclass(frozen=True, slots=True)
class Battery:
    """What a battery has beside an output: ``capacity_ah`` that can be drawn, and the most current that it takes
    while it is charged; None = not stated.
    """

    capacity_ah: float | None = None
    charge_limit_a: float | None = None


@dataclass(frozen=True, slots=True)
class Solar:
    """What solar strings have beside an output: the most current that others may drive back through one of them,
    how many of them lie beside each other in one symbol, and the most that each gives.
    """

    reverse_a: float | None = None
    strings: int = 1
    string_a: float = 0.0

    @property
    def from_beside_a(self) -> float:
        """What the other strings of the symbol drive back through one that has failed short."""
        return (self.strings - 1) * self.string_a


@dataclass(frozen=True, slots=True)
class Supply:
    """A unit with one or more outputs. Shares are 0…1.

    ``power_derating``: points (inside temperature in °C, share of ``power_w``). ``efficiency``: points (share
    of rated power, efficiency); ``no_load_w`` is what it takes beside that; ``rated_w`` is the rated power of a
    unit that states no ``power_w``. ``fanless_below`` is a share of ``power_w``. ``mounting``: (what it is, share
    of ``power_w`` that it leaves), which multiply.
    """

    name: str
    output_ids: tuple[str, ...]
    power_w: float | None = None
    power_derating: tuple[tuple[float, float], ...] = ()
    mounting: tuple[tuple[str, float], ...] = ()
    efficiency: tuple[tuple[float, float], ...] = ()
    no_load_w: float = 0.0
    rated_w: float | None = None
    fanless_below: float | None = None
    zone: str | None = None
    placeholders: frozenset[str] = frozenset()


Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Converter:
    """A converter: an output, and the load that its input is, which know of each other.

    The output ``output_id`` is what it feeds from, the load ``load_id`` what its input draws: what the output gives
    over the ``efficiency`` (points: share of rated output power, efficiency 0…1), and ``no_load_w`` beside it.
    Below ``input_minimum_v`` it does not run. ``input_limit_a``: its input takes no more than this.
    ``bridged``: its two minus terminals are one joint.
    """

    id: str
    subject: Subject
    output_id: str
    load_id: str
    efficiency: Points = ()
    no_load_w: float = 0.0
    input_minimum_v: float | None = None
    input_maximum_v: float | None = None
    input_limit_a: float | None = None
    bridged: bool = False
    zone: str | None = None
    placeholders: frozenset[str] = frozenset()


class LoadKind(enum.StrEnum):
    """What a load keeps constant."""

    CURRENT = "current"
    POWER = "power"
    RESISTANCE = "resistance"


@dataclass(frozen=True, slots=True)
class Start:
    """What a load draws when it is switched on, stands still or is shorted; None = not stated.

    ``starting_a`` for ``starting_s``, ``stalled_a``, which the load stands for ``stalled_s``, and ``inrush_a`` for
    ``inrush_s``: at ``stated_at_v``. ``every_s``: the shortest time from one start to the next. ``capacitance_f``
    charges through the path and ``series_ohm``, at first through ``precharge_ohm`` for ``precharge_s``. Loads
    with the same ``together`` start at one moment. ``feeds_back_a`` for ``feeds_back_s``: what a running motor
    gives into a short circuit.
    """

    starting_a: float | None = None
    starting_s: float | None = None
    every_s: float | None = None
    stalled_a: float | None = None
    stalled_s: float | None = None
    inrush_a: float | None = None
    inrush_s: float | None = None
    stated_at_v: float | None = None
    capacitance_f: float | None = None
    series_ohm: float | None = None
    precharge_ohm: float | None = None
    precharge_s: float | None = None
    together: str | None = None
    feeds_back_a: float | None = None
    feeds_back_s: float | None = None


NO_START = Start()


@dataclass(frozen=True, slots=True, kw_only=True)
class Load(Element):
    """What consumes. ``demand`` is in A, W or Ω by ``demand_kind``; None = not readable or missing.

    ``function`` is what it is called on the drawing; ``zone`` is where it stands, ``heat_share`` (0…1) how much
    of its power becomes heat there. ``start``: what it draws when it is switched on. ``calm``: while the load
    starts, the continuous draw (kind, demand) that makes as much heat; None = that of the plain state.
    ``charges``: its capacitance is charged in this state. ``hold_up_s``: for how long it runs on with less voltage
    than its least; None = not stated.
    """

    node_plus: str
    node_minus: str
    fitted: bool = True
    function: str | None = None
    demand_kind: LoadKind = LoadKind.CURRENT
    demand: float | None = None
    minimum_v: float | None = None
    maximum_v: float | None = None
    duration_s: float | None = None
    duty: float | None = None
    period_s: float | None = None
    zone: str | None = None
    heat_share: float = 1.0
    start: Start = NO_START
    calm: tuple[LoadKind, float] | None = None
    charges: bool = False
    hold_up_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Splice(Element):
    """A joint with a rating of its own."""

    node: str
    rating_a: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Chassis(Element):
    """A bond of a joint to the chassis; all chassis symbols are one joint."""

    node: str


@dataclass(frozen=True, slots=True)
class Connector:
    """A connector pair as a body: which contacts stand beside which.

    ``contact_ids`` are in natural pin order. ``rows``: pins of each row in order, as contact ids; empty where
    the layout is not stated (then every pair of contacts counts as neighbours).
    """

    id: str
    contact_ids: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...] = ()
    zone: str | None = None
