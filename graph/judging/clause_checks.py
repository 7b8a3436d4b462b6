"""What each clause of a rule book asks for, one function for each check that ``clauses.csv`` names."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from loadloom.graph.facts.facts import Facts
from loadloom.graph.facts.protection import Protected
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.judging.reach import Reach, Walk
from loadloom.graph.model.elements import Conductor, ConductorKind, Device, DeviceKind, GaugeSystem, Output
from loadloom.graph.model.figures import figures, floored, raised
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.naming import all_of
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.insulation import insulation_of
from loadloom.graph.ratings.marine import CFR_183
from loadloom.graph.rule_books import Clause, gauge_table, value

WHOLE_SHARE = 0.999
"""From this share of its device's current on a conductor counts as carrying all of it."""

LOW_VOLTAGE_V = 60.0
"""A battery up to this voltage is a low-voltage one in the racing rules (60 V DC; value from memory)."""

SMALL_CRAFT_V = 50.0
"""33 CFR 183.455(c): below it a device may be 150 % of table 5."""

LEAST_AWG_SHEATHED, LEAST_AWG_ALONE = "18", "16"
"""33 CFR 183.425(d) and (e)."""

EXEMPT_BELOW_A = 1.0
"""33 CFR 183.425(g): circuits of less current need not keep to the least sizes."""

STANDARD_SIZES_A = (
    *(1.0, 3.0, 6.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0, 110.0),
    *(125.0, 150.0, 175.0, 200.0, 225.0, 250.0, 300.0, 350.0, 400.0, 450.0, 500.0, 600.0),
)
"""Standard sizes of fuses and breakers, NEC 240.6(A); values from memory."""


@dataclass(frozen=True, slots=True)
class ClauseVerdict:
    """What a clause has to say about one part; ``exempt`` where it lets it pass or does not cover it."""

    subject: Subject
    message: str
    remedy: str
    case: str | None = None
    value: float | None = None
    limit: float | None = None
    unit: str | None = None
    exempt: bool = False


Check = Callable[[Facts, Clause], Iterator[ClauseVerdict]]


def judge(facts: Facts, clause: Clause) -> Iterator[ClauseVerdict]:
    """Run the check of a clause."""
    yield from CHECKS[clause.check](facts, clause)


def _device_by_table(facts: Facts, clause: Clause) -> Iterator[ClauseVerdict]:
    """The device is no larger than the table gives for the wire size that it guards."""
    table = {row.awg: row for row in gauge_table(clause.rule_set)}
    for there, device, conductor, _ in _guarded(facts):
        gauge, setting = conductor.gauge, device.setting_a
        row = table.get(gauge.size) if gauge is not None and gauge.system is GaugeSystem.AWG else None
        limit = None
        if row is not None:
            limit = row.fuse_a if device.kind is DeviceKind.FUSE else row.breaker_a
        if limit is None:
            size = str(gauge) if gauge is not None else "unknown size"
            yield ClauseVerdict(
                conductor.subject,
                f"{conductor.id} of {size} behind {device.id} is not covered by the table of {clause.rule_set}.",
                "Nothing to do for this clause; its current is judged by its rating.",
                case=there.case,
                exempt=True,
            )
        elif setting is not None and exceeds(setting, limit):
            yield ClauseVerdict(
                conductor.subject,
                f"{device.kind.value.capitalize()} {device.id} of {figures(setting)} A protects {conductor.id} of "
                f"{gauge}, for which {clause.rule_set} allows at most {figures(limit)} A.",
                f"Use a device of at most {figures(limit)} A, or a thicker conductor.",
                case=there.case,
                value=setting,
                limit=limit,
                unit="A",
            )


def _device_by_gauge(facts: Facts, clause: Clause) -> Iterator[ClauseVerdict]:
    """The wire is at least as thick as the table gives for the fuse, or for another device, before it."""
    table = gauge_table(clause.rule_set)
    for there, device, conductor, _ in _guarded(facts):
        setting = device.setting_a
        if setting is None:
            continue
        ratings = [(r, r.fuse_a if device.kind is DeviceKind.FUSE else r.breaker_a) for r in table]
        row = next((r for r, most in ratings if most is not None and not exceeds(setting, most)), None)
        what = f"{device.kind.value} {device.id} of {figures(setting)} A"
        if row is None or conductor.gauge is None:
            yield ClauseVerdict(
                conductor.subject,
                f"{conductor.id} behind {what} is not covered by the table of {clause.rule_set}.",
                "Nothing to do for this clause; its current is judged by its rating.",
                case=there.case,
                exempt=True,
            )
        elif conductor.gauge.area_mm2 < 0.99 * awg_area_mm2(row.awg):
            yield ClauseVerdict(
                conductor.subject,
                f"{what[:1].upper()}{what[1:]} protects {conductor.id} of {conductor.gauge}, and "
                f"{clause.rule_set} asks for at least {row.awg} AWG behind it.",
                f"Use at least {row.awg} AWG, or a smaller device.",
                case=there.case,
                value=conductor.gauge.area_mm2,
                limit=awg_area_mm2(row.awg),
                unit="mm²",
            )


def _device_to_wire(facts: Facts, clause: Clause) -> Iterator[ClauseVerdict]:
    """The device's number is at most the allowed current of what it guards, by its share of the current."""
    for there, device, conductor, factor in _guarded(facts):
        setting, allowed = device.setting_a, _allowed_a(facts, conductor.id)
        if setting is None or allowed is None or not exceeds(setting * factor, allowed):
            continue
        yield ClauseVerdict(
            conductor.subject,
            f"{device.id} of {figures(setting)} A protects {conductor.id}, which is allowed {figures(allowed)} A"
            f"{f' and carries {figures(100.0 * factor)} % of its current' if factor < WHOLE_SHARE else ''}.",
            f"Use a device of at most {figures(allowed / factor)} A, or a thicker conductor.",
            case=there.case,
            value=setting * factor,
            limit=allowed,
            unit="A",
        )


def _device_to_loads(facts: Facts, clause: Clause) -> Iterator[ClauseVerdict]:
    """The device is at most the next size of the rule book's table above what all its loads together draw.

    Rounding up to a size that exists is this tool's reading of the clause.
    """
    sizes = sorted(
        {a for row in gauge_table(clause.rule_set) for a in (row.breaker_a, row.fuse_a) if a is not None}
    )
    for device in facts.harness.devices:
        demands = facts.protection.demands.get(device.id, ())
        worst = max(demands, key=lambda d: d.current_a, default=None)
        if worst is None or worst.current_a <= 0.0:
            continue
        there = next(a for a in facts.protection.arrangements if _has_case(facts, a, worst.case))
        part = there.parts.get(device.id)
        setting = part.setting_a if isinstance(part, Device) else None
        limit = next((size for size in sizes if not exceeds(worst.current_a, size)), None)
        if setting is None or limit is None or not exceeds(setting, limit):
            continue
        yield ClauseVerdict(
            device.subject,
            f"{device.id} of {figures(setting)} A feeds loads of {figures(worst.current_a)} A together; the next "
            f"standard size is {figures(limit)} A.",
            f"Use a device of {figures(limit)} A if it rides through all states.",
            case=worst.case,
            value=setting,
            limit=limit,
            unit="A",
        )


def _parallel_paths(facts: Facts, clause: Clause) -> Iterator[ClauseVerdict]:
    """Each of several parallel conductors is protected as if it stood alone."""
    for there, device, conductor, factor in _guarded(facts):
        setting, allowed = device.setting_a, _allowed_a(facts, conductor.id)
        alone = factor > WHOLE_SHARE or setting is None or allowed is None
        if alone or not exceeds(setting or 0.0, allowed) or exceeds((setting or 0.0) * factor, allowed):
            continue
        yield ClauseVerdict(
            conductor.subject,
            f"{device.id} of {figures(setting)} A protects {conductor.id}, one of several in parallel, which "
            f"alone is allowed {figures(allowed)} A.",
            "Give each parallel conductor a device of its own.",
            case=there.case,
            value=setting,
            limit=allowed,
            unit="A",
        )


def _tap(facts: Facts, clause: Clause) -> Iterator[ClauseVerdict]:
    """A conductor that is allowed less than the device before it, and longer than exempt, has its own device early.

    Allowed current counts, not size: a thin tap that withstands what the device before it passes needs no further
    one.
    """
    exempt_m = value(facts.settings, clause.rule_set, "tap_length_m")
    within_m = value(facts.settings, clause.rule_set, "tap_device_within_m")
    seen: set[str] = set()
    for there, walk in _walks(facts):

        def weak(conductor: Conductor, there: Protected = there) -> bool:
            allowed, (_, before) = _allowed_a(facts, conductor.id), _before(there, conductor.id)
            return allowed is not None and exceeds(before, allowed)

        for tap in walk.taps(weak):
            subject, name = tap.conductor.subject, tap.conductor.id
            if name in seen:
                continue
            seen.add(name)
            device, number = _before(there, name)
            at = "never trips" if math.isinf(number) else f"{figures(number)} A"
            low = (
                f"{name} is allowed {figures(_allowed_a(facts, name) or 0.0)} A, less than {device} before it "
                f"({at}). It runs {_metres(tap.bare_m)}"
            )
            if not tap.ends_bare and tap.bare_m <= within_m * (1.0 + 1e-9):
                continue
            if tap.bare_m <= exempt_m * (1.0 + 1e-9):
                yield ClauseVerdict(
                    subject,
                    f"{low} without a device of its own, no more than the exempt {_metres(exempt_m)}.",
                    "Nothing to do for this clause; what can flow in it is judged by its sustained fault current.",
                    case=there.case,
                    value=tap.bare_m,
                    limit=exempt_m,
                    unit="m",
                    exempt=True,
                )
                continue
            own_device = next((path.device for path in tap.paths if path.device is not None), None)
            thicker = f", or use a conductor that is allowed {at}" if math.isfinite(number) else ""
            own = f"up to its device {own_device}" if not tap.ends_bare else "and has no device of its own"
            yield ClauseVerdict(
                subject,
                f"{low} {own}; a device has to stand within {_metres(within_m)} of its source end.",
                f"Put a device within {_metres(within_m)} of the source end of {name}{thicker}.",
                case=there.case,
                value=None if math.isinf(tap.bare_m) else tap.bare_m,
                limit=within_m,
                unit="m",
            )


def _common_conductor(facts: Facts, clause: Clause) -> Iterator[ClauseVerdict]:
    """A conductor with all current of an output or pack is allowed the sum of the individual devices' numbers.

    These are the devices of the parallel strings before it, or those next behind it, unless a device of its own
    sees to it. Other conductors are not the clause's.
    """
    seen: set[str] = set()
    for there in facts.protection.arrangements:
        sums, whole = _sums_of_devices(facts, there), _carrying_all(facts, there)
        for conductor in facts.harness.conductors:
            allowed = _allowed_a(facts, conductor.id)
            if conductor.id in seen or conductor.id not in whole or allowed is None:
                continue
            names, total = _individual_devices(there, conductor.id, sums.get(conductor.id, ((), 0.0)), allowed)
            if len(names) < 2 or not exceeds(total, allowed):
                continue
            seen.add(conductor.id)
            yield ClauseVerdict(
                conductor.subject,
                f"{conductor.id} carries the whole current of {len(names)} devices ({all_of(names)}), "
                f"{figures(total)} A together, but is allowed {figures(allowed)} A.",
                f"Use a conductor that is allowed {figures(raised(total))} A, or put a device of at most "
                f"{figures(floored(allowed))} A into {conductor.id}.",
                case=there.case,
                value=total,
                limit=allowed,
                unit="A",
            )


def _individual_devices(
    there: Protected, part: str, behind: tuple[tuple[str, ...], float], allowed_a: float
) -> tuple[tuple[str, ...], float]:
    """Devices of the strings before a conductor and their sum in A, else those next behind it.

    None where devices of its own, nearer to the source, hold it within what it is allowed.
    """
    before = {
        g.device: device.setting_a
        for g in there.guards.get(part, ())
        if isinstance(device := there.parts.get(g.device), Device) and device.setting_a is not None
    }
    strings = {name: setting for name, setting in before.items() if name not in behind[0]}
    if strings and not exceeds(sum(strings.values()), allowed_a):
        return (), 0.0
    if len(strings) > 1:
        return tuple(strings), sum(strings.values())
    return behind


def _carrying_all(facts: Facts, there: Protected) -> set[str]:
    """Conductors through which all current of some output flows, out or back: all of its loads are behind them."""
    copper = next(c for c in facts.protection.copper if c.word == there.word)
    conductors = {c.id for c in facts.harness.conductors}
    found: set[str] = set()
    for view in (*copper.outputs, *copper.stacks):
        fed = [ends for _, *ends in copper.loads if view.feed.reaches(ends[0]) and view.back.reaches(ends[1])]
        for paths, side in ((view.feed, 0), (view.back, 1)):
            behind = [0] * len(copper.network.node_ids)
            for ends in fed:
                behind[ends[side]] += 1
            total = sum(behind)
            for block in reversed(paths.blocks):
                inside = sum(behind[node] for node in block.inside)
                behind[block.entry] += inside
                if total and inside == total and len(block.branches) == 1:
                    name = copper.branches.ids[block.branches[0]]
                    found.update({name} & conductors)
    return found


def _battery_device(facts: Facts, clause: Clause) -> Iterator[ClauseVerdict]:
    """A low-voltage battery's first devices together trip at or below its largest discharge current, ``Limit``."""
    seen: set[str] = set()
    for there, walk in _walks(facts):
        output = walk.output
        low = output.voltage_v is not None and output.voltage_v <= LOW_VOLTAGE_V
        if not output.never_trips or not low or output.id in seen:
            continue
        first = walk.first_devices()
        bare = None in first
        numbers = {n: part.setting_a for n in first if n and isinstance(part := there.parts[n], Device)}
        total = sum(math.inf if setting is None else setting for setting in numbers.values())
        if output.limit_a is None:
            message, remedy = (
                "states no Limit, so its device can't be compared with it",
                "State the field Limit, the largest discharge current.",
            )
        elif bare or not numbers:
            message, remedy = (
                "feeds a conductor with no device",
                f"Put a device of at most {figures(output.limit_a)} A there.",
            )
        elif exceeds(total, output.limit_a):
            message = (
                f"may give {figures(output.limit_a)} A at most and is protected by {all_of(list(numbers))} of "
                f"{figures(total)} A{' together' if len(numbers) > 1 else ''}"
            )
            remedy = f"Use devices of {figures(output.limit_a)} A at most, all together."
        else:
            continue
        seen.add(output.id)
        yield ClauseVerdict(
            output.subject,
            f"The battery {output.id} {message}.",
            remedy,
            case=there.case,
            value=total if numbers and not bare and math.isfinite(total) else None,
            limit=output.limit_a,
            unit="A",
        )


def _device_by_table_5(facts: Facts, clause: Clause) -> Iterator[ClauseVerdict]:
    """The device against table 5 of 33 CFR 183: 150 % of it below 50 V; from 50 V its value, or the next size."""
    share = value(facts.settings, clause.rule_set, "device_share_below_50_v")
    next_share = value(facts.settings, clause.rule_set, "next_size_share")
    for there, device, conductor, _ in _guarded(facts):
        setting = device.setting_a
        row = CFR_183.row(conductor.gauge) if conductor.gauge is not None else None
        limit_c = insulation_of(conductor, facts.settings).limit_c
        column = max((c for c in CFR_183.columns if c.limit_c <= limit_c), key=lambda c: c.limit_c, default=None)
        table_a = tables.number(row, column.name) if row is not None and column is not None else None
        if setting is None or table_a is None:
            yield ClauseVerdict(
                conductor.subject,
                f"{conductor.id} behind {device.id} is not covered by table 5 of 33 CFR 183.425.",
                "Nothing to do for this clause; its current is judged by its rating.",
                case=there.case,
                exempt=True,
            )
            continue
        below = _highest_voltage_v(facts) < SMALL_CRAFT_V
        limit = share * table_a if below else _next_size_a(table_a, next_share)
        if exceeds(setting, limit):
            why = f"{figures(100 * share)} % of that" if below else "that or the next standard size"
            yield ClauseVerdict(
                conductor.subject,
                f"{device.id} of {figures(setting)} A protects {conductor.id} of {conductor.gauge}. Table 5 of 33 "
                f"CFR 183.425 gives {figures(table_a)} A, and the device may be at most {why}, {figures(limit)} A.",
                f"Use a device of at most {figures(limit)} A, or a thicker conductor.",
                case=there.case,
                value=setting,
                limit=limit,
                unit="A",
            )


def _device_next_size(facts: Facts, clause: Clause) -> Iterator[ClauseVerdict]:
    """The device is at most what its conductor is allowed, or the next larger size up to a share of it."""
    share = value(facts.settings, clause.rule_set, "next_size_share")
    for there, device, conductor, factor in _guarded(facts):
        setting, allowed = device.setting_a, _allowed_a(facts, conductor.id)
        if setting is None or allowed is None:
            continue
        limit = _next_size_a(allowed, share)
        if exceeds(setting * factor, limit):
            yield ClauseVerdict(
                conductor.subject,
                f"{device.id} of {figures(setting)} A protects {conductor.id}, which is allowed "
                f"{figures(allowed)} A. The device may be at most that or the next standard size up to "
                f"{figures(100 * share)} % of it, {figures(limit)} A.",
                f"Use a device of at most {figures(limit / factor)} A, or a thicker conductor.",
                case=there.case,
                value=setting * factor,
                limit=limit,
                unit="A",
            )


def _least_size(facts: Facts, clause: Clause) -> Iterator[ClauseVerdict]:
    """A conductor is no thinner than the rule allows in a sheath and alone; circuits below 1 A are exempt."""
    for conductor in facts.harness.conductors:
        currents = facts.currents.get(conductor.id)
        if conductor.gauge is None or currents is None:
            continue
        core = conductor.kind is ConductorKind.CORE
        least = LEAST_AWG_SHEATHED if core else LEAST_AWG_ALONE
        if conductor.gauge.area_mm2 >= 0.99 * awg_area_mm2(least):
            continue
        case, current_a = currents.worst_peak
        thin = f"{conductor.id} of {conductor.gauge}, {'in a sheath' if core else 'a separate conductor'},"
        exempt = current_a < EXEMPT_BELOW_A
        yield ClauseVerdict(
            conductor.subject,
            f"{thin} is thinner than {least} AWG"
            + (f"; its circuit carries {figures(current_a)} A, less than the exempt 1 A." if exempt else "."),
            "Nothing to do for this clause." if exempt else f"Use {least} AWG or thicker.",
            case=case,
            value=conductor.gauge.area_mm2,
            limit=awg_area_mm2(least),
            unit="mm²",
            exempt=exempt,
        )


def _first_device(facts: Facts, clause: Clause) -> Iterator[ClauseVerdict]:
    """The first device stands close to a source that does not limit itself."""
    near, sheathed, battery = (
        value(facts.settings, clause.rule_set, f"device_within_{name}m") for name in ("", "sheathed_", "battery_")
    )
    worst: dict[str, tuple[Reach, float, str]] = {}
    for there in facts.protection.copper:
        case = next(a.case for a in facts.protection.arrangements if a.word == there.word)
        for view in there.outputs:
            limits = facts.protection.thresholds(there.word)[view.output.id]
            if math.isfinite(limits.held_a):
                continue
            for path in Walk(facts.harness, there, view).from_source():
                limit = near if not path.sheathed else battery if view.output.never_trips else sheathed
                bare = path.device is None
                if bare or path.length_m > limit * (1.0 + 1e-9):
                    known = worst.get(path.first.id)
                    if known is None or (bare, path.length_m) > (known[0].device is None, known[0].length_m):
                        worst[path.first.id] = path, limit, case
    for name, (path, limit, case) in worst.items():
        there_is = (
            "no device follows within" if path.device is None else f"the first device, {path.device}, follows after"
        )
        yield ClauseVerdict(
            path.first.subject,
            f"{name} starts at a source that does not limit its own current, and {there_is} "
            f"{_metres(path.length_m)}; a device has to stand within {_metres(limit)} of the source.",
            f"Put a device into {name}, within {_metres(limit)} of the source.",
            case=case,
            value=None if math.isinf(path.length_m) else path.length_m,
            limit=limit,
            unit="m",
        )


def _wire_125(facts: Facts, clause: Clause) -> Iterator[ClauseVerdict]:
    """A conductor is rated for a share more than its continuous load."""
    share = value(facts.settings, clause.rule_set, "wire_share")
    for conductor in facts.harness.conductors:
        currents, allowed = facts.currents.get(conductor.id), _allowed_a(facts, conductor.id)
        if currents is None or allowed is None:
            continue
        case, continuous = currents.worst_continuous
        # Above the allowed current itself the overload rules speak.
        if exceeds(share * continuous, allowed) and not exceeds(continuous, allowed):
            yield ClauseVerdict(
                conductor.subject,
                f"{conductor.id} carries {figures(continuous)} A continuously and is allowed {figures(allowed)} A; "
                f"{figures(100 * share)} % of the load, {figures(share * continuous)} A, are required.",
                f"Use a conductor that is allowed {figures(raised(share * continuous))} A.",
                case=case,
                value=share * continuous,
                limit=allowed,
                unit="A",
            )


CHECKS: Mapping[str, Check] = {
    "device_by_table": _device_by_table,
    "device_by_gauge": _device_by_gauge,
    "device_to_wire": _device_to_wire,
    "device_to_loads": _device_to_loads,
    "parallel_paths": _parallel_paths,
    "tap": _tap,
    "common_conductor": _common_conductor,
    "first_device": _first_device,
    "wire_125": _wire_125,
    "battery_device": _battery_device,
    "device_by_table_5": _device_by_table_5,
    "device_next_size": _device_next_size,
    "least_size": _least_size,
}


# --- what several checks need ---------------------------------------------------------------------------------


def _guarded(facts: Facts) -> Iterator[tuple[Protected, Device, Conductor, float]]:
    """Every conductor with the devices that guard it and their factors, each pair once (its worst arrangement)."""
    worst: dict[tuple[str, str], tuple[float, Protected, Device, Conductor, float]] = {}
    for there in facts.protection.arrangements:
        for conductor in facts.harness.conductors:
            for g in there.guards.get(conductor.id, ()):
                device = there.parts.get(g.device)
                if not isinstance(device, Device) or device.setting_a is None:
                    continue
                key = (conductor.id, g.device)
                reach = device.setting_a * g.factor
                if key not in worst or reach > worst[key][0]:
                    worst[key] = reach, there, device, conductor, g.factor
    for _, there, device, conductor, factor in worst.values():
        yield there, device, conductor, factor


def _walks(facts: Facts) -> Iterator[tuple[Protected, Walk]]:
    for copper in facts.protection.copper:
        there = next(a for a in facts.protection.arrangements if a.word == copper.word)
        for view in copper.outputs:
            yield there, Walk(facts.harness, copper, view)


def _before(there: Protected, part: str) -> tuple[str, float]:
    """The device or output before a part that lets the most through to it, and that number in A; inf = no limit."""
    found = {g.device: _number_a(there.parts.get(g.device)) * g.factor for g in there.guards.get(part, ())}
    return max(found.items(), key=lambda item: item[1], default=("", 0.0))


def _number_a(part: Device | Output | None) -> float:
    """What is printed or set on a device, or where an output shuts down, in A; inf where nothing limits it."""
    if isinstance(part, Device):
        return part.setting_a if part.setting_a is not None else math.inf
    if part is None or part.never_trips:
        return math.inf
    if part.trip_a is not None:
        return part.trip_a.nominal
    return part.limit_a if part.limit_a is not None else math.inf


def _next_size_a(amperes: float, share: float) -> float:
    """The next standard size of a device above a current, if it is at most a share of it; else the current."""
    size = next((size for size in STANDARD_SIZES_A if not exceeds(amperes, size)), None)
    return amperes if size is None or exceeds(size, share * amperes) else size


def _highest_voltage_v(facts: Facts) -> float:
    """The highest nominal voltage of an output; inf where one is not known."""
    volts = [o.voltage_v for o in facts.harness.outputs if o.fitted]
    return max((math.inf if v is None else v for v in volts), default=math.inf)


def _sums_of_devices(facts: Facts, there: Protected) -> dict[str, tuple[tuple[str, ...], float]]:
    """By conductor: the devices next behind it (of a feed) or whose loads return through it, and their sum in A."""
    found: dict[str, tuple[tuple[str, ...], float]] = {}
    settings = {n: p.setting_a for n, p in there.parts.items() if isinstance(p, Device) and p.setting_a}
    copper = next(c for c in facts.protection.copper if c.word == there.word)
    ids = copper.branches.ids
    for view in copper.outputs:
        below: dict[int, dict[str, None]] = {}
        for block in reversed(view.feed.blocks):
            behind = {n: None for node in block.inside for n in below.get(node, ())}
            for k in block.branches:
                found[ids[k]] = tuple(behind), sum(settings.get(n, 0.0) for n in behind)
            acting = {name: None for _, name in copper.acting(block)}
            below.setdefault(block.entry, {}).update(acting or behind)
    for name, guards in there.guards.items():
        names = tuple(dict.fromkeys(g.device for g in guards if g.device in settings))
        if len(names) > 1 and name not in found:
            found[name] = names, sum(settings[n] or 0.0 for n in names)
    return found


def _allowed_a(facts: Facts, part: str) -> float | None:
    rating = facts.ratings.get(part)
    return rating.allowed_a if rating is not None else None


def _has_case(facts: Facts, there: Protected, case_id: str) -> bool:
    return any(c.id == case_id and c.arrangement == there.word for c in facts.cases)


def _metres(length_m: float) -> str:
    if math.isinf(length_m):
        return "a length that is not stated"
    return f"{figures(1000 * length_m)} mm" if length_m < 1.0 else f"{figures(length_m)} m"


def awg_area_mm2(size: str) -> float:
    """Area of an AWG size (``18``, ``1/0``), ASTM B258: d = 0.127 mm · 92^((36-n)/39)."""
    number = 1 - int(size.split("/")[0]) if "/" in size else int(size)
    return math.pi / 4.0 * (0.127 * math.pow(92.0, (36 - number) / 39.0)) ** 2
