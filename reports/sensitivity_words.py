"""A row of the sensitivity table in words."""

from __future__ import annotations

from loadloom.graph.model.results import SensitivityRow


def worse(row: SensitivityRow) -> str:
    """``Ambient 10 K warmer: 8 more parts fail or rely on the overload band (W1, W6, W7, …); judged: …``"""
    condition = f"{row.condition[:1].upper()}{row.condition[1:]}"
    if not row.fails:
        return f"{condition}: no further part fails; judged: {row.judged}."
    more = ", …" if row.fails > len(row.first) else ""
    fail = "more part fails or relies" if row.fails == 1 else "more parts fail or rely"
    first = f"({', '.join(row.first)}{more})"
    return f"{condition}: {row.fails} {fail} on the overload band {first}; judged: {row.judged}."
