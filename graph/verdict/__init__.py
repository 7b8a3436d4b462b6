"""From what the rules say to what the report says: list of rules, accepted findings, assumptions, the verdict."""
