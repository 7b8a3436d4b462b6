"""The rule reference: one page on every rule, made from the rules' own docstrings.

``python -m loadloom.reports.rule_reference`` prints it as Markdown.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Iterator, Mapping

from loadloom.graph.model.findings import Severity
from loadloom.graph.model.results import Results
from loadloom.graph.verdict.registry import RegisteredRule, all_rules

HEADS = ("Formula", "Source", "Passes", "Fails")


def sections(documentation: str) -> dict[str, str]:
    """A rule's docstring as its parts: ``Meaning``, then the paragraphs headed by ``HEADS``, then ``More``."""
    parts: dict[str, list[str]] = {"Meaning": []}
    current = "Meaning"
    for paragraph in documentation.strip().split("\n\n"):
        head, colon, rest = paragraph.partition(":")
        if colon and head.strip() in HEADS:
            current = head.strip()
            paragraph = rest.lstrip(" ")
        elif current != "Meaning" and not paragraph.startswith((" ", "\t")):
            current = "More"
        parts.setdefault(current, []).append(paragraph.strip("\n"))
    return {name: "\n\n".join(texts).strip() for name, texts in parts.items()}


def meanings(results: Results) -> Iterator[dict[str, str]]:
    """What each rule that found something means: its name, title, meaning, formula and source."""
    known = all_rules()
    for name in dict.fromkeys(finding.rule for finding in results.findings):
        if name in known:
            parts = sections(known[name].documentation)
            said = {key.lower(): _plain(parts.get(key, "")) for key in ("Meaning", "Formula", "Source")}
            yield {"rule": name, "title": known[name].rule.title, **said}


def _plain(text: str) -> str:
    """A text of the reference as one line for a cell: names that Markdown sets apart stand in quotation marks."""
    return re.sub(r"``(.+?)``|`(.+?)`", lambda mark: f"“{mark[1] or mark[2]}”", " ".join(text.split()))


def markdown(rules: Mapping[str, RegisteredRule] | None = None) -> str:
    """The reference as Markdown: a table of contents by severity, then a section for each rule by name."""
    listed = all_rules() if rules is None else rules
    lines = [
        "# Rules",
        "",
        "Made from the rules' own documentation; each rule is one module in `graph/rules`. Severity is the default "
        "and can be set in the settings (`[severity]`).",
        "",
    ]
    for severity in Severity:
        named = [r for r in listed.values() if r.rule.severity is severity]
        if named:
            lines += [f"**{severity.capitalize()}**: " + _links(named), ""]
    return "\n".join(lines) + "\n" + "\n".join(page(entry) for entry in listed.values())


def page(entry: RegisteredRule) -> str:
    """What the reference says of one rule, as Markdown."""
    lines = [f"## {entry.rule.name}", "", f"*{entry.rule.title}* – {entry.rule.severity}"]
    if entry.rule.incomplete:
        lines[-1] += "; the verdict is at best incomplete"
    for head, text in sections(entry.documentation).items():
        lines += ["", text if head in ("Meaning", "More") else f"**{head}.** {text}"]
    return "\n".join(lines) + "\n"


def _links(rules: Iterable[RegisteredRule]) -> str:
    return ", ".join(f"[{r.rule.name}](#{r.rule.name})" for r in rules)


if __name__ == "__main__":
    sys.stdout.reconfigure(encoding="utf-8")  # type: ignore[union-attr]
    sys.stdout.write(markdown())
