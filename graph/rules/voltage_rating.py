"""A device, switch, contact or insulation stands under a higher voltage than it is rated for.

Formula: highest voltage (output at the upper end of its tolerance, no load, outputs in series added up) >
`Voltage rating`. An open device has the whole of it across itself.

Source: the part's own rating on the drawing; the rule itself is common practice, no published source.

Passes: a fuse rated 58 V DC on 48 V.

Fails: a fuse rated 32 V on 48 V.
"""

from collections.abc import Iterator

from loadloom.graph.elements import Conductor, Contact, Device, Switch
from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures
from loadloom.graph.findings import Finding, Rule, Severity
from loadloom.graph.judging.highest_voltage import highest_voltages
from loadloom.graph.overload import exceeds

RULE = Rule("voltage-rating", Severity.ERROR, "Voltage over a part's rating")


def check(facts: Facts) -> Iterator[Finding]:
    """Hold every stated voltage rating against the highest voltage of its copper."""
    highest = highest_voltages(facts)
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
        worst = max(sides, key=lambda h: h.volts, default=None)
        if worst is None or not exceeds(worst.volts, rating_v):
            continue
        yield RULE.finding(
            part.subject,
            f"{_noun(part)} {part.id} is rated {figures(rating_v)} V, but stands under up to "
            f"{figures(worst.volts)} V.",
            "Use a part that is rated for this voltage at DC.",
            case=words.get(worst.word),
            value=worst.volts,
            limit=rating_v,
            unit="V",
        )


def _noun(part: Conductor | Contact | Device | Switch) -> str:
    return part.kind.value.capitalize() if isinstance(part, Device) else type(part).__name__
