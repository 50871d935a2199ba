"""What a formula needs, and which bottles on the shelf could bring it."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace

from obverse.chemistry import concentration_g_per_l, molar_mass_g_per_mol, solubility_g_per_l
from obverse.foundation import ML_PER_L, InputError
from obverse.mixing.sources import Brings, Candidate, acid_does, candidates
from obverse.process import Component, Content, Dilution, Formula, Product, Substance
from obverse.process.catalog import substance as known_substance
from obverse.reference import number

# Choices of bottles that are weighed, and how many are looked at to find them: a shelf at home has fewer.
MOST_COMBINATIONS = 200
MOST_LOOKED_AT = 4000

# One candidate for each component, one product for each dilution.
Choice = tuple[tuple[Candidate, ...], tuple[Product, ...]]


@dataclass(frozen=True, slots=True)
class Need:
    """One line of a formula: the substance, its g/L, and the moles of what it brings to the whole bath."""

    component: Component
    substance: Substance
    g_per_l: float
    active_moles: float


def target_g_per_l(component: Component, substance: Substance, *, where: str) -> float:
    """Grams in a litre of bath that a line of a formula asks for.

    Parameters
    ----------
    substance : Substance
        The one it names.
    where : str
        The formula, for the error.

    Returns
    -------
    float
        g/L.

    Raises
    ------
    InputError
        For a strength that is no concentration of a bath.
    """
    strength = component.parsed
    if strength.unit == "1+n":
        raise InputError(
            f"{strength.text} says how to dilute {substance.name}, not how much of it the bath holds",
            where=f"{where}, {substance.name}",
            remedy="write g/L, mol/L or % w/v of it in the finished bath",
        )
    if strength.unit in ("% v/v", "mL/L") and substance.key != "acetic_acid":
        raise InputError(
            f"{strength.text} of {substance.name} does not say how strong that liquid is",
            where=f"{where}, {substance.name}",
            remedy="write % w/w, % w/v, g/L or mol/L",
        )
    if strength.unit == "% w/w":
        # A bath is close to water; the formula means g per 100 g of it.
        return 10 * strength.value * number("density.water.20C") / ML_PER_L
    try:
        return concentration_g_per_l(strength, substance).value
    except InputError as error:
        raise InputError(error.what, where=f"{where}, {substance.name}", remedy=error.remedy) from error


def need_of(component: Component, volume_ml: float, formula: Formula) -> Need:
    """Read a line of a formula.

    Raises
    ------
    InputError
        For an unknown substance, a strength that is no concentration, nothing at all, or more than dissolves.
    """
    substance = known_substance(component.substance, where=formula.name)
    g_per_l = target_g_per_l(component, substance, where=formula.name)
    if not g_per_l > 0:
        raise InputError(
            f"{substance.name} at {component.concentration} adds nothing",
            where=formula.name,
            remedy="leave the line out or give an amount above zero",
        )
    dissolves = most_that_dissolves(substance)
    if dissolves is not None and g_per_l > dissolves:
        raise InputError(
            f"{g_per_l:g} g/L of {substance.name} will not dissolve: water at 20 C takes {dissolves:g} g/L",
            where=formula.name,
            remedy="ask for a weaker bath",
        )
    moles = g_per_l / molar_mass_g_per_mol(substance.molar_mass_key) * volume_ml / 1000
    return Need(component, substance, g_per_l, moles * (substance.active_per_mole or 1.0))


# Weak acids and their like: alkali dissolves far more of them than water does.
_DISSOLVED_BY_ALKALI = {"developer_agent", "thiourea_dioxide"}


def most_that_dissolves(substance: Substance) -> float | None:
    """Grams that a litre of water takes at 20 C where that is a limit; None where none is held, or alkali or ammonia lifts it."""
    if substance.solubility_key:
        return number(substance.solubility_key)
    if _DISSOLVED_BY_ALKALI & set(substance.classes) or "silver" in substance.classes or substance.key == "boric_acid":
        return None
    return solubility_g_per_l(substance.key)


def merged(needs: tuple[Need, ...]) -> tuple[Need, ...]:
    """Lines that bring the same active thing (two hydrates, two acids) are one need, named by the first."""
    found: dict[str, Need] = {}
    for need in needs:
        name = need.substance.active or need.substance.key
        if name in found:
            first = found[name]
            share = (first.active_moles + need.active_moles) / first.active_moles
            found[name] = replace(first, g_per_l=first.g_per_l * share, active_moles=first.active_moles * share)
        else:
            found[name] = need
    return tuple(found.values())


def answers(need: Need, brings: Brings) -> bool:
    """Whether a content of a product serves this need."""
    if need.substance.active:
        return brings.substance.active == need.substance.active
    return brings.substance.key == need.substance.key


def options_for(need: Need, shelf: tuple[Product, ...], chosen: dict[str, str], formula: Formula) -> list[Candidate]:
    """Products that could bring it, the nearest first; only the chosen one where the person chose."""
    found = list(candidates(need.substance, shelf, need.component.acid_must))
    if not found and need.component.acid_must:
        barred = candidates(need.substance, shelf)
        if barred:
            # An acid of another kind is matched neither by titration nor by weight: whoever says the bath decides how much.
            fit = [p for p in shelf if any(_does(c, need.component) for c in p.contents[:1])]
            does = [p.name for p in sorted(fit, key=lambda p: p.form == "liquid")]
            told = f"say a bath of your own with {does[0]}, which does" if does else "an acid that does"
            raise InputError(
                f"{barred[0].product.name} is an acid too, but here the acid must {_must_words(need.component)}",
                where=formula.name,
                remedy=f"add {need.substance.name}, or {told}",
            )
    if not found:
        raise InputError(
            f"nothing on the shelf brings {need.substance.name}",
            where=formula.name,
            remedy="add a product that holds it, another hydrate or another salt of it",
        )
    wish = chosen.get(need.substance.key)
    if wish is None:
        return found
    taken = [c for c in found if c.product.key == wish]
    if not taken:
        raise InputError(
            f"{wish!r} does not bring {need.substance.name}",
            where=formula.name,
            remedy="choose one of " + ", ".join(c.product.key for c in found),
        )
    return taken


def _does(content: Content, component: Component) -> bool:
    """Whether what a label names is an acid that does what this one is for."""
    return not content.is_other and acid_does(known_substance(content.substance), component.acid_must)


def _must_words(component: Component) -> str:
    words = {"chelate": "hold metal ions", "stay": "not evaporate", "reach_ph_2": "come down to about pH 2"}
    return " and ".join(words[must] for must in component.acid_must)


# Concentrates that develop: one may stand for another where the one that is asked for is not there, at times of its own.
DEVELOPING = frozenset({"paper_developer", "film_developer", "first_developer", "second_developer"})


def serves(role: str, product: Product) -> bool:
    """Whether a product is used as that, or as something that may stand for it.

    Parameters
    ----------
    role : str
        Such as ``"first_developer"``; developers may stand for one another.
    """
    return role in product.roles or (role in DEVELOPING and bool(DEVELOPING & set(product.roles)))


def role_options(line: Dilution, shelf: tuple[Product, ...], chosen: dict[str, str], formula: Formula) -> list[Product]:
    """Products used by dilution in that role; only the chosen one where the person chose."""
    role = line.product_role.replace("_", " ")
    exact = [p for p in shelf if line.product_role in p.roles]
    found = exact or [p for p in shelf if serves(line.product_role, p)]
    if not found:
        raise InputError(f"no {role} stands on the shelf", where=formula.name, remedy=f"add a product used as {role}")
    wish = chosen.get(line.product_role)
    if wish is None:
        return found
    taken = [p for p in shelf if p.key == wish and serves(line.product_role, p)]
    if not taken:
        raise InputError(
            f"{wish!r} is no {role}", where=formula.name, remedy="choose one of " + ", ".join(p.key for p in found)
        )
    return taken


def combinations(options: list[list[Candidate]], roles: list[list[Product]]) -> Iterator[Choice]:
    """Choices of one product per line, the nearest first; two lines from one bottle only as a last resort."""
    every = ((picks, bottles) for picks in itertools.product(*options) for bottles in itertools.product(*roles))

    def cost(choice: Choice) -> tuple[int, float]:
        bottles = [c.product.key for c in choice[0]]
        return len(bottles) - len(set(bottles)), sum(c.order[0] for c in choice[0])

    yield from sorted(itertools.islice(every, MOST_LOOKED_AT), key=cost)
