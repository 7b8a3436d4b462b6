"""The sentence that stands beside the verdict in every report: what the word means for this harness."""

from __future__ import annotations

from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.results import Results
from loadloom.graph.rules import nothing_judged

_MEANING = {
    Verdict.PASS: "every conductor and contact was judged, and no error is open",
    Verdict.FAIL: "at least one error is open",
    Verdict.INCOMPLETE: "no error is open, but something was not determined or rests on an assumption",
}


def meaning(results: Results) -> str:
    """What the verdict means, without a full stop; names what is missing where nothing was judged."""
    for finding in results.findings:
        if finding.rule == nothing_judged.RULE.name and finding.subject.id == nothing_judged.WHOLE:
            nothing = f"{finding.message[:1].lower()}{finding.message[1:].removesuffix('.')}"
            return f"{_MEANING[Verdict.FAIL]}, and {nothing}" if results.verdict is Verdict.FAIL else nothing
    return _MEANING[results.verdict]
