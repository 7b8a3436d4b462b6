"""What the fault search says about every part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from loadloom.graph.model.results import FaultPowerRow, FaultRow


@dataclass(frozen=True, slots=True, kw_only=True)
class PartFault:
    """What the fault search says about one conductor, contact, switch, diode or splice.

    ``sustained_fault_a`` None: it is not determined (an output that may feed it has no readable voltage).
    ``protected`` None: nothing to hold it against, or only an assumed trip keeps it within its allowed current.
    ``protected_by``: devices and outputs of which each alone keeps it within its allowed current, nearest first;
    over several arrangements those that do so in each, or where none does, all that do so in any.
    ``at_rating_a``: the sustained fault current if the device that holds it passed its printed rating instead of
    what it can hold. ``held_a`` is what that device can hold, ``held_to_protect_a`` the most it may hold so that
    the part stays within its allowed current (None where no such device or setting is). ``heat_w_per_m``: a
    conductor's heat at its sustained fault current, cold. ``held_by`` is the device just about not to open, None
    where copper alone holds the current down. ``exact_place`` and ``loads_a`` (by load id, those
    that draw) say with ``fault`` all that is needed to set up the state again: shares along conductors are not
    rounded there. ``fed_by_loads``: the fault carries what they feed through it. ``exact`` false: the sustained
    fault current is a bound on the safe side, not known to be reached.
    ``cycle``: where loads pulse, the share of the time and the currents of the loads in each part of a period;
    ``loads_a`` are then their continuous ones of equal heat.
    ``combined_overload_of``: how the combined overload current is made up, where it is over the allowed current:
    see ``combined_overload.made_up``.
    ``carries``: of a part that is over what it may carry, the devices and outputs that carry current in the state
    that was found; whatever another one is set to, the part is over. None: not known.
    ``comes_through``: where several sources feed what the part carries, the current in A of each by the id of the
    device that is just about not to open in its way, or of the source itself; empty where one does, or they do not
    come to the part's current.
    ``failed``: what has to have failed for it, as the start of a sentence's part; empty where nothing has.
    """

    id: str
    sustained_fault_a: float | None
    case: str | None
    fault: FaultRow | None
    whole: bool = True
    combined_overload_a: float | None = None
    combined_overload_case: str | None = None
    combined_overload_of: tuple[tuple[str, float], ...] = ()
    allowed_a: float | None = None
    protected: bool | None = None
    protected_by: tuple[str, ...] = ()
    note: str = ""
    held_by: str | None = None
    at_rating_a: float | None = None
    held_a: float | None = None
    held_to_protect_a: float | None = None
    in_band: bool = False
    tripping_within_s: float | None = None
    heat_w_per_m: float | None = None
    back_fed_by: str | None = None
    exact_place: tuple[str, str] | None = None
    loads_a: Sequence[tuple[str, float]] = ()
    exact: bool = True
    fed_by_loads: bool = False
    cycle: tuple[tuple[float, tuple[tuple[str, float], ...]], ...] = ()
    carries: frozenset[str] | None = None
    comes_through: tuple[tuple[str, float], ...] = ()
    failed: str = ""


@dataclass(frozen=True)
class FaultAnswer:
    """The answer of the fault search.

    ``parts`` is by id of conductors, contacts, switches, diodes and splices with a rating, the worst of all cases;
    ``by_arrangement`` the same by arrangement word (None = as drawn). ``faults`` are the rows that they refer to,
    in order of their ids; ``back_feeds`` what each output shorted inside makes each part carry (parts on which the
    fault adds anything). ``joined`` are groups of outputs that hang together by copper on both sides, by case.
    """

    parts: Mapping[str, PartFault]
    by_arrangement: Mapping[str | None, Mapping[str, PartFault]]
    faults: tuple[FaultRow, ...]
    powers: tuple[FaultPowerRow, ...]
    back_feeds: tuple[PartFault, ...] = ()
    joined: tuple[tuple[str, tuple[str, ...]], ...] = ()
    assumptions: tuple[str, ...] = ()

    def protectors_without(self, part: str, device: str) -> tuple[str, ...]:
        """Ids of what protects a part without a device, over all arrangements; empty where one has none."""
        found: dict[str, None] = {}
        for answers in self.by_arrangement.values():
            others = [name for name in answers[part].protected_by if name != device] if part in answers else []
            if not others:
                return ()
            found.update(dict.fromkeys(others))
        return tuple(found)
