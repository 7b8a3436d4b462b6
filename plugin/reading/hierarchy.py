"""The sheets of a project as a tree of instances, from the root file down."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import shown
from loadloom.plugin.reading.sheet import SheetFile, SheetSymbol, read_sheet

SHEET_LIMIT = 10_000
DEPTH_LIMIT = 60
TOTAL_LIMIT_BYTES = 256 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class SheetInstance:
    """One sheet in one place. ``path`` is the human path (``/Dome/``), ``uuid_path`` its uuids below the root."""

    file: SheetFile
    path: str
    uuid_path: str
    full_path: str
    name: str
    symbol: SheetSymbol | None
    parent: SheetInstance | None
    dnp: bool
    number: int


@dataclass(frozen=True, slots=True)
class Hierarchy:
    """All sheets; ``instances[0]`` is the root, parents stand before their children."""

    instances: tuple[SheetInstance, ...]
    files: tuple[SheetFile, ...]

    @property
    def root(self) -> SheetFile:
        """The file that was asked for."""
        return self.instances[0].file

    def file_name(self, file: SheetFile) -> str:
        """Path of a sheet file below the root file's folder, with slashes."""
        return file.path.relative_to(self.root.path.parent).as_posix()


def read_hierarchy(root_path: Path, progress: Callable[[str], None] | None = None) -> Hierarchy:
    """Read the root sheet and every sheet below it.

    Raises UnusableError where a sheet file is missing, unreadable, outside the project's folder tree or part of
    a circle, and where the file given is itself a sheet of another drawing.
    """
    return _Walk(root_path, progress).run()


class _Walk:
    def __init__(self, root_path: Path, progress: Callable[[str], None] | None) -> None:
        self.root_path = root_path.absolute()
        self.folder = self.root_path.parent.resolve()
        self.progress = progress
        self.files: dict[Path, SheetFile] = {}
        self.read_bytes = 0
        self.instances: list[SheetInstance] = []

    def run(self) -> Hierarchy:
        root = self.read(self.root_path)
        refuse_sub_sheet(root)
        start = SheetInstance(root, "/", "/", f"/{root.uuid}", "", None, None, False, 1)
        self.instances.append(start)
        self.descend(start, (root.path,))
        return Hierarchy(tuple(self.instances), tuple(self.files.values()))

    def read(self, path: Path) -> SheetFile:
        if path not in self.files:
            if self.progress:
                self.progress(f"reading {path.name}")
            self.read_bytes += path.stat().st_size if path.is_file() else 0
            if self.read_bytes > TOTAL_LIMIT_BYTES:
                raise UnusableError(
                    f"has sheets of more than {TOTAL_LIMIT_BYTES // 1024**2} MB", shown(self.root_path)
                )
            self.files[path] = read_sheet(path)
        return self.files[path]

    def descend(self, above: SheetInstance, line_of_files: tuple[Path, ...]) -> None:
        for symbol in above.file.sheets:
            path = self.child_path(above.file, symbol)
            where = shown(above.file.path)
            if path in line_of_files:
                raise UnusableError(
                    f"sheet {symbol.name!r} is {path.name}, which holds this sheet: the sheets go in a circle",
                    where,
                    symbol.line,
                )
            if len(self.instances) >= SHEET_LIMIT or len(line_of_files) >= DEPTH_LIMIT:
                raise UnusableError(
                    f"has more than {SHEET_LIMIT:,} sheets, or nests them over {DEPTH_LIMIT} deep",
                    where,
                    symbol.line,
                )
            instance = SheetInstance(
                file=self.read(path),
                path=f"{above.path}{symbol.name}/",
                uuid_path=f"{above.uuid_path}{symbol.uuid}/",
                full_path=f"{above.full_path}/{symbol.uuid}",
                name=symbol.name,
                symbol=symbol,
                parent=above,
                dnp=above.dnp or symbol.dnp,
                number=len(self.instances) + 1,
            )
            self.instances.append(instance)
            self.descend(instance, (*line_of_files, path))

    def child_path(self, parent: SheetFile, symbol: SheetSymbol) -> Path:
        where = shown(parent.path)
        given = Path(symbol.file.replace("\\", "/"))
        path = parent.path.parent / given
        try:
            inside = path.resolve().is_relative_to(self.folder)
            exists = inside and path.exists()
        except (OSError, ValueError, RuntimeError):
            inside, exists = True, False
        if given.is_absolute() or not inside:
            raise UnusableError(
                f"sheet {symbol.name!r} names {symbol.file}, which lies outside the project's folder",
                where,
                symbol.line,
                hint="only files below the folder of the root schematic are read",
            )
        if not exists:
            raise UnusableError(f"the file of sheet {symbol.name!r}, {symbol.file}, is missing", where, symbol.line)
        return self.root_path.parent / path.resolve().relative_to(self.folder)


def refuse_sub_sheet(root: SheetFile) -> None:
    """A sheet opened by itself has references for its places in another drawing only."""
    start = f"/{root.uuid}"
    used = [symbol for symbol in root.symbols if symbol.instances or root.lacks_references]
    if not used or any(
        path == start or path.startswith(start + "/") for symbol in used for path in symbol.instances
    ):
        return
    raise UnusableError(
        "is a sheet of another drawing, not a whole one",
        shown(root.path),
        used[0].line,
        hint="give the root schematic or the .kicad_pro of its project",
    )
