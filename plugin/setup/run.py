"""``loadloom setup``: from a drawing to its first settings file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import read_bytes
from loadloom.plugin.pipeline import SETTINGS_NAME
from loadloom.plugin.setup.proposals import Proposals, propose
from loadloom.plugin.setup.questions import Ask, Say, asked, unasked
from loadloom.plugin.setup.settings_text import Answers, settings_text


@dataclass(frozen=True, slots=True)
class Prepared:
    """What setup made: the settings file, whether it was changed, and what it rests on."""

    settings: Path
    written: bool
    proposals: Proposals
    answers: Answers
    questions: int


def prepare(
    drawing_file: Path,
    settings_file: Path | None = None,
    ask: Ask | None = None,
    say: Say = lambda _: None,
    progress: Callable[[str], None] | None = None,
) -> Prepared:
    """Propose roles for what has none, ask, and write the settings file beside the drawing.

    Without ``ask`` every proposal is written as a guess that nobody has confirmed. What the file already says is
    kept as it stands. Raises UnusableError where the drawing or the settings can't be used, or the file can't be
    written.
    """
    from loadloom.plugin.reading import read_drawing
    from loadloom.plugin.settings_file import read_settings

    target = settings_file or drawing_file.parent / SETTINGS_NAME
    old = target if target.is_file() else None
    _, drawing_settings = read_settings(old)
    drawing = read_drawing(drawing_file, progress=progress)
    proposals = propose(drawing, drawing_settings)
    if ask is None:
        answers, questions = unasked(proposals), 0
    else:
        answers, questions = asked(proposals, ask, say)
    before = read_bytes(old) if old is not None else None
    text = settings_text(proposals, answers, (before or b"").decode("utf-8-sig"))
    if not proposals.groups and not proposals.lines_are_wires and old is not None:
        return Prepared(target, False, proposals, answers, questions)
    write_settings(target, before, text)
    return Prepared(target, True, proposals, answers, questions)


def write_settings(target: Path, before: bytes | None, text: str) -> None:
    """Write a settings file whole or not at all, and never one that can't be read again.

    ``before`` is what was read there, None where there was no file. Raises UnusableError where it can't be written,
    or could not be added to what is there.
    """
    from loadloom.plugin.settings_file import read_settings
    from loadloom.plugin.writing import edit_files

    try:
        read_settings(target, text)
    except UnusableError as error:
        raise UnusableError(
            f"can't be completed by itself: {error.cause}",
            target,
            error.line,
            hint="move the file away and run it again",
        ) from error
    edit_files({target: (before, text.encode("utf-8"))})
