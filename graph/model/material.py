"""What a conductor is made of: copper, or something that nothing here is for.

Every rating table, resistance and short-circuit constant of this project is copper's.
"""

from __future__ import annotations

import re

_COPPER = frozenset({"copper", "cu", "ofc", "etp"})
_KINDS = frozenset(
    {"annealed", "bare", "conductor", "electrolytic", "fine", "flexible", "plain", "pure", "soft", "solid"}
)
_KINDS |= {"stranded", "strands", "tinned", "wire"}
"""Words that leave copper copper; common practice."""
_PLATED = re.compile(r"\b(?:tin|silver|nickel)[\s-]*(?:plated|coated)\b")


def is_copper(material: str | None) -> bool:
    """Whether the text of a field Material says copper; nothing stated is copper, as the symbol library says."""
    if material is None or not material.strip():
        return True
    words = re.findall(r"[^\W\d_]+", _PLATED.sub(" ", material.casefold()))
    return any(word in _COPPER for word in words) and all(word in _COPPER | _KINDS for word in words)
