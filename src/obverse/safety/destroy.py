"""Used baths that must not stand: how each is made harmless the same evening, as steps of the plan.

Amounts follow the volume of the bath. Nothing here makes a bath fit for any drain: local codes decide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from obverse.chemistry import molar_mass_g_per_mol, ph_of
from obverse.foundation import Caution, InputError, Level
from obverse.process import Formula, Step
from obverse.process.catalog import substances
from obverse.reference import number
from obverse.safety.amounts import of_bath
from obverse.safety.body import Portion
from obverse.safety.matter import Matter, of_formula, of_substance

_LOCAL = "Labels, safety data sheets and local codes come first; what is left goes where they say."
_NO_HYPOCHLORITE = "No hypochlorite cleaner in the room."


@dataclass(frozen=True, slots=True)
class Residue:
    """What a used bath leaves behind that must not stand.

    Parameters
    ----------
    kind : str
        ``"ammonia_silver"``, ``"permanganate"``, ``"peroxide"`` or ``"dithionite"``.
    deadline_min : float
        It must be gone this many minutes after the clock starts.
    clock : str
        What starts the clock, in words.
    from_mixing : bool
        The clock starts when the bath is mixed, not when the film comes.
    """

    kind: str
    deadline_min: float
    clock: str
    from_mixing: bool = False


def residue_of(formula: Formula) -> Residue | None:
    """What this bath leaves after use that must not stand; None where it may go to its jug or bottle."""
    classes = {name for part in of_formula(formula, used=True).ingredients for name in part.classes}
    if "silver_ammine" in classes:
        return Residue(
            "ammonia_silver", number("practice.deadline_min.ammonia_silver"), "the film goes into the ammonia"
        )
    if "dithionite" in classes:
        return Residue("dithionite", number("practice.deadline_min.dithionite"), "the powder goes into the water", True)
    if formula.role == "bleach" and "permanganate" in classes:
        return Residue("permanganate", number("practice.deadline_min.permanganate"), "the acid goes in", True)
    if formula.role == "bleach" and "peroxide" in classes:
        return Residue("peroxide", number("practice.deadline_min.peroxide_silver"), "the film goes into the bleach")
    return None


_GONE = {
    "ammonia_silver": {"ammonia", "silver_ammine"},
    "permanganate": {"permanganate"},
    "peroxide": {"peroxide"},
    "dithionite": {"dithionite"},
}
_LEFT = {
    "ammonia_silver": ("silver_chloride",),
    "peroxide": ("silver_chloride",),
    "dithionite": ("sodium_sulfite",),
    "permanganate": ("manganese_ii_sulfate",),
}


def remnant_portion(formula: Formula, volume_ml: float, silver_g: float) -> Portion:
    """What is left of a bath after its destruction, with amounts; the used bath where nothing is destroyed.

    Parameters
    ----------
    silver_g : float
        Counted into the bath; where none was counted, that of a few films is taken.
    """
    bath = of_bath(formula, volume_ml, used=True)
    residue = residue_of(formula)
    if residue is None:
        return bath
    gone = _GONE[residue.kind]
    moles = {key: n for key, n in bath.moles.items() if not gone & set(substances()[key].classes)}
    lost = sum(
        n
        for key, n in bath.moles.items()
        if gone & set(substances()[key].classes) and "silver" not in substances()[key].classes
    )
    for key in _LEFT[residue.kind]:
        if key == "silver_chloride":
            usual = number("hazard.usual.silver_g_per_l") * volume_ml / 1000
            moles.pop("silver_bromide", None)
            moles[key] = max(silver_g, usual) / molar_mass_g_per_mol("silver")
        else:
            moles[key] = lost * (2 if key == "sodium_sulfite" else 1)
    return Portion(f"what is left of {formula.name}", moles, bath.water_ml)


def remnant_of(formula: Formula) -> Matter:
    """What is left of a bath after its destruction, as it goes into a jug; the bath itself where nothing is destroyed.

    Destroyed is not harmless: colourless permanganate is still acid, aired dithionite is sulfite.
    """
    residue = residue_of(formula)
    bath = of_formula(formula, used=True)
    if residue is None:
        return bath
    name = f"what is left of {formula.name}"
    left = [
        replace(p, origin=name)
        for p in bath.ingredients
        if p.kind == "substance" and not _GONE[residue.kind] & set(p.classes)
    ]
    for key in _LEFT[residue.kind]:
        left += of_substance(substances()[key], state="liquid", origin=name).ingredients
    return Matter(name, tuple(left), f"destroyed_{formula.key}")


def destruction_steps(formula: Formula, *, volume_ml: float = 500.0) -> tuple[Step, ...]:
    """The steps that make a used bath harmless, in order; empty where nothing must be destroyed.

    Parameters
    ----------
    formula : Formula
        The bath as it was mixed.
    volume_ml : float
        How much of it was used.

    Returns
    -------
    tuple of Step
        Each of kind ``"destroy"``; `deal_with_within_min` of the last hands-on step is the clock of the whole.

    Raises
    ------
    InputError
        If the volume is not positive.
    """
    if not volume_ml > 0:
        raise InputError(
            f"a used bath of {volume_ml:g} mL cannot be", where="destruction", remedy="give its volume in mL"
        )
    residue = residue_of(formula)
    if residue is None:
        return ()
    return {
        "ammonia_silver": _ammonia_silver,
        "permanganate": _permanganate,
        "peroxide": _peroxide,
        "dithionite": _dithionite,
    }[residue.kind](formula, volume_ml, residue.deadline_min)


def standing_caution(formula: Formula, minutes_since_start: float) -> Caution | None:
    """What the clock says of a used bath that has not been destroyed yet; None where nothing must be."""
    residue = residue_of(formula)
    if residue is None:
        return None
    left = residue.deadline_min - minutes_since_start
    if left > 0:
        return Caution("destroy.clock", f"Destroy it within {left:.0f} minutes.", Level.CAUTION, formula.name)
    late = "Do not move or shake it if there is any scum, mirror or crystal: leave, keep others out and call for advice; otherwise destroy it now."
    text = late if residue.kind == "ammonia_silver" else "Destroy it now, outdoors or under a fan; keep your face away."
    return Caution("destroy.overdue", f"It stands {-left:.0f} minutes too long. {text}", Level.DANGER, formula.name)


def bisulfate_to_ph_g(ammonia_g: float, diluted_ml: float, *, ph: float = 2.0) -> float:
    """Sodium bisulfate that brings an ammonia solution to a pH, in g, by charge balance.

    It is the amount to have at hand: what brings the pH is the test strip, not this number.
    """
    ammonia_mol_per_l = ammonia_g / molar_mass_g_per_mol("ammonia") / (diluted_ml / 1000)
    low, high = 0.0, 5.0
    for _ in range(50):
        middle = (low + high) / 2
        reached = ph_of({"Na+": middle}, {"ammonia": ammonia_mol_per_l, "sulfate": middle}).ph.value
        low, high = (middle, high) if reached > ph else (low, middle)
    return high * molar_mass_g_per_mol("sodium_bisulfate_anhydrous") * diluted_ml / 1000


def _grams(formula: Formula, wanted: str, volume_ml: float) -> float:
    """Grams of a class of substance in that volume of the fresh bath."""
    parts = of_formula(formula).ingredients
    return sum((part.g_per_l or 0.0) for part in parts if wanted in part.classes) * volume_ml / 1000


def _step(key: str, name: str, time_min: float, do: str, why: str, cautions: tuple[str, ...], **more: Any) -> Step:
    return Step(
        key=key,
        name=name,
        kind="destroy",
        time_min=time_min,
        temperature_low_c=5,
        temperature_high_c=35,
        light="light",
        do=do,
        why=why,
        cautions=cautions,
        **more,
    )


def _ammonia_silver(formula: Formula, volume_ml: float, deadline_min: float) -> tuple[Step, ...]:
    parts_water = number("practice.destroy.ammonia_silver_parts_water")
    water_l = parts_water * volume_ml / 1000
    diluted_ml = volume_ml * (1 + parts_water)
    salt_g = max(5.0, number("practice.destroy.salt_g_per_l") * volume_ml / 1000)
    acid_g = bisulfate_to_ph_g(_grams(formula, "ammonia", volume_ml), diluted_ml)
    acid_ml = 10 * acid_g
    return (
        _step(
            "destroy_dilute",
            "Dilute the used ammonia bath",
            3,
            f"Put {water_l:.1f} L of cold water into a plastic bucket and pour the {volume_ml:.0f} mL of used bath in, near an open window or outdoors.",
            "Thin, it gives off little ammonia and stays cool when acid comes.",
            (
                "Goggles, gloves.",
                "Scum, a mirror or crystals in the bath: do not touch or shake it; keep away and ask for advice.",
                _NO_HYPOCHLORITE,
            ),
            deal_with_within_min=deadline_min,
        ),
        _step(
            "destroy_salt",
            "Add salt",
            2,
            f"Dissolve {salt_g:.0f} g of kitchen salt in a cup of water and stir it in.",
            "Chloride is there to take the silver as soon as the acid takes the ammonia.",
            (),
            deal_with_within_min=deadline_min,
        ),
        _step(
            "destroy_acid",
            "Add acid slowly to pH 2",
            15,
            f"Dissolve about {acid_g:.0f} g of sodium bisulfate in {acid_ml:.0f} mL of water (10 percent). Add it in small portions, "
            "stirring, a minute apart, until a test strip shows pH 2. The strip decides, not the amount. The water turns milky white.",
            "Ammonia becomes ammonium, the silver-ammine falls apart, silver chloride settles.",
            (
                "Slow and dilute: fast or strong acid heats and sprays.",
                "Never oxalic or tartaric acid: silver oxalate and tartrate can explode when dry.",
                "No metal bucket or spoon.",
                _NO_HYPOCHLORITE,
            ),
            deal_with_within_min=deadline_min,
        ),
        _step(
            "destroy_settle",
            "Let the silver chloride settle",
            480,
            "Leave the bucket open and labelled, out of reach, overnight. Pour the clear water off; bring it to pH 7 with washing soda, "
            "little by little, before it goes where local codes allow. Keep the white sludge wet in a labelled jar for silver recovery.",
            "The silver leaves as a solid that can be handed in.",
            (
                "The sludge does not go into the fixer jug together with its acid: rinse it once with water first.",
                _LOCAL,
            ),
            after_use="waste",
            waste_jug="A",
        ),
    )


def _permanganate(formula: Formula, volume_ml: float, deadline_min: float) -> tuple[Step, ...]:
    permanganate_g = _grams(formula, "permanganate", volume_ml)
    sulfite_g = number("clear.na2s2o5_per_kmno4") * permanganate_g
    return (
        _step(
            "destroy_decolour",
            "Take the colour out of the used bleach",
            10,
            f"Outdoors or under a fan, dilute the {volume_ml:.0f} mL with as much water. Add 3 percent metabisulfite in small portions, stirring, "
            f"and stop at the moment the colour is gone: at most about {sulfite_g:.1f} g of metabisulfite, {sulfite_g / 0.03:.0f} mL of it.",
            "Permanganate becomes colourless manganese(II); one drop more than needed becomes sulfur dioxide in the acid.",
            (
                "Never pour it all in at once, never solid metabisulfite: sulfur dioxide and heat.",
                "Smell of burnt matches: stop, leave, let it air. People with asthma do not do this.",
                "Never ammonia, fixer, salt, peroxide or alcohol for this.",
            ),
            deal_with_within_min=deadline_min,
        ),
        _step(
            "destroy_to_jug",
            "Into its jug",
            2,
            "Pour the colourless water into jug C, vented cap, not full.",
            "It is still acid and holds silver.",
            (_LOCAL,),
            after_use="waste",
            waste_jug="C",
        ),
    )


def _peroxide(formula: Formula, volume_ml: float, deadline_min: float) -> tuple[Step, ...]:
    oxygen_l = _grams(formula, "peroxide", volume_ml) / 2 / molar_mass_g_per_mol("hydrogen_peroxide") * 24.06
    salt_g = max(2.0, number("practice.destroy.salt_g_per_l") * volume_ml / 1000 / 5)
    return (
        _step(
            "destroy_open",
            "Stand the used bleach open",
            5,
            f"Pour the {volume_ml:.0f} mL into a wide bucket with as much water, outdoors or by the window; stir in {salt_g:.0f} g of kitchen salt in water. "
            f"Leave it open: it may give off up to {math.ceil(oxygen_l)} L of oxygen.",
            "Silver makes peroxide decompose; in a closed bottle the oxygen bursts it. Salt takes the silver as chloride.",
            (
                "Never closed, not even loosely in a full jug.",
                "No metal, no fixer, no sulfite, no solvent into it.",
                _NO_HYPOCHLORITE,
            ),
            deal_with_within_min=deadline_min,
        ),
        _step(
            "destroy_settle",
            "Let it settle",
            720,
            "Leave it overnight until no bubble rises. Pour the clear water off, bring it to pH 7 with washing soda, little by little (it foams). "
            "Rinse the white sludge once and keep it wet in a labelled jar for silver recovery.",
            "The peroxide is gone and the silver has settled.",
            (_LOCAL,),
            after_use="waste",
            waste_jug="A",
        ),
    )


def _dithionite(formula: Formula, volume_ml: float, deadline_min: float) -> tuple[Step, ...]:
    return (
        _step(
            "destroy_dilute",
            "Drown the used fogging bath",
            3,
            f"Pour the {volume_ml:.0f} mL into {volume_ml / 100:.0f} L of water in an open bucket, outdoors; rinse spoon and cup into it.",
            "In much water and air it oxidises without heat; closed in a jug it makes gas and heat.",
            (
                "No acid: sulfur dioxide.",
                "Never a closed jug, never a paper bin; spilled powder goes into the same bucket.",
            ),
            deal_with_within_min=deadline_min,
        ),
        _step(
            "destroy_air",
            "Let it air",
            1440,
            "Leave it open outdoors for a day, stir once or twice, then pour it into jug F.",
            "Air turns what is left into sulfite and sulfate.",
            (_LOCAL,),
            after_use="waste",
            waste_jug="F",
        ),
    )
