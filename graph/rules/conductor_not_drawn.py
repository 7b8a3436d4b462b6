"""Pins that are apart in the real harness are joined on the drawing with no wire between.

Such a joint has no resistance, no rating and no drop, and must not pass for a wire.

Formula: none; a net is one joint without resistance.

Source: common practice, no published source.

Passes: an output's return pin joined to a wire, and that wire to the load; one terminal and any number of wire
ends on a power symbol.

Fails: an output's and a load's pin on one net; two connector pins joined by a power symbol (a return drawn as
ground) or across sheets, with no wire in between.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("conductor-not-drawn", Severity.WARNING, "Joined without a conductor", incomplete=True)
