"""The browser of the desktop."""

from __future__ import annotations

import contextlib
import os
import webbrowser
from collections.abc import Mapping

from obverse.system.kind import THIS, Kind


def may_open_browser(kind: Kind = THIS, environment: Mapping[str, str] = os.environ) -> bool:
    """Whether a desktop is there to open a browser on: Windows and macOS have one unless somebody came by SSH.

    Parameters
    ----------
    kind : {"linux", "macos", "windows", "other"}
        The system.
    environment : mapping
        The environment of this program.

    Returns
    -------
    bool
        Whether a browser would be seen.
    """
    if environment.get("SSH_CONNECTION") or environment.get("SSH_TTY"):
        return False
    if kind in ("windows", "macos"):
        return True
    return bool(environment.get("DISPLAY") or environment.get("WAYLAND_DISPLAY"))


def open_browser(address: str) -> None:
    """Open an address; where no browser can be started the address was told anyway.

    Parameters
    ----------
    address : str
        As a browser takes it.
    """
    with contextlib.suppress(webbrowser.Error, OSError):
        webbrowser.open(address)
