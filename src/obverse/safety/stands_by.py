"""What the place adds: old film stock and mercury that lie about, the pipe and the tank behind a drain, two open vessels in reach.

Amounts from which something is told are our judgement; what they rest on stands beside each.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from obverse.foundation import regex
from obverse.safety.body import acid_in
from obverse.safety.scene import Scene, amount_of, metal_dust_mol
from obverse.safety.setting import HURTS, KILLS, TELLS, Setting

# Grams of a mole of the dinitrate that old film base is about.
_NITRATE_G_PER_MOL = 252.1
# A strip is a gram or two, a roll ten to twenty, a tin of cine film kilograms. Rooms that hold it are kept under 21 C (NFPA 40, as museums
# of film tell it); the speed doubles with six degrees (same).
_A_STRIP_G, _MANY_ROLLS_G, _A_FEW_ROLLS_G, _WARM_C, _OLD_H = 2.0, 200.0, 30.0, 30.0, 1000.0
_LIT_C = 85.0
_HASTENS = (
    "permanganate",
    "hypochlorite",
    "chlorate",
    "perchlorate",
    "dichromate",
    "persulfate",
    "dithionite",
    "nitrate",
    "hydride",
)
_ACID_PH = 1.0


def _nitrate_film(scene: Scene) -> None:
    """Cellulose nitrate burns without air and lights itself when warm, old, shut in, or beside acid and oxidisers."""
    setting, pool = scene.setting, scene.first
    grams = _NITRATE_G_PER_MOL * pool.has("nitrocellulose")
    if grams < _A_STRIP_G:
        return
    beside = math.fsum(pool.has(entity) for entity in _HASTENS) > 1e-2
    beside = beside or math.fsum(max(0.0, acid_in(p, _ACID_PH)) for p in scene.portions) > 0.1
    beside = beside or pool.has("hydroxide") > 0.1
    if 1000 * pool.water_l > grams and not beside and setting.place not in ("shelf", "standing", "damp"):
        return
    warm = setting.temperature_c >= _WARM_C or setting.closed or setting.hours >= _OLD_H
    lit = setting.flame or setting.temperature_c >= _LIT_C
    kills = lit or beside or grams >= _MANY_ROLLS_G or (warm and grams >= _A_FEW_ROLLS_G)
    scene.say(
        "nitrate_film", KILLS if kills else HURTS,
        "cellulose nitrate lights itself when it is old, warm or shut in, burns under water and sand too, and fills the room with nitrogen dioxide",
        f"{grams:.0f} g", "Not in the house: keep it cold and vented, away from all else, and ask an archive or the fire brigade.",
    )  # fmt: skip


# Vapour pressure of mercury at 20 C, Pa (handbook value, from memory); doubled by about eight degrees.
_MERCURY_PA, _MERCURY_DOUBLES_K, _ROOM_C = 0.17, 8.0, 20.0
# A film of still air, m/s; a spill runs into drops over a hundredth of a square metre; J/mol of a gas at 20 C.
_AIR_FILM_M_PER_S, _DROPS_M2, _GAS_J_PER_MOL = 0.0025, 0.01, 2437.0
# Beyond this the doubling overstates.
_MERCURY_WARMEST_C, _IODINE_WARMEST_C = 250.0, 100.0
_SECONDS_PER_H = 3600.0


def _vapour_mol(setting: Setting, surface_m2: float, pressure_pa: float, doubles_k: float, warmest_c: float) -> float:
    """What leaves a surface that lies open, through still air: its pressure at room temperature doubles by so many degrees."""
    warmer = 2 ** ((min(warmest_c, setting.temperature_c) - _ROOM_C) / doubles_k)
    seconds = _SECONDS_PER_H * max(setting.released_h, min(setting.hours, 8.0))
    return _AIR_FILM_M_PER_S * surface_m2 * seconds * pressure_pa * warmer / _GAS_J_PER_MOL


def _mercury(scene: Scene) -> None:
    """Mercury that lies open gives off vapour that nobody smells."""
    setting, metal = scene.setting, scene.first.substance("mercury")
    if metal < 1e-4 or setting.closed:
        return
    leaves = _vapour_mol(setting, _DROPS_M2, _MERCURY_PA, _MERCURY_DOUBLES_K, _MERCURY_WARMEST_C)
    scene.gas(
        "mercury_vapour", "mercury_vapour", min(metal, leaves), "mercury that lies open, and more where it is warm",
        "Air the room, touch and sweep nothing, keep others out and ask the collection.", all_of_it=True,
    )  # fmt: skip


# Vapour pressure of iodine at 20 C, Pa, doubled by nine degrees (handbook values, from memory); the surface of crystals in a dish.
_IODINE_PA, _IODINE_DOUBLES_K, _CRYSTALS_M2 = 27.0, 9.0, 0.002


def _iodine(scene: Scene) -> None:
    """Iodine crystals that lie open, above all where it is warm."""
    setting = scene.setting
    iodine = math.fsum(p.moles.get("iodine", 0.0) for p in scene.portions if p.solid)
    if iodine < 1e-3 or setting.closed or setting.place in ("shelf", "damp", "drain"):
        return
    leaves = _vapour_mol(setting, _CRYSTALS_M2, _IODINE_PA, _IODINE_DOUBLES_K, _IODINE_WARMEST_C)
    scene.gas(
        "iodine_vapour", "iodine", min(iodine, leaves), "crystals that lie open give it off, and more where it is warm",
        "A tight stopper; out of the room, and air it.", all_of_it=True,
    )  # fmt: skip


# Acid and lye that eat a pipe and heat the water in its trap: a tenth of a litre of battery acid, 80 g of lye.
_EATS_PIPES_MOL, _ACID_OF_PIPES_PH, _LYE_OF_PIPES_PH = 1.0, 1.0, 13.5
# Iron(III) and copper(II) chloride that etch, not the thin bleach of a film: half a mole, no thinner than 80 g/L (our judgement).
_ETCHES_MOL, _ETCHES_MOL_PER_L = 0.5, 0.5
# Solvents that mix with water float no film, but their vapour comes back up from this much on: a wine glass, a large bottle of spirit.
_KETONE_DOWN_MOL, _SPIRIT_DOWN_MOL = 1.0, 6.0
# The same beside a flame or with hot water: a spoonful or two, a cup of spirit (our judgement).
_DRIVEN_UP_MOL, _SPIRIT_DRIVEN_UP_MOL, _DRIVES_UP_C = 0.15, 1.5, 45.0
# What a septic tank is told of: a gram or so of each; acid and lye that turn its water.
_SEPTIC_MOL, _SEPTIC_ACID_MOL, _SEPTIC_PH = 3e-3, 0.3, (4.0, 11.0)
_TANK_POISONS = ("silver", "copper_ii", "mercury", "lead", "dichromate", "permanganate", "hypochlorite", "thiosulfate", "thiocyanate", "thiourea") + (
    "developer", "aldehyde", "selenite", "sulfide", "cyanide", "iron_cyanide", "azide", "solvent", "ketone", "chlorinated", "peroxide", "persulfate", "iodide", "halogen", "chlorate"
)  # fmt: skip


# What lives in a tank bears so many times more of these, which are no poison of it but by their amount (our judgement).
_BORNE_IN_A_TANK = {"thiosulfate": 10.0, "peroxide": 10.0, "iodide": 3.0}


def _down_the_pipe(scene: Scene) -> None:
    """What eats the pipe, comes back up as vapour, or kills the tank behind it."""
    setting, pool = scene.setting, scene.first
    if setting.place != "drain":
        return
    strong = pool.acid_above(_ACID_OF_PIPES_PH), -pool.acid_above(_LYE_OF_PIPES_PH)
    if max(strong) > _EATS_PIPES_MOL:
        scene.say(
            "drain_corrosive", TELLS, "so much strong acid or lye heats the water in the trap, spits, and eats metal pipes and seals",
            amount_of(max(strong)), "Little by little into much cold water first, then down with the tap running.",
        )  # fmt: skip
    etches = pool.has("iron_iii") + pool.has("copper_ii")
    if etches > _ETCHES_MOL and etches / pool.volume_l > _ETCHES_MOL_PER_L and pool.has("chloride") > etches:
        scene.say(
            "drain_corrosive", TELLS, "an etching liquid eats copper, brass and steel of traps, pipes and sinks",
            amount_of(etches), "Not down any drain: keep it and hand it in.",
        )  # fmt: skip
    light = pool.has("ketone") + pool.substance("ethyl_acetate")
    if light > _KETONE_DOWN_MOL or pool.has("alcohol") > _SPIRIT_DOWN_MOL:
        scene.say(
            "drain_fire", TELLS, "the vapour of a solvent comes back up out of the trap and burns", amount_of(light + pool.has("alcohol")),
            "Not down any drain.",
        )  # fmt: skip
    burning = pool.substance(*_LIGHT)
    driven = burning + light > _DRIVEN_UP_MOL or pool.has("alcohol") > _SPIRIT_DRIVEN_UP_MOL
    if driven and (setting.flame or setting.temperature_c > _DRIVES_UP_C):
        scene.say(
            "drain_flash", HURTS, "a light solvent in the trap comes back up as vapour, at once where hot water drives it, and flashes at a flame or spark",
            amount_of(burning + light + pool.has("alcohol")), "Not down any drain; no flame and no switch near, cold water only, window open.",
        )  # fmt: skip
    if burning > _CELLAR_FULL_MOL:
        scene.say(
            "drain_fire", KILLS, "light spirit floats on the trap and fills pipe and room with vapour: a switch or a flame far away sets it off", amount_of(burning),
            "Not down any drain; no switch, doors open, out.",
        )  # fmt: skip
    if not setting.septic:
        return
    low, high = _SEPTIC_PH
    turned = max(pool.acid_above(low), -pool.acid_above(high))
    poisons = {entity: pool.has(entity) / _BORNE_IN_A_TANK.get(entity, 1.0) for entity in _TANK_POISONS}
    worst = max(poisons, key=poisons.__getitem__)
    if poisons[worst] > _SEPTIC_MOL or turned > _SEPTIC_ACID_MOL:
        scene.say(
            "septic_tank", TELLS, "a septic tank or soakaway: it kills what works there and goes into the ground",
            amount_of(max(pool.has(worst), turned)), "Nothing of it into a septic tank: keep it and hand it in.",
        )  # fmt: skip


# Liquids that burn at any spark, and float on the water of a trap: a large bottle fills pipe and cellar (our judgement).
_LIGHT, _CELLAR_FULL_MOL = ("petrol", "diethyl_ether", "carbon_disulfide", "toluene"), 6.0
# A month or two in which fumes creep out of a cap; so much of what fumes, and of bare metal (our judgement).
_CREEPS_H, _FUMES_SHARE, _FUMES_MOL, _BARE_METAL_MOL = 500.0, 0.25, 0.1, 1.0


def _eats_metal_by_its_fumes(scene: Scene) -> None:
    """A bottle that fumes through its cap beside tools and apparatus."""
    setting, pool = scene.setting, scene.first
    if setting.place != "shelf" or setting.closed or setting.hours < _CREEPS_H:
        return
    fumes = math.fsum(
        p.moles.get("hydrochloric_acid", 0.0) for p in scene.portions if p.share_of("hydrochloric_acid") > _FUMES_SHARE
    )
    fumes += math.fsum(p.has("hypochlorite") for p in scene.portions if p.solid) + pool.has("halogen")
    if fumes > _FUMES_MOL and pool.has("metal") > _BARE_METAL_MOL:
        scene.say(
            "fumes_on_metal", TELLS, "its fumes creep out of the cap: they eat metal, tins and contacts beside it and sting when the cupboard is opened", amount_of(fumes),
            "Cool, vented and by itself, away from metal and apparatus.",
        )  # fmt: skip


# Strong sulfuric acid by mass, and moles of acid and of an organic liquid from which they boil (our judgement); hypochlorite and alcohol from
# which it is told: half a wine glass of laundry bleach and two spoons of spirit, or a spoon of acetone.
_CHARS, _CHARRED_MOL, _HYPOCHLORITE_MOL, _SPIRIT_MOL, _ACETONE_MOL = 0.8, 0.1, 0.05, 0.4, 0.1
_CHARRED = ("alcohol", "ketone", "polyol", "aldehyde", "sugar", "solvent", "cellulose")


def _acid_or_bleach_on_organics(scene: Scene) -> None:
    pool = scene.first
    acid = math.fsum(p.moles.get("sulfuric_acid", 0.0) for p in scene.portions if p.share_of("sulfuric_acid") >= _CHARS)
    organic = math.fsum(pool.has(kind) for kind in _CHARRED)
    if len(scene.portions) > 1 and min(acid, organic) > _CHARRED_MOL:
        scene.say(
            "sulfuric_organic", HURTS, "strong sulfuric acid on an organic liquid, sugar, paper or wood chars it, boils up and throws acid and burning vapour",
            amount_of(min(acid, organic)), "Never bring them together, not even to rinse a vessel.",
        )  # fmt: skip
    if pool.has("hypochlorite") > _HYPOCHLORITE_MOL and pool.has("ketone") > _ACETONE_MOL and pool.wet:
        scene.say(
            "haloform", TELLS, "hypochlorite on acetone makes chloroform, which stupefies and harms the liver, with heat", amount_of(min(pool.has("hypochlorite"), pool.has("ketone"))),
            "Never clean a solvent up with hypochlorite.", gas="chloroform",
        )  # fmt: skip
    if pool.has("hypochlorite") > _HYPOCHLORITE_MOL and pool.has("alcohol") > _SPIRIT_MOL and pool.wet:
        scene.say(
            "hypochlorite_alcohol", TELLS, "hypochlorite on alcohol makes chloroform and other vapours that sting and stupefy, with heat",
            amount_of(min(pool.has("hypochlorite"), pool.has("alcohol"))), "Never clean a solvent up with hypochlorite.",
        )  # fmt: skip


# Grams of a dry nitro explosive that maim.
_DRY_EXPLOSIVE_MOL = 5e-3


def _dry_explosive(scene: Scene) -> None:
    """Picric acid and its like: kept wet they wait, dry or under a metal cap they explode when they are rubbed."""
    dry = math.fsum(p.has("explosive") for p in scene.portions if p.solid)
    metal = scene.first.has("metal") + scene.first.has("copper_ii") + scene.first.has("lead")
    if dry > _DRY_EXPLOSIVE_MOL or (scene.first.has("explosive") > _DRY_EXPLOSIVE_MOL and metal > 1e-3):
        scene.say(
            "dry_explosive", KILLS, "a nitro explosive: dry, or as the salt of a metal, it explodes when it is rubbed or its cap is turned",
            amount_of(scene.first.has("explosive")), "Do not touch, open or move it; keep others out and call the police or fire brigade.",
        )  # fmt: skip


# Grams of magnesium that blind and burn: a few centimetres of ribbon; of metal dust a spoon (our judgement).
_BURNING_RIBBON_G, _MAGNESIUM_G_PER_MOL = 0.3, 24.3


def _burning_metal(scene: Scene) -> None:
    """Magnesium beside a flame burns at over 2000 C with a light that blinds, and water feeds it."""
    setting = scene.setting
    grams = _MAGNESIUM_G_PER_MOL * scene.first.substance("magnesium")
    if grams > _BURNING_RIBBON_G and (setting.flame or setting.temperature_c >= _SETS_ALIGHT_C):
        scene.say(
            "burning_metal", HURTS, "magnesium burns with a light that hurts the eyes, drops white-hot crumbs, and burns on in water and carbon dioxide",
            f"{grams:.1g} g", "Not indoors; dry sand on it, never water.",
        )  # fmt: skip


# A flame or a glowing plate.
_SETS_ALIGHT_C = 150.0

# Metal powder that burns with sulfur or takes the oxygen of another oxide, moles of each (a spoonful or two), and what lights it.
_DUST_MOL = 0.2


def _metal_mixtures(scene: Scene) -> None:
    """Light metal as powder with sulfur, rust or another oxide: dry it waits, lit nothing puts it out."""
    pool = scene.first
    metal = metal_dust_mol(scene.portions)
    other = pool.substance("sulfur", "iron_hydroxide", "manganese_dioxide", "silver_oxide", "chlorinated") + pool.has(
        "chlorinated"
    )
    if pool.water_l or min(metal, other) < _DUST_MOL or scene.setting.place in ("shelf", "room"):
        return
    lit = scene.setting.flame or scene.setting.temperature_c >= _SETS_ALIGHT_C
    scene.say(
        "metal_mixture", KILLS if lit else HURTS, "metal powder with sulfur, rust, an oxide or a chlorinated solvent burns white-hot once a spark or rubbing lights it, and nothing puts it out",
        amount_of(min(metal, other)), "Never mix or grind them; dry sand, never water.",
    )  # fmt: skip


# White phosphorus of the size of a pea; vinyl, foam and the like on a flame or plate, 50 g and more (our judgement).
_PEA_MOL, _VINYL_MOL, _CHLORIDE_OF_VINYL = 2e-3, 0.5, 0.3


def _lights_itself(scene: Scene) -> None:
    pool = scene.first
    if pool.has("white_phosphorus") > _PEA_MOL:
        kept = (
            1000 * pool.water_l > _PHOSPHORUS_G_PER_MOL * pool.has("white_phosphorus") and scene.setting.place != "damp"
        )
        scene.say(
            "white_phosphorus", HURTS if kept else KILLS, "white phosphorus lights itself in air, burns through skin to the bone, and a crumb of it kills who swallows it",
            amount_of(pool.has("white_phosphorus")), "Leave it under water, touch nothing, and call the fire brigade.",
        )  # fmt: skip
    vinyl = pool.has("vinyl")
    if vinyl > _VINYL_MOL and (scene.setting.flame or scene.setting.temperature_c >= _SETS_ALIGHT_C):
        scene.gas(
            "burning_vinyl", "hydrogen_chloride", _CHLORIDE_OF_VINYL * vinyl, "vinyl that burns or chars gives it off", "Out, and air the room; burn none of it.", all_of_it=True,
        )  # fmt: skip


# Grams on a mole of white phosphorus; ozone falls apart by itself, half of it in half an hour of a furnished room (our judgement).
_PHOSPHORUS_G_PER_MOL, _OZONE_LEFT = 124.0, 0.5


def _ozone(scene: Scene) -> None:
    ozone = scene.first.has("ozone")
    if ozone and not scene.setting.closed:
        scene.gas(
            "ozone", "ozone", _OZONE_LEFT * ozone, "it attacks the lungs long before it stops smelling fresh", "Nobody in the room while it runs, and air it an hour afterwards.", all_of_it=True,
        )  # fmt: skip


# Metal that water sets on fire, in the damp: a gram or two.
_WATER_SHY_MOL = 0.05


# A hydride that wets itself from the air warms and gives hydrogen: 10 g and more (our judgement).
_DAMP_HYDRIDE_MOL = 1.0


def _damp_sodium(scene: Scene) -> None:
    sodium, hydride = scene.first.substance("sodium"), scene.first.has("hydride")
    if scene.setting.place == "damp" and hydride > _DAMP_HYDRIDE_MOL:
        scene.say(
            "damp_hydride", HURTS, "borohydride in the damp gives hydrogen and warms, and a wet heap of it may light itself", amount_of(hydride),
            "Dry and vented; a wet one outdoors into much alkaline water.",
        )  # fmt: skip
    if scene.setting.place == "damp" and sodium > _WATER_SHY_MOL:
        scene.say(
            "damp_sodium", HURTS, "sodium, lithium and their like in the damp: hydrogen, lye, and at the first drop fire", amount_of(sodium),
            "Under oil or sealed and dry; a swollen or pierced cell outdoors, on stone.",
        )  # fmt: skip


# Mercury or its salt that eats a hole in aluminium: a few tenths of a gram; sulfide in an open drum: a hundred grams (our judgement).
_AMALGAM_MOL, _DRUM_MOL, _DRUM_H = 2e-3, 1.0, 24.0


def _amalgam(scene: Scene) -> None:
    pool = scene.first
    if min(pool.has("mercury"), pool.substance("aluminium")) > _AMALGAM_MOL and scene.setting.place not in (
        "shelf",
        "room",
    ):
        scene.say(
            "amalgam", TELLS, "mercury on aluminium eats through it within hours, with warmth and hydrogen, and no skin of oxide stops it", amount_of(pool.has("mercury")),
            "Glass or plastic only; touch nothing, and hand metal and mercury in.",
        )  # fmt: skip


def _damp_sulfide(scene: Scene) -> None:
    """Sulfide that lies open in the damp: it runs, and the carbon dioxide of the air frees its gas."""
    setting, sulfide = scene.setting, math.fsum(p.has("sulfide") for p in scene.portions if p.solid)
    if setting.place == "damp" and not setting.closed and setting.hours >= _DRUM_H and sulfide > _DRUM_MOL:
        scene.say(
            "damp_sulfide", TELLS, "sulfide open in the damp runs, burns skin, and the carbon dioxide of the air frees hydrogen sulfide from it day and night", amount_of(sulfide),
            "A tight tub, away from acid and metal; air before anyone bends over it.", gas="hydrogen_sulfide",
        )  # fmt: skip


# Lye that eats glass and cements it as it drinks from the air, mol/L: a developer of soda does not within months (common practice, no
# source); weeks that nobody counts where nobody says how long it stands.
_CEMENTS_MOL_PER_L, _CEMENTS_H = 0.25, 100.0


def _stopper_seizes(scene: Scene) -> None:
    """Lye under a ground-glass stopper."""
    setting = scene.setting
    waits = setting.place in ("shelf", "standing", "closed_jug") and not 0 < setting.hours < _CEMENTS_H
    if not (setting.glass_stopper and waits):
        return
    for portion in scene.portions:
        # Pellets drink water from the air and run; lime does not.
        lye = portion.has("hydroxide") - 2 * portion.moles.get("calcium_hydroxide", 0.0)
        if 1000 * lye / portion.volume_ml > _CEMENTS_MOL_PER_L:
            scene.say(
                "stopper_seizes", TELLS, "lye cements a ground-glass stopper: who wrings it off breaks the neck, cuts the hand, and lye splashes into the eyes", amount_of(lye),
                "A plastic bottle with a screw cap; leave a seized one shut, goggles and gloves, and hand it in.",
            )  # fmt: skip
            return


# An hour's charging of an accumulator past full, at a tenth of what it holds, gives so many moles of hydrogen for each mole of its acid (six
# cells, two electrons a hydrogen; 12 Ah and 4.8 mol of acid a litre, from memory); and how long nobody says it is.
_CHARGED, _HYDROGEN_PER_H, _CHARGED_H, _BALLOONS_MOL = regex(r"charg"), 0.03, 8.0, 2.0


def _charging(scene: Scene) -> None:
    """An accumulator on its charger."""
    acid = math.fsum(p.moles.get("sulfuric_acid", 0.0) for p in scene.portions if _CHARGED.search(p.name.lower()))
    with scene.as_it_stands():
        scene.gas(
            "charging", "hydrogen", acid * _HYDROGEN_PER_H * (scene.setting.hours or _CHARGED_H), "an accumulator on its charger gives it off once it is full, with oxygen",
            "An open airy place, no spark, no switch; the charger off before the clamps.", all_of_it=True, told_from=_BALLOONS_MOL,
        )  # fmt: skip


# Carbon monoxide and hydrogen cyanide of a mole of plastic that smoulders or burns with little air, each as the named unit (our judgement).
_PLASTIC_MOL, _MONOXIDE_OF_PLASTIC, _CYANIDE_OF_NITROGEN = 0.3, 0.5, 0.1


def _burning_plastic(scene: Scene) -> None:
    """Foam, film, cable, fibres that burn or char indoors."""
    pool, setting = scene.first, scene.setting
    plastic = pool.has("plastic")
    if plastic < _PLASTIC_MOL or pool.wet or setting.temperature_c < _SETS_ALIGHT_C:
        return
    for gas, moles in (
        ("carbon_monoxide", _MONOXIDE_OF_PLASTIC * plastic),
        ("hydrogen_cyanide", _CYANIDE_OF_NITROGEN * pool.has("nitrogen_plastic")),
    ):
        scene.gas(
            "burning_plastic", gas, moles, "plastic, foam or fibre that burns or chars gives it off in black smoke", "Out, doors shut behind you; burn none of it.", all_of_it=True,
        )  # fmt: skip


PLACED: tuple[Callable[[Scene], None], ...] = (
    _nitrate_film, _mercury, _iodine, _dry_explosive, _burning_metal, _lights_itself, _ozone, _charging, _burning_plastic, _acid_or_bleach_on_organics, _down_the_pipe, _eats_metal_by_its_fumes, _metal_mixtures, _damp_sodium, _amalgam, _damp_sulfide, _stopper_seizes,
)  # fmt: skip
