"""One end of a part is joined to nothing else, so that it never carries current.

Formula: none.

Source: common practice, no published source.

Passes: a wire between a contact and a load; a spare core that is free at both ends; an unused position of a
connector.

Fails: a wire that ends in the air.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("dead-end", Severity.WARNING, "Conductor leads nowhere")
