"""A first settings file from a drawing: proposals for its symbols and wires, questions, and the file."""
