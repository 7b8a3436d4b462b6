"""Inputs that somebody might hand in, or that a broken disk might: random, the same for the same kind and seed.

Each kind starts from something that loadloom reads (a project of ``fixtures``, a drawing of ``test_fields_matter``)
and spoils it; what starts from nothing is refused in its first line and tells little.
"""

from __future__ import annotations

import random
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from test_fields_matter import DRAWN, every_field
from test_variants import Sketch

from loadloom.plugin.roles import FIELDS, Role

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
LONGEST = 60_000
"""Files of the fixtures that are longer are left out: a spoilt one tells no more."""


@dataclass(frozen=True)
class Input:
    """Files of a folder, and the one that is handed in."""

    files: Mapping[str, bytes]
    handed_in: str


HOSTILE = (
    "",
    " ",
    "=1+1",
    "\x00",
    "\u202e",
    "\ud83d\ude00",
    "<b>",
    "'",
    '"',
    "\\",
    "a" * 3000,
    "../..",
    "%s",
    "{0}",
)
NUMBERS = ("0", "-1", "1", "2", "5", "1e308", "1e-308", "1e999", "nan", "inf", "0.1", "1,5", "1.2.3", "٣", "1_000")
UNITS = (
    "",
    "A",
    "V",
    "mΩ",
    "Ω",
    "W",
    "mm²",
    "AWG",
    "m",
    "mm",
    "s",
    "ms",
    "%",
    "°C",
    "Ah",
    "A²s",
    "µF",
    "×",
    "K",
    "F",
)
BETWEEN = ("…", " to ", "-", " ±", "±", ";", ": ", "@", " × ", "/", ",", " ", "\n", "~", "<", ">=")


def value_text(rng: random.Random) -> str:
    """A text for a field or a setting: a quantity, a range, a list, or what is none of them."""
    if rng.random() < 0.1:
        return rng.choice(HOSTILE)
    if rng.random() < 0.3:
        return _sample_text(rng)
    parts = []
    for _ in range(rng.choice((1, 1, 1, 2, 2, 3, 6))):
        number = rng.choice(NUMBERS) if rng.random() < 0.5 else f"{10 ** rng.uniform(-4, 4):.{rng.randint(0, 4)}f}"
        parts += [number, rng.choice(("", " ")), rng.choice(UNITS), rng.choice(BETWEEN)]
    return "".join(parts[:-1] if rng.random() < 0.9 else parts)


def of_bytes(rng: random.Random) -> Input:
    """Bits turned, pieces cut out, doubled or put elsewhere, in a file of a project."""
    files, handed_in = _project(rng)
    name = rng.choice(sorted(files))
    content = bytearray(files[name])
    for _ in range(rng.choice((1, 1, 3, 20))):
        at = rng.randrange(len(content) + 1)
        length = rng.choice((1, 2, 8, 64, 500))
        match rng.randrange(5):
            case 0 if at < len(content):
                content[at] ^= 1 << rng.randrange(8)
            case 1:
                del content[at : at + length]
            case 2:
                content[at:at] = content[at : at + length]
            case 3:
                content[at:at] = rng.randbytes(length)
            case _:
                content[at:] = content[at:] if rng.random() < 0.8 else b""
    return Input({**files, name: bytes(content)}, handed_in)


TOKEN = re.compile(r'"(?:[^"\\]|\\.)*"|[()]|[^\s()"]+')


def of_trees(rng: random.Random) -> Input:
    """Branches of a schematic's tree cut off, doubled or grafted elsewhere; its texts replaced."""
    files, handed_in = _project(rng)
    name = rng.choice([name for name in sorted(files) if name.endswith(".kicad_sch")])
    tokens = TOKEN.findall(files[name].decode("utf-8"))
    for _ in range(rng.choice((1, 1, 2, 5))):
        start, end = _branch(tokens, rng)
        match rng.randrange(5):
            case 0:
                del tokens[start:end]
            case 1:
                tokens[start:start] = tokens[start:end]
            case 2:
                branch = tokens[start:end]
                del tokens[start:end]
                at = rng.randrange(len(tokens) + 1)
                tokens[at:at] = branch
            case 3:
                at = rng.randrange(len(tokens))
                if tokens[at] not in "()":
                    tokens[at] = _quoted(value_text(rng)) if tokens[at][0] == '"' else rng.choice(NUMBERS)
            case _:
                at = rng.randrange(len(tokens))
                tokens[at] = rng.choice(tokens)
    return Input({**files, name: " ".join(tokens).encode("utf-8", "surrogatepass")}, handed_in)


def of_settings(rng: random.Random) -> Input:
    """Values, keys and tables of a settings file changed for others."""
    files, handed_in = _project(rng, "loadloom.toml")
    lines = files["loadloom.toml"].decode("utf-8").splitlines()
    others = _all_settings()
    for _ in range(rng.choice((1, 1, 2, 4))):
        at = rng.randrange(len(lines))
        key, equals, value = lines[at].partition("=")
        match rng.randrange(6):
            case 0 if equals:
                text = value_text(rng).replace("\\", "").replace('"', "").replace("\n", " ")
                lines[at] = f'{key}= "{text}"' if rng.random() < 0.7 else f"{key}= {text}"
            case 1 if equals:
                lines[at] = f"{key[:-2]}{key[-1:]}= {value}"
            case 2 if equals:
                lines[at] = f"{key}= {rng.choice(('true', '[]', '{}', '[1, 2]', '1979-05-27', '0', '-3', '1e400'))}"
            case 3:
                del lines[at]
                lines = lines or [""]
            case 4:
                lines.insert(rng.randrange(len(lines) + 1), rng.choice(others))
            case _:
                lines.insert(at, lines[at])
    return Input({**files, "loadloom.toml": "\n".join(lines).encode("utf-8", "surrogatepass")}, handed_in)


def of_values(rng: random.Random) -> Input:
    """Texts of fields of a drawing that passes."""
    draw = rng.choice(DRAWN)()
    for _ in range(rng.choice((1, 1, 2, 4))):
        at = rng.randrange(len(draw.symbols))
        symbol = draw.symbols[at]
        name = rng.choice([*symbol.fields, *FIELDS[Role(symbol.fields["Role"])].names])
        if name != "Role":
            draw.symbols[at] = replace(symbol, fields={**symbol.fields, name: value_text(rng)})
    return netlist(draw)


def of_graphs(rng: random.Random) -> Input:
    """Parts of drawings that pass, joined, doubled, left out, of other roles, with fields that belong elsewhere."""
    draw = Sketch()
    for number, drawn in enumerate(rng.sample(DRAWN, rng.choice((1, 1, 1, 2)))):
        made = drawn()
        for symbol in made.symbols:
            mates = {"Mates": f"{symbol.fields['Mates']}{number}"} if "Mates" in symbol.fields else {}
            fields = {**symbol.fields, **mates}
            draw.symbols.append(replace(symbol, reference=f"{symbol.reference}{number}", fields=fields))
        for name, pins in made.pins.items():
            moved = [f"{reference}{number}.{pin}" for reference, pin in (p.rsplit(".", 1) for p in pins)]
            draw.pins.setdefault(name if rng.random() < 0.2 else f"{name}{number}", []).extend(moved)
    for _ in range(rng.choice((0, 1, 2, 3, 6))):
        _turned(draw, rng)
    return netlist(draw)


def _turned(draw: Sketch, rng: random.Random) -> None:
    at = rng.randrange(len(draw.symbols))
    symbol = draw.symbols[at]
    names = sorted(draw.pins)
    one, two = rng.choice(names), rng.choice(names)
    match rng.randrange(8):
        case 0:  # two nets become one
            if one != two:
                draw.pins[one] += draw.pins.pop(two)
        case 1:  # a pin goes elsewhere
            draw.pins[two].append(draw.pins[one].pop(rng.randrange(len(draw.pins[one]))))
            if not draw.pins[one]:
                del draw.pins[one]
        case 2:  # a part is doubled, side by side
            twin = f"{symbol.reference}9{len(draw.symbols)}"
            draw.symbols.append(replace(symbol, reference=twin))
            for pins in draw.pins.values():
                pins += [f"{twin}.{pin.rsplit('.', 1)[1]}" for pin in pins if pin.split(".")[0] == symbol.reference]
        case 3:  # a part is left out, its pins stay on no net
            if len(draw.symbols) > 1:
                del draw.symbols[at]
        case 4:
            role = rng.choice(list(Role))
            draw.symbols[at] = replace(symbol, fields={**symbol.fields, "Role": str(role)})
        case 5:
            other = rng.choice(draw.symbols).fields
            draw.symbols[at] = replace(symbol, fields={**symbol.fields, **other, "Role": symbol.fields["Role"]})
        case 6:
            kept = {n: text for n, text in symbol.fields.items() if n == "Role" or rng.random() < 0.7}
            draw.symbols[at] = replace(symbol, fields=kept)
        case _:
            size = 10.0 ** rng.uniform(-3, 3)
            fields = {n: _scaled(text, size) if rng.random() < 0.4 else text for n, text in symbol.fields.items()}
            draw.symbols[at] = replace(symbol, fields=fields)


def of_lists(rng: random.Random) -> Input:
    """A wire list with rows and cells of its own."""
    cart = FIXTURES / "observatory" / "cart_sound"
    files = {
        name: (cart / name).read_bytes() for name in ("cart_wires.csv", "cart_wires.parts.csv", "loadloom.toml")
    }
    name = rng.choice(("cart_wires.csv", "cart_wires.parts.csv"))
    rows = [line.split(",") for line in files[name].decode("utf-8-sig").splitlines()]
    for _ in range(rng.choice((1, 2, 5))):
        row = rows[rng.randrange(len(rows))]
        match rng.randrange(4):
            case 0:
                row[rng.randrange(len(row))] = value_text(rng)
            case 1:
                rows.remove(row)
                rows = rows or [[""]]
            case 2:
                rows.insert(rng.randrange(len(rows)), list(row))
            case _:
                row[rng.randrange(len(row))] = rng.choice(rng.choice(rows))
    text = "\n".join(",".join(row) for row in rows)
    return Input({**files, name: text.encode("utf-8", "surrogatepass")}, "cart_wires.csv")


KINDS: dict[str, Callable[[random.Random], Input]] = {
    "bytes": of_bytes,
    "trees": of_trees,
    "settings": of_settings,
    "values": of_values,
    "graphs": of_graphs,
    "lists": of_lists,
}

SETTINGS_OF_NETLISTS = """basis = "general-equipment"
[ambient.box]
min = "10 °C"
max = "30 °C"
[contact.pin]
rated = "8: 13 A"
resistance = "2…4 mΩ"
wire_range = "0.5…6 mm²"
[curve.slow]
source = "invented"
points = [
  { multiple = 1.1, min = "4 h" },
  { multiple = 1.35, max = "1 h" },
  { multiple = 2.0, min = "1 s", max = "20 s" },
  { multiple = 10.0, min = "1 ms", max = "100 ms" },
]
"""


def made(kind: str, seed: int) -> Input:
    """The input of a kind for a seed."""
    return KINDS[kind](random.Random(f"{kind} {seed}"))


def made_text(seed: int) -> str:
    """The text of a value for a seed."""
    return value_text(random.Random(f"text {seed}"))


def netlist(draw: Sketch) -> Input:
    """A sketch as KiCad's netlist in XML."""
    top = ET.Element("export", version="E")
    design = ET.SubElement(top, "design")
    ET.SubElement(design, "source").text = "fuzz.kicad_sch"
    ET.SubElement(design, "tool").text = "Eeschema 9.0.8"
    components, nets = ET.SubElement(top, "components"), ET.SubElement(top, "nets")
    for symbol in draw.symbols:
        part = ET.SubElement(components, "comp", ref=symbol.reference)
        ET.SubElement(part, "value").text = _writable(symbol.value)
        listed = ET.SubElement(part, "fields")
        for name, text in symbol.fields.items():
            ET.SubElement(listed, "field", name=_writable(name)).text = _writable(text)
    known = {(symbol.reference, pin.number): pin for symbol in draw.symbols for pin in symbol.pins}
    for code, (name, pins) in enumerate(sorted(draw.pins.items())):
        net = ET.SubElement(nets, "net", code=str(code + 1), name=f"/{name}")
        for pin in pins:
            reference, number = pin.rsplit(".", 1)
            drawn = known.get((reference, number))
            node = ET.SubElement(net, "node", ref=reference, pin=number)
            if drawn is not None and drawn.name:
                node.set("pinfunction", drawn.name)
    return Input({"fuzz.xml": ET.tostring(top), "loadloom.toml": SETTINGS_OF_NETLISTS.encode()}, "fuzz.xml")


def _writable(text: str) -> str:
    """Without what XML has no way to write."""
    return re.sub("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]", "?", text)


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'


def _scaled(text: str, size: float) -> str:
    return re.sub(r"[0-9]+(\.[0-9]+)?", lambda m: f"{float(m[0]) * size:.4g}", text, count=1)


def _branch(tokens: list[str], rng: random.Random) -> tuple[int, int]:
    """Where a branch begins and ends."""
    starts = [k for k, token in enumerate(tokens) if token == "("]
    if not starts:
        return 0, len(tokens)
    start = rng.choice(starts)
    depth = 0
    for end in range(start, len(tokens)):
        depth += (tokens[end] == "(") - (tokens[end] == ")")
        if depth == 0:
            return start, end + 1
    return start, len(tokens)


def _project(rng: random.Random, needed: str = "") -> tuple[dict[str, bytes], str]:
    """The files of a project of the fixtures, and its drawing."""
    folders = [folder for folder in _folders() if not needed or (folder / needed).is_file()]
    folder = rng.choice(folders)
    read = (".kicad_sch", ".kicad_pro", ".toml", ".csv")
    files = {
        path.name: path.read_bytes()
        for path in sorted(folder.iterdir())
        if path.suffix in read and path.name != "expected.toml" and path.stat().st_size
    }
    root = next(folder.glob("*.kicad_pro")).with_suffix(".kicad_sch").name
    return files, root


@cache
def _folders() -> tuple[Path, ...]:
    found = sorted(path.with_suffix(".kicad_sch") for path in FIXTURES.glob("case_*/*.kicad_pro"))
    return tuple(path.parent for path in found if path.is_file() and path.stat().st_size < LONGEST)


@cache
def _all_settings() -> tuple[str, ...]:
    texts = (path.read_text(encoding="utf-8") for path in sorted(FIXTURES.glob("*/loadloom.toml")))
    return tuple(line for text in texts for line in text.splitlines() if line.strip())


@cache
def _texts() -> tuple[str, ...]:
    return tuple(field.text for field in every_field())


def _sample_text(rng: random.Random) -> str:
    return rng.choice(_texts())
