"""Loads whose voltage is too low for a moment, while a capacitance beside them charges."""

from __future__ import annotations

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.load_cases.charging import Charge
from loadloom.graph.model.elements import Load
from loadloom.graph.model.figures import duration, figures
from loadloom.graph.model.findings import Finding, Rule, Subject


def told_of(facts: Facts, load: Load) -> tuple[Subject, str]:
    """What a finding about a load is about, and how its sentence names it: of a converter's input the converter."""
    converter = next((c for c in facts.harness.converters if c.load_id == load.id), None)
    if converter is not None:
        return converter.subject, f"the input of {converter.id}"
    return load.subject, f"the {load.function}" if load.id.endswith(".COIL") else load.id


def dip_words(facts: Facts, load: Load, charge: Charge) -> str:
    """What gets how much for how long: the first half of a sentence."""
    least_v, lasts_s = charge.dips[load.id]
    return (
        f"While {' and '.join(charge.loads)} {'charges' if len(charge.loads) == 1 else 'charge'}, "
        f"{told_of(facts, load)[1]} gets {figures(least_v)} V, less than the {figures(load.minimum_v or 0.0)} V "
        f"that it needs, for up to {duration(lasts_s)}"
    )


def too_long_dips(facts: Facts, load: Load, rule: Rule) -> Iterator[Finding]:
    """The longest dip of a load that states a hold-up time, where it is longer; at most one."""
    dips = [(charge.dips[load.id][1], charge) for charge in facts.protection.charges if load.id in charge.dips]
    if load.hold_up_s is None or not dips:
        return
    lasts_s, charge = max(dips, key=lambda dip: dip[0])
    if exceeds(lasts_s, load.hold_up_s):
        yield rule.finding(
            told_of(facts, load)[0],
            f"{dip_words(facts, load, charge)}; it bridges {duration(load.hold_up_s)}.",
            "Charge through a pre-charge resistor, use a path of less resistance up to where both are fed, or "
            "switch the capacitance on before it.",
            case=charge.case,
            value=charge.dips[load.id][0],
            limit=load.minimum_v,
            unit="V",
        )
