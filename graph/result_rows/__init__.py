"""Rows of the results from the facts, one module for each kind of table: they look at facts and never search."""
