"""A converter stops running, since its input voltage falls below its ``Input minimum``.

Formula: voltage at the input with everything at an end of its tolerance, the input drawing output power /
efficiency + no-load power at that voltage, against ``Input minimum``, in every case. What a converter that has
dropped out leaves behind does not count: once its own draw is gone the voltage is back, and so is the next attempt.
The same with what charges a capacitance behind it (``Capacitance``), moment by moment. Beside a capacitance that is
charged the input may be too low for no longer than its ``Hold-up time``.

Source: conservation of energy and Ohm's law; the converter's own data on the drawing.

Passes: 60 W at 90 % from 24 V through 0.2 Ω, ``Input minimum`` = ``18 V``.

Fails: the same through 2 Ω, where 15.3 V are left.
"""

from collections.abc import Iterator

from loadloom.graph.circuit.solution import Solution
from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.dips import too_long_dips
from loadloom.graph.model.elements import Converter, Load
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("converter-input-low", Severity.ERROR, "Input voltage of a converter too low")


def check(facts: Facts) -> Iterator[Finding]:
    """Report, for every converter, the first case in which it stops though its input is joined to a source."""
    for converter in facts.harness.converters:
        for case in facts.cases:
            states = [(state.solution, state.bound) for state in facts.loaded_corners.get(case.id, ())]
            states += [(solution, False) for solution in (*facts.loaded[case.id], *facts.lowest[case.id])]
            stops = [s for s, _ in states if converter.output_id in s.off and converter.load_id not in s.unfed]
            if stops:
                yield _finding(converter, case.id, [s for s, bound in states if bound])
                break
        else:
            yield from _while_charging(facts, converter)
            load = facts.harness.by_id[converter.load_id]
            if isinstance(load, Load):
                yield from too_long_dips(facts, load, RULE)


def _while_charging(facts: Facts, converter: Converter) -> Iterator[Finding]:
    """Report the first case in which a capacitance that charges behind a converter takes its input voltage."""
    for charge in facts.protection.charges:
        if converter.output_id in charge.stops:
            yield RULE.finding(
                converter.subject,
                f"While {' and '.join(charge.loads)} {'charges' if len(charge.loads) == 1 else 'charge'}, "
                f"the input of {converter.id} falls below its Input minimum of "
                f"{figures(converter.input_minimum_v or 0.0)} V: it stops, and its loads lose supply.",
                "Charge through a pre-charge resistor, use an output that limits its current at less, or lower the "
                "resistance of the path to the input.",
                case=charge.case,
                limit=converter.input_minimum_v,
                unit="V",
            )
            return


def _finding(converter: Converter, case: str, before: list[Solution]) -> Finding:
    index = [(s, s.network.load_index.get(converter.load_id)) for s in before]
    volts = min((float(s.load_v[k]) for s, k in index if k is not None), default=None)
    needs = (
        " any voltage"
        if converter.input_minimum_v is None
        else f" its Input minimum of {figures(converter.input_minimum_v)} V"
    )
    left = "" if volts is None or volts <= 0.0 else f" ({figures(volts)} V are left at full draw)"
    return RULE.finding(
        converter.subject,
        f"{converter.id} does not get{needs} at its input{left}: it stops, and its loads lose supply.",
        "Shorten the path to its input, use thicker conductors or a higher supply voltage, or put less load behind "
        "it.",
        case=case,
        value=volts,
        limit=converter.input_minimum_v,
        unit="V",
    )
