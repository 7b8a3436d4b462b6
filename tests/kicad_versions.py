"""Writes what KiCad 9 wrote as KiCad 10 and KiCad 6 write it: netlists of both kinds, and schematics.

Sources: KiCad's netlist_exporter_xml.cpp (``makeListOfNets``, ``makeLibParts``) and sch_file_versions.h,
and netlists of 9.0.8 and 10.0.7 of the same two drawings.
"""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from pathlib import Path

from loadloom.plugin.reading.pins import pin_numbers

TEN = "Eeschema 10.0.7+dfsg-1"


def netlist_of_ten(text: str, tool: str = TEN, library: bool = True) -> str:
    """An XML netlist of KiCad 9 as KiCad 10 writes it."""
    root = ET.fromstring(text)
    design = root.find("design")
    assert design is not None
    written_by = design.find("tool")
    assert written_by is not None and "9.0" in (written_by.text or "")
    written_by.text = tool
    for component in root.iter("comp"):
        for item in component.findall("property"):
            if item.get("name") == "Sheetname" and not item.get("value"):
                item.set("value", "harness")
        unit = ET.SubElement(ET.SubElement(component, "units"), "unit", name="A")
        ET.SubElement(unit, "pins")
    for pins in root.iter("pins"):
        for pin in list(pins):
            numbers = pin_numbers(pin.get("num", ""))
            if len(numbers) > 1:
                at = list(pins).index(pin)
                pins.remove(pin)
                for k, number in enumerate(numbers):
                    pins.insert(at + k, ET.Element("pin", {**pin.attrib, "num": number}))
    for net in root.iter("net"):
        nodes = list(net)
        for node in nodes:
            net.remove(node)
        for node in nodes:
            numbers = pin_numbers(node.get("pin", ""))
            name = node.attrib.pop("pinfunction", "")
            for number in numbers:
                full = f"{name}_{number}" if name else number
                more = {"pinfunction": full} if name or len(numbers) > 1 else {}
                ET.SubElement(net, "node", {**node.attrib, "pin": number, **more})
    if not library:
        parts = root.find("libparts")
        assert parts is not None
        root.remove(parts)
    return ET.tostring(root, encoding="unicode")


def as_sexpr(text: str) -> str:
    """An XML netlist as the s-expression one of the same KiCad: attributes and children alike are lists."""

    def written(element: ET.Element) -> str:
        inner = [f'({key} "{_escaped(value)}")' for key, value in element.attrib.items()]
        inner += [written(child) for child in element]
        if element.text and element.text.strip():
            inner.append(f'"{_escaped(element.text)}"')
        return f"({' '.join([element.tag, *inner])})"

    return written(ET.fromstring(text))


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")


def blocks(text: str, head: str) -> Iterator[tuple[int, int]]:
    """Where each bracketed ``(head ...)`` of an s-expression text begins and ends."""
    tokens = re.compile(r'"(?:[^"\\]|\\.)*"|[()]', re.DOTALL)
    for match in re.finditer(rf"\({head}(?=[\s)])", text):
        depth = 0
        for token in tokens.finditer(text, match.start()):
            depth += {"(": 1, ")": -1}.get(token[0], 0)
            if depth == 0:
                yield match.start(), token.end()
                break


def without(text: str, head: str) -> str:
    for start, end in reversed(list(blocks(text, head))):
        text = text[:start] + text[end:]
    return text


def schematic_of_ten(text: str) -> str:
    """One sheet as KiCad 10 writes it, its bus aliases left out: they are in the project then."""
    text = re.sub(r"\(version \d+\)", "(version 20260306)", text, count=1)
    text = text.replace('(generator_version "9.0")', '(generator_version "10.0")')
    text = re.sub(r"\(convert (\d)\)", r"(body_style \1)", text)
    text = re.sub(r"\(power\)", "(power global)", text)
    text = text.replace("(in_bom yes)", "(in_bom yes) (in_pos_files yes)")
    text = re.sub(r'(\(symbol "[^"]*:[^"]*")', r"\1 (duplicate_pin_numbers_are_jumpers no)", text)
    return without(text, "bus_alias")


def project_of_ten(text: str, name: str, aliases: dict[str, list[str]] | None = None) -> str:
    """A project file as KiCad 10 writes it."""
    content = json.loads(text)
    schematic = content.setdefault("schematic", {})
    schematic["bus_aliases"] = aliases or {}
    schematic["top_level_sheets"] = [{"filename": f"{name}.kicad_sch", "name": name, "uuid": "0" * 8}]
    return json.dumps(content)


def project_of_six(sheets: dict[str, str], root: str) -> dict[str, str]:
    """All sheets of a project, by file name, as KiCad 6 wrote them."""
    listed = []
    for text in sheets.values():
        for start, end in blocks(text, "symbol"):
            symbol = text[start:end]
            uuid = re.search(r'\(uuid "([^"]+)"\)', symbol)
            value = re.search(r'\(property "Value" ("(?:[^"\\]|\\.)*")', symbol)
            for path, reference, unit in re.findall(
                r'\(path "([^"]*)"\s*\(reference "([^"]*)"\)\s*\(unit (\d+)\)', symbol
            ):
                assert uuid is not None and value is not None
                below = "/".join(path.split("/")[2:])
                step = f"/{below}/" if below else "/"
                listed.append(
                    f'(path "{step}{uuid[1]}" (reference "{reference}") (unit {unit}) (value {value[1]}))'
                )
    return {name: _of_six(text, listed if name == root else None) for name, text in sheets.items()}


def _of_six(text: str, listed: list[str] | None) -> str:
    text = re.sub(r"\(version \d+\)", "(version 20211123)", text, count=1)
    for head in ("instances", "generator_version", "dnp", "exclude_from_sim", "sheet_instances", "embedded_fonts"):
        text = without(text, head)
    # The last reference that the sheet was shown with stands in the field; it says nothing of a repeated sheet.
    text = text.replace('"Sheetname"', '"Sheet name"').replace('"Sheetfile"', '"Sheet file"')
    text = re.sub(r"\(hide yes\)", "hide", text)
    if listed is None:
        return text
    tail = f'(sheet_instances (path "/" (page "1")))(symbol_instances {" ".join(listed)}))'
    return text.rstrip().removesuffix(")") + tail + "\n"


def rewritten(folder: Path, into: Path, name: str, sheets: dict[str, str], project: str | None) -> Path:
    """Writes a project's files; everything else of the folder is copied as it is."""
    into.mkdir(parents=True, exist_ok=True)
    for file in folder.iterdir():
        if file.is_file() and file.name not in sheets:
            (into / file.name).write_bytes(file.read_bytes())
    for file_name, text in sheets.items():
        (into / file_name).write_text(text, encoding="utf-8")
    if project is not None:
        (into / f"{name}.kicad_pro").write_text(project, encoding="utf-8")
    return into / f"{name}.kicad_sch"
