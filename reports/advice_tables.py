"""What advice says, as tables that every format shows: their columns with units, and notes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from loadloom.graph.model.naming import some_of
from loadloom.reports.ends import subject_said
from loadloom.reports.numbers import column_scale, quantity, share

if TYPE_CHECKING:
    from loadloom.graph.sizing.advice import Advice
    from loadloom.graph.sizing.assignment import Assignment
    from loadloom.graph.sizing.device_settings import Setting


@dataclass(frozen=True, slots=True)
class Field:
    """A column of a table: its title, the unit of its numbers ("" = text or a count) and its values."""

    title: str
    unit: str
    values: Sequence[str | float | int | None]


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its name, a note on how to read it, and its columns."""

    name: str
    note: str
    fields: tuple[Field, ...]

    @property
    def rows(self) -> int:
        """Number of rows."""
        return max((len(f.values) for f in self.fields), default=0)


_NAMED = 8


def headline(advice: Advice) -> str:
    """One sentence: verdicts, sizes changed, copper and losses."""
    changed = sum(1 for row in advice.sizes if row.changed)
    # A device has a row for each arrangement in which it is set otherwise.
    reset, settable = ({d.id for d in advice.devices if d.changed}, {d.id for d in advice.devices})
    swapped = sum(1 for family in advice.families if family.changed)
    others = [
        f"{words}: {count}"
        for count, words in (
            (swapped, "contact families changed"),
            (len({row.id for row in advice.ratings}), "parts with a higher rating"),
            (len(advice.openings), "switches to open"),
        )
        if count
    ]
    more = f"; {', '.join(others)}" if others else ""
    copper, loss = advice.copper_g - advice.copper_drawn_g, advice.loss_w - advice.loss_drawn_w
    return (
        f"{advice.verdict_drawn} as drawn, {advice.verdict} as proposed: {changed} of {len(advice.sizes)} "
        f"conductors get another size, {len(reset)} of {len(settable)} devices another setting{more}; copper "
        f"{quantity(advice.copper_g / 1000.0, 'kg')} ({_more(copper / 1000.0, 'kg')}), losses "
        f"{quantity(advice.loss_w, 'W')} ({_more(loss, 'W')}); {len(advice.mended)} findings mended, "
        f"{len(advice.remaining)} remain.{_not_sized(advice.not_sized_for)}"
    )


def _not_sized(loads: Sequence[str]) -> str:
    if not loads:
        return ""
    return (
        f" Nothing is sized for {some_of(loads, _NAMED)}: what is taken there can't be read, or no "
        "current gets there. Mend that first."
    )


def _more(value: float, unit: str) -> str:
    return f"{quantity(abs(value), unit)} {'more' if value > 0 else 'less'}"


def tables(advice: Advice) -> Iterable[Table]:
    """All tables in the order in which they are shown; some may be empty."""
    sizes, devices, contacts = advice.sizes, advice.devices, advice.contacts
    loss = column_scale((w for r in sizes for w in (r.loss_drawn_w, r.loss_w)), "W")
    yield Table(
        "Sizes",
        "The smallest stocked size of every conductor, found together; one size less would break what governs it.",
        (
            Field("Conductor", "", [r.id for r in sizes]),
            Field("Drawn", "", [r.drawn for r in sizes]),
            Field("Proposed", "", [r.proposed for r in sizes]),
            Field("Governed by", "", [r.governed_by for r in sizes]),
            Field("Length", "m", [r.length_m for r in sizes]),
            Field("Continuous current", "A", [r.current_a for r in sizes]),
            Field("Sustained fault current", "A", [r.sustained_fault_a for r in sizes]),
            Field("Allowed", "A", [r.allowed_a for r in sizes]),
            Field("Copper drawn", "g", [r.copper_drawn_g for r in sizes]),
            Field("Copper proposed", "g", [r.copper_g for r in sizes]),
            Field("Loss drawn", loss.unit, [loss.of(r.loss_drawn_w) for r in sizes]),
            Field("Loss proposed", loss.unit, [loss.of(r.loss_w) for r in sizes]),
            Field("Why", "", [r.why for r in sizes]),
        ),
    )
    yield _settings(
        "Settings",
        "The drawn setting where it is inside its setting range, else the nearest standard rating or setting "
        "that is. The "
        "high end is that of contacts with the best family stated, and of conductors at the size that is drawn or "
        "that their load asks for; only where nothing is left they may grow. A channel drawn as off shows no "
        "drawn value.",
        devices,
    )
    families, ratings, openings = advice.families, advice.ratings, advice.openings
    yield Table(
        "Contact families",
        "The smallest family stated in the settings that does on every contact of the connector and takes its "
        "wires. None proposed: none does, and why.",
        (
            Field("Connector", "", [f.connector for f in families]),
            Field("Drawn", "", [f.drawn for f in families]),
            Field("Proposed", "", [f.proposed for f in families]),
            Field("Needed", "A", [f.needed_a for f in families]),
            Field("Allowed drawn", "A", [f.allowed_drawn_a for f in families]),
            Field("Allowed proposed", "A", [f.allowed_a for f in families]),
            Field("Why", "", [f.reason for f in families]),
        ),
    )
    yield Table(
        "Parts to choose",
        "Choose a part of at least the value proposed: the next one that the settings list, else the least that is "
        "needed.",
        (
            Field("Part", "", [r.id for r in ratings]),
            Field("Field", "", [r.field for r in ratings]),
            Field("Drawn", "", [_with_unit(r.drawn, r.unit) for r in ratings]),
            Field("At least", "", [_with_unit(r.proposed, r.unit) for r in ratings]),
            Field("Why", "", [r.reason for r in ratings]),
        ),
    )
    yield Table(
        "Switches to open",
        "Switches that join outputs and that no load needs closed.",
        (
            Field("Switch", "", [o.id for o in openings]),
            Field("Mends", "", [", ".join(o.mends) for o in openings]),
            Field("Why", "", [o.reason for o in openings]),
        ),
    )
    yield _settings(
        "Trip plan",
        "The channels that can be set, with the sizes as proposed: a setting that rides through all cases and "
        "keeps all that it guards, or the part that prevents it.",
        advice.trip_plan,
    )
    yield _spread(advice.spread)
    yield Table(
        "Paths",
        "Contacts side by side that the current needs: shared evenly, with one new among aged ones, with one open.",
        (
            Field("Contacts", "", [", ".join(w.contacts) for w in contacts]),
            Field("Case", "", [w.case for w in contacts]),
            Field("Current", "A", [w.total_a for w in contacts]),
            Field("Allowed each", "A", [w.allowed_a for w in contacts]),
            Field("Drawn", "", [w.drawn for w in contacts]),
            Field("For the load", "", [w.for_load for w in contacts]),
            Field("Uneven", "", [w.uneven for w in contacts]),
            Field("One open", "", [w.one_open for w in contacts]),
            Field("Needed", "", [w.needed for w in contacts]),
            Field("Note", "", [w.note for w in contacts]),
        ),
    )
    yield Table(
        "Order of upsizing",
        "Voltage drop budget: one stocked size more that the contacts take, on all conductors that share a size, "
        "by volts gained at the load per gram of copper.",
        (
            Field("Load", "", [g.load for g in advice.budget]),
            Field("Conductor", "", [g.conductor for g in advice.budget]),
            Field("To", "", [g.to for g in advice.budget]),
            Field("Drop now", "V", [g.drop_v for g in advice.budget]),
            Field("Gained", "V", [g.gained_v for g in advice.budget]),
            Field("Copper added", "g", [g.added_g for g in advice.budget]),
            Field("Gained per gram", "V/g", [g.v_per_g for g in advice.budget]),
        ),
    )
    yield Table(
        "Not by size",
        "What no stocked size mends, and what would.",
        (
            Field("Rule", "", [r.rule for r in advice.left]),
            Field("Part", "", [r.subject for r in advice.left]),
            Field("Why", "", [r.why for r in advice.left]),
            Field("What would", "", [r.remedy for r in advice.left]),
        ),
    )
    for name, note, findings in (
        ("Remaining", "What the full analysis still finds with everything as proposed.", advice.remaining),
        ("Mended", "What the full analysis found as drawn and no longer finds.", advice.mended),
    ):
        yield Table(
            name,
            note,
            (
                Field("Severity", "", [str(f.severity) for f in findings]),
                Field("Rule", "", [f.rule for f in findings]),
                Field("Part", "", [subject_said(f.subject.id, {}) for f in findings]),
                Field("Finding", "", [f.message for f in findings]),
                Field("Remedy", "", [f.remedy for f in findings]),
            ),
        )
    yield Table("Assumptions", "What this rests on.", (Field("Assumption", "", advice.assumptions),))


def _with_unit(value: float | None, unit: str) -> str | None:
    return None if value is None else quantity(value, unit)


def _settings(name: str, note: str, devices: Sequence[Setting]) -> Table:
    return Table(
        name,
        note,
        (
            Field("Device", "", [d.id for d in devices]),
            Field("Kind", "", [d.kind for d in devices]),
            Field("Arrangement", "", [d.arrangement or "as drawn" for d in devices]),
            Field("Drawn", "A", [d.drawn_a for d in devices]),
            Field("Proposed", "A", [d.proposed_a for d in devices]),
            Field("Setting range from", "A", [d.low_a for d in devices]),
            Field("Asked by", "", [d.low_by for d in devices]),
            Field("Setting range to", "A", [d.high_a for d in devices]),
            Field("Limited by", "", [d.high_by for d in devices]),
            Field("Why", "", [d.reason for d in devices]),
        ),
    )


def _spread(found: Assignment | None) -> Table:
    uses = found.uses if found is not None else ()
    return Table(
        "Spread of the loads",
        f"{spread_words(found)} Loads count with what they draw where they are; those that move ask no output "
        "for more than its limit.",
        (
            Field("Channel", "", [u.channel for u in uses]),
            Field("Loads today", "", [", ".join(u.loads_today) for u in uses]),
            Field("Loads proposed", "", [", ".join(u.loads) for u in uses]),
            Field("Worst case", "", [u.case for u in uses]),
            Field("Current", "A", [u.current_a for u in uses]),
            Field("Carries", "A", [u.limit_a for u in uses]),
            Field("Margin today", "", [share(u.margin_today) for u in uses]),
            Field("Margin proposed", "", [share(u.margin) for u in uses]),
        ),
    )


def spread_words(found: Assignment | None) -> str:
    """One sentence on the spread of the loads over the channels."""
    if found is None:
        return "There are not two channels with loads: nothing to spread."
    if found.margin is None:
        return found.reason
    fewest = "no number of channels carries them"
    if found.fewest is not None:
        fewest = f"no fewer than {found.fewest} channels carry them"
    today = f"today {share(found.margin_today)}" if found.margin_today is not None else "today not all on a channel"
    moved = f"by moving {', '.join(found.moved)}" if found.moved else "as it is today"
    text = f"Largest worst-case margin {share(found.margin)} ({today}), {moved}; {fewest}."
    return f"{text} {found.reason}" if found.reason else text
