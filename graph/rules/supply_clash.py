"""Outputs that share a unit state different values for the unit.

Formula: none; of two powers the lower counts, of other values the first in natural order of the outputs.

Source: common practice, no published source.

Passes: two outputs with ``Supply`` = ``PSU1``, one of which states ``Supply power`` = ``500 W``.

Fails: one states ``500 W`` and the other ``750 W``.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("supply-clash", Severity.WARNING, "Outputs of one unit contradict each other", incomplete=True)
