"""Names of the results file before version 2.0, and how a file of 1.x is read with the names of today."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

KEYS: Mapping[str, str] = {
    "let_through_a": "sustained_fault_a",
    "let_through_case": "sustained_fault_case",
    "let_through_fault": "sustained_fault",
    "worst_let_through": "worst_sustained_fault",
    "exposure_a": "combined_overload_a",
    "exposure_case": "combined_overload_case",
    "carries_a": "non_tripping_a",
    "clears_a": "tripping_a",
    "clears_within_s": "tripping_within_s",
    "window_low_a": "setting_low_a",
    "window_high_a": "setting_high_a",
    "window_low_by": "setting_low_by",
    "window_high_by": "setting_high_by",
    "broken_a": "open_circuit_a",
    "broken_by": "open_circuit_by",
    "breaks": "open_circuits",
    "shorts": "short_circuits",
    "dark": "loses_supply",
    "not_said": "not_determined",
}
"""Old key to new key, in every list of the file. Dropped with 2.0: ``grade`` of a finding."""

RULES: Mapping[str, str] = {
    "break-overload": "open-circuit-overload",
    "event-not-judged": "event-not-determined",
    "exposure-above-rating": "combined-overload",
    "fault-power": "power-available-to-fault",
    "no-setting-window": "no-setting-range",
    "protection-not-judged": "protection-not-determined",
}
"""Old name of a rule to the new one."""

_TABLES = ("settings", "sources", "currents_a", "settings_a", "duration_s")
"""Tables whose keys are names of the drawing or of the settings file, and so are never renamed."""


def with_names_of_2(raw: dict[str, Any]) -> dict[str, Any]:
    """A results file of 1.x, as read, with the keys and rule names of 2.0."""
    renamed: dict[str, Any] = _renamed(raw)
    for finding in renamed.get("findings", []):
        if isinstance(finding, dict):
            finding["rule"] = RULES.get(finding.get("rule", ""), finding.get("rule"))
    return renamed


def _renamed(value: Any) -> Any:
    if isinstance(value, dict):
        return {KEYS.get(key, key): item if key in _TABLES else _renamed(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_renamed(item) for item in value]
    return value
