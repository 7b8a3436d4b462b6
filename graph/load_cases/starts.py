"""Load cases that loads make by themselves: ``start of L7``, ``inrush of L7``, ``switching on L7``.

A motor at its start, or a lamp while it is cold, draws its stated current as a constant current for the stated
time: the running current of a motor of constant torque is nearly constant too. The current is stated at a voltage
and counts at the highest that the load ever gets, in proportion (a motor at standstill and a cold filament are
resistances); what the path drops meanwhile is left out, the safe side. A capacitance is charged in a case of its
own
(``charging``). Loads of one ``Start together`` start at one moment, and each of them alone as well.

Everything else draws what it draws in each of the other cases: a start comes on top of every state.

A start that comes again and again also heats like a continuous current, the root mean square over the shortest time
from one start to the next; that is a case that lasts. A start that is stated without its repetition is a single
event, which the fault search leaves out: it looks for what lasts.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from loadloom.graph.circuit.network import (
    HIGHEST_VOLTAGE,
    LEAST_FAULT,
    Ageing,
    Corner,
    OutputVoltage,
    ResistanceEnd,
    Warmth,
    compile_network,
)
from loadloom.graph.circuit.solve import solve
from loadloom.graph.heat.conductors import conductor_resistances
from loadloom.graph.model.elements import NO_START, Load, LoadKind
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import all_of
from loadloom.graph.model.settings import AnalysisSettings, Case

NOMINAL_VOLTAGE = Corner(Ageing.NEW, OutputVoltage.NOMINAL, Warmth.COLD, ResistanceEnd.LEAST)


@dataclass(frozen=True, slots=True)
class _Kind:
    """A way to start: its word, and what a load draws meanwhile (A, s); ``charges``: its capacitance is charged."""

    words: str
    current: str | None = None
    time: str | None = None

    def of(self, load: Load) -> bool:
        """Whether a load starts in this way in any state."""
        wanted = self.current or "capacitance_f"
        return any(getattr(there.start, wanted) is not None for there in load.variants())


_KINDS = (
    _Kind("start of", "starting_a", "starting_s"),
    _Kind("inrush of", "inrush_a", "inrush_s"),
    _Kind("switching on"),
)


def with_starts(harness: Harness, settings: AnalysisSettings) -> tuple[Harness, AnalysisSettings]:
    """The harness with the states of its starts, and settings whose cases are those of the harness and its starts.

    Both as they are where nothing starts, or where the starts are among the cases already.
    """
    cases = harness.cases(settings)
    if any(case.for_a_time for case in cases):
        return harness, settings
    starting = [load for load in harness.loads if load.fitted and load.demand is not None]
    events = [
        (kind, name, members)
        for kind in _KINDS
        for name, members in _groups([load for load in starting if kind.of(load)])
    ]
    if not events or not cases:
        return harness, settings
    volts = _Voltages(harness, settings, cases)
    changes: dict[str, dict[str, Mapping[str, Any]]] = {}
    more: dict[tuple[str, str | None], Case] = {}
    for kind, name, members in events:
        for state, arrangement in dict.fromkeys((case.state, case.arrangement) for case in cases):
            for again in (False, True):
                word = f"{kind.words} {name}" + (" again and again" if again else "")
                word += f" / {state}" if state is not None else ""
                made = {load.id: _drawn(kind, load, state, volts, again=again) for load in members}
                if all(change is None for change in made.values()):
                    continue
                for load in harness.loads:
                    there = made.get(load.id)
                    base = load.by_word.get(state or "", {})
                    changes.setdefault(load.id, {})[word] = {**base, **there} if there else base
                case_id = f"{word} / {arrangement}" if arrangement is not None else word
                more[word, arrangement] = Case(case_id, word, arrangement, for_a_time=not again)
    loads = tuple(
        replace(load, by_word={**load.by_word, **changes[load.id]}) if load.id in changes else load
        for load in harness.loads
    )
    return replace(harness, loads=loads), replace(settings, cases=(*cases, *more.values()))


def _groups(loads: Sequence[Load]) -> Iterator[tuple[str, tuple[Load, ...]]]:
    """Every load alone, and those that start together."""
    together: dict[str, list[Load]] = {}
    for load in loads:
        yield load.id, (load,)
        if load.start.together is not None:
            together.setdefault(load.start.together, []).append(load)
    for name, members in together.items():
        if len(members) > 1:
            yield f"{name} ({', '.join(load.id for load in members)})", tuple(members)


def _drawn(
    kind: _Kind, load: Load, state: str | None, volts: _Voltages, *, again: bool
) -> Mapping[str, Any] | None:
    """What changes of a load while it starts; None where it does not start in that way in a state."""
    there = load.under(state)
    if there.demand is None:
        return None
    if kind.current is None:
        return None if there.start.capacitance_f is None or again else {"charges": True}
    current_a, time_s = getattr(there.start, kind.current), getattr(there.start, kind.time or "")
    if current_a is None:
        return None
    at_once_a = current_a * volts.share(there)
    every_s = there.start.every_s
    calm = (there.demand_kind, there.demand)
    if every_s is not None and time_s is not None:
        on = min(1.0, time_s / every_s)
        runs_a = volts.running_a.get((state, load.id), 0.0)
        calm = (LoadKind.CURRENT, math.sqrt(on * at_once_a**2 + (1.0 - on) * runs_a**2))
    elif again:
        return None
    if again:
        return {"demand_kind": calm[0], "demand": calm[1], "duration_s": None, "duty": None, "period_s": None}
    return {
        "demand_kind": LoadKind.CURRENT,
        "demand": at_once_a,
        "duration_s": time_s,
        "duty": None,
        "period_s": None,
        "calm": calm,
    }


class _Voltages:
    """The greatest and the nominal voltage at every load with nothing drawn, and what loads draw at the least."""

    def __init__(self, harness: Harness, settings: AnalysisSettings, cases: Sequence[Case]) -> None:
        self.most_v: dict[str, float] = {}
        self.nominal_v: dict[str, float] = {}
        self.running_a: dict[tuple[str | None, str], float] = {}
        cold = conductor_resistances(harness, settings)
        bare = replace(harness, loads=(), converters=())
        for case in {case.arrangement: case for case in cases}.values():
            for corner, known in ((HIGHEST_VOLTAGE, self.most_v), (NOMINAL_VOLTAGE, self.nominal_v)):
                found = solve(compile_network(bare, case, corner, settings, cold))
                for load in harness.loads:
                    v = found.across_v(load.node_plus, load.node_minus)
                    known[load.id] = max(v, known.get(load.id, 0.0))
        if any(there.start.every_s is not None for load in harness.loads for there in load.variants()):
            for case in cases:
                for corner in (HIGHEST_VOLTAGE, LEAST_FAULT):
                    found = solve(compile_network(harness, case, corner, settings, cold))
                    for name, amps in zip(found.network.load_ids, found.load_a.tolist(), strict=True):
                        key = (case.state, name)
                        self.running_a[key] = max(abs(amps), self.running_a.get(key, 0.0))

    def share(self, load: Load) -> float:
        """The highest voltage at a load over the one that its current is stated at, else over the nominal one."""
        stated_v = load.start.stated_at_v or self.nominal_v[load.id]
        return self.most_v[load.id] / stated_v if stated_v > 0.0 and self.most_v[load.id] > 0.0 else 1.0


def started_from(case: Case, cases: Sequence[Case]) -> Case | None:
    """The case on top of which a start comes; None for a case that is no start."""
    if not case.for_a_time or case.state is None:
        return None
    beside = [each for each in cases if not each.for_a_time and each.arrangement == case.arrangement]
    on_top = [each for each in beside if each.state is not None and case.state.endswith(f" / {each.state}")]
    plain = [each for each in beside if each.state is None and " / " not in case.state]
    return next(iter((*on_top, *plain)), None)


def start_assumptions(harness: Harness) -> Iterator[str]:
    """What the starts of loads rest on, one sentence for each kind."""
    listed: dict[str, list[str]] = {}
    for load in harness.loads:
        start = load.start
        if not load.fitted or start == NO_START:
            continue
        told = []
        if start.stated_at_v is None and (start.starting_a or start.stalled_a or start.inrush_a):
            told.append(
                "Stated at is not stated: the current of the start is taken as stated at the nominal voltage there."
            )
        if start.every_s is None and (start.starting_a or start.inrush_a or start.capacitance_f):
            told.append("Start every is not stated: a start is taken as a single event from the running state.")
        if start.stalled_a is not None and start.stalled_s is None:
            told.append("Stalled time is not stated: whether a stall is cleared in time is not judged.")
        if start.capacitance_f is not None and start.series_ohm is None:
            told.append(
                "Series resistance is not stated: the capacitance counts with none, which is on the safe side."
            )
        if start.capacitance_f is not None:
            told.append("nothing but the capacitance draws current until it is charged.")
        if start.starting_a is not None:
            told.append(
                "a start counts as a constant current at the highest voltage; the drop on the path is left out."
            )
        for words in told:
            listed.setdefault(words, []).append(load.id)
    for words, names in listed.items():
        yield f"{all_of(names)}: {words}"
    # Of loads that are switched on with their source all begin at once, unless something keeps them apart.
    begin = [
        load
        for load in harness.loads
        if load.fitted and (load.start.starting_a or load.start.inrush_a or load.start.capacitance_f)
    ]
    if len({load.start.together or f" {load.id}" for load in begin}) > 1:
        yield (
            f"{all_of([load.id for load in begin])} start one after the other, save those of one Start together: "
            "that all start at once, as where their source is switched on, is not judged."
        )
    charged = [load.id for load in harness.loads if load.fitted and load.start.capacitance_f is not None]
    beside = [
        load.id for load in harness.loads if load.fitted and load.minimum_v is None and load.id not in charged
    ]
    if charged and beside:
        yield (
            f"{all_of(beside)}: no Minimum voltage is stated, so whether the voltage falls too far while "
            f"{all_of(charged)} {'charges' if len(charged) == 1 else 'charge'} is not judged."
        )
