"""The allowed current of conductors: the chosen basis, the terminal's cap, the policy margin, an own rating."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace

from loadloom.graph.model.elements import Conductor, Track
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.material import is_copper
from loadloom.graph.model.results import Cap, Rating
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings import aviation, board_track, equipment, flexible, iec, marine, nec, own, tables
from loadloom.graph.ratings.bundles import BUNCHED, LOADED_FROM_A, bundle_of, drawn_counts, layouts
from loadloom.graph.ratings.catalogue import BASES
from loadloom.graph.ratings.chain import Basis, Chain, Question, Terminal, unrated, with_margin
from loadloom.graph.ratings.contact_rating import least_rating
from loadloom.graph.ratings.insulation import Insulation, insulation_of
from loadloom.graph.ratings.terminals import DEFAULT_C, Terminals

OWN_RATING = "own rating"

_FUNCTIONS: Mapping[str, Basis] = {
    "general-equipment": equipment.general_equipment,
    "general-equipment-open": equipment.general_equipment_open,
    "vehicle": marine.vehicle,
    "space-975m": aviation.mil_std_975m,
    "space-eee-inst-002": aviation.eee_inst_002,
    "avionics-ac43.13": aviation.ac43_13,
    "avionics-free-air": aviation.free_air,
    "building-nec": nec.nec,
    "building-nec-free-air": nec.nec_free_air,
    "building-iec": iec.iec_60364,
    "building-iec-c": iec.iec_60364_c,
    "flexible-cord": flexible.flexible_cord,
    "marine-33cfr": marine.marine,
    "common-practice": own.common_practice,
    "common-practice-chassis": own.common_practice_chassis,
    "own-table": own.own_table,
}


def rate_conductor(
    conductor: Conductor,
    loaded_in_bundle: int,
    bundle_load_share: float | None,
    ambient_c: float,
    settings: AnalysisSettings,
    terminal_c: float | None = None,
    terminal_by_code: Terminal | None = None,
    layout: str | None = None,
    beside: tuple[Track, ...] = (),
) -> Rating:
    """The allowed current of one conductor by the basis of the settings; of a track by IPC-2221, whatever the
    basis.

    ``loaded_in_bundle`` counts the loaded conductors of its bundle or cable, itself included;
    ``bundle_load_share`` is the share 0…1 of the bundle's capacity in use (None = all); ``ambient_c`` the greatest
    ambient; ``terminal_c`` the limit of the coolest terminal at its ends, in °C: a conductor that would run hotter
    than its terminal stands is capped by what the basis allows at the terminal's limit. The NEC bases cap by
    ``terminal_by_code`` instead (60 °C where it is not given). ``layout`` is how its bundle lies, where all of it
    says the same; without it: bunched. ``beside``: tracks that are heated together with this one.
    """
    if "own_rating_a" in conductor.placeholders:
        return _unrated(conductor, OWN_RATING, "the rating drawn at it can't be read")
    if conductor.own_rating_a is not None:
        chain = Chain(conductor.own_rating_a, "", "stated in the drawing")
        return _finished(conductor, chain, OWN_RATING, settings, None, ())
    if conductor.track is not None:
        if "track" in conductor.placeholders:
            return _unrated(conductor, board_track.BASIS, "what it states can't be read")
        chain = board_track.rate_track(conductor.track, beside, ambient_c)
        return _finished(conductor, chain, board_track.BASIS, settings, conductor.track.limit_c, ())
    if not is_copper(conductor.material):
        return _unrated(
            conductor, settings.basis, f"“{conductor.material}” is not copper, and the tables are copper's"
        )
    if settings.basis not in _FUNCTIONS:
        return _unrated(conductor, settings.basis, f"there is no basis {settings.basis!r}")
    if conductor.gauge is None:
        why = "its gauge can't be read" if "gauge" in conductor.placeholders else "no gauge is stated"
        return _unrated(conductor, settings.basis, why)
    insulation = insulation_of(conductor, settings)
    leans = leans_on_insulation(conductor, settings)
    if leans and insulation.problem is not None and conductor.insulation:
        return _unrated(conductor, settings.basis, insulation.problem)
    question = Question(
        conductor.gauge,
        insulation.limit_c,
        ambient_c,
        max(loaded_in_bundle, 1),
        bundle_load_share,
        settings.altitude_m,
        settings.own_table,
        terminal_by_code or Terminal(DEFAULT_C),
        conductor.cable is not None,
        layout or BUNCHED,
    )
    chain = _ask(settings.basis, question)
    if leans and insulation.check_edition:
        chain = replace(chain, check_edition=True)
    limit_c = insulation.limit_c
    if chain.with_terminal:
        limit_c = min(limit_c, question.terminal.limit_c)
    elif terminal_c is not None and terminal_c < limit_c:
        chain, limit_c = _capped_by_terminal(chain, settings.basis, question, terminal_c), terminal_c
    notes = (*_insulation_notes(insulation, leans), *_layout_notes(conductor, layout, settings))
    return _finished(conductor, chain, settings.basis, settings, limit_c, notes)


def leans_on_insulation(conductor: Conductor, settings: AnalysisSettings) -> bool:
    """Whether the allowed current of a conductor follows from what its insulation stands."""
    return conductor.own_rating_a is None and settings.basis not in own.WHATEVER_INSULATION


def rate_conductors(
    harness: Harness,
    settings: AnalysisSettings,
    loaded: Mapping[str, int] | None = None,
    load_shares: Mapping[str, float] | None = None,
    only: Collection[str] | None = None,
) -> dict[str, Rating]:
    """Ratings of all conductors by id, or of ``only`` some, at the greatest ambient of each one's zone.

    ``loaded`` is the number of loaded conductors by bundle (``bundles.bundle_of``), the greatest of any state;
    where it is not given every conductor drawn in a bundle counts as loaded. ``load_shares`` as in
    ``rate_conductor``, by bundle. Of ratings that differ by arrangement the least counts in all.
    """
    counts = drawn_counts(harness) if loaded is None else loaded
    shares = load_shares or {}
    terminals = Terminals(harness, settings)
    lying = layouts(harness)
    tracks = _tracks(harness)
    with_wires = {bundle_of(conductor) for conductor in harness.conductors if conductor.track is None}
    known: dict[tuple[object, ...], Rating] = {}
    found: dict[str, Rating] = {}

    def rated(conductor: Conductor) -> Rating:
        bundle = bundle_of(conductor)
        if conductor.track is not None and bundle is not None and bundle in with_wires:
            why = f"wires lie in its bundle {bundle} too, and how much they heat a track is not known"
            return _unrated(conductor, board_track.BASIS, why)
        n, share = (counts.get(bundle, 1), shares.get(bundle)) if bundle is not None else (1, None)
        layout = lying.get(bundle) if bundle is not None else None
        ambient_c = settings.ambient(conductor.zone).max_c
        terminal_c, by_code = terminals.stated_c(conductor), terminals.by_code(conductor)
        beside = tuple(t for name, t in tracks.get(bundle or "", ()) if name != conductor.id)
        key = (
            conductor.track,
            beside,
            conductor.gauge,
            conductor.insulation,
            conductor.material,
            conductor.layout,
            conductor.own_rating_a,
            conductor.placeholders,
            n,
            share,
            ambient_c,
            terminal_c,
            by_code,
            conductor.cable is not None,
            layout,
        )
        if key not in known:
            known[key] = rate_conductor(
                conductor, n, share, ambient_c, settings, terminal_c, by_code, layout, beside
            )
        return known[key]

    for conductor in harness.conductors:
        if only is not None and conductor.id not in only:
            continue
        found[conductor.id] = replace(least_rating(map(rated, conductor.variants())), subject_id=conductor.id)
    return found


def _tracks(harness: Harness) -> dict[str, list[tuple[str, Track]]]:
    """The tracks of every bundle, with their ids."""
    found: dict[str, list[tuple[str, Track]]] = {}
    for conductor in harness.conductors:
        bundle = bundle_of(conductor)
        if conductor.track is not None and bundle is not None:
            found.setdefault(bundle, []).append((conductor.id, conductor.track))
    return found


def bundle_shares(
    harness: Harness,
    settings: AnalysisSettings,
    states: Iterable[Mapping[str, float]],
    loaded: Mapping[str, int],
) -> dict[str, float]:
    """Share of every bundle's capacity in use, 0.2 … 1, in the state that uses most of it.

    AC 43.13-1B, 11-67 and its example: capacity is the sum of what the loaded conductors are allowed at that
    share, so the least share s counts with Σ |current| ≤ s · Σ allowed(s). A bundle with an unrated loaded
    conductor, or with more load than its whole capacity, has no share. ``states`` are currents in A by conductor
    id; ``loaded`` as in ``rate_conductors``.
    """
    steps = tuple(float(name) / 100.0 for name in aviation.SHARES)
    at_share = [rate_conductors(harness, settings, loaded, dict.fromkeys(loaded, share)) for share in steps]
    found: dict[str, float | None] = {}
    for currents_a in states:
        for bundle, members in _loaded_members(harness, currents_a).items():
            used_a = sum(abs(currents_a[name]) for name in members)
            least: float | None = None
            for share, ratings in zip(steps, at_share, strict=True):
                each_a = [ratings[name].allowed_a for name in members]
                known_a = [a for a in each_a if a is not None]
                if len(known_a) == len(each_a) and used_a <= share * sum(known_a):
                    least = share
                    break
            before = found.get(bundle, 0.0)
            found[bundle] = None if least is None or before is None else max(least, before)
    return {bundle: share for bundle, share in found.items() if share is not None}


def _loaded_members(harness: Harness, currents_a: Mapping[str, float]) -> dict[str, list[str]]:
    members: dict[str, list[str]] = {}
    for conductor in harness.conductors:
        bundle = bundle_of(conductor)
        if bundle is not None and abs(currents_a.get(conductor.id, 0.0)) >= LOADED_FROM_A:
            members.setdefault(bundle, []).append(conductor.id)
    return members


def _ask(basis: str, question: Question) -> Chain:
    if question.ambient_c >= question.limit_c:
        return unrated(
            f"the ambient of {question.ambient_c:g} °C is not below the limit of {question.limit_c:g} °C: "
            "no current is allowed"
        )
    return _FUNCTIONS[basis](question)


def _capped_by_terminal(chain: Chain, basis: str, question: Question, terminal_c: float) -> Chain:
    if chain.missing is not None:
        return chain
    at_terminal = _ask(basis, replace(question, limit_c=terminal_c))
    if at_terminal.allowed_a is None:
        return unrated(f"its terminal is for {terminal_c:g} °C only, and {at_terminal.missing}")
    cap = Cap(
        f"terminal of {terminal_c:g} °C", at_terminal.allowed_a, tables.citation(at_terminal.source_ids) or basis
    )
    return replace(
        chain,
        caps=(*chain.caps, cap),
        estimate=chain.estimate or at_terminal.estimate,
        check_edition=chain.check_edition or at_terminal.check_edition,
    )


def _finished(
    conductor: Conductor,
    chain: Chain,
    basis: str,
    settings: AnalysisSettings,
    limit_c: float | None,
    notes: tuple[str, ...],
) -> Rating:
    chain = with_margin(chain, settings.margin)
    leant_on = (*(factor.source for factor in chain.factors), *(cap.source for cap in chain.caps))
    title = BASES[basis].title if basis in BASES else basis
    return Rating(
        conductor.id,
        chain.allowed_a,
        chain.base_a if chain.missing is None else None,
        chain.factors,
        chain.caps,
        basis,
        tables.citation(chain.source_ids) or (chain.status if chain.status else title),
        chain.status,
        chain.estimate,
        chain.check_edition or any(map(tables.has_mark, leant_on)),
        chain.missing,
        limit_c,
        (*notes, *chain.assumptions),
    )


def _unrated(conductor: Conductor, basis: str, why: str) -> Rating:
    return Rating(conductor.id, None, None, (), (), basis, "", missing=why)


def _layout_notes(conductor: Conductor, layout: str | None, settings: AnalysisSettings) -> tuple[str, ...]:
    """Why a layout that the drawing states is not counted."""
    stated = conductor.layout
    if stated is None or stated == BUNCHED:
        return ()
    if stated not in BASES[settings.basis].layouts:
        return (f"Layout {stated} has no grouping factor with basis {settings.basis}: counted as bunched",)
    if layout != stated:
        return (f"Layout {stated} does not hold for all of its bundle, or for a cable of many cores: bunched",)
    return ()


def _insulation_notes(insulation: Insulation, leans: bool) -> tuple[str, ...]:
    return (insulation.note,) if insulation.assumed and leans else ()
