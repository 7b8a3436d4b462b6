"""Where KiCad keeps its configuration and plugins: functions of the platform and its environment alone.

The rules are those of KiCad's own ``paths.cpp`` and ``settings_manager.cpp`` (versions 8 to 10).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePath, PurePosixPath, PureWindowsPath

OLDEST, NEWEST = 8, 10
"""Major versions of KiCad that are set up."""

FIRST_WITH_BUTTONS = 9
"""First major version that runs plugins of their own process."""

_VERSION = re.compile(r"(\d+)\.(\d+)")


@dataclass(frozen=True, slots=True)
class Installation:
    """One KiCad version of this user: its configuration folder and the folder that its plugins go into."""

    version: str
    config: Path
    plugins: Path

    @property
    def major(self) -> int:
        """Major version."""
        return int(self.version.partition(".")[0])


def config_root(platform: str, env: Mapping[str, str]) -> PurePath | None:
    """Folder that holds a configuration folder for each version; None where the environment tells no home."""
    if env.get("KICAD_CONFIG_HOME"):
        return _path(platform, env["KICAD_CONFIG_HOME"])
    if platform == "win32":
        roaming = env.get("APPDATA")
        return PureWindowsPath(roaming, "kicad") if roaming else None
    home = env.get("HOME")
    if platform == "darwin":
        return PurePosixPath(home, "Library/Preferences/kicad") if home else None
    given = env.get("XDG_CONFIG_HOME")
    if given:
        return PurePosixPath(given, "kicad")
    return PurePosixPath(home, ".config/kicad") if home else None


def data_roots(platform: str, env: Mapping[str, str]) -> tuple[PurePath, ...]:
    """Folders that may hold a data folder for each version, the likeliest first.

    Windows may keep the documents in a folder that is synchronised; which one it is can only be seen on disk.
    """
    own_name = "KiCad" if platform in ("win32", "darwin") else "kicad"
    if env.get("KICAD_DOCUMENTS_HOME"):
        return (_path(platform, env["KICAD_DOCUMENTS_HOME"]) / own_name,)
    if platform == "win32":
        homes = [env[name] for name in ("OneDrive", "USERPROFILE") if env.get(name)]
        return tuple(PureWindowsPath(home, "Documents", own_name) for home in homes)
    home = env.get("HOME")
    if platform == "darwin":
        return (PurePosixPath(home, "Documents", own_name),) if home else ()
    given = env.get("XDG_DATA_HOME")
    if given:
        return (PurePosixPath(given, own_name),)
    return (PurePosixPath(home, ".local/share", own_name),) if home else ()


def installations(
    platform: str,
    env: Mapping[str, str],
    folders: Callable[[PurePath], Iterable[str]],
) -> tuple[Installation, ...]:
    """Every KiCad from version 8 to 10 with a configuration folder, oldest first.

    ``folders`` gives the names of the folders inside one, empty where it is not there.
    """
    root = config_root(platform, env)
    if root is None:
        return ()
    found = []
    for name in folders(root):
        match = _VERSION.fullmatch(name)
        if match and OLDEST <= int(match[1]) <= NEWEST and match[2] == "0":
            data = data_roots(platform, env)
            seen = [place for place in data if name in folders(place)]
            if data:
                plugins = (seen or [data[-1]])[0] / name / "plugins"
                found.append(Installation(name, Path(str(root / name)), Path(str(plugins))))
    return tuple(sorted(found, key=lambda one: one.major))


def folders_on_disk(place: PurePath) -> list[str]:
    """Names of the folders inside one; empty where it is not there or can't be read."""
    try:
        return sorted(entry.name for entry in Path(place).iterdir() if entry.is_dir())
    except OSError:
        return []


def _path(platform: str, text: str) -> PurePath:
    return PureWindowsPath(text) if platform == "win32" else PurePosixPath(text)
