"""The document of what very many films taught: learned once from a whole pool, and adopted by whoever wants it."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import AwareDatetime, Field, model_validator

from obverse.foundation import Document
from obverse.pool.document import SIGNATURE, LendingDarkroom

# So few films are known by themselves, without any of this; so many are a folder of every club there is.
FEWEST_SERIES, MOST_SERIES = 50, 10_000
# Of the model's unknowns there are less than this.
MOST_UNKNOWNS = 200
# A middle is not learned further off films in general than this many of their spreads, nor a darkroom's ways wider.
FARTHEST, WIDEST_OFFSET = 4.0, 2.0
DIGEST = r"^[0-9a-f]{64}$"


class LearnedUnknown(Document):
    """One unknown of the model, as many films have it."""

    name: str = Field(max_length=80)
    shift: float = Field(ge=-FARTHEST, le=FARTHEST, description="from films in general, in spreads of films in general")
    spread: float = Field(gt=0, le=1, description="1 is as wide as films in general")
    told_by: int = Field(ge=0, le=MOST_SERIES, description="films whose strips say something of it")


class LearnedOffset(Document):
    """How far darkrooms lie from the middle of all."""

    name: Literal["activity", "alkali", "solvent", "exposure"]
    spread: float = Field(gt=0, le=WIDEST_OFFSET, description="of the logarithm; of the exposure in log exposure")


class LearnedFrom(Document):
    """What it was learned from."""

    series: int = Field(ge=FEWEST_SERIES, le=MOST_SERIES, description="films, each known by one darkroom or more")
    strips: int = Field(ge=0)
    darkrooms: int = Field(ge=1)
    known_in_several: int = Field(ge=0, description="films that more than one darkroom knows")
    unsealed: int = Field(ge=0, description="documents that carried no seal")
    left_aside: int = Field(ge=0, description="films that could not be learned from")
    digest: str = Field(pattern=DIGEST, description="SHA-256 of all the strips, in the order of their content")


class OnFilmsLeftOut(Document):
    """How it does on films that did not teach it, each fifth foretold by the other four."""

    films: int = Field(ge=1)
    gain: float = Field(
        description="log density of what a film's strips say, above films in general; mean of the films"
    )
    gain_sd: float = Field(ge=0, description="standard error of the gain")
    inside90: float = Field(ge=0, le=1, description="share inside the 90 % intervals")
    inside90_in_general: float = Field(ge=0, le=1, description="the same of films in general")


class PriorDocument(Document):
    """What many films and darkrooms have in common."""

    format: Literal["obverse-prior"] = "obverse-prior"
    version: Literal[1] = 1
    darkroom: LendingDarkroom
    made_at: AwareDatetime
    learned_from: LearnedFrom
    left_out: OnFilmsLeftOut
    films: tuple[LearnedUnknown, ...] = Field(min_length=1, max_length=MOST_UNKNOWNS)
    darkrooms: tuple[LearnedOffset, ...] = Field(min_length=4, max_length=4)
    signature: str = Field(default="", pattern=SIGNATURE, description="Ed25519 over all the rest")

    @model_validator(mode="after")
    def _once(self) -> Self:
        for named in (self.films, self.darkrooms):
            if len({one.name for one in named}) != len(named):
                raise ValueError("a name stands twice")
        return self
