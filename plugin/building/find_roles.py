"""Finds the role of every symbol; a symbol without one is a finding and no part of the harness."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from loadloom.graph.model.naming import all_of, natural_key, some_of
from loadloom.graph.rules import field_unreadable, role_guessed, role_missing, symbol_left_out
from loadloom.plugin.drawing import Drawing, Symbol
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.fields import folded
from loadloom.plugin.notes import Notes, subject_of
from loadloom.plugin.roles import FIELDS, Role, RoleRule, best_match, letters_of, role_of_word, rule_for
from loadloom.plugin.stock_roles import stock_role
from loadloom.plugin.values import quoted, shown

_MEND = "Run loadloom setup, or give {them} a rule in the settings or the field Role; ignore is a role as well."


@dataclass(frozen=True, slots=True)
class Found:
    """A symbol in its role, with its fields as the settings complete them.

    ``ends`` are the role's ends by the pins that the settings name for them, empty where they name none;
    ``guessed`` says that the role is a guess that nobody has confirmed.
    """

    symbol: Symbol
    role: Role
    ends: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    guessed: bool = False


def find_roles(drawing: Drawing, settings: DrawingSettings, notes: Notes) -> dict[str, Found]:
    """The symbols that have a role, by reference in natural order, those to be ignored included."""
    found: dict[str, Found] = {}
    without: dict[tuple[str, str], list[Symbol]] = {}
    for symbol in sorted(drawing.symbols, key=lambda s: natural_key(s.reference)):
        one = _found(symbol, settings, notes)
        if one is not None:
            found[symbol.reference] = one
        elif symbol.pins and not symbol.reference.startswith("#") and not _written_role(symbol, Notes()):
            without.setdefault((symbol.library_id, letters_of(symbol.reference)), []).append(symbol)
    for (library_id, _), symbols in without.items():
        _report_without_role(library_id, symbols, notes)
    _report_guesses(found.values(), notes)
    _report_library_fields(drawing, found, notes)
    return found


def _report_library_fields(drawing: Drawing, found: Mapping[str, Found], notes: Notes) -> None:
    """What counts although the drawing does not show it: fields that the library symbol alone has."""
    groups: dict[tuple[str, str], list[str]] = {}
    for symbol in drawing.symbols:
        one = found.get(symbol.reference)
        if one is None or one.role is Role.IGNORE:
            continue
        read = {name.casefold() for name in FIELDS[one.role].names}
        drawn = {folded(name) for name in one.symbol.fields}
        for name, text in symbol.library_fields.items():
            head = folded(name.partition("@")[0].partition(".")[0])
            if head in read and folded(name) not in drawn and text.strip() not in ("", "~"):
                groups.setdefault((f"{name} = {quoted(text)}", symbol.library_id), []).append(symbol.reference)
    for (what, library_id), names in groups.items():
        of = all_of(sorted(names, key=natural_key))
        notes.assume(
            f"{of}: {what} counts, which the library symbol {shown(library_id)} states and no drawn field."
        )


def _report_without_role(library_id: str, symbols: list[Symbol], notes: Notes) -> None:
    names = some_of([symbol.reference for symbol in symbols], 5)
    one = len(symbols) == 1
    which = f"{names} ({shown(library_id) or 'no library symbol'})"
    what = which if one else f"{len(symbols)} × {shown(library_id) or 'no library symbol'} ({names})"
    stock = stock_role(symbols[0])
    looks = f" Most likely {'it' if one else 'each'} is {stock.what}: {stock.reason}." if stock else ""
    notes.find(
        role_missing.RULE.finding(
            subject_of(symbols[0]),
            f"{what} {'has' if one else 'have'} no role and {'is' if one else 'are'} left out.{looks}",
            _MEND.format(them="it" if one else "them"),
        )
    )


def _report_guesses(found: Iterable[Found], notes: Notes) -> None:
    groups: dict[tuple[str, Role], list[Symbol]] = {}
    for one in found:
        if one.guessed:
            groups.setdefault((one.symbol.library_id, one.role), []).append(one.symbol)
    for (library_id, role), symbols in groups.items():
        names = all_of([symbol.reference for symbol in symbols])
        counts = "counts" if len(symbols) == 1 else "count"
        sentence = f"{names} ({shown(library_id)}) {counts} as {role} by a guess that nobody has confirmed."
        notes.assume(sentence)
        notes.find(
            role_guessed.RULE.finding(
                subject_of(symbols[0]),
                sentence,
                "If the role is right, remove confirmed = false from that rule in the settings; else correct the "
                "role.",
            )
        )


def report_left_out(drawing: Drawing, settings: DrawingSettings, notes: Notes) -> None:
    """Findings for the symbols that take no part, those without a number all in one; none for ignored ones."""
    told = [left for left in drawing.left_out if left.symbol.pins or "library symbol" in left.cause]
    told = [left for left in told if role_by_any(left.symbol, settings) is not Role.IGNORE]
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


def role_by_any(symbol: Symbol, settings: DrawingSettings) -> Role | None:
    """The role that a symbol has by itself or by the settings, without a finding."""
    found = _found(symbol, settings, Notes())
    return found.role if found else None


def _found(symbol: Symbol, settings: DrawingSettings, notes: Notes) -> Found | None:
    """The symbol's role: of its own settings, else written on it, else by a rule; with what these say beside."""
    own = best_match(symbol.reference, settings.roles.parts) or RoleRule()
    written = _written_role(symbol, notes)
    rule = rule_for(symbol.library_id, symbol.reference, symbol.value, settings.roles)
    role, guessed = own.role, own.role is not None and not own.confirmed
    if role is None and written is not None:
        role, guessed = role_of_word(written[1]), symbol.guessed
        if role is None:
            _report_unknown_role(symbol, *written, notes)
            return None
    if role is None and rule is not None:
        role, guessed = rule.role, not rule.confirmed
    if role is None:
        return None
    if rule is None or rule.role is not role:
        rule = RoleRule()  # A rule for another role says nothing of this one.
    # Fields and pins may be guesses as well, of a role that somebody has confirmed.
    guessed = guessed or not own.confirmed or (not rule.confirmed and bool(rule.fields or rule.pins))
    return Found(_completed(symbol, own, rule, notes), role, own.pins or symbol.ends or rule.pins, guessed)


def _completed(symbol: Symbol, own: RoleRule, rule: RoleRule, notes: Notes) -> Symbol:
    """The symbol with the fields of its own settings before those drawn, and those of a rule behind all."""
    if not own.fields and not rule.fields:
        return symbol
    drawn = {folded(name): (name, text) for name, text in symbol.fields.items() if text.strip() not in ("", "~")}
    fields = dict(symbol.fields)
    value = symbol.value
    for name, text in own.fields.items():
        if folded(name) == "value":
            value = text
            continue
        before = drawn.get(folded(name))
        for written in [other for other in fields if folded(other) == folded(name)]:
            del fields[written]
        fields[before[0] if before else name.capitalize()] = text
        if before and before[1].strip() != text.strip():
            notes.assume(
                f"{symbol.reference}.{before[0]} is {quoted(text)} by the settings, which stand before "
                f"{quoted(before[1])} of the drawing."
            )
    said = {folded(name) for name in (*fields, *symbol.library_fields)}
    empty = {folded(name) for name in symbol.library_fields if not symbol.library_fields[name].strip()}
    library = {name: text for name, text in symbol.library_fields.items() if folded(name) not in empty}
    library |= {name.capitalize(): text for name, text in rule.fields.items() if folded(name) not in said - empty}
    return replace(symbol, value=value, fields=fields, library_fields=library)


def _report_unknown_role(symbol: Symbol, name: str, text: str, notes: Notes) -> None:
    close = difflib.get_close_matches(text.casefold(), list(Role), n=1, cutoff=0.0)
    notes.find(
        role_missing.RULE.finding(
            subject_of(symbol, field=name),
            f"{symbol.reference}: there is no role {quoted(text)}; the nearest is {close[0]}.",
            f"Write one of {', '.join(Role)}.",
        )
    )


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
