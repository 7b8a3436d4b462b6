"""The bases that a user can choose: their names, what they are for, and the coolest class each one assumes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class BasisInfo:
    """One basis. ``coolest_c`` is the insulation class in °C taken where a drawing states none: the coolest that
    the basis has a column or factor for. ``source_ids`` lead to ``sources.csv``. ``layouts`` are those that its
    method of installation has grouping factors for, beside bunched ones.
    """

    name: str
    title: str
    coolest_c: float
    source_ids: str
    layouts: tuple[str, ...] = ()


_ALL = (
    BasisInfo(
        "general-equipment",
        "Equipment: IEC 60204-1 (B2) in mm²; NEC 310.16 from 14 AWG up, AC 43.13-1B table 11-9 for smaller wire",
        70.0,
        "S15;S17;S13;S13b;S03",
    ),
    BasisInfo(
        "general-equipment-open",
        "As general-equipment, with IEC 60204-1 (E): cables on open trays",
        70.0,
        "S15;S17;S13;S13b;S03",
        ("tray", "ladder"),
    ),
    BasisInfo(
        "vehicle",
        "Vehicles: 33 CFR 183.425 with engine-space and bundle factors; AC 43.13-1B table 11-9 for smaller wire",
        105.0,
        "S14;S03",
    ),
    BasisInfo("space-975m", "Space: MIL-STD-975M, 70 °C vacuum, with its bundle formula", 105.0, "S08"),
    BasisInfo("space-eee-inst-002", "Space: EEE-INST-002 single and bundle columns", 200.0, "S09;S10"),
    BasisInfo("avionics-ac43.13", "Aircraft: AC 43.13-1B table 11-9 (bundled, 70 °C, 60 000 ft)", 105.0, "S03"),
    BasisInfo(
        "avionics-free-air",
        "Aircraft: own free-air current × AS50881 bundle curve × altitude",
        105.0,
        "S11;S44",
    ),
    BasisInfo(
        "building-nec", "Buildings: NEC 310.16 with adjustment; terminals by 110.14(C)", 60.0, "S13b;S13;S13c"
    ),
    BasisInfo(
        "building-nec-free-air",
        "Buildings: NEC 310.17, single conductors in free air; terminals by 110.14(C)",
        60.0,
        "S13b;S13;S13c",
    ),
    BasisInfo("building-iec", "Buildings: IEC 60364-5-52, method B2, PVC", 70.0, "S16;S52;S15;S17"),
    BasisInfo(
        "building-iec-c", "Buildings: IEC 60364-5-52, method C (clipped to a wall), PVC", 70.0, "S52;S17", ("wall",)
    ),
    BasisInfo(
        "flexible-cord",
        "Flexible cords: VDE 0298-4, PVC, one conductor in free air or a cable's core; grouping by Layout",
        70.0,
        "S51;S51b;S16b;S17",
        ("wall", "tray", "ladder"),
    ),
    BasisInfo("marine-33cfr", "Small craft: 33 CFR 183.425 table 5", 60.0, "S14"),
    BasisInfo("common-practice", "Area in circular mils / 700: no standard behind it", 60.0, "S41"),
    BasisInfo("common-practice-chassis", "Chassis wiring list: no standard behind it", 60.0, "S41"),
    BasisInfo("own-table", "The user's own table", 60.0, ""),
)

BASES: Mapping[str, BasisInfo] = {info.name: info for info in _ALL}
"""Every basis by name, in the order shown to users."""
