"""The harness: typed elements and the multigraph that they span."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import networkx as nx

from loadloom.graph.model.elements import (
    Chassis,
    Conductor,
    Connector,
    Contact,
    Converter,
    Device,
    Diode,
    Element,
    Load,
    Output,
    Splice,
    Supply,
    Switch,
    TwoEnded,
)
from loadloom.graph.model.findings import Finding
from loadloom.graph.model.settings import AnalysisSettings, Case


@dataclass(frozen=True, slots=True)
class InputFile:
    """One file that the results rest on.

    ``kind``: ``sheet``, ``netlist``, ``wire list``, ``project``, ``settings`` or ``own table``. ``file`` is
    relative to the folder of the drawing. ``sha256`` is of its bytes, as ``sha256sum`` prints it. ``saved``: when
    it was last written, ISO 8601 with the offset from UTC; empty where that is not to count.
    """

    kind: str
    file: str
    sha256: str
    saved: str = ""


@dataclass(frozen=True)
class Provenance:
    """Where the harness came from, for the title block. ``sha256`` is of the file named ``file``.

    ``files`` are all files that the results rest on, the one named ``file`` first. ``made``: when the results were
    made, ISO 8601 with the offset from UTC; empty where a date was handed in.
    """

    file: str = ""
    sha256: str = ""
    title: str = ""
    revision: str = ""
    date: str = ""
    company: str = ""
    route: str = ""
    files: tuple[InputFile, ...] = ()
    made: str = ""


@dataclass(frozen=True)
class Harness:
    """A power harness. Elements are in natural order of their ids; ids are unique across all kinds.

    ``findings`` are those of reading the drawing; ``assumptions`` one sentence each.
    """

    conductors: tuple[Conductor, ...] = ()
    contacts: tuple[Contact, ...] = ()
    devices: tuple[Device, ...] = ()
    switches: tuple[Switch, ...] = ()
    diodes: tuple[Diode, ...] = ()
    outputs: tuple[Output, ...] = ()
    loads: tuple[Load, ...] = ()
    splices: tuple[Splice, ...] = ()
    chassis: tuple[Chassis, ...] = ()
    supplies: tuple[Supply, ...] = ()
    converters: tuple[Converter, ...] = ()
    connectors: tuple[Connector, ...] = ()
    findings: tuple[Finding, ...] = ()
    assumptions: tuple[str, ...] = ()
    provenance: Provenance = Provenance()

    @property
    def two_ended(self) -> tuple[TwoEnded, ...]:
        """Everything with resistance between two joints, in a fixed order."""
        return (*self.conductors, *self.contacts, *self.devices, *self.switches, *self.diodes)

    @property
    def chassis_variants(self) -> tuple[bool, ...]:
        """Whether the chassis counts as a joint: both ways where several bonds can carry current through it.

        One bond alone carries none, so that the harness without it is in no state of its own.
        """
        return (True, False) if len(self.chassis) > 1 else (True,)

    @cached_property
    def by_id(self) -> Mapping[str, Element]:
        """Every element by its id."""
        return {e.id: e for e in (*self.two_ended, *self.outputs, *self.loads, *self.splices, *self.chassis)}

    @cached_property
    def graph(self) -> nx.MultiGraph:
        """The multigraph: nodes are joints, edges are two-ended elements and outputs, keyed by element id.

        Edge attribute ``element`` is the element. Loads are no edges: what a fault runs through is copper.
        """
        g: nx.MultiGraph = nx.MultiGraph()
        for output in self.outputs:
            g.add_edge(output.node_plus, output.node_minus, key=output.id, element=output)
        for element in self.two_ended:
            g.add_edge(element.node_a, element.node_b, key=element.id, element=element)
        for load in self.loads:
            g.add_nodes_from((load.node_plus, load.node_minus))
        g.add_nodes_from(splice.node for splice in self.splices)
        g.add_nodes_from(bond.node for bond in self.chassis)
        return g

    def states(self) -> tuple[str, ...]:
        """Words used on loads, in order of first appearance."""
        return _words(self.loads)

    def arrangements(self) -> tuple[str, ...]:
        """Words used on everything that is not a load, in order of first appearance."""
        return _words((*self.outputs, *self.two_ended, *self.splices))

    def cases(self, settings: AnalysisSettings) -> tuple[Case, ...]:
        """The cases of the settings, else (nominal + every state) × (as drawn + every arrangement)."""
        if settings.cases is not None:
            return settings.cases
        return tuple(
            Case(_case_id(state, arrangement), state, arrangement)
            for arrangement in (None, *self.arrangements())
            for state in (None, *self.states())
        )


def _case_id(state: str | None, arrangement: str | None) -> str:
    name = state or "nominal"
    return f"{name} / {arrangement}" if arrangement else name


def _words(elements: tuple[Element, ...]) -> tuple[str, ...]:
    seen: dict[str, None] = {}
    for element in elements:
        seen.update(dict.fromkeys(element.by_word))
    return tuple(seen)
