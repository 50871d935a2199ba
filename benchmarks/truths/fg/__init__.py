"""Families f (trays, grain classes that share a solvent) and g (no physics: ramps, staircases, gates); nothing was mended by them."""

FAMILIES = {"f": "tray", "g": "loom"}
