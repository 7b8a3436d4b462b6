"""The Drawing: symbols, pins, nets and fields as a file shows them, whatever the route it was read by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from loadloom.graph.model.findings import Finding
from loadloom.graph.model.harness import Provenance


@dataclass(frozen=True, slots=True)
class Pin:
    """One pin of a symbol; a stacked pin ``[8,9,10]`` is three. ``name`` is empty where KiCad shows ``~``."""

    number: str
    name: str = ""
    electrical_type: str = "passive"


@dataclass(frozen=True, slots=True)
class Symbol:
    """One placed symbol (all units of one reference).

    ``fields`` holds every field but reference, value, footprint, datasheet and description, in the order drawn,
    names as written, text variables expanded. ``library_fields`` are fields of the library symbol that the
    placed one does not override (``Role`` comes from there). ``sheet_path`` is the human path with slashes
    (``/`` or ``/Dome/``); ``uuids`` are of the placed units; ``instance_path`` the uuid path of the sheet.
    ``field_lines`` gives the line of a field in ``file`` where known. ``ends`` are the ends of the role by pins
    where the file itself says them, as a wire list does, and ``guessed`` that its role is a guess.
    """

    reference: str
    value: str
    library_id: str
    pins: tuple[Pin, ...]
    fields: Mapping[str, str] = field(default_factory=dict)
    library_fields: Mapping[str, str] = field(default_factory=dict)
    dnp: bool = False
    sheet_path: str = "/"
    instance_path: str = "/"
    uuids: tuple[str, ...] = ()
    file: str | None = None
    line: int | None = None
    field_lines: Mapping[str, int] = field(default_factory=dict)
    ends: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    guessed: bool = False


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A symbol that takes no part, whatever its role, since what it joins can't be told.

    ``cause`` completes the sentence that its reference begins; ``unnumbered`` says that it has no reference yet.
    """

    symbol: Symbol
    cause: str
    remedy: str
    unnumbered: bool = False


@dataclass(frozen=True, slots=True, order=True)
class PinRef:
    """A pin of a symbol, by reference and number."""

    reference: str
    number: str


@dataclass(frozen=True, slots=True)
class Net:
    """Pins that the drawing joins.

    ``named_by_user`` is false where KiCad made the name up. ``classes`` are its net classes without
    ``Default``. ``power_symbol`` says that a power symbol stands on it, ``sheets`` on which human sheet paths
    its pins stand. ``joint`` says that they are known to be one joint, as a wire list states it.
    """

    name: str
    pins: tuple[PinRef, ...]
    named_by_user: bool = False
    classes: tuple[str, ...] = ()
    power_symbol: bool = False
    sheets: tuple[str, ...] = ()
    joint: bool = False


WIRE_LIST = "wire list"
"""The route of a drawing that was read from a wire list."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A whole drawing. Symbols are in natural order of their references, nets of their first pin.

    ``notices`` are findings of reading; ``route`` says how it was read. The pins of symbols that are ``left_out``
    stand on no net.
    """

    symbols: tuple[Symbol, ...]
    nets: tuple[Net, ...]
    provenance: Provenance
    notices: tuple[Finding, ...] = ()
    route: str = ""
    left_out: tuple[LeftOut, ...] = ()
