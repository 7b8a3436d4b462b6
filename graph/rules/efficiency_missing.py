"""A converter does not state its efficiency: what its input draws, and what feeds it, is not determined.

Formula: input power = output power / efficiency + no-load power. A placeholder of 50 % stands in, so that the
rest of the harness is analysed all the same.

Source: conservation of energy.

Passes: a converter with ``Efficiency`` = ``90 %``.

Fails: a converter with ``Voltage`` and ``Limit`` alone.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("efficiency-missing", Severity.WARNING, "Converter without an efficiency", incomplete=True)
