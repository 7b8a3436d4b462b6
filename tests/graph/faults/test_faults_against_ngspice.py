"""Sustained fault current against ngspice: every place, five points along each conductor, every fault resistance,
by force.

On random harnesses ngspice steps a fault resistor from 1 mΩ to 1 kΩ at every place, with the loads on and off in
every combination, and finely once more around the last step that holds. Devices are plain thresholds. Nothing
that it finds may be above the tool's sustained fault current. For constant-current and resistive loads the tool's
number must also be real: within 1 % of what the steps reached, or, where the worst point lies between the five of a
conductor, within 1 % of what ngspice gives when the tool's own fault is set up in it, with everything holding.
"""

import pytest
from fault_bench import faults_of
from fault_sweep import random_drawn, replay, sweep
from programs import need
from shared_results import once, shared_folder

from loadloom.graph.model.elements import LoadKind

KINDS = {
    "current": (LoadKind.CURRENT,),
    "resistance": (LoadKind.CURRENT, LoadKind.RESISTANCE),
    "power": (LoadKind.POWER, LoadKind.CURRENT),
}
CASES = [("current", seed) for seed in range(1, 11)] + [("resistance", seed) for seed in range(11, 18)]
CASES += [("power", seed) for seed in range(18, 24)]
WITHIN = 0.01
ROUNDING = 1e-5
"""Relative: ngspice's own tolerance."""


@pytest.fixture
def swept(tmp_path_factory: pytest.TempPathFactory):
    """A harness and what ngspice found on it, once for the whole run."""
    need("ngspice")
    folder = shared_folder(tmp_path_factory) / "swept"

    def of(kind: str, seed: int):
        drawn = random_drawn(seed, KINDS[kind])
        return drawn, once(folder, f"{kind}{seed}", lambda: sweep(drawn))

    return of


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_nothing_that_holds_is_above_the_sustained_fault(swept, kind: str, seed: int):
    drawn, reference = swept(kind, seed)
    answer = faults_of(drawn.harness)
    excess = []
    for name, found_a in reference.current_a.items():
        part = answer.parts[name]
        assert found_a <= part.sustained_fault_a * (1.0 + ROUNDING) + 1e-6, (
            name,
            reference.where[name],
            part.fault,
        )
        if found_a < 1e-3 or part.sustained_fault_a <= found_a * (1.0 + WITHIN):
            continue
        if kind == "power":
            excess.append(part.sustained_fault_a / found_a - 1.0)
            continue
        ohm, opened = part.fault.fault_resistance_ohm, part.fault.opened
        claimed = replay(drawn, *part.exact_place, ohm, dict(part.loads_a), opened)
        assert claimed.everything_holds, (name, part.fault)
        assert claimed.current_a[name] == pytest.approx(part.sustained_fault_a, rel=WITHIN), (name, part.fault)
    if kind == "power":
        above = f"{len(excess)} of {len(reference.current_a)} parts above by more than 1 %"
        print(f"seed {seed}: {above}, at most {100.0 * max(excess, default=0.0):.1f} %")


def test_the_reference_finds_what_it_should(swept):
    """The sweeps are no empty loops: they reach the threshold of a device on most harnesses."""
    every = [swept(kind, seed) for kind, seed in CASES]
    reached = [
        any(abs(a / t - 1.0) < WITHIN for a in found.current_a.values() for t in drawn.held_a.values())
        for drawn, found in every
    ]
    assert sum(reached) >= 0.8 * len(reached)
    assert sum(found.points for _, found in every) > 200_000
