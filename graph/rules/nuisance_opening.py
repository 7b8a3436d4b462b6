"""A device may open in normal use: it is loaded above a chosen loading rule, or its curve covers no such event.

Formula: continuous current > loading share × rating, with the share of the settings (`fuse_loading`) or of the rule
sets `loading-75` (0.75) and `continuous-125` (1 / 1.25 = 0.8); or an event above the rating of which no gate says
that the device carries it.

Source: 75 %: guidance for fuses with UL 248-14 gates at 25 °C, traced to their 100 % carry test, required by no
standard. 80 %: NEC, continuous load of three hours or more, value from memory. IEC 60127 fuses may be used to
100 % at room temperature.

Passes: 7 A continuous on a fuse of 10 A, with the 75 % rule on; 8 A without it.

Fails: 8 A continuous on a fuse of 10 A, with the 75 % rule on.
"""

from collections.abc import Iterator

from loadloom.graph.devices.device_bands import curve_source
from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.judging.trips import Outcome, find_trips
from loadloom.graph.model.elements import Device, DeviceKind
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.rule_books import least_rating_a, loading_share

RULE = Rule("nuisance-opening", Severity.WARNING, "Device may open in normal use")


def check(facts: Facts) -> Iterator[Finding]:
    """Hold continuous currents against the loading share, and events against what the curve covers."""
    yield from _loaded(facts)
    yield from _not_covered(facts)


def _loaded(facts: Facts) -> Iterator[Finding]:
    for device in facts.harness.devices:
        currents = facts.currents.get(device.id)
        if currents is None or device.kind not in (DeviceKind.FUSE, DeviceKind.BREAKER):
            continue
        worst: tuple[float, str, float, float, float, str] | None = None
        for case in facts.cases:
            rating_a = device.under(case.arrangement).rating_a
            current_a = currents.continuous_a[case.id]
            fuse = device.kind is DeviceKind.FUSE
            loading = loading_share(facts.settings, rating_a, fuse=fuse) if rating_a else None
            if rating_a is None or loading is None:
                continue
            share, source = loading
            # Above the rating itself it is no nuisance but fuse-would-open.
            if exceeds(current_a, share * rating_a) and not exceeds(current_a, rating_a):
                here = (current_a / rating_a, case.id, current_a, rating_a, share, source)
                worst = max(worst, here) if worst is not None else here
        if worst is not None:
            ratio, case_id, current_a, rating_a, share, source = worst
            least_a = least_rating_a(facts.settings, current_a, fuse=device.kind is DeviceKind.FUSE)
            yield RULE.finding(
                device.subject,
                f"{device.kind.value.capitalize()} {device.id} of {figures(rating_a)} A carries "
                f"{figures(current_a)} A continuously, {figures(100 * ratio)} % of its rating; the loading rule "
                f"allows {figures(100 * share)} %, {figures(share * rating_a)} A.",
                f"Use a device of at least {figures(least_a)} A if what lies behind allows it, or move loads to "
                "another path.",
                case=case_id,
                value=current_a,
                limit=share * rating_a,
                unit="A",
                source=source,
            )


def _not_covered(facts: Facts) -> Iterator[Finding]:
    for trip in find_trips(facts):
        part = trip.part
        if (
            not isinstance(part, Device)
            or part.kind is DeviceKind.LIMITER
            or trip.outcome is not Outcome.NOT_STATED
        ):
            continue
        yield RULE.finding(
            part.subject,
            f"{part.kind.value.capitalize()} {part.id} has to carry {trip.asked} {trip.how_long}; it is certain to "
            f"carry {trip.carries} continuously, and its curve does not say whether it carries more for that long.",
            "Describe the device's own curve in the settings, with its fastest opening times, and name it in "
            "Curve.",
            case=trip.demand.case,
            value=trip.demand.current_a,
            limit=trip.limits.non_tripping_a,
            unit="A",
            source=curve_source(part, facts.settings),
        )
