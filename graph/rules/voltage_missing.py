"""An output does not state its voltage and is left out of the solve: what it alone feeds is unfed.

Formula: none.

Source: common practice, no published source.

Passes: an output with ``Voltage`` = ``12 V``.

Fails: an output with ``Limit`` alone.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("voltage-missing", Severity.WARNING, "Output without a voltage", incomplete=True)
