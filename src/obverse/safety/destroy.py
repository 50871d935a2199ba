"""Used baths that must not stand: how each is destroyed the same evening, as steps of the plan.

Amounts follow the volume of the bath. Nothing here makes a bath fit for any drain: local codes decide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from obverse.chemistry import molar_mass_g_per_mol, ph_of
from obverse.foundation import Caution, Deferral, InputError, Level
from obverse.process import Formula, Step
from obverse.process.catalog import substances
from obverse.reference import number
from obverse.safety.amounts import of_bath
from obverse.safety.body import Portion
from obverse.safety.matter import Matter, of_formula, of_substance

# A cup of water, and the part of its water that metabisulfite is dissolved in as (3 %).
_CUP_ML = 250.0
_METABISULFITE_SHARE = 0.03
# Grams of kitchen salt below which nobody weighs any: for the ammonia bath, and for the peroxide bleach, which is acid and takes a fifth.
_LEAST_SALT_G, _LEAST_SALT_OF_PEROXIDE_G, _SALT_OF_PEROXIDE = 5.0, 2.0, 5
# mol/L of bisulfate beyond which no bath is brought, and halvings between: far beyond the last digit shown.
_MOST_BISULFATE, _HALVINGS = 5.0, 50
# Temperatures between which a bath is destroyed, as a bath in a house has.
_COLDEST_C, _WARMEST_C = 5, 35
# Minutes of each step (common practice, no source): to dilute each bucket, to add acid to each bucket slowly, to settle overnight, to stand open,
# to settle after peroxide, to drown, to air for a day.
_DILUTE_MIN, _ACID_MIN, _SETTLE_MIN, _OPEN_MIN, _SETTLE_PEROXIDE_MIN, _DROWN_MIN, _AIR_MIN = 3, 15, 480, 5, 720, 3, 1440
# Litres of a mole of oxygen at 20 C.
_OXYGEN_L_PER_MOL = 24.06
# A tenth of its mass in water: enough for a powder to dissolve and too thin to spray.
_ACID_ML_PER_G = 10.0
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

    @property
    def leaves_sludge(self) -> bool:
        """Whether only a rinsed sludge of silver is left, which goes into a jar of its own and into no jug."""
        return "silver_chloride" in _LEFT[self.kind]


@dataclass(frozen=True, slots=True)
class Supply:
    """One thing that must be at hand to destroy a used bath.

    Parameters
    ----------
    key : str
        ``"bucket"``, ``"test_strips"``, ``"jar"``, or what it is chemically.
    name : str
        In words, as one asks for it.
    amount : float or None
        In `unit`: g of a solid, mL that a vessel must hold; None where it is not measured.
    count : int
        How many of them.
    substances : tuple of str
        Keys of the substances that will do.
    least : bool
        The amount is a least one, as of a vessel; otherwise about what is used.
    """

    key: str
    name: str
    amount: float | None = None
    unit: str = ""
    count: int = 1
    substances: tuple[str, ...] = ()
    least: bool = False

    @property
    def words(self) -> str:
        """What it is, with how much."""
        many = f"{self.count} {self.name}s" if self.count > 1 else self.name
        if self.amount is None:
            return many
        if self.unit == "mL":
            return f"{many}, {self.amount / 1000:.3g} L or more{' each' if self.count > 1 else ''}"
        return f"{many}, about {self.amount:.{1 if self.amount < 1 else 0}f} {self.unit}"


@dataclass(frozen=True, slots=True)
class _Buckets:
    """So many buckets, with so much of the used bath in each."""

    count: int
    bath_ml: float
    least_ml: float

    @classmethod
    def holding(cls, total_ml: float, bath_ml: float, bucket_ml: float | None) -> _Buckets:
        """The fewest of that size, none of them full to the brim."""
        size_ml = bucket_ml or number("practice.destroy.bucket_ml")
        usable = number("practice.destroy.bucket_fill")
        count = max(1, math.ceil(total_ml / (usable * size_ml)))
        return cls(count, bath_ml / count, 1000 * math.ceil(total_ml / count / usable / 1000))

    def with_water(self, water: str) -> str:
        """Water to the used bath, in its bucket or shared between several."""
        if self.count == 1:
            return f"Pour {water} to the {self.bath_ml:.0f} mL of used bath in its plastic bucket"
        return (
            f"Share the used bath between {self.count} plastic buckets, {self.bath_ml:.0f} mL in each, "
            f"and pour {water} into each"
        )

    @property
    def into_each(self) -> str:
        """Of what goes in: into which."""
        return "in" if self.count == 1 else "into each bucket"

    def supply(self) -> Supply:
        """What must be at hand."""
        return Supply("bucket", "plastic bucket", self.least_ml, "mL", self.count, least=True)


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
        elif lost:
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


def destruction_supplies(
    formula: Formula, *, volume_ml: float = 500.0, bucket_ml: float | None = None
) -> tuple[Supply, ...]:
    """What must be at hand for `destruction_steps`, with amounts; empty where nothing must be destroyed.

    Parameters
    ----------
    formula : Formula
    volume_ml : float
        How much of the bath will be used.
    bucket_ml : float, optional
        Size of the bucket that is there; default one of ten litres.
    """
    residue = residue_of(formula)
    if residue is None:
        return ()
    buckets = _buckets(residue.kind, formula, volume_ml, bucket_ml)
    strips, jar = Supply("test_strips", "pH test strips"), Supply("jar", "labelled jar for the wet sludge")
    salt = Supply("salt", "kitchen salt", _salt_g(residue.kind, volume_ml), "g", substances=("sodium_chloride",))
    soda = Supply("washing_soda", "washing soda, for the day after", substances=_SODA)
    if residue.kind == "ammonia_silver":
        acid_g, _ = _acid(formula, volume_ml)
        acid = Supply("bisulfate", "sodium bisulfate (pool pH-minus)", _as_told(acid_g), "g", substances=_BISULFATE)
        return (buckets.supply(), salt, acid, strips, soda, jar)
    if residue.kind == "permanganate":
        sulfite_g = _metabisulfite_g(formula, volume_ml)
        sulfite = Supply("metabisulfite", "sodium metabisulfite", sulfite_g, "g", substances=_METABISULFITE)
        return (buckets.supply(), sulfite)
    if residue.kind == "peroxide":
        return (buckets.supply(), salt, strips, soda, jar)
    return (buckets.supply(),)


_BISULFATE = ("sodium_bisulfate", "sodium_bisulfate_monohydrate", "potassium_bisulfate")
_METABISULFITE = ("sodium_metabisulfite", "potassium_metabisulfite")
_SODA = ("sodium_carbonate", "sodium_carbonate_monohydrate", "sodium_carbonate_decahydrate")


def _buckets(kind: str, formula: Formula, volume_ml: float, bucket_ml: float | None) -> _Buckets:
    """What stands in the buckets at the end of the destruction, and how many that makes."""
    total_ml = {
        "ammonia_silver": lambda: (
            volume_ml * (1 + number("practice.destroy.ammonia_silver_parts_water"))
            + _CUP_ML
            + _acid(formula, volume_ml)[1]
        ),
        "permanganate": lambda: 2 * volume_ml + _metabisulfite_g(formula, volume_ml) / _METABISULFITE_SHARE,
        "peroxide": lambda: 2 * volume_ml + _CUP_ML,
        "dithionite": lambda: volume_ml * (1 + number("practice.destroy.dithionite_parts_water")),
    }[kind]()
    return _Buckets.holding(total_ml, volume_ml, bucket_ml)


def _salt_g(kind: str, volume_ml: float) -> float:
    """Kitchen salt, g; a fifth for the peroxide bleach, which is acid already."""
    per_l = number("practice.destroy.salt_g_per_l") * volume_ml / 1000
    return (
        max(_LEAST_SALT_G, per_l)
        if kind == "ammonia_silver"
        else max(_LEAST_SALT_OF_PEROXIDE_G, per_l / _SALT_OF_PEROXIDE)
    )


def _acid(formula: Formula, volume_ml: float) -> tuple[float, float]:
    """Bisulfate for the used ammonia bath: g, and mL of water for it."""
    diluted_ml = volume_ml * (1 + number("practice.destroy.ammonia_silver_parts_water"))
    grams = bisulfate_to_ph_g(_grams(formula, "ammonia", volume_ml), diluted_ml)
    return grams, _ACID_ML_PER_G * grams


def _metabisulfite_g(formula: Formula, volume_ml: float) -> float:
    """Metabisulfite that takes the colour out of a permanganate bleach, g."""
    return number("clear.na2s2o5_per_kmno4") * _grams(formula, "permanganate", volume_ml)


def decolouring_g(formula: Formula, volume_ml: float) -> dict[str, float]:
    """What takes the colour out of a used bath, little by little: grams at most of each substance that will do; empty where nothing does.

    Parameters
    ----------
    volume_ml : float
        Of the used bath.
    """
    residue = residue_of(formula)
    if residue is None or residue.kind != "permanganate":
        return {}
    return dict.fromkeys(_METABISULFITE, _metabisulfite_g(formula, volume_ml))


def destruction_steps(
    formula: Formula, *, volume_ml: float = 500.0, bucket_ml: float | None = None
) -> tuple[Step, ...]:
    """The steps that destroy a used bath, in order; empty where nothing must be destroyed.

    Parameters
    ----------
    formula : Formula
        The bath as it was mixed.
    volume_ml : float
        How much of it was used.
    bucket_ml : float, optional
        Size of the bucket that is there; default one of ten litres. What it cannot hold is shared between several.

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
    }[residue.kind](formula, volume_ml, residue.deadline_min, _buckets(residue.kind, formula, volume_ml, bucket_ml))


def standing_caution(formula: Formula, minutes_since_start: float) -> Caution | None:
    """What the clock says of a used bath that has not been destroyed yet; None where nothing must be."""
    residue = residue_of(formula)
    if residue is None:
        return None
    left = residue.deadline_min - minutes_since_start
    minutes = f"{abs(left):.0f} minute{'' if round(abs(left)) == 1 else 's'}"
    if left > 0:
        return Caution("destroy.clock", f"Destroy it within {minutes}.", Level.CAUTION, formula.name)
    late = "Do not move or shake it if there is any scum, mirror or crystal: leave, keep others out and call for advice; otherwise destroy it now."
    text = late if residue.kind == "ammonia_silver" else "Destroy it now, outdoors or under a fan; keep your face away."
    return Caution("destroy.overdue", f"It stands {minutes} too long. {text}", Level.DANGER, formula.name)


@cache
def bisulfate_to_ph_g(ammonia_g: float, diluted_ml: float, *, ph: float = 2.0) -> float:
    """Sodium bisulfate that brings an ammonia solution to a pH, in g, by charge balance.

    It is the amount to have at hand: what brings the pH is the test strip, not this number.
    """
    ammonia_mol_per_l = ammonia_g / molar_mass_g_per_mol("ammonia") / (diluted_ml / 1000)
    low, high = 0.0, _MOST_BISULFATE
    for _ in range(_HALVINGS):
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
        temperature_low_c=_COLDEST_C,
        temperature_high_c=_WARMEST_C,
        light="light",
        do=do,
        why=why,
        cautions=cautions,
        **more,
    )


def _as_told(amount: float) -> float:
    """Two figures: the test strip decides, not the amount."""
    return float(f"{amount:.2g}")


def _ammonia_silver(formula: Formula, volume_ml: float, deadline_min: float, buckets: _Buckets) -> tuple[Step, ...]:
    many = buckets.count
    water_l = number("practice.destroy.ammonia_silver_parts_water") * buckets.bath_ml / 1000
    salt_g = _salt_g("ammonia_silver", volume_ml) / many
    acid_g, acid_ml = (part / many for part in _acid(formula, volume_ml))
    each = "" if many == 1 else " for each bucket"
    return (
        _step(
            "destroy_dilute",
            "Dilute the used ammonia bath",
            _DILUTE_MIN * many,
            f"{buckets.with_water(f'{water_l:.1f} L of cold water')}, near an open window or outdoors.",
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
            2 * many,
            f"Dissolve {salt_g:.0f} g of kitchen salt{each} in a cup of water and stir it {buckets.into_each}.",
            "Chloride is there to take the silver as soon as the acid takes the ammonia.",
            (),
            deal_with_within_min=deadline_min,
        ),
        _step(
            "destroy_acid",
            "Add acid slowly to pH 2",
            _ACID_MIN * many,
            f"Dissolve about {_as_told(acid_g):g} g of sodium bisulfate{each} in {_as_told(acid_ml):g} mL of water (10 percent). Add it in small portions, "
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
            _SETTLE_MIN,
            "Leave the bucket open and labelled, out of reach, overnight. Pour the clear water off; bring it to pH 7 with washing soda, "
            "little by little, before it goes where local codes allow. Keep the white sludge wet in a labelled jar for silver recovery.",
            "The silver leaves as a solid that can be handed in.",
            (
                "The sludge does not go into the fixer jug together with its acid: rinse it once with water first.",
                Deferral.WHERE_THEY_SAY.value,
            ),
            after_use="waste",
            waste_jug="A",
        ),
    )


def _permanganate(formula: Formula, volume_ml: float, deadline_min: float, buckets: _Buckets) -> tuple[Step, ...]:
    sulfite_g = _metabisulfite_g(formula, volume_ml) / buckets.count
    each = "" if buckets.count == 1 else " for each bucket"
    return (
        _step(
            "destroy_decolour",
            "Take the colour out of the used bleach",
            10 * buckets.count,
            f"Outdoors or under a fan: {buckets.with_water('as much water')[:1].lower()}{buckets.with_water('as much water')[1:]}. Add 3 percent metabisulfite in small portions, stirring, "
            f"and stop at the moment the colour is gone: at most about {sulfite_g:.1f} g of metabisulfite, {sulfite_g / _METABISULFITE_SHARE:.0f} mL of it{each}.",
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
            (Deferral.WHERE_THEY_SAY.value,),
            after_use="waste",
            waste_jug="C",
        ),
    )


def _peroxide(formula: Formula, volume_ml: float, deadline_min: float, buckets: _Buckets) -> tuple[Step, ...]:
    oxygen_l = (
        _grams(formula, "peroxide", volume_ml) / 2 / molar_mass_g_per_mol("hydrogen_peroxide") * _OXYGEN_L_PER_MOL
    )
    salt_g = _salt_g("peroxide", volume_ml) / buckets.count
    each = "" if buckets.count == 1 else " for each bucket"
    return (
        _step(
            "destroy_open",
            "Stand the used bleach open",
            _OPEN_MIN,
            f"{buckets.with_water('as much water')}, outdoors or by the window; stir in {salt_g:.0f} g of kitchen salt{each} in water. "
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
            _SETTLE_PEROXIDE_MIN,
            "Leave it overnight until no bubble rises. Pour the clear water off, bring it to pH 7 with washing soda, little by little (it foams). "
            "Rinse the white sludge once and keep it wet in a labelled jar for silver recovery.",
            "The peroxide is gone and the silver has settled.",
            (Deferral.WHERE_THEY_SAY.value,),
            after_use="waste",
            waste_jug="A",
        ),
    )


def _dithionite(formula: Formula, volume_ml: float, deadline_min: float, buckets: _Buckets) -> tuple[Step, ...]:
    water_l = number("practice.destroy.dithionite_parts_water") * buckets.bath_ml / 1000
    return (
        _step(
            "destroy_dilute",
            "Drown the used fogging bath",
            _DROWN_MIN,
            f"{buckets.with_water(f'{water_l:.3g} L of cold water')}, open, outdoors; rinse spoon and cup into it.",
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
            _AIR_MIN,
            "Leave it open outdoors for a day, stir once or twice, then pour it into jug F.",
            "Air turns what is left into sulfite and sulfate.",
            (Deferral.WHERE_THEY_SAY.value,),
            after_use="waste",
            waste_jug="F",
        ),
    )
