"""Temperatures of conductors, contacts, zones and enclosures from what is lost in them."""
