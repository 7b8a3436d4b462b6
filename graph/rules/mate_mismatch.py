"""The halves of a mated pair do not fit each other as drawn.

Formula: none.

Source: common practice, no published source.

Passes: plug ``P4`` with pins 1 to 6 and ``Mates`` = ``J4``, socket ``J4`` with pins 1 to 6.

Fails: ``P4`` mating ``J9``, which is not drawn or is no connector; two plugs mating one socket; a plug with pin
7 on a socket of six.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("mate-mismatch", Severity.ERROR, "Connector halves do not fit", incomplete=True)
