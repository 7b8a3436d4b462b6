"""Harnesses drawn part by part for the examples of the rules' pages, and what a rule says of them.

Conductors are at 20 °C; where a resistance matters it is stated.
"""

from __future__ import annotations

from typing import Any

import pytest
from test_variants import Sketch, found

from loadloom.graph.model.results import Results

OUTPUT = {"Tolerance": "0 %", "Delay": "1 ms", "Behaviour": "latch-off", "Resistance": "10 mΩ"}


class Drawn(Sketch):
    """An output PS1 from ``m`` to ``p``; parts are drawn in one line each."""

    def __init__(self, volts: str = "24 V", **fields: str) -> None:
        super().__init__()
        self("PS1", "output", "p m", volts, fields={**OUTPUT, "Limit": "100 A", "Trip": "120 A", **fields})

    def wire(self, name: str, nets: str, rating: str = "150 A", **fields: str) -> None:
        self(
            name, "wire", nets, "16 mm²", fields={"Length": "1 m", "Rating": rating, "Resistance": "1 mΩ", **fields}
        )

    def load(self, name: str, nets: str, value: str, **fields: str) -> None:
        self(name, "load", nets, fields={"Load": value, **fields})

    def contact(self, name: str, nets: str, rating: str, ohm: str = "1.5 mΩ") -> None:
        fields = {"Contact rating": rating, "Contact resistance": ohm}
        self(name, "through", nets, pins="1A 1B", fields=fields)


def values(results: Results, rule: str) -> dict[str, tuple[float | None, float | None]]:
    return {name: (each.value, each.limit) for name, each in found(results, rule).items()}


def approx(value: float, limit: float | None = None) -> Any:
    return (pytest.approx(value, rel=1e-6), limit if limit is None else pytest.approx(limit, rel=1e-6))
