"""What is proposed, as fields of the symbols that it was read from."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from loadloom.graph.devices.device_bands import nominal_a
from loadloom.graph.model.elements import ConductorKind, Device, DeviceKind, Output
from loadloom.plugin.advise import AdvisedDrawing
from loadloom.plugin.connector_halves import connector_halves
from loadloom.plugin.drawing import Symbol
from loadloom.plugin.fields import folded
from loadloom.plugin.roles import best_match, rule_for
from loadloom.plugin.values import UnreadableValue, current_a, current_band_a, gauge, voltage_v

_MAIN = {
    DeviceKind.LIMITER: "Trip",
    DeviceKind.FUSE: "Rating",
    DeviceKind.BREAKER: "Rating",
    DeviceKind.RESETTABLE: "Hold",
}

Fields = dict[str, dict[str, str]]
"""By reference: name as drawn (or the field's own name for a new one) and text."""


def proposed_fields(found: AdvisedDrawing) -> Fields:
    """The fields to write. What was tried (``--set``) is written as well, since the proposals rest on it."""
    fields: Fields = {}
    for part in (_tried, _sizes, _settings, _openings, _families, _ratings):
        for reference, name, text in part(found):
            fields.setdefault(reference, {})[name] = text
    return fields


Written = Iterator[tuple[str, str, str]]


def _symbols(found: AdvisedDrawing) -> dict[str, Symbol]:
    return {symbol.reference: symbol for symbol in found.drawing.symbols}


def _tried(found: AdvisedDrawing) -> Written:
    """What was tried, in the field or ``Value`` that it was tried in."""
    symbols = _symbols(found)
    for change in found.changes:
        symbol = symbols.get(change.part)
        if symbol is None:
            continue
        written = [name for name in symbol.fields if folded(name) == folded(change.field)]
        if not written or symbol.value == change.tried:
            written.append("Value")
        for name in written:
            yield change.part, name, symbol.value if name == "Value" else symbol.fields[name]


def _sizes(found: AdvisedDrawing) -> Written:
    symbols = _symbols(found)
    cores: dict[str, dict[str, tuple[str, bool]]] = {}
    by_id = {c.id: c for c in found.harness.conductors}
    for row in found.advised.advice.sizes:
        conductor = by_id[row.id]
        if row.proposed is None:
            continue
        if conductor.kind is ConductorKind.CORE and conductor.cable is not None:
            cores.setdefault(conductor.cable, {})[row.id.rpartition(".")[2]] = (row.proposed, row.changed)
        elif conductor.kind is ConductorKind.WIRE and row.changed and row.id in symbols:
            yield row.id, _field(found, symbols[row.id], "Gauge"), row.proposed
    for cable, sizes in cores.items():
        if not any(changed for _, changed in sizes.values()) or cable not in symbols:
            continue
        symbol = symbols[cable]
        own = {k for k in sizes if _written(symbol, f"Gauge.{k}") is not None}
        plain = dict.fromkeys(size for k, (size, _) in sizes.items() if k not in own)
        if len(plain) == 1:
            yield cable, _field(found, symbol, "Gauge"), next(iter(plain))
        for k, (size, changed) in sizes.items():
            if (k in own and changed) or (k not in own and len(plain) > 1):
                yield cable, _written(symbol, f"Gauge.{k}") or f"Gauge.{k}", size


def _settings(found: AdvisedDrawing) -> Written:
    """Settings by slot. Where an arrangement writes the plain value again, it follows the plain one."""
    symbols = _symbols(found)
    by_id = found.advised.harness.by_id
    for setting in found.advised.advice.devices:
        part = by_id[setting.id]
        if not setting.changed or setting.id not in symbols or not isinstance(part, Device | Output):
            continue
        symbol = symbols[setting.id]
        main = "Trip" if isinstance(part, Output) else _MAIN[part.kind]
        text = setting_text(part.under(setting.arrangement))
        if setting.arrangement is not None:
            name = f"{main}@{setting.arrangement}"
            yield setting.id, _written(symbol, name) or name, text
            continue
        yield setting.id, _field(found, symbol, main), text
        limit_a = part.limit_a if isinstance(part, Output) else None
        if limit_a is not None and setting.proposed_a is not None and setting.proposed_a < limit_a:
            # A unit that trips at less than it is said to give would contradict itself.
            yield setting.id, _field(found, symbol, "Limit"), f"{setting.proposed_a:.6g} A"
        own = {word.casefold() for word, values in part.by_word.items() if {"trip_a", "rating_a"} & set(values)}
        for name in symbol.fields:
            head, at, word = name.partition("@")
            if at and head.strip().casefold() == main.casefold() and word.strip().casefold() not in own:
                yield setting.id, name, text


def _openings(found: AdvisedDrawing) -> Written:
    symbols = _symbols(found)
    for opening in found.advised.advice.openings:
        if opening.id in symbols:
            for name in _named(symbols[opening.id], "State") or ["State"]:
                yield opening.id, name, "open"


def _families(found: AdvisedDrawing) -> Written:
    """The family on the halves that state one; a resistance stated for the old contacts is emptied."""
    halves = connector_halves(found.drawing, found.harness)
    for family in found.advised.advice.families:
        if not family.changed or family.proposed is None or family.connector not in halves:
            continue
        stated = [(half, name) for half in halves[family.connector] for name in _named(half, "Contact")]
        for half, name in stated or [(halves[family.connector][0], "Contact")]:
            yield half.reference, name, family.proposed
        for half in halves[family.connector]:
            for name in _named(half, "Contact resistance"):
                yield half.reference, name, ""


def _ratings(found: AdvisedDrawing) -> Written:
    symbols = _symbols(found)
    halves = connector_halves(found.drawing, found.harness)
    for row in found.advised.advice.ratings:
        parts = halves.get(row.id) or tuple(symbols[name] for name in (row.id,) if name in symbols)
        read: Callable[[str], float] = voltage_v if row.unit == "V" else current_a
        text = f"{row.proposed:.6g} {row.unit}"
        stated = [
            (symbol, name)
            for symbol in parts
            for name in _named(symbol, row.field)
            if _less(symbol.fields[name], row.proposed, read)
        ]
        for symbol, name in stated or [(symbol, _written(symbol, row.field) or row.field) for symbol in parts[:1]]:
            yield symbol.reference, name, text


def _less(text: str, value: float, read: Callable[[str], float]) -> bool:
    try:
        return read(text) < value
    except UnreadableValue:
        return False


def _named(symbol: Symbol, name: str) -> list[str]:
    """The fields of a symbol with this name, for any core, pin or arrangement, that are not empty."""
    return [
        written
        for written, text in symbol.fields.items()
        if text.strip() and written.partition("@")[0].partition(".")[0].strip().casefold() == name.casefold()
    ]


def setting_text(device: Device | Output) -> str:
    """A device's setting as people write it, with its tolerance: ``20 A ±10 %``."""
    nominal = nominal_a(device)
    assert nominal is not None
    text = f"{nominal:.6g} A"
    band = device.trip_a
    if (isinstance(device, Device) and device.kind is not DeviceKind.LIMITER) or band is None:
        return text
    # To a millionth of a per cent: what scaling a band leaves of rounding is no tolerance, and no text to be read.
    above, below = (round(100.0 * abs(x / nominal - 1.0), 6) for x in (band.upper, band.lower))
    if not above and not below:
        return text
    if above == below:
        return f"{text} ±{above:.9g} %"
    return f"{text} +{above:.9g}/-{below:.9g} %"


def _field(found: AdvisedDrawing, symbol: Symbol, name: str) -> str:
    """The field to write: the one that is there, ``Value`` where that is read instead of it, else a new one.

    What the settings state for the symbol, or for symbols of its kind, stands before its ``Value``.
    """
    written = _written(symbol, name)
    if written is not None:
        return written
    roles = found.settings.roles
    rules = (
        best_match(symbol.reference, roles.parts),
        rule_for(symbol.library_id, symbol.reference, symbol.value, roles),
    )
    if any(folded(name) == folded(stated) for rule in rules if rule is not None for stated in rule.fields):
        return name
    in_library = any(n.casefold() == name.casefold() and t.strip() for n, t in symbol.library_fields.items())
    if not in_library:
        try:
            (gauge if name == "Gauge" else current_band_a)(symbol.value)
        except UnreadableValue:
            stated = symbol.value.strip().casefold() == "none" or any(c.isdigit() for c in symbol.value)
            return "Value" if stated else name
        return "Value"
    return name


def _written(symbol: Symbol, name: str) -> str | None:
    return next((n for n, t in symbol.fields.items() if n.casefold() == name.casefold() and t.strip()), None)
