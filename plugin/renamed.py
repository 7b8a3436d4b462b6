"""Old names of settings and rules: each is refused, and the message gives the new name."""

from __future__ import annotations

from collections.abc import Mapping

from loadloom.reports.renamed_keys import RULES

__all__ = ["RULES", "SETTINGS", "nearest_hint"]

SETTINGS: Mapping[str, str] = {"single_break": "single_open_circuit"}


def nearest_hint(name: str, nearest: str, renamed: Mapping[str, str]) -> str:
    """What to say beside an unknown name: what it is called now, or the nearest name that exists."""
    return f"it is now {renamed[name]}" if name in renamed else f"the nearest is {nearest}"
