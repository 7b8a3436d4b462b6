"""Between a device's rating and the current at which it is certain to open, a conductor is overloaded.

Formula: sustained fault current > allowed current Iz, at most ``overload_band`` (1.45) times it, and one device
that carries the conductor's whole current has In ≤ Iz and is certain to open at I2 ≤ 1.45·Iz; or devices in
parallel feeds that together cut it off satisfy both with their sums. Insulated conductors only: contacts, splices,
switches and diodes have no band.

Source: IEC 60364-4-43 433.1, value from memory.

Passes: a fuse of 10 A that is certain to open above 13.5 A before a wire with ``Rating`` 15 A.

Fails: a fuse of 20 A that is certain to open above 27 A before a wire with ``Rating`` 20 A: between 20 A and 27 A
it may last as long as the fuse's gate allows.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.fault_words import can_words, fault_words, fed_words
from loadloom.graph.model.figures import duration, figures, floored, raised
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("overload-band", Severity.WARNING, "Overload that the device may not clear")


def check(facts: Facts) -> Iterator[Finding]:
    """Name every part whose device covers it by the band only."""
    harness = facts.harness
    for part in harness.conductors:
        # An arrangement that protects by the band is reported with its own numbers, whatever happens in another
        # one.
        answers = (each.get(part.id) for each in facts.faults.by_arrangement.values())
        banded = [a for a in answers if a is not None and a.in_band and a.sustained_fault_a is not None]
        answer = max(banded, key=lambda a: a.sustained_fault_a or 0.0, default=None)
        if answer is None or answer.allowed_a is None or answer.sustained_fault_a is None:
            continue
        if answer.fault is None or answer.at_rating_a is None:
            continue
        cover = " and ".join(answer.protected_by)
        one = len(answer.protected_by) == 1
        holding = fed_words(answer) or f"where {answer.held_by} stays just below tripping"
        slow = ""
        if answer.tripping_within_s is not None:
            slow = (
                f" Above {figures(answer.sustained_fault_a)} A {cover} may take up to "
                f"{duration(answer.tripping_within_s)}."
            )
        yield RULE.finding(
            part.subject,
            f"{part.id} {can_words(answer)} {figures(answer.sustained_fault_a)} A continuously, "
            f"{figures(answer.sustained_fault_a / answer.allowed_a)} times its allowed "
            f"{figures(answer.allowed_a)} A, which is within the overload band of "
            f"{figures(facts.settings.overload_band)} times: {fault_words(answer.fault).rstrip(',')}, {holding}."
            f"{slow} {cover} {'is' if one else 'are together'} rated "
            f"for {figures(answer.at_rating_a)} A on {part.id}.",
            f"Accept the band, choose {cover} so that {'it is' if one else 'they are'} certain to open above "
            f"{figures(floored(answer.allowed_a))} A, or use a conductor that is allowed "
            f"{figures(raised(answer.sustained_fault_a))} A.",
            case=answer.case,
            value=answer.sustained_fault_a,
            limit=answer.allowed_a,
            unit="A",
            source="IEC 60364-4-43 433.1 (value from memory)",
        )
