"""Other sources can drive more current back through a solar string than its modules withstand.

Formula: the greatest current that the other sources hold backwards through the string's lead while the string has
failed short, no device opening, against 1.35 times its ``Reverse current``, the largest fuse that the module's data
sheet allows in series with it. Each other string gives 1.25 times its short-circuit current.

Source: the module's own data on the drawing; 1.35: reverse current test of IEC 61730-2, and 1.25: NEC 690.8(A)(1),
both figures from memory.

Passes: two strings side by side without fuses, of 9 A each, with ``Reverse current`` = ``15 A``: 11.25 A.

Fails: three of them: 22.5 A, more than 20.25 A.
"""

from collections.abc import Iterator

from loadloom.graph.elements import Conductor
from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures
from loadloom.graph.findings import Finding, Rule, Severity
from loadloom.graph.overload import exceeds
from loadloom.graph.rules.back_feed import nearest

RULE = Rule("solar-reverse-current", Severity.ERROR, "Reverse current through a solar string")

TESTED = 1.35
"""Times the largest fuse that a module is tested with backwards for two hours (IEC 61730-2, from memory)."""


def check(facts: Facts) -> Iterator[Finding]:
    """Every solar string through which other sources can drive too much current backwards."""
    for output in facts.harness.outputs:
        parts = [
            answer
            for answer in facts.faults.back_feeds
            if answer.back_fed_by == output.id and isinstance(facts.harness.by_id.get(answer.id), Conductor)
        ]
        if output.solar is None or not parts:
            continue
        worst = max(nearest(facts.harness, output, parts), key=lambda part: part.sustained_fault_a or 0.0)
        reverse_a, driven_a = output.solar.reverse_a, worst.sustained_fault_a
        if reverse_a is None or not driven_a or not exceeds(driven_a, TESTED * reverse_a):
            continue
        held = f"{worst.held_by} stays just below tripping" if worst.held_by else "nothing limits it"
        yield RULE.finding(
            output.subject,
            f"If {output.id} fails short, the sources beside it drive {figures(driven_a)} A back through it; its "
            f"modules withstand {figures(TESTED * reverse_a)} A ({TESTED:g} × their Reverse current of "
            f"{figures(reverse_a)} A), and {held}.",
            f"Put a fuse of at most {figures(reverse_a)} A, or a diode, into every string.",
            case=worst.case,
            value=driven_a,
            limit=TESTED * reverse_a,
            unit="A",
        )
