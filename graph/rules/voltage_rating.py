"""A device, switch, contact or insulation is under a higher voltage than it is rated for.

Formula: highest voltage (output at the upper end of its tolerance, no load, outputs in series added up) >
`Voltage rating`. An open device has the whole voltage across itself. A device behind a converter that can fail from
input to output has to open at the voltage of that input.

Source: the part's own rating on the drawing; the rule itself is common practice, no published source.

Passes: a fuse rated 58 V DC on 48 V.

Fails: a fuse rated 32 V on 48 V.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.highest_voltage import Highest, highest_voltages
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.judging.voltages import greatest_voltage
from loadloom.graph.model.elements import Conductor, Contact, Device, Switch
from loadloom.graph.model.figures import figures, raised
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("voltage-rating", Severity.ERROR, "Voltage over a part's rating")


def check(facts: Facts) -> Iterator[Finding]:
    """Hold every stated voltage rating against the highest voltage of its copper."""
    highest = highest_voltages(facts)
    behind = _behind_failed(facts)
    words = {case.arrangement: case.id for case in reversed(facts.cases)}
    for part in facts.harness.two_ended:
        if not isinstance(part, (Conductor, Contact, Device, Switch)):
            continue
        # Of ratings that differ by arrangement the least counts in all.
        stated = [v for there in part.variants() if (v := there.voltage_rating_v) is not None]
        if not stated:
            continue
        rating_v = min(stated)
        # An open switch has other copper on either side.
        sides = [highest[p] for n in (part.node_a, part.node_b) if (p := facts.topology.piece[n]) in highest]
        once = ""
        for converter, passed in behind.items() if isinstance(part, Device) else ():
            if facts.topology.piece[part.node_a] == passed[0] or facts.topology.piece[part.node_b] == passed[0]:
                sides.append(passed[1])
                once = f" once {converter} has failed from input to output"
        worst = max(sides, key=lambda h: h.volts, default=None)
        if worst is None or not exceeds(worst.volts, rating_v):
            continue
        if not any(worst is passed[1] for passed in behind.values()):
            once = ""
        yield RULE.finding(
            part.subject,
            f"{_noun(part)} {part.id} is rated for {figures(rating_v)} V, but is under up to "
            f"{figures(worst.volts)} V{once}.",
            f"Use a part that is rated for at least {figures(raised(worst.volts))} V at DC.",
            case=words.get(worst.word),
            value=worst.volts,
            limit=rating_v,
            unit="V",
        )


def _noun(part: Conductor | Contact | Device | Switch) -> str:
    return part.kind.value.capitalize() if isinstance(part, Device) else type(part).__name__


def _behind_failed(facts: Facts) -> dict[str, tuple[int, Highest]]:
    """By converter that can fail from input to output: the copper at its output, and the voltage that this gets.

    A device there has to open at that voltage.
    """
    loads = {load.id: load for load in facts.harness.loads}
    outputs = {output.id: output for output in facts.harness.outputs}
    found = {}
    for converter in facts.harness.converters:
        highest = greatest_voltage(facts, loads[converter.load_id])
        if converter.id in facts.passed_through and highest is not None:
            word = next((case.arrangement for case in facts.cases if case.id == highest.case), None)
            piece = facts.topology.piece[outputs[converter.output_id].node_plus]
            found[converter.id] = (piece, Highest(highest.volts, word))
    return found
