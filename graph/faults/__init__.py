"""Faults anywhere: the most that each part can be made to carry without anything opening."""
