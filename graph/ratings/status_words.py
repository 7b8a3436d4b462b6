"""What the numbers of a rating were held against, in words: a row's status and where the publication was read."""

from __future__ import annotations

MARK = "check your edition"
SECOND_HAND = f"a second-hand copy of the publication, not with the publication itself: {MARK}"
THE_SOURCE = "the publication itself"

_WORDS = {
    "VERIFIED": "numbers compared with {what}",
    "PARTLY_VERIFIED": "some of the numbers compared with {what}, the others from memory",
    "REPRODUCED": "numbers from memory that the publication's formula gives again",
    "COMPUTED": "computed by a published formula, in no table",
    "FROM_MEMORY": "numbers from memory, compared with nothing",
}


_PIECES = (
    ("VERIFIED against", "compared with"),
    ("VERIFIED via", "compared by way of"),
    ("PARTLY_VERIFIED", "partly compared with a copy"),
    ("VERIFIED", "compared with a copy"),
    ("REPRODUCED", "from memory and given again"),
    ("COMPUTED", "computed by a published formula"),
    ("FROM_MEMORY", "from memory"),
)
"""Words within a status that says more than one thing, the longest first."""


def checked_words(status: str, *, check_edition: bool) -> str:
    """What a row with a status was checked against; empty where nothing is known of it.

    ``check_edition``: the source was seen in a copy only, or its values come from memory.
    """
    said = _WORDS[status].format(what=SECOND_HAND if check_edition else THE_SOURCE) if status in _WORDS else status
    if said == status:
        for word, plain in _PIECES:
            said = said.replace(word, plain)
        said = said if said == status else f"numbers: {said}"
    if not check_edition or MARK in said:
        return said
    return f"{said}: {MARK}" if said else MARK
