"""What each clause of a rule book asks for, one function for each check that ``clauses.csv`` names."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from loadloom.graph.elements import Conductor, Device, DeviceKind, GaugeSystem
from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures
from loadloom.graph.findings import Subject
from loadloom.graph.overload import exceeds
from loadloom.graph.protection import Protected
from loadloom.graph.rule_sets import Clause, gauge_table, value
from loadloom.graph.rule_sets.reach import Reach, Walk


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a clause has to say about one part; ``exempt`` where it lets it pass or does not cover it."""

    subject: Subject
    message: str
    remedy: str
    case: str | None = None
    value: float | None = None
    limit: float | None = None
    unit: str | None = None
    exempt: bool = False


Check = Callable[[Facts, Clause], Iterator[Verdict]]


def judge(facts: Facts, clause: Clause) -> Iterator[Verdict]:
    """Run the check of a clause."""
    yield from CHECKS[clause.check](facts, clause)


def _device_by_table(facts: Facts, clause: Clause) -> Iterator[Verdict]:
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
            yield Verdict(
                conductor.subject,
                f"{conductor.id} of {size} behind {device.id} is not covered by the table of {clause.rule_set}.",
                "Nothing to do for this clause; its current is judged by its rating.",
                case=there.case,
                exempt=True,
            )
        elif setting is not None and exceeds(setting, limit):
            yield Verdict(
                conductor.subject,
                f"{conductor.id} of {gauge} stands behind {device.kind.value} {device.id} of {figures(setting)} "
                f"A, where {clause.rule_set} gives at most {figures(limit)} A.",
                f"Use {figures(limit)} A, or a thicker conductor.",
                case=there.case,
                value=setting,
                limit=limit,
                unit="A",
            )


def _device_by_gauge(facts: Facts, clause: Clause) -> Iterator[Verdict]:
    """The wire is at least as thick as the table gives for the device before it."""
    table = gauge_table(clause.rule_set)
    for there, device, conductor, _ in _guarded(facts):
        setting = device.setting_a
        if setting is None:
            continue
        row = next((r for r in table if r.breaker_a is not None and not exceeds(setting, r.breaker_a)), None)
        if row is None or conductor.gauge is None:
            yield Verdict(
                conductor.subject,
                f"{conductor.id} behind {device.id} of {figures(setting)} A is not covered by the table of "
                f"{clause.rule_set}.",
                "Nothing to do for this clause; its current is judged by its rating.",
                case=there.case,
                exempt=True,
            )
        elif conductor.gauge.area_mm2 < 0.99 * awg_area_mm2(row.awg):
            yield Verdict(
                conductor.subject,
                f"{conductor.id} of {conductor.gauge} stands behind {device.id} of {figures(setting)} A, where "
                f"{clause.rule_set} asks for at least {row.awg} AWG.",
                f"Use {row.awg} AWG, or a lower setting.",
                case=there.case,
                value=conductor.gauge.area_mm2,
                limit=awg_area_mm2(row.awg),
                unit="mm²",
            )


def _device_to_wire(facts: Facts, clause: Clause) -> Iterator[Verdict]:
    """The device's number is at most the allowed current of what it guards, by its share of the current."""
    for there, device, conductor, factor in _guarded(facts):
        setting, allowed = device.setting_a, _allowed_a(facts, conductor.id)
        if setting is None or allowed is None or not exceeds(setting * factor, allowed):
            continue
        yield Verdict(
            conductor.subject,
            f"{conductor.id} is allowed {figures(allowed)} A and stands behind {device.id} of {figures(setting)} "
            "A.",
            f"Use a device of at most {figures(allowed / factor)} A, or a thicker conductor.",
            case=there.case,
            value=setting * factor,
            limit=allowed,
            unit="A",
        )


def _device_to_loads(facts: Facts, clause: Clause) -> Iterator[Verdict]:
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
        yield Verdict(
            device.subject,
            f"{device.id} of {figures(setting)} A feeds loads of {figures(worst.current_a)} A together; the next "
            f"size is {figures(limit)} A.",
            f"Use {figures(limit)} A if it rides through all states.",
            case=worst.case,
            value=setting,
            limit=limit,
            unit="A",
        )


def _parallel_paths(facts: Facts, clause: Clause) -> Iterator[Verdict]:
    """Each of several parallel conductors is protected as if it stood alone."""
    for there, device, conductor, factor in _guarded(facts):
        setting, allowed = device.setting_a, _allowed_a(facts, conductor.id)
        alone = factor > 0.999 or setting is None or allowed is None
        if alone or not exceeds(setting or 0.0, allowed) or exceeds((setting or 0.0) * factor, allowed):
            continue
        yield Verdict(
            conductor.subject,
            f"{conductor.id}, one of several in parallel, is allowed {figures(allowed)} A alone and stands behind "
            f"{device.id} of {figures(setting)} A.",
            "Give each parallel conductor a device of its own.",
            case=there.case,
            value=setting,
            limit=allowed,
            unit="A",
        )


def _tap(facts: Facts, clause: Clause) -> Iterator[Verdict]:
    """A thinner tap that is longer than exempt has its own device close to its source end."""
    exempt_m = value(facts.settings, clause.rule_set, "tap_length_m")
    within_m = value(facts.settings, clause.rule_set, "tap_device_within_m")
    seen: set[str] = set()
    for case, walk in _walks(facts):
        for tap in walk.taps():
            subject, name = tap.conductor.subject, tap.conductor.id
            if name in seen:
                continue
            seen.add(name)
            thin = (
                f"{name} of {tap.conductor.gauge} is thinner than the {figures(tap.feeding_mm2)} mm² that feed it "
                f"and runs {_metres(tap.bare_m)}"
            )
            if not tap.ends_bare and tap.bare_m <= within_m * (1.0 + 1e-9):
                continue
            if tap.bare_m <= exempt_m * (1.0 + 1e-9):
                yield Verdict(
                    subject,
                    f"{thin} without a device of its own, no more than the exempt {_metres(exempt_m)}.",
                    "Nothing to do for this clause; what can flow in it is judged by its sustained fault current.",
                    case=case,
                    value=tap.bare_m,
                    limit=exempt_m,
                    unit="m",
                    exempt=True,
                )
                continue
            device = next((path.device for path in tap.paths if path.device is not None), None)
            own = f"up to its device {device}" if not tap.ends_bare else "and has no device of its own"
            yield Verdict(
                subject,
                f"{thin} {own}; a device has to stand within {_metres(within_m)} of its source end.",
                f"Put a device within {_metres(within_m)} of the start of {name}, or use the gauge of the trunk.",
                case=case,
                value=None if math.isinf(tap.bare_m) else tap.bare_m,
                limit=within_m,
                unit="m",
            )


def _common_conductor(facts: Facts, clause: Clause) -> Iterator[Verdict]:
    """A conductor that several devices share stands the sum of their numbers, or has a device that sees to it."""
    seen: set[str] = set()
    for there in facts.protection.arrangements:
        sums = _sums_of_devices(facts, there)
        for conductor in facts.harness.conductors:
            allowed = _allowed_a(facts, conductor.id)
            names, total = sums.get(conductor.id, ((), 0.0))
            if conductor.id in seen or allowed is None or len(names) < 2 or not exceeds(total, allowed):
                continue
            own = [
                (part.setting_a or math.inf) * g.factor
                for g in there.guards.get(conductor.id, ())
                if isinstance(part := there.parts.get(g.device), Device) and g.device not in names
            ]
            if own and not exceeds(sum(own), allowed):
                continue
            seen.add(conductor.id)
            listed = ", ".join(names[:4]) + (" and more" if len(names) > 4 else "")
            yield Verdict(
                conductor.subject,
                f"{conductor.id} is shared by {len(names)} devices ({listed}) of {figures(total)} A together, but "
                f"is allowed {figures(allowed)} A.",
                f"Size it for {figures(total)} A, or give it a device of at most {figures(allowed)} A.",
                case=there.case,
                value=total,
                limit=allowed,
                unit="A",
            )


def _first_device(facts: Facts, clause: Clause) -> Iterator[Verdict]:
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
            for path in Walk(facts.harness, there, view.feed).from_source():
                limit = near if not path.sheathed else battery if view.output.never_trips else sheathed
                bare = path.device is None
                if bare or path.length_m > limit * (1.0 + 1e-9):
                    known = worst.get(path.first.id)
                    if known is None or (bare, path.length_m) > (known[0].device is None, known[0].length_m):
                        worst[path.first.id] = path, limit, case
    for name, (path, limit, case) in worst.items():
        there_is = "no device follows" if path.device is None else f"the first device, {path.device}, follows"
        yield Verdict(
            path.first.subject,
            f"{name} starts at a source that does not limit itself and {there_is} within {_metres(path.length_m)}; "
            f"it has to stand within {_metres(limit)}.",
            f"Put a device within {_metres(limit)} of the source.",
            case=case,
            value=None if math.isinf(path.length_m) else path.length_m,
            limit=limit,
            unit="m",
        )


def _wire_125(facts: Facts, clause: Clause) -> Iterator[Verdict]:
    """A conductor is rated for a share more than its continuous load."""
    share = value(facts.settings, clause.rule_set, "wire_share")
    for conductor in facts.harness.conductors:
        currents, allowed = facts.currents.get(conductor.id), _allowed_a(facts, conductor.id)
        if currents is None or allowed is None:
            continue
        case, continuous = currents.worst_continuous
        # Above the allowed current itself the overload rules speak.
        if exceeds(share * continuous, allowed) and not exceeds(continuous, allowed):
            yield Verdict(
                conductor.subject,
                f"{conductor.id} carries {figures(continuous)} A steadily and is allowed {figures(allowed)} A, "
                "less "
                f"than {figures(100 * share)} % of it.",
                f"Use a conductor that is allowed {figures(share * continuous)} A.",
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


def _walks(facts: Facts) -> Iterator[tuple[str, Walk]]:
    for there in facts.protection.copper:
        case = next(a.case for a in facts.protection.arrangements if a.word == there.word)
        for view in there.outputs:
            yield case, Walk(facts.harness, there, view.feed)


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
