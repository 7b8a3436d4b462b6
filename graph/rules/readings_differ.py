"""Two independent readings of one drawing, by kicad-cli and by this program, join its pins differently.

The netlist of kicad-cli is what the results rest on. Usually a line or label looks joined and is not, or the
drawing uses something that only one of the two knows.

Formula: the sets of pins of all nets, compared.

Source: none needed: a comparison of two readings.

Passes: both readings join the same pins.

Fails: kicad-cli leaves ``W3`` pin 1 alone on its net, this program joins it with ``J1`` pin 4.
"""

from __future__ import annotations

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("readings-differ", Severity.WARNING, "Readings of the drawing differ", incomplete=True)
