"""Care: baths and how long they last, waste jugs, hazards of a route, the air of the room, what may not meet."""

from obverse.workbench.care.baths import FILMS, BathView, film_area_m2
from obverse.workbench.care.hazards import RouteCare, StepCare, route_care
from obverse.workbench.care.jugs import Jugs, JugView

__all__ = ["FILMS", "BathView", "Care", "JugView", "RouteCare", "StepCare", "film_area_m2", "route_care"]


class Care(Jugs):
    """Baths, jugs, hazards and the room of one person.

    Parameters
    ----------
    store, clock, home
        As `open_workbench` gives them.
    """
