"""Inrush behind converters: what their inputs draw meanwhile, against transients of ngspice.

In ngspice a converter is an output behind its resistance, with a constant current where it limits, and a current
at its input of output power over efficiency by the voltage there. Nothing of the tool's own solve is used.
"""

from __future__ import annotations

import random
import subprocess
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
from programs import need
from test_variants import AT_20_C, Sketch, found

from loadloom.graph.load_cases.charging import find_charges
from loadloom.graph.model.elements import (
    Band,
    Behaviour,
    Conductor,
    Converter,
    Load,
    LoadKind,
    Output,
    Start,
    Tolerance,
)
from loadloom.graph.model.findings import Subject, Verdict
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import AnalysisSettings, Case


@dataclass
class Chain:
    """A supply and converters one behind the other; the last one feeds a capacitance, each bus a small load."""

    volts: list[float]
    ohm: list[float]
    hold_a: list[float | None]
    share: list[float]
    no_load_w: list[float]
    wires: list[tuple[str, str, str, float]] = field(default_factory=list)
    loads: list[tuple[str, str, float]] = field(default_factory=list)
    joined: list[bool] = field(default_factory=list)
    farad: float = 0.0
    series_ohm: float = 0.0


def random_chain(seed: int) -> Chain:
    rng = random.Random(seed)
    stages = 1 + seed % 3
    volts = [48.0, 24.0, 12.0, 5.0][: stages + 1]
    made = Chain(
        volts,
        [rng.uniform(2e-3, 20e-3) for _ in volts],
        [None] * stages + [rng.uniform(4.0, 10.0) if seed % 2 else None],
        [rng.uniform(0.8, 0.95) for _ in volts],
        [rng.choice((0.0, 1.0)) for _ in volts],
    )
    made.farad = 10 ** rng.uniform(-3.5, -2.5)
    made.series_ohm = rng.uniform(0.3, 1.0)
    for k in range(stages + 1):
        made.joined.append(bool(k) and rng.random() < 0.5)
        made.wires += [
            (f"W{k}", f"p{k}", f"q{k}", rng.uniform(5e-3, 60e-3)),
            (f"R{k}", f"n{k}", f"m{k}", rng.uniform(5e-3, 60e-3)),
        ]
        made.loads.append((f"q{k}", f"n{k}", rng.uniform(0.1, 1.0)))
    return made


def minus(chain: Chain, k: int) -> str:
    """The joint of an output's minus: of joined minus sides the input's."""
    return f"n{k - 1}" if chain.joined[k] else f"m{k}"


def harness(chain: Chain) -> Harness:
    last = len(chain.volts) - 1
    loads, outputs, converters = [], [], []

    def load(name: str, plus: str, back: str, amps: float, **more: object) -> Load:
        return Load(id=name, subject=Subject(name), node_plus=plus, node_minus=back, demand=amps, **more)  # type: ignore[arg-type]

    for k, volts in enumerate(chain.volts):
        name, hold_a = f"PS{k}", chain.hold_a[k]
        outputs.append(
            Output(
                id=name,
                subject=Subject(name),
                node_plus=f"p{k}",
                node_minus=minus(chain, k),
                voltage_v=volts,
                limit_a=hold_a or 1000.0,
                trip_a=Band.exact(hold_a or 1000.0),
                delay_s=1.0,
                behaviour=Behaviour.CONSTANT_CURRENT if hold_a else Behaviour.LATCH_OFF,
                resistance_ohm=chain.ohm[k],
                tolerance=Tolerance.even(0.0),
            )
        )
        plus, back, amps = chain.loads[k]
        loads.append(load(f"L{k}", plus, back, amps))
        if k:
            loads.append(load(f"{name}.IN", f"q{k - 1}", f"n{k - 1}", 0.0, demand_kind=LoadKind.POWER))
            points = ((1.0, chain.share[k]),)
            converters.append(Converter(name, Subject(name), name, f"{name}.IN", points, chain.no_load_w[k]))
    start = Start(capacitance_f=chain.farad, series_ohm=chain.series_ohm)
    loads.append(load("C", f"q{last}", f"n{last}", 0.0, start=start, by_word={"on": {"charges": True}}))
    names = {f"m{k}": minus(chain, k) for k in range(last + 1)}
    wires = [
        Conductor(id=n, subject=Subject(n), node_a=a, node_b=names.get(b, b), resistance_ohm=Band.exact(ohm))
        for n, a, b, ohm in chain.wires
    ]
    return Harness(
        conductors=tuple(wires), outputs=tuple(outputs), loads=tuple(loads), converters=tuple(converters)
    )


def spice(chain: Chain) -> dict[str, tuple[float, float]]:
    """Peak and I²t beyond the current at the end of every wire."""
    program = need("ngspice")
    names = {f"m{k}": minus(chain, k) for k in range(len(chain.volts))}

    def node(name: str) -> str:
        there = names.get(name, name)
        return "0" if there == "m0" else there

    lines = ["charging through converters"]
    for k, volts in enumerate(chain.volts):
        plus, back, hold_a = f"p{k}", node(f"m{k}"), chain.hold_a[k]
        lines.append(f"vo{k} {plus}x {plus} 0")
        if hold_a is None:
            lines += [f"vs{k} {plus}s {back} {volts:.12g}", f"rs{k} {plus}s {plus}x {chain.ohm[k]:.12g}"]
        else:
            lines.append(
                f"bs{k} {back} {plus}x i=min({hold_a:.12g}, ({volts:.12g}-v({plus}x,{back}))/{chain.ohm[k]:.12g})"
            )
        if k:
            a, b = f"q{k - 1}", f"n{k - 1}"
            power = f"(v({plus},{back})*i(vo{k})/{chain.share[k]:.12g}+{chain.no_load_w[k]:.12g})"
            lines.append(f"bi{k} {a} {node(b)} i={power}/max(v({a},{node(b)}),1)")
            lines.append(f"rt{k} {plus} 0 1e9")
        a, b, amps = chain.loads[k]
        lines.append(f"bl{k} {a} {node(b)} i={amps:.12g}")
    for name, a, b, ohm in chain.wires:
        lines += [f"v{name} {node(a)} {name}x 0", f"r{name} {name}x {node(b)} {ohm:.12g}"]
    last = len(chain.volts) - 1
    lines += [
        f"sc q{last} cz gate 0 closes",
        f"rc cz cy {chain.series_ohm:.12g}",
        f"cc cy {node(f'n{last}')} {chain.farad:.12g}",
        f"rleak cy {node(f'n{last}')} 1e6",
        "vgate gate 0 pulse(0 1 1u 1n 1n 1000 2000)",
        ".model closes sw(vt=0.5 vh=0 ron=1e-6 roff=1e12)",
    ]
    span_s = 20.0 * chain.farad * (chain.series_ohm + 0.1)
    if chain.hold_a[-1] is not None:
        span_s += chain.farad * chain.volts[-1] / (0.5 * chain.hold_a[-1])
    with tempfile.TemporaryDirectory() as folder:
        out, deck = Path(folder) / "out.txt", Path(folder) / "deck.cir"
        lines += [
            ".options method=gear reltol=1e-6 trtol=2 itl1=500",
            ".control",
            f"tran {span_s / 20_000:.6g} {span_s:.6g} 0 {span_s / 20_000:.6g}",
            "set wr_singlescale",
            "set numdgt=12",
            f"wrdata {out} " + " ".join(f"i(v{name.lower()})" for name, *_ in chain.wires),
            ".endc",
            ".end",
        ]
        deck.write_text("\n".join(lines) + "\n")
        done = subprocess.run([program, "-b", str(deck)], capture_output=True, text=True, timeout=60, check=False)
        assert out.exists(), done.stdout[-2000:] + done.stderr[-2000:]
        table = np.loadtxt(out)
    times, amps = table[:, 0], table[:, 1:]
    squares = np.trapezoid(amps**2 - amps[-1] ** 2, times, axis=0)
    return {wire[0]: (float(np.abs(amps[:, k]).max()), float(squares[k])) for k, wire in enumerate(chain.wires)}


def by_formula(chain: Chain) -> dict[str, tuple[float, float]]:
    """The same by hand: a line while the output limits, then exp(-t/RC); each input's current by its quadratic."""
    last = len(chain.volts) - 1
    own_a = chain.loads[last][2]
    path = chain.ohm[last] + sum(ohm for name, *_, ohm in chain.wires if name[1:] == str(last))
    loop, volts = path + chain.series_ohm, chain.volts[last]
    most_a = (chain.hold_a[last] or np.inf) - own_a
    free_v = volts - path * own_a
    line_s, from_v = 0.0, 0.0
    if free_v / loop > most_a:
        from_v = free_v - loop * most_a
        line_s = chain.farad * from_v / most_a
    tail = np.concatenate([[0.0], np.geomspace(1e-5, 16.0, 4000)]) * loop * chain.farad
    exponential = (free_v - from_v) / loop * np.exp(-tail / (loop * chain.farad))
    line = np.linspace(0.0, line_s, 1000)[:-1] if line_s else np.zeros(0)
    times = np.concatenate([line, line_s + tail])
    into = np.concatenate([np.full(len(line), most_a), exponential])
    charged_v = np.concatenate([most_a * line / chain.farad if line_s else line, free_v - loop * exponential])
    amps = into + own_a
    power = (charged_v + chain.series_ohm * into + (path - chain.ohm[last]) * amps) * amps
    found = {}
    for k in range(last, -1, -1):
        squares = float(np.trapezoid(amps**2 - amps[-1] ** 2, times))
        found |= {name: (float(amps.max()), squares) for name in (f"W{k}", f"R{k}")}
        if k:
            asked = power / chain.share[k] + chain.no_load_w[k]
            ohm = chain.ohm[k - 1] + sum(ohm for name, *_, ohm in chain.wires if name[1:] == str(k - 1))
            beside = chain.loads[k - 1][2]
            # (V - R·(I + beside))·I = P
            b = chain.volts[k - 1] - ohm * beside
            drawn = (b - np.sqrt(b**2 - 4.0 * ohm * asked)) / (2.0 * ohm)
            amps = drawn + beside
            power = (chain.volts[k - 1] - chain.ohm[k - 1] * amps) * amps
    return found


def agrees(seed: int, judge: dict[str, tuple[float, float]]) -> None:
    case = Case("on", "on", None, for_a_time=True)
    (charge,) = find_charges(harness(random_chain(seed)), AnalysisSettings(), (case,))
    assert not charge.stops and not charge.sinks and not charge.unlimited and not charge.unfinished
    for name, (peak_a, i2t) in judge.items():
        pulses = [pulse[name] for pulse in charge.pulses if name in pulse]
        assert max(p.peak_a for p in pulses) == pytest.approx(peak_a, rel=0.01), name
        assert max(p.i2t_a2s for p in pulses) == pytest.approx(i2t, rel=0.01), name


@pytest.mark.parametrize("seed", [0, 1, 2, 3])
def test_an_input_draws_what_charges_behind_it_as_in_a_transient_of_ngspice(seed: int) -> None:
    """Peak and I²t in every wire of chains of one to three converters, within 1 %."""
    # What flows out flows back; ngspice's first step shows spikes in the return beside its behavioural sources.
    agrees(seed, {name: found for name, found in spice(random_chain(seed)).items() if name.startswith("W")})


@pytest.mark.parametrize("seed", range(5, 17))
def test_an_input_draws_what_charges_behind_it_as_by_formula(seed: int) -> None:
    agrees(seed, by_formula(random_chain(seed)))


def fed_by_a_limiter(trip: str, delay: str, *, path: str = "10 mΩ", **fields: str) -> Results:
    """24 V through a limiter into a converter of 12 V, 90 %, whose output of 20 mΩ charges 4.7 mF over 0.5 Ω.

    12 V / 0.54 Ω = 22.2 A, and at the terminal 11.56 V of it: 285 W in, 11.9 A at 24 V.
    """
    draw = Sketch()
    draw(
        "PS1", "output", "p m", "24 V", Limit="40 A", Trip="60 A", Delay="1 ms", Tolerance="0 %", Resistance="5 mΩ"
    )
    draw("CH1", "limiter", "p q", trip, Delay=delay, Resistance="1 mΩ")
    draw("W1", "wire", "q a", "4 mm²", Length="1 m", Rating="30 A", Resistance=path)
    draw("W2", "wire", "b m", "4 mm²", Length="1 m", Rating="30 A", Resistance=path)
    stated = {
        **{"Voltage": "12 V", "Limit": "5 A", "Trip": "30 A", "Delay": "50 ms", "Tolerance": "0 %"},
        **{"Resistance": "20 mΩ", "Efficiency": "90 %", "No-load power": "0 W"},
        **{"Input minimum": "18 V", "Input maximum": "36 V", **fields},
    }
    draw("DC1", "converter", "a b o n", pins="1:IN+ 2:IN- 3:OUT+ 4:OUT-", fields=stated)
    draw("W3", "wire", "o r", "4 mm²", Length="1 m", Rating="30 A", Resistance="10 mΩ")
    draw("W4", "wire", "s n", "4 mm²", Length="1 m", Rating="30 A", Resistance="10 mΩ")
    load = {"Load": "0.5 A", "Capacitance": "4.7 mF", "Series resistance": "0.5 Ω", "Start every": "10 min"}
    draw("L1", "load", "r s", fields=load)
    return draw.results(AT_20_C)


def test_a_limiter_before_a_converter_sees_what_its_output_charges() -> None:
    """11.9 A at first, above 8 A for 2.5 ms · ln(11.9 / 8) = 1.0 ms: it trips at 0.5 ms, not at 3 ms."""
    assert "CH1" in found(fed_by_a_limiter("8 A", "0.5 ms"), "limiter-would-trip")
    rides = fed_by_a_limiter("8 A", "3 ms")
    assert "CH1" not in found(rides, "limiter-would-trip")
    assert rides.verdict is Verdict.PASS, [f.message for f in rides.findings]


def test_a_converter_that_loses_its_input_voltage_meanwhile_is_found() -> None:
    """26 mΩ and 12 A leave 23.7 V: more than 18 V, less than 23.8 V."""
    assert "DC1" not in found(fed_by_a_limiter("20 A", "3 ms"), "converter-input-low")
    low = fed_by_a_limiter("20 A", "3 ms", **{"Input minimum": "23.8 V"})
    assert "DC1" in found(low, "converter-input-low")


def test_an_input_that_takes_no_more_takes_it_for_longer() -> None:
    """Unlimited 11.9 A at first; with an input that takes 9 A no more than that flows, until the energy is drawn.

    ∫P dt at the terminal is C·V² = 0.677 J, less the output's own share of the loss, ½·C·V²·20 / 540 = 0.013 J; at
    90 % 0.738 J are drawn. 9 A at 23.77 V are 214 W, 6.4 W of it for the load of 0.5 A: 3.6 ms.
    """
    free, limited = (fed_by_a_limiter("20 A", "5 ms", **more) for more in ({}, {"Input limit": "9 A"}))
    for results, limit, delay, trips in (
        (free, "10 A", "0.1 ms", True),
        (limited, "9.5 A", "0.1 ms", False),
        (limited, "8.9 A", "3.4 ms", True),
        (limited, "8.9 A", "3.8 ms", False),
    ):
        fields = {"Input limit": "9 A"} if results is limited else {}
        there = found(fed_by_a_limiter(limit, delay, **fields), "limiter-would-trip")
        assert ("CH1" in there) is trips, (limit, delay)
    assert limited.verdict is Verdict.PASS, [f.message for f in limited.findings]


def test_a_pulse_that_the_supply_can_not_give_takes_the_input_voltage() -> None:
    """0.606 Ω before the input give at most 24²/(4·0.606) = 238 W, and the output asks for 257 W / 0.9 = 285 W."""
    results = fed_by_a_limiter("60 A", "3 ms", **{"Input minimum": "5 V"}, path="0.3 Ω")
    assert "DC1" in found(results, "converter-input-low")


def beside_a_converter(farad: str, **fields: str) -> Results:
    """24 V ± 10 % behind 50 mΩ, a converter, and on its bus a capacitance behind 20 mΩ that is switched on."""
    draw = Sketch()
    draw(
        "PS1",
        "output",
        "p m",
        "24 V",
        Limit="40 A",
        Trip="900 A",
        Delay="1 ms",
        Tolerance="10 %",
        Resistance="5 mΩ",
    )
    draw("W1", "wire", "p a", "4 mm²", Length="1 m", Rating="900 A", Resistance="20 mΩ")
    draw("W2", "wire", "b m", "4 mm²", Length="1 m", Rating="900 A", Resistance="25 mΩ")
    stated = {
        **{"Voltage": "12 V", "Limit": "5 A", "Trip": "6 A", "Delay": "1 ms", "Tolerance": "0 %"},
        **{"Resistance": "20 mΩ", "Efficiency": "90 %", "No-load power": "0 W"},
        **{"Input minimum": "15 V", "Input maximum": "36 V"},
    }
    draw("DC1", "converter", "a b o n", pins="1:IN+ 2:IN- 3:OUT+ 4:OUT-", fields=stated)
    draw("L1", "load", "o n", fields={"Load": "0.5 A"})
    load = {"Load": "0.5 A", "Capacitance": farad, "Series resistance": "20 mΩ", **fields}
    draw("L2", "load", "a b", fields=load)
    return draw.results(AT_20_C)


def test_a_converter_beside_what_charges_may_lose_its_input_voltage() -> None:
    """21.6 V · 20 / 70 = 6.2 V at first; above 15 V after 70 mΩ · 1 mF · ln(15.4 / 6.6) = 59 µs."""
    told = found(beside_a_converter("1 mF"), "start-not-determined")["DC1"]
    assert told.value == pytest.approx(21.6 * 20.0 / 70.0, rel=0.05)
    slow = found(
        beside_a_converter("1 mF", **{"Pre-charge": "1 Ω", "Pre-charge time": "20 ms"}), "start-not-determined"
    )
    assert slow == {}


def beside_a_capacitance(stated: str, hold_up: str = "", farad: str = "1 mF", **fields: str) -> Results:
    """The same bus with a load beside what is switched on, and no converter."""
    draw = Sketch()
    supply = {"Voltage": "24 V", "Limit": "40 A", "Trip": "900 A", "Delay": "1 ms", "Tolerance": "10 %"}
    draw("PS1", "output", "p m", fields={**supply, "Resistance": "5 mΩ"})
    draw("W1", "wire", "p a", "4 mm²", Length="1 m", Rating="900 A", Resistance="20 mΩ")
    draw("W2", "wire", "b m", "4 mm²", Length="1 m", Rating="900 A", Resistance="25 mΩ")
    draw(
        "L2", "load", "a b", fields={"Load": "0.1 A", "Capacitance": farad, "Series resistance": "20 mΩ", **fields}
    )
    beside = {"Load": "0.5 A", "Minimum voltage": stated, "Hold-up time": hold_up}
    draw("L3", "load", "a b", fields={name: text for name, text in beside.items() if text})
    return draw.results(AT_20_C)


def test_a_load_beside_what_charges_has_to_bridge_what_it_gets_too_little() -> None:
    """u(t) = 21.6 V · (1 - 50 / 70 · e^(-t / 70 µs)): 6.2 V at first, above 15 V after 59.4 µs; without 0.5 A."""
    told = found(beside_a_capacitance("15 V"), "start-not-determined")["L3"]
    assert told.value == pytest.approx(21.6 * 20.0 / 70.0, rel=0.05)
    lasts_s = 70e-6 * np.log(21.6 * 50.0 / 70.0 / (21.6 - 15.0))
    enough, less = (beside_a_capacitance("15 V", f"{1e6 * share * lasts_s:.2f} µs") for share in (1.08, 0.95))
    for rule in ("start-not-determined", "voltage-low"):
        assert found(enough, rule) == {}, rule
    assert found(less, "start-not-determined") == {}
    assert found(less, "voltage-low")["L3"].value == pytest.approx(21.6 * 20.0 / 70.0, rel=0.05)
    assert found(beside_a_capacitance("15 V", "0 ms"), "voltage-low")["L3"].value == told.value  # bridges nothing
    assert found(beside_a_capacitance("6 V"), "start-not-determined") == {}
    slow = {"Pre-charge": "1 Ω", "Pre-charge time": "20 ms"}
    assert found(beside_a_capacitance("15 V", **slow), "start-not-determined") == {}
    silent = beside_a_capacitance("")
    assert any("L3: no Minimum voltage is stated" in sentence for sentence in silent.assumptions)


def test_a_load_before_a_converter_sees_what_charges_behind_it() -> None:
    """The converter's input takes its output's charging power, and the bus before it falls by I · 0.6 Ω meanwhile.

    24 V · 0.9 at the least; at first the output gives 6 A · 1.05 at nearly no voltage, at the end 6.3 A at 12 V:
    75.6 W / 0.9 = 84 W, which 21.6 V through 0.6 Ω give at 4.44 A and 18.9 V.
    """
    draw = Sketch()
    supply = {"Voltage": "24 V", "Limit": "40 A", "Trip": "60 A", "Delay": "1 ms", "Tolerance": "10 %"}
    draw("PS1", "output", "p m", fields={**supply, "Resistance": "100 mΩ"})
    draw("W1", "wire", "p a", "4 mm²", Length="1 m", Rating="90 A", Resistance="0.25 Ω")
    draw("W2", "wire", "b m", "4 mm²", Length="1 m", Rating="90 A", Resistance="0.25 Ω")
    stated = {
        **{"Voltage": "12 V", "Limit": "6 A", "Trip": "6 A ±5 %", "Delay": "1 ms", "Tolerance": "0 %"},
        **{"Behaviour": "constant-current", "Resistance": "1 mΩ", "Efficiency": "90 %", "No-load power": "0 W"},
        **{"Input minimum": "12 V", "Input maximum": "36 V"},
    }
    draw("DC1", "converter", "a b o n", pins="1:IN+ 2:IN- 3:OUT+ 4:OUT-", fields=stated)
    draw("L1", "load", "o n", fields={"Load": "0.1 A", "Capacitance": "10 mF", "Series resistance": "1 mΩ"})
    draw("L3", "load", "a b", fields={"Load": "0.1 A", "Minimum voltage": "20 V"})
    told = found(draw.results(AT_20_C), "start-not-determined")["L3"]
    power_w = 6.3 * 12.0 / 0.9
    amps = (21.54 - (21.54**2 - 4.0 * 0.6 * power_w) ** 0.5) / 1.2
    assert told.value == pytest.approx(21.54 - 0.6 * amps, rel=0.01)
