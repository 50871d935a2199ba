"""Which system this is."""

from __future__ import annotations

import sys
from typing import Literal

Kind = Literal["linux", "macos", "windows", "other"]


def kind_of(platform: str) -> Kind:
    """The system that Python calls `platform`.

    Parameters
    ----------
    platform : str
        As `sys.platform` has it.

    Returns
    -------
    {"linux", "macos", "windows", "other"}
        "other" has the files and terminals of a POSIX system.
    """
    if platform.startswith("linux"):
        return "linux"
    if platform == "darwin":
        return "macos"
    # Python of the MSYS and Cygwin shells has the files of a POSIX system; only this one has none.
    return "windows" if platform == "win32" else "other"


THIS: Kind = kind_of(sys.platform)
