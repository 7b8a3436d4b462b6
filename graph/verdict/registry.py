"""The list of all rules, found by looking into the package that holds them."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache

from loadloom.graph import rules as rules_package
from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.findings import Finding, Rule

Check = Callable[[Facts], Iterable[Finding]]


@dataclass(frozen=True, slots=True)
class RegisteredRule:
    """A rule with its documentation and, for rules of the analysis, its check."""

    rule: Rule
    documentation: str
    check: Check | None


@cache
def all_rules() -> Mapping[str, RegisteredRule]:
    """Every rule by name, in order of name.

    Raises:
        ValueError: two modules give their rule the same name, so that one of them would judge nothing.
    """
    found: dict[str, RegisteredRule] = {}
    for info in pkgutil.iter_modules(rules_package.__path__):
        module = importlib.import_module(f"{rules_package.__name__}.{info.name}")
        rule = getattr(module, "RULE", None)
        if isinstance(rule, Rule):
            if rule.name in found:
                raise ValueError(f"two rules are named {rule.name}; the second one stands in {module.__name__}")
            found[rule.name] = RegisteredRule(rule, module.__doc__ or "", getattr(module, "check", None))
    return dict(sorted(found.items()))
