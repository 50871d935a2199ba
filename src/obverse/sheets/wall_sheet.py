"""The wall sheet of a class: one code for the evening, large enough to be scanned from a step away."""

from __future__ import annotations

from datetime import datetime

from obverse.foundation import InputError, JsonObject
from obverse.sheets.typeset import PAPERS, qr_svg, typeset


def wall_sheet_pdf(link: str, *, until: datetime, places: int, paper: str = "a4") -> bytes:
    """The sheet as PDF.

    Parameters
    ----------
    link : str
        What the code says; whoever reads it is let in.
    until : datetime
        When it lets nobody in any more, as the clock on the wall says it.
    places : int
        How many devices it lets in.

    Returns
    -------
    bytes
        A PDF of one page.

    Raises
    ------
    InputError
        For another paper.
    """
    if paper not in PAPERS:
        raise InputError(f"there is no paper {paper!r}", where="paper", remedy="use a4 or us-letter")
    return typeset("wall_sheet", wall_data(link, until, places, paper))


def wall_data(link: str, until: datetime, places: int, paper: str) -> JsonObject:
    """What the template is given."""
    devices = "1 phone" if places == 1 else f"{places} phones"
    return {
        "paper": paper,
        "qr": qr_svg(link),
        "link": link,
        "lead": f"Lets in {devices}, until {until:%H:%M} on {until:%Y-%m-%d} or until it is closed.",
        "steps": [
            "Join the network of this room.",
            "Scan the code, give the phone a name, press Pair.",
            "Choose who you are under Who works here.",
        ],
        "caution": "Take this sheet down at the end: it opens the notebook to whoever scans it.",
    }
