"""A field that other roles read stands on a symbol whose role does not read it.

Formula: none.

Source: common practice, no published source.

Passes: a fuse with ``Rating`` = ``10 A``.

Fails: a fuse with ``Gauge`` = ``18 AWG``: a fuse has no gauge; is it meant to be a wire?
"""

from loadloom.graph.findings import Rule, Severity

RULE = Rule("field-not-read", Severity.NOTE, "Field has no meaning for this role")
