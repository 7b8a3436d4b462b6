"""A net has several wire classes, and they give it different gauges (or lengths, ratings, insulations, bundles).

Formula: none.

Source: common practice, no published source.

Passes: a net of the classes ``Feed`` (2.5 mm²) and ``Audit``, which is no wire class; ``[net."NAME"]`` with a
gauge of its own.

Fails: a net of the classes ``Feed`` (2.5 mm²) and ``Sense`` (0.22 mm²).
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("net-class-clash", Severity.WARNING, "Net classes contradict each other", incomplete=True)
