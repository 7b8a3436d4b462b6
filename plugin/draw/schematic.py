"""``loadloom draw``: a wire list as a KiCad project, with the library of its symbols beside it."""

from __future__ import annotations

import json
import tempfile
import uuid
from dataclasses import dataclass, replace
from pathlib import Path

from loadloom.graph.model.naming import natural_key, some_of
from loadloom.plugin.draw.composing import Composed, compose
from loadloom.plugin.draw.layout import Part, Sheet
from loadloom.plugin.draw.shapes import LIBRARY, Property, Shape, quote, renamed
from loadloom.plugin.drawing import WIRE_LIST, Drawing, Symbol
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.kicad.fields_presets import with_presets
from loadloom.plugin.pipeline import SETTINGS_NAME, settings_beside
from loadloom.plugin.reading import read_drawing
from loadloom.plugin.roles import FIELDS, Role, role_of_word

VERSION = 20250114
_SPACE = uuid.uuid5(uuid.NAMESPACE_DNS, "loadloom.draw")
_PAPERS = (("A4", 297, 210), ("A3", 420, 297), ("A2", 594, 420), ("A1", 841, 594), ("A0", 1189, 841))
_TITLE_BLOCK_MM = 40.0


@dataclass(frozen=True, slots=True)
class Made:
    """The files that were written, how many symbols are drawn, and sentences on what is not."""

    files: tuple[Path, ...]
    symbols: int
    left_out: tuple[str, ...]


def draw_project(source: Path, target: Path, settings_file: Path | None = None) -> Made:
    """Lay a wire list, or any drawing by way of its wire list, out as a project whose schematic is ``target``.

    Raises UnusableError where the source can't be read or drawn, or where a file of the project is there already.
    """
    from loadloom.plugin.writing import make_folders, write_files

    if target.suffix.lower() != ".kicad_sch":
        raise UnusableError("is no name for a schematic", target, hint="name a .kicad_sch")
    drawing = read_drawing(source)
    if drawing.route != WIRE_LIST:
        drawing = _through_a_list(source, drawing, settings_file)
    files = project_files(drawing, target)
    for file in files:
        if file.exists():
            raise UnusableError(
                "is there already, and nothing is written over it", file, hint="name another folder"
            )
    make_folders(files)
    write_files(files, (source,))
    left_out = tuple(f"{left.symbol.reference} {left.cause}." for left in drawing.left_out)
    return Made(tuple(files), len(drawing.symbols), left_out)


def _through_a_list(source: Path, drawing: Drawing, settings_file: Path | None) -> Drawing:
    from loadloom.plugin.settings_file import read_settings
    from loadloom.plugin.wire_list.reading import read_wire_list
    from loadloom.plugin.wire_list.writing import files_of, wire_list

    settings, drawing_settings = read_settings(settings_file or settings_beside(source))
    with tempfile.TemporaryDirectory(prefix="loadloom-") as folder:
        path = Path(folder) / f"{source.stem}.xlsx"
        for file, content in files_of(wire_list(drawing, settings, drawing_settings), path).items():
            file.write_bytes(content)
        found = read_wire_list(path)
    return replace(found, provenance=drawing.provenance)


def project_files(drawing: Drawing, target: Path) -> dict[Path, bytes]:
    """The files of the project: schematic, project, symbol library and its table, and settings where needed.

    Raises UnusableError where the list joins parts by what can't be drawn as a line.
    """
    for net in drawing.nets:
        if net.power_symbol:
            raise UnusableError(
                f"joins {net.name!r} by a power symbol, which is no line to be drawn",
                Path(drawing.provenance.file),
                hint="say joint if its pins are one joint, or list the wires",
            )
    composed = compose(drawing)
    stem = target.stem
    shapes = {shape.name: shape for shape in composed.shapes.values()}
    table = f'(lib (name "{LIBRARY}")(type "KiCad")(uri "${{KIPRJMOD}}/{stem}.kicad_sym")(options "")(descr ""))'
    files = {
        **_schematics(drawing, composed, shapes, target),
        target.with_suffix(".kicad_pro"): with_presets(
            json.dumps({"meta": {"filename": f"{stem}.kicad_pro", "version": 3}}, indent=2)
        ),
        target.with_suffix(".kicad_sym"): "\n".join(
            ['(kicad_symbol_lib (version 20241209) (generator "loadloom") (generator_version "9.0")']
            + [shapes[name].text for name in sorted(shapes)]
            + [")", ""]
        ),
        target.with_name("sym-lib-table"): f"(sym_lib_table\n  (version 7)\n  {table}\n)\n",
    }
    if composed.joints:
        rules = "".join(f"[net.{quote(name)}]\njoint = true\n\n" for name in sorted(set(composed.joints)))
        files[target.with_name(SETTINGS_NAME)] = f"# Pins that the wire list calls one joint.\n{rules}"
    return {path: text.encode("utf-8") for path, text in files.items()}


def _schematics(drawing: Drawing, composed: Composed, shapes: dict[str, Shape], target: Path) -> dict[Path, str]:
    """The schematic, or the first sheet of several and the others beside it."""
    stem, sheets = target.stem, composed.sheets
    title = drawing.provenance.title or stem
    root = _uuid(stem, "root")
    head = _Head(stem, root, title)
    pages = '(sheet_instances (path "/" (page "1")))'
    if len(sheets) == 1:
        items = _items(drawing, composed, sheets[0], shapes, head, f"/{root}", "label")
        return {target: _whole(head, root, sheets[0].width, sheets[0].height, [*items, pages])}
    files: dict[Path, str] = {}
    boxes = []
    for number, sheet in enumerate(sheets, start=1):
        name = target.with_name(f"{stem}-{number}.kicad_sch")
        own = _uuid(stem, "sheet", number)
        here = replace(head, title=f"{title}: {number} of {len(sheets)}")
        items = _items(drawing, composed, sheet, shapes, here, f"/{root}/{own}", "global_label")
        files[name] = _whole(here, _uuid(stem, "file", number), sheet.width, sheet.height, items)
        x, y = 25.4 + sheet.tile[0] * 76.2, 38.1 + sheet.tile[1] * 50.8
        boxes.append(
            f"(sheet (at {x:g} {y:g}) (size 63.5 30.48) (exclude_from_sim no) (in_bom yes) (on_board yes) (dnp no) "
            f"(stroke (width 0.1524) (type solid)) (fill (color 0 0 0 0.0)) (uuid {quote(own)}) "
            f'(property "Sheetname" {quote(_sheet_name(number, sheet, drawing))} (at {x:g} {y - 0.7:g} 0) '
            "(effects (font (size 1.27 1.27)) (justify left bottom))) "
            f'(property "Sheetfile" {quote(name.name)} (at {x:g} {y + 31.1:g} 0) '
            "(effects (font (size 1.27 1.27)) (justify left top))) "
            f'(instances (project {quote(stem)} (path "/{root}" (page "{number + 1}")))))'
        )
    size = (max(s.tile[k] for s in sheets) for k in (0, 1))
    width, height = (20.0 + step * (count + 1) for step, count in zip((76.2, 50.8), size, strict=True))
    return {target: _whole(head, root, width, height, [*boxes, pages]), **files}


def _sheet_name(number: int, sheet: Sheet, drawing: Drawing) -> str:
    """What a sheet is called: its number, and what feeds it or the first of what stands on it."""
    roles = {
        symbol.reference: next((t for n, t in symbol.fields.items() if n.casefold() == "role"), "")
        for symbol in drawing.symbols
    }
    drawn = sorted((part.reference for part in sheet.parts), key=natural_key)
    order = ("output", "battery", "load", "connector")
    first = sorted(drawn, key=lambda ref: order.index(roles[ref]) if roles.get(ref) in order else len(order))
    return f"{number} {some_of(first, 2)}".replace("/", "_")


@dataclass(frozen=True, slots=True)
class _Head:
    """What all sheets of a project share."""

    stem: str
    root: str
    title: str


def _whole(head: _Head, own: str, width: float, height: float, items: list[str]) -> str:
    """A schematic file, on the smallest paper that holds it."""
    width, height = width + 20.0, height + _TITLE_BLOCK_MM
    paper = next((f'"{name}"' for name, w, h in _PAPERS if width <= w and height <= h), None)
    paper = paper or f'"User" {max(width, 200):.2f} {max(height, 200):.2f}'
    begin = [
        f'(kicad_sch (version {VERSION}) (generator "eeschema") (generator_version "9.0")',
        f"(uuid {quote(own)}) (paper {paper})",
        f"(title_block (title {quote(head.title)}))",
    ]
    return "\n".join([*begin, *items, "(embedded_fonts no))", ""])


def _items(
    drawing: Drawing,
    composed: Composed,
    sheet: Sheet,
    shapes: dict[str, Shape],
    head: _Head,
    path: str,
    label: str,
) -> list[str]:
    """The symbols, lines and labels of one sheet; ``label`` is the kind of label, ``path`` that of the sheet."""
    stem = head.stem
    symbols = {symbol.reference: symbol for symbol in drawing.symbols}
    used = sorted({composed.shapes[part.reference].name for part in sheet.parts})
    items = ["(lib_symbols", *(renamed(shapes[name], LIBRARY) for name in used), ")"]
    for x, y in sorted(sheet.junctions):
        items.append(
            f"(junction (at {x:g} {y:g}) (diameter 0) (color 0 0 0 0) (uuid {quote(_uuid(path, 'j', x, y))}))"
        )
    for x, y in sheet.free:
        items.append(f"(no_connect (at {x:g} {y:g}) (uuid {quote(_uuid(path, 'n', x, y))}))")
    for k, (x0, y0, x1, y1) in enumerate(sheet.lines):
        items.append(
            f"(wire (pts (xy {x0:g} {y0:g}) (xy {x1:g} {y1:g})) (stroke (width 0) (type default)) "
            f"(uuid {quote(_uuid(path, 'w', k))}))"
        )
    for k, (text, x, y, angle) in enumerate(sheet.labels):
        side = "left" if angle == 0 else "right"
        shape, up = ("", " bottom") if label == "label" else ("(shape passive) ", "")
        items.append(
            f"({label} {quote(text)} {shape}(at {x:g} {y:g} {angle}) "
            f"(effects (font (size 1.016 1.016)) (justify {side}{up})) "
            f"(uuid {quote(_uuid(path, 'l', k))}))"
        )
    return [*items, *(_placed(part, symbols[part.reference], stem, path) for part in sheet.parts)]


def _placed(part: Part, symbol: Symbol, stem: str, path: str) -> str:
    shape = part.shape
    texts = _texts(symbol)
    known = {found.name: found for found in shape.properties}
    properties = [
        _property(part, found, texts.pop(found.name, None)) for found in known.values() if not _is_ki(found)
    ]
    hidden = "(effects (font (size 1.27 1.27)) (hide yes))"
    properties += [_property(part, Property(name, "", 0.0, 0.0, hidden), text) for name, text in texts.items()]
    mirror = " (mirror y)" if part.mirrored else ""
    pins = " ".join(f"(pin {quote(n)} (uuid {quote(_uuid(stem, part.reference, n))}))" for n in shape.pins)
    return (
        f"(symbol (lib_id {quote(f'{LIBRARY}:{shape.name}')}) (at {part.x:g} {part.y:g} 0){mirror} (unit 1) "
        "(exclude_from_sim no) (in_bom yes) (on_board yes) "
        f"(dnp {'yes' if symbol.dnp else 'no'}) (uuid {quote(_uuid(stem, part.reference))}) "
        f"{' '.join(properties)} {pins} "
        f"(instances (project {quote(stem)} (path {quote(path)} "
        f"(reference {quote(part.reference)}) (unit 1)))))"
    )


def _is_ki(found: Property) -> bool:
    return found.name.startswith("ki_")


def _texts(symbol: Symbol) -> dict[str, str]:
    """What is written at a placed symbol: the main field as its value where it has no value of its own."""
    fields = {name: text for name, text in symbol.fields.items() if name.casefold() != "role"}
    role = next((role_of_word(t) for n, t in symbol.fields.items() if n.casefold() == "role"), None)
    if role is Role.CABLE:
        fields = _of_all_cores(symbol, fields)
    main = FIELDS[role].main if role is not None else None
    value = symbol.value
    if not value and main is not None:
        written = next((name for name in fields if name.casefold() == main.casefold()), None)
        if written is not None and any(c.isdigit() for c in fields[written]):  # A value without is read as a label.
            value = fields.pop(written)
    return {"Reference": symbol.reference, "Value": value, **fields}


def _of_all_cores(symbol: Symbol, fields: dict[str, str]) -> dict[str, str]:
    """The fields of a cable, what most of its cores have written once for all: ``Gauge`` instead of ``Gauge.1``."""
    cores = list(dict.fromkeys(pin.number[:-1] for pin in symbol.pins))
    found = dict(fields)
    for plain in dict.fromkeys(name.partition(".")[0] for name in fields):
        own = {core: fields.get(f"{plain}.{core}") for core in cores}
        texts = [text for text in own.values() if text is not None]
        if plain in fields or len(texts) < len(cores) or not texts:
            continue
        usual = max(texts, key=texts.count)
        found = {
            name: text
            for name, text in found.items()
            if own.get(name.partition(".")[2]) != usual or not name.startswith(f"{plain}.")
        }
        found[plain] = usual
    return found


def _property(part: Part, found: Property, text: str | None) -> str:
    x = part.x + (-found.x if part.mirrored else found.x)
    shown = found.text if text is None and found.name not in ("Reference", "Value") else text or ""
    return f"(property {quote(found.name)} {quote(shown)} (at {x:.6g} {part.y - found.y:.6g} 0) {found.effects})"


def _uuid(*words: object) -> str:
    return str(uuid.uuid5(_SPACE, "/".join(map(str, words))))
