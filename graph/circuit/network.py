"""The numeric picture of a harness: arrays with an id index, for one case at one corner."""

from __future__ import annotations

import enum
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from loadloom.graph.model.elements import (
    Behaviour,
    Conductor,
    Contact,
    Diode,
    Load,
    LoadKind,
    Output,
    TwoEnded,
)
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, Case

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

CHASSIS_NODE = "«chassis»"
"""No net can have this name by accident."""


class Ageing(enum.StrEnum):
    """Which contact resistance counts."""

    NEW = "new"
    MEAN = "mean"
    AGED = "aged"


class OutputVoltage(enum.StrEnum):
    """Which end of the output's tolerance counts."""

    LOWEST = "lowest"
    NOMINAL = "nominal"
    HIGHEST = "highest"
    COMPENSATED = "compensated"
    """Highest, and by the whole limit of its remote sense above that."""


class Warmth(enum.StrEnum):
    """Which conductor temperature counts: least ambient, its own (or greatest ambient), insulation limit."""

    COLD = "cold"
    OWN = "own"
    HOT = "hot"


class ResistanceEnd(enum.StrEnum):
    """Which end of what conductors of one size can have counts."""

    LEAST = "least"
    GREATEST = "greatest"


@dataclass(frozen=True, slots=True)
class Corner:
    """The end of the tolerances at which something is calculated.

    ``ageing`` is for contacts and other parts that state a band, ``resistance`` for conductors.
    """

    ageing: Ageing
    voltage: OutputVoltage
    warmth: Warmth
    resistance: ResistanceEnd


LOAD_STATE = Corner(Ageing.MEAN, OutputVoltage.NOMINAL, Warmth.OWN, ResistanceEnd.GREATEST)
GREATEST_FAULT = Corner(Ageing.NEW, OutputVoltage.COMPENSATED, Warmth.COLD, ResistanceEnd.LEAST)
WORN = Corner(Ageing.AGED, OutputVoltage.LOWEST, Warmth.COLD, ResistanceEnd.GREATEST)
"""As cold as for the greatest fault current, all else the opposite of it."""

LEAST_FAULT = Corner(Ageing.AGED, OutputVoltage.LOWEST, Warmth.HOT, ResistanceEnd.GREATEST)
FRESH = Corner(Ageing.NEW, OutputVoltage.COMPENSATED, Warmth.HOT, ResistanceEnd.LEAST)
"""As hot as for the least fault current, all else the opposite of it."""

HIGHEST_VOLTAGE = Corner(Ageing.NEW, OutputVoltage.HIGHEST, Warmth.COLD, ResistanceEnd.LEAST)

ConductorResistance = Callable[[Conductor, Corner], float]
"""Resistance in Ω of a conductor that states none of its own, at a corner."""


@dataclass(frozen=True, slots=True)
class Coupling:
    """A converter in a network: the output and the load that hang on each other, by id.

    ``efficiency``: points in ascending order (share of ``rated_w``, efficiency 0…1). ``minimum_v``: the least input
    voltage at which it runs, None = not stated. ``more_w``: what the output gives beyond what the network draws
    from it, as into a capacitance that charges.
    """

    output: str
    load: str
    efficiency: tuple[tuple[float, float], ...]
    rated_w: float | None
    no_load_w: float
    minimum_v: float | None
    more_w: float = 0.0


@dataclass(frozen=True)
class Network:
    """Arrays of one case at one corner. Lengths: N nodes, E edges, S outputs, L loads.

    Edges are the harness' two-ended elements in ``Harness.two_ended`` order; an open one has infinite
    resistance, a chassis bond is an extra edge at the end with 0 Ω (only with ``with_chassis``).
    ``edge_diode`` marks edges that conduct from ``edge_a`` to ``edge_b`` only, with ``edge_drop_v`` in the way.
    ``source_hold_a`` is the current at which a constant-current output leaves its voltage; inf for others.
    A source current is positive out of the plus terminal; a load current positive into the plus terminal.
    Resistances in Ω, voltages in V; ``load_demand`` in A, W or Ω by ``load_kind`` (0, 1, 2); a load without
    a demand, or not fitted, is not in the arrays. ``opened`` are devices and outputs taken out (``without``),
    ``drawn`` is the network before they were. ``bond_nodes`` are bonded to the chassis, be it a joint here or not.
    ``couplings`` are the converters that the solve settles; their inputs' demands in the arrays are no matter. An
    output of infinite internal resistance is off; ``source_drawn_ohm`` is then what was drawn. ``kept`` is what the
    fault search keeps of it from one search to the next. ``asked``: the only parts and splices that it looks at in
    it; None: all. ``edge_band_ohm``: the least and the greatest resistance of every edge, (E,) each, where the
    search asks for them.
    """

    case: Case
    corner: Corner
    node_ids: tuple[str, ...]
    edge_ids: tuple[str, ...]
    edge_a: IntArray
    edge_b: IntArray
    edge_resistance_ohm: FloatArray
    edge_drop_v: FloatArray
    edge_diode: npt.NDArray[np.bool_]
    source_ids: tuple[str, ...]
    source_plus: IntArray
    source_minus: IntArray
    source_voltage_v: FloatArray
    source_resistance_ohm: FloatArray
    source_hold_a: FloatArray
    load_ids: tuple[str, ...]
    load_plus: IntArray
    load_minus: IntArray
    load_kind: IntArray
    load_demand: FloatArray
    opened: tuple[str, ...] = ()
    drawn: Network | None = None
    bond_nodes: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    couplings: tuple[Coupling, ...] = ()
    source_drawn_ohm: FloatArray | None = None
    asked: frozenset[str] | None = None
    edge_band_ohm: tuple[FloatArray, FloatArray] | None = None
    kept: dict[object, object] = field(default_factory=dict, init=False, compare=False, repr=False)

    @cached_property
    def edge_index(self) -> Mapping[str, int]:
        """Position of every edge by id."""
        return {name: k for k, name in enumerate(self.edge_ids)}

    @cached_property
    def source_index(self) -> Mapping[str, int]:
        """Position of every output by id."""
        return {name: k for k, name in enumerate(self.source_ids)}

    @cached_property
    def load_index(self) -> Mapping[str, int]:
        """Position of every load by id."""
        return {name: k for k, name in enumerate(self.load_ids)}

    @cached_property
    def electrical_key(self) -> tuple[object, ...]:
        """Equal for networks that differ in their case or corner by name only, and so have one solution."""
        arrays = (
            *(self.edge_a, self.edge_b, self.edge_resistance_ohm, self.edge_drop_v, self.edge_diode),
            *(self.source_plus, self.source_minus, self.source_voltage_v, self.source_resistance_ohm),
            *(self.source_hold_a, self.load_plus, self.load_minus, self.load_kind, self.load_demand),
        )
        names = (self.node_ids, self.edge_ids, self.source_ids, self.load_ids, self.couplings)
        return (*names, *(array.tobytes() for array in arrays))

    @cached_property
    def node_index(self) -> Mapping[str, int]:
        """Position of every node by id."""
        return {name: k for k, name in enumerate(self.node_ids)}


LOAD_KINDS = (LoadKind.CURRENT, LoadKind.POWER, LoadKind.RESISTANCE)


def compile_network(
    harness: Harness,
    case: Case,
    corner: Corner,
    settings: AnalysisSettings,
    conductor_resistance: ConductorResistance,
    *,
    with_chassis: bool = True,
) -> Network:
    """Turn a harness into arrays for one case at one corner.

    An output without a readable voltage is left out: what it alone feeds is unfed and says so.
    """
    edges = [element.under(case.arrangement) for element in harness.two_ended]
    outputs = [o.under(case.arrangement) for o in harness.outputs]
    outputs = [o for o in outputs if o.fitted and o.voltage_v is not None]
    loads = [load.under(case.state) for load in harness.loads]
    loads = [load for load in loads if load.fitted and load.demand is not None]

    bonds = [(f"bond {bond.id}", bond.node, CHASSIS_NODE) for bond in harness.chassis] if with_chassis else []
    ends_a = [e.node_a for e in edges] + [a for _, a, _ in bonds]
    ends_b = [e.node_b for e in edges] + [b for _, _, b in bonds]
    names: dict[str, None] = dict.fromkeys(harness.graph)
    names.update(dict.fromkeys(ends_b))
    index = {name: k for k, name in enumerate(names)}

    def at(node_names: list[str]) -> IntArray:
        return np.array([index[name] for name in node_names], dtype=np.int64)

    resistance = [_edge_resistance_ohm(e, corner, settings, conductor_resistance) for e in edges]
    resistance += [0.0] * len(bonds)
    return Network(
        case=case,
        corner=corner,
        node_ids=tuple(names),
        edge_ids=tuple([e.id for e in edges] + [name for name, _, _ in bonds]),
        edge_a=at(ends_a),
        edge_b=at(ends_b),
        edge_resistance_ohm=np.array(resistance, dtype=np.float64),
        edge_drop_v=np.array(
            [e.forward_drop_v if isinstance(e, Diode) else 0.0 for e in edges] + [0.0] * len(bonds),
            dtype=np.float64,
        ),
        edge_diode=np.array([isinstance(e, Diode) for e in edges] + [False] * len(bonds), dtype=np.bool_),
        source_ids=tuple(o.id for o in outputs),
        source_plus=at([o.node_plus for o in outputs]),
        source_minus=at([o.node_minus for o in outputs]),
        source_voltage_v=np.array([output_voltage_v(o, corner.voltage) for o in outputs], dtype=np.float64),
        source_resistance_ohm=np.array([output_resistance_ohm(o, corner) for o in outputs], dtype=np.float64),
        source_hold_a=np.array([_hold_a(o) for o in outputs], dtype=np.float64),
        load_ids=tuple(load.id for load in loads),
        load_plus=at([load.node_plus for load in loads]),
        load_minus=at([load.node_minus for load in loads]),
        load_kind=np.array([LOAD_KINDS.index(load.demand_kind) for load in loads], dtype=np.int64),
        load_demand=np.array([_demand(load) for load in loads], dtype=np.float64),
        bond_nodes=at([bond.node for bond in harness.chassis]),
        couplings=_couplings(harness, {o.id: o for o in outputs}),
    )


def _couplings(harness: Harness, outputs: Mapping[str, Output]) -> tuple[Coupling, ...]:
    """The converters whose output is in the network, as they are in its arrangement."""
    found = []
    for converter in harness.converters:
        output = outputs.get(converter.output_id)
        if output is not None:
            rated_w = rated_power_w(output)
            found.append(
                Coupling(
                    output.id,
                    converter.load_id,
                    tuple(sorted(converter.efficiency)),
                    rated_w,
                    converter.no_load_w,
                    converter.input_minimum_v,
                )
            )
    return tuple(found)


def rated_power_w(output: Output) -> float | None:
    """Nominal voltage times limit of an output in W; None where one is not stated."""
    return None if output.voltage_v is None or output.limit_a is None else output.voltage_v * output.limit_a


def at_corner(
    network: Network,
    harness: Harness,
    corner: Corner,
    settings: AnalysisSettings,
    conductor_resistance: ConductorResistance,
) -> Network:
    """A compiled network at another corner: only its resistances and voltages are worked out anew."""
    edges = [element.under(network.case.arrangement) for element in harness.two_ended]
    resistance = np.array([_edge_resistance_ohm(e, corner, settings, conductor_resistance) for e in edges])
    bonds = network.edge_resistance_ohm[len(edges) :]
    outputs = {o.id: o for o in (output.under(network.case.arrangement) for output in harness.outputs)}
    return replace(
        network,
        corner=corner,
        edge_resistance_ohm=np.concatenate([resistance, bonds]),
        source_voltage_v=np.array(
            [output_voltage_v(outputs[name], corner.voltage) for name in network.source_ids], dtype=np.float64
        ),
        source_resistance_ohm=np.array(
            [output_resistance_ohm(outputs[name], corner) for name in network.source_ids], dtype=np.float64
        ),
    )


def output_resistance_ohm(output: Output, corner: Corner) -> float:
    """The internal resistance of an output at a corner in Ω; a battery's differs between full and empty, cold and
    aged.
    """
    least_ohm = output.resistance_ohm
    high_ohm = least_ohm if output.resistance_high_ohm is None else output.resistance_high_ohm
    return {Ageing.NEW: least_ohm, Ageing.MEAN: (least_ohm + high_ohm) / 2, Ageing.AGED: high_ohm}[corner.ageing]


def output_voltage_v(output: Output, which: OutputVoltage) -> float:
    """The output's voltage in V at an end of its tolerance; one without a stated tolerance has none."""
    assert output.voltage_v is not None
    added_v = output.sense_added_v if which is OutputVoltage.COMPENSATED else 0.0
    if output.tolerance is None or which is OutputVoltage.NOMINAL:
        return output.voltage_v + added_v
    share = -output.tolerance.below if which is OutputVoltage.LOWEST else output.tolerance.above
    return output.voltage_v * (1.0 + share) + added_v


def _demand(load: Load) -> float:
    assert load.demand is not None
    return load.demand


def _hold_a(output: Output) -> float:
    """Where a constant-current output leaves its voltage: upper end of trip, else of limit; inf for others."""
    if output.behaviour is not Behaviour.CONSTANT_CURRENT:
        return np.inf
    if output.trip_a is not None:
        return output.trip_a.upper
    return output.limit_a if output.limit_a is not None else np.inf


def _edge_resistance_ohm(
    element: TwoEnded,
    corner: Corner,
    settings: AnalysisSettings,
    conductor_resistance: ConductorResistance,
) -> float:
    if not element.fitted:
        return np.inf
    band = element.resistance_ohm
    if band is None and isinstance(element, Contact):
        kind = settings.contact_types.get(element.contact_type or "")
        band = kind.resistance_ohm if kind and kind.resistance_ohm else settings.contact_resistance_ohm
    if band is not None and isinstance(element, Conductor):
        return band.lower if corner.resistance is ResistanceEnd.LEAST else band.upper
    if band is not None:
        return {Ageing.NEW: band.lower, Ageing.MEAN: (band.lower + band.upper) / 2, Ageing.AGED: band.upper}[
            corner.ageing
        ]
    if isinstance(element, Conductor):
        return conductor_resistance(element, corner)
    return 0.0  # a device, switch or diode that states none; listed in the assumptions


def without(network: Network, names: Iterable[str]) -> Network:
    """A network with edges open and outputs gone, which ``opened`` then names as well."""
    out = tuple(names)
    open_edge = np.array([name in out for name in network.edge_ids], dtype=np.bool_)
    kept = np.array([name not in out for name in network.source_ids], dtype=np.bool_)
    return replace(
        network,
        edge_resistance_ohm=np.where(open_edge, np.inf, network.edge_resistance_ohm),
        source_ids=tuple(name for name in network.source_ids if name not in out),
        source_plus=network.source_plus[kept],
        source_minus=network.source_minus[kept],
        source_voltage_v=network.source_voltage_v[kept],
        source_resistance_ohm=network.source_resistance_ohm[kept],
        source_hold_a=network.source_hold_a[kept],
        source_drawn_ohm=None if network.source_drawn_ohm is None else network.source_drawn_ohm[kept],
        opened=(*network.opened, *out),
        drawn=network.drawn or network,
    )


def piece_of(network: Network, node: int) -> tuple[Network, IntArray]:
    """What hangs together with a node through edges that are not open and through outputs, with its loads.

    Second: the position (N,) of every node of the whole in the piece, -1 for those outside.
    """
    count = len(network.node_ids)
    closed = np.isfinite(network.edge_resistance_ohm)
    ends_a = np.concatenate([network.edge_a[closed], network.source_plus])
    ends_b = np.concatenate([network.edge_b[closed], network.source_minus])
    joined = coo_array((np.ones(len(ends_a)), (ends_a, ends_b)), shape=(count, count))
    _, label = connected_components(joined, directed=False)
    inside = label == label[node]
    position = _positions(inside)
    edge = closed & inside[network.edge_a]
    source = inside[network.source_plus]
    load = inside[network.load_plus] & inside[network.load_minus]

    return _taken(network, position, edge, source, load), position


def between(network: Network, edges: IntArray, nodes: IntArray) -> tuple[Network, IntArray]:
    """Some edges, with their nodes, these nodes and all outputs; no loads. Second as for ``piece_of``."""
    inside = np.zeros(len(network.node_ids), dtype=np.bool_)
    for kept in (network.edge_a[edges], network.edge_b[edges], network.source_plus, network.source_minus, nodes):
        inside[kept] = True
    position = _positions(inside)
    every = np.ones(len(network.source_ids), dtype=np.bool_)
    chosen = np.zeros(len(network.edge_ids), dtype=np.bool_)
    chosen[edges] = True
    return _taken(network, position, chosen, every, np.zeros(len(network.load_ids), dtype=np.bool_)), position


def without_loads(network: Network) -> Network:
    """A network with its loads taken off."""
    none_f, none_i = np.zeros(0), np.zeros(0, dtype=np.int64)
    return replace(network, load_ids=(), load_plus=none_i, load_minus=none_i, load_kind=none_i, load_demand=none_f)


def _positions(inside: BoolArray) -> IntArray:
    """(N,) position of every node among those inside, -1 for the others."""
    found: IntArray = np.where(inside, np.cumsum(inside) - 1, -1).astype(np.int64)
    return found


def _taken(network: Network, position: IntArray, edge: BoolArray, source: BoolArray, load: BoolArray) -> Network:
    """The nodes that have a position, and the chosen edges, outputs and loads."""

    def names(ids: tuple[str, ...], mask: BoolArray) -> tuple[str, ...]:
        return tuple(ids[k] for k in np.flatnonzero(mask).tolist())

    band = network.edge_band_ohm
    return replace(
        network,
        node_ids=names(network.node_ids, position >= 0),
        edge_ids=names(network.edge_ids, edge),
        edge_a=position[network.edge_a[edge]],
        edge_b=position[network.edge_b[edge]],
        edge_resistance_ohm=network.edge_resistance_ohm[edge],
        edge_band_ohm=None if band is None else (band[0][edge], band[1][edge]),
        edge_drop_v=network.edge_drop_v[edge],
        edge_diode=network.edge_diode[edge],
        source_ids=names(network.source_ids, source),
        source_plus=position[network.source_plus[source]],
        source_minus=position[network.source_minus[source]],
        source_voltage_v=network.source_voltage_v[source],
        source_resistance_ohm=network.source_resistance_ohm[source],
        source_hold_a=network.source_hold_a[source],
        source_drawn_ohm=None if network.source_drawn_ohm is None else network.source_drawn_ohm[source],
        load_ids=names(network.load_ids, load),
        load_plus=position[network.load_plus[load]],
        load_minus=position[network.load_minus[load]],
        load_kind=network.load_kind[load],
        load_demand=network.load_demand[load],
        bond_nodes=position[network.bond_nodes[position[network.bond_nodes] >= 0]],
    )
