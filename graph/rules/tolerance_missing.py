"""A battery states one voltage, not the range from empty to full.

Formula: none.

Source: common practice, no published source: the voltage of a battery follows its state of charge; loads of
constant power draw the most from an empty one, and faults from a full one.

Passes: a battery with ``Voltage`` = ``21…29.2 V``.

Fails: a battery with ``Voltage`` = ``24 V``.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("tolerance-missing", Severity.WARNING, "Battery without the range of its voltage", incomplete=True)
