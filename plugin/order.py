"""The order list of a drawing: what its symbols and wires add up to, with the user's own fields carried through."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from loadloom.graph.model.elements import Conductor, Device, DeviceKind, Output
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import natural_key, some_of
from loadloom.graph.model.results import DeviceRow, Results
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.contact_rating import contact_type_of
from loadloom.plugin.drawing import Drawing
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.fields import folded
from loadloom.plugin.pipeline import Analysed
from loadloom.plugin.roles import FIELDS
from loadloom.plugin.wire_list.columns import (
    CABLE,
    FITTED,
    FROM,
    JOINED,
    JOINT,
    KIND,
    LABEL,
    LIBRARY,
    NOT_DRAWN,
    PART,
    PINS,
    ROLE,
    TO,
    VALUE,
)
from loadloom.plugin.wire_list.writing import Record, WireList, wire_list
from loadloom.reports.order_list import (
    ALLOWANCE,
    CONTACTS,
    CONTACTS_IN_ALL,
    CUT,
    DEVICES,
    END_ALLOWANCE_M,
    LABELS,
    LENGTH,
    SETTINGS,
    SHARE,
    TO_ORDER,
    WIRE,
    WIRE_LIST,
    OrderColumn,
    OrderList,
    OrderTable,
    Value,
    rounded_up,
)
from loadloom.reports.setting_words import range_said, range_why

NUMBER, COLOUR = "Part number", "Colour"
UNJUDGED = ", NOT judged"
_NAMED = 40
"""References that one cell names; more are counted."""
_OF_WIRES = (LABEL, KIND, FROM, TO, CABLE, FITTED, "Gauge", "Length", "Insulation", NUMBER, COLOUR)
_OF_PARTS = (PART, ROLE, VALUE, LIBRARY, PINS, FITTED, "Mates", "Contact", NUMBER)


def is_order(path: Path) -> bool:
    """Whether an output is to be an order list: ``order.xlsx``, ``cart_order.xlsx``, ``cart.order.xlsx``."""
    return path.suffix.casefold() == ".xlsx" and _named(path, "order")


def is_labels(path: Path) -> bool:
    """Whether an output is to be the labels: ``labels.csv``, ``cart_labels.csv``, ``cart.labels.csv``."""
    return path.suffix.casefold() == ".csv" and _named(path, "labels")


def _named(path: Path, word: str) -> bool:
    stem = path.stem.casefold()
    return stem == word or stem.endswith(tuple(f"{mark}{word}" for mark in "._- "))


@dataclass(slots=True)
class _Wire:
    """A wire or core with what the drawing says of it."""

    conductor: Conductor
    record: Record

    @property
    def own(self) -> tuple[str, str]:
        return self.record.get(COLOUR, ""), self.record.get(NUMBER, "")

    @property
    def length_m(self) -> float | None:
        return self.conductor.length_m


@dataclass(slots=True)
class _Half:
    """A connector symbol: its family, how many of its positions are used, and what lands in them."""

    record: Record
    family: str
    positions: int
    used: int
    landings_mm2: list[tuple[float, ...]] = field(default_factory=list)
    """Of every used position the areas of the wires that are crimped into its contact."""

    @property
    def sizes_mm2(self) -> list[float]:
        """The areas of all wires that land in it."""
        return [area for areas in self.landings_mm2 for area in areas]


def order_of(analysed: Analysed) -> OrderList:
    """The order list of a drawing that was read and analysed."""
    return order_list(
        analysed.drawing, analysed.settings, analysed.drawing_settings, analysed.harness, analysed.results
    )


def order_list(
    drawing: Drawing,
    settings: AnalysisSettings,
    drawing_settings: DrawingSettings,
    harness: Harness,
    results: Results | None = None,
) -> OrderList:
    """The order list of a drawing and the harness that was built from it.

    ``results``: those of its analysis, from which the settings list has the ranges.
    """
    listed = wire_list(drawing, settings, drawing_settings)
    conductors = list(_wires(listed, harness))
    halves = _halves(listed, drawing, conductors)
    family = {half.record[PART]: half.family for half in halves}
    wires = [wire for wire in conductors if wire.conductor.track is None]  # a track comes with its board
    tables = (
        _order_wire(wires),
        _order_contacts(halves, settings),
        _contacts_in_all(halves, settings),
        _order_devices(listed, harness),
        _settings_list(harness, settings, results),
        _wire_list(wires, family),
    )
    labels = tuple(_labels(wires))
    columns = tuple(
        OrderColumn(title, [row[n] for row in labels], wide=32 if n else 18)
        for n, title in enumerate(("Label", "Here", "There"))
    )
    note = "One for each end of each wire: what it is called, where this end goes, and where the other one does."
    return OrderList((*tables, OrderTable(LABELS, note, columns)), labels)


def _wires(listed: WireList, harness: Harness) -> Iterator[_Wire]:
    records = {row[LABEL]: row for row in listed.wires if row.get(KIND, "") not in (JOINT, JOINED, NOT_DRAWN)}
    for conductor in harness.conductors:
        if conductor.fitted:
            yield _Wire(conductor, records.get(conductor.id, {}))


def _order_wire(wires: Sequence[_Wire]) -> OrderTable:
    """Wires by size, insulation, colour and part number; a cable once, however many cores it has."""
    groups: dict[tuple[str, str, str, str], list[tuple[str, float | None, bool]]] = defaultdict(list)
    cables: dict[str, list[_Wire]] = defaultdict(list)
    spelt: dict[tuple[str, ...], tuple[str, str, str, str]] = {}

    def group_of(*key: str) -> list[tuple[str, float | None, bool]]:
        """Wires ordered together, however size, insulation and colour are spelt; the first spelling is shown."""
        same = (*("".join(text.split()).casefold() for text in key[:3]), key[3])
        return groups[spelt.setdefault(same, (key[0], key[1], key[2], key[3]))]

    for wire in wires:
        conductor = wire.conductor
        if conductor.cable is not None:
            cables[conductor.cable].append(wire)
            continue
        group = group_of(_size(conductor), conductor.insulation or "", *wire.own)
        group.append((conductor.id, wire.length_m, conductor.length_assumed))
    for name, cores in cables.items():
        sizes = ", ".join(
            f"{count} × {size}" for size, count in _counted(_size(core.conductor) for core in cores).items()
        )
        insulation = ", ".join(dict.fromkeys(core.conductor.insulation or "" for core in cores))
        number = next((core.record[NUMBER] for core in cores if core.record.get(NUMBER)), "")
        lengths = [core.length_m for core in cores]
        known = [length for length in lengths if length is not None]
        length = max(known) if len(known) == len(lengths) else None
        assumed = any(core.conductor.length_assumed for core in cores)
        group_of(f"cable of {sizes}", insulation, "", number).append((name, length, assumed))
    rows = sorted(groups.items(), key=lambda item: tuple(natural_key(text) for text in item[0]))
    totals = [sum(length for _, length, _ in group if length is not None) for _, group in rows]
    # Each piece is cut with something at either end, so that is what the allowance comes on top of.
    cut = [sum(length + 2 * END_ALLOWANCE_M for _, length, _ in group if length is not None) for _, group in rows]
    unknown = [sum(length is None for _, length, _ in group) for _, group in rows]
    assumed_count = [sum(assumed for _, _, assumed in group) for _, group in rows]
    note = (
        "Each conductor counts with its own drawn length, feed and return apart: nothing has to be doubled. Cut "
        f"length has {1000 * END_ALLOWANCE_M:.0f} mm more at either end of each piece, and to order is "
        f"{100 * ALLOWANCE:.0f} % more than that, rounded up to the centimetre; the yellow cells of the workbook "
        "change the share. Tracks of boards are not listed. A cable counts once. A piece without a length is in no "
        "total: it is counted beside it, and so are those whose length is only the default of the settings."
    )
    return OrderTable(
        WIRE,
        note,
        (
            OrderColumn("Wire or cable", [key[0] for key, _ in rows], wide=24),
            OrderColumn("Insulation", [key[1] for key, _ in rows], wide=18),
            OrderColumn(COLOUR, [key[2] for key, _ in rows], wide=10),
            OrderColumn("Pieces", [len(group) for _, group in rows]),
            OrderColumn(LENGTH, totals, "m"),
            OrderColumn(CUT, cut, "m"),
            OrderColumn(SHARE, [ALLOWANCE for _ in rows]),
            OrderColumn(TO_ORDER, [rounded_up(length * (1.0 + ALLOWANCE)) for length in cut], "m"),
            OrderColumn("Without a length", unknown),
            OrderColumn("Of a default length", assumed_count),
            OrderColumn(NUMBER, [key[3] for key, _ in rows], wide=14),
            OrderColumn("For", [_names(name for name, _, _ in group) for _, group in rows], wide=36),
        ),
    )


def _halves(listed: WireList, drawing: Drawing, wires: Sequence[_Wire]) -> list[_Half]:
    """Every connector symbol that is fitted; a mated half has the family of the half that states one."""
    records = {row[PART]: row for row in listed.parts}
    joined: dict[str, set[str]] = defaultdict(set)
    connectors: dict[str, set[str]] = defaultdict(set)
    net_of: dict[str, str] = {}
    for net in drawing.nets:
        for pin in net.pins:
            net_of[f"{pin.reference}.{pin.number}"] = net.name
            if _is_connector(records.get(pin.reference, {})):
                connectors[net.name].add(pin.reference)
            if len(net.pins) > 1:
                joined[pin.reference].add(pin.number)
    landing: dict[str, list[float]] = defaultdict(list)
    at_pin: dict[str, list[float]] = defaultdict(list)
    for wire in wires:
        gauge = wire.conductor.gauge
        for end in (wire.record.get(FROM, ""), wire.record.get(TO, "")):
            # A joint of several connectors is a bus, on which the wire ends: it is crimped into no contact.
            if gauge is None or end not in net_of:
                continue
            if net_of[end] == wire.conductor.id:
                at_pin[end].append(gauge.area_mm2)  # the net itself is the wire, from pin to pin
            elif len(connectors[net_of[end]]) < 2:
                landing[net_of[end]].append(gauge.area_mm2)
    halves = []
    for name, record in records.items():
        if not _is_connector(record) or record.get(FITTED) == "no":
            continue
        mate = record.get("Mates") or next((n for n, r in records.items() if r.get("Mates") == name), "")
        family = record.get("Contact") or records.get(mate, {}).get("Contact", "")
        pins = [pin.partition("=")[0].strip() for pin in record.get(PINS, "").split(",") if pin.strip()]
        numbers = [pin for pin in pins if not pin.startswith("@")] or pins
        used = [number for number in numbers if number in joined[name]]
        positions: dict[str, list[str]] = defaultdict(list)
        for number in used:
            positions[net_of[f"{name}.{number}"]].append(number)
        landings = [
            areas
            for net, there in positions.items()
            for areas in _spread(sorted(landing[net]), [sorted(at_pin[f"{name}.{number}"]) for number in there])
        ]
        halves.append(_Half(record, family, len(numbers), len(used), landings))
    return halves


def _spread(areas: Sequence[float], own: Sequence[Sequence[float]]) -> Iterator[tuple[float, ...]]:
    """The wires in each of some contacts that are one joint: as many in each where the numbers allow it.

    ``areas``: of the wires that end at the joint; ``own``: of those that end at a contact by its own pin.
    """
    count = len(own)
    for number, at_pin in enumerate(own):
        shared = areas[number::count] if areas and len(areas) % count == 0 else areas
        yield (*at_pin, *shared)


def _order_contacts(halves: Sequence[_Half], settings: AnalysisSettings) -> OrderTable:
    groups: dict[tuple[str, ...], list[_Half]] = defaultdict(list)
    for half in halves:
        groups[half.family, _body(half.record), half.record.get(NUMBER, ""), str(half.positions)].append(half)
    rows = sorted(groups.items(), key=lambda item: tuple(natural_key(text) for text in item[0]))
    own = _own(_OF_PARTS, (half.record for half in halves))
    note = (
        "Housings by contact family, kind and number of positions, with the contacts that their used positions "
        "take: a position is used where its net joins it to anything else. Spare positions are counted beside it. "
        "A wire that ends at a joint of several connectors ends on a bus, and lands in no contact."
    )
    return OrderTable(
        CONTACTS,
        note,
        (
            OrderColumn("Contact family", [key[0] or "not stated" for key, _ in rows], wide=16),
            OrderColumn("Housing", [key[1] for key, _ in rows], wide=12),
            OrderColumn("Positions", [group[0].positions for _, group in rows]),
            OrderColumn("Housings", [len(group) for _, group in rows]),
            OrderColumn("Contacts", [sum(half.used for half in group) for _, group in rows]),
            OrderColumn("Spare positions", [sum(h.positions - h.used for h in group) for _, group in rows]),
            OrderColumn("Wires that land there", [_range_of(group) for _, group in rows], wide=13),
            OrderColumn("Crimp range", [_crimp(key[0], settings) for key, _ in rows], wide=13),
            OrderColumn(NUMBER, [key[2] for key, _ in rows], wide=13),
            OrderColumn("For", [_names(half.record[PART] for half in group) for _, group in rows], wide=28),
            *_carried(own, [[half.record for half in group] for _, group in rows]),
        ),
    )


def _contacts_in_all(halves: Sequence[_Half], settings: AnalysisSettings) -> OrderTable:
    """Contacts of the whole harness by family and by the wire that is crimped into them."""
    groups: dict[tuple[str, tuple[float, ...]], list[str]] = defaultdict(list)
    for half in halves:
        for areas in half.landings_mm2:
            groups[half.family, areas].append(half.record[PART])
    rows = sorted(groups.items(), key=lambda item: (natural_key(item[0][0]), item[0][1]))
    note = (
        "The contacts of all housings together, by family and by what is crimped into them; the table of housings "
        "counts the same contacts by housing. A contact without a wire joins a bus or a part of its board."
    )
    return OrderTable(
        CONTACTS_IN_ALL,
        note,
        (
            OrderColumn("Contact family", [family or "not stated" for (family, _), _ in rows], wide=18),
            OrderColumn("Wire in it", [_crimped(areas) for (_, areas), _ in rows], wide=22),
            OrderColumn("Crimp range", [_crimp(family, settings) for (family, _), _ in rows], wide=16),
            OrderColumn("Contacts", [len(names) for _, names in rows], wide=10),
            OrderColumn("For", [_names(set(names)) for _, names in rows], wide=50),
        ),
    )


def _crimped(areas: tuple[float, ...]) -> str:
    return " + ".join(f"{area:.3g} mm²" for area in areas) or "no wire"


def _order_devices(listed: WireList, harness: Harness) -> OrderTable:
    """Fuses, breakers and the like by rating, curve, voltage and breaking capacity; limiters are settings."""
    records = {row[PART]: row for row in listed.parts}
    groups: dict[tuple[str, ...], list[Device]] = defaultdict(list)
    for device in harness.devices:
        if device.kind is not DeviceKind.LIMITER and device.fitted:
            record = records.get(device.id, {})
            key = (
                str(device.kind),
                _amperes(device.setting_a),
                device.curve or "",
                _text(device.voltage_rating_v, "V"),
                _amperes(device.breaking_capacity_a),
                record.get(NUMBER, ""),
            )
            groups[key].append(device)
    rows = sorted(groups.items(), key=lambda item: tuple(natural_key(text) for text in item[0]))
    own = _own(
        (*_OF_PARTS, "Curve", "Rating", "Breaking capacity", "Voltage rating"),
        (records.get(device.id, {}) for device in harness.devices),
    )
    heads = ("Device", "Rating", "Curve", "Voltage rating", "Breaking capacity", NUMBER)
    return OrderTable(
        DEVICES,
        "Fuses, breakers and resettable devices by rating and curve. Limiters are set: see the settings list.",
        (
            *(OrderColumn(head, [key[n] for key, _ in rows], wide=13) for n, head in enumerate(heads)),
            OrderColumn("Pieces", [len(group) for _, group in rows]),
            OrderColumn("For", [_names(device.id for device in group) for _, group in rows], wide=36),
            *_carried(own, [[records.get(device.id, {}) for device in group] for _, group in rows]),
        ),
    )


def _settings_list(harness: Harness, settings: AnalysisSettings, results: Results | None) -> OrderTable:
    """What is to be set, in every arrangement: limiters, and outputs with a limit or trip of their own."""
    ranges = {row.id: row for row in (results.devices if results is not None else ())}
    rows: list[tuple[Value, ...]] = []
    words = (None, *harness.arrangements())
    judged = {case.arrangement for case in harness.cases(settings)}
    parts: tuple[Device | Output, ...] = (*harness.devices, *harness.outputs)
    for part in parts:
        if isinstance(part, Device) and part.kind is not DeviceKind.LIMITER:
            continue
        of_word = {word: _setting(part.under(word)) for word in words}
        for row in dict.fromkeys(of_word.values()):
            same = [word for word in words if of_word[word] == row]
            # A part that states nothing for an arrangement is set there as drawn: one row tells both.
            name = same[0] or "as drawn"
            if judged.isdisjoint(same):
                name += UNJUDGED
            kind = "limiter" if isinstance(part, Device) else "output"
            rows.append((part.id, kind, name, *row, *_setting_range(ranges.get(part.id))))
    heads = (
        *("Part", "Kind", "Arrangement", "Limit", "Trip", "Tolerance", "Delay", "Behaviour", "Voltage"),
        *("Setting range", "Why"),
    )
    wides = (10, 9, 13, 9, 13, 10, 9, 12, 9, 16, 46)
    columns = tuple(
        OrderColumn(head, [row[n] for row in rows], wide=wide)
        for n, (head, wide) in enumerate(zip(heads, wides, strict=True))
    )
    note = (
        "One row for each arrangement that sets something else: “as drawn” is what the plain fields say, another "
        "word (as in Trip@pooled) a way of running the same harness with other settings; “none: does nothing” is a "
        "channel without a limit of its own there, so that what is behind it hangs on the device before it. The "
        "setting range is that of the analysis over all of them. What is not stated is left empty; ask for it."
    )
    if any(str(row[2]).endswith(UNJUDGED) for row in rows):
        note += " NOT judged: no load case has this arrangement, so the verdict says nothing of these settings."
    return OrderTable(SETTINGS, note, columns)


def _setting_range(row: DeviceRow | None) -> tuple[str, str]:
    """The settings with which a device rides through and protects, and how both ends come about."""
    if row is None or row.setting_low_a is None:
        return "", ""
    return range_said(row), range_why(row)


def _setting(part: Device | Output) -> tuple[Value, ...]:
    band = part.trip_a
    trip = _amperes(band.nominal) if band is not None else ""
    if isinstance(part, Device) and not part.active:
        trip = "none: does nothing"
    if isinstance(part, Output) and part.never_trips:
        trip = "never trips"
    tolerance = ""
    if band is not None and band.nominal > 0.0 and band.lower < band.upper:
        below, above = 1.0 - band.lower / band.nominal, band.upper / band.nominal - 1.0
        even = abs(below - above) < 1e-9
        tolerance = f"±{100 * above:.3g} %" if even else f"−{100 * below:.3g} % … +{100 * above:.3g} %"
    limit = _amperes(part.limit_a) if isinstance(part, Output) else ""
    volts = _text(part.voltage_v, "V") if isinstance(part, Output) else ""
    # What never opens has no way of opening.
    behaviour = "" if trip in ("never trips", "none: does nothing") else str(part.behaviour)
    return limit, trip, tolerance, _seconds(part.delay_s), behaviour, volts


def _wire_list(wires: Sequence[_Wire], family: Mapping[str, str]) -> OrderTable:
    def crimp(end: str) -> str:
        return family.get(end.rpartition(".")[0], "")

    cuts = [w.length_m + 2 * END_ALLOWANCE_M if w.length_m is not None else None for w in wires]
    own = _own(_OF_WIRES, (wire.record for wire in wires))
    from_to = _ends(wires)
    bare = sum(not crimp(end) for ends in from_to for end in ends)
    note = (
        "Ends are connector.pin or a terminal; where only wires meet, a joint of so many. Cut length is the length "
        f"one way and {1000 * END_ALLOWANCE_M:.0f} mm at either end for stripping and crimping."
    )
    if bare:
        note += (
            f" {bare} of {2 * len(wires)} ends land in no contact of a stated family: lugs, ferrules or splices "
            "for them are in no list here."
        )
    return OrderTable(
        WIRE_LIST,
        note,
        (
            OrderColumn("Label", [w.conductor.id for w in wires], wide=12),
            OrderColumn("From", [a for a, _ in from_to], wide=13),
            OrderColumn("To", [b for _, b in from_to], wide=13),
            OrderColumn("Cable", [w.conductor.cable or "" for w in wires], wide=9),
            OrderColumn("Size", [_size(w.conductor) for w in wires], wide=10),
            OrderColumn("Insulation", [w.conductor.insulation or "" for w in wires], wide=12),
            OrderColumn(COLOUR, [w.own[0] for w in wires], wide=10),
            OrderColumn("Length", [w.length_m for w in wires], "m"),
            OrderColumn(CUT, cuts, "m"),
            OrderColumn("Contact at From", [crimp(a) for a, _ in from_to], wide=12),
            OrderColumn("Contact at To", [crimp(b) for _, b in from_to], wide=12),
            OrderColumn(NUMBER, [w.own[1] for w in wires], wide=12),
            *_carried(own, [[wire.record] for wire in wires]),
        ),
    )


def _labels(wires: Sequence[_Wire]) -> Iterator[tuple[str, str, str]]:
    for wire, ends in zip(wires, _ends(wires), strict=True):
        for here, there in (ends, ends[::-1]):
            yield wire.conductor.id, here, there


def _ends(wires: Sequence[_Wire]) -> list[tuple[str, str]]:
    """Both ends of each wire: connector.pin or a terminal, or the joint where nothing but wires meet."""
    owners = {wire.conductor.id for wire in wires} | {wire.conductor.cable for wire in wires}
    meeting: dict[str, int] = defaultdict(int)
    for wire in wires:
        meeting[wire.conductor.node_a] += 1
        meeting[wire.conductor.node_b] += 1

    def said(end: str | None, node: str) -> str:
        if end is None:
            return node
        if end.rpartition(".")[0] not in owners:
            return end
        return f"joint {end}, {meeting[node]} wires" if meeting[node] > 1 else f"open end {end}"

    ends = ((w.conductor.node_a, w.conductor.node_b, w.record) for w in wires)
    return [(said(record.get(FROM), a), said(record.get(TO), b)) for a, b, record in ends]


def _own(known: Iterable[str], records: Iterable[Record]) -> list[str]:
    """Fields of the user's own that the other columns do not show.

    Fields by which loadloom calculates are the report's matter, save those that say what to buy or how to build.
    """
    shown = {folded(name) for name in known} | _CALCULATED
    names = dict.fromkeys(name for record in records for name in record if "@" not in name)
    return sorted((name for name in names if folded(name.partition(".")[0]) not in shown), key=natural_key)


_CALCULATED = {folded(name) for spec in FIELDS.values() for name in spec.names} - {
    folded("Voltage rating"),
    folded("Bundle"),
}


def _carried(names: Sequence[str], groups: Sequence[Sequence[Record]]) -> Iterator[OrderColumn]:
    """A column for each field of the user's own; what differs within a row is listed."""
    for name in names:
        texts = [", ".join(dict.fromkeys(r[name] for r in group if r.get(name))) for group in groups]
        if any(texts):
            yield OrderColumn(name, texts, wide=11)


def _body(record: Record) -> str:
    """What a housing is: its symbol without the library's name and its number of positions."""
    name = record.get(LIBRARY, "").rpartition(":")[2]
    return name.partition("_")[0] or record.get(VALUE, "")


def _is_connector(record: Record) -> bool:
    return record.get(ROLE, "").removesuffix("?") in ("connector", "through")


def _range_of(group: Sequence[_Half]) -> str:
    areas = [area for half in group for area in half.sizes_mm2]
    if not areas:
        return ""
    least, most = min(areas), max(areas)
    return f"{least:.3g} mm²" if least == most else f"{least:.3g} to {most:.3g} mm²"


def _crimp(family: str, settings: AnalysisSettings) -> str:
    kind = contact_type_of(family or None, settings)
    limits = kind.wire_area_mm2 if kind is not None else None
    return f"{limits[0]:.3g} to {limits[1]:.3g} mm²" if limits is not None else ""


def _size(conductor: Conductor) -> str:
    return str(conductor.gauge) if conductor.gauge is not None else "size not stated"


def _counted(texts: Iterable[str]) -> dict[str, int]:
    counts: dict[str, int] = defaultdict(int)
    for text in texts:
        counts[text] += 1
    return counts


def _names(names: Iterable[str]) -> str:
    return some_of(sorted(names, key=natural_key), _NAMED)


def _amperes(value: float | None) -> str:
    return _text(value, "A")


def _seconds(value: float | None) -> str:
    if value is None:
        return ""
    return f"{1000 * value:.4g} ms" if value < 1.0 else f"{value:.4g} s"


def _text(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:.4g} {unit}"
