"""Drawings written in code: a few words for each symbol, one line for each net."""

from collections.abc import Mapping

from loadloom.graph.model.harness import Harness, Provenance
from loadloom.graph.model.naming import natural_key
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.plugin.building import build_harness
from loadloom.plugin.drawing import Drawing, Net, Pin, PinRef, Symbol
from loadloom.plugin.drawing_settings import DrawingSettings

PINS = {
    "output": "1:+ 2:-",
    "load": "1:+ 2:-",
    "diode": "1:K 2:A",
    "chassis": "1",
}


def symbol(
    reference: str,
    role: str | None = None,
    /,
    *,
    pins: str | int | None = None,
    value: str = "",
    library_id: str = "test:part",
    dnp: bool = False,
    sheet: str = "/",
    uuid: str | None = None,
    library_fields: Mapping[str, str] | None = None,
    fields: Mapping[str, str] | None = None,
    **more: str,
) -> Symbol:
    """A symbol. ``pins`` is ``1:+ 2:-`` (numbers with names) or a count; keywords are fields, ``_`` for a blank."""
    text = " ".join(map(str, range(1, pins + 1))) if isinstance(pins, int) else pins
    if text is None:
        text = PINS.get(role or "", "1 2")
    written = {name.replace("_", " "): field for name, field in more.items()} | dict(fields or {})
    if role is not None:
        written = {"Role": role, **written}
    return Symbol(
        reference=reference,
        value=value,
        library_id=library_id,
        pins=tuple(Pin(*pin.split(":")) for pin in text.split()),
        fields=written,
        library_fields=library_fields or {},
        dnp=dnp,
        sheet_path=sheet,
        instance_path=sheet,
        uuids=(uuid or f"uuid-{reference}",),
        file="test.kicad_sch",
    )


def net(pins: str, name: str | None = None, classes: str = "", power_symbol: bool = False) -> Net:
    """A net of pins ``W1.1 J1.3``; without a name KiCad made one up."""
    refs = tuple(PinRef(*pin.rsplit(".", 1)) for pin in pins.split())
    made_up = f"Net-({pins.split()[0]})"
    return Net(name or made_up, refs, name is not None, tuple(classes.split()), power_symbol)


def drawing(symbols: list[Symbol], nets: list[Net]) -> Drawing:
    """A drawing of these symbols and nets."""
    ordered = tuple(sorted(symbols, key=lambda s: natural_key(s.reference)))
    return Drawing(ordered, tuple(nets), Provenance(file="test.kicad_sch"), route="test")


def build(
    symbols: list[Symbol],
    nets: list[Net],
    settings: AnalysisSettings | None = None,
    drawing_settings: DrawingSettings | None = None,
) -> Harness:
    """The harness of these symbols and nets."""
    return build_harness(
        drawing(symbols, nets), settings or AnalysisSettings(), drawing_settings or DrawingSettings()
    )


def rules(harness: Harness) -> list[str]:
    """Names of the rules of a harness' findings."""
    return [finding.rule for finding in harness.findings]
