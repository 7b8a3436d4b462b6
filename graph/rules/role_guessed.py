"""A symbol has a role that is a guess, which nobody has confirmed.

`loadloom setup --yes` marks its proposals as guesses (``confirmed = false``). What the symbols stand for is then
not sure, and the verdict is at best incomplete.

Formula: none.

Source: common practice, no published source.

Passes: ``"Device:Fuse" = "fuse"`` in the settings.

Fails: ``"Device:R" = { role = "load", confirmed = false }``.
"""

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("role-guessed", Severity.WARNING, "Role is a guess", incomplete=True)
