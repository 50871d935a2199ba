"""Families a (grains) and b (kinetics)."""

FAMILIES = {"a": "grains", "b": "kinetics"}
