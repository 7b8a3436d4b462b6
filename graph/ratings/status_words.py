"""What the numbers of a rating were held against, in words: a row's status and where the publication was read."""

from __future__ import annotations

SECOND_HAND = "a second-hand copy of the publication, not the publication itself: check your edition"
THE_SOURCE = "the publication itself"

_WORDS = {
    "VERIFIED": "numbers compared with {what}",
    "PARTLY_VERIFIED": "some of the numbers compared with {what}, the others from memory",
    "REPRODUCED": "numbers from memory that the publication's formula gives again",
    "COMPUTED": "computed by a published formula, in no table",
    "FROM_MEMORY": "numbers from memory, compared with nothing",
}


def checked_words(status: str, check_edition: bool) -> str:
    """What a row with a status was checked against; empty where nothing is known of it.

    ``check_edition``: the source was seen in a copy only, or its values come from memory.
    """
    first = status.split(" ")[0]
    words = _WORDS.get(first)
    if words is None:
        return f"{status}: check your edition" if status and check_edition else status or _mark(check_edition)
    if first != status:  # ``VERIFIED against one digitisation``: the row says itself what it was held against
        what = status.removeprefix(first).strip().removeprefix("against").strip()
        return words.format(what=f"{what}: check your edition" if check_edition else what)
    said = words.format(what=SECOND_HAND if check_edition else THE_SOURCE)
    return f"{said}: check your edition" if check_edition and "check your edition" not in said else said


def _mark(check_edition: bool) -> str:
    return "check your edition" if check_edition else ""
