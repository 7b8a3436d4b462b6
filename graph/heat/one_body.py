"""Heat of a conductor as one body: how warm a current makes it within a time, where no steady state is reached.

The rise over the ambient is given as a share of the rise that the allowed current makes continuously. One body
loses heat in proportion to its rise, so the share goes from where it starts to (I / Iz)² with one time constant:
the heat that the copper takes up to its limit, over the heat that the allowed current makes each second,
τ = k²·S² / Iz² with k of copper from the ambient up to the limit (IEC 60949). The insulation takes up heat as well,
which is left out: the share is on the safe side.
"""

from __future__ import annotations

import math

from loadloom.graph.elements import Conductor
from loadloom.graph.insulation import adiabatic_k_as05_per_mm2, insulation_of
from loadloom.graph.settings import AnalysisSettings


def time_constant_s(conductor: Conductor, settings: AnalysisSettings, allowed_a: float) -> float | None:
    """The thermal time constant in s of a conductor that ``allowed_a`` (> 0) warms to its limit. None where gauge
    or insulation do not say what the copper takes up.
    """
    ambient_c = settings.ambient(conductor.zone).max_c
    k = adiabatic_k_as05_per_mm2(ambient_c, insulation_of(conductor, settings).limit_c)
    if k is None or conductor.area_mm2 is None:
        return None
    return (k * conductor.area_mm2 / allowed_a) ** 2


def rise_share(
    conductor: Conductor,
    settings: AnalysisSettings,
    allowed_a: float,
    *,
    before_a: float,
    current_a: float,
    duration_s: float,
) -> float | None:
    """Rise at the end of a current that lasts ``duration_s`` after ``before_a`` has flowed continuously; 1 = the
    rise that ``allowed_a`` (> 0) makes. None where gauge or insulation do not say what the copper takes up.
    """
    settles_s = time_constant_s(conductor, settings, allowed_a)
    if settles_s is None:
        return None
    start, end = (before_a / allowed_a) ** 2, (current_a / allowed_a) ** 2
    return end - (end - start) * math.exp(-duration_s / settles_s)
