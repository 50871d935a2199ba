"""How worn a bath was when a strip went into it: from the films it had seen before."""

from __future__ import annotations

import math

from obverse.foundation import InputError
from obverse.reference import number
from obverse.run import RunState, bath_uses
from obverse.safety.bath_life import Pass, forecast
from obverse.store import Store
from obverse.workbench.care import Care

# What a step of a route does to the film, and the bath of a trial whose wear it tells.
BATH_OF_KIND = {"develop": "first_developer", "bleach": "bleach", "redevelop": "second_developer"}
USUAL_DEVELOPER_ML = 500.0
BATHS = {"first_developer": "first developer", "bleach": "bleach", "second_developer": "second developer"}


def developer_wear(films: float, volume_ml: float = USUAL_DEVELOPER_ML) -> float:
    """Share of its capacity that a developer had used after so many films.

    Parameters
    ----------
    films : float
        135-36 films, or as much area, that it had developed already.
    volume_ml : float
        Of the working developer.

    Returns
    -------
    float
        0 fresh to 1, by the record ``notebook.wear.developer_films_per_l``.

    Raises
    ------
    InputError
        For a number that cannot be.
    """
    if not (math.isfinite(films) and 0 <= films <= 1000):
        raise InputError(
            f"{films:g} films cannot have gone before",
            where="films developed before",
            remedy="give 0 for a fresh developer, or how many",
        )
    if not (math.isfinite(volume_ml) and 0 < volume_ml <= 1e5):
        raise InputError(
            f"a developer of {volume_ml:g} mL cannot be",
            where="volume of the developer",
            remedy="give its volume in mL",
        )
    return min(1.0, films / (number("notebook.wear.developer_films_per_l") * volume_ml / 1000))


def with_films_before(wear: dict[str, float], films: float, volume_ml: float) -> dict[str, float]:
    """Wear of a trial whose first developer had developed so many films already; as it was for none."""
    share = developer_wear(films, volume_ml)
    return {**wear, "first_developer": round(share, 3)} if share > 0 else wear


def wear_in_run(store: Store, care: Care, run_id: str, state: RunState, strip: str) -> dict[str, float]:
    """Wear of the baths of one strip of an evening, from the films that the shelf counted on them before.

    One that is mixed for the evening has no films before it: it is fresh and not named.
    """
    kinds = {step.key: step.kind for step in state.plan.route.steps}
    found = {}
    for use in bath_uses(state):
        bath = BATH_OF_KIND.get(kinds.get(use.step, ""))
        if bath is None or strip not in use.strips:
            continue
        mark = f"{run_id}/{use.action}"
        for row in store.bottles.all(retired=True, formula=use.formula):
            runs = [entry.run for entry in row.thing.passes]
            if mark in runs:
                share = _share(care, row.id, runs.index(mark), bath)
                if share > 0:
                    found[bath] = round(share, 3)
    return found


def _share(care: Care, bottle_id: str, before: int, bath: str) -> float:
    """Share of its capacity that a bath had used by its first `before` passes."""
    view = care.bath(bottle_id)
    # What was seen of these films stands in the belief already.
    earlier = [Pass(entry.area_m2) for entry in view.bottle.passes[:before]]
    area_m2 = sum(entry.area_m2 for entry in earlier)
    if not area_m2 or not view.bottle.amount:
        return 0.0
    if bath != "bleach":
        return developer_wear(area_m2 / number("area.135-36"), view.bottle.amount)
    known = forecast(view.formula, earlier, volume_ml=view.bottle.amount, belief=care.belief(view.formula))
    return min(1.0, known.used_share.value)


def wear_text(wear: dict[str, float]) -> str:
    """Such as "first developer 25 % used before"; empty where all was fresh."""
    told = [f"{BATHS[bath]} {100 * share:.0f} %" for bath, share in wear.items() if share > 0]
    return f"{', '.join(told)} used before" if told else ""
