"""The thermal time constant of a conductor as one body: how slow a pulse is for it.

The heat that the copper takes up to its limit, over the heat that the allowed current makes each second,
τ = k²·S² / Iz² with k of copper from the ambient up to the limit (IEC 60949). The insulation takes up heat as well,
which is left out: the time constant is on the safe side.
"""

from __future__ import annotations

from loadloom.graph.model.elements import Conductor
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.insulation import adiabatic_k_as05_per_mm2, insulation_of


def time_constant_s(conductor: Conductor, settings: AnalysisSettings, allowed_a: float) -> float | None:
    """The thermal time constant in s of a conductor that ``allowed_a`` (> 0) warms to its limit. None where gauge
    or insulation do not say what the copper takes up.
    """
    ambient_c = settings.ambient(conductor.zone).max_c
    k = adiabatic_k_as05_per_mm2(ambient_c, insulation_of(conductor, settings).limit_c)
    if k is None or conductor.area_mm2 is None:
        return None
    return (k * conductor.area_mm2 / allowed_a) ** 2
