"""Switches, contactors and transistors that are closed when they should be open.

A contact that has made or broken too much welds, a transistor fails short more often than open, and a switch is
closed by a hand (common practice, no published source). So an open one is never credited with protecting what lies
behind it: whatever is searched for faults is searched with it closed as well.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from loadloom.graph.elements import Switch
from loadloom.graph.harness import Harness


def welded(harness: Harness, word: str | None) -> Iterator[Harness]:
    """The harness with each switch that is open in an arrangement closed by itself, and with all of them closed.

    The poles of one contactor weld one by one and together. All closed at once is more than one fault; it is the
    arrangement that the switches are there for, and stands for it where no case has it.
    """
    is_open = [s for s in harness.switches if s.welds and not s.under(word).fitted]
    groups: dict[tuple[str, ...], None] = {(switch.id,): None for switch in is_open}
    for part in dict.fromkeys(switch.part for switch in is_open):
        groups[tuple(switch.id for switch in is_open if switch.part == part)] = None
    if is_open:
        groups[tuple(switch.id for switch in is_open)] = None
    for closed in groups:
        yield _closed(harness, closed)


def _closed(harness: Harness, ids: tuple[str, ...]) -> Harness:
    def shut(switch: Switch) -> Switch:
        return replace(switch, fitted=True, by_word=_shut_words(switch)) if switch.id in ids else switch

    return replace(harness, switches=tuple(shut(switch) for switch in harness.switches))


def _shut_words(switch: Switch) -> dict[str, dict[str, object]]:
    """What differs by arrangement, but for whether the switch is open."""
    return {
        word: {name: value for name, value in changes.items() if name != "fitted"}
        for word, changes in switch.by_word.items()
    }
