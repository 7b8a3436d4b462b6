"""From a Drawing to a Harness: roles, fields, joints, mates and wires, and what is missing or doubtful."""

from loadloom.plugin.building.assemble import build_harness

__all__ = ["build_harness"]
