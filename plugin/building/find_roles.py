"""Finds the role of every symbol; a symbol without one is a finding and no part of the harness."""

from __future__ import annotations

import difflib
from collections import Counter

from loadloom.graph.naming import natural_key, some_of
from loadloom.graph.rules import field_unreadable, role_missing, symbol_left_out
from loadloom.plugin.drawing import Drawing, Symbol
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.notes import Notes, subject_of
from loadloom.plugin.roles import Role, role_by_rule, role_of_word
from loadloom.plugin.values import quoted, shown

_MEND = "Give the symbol a field Role, or a rule in the settings; Role = ignore if it is no part of the harness."


def find_roles(drawing: Drawing, settings: DrawingSettings, notes: Notes) -> dict[str, tuple[Symbol, Role]]:
    """The symbols that have a role, by reference in natural order, those to be ignored included."""
    found: dict[str, tuple[Symbol, Role]] = {}
    for symbol in sorted(drawing.symbols, key=lambda s: natural_key(s.reference)):
        role = _role(symbol, settings, notes)
        if role is not None:
            found[symbol.reference] = (symbol, role)
    return found


def report_left_out(drawing: Drawing, settings: DrawingSettings, notes: Notes) -> None:
    """Findings for the symbols that take no part, those without a number all in one; none for ignored ones."""
    told = [left for left in drawing.left_out if left.symbol.pins or "library symbol" in left.cause]
    told = [left for left in told if _role_by_any(left.symbol, settings) is not Role.IGNORE]
    unnumbered = [left for left in told if left.unnumbered]
    if unnumbered:
        kinds = Counter(f"{left.symbol.reference} ({shown(left.symbol.library_id)})" for left in unnumbered)
        listed = some_of([f"{count} × {kind}" for kind, count in kinds.items()], 8)
        words = ("symbol has", "takes") if len(unnumbered) == 1 else ("symbols have", "take")
        notes.find(
            symbol_left_out.RULE.finding(
                subject_of(unnumbered[0].symbol),
                f"{len(unnumbered)} {words[0]} no number yet and {words[1]} no part: {listed}.",
                f"{unnumbered[0].remedy} Give Role = ignore to what is no part of the harness.",
            )
        )
    for left in told:
        if not left.unnumbered:
            notes.find(
                symbol_left_out.RULE.finding(
                    subject_of(left.symbol),
                    f"{left.symbol.reference} {left.cause}; it takes no part.",
                    f"{left.remedy} Role = ignore if it is no part of the harness.",
                )
            )


def _role_by_any(symbol: Symbol, settings: DrawingSettings) -> Role | None:
    return _role(symbol, settings, Notes())


def _role(symbol: Symbol, settings: DrawingSettings, notes: Notes) -> Role | None:
    written = _written_role(symbol, notes)
    if written is None:
        role = role_by_rule(
            symbol.library_id,
            symbol.reference,
            symbol.value,
            settings.roles_by_library,
            settings.roles_by_reference,
            settings.roles_by_value,
        )
        if role is None and symbol.pins and not symbol.reference.startswith("#"):
            notes.find(
                role_missing.RULE.finding(
                    subject_of(symbol),
                    f"{symbol.reference} ({shown(symbol.library_id) or 'no library symbol'}) has no role "
                    "and is left out.",
                    _MEND,
                )
            )
        return role
    name, text = written
    role = role_of_word(text)
    if role is None:
        close = difflib.get_close_matches(text.casefold(), list(Role), n=1, cutoff=0.0)
        notes.find(
            role_missing.RULE.finding(
                subject_of(symbol, field=name),
                f"{symbol.reference}: there is no role {quoted(text)}; the nearest is {close[0]}.",
                f"Write one of {', '.join(Role)}.",
            )
        )
    return role


def _written_role(symbol: Symbol, notes: Notes) -> tuple[str, str] | None:
    for fields in (symbol.fields, symbol.library_fields):
        written = [
            (name, text) for name, text in fields.items() if name.strip().casefold() == "role" and text.strip()
        ]
        if len({role_of_word(text) for _, text in written}) > 1 or len(written) > 1:
            notes.find(
                field_unreadable.RULE.finding(
                    subject_of(symbol, field=written[0][0]),
                    f"{symbol.reference}: fields {' and '.join(shown(name) for name, _ in written)} "
                    "differ only in case.",
                    "Keep one of them.",
                )
            )
        if written:
            return written[0]
    return None
