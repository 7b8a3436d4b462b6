"""Putting the symbol library, the script entries and the button into KiCad, and taking them out again.

Nothing but our own entries changes in a configuration file; a copy of each stands in ``loadloom/before`` of the
configuration folder until a removal finds the files as they were.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.kicad.fields_presets import with_presets, without_presets
from loadloom.plugin.kicad.json_text import JsonText
from loadloom.plugin.kicad.library_table import EMPTY, LibraryTable
from loadloom.plugin.kicad.places import (
    FIRST_WITH_BUTTONS,
    NEWEST,
    OLDEST,
    Installation,
    folders_on_disk,
    installations,
)
from loadloom.plugin.kicad.running import running_programs
from loadloom.plugin.writing import edit_files

ENTRY_NAME = "loadloom load report"
LIBRARY_FILE = "loadloom.kicad_sym"
LIBRARY_TABLE = "sym-lib-table"
OWN_FOLDER = "loadloom"
BUTTON_FILES = (
    "plugin.json",
    "requirements.txt",
    "open_report.py",
    "icons/light_24.png",
    "icons/light_48.png",
    "icons/dark_24.png",
    "icons/dark_48.png",
)
ENVIRONMENT_FILE = "environment.json"
"""Beside the entry script: which interpreter has loadloom."""

_ENTRIES = (("bom", "plugins"), ("netlist", "plugins"))
_SERVER = ("api", "enable_server")
_INTERPRETER = ("api", "interpreter_path")


@dataclass(frozen=True, slots=True)
class Computer:
    """What the set-up depends on, so that tests can hand in another one."""

    platform: str = sys.platform
    env: Mapping[str, str] = field(default_factory=lambda: dict(os.environ))
    running: Callable[[], Sequence[str]] = running_programs
    python: str = sys.executable

    def found(self) -> tuple[Installation, ...]:
        """KiCad versions of this user."""
        return installations(self.platform, self.env, folders_on_disk)


@dataclass(slots=True)
class _Plan:
    """Files to write in one KiCad version, worked out whole before anything is written."""

    one: Installation
    changes: dict[Path, bytes] = field(default_factory=dict)
    said: list[str] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    recorded: dict[str, Any] = field(default_factory=dict)

    def change(self, file: Path, before: bytes, after: bytes) -> None:
        if before != after:
            self.changes[file] = after


def run(action: str, project: Path | None, *, button: bool = True) -> list[str]:
    """``add``, ``remove`` or ``status``, in a project's folder or in this user's KiCad; gives what to print."""
    if project is not None:
        of_project = {"add": add_to_project, "remove": remove_from_project, "status": project_status}
        return of_project[action](project)
    computer = Computer()
    if action == "add":
        return add(computer, button=button)
    return remove(computer) if action == "remove" else status(computer)


def add(computer: Computer, *, button: bool = True) -> list[str]:
    """Set every KiCad found up; gives what was done, line by line.

    ``button``: the plugin that needs KiCad's own server switched on (version 9 and later) is put in place too.

    Raises:
        UnusableError: no KiCad was found, it is running, or a file can't be read or written.
    """
    found = _found(computer)
    _refuse_running(computer)
    plans = [_plan_adding(one, computer, button) for one in found]
    undo = _Undo()
    try:
        for plan in plans:
            # What is about to change is recorded first: a run that is cut off here can still be taken back.
            _record(plan, undo)
            _keep_copies(plan, undo)
            for file, content in plan.changes.items():
                undo.write(file, content)
            if button and plan.one.major >= FIRST_WITH_BUTTONS:
                _put_button(plan, computer, undo)
    except BaseException:
        undo.all()
        raise
    return [f"KiCad {plan.one.version}: {line}" for plan in plans for line in (*plan.said, _needed(plan))]


def _needed(plan: _Plan) -> str:
    """One sentence: what is still to be done."""
    if plan.missing:
        return (
            f"still missing: {' and '.join(plan.missing)}; start the schematic editor once, close it, and run "
            "loadloom kicad add again"
        )
    return "all is in place; the next start of the schematic editor has it"


def remove(computer: Computer) -> list[str]:
    """Take everything out of every KiCad found; gives what was done. Raises as ``add`` does."""
    found = _found(computer)
    _refuse_running(computer)
    plans = [_plan_removing(one) for one in found]
    for plan in plans:
        _write(plan)
        _take_button(plan)
        _drop_copies(plan)
    return [f"KiCad {plan.one.version}: {line}" for plan in plans for line in plan.said]


def status(computer: Computer) -> list[str]:
    """What is there, for every KiCad found. Raises UnusableError where none is found."""
    lines = []
    for one in _found(computer):
        table = one.config / LIBRARY_TABLE
        uri = LibraryTable(table).uri() if table.is_file() else None
        lines.append(f"KiCad {one.version}: symbol library: " + (f"in the library table, {uri}" if uri else "no"))
        editor = _json(one.config / "eeschema.json")
        for path, label in zip(_ENTRIES, ("parts-list generator", "netlist exporter"), strict=True):
            entry = _own_entry(editor, path) if editor else None
            lines.append(f"KiCad {one.version}: {label}: " + (str(entry["command"]) if entry else "no"))
        if one.major >= FIRST_WITH_BUTTONS:
            folder = one.plugins / OWN_FOLDER
            lines.append(f"KiCad {one.version}: button: " + (str(folder) if folder.is_dir() else "no"))
            common = _json(one.config / "kicad_common.json")
            on = bool(common and common.get(*_SERVER))
            lines.append(f"KiCad {one.version}: KiCad's own server, which runs buttons: " + ("on" if on else "off"))
    return lines


def add_to_project(folder: Path) -> list[str]:
    """Put the symbol library into a project's folder and library table, and our columns into its fields table.

    Gives what was done.

    Raises:
        UnusableError: the folder is no project, the project is open, another library of the name stands there, or a
            file can't be written. Then nothing is changed.
    """
    _refuse_no_project(folder)
    undo = _Undo()
    try:
        return _add_to_project(folder, undo)
    except BaseException:
        undo.all()
        raise


def _add_to_project(folder: Path, undo: _Undo) -> list[str]:
    library, table = folder / LIBRARY_FILE, folder / LIBRARY_TABLE
    ours, uri = _own_file(LIBRARY_FILE), "${KIPRJMOD}/" + LIBRARY_FILE
    before = LibraryTable(table).uri() if table.is_file() else None
    if before not in (None, uri):
        raise UnusableError(f"lists another library of this name, {before}", file=table, hint="rename it there")
    said = []
    if not library.exists() or library.read_bytes() != ours:
        if library.exists():
            raise UnusableError("is another file than the library", file=library, hint="move it away first")
        undo.write(library, ours)
        said.append(f"library copied to {library}")
    if not table.is_file():
        undo.write(table, EMPTY)
    if before is None:
        undo.write(table, LibraryTable(table).with_library(uri))
        said.append(f"library listed in {table}")
    for project in _projects(folder):
        text = _project_text(project)
        if (changed := _presets(project, text, with_presets)) != text:
            undo.write(project, changed.encode("utf-8"))
            said.append(f"columns for Tools > Edit Symbol Fields put into {project}, as view presets")
    return said or ["library and columns were there already"]


def _projects(folder: Path) -> list[Path]:
    return sorted(folder.glob("*.kicad_pro"))


def _project_text(project: Path) -> str:
    """The text of a project's file. Raises UnusableError where it can't be read, or KiCad has the project open."""
    for lock in (project.with_name(f"~{project.name}.lck"), project.with_name(f"~{project.stem}.kicad_sch.lck")):
        if lock.exists():
            raise UnusableError(
                "is open in KiCad",
                file=project,
                hint="close it first: KiCad writes that file when it ends",
            )
    try:
        return project.read_bytes().decode("utf-8")
    except (OSError, ValueError) as error:
        raise UnusableError(f"can't be read: {error}", file=project) from error


def _presets(project: Path, text: str, change: Callable[[str], str]) -> str:
    try:
        return change(text)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise UnusableError(f"can't be read as a project: {error}", file=project) from error


def remove_from_project(folder: Path) -> list[str]:
    """Take the symbol library out of a project; drawings keep their own copies of its symbols."""
    _refuse_no_project(folder)
    library, table = folder / LIBRARY_FILE, folder / LIBRARY_TABLE
    said = []
    if table.is_file() and LibraryTable(table).uri() == "${KIPRJMOD}/" + LIBRARY_FILE:
        rest = LibraryTable(table).without_library()
        if rest == EMPTY:
            table.unlink()
        else:
            _write_file(table, rest)
        said.append(f"library taken out of {table}")
    if library.is_file() and library.read_bytes() == _own_file(LIBRARY_FILE):
        library.unlink()
        said.append(f"{library} removed")
    for project in _projects(folder):
        text = _project_text(project)
        if (changed := _presets(project, text, without_presets)) != text:
            _write_file(project, changed.encode("utf-8"))
            said.append(f"columns taken out of {project}")
    return said or ["nothing of loadloom was there"]


def project_status(folder: Path) -> list[str]:
    """Whether a project has the symbol library."""
    _refuse_no_project(folder)
    table = folder / LIBRARY_TABLE
    uri = LibraryTable(table).uri() if table.is_file() else None
    return [f"{folder}: symbol library: " + (f"in the library table, {uri}" if uri else "no")]


# ---- planning ------------------------------------------------------------------------------------------------


def _plan_adding(one: Installation, computer: Computer, button: bool) -> _Plan:
    plan = _Plan(one)
    _plan_library(plan)
    file = one.config / "eeschema.json"
    editor = _json(file)
    if editor is None:
        plan.missing.append("the script entries")
    else:
        before = editor.text
        made = list(_recorded(one).get("made", []))
        with _shapes(file):
            for path in _ENTRIES:
                made += [list(path[:depth]) for depth in (1, 2) if not editor.has(*path[:depth])][:1]
                editor = _with_entry(editor, path, script_entry(computer.python, _TARGETS[path[0]]))
        plan.recorded = {"made": made} if made else {}
        plan.change(file, before.encode(), editor.text.encode())
        plan.said.append(
            f'"{ENTRY_NAME}" is in Tools > Generate Legacy Bill of Materials and in File > Export > Netlist'
        )
    if one.major < FIRST_WITH_BUTTONS:
        plan.said.append("no button: that needs KiCad 9 or later")
    elif button:
        if not one.plugins.exists():
            plan.recorded["made_plugins"] = True
        _plan_server(plan, computer)
    return plan


def _plan_library(plan: _Plan) -> None:
    file = plan.one.config / LIBRARY_TABLE
    if not file.is_file():
        plan.missing.append("the symbol library")
        return
    table = LibraryTable(file)
    place = str(files("loadloom.plugin") / LIBRARY_FILE)
    uri = table.uri()
    if uri is not None and not uri.replace("\\", "/").endswith("/" + LIBRARY_FILE):
        plan.said.append(f"no library: the table lists another one of the name, {uri}")
        return
    plan.change(file, table.content, table.with_library(Path(place).as_posix()))
    plan.said.append(f"symbol library {place}")


def _plan_server(plan: _Plan, computer: Computer) -> None:
    file = plan.one.config / "kicad_common.json"
    common = _json(file)
    if common is None:
        plan.missing.append("the button's permission")
        return
    before, recorded = common.text, _recorded(plan.one) | plan.recorded
    if common.get(*_SERVER) is not True:
        _note_before(common, _SERVER, recorded)
        with _shapes(file):
            common = _with(common, _SERVER, True)
        plan.said.append("KiCad's own server, which runs buttons, switched on (Preferences > Plugins)")
    given = common.get(*_INTERPRETER)
    if not given or not Path(str(given)).exists():
        _note_before(common, _INTERPRETER, recorded)
        with _shapes(file):
            common = _with(common, _INTERPRETER, computer.python)
        recorded["own_interpreter"] = computer.python
        plan.said.append(f"interpreter for buttons: {computer.python}")
    plan.recorded = recorded
    plan.change(file, before.encode(), common.text.encode())


def _plan_removing(one: Installation) -> _Plan:
    plan = _Plan(one)
    table_file = one.config / LIBRARY_TABLE
    if table_file.is_file():
        table = LibraryTable(table_file)
        uri = (table.uri() or "").replace("\\", "/")
        if uri.endswith("/" + LIBRARY_FILE):
            plan.change(table_file, table.content, table.without_library())
            plan.said.append("symbol library taken out of the library table")
    file = one.config / "eeschema.json"
    editor = _json(file)
    if editor is not None:
        before = editor.text
        for path in _ENTRIES:
            editor = _without_entry(editor, path)
        for key in _recorded(one).get("made", []):
            if editor.get(*key) in ([], {"plugins": []}):
                editor = JsonText(editor.without_key(tuple(key)))
        if editor.text != before:
            plan.change(file, before.encode(), editor.text.encode())
            plan.said.append("script entries removed")
    recorded = _recorded(one)
    file = one.config / "kicad_common.json"
    common = _json(file)
    if common is not None and recorded:
        before = common.text
        if "enable_server" in recorded and common.get(*_SERVER) is True:
            common = _restored(common, _SERVER, recorded)
            plan.said.append("KiCad's own server switched off again")
        if "interpreter_path" in recorded and common.get(*_INTERPRETER) == recorded.get("own_interpreter"):
            common = _restored(common, _INTERPRETER, recorded)
        plan.change(file, before.encode(), common.text.encode())
    return plan


_TARGETS = {"bom": "parts", "netlist": "netlist"}
"""What the reports of each dialog are called after, so that none writes over those of the other or the button."""


def script_entry(python: str, target: str) -> dict[str, str]:
    """The entry of a script in KiCad's configuration: name, file that explains it, command.

    ``target`` is a part of the reports' names, ``NAME.parts.html``.

    ``-I``: KiCad hands its own Python's search path on, which would mix two Pythons' packages.
    """
    script = str(files("loadloom.plugin.kicad") / "script.py")
    return {
        "command": f'"{python}" -I -m loadloom.plugin.kicad.script "%I" "%O" {target}',
        "name": ENTRY_NAME,
        "path": script,
    }


def _with_entry(text: JsonText, path: tuple[str, ...], entry: Mapping[str, str]) -> JsonText:
    if _own_entry(text, path) == entry:
        return text
    text = _without_entry(text, path)
    for depth in range(1, len(path) + 1):
        if not text.has(*path[:depth]):
            text = JsonText(text.with_value(path[:depth], [] if depth == len(path) else {}))
    return JsonText(text.with_item(path, dict(entry)))


def _without_entry(text: JsonText, path: tuple[str, ...]) -> JsonText:
    while (index := _own_index(text, path)) is not None:
        text = JsonText(text.without_item(path, index))
    return text


def _own_index(text: JsonText, path: tuple[str, ...]) -> int | None:
    entries = text.get(*path)
    for index, entry in enumerate(entries if isinstance(entries, list) else []):
        if isinstance(entry, dict) and entry.get("name") == ENTRY_NAME:
            return index
    return None


def _own_entry(text: JsonText, path: tuple[str, ...]) -> dict[str, str] | None:
    index = _own_index(text, path)
    entry = text.get(*path)[index] if index is not None else None
    return entry if isinstance(entry, dict) else None


def _with(text: JsonText, path: tuple[str, ...], value: Any) -> JsonText:
    if not text.has(*path[:-1]):
        text = JsonText(text.with_value(path[:-1], {}))
    return JsonText(text.with_value(path, value))


@contextlib.contextmanager
def _shapes(file: Path) -> Iterator[None]:
    """Refuses configuration with null, or anything else, where KiCad writes an object or a list."""
    try:
        yield
    except KeyError as error:
        raise UnusableError(
            f"has no place for “{'.'.join(error.args[0])}”: what stands there is not what KiCad writes",
            file=file,
            hint="move the file away and start KiCad, which writes it anew",
        ) from error


def _note_before(text: JsonText, path: tuple[str, ...], recorded: dict[str, Any]) -> None:
    """Record what stands at a path before the first change, and in ``made`` whether the member has to be made.

    ``null`` that stands there and no member at all are two things, and each has to come back.
    """
    if path[-1] in recorded:
        return
    recorded[path[-1]] = text.get(*path)
    missing = [list(path[:depth]) for depth in range(1, len(path) + 1) if not text.has(*path[:depth])]
    recorded["made"] = [*recorded.get("made", []), *missing[:1]]


def _restored(text: JsonText, path: tuple[str, ...], recorded: Mapping[str, Any]) -> JsonText:
    """What stood there before; no member, and no object around it, where none did."""
    made = recorded.get("made", [])
    around = path[:-1]
    if list(path) not in made and list(around) not in made:
        return JsonText(text.with_value(path, recorded[path[-1]]))
    text = JsonText(text.without_key(path))
    return JsonText(text.without_key(around)) if list(around) in made and text.get(*around) == {} else text


# ---- writing -------------------------------------------------------------------------------------------------


class _Undo:
    """Writes files, and can take all of it back: the old content, no file where there was none, no new folders."""

    def __init__(self) -> None:
        self._before: dict[Path, bytes | None] = {}
        self._folders: list[Path] = []

    def write(self, file: Path, content: bytes) -> None:
        """Write a file whole. Raises UnusableError where it can't be written."""
        self._folders += [folder for folder in file.parents if folder not in self._folders and not folder.exists()]
        if file not in self._before:
            self._before[file] = file.read_bytes() if file.is_file() else None
        _write_file(file, content)

    def all(self) -> None:
        """Put everything back as it was, as far as it can be written."""
        for file, content in reversed(self._before.items()):
            with contextlib.suppress(OSError, UnusableError):
                if content is None:
                    file.unlink(missing_ok=True)
                elif not file.is_file() or file.read_bytes() != content:
                    _write_file(file, content)
        for folder in sorted(self._folders, key=lambda f: len(f.parts), reverse=True):
            with contextlib.suppress(OSError):
                folder.rmdir()


def _keep_copies(plan: _Plan, undo: _Undo) -> None:
    for file in plan.changes:
        copy = _own(plan.one) / "before" / file.name
        if not copy.exists():
            undo.write(copy, file.read_bytes())
            plan.said.append(f"{file.name} as it was is kept in {copy.parent}")


def _write(plan: _Plan) -> None:
    for file, content in plan.changes.items():
        _write_file(file, content)


def _put_button(plan: _Plan, computer: Computer, undo: _Undo) -> None:
    folder = plan.one.plugins / OWN_FOLDER
    for name in BUTTON_FILES:
        undo.write(folder / name, _own_file(name))
    note = {"python": computer.python}
    undo.write(folder / ENVIRONMENT_FILE, json.dumps(note, indent=2).encode() + b"\n")
    plan.said.append(f"button in the schematic editor's toolbar, from {folder}")


def _take_button(plan: _Plan) -> None:
    folder = plan.one.plugins / OWN_FOLDER
    if folder.is_dir():
        shutil.rmtree(folder, ignore_errors=True)
        plan.said.append(f"button removed from {folder}")
    if _recorded(plan.one).get("made_plugins") and not any(plan.one.plugins.iterdir()):
        plan.one.plugins.rmdir()


def _record(plan: _Plan, undo: _Undo) -> None:
    known = _recorded(plan.one) | plan.recorded
    if known:
        undo.write(_own(plan.one) / "added.json", json.dumps(known, indent=2).encode() + b"\n")


def _recorded(one: Installation) -> dict[str, Any]:
    found = _json(_own(one) / "added.json")
    return dict(found.value) if found is not None and isinstance(found.value, dict) else {}


def _drop_copies(plan: _Plan) -> None:
    before = _own(plan.one) / "before"
    copies = sorted(before.iterdir()) if before.is_dir() else []
    same = [copy for copy in copies if _same(copy, plan.one.config / copy.name)]
    if len(same) < len(copies):
        plan.said.append(f"changed since it was set up, so copies as they were are kept in {before}")
        for copy in same:
            copy.unlink()
        (_own(plan.one) / "added.json").unlink(missing_ok=True)
    elif _own(plan.one).is_dir():
        shutil.rmtree(_own(plan.one))
    if not plan.said:
        plan.said.append("nothing of loadloom was there")


def _same(one: Path, other: Path) -> bool:
    return other.is_file() and one.read_bytes() == other.read_bytes()


def _own(one: Installation) -> Path:
    return one.config / OWN_FOLDER


def _own_file(name: str) -> bytes:
    return files("loadloom.plugin").joinpath(*name.split("/")).read_bytes()


def _json(file: Path) -> JsonText | None:
    """A JSON file with its places; None where there is none."""
    if not file.is_file():
        return None
    try:
        return JsonText(file.read_bytes().decode("utf-8"))
    except (OSError, ValueError) as error:
        raise UnusableError(f"can't be read as JSON: {error}", file=file) from error
    except RecursionError:
        raise UnusableError("can't be read as JSON: it nests too deep", file=file) from None


def _write_file(file: Path, content: bytes) -> None:
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        before = file.read_bytes() if file.exists() else None
        edit_files({file: (before, content)})
    except OSError as error:
        raise UnusableError(f"can't be written: {error.strerror or error}", file=file) from error


def _found(computer: Computer) -> tuple[Installation, ...]:
    found = computer.found()
    if not found:
        raise UnusableError(
            f"no configuration of KiCad {OLDEST} to {NEWEST} was found for this user", hint="start KiCad once"
        )
    return found


def _refuse_running(computer: Computer) -> None:
    running = computer.running()
    if running:
        raise UnusableError(
            f"KiCad is running: {', '.join(running)}",
            hint="close it first: it writes its configuration when it ends, over what is put there now",
        )


def _refuse_no_project(folder: Path) -> None:
    if not folder.is_dir() or not list(folder.glob("*.kicad_pro")):
        raise UnusableError("holds no KiCad project", file=folder, hint="name the folder of the .kicad_pro")
