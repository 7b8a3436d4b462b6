"""An output states a limit but not the current at which the unit itself shuts down.

Formula: assumed trip = 1.5 × ``Limit``.

Source: common practice, no published source.

Passes: an output with ``Limit`` = ``10 A`` and ``Trip`` = ``11…14 A``; a constant-current output, which holds
its limit.

Fails: an output with ``Limit`` alone: what only this assumption protects is not determined to be protected.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("trip-assumed", Severity.NOTE, "Trip of an output is assumed")
