"""An enclosure gets hotter and hotter: the heat made in it grows faster than it is carried off.

Formula: heat + sun = walls(inside − outside) + ρ·cp·air flow · (inside − outside), the heat itself growing with the
temperature inside; no fixed point is found. Walls: natural convection and radiation on both sides, face by face;
surface × coefficient where a coefficient is stated.

Source: energy balance; Churchill and Chu (1975) and McAdams (1954) for the films.

Passes: 40 W in a cabinet of 1 m² free surface: about 7 K above the outside.

Fails: 400 W in a closed box of 0.1 m² whose wires run at their limit.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity, Subject

RULE = Rule("enclosure-too-hot", Severity.ERROR, "Enclosure without an equilibrium")


def _sun(sun_w: float) -> str:
    return f" and {figures(sun_w)} W come from the sun" if sun_w else ""


def check(facts: Facts) -> Iterator[Finding]:
    """Report enclosures whose temperature did not settle."""
    for zone, inside in facts.inside.items():
        if not inside.settled:
            yield RULE.finding(
                Subject(zone),
                f"Zone {zone} finds no equilibrium: it is past {figures(inside.inside_c)} °C, where "
                f"{figures(inside.heat.total_w)} W are made in it{_sun(inside.sun_w)}, more than it gives off.",
                "Give the enclosure more surface or air flow, or take heat out of it.",
                value=inside.inside_c,
                unit="°C",
            )
