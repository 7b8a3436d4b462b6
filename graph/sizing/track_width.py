"""The least width of a board's track: for what it carries, what faults hold on it, and the heat of shorts."""

from __future__ import annotations

import math
from dataclasses import replace

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.late_clearing import only_bounded
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.elements import Conductor
from loadloom.graph.model.figures import figures
from loadloom.graph.ratings.board_track import MOST_WIDTH_M
from loadloom.graph.ratings.conductor_rating import rate_conductors

HALVES = 40


def track_words(facts: Facts, conductor: Conductor) -> str:
    """Why a track is not sized, with the width that it needs; copper, layer and neighbours as drawn."""
    is_track = "it is a track of a board"
    track, rating = conductor.track, facts.ratings.get(conductor.id)
    if track is None or track.width_m is None or rating is None or rating.allowed_a is None:
        return f"{is_track}, and not all that its width follows from is stated"
    held = facts.faults.parts.get(conductor.id)
    needs_a = max(
        facts.currents[conductor.id].worst_continuous[1] if conductor.id in facts.currents else 0.0,
        (held.sustained_fault_a or 0.0) if held is not None else 0.0,
    )
    by_heat_m = track.width_m * _by_short_circuits(facts, conductor)
    width_m = _for_current(facts, conductor, needs_a)
    asked = f"the {figures(needs_a)} A that it carries or a fault can hold on it"
    if width_m is None:
        return f"{is_track}: no width within the chart of IPC-2221 carries {asked}"
    if by_heat_m > width_m:
        width_m, asked = by_heat_m, "the heat of a short circuit until it is cleared"
    drawn, least = f"{track.width_m * 1e3:.3g} mm", f"{math.ceil(width_m * 1e5) / 100:.4g} mm"
    enough = "is wide enough" if not exceeds(width_m, track.width_m) else "is too narrow"
    return f"{is_track}: Width has to be at least {least} for {asked}; {drawn} {enough}"


def _by_short_circuits(facts: Facts, conductor: Conductor) -> float:
    """How many times its section a track needs for the I²t of its short circuits: it withstands k²S². Those count
    that ``damage-before-clearing`` holds against it up to 5 s."""
    over = [0.0]
    for short in facts.protection.short_circuits.every:
        row = short.row
        if short.part == conductor.id and row.adiabatic_in_range and not only_bounded(facts, row):
            over += [math.sqrt(row.i2t_a2s / row.withstand_a2s)] if row.i2t_a2s and row.withstand_a2s else []
    return max(over)


def _for_current(facts: Facts, conductor: Conductor, needs_a: float) -> float | None:
    """The least width in m that carries a current continuously; None where none within the chart does."""

    def carries(width_m: float) -> bool:
        assert conductor.track is not None
        wide = replace(conductor, by_word={}, track=replace(conductor.track, width_m=width_m))
        there = tuple(wide if each.id == conductor.id else each for each in facts.harness.conductors)
        harness = replace(facts.harness, conductors=there)
        allowed_a = rate_conductors(harness, facts.settings, only={conductor.id})[conductor.id].allowed_a
        return allowed_a is not None and allowed_a >= needs_a

    low_m, high_m = 0.0, MOST_WIDTH_M
    if not carries(high_m):
        return None
    for _ in range(HALVES):
        middle_m = 0.5 * (low_m + high_m)
        low_m, high_m = (low_m, middle_m) if carries(middle_m) else (middle_m, high_m)
    return high_m
