"""Random harnesses of many kinds, each as plain data for the judge and as a harness for the tool.

``drawing_of(kind, seed)`` is the same for the same kind and seed. Every number that the judge needs is drawn here,
and which joints a rail can touch is written down by whoever makes the rail: nothing of it is asked of the tool.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from brute_force import Draw, Drawing, Part, Source

from loadloom.graph.analysis import explore
from loadloom.graph.model.elements import (
    Band,
    Behaviour,
    Chassis,
    Conductor,
    Contact,
    Device,
    DeviceKind,
    Diode,
    Load,
    LoadKind,
    Output,
)
from loadloom.graph.model.elements import Connector as Mated
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings

RATED_A = 10.0
PERIOD_S = 0.5

TRIPS = {"UL 248-14": 1.35, "C": 1.45}
"""Multiples of the rating at which a fuse or breaker is certain to open: 135 % within an hour (UL 248-14, 10 A fuse
and the like), 145 % within the conventional time (IEC 60898-1). Both values from memory.
"""


class _Pen:
    """Draws parts with random values."""

    def __init__(self, kind: str, seed: int, *, mixed: bool = False, fused: bool = False, folding: bool = False):
        self.rng = random.Random(f"{kind} {seed}")
        self.mixed, self.fused, self.folding = mixed, fused, folding
        self.parts: list[Part] = []
        self.sources: list[Source] = []
        self.draws: list[Draw] = []
        self.returns: dict[str, tuple[str, ...]] = {}
        self.bonds: list[str] = []
        self.wires = 0

    def wire(self, a: str, b: str, name: str | None = None, **more: str | None) -> None:
        """A wire of 2 to 80 mΩ, in either direction."""
        self.wires += 1
        ends = (a, b) if self.rng.random() < 0.7 else (b, a)
        ohm = round(10.0 ** self.rng.uniform(-2.7, -1.1), 6)
        self.parts.append(Part(name or f"W{self.wires}", "wire", *ends, ohm, **more))

    def contact(self, connector: str, a: str, b: str) -> None:
        """The next contact of a connector."""
        pin = sum(part.connector == connector for part in self.parts) + 1
        ohm = round(self.rng.uniform(1e-3, 5e-3), 6)
        self.parts.append(Part(f"{connector}.{pin}", "contact", a, b, ohm, connector=connector))

    def device(self, name: str, a: str, b: str, low_a: float, high_a: float, *, holds: bool = False) -> None:
        """A limiter that opens, or holds its current; or a fuse or breaker by the curve of its standard."""
        ohm = round(self.rng.uniform(1e-3, 5e-3), 6)
        held = round(self.rng.uniform(low_a, high_a), 2)
        curve = None
        if self.fused and not holds and self.rng.random() < 0.7:
            curve, trips = self.rng.choice(tuple(TRIPS.items()))
            held = trips * max(1.0, round(held / trips))
        self.parts.append(Part(name, "device", a, b, ohm, held, holds, curve=curve))

    def source(self, plus: str, minus: str, volts: float, held: tuple[float, float], *, holds: bool = False) -> str:
        """An output."""
        name = f"U{len(self.sources) + 1}"
        ohm = round(10.0 ** self.rng.uniform(-2.3, -1.3), 6)
        most_a = round(self.rng.uniform(*held), 2)
        folds = self.folding and holds
        self.sources.append(Source(name, plus, minus, volts, ohm, most_a, holds, folds))
        return name

    def draw(self, plus: str, minus: str, volts: float, kinds: tuple[str, ...] = ("current",)) -> None:
        """A load of 0.3 to 3 A."""
        if self.mixed:
            kinds = ("current", "power", "resistance")
        kind, amps = self.rng.choice(kinds), round(self.rng.uniform(0.3, 3.0), 2)
        demand = {"current": amps, "power": amps * volts, "resistance": volts / amps}[kind]
        least = 0.6 * volts if kind == "power" else 0.0
        self.draws.append(Draw(f"L{len(self.draws) + 1}", plus, minus, kind, demand, least))

    def path(
        self, a: str, b: str, prefix: str, bundle: str | None, most: int = 2, connector: str | None = None
    ) -> None:
        """One to ``most`` wires side by side, perhaps through contacts of one connector."""
        cable = bundle if bundle and bundle.startswith("K") else None
        body = {"cable": cable, "bundle": bundle if cable is None else None}
        for n in range(self.rng.randint(1, most)):
            start = a
            if connector is not None:
                start = f"{prefix}{n}"
                self.contact(connector, a, start)
            self.wire(start, b, **body)

    def branch(
        self,
        name: str,
        bus: str,
        back: str,
        volts: float,
        *,
        trips: tuple[float, float] = (3.0, 20.0),
        kinds: tuple[str, ...] = ("current",),
        guarded: float = 0.8,
        holds: bool = False,
    ) -> None:
        """A load behind a limiter, with wires out and back in one bundle, cable or connector, or apart."""
        start = bus
        if self.rng.random() < guarded:
            self.device(f"Q{name}", bus, f"q{name}", *trips, holds=holds)
            start = f"q{name}"
        bundle = self.rng.choice((None, f"B{name}", f"K{name}"))
        connector = self.rng.choice((None, f"X{name}"))
        most = 2 if self.rng.random() < 0.4 else 1
        self.path(start, f"f{name}", f"a{name}", bundle, most, connector)
        self.path(f"r{name}", back, f"b{name}", bundle, 1, connector)
        self.draw(f"f{name}", f"r{name}", volts, kinds)

    def done(self) -> Drawing:
        """The drawing as it stands."""
        return Drawing(
            tuple(self.parts), tuple(self.sources), tuple(self.draws), dict(self.returns), tuple(self.bonds)
        )


def _single(pen: _Pen) -> None:
    """One output, two or three branches, a common return; the minus bonded to the chassis or not."""
    volts = pen.rng.choice((5.0, 12.0, 24.0))
    pen.source("p", "m", volts, (15.0, 60.0))
    pen.path("p", "bus", "t", None)
    pen.path("back", "m", "u", None)
    for n in range(pen.rng.randint(2, 3)):
        pen.branch(str(n), "bus", "back", volts, kinds=("current", "current", "power", "resistance"))
    if pen.rng.random() < 0.4:
        pen.bonds.append("back")
    pen.returns = {"p": ("m", *(["«chassis»"] if pen.bonds else []))}


def _ring(pen: _Pen) -> None:
    """A ring main of three or four sections, with a limiter in some of them and a branch at each joint."""
    volts = pen.rng.choice((12.0, 24.0))
    pen.source("p", "m", volts, (20.0, 80.0))
    count = pen.rng.randint(3, 4)
    joints = ["p", *(f"j{n}" for n in range(1, count))]
    for n, (one, other) in enumerate(zip(joints, [*joints[1:], "p"], strict=True)):
        start = one
        if pen.rng.random() < 0.6:
            pen.device(f"S{n}", one, f"s{n}", 8.0, 30.0)
            start = f"s{n}"
        pen.wire(start, other)
    for n, joint in enumerate(joints[1:3]):
        pen.branch(str(n), joint, "m", volts, guarded=0.5)
    pen.returns = {"p": ("m",)}


def _joined(pen: _Pen) -> None:
    """Two or three outputs of one voltage or nearly, each behind a limiter of its own or not, on one bus."""
    volts, count = pen.rng.choice((12.0, 24.0)), pen.rng.randint(2, 3)
    shared = pen.rng.random() < 0.4
    minus = ["m"] * count if shared else [f"m{n}" for n in range(count)]
    for n in range(count):
        own = volts * pen.rng.choice((1.0, 1.0, round(pen.rng.uniform(0.998, 1.002), 5)))
        pen.source(f"p{n}", minus[n], own, (20.0, 120.0))
        pen.wire(f"p{n}", f"c{n}")
        joint = f"c{n}"
        if pen.rng.random() < 0.8:
            pen.device(f"F{n}", f"c{n}", f"d{n}", 10.0, 60.0)
            joint = f"d{n}"
        pen.wire(joint, "bus")
        if not shared:
            pen.wire(minus[n], "back")
    for n in range(pen.rng.randint(1, 2)):
        pen.branch(str(n), "bus", "m" if shared else "back", volts)
    pen.returns = {"bus": tuple(dict.fromkeys(minus))}


def _diode_or(pen: _Pen) -> None:
    """Two outputs onto one bus, each through a diode, with a limiter before or behind it or none; two or three with
    loads of all kinds.
    """
    volts = pen.rng.choice((12.0, 24.0))
    for n in range(pen.rng.randint(2, 3) if pen.mixed else 2):
        pen.source(f"p{n}", "m", round(volts * pen.rng.choice((1.0, 0.97, 1.03)), 4), (15.0, 60.0))
        joint = f"p{n}"
        if pen.rng.random() < 0.6:
            pen.device(f"F{n}", joint, f"c{n}", 6.0, 30.0)
            joint = f"c{n}"
        pen.wire(joint, f"d{n}")
        drop = pen.rng.choice((0.0, 0.4, 0.7))
        pen.parts.append(Part(f"D{n}", "diode", f"d{n}", "bus", round(pen.rng.uniform(2e-3, 2e-2), 5), drop_v=drop))
    for n in range(pen.rng.randint(1, 2)):
        pen.branch(str(n), "bus", "m", volts)
    pen.returns = {"bus": ("m",)}


def _holding(pen: _Pen) -> None:
    """One or two outputs or limiters that hold their current, by constant current or by folding back."""
    volts, count = pen.rng.choice((12.0, 24.0)), pen.rng.randint(1, 2)
    for n in range(count):
        pen.source(f"p{n}", "m", volts, (8.0, 40.0), holds=pen.rng.random() < 0.7)
        joint = f"p{n}"
        if pen.rng.random() < 0.5:
            pen.device(f"F{n}", joint, f"c{n}", 5.0, 30.0, holds=pen.rng.random() < 0.6)
            joint = f"c{n}"
        pen.wire(joint, "bus")
    for n in range(2):
        pen.branch(str(n), "bus", "m", volts, holds=pen.rng.random() < 0.3)
    pen.returns = {"bus": ("m",)}


def _two_voltages(pen: _Pen) -> None:
    """Two outputs of different voltage with one return, some of their wires in one bundle."""
    for n, volts in enumerate((pen.rng.choice((24.0, 48.0)), pen.rng.choice((5.0, 12.0)))):
        pen.source(f"p{n}", "m", volts, (10.0, 50.0))
        pen.wire(f"p{n}", f"bus{n}", bundle=pen.rng.choice((None, "T")))
        pen.branch(f"{n}", f"bus{n}", "back", volts)
        pen.returns[f"p{n}"] = ("m",)
    pen.path("back", "m", "u", pen.rng.choice((None, "T")))


def _series(pen: _Pen) -> None:
    """Two or three outputs in series, loads across all and at taps; the lowest minus bonded to the chassis, or the
    middle of plus and minus rails, or nothing.
    """
    count, volts = pen.rng.randint(2, 3), 12.0
    levels = [f"v{n}" for n in range(count + 1)]
    for n in range(count):
        pen.source(levels[n + 1], levels[n], volts, (15.0, 40.0))
    rails = pen.rng.random() < 0.4 and count == 2
    reference = 1 if rails else 0
    pen.wire(levels[reference], "back")
    for n in (2, 0) if rails else (count, *([1] if pen.rng.random() < 0.7 else [])):
        low, high = sorted((n, reference))
        start = levels[n]
        if pen.rng.random() < 0.8:
            pen.device(f"Q{n}", start, f"q{n}", 3.0, 20.0)
            start = f"q{n}"
        bundle = pen.rng.choice((None, f"B{n}"))
        pen.wire(start, f"f{n}", bundle=bundle)
        pen.wire(f"r{n}", "back", bundle=bundle)
        plus, minus = (f"f{n}", f"r{n}") if n > reference else (f"r{n}", f"f{n}")
        pen.draw(plus, minus, volts * (high - low))
    if pen.rng.random() < 0.6:
        pen.bonds.append("back")
    chassis = ("«chassis»",) if pen.bonds else ()
    for n in range(count + 1):
        if n > reference:
            pen.returns[levels[n]] = (*levels[reference:n], *chassis)
        elif n < reference:
            pen.returns[levels[n]] = (*levels[n + 1 : reference + 1], *chassis)


def _pulsed(pen: _Pen) -> None:
    """One output and two to four branches on a common return, some of whose loads pulse with a period of 0.5 s."""
    volts = pen.rng.choice((12.0, 24.0))
    pen.source("p", "m", volts, (60.0, 120.0))
    pen.path("p", "bus", "t", None)
    pen.path("back", "m", "u", None)
    for n in range(pen.rng.randint(2, 4)):
        pen.branch(str(n), "bus", "back", volts, trips=(6.0, 25.0))
        last = pen.draws.pop()
        if pen.rng.random() < 0.7:
            if last.kind == "resistance":
                last = replace(last, kind="current", demand=round(volts / last.demand, 2))
            rest = round(last.demand * pen.rng.choice((0.0, 0.5, 1.0)), 2)
            duty = pen.rng.choice((0.1, 0.25, 0.5))
            most = round(pen.rng.uniform(4.0, 18.0), 2)
            most = most * volts if last.kind == "power" else most
            last = replace(last, demand=most, rest=rest, duty=duty)
        pen.draws.append(last)
    pen.returns = {"p": ("m",)}


def _bypassed(pen: _Pen) -> None:
    """One output, and in its feed a wire with a diode across it, which takes over what the wire drops too much
    for."""
    volts = pen.rng.choice((12.0, 24.0))
    pen.source("p", "m", volts, (40.0, 90.0))
    start = "p"
    for n in range(pen.rng.randint(1, 2)):
        ohm = round(pen.rng.uniform(0.03, 0.09), 4)
        pen.parts.append(Part(f"WB{n}", "wire", start, f"bus{n}", ohm))
        drop = pen.rng.choice((0.2, 0.4, 0.7))
        pen.parts.append(
            Part(f"D{n}", "diode", start, f"bus{n}", round(pen.rng.uniform(2e-3, 2e-2), 5), drop_v=drop)
        )
        start = f"bus{n}"
        pen.branch(str(n), start, "m", volts)
    pen.returns = {"p": ("m",)}


def _backed_up(pen: _Pen) -> None:
    """A supply of 24 V with a battery of 12 V behind it, both onto one bus through diodes."""
    for n, volts in enumerate((24.0, 12.0)):
        pen.source(f"p{n}", "m", volts, (15.0, 60.0))
        pen.device(f"F{n}", f"p{n}", f"c{n}", 3.0, 12.0)
        pen.wire(f"c{n}", f"d{n}")
        drop = pen.rng.choice((0.0, 0.4, 0.7))
        pen.parts.append(Part(f"D{n}", "diode", f"d{n}", "bus", round(pen.rng.uniform(2e-3, 2e-2), 5), drop_v=drop))
    pen.branch("0", "bus", "m", 24.0)
    pen.returns = {"bus": ("m",)}


def _tied(pen: _Pen) -> None:
    """Two branches whose far ends a limiter ties together; one that holds is crossed either way."""
    volts = pen.rng.choice((12.0, 24.0))
    pen.source("p", "m", volts, (20.0, 80.0))
    pen.path("p", "bus", "t", None)
    pen.path("back", "m", "u", None)
    for n in range(2):
        pen.branch(str(n), "bus", "back", volts)
    pen.device("T", "f0", "tied", 3.0, 15.0, holds=pen.rng.random() < 0.6)
    pen.wire("tied", "f1")
    pen.returns = {"p": ("m",)}


KINDS: dict[str, Callable[[_Pen], None]] = {
    "single": _single,
    "ring": _ring,
    "joined": _joined,
    "diode-or": _diode_or,
    "holding": _holding,
    "two voltages": _two_voltages,
    "series": _series,
    "pulsed": _pulsed,
}

OTHERS: dict[str, Callable[[_Pen], None]] = {
    "bypassed": _bypassed,
    "backed up": _backed_up,
    "tied": _tied,
}
"""Shapes in which it matters when just a diode blocks, and which way a limiter holds."""


VARIANTS = (
    *(f"{kind} mixed" for kind in ("ring", "joined", "diode-or", "holding", "two voltages", "series", "pulsed")),
    *(f"{kind} fused" for kind in ("single", "ring", "joined", "diode-or", "series", "pulsed")),
    "holding folding",
    "holding mixed folding",
)
"""The same with loads of all kinds, with fuses and breakers by their curves, and with outputs that fold back."""


def drawing_of(kind: str, seed: int) -> Drawing:
    """The harness of a kind or a variant of it and a seed, for the judge."""
    shapes = KINDS | OTHERS
    base = next(name for name in shapes if kind.startswith(name))
    words = kind.removeprefix(base).split()
    pen = _Pen(kind, seed, **dict.fromkeys(words, True))
    shapes[base](pen)
    return pen.done()


def harness_of(drawing: Drawing) -> Harness:
    """The same harness for the tool."""
    conductors, contacts, devices, diodes = [], [], [], []
    for part in drawing.parts:
        common = {"id": part.id, "subject": Subject(part.id), "node_a": part.a, "node_b": part.b}
        ohm = Band.exact(part.ohm)
        if part.kind == "wire":
            conductors.append(
                Conductor(
                    **common,
                    resistance_ohm=ohm,
                    own_rating_a=RATED_A,
                    cable=part.cable,
                    bundle=part.bundle,
                    length_m=1.0,
                )
            )
        elif part.kind == "contact":
            connector, pin = part.id.split(".")
            contacts.append(
                Contact(**common, resistance_ohm=ohm, own_rating_a=RATED_A, connector=connector, pin=pin)
            )
        elif part.kind == "diode":
            diodes.append(Diode(**common, resistance_ohm=ohm, forward_drop_v=part.drop_v, rating_a=RATED_A))
        else:
            devices.append(Device(**common, resistance_ohm=ohm, **_acts(part)))
    outputs = tuple(
        Output(
            id=source.id,
            subject=Subject(source.id),
            node_plus=source.plus,
            node_minus=source.minus,
            voltage_v=source.volts,
            trip_a=Band.exact(source.held_a),
            behaviour=_behaviour(source),
            resistance_ohm=source.ohm,
        )
        for source in drawing.sources
    )
    loads = tuple(
        Load(
            id=draw.id,
            subject=Subject(draw.id),
            node_plus=draw.plus,
            node_minus=draw.minus,
            demand_kind=LoadKind(draw.kind),
            **({"demand": draw.demand} if draw.duty >= 1.0 else {}),
            minimum_v=draw.least_v or None,
            **_pulses(draw),
        )
        for draw in drawing.draws
    )
    connectors: dict[str, list[str]] = {}
    for contact in contacts:
        connectors.setdefault(contact.connector, []).append(contact.id)
    return Harness(
        conductors=tuple(conductors),
        contacts=tuple(contacts),
        devices=tuple(devices),
        diodes=tuple(diodes),
        outputs=outputs,
        loads=loads,
        chassis=tuple(Chassis(id=f"C{n}", subject=Subject(f"C{n}"), node=b) for n, b in enumerate(drawing.bonds)),
        connectors=tuple(Mated(name, tuple(ids)) for name, ids in connectors.items()),
    )


def _acts(part: Part) -> dict[str, object]:
    """The fields by which a device opens or holds."""
    if part.curve is not None:
        kind = DeviceKind.BREAKER if part.curve == "C" else DeviceKind.FUSE
        return {"kind": kind, "curve": part.curve, "rating_a": part.held_a / TRIPS[part.curve]}
    behaviour = Behaviour.CONSTANT_CURRENT if part.holds else Behaviour.LATCH_OFF
    trip = Band.exact(part.held_a)
    return {"kind": DeviceKind.LIMITER, "trip_a": trip, "delay_s": 0.01, "behaviour": behaviour}


def _behaviour(source: Source) -> Behaviour:
    if source.folds:
        return Behaviour.FOLDBACK
    return Behaviour.CONSTANT_CURRENT if source.holds else Behaviour.LATCH_OFF


def _pulses(draw: Draw) -> dict[str, object]:
    """The fields of a load that pulses: what it draws in between plainly, its pulses in the state ``run``."""
    if draw.duty >= 1.0:
        return {}
    there = {"demand": draw.demand, "duration_s": draw.duty * PERIOD_S, "period_s": PERIOD_S}
    return {"demand": draw.rest, "by_word": {"run": there}}


@dataclass(frozen=True)
class Answer:
    """What the tool says of a part: the current in A, whether it is reached, the named fault in the judge's terms
    (one between two contacts stands on either side of them), and what stays just below tripping with what it holds.
    """

    value_a: float
    exact: bool
    states: tuple[tuple[str, str, float, Mapping[str, float], tuple[str, ...], str | None], ...] = ()
    cycle: tuple[tuple[float, Mapping[str, float]], ...] = ()
    held_by: str | None = None
    held_a: float | None = None


def answers_of(drawing: Drawing) -> dict[str, Answer]:
    """What the tool's fault search says of every wire, contact and diode."""
    settings = AnalysisSettings(conductor_temperature_c=20.0)
    facts, _ = explore(harness_of(drawing), settings, lambda _: None)
    by_id = {part.id: part for part in drawing.parts}
    found = {}
    for name, part in facts.faults.parts.items():
        value_a = part.sustained_fault_a or 0.0
        row, loads = part.fault, dict(part.loads_a)
        if row is None or part.exact_place is None:
            nowhere = drawing.sources[0].plus
            drawn = {draw.id: draw.demand for draw in drawing.draws}
            plain = all(draw.kind == "current" and draw.duty >= 1.0 for draw in drawing.draws)
            found[name] = Answer(value_a, part.exact and plain, ((nowhere, nowhere, 0.0, drawn, (), None),))
            continue
        at, to = part.exact_place
        ends = {draw.id: (draw.plus, draw.minus) for draw in drawing.draws}
        ends |= {source.id: (source.plus, source.minus) for source in drawing.sources}
        sides = [ends.get(at, (at, to))]
        if row.kind == "contacts":
            one, other = (by_id[each] for each in row.at.split("|"))
            sides = [(one.a, other.a), (one.b, other.b)]
        inside = at if row.kind == "source" else None
        ohm = row.fault_resistance_ohm or 0.0
        states = tuple((high, low, ohm, loads, row.opened, inside) for high, low in sides)
        cycle = tuple((share, dict(drawn)) for share, drawn in part.cycle)
        found[name] = Answer(value_a, part.exact, states, cycle, part.held_by, part.held_a)
    return found
