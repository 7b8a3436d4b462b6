"""A field's text can't be read as the value that it should hold.

The part counts as unrated, its resistance is a stated placeholder, and every result that rests on it is marked.
The rest of the harness is analysed. AWG and mm² are never swapped for a near size.

Formula: none; a value is a number with its unit, and nothing is guessed.

Source: common practice, no published source.

Passes: a wire with ``Gauge`` = ``18 AWG`` and ``Length`` = ``350 mm``.

Fails: ``Gauge`` = ``16`` (AWG or mm²?), ``Length`` = ``350`` (mm or in?), ``Load`` = ``5``, ``Length`` =
``1,000 m`` (one metre or a thousand?), ``Resistance`` = ``-2 mΩ``, or two fields ``Gauge`` and ``GAUGE`` on one
symbol.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("field-unreadable", Severity.WARNING, "Field can't be read", incomplete=True)
