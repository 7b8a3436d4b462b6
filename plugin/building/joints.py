"""Joints: which pins are one potential, and what each joint is called.

A joint is called by its net's name, or ``@`` and its first pin in natural order where KiCad named the net by
itself; a pin that is a joint of its own (an end of a wire drawn as a net, or the wire's side of a lone terminal)
is called like ``J1.3``. Where a splice makes several nets one joint, the first name drawn by the user counts.
"""

from __future__ import annotations

from collections.abc import Mapping

import networkx as nx

from loadloom.graph.model.naming import natural_key
from loadloom.plugin.building.context import pin_text
from loadloom.plugin.drawing import Net, PinRef


def joint_name(net: Net, pins: tuple[PinRef, ...]) -> str:
    """The joint that a net is; ``pins`` in natural order."""
    return net.name if net.named_by_user or not pins else f"@{pin_text(pins[0])}"


class Joints:
    """The joint of every pin; pins can be set apart from their net, and joints made one."""

    def __init__(self, net_of: Mapping[PinRef, Net], pins_of: Mapping[str, tuple[PinRef, ...]]) -> None:
        names = {name: joint_name(net, pins_of[name]) for name, net in _by_name(net_of).items()}
        self._of_pin = {pin: names[net.name] for pin, net in net_of.items()}
        self._drawn = {names[net.name] for net in net_of.values() if net.named_by_user}
        self._same: nx.Graph = nx.Graph()
        self._called: dict[str, str] = {}

    def set_apart(self, pin: PinRef, name: str) -> None:
        """Make a pin part of the joint ``name`` instead of its net's."""
        self._of_pin[pin] = name

    def make_one(self, *pins: PinRef) -> None:
        """Make the joints of these pins one."""
        nx.add_path(self._same, [self._own(pin) for pin in pins])
        self._called = {}

    def of(self, pin: PinRef) -> str:
        """The joint of a pin."""
        own = self._own(pin)
        if own not in self._same:
            return own
        if not self._called:
            for group in nx.connected_components(self._same):
                called = min(group, key=self._order)
                self._called.update(dict.fromkeys(group, called))
        return self._called[own]

    def _own(self, pin: PinRef) -> str:
        return self._of_pin.get(pin, f"@{pin_text(pin)}")

    def _order(self, name: str) -> tuple[object, ...]:
        return name not in self._drawn, not name.startswith("@"), natural_key(name)


def _by_name(net_of: Mapping[PinRef, Net]) -> dict[str, Net]:
    return {net.name: net for net in net_of.values()}
