"""A result rests on something that nobody stated, and the settings ask for ``strict``.

Without ``strict`` an assumption stands in the report's list, and the verdict may be a pass. With it (``strict`` in
the settings, ``--strict`` on the command line) every assumption is a reason for incomplete. Excepted are sentences
of the list that repeat what the drawing or the settings state, and those that are on the safe side whatever is
true.

Formula: none.

Source: common practice, no published source.

Passes: a drawing that states each tolerance, bundle, ambient, behaviour and resistance that a result rests on.

Fails: with ``strict``, an output without ``Tolerance``; a wire without ``Bundle``.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("assumed", Severity.WARNING, "Assumption, and strict is asked for", incomplete=True)
