"""Two fields of one part can't both be true.

Both values are used as they stand; which one is wrong can't be told.

Formula: ``Minimum voltage`` > ``Maximum voltage``; ``Duration`` > ``Period``; upper end of ``Trip`` < ``Limit``
of an output; upper end of ``Trip`` < ``Hold`` of a resettable fuse; ``Breaking capacity`` < ``Rating``;
``Working voltage`` > ``Open-circuit voltage`` and ``Working current`` > ``Short-circuit current`` of a solar
string; ``Starting time`` or ``Inrush time`` > ``Start every``; ``Load`` in A > ``Starting current`` or
``Stalled current``; a stated ``Resistance`` below half of that of annealed copper at 20 °C of the drawn size
and length; a conductor's ``Rating`` above what its size withstands for one second; ``Duration`` and ``Duty`` of
``Period`` more than 5 % apart; a ``Contact rating`` above what the contact's family carries with one position
loaded; a ``Voltage`` written with a band that is not that of ``Tolerance`` (on each side the wider counts); a
symbol's ``Value`` that reads as its main field and is more than 5 % away from what that field says (the field
counts).

Source: common practice, no published source.

Passes: a load with ``Minimum voltage`` = ``11 V`` and ``Maximum voltage`` = ``13 V``.

Fails: an output with ``Limit`` = ``12 A`` and ``Trip`` = ``10 A``: it could never give its limit.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("fields-contradict", Severity.WARNING, "Fields contradict each other", incomplete=True)
