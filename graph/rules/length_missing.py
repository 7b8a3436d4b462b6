"""A wire states no length, and neither does the settings' default.

Formula: none; the resistance of a wire symbol is a stated placeholder of 10 mΩ, that of a net read as a wire
follows from 1 m.

Source: common practice, no published source.

Passes: a wire with ``Length`` = ``350 mm`` (one way, as routed), one with a stated ``Resistance``, or
``default_length`` in the settings.

Fails: a wire with a gauge alone.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("length-missing", Severity.WARNING, "Wire without a length", incomplete=True)
