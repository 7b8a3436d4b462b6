"""The symbols that a connector of the harness is drawn with: the half that names it, and its mate."""

from __future__ import annotations

from collections.abc import Mapping

from loadloom.graph.model.harness import Harness
from loadloom.plugin.drawing import Drawing, Symbol


def connector_halves(drawing: Drawing, harness: Harness) -> dict[str, tuple[Symbol, ...]]:
    """By connector id: the naming half, and the mate where there is one."""
    symbols = {symbol.reference: symbol for symbol in drawing.symbols}
    instances: dict[str, list[Symbol]] = {}
    for symbol in drawing.symbols:
        for uuid in symbol.uuids:
            instances.setdefault(uuid, []).append(symbol)
    found: dict[str, tuple[Symbol, ...]] = {}
    for connector in harness.connectors:
        naming = symbols.get(connector.id)
        if naming is not None:
            mate = _mate(naming, symbols, instances)
            found[connector.id] = (naming,) if mate is None else (naming, mate)
    return found


def _mate(naming: Symbol, symbols: Mapping[str, Symbol], instances: Mapping[str, list[Symbol]]) -> Symbol | None:
    """The symbol that ``Mates`` names, on the naming one's own sheet where it stands there too."""
    named = next((t.strip() for n, t in naming.fields.items() if n.strip().casefold() == "mates"), "")
    there = symbols.get(named)
    if there is None or there.instance_path == naming.instance_path:
        return there
    return next(
        (
            other
            for uuid in there.uuids
            for other in instances[uuid]
            if other.instance_path == naming.instance_path and other.sheet_path == naming.sheet_path
        ),
        there,
    )
