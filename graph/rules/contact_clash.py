"""Both halves of a mated pair state a value for the same contacts, and the values differ.

Formula: none; the lower rating counts, of other values that of the naming half.

Source: common practice, no published source.

Passes: a pair of which one half, or both alike, state ``Contact``, ``Contact rating`` and ``Rows``.

Fails: ``P4`` with ``Contact rating`` = ``9 A`` mated with ``J4`` with ``Contact rating`` = ``7 A``.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("contact-clash", Severity.WARNING, "Halves of a pair contradict each other", incomplete=True)
