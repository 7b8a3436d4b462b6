"""What a fault can hold on splices, switches and diodes, as far as it is determined.

The fault search answers for switches and diodes as for conductors, and for splices by what flows in (see
``splice_cuts``). For a splice that it leaves out there are bounds from the conductors that end there: what runs
through the whole of one of them runs through the splice, and no more than half the sum of all, nor than what the
only way to the outputs carries where loads are all that is behind the others.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from loadloom.graph.facts.facts import Facts
from loadloom.graph.faults.answer import PartFault
from loadloom.graph.judging.fault_words import fault_words, holder_words, why_in_short
from loadloom.graph.judging.idle_devices import IdleDevices
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.elements import Diode, Splice, Switch, TwoEnded
from loadloom.graph.model.figures import figures, floored, raised
from loadloom.graph.model.findings import Finding, Rule


@dataclass(frozen=True, slots=True)
class Beyond:
    """A part with a rating and what is known of it. ``answer``: the fault that puts the most on it, which
    ``shown_by`` names where it is another part's; None: nothing says. ``most_a``: what it never exceeds, in A, None
    where that is not known.
    """

    part: Splice | Switch | Diode
    allowed_a: float
    answer: PartFault | None
    most_a: float | None

    @property
    def shown_by(self) -> str:
        """Whose fault it is, in words; empty for its own."""
        return f" with {self.answer.id}" if self.answer is not None and self.answer.id != self.part.id else ""

    @property
    def is_over(self) -> bool | None:
        """Whether a fault can hold more than is allowed; None: it is not determined."""
        answer, allowed_a = self.answer, self.allowed_a
        if (
            answer is not None
            and answer.sustained_fault_a is not None
            and exceeds(answer.sustained_fault_a, allowed_a)
        ):
            return True
        if answer is not None and answer.id == self.part.id and answer.protected is None:
            return None
        return False if self.most_a is not None and not exceeds(self.most_a, allowed_a) else None


def splices(facts: Facts) -> Iterator[Beyond]:
    """Splices with a rating."""
    for splice in facts.harness.splices:
        allowed_a = facts.ratings[splice.id].allowed_a
        if allowed_a is None:
            continue
        own = facts.faults.parts.get(splice.id)
        if own is not None and own.sustained_fault_a is not None and own.protected is not None:
            yield Beyond(splice, allowed_a, own, own.sustained_fault_a)
        else:
            ends = list(facts.output_sides.ends(splice.node))
            answers = [facts.faults.parts.get(e.id) for e in ends]
            whole = [a for a in answers if a is not None and a.whole and a.sustained_fault_a is not None]
            shown = max(whole, key=lambda a: a.sustained_fault_a or 0.0, default=None)
            only_assumed = own is not None and own.sustained_fault_a is not None
            yield Beyond(splice, allowed_a, shown, None if only_assumed else _most_a(facts, splice, ends))


def switches(facts: Facts) -> Iterator[Beyond]:
    """Switches and diodes on the board with a rating, open switches too: somebody may close them."""
    parts: tuple[Switch | Diode, ...] = (*facts.harness.switches, *facts.harness.diodes)
    for part in parts:
        allowed_a = facts.ratings[part.id].allowed_a
        may_conduct = part.fitted or (isinstance(part, Switch) and part.welds)
        if may_conduct and allowed_a is not None:
            own = facts.faults.parts.get(part.id)
            yield Beyond(part, allowed_a, own, own.sustained_fault_a if own is not None else None)


def unprotected(facts: Facts, rule: Rule, found: Iterator[Beyond], noun: str) -> Iterator[Finding]:
    """Findings for parts through which more can run continuously than they are allowed, the overload band
    excepted."""
    idle = IdleDevices(facts)
    for beyond in found:
        answer, allowed_a = beyond.answer, beyond.allowed_a
        if not beyond.is_over or answer is None or answer.sustained_fault_a is None:
            continue
        most_a = answer.sustained_fault_a
        how = answer.note or "the loads alone draw it, and nothing opens"
        if answer.fault is not None:
            how = f"{fault_words(answer.fault).rstrip(',')}{holder_words(answer)}"
        yield rule.finding(
            beyond.part.subject,
            f"{noun} {beyond.part.id} can be made to carry {figures(most_a)} A continuously{beyond.shown_by}, "
            f"{figures(most_a / allowed_a)} times its allowed {figures(allowed_a)} A: {how}.",
            f"Put a device before it that is certain to open above {figures(floored(allowed_a))} A, or use one "
            f"that is allowed {figures(raised(most_a))} A.",
            case=answer.case,
            value=most_a,
            limit=allowed_a,
            unit="A",
            why="" if beyond.shown_by or answer.allowed_a is None else why_in_short(facts, answer, idle),
        )


def not_known(facts: Facts, found: Iterator[Beyond]) -> Iterator[Beyond]:
    """Those of which it is not determined whether they are protected."""
    return (beyond for beyond in found if beyond.is_over is None)


def _most_a(facts: Facts, splice: Splice, ends: list[TwoEnded]) -> float | None:
    """A current in A that a splice never exceeds, from what its conductors carry at most; None where unknown."""
    harness = facts.harness
    if splice.node in facts.terminal_joints:
        return None
    most_a = []
    for end in ends:
        answer = facts.faults.parts.get(end.id)
        if answer is None or answer.sustained_fault_a is None:
            return None
        most_a.append(answer.sustained_fault_a)
    sides = facts.output_sides
    far = [e.node_b if e.node_a == splice.node else e.node_a for e in ends]
    to_outputs = [n for n, node in enumerate(far) if sides.reached_without(splice.node, node)]
    outputs = [o for o in harness.outputs if o.fitted]
    if len(outputs) == 1 and len(to_outputs) == 1:
        return most_a[to_outputs[0]]
    return 0.5 * sum(most_a)
