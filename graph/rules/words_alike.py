"""Two names of the same kind differ by one slip of the hand, or one word is both a state and an arrangement.

A misspelt state makes a case of its own, in which only the part that is misspelt does what was meant; a
misspelt supply is a unit of its own with no power limit. No other check would notice, so the verdict is at best
incomplete.

Formula: two states, arrangements, supplies, bundles or zones that become the same by adding, leaving out,
swapping or changing one letter, or that differ only in case (of states and arrangements the case never counts).
Names that differ by a digit or in their last letter (``pier A``, ``pier B``) are taken as two names.

Source: common practice, no published source.

Passes: ``Load@storm`` on two loads; ``Trip@pooled`` on two limiters.

Fails: ``Load@storm`` on one load and ``Load@stom`` on another; ``Trip@storm`` on a limiter besides, which names an
arrangement, since only loads have states.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("words-alike", Severity.WARNING, "Two names that may be meant as one", incomplete=True)
