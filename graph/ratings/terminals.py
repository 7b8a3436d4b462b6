"""What the terminals at a conductor's ends stand: as stated, and by the default of NEC 110.14(C).

Stated is what the field ``Terminal`` says, else the settings' ``terminal_temperature``, and at either end the
highest temperature of the contact type that it lands on; the least of them counts.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property

from loadloom.graph.model.elements import Conductor, Contact, Device, Gauge, GaugeSystem, Output, TwoEnded
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.chain import Terminal
from loadloom.graph.ratings.contact_rating import contact_type_of

DEFAULT_C, LARGE_C = 60.0, 75.0
"""NEC 110.14(C)(1): circuits up to 100 A or 14 to 1 AWG, and circuits above 100 A in larger wire."""

LARGE_CIRCUIT_A = 100.0
ONE_AWG_MM2 = 42.41
"""Area of 1 AWG, ASTM B258."""


class Terminals:
    """The terminals of a harness' conductors, and which of its circuits are above 100 A."""

    def __init__(self, harness: Harness, settings: AnalysisSettings) -> None:
        self.harness, self.settings = harness, settings
        self.at_node = _limits_c(harness, settings)

    @cached_property
    def large(self) -> frozenset[str]:
        """The conductors of circuits above 100 A, by id."""
        return large_circuits(self.harness)

    def stated_c(self, conductor: Conductor) -> float | None:
        """The least limit in °C that anybody states for its terminals; None where nobody does."""
        drawn = conductor.terminal_c if conductor.terminal_c is not None else self.settings.terminal_default_c
        limits = [self.at_node[node] for node in _ends(conductor) if node in self.at_node]
        return min((limit for limit in (drawn, *limits) if limit is not None), default=None)

    def by_code(self, conductor: Conductor) -> Terminal:
        """What NEC 110.14(C) lets its terminals stand: as stated, at an end with nothing stated the default."""
        drawn = conductor.terminal_c if conductor.terminal_c is not None else self.settings.terminal_default_c
        large = is_large(conductor.gauge) and conductor.id in self.large
        default_c = LARGE_C if large else DEFAULT_C
        limits = []
        for node in _ends(conductor):
            told = [limit for limit in (drawn, self.at_node.get(node)) if limit is not None]
            limits.append(Terminal(min(told), True) if told else Terminal(default_c))
        return min(limits, key=lambda end: (end.limit_c, not end.stated))


def is_large(gauge: Gauge | None) -> bool:
    """Whether a size is larger than 1 AWG."""
    return gauge is not None and gauge.system is GaugeSystem.AWG and gauge.area_mm2 > ONE_AWG_MM2


def large_circuits(harness: Harness) -> frozenset[str]:
    """Ids of the conductors whose every protecting device is set above 100 A, whatever the arrangement.

    Copper between devices is one piece. A piece is protected by the devices that lead into it from the outputs'
    side, or by the output that it begins at. A return is protected as the circuits whose current it carries back.
    What has no device, or one whose setting is not known, is not such a circuit.
    """
    pieces = _Pieces(harness)
    settings_a = pieces.settings_a()
    large = {name for name, known in settings_a.items() if known and min(known) > LARGE_CIRCUIT_A}
    circuits_of: dict[str, list[bool]] = {}
    for load in harness.loads:
        circuits_of.setdefault(pieces.of(load.node_minus), []).append(pieces.of(load.node_plus) in large)
    large |= {back for back, circuits in circuits_of.items() if back not in settings_a and all(circuits)}
    return frozenset(c.id for c in harness.conductors if pieces.of(c.node_a) in large)


class _Pieces:
    """The copper of a harness between its devices: pieces by number, and what lies between them."""

    def __init__(self, harness: Harness) -> None:
        self.harness = harness
        self.parent: dict[str, str] = {}
        for part in harness.two_ended:
            if part.fitted and not isinstance(part, Device):
                self._join(part)

    def of(self, node: str) -> str:
        """The piece of a joint, named by one of its joints."""
        while (above := self.parent.get(node, node)) != node:
            self.parent[node] = self.parent.get(above, above)
            node = above
        return node

    def _join(self, part: TwoEnded) -> None:
        a, b = self.of(part.node_a), self.of(part.node_b)
        if a != b:
            self.parent[a] = b

    def settings_a(self) -> dict[str, list[float]]:
        """By piece that an output feeds: the settings in A of what protects it; 0 for one that is not known."""
        found: dict[str, list[float]] = {}
        links: dict[str, list[tuple[str, Device]]] = {}
        for device in self.harness.devices:
            if device.fitted:
                a, b = self.of(device.node_a), self.of(device.node_b)
                links.setdefault(a, []).append((b, device))
                links.setdefault(b, []).append((a, device))
        for output in self.harness.outputs:
            if not output.fitted:
                continue
            start = self.of(output.node_plus)
            found.setdefault(start, []).extend(_output_settings_a(output))
            distance = {start: 0}
            queue = [start]
            for piece in queue:
                for other, _ in links.get(piece, ()):
                    if other not in distance:
                        distance[other] = distance[piece] + 1
                        queue.append(other)
            for piece in queue:
                for other, device in links.get(piece, ()):
                    if other != piece and distance[other] >= distance[piece]:
                        found.setdefault(other, []).extend(_device_settings_a(device, found.get(piece, [0.0])))
        return found


def _device_settings_a(device: Device, before_a: Iterable[float]) -> Iterator[float]:
    """The settings of a device in every arrangement; where it is not active, of what comes before it."""
    for there in device.variants():
        if there.setting_a is not None:
            yield there.setting_a
        elif there.active:
            yield 0.0
        else:
            yield from before_a


def _output_settings_a(output: Output) -> Iterator[float]:
    for there in output.variants():
        yield there.trip_a.nominal if there.trip_a is not None else 0.0


def _ends(conductor: Conductor) -> tuple[str, str]:
    return conductor.node_a, conductor.node_b


def _limits_c(harness: Harness, settings: AnalysisSettings) -> Mapping[str, float]:
    """The limit in °C of the coolest terminal at every joint that has one with a stated limit."""
    limits: dict[str, float] = {}
    contacts: tuple[Contact, ...] = harness.contacts
    for contact in contacts:
        kind = contact_type_of(contact.contact_type, settings)
        if kind is not None and kind.max_c is not None:
            for node in (contact.node_a, contact.node_b):
                limits[node] = min(kind.max_c, limits.get(node, kind.max_c))
    return limits
