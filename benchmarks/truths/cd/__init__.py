"""Families c (published curves), d (smooth random fields) and e (two emulsions; kept unseen until the notebook was finished)."""

FAMILIES = {"c": "published", "d": "fields", "e": "layers"}
