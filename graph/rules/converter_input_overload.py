"""A converter's loads need more input current than its ``Input limit``.

Formula: (output power / efficiency + no-load power) / input voltage, the greatest over every end of the tolerances
and every case, against ``Input limit``. A converter whose input limits its current lets its output voltage fall.

Source: conservation of energy; the converter's own data on the drawing.

Passes: 60 W at 90 % from 24 V, ``Input limit`` = ``4 A``.

Fails: the same with ``Input limit`` = ``2.5 A``.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("converter-input-overload", Severity.ERROR, "Input of a converter overloaded")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare the greatest continuous input current of every converter with its limit."""
    for converter in facts.harness.converters:
        if converter.input_limit_a is None:
            continue
        worst_a, at = 0.0, None
        for case in facts.cases:
            for state in facts.continuous_corners.get(case.id, ()):
                k = state.solution.network.load_index.get(converter.load_id)
                if k is not None and abs(float(state.solution.load_a[k])) > worst_a:
                    worst_a, at = abs(float(state.solution.load_a[k])), case.id
        if exceeds(worst_a, converter.input_limit_a):
            yield RULE.finding(
                converter.subject,
                f"The loads of {converter.id} need {figures(worst_a)} A at its input, more than its Input limit of "
                f"{figures(converter.input_limit_a)} A: its output voltage falls.",
                "Use a converter of more power, put less load behind it, or feed it at a higher voltage.",
                case=at,
                value=worst_a,
                limit=converter.input_limit_a,
                unit="A",
            )
