"""A conductor states no length and was given the settings' default, or the built-in 1 m for a net read as a wire.

Where only the built-in 1 m stands behind it, ``length-missing`` says so as well and the verdict is incomplete.

Formula: none.

Source: common practice, no published source.

Passes: a wire with ``Length``; a net with ``length`` in the settings.

Fails: a net between two connector pins of which the settings say nothing.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("length-assumed", Severity.NOTE, "Length is assumed")
