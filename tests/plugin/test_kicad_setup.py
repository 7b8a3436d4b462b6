"""Putting loadloom into KiCad and taking it out again, on configuration that the real KiCad wrote."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path, PurePosixPath, PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st
from kicad_windows import TABLES, kicad_version, make_configuration, private_environment
from programs import need
from shared_results import once, shared_folder

from loadloom.plugin.cli import main
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.kicad import setup
from loadloom.plugin.kicad.fields_presets import NAMES, with_presets, without_presets
from loadloom.plugin.kicad.json_text import JsonText
from loadloom.plugin.kicad.library_table import LibraryTable
from loadloom.plugin.kicad.places import config_root, data_roots, installations
from loadloom.plugin.kicad.setup import (
    ENTRY_NAME,
    Computer,
    add,
    add_to_project,
    project_status,
    remove,
    remove_from_project,
    status,
)
from loadloom.plugin.roles import FIELDS

CASE = Path(__file__).resolve().parents[2] / "fixtures" / "case_05_thin_pair_pooled"


def contents(folder: Path) -> dict[str, bytes]:
    return {str(f.relative_to(folder)): f.read_bytes() for f in sorted(folder.rglob("*")) if f.is_file()}


@pytest.fixture
def home(tmp_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home with a copy of the configuration that the real KiCad wrote, once for the whole run."""
    need("kicad-cli")
    folder = shared_folder(tmp_path_factory) / "kicad_configuration"

    def made() -> Path:
        env = private_environment(folder)
        config = make_configuration(env, CASE / "harness.kicad_sch")
        (config / "sym-lib-table").write_text(
            "(sym_lib_table\n  (version 7)\n"
            '  (lib (name "own")(type "KiCad")(uri "/own.kicad_sym")(options "")(descr ""))\n)\n'
        )
        return Path(env["HOME"])

    written = once(folder, "home", made)
    copied = Path(private_environment(tmp_path)["HOME"])
    shutil.copytree(written, copied, dirs_exist_ok=True)
    return copied


def computer(home: Path, running: Callable[[], list[str]] = list, python: str = "/opt/tool/bin/python") -> Computer:
    return Computer("linux", {"HOME": str(home)}, running, python)


def config_of(home: Path) -> Path:
    return home / ".config" / "kicad" / kicad_version()


def test_add_then_remove_leaves_every_byte(home: Path) -> None:
    before = contents(home)
    add(computer(home))
    during = contents(home)
    assert {name for name in before if during[name] != before[name]} == {
        f".config/kicad/{kicad_version()}/{name}"
        for name in ("eeschema.json", "kicad_common.json", "sym-lib-table")
    }
    remove(computer(home))
    assert contents(home) == before


def test_nothing_else_changes(home: Path) -> None:
    config = config_of(home)
    before = {name: json.loads((config / name).read_text()) for name in ("eeschema.json", "kicad_common.json")}
    add(computer(home))
    command = '"/opt/tool/bin/python" -I -m loadloom.plugin.kicad.script "%I" "%O"'
    editor = json.loads((config / "eeschema.json").read_text())
    for kind, target in (("bom", "parts"), ("netlist", "netlist")):
        added = editor[kind]["plugins"].pop()
        assert Path(added.pop("path")).is_file()
        assert added == {"name": ENTRY_NAME, "command": f"{command} {target}"}
    assert editor == before["eeschema.json"]
    common = json.loads((config / "kicad_common.json").read_text())
    assert common["api"].pop("enable_server") is True
    assert before["kicad_common.json"]["api"].pop("enable_server") is False
    assert common == before["kicad_common.json"]


def test_kicad_itself_reads_the_library(home: Path, tmp_path: Path) -> None:
    """A drawing of library symbols without a table of its own: the rule check finds the library through ours."""
    folder = tmp_path / "drawing"
    shutil.copytree(CASE, folder)
    (folder / "sym-lib-table").unlink()
    env = private_environment(tmp_path)

    def complaints() -> int:
        out = tmp_path / "erc.json"
        command = [need("kicad-cli"), "sch", "erc", "--severity-all", "--format", "json", "-o", str(out)]
        subprocess.run([*command, str(folder / "harness.kicad_sch")], env=env, check=True, capture_output=True)
        sheets = json.loads(out.read_text())["sheets"]
        return sum(v["type"] == "lib_symbol_issues" for sheet in sheets for v in sheet["violations"])

    assert complaints() > 0
    add(computer(home))
    assert complaints() == 0


def test_adding_twice_is_adding_once_and_keeps_the_first_copies(home: Path) -> None:
    before = contents(home)
    add(computer(home))
    once = contents(home)
    add(computer(home))
    assert contents(home) == once
    add(computer(home, python="/other/python"))
    editor = json.loads((config_of(home) / "eeschema.json").read_text())
    assert [e["command"].startswith('"/other/python"') for e in editor["netlist"]["plugins"]] == [True]
    remove(computer(home))
    assert contents(home) == before


def test_a_failure_anywhere_leaves_everything_as_it_was(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whichever file can't be written, nothing stays behind; what was recorded before is kept."""
    before, folders = contents(home), {place for place in home.rglob("*") if place.is_dir()}
    write = setup._write_file
    files: list[Path] = []

    def failing(file: Path, content: bytes) -> None:
        files.append(file)
        if len(files) == stop_at[0]:
            raise UnusableError("can't be written: no space left", file=file)
        write(file, content)

    monkeypatch.setattr(setup, "_write_file", failing)
    stop_at = [0]
    while stop_at[0] < 40:
        stop_at[0] += 1
        files.clear()
        try:
            add(computer(home))
        except UnusableError:
            assert contents(home) == before, files[-1]
            assert {place for place in home.rglob("*") if place.is_dir()} == folders
            continue
        break
    assert 10 < stop_at[0] < 40
    assert files[0].name == "added.json"  # What is about to change is recorded first.
    monkeypatch.undo()
    remove(computer(home))
    assert contents(home) == before


def test_one_sentence_says_what_is_still_needed(home: Path) -> None:
    def needed(lines: list[str]) -> list[str]:
        return [line for line in lines if "schematic editor once" in line]

    (config_of(home) / "eeschema.json").unlink()
    (config_of(home) / "sym-lib-table").unlink()
    said = add(computer(home))
    assert needed(said) == [
        f"KiCad {kicad_version()}: still missing: the symbol library and the script entries; start the schematic "
        "editor once, close it, and run loadloom kicad add again"
    ]
    config = make_configuration({"HOME": str(home), "TMPDIR": str(home), **_path()}, CASE / "harness.kicad_sch")
    assert (config / "eeschema.json").is_file()
    said = add(computer(home))
    assert not needed(said) and "all is in place" in said[-1]


def _path() -> dict[str, str]:
    return {"PATH": os.environ["PATH"], "LC_ALL": "C.UTF-8"}


def test_what_kicad_wrote_meanwhile_stays(home: Path) -> None:
    """KiCad lays its files out anew when it ends: only what is ours is taken out, and the copies are kept."""
    add(computer(home))
    file = config_of(home) / "eeschema.json"
    editor = json.loads(file.read_text())
    editor["appearance"]["show_hidden_pins"] = not editor["appearance"]["show_hidden_pins"]
    editor["bom"]["selected_plugin"] = "bom_csv_grouped_extra"
    file.write_text(json.dumps(editor, indent=4, sort_keys=True))
    said = remove(computer(home))
    after = json.loads(file.read_text())
    for kind in ("bom", "netlist"):
        editor[kind]["plugins"].pop()
    assert after == editor
    assert any("are kept in" in line for line in said)
    assert (config_of(home) / "loadloom" / "before" / "eeschema.json").is_file()


def test_the_server_that_was_on_before_stays_on(home: Path) -> None:
    file = config_of(home) / "kicad_common.json"
    common = json.loads(file.read_text())
    common["api"] = {"enable_server": True, "interpreter_path": "/gone/python"}
    file.write_text(json.dumps(common, indent=2))
    before = contents(home)
    add(computer(home))
    assert json.loads(file.read_text())["api"] == {
        "enable_server": True,
        "interpreter_path": "/opt/tool/bin/python",
    }
    remove(computer(home))
    assert contents(home) == before


def test_configuration_without_the_keys(home: Path) -> None:
    """An older or trimmed configuration gets the missing lists and members, and loses them again."""
    for name in ("eeschema.json", "kicad_common.json"):
        (config_of(home) / name).write_text("{}\n")
    before = contents(home)
    add(computer(home))
    assert len(json.loads((config_of(home) / "eeschema.json").read_text())["bom"]["plugins"]) == 1
    add(computer(home))
    remove(computer(home))
    assert contents(home) == before


@pytest.mark.parametrize(
    "common",
    [
        *('{"api": {"enable_server": null}}', '{"api": {"interpreter_path": null}}', '{"api": {}}'),
        '{"api": {"enable_server": null, "interpreter_path": null}}',
        *('{"api": {"enable_server": false, "interpreter_path": ""}}', '{"api": {"enable_server": null, "x": 1}}'),
        '{\n  "api": {\n    "enable_server": null\n  },\n  "other": {}\n}\n',
    ],
)
@pytest.mark.parametrize("times", [1, 2])
def test_null_and_no_member_are_told_apart_on_the_way_back(home: Path, common: str, times: int) -> None:
    (config_of(home) / "kicad_common.json").write_text(common)
    before = contents(home)
    for _ in range(times):
        add(computer(home))
    api = json.loads((config_of(home) / "kicad_common.json").read_text())["api"]
    assert api["enable_server"] is True
    assert api["interpreter_path"] == "/opt/tool/bin/python"
    remove(computer(home))
    assert contents(home) == before


def test_refused_while_kicad_runs(home: Path) -> None:
    before = contents(home)
    for work in (add, remove):
        with pytest.raises(UnusableError, match=r"KiCad is running: eeschema \(process 7\)"):
            work(computer(home, lambda: ["eeschema (process 7)"]))
    assert contents(home) == before


def test_broken_configuration_is_left_alone(home: Path) -> None:
    (config_of(home) / "eeschema.json").write_text('{"bom": ')
    before = contents(home)
    with pytest.raises(UnusableError, match=r"eeschema\.json: can't be read as JSON"):
        add(computer(home))
    assert contents(home) == before


def test_status_says_what_is_there(home: Path) -> None:
    assert all(line.endswith((": no", ": off")) for line in status(computer(home)))
    add(computer(home))
    assert not any(line.endswith((": no", ": off")) for line in status(computer(home)))


def test_another_library_of_the_name_is_left_alone(home: Path) -> None:
    table = config_of(home) / "sym-lib-table"
    text = table.read_text().replace('"own"', '"loadloom"')
    table.write_text(text)
    said = add(computer(home))
    assert any("another one of the name, /own.kicad_sym" in line for line in said)
    remove(computer(home))
    assert table.read_text() == text


def test_every_version_from_8_to_10(tmp_path: Path) -> None:
    for version in ("7.0", "8.0", "9.0", "10.0", "11.0", "9.99"):
        folder = tmp_path / ".config/kicad" / version
        folder.mkdir(parents=True)
        (folder / "eeschema.json").write_text('{\n  "bom": {\n    "plugins": []\n  }\n}\n')
        (folder / "sym-lib-table").write_text(TABLES["sym-lib-table"])
        (folder / "kicad_common.json").write_text('{\n  "api": {\n    "enable_server": false\n  }\n}\n')
    before = contents(tmp_path)
    said = add(computer(tmp_path))
    assert {line.split(":")[0] for line in said} == {"KiCad 8.0", "KiCad 9.0", "KiCad 10.0"}
    assert "KiCad 8.0: no button: that needs KiCad 9 or later" in said
    plugins = tmp_path / ".local/share/kicad"
    assert sorted(p.parent.parent.parent.name for p in plugins.glob("*/plugins/loadloom/plugin.json")) == [
        "10.0",
        "9.0",
    ]
    assert (plugins / "9.0/plugins/loadloom/requirements.txt").read_bytes() == b""
    remove(computer(tmp_path))
    assert contents(tmp_path) == before


def test_no_kicad(tmp_path: Path) -> None:
    with pytest.raises(UnusableError, match="no configuration of KiCad 8 to 10"):
        add(computer(tmp_path))


@pytest.mark.parametrize(
    ("platform", "env", "config", "data"),
    [
        ("linux", {"HOME": "/h"}, "/h/.config/kicad", ["/h/.local/share/kicad"]),
        ("linux", {"HOME": "/h", "XDG_CONFIG_HOME": "/c", "XDG_DATA_HOME": "/d"}, "/c/kicad", ["/d/kicad"]),
        ("linux", {"HOME": "/h", "KICAD_CONFIG_HOME": "/k", "KICAD_DOCUMENTS_HOME": "/d"}, "/k", ["/d/kicad"]),
        ("darwin", {"HOME": "/Users/u"}, "/Users/u/Library/Preferences/kicad", ["/Users/u/Documents/KiCad"]),
        (
            "win32",
            {"APPDATA": r"C:\Users\u\AppData\Roaming", "USERPROFILE": r"C:\Users\u"},
            r"C:\Users\u\AppData\Roaming\kicad",
            [r"C:\Users\u\Documents\KiCad"],
        ),
        (
            "win32",
            {"APPDATA": r"C:\a", "USERPROFILE": r"C:\u", "OneDrive": r"C:\u\OneDrive"},
            r"C:\a\kicad",
            [r"C:\u\OneDrive\Documents\KiCad", r"C:\u\Documents\KiCad"],
        ),
    ],
)
def test_places_of_every_platform(platform: str, env: dict[str, str], config: str, data: list[str]) -> None:
    """Folders as KiCad's documentation names them and its paths.cpp puts them together."""
    kind = PureWindowsPath if platform == "win32" else PurePosixPath
    assert config_root(platform, env) == kind(config)
    assert data_roots(platform, env) == tuple(kind(place) for place in data)
    there = {kind(config): ["8.0", "colors", "9.0"], kind(data[-1]): ["9.0"]}
    found = installations(platform, env, lambda place: there.get(kind(place), []))
    assert [one.version for one in found] == ["8.0", "9.0"]
    assert str(found[1].plugins) == str(kind(data[-1]) / "9.0" / "plugins")


def test_no_home_no_places() -> None:
    for platform in ("linux", "darwin", "win32"):
        assert installations(platform, {}, lambda _: ["9.0"]) == ()


def test_project_library_in_and_out(tmp_path: Path) -> None:
    shutil.copytree(CASE, tmp_path / "p")
    folder = tmp_path / "p"
    (folder / "sym-lib-table").unlink()
    before = contents(folder)
    add_to_project(folder)
    assert LibraryTable(folder / "sym-lib-table").uri() == "${KIPRJMOD}/loadloom.kicad_sym"
    assert "in the library table" in project_status(folder)[0]
    add_to_project(folder)
    remove_from_project(folder)
    assert contents(folder) == before
    (folder / "sym-lib-table").write_text('(sym_lib_table (lib (name "x") (uri "y")))')
    before = contents(folder)
    add_to_project(folder)
    remove_from_project(folder)
    assert contents(folder) == before
    (folder / "loadloom.kicad_sym").write_text("other")
    with pytest.raises(UnusableError, match="is another file"):
        add_to_project(folder)
    with pytest.raises(UnusableError, match="holds no KiCad project"):
        add_to_project(tmp_path)


def test_columns_of_the_fields_table_in_and_out(tmp_path: Path) -> None:
    """Presets for KiCad's table of symbol fields; a view that the user chose stays the one that is shown."""
    shutil.copytree(CASE, tmp_path / "p", ignore=shutil.ignore_patterns("sym-lib-table"))
    (project,) = (tmp_path / "p").glob("*.kicad_pro")
    add_to_project(tmp_path / "p")
    schematic = json.loads(project.read_text("utf-8"))["schematic"]
    assert [preset["name"] for preset in schematic["bom_presets"]] == list(NAMES)
    assert schematic["bom_settings"]["name"] == NAMES[0]
    columns = {field["name"] for preset in schematic["bom_presets"] for field in preset["fields_ordered"]}
    assert columns >= {name for spec in FIELDS.values() for name in spec.names} | {"Reference", "Value", "Role"}
    own = {"name": "", "fields_ordered": [{"name": "Colour", "show": True}]}
    for view, shown in ((own, own), ({"name": "Grouped By Value"}, None)):
        text = json.dumps({"schematic": {"bom_settings": view, "bom_presets": [{"name": "mine"}]}})
        changed = json.loads(with_presets(text))["schematic"]
        assert changed["bom_settings"] == shown if shown else changed["bom_settings"]["name"] == NAMES[0]
        assert changed["bom_presets"][0] == {"name": "mine"} and len(changed["bom_presets"]) == 4
        assert json.loads(with_presets(with_presets(text))) == json.loads(with_presets(text))
        assert json.loads(without_presets(with_presets(text)))["schematic"]["bom_presets"] == [{"name": "mine"}]


@pytest.mark.parametrize("text", ["", "[]", "{", '{"schematic": []}', '{"schematic": {"bom_presets": 5}}', "nul"])
def test_a_project_file_that_can_not_be_read(text: str, tmp_path: Path) -> None:
    shutil.copytree(CASE, tmp_path / "p", ignore=shutil.ignore_patterns("sym-lib-table"))
    (project,) = (tmp_path / "p").glob("*.kicad_pro")
    project.write_text(text)
    before = contents(tmp_path)
    for change in (add_to_project, remove_from_project):
        try:
            change(tmp_path / "p")
        except UnusableError as error:
            assert "project" in str(error) and "\n" not in str(error)
    assert project.read_text() == text
    if change is add_to_project:
        assert contents(tmp_path) == before


def test_a_project_that_kicad_has_open_is_left_alone(tmp_path: Path) -> None:
    shutil.copytree(CASE, tmp_path / "p", ignore=shutil.ignore_patterns("sym-lib-table"))
    (tmp_path / "p" / "~harness.kicad_sch.lck").write_text("{}")
    before = contents(tmp_path)
    with pytest.raises(UnusableError, match="is open in KiCad"):
        add_to_project(tmp_path / "p")
    assert contents(tmp_path) == before


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=6),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=8,
)


@given(
    st.dictionaries(st.text(max_size=4), JSON, max_size=4),
    st.lists(JSON, max_size=3),
    JSON,
    st.sampled_from([None, 1, 2, 4, "\t"]),
    st.booleans(),
)
def test_json_text_put_in_and_taken_out(
    top: dict[str, object], items: list[object], new: object, indent: int | str | None, ascii_only: bool
) -> None:
    """Against the standard library's reading, and byte by byte after taking out what was put in."""
    top = top | {"list": items}
    text = json.dumps(top, indent=indent, ensure_ascii=ascii_only)
    put_in = JsonText(text).with_item(("list",), new)
    assert json.loads(put_in) == top | {"list": [*items, new]}
    assert JsonText(put_in).without_item(("list",), len(items)) == text
    added = JsonText(text).with_value(("a new key",), new)
    assert json.loads(added) == top | {"a new key": new}
    assert JsonText(added).without_key(("a new key",)) == text
    for key in top:
        assert json.loads(JsonText(text).without_key((key,))) == {k: v for k, v in top.items() if k != key}
        assert json.loads(JsonText(text).with_value((key,), new)) == top | {key: new}


def test_processes_are_told_by_name() -> None:
    """A process that bears a KiCad program's name is seen; others are not."""
    import os
    import sys

    import psutil

    from loadloom.plugin.kicad.running import running_programs

    own = psutil.Process(os.getpid()).pid
    assert not any(str(own) in line for line in running_programs())
    program = Path(shutil.which("sleep") or "")
    if sys.platform != "linux" or not program.is_file():
        pytest.skip("needs a Linux with sleep")
    folder = Path(os.environ.get("TMPDIR", "/tmp")) / f"loadloom-{own}"
    folder.mkdir()
    try:
        named = folder / "eeschema"
        shutil.copy(program, named)
        with subprocess.Popen([named, "30"]) as process:
            try:
                assert f"eeschema (process {process.pid})" in running_programs()
            finally:
                process.kill()
    finally:
        shutil.rmtree(folder)


def test_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copytree(CASE, tmp_path / "p")
    (tmp_path / "p/sym-lib-table").unlink()
    for action, said in (("status", ": no"), ("add", "library listed in"), ("remove", "taken out of")):
        assert main(["kicad", action, "--project", str(tmp_path / "p")]) == 0
        assert said in capsys.readouterr().out
    assert main(["kicad", "add", "--project", str(tmp_path)]) == 2
    assert "holds no KiCad project" in capsys.readouterr().err
