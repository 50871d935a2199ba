"""The document by which a darkroom lends its strips: what was done, what was seen, how it was read, what it poured from.

It holds nothing of a shelf, of evenings or of persons, unless a person's name was asked for.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, AwareDatetime, FailFast, Field, model_validator

from obverse.foundation import Document, printable
from obverse.mixing import additions
from obverse.process import ALKALI, SOLVENT, FilmStock, Trial

# One mL of either control brings so much active substance into a litre.
_HERE = {name: addition.g_per_l for name, addition in additions().items()}
SOLVENT_G_PER_ML, ALKALI_G_PER_ML = _HERE[SOLVENT.key], _HERE[ALKALI.key]
# A page of the notebook holds no more strips than this, and nobody has tried more films.
MOST_STRIPS, MOST_FILMS = 2000, 200
# A strip is known here by so many hexadecimal figures, a darkroom and a public key likewise.
STRIP_ID = r"^[0-9a-f]{32}$"
DARKROOM_ID = r"^[0-9a-z]{1,64}$"
PUBLIC_KEY = r"^([0-9a-f]{64})?$"
SIGNATURE = r"^([0-9a-f]{128})?$"


Name = Annotated[str, Field(max_length=60), AfterValidator(printable)]


class LendingDarkroom(Document):
    """Who lends: a key that stays, the name the darkroom chose, and what its seal is checked by."""

    id: str = Field(pattern=DARKROOM_ID)
    name: Name = ""
    public_key: str = Field(default="", pattern=PUBLIC_KEY, description="Ed25519, hexadecimal; empty where unsealed")


class CountedIn(Document):
    """What one millilitre of the two additions held in the lender's bottles, in active substance.

    The controls of the strips count millilitres of these.
    """

    solvent_g_per_ml: float = Field(default=SOLVENT_G_PER_ML, gt=0, le=3, description="ammonium thiosulfate")
    alkali_g_per_ml: float = Field(default=ALKALI_G_PER_ML, gt=0, le=1, description="NH3")


class LentStrip(Document):
    """One strip with the id that stays with it when it is corrected."""

    id: str = Field(pattern=STRIP_ID)
    revision: int = Field(default=1, ge=1, le=1_000_000)
    trial: Trial
    read_by: Name = ""

    @model_validator(mode="after")
    def _shown(self) -> Self:
        printable(self.trial.id)
        return self


class LentFilm(Document):
    """One film and the strips of it that are lent."""

    film: FilmStock
    strips: Annotated[tuple[LentStrip, ...], FailFast()] = Field(default=(), max_length=MOST_STRIPS)

    @model_validator(mode="after")
    def _once(self) -> Self:
        printable(self.film.name)
        if len({strip.id for strip in self.strips}) != len(self.strips):
            raise ValueError("a strip stands twice")
        return self


class PoolDocument(Document):
    """What one darkroom lends."""

    format: Literal["obverse-pool"] = "obverse-pool"
    version: Literal[1] = 1
    darkroom: LendingDarkroom
    made_at: AwareDatetime
    counted_in: CountedIn = CountedIn()
    films: Annotated[tuple[LentFilm, ...], FailFast()] = Field(default=(), max_length=MOST_FILMS)
    withdrawn: tuple[Annotated[str, Field(pattern=STRIP_ID)], ...] = Field(
        default=(), max_length=MOST_STRIPS * 10, description="ids of strips that the lender takes back"
    )
    signature: str = Field(default="", pattern=SIGNATURE, description="Ed25519 over all the rest")

    @model_validator(mode="after")
    def _once(self) -> Self:
        ids = [strip.id for film in self.films for strip in film.strips]
        if len(set(ids)) != len(ids):
            raise ValueError("a strip stands under two films")
        return self


def counted_here(trial: Trial, counted_in: CountedIn) -> Trial:
    """The strip with its additions counted as they count here: by active substance, whatever bottle it was poured from.

    Parameters
    ----------
    trial : Trial
        As the lender counts it.
    counted_in : CountedIn
        What the lender's bottles held, g/mL.

    Returns
    -------
    Trial
        The same one where the bottles are as strong as they count here.
    """
    factors = {
        SOLVENT.key: counted_in.solvent_g_per_ml / SOLVENT_G_PER_ML,
        ALKALI.key: counted_in.alkali_g_per_ml / ALKALI_G_PER_ML,
    }

    def here(values: dict[str, float]) -> dict[str, float]:
        return {name: value * factors.get(name, 1.0) for name, value in values.items()}

    if all(abs(factor - 1.0) < 1e-9 for factor in factors.values()):
        return trial
    return trial.model_copy(update={"controls": here(trial.controls), "control_sds": here(trial.control_sds)})
