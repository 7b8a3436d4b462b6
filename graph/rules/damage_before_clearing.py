"""A short circuit heats a conductor or contact past its short-circuit limit before the device is certain to clear
it.

Formula: I² × t > k² × S², with I the short-circuit current (the least and the greatest at the far end count, and
the greatest just behind the source end), t the slowest clearing time at that current over every order of opening, S
the area, k of copper in its insulation; for a contact its own I²t. For t beyond 5 s heat leaves the copper: then I
> the current that two bodies, copper and insulation, withstand for t. The temperature that counts as damage falls
from the short-circuit limit at 5 s to the insulation's class at one hour (that line is ours); the allowed current
is the long end. Of a contact what it sheds at its allowed current Iz is taken off, (I² - Iz²) × t > I²t. A gate of
a standard is no clearing time of that kind: where it alone gives one beyond 5 s, ``cleared-late`` says so.

A fault of some resistance can set any current below that of the short circuit: just below the fast step of an
electronic limit, or below the trip of an output before it, the Delay of its slow step is t. Fuses and breakers are
left to their standards there (435.1).

Behind joined outputs and devices side by side each path counts at either end of its bands against the others. What
lies in between is not followed: it had up to 7 % more heat in random harnesses, for which a part that is within a
tenth of its limit gets ``withstand-not-determined``.

Source: IEC 60364-4-43 434.5.2 (value of the 5 s limit from memory) and IEC 60949 for k; example: k = 115, S = 1.5
mm², I = 300 A stands for 0.331 s.

Passes: 1.5 mm² in PVC, 300 A, cleared within 0.1 s.

Fails: the same, cleared within 0.5 s; or behind a limiter with a ``Delay`` of 20 s; 0.5 mm² behind a
limiter of 10 A with a ``Delay`` of 5 s and a ``Fast trip`` of 200 A: 199 A may flow for 5 s, 198 kA²s; a contact
of 20 kA²s there as well.
"""

import math
from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.heat.two_body import Stress
from loadloom.graph.judging.idle_devices import IdleDevices
from loadloom.graph.judging.late_clearing import has_gates, late_stress, only_bounded, stall_stress
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.judging.short_words import with_off
from loadloom.graph.judging.slow_overloads import SlowOverload, slow_overloads
from loadloom.graph.model.elements import Conductor, Contact, Device
from loadloom.graph.model.figures import duration, figures, floored, i2t, quantity, raised
from loadloom.graph.model.findings import Finding, Inactive, Rule, Severity, Subject
from loadloom.graph.short_circuits.short_circuits import Short
from loadloom.graph.short_circuits.stalls import Stall

RULE = Rule("damage-before-clearing", Severity.ERROR, "Damaged before the short is cleared")

OF_CONDUCTORS = "IEC 60949 (second-hand copy) up to 5 s, two bodies beyond"


def check(facts: Facts) -> Iterator[Finding]:
    """Hold the I²t of every short circuit against what the part withstands; of each part the one that is most
    over."""
    worst: dict[str, tuple[float, Short, float | Stress]] = {}
    for short in facts.protection.short_circuits.every:
        row = short.row
        if only_bounded(facts, row):
            continue  # ``device-not-determined`` where the bound is too high
        stress = late_stress(facts, short) if row.adiabatic_in_range is False else None
        if stress is not None and exceeds(stress.over, 1.0) and stress.over > worst.get(short.part, (0.0,))[0]:
            worst[short.part] = (stress.over, short, stress)
        if row.i2t_a2s is None or row.withstand_a2s is None:
            continue
        rating = facts.ratings.get(short.part)
        shed_a2s = 0.0
        if not row.adiabatic_in_range:
            is_contact = isinstance(facts.harness.by_id[short.part], Contact)
            if stress is not None or not is_contact or rating is None or rating.allowed_a is None:
                continue
            shed_a2s = rating.allowed_a**2 * (row.slowest_s or 0.0)
        over = (row.i2t_a2s - shed_a2s) / row.withstand_a2s
        if exceeds(over, 1.0) and (short.part not in worst or over > worst[short.part][0]):
            worst[short.part] = (over, short, shed_a2s)
    idle = IdleDevices(facts)
    for _, short, found in worst.values():
        if isinstance(found, Stress):
            yield _too_hot(facts, short, found)
        else:
            yield _damaged(facts, short, found, idle)
    for stall in facts.protection.stalls:
        if any(has_gates(facts, name) for name in stall.cleared_by):
            continue
        stalled = stall_stress(facts, stall)
        if stalled is not None and exceeds(stalled[0], 1.0) and stalled[1].id not in worst:
            yield _stalled(stall, *stalled)
    slow: dict[str, SlowOverload] = {}
    for overload in slow_overloads(facts):
        known = slow.get(overload.part)
        if exceeds(overload.over, 1.0) and (known is None or overload.over > known.over):
            slow[overload.part] = overload
    for name, overload in slow.items():
        if name not in worst:
            yield _slow(facts, overload)


def _slow(facts: Facts, overload: SlowOverload) -> Finding:
    part = facts.harness.by_id[overload.part]
    is_contact = isinstance(part, Contact)
    noun, than = ("contact", "I²t") if is_contact else ("conductor", "current")
    longest = "" if is_contact else " for that time"
    return _times_over(
        part.subject,
        f"A fault of some resistance can send {quantity(overload.current_a, 'A')} through {noun} "
        f"{overload.part} for the {duration(overload.duration_s)} that {overload.opens} may take to open at that "
        f"current: {figures(overload.over)} times the {than} that it withstands{longest}.",
        f"Use a shorter Delay, a lower Fast trip, or a {'larger contact' if is_contact else 'thicker conductor'}.",
        overload.case,
        overload.over,
        source="the contact's own I²t" if is_contact else OF_CONDUCTORS,
    )


def _times_over(
    subject: Subject,
    message: str,
    remedy: str,
    case: str | None,
    over: float,
    *,
    source: str = OF_CONDUCTORS,
    why: str = "",
) -> Finding:
    """A current that is ``over`` times what the part withstands for as long as it flows."""
    return RULE.finding(
        subject,
        message,
        remedy,
        case=case,
        value=over,
        limit=1.0,
        unit="1",
        source=source,
        why=why,
    )


def _stalled(stall: Stall, over: float, part: Conductor) -> Finding:
    return _times_over(
        part.subject,
        f"Conductor {part.id} carries {figures(stall.carried_a.get(part.id))} A while load {stall.load} is "
        f"stalled, {figures(over)} times what it withstands for the {duration(stall.slowest_s)} that "
        f"{' and '.join(stall.cleared_by)} may take to open.",
        "Use a thicker conductor, insulation of a higher temperature class, or a device that opens sooner.",
        stall.case,
        over,
    )


def _too_hot(facts: Facts, short: Short, stress: Stress) -> Finding:
    row, part = short.row, facts.harness.by_id[short.part]
    withstands = f"{quantity(stress.current_a / stress.over, 'A')} for that time"
    carries = f"carries {quantity(stress.current_a, 'A')} for up to {duration(stress.time_s)}"
    return _times_over(
        part.subject,
        f"Conductor {short.part} {carries} in a short circuit{with_off(row)}, until {row.cleared_by} clears it; it "
        f"withstands {withstands}: the current is {figures(stress.over)} times too high.",
        f"Use a conductor that is allowed {quantity(raised(stress.current_a), 'A')}, or a device that clears "
        f"{quantity(stress.current_a, 'A')} sooner.",
        row.case,
        stress.over,
        why=f"In a short circuit{with_off(row)} {short.part} {carries}, until {row.cleared_by} clears it; it "
        f"withstands {withstands}.",
    )


def _damaged(facts: Facts, short: Short, shed_a2s: float, idle: IdleDevices) -> Finding:
    row, part = short.row, facts.harness.by_id[short.part]
    noun = "Contact" if isinstance(part, Contact) else "Conductor"
    more = f" and gives off {i2t(shed_a2s)} meanwhile" if shed_a2s else ""
    # The two heats may have different prefixes, as 1.92 kA²s and 4.42 A²s: the times say that it is not the lesser.
    over = (row.i2t_a2s or 0.0) / ((row.withstand_a2s or 0.0) + shed_a2s)
    off, delay_s = _would_clear(facts, short, idle)
    larger = "a contact that withstands that heat"
    if isinstance(part, Conductor):
        larger = "a thicker conductor or insulation of a higher temperature class"
        if part.area_mm2 is not None:
            # k²S² of the same copper and insulation; a thicker one lets somewhat more current flow.
            larger = f"a conductor of at least {figures(raised(part.area_mm2 * math.sqrt(over)))} mm²"
    ways = [f"use a device that clears this within {duration(floored((row.slowest_s or 0.0) / over))}", larger]
    if off is not None:
        ways.insert(
            0,
            f"make {off.device} active{f' in {off.case}' if off.case else ''}: it clears this within its "
            f"Delay of {duration(delay_s)}",
        )
    ways[0] = f"{ways[0][0].upper()}{ways[0][1:]}"
    return RULE.finding(
        part.subject,
        f"{noun} {short.part} gets {i2t(row.i2t_a2s)} in a short circuit of up to "
        f"{quantity(short.own_greatest_a, 'A')} that {row.cleared_by} clears within "
        f"{duration(row.slowest_s)}{with_off(row)}, {figures(over)} times what it may: it withstands "
        f"{i2t(row.withstand_a2s)}{more}.",
        f"{', or '.join(ways)}.",
        case=row.case,
        value=row.i2t_a2s,
        limit=row.withstand_a2s,
        unit="A²·s",
        source="IEC 60364-4-43 434.5.2 (value from memory), IEC 60949 (second-hand copy)",
        inactive=off,
        why=f"In a short circuit{with_off(row)} {row.cleared_by} takes up to {duration(row.slowest_s)} to open; "
        f"{short.part} withstands that for {duration(floored((row.slowest_s or 0.0) / over))}.",
        change=f"{ways[0]}{'' if off is not None else f', or {ways[1]}'}.",
    )


def _would_clear(facts: Facts, short: Short, idle: IdleDevices) -> tuple[Inactive | None, float | None]:
    """A device that does not act, through which all that is fed to the short comes, and that would have opened in
    time, with its Delay in s; None where there is none.
    """
    row = short.row
    most_s = (row.withstand_a2s or 0.0) / short.own_greatest_a**2 if short.own_greatest_a else 0.0
    for name in idle.in_feed(row.case, [short.part]) or idle.in_feed(row.case, [row.at, row.to]):
        device = facts.harness.by_id[name]
        if isinstance(device, Device) and device.delay_s is not None and device.delay_s <= most_s:
            return Inactive(name, None if idle.always(name) else row.case), device.delay_s
    return None, None
