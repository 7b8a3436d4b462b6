"""Input that can't be used is refused with one sentence that names file, line and cause; never a traceback."""

from __future__ import annotations

import os
import stat
import sys
import time
from collections.abc import Callable
from pathlib import Path

import psutil
import pytest
from programs import need
from reading_samples import (
    Project,
    label,
    line,
    schematic,
    sheet,
    sheet_path,
    symbol,
    uid,
)

from loadloom.plugin import incoming
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.reading import kicad_cli, read_drawing
from loadloom.plugin.reading.kicad_cli import NetlistExport

SAMPLES = Path(__file__).parent / "data" / "reading"
PLAIN = schematic(symbol("T:ONE", "A1", 0, 0), symbol("T:ONE", "B1", 25.4, 0))


def line_of(text: str, part: str, nth: int = 1) -> int:
    """Line of the nth place of a part of a text."""
    at = -1
    for _ in range(nth):
        at = text.index(part, at + 1)
    return text.count("\n", 0, at) + 1


def refused(path: Path, cause: str, line_number: int | None = None, kicad_cli: str = "none") -> UnusableError:
    with pytest.raises(UnusableError, match=cause) as caught:
        read_drawing(path, kicad_cli=kicad_cli if kicad_cli == "none" else Path(kicad_cli))  # type: ignore[arg-type]
    text = str(caught.value)
    assert "\n" not in text
    assert caught.value.file is not None
    if line_number is not None:
        assert caught.value.line == line_number, text
    return caught.value


def written(tmp_path: Path, data: bytes | str, name: str = "p.kicad_sch") -> Path:
    path = tmp_path / name
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


BAD_BYTES: dict[str, tuple[bytes, str, int | None]] = {
    "empty": (b"", "is empty", None),
    "white space": (b" \n\n ", "is empty", None),
    "zero bytes": (b"\0" * 5000, "nothing but zero bytes", None),
    "binary": (b"(kicad_sch\n\0\x01\x02)", "is a binary file", 2),
    "not UTF-8": (b"(kicad_sch\n(title \xff\xfe))", "is not UTF-8", 2),
    "UTF-16": ("(kicad_sch)".encode("utf-16"), "is a binary file", None),
    "truncated": (PLAIN[: len(PLAIN) // 2].rsplit("\n", 1)[0].encode(), "ends inside a bracket", None),
    "cut in a text": (PLAIN[: PLAIN.index("A1") + 1].encode(), "never ends", line_of(PLAIN, '"A1')),
    "closed too often": (
        PLAIN.encode() + b")",
        "goes on after its closing bracket|too many",
        PLAIN.count("\n") + 1,
    ),
    "two expressions": (
        PLAIN.encode() + b"(kicad_sch)",
        "goes on after its closing bracket",
        PLAIN.count("\n") + 1,
    ),
    "words after the end": (PLAIN.encode() + b"more", "goes on after its closing bracket", None),
    "too deep": (b"(kicad_sch" + b"\n(a" * 201 + b")" * 202, "more than 200 deep", 201),
    "far too deep": (b"(kicad_sch" + b"\n(a" * 50_000, "more than 200 deep", 201),
    "unquoted bracket": (b"(kicad_sch\n [a])", r"unquoted \[", 2),
    "KiCad 5": (b"EESchema Schematic File Version 4\n", "KiCad 5 or older", 1),
    "prose": (b"hello there", "is not a KiCad file", 1),
    "board": (b"(kicad_pcb (version 20241229))", "is a circuit board", 1),
    "library": (b"\n(kicad_symbol_lib (version 20241209))", "is a symbol library", 2),
    "no version": (b"(kicad_sch\n)", "has no file version", 1),
    "word as version": (b"(kicad_sch\n(version nine))", "has no file version", 2),
    "version 5.99": (b"(kicad_sch\n(version 20210126))", "older than KiCad 6", 2),
}


@pytest.mark.parametrize("name", BAD_BYTES)
def test_files_that_are_no_schematic(tmp_path: Path, name: str) -> None:
    data, cause, number = BAD_BYTES[name]
    refused(written(tmp_path, data), cause, number)


def changed(old: str, new: str, text: str = PLAIN) -> str:
    assert old in text
    return text.replace(old, new, 1)


CIRCLE = schematic(symbol("T:ONE", "A1", 0, 0), sheet("Self", "p.kicad_sch", 0, 0))
MISSING = schematic(symbol("T:ONE", "A1", 0, 0), sheet("Gone", "gone.kicad_sch", 0, 0))
OUTSIDE = schematic(symbol("T:ONE", "A1", 0, 0), sheet("Out", "../out.kicad_sch", 0, 0))
ABSOLUTE = schematic(symbol("T:ONE", "A1", 0, 0), sheet("Out", "/etc/hostname", 0, 0))
SUB_SHEET = schematic(symbol("T:ONE", "A1", 0, 0, paths={"/somewhere/else": "A1"}))
WORDLESS = schematic(symbol("T:ONE", "A1", 0, 0), label("label", "x_${NOBODY}", 0, 0))
BUS_ON_WIRE = schematic(
    line("wire", 0, 0, 10.16, 0), label("label", "D[0..3]", 5.08, 0), symbol("T:ONE", "A1", 0, 0)
)
NET_ON_BUS = schematic(line("bus", 0, 0, 10.16, 0), label("label", "D", 5.08, 0), symbol("T:ONE", "A1", 0, 0))
KINDS = schematic(
    line("bus", 0, 0, 10.16, 0),
    label("label", "D[0..1]", 0, 0),
    label("label", "E{A B}", 5.08, 0),
    symbol("T:ONE", "A1", 0, 0),
)
OFF_EDGE = schematic(symbol("T:ONE", "A1", 0, 0), sheet("S", "gone.kicad_sch", 50.8, 0, [("P", 53.34, 5.08)]))

BAD_DRAWINGS: dict[str, tuple[str, str, int | None]] = {
    "circle": (CIRCLE, "go in a circle", line_of(CIRCLE, "(sheet ")),
    "missing sheet": (MISSING, "gone.kicad_sch, is missing", line_of(MISSING, "(sheet ")),
    "sheet outside": (OUTSIDE, "outside the project's folder", line_of(OUTSIDE, "(sheet ")),
    "absolute sheet": (ABSOLUTE, "outside the project's folder", line_of(ABSOLUTE, "(sheet ")),
    "sub-sheet as root": (SUB_SHEET, "is a sheet of another drawing", line_of(SUB_SHEET, "(symbol (lib_id")),
    "not a number": (changed("(at 25.4 0 0)", "(at NaN 0 0)"), "no place", line_of(PLAIN, "(at 25.4 0 0)")),
    "infinite": (changed("(at 25.4 0 0)", "(at 1e999 0 0)"), "no place", line_of(PLAIN, "(at 25.4 0 0)")),
    "word for number": (changed("(at 25.4 0 0)", "(at far 0 0)"), "where a number belongs", None),
    "far away": (changed("(at 25.4 0 0)", "(at 1e12 0 0)"), "far off any sheet", None),
    "slanted": (changed("(at 25.4 0 0)", "(at 25.4 0 45)"), "no right angle", line_of(PLAIN, "(at 25.4 0 0)")),
    "unresolved label": (WORDLESS, "NOBODY", line_of(WORDLESS, "(label")),
    "bus on a wire": (BUS_ON_WIRE, "names a bus but stands on a wire", line_of(BUS_ON_WIRE, "(label")),
    "net on a bus": (NET_ON_BUS, "names a single net but stands on a bus", line_of(NET_ON_BUS, "(label")),
    "kinds of bus": (KINDS, "of another kind", None),
    "sheet pin off the edge": (OFF_EDGE, "off the edge", line_of(OFF_EDGE, "(pin ", 2)),
}


@pytest.mark.parametrize("name", BAD_DRAWINGS)
def test_drawings_with_faults(tmp_path: Path, name: str) -> None:
    text, cause, number = BAD_DRAWINGS[name]
    refused(Project(text).write(tmp_path), cause, number)


def test_the_drawing_they_are_made_from_is_sound(tmp_path: Path) -> None:
    assert len(read_drawing(written(tmp_path, PLAIN), kicad_cli="none").symbols) == 2


def test_byte_order_mark_and_windows_line_ends_are_fine(tmp_path: Path) -> None:
    data = b"\xef\xbb\xbf" + PLAIN.replace("\n", "\r\n").encode()
    drawing = read_drawing(written(tmp_path, data), kicad_cli="none")
    assert [found.line for found in drawing.symbols] == [line_of(PLAIN, "(lib_id"), line_of(PLAIN, "(lib_id", 2)]


def test_a_circle_over_two_sheets(tmp_path: Path) -> None:
    root = schematic(symbol("T:ONE", "A1", 0, 0), sheet("One", "one.kicad_sch", 0, 0))
    one = schematic(sheet("Two", "two.kicad_sch", 0, 0), uuid_=uid("1"))
    two = schematic(sheet("One", "one.kicad_sch", 0, 0), uuid_=uid("2"))
    path = Project(root, {"one.kicad_sch": one, "two.kicad_sch": two}).write(tmp_path)
    error = refused(path, "go in a circle", line_of(two, "(sheet "))
    assert error.file is not None and error.file.name == "two.kicad_sch"


def test_sheets_that_multiply_without_end(tmp_path: Path) -> None:
    """Twelve levels with three sheets each are half a million instances in 13 small files."""
    sheets = {}
    for level in range(1, 13):
        below = [sheet(f"s{k}", f"l{level + 1}.kicad_sch", k, 0) for k in range(3)] if level < 12 else []
        sheets[f"l{level}.kicad_sch"] = schematic(*below, uuid_=uid(str(level)))
    root = schematic(symbol("T:ONE", "A1", 0, 0), sheet("s", "l1.kicad_sch", 0, 0))
    refused(Project(root, sheets).write(tmp_path), "more than 10,000 sheets")


def test_faults_of_a_sub_sheet_name_its_file(tmp_path: Path) -> None:
    root = schematic(symbol("T:ONE", "A1", 0, 0), sheet("S", "sub/c.kicad_sch", 0, 0))
    child = schematic(symbol("T:ONE", "B1", 0, 0, 45, paths={sheet_path("S"): "B1"}), uuid_=uid("c"))
    error = refused(Project(root, {"sub/c.kicad_sch": child}).write(tmp_path), "no right angle")
    assert error.file is not None and error.file.name == "c.kicad_sch"


def test_paths_that_lead_nowhere(tmp_path: Path) -> None:
    refused(tmp_path / "none.kicad_sch", "no such file")
    refused(tmp_path / "none.xml", "no such file")
    (tmp_path / "folder.kicad_sch").mkdir()
    refused(tmp_path / "folder.kicad_sch", "is a folder")
    refused(tmp_path, "is a folder")
    refused(written(tmp_path, PLAIN, "p.txt"), "suffix '.txt'")
    refused(written(tmp_path, PLAIN, "p"), "has no suffix")
    refused(written(tmp_path, PLAIN, "p.sch"), "KiCad 5 or older")
    refused(written(tmp_path, "{}", "alone.kicad_pro"), "has no schematic beside it")


@pytest.mark.parametrize("name", ["p.kicad_sch", "p.kicad_pro", "p.net", "p.xml", "p.txt"])
def test_a_folder_that_may_not_be_entered(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    def denied(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "stat", denied)
    monkeypatch.setattr(Path, "open", denied)
    refused(Path("closed") / name, "permission denied|which is no drawing")


@pytest.mark.skipif(sys.platform == "win32", reason="named pipes are not files there")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.kicad_sch")
    refused(tmp_path / "pipe.kicad_sch", "is not a regular file")


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(tmp_path, PLAIN)
    path.chmod(0)
    if os.access(path, os.R_OK):  # The superuser reads everything; take the system's answer for it.

        def denied(*_: object, **__: object) -> None:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(Path, "open", denied)
    refused(path, "permission denied")
    path.chmod(stat.S_IRWXU)


def test_a_huge_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "huge.kicad_sch"
    with path.open("wb") as stream:
        stream.truncate(incoming.SIZE_LIMIT_BYTES + 1)
    refused(path, "is larger than 64 MB")


@pytest.mark.parametrize("content", ["{", "[]", '"x"', "[" * 100_000, "\0\0"])
def test_a_project_file_that_is_no_project(tmp_path: Path, content: str) -> None:
    refused(Project(PLAIN, project=content).write(tmp_path), "project|binary|zero")


XML = (SAMPLES / "flat.v9.xml").read_text(encoding="utf-8")
NET = (SAMPLES / "flat.v9.net").read_text(encoding="utf-8")
LAUGHS = '<?xml version="1.0"?>\n<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;&a;">]>\n<export>&b;</export>'
EXTERNAL = '<?xml version="1.0"?>\n<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/hostname">]>\n<export>&a;</export>'

BAD_XML: dict[str, tuple[str, str, int | None]] = {
    "entities": (LAUGHS, "document type or entities", 2),
    "external entity": (EXTERNAL, "document type or entities", 2),
    "undeclared entity": ("<export>\n&a;</export>", "is not sound XML", 2),
    "cut off": (XML[: len(XML) // 2], "is not sound XML", XML[: len(XML) // 2].count("\n") + 1),
    "not XML": ("hello", "is not sound XML", 1),
    "too deep": ("<export>" + "\n<a>" * 300, "more than 200 deep", 201),
    "something else": ("<html/>", "is not a KiCad netlist", 1),
    "parts list": ("<export><components/></export>", "lists parts but no nets", 1),
    "pin of a lost part": (
        XML.replace('<comp ref="M2"', '<comp ref="M99"'),
        "not among the parts",
        line_of(XML, '<node ref="M2"'),
    ),
}


@pytest.mark.parametrize("name", BAD_XML)
def test_bad_xml_netlists(tmp_path: Path, name: str) -> None:
    text, cause, number = BAD_XML[name]
    refused(written(tmp_path, text, "n.xml"), cause, number)


BAD_NET: dict[str, tuple[str, str, int | None]] = {
    "cut off": (NET[: len(NET) // 2].rsplit("\n", 1)[0], "ends inside a bracket", None),
    "schematic": (PLAIN, "is not a KiCad netlist", 1),
    "board netlist of KiCad 3": ("# EESchema Netlist\n( { } )", "is not a KiCad file", 1),
    "no nets": ("(export (components))", "lists parts but no nets", 1),
}


@pytest.mark.parametrize("name", BAD_NET)
def test_bad_sexpr_netlists(tmp_path: Path, name: str) -> None:
    text, cause, number = BAD_NET[name]
    refused(written(tmp_path, text, "n.net"), cause, number)


def program(tmp_path: Path, body: str) -> str:
    """A stand-in for kicad-cli."""
    path = tmp_path / "stand-in"
    path.write_text(f"#!/bin/sh\n{body}\n", encoding="utf-8")
    path.chmod(0o755)
    return str(path)


needs_shell = pytest.mark.skipif(sys.platform == "win32", reason="the stand-in for kicad-cli is a shell script")


@needs_shell
@pytest.mark.parametrize(
    ("body", "cause"),
    [
        ("exit 0", "reported success but wrote no netlist"),
        ("exit 3", "could not load it"),
        ('for last; do :; done; echo "<export>" > "$7"', "wrote half a netlist"),
        ('echo "<export><nets/></export>" > "$7"', "is drawn, but kicad-cli's netlist lacks it"),
    ],
)
def test_kicad_cli_that_fails(tmp_path: Path, body: str, cause: str) -> None:
    refused(written(tmp_path, PLAIN), cause, kicad_cli=program(tmp_path, body))


@needs_shell
def test_a_drawing_newer_than_kicad_cli(tmp_path: Path) -> None:
    """It is read without; what only kicad-cli could resolve is refused, with the reason why it is no help."""
    cli = program(tmp_path, '[ "$1" = version ] && echo 9.0.8 && exit 0; exit 3')
    ten = PLAIN.replace("20250114", "20260306")
    drawing = read_drawing(written(tmp_path, ten), kicad_cli=Path(cli))
    assert [symbol.reference for symbol in drawing.symbols] == ["A1", "B1"]
    assert drawing.notices == ()
    refused(
        written(tmp_path, WORDLESS.replace("20250114", "20260306")), r"9.0.8 can't read file version", kicad_cli=cli
    )


@needs_shell
def test_kicad_cli_that_hangs_is_ended(tmp_path: Path) -> None:
    path = written(tmp_path, PLAIN)
    with (
        NetlistExport(Path(program(tmp_path, "exec sleep 60")), path, time_limit_s=0.2) as export,
        pytest.raises(UnusableError, match=r"did not finish within 0\.2 s"),
    ):
        export.result()


@needs_shell
def test_what_a_kicad_cli_that_hangs_has_started_is_ended_too(tmp_path: Path) -> None:
    path, pid = written(tmp_path, PLAIN), tmp_path / "pid"
    hangs = program(tmp_path, f"sleep 60 & echo $! > {pid}.new; mv {pid}.new {pid}; wait")
    with (
        NetlistExport(Path(hangs), path, time_limit_s=3.0) as export,
        pytest.raises(UnusableError, match="did not finish within 3 s"),
    ):
        export.result()
    started = int(pid.read_text())
    deadline = time.monotonic() + 10.0
    while psutil.pid_exists(started) and psutil.Process(started).status() != psutil.STATUS_ZOMBIE:
        assert time.monotonic() < deadline, "it still runs"
        time.sleep(0.05)


def test_a_kicad_cli_that_is_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(tmp_path, PLAIN)
    with pytest.raises(UnusableError, match="which is no program"):
        read_drawing(path, kicad_cli=tmp_path / "nothing")
    monkeypatch.setenv("LOADLOOM_KICAD_CLI", str(tmp_path / "nothing"))
    with pytest.raises(UnusableError, match="LOADLOOM_KICAD_CLI names"):
        read_drawing(path)


@pytest.mark.parametrize("route", ["kicad_sch", "net", "xml"])
def test_no_cut_or_changed_byte_gives_anything_but_a_refusal(tmp_path: Path, route: str) -> None:
    """Every file cut at, or with one byte changed at, places all over it is read or refused, nothing else."""
    text = {"kicad_sch": PLAIN, "net": NET, "xml": XML}[route].encode()
    outcomes: dict[str, int] = {"read": 0, "refused": 0}
    spoil: list[Callable[[int], bytes]] = [
        lambda at: text[:at],
        lambda at: text[:at] + b"(" + text[at + 1 :],
        lambda at: text[:at] + b'"' + text[at + 1 :],
        lambda at: text[:at] + b"\xc3" + text[at + 1 :],
        lambda at: text[:at] + b"9" + text[at + 1 :],
    ]
    for number, at in enumerate(range(0, len(text), max(1, len(text) // 150))):
        path = written(tmp_path, spoil[number % len(spoil)](at), f"p.{route}")
        try:
            read_drawing(path, kicad_cli="none")
            outcomes["read"] += 1
        except UnusableError as error:
            assert "\n" not in str(error)
            outcomes["refused"] += 1
    assert outcomes["refused"] > 60


def test_kicad_cli_is_found_off_the_path_and_the_newest_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = "kicad-cli.exe" if sys.platform == "win32" else "kicad-cli"
    for release in ("9.0", "10.0", "8.0"):
        folder = tmp_path / "KiCad" / release / "bin"
        folder.mkdir(parents=True)
        (folder / name).touch(mode=0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("ProgramFiles", str(tmp_path))
    monkeypatch.setattr(kicad_cli, "_USUAL_PLACES", {sys.platform: ("{ProgramFiles}/KiCad/*/bin", "{NOTHING}/bin")})
    assert kicad_cli.find() == tmp_path / "KiCad" / "10.0" / "bin" / name


@pytest.mark.parametrize("home", [None, "/nowhere/at/all"])
def test_kicad_cli_gets_a_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, home: str | None) -> None:
    cli = need("kicad-cli")
    if home is None:
        monkeypatch.delenv("HOME", raising=False)
    else:
        monkeypatch.setenv("HOME", home)
    assert len(read_drawing(written(tmp_path, PLAIN), kicad_cli=Path(cli)).symbols) == 2


def test_a_wrong_netlist_of_kicad_cli_is_noticed(tmp_path: Path) -> None:
    """kicad-cli 9.0.8 loses the far half of a wire with a junction in its middle, with exit code 0."""
    text = schematic(
        line("wire", 0, 0, 20.32, 0),
        "(junction (at 10.16 0) (diameter 0))",
        *(symbol("T:ONE", f"A{x}", x * 10.16, 0) for x in range(3)),
    )
    path = Project(text).write(tmp_path)
    own = read_drawing(path, kicad_cli="none")
    assert [len(net.pins) for net in own.nets] == [3]
    by_cli = read_drawing(path, kicad_cli=Path(need("kicad-cli")))
    differs = {net.pins for net in by_cli.nets} != {net.pins for net in own.nets}
    assert [found.rule for found in by_cli.notices] == (["readings-differ"] if differs else [])
