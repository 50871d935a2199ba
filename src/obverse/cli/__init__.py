"""The terminal face: `obverse ...`."""

from obverse.cli.main import main

__all__ = ["main"]
