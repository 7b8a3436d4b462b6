"""The archive for the Plugin and Content Manager, and the entry script that makes its own environment."""

from __future__ import annotations

import ast
import importlib.util
import io
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
import zipfile
from pathlib import Path
from types import ModuleType
from typing import Any

import jsonschema
import pytest
from programs import need

ROOT = Path(__file__).resolve().parents[2]
SCHEMAS = Path("/usr/share/kicad/schemas")
ENTRY = ROOT / "plugin" / "open_report.py"


def loaded(file: Path, name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, file)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    path = list(sys.path)
    spec.loader.exec_module(module)
    sys.path[:] = path
    return module


@pytest.fixture
def package() -> ModuleType:
    return loaded(ROOT / "plugin" / "package.py", "package_script")


@pytest.fixture
def entry(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> ModuleType:
    """The entry script as a module, with a home of its own; its browser fetches the page until it is final."""
    module = loaded(ENTRY, "entry_script")
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.delenv("XDG_DATA_HOME", raising=False)
    monkeypatch.setattr(module, "HERE", str(tmp_path / "plugin"))
    (tmp_path / "plugin").mkdir()
    module.fetched = []  # type: ignore[attr-defined]

    def browse(address: str) -> None:
        def fetch() -> None:
            while True:
                text = urllib.request.urlopen(address, timeout=20).read().decode()
                module.fetched.append(text)
                if 'http-equiv="refresh"' not in text:
                    return

        if address.startswith("http"):
            threading.Thread(target=fetch, daemon=True).start()

    monkeypatch.setattr(module.webbrowser, "open", browse)
    return module


def last_page(entry: ModuleType) -> str:
    """The final page as the browser got it; the script may return a moment before the browser's thread notes it."""
    end = time.monotonic() + 20
    while time.monotonic() < end:
        if entry.fetched and 'http-equiv="refresh"' not in entry.fetched[-1]:
            break
        time.sleep(0.05)
    return str(entry.fetched[-1])


def test_a_page_that_changes_while_it_is_sent_arrives_whole(entry: ModuleType) -> None:
    page = entry.Page()
    page.content, stop = b"short", threading.Event()

    def change() -> None:
        while not stop.is_set():
            page.content = b"short" if len(page.content) > 5 else b"rather longer"

    changing = threading.Thread(target=change, daemon=True)
    changing.start()
    try:
        got = {urllib.request.urlopen(page.address, timeout=20).read() for _ in range(200)}
    finally:
        stop.set()
        changing.join()
    assert got <= {b"short", b"rather longer"}


def test_a_page_that_is_fetched_too_early_is_fetched_again(entry: ModuleType) -> None:
    page = entry.Page()
    early = urllib.request.urlopen(page.address, timeout=20).read().decode()
    assert 'http-equiv="refresh"' in early


def test_a_silent_connection_stops_nobody_and_other_hosts_get_nothing(entry: ModuleType) -> None:
    page = entry.Page()
    place = urllib.parse.urlsplit(page.address)
    with socket.create_connection((place.hostname, place.port), timeout=20):
        assert urllib.request.urlopen(page.address, timeout=20).status == 200
        foreign = urllib.request.Request(page.address, headers={"Host": "elsewhere.example"})
        with pytest.raises(urllib.error.HTTPError, match="404"):
            urllib.request.urlopen(foreign, timeout=20)


def test_a_connection_on_which_nothing_comes_is_closed(entry: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(entry, "SILENCE_S", 0.3)
    place = urllib.parse.urlsplit(entry.Page().address)
    with socket.create_connection((place.hostname, place.port), timeout=20) as silent:
        assert silent.recv(1) == b"", "it waited for more than 20 s otherwise"


def schema(name: str) -> dict[str, Any]:
    need("kicad-cli")
    found = json.loads((SCHEMAS / name).read_text(encoding="utf-8"))
    assert isinstance(found, dict)
    return found


# ---- plugin.json, icons, archive -----------------------------------------------------------------------------


def test_plugin_json_fits_kicads_schema() -> None:
    plugin = json.loads((ROOT / "plugin/plugin.json").read_text(encoding="utf-8"))
    jsonschema.validate(plugin, schema("api.v1.schema.json"))
    (action,) = plugin["actions"]
    assert action["scopes"] == ["schematic"] and action["show-button"] is True
    assert (ROOT / "plugin" / action["entrypoint"]).is_file()
    assert (ROOT / "plugin/requirements.txt").read_bytes() == b""


def test_icons_are_there_in_both_sizes() -> None:
    """KiCad shows no button without them. PNG: bytes 16 to 24 are width and height (ISO/IEC 15948, 11.2.2)."""
    plugin = json.loads((ROOT / "plugin/plugin.json").read_text(encoding="utf-8"))
    for kind in ("icons-light", "icons-dark"):
        sizes = [
            struct.unpack(">II", (ROOT / "plugin" / name).read_bytes()[16:24])
            for name in plugin["actions"][0][kind]
        ]
        assert sizes == [(24, 24), (48, 48)]
    assert struct.unpack(">II", (ROOT / "plugin/icons/package_64.png").read_bytes()[16:24]) == (64, 64)


def test_archive_is_the_same_twice_and_valid(package: ModuleType, tmp_path: Path) -> None:
    first = package.package()
    assert first == package.package()
    archive = zipfile.ZipFile(io.BytesIO(first))
    jsonschema.validate(json.loads(archive.read("metadata.json")), schema("pcm.v1.schema.json"))
    assert not any("download" in key for version in package.metadata()["versions"] for key in version)
    file = tmp_path / "package.zip"
    file.write_bytes(first)
    validator = Path(sys.executable).with_name("kicad-python-packager")
    if not validator.exists():
        need("kicad-python-packager")
    done = subprocess.run([validator, "validate", file], capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0 and "Validation passed." in done.stdout, done.stdout


def test_archive_holds_the_whole_source(package: ModuleType) -> None:
    listed = subprocess.run(
        ["git", "ls-files", "-z", "graph", "reports", "plugin", "fixtures/observatory"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    ).stdout.split("\0")  # fmt: skip
    if not any(listed):
        pytest.skip("not a git checkout")
    names = {name.partition("/")[2] for name in zipfile.ZipFile(io.BytesIO(package.source())).namelist()}
    wanted = {
        name for name in listed if name and "/pictures/" not in name and not name.endswith((".sh", "GUIDE.md"))
    }
    assert wanted - names == set()


# ---- the entry script ----------------------------------------------------------------------------------------


def test_entry_script_is_old_fashioned_and_alone() -> None:
    tree = ast.parse(ENTRY.read_text(encoding="utf-8"), feature_version=(3, 6))
    imported = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    imported |= {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert {name.split(".")[0] for name in imported} <= sys.stdlib_module_names


def test_entry_script_starts_the_recorded_interpreter(tmp_path: Path) -> None:
    """Modules of the standard library's names beside it are not taken, and KiCad's search path is not handed on."""
    folder = tmp_path / "plugin"
    folder.mkdir()
    shutil.copy(ENTRY, folder)
    for name in ("json", "html", "http", "subprocess"):
        (folder / f"{name}.py").write_text("raise SystemExit('the wrong module')")
    note = tmp_path / "note"
    python = tmp_path / "python"
    python.write_text(f'#!/bin/sh\necho "$@" "[$PYTHONPATH]" >"{note}"\n')
    python.chmod(0o755)
    (folder / "environment.json").write_text(json.dumps({"python": str(python)}))
    env = os.environ | {"PYTHONPATH": "/wrong", "HOME": str(tmp_path)}
    subprocess.run([sys.executable, folder / "open_report.py"], env=env, check=True, timeout=60)
    assert note.read_text() == "-I -m loadloom.plugin.kicad.button []\n"


def test_a_start_that_fails_is_shown(entry: ModuleType, tmp_path: Path) -> None:
    python = tmp_path / "python"
    python.write_text('#!/bin/sh\necho "<no> module" >&2; exit 1\n')
    python.chmod(0o755)
    assert entry.run(str(python)) == 1
    assert "could not be started" in last_page(entry) and "&lt;no&gt; module" in last_page(entry)


def test_too_old_a_python_is_said(entry: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "plugin/loadloom-9.9.9.zip").write_bytes(b"")
    monkeypatch.setattr(entry, "NEEDED", (99, 0))
    assert entry.main() == 2
    assert "needs Python 99.0 or newer" in last_page(entry)
    assert f"({sys.version_info[0]}.{sys.version_info[1]})" in last_page(entry)
    assert not (tmp_path / "home/.local/share/loadloom/setting_up").exists()


def test_nothing_is_fetched_by_name(entry: ModuleType, tmp_path: Path) -> None:
    """A button whose environment is gone says what to do; it installs only what lies beside it."""
    (tmp_path / "plugin/environment.json").write_text('{"python": "/gone/python"}')
    assert entry.main() == 2
    assert "Run `loadloom kicad add`" in last_page(entry)
    assert not (tmp_path / "home/.local/share/loadloom/environment").exists()


def test_a_failed_download_is_said_and_leaves_nothing(entry: ModuleType, tmp_path: Path) -> None:
    (tmp_path / "plugin/loadloom-9.9.9.zip").write_bytes(b"no archive")
    assert entry.main() == 2
    last = last_page(entry)
    assert "can&#x27;t be set up" in last or "can't be set up" in last
    assert "Is this computer connected to the network?" in last and "zipfile" in last
    assert not (tmp_path / "home/.local/share/loadloom/environment").exists()
    assert any('http-equiv="refresh"' in page for page in entry.fetched), "progress was shown"


def test_a_second_press_while_setting_up(
    entry: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    lock = tmp_path / "home/.local/share/loadloom/setting_up"
    lock.parent.mkdir(parents=True)
    lock.write_text("http://127.0.0.1:1/first")
    opened: list[str] = []
    monkeypatch.setattr(entry.webbrowser, "open", opened.append)
    assert entry.main() == 2
    assert opened == ["http://127.0.0.1:1/first"]
    assert lock.exists()


def test_a_home_that_cannot_be_written_is_said(entry: ModuleType, tmp_path: Path) -> None:
    (tmp_path / "home").write_text("a file in the way")
    assert entry.main() == 2
    assert "can&#x27;t be written" in last_page(entry) or "can't be written" in last_page(entry)


def test_the_archive_sets_itself_up_and_reports(package: ModuleType, tmp_path: Path) -> None:
    """All the way from the archive alone: environment made, loadloom installed into it, report written."""
    folder, project = tmp_path / "installed", tmp_path / "project"
    zipfile.ZipFile(io.BytesIO(package.package())).extractall(folder)
    shutil.copytree(ROOT / "fixtures/case_05_thin_pair_pooled", project)
    # A browser that fetches what it is sent to, as the set-up waits for its last page to be seen.
    browser = tmp_path / "browser.py"
    browser.write_text(
        "import sys, time, urllib.request\n"
        "while sys.argv[1].startswith('http'):\n"
        "    page = urllib.request.urlopen(sys.argv[1]).read().decode()\n"
        f"    open({str(tmp_path / 'last.html')!r}, 'w').write(page)\n"
        "    if 'refresh' not in page: break\n"
        "    time.sleep(0.5)\n"
    )
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("XDG_", "KICAD", "PYTHON"))}
    env = kept | {
        "HOME": str(tmp_path / "home"),
        "KIPRJMOD": str(project),
        "BROWSER": f"{sys.executable} {browser} %s &",
    }
    command = [sys.executable, folder / "plugins/open_report.py"]
    done = subprocess.run(command, env=env, capture_output=True, text=True, timeout=600, check=False)
    page = (tmp_path / "last.html").read_text()
    if done.returncode != 0 and "connected to the network" in page and os.environ.get("CI") != "true":
        pytest.skip("needs the network")
    assert done.returncode == 0, page
    assert "loadloom is set up" in page
    assert zipfile.is_zipfile(project / "harness.xlsx")
    assert "path-unprotected" in (project / "harness.html").read_text("utf-8")
    # The next press finds the environment made.
    (project / "harness.xlsx").unlink()
    (tmp_path / "last.html").unlink()
    assert subprocess.run(command, env=env, timeout=120, check=False).returncode == 0
    assert (project / "harness.xlsx").is_file() and not (tmp_path / "last.html").exists()
