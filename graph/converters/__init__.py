"""Converters where a fault is looked at: what their inputs draw at most, and what they become when they fail."""
