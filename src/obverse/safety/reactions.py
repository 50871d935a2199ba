"""What can happen when matter meets: rules over what it holds, each yielding amounts.

Gas by moles and the room, heat by the temperature it makes, fire and explosive matter by what is there and how
concentrated. Speeds and yields without a record are common chemical knowledge (from memory); each stands beside
its rule. A rule says what is found, never that something is harmless.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

from obverse.safety.body import Pool, Portion, acid_in, heat_of_meeting_kj
from obverse.safety.over_time import BEFORE, OPEN, WET
from obverse.safety.properties import gases, oxidants, reductants, volatiles
from obverse.safety.redox import FARADAY_KJ_PER_V, react, strong_acid
from obverse.safety.release import MOLAR_LITRES, leaving_share, room_ppm
from obverse.safety.scene import Scene, amount_of, concentrated, grams_words, ppm_words
from obverse.safety.setting import Effect, Setting
from obverse.safety.stands_by import LYING_ABOUT, PLACED

_OPEN_AIR = "Do not do this indoors."
# Severities as `Effect` counts them: refused, and a loud caution.
_KILLS, _HURTS = 4, 3
# Silver in the dried ammine: about 2 mg of fulminating silver, which still cuts fingers (our judgement).
_DRIED_SILVER_MOL = 2e-5
# What is less than about 10 g of pool chlorine, 50 g of anhydrous chloride or 5 g of oxidiser beside 5 g of rags is left in peace.
_POOL_CHLORINE_MOL, _FUMING_MOL, _SOAKING_MOL, _RAGS_MOL, _OILY_MOL = 0.05, 0.3, 0.03, 0.05, 0.01
# Share of hypochlorite and of peroxide by mass from which the solution itself sets fire to rags, as in `_FIRES`.
_STRONG_CHLORINE, _STRONG_PEROXIDE = 0.3, 0.25
# Share of a phosphide that plain water or the damp frees while somebody stays; acid frees all (from memory).
_PHOSPHIDE_IN_WATER, _ACID_PH = 0.3, 4
# Dry ice in an open bowl, share an hour (common practice, no source).
_DRY_ICE_PER_H = 0.4
# From here on sulfites, nitrates and sulfur give their gas, and at what yield; a flame with little air (from memory).
_HOT_C, _HOT_SULFITE, _HOT_NITRATE, _LITRE_OF_PARAFFIN_MOL = 150, 0.8, 0.2, 2.0
# Acid that dissolves carbonate, and acid that drives out sulfur dioxide, as the pH above which it counts.
_CARBONATE_PH, _SULFITE_PH = 5.0, 3.0
# Shares that crystals make in the damp of the air over weeks, and percarbonate an hour, damp and dry (our judgement).
_DAMP_CARBONATE, _DAMP_SULFITE, _DAMP_OXYGEN_PER_H, _DRY_OXYGEN_PER_H = 0.1, 0.05, 5e-4, 1e-5
# 1.8 % of butane in air burns; as it lies on the floor, half of that as a mean kills, a fifth is loud (our judgement).
_BUTANE_BURNS, _GAS_KILLS, _GAS_WITH_FLAME, _GAS_LOUD = 0.018, 0.5, 0.15, 0.2
# Carbon dioxide of a mole of butane.
_CO2_OF_BUTANE = 4
# Dithionite baths fall apart to bisulfite near this pH, this share an hour at 20 C; pK of sulfurous acid (from memory).
_DITHIONITE_ENDS_PH, _DITHIONITE_PER_H, _ALKALINE_PH, _PK_SULFUROUS = 4.0, 0.1, 8, 1.85
# Where acid permanganate meets salt: the product of acid and salt above which it goes faster, and the most (our judgement).
_CHLORIDE_PRODUCT, _CHLORIDE_FASTEST = 0.09, 12.0
# Share an hour of hypochlorite that iron or copper of a hundredth mole a litre breaks, and oxygen of acid permanganate (from memory).
_IRON_ON_HYPOCHLORITE_PER_H, _PERMANGANATE_PER_H, _OXYGEN_OF_PERMANGANATE, _DECAY_PH = 0.05, 0.01, 0.75, 3
# Peroxide by itself, one per cent a month.
_PEROXIDE_PER_H = 1.4e-5
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
    for rule in (*_BEFORE, *BEFORE, *PLACED):
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


def _explosive_silver(scene: Scene) -> None:
    pool, setting = scene.first, scene.setting
    dried = math.fsum(p.moles.get("silver_ammine_chloride", 0.0) for p in scene.portions if p.solid)
    if dried > _DRIED_SILVER_MOL:
        scene.say(
            "ammoniacal_silver", _KILLS, "dried ammoniacal silver explodes at a touch", grams_words(dried, 112.5),
            "Do not scrape, move or warm it; keep others out and call for advice.",
        )  # fmt: skip
    silver = pool.has("silver") - pool.substance("silver_thiosulfate", "silver", "silver_sulfide")
    if silver < 2e-4:
        return
    ammonia = pool.has("ammonia")
    # A solution that is named by its complex holds the ammonia that keeps it dissolved, whoever forgot to say so.
    complexed = pool.substance("silver_ammine_chloride") > 2e-4 and ammonia <= 2.5 * silver and pool.ph > 6.5
    if pool.has("azide") > 1e-3:
        scene.say(
            "silver_azide",
            _KILLS,
            "silver azide, an explosive",
            grams_words(silver, 149.9),
            "Never bring them together.",
        )
    if (ammonia > 2 * silver or complexed) and not setting.acidified and pool.wet:
        free = ammonia / (1 + 10 ** (9.25 - pool.ph))
        # Thiosulfate, cyanide or acid takes the silver away from the ammonia.
        held = pool.has("thiosulfate") >= 2 * silver or pool.has("cyanide") >= 2 * silver
        if ((free > 2 * silver and pool.ph > 8.5) or complexed) and not held:
            stays = setting.hours > 2 or setting.place in ("jug", "standing", "closed_jug", "shelf", "damp")
            lye = pool.has("hydroxide") > 0.01
            if stays or lye or pool.substance("silver_oxide"):
                scene.say(
                    "ammoniacal_silver",
                    _KILLS,
                    "silver nitride (fulminating silver) forms as it stands or dries and explodes at a touch",
                    f"up to {grams_words(silver, 112.5)}",
                    "Never let it stand: within two hours dilute it, add salt, bring it slowly to pH 2 with dilute sulfate acid.",
                )
            elif silver > 1e-3:
                scene.say(
                    "ammoniacal_silver",
                    _HURTS,
                    "dissolved silver in ammonia: it may be handled for a short while only, then silver nitride forms, which explodes",
                    f"up to {grams_words(silver, 112.5)} of it",
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
            _KILLS,
            "silver fulminate, an explosive",
            grams_words(silver, 150),
            "Never bring them together.",
        )
    if pool.has("oxalate") > 1e-3 and (setting.hours > 2 or setting.place in ("jug", "standing")):
        scene.say(
            "silver_oxalate",
            _HURTS,
            "silver oxalate, which explodes when it is dry and heated",
            grams_words(silver, 152),
            "",
        )
    if pool.has("carbide") > 1e-3:
        scene.say("silver_acetylide", _KILLS, "silver acetylide, an explosive", grams_words(silver, 120), "Never.")


def _explosive_peroxides(scene: Scene) -> None:
    pool = scene.first
    peroxide, litres = pool.has("peroxide"), pool.volume_l
    strength = peroxide * 34.0 / max(1.0, pool.grams)
    ketone = pool.has("ketone")
    if peroxide > 0.02 and ketone > 0.02 and ketone / litres > 0.1 and strength > 0.003:
        acid = pool.wet and pool.ph < 4.5
        severity = 4 if acid or strength > 0.04 or scene.setting.hours > 12 else 3
        scene.say(
            "ketone_peroxide",
            severity,
            "a peroxide of the ketone: crystals that explode at a touch, sooner with acid",
            f"up to {grams_words(min(peroxide, ketone), 74)}",
            "Never bring them together; if it happened, do not move or warm it, keep others out, call for advice.",
        )
    acid_share = pool.share_of("sulfuric_acid")
    if strength > 0.08 and acid_share > 0.4:
        fuel = math.fsum(pool.has(kind) for kind in (*_FUELS, "organic_acid"))
        scene.say(
            "piranha",
            4 if fuel > 0.02 else 3,
            "peroxide in strong sulfuric acid boils up and eats whatever is organic"
            + (", here explosively" * (fuel > 0.02)),
            f"{100 * strength:.0f} % peroxide in {100 * acid_share:.0f} % acid",
            "Never mix them.",
        )
    acetic = pool.share_of("acetic_acid", "formic_acid")
    if strength > 0.08 and acetic > 0.15:
        scene.say(
            "peracid",
            _HURTS,
            "a strong peracid: it burns eyes and lungs, and vapour and rests may explode",
            f"from {100 * strength:.0f} % peroxide and {100 * acetic:.0f} % acid",
            "Keep peroxide and acid thin; mix only what is used at once.",
        )


def _explosive_others(scene: Scene) -> None:
    pool = scene.first
    solid_permanganate = math.fsum(p.has("permanganate") for p in scene.portions if p.solid)
    strong = max((p.share_of("sulfuric_acid") for p in scene.portions), default=0.0)
    permanganate = pool.has("permanganate")
    if permanganate > 1e-3 and (pool.share_of("sulfuric_acid") > 0.5 or (solid_permanganate > 1e-3 and strong >= 0.65)):
        scene.say(
            "manganese_heptoxide",
            _KILLS,
            "manganese heptoxide: a green oil that explodes or sets fire to what it touches",
            f"up to {grams_words(permanganate / 2, 221.9)}",
            "Dissolve permanganate wholly in much water before any acid, and use dilute acid.",
        )
    if pool.has("chlorate") > 1e-3 and (strong > 0.3 or (pool.wet and strong_acid(pool))):
        scene.say(
            "chlorate_acid",
            _KILLS,
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
            _KILLS,
            "organic pool chlorine with hypochlorite: nitrogen trichloride, which explodes, and chlorine as soon as it is damp",
            f"up to {amount_of(organic_chlorine)}",
            "Never two kinds of pool chlorine in one vessel, nor one scoop for both.",
        )
    iodine = pool.substance("iodine")
    if iodine > 1e-3 and pool.has("ammonia") > 0.02 and pool.wet and pool.ph > 8.5:
        scene.say(
            "nitrogen_iodide",
            _KILLS,
            "nitrogen triiodide, which explodes at a touch once it is dry",
            f"up to {grams_words(iodine, 254)}",
            "Never iodine with ammonia.",
        )
    if scene.pool.wet and pool.has("hypochlorite") > 0.01 and pool.has("ammonia") > 0.02 and pool.ph < 5:
        scene.say(
            "nitrogen_trichloride",
            _KILLS,
            "nitrogen trichloride, an explosive oil and a poison gas",
            amount_of(min(pool.has("hypochlorite") / 3, pool.has("ammonia"))),
            "Never hypochlorite with ammonia or its salts.",
        )
    if pool.has("perchlorate") > 0.05 and max(p.share_of("perchloric_acid") for p in scene.portions) > 0.5:
        fuel = math.fsum(pool.has(kind) for kind in (*_FUELS, "organic_acid", "metal"))
        if fuel > 0.01:
            scene.say(
                "perchloric_fuel", _KILLS, "strong perchloric acid explodes with anything that burns", "", "Never."
            )
    if pool.has("nitrite") > 0.02 and pool.has("ammonia") > 0.02 and (pool.wet or scene.setting.temperature_c > 40):
        warm = scene.setting.temperature_c > 40 or (pool.wet and pool.ph < 6)
        if warm:
            moles = min(pool.has("nitrite"), pool.has("ammonia"))
            scene.pool.heat_kj += 300 * moles
            scene.say(
                "ammonium_nitrite",
                _HURTS,
                "ammonium nitrite falls apart by itself: heat, nitrogen, spray",
                f"{amount_of(moles)}, about {300 * moles:.0f} kJ",
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
        | {"sulfide": 3, "thiocyanate": 4, "cyanide": 4, "hydride": 4, "hydrazine": 4},
    ),
    "chlorate": (
        0.5,
        dict.fromkeys((*_FUELS, "dithionite", "hypophosphite", "thiourea", "metal", "organic_acid", "developer"), 4)
        | dict.fromkeys(("sulfide", "thiocyanate", "cyanide", "hydride", "hydrazine"), 4),
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
        | {"aldehyde": 3, "sugar": 3, "metal": 3, "hypophosphite": 3, "hydride": 4},
    ),
    "persulfate": (
        0.5,
        {"alcohol": 3, "polyol": 3, "powder_fuel": 3, "metal": 3, "dithionite": 3, "cellulose": 3, "solvent": 3}
        | {"ketone": 3, "sugar": 3, "aldehyde": 3, "hypophosphite": 3, "hydride": 4, "hydrazine": 4},
    ),
    "halogen": (0.5, {"metal": 4, "aldehyde": 3, "ketone": 3, "hydride": 4}),
    "perchlorate": (
        0.5,
        dict.fromkeys((*_FUELS, "metal", "sulfide", "dithionite", "hypophosphite", "thiourea", "cyanide"), 4),
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
        chromic = name == "dichromate" and (pool.share_of("sulfuric_acid") > 0.4 or pool.substance("chromium_trioxide"))
        if chromic:
            strong = pool.has("dichromate")
        if strong < 0.01:
            continue
        dissolves = name in _BURN_DRY and not chromic
        if dissolves and 1000 * pool.water_l > math.fsum(p.grams for p in scene.portions if p.has(entity)):
            continue
        electrons = strong * oxidants()[entity].electrons * (5 if entity == "nitrate" else 1)
        for fuel, severity in fuels.items():
            least = 0.03 if fuel in ("cellulose", "solvent", "sugar") else 0.02
            burns = concentrated(scene, fuel, 0.4)
            if burns < least:
                continue
            gives = reductants()[fuel].electrons
            heat = min(electrons, burns * gives) * 1.2 * FARADAY_KJ_PER_V
            if name == "peroxide":
                # It falls apart before it burns all.
                heat *= 0.8
            # What lies in excess does not cool the place where the two meet; water does.
            water_g = math.fsum(p.water_ml for p in scene.portions if p.water_ml > p.grams / 2)
            dry_g = min(pool.grams - water_g, _MEETS * _lesser_g(scene, entity, fuel))
            rise = heat / (_CP_KJ_PER_G_K * max(1.0, water_g + dry_g))
            if rise < 80 or heat < 15:
                continue
            worst = 4 if chromic or (setting.flame and name == "nitrate_salt") else severity
            if (
                name == "hypochlorite"
                and fuel == "cellulose"
                and setting.place not in ("damp", "jug", "closed_jug", "mixing")
            ):
                worst = 3
            dry = all(p.solid for p in scene.portions)
            if dry and setting.place == "shelf" and (name, fuel) not in _TOUCHY:
                worst = min(worst, 3)
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
}


def _runaway(scene: Scene) -> None:
    """Nitric acid with organics: nothing for minutes or hours, then all at once."""
    pool = scene.first
    nitric = pool.substance("nitric_acid")
    if nitric / pool.volume_l < 2:
        return
    fuel = math.fsum(pool.has(kind) for kind in _FUELS if kind != "cellulose")
    if min(nitric, fuel) > 0.1:
        scene.say(
            "nitric_organic",
            _KILLS,
            "nitric acid and organic liquid wait, then erupt with brown nitrogen dioxide",
            f"{amount_of(nitric)} of acid",
            "Never bring them together, not even to rinse a beaker.",
        )


# Grams of dithionite of which a tenth burnt or broken fills a small room with more sulfur dioxide than it takes to kill.
_FILLS_A_ROOM_G = 50.0


def _damp(scene: Scene) -> None:
    pool = scene.first
    dithionite = concentrated(scene, "dithionite", 0.3) + concentrated(scene, "thiourea_dioxide", 0.5)
    grams = dithionite * 174.1
    water = pool.water_l * 1000
    # On a shelf it is the edge of the wet that heats, however much water runs there.
    meets_water = scene.setting.place == "damp" or 0 < water < (
        3 * grams if scene.setting.place != "shelf" else math.inf
    )
    if grams > 15 and meets_water:
        scene.say(
            "damp_dithionite",
            _KILLS if 174.1 * concentrated(scene, "dithionite", 0.3) >= _FILLS_A_ROOM_G else _HURTS,
            "damp dithionite heats itself: sulfur dioxide, then fire, hours later",
            f"{grams:.0f} g; a tenth of it gives {amount_of(0.15 * dithionite)} of sulfur dioxide",
            "Flood it with much water outdoors; never close the tin on damp powder.",
            gas="sulfur_dioxide",
            ppm=room_ppm(0.15 * dithionite, scene.setting),
        )
    hypochlorite = concentrated(scene, "hypochlorite", 0.3)
    if scene.setting.place == "damp" and hypochlorite * 70 > 20:
        scene.say(
            "damp_hypochlorite",
            _HURTS,
            "damp pool chlorine heats itself and gives off chlorine",
            f"{hypochlorite * 70:.0f} g",
            "Keep it dry, vented and away from everything else.",
        )
    cyanide = concentrated(scene, "cyanide", 0.3)
    if scene.setting.place == "damp" and cyanide > 0.02:
        scene.say(
            "damp_cyanide",
            _HURTS,
            "damp cyanide gives off hydrogen cyanide with the carbon dioxide of the air",
            f"1 mmol of it makes {ppm_words(room_ppm(1e-3, replace(scene.setting, breathing_min=0)))} there",
            "Do not open it; let the authority collect it.",
        )
    metal = pool.substance("aluminium", "magnesium", "zinc", "sodium")
    if scene.setting.place == "damp" and metal > 0.05 and pool.has("hydroxide") > 0.1:
        scene.say(
            "damp_metal_lye",
            _HURTS,
            "metal in damp lye gives hydrogen and heat; a tight tin bursts",
            f"up to {amount_of(1.5 * metal)} of hydrogen",
            "Keep it open and outdoors, do not shake it.",
        )


_HYDROLYSED = ("iron_iii_chloride", "stannous_chloride")
_RAGS = ("cellulose", "solvent")


def _slow(scene: Scene) -> None:
    """What needs hours or the damp of the air: fuming chlorides, soaked rags, phosphides."""
    pool, setting = scene.first, scene.setting
    damp = setting.place == "damp"
    fuming = math.fsum(p.moles.get(key, 0.0) for p in scene.portions if p.solid for key in _HYDROLYSED)
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
    ):
        scene.say(
            "soaked_rags",
            _HURTS,
            "what burns, soaked in an oxidiser, dries and then smoulders or catches fire by itself",
            f"{amount_of(oxidiser)} of oxidiser",
            "Rinse such rags and papers with much water at once; never dry into the bin.",
        )
    if (
        waits
        and setting.place != "shelf"
        and pool.substance("vegetable_oil", "turpentine") > _OILY_MOL
        and pool.has("cellulose") > _RAGS_MOL
    ):
        scene.say(
            "oily_rags", _HURTS, "rags with a drying oil heat themselves and catch fire", "within hours",
            "Spread them flat outdoors or keep them under water in a closed tin.",
        )  # fmt: skip
    phosphide = pool.has("phosphide")
    if phosphide > 1e-3 and (pool.wet or damp):
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
}  # fmt: skip


# Grams that may kill or maim an adult who swallows them, in the order of size only (from memory); liquids count as a
# gulp of 30 mL, powders as a teaspoon of 5 g.
_SWALLOWED_G = {
    "dichromate": 0.5,
    "cyanide": 0.1,
    "selenite": 0.2,
    "mercury": 0.2,
    "azide": 0.3,
    "nitrite": 1.0,
    "fluoride": 0.5,
    "hydroxide": 1.0,
    "ammonia": 1.0,
    "permanganate": 3.0,
    "chlorate": 5.0,
    "oxalate": 3.0,
    "aldehyde": 2.0,
    "developer": 3.0,
    "phosphide": 0.3,
}
_SWALLOWED_ACIDS = ("sulfuric_acid", "hydrochloric_acid", "nitric_acid", "phosphoric_acid", "formic_acid")
# As the line above the table says.
_GULP_ML, _TEASPOON_G = 30.0, 5.0


def _swallowed(scene: Scene) -> None:
    """Poison in a vessel that somebody eats or drinks from."""
    if not scene.setting.food_vessel:
        return
    for portion in scene.portions:
        share = min(1.0, (_TEASPOON_G if portion.solid else _GULP_ML) / max(1.0, portion.grams))
        deadly = next(
            (
                entity
                for entity, grams in _SWALLOWED_G.items()
                if portion.has(entity) * share * _ENTITY_G[entity] > grams
            ),
            "",
        )
        acid = math.fsum(portion.share_of(key) for key in _SWALLOWED_ACIDS) > 0.1
        if deadly or acid:
            scene.say(
                "food_vessel", _KILLS, f"{portion.name} in a vessel for food or drink: one gulp or spoonful can kill",
                "half a teaspoon to 30 mL", "Never; its own bottle, its own label, locked away.",
            )  # fmt: skip


# Grams of the usual salt for a mole of what poisons.
_ENTITY_G = {"dichromate": 294.0, "cyanide": 65.0, "selenite": 173.0, "mercury": 271.0, "azide": 65.0, "hydroxide": 40.0} | {
    "ammonia": 17.0, "permanganate": 158.0, "chlorate": 122.0, "oxalate": 126.0, "aldehyde": 30.0, "developer": 110.0, "fluoride": 20.0, "nitrite": 69.0, "phosphide": 58.0
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
        gone = (
            1.0 if setting.closed or pool.wet else -math.expm1(-_DRY_ICE_PER_H * max(setting.hours, setting.released_h))
        )
        scene.gas(
            "dry_ice", "carbon_dioxide", frozen * gone, "dry ice becomes gas, which lies on the floor and smothers",
            "Never in a closed room, never in a closed vessel.", all_of_it=True,
        )  # fmt: skip
    if setting.temperature_c > _HOT_C:
        sulfite = pool.substance("sodium_metabisulfite", "potassium_metabisulfite", "sodium_bisulfite")
        made = _HOT_SULFITE * (
            sulfite + pool.has("dithionite") + pool.has("thiourea_dioxide") + pool.substance("sulfur")
        )
        scene.gas("heated_sulfite", "sulfur_dioxide", made, "heat drives it out", _OPEN_AIR, all_of_it=True)
        burnt = pool.has("powder_fuel") - pool.substance("sulfur") + pool.has("cellulose")
        scene.gas(
            "glowing", "carbon_monoxide", 0.1 * burnt, "what glows or smoulders gives it off, without smell", _OPEN_AIR,
            all_of_it=True,
        )  # fmt: skip
        scene.gas(
            "burning_solvent", "carbon_dioxide", 10 * min(_LITRE_OF_PARAFFIN_MOL, pool.has("solvent")), "a flame without a flue makes it", "Window open.",
            all_of_it=True,
        )  # fmt: skip
        scene.gas(
            "heated_nitrate", "nitrogen_dioxide", _HOT_NITRATE * pool.has("nitrate"), "heat breaks nitrate", _OPEN_AIR,
            all_of_it=True,
        )  # fmt: skip
    _displaced_air(scene)
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
    if fuel and not burns:
        part = share / _BUTANE_BURNS
        scene.say(
            "fuel_gas", _KILLS if part > _GAS_KILLS or (setting.flame and part > _GAS_WITH_FLAME) else _HURTS if part > _GAS_LOUD else 2 if part > 0.1 else 1,
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
            "thin_air", _KILLS if share > _FAINT else _HURTS, "gas takes the place of the air: one faints without warning",
            f"about {100 * share:.0f} % of the air of the room", "Out at once; never a cylinder in a small closed room.",
        )  # fmt: skip


# Moles carried from which it shows, and what it is (our judgement).
_FILM_SPOILERS = {
    "permanganate": (5e-5, "brown manganese dioxide"),
    "iron_iii": (1e-3, "rust or iron ink"),
    "dichromate": (1e-3, "a stain of chromium and oxidised developer"),
}


def _spoils_film(scene: Scene) -> None:
    """What a bleach that is carried on leaves in the gelatin when alkali or developer meets it."""
    if scene.setting.place != "carry_over" or len(scene.portions) < 2:
        return
    carried, rest = scene.portions[0], scene.portions[1:]
    if carried.has("thiosulfate") > 1e-3 and math.fsum(p.has("ferricyanide") for p in rest) > 1e-3:
        scene.say(
            "spoils_film", 2, "ferricyanide with fixer dissolves the silver of the picture",
            f"{amount_of(carried.has('thiosulfate'))} carried over", "Rinse before the bleach.",
        )  # fmt: skip
    developer = math.fsum(p.has("developer") for p in rest) > 1e-3
    if not developer and Pool(rest).ph < _THROWN_OUT_PH:
        return
    for entity, (least, what) in _FILM_SPOILERS.items():
        if carried.has(entity) > least and (developer or entity != "dichromate"):
            scene.say(
                "spoils_film", 2, f"{what} on the film", f"{amount_of(carried.has(entity))} carried over",
                "Clear and rinse before the next bath.",
            )  # fmt: skip


def _water_and_acid(scene: Scene) -> None:
    """Water poured on strong acid or solid lye boils where it lands."""
    for first, second in zip(scene.portions, scene.portions[1:], strict=False):
        strong = first.share_of("sulfuric_acid") >= 0.6 and first.grams > 20
        wet = second.water_ml > 3 and second.water_ml > second.grams / 2
        if strong and wet and second.share_of("sulfuric_acid") < 0.6:
            scene.say(
                "water_on_acid",
                _HURTS,
                "water on strong sulfuric acid boils where it lands and throws acid",
                f"{first.grams:.0f} g of acid",
                "Always the acid into much cold water, slowly.",
            )
    carbide = scene.first.has("carbide")
    if carbide > 0.02 and scene.first.water_l > 0.005:
        scene.gas("carbide", "acetylene", carbide, "carbide and water", _OPEN_AIR, all_of_it=True)
    sodium = scene.first.substance("sodium")
    if sodium > 0.02 and scene.first.water_l > 0.002:
        scene.say("sodium_water", _KILLS, "sodium burns and bursts on water", amount_of(sodium), "Never.")


_BEFORE: tuple[Callable[[Scene], None], ...] = (
    _explosive_silver,
    _explosive_peroxides,
    _explosive_others,
    _fire,
    _runaway,
    _damp,
    _slow,
    _swallowed,
    _drain,
    _from_solids,
    _spoils_film,
    _water_and_acid,
)


# In solution


def _freed(scene: Scene, mechanism: str, gas: str, entity: str, pka: float, why: str, do: str) -> None:
    """A weak acid that is free at the pH, or for a moment where acid drops in."""
    moles = scene.pool.has(entity)
    ph = scene.pool.ph
    equilibrium = moles / (1 + 10 ** (ph - pka))
    acid = math.fsum(max(0.0, acid_in(p, pka)) for p in scene.portions)
    # Where a drop of acid lands, a tenth of it acts before it is stirred in, in a twentieth of the liquid (our judgement).
    local = min(moles, 0.1 * acid)
    splash = local * leaving_share(gas, local, 0.05 * scene.pool.volume_l, scene.setting)
    scene.gas(mechanism, gas, max(equilibrium, local), why, do, besides_mol=splash)


# Fifty milligrams of hydrogen cyanide may kill, however large the room (from memory); its pK.
_CYANIDE_DOSE_MOL, _PK_CYANIDE = 2e-3, 9.2


def _toxic_from_salts(scene: Scene) -> None:
    pool = scene.pool
    if pool.has("sulfide") > 1e-6:
        _freed(
            scene,
            "acid_sulfide",
            "hydrogen_sulfide",
            "sulfide",
            7.0,
            "acid sets it free from sulfide",
            "Never acid near a sulfide toner; rinse between, and keep it alkaline.",
        )
    if pool.has("cyanide") > 1e-6:
        _freed(
            scene,
            "acid_cyanide",
            "hydrogen_cyanide",
            "cyanide",
            9.2,
            "acid sets it free from cyanide",
            "Do not use cyanide at all; let the authority collect it.",
        )
        freed = max(
            pool.has("cyanide") / (1 + 10 ** (pool.ph - _PK_CYANIDE)),
            min(pool.has("cyanide"), math.fsum(max(0.0, acid_in(p, _PK_CYANIDE)) for p in scene.portions)),
        )
        if freed > _CYANIDE_DOSE_MOL and len(scene.portions) > 1 and pool.ph < _PK_CYANIDE:
            scene.say(
                "cyanide_dose", _KILLS, "acid on cyanide: whoever bends over the vessel may breathe a deadly dose",
                amount_of(freed), "Do not use cyanide at all; let the authority collect it.", gas="hydrogen_cyanide",
            )  # fmt: skip
    if pool.has("azide") > 1e-6 and pool.ph < 6:
        scene.gas("acid_azide", "hydrazoic_acid", pool.has("azide"), "acid sets it free from azide", "Never.")
    if pool.has("fluoride") > 0.01 and pool.ph < 5:
        scene.say(
            "fluoride",
            _HURTS,
            "hydrofluoric acid: it burns through skin to the bone and poisons, without pain at first",
            amount_of(pool.has("fluoride")),
            "Leave it away; no glove of the house is enough.",
        )
    if pool.has("iron_cyanide") > 0.002:
        strong = pool.acid_above(0.0) / pool.volume_l
        hot = scene.setting.temperature_c > 60 or scene.pool.rise_k > 50
        share = (0.5 if hot else 0.01) if strong > 1 else (0.1 if hot and pool.ph < 2 else 0.0)
        scene.gas(
            "acid_ferricyanide",
            "hydrogen_cyanide",
            6 * pool.has("iron_cyanide") * share,
            "hot or strong acid breaks iron cyanides",
            "Never strong or hot acid on ferricyanide or ferrocyanide.",
        )
    if pool.has("selenite") > 1e-4 and (pool.has("metal") > 0.01 or pool.has("hydride") > 0.01) and pool.ph < 5:
        scene.gas(
            "selenide",
            "hydrogen_selenide",
            0.05 * pool.has("selenite"),
            "metal and acid make it from selenium toner",
            _OPEN_AIR,
        )
    if pool.has("hypophosphite") > 0.05 and pool.ph > 13:
        scene.gas("phosphine", "phosphine", 0.01 * pool.has("hypophosphite"), "hot lye on hypophosphite", _OPEN_AIR)
    sulfuric = pool.share_of("sulfuric_acid")
    monoxide = pool.has("formate") if sulfuric > 0.4 else 0.0
    if sulfuric > 0.6:
        monoxide += pool.has("oxalate") + 6 * pool.has("iron_cyanide")
    if monoxide > 0.01:
        scene.gas(
            "carbon_monoxide", "carbon_monoxide", monoxide, "strong sulfuric acid drives it out", _OPEN_AIR, all_of_it=True
        )  # fmt: skip


def _sulfur_gases(scene: Scene) -> None:
    pool = scene.pool
    acid = max(0.0, pool.acid_above(3.0))
    protons = pool.protons_mol_per_l
    seconds = 60 * max(scene.setting.breathing_min, 10, 60 * scene.setting.hours if scene.setting.closed else 0)
    sulfite = pool.has("sulfite")
    free = sulfite / (1 + 10 ** (pool.ph - 1.85))
    # Thiosulfate falls apart in acid: k about 0.01 L/mol/s near 20 C (from memory), two protons each.
    faster = 2 ** ((scene.setting.temperature_c + min(60.0, pool.rise_k) - 20) / 10)
    falls = -math.expm1(-0.01 * faster * protons * seconds)
    thiosulfate = min(pool.has("thiosulfate") * falls, acid / 2) if pool.ph < 4 else 0.0
    dithionite = pool.has("dithionite")
    broken = 0.0
    if dithionite:
        broken = 1.5 * dithionite * min(1.0, (protons / 1e-3) ** 0.5) if pool.ph < 6 else 0.0
        broken = min(broken, acid + 0.2 * broken)
        broken /= 1 + 10 ** (pool.ph - 1.85)
    elapsed_h = max(scene.setting.hours, scene.setting.released_h)
    if dithionite and pool.ph < _ALKALINE_PH:
        # It falls apart to bisulfite by itself, a tenth in an hour, near pH 4, faster when warm (from memory).
        bisulfite = dithionite * -math.expm1(-_DITHIONITE_PER_H * faster * elapsed_h)
        free += bisulfite / (1 + 10 ** (min(pool.ph, _DITHIONITE_ENDS_PH) - _PK_SULFUROUS))
    organic = pool.has("thiourea_dioxide") * (0.05 if pool.ph < 2 else 0.0)
    scene.gas(
        "acid_sulfite",
        "sulfur_dioxide",
        free + thiosulfate + broken + organic,
        "acid sets it free from sulfite, dithionite or thiosulfate",
        "Less acid, or rinse between; open the window, and nobody with asthma in the room.",
    )
    if dithionite * (pool.ph < 2) > 0.01:
        scene.gas("acid_dithionite", "hydrogen_sulfide", 0.02 * dithionite, "strong acid on dithionite", _OPEN_AIR)
    if pool.has("thiosulfate") > 0.01 and pool.has("metal") > 0.05 and pool.ph < 3:
        scene.gas(
            "metal_thiosulfate",
            "hydrogen_sulfide",
            0.1 * min(pool.has("thiosulfate"), pool.has("metal"), acid + 1e-9),
            "metal and acid on fixer",
            "Recover silver without acid.",
        )
    for met in scene.met:
        if met.reductant in ("sulfite", "dithionite") and scene.hot and met.heat_kj > 30:
            scene.gas(
                "hot_sulfite",
                "sulfur_dioxide",
                0.2 * met.reductant_mol,
                "the heat of the reaction drives it out",
                _OPEN_AIR,
            )
    strong = pool.acid_above(0.5) / pool.volume_l
    if pool.has("thiocyanate") > 0.005 and strong > 0.5:
        scene.gas(
            "acid_thiocyanate",
            "hydrogen_cyanide",
            pool.has("thiocyanate") * min(0.05, 0.02 * strong),
            "strong acid on thiocyanate (with carbonyl sulfide)",
            "Never strong acid on thiocyanate.",
        )


def _halogens(scene: Scene) -> None:
    pool = scene.pool
    litres = pool.volume_l
    protons = pool.protons_mol_per_l
    chloride = pool.has("chloride") / litres
    hypochlorite = pool.has("hypochlorite")
    if hypochlorite > 1e-6:
        # Cl2 + H2O = HOCl + H+ + Cl-: K about 4e-4 mol2/L2 at 20 C (from memory).
        quotient = protons * max(chloride, 0.2 * hypochlorite / litres)
        share = quotient / (4e-4 + quotient) / (1 + 10 ** (pool.ph - 7.5))
        # Weak acids count where they land, too.
        acid = math.fsum(max(0.0, acid_in(p, _CARBONATE_PH)) for p in scene.portions)
        # As with other weak acids: a tenth acts where it lands, in a twentieth of the liquid.
        local = min(hypochlorite, 0.1 * acid if acid > 1e-4 else 0.0)
        splash = local * leaving_share("chlorine", local, 0.05 * litres, scene.setting)
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
                0.05 * fastest,
                "where it lands, hypochlorite meets ammonium before anything else",
                "Never in one room.",
            )
        nitrogen = first.has("thiourea") + first.has("thiocyanate") + first.has("cyanide") + first.has("amine")
        both = min(first.has("hypochlorite"), nitrogen)
        if both > 1e-4:
            scene.gas(
                "hypochlorite_cyanogen",
                "cyanogen_chloride",
                (0.3 if first.has("cyanide") or first.has("thiocyanate") else 0.001) * both,
                "hypochlorite on thiocyanate, cyanide or thiourea",
                "Never bring them together.",
            )
        haloform = min(first.has("hypochlorite") / 3, first.has("ketone") + 0.2 * first.has("alcohol"))
        if haloform > 1e-3:
            scene.gas(
                "haloform",
                "chloroform",
                haloform * (1.0 if first.has("ketone") > 1e-3 else 0.3),
                "hypochlorite on acetone or alcohol",
                "Never clean a solvent up with hypochlorite.",
            )
    # Chlorine from chloride: needs both strong acid and much chloride in the cold.
    warm = scene.setting.temperature_c > 35 or pool.rise_k > 30
    drive = min(1.0, protons / 0.3) * min(1.0, chloride / 0.3)
    for oxidant, share, per in (
        ("permanganate", 0.1, 2.5),
        ("manganese_dioxide", 0.02, 1.0),
        ("dichromate", 0.02, 3.0),
        ("persulfate", 0.02, 1.0),
        ("cerium_iv", 0.02, 0.5),
        ("nitrate", 0.03, 0.5),
        ("peroxide", 0.01, 1.0),
    ):
        moles = pool.has(oxidant)
        if moles <= 1e-6 or drive <= 1e-4:
            continue
        brine = chloride > 3 and protons > 2
        done = share * drive * (10 if warm and brine else 4 if warm or brine else 1)
        if oxidant == "permanganate":
            # It goes the faster the more acid and salt there is.
            done *= max(1.0, min(_CHLORIDE_FASTEST, protons * chloride / _CHLORIDE_PRODUCT) ** 0.5)
        if oxidant in ("dichromate", "nitrate", "persulfate", "cerium_iv", "peroxide") and not (brine or warm):
            done *= drive * 0.3
        scene.gas(
            f"{oxidant}_chloride",
            "chlorine",
            min(1.0, done) * per * min(moles, chloride * litres / (2 * per) + 1e-12),
            f"acid {oxidant.replace('_', ' ')} on chloride",
            "Use sulfuric acid or its acid salt, never hydrochloric; rinse chloride out.",
        )
    bromide = pool.has("bromide") / litres
    if bromide > 0.005 and protons > 0.03:
        strong = pool.has("permanganate") * 2.5 + pool.has("dichromate") * 0.5 + pool.has("cerium_iv") * 0.3
        strong += pool.has("peroxide") * 0.05 * min(1.0, protons) + first.has("hypochlorite")
        moles = min(strong, bromide * litres / 2) * min(1.0, protons / 0.3) * min(1.0, bromide / 0.1)
        scene.gas("oxidised_bromide", "bromine", moles, "an acid oxidiser on bromide", "Rinse the bromide out first.")
    if pool.has("chlorate") > 1e-3 and protons > 0.3:
        scene.gas("chlorate_gas", "chlorine_dioxide", 0.1 * pool.has("chlorate"), "acid on chlorate", _OPEN_AIR)
    solid = concentrated(scene, "hypochlorite", 0.3)
    if solid > 0.02 and any(e.mechanism == "fire_hypochlorite" for e in scene.found):
        scene.gas(
            "burning_hypochlorite", "chlorine", 0.3 * solid, "the burning pool chlorine", _OPEN_AIR, all_of_it=True
        )


def _nitrogen_gases(scene: Scene) -> None:
    pool, first = scene.pool, scene.first
    nitrite = pool.has("nitrite")
    if nitrite > 1e-5 and pool.ph < 5.5:
        free = nitrite / (1 + 10 ** (pool.ph - 3.3))
        strength = free / pool.volume_l
        share = 0.66 if pool.ph < 1 else min(0.5, 0.2 + 0.5 * strength)
        scene.gas(
            "acid_nitrite",
            "nitrogen_dioxide",
            free * share,
            "acid on nitrite",
            "Never acid on nitrite.",
            all_of_it=pool.ph < 1,
        )
    reduced = math.fsum(met.electrons_mol for met in scene.met if met.oxidant == "nitrate")
    if reduced > 1e-4:
        scene.gas(
            "nitric_reduced", "nitrogen_dioxide", 0.5 * reduced, "nitric acid on a reducer", "Never bring them together.",
            all_of_it=True,
        )  # fmt: skip
    nitric = first.substance("nitric_acid") / first.volume_l
    metals = first.substance("zinc", "iron", "copper", "aluminium", "magnesium", "silver")
    if nitric > 1 and metals > 1e-3:
        moles = min(0.5 * first.substance("nitric_acid"), 2 * metals) * min(1.0, nitric / 6)
        scene.gas("nitric_metal", "nitrogen_dioxide", moles, "nitric acid on metal", _OPEN_AIR, all_of_it=True)
    organic = math.fsum(first.has(kind) for kind in _FUELS)
    if nitric > 4 and organic > 0.05:
        scene.gas(
            "nitric_organic",
            "nitrogen_dioxide",
            0.05 * min(first.substance("nitric_acid"), 5 * organic),
            "nitric acid on organic matter",
            "Never bring them together, not even to rinse a beaker.",
            all_of_it=True,
        )
    chloride = first.has("chloride") / first.volume_l
    if nitric > 2 and chloride > 1 and pool.protons_mol_per_l > 2:
        scene.gas(
            "aqua_regia",
            "chlorine",
            0.1 * min(first.substance("nitric_acid"), first.has("chloride") / 3),
            "nitric acid with hydrochloric acid or salt",
            _OPEN_AIR,
            all_of_it=True,
        )
    ammonia = first.has("ammonia") - 4 * first.has("copper_ii") - 2 * first.substance("silver_chloride")
    if ammonia > 1e-4:
        free = ammonia / (1 + 10 ** (9.25 - pool.ph))
        scene.gas(
            "ammonia",
            "ammonia",
            free,
            "it leaves alkaline solution" if first.has("ammonia") > first.substance("ammonia") else "from its solution",
            "Open window or fan, a lid, a weaker bath.",
        )
    for met in scene.met:
        if met.reductant == "thiocyanate":
            scene.gas(
                "oxidised_thiocyanate",
                "hydrogen_cyanide",
                met.reductant_mol * (0.5 if pool.ph < 4 else 0.1),
                f"{met.oxidant.replace('_', ' ')} on thiocyanate",
                "Rinse the developer out before the bleach.",
            )


def _metals(scene: Scene) -> None:
    first, pool = scene.first, scene.pool
    # Weak acids dissolve zinc and its like too, only slower.
    strong, acid = max(0.0, pool.acid_above(2.5)), max(0.0, pool.acid_above(4.5))
    acid = max(strong, 0.5 * acid)
    lye = max(0.0, -pool.acid_above(12.0))
    # Soda and weak lye dissolve aluminium too, within days.
    days = min(1.0, scene.setting.hours / _SODA_EATS_H)
    lye = max(lye, _SODA_EATS * days * max(0.0, -pool.acid_above(_SODA_PH)))
    hydrogen = 0.0
    for key, per in (("aluminium", 1.5), ("magnesium", 1.0), ("zinc", 1.0), ("iron", 1.0)):
        n = first.substance(key)
        if not n:
            continue
        quick = {"aluminium": 0.5, "magnesium": 1.0, "zinc": 1.0, "iron": 0.3}[key]
        iron_iii = min(first.has("iron_iii") + 2 * first.has("copper_ii"), 2 * per * n)
        made = min(per * n, acid / 2) * quick
        if key == "aluminium":
            made = max(made, min(per * n, 3 * lye))
        if key == "zinc":
            made = max(
                made,
                min(per * n, lye)
                * max(_ZINC_IN_HOT_LYE if scene.setting.temperature_c > _WARM_LYE_C else _ZINC_IN_LYE, days),
            )
        if iron_iii > 0.05:
            # Heat of each Fe(III) that takes the metal, by the potentials.
            scene.pool.heat_kj += _ETCH_KJ[key] * iron_iii
            if key != "iron":
                made = max(made, 0.3 * min(per * n, iron_iii))
        hydrogen += made
        scene.pool.heat_kj += made * (280 if key == "aluminium" else 200 if key == "magnesium" else 150)
    if first.has("hydride") > 0.01 and (pool.ph < 9 or first.water_l > 0):
        hydrogen += first.has("hydride") * (1.0 if pool.ph < 9 else 0.1)
    scene.gas(
        "metal",
        "hydrogen",
        hydrogen,
        "acid, lye or etchant on metal",
        "Plastic and glass only; no flame.",
        all_of_it=True,
    )


def _carbonate_and_oxygen(scene: Scene) -> None:
    pool, first, setting = scene.pool, scene.first, scene.setting
    carbonate = first.has("carbonate")
    if carbonate > 1e-3:
        free = carbonate / (1 + 10 ** (pool.ph - 6.35))
        acid = math.fsum(max(0.0, acid_in(p, _CARBONATE_PH)) for p in scene.portions)
        litres = MOLAR_LITRES * min(free, max(0.0, acid))
        biting = any(not p.solid and Pool((p,)).ph < 1.5 and acid_in(p, 4.0) > 0.1 for p in scene.portions)
        at_once = all(p.at_once for p in scene.portions) and setting.place in ("mixing", "jug", "carry_over", "shelf")
        if litres > 6 and biting and at_once:
            scene.say(
                "foam",
                2,
                "carbon dioxide foams over and sprays acid",
                f"about {litres:.0f} L",
                "Little by little, in a wide open bucket, goggles on.",
            )
        scene.gas(
            "carbonate",
            "carbon_dioxide",
            max(free, min(carbonate, 0.1 * acid)),
            "acid on carbonate",
            "Open vessel, little by little.",
        )
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
        catalyst = (
            first.has("iron_iii")
            + first.has("copper_ii")
            + first.has("permanganate")
            + first.has("manganese_dioxide")
            + first.has("manganese_ii")
            + first.has("silver")
            + first.has("iodide")
            + first.has("iron_ii")
            + 0.1 * first.has("metal")
        ) / first.volume_l
        hours = max(setting.hours, setting.released_h, 1.0 if setting.closed else 0.0)
        rate_per_h = 4 * min(1.0, catalyst / 0.02) * min(1.0, max(0.1, pool.has("peroxide") / pool.volume_l))
        if pool.ph > 8.5:
            rate_per_h += 0.15
        # By itself about one per cent a month.
        rate_per_h += _PEROXIDE_PER_H
        # Every ten degrees double it, roughly.
        rate_per_h *= 2 ** ((setting.temperature_c - 20) / 10)
        share = -math.expm1(-rate_per_h * hours)
        oxygen += 0.5 * peroxide * share
        strength = peroxide * 34 / max(1.0, first.grams)
        quick = -math.expm1(-rate_per_h * (1.0 if strength > 0.08 else 0.1))
        scene.pool.heat_kj += 98 * peroxide * quick
        litres = 0.5 * peroxide * quick * MOLAR_LITRES
        if strength > 0.05 and litres > 2 and quick > 0.3:
            scene.say(
                "peroxide_catalysed",
                _HURTS,
                "peroxide falls apart on metal ions: it foams over, hot, and sprays",
                f"{litres:.0f} L of oxygen, {98 * peroxide * quick:.0f} kJ",
                "No metal, rust, permanganate or alkali near strong peroxide.",
            )
    fizz = math.fsum(m.reductant_mol for m in scene.met if m.reductant == "peroxide") * MOLAR_LITRES
    if fizz > 5 and any(m.oxidant in ("hypochlorite", "permanganate") for m in scene.met):
        scene.say(
            "oxygen_burst",
            _HURTS,
            "oxygen foams up within seconds and sprays",
            f"about {fizz:.0f} L",
            "Little by little, thin, in a wide open bucket.",
        )
    scene.gas("oxygen", "oxygen", oxygen, "peroxide falls apart", "Open vessel.")


def _vapours(scene: Scene) -> None:
    """What leaves strong liquids by itself: acids, formaldehyde, solvents."""
    setting, pool = scene.setting, scene.first
    per_pa = 0.0025 * setting.surface_m2 * 60 * setting.breathing_min / (8.314 * 293)
    fill = pool.grams
    if setting.closed or not fill:
        return
    hydrogen_chloride = pool.share_of("hydrochloric_acid")
    if hydrogen_chloride > 0.15 and pool.ph < 0:
        pressure = 101325 * 10 ** (-1.52 + (100 * hydrogen_chloride - 31) * 0.13)
        moles = min(
            0.5 * pool.substance("hydrochloric_acid"), 0.25 * per_pa * pressure
        )  # most becomes mist and settles
        scene.gas(
            "acid_fumes",
            "hydrogen_chloride",
            moles,
            "fumes of strong acid",
            "Lid on, fan, weaker acid.",
            all_of_it=True,
        )
    strongest = max(p.share_of("sulfuric_acid") for p in scene.portions)
    if strongest > 0.6 and pool.share_of("sulfuric_acid") > 0.3 and pool.has("chloride") > 0.01:
        driven = 0.5 * min(pool.has("chloride"), 2 * pool.substance("sulfuric_acid"))
        scene.gas(
            "driven_chloride", "hydrogen_chloride", driven, "strong sulfuric acid drives it out of salt", _OPEN_AIR, all_of_it=True
        )  # fmt: skip
    acetic = pool.share_of("acetic_acid") * (1 if pool.ph < 5 else 0)
    if acetic > 0.06:
        share = acetic / 60 / (acetic / 60 + (1 - acetic) / 18)
        scene.gas(
            "acid_fumes", "acetic_acid", min(0.5 * pool.substance("acetic_acid"), per_pa * 1560 * share),
            "vapour of strong vinegar essence", "Lid on, fan, weaker acid.", all_of_it=True,
        )  # fmt: skip
    aldehyde = pool.share_of("formaldehyde")
    if aldehyde > 0.001:
        hot = 40.0 if scene.hot else 1.0
        scene.gas(
            "formaldehyde", "formaldehyde", min(0.5 * pool.substance("formaldehyde"), hot * per_pa * 172 * aldehyde / 0.37),
            "vapour of formalin", "Fan, lid, gloves; suspected and known to cause cancer.", all_of_it=True,
        )  # fmt: skip
        if hydrogen_chloride > 0.03 and pool.ph < 1:
            scene.say(
                "chloromethyl_ether", 2, "a trace of bis(chloromethyl) ether, which causes cancer, with the fumes",
                "parts per billion", "Never formalin with hydrochloric acid.",
            )  # fmt: skip
    iodine = pool.substance("bromine")
    if iodine > 1e-4:
        scene.gas(
            "bromine_vapour", "bromine", min(iodine, per_pa * 23000), "vapour of bromine", _OPEN_AIR, all_of_it=True
        )
    for key, known in volatiles().items():
        n = pool.substance(key)
        share = pool.share_of(key)
        if n < 0.05 or share < 0.3:
            continue
        spread = replace(setting, surface_m2=max(setting.surface_m2, min(1.0, pool.volume_l)))
        # What water thins gives the less vapour.
        moles = min(n, per_pa * share * known.vapour_pa * spread.surface_m2 / setting.surface_m2)
        part = room_ppm(moles, setting) / 1e6 / known.lower_explosive
        # The vapour lies on the floor: there it is several times the mean.
        severity = 4 if part > 0.15 and setting.flame else 3 if part > 0.5 else 2 if part > 0.2 else 1
        scene.say(
            "solvent_vapour",
            severity,
            "its vapour burns and creeps along the floor to any flame or spark",
            f"about {100 * part:.0f} % of the lower explosive limit as the mean of the room",
            "Out with flames and heaters, window open, no switch.",
        )


_WET: tuple[Callable[[Scene], None], ...] = (
    _metals,
    _carbonate_and_oxygen,
    _toxic_from_salts,
    _sulfur_gases,
    _halogens,
    _nitrogen_gases,
    _vapours,
)


# Share of all the gas from which acetylene decides how bad a burst is (our judgement).
_ACETYLENE_SHARE = 0.2


def _pressure(scene: Scene) -> None:
    setting = scene.setting
    if not setting.closed:
        return
    headspace_l = (setting.headspace_ml or max(20.0, 200 * scene.pool.volume_l)) / 1000
    free = 0.0
    for gas, moles in scene.gas_mol.items():
        # What water holds at the pressure that is reached stays in it.
        ratio = gases()[gas].air_over_water
        free += moles * headspace_l / (headspace_l + scene.pool.volume_l / ratio)
    if scene.gas_mol.get("oxygen") or scene.gas_mol.get("hydrogen"):
        free = max(free, scene.gas_mol.get("oxygen", 0.0) + scene.gas_mol.get("hydrogen", 0.0))
    bar = free * MOLAR_LITRES / headspace_l * 1.013
    poison = math.fsum(n for g, n in scene.gas_mol.items() if gases()[g].lethal_ppm < 300)
    toxic = poison > 0.01 and poison > 0.5 * math.fsum(scene.gas_mol.values())
    rise = scene.pool.rise_k
    energetic = (scene.pool.ph > 13 and bar > 5) if scene.pool.wet else False
    # Acetylene falls apart with a bang above about 1.5 bar, air or none (from memory).
    energetic = energetic or scene.gas_mol.get("acetylene", 0.0) > _ACETYLENE_SHARE * math.fsum(scene.gas_mol.values())
    if any(e.mechanism.startswith("fire") for e in scene.found):
        bar, energetic = max(bar, 20.0), True
    severity = 1 if bar < 1.5 else 4 if bar > 60 or (bar > 3 and (energetic or rise > 40 or toxic)) else 3
    scene.say(
        "pressure",
        severity,
        "gas in a closed vessel: it bursts and throws what it holds",
        f"about {bar:.0f} bar over the air outside" if bar < 20 else "more than 20 bar: no bottle holds that",
        "Leave it open or with a vented cap until nothing rises any more.",
    )


def _heat(scene: Scene) -> None:
    end = scene.setting.temperature_c + scene.pool.rise_k
    if scene.pool.rise_k < 30 or end < 50:
        return
    boils = end >= 95
    scene.say(
        "heat",
        3 if boils or scene.pool.rise_k > 60 else 2,
        "it boils and spits" if boils else "it becomes too hot to hold",
        f"about {scene.pool.heat_kj:.0f} kJ: {scene.setting.temperature_c:.0f} C to {'boiling' if boils else f'{end:.0f} C'}",
        "More and colder water first, then little by little, stirring; never a glass that is not made for heat.",
    )


# What stands open stands half a centimetre deep, or deeper.
_TRAY_DEEP_M = 0.005


def vapours_apart(portion: Portion, setting: Setting) -> Iterator[Effect]:
    """What one open vessel gives off by itself."""
    deep_m2 = Pool((portion,)).volume_l / 1000 / _TRAY_DEEP_M
    scene = Scene((portion,), replace(setting, surface_m2=min(setting.surface_m2, deep_m2)))
    for lies in (_from_solids, _slow, _damp, _swallowed, *LYING_ABOUT):
        lies(scene)
    if scene.pool.wet:
        for rule in (_toxic_from_salts, _sulfur_gases, _nitrogen_gases, _vapours, *OPEN):
            rule(scene)
    yield from scene.found
