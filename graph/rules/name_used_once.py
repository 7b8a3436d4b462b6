"""A name that should join parts is on one part alone: a bundle of one conductor, a supply of one output that
states nothing else, or a load that starts together with no other.

What lies beside the conductor, or which outputs share the unit, is then unknown; most likely the name is misspelt
elsewhere. So the verdict is at best incomplete.

Formula: none.

Source: common practice, no published source.

Passes: ``Bundle`` = ``B1`` on two wires, or on a wire and a cable; ``Supply`` = ``PSU`` on one output that states
``Supply power``; ``Bundle`` = ``none``, which states that a conductor lies apart.

Fails: ``Bundle`` = ``B1`` on one wire and ``Bundle`` = ``Bl`` on the other; ``Supply`` = ``PSU`` on one output that
states nothing of the unit.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("name-used-once", Severity.WARNING, "Name that joins nothing", incomplete=True)
