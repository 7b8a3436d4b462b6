"""Findings: what the tool has to say about a harness, and the rules they come from."""

from __future__ import annotations

import datetime
import enum
import math
from dataclasses import dataclass

HEAT = "A²·s"
"""The unit of a current's heat over a time."""


class Severity(enum.StrEnum):
    """How grave a finding is."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"

    @property
    def rank(self) -> int:
        """0 for the gravest."""
        return list(Severity).index(self)


@dataclass(frozen=True, slots=True)
class Subject:
    """What a finding is about, so that it can be found again on the drawing.

    ``id`` is the id used in results (``W7``, ``C2.3``, ``P4.6``, a net's name, ...). ``field`` is the drawing
    field concerned, as written there. ``sheet_path`` is the human path (``/Dome/``), ``uuid`` KiCad's own.
    """

    id: str
    reference: str | None = None
    pin: str | None = None
    field: str | None = None
    sheet_path: str | None = None
    uuid: str | None = None
    file: str | None = None
    line: int | None = None


@dataclass(frozen=True, slots=True)
class Acceptance:
    """A finding accepted by somebody, with the reason; stays visible in every report.

    ``value`` is the value that was accepted: a worse one is not covered, nor one in another ``unit`` (None = not
    stated: the one unit that findings of the rule have). ``clause`` stands in the ``source`` of the findings that
    are accepted (None = not stated: the one clause that the part does not keep).
    """

    rule: str
    subject: str
    reason: str
    by: str
    date: datetime.date
    until: datetime.date | None = None
    value: float | None = None
    unit: str | None = None
    clause: str | None = None

    def not_yet(self, today: datetime.date) -> bool:
        """Whether it is of a day to come; tomorrow it may be today where it was written, further east."""
        return self.date - today > datetime.timedelta(days=1)

    def names_clause_of(self, finding: Finding) -> bool:
        """Whether its clause is that of a finding of the same rule and subject, however it is spaced and cased."""
        own, of = ("".join((text or "").split()).casefold() for text in (self.clause, finding.source))
        return own in of


@dataclass(frozen=True, slots=True)
class Assigned:
    """Who closes an open point, by when, and how far it is: of one part, or of one ``rule`` on it.

    It closes nothing: a point is closed by a change of the drawing or by an acceptance.
    """

    part: str
    owner: str = ""
    due: datetime.date | None = None
    state: str = ""
    rule: str | None = None


class Quantity(enum.StrEnum):
    """What a remedy asks to be changed on a part."""

    ALLOWED_CURRENT = "allowed current"
    TRIPPING_CURRENT = "tripping current"
    SETTING = "setting"


class End(enum.StrEnum):
    """Which side of a target is the good one."""

    AT_LEAST = "at least"
    AT_MOST = "at most"


@dataclass(frozen=True, slots=True)
class Target:
    """The figure of a remedy: ``quantity`` of the part ``id`` has to be at least, or at most, so much in ``unit``.

    ``value`` is as the remedy says it, rounded to the safe side.
    """

    id: str
    quantity: Quantity
    end: End
    value: float
    unit: str = "A"


@dataclass(frozen=True, slots=True)
class Inactive:
    """A device in the feed of what was found that does not act, and the load case of it (None: it never acts)."""

    device: str
    case: str | None


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong, doubtful or assumed.

    ``message`` is one sentence with the numbers, ``remedy`` what would mend it. ``value`` and ``limit`` are in
    ``unit`` (SI; dimensionless is ``"1"``). ``case`` is the id of the case it was found in. ``source`` is the
    clause or publication it rests on, where there is one. ``target`` is the figure of the remedy that is named
    first, where it has one; ``inactive`` the device through which it comes, where that one does not act.
    ``why`` and ``change`` are for a first page: one sentence with the numbers that decide, and the change to make
    first; empty where ``message`` and ``remedy`` are as short (``in_short`` and ``first_change`` give either).
    """

    rule: str
    severity: Severity
    subject: Subject
    message: str
    remedy: str
    case: str | None = None
    value: float | None = None
    limit: float | None = None
    unit: str | None = None
    source: str | None = None
    accepted: Acceptance | None = None
    target: Target | None = None
    inactive: Inactive | None = None
    why: str = ""
    change: str = ""

    @property
    def in_short(self) -> str:
        """What is wrong, as short as it is known."""
        return self.why or self.message

    @property
    def first_change(self) -> str:
        """What to change first, as short as it is known."""
        return self.change or self.remedy

    @property
    def times_over(self) -> float:
        """How many times ``value`` is beyond ``limit``, on whichever side; 0 where it states no two numbers.

        Heat counts by its square root, which is how many times the current would be too high: so findings of
        current and of heat stand in one order, that of the worst parts.
        """
        value, limit = self.value, self.limit
        if value is None or limit is None or not value > 0.0 or not limit > 0.0:
            return 0.0
        times = max(value / limit, limit / value)
        return math.sqrt(times) if self.unit == HEAT else times


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule: its name in words, its default severity and the title used in reports.

    ``incomplete`` says that a finding of this rule means that something was not determined.
    """

    name: str
    severity: Severity
    title: str
    incomplete: bool = False

    def finding(
        self,
        subject: Subject,
        message: str,
        remedy: str,
        *,
        case: str | None = None,
        value: float | None = None,
        limit: float | None = None,
        unit: str | None = None,
        source: str | None = None,
        target: Target | None = None,
        inactive: Inactive | None = None,
        why: str = "",
        change: str = "",
    ) -> Finding:
        """Make a finding of this rule at its default severity."""
        return Finding(
            self.name,
            self.severity,
            subject,
            message,
            remedy,
            case,
            value,
            limit,
            unit,
            source,
            target=target,
            inactive=inactive,
            why=why,
            change=change,
        )


class Verdict(enum.StrEnum):
    """The answer for the whole harness."""

    PASS = "pass"
    FAIL = "fail"
    INCOMPLETE = "incomplete"
