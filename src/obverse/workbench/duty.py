"""A duty: a used bath that must be destroyed, in words, the same on every page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Duty:
    """What must be done: a used bath that has to be destroyed, with the page that says how.

    Parameters
    ----------
    taken : str
        Who has said that they do it; empty where nobody has.
    run, formula : str
        The evening it comes from and the key of the bath, where it comes from one.
    by_s : float or None
        Until when, seconds since 1970 UTC; None where nobody knows.
    """

    what: str
    why: str
    href: str
    taken: str = ""
    run: str = ""
    formula: str = ""
    overdue: bool = False
    by_s: float | None = None


def duty(name: str, href: str, by_s: float, now_s: float, taken: str = "", run: str = "", formula: str = "") -> Duty:
    """The duty to destroy a used bath of that name until an instant, in words.

    Parameters
    ----------
    by_s, now_s : float
        Seconds since 1970 UTC.
    """
    left_min = (by_s - now_s) / 60
    at = local_clock(by_s)
    why = (
        f"It had to be gone by {at}, {-left_min:.0f} min ago. It must not stand: do it now."
        if left_min < 0
        else f"By {at}, {left_min:.0f} min are left. It must not stand."
    )
    return Duty(f"Destroy {name}", why, href, taken, run, formula, left_min < 0, by_s)


def local_clock(at_s: float, *, seconds: bool = False) -> str:
    """An instant as the clock on the wall beside this computer shows it."""
    return datetime.fromtimestamp(at_s).astimezone().strftime("%H:%M:%S" if seconds else "%H:%M")
