"""Wire lists: a harness as a table of wires from one end to another, and a table of the parts at their ends."""
