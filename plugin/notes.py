"""What building a harness finds out along the way: findings and assumptions, each once, in order."""

from __future__ import annotations

from collections.abc import Iterable

from loadloom.graph.model.findings import Finding, Subject
from loadloom.plugin.drawing import Symbol


class Notes:
    """Collects findings and assumptions; the same one twice counts once."""

    def __init__(self, findings: Iterable[Finding] = ()) -> None:
        self._findings = dict.fromkeys(findings)
        self._assumptions: dict[str, None] = {}

    def find(self, finding: Finding) -> None:
        """Add a finding."""
        self._findings[finding] = None

    def assume(self, sentence: str) -> None:
        """Add an assumption, a whole sentence."""
        self._assumptions[sentence] = None

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The findings so far, in order of first mention."""
        return tuple(self._findings)

    @property
    def assumptions(self) -> tuple[str, ...]:
        """The assumptions so far, in order of first mention."""
        return tuple(self._assumptions)


def subject_of(
    symbol: Symbol, *, id: str | None = None, pin: str | None = None, field: str | None = None
) -> Subject:
    """What a finding about a symbol, one of its pins or fields points at."""
    return Subject(
        id=id or symbol.reference,
        reference=symbol.reference,
        pin=pin,
        field=field,
        sheet_path=symbol.sheet_path,
        uuid=symbol.uuids[0] if symbol.uuids else None,
        file=symbol.file,
        line=symbol.field_lines.get(field, symbol.line) if field else symbol.line,
    )
