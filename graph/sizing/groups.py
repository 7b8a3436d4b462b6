"""Which conductors have to have one size, and which sizes they may have."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Conductor, ConductorKind, Gauge
from loadloom.graph.model.findings import Finding
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import natural_key
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.bundles import loaded_counts
from loadloom.graph.ratings.conductor_rating import bundle_shares, rate_conductors
from loadloom.graph.ratings.contact_rating import contact_type_of
from loadloom.graph.ratings.crimps import crimped, takes
from loadloom.graph.sizing.shelf import Shelf
from loadloom.graph.sizing.track_width import track_words


@dataclass(frozen=True, slots=True)
class Group:
    """Conductors of one size: the cores of a cable, the paths of a parallel set, the instances of one symbol.

    ``sizes`` are those that may be chosen, thinnest first: stocked, within the crimp range of the contacts at the
    ends, rated by the basis. ``range_by``: the contact whose crimp range leaves out sizes below and above, or "".
    """

    name: str
    members: tuple[str, ...]
    sizes: tuple[Gauge, ...]
    below_by: str = ""
    above_by: str = ""


@dataclass(frozen=True, slots=True)
class Fixed:
    """A conductor that is not sized, and why."""

    id: str
    why: str


@dataclass(frozen=True)
class Grouping:
    """All conductors, each in a group or fixed."""

    groups: tuple[Group, ...]
    fixed: tuple[Fixed, ...]

    @property
    def group_of(self) -> Mapping[str, Group]:
        """The group of every conductor that has one."""
        return {name: group for group in self.groups for name in group.members}


def find_groups(facts: Facts, shelf: Shelf, together: Iterable[frozenset[str]]) -> Grouping:
    """Group the conductors of a harness as drawn.

    ``together``: sets of conductor ids that share one field of the drawing (instances of a repeated sheet).
    """
    harness, settings = facts.harness, facts.settings
    fixed = [Fixed(c.id, why) for c in harness.conductors if (why := _fixed(c, facts)) is not None]
    left_out = {f.id for f in fixed}
    free = {c.id: c for c in harness.conductors if c.id not in left_out}
    parent = {name: name for name in free}

    def root(name: str) -> str:
        while parent[name] != name:
            parent[name] = parent[parent[name]]
            name = parent[name]
        return name

    def join(names: Iterable[str], *, whatever_drawn: bool = False) -> None:
        by_gauge: dict[object, str] = {}
        for name in names:
            if name in free:
                key = None if whatever_drawn else free[name].gauge
                parent[root(name)] = root(by_gauge.setdefault(key, name))

    for names in _by_cable(harness).values():
        join(names)
    for names in _parallel_sets(facts):
        join(names)
    for shared in together:
        join(sorted(shared, key=natural_key), whatever_drawn=True)
    members: dict[str, list[str]] = {}
    for name in free:
        members.setdefault(root(name), []).append(name)
    groups = []
    for names in members.values():
        group, why = _group(names, free, shelf, harness, settings)
        if group is None:
            fixed += [Fixed(name, why) for name in names]
        else:
            groups.append(group)
    return _rated_only(facts, groups, fixed)


def with_sizes(harness: Harness, sizes: Mapping[str, Gauge]) -> Harness:
    """The harness with other sizes by conductor id; what was found about the sizes as drawn no longer counts."""
    changed = tuple(
        _resized(c, sizes[c.id]) if c.id in sizes and sizes[c.id] != c.gauge else c for c in harness.conductors
    )
    mended = {new.id for new, old in zip(changed, harness.conductors, strict=True) if new is not old}
    owners = {c.cable or c.id for c in changed if c.id in mended} | mended
    findings = tuple(f for f in harness.findings if not (f.subject.id in owners and about_size(f)))
    return replace(harness, conductors=changed, findings=findings)


def about_size(finding: Finding) -> bool:
    """Whether a finding of reading is about a size that is missing or unreadable."""
    if finding.rule == "gauge-missing":
        return True
    field = (finding.subject.field or "").casefold().partition(".")[0]
    return finding.rule == "field-unreadable" and field in ("gauge", "value")


def allowed_by_size(facts: Facts, grouping: Grouping) -> dict[str, tuple[float | None, ...]]:
    """Allowed current in A of every conductor of a group at each of the group's sizes, as loaded now."""
    harness, settings = facts.harness, facts.settings
    counts: dict[str, int] = {}
    by_case = [
        {c.id: facts.currents[c.id].continuous_a[case.id] for c in harness.conductors if c.id in facts.currents}
        for case in facts.cases
    ]
    for continuous in by_case:
        for bundle, count in loaded_counts(harness, continuous).items():
            counts[bundle] = max(count, counts.get(bundle, 1))
    found: dict[str, list[float | None]] = {name: [] for name in grouping.group_of}
    for k in range(max((len(g.sizes) for g in grouping.groups), default=0)):
        there = with_sizes(
            harness, {name: g.sizes[min(k, len(g.sizes) - 1)] for g in grouping.groups for name in g.members}
        )
        shares = bundle_shares(there, settings, by_case, counts) if counts else {}
        ratings = rate_conductors(there, settings, counts, shares)
        for group in grouping.groups:
            if k < len(group.sizes):
                for name in group.members:
                    found[name].append(ratings[name].allowed_a)
    return {name: tuple(values) for name, values in found.items()}


def _fixed(conductor: Conductor, facts: Facts) -> str | None:
    if not conductor.fitted:
        return "it is not fitted"
    if conductor.track is not None:
        return track_words(facts, conductor)
    if "own_rating_a" in conductor.placeholders:
        return "the rating drawn at it can't be read"
    if conductor.own_rating_a is not None:
        return "its allowed current is stated in the drawing and does not follow from a size"
    if conductor.resistance_ohm is not None and "resistance_ohm" not in conductor.placeholders:
        return "its resistance is stated in the drawing and does not follow from a size"
    if conductor.length_m is None:
        return "its length is not known"
    where, node = facts.topology, conductor.node_a
    reached_by = (*where.feeds(node), *where.returns(node))
    if not any(o.voltage_v is not None for o in facts.harness.outputs if o.id in reached_by):
        return "no output that states its voltage reaches it, so that nothing says what it has to carry"
    return None


def _resized(conductor: Conductor, size: Gauge) -> Conductor:
    placeholder = "resistance_ohm" in conductor.placeholders
    return replace(
        conductor,
        gauge=size,
        resistance_ohm=None if placeholder else conductor.resistance_ohm,
        placeholders=conductor.placeholders - {"gauge", "resistance_ohm"},
    )


def _by_cable(harness: Harness) -> dict[str, list[str]]:
    """Conductor ids by cable, and by net for wires that are drawn as one."""
    found: dict[str, list[str]] = {}
    for c in harness.conductors:
        if c.cable is not None:
            found.setdefault(f"cable {c.cable}", []).append(c.id)
        elif c.kind is ConductorKind.NET:
            found.setdefault(f"net {c.id.partition('#')[0]}", []).append(c.id)
    return found


def _parallel_sets(facts: Facts) -> Iterable[list[str]]:
    wires = {c.id for c in facts.harness.conductors}
    for each in facts.spread.values():
        for spread in each:
            names = spread.solution.network.edge_ids
            sets: dict[int, list[str]] = {}
            for name, paths, number in zip(names, spread.paths.tolist(), spread.set_number.tolist(), strict=False):
                if paths > 1 and name in wires:
                    sets.setdefault(number, []).append(name)
            yield from sets.values()


def _group(
    names: list[str], free: Mapping[str, Conductor], shelf: Shelf, harness: Harness, settings: AnalysisSettings
) -> tuple[Group | None, str]:
    names = sorted(names, key=natural_key)
    sizes = shelf.of(free[names[0]])
    if not sizes:
        return None, "no size is stocked"
    low, high, below_by, above_by = 0.0, float("inf"), "", ""
    for contact in crimped(harness, (free[name] for name in names)):
        kind = contact_type_of(contact.contact_type, settings)
        if kind is None or kind.wire_area_mm2 is None:
            continue
        least, most = kind.wire_area_mm2
        if least > low:
            low, below_by = least, contact.id
        if most < high:
            high, above_by = most, contact.id
    fitting = tuple(size for size in sizes if takes((low, high), size.area_mm2))
    if not fitting:
        return None, f"no stocked size is within the crimp range of {below_by or above_by}"
    name = names[0] if len(names) == 1 else f"{names[0]} and {len(names) - 1} more"
    below = below_by if sizes[0] not in fitting else ""
    above = above_by if sizes[-1] not in fitting else ""
    return Group(name, tuple(names), fitting, below, above), ""


def _rated_only(facts: Facts, groups: list[Group], fixed: list[Fixed]) -> Grouping:
    """Leave out the sizes that the basis gives no rating for."""
    allowed = allowed_by_size(facts, Grouping(tuple(groups), ()))
    kept = []
    for group in groups:
        rated = tuple(
            size
            for k, size in enumerate(group.sizes)
            if all(allowed[name][k] is not None for name in group.members)
        )
        if rated:
            kept.append(replace(group, sizes=rated))
        else:
            fixed += [Fixed(name, "the basis rates none of the stocked sizes for it") for name in group.members]
    return Grouping(
        tuple(sorted(kept, key=lambda g: natural_key(g.members[0]))),
        tuple(sorted(fixed, key=lambda f: natural_key(f.id))),
    )
