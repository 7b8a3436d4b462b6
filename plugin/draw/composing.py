"""From a wire list's Drawing to blocks and runs: which symbol stands for which part, which pin for which end."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, field

from loadloom.graph.model.naming import natural_key
from loadloom.plugin.building.pins import COIL, ENDS, path_ends
from loadloom.plugin.draw.layout import Block, End, Part, Run, Sheet, ranks
from loadloom.plugin.draw.shapes import Shape, box, library_shapes
from loadloom.plugin.draw.sheets import lay_out
from loadloom.plugin.drawing import Drawing, PinRef, Symbol
from loadloom.plugin.roles import Role, letters_of, role_of_word

_SHAPE_OF = {
    Role.FUSE: "Fuse",
    Role.BREAKER: "Breaker",
    Role.RESETTABLE: "Resettable",
    Role.LIMITER: "Limiter",
    Role.SWITCH: "Switch",
    Role.DIODE: "Diode",
    Role.LOAD: "Load",
    Role.OUTPUT: "Output",
    Role.BATTERY: "Battery_Bank",
    Role.SOLAR: "Solar",
    Role.CONVERTER: "Converter",
    Role.CONTACTOR: "Contactor",
    Role.CHASSIS: "Chassis",
}
_CONDUCTORS = (Role.WIRE, Role.CABLE)


@dataclass
class Composed:
    """The sheets, the shape of every symbol by reference, and nets that the settings have to call a joint."""

    sheets: list[Sheet]
    shapes: dict[str, Shape]
    joints: list[str] = field(default_factory=list)


def compose(drawing: Drawing) -> Composed:
    """Choose symbols, find columns, and lay everything out."""
    return _Composer(drawing).run()


class _Composer:
    def __init__(self, drawing: Drawing) -> None:
        self.drawing = drawing
        self.symbols = {symbol.reference: symbol for symbol in drawing.symbols}
        self.roles = {symbol.reference: _role(symbol) for symbol in drawing.symbols}
        self.net_of = {pin: net for net in drawing.nets for pin in net.pins}
        self.rank: dict[str, int] = {}
        self.pin_maps: dict[str, dict[str, str]] = {}
        self.shapes: dict[str, Shape] = {}
        self.splice_pins: dict[str, list[str]] = defaultdict(list)
        self.names: dict[End, str] = {}
        self.net_called: dict[str, str] = {}

    def run(self) -> Composed:
        parts = [ref for ref, role in self.roles.items() if role not in _CONDUCTORS]
        pairs = self.pairs(parts)
        groups = [*pairs, *((ref,) for ref in parts if not any(ref in pair for pair in pairs))]
        bare = Shape("", "", {"1": (0.0, 0.0)}, ())
        blocks = [Block([Part(ref, bare) for ref in group]) for group in groups]
        ranks(blocks, self.fed({ref: mate for pair in pairs for ref, mate in (pair, pair[::-1])}), self.joined())
        self.rank = {part.reference: block.rank for block in blocks for part in block.parts}
        self.neighbours: dict[tuple[str, str], list[int]] = defaultdict(list)
        raw_runs = self.raw_runs()
        for block in blocks:
            self.shape_block(block)
        runs = [self.shape_run(reference, cores) for reference, cores in raw_runs.items()]
        sheets = lay_out(blocks, runs, self.names, self.ties())
        joints = [self.name_of(net.pins[0]) for net in self.drawing.nets if net.joint]
        return Composed(sheets, self.shapes, joints)

    # What is joined

    def pairs(self, parts: list[str]) -> list[tuple[str, str]]:
        found: list[tuple[str, str]] = []
        for ref in parts:
            mate = next((t.strip() for n, t in self.symbols[ref].fields.items() if n.casefold() == "mates"), "")
            taken = {name for pair in found for name in pair}
            if self.roles.get(mate) is Role.CONNECTOR and mate != ref and not {ref, mate} & taken:
                found.append((ref, mate))
        return found

    def part_pins(self, pin: PinRef) -> list[PinRef]:
        """The pins of parts on the net of a pin, connectors first."""
        net = self.net_of.get(pin)
        pins = [p for p in net.pins if self.roles[p.reference] not in _CONDUCTORS] if net else []
        order = {Role.CONNECTOR: 0, Role.THROUGH: 0, Role.SPLICE: 1}
        return sorted(pins, key=lambda p: (order.get(self.roles[p.reference] or Role.IGNORE, 2), _key(p)))

    def name_of(self, pin: PinRef) -> str:
        """The name of a pin's net, for labels: without what KiCad takes for a bus, a variable or a sheet's path."""
        net = self.net_of.get(pin)
        if net is not None and net.named_by_user:
            name = net.name
        else:
            there = self.part_pins(pin)
            first = there[0] if there else min(net.pins, key=_key) if net else pin
            name = f"{first.reference}.{first.number}"
        plain = re.sub(r"[\[\]{}$/\\~^\s]", "_", name)
        key = net.name if net is not None else name
        while self.net_called.setdefault(plain, key) != key:
            plain += "'"
        return plain

    def joined(self) -> list[tuple[str, str]]:
        """The parts that conductors and nets join, two by two."""
        return [(one.reference, two.reference) for one, two in self.links()]

    def links(self) -> list[tuple[PinRef, PinRef]]:
        """The pins of parts that a conductor, or a net, joins."""
        found = []
        for reference, role in self.roles.items():
            for one, two in self.cores(reference).values() if role in _CONDUCTORS else ():
                found += [(a, b) for a in self.part_pins(one)[:1] for b in self.part_pins(two)[:1]]
        for net in self.drawing.nets:
            there = [pin for pin in net.pins if self.roles[pin.reference] not in _CONDUCTORS]
            found += [(there[0], other) for other in there[1:]]
        return found

    def fed(self, mates: dict[str, str]) -> dict[str, int]:
        """How many conductors lie between a source's plus and each part that the feed reaches."""
        near: dict[PinRef, list[PinRef]] = defaultdict(list)
        for one, two in self.links():
            near[one].append(two)
            near[two].append(one)
        plus = [
            PinRef(symbol.reference, pin.number)
            for symbol in self.drawing.symbols
            if self.roles[symbol.reference] in (Role.OUTPUT, Role.BATTERY, Role.SOLAR)
            for pin in symbol.pins
            if not self.is_minus(PinRef(symbol.reference, pin.number))
        ]
        found = {pin.reference: 0 for pin in plus}
        seen = set(plus)
        here = list(plus)
        hops = 0
        while here:
            hops += 1
            onward = []
            for pin in here:
                for there in near[pin]:
                    for reached in (there, *self.passed(there, mates)):
                        found.setdefault(reached.reference, hops)
                        if reached not in seen:
                            seen.add(reached)
                            onward.append(reached)
            here = onward
        return found

    def passed(self, pin: PinRef, mates: dict[str, str]) -> list[PinRef]:
        """The pins that a part passes a feed on to, from one of its pins."""
        role = self.roles[pin.reference]
        numbers = [p.number for p in self.symbols[pin.reference].pins]
        if role is Role.CONNECTOR:
            return [PinRef(mates[pin.reference], pin.number)] if pin.reference in mates else []
        if role is Role.THROUGH:
            return [PinRef(pin.reference, n) for n in numbers if n[:-1] == pin.number[:-1]]
        if role in (Role.LOAD, Role.OUTPUT, Role.BATTERY, Role.SOLAR, Role.CHASSIS, Role.IGNORE, None):
            return []
        if role is Role.CONTACTOR:
            return self.other_contacts(pin)
        if role is Role.CONVERTER:
            fed, given = (self.end_of(pin.reference, *ENDS[role][k]) for k in (0, 2))
            return [PinRef(pin.reference, given)] if given and pin.number == fed else []
        return [PinRef(pin.reference, number) for number in numbers]

    def other_contacts(self, pin: PinRef) -> list[PinRef]:
        """The far pin of a contactor's pole; none of a coil's pins, which takes the feed for itself."""
        symbol = self.symbols[pin.reference]
        by_text = {p.number: {p.number, p.name} for p in symbol.pins}
        path = path_ends(symbol) or tuple(n for end in ("1", "2") for n in symbol.ends.get(end, ()))
        if not path:
            coil = {*COIL, *(n for end in COIL for n in symbol.ends.get(end, ()))}
            path = tuple(number for number, texts in by_text.items() if not texts & coil)
        for a, b in zip(path[::2], path[1::2], strict=False):
            for one, two in ((a, b), (b, a)):
                if one in by_text[pin.number]:
                    return [PinRef(pin.reference, number) for number, texts in by_text.items() if two in texts]
        return []

    def end_of(self, reference: str, names: tuple[str, ...], numbers: tuple[str, ...]) -> str | None:
        """Number of the pin that is an end of a role."""
        symbol = self.symbols[reference]
        stated = [n for name in (*names, *numbers) for n in symbol.ends.get(name, ())]
        by_name = [p.number for p in symbol.pins if p.name in names]
        by_number = [p.number for p in symbol.pins if p.number in numbers]
        return next(iter(stated or by_name or by_number), None)

    def is_minus(self, pin: PinRef) -> bool:
        """Whether a pin is the minus of a source or load."""
        if self.roles[pin.reference] not in (Role.OUTPUT, Role.BATTERY, Role.SOLAR, Role.LOAD):
            return False
        symbol = self.symbols[pin.reference]
        names = {p.number: p.name for p in symbol.pins}
        if symbol.ends:
            return pin.number in symbol.ends.get("-", ())
        return (
            names.get(pin.number) == "-"
            or pin.number == "-"
            or (pin.number == "2" and names.get("2") in ("", None))
        )

    def cores(self, reference: str) -> dict[str, tuple[PinRef, PinRef]]:
        """Both pins of a wire, or of each core of a cable."""
        if self.roles[reference] is Role.WIRE:
            return {"": (PinRef(reference, "1"), PinRef(reference, "2"))}
        numbers = sorted((pin.number for pin in self.symbols[reference].pins), key=natural_key)
        cores = dict.fromkeys(number[:-1] for number in numbers)
        return {core: (PinRef(reference, f"{core}A"), PinRef(reference, f"{core}B")) for core in cores}

    def raw_runs(self) -> dict[str, list[tuple[PinRef, End, PinRef, End]]]:
        """The conductors with the ends that they land on; a splice gets a pin of its own for each."""
        runs: dict[str, list[tuple[PinRef, End, PinRef, End]]] = {}
        for reference, role in self.roles.items():
            if role not in _CONDUCTORS:
                continue
            cores = []
            for one, two in self.cores(reference).values():
                ends = []
                for pin, other in ((one, two), (two, one)):
                    there, far = self.part_pins(pin)[:1], self.part_pins(other)[:1]
                    ends.append(self.landing(there[0], far) if there else ("", self.name_of(pin)))
                    if not there:
                        self.names[ends[-1]] = self.name_of(pin)
                cores.append((one, ends[0], two, ends[1]))
            runs[reference] = cores
        return runs

    def landing(self, pin: PinRef, far: list[PinRef]) -> End:
        """Which pin of a part a conductor lands on, and what its other end is near."""
        end = (pin.reference, pin.number)
        if self.roles[pin.reference] is Role.SPLICE:
            end = (pin.reference, str(len(self.splice_pins[pin.reference]) + 1))
            self.splice_pins[pin.reference].append(end[1])
        if far:
            self.neighbours[end].append(self.rank[far[0].reference])
        self.names[end] = self.name_of(pin)
        return end

    def ties(self) -> list[set[End]]:
        """Ends that are joined without a conductor: labels join them."""
        found = []
        for net in self.drawing.nets:
            there = [pin for pin in net.pins if self.roles[pin.reference] not in _CONDUCTORS]
            if len(there) < 2:
                continue
            ends = set()
            for pin in there:
                number = pin.number
                if self.roles[pin.reference] is Role.SPLICE:
                    number = next(iter(self.splice_pins[pin.reference]), "1")
                end = (pin.reference, self.pin_maps[pin.reference].get(number, number))
                self.names[end] = self.name_of(pin)
                ends.add(end)
            found.append(ends)
        return found

    # Symbols

    def shape_block(self, block: Block) -> None:
        if len(block.parts) == 2:
            block.parts.sort(key=lambda part: self.mean_rank(part.reference))
        for k, part in enumerate(block.parts):
            side = (-1 if k == 0 else 1) if len(block.parts) == 2 else 0
            part.shape, part.mirrored = self.shape_of(part.reference, side)
            self.shapes[part.reference] = part.shape

    def mean_rank(self, reference: str) -> float:
        ranks_ = [r for (ref, _), found in self.neighbours.items() if ref == reference for r in found]
        return sum(ranks_) / len(ranks_) if ranks_ else self.rank[reference]

    def shape_of(self, reference: str, side: int) -> tuple[Shape, bool]:
        symbol, role = self.symbols[reference], self.roles[reference]
        shape = library_shapes().get(_SHAPE_OF.get(role, "")) if role else None
        if role is Role.OUTPUT and any(n.casefold() == "trip" and t == "none" for n, t in symbol.fields.items()):
            shape = library_shapes()["Battery"]
        mapped = _mapped(symbol, shape) if shape is not None else None
        if shape is not None and mapped is not None:
            self.pin_maps[reference] = mapped
            return shape, self.is_turned(reference, mapped, shape)
        self.pin_maps[reference] = {}
        return self.box_of(symbol, role, side), False

    def is_turned(self, reference: str, mapped: dict[str, str], shape: Shape) -> bool:
        """Whether most of what it is joined to lies on the other side of what the symbol's pins face."""
        votes = 0
        for number, pin in mapped.items():
            for there in self.neighbours.get((reference, number), ()):
                facing = -1 if shape.pins[pin][0] < 0 else 1
                votes += facing * ((there > self.rank[reference]) - (there < self.rank[reference]))
        return votes < 0

    def box_of(self, symbol: Symbol, role: Role | None, side: int) -> Shape:
        reference = symbol.reference
        numbers = self.splice_pins[reference] if role is Role.SPLICE else [pin.number for pin in symbol.pins]
        numbers = list(dict.fromkeys(numbers)) or ["1"]
        left: list[str] = []
        right: list[str] = []
        for number in sorted(numbers, key=natural_key):
            there = self.neighbours.get((reference, number), [])
            towards = sum((r > self.rank[reference]) - (r < self.rank[reference]) for r in there)
            if role is Role.THROUGH:
                towards = -1 if number.endswith(("A", "a")) else 1
            elif side:
                towards = side
            elif role is Role.CONNECTOR:
                towards = 1 if self.mean_rank(reference) > self.rank[reference] else -1
            (right if towards > 0 else left).append(number)
        names = {pin.number: pin.name for pin in symbol.pins}
        known = role if role is not None else None
        return box(
            f"{role or 'part'}_{reference}".replace(":", "_").replace("/", "_"),
            letters_of(reference) or "X",
            known,
            left,
            right,
            names,
        )

    def shape_run(self, reference: str, cores: list[tuple[PinRef, End, PinRef, End]]) -> Run:
        library = library_shapes()
        if self.roles[reference] is Role.WIRE:
            shape = library["Wire"]
        else:
            numbers = [pin.number for core in cores for pin in (core[0], core[2])]
            shape = library.get(f"Cable_{len(cores)}", library["Wire"])
            if "SA" in numbers:
                shape = library.get(f"Cable_{len(cores) - 1}_Shield", shape)
            if set(shape.pins) != set(numbers):
                left, right = ([core[k].number for core in cores] for k in (0, 2))  # type: ignore[union-attr]
                shape = box(f"cable_{reference}", "C", Role.CABLE, left, right, {})
        self.shapes[reference] = shape
        return Run(
            reference, shape, [(a.number, self.end(one), b.number, self.end(two)) for a, one, b, two in cores]
        )

    def end(self, end: End) -> End:
        mapped = (end[0], self.pin_maps.get(end[0], {}).get(end[1], end[1]))
        self.names[mapped] = self.names[end]
        return mapped


def _role(symbol: Symbol) -> Role | None:
    return next((role_of_word(t) for n, t in symbol.fields.items() if n.casefold() == "role"), None)


def _mapped(symbol: Symbol, shape: Shape) -> dict[str, str] | None:
    """The shape's pin for each of the symbol's; None where they don't fit."""
    found: dict[str, str] = {}
    if symbol.ends:
        for end, texts in symbol.ends.items():
            pin = next((n for n, name in shape.names.items() if name == end), end if end in shape.pins else None)
            if pin is None or len(texts) != 1:
                return None
            found[texts[0]] = pin
        return found
    for pin_ in symbol.pins:
        names = [n for n, name in shape.names.items() if name and name in (pin_.name, pin_.number)]
        if names:
            found[pin_.number] = names[0]
        elif pin_.number in shape.pins and not (pin_.name and shape.names.get(pin_.number)):
            found[pin_.number] = pin_.number
        else:
            return None
    return found if len(set(found.values())) == len(found) else None


def _key(pin: PinRef) -> tuple[object, object]:
    return natural_key(pin.reference), natural_key(pin.number)
