"""A field that other roles read stands on a symbol whose role does not read it.

What it says does not count: a limiter with ``Tolerance`` = ``10 %`` is taken as exact, since its tolerance is
written with ``Trip``. So the verdict is at best incomplete.

Formula: none.

Source: common practice, no published source.

Passes: a fuse with ``Rating`` = ``10 A``; a field that the settings list in ``fields_for_people``.

Fails: a fuse with ``Gauge`` = ``18 AWG``: a fuse has no gauge; is it meant to be a wire?
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("field-not-read", Severity.WARNING, "Field has no meaning for this role", incomplete=True)
