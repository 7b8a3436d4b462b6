"""A sample Results to develop and test the reports against: an invented observatory dome, every number made up.

It holds every kind of row, values that are not known, an accepted finding and ratings of every shape. The
allowed currents follow from their chains, as the ratings promise.
"""

from __future__ import annotations

import datetime
import math
from dataclasses import replace

from loadloom.graph.model.findings import Acceptance, Finding, Severity, Subject, Verdict
from loadloom.graph.model.harness import Provenance
from loadloom.graph.model.results import (
    ArrangementRow,
    Cap,
    ConductorRow,
    ContactRow,
    DeviceRow,
    Factor,
    FactorFormula,
    FaultPowerRow,
    FaultRow,
    LoadRow,
    OpenCircuitRow,
    OutputRow,
    Rating,
    Results,
    SensitivityRow,
    ShortCircuitRow,
    SpliceRow,
    SupplyRow,
    SwitchRow,
)
from loadloom.graph.model.settings import Case

CASES = (
    Case("nominal"),
    Case("slew", state="slew"),
    Case("nominal / pooled", arrangement="pooled"),
    Case("slew / pooled", state="slew", arrangement="pooled"),
)
MARGIN = 0.1
AMBIENTS = {"dome": 40.0, "warm room": 30.0, None: 45.0}
BASE_A = {"10 AWG": 55.0, "14 AWG": 32.0, "16 AWG": 22.0, "18 AWG": 16.0, "22 AWG": 9.0, "1.5 mm²": 18.5}
AREA_MM2 = {"10 AWG": 5.26, "14 AWG": 2.08, "16 AWG": 1.31, "18 AWG": 0.823, "22 AWG": 0.326, "1.5 mm²": 1.5}
BUNDLE_STEPS = ((3.0, 1.0), (6.0, 0.8), (9.0, 0.7), (20.0, 0.5), (30.0, 0.45))
SOURCES = {
    "S90": "Invented ampacity table of the sample, edition 1 (not a real source)",
    "S91": "Invented bundle factors of the sample, edition 2 (not a real source)",
}


def _ambient(zone: str | None) -> Factor:
    formula = FactorFormula("temperature", limit=105.0, base=30.0)
    value = formula.at(AMBIENTS[zone])
    assert value is not None
    return Factor(
        "ambient",
        value,
        f"{AMBIENTS[zone]:g} °C ambient on a 30 °C table",
        SOURCES["S90"],
        "COMPUTED",
        AMBIENTS[zone],
        "°C",
        formula,
    )


def _steps(kind: str, count: float) -> Factor:
    formula = FactorFormula("steps", points=BUNDLE_STEPS)
    value = formula.at(count)
    assert value is not None
    return Factor(kind, value, f"{count:g} loaded together", SOURCES["S91"], "VERIFIED", count, "1", formula)


def _altitude() -> Factor:
    formula = FactorFormula("linear", points=((0.0, 1.0), (2000.0, 0.97), (4000.0, 0.93)))
    value = formula.at(2400.0)
    assert value is not None
    return Factor(
        "altitude", value, "2400 m above sea level", SOURCES["S90"], "PARTLY_VERIFIED", 2400.0, "m", formula
    )


def _margin() -> Factor:
    return Factor("margin", 1.0 - MARGIN, "10 % kept free by policy", "settings")


def _rating(
    subject: str, base: float | None, factors: tuple[Factor, ...], caps: tuple[Cap, ...] = (), **rest: object
) -> Rating:
    allowed = None
    if base is not None:
        allowed = min([base * math.prod(f.factor for f in factors), *(cap.limit_a for cap in caps)])
    return Rating(subject, allowed, base, factors, caps, "invented-table", SOURCES["S90"], **rest)  # type: ignore[arg-type]


def _conductors() -> tuple[ConductorRow, ...]:
    gauges = list(BASE_A)
    zones = list(AMBIENTS)
    rows = []
    for n in range(1, 41):
        core = n > 32
        name = f"C1.{n - 32}" if core else f"W{n}"
        gauge: str | None = gauges[n % len(gauges)]
        zone = zones[n % len(zones)]
        current: float | None = round(2.0 + 17.3 * math.sin(n) ** 2, 4)
        rating: Rating | None = _rating(
            name,
            BASE_A[str(gauge)],
            (_ambient(zone), _steps("bundle", float(2 + n % 11)), _altitude(), _margin()),
            (Cap("terminal of P2", 13.0, "stated by the user"),) if n % 5 == 0 else (),
            status="VERIFIED",
            check_edition=n % 7 == 0,
        )
        if n == 9:  # its own rating, nothing to correct
            rating = Rating(name, 10.0, 10.0, (), (), "own rating", "stated in the drawing")
        if n == 11:  # a gauge that could not be read
            gauge, rating = (
                None,
                Rating(
                    name, None, None, (), (), "invented-table", SOURCES["S90"], missing="Gauge '16' has no unit"
                ),
            )
        if n == 12:  # an estimate with two more factors
            rating = _rating(
                name,
                14.0,
                (
                    _ambient(zone),
                    Factor("estimate", 0.85, "heat balance reads high", SOURCES["S90"]),
                    Factor("insulation", 0.95, "thick wall", SOURCES["S90"]),
                    _margin(),
                ),
                estimate=True,
                assumptions=("insulation not stated, 105 °C taken",),
            )
        if n == 13:
            current, rating = None, None
        allowed = rating.allowed_a if rating else None
        judged = current is not None and allowed is not None
        sustained_fault = None if n in (11, 13) else round(14.5 + (n % 4) * 6.25, 3)
        rows.append(
            ConductorRow(
                id=name,
                case="slew" if current is not None else None,
                current_a=current,
                continuous_a=None if current is None else round(current * 0.93, 6),
                allowed_a=allowed,
                utilisation=round(current * 0.93, 6) / allowed if judged and current and allowed else None,
                resistance_ohm=0.0172 / AREA_MM2[gauge] * (1 + n / 20) if gauge else None,
                drop_v=None
                if current is None or gauge is None
                else current * 0.0172 / AREA_MM2[gauge] * (1 + n / 20),
                loss_w=None
                if current is None or gauge is None
                else current**2 * 0.0172 / AREA_MM2[gauge] * (1 + n / 20),
                currents_a={
                    c.id: None if current is None else current * (1.0 if "slew" in c.id else 0.6) for c in CASES
                },
                role="return" if n % 3 == 0 else "feed",
                open_circuit_a=None if current is None else current * 1.2 if n % 4 == 0 else None,
                open_circuit_by=f"W{n + 1}" if n % 4 == 0 else None,
                sustained_fault_a=sustained_fault,
                sustained_fault_case="nominal / pooled" if sustained_fault else None,
                sustained_fault=f"fault {1 + n % 6}" if sustained_fault else None,
                combined_overload_a=None if sustained_fault is None else sustained_fault * 1.4,
                combined_overload_case="slew",
                protected=None if sustained_fault is None or allowed is None else sustained_fault <= allowed,
                protected_by=("F3", "U1A") if n % 2 else ("K2",),
                protected_note="only the assumed trip of U1A protects it" if n == 14 else "",
                rating=rating,
                findings=_findings_on(name),
                from_id=f"X1.{n}",
                to_id="/Dome/MOTOR+" if n % 6 == 0 else f"@J{n}.1",
                gauge=gauge,
                area_mm2=AREA_MM2[gauge] if gauge else None,
                length_m=round(0.4 + n * 0.15, 3),
                insulation="105 °C" if n % 2 else None,
                bundle="B1" if n % 3 else None,
                zone=zone,
                temperature_c=None if current is None else 40.0 + current,
                temperature_limit_c=105.0,
                cable="C1" if core else None,
            )
        )
    return tuple(rows)


def _contacts() -> tuple[ContactRow, ...]:
    rows = []
    for n in range(1, 21):
        name = f"X1.{n}"
        current = round(1.5 + 8.0 * math.cos(n) ** 2, 4)
        rating = _rating(name, 9.2, (_ambient("dome"), _steps("positions", 6.0), _margin()), status="VERIFIED")
        if n == 7:
            rating = Rating(name, None, None, (), (), "contact table", "", missing="contact type not stated")
        allowed = rating.allowed_a
        rows.append(
            ContactRow(
                id=name,
                case="slew",
                current_a=current,
                continuous_a=current,
                allowed_a=allowed,
                utilisation=current / allowed if allowed else None,
                resistance_ohm=6e-3,
                drop_v=current * 6e-3,
                loss_w=current**2 * 6e-3,
                currents_a={c.id: current * (1.0 if "slew" in c.id else 0.6) for c in CASES},
                role="feed" if n <= 10 else "return",
                uneven_a=current * 1.3,
                open_circuit_a=current * 1.25,
                open_circuit_by="X1.3",
                sustained_fault_a=14.5,
                sustained_fault_case="nominal",
                sustained_fault="fault 2",
                combined_overload_a=14.5,
                combined_overload_case="nominal",
                protected=None if allowed is None else False,
                protected_by=("F3",),
                rating=rating,
                findings=_findings_on(name),
                connector="X1",
                pin=str(n),
                contact_type="4.2 mm pitch, invented" if n != 7 else None,
                loaded_positions=6,
                zone="dome",
                temperature_rise_k=None if n == 7 else 12.0 + n,
                share_p05=0.12,
                share_p50=0.166,
                share_p95=0.22,
                overload_probability=0.03,
            )
        )
    return tuple(rows)


def _findings() -> tuple[Finding, ...]:
    accepted = Acceptance(
        "uneven-sharing",
        "X1.3",
        "measured on the bench, 7.1 A at most",
        "A. Example",
        datetime.date(2026, 3, 2),
        datetime.date(2027, 3, 2),
        1.31,
    )
    return (
        Finding(
            "path-unprotected",
            Severity.ERROR,
            Subject(
                "W5",
                "W5",
                None,
                None,
                "/Dome/",
                "6f1c2d3e-0000-4000-8000-000000000005",
                "observatory.kicad_sch",
                412,
            ),
            "W5 (22 AWG) can be made to carry 20.8 A continuously by a fault at W5:1.00, 3.2 times "
            "its allowed 6.50 A, and nothing opens.",
            "Put a device of at most 5 A at its source end, or use 14 AWG.",
            "nominal / pooled",
            20.75,
            6.5,
            "A",
            "IEC 60364-4-43 433.1 (value from memory)",
        ),
        Finding(
            "wire-overload",
            Severity.ERROR,
            Subject("W14", "W14", sheet_path="/", file="observatory.kicad_sch", line=97),
            "Conductor W14 carries 17.6 A, 1.42 times its allowed 12.4 A (invented-table).",
            "Use a thicker conductor, a second one in parallel, or move load to another conductor.",
            "slew",
            17.6,
            12.4,
            "A",
            SOURCES["S90"],
        ),
        Finding(
            "no-setting-range",
            Severity.ERROR,
            Subject("K2", "K2", sheet_path="/Dome/"),
            "Limiter K2 has no setting that both rides through its loads (at least 14.2 A) and "
            "protects what lies behind it (at most 9.8 A).",
            "Use thicker conductors behind K2 or split its loads.",
            None,
            14.2,
            9.8,
            "A",
            None,
        ),
        Finding(
            "voltage-low",
            Severity.ERROR,
            Subject("M1", "M1", sheet_path="/Dome/"),
            "Load M1 gets 10.3 V, less than its minimum 10.8 V.",
            "Shorten or thicken its path.",
            "slew",
            10.3,
            10.8,
            "V",
            None,
        ),
        Finding(
            "field-unreadable",
            Severity.WARNING,
            Subject("W11", "W11", None, "Gauge", "/", "uuid-w11", "observatory.kicad_sch", 301),
            "Gauge of W11 can't be read: '16' has no unit.",
            "Write 16 AWG or 16 mm².",
        ),
        Finding(
            "overload-band",
            Severity.WARNING,
            Subject("W8", "W8"),
            "Between 20.0 A and 27.0 A nothing opens for up to 1 h.",
            "Accept, or use the next device down.",
            "nominal",
            27.0,
            20.0,
            "A",
            "IEC 60364-4-43 433.1 (value from memory)",
        ),
        Finding(
            "length-assumed",
            Severity.NOTE,
            Subject("W20", "W20", field="Length"),
            "Length of W20 is not stated; 0.5 m taken.",
            "State it.",
        ),
        Finding(
            "uneven-sharing",
            Severity.WARNING,
            Subject("X1.3", "X1", "3", None, "/"),
            "Contact X1.3 carries 1.31 times its even share.",
            "Match lengths and contacts.",
            "slew",
            1.31,
            1.2,
            "1",
            None,
            accepted,
        ),
    )


def _findings_on(name: str) -> tuple[str, ...]:
    return tuple(f.rule for f in _findings() if f.subject.id == name)


def sample() -> Results:
    """The sample observatory."""
    links = (
        ("U1A", "12V", "0V"),
        *((f"W{n}", f"X1.{n}", f"@J{n}.1") for n in range(1, 33)),
        ("M1", "@J1.1", "@J3.1"),
    )
    return Results(
        verdict=Verdict.FAIL,
        provenance=Provenance(
            "observatory.kicad_sch",
            "ab" * 32,
            "Observatory dome, power harness (invented)",
            "C",
            "2026-02-14",
            "Example Observatory",
            "kicad-cli xml",
        ),
        tool_version="0.1.0",
        date="2026-03-01",
        settings={
            "basis": "invented-table",
            "rule_sets": ["summed-load"],
            "margin": MARGIN,
            "altitude_m": 2400.0,
            "decimal_sign": ".",
            "ambient": {
                "dome": {"min_c": -10.0, "max_c": 40.0, "stated": True},
                "warm room": {"min_c": 15.0, "max_c": 30.0, "stated": True},
            },
            "default_ambient": {"min_c": 20.0, "max_c": 45.0, "stated": False},
        },
        cases=CASES,
        residual_a=3.1e-13,
        outputs=(
            OutputRow(
                id="U1A",
                case="slew",
                supply="U1",
                voltage_v=12.0,
                current_a=61.2,
                limit_a=83.3,
                trip_a=125.0,
                power_w=734.4,
                utilisation=61.2 / 83.3,
                currents_a={c.id: 61.2 if "slew" in c.id else 36.7 for c in CASES},
            ),
            OutputRow(
                id="U1B",
                case="nominal",
                supply="U1",
                voltage_v=24.0,
                current_a=3.4,
                limit_a=5.0,
                trip_a=None,
                power_w=81.6,
                utilisation=0.68,
                currents_a={c.id: 3.4 for c in CASES},
            ),
            OutputRow(
                id="U2",
                case=None,
                supply=None,
                voltage_v=None,
                current_a=None,
                limit_a=None,
                trip_a=None,
                power_w=None,
                utilisation=None,
            ),
        ),
        supplies=(
            SupplyRow(
                id="U1",
                case="slew",
                power_w=816.0,
                allowed_w=900.0,
                nameplate_w=1000.0,
                load_share=0.816,
                utilisation=816.0 / 900.0,
                efficiency=0.92,
                input_w=816.0 / 0.92,
                heat_w=816.0 / 0.92 - 816.0,
                fan_off=False,
                inside_c=50.0,
                factors=(Factor("mounting", 0.9, "upside down", "the drawing"),),
            ),
            SupplyRow(
                id="U2",
                case=None,
                power_w=None,
                allowed_w=None,
                nameplate_w=None,
                load_share=None,
                utilisation=None,
                efficiency=None,
                input_w=None,
                heat_w=None,
                fan_off=None,
            ),
        ),
        devices=(
            DeviceRow(
                id="F3",
                kind="fuse",
                case="slew",
                setting_a=10.0,
                current_a=8.1,
                utilisation=0.81,
                non_tripping_a=10.0,
                tripping_a=13.5,
                tripping_within_s=3600.0,
                setting_low_a=8.5,
                setting_high_a=11.0,
                setting_low_by="M1 in slew",
                setting_high_by="W5",
                prospective_a=412.0,
                breaking_capacity_a=1000.0,
                voltage_rating_v=32.0,
                highest_voltage_v=12.6,
                curve="blade 135 %",
                curve_source="invented",
                gates=True,
                band=((11.0, 360000.0, None), (13.5, 0.75, 600.0), (20.0, 0.15, 5.0), (35.0, 0.04, 0.5)),
                upstream=("U1A",),
                protects=("W1", "W3", "W7"),
                settings_a={c.id: 10.0 for c in CASES},
                currents_a={c.id: 8.1 if "slew" in c.id else 5.0 for c in CASES},
            ),
            DeviceRow(
                id="K2",
                kind="limiter",
                case="slew",
                setting_a=40.0,
                current_a=14.2,
                utilisation=14.2 / 36.0,
                non_tripping_a=36.0,
                tripping_a=44.0,
                tripping_within_s=0.001,
                setting_low_a=14.2,
                setting_high_a=9.8,
                setting_low_by="M2 in slew",
                setting_high_by="W2",
                band=((44.0, None, 0.001),),
                upstream=("U1A",),
                protects=("W2",),
                findings=("no-setting-range",),
            ),
            DeviceRow(id="R1", kind="resettable", case=None, setting_a=None, current_a=None),
        ),
        conductors=_conductors(),
        contacts=_contacts(),
        splices=(
            SpliceRow(id="S1", case="slew", current_a=12.4, allowed_a=24.0, utilisation=12.4 / 24.0),
            SpliceRow(id="S2", case="slew", current_a=4.0, allowed_a=None, utilisation=None),
        ),
        switches=(
            SwitchRow(id="Q1", kind="switch", case="slew", current_a=11.0, allowed_a=16.0, utilisation=11.0 / 16.0),
            SwitchRow(id="D1", kind="diode", case="slew", current_a=3.0, allowed_a=None, utilisation=None),
        ),
        loads=(
            LoadRow(
                id="M1",
                function="Mount",
                case="slew",
                demand="96 W",
                voltage_v=10.3,
                voltage_high_v=12.5,
                current_a=9.32,
                power_w=96.0,
                minimum_v=10.8,
                maximum_v=14.0,
                drop_v=1.1,
                fed_by=("U1A",),
                currents_a={c.id: 9.32 if "slew" in c.id else 2.0 for c in CASES},
                duration_s={"slew": 12.0, "nominal": None},
                findings=("voltage-low",),
            ),
            LoadRow(
                id="H1",
                case="nominal",
                demand="2.4 Ω",
                voltage_v=11.4,
                voltage_high_v=12.6,
                current_a=4.9,
                power_w=55.9,
                minimum_v=None,
                maximum_v=None,
                drop_v=0.45,
                fed_by=("U1A",),
            ),
            LoadRow(
                id="Q9",
                case=None,
                demand="",
                voltage_v=None,
                voltage_high_v=None,
                current_a=None,
                power_w=None,
                minimum_v=None,
                maximum_v=None,
            ),
        ),
        open_circuits=(
            OpenCircuitRow(opened="W4", case="slew", worst="W8", worst_current_a=19.4, worst_allowed_a=15.2),
            OpenCircuitRow(
                opened="W6",
                case="slew",
                worst=None,
                worst_current_a=None,
                worst_allowed_a=None,
                loses_supply=("M1", "H1"),
            ),
            OpenCircuitRow(opened="X1.3", case="slew", worst="X1.4", worst_current_a=9.9, worst_allowed_a=None),
        ),
        faults=tuple(
            FaultRow(
                id=f"fault {n}",
                kind=("load", "pinch", "contacts", "source")[n % 4],
                case="nominal",
                at=f"W{n}:1.00",
                to="@J9.1",
                fault_current_a=20.0 + n,
                fault_resistance_ohm=0.05 * n,
                fault_power_w=(20.0 + n) ** 2 * 0.05 * n,
                held_by="F3" if n % 2 else None,
                worst=f"W{n}",
                worst_current_a=20.0 + n,
                worst_allowed_a=10.0 if n != 4 else None,
                resistance_band_ohm=(0.02 * n, 0.9) if n != 5 else None,
                description=f"pinch at the far end of W{n} to the return",
            )
            for n in range(1, 7)
        ),
        short_circuits=(
            ShortCircuitRow(
                conductor="W5",
                at="W5:1.00",
                to="0V",
                case="nominal",
                least_a=88.0,
                greatest_a=310.0,
                cleared_by="F3",
                slowest_s=0.5,
                i2t_a2s=4800.0,
                withstand_a2s=14100.0,
                adiabatic_in_range=True,
                loop_heat_w=3700.0,
            ),
            ShortCircuitRow(
                conductor="W25",
                at="W25:1.00",
                to="0V",
                case="nominal",
                least_a=7.53,
                greatest_a=8.2,
                cleared_by=None,
                slowest_s=None,
                i2t_a2s=None,
                withstand_a2s=14100.0,
                adiabatic_in_range=None,
                loop_heat_w=90.0,
                findings=("fault-never-cleared",),
            ),
        ),
        arrangements=(
            ArrangementRow(
                arrangement="as drawn",
                trips=("K2",),
                unprotected=("W5",),
                not_determined=("W11",),
                worst_fault="fault 6",
                worst_fault_power_w=202.8,
                worst_sustained_fault="W5",
                worst_ratio=3.19,
                narrative="Split by limiters, K2 trips in slew; W5 stays unprotected.",
            ),
            ArrangementRow(
                arrangement="pooled",
                trips=(),
                unprotected=("W2", "W5", "W14"),
                not_determined=("W11",),
                worst_fault="fault 6",
                worst_fault_power_w=1500.0,
                worst_sustained_fault="W14",
                worst_ratio=10.1,
                narrative="Pooled, nothing trips and three conductors can be made to carry more than they are "
                "allowed.",
            ),
        ),
        fault_powers=(
            FaultPowerRow(
                at="W5:1.00",
                case="nominal",
                power_w=1500.0,
                held_by="U1A",
                within=(),
                exceeds=("240 VA (access)", "100 W (limited source)"),
            ),
            FaultPowerRow(
                at="X1.3",
                case="nominal",
                power_w=60.0,
                held_by="F3",
                within=("240 VA (access)", "100 W (limited source)"),
                exceeds=(),
            ),
        ),
        findings=_findings(),
        sensitivity=(
            SensitivityRow("ambient 10 K warmer", 4, ("W1", "W6", "W7"), "load states and ratings"),
            SensitivityRow("lengths 10 % beyond their tolerance", 0, (), "load states alone"),
        ),
        assumptions=(
            "Ambient 20 to 45 °C where no zone is stated (default).",
            "Length of W20 taken as 0.5 m.",
            "Trip of U1B taken as 150 % of its limit, 7.5 A.",
        ),
        sources=SOURCES,
        links=links,
    )


HOSTILE = (
    "=cmd|' /C calc'!A0",
    "+1+1",
    "-2+3",
    "@SUM(A1:A9)",
    "\t=1+1",
    "\r=1+1",
    "<script>alert(1)</script>&amp;\"'",
    "a\x00b\x07c\x1bd\x7fe\x85f",
    "abc\u202edcba\u202c\u200f\u2066x\u2069",
    "x" * 40_000,
    "=" + "😀" * 20_000,
    "😀 🔥 Ωµ°²",
    "\ud800 lone \uffff\ufffe",
    "_x000D__x0041_",
    "]]> --> ?> %0A::error::injected",
    "https://example.invalid/ {{7*7}} ${7*7} `x` $(x)",
    "[bold red]markup[/bold red] [link=file:///x]y[/link]",
)
"""Texts that a drawing could hold to do harm in a report."""


def hostile(text: str) -> Results:
    """The sample with ``text`` wherever a text from a drawing can stand."""
    base = sample()
    row = base.conductors[0]
    assert row.rating is not None
    subject = Subject(text, text, text, text, text, text, text, 3)
    finding = replace(
        base.findings[0],
        subject=subject,
        message=f"{text} is too much",
        remedy=text,
        case=text,
        source=text,
        accepted=Acceptance("path-unprotected", text, text, text, datetime.date(2026, 1, 1)),
    )
    plain = replace(finding, message=text, accepted=None)
    return replace(
        base,
        provenance=Provenance(text, "cd" * 32, text, text, text, text, text),
        cases=(*base.cases, Case(text, text, text)),
        conductors=(
            replace(
                row,
                id=text,
                from_id=text,
                to_id=text,
                gauge=text,
                insulation=text,
                bundle=text,
                zone=text,
                case=text,
                protected_by=(text,),
                protected_note=text,
                open_circuit_by=text,
                sustained_fault=text,
                currents_a={**row.currents_a, text: 1.0},
                rating=replace(row.rating, subject_id=text, basis=text, source=text, assumptions=(text,)),
            ),
            *base.conductors[1:],
        ),
        contacts=(
            replace(base.contacts[0], id=text, connector=text, pin=text, contact_type=text, zone=text),
            *base.contacts[1:],
        ),
        outputs=(replace(base.outputs[0], id=text, supply=text), *base.outputs[1:]),
        supplies=(
            replace(base.supplies[0], id=text, factors=(replace(base.supplies[0].factors[0], reason=text),)),
            *base.supplies[1:],
        ),
        devices=(
            replace(base.devices[0], id=text, curve=text, curve_source=text, setting_low_by=text, protects=(text,)),
            *base.devices[1:],
        ),
        loads=(replace(base.loads[0], id=text, function=text, demand=text, fed_by=(text,)), *base.loads[1:]),
        splices=(replace(base.splices[0], id=text), *base.splices[1:]),
        switches=(replace(base.switches[0], id=text), *base.switches[1:]),
        open_circuits=(
            replace(base.open_circuits[0], opened=text, worst=text, loses_supply=(text,)),
            *base.open_circuits[1:],
        ),
        faults=(
            replace(base.faults[0], id=text, at=text, to=text, held_by=text, worst=text, description=text),
            *base.faults[1:],
        ),
        short_circuits=(
            replace(base.short_circuits[0], conductor=text, at=text, to=text, cleared_by=text),
            *base.short_circuits[1:],
        ),
        arrangements=(
            replace(base.arrangements[0], arrangement=text, trips=(text,), narrative=text),
            *base.arrangements[1:],
        ),
        fault_powers=(
            replace(base.fault_powers[0], at=text, held_by=text, exceeds=(text,)),
            *base.fault_powers[1:],
        ),
        findings=(finding, plain, *base.findings[1:]),
        assumptions=(text, *base.assumptions),
        sources={text: text, **base.sources},
        links=((text, text, text), *base.links),
    )
