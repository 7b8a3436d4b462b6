"""The state of a case could not be solved, so that nothing in it was judged.

Formula: sum of currents at every joint below 1e-9 A is asked for; a case whose equations contradict each other
has no solution.

Source: Kirchhoff's laws.

Passes: any harness whose outputs are joined through some resistance.

Fails: outputs of 12 V and 5 V joined through 0 Ω.
"""

from loadloom.graph.findings import Rule, Severity

RULE = Rule("not-solved", Severity.ERROR, "Case could not be solved", "not evaluated", incomplete=True)
