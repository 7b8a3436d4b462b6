"""Everything the analysis has found out about one harness: what the rules look at."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from loadloom.graph.harness import Harness
from loadloom.graph.results import Rating
from loadloom.graph.settings import AnalysisSettings, Case
from loadloom.graph.solution import Solution


@dataclass(frozen=True)
class Facts:
    """Input of every rule's ``check``.

    ``loaded[case.id]`` are the solutions of a case in load state: with the chassis as a joint and, where there
    is a chassis, without it (design, section 4, "Chassis"); ``lowest`` and ``highest`` the same at the corners
    that give the least and the greatest voltage at the loads. ``ratings`` is by conductor and contact id.
    """

    harness: Harness
    settings: AnalysisSettings
    cases: tuple[Case, ...]
    loaded: Mapping[str, tuple[Solution, ...]]
    lowest: Mapping[str, tuple[Solution, ...]]
    highest: Mapping[str, tuple[Solution, ...]]
    ratings: Mapping[str, Rating]
