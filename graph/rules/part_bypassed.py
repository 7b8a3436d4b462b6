"""Both ends of a part are one joint, so that it carries nothing.

Formula: none.

Source: common practice, no published source.

Passes: a fuse between two nets.

Fails: a fuse with both pins on one net: it protects nothing.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("part-bypassed", Severity.WARNING, "Part is bridged by a joint")
