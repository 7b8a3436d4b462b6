"""Names that version 0.1.0 used and that are called otherwise now: an old one is refused and the new one told."""

from __future__ import annotations

from collections.abc import Mapping

from loadloom.reports.renamed_keys import RULES

__all__ = ["RULES", "SETTINGS", "nearest_hint"]

SETTINGS: Mapping[str, str] = {"single_break": "single_open_circuit"}


def nearest_hint(name: str, nearest: str, renamed: Mapping[str, str]) -> str:
    """What to say beside an unknown name: what it is called now, or the nearest name that exists."""
    return f"it is now {renamed[name]}" if name in renamed else f"the nearest is {nearest}"
