"""The settings name a net, a wire class, a zone or a word that the drawing does not have.

Formula: none.

Source: common practice, no published source.

Passes: ``[net."/FEED"]`` with a net of that name on the drawing.

Fails: ``[ambient.DOME]`` with no part in a zone ``DOME``; ``[case.cold]`` with ``state`` = ``sleep`` and no
field ``Load@sleep``: most likely a misspelling, by which something keeps a default.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("settings-unused", Severity.WARNING, "Settings name what is not drawn", incomplete=True)
