"""The workbook's archive: bytes that repeat, and the tool's values stored with the formulas.

Programs that only show a workbook (a preview, a mail program's protected view) don't calculate: without stored
values they would show empty cells. Programs that calculate do so on opening.
"""

from __future__ import annotations

import datetime
import io
import math
import re
import zipfile
from collections.abc import Mapping
from xml.sax.saxutils import escape

from openpyxl import Workbook

Stored = Mapping[tuple[str, str], float | str | None]
"""The tool's value of each formula, by sheet and cell."""

_FORMULA = re.compile(rb'<c r="([A-Z]+[0-9]+)"( s="[0-9]+")?><f>([^<]*)</f><v ?/></c>')
_APPLICATION = re.compile(rb"<Application>[^<]*</Application><AppVersion>[^<]*</AppVersion>")


def repeatable(workbook: Workbook, when: datetime.datetime, stored: Stored | None = None) -> bytes:
    """The workbook's archive with every clock reading replaced by one moment and the formulas' values stored."""
    raw = io.BytesIO()
    workbook.save(raw)
    stamp = when.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    sheets = {f"xl/worksheets/sheet{number}.xml": name for number, name in enumerate(workbook.sheetnames, 1)}
    out = io.BytesIO()
    with zipfile.ZipFile(raw) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            content = source.read(name)
            if name in sheets:
                content = _with_values(content, sheets[name], stored or {})
            elif name == "docProps/core.xml":
                content = re.sub(rb"(<dcterms:(created|modified)[^>]*>)[^<]*", rb"\g<1>" + stamp, content)
            elif name == "docProps/app.xml":
                content = _APPLICATION.sub(b"<Application>loadloom</Application>", content)
            info = zipfile.ZipInfo(name, when.timetuple()[:6])
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = 0o600 << 16
            target.writestr(info, content)
    return out.getvalue()


def _with_values(content: bytes, sheet: str, stored: Stored) -> bytes:
    """A sheet's XML with the value of every formula beside it."""

    def cell(match: re.Match[bytes]) -> bytes:
        place, style, formula = match.group(1), match.group(2) or b"", match.group(3)
        value = stored.get((sheet, place.decode()))
        if isinstance(value, str):
            kind, text = b' t="str"', escape(value).encode()
        elif value is not None and math.isfinite(value):
            kind, text = b"", repr(value).encode()
        else:
            return match.group()
        return b'<c r="' + place + b'"' + style + kind + b"><f>" + formula + b"</f><v>" + text + b"</v></c>"

    return _FORMULA.sub(cell, content)
