"""What chemistry says of a mixed bath where it decides something: how many rolls it takes, what spoils it, what truly dissolves."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from obverse.chemistry import (
    BLEACHES,
    Capacity,
    Range,
    ammonia_capacity,
    bleach_capacity,
    fixer_capacity_rolls_per_l,
    mass_ratio,
    permanganate_lost_to_chloride_g,
    permanganate_lost_to_sulfite_g,
    rolls_in_practice,
    saturate,
)
from obverse.foundation import JsonObject
from obverse.mixing.sheet import MixSheet, active_mol_per_l
from obverse.process.catalog import substance as known_substance
from obverse.reference import number, record

# Chloride of tap water or of a poor rinse, for showing what it costs.
_CARRIED_CHLORIDE_MOL_PER_L = 0.05

# What ends a bleach before its arithmetic does (shelf-life table of the reference), and the record of practice.
_ENDS_BEFORE = {
    "iron_iii": ("acid lost by thinning, iron(II) and sludge end it", "practice.bath.iron_rolls_per_l"),
    "peroxide": (
        "silver makes it fall apart within the hour, so it serves one evening",
        "practice.bath.peroxide_rolls_per_l",
    ),
}

# A first developer whose acidity cannot be computed; common practice, no source.
USUAL_DEVELOPER_PH = 9.0
# Above this share a percentage would pretend to know more than the constants do.
NEARLY_ALL = 0.99
# 5 HSO3- to 2 MnO4-, two of them from each metabisulfite.
METABISULFITE_PER_TWO_PERMANGANATE = 2.5


@dataclass(frozen=True, slots=True)
class Insight:
    """One thing worth knowing of a bath.

    Parameters
    ----------
    text : str
        In plain words, with its range.
    source : str
        Key of the record it rests on.
    rolls : Range or None
        Where it is a capacity: 135-36 films that this volume takes.
    """

    code: str
    text: str
    source: str
    rolls: Range | None = None

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "code": self.code,
            "text": self.text,
            "source": self.source,
            "rolls": None if self.rolls is None else self.rolls.document(),
        }


def insights(sheet: MixSheet) -> tuple[Insight, ...]:
    """Everything we can say of a mixed bath. An empty answer means that nothing recorded decides.

    Parameters
    ----------
    sheet : MixSheet
        A mixed bath.

    Returns
    -------
    tuple of Insight
        Where labels leave strengths open, what a bath takes is told from the weakest they may mean.
    """
    if sheet.bounds_g_per_l:
        return _from_the_weakest(sheet)
    active = active_mol_per_l(sheet.contents_mol_per_l)
    found: list[Insight] = []
    if sheet.role == "bleach":
        found += _bleach(sheet, active)
    if sheet.role == "halide_solvent" and active.get("ammonia"):
        found += _ammonia(sheet, active["ammonia"])
    if sheet.role == "fixer" and active.get("thiosulfate") and not any(c.code == "mix.sulfur" for c in sheet.cautions):
        found.append(_fixer(sheet, active["thiosulfate"]))
    if sheet.role == "first_developer":
        found += _solvent(sheet, active)
    if sheet.role == "fogging" and active.get("dithionite"):
        found += _dithionite(sheet, active["dithionite"])
    if sheet.role == "clearing" and active.get("bisulfite"):
        found.append(_clearing(sheet, active["bisulfite"]))
    if active.get("carbonate") or sheet.role == "wetting":
        found.append(_hard_water(sheet))
    return tuple(found)


def _from_the_weakest(sheet: MixSheet) -> tuple[Insight, ...]:
    weakest = {i.code: i for i in insights(sheet.at("low"))}
    found = []
    for likely in insights(replace(sheet, bounds_g_per_l={})):
        least = weakest.get(likely.code)
        if likely.rolls is None:
            found.append(likely if least is None else least)
            continue
        low = 0.0 if least is None or least.rolls is None else least.rolls.low
        rolls = Range(min(low, likely.rolls.low), min(likely.rolls.likely, likely.rolls.high), likely.rolls.high)
        text = (
            f"By the weakest that the labels may mean this volume takes {_amount(rolls.low)} rolls, by the likeliest {_amount(rolls.likely)}: "
            "a clip tells which before a film does."
        )
        found.append(Insight(likely.code, text, likely.source, rolls))
    return tuple(found)


def rolls_in(sheet: MixSheet) -> Range | None:
    """135-36 films that the mixed volume takes, where a capacity is known.

    Parameters
    ----------
    sheet : MixSheet
        A mixed bath.
    """
    return next((i.rolls for i in insights(sheet) if i.rolls is not None), None)


def _bleach(sheet: MixSheet, active: dict[str, float]) -> list[Insight]:
    found = []
    for bleach in BLEACHES:
        oxidant = active.get(bleach, 0.0)
        if not oxidant:
            continue
        need = BLEACHES[bleach].protons_per_silver
        # Titratable protons as counted by the catalogue; a weak acid gives its last ones only poorly.
        protons = active.get("strong_acid", 0.0) + active.get("weak_acid", 0.0)
        capacity = bleach_capacity(bleach, oxidant, acid_mol_per_l=protons / 2 if need else None)
        practice = rolls_in_practice(bleach, capacity.rolls_per_l, oxidant)
        if practice != capacity.rolls_per_l:
            found.append(_fewer_rolls(sheet, capacity.rolls_per_l, practice, bleach))
            continue
        ends = "It decomposes by itself within hours. " if bleach == "permanganate" else ""
        found.append(_rolls(sheet, capacity, f"bleach.{bleach}", "capacity.practical_share", ends))
        if bleach == "permanganate":
            found.append(_permanganate(sheet))
    return found


def _permanganate(sheet: MixSheet) -> Insight:
    present = sheet.contents_g_per_l["potassium_permanganate"] * sheet.volume_ml / 1000
    sulfite, chloride = permanganate_lost_to_sulfite_g(1.0), permanganate_lost_to_chloride_g(1.0)
    return Insight(
        "bleach.permanganate.loss",
        f"The bath holds {present:.2g} g of permanganate. Each gram of sodium sulfite carried in destroys {sulfite:.2f} g of it; "
        f"a gram of table salt could at most take {chloride:.2f} g, and before that it turns silver to chloride that stays. Rinse first.",
        "consume.sulfite_by_kmno4",
    )


def _ammonia(sheet: MixSheet, ammonia: float) -> list[Insight]:
    capacity = ammonia_capacity(ammonia)
    clean = saturate(ammonia_mol_per_l=ammonia).dissolved_mol_per_l
    spoiled = saturate(ammonia_mol_per_l=ammonia, halide_mol_per_l=_CARRIED_CHLORIDE_MOL_PER_L).dissolved_mol_per_l
    bromide = saturate(ammonia_mol_per_l=ammonia, halide="AgBr").dissolved_mol_per_l
    return [
        _rolls(sheet, capacity, "ammonia.capacity", "const.Ksp.AgCl"),
        Insight(
            "ammonia.chloride",
            f"Carried-over chloride of {_CARRIED_CHLORIDE_MOL_PER_L:g} mol/L would take {100 * (1 - spoiled / clean):.0f} % of that: "
            "rinse the bleach out, in acid.",
            "agcl.nh3.1M.with_Cl_0.05",
        ),
        Insight(
            "ammonia.bromide",
            f"At equilibrium it also takes silver bromide, {clean / bromide:.0f} times less of it: "
            "too long or too strong thins the blacks of the positive.",
            "agcl_agbr.selectivity.nh3",
        ),
    ]


def _fixer(sheet: MixSheet, thiosulfate: float) -> Insight:
    rolls = _scaled(fixer_capacity_rolls_per_l(thiosulfate * number("mm.ammonium_thiosulfate")), sheet.volume_ml / 1000)
    return Insight(
        "fixer.capacity",
        f"About {_span(rolls)} rolls in this volume, by the published 20 a litre of a 1+4 rapid fixer. Spent when the clearing time has doubled.",
        "fixer.capacity",
        rolls,
    )


def _solvent(sheet: MixSheet, active: dict[str, float]) -> list[Insight]:
    thiosulfate = active.get("thiosulfate", 0.0)
    ph = sheet.ph.value if sheet.ph else USUAL_DEVELOPER_PH
    ammonia = sum(
        mol * known_substance(key).buffers.get("ammonia", 0.0) for key, mol in sheet.contents_mol_per_l.items()
    )
    if not thiosulfate and not ammonia:
        return []
    both = saturate(ammonia_mol_per_l=ammonia, thiosulfate_mol_per_l=thiosulfate, halide="AgBr", ph=ph)
    alone = saturate(ammonia_mol_per_l=ammonia, halide="AgBr", ph=ph)
    silver = record("silver.default").value["typical"] * number("area.135-36")
    share = both.g_silver_per_l * sheet.volume_ml / 1000 / silver
    text = (
        f"At equilibrium this volume could hold {both.g_silver_per_l * sheet.volume_ml / 1000:.2g} g of silver as bromide, "
        f"{share:.1f} times what one film of 4 g/m2 carries: the clock, not the chemistry, sets how much is dissolved. "
    )
    if thiosulfate:
        text += (
            f"Thiosulfate holds {_most(both.by_thiosulfate)} of it; ammonia alone would hold {alone.g_silver_per_l * sheet.volume_ml / 1000:.2g} g "
            "and works chiefly as alkali."
        )
    return [Insight("developer.solvent", text, "const.logbeta2.Ag(S2O3)2")]


def _most(share: float) -> str:
    return "more than 99 %" if share > NEARLY_ALL else f"{100 * share:.0f} %"


def _dithionite(sheet: MixSheet, dithionite: float) -> list[Insight]:
    grams = dithionite * number("mm.sodium_dithionite") * sheet.volume_ml / 1000
    silver = grams / mass_ratio("sodium_dithionite", 1, "silver", 2)
    per_roll = record("silver.default").value
    area = number("area.135-36")
    rolls = Range(
        silver / (per_roll["high"] * area), silver / (per_roll["typical"] * area), silver / (per_roll["low"] * area)
    )
    return [
        Insight(
            "fogging.capacity",
            f"Fresh, it could reduce {silver:.2g} g of silver, {_span(rolls)} rolls; "
            "air takes its share from the first minute, so it is used at once and once.",
            "fog.dithionite_per_ag",
            rolls,
        )
    ]


def _clearing(sheet: MixSheet, bisulfite: float) -> Insight:
    grams = bisulfite / 2 * number("mm.sodium_metabisulfite") * sheet.volume_ml / 1000
    stain = grams / mass_ratio("sodium_metabisulfite", 0.5, "manganese_dioxide", 1)
    permanganate = grams / mass_ratio(
        "sodium_metabisulfite", METABISULFITE_PER_TWO_PERMANGANATE, "potassium_permanganate", 2
    )
    return Insight(
        "clearing.capacity",
        f"It can dissolve {stain:.2g} g of manganese dioxide stain, or undo {permanganate:.2g} g of permanganate; a film carries milligrams.",
        "clear.na2s2o5_per_mno2",
    )


def _hard_water(sheet: MixSheet) -> Insight:
    """What hard water does: chalk out of carbonate, spots where the last water dries."""
    limit_mg_per_l = number("film.hard_water_mg_per_l")
    if sheet.role == "wetting":
        text = f"From about {limit_mg_per_l:g} mg/L of hardness (as calcium carbonate) the last water dries to spots: distilled water for this bath."
    else:
        chalk_g = limit_mg_per_l * sheet.water_to_add_ml / 1e6
        text = (
            f"From about {limit_mg_per_l:g} mg/L of hardness (as calcium carbonate) its carbonate throws down chalk, here {chalk_g:.2g} g and more, "
            "a white scum on film and vessels: distilled or boiled water, or a developer that holds a sequestering agent."
        )
    return Insight("water.hard", text, "film.hard_water_mg_per_l")


def _rolls(sheet: MixSheet, capacity: Capacity, code: str, source: str, ends: str = "") -> Insight:
    rolls = _scaled(capacity.rolls_per_l, sheet.volume_ml / 1000)
    limit = {"oxidant": "its oxidant", "acid": "its acid, not its oxidant", "solubility": "what it can hold"}[
        capacity.limited_by
    ]
    return Insight(
        code,
        f"This volume takes {_span(rolls)} rolls (likely {rolls.likely:.2g}), limited by {limit}. {ends}"
        "The silver of a film is known only to about half, so a clip that goes clear decides, not this figure.",
        source,
        rolls,
    )


def _fewer_rolls(sheet: MixSheet, theory: Range, practice: Range, bleach: str) -> Insight:
    """A bleach that ends before its arithmetic does."""
    litres = sheet.volume_ml / 1000
    rolls = _scaled(practice, litres)
    ends, source = _ENDS_BEFORE[bleach]
    return Insight(
        f"bleach.{bleach}",
        f"This volume takes {_span(rolls)} rolls by practice (likely {rolls.likely:.2g}). By arithmetic alone it would be about "
        f"{_amount(theory.likely * litres)}, but {ends}. A clip that goes clear decides, not this figure.",
        source,
        rolls,
    )


def _scaled(rolls: Range, factor: float) -> Range:
    return Range(rolls.low * factor, rolls.likely * factor, rolls.high * factor)


def _span(rolls: Range) -> str:
    return f"{_amount(rolls.low)} to {_amount(rolls.high)}"


def _amount(rolls: float) -> str:
    if rolls < 1:
        return f"{rolls:.1f}"
    digits = max(0, 1 - math.floor(math.log10(rolls)))
    return f"{round(rolls, digits - 1):g}" if rolls >= 10 else f"{rolls:.1f}"
