"""The low end of devices in the leads of joined outputs: the most that its lead ever takes over.

Source: the joint of the leads by Kirchhoff's current law, (Σ V/R - I) / Σ 1/R, at every corner of the voltages and
resistances (numpy); the leads' currents follow by Ohm's law.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from wired import analysed, contact, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Band, Tolerance


@pytest.mark.parametrize("seed", range(4))
def test_the_lowest_setting_carries_the_largest_share(seed: int) -> None:
    rng = np.random.default_rng(seed)
    count, drawn_a, parts, leads = int(rng.integers(2, 4)), 12.0, [], []
    for k in range(count):
        share, own_ohm = float(rng.choice([0.0, 0.01, 0.02])), float(rng.uniform(0.02, 0.1))
        least_ohm, wire_ohm = float(rng.uniform(1e-3, 0.02)), float(rng.uniform(2e-3, 0.05))
        most_ohm = least_ohm * float(rng.uniform(1.0, 8.0))
        band, tolerance = Band((least_ohm + most_ohm) / 2.0, least_ohm, most_ohm), Tolerance.even(share)
        parts += [
            output(f"U{k}", f"u{k}", "m", 24.0, resistance_ohm=own_ohm, trip_a=50.0, tolerance=tolerance),
            contact(f"X{k}.1", f"u{k}", f"x{k}", resistance_ohm=band, rated=60.0),
            limiter(f"D{k}", f"x{k}", f"d{k}", 20.0, delay_s=0.01),
            wire(f"W{k}", f"d{k}", "bus", ohm=wire_ohm, rated=60.0),
        ]
        volts = (24.0 * (1.0 - share), 24.0 * (1.0 + share))
        leads.append([(v, own_ohm + ohm + wire_ohm) for v in volts for ohm in (least_ohm, most_ohm)])
    worst_a = np.zeros(count)
    for corner in itertools.product(*leads):
        volts_v, ohm = np.array(corner).T
        joint_v = ((volts_v / ohm).sum() - drawn_a) / (1.0 / ohm).sum()
        worst_a = np.maximum(worst_a, (volts_v - joint_v) / ohm)
    lows = {row.id: row.setting_low_a for row in analysed(harness(*parts, load("L", "bus", "m", drawn_a))).devices}
    assert [lows[f"D{k}"] for k in range(count)] == pytest.approx(worst_a.tolist(), rel=1e-6)
