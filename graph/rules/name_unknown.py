"""A part names a zone, a contact type or a net class that nothing describes.

Such a name has to be described in the settings. One that is not is most likely misspelt, and the part then keeps a
default that nobody chose. So the verdict is at best incomplete.

Formula: none.

Source: common practice, no published source.

Passes: ``Zone`` = ``dome`` with ``[ambient.dome]`` or ``[enclosure.dome]`` in the settings; ``Contact`` = ``pin``
with ``[contact.pin]``; ``Contact`` = ``any name`` on a contact that states its own rating and resistance, in a
drawing whose settings describe no contact types.

Fails: ``Zone`` = ``dmoe``; ``Contact`` = ``pni`` beside ``[contact.pin]``; a net of class ``Fede`` between a fuse
and a connector, with ``[wire_class.Feed]`` in the settings.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("name-unknown", Severity.WARNING, "Name that nothing describes", incomplete=True)
