"""Everything the analysis has found out about one harness: what the rules look at."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from loadloom.graph.circuit.solution import Solution
from loadloom.graph.facts.protection import Protection
from loadloom.graph.faults.answer import FaultAnswer, PartFault
from loadloom.graph.heat.enclosure import Inside
from loadloom.graph.load_cases.corners import AtCorner, CornerState
from loadloom.graph.model.figures import NOISE
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating, SupplyRow
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.open_circuits.after_opening import AfterOpening
from loadloom.graph.open_circuits.contact_spread import Spread
from loadloom.graph.open_circuits.in_series import InSeries
from loadloom.graph.open_circuits.main_lead_open import MainOpen
from loadloom.graph.open_circuits.outputs_off import MayOpen
from loadloom.graph.open_circuits.single_open_circuits import OpenCircuits
from loadloom.graph.structure.output_sides import OutputSides
from loadloom.graph.structure.sense_leads import SenseLead, sense_leads
from loadloom.graph.structure.topology import Topology


@dataclass(frozen=True, slots=True)
class Currents:
    """Magnitudes of one part's current in A, by case id: the peak, and the continuous current of equal heat.

    Each is the greatest over all corners of the tolerances; ``peak_at`` and ``continuous_at`` name the corner.
    """

    peak_a: Mapping[str, float]
    continuous_a: Mapping[str, float]
    peak_at: Mapping[str, AtCorner] = field(default_factory=dict)
    continuous_at: Mapping[str, AtCorner] = field(default_factory=dict)

    def continuous_words(self, case: str) -> str:
        """The corner of a case's continuous current, for a sentence behind it; empty for the nominal one."""
        return self.continuous_at[case].words if case in self.continuous_at else ""

    @property
    def worst_peak(self) -> tuple[str, float]:
        """Case and current of the greatest peak."""
        return _greatest(self.peak_a)

    @property
    def worst_continuous(self) -> tuple[str, float]:
        """Case and current of the greatest continuous current."""
        return _greatest(self.continuous_a)


def _greatest(by_case: Mapping[str, float]) -> tuple[str, float]:
    """The greatest, and the first case that equals it but for rounding, which is not the same in every library."""
    most_a = max(by_case.values())
    return next(case for case, current_a in by_case.items() if not most_a > current_a * (1.0 + NOISE)), most_a


@dataclass(frozen=True)
class Facts:
    """Input of every rule's ``check``.

    ``loaded[case.id]`` are the nominal solutions of a case in load state: with the chassis as a joint and, where
    there is a chassis, without it; ``continuous`` the same with every load replaced
    by its continuous equivalent; ``lowest`` at the corner that gives the least voltage at the loads.
    ``open_circuit`` is the highest output voltage with no load at all, one solution per arrangement word (None = as
    drawn).
    ``loaded_corners`` and ``continuous_corners`` are the same at every corner of the tolerances, by case id.
    ``currents`` is by the id of a two-ended part, output or splice; ``ratings`` by conductor and contact id.
    ``temperatures_c`` are the conductors' own temperatures at the worst continuous current. ``protection``:
    devices, who guards what, setting ranges and short circuits. ``inside``: enclosures by
    zone. ``faults``: sustained fault current and combined overload current.
    """

    harness: Harness
    settings: AnalysisSettings
    cases: tuple[Case, ...]
    topology: Topology
    loaded: Mapping[str, tuple[Solution, ...]]
    continuous: Mapping[str, tuple[Solution, ...]]
    lowest: Mapping[str, tuple[Solution, ...]]
    open_circuit: Mapping[str | None, Solution]
    currents: Mapping[str, Currents]
    ratings: Mapping[str, Rating]
    charging: Mapping[str | None, tuple[Solution, ...]] = field(default_factory=dict)
    """Each battery empty and all else at its highest, with no load; one solution for each, by arrangement word."""
    loaded_corners: Mapping[str, tuple[CornerState, ...]] = field(default_factory=dict)
    continuous_corners: Mapping[str, tuple[CornerState, ...]] = field(default_factory=dict)
    temperatures_c: Mapping[str, float] = field(default_factory=dict)
    supplies: tuple[SupplyRow, ...] = ()
    loaded_positions: Mapping[str, int] = field(default_factory=dict)
    inside: Mapping[str, Inside] = field(default_factory=dict)
    protection: Protection = field(default_factory=Protection)
    faults: FaultAnswer = field(default_factory=lambda: FaultAnswer({}, {}, (), ()))
    passed_through: Mapping[str, PartFault] = field(default_factory=dict)
    """By converter that can fail from input to output: the conductor that is worst off then, as it is then."""
    open_circuits: Mapping[str, tuple[OpenCircuits, ...]] = field(default_factory=dict)
    """Single open circuits of the continuous solutions, by case id; empty where the settings leave them out."""
    after_opening: Mapping[str, AfterOpening] = field(default_factory=dict)
    """What each rated part carries after the worst single open circuit, or with a joined output off; by id, and
    empty where the settings leave single open circuits out."""
    left_in_series: tuple[InSeries, ...] = ()
    """What one open conductor or contact leaves in series between two voltages, each once for all arrangements;
    empty where the settings leave single open circuits out."""
    may_open: tuple[MayOpen, ...] = ()
    """What may open once one of several joined outputs is off, by output and part; empty where the settings leave
    single open circuits out."""
    sense_leads: tuple[MainOpen, ...] = ()
    """What every sense lead carries when the main lead of its output opens."""
    spread: Mapping[str, tuple[Spread, ...]] = field(default_factory=dict)
    """Contact spread of the continuous solutions, by case id."""

    @cached_property
    def leads_by_word(self) -> Mapping[str | None, tuple[SenseLead, ...]]:
        """The sense leads in every arrangement."""
        words = dict.fromkeys(case.arrangement for case in self.cases)
        return {word: sense_leads(self.harness, word) for word in words}

    @cached_property
    def output_sides(self) -> OutputSides:
        """From which side of a joint an output is reached."""
        return OutputSides(self.harness)

    @cached_property
    def terminal_joints(self) -> frozenset[str]:
        """Joints with a terminal of an output or a load, or a chassis bond."""
        found = {bond.node for bond in self.harness.chassis}
        found |= {n for o in self.harness.outputs if o.fitted for n in (o.node_plus, o.node_minus)}
        found |= {n for x in self.harness.loads if x.fitted for n in (x.node_plus, x.node_minus)}
        return frozenset(found)
