"""A conductor states no length and was given the settings' default, or the built-in 1 m for a net read as a wire.

With the built-in default the results that lean on the length are marked as leaning on a placeholder.

Formula: none.

Source: common practice, no published source.

Passes: a wire with `Length`; a net with `length` in the settings.

Fails: a net between two connector pins of which the settings say nothing.
"""

from loadloom.graph.findings import Rule, Severity

RULE = Rule("length-assumed", Severity.NOTE, "Length is assumed", "justify")
