"""A rule of the settings that gives roles matches no symbol of the drawing.

The nearest that exists is named. Where it is written almost as something that the drawing has, it is most likely
misspelt, and is ``settings-unused``. A wire list has roles and the values of wires written out: of one it is also
said of wire classes and nets of the settings that the list does not name.

Formula: none.

Source: common practice, no published source.

Passes: ``"Device:Fuse" = "fuse"`` with such a symbol on the drawing.

Fails: ``"Device:Lamp" = "load"`` without one.
"""

from loadloom.graph.findings import Rule, Severity

RULE = Rule("role-rule-unused", Severity.NOTE, "Role rule matches nothing")
