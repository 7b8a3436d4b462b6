"""Texts as people write them into drawings and settings, turned into SI values.

Every parser takes a text and returns a value in the unit that its name carries, or raises ``UnreadableValue``
with the reason in words. Nothing is guessed: a number without its unit, a number that can be read two ways
(``1,000``), NaN, infinity, and a sign or a zero that means nothing are all unreadable.

Numbers: digits with a decimal point or a decimal comma and, if need be, an exponent. One comma before exactly
three digits, after a first part that could be thousands, has two readings and is refused.

Units are those that a harness is drawn in, with the prefixes that are usual there, in one table: a library of all
units would take longer to load than a drawing to read, and would let a misprint pass, such as ``h`` for a natural
constant. A test holds every one of them against pint.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from functools import cache
from itertools import pairwise

from loadloom.graph.model.elements import Band, Behaviour, Gauge, GaugeSystem, LoadKind, Tolerance

LEAST_MAGNITUDE = 1e-12
"""In SI units, a smaller value that is not 0 is a misprint: no harness has it, and it would upset the solver."""

GREATEST = {
    "length": 1e5,
    "time": 1e9,
    "current": 1e6,
    "voltage": 1e5,
    "power": 1e9,
    "resistance": 1e9,
    "temperature": 1500.0,
    "share": 10.0,
    "area": 1e5,
    "air flow": 1e3,
    "surface coefficient": 1e3,
    "irradiance": 1e4,
    "joule integral": 1e12,
    "capacitance": 1e3,
    "charge": 1e6,
}
"""By dimension, in SI units (°C for temperatures): what lies above is a misprint, since no harness has it.

Common practice, no published source: each is ten times or more what the largest harness has (a battery bank in a
short circuit gives some 100 kA; 60364-series installations end at 1500 V).
"""

LONGEST_TEXT = 400
"""Characters; a field that is longer is prose."""

ABSOLUTE_ZERO_C = -273.15


class UnreadableValue(ValueError):  # noqa: N818 - the trade's word, and what it says
    """A text that can't be read as the value it should be; ``reason`` says why, in words."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


_PREFIXES = {"m": 1e-3, "milli": 1e-3, "u": 1e-6, "micro": 1e-6, "k": 1e3, "kilo": 1e3, "M": 1e6, "mega": 1e6}

_PREFIXED: dict[str, tuple[str, float]] = {
    "m": ("length", 1.0),
    "meter": ("length", 1.0),
    "metre": ("length", 1.0),
    "s": ("time", 1.0),
    "second": ("time", 1.0),
    "A": ("current", 1.0),
    "ampere": ("current", 1.0),
    "V": ("voltage", 1.0),
    "volt": ("voltage", 1.0),
    "W": ("power", 1.0),
    "watt": ("power", 1.0),
    "ohm": ("resistance", 1.0),
    "A2s": ("joule integral", 1.0),
    "Ah": ("charge", 1.0),
    "farad": ("capacitance", 1.0),
}
"""Dimension and size in SI units (charge: Ah) of units that take a prefix."""

_PLAIN: dict[str, tuple[str, float]] = {
    "inch": ("length", 0.0254),
    "in": ("length", 0.0254),
    "foot": ("length", 0.3048),
    "ft": ("length", 0.3048),
    "mil": ("length", 2.54e-5),
    "cm": ("length", 0.01),
    "centimeter": ("length", 0.01),
    "min": ("time", 60.0),
    "minute": ("time", 60.0),
    "h": ("time", 3600.0),
    "hour": ("time", 3600.0),
    "percent": ("share", 0.01),
    "mm2": ("area", 1e-6),
    "m2": ("area", 1.0),
    "m3_per_s": ("air flow", 1.0),
    "m3_per_h": ("air flow", 1.0 / 3600.0),
    "liter_per_s": ("air flow", 1e-3),
    "w_per_m2": ("irradiance", 1.0),
    "w_per_m2k": ("surface coefficient", 1.0),
    "uF": ("capacitance", 1e-6),
    "mF": ("capacitance", 1e-3),
    "nF": ("capacitance", 1e-9),
    "nanofarad": ("capacitance", 1e-9),
    "degC": ("temperature", 1.0),
    "degF": ("temperature", 5.0 / 9.0),
    "K": ("temperature", 1.0),
    "kelvin": ("temperature", 1.0),
}
"""The same of those that take none."""

_ZERO_C = {"degC": 0.0, "degF": -160.0 / 9.0, "K": ABSOLUTE_ZERO_C, "kelvin": ABSOLUTE_ZERO_C}
"""Where the zero of a scale of temperature lies, in °C."""

_SPELLINGS = {
    "Ω": "ohm",
    "R": "ohm",
    "Ohm": "ohm",
    "Ohms": "ohm",
    "ohms": "ohm",
    "OHM": "ohm",
    "mΩ": "mohm",
    "mOhm": "mohm",
    "mOhms": "mohm",
    "mohms": "mohm",
    "milliohm": "mohm",
    "uΩ": "uohm",
    "uOhm": "uohm",
    "kΩ": "kohm",
    "kOhm": "kohm",
    "MΩ": "Mohm",
    "MOhm": "Mohm",
    '"': "inch",
    "″": "inch",
    "'": "foot",
    "′": "foot",
    "IN": "inch",
    "In": "inch",
    "inches": "inch",
    "FT": "foot",
    "Ft": "foot",
    "feet": "foot",
    "metres": "meter",
    "meters": "meter",
    "%": "percent",
    "°C": "degC",
    "℃": "degC",
    "C": "degC",
    "°F": "degF",
    "F": "degF",
    "amp": "A",
    "amps": "A",
    "Amp": "A",
    "Amps": "A",
    "volts": "V",
    "Volt": "V",
    "watts": "W",
    "Watt": "W",
    "sec": "s",
    "seconds": "s",
    "minutes": "min",
    "hours": "h",
    "mm²": "mm2",
    "mm^2": "mm2",
    "sqmm": "mm2",
    "sq mm": "mm2",
    "sq.mm": "mm2",
    "m²": "m2",
    "m^2": "m2",
    "m³/s": "m3_per_s",
    "m3/s": "m3_per_s",
    "m³/h": "m3_per_h",
    "m3/h": "m3_per_h",
    "l/s": "liter_per_s",
    "W/(m²K)": "w_per_m2k",
    "W/(m²·K)": "w_per_m2k",
    "W/m²K": "w_per_m2k",
    "W/(m2K)": "w_per_m2k",
    "W/m²": "w_per_m2",
    "W/m2": "w_per_m2",
    "A²s": "A2s",
    "A^2s": "A2s",
    "A² s": "A2s",
    "A²·s": "A2s",
}

_EXAMPLES = {
    "length": "350 mm",
    "time": "80 ms",
    "current": "5 A",
    "voltage": "12 V",
    "power": "60 W",
    "resistance": "4 mΩ",
    "temperature": "40 °C",
    "share": "10 %",
    "area": "0.5 m²",
    "air flow": "30 m³/h",
    "surface coefficient": "5.5 W/(m²K)",
    "irradiance": "1000 W/m²",
    "joule integral": "120 A²s",
    "capacitance": "470 µF",
    "charge": "40 Ah",
}

_NUMBER = r"(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?"
_SIGNED = re.compile(rf"([+-]?)\s*({_NUMBER})\s*(.*)", re.DOTALL)
_TWO_READINGS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}(?![0-9])")
_UNIT = re.compile(r"[A-Za-z°℃Ωµ²³^%\"'″′.·()/ 23]{1,12}")
_RANGE = re.compile(r"(.*?[0-9A-Za-zΩ°%²])\s*(?:…|\.{2,3}|–|—|\bto\b|(?<![eE])-)\s*([0-9.,].*)", re.DOTALL)
_PLUS_MINUS = re.compile(r"(.*?)\s*(?:±|\+\s*/\s*-|\+-)\s*([0-9.,].*)", re.DOTALL)
_PLUS_AND_MINUS = re.compile(
    rf"(.*?)\s*(?<![eE])([+-])\s*({_NUMBER})\s*([^\s/+-]*)\s*/?\s*([+-])\s*({_NUMBER})\s*(\S*)", re.DOTALL
)
_AWG = re.compile(r"(?:AWG\s*(?P<after>[0-9/]+)|(?P<before>[0-9/]+)\s*AWG)", re.IGNORECASE)
_AWG_SIZE = re.compile(r"([1-4])/0|(0{1,4})|([1-9][0-9]?)")
_MM2 = re.compile(rf"({_NUMBER})\s*(mm²|mm2|mm\^2|sq\.?\s?mm)", re.IGNORECASE)
_THINNEST_AWG = 56  # ASTM B258 lists 4/0 to 56


def normalised(text: str) -> str:
    """The text with one spelling for signs that look alike; raises where it can't be a value at all."""
    if len(text) > LONGEST_TEXT:
        raise UnreadableValue(f"it is {len(text)} characters long")
    for odd, plain in (
        ("\u2212", "-"),
        ("\u2126", "Ω"),
        ("\u03bc", "u"),
        ("\u00b5", "u"),
        ("\u00a0", " "),
        ("\u202f", " "),
        ("\u2009", " "),
    ):
        text = text.replace(odd, plain)
    return " ".join(text.split())


def shown(text: str) -> str:
    """The text as findings show it: on one line, without control characters, at most 60 characters."""
    clean = "".join(c if c.isprintable() else "·" for c in " ".join(text[:1000].split()))
    return f"{clean[:59]}…" if len(clean) > 60 else clean


def quoted(text: str) -> str:
    """The text as findings show it, in quotation marks."""
    return f"“{shown(text)}”"


def is_none(text: str) -> bool:
    """Whether the text says ``none``."""
    return text.strip().casefold() == "none"


def number(text: str) -> float:
    """A number without unit or sign, ``1.5`` or ``1,5``."""
    text = normalised(text)
    if not re.fullmatch(_NUMBER, text):
        raise UnreadableValue("it is not a number")
    if _TWO_READINGS.match(text):
        raise UnreadableValue("its comma can mean thousands or decimals")
    value = float(text.replace(",", "."))
    if not math.isfinite(value):
        raise UnreadableValue("the number is too large")
    return value


def length_m(text: str) -> float:
    """A length in m, greater than 0."""
    return _quantity(text, "length")


def distance_m(text: str) -> float:
    """A length in m, 0 or more."""
    return _quantity(text, "length", zero=True)


def current_a(text: str) -> float:
    """A current in A, greater than 0."""
    return _quantity(text, "current")


def current_or_zero_a(text: str) -> float:
    """A current in A, 0 or more."""
    return _quantity(text, "current", zero=True)


def voltage_v(text: str) -> float:
    """A voltage in V, greater than 0."""
    return _quantity(text, "voltage")


def voltage_drop_v(text: str) -> float:
    """A voltage in V, 0 or more."""
    return _quantity(text, "voltage", zero=True)


def power_w(text: str) -> float:
    """A power in W, greater than 0."""
    return _quantity(text, "power")


def capacity_ah(text: str) -> float:
    """A charge in Ah, greater than 0."""
    return _quantity(text, "charge")


def count(text: str) -> int:
    """How many of something there are, 1 or more."""
    if not re.fullmatch(r"[1-9][0-9]{0,3}", text.strip()):
        raise UnreadableValue("it is not a number of parts, such as 2")
    return int(text)


def idle_power_w(text: str) -> float:
    """A power in W, 0 or more."""
    return _quantity(text, "power", zero=True)


def pin_paths(text: str) -> tuple[tuple[str, str], ...]:
    """Pairs of pins that a part joins, such as ``1-5`` or ``1-2; 3-4``."""
    found = []
    for pair in re.split(r"[;,]", text):
        ends = [end.strip() for end in re.split(r"\s*[-–]\s*", pair.strip())]
        if len(ends) != 2 or not all(ends) or ends[0] == ends[1]:
            raise UnreadableValue("it is not pairs of pins, such as 1-2; 3-4")
        found.append((ends[0], ends[1]))
    if len({end for pair in found for end in pair}) < 2 * len(found):
        raise UnreadableValue("it names a pin twice")
    return tuple(found)


def resistance_ohm(text: str) -> float:
    """A resistance in Ω, 0 or more."""
    return _quantity(text, "resistance", zero=True)


def duration_s(text: str) -> float:
    """A duration in s, greater than 0."""
    return _quantity(text, "time")


def delay_s(text: str) -> float:
    """A delay in s, 0 or more."""
    return _quantity(text, "time", zero=True)


def temperature_c(text: str) -> float:
    """A temperature in °C, above absolute zero."""
    return _quantity(text, "temperature", zero=True, negative=True)


def temperature_rise_k(text: str) -> float:
    """A difference of temperatures in K, greater than 0; written in K or °C."""
    value, unit = _number_and_unit(text)
    if _SPELLINGS.get(unit, unit) not in ("K", "degC"):
        raise UnreadableValue("it is not a difference of temperatures in K")
    return _in_range(value, "temperature", zero=False)


def share(text: str) -> float:
    """A share, 0…1, written in %."""
    value = _quantity(text, "share", zero=True)
    if value > 1.0:
        raise UnreadableValue("it is more than 100 %")
    return value


def positive_share(text: str) -> float:
    """A share above 0 and at most 1, written in %."""
    value = share(text)
    if value == 0.0:
        raise UnreadableValue("0 has no meaning here")
    return value


def share_below_one(text: str) -> float:
    """A share, 0 or more and below 1, written in %."""
    value = share(text)
    if value == 1.0:
        raise UnreadableValue("100 % has no meaning here")
    return value


def any_share(text: str) -> float:
    """A share from 0 to 1000 %, written in %."""
    return _quantity(text, "share", zero=True)


def tolerance(text: str) -> float:
    """A tolerance as a share below 1: ``5 %``, ``±5 %`` or ``+5/-3 %``; the wider side counts both ways."""
    found = tolerance_each_way(text)
    return max(found.below, found.above)


def tolerance_each_way(text: str) -> Tolerance:
    """A tolerance in shares below 1: ``5 %`` and ``±5 %`` both ways, ``+5/-3 %`` each way by itself."""
    text = normalised(text)
    both = _PLUS_AND_MINUS.fullmatch(text)
    if both and not both[1]:
        if both[2] == both[5]:
            raise UnreadableValue("it gives the same side of the tolerance twice")
        first = share_below_one(f"{both[3]} {both[4] or both[7]}")
        second = share_below_one(f"{both[6]} {both[7] or both[4]}")
        return Tolerance(second, first) if both[2] == "+" else Tolerance(first, second)
    return Tolerance.even(share_below_one(re.sub(r"^(?:±|\+\s*/\s*-|\+-)\s*", "", text)))


def surface_m2(text: str) -> float:
    """A surface in m², greater than 0."""
    return _quantity(text, "area")


def surface_coefficient_w_per_m2k(text: str) -> float:
    """Heat given off by a surface, in W/(m²·K), greater than 0."""
    return _quantity(text, "surface coefficient")


def irradiance_w_per_m2(text: str) -> float:
    """The sun's heat on a surface square to it, in W/m², 0 or more."""
    return _quantity(text, "irradiance", zero=True)


def air_flow_m3_per_s(text: str) -> float:
    """A flow of air in m³/s, 0 or more."""
    return _quantity(text, "air flow", zero=True)


def joule_integral_a2s(text: str) -> float:
    """A melting or withstand I²t in A²s, greater than 0."""
    return _quantity(text, "joule integral")


def capacitance_f(text: str) -> float:
    """A capacitance as F; ``F`` alone is the farad here, not the degree Fahrenheit."""
    return _quantity(re.sub(r"(?<=[0-9\s])F\s*$", "farad", text), "capacitance")


def resistance_or_zero_ohm(text: str) -> float:
    """A resistance as Ω, 0 included."""
    return _quantity(text, "resistance", zero=True)


def area_mm2(text: str) -> float:
    """An area in mm², greater than 0; written in mm² (a size in AWG is read by ``gauge``)."""
    return _quantity(text, "area") * 1e6


def within(
    parse: Callable[[str], float], least: float, most: float, unit: str, scale: float = 1.0
) -> Callable[[str], float]:
    """A parser that also refuses what lies outside a range; ``least`` and ``most`` in ``unit``, of SI ``scale``."""

    def read(text: str) -> float:
        value = parse(text)
        if not least * scale <= value <= most * scale:
            raise UnreadableValue(f"it is not within {least:.7g}…{most:.7g} {unit}")
        return value

    return read


def current_band_a(text: str) -> Band:
    """A current with its tolerance in A, greater than 0."""
    return _band(text, "current", zero=False)


_TIMES = re.compile(
    rf"({_NUMBER})(?:\s*(?:…|\.{{2,3}}|–|—|\bto\b|-)\s*({_NUMBER}))?\s*(?:×|x|times)", re.IGNORECASE
)


def multiple_or_current(text: str) -> tuple[Band, bool]:
    """A band of multiples of a rating, such as ``7…14 ×``, or of currents in A; true for a current."""
    match = _TIMES.fullmatch(normalised(text))
    if not match:
        return current_band_a(text), True
    low, high = number(match[1]), number(match[2] or match[1])
    if not 1.0 <= low <= high <= 1000.0:
        raise UnreadableValue("no breaker acts at such a multiple of its rating")
    return Band((low + high) / 2.0, low, high), False


def voltage_band_v(text: str) -> Band:
    """A voltage with its tolerance in V, greater than 0."""
    return _band(text, "voltage", zero=False)


def resistance_band_ohm(text: str) -> Band:
    """A resistance with its tolerance in Ω, 0 or more."""
    return _band(text, "resistance", zero=True)


def with_tolerance_of(text: str, drawn: str) -> str:
    """A quantity with the tolerance that another text of its kind states; as it is where it states one itself.

    ``20 A`` with that of ``10 A ±5 %`` is ``20 A ±5 %``; of ``36…44 A``, ten per cent either way.
    """
    plain, other = normalised(text), normalised(drawn)
    if _has_tolerance(plain) or not re.fullmatch(rf"[+]?\s*{_NUMBER}\s*[^0-9]*", plain):
        return text
    if match := _PLUS_MINUS.fullmatch(other):
        return f"{plain} ±{match[2]}"
    if match := _PLUS_AND_MINUS.fullmatch(other):
        return f"{plain} {other[len(match[1]) :].strip()}"
    if _RANGE.fullmatch(other):
        for read in (current_band_a, voltage_band_v, resistance_band_ohm):
            try:
                band = read(other)
            except UnreadableValue:
                continue
            if band.nominal > 0.0 and band.lower < band.upper:
                return f"{plain} ±{100.0 * (band.upper / band.nominal - 1.0):.6g} %"
    return text


def _has_tolerance(text: str) -> bool:
    return any(pattern.fullmatch(text) for pattern in (_PLUS_MINUS, _PLUS_AND_MINUS, _RANGE))


def demand(text: str) -> tuple[LoadKind, float]:
    """What a load takes: its kind by the unit, and the value in A, W or Ω; 0 A and 0 W are a load that is off."""
    value, unit = _number_and_unit(text)
    for kind, dimension in (
        (LoadKind.CURRENT, "current"),
        (LoadKind.POWER, "power"),
        (LoadKind.RESISTANCE, "resistance"),
    ):
        if _fits(unit, dimension):
            si = _convert(value, unit, dimension)
            return kind, _in_range(si, dimension, zero=kind is not LoadKind.RESISTANCE)
    raise UnreadableValue("it is not in A, W or Ω" if unit else "it has no unit: A, W or Ω")


def gauge(text: str) -> Gauge:
    """A conductor size in AWG or mm². Source of the AWG area: ASTM B258, d = 0.127 mm · 92^((36-n)/39)."""
    text = normalised(text)
    awg = _AWG.fullmatch(text)
    if awg:
        return awg_gauge(awg["after"] or awg["before"])
    metric = _MM2.fullmatch(text)
    if metric:
        area_mm2 = number(metric[1])
        if not 1e-3 <= area_mm2 <= 1e4:
            raise UnreadableValue("no conductor has that cross-section")
        return Gauge(GaugeSystem.MM2, f"{area_mm2:.6g}", area_mm2)
    if re.fullmatch(_NUMBER, text):
        raise UnreadableValue("it has no unit: it could be AWG or mm²")
    if re.fullmatch(rf"{_NUMBER}\s*(?:kcmil|mcm)", text, re.IGNORECASE):
        raise UnreadableValue("circular mils are not read: write the size in mm² or AWG")
    if re.match(rf"[0-9]+\s*[x×*]\s*{_NUMBER}", text):
        raise UnreadableValue("it is a number of conductors and a size: one size is wanted")
    raise UnreadableValue("it is not a size in AWG or mm²")


def awg_gauge(size: str) -> Gauge:
    """The gauge of an AWG number, ``18``, ``1/0`` or ``00``."""
    match = _AWG_SIZE.fullmatch(size)
    if not match:
        raise UnreadableValue(f"there is no AWG size {size}")
    if match[3]:
        n = int(match[3])
        if n > _THINNEST_AWG:
            raise UnreadableValue(f"there is no AWG size {size}")
        return Gauge(GaugeSystem.AWG, str(n), awg_area_mm2(n))
    noughts = int(match[1]) if match[1] else len(match[2])
    return Gauge(GaugeSystem.AWG, f"{noughts}/0", awg_area_mm2(1 - noughts))


def awg_area_mm2(n: int) -> float:
    """Cross-section of AWG ``n`` in mm² (1/0 is 0, 4/0 is -3). Source: ASTM B258."""
    diameter_mm: float = 0.127 * 92.0 ** ((36 - n) / 39)
    return math.pi / 4 * diameter_mm**2


_VIAS = re.compile(r"([1-9][0-9]{0,3})\s*(?:×|x)\s*(.+)", re.IGNORECASE)


def vias(text: str) -> tuple[int, float]:
    """How many vias, and the diameter of their finished holes in m: ``6 × 0.3 mm``."""
    match = _VIAS.fullmatch(normalised(text))
    if not match:
        raise UnreadableValue("it is not a number of vias and their hole, such as 6 × 0.3 mm")
    return int(match[1]), length_m(match[2])


THICKEST_COPPER_M = 0.5e-3
"""Copper that no board has on one layer: heavy boards go to about 0.4 mm (common practice, no published source)."""

WIDEST_TRACK_M = 1.0
"""Wider than any board."""


def copper_m(text: str) -> float:
    """The thickness of a board's copper in m, no more than any board has."""
    metres = length_m(text)
    if metres > THICKEST_COPPER_M:
        raise UnreadableValue("it is more than the copper of any board, 0.5 mm")
    return metres


def track_width_m(text: str) -> float:
    """The width of a track in m, no more than that of any board."""
    metres = length_m(text)
    if metres > WIDEST_TRACK_M:
        raise UnreadableValue("it is wider than any board, 1 m")
    return metres


def outer_layer(text: str) -> bool:
    """Whether a layer is an outer one."""
    word = text.strip().casefold()
    if word not in ("outer", "inner"):
        raise UnreadableValue("it is neither outer nor inner")
    return word == "outer"


def gauge_range_mm2(text: str) -> tuple[float, float]:
    """A crimp range as (least, greatest) mm²: ``0.5…1.5 mm²``, ``20…16 AWG`` or one size."""
    text = normalised(text)
    ends = _RANGE.fullmatch(text)
    if not ends:
        area = gauge(text).area_mm2
        return area, area
    last = gauge(ends[2])
    unit = f" {last.system.value}" if re.fullmatch(rf"{_NUMBER}|[1-4]/0", ends[1]) else ""
    first = gauge(ends[1] + unit)
    return min(first.area_mm2, last.area_mm2), max(first.area_mm2, last.area_mm2)


def strands(text: str) -> int:
    """The number of strands of a conductor: ``solid`` (1), ``19``, or as ``19/0.2 mm``, ``7/34`` or ``7×0.25``.

    A rope of several layers has all of its strands: ``7x19x0.1 mm`` are 133.
    """
    text = normalised(text)
    if text.casefold() == "solid":
        return 1
    made = re.fullmatch(
        r"([0-9]{1,5}(?:\s*[x×*]\s*[0-9]{1,5}(?=\s*[x×*/]))*)(\s*[/x×*]\s*\S.*)?", text, re.IGNORECASE
    )
    if not made:
        raise UnreadableValue("it is neither solid nor a number of strands")
    count = math.prod(int(number) for number in re.findall(r"[0-9]+", made[1]))
    if made[2] and re.fullmatch(r"[x×*]\s*[0-9]+", made[2].strip(), re.IGNORECASE):
        raise UnreadableValue("the second number may be strands or a diameter: write their number alone")
    if not 1 <= count < 100_000:
        raise UnreadableValue("it is neither solid nor a number of strands")
    return count


def tinned(text: str) -> bool:
    """Whether the strands are tinned or otherwise coated: ``yes`` or ``no``."""
    word = text.strip().casefold()
    if word in ("yes", "true", "tinned"):
        return True
    if word in ("no", "false", "bare", "plain"):
        return False
    raise UnreadableValue("it is neither yes nor no")


def iec_class(text: str) -> int:
    """A class of IEC 60228: 1 (solid), 2 (stranded), 5 or 6 (flexible)."""
    match = re.fullmatch(r"(?:class\s*)?([1256])", text.strip(), re.IGNORECASE)
    if not match:
        raise UnreadableValue("IEC 60228 has the classes 1, 2, 5 and 6")
    return int(match[1])


def behaviour(text: str) -> Behaviour:
    """What an electronic limit does once it acts."""
    word = re.sub(r"[\s_-]+", "-", text.strip().casefold())
    try:
        return Behaviour(word)
    except ValueError:
        raise UnreadableValue("it is none of " + ", ".join(Behaviour)) from None


def layout(text: str) -> str:
    """How the cables of a bundle lie: a name of ``loadloom.graph.ratings.bundles.LAYOUTS``."""
    from loadloom.graph.ratings.bundles import LAYOUTS

    word = normalised(text).casefold()
    if word not in LAYOUTS:
        raise UnreadableValue(f"it is none of {', '.join(LAYOUTS)}")
    return word


def closed(text: str) -> bool:
    """A switch's state: ``closed`` is true, ``open`` is false."""
    word = text.strip().casefold()
    if word not in ("open", "closed"):
        raise UnreadableValue("it is neither open nor closed")
    return word == "closed"


def points(text: str, x: Callable[[str], float], y: Callable[[str], float]) -> tuple[tuple[float, float], ...]:
    """Points ``x: y; x: y``, in ascending order of x. ``x`` and ``y`` read one value each."""
    found = []
    for pair in normalised(text).rstrip("; ").split(";"):
        left, colon, right = pair.partition(":")
        if not colon:
            raise UnreadableValue("a point is written as two values with a colon between")
        found.append((x(left), y(right)))
    found.sort()
    if any(a[0] == b[0] for a, b in pairwise(found)):
        raise UnreadableValue("it gives two values for the same point")
    return tuple(found)


def falling_points(
    text: str, x: Callable[[str], float], y: Callable[[str], float]
) -> tuple[tuple[float, float], ...]:
    """Points whose values can't rise, read as by ``points``: what is warmer, or has more beside it, takes less."""
    found = points(text, x, y)
    rising = next(((a[0], b[0]) for a, b in pairwise(found) if b[1] > a[1]), None)
    if rising is not None:
        raise UnreadableValue(f"it gives more at {rising[1]:g} than at {rising[0]:g}")
    return found


def power_derating(text: str) -> tuple[tuple[float, float], ...]:
    """Points (inside temperature in °C, share of the power)."""
    return points(text, temperature_c, share)


def mounting_derating(text: str) -> tuple[tuple[str, float], ...]:
    """Paths of mounting with the share of the power that each leaves: ``upside down: 80 %; dust filter: 90 %``.

    A share alone is that of the mounting as a whole.
    """
    found = []
    for item in normalised(text).rstrip("; ").split(";"):
        name, _, left = item.rpartition(":")
        found.append((" ".join(name.split()) or "mounting", positive_share(left)))
    return tuple(found)


def rerating(text: str) -> tuple[tuple[float, float], ...]:
    """Points (ambient in °C, share of the rating), which may be over 100 % in the cold."""
    return falling_points(text, temperature_c, any_share)


def efficiency(text: str) -> tuple[tuple[float, float], ...]:
    """Points (share of rated power, efficiency); a single value is one point at full power."""
    if ":" not in text:
        return ((1.0, positive_share(text)),)
    return points(text, share, positive_share)


@cache
def _unit_of(unit: str) -> tuple[str, float] | None:
    """Dimension and size of a unit as it is written; None where it is not known."""
    unit = _SPELLINGS.get(unit, unit)
    # Words have a plural, symbols none: kAs are not kiloamperes.
    for name, plural in ((unit, False), (unit.removesuffix("s"), True)):
        for prefix, times in (("", 1.0), *_PREFIXES.items()):
            base = name.removeprefix(prefix)
            known = _PREFIXED.get(base) or (None if prefix else _PLAIN.get(base))
            if known and name.startswith(prefix) and not (plural and (len(base) < 2 or not base.islower())):
                return known[0], known[1] * times
    return None


def _fits(unit: str, dimension: str) -> bool:
    found = _unit_of(unit)
    return found is not None and found[0] == dimension


def _convert(value: float, unit: str, dimension: str) -> float:
    found = _unit_of(unit)
    assert found is not None and found[0] == dimension  # ``_fits`` was asked before
    if found[1] != 1.0:
        value *= found[1]
    if dimension == "temperature":  # scales with different zeros
        value += _ZERO_C[_SPELLINGS.get(unit, unit).removesuffix("s")]
    return float(f"{value:.14g}")  # 350 mm is 0.35 m, not 0.35000000000000003


def _number_and_unit(text: str) -> tuple[float, str]:
    text = normalised(text)
    if not text:
        raise UnreadableValue("it is empty")
    match = _SIGNED.fullmatch(text)
    if not match:
        if re.match(r"[+-]?\s*(?:nan|inf)", text, re.IGNORECASE):
            raise UnreadableValue("it is not a finite number")
        raise UnreadableValue("it does not begin with a number")
    value = number(match[2])
    return (-value if match[1] == "-" else value), _unit(match[3])


def _unit(text: str) -> str:
    text = text.strip()
    if re.search(r"(?:^|[\sAV])AC$", text):
        raise UnreadableValue("it is a value for alternating current")
    text = re.sub(r"(?<=[AV])\s?(?:DC|dc)$", "", text)
    if "%" in text and text != "%":
        raise UnreadableValue("what follows the number is not a unit")
    if text and (not _UNIT.fullmatch(text) or (" " in text and text not in _SPELLINGS)):
        raise UnreadableValue("what follows the number is not a unit")
    return text


def _quantity(text: str, dimension: str, *, zero: bool = False, negative: bool = False) -> float:
    value, unit = _number_and_unit(text)
    if not _fits(unit, dimension):
        raise UnreadableValue(_no_unit(unit, dimension))
    return _in_range(_convert(value, unit, dimension), dimension, zero=zero, negative=negative)


def _no_unit(unit: str, dimension: str | None) -> str:
    wanted = f", such as {_EXAMPLES[dimension]}" if dimension else ""
    if not unit:
        return f"it has no unit{wanted}"
    kind = known[0] if (known := _unit_of(unit)) else None
    what = f"{quoted(unit)} is a unit of {kind}" if kind else f"{quoted(unit)} is not a known unit"
    return f"{what}{', not of ' + dimension if kind and dimension else wanted}"


def _in_range(value: float, dimension: str, *, zero: bool, negative: bool = False) -> float:
    if negative:
        if value < ABSOLUTE_ZERO_C:
            raise UnreadableValue("it is below absolute zero")
    elif value < 0.0:
        raise UnreadableValue("it is negative")
    if value == 0.0 and not zero:
        raise UnreadableValue("0 has no meaning here")
    if not value <= GREATEST[dimension] or (not negative and 0.0 < abs(value) < LEAST_MAGNITUDE):
        raise UnreadableValue("no harness has a value of that size")
    return value


def _band(text: str, dimension: str, *, zero: bool) -> Band:
    text = normalised(text)
    if match := _PLUS_MINUS.fullmatch(text):
        nominal = _quantity(match[1], dimension, zero=zero)
        width = _deviation(match[2], nominal, dimension)
        band = Band(nominal, nominal - width, nominal + width)
    elif match := _PLUS_AND_MINUS.fullmatch(text):
        if match[2] == match[5]:
            raise UnreadableValue("it gives the same side of the tolerance twice")
        nominal = _quantity(match[1], dimension, zero=zero)
        first = _deviation(f"{match[3]} {match[4] or match[7]}", nominal, dimension)
        second = _deviation(f"{match[6]} {match[7] or match[4]}", nominal, dimension)
        above, below = (first, second) if match[2] == "+" else (second, first)
        band = Band(nominal, nominal - below, nominal + above)
    elif match := _RANGE.fullmatch(text):
        upper = _quantity(match[2], dimension, zero=zero)
        unit = _number_and_unit(match[2])[1] if re.fullmatch(_NUMBER, match[1]) else ""
        lower = _quantity(f"{match[1]} {unit}", dimension, zero=zero)
        if lower > upper:
            raise UnreadableValue("its lower end is above its upper end")
        band = Band((lower + upper) / 2, lower, upper)
    else:
        return Band.exact(_quantity(text, dimension, zero=zero))
    for end in (band.lower, band.upper):
        _in_range(end, dimension, zero=zero)
    return band


def _deviation(text: str, nominal: float, dimension: str) -> float:
    value, unit = _number_and_unit(text)
    if _fits(unit, "share"):
        return nominal * _in_range(_convert(value, unit, "share"), "share", zero=True)
    return _quantity(text, dimension, zero=True)
