"""The door for pictures: files and bytes in, `obverse.imaging.Picture` out."""

from obverse.capture.loading import load_picture
from obverse.capture.saving import save_deep_png, save_tiff

__all__ = ["load_picture", "save_deep_png", "save_tiff"]
