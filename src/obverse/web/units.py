"""The page of units: one setting of the notebook, in which everything that is shown is told."""

from __future__ import annotations

from typing import Any, cast

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from obverse.foundation import InputError, parse_number
from obverse.process import Paper, UnitsShown
from obverse.web.entries import EntryRoute, Form
from obverse.web.pages import page, workbench_of

router = APIRouter(route_class=EntryRoute)

_CHOICES = tuple(name for name in UnitsShown.model_fields if name != "tank_ml")


@router.get("/units", response_class=HTMLResponse, include_in_schema=False)
def units_page(request: Request) -> HTMLResponse:
    """The units as they are shown now, with the same few amounts told in them."""
    return page(request, "house/units.html", revision=workbench_of(request).units.revision())


@router.post("/units", include_in_schema=False)
def keep_units(request: Request, form: Form) -> RedirectResponse:
    """Keep other units."""
    units: dict[str, Any] = {name: str(form.get(name, "")) for name in _CHOICES}
    tank = str(form.get("tank_ml", "")).strip()
    units["tank_ml"] = parse_number(tank, where="tank", example="500") if tank else None
    seen = str(form.get("revision", ""))
    workbench_of(request).units.keep(units, expected_revision=int(seen) if seen.isdigit() else None)
    return RedirectResponse("/units", status_code=303)


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
