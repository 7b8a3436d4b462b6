"""Everything a user can set about the analysis, with the defaults in one place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import PurePath

from loadloom.graph.model.elements import UNSTATED_MAKE, Band, Make
from loadloom.graph.model.findings import Acceptance, Assigned, Severity

DEFAULT_AMBIENT_C = (20.0, 40.0)
"""Used where no ambient is stated; printed on page one as assumed."""

DEFAULT_CONTACT_RESISTANCE_OHM = Band(6e-3, 2e-3, 10e-3)
"""New to aged, where neither the drawing nor the settings say. Common practice, no published source."""


@dataclass(frozen=True, slots=True)
class Ambient:
    """Least and greatest ambient temperature of a zone in °C; ``stated`` is false for the default."""

    min_c: float
    max_c: float
    stated: bool = True


PAINT_EMISSIVITY = 0.9
"""Painted or plastic surfaces of any colour; common practice, no published source. Bare metal has far less."""

SUN_ABSORPTIVITY = 0.9
"""Share of the sun's heat that a dark surface takes: the safe side. White paint takes about 0.3 (from memory)."""


FACES = ("top", "bottom", "front", "back", "left", "right")
"""Faces of an enclosure; front and back are of its width, left and right of its depth."""


@dataclass(frozen=True, slots=True)
class Enclosure:
    """A closed or ventilated housing, which is a zone of its own.

    ``size_m`` is its width, height and depth, ``covered`` those of ``FACES`` that stand against something; or
    ``surface_m2`` is its free surface, the sides against a wall left out. ``surface_coefficient_w_per_m2k`` is a
    constant that the user states for all of it; None = found from the films on both sides of its walls
    (``heat.box``). ``emissivity`` outside and inside 0…1; ``sun_w_per_m2`` the sun's heat on a surface square to
    it, of which ``absorptivity`` is taken. ``air_flow_m3_per_s`` is the flow of outside air through it, 0 for a
    closed one. What the settings give as the zone's ambient is the air outside.
    """

    surface_m2: float = 0.0
    surface_coefficient_w_per_m2k: float | None = None
    air_flow_m3_per_s: float = 0.0
    size_m: tuple[float, float, float] | None = None
    covered: tuple[str, ...] = ()
    emissivity: float = PAINT_EMISSIVITY
    emissivity_inside: float = PAINT_EMISSIVITY
    sun_w_per_m2: float = 0.0
    absorptivity: float = SUN_ABSORPTIVITY


@dataclass(frozen=True, slots=True)
class ContactType:
    """A terminal family by name: its rating and resistance.

    ``rated_a`` by number of loaded positions: points (positions, A), ascending. ``derating``: points
    (ambient °C, A) of the base curve. ``rise_k`` is the temperature rise at the rated current. ``max_c`` is the
    highest temperature in °C that contact and housing stand.
    """

    name: str
    rated_a: tuple[tuple[int, float], ...] = ()
    resistance_ohm: Band | None = None
    derating: tuple[tuple[float, float], ...] = ()
    rise_k: float | None = None
    max_c: float | None = None
    i2t_a2s: float | None = None
    wire_area_mm2: tuple[float, float] | None = None
    source: str = "stated by the user"


@dataclass(frozen=True, slots=True)
class Case:
    """A state of the loads with an arrangement of the protection; None is the plain value of every field.

    ``for_a_time``: differs from another case for a time only, as the start of a load; nothing of it lasts.
    """

    id: str
    state: str | None = None
    arrangement: str | None = None
    for_a_time: bool = False


@dataclass(frozen=True, slots=True)
class OwnTableRow:
    """A row of the user's own ampacity table: conductor size (as in ``Gauge``), allowed current and conditions."""

    system: str
    size: str
    allowed_a: float
    insulation_c: float | None
    ambient_c: float
    note: str


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """A point of a device's band: at ``multiple`` × rating it opens no sooner than ``min_s`` and no later than
    ``max_s``; None is "not stated".
    """

    multiple: float
    min_s: float | None
    max_s: float | None


@dataclass(frozen=True, slots=True)
class Curve:
    """A time–current band by name. ``gates`` true: points are gates of a standard, no curve between them.

    ``rerating``: points (ambient °C, share of the rating), ascending, by which the rating is multiplied; empty =
    not stated. No generic rerating ships, the user's own only.
    """

    name: str
    points: tuple[CurvePoint, ...]
    gates: bool
    source: str
    ambient_c: float | None = None
    note: str = ""
    rerating: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class DesignSettings:
    """What advice has to keep to, by ids of loads: sets ``together`` on one channel, sets ``apart`` on different
    ones, loads ``alone`` on theirs. ``channels``: ids of limiters or outputs; empty = found in the drawing.

    ``contacts``: names of the contact types to choose from; empty = all that the settings state. ``settable``: ids
    of outputs whose own trip can be set. ``voltage_ratings_v``, ``breaking_capacities_a``: what parts are made
    for, ascending; empty = the least value that is needed. ``thicken_at_most``: no conductor is made thicker for
    the sake of protection alone than this many times the section that is drawn or that its load asks for.
    """

    together: tuple[tuple[str, ...], ...] = ()
    apart: tuple[tuple[str, ...], ...] = ()
    alone: tuple[str, ...] = ()
    channels: tuple[str, ...] = ()
    contacts: tuple[str, ...] = ()
    settable: tuple[str, ...] = ()
    voltage_ratings_v: tuple[float, ...] = ()
    breaking_capacities_a: tuple[float, ...] = ()
    thicken_at_most: float = 4.0


@dataclass(frozen=True, slots=True)
class AnalysisSettings:
    """Settings of one analysis. Shares are 0…1, temperatures °C.

    ``conductor_temperature_c`` holds every conductor at one temperature in every corner (for examples that
    are to be recomputed by hand); None = each at its own. ``enclosures`` by zone. ``margin``: share of every
    allowed current that is kept free by policy. ``overload_band``: IEC 60364-4-43 433.1, 1.45, value from memory.
    ``strict``: every assumption that a result rests on is a reason for incomplete.
    ``basis_stated`` is false for the default basis. ``resistance_table``: ``band`` (least and greatest of what is
    published for the size), ``copper`` (area × resistivity) or the name of a table. ``make`` is that of conductors
    that state none. ``net_star``: a net of a wire class with more than two pins is read as a star (true) or as a
    chain in natural order (false).
    """

    basis: str = "general-equipment"
    basis_stated: bool = False
    rule_sets: tuple[str, ...] = ()
    rule_set_values: Mapping[str, float] = field(default_factory=dict)
    zones: Mapping[str, Ambient] = field(default_factory=dict)
    default_ambient: Ambient = Ambient(*DEFAULT_AMBIENT_C, stated=False)
    enclosures: Mapping[str, Enclosure] = field(default_factory=dict)
    conductor_temperature_c: float | None = None
    insulation_default_c: float | None = None
    terminal_default_c: float | None = None
    resistance_table: str = "band"
    make: Make = UNSTATED_MAKE
    altitude_m: float = 0.0
    margin: float = 0.0
    overload_band: float = 1.45
    contact_types: Mapping[str, ContactType] = field(default_factory=dict)
    contact_resistance_ohm: Band = DEFAULT_CONTACT_RESISTANCE_OHM
    own_table: tuple[OwnTableRow, ...] = ()
    own_table_name: str | None = None
    curves: Mapping[str, Curve] = field(default_factory=dict)
    cases: tuple[Case, ...] | None = None
    severity: Mapping[str, Severity] = field(default_factory=dict)
    accepted: tuple[Acceptance, ...] = ()
    assigned: tuple[Assigned, ...] = ()
    load_voltage_tolerance: float | None = None
    touch_voltage_v: float = 60.0
    fuse_loading: float | None = None
    stocked_sizes: tuple[str, ...] = ()
    uneven_sharing: float = 1.2
    single_open_circuit: bool = True
    spread_draws: int = 10_000
    spread_seed: int = 1
    length_tolerance: float = 0.0
    decimal_sign: str = "."
    strict: bool = False
    design: DesignSettings = DesignSettings()
    source_file: PurePath | None = None

    def ambient(self, zone: str | None) -> Ambient:
        """The ambient of a zone; the default where the zone is not stated."""
        return self.zones.get(zone or "", self.default_ambient)
