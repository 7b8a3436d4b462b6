"""Annotations, the terminal's table and the rule reference."""

import io
import re
from dataclasses import fields, replace

import openpyxl
import pytest
from observatory_sample import HOSTILE, hostile, sample
from rich.console import Console

from loadloom.graph.model.findings import Rule, Severity
from loadloom.graph.model.results import Results
from loadloom.graph.verdict.registry import RegisteredRule, all_rules
from loadloom.reports import annotations, rule_reference, terminal
from loadloom.reports.workbook.places import ASSUMPTIONS
from loadloom.reports.writers import WRITERS


def test_one_annotation_for_each_finding_that_is_not_accepted() -> None:
    results = sample()
    lines = annotations.render(results).splitlines()
    findings = sum(1 for f in results.findings if f.accepted is None)
    assert len(lines) == findings + len(results.assumptions)
    assert all(line.startswith("::notice title=Assumption::") for line in lines[findings:])
    assert lines[0].startswith("::error file=observatory.kicad_sch,line=412,title=")
    assert all(re.match(r"::(error|warning|notice) [^:]+::", line) for line in lines)


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_makes_no_further_annotation(text: str) -> None:
    evil = hostile(text)
    lines = annotations.render(evil).splitlines()
    findings = 1 + sum(1 for f in sample().findings[1:] if f.accepted is None)
    assert len(lines) == findings + len(evil.assumptions)
    assert all(re.match(r"::(error|warning|notice) [^:]+::", line) for line in lines)


def test_the_terminal_says_verdict_counts_findings_and_worst_parts() -> None:
    shown = terminal.text(sample())
    assert shown.splitlines()[0].startswith("FAIL  Observatory dome, power harness (invented) rev C")
    assert "4 errors, 2 warnings, 1 note, 1 accepted" in shown
    assert "ERROR path-unprotected  W5" in shown
    assert "→ Put a device of at most 5 A" in shown
    assert "uneven-sharing" not in shown
    for head in ("Conductors, worst first", "Contacts, worst first", "Outputs"):
        assert head in shown


@pytest.mark.parametrize("width", [40, 60, 80, 120, 200])
def test_the_terminal_keeps_to_its_width(width: int) -> None:
    assert max(len(line) for line in terminal.text(sample(), width).splitlines()) <= width


def test_the_worst_part_stands_first() -> None:
    lines = terminal.text(sample()).splitlines()
    first = lines[
        lines.index(next(line for line in lines if line.startswith("Conductors, worst"))) + 3
    ]  # a head of two lines
    results = sample()
    worst = max(
        (r for r in results.conductors if r.allowed_a),
        key=lambda r: max(
            r.utilisation or 0, (r.sustained_fault_a or 0) / (r.allowed_a or 1) if r.protected is False else 0
        ),
    )
    assert first.split()[0] == worst.id


def test_what_is_assumed_is_counted_and_a_default_basis_marked() -> None:
    stated = {**sample().settings, "basis": "vehicle", "basis_stated": True}
    shown = " ".join(terminal.text(replace(sample(), settings=stated, assumptions=("One.",))).split())
    assert "basis vehicle; 1 assumption." in shown
    default = {**stated, "basis_stated": False}
    shown = " ".join(terminal.text(replace(sample(), settings=default, assumptions=("One.", "Two."))).split())
    assert "basis vehicle (assumed); 2 assumptions." in shown


def test_a_long_sentence_is_shown_whole_and_a_flood_is_not() -> None:
    first = replace(sample().findings[0], message=f"{'word ' * 120}end.")
    assert "end." in terminal.text(replace(sample(), findings=(first,)))
    flood = replace(first, message="word " * 2000)
    assert len(terminal.text(replace(sample(), findings=(flood,)))) < 5000


def test_colour_only_on_a_terminal() -> None:
    assert "\x1b" not in terminal.text(sample())
    stream = io.StringIO()
    terminal.print_results(sample(), Console(file=stream, force_terminal=True, color_system="standard", width=80))
    assert "\x1b[1;31m" in stream.getvalue()


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_does_not_steer_the_terminal(text: str) -> None:
    shown = terminal.text(hostile(text))
    assert not [c for c in shown if ord(c) < 32 and c != "\n"]
    assert len(shown) < 20_000


def test_an_empty_harness_is_no_crash() -> None:
    lists = {f.name: () for f in fields(Results) if isinstance(getattr(sample(), f.name), tuple)}
    assert "FAIL" in terminal.text(replace(sample(), **lists))  # type: ignore[arg-type]


def test_the_decimal_sign_is_a_setting() -> None:
    shown = terminal.text(replace(sample(), settings={**sample().settings, "decimal_sign": ","}))
    assert "61,2" in shown


def test_every_rule_has_its_section() -> None:
    reference = rule_reference.markdown()
    for name, entry in all_rules().items():
        assert f"\n## {name}\n" in reference
        parts = rule_reference.sections(entry.documentation)
        assert parts["Meaning"]
        assert {"Formula", "Source", "Passes", "Fails"} <= set(parts), name


def test_a_rule_page_is_made_of_its_docstring() -> None:
    rule = Rule("too-warm", Severity.WARNING, "Too warm", incomplete=True)
    documentation = "It is too warm.\n\nFormula: t > 40.\n\nSource: nobody.\n\nPasses: ice.\n\nFails: tea.\n"
    page = rule_reference.markdown({"too-warm": RegisteredRule(rule, documentation, None)})
    assert "*Too warm* – warning; the verdict is at best incomplete" in page
    assert "**Formula.** t > 40." in page
    assert "**Fails.** tea." in page


@pytest.mark.parametrize(
    "suffix",
    [".json", ".html", ".xlsx", ".sarif", ".junit.xml", ".annotations.txt", ".assumptions.csv", "terminal"],
)
def test_no_name_of_a_long_assumption_is_left_out(suffix: str) -> None:
    """Of 1,500 names, too many for a page or a line of a terminal, the last is there as well, in every format."""
    names = [f"W{n}" for n in range(1, 3000, 2)]
    sentence = f"{', '.join(names)}: no Bundle is stated: each is rated with no other beside it."
    results = replace(sample(), assumptions=(sentence,))
    if suffix == "terminal":
        text = terminal.text(results)
    elif suffix == ".xlsx":
        sheet = openpyxl.load_workbook(io.BytesIO(WRITERS[suffix](results)))[ASSUMPTIONS]
        text = "\n".join(str(cell.value) for row in sheet.iter_rows() for cell in row)
    else:
        text = WRITERS[suffix](results).decode()
    assert set(names) <= set(re.findall(r"W[0-9]+", text))
    assert "no Bundle is stated" in " ".join(text.split())
