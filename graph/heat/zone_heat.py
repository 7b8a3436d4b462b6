"""Heat made in every zone: losses of wires, contacts and devices, waste heat of supplies, and heat of loads."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np

from loadloom.graph.circuit.loading import mean_over_rms
from loadloom.graph.circuit.network import LOAD_STATE
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.heat.conductors import conductor_resistances
from loadloom.graph.heat.temperatures import own_temperatures_c
from loadloom.graph.model.elements import Output, TwoEnded
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import SupplyRow
from loadloom.graph.model.settings import AnalysisSettings, Case


@dataclass(frozen=True, slots=True)
class ZoneHeat:
    """Heat in W made in one zone, by what makes it. ``devices_w`` includes switches and diodes."""

    supplies_w: float = 0.0
    loads_w: float = 0.0
    devices_w: float = 0.0
    contacts_w: float = 0.0
    conductors_w: float = 0.0

    @property
    def total_w(self) -> float:
        """All of it together."""
        return self.supplies_w + self.loads_w + self.devices_w + self.contacts_w + self.conductors_w


def zone_heats(
    harness: Harness,
    case: Case,
    solution: Solution,
    supplies: Iterable[SupplyRow] = (),
    settings: AnalysisSettings | None = None,
) -> dict[str, ZoneHeat]:
    """Heat by zone in one solved steady state of a case; parts without a zone are left out.

    I²·R of every two-ended part plus the forward drop of diodes. With ``settings`` copper counts as warm as its
    current in this state makes it, where the state was solved with conductors at their insulation's limit. A
    supply's ``heat_w`` counts in its zone; where no efficiency is stated, I²·R of its outputs' internal resistance,
    as of a battery. What neither gives counts as 0, so check ``unknown_heat`` as well. A load's power, by its
    ``heat_share``: the mean over its duty where it has one.
    """
    made: dict[str, dict[str, float]] = {}

    def add(zone: str | None, kind: str, heat_w: float) -> None:
        if zone is not None:
            parts = made.setdefault(zone, {})
            parts[kind] = parts.get(kind, 0.0) + heat_w

    losses_w = _losses_w(harness, solution)
    if settings is not None and settings.conductor_temperature_c is None:
        losses_w[: len(harness.conductors)] = _of_copper_w(harness, solution, settings, losses_w)
    groups: tuple[tuple[str, Sequence[TwoEnded]], ...] = (
        ("conductors_w", harness.conductors),
        ("contacts_w", harness.contacts),
        ("devices_w", (*harness.devices, *harness.switches, *harness.diodes)),
    )
    done = 0
    for kind, parts in groups:
        for part, loss_w in zip(parts, losses_w[done : done + len(parts)], strict=True):
            add(part.zone, kind, loss_w)
        done += len(parts)
    rows = {row.id: row for row in supplies}
    for zone, output_ids, heat_w in _units(harness, rows):
        add(zone, "supplies_w", _inner_losses_w(harness, solution, output_ids) if heat_w is None else heat_w)
    at_load = {name: k for k, name in enumerate(solution.network.load_ids)}
    for load in harness.loads:
        if load.zone is not None and load.id in at_load:
            k = at_load[load.id]
            power_w = abs(float(solution.load_v[k] * solution.load_a[k]))
            add(load.zone, "loads_w", load.under(case.state).heat_share * power_w * mean_over_rms(load, case.state))
    return {zone: ZoneHeat(**parts) for zone, parts in made.items()}


def unknown_heat(harness: Harness, supplies: Iterable[SupplyRow]) -> dict[str, tuple[str, ...]]:
    """Supplies and outputs by zone whose waste heat is not known: the zone is warmer than computed.

    Those that state neither an efficiency nor an internal resistance, or whose power can't be told.
    """
    found: dict[str, tuple[str, ...]] = {}
    rows = {row.id: row for row in supplies}
    units = {supply.name: supply for supply in harness.supplies}
    for zone, names, heat_w in _units(harness, rows):
        unit = next((units[o.supply] for o in _outputs(harness, names) if o.supply in units), None)
        stated = unit is not None and (unit.efficiency or "efficiency" in unit.placeholders)
        inner = all(output.resistance_ohm > 0 for output in _outputs(harness, names) if output.fitted)
        if zone is not None and heat_w is None and (stated or not inner):
            found[zone] = (*found.get(zone, ()), unit.name if unit is not None else names[0])
    return found


def worst_heats(states: Iterable[Mapping[str, ZoneHeat]]) -> dict[str, ZoneHeat]:
    """The heat of every zone in the state that makes the most of it."""
    found: dict[str, ZoneHeat] = {}
    for state in states:
        for zone, heat in state.items():
            if zone not in found or heat.total_w > found[zone].total_w:
                found[zone] = heat
    return found


def greatest_heats(
    harness: Harness,
    case: Case,
    solutions: Sequence[Solution],
    supplies: Sequence[SupplyRow],
    settings: AnalysisSettings,
) -> dict[str, ZoneHeat]:
    """``worst_heats`` of the solved states of a case with copper at its own temperature.

    That is found only for states that make more heat with copper at its insulation's limit than the worst so far:
    copper is no warmer than that.
    """
    most = [zone_heats(harness, case, solution, supplies) for solution in solutions]
    own: dict[int, dict[str, ZoneHeat]] = {}
    found: dict[str, ZoneHeat] = {}
    for zone in dict.fromkeys(zone for heats in most for zone in heats):
        for k in sorted((k for k in range(len(most)) if zone in most[k]), key=lambda k: -most[k][zone].total_w):
            if zone in found and most[k][zone].total_w <= found[zone].total_w:
                break
            if k not in own:
                own[k] = zone_heats(harness, case, solutions[k], supplies, settings)
            if zone not in found or own[k][zone].total_w > found[zone].total_w:
                found[zone] = own[k][zone]
    return found


def heat_kinds(heat: ZoneHeat) -> dict[str, float]:
    """Heat in W by the name of what makes it, ``supplies``, ``loads`` and so on."""
    return {field.name.removesuffix("_w"): getattr(heat, field.name) for field in fields(ZoneHeat)}


def _losses_w(harness: Harness, solution: Solution) -> list[float]:
    """I²·R and forward drops in W, in ``Harness.two_ended`` order."""
    network = solution.network
    count = len(harness.two_ended)
    resistance_ohm = network.edge_resistance_ohm[:count]
    current_a = np.abs(solution.edge_a[:count])
    closed_ohm = np.where(np.isfinite(resistance_ohm), resistance_ohm, 0.0)
    losses_w: list[float] = (current_a**2 * closed_ohm + current_a * network.edge_drop_v[:count]).tolist()
    return losses_w


def _of_copper_w(
    harness: Harness, solution: Solution, settings: AnalysisSettings, losses_w: Sequence[float]
) -> list[float]:
    """Losses of the conductors in W, those in zones at their own temperatures.

    Those of a stated resistance, and of conductors that differ by arrangement, are left as they were solved.
    """
    in_zones = {
        c.id
        for c in harness.conductors
        if c.zone is not None and c.resistance_ohm is None and c.gauge is not None and len(tuple(c.variants())) == 1
    }
    if not in_zones:
        return list(losses_w[: len(harness.conductors)])
    magnitudes_a = np.abs(solution.edge_a[: len(harness.conductors)]).tolist()
    currents_a = {c.id: amperes for c, amperes in zip(harness.conductors, magnitudes_a, strict=True)}
    resistance_ohm = conductor_resistances(
        harness, settings, own_temperatures_c(harness, currents_a, settings, only=in_zones)
    )
    found = []
    for conductor, loss_w in zip(harness.conductors, losses_w, strict=False):
        if loss_w > 0 and conductor.id in in_zones:
            loss_w = min(loss_w, currents_a[conductor.id] ** 2 * resistance_ohm(conductor, LOAD_STATE))
        found.append(loss_w)
    return found


def _units(
    harness: Harness, rows: Mapping[str, SupplyRow]
) -> Iterable[tuple[str | None, tuple[str, ...], float | None]]:
    """Zone, ids of the outputs and known waste heat in W of every unit; an output of no unit is one by itself."""
    for supply in harness.supplies:
        row = rows.get(supply.name)
        yield supply.zone, supply.output_ids, None if row is None else row.heat_w
    in_units = {name for supply in harness.supplies for name in supply.output_ids}
    for output in harness.outputs:
        if output.id not in in_units and output.fitted:
            yield output.zone, (output.id,), None


def _outputs(harness: Harness, names: Iterable[str]) -> list[Output]:
    wanted = set(names)
    return [output for output in harness.outputs if output.id in wanted]


def _inner_losses_w(harness: Harness, solution: Solution, output_ids: Iterable[str]) -> float:
    """I²·R in W in the internal resistances of outputs."""
    inner_ohm = {output.id: output.resistance_ohm for output in _outputs(harness, output_ids)}
    given = zip(solution.network.source_ids, solution.source_a.tolist(), strict=True)
    return float(sum(current_a**2 * inner_ohm[name] for name, current_a in given if name in inner_ohm))
