"""What is advised about a harness: rows for reports, SI numbers with the unit in the name, unknown is ``None``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from loadloom.graph.model.findings import Finding, Verdict
from loadloom.graph.model.harness import Provenance
from loadloom.graph.sizing.assignment import Assignment
from loadloom.graph.sizing.contact_families import Family
from loadloom.graph.sizing.contact_paths import Paths
from loadloom.graph.sizing.device_settings import Setting
from loadloom.graph.sizing.drop_gains import DropGain
from loadloom.graph.sizing.joining_switches import Opening
from loadloom.graph.sizing.needed_ratings import NeededRating


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeRow:
    """One conductor: the size drawn and the size proposed. ``governed_by`` is what one size less would break.

    ``proposed`` is ``drawn`` where the conductor is not sized; ``why`` then says so. ``allowed_a`` and
    ``sustained_fault_a`` are with everything as proposed.
    """

    id: str
    drawn: str | None
    proposed: str | None
    area_mm2: float | None
    length_m: float | None
    governed_by: str
    why: str
    current_a: float | None
    allowed_a: float | None
    sustained_fault_a: float | None
    copper_drawn_g: float | None
    copper_g: float | None
    loss_drawn_w: float | None
    loss_w: float | None

    @property
    def changed(self) -> bool:
        """Whether another size is proposed than is drawn."""
        return self.proposed != self.drawn


@dataclass(frozen=True, slots=True)
class LeftRow:
    """A finding that sizes should answer for and can't: no stocked size mends it. ``remedy`` is what would."""

    rule: str
    subject: str
    why: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """Everything that is advised. ``remaining`` are the open findings of the full analysis of the harness as
    proposed; ``mended`` those of the harness as drawn that are gone, by rule and subject. Copper and losses are
    sums over all conductors with a size and a length; each loss is at the conductor's own worst case. ``devices``
    are settings found before the sizes; ``trip_plan`` the setting ranges of the channels with everything as
    proposed.
    ``openings``: switches to be open; ``families``: connectors whose contacts another family suits, or none does;
    ``ratings``: parts to be chosen for a voltage, current or short that they don't stand as drawn. ``spread``
    None: there are not two channels with loads. ``not_sized_for``: loads that nothing is sized for, since what
    they take can't be read or no current gets to them.
    """

    provenance: Provenance
    tool_version: str
    date: str
    settings: dict[str, Any]
    verdict_drawn: Verdict
    verdict: Verdict
    sizes: tuple[SizeRow, ...]
    devices: tuple[Setting, ...]
    openings: tuple[Opening, ...]
    families: tuple[Family, ...]
    ratings: tuple[NeededRating, ...]
    contacts: tuple[Paths, ...]
    left: tuple[LeftRow, ...]
    budget: tuple[DropGain, ...]
    trip_plan: tuple[Setting, ...]
    spread: Assignment | None
    mended: tuple[Finding, ...]
    remaining: tuple[Finding, ...]
    copper_drawn_g: float
    copper_g: float
    loss_drawn_w: float
    loss_w: float
    assumptions: tuple[str, ...]
    harnesses_tried: int
    not_sized_for: tuple[str, ...] = ()
