"""Products as the shops sell them, and formulas as the book writes them."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, field_validator, model_validator

from obverse.chemistry import Strength, parse_strength
from obverse.foundation import Document, InputError, Standing

KEY = r"^[a-z0-9][a-z0-9_.-]{0,79}$"


def _checked_strength(text: str) -> str:
    try:
        parse_strength(text)
    except InputError as error:
        raise ValueError(error.sentence.rstrip(".")) from error
    return text


class Content(Document):
    """One substance in a product, at the strength the label prints."""

    substance: str = Field(pattern=KEY)
    strength: str = Field(max_length=40)
    strength_relative_sd: float = Field(
        default=0.03, ge=0, le=1, description="standard uncertainty of the strength, as a fraction"
    )

    _strength = field_validator("strength")(_checked_strength)

    @property
    def parsed(self) -> Strength:
        """The strength as number and unit."""
        return parse_strength(self.strength)


class Product(Document):
    """A bottle, bag or can as the shop sells it."""

    key: str = Field(pattern=KEY)
    name: str = Field(min_length=1, max_length=160)
    form: Literal["liquid", "solid"]
    contents: tuple[Content, ...] = Field(min_length=1, max_length=12)
    density_g_per_ml: float | None = Field(default=None, gt=0.3, le=4)
    household: bool = False
    roles: tuple[Literal["paper_developer", "film_developer", "wetting_agent"], ...] = Field(
        default=(), description="what it is used as when a formula takes it by dilution"
    )
    additives: tuple[
        Literal["thickener", "perfume", "dye", "surfactant", "hardener", "iodide", "anti_caking", "unknown"], ...
    ] = ()
    package_amount: float | None = Field(default=None, gt=0, description="mL for a liquid, g for a solid")
    package_price: float | None = Field(default=None, ge=0, description="in the person's own currency")
    note: str = Field(default="", max_length=2000)
    standing: Standing = Standing.COMMON_PRACTICE


class Component(Document):
    """One line of a formula: a substance and its concentration in the finished bath."""

    substance: str = Field(pattern=KEY)
    concentration: str = Field(
        max_length=40, description="g/L, mol/L, % w/v of the active substance in the finished bath"
    )
    standing: Standing = Standing.COMMON_PRACTICE
    source: str = Field(default="", max_length=400, description="reference key, or words")
    add_order: int = Field(default=0, ge=0, le=50, description="order of adding; the same number: together")
    acid_must: tuple[Literal["chelate", "stay", "reach_ph_2"], ...] = Field(
        default=(),
        description="what an acid is here for and a stand-in must do: hold metal ions, not evaporate, come down to pH 2",
    )
    note: str = Field(default="", max_length=400)

    _strength = field_validator("concentration")(_checked_strength)

    @property
    def parsed(self) -> Strength:
        """The concentration as number and unit."""
        return parse_strength(self.concentration)


class Dilution(Document):
    """A line that takes a product as it is: 1+n of a concentrate, or mL of it per litre of bath."""

    product_role: str = Field(pattern=KEY, description="such as 'paper_developer'")
    dilution: str = Field(max_length=40)
    note: str = Field(default="", max_length=400)

    _strength = field_validator("dilution")(_checked_strength)

    @property
    def parsed(self) -> Strength:
        """The dilution as number and unit."""
        return parse_strength(self.dilution)


ROLES = (
    "first_developer",
    "stop",
    "bleach",
    "acid_rinse",
    "halide_solvent",
    "clearing",
    "fogging",
    "second_developer",
    "fixer",
    "wash_aid",
    "wetting",
    "hardener",
)


class Formula(Document):
    """A bath by active substances, independent of any bottle."""

    format: Literal["obverse-formula"] = "obverse-formula"
    version: Literal[1] = 1
    key: str = Field(default="own", pattern=KEY)
    name: str = Field(min_length=1, max_length=160)
    role: Literal[ROLES]  # type: ignore[valid-type]
    components: tuple[Component, ...] = Field(default=(), max_length=20)
    dilutions: tuple[Dilution, ...] = Field(default=(), max_length=4)
    keeps: str = Field(default="", max_length=80, description="solution name of the shelf-life table")
    one_shot: bool = True
    make_just_before_use: bool = False
    use_within_min: float | None = Field(default=None, gt=0)
    note: str = Field(default="", max_length=2000)

    @model_validator(mode="after")
    def _something(self) -> Self:
        if not self.components and not self.dilutions:
            raise ValueError("a formula needs at least one component or dilution")
        return self
