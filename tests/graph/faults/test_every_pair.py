"""Faults between any two joints of a loop, at the resistances within their bands that put the most on a part."""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping
from dataclasses import replace

import pytest
from brute_force import Drawing, most_a
from random_drawings import drawing_of, harness_of
from wired import AT_20_C, contact, harness, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.model.elements import Band, Diode
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings

WITHIN = 2e-3
WIRES_MADE_CONTACTS, MOST_BANDED = 3, 4


def sustained_a(drawn: Harness, settings: AnalysisSettings = AT_20_C) -> dict[str, float]:
    facts, _ = explore(drawn, settings, lambda _: None)
    return {name: part.sustained_fault_a or 0.0 for name, part in facts.faults.parts.items()}


def test_a_diode_carries_the_more_the_worse_the_contact_beside_it_is() -> None:
    """By hand: of 80 A that the output just holds, a diode of 0.7 V and 20 mΩ beside a contact of R carries
    (80 A · R - 0.7 V) / (R + 20 mΩ): 41.7 A at 40 mΩ, 67.9 A at 170 mΩ.
    """
    diode = Diode(
        id="D1", subject=Subject("D1"), node_a="p", node_b="q", forward_drop_v=0.7, resistance_ohm=Band.exact(0.02)
    )
    drawn = harness(
        output("PS1", "p", "m", 24.0, trip_a=Band.exact(80.0), resistance_ohm=1e-3),
        diode,
        contact("K1.1", "p", "q", rated=100.0, resistance_ohm=Band(0.1, 0.04, 0.17)),
        wire("W1", "q", "r", ohm=1e-3, rated=100.0),
        load("L1", "r", "m", 1.0),
    )
    found = sustained_a(drawn)
    assert found["D1"] == pytest.approx((80.0 * 0.17 - 0.7) / 0.19, rel=1e-3)
    # The contact takes the most at its least resistance: the rest of 80 A beside the diode's 41.7 A.
    assert found["K1.1"] == pytest.approx(80.0 - (80.0 * 0.04 - 0.7) / 0.06, rel=1e-3)


def with_bands(kind: str, seed: int) -> tuple[Drawing, Harness, Mapping[str, tuple[float, float]]]:
    """A random harness, some of its wires made contacts, with the least and the greatest resistance of each."""
    rng = random.Random(f"{kind}{seed}")
    drawing = drawing_of(kind, seed)
    wires = [part for part in drawing.parts if part.kind == "wire"]
    rng.shuffle(wires)
    made = {part.id for part in wires[:WIRES_MADE_CONTACTS]}
    parts, bands = [], {}
    for number, part in enumerate(drawing.parts):
        if part.id in made:
            name, ohm = f"Q{number}", max(part.ohm, 1e-3)
            there = replace(part, kind="contact", id=f"{name}.1", connector=name, cable=None, bundle=None, ohm=ohm)
        else:
            there = part
        parts.append(there)
        if there.kind == "contact" and (part.id in made or len(bands) < MOST_BANDED):
            bands[there.id] = (there.ohm * rng.uniform(0.2, 1.0), there.ohm * rng.uniform(1.0, 4.0))
    drawing = replace(drawing, parts=tuple(parts))
    drawn = harness_of(drawing)
    contacts = (
        replace(c, resistance_ohm=Band(drawn_ohm(c.resistance_ohm), *bands[c.id])) if c.id in bands else c
        for c in drawn.contacts
    )
    return drawing, replace(drawn, contacts=tuple(contacts)), bands


def drawn_ohm(band: Band | None) -> float:
    assert band is not None
    return band.nominal


@pytest.mark.parametrize(
    ("kind", "seed"), [("joined mixed", 4), ("joined", 6), ("joined mixed", 9), ("joined", 15), ("bypassed", 9)]
)
def test_no_corner_of_the_bands_puts_more_on_a_part(kind: str, seed: int) -> None:
    """Joined outputs and diodes beside contacts, against nodal solutions of their own at every corner of the bands.

    Up to 19 % more than was told came out of these corners while faults between two joints of which one lies
    within the way of an output were left out.
    """
    drawing, drawn, bands = with_bands(kind, seed)
    told = sustained_a(drawn, AnalysisSettings(conductor_temperature_c=20.0))
    assert len(bands) >= 3
    names = list(bands)
    for corner in itertools.product((0, 1), repeat=len(names)):
        at = {name: bands[name][end] for name, end in zip(names, corner, strict=True)}
        there = replace(drawing, parts=tuple(replace(p, ohm=at[p.id]) if p.id in at else p for p in drawing.parts))
        for name, most in most_a(there).items():
            if name in told:
                assert most.current_a <= told[name] * (1.0 + WITHIN) + 1e-3, (name, corner, most)
