"""A converter that fails from input to output: what stands before it then feeds what lies behind it.

Where the minus sides of input and output are joined, a part inside a converter that fails short puts IN+ through to
OUT+ (common practice, no published source). The output's own limit is gone with it; the device before the input is
left, and the loads behind get the voltage of the supply, which may be more than they bear. So they count as failing
in turn: every fault behind the converter is searched with input and output joined. The same search answers
for a converter whose dead input is fed backwards by others at its output, through the same failed part. One that
inverts has IN- and OUT+ in common, and IN+ goes through to OUT-: its loads get the supply's voltage the wrong way
round.

A converter behind one that fails gets the higher voltage as well. Where that is more than its ``Input maximum``, or
none is stated, it fails together with the first.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import networkx as nx

from loadloom.graph.faults.answer import FaultAnswer, PartFault
from loadloom.graph.model.elements import Band, Converter, LoadKind, Switch
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import some_of
from loadloom.graph.model.results import FaultPowerRow, FaultRow

THROUGH = " through"
"""Behind a converter's reference: the id of what joins its input to its output once it has failed."""


@dataclass(frozen=True)
class Through:
    """A harness in which converters have failed from input to output; ``failed`` are their ids, the first by itself
    and the others in turn."""

    failed: tuple[str, ...]
    harness: Harness

    @property
    def words(self) -> str:
        """Who has failed, at the start of a sentence's part."""
        return f"{some_of(list(self.failed), 5)} failed from input to output"


@dataclass(frozen=True, slots=True)
class Side:
    """What a converter joins when it fails: a terminal of its input and one of its output.

    ``turned``: the loads behind then get the input's voltage the wrong way round.
    """

    of_input: str
    of_output: str
    turned: bool = False


def open_side(harness: Harness, converter: Converter) -> Side | None:
    """The terminals that a converter joins when it fails; None for an isolated one.

    Copper, or the chassis, joins one terminal of its input to one of its output; the other two come together.
    """
    outputs = {output.id: output for output in harness.outputs}
    loads = {load.id: load for load in harness.loads}
    output, load = outputs[converter.output_id], loads[converter.load_id]
    joined = _copper(harness)
    for common, to, side in (
        (load.node_minus, output.node_minus, Side(load.node_plus, output.node_plus)),
        (load.node_plus, output.node_plus, Side(load.node_minus, output.node_minus)),
        (load.node_minus, output.node_plus, Side(load.node_plus, output.node_minus, turned=True)),
        (load.node_plus, output.node_minus, Side(load.node_minus, output.node_plus, turned=True)),
    ):
        if common in _joined_to(joined, to):
            return side
    return None


def _copper(harness: Harness) -> nx.Graph:
    """All joints, joined where copper or the chassis joins them."""
    joined: nx.Graph = nx.Graph()
    joined.add_nodes_from(harness.graph)
    joined.add_edges_from((part.node_a, part.node_b) for part in harness.two_ended)
    joined.add_edges_from((bond.node, "«chassis»") for bond in harness.chassis)
    return joined


def _joined_to(copper: nx.Graph, node: str) -> set[str]:
    """All joints that hang together with one."""
    return next(set(piece) for piece in nx.connected_components(copper) if node in piece)


def failed_through(harness: Harness, input_high_v: Mapping[str, float | None]) -> Iterator[Through]:
    """The harness with each converter of joined minus sides failed, one first and what it destroys after it.

    ``input_high_v``: the highest voltage in V at each converter's input while all is well, by converter id.
    ``harness`` is one whose inputs are loads of their own (``greatest_input``).
    """
    outputs = {output.id: output for output in harness.outputs}
    sides = {
        c.id: side for c in harness.converters if outputs[c.output_id].fitted and (side := open_side(harness, c))
    }
    can = [c for c in harness.converters if c.id in sides]
    for first in can:
        failed = [_Failed(first, sides[first.id])]
        while True:
            known = {each.converter.id for each in failed}
            more = [
                one
                for c in can
                if c.id not in known
                and (one := _destroyed(harness, c, sides[c.id], failed, input_high_v[first.id]))
            ]
            if not more:
                break
            failed += more
        yield Through(tuple(each.converter.id for each in failed), _joined(harness, failed))


@dataclass(frozen=True, slots=True)
class _Failed:
    """A converter that has failed. ``may_run``: it is fed the right way round by one that has failed before it, so
    it may as well have survived, and draw what it gives. ``reversed``: it gets its voltage the wrong way round.
    """

    converter: Converter
    side: Side
    may_run: bool = False
    reversed: bool = False

    @property
    def passes_on_reversed(self) -> bool:
        """Whether what lies behind it gets the wrong polarity."""
        return self.reversed != self.side.turned


def _destroyed(
    harness: Harness, converter: Converter, side: Side, failed: Sequence[_Failed], volts: float | None
) -> _Failed | None:
    """A converter that is fed by one that has failed, where it bears less than the voltage that this passes on."""
    outputs = {output.id: output for output in harness.outputs}
    load = next(load for load in harness.loads if load.id == converter.load_id)
    copper = _copper(harness)
    plus, minus = _joined_to(copper, load.node_plus), _joined_to(copper, load.node_minus)
    before = [
        each
        for each in failed
        if (o := outputs[each.converter.output_id]).node_plus in plus and o.node_minus in minus
    ]
    bears = volts is not None and converter.input_maximum_v is not None and volts <= converter.input_maximum_v
    if not any(not bears or each.passes_on_reversed for each in before):
        return None
    right = any(not each.passes_on_reversed for each in before)
    return _Failed(converter, side, may_run=right, reversed=not right)


def _joined(harness: Harness, failed: Sequence[_Failed]) -> Harness:
    """The harness with input and output of the failed converters joined.

    Their inputs stay where they are: a fault can stand across each of them still. The first draws nothing by
    itself. One that failed in turn may as well have survived, so its input may go on drawing what it can; that its
    loads are then counted twice, through it and behind it, is on the safe side.
    """
    gone = {each.converter.output_id for each in failed}
    idle = {each.converter.load_id for each in failed if not each.may_run}
    links = tuple(
        Switch(
            id=each.converter.id + THROUGH,
            subject=each.converter.subject,
            node_a=each.side.of_input,
            node_b=each.side.of_output,
            resistance_ohm=Band.exact(0.0),
        )
        for each in failed
    )
    return replace(
        harness,
        outputs=tuple(replace(o, fitted=False, by_word={}) if o.id in gone else o for o in harness.outputs),
        loads=tuple(
            replace(x, demand_kind=LoadKind.CURRENT, demand=0.0, by_word={}) if x.id in idle else x
            for x in harness.loads
        ),
        switches=(*harness.switches, *links),
        converters=(),
    )


def worst_behind(through: Through, answer: FaultAnswer) -> PartFault | None:
    """The conductor or contact behind the failed converters that is worst off; None where there is none."""
    harness = through.harness
    ends = [switch.node_b for switch in harness.switches if switch.id.endswith(THROUGH)]
    copper: nx.Graph = nx.Graph()
    copper.add_nodes_from(harness.graph)
    copper.add_edges_from((p.node_a, p.node_b) for p in harness.two_ended if not p.id.endswith(THROUGH))
    behind = set().union(*(_joined_to(copper, end) for end in ends))
    parts = [p.id for p in (*harness.conductors, *harness.contacts) if p.node_a in behind]
    found = [answer.parts[name] for name in parts if name in answer.parts]

    def rank(part: PartFault) -> tuple[float, float]:
        amps = part.sustained_fault_a or 0.0
        return (amps / part.allowed_a if part.allowed_a else 0.0, amps)

    return max(found, key=rank, default=None)


def worst_answer(whole: FaultAnswer, failed: Sequence[tuple[Through, FaultAnswer]]) -> FaultAnswer:
    """The answer of a harness and of what its converters become when they fail: of every part the worst."""
    answer = whole
    for through, other in failed:
        names = {row.id: f"{row.id}·{through.failed[0]}" for row in other.faults}
        renamed = {row.id: _renamed(row, names, through) for row in other.faults}
        parts = {name: _worse(part, other.parts.get(name), renamed, through) for name, part in answer.parts.items()}
        by_arrangement = {
            word: {
                name: _worse(part, other.by_arrangement.get(word, {}).get(name), renamed, through)
                for name, part in of_word.items()
            }
            for word, of_word in answer.by_arrangement.items()
        }
        used = {p.fault.id: p.fault for each in (parts, *by_arrangement.values()) for p in each.values() if p.fault}
        rows = {row.id: row for row in answer.faults} | used
        answer = replace(
            answer,
            parts=parts,
            by_arrangement=by_arrangement,
            faults=tuple(rows.values()),
            powers=_worst_powers(answer.powers, other.powers),
            assumptions=tuple(dict.fromkeys((*answer.assumptions, *other.assumptions))),
        )
    return answer


def _renamed(row: FaultRow, names: Mapping[str, str], through: Through) -> FaultRow:
    return replace(row, id=names[row.id], description=f"{through.words}. {row.description}".strip())


def _worse(part: PartFault, other: PartFault | None, rows: Mapping[str, FaultRow], through: Through) -> PartFault:
    """The part's answer of two states; where the second is the worse one its note says who has failed."""
    if other is None:
        return part
    combined = max(part, other, key=lambda each: each.combined_overload_a or 0.0)
    if part.sustained_fault_a is None or other.sustained_fault_a is None:
        unknown = part if part.sustained_fault_a is None else other
        return replace(part, sustained_fault_a=None, protected=None, note=unknown.note)
    verdicts = {part.protected, other.protected}
    protected = False if False in verdicts else None if None in verdicts else True
    # A device counts that protects the part in both states.
    both = tuple(name for name in part.protected_by if name in other.protected_by)
    apart = ""
    if protected and not both:
        here, there = (", ".join(each) or "the copper" for each in (part.protected_by, other.protected_by))
        apart = f"protected by {here}, and by {there} once {through.words}"
    if other.sustained_fault_a <= part.sustained_fault_a * (1.0 + 1e-9):
        note = part.note if part.protected is protected else f"{through.words}: {other.note}".rstrip(": ")
        return replace(
            part,
            protected=protected,
            combined_overload_a=combined.combined_overload_a,
            combined_overload_case=combined.combined_overload_case,
            combined_overload_of=combined.combined_overload_of,
            protected_by=part.protected_by if part.in_band else both,
            note="; ".join(filter(None, (note, apart))),
            in_band=part.in_band or (other.in_band and protected is True),
        )
    return replace(
        other,
        fault=None if other.fault is None else rows[other.fault.id],
        note="; ".join(filter(None, (through.words, other.note, apart))),
        protected=protected,
        combined_overload_a=combined.combined_overload_a,
        combined_overload_case=combined.combined_overload_case,
        combined_overload_of=combined.combined_overload_of,
        failed=through.words,
        protected_by=other.protected_by if other.in_band else both,
    )


def _worst_powers(one: Sequence[FaultPowerRow], other: Sequence[FaultPowerRow]) -> tuple[FaultPowerRow, ...]:
    found = {row.at: row for row in one}
    for row in other:
        if row.at in found and row.power_w > found[row.at].power_w:
            found[row.at] = row
    return tuple(found.values())
