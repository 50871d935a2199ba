"""Harms that are told from a record: what must be there, where, how warm and how long, and what then happens.

No reaction is reckoned here. What a rule would only name an amount and a place for stands in ``data/recorded.json``,
each with what it rests on.
"""

from __future__ import annotations

import math
from functools import cache
from importlib.resources import files

from pydantic import Field, TypeAdapter

from obverse.foundation import Document, regex
from obverse.safety.body import Portion
from obverse.safety.properties import holds
from obverse.safety.scene import Scene
from obverse.safety.setting import KILLS, Place, Setting


class RecordedPart(Document):
    """What must be there: any of these substances or entities, at least so many grams of them.

    `named` are words that the name of the portion must say (dust, wool); `dry` counts only what comes as a solid, `share` only
    portions that hold so much of it by mass.
    """

    any: tuple[str, ...] = Field(min_length=1)
    at_least_g: float = Field(gt=0)
    named: str = ""
    dry: bool = False
    share: float = 0.0

    def grams(self, portions: tuple[Portion, ...]) -> float:
        """Grams of it in all."""
        said = regex(self.named) if self.named else None
        return math.fsum(
            _grams(self.any, portion)
            for portion in portions
            if (portion.solid or not self.dry)
            and _grams(self.any, portion) >= self.share * portion.grams
            and (said is None or said.search(portion.name.lower()))
        )


class RecordedHarm(Document):
    """A harm and when it is told.

    `places` are those it happens in and `elsewhere` those it does not (neither: everywhere); `needs` names what must be
    true of the setting; `most_wet` is the most water, as a part of the whole mass; from `kills_from` times the least of
    every part it kills.
    """

    mechanism: str
    parts: tuple[RecordedPart, ...] = Field(min_length=1)
    places: tuple[Place, ...] = ()
    elsewhere: tuple[Place, ...] = ()
    needs: tuple[str, ...] = ()
    least_h: float = 0.0
    least_c: float = -math.inf
    most_wet: float = 1.0
    severity: int = Field(ge=2, le=4)
    kills_from: float = math.inf
    what: str
    do: str
    basis: str

    def may_happen(self, setting: Setting) -> bool:
        """Whether time, warmth and vessel are those of this harm; the place is."""
        return (
            setting.hours >= self.least_h
            and setting.temperature_c >= self.least_c
            and all(getattr(setting, name) for name in self.needs)
        )


def _grams(names: tuple[str, ...], portion: Portion) -> float:
    found = portion.water_ml if "water" in names else 0.0
    return found + math.fsum(
        portion.share_of(key) * portion.grams
        for key in portion.moles
        if key in names or not holds().get(key, {}).keys().isdisjoint(names)
    )


@cache
def recorded_harms() -> tuple[RecordedHarm, ...]:
    """All of them, as they stand in the data."""
    data = files("obverse.safety").joinpath("data/recorded.json").read_bytes()
    return TypeAdapter(tuple[RecordedHarm, ...]).validate_json(data)


@cache
def _harms_in(place: Place) -> tuple[tuple[RecordedHarm, frozenset[str]], ...]:
    """Those of a place, each with what the scarcest of its parts may be."""
    return tuple(
        (harm, min((frozenset(part.any) for part in harm.parts), key=lambda names: ("water" in names, len(names))))
        for harm in recorded_harms()
        if (not harm.places or place in harm.places) and place not in harm.elsewhere
    )


def _recorded(scene: Scene) -> None:
    """Tell each recorded harm whose parts are here in this place."""
    here = scene.first.left.keys() | {key for portion in scene.portions for key in portion.moles}
    for harm, scarce in _harms_in(scene.setting.place):
        # "steam_in_closed" is made of water alone.
        if (scarce.isdisjoint(here) and "water" not in scarce) or not harm.may_happen(scene.setting):
            continue
        if 1000 * scene.first.water_l > harm.most_wet * max(1.0, scene.first.grams):
            continue
        grams = [part.grams(scene.portions) for part in harm.parts]
        times = min(there / part.at_least_g for there, part in zip(grams, harm.parts, strict=True))
        if times >= 1:
            severity = KILLS if times >= harm.kills_from else harm.severity
            scene.say(
                harm.mechanism,
                severity,
                harm.what,
                f"{grams[0]:.2g} g" if grams[0] < 10 else f"{grams[0]:.0f} g",
                harm.do,
            )


RECORDED = (_recorded,)
