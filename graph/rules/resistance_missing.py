"""An output that never shuts down, such as a battery, states no internal resistance.

Formula: prospective current = voltage / (internal resistance + loop resistance).

Source: common practice, no published source.

Passes: a battery with ``Trip`` = ``none`` and ``Resistance`` = ``5 mΩ``.

Fails: a battery with ``Trip`` = ``none`` alone: its short-circuit current would be without bound.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule(
    "resistance-missing",
    Severity.WARNING,
    "Source that never trips without its resistance",
    incomplete=True,
)
