"""The results file: stable names, schema, nothing but finite numbers, and back again."""

import json
import math
import re
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from observatory_sample import HOSTILE, hostile, sample

from loadloom.reports import results_json, results_schema
from loadloom.reports.errors import UnreadableResultsError
from loadloom.reports.renamed_keys import KEYS

# The names that the results file promises; never remove one.
PROMISED = {
    "outputs": "id case voltage_v current_a limit_a power_w utilisation",
    "supplies": "id case power_w allowed_w utilisation input_w heat_w fan_off",
    "devices": "id case kind setting_a current_a setting_low_a setting_high_a",
    "conductors": "id case current_a allowed_a utilisation resistance_ohm drop_v loss_w sustained_fault_a "
    "sustained_fault_case sustained_fault combined_overload_a combined_overload_case protected protected_by "
    "gauge area_mm2 length_m temperature_c",
    "contacts": "id case current_a allowed_a utilisation resistance_ohm drop_v loss_w sustained_fault_a "
    "sustained_fault_case sustained_fault combined_overload_a combined_overload_case protected protected_by",
    "splices": "id case current_a allowed_a utilisation",
    "loads": "id case voltage_v current_a power_w minimum_v",
    "open_circuits": "opened worst worst_current_a worst_allowed_a loses_supply",
    "faults": "id at to fault_current_a fault_resistance_ohm fault_power_w held_by worst worst_current_a "
    "worst_allowed_a",
    "findings": "rule severity subject case message value limit unit remedy accepted",
}


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads(results_json.render(sample()))
    return loaded


def test_promised_names_are_there(document: dict[str, Any]) -> None:
    assert document["format"] == "loadloom-results"
    for name in ("format_version", "verdict", "settings", "cases", "residual_a", "assumptions"):
        assert name in document
    assert {"file", "sha256", "title", "revision"} <= set(document["input"])
    for table, names in PROMISED.items():
        for row in document[table]:
            assert set(names.split()) <= set(row), table


def test_a_finding_names_its_subject_by_id(document: dict[str, Any]) -> None:
    finding = next(f for f in document["findings"] if f["rule"] == "uneven-sharing")
    assert finding["subject"] == "X1.3"
    assert finding["where"]["reference"] == "X1"
    assert finding["where"]["pin"] == "3"
    assert finding["accepted"]["by"] == "A. Example"


def test_published_schema_is_the_one_made_from_the_rows() -> None:
    published = files("loadloom.reports").joinpath("loadloom-results.schema.json").read_text(encoding="utf-8")
    assert published == results_schema.text(), (
        "run python -m loadloom.reports.results_schema and publish what it prints"
    )


def test_published_schema_is_a_schema_with_a_version_policy() -> None:
    jsonschema.Draft202012Validator.check_schema(results_schema.schema())
    assert "Version policy" in results_schema.schema()["description"]


def strict() -> jsonschema.Draft202012Validator:
    """The schema with every object closed: what is written has no key that the schema does not know."""
    schema = json.loads(results_schema.text())

    def close(node: Any) -> None:
        if isinstance(node, dict):
            if "properties" in node:
                node.setdefault("additionalProperties", False)
            for child in node.values():
                close(child)

    close(schema)
    return jsonschema.Draft202012Validator(schema, format_checker=jsonschema.FormatChecker())


def test_output_holds_to_the_schema(document: dict[str, Any]) -> None:
    strict().validate(document)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("verdict",), "maybe"),
        (("conductors", 0, "current_a"), "3 A"),
        (("conductors", 0, "gaugee"), "18 AWG"),
        (("findings", 0, "severity"), "fatal"),
        (("residual_a",), -1.0),
        (("format_version",), "3.0"),
    ],
)
def test_the_schema_can_refuse(document: dict[str, Any], path: tuple[str | int, ...], value: object) -> None:
    changed: Any = json.loads(json.dumps(document))
    place = changed
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    with pytest.raises(jsonschema.ValidationError):
        strict().validate(changed)


def test_what_is_not_finite_is_null() -> None:
    results = sample()
    rows = (replace(results.conductors[0], current_a=math.nan, sustained_fault_a=math.inf), *results.conductors[1:])
    written = results_json.render(replace(results, conductors=rows, residual_a=math.nan))
    row = json.loads(written, parse_constant=lambda name: pytest.fail(f"{name} was written"))["conductors"][0]
    assert row["current_a"] is None
    assert row["sustained_fault_a"] is None


def test_same_results_same_bytes() -> None:
    assert results_json.render(sample()) == results_json.render(sample())


def test_reads_back_what_it_wrote(tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    path.write_bytes(results_json.render(sample()))
    assert results_json.read_results(path) == sample()


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_comes_through_as_data(text: str, tmp_path: Path) -> None:
    content = results_json.render(hostile(text))
    assert not re.search("[\u202a-\u202e\u2066-\u2069\u200f]", content.decode("utf-8"))
    document = json.loads(content)
    strict().validate(document)
    assert document["conductors"][0]["id"] == text.encode("utf-16-le", "surrogatepass").decode(
        "utf-16-le", "replace"
    )
    (tmp_path / "x.json").write_bytes(content)
    assert results_json.render(results_json.read_results(tmp_path / "x.json")) == content


@pytest.mark.parametrize(
    "content",
    [b"", b"{", b"[]", b"{}", b"\x00\xff", b'{"format": "other"}', b"[" * 200_000,
     b'{"format": "loadloom-results", "format_version": "9.0"}',
     b'{"format": "loadloom-results", "format_version": "1.0"}',
     b'{"format": "loadloom-results", "format_version": "1.0", "verdict": "maybe"}'],
)  # fmt: skip
def test_a_file_that_is_no_results_file_is_refused_in_one_sentence(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    path.write_bytes(content)
    with pytest.raises(UnreadableResultsError, match=r"x\.json: "):
        results_json.read_results(path)


def test_a_value_of_another_kind_is_refused(tmp_path: Path) -> None:
    document = json.loads(results_json.render(sample()))
    document["conductors"][0]["current_a"] = "12 A"
    path = tmp_path / "x.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(UnreadableResultsError):
        results_json.read_results(path)


def test_a_later_minor_version_is_read(tmp_path: Path) -> None:
    document = json.loads(results_json.render(sample()))
    document["format_version"] = "2.9"
    document["something_new"] = [1]
    document["conductors"][0]["something_new"] = 1
    path = tmp_path / "x.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    assert results_json.read_results(path) == sample()


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UnreadableResultsError):
        results_json.read_results(tmp_path / "none.json")


def test_a_file_of_before_version_2_is_read_with_the_names_of_today(tmp_path: Path) -> None:
    """Every renamed key of a 1.x file is found again, and a rule of that version by its new name."""
    document = json.loads(results_json.render(sample()))
    document["format_version"] = "1.0"
    old_of = {new: old for old, new in KEYS.items()}

    def older(value: Any) -> Any:
        if isinstance(value, dict):
            return {old_of.get(key, key): older(item) for key, item in value.items()}
        return [older(item) for item in value] if isinstance(value, list) else value

    document = older(document)
    document["findings"][0]["rule"] = "exposure-above-rating"
    path = tmp_path / "x.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    read = results_json.read_results(path)
    assert read.conductors == sample().conductors
    assert read.devices == sample().devices
    assert read.open_circuits == sample().open_circuits
    assert read.findings[0].rule == "combined-overload"
