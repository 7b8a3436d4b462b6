"""The settings file that setup writes: what was answered, with comments, and what the user has written kept."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from loadloom.plugin.roles import Role
from loadloom.plugin.setup.proposals import Group, PartSays, Proposals
from loadloom.plugin.stock_roles import Pins

HEAD = """\
# What the symbols and lines of the drawing are. Written by `loadloom setup`; change whatever is not right.
# A rule with `confirmed = false` is a guess that nobody has looked at: take that away where it is right.
"""

_STATE: Mapping[Role, str] = {
    Role.OUTPUT: 'voltage = "24 V", limit = "30 A" (continuously), trip = "40 A" or "none", resistance = "10 mΩ"',
    Role.LOAD: 'load = "5 A" (or W, or Ω)',
    Role.BATTERY: (
        'voltage = "21…29.2 V" (from empty to full), limit = "60 A" (continuously), resistance = "8…25 mΩ", '
        'capacity = "100 Ah"'
    ),
    Role.SOLAR: (
        'open_circuit_voltage = "24 V" (coldest day), short_circuit_current = "6 A", working_voltage = "18 V", '
        'working_current = "5.5 A"'
    ),
    Role.CONTACTOR: 'rating = "40 A" (carrying), breaking_capacity = "20 A"',
    Role.CONVERTER: (
        'voltage = "12 V", limit = "10 A", trip = "12 A", efficiency = "90 %", input_minimum = "18 V", '
        'input_maximum = "36 V"'
    ),
    Role.FUSE: 'rating = "10 A", curve, voltage_rating = "32 V", breaking_capacity = "1 kA"',
    Role.BREAKER: 'rating = "10 A", curve, voltage_rating = "60 V", breaking_capacity = "5 kA"',
    Role.RESETTABLE: 'hold = "2 A", trip = "4 A"',
    Role.SWITCH: 'rating = "20 A"',
    Role.DIODE: 'forward_drop = "0.6 V", rating = "10 A"',
    Role.CONNECTOR: 'contact_rating = "9 A", mates = "J2"',
    Role.SPLICE: 'rating = "30 A"',
}
"""What a part of a role should state, for the comment beside it."""


@dataclass(frozen=True, slots=True)
class Decided:
    """A group with the role that it gets, or None to leave it open; whether somebody confirmed that."""

    group: Group
    role: Role | None
    confirmed: bool = True


@dataclass(frozen=True, slots=True)
class Answers:
    """All that setup found out. ``parts`` are fields answered for single parts, by reference."""

    decided: tuple[Decided, ...]
    wires: bool
    wire_fields: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    parts: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    default_length: str | None = None


def settings_text(proposals: Proposals, answers: Answers, old: str = "") -> str:
    """The whole file: what ``old`` holds, with the new rules added."""
    libraries, parts = _rules(answers)
    text = old if old.strip() else HEAD
    if answers.default_length and not re.search(r"^\s*default_length\s*=", text, re.MULTILINE):
        line = f'default_length = "{answers.default_length}"  # of every wire that states none, one way as routed\n'
        text = text + "\n" + line if not old.strip() else line + text
    if libraries:
        text = _into_table(text, "role.library", libraries)
    for title, lines in parts:
        text = _into_table(text, title, lines)
    if answers.wires:
        for name in proposals.wire_classes:
            fields = answers.wire_fields.get(name, {})
            lines = [f'{key} = "{value}"' for key, value in fields.items()]
            if "gauge" not in fields:
                lines.append('# gauge = "1.5 mm²"  # or "16 AWG": the size of the wires of this class')
            lines.append('# insulation = "PVC 70 °C"')
            note = (
                "every net of this class is a wire"
                if name != "Default"
                else "every net without another class is a wire"
            )
            text = _into_table(text, f"wire_class.{_key(name)}", lines, note)
    return text.rstrip() + "\n"


def _rules(answers: Answers) -> tuple[list[str], list[tuple[str, list[str]]]]:
    """Lines of ``[role.library]``, and the tables of single parts."""
    placed = [d for d in answers.decided if d.role is not None]
    role_of_library = _library_roles(answers.decided)
    lines: list[str] = []
    parts: dict[str, list[str]] = {}
    written: set[str] = set()
    for decided in placed:
        group, role = decided.group, decided.role
        assert role is not None
        own = role is group.role
        pins, fields = (group.pins, group.fields) if own else ({}, {})
        by_library = role_of_library.get(group.library_id) == (role, decided.confirmed) and not group.by_own_pins
        state = _state(group, role)
        if by_library and group.library_id not in written:
            written.add(group.library_id)
            lines.append(f"# {_comment(group.title)}: {group.what}, since {group.reason}{state}")
            lines.append(f"{_key(group.library_id)} = {_rule(role, pins, fields, decided.confirmed)}")
        for symbol in group.symbols:
            says = group.of_parts.get(symbol.reference, PartSays()) if own else PartSays()
            answered = answers.parts.get(symbol.reference, {})
            here = [f'{_key(key)} = "{_text(value)}"' for key, value in {**says.fields, **answered}.items()]
            if says.pins:
                here.insert(0, f"pins = {_pins(says.pins)}")
            if by_library and not here:
                continue
            if not by_library:
                here = _part_lines(role, {} if says.pins else pins, fields, decided.confirmed) + here
                here.insert(0, f"# {group.what}, since {group.reason}{state}")
            elif says.fields or says.pins:
                here.insert(0, f"# from its value “{_comment(symbol.value)}” and its nets")
                if not decided.confirmed:
                    here.append("confirmed = false")
            parts[symbol.reference] = here
    return lines, [(f"part.{_key(reference)}", here) for reference, here in parts.items()]


def _state(group: Group, role: Role) -> str:
    """The end of the comment on a group: what its parts should state."""
    if role not in _STATE:
        return ""
    text = _STATE[role]
    if role is Role.CONTACTOR and group.what in ("a relay", "a solid-state relay"):
        text += ', coil = "5 W"'
        if not group.pins:
            text += ', pins = { A1 = "2", A2 = "5", 1 = "1", 2 = "3" }, the coil and the contact'
    if role is Role.LOAD and group.what == "a motor":
        text += ', starting_current = "20 A", starting_time = "200 ms"'
    return f"; may state {text}"


def _library_roles(decided: Iterable[Decided]) -> dict[str, tuple[Role, bool]]:
    """The role that a rule for each library symbol gives: that of most of its symbols, connectors first.

    A symbol that a group leaves open must not get it, so that such a library symbol has no rule.
    """
    counts: dict[str, Counter[tuple[Role, bool]]] = {}
    left_open = {one.group.library_id for one in decided if one.role is None}
    for one in decided:
        if one.role is not None and one.group.library_id and not one.group.by_own_pins:
            counts.setdefault(one.group.library_id, Counter())[one.role, one.confirmed] += len(one.group.symbols)
    return {
        library: max(found, key=lambda key: (key[0] is Role.CONNECTOR, found[key], key[0]))
        for library, found in counts.items()
        if library not in left_open
    }


def _part_lines(role: Role, pins: Pins, fields: Mapping[str, str], confirmed: bool) -> list[str]:
    lines = [f'role = "{role}"']
    if pins:
        lines.append(f"pins = {_pins(pins)}")
    lines += [f'{_key(name.casefold().replace(" ", "_"))} = "{_text(text)}"' for name, text in fields.items()]
    return lines + ([] if confirmed else ["confirmed = false"])


def _rule(role: Role, pins: Pins, fields: Mapping[str, str], confirmed: bool) -> str:
    if not pins and not fields and confirmed:
        return f'"{role}"'
    return "{ " + ", ".join(_part_lines(role, pins, fields, confirmed)) + " }"


def _pins(pins: Pins) -> str:
    texts = {end: f'"{_text(found[0])}"' if len(found) == 1 else str(list(found)) for end, found in pins.items()}
    return "{ " + ", ".join(f"{_key(end)} = {text}" for end, text in texts.items()) + " }"


def _into_table(text: str, title: str, lines: Iterable[str], note: str = "") -> str:
    """The text with lines put under a table's head, which is added at the end where it is not there."""
    body = "".join(f"{line}\n" for line in lines)
    head = re.search(rf"^\[{re.escape(title)}\][^\n]*\n?", text, re.MULTILINE)
    if head is None:
        comment = f"  # {note}" if note else ""
        return f"{text.rstrip()}\n\n[{title}]{comment}\n{body}"
    start = head.group() if head.group().endswith("\n") else head.group() + "\n"
    return text[: head.start()] + start + body + text[head.end() :]


def _key(name: str) -> str:
    return name if re.fullmatch(r"\w[\w-]*", name, re.ASCII) else f'"{_text(name)}"'


def _text(text: str) -> str:
    """A text inside quotes, as TOML wants it."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04x}" for c in escaped)


def _comment(text: str) -> str:
    return "".join(c if c >= " " and c != "\x7f" else " " for c in text)
