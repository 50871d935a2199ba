"""Substances: what a bath is made of, once the bottle is forgotten."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from obverse.foundation import Document
from obverse.process.product import KEY

# What a substance is to the hazard rules and to the order of adding.
CLASSES = (
    "acid_strong",
    "acid_weak",
    "organic_acid",
    "oxalate_tartrate",
    "ammonia",
    "ammonium_salt",
    "hydroxide",
    "carbonate",
    "borate",
    "thiosulfate",
    "thiocyanate",
    "sulfite",
    "dithionite",
    "thiourea_dioxide",
    "stannous",
    "developer_agent",
    "reducer",
    "oxidiser",
    "permanganate",
    "dichromate",
    "peroxide",
    "hypochlorite",
    "iron_chloride",
    "copper",
    "cerium",
    "nitrate",
    "chloride",
    "bromide",
    "iodide",
    "halogen",
    "sulfide",
    "silver",
    "silver_ammine",
    "combustible",
    "alcohol",
    "ketone",
    "sugar",
    "surfactant",
    "cyanide",
    "ferricyanide",
    "nitrite",
    "persulfate",
    "chlorate",
    "thiourea",
    "aldehyde",
    "selenium",
    "metal",
    "hardener",
    "manganese",
    "iron_ii",
    "iron_iii_salt",
    "amine",
    "hydride",
    "azide",
    "polyol",
    "mercury",
    "lead",
    "gold",
    "fluoride",
    "chromium_iii",
    "carbide",
    "phosphide",
    "asphyxiant",
    "chlorinated",
)


class Substance(Document):
    """One chemical substance, a hydrate being a substance of its own.

    `active` names what it brings to a bath, so that hydrates and the salts of another metal can
    stand for each other: `active_per_mole` moles of it per mole of the substance. `ions` are the
    strong ions (they keep their charge at any pH), `buffers` the moles of each acid-base system
    of `obverse.chemistry.acidity`, both per mole.
    """

    key: str = Field(pattern=KEY)
    name: str = Field(min_length=1, max_length=120)
    formula: str = Field(min_length=1, max_length=60)
    molar_mass_key: str
    phase: Literal["solid", "liquid"] = "solid"
    classes: tuple[Literal[CLASSES], ...] = ()  # type: ignore[valid-type]
    active: str = ""
    active_per_mole: float = Field(default=0, ge=0)
    ions: dict[str, float] = Field(default_factory=dict)
    buffers: dict[str, float] = Field(default_factory=dict)
    solubility_key: str = Field(default="", description="reference record of its solubility in g/L, where one is held")
    hazard_row: str = Field(default="", description="substance of the GHS table of the reference")
    note: str = Field(default="", max_length=400)


# The strongest that shops sell of liquids that are no pure liquid: g/L.
STRONGEST_G_PER_L = {
    "ammonia": 227.0,
    "hydrochloric_acid": 360.0,
    "hydrogen_peroxide": 390.0,
    "sodium_hypochlorite": 150.0,
    "nitric_acid": 910.0,
    "sulfuric_acid": 1766.0,
    "formaldehyde": 400.0,
    "phosphoric_acid": 1430.0,
    "hydrofluoric_acid": 480.0,
    "hydrobromic_acid": 700.0,
    "perchloric_acid": 1170.0,
    "peracetic_acid": 170.0,
    "ammonium_sulfide": 200.0,
    "sodium_permanganate": 500.0,
}
# Of every other one, g/L.
STRONGEST_OF_OTHERS_G_PER_L = 800.0
