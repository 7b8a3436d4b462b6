"""Brute force over faults with ngspice: a resistor at every place in logarithmic steps, loads on and off.

Nothing of the tool's own search is used: places are listed here, every conductor is cut into pieces so that the
fault can stand on it, and ngspice solves each step. A step counts as held where no device and no output passes
more than its threshold. The interval after the last held step is swept again in fine steps.
"""

from __future__ import annotations

import itertools
import random
import subprocess
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from programs import need
from wired import contact, limiter, output, wire

from loadloom.graph.model.elements import Band, Connector, Load, LoadKind
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness

STEPS = 200
LEAST_OHM, MOST_OHM = 1e-3, 1e3
SHARES = (1e-6, 0.25, 0.5, 0.75, 1.0 - 1e-6)
OFF_OHM = 1e12
FINE_STEPS = 200


@dataclass(frozen=True)
class Drawn:
    """A harness with what its maker knows of it: which conductors lead out, and every threshold by id."""

    harness: Harness
    feeds: Mapping[str, tuple[str, ...]]
    """Conductors of the feed and the return terminals that a pinch is tried against."""
    held_a: Mapping[str, float]


@dataclass(frozen=True)
class Swept:
    """The greatest held current by part id, and where it was found."""

    current_a: dict[str, float]
    where: dict[str, str]
    points: int


@dataclass(frozen=True)
class Replayed:
    """One fault set up in ngspice: magnitudes by part, and whether no device passes more than it holds."""

    current_a: dict[str, float]
    everything_holds: bool


class _Maker:
    def __init__(self, seed: int, kinds: tuple[LoadKind, ...]) -> None:
        self.rng = random.Random(seed)
        self.kinds = kinds
        self.parts: list = []
        self.feeds: dict[str, tuple[str, ...]] = {}
        self.connectors: list[Connector] = []
        self.held: dict[str, float] = {}
        self.count = 0

    def path(self, a: str, b: str, terminals: tuple[str, ...], bundle: str | None, connector: str | None) -> None:
        rng = self.rng
        self.count += 1
        k = self.count
        start = a
        if connector is not None:
            start = f"n{k}"
            self.parts.append(contact(f"{connector}.{k}", a, start, ohm=round(rng.uniform(1e-3, 5e-3), 5)))
        ends = (start, b) if rng.random() < 0.7 else (b, start)
        length = round(rng.uniform(0.3, 3.0), 2)
        name = f"W{k}"
        ohm = 0.017241 * length / rng.choice((0.35, 0.75, 1.5, 2.5))
        self.parts.append(wire(name, *ends, ohm=ohm, length_m=length, rated=10.0, bundle=bundle))
        if terminals:
            self.feeds[name] = terminals

    def paths(self, a: str, b: str, most: int, terminals: tuple[str, ...], bundle: str | None) -> None:
        connector = f"X{len(self.connectors) + 1}" if self.rng.random() < 0.5 else None
        before = self.count
        for _ in range(self.rng.randint(1, most)):
            self.path(a, b, terminals, bundle, connector)
        if connector is not None:
            ids = tuple(f"{connector}.{k}" for k in range(before + 1, self.count + 1))
            self.connectors.append(Connector(connector, ids))


def random_drawn(seed: int, kinds: tuple[LoadKind, ...]) -> Drawn:
    """A small random harness: one or two outputs, limiters, parallel paths, meshes, shared returns, a bundle."""
    make = _Maker(seed, kinds)
    rng = make.rng
    joined = rng.random() < 0.3
    volts = rng.choice((5.0, 12.0, 24.0))
    count = 2 if joined or rng.random() < 0.3 else 1
    bundle = "B" if rng.random() < 0.5 else None
    terminals = tuple(f"U{k}-" for k in range(1, count + 1)) if joined else ("U1-",)
    buses = []
    for k in range(1, count + 1):
        trip = round(rng.uniform(15.0, 60.0), 1)
        own = volts * rng.uniform(0.999, 1.001) if joined else rng.choice((volts, 5.0))
        make.held[f"U{k}"] = trip
        make.parts.append(
            output(f"U{k}", f"U{k}+", f"U{k}-", own, trip_a=trip, resistance_ohm=rng.choice((0.002, 0.01, 0.03)))
        )
        mine = terminals if joined else (f"U{k}-",)
        bus = "bus1" if joined else f"bus{k}"
        make.paths(f"U{k}+", bus, 2, mine, bundle)
        make.paths("back", f"U{k}-", 2, (), None)
        buses.append((bus, mine))
    branches = 2 if rng.random() < 0.8 else 3
    far: list[tuple[str, tuple[str, ...]]] = []
    for n in range(1, branches + 1):
        bus, mine = rng.choice(buses)
        start = bus
        if rng.random() < 0.75:
            trip = round(rng.uniform(3.0, 20.0), 1)
            make.held[f"Q{n}"] = trip
            make.parts.append(limiter(f"Q{n}", bus, f"q{n}", trip, resistance_ohm=Band.exact(0.003)))
            start = f"q{n}"
        make.paths(start, f"f{n}", 3 if n == 1 else 1, mine, bundle)
        make.paths(f"r{n}", "back", 2 if n == 1 else 1, (), bundle if rng.random() < 0.5 else None)
        far.append((f"f{n}", mine))
    if rng.random() < 0.4 and far[0][1] == far[1][1]:
        make.paths(far[0][0], far[1][0], 1, far[0][1], None)
    for n, (node, _) in enumerate(far, start=1):
        kind = rng.choice(kinds)
        volts_here = 5.0 if count == 2 and not joined else volts
        amperes = round(rng.uniform(0.3, 2.5), 2)
        demand = {
            LoadKind.CURRENT: amperes,
            LoadKind.POWER: amperes * volts_here,
            LoadKind.RESISTANCE: volts_here / amperes,
        }[kind]
        make.parts.append(
            Load(
                id=f"L{n}",
                subject=Subject(f"L{n}"),
                node_plus=node,
                node_minus=f"r{n}",
                demand_kind=kind,
                demand=demand,
                minimum_v=0.6 * volts_here if kind is LoadKind.POWER else None,
            )
        )

    def those(kind: str) -> tuple:
        return tuple(p for p in make.parts if type(p).__name__ == kind)

    harness = Harness(
        conductors=those("Conductor"),
        contacts=those("Contact"),
        devices=those("Device"),
        outputs=those("Output"),
        loads=those("Load"),
        connectors=tuple(make.connectors),
    )
    return Drawn(harness, make.feeds, make.held)


def places(drawn: Drawn) -> Iterator[tuple[str, str, str]]:
    """(name, node, node): every place, nodes named as in the deck."""
    harness = drawn.harness
    for load in harness.loads:
        yield load.id, load.node_plus, load.node_minus
    by_bundle: dict[str, list[str]] = {}
    for conductor in harness.conductors:
        if conductor.bundle:
            by_bundle.setdefault(conductor.bundle, []).append(conductor.id)
    touching: dict[str, set[str]] = {}
    for c in harness.contacts:
        for w in harness.conductors:
            if {w.node_a, w.node_b} & {c.node_a, c.node_b}:
                touching.setdefault(c.connector, set()).add(w.id)
    groups = [*by_bundle.values(), *(sorted(group) for group in touching.values())]
    for feed, terminals in drawn.feeds.items():
        for s in range(len(SHARES)):
            for terminal in terminals:
                yield f"{feed}:{SHARES[s]:.2f} to {terminal}", f"{feed}_{s}", terminal
        others = {k for group in groups if feed in group for k in group if k not in drawn.feeds}
        for other in sorted(others):
            for s, t in ((0, 0), (0, 4), (4, 0), (4, 4), (2, 2)):
                yield f"{feed}:{SHARES[s]:.2f} to {other}:{SHARES[t]:.2f}", f"{feed}_{s}", f"{other}_{t}"
    for o in harness.outputs:
        if any(o.node_minus in back and len(back) > 1 for back in drawn.feeds.values()):
            yield f"inside {o.id}", o.node_plus, o.node_minus
    plus = {w.node_a for w in harness.conductors if w.id in drawn.feeds}
    plus |= {w.node_b for w in harness.conductors if w.id in drawn.feeds}
    contacts = {c.id: c for c in harness.contacts}
    for connector in harness.connectors:
        for first, second in itertools.combinations(connector.contact_ids, 2):
            one, two = contacts[first], contacts[second]
            for x, y in ((one.node_a, two.node_a), (one.node_b, two.node_b)):
                if (x in plus) != (y in plus):
                    yield (f"{first}|{second}", x, y) if x in plus else (f"{first}|{second}", y, x)


def sweep(drawn: Drawn) -> Swept:
    """The greatest held current of every conductor and contact."""
    listed = list(dict.fromkeys(places(drawn)))
    combos = 2 ** len(drawn.harness.loads)
    with tempfile.TemporaryDirectory() as folder:
        coarse = _run(
            Path(folder), drawn, [(k, -3.0, 6.0 / (STEPS - 1), STEPS) for k in range(len(listed))], listed
        )
        answer = Swept({}, {}, sum(len(c) for c, _ in coarse))
        refine: dict[tuple[int, float, int], None] = {}
        for k, (table, names) in enumerate(coarse):
            _note(answer, drawn, table, names, listed[k][0])
        best_of = dict(answer.current_a)
        for k, (table, names) in enumerate(coarse):
            held = _held(drawn, table, names)
            for name, best in best_of.items():
                column = _part_current(table, names, name)
                grid, ok = column.reshape(combos, STEPS), held.reshape(combos, STEPS)
                # Only places that could overtake the best so far within one step of resistance (7 %).
                for combo in range(combos):
                    steps = np.flatnonzero(ok[combo])
                    for last in {int(steps[0]), int(steps[-1])} if len(steps) else ():
                        if grid[combo, last] * 1.09 >= best:
                            refine[k, -3.0 + (last - 1) * 6.0 / (STEPS - 1), combo] = None
        fine = [
            (k, low, 2.0 * 6.0 / (STEPS - 1) / (FINE_STEPS - 1), FINE_STEPS)
            for k, low in dict.fromkeys((k, low) for k, low, _ in refine)
        ]
        for (k, *_), (table, names) in zip(fine, _run(Path(folder), drawn, fine, listed), strict=True):
            _note(answer, drawn, table, names, listed[k][0])
    return answer


def _note(answer: Swept, drawn: Drawn, table: np.ndarray, names: list[str], place: str) -> None:
    held = _held(drawn, table, names)
    for part in (*drawn.harness.conductors, *drawn.harness.contacts):
        value = float(_part_current(table, names, part.id)[held].max(initial=0.0))
        if value > answer.current_a.get(part.id, -1.0):
            answer.current_a[part.id] = value
            answer.where[part.id] = place


def _held(drawn: Drawn, table: np.ndarray, names: list[str]) -> np.ndarray:
    held = table[:, names.index("fault")] >= -1e-9
    for name, most in drawn.held_a.items():
        current = table[:, names.index(name)]
        held &= (np.abs(current) if name.startswith("Q") else current) <= most
    return held


def _part_current(table: np.ndarray, names: list[str], name: str) -> np.ndarray:
    if f"{name}.near" in names:
        near, far = table[:, names.index(f"{name}.near")], table[:, names.index(f"{name}.far")]
        return np.maximum(np.abs(near), np.abs(far))
    return np.abs(table[:, names.index(name)])


def _run(
    folder: Path, drawn: Drawn, sweeps: list[tuple[int, float, float, int]], listed: list[tuple[str, str, str]]
) -> list[tuple[np.ndarray, list[str]]]:
    """Tables (points, columns) of every sweep (place, log10 of the least ohm, log step, steps).

    Every place has a circuit of its own, cut nowhere else: a third of the time of one circuit with all places.
    """
    if not sweeps:
        return []
    combos = 2 ** len(drawn.harness.loads)
    raw = folder / "out.raw"
    raw.unlink(missing_ok=True)
    control = ["set filetype=binary", "set appendwrite"]
    columns: list[list[str]] = []
    for place, low, step, steps in sweeps:
        circuit = folder / f"{place}.cir"
        lines, ammeters = _deck(drawn, listed[place][1:])
        columns.append(list(ammeters))
        vectors = " ".join(ammeters.values())
        lines += [".options reltol=1e-5 abstol=1e-6 vntol=1e-7 gmin=1e-15 noacct", ".end"]
        circuit.write_text("\n".join(lines) + "\n")
        control += [f"source {circuit}", f"save {vectors}"]
        inside = next((o for o in drawn.harness.outputs if listed[place][0] == f"inside {o.id}"), None)
        if inside is not None:
            control.append(f"alter r_{inside.id.lower()} = {OFF_OHM}")
        control += [f"alter vlow dc = {low:.12g}", f"alter vstep dc = {step:.12g}"]
        control += [f"dc vk 0 {steps - 1} 1 vcombo 0 {combos - 1} 1" if combos > 1 else f"dc vk 0 {steps - 1} 1"]
        control += [f"write {raw} {vectors}", "destroy all", "remcirc"]
    deck = folder / "deck.cir"
    deck.write_text("\n".join(["all sweeps", ".control", *control, "quit", ".endc", ".end"]) + "\n")
    done = subprocess.run(
        [need("ngspice"), "-b", str(deck)], capture_output=True, text=True, timeout=600, check=False
    )
    tables = _read_raw(raw, list(map(len, columns))) if raw.exists() else []
    expected = [steps * combos for *_, steps in sweeps]
    if [len(t) for t in tables] != expected:
        raise AssertionError(f"ngspice gave {len(tables)} of {len(expected)} sweeps: {done.stderr[-1500:]}")
    return list(zip(tables, columns, strict=True))


def _read_raw(path: Path, columns: Sequence[int]) -> list[np.ndarray]:
    data = path.read_bytes()
    tables: list[np.ndarray] = []
    at = 0
    while at < len(data) and len(tables) < len(columns):
        mark = data.index(b"Binary:\n", at)
        header = data[at:mark].decode()
        fields = dict(
            line.split(":", 1) for line in header.splitlines() if ":" in line and not line.startswith("\t")
        )
        variables, points = int(fields["No. Variables"]), int(fields["No. Points"])
        start = mark + len(b"Binary:\n")
        at = start + 8 * variables * points
        table = np.frombuffer(data[start:at], dtype=np.float64).reshape(points, variables)
        tables.append(table[:, variables - columns[len(tables)] :])
    return tables


def _resistor(part: str) -> str:
    """Name of the resistance of a contact or device in the deck."""
    return "rm_" + part.replace(".", "_").lower()


def replay(
    drawn: Drawn, at: str, to: str, fault_ohm: float, loads_a: Mapping[str, float], opened: Iterable[str] = ()
) -> Replayed:
    """What ngspice says of one fault that the tool names.

    ``at`` and ``to`` are the tool's names of the places; loads draw the currents given, whatever their voltage.
    Devices and outputs of ``opened`` have opened before.
    """
    harness = drawn.harness
    fault_ohm = max(fault_ohm, 1e-9)
    shares = dict.fromkeys((w.id for w in harness.conductors), SHARES)

    def node(name: str, other: int) -> str:
        ends = {load.id: (load.node_plus, load.node_minus) for load in harness.loads}
        ends |= {o.id: (o.node_plus, o.node_minus) for o in harness.outputs}
        if name in ends:
            return ends[name][other]
        if "|" in name:
            raise ValueError("a pair of contacts has two sides: not replayed")
        if ":" not in name:
            return name
        wire_id, share = name.split(":")
        inside = min(max(float(share), 1e-9), 1.0 - 1e-9)
        shares[wire_id] = tuple(sorted({inside, *shares[wire_id]}))
        return f"{wire_id}_{shares[wire_id].index(inside)}"

    across = at in {o.id for o in harness.outputs} | {load.id for load in harness.loads}
    lines, ammeters = _deck(drawn, (node(at, 0), node(at if across else to, 1)), shares, loads_a)
    lines += [".options reltol=1e-6 abstol=1e-9 vntol=1e-9 gmin=1e-15 noacct", ".control", "set filetype=binary"]
    if at in {o.id for o in harness.outputs}:
        lines.append(f"alter r_{at.lower()} = {OFF_OHM}")
    outputs = {o.id for o in harness.outputs}
    for name in opened:
        lines.append(f"alter {f'r_{name.lower()}' if name in outputs else _resistor(name)} = {OFF_OHM}")
    lines += [f"alter vlow dc = {np.log10(fault_ohm):.15g}", "op"]
    with tempfile.TemporaryDirectory() as folder:
        raw, deck = Path(folder) / "out.raw", Path(folder) / "deck.cir"
        lines += [f"write {raw} " + " ".join(ammeters.values()), ".endc", ".end"]
        deck.write_text("\n".join(lines) + "\n")
        subprocess.run([need("ngspice"), "-b", str(deck)], capture_output=True, timeout=60, check=False)
        table = _read_raw(raw, [len(ammeters)])[0]
    names = list(ammeters)
    parts = (*harness.conductors, *harness.contacts)
    close = {name: most * (1.0 + 1e-4) for name, most in drawn.held_a.items()}
    held = bool(_held(Drawn(harness, drawn.feeds, close), table, names)[0])
    return Replayed({p.id: float(_part_current(table, names, p.id)[0]) for p in parts}, held)


def _deck(
    drawn: Drawn,
    between: tuple[str, str],
    shares: Mapping[str, tuple[float, ...]] | None = None,
    loads_a: Mapping[str, float] | None = None,
) -> tuple[list[str], dict[str, str]]:
    """The circuit with a fault between two nodes, conductors cut where these stand on them; and the vector of
    every ammeter.
    """
    harness = drawn.harness
    ground = harness.outputs[0].node_minus
    ammeters: dict[str, str] = {}
    lines = ["faults"]

    def node(name: str) -> str:
        return "0" if name == ground else "n_" + name.replace("+", "p").replace("-", "m").lower()

    def ammeter(name: str, a: str, b: str) -> None:
        source = "v_" + name.replace(".", "_").lower()
        lines.append(f"{source} {a} {b} 0")
        ammeters[name] = f"i({source})"

    for w in harness.conductors:
        ohm = w.resistance_ohm.nominal
        cuts = (shares or {}).get(w.id, SHARES)
        inside = [(share, f"{w.id}_{s}") for s, share in enumerate(cuts) if f"{w.id}_{s}" in between]
        chain = [(0.0, f"{w.id.lower()}_s"), *((share, node(name)) for share, name in inside)]
        chain.append((1.0, f"{w.id.lower()}_e" if inside else node(w.node_b)))
        for k, ((from_share, one), (to_share, other)) in enumerate(itertools.pairwise(chain)):
            lines.append(f"r_{w.id.lower()}_{k} {one} {other} {ohm * (to_share - from_share):.15g}")
        ammeter(f"{w.id}.near" if inside else w.id, node(w.node_a), chain[0][1])
        if inside:
            ammeter(f"{w.id}.far", chain[-1][1], node(w.node_b))
    for part in (*harness.contacts, *harness.devices):
        middle = "m_" + part.id.replace(".", "_").lower()
        ammeter(part.id, node(part.node_a), middle)
        lines.append(f"{_resistor(part.id)} {middle} {node(part.node_b)} {part.resistance_ohm.nominal:.15g}")
    for o in harness.outputs:
        inner = f"in_{o.id.lower()}"
        lines.append(f"vs_{o.id.lower()} {inner} {node(o.node_minus)} {o.voltage_v:.15g}")
        ammeter(o.id, inner, f"{inner}2")
        lines.append(f"r_{o.id.lower()} {inner}2 {node(o.node_plus)} {o.resistance_ohm:.15g}")
    for k, load in enumerate(harness.loads):
        bit = f"(floor(v(combo)/{2**k}+1e-6)-2*floor(v(combo)/{2 ** (k + 1)}+1e-6))"
        p, m = node(load.node_plus), node(load.node_minus)
        across = f"v({p},{m})" if m != "0" else f"v({p})"
        current = {
            LoadKind.CURRENT: f"{load.demand:.15g}*{bit}",
            LoadKind.RESISTANCE: f"{across}*{1.0 / load.demand:.15g}*{bit}",
            # Below its minimum voltage it fades out with the voltage: it never draws more than at its minimum.
            LoadKind.POWER: f"{load.demand:.15g}*{bit}/max({across},{load.minimum_v or 0.01:.15g})"
            f"*min(1,max(0,{across}/{load.minimum_v or 0.01:.15g}))",
        }[load.demand_kind]
        if loads_a is not None:
            current = f"{loads_a.get(load.id, 0.0):.15g}"
        lines.append(f"b_{load.id.lower()} {p} {m} i={current}")
    high, low = map(node, between)
    ammeter("fault", high, "fq")
    across = f"v(fq,{low})" if low != "0" else "v(fq)"
    lines += [f"b_fault fq {low} i={across}/pow(10,v(low)+v(k)*v(step))"]
    lines += ["vk k 0 0", "vcombo combo 0 0", "vlow low 0 -3", "vstep step 0 0.03"]
    return lines, ammeters
