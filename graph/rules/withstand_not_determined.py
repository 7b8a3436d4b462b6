"""What a conductor withstands in a short circuit is not known, and a short circuit puts more on it than it may
carry.

Formula: none where no ``Gauge`` is stated. Where a conductor with a ``Rating`` of its own states no ``Insulation``:
I² × t > (87.6 A·√s/mm² × S)², the k of copper in PVC of 105 °C, the least of the known materials; in its place the
k of the basis' coolest class stands in. Beyond 5 s the heat that the part gives off is subtracted, as for
``damage-before-clearing``.

Behind joined outputs and devices side by side mixtures of the bands of their paths are followed, and not every one:
7 % more heat was the most that another one had in random harnesses. A part that withstands less than 1.1 times what
it gets by those that are followed is not taken to withstand it.

Source: IEC 60364-4-43 434.5.2 and IEC 60949 for k: 226·√(ln((234.5 + 160)/(234.5 + 105))) = 87.6.

Passes: a wire with ``Resistance`` and ``Rating`` whose ``Gauge`` is stated; one without a gauge that no short
circuit takes above its rating.

Fails: a wire that states ``Resistance`` and ``Rating`` alone, behind a supply that gives 700 A for 100 ms.
"""

from collections.abc import Iterator
from dataclasses import replace

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.late_clearing import only_bounded
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.elements import Conductor
from loadloom.graph.model.figures import i2t, quantity
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.ratings.insulation import adiabatic_k_as05_per_mm2
from loadloom.graph.short_circuits.short_circuits import Short

RULE = Rule(
    "withstand-not-determined",
    Severity.WARNING,
    "Whether a part withstands a short circuit is not known",
    incomplete=True,
)

EXAMPLES = {"Gauge": ", such as 1.5 mm² or 16 AWG", "Insulation": ", such as PVC 70 °C"}
"""How the field that is missing is written."""

LEAST_K_AS05_PER_MM2 = adiabatic_k_as05_per_mm2(105.0, 160.0) or 0.0
"""PVC of 105 °C: the least k of the materials that are known, up to the 160 °C of IEC 60949."""


UNFOLLOWED = 1.1
"""Times the heat of the mixtures followed that is left for others (ours; 1.07 was the most in random harnesses)."""


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each conductor of which too little is stated, for the short circuit that puts the most heat
    into it; and one for each part that is nearer to its limit than mixtures that are not followed allow.
    """
    yield from _too_little_stated(facts)
    yield from _near_its_limit(facts)


def _near_its_limit(facts: Facts) -> Iterator[Finding]:
    most: dict[str, tuple[float, Short]] = {}
    for short in facts.protection.short_circuits.every:
        row, rating = short.row, facts.ratings.get(short.part)
        if row.i2t_a2s is None or not row.withstand_a2s or only_bounded(facts, row):
            continue
        allowed_a = (rating.allowed_a if rating is not None else None) or 0.0
        shed_a2s = 0.0
        if not row.adiabatic_in_range:
            if isinstance(facts.harness.by_id[short.part], Conductor):
                continue  # beyond 5 s two bodies count
            shed_a2s = allowed_a**2 * (row.slowest_s or 0.0)
        over = (row.i2t_a2s - shed_a2s) / row.withstand_a2s
        if short.part not in most or over > most[short.part][0]:
            most[short.part] = over, short
    for name, (over, short) in most.items():
        if short.mixed and exceeds(over * UNFOLLOWED, 1.0) and not exceeds(over, 1.0):
            part, withstands = facts.harness.by_id[name], i2t(short.row.withstand_a2s)
            yield RULE.finding(
                part.subject,
                f"{name} gets {i2t(short.row.i2t_a2s)} in a short circuit and withstands {withstands}: another "
                "mixture of the resistances of paths side by side, not followed, may put up to a tenth more heat "
                "into it.",
                "Use a thicker conductor or a larger contact, or a device that clears sooner.",
                case=short.row.case,
                value=short.row.i2t_a2s,
                limit=short.row.withstand_a2s,
                unit="A²·s",
            )


def _too_little_stated(facts: Facts) -> Iterator[Finding]:
    worst: dict[str, Short] = {}
    for short in facts.protection.short_circuits.every:
        part, i2t_a2s = facts.harness.by_id[short.part], short.row.i2t_a2s
        if not isinstance(part, Conductor) or i2t_a2s is None or not _matters(facts, part, short):
            continue
        if short.part not in worst or i2t_a2s > (worst[short.part].row.i2t_a2s or 0.0):
            worst[short.part] = short
    for name, short in worst.items():
        conductor = facts.harness.by_id[name]
        assert isinstance(conductor, Conductor)
        field = "Gauge" if conductor.gauge is None else "Insulation"
        yield RULE.finding(
            replace(conductor.subject, field=field),
            f"{name} gets {i2t(short.row.i2t_a2s)} in a short circuit of up to "
            f"{quantity(short.own_greatest_a, 'A')}; what it withstands is not determined, since it states no "
            f"{field}.",
            f"State {field}{EXAMPLES[field]}.",
            case=short.row.case,
            value=short.row.i2t_a2s,
            unit="A²·s",
            source="IEC 60364-4-43 434.5.2 (value from memory), IEC 60949 (second-hand copy)",
        )


def _matters(facts: Facts, conductor: Conductor, short: Short) -> bool:
    rating = facts.ratings.get(conductor.id)
    allowed_a = rating.allowed_a if rating is not None else None
    if allowed_a is not None and not exceeds(short.own_greatest_a, allowed_a):
        return False
    row, shed_a2s = short.row, 0.0
    if not row.adiabatic_in_range:
        if allowed_a is None:
            return False
        shed_a2s = allowed_a**2 * (row.slowest_s or 0.0)
    if conductor.track is not None:
        return False  # a track that states too little is not rated, which is said
    if conductor.gauge is None:
        return True
    if conductor.insulation is not None or facts.settings.insulation_default_c is not None:
        return False
    heat_a2s = (row.i2t_a2s or 0.0) - shed_a2s
    least_a2s = (LEAST_K_AS05_PER_MM2 * conductor.gauge.area_mm2) ** 2
    certain = row.withstand_a2s is not None and exceeds(heat_a2s, row.withstand_a2s)
    return exceeds(heat_a2s, least_a2s) and not certain
