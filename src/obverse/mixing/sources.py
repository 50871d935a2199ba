"""Which product can bring which substance, and what changes when it is not the one the formula names."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from obverse.chemistry import concentration_g_per_l, mass_fraction_of_strength, molar_mass_g_per_mol
from obverse.foundation import ML_PER_L, Caution, InputError, Interval, Level
from obverse.process import DEVELOPERS, Content, Product, Substance
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
    bounds : Interval or None
        All that the label may mean, in the same unit, where it leaves it open.
    """

    substance: Substance
    grams_per_unit: float
    relative_sd: float
    how: str
    cautions: tuple[Caution, ...] = ()
    bounds: Interval | None = None

    @property
    def moles_per_unit(self) -> float:
        """Moles of the substance in one mL or g of the product."""
        return self.grams_per_unit / molar_mass_g_per_mol(self.substance.molar_mass_key)

    @property
    def factors(self) -> Interval:
        """The bounds as factors of the likeliest amount; one where the label leaves nothing open."""
        if self.bounds is None or not self.grams_per_unit:
            return Interval.exact(1.0)
        return self.bounds.times(1 / self.grams_per_unit)

    @property
    def active_per_unit(self) -> float:
        """Moles of what it brings (thiosulfate, strong acid protons, ...) in one mL or g."""
        return self.moles_per_unit * self.substance.active_per_mole


def contents_of(product: Product) -> tuple[Brings, ...]:
    """What a product brings, per mL or per g of it.

    Returns
    -------
    tuple of Brings
        Without what is not on the list of the house: of that nothing can be reckoned.

    Raises
    ------
    InputError
        For an unknown key, a strength that cannot be, or contents heavier than the product.
    """
    found = [
        _brought(product, content, known_substance(content.substance, where=product.name))
        for content in product.contents
        if not content.is_other
    ]
    return _within_its_weight(product, found)


def _brought(product: Product, content: Content, known: Substance) -> Brings:
    strength, doubt = content.parsed, content.strength_relative_sd
    try:
        if product.form == "solid":
            share = mass_fraction_of_strength(strength, known.key)
            if not strength.is_open:
                return Brings(known, share.value, doubt, f"{100 * share.value:g} % by weight")
            bounds = Interval.around(share.low90, share.value, min(1.0, share.high90))
            words = f"{100 * bounds.low:.3g} to {100 * bounds.high:.3g} % by weight"
            told = Caution("strength.open", f"{known.name}: {words}, as its label leaves open.", Level.NOTE)
            return Brings(known, share.value, bounds.relative_sd, words, (told,), bounds)
        made = concentration_g_per_l(strength, known, product.density_g_per_ml, relative_sd=doubt)
    except InputError as error:
        raise InputError(error.what, where=product.name, remedy=error.remedy) from error
    estimate = made.estimate
    held = (
        Interval.around(estimate.low90, estimate.value, estimate.high90).times(1 / ML_PER_L) if made.is_open else None
    )
    relative = made.sd / made.value if made.value else 0.0
    return Brings(known, made.value / ML_PER_L, relative, made.how, made.cautions, held)


def _within_its_weight(product: Product, found: list[Brings]) -> tuple[Brings, ...]:
    """What is in a product cannot weigh more than the product; what a label leaves open gives way.

    Raises
    ------
    InputError
        If even the least that the label may mean is too much.
    """
    weighs = 1.0 if product.form == "solid" else product.density_g_per_ml or HEAVIEST_LIQUID_G_PER_ML
    room = weighs * (1 + LABELS_ROUND)
    least = sum(b.grams_per_unit if b.bounds is None else b.bounds.low for b in found)
    if least > room:
        unit = "g" if product.form == "solid" else "mL"
        raise InputError(
            f"its contents would weigh {least:.3g} g in one {unit}, more than the product itself",
            where=product.name,
            remedy="check the strengths, and whether they are by weight or by volume",
        )
    likely = sum(b.grams_per_unit for b in found)
    given = sum(b.grams_per_unit for b in found if b.bounds is None)
    # Likeliest shares that are too much together shrink towards the least that their labels say.
    shrink = 1.0 if likely <= room else (room - least) / max(likely - least, room)
    shares = []
    for b in found:
        if b.bounds is None:
            shares.append(b)
            continue
        others = least - b.bounds.low
        best = b.bounds.low + (b.grams_per_unit - b.bounds.low) * (shrink if given < room else 0.0)
        bounds = Interval.around(b.bounds.low, best, max(best, min(b.bounds.high, room - others)))
        shares.append(replace(b, grams_per_unit=best, bounds=bounds, relative_sd=bounds.relative_sd))
    return tuple(shares)


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
    products : tuple of Product
        The bottles at hand.

    Raises
    ------
    InputError
        If only such a product is there: what is missing on its label.
    """
    found, trouble = [], None
    for product in products:
        if set(DEVELOPERS) & set(product.roles) or not any(
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
    """What the other things in a product may do, and what its label does not name, one caution each."""
    told = [
        Caution(f"product.{additive}", f"{product.name}: {ADDITIVES[additive][1]}.", Level.CAUTION)
        for additive in product.additives
    ]
    if not product.contents:
        text = f"{product.name}: its label names nothing that it holds, so nothing is reckoned of it; its safety data sheet may."
        told.append(Caution("product.undeclared", text, Level.CAUTION))
    for content in product.contents:
        if content.is_other:
            text = f"{product.name}: {content.name} is not on the list of the book, so its share is not reckoned with."
            told.append(Caution("product.other", text, Level.CAUTION))
    return tuple(told)
