"""Ways of reading a drawing: netlists, KiCad's own command line, and the schematic itself."""
