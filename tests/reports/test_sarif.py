"""SARIF against the OASIS schema; fingerprints that stay."""

import hashlib
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from observatory_sample import HOSTILE, hostile, sample

from loadloom.graph.model.findings import Finding, Severity, Subject
from loadloom.reports import sarif

SCHEMA = json.loads((Path(__file__).parent / "schemas" / "sarif-schema-2.1.0.json").read_text(encoding="utf-8"))


def run_of(content: bytes) -> dict[str, Any]:
    document = json.loads(content)
    jsonschema.Draft4Validator(SCHEMA, format_checker=jsonschema.FormatChecker()).validate(document)
    run: dict[str, Any] = document["runs"][0]
    return run


def test_holds_to_the_schema_with_one_result_for_each_finding() -> None:
    results = sample()
    run = run_of(sarif.render(results))
    assert [r["ruleId"] for r in run["results"]] == [f.rule for f in results.findings]
    for result in run["results"]:
        assert run["tool"]["driver"]["rules"][result["ruleIndex"]]["id"] == result["ruleId"]
    first = run["results"][0]["locations"][0]["physicalLocation"]
    assert first == {"artifactLocation": {"uri": "observatory.kicad_sch"}, "region": {"startLine": 412}}
    assert [bool(r.get("suppressions")) for r in run["results"]] == [
        f.accepted is not None for f in results.findings
    ]


def test_the_schema_can_refuse() -> None:
    document = json.loads(sarif.render(sample()))
    document["runs"][0]["results"][0]["level"] = "grave"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft4Validator(SCHEMA).validate(document)


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_holds_to_the_schema(text: str) -> None:
    run_of(sarif.render(hostile(text)))


def test_fingerprints_outlive_numbers_and_order() -> None:
    results = sample()
    moved = tuple(
        replace(f, message=f.message + " now", value=(f.value or 0.0) + 1, subject=replace(f.subject, line=7))
        for f in reversed(results.findings)
    )

    def prints(content: bytes) -> list[str]:
        return [r["partialFingerprints"]["loadloomFinding/v1"] for r in run_of(content)["results"]]

    before, after = prints(sarif.render(results)), prints(sarif.render(replace(results, findings=moved)))
    assert after == before[::-1]
    assert len(set(before)) == len(before)


def test_fingerprints_are_made_as_stated() -> None:
    finding = Finding("wire-overload", Severity.ERROR, Subject("W7"), "", "", case="nominal")
    # sha256 of the rule, the subject, its field, the case and the occurrence, parted by the unit separator
    expected = hashlib.sha256(b"wire-overload\x1fW7\x1f\x1fnominal\x1f0").hexdigest()
    assert sarif.fingerprint(finding) == expected


@pytest.mark.parametrize(
    ("file", "uri"),
    [
        ("dome power.kicad_sch", "dome%20power.kicad_sch"),
        ("sub/a#b.kicad_sch", "sub/a%23b.kicad_sch"),
        ("/home/x/a.kicad_sch", "file:///home/x/a.kicad_sch"),
        ("C:\\x\\a.kicad_sch", "file:///C%3A/x/a.kicad_sch"),
    ],
)
def test_paths_become_uris(file: str, uri: str) -> None:
    results = sample()
    changed = replace(results, provenance=replace(results.provenance, file=file))
    assert run_of(sarif.render(changed))["artifacts"][0]["location"]["uri"] == uri
