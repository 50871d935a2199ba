"""What the codes of a picture mean: codes to linear light and back."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from obverse.foundation import Array

# IEC 61966-2-1, the standard sRGB curve; checked against the records srgb-dec-*.
_LINEAR_END = 0.04045
_SLOPE = 12.92
_OFFSET = 0.055
_EXPONENT = 2.4


def srgb_to_linear(signal: ArrayLike) -> Array:
    """Linear light 0..1 of an sRGB signal 0..1 (array or number)."""
    v = np.asarray(signal, dtype=np.float64)
    linear: Array = np.where(v <= _LINEAR_END, v / _SLOPE, ((np.maximum(v, 0) + _OFFSET) / (1 + _OFFSET)) ** _EXPONENT)
    return linear


def linear_to_srgb(linear: ArrayLike) -> Array:
    """The sRGB signal 0..1 of linear light 0..1: of a number or an array, in the shape it has."""
    x = np.asarray(linear, dtype=np.float64)
    signal: Array = np.where(
        x <= _LINEAR_END / _SLOPE, x * _SLOPE, (1 + _OFFSET) * np.maximum(x, 0) ** (1 / _EXPONENT) - _OFFSET
    )
    return signal


def srgb_table(codes: int) -> Array:
    """Linear light of each of `codes` equally spaced sRGB codes, shape (codes,)."""
    return srgb_to_linear(np.arange(codes) / (codes - 1))
