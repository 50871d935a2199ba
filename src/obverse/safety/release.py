"""How much of a dissolved gas leaves, and what the room then holds.

Two films resist: that of the liquid and that of the air (records ``hazard.transfer.*``); what no water can hold
at one atmosphere bubbles out at once. The room is well mixed and aired while the gas comes (`obverse.safety.airborne`).
"""

from __future__ import annotations

import math

from obverse.chemistry import KELVIN
from obverse.reference import number
from obverse.safety.properties import gases
from obverse.safety.setting import HURTS, KILLS, Setting

# Litres of a mole of gas at 20 C and one atmosphere.
MOLAR_LITRES = 24.055
# Enthalpy of dissolving over the gas constant: 2000 to 4200 K for the gases here (from memory).
_HENRY_K = 3500.0
# A hot bath lets go of this many times what stands in air over water (our judgement); so many times a loud caution injures.
_BOILED_OUT, _INJURES = 20, 5
# Room temperature and the boil, C; zero of Celsius.
_COLD_C, _BOIL_C = 20.0, 95.0


# Places where one does not stand with the face over it.
_NOBODY_BENDS = ("room", "shelf", "standing")
# Gases that kill by fire: where all of the room's air burns; over the vessel they only pop.
_BURN = ("hydrogen", "acetylene")
# The gas that fills the lungs with water only hours later, so that nobody leaves in time: refused from half of what kills, for what is
# reckoned of a room is right within a factor of two (our judgement).
_CREEPS, _WITHIN_DOUBT = "nitrogen_dioxide", 0.5
# What is no larger than this is no room (our judgement).
_CUPBOARD_M3 = 1.0
# Gases whose sting drives one out of a spill long before they kill: it takes so many times more (our judgement).
STINGS, _DRIVES_OUT = (
    (
        "sulfur_dioxide",
        "ammonia",
        "hydrogen_chloride",
        "acetic_acid",
        "chlorine",
        "chloramine",
        "bromine",
        "formaldehyde",
    ),
    5.0,
)

# What drives one out of a room as these do, though nobody has a nose for how long (our judgement).
_STINGS_TOO = "hydrogen_fluoride"

# Gases that close the airways of somebody with asthma, from a fifth of what others bear: 0.2 ppm of sulfur dioxide (acute exposure
# guideline level 1 of the US EPA, from memory); of the others by likeness.
_TIGHTENS, _OF_ASTHMA = (
    ("sulfur_dioxide", "chlorine", "chloramine", "ammonia", "nitrogen_dioxide", "formaldehyde", "hydrogen_chloride"),
    0.2,
)


def dissolved_capacity_mol_per_l(gas: str) -> float:
    """What a litre of water holds of a gas under one atmosphere of it."""
    return 1 / (gases()[gas].air_over_water * MOLAR_LITRES)


def leaving_share(
    gas: str, moles: float, volume_l: float, setting: Setting, *, hot: bool = False, temperature_c: float = 20.0
) -> float:
    """Share of the gas in solution that leaves while somebody stands there.

    Parameters
    ----------
    moles : float
        In solution.
    temperature_c : float
        Of the liquid when the gas leaves.
    hot : bool
        The liquid comes near to boiling: hardly anything stays.
    """
    if moles <= 0:
        return 0.0
    # Warm water lets go of gas: about twice as much for each 20 C (from memory, 2000 to 4200 K for the gases here).
    warmer_k = 1 / (KELVIN + _COLD_C) - 1 / (KELVIN + min(_BOIL_C, max(_COLD_C, temperature_c)))
    ratio = gases()[gas].air_over_water * math.exp(_HENRY_K * warmer_k)
    bubbles = max(0.0, 1 - dissolved_capacity_mol_per_l(gas) * volume_l / moles)
    rate_m_per_s = 1 / (1 / number("hazard.transfer.liquid") + 1 / (number("hazard.transfer.air") * ratio))
    # A small amount stands in a small vessel, about as wide as deep.
    surface_m2 = setting.surface_m2
    if setting.place in ("mixing", "carry_over"):
        surface_m2 = min(surface_m2, 2 * (volume_l / 1000) ** (2 / 3))
    depth_m = max(1e-3, volume_l / 1000 / surface_m2)
    leaves = -math.expm1(-rate_m_per_s * 60 * setting.breathing_min / depth_m)
    if hot:
        leaves = max(leaves, min(1.0, _BOILED_OUT * ratio))
    return bubbles + (1 - bubbles) * leaves


def room_ppm(moles: float, setting: Setting) -> float:
    """Mean of the room at the end of the release."""
    aired = setting.room.air_changes_per_h * setting.released_h
    kept = 1.0 if aired < 1e-9 else -math.expm1(-aired) / aired
    return 1e6 * moles * MOLAR_LITRES / 1000 / setting.room.volume_m3 * kept


def gas_severity(gas: str, ppm: float, setting: Setting) -> int:
    """4 where what is breathed may kill (record ``hazard.refused.of_lethal``), 3 or 2 from the short-term limit on, else 1."""
    limits = gases()[gas]
    # Whoever bends over the vessel breathes more than the mean of the room; nobody bends for long over an open tray, a spill or what stands overnight.
    near = 1.0 if setting.place in _NOBODY_BENDS or gas in _BURN else number("practice.air.burst_near")
    lethal_ppm = limits.lethal_ppm
    if setting.asthma:
        lethal_ppm = limits.lethal_asthma_ppm or lethal_ppm
    lethal_ppm *= number("hazard.refused.of_lethal")
    leaves = gas in STINGS or gas == _STINGS_TOO
    if setting.place == "room" and leaves:
        # Beside open vessels that sting nobody stays half an hour.
        lethal_ppm = limits.ten_min_ppm or lethal_ppm
    if (setting.place == "shelf" or setting.spilt) and gas in STINGS:
        lethal_ppm = max(lethal_ppm, limits.lethal_ppm * _DRIVES_OUT)
    if setting.place == "shelf":
        # A broken bottle is smelt from the door: only what kills within a few breaths counts.
        lethal_ppm = max(lethal_ppm, limits.breaths_ppm or 0.0)
    if gas == _CREEPS and setting.place in ("room", "standing"):
        lethal_ppm *= _WITHIN_DOUBT
    caution_ppm = limits.caution_ppm
    if setting.asthma and gas in _TIGHTENS:
        caution_ppm *= _OF_ASTHMA
    # Into a cupboard nobody steps: its air stings whoever opens it, and one steps back.
    shut_in = setting.place in ("shelf", "damp") and setting.room.volume_m3 < _CUPBOARD_M3 and gas in STINGS
    # Nobody bends over it for longer than ten minutes; over what stings not even so long.
    bent_ppm = max(lethal_ppm, limits.warns_to_ppm, 0.0 if leaves else limits.ten_min_ppm or 0.0)
    kills = ppm >= lethal_ppm or ppm * near >= bent_ppm
    if kills and not shut_in:
        return KILLS
    if ppm >= _INJURES * caution_ppm:
        return HURTS
    return 2 if ppm >= caution_ppm else 1
