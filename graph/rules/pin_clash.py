"""The pins of a symbol do not match those of its role.

The part, or the core, is left out of the solve.

Formula: none; pins match by name (``+``, ``-``, ``A``, ``K``, ``S+``, ``S-``) first, else by number.

Source: common practice, no published source.

Passes: a load with pins named ``+`` and ``-``, or numbered 1 and 2; a cable with pins 1A, 1B, 2A, 2B.

Fails: a load whose pin named ``+`` is number 2 while the other pin has no name; a cable with pin 3A and no 3B;
a fuse with three pins in use.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("pin-clash", Severity.WARNING, "Pins can't be told apart", incomplete=True)
