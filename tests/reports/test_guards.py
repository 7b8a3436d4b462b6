"""What a device guards: its chart, its row and the rows of the parts behind it must say the same, each with why."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from dataclasses import replace

import openpyxl
import pytest
from observatory_sample import sample

from loadloom.graph.model.results import ConductorRow, DeviceRow, FaultRow, Results
from loadloom.reports.guards import found_elsewhere, guarded, otherwise, protects, why_unprotected
from loadloom.reports.workbook import book
from loadloom.reports.workbook.table import FIRST_ROW, HEADER_ROW

FUSE = DeviceRow(
    id="F1",
    kind="fuse",
    case="run",
    setting_a=10.0,
    current_a=4.0,
    tripping_a=13.5,
    settings_a={"run": 10.0, "run / pooled": None},
    protects=("W1",),
)
FAULT = FaultRow(
    id="X",
    kind="load",
    case="run",
    at="L1",
    to="@L1.2",
    fault_current_a=60.0,
    fault_resistance_ohm=0.2,
    fault_power_w=720.0,
    held_by="PS1",
    worst="W1",
    worst_current_a=60.0,
    worst_allowed_a=20.0,
)


def one(fuse: DeviceRow, fault: FaultRow = FAULT, **wire: object) -> Results:
    """Results with one fuse before one wire."""
    base = sample()
    row: ConductorRow = replace(
        base.conductors[0],
        id="W1",
        role="feed",
        allowed_a=20.0,
        protected_by=(),
        sustained_fault="X",
        sustained_fault_case="run",
        **wire,  # type: ignore[arg-type]
    )
    return replace(base, conductors=(row,), devices=(fuse,), faults=(fault,), splices=(), switches=(), contacts=())


def said(results: Results) -> str:
    (found,) = guarded(results)["F1"]
    return found.words


@pytest.mark.parametrize(
    ("fault", "wire", "words"),
    [
        # The fuse opens above 13.5 A and 60 A flow: they come another way.
        (FAULT, {"sustained_fault_a": 60.0, "protected": False}, "not all of it flows through F1"),
        (
            FAULT,
            {"sustained_fault_a": 60.0, "protected": False, "role": "return"},
            "since a return serves other circuits too",
        ),
        # The fuse itself holds what is too much.
        (
            replace(FAULT, held_by="F1"),
            {"sustained_fault_a": 13.5, "protected": False},
            "NOT protected: 13.5 A can stay on it, F1 stays just below tripping",
        ),
        # Another device holds less than the fuse would: both are set too high.
        (FAULT, {"sustained_fault_a": 12.0, "protected": False}, "F1 opens for certain only above 13.5 A"),
        (
            replace(FAULT, case="run / pooled"),
            {"sustained_fault_a": 60.0, "protected": False, "sustained_fault_case": "run / pooled"},
            "60.0 A can stay on it in run / pooled, where F1 is off and PS1 stays just below tripping",
        ),
        (
            replace(FAULT, held_by=None),
            {"sustained_fault_a": 60.0, "protected": False},
            "60.0 A can stay on it, no device stands in the way",
        ),
        (FAULT, {"sustained_fault_a": None, "protected": None}, "whether it is protected is not determined"),
        (FAULT, {"sustained_fault_a": 9.0, "protected": True, "protected_by": ("CH1",)}, "protected by CH1"),
        (FAULT, {"sustained_fault_a": 13.5, "protected": True, "protected_by": ("F1",)}, "protected"),
        (
            FAULT,
            {"sustained_fault_a": 13.5, "protected": True, "protected_by": ("F1", "CH1")},
            "protected, by CH1 as well",
        ),
        # Neither is enough by itself: 19 A come to it, more than passes F1.
        (
            FAULT,
            {"sustained_fault_a": 19.0, "protected": True, "protected_by": ("F1", "CH1")},
            "protected together with CH1",
        ),
        # 24 A on 20 A: 1.2 times, by the band of 1.45.
        (
            FAULT,
            {"sustained_fault_a": 24.0, "protected": True, "protected_by": ("F1",)},
            "within the overload band: 1.2 times its allowed current may stay",
        ),
    ],
)
def test_the_reason_is_the_one_that_holds(fault: FaultRow, wire: dict[str, object], words: str) -> None:
    results = one(FUSE, fault)
    results = replace(results, conductors=(replace(results.conductors[0], **wire),))  # type: ignore[arg-type]
    assert words in said(results)
    if wire["protected"] is not True:
        assert not protects(results)["F1"] and "W1: " in otherwise(results)["F1"]


def test_a_part_of_what_a_device_lets_flow_is_said_as_such() -> None:
    """Two wires side by side get half of the 13.5 A each: 8 A may hold on one that is allowed 8 A."""
    results = one(FUSE, sustained_fault_a=6.75, protected=True)
    row = replace(results.conductors[0], allowed_a=8.0, protected_by=("F1",))
    assert "of what the device lets flow it gets at most 6.75 A" in said(replace(results, conductors=(row,)))


@pytest.mark.parametrize(("allowed_a", "by_it"), [(14.0, True), (13.0, False)])
def test_a_splice_is_protected_by_a_device_that_opens_below_its_rating(allowed_a: float, by_it: bool) -> None:
    """Its row names no device. The fuse opens above 13.5 A; at most 5 A come to the splice either way."""
    base = one(replace(FUSE, protects=("S1",)), sustained_fault_a=9.0, protected=True)
    splice = replace(sample().splices[0], id="S1", allowed_a=allowed_a, sustained_fault_a=5.0, protected=True)
    (found,) = guarded(replace(base, splices=(splice,)))["F1"]
    assert (found.protected, found.by_it) == (True, by_it)
    assert found.words == "protected: a fault holds at most 5.00 A on it"


def test_a_device_set_too_high_leads_to_the_findings_about_it() -> None:
    """The rules speak of the part that is unprotected; the device that is the cause may have no finding itself."""
    high = replace(FUSE, setting_low_a=5.0, setting_high_a=8.0)
    base = one(high, sustained_fault_a=60.0, protected=False)
    assert found_elsewhere(base) == {"F1": "no finding of its own; those on W1 are about what it lets flow"}
    own = replace(base, devices=(replace(high, findings=("fuse-above-wire",)),))
    inside = replace(base, devices=(replace(high, setting_high_a=12.0),))
    assert found_elsewhere(own) == found_elsewhere(inside) == {}


def test_a_channel_that_is_never_active_is_said() -> None:
    off = replace(FUSE, setting_a=None, tripping_a=None, settings_a={"run": None})
    assert "F1 is not active" in said(one(off, sustained_fault_a=60.0, protected=False))


def of_the_demo(demo_results: Callable[[str], Results]) -> Iterator[Results]:
    for version in ("sound", "flawed", "cart_sound", "cart_flawed"):
        yield demo_results(version)


def test_row_and_device_never_contradict_each_other_on_the_demo(demo_results: Callable[[str], Results]) -> None:
    """Whatever a device is said to protect, the part's own row says protected, and by this device."""
    wires = unprotected = 0
    for results in of_the_demo(demo_results):
        rows = {row.id: row for row in (*results.conductors, *results.contacts)}
        junctions = {row.id: row for row in (*results.splices, *results.switches)}
        why = why_unprotected(results)
        for device in results.devices:
            for found in guarded(results)[device.id]:
                row = rows.get(found.part)
                assert found.protected == (row or junctions[found.part]).protected
                assert found.words.startswith("NOT protected: ") == (found.protected is False)
                if found.by_it and row is not None and row.protected_by:
                    assert device.id in row.protected_by
                wires += 1
            assert set(protects(results)[device.id]) <= set(device.protects)
        for row in rows.values():
            if row.protected is False:
                assert why[row.id]
                unprotected += 1
            else:
                assert row.id not in why
    assert wires > 300 and unprotected > 30


def test_the_workbook_says_the_same(demo_results: Callable[[str], Results]) -> None:
    """The review sheet of devices lists what a device protects, the full one the rest with the reasons."""
    results = demo_results("flawed")
    workbook = openpyxl.load_workbook(io.BytesIO(book.render(results)))
    heads = {str(cell.value): cell.column for cell in workbook["Devices"][HEADER_ROW]}
    in_full = {str(cell.value): cell.column for cell in workbook["Devices in full"][HEADER_ROW]}
    said, kept = otherwise(results), protects(results)
    for row, device in enumerate(results.devices, FIRST_ROW):
        assert workbook["Devices"].cell(row, heads["Protects"]).value == (", ".join(kept[device.id]) or None)
        told = workbook["Devices in full"].cell(row, in_full["Behind it, but not protected by it"]).value
        assert (told or "") == said[device.id]
    sheet = workbook["Conductors in full"]
    why = next(cell.column for cell in sheet[HEADER_ROW] if cell.value == "Why not protected")
    reasons = why_unprotected(results)
    for row, wire in enumerate(results.conductors, FIRST_ROW):
        assert sheet.cell(row, why).value == reasons.get(wire.id)
        assert (wire.id in reasons) == (wire.protected is False)
