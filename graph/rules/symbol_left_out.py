"""A symbol takes no part in the analysis, since the drawing does not say which part it is or what its pins join.

That is so for symbols without a number (``R?``, reported together), for two symbols of one reference, for a library
symbol that is missing from the sheet, for pins without a number, and for a pin number that stands on two nets. A
symbol whose role is ``ignore`` is not reported.

Formula: none.

Source: common practice, no published source.

Passes: every symbol numbered once; an unnumbered logo or mounting hole with ``Role`` = ``ignore``.

Fails: a fuse ``F?``; two loads ``L1``; a contactor with two pins ``1`` on different nets.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("symbol-left-out", Severity.WARNING, "Symbol takes no part", incomplete=True)
