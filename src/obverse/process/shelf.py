"""Bottles that stand on the shelf, and the shelf as a document that can travel."""

from __future__ import annotations

from datetime import date
from typing import Literal, Self

from pydantic import AwareDatetime, Field, model_validator

from obverse.foundation import Document
from obverse.process.catalog import products as generic_products
from obverse.process.product import KEY, ROLES, Product
from obverse.process.tool import Tool


class BathPass(Document):
    """Films that went through a mixed bath together, and what was seen of them."""

    area_m2: float = Field(gt=0, le=100, description="film area of all of them together")
    films: float = Field(default=1, gt=0, le=1000)
    time_ratio: float = Field(default=1, gt=0, le=20, description="time given over the time of the route")
    ghost: bool | None = Field(default=None, description="a ghost of the negative was seen; none where nobody looked")
    at: AwareDatetime | None = None
    run: str = Field(default="", max_length=120, description="id of the run, where there was one")
    note: str = Field(default="", max_length=400)


class BathNote(Document):
    """What was seen of a mixed bath that stands, or done to it."""

    kind: Literal["looked", "topped_up", "clip", "restored"]
    at: AwareDatetime | None = None
    text: str = Field(
        default="",
        max_length=400,
        description="looked: colour, smell, sludge, in the person's words; restored: with what",
    )
    volume_ml: float | None = Field(default=None, gt=0, le=100_000, description="topped_up: so much fresh bath")
    clip_s: float | None = Field(default=None, gt=0, le=3600, description="clip: seconds until it was done")
    area_m2: float = Field(
        default=0, ge=0, le=1000, description="clip, restored: film area the bath had seen before it"
    )
    run: str = Field(default="", max_length=120, description="mark of the evening at which it was timed")

    @model_validator(mode="after")
    def _told(self) -> Self:
        text = self.text.strip()
        needed = {"looked": text, "topped_up": self.volume_ml, "clip": self.clip_s, "restored": text}[self.kind]
        if not needed:
            raise ValueError(f"a note that says {self.kind.replace('_', ' ')} needs what was seen or how much")
        return self


class Bottle(Document):
    """A bottle or bag that one can put a hand on: a bought product or a mixed bath."""

    name: str = Field(min_length=1, max_length=120)
    product: str | None = Field(default=None, pattern=KEY, description="key of the product it holds")
    formula: str | None = Field(default=None, pattern=KEY, description="key of the formula it was mixed by")
    contents: str = Field(default="", max_length=400, description="what it holds, in words, as the label shows it")
    amount: float | None = Field(default=None, ge=0, le=1_000_000, description="left in it: mL, or g of a solid")
    amount_unit: str = Field(
        default="", pattern=rf"^$|{KEY}", description="unit the amount was said in, such as us_fl_oz"
    )
    filled_on: date | None = Field(default=None, description="day it was bought or mixed")
    mixed_at: AwareDatetime | None = Field(default=None, description="instant a bath was mixed, where hours count")
    passes: tuple[BathPass, ...] = Field(
        default=(), max_length=1000, description="films a mixed bath has seen, oldest first"
    )
    notes: tuple[BathNote, ...] = Field(
        default=(), max_length=1000, description="what was seen of a mixed bath or done to it, oldest first"
    )
    count_known: bool = Field(default=True, description="false: nobody knows how many films it had seen before")
    opened_on: date | None = None
    expires_on: date | None = None
    hours_open: float = Field(default=0, ge=0, le=10_000, description="how long it has stood without its cap, in all")
    note: str = Field(default="", max_length=1000)

    @model_validator(mode="after")
    def _one_content(self) -> Self:
        if (self.product is None) == (self.formula is None):
            raise ValueError("a bottle holds either a product or a mixed formula")
        if (self.passes or self.notes) and self.formula is None:
            raise ValueError("only a mixed bath counts the films it has seen, and is topped up or tested on a clip")
        return self


class ShelfDocument(Document):
    """What stands on a shelf, for `obverse mix --shelf`. A product may be named by its generic key."""

    format: Literal["obverse-shelf"] = "obverse-shelf"
    version: Literal[1] = 1
    products: tuple[Product | str, ...] = Field(min_length=1, max_length=500)
    tools: tuple[Tool, ...] = Field(default=(), max_length=100)

    @model_validator(mode="after")
    def _known(self) -> Self:
        for product in self.products:
            if isinstance(product, str) and product not in generic_products():
                raise ValueError(f"there is no generic product {product!r}")
        keys = [p if isinstance(p, str) else p.key for p in self.products]
        if len(set(keys)) != len(keys):
            raise ValueError("two products on the shelf have the same key")
        return self

    def full_products(self) -> tuple[Product, ...]:
        """The products, generic keys replaced by what they stand for."""
        return tuple(generic_products()[p] if isinstance(p, str) else p for p in self.products)


class PouredDocument(Document):
    """So much of a product: mL of a liquid, g of a solid. A generic product may be named by its key."""

    product: Product | str
    amount: float = Field(gt=0, le=100_000)

    @model_validator(mode="after")
    def _known(self) -> Self:
        if isinstance(self.product, str) and self.product not in generic_products():
            raise ValueError(f"there is no generic product {self.product!r}")
        return self

    @property
    def full_product(self) -> Product:
        """The product itself."""
        return generic_products()[self.product] if isinstance(self.product, str) else self.product


class BathByBottles(Document):
    """A bath as another bench writes it: by its own bottles, for `obverse adapt`."""

    format: Literal["obverse-bath"] = "obverse-bath"
    version: Literal[1] = 1
    name: str = Field(default="a bath from another bench", min_length=1, max_length=160)
    role: Literal[ROLES]  # type: ignore[valid-type]
    volume_ml: float = Field(gt=0, le=100_000)
    poured: tuple[PouredDocument, ...] = Field(min_length=1, max_length=20)
