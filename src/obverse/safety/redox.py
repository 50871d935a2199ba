"""Oxidisers meet what they oxidise: which pairs react in the time of a bath, in which order, with what heat.

The potentials say what can happen and how much heat it gives; they say nothing of speed. The speeds here are
common chemical knowledge of dilute solutions near 20 C (from memory), as shares done in ten minutes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from obverse.safety.body import Pool
from obverse.safety.properties import oxidants, reductants

# Faraday's constant, kJ of a mole of electrons and a volt.
FARADAY_KJ_PER_V = 96.485
# Nitric acid in mol/L that oxidises what is near at once; acid in mol/L that dichromate and cerium need (our judgement).
_OXIDISING_NITRIC, _DICHROMATE_ACID = 3, 3e-3
# The part of a speed that is left without that acid, and peroxide on thiocyanate without any (our judgement).
_WITHOUT_ACID, _PEROXIDE_ON_THIOCYANATE = 0.3, 0.05
# Volts that peroxide gives its electrons at (from memory), and the least that a reaction which goes is worth.
_PEROXIDE_GIVES_V, _LEAST_V = 0.70, 0.05

_SULFUR = ("dithionite", "sulfite", "sulfide", "thiosulfate", "thiourea_dioxide", "thiourea")
_QUICK = ("stannous", "hydride", "hydrazine", "iodide", "iron_ii", "developer", "hypophosphite")

# Oxidant -> reductant -> share done in about ten minutes in cold dilute solution that suits it.
_SPEED: dict[str, dict[str, float]] = {
    "hypochlorite": {
        **dict.fromkeys((*_SULFUR, *_QUICK, "thiocyanate", "cyanide", "peroxide", "bromide", "azide"), 1.0),
        "amine": 1.0,
        "aldehyde": 0.7,
        "ketone": 0.5,
        "alcohol": 0.3,
        "polyol": 0.2,
        "sugar": 0.3,
        "organic_acid": 0.1,
        "oxalate": 0.3,
    },
    "permanganate": {
        **dict.fromkeys((*_SULFUR, *_QUICK, "thiocyanate", "cyanide", "peroxide", "oxalate"), 1.0),
        "aldehyde": 0.8,
        "formate": 0.5,
        "polyol": 0.4,
        "sugar": 0.3,
        "alcohol": 0.2,
        "organic_acid": 0.05,
        "amine": 0.2,
        "ketone": 0.05,
    },
    "dichromate": {
        **dict.fromkeys((*_SULFUR, *_QUICK), 1.0),
        "thiocyanate": 0.3,
        "peroxide": 1.0,
        "aldehyde": 0.5,
        "alcohol": 0.15,
        "polyol": 0.1,
        "sugar": 0.1,
    },
    "peroxide": {
        **dict.fromkeys(_SULFUR, 1.0),
        "stannous": 1.0,
        "hydride": 1.0,
        "hydrazine": 0.3,
        "iodide": 0.5,
        "iron_ii": 1.0,
        "developer": 0.2,
        "thiocyanate": 0.3,
        "cyanide": 0.3,
    },
    "persulfate": {**dict.fromkeys(_SULFUR, 0.5), "stannous": 1.0, "iron_ii": 1.0, "iodide": 0.5, "developer": 0.5},
    "cerium_iv": {**dict.fromkeys((*_SULFUR, *_QUICK), 1.0), "peroxide": 1.0, "oxalate": 0.5, "thiocyanate": 0.3},
    "iron_iii": {
        "dithionite": 1.0,
        "stannous": 1.0,
        "sulfite": 0.8,
        "thiosulfate": 0.97,
        "thiourea_dioxide": 0.5,
        "sulfide": 0.6,
        "iodide": 1.0,
        "developer": 1.0,
        "thiourea": 0.2,
        "hydrazine": 0.5,
    },
    "ferricyanide": {"dithionite": 1.0, "sulfide": 1.0, "thiosulfate": 0.2, "stannous": 1.0, "developer": 0.5},
    "copper_ii": {"dithionite": 1.0, "iodide": 1.0, "hydride": 1.0, "hypophosphite": 0.1},
    "halogen": {**dict.fromkeys((*_SULFUR, *_QUICK), 1.0)},
    "manganese_dioxide": dict.fromkeys(("sulfite", "dithionite", "iodide", "oxalate"), 0.5),
    "iodate": dict.fromkeys(("sulfite", "dithionite", "iodide"), 1.0),
    "chlorate": {},
    "nitrate": {},
    "nitrite": {},
    "perchlorate": {},
}
# Strong oxidisers first: they take what there is.
ORDER = (
    "hypochlorite",
    "permanganate",
    "cerium_iv",
    "dichromate",
    "peroxide",
    "chlorate",
    "halogen",
    "persulfate",
    "iodate",
    "nitrate",
    "nitrite",
    "manganese_dioxide",
    "iron_iii",
    "ferricyanide",
    "copper_ii",
)
# Slowest steps of partial oxidation: what is taken in dilute solution, in electrons a mole.
_PARTLY = {
    "alcohol": 2.0,
    "polyol": 4.0,
    "sugar": 2.0,
    "ketone": 6.0,
    "aldehyde": 2.0,
    "organic_acid": 2.0,
    "thiourea": 8.0,
    "amine": 3.0,
}


# What a mole of each leaves of its ions and buffers: (lost, made). Acid follows from the charges.
_PRODUCTS: dict[str, tuple[dict[str, float], dict[str, float]]] = {
    "hypochlorite": ({"hypochlorite": 1}, {"Cl-": 1}),
    "permanganate": ({"MnO4-": 1}, {"Mn 2+": 1}),
    "dichromate": ({"chromate": 2}, {"chromium_iii": 2}),
    "peroxide": ({"peroxide": 1}, {}),
    "persulfate": ({"S2O8 2-": 1}, {"sulfate": 2}),
    "cerium_iv": ({"Ce 4+": 1}, {"Ce 3+": 1}),
    "iron_iii": ({"iron_iii": 1}, {"Fe 2+": 1}),
    "nitrate": ({"NO3-": 1}, {}),
    "nitrite": ({"nitrite": 1}, {}),
    "halogen": ({}, {"I-": 2}),
    "copper_ii": ({"Cu 2+": 1}, {"Cu+": 1}),
    "sulfite": ({"sulfite": 1}, {"sulfate": 1}),
    "dithionite": ({"S2O4 2-": 1}, {"sulfate": 2}),
    "thiosulfate": ({"S2O3 2-": 1}, {"sulfate": 2}),
    "sulfide": ({"sulfide": 1}, {}),
    "stannous": ({"Sn 2+": 1}, {"Sn 4+": 1}),
    "thiocyanate": ({"SCN-": 1}, {"cyanide": 1, "sulfate": 1}),
    "iodide": ({"I-": 1}, {}),
    "bromide": ({"Br-": 1}, {}),
    "iron_ii": ({"Fe 2+": 1}, {"iron_iii": 1}),
    "cyanide": ({"cyanide": 1}, {}),
}


@dataclass(frozen=True, slots=True)
class Met:
    """An oxidiser and what it oxidised.

    Parameters
    ----------
    electrons_mol : float
        Exchanged.
    heat_kj : float
    """

    oxidant: str
    reductant: str
    electrons_mol: float
    oxidant_mol: float
    reductant_mol: float
    heat_kj: float


def strong_acid(pool: Pool) -> bool:
    """Acid of more than about two moles a litre: nitrate and chlorate wake up."""
    return pool.acid_above(0.5) / pool.volume_l > 1.0


def speed(oxidant: str, reductant: str, pool: Pool) -> float:
    """Share done, 0 for what does not react in time under this acidity."""
    share = _SPEED.get(oxidant, {}).get(reductant, 0.0)
    acid = pool.protons_mol_per_l
    if oxidant == "nitrate":
        strong = pool.substance("nitric_acid") / pool.volume_l > _OXIDISING_NITRIC or (
            strong_acid(pool) and pool.has("nitrate") / pool.volume_l > _OXIDISING_NITRIC
        )
        known = (*_SULFUR, *_QUICK, "thiocyanate", "cyanide")
        return 1.0 if strong and reductant in known else 0.0
    if oxidant == "chlorate":
        return 0.5 if strong_acid(pool) and reductant in (*_SULFUR, *_QUICK) else 0.0
    if oxidant == "nitrite":
        return 1.0 if acid > 1e-4 and reductant in ("sulfite", "iodide", "hydrazine", "thiourea", "amine") else 0.0
    if oxidant in ("dichromate", "cerium_iv") and acid < _DICHROMATE_ACID:
        return _WITHOUT_ACID * share if reductant in ("dithionite", "sulfite", "stannous") else 0.0
    if oxidant == "permanganate" and acid < 1e-3 and reductant in ("peroxide", "thiocyanate", "organic_acid"):
        return _WITHOUT_ACID * share
    if oxidant == "peroxide" and reductant == "thiocyanate" and acid < 1e-4:
        return _PEROXIDE_ON_THIOCYANATE
    if oxidant == "peroxide" and reductant in ("thiosulfate", "thiourea") and acid < 1e-6:
        return 0.5 * share
    if oxidant == "iron_iii" and acid < 1e-4:
        # Its hydroxide has fallen out.
        return _WITHOUT_ACID * share
    return share


def electrons_of(oxidant: str, reductant: str) -> float:
    """Electrons a mole of the reductant gives to this oxidiser in cold dilute solution."""
    if reductant == "thiosulfate" and oxidant in ("iron_iii", "ferricyanide", "halogen", "copper_ii"):
        return 1.0
    if reductant == "sulfide" and oxidant in ("hypochlorite", "peroxide"):
        return 8.0
    if reductant in _PARTLY:
        return _PARTLY[reductant]
    if reductant == "peroxide":
        return 2.0
    if reductant == "dithionite" and oxidant in ("iron_iii", "ferricyanide", "copper_ii"):
        return 2.0
    return reductants()[reductant].electrons


def react(pool: Pool) -> Iterator[Met]:
    """Let the oxidisers act, strongest first, and yield each meeting; the pool loses what is used up."""
    for oxidant in ORDER:
        for reductant in _SPEED[oxidant] or (*_SULFUR, *_QUICK, "thiocyanate", "amine"):
            if pool.has(oxidant) <= 0:
                break
            if pool.has(reductant) <= 0 or oxidant == reductant:
                continue
            done = speed(oxidant, reductant, pool)
            if done <= 0:
                continue
            takes, gives = oxidants()[oxidant].electrons, electrons_of(oxidant, reductant)
            electrons = done * min(pool.has(oxidant) * takes, pool.has(reductant) * gives)
            if electrons <= 1e-9:
                continue
            goes_to = _PEROXIDE_GIVES_V if reductant == "peroxide" else reductants()[reductant].potential_v
            heat = max(_LEAST_V, oxidants()[oxidant].potential_v - goes_to) * FARADAY_KJ_PER_V * electrons
            met = Met(oxidant, reductant, electrons, electrons / takes, electrons / gives, heat)
            pool.take(oxidant, met.oxidant_mol)
            pool.take(reductant, met.reductant_mol)
            for entity, moles in ((oxidant, met.oxidant_mol), (reductant, met.reductant_mol)):
                lost, made = _PRODUCTS.get(entity, ({}, {}))
                if entity == "dithionite" and gives == 2.0:
                    # Two electrons make it sulfite; that is still there.
                    made = {"sulfite": 2}
                    pool.left["sulfite"] = pool.has("sulfite") + 2 * moles
                elif entity == "thiosulfate" and (gives == 1.0 or pool.has("thiosulfate") > 0):
                    # Where thiosulfate is over, it stops at tetrathionate and makes no acid.
                    made = {"S4O6 2-": 0.5}
                elif entity == "sulfide" and gives == 8.0:
                    made = {"sulfate": 1}
                pool.turn(moles, lost, made)
            pool.heat_kj += heat
            yield met


def used_up(pool: Pool) -> tuple[str, str, float] | None:
    """The oxidiser of which most is gone as soon as the parts of one bath meet, what takes most of it, and the share; nothing where all stay."""
    had = dict(pool.left)
    takers: dict[str, dict[str, float]] = {}
    for met in react(pool):
        takers.setdefault(met.oxidant, {})[met.reductant] = met.oxidant_mol
    shares = {
        oxidant: math.fsum(taken.values()) / had[oxidant] for oxidant, taken in takers.items() if had.get(oxidant)
    }
    if not shares:
        return None
    worst = max(shares, key=shares.__getitem__)
    # Sulfite that dithionite turned to stands in no recipe.
    brought = {reductant: taken for reductant, taken in takers[worst].items() if had.get(reductant)}
    return worst, max(brought, key=brought.__getitem__), shares[worst]
