"""The input may lack symbols that the drawing has, so parts of the harness may not have been judged.

A netlist in s-expression form (``.net``) leaves out every symbol marked "exclude from board", which wires and
loads may well be; the parts-list XML leaves out every symbol excluded from the parts list. Neither says so.

Formula: none.

Source: behaviour of KiCad 9.0 and 10.0, tried (no published source).

Passes: the schematic itself (``.kicad_sch`` or ``.kicad_pro``) is given, or an XML netlist that lists at least
one symbol as excluded from the parts list, which a parts-list XML never does.

Fails: ``harness.net`` is given: a wire ``W7`` with "exclude from board" set is not in it.
"""

from __future__ import annotations

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("symbols-may-be-missing", Severity.WARNING, "Input may lack symbols")
