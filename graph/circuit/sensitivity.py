"""How the current of one branch follows the voltages and resistances of a solved network.

The network is taken as linear around its solved state: diodes and outputs stay in their states, a load of constant
current draws it, a load of constant power has the small-signal resistance -V²/P. Such a network is reciprocal
(a voltage in branch f drives through branch t what the same voltage in t drives through f), so one solve with a
voltage in t gives all derivatives of its current: ∂I_t/∂V_s = y_s, ∂I_t/∂R_f = -y_f · I_f.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from loadloom.graph.circuit.copper import Copper
from loadloom.graph.circuit.linear_circuit import Circuit
from loadloom.graph.circuit.network import LOAD_KINDS, FloatArray, IntArray
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.model.elements import LoadKind


@dataclass(frozen=True)
class Sensitivity:
    """Derivatives of one branch's current: ``by_voltage`` (S,) in A/V, ``by_resistance`` (E,) in A/Ω."""

    by_voltage: FloatArray
    by_resistance: FloatArray


def sensitivities(solution: Solution, branches: IntArray) -> list[Sensitivity | None]:
    """Derivatives of the currents of some branches (edges, then outputs, then loads) around a solved state.

    None for a branch without resistance or one that does not conduct, and where the state is at the end of the
    stable side, so that nothing is linear there.
    """
    net = solution.network
    copper = Copper(solution, conducting=True)
    edges, sources = len(net.edge_ids), len(net.source_ids)
    resistance = np.concatenate([copper.resistance_ohm, _load_ohm(solution)])
    end_a = np.concatenate([copper.end_a, net.load_plus])
    end_b = np.concatenate([copper.end_b, net.load_minus])
    circuit = Circuit(len(net.node_ids), end_a, end_b, resistance, np.zeros(len(resistance)), net.source_minus)
    known = np.isfinite(resistance[branches]) & (resistance[branches] != 0)
    some = branches[known]
    injected = np.zeros((len(net.node_ids), len(some)))
    column = np.arange(len(some))
    np.add.at(injected, (end_a[some], column), -1.0 / resistance[some])
    np.add.at(injected, (end_b[some], column), 1.0 / resistance[some])
    try:
        _, branch_a = circuit.solve(injected)
    except RuntimeError:  # singular: the end of the stable side
        return [None] * len(branches)
    branch_a[some, column] += 1.0 / resistance[some]
    found: list[Sensitivity | None] = [None] * len(branches)
    for n, k in zip(np.flatnonzero(known).tolist(), column.tolist(), strict=True):
        y = branch_a[:, k]
        found[n] = Sensitivity(y[edges : edges + sources].copy(), -y[:edges] * solution.edge_a)
    return found


def load_voltages_by_ohm(solution: Solution, loads: IntArray) -> FloatArray | None:
    """(K, E) derivatives in V/Ω of the voltages at some loads by every edge's resistance, around a solved state.

    None at the end of the stable side, where nothing is linear.
    """
    net = solution.network
    copper = Copper(solution, conducting=True)
    resistance = np.concatenate([copper.resistance_ohm, _load_ohm(solution)])
    end_a = np.concatenate([copper.end_a, net.load_plus])
    end_b = np.concatenate([copper.end_b, net.load_minus])
    circuit = Circuit(len(net.node_ids), end_a, end_b, resistance, np.zeros(len(resistance)), net.source_minus)
    injected = np.zeros((len(net.node_ids), len(loads)))
    column = np.arange(len(loads))
    np.add.at(injected, (net.load_plus[loads], column), -1.0)
    np.add.at(injected, (net.load_minus[loads], column), 1.0)
    try:
        _, branch_a = circuit.solve(injected)
    except RuntimeError:  # singular: the end of the stable side
        return None
    found: FloatArray = -(branch_a[: len(net.edge_ids)] * solution.edge_a[:, None]).T
    return found


def _load_ohm(solution: Solution) -> FloatArray:
    """(L,) small-signal resistances of the loads; inf for a constant current and for one that gets nothing."""
    net = solution.network
    power, resistive = LOAD_KINDS.index(LoadKind.POWER), LOAD_KINDS.index(LoadKind.RESISTANCE)
    ohm = np.where(net.load_kind == resistive, net.load_demand, np.inf)
    steep = (net.load_kind == power) & (np.abs(solution.load_a) > 0) & (np.abs(solution.load_v) > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(steep, -np.abs(solution.load_v / solution.load_a), ohm)
