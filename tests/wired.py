"""Small harnesses written by hand, for tests of protection: one short function for each part."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from loadloom.graph.analysis import analyse
from loadloom.graph.circuit.loading import continuous_harness
from loadloom.graph.circuit.network import HIGHEST_VOLTAGE, LEAST_FAULT, LOAD_STATE, Corner, compile_network
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import solve
from loadloom.graph.facts.facts import Currents, Facts
from loadloom.graph.facts.protection import find_protection
from loadloom.graph.heat.conductors import conductor_resistances
from loadloom.graph.model.elements import (
    Band,
    Conductor,
    Contact,
    Device,
    DeviceKind,
    Diode,
    Element,
    Gauge,
    GaugeSystem,
    Load,
    Output,
    Splice,
)
from loadloom.graph.model.findings import Finding, Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating, Results
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.structure.topology import topology
from loadloom.graph.verdict.registry import all_rules

AT_20_C = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper")
EXACT_CONTACT = Band.exact(1e-3)


def output(name: str, plus: str, minus: str, volts: float = 12.0, **values: Any) -> Output:
    return Output(
        id=name, subject=Subject(name), node_plus=plus, node_minus=minus, voltage_v=volts, **_bands(values)
    )


def wire(name: str, a: str, b: str, **values: Any) -> Conductor:
    """``awg`` or ``mm2`` with ``length_m``, or ``ohm``; ``rated`` is its own allowed current."""
    awg, mm2, ohm, rated = (values.pop(key, None) for key in ("awg", "mm2", "ohm", "rated"))
    gauge = None
    if awg is not None:
        gauge = Gauge(GaugeSystem.AWG, str(awg), awg_area_mm2(awg))
    elif mm2 is not None:
        gauge = Gauge(GaugeSystem.MM2, f"{mm2:g}", mm2)
    return Conductor(
        id=name,
        subject=Subject(name),
        node_a=a,
        node_b=b,
        gauge=gauge,
        resistance_ohm=Band.exact(ohm) if ohm is not None else None,
        own_rating_a=rated,
        **values,
    )


def awg_area_mm2(number: int) -> float:
    """ASTM B258: d = 0.127 mm × 92^((36-n)/39)."""
    return 3.141592653589793 / 4.0 * (0.127 * 92.0 ** ((36 - number) / 39)) ** 2


def contact(name: str, a: str, b: str, ohm: float = 1e-3, rated: float | None = None, **values: Any) -> Contact:
    connector, pin = name.split(".")
    resistance = values.pop("resistance_ohm", Band.exact(ohm))
    return Contact(
        id=name,
        subject=Subject(name),
        node_a=a,
        node_b=b,
        resistance_ohm=resistance,
        connector=connector,
        pin=pin,
        own_rating_a=rated,
        **values,
    )


def fuse(name: str, a: str, b: str, rating_a: float, curve: str | None = None, **values: Any) -> Device:
    return device(DeviceKind.FUSE, name, a, b, rating_a=rating_a, curve=curve, **values)


def breaker(name: str, a: str, b: str, rating_a: float, curve: str | None = None, **values: Any) -> Device:
    return device(DeviceKind.BREAKER, name, a, b, rating_a=rating_a, curve=curve, **values)


def limiter(name: str, a: str, b: str, trip_a: float | Band | None, **values: Any) -> Device:
    return device(DeviceKind.LIMITER, name, a, b, trip_a=trip_a, **values)


def load(name: str, plus: str, minus: str, amperes: float, **values: Any) -> Load:
    return Load(id=name, subject=Subject(name), node_plus=plus, node_minus=minus, demand=amperes, **values)


def splice(name: str, node: str, rating_a: float | None = None) -> Splice:
    return Splice(id=name, subject=Subject(name), node=node, rating_a=rating_a)


def harness(*parts: Element, **values: Any) -> Harness:
    """A harness of parts in the order given."""

    def those(kind: type[Element]) -> tuple[Any, ...]:
        return tuple(p for p in parts if isinstance(p, kind))

    return Harness(
        conductors=those(Conductor),
        contacts=those(Contact),
        devices=those(Device),
        outputs=those(Output),
        loads=those(Load),
        splices=those(Splice),
        **{"diodes": those(Diode), **values},
    )


def facts(drawn: Harness, settings: AnalysisSettings = AT_20_C) -> Facts:
    """Facts with everything that rules of protection look at; allowed currents are the parts' own ratings."""
    cases = drawn.cases(settings)
    ratings = {p.id: _rating(p) for p in (*drawn.conductors, *drawn.contacts)}
    loaded = {c.id: (_solved(drawn, c, LOAD_STATE, settings),) for c in cases}
    continuous = {
        c.id: (_solved(continuous_harness(drawn, c), Case(c.id, None, c.arrangement), LOAD_STATE, settings),)
        for c in cases
    }
    bare = Harness(**{**_fields(drawn), "loads": ()})
    return Facts(
        harness=drawn,
        settings=settings,
        cases=cases,
        topology=topology(drawn),
        loaded=loaded,
        continuous=continuous,
        lowest={c.id: (_solved(drawn, c, LEAST_FAULT, settings),) for c in cases},
        open_circuit={c.arrangement: _solved(bare, c, HIGHEST_VOLTAGE, settings) for c in cases},
        currents=_currents(drawn, loaded, continuous),
        ratings=ratings,
        protection=find_protection(drawn, settings, cases, ratings),
    )


def analysed(drawn: Harness, settings: AnalysisSettings = AT_20_C) -> Results:
    """The whole analysis of a harness, as results."""
    return analyse(drawn, settings, tool_version="test", date="2025-01-01", settings_echo={}, progress=str)


def found(rule: str, drawn: Harness, settings: AnalysisSettings = AT_20_C) -> list[Finding]:
    """What one rule finds in a harness."""
    check = all_rules()[rule].check
    assert check is not None
    return list(check(facts(drawn, settings)))


def _solved(drawn: Harness, case: Case, corner: Corner, settings: AnalysisSettings) -> Solution:
    return solve(compile_network(drawn, case, corner, settings, conductor_resistances(drawn, settings)))


def _currents(
    drawn: Harness, loaded: Mapping[str, Iterable[Solution]], continuous: Mapping[str, Iterable[Solution]]
) -> dict[str, Currents]:
    def by_case(solved: Mapping[str, Iterable[Solution]], name: str) -> dict[str, float]:
        return {c: max(abs(s.current_a(name)) for s in each) for c, each in solved.items()}

    return {e.id: Currents(by_case(loaded, e.id), by_case(continuous, e.id)) for e in drawn.two_ended}


def _rating(part: Conductor | Contact) -> Rating:
    return Rating(part.id, part.own_rating_a, part.own_rating_a, (), (), "own", "stated in the drawing")


def device(kind: DeviceKind, name: str, a: str, b: str, **values: Any) -> Device:
    return Device(id=name, subject=Subject(name), node_a=a, node_b=b, kind=kind, **_bands(values))


def _bands(values: dict[str, Any]) -> dict[str, Any]:
    trip = values.get("trip_a")
    return {**values, "trip_a": Band.exact(trip)} if isinstance(trip, (int, float)) else values


def _fields(drawn: Harness) -> dict[str, Any]:
    return {name: getattr(drawn, name) for name in drawn.__dataclass_fields__}
