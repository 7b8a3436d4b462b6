"""How much the fault search does before it stops, each budget named once: what it costs, and what the report says
where it cuts.

Every one of them hangs on the harness alone, and cuts on the safe side: what is not tried is bounded, not
determined, or said in an assumption. ``SAID`` are the sentences of those that nothing else tells of.
"""

from __future__ import annotations

# -- how large a piece may be -------------------------------------------------------------------------------------

LARGEST_PIECE = 4000
"""Joints and contact sides of one galvanic piece that the search takes; its arrays grow with the square of this.
A larger one that has no closed form is not determined, which the part and an assumption say."""

RADIAL_FROM = 400
"""Joints and contact sides from which a piece that is fed radially is answered in closed form, whose time grows
with its size. An assumption says for how many parts, and how many of the answers are bounds."""

LARGEST_MATRIX = 1500
"""Nodes of a mesh in such a piece up to which its matrix is inverted, with the cube of this; above it, shares
count as 1 and its resistance as 0, and the answers are marked as bounds."""

POWERS_EVERYWHERE = 20_000
"""Nodes of such a piece up to which the power of a fault is given at each, above it at loads only; an assumption
says so."""

MOST_SHARED = 400
"""Nodes of a network up to which its pieces are kept from one search to the next; no answer hangs on it."""

# -- how many states ----------------------------------------------------------------------------------------------

MOST_VARIED = 4
"""Of so many diodes or current-holding parts in loops every combination is tried: 2 to this power. With more the
bound over all states counts, marked as one where no state reaches it."""

MOST_AT_WILL = 4
"""Devices and outputs in one loop of which every set is tried opened: 15 sets. With more, unless they are on
paths side by side, the bound over all states counts as well."""

MOST_FOR_RANGES = 6
"""The same for setting ranges, which take these sets once for all settings: 63 sets. With more a range ends where
Kirchhoff's current law alone says; where that says nothing, it is not determined."""

MOST_SETS = 255
"""Sets across loops tried in one piece; where there would be more, those of each loop alone, and the bound
counts."""

MOST_PAIRS = 10_000
"""Pairs of places, by the loops on their way, that are compared for it; with more, the same."""

MOST_RISING = 4
"""Loads at which a current is let rise to see what opens first, of those that the devices tell apart; each costs
a response per step. It finds states only where the bound over all states counts anyway."""

LARGEST_RISING = 400
"""Nodes of a piece up to which that is done."""

MOST_BRANCHINGS = 200
"""Of one programme over states; where they don't settle it, its bound so far counts, marked as one."""

MOST_PLACES = 100
"""Of more places combined overload current is bounded without telling states apart."""

MOST_WAYS = 60
"""Ways between the joints of one loop whose devices share a fault up to which it is sought at which resistances
and voltages, within their bands, they give the most; with more, each counts at its least resistance and highest
voltage, which an assumption says."""

MOST_PROGRAMMES = 400
"""Programmes for that in one loop; the same with more."""

MOST_MIXTURES = 600
"""Mixtures of resistances and voltages of one loop at which faults between any two of its joints are tried; of more
the rest is left out: what the programmes find between the joints where it branches counts."""

# -- how many places, cuts, feeds ---------------------------------------------------------------------------------

MOST_WIRES = 50
"""Conductors of one cable, bundle or connector up to which every point of them is a place of a fault that wakes
what is cut off; the places grow with the square. Of more, the points of copper behind the same devices have one
that stands for all."""

MOST_CHOSEN = 8
"""Branches at one splice of which every choice is made: up to 255 cuts. With more the splice is not
determined."""

MOST_CUTS = 20
"""Conductors of an arrangement for which parallel feeds are sought that satisfy the overload band together, each
by a least cut of the harness. Those beyond have no band, the safe side."""

# -- how much at a time: no answer hangs on these -----------------------------------------------------------------

STRETCHES_TOGETHER = 200
"""Programmes of stretches that are solved before what they found is taken into account."""

BOUNDS_TOGETHER = 1_000_000
"""Numbers that the bounds of stretches are found from at a time."""

PAIRS_TOGETHER = 100_000
"""Places and parts behind what is cut off that are looked at together."""

BOUND_ROUNDS = 6
"""Passes that tighten the most that loads of constant power can draw; each of them is on the safe side."""

SAID = {
    "MOST_CUTS": (
        f"The overload band of parallel feeds is sought for {MOST_CUTS} conductors of an arrangement. "
        "Conductors beyond them are held against their allowed current."
    ),
    "MOST_WAYS": (
        f"Where devices or outputs share a fault in a loop of more than {MOST_WAYS} ways, or of many places, "
        "resistances are taken at their least and voltages at their highest; others within their bands may put "
        "more on a part."
    ),
    "MOST_WIRES": (
        f"In a cable, bundle or connector of more than {MOST_WIRES} wires, the copper behind the same devices "
        "counts with one point, where a fault feeds what an open device has cut off."
    ),
}
"""What an assumption says where such a budget has cut, by its name."""
