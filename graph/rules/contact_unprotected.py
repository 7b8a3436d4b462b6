"""One fault can hold more current on a contact than it is allowed, and nothing opens.

Formula: sustained fault current / allowed current > 1, the sustained fault current as for ``path-unprotected``. Of
several parallel contacts the one on the path that is pinched close to it takes nearly all of the fault.

Source: as for ``path-unprotected``.

Passes: a contact rated 9.2 A behind a fuse that is certain to open above 6.75 A.

Fails: six such contacts in parallel behind a trip of 125 A: a wire pinched just behind one of them puts most of
the fault on that one.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.fault_words import unprotected
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("contact-unprotected", Severity.ERROR, "Contact that nothing protects")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare every contact's sustained fault current with its allowed current."""
    yield from unprotected(facts, RULE, facts.harness.contacts, "Contact")
