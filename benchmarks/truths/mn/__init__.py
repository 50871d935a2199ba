"""A judging world for first-developer recipes of reversed black-and-white negative film. numpy only."""

FAMILIES = {"m": "crystal_bath", "n": "kinked_layers"}
