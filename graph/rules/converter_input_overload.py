"""A converter's loads need more input current than its ``Input limit``.

Formula: (output power / efficiency + no-load power) / input voltage, the greatest over every end of the tolerances
and every case, against ``Input limit``. A converter whose input limits its current lets its output voltage fall.
That holds for a pulse, an event and a start as well, since an input limits without delay: what the load draws then
counts, not its root mean square.

Source: conservation of energy; the converter's own data on the drawing.

Passes: 60 W at 90 % from 24 V, ``Input limit`` = ``4 A``.

Fails: the same with ``Input limit`` = ``2.5 A``.
"""

from collections.abc import Iterator, Mapping, Sequence

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.load_cases.corners import CornerState
from loadloom.graph.model.elements import Converter
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("converter-input-overload", Severity.ERROR, "Input of a converter overloaded")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare the greatest input current of every converter with its limit."""
    for converter in facts.harness.converters:
        if converter.input_limit_a is None:
            continue
        needed = (_most(facts, converter, facts.continuous_corners), _most(facts, converter, facts.loaded_corners))
        worst_a, at = max(needed, key=lambda found: found[0])
        if exceeds(worst_a, converter.input_limit_a):
            a_while = "" if exceeds(needed[0][0], converter.input_limit_a) else " for a time"
            yield RULE.finding(
                converter.subject,
                f"The loads of {converter.id} need {figures(worst_a)} A at its input{a_while}, more than its Input "
                f"limit of {figures(converter.input_limit_a)} A: its output voltage falls.",
                "Use a converter of more power, put less load behind it, or feed it at a higher voltage.",
                case=at,
                value=worst_a,
                limit=converter.input_limit_a,
                unit="A",
            )


def _most(
    facts: Facts, converter: Converter, corners: Mapping[str, Sequence[CornerState]]
) -> tuple[float, str | None]:
    """The greatest current in A of a converter's input, and the case in which it flows."""
    worst_a, at = 0.0, None
    for case in facts.cases:
        for state in corners.get(case.id, ()):
            k = state.solution.network.load_index.get(converter.load_id)
            if k is not None and abs(float(state.solution.load_a[k])) > worst_a:
                worst_a, at = abs(float(state.solution.load_a[k])), case.id
    return worst_a, at
