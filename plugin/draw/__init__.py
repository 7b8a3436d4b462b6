"""Lays a wire list out as a KiCad schematic: sources left, loads right, wires and cables in channels between."""
