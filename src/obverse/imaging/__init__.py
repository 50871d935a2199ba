"""Pictures as arrays: what codes mean, where the strip lies, and how light is measured."""

from obverse.imaging.picture import Picture

__all__ = ["Picture"]
