"""The committed rule reference is the one that the rules' docstrings make."""

from pathlib import Path

import pytest

from loadloom.graph.verdict.registry import all_rules
from loadloom.plugin.cli import main
from loadloom.reports.rule_reference import markdown, sections

PAGE = Path(__file__).resolve().parents[2] / "graph" / "rules" / "README.md"


def test_the_page_is_up_to_date() -> None:
    assert PAGE.read_text(encoding="utf-8") == markdown(), "run: loadloom rules > graph/rules/README.md"


def test_one_rule_by_name_and_a_name_that_is_none(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "dead-end"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("## dead-end\n") and told.count("## ") == 1 and told in markdown()
    assert main(["rules", "deadend"]) == 2
    assert "no rule “deadend” (the nearest is dead-end)" in capsys.readouterr().err


def test_every_rule_says_what_passes_and_what_fails() -> None:
    lacking = {
        name: missing
        for name, rule in all_rules().items()
        if (missing := {"Formula", "Source", "Passes", "Fails"} - set(sections(rule.documentation)))
    }
    assert lacking == {}
