"""A symbol has no role, or its role is not a known word, so that it is not part of the harness.

A role comes from the field ``Role``, from the library symbol, or from the settings (``[role.library]``,
``[role.reference]``, ``[role.value]``).

Formula: none.

Source: common practice, no published source.

Passes: a fuse of a stock library with the field ``Role`` = ``fuse``, or a rule in the settings that gives the
role to its library id; a symbol that is no part of the harness with ``Role`` = ``ignore``.

Fails: a stock fuse without either; ``Role`` = ``fues``.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("role-missing", Severity.WARNING, "Symbol has no role", incomplete=True)
