"""What reaches a person without any reaction: poison in a vessel for food or drink, and what skin and eyes meet bare."""

from __future__ import annotations

import math
from collections.abc import Callable

from obverse.safety.body import Pool, Portion, acid_in
from obverse.safety.properties import holds, swallowed
from obverse.safety.scene import Scene
from obverse.safety.setting import HURTS, KILLS, TELLS, Effect

# Tartaric acid counts as oxalate for what it makes with silver and strong acid; silver that is metal, halide or sulfide passes through, and
# so do sulfides that no stomach dissolves; a vitamin develops film.
_NOT_POISON = {
    "oxalate": ("tartaric_acid",),
    "silver": ("silver", "silver_chloride", "silver_bromide", "silver_sulfide"),
    "sulfide": ("silver_sulfide", "iron_ii_sulfide"),
    "developer": ("ascorbic_acid", "sodium_ascorbate"),
}
# Of what kills, the part that makes very ill, and the part that is told of.
_ILL, _TOLD = 0.25, 0.03
# What kills is known in its order of size: half of it in one gulp is refused where the vessel holds all of it, for nobody stops at a gulp of
# what tastes of lemonade (our judgement).
_DOUBT = 0.5
_SWALLOWED_ACIDS = (
    "sulfuric_acid",
    "hydrochloric_acid",
    "nitric_acid",
    "phosphoric_acid",
    "formic_acid",
    "sodium_bisulfate",
    "sodium_bisulfate_monohydrate",
    "potassium_bisulfate",
    "sulfamic_acid",
    "hydrobromic_acid",
    "perchloric_acid",
)
# Strong acid by mass that burns the gullet through, and what burns it at all (our judgement).
_BURNS_THROUGH, _BURNS = 0.1, 0.02
# A gulp of a liquid, a teaspoon of a powder.
_GULP_ML, _TEASPOON_G = 30.0, 5.0
# What is eaten and drunk, or as harmless in a spoonful: it may stand in a kitchen.
_EATEN = frozenset((
    "water", "sodium_chloride", "potassium_chloride", "glucose", "sucrose", "gelatin", "citric_acid", "citric_acid_monohydrate", "tartaric_acid", "ascorbic_acid",
    "sodium_ascorbate", "sodium_bicarbonate", "sodium_citrate", "sodium_acetate", "calcium_carbonate", "magnesium_sulfate", "sodium_sulfate", "vegetable_oil",
    "ethanol", "glycerol", "urea", "cellulose", "charcoal", "lactic_acid", "iron", "aluminium", "dry_ice", "nitrogen", "butane", "cellulose_acetate", "polystyrene", "polyurethane", "fluoropolymer",
))  # fmt: skip
# Vinegar of the table, share by mass.
_VINEGAR = 0.07


def _harms(portion: Portion, entity: str) -> float:
    """Moles of an entity in it but for what does no harm."""
    harmless = _NOT_POISON.get(entity, ())
    return math.fsum(
        n * holds().get(key, {}).get(entity, 0.0) for key, n in portion.moles.items() if key not in harmless
    )


def _in_all(portion: Portion) -> float:
    """All of it, in parts of what may kill."""
    parts = [0.0]
    for name, dose in swallowed().items():
        grams = (
            _harms(portion, name) * dose.salt_g_per_mol
            if dose.salt_g_per_mol
            else portion.share_of(name) * portion.grams
        )
        parts.append(grams / dose.kills_g)
    return max(parts)


def _at_once(portion: Portion) -> float:
    """The part of it that is a gulp or a teaspoon."""
    return min(1.0, (_TEASPOON_G if portion.solid else _GULP_ML) / max(1.0, portion.grams))


def _swallowed(scene: Scene) -> None:
    """Poison in a vessel that somebody eats or drinks from, or in reach of a child."""
    if not scene.setting.food_vessel:
        return
    for portion in scene.portions:
        whole = _in_all(portion)
        dose = _at_once(portion) * whole
        acid = math.fsum(portion.share_of(key) for key in _SWALLOWED_ACIDS)
        eaten = portion.moles.keys() <= _EATEN | {"acetic_acid"} and portion.share_of("acetic_acid") <= _VINEGAR
        if (dose > _DOUBT and whole > 1) or acid > _BURNS_THROUGH:
            severity, harm = KILLS, "one gulp or spoonful can kill"
        elif dose > _ILL or acid > _BURNS:
            severity, harm = HURTS, "one gulp or spoonful makes very ill"
        elif not eaten:
            severity, harm = (
                TELLS,
                "one gulp or spoonful harms" if dose > _TOLD else "somebody takes it for food",
            )
        else:
            continue
        scene.say(
            "food_vessel", severity, f"{portion.name} in a vessel for food or drink, or in reach of a child: {harm}",
            "half a teaspoon to 30 mL", "Never; its own bottle, its own label, locked away.",
        )  # fmt: skip


# Poisons by mouth that no caustic taste stops.
_POISONS = (
    "dichromate",
    "cyanide",
    "selenite",
    "mercury",
    "azide",
    "phosphide",
    "poison",
    "nitrite",
    "fluoride",
    "barium",
    "hydrazine",
    "lead",
)


def deadly_gulp(bath: Portion) -> Effect | None:
    """A mixed bath of which one gulp may kill by what is dissolved in it."""
    shares = {
        name: min(1.0, _GULP_ML / max(1.0, bath.grams))
        * _harms(bath, name)
        * (dose.salt_g_per_mol or 0.0)
        / dose.kills_g
        for name in _POISONS
        if (dose := swallowed()[name])
    }
    worst = max(shares, key=shares.__getitem__)
    if shares[worst] < 1:
        return None
    return Effect(
        "deadly_gulp", TELLS, "a deadly poison is dissolved in it, and its powder kills too: by the mouth, as dust, some of it through skin",
        f"about {shares[worst]:.1g} times what may kill in a gulp", "Gloves, no dust, no food near; a label with a skull, locked away, and none of it down the drain.",
        parts=(bath.name,),
    )  # fmt: skip


# What blinds an eye by a splash, mol/L in a bath: lye, silver salt that no halide holds, strong acid above this pH (a tenth of a splash is
# enough; common practice, no source).
_BLINDS, _BLINDING_ACID, _BLINDING_PH = {"hydroxide": 0.4, "peroxide": 2.5}, 0.9, 1.0
_BLINDING_SILVER = 0.3


def blinding_bath(bath: Portion) -> Effect | None:
    """A mixed bath of which a splash may blind."""
    litres = max(1e-3, bath.volume_ml / 1000)
    strong = any(bath.has(entity) / litres > least for entity, least in _BLINDS.items())
    silver = bath.moles.get("silver_nitrate", 0.0) / litres > _BLINDING_SILVER
    acid = acid_in(bath, _BLINDING_PH) / litres > _BLINDING_ACID
    if not (strong or silver or acid):
        return None
    return Effect(
        "blinding_bath", TELLS, "a splash of it may blind an eye, and it burns skin", "a drop is enough",
        "Goggles and gloves, and running water in reach.", parts=(bath.name,),
    )  # fmt: skip


# What does harm that stays, and from how much of it a mixture is labelled so: a tenth of a percent by mass, the general limit of the
# European labelling rules for what causes cancer (from memory); as mol/L of dichromate and of formaldehyde.
_STAYS = {"dichromate": (3.4e-3, "chromium(VI)"), "formaldehyde": (0.033, "formaldehyde")}


def lasting_bath(bath: Portion) -> Effect | None:
    """A mixed bath that can cause cancer, and an allergy that stays."""
    litres = max(1e-3, bath.volume_ml / 1000)
    inside = [
        name for key, (least, name) in _STAYS.items() if max(bath.has(key), bath.moles.get(key, 0.0)) / litres > least
    ]
    if not inside:
        return None
    vapour = (
        "window open and a lid on, it is breathed too"
        if "formaldehyde" in inside
        else "no dust of the powder and no spray"
    )
    return Effect(
        "lasting_bath", TELLS, f"{' and '.join(inside)} can cause cancer, and an allergy of the skin that stays", "also where it is thin",
        f"Gloves whenever you reach into it or wipe it up; {vapour}; another bath where you can.", parts=(bath.name,),
    )  # fmt: skip


# What skin does not bear, mol/L from which it is told: chromium(VI), developers and aldehydes make an eczema that comes back for life, the
# others burn or go through it (our judgement).
_SKIN = {"dichromate": 3e-3, "aldehyde": 0.1, "fluoride": 0.01, "hydroxide": 0.1, "peroxide": 2.5, "hypochlorite": 0.5, "selenite": 0.01} | {
    "mercury": 1e-3, "cyanide": 0.01, "hydrazine": 0.01, "developer": 0.05, "silver": 0.2, "persulfate": 0.3, "permanganate": 0.1, "iron_iii": 0.5,
    "sulfide": 0.3, "chlorinated": 3.0, "poison": 1e-3, "white_phosphorus": 1e-3, "halogen": 0.1, "explosive": 1e-3, "azide": 0.03, "thiourea": 0.3,
    "hydride": 0.1, "solid_carbon_dioxide": 0.1,
}  # fmt: skip
# Acid that burns skin: what stands above this pH, a tenth of battery acid (our judgement).
_SKIN_ACID_PH, _SKIN_ACID_MOL_PER_L = 2.0, 0.3
# Silver halide and metal are no caustic.
_LYE_ON_SKIN_PH = 13.0
# Substances that burn, or make an eczema, by their own names, mol/L: strong ammonia and weak acids as they are labelled (a quarter of acetic,
# a tenth of formic acid), what sensitises thinner than its like, and sodium (our judgement).
_ON_SKIN = {
    "ammonia": 3.0,
    "acetic_acid": 4.2,
    "formic_acid": 2.0,
    "peracetic_acid": 0.3,
    "colour_developing_agent": 2e-3,
    "hydroxylamine_sulfate": 0.1,
    "sodium": 1e-3,
}
# What goes through skin and poisons behind it, each below the pH where it does; mL that wet a hand (our judgement).
_THROUGH_SKIN, _WETS_A_HAND_ML = {"fluoride": 5.0, "poison": math.inf}, 5.0


def _wets_mol(bath: Pool, entity: str, below_ph: float) -> float:
    """Moles of an entity in what of a bath wets a hand, where it goes through skin."""
    if bath.wet and bath.ph >= below_ph:
        return 0.0
    return bath.has(entity) * min(1.0, _WETS_A_HAND_ML / 1000 / bath.volume_l)


def _on_skin(scene: Scene) -> None:
    """Bare hands in a bath, a holed glove, an eye, or the film and reel that come out of it."""
    if not scene.setting.bare_hands:
        return
    # The hand is in what they become, or in one of them before.
    baths = (scene.first, *(Pool((portion,)) for portion in scene.portions))
    for entity, below_ph in _THROUGH_SKIN.items():
        dose = swallowed()[entity]
        grams = max(_wets_mol(bath, entity, below_ph) for bath in baths) * (dose.salt_g_per_mol or 0.0)
        if grams > _DOUBT * dose.kills_g:
            scene.say(
                "through_the_skin", KILLS, f"{' with '.join(scene.names)}: it goes through the skin of a wet hand, without pain at first, and poisons whoever put it in",
                f"{grams:.1g} g in what wets a hand", "Hands off; if it has touched skin, water at once, for long, and a hospital whether it hurts or not.",
            )  # fmt: skip
    for portion in scene.portions:
        litres = max(1e-3, portion.volume_ml / 1000)
        harms = any(_harms(portion, entity) / litres > least for entity, least in _SKIN.items())
        harms = harms or any(portion.moles.get(key, 0.0) / litres > least for key, least in _ON_SKIN.items())
        lye = not portion.solid and portion.water_ml > 1 and Pool((portion,)).ph > _LYE_ON_SKIN_PH
        # Crystals of citric acid are dry.
        acid = acid_in(portion, _SKIN_ACID_PH) / litres > _SKIN_ACID_MOL_PER_L and not (
            portion.solid and portion.moles.keys() <= _EATEN
        )
        if harms or lye or acid:
            scene.say(
                "bare_hands", TELLS, f"{portion.name} on bare skin: it burns it, goes through it, or makes an eczema that comes back for life",
                "a wet hand is enough", "Gloves without a hole, tongs; rinse the film and reel first, and the hands at once.",
            )  # fmt: skip


# Milligrams in a cubic metre of air from which dust or mist is told of: limits of a working day, or what irritates where none is published
# (from memory; chromium(VI) and persulfate for what they sensitise).
_BREATHED_MG_PER_M3 = {
    "dichromate": 0.02, "persulfate": 0.1, "developer": 2.0, "selenite": 0.2, "mercury": 0.02, "cyanide": 1.0, "azide": 0.2, "lead": 0.1, "barium": 0.5, "asbestos": 0.01,
    "hydroxide": 2.0, "permanganate": 1.0, "silver": 0.05, "copper_ii": 1.0, "oxalate": 1.0, "fluoride": 1.0, "poison": 0.2, "aldehyde": 0.4, "hypochlorite": 1.0, "dithionite": 5.0,
    "manganese_dioxide": 0.3, "halogen": 1.0, "peroxide": 1.5, "iron_iii": 2.0, "sulfite": 5.0, "sulfide": 2.0, "ammonia": 15.0, "thiourea": 0.5, "powder_fuel": 4.0, "cellulose": 5.0,
}  # fmt: skip
# Part of a powder that hangs in the air when it is sieved or swept, and of a liquid that is sprayed; times the limit at which it injures; mist of
# a strong acid (our judgement; the last an occupational limit, from memory).
_DUST_SHARE, _MIST_SHARE, _DUST_INJURES, _ACID_MIST_MG_PER_M3, _MG_PER_G = 0.0005, 0.01, 100.0, 1.0, 1000.0


def _breathed(scene: Scene) -> None:
    """Dust of a powder that is sieved, ground or swept dry; mist of what is sprayed."""
    if not scene.setting.dusty:
        return
    for portion in scene.portions:
        share = (_DUST_SHARE if portion.solid else _MIST_SHARE) * _MG_PER_G / scene.setting.room.volume_m3
        times = {
            entity: share * least_g / limit
            for entity, limit in _BREATHED_MG_PER_M3.items()
            if (least_g := _grams_with(portion, entity))
        }
        acid = math.fsum(portion.share_of(key) for key in _SWALLOWED_ACIDS) * portion.grams
        times["acid"] = share * acid / _ACID_MIST_MG_PER_M3
        worst = max(times.values())
        if worst >= 1:
            scene.say(
                "breathed", HURTS if worst >= _DUST_INJURES else TELLS, f"{portion.name} as dust or mist: it hurts eyes and lungs, and some of it makes an asthma or eczema for life",
                f"about {worst:.0f} times what a working day may hold" if worst < _DUST_INJURES else "more than a hundred times what a working day may hold",
                "No dry sweeping, sieving or spraying: pour low and slowly, wipe up damp, a dust mask and goggles.",
            )  # fmt: skip


def _grams_with(portion: Portion, entity: str) -> float:
    """Grams of the substances in it that hold an entity, but for what passes through."""
    return math.fsum(
        portion.share_of(key) * portion.grams
        for key in portion.moles
        if holds().get(key, {}).get(entity) and key not in _NOT_POISON.get(entity, ())
    )


ON_A_PERSON: tuple[Callable[[Scene], None], ...] = (_swallowed, _on_skin, _breathed)
