"""Families c (published curves) and d (smooth random fields)."""

FAMILIES = {"c": "published", "d": "fields"}
