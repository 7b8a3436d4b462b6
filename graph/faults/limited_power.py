"""The inherently limited power source of the safety standards: how much current and power it may give at a voltage.

IEC 60950-1 table 2B, carried to IEC 62368-1 annex Q (values read in a second-hand copy; check your edition).
"""

from __future__ import annotations

from dataclasses import dataclass

from loadloom.graph.faults.tolerances import MET

NAME = "limited power source"
SOURCE = (
    "IEC 60950-1 table 2B, carried to IEC 62368-1 annex Q, inherently limited power source, DC (second-hand copy, "
    "edition not stated)"
)


@dataclass(frozen=True, slots=True)
class Limit:
    """Greatest current in A into any load and greatest apparent power in VA."""

    current_a: float
    power_va: float


def limit_at(open_circuit_v: float) -> Limit | None:
    """The limits at an open-circuit voltage in V (DC); None above 60 V, where the class does not reach."""
    if open_circuit_v <= 20.0:
        return Limit(8.0, 5.0 * open_circuit_v)
    if open_circuit_v <= 30.0:
        return Limit(8.0, 100.0)
    if open_circuit_v <= 60.0:
        return Limit(150.0 / open_circuit_v, 100.0)
    return None


def is_within(open_circuit_v: float, greatest_a: float, greatest_w: float) -> bool:
    """Whether what a place can give continuously stays within the class."""
    limit = limit_at(open_circuit_v)
    slack = 1.0 + MET
    return limit is not None and greatest_a <= limit.current_a * slack and greatest_w <= limit.power_va * slack
