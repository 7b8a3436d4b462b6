"""The ends of conductors: what a person at the harness looks for, and one name for one joint."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import pytest
from observatory_sample import sample

from loadloom.graph.model.results import Results
from loadloom.graph.result_rows.part_rows import links
from loadloom.plugin.building import build_harness
from loadloom.plugin.pipeline import settings_beside
from loadloom.plugin.reading import read_drawing
from loadloom.plugin.settings_file import read_settings
from loadloom.reports.ends import ends, joints

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"


def drawn(path: str) -> Results:
    """Results that hold the drawing's conductors, contacts, splices and links; nothing is solved."""
    root = FIXTURES / path
    settings, drawing_settings = read_settings(settings_beside(root))
    harness = build_harness(read_drawing(root, kicad_cli="none"), settings, drawing_settings)
    base = sample()
    wire, contact, splice = base.conductors[0], base.contacts[0], base.splices[0]
    output, load = base.outputs[0], base.loads[0]
    return replace(
        base,
        conductors=tuple(
            replace(wire, id=c.id, from_id=c.node_a, to_id=c.node_b, cable=c.cable) for c in harness.conductors
        ),
        contacts=tuple(replace(contact, id=c.id) for c in harness.contacts),
        splices=tuple(replace(splice, id=s.id, node=s.node) for s in harness.splices),
        outputs=tuple(replace(output, id=o.id) for o in harness.outputs),
        loads=tuple(replace(load, id=x.id) for x in harness.loads),
        links=links(harness),
    )


@pytest.fixture(scope="module")
def dome() -> Results:
    return drawn("observatory/sound/dome_power.kicad_sch")


def test_a_joint_of_bare_wires_is_said_as_a_joint(dome: Results) -> None:
    """Six returns meet at the back of the pier board: W102.1 is the end of only one of them."""
    named = ends(dome)
    meeting = {"W102", "W104", "W106", "W108", "W110", "W112"}
    said = {end for wire in meeting for end in named[wire] if end.startswith("joint")}
    assert said == {"joint W102.1, 6 wires"}
    assert named["W102"][0] == named["W112"][1]


def test_a_splice_is_called_by_its_name(dome: Results) -> None:
    named = ends(dome)
    assert named["C3.1"][1] == named["W10"][0] == named["W12"][0] == "splice S1"


def test_terminals_and_named_nets_stay(dome: Results) -> None:
    named = ends(dome)
    assert named["W1"] == ("CH3.2", "FU1.1")
    assert named["C4.1"][1] == "L9 +"
    assert named["C1.1"][1] == "P101.1, P101.2 (/Pier A/PIER+)"


@pytest.mark.parametrize(
    "path", ["observatory/sound/dome_power.kicad_sch", "observatory/cart_sound/cart.kicad_sch"]
)
def test_one_joint_has_one_name_and_only_the_sides_of_a_contact_share_one(path: str) -> None:
    results = drawn(path)
    by_node: dict[str, set[str]] = defaultdict(set)
    for row in results.conductors:
        for node, said in zip((row.from_id, row.to_id), ends(results)[row.id], strict=True):
            by_node[node].add(said)
            assert said and "@" not in said
    assert all(len(names) == 1 for names in by_node.values())
    called: dict[str, set[str]] = defaultdict(set)
    for node, names in by_node.items():
        called[next(iter(names))].add(node)
    # Both sides of one mated contact have its name, and nothing else shares one.
    sides = {part: {a, b} for part, a, b in results.links}
    for name, nodes in called.items():
        assert len(nodes) == 1 or nodes <= sides[name], name


def test_no_end_is_called_by_a_wires_own_end_alone() -> None:
    for path in ("observatory/sound/dome_power.kicad_sch", "observatory/cart_sound/cart.kicad_sch"):
        results = drawn(path)
        owners = {row.id for row in results.conductors} | {row.cable for row in results.conductors}
        for name in joints(results).values():
            assert name.rpartition(".")[0] not in owners, name


def test_a_wire_that_ends_nowhere_says_so() -> None:
    base = sample()
    wire = replace(base.conductors[0], id="W900", from_id="@X1.1", to_id="@W900.2")
    said = ends(replace(base, conductors=(*base.conductors, wire)))
    assert said["W900"][1] == "open end W900.2"


def test_the_feed_ends_at_the_net_that_the_drawing_names() -> None:
    base = sample()
    wire = replace(base.conductors[0], id="W901", from_id="@X1.1", to_id="/BUS")
    other = replace(base.conductors[0], id="W902", from_id="/BUS", to_id="@X2.1")
    said = ends(replace(base, conductors=(*base.conductors, wire, other)))
    assert said["W901"][1] == said["W902"][0] == "/BUS"
