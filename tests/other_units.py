"""The same harness in other units of current and voltage, and what every number of an answer becomes there.

Kirchhoff's and Ohm's laws and the rules that compare a current with a limit hold in any unit (Buckingham's theorem
of dimensions): with every current given as so many times as much and every voltage too, resistances change by the
one over the other, powers by the product, and nothing else changes. A number whose factor does not follow from its
unit shows that something was added to a number of another unit, or held against a fixed one.

The unit of a number is the last part of its name (``current_a``, ``heat_w_per_m``), as everywhere in the code.
"""

from __future__ import annotations

import enum
import itertools
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

from loadloom.graph.model.elements import Band, Load, LoadKind

OTHER_NAMES = {"combined_overload_of": "part_a", "comes_through": "part_a", "cycle": "load_a", "profile": "joint_v"}
"""What holds currents or voltages under a name without a unit."""

LEFT_OUT = ("findings", "band", "events")
"""Rules, some of which know fixed volts and watts; and points of current and time under one name."""

BY_UNIT = {
    "a": (1, 0),
    "v": (0, 1),
    "ohm": (-1, 1),
    "w": (1, 1),
    "ah": (1, 0),
    "f": (1, -1),
    "a2s": (2, 0),
    "j": (1, 1),
}
"""How often the factor of current and that of voltage stand in the factor of a unit."""

DEMANDS = {LoadKind.CURRENT: "a", LoadKind.POWER: "w", LoadKind.RESISTANCE: "ohm"}


@dataclass(frozen=True)
class Units:
    """Every current is written as so many times as much, and every voltage. Powers of two lose no digit."""

    current: float
    voltage: float

    def factor(self, name: str) -> float:
        """Of a number of this name: 1 where its unit has neither current nor voltage in it."""
        name = OTHER_NAMES.get(name, name)
        unit = re.sub(r"_per_m$", "", name).rpartition("_")[2]
        amperes, volts = BY_UNIT.get(unit, (0, 0)) if "_" in name else (0, 0)
        return float(self.current**amperes * self.voltage**volts)

    def of(self, part: Any) -> Any:
        """A part, or a whole harness, in these units."""
        if isinstance(part, tuple):
            return tuple(self.of(each) for each in part)
        if not is_dataclass(part) or isinstance(part, (type, Band)):
            return part
        return replace(part, **{f.name: self._field(part, f.name, getattr(part, f.name)) for f in fields(part)})

    def _field(self, part: Any, name: str, value: Any) -> Any:
        if isinstance(part, Load) and name in ("demand", "calm"):
            if value is None:
                return None
            kind, demand = value if name == "calm" else (part.demand_kind, value)
            demand = demand * self.factor(f"demand_{DEMANDS[kind]}")
            return (kind, demand) if name == "calm" else demand
        if name == "by_word":
            return {
                word: {
                    each: self._field(replace(part, **changes) if "demand_kind" in changes else part, each, one)
                    for each, one in changes.items()
                }
                for word, changes in value.items()
            }
        by = self.factor(name)
        if isinstance(value, Band):
            return Band(value.nominal * by, value.lower * by, value.upper * by)
        if isinstance(value, (int, float)) and not isinstance(value, (bool, enum.Enum)):
            return value * by if by != 1.0 else value
        return self.of(value)


def numbers_of(answer: Any, name: str = "", at: str = "") -> Iterator[tuple[str, str, Any]]:
    """(where it stands, name with its unit, value) of all that an answer holds, but for its sentences."""
    if is_dataclass(answer) and not isinstance(answer, type):
        for f in (f for f in fields(answer) if f.name not in LEFT_OUT):
            yield from numbers_of(getattr(answer, f.name), f.name, f"{at}.{f.name}")
    elif isinstance(answer, Mapping):
        for key, value in answer.items():
            yield from numbers_of(value, name, f"{at}[{key}]")
    elif isinstance(answer, str):
        if " " not in answer:
            yield at, name, answer
    elif isinstance(answer, Sequence):
        for k, value in enumerate(answer):
            yield from numbers_of(value, name, f"{at}[{getattr(value, 'id', k)}]")
    else:
        yield at, name, answer


def differences(one: Any, other: Any, units: Units, rel: float = 1e-6) -> Iterator[tuple[str, Any, Any]]:
    """Where an answer in other units is not this one: (where, what it should be, what it is)."""
    ones, others = list(numbers_of(one)), list(numbers_of(other))
    if [at for at, _, _ in ones] != [at for at, _, _ in others]:
        yield next((a[0], a, b) for a, b in itertools.zip_longest(ones, others, fillvalue=("",)) if a[0] != b[0])
    for (at, name, was), (_, _, now) in zip(ones, others, strict=False):
        expected = was * units.factor(name) if isinstance(was, float) else was
        if not is_same(expected, now, rel):
            yield at, expected, now


def is_same(one: Any, other: Any, rel: float = 1e-6) -> bool:
    """Whether two values are the same; numbers within so much of each other."""
    if isinstance(one, float) and isinstance(other, (int, float)):
        return math.isclose(one, other, rel_tol=rel, abs_tol=1e-9)
    return bool(one == other)
