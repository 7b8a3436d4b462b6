"""Comparing two analyses of a harness: what was added, removed or changed, what got worse first."""
