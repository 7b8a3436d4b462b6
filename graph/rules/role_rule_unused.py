"""A rule of the settings that gives roles matches no symbol of the drawing.

The nearest name that exists is given. A rule that is written almost as something on the drawing is most likely
misspelt, and is reported as ``settings-unused``. A wire list writes roles and the values of wires out; with one,
wire classes and nets of the settings that the list does not name are reported here as well.

Formula: none.

Source: common practice, no published source.

Passes: ``"Device:Fuse" = "fuse"`` with such a symbol on the drawing.

Fails: ``"Device:Lamp" = "load"`` without one.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("role-rule-unused", Severity.NOTE, "Role rule matches nothing")
