"""A conductor states no gauge, and what the gauge would give is needed.

Formula: none; without a gauge there is no allowed current by a table and no resistance by length.

Source: common practice, no published source.

Passes: a wire with ``Gauge`` = ``18 AWG``; a wire that states both ``Rating`` and ``Resistance``.

Fails: a wire without ``Gauge``; a net read as a wire whose class has no gauge in the settings.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("gauge-missing", Severity.WARNING, "Conductor without a gauge", incomplete=True)
