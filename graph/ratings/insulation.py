"""The temperature that a conductor's insulation withstands, read from the text of its field ``Insulation``.

A text names a material, a class or style of wire, a temperature, or several of these that agree. A number is read
with its unit: only a number in °C, °F or K is a temperature, and a number in V, kV, mm, mm², A or AWG never is. A
bare number is a temperature only beside a material, and only where it is one of the classes that wire of this
material is made in (``XLPE 90``). The class stays unknown where the text can't be understood, contradicts itself,
or states a temperature that the material is not made for: ``problem`` says why, and nothing is rated by it.

==============================  ================================================================================
Text                            Read as
==============================  ================================================================================
``PVC 70 °C``, ``105 °C``       the temperature; with a material it must lie in the material's range
``221 °F``, ``378 K``           the same, in °C
``PVC 450/750 V 70 °C``         70 °C; the voltage is passed over, as are ``2.5 mm²``, ``3x1.5``, ``AWG 18``
``PVC``                         the material's class where none is stated (table below), told as assumed
``XLPE 90``                     90 °C, one of the classes of the material
``class B``                     ISO 6722 / ISO 19642 class (E to H only with the standard's name beside it: IEC
                                60085 has cooler classes of the same letters; a letter beside a word such as
                                ``stranding`` or ``fire`` is a class of something else)
``style 1007``, ``UL 1015``     the style's temperature; a number alone is no style (``RAL 1015`` is a colour)
``H05V-K``, ``H07RN-F``         the class of the insulation's letters in the type code (HD 361)
``THWN-2``, ``TXL``             the class of the type (NEC letters, SAE J1128), in capitals
``-40…105 °C``                  105 °C; a temperature at or below 0 °C is the lowest one that the wire stands
``PVC 70 °C 105 °C``            unknown: the temperatures contradict each other
``PVC 150 °C``, ``PE``, ``105`` unknown: outside the material's range; not a known material; no unit
``PVC 90 pairs``                unknown: beside a word that is not known a bare number is no class
``short circuit 250 °C``        unknown: the temperature is not that of continuous service
==============================  ================================================================================
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache

from loadloom.graph.model.elements import Conductor, Track
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.catalogue import BASES

COPPER_ZERO_RESISTANCE_C = -234.5
"""IEC 60949; also AC 43.13-1B, note to the length correction."""

ADIABATIC_COPPER_AS05_PER_MM2 = 226.0
"""K of copper, IEC 60949."""

COOLEST_CLASS_C, WARMEST_CLASS_C = 60.0, 260.0
"""The coolest class of wire (rubber, and NEC column) and the warmest (nickel-plated copper, AC 21-99)."""

CLASSES_C = (60, 70, 75, 80, 85, 90, 100, 105, 110, 125, 150, 155, 175, 180, 200, 225, 250, 260)
"""Temperatures by which wire is sold: what a bare number beside a material may be. Common practice."""

STATED = "stated in the drawing"

SAME_CLASS_K = 0.6
"""Two statements that differ by less are the same class, rounded in another unit (176 °F is 80 °C)."""

PLATINGS_C = {"tin": 150.0, "silver": 200.0, "nickel": 260.0}
"""What plated copper stands; AC 21-99 (Australia), section 2 chapter 1."""

TOO_LONG = 400
"""Characters; a longer text is prose."""

MOST_TEXTS = 1024
"""Texts of insulation, each with a section, of which the reading is kept."""


TRACK_FINAL_C = 160.0
"""What a track may reach in a short circuit of at most 5 s: that of soldered joints (IEC 60949), below what solder
melts at. Ours: no limit is published for boards."""


@dataclass(frozen=True, slots=True)
class Insulation:
    """What a conductor's insulation stands.

    ``limit_c`` is the greatest continuous conductor temperature in °C, ``k_as05_per_mm2`` the adiabatic constant
    k of copper in it (A·s^0.5/mm², from the limit up to the short-circuit limit; None where none can be said).
    ``assumed`` marks a limit that the drawing does not state; ``note`` says what was assumed. ``problem`` says why
    the class is not known; the limit is then a stand-in that nothing may be rated by.
    """

    name: str
    limit_c: float
    k_as05_per_mm2: float | None
    assumed: bool
    source: str
    note: str = ""
    check_edition: bool = False
    problem: str | None = None


@dataclass(frozen=True, slots=True)
class KnownClass:
    """A name that a field Insulation may hold, for the list that users see. Temperatures in °C.

    ``alone_c`` is the class where the text states no temperature; ``coolest_c`` and ``warmest_c`` bound what may be
    stated beside the name.
    """

    name: str
    alone_c: float
    coolest_c: float
    warmest_c: float
    status: str
    source: str


def insulation_of(conductor: Conductor, settings: AnalysisSettings) -> Insulation:
    """The insulation of a conductor; see ``insulation_named``. PVC over 300 mm² has the lower k.

    A conductor that is stated to be tinned stands no more than tin does (AC 21-99), whatever its insulation, unless
    the text names another plating (``PTFE 200 °C silver-plated``).
    What a track lies on is its board.
    """
    if conductor.track is not None:
        return _board(conductor.track, settings)
    area_mm2 = conductor.gauge.area_mm2 if conductor.gauge else None
    found = insulation_named(conductor.insulation, settings, area_mm2)
    tin_c, other = PLATINGS_C["tin"], _PLATING.search(conductor.insulation or "")
    tinned = conductor.make.over(settings.make).tinned and (other is None or other.group(1).lower() == "tin")
    if found.problem is None and found.limit_c > tin_c + SAME_CLASS_K and tinned:
        why = f"says {found.limit_c:.4g} °C, more than the {tin_c:g} °C that the stated tin plating withstands"
        return _unknown(f"insulation “{_shown(found.name)}” {why}", settings, area_mm2)
    return found


def _board(track: Track, settings: AnalysisSettings) -> Insulation:
    """A board as the insulation of its tracks: its limit, and what its copper may reach in a short circuit."""
    if track.limit_c is None:
        return _unknown("the limit of its board is not stated", settings, None)
    k = adiabatic_k_as05_per_mm2(track.limit_c, max(TRACK_FINAL_C, track.limit_c))
    return Insulation(f"board of {track.limit_c:g} °C", track.limit_c, k, False, "stated in the drawing")


def insulation_named(text: str | None, settings: AnalysisSettings, area_mm2: float | None = None) -> Insulation:
    """The insulation that a field's text names; the module's docstring says which texts are understood.

    With no text at all: ``settings.insulation_default_c``, else the coolest class of the basis, marked ``assumed``
    and a ``problem``, since nobody stated it.
    """
    if text is not None and text.strip():
        return _read(text.strip(), settings, area_mm2)
    if settings.insulation_default_c is not None:
        limit_c = settings.insulation_default_c
        note = f"no insulation is stated: {limit_c:g} °C, the settings' default"
        return Insulation(
            f"{limit_c:g} °C", limit_c, _k(None, limit_c, area_mm2)[0], True, "the settings' default", note
        )
    return _unknown("no insulation is stated", settings, area_mm2)


def adiabatic_k_as05_per_mm2(initial_c: float, final_c: float) -> float | None:
    """k of copper between two temperatures, 226·√(ln((234.5 + T₂)/(234.5 + T₁))), in A·s^0.5/mm² (IEC 60949).

    None where the final temperature is not above the initial one.
    """
    if final_c <= initial_c:
        return None
    zero = -COPPER_ZERO_RESISTANCE_C
    return ADIABATIC_COPPER_AS05_PER_MM2 * math.sqrt(math.log((zero + final_c) / (zero + initial_c)))


def known_classes() -> tuple[KnownClass, ...]:
    """Every material, class and style that a field Insulation may name, with its source."""
    found = [
        KnownClass(
            row["material"],
            float(row["alone_c"]),
            float(row["coolest_c"]),
            float(row["warmest_c"]),
            row["status"],
            tables.citation(row["source_id"]),
        )
        for row in tables.rows("insulation_ranges")
    ]
    for row in tables.rows("insulation_classes"):
        limit_c = float(row["limit_c"])
        name = row["insulation_class"]
        if name.startswith("class "):
            name = f"ISO 6722 class {name[-1].upper()}"
        source = tables.citation(row["source_id"]) or "no source"
        found.append(KnownClass(name, limit_c, limit_c, limit_c, row["status"], source))
    for row in tables.rows("insulation_types"):
        limit_c = float(row["limit_c"])
        name, source = f"H05{row['letters']}-K", tables.citation(row["source_id"])
        found.append(KnownClass(name, limit_c, limit_c, limit_c, row["status"], source))
    return tuple(found)


def known_classes_page() -> str:
    """The list of known materials, classes and styles, as Markdown: a page of the documentation."""
    lines = [
        "# What a field `Insulation` may name",
        "",
        "A temperature alone is read as well: `105 °C`, `221 °F`, `378 K`. Numbers in V, kV, mm, mm², A or AWG are",
        "passed over. Anything else is a finding (`insulation-unknown`), and no table rates the conductor.",
        "",
        "| Name | Class with no temperature beside it | A temperature beside it may be | Status | Source |",
        "|---|---|---|---|---|",
    ]
    for known in known_classes():
        several = known.coolest_c < known.warmest_c
        stated = f"{known.coolest_c:g} to {known.warmest_c:g} °C" if several else f"{known.alone_c:g} °C"
        lines.append(f"| {known.name} | {known.alone_c:g} °C | {stated} | {known.status} | {known.source} |")
    return "\n".join(lines) + "\n"


# ---- reading a text --------------------------------------------------------------------------------------------


class _NotKnownError(ValueError):
    """A text that does not tell the class; the message says why."""


@dataclass(frozen=True, slots=True)
class _Claim:
    """A statement of the class: its temperature in °C, the words that made it, and its source."""

    limit_c: float
    words: str
    source: str
    material: str | None = None
    check_edition: bool = False


_NUMBER = r"\d+(?:[.,]\d+)?"
_JOINED = rf"[+-]?{_NUMBER}(?:\s*(?:/|\.\.\.?|…|-|~|\bto\b|\bbis\b)\s*[+-]?{_NUMBER})*"
"""Numbers that share one unit: ``450/750``, ``-40…105``."""
_CELSIUS = r"°\s*C\b|o\s?C\b|deg(?:rees?)?\.?\s*C(?:elsius)?\b|Celsius\b|C\b"
_FAHRENHEIT = r"°\s*F\b|deg(?:rees?)?\.?\s*F(?:ahrenheit)?\b|Fahrenheit\b|F\b"
_OTHER_UNITS = (
    r"[kmM]?V(?:\s*(?:AC|DC|rms|RMS))?\b|[kKmM]?V[aAdDrR][cCmM][sS]?\b|volts?\b"
    r"|(?:sq\.?\s*)?mm(?:2|²|\^2)?|qmm\b|[cµu]?m\b|µm|in(?:ch)?\b|inches\b|\"|ft\b|mils?\b|kcmil\b|MCM\b"
    r"|[mk]?A\b|AWG\b|ga(?:uge)?\b|%|[mk]?Ω|[mk]?ohms?\b|cores?\b|wires?\b|[kM]?Hz\b|[kM]?N\b|kg\b|g\b|[mk]?W\b|strands?\b"
)
_MEASURE = re.compile(
    rf"(?<!\w)(?<!\d[.,])(?P<numbers>{_JOINED})\s*(?:(?P<celsius>{_CELSIUS})|(?P<fahrenheit>{_FAHRENHEIT})"
    rf"|(?P<kelvin>K\b)|(?P<other>{_OTHER_UNITS}))",
    re.IGNORECASE,
)
_SIGNED = re.compile(rf"([+-]?)({_NUMBER})")
_RANGE = re.compile(r"\.\.\.?|…|(?<=\d)\s*-|~|\bto\b|\bbis\b")
_FLAME_TEST = re.compile(r"\b(?:VW|FT)-?\d\b", re.IGNORECASE)
"""Marks of flame tests, whose digit means nothing else."""
_AWG_BEFORE = re.compile(r"\bAWG\s*[#-]?\s*\d+(?:/0)?\b", re.IGNORECASE)
_COUNT_TIMES_SIZE = re.compile(
    rf"(?<![\w.,])\d+\s*[x×xG]\s*{_NUMBER}(?:\s*(?:mm2|mm²|mm\^2|mm|AWG)\b)?", re.IGNORECASE
)
_STANDARD = re.compile(
    r"\b(?:ISO|IEC|EN|VDE|DIN|SAE|BS|HD|NFPA|NF|CSA|ASTM|JIS|GB|UL)(?:[\s/-]+(?:EN|IEC|VDE|DIN|ISO|HD))*[\s-]*"
    r"[A-Z]?\d{2,}(?:[-/]\d+)*(?!\s*(?:°|deg|[CFKV]\b|[km]V))"
    r"|\bM(?:IL)?-?[A-Z]*-?\d{4,}(?:[-/]\d+)*",
    re.IGNORECASE,
)
_CLASS = re.compile(
    r"(?P<standard>\bISO\s*-?(?:6722|19642)(?:-\d+)?\s+)?\bclass\s+(?P<letter>[a-h])\b", re.IGNORECASE
)
_STYLE = re.compile(r"\b(?:(?:style|UL|AWM)[\s-]*)+(?P<number>\d{4,5})\b(?![.,/]?\d)", re.IGNORECASE)
_TYPE = re.compile(r"\b[HA]\s?0[1357]\s?(?P<letters>[A-Z][1-8]?)[A-Z0-9]*(?:\s?-\s?[A-Z])?\b", re.IGNORECASE)
_BARE = re.compile(rf"(?<![\w.,])(?P<sign>[+-]?)(?P<number>{_NUMBER})(?!\w|[.,]\d)")
_PLATING = re.compile(r"\b(tin|silver|nickel)(?:ned)?(?:[- ]?plated|[- ]?coated)?\b", re.IGNORECASE)

_COLOUR = re.compile(r"\bRAL\s*-?\d{4}\b", re.IGNORECASE)
"""Colours by number, which look like numbers of styles."""

_NOT_CONTINUOUS = re.compile(
    r"\b(?:short[\s-]?(?:circuit|time|term)\w*|emergency|overload\w*|peak|melt\w*|solder\w*|ambient|storage"
    r"|intermittent\w*|transient\w*|surge|ignition|flash|kurzschlu(?:ss|ß)\w*)\b",
    re.IGNORECASE,
)
"""Words of temperatures that a wire does not stand all the time."""

_OTHER_CLASS = re.compile(r"strand|flex|fire|flame|reaction|conductor", re.IGNORECASE)
"""Words of what has classes by letter as well: ASTM B8 and B172 (stranding), EN 13501-6 (fire)."""

_WORD = re.compile(r"[^\W\d_]+")
_BESIDE_A_CLASS = re.compile(
    r"insulat(?:ion|ed)|isolation|rubber|poly(?:ethylene|olefin)|chloride|propylene|wire|cable|class|rated|max"
    r"|temp(?:erature)?|deg(?:rees?)?",
    re.IGNORECASE,
)
"""Words that may stand beside a bare number that is a class, with the names of materials and platings."""

LETTERS_WITHOUT_STANDARD = frozenset("abcd")
"""Classes of ISO 6722 that are no warmer than those of IEC 60085 with the same letter (IEC 60085 from memory)."""


def _read(text: str, settings: AnalysisSettings, area_mm2: float | None) -> Insulation:
    found = _understood(text, area_mm2)
    return found if isinstance(found, Insulation) else _unknown(found, settings, area_mm2)


@lru_cache(maxsize=MOST_TEXTS)
def _understood(text: str, area_mm2: float | None) -> Insulation | str:
    """What a text says, read once for all conductors that bear it; or why nobody knows."""
    try:
        claims, materials, plating_c = _claims(text)
        return _settled(text, claims, materials, plating_c, area_mm2)
    except _NotKnownError as reason:
        return f"insulation “{_shown(text)}” {reason}"


def _unknown(why: str, settings: AnalysisSettings, area_mm2: float | None) -> Insulation:
    """A class that nobody knows, with a stand-in for what is computed all the same."""
    info = BASES.get(settings.basis)
    limit_c, whence = settings.insulation_default_c, "the settings' default"
    if limit_c is None:
        limit_c, whence = (
            (info.coolest_c if info else COOLEST_CLASS_C),
            f"the coolest class of basis {settings.basis}",
        )
    note = f"{why}: {limit_c:g} °C, {whence}, stands in"
    k, _ = _k(None, limit_c, area_mm2)
    return Insulation(f"{limit_c:g} °C", limit_c, k, True, whence, note, problem=why)


def _claims(text: str) -> tuple[list[_Claim], list[str], float | None]:
    """What a text claims: classes of wire, the materials that it names, and what its plating stands in °C."""
    if len(text) > TOO_LONG:
        raise _NotKnownError(f"is {len(text)} characters long")
    rest = _COLOUR.sub(" ", _plain(text))
    claims: list[_Claim] = []
    for match in _CLASS.finditer(rest):
        claims.append(_of_class(match, rest))
    rest = _CLASS.sub(" ", rest)
    claims.extend(_types(rest))
    rest = _TYPE.sub(" ", rest)
    claims.extend(_named(match.group(0), match.group(0)) for match in _lettered().finditer(rest))
    rest = _lettered().sub(" ", rest)
    materials = _materials(rest)
    plating_c = min((PLATINGS_C[m.group(1).lower()] for m in _PLATING.finditer(rest)), default=None)
    rest = _AWG_BEFORE.sub(" ", _FLAME_TEST.sub(" ", rest))
    for match in _MEASURE.finditer(rest):
        claims.extend(_temperatures(match))
    rest = _MEASURE.sub(" ", rest)
    rest = _COUNT_TIMES_SIZE.sub(" ", rest)
    claims.extend(_styles(rest))
    rest = _STYLE.sub(" ", _STANDARD.sub(" ", rest))
    claims.extend(_bare(rest, materials, stated=bool(claims)))
    odd = _NOT_CONTINUOUS.search(rest)
    if odd is not None and any(claim.source == STATED for claim in claims):
        raise _NotKnownError(f"says “{odd.group(0)}” beside its temperature, which then is not the continuous one")
    return claims, materials, plating_c


def _settled(
    text: str,
    claims: list[_Claim],
    materials: list[str],
    plating_c: float | None,
    area_mm2: float | None,
) -> Insulation:
    """One class from all claims, or ``_NotKnownError``."""
    if not claims and not materials:
        raise _NotKnownError("is not known")
    if not claims and len(materials) > 1:
        raise _NotKnownError(f"names {' and '.join(materials)} and no temperature")
    if max((c.limit_c for c in claims), default=0.0) - min((c.limit_c for c in claims), default=0.0) > SAME_CLASS_K:
        words = " and ".join(dict.fromkeys(f"{c.words} ({c.limit_c:.4g} °C)" for c in claims))
        raise _NotKnownError(f"contradicts itself: {words}")
    for name in materials:
        row = _range_of(name)
        coolest_c, warmest_c = float(row["coolest_c"]), float(row["warmest_c"])
        for claim in claims:
            if not coolest_c - SAME_CLASS_K <= claim.limit_c <= warmest_c + SAME_CLASS_K:
                raise _NotKnownError(
                    f"says {claim.limit_c:.4g} °C, and {name} is made for {coolest_c:g} to {warmest_c:g} °C"
                )
    for claim in claims:
        if not COOLEST_CLASS_C - SAME_CLASS_K <= claim.limit_c <= WARMEST_CLASS_C + SAME_CLASS_K:
            raise _NotKnownError(
                f"says {claim.limit_c:.4g} °C, and classes of wire lie between {COOLEST_CLASS_C:g} and "
                f"{WARMEST_CLASS_C:g} °C"
            )
    plated = plating_c is not None and any(c.limit_c > plating_c + SAME_CLASS_K for c in claims)
    if plated:
        raise _NotKnownError(f"says more than the {plating_c:g} °C that its plating withstands")
    if not claims:
        return _of_material(text, materials[0], plating_c, area_mm2)
    limit_c = min(c.limit_c for c in claims)
    named = [*materials, *(c.material for c in claims if c.material)]
    ks = [_k(name, limit_c, area_mm2) for name in dict.fromkeys(named)] or [_k(None, limit_c, area_mm2)]
    # The least k of several materials counts; one that is not known leaves k unknown.
    k, note = min(ks, key=lambda pair: -1.0 if pair[0] is None else pair[0])
    sources = "; ".join(dict.fromkeys(c.source for c in claims))
    return Insulation(text, limit_c, k, False, sources, note, any(c.check_edition for c in claims))


def _plain(text: str) -> str:
    """One spelling for signs that look alike."""
    text = text.replace("º", "°").replace("˚", "°").replace("²", "2")
    text = unicodedata.normalize("NFKC", text)
    for odd in ("−", "–", "—", "‑", "‐"):
        text = text.replace(odd, "-")
    text = text.replace("μ", "µ").replace("crosslinked", "cross-linked").replace("Crosslinked", "cross-linked")
    return " ".join(text.split())


def _materials(text: str) -> list[str]:
    """The known materials that a text names; ``rubber`` only where no kind of rubber is named."""
    found = [
        row["material"]
        for row in tables.rows("insulation_ranges")
        if re.search(rf"(?<![a-z])(?:{row['words']})(?![a-z])", text, re.IGNORECASE)
    ]
    return [name for name in found if name != "rubber"] or found


def _of_class(match: re.Match[str], text: str) -> _Claim:
    letter = match.group("letter").lower()
    alone = letter in LETTERS_WITHOUT_STANDARD and not _OTHER_CLASS.search(text)
    if not match.group("standard") and not alone:
        raise _NotKnownError(
            f"differs between standards: write ISO 6722 class {letter.upper()}, or the temperature"
        )
    return _named(f"class {letter}", match.group(0).strip())


def _named(name: str, words: str) -> _Claim:
    row = next(r for r in tables.rows("insulation_classes") if r["insulation_class"] == name)
    return _Claim(
        float(row["limit_c"]),
        words,
        tables.citation(row["source_id"]) if row["source_id"] else "value from memory",
        row["material"] or None,
        tables.needs_edition_check(row["source_id"], row["status"]),
    )


def _temperatures(match: re.Match[str]) -> Iterator[_Claim]:
    """The temperatures of numbers that share one unit; a lowest working temperature claims no class."""
    if match.group("other"):
        return
    signed = [(sign, float(digits.replace(",", "."))) for sign, digits in _signed(match.group("numbers"))]
    values_c = [_celsius(-value if sign == "-" else value, match) for sign, value in signed]
    if (
        len(values_c) == 2
        and _RANGE.search(match.group("numbers"))
        and values_c[0] < COOLEST_CLASS_C - SAME_CLASS_K
    ):
        values_c = values_c[1:]  # “20…105 °C”: from the least to the greatest
    for value_c in values_c:
        if value_c > 0:
            yield _Claim(value_c, match.group(0).strip(), STATED)


def _signed(numbers: str) -> list[tuple[str, str]]:
    """Sign and digits of joined numbers; a dash right after a number joins, and is no sign."""
    found = []
    for match in _SIGNED.finditer(numbers):
        sign = match.group(1)
        before = numbers[: match.start()].rstrip()
        joins = sign == "-" and bool(before) and before[-1].isdigit()
        found.append(("" if joins else sign, match.group(2)))
    return found


def _celsius(value: float, match: re.Match[str]) -> float:
    if match.group("fahrenheit"):
        return (value - 32.0) / 1.8
    return value - 273.15 if match.group("kelvin") else value


def _styles(text: str) -> Iterator[_Claim]:
    """Styles of wire by number; a number that is not known counts for nothing."""
    known = {row["insulation_class"] for row in tables.rows("insulation_classes")}
    for match in _STYLE.finditer(text):
        name = f"style {match.group('number')}"
        if name in known:
            yield _named(name, match.group(0).strip())


def _types(text: str) -> Iterator[_Claim]:
    """Harmonised type codes whose insulation letters are known."""
    known = {row["letters"]: row for row in tables.rows("insulation_types")}
    for match in _TYPE.finditer(text):
        row = known.get(match.group("letters").upper())
        if row is not None:
            source = tables.citation(row["source_id"])
            words = match.group(0).strip()
            yield _Claim(float(row["limit_c"]), words, source, row["material"], check_edition=True)


@cache
def _lettered() -> re.Pattern[str]:
    """Types of wire that have a name of capitals: ``THWN-2`` before ``THWN``."""
    names = [row["insulation_class"] for row in tables.rows("insulation_classes")]
    capitals = sorted((name for name in names if name.isupper()), key=len, reverse=True)
    return re.compile(rf"(?<![\w-])(?:{'|'.join(map(re.escape, capitals))})(?![\w-])")


def _bare(rest: str, materials: list[str], *, stated: bool) -> Iterator[_Claim]:
    """Numbers without a unit: a class of the material beside which they stand; else the text is not understood.

    Where the class is stated otherwise a number that is no class (a size, a count) counts for nothing.
    """
    for match in _BARE.finditer(rest):
        if match.group("sign") == "-":
            continue
        value = float(match.group("number").replace(",", "."))
        if value in CLASSES_C and (stated or (materials and _beside_material(rest, match))):
            yield _Claim(value, match.group(0).strip(), STATED)
        elif not stated:
            raise _NotKnownError(f"has the number {match.group('number')} without a unit")


def _beside_material(rest: str, match: re.Match[str]) -> bool:
    """Whether no word stands beside a bare number that may make it a count, a length or a part number.

    The word before counts across a comma or bracket too (``Shore A: 90``); behind one something new begins.
    """
    after = re.split(r"[,;()\[\]|]", rest[match.end() :])[0]
    words = [*_WORD.findall(rest[: match.start()])[-1:], *_WORD.findall(after)[:1]]
    known = (_BESIDE_A_CLASS.fullmatch(word) or _PLATING.fullmatch(word) or _materials(word) for word in words)
    return all(map(bool, known))


# ---- classes and k ---------------------------------------------------------------------------------------------

# Where only a temperature is known, the conductor may be in the insulation with the lowest short-circuit limit
# of that class: 160 °C (PVC, soldered joints) up to 150 °C, 250 °C (ETFE) above. IEC 60949 gives no such rule.
_UNKNOWN_FINAL_C = ((150.0, 160.0), (math.inf, 250.0))


def _range_of(material: str) -> tables.Row:
    return next(r for r in tables.rows("insulation_ranges") if r["material"] == material)


def _of_material(text: str, material: str, plating_c: float | None, area_mm2: float | None) -> Insulation:
    """A material with no temperature beside it: the class of the table, told as assumed where there are others."""
    row = _range_of(material)
    limit_c = float(row["alone_c"])
    coolest_c, warmest_c = float(row["coolest_c"]), float(row["warmest_c"])
    if (
        material == "ETFE"
        and plating_c == PLATINGS_C["silver"]
        and re.search(r"cross-linked|xl?-", text, re.IGNORECASE)
    ):
        limit_c = PLATINGS_C["silver"]  # AC 21-99 (Australia): cross-linked ETFE, silver-plated
        return Insulation(text, limit_c, _k(material, limit_c, area_mm2)[0], False, tables.citation("S37"))
    if plating_c is not None and plating_c < limit_c:
        raise _NotKnownError(f"names {material} of {limit_c:g} °C, and its plating withstands {plating_c:g} °C")
    k, note = _k(material, limit_c, area_mm2)
    check_edition = tables.needs_edition_check(row["source_id"], row["status"])
    several = coolest_c < warmest_c
    if several:
        note = (
            f"no temperature is stated for {material}, which is made for {coolest_c:g} to {warmest_c:g} °C: "
            f"{limit_c:g} °C is assumed"
        )
    source = tables.citation(row["source_id"])
    return Insulation(text, limit_c, k, several, source, note, check_edition and several)


def _k(material: str | None, limit_c: float, area_mm2: float | None) -> tuple[float | None, str]:
    """k in A·s^0.5/mm², and a phrase on what was assumed for it."""
    group = [r for r in tables.rows("insulation_materials") if r["material"] == material]
    finals = [(tables.number(r, "limit_c") or 0.0, tables.number(r, "final_c")) for r in group]
    known = [(limit, final) for limit, final in finals if final is not None]
    if not known:
        final_c = next(final for upto, final in _UNKNOWN_FINAL_C if limit_c <= upto)
        what = (
            f"no short-circuit limit is published for {material}" if material else "insulation material not stated"
        )
        return adiabatic_k_as05_per_mm2(limit_c, final_c), f"{what}: {final_c:g} °C"
    if material == "PVC" and area_mm2 is not None and area_mm2 > 300.0:
        return adiabatic_k_as05_per_mm2(limit_c, 140.0), ""
    for row in group:
        if tables.number(row, "limit_c") == limit_c and tables.number(row, "k_published_as05_per_mm2"):
            return tables.number(row, "k_published_as05_per_mm2"), ""
    # Between two classes of a material the lower short-circuit limit is the safe one.
    return adiabatic_k_as05_per_mm2(limit_c, min(final for _, final in known)), ""


def _shown(text: str) -> str:
    return f"{text[:59]}…" if len(text) > 60 else text
