"""Whether KiCad runs: it writes its configuration when it ends, over whatever stands there."""

from __future__ import annotations

PROGRAMS = frozenset(
    {"kicad", "eeschema", "pcbnew", "gerbview", "pl_editor", "pcb_calculator", "bitmap2component", "cvpcb"}
)
"""Programs of KiCad that write configuration, without a suffix."""


def running_programs() -> list[str]:
    """KiCad's programs that run as this user, as ``eeschema (process 4711)``."""
    import psutil

    me = _user(psutil.Process())
    found = []
    for process in psutil.process_iter(["name", "pid", "username"]):
        name = str(process.info["name"] or "").lower().removesuffix(".exe").removesuffix(".bin")
        if name in PROGRAMS and process.info["username"] in (me, None):
            found.append(f"{name} (process {process.info['pid']})")
    return sorted(found)


def _user(process: object) -> str | None:
    import psutil

    try:
        return str(process.username())  # type: ignore[attr-defined]
    except (psutil.Error, KeyError):
        return None
