"""The page of units: one setting of the notebook, in which everything that is shown is told."""

from __future__ import annotations

from collections.abc import Collection
from typing import Annotated, TypeVar, cast

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from obverse.foundation import InputError
from obverse.process import Paper, UnitsShown, amount_in, retold_in, told_amount
from obverse.web.entries import EntryRoute, Form, revision_seen
from obverse.web.pages import page, workbench_of
from obverse.workbench.house_opinion import USUAL_TANK_ML

router = APIRouter(route_class=EntryRoute)

Told = TypeVar("Told")
_CHOICES = tuple(name for name in UnitsShown.model_fields if name != "tank_ml")


@router.get("/units", response_class=HTMLResponse, include_in_schema=False)
def units_page(request: Request) -> HTMLResponse:
    """The units as they are shown now, with the same few amounts told in them."""
    return page(request, "house/units.html", revision=workbench_of(request).units.revision())


@router.post("/units", include_in_schema=False)
def keep_units(request: Request, form: Form) -> RedirectResponse:
    """Keep other units."""
    units: dict[str, object] = {name: str(form.get(name, "")) for name in _CHOICES}
    tank = str(form.get("tank_ml", "")).strip()
    units["tank_ml"] = volume_ml_of(request, tank, where="tank") if tank else None
    workbench_of(request).units.keep(units, expected_revision=revision_seen(form))
    return RedirectResponse("/units", status_code=303)


def volume_ml_of(request: Request, words: str, *, where: str = "volume") -> float:
    """mL of a volume as it is typed: ``"500"`` in mL, ``"16 fl oz"`` in the ounces of this notebook.

    Raises
    ------
    InputError
        If it is none, or nothing.
    """
    ml = amount_in(words, "liquid", where=where, usual=workbench_of(request).units.shown().usual)[0]
    if ml <= 0:
        raise InputError(f"{words.strip()} is no volume", where=where, remedy="give more than nothing, such as 500 mL")
    return ml


def volume_in_address(request: Request) -> float | None:
    """mL of the volume that an address asks for; None where it asks for none."""
    words = request.query_params.get("volume_ml", "").strip()
    return volume_ml_of(request, words) if words else None


def volume_as_typed(request: Request) -> str:
    """The same as it was typed, where it was said in another unit than mL."""
    words = request.query_params.get("volume_ml", "").strip()
    return words if volume_told(request, words) else ""


def volume_told(request: Request, words: str) -> str:
    """Such a volume as pages and sheets tell it, with the mL beside it; empty for mL."""
    try:
        amount, unit = amount_in(words, "liquid", where="volume", usual=workbench_of(request).units.shown().usual)
    except InputError:
        return ""  # the volume itself is refused, with the reason
    return "" if unit == "ml" else told_amount(amount, unit)


def _volume_or_usual(request: Request) -> float:
    return volume_in_address(request) or USUAL_TANK_ML


VolumeOrNone = Annotated[float | None, Depends(volume_in_address)]
Volume = Annotated[float, Depends(_volume_or_usual)]
VolumeSaid = Annotated[str, Depends(volume_as_typed)]


def temperature_c_of(request: Request, words: str, *, where: str = "temperature", degrees: str = "") -> float:
    """C of a temperature as it is typed: with its unit, or a bare number in what the form says (`degrees`, c or f; else C).

    Raises
    ------
    InputError
        If it is none.
    """
    return workbench_of(request).units.shown().said_temperature(words, where=where, bare=degrees)


def retold_everywhere(request: Request, told: Told, *, only: Collection[str] = ()) -> Told:
    """What is told to a person, with its sentences in the units of the notebook; numbers stay as they are.

    Parameters
    ----------
    told : Told
        A JSON document or a part of it.
    only : collection of str
        Members that are sentences of the house; absent: all text is.
    """
    return cast(Told, retold_in(workbench_of(request).units.shown(), told, only=only))


def paper_of(request: Request, asked: str) -> Paper:
    """The paper that was asked for, or else that of the notebook.

    Raises
    ------
    InputError
        If it is none that sheets are printed on.
    """
    if not asked:
        return workbench_of(request).units.shown().paper
    if asked not in ("a4", "us-letter"):
        raise InputError(f"there is no paper {asked!r}", where="paper", remedy="use a4 or us-letter")
    return cast(Paper, asked)
