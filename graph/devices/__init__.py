"""Protective devices: what each holds, at what it trips and how fast, with the published curves behind that."""
