"""A load does not say what it takes, and is left out of the solve.

Formula: none.

Source: common practice, no published source.

Passes: a load with ``Load`` = ``60 W``, or with the value ``5 A``.

Fails: a load with neither; one with ``Load@surge`` alone.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("load-missing", Severity.WARNING, "Load without a demand", incomplete=True)
