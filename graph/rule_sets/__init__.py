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

from loadloom.graph.settings import AnalysisSettings


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
    return tuple(dict.fromkeys([*(c.rule_set for c in _clauses()), *(name for name, _ in _values())]))


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


def loading_share(settings: AnalysisSettings) -> tuple[float, str] | None:
    """The least continuous loading of fuses and breakers that any chosen rule allows, with where it comes from."""
    found: list[tuple[float, str]] = []
    if settings.fuse_loading is not None:
        found.append((settings.fuse_loading, "fuse loading of the settings"))
    for rule_set, source in (
        ("loading-75", "75 % rule: guidance for fuses with UL 248-14 gates, required by no standard"),
        ("continuous-125", "NEC continuous load, 125 % (from memory); check your edition"),
    ):
        if rule_set in settings.rule_sets:
            found.append((value(settings, rule_set, "loading_share"), source))
    return min(found, default=None)


@cache
def gauge_table(rule_set: str) -> tuple[GaugeRow, ...]:
    """A rule book's table of devices by wire size, thinnest wire first."""
    return tuple(
        GaugeRow(row["awg"], _number(row["breaker_a"]), _number(row["fuse_a"]))
        for row in _rows("device_by_awg.csv")
        if row["rule_set"] == rule_set
    )


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
