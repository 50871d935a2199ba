"""The door for pictures: files and bytes in, `obverse.imaging.Picture` out."""

from obverse.capture.loading import MOST_PIXELS, MOST_SIDE, load_picture
from obverse.capture.saving import save_deep_png, save_tiff

__all__ = ["MOST_PIXELS", "MOST_SIDE", "load_picture", "save_deep_png", "save_tiff"]
