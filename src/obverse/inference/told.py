"""What is known of a film before any strip: its box speed, its base, its kind of emulsion, the time on a label.

Each moves the centre of what films in general do, by so much as a record says and no more; the spread
stays as wide as it was, for none of this is more than common practice.
"""

from __future__ import annotations

import numpy as np

from obverse.foundation import Array
from obverse.model import INDEX, NAMES, PRIOR_MEAN
from obverse.process import SeriesFilm
from obverse.reference import number

# A base below this density counts as clear; speed and label time are told relative to these.
CLEAR_BASE = number("notebook.first.clear_base_below")
USUAL_SPEED = number("notebook.first.usual_speed")
USUAL_LABEL_MIN = number("notebook.first.usual_label_time_min")
# Beyond so many doublings a box speed tells nothing more.
MOST_DOUBLINGS = number("notebook.first.most_doublings")


def moved_centre(film: SeriesFilm) -> Array:
    """How far the centre of the parameters moves, in their coordinates, (P,)."""
    move = np.zeros(len(NAMES))
    doublings = float(np.clip(np.log2(film.box_speed / USUAL_SPEED), -MOST_DOUBLINGS, MOST_DOUBLINGS))
    move[INDEX["spread"]] += number("notebook.first.speed.contrast") * doublings
    move[INDEX["solvent_strength"]] += number("notebook.first.speed.solvent") * doublings
    if film.base_density is not None and film.base_density < CLEAR_BASE:
        move[INDEX["development_time"]] += number("notebook.first.clear_base.development")
    if film.emulsion == "tabular":
        move[INDEX["development_time"]] += number("notebook.first.tabular.development")
    if film.label_time_min is not None:
        label = float(np.clip(np.log(film.label_time_min / USUAL_LABEL_MIN), -1.0, 1.0))
        slower = number("notebook.first.label_time.development") * label
        move[INDEX["development_time"]] += slower
        # What develops more slowly also reaches its speed later.
        move[INDEX["speed_point"]] += np.exp(PRIOR_MEAN[INDEX["push"]]) * slower
    return move
