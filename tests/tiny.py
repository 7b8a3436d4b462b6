"""Tiny harnesses with drawn sizes, the same for the same seed: what the search for sizes is tried on."""

from __future__ import annotations

import random

from loadloom.graph.model.elements import (
    Band,
    Conductor,
    Contact,
    Device,
    DeviceKind,
    Element,
    Load,
    LoadKind,
    Output,
    Tolerance,
)
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Ambient, AnalysisSettings, ContactType
from loadloom.graph.sizing.shelf import gauge_of

AWG = ("22 AWG", "20 AWG", "18 AWG", "16 AWG", "14 AWG", "12 AWG", "10 AWG", "8 AWG", "6 AWG")
MM2 = ("0.5 mm²", "0.75 mm²", "1 mm²", "1.5 mm²", "2.5 mm²", "4 mm²", "6 mm²", "10 mm²", "16 mm²")


def settings_of(seed: int) -> AnalysisSettings:
    """Basis, ambient and stock for a seed."""
    rng = random.Random(1000 + seed)
    metric = seed % 2 == 1
    return AnalysisSettings(
        basis=rng.choice(("general-equipment", "building-iec") if metric else ("general-equipment", "vehicle")),
        default_ambient=Ambient(0.0, rng.choice((25.0, 40.0, 50.0))),
        stocked_sizes=MM2 if metric else AWG,
        contact_types={
            "pin": ContactType("pin", rated_a=((2, 25.0),), resistance_ohm=Band(2e-3, 1e-3, 3e-3)),
            "blade": ContactType(
                "blade", rated_a=((2, 40.0),), resistance_ohm=Band(1e-3, 5e-4, 2e-3), wire_area_mm2=(0.75, 6.1)
            ),
        },
        spread_draws=1,
    )


def tiny_harness(seed: int) -> Harness:
    """One supply, one to three branches, each with or without a device, contacts and parallel paths."""
    rng = random.Random(seed)
    stock = MM2 if seed % 2 == 1 else AWG
    insulation = rng.choice(("PVC 70 °C", "XLPE 90 °C", "PVC 105 °C"))
    parts: list[Element] = []
    count = {"W": 0, "X": 0}

    def path(a: str, b: str, length_m: float, kind: str | None, bundle: str | None, paths: int = 1) -> None:
        for _ in range(paths):
            count["W"] += 1
            name, start = f"W{count['W']}", a
            if kind is not None:
                count["X"] += 1
                start = f"@{name}"
                parts.append(
                    Contact(
                        id=f"X{count['X']}.1",
                        subject=Subject(f"X{count['X']}.1"),
                        node_a=a,
                        node_b=start,
                        connector=f"X{count['X']}",
                        pin="1",
                        contact_type=kind,
                    )
                )
            parts.append(
                Conductor(
                    id=name,
                    subject=Subject(name),
                    node_a=start,
                    node_b=b,
                    gauge=gauge_of(rng.choice(stock)) if paths == 1 else gauge_of(stock[4]),
                    length_m=length_m,
                    insulation=insulation,
                    bundle=bundle,
                )
            )

    volts = rng.choice((12.0, 24.0))
    parts.append(
        Output(
            id="PS1",
            subject=Subject("PS1"),
            node_plus="p",
            node_minus="m",
            voltage_v=volts,
            tolerance=Tolerance.even(0.02),
            limit_a=30.0,
            trip_a=Band(33.0, 30.0, 36.0),
            resistance_ohm=rng.choice((0.0, 5e-3)),
        )
    )
    trunk = rng.random() < 0.5
    if trunk:
        path("p", "t", rng.uniform(0.3, 2.0), None, None, rng.choice((1, 1, 2)))
        path("r", "m", rng.uniform(0.3, 2.0), None, None)
    for k in range(1, rng.randint(1, 2) + 1):
        source, back = ("t", "r") if trunk else ("p", "m")
        amperes = rng.uniform(0.5, 9.0)
        if rng.random() < 0.8:
            part = f"d{k}"
            kind = rng.choice((DeviceKind.FUSE, DeviceKind.LIMITER))
            need = amperes * 1.3
            rating = next(a for a in (1.0, 2.0, 3.0, 5.0, 7.5, 10.0, 15.0) if a >= need)
            values = {"rating_a": rating, "curve": "UL 248-14"} if kind is DeviceKind.FUSE else {}
            if kind is DeviceKind.LIMITER:
                values = {"trip_a": Band(need, 0.9 * need, 1.1 * need)}
            parts.append(
                Device(id=f"F{k}", subject=Subject(f"F{k}"), node_a=source, node_b=part, kind=kind, **values)
            )
            source = part
        length, contact = rng.uniform(0.3, 8.0), rng.choice((None, "pin", "blade"))
        bundle = rng.choice((None, "B1"))
        path(source, f"l{k}+", length, contact, bundle, rng.choice((1, 1, 1, 2)))
        path(f"l{k}-", back, length, contact, bundle)
        constant = rng.choice((LoadKind.CURRENT, LoadKind.POWER, LoadKind.RESISTANCE))
        demand = {"current": amperes, "power": amperes * volts, "resistance": volts / amperes}[constant]
        parts.append(
            Load(
                id=f"L{k}",
                subject=Subject(f"L{k}"),
                node_plus=f"l{k}+",
                node_minus=f"l{k}-",
                demand_kind=constant,
                demand=demand,
                minimum_v=rng.choice((None, 0.93 * volts, 0.95 * volts)),
            )
        )

    def those(kind: type[Element]) -> tuple:
        return tuple(p for p in parts if isinstance(p, kind))

    return Harness(
        conductors=those(Conductor),
        contacts=those(Contact),
        devices=those(Device),
        outputs=those(Output),
        loads=those(Load),
    )
