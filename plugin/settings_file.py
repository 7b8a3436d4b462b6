"""The settings file ``loadloom.toml``: everything that can be set, read once, refused where it is not understood.

Values with a unit are texts (``"20 °C"``), as in the drawing. Each is read by its own dimension and range:
``"5 A"`` for a length, ``"1e308 kA"`` or ``"-5 m"`` end the run with one sentence that names file, line and key.
Unknown keys are refused, naming the nearest known one. Every key is optional.
What each key means is in ``SETTINGS.md`` beside this module; a test holds that no key is missing there.
"""

from __future__ import annotations

import dataclasses
import datetime
import difflib
import enum
import fnmatch
import re
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from pathlib import Path, PurePath
from typing import Any

from loadloom.graph.model.elements import Band, Make
from loadloom.graph.model.findings import Acceptance, Assigned, Severity
from loadloom.graph.model.naming import with_article
from loadloom.graph.model.settings import (
    FACES,
    Ambient,
    AnalysisSettings,
    Case,
    ContactType,
    Curve,
    CurvePoint,
    DesignSettings,
    Enclosure,
)
from loadloom.graph.model.value_units import VALUE_UNITS
from loadloom.graph.ratings.insulation import COOLEST_CLASS_C, WARMEST_CLASS_C
from loadloom.plugin import values
from loadloom.plugin.drawing_settings import BUILT_IN_LENGTH_M, DrawingSettings, NetValues, WireValues
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.roles import FIELDS, Role, RoleRule, RoleRules, role_of_word
from loadloom.plugin.settings_csv import AMBIENT_C, HOT_C, MULTIPLES, read_ampacities, read_curve
from loadloom.plugin.toml_table import (
    Table,
    as_bool,
    as_each,
    as_name,
    as_number,
    as_plain_text,
    as_text,
    as_texts,
    count_to,
    number_within,
    one_of,
    read_toml,
)
from loadloom.plugin.values import UnreadableValue

_WIRE_READERS: Mapping[str, tuple[str, Callable[[str], Any]]] = {
    "gauge": ("gauge", values.gauge),
    "length": ("length_m", values.length_m),
    "insulation": ("insulation", as_name),
    "bundle": ("bundle", as_name),
    "zone": ("zone", as_name),
    "rating": ("own_rating_a", values.current_a),
    "voltage_rating": ("voltage_rating_v", values.voltage_v),
    "resistance": ("resistance_ohm", values.resistance_band_ohm),
    "terminal": ("terminal_c", values.temperature_c),
    "material": ("material", as_name),
    "layout": ("layout", values.layout),
    "strands": ("strands", values.strands),
    "tinned": ("tinned", values.tinned),
    "class": ("iec_class", values.iec_class),
}
_NO_UNIT = {"strands", "tinned", "class"}
"""What can be written as a bare number, or as true or false."""


def wire_readers() -> Mapping[str, tuple[str, Callable[[str], Any]]]:
    """What can be said of a wire class or net: key, the attribute of ``WireValues``, and how its text is read."""
    return _WIRE_READERS


ANY_POSITIONS = 100_000
"""Number of loaded positions up to which a rating holds that names none."""


def read_settings(path: Path | None, text: str | None = None) -> tuple[AnalysisSettings, DrawingSettings]:
    """The settings in a file; the defaults without one. ``text``: what is about to stand in the file, in its stead.

    Raises:
        UnusableError: the file can't be used; names file, line where known, and key.
    """
    if path is None:
        return AnalysisSettings(), DrawingSettings()
    top = read_toml(path, text)
    given: dict[str, Any] = {"source_file": PurePath(path.name)}
    for key, attribute, take in _PLAIN_KEYS:
        value = take(top, key)
        if value is not None:
            given[attribute] = value
    given["basis_stated"] = "basis" in given
    given["make"] = Make(*(_wire_value(top, key, _WIRE_READERS[key][1]) for key in ("strands", "tinned", "class")))
    given |= _ambients(top)
    given |= _ampacity_table(top)
    given["rule_set_values"] = _rule_values(top)
    given["enclosures"] = {name: _enclosure(table) for name, table in top.named("enclosure").items()}
    given["contact_types"] = {name: _contact_type(name, table) for name, table in top.named("contact").items()}
    given["curves"] = {name: _curve(name, table) for name, table in top.named("curve").items()}
    given["design"] = _design(top)
    given["severity"] = _severities(top)
    given["accepted"] = tuple(_acceptance(table) for table in top.tables("accept"))
    given["assigned"] = tuple(_assigned(table) for table in top.tables("open_point"))
    cases = tuple(_case(name, table) for name, table in top.named("case").items())
    given["cases"] = cases or None
    drawing_settings = _drawing_settings(top)
    top.finish()
    return AnalysisSettings(**given), drawing_settings


def settings_echo(analysis: AnalysisSettings, drawing: DrawingSettings) -> dict[str, Any]:
    """All effective values as plain data, for the report: SI numbers with the unit in the key."""
    echo = _plain(analysis)
    echo["source_file"] = analysis.source_file.name if analysis.source_file else None
    echo["drawing"] = _plain(drawing)
    if drawing.default_length_m is None:
        echo["drawing"]["built_in_length_m"] = BUILT_IN_LENGTH_M
    assert isinstance(echo, dict)
    return echo


def _with_text(parse: Callable[[str], Any]) -> Callable[[Table, str], Any]:
    return lambda table, key: table.text(key, parse)


def _with(parse: Callable[[Any], Any]) -> Callable[[Table, str], Any]:
    return lambda table, key: table.take(key, parse)


def _basis(value: Any) -> str:
    from loadloom.graph.ratings.catalogue import BASES

    return one_of(BASES)(value)


def _resistance_table(value: Any) -> str:
    from loadloom.graph.ratings.resistance import known_tables

    return one_of(known_tables())(value)


def _rule_sets(value: Any) -> tuple[str, ...]:
    from loadloom.graph.rule_books import known_rule_sets

    known = one_of(known_rule_sets())
    return tuple(known(name) for name in as_texts(value))


def _stocked(value: Any) -> tuple[str, ...]:
    return as_each(lambda text: str(values.gauge(text)))(value)


_AMBIENT = values.within(values.temperature_c, *AMBIENT_C, "°C")
_HOT = values.within(values.temperature_c, *HOT_C, "°C")
_INSULATION = values.within(values.temperature_c, COOLEST_CLASS_C, WARMEST_CLASS_C, "°C")


def _contact_resistance(text: str) -> Band:
    """A contact's resistance, new to aged: beyond 1 Ω it is no contact."""
    band = values.resistance_band_ohm(text)
    if band.upper > 1.0:
        raise UnreadableValue("it is more than 1 Ω, which no contact has")
    return band


_PLAIN_KEYS: tuple[tuple[str, str, Callable[[Table, str], Any]], ...] = (
    ("basis", "basis", _with(_basis)),
    ("rules", "rule_sets", _with(_rule_sets)),
    ("conductor_temperature", "conductor_temperature_c", _with_text(_AMBIENT)),
    ("insulation_temperature", "insulation_default_c", _with_text(_INSULATION)),
    ("terminal_temperature", "terminal_default_c", _with_text(_HOT)),
    ("resistance_table", "resistance_table", _with(_resistance_table)),
    ("altitude", "altitude_m", _with_text(values.within(values.distance_m, 0, 100, "km", 1e3))),
    ("margin", "margin", _with_text(values.share_below_one)),
    ("overload_band", "overload_band", _with(number_within(1.0, 3.0))),
    ("fuse_loading", "fuse_loading", _with_text(values.positive_share)),
    ("load_voltage_tolerance", "load_voltage_tolerance", _with_text(values.tolerance)),
    ("touch_voltage", "touch_voltage_v", _with_text(values.within(values.voltage_v, 1e-3, 1500, "V"))),
    ("contact_resistance", "contact_resistance_ohm", _with_text(_contact_resistance)),
    ("length_tolerance", "length_tolerance", _with_text(values.tolerance)),
    ("stocked_sizes", "stocked_sizes", _with(_stocked)),
    ("uneven_sharing", "uneven_sharing", _with(number_within(1.0, 100.0))),
    ("single_open_circuit", "single_open_circuit", _with(as_bool)),
    ("spread_draws", "spread_draws", _with(count_to(1_000_000))),
    ("spread_seed", "spread_seed", _with(count_to(10**9))),
    ("strict", "strict", _with(as_bool)),
    ("decimal_sign", "decimal_sign", _with(one_of((".", ",")))),
)


def _ambients(top: Table) -> dict[str, Any]:
    table = top.table("ambient")
    default = _ambient(table, required=False)
    zones = {}
    for name in table.rest:
        zone = table.table(name)
        zones[name] = _ambient(zone, required=True)
        zone.finish()
    found: dict[str, Any] = {"zones": zones}
    if default is not None:
        found["default_ambient"] = default
    return found


def _ambient(table: Table, *, required: bool) -> Ambient | None:
    least = table.text("min", _AMBIENT)
    most = table.text("max", _AMBIENT)
    if least is None and most is None and not required:
        return None
    if least is None or most is None:
        raise table.refuse("", "needs both min and max")
    if least > most:
        raise table.refuse("min", f"{least:g} °C is above max, {most:g} °C")
    return Ambient(least, most)


def _ampacity_table(top: Table) -> dict[str, Any]:
    name = top.take("ampacity_table", as_name)
    if name is None:
        return {}
    return {"own_table": read_ampacities(_beside(top, name)), "own_table_name": name}


def _rule_values(top: Table) -> dict[str, float]:
    """Values of the rule sets, by the names that these have: with the unit, and with the set's name where given."""
    table = top.table("rule_values")
    if not table.rest:
        return {}
    from loadloom.graph.rule_books import known_values, value_unit

    names = known_values()
    sets = dict.fromkeys(name.rpartition(".")[0] for name in names if "." in name)
    found = {}
    for prefix, group in (("", table), *((f"{name}.", table.table(name)) for name in sets)):
        for name in names:
            own = name.removeprefix(prefix)
            if not name.startswith(prefix) or "." in own:
                continue
            read = values.distance_m if value_unit(name) == "m" else _rule_share(own)
            value = group.text(own.removesuffix("_m"), read)
            if value is not None:
                found[name] = value
        if prefix:
            group.finish()
    table.finish()
    return found


def _rule_share(name: str) -> Callable[[str], float]:
    """Reads a share of a rule book: of a conductor's rating over its load at least 100 %, of a loading at most."""
    if name == "wire_share":
        return values.within(values.any_share, 1.0, 10.0, "(100 % to 1000 %)")
    return values.positive_share


def _design(top: Table) -> DesignSettings:
    table = top.table("design")
    found = DesignSettings(
        together=table.take("together", _sets) or (),
        apart=table.take("apart", _sets) or (),
        alone=table.take("alone", as_texts) or (),
        channels=table.take("channels", as_texts) or (),
        contacts=table.take("contacts", as_texts) or (),
        settable=table.take("settable", as_texts) or (),
        voltage_ratings_v=table.take("voltage_ratings", _ascending(values.voltage_v)) or (),
        breaking_capacities_a=table.take("breaking_capacities", _ascending(values.current_a)) or (),
        thicken_at_most=table.take("thicken_at_most", number_within(1.0, 1000.0))
        or DesignSettings().thicken_at_most,
    )
    table.finish()
    return found


def _ascending(parse: Callable[[str], float]) -> Callable[[Any], tuple[float, ...]]:
    """Reads a list of values with units, in ascending order."""
    return lambda value: tuple(sorted(as_each(parse)(value)))


def _sets(value: Any) -> tuple[tuple[str, ...], ...]:
    if not isinstance(value, list):
        raise UnreadableValue("it is not a list of lists of names")
    return tuple(as_texts(item) for item in value)


def _faces(value: Any) -> tuple[str, ...]:
    known = one_of(FACES)
    return tuple(known(name) for name in as_texts(value))


def _enclosure(table: Table) -> Enclosure:
    found: dict[str, Any] = {
        "surface_m2": table.text("surface", values.within(values.surface_m2, 1e-6, 1e4, "m²")),
        "surface_coefficient_w_per_m2k": table.text(
            "surface_coefficient", values.within(values.surface_coefficient_w_per_m2k, 0.1, 200, "W/(m²K)")
        ),
        "air_flow_m3_per_s": table.text("air_flow", values.within(values.air_flow_m3_per_s, 0, 100, "m³/s")),
        "covered": table.take("covered", _faces),
        "emissivity": table.take("emissivity", number_within(0.02, 1.0)),
        "emissivity_inside": table.take("emissivity_inside", number_within(0.02, 1.0)),
        "sun_w_per_m2": table.text("sun", values.within(values.irradiance_w_per_m2, 0, 1500, "W/m²")),
        "absorptivity": table.take("absorptivity", number_within(0.02, 1.0)),
    }
    sides = [
        table.text(key, values.within(values.length_m, 0.01, 100, "m")) for key in ("width", "height", "depth")
    ]
    table.finish()
    stated = [side for side in sides if side is not None]
    if stated and (len(stated) < 3 or found["surface_m2"] is not None):
        raise table.refuse("", "needs width, height and depth, or surface instead of them")
    if found["covered"] and not stated:
        raise table.refuse(
            "covered", "is for an enclosure of a width, height and depth: leave covered sides out of surface"
        )
    if len(set(found["covered"] or ())) == len(FACES) and not found["air_flow_m3_per_s"]:
        raise table.refuse("covered", "leaves no face free and no air flow, so nothing carries its heat off")
    if len(stated) == 3:
        found["size_m"] = tuple(stated)
    if not stated and found["surface_m2"] is None and found["air_flow_m3_per_s"] is None:
        raise table.refuse("", "needs its size, surface or air_flow, or nothing carries its heat off")
    return Enclosure(**{key: value for key, value in found.items() if value is not None})


def _contact_type(name: str, table: Table) -> ContactType:
    found: dict[str, Any] = {
        "rated_a": table.text("rated", _rated_by_positions),
        "resistance_ohm": table.text("resistance", _contact_resistance),
        "derating": table.text("derating", _contact_derating),
        "rise_k": table.text("rise", values.within(values.temperature_rise_k, 0, 500, "K")),
        "max_c": table.text("max_temperature", _HOT),
        "i2t_a2s": table.text("i2t", values.joule_integral_a2s),
        "wire_area_mm2": table.text("wire_range", values.gauge_range_mm2),
        "source": table.take("source", as_name),
    }
    table.finish()
    return ContactType(name, **{key: value for key, value in found.items() if value is not None})


def _rated_by_positions(text: str) -> tuple[tuple[int, float], ...]:
    if ":" not in text:
        return ((ANY_POSITIONS, values.current_a(text)),)
    found = values.falling_points(text, _positions, values.current_a)
    return tuple((int(n), current_a) for n, current_a in found)


def _contact_derating(text: str) -> tuple[tuple[float, float], ...]:
    return values.falling_points(text, _AMBIENT, values.current_or_zero_a)


def _positions(text: str) -> float:
    text = text.strip()
    if not (text.isascii() and text.isdigit() and int(text[:6]) > 0 and len(text) < 6):
        raise UnreadableValue("a number of loaded positions is a whole number above 0")
    return float(text)


def _curve(name: str, table: Table) -> Curve:
    file = table.take("file", as_name)
    inline = tuple(_curve_point(point) for point in table.tables("points"))
    if (file is None) == (not inline):
        raise table.refuse("", "needs either file or points")
    points = read_curve(_beside(table, file)) if file is not None else inline
    points = tuple(sorted(points, key=lambda point: point.multiple))
    _check_curve(table, points)
    curve = Curve(
        name=name,
        points=points,
        gates=bool(table.take("gates", as_bool)),
        source=table.take("source", as_name) or "stated by the user",
        ambient_c=table.text("ambient", _AMBIENT),
        note=table.take("note", as_text) or "",
        rerating=table.text("rerating", values.rerating) or (),
    )
    table.finish()
    return curve


def _curve_point(table: Table) -> CurvePoint:
    multiple = table.take("multiple", number_within(*MULTIPLES))
    if multiple is None:
        raise table.refuse("", "needs a multiple of the rating")
    point = CurvePoint(multiple, table.text("min", values.delay_s), table.text("max", values.delay_s))
    table.finish()
    return point


def _check_curve(table: Table, points: Sequence[CurvePoint]) -> None:
    last: CurvePoint | None = None
    for point in points:
        if point.min_s is not None and point.max_s is not None and point.min_s > point.max_s:
            raise table.refuse("", f"at {point.multiple:g} × the rating the least time is above the greatest")
        if last is not None and last.multiple == point.multiple:
            raise table.refuse("", f"has two points at {point.multiple:g} × the rating")
        last = point
    for which, times in (
        ("least", [(p.multiple, p.min_s) for p in points if p.min_s is not None]),
        ("greatest", [(p.multiple, p.max_s) for p in points if p.max_s is not None]),
    ):
        for (lower, before_s), (higher, after_s) in pairwise(times):
            if after_s > before_s:
                longer = f"has a longer {which} time at {higher:g} × the rating than at {lower:g} ×"
                raise table.refuse("", longer, "more current never opens a device later")


def _severities(top: Table) -> dict[str, Severity]:
    table = top.table("severity")
    if not table.rest:
        return {}
    from loadloom.graph.verdict.registry import all_rules

    found = {}
    for name in all_rules():
        word = table.take(name, one_of(Severity))
        if word is not None:
            found[name] = Severity(word)
    table.finish()
    return found


def _acceptance(table: Table) -> Acceptance:
    from loadloom.graph.rules import rule_book
    from loadloom.graph.verdict.registry import all_rules

    needed: dict[str, Any] = {
        "rule": table.take("rule", one_of(all_rules())),
        "subject": table.take("subject", as_name),
        "reason": table.take("reason", as_name),
        "by": table.take("by", as_name),
        "date": table.take("date", _date),
    }
    missing = [key for key, value in needed.items() if value is None]
    if missing:
        raise table.refuse("", f"needs {missing[0]}: nothing is accepted without a reason and a name")
    until = table.take("until", _date)
    value, unit = table.take("value", lambda written: _accepted_value(needed["rule"], written)) or (None, None)
    clause = table.take("clause", as_name)
    if clause is not None and needed["rule"] != rule_book.RULE.name:
        raise table.refuse("clause", f"only findings of {rule_book.RULE.name} name a clause")
    table.finish()
    return Acceptance(**needed, until=until, value=value, unit=unit, clause=clause)


def _assigned(table: Table) -> Assigned:
    from loadloom.graph.verdict.registry import all_rules

    part = table.take("part", as_name)
    if part is None:
        raise table.refuse("", "needs part: the id that stands in the column Part of the open points")
    rule, owner = table.take("rule", one_of(all_rules())), table.take("owner", as_name)
    due, state = table.take("due", _date), table.take("state", as_name)
    if owner is None and due is None and state is None:
        raise table.refuse("", "needs owner, due or state: else it says nothing")
    table.finish()
    return Assigned(part, owner or "", due, state or "", rule)


_READERS: Mapping[str, Callable[[str], float]] = {
    "A": values.current_a,
    "A²·s": values.joule_integral_a2s,
    "V": values.voltage_v,
    "W": values.power_w,
    "m": values.length_m,
    "mm²": values.area_mm2,
    "s": values.duration_s,
    "Ω": values.resistance_ohm,
    "°C": values.temperature_c,
    "1": values.any_share,
}
"""How a value in a unit of a finding is read from text."""


def _accepted_value(rule: str, written: Any) -> tuple[float, str]:
    """The accepted value of a rule's finding, and its unit; a number alone is in the rule's unit if it has one."""
    units = VALUE_UNITS.get(rule, ())
    if not units:
        raise UnreadableValue(f"findings of {rule} give no value that could be held against it")
    if not isinstance(written, str):
        if len(units) > 1:
            raise UnreadableValue(f"findings of {rule} are in {' or '.join(units)}: write it as text with its unit")
        unit = "%" if units[0] == "1" else units[0].replace("·", "")
        as_number(written)
        written = f"{written * 100 if unit == '%' else written!r} {unit}"
    refused: UnreadableValue | None = None
    for unit in units:
        try:
            return _READERS[unit](written), unit
        except UnreadableValue as unreadable:
            refused = refused or unreadable
    assert refused is not None
    raise refused


def _date(value: Any) -> datetime.date:
    if isinstance(value, datetime.datetime):
        return value.date()
    if isinstance(value, datetime.date):
        return value
    if isinstance(value, str):
        try:
            return datetime.date.fromisoformat(value.strip())
        except ValueError:
            pass
    raise UnreadableValue("it is not a date such as 2026-01-31")


def _case(name: str, table: Table) -> Case:
    case = Case(name, _word(table, "state", "nominal"), _word(table, "arrangement", "as drawn"))
    table.finish()
    return case


def _word(table: Table, key: str, plain: str) -> str | None:
    word = table.take(key, as_name)
    return None if word is not None and word.casefold() == plain else word


def _drawing_settings(top: Table) -> DrawingSettings:
    roles = top.table("role")
    by = {f"by_{kind}": _role_rules(roles.table(kind)) for kind in ("library", "reference", "value")}
    roles.finish()
    parts = {name: _part(table) for name, table in top.named("part").items()}
    shape = top.take("net_shape", one_of(("star", "chain")))
    opens = top.take("open_page", as_bool)
    people = top.take("fields_for_people", as_each(_field_for_people)) or ()
    return DrawingSettings(
        roles=RoleRules(**by, parts=parts),
        wire_classes={name: _wire_class(table) for name, table in top.named("wire_class").items()},
        nets={name: _net(table) for name, table in top.named("net").items()},
        default_length_m=top.text("default_length", values.length_m),
        star=shape != "chain",
        open_page=opens is not False,
        fields_for_people=people,
    )


def _role_rules(table: Table) -> dict[str, RoleRule]:
    """Rules by pattern: a role's word, or a table with ``role``, ``pins``, ``confirmed`` and fields."""
    found = {}
    for pattern in table.rest:
        if table.is_table(pattern):
            rule = _part(table.table(pattern))
            if rule.role is None:
                raise table.refuse(pattern, "needs a role")
            found[pattern] = rule
        else:
            role = table.take(pattern, _role)
            if role is not None:
                found[pattern] = RoleRule(role)
    return found


def _part(table: Table) -> RoleRule:
    role = table.take("role", _role)
    confirmed = table.take("confirmed", as_bool)
    pins_table = table.table("pins")
    pins = {end: pins_table.take(end, _pin_texts) or () for end in pins_table.rest}
    if pins and role in _NO_ENDS:
        raise table.refuse("pins", f"{with_article(role)} has no ends that pins could be given to")
    fields = {}
    for key in table.rest:
        name = field_of_key(key)
        if field_head(name) not in _FIELD_NAMES:
            known = [*("role", "pins", "confirmed"), *_FIELD_OF_KEY]
            near = difflib.get_close_matches(key.casefold(), known, 1, 0.0)
            raise table.refuse(key, "is no field of the drawing", f"the nearest known one is {near[0]}")
        text = table.take(key, as_text)
        if text is not None:
            fields[name] = text
    return RoleRule(role, pins, fields, confirmed is not False)


_NO_ENDS = frozenset({Role.CONNECTOR, Role.SPLICE, Role.CHASSIS, Role.IGNORE})
_FIELD_NAMES = frozenset({"value", *(name.casefold() for spec in FIELDS.values() for name in spec.names)})


_FIELD_OF_KEY = {re.sub(r"[ -]", "_", name): name for name in sorted(_FIELD_NAMES)}


def field_of_key(key: str) -> str:
    """The field that a key means: ``open_circuit_voltage`` is ``open-circuit voltage``."""
    head = re.split(r"[.@]", key, maxsplit=1)[0]
    plain = re.sub(r"[ -]", "_", head.casefold())
    return _FIELD_OF_KEY.get(plain, head.replace("_", " ")) + key[len(head) :].replace("_", " ")


def field_head(name: str) -> str:
    """A field's name without core, pin or word, casefolded: ``gauge`` of ``Gauge.3@hot``."""
    return " ".join(name.partition("@")[0].partition(".")[0].split()).casefold()


def _pin_texts(value: Any) -> tuple[str, ...]:
    return as_texts(value) if isinstance(value, list) else (as_name(value),)


def _role(value: Any) -> Role:
    role = role_of_word(as_text(value))
    return role if role is not None else Role(one_of(Role)(value))


def _field_for_people(text: str) -> str:
    """A name or pattern of a field; a pattern that fields of loadloom's own match would hide their misspellings."""
    if any(sign in text for sign in "*?["):
        own = (name for spec in FIELDS.values() for name in (*spec.names, "Role"))
        hit = next((name for name in own if fnmatch.fnmatchcase(name.casefold(), text.casefold())), None)
        if hit is not None:
            raise UnreadableValue(f"it matches the field {hit}, which loadloom reads")
    return text


def _wire_class(table: Table) -> WireValues:
    found = _wire_values(table)
    table.finish()
    return found


def _wire_values(table: Table) -> WireValues:
    return WireValues(**{name: _wire_value(table, key, parse) for key, (name, parse) in _WIRE_READERS.items()})


def _wire_value(table: Table, key: str, parse: Callable[[str], Any]) -> Any:
    if key in _NO_UNIT:
        return table.take(key, lambda value: parse(as_plain_text(value)))
    return table.text(key, parse)


def _net(table: Table) -> NetValues:
    wire = _wire_values(table)
    joint = bool(table.take("joint", as_bool))
    shape = table.take("shape", one_of(("star", "chain")))
    pins = table.take("pins", as_texts) or ()
    segments = table.table("segments")
    lengths = {name: segments.text(name, values.length_m) for name in segments.rest}
    table.finish()
    if joint and (wire != WireValues() or shape or lengths):
        raise table.refuse("joint", "a joint has no wire values, shape or segments")
    return NetValues(
        wire,
        joint,
        None if shape is None else shape == "star",
        pins,
        {name: length for name, length in lengths.items() if length is not None},
    )


def _beside(table: Table, name: str) -> Path:
    file = table.source.file.parent / name
    try:
        there = file.is_file()
    except (OSError, ValueError):  # a name that no file can have
        there = False
    if not there:
        raise UnusableError(f"there is no file {name}", file=table.source.file, hint="it lies beside the settings")
    return file


def _plain(value: Any) -> Any:
    """Dataclasses, enums, dates and paths as plain data; sizes of conductors as people write them."""
    if isinstance(value, enum.Enum):
        return value.value
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, PurePath):
        return value.name
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in sorted(value.items())}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    return value
