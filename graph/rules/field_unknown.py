"""A field's name is so like a known one that it is probably a misspelling, and it was not read.

What a misspelt field was to say is not known, so nothing that rests on it is a pass.

Formula: similarity of the names of at least 0.8 by the ratio of matching blocks, or a core, pin or word suffix
on a part that has none.

Source: common practice, no published source.

Passes: a load with ``Minimum voltage`` = ``11 V``; a wire with a field ``Part number``, which is like no known
one.

Fails: a wire with ``Lenght`` = ``350 mm``; a cable of three cores with ``Rating.4`` = ``5 A``.
"""

from loadloom.graph.findings import Rule, Severity

RULE = Rule("field-unknown", Severity.WARNING, "Field name looks misspelt", incomplete=True)
