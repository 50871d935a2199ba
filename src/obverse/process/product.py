"""Products as the shops sell them, and formulas as the book writes them."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, field_validator, model_validator

from obverse.chemistry import BARE, NOT_SAID, Strength, parse_strength
from obverse.foundation import Document, InputError, Standing

KEY = r"^[a-z0-9][a-z0-9_.-]{0,79}$"
LONGEST_NAME = 160  # signs; two lines of a phone


def _checked_strength(text: str) -> str:
    try:
        parse_strength(text)
    except InputError as error:
        raise ValueError(error.sentence.rstrip(".")) from error
    return text


# A substance that is not on the list of the house: it has the name of its label.
OTHER = "other"
# So little of something does not move the acidity of a bath that is diluted; our judgement.
TRACE_PERCENT = 1.0
# Hazard and supplemental statements as labels print them, alone or joined: H314, EUH031, H302+H332.
STATEMENT = r"^(?:EUH\d{3}[A-Z]?|H\d{3}(?:[A-Z]{1,2}|[a-z]{1,2}|[A-Z][a-z])?)$"
DEVELOPERS = ("paper_developer", "film_developer", "wetting_agent")
# What a product may be used as when it is taken by dilution; whoever says no strengths says at least this.
USES = (
    *DEVELOPERS,
    "first_developer",
    "second_developer",
    "stop",
    "bleach",
    "acid_rinse",
    "halide_solvent",
    "clearing",
    "fogging",
    "fixer",
    "hardener",
    "wash_aid",
)


def _checked_dilution(text: str) -> str:
    if not text.strip():
        raise ValueError("it is empty: say how it is diluted, such as 1+9 or 20 mL/L")
    return _checked_strength(text)


def _checked_target(text: str) -> str:
    """A formula says what it wants; only a label may leave it open."""
    if not text.strip():
        raise ValueError("it is empty: say how much of it the finished bath holds, such as 30 g/L")
    _checked_strength(text)
    read = parse_strength(text)
    if read.unit == BARE:
        raise ValueError(f"{text!r} does not say per weight or per volume; write {text} w/w or {text} w/v, or g/L")
    if read.unit in (NOT_SAID, "pure"):
        raise ValueError(f"{text!r} is no concentration of a bath; write g/L, mol/L or % w/v")
    return text


class Content(Document):
    """One substance in a product, at the strength the label prints; what it leaves open may stay open."""

    substance: str = Field(pattern=KEY, description="key of the substance; 'other' for one that is not on the list")
    name: str = Field(
        default="", max_length=120, description="name on the label, of a substance that is not on the list"
    )
    strength: str = Field(
        default=NOT_SAID, max_length=40, description="as printed: 60 % w/w, 5-10 %, under 5 %, not said"
    )
    said: str = Field(
        default="", max_length=80, description="the label's own words, where no strength was read in them"
    )
    strength_relative_sd: float = Field(
        default=0.03, ge=0, le=1, description="standard uncertainty of the strength, as a fraction"
    )

    _strength = field_validator("strength")(_checked_strength)

    @model_validator(mode="after")
    def _named(self) -> Self:
        if self.is_other and not self.name:
            raise ValueError("a substance that is not on the list needs the name that the label gives it")
        return self

    @property
    def parsed(self) -> Strength:
        """The strength as number and unit."""
        return parse_strength(self.strength)

    @property
    def is_other(self) -> bool:
        """True of a substance that is not on the list."""
        return self.substance == OTHER

    @property
    def is_trace(self) -> bool:
        """True where the label says a percent or less."""
        read = self.parsed
        return read.unit in ("% w/w", "% w/v", BARE) and read.high <= TRACE_PERCENT


class Product(Document):
    """A bottle, bag or can as the shop sells it."""

    key: str = Field(pattern=KEY)
    name: str = Field(min_length=1, max_length=LONGEST_NAME)
    form: Literal["liquid", "solid"]
    contents: tuple[Content, ...] = Field(
        default=(), max_length=12, description="what the label names; empty where it names nothing"
    )
    density_g_per_ml: float | None = Field(default=None, gt=0.3, le=4)
    household: bool = False
    roles: tuple[Literal[USES], ...] = Field(  # type: ignore[valid-type]
        default=(), description="what it is used as when a formula takes it by dilution"
    )
    dilution: str = Field(default="", max_length=200, description="as the label prints it, such as 1+14 or 1+29")
    statements: tuple[Annotated[str, Field(pattern=STATEMENT)], ...] = Field(
        default=(), max_length=40, description="hazard statements of its label, such as H314 or EUH031"
    )
    additives: tuple[
        Literal["thickener", "perfume", "dye", "surfactant", "hardener", "iodide", "anti_caking", "unknown"], ...
    ] = ()
    package_amount: float | None = Field(default=None, gt=0, description="mL for a liquid, g for a solid")
    package_said: str = Field(default="", max_length=80, description="the package as it was said, such as 64 fl oz")
    density_said: str = Field(default="", max_length=80, description="the density as it was said, such as 42 Be")
    package_price: float | None = Field(default=None, ge=0, description="in the person's own currency")
    note: str = Field(default="", max_length=2000)
    standing: Standing = Standing.COMMON_PRACTICE

    @property
    def is_open(self) -> bool:
        """True where its label leaves something open: a strength, a substance that is not on the list, or everything."""
        return not self.contents or any(content.is_other or content.parsed.is_open for content in self.contents)

    @property
    def undeclared(self) -> bool:
        """True where it may hold more than a trace of something of which the house knows no chemistry."""
        return not self.contents or any(c.is_other and not c.is_trace for c in self.contents)


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
    beside: bool = Field(
        default=False,
        description="the lesser part of a product that was meant for another; other bottles do without it",
    )
    note: str = Field(default="", max_length=400)

    _strength = field_validator("concentration")(_checked_target)

    @property
    def parsed(self) -> Strength:
        """The concentration as number and unit."""
        return parse_strength(self.concentration)


class Dilution(Document):
    """A line that takes a product as it is: 1+n of a concentrate, or mL of it per litre of bath."""

    product_role: str = Field(pattern=KEY, description="such as 'paper_developer'")
    dilution: str = Field(max_length=40)
    note: str = Field(default="", max_length=400)

    _strength = field_validator("dilution")(_checked_dilution)

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
    name: str = Field(min_length=1, max_length=LONGEST_NAME)
    role: Literal[ROLES]  # type: ignore[valid-type]
    components: tuple[Component, ...] = Field(default=(), max_length=20)
    dilutions: tuple[Dilution, ...] = Field(default=(), max_length=4)
    keeps: str = Field(default="", max_length=80, description="solution name of the shelf-life table")
    one_shot: bool = True
    make_just_before_use: bool = False
    use_within_min: float | None = Field(default=None, gt=0)
    note: str = Field(default="", max_length=2000)
    unread: tuple[str, ...] = Field(
        default=(), max_length=20, description="what else goes in as said, of which nothing is known"
    )

    @model_validator(mode="after")
    def _something(self) -> Self:
        if not self.components and not self.dilutions:
            raise ValueError("a formula needs at least one component or dilution")
        return self
