"""Published rule books on protection, as data with edition and clause; ``checks`` has a function for each clause.

=====================  =========================================================================================
``AnalysisSettings.rule_sets`` may name
---------------------  -----------------------------------------------------------------------------------------
``ac43.13-1b``         AC 43.13-1B 11-48 and Table 11-3: device by wire size, by wire rating, by summed loads
``student-racing-ev``  student racing rules 2026, EV.6.6 and T.9.2.2: device rating, parallel conductors, taps that
                       are allowed less than the device before them, conductors of the whole pack, batteries
``school-robotics``    school robotics R622: wire size by fuse or breaker
``small-craft``        33 CFR 183.455, 183.425: distance of the first device, device by table 5, least sizes
``passenger-vessel``   46 CFR 183.380(d): device by the conductor's capacity, or the next size up to 150 %
``loading-75``         75 % rule: continuous load of fuses and breakers
``mil-std-975m-fuses`` MIL-STD-975M: continuous load of fuses by their rating, 25 % to 50 %
``continuous-125``     125 % rule: continuous load of devices and conductors
=====================  =========================================================================================

Values of a set are settings: ``rule_set_values["student-racing-ev.tap_length_m"]``, or ``tap_length_m`` alone for
every set that has it. A rule book adds to the physics and takes nothing off it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

from loadloom.graph.model.settings import AnalysisSettings

FUSES_975M = "mil-std-975m-fuses"


@dataclass(frozen=True, slots=True)
class Clause:
    """One clause of a rule book: the check that judges it, its number, edition, status and what it asks for."""

    rule_set: str
    check: str
    clause: str
    edition: str
    status: str
    text: str

    @property
    def citation(self) -> str:
        """Edition and clause for a finding; says where the wording was not seen."""
        memory = "" if self.status == "VERIFIED" else " (from memory)"
        return f"{self.edition}, {self.clause}{memory}"


@dataclass(frozen=True, slots=True)
class GaugeRow:
    """A row of a table of devices by wire size: greatest breaker and fuse in A, None where there is no value."""

    awg: str
    breaker_a: float | None
    fuse_a: float | None


def known_rule_sets() -> tuple[str, ...]:
    """Names that the settings may use."""
    return tuple(dict.fromkeys([*(c.rule_set for c in _clauses()), *(name for name, _ in _values()), FUSES_975M]))


def known_values() -> tuple[str, ...]:
    """Names of the values that the settings may replace, with and without the set's name before them."""
    return tuple(dict.fromkeys([*(f"{s}.{n}" for s, n in _values()), *(n for _, n in _values())]))


def value_unit(name: str) -> str:
    """The unit of a value, ``m`` or ``1``; ``name`` as ``known_values`` gives it. KeyError for an unknown one."""
    return _units()[name.rpartition(".")[2]]


def chosen_clauses(settings: AnalysisSettings) -> tuple[Clause, ...]:
    """The clauses of the rule sets that the settings name, in the order of the data."""
    return tuple(c for c in _clauses() if c.rule_set in settings.rule_sets)


def value(settings: AnalysisSettings, rule_set: str, name: str) -> float:
    """A set's value in its SI unit: from the settings, else the rule book's own. KeyError for an unknown one."""
    own = settings.rule_set_values
    shipped = _values()[rule_set, name]
    return own.get(f"{rule_set}.{name}", own.get(name, shipped))


def loading_share(settings: AnalysisSettings, rating_a: float, *, fuse: bool) -> tuple[float, str] | None:
    """The least continuous loading that any chosen rule allows a fuse or breaker of a rating, with its source."""
    found: list[tuple[float, str]] = []
    if settings.fuse_loading is not None:
        found.append((settings.fuse_loading, "fuse loading of the settings"))
    for rule_set, source in (
        ("loading-75", "75 % rule: guidance for fuses with UL 248-14 gates, required by no standard"),
        ("continuous-125", "NEC continuous load, 125 % (from memory); check your edition"),
    ):
        if rule_set in settings.rule_sets:
            found.append((value(settings, rule_set, "loading_share"), source))
    if FUSES_975M in settings.rule_sets and fuse:
        # A rating between two rows has the share of the smaller one, which is less.
        share = max((row for row in _fuse_rows() if row[0] <= rating_a * (1 + 1e-9)), default=_fuse_rows()[0])[1]
        found.append((share, "MIL-STD-975M (NASA), 5 Aug 1994, appendix A 3.16, fuses (above 15 A as at 15 A)"))
    return min(found, default=None)


def least_rating_a(settings: AnalysisSettings, current_a: float, *, fuse: bool) -> float:
    """The least rating in A whose allowed loading carries a continuous current; without a rule the current."""
    steps = (0.0, *(row[0] for row in _fuse_rows())) if fuse else (0.0,)
    found = []
    for step in steps:
        loading = loading_share(settings, step, fuse=fuse)
        rating_a = max(step, current_a / (loading[0] if loading else 1.0))
        there = loading_share(settings, rating_a, fuse=fuse)
        if (there[0] if there else 1.0) * rating_a >= current_a * (1 - 1e-9):
            found.append(rating_a)
    return min(found)


@cache
def gauge_table(rule_set: str) -> tuple[GaugeRow, ...]:
    """A rule book's table of devices by wire size, thinnest wire first."""
    return tuple(
        GaugeRow(row["awg"], _number(row["breaker_a"]), _number(row["fuse_a"]))
        for row in _rows("device_by_awg.csv")
        if row["rule_set"] == rule_set
    )


@cache
def _fuse_rows() -> tuple[tuple[float, float], ...]:
    """Ratings in A from which on a share of MIL-STD-975M holds, ascending."""
    return tuple((float(row["from_a"]), float(row["share"])) for row in _rows("fuse_loading.csv"))


@cache
def _clauses() -> tuple[Clause, ...]:
    return tuple(Clause(**row) for row in _rows("clauses.csv"))


@cache
def _values() -> Mapping[tuple[str, str], float]:
    return {(row["rule_set"], row["name"]): float(row["value"]) for row in _rows("values.csv")}


@cache
def _units() -> Mapping[str, str]:
    return {row["name"]: row["unit"] for row in _rows("values.csv")}


def _rows(file: str) -> list[dict[str, str]]:
    text = (resources.files(__name__) / file).read_text(encoding="utf-8")
    return list(csv.DictReader(io.StringIO(text)))


def _number(text: str) -> float | None:
    return float(text) if text else None
