"""Within what two numbers of the fault search count as the same, each named once.

Shares are of the numbers themselves. What is smaller than these is rounding; what is not is told apart.
"""

from __future__ import annotations

TINY = 1e-9
"""Least current per ampere, current in A, voltage in V or resistance in Ω that is no rounding."""

MET = 1e-9
"""Share within which a bound of the closed form and the state that reaches it count as the same."""

SAME = 1e-7
"""Share within which two sustained fault currents count as equal, and the place where the whole part carries it is
named."""

WORTH = 1e-6
"""Share by which the bound of a stretch must exceed what is known to be worth solving."""

WITHIN = 1e-6
"""Share within which a programme over states is settled."""

REACHED = 1e-5
"""Share within which a state that was searched counts as having reached a bound: the solver's own tolerance."""

AT_ITS_END = 1e-6
"""Share below what it may carry at which a part counts as being there."""

PAST = 1e-6
"""Share above its limit that a part has to come to: one that others hold at its limit is not over it."""

NEAR_HELD = 1e-6
"""Share within which a device stands at its limit in a worst fault that names another one as the holder."""

WHOLE = 1.0 - 1e-6
"""Share of a part from which it counts as carrying a current all along."""

AT_AN_END = 1e-6
"""Share of a conductor within which a point on it is not told from its end."""

VARIES = 1e-7
"""Change of a row from one end of a conductor to the other, per ampere, from which it counts as changing."""

NEAR_V = 1e-9
"""Voltages in V that differ by less count as equal."""

ALMOST_DOUBLE = 1e-14
"""Share of its terms within which the discriminant of a quadratic is rounding."""

CARRIES_NOTHING_A = 1e-6
"""A device with no more current than this is not needed for a state: set to nothing, it would not open in it."""

DRAWN_AS_IS = 1e-3
"""Share by which a load may count with more than it draws without the answer being called a bound."""

MADE_UP = 1e-4
"""Share by which the parts of a combined overload current may miss it and still be told as its make-up."""

NOTHING_A = 1e-4
"""A device that holds no more than this in A holds nothing: what is over its limit then is so whatever is set."""

BACK_FEED_A = 1e-3
"""Less fault current than this in A inside an output is rounding."""
