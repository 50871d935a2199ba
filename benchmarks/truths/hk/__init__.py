"""Families h (layers, two agents and a buffer) and k (no physics: tables, rational functions, nets of one sign); nothing was mended by them."""

FAMILIES = {"h": "emulsion", "k": "tablework"}
