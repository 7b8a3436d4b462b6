"""A field looks as if it were meant for loadloom, and it was not read.

What such a field should say is not known, so the verdict is at best incomplete. Each name is reported once, with
the number of symbols that have it.

Formula: similarity of the names of at least 0.75 by the ratio of matching blocks; a known name that begins with
this one or stands in it as a word; a text that is a quantity with a unit or a size; a core, pin or word suffix on a
part that has none.

Source: common practice, no published source.

Passes: a load with ``Minimum voltage`` = ``11 V``; a wire with ``Part number`` = ``4711``, which is like no known
name; any field that the settings list in ``fields_for_people``.

Fails: a wire with ``Lenght`` = ``350 mm``, ``Tol`` = ``5 %``, ``Wire gauge`` = ``18`` or ``Ampacity`` = ``3``; a
cable of three cores with ``Rating.4`` = ``5 A``.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("field-unknown", Severity.WARNING, "Field that may be meant was not read", incomplete=True)
