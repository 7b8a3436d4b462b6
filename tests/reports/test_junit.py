"""JUnit XML against the common schema; a check that was not made never counts as passed."""

import io
from dataclasses import replace
from pathlib import Path

import pytest
import xmlschema
from defusedxml import ElementTree
from observatory_sample import HOSTILE, hostile, sample

from loadloom.graph.model.results import DeviceRow
from loadloom.reports import junit
from loadloom.reports.junit import _no_setting_range
from loadloom.reports.workbook.devices import _setting_range

SCHEMA = xmlschema.XMLSchema(str(Path(__file__).parent / "schemas" / "jenkins-junit.xsd"))


def case(content: bytes, rule: str, name: str) -> object:
    root = ElementTree.fromstring(content)
    return root.find(f"testsuite[@name='{rule}']/testcase[@name='{name}']")


def test_holds_to_the_schema_and_counts_add_up() -> None:
    content = junit.render(sample())
    SCHEMA.validate(io.BytesIO(content))
    root = ElementTree.fromstring(content)
    assert int(root.get("tests")) == len(root.findall("testsuite/testcase"))
    open_ones = {(f.rule, f.subject.id) for f in sample().findings if f.accepted is None}
    assert int(root.get("failures")) == len(open_ones) == len(root.findall("testsuite/testcase/failure"))


def test_the_schema_can_refuse() -> None:
    with pytest.raises(xmlschema.XMLSchemaValidationError):
        SCHEMA.validate(io.BytesIO(b"<testsuites><testcase/></testsuites>"))


def test_passes_show() -> None:
    passed = case(junit.render(sample()), "wire-overload", "W7")
    assert passed is not None
    assert list(passed) == []  # type: ignore[call-overload]


def test_what_was_not_judged_is_skipped_and_never_passed() -> None:
    content = junit.render(sample())
    unjudged = {
        "W11": ("wire-overload", "path-unprotected"),
        "W13": ("wire-overload",),
        "X1.7": ("contact-overload",),
        "H1": ("voltage-low",),
        "R1": ("no-setting-range",),
    }
    for name, rule in ((name, rule) for name, rules in unjudged.items() for rule in rules):
        found = case(content, rule, name)
        assert found is not None, name
        assert [child.tag for child in found] == ["skipped"], name  # type: ignore[attr-defined]


def test_a_finding_fails_its_case_and_an_accepted_one_says_who_accepted_it() -> None:
    content = junit.render(sample())
    failed = case(content, "wire-overload", "W14")
    assert [child.tag for child in failed] == ["failure"]  # type: ignore[attr-defined]
    accepted = case(content, "uneven-sharing", "X1.3")
    assert [child.tag for child in accepted] == ["system-out"]  # type: ignore[attr-defined]
    assert "A. Example" in accepted[0].text  # type: ignore[index]


def test_an_overload_that_the_rows_show_is_not_lost_without_findings() -> None:
    """Every rule has at least one case, so that a silent rule can't be told from a missing one."""
    root = ElementTree.fromstring(junit.render(replace(sample(), findings=())))
    assert all(int(suite.get("tests")) >= 1 for suite in root.findall("testsuite"))


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_holds_to_the_schema(text: str) -> None:
    SCHEMA.validate(io.BytesIO(junit.render(hostile(text))))


@pytest.mark.parametrize(
    ("low_a", "high_a", "note", "says"),
    [
        (4.0, None, "not determined: too much hangs together", "not determined"),
        (4.0, None, "however high it is set, other devices keep what it feeds", "inside"),
        (9.0, None, "however high it is set, other devices keep what it feeds", "▲ too low"),
        (None, None, "", "not determined"),
        (4.0, 6.0, "", "inside"),
        (7.0, 6.0, "", "▲ NONE"),
        (4.0, 4.5, "whatever it is set to, W1 is over its allowed current", "▲ too high"),
    ],
)
def test_a_setting_range_without_an_upper_end_says_why(
    low_a: float | None, high_a: float | None, note: str, says: str
) -> None:
    """What was not found is not determined everywhere; what has no upper end is a range all the same."""
    row = DeviceRow(
        id="F1",
        kind="fuse",
        case=None,
        setting_a=5.0,
        current_a=1.0,
        setting_low_a=low_a,
        setting_high_a=high_a,
        setting_range_note=note,
    )
    assert _setting_range(row) == says
    assert (_no_setting_range(row) is not None) is (says == "not determined")
