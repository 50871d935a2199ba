"""One name for arrays of numbers; numpy is not loaded for it."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Array: TypeAlias = "NDArray[np.float64]"
