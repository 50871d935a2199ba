"""Situations whose parts and setting are told in fields and numbers: no word of them is interpreted.

Their authors had the list of substances that can be named, and nothing of the rules.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from obverse.process.catalog import substances
from obverse.safety.airborne import Room
from obverse.safety.body import Portion, liquid, powder
from obverse.safety.setting import Setting, setting_for, unknown_room

# A liquid of one substance that weighs so much of what the pure one does brings no water along.
_NEAT_G_PER_L = 600.0
# mL that stay in a tank nobody empties well, and mL of the tank, where a row does not say.
_CARRIED_ML, _TANK_ML = 30.0, 500.0
# What a spill covers at the most, m2, and how thick it lies, mL/m2.
LARGEST_PUDDLE_M2, PUDDLE_ML_PER_M2 = 2.0, 3000.0


def told_in_fields(situation: dict[str, Any]) -> bool:
    """Whether it is one of these."""
    return any("holds" in part or "grams" in part for part in situation["parts"])


def in_fields(situation: dict[str, Any]) -> tuple[list[Portion], Setting]:
    """Portions and setting as the fields say them.

    Raises
    ------
    KeyError
        For a substance that nothing is known of.
    """
    portions = [_portion(part) for part in situation["parts"]]
    told = situation.get("room") or {}
    usual = unknown_room()
    room = Room(
        float(told.get("volume_m3") or usual.volume_m3),
        float(told.get("air_changes_per_h", usual.air_changes_per_h)),
    )
    hours = float(situation.get("hours") or 0.0)
    setting = setting_for(situation["context"], room, hours=hours)
    if setting.place in ("room", "standing") and hours:
        setting = replace(setting, breathing_min=min(60.0, 60 * hours))
    setting = replace(
        setting,
        temperature_c=float(situation.get("temperature_c") or setting.temperature_c),
        **(situation.get("setting") or {}),
    )
    if setting.spilt:
        spilt_m2 = sum(p.volume_ml for p in portions) / PUDDLE_ML_PER_M2
        setting = replace(setting, surface_m2=max(setting.surface_m2, min(LARGEST_PUDDLE_M2, spilt_m2)))
    rinse = situation.get("rinse")
    if rinse and portions:
        tank_ml = float(rinse.get("tank_ml") or _TANK_ML)
        carried_ml = float(rinse.get("carried_ml") or _CARRIED_ML)
        share = min(1.0, carried_ml / max(1.0, portions[0].volume_ml))
        portions[0] = portions[0].times(share * (carried_ml / tank_ml) ** int(rinse.get("fills") or 0))
    return portions, setting


def _portion(part: dict[str, Any]) -> Portion:
    name, at_once = str(part["name"]), not part.get("slowly")
    if "grams" in part:
        made = powder(name, {key: float(g) for key, g in part["grams"].items() if key != "water"}, at_once=at_once)
        return replace(made, water_ml=float(part.get("water_ml") or 0.0) + float(part["grams"].get("water", 0.0)))
    held = {key: float(g) for key, g in part["holds"].items() if key != "water"}
    pure = len(held) == 1 and all(
        substances()[key].phase == "liquid" and "acid" not in key and key != "ammonia" and grams > _NEAT_G_PER_L
        for key, grams in held.items()
    )
    density = next(iter(held.values())) / 1000 if pure else None
    return liquid(name, held, float(part["volume_ml"]), density_g_per_ml=density, at_once=at_once)
