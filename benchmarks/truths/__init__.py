"""Films of other worlds: truths that share no law, no constant and no prior with the process model.

Each folder here is one hand's work: a `common` module (aims, ranges, seeing) and one module for each
family. The folder's `FAMILIES` names them by letter; a new folder is found by itself.
"""

from __future__ import annotations

import importlib
import pkgutil
from types import ModuleType


def families() -> dict[str, tuple[ModuleType, ModuleType]]:
    """Family modules with the `common` of their folder, by letter."""
    found = {}
    for info in pkgutil.iter_modules(__path__):
        if info.ispkg:
            package = importlib.import_module(f"{__name__}.{info.name}")
            common = importlib.import_module(f"{__name__}.{info.name}.common")
            for letter, name in package.FAMILIES.items():
                found[letter] = (importlib.import_module(f"{__name__}.{info.name}.{name}"), common)
    return dict(sorted(found.items()))
