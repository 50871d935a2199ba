"""What time does: baths that fall apart, ferment, dry out or drink from the air; salts that heat or damp breaks.

Speeds are common chemical knowledge near 20 C (from memory), doubled for every ten degrees. They tell whether a
closed bottle swells or a room fills, not how much is left of a bath (`obverse.safety.bath_life` does that).
"""

from __future__ import annotations

import math
from collections.abc import Callable

from obverse.foundation import regex
from obverse.safety.body import acid_in
from obverse.safety.properties import narcotics, volatiles
from obverse.safety.scene import Scene, amount_of, concentrated, metal_dust_mol
from obverse.safety.setting import HURTS, KILLS, TELLS

_OPEN = "Keep it in a vented bottle, cool, and not for long."
# Every ten degrees double a speed, roughly; that of persulfate some four and a half (half of it is gone at 70 C in about eight hours).
_COLD_C, _DOUBLES_K, _PERSULFATE_DOUBLES_K = 20.0, 10.0, 4.5
# Shares an hour at 20 C: persulfate in water and in acid, hypochlorite to oxygen, strong formic acid to carbon monoxide.
_PERSULFATE_PER_H, _PERSULFATE_ACID_PER_H, _HYPOCHLORITE_PER_H, _FORMIC_PER_H = 2e-5, 1e-4, 2e-5, 1.2e-7
_STRONG_FORMIC, _ACID_PH, _STRONG_ACID_PH, _LAUNDRY_MOL_PER_L = 0.85, 3.0, 1.0, 0.7
# Sugar ferments in a day or two near neutral; two moles of gas from a hexose, within a week, from this much on.
_SUGAR_MOL, _FERMENTS_AFTER_H, _FERMENTS_PER_H, _GAS_OF_SUGAR, _LIVES_PH = 0.05, 24.0, 0.01, 2.0, (3.0, 9.0)
# Carbon dioxide that a square metre of alkaline bath drinks from the air in a second; below this pH it drinks none.
_DRINKS_MOL_PER_M2_S, _DRINKS_ABOVE_PH, _BUFFERED_PH = 3e-6, 7.5, 8.0
_SECONDS_PER_H, _MINUTES_PER_H = 3600.0, 60.0
# Sulfides of which water dissolves nothing.
_UNDISSOLVED = ("iron_ii_sulfide", "silver_sulfide")
# Electrons that a molecule of carbon dioxide stands for where an oxidiser burns sugar or acid in solution; oxalate gives one for each.
_ELECTRONS_OF_CO2, _ELECTRONS_OF_OXALATE_CO2 = 4.0, 1.0
_BURNT = ("sugar", "polyol", "organic_acid", "formate", "aldehyde", "alcohol")
# Three hypochlorite make one nitrogen of two ammonia, or one nitrogen trichloride.
_CHLORINES_OF_N2, _N_OF_N2 = 3, 2
# Vapour in a closed bottle: Pa at 20 C of ammonia of 25 %, doubled each 17 K as most liquids do; what air grows by on warming, Pa a
# kelvin; over the cold bottle, what spurts when it is opened and what bulges it (our judgement).
_AMMONIA_PA, _AMMONIA_SHARE, _VAPOUR_DOUBLES_K, _AIR_PA_PER_K, _SPURTS_PA, _BOTTLE_BULGES_PA, _WARM_C = (
    48000.0,
    0.25,
    17.0,
    346.0,
    50000.0,
    100000.0,
    30.0,
)
# Hydrochloric acid of 36 %, as ammonia is counted (from memory).
_FUMING_PA, _FUMING_SHARE = 14000.0, 0.36
# Petrol and light naphtha hold what boils at blood heat (from memory).
_LIGHT_ENDS_PA = {"petrol": 30000.0}
# A gas that is kept as a liquid: moles in a bottle of the house, what a can does not bear, and what burns anyway.
_LIQUID_GAS_MOL, _CAN_C, _BURNS_C = 0.2, 45.0, 150.0
# An opened ether that stood half a year, and one that stood for years (time-sensitive chemicals, common list).
_ETHER_MOL, _ETHER_H, _YEARS_H = 0.3, 4000.0, 8766.0
_SAID_OLD = regex(r"\byears?\b|crystal|crust|grandfather|inherited|forgotten|dried out")
# Solids that heat breaks with fire or a bang, and from how much on; a flame is hotter than any plate.
_HEATED = (
    "ammonium_nitrate",
    "ammonium_dichromate",
    "ammonium_persulfate",
    "potassium_persulfate",
    "sodium_persulfate",
)
_HEATED_TOO = ("calcium_hypochlorite", "potassium_chlorate", "sodium_chlorate", "sodium_chlorite", "sodium_azide")
# How much of them, and the heat of a plate or oven; shares of gas (from memory).
_HEATED_MOL, _LIT_MOL, _HOT_C = 0.02, 0.05, 150.0
_HEATED_GAS = (
    ("ammonia", "ammonia", 0.2),
    ("thiosulfate", "sulfur_dioxide", 0.5),
    ("thiourea", "hydrogen_sulfide", 0.2),
    ("thiocyanate", "hydrogen_cyanide", 0.1),
)
# Chlorine powders that damp or water brings onto ammonium or urea; acid crystals that damp brings onto chlorite, sulfide, cyanide, nitrite.
_NITROGEN_MOL, _ACID_CRYSTALS_PH, _DAMP_SHARE = 0.02, 3.0, 0.1
_DAMP_GASES = (
    ("sulfide", "hydrogen_sulfide"),
    ("cyanide", "hydrogen_cyanide"),
    ("nitrite", "nitrogen_dioxide"),
    ("chlorite", "chlorine_dioxide"),
    ("azide", "hydrazoic_acid"),
    ("hypochlorite", "chlorine"),
)
# A tenth of what stands on a shelf from which it is told there (our judgement).
_JARS_MOL = {"sulfide": 0.05, "cyanide": 2e-3, "nitrite": 0.3, "chlorite": 0.02, "azide": 2e-3, "hypochlorite": 0.04}
# Pool chlorine beside ammonium or urea, some fifty grams of each (our judgement).
_BAGS_MOL = 0.2
# A dry mix of chlorate or permanganate with an ammonium salt.
_AMMONIUM_MOL = 0.02
# Nitrite and an ammonium salt as powders, twenty grams or so of each (our judgement).
_NITRITE_MOL = 0.2


def _speed(scene: Scene, per_h: float, doubles_k: float = _DOUBLES_K) -> float:
    """Share that is gone after the hours of the setting."""
    warm = 2 ** ((scene.setting.temperature_c - _COLD_C) / doubles_k)
    return -math.expm1(-per_h * warm * max(scene.setting.hours, scene.setting.released_h))


def _bottles_that_swell(scene: Scene) -> None:
    """Solutions that make gas by themselves: only a closed vessel or long standing shows it."""
    pool, first = scene.pool, scene.first
    persulfate = pool.has("persulfate")
    rate = _PERSULFATE_ACID_PER_H if pool.ph < _ACID_PH else _PERSULFATE_PER_H
    scene.gas(
        "persulfate_decays",
        "oxygen",
        0.5 * persulfate * _speed(scene, rate, _PERSULFATE_DOUBLES_K),
        "persulfate falls apart",
        _OPEN,
    )
    hypochlorite = pool.has("hypochlorite")
    # It breaks itself: the stronger the faster.
    stronger = max(1.0, hypochlorite / pool.volume_l / _LAUNDRY_MOL_PER_L)
    scene.gas(
        "hypochlorite_decays", "oxygen", 0.5 * hypochlorite * _speed(scene, _HYPOCHLORITE_PER_H * stronger),
        "hypochlorite falls apart", _OPEN,
    )  # fmt: skip
    if first.share_of("formic_acid") >= _STRONG_FORMIC:
        scene.gas(
            "formic_decays", "carbon_monoxide", pool.has("formate") * _speed(scene, _FORMIC_PER_H),
            "strong formic acid falls apart", _OPEN,
        )  # fmt: skip
    sugar = pool.has("sugar")
    low, high = _LIVES_PH
    if sugar > _SUGAR_MOL and scene.setting.hours >= _FERMENTS_AFTER_H and first.water_l > 0 and low < pool.ph < high:
        made = _GAS_OF_SUGAR * sugar * _speed(scene, _FERMENTS_PER_H)
        with scene.as_it_stands():
            scene.gas("ferments", "carbon_dioxide", made, "sugar ferments", _OPEN, all_of_it=not scene.setting.closed)
    burnt = math.fsum(met.electrons_mol for met in scene.met if met.reductant in _BURNT) / _ELECTRONS_OF_CO2
    burnt += math.fsum(met.electrons_mol for met in scene.met if met.reductant == "oxalate") / _ELECTRONS_OF_OXALATE_CO2
    scene.gas("burnt_in_solution", "carbon_dioxide", burnt, "an oxidiser burns what is organic", _OPEN)
    nitrogen = min(first.has("nitrite"), first.has("ammonia") + first.has("amine") + first.substance("sulfamic_acid"))
    if pool.ph < _LIVES_PH[0] or scene.setting.temperature_c > _WARM_C:
        scene.gas("nitrite_nitrogen", "nitrogen", nitrogen, "nitrite with ammonium, urea or sulfamic acid", _OPEN)
    nitrogen = (first.has("ammonia") + first.has("amine")) / _N_OF_N2
    chlorinated = min(first.has("hypochlorite") / _CHLORINES_OF_N2, nitrogen)
    scene.gas("chlorinated_nitrogen", "nitrogen", chlorinated, "hypochlorite on ammonium or urea", _OPEN)


def _drinks_from_air(scene: Scene) -> None:
    """Alkaline sulfide and cyanide that stand open: the carbon dioxide of the air is acid enough."""
    setting, pool = scene.setting, scene.pool
    if setting.closed or pool.ph < _DRINKS_ABOVE_PH or not setting.hours:
        return
    acid = 2 * _DRINKS_MOL_PER_M2_S * setting.surface_m2 * _SECONDS_PER_H * setting.hours
    alkali = max(0.0, -pool.acid_above(_BUFFERED_PH))
    with scene.as_it_stands():
        for entity, gas in (("sulfide", "hydrogen_sulfide"), ("cyanide", "hydrogen_cyanide")):
            # Soda or lye beside it takes its part of the acid.
            its_own = min(1.0, 2 * pool.has(entity) / max(alkali, 1e-9))
            scene.gas(
                "air_on_salts", gas, min(pool.has(entity) - pool.substance(*_UNDISSOLVED), its_own * acid), f"the carbon dioxide of the air frees it from {entity}",
                "Put a lid on.",
            )  # fmt: skip


def _vapour_in_bottle(scene: Scene) -> None:
    """A closed bottle in the warm: its vapour and its air press on the cap, and it spurts when it is opened."""
    setting, pool = scene.setting, scene.first
    if not setting.closed or setting.temperature_c <= _WARM_C:
        return
    warmer = 2 ** ((setting.temperature_c - _COLD_C) / _VAPOUR_DOUBLES_K)
    cold_pa = _AMMONIA_PA * pool.share_of("ammonia") / _AMMONIA_SHARE
    if pool.ph < 0:
        cold_pa += _FUMING_PA * max(0.0, pool.share_of("hydrochloric_acid") / _FUMING_SHARE)
    cold_pa += math.fsum(
        max(known.vapour_pa, _LIGHT_ENDS_PA.get(key, 0.0)) * pool.share_of(key) for key, known in volatiles().items()
    )
    cold_pa += math.fsum(known.vapour_pa * pool.share_of(key) for key, known in narcotics().items())
    pressure = cold_pa * warmer + _AIR_PA_PER_K * (setting.temperature_c - _COLD_C)
    if cold_pa and pressure > _SPURTS_PA:
        scene.say(
            "warm_vapour", HURTS if pressure > _BOTTLE_BULGES_PA else TELLS, "its vapour in the warm: the closed bottle bulges, and it spurts when it is opened",
            f"about {pressure / 1e5:.1g} bar of vapour and warmed air", "Let it grow cold before it is opened; keep it cool, and warm nothing in a closed bottle.",
        )  # fmt: skip


def _liquid_gas(scene: Scene) -> None:
    """What is a gas and is kept as a liquid or solid: it bursts what shuts it in."""
    setting, pool = scene.setting, scene.first
    inert, fuel = pool.has("inert_gas"), pool.has("fuel_gas")
    if setting.closed and setting.place not in ("shelf", "room") and inert > _LIQUID_GAS_MOL:
        scene.say(
            "liquid_gas", KILLS, "a liquefied gas boils in any warmth and bursts whatever shuts it in", amount_of(inert),
            "Never in a closed vessel, flask or tank.",
        )  # fmt: skip
    if fuel > _LIQUID_GAS_MOL and _CAN_C <= setting.temperature_c < _BURNS_C:
        scene.say(
            "liquid_gas", HURTS, "a can or cartridge of liquefied gas bursts in the heat, and what comes out burns", amount_of(fuel),
            "Away from sun, radiator and stove; never above 50 C.",
        )  # fmt: skip


# Five chlorite give four dioxide; its pK is near 2, but where a drop of a weak acid lands, that does.
_DIOXIDE_OF_CHLORITE, _CHLORITE_PH = 0.8, 4.5


def _chlorite(scene: Scene) -> None:
    """Chlorite with any acid, hypochlorite or persulfate gives chlorine dioxide at once; chlorate needs strong acid."""
    pool, first = scene.pool, scene.first
    chlorite = first.has("chlorite")
    if not chlorite or not pool.wet:
        return
    acid = math.fsum(max(0.0, acid_in(p, _CHLORITE_PH)) for p in scene.portions)
    moles = min(chlorite, acid + 2 * first.has("hypochlorite") + 2 * first.has("persulfate"))
    scene.gas(
        "chlorite_acid", "chlorine_dioxide", _DIOXIDE_OF_CHLORITE * moles, "acid, hypochlorite or persulfate on chlorite",
        "Never: five parts in a million of air burn the lungs.",
    )  # fmt: skip


def _powders(scene: Scene) -> None:
    """Crystals in one jar or scoop, damp or not yet."""
    pool, setting = scene.first, scene.setting
    together = setting.place != "shelf"
    chlorine = concentrated(scene, "hypochlorite", _DAMP_SHARE)
    nitrogen = pool.has("ammonia") + pool.has("amine")
    dry = any(p.solid for p in scene.portions if p.has("hypochlorite"))
    if dry and together and (setting.place == "damp" or pool.water_l > 0) and min(chlorine, nitrogen) > _NITROGEN_MOL:
        scene.say(
            "nitrogen_trichloride", KILLS, "pool chlorine damp with ammonium or urea: nitrogen trichloride, which explodes, and heat",
            amount_of(min(chlorine / _CHLORINES_OF_N2, nitrogen)), "Keep pool chlorine from fertiliser, ammonium salts and urea.",
        )  # fmt: skip
    if (
        dry
        and setting.place == "shelf"
        and min(chlorine, nitrogen) > _BAGS_MOL
        and all(p.solid for p in scene.portions)
    ):
        scene.say(
            "nitrogen_trichloride", HURTS, "pool chlorine beside ammonium or urea: two bags that tear, and damp makes nitrogen trichloride of them, which explodes",
            amount_of(min(chlorine / _CHLORINES_OF_N2, nitrogen)), "Never in one cupboard: the fertiliser elsewhere.",
        )  # fmt: skip
    for entity, what in (("chlorate", "ammonium chlorate"), ("permanganate", "ammonium permanganate")):
        both = min(pool.has(entity), pool.has("ammonia"))
        if together and both > _AMMONIUM_MOL and all(p.solid for p in scene.portions):
            scene.say(
                "ammonium_oxidiser", KILLS if entity == "chlorate" else HURTS, f"{what}: it falls apart with a bang, even by itself",
                amount_of(both), "Never an ammonium salt with it.",
            )  # fmt: skip
    nitrite = min(pool.has("nitrite"), pool.has("ammonia"))
    if together and nitrite > _NITRITE_MOL and all(p.solid for p in scene.portions):
        scene.say(
            "ammonium_nitrite", HURTS, "an ammonium salt with nitrite: damp or warm it falls apart by itself, with heat, nitrogen and spray", amount_of(nitrite),
            "Never in one vessel; much cold water on it, no acid, no heat.",
        )  # fmt: skip
    if setting.place == "shelf" and all(p.solid for p in scene.portions):
        acid = math.fsum(max(0.0, acid_in(p, _ACID_CRYSTALS_PH)) for p in scene.portions)
        for entity, _ in _DAMP_GASES:
            if min(_DAMP_SHARE * pool.has(entity), acid) > _JARS_MOL[entity]:
                scene.say(
                    "damp_acid", HURTS, f"acid crystals beside {entity}: two jars that break, and the damp of the air, set its poison free",
                    amount_of(pool.has(entity)), "Never in one cupboard: the acid elsewhere.",
                )  # fmt: skip
    if setting.place == "damp" and not pool.wet:
        acid = math.fsum(max(0.0, acid_in(p, _ACID_CRYSTALS_PH)) for p in scene.portions)
        for entity, gas in _DAMP_GASES:
            scene.gas(
                "damp_acid", gas, _DAMP_SHARE * min(pool.has(entity), acid), f"damp acid crystals on {entity}",
                "Never in one tub or cupboard.",
            )  # fmt: skip


# Powdered metals that heat themselves when damp, and from how much on (UN class 4.3; from memory); quicklime, a hundred grams (our judgement).
_DUST_MOL, _LIME_MOL = 0.7, 2.0
# Sulfur that stands in lye turns to sulfide, two of three within hours; as it is brought, before any acid.
_SULFIDE_OF_SULFUR, _LYE_OF_SULFIDE, _SULFUR_LYE_PH, _SULFUR_H = 0.67, 0.33, 12.0, 2.0


def _damp_dust(scene: Scene) -> None:
    metal = metal_dust_mol(scene.portions)
    lime = scene.first.substance("calcium_oxide")
    if scene.setting.place == "damp" and lime > _LIME_MOL:
        scene.say(
            "damp_lime", TELLS, "quicklime that grows damp slakes: it heats itself, swells, and may set fire to its sack", amount_of(lime),
            "Keep it dry in a tin with room to swell, away from what burns.",
        )  # fmt: skip
    if scene.setting.place == "damp" and metal > _DUST_MOL:
        scene.say(
            "damp_dust", TELLS, "damp metal powder gives hydrogen and heats itself", amount_of(metal),
            "Keep it dry; dry sand on a fire of it, never water.",
        )  # fmt: skip


def _sulfur_in_lye(scene: Scene) -> None:
    waits = scene.setting.hours > _SULFUR_H or scene.setting.temperature_c > _WARM_C
    alkaline = [p for p in scene.portions if acid_in(p, _SULFUR_LYE_PH) < 0 or p.moles.get("sulfur")]
    sulfur = math.fsum(p.moles.get("sulfur", 0.0) for p in alkaline)
    lye = math.fsum(max(0.0, -acid_in(p, _SULFUR_LYE_PH)) for p in alkaline)
    if waits and sulfur and lye and scene.first.wet:
        made = min(_SULFIDE_OF_SULFUR * sulfur, _LYE_OF_SULFIDE * lye)
        scene.pool.left["sulfide"] = scene.pool.has("sulfide") + made


def _broken_by_heat(scene: Scene) -> None:
    """Dry salts on a hot plate, in the oven or in a fire."""
    pool = scene.first
    lit = math.fsum(p.moles.get(key, 0.0) for p in scene.portions if p.solid for key in _HEATED)
    if scene.setting.flame and lit > _LIT_MOL and scene.setting.temperature_c < _HOT_C:
        scene.say(
            "heated_oxidiser", HURTS, "beside a flame it falls apart with fire, smoke and a dust that poisons", amount_of(lit),
            "No flame near it; never lit for show.",
        )  # fmt: skip
    if scene.setting.temperature_c < _HOT_C:
        return
    oxidisers = pool.substance(*_HEATED, *_HEATED_TOO)
    if oxidisers > _HEATED_MOL:
        scene.say(
            "heated_oxidiser", HURTS, "heat breaks it with fire or a bang", amount_of(oxidisers),
            "Never dry or heat it on a plate or in an oven.",
        )  # fmt: skip
    for entity, gas, share in _HEATED_GAS:
        scene.gas(
            "heated_salt",
            gas,
            share * pool.has(entity),
            f"heat breaks {entity}",
            "Do not do this indoors.",
            all_of_it=True,
        )


# Moles of dry chlorate or perchlorate, a spoonful or two, and the warmth of a lamp or stove beside it (our judgement).
_CHLORATE_MOL, _BESIDE_A_LAMP_C = 0.1, 50.0


def _warm_chlorate(scene: Scene) -> None:
    """Chlorate beside a lamp, stove or flame: its packet, or the board it has soaked into, is fuel enough."""
    chlorate = math.fsum(p.has("chlorate") + p.has("perchlorate") for p in scene.portions if p.solid)
    warm = scene.setting.flame or scene.setting.temperature_c >= _BESIDE_A_LAMP_C
    if chlorate > _CHLORATE_MOL and warm and not scene.first.wet:
        scene.say(
            "warm_chlorate", HURTS, "chlorate beside heat: the box or board that it has soaked into burns like a firework at a touch of heat or friction",
            amount_of(chlorate), "In glass or tin, cool, by itself; a wetted box outdoors, and never scraped.",
        )  # fmt: skip


def _old_ether(scene: Scene) -> None:
    ether = scene.first.substance("diethyl_ether")
    # Whoever calls it old, or sees crystals, need not say how old.
    old = any(_SAID_OLD.search(p.name.lower()) for p in scene.portions if p.moles.get("diethyl_ether"))
    if ether > _ETHER_MOL and (old or scene.setting.hours > _ETHER_H):
        scene.say(
            "ether_peroxide", KILLS if old or scene.setting.hours > _YEARS_H else HURTS, "ether that stood for months holds a peroxide that explodes when it is shaken, opened or dried",
            amount_of(ether), "Do not open or move it; call for advice.",
        )  # fmt: skip


# Explosives of copper, mercury and lead beside those of silver, in moles of metal from which they are told.
_HEAVY_MOL, _BARE = 1e-3, 0.1


def _heavy_explosives(scene: Scene) -> None:
    pool = scene.first
    heavy = pool.has("copper_ii") + pool.has("mercury") + pool.has("lead")
    # Copper and lead as metal, such as a pipe, do it too; of ten pieces one lies bare.
    if min(pool.has("azide"), heavy + _BARE * pool.has("metal")) > _HEAVY_MOL:
        scene.say("heavy_azide", KILLS, "a metal azide, an explosive", amount_of(heavy), "Never.")
    if min(pool.has("carbide"), pool.has("copper_ii") + pool.has("mercury")) > _HEAVY_MOL:
        scene.say("acetylide", KILLS, "copper or mercury acetylide, an explosive", amount_of(heavy), "Never.")
    if min(pool.has("azide"), pool.has("hypochlorite") + pool.substance("bromine")) > _HEAVY_MOL:
        scene.say(
            "halogen_azide", KILLS, "chlorine or bromine azide, which explodes", amount_of(pool.has("azide")), "Never."
        )
    nitric = pool.substance("nitric_acid") / pool.volume_l
    if pool.has("mercury") > _HEAVY_MOL and nitric > 2 and pool.has("alcohol") > 0.1:  # as for silver
        scene.say("fulminate", KILLS, "mercury fulminate, an explosive", amount_of(pool.has("mercury")), "Never.")


# Salts that strong sulfuric acid turns to their acid or halogen: entity -> gas, share, why.
_DRIVEN = (
    ("bromide", "bromine", 0.2, "strong sulfuric acid makes it from bromide"),
    ("iodide", "hydrogen_sulfide", 0.1, "iodide brings strong sulfuric acid down to it"),
    ("nitrate", "nitrogen_dioxide", 0.1, "strong sulfuric acid drives nitric acid out of nitrate"),
    ("thiocyanate", "hydrogen_cyanide", 0.1, "strong sulfuric acid on thiocyanate"),
    ("nitrite", "nitrogen_dioxide", 0.5, "strong sulfuric acid on nitrite"),
)
# Strong acid by mass, and salt from which it shows.
_STRONG_SULFURIC, _DRIVEN_MOL = 0.6, 1e-3
# Strong acids whose own vapour hurts: substance -> gas, share from which, Pa at that share, at a quarter as mist settles.
_FUMES = (("nitric_acid", "nitrogen_dioxide", 0.6, 400.0), ("hydrofluoric_acid", "hydrogen_fluoride", 0.2, 300.0))
_FUMES_SETTLE, _GAS_J_PER_MOL, _AIR_FILM_M_PER_S = 0.25, 2437.0, 0.0025
# Hydrofluoric acid of this strength and amount kills through a palm of skin.
_HF_MOL_PER_L, _HF_MOL = 1.0, 0.25


def _strong_acids(scene: Scene) -> None:
    setting, pool = scene.setting, scene.first
    strongest = max((p.share_of("sulfuric_acid") for p in scene.portions), default=0.0)
    if strongest > _STRONG_SULFURIC:
        for entity, gas, share, why in _DRIVEN:
            moles = share * pool.has(entity)
            if moles > _DRIVEN_MOL and not pool.substance("nitric_acid"):
                scene.gas("driven_by_sulfuric", gas, moles, why, "Do not do this indoors.", all_of_it=True)
    fluoride = pool.has("fluoride")
    if fluoride > _HF_MOL and fluoride / pool.volume_l > _HF_MOL_PER_L and scene.pool.ph < _ACID_PH:
        scene.say(
            "fluoride", KILLS, "hydrofluoric acid of a strength that kills through the skin", amount_of(fluoride),
            "Leave it away; no glove of the house is enough.",
        )  # fmt: skip
    if setting.closed:
        return
    seconds = _MINUTES_PER_H * setting.breathing_min
    for key, gas, least, vapour_pa in _FUMES:
        share = pool.share_of(key)
        if share >= least and scene.pool.ph < _STRONG_ACID_PH:
            leaves = _AIR_FILM_M_PER_S * setting.surface_m2 * seconds * vapour_pa / _GAS_J_PER_MOL * share / least
            scene.gas(
                "acid_fumes", gas, min(pool.substance(key) / 2, _FUMES_SETTLE * leaves), "fumes of strong acid",
                "Lid on, fan, weaker acid.", all_of_it=True,
            )  # fmt: skip


# What the drain does not take besides poisons: the silver that one film leaves in a bath at the least, litres of what floats and burns
# (our judgement).
_SILVER_DOWN_MOL, _BURNING_DOWN_MOL = 1e-3, 0.3


def _down_the_drain(scene: Scene) -> None:
    if scene.setting.place != "drain":
        return
    pool = scene.first
    # Metal, and silver that sulfide has bound, is no longer dissolved.
    silver = pool.has("silver") - pool.substance("silver", "silver_sulfide")
    if silver > _SILVER_DOWN_MOL:
        scene.say(
            "drain_silver", TELLS, "dissolved silver harms what lives in water, and the works that clean it", amount_of(silver),
            "Collect it and hand it in, or ask what your local code allows; never into a septic tank.",
        )  # fmt: skip
    if pool.substance("petrol", "white_spirit", "turpentine", "diethyl_ether") > _BURNING_DOWN_MOL:
        scene.say(
            "drain_fire", TELLS, "solvent floats in the pipe and its vapour comes back up and burns",
            amount_of(pool.has("solvent")), "Not down any drain.",
        )  # fmt: skip


BEFORE: tuple[Callable[[Scene], None], ...] = (
    _heavy_explosives,
    _powders,
    _damp_dust,
    _sulfur_in_lye,
    _broken_by_heat,
    _warm_chlorate,
    _old_ether,
    _liquid_gas,
    _down_the_drain,
)
WET: tuple[Callable[[Scene], None], ...] = (
    _bottles_that_swell,
    _drinks_from_air,
    _vapour_in_bottle,
    _chlorite,
    _strong_acids,
)
