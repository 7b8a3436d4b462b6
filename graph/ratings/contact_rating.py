"""The allowed current of contacts, splices, switches and diodes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache

from loadloom.graph.model.elements import Contact, Diode, Splice, Switch
from loadloom.graph.model.results import Cap, Factor, FactorFormula, Rating
from loadloom.graph.model.settings import AnalysisSettings, ContactType
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.chain import Chain, with_margin

DERATING_CURVE_FACTOR = 0.8
"""IEC 60512-5-2:2002, test 5b: usable current = 0.8 × base curve at the same ambient."""

LEAST_RISE_EXPONENT = 1.8
"""Lower end of "rise grows as current to the 1.8th … 2nd power": it gives less current below the rated one."""

REFERENCE_C = 40.0
"""Up to this ambient a rated current holds that names no highest temperature: the ambient that ratings of contacts
are commonly given for (common practice, no published source). Above it such a contact is not rated."""

MOST_RISE_EXPONENT = 2.0
"""Upper end of the same: it gives less current above the rated one."""

OWN_RATING = "own rating"
CONTACT_TYPE = "contact type"
DERATING_CURVE = "derating curve"


@cache
def shipped_contact_types() -> Mapping[str, ContactType]:
    """Contact families that come with loadloom, by name: their ratings were read in openly published guides."""
    found = {}
    for row in tables.rows("contact_types"):
        rated_a = tables.number(row, "rated_a")
        assert rated_a is not None
        found[row["name"]] = ContactType(
            row["name"],
            rated_a=((int(row["positions"]), rated_a),),
            rise_k=tables.number(row, "rise_k"),
            source=tables.citation(row["source_id"]),
        )
    return found


def contact_type_of(name: str | None, settings: AnalysisSettings) -> ContactType | None:
    """A contact type by name: the user's own before the shipped ones; None where there is none of that name."""
    if not name:
        return None
    return settings.contact_types.get(name) or shipped_contact_types().get(name)


def rate_contact(
    contact: Contact,
    loaded_positions: int,
    ambient_c: float,
    settings: AnalysisSettings,
) -> Rating:
    """The allowed current of one contact.

    Its own rating, else its type's: the derating curve × 0.8 (IEC 60512-5-2) and the rated current by number of
    ``loaded_positions`` in its connector, whichever is less. Between points the one with more positions counts;
    beyond the last there is no rating (nothing is extrapolated). The current is reduced so that ``ambient_c`` +
    rise stays within the highest temperature of the type; where the rise is not stated, the rated current is taken
    to reach that temperature at 40 °C. A type that states neither a highest temperature nor a curve is not rated
    above 40 °C. A rating drawn at the contact holds as it stands, but for the highest temperature of its type.
    """
    if "own_rating_a" in contact.placeholders:
        return _unrated(contact.id, OWN_RATING, "the contact rating drawn at it can't be read")
    kind = contact_type_of(contact.contact_type, settings)
    if contact.own_rating_a is not None:
        return _own_contact(contact, kind, ambient_c, settings)
    if kind is None:
        why = (
            f"there is no contact type “{contact.contact_type}”"
            if contact.contact_type
            else "neither a contact rating nor a contact type is stated"
        )
        return _unrated(contact.id, CONTACT_TYPE, why)
    if kind.max_c is not None and ambient_c >= kind.max_c:
        why = f"the ambient of {ambient_c:g} °C is not below the {kind.max_c:g} °C of contact type {kind.name}"
        return _unrated(contact.id, CONTACT_TYPE, why, kind.max_c)
    positions_a, beyond = _by_positions(kind, loaded_positions)
    if beyond is not None:
        return _unrated(contact.id, CONTACT_TYPE, beyond, kind.max_c)
    if kind.derating:
        return _by_curve(contact, kind, positions_a, loaded_positions, ambient_c, settings)
    if positions_a is None:
        return _unrated(contact.id, CONTACT_TYPE, f"contact type {kind.name} states no current", kind.max_c)
    if kind.max_c is None:
        if ambient_c > REFERENCE_C:
            why = (
                f"contact type {kind.name} states no highest temperature and no derating curve, so that it is not "
                f"rated above {REFERENCE_C:g} °C, and the ambient is {ambient_c:g} °C"
            )
            return _unrated(contact.id, CONTACT_TYPE, why)
        return _rating(contact.id, CONTACT_TYPE, kind.source, positions_a, (), (), settings)
    rise_k, notes = _rise_k(kind, kind.max_c)
    factors = (_within_housing(kind, kind.max_c, rise_k, ambient_c),)
    return _rating(contact.id, CONTACT_TYPE, kind.source, positions_a, factors, (), settings, kind.max_c, notes)


def least_rating(ratings: Iterable[Rating]) -> Rating:
    """The least of ratings that one part has in several arrangements; one that is not known comes before all."""
    return min(ratings, key=lambda rating: -1.0 if rating.allowed_a is None else rating.allowed_a)


def rate_splice(splice: Splice, settings: AnalysisSettings) -> Rating:
    """The allowed current of a splice: its own rating less the margin, else missing."""
    return _own(splice.id, splice.rating_a, "rating_a" in splice.placeholders, settings)


def rate_switch(switch: Switch | Diode, settings: AnalysisSettings) -> Rating:
    """The allowed current of a switch or diode: its own rating less the margin, else missing."""
    return _own(switch.id, switch.rating_a, "rating_a" in switch.placeholders, settings)


def _by_positions(kind: ContactType, loaded_positions: int) -> tuple[float | None, str | None]:
    """Rated current at a number of loaded positions, or the reason why there is none."""
    if not kind.rated_a:
        return None, None
    for positions, rated_a in sorted(kind.rated_a):
        if loaded_positions <= positions:
            return rated_a, None
    most = max(positions for positions, _ in kind.rated_a)
    return (
        None,
        f"contact type {kind.name} is rated up to {most} loaded positions, and {loaded_positions} are loaded",
    )


def _by_curve(
    contact: Contact,
    kind: ContactType,
    positions_a: float | None,
    loaded_positions: int,
    ambient_c: float,
    settings: AnalysisSettings,
) -> Rating:
    curve = sorted(kind.derating)
    base_a = max(current_a for _, current_a in curve)
    coolest_c, hottest_c = curve[0][0], curve[-1][0]
    points = tuple((t, current_a / base_a) for t, current_a in curve) if base_a > 0 else ()
    # Below its first point a curve is not raised.
    formula = FactorFormula("linear", points=((min(coolest_c, -273.15), points[0][1]), *points) if points else ())
    factor = formula.at(ambient_c) if points else None
    if factor is None or factor <= 0:
        why = f"the derating curve of contact type {kind.name} leaves no current at {ambient_c:g} °C"
        if ambient_c > hottest_c:
            why = f"the derating curve of contact type {kind.name} ends at {hottest_c:g} °C, below {ambient_c:g} °C"
        return _unrated(contact.id, DERATING_CURVE, why, kind.max_c)
    factors = (
        Factor("ambient", factor, "base curve at the ambient", kind.source, "", ambient_c, "°C", formula),
        Factor(
            "positions", DERATING_CURVE_FACTOR, "usable share of the base curve", tables.citation("S21"), "VERIFIED"
        ),
    )
    caps = []
    if positions_a is not None:
        caps.append(Cap(f"{loaded_positions} loaded positions", positions_a, kind.source))
    if kind.max_c is not None and kind.max_c < hottest_c:
        # The curve is for contacts that reach the temperature at which it leaves no current.
        if curve[-1][1] > 0:
            why = (
                f"the derating curve of contact type {kind.name} goes beyond its {kind.max_c:g} °C and does not "
                "end at no current, so that its rise is not known"
            )
            return _unrated(contact.id, DERATING_CURVE, why, kind.max_c)
        share = (kind.max_c - ambient_c) / (hottest_c - ambient_c)
        reason = f"ambient + rise within the {kind.max_c:g} °C of contact type {kind.name}"
        caps.append(Cap(reason, base_a * factor * share ** (1.0 / LEAST_RISE_EXPONENT), kind.source))
    return _rating(contact.id, DERATING_CURVE, kind.source, base_a, factors, tuple(caps), settings, kind.max_c)


def _own_contact(
    contact: Contact, kind: ContactType | None, ambient_c: float, settings: AnalysisSettings
) -> Rating:
    """A rating drawn at the contact, held to the highest temperature of its type where both say enough for it."""
    own_a = contact.own_rating_a
    assert own_a is not None
    max_c = kind.max_c if kind is not None else None
    if kind is not None and max_c is not None and ambient_c >= max_c:
        why = f"the ambient of {ambient_c:g} °C is not below the {max_c:g} °C of contact type {kind.name}"
        return _unrated(contact.id, OWN_RATING, why, max_c)
    caps = []
    notes: tuple[str, ...] = ()
    rated_a = min((a for _, a in kind.rated_a), default=None) if kind is not None else None
    if kind is not None and max_c is not None:
        if kind.rise_k and rated_a is not None:
            full_a, rise_k = rated_a, kind.rise_k
        else:  # nothing tells the rise at the drawn rating, so that the rating is taken as one for 40 °C
            full_a, rise_k = own_a, max(max_c - REFERENCE_C, 1.0)
            if ambient_c > REFERENCE_C:
                notes = (f"the contact rating drawn is taken to reach {max_c:g} °C at {REFERENCE_C:g} °C",)
        share = (max_c - ambient_c) / rise_k
        exponent = LEAST_RISE_EXPONENT if share < 1.0 else MOST_RISE_EXPONENT
        reason = f"ambient + rise within the {max_c:g} °C of contact type {kind.name}"
        caps.append(Cap(reason, full_a * share ** (1.0 / exponent), kind.source))
    if ambient_c > REFERENCE_C and not caps:
        notes = (f"the contact rating drawn is taken to hold at an ambient of {ambient_c:g} °C",)
    return _rating(contact.id, OWN_RATING, "stated in the drawing", own_a, (), tuple(caps), settings, max_c, notes)


def _rise_k(kind: ContactType, max_c: float) -> tuple[float, tuple[str, ...]]:
    """The rise in K at the rated current; where none is stated, what reaches the highest temperature at 40 °C."""
    if kind.rise_k is not None and kind.rise_k > 0:
        return kind.rise_k, ()
    rise_k = max(max_c - REFERENCE_C, 1.0)
    note = (
        f"contact type {kind.name} states no rise: its rated current is taken to reach {max_c:g} °C "
        f"at {REFERENCE_C:g} °C"
    )
    return rise_k, (note,)


def _within_housing(kind: ContactType, max_c: float, rise_k: float, ambient_c: float) -> Factor:
    share = min(1.0, (max_c - ambient_c) / rise_k)
    return Factor(
        "ambient",
        share ** (1.0 / LEAST_RISE_EXPONENT),
        f"ambient + rise within the {max_c:g} °C of contact type {kind.name}",
        "rise grows as current to the 1.8th power: common practice, no published source",
        "COMPUTED",
        ambient_c,
        "°C",
    )


def _own(subject_id: str, rating_a: float | None, unreadable: bool, settings: AnalysisSettings) -> Rating:
    if unreadable or rating_a is None:
        why = "its rating can't be read" if unreadable else "no rating is stated"
        return _unrated(subject_id, OWN_RATING, why)
    return _rating(subject_id, OWN_RATING, "stated in the drawing", rating_a, (), (), settings)


def _rating(
    subject_id: str,
    basis: str,
    source: str,
    base_a: float,
    factors: tuple[Factor, ...],
    caps: tuple[Cap, ...],
    settings: AnalysisSettings,
    limit_c: float | None = None,
    notes: tuple[str, ...] = (),
) -> Rating:
    chain = with_margin(Chain(base_a, "", factors=factors, caps=caps), settings.margin)
    leant_on = (source, *(factor.source for factor in chain.factors), *(cap.source for cap in chain.caps))
    return Rating(
        subject_id,
        chain.allowed_a,
        base_a,
        chain.factors,
        chain.caps,
        basis,
        source,
        check_edition=any(map(tables.has_mark, leant_on)),
        temperature_limit_c=limit_c,
        assumptions=notes,
    )


def _unrated(subject_id: str, basis: str, why: str, limit_c: float | None = None) -> Rating:
    return Rating(subject_id, None, None, (), (), basis, "", missing=why, temperature_limit_c=limit_c)
