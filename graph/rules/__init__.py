"""The rules: one module each, holding the rule's name, severity, documentation and check.

A rule's module docstring is its page in the rule reference. It has a first line (what the finding means),
then paragraphs headed ``Formula:``, ``Source:``, ``Passes:`` and ``Fails:``. The module defines ``RULE`` and,
where the finding comes out of the analysis and not out of reading the drawing, a function
``check(facts) -> Iterator[Finding]``.
"""
