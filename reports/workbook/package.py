"""The workbook's archive: bytes that repeat, with the cells put into the sheets' files.

openpyxl writes everything but the cells. The tool's value stands with every formula: programs that only show a
workbook (a preview, a mail program's protected view) don't calculate, and would show empty cells without it.
Programs that calculate do so on opening.
"""

from __future__ import annotations

import datetime
import io
import re
import zipfile
from collections.abc import Mapping

from openpyxl import Workbook

from loadloom.reports.workbook.sheet_cells import SheetCells

_ROWS = re.compile(rb"<sheetData ?/>|<sheetData>.*?</sheetData>", re.DOTALL)
_AFTER_LINKS = re.compile(rb"(?=<printOptions|<pageMargins)")
_AREA = re.compile(rb'<dimension ref="[^"]*" ?/>')
_APPLICATION = re.compile(rb"<Application>[^<]*</Application><AppVersion>[^<]*</AppVersion>")


def repeatable(workbook: Workbook, when: datetime.datetime, cells: Mapping[str, SheetCells]) -> bytes:
    """The workbook's archive with the cells of every sheet, by its title, and all clock readings at one moment."""
    raw = io.BytesIO()
    workbook.save(raw)
    stamp = when.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    sheets = {f"xl/worksheets/sheet{number}.xml": name for number, name in enumerate(workbook.sheetnames, 1)}
    out = io.BytesIO()
    with zipfile.ZipFile(raw) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            content = source.read(name)
            if name in sheets:
                content = _filled(content, cells.get(sheets[name], SheetCells()))
            elif name == "docProps/core.xml":
                content = re.sub(rb"(<dcterms:(created|modified)[^>]*>)[^<]*", rb"\g<1>" + stamp, content)
            elif name == "docProps/app.xml":
                content = _APPLICATION.sub(b"<Application>loadloom</Application>", content)
            info = zipfile.ZipInfo(name, when.timetuple()[:6])
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = 0o600 << 16
            target.writestr(info, content)
    return out.getvalue()


def _filled(content: bytes, cells: SheetCells) -> bytes:
    """A sheet's file, written without cells, with its cells, links and area."""
    parts = (
        (_AREA, f'<dimension ref="{cells.area()}"/>'),
        (_ROWS, cells.data()),
        (_AFTER_LINKS, cells.hyperlinks()),
    )
    for place, text in parts:
        written = text.encode()
        content, times = place.subn(lambda _, written=written: written, content, count=1)  # type: ignore[misc]
        if not times:
            raise ValueError(f"a sheet's file has no place for {text[:40]}")
    return content
