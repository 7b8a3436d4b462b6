"""A field is read by no role, and nothing about it looks as if it were meant for loadloom.

It is named once, with the number of symbols that have it, so that a reader sees what was not read.

Formula: none.

Source: common practice, no published source.

Passes: fields that the settings list, ``fields_for_people = ["Part number", "Order *"]``; KiCad's own.

Fails: ``Part number`` = ``4711`` on twelve symbols, not listed.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("field-for-people", Severity.NOTE, "Field that is not read")
