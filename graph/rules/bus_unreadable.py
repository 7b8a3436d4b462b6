"""A bus name can't be taken apart into its members, so the pins that the bus joins count as not joined.

Only where a drawing is read without kicad-cli; with it, KiCad's own reading of the bus counts.

Formula: none.

Source: KiCad's rules for bus names (vectors, groups and aliases), tried with 9.0.8.

Passes: ``D[0..3]``, ``{PLUS MINUS}``, an alias of the project.

Fails: a group within a group that is no alias, an alias that leads back to itself, or more than 10,000 members.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("bus-unreadable", Severity.WARNING, "Bus not read", incomplete=True)
