"""A switch that is open in every case, and an output that fails: what is not searched together is told.

One failure at a time is common practice, no published source. By hand: with S closed, 24 V behind 50 mΩ drive
480 A into an output that is shorted inside; with S open none.
"""

from __future__ import annotations

from dataclasses import replace

from wired import analysed, fuse, harness, load, output, wire

from loadloom.graph.model.elements import Switch
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness


def tied(switch: Switch, outputs: int = 2) -> Harness:
    """Batteries of 24 V, each with a load, that a switch can join."""
    parts: list[object] = []
    for n in range(outputs):
        parts += [
            output(f"B{n}", f"p{n}", "m", 24.0, resistance_ohm=0.05, never_trips=True),
            fuse(f"F{n}", f"p{n}", f"q{n}", 10.0, "UL 248-14"),
            wire(f"W{n}", f"q{n}", f"l{n}", mm2=4.0, length_m=1.0, rated=30.0),
            load(f"L{n}", f"l{n}", "m", 5.0),
        ]
    return replace(harness(*parts), switches=(switch,))


def told(drawn: Harness) -> list[str]:
    return [sentence for sentence in analysed(drawn).assumptions if "one failure at a time" in sentence]


def test_a_switch_open_in_every_case_is_told() -> None:
    switch = Switch(id="S", subject=Subject("S"), node_a="q0", node_b="q1", fitted=False)
    (sentence,) = told(tied(switch))
    assert sentence.startswith("S: open in every load case")


def test_nothing_is_told_where_it_is_closed_in_a_case_or_never_by_mistake_or_one_output_is_all() -> None:
    switch = Switch(id="S", subject=Subject("S"), node_a="q0", node_b="q1", fitted=False)
    assert told(tied(replace(switch, by_word={"tied": {"fitted": True}}))) == []
    assert told(tied(replace(switch, welds=False))) == []
    assert told(tied(replace(switch, node_b="l0"), outputs=1)) == []
