"""The sentence that stands beside the verdict in every report: what the word means for this harness."""

from __future__ import annotations

from loadloom.graph.model.findings import Severity, Verdict
from loadloom.graph.model.results import Results
from loadloom.graph.rules import nothing_judged

_MEANING = {
    Verdict.PASS: "every conductor and contact was judged, and no error is open",
    Verdict.INCOMPLETE: "no error is open, but something was not determined or rests on an assumption",
}


def meaning(results: Results) -> str:
    """What the verdict means, without a full stop; names what is missing where nothing was judged."""
    errors = results.count(Severity.ERROR)
    failed = f"{errors} {'error is' if errors == 1 else 'errors are'} open"
    for finding in results.findings:
        if finding.rule == nothing_judged.RULE.name and finding.subject.id == nothing_judged.WHOLE:
            nothing = f"{finding.message[:1].lower()}{finding.message[1:].removesuffix('.')}"
            return f"{failed}, and {nothing}" if results.verdict is Verdict.FAIL else nothing
    return failed if results.verdict is Verdict.FAIL else _MEANING[results.verdict]
