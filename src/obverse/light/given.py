"""What a person gives of light: numbers above nothing."""

from __future__ import annotations

import math

from obverse.foundation import InputError


def positive(value: float, name: str) -> None:
    """Refuse what is no number above nothing.

    Parameters
    ----------
    name : str
        Of what was given, for the error.

    Raises
    ------
    InputError
        If it is not finite, nothing or less.
    """
    if not (math.isfinite(value) and value > 0):
        raise InputError(f"{value:g} cannot be", where=name, remedy="give a number greater than 0")
