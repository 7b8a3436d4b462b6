"""Other sources can drive more current back through a solar string than its modules withstand.

Formula: the greatest current that the other sources hold backwards through the string's lead while the string has
failed short, no device opening, against 1.35 times its ``Reverse current``, the largest fuse that the module's data
sheet allows in series with it. Each other string gives 1.25 times its short-circuit current; those of the same
symbol (``Parallel``) have nothing between them.

Source: the module's own data on the drawing; 1.35: reverse current test of IEC 61730-2, and 1.25: NEC 690.8(A)(1),
both figures from memory.

Passes: two strings side by side without fuses, of 9 A each, with ``Reverse current`` = ``15 A``: 11.25 A.

Fails: three of them: 22.5 A, more than 20.25 A; one symbol with ``Parallel`` = ``3`` alike.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.driven_back import driven_back
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("solar-reverse-current", Severity.ERROR, "Reverse current through a solar string")

TESTED = 1.35
"""Times the largest fuse that a module is tested with backwards for two hours (IEC 61730-2, from memory)."""


def check(facts: Facts) -> Iterator[Finding]:
    """Every solar string through which other sources can drive too much current backwards."""
    for output in facts.harness.outputs:
        if output.solar is None or output.solar.reverse_a is None:
            continue
        reverse_a, back = output.solar.reverse_a, driven_back(facts, output)
        if not exceeds(back.current_a, TESTED * reverse_a):
            continue
        inside = output.solar.from_beside_a > 0.0
        who = f"If {output.id} fails short, the sources beside it drive"
        if inside:
            who = f"If one of the {output.solar.strings} strings of {output.id} fails short, those beside it drive"
        held = f"{back.held_by} stays just below tripping" if back.held_by else "nothing limits it"
        yield RULE.finding(
            output.subject,
            f"{who} {figures(back.current_a)} A back through it; its "
            f"modules withstand {figures(TESTED * reverse_a)} A ({TESTED:g} × their Reverse current of "
            f"{figures(reverse_a)} A), and {held}.",
            f"Put a fuse of at most {figures(reverse_a)} A, or a diode, into every string"
            f"{', and draw each string by itself.' if inside else '.'}",
            case=back.case,
            value=back.current_a,
            limit=TESTED * reverse_a,
            unit="A",
        )
