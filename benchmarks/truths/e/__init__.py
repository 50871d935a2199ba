"""Family e (two-emulsion films), kept unseen until the notebook was finished."""

FAMILIES = {"e": "layers"}
