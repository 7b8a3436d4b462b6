"""Both terminals of an output are one joint; the output is left out of the solve.

Formula: none.

Source: common practice, no published source.

Passes: an output between two nets.

Fails: an output with both pins on one net.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("output-shorted", Severity.ERROR, "Output is shorted by a joint", incomplete=True)
