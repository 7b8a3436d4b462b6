"""The insulation class of a conductor is not known, and its allowed current rests on it.

A text in the field ``Insulation`` is read with its units: a number in V, kV, mm, mm², A or AWG is never a
temperature. Each material has a coolest and a warmest class. A text that is not understood, that contradicts
itself, or that states a temperature which its material is not made for leaves the conductor unrated. Where nothing
is stated, the coolest class of the basis stands in and the verdict is incomplete, unless the settings give an
``insulation_temperature``. A bare number counts as a class only beside its material (``XLPE 90``), never beside
another word (``PVC 90 pairs``); a number alone is no style (``RAL 1015``). A tinned conductor withstands at
most 150 °C, unless the text names another plating (``PTFE 200 °C silver-plated``). `loadloom insulation` lists
the materials, classes and styles that are known.

Formula: none.

Source: the classes stand with their sources in `graph/ratings/insulation_ranges.csv` and `insulation_classes.csv`.

Passes: a wire with ``Insulation`` = ``PVC 450/750 V 70 °C``, ``XLPE 90``, ``221 °F`` or ``style 1007``; a wire
with a ``Rating`` of its own.

Fails: ``Insulation`` = ``PVC 150 °C`` (PVC is made for 60 to 105 °C), ``PVC 70 °C 105 °C`` (which of them?),
``105`` (no unit), ``PE`` (not a known material), ``short circuit 250 °C`` (not the continuous temperature); no
``Insulation`` at all on a wire that a table rates.
"""

from collections.abc import Iterator
from dataclasses import replace

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.ratings.conductor_rating import leans_on_insulation
from loadloom.graph.ratings.insulation import insulation_of

RULE = Rule("insulation-unknown", Severity.WARNING, "Insulation class not known", incomplete=True)


def check(facts: Facts) -> Iterator[Finding]:
    """Conductors whose insulation can't be understood, and those that state none where a rating rests on it."""
    for conductor in facts.harness.conductors:
        for there in conductor.variants():
            insulation = insulation_of(there, facts.settings)
            if insulation.problem is None:
                continue
            if not there.insulation and (there.gauge is None or not leans_on_insulation(there, facts.settings)):
                continue
            remedy = "Write the material and its temperature, such as PVC 70 °C"
            if there.insulation:
                consequence = "so its class is not known"
            else:
                consequence = f"so {insulation.limit_c:g} °C, {insulation.source}, stands in"
                remedy += ", or state insulation_temperature in the settings"
            yield RULE.finding(
                replace(conductor.subject, field="Insulation"),
                f"{conductor.id}: {insulation.problem}, {consequence}.",
                f"{remedy}; `loadloom insulation` lists what is known.",
            )
            break
