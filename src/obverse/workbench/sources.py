"""Every number of the house, as a page."""

from obverse.reference import sources_page

__all__ = ["sources_page"]
