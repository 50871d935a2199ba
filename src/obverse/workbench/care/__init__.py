"""Care: baths and how long they last, waste jugs, hazards of a route, the air of the room, what may not meet."""

from obverse.safety import (
    AirEstimate,
    Finding,
    Room,
    ammonia_in_air,
    destruction_steps,
    refuse_lethal,
    residue_of,
    shown_and_folded,
    unknown_room,
    usual_jug,
)
from obverse.safety.meeting import MEETING_WORDS
from obverse.workbench.care.baths import FILMS, BathView, film_area_m2
from obverse.workbench.care.hazards import RouteCare, StepCare, route_care
from obverse.workbench.care.jugs import Jugs, JugView

__all__ = [
    "FILMS",
    "MEETING_WORDS",
    "NOTHING",
    "AirEstimate",
    "BathView",
    "Care",
    "Finding",
    "JugView",
    "Room",
    "RouteCare",
    "StepCare",
    "ammonia_in_air",
    "destruction_steps",
    "film_area_m2",
    "refuse_lethal",
    "residue_of",
    "route_care",
    "shown_and_folded",
    "unknown_room",
    "usual_jug",
]

NOTHING = "No recorded pair is met and no rule found anything. That is no proof of anything: labels, safety data sheets and local codes come first."


class Care(Jugs):
    """Baths, jugs, hazards and the room of one person."""
