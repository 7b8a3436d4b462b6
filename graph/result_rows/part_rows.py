"""Rows of conductors, contacts, outputs, loads, devices and faults: one function for each table of the results."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import numpy as np

from loadloom.graph.devices.device_bands import band, band_choice, curve_source, threshold
from loadloom.graph.facts.facts import Currents, Facts
from loadloom.graph.heat.temperatures import contact_rise_k
from loadloom.graph.heat.two_body import two_bodies, withstand_points
from loadloom.graph.judging.battery_use import run_times_s, shortest
from loadloom.graph.judging.beyond import Beyond, splices, switches
from loadloom.graph.judging.highest_voltage import highest_voltages
from loadloom.graph.judging.idle_devices import IdleDevices
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.judging.range_words import range_words
from loadloom.graph.judging.room import room_needed
from loadloom.graph.judging.voltage_profiles import voltage_profiles
from loadloom.graph.judging.voltages import (
    feeding_voltage_v,
    tightest_maximum,
    tightest_minimum,
)
from loadloom.graph.load_cases.corners import NOMINAL, SAME, AtCorner
from loadloom.graph.load_cases.demands import Demand
from loadloom.graph.model.elements import Conductor, Contact, DeviceKind, Load, TwoEnded
from loadloom.graph.model.figures import figures, quantity
from loadloom.graph.model.findings import Finding
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import all_of
from loadloom.graph.model.results import (
    ConductorRow,
    ContactRow,
    DeviceRow,
    LoadRow,
    OpenCircuitRow,
    OutputRow,
    ShortCircuitRow,
    SpliceRow,
    SwitchRow,
)
from loadloom.graph.open_circuits.contact_spread import Spread
from loadloom.graph.ratings.contact_rating import contact_type_of
from loadloom.graph.result_rows.explain import Explainer
from loadloom.graph.setting_ranges.setting_ranges import SettingRange
from loadloom.graph.structure.topology import part_role

MOST_EXPLAINED = 1_000
"""Conductors and contacts up to which all are explained: some 1.5 kB of text each."""

WITHSTAND_SHOWN = 3
"""Conductors whose withstand a time–current chart shows."""

RuleNames = Mapping[str, tuple[str, ...]]
"""Names of the rules that have a finding on a subject, by the subject's id."""


def rule_names(findings: Iterable[Finding]) -> dict[str, tuple[str, ...]]:
    """Which rules found something on which subject, gravest first."""
    names: dict[str, dict[str, None]] = {}
    for finding in findings:
        names.setdefault(finding.subject.id, {})[finding.rule] = None
    return {subject: tuple(rules) for subject, rules in names.items()}


def conductor_rows(facts: Facts, names: RuleNames) -> tuple[ConductorRow, ...]:
    """One row for each conductor."""
    return tuple(
        ConductorRow(
            **_current_values(facts, conductor, names),
            from_id=conductor.node_a,
            to_id=conductor.node_b,
            gauge=str(conductor.gauge or conductor.track or "") or None,
            area_mm2=conductor.area_mm2,
            length_m=conductor.length_m,
            insulation=conductor.insulation,
            bundle=conductor.bundle,
            zone=conductor.zone,
            temperature_c=facts.temperatures_c.get(conductor.id, facts.settings.conductor_temperature_c),
            temperature_limit_c=_temperature_limit_c(facts, conductor),
            cable=conductor.cable,
        )
        for conductor in facts.harness.conductors
    )


def contact_rows(facts: Facts, names: RuleNames) -> tuple[ContactRow, ...]:
    """One row for each contact."""
    return tuple(
        ContactRow(
            **_current_values(facts, contact, names),
            connector=contact.connector,
            pin=contact.pin,
            contact_type=contact.contact_type,
            loaded_positions=facts.loaded_positions.get(contact.connector),
            zone=contact.zone,
            temperature_rise_k=_rise_k(facts, contact),
            **_spread_values(facts, contact),
        )
        for contact in facts.harness.contacts
    )


Explained = TypeVar("Explained", ConductorRow, ContactRow)


def explained(facts: Facts, rows: tuple[Explained, ...], ids: Collection[str]) -> tuple[Explained, ...]:
    """The rows with their explanation: all in a harness of ``MOST_EXPLAINED`` parts at most, else ``ids``."""
    parts: dict[str, Conductor | Contact] = {c.id: c for c in facts.harness.conductors}
    parts |= {c.id: c for c in facts.harness.contacts}
    wanted = parts if len(parts) <= MOST_EXPLAINED else ids
    if not wanted:
        return rows
    explainer = Explainer(facts)
    return tuple(
        replace(row, explanation=explainer.lines(parts[row.id])) if row.id in wanted else row for row in rows
    )


def output_rows(facts: Facts, names: RuleNames) -> tuple[OutputRow, ...]:
    """One row for each output; its limit and trip as in the worst case's arrangement."""
    arrangements = {case.id: case.arrangement for case in facts.cases}
    rows = []
    for output in facts.harness.outputs:
        currents = facts.currents.get(output.id)
        case_id, current_a = currents.worst_continuous if currents else (None, None)
        there = output.under(arrangements[case_id] if case_id else None)
        rows.append(
            OutputRow(
                id=output.id,
                case=case_id,
                supply=there.supply,
                voltage_v=there.voltage_v,
                current_a=current_a,
                limit_a=there.limit_a,
                trip_a=there.trip_a.nominal if there.trip_a else None,
                power_w=_output_power_w(facts, output.id),
                utilisation=_ratio(current_a, there.limit_a),
                currents_a=dict(currents.peak_a) if currents else {},
                run_time_s=shortest(run_times_s(facts, output)),
                run_times_s=run_times_s(facts, output),
                **_corner_values(currents.continuous_at.get(case_id) if currents and case_id else None),
                findings=names.get(output.id, ()),
            )
        )
    return tuple(rows)


def _output_power_w(facts: Facts, output: str) -> float | None:
    """The most continuous power that an output gives in any case and at any corner, in W."""
    powers_w = [
        float(network.source_voltage_v[k] * max(0.0, state.solution.source_a[k]))
        for states in facts.continuous_corners.values()
        for state in states
        for network in (state.solution.network,)
        for k, name in enumerate(network.source_ids)
        if name == output
    ]
    return max(powers_w, default=None)


def splice_rows(facts: Facts, names: RuleNames) -> tuple[SpliceRow, ...]:
    """One row for each splice."""
    found = {beyond.part.id: beyond for beyond in splices(facts)}
    return tuple(
        SpliceRow(node=s.node, **_junction_values(facts, s.id, found, names)) for s in facts.harness.splices
    )


def switch_rows(facts: Facts, names: RuleNames) -> tuple[SwitchRow, ...]:
    """One row for each switch and each diode."""
    found = {beyond.part.id: beyond for beyond in switches(facts)}
    return tuple(
        SwitchRow(kind=kind, **_junction_values(facts, part.id, found, names))
        for kind, parts in (("switch", facts.harness.switches), ("diode", facts.harness.diodes))
        for part in parts
    )


def _junction_values(facts: Facts, part: str, found: Mapping[str, Beyond], names: RuleNames) -> dict[str, Any]:
    """What splice and switch rows share. ``found``: what is known of the parts with a rating."""
    currents = facts.currents.get(part)
    case_id, current_a = currents.worst_continuous if currents else (None, None)
    values: dict[str, Any] = {
        "id": part,
        "case": case_id,
        "current_a": current_a,
        "allowed_a": _allowed_a(facts, part),
        "utilisation": _ratio(current_a, _allowed_a(facts, part)),
        "findings": names.get(part, ()),
        **_corner_values(currents.continuous_at.get(case_id) if currents and case_id else None),
    }
    own, beyond = facts.faults.parts.get(part), found.get(part)
    if own is not None:
        values |= {
            "sustained_fault_a": _finite(own.sustained_fault_a),
            "sustained_fault_case": own.case,
            "sustained_fault": own.fault.id if own.fault else None,
        }
    elif beyond is not None:
        values["sustained_fault_a"] = _finite(beyond.most_a)
    if beyond is not None:
        over = beyond.is_over
        values["protected"] = None if over is None else not over
    return values


def load_rows(facts: Facts, names: RuleNames) -> tuple[LoadRow, ...]:
    """One row for each load; current and power in the case and at the corner where the current is greatest."""
    rows = []
    inputs = {converter.load_id for converter in facts.harness.converters}
    profiles = voltage_profiles(facts)
    for load in facts.harness.loads:
        (least, minimum_v), (greatest, maximum_v) = tightest_minimum(facts, load), tightest_maximum(facts, load)
        states = {case.id: _load_state(facts, load, case.id) for case in facts.cases}
        currents = {case: abs(state.load_a) if state is not None else None for case, state in states.items()}
        worst = max(currents, key=lambda c: currents[c] or 0.0, default=None)
        state = states[worst] if worst is not None else None
        nominal_v = feeding_voltage_v(facts, load, _giving(facts, worst))
        rows.append(
            LoadRow(
                id=load.id,
                case=worst,
                function=load.function,
                demand=_demand_words(load) if load.id not in inputs else _input_words(state),
                voltage_v=least.volts if least else None,
                voltage_high_v=greatest.volts if greatest else None,
                current_a=abs(state.load_a) if state is not None else None,
                power_w=abs(state.load_v * state.load_a) if state is not None else None,
                minimum_v=minimum_v,
                maximum_v=maximum_v,
                drop_v=nominal_v - state.nominal_v if nominal_v is not None and state is not None else None,
                fed_by=facts.topology.fed_by(load.node_plus, load.node_minus) if load.fitted else (),
                profile=tuple((step.part, step.volts) for step in profiles.get(load.id, ())),
                currents_a=currents,
                duration_s={case.id: load.under(case.state).duration_s for case in facts.cases},
                **_corner_values(AtCorner(state.corner) if state is not None else None),
                findings=names.get(load.id, ()),
            )
        )
    return tuple(rows)


def _input_words(state: _LoadState | None) -> str:
    """What a converter's input draws, in words: it follows from what the output gives."""
    return "not determined" if state is None else f"{figures(abs(state.load_v * state.load_a))} W"


@dataclass(frozen=True, slots=True)
class _LoadState:
    """A load where it draws the most: voltage in V, current in A, the corner; and its voltage at nominal ones."""

    load_v: float
    load_a: float
    corner: str
    nominal_v: float


def _load_state(facts: Facts, load: Load, case_id: str) -> _LoadState | None:
    """A load in a case at the corner where it draws the most; None where its demand is not known."""
    nominal = facts.loaded[case_id][0]
    k = nominal.network.load_index.get(load.id)
    if k is None:
        return None
    nominal_v = float(nominal.load_v[k])
    worst = _LoadState(nominal_v, float(nominal.load_a[k]), NOMINAL, nominal_v)
    for state in facts.loaded_corners.get(case_id, ()):
        solution = state.solution
        if not state.bound and abs(float(solution.load_a[k])) > abs(worst.load_a) * (1.0 + SAME):
            worst = _LoadState(float(solution.load_v[k]), float(solution.load_a[k]), state.corner, nominal_v)
    return worst


def _giving(facts: Facts, case_id: str | None) -> frozenset[str]:
    """Outputs that give current in a case."""
    if case_id is None:
        return frozenset()
    solution = facts.loaded[case_id][0]
    given = zip(solution.network.source_ids, solution.source_a.tolist(), strict=True)
    return frozenset(name for name, amperes in given if amperes > 0.0)


def _demand_words(load: Load) -> str:
    if load.demand is None:
        return "not stated"
    unit = {"current": "A", "power": "W", "resistance": "Ω"}[load.demand_kind]
    return quantity(load.demand, unit)


def _current_values(facts: Facts, part: Conductor | Contact, names: RuleNames) -> dict[str, Any]:
    """What conductor and contact rows share."""
    rating = facts.ratings.get(part.id)
    allowed_a = _allowed_a(facts, part.id)
    currents = facts.currents.get(part.id)
    values: dict[str, Any] = {
        "id": part.id,
        "case": None,
        "current_a": None,
        "allowed_a": allowed_a,
        "utilisation": None,
        "resistance_ohm": None,
        "drop_v": None,
        "loss_w": None,
        "role": part_role(facts.harness, facts.topology, part),
        "rating": rating,
        "findings": names.get(part.id, ()),
    }
    if currents is not None:
        case_id, current_a = currents.worst_peak
        _, continuous_a = currents.worst_continuous
        resistance_ohm = _resistance_ohm(facts, part, case_id)
        values |= _fault_values(facts, part.id) | _open_circuit_values(facts, part.id)
        values |= _uneven_values(facts, part.id)
        values |= {
            "case": case_id,
            "current_a": current_a,
            "continuous_a": continuous_a,
            "utilisation": _ratio(continuous_a, allowed_a),
            "resistance_ohm": resistance_ohm,
            "drop_v": current_a * resistance_ohm if resistance_ohm is not None else None,
            "loss_w": continuous_a**2 * resistance_ohm if resistance_ohm is not None else None,
            "currents_a": dict(currents.peak_a),
            **_corner_values(currents.peak_at.get(case_id)),
            **_event_values(currents, allowed_a),
        }
    return values


def _corner_values(at: AtCorner | None) -> dict[str, Any]:
    """At which corner of the tolerances a current was found."""
    return {} if at is None else {"corner": at.corner, "is_bound": at.bound}


def _event_values(currents: Currents, allowed_a: float | None) -> dict[str, Any]:
    """The greatest current of an event, which is more than what its case carries continuously."""
    events = [a for case, a in currents.peak_a.items() if exceeds(a, currents.continuous_a[case])]
    most = max(events, default=None)
    return {"event_a": most, "event_utilisation": _ratio(most, allowed_a)}


def _fault_values(facts: Facts, part: str) -> dict[str, Any]:
    """What the fault search says about a conductor or contact."""
    found = facts.faults.parts.get(part)
    if found is None:
        return {}
    return {
        "sustained_fault_a": _finite(found.sustained_fault_a),
        "sustained_fault_case": found.case,
        "sustained_fault": found.fault.id if found.fault else None,
        "combined_overload_a": _finite(found.combined_overload_a),
        "combined_overload_case": found.combined_overload_case,
        "combined_overload_of": dict(found.combined_overload_of),
        "protected": found.protected,
        "protected_by": found.protected_by,
        "protected_note": found.note,
    }


def _open_circuit_values(facts: Facts, part: str) -> dict[str, Any]:
    """The greatest current of a part with any one open circuit, and what was open then."""
    worst_a, worst_by = -1.0, None
    for each in facts.open_circuits.values():
        for open_circuits in each:
            k = open_circuits.solution.network.edge_index[part]
            if open_circuits.open_circuit_by[k] >= 0 and open_circuits.open_circuit_a[k] > worst_a:
                worst_a = float(open_circuits.open_circuit_a[k])
                worst_by = open_circuits.solution.network.edge_ids[int(open_circuits.open_circuit_by[k])]
    return {"open_circuit_a": worst_a, "open_circuit_by": worst_by} if worst_by is not None else {}


def open_circuit_rows(facts: Facts) -> tuple[OpenCircuitRow, ...]:
    """One row for each conductor and contact, in the case where its opening is worst for another part."""
    rows = []
    for part in (*facts.harness.conductors, *facts.harness.contacts):
        best: tuple[tuple[float, int], OpenCircuitRow] | None = None
        for case_id, each in facts.open_circuits.items():
            for open_circuits in each:
                k = open_circuits.solution.network.edge_index[part.id]
                if not open_circuits.opened[k]:
                    continue
                loses_supply, other = open_circuits.loses_supply(k), int(open_circuits.worst[k])
                worst = open_circuits.solution.network.edge_ids[other] if other >= 0 else None
                row = OpenCircuitRow(
                    opened=part.id,
                    case=case_id,
                    worst=worst,
                    worst_current_a=float(open_circuits.worst_a[k]) if worst is not None else None,
                    worst_allowed_a=_allowed_a(facts, worst) if worst is not None else None,
                    loses_supply=loses_supply,
                )
                rank = (row.worst_current_a or 0.0, len(loses_supply))
                if best is None or rank > best[0]:
                    best = (rank, row)
        if best is not None and (best[1].worst is not None or best[1].loses_supply):
            rows.append(best[1])
    return tuple(rows)


def _resistance_ohm(facts: Facts, part: TwoEnded, case_id: str) -> float | None:
    network = facts.loaded[case_id][0].network
    ohm = float(network.edge_resistance_ohm[network.edge_index[part.id]])
    return ohm if np.isfinite(ohm) else None


def _temperature_limit_c(facts: Facts, conductor: Conductor) -> float | None:
    rating = facts.ratings.get(conductor.id)
    return rating.temperature_limit_c if rating else None


def _rise_k(facts: Facts, contact: Contact) -> float | None:
    """Temperature rise of a contact whose type states its rise at the rated current; None for others."""
    kind = contact_type_of(contact.contact_type, facts.settings)
    currents, rating = facts.currents.get(contact.id), facts.ratings.get(contact.id)
    if kind is None or kind.rise_k is None or currents is None or rating is None or not rating.base_a:
        return None
    return contact_rise_k(currents.worst_continuous[1], rating.base_a, kind.rise_k)


def _uneven_values(facts: Facts, part: str) -> dict[str, Any]:
    """The greatest current of a part that shares with others, under the worst combination of contacts."""
    found = [
        float(spread.uneven_a[spread.solution.network.edge_index[part]])
        for each in facts.spread.values()
        for spread in each
    ]
    known = [value for value in found if np.isfinite(value)]
    return {"uneven_a": max(known)} if known else {}


def _spread_values(facts: Facts, contact: Contact) -> dict[str, Any]:
    """The drawn spread of a contact in the case where its set carries most."""
    best: tuple[float, Spread, int] | None = None
    for each in facts.spread.values():
        for spread in each:
            k = spread.solution.network.edge_index[contact.id]
            if np.isfinite(spread.share_p50[k]) and (best is None or spread.through_a[k] > best[0]):
                best = (float(spread.through_a[k]), spread, k)
    if best is None:
        return {}
    _, spread, k = best
    chance = float(spread.overload_probability[k])
    return {
        "share_p05": float(spread.share_p05[k]),
        "share_p50": float(spread.share_p50[k]),
        "share_p95": float(spread.share_p95[k]),
        "overload_probability": chance if np.isfinite(chance) else None,
    }


def device_rows(facts: Facts, names: RuleNames) -> tuple[DeviceRow, ...]:
    """One row for each protective device; bands and thresholds as in the worst case's arrangement."""
    arrangements = {case.id: case.arrangement for case in facts.cases}
    protection = facts.protection
    standing, idle = highest_voltages(facts), IdleDevices(facts)
    rows = []
    for device in facts.harness.devices:
        currents = facts.currents.get(device.id)
        case_id, current_a = currents.worst_continuous if currents else (None, None)
        there = device.under(arrangements[case_id] if case_id else None)
        acts = threshold(there, facts.settings, None)
        setting_range = protection.setting_ranges.get(device.id)
        because = range_words(facts, device)
        prospective = protection.short_circuits.prospective.get(device.id)
        gated = device.kind in (DeviceKind.FUSE, DeviceKind.BREAKER)
        curves = band_choice(there, facts.settings).curves if gated else ()
        highest = [
            standing[n].volts
            for node in (device.node_a, device.node_b)
            if (n := facts.topology.piece[node]) in standing
        ]
        rows.append(
            DeviceRow(
                id=device.id,
                kind=str(device.kind),
                case=case_id,
                setting_a=there.setting_a,
                current_a=current_a,
                utilisation=_ratio(current_a, _finite(acts.non_tripping_a)),
                non_tripping_a=_finite(acts.non_tripping_a),
                tripping_a=_finite(acts.held_a),
                tripping_within_s=_finite(acts.tripping_within_s),
                setting_low_a=setting_range.low.setting_a if setting_range and setting_range.low else None,
                setting_high_a=setting_range.high.setting_a if setting_range and setting_range.high else None,
                setting_low_by=setting_range.low.by if setting_range and setting_range.low else None,
                setting_high_by=setting_range.high.by if setting_range and setting_range.high else None,
                setting_low_because=because[0],
                setting_high_because=because[1],
                setting_range_note=_range_note(setting_range),
                needs_a=dict(room_needed(facts, device, idle)),
                prospective_a=_finite(prospective.current_a) if prospective else None,
                breaking_capacity_a=there.breaking_capacity_a,
                voltage_rating_v=there.voltage_rating_v,
                highest_voltage_v=max(highest, default=None),
                curve=", ".join(curve.name for curve in curves) or None,
                curve_source=curve_source(there, facts.settings) or acts.reason,
                gates=any(curve.gates for curve in curves),
                band=tuple((a, _finite(fast), _finite(slow)) for a, fast, slow in band(there, facts.settings)),
                events=_events(protection.demands.get(device.id, ())),
                withstand=_withstand(facts, _protects(protection.guarded_by(device.id), setting_range)),
                upstream=protection.upstream(device.id),
                protects=_protects(protection.guarded_by(device.id), setting_range),
                settings_a={case.id: device.under(case.arrangement).setting_a for case in facts.cases},
                currents_a=dict(currents.peak_a) if currents else {},
                **_corner_values(currents.continuous_at.get(case_id) if currents and case_id else None),
                findings=names.get(device.id, ()),
            )
        )
    return tuple(rows)


def _withstand(facts: Facts, protects: Iterable[str]) -> dict[str, tuple[tuple[float, float], ...]]:
    """What the weakest different conductors of some parts stand for a time, as far as that is known."""
    rated = [
        (rating.allowed_a, part)
        for name in protects
        if isinstance(part := facts.harness.by_id.get(name), Conductor)
        and (rating := facts.ratings.get(name)) is not None
        and rating.allowed_a
    ]
    different: dict[tuple[str, str], tuple[float, Conductor]] = {}
    for allowed_a, part in sorted(rated, key=lambda found: found[0]):
        different.setdefault((str(part.gauge or part.track), f"{allowed_a:.3g}"), (allowed_a, part))
    found = {}
    for allowed_a, part in list(different.values())[:WITHSTAND_SHOWN]:
        bodies = two_bodies(part, facts.settings, allowed_a)
        if bodies is not None:
            found[part.id] = withstand_points(bodies)
    return found


def _events(demands: Iterable[Demand]) -> tuple[tuple[float, float], ...]:
    """Times and currents of events, from the longest on, each greater than all longer ones."""
    found: list[tuple[float, float]] = []
    for demand in sorted(demands, key=lambda d: (-d.duration_s, -d.current_a)):
        if math.isfinite(demand.duration_s) and (not found or demand.current_a > found[-1][1]):
            found.append((demand.duration_s, demand.current_a))
    return tuple(found)


def _range_note(setting_range: SettingRange | None) -> str:
    """Why a setting range has no upper end, and what no setting of the device protects."""
    if setting_range is None:
        return ""
    verb = "are over their" if len(setting_range.never) > 1 else "is over its"
    never = (
        f"whatever it is set to, {all_of(setting_range.never)} {verb} allowed current"
        if setting_range.never
        else ""
    )
    rough = ""
    if setting_range.rough and setting_range.high is not None:
        rough = "the upper end is a bound on the safe side: a higher setting may protect as well"
    return "; ".join(text for text in (setting_range.cause, rough, never) if text)


def _protects(guarded: tuple[str, ...], setting_range: SettingRange | None) -> tuple[str, ...]:
    """All that a device protects: what it is the nearest device of, and what any higher setting would overload."""
    if setting_range is None:
        return guarded
    never = set(setting_range.never)
    return tuple(name for name in dict.fromkeys((*guarded, *setting_range.protects)) if name not in never)


def short_rows(facts: Facts, names: RuleNames) -> tuple[ShortCircuitRow, ...]:
    """One row for each conductor's short circuit."""
    return tuple(replace(s.row, findings=names.get(s.part, ())) for s in facts.protection.short_circuits.conductors)


def links(harness: Harness) -> tuple[tuple[str, str, str], ...]:
    """The graph for the picture: id and both joints of every fitted two-ended part, output and load."""
    return (
        *((o.id, o.node_plus, o.node_minus) for o in harness.outputs if o.fitted),
        *((e.id, e.node_a, e.node_b) for e in harness.two_ended if e.fitted),
        *((load.id, load.node_plus, load.node_minus) for load in harness.loads if load.fitted),
    )


def something_unrated(*tables: Iterable[ConductorRow | ContactRow | SpliceRow | SwitchRow]) -> bool:
    """Whether any part that can carry current has no allowed current, or its protection is not determined."""
    return any(
        row.allowed_a is None or (isinstance(row, ConductorRow | ContactRow) and row.protected is None)
        for table in tables
        for row in table
    )


def _allowed_a(facts: Facts, part: str) -> float | None:
    rating = facts.ratings.get(part)
    return rating.allowed_a if rating else None


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None


def _ratio(value: float | None, limit: float | None) -> float | None:
    return value / limit if value is not None and limit else None
