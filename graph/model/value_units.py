"""The unit of the value that the findings of each rule carry, so that an accepted value can be held against it.

A rule that is not listed gives no value. ``load-unfed`` and the rule books give values of several kinds.
"""

from __future__ import annotations

from collections.abc import Mapping

_AMPERES = (
    "back-feed",
    "battery-charge-unknown",
    "open-circuit-overload",
    "breaking-capacity",
    "chassis-carries-load",
    "contact-overload",
    "contact-unprotected",
    "curve-assumed",
    "device-never-opens",
    "event-not-determined",
    "combined-overload",
    "fault-never-cleared",
    "fuse-above-wire",
    "fuse-would-open",
    "limiter-would-trip",
    "no-setting-range",
    "nuisance-opening",
    "output-overload",
    "overload-band",
    "path-unprotected",
    "protection-not-determined",
    "return-overload",
    "small-conductor-device",
    "solar-reverse-current",
    "solar-reverse-unknown",
    "splice-overload",
    "splice-unprotected",
    "switch-overload",
    "switch-unprotected",
    "trip-assumed",
    "wire-overload",
)

VALUE_UNITS: Mapping[str, tuple[str, ...]] = {
    **dict.fromkeys(_AMPERES, ("A",)),
    "cleared-late": ("s",),
    "contactor-breaking": ("A",),
    "contactor-opens-into-fault": ("A",),
    "converter-input-low": ("V",),
    "converter-input-overload": ("A",),
    "converter-passes-through": ("V",),
    "converter-starts-into-limit": ("A",),
    "crimp-range": ("mm²",),
    "damage-before-clearing": ("A²·s", "1"),
    "withstand-not-determined": ("A²·s",),
    "enclosure-too-hot": ("°C",),
    "event-overload": ("1", "A²·s"),
    "power-available-to-fault": ("W",),
    "length-assumed": ("m",),
    "loads-left-in-series": ("V",),
    "load-unfed": ("A", "W", "Ω"),
    "not-selective": ("A", "s"),
    "start-not-determined": ("V", "A"),
    "rule-book": ("A", "m", "mm²"),
    "sense-drop": ("V",),
    "sense-overload": ("A",),
    "stall-not-cleared": ("s",),
    "supply-overload": ("W",),
    "touch-voltage": ("V",),
    "uneven-sharing": ("1", "A"),
    "voltage-high": ("V",),
    "voltage-low": ("V",),
    "voltage-rating": ("V",),
}
"""By rule; rules without a value are left out."""
