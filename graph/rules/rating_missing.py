"""A part states no rating or setting, so that the current in it can't be judged.

Formula: none.

Source: common practice, no published source.

Passes: a fuse with ``Rating`` = ``10 A``; a limiter with ``Trip`` = ``12 A``; a limiter with ``Trip`` =
``none``, which is not active.

Fails: a fuse, breaker, switch, diode or splice without ``Rating``; a limiter without ``Trip``; a resettable
fuse without ``Hold``; an output without ``Limit``.
"""

from loadloom.graph.findings import Rule, Severity

RULE = Rule("rating-missing", Severity.WARNING, "Part without a rating", "not evaluated", incomplete=True)
