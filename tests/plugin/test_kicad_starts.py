"""What the script entries and the button do once they are started, without a window."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import socket
import struct
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path

import pytest
from programs import need
from small_project import write_twice_used_sheet

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.kicad import button, script
from loadloom.plugin.kicad.asking import ask
from loadloom.plugin.kicad.ipc import NoAnswerError, open_schematics
from loadloom.plugin.kicad.make_reports import make_reports
from loadloom.plugin.kicad.one_run import only_run, progress_page
from loadloom.plugin.kicad.open_drawing import find_drawings, unsaved_warning

CASES = Path(__file__).resolve().parents[2] / "fixtures"


@pytest.fixture
def pages(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """Pages that the browser would show."""
    shown: list[Path] = []
    monkeypatch.setattr(script, "open_in_browser", lambda page: shown.append(page) is None)
    return shown


@pytest.fixture
def project(tmp_path: Path) -> Path:
    folder = tmp_path / "project"
    shutil.copytree(CASES / "case_05_thin_pair_pooled", folder)
    return folder


def parts_list(drawing: Path) -> Path:
    """The XML that KiCad hands to a parts-list generator."""
    out = drawing.with_suffix(".xml")
    command = [need("kicad-cli"), "sch", "export", "python-bom", "-o", str(out), str(drawing)]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    return out


def netlist(drawing: Path) -> Path:
    """The XML that KiCad hands to a netlist exporter."""
    out = drawing.with_suffix(".xml")
    command = [need("kicad-cli"), "sch", "export", "netlist", "--format", "kicadxml", "-o", str(out), str(drawing)]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    return out


def excluded(drawing: Path, reference: str) -> None:
    """Take a symbol out of the parts list, as the tick in its properties does."""
    text = drawing.read_text(encoding="utf-8")
    at = text.rindex("(in_bom yes)", 0, text.rindex(f'(property "Reference" "{reference}"'))
    drawing.write_text(text[:at] + "(in_bom no)" + text[at + len("(in_bom yes)") :], encoding="utf-8")


# ---- the script entries --------------------------------------------------------------------------------------


@pytest.mark.parametrize("route", [parts_list, netlist])
def test_both_routes_carry_the_nets(route, project: Path, pages: list[Path], capsys) -> None:  # type: ignore[no-untyped-def]
    source = route(project / "harness.kicad_sch")
    assert script.main([str(source), str(project / "harness")]) == 0
    out = capsys.readouterr().out
    assert out.startswith("FAIL  A thin pair on a pooled output")
    assert "path-unprotected  W1" in out and "125 A" in out
    assert (project / "harness.xlsx").is_file()
    assert pages == [project / "harness.html"]


def test_symbols_that_the_parts_list_drops_are_noticed(project: Path, pages: list[Path], capsys) -> None:  # type: ignore[no-untyped-def]
    """Without W1 the load would be unfed; the report comes from the saved drawing, which has it, and says so."""
    drawing = project / "harness.kicad_sch"
    excluded(drawing, "W1")
    source = parts_list(drawing)
    assert '"W1"' not in source.read_text()
    assert script.main([str(source), str(project / "harness")]) == 0
    out = capsys.readouterr().out
    assert out.startswith("NOTE: KiCad left W1 out of the list")
    assert "path-unprotected  W1" in out and "load-unfed" not in out
    assert "KiCad left W1 out of the list" in (project / "harness.html").read_text("utf-8")
    capsys.readouterr()
    assert script.main([str(netlist(drawing)), str(project / "harness")]) == 0
    assert "NOTE: KiCad left" not in capsys.readouterr().out


def test_page_stays_closed_where_the_settings_say_so(project: Path, pages: list[Path]) -> None:
    settings = project / "loadloom.toml"
    settings.write_text("open_page = false\n" + settings.read_text("utf-8"), encoding="utf-8")
    assert script.main([str(netlist(project / "harness.kicad_sch")), str(project / "harness")]) == 0
    assert pages == [] and (project / "harness.html").is_file()


def test_settings_of_the_project_hold_for_an_export_elsewhere(
    project: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pages: list[Path]
) -> None:
    settings = project / "loadloom.toml"
    settings.write_text("open_page = false\n" + settings.read_text("utf-8"), encoding="utf-8")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    shutil.move(netlist(project / "harness.kicad_sch"), elsewhere / "x.xml")
    monkeypatch.setenv("KIPRJMOD", str(project))
    assert script.main([str(elsewhere / "x.xml"), str(elsewhere / "x")]) == 0
    assert pages == [] and (elsewhere / "x.html").is_file()


def test_what_cannot_be_used_is_said_in_the_dialog_and_on_a_page(tmp_path: Path, pages: list[Path], capsys) -> None:  # type: ignore[no-untyped-def]
    bad = tmp_path / "bad.xml"
    bad.write_text("<export><components>")
    assert script.main([str(bad), str(tmp_path / "bad")]) == 2
    assert capsys.readouterr().out.startswith("loadloom: ")
    assert "bad.xml" in pages[0].read_text("utf-8")
    assert not (tmp_path / "bad.xlsx").exists()
    assert script.main([]) == 2


def test_script_runs_apart_from_kicads_python(project: Path, tmp_path: Path) -> None:
    """KiCad hands its own Python's search path on; the command that is registered does not look there."""
    poison = tmp_path / "poison"
    poison.mkdir()
    (poison / "numpy.py").write_text("raise SystemExit('the wrong numpy')")
    (project / "numpy.py").write_text("raise SystemExit('the wrong numpy')")
    from loadloom.plugin.kicad.setup import script_entry

    source = netlist(project / "harness.kicad_sch")
    command = script_entry(sys.executable, "netlist")["command"]
    command = command.replace("%I", str(source)).replace("%O", str(project / "harness"))
    env = os.environ | {"PYTHONPATH": str(poison), "BROWSER": "true %s"}
    done = subprocess.run(
        command, shell=True, cwd=project, env=env, capture_output=True, text=True, timeout=300, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.startswith("FAIL")
    assert (project / "harness.netlist.html").is_file() and not (project / "harness.html").exists()


def test_names_with_dots_and_blanks(project: Path) -> None:
    source = netlist(project / "harness.kicad_sch")
    made = make_reports(source, project / "dome v1.2 ä")
    assert [f.name for f in (made.workbook, made.page)] == ["dome v1.2 ä.xlsx", "dome v1.2 ä.html"]
    with pytest.raises(UnusableError, match="can't be written"):
        make_reports(source, project / "no folder" / "harness")


# ---- the button ----------------------------------------------------------------------------------------------


def test_button_writes_page_and_workbook(project: Path) -> None:
    shown: list[str] = []
    env = {"KIPRJMOD": str(project)}
    assert button.main(env, lambda page: shown.append(page.read_text("utf-8"))) == 0
    assert len(shown) == 1 and 'http-equiv="refresh"' in shown[0] and "Reporting on harness.kicad_sch" in shown[0]
    page = (project / "harness.html").read_text("utf-8")
    assert 'http-equiv="refresh"' not in page and "PS1" in page
    assert "The drawing was last saved on 2" in page and "this report was made on 2" in page
    assert (project / "harness.xlsx").is_file()


def test_button_says_why_there_is_no_report(project: Path, tmp_path: Path) -> None:
    shown: list[str] = []
    (project / "harness.kicad_sch").write_text("(kicad_sch\n(version 20250114)\n")
    assert button.main({"KIPRJMOD": str(project)}, lambda page: shown.append(page.read_text("utf-8"))) == 2
    assert "No report on harness.kicad_sch" in shown[-1] and "bracket" in shown[-1]
    shown.clear()
    (tmp_path / "empty").mkdir()
    assert (
        button.main({"KIPRJMOD": str(tmp_path / "empty")}, lambda page: shown.append(page.read_text("utf-8"))) == 2
    )
    assert "could not be found" in shown[0]


def test_a_report_that_fails_leaves_the_last_one_as_it_was(project: Path) -> None:
    """Its page and workbook keep every byte; what went wrong stands on the page of the progress."""
    drawing = project / "harness.kicad_sch"
    assert button.report_on(drawing, lambda _: None) == 0
    before = {name: (project / name).read_bytes() for name in ("harness.html", "harness.xlsx")}
    drawing.write_text("(kicad_sch\n(version 20250114)\n")
    assert button.report_on(drawing, lambda _: None) == 2
    assert {name: (project / name).read_bytes() for name in before} == before
    assert "No report on harness.kicad_sch" in progress_page(drawing).read_text("utf-8")


def test_unsaved_edits_are_warned_of(tmp_path: Path) -> None:
    """A copy that KiCad saved by itself, newer than the sheet, means edits that are not in the file."""
    root = write_twice_used_sheet(tmp_path)
    assert unsaved_warning(root) is None
    copy = tmp_path / "_autosave-branch.kicad_sch"
    copy.write_text("x")
    old = time.time() - 100
    os.utime(copy, (old, old))
    assert unsaved_warning(root) is None
    os.utime(tmp_path / "branch.kicad_sch", (old - 100, old - 100))
    warning = unsaved_warning(root)
    assert warning is not None and "branch.kicad_sch has edits that are not saved" in warning
    assert button.report_on(root, lambda _: None) == 0
    assert "branch.kicad_sch has edits that are not saved" in root.with_suffix(".html").read_text("utf-8")


HOLDER = """
import sys
from pathlib import Path
from loadloom.plugin.kicad.one_run import only_run
with only_run(Path(sys.argv[1])) as alone:
    print(alone, flush=True)
    sys.stdin.read()
"""


def test_second_press_starts_nothing(project: Path) -> None:
    """While another process reports on a drawing, a press shows that page; when it is killed, all is free again."""
    drawing = project / "harness.kicad_sch"
    command = [sys.executable, "-c", HOLDER, str(drawing)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as other:
        try:
            assert other.stdout is not None and other.stdout.readline() == "True\n"
            shown: list[Path] = []
            assert button.report_on(drawing, shown.append) == 0
            assert shown == [progress_page(drawing)] and "under way" in shown[0].read_text("utf-8")
            assert not drawing.with_suffix(".html").exists()
            assert not (project / "harness.xlsx").exists()
        finally:
            other.kill()
    with only_run(drawing) as alone:
        assert alone


# ---- which drawing -------------------------------------------------------------------------------------------


def varint(value: int) -> bytes:
    out = b""
    while value > 0x7F:
        out += bytes([value & 0x7F | 0x80])
        value >>= 7
    return out + bytes([value])


def message(*fields: tuple[int, bytes | int]) -> bytes:
    """A protocol-buffer message of byte and number fields."""
    out = b""
    for number, value in fields:
        out += varint(number << 3) + varint(value) if isinstance(value, int) else (
            varint(number << 3 | 2) + varint(len(value)) + value
        )  # fmt: skip
    return out


class FakeKiCad:
    """Answers one question on a socket in KiCad's protocol (as recorded from 9.0.8)."""

    def __init__(self, folder: Path, answer: bytes, greeting: bytes = b"\0SP\0\0\x31\0\0") -> None:
        self.path = folder / "api.sock"
        self.asked = b""
        self.answer, self.greeting = answer, greeting
        self.listener = socket.socket(socket.AF_UNIX)
        self.listener.bind(str(self.path))
        self.listener.listen()
        threading.Thread(target=self.run, daemon=True).start()
        self.env = {"KICAD_API_SOCKET": f"ipc://{self.path}", "KICAD_API_TOKEN": "word"}

    def run(self) -> None:
        connection, _ = self.listener.accept()
        with connection, contextlib.suppress(OSError, struct.error):
            assert connection.recv(8) == b"\0SP\0\0\x30\0\0"
            connection.sendall(self.greeting)
            _, length = struct.unpack(">BQ", connection.recv(9))
            self.asked = connection.recv(length)
            body = self.asked[:4] + self.answer
            connection.sendall(b"\x01" + struct.pack(">Q", len(body)) + body)


def answer_of(*names: str, status: int = 1) -> bytes:
    documents = message(*((1, message((1, 1), (3, name.encode()))) for name in names))
    return message((2, message((1, status), (2, b"not now"))), (3, message((1, b"type"), (2, documents))))


def test_the_question_is_what_kicads_own_client_would_send(tmp_path: Path) -> None:
    """The request's bytes, read by the message classes of KiCad's own Python package."""
    base = pytest.importorskip("kipy.proto.common.commands.editor_commands_pb2")
    envelope = pytest.importorskip("kipy.proto.common.envelope_pb2")
    kicad = FakeKiCad(tmp_path, answer_of("a.kicad_sch"))
    assert [document.file for document in open_schematics(kicad.env)] == ["a.kicad_sch"]
    request = envelope.ApiRequest.FromString(kicad.asked[4:])
    assert (request.header.kicad_token, request.header.client_name) == ("word", "loadloom")
    command = base.GetOpenDocuments()
    assert request.message.Unpack(command)
    assert command.type == 1  # DOCTYPE_SCHEMATIC


def test_the_answer_is_read_as_kicads_own_package_writes_it(tmp_path: Path) -> None:
    base = pytest.importorskip("kipy.proto.common.commands.editor_commands_pb2")
    envelope = pytest.importorskip("kipy.proto.common.envelope_pb2")
    response = base.GetOpenDocumentsResponse()
    document = response.documents.add()
    document.type = 1
    document.board_filename = "dome ä.kicad_sch"
    document.project.name, document.project.path = "dome ä", "/somewhere"
    answer = envelope.ApiResponse()
    answer.status.status = 1
    answer.message.Pack(response)
    (found,) = open_schematics(FakeKiCad(tmp_path, answer.SerializeToString()).env)
    assert (found.file, found.project, found.folder) == ("dome ä.kicad_sch", "dome ä", "/somewhere")


@pytest.mark.parametrize(
    ("answer", "greeting"),
    [
        (answer_of(status=7), b"\0SP\0\0\x31\0\0"),
        (answer_of("a.kicad_sch")[:-3], b"\0SP\0\0\x31\0\0"),
        (b"\xff" * 12, b"\0SP\0\0\x31\0\0"),
        (answer_of("a.kicad_sch"), b"HTTP/1.1"),
    ],
)
def test_answers_that_cannot_be_used(tmp_path: Path, answer: bytes, greeting: bytes) -> None:
    with pytest.raises(NoAnswerError, match="KiCad did not answer"):
        open_schematics(FakeKiCad(tmp_path, answer, greeting).env)


def test_no_kicad_at_the_socket(tmp_path: Path) -> None:
    for address in ("", "tcp://x", f"ipc://{tmp_path}/none"):
        with pytest.raises(NoAnswerError):
            open_schematics({"KICAD_API_SOCKET": address})


def make(folder: Path, *names: str) -> Path:
    folder.mkdir(exist_ok=True)
    for name in names:
        (folder / name).write_text("")
    return folder


def test_the_editors_own_word_counts_first(tmp_path: Path) -> None:
    folder = make(tmp_path / "p", *(f"{n}{s}" for n in "ab" for s in (".kicad_pro", ".kicad_sch")))
    (folder / "~a.kicad_sch.lck").write_text("")
    env = FakeKiCad(tmp_path, answer_of("b.kicad_sch")).env | {"KIPRJMOD": str(folder)}
    assert find_drawings(env).files == (folder / "b.kicad_sch",)


def test_a_sheet_leads_to_its_project(tmp_path: Path) -> None:
    folder = make(tmp_path / "p", "dome.kicad_pro", "dome.kicad_sch", "pier.kicad_sch")
    env = FakeKiCad(tmp_path, answer_of("pier.kicad_sch")).env | {"KIPRJMOD": str(folder)}
    assert find_drawings(env).files == (folder / "dome.kicad_sch",)


def test_without_an_answer_the_locks_tell(tmp_path: Path) -> None:
    folder = make(tmp_path / "p", *(f"{n}{s}" for n in "abc" for s in (".kicad_pro", ".kicad_sch")))
    assert len(find_drawings({"KIPRJMOD": str(folder)}).files) == 3
    (folder / "~c.kicad_sch.lck").write_text("")
    assert find_drawings({"KIPRJMOD": str(folder)}).files == (folder / "c.kicad_sch",)
    (folder / "~a.kicad_sch.lck").write_text("")
    found = find_drawings({"KIPRJMOD": str(folder)})
    assert found.files == (folder / "a.kicad_sch", folder / "c.kicad_sch") and found.why


def test_without_a_folder_the_drawings_open_last_are_offered(tmp_path: Path) -> None:
    """KiCad hands no project folder on in some runs: its list of last files, its word and the lock tell."""
    folder = make(tmp_path / "p", "a.kicad_sch", "b.kicad_sch", "b.kicad_pro")
    config = tmp_path / "home/.config/kicad/9.0"
    config.mkdir(parents=True)
    history = [str(folder / "a.kicad_sch"), str(folder / "gone.kicad_sch"), "relative.kicad_sch"]
    (config / "eeschema.json").write_text(json.dumps({"system": {"file_history": history}}))
    (config / "kicad.json").write_text(json.dumps({"system": {"file_history": [str(folder / "b.kicad_pro")]}}))
    env = {"HOME": str(tmp_path / "home")}
    found = find_drawings(env)
    assert found.files == (folder / "a.kicad_sch", folder / "b.kicad_sch") and not found.certain
    (folder / "~b.kicad_sch.lck").write_text("")
    asked = FakeKiCad(tmp_path, answer_of("b.kicad_sch"))
    found = find_drawings(env | asked.env)
    assert found.files == (folder / "b.kicad_sch",) and found.certain
    (config / "eeschema.json").write_text("{")
    assert find_drawings(env).files == (folder / "b.kicad_sch",) and not find_drawings(env).certain


def test_the_user_is_asked(tmp_path: Path) -> None:
    """The page lists the drawings; only its own address is answered; what is picked comes back."""
    files = [tmp_path / "a.kicad_sch", tmp_path / "<b>.kicad_sch"]
    seen: list[str] = []

    def user(address: str) -> None:
        def act() -> None:
            seen.append(urllib.request.urlopen(address, timeout=20).read().decode())
            try:
                urllib.request.urlopen(address.replace("word=", "word=x") + "&file=0", timeout=20)
            except urllib.error.HTTPError as error:
                seen.append(str(error.code))
            urllib.request.urlopen(address + "&file=1", timeout=20).read()

        threading.Thread(target=act, daemon=True).start()

    assert ask(files, "two are open", user, wait_s=60) == files[1]
    assert "&lt;b&gt;.kicad_sch" in seen[0] and "two are open" in seen[0]
    assert seen[1] == "404"
    assert ask(files, "two are open", lambda _: None, wait_s=0.1) is None


def test_a_connection_on_which_nothing_comes_stops_nobody_and_other_hosts_get_nothing(tmp_path: Path) -> None:
    """A browser opens connections ahead; a page from elsewhere may name this computer by a name of its own."""
    files = [tmp_path / "a.kicad_sch", tmp_path / "b.kicad_sch"]
    seen: list[int] = []

    def user(address: str) -> None:
        place = urllib.parse.urlsplit(address)

        def act() -> None:
            with socket.create_connection((place.hostname, place.port), timeout=20):  # silent to the end
                foreign = urllib.request.Request(address + "&file=1", headers={"Host": "elsewhere.example"})
                try:
                    urllib.request.urlopen(foreign, timeout=20)
                except urllib.error.HTTPError as refused:
                    seen.append(refused.code)
                seen.append(urllib.request.urlopen(address + "&file=0", timeout=20).status)

        threading.Thread(target=act, daemon=True).start()

    started = time.monotonic()
    assert ask(files, "two are open", user, wait_s=60) == files[0]
    assert time.monotonic() - started < 30
    assert seen[0] == 404


def test_a_connection_on_which_nothing_comes_is_closed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("loadloom.plugin.kicad.asking.SILENCE_S", 0.3)
    files = [tmp_path / "a.kicad_sch", tmp_path / "b.kicad_sch"]
    got: list[bytes] = []

    def user(address: str) -> None:
        place = urllib.parse.urlsplit(address)
        with socket.create_connection((place.hostname, place.port), timeout=20) as silent:
            got.append(silent.recv(1))

    assert ask(files, "two are open", user, wait_s=0.1) is None
    assert got == [b""]
