"""The page that the button opens where no symbol has a role: what they are likely to be, to be confirmed.

It is the same as ``loadloom setup`` asks on a terminal; what is sent is written as the first settings file.
"""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping
from pathlib import Path

from loadloom.plugin import values
from loadloom.plugin.drawing import Drawing
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.kicad.asking import WAIT_S, Reply, serve
from loadloom.plugin.kicad.pages import message_page
from loadloom.plugin.notes import Notes
from loadloom.plugin.pipeline import SETTINGS_NAME, settings_beside
from loadloom.plugin.roles import Role, role_of_word
from loadloom.plugin.setup.proposals import Group, Proposals, propose
from loadloom.plugin.setup.run import write_settings
from loadloom.plugin.setup.settings_text import Answers, Decided, settings_text
from loadloom.plugin.values import UnreadableValue
from loadloom.reports.safe_text import html_text

Query = Mapping[str, str]


def offer_settings(root: Path, show: Callable[[str], object], wait_s: float = WAIT_S) -> Path | None:
    """Ask on a page what the symbols are, where a drawing has no roles and no settings, and write the settings.

    None where there is nothing to ask, or no answer in time. Raises UnusableError where the drawing can't be read,
    or the settings can't be written.
    """
    from loadloom.plugin.building.find_roles import find_roles
    from loadloom.plugin.reading import read_drawing

    if settings_beside(root) is not None:
        return None
    drawing: Drawing = read_drawing(root)
    if find_roles(drawing, DrawingSettings(), Notes()):
        return None
    proposals = propose(drawing, DrawingSettings())
    if not proposals.groups:
        return None
    answers: list[Answers] = []

    def reply(query: Query) -> Reply:
        if "later" in query:
            return Reply(message_page("Thank you", ["The report opens on a page of its own."]), done=True)
        if "write" not in query:
            return Reply(_form(root.name, proposals, query, {}))
        wrong = _wrong_values(query)
        if wrong:
            return Reply(_form(root.name, proposals, query, wrong))
        answers.append(_answers(proposals, query))
        said = [f"{SETTINGS_NAME} is written beside the drawing; the report opens on a page of its own."]
        return Reply(message_page("Thank you", said), done=True)

    serve(reply, show, wait_s)
    if not answers:
        return None
    target = root.parent / SETTINGS_NAME
    write_settings(target, None, settings_text(proposals, answers[0]))
    return target


_VALUES: Mapping[str, tuple[str, Callable[[str], object]]] = {
    "gauge": ("Size of the wires, such as 1.5 mm² or 16 AWG", values.gauge),
    "length": ("Length of the wires, one way, such as 2 m", values.length_m),
}


def _wrong_values(query: Query) -> dict[str, str]:
    """Why a value that was sent can't be read, by its name."""
    wrong = {}
    for name, (_, parse) in _VALUES.items():
        text = query.get(name, "").strip()
        try:
            if text:
                parse(text)
        except UnreadableValue as unreadable:
            wrong[name] = unreadable.reason
    return wrong


def _answers(proposals: Proposals, query: Query) -> Answers:
    decided = tuple(
        Decided(group, role_of_word(query.get(f"role{k}", ""))) for k, group in enumerate(proposals.groups)
    )
    wires = proposals.lines_are_wires and query.get("wires") == "yes"
    gauge, length = (query.get(name, "").strip() for name in _VALUES)
    sizes = {name: {"gauge": gauge} for name in proposals.wire_classes} if gauge else {}
    return Answers(decided, wires, sizes, default_length=length or None)


def _form(name: str, proposals: Proposals, query: Query, wrong: Mapping[str, str]) -> bytes:
    rows = "".join(_row(group, k, query) for k, group in enumerate(proposals.groups))
    wires = ""
    if proposals.lines_are_wires:
        fields = "".join(
            f'<p><label>{html_text(label)}<br><input name="{key}" value="{_quoted(query.get(key, ""))}"></label>'
            f" <strong>{html_text(wrong.get(key, ''))}</strong></p>"
            for key, (label, _) in _VALUES.items()
        )
        checked = "" if "write" in query and "wires" not in query else " checked"
        wires = (
            f'<p><label><input type="checkbox" name="wires" value="yes"{checked}> Every line between two pins is '
            f"a wire (the drawing has no wires as symbols)</label></p>{fields}"
        )
    form = (
        f'<form><input type="hidden" name="word" value="{_quoted(query.get("word", ""))}">'
        "<table><tr><th>Symbols</th><th>What they are</th><th>Why</th></tr>"
        f"{rows}</table>{wires}"
        '<p><button name="write" value="yes">Write the settings and report</button> '
        '<button name="later" value="yes">Report without</button></p></form>'
    )
    intro = [
        "No symbol of this drawing has a role yet. This is what they are likely to be: confirm or correct it, and "
        f"it is written to {SETTINGS_NAME} beside the drawing."
    ]
    return message_page(f"What are the symbols of {name}?", intro, form=form)


def _row(group: Group, k: int, query: Query) -> str:
    chosen = query.get(f"role{k}", str(group.role or ""))
    options = "".join(
        f'<option value="{word}"{" selected" if word == chosen else ""}>{word or "leave open"}</option>'
        for word in ("", *(str(role) for role in Role))
    )
    return (
        f'<tr><td>{html_text(group.title)}</td><td><select name="role{k}">{options}</select></td>'
        f"<td>{html_text(f'{group.what}: {group.reason}')}</td></tr>"
    )


def _quoted(text: str) -> str:
    return html.escape(text, quote=True)
