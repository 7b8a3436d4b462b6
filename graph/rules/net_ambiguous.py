"""How the pins of a net hang together can't be told from the drawing.

Formula: none.

Source: common practice, no published source.

Passes: a net of a wire class with two pins; a net with more pins whose shape the settings state; a joint drawn
with a splice.

Fails: a net of a wire class with three pins (chain or star?); four connectors on one bare net; a line between
two pins that are mated with each other.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("net-ambiguous", Severity.WARNING, "Net can be read in two ways", incomplete=True)
