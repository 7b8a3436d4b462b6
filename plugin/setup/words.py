"""Words and shorthand by which people say on a drawing what a part is and how large it is."""

from __future__ import annotations

import re

GROUND = re.compile(
    r"^[ADPSC]?GND|GND$|^0 ?V$|^(RTN|RET|RETURN|COM|COMMON|VSS|NEG|MINUS|EARTH|BLK)\b"
    r"|[-–−]$|_(RTN|NEG|N|MINUS)$|^V-$",
    re.IGNORECASE,
)
"""Names of nets that are a return."""

POSITIVE = re.compile(
    r"^\+?\d+([.,]\d+)?V\d*|^\+|\+$"
    r"|^(VIN|VBAT|V_?BATT|BAT|BATT|VCC|VDD|PWR|POWER|SUPPLY|FEED|MAIN|DC|V|VBUS|VS)([+_ ]|\b)",
    re.IGNORECASE,
)
"""Names of nets that are a feed."""

SOURCE_WORDS = (
    "battery", "batt", "bat", "accu", "akku", "psu", "supply", "source", "solar", "panel", "generator",
    "alternator",
    "charger", "adapter", "vin", "dcin", "pwrin", "inlet",
)  # fmt: skip
BATTERY_WORDS = frozenset({"battery", "batt", "bat", "accu", "akku"})
SOLAR_WORDS = frozenset({"solar"})
POWER_WORDS = ("power", "pwr")
"""Words for a source, unless another one beside them says that it is a load: ``POWER``, but ``Power LED``."""
INPUT_WORDS = ("in", "input")
"""Words that mean a source only where nothing is called one: they may be a signal's as well."""
LOAD_WORDS = (
    "lamp", "light", "lights", "led", "leds", "strip", "pump", "fan", "motor", "heater", "valve", "solenoid",
    "camera",
    "radio", "router", "siren", "horn", "buzzer", "actuator", "winch", "mount", "focuser", "dew", "shutter", "load",
    "out",
    "output", "usb", "computer", "pc", "display", "screen", "fridge", "sensor", "beacon", "relay coil", "coil",
    "servo",
    "brake", "wiper", "amplifier", "modem", "telescope", "mcu", "controller", "board",
)  # fmt: skip


def has_word(text: str, words: tuple[str, ...]) -> str | None:
    """The first of some words that stands in a text as a word of its own, numbers and underscores apart."""
    plain = " ".join(re.findall(r"[a-z]+", re.sub(r"([a-z])([A-Z])", r"\1 \2", text).casefold()))
    counted = " ".join(re.findall(r"[a-z0-9]+", text.casefold()))
    for word in words:
        if re.search(rf"\b{re.escape(word)}\b", plain) or re.search(rf"\b{re.escape(word)}\b", counted):
            return word
    return None


_QUANTITY = r"(?<![\w.,])(\d+(?:[.,]\d+)?)\s*(m|k)?({units})(?![A-Za-z])"


def stated_in(text: str, units: str, *, resistor: bool = False) -> str | None:
    """The one quantity with one of these units in a text, as ``10 A``; None where there is none, or there are
    several.

    Of a load's ``12V 21W`` the power counts. With ``resistor`` also ``4k7``, ``10R``, ``0R1`` and a bare number
    with
    ``k`` or ``M``, as resistances are written (IEC 60062).
    """
    for unit in units:
        found = re.findall(_QUANTITY.format(units=unit), text)
        if len(found) == 1:
            number, prefix, letter = found[0]
            return f"{number.replace(',', '.')} {prefix}{letter}"
    if resistor:
        match = re.fullmatch(r"(\d*)([RkKM])(\d*)", text.strip())
        if match and (match[1] or match[3]):
            digits = f"{match[1] or '0'}.{match[3]}" if match[3] else match[1]
            prefix = {"R": "", "k": "k", "K": "k", "M": "M"}[match[2]]
            return f"{digits} {prefix}Ω"
        decimal = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*(k|K|M)", text.strip())
        if decimal:
            return f"{decimal[1].replace(',', '.')} {decimal[2].replace('K', 'k')}Ω"
    return None


def by_characteristic(text: str) -> str | None:
    """The rated current in a breaker's value such as ``C6``: IEC 60898-1 puts the characteristic before it."""
    found = re.findall(r"\b[BCDKZ] ?(\d+(?:[.,]\d+)?)\b(?! ?k?[VWΩ])", text)
    return f"{found[0].replace(',', '.')} A" if len(found) == 1 else None


def capacity_in(text: str) -> str | None:
    """The one capacity in a battery's value, as ``100 Ah``."""
    found = re.findall(r"(?<![\w.,])(\d+(?:[.,]\d+)?)\s*(m)?Ah\b", text, re.IGNORECASE)
    if len(found) != 1:
        return None
    number, milli = found[0]
    return f"{float(number.replace(',', '.')) / (1000 if milli else 1):g} Ah"


_INTO = re.compile(
    r"\d\s*V(?:DC)?\s*(?:to|in|->|→|>|/|–|-)+\s*(?:out\s*)?(\d+(?:[.,]\d+)?)\s*V(?![A-Za-z])", re.IGNORECASE
)
"""From one voltage to another, as ``24V to 12V``, ``24V/12V`` or ``48V->5V``: the second is the output's."""


def made_voltage(text: str) -> str | None:
    """The voltage that a converter makes, in its value: the second of two, or the only one."""
    found = _INTO.findall(text)
    if len(found) == 1 and len(re.findall(r"\dV?\d*\s*V(?![A-Za-z])|\d\s*VDC", text)) == 2:
        return f"{found[0].replace(',', '.')} V"
    return stated_in(text, "V")
