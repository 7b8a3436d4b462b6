"""A connector without a mate stands where the drawing does not tell which current passes its contact.

Formula: none.

Source: common practice, no published source.

Passes: a lone terminal on a net with one wire end and one device pin: it is in series with that wire.

Fails: a lone connector pin on a net with two wire ends and a device, or with wire ends alone.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule(
    "contact-not-placed",
    Severity.WARNING,
    "Contact of an unmated connector can't be placed",
    incomplete=True,
)
