"""Three ways of reading a drawing: a netlist, KiCad's own command line, and the schematic itself."""

from loadloom.plugin.reading.reader import Progress, read_drawing

__all__ = ["Progress", "read_drawing"]
