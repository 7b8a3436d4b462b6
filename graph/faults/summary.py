"""The answer of the fault search from the worst that it found in every arrangement."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from loadloom.graph.faults.answer import FaultAnswer, PartFault
from loadloom.graph.faults.assumptions import fault_assumptions
from loadloom.graph.faults.band_cover import BandCovers
from loadloom.graph.faults.cases import ThresholdsByCase
from loadloom.graph.faults.part_faults import back_fed, part_fault
from loadloom.graph.faults.rows import RowMaker
from loadloom.graph.faults.worst_faults import WorstFaults
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import natural_key
from loadloom.graph.model.results import FaultPowerRow, Rating
from loadloom.graph.model.settings import AnalysisSettings, Case


def summarise_faults(
    harness: Harness,
    settings: AnalysisSettings,
    cases: Sequence[Case],
    thresholds: ThresholdsByCase,
    ratings: Mapping[str, Rating],
    worst: Mapping[str | None, WorstFaults],
    firm: Mapping[str | None, Mapping[str, float]],
) -> FaultAnswer:
    """Make the answer. ``worst`` by arrangement; ``firm``: sustained fault current by part without assumed trips,
    in A."""
    maker = RowMaker(ratings)
    unreadable = any(o.fitted and o.voltage_v is None for o in harness.outputs)
    searched = (*harness.conductors, *harness.contacts, *harness.switches, *harness.diodes)
    order = sorted((p.id for p in searched), key=natural_key)
    order += sorted((s.id for s in harness.splices if s.rating_a is not None), key=natural_key)
    by_arrangement: dict[str | None, dict[str, PartFault]] = {}
    for found in worst.values():
        maker.note(found.radial.values())
    for arrangement, found in worst.items():
        mine = by_arrangement.setdefault(arrangement, {})
        case = next(case for case in cases if case.arrangement == arrangement)
        covers = BandCovers(harness, arrangement, thresholds[case.id])
        for name in order:
            mine[name] = part_fault(
                harness,
                settings,
                thresholds,
                ratings,
                maker,
                name,
                found,
                firm.get(arrangement, {}),
                unreadable,
                covers,
            )
        if covers.cut_short:
            found.cut_short.add("MOST_CUTS")
    parts = {name: _worst_of([each[name] for each in by_arrangement.values()]) for name in order if by_arrangement}
    back: dict[tuple[str, str | None], PartFault] = {}
    for found in worst.values():
        for (name, _), hit in found.back.items():
            key = (name, hit.dead_output)
            if key not in back or hit.hit.value_a > (back[key].sustained_fault_a or 0.0):
                back[key] = back_fed(maker, ratings, name, hit)
    powers: dict[str, FaultPowerRow] = {}
    joined: dict[tuple[str, ...], str] = {}
    for found in worst.values():
        for at, row in found.powers.items():
            if at not in powers or row.power_w > powers[at].power_w:
                powers[at] = row
        for group, case_id in found.joined.items():
            joined.setdefault(group, case_id)
    return FaultAnswer(
        parts=parts,
        by_arrangement=by_arrangement,
        faults=tuple(maker.rows.values()),
        powers=tuple(powers[at] for at in sorted(powers, key=natural_key)),
        back_feeds=tuple(back[key] for key in sorted(back, key=lambda k: (natural_key(k[0]), k[1] or ""))),
        joined=tuple((case_id, group) for group, case_id in joined.items()),
        assumptions=fault_assumptions(harness, cases, worst.values()),
    )


def _worst_of(answers: list[PartFault]) -> PartFault:
    """The worst over arrangements: the greatest sustained fault current; protected only if it is in each."""
    if len(answers) == 1:
        return answers[0]
    top = max(answers, key=lambda a: -1.0 if a.sustained_fault_a is None else a.sustained_fault_a)
    exposed = max(answers, key=lambda a: -1.0 if a.combined_overload_a is None else a.combined_overload_a)
    verdicts = {a.protected for a in answers}
    protected = False if False in verdicts else None if None in verdicts else True
    note = next((a.note for a in answers if a.protected is protected and a.note), top.note)
    protected_by = top.protected_by
    if protected and not any(a.in_band for a in answers):
        everywhere = [name for name in top.protected_by if all(name in a.protected_by for a in answers)]
        # A device that is off in one arrangement protects nothing there: what does so is named as well.
        protected_by = tuple(everywhere or dict.fromkeys(name for a in (top, *answers) for name in a.protected_by))
    unbanded = [a for a in answers if a.protected is True and a.in_band]
    return replace(
        top,
        combined_overload_a=exposed.combined_overload_a,
        combined_overload_case=exposed.combined_overload_case,
        combined_overload_of=exposed.combined_overload_of,
        protected=protected,
        protected_by=protected_by,
        note=note,
        in_band=top.in_band or bool(unbanded),
    )
