"""What setup asks: what each group of symbols is, then what can't be guessed, in the order in which it blocks."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from loadloom.graph.model.naming import some_of
from loadloom.plugin import values
from loadloom.plugin.building.pins import COIL
from loadloom.plugin.drawing import Symbol
from loadloom.plugin.fields import folded
from loadloom.plugin.roles import FIELDS, Role, role_of_word
from loadloom.plugin.setup.proposals import Group, PartSays, Proposals
from loadloom.plugin.setup.settings_text import Answers, Decided
from loadloom.plugin.stock_roles import Pins
from loadloom.plugin.values import UnreadableValue, quoted

Ask = Callable[[str], str]
"""Shows a question and gives the line answered, without its end; an empty one takes what is proposed."""

Say = Callable[[str], None]

_SKIP = "-"


def unasked(proposals: Proposals) -> Answers:
    """Every proposal as it stands, none of them confirmed."""
    decided = tuple(Decided(group, group.role, confirmed=False) for group in proposals.groups)
    return Answers(decided, wires=proposals.lines_are_wires)


def asked(proposals: Proposals, ask: Ask, say: Say) -> tuple[Answers, int]:
    """The answers, and how many questions were asked. Enter takes a proposal, or leaves a value for later."""
    return _Questions(proposals, ask, say).run()


@dataclass
class _Questions:
    proposals: Proposals
    ask: Ask
    say: Say
    count: int = 0
    parts: dict[str, dict[str, str]] = field(default_factory=dict)

    def run(self) -> tuple[Answers, int]:
        total = len(self.proposals.groups)
        if total:
            self.say("Enter takes what is in brackets; another role's name replaces it; - leaves it open.")
        aside = self.aside()
        decided = tuple(
            Decided(group, Role.IGNORE) if group in aside else self.role(group, k, total)
            for k, group in enumerate(self.proposals.groups, start=1)
        )
        wires = False
        if self.proposals.lines_are_wires:
            wires = self.yes("The drawing has no wires as symbols. Is every line between two pins a wire?")
        for role in (Role.OUTPUT, Role.BATTERY, Role.SOLAR, Role.LOAD, Role.CONTACTOR):
            self.missing_values(role, decided)
        sizes: dict[str, Mapping[str, str]] = {}
        length = None
        if wires:
            for name in self.proposals.wire_classes:
                size = self.value(f"Size of the wires of class {name}, such as 1.5 mm² or 16 AWG", values.gauge)
                sizes[name] = {"gauge": size} if size else {}
            length = self.value("Length of the wires, one way, such as 2 m", values.length_m)
        contacts = [d.group for d in decided if d.role is Role.CONNECTOR]
        if contacts:
            rating = self.value("Rated current of the connectors' contacts, such as 9 A", values.current_a)
            for group in contacts if rating else ():
                for symbol in group.symbols:
                    self.parts.setdefault(symbol.reference, {})["contact_rating"] = rating or ""
        return Answers(decided, wires, sizes, self.parts, length), self.count

    def aside(self) -> tuple[Group, ...]:
        """The groups that are surely no part of a harness, if one question for all of them is answered by Enter."""
        groups = tuple(g for g in self.proposals.groups if g.role is Role.IGNORE and g.sure)
        if len(groups) < 2:
            return ()
        kinds = dict.fromkeys(group.what for group in groups)
        count = sum(len(group.symbols) for group in groups)
        listed = []
        for kind in kinds:
            names = [symbol.reference for group in groups if group.what == kind for symbol in group.symbols]
            listed.append(f"{kind}: {some_of(names, 3)}")
        question = f"Are these {count} symbols no part of the harness ({'; '.join(listed)})?"
        answer = self.one(f"{question} [ignore; - asks one by one] ")
        return groups if answer.casefold() in ("", "y", "yes", Role.IGNORE) else ()

    def role(self, group: Group, k: int, total: int) -> Decided:
        proposed = str(group.role) if group.role else "open"
        question = f"{k}/{total}  {group.title}: {group.what} ({group.reason})? [{proposed}] "
        while True:
            answer = self.one(question)
            if not answer:
                return Decided(group, group.role)
            if answer == _SKIP:
                return Decided(group, None)
            role = role_of_word(answer)
            if role is not None:
                return Decided(group, role)
            near = difflib.get_close_matches(answer.casefold(), list(Role), 1, 0.0)[0]
            self.say(f"There is no role {quoted(answer)}; the nearest is {near}. Roles: {', '.join(Role)}.")

    def missing_values(self, role: Role, decided: tuple[Decided, ...]) -> None:
        """Asks for what a source gives and what a load takes, once for all parts of one value."""
        asked_for: dict[tuple[str, str], list[str]] = {}
        for one in decided:
            for symbol in one.group.symbols if one.role is role else ():
                own = one.role is one.group.role
                says = one.group.of_parts.get(symbol.reference, PartSays()) if own else PartSays()
                given = {folded(name) for name, text in symbol.fields.items() if text.strip()}
                given |= {folded(name.replace("_", " ")) for name in (*one.group.fields, *says.fields)}
                for name, (_, _, parse) in _ASKED[role].items():
                    by_value = name == FIELDS[role].main and _reads(parse, symbol.value)
                    if name == "Coil" and not _has_coil(symbol, one.group.pins if own else {}):
                        continue
                    if folded(name) not in given and not by_value:
                        asked_for.setdefault((name, symbol.value), []).append(symbol.reference)
        for (name, value), references in asked_for.items():
            head, example, parse = _ASKED[role][name]
            shown = f" “{value}”" if value else ""
            listed = ", ".join(references[:6]) + (
                f" and {len(references) - 6} more, each" if len(references) > 6 else ""
            )
            answer = self.value(f"{head} {listed}{shown}, {example}", parse)
            for reference in references if answer else ():
                key = name.casefold().replace(" ", "_").replace("-", "_")
                self.parts.setdefault(reference, {})[key] = answer or ""

    def value(self, question: str, parse: Callable[[str], object]) -> str | None:
        while True:
            answer = self.one(f"{question} [later] ")
            if not answer or answer == _SKIP:
                return None
            try:
                parse(answer)
            except UnreadableValue as unreadable:
                self.say(f"{quoted(answer)}: {unreadable.reason}.")
                continue
            return answer

    def yes(self, question: str) -> bool:
        return self.one(f"{question} [yes] ").casefold() not in ("n", "no", _SKIP)

    def one(self, question: str) -> str:
        self.count += 1
        return self.ask(question).strip()


def _reads(parse: Callable[[str], object], value: str) -> bool:
    try:
        parse(value)
    except UnreadableValue:
        return False
    return True


def _has_coil(symbol: Symbol, pins: Pins) -> bool:
    return COIL[0] in pins or any(COIL[0] in (pin.number, pin.name) for pin in symbol.pins)


def _current(of: str, example: str) -> tuple[str, str, Callable[[str], object]]:
    return f"{of} current that is given by", f"such as {example}", values.current_a


_ASKED: Mapping[Role, Mapping[str, tuple[str, str, Callable[[str], object]]]] = {
    Role.OUTPUT: {
        "Voltage": ("Voltage of", "such as 12 V", values.voltage_band_v),
        "Limit": _current("Continuous", "20 A"),
    },
    Role.BATTERY: {
        "Voltage": ("Voltage from empty to full of", "such as 21…29.2 V", values.voltage_band_v),
        "Limit": _current("Continuous", "60 A"),
    },
    Role.SOLAR: {
        "Open-circuit voltage": ("Open-circuit voltage on the coldest day of", "such as 24 V", values.voltage_v),
        "Short-circuit current": _current("Short-circuit", "6 A"),
    },
    Role.LOAD: {"Load": ("What is taken by", "such as 5 A, 60 W or 2.4 Ω", values.demand)},
    Role.CONTACTOR: {"Coil": ("What is taken by the coil of", "such as 5 W or 80 mA", values.demand)},
}
"""What is asked of parts of a role: field, and how the question begins, its example, and what reads the answer."""
