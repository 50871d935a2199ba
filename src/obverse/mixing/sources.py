"""Which product can bring which substance, and what changes when it is not the one the formula names."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from obverse.chemistry import concentration_g_per_l, mass_fraction_of_strength, molar_mass_g_per_mol
from obverse.foundation import Caution, InputError, Level
from obverse.process import Product, Substance
from obverse.process.catalog import substance as known_substance
from obverse.process.catalog import substances

# How much an additive speaks against a product, and what it may do.
ADDITIVES: dict[str, tuple[int, str]] = {
    "thickener": (3, "a thickener stays in gelatin and slows every bath"),
    "perfume": (2, "perfume and dye may stain or leave a film"),
    "dye": (2, "its dye may stain the gelatin"),
    "surfactant": (1, "its surfactant foams"),
    "hardener": (1, "its hardener slows washing and later baths; it needs acid and may sludge with alkali"),
    "iodide": (3, "its iodide turns silver to iodide, which stays in the film"),
    "anti_caking": (1, "its anti-caking agent clouds the bath"),
    "unknown": (3, "its other contents are not declared: test on a clip first"),
}

# No solution of this process is heavier; labels round their strengths by so much.
HEAVIEST_LIQUID_G_PER_ML = 2.0
LABELS_ROUND = 0.03
# A strength that is known no better than this speaks against a product.
DOUBTFUL_STRENGTH = 0.15
# A content below this share of the chief one is a companion, not a reason to take the product.
CHIEF_SHARE = 0.5


@dataclass(frozen=True, slots=True)
class Brings:
    """One substance in a product.

    Parameters
    ----------
    grams_per_unit : float
        g of the substance in one mL (liquid) or one g (solid) of the product.
    relative_sd : float
        Standard uncertainty of that, as a fraction.
    """

    substance: Substance
    grams_per_unit: float
    relative_sd: float
    how: str
    cautions: tuple[Caution, ...] = ()

    @property
    def moles_per_unit(self) -> float:
        """Moles of the substance in one mL or g of the product."""
        return self.grams_per_unit / molar_mass_g_per_mol(self.substance.molar_mass_key)

    @property
    def active_per_unit(self) -> float:
        """Moles of what it brings (thiosulfate, strong acid protons, ...) in one mL or g."""
        return self.moles_per_unit * self.substance.active_per_mole


def contents_of(product: Product) -> tuple[Brings, ...]:
    """What a product brings, per mL or per g of it.

    Parameters
    ----------
    product : Product

    Returns
    -------
    tuple of Brings

    Raises
    ------
    InputError
        For an unknown substance, a strength that is no concentration, or a density we need and lack.
    """
    found = []
    for content in product.contents:
        known = known_substance(content.substance, where=product.name)
        strength = content.parsed
        try:
            if product.form == "solid":
                fraction = mass_fraction_of_strength(strength, known.key)
                found.append(
                    Brings(known, fraction.value, content.strength_relative_sd, f"{100 * fraction.value:g} % by weight")
                )
            else:
                made = concentration_g_per_l(
                    strength, known, product.density_g_per_ml, relative_sd=content.strength_relative_sd
                )
                doubt = made.sd / made.value if made.value else 0.0
                found.append(Brings(known, made.value / 1000, doubt, made.how, made.cautions))
        except InputError as error:
            raise InputError(error.what, where=product.name, remedy=error.remedy) from error
    _check_weight(product, sum(b.grams_per_unit for b in found))
    return tuple(found)


def _check_weight(product: Product, grams_per_unit: float) -> None:
    """What is in a product cannot weigh more than the product."""
    weighs = 1.0 if product.form == "solid" else product.density_g_per_ml or HEAVIEST_LIQUID_G_PER_ML
    if grams_per_unit > weighs * (1 + LABELS_ROUND):
        unit = "g" if product.form == "solid" else "mL"
        raise InputError(
            f"its contents would weigh {grams_per_unit:.3g} g in one {unit}, more than the product itself",
            where=product.name,
            remedy="check the strengths, and whether they are by weight or by volume",
        )


@dataclass(frozen=True, slots=True)
class Candidate:
    """A product that can bring a substance: how near it comes, and what it changes.

    `nearness` is 0 for the substance itself, 1 for another hydrate, 2 for another salt of it.
    """

    product: Product
    brings: Brings
    nearness: int
    changes: tuple[str, ...]

    @property
    def order(self) -> tuple[float, float, bool]:
        """Best first: the substance itself, clean, little else in it; of fuming or burning liquids the weaker."""
        dirt = sum(ADDITIVES[a][0] for a in self.product.additives)
        fierce = (
            bool({"ammonia", "acid_strong", "peroxide"} & set(self.brings.substance.classes))
            and self.product.form == "liquid"
        )
        strength = self.brings.grams_per_unit if fierce else 0.0
        return (self.nearness + dirt, strength, self.brings.relative_sd > DOUBTFUL_STRENGTH)


def nearness(wanted: Substance, given: Substance) -> tuple[int, tuple[str, ...]] | None:
    """How near one substance comes to another, with what it changes; None where it cannot stand for it."""
    if wanted.key == given.key:
        return 0, ()
    if not wanted.active or wanted.active != given.active:
        return None
    if wanted.ions == given.ions and wanted.buffers == given.buffers:
        factor = molar_mass_g_per_mol(given.molar_mass_key) / molar_mass_g_per_mol(wanted.molar_mass_key)
        return 1, (f"{given.name} for {wanted.name}: {factor:.3f} g for each gram, nothing else changes",)
    changes = [f"{given.name} for {wanted.name}, matched by {_active_word(wanted)}"]
    ammonium = "ammonium_salt" in given.classes, "ammonium_salt" in wanted.classes
    if ammonium == (True, False):
        changes.append("it brings ammonium: dissolves halide faster, and gives off ammonia in an alkaline bath")
    if ammonium == (False, True):
        changes.append(
            "it lacks the ammonium, so it dissolves halide more slowly: times found with the other do not carry over"
        )
    if wanted.active in ("strong_acid", "weak_acid"):
        changes.append("the acid is matched by titration; the pH comes out different and is shown")
    if ("K+" in given.ions and "Na+" in wanted.ions) or ("Na+" in given.ions and "K+" in wanted.ions):
        changes.append(
            "potassium and sodium change places: no effect on the image expected (common practice, no source)"
        )
    extra = set(given.classes) - set(wanted.classes) - {"ammonium_salt"}
    if extra & {"chloride", "organic_acid", "developer_agent"}:
        changes.append("it also brings " + ", ".join(sorted(extra)).replace("_", " "))
    return 2, tuple(changes)


def _active_word(wanted: Substance) -> str:
    return {"strong_acid": "titratable acid", "weak_acid": "titratable acid"}.get(
        wanted.active, wanted.active.replace("_", " ")
    )


# What an acid can do beside being sour: hold metal ions, stay in the bath, come down to pH 2 at the strength of a rinse.
_ACIDS: dict[str, frozenset[str]] = {
    "citric_acid": frozenset({"chelate", "stay", "reach_ph_2"}),
    "citric_acid_monohydrate": frozenset({"chelate", "stay", "reach_ph_2"}),
    "tartaric_acid": frozenset({"chelate", "stay", "reach_ph_2"}),
    "oxalic_acid_dihydrate": frozenset({"chelate", "stay", "reach_ph_2"}),
    "sulfuric_acid": frozenset({"stay", "reach_ph_2"}),
    "sodium_bisulfate": frozenset({"stay", "reach_ph_2"}),
    "sodium_bisulfate_monohydrate": frozenset({"stay", "reach_ph_2"}),
    "potassium_bisulfate": frozenset({"stay", "reach_ph_2"}),
    "hydrochloric_acid": frozenset({"reach_ph_2"}),
}


def acid_does(substance: Substance, must: Collection[str]) -> bool:
    """Whether an acid does all that a formula needs it for; anything may stand where nothing is needed."""
    return frozenset(must) <= _ACIDS.get(substance.key, frozenset())


def candidates(
    wanted: Substance, products: tuple[Product, ...], acid_must: Collection[str] = ()
) -> tuple[Candidate, ...]:
    """Products that can bring the wanted substance, best first; of acids only those that do what this one is for.

    A product counts only for what it chiefly holds: nobody takes developer concentrate for its
    carbonate, nor fixer for its sulfite. A product that cannot be reckoned with (its density is
    unknown, say) is passed over while there is another.

    Parameters
    ----------
    wanted : Substance
    products : tuple of Product
        The bottles at hand.

    Returns
    -------
    tuple of Candidate

    Raises
    ------
    InputError
        If only such a product is there: what is missing on its label.
    """
    found, trouble = [], None
    for product in products:
        if product.roles or not any(
            nearness(wanted, s) for c in product.contents if (s := substances().get(c.substance))
        ):
            continue
        try:
            brings = contents_of(product)
        except InputError as error:
            trouble = trouble or error
            continue
        chief = max(b.grams_per_unit for b in brings) * CHIEF_SHARE
        options = [
            (nearness(wanted, b.substance), b)
            for b in brings
            if b.grams_per_unit >= chief and (b.substance.key == wanted.key or acid_does(b.substance, acid_must))
        ]
        best = min(
            ((n, b) for n, b in options if n is not None and b.grams_per_unit > 0), key=lambda x: x[0][0], default=None
        )
        if best is not None:
            (near, changes), bring = best
            found.append(Candidate(product, bring, near, changes))
    if trouble is not None and not found:
        raise trouble
    return tuple(sorted(found, key=lambda c: c.order))


def additive_cautions(product: Product) -> tuple[Caution, ...]:
    """What the other things in a product may do, one caution each."""
    return tuple(
        Caution(f"product.{additive}", f"{product.name}: {ADDITIVES[additive][1]}.", Level.CAUTION)
        for additive in product.additives
    )
