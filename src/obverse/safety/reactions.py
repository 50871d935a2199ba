"""What can happen when matter meets: rules over what it holds, each yielding amounts.

Gas by moles and the room, heat by the temperature it makes, fire and explosive matter by what is there and how
concentrated. Speeds and yields without a record are common chemical knowledge (from memory); each stands beside
its rule. A rule says what is found, never that something is harmless.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

from obverse.chemistry import KELVIN
from obverse.foundation import regex
from obverse.reference import number
from obverse.safety.body import Pool, Portion, acid_in, heat_of_meeting_kj
from obverse.safety.on_a_person import ON_A_PERSON
from obverse.safety.over_time import BEFORE, WET
from obverse.safety.properties import gases, narcotics, oxidants, reductants, volatiles
from obverse.safety.recorded import RECORDED
from obverse.safety.redox import FARADAY_KJ_PER_V, react, strong_acid
from obverse.safety.release import MOLAR_LITRES, dissolved_capacity_mol_per_l, gas_severity, leaving_share, room_ppm
from obverse.safety.scene import BURNS_MOL, Scene, amount_of, concentrated, grams_words, metal_dust_mol, ppm_words
from obverse.safety.setting import HURTS, KILLS, LEAST_AIR_ML, TELLS, Effect, Setting
from obverse.safety.stands_by import PLACED

_OPEN_AIR = "Do not do this indoors."
# Silver in the dried ammine: about 2 mg of fulminating silver, which still cuts fingers (our judgement).
_DRIED_SILVER_MOL = 2e-5
# What is less than about 10 g of pool chlorine, 50 g of anhydrous chloride or 2.5 g of oxidiser beside 5 g of rags is left in peace.
_POOL_CHLORINE_MOL, _FUMING_MOL, _SOAKING_MOL, _RAGS_MOL, _OILY_MOL = 0.05, 0.3, 0.015, 0.05, 0.015
# Chlorate in cloth that flares on whoever wears or burns it: a jacket soaked in a wine glass of strong solution; so many times its own weight of water and it does not dry (our judgement).
_FLARES_MOL, _WASHED_AWAY = 0.5, 10.0
# Share of hypochlorite and of peroxide by mass from which the solution itself sets fire to rags, as in `_FIRES`.
_STRONG_CHLORINE, _STRONG_PEROXIDE = 0.3, 0.25
# Share of a phosphide that plain water or the damp frees while somebody stays, and the hours in which the air's own damp does; acid frees all (from memory).
_PHOSPHIDE_IN_WATER, _AIR_WETS_H, _ACID_PH = 0.3, 2.0, 4
# Dry ice in an open bowl, share an hour (common practice, no source).
_DRY_ICE_PER_H = 0.4
# Dry ice, a few grams, whose gas a neck does not let out (our judgement).
_ICE_IN_A_NECK_MOL = 0.2
# Hours that what lies in the room of an evening lies there (our judgement).
_LIES_H = 2.0
# From here on sulfites, nitrates and sulfur give their gas, and at what yield; a flame with little air (from memory).
_HOT_C, _HOT_SULFITE, _ROASTED, _HOT_NITRATE, _LITRE_OF_PARAFFIN_MOL = 150, 0.8, 0.3, 0.2, 2.0
# Acid that dissolves carbonate, and acid that drives out sulfur dioxide, as the pH above which it counts.
_CARBONATE_PH, _SULFITE_PH = 5.0, 3.0
# Shares that crystals make in the damp of the air over weeks, and percarbonate an hour, damp and dry (our judgement).
_DAMP_CARBONATE, _DAMP_SULFITE, _DAMP_OXYGEN_PER_H, _DRY_OXYGEN_PER_H = 0.1, 0.05, 5e-4, 1e-5
# 1.8 % of butane in air burns; as it lies on the floor, half of that as a mean kills, a fifth is loud (our judgement).
_BUTANE_BURNS, _GAS_KILLS, _GAS_WITH_FLAME, _GAS_LOUD = 0.018, 0.5, 0.15, 0.2
# Fuel gas that makes a flame as long as an arm, a few grams (our judgement).
_JET_MOL = 0.1
# Carbon dioxide of a mole of butane.
_CO2_OF_BUTANE = 4
# Dithionite baths fall apart to bisulfite near this pH, this share an hour at 20 C; pK of sulfurous acid (from memory).
_DITHIONITE_ENDS_PH, _DITHIONITE_PER_H, _ALKALINE_PH, _PK_SULFUROUS = 4.0, 0.1, 8, 1.85
# Where acid permanganate meets salt: the product of acid and salt above which it goes faster, and the most (our judgement).
_CHLORIDE_PRODUCT, _CHLORIDE_FASTEST = 0.09, 12.0
# What does so; how many times more comes of it while it stands than while somebody pours, at the most and in a jug of which nobody
# says how long (our judgement).
_QUICKER_IN_ACID, _STANDS_MOST, _STANDS_UNTOLD = ("permanganate", "manganese_dioxide"), 4.0, 2.0
# Share an hour of hypochlorite that iron or copper of a hundredth mole a litre breaks, and oxygen of acid permanganate (from memory).
_IRON_ON_HYPOCHLORITE_PER_H, _PERMANGANATE_PER_H, _OXYGEN_OF_PERMANGANATE, _DECAY_PH = 0.05, 0.01, 0.75, 3
# Peroxide by itself, one per cent a month, peracetic acid five times as fast (from memory).
_PEROXIDE_PER_H, _PERACETIC_TIMES = 1.4e-5, 5
# kJ of each iron(III) that a metal takes, by the potentials.
_ETCH_KJ = {"aluminium": 200, "magnesium": 280, "zinc": 140, "iron": 110}
# A developer or an alkaline bath throws manganese dioxide and rust out from this pH on.
_THROWN_OUT_PH = 9
# Share of zinc powder that strong lye dissolves while somebody stands there, cold and warm (from memory).
_ZINC_IN_LYE, _ZINC_IN_HOT_LYE, _WARM_LYE_C = 0.1, 0.5, 30.0
# Alkali above this pH dissolves a share of aluminium in two days (our judgement).
_SODA_PH, _SODA_EATS, _SODA_EATS_H = 10.0, 0.2, 48.0
# Share of bare metal that counts as its ions, for it rusts where hypochlorite wets it (our judgement).
_RUSTS = 0.02
_FUELS = ("alcohol", "polyol", "ketone", "aldehyde", "sugar", "cellulose", "solvent", "powder_fuel")


def happen(portions: tuple[Portion, ...], setting: Setting) -> list[Effect]:
    """All that the rules find when the portions become one, worst first."""
    scene = Scene(portions, setting)
    for rule in (*_BEFORE, *BEFORE, *ON_A_PERSON, *PLACED, *RECORDED):
        rule(scene)
    if scene.pool.wet:
        scene.pool.heat_kj += heat_of_meeting_kj(portions)
        scene.met.extend(react(scene.pool))
        for rule in (*_WET, *WET):
            rule(scene)
    _pressure(scene)
    _heat(scene)
    return scene.found


# Before anything is used up: what explodes or burns where it is concentrated


# Grams on a mole of silver: fulminating silver (as the dried ammine), azide, fulminate, oxalate, acetylide.
_NITRIDE_G, _AZIDE_G, _FULMINATE_G, _OXALATE_G, _ACETYLIDE_G = 112.5, 149.9, 150, 152, 120
# Silver below which nothing is told of a solution: some hundredths of a gram (our judgement).
_SILVER_MOL = 2e-4
# Silver of two bottles on a shelf from which their breaking is told: some grams of its salt (our judgement).
_GRAMS_OF_SILVER_MOL = 0.02
# Silver that is told of where it is handled for less than two hours: two tenths of a gram of nitride (our judgement).
_HANDLED_MOL = 1.5e-3
# So much more of it where somebody tells that it stands for no longer than half an hour, as a film in its tank does (our judgement).
_TOLD_SHORT, _SHORT_H = 4.0, 0.5
# Silver that a mole of ammonia takes up (two hold one, and some stays free), and lye that makes oxide of its salt (our judgement).
_OF_AMMONIA, _LYE_MOL = 0.4, 0.01
# No more ammonia than this on a silver says that somebody forgot to write it down; acid would have taken it (our judgement).
_AMMINE_AMMONIA, _AMMINE_PH = 2.5, 6.5
# Developer or dithionite on a silver from which it is soon metal (two electrons each, twice over; our judgement).
_DEVELOPS = 2.0
# pK of ammonium (from memory), and the pH from which free ammonia makes silver nitride (our judgement).
_PK_AMMONIUM, _NITRIDE_PH = 9.25, 8.5


# Gold from which fulminating gold is told (a tenth of a gram of it) and refused (some grams: a mud that lies wet for a while); grams on a mole
# (as the ammine chloride; from memory).
_GOLD_MOL, _MUCH_GOLD_MOL, _FULMINATING_GOLD_G = 4e-4, 0.01, 260.0


def _explosive_gold(scene: Scene) -> None:
    """Gold salts throw fulminating gold out of ammonia at once, no standing needed."""
    pool = scene.first
    gold = min(pool.substance("gold_chloride"), _OF_AMMONIA * pool.has("ammonia"))
    if gold > _GOLD_MOL and pool.wet and pool.ph > _AMMINE_PH and scene.setting.place not in ("shelf", "room"):
        scene.say(
            "fulminating_gold", KILLS if gold > _MUCH_GOLD_MOL else HURTS, "fulminating gold, which explodes at a touch once it is dry",
            f"up to {grams_words(gold, _FULMINATING_GOLD_G)}", "Never ammonia with a gold salt; if it happened, keep it wet, do not touch it and call for advice.",
        )  # fmt: skip


def _explosive_silver(scene: Scene) -> None:
    pool, setting = scene.first, scene.setting
    dried = math.fsum(p.moles.get("silver_ammine_chloride", 0.0) for p in scene.portions if p.solid)
    if dried > _DRIED_SILVER_MOL:
        scene.say(
            "ammoniacal_silver", KILLS, "dried ammoniacal silver explodes at a touch", grams_words(dried, _NITRIDE_G),
            "Do not scrape, move or warm it; keep others out and call for advice.",
        )  # fmt: skip
    silver = pool.has("silver") - pool.substance("silver_thiosulfate", "silver", "silver_sulfide")
    if silver < _SILVER_MOL:
        return
    ammonia = pool.has("ammonia")
    # A solution that is named by its complex holds the ammonia that keeps it dissolved, whoever forgot to say so.
    complexed = (
        pool.substance("silver_ammine_chloride") > _SILVER_MOL
        and ammonia <= _AMMINE_AMMONIA * silver
        and pool.ph > _AMMINE_PH
    )
    if pool.has("azide") > 1e-3:
        scene.say(
            "silver_azide",
            KILLS,
            "silver azide, an explosive",
            grams_words(silver, _AZIDE_G),
            "Never bring them together.",
        )
    taken = silver
    if not complexed and (
        pool.substance("silver_oxide") or (pool.has("hydroxide") > _LYE_MOL and pool.substance("silver_nitrate"))
    ):
        # Oxide falls into its ammonia bit by bit: of a mud too, what the ammonia takes up is what explodes.
        taken = min(silver, _OF_AMMONIA * ammonia)
    if taken > _SILVER_MOL and (ammonia > 2 * taken or complexed) and not setting.acidified and pool.wet:
        free = ammonia / (1 + 10 ** (_PK_AMMONIUM - pool.ph))
        # Thiosulfate, cyanide or acid takes the silver away from the ammonia, and a developer in excess turns it to metal within minutes.
        held = pool.has("thiosulfate") >= 2 * silver or pool.has("cyanide") >= 2 * silver
        held = held or pool.has("developer") + pool.has("dithionite") >= _DEVELOPS * silver
        if ((free > 2 * taken and pool.ph > _NITRIDE_PH) or complexed) and not held:
            # Two bottles that break are wiped up; one that holds both is kept.
            one = any(p.has("silver") and p.has("ammonia") for p in scene.portions)
            kept = setting.place in ("jug", "standing", "closed_jug", "damp") or (setting.place == "shelf" and one)
            stays = (setting.hours > 2 and (one or setting.place != "shelf")) or (kept and not setting.hours)
            lye = pool.has("hydroxide") > _LYE_MOL
            if stays or lye or pool.substance("silver_oxide"):
                scene.say(
                    "ammoniacal_silver",
                    KILLS,
                    "silver nitride (fulminating silver) forms as it stands or dries and explodes at a touch",
                    f"up to {grams_words(taken, _NITRIDE_G)}",
                    "Never let it stand: within two hours dilute it, add salt, bring it slowly to pH 2 with dilute bisulfate.",
                )
            elif taken > (
                _GRAMS_OF_SILVER_MOL
                if setting.place == "shelf"
                else _HANDLED_MOL
                * (_TOLD_SHORT if 0 < setting.hours <= _SHORT_H and setting.place == "standing" else 1)
            ):
                scene.say(
                    "ammoniacal_silver",
                    HURTS,
                    "dissolved silver in ammonia: it may be handled for a short while only, then silver nitride forms, which explodes",
                    f"up to {grams_words(taken, _NITRIDE_G)} of it",
                    "Start the clock: destroy it within two hours; never a jug, never dry.",
                )
    if (
        pool.has("nitrate") > 0.5
        and strong_acid(pool)
        and pool.has("alcohol") > 0.1
        and silver + pool.substance("silver") > 1e-3
    ):
        scene.say(
            "fulminate",
            KILLS,
            "silver fulminate, an explosive",
            grams_words(silver, _FULMINATE_G),
            "Never bring them together.",
        )
    if pool.has("oxalate") > 1e-3 and (setting.hours > 2 or setting.place in ("jug", "standing")):
        scene.say(
            "silver_oxalate",
            HURTS,
            "silver oxalate, which explodes when it is dry and heated",
            grams_words(silver, _OXALATE_G),
            "",
        )
    if pool.has("carbide") > 1e-3:
        scene.say(
            "silver_acetylide", KILLS, "silver acetylide, an explosive", grams_words(silver, _ACETYLIDE_G), "Never."
        )


# Grams on a mole: hydrogen peroxide, and the peroxide of acetone by its monomer.
_PEROXIDE_G, _KETONE_PEROXIDE_G = 34.0, 74
# A peroxide of a ketone: so much of both (a gram or so), the peroxide no thinner than this share by mass; sooner below this pH; it
# kills from so strong a peroxide, or where it may stand for so many hours (our judgement).
_BOTH_MOL, _THIN_PEROXIDE, _SOONER_PH, _CRYSTALS_PEROXIDE, _CRYSTALS_H = 0.02, 0.003, 4.5, 0.04, 12
# Peroxide and vinegar in mol2/L2 that make a tenth of a per cent of peracid (constant about 2.5, from memory), and the hours that takes.
_PERACID_PRODUCT, _PERACID_H = 0.4, 6
# From such strengths on it stings within the hour that it is used (our judgement).
_PERACID_STRONG = 2.0
# Peroxide in strong sulfuric or organic acid, as shares by mass (our judgement).
_STRONG_OF_MIX, _PIRANHA_ACID, _PERACID_ACID, _OF_TWO = 0.08, 0.4, 0.15, 0.1


def _explosive_peroxides(scene: Scene) -> None:
    pool = scene.first
    peroxide, litres = pool.has("peroxide"), pool.volume_l
    strength = peroxide * _PEROXIDE_G / max(1.0, pool.grams)
    ketone = pool.has("ketone")
    if peroxide > _BOTH_MOL and ketone > _BOTH_MOL and ketone / litres > 0.1 and strength > _THIN_PEROXIDE:
        acid = pool.wet and pool.ph < _SOONER_PH
        severity = KILLS if acid or strength > _CRYSTALS_PEROXIDE or scene.setting.hours > _CRYSTALS_H else HURTS
        scene.say(
            "ketone_peroxide",
            severity,
            "a peroxide of the ketone: crystals that explode at a touch, sooner with acid",
            f"up to {grams_words(min(peroxide, ketone), _KETONE_PEROXIDE_G)}",
            "Never bring them together; if it happened, do not move or warm it, keep others out, call for advice.",
        )
    acid_share = pool.share_of("sulfuric_acid")
    if strength > _STRONG_OF_MIX and acid_share > _PIRANHA_ACID:
        fuel = math.fsum(pool.has(kind) for kind in (*_FUELS, "organic_acid"))
        scene.say(
            "piranha",
            KILLS if fuel > _BOTH_MOL else HURTS,
            "peroxide in strong sulfuric acid boils up and eats whatever is organic"
            + (", here explosively" * (fuel > _BOTH_MOL)),
            f"{100 * strength:.0f} % peroxide in {100 * acid_share:.0f} % acid",
            "Never mix them.",
        )
    acetic = pool.share_of("acetic_acid", "formic_acid")
    organic = pool.substance("acetic_acid", "formic_acid")
    waits = scene.setting.place in ("standing", "jug", "closed_jug") and scene.setting.hours >= _PERACID_H
    least = _PERACID_PRODUCT if waits else _PERACID_STRONG if scene.setting.place == "mixing" else math.inf
    if peroxide * organic / litres**2 > least and pool.ph < _SOONER_PH:
        scene.say(
            "peracid", 2, "peroxide and vinegar that stand together turn to peracetic acid, which stings eyes and throat and burns skin",
            f"from {peroxide / litres:.1g} mol/L of peroxide and {organic / litres:.1g} of acid", "Mix only what is used at once; never keep it.",
        )  # fmt: skip
    # A sanitiser that is sold so is no discovery; two that meet are.
    sold = any(p.has("peroxide") and p.has("organic_acid") for p in scene.portions)
    if strength > _STRONG_OF_MIX and acetic > (_PERACID_ACID if sold else _OF_TWO):
        scene.say(
            "peracid",
            HURTS,
            "a strong peracid: it burns eyes and lungs, and vapour and rests may explode",
            f"from {100 * strength:.0f} % peroxide and {100 * acetic:.0f} % acid",
            "Keep peroxide and acid thin; mix only what is used at once.",
        )


# Sulfuric acid in which solid permanganate turns to heptoxide, and that sets chlorine dioxide free from chlorate, as shares by
# mass (from memory); grams of heptoxide and of iodine on a mole.
_HEPTOXIDE_ACID, _CHLORATE_ACID, _HEPTOXIDE_G, _IODINE_G = 0.65, 0.3, 221.9, 254
# Ammonia, ammonium or nitrite below which nothing comes of iodine, hypochlorite or each other that can be seen (our judgement); the
# pH above which iodide of nitrogen forms, below which trichloride does; hypochlorite molecules that one trichloride takes.
_AMMONIUM_MOL, _IODIDE_PH, _TRICHLORIDE_PH, _CHLORINES = 0.02, 8.5, 5, 3
# What a wet scoop holds of one of two kinds of pool chlorine, two grams (our judgement).
_ON_A_SCOOP_MOL = 0.008
# Tubs of it that take the house along where they break and grow damp, 230 g of each and more (our judgement).
_TUBS_MOL = 1.0
# Iodine whose triiodide takes a finger or an eye, two grams; less of it bangs (our judgement).
_MAIMING_IODINE_MOL = 8e-3
# Perchloric acid from this much on, a spoonful (our judgement).
_PERCHLORATE_MOL = 0.05
# Ammonium nitrite falls apart where it is warm or below this pH, with so much heat (from memory).
_NITRITE_C, _NITRITE_PH, _NITRITE_KJ = 40, 6, 300


# Places where one thing comes after the other; elsewhere anything may meet first. Acid by mass that water has not tamed (our judgement).
_IN_ORDER, _STILL_STRONG = ("mixing", "jug", "standing", "closed_jug", "drain"), 0.25


def _acid_where_they_meet(scene: Scene, entity: str) -> float:
    """Share of sulfuric acid in what is there as soon as it and an entity are: water that came before has diluted it."""
    if scene.setting.place not in _IN_ORDER:
        return 1.0
    for n in range(1, len(scene.portions) + 1):
        there = Pool(scene.portions[:n])
        if there.has(entity) and there.substance("sulfuric_acid"):
            return there.share_of("sulfuric_acid")
    return 0.0


def _explosive_others(scene: Scene) -> None:
    pool = scene.first
    solid_permanganate = math.fsum(p.has("permanganate") for p in scene.portions if p.solid)
    strong = max((p.share_of("sulfuric_acid") for p in scene.portions), default=0.0)
    permanganate = pool.has("permanganate")
    undiluted = strong >= _HEPTOXIDE_ACID and _acid_where_they_meet(scene, "permanganate") > _STILL_STRONG
    if permanganate > 1e-3 and (pool.share_of("sulfuric_acid") > 0.5 or (solid_permanganate > 1e-3 and undiluted)):
        scene.say(
            "manganese_heptoxide",
            KILLS,
            "manganese heptoxide: a green oil that explodes or sets fire to what it touches",
            f"up to {grams_words(min(permanganate, pool.substance('sulfuric_acid')) / 2, _HEPTOXIDE_G)}",
            "Dissolve permanganate wholly in much water before any acid, and use dilute acid.",
        )
    if pool.has("chlorate") > 1e-3 and pool.share_of("phosphoric_acid") > _CHLORATE_ACID:
        scene.say(
            "chlorate_acid", HURTS, "chlorine dioxide by and by: it explodes and poisons, sooner where it is warm", amount_of(pool.has("chlorate")),
            "Never acid on chlorate or chlorite.",
        )  # fmt: skip
    if pool.has("chlorate") > 1e-3 and (strong > _CHLORATE_ACID or (pool.wet and strong_acid(pool))):
        scene.say(
            "chlorate_acid",
            KILLS,
            "chlorine dioxide: it explodes and poisons",
            amount_of(pool.has("chlorate")),
            "Never acid on chlorate or chlorite.",
        )
    organic_chlorine = pool.substance("trichloroisocyanuric_acid", "sodium_dichloroisocyanurate")
    if (
        organic_chlorine > _POOL_CHLORINE_MOL
        and pool.substance("calcium_hypochlorite", "sodium_hypochlorite") > _POOL_CHLORINE_MOL
    ):
        scene.say(
            "two_chlorines",
            HURTS if scene.setting.place == "shelf" and organic_chlorine < _TUBS_MOL else KILLS,
            "organic pool chlorine with hypochlorite: nitrogen trichloride, which explodes, and chlorine as soon as it is damp",
            f"up to {amount_of(organic_chlorine)}",
            "Never two kinds of pool chlorine in one vessel, nor one scoop for both.",
        )
    elif (
        scene.setting.place not in ("shelf", "room")
        and min(organic_chlorine, pool.substance("calcium_hypochlorite")) > _ON_A_SCOOP_MOL
    ):
        scene.say(
            "two_chlorines", HURTS, "one kind of pool chlorine on the scoop of another: where it is damp it heats itself, gives off chlorine and nitrogen trichloride, and throws the lid off",
            f"up to {amount_of(organic_chlorine)}", "Never one scoop for two kinds of pool chlorine; leave the tub open, outdoors.",
        )  # fmt: skip
    iodine = pool.substance("iodine")
    if iodine > 1e-3 and pool.has("ammonia") > _AMMONIUM_MOL and pool.wet and pool.ph > _IODIDE_PH:
        scene.say(
            "nitrogen_iodide",
            KILLS if iodine > _MAIMING_IODINE_MOL else HURTS,
            "nitrogen triiodide, which explodes at a touch once it is dry",
            f"up to {grams_words(iodine, _IODINE_G)}",
            "Never iodine with ammonia.",
        )
    if (
        scene.pool.wet
        and pool.has("hypochlorite") > 0.01
        and pool.has("ammonia") > _AMMONIUM_MOL
        and pool.ph < _TRICHLORIDE_PH
    ):
        scene.say(
            "nitrogen_trichloride",
            KILLS,
            "nitrogen trichloride, an explosive oil and a poison gas",
            amount_of(min(pool.has("hypochlorite") / _CHLORINES, pool.has("ammonia"))),
            "Never hypochlorite with ammonia or its salts.",
        )
    if pool.has("perchlorate") > _PERCHLORATE_MOL and max(p.share_of("perchloric_acid") for p in scene.portions) > 0.5:
        fuel = math.fsum(pool.has(kind) for kind in (*_FUELS, "organic_acid", "metal"))
        if fuel > 0.01:
            scene.say(
                "perchloric_fuel", KILLS, "strong perchloric acid explodes with anything that burns", "", "Never."
            )
    hot = scene.setting.temperature_c > _NITRITE_C
    if pool.has("nitrite") > _AMMONIUM_MOL and pool.has("ammonia") > _AMMONIUM_MOL and (pool.wet or hot):
        warm = hot or (pool.wet and pool.ph < _NITRITE_PH)
        if warm:
            moles = min(pool.has("nitrite"), pool.has("ammonia"))
            scene.pool.heat_kj += _NITRITE_KJ * moles
            scene.say(
                "ammonium_nitrite",
                HURTS,
                "ammonium nitrite falls apart by itself: heat, nitrogen, spray",
                f"{amount_of(moles)}, about {_NITRITE_KJ * moles:.0f} kJ",
                "Never warm or acidify nitrite with an ammonium salt.",
            )


# Which concentrated oxidiser sets fire to what: oxidant -> (share that counts as concentrated, fuel -> severity).
_FIRES: dict[str, tuple[float, dict[str, int]]] = {
    "permanganate": (
        0.5,
        {"polyol": 4, "aldehyde": 4, "powder_fuel": 4, "alcohol": 3, "ketone": 3, "sugar": 3, "solvent": 3}
        | {
            "cellulose": 3,
            "developer": 3,
            "organic_acid": 3,
            "dithionite": 4,
            "hypophosphite": 4,
            "thiourea_dioxide": 3,
        }
        | {
            "thiourea": 3,
            "metal": 3,
            "sulfide": 3,
            "hydride": 4,
            "hydrazine": 4,
            "amine": 3,
            "thiocyanate": 3,
            "cyanide": 3,
        },
    ),
    "hypochlorite": (
        0.3,
        dict.fromkeys(("polyol", "alcohol", "ketone", "solvent", "aldehyde", "sugar", "powder_fuel"), 4)
        | {"cellulose": 4, "organic_acid": 3, "dithionite": 4, "thiourea": 3, "thiourea_dioxide": 4, "developer": 3}
        | {"hypophosphite": 4, "amine": 4, "sulfite": 3, "thiosulfate": 3}
        | {"sulfide": 3, "thiocyanate": 4, "cyanide": 4, "hydride": 4, "hydrazine": 4, "metal": 3},
    ),
    "chlorate": (
        0.5,
        dict.fromkeys((*_FUELS, "dithionite", "hypophosphite", "thiourea", "metal", "organic_acid", "developer"), 4)
        | dict.fromkeys(("sulfide", "thiocyanate", "cyanide", "hydride", "hydrazine", "thiosulfate", "sulfite"), 4)
        | {"thiourea_dioxide": 4, "amine": 3},
    ),
    "peroxide": (
        0.25,
        {"alcohol": 3, "polyol": 3, "solvent": 3, "aldehyde": 3, "sugar": 3, "cellulose": 3, "powder_fuel": 3}
        | {"dithionite": 4, "thiourea_dioxide": 3, "hypophosphite": 3, "developer": 3, "hydrazine": 4, "thiourea": 3}
        | {"amine": 3, "sulfide": 3, "hydride": 4},
    ),
    "nitrate_acid": (0.35, dict.fromkeys((*_FUELS, "organic_acid", "amine", "dithionite", "thiourea", "developer"), 4)),
    "nitrate_salt": (
        0.6,
        {"powder_fuel": 3, "sugar": 3, "cellulose": 3, "metal": 3, "hypophosphite": 3, "dithionite": 3, "solvent": 3}
        | {"polyol": 3, "cyanide": 4, "thiocyanate": 3, "thiourea": 3, "sulfide": 3, "hydride": 4, "hydrazine": 4},
    ),
    "dichromate": (
        0.5,
        {"polyol": 3, "powder_fuel": 3, "dithionite": 3, "alcohol": 3, "ketone": 3, "hydrazine": 4, "solvent": 3}
        | {"aldehyde": 3, "sugar": 3, "metal": 3, "hypophosphite": 3, "hydride": 4, "organic_acid": 3, "cellulose": 3}
        | {"thiourea_dioxide": 3},
    ),
    "persulfate": (
        0.5,
        {"alcohol": 3, "polyol": 3, "powder_fuel": 3, "metal": 3, "dithionite": 3, "cellulose": 3, "solvent": 3}
        | {"ketone": 3, "sugar": 3, "aldehyde": 3, "hypophosphite": 3, "hydride": 4, "hydrazine": 4}
        | {"developer": 3, "thiourea": 3},
    ),
    "halogen": (0.5, {"metal": 4, "aldehyde": 3, "ketone": 3, "hydride": 4}),
    "perchlorate": (
        0.5,
        dict.fromkeys((*_FUELS, "metal", "sulfide", "dithionite", "hypophosphite", "thiourea", "cyanide"), 4)
        | dict.fromkeys(("developer", "amine", "hydride", "thiourea_dioxide"), 4),
    ),
    "iodate": (
        0.5,
        dict.fromkeys((*_FUELS, "metal", "sulfide", "dithionite", "hypophosphite", "thiourea", "cyanide"), 3),
    ),
    "nitrite": (
        0.5,
        {"powder_fuel": 3, "cyanide": 4, "thiocyanate": 4, "thiourea": 3, "metal": 3, "hydride": 4, "dithionite": 3},
    ),
}


# Oxidisers that set fire as dry salts only: in their own weight of water they lie still.
_BURN_DRY = ("nitrate_salt", "nitrite", "persulfate", "dichromate", "iodate")
# Heat that a gram of what meets takes to be a degree warmer; so many times the lesser of two lies where they meet (our judgement).
_CP_KJ_PER_G_K, _MEETS = 0.003, 10.0
# Dry mixes that a scoop or a screw cap sets off by rubbing: no jar of one beside a jar of the other (time-honoured lists of chlorate
# and of strong reducers; from memory).
_TOUCHY = {
    *((oxidiser, fuel) for oxidiser in ("chlorate", "perchlorate") for fuel in _FIRES[oxidiser][1]),
    *((oxidiser, fuel) for oxidiser in ("hypochlorite", "permanganate") for fuel in ("dithionite", "hypophosphite", "hydride", "powder_fuel")),
    *(("nitrite", fuel) for fuel in ("cyanide", "thiocyanate")),
    ("nitrate_salt", "cyanide"),
}  # fmt: skip


def _lesser_g(scene: Scene, oxidiser: str, fuel: str) -> float:
    """Grams of the lesser of the portions that hold an oxidiser and a fuel."""
    return min(
        math.fsum(p.grams for p in scene.portions if p.has(oxidiser)),
        math.fsum(p.grams for p in scene.portions if p.has(fuel)),
    )


# Sulfuric acid, share by mass, in which dichromate counts as concentrated; the concentrated share of what burns (our judgement).
_CHROMIC_ACID, _BURNS_CONCENTRATED = 0.4, 0.4
# Fuel below which nothing catches fire, by its kind; kJ and kelvins below which it only warms (our judgement).
_LEAST_FUEL, _LEAST_OF_STUFF, _LEAST_FIRE_KJ, _LEAST_FIRE_K = 0.02, 0.03, 15, 80
# Electrons that a nitrate takes as it burns, down to nitrogen; volts that a fire is worth; the part of a peroxide that burns before
# it falls apart (our judgement).
_BURNT_NITRATE, _FIRE_V, _PEROXIDE_BURNS = 5, 1.2, 0.8
# Metal dust that makes flash powder of an oxidiser: a spoonful.
_FLASH_MOL = 0.1
# What smoulders beside dry oxygen bleach (our judgement).
_MEETS_OXYGEN_BLEACH = ("dithionite", "hydride", "hydrazine")
# What two jars that break must burn with to take the shelf and the house along, as a handful of paper does (our judgement).
_TAKES_THE_HOUSE_KJ = 200.0
# Liquids and sugar that solid permanganate lights at once where strong acid is with it, by its heptoxide (from memory).
_LIT_BY_ACID, _LIT_PH = ("alcohol", "ketone", "sugar", "solvent"), 2.0
# What chromic acid lights and its salts do not (from memory).
_LIT_BY_CHROMIC = ("organic_acid", "cellulose")


def _fire(scene: Scene) -> None:
    pool, setting = scene.first, scene.setting
    for name, (share, fuels) in _FIRES.items():
        entity = name.partition("_")[0] if name.startswith("nitrate") else name
        strong = concentrated(scene, entity, share)
        if name == "nitrate_acid":
            strong = math.fsum(
                p.moles.get("nitric_acid", 0.0) for p in scene.portions if p.share_of("nitric_acid") >= share
            )
        if name == "nitrate_salt":
            strong -= pool.substance("nitric_acid")
        # Chromic acid: dichromate in strong sulfuric acid counts as concentrated.
        chromic = name == "dichromate" and (
            pool.share_of("sulfuric_acid") > _CHROMIC_ACID or pool.substance("chromium_trioxide")
        )
        if chromic:
            strong = pool.has("dichromate")
        if strong < 0.01:
            continue
        dissolves = name in _BURN_DRY and not chromic
        if dissolves and 1000 * pool.water_l > math.fsum(p.grams for p in scene.portions if p.has(entity)):
            continue
        electrons = strong * oxidants()[entity].electrons * (_BURNT_NITRATE if entity == "nitrate" else 1)
        # The worst of what burns speaks for all of it.
        for fuel, severity in sorted(fuels.items(), key=lambda each: -each[1]):
            least = _LEAST_OF_STUFF if fuel in ("cellulose", "solvent", "sugar") else _LEAST_FUEL
            burns = concentrated(scene, fuel, _BURNS_CONCENTRATED)
            if burns < least or (name == "dichromate" and fuel in _LIT_BY_CHROMIC and not chromic):
                continue
            gives = reductants()[fuel].electrons
            heat = min(electrons, burns * gives) * _FIRE_V * FARADAY_KJ_PER_V
            if name == "peroxide":
                # It falls apart before it burns all.
                heat *= _PEROXIDE_BURNS
            # What lies in excess does not cool the place where the two meet; water does.
            water_g = math.fsum(p.water_ml for p in scene.portions if p.water_ml > p.grams / 2)
            dry_g = min(pool.grams - water_g, _MEETS * _lesser_g(scene, entity, fuel))
            rise = heat / (_CP_KJ_PER_G_K * max(1.0, water_g + dry_g))
            if rise < _LEAST_FIRE_K or heat < _LEAST_FIRE_KJ:
                continue
            dry = all(p.solid for p in scene.portions)
            heptoxide = name == "permanganate" and fuel in _LIT_BY_ACID and pool.wet and pool.ph < _LIT_PH
            dust_mol = metal_dust_mol(scene.portions, of_no_shape=True)
            flash = fuel == "metal" and setting.place == "mixing" and dust_mol > _FLASH_MOL
            worst = (
                KILLS
                if (chromic and fuel != "cellulose") or heptoxide or flash or (setting.flame and name == "nitrate_salt")
                else severity
            )
            if name == "peroxide" and setting.place == "shelf" and dry and fuel not in _MEETS_OXYGEN_BLEACH:
                # Oxygen bleach beside sugar, urea or a developer: two tubs of a household.
                continue
            if name in _BURN_DRY and setting.place == "shelf" and fuel == "cellulose" and not chromic:
                # Every shelf is of wood, and prints lie beside the jars.
                continue
            if name == "nitrate_acid" and setting.place == "shelf" and strong < _NITRIC_BOTTLE_MOL:
                worst = HURTS
            if (
                name == "hypochlorite"
                and fuel == "cellulose"
                and setting.place not in ("damp", "jug", "closed_jug", "mixing")
            ):
                worst = HURTS
            if name == "persulfate" and fuel in ("developer", "thiourea") and setting.place == "shelf":
                # Two jars of a darkroom; only in one scoop or spill do they smoulder.
                continue
            touchy = (name, fuel) in _TOUCHY and heat >= _TAKES_THE_HOUSE_KJ
            takes_the_house = heat >= _TAKES_THE_HOUSE_KJ
            if (setting.place == "shelf" and not (touchy if dry else takes_the_house)) or (
                setting.place == "damp" and not takes_the_house
            ):
                worst = min(worst, HURTS)
            scene.say(
                f"fire_{name}",
                worst,
                f"{_WORD.get(entity, entity)} sets fire to {_WORD.get(fuel, fuel)}, at once or after a while",
                f"about {heat:.0f} kJ in {pool.grams:.0f} g",
                "Keep them in different rooms; sweep nothing up with paper or sawdust, flood it with water.",
            )
            break


_WORD = {
    "permanganate": "permanganate",
    "hypochlorite": "strong hypochlorite",
    "peroxide": "strong peroxide",
    "nitrate": "nitric acid or nitrate",
    "dichromate": "chromic acid",
    "polyol": "glycerol or glycol",
    "powder_fuel": "sulfur or charcoal",
    "cellulose": "sawdust, cloth or paper",
    "solvent": "solvent or oil",
    "dithionite": "dithionite",
    "metal": "metal",
    "developer": "developing agent",
    "organic_acid": "organic acid",
    "aldehyde": "formaldehyde",
    "thiourea_dioxide": "thiourea dioxide",
    "selenite": "selenium toner",
    "copper_ii": "dissolved copper",
    "chlorinated": "chlorinated solvent",
}


# Nitric acid on a shelf that takes the house along: a quarter of a litre of the strong acid. Less of it, broken, is found by its smoke
# and left (our judgement).
_NITRIC_BOTTLE_MOL = 3.5


def _runaway(scene: Scene) -> None:
    """Nitric acid with organics: nothing for minutes or hours, then all at once."""
    pool = scene.first
    nitric = pool.substance("nitric_acid")
    if nitric / pool.volume_l < 2:
        return
    fuel = math.fsum(pool.has(kind) for kind in (*_FUELS, "formate") if kind != "cellulose")
    if min(nitric, fuel) > 0.1:
        scene.say(
            "nitric_organic",
            HURTS if scene.setting.place == "shelf" and nitric < _NITRIC_BOTTLE_MOL else KILLS,
            "nitric acid and organic liquid wait, then erupt with brown nitrogen dioxide",
            f"{amount_of(nitric)} of acid",
            "Never bring them together, not even to rinse a beaker.",
        )


# Shares by mass of dithionite (and cyanide), hypochlorite as in `_FIRES`, and thiourea dioxide that lie as a powder; grams on a mole
# of dithionite and of the chlorine that hypochlorite gives (our judgement).
_POWDER, _POWDER_DIOXIDE, _DITHIONITE_G, _CHLORINE_G = 0.3, 0.5, 174.1, 70
# Grams on a mole of thiourea dioxide, and from how much on it heats itself in the damp: it is far steadier than dithionite (our judgement).
_DIOXIDE_G, _A_TUB_G = 108.1, 100
# Grams of a damp powder that heat themselves, and so many times its own weight of water that it drowns in; sulfur dioxide that a
# tenth of a dithionite gives (our judgement).
_HEATS_ITSELF_G, _HEATS_ITSELF_CHLORINE_G, _DROWNS, _GAS_OF_A_TENTH = 8, 5, 3, 0.15
# Grams of dithionite that a wet cup makes sting, and no more, and how wet: a drop the less only cakes it (our judgement).
_WET_CUP_G, _WET_THROUGH = 3, 0.5
# Cyanide and metal in the damp from which it is told, and hydrogen of a mole of metal at the most.
_DAMP_CYANIDE_MOL, _DAMP_METAL_MOL, _MOST_HYDROGEN = 0.02, 0.05, 1.5
# Lye in a jar, from a cup on, and light metal, from a lid on, that it eats on a shelf; words of a name that say it holds something.
_JAR_OF_LYE_MOL, _LIGHT_METAL_MOL, _HOLDS_IT = 1.0, 0.3, regex(r"\b(tin|can|box|canister|caddy|bucket|pail|lid)\b")
# Sulfur dioxide that a mole of damp metabisulfite gives an hour: a kilogram smells in a cupboard and a sack fills it (our judgement).
_DAMP_METABISULFITE_PER_H, _MINUTES_PER_H = 5e-5, 60


def _damp(scene: Scene) -> None:
    pool = scene.first
    dioxide = concentrated(scene, "thiourea_dioxide", _POWDER_DIOXIDE)
    # A bag of thiourea dioxide only weakens and smells; a tub of it heats itself as dithionite does.
    dithionite = concentrated(scene, "dithionite", _POWDER) + dioxide * (dioxide * _DIOXIDE_G > _A_TUB_G)
    grams = dithionite * _DITHIONITE_G
    # What stands in the next bottle is no leak: its own rules tell of it.
    on_a_shelf = scene.setting.place == "shelf"
    water = math.fsum(p.water_ml for p in scene.portions if not (on_a_shelf and p.moles))
    # On a shelf it is the edge of the wet that heats, however much water runs there.
    meets_water = scene.setting.place == "damp" or 0 < water < (
        _DROWNS * grams if scene.setting.place != "shelf" else math.inf
    )
    if grams > _HEATS_ITSELF_G and meets_water:
        ppm = room_ppm(_GAS_OF_A_TENTH * dithionite, scene.setting)
        scene.say(
            "damp_dithionite",
            KILLS if ppm >= gases()["sulfur_dioxide"].warns_to_ppm and dithionite > dioxide else HURTS,
            "damp dithionite heats itself: sulfur dioxide, then fire, hours later",
            f"{grams:.0f} g; a tenth of it gives {amount_of(_GAS_OF_A_TENTH * dithionite)} of sulfur dioxide",
            "Flood it with much water outdoors; never close the tin on damp powder.",
            gas="sulfur_dioxide",
            ppm=ppm,
        )
    elif (
        grams > _WET_CUP_G
        and _WET_THROUGH * grams < water < _DROWNS * grams
        and dithionite > dioxide
        and scene.setting.place != "shelf"
    ):
        ppm = room_ppm(_GAS_OF_A_TENTH * dithionite, scene.setting)
        if ppm >= gases()["sulfur_dioxide"].caution_ppm:
            scene.say(
                "damp_dithionite", TELLS, "wet dithionite warms and gives off sulfur dioxide, which stings", f"{grams:.0f} g in {water:.0f} mL of water",
                "Rinse it away with much water; a dry spoon and a dry cup.", gas="sulfur_dioxide", ppm=ppm,
            )  # fmt: skip
    hypochlorite = concentrated(scene, "hypochlorite", _STRONG_CHLORINE)
    kept = scene.setting.closed or scene.setting.place in ("standing", "jug")
    wetted = kept and 0 < water < _DROWNS * _CHLORINE_G * hypochlorite
    if (scene.setting.place == "damp" or wetted) and hypochlorite * _CHLORINE_G > _HEATS_ITSELF_CHLORINE_G:
        scene.say(
            "damp_hypochlorite",
            HURTS,
            "damp pool chlorine heats itself and gives off chlorine",
            f"{hypochlorite * _CHLORINE_G:.0f} g",
            "Keep it dry, vented and away from everything else.",
        )
    cyanide = concentrated(scene, "cyanide", _POWDER)
    if scene.setting.place == "damp" and cyanide > _DAMP_CYANIDE_MOL:
        scene.say(
            "damp_cyanide",
            HURTS,
            "damp cyanide gives off hydrogen cyanide with the carbon dioxide of the air",
            f"1 mmol of it makes {ppm_words(room_ppm(1e-3, replace(scene.setting, breathing_min=0)))} there",
            "Do not open it; let the authority collect it.",
        )
    if scene.setting.place == "damp" and not scene.setting.closed and scene.setting.hours:
        metabisulfite = pool.substance("sodium_metabisulfite", "potassium_metabisulfite")
        was, scene.setting = (
            scene.setting,
            # It fills the whole room by and by; nobody bends over it, and its sting drives one out.
            replace(scene.setting, place="shelf", breathing_min=_MINUTES_PER_H * scene.setting.hours),
        )
        scene.gas(
            "damp_metabisulfite", "sulfur_dioxide", _DAMP_METABISULFITE_PER_H * scene.setting.hours * metabisulfite,
            "damp metabisulfite gives it off day and night", "Keep it dry in a tight tub, not by the sack.", all_of_it=True,
        )  # fmt: skip
        scene.setting = was
    metal = pool.substance("aluminium", "magnesium", "zinc", "sodium")
    lye = math.fsum(p.has("hydroxide") for p in scene.portions if p.solid)
    eaten = math.fsum(
        p.moles.get(key, 0.0)
        for p in scene.portions
        for key in ("aluminium", "zinc")
        if _HOLDS_IT.search(p.name.lower())
    )
    if (
        scene.setting.place == "shelf"
        and lye > _JAR_OF_LYE_MOL
        and max(eaten, metal_dust_mol(scene.portions, of_no_shape=True)) > _LIGHT_METAL_MOL
    ):
        scene.say(
            "lye_on_a_tin", HURTS, "lye draws water from the air and eats aluminium and zinc, as powder or as the tin that holds it: hydrogen, heat, and hot lye runs out",
            amount_of(lye), "Lye in plastic with a tight lid, and no light metal beside it.",
        )  # fmt: skip
    if scene.setting.place == "damp" and metal > _DAMP_METAL_MOL and pool.has("hydroxide") > 0.1:
        scene.say(
            "damp_metal_lye",
            HURTS,
            "metal in damp lye gives hydrogen and heat; a tight tin bursts",
            f"up to {amount_of(_MOST_HYDROGEN * metal)} of hydrogen",
            "Keep it open and outdoors, do not shake it.",
        )


# A heap of several rags, 100 g, with a cup of oil that dries, for as long as a night (self-heating of drying oils is in every fire
# code; the amounts are our judgement): one rag, or several spread out for an hour, loses its heat.
_HEAP_OF_RAGS_MOL, _HEAP_OF_OIL_MOL, _ASLEEP_H = 0.6, 0.18, 4.0
# What is larger than this is no room of a house but a yard (our judgement).
_OUTDOORS_M3 = 500.0
_DRIES = regex(r"linseed|tung|poppy|walnut|danish|teak|decking|drying|varnish")
# Of such a chloride there must be so much by mass (our judgement).
_HYDROLYSED, _STILL_FUMES = ("iron_iii_chloride", "stannous_chloride"), 0.5
_RAGS = ("cellulose", "solvent")


def _slow(scene: Scene) -> None:
    """What needs hours or the damp of the air: fuming chlorides, soaked rags, phosphides."""
    pool, setting = scene.first, scene.setting
    damp = setting.place == "damp"
    fuming = math.fsum(
        p.moles.get(key, 0.0) for p in scene.portions for key in _HYDROLYSED if p.share_of(key) > _STILL_FUMES
    )
    if damp and fuming > _FUMING_MOL:
        scene.say(
            "fuming_chloride",
            2,
            "an anhydrous chloride draws water, runs and fumes hydrogen chloride; metal near it rusts",
            amount_of(fuming),
            "Close it tightly and dry, away from metal and film.",
        )
    waits = damp or setting.hours > 2 or setting.place == "standing"
    rags = math.fsum(pool.has(kind) for kind in _RAGS)
    oxidiser = math.fsum(pool.has(kind) for kind in ("permanganate", "dichromate", "chlorate", "persulfate", "nitrate"))
    oxidiser += concentrated(scene, "hypochlorite", _STRONG_CHLORINE)
    oxidiser += concentrated(scene, "peroxide", _STRONG_PEROXIDE)
    if (
        waits
        and setting.place != "shelf"
        and pool.has("cellulose") > _RAGS_MOL
        and oxidiser > _SOAKING_MOL
        and rags > _RAGS_MOL
        and 1000 * pool.water_l < _WASHED_AWAY * (pool.grams - 1000 * pool.water_l)
    ):
        flares = pool.has("chlorate") + pool.has("perchlorate") > _FLARES_MOL and setting.hours > 2
        scene.say(
            "soaked_rags",
            KILLS if flares else HURTS,
            "what burns, soaked in an oxidiser, dries and then "
            + (
                "flares up at a rub or spark, cloth on the body too"
                if flares
                else "smoulders or catches fire by itself"
            ),
            f"{amount_of(oxidiser)} of oxidiser",
            "Rinse such rags and papers with much water at once; never dry into the bin.",
        )
    # On a shelf oil and rags lie apart, unless they are one.
    soaked = any(
        p.has("cellulose") and p.substance_with("combustible") and p.moles.get("vegetable_oil") for p in scene.portions
    )
    if (
        (waits and (setting.place != "shelf" or soaked))
        and pool.substance("vegetable_oil", "turpentine") > _OILY_MOL
        and pool.has("cellulose") > _RAGS_MOL
    ):
        heap = pool.has("cellulose") >= _HEAP_OF_RAGS_MOL and pool.substance("vegetable_oil") >= _HEAP_OF_OIL_MOL
        dries = any(_DRIES.search(p.name.lower()) for p in scene.portions)
        asleep = heap and dries and setting.hours >= _ASLEEP_H and setting.room.volume_m3 < _OUTDOORS_M3
        scene.say(
            "oily_rags", KILLS if asleep else HURTS,
            "a heap of rags with a drying oil heats itself and catches fire while the house sleeps" if asleep else "rags with a drying oil heat themselves and catch fire",
            "within hours",
            "Spread them flat outdoors or keep them under water in a closed tin.",
        )  # fmt: skip
    phosphide = pool.has("phosphide")
    lies_open = setting.place in ("room", "standing") and not setting.closed and setting.hours >= _AIR_WETS_H
    if phosphide > 1e-3 and (pool.wet or damp or lies_open):
        # Water alone frees it in hours, acid at once.
        share = 1.0 if pool.wet and pool.ph < _ACID_PH else _PHOSPHIDE_IN_WATER
        scene.gas(
            "phosphide", "phosphine", share * phosphide, "water or acid on a metal phosphide",
            "Never; leave the room, call the fire brigade.", all_of_it=True,
        )  # fmt: skip


# What must not go down a drain by itself, entity or substance -> moles from which it is told (our judgement).
_NOT_DOWN = {
    "dichromate": 3e-3, "selenite": 1e-3, "mercury": 1e-5, "cyanide": 1e-4, "azide": 1e-4, "copper_ii": 1e-2, "lead": 1e-4,
    "aldehyde": 0.1, "hydrazine": 1e-3, "chlorate": 2e-2, "sulfide": 3e-2,
    "chlorinated": 5e-2,
}  # fmt: skip


def _drain(scene: Scene) -> None:
    if scene.setting.place != "drain":
        return
    for entity, least in _NOT_DOWN.items():
        if scene.pool.has(entity) > least:
            scene.say(
                "drain_poison", 2, f"{_WORD.get(entity, entity)} poisons water and soil",
                amount_of(scene.pool.has(entity)), "Not down any drain: keep it and hand it in.",
            )  # fmt: skip


def _from_solids(scene: Scene) -> None:
    """Gas out of what is dry: dry ice, sulfites that are heated or burn, acid and carbonate powders in one jar."""
    pool, setting = scene.first, scene.setting
    frozen = pool.has("solid_carbon_dioxide")
    if frozen > 0.01:
        # In an open bowl about a third goes in an hour, in liquid all of it in minutes (common practice, no source).
        lies_h = max(setting.hours, setting.released_h, _LIES_H if setting.place == "room" else 0.0)
        gone = 1.0 if setting.closed or pool.wet else -math.expm1(-_DRY_ICE_PER_H * lies_h)
        scene.gas(
            "dry_ice", "carbon_dioxide", frozen * gone, "dry ice becomes gas, which lies on the floor and smothers",
            "Never in a closed room, never in a closed vessel.", all_of_it=True,
        )  # fmt: skip
    if frozen > _ICE_IN_A_NECK_MOL and setting.narrow:
        scene.say(
            "dry_ice_neck", HURTS, "dry ice in a narrow neck blows out what is in the bottle, and a piece that sticks there bursts it", amount_of(frozen),
            "Only in a wide open bowl, with thick gloves.",
        )  # fmt: skip
    lit = setting.flame and not pool.wet and pool.substance("charcoal") > _GRILL_MOL
    if lit or setting.temperature_c > _HOT_C:
        burnt = pool.has("powder_fuel") - pool.substance("sulfur") + pool.has("cellulose")
        scene.gas(
            "glowing", "carbon_monoxide", 0.1 * burnt, "what glows or smoulders gives it off, without smell", _OPEN_AIR,
            all_of_it=True,
        )  # fmt: skip
    if setting.flame and setting.temperature_c <= _HOT_C and not pool.wet and len(scene.portions) == 1:
        # A flame in the room has not lit it yet: no more than a caution.
        ppm = room_ppm(_HOT_SULFITE * pool.substance("sulfur"), setting)
        scene.say(
            "burning_sulfur", min(HURTS, gas_severity("sulfur_dioxide", ppm, setting)), "sulfur that catches fire, or is burnt, fills the room with sulfur dioxide",
            f"about {ppm_words(ppm)} in {setting.room.volume_m3:g} m3", "No flame near it; nobody stays where it is burnt.", gas="sulfur_dioxide", ppm=ppm,
        )  # fmt: skip
    if setting.temperature_c > _HOT_C:
        sulfite = pool.substance("sodium_metabisulfite", "potassium_metabisulfite", "sodium_bisulfite")
        made = _HOT_SULFITE * (
            sulfite + pool.has("dithionite") + pool.has("thiourea_dioxide") + pool.substance("sulfur")
        )
        made += _ROASTED * (pool.has("sulfide") + pool.substance("silver_sulfide"))
        scene.gas("heated_sulfite", "sulfur_dioxide", made, "heat drives it out", _OPEN_AIR, all_of_it=True)
        scene.gas(
            "burning_solvent", "carbon_dioxide", 10 * min(_LITRE_OF_PARAFFIN_MOL, pool.has("solvent")), "a flame without a flue makes it", "Window open.",
            all_of_it=True,
        )  # fmt: skip
        scene.gas(
            "heated_nitrate", "nitrogen_dioxide", _HOT_NITRATE * pool.has("nitrate"), "heat breaks nitrate", _OPEN_AIR,
            all_of_it=True,
        )  # fmt: skip
    _displaced_air(scene)
    soda = _SODA_BESIDE_LIME * (
        pool.has("carbonate") - pool.substance("sodium_bicarbonate", "calcium_carbonate", "ammonium_carbonate")
    )
    lime = min(pool.has("ammonia"), pool.has("hydroxide") + soda * (setting.place == "damp"))
    lye = min(lime, pool.substance("sodium_hydroxide", "potassium_hydroxide"))
    if not pool.wet and setting.place in ("mixing", "jug", "standing", "closed_jug", "damp"):
        freed = _LYE_AMMONIA * lye + _GROUND_AMMONIA * (lime - lye)
        scene.gas(
            "dry_ammonium", "ammonia", freed, "lime or lye ground or damp with an ammonium salt frees it", _OPEN_AIR, all_of_it=True
        )  # fmt: skip
    if pool.wet or not (setting.closed or setting.place == "damp"):
        return
    # The damp of the air is enough for a share of it.
    acid = math.fsum(max(0.0, acid_in(p, _CARBONATE_PH)) for p in scene.portions)
    bisulfite = 2 * pool.substance("sodium_metabisulfite", "potassium_metabisulfite")
    carbonate = _DAMP_CARBONATE * min(pool.has("carbonate"), acid + bisulfite)
    scene.gas("carbonate", "carbon_dioxide", carbonate, "acid on carbonate", "Keep acid and carbonate apart.")
    others = math.fsum(max(0.0, acid_in(p, _SULFITE_PH)) for p in scene.portions if not p.has("sulfite"))
    scene.gas(
        "acid_sulfite", "sulfur_dioxide", _DAMP_SULFITE * min(pool.has("sulfite"), others),
        "damp acid crystals on sulfite or metabisulfite", "Keep them in separate dry tubs.",
    )  # fmt: skip
    rate_per_h = _DAMP_OXYGEN_PER_H if setting.place == "damp" else _DRY_OXYGEN_PER_H
    oxygen = 0.5 * pool.has("peroxide") * -math.expm1(-rate_per_h * setting.hours)
    scene.gas("oxygen", "oxygen", oxygen, "percarbonate or perborate falls apart", "Dry, with a vented lid.")


# Ammonia that dry lime frees from an ammonium salt while somebody grinds them, what lye does, which runs in the air and grows hot, and what
# soda does beside lime once both are damp (our judgement; the two are smelling salts).
_GROUND_AMMONIA, _LYE_AMMONIA, _SODA_BESIDE_LIME = 0.1, 0.3, 0.3
# Charcoal that is a grill beside a flame, 60 g and more, and no stick for drawing (our judgement).
_GRILL_MOL = 5.0
# Shares of the air (US OSHA calls under 19.5 % oxygen deficient; that is 7 % of another gas; a fifth faints; from memory).
_THIN_AIR, _FAINT = 0.07, 0.2


def _displaced_air(scene: Scene) -> None:
    """Gases that only take the place of air, and fuel gas."""
    setting = scene.setting
    inert, fuel = scene.first.has("inert_gas"), scene.first.has("fuel_gas")
    burns = setting.temperature_c > _HOT_C
    if setting.closed or inert + fuel < 0.1:
        return
    share = room_ppm(inert + fuel, replace(setting, breathing_min=min(10.0, setting.breathing_min))) / 1e6
    if fuel > _JET_MOL and setting.flame and not burns:
        scene.say(
            "jet_of_gas", HURTS, "fuel gas that streams out beside a flame burns as a jet or a ball, and whoever holds it is burnt", amount_of(fuel),
            "No flame and no glowing thing in the room; air, then switches.",
        )  # fmt: skip
    if fuel and not burns:
        part = share / _BUTANE_BURNS
        scene.say(
            "fuel_gas", KILLS if part > _GAS_KILLS or (setting.flame and part > _GAS_WITH_FLAME) else HURTS if part > _GAS_LOUD else 2 if part > 0.1 else 1,
            "fuel gas lies on the floor and explodes at any spark", f"about {100 * part:.0f} % of the lower explosive limit",
            "No flame, no switch, doors open, out.",
        )  # fmt: skip
    if fuel and burns:
        scene.gas(
            "burnt_gas",
            "carbon_dioxide",
            _CO2_OF_BUTANE * fuel,
            "a flame fed from the room's air makes it",
            "Window open.",
        )
    if inert and share > _THIN_AIR:
        scene.say(
            "thin_air", KILLS if share > _FAINT else HURTS, "gas takes the place of the air: one faints without warning",
            f"about {100 * share:.0f} % of the air of the room", "Out at once; never a cylinder in a small closed room.",
        )  # fmt: skip


# Developing agent poured on with the bath, about 100 mL of it, and that a mole of bleach takes (our judgement).
_DEVELOPER_CARRIED_MOL, _BY_DEVELOPER = 4e-3, 3
# Moles carried from which it shows, and what it is (our judgement).
# Peroxide blisters by the oxygen that alkali makes of it within the gelatin (a fifth of what a film holds of the peroxide bleach).
_FILM_SPOILERS = {
    "peroxide": (3e-3, "blisters, and a developer that is used up,"),
    "permanganate": (5e-5, "brown manganese dioxide"),
    "iron_iii": (1e-3, "rust or iron ink"),
    "dichromate": (1e-4, "a stain of chromium and oxidised developer"),
}
# Chrome alum that alkali above this pH throws out as a green sludge, and dissolved silver that a developer turns to metal at once:
# moles carried (our judgement).
_GREEN_MOL, _GREEN_PH, _MIRROR_MOL = 3e-4, 8.0, 5e-5
# Thiosulfate or thiocyanate that is carried into a developer, about what a first developer is given on purpose (our judgement).
_SOLVENT_MOL_PER_L = 5e-3


# Baths after which a film is dried, and what then dries in, moles carried; peroxide that lifts the layer in a bath of soda or ammonia, moles carried
# (two thirds of what a film holds of the peroxide bleach), and the pH (our judgement).
_LAST_BATHS = frozenset(("nonionic_wetting_agent", "isopropanol", "ethanol", "gelatin"))
_DRIES_IN = {"permanganate": 5e-5, "dichromate": 1e-4, "iron_iii": 1e-3}
_LIFTS_MOL, _LIFTS_PH = 5e-3, 9.5
# Thiosulfate that dries into an unwashed film and yellows its silver, moles carried (our judgement).
_YELLOWS_MOL = 1e-3


# Oxidisers that dithionite meets after a bleach, and the part of its electrons that they take from which it is told (our judgement).
_EATS_DITHIONITE, _USED_UP = (
    (
        "peroxide",
        "permanganate",
        "dichromate",
        "iron_iii",
        "persulfate",
        "ferricyanide",
        "hypochlorite",
        "copper_ii",
        "cerium_iv",
    ),
    0.1,
)
# Sulfite of each permanganate that turns all of it to colourless manganese (2.5), twice over.
_CLEARS = 5.0
# Iron that shows as rust by itself: a tank that was not rinsed, and not one that was (our judgement).
_RUST_MOL = 3e-3


def _free_silver_mol(portion: Portion) -> float:
    """Silver that neither halide nor thiosulfate holds."""
    return math.fsum(portion.moles.get(key, 0.0) for key in ("silver_ammine_chloride", "silver_nitrate"))


def _spoils_film(scene: Scene) -> None:
    """What is carried on does to the film with the bath that meets it: a bleach with alkali or developer, fixer with a developer or dried in."""
    if scene.setting.place != "carry_over" or len(scene.portions) < 2:
        return
    carried, rest = scene.portions[0], scene.portions[1:]
    bath = Pool(rest)
    if carried.has("thiosulfate") > 1e-3 and bath.has("ferricyanide") > 1e-3:
        scene.say(
            "spoils_film", 2, "ferricyanide with fixer dissolves the silver of the picture",
            f"{amount_of(carried.has('thiosulfate'))} carried over", "Rinse before the bleach.",
        )  # fmt: skip
    solvent = carried.has("thiosulfate") + carried.has("thiocyanate")
    if bath.has("developer") > 1e-3 and solvent / bath.volume_l > _SOLVENT_MOL_PER_L:
        scene.say(
            "spoils_film", 2, "fixer in a developer dissolves the silver halide that is still to be developed: thin, and a fog of two colours",
            f"{solvent / bath.volume_l:.2g} mol of thiosulfate or thiocyanate in a litre of it", "Wash before the developer; fix after the last one.",
        )  # fmt: skip
    oxidised = bath.has("dichromate") + bath.has("permanganate")
    if min(carried.has("developer"), _BY_DEVELOPER * oxidised) > _DEVELOPER_CARRIED_MOL:
        scene.say(
            "spoils_film", 2, "the bleach turns the developer to a brown stain and is used up by it",
            f"{amount_of(carried.has('developer'))} carried over", "Rinse the developer out before the bleach.",
        )  # fmt: skip
    chrome = carried.moles.get("chrome_alum", 0.0)
    if chrome > _GREEN_MOL and bath.ph > _GREEN_PH:
        scene.say(
            "spoils_film", 2, "alkali throws green chromium hydroxide out of chrome alum, which stays in the gelatin", f"{amount_of(chrome)} carried over",
            "Rinse the hardener out before any alkaline bath.",
        )  # fmt: skip
    taken = math.fsum(carried.has(entity) * oxidants()[entity].electrons for entity in _EATS_DITHIONITE)
    fogging = bath.has("dithionite") * reductants()["dithionite"].electrons
    if fogging > 1e-3 and taken > _USED_UP * fogging:
        scene.say(
            "spoils_film", 2, "the bleach uses up the dithionite, and it smells of sulfur dioxide", f"about {100 * min(1.0, taken / fogging):.0f} % of it",
            "Rinse the bleach out, and clear, before the dithionite.",
        )  # fmt: skip
    developer = bath.has("developer") > 1e-3
    silver = _free_silver_mol(carried)
    if silver > _MIRROR_MOL and (developer or bath.has("dithionite") > 1e-3):
        scene.say(
            "spoils_film", 2, "the developer turns carried silver to metal at once: a mirror or grey fog on the film", f"{amount_of(silver)} carried over",
            "Rinse the silver out before the next bath.",
        )  # fmt: skip
    sulfite = bath.has("sulfite")
    last = all(p.moles.keys() <= _LAST_BATHS and p.moles for p in rest)
    for entity, least in _DRIES_IN.items():
        if last and carried.has(entity) > least:
            scene.say(
                "spoils_film", 2, f"{_WORD.get(entity, entity)} dries into the film with the last bath, as a stain that no later wash takes out", f"{amount_of(carried.has(entity))} carried over",
                "Clear and wash before the wetting bath.",
            )  # fmt: skip
    if last and carried.has("thiosulfate") > _YELLOWS_MOL:
        scene.say(
            "spoils_film", 2, "fixer dries into the film with the last bath and yellows the silver with the years", f"{amount_of(carried.has('thiosulfate'))} carried over",
            "Wash before the wetting bath.",
        )  # fmt: skip
    if (
        carried.has("peroxide") > _LIFTS_MOL
        and bath.ph > _LIFTS_PH
        and not developer
        and sulfite < carried.has("peroxide")
    ):
        scene.say(
            "spoils_film", 2, "peroxide in the gelatin turns to bubbles of oxygen in alkali, which lift the layer off the film", f"{amount_of(carried.has('peroxide'))} carried over",
            "Rinse the bleach out before any alkaline bath.",
        )  # fmt: skip
    if not developer and bath.ph < _THROWN_OUT_PH:
        return
    for entity, (least, what) in _FILM_SPOILERS.items():
        # Without a developer it makes no ink, and a little rust washes off.
        least = least if developer or entity != "iron_iii" else _RUST_MOL
        # A clearing bath is there to take it: sulfite in excess dissolves the brown.
        if entity == "permanganate" and not developer and sulfite > _CLEARS * carried.has(entity):
            continue
        if carried.has(entity) > least and (developer or entity not in ("dichromate", "peroxide")):
            scene.say(
                "spoils_film", 2, f"{what} on the film", f"{amount_of(carried.has(entity))} carried over",
                "Clear and rinse before the next bath.",
            )  # fmt: skip


# Names that end in a picture on gelatin.
_ON_GELATIN = regex(
    r"\b(film( in the bath| strip)?|negatives?|negative strip|strip of film|slides?|transparenc(y|ies)|(wet |test |contact )?prints?)$"
)
# Hypochlorite that eats gelatin within minutes, a tenth of laundry bleach, and the pH of lye that does within the hour (our judgement).
_EATS_GELATIN_MOL_PER_L, _EATS_GELATIN_PH = 0.05, 13.3


def _eats_gelatin(scene: Scene) -> None:
    """Hypochlorite or strong lye on a film or print."""
    pool = scene.first
    if (
        not pool.wet
        or scene.setting.place in ("shelf", "room", "drain")
        or not (scene.setting.film or any(_ON_GELATIN.search(p.name.lower()) for p in scene.portions))
    ):
        return
    if pool.has("hypochlorite") / pool.volume_l > _EATS_GELATIN_MOL_PER_L or pool.ph > _EATS_GELATIN_PH:
        scene.say(
            "eats_gelatin", TELLS, "hypochlorite or strong lye eats the gelatin: the picture slides off the film within minutes", amount_of(max(pool.has("hypochlorite"), pool.has("hydroxide"))),
            "Never on a film that is to be kept; the cleaner out of the room while films are worked.",
        )  # fmt: skip


# Sulfuric acid that boils where water lands on it: share by mass and grams; millilitres of water that do it (our judgement).
_BOILING_ACID, _BOILING_ACID_G, _LANDING_ML = 0.6, 20, 3
# Carbide and sodium, and litres of water on them, from which it is told: half a gram and more (our judgement).
_WATER_SHY_MOL, _CARBIDE_WATER_L, _SODIUM_WATER_L, _DAMP_CARBIDE_MOL = 0.02, 0.005, 0.002, 0.1


def _stood_open(setting: Setting) -> bool:
    """Open for a day, so that the damp of the air has come to it."""
    return setting.place == "standing" and not setting.closed and setting.hours >= _A_DAY_H


# Hours in which the air's damp counts.
_A_DAY_H = 24.0


# Solid lye and spirit from which they grow hot together, a spoonful in a cup (our judgement).
_LYE_IN_SPIRIT_MOL, _SPIRIT_MOL = 0.3, 2.0


def _lye_in_spirit(scene: Scene) -> None:
    """Solid lye in spirit: hot, caustic, and it burns."""
    lye = math.fsum(p.has("hydroxide") for p in scene.portions if p.solid)
    spirit = concentrated(scene, "alcohol", _BURNS_CONCENTRATED)
    if scene.setting.place not in ("shelf", "room", "damp") and lye > _LYE_IN_SPIRIT_MOL and spirit > _SPIRIT_MOL:
        scene.say(
            "lye_in_spirit", TELLS, "lye in spirit grows hot, burns skin and eyes worse than lye in water, and its vapour catches fire",
            f"{amount_of(lye)} of lye", "Goggles and gloves, little by little, cold, away from every flame.",
        )  # fmt: skip


def _water_and_acid(scene: Scene) -> None:
    """Water poured on strong acid or solid lye boils where it lands."""
    met = zip(scene.portions, scene.portions[1:], strict=False)
    if scene.setting.place == "carry_over":
        # What the film carries drips into what stands there.
        met = zip(scene.portions[1:], scene.portions, strict=False)
    for first, second in met:
        strong = first.share_of("sulfuric_acid") >= _BOILING_ACID and first.grams > _BOILING_ACID_G
        wet = second.water_ml > _LANDING_ML and second.water_ml > second.grams / 2
        if strong and wet and second.share_of("sulfuric_acid") < _BOILING_ACID:
            scene.say(
                "water_on_acid",
                HURTS,
                "water on strong sulfuric acid boils where it lands and throws acid",
                f"{first.grams:.0f} g of acid",
                "Always the acid into much cold water, slowly.",
            )
    carbide = scene.first.has("carbide")
    acid = scene.first.wet and scene.first.acid_above(_ACID_BATH_PH) > carbide
    if carbide > _WATER_SHY_MOL and (scene.first.water_l > _CARBIDE_WATER_L or acid):
        scene.gas("carbide", "acetylene", carbide, "carbide and water", _OPEN_AIR, all_of_it=True)
    elif (scene.setting.place == "damp" or _stood_open(scene.setting)) and carbide > _DAMP_CARBIDE_MOL:
        scene.say(
            "damp_carbide", HURTS, "carbide in the damp gives acetylene, which fills its tin and the cupboard and explodes at a spark", amount_of(carbide),
            "Outdoors, its lid loose, no flame and no switch; then dry in a tight tin, away from the house.",
        )  # fmt: skip
    sodium = scene.first.substance("sodium")
    if sodium > _WATER_SHY_MOL and scene.first.water_l > _SODIUM_WATER_L:
        scene.say("sodium_water", KILLS, "sodium burns and bursts on water", amount_of(sodium), "Never.")
    elif min(sodium, scene.first.has("alcohol")) > _WATER_SHY_MOL:
        scene.say(
            "sodium_alcohol", HURTS, "sodium in spirit gives hydrogen and heat, and the spirit may catch fire", amount_of(sodium),
            "Not in the house: let those who are used to it destroy it.",
        )  # fmt: skip


# Fifty milligrams of hydrogen cyanide may kill, however large the room (from memory); a quarter of them is refused, for nobody measures
# what is left in a tank (our judgement); its pK, and the pH below which a bath is acid. Copper(II) turns half of it to cyanogen (from memory).
_CYANIDE_DOSE_MOL, _CYANIDE_TOLD_MOL, _PK_CYANIDE, _ACID_BATH_PH = 2e-3, 5e-4, 9.2, 6.0


def _acid_meets_cyanide(scene: Scene) -> None:
    """Acid on cyanide: what it frees is gone before an oxidiser in the same bath has destroyed it, and before lye has taken the acid."""
    cyanide = scene.first.has("cyanide")
    if cyanide < _CYANIDE_TOLD_MOL or len(scene.portions) < 2:
        return
    acid = math.fsum(
        max(0.0, acid_in(p, _PK_CYANIDE))
        for p in scene.portions
        if not p.has("cyanide") and Pool((p,)).ph < _ACID_BATH_PH
    )
    freed = max(min(cyanide, acid), min(scene.first.has("copper_ii"), 0.5 * cyanide))
    if scene.pool.wet and scene.pool.ph < _PK_CYANIDE:
        freed = max(freed, scene.pool.has("cyanide") / (1 + 10 ** (scene.pool.ph - _PK_CYANIDE)))
    if freed > _CYANIDE_TOLD_MOL:
        scene.say(
            "cyanide_dose", KILLS if scene.pool.wet or scene.setting.place != "shelf" else HURTS, "acid or copper salt on cyanide: whoever bends over the vessel may breathe a deadly dose",
            amount_of(freed), "Do not use cyanide at all; let the authority collect it.", gas="hydrogen_cyanide",
        )  # fmt: skip


_BEFORE: tuple[Callable[[Scene], None], ...] = (
    _explosive_silver,
    _explosive_gold,
    _explosive_peroxides,
    _explosive_others,
    _fire,
    _runaway,
    _damp,
    _slow,
    _drain,
    _from_solids,
    _spoils_film,
    _eats_gelatin,
    _water_and_acid,
    _lye_in_spirit,
    _acid_meets_cyanide,
)


# In solution


# Where a drop of acid lands, a tenth of it acts before it is stirred in, in a twentieth of the liquid (our judgement).
_LANDS_IN = 0.05
# So far a buffer's pH may rise while a gas leaves it, and it goes on giving acid (our judgement).
_KEEPS_WITHIN_PH = 0.5
# Hours after which the air of a closed room carries off as much as an open tray still gives (our judgement).
_GATHERS_H = 6.0


def _freed(scene: Scene, mechanism: str, gas: str, entity: str, pka: float, why: str, do: str) -> None:
    """A weak acid that is free at the pH, or for a moment where acid drops in, before an oxidiser has destroyed it."""
    moles = scene.pool.has(entity)
    ph = scene.pool.ph
    equilibrium = moles / (1 + 10 ** (ph - pka))
    acid = math.fsum(max(0.0, acid_in(p, pka)) for p in scene.portions)
    local = min(scene.first.has(entity), 0.1 * acid)
    splash = local * leaving_share(gas, local, _LANDS_IN * scene.pool.volume_l, scene.setting)
    # A buffer gives its acid to what is left as the gas goes: as much of it as the pH rises little by; what the gas itself holds is no such.
    its_own = equilibrium - moles / (1 + 10 ** (ph + _KEEPS_WITHIN_PH - pka))
    follows = min(moles - equilibrium, max(0.0, scene.pool.acid_above(ph + _KEEPS_WITHIN_PH) - its_own))
    follows = max(0.0, follows) if equilibrium > local else 0.0
    scene.gas(mechanism, gas, max(equilibrium, local), why, do, besides_mol=splash, follows_mol=follows)
    if scene.setting.place == "standing":
        # It dulls the nose, or nobody is there to smell it: what has gathered by the end is what whoever comes in breathes.
        with scene.as_it_stands(_GATHERS_H):
            scene.gas(mechanism, gas, equilibrium, why, do, follows_mol=follows)


# pK of hydrogen sulfide (from memory), and the pH below which azide and fluoride are free enough to hurt; of selenite a metal makes
# a little hydrogen selenide there, borohydride a third of it (our judgement).
_PK_SULFIDE, _AZIDE_PH, _FLUORIDE_PH, _SELENIDE_PH, _SELENIDE_SHARE, _SELENIDE_BY_HYDRIDE = 7.0, 6, 5, 5, 0.05, 0.3
# Iron cyanides fall apart in hot or strong acid: moles told of, what counts as hot (bath and rise), how much strong acid, hot and
# cold, and hot acid of pH 2 break; cyanides of each (from memory). Told is six grams of them in acid that
# gives a third of a mole in a litre before its pH is 1 (our judgement).
_STRONG_ON_CYANIDE, _STRONG_PH, _IRON_CYANIDE_TOLD = 0.3, 1.0, 0.02
_IRON_CYANIDE_MOL, _BREAKS_C, _BREAKS_K, _BROKEN_HOT, _CYANIDES = 0.002, 60, 50, 0.5, 6
# Hypophosphite in lye so strong, as pH (our judgement).
_HYPOPHOSPHITE_MOL, _LYE_PH = 0.05, 13
# Sulfuric acid, share by mass, that drives carbon monoxide out of formate, and out of oxalate and iron cyanides (from memory).
_FROM_FORMATE, _FROM_OXALATE = 0.4, 0.6


def _toxic_from_salts(scene: Scene) -> None:
    pool = scene.pool
    if max(pool.has("sulfide"), scene.first.has("sulfide")) > 1e-6:
        _freed(
            scene,
            "acid_sulfide",
            "hydrogen_sulfide",
            "sulfide",
            _PK_SULFIDE,
            "acid sets it free from sulfide",
            "Never acid near a sulfide toner; rinse between, and keep it alkaline.",
        )
    if scene.first.has("cyanide") > 1e-6:
        _freed(
            scene,
            "acid_cyanide",
            "hydrogen_cyanide",
            "cyanide",
            _PK_CYANIDE,
            "acid sets it free from cyanide",
            "Do not use cyanide at all; let the authority collect it.",
        )
    if pool.has("azide") > 1e-6 and pool.ph < _AZIDE_PH:
        scene.gas("acid_azide", "hydrazoic_acid", pool.has("azide"), "acid sets it free from azide", "Never.")
    if pool.has("fluoride") > 0.01 and pool.ph < _FLUORIDE_PH:
        scene.say(
            "fluoride",
            HURTS,
            "hydrofluoric acid: it burns through skin to the bone and poisons, without pain at first",
            amount_of(pool.has("fluoride")),
            "Leave it away; no glove of the house is enough.",
        )
    if pool.has("iron_cyanide") > _IRON_CYANIDE_MOL:
        strong = pool.acid_above(0.0) / pool.volume_l
        hot = scene.setting.temperature_c > _BREAKS_C or scene.pool.rise_k > _BREAKS_K
        share = (_BROKEN_HOT if hot else 0.01) if strong > 1 else (0.1 if hot and pool.ph < 2 else 0.0)
        scene.gas(
            "acid_ferricyanide",
            "hydrogen_cyanide",
            _CYANIDES * pool.has("iron_cyanide") * share,
            "hot or strong acid breaks iron cyanides",
            "Never strong or hot acid on ferricyanide or ferrocyanide.",
        )
        if (
            pool.acid_above(_STRONG_PH) / pool.volume_l > _STRONG_ON_CYANIDE
            and pool.has("iron_cyanide") > _IRON_CYANIDE_TOLD
        ):
            scene.say(
                "acid_ferricyanide", TELLS, "hydrogen cyanide: strong acid breaks ferricyanide and ferrocyanide slowly, faster once it warms, and it gathers over the vessel",
                amount_of(pool.has("iron_cyanide")), "Never strong or hot acid on ferricyanide or ferrocyanide; much cold water on it, and air.", gas="hydrogen_cyanide",
            )  # fmt: skip
    if (
        pool.has("selenite") > 1e-4
        and (pool.has("metal") > 0.01 or pool.has("hydride") > 0.01)
        and pool.ph < _SELENIDE_PH
    ):
        by_hydride = pool.has("hydride") > 0.01
        scene.gas(
            "selenide",
            "hydrogen_selenide",
            (_SELENIDE_BY_HYDRIDE if by_hydride else _SELENIDE_SHARE) * pool.has("selenite"),
            "borohydride and acid make it from selenium toner, and hydrogen sweeps it out"
            if by_hydride
            else "metal and acid make it from selenium toner",
            _OPEN_AIR,
            all_of_it=by_hydride,
        )
    if pool.has("hypophosphite") > _HYPOPHOSPHITE_MOL and pool.ph > _LYE_PH:
        scene.gas("phosphine", "phosphine", 0.01 * pool.has("hypophosphite"), "hot lye on hypophosphite", _OPEN_AIR)
    sulfuric = pool.share_of("sulfuric_acid")
    monoxide = pool.has("formate") if sulfuric > _FROM_FORMATE else 0.0
    if sulfuric > _FROM_OXALATE:
        monoxide += pool.has("oxalate") + _CYANIDES * pool.has("iron_cyanide")
    if monoxide > 0.01:
        scene.gas(
            "carbon_monoxide", "carbon_monoxide", monoxide, "strong sulfuric acid drives it out", _OPEN_AIR, all_of_it=True
        )  # fmt: skip


# Temperature of the speeds below, and the warming beyond which none is reckoned faster: it boils.
_SPEEDS_AT_C, _MOST_WARMING_K = 20, 60.0
# Hours from which it counts that a bath stands; seconds of one.
_GOES_ON_H, _SECONDS_PER_H = 2.0, 3600.0
# Above this pH no thiosulfate falls apart.
_THIOSULFATE_PH = 4
# Sulfur dioxide of a dithionite that acid breaks, the pH below which it does, and what it breaks beyond the acid (from memory).
_GAS_OF_DITHIONITE, _DITHIONITE_PH, _BEYOND_THE_ACID = 1.5, 6, 0.2
# Dithionite that acid reaches where it lands, in a jug, from which it is told: two grams (our judgement).
_LANDING_DITHIONITE_MOL = 0.01
# Part of thiourea dioxide that strong acid turns to sulfur dioxide, and of dithionite to hydrogen sulfide (our judgement).
_GAS_OF_DIOXIDE, _SULFIDE_OF_DITHIONITE = 0.05, 0.02
# Metal and acid on fixer make hydrogen sulfide from so much metal on, below this pH (our judgement).
_FIXER_METAL_MOL, _FIXER_PH = 0.05, 3
# Part of alum that turns to sulfur dioxide, hours at 20 C in which it does, and the sulfite of
# a mole of thiosulfate that hinders it (our judgement).
_ACID_OF_ALUM, _ALUM_H, _KEEPS_A_FIXER = 0.1, 24.0, 0.05
# kJ by which the reaction itself drives sulfur dioxide out, the share it drives out, and the pH above which it is sulfite, which has none to give (our judgement).
_DRIVES_KJ, _DRIVEN_SHARE, _STAYS_SULFITE_PH = 30, 0.2, 6.0
# Thiocyanate told of, and hydrogen cyanide of it for each mole a litre of strong acid, and at the most (from memory).
_THIOCYANATE_MOL, _CYANIDE_PER_ACID, _MOST_CYANIDE = 0.005, 0.02, 0.05


# Sulfur dioxide over a bath, as a part of the air that touches it, and how much of it the bath holds, from which it stings whoever bends
# over it: what a sour clearing bath of metabisulfite has over it is a tenth of that (our judgement); an acid crystal on a sulfite crystal,
# 5 g of each; an acid that wets a heap; dithionite that acid breaks within minutes, 5 g, and the pH below which it does (our judgement).
_STINGS_OVER, _STINGING_SULFITE_MOL, _CRYSTALS_MOL, _HEAP_MOL = 0.008, 4e-3, 0.04, 0.2
_SOUR_DITHIONITE_MOL, _BREAKS_PH = 0.03, 4.0
# What the sting needs of a heap on a shelf, part of the air over it (our judgement).
_STINGS_OVER_A_HEAP = 0.2


def _over_the_bath(scene: Scene, free_mol: float) -> None:
    """Sulfur dioxide that the bath holds free stings in the air over it, long before the mean of a room does."""
    pool, setting = scene.pool, scene.setting
    # Of two bottles on a shelf the smell of a room is not told; what lies as a wet heap stings all the same.
    told = setting.place != "shelf" and any(effect.gas == "sulfur_dioxide" for effect in scene.found)
    if setting.closed or told:
        return
    # Of one atmosphere.
    over = free_mol / pool.volume_l / dissolved_capacity_mol_per_l("sulfur_dioxide")
    poured = setting.place in ("mixing", "jug")
    bath = poured and over > _STINGS_OVER and free_mol > _STINGING_SULFITE_MOL
    sour = math.fsum(
        max(0.0, acid_in(p, _SULFITE_PH)) for p in scene.portions if p.solid and p.at_once and not p.has("sulfite")
    )
    salts = math.fsum(p.has("sulfite") for p in scene.portions if p.solid)
    crystals = poured and min(sour, salts) > _CRYSTALS_MOL
    heap = setting.place == "shelf" and salts > _HEAP_MOL and over > _STINGS_OVER_A_HEAP
    breaks = poured and pool.has("dithionite") > _SOUR_DITHIONITE_MOL and pool.ph < _BREAKS_PH
    if bath or crystals or heap or breaks:
        scene.say(
            "sulfite_stings", TELLS, "sulfur dioxide: acid frees it from sulfite or dithionite, and the air over the wet heap or vessel stings and closes the airways of whoever has asthma",
            f"about {ppm_words(1e6 * over)} in the air that touches it", "Less acid, a lid, the window open; do not bend over it, and nobody with asthma near.", gas="sulfur_dioxide",
        )  # fmt: skip


def _sulfur_gases(scene: Scene) -> None:
    pool = scene.pool
    acid = max(0.0, pool.acid_above(_SULFITE_PH))
    protons = pool.protons_mol_per_l
    seconds = 60 * max(scene.setting.breathing_min, 10, 60 * scene.setting.hours if scene.setting.closed else 0)
    sulfite = pool.has("sulfite")
    free = sulfite / (1 + 10 ** (pool.ph - _PK_SULFUROUS))
    # Thiosulfate falls apart in acid: k about 0.01 L/mol/s near 20 C (from memory), two protons each.
    faster = 2 ** ((scene.setting.temperature_c + min(_MOST_WARMING_K, pool.rise_k) - _SPEEDS_AT_C) / 10)
    falls = -math.expm1(-0.01 * faster * protons * seconds)
    weak_acid = max(0.0, pool.acid_above(_THIOSULFATE_PH))
    # What falls apart is bisulfite, of which the acid there leaves so much free.
    thiosulfate = min(
        min(pool.has("thiosulfate") * falls, weak_acid) / (1 + 10 ** (pool.ph - _PK_SULFUROUS)), weak_acid / 2
    )
    # Alum gives its acid by and by, and what is warm and stands falls apart with it; sulfite keeps a hardening fixer.
    alum = scene.first.substance("potassium_alum", "chrome_alum")
    if pool.has("thiosulfate") > alum and sulfite < _KEEPS_A_FIXER * pool.has("thiosulfate"):
        stood = min(1.0, scene.setting.hours * faster / _ALUM_H)
        thiosulfate = max(thiosulfate, _ACID_OF_ALUM * alum * stood)
    dithionite = pool.has("dithionite")
    broken = 0.0
    if dithionite:
        broken = (
            _GAS_OF_DITHIONITE * dithionite * min(1.0, (protons / 1e-3) ** 0.5) if pool.ph < _DITHIONITE_PH else 0.0
        )
        broken = min(broken, acid + _BEYOND_THE_ACID * broken)
        broken /= 1 + 10 ** (pool.ph - _PK_SULFUROUS)
    elapsed_h = max(scene.setting.hours, scene.setting.released_h)
    if dithionite and pool.ph < _ALKALINE_PH:
        # It falls apart to bisulfite by itself, a tenth in an hour, near pH 4, faster when warm (from memory).
        bisulfite = dithionite * -math.expm1(-_DITHIONITE_PER_H * faster * elapsed_h)
        free += bisulfite / (1 + 10 ** (min(pool.ph, _DITHIONITE_ENDS_PH) - _PK_SULFUROUS))
    landing = min(dithionite, math.fsum(max(0.0, acid_in(p, _THIOSULFATE_PH)) for p in scene.portions))
    if landing > _LANDING_DITHIONITE_MOL and scene.setting.place == "jug" and pool.ph < _DITHIONITE_PH:
        scene.say(
            "acid_dithionite_lands", TELLS, "acid on a dithionite bath: where it lands sulfur dioxide comes off, which closes the airways of somebody with asthma, and sulfur clouds the jug",
            amount_of(landing), "Let the dithionite bath stand open until it is dead, or make it alkaline; then little by little, the window open.", gas="sulfur_dioxide",
        )  # fmt: skip
    organic = pool.has("thiourea_dioxide") * (_GAS_OF_DIOXIDE if pool.ph < 2 else 0.0)
    if scene.setting.place == "damp" and all(p.has("sulfite") and len(p.moles) == 1 for p in scene.portions if p.moles):
        # Damp crystals of metabisulfite have no acid but their own: they cake, and smell for weeks (`_damp` tells of sacks).
        free = 0.0
    scene.gas(
        "acid_sulfite",
        "sulfur_dioxide",
        free + thiosulfate + broken + organic,
        "acid sets it free from sulfite, dithionite or thiosulfate",
        "Less acid, or rinse between; open the window, and nobody with asthma in the room.",
    )
    if scene.setting.hours > _GOES_ON_H and not scene.setting.closed and pool.ph < _THIOSULFATE_PH:
        # In weak acid it goes on as long as it stands.
        all_of_it = pool.has("thiosulfate") * -math.expm1(
            -0.01 * faster * protons * _SECONDS_PER_H * scene.setting.hours
        )
        freed = min(min(all_of_it, weak_acid) / (1 + 10 ** (pool.ph - _PK_SULFUROUS)), weak_acid / 2)
        with scene.as_it_stands():
            scene.gas(
                "acid_sulfite", "sulfur_dioxide", freed - thiosulfate, "thiosulfate in acid goes on giving it off, with sulfur, as long as it stands",
                "Less acid, sulfite in it, a lid; the window open.",
            )  # fmt: skip
    _over_the_bath(scene, free + broken)
    if dithionite * (pool.ph < 2) > 0.01:
        scene.gas(
            "acid_dithionite",
            "hydrogen_sulfide",
            _SULFIDE_OF_DITHIONITE * dithionite,
            "strong acid on dithionite",
            _OPEN_AIR,
        )
    if pool.has("thiosulfate") > 0.01 and pool.has("metal") > _FIXER_METAL_MOL and pool.ph < _FIXER_PH:
        scene.gas(
            "metal_thiosulfate",
            "hydrogen_sulfide",
            0.1 * min(pool.has("thiosulfate"), pool.has("metal"), acid + 1e-9),
            "metal and acid on fixer",
            "Recover silver without acid.",
        )
    for met in scene.met:
        if met.reductant in ("sulfite", "dithionite") and scene.hot and met.heat_kj > _DRIVES_KJ:
            scene.gas(
                "hot_sulfite",
                "sulfur_dioxide",
                _DRIVEN_SHARE * met.reductant_mol / (1 + 10 ** (scene.first.ph - _STAYS_SULFITE_PH)),
                "the heat of the reaction drives it out",
                _OPEN_AIR,
            )
    strong = pool.acid_above(0.5) / pool.volume_l
    if pool.has("thiocyanate") > _THIOCYANATE_MOL and strong > 0.5:
        scene.gas(
            "acid_thiocyanate",
            "hydrogen_cyanide",
            pool.has("thiocyanate") * min(_MOST_CYANIDE, _CYANIDE_PER_ACID * strong),
            "strong acid on thiocyanate (with carbonyl sulfide)",
            "Never strong acid on thiocyanate.",
        )


# Cl2 + H2O = HOCl + H+ + Cl-: the constant in mol2/L2 at 20 C, pK of hypochlorous acid (from memory), and the chloride that
# hypochlorite brings with it (our judgement).
_CHLORINE_CONSTANT, _PK_HYPOCHLOROUS, _OWN_CHLORIDE = 4e-4, 7.5, 0.2
# Parts of the lesser that turn to chloramine where the two land, and to cyanogen chloride, from thiocyanate and cyanide or from
# thiourea and amines (our judgement).
_LANDING_CHLORAMINE, _CYANOGEN, _A_LITTLE_CYANOGEN = 0.05, 0.3, 0.001
# Hypochlorite that is carried into ammonia from which it is told: half a spoonful of laundry bleach (our judgement).
_CARRIED_CHLORAMINE_MOL = 1e-3
# Chlorine that a carried bleach makes in a tank from which it is told: a wine glass of the gas (our judgement).
_CARRIED_CHLORINE_MOL = 5e-4
# Hypochlorite molecules of one chloroform, the part of an alcohol that turns to it, and how far with alcohol alone (from memory).
_HALOFORM_CHLORINES, _HALOFORM_ALCOHOL, _ALCOHOL_ALONE = 3, 0.2, 0.3
# Chlorine from chloride: what counts as warm (bath and rise), acid and salt in mol/L that drive it fully, brine and strong acid in
# mol/L, how many times faster with warmth and brine or with one, and the part that oxidisers but permanganate and manganese
# dioxide do in the cold (our judgement).
_WARM_C, _WARM_K, _FULL_DRIVE, _BRINE, _BY_BOTH, _BY_ONE, _IN_THE_COLD = 35, 30, 0.3, 3, 10, 4, 0.3
# Each oxidiser: the part that turns chloride to chlorine at full drive while somebody stands there, and moles of chlorine of one
# (the first our judgement, the second by the electrons).
_ON_CHLORIDE = (
    ("permanganate", 0.25, 2.5),
    ("manganese_dioxide", 0.02, 1.0),
    ("dichromate", 0.02, 3.0),
    ("persulfate", 0.02, 1.0),
    ("cerium_iv", 0.02, 0.5),
    ("nitrate", 0.03, 0.5),
    ("peroxide", 0.01, 1.0),
)
# What is left of the chlorine that peroxide makes where iron or manganese breaks it: it takes chlorine back to salt (our judgement).
_TAKEN_BACK = 0.1
# Bromine: bromide and acid in mol/L from which it is told and at which it is driven fully, and moles of bromine of each oxidiser
# while somebody stands there (permanganate by its electrons; the others our judgement).
_LEAST_BROMIDE, _BROMIDE_ACID = 0.005, 0.03
_ON_BROMIDE = {"permanganate": 2.5, "dichromate": 0.5, "cerium_iv": 0.3, "peroxide": 0.05}
# Iodine that a bath smells of: a few grams (our judgement).
_IODINE_TOLD_MOL = 0.01
# Burning pool chlorine: moles told of, and the chlorine of each (our judgement).
_BURNING_MOL, _BURNING_CHLORINE = 0.02, 0.3


# Alcohol that a strong oxidiser turns to aldehyde in a bath, electrons of each and the least that is told of (our judgement); hypochlorite on
# urea that stings over the bowl.
_ELECTRONS_OF_ALDEHYDE, _ALDEHYDE_MOL, _UREA_MOL = 2.0, 0.01, 0.03


# Heat of a formaldehyde that ammonia binds as hexamine (from heats of formation, from memory: 200 kJ for six), and the ammonia it takes.
_HEXAMINE_KJ, _AMMONIA_OF_HEXAMINE, _HEXAMINE_PH = 34.0, 2 / 3, 8.0


def _aldehyde_and_urea(scene: Scene) -> None:
    if scene.pool.ph > _HEXAMINE_PH and len(scene.portions) > 1:
        # Salts of ammonia give theirs too slowly to grow hot.
        bound = min(scene.first.substance("formaldehyde"), scene.first.substance("ammonia") / _AMMONIA_OF_HEXAMINE)
        scene.pool.heat_kj += _HEXAMINE_KJ * bound
    made = (
        math.fsum(
            met.electrons_mol for met in scene.met if met.reductant == "alcohol" and met.oxidant != "hypochlorite"
        )
        / _ELECTRONS_OF_ALDEHYDE
    )
    if scene.setting.hours > _GOES_ON_H:
        # What is slow while somebody stands there is done in a jug.
        left = scene.pool.has("permanganate") * oxidants()["permanganate"].electrons / _ELECTRONS_OF_ALDEHYDE
        made += min(left, scene.pool.has("alcohol"))
    if made > _ALDEHYDE_MOL and scene.setting.place != "drain":
        scene.say(
            "aldehyde_made", TELLS, "the oxidiser turns alcohol to aldehyde, which stings eyes and throat, and the bath grows warm by itself", amount_of(made),
            "Keep spirit out of bleaches and their waste.", gas="acetaldehyde",
        )  # fmt: skip
    urea = min(scene.first.has("hypochlorite"), scene.first.substance("urea"))
    if urea > _UREA_MOL and scene.pool.wet and not scene.setting.closed:
        scene.say(
            "hypochlorite_urea", TELLS, "hypochlorite on urine or urea makes chloramines, which sting eyes and lungs over the bowl", amount_of(urea),
            "Rinse first, and never hypochlorite on urine or fertiliser.", gas="chloramine",
        )  # fmt: skip


def _halogens(scene: Scene) -> None:
    pool = scene.pool
    litres = pool.volume_l
    protons = pool.protons_mol_per_l
    chloride = pool.has("chloride") / litres
    hypochlorite = pool.has("hypochlorite")
    if hypochlorite > 1e-6:
        quotient = protons * max(chloride, _OWN_CHLORIDE * hypochlorite / litres)
        share = quotient / (_CHLORINE_CONSTANT + quotient) / (1 + 10 ** (pool.ph - _PK_HYPOCHLOROUS))
        # Weak acids count where they land, too.
        acid = math.fsum(max(0.0, acid_in(p, _CARBONATE_PH)) for p in scene.portions)
        # As with other weak acids: a tenth acts where it lands, in a twentieth of the liquid.
        local = min(hypochlorite, 0.1 * acid if acid > 1e-4 else 0.0)
        splash = local * leaving_share("chlorine", local, _LANDS_IN * litres, scene.setting)
        moles = max(hypochlorite * share, local)
        scene.gas(
            "hypochlorite_acid",
            "chlorine",
            moles,
            "acid on hypochlorite",
            "Never in one room: take the cleaner out before any acid is opened.",
            besides_mol=splash,
        )
        if pool.has("ammonia") > 1e-5:
            scene.gas(
                "hypochlorite_ammonia",
                "chloramine",
                min(hypochlorite, pool.has("ammonia")),
                "hypochlorite on ammonia or an ammonium salt",
                "Never in one room.",
            )
    first = scene.first
    used_hypochlorite = first.has("hypochlorite") > 1e-4
    if used_hypochlorite:
        fastest = min(first.has("hypochlorite"), first.has("ammonia"))
        if fastest > 1e-4:
            scene.gas(
                "hypochlorite_ammonia",
                "chloramine",
                _LANDING_CHLORAMINE * fastest,
                "where it lands, hypochlorite meets ammonium before anything else",
                "Never in one room.",
            )
        if fastest > _CARRIED_CHLORAMINE_MOL and scene.setting.place == "carry_over":
            scene.say(
                "hypochlorite_ammonia", TELLS, "chloramines: what is left of a hypochlorite bath meets ammonia, and they sting eyes and lungs over the tank", amount_of(fastest),
                "Rinse until nothing smells of chlorine, or clear with sulfite, before anything with ammonia.", gas="chloramine",
            )  # fmt: skip
        nitrogen = first.has("thiourea") + first.has("thiocyanate") + first.has("cyanide") + first.has("amine")
        both = min(first.has("hypochlorite"), nitrogen)
        if both > 1e-4:
            scene.gas(
                "hypochlorite_cyanogen",
                "cyanogen_chloride",
                (_CYANOGEN if first.has("cyanide") or first.has("thiocyanate") else _A_LITTLE_CYANOGEN) * both,
                "hypochlorite on thiocyanate, cyanide or thiourea",
                "Never bring them together.",
            )
        haloform = min(
            first.has("hypochlorite") / _HALOFORM_CHLORINES,
            first.has("ketone") + _HALOFORM_ALCOHOL * first.has("alcohol"),
        )
        if haloform > 1e-3:
            scene.gas(
                "haloform",
                "chloroform",
                haloform * (1.0 if first.has("ketone") > 1e-3 else _ALCOHOL_ALONE),
                "hypochlorite on acetone or alcohol",
                "Never clean a solvent up with hypochlorite.",
            )
    # Chlorine from chloride: needs both strong acid and much chloride in the cold.
    warm = scene.setting.temperature_c > _WARM_C or pool.rise_k > _WARM_K
    drive = min(1.0, protons / _FULL_DRIVE) * min(1.0, chloride / _FULL_DRIVE)
    for oxidant, share, per in _ON_CHLORIDE:
        moles = pool.has(oxidant)
        if moles <= 1e-6 or drive <= 1e-4:
            continue
        brine = chloride > _BRINE and protons > 2
        done = share * drive * (_BY_BOTH if warm and brine else _BY_ONE if warm or brine else 1)
        if oxidant in _QUICKER_IN_ACID:
            # They go the faster the more acid and salt there is, and on as long as they stand.
            untold = scene.setting.place in ("jug", "standing") and not scene.setting.hours
            stands_h = _STANDS_UNTOLD * scene.setting.released_h if untold else scene.setting.hours
            # Bottles stand long on a shelf, what runs out of them does not, nor does a drain.
            stands_h *= scene.setting.place not in ("shelf", "drain")
            done *= max(1.0, min(_STANDS_MOST, stands_h / scene.setting.released_h))
            done *= max(1.0, min(_CHLORIDE_FASTEST, protons * chloride / _CHLORIDE_PRODUCT) ** 0.5)
        if oxidant in ("dichromate", "nitrate", "persulfate", "cerium_iv", "peroxide") and not (brine or warm):
            done *= drive * _IN_THE_COLD
        if oxidant == "peroxide" and first.has("iron_iii") + first.has("manganese_ii") > _FULL_CATALYST * litres:
            done *= _TAKEN_BACK
        made = min(1.0, done) * per * min(moles, chloride * litres / (2 * per) + 1e-12)
        if scene.setting.place == "carry_over" and made > _CARRIED_CHLORINE_MOL:
            scene.say(
                f"{oxidant}_chloride", TELLS, "chlorine: what is left of the bleach meets acid and salt, and it stings eyes and lungs over the tank", amount_of(made),
                "Rinse first; take brown stain off with sulfite or citric acid, not with hydrochloric.", gas="chlorine",
            )  # fmt: skip
        scene.gas(
            f"{oxidant}_chloride",
            "chlorine",
            made,
            f"acid {oxidant.replace('_', ' ')} on chloride",
            "Use sulfuric acid or its acid salt, never hydrochloric; rinse chloride out.",
        )
    bromide = pool.has("bromide") / litres
    if bromide > _LEAST_BROMIDE and protons > _BROMIDE_ACID:
        strong = (
            pool.has("permanganate") * _ON_BROMIDE["permanganate"]
            + pool.has("dichromate") * _ON_BROMIDE["dichromate"]
            + pool.has("cerium_iv") * _ON_BROMIDE["cerium_iv"]
        )
        strong += pool.has("peroxide") * _ON_BROMIDE["peroxide"] * min(1.0, protons) + first.has("hypochlorite")
        moles = min(strong, bromide * litres / 2) * min(1.0, protons / _FULL_DRIVE) * min(1.0, bromide / 0.1)
        scene.gas("oxidised_bromide", "bromine", moles, "an acid oxidiser on bromide", "Rinse the bromide out first.")
    iodine = math.fsum(met.reductant_mol for met in scene.met if met.reductant == "iodide") / 2
    if iodine > _IODINE_TOLD_MOL:
        scene.say(
            "oxidised_iodide", TELLS, "iodine: an acid oxidiser sets it free from iodide, and it stings eyes and stains for good", amount_of(iodine),
            "Rinse between; take it away with sulfite.", gas="iodine",
        )  # fmt: skip
    if pool.has("chlorate") > 1e-3 and protons > _FULL_DRIVE:
        scene.gas("chlorate_gas", "chlorine_dioxide", 0.1 * pool.has("chlorate"), "acid on chlorate", _OPEN_AIR)
    solid = concentrated(scene, "hypochlorite", _STRONG_CHLORINE)
    fire = next((e for e in scene.found if e.mechanism == "fire_hypochlorite"), None)
    # Nobody stands beside what lights itself on a shelf, unless it takes the house along.
    if solid > _BURNING_MOL and fire and (fire.severity == KILLS or scene.setting.place != "shelf"):
        scene.gas(
            "burning_hypochlorite",
            "chlorine",
            _BURNING_CHLORINE * solid,
            "the burning pool chlorine",
            _OPEN_AIR,
            all_of_it=True,
        )


# Nitrite: the pH below which it is free, pK of nitrous acid, nitrogen dioxide of it in strong acid, in weak, and in weak for each
# mole a litre, up to the most (from memory).
_NITROUS_PH, _PK_NITROUS, _STRONG_ACID_SHARE, _WEAK_ACID_SHARE, _PER_STRENGTH, _MOST_SHARE = (
    5.5,
    3.3,
    0.66,
    0.2,
    0.5,
    0.5,
)
# What nitric acid dissolves with brown gas: metals, and sulfides as slowly as they.
_NITRIC_DISSOLVES = (
    "zinc",
    "iron",
    "copper",
    "aluminium",
    "magnesium",
    "silver",
    "lead",
    "mercury",
    "silver_sulfide",
    "iron_ii_sulfide",
)
# Nitric acid in mol/L that dissolves metal fully, that eats organic matter and that makes royal water; the organic matter told of,
# the acid that a mole of it takes, and how much of it turns brown while somebody stands there (our judgement).
_FULL_NITRIC, _EATING_NITRIC, _ORGANIC_MOL, _ACID_OF_ORGANIC, _BROWN_SHARE, _REGIA_CHLORIDES = 6, 4, 0.05, 5, 0.05, 3
# Ammonia that a copper(II) holds; thiocyanate that an oxidiser turns to hydrogen cyanide below this pH, and of one permanganate (from memory).
_COPPER_HOLDS, _OXIDISED_PH, _THIOCYANATES = 4, 4, 5 / 6
# Ammonia that lye frees from which it is told: what a hundred millilitres of rapid fixer hold; how strong it then is, and the warmth that doubles what leaves (our judgement).
_FREED_AMMONIA_MOL, _STINGING_MOL_PER_L, _AMMONIA_DOUBLES_K = 0.12, 0.2, 20.0
# So strong it takes the breath over a cup, and so little of it does (our judgement).
_BREATHLESS_MOL_PER_L, _OF_A_CUP_MOL = 1.0, 0.05
# Hours that somebody stays beside open trays, and ammonia that drives nobody out at once (our judgement).
_AN_EVENING_H, _BORNE_MOL_PER_L = 4.0, 0.5
# Solid lye boils the liquid where it lands, from a spoonful on; a tenth of it acts there, as with acid (our judgement).
_SOLID_LYE_MOL, _LANDS = 0.3, 0.1


def _nitrogen_gases(scene: Scene) -> None:
    pool, first = scene.pool, scene.first
    nitrite = pool.has("nitrite")
    if nitrite > 1e-5 and pool.ph < _NITROUS_PH:
        free = nitrite / (1 + 10 ** (pool.ph - _PK_NITROUS))
        strength = free / pool.volume_l
        share = _STRONG_ACID_SHARE if pool.ph < 1 else min(_MOST_SHARE, _WEAK_ACID_SHARE + _PER_STRENGTH * strength)
        scene.gas(
            "acid_nitrite",
            "nitrogen_dioxide",
            free * share,
            "acid on nitrite",
            "Never acid on nitrite.",
            all_of_it=pool.ph < 1,
        )
    reduced = math.fsum(met.electrons_mol for met in scene.met if met.oxidant == "nitrate")
    of_a_shelf = scene.setting.place == "shelf" and first.substance("nitric_acid") < _NITRIC_BOTTLE_MOL
    if reduced > _ORGANIC_MOL and of_a_shelf:
        scene.say(
            "nitric_reduced", HURTS, "nitric acid on a reducer smokes brown, with heat: a broken bottle of it is left and aired", amount_of(reduced),
            "Nitric acid by itself, in its own tray.", gas="nitrogen_dioxide",
        )  # fmt: skip
    elif reduced > 1e-4:
        scene.gas(
            "nitric_reduced", "nitrogen_dioxide", 0.5 * reduced, "nitric acid on a reducer", "Never bring them together.",
            all_of_it=True,
        )  # fmt: skip
    nitric = first.substance("nitric_acid") / first.volume_l
    metals = first.substance(*_NITRIC_DISSOLVES)
    if nitric > 1 and metals > 1e-3:
        moles = min(0.5 * first.substance("nitric_acid"), 2 * metals) * min(1.0, nitric / _FULL_NITRIC)
        scene.gas("nitric_metal", "nitrogen_dioxide", moles, "nitric acid on metal", _OPEN_AIR, all_of_it=True)
    organic = math.fsum(first.has(kind) for kind in _FUELS)
    if nitric > _EATING_NITRIC and organic > _ORGANIC_MOL and not of_a_shelf:
        scene.gas(
            "nitric_organic",
            "nitrogen_dioxide",
            _BROWN_SHARE * min(first.substance("nitric_acid"), _ACID_OF_ORGANIC * organic),
            "nitric acid on organic matter",
            "Never bring them together, not even to rinse a beaker.",
            all_of_it=True,
        )
    chloride = first.has("chloride") / first.volume_l
    if nitric > 2 and chloride > 1 and pool.protons_mol_per_l > 2:
        scene.gas(
            "aqua_regia",
            "chlorine",
            0.1 * min(first.substance("nitric_acid"), first.has("chloride") / _REGIA_CHLORIDES),
            "nitric acid with hydrochloric acid or salt",
            _OPEN_AIR,
            all_of_it=True,
        )
    ammonia = first.has("ammonia") - _COPPER_HOLDS * first.has("copper_ii") - 2 * first.substance("silver_chloride")
    if ammonia > 1e-4:
        free = ammonia / (1 + 10 ** (_PK_AMMONIUM - pool.ph))
        lye = math.fsum(p.has("hydroxide") for p in scene.portions if p.solid and p.at_once)
        boiled = _LANDS * min(lye, ammonia) if lye > _SOLID_LYE_MOL and first.water_l else 0.0
        scene.gas(
            "ammonia",
            "ammonia",
            free,
            "it leaves alkaline solution" if first.has("ammonia") > first.substance("ammonia") else "from its solution",
            "Open window or fan, a lid, a weaker bath.",
            besides_mol=boiled,
        )
        if scene.setting.place == "standing" and not scene.setting.closed and free / pool.volume_l < _BORNE_MOL_PER_L:
            # A weak bath that nobody flees fills the room by and by; a salt of ammonia does not.
            with scene.as_it_stands(_AN_EVENING_H):
                scene.gas(
                    "ammonia", "ammonia", min(free, first.substance("ammonia")), "it leaves an open tray all evening", "A lid, or the window open.",
                )  # fmt: skip
    ammonium = first.has("ammonia") - first.substance("ammonia")
    # Lye, silicate, soda: whatever is alkaline above it takes the acid of ammonium, as far as the balance goes.
    # Chalk does not dissolve in it.
    alkali = math.fsum(
        max(0.0, -acid_in(p, _PK_AMMONIUM))
        for p in scene.portions
        if not p.has("ammonia") and not p.moles.get("calcium_carbonate")
    )
    freed = min(ammonium / (1 + 10 ** (_PK_AMMONIUM - pool.ph)), alkali)
    # A spent developer in the jug of the fixer only smells.
    warmer = 2 ** ((scene.setting.temperature_c - _SPEEDS_AT_C) / _AMMONIA_DOUBLES_K)
    strong_mol_per_l = freed * warmer / pool.volume_l
    least = _OF_A_CUP_MOL if strong_mol_per_l > _BREATHLESS_MOL_PER_L else _FREED_AMMONIA_MOL
    stings = strong_mol_per_l > _STINGING_MOL_PER_L
    told = any(effect.mechanism == "ammonia" for effect in scene.found)
    if freed > least and stings and scene.setting.place != "shelf" and not told:
        scene.say(
            "lye_on_ammonium", 2, "ammonia: lye or soda sets it free from an ammonium salt or rapid fixer, and it stings over the vessel",
            amount_of(freed), "Rinse between, a lid, the window open; throw silver down without lye.", gas="ammonia",
        )  # fmt: skip
    both = min(first.has("thiocyanate"), first.has("permanganate") * _THIOCYANATES)
    sour = any(p.has("permanganate") and Pool((p,)).ph < _OXIDISED_PH for p in scene.portions)
    if both > _CYANIDE_DOSE_MOL and sour and len(scene.portions) > 1:
        # Where it lands the bleach is in excess, whatever sulfite waits beside.
        scene.say(
            "oxidised_thiocyanate", 2, "hydrogen cyanide: acid permanganate on thiocyanate makes it where the two meet", amount_of(both),
            "Rinse the developer out before the bleach, and keep their jugs apart.", gas="hydrogen_cyanide",
        )  # fmt: skip
    for met in scene.met:
        if met.reductant == "thiocyanate" and met.reductant_mol > _CYANIDE_DOSE_MOL and pool.ph < _OXIDISED_PH:
            scene.say(
                "oxidised_thiocyanate", 2, f"hydrogen cyanide: {met.oxidant.replace('_', ' ')} on thiocyanate makes it over the vessel",
                amount_of(met.reductant_mol), "Rinse the developer out before the bleach, and do not bend over it.", gas="hydrogen_cyanide",
            )  # fmt: skip
        if met.reductant == "thiocyanate":
            # What a slow oxidiser has not done while somebody stands there it does as long as it stands, if there is enough of it.
            enough = pool.has(met.oxidant) / max(1e-9, met.oxidant_mol / met.reductant_mol)
            left = min(pool.has("thiocyanate"), enough)
            undone = left / (left + met.reductant_mol)
            goes_on = left * (1 - undone ** (scene.setting.hours / scene.setting.released_h))
            scene.gas(
                "oxidised_thiocyanate",
                "hydrogen_cyanide",
                (met.reductant_mol + goes_on) * (0.5 if pool.ph < _OXIDISED_PH else 0.1),
                f"{met.oxidant.replace('_', ' ')} on thiocyanate",
                "Rinse the developer out before the bleach.",
            )


# Acid that dissolves metal at once, and weak acid, as the pH above which they count; strong lye (our judgement).
_STRONG_ON_METAL_PH, _WEAK_ON_METAL_PH, _SLOW_ON_METAL_PH, _STRONG_LYE_PH = 2.5, 4.5, 5.5, 12.0
# Hydrogen of a mole of each metal, the part that acid dissolves while somebody stands there (our judgement), kJ of a hydrogen (by the
# potentials, rounded); lye that an aluminium takes at the least, as hydrogen of a mole of it.
_HYDROGEN_OF = {"aluminium": 1.5, "magnesium": 1.0, "zinc": 1.0, "iron": 1.0}
_QUICK = {"aluminium": 0.5, "magnesium": 1.0, "zinc": 1.0, "iron": 0.3}
_HYDROGEN_KJ = {"aluminium": 280, "magnesium": 200, "zinc": 150, "iron": 150}
_HYDROGEN_OF_LYE = 3
# Hours in which metals dissolve in a weak acid or a fixer, and magnesium in salt water of so many mol/L (our judgement).
_DISSOLVES_H = {"zinc": 48.0, "magnesium": 48.0, "iron": 500.0}
_MAGNESIUM_IN_BRINE_H, _BRINE_ON_MAGNESIUM = 240.0, 0.1
# Hydrogen that pushes the lid off a tank, a fifth of a litre (our judgement).
_UNDER_A_LID_MOL = 0.008
# Magnesium is dissolved within the minute: told of where its hydrogen froths acid over a cup, a litre and a half (our judgement).
_FROTHS_MOL = 0.06
# Hydrogen that comes by and by in the open is told of where it is a balloon full an hour or so (our judgement).
_SLOW_HYDROGEN_MOL = 2.0
# Etchant told of, and the part of it that makes hydrogen; the pH below which a hydride gives all of its gas (our judgement).
_ETCHANT_MOL, _ETCH_HYDROGEN, _HYDRIDE_PH = 0.05, 0.3, 9
# Logarithm of the minutes in which half a borohydride is gone: pH and 1.92 less 0.034 for each kelvin (a rule that its data sheets
# print; from memory).
_HYDRIDE_PER_K, _HYDRIDE_B = 0.034, 1.92


def _metals(scene: Scene) -> None:
    first, pool = scene.first, scene.pool
    # Weak acids dissolve zinc and its like too, only slower, and the slower the thinner they are.
    strong, weak = max(0.0, pool.acid_above(_STRONG_ON_METAL_PH)), max(0.0, pool.acid_above(_WEAK_ON_METAL_PH))
    acid = max(strong, 0.5 * weak * min(1.0, weak / pool.volume_l))
    lye = max(0.0, -pool.acid_above(_STRONG_LYE_PH))
    # Soda and weak lye dissolve aluminium too, within days.
    days = min(1.0, scene.setting.hours / _SODA_EATS_H)
    lye = max(lye, _SODA_EATS * days * max(0.0, -pool.acid_above(_SODA_PH)))
    hydrogen = slow = 0.0
    for key, per in _HYDROGEN_OF.items():
        n = first.substance(key)
        if not n:
            continue
        quick = _QUICK[key]
        iron_iii = min(first.has("iron_iii") + 2 * first.has("copper_ii"), 2 * per * n)
        made = min(per * n, (max(0.0, pool.acid_above(_SLOW_ON_METAL_PH)) if key == "magnesium" else acid) / 2) * quick
        if key == "aluminium":
            made = max(made, min(per * n, _HYDROGEN_OF_LYE * lye))
        if key == "zinc":
            made = max(
                made,
                min(per * n, lye)
                * max(_ZINC_IN_HOT_LYE if scene.setting.temperature_c > _WARM_LYE_C else _ZINC_IN_LYE, days),
            )
        if iron_iii > _ETCHANT_MOL:
            # Heat of each Fe(III) that takes the metal, by the potentials.
            scene.pool.heat_kj += _ETCH_KJ[key] * iron_iii
            if key != "iron":
                made = max(made, _ETCH_HYDROGEN * min(per * n, iron_iii))
        hydrogen += made
        scene.pool.heat_kj += made * _HYDROGEN_KJ[key]
        # Left in a weak acid or a fixer they go on dissolving, too slowly to grow warm: zinc for days, steel wool for weeks; and magnesium
        # in salt water.
        most = min(per * n, 0.5 * max(0.0, pool.acid_above(_SLOW_ON_METAL_PH)))
        goes_on = most * min(1.0, scene.setting.hours / _DISSOLVES_H.get(key, math.inf))
        if key == "magnesium" and first.has("chloride") / first.volume_l > _BRINE_ON_MAGNESIUM:
            goes_on = max(goes_on, n * min(1.0, scene.setting.hours / _MAGNESIUM_IN_BRINE_H))
        slow += max(0.0, goes_on - made)
    if first.has("hydride") > 0.01 and (pool.ph < _HYDRIDE_PH or first.water_l > 0):
        half_h = 10 ** (pool.ph + _HYDRIDE_B - _HYDRIDE_PER_K * (KELVIN + scene.setting.temperature_c)) / _MINUTES_PER_H
        stood = -math.expm1(
            -math.log(2) * (scene.setting.hours if scene.setting.closed else scene.setting.released_h) / half_h
        )
        hydrogen += first.has("hydride") * (1.0 if pool.ph < _HYDRIDE_PH else max(0.1, stood))
    if scene.setting.place == "carry_over" and hydrogen > _UNDER_A_LID_MOL:
        scene.say(
            "gas_in_tank", TELLS, "hydrogen comes within seconds: it pushes the lid off the tank and throws what is in it",
            f"about {hydrogen * MOLAR_LITRES:.1g} L", "Rinse between, and leave the lid off until nothing rises any more.",
        )  # fmt: skip
    why, do = "acid, lye or etchant on metal", "Plastic and glass only; no flame."
    scene.gas(
        "metal",
        "hydrogen",
        hydrogen,
        why,
        do,
        all_of_it=True,
        told_from=_FROTHS_MOL if first.substance("magnesium") else BURNS_MOL,
    )
    with scene.as_it_stands():
        scene.gas("metal", "hydrogen", slow, why, do, all_of_it=True, told_from=_SLOW_HYDROGEN_MOL)


# Copper, silver or brass in acid peroxide goes into solution: moles of metal, peroxide and half the acid above this pH from which it is told, and
# kJ of each (by the potentials: 1.4 V and two electrons, rounded).
_COPPER_MOL, _COPPER_ACID_PH, _COPPER_KJ = 0.05, 4.0, 270.0


def _copper_in_peroxide(scene: Scene) -> None:
    """Peroxide with acid etches what acid alone leaves: copper, brass, silver."""
    pool = scene.pool
    eaten = min(
        scene.first.substance("copper", "silver"),
        pool.has("peroxide"),
        0.5 * max(0.0, pool.acid_above(_COPPER_ACID_PH)),
    )
    if eaten > _COPPER_MOL and scene.setting.place not in ("shelf", "carry_over"):
        pool.heat_kj += _COPPER_KJ * eaten
        scene.say(
            "copper_in_peroxide", TELLS, "acid peroxide dissolves copper, brass and silver: it grows warm, foams with oxygen, and what is closed bursts",
            amount_of(eaten), "Plastic or glass only; open, and no metal in it.",
        )  # fmt: skip


# pK of carbonic acid (from memory); litres of foam worth a word, of crystals that give it all where they land, and the acid that sprays: its pH, and what counts of it (our
# judgement).
_PK_CARBONIC, _FOAM_L, _CRYSTALS_FOAM_L, _BITES_PH, _BITES_ABOVE_PH = 6.35, 6, 4, 1.5, 4.0
# Litres of carbon dioxide that foam out of the neck of a bottle and of a jug (our judgement).
_NECK_FOAM_L, _JUG_FOAM_L = 3, 10
# Acid a litre from which a strong acid bites, and a weak one, such as essence of vinegar; carbon dioxide of a mole of acid on crystals,
# half of what it could be; how many times stronger it must be to bite through the water of a trap (our judgement).
_LANDS_ON_CRYSTALS, _THINS = 0.25, 2.0
_BITES_MOL_PER_L, _CONCENTRATED_MOL_PER_L, _FOAMS_IN = 0.8, 2.0, ("mixing", "jug", "carry_over", "shelf", "drain")
# What makes peroxide fall apart, and how much of each counts: ions all, manganese the most, a metal where it lies bare, rust and charcoal at their faces (our judgement).
_CATALYSTS = dict.fromkeys(
    ("iron_iii", "iron_ii", "copper_ii", "manganese_ii", "silver", "iodide", "dichromate"), 1.0
) | {
    "permanganate": 3.0,
    "manganese_dioxide": 3.0,
    "metal": 0.1,
}
# Rust and charcoal, of which only the face counts (our judgement).
_RUST_CATALYSES = 0.2
# Peroxide on metal ions: share an hour at most, the ions in mol/L that reach it, the pH above which it falls apart by itself, and
# so much an hour (our judgement); kJ of a mole (from memory).
_CATALYSED_PER_H, _FULL_CATALYST, _PEROXIDE_PH, _ALKALINE_PER_H, _PEROXIDE_KJ = 4, 0.02, 8.5, 0.15, 98
# Shares by mass of peroxide that runs away, and that foams; litres of oxygen and the part at once from which it is told, and litres that foam
# up from an oxidiser, loudly and at all, and how many times what it foams in (our judgement).
_RUNS_AWAY, _FOAMS, _OXYGEN_L, _AT_ONCE, _BURST_L, _FROTH_L, _FROTH_TIMES = 0.08, 0.05, 2, 0.3, 5, 1.5, 3
# The same of peroxide that warms itself in a jug: eighteen kelvins where all of it falls apart (computed from its heat).
_WARMS = 0.025
# No manganese dioxide stays in peroxide below this pH (from memory).
_BROWN_PH = 3.0


def _biting_mol_per_l(portion: Portion) -> float:
    """Acid of a litre of a liquid that its froth throws into a face: a strong acid, or a weak one that is concentrated; else 0."""
    weak = Pool((portion,)).ph >= _BITES_PH
    acid = 0.0 if portion.solid else acid_in(portion, _CARBONATE_PH if weak else _BITES_ABOVE_PH)
    strength = 1000 * acid / portion.volume_ml if acid > 0.1 else 0.0
    return strength if strength > (_CONCENTRATED_MOL_PER_L if weak else _BITES_MOL_PER_L) else 0.0


_WORN = regex(r"\b(spent|used|old|exhausted|waste)\b")


def _worn(portion: Portion) -> Portion:
    """A used developer at its worst: no sulfite is left in it."""
    kept = {key: n for key, n in portion.moles.items() if key != "sodium_sulfite"}
    worn = portion.has("developer") and _WORN.search(portion.name.lower())
    return replace(portion, moles=kept) if worn else portion


def _carbonate_and_oxygen(scene: Scene) -> None:
    pool, first, setting = scene.pool, scene.first, scene.setting
    carbonate = first.has("carbonate")
    if carbonate > 1e-3:
        free = carbonate / (1 + 10 ** (pool.ph - _PK_CARBONIC))
        acid = math.fsum(max(0.0, acid_in(p, _CARBONATE_PH)) for p in scene.portions)
        # Acid crystals bite as soon as they lie in the water that is there.
        water_ml = math.fsum(p.water_ml for p in scene.portions if p.water_ml == p.grams)
        there = [replace(p, water_ml=water_ml) if p.solid else p for p in scene.portions]
        strength = max((_biting_mol_per_l(p) for p in there), default=0.0)
        litres = MOLAR_LITRES * min(free, max(0.0, acid))
        crystals = math.fsum(p.has("carbonate") for p in scene.portions if p.solid)
        spooned = crystals > 0.5 * carbonate
        # The trap of a drain thins what is no stronger than a bath; strong acid on crystals meets them before.
        on_crystals = spooned and any(not p.solid and Pool((p,)).ph < _BITES_PH for p in scene.portions)
        thins = 1.0 if on_crystals else _THINS
        least = thins * _CONCENTRATED_MOL_PER_L if setting.place == "drain" else 0.0
        if strength > _CONCENTRATED_MOL_PER_L:
            # On crystals of soda the acid is in excess where it lands, however much lies below.
            litres = max(litres, MOLAR_LITRES * min(crystals, _LANDS_ON_CRYSTALS * acid))
        at_once = all(p.at_once for p in scene.portions) and not setting.closed and setting.place in _FOAMS_IN
        necked = setting.narrow or (setting.place == "jug" and spooned)
        if litres > (_NECK_FOAM_L if setting.narrow else _JUG_FOAM_L) and strength <= least and at_once and necked:
            scene.say(
                "foam", TELLS, "carbon dioxide foams up and out of the neck, over hands and table", f"about {litres:.0f} L",
                "Little by little, in a wide open bucket, goggles on.",
            )  # fmt: skip
        if litres > (_CRYSTALS_FOAM_L if spooned else _FOAM_L) and strength > least and at_once:
            scene.say(
                "foam",
                2,
                "carbon dioxide foams over and sprays acid",
                f"about {litres:.0f} L",
                "Little by little, in a wide open bucket, goggles on.",
            )
        if setting.closed:
            # The air has taken the sulfite of a used developer, and with it what would have taken the acid.
            worn = Pool(tuple(_worn(p) for p in scene.portions))
            free = max(free, carbonate / (1 + 10 ** (worn.ph - _PK_CARBONIC)))
        scene.gas(
            "carbonate",
            "carbon_dioxide",
            max(free, min(carbonate, (_LANDS_ON_CRYSTALS if spooned and setting.closed else 0.1) * acid)),
            "acid on carbonate",
            "Open vessel, little by little.",
        )
    froth_l = MOLAR_LITRES * math.fsum(
        met.electrons_mol for met in scene.met if (met.oxidant, met.reductant) == ("permanganate", "oxalate")
    )  # one carbon dioxide for each electron of oxalate
    if froth_l > _FOAM_L and all(p.at_once for p in scene.portions):
        scene.say(
            "froth", TELLS, "permanganate on oxalic acid waits, then froths up all at once, hot, over the rim", f"about {froth_l:.0f} L of carbon dioxide",
            "Little by little, thin and cold, in a wide open bucket that is mostly empty.",
        )  # fmt: skip
    hypochlorite, litres = pool.has("hypochlorite"), max(1e-3, pool.volume_l)
    if hypochlorite > 1e-3:
        # Iron, copper, nickel and their rust make hypochlorite fall apart into salt and oxygen (from memory).
        metals = first.has("iron_iii") + first.has("iron_ii") + first.has("copper_ii")
        metals = (metals + _RUSTS * first.has("metal")) / litres
        rate = _IRON_ON_HYPOCHLORITE_PER_H * min(1.0, metals / 0.01)
        scene.gas(
            "hypochlorite_metals", "oxygen", 0.5 * hypochlorite * -math.expm1(-rate * max(1.0, setting.hours)),
            "metal ions break hypochlorite", "Open vessel.",
        )  # fmt: skip
    permanganate = pool.has("permanganate")
    if permanganate > 1e-3 and pool.ph < _DECAY_PH:
        scene.gas(
            "permanganate_decays", "oxygen", _OXYGEN_OF_PERMANGANATE * permanganate * -math.expm1(-_PERMANGANATE_PER_H * setting.hours),
            "acid permanganate falls apart", "Mix it fresh; open vessel.",
        )  # fmt: skip
    oxygen = math.fsum(
        met.reductant_mol for met in scene.met if met.reductant == "peroxide"
    )  # one O2 for each peroxide that gives its electrons
    peroxide = pool.has("peroxide")
    if peroxide > 1e-3:
        catalyst = math.fsum(part * first.has(entity) for entity, part in _CATALYSTS.items())
        catalyst += _RUST_CATALYSES * first.substance("iron_hydroxide", "charcoal")
        catalyst /= first.volume_l
        hours = max(setting.hours, setting.released_h, 1.0 if setting.closed else 0.0)
        rate_per_h = (
            _CATALYSED_PER_H
            * min(1.0, catalyst / _FULL_CATALYST)
            * min(1.0, max(0.1, pool.has("peroxide") / pool.volume_l))
        )
        if pool.ph > _PEROXIDE_PH:
            rate_per_h += _ALKALINE_PER_H
        # By itself about one per cent a month, peracetic acid some.
        rate_per_h += _PEROXIDE_PER_H * (_PERACETIC_TIMES if first.substance("peracetic_acid") else 1)
        # Every ten degrees double it, roughly.
        rate_per_h *= 2 ** ((setting.temperature_c - _SPEEDS_AT_C) / 10)
        share = -math.expm1(-rate_per_h * hours)
        oxygen += 0.5 * peroxide * share
        strength = peroxide * _PEROXIDE_G / max(1.0, first.grams)
        quick = -math.expm1(-rate_per_h * (1.0 if strength > _RUNS_AWAY else 0.1))
        # Manganese dioxide, and permanganate that turns to it where no acid keeps it dissolved, do it within seconds.
        brown = first.has("manganese_dioxide") + first.has("permanganate")
        if pool.ph > _BROWN_PH and brown / first.volume_l > _FULL_CATALYST:
            quick = 1.0
        scene.pool.heat_kj += _PEROXIDE_KJ * peroxide * quick
        litres = 0.5 * peroxide * quick * MOLAR_LITRES
        hour_l = 0.5 * peroxide * -math.expm1(-rate_per_h) * MOLAR_LITRES
        if strength > _FOAMS and litres > _OXYGEN_L and quick > _AT_ONCE:
            scene.say(
                "peroxide_catalysed",
                HURTS,
                "peroxide falls apart on metal ions: it foams over, hot, and sprays",
                f"{litres:.0f} L of oxygen, {_PEROXIDE_KJ * peroxide * quick:.0f} kJ",
                "No metal, rust, permanganate or alkali near strong peroxide.",
            )
        elif setting.place == "jug" and strength > _WARMS and hour_l > _BURST_L:
            scene.say(
                "peroxide_catalysed", TELLS, "peroxide falls apart on metal ions, slowly at first: within the hour it is hot and foams", f"{hour_l:.0f} L of oxygen",
                "Each into a jug of its own; what is mixed already stands open, in a wide bucket with much water.",
            )  # fmt: skip
    fizz = math.fsum(m.reductant_mol for m in scene.met if m.reductant == "peroxide") * MOLAR_LITRES
    quick = any(m.oxidant in ("hypochlorite", "permanganate") and m.reductant == "peroxide" for m in scene.met)
    times = 1.0 if setting.place == "jug" else _FROTH_TIMES
    if quick and fizz > _FROTH_L and fizz > times * pool.volume_l:
        scene.say(
            "oxygen_burst",
            HURTS if fizz > _BURST_L else TELLS,
            "oxygen foams up within seconds and sprays",
            f"about {fizz:.0f} L",
            "Little by little, thin, in a wide open bucket.",
        )
    scene.gas("oxygen", "oxygen", oxygen, "peroxide falls apart", "Open vessel.")


# Metres a second that a vapour leaves a surface at (as vapour.transfer has it, a little less in still air); gas constant, and the
# temperature in kelvins that a room is reckoned at (our judgement).
_VAPOUR_M_PER_S, _GAS_CONSTANT, _ROOM_K = 0.0025, 8.314, 293
# Hydrochloric acid: share by mass from which it fumes; its pressure over 31 % and how its logarithm grows by per cent (from memory);
# the part of its fumes that stays air, most becomes mist.
_FUMING_ACID, _STANDARD_PA, _LOG_AT_31, _PERCENT_OF_IT, _LOG_PER_PERCENT, _STAYS_AIR = (
    0.15,
    101325,
    -1.52,
    31,
    0.13,
    0.25,
)
# Sulfuric acid, strongest portion and whole, that drives hydrogen chloride out of salt (our judgement).
_DRIVING_PORTION, _DRIVING_WHOLE = 0.6, 0.3
# Weak acids whose vapour stings: share by mass told of, grams on a mole, pressure of the pure acid at 20 C (handbook values, from memory).
_WEAK_BUT_STINGS = (
    ("acetic_acid", 0.06, 60, 1560, "vinegar essence"),
    ("formic_acid", 0.3, 46, 4300, "formic acid"),
)
# Below this pH they are acids still and no salts; grams on a mole of water.
_ESSENCE_PH, _WATER_G = 5, 18
# Formalin: pressure of 37 % of it at 20 C, that share, and how many times more when hot; hours of a night (our judgement).
_FORMALIN_PA, _FORMALIN, _HOT_FORMALIN, _A_NIGHT_H = 172, 0.37, 40.0, 10.0
# Formalin that is poured: share by mass that counts as strong, a spoonful or two of it, and a spoonful left in a vessel (our judgement).
_STRONG_FORMALIN, _POURED_MOL, _LEFT_MOL = 0.2, 0.2, 0.1
# Hydrochloric acid that fumes while it is poured, share by mass, and a cup of it (our judgement).
_FUMES_POURED, _POURED_ACID_MOL = 0.25, 2.0
# Hydrochloric acid that makes a trace of the ether from formalin, share by mass (our judgement); pressure of bromine at 20 C.
_ETHER_ACID, _BROMINE_PA = 0.03, 23000
# Part of the chloride of iron and tin that leaves in an hour of boiling down, and the pH above which it stays (our judgement).
_SPLIT_OFF, _STAYS_PH = 0.05, 3
_SPLITS = (*_HYDROLYSED, "iron_iii_chloride_hexahydrate", "stannous_chloride_dihydrate")
# Air that would burn of what has left a spill beside a flame, a flash that burns whoever stands in it; half as much of what burns in the cold too,
# for all of its cloud does (our judgement).
_FLASH_M3, _LIGHT_FLASH_M3, _BURNS_IN_THE_COLD_C = 0.3, 0.15, 0.0
# Solvents: moles and share by mass told of; parts of the lower explosive limit as the mean of the room, beside a flame and without.
_SOLVENT_MOL, _SOLVENT_SHARE, _WITH_FLAME, _HALF_WAY, _A_FIFTH = 0.05, 0.3, 0.15, 0.5, 0.2
# A solvent that lights at room temperature, beside a flame: two spoons of spirit (our judgement).
_LIT_FROM_MOL = 0.4
# A light solvent cools as it leaves, and so much less of it leaves; where it lies it is so many times the mean (our judgement).
_COOLS_ITSELF, _LIES_LOW = 0.3, 2.0
# A cloth that is wet with it: it spreads it as thin as a wiped table, mL/m2, and takes its warmth from the air (our judgement).
_ON_A_CLOTH, _CLOTH_ML_PER_M2 = regex(r"\b(rag|cloth|wipe|towel|tissue|cotton wool|swab|duster|sponge|pad)s?\b"), 100.0


# Square metres that a litre of a solvent in an open tray has, half a centimetre deep; of what is spilt it is a square metre.
_IN_A_TRAY = 0.2


def _thin_m2(portions: tuple[Portion, ...], key: str) -> float:
    """Square metres over which cloths spread a liquid."""
    cloths = [p for p in portions if p.moles.get(key) and _ON_A_CLOTH.search(p.name.lower())]
    return math.fsum(p.volume_ml for p in cloths) / _CLOTH_ML_PER_M2


# A film that comes out of spirit, or of another solvent that lights at room temperature, and is dried over a heater: two teaspoons (our judgement).
_CLINGS_MOL = 0.1


def _dries_by_a_flame(scene: Scene) -> None:
    """What clings to a film that is hung to dry evaporates all of it within minutes."""
    setting, [clings, *_] = scene.setting, scene.portions
    if setting.place != "carry_over" or not (setting.flame or setting.temperature_c > _HOT_C):
        return
    lights = math.fsum(
        clings.moles.get(key, 0.0)
        for key, known in volatiles().items()
        if known.flash_c < setting.room.temperature_c and clings.share_of(key) > _SOLVENT_SHARE
    )
    if lights > _CLINGS_MOL:
        scene.say(
            "dries_by_a_flame", HURTS, "what clings to the film evaporates within minutes and flashes at a flame or a glowing wire: burnt hands and face, and the film burns", amount_of(lights),
            "Hang it up where nothing glows; no heater and no dryer until it no longer smells.",
        )  # fmt: skip


def _vapours(scene: Scene) -> None:
    """What leaves strong liquids by itself: acids, formaldehyde, solvents."""
    setting, pool = scene.setting, scene.first
    per_pa = _VAPOUR_M_PER_S * setting.surface_m2 * 60 * setting.breathing_min / (_GAS_CONSTANT * _ROOM_K)
    fill = pool.grams
    if setting.closed or not fill:
        return
    hydrogen_chloride = pool.share_of("hydrochloric_acid")
    if hydrogen_chloride > _FUMING_ACID and pool.ph < 0:
        pressure = _STANDARD_PA * 10 ** (_LOG_AT_31 + (100 * hydrogen_chloride - _PERCENT_OF_IT) * _LOG_PER_PERCENT)
        moles = min(0.5 * pool.substance("hydrochloric_acid"), _STAYS_AIR * per_pa * pressure)
        scene.gas(
            "acid_fumes",
            "hydrogen_chloride",
            moles,
            "fumes of strong acid",
            "Lid on, fan, weaker acid.",
            all_of_it=True,
        )
    fuming = max((p for p in scene.portions), key=lambda p: p.share_of("hydrochloric_acid"))
    poured_acid = (
        fuming.share_of("hydrochloric_acid") > _FUMES_POURED and fuming.moles["hydrochloric_acid"] > _POURED_ACID_MOL
    )
    if poured_acid and setting.place in ("mixing", "jug") and len(scene.portions) > 1:
        scene.say(
            "acid_poured", TELLS, "strong hydrochloric acid fumes while it is poured: it stings eyes, nose and throat, and rusts what is of iron near it",
            amount_of(fuming.moles["hydrochloric_acid"]), "Window open, goggles and gloves; the acid into much cold water, outdoors if it can be.", gas="hydrogen_chloride",
        )  # fmt: skip
    strongest = max(p.share_of("sulfuric_acid") for p in scene.portions)
    if strongest > _DRIVING_PORTION and pool.share_of("sulfuric_acid") > _DRIVING_WHOLE and pool.has("chloride") > 0.01:
        driven = 0.5 * min(pool.has("chloride"), 2 * pool.substance("sulfuric_acid"))
        scene.gas(
            "driven_chloride", "hydrogen_chloride", driven, "strong sulfuric acid drives it out of salt", _OPEN_AIR, all_of_it=True
        )  # fmt: skip
    if setting.temperature_c >= _BOILS_C and pool.ph < _STAYS_PH and pool.substance(*_SPLITS):
        scene.gas(
            "boiled_chloride", "hydrogen_chloride", _SPLIT_OFF * min(1.0, max(setting.hours, setting.released_h)) * pool.has("chloride"),
            "boiling splits it off from iron or tin chloride", _OPEN_AIR, all_of_it=True,
        )  # fmt: skip
    for acid, told_above, mole_g, pure_pa, called in _WEAK_BUT_STINGS:
        part = pool.share_of(acid) if pool.ph < _ESSENCE_PH else 0.0
        if part > told_above:
            share = part / mole_g / (part / mole_g + (1 - part) / _WATER_G)
            scene.gas(
                "acid_fumes", acid, min(0.5 * pool.substance(acid), per_pa * pure_pa * share),
                f"vapour of strong {called}", "Lid on, fan, weaker acid.", all_of_it=True,
            )  # fmt: skip
    strong = math.fsum(
        p.moles.get("formaldehyde", 0.0) for p in scene.portions if p.share_of("formaldehyde") > _STRONG_FORMALIN
    )
    poured = strong > _POURED_MOL and setting.place in ("mixing", "jug")
    left = strong > _LEFT_MOL and setting.place == "carry_over"
    if (poured or left) and len(scene.portions) > 1:
        scene.say(
            "formaldehyde_poured", TELLS, "strong formalin stings eyes, nose and throat while it is poured, and may cause cancer", amount_of(strong),
            "Window open, gloves and goggles; measure it outdoors.", gas="formaldehyde",
        )  # fmt: skip
    aldehyde = pool.share_of("formaldehyde")
    if aldehyde > 0.001:
        hot = _HOT_FORMALIN if scene.hot else 1.0
        # What stands open overnight goes on all night.
        longer = max(1.0, min(setting.hours, _A_NIGHT_H) / setting.released_h) if setting.place == "standing" else 1.0
        scene.setting = replace(setting, breathing_min=longer * setting.breathing_min)
        scene.gas(
            "formaldehyde", "formaldehyde", min(0.5 * pool.substance("formaldehyde"), longer * hot * per_pa * _FORMALIN_PA * aldehyde / _FORMALIN),
            "vapour of formalin", "Fan, lid, gloves; suspected and known to cause cancer.", all_of_it=True,
        )  # fmt: skip
        scene.setting = setting
        if hydrogen_chloride > _ETHER_ACID and pool.ph < 1:
            scene.say(
                "chloromethyl_ether", 2, "a trace of bis(chloromethyl) ether, which causes cancer, with the fumes",
                "parts per billion", "Never formalin with hydrochloric acid.",
            )  # fmt: skip
    iodine = pool.substance("bromine")
    if iodine > 1e-4:
        scene.gas(
            "bromine_vapour",
            "bromine",
            min(iodine, per_pa * _BROMINE_PA),
            "vapour of bromine",
            _OPEN_AIR,
            all_of_it=True,
        )
    for key, heavy in narcotics().items():
        n, share = pool.substance(key), pool.share_of(key)
        # On a shelf it stands in its bottle.
        if n < _SOLVENT_MOL or share < _SOLVENT_SHARE or setting.place == "shelf":
            continue
        thin = _thin_m2(scene.portions, key)
        leaves = min(n, _COOLS_ITSELF * per_pa * share * heavy.vapour_pa * max(1.0, thin / setting.surface_m2))
        # Who strips or cleans with it bends down into it, and it fills a tub and a small room from the floor up.
        if _LIES_LOW * room_ppm(leaves, setting) >= gases()[key].lethal_ppm:
            scene.say(
                key, KILLS, f"the heavy vapour of {gases()[key].name} fills the room from the floor up: it stupefies and then kills whoever bends over it, and {heavy.harm}",
                f"about {ppm_words(room_ppm(leaves, setting))} as the mean of the room, and more where it lies", "Not indoors, least of all in a bathroom; out, and the door open.",
                gas=key,
            )  # fmt: skip
        scene.gas(
            key, key, leaves, f"its heavy vapour stupefies before one notices, and {heavy.harm}",
            "Not indoors; no glove of the house holds it back.", all_of_it=True,
        )  # fmt: skip
        if leaves > _SOLVENT_MOL and pool.has("chlorinated") and (setting.flame or setting.temperature_c > _HOT_C):
            scene.say(
                "phosgene", HURTS, "beside a flame or glowing metal the vapour of a chlorinated solvent turns to hydrogen chloride and phosgene",
                amount_of(leaves), "Out with flames, heaters and cigarettes.",
            )  # fmt: skip
    for key, known in volatiles().items():
        n = pool.substance(key)
        share = pool.share_of(key)
        if n < _SOLVENT_MOL or share < _SOLVENT_SHARE:
            continue
        thin = _thin_m2(scene.portions, key)
        deep = _IN_A_TRAY if setting.place == "standing" and not setting.spilt else 1.0
        spread = replace(setting, surface_m2=max(setting.surface_m2, deep * min(1.0, pool.volume_l), thin))
        # What water thins gives the less vapour.
        moles = min(n, per_pa * share * known.vapour_pa * spread.surface_m2 / setting.surface_m2)
        part = room_ppm(moles, setting) / 1e6 / known.lower_explosive
        # The vapour lies on the floor: there it is several times the mean, and so much air of it burns.
        near_m3 = moles * MOLAR_LITRES / 1000 / known.lower_explosive
        flash_m3 = _LIGHT_FLASH_M3 if known.flash_c < _BURNS_IN_THE_COLD_C else _FLASH_M3
        severity = (
            KILLS
            if part > _WITH_FLAME and setting.flame and near_m3 > flash_m3
            else HURTS
            if part > _HALF_WAY or (setting.flame and near_m3 > flash_m3 and known.flash_c < setting.room.temperature_c)
            else 2
            if part > _A_FIFTH
            else 1
        )
        if (
            severity < TELLS
            and setting.flame
            and not setting.closed
            and known.flash_c < setting.room.temperature_c
            and n > _LIT_FROM_MOL
        ):
            scene.say(
                "solvent_by_a_flame", TELLS, "it lights at room temperature: a flame beside the open vessel flashes back into it", amount_of(n),
                "No flame, no glowing wire in the room; a lid on.",
            )  # fmt: skip
        dizzy_ppm = room_ppm(moles, setting)
        if severity < TELLS and setting.place != "shelf" and dizzy_ppm >= known.dizzy_ppm:
            scene.say(
                "solvent_dizzy", TELLS, "its vapour makes dizzy and sick in a small room, long before it burns",
                f"about {ppm_words(dizzy_ppm)} as the mean of the room", "Window open; rags and papers with it outdoors.",
            )  # fmt: skip
        scene.say(
            "solvent_vapour",
            severity,
            "its vapour burns and creeps along the floor to any flame or spark",
            f"about {100 * part:.0f} % of the lower explosive limit as the mean of the room",
            "Out with flames and heaters, window open, no switch.",
        )


_WET: tuple[Callable[[Scene], None], ...] = (
    _metals,
    _copper_in_peroxide,
    _carbonate_and_oxygen,
    _toxic_from_salts,
    _sulfur_gases,
    _halogens,
    _aldehyde_and_urea,
    _nitrogen_gases,
    _vapours,
    _dries_by_a_flame,
)


# Share of all the gas from which acetylene decides how bad a burst is (our judgement).
_ACETYLENE_SHARE = 0.2


# mL of air over a litre in a closed vessel where nobody says; bar of an atmosphere.
_AIR_ML_PER_L, _BAR = 200, 1.013
# A gas of which so little kills counts as poison, from so many moles on.
_POISON_PPM, _POISON_MOL = 300, 0.01
# Bar over the air outside: what a cap holds, what no bottle holds, what throws glass like a grenade, what kills with scalding liquid, strong
# lye or poison; the warming that scalds, and the lye of a tenth by weight as pH; lids that fly off before anything bursts (our judgement;
# the rest is record ``hazard.refused.burst_litres``).
_CAP_BAR, _NO_BOTTLE_BAR, _SHRAPNEL_BAR, _BURSTS_BAR, _SCALDS_K, _LYE_BURST_PH = 1.5, 20, 60, 3, 55, 14.5
# A burst is refused for what it throws, and not for splitting a bottle: poison, acetylene, splinters, much gas, and these, as pH, warming in
# kelvins and litres of gas: strong acid that is hot, all of it boiling, hot liquid with much gas behind it (our judgement).
_EATS_BELOW_PH, _ALL_BOILS_K, _MUCH_GAS_L = -0.5, 110, 20
_LIDS = ("carry_over", "damp")
# Bar that lifts the lid of a tank, which no thread holds (our judgement).
_LID_BAR = 0.7
# A burning gas as a part of the air under the lid, and moles of it, that pop at a flame (our judgement).
_POPS, _POPS_MOL = 0.04, 0.01


def _throws(scene: Scene, bar: float, gas_l: float, *, toxic: bool) -> bool:
    """Whether what bursts kills or maims, and not only splits and sprays."""
    pool = scene.pool
    # Acetylene falls apart with a bang above about 1.5 bar, air or none (from memory).
    acetylene = scene.gas_mol.get("acetylene", 0.0) > _ACETYLENE_SHARE * math.fsum(scene.gas_mol.values())
    if bar > _BURSTS_BAR and (acetylene or toxic):
        return True
    if scene.setting.place in _LIDS:
        return False
    # Dry ice goes on making gas while the bottle swells.
    grenade = gas_l > number("hazard.refused.burst_litres") or pool.has("solid_carbon_dioxide")
    if bar > _NO_BOTTLE_BAR and (grenade or (scene.setting.glass and bar > _SHRAPNEL_BAR)):
        return True
    # What is thrown: boiling lye or acid that blinds and eats, or all of it boiling over at once.
    scalds = pool.rise_k > _SCALDS_K
    eats = pool.wet and (pool.ph > _LYE_BURST_PH or (scalds and pool.ph < _EATS_BELOW_PH))
    boils_over = pool.rise_k > _ALL_BOILS_K or (scalds and gas_l > _MUCH_GAS_L and bar > _SHRAPNEL_BAR)
    return bar > _BURSTS_BAR and (eats or boils_over)


def _pressure(scene: Scene) -> None:
    setting = scene.setting
    if not setting.closed:
        return
    headspace_l = (setting.headspace_ml or max(LEAST_AIR_ML, _AIR_ML_PER_L * scene.pool.volume_l)) / 1000
    free = 0.0
    for gas, moles in scene.gas_mol.items():
        # What water holds at the pressure that is reached stays in it.
        ratio = gases()[gas].air_over_water
        # Dry ice bursts it before the water has taken any.
        held_l = (
            0.0 if gas == "carbon_dioxide" and scene.first.has("solid_carbon_dioxide") else scene.pool.volume_l / ratio
        )
        free += moles * headspace_l / (headspace_l + held_l)
    if scene.gas_mol.get("oxygen") or scene.gas_mol.get("hydrogen"):
        free = max(free, scene.gas_mol.get("oxygen", 0.0) + scene.gas_mol.get("hydrogen", 0.0))
    bar = free * MOLAR_LITRES / headspace_l * _BAR
    # What a bath of acid drives out of crystals of soda presses on the cap before the water takes it back.
    soda = any(p.solid and p.has("carbonate") for p in scene.portions)
    bath = any(not p.solid and acid_in(p, _CARBONATE_PH) > 0 for p in scene.portions)
    at_first = scene.gas_mol.get("carbon_dioxide", 0.0) * MOLAR_LITRES / headspace_l * _BAR if soda and bath else 0.0
    poison = math.fsum(n for g, n in scene.gas_mol.items() if gases()[g].lethal_ppm < _POISON_PPM)
    toxic = poison > _POISON_MOL and poison > 0.5 * math.fsum(scene.gas_mol.values())
    burns = any(e.mechanism.startswith("fire") for e in scene.found)
    if burns:
        bar = max(bar, _NO_BOTTLE_BAR)
    bursts = burns or _throws(scene, bar, free * MOLAR_LITRES, toxic=toxic)
    severity = 1 if max(bar, at_first) < _CAP_BAR else KILLS if bursts else HURTS
    if severity < TELLS and setting.place == "carry_over" and bar > _LID_BAR:
        scene.say(
            "spurts", TELLS, "gas under the lid of the tank: it lifts the lid, and what is in it spurts", f"about {bar:.1g} bar over the air outside",
            "Rinse between, and let the first gas out before the lid is on.",
        )  # fmt: skip
    burning = scene.gas_mol.get("hydrogen", 0.0) + scene.gas_mol.get("acetylene", 0.0)
    if severity < TELLS and burning > _POPS_MOL and burning * MOLAR_LITRES > _POPS * headspace_l:
        scene.say(
            "pops", TELLS, "a gas that burns has gathered under the lid: it pops or explodes when somebody opens it near a flame or spark",
            amount_of(burning), "Open it outdoors, away from every flame and switch; leave the lid off.",
        )  # fmt: skip
    scene.say(
        "pressure",
        severity,
        "gas in a closed vessel: it bursts and throws what it holds",
        f"about {max(bar, min(at_first, _BURSTS_BAR)):.0f} bar over the air outside"
        if bar < _NO_BOTTLE_BAR
        else "more than 20 bar: no bottle holds that",
        "Leave it open or with a vented cap until nothing rises any more.",
    )


# A bath that becomes so much warmer and so hot is told of; it boils from here on, or is loud by its rise alone (our judgement).
_TOLD_K, _TOLD_C, _BOILS_C, _LOUD_K = 30, 50, 95, 60
# Acid on lye, a cup of each, with more heat than boils it, throws them out all at once (our judgement).
_ERUPTS_MOL, _ERUPTS_K, _ERUPTS_KJ = 1.0, 115, 500
_ERUPTING_ACIDS = (
    "sulfuric_acid",
    "hydrochloric_acid",
    "nitric_acid",
    "phosphoric_acid",
    "formic_acid",
    "acetic_acid",
    "sodium_bisulfate",
    "sulfamic_acid",
)


def _heat(scene: Scene) -> None:
    end = scene.setting.temperature_c + scene.pool.rise_k
    if scene.pool.rise_k < _TOLD_K or end < _TOLD_C:
        return
    boils = end >= _BOILS_C
    lye = math.fsum(p.has("hydroxide") for p in scene.portions)
    erupts = min(lye, scene.first.substance(*_ERUPTING_ACIDS)) > _ERUPTS_MOL and scene.pool.rise_k > _ERUPTS_K
    if erupts and scene.pool.heat_kj > _ERUPTS_KJ:
        scene.say(
            # Nobody stands over two bottles that break on a shelf.
            "eruption", HURTS if scene.setting.place == "shelf" else KILLS, "strong acid on strong lye erupts: it boils at once and throws both into the face",
            f"about {scene.pool.heat_kj:.0f} kJ, enough for {scene.pool.rise_k:.0f} K if nothing boiled off",
            "Never one drain opener after another, nor acid to put strong lye right; leave it, and call for help.",
        )  # fmt: skip
        return
    scene.say(
        "heat",
        HURTS if boils or scene.pool.rise_k > _LOUD_K else 2,
        "it boils and spits" if boils else "it becomes too hot to hold",
        f"about {scene.pool.heat_kj:.0f} kJ: {scene.setting.temperature_c:.0f} C to {'boiling' if boils else f'{end:.0f} C'}",
        "More and colder water first, then little by little, stirring; never a glass that is not made for heat.",
    )


# What stands open stands half a centimetre deep, or deeper; a puddle covers what its setting says.
_TRAY_DEEP_M = 0.005
# Mouth of an open bottle, three centimetres across.
_NECK_M2 = 7e-4


def vapours_apart(portion: Portion, setting: Setting) -> Iterator[Effect]:
    """What one open vessel gives off by itself."""
    deep_m2 = math.inf if setting.spilt else Pool((portion,)).volume_l / 1000 / _TRAY_DEEP_M
    deep_m2 = min(deep_m2, _NECK_M2) if portion.bottled else deep_m2
    yield from happen((portion,), replace(setting, surface_m2=min(setting.surface_m2, deep_m2)))
