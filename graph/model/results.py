"""Results: the rows that every report is made from.

Names are those of the results file. SI units, the unit in the name; unknown is ``None``,
never 0. ``case`` is the id of the case of the worst current. Every row type is a frozen dataclass whose field
names are the file's keys.
"""

from __future__ import annotations

import enum
import itertools
import math
from dataclasses import dataclass, field
from typing import Any

from loadloom.graph.model.findings import Assigned, Finding, Severity, Verdict
from loadloom.graph.model.harness import Provenance
from loadloom.graph.model.settings import Case


@dataclass(frozen=True, slots=True)
class FactorFormula:
    """How a factor follows from its input x, so that a spreadsheet can recompute it (``at`` is the definition).

    ``kind`` is ``temperature``: √((``limit`` − x)/(``limit`` − ``base``)), 0 from ``limit`` up;
    ``steps``: ``points`` (greatest x, factor), ascending: the first whose x is not passed;
    ``linear``: ``points`` (x, factor), ascending, joined by straight lines.
    Steps and lines say nothing outside their points. ``greatest`` bounds the factor from above where stated.
    """

    kind: str
    limit: float | None = None
    base: float | None = None
    points: tuple[tuple[float, float], ...] = ()
    greatest: float | None = None

    def at(self, x: float) -> float | None:
        """The factor at input ``x``; None where the formula does not reach. ValueError for an unknown kind."""
        value = self._unbounded(x)
        return value if value is None or self.greatest is None else min(value, self.greatest)

    def _unbounded(self, x: float) -> float | None:
        if self.kind == "temperature" and self.limit is not None and self.base is not None:
            return math.sqrt((self.limit - x) / (self.limit - self.base)) if x < self.limit else 0.0
        if self.kind == "steps":
            return next((factor for most, factor in self.points if x <= most), None)
        if self.kind == "linear":
            for (x0, y0), (x1, y1) in itertools.pairwise(self.points):
                if x0 <= x <= x1:
                    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
            return None
        raise ValueError(f"no factor formula {self.kind!r} with these values")


@dataclass(frozen=True, slots=True)
class Factor:
    """One link of a rating's chain: what it is, the factor, its source and the source row's status.

    ``kind`` is ``ambient``, ``bundle``, ``altitude``, ``margin``, ``insulation``, ``positions`` or ``estimate``;
    of a supply's power ``inside`` (its inside temperature) or ``mounting``.
    ``formula`` says how the factor follows from ``input_value`` where a spreadsheet can recompute it.
    """

    kind: str
    factor: float
    reason: str
    source: str
    status: str = ""
    input_value: float | None = None
    input_unit: str | None = None
    formula: FactorFormula | None = None


@dataclass(frozen=True, slots=True)
class Cap:
    """An upper bound on a rating that is not a factor: a terminal, a device rule, an own limit."""

    reason: str
    limit_a: float
    source: str


@dataclass(frozen=True, slots=True)
class Rating:
    """Allowed current with its basis and chain: ``allowed_a`` = min(``base_a`` × Π factors, caps).

    ``allowed_a`` is ``None`` where it is not determined; ``missing`` then says why. ``estimate`` marks a rating
    that no table gives. ``check_edition`` marks that a row with that mark was used.
    """

    subject_id: str
    allowed_a: float | None
    base_a: float | None
    factors: tuple[Factor, ...]
    caps: tuple[Cap, ...]
    basis: str
    source: str
    status: str = ""
    estimate: bool = False
    check_edition: bool = False
    missing: str | None = None
    temperature_limit_c: float | None = None
    assumptions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CurrentRow:
    """What conductor and contact rows share. ``currents_a`` is the magnitude per case id.

    ``continuous_a`` is the worst current held against the continuous rating (states with a duration by RMS);
    ``current_a`` the worst of any case. Both are the worst over the corners of the tolerances. ``event_a`` is the
    greatest current of a state with a duration that is more than ``continuous_a``, ``event_utilisation`` its share
    of the allowed current; None where there is none. ``uneven_a`` and ``open_circuit_a`` are the worst with uneven
    contacts and with one parallel path open. ``unprotected_reason`` says why ``protected`` is None.
    ``explanation``: how its allowed and its sustained fault current come about, line by line; empty in large
    harnesses.
    """

    id: str
    case: str | None
    current_a: float | None
    continuous_a: float | None = None
    allowed_a: float | None
    utilisation: float | None
    resistance_ohm: float | None
    drop_v: float | None
    loss_w: float | None
    currents_a: dict[str, float | None] = field(default_factory=dict)
    role: str = ""
    """``feed``, ``return``, ``sense``, ``chassis`` or ``""`` where nothing flows."""
    event_a: float | None = None
    event_utilisation: float | None = None
    uneven_a: float | None = None
    open_circuit_a: float | None = None
    open_circuit_by: str | None = None
    sustained_fault_a: float | None = None
    sustained_fault_case: str | None = None
    sustained_fault: str | None = None
    combined_overload_a: float | None = None
    combined_overload_case: str | None = None
    combined_overload_of: dict[str, float] = field(default_factory=dict)
    """What flows in the part of the circuits behind each device, in A by its id; told where it is over the allowed
    current and the parts come to it. The id is empty for what copper alone holds down."""
    protected: bool | None = None
    protected_by: tuple[str, ...] = ()
    protected_note: str = ""
    rating: Rating | None = None
    corner: str | None = None
    """The corner of the tolerances that gives ``current_a``."""
    is_bound: bool = False
    """No state need reach ``current_a``, and none exceeds it."""
    findings: tuple[str, ...] = ()
    """Rule names of the findings on this row."""
    explanation: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ConductorRow(CurrentRow):
    """One wire or core. ``from_id``/``to_id`` are the joints or contacts at its ends."""

    from_id: str
    to_id: str
    gauge: str | None
    area_mm2: float | None
    length_m: float | None
    insulation: str | None = None
    bundle: str | None = None
    zone: str | None = None
    temperature_c: float | None = None
    temperature_limit_c: float | None = None
    cable: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactRow(CurrentRow):
    """One mated terminal pair."""

    connector: str
    pin: str
    contact_type: str | None = None
    loaded_positions: int | None = None
    zone: str | None = None
    temperature_rise_k: float | None = None
    share_p05: float | None = None
    share_p50: float | None = None
    share_p95: float | None = None
    overload_probability: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputRow:
    """One output of a supply."""

    id: str
    case: str | None
    supply: str | None
    voltage_v: float | None
    current_a: float | None
    limit_a: float | None
    trip_a: float | None
    power_w: float | None
    utilisation: float | None
    currents_a: dict[str, float | None] = field(default_factory=dict)
    corner: str | None = None
    """The corner of the tolerances that gives ``current_a``."""
    is_bound: bool = False
    """No state need reach ``current_a``, and none exceeds it."""
    run_time_s: float | None = None
    """Of a battery: the shortest of ``run_times_s``."""
    run_times_s: dict[str, float | None] = field(default_factory=dict)
    """Of a battery, by case: how long its charge lasts; None where the case does not empty it."""
    findings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyRow:
    """One unit. ``fan_off`` is None where no threshold is stated; ``load_share`` is of the nameplate power.

    ``allowed_w`` = ``nameplate_w`` × Π ``factors``; ``missing`` says why it is None although a power is drawn.
    """

    id: str
    case: str | None
    power_w: float | None
    allowed_w: float | None
    nameplate_w: float | None
    load_share: float | None
    utilisation: float | None
    efficiency: float | None
    input_w: float | None
    heat_w: float | None
    fan_off: bool | None
    inside_c: float | None = None
    factors: tuple[Factor, ...] = ()
    missing: str | None = None
    findings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceRow:
    """One protective device. Currents it certainly carries and certainly clears; setting ranges in nominal
    settings.

    ``prospective_*`` is the short-circuit current just behind it. ``band`` is (current in A, fastest s, slowest
    s) for the time–current chart. ``protects``: the parts whose current its setting bounds; whether they are
    protected, and by which device, their own rows say.
    """

    id: str
    kind: str
    case: str | None
    setting_a: float | None
    current_a: float | None
    utilisation: float | None = None
    non_tripping_a: float | None = None
    tripping_a: float | None = None
    tripping_within_s: float | None = None
    setting_low_a: float | None = None
    setting_high_a: float | None = None
    setting_low_by: str | None = None
    setting_high_by: str | None = None
    setting_low_because: str = ""
    setting_high_because: str = ""
    setting_range_note: str = ""
    needs_a: dict[str, float] = field(default_factory=dict)
    """What parts have to be allowed at least, in A by id, before any setting both carries the load and protects."""
    prospective_a: float | None = None
    breaking_capacity_a: float | None = None
    voltage_rating_v: float | None = None
    highest_voltage_v: float | None = None
    curve: str | None = None
    curve_source: str | None = None
    gates: bool = False
    band: tuple[tuple[float, float | None, float | None], ...] = ()
    events: tuple[tuple[float, float], ...] = ()
    """(s, A) of the starts and other events that it has to ride through, the greatest for each time."""
    withstand: dict[str, tuple[tuple[float, float], ...]] = field(default_factory=dict)
    """Points (s, A) of what the weakest conductors that it protects stand from their limit on, by id."""
    upstream: tuple[str, ...] = ()
    protects: tuple[str, ...] = ()
    settings_a: dict[str, float | None] = field(default_factory=dict)
    currents_a: dict[str, float | None] = field(default_factory=dict)
    corner: str | None = None
    """The corner of the tolerances that gives ``current_a``."""
    is_bound: bool = False
    """No state need reach ``current_a``, and none exceeds it."""
    findings: tuple[str, ...] = ()

    @property
    def range_not_determined(self) -> bool:
        """Whether the search for its setting range stopped; ``setting_range_note`` says why."""
        return self.setting_range_note.startswith("not determined")

    @property
    def setting_stands(self) -> str:
        """Where the setting stands in its range: ``inside``, ``too low``, ``too high``, ``no range`` (no setting
        does both), ``not set`` (a channel that is not active has no setting) or ``not determined``.

        A range without an upper end is one that other devices keep safe.
        """
        low, high, setting = self.setting_low_a, self.setting_high_a, self.setting_a
        if setting is None:
            return "not set"
        if low is None or (high is None and (self.range_not_determined or not self.setting_range_note)):
            # The loads alone say that it is too low, whatever its upper end.
            return "too low" if low is not None and setting < low * (1.0 - 1e-9) else "not determined"
        if high is not None and low > high * (1.0 + 1e-9):
            return "no range"
        if setting < low * (1.0 - 1e-9):
            return "too low"
        return "too high" if high is not None and setting > high * (1.0 + 1e-9) else "inside"


@dataclass(frozen=True, slots=True, kw_only=True)
class JunctionRow:
    """What splice and switch rows share. ``sustained_fault_a`` is a bound above it where the search leaves a splice
    out; there is no case and no fault then.
    """

    id: str
    case: str | None
    current_a: float | None
    allowed_a: float | None
    utilisation: float | None
    sustained_fault_a: float | None = None
    sustained_fault_case: str | None = None
    sustained_fault: str | None = None
    protected: bool | None = None
    corner: str | None = None
    """The corner of the tolerances that gives ``current_a``."""
    is_bound: bool = False
    """No state need reach ``current_a``, and none exceeds it."""
    findings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SpliceRow(JunctionRow):
    """One splice; its current is half the sum of the magnitudes at it. ``node``: the joint that it is."""

    node: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchRow(JunctionRow):
    """One switch or diode; ``kind`` says which."""

    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRow:
    """One load. ``voltage_v`` is the least at it, at the lowest output voltage and hot resistance;
    ``voltage_high_v`` the greatest, at the highest output voltage with the least other load. ``function`` is
    what the drawing calls it.
    """

    id: str
    function: str | None = None
    case: str | None
    demand: str
    voltage_v: float | None
    voltage_high_v: float | None
    current_a: float | None
    power_w: float | None
    minimum_v: float | None
    maximum_v: float | None
    drop_v: float | None = None
    fed_by: tuple[str, ...] = ()
    profile: tuple[tuple[str, float], ...] = ()
    """(part, voltage in V behind it) from the output to the load and back, where it gets the least voltage."""
    currents_a: dict[str, float | None] = field(default_factory=dict)
    duration_s: dict[str, float | None] = field(default_factory=dict)
    corner: str | None = None
    """The corner of the tolerances that gives ``current_a``."""
    is_bound: bool = False
    """No state need reach ``current_a``, and none exceeds it."""
    findings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenCircuitRow:
    """A conductor or contact opened: the part that is worst after it, and the loads that lose supply."""

    opened: str
    case: str | None
    worst: str | None
    worst_current_a: float | None
    worst_allowed_a: float | None
    loses_supply: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultRow:
    """A fault that something holds continuously. ``at`` and ``to`` are places.

    ``opened``: devices and outputs that have opened already. ``resistance_band_ohm``: (least, greatest) fault
    resistance at which nothing opens and at least the worst part's allowed current flows; None where no such band
    exists.
    """

    id: str
    kind: str
    case: str | None
    at: str
    to: str
    fault_current_a: float | None
    fault_resistance_ohm: float | None
    fault_power_w: float | None
    held_by: str | None
    worst: str | None
    worst_current_a: float | None
    worst_allowed_a: float | None
    resistance_band_ohm: tuple[float, float] | None = None
    description: str = ""
    opened: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortCircuitRow:
    """A short circuit at the far end of a conductor: prospective currents, what clears it and the heat of it.

    ``at_source_end_a``: the conductor's own greatest current in a short just behind its source end, which
    ``i2t_a2s`` counts as well; None where no resistance that is stated limits it. ``outputs_off``: the joined
    outputs that are off where it clears last, or not at all.
    """

    conductor: str
    at: str
    to: str
    case: str | None
    least_a: float | None
    greatest_a: float | None
    cleared_by: str | None
    slowest_s: float | None
    i2t_a2s: float | None
    withstand_a2s: float | None
    adiabatic_in_range: bool | None
    loop_heat_w: float | None
    at_source_end_a: float | None = None
    outputs_off: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ArrangementRow:
    """One arrangement of the protection beside the others: what trips, what is unprotected, the worst fault."""

    arrangement: str
    trips: tuple[str, ...]
    unprotected: tuple[str, ...]
    not_determined: tuple[str, ...]
    worst_fault: str | None
    worst_fault_power_w: float | None
    worst_sustained_fault: str | None
    worst_ratio: float | None
    narrative: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultPowerRow:
    """Power that a fault could draw at a place, against the published classes; information, no verdict."""

    at: str
    case: str | None
    power_w: float
    held_by: str | None
    within: tuple[str, ...]
    exceeds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SensitivityRow:
    """One condition made worse: how many parts then fail, or rely on the overload band, that did not as they are;
    the first of them by name, and what was judged again.
    """

    condition: str
    fails: int
    first: tuple[str, ...]
    judged: str


class AboutKind(enum.StrEnum):
    """What a report is about."""

    AS_DRAWN = "as drawn"
    WHAT_IF = "what if"
    AS_PROPOSED = "as proposed"


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """One thing that is not as drawn: of which part, what the drawing says and what counts; None = not stated."""

    part: str
    field: str
    drawn: str | None
    now: str | None


@dataclass(frozen=True, slots=True)
class About:
    """Whether the results are those of the drawing as it stands; if not, what was changed.

    ``verdict_as_drawn`` is the verdict of the drawing as it stands, None where the results are those.
    """

    kind: AboutKind = AboutKind.AS_DRAWN
    changes: tuple[ChangeRow, ...] = ()
    verdict_as_drawn: Verdict | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StartRow:
    """What a load draws when it is switched on or stands still.

    ``kind``: ``start``, ``inrush``, ``capacitance`` or ``stall``. ``current_a`` is the greatest; ``duration_s`` how
    long it lasts, for a capacitance the time in which its peak makes the same heat, for a stall how long the load
    stands it. ``i2t_a2s`` is that of the event. Of a stall: the ``least_a`` that is certain to flow, what opens
    then (``cleared_by``; empty = nothing is certain to), from ``opens_fastest_s`` to ``opens_slowest_s``.
    """

    id: str
    kind: str
    case: str
    current_a: float | None
    duration_s: float | None
    i2t_a2s: float | None
    least_a: float | None = None
    cleared_by: tuple[str, ...] = ()
    opens_fastest_s: float | None = None
    opens_slowest_s: float | None = None


@dataclass(frozen=True, slots=True)
class ConverterCase:
    """A converter in one load case, in the steady state in which its input draws most.

    ``efficiency`` is the one used: ``output_w`` over ``input_w`` less the no-load power; None where it gives
    nothing. ``heat_w`` is what it loses. ``running`` is false where its input voltage is too low.
    """

    input_v: float
    input_a: float
    input_w: float
    output_w: float
    efficiency: float | None
    heat_w: float
    running: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ConverterRow:
    """A converter; its output has a row of its own among the outputs, its input among the loads.

    ``case``: the load case in which its input draws most. ``isolated``: no copper joins a terminal of its input to
    one of its output. ``greatest_input_w``: what its input counts with in the search for faults, whatever is wrong
    behind it; None where nothing stated bounds it. ``utilisation``: the greatest input current over
    ``input_limit_a``.
    """

    id: str
    case: str | None
    isolated: bool
    input_minimum_v: float | None
    input_maximum_v: float | None
    input_limit_a: float | None
    no_load_w: float
    greatest_input_w: float | None
    utilisation: float | None
    cases: dict[str, ConverterCase] = field(default_factory=dict)
    findings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Results:
    """Everything one analysis says. Lists are in natural order of ids; findings gravest first."""

    verdict: Verdict
    provenance: Provenance
    tool_version: str
    date: str
    settings: dict[str, Any]
    cases: tuple[Case, ...]
    residual_a: float
    outputs: tuple[OutputRow, ...]
    supplies: tuple[SupplyRow, ...]
    devices: tuple[DeviceRow, ...]
    conductors: tuple[ConductorRow, ...]
    contacts: tuple[ContactRow, ...]
    splices: tuple[SpliceRow, ...]
    switches: tuple[SwitchRow, ...]
    loads: tuple[LoadRow, ...]
    open_circuits: tuple[OpenCircuitRow, ...]
    faults: tuple[FaultRow, ...]
    short_circuits: tuple[ShortCircuitRow, ...]
    arrangements: tuple[ArrangementRow, ...]
    fault_powers: tuple[FaultPowerRow, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[str, ...]
    sources: dict[str, str] = field(default_factory=dict)
    """Every source used, by its id, as a citation with edition."""
    links: tuple[tuple[str, str, str], ...] = ()
    """The graph for the picture: (element id, node a, node b), outputs and loads included."""
    sensitivity: tuple[SensitivityRow, ...] = ()
    """What would turn under worse conditions; empty where it was not asked for."""
    starts: tuple[StartRow, ...] = ()
    """What loads draw when they are switched on or stand still."""
    assigned: tuple[Assigned, ...] = ()
    """Who closes which open point, as the settings say it or the last revision did."""
    converters: tuple[ConverterRow, ...] = ()
    """What converters draw, give and lose."""
    about: About = About()
    """Whether all this holds for the drawing as it stands, or for a trial or a proposal."""

    def count(self, severity: Severity) -> int:
        """How many findings of a severity are not accepted."""
        return sum(1 for f in self.findings if f.severity is severity and f.accepted is None)
