"""A symbol counts in a role that is a guess, which nobody has confirmed.

`loadloom setup --yes` writes its proposals so (``confirmed = false``): what the results rest on is then not known,
and the verdict is at best incomplete.

Formula: none.

Source: common practice, no published source.

Passes: ``"Device:Fuse" = "fuse"`` in the settings.

Fails: ``"Device:R" = { role = "load", confirmed = false }``.
"""

from loadloom.graph.findings import Rule, Severity

RULE = Rule("role-guessed", Severity.WARNING, "Role is a guess", incomplete=True)
