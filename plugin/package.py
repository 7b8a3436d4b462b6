"""Builds the archive for KiCad's Plugin and Content Manager: ``python plugin/package.py [FOLDER]``, in a checkout.

The archive holds the button (plugin.json, entry script, icons) and this project's source as an archive of its
own, which the entry script installs into an environment of its own. Built twice, it is the same to the byte:
names are sorted, and dates and rights are fixed.
"""

from __future__ import annotations

import io
import json
import sys
import tomllib
import zipfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
BUTTON = ("plugin.json", "requirements.txt", "open_report.py")
ICONS = ("light_24.png", "light_48.png", "dark_24.png", "dark_48.png")
SOURCE_FILES = ("pyproject.toml", "README.md", "LICENSE", ".ci/build_backend.py")
SOURCE_FOLDERS = ("graph", "reports", "plugin", "fixtures/observatory")
SOURCE_SUFFIXES = (
    ".py", ".typed", ".csv", ".json", ".txt", ".html", ".css", ".js", ".toml", ".png", ".md", ".xsd",
    ".kicad_sym", ".kicad_sch", ".kicad_pro", ".kicad_pcb", ".kicad_jobset",
)  # fmt: skip
LEFT_OUT = ("pictures", "__pycache__")
_DATE = (1980, 1, 1, 0, 0, 0)


def main(arguments: list[str]) -> int:
    """Write ``loadloom-VERSION-kicad.zip`` into a folder (default: ``dist``) and say where."""
    folder = Path(arguments[0]) if arguments else Path("dist")
    folder.mkdir(parents=True, exist_ok=True)
    archive = folder / f"loadloom-{version()}-kicad.zip"
    archive.write_bytes(package())
    print(archive)
    return 0


def version() -> str:
    """The project's version."""
    return str(_project()["version"])


def package() -> bytes:
    """The archive for the Plugin and Content Manager."""
    files = {f"plugins/{name}": (ROOT / "plugin" / name).read_bytes() for name in BUTTON}
    files |= {f"plugins/icons/{name}": (ROOT / "plugin/icons" / name).read_bytes() for name in ICONS}
    files[f"plugins/loadloom-{version()}.zip"] = source()
    files["resources/icon.png"] = (ROOT / "plugin/icons/package_64.png").read_bytes()
    files["metadata.json"] = (json.dumps(metadata(), indent=2, ensure_ascii=False) + "\n").encode("utf-8")
    return _zipped(files)


def source() -> bytes:
    """This project's source as an archive that pip installs."""
    top = f"loadloom-{version()}"
    return _zipped({f"{top}/{name}": (ROOT / name).read_bytes() for name in sorted(_source_files())})


def metadata() -> dict[str, Any]:
    """What the Plugin and Content Manager shows, by its schema."""
    project, button = _project(), json.loads((ROOT / "plugin/plugin.json").read_text(encoding="utf-8"))
    return {
        "$schema": "https://go.kicad.org/pcm/schemas/v1",
        "name": "loadloom",
        "description": project["description"],
        "description_full": (
            "Reads a drawn power harness, solves the current in every wire and connector pin, and finds the "
            "largest current that a fault could hold there without anything opening. The button in the schematic "
            "editor makes a workbook and a page beside the project. It needs Python 3.11 or newer; the first press "
            "makes an environment of its own and needs the network. A calculation, not a certification."
        ),
        "identifier": button["identifier"],
        "type": "plugin",
        "author": {"name": project["authors"][0]["name"], "contact": {}},
        "license": project["license"],
        "resources": {},
        "tags": ["harness", "wiring", "power", "protection"],
        "versions": [{"version": version(), "status": "testing", "kicad_version": "9.0", "runtime": "ipc"}],
    }


def _project() -> dict[str, Any]:
    with (ROOT / "pyproject.toml").open("rb") as file:
        project = tomllib.load(file)["project"]
    assert isinstance(project, dict)
    return project


def _source_files() -> Iterator[str]:
    yield from SOURCE_FILES
    for folder in SOURCE_FOLDERS:
        for file in (ROOT / folder).rglob("*"):
            name = file.relative_to(ROOT)
            known = file.suffix in SOURCE_SUFFIXES or file.name == "sym-lib-table"
            made = folder.startswith("fixtures") and file.suffix in (".json", ".html")
            if file.is_file() and known and not made and not set(LEFT_OUT) & set(name.parts):
                yield name.as_posix()


def _zipped(files: Mapping[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name in sorted(files):
            entry = zipfile.ZipInfo(name, _DATE)
            entry.external_attr = 0o100644 << 16
            entry.create_system = 3
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, files[name])
    return out.getvalue()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
