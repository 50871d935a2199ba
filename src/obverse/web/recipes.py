"""Pages of recipes: list, one recipe, take one in, compare two, make it from my bottles, print its evening."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from obverse.foundation import InputError, JsonObject
from obverse.process import CODE_HEAD, read_code
from obverse.process.catalog import substance
from obverse.web.entries import EntryRoute, Form
from obverse.web.pages import Asked, page, workbench_of
from obverse.web.people import touch
from obverse.web.units import VolumeOrNone, VolumeSaid, paper_of
from obverse.workbench.recipes import (
    MOST_BYTES_OF_A_RECIPE,
    Recipes,
    agitation_words,
    differences,
    read_recipe,
    read_recipe_text,
    recipe_text,
    rinse_words,
)

router = APIRouter(route_class=EntryRoute)


def _recipes(request: Request) -> Recipes:
    recipes: Recipes = workbench_of(request).recipes
    return recipes


@router.get("/notebook/recipes", response_class=HTMLResponse, include_in_schema=False)
def recipes_page(request: Request, asked: Asked, first: str = "", second: str = "") -> HTMLResponse:
    """The recipes as they are asked for; with two named, in what they differ."""
    recipes = _recipes(request)
    compared = differences(recipes.recipe(first), recipes.recipe(second)) if first and second else None
    return page(
        request,
        "recipes/recipes.html",
        found=recipes.find(asked),
        recipes=recipes.all(),
        first=first,
        second=second,
        compared=compared,
    )


@router.post("/notebook/recipes", include_in_schema=False)
def take_in(request: Request, form: Form) -> RedirectResponse:
    """Take a recipe in from a file, or from the text of a QR code."""
    file, code = form.get("file"), str(form.get("code", "")).strip()
    if code:
        recipe = read_recipe(read_code(code), where="QR code", room=_recipes(request).room())
    elif file is not None and not isinstance(file, str) and file.filename:
        text = file.file.read(MOST_BYTES_OF_A_RECIPE + 1)
        recipe = read_recipe_text(text, where=file.filename[:80], room=_recipes(request).room())
    else:
        raise InputError(
            "no recipe was given", remedy=f"choose a file, or paste the text of a code, which begins with {CODE_HEAD}"
        )
    kept = _recipes(request).take_in(recipe)
    touch(request, "recipe", kept.id, anyway=True)
    return RedirectResponse(f"/notebook/recipes/{kept.id}", status_code=303)


@router.get("/notebook/recipes/{id}", response_class=HTMLResponse, include_in_schema=False)
def recipe_page(request: Request, id: str, volume_ml: VolumeOrNone, volume_said: VolumeSaid) -> HTMLResponse:
    """One recipe: what to do, the baths by active substance, and the same baths from my bottles."""
    recipes = _recipes(request)
    recipe = recipes.export(id)
    if volume_ml is None:
        volume_ml = workbench_of(request).sink.tank_ml_of(recipe.route)
    if not 20 <= volume_ml <= 20_000:
        raise InputError(f"{volume_ml:g} mL is no bath", where="volume", remedy="give 20 to 20000 mL")
    return page(
        request,
        "recipes/recipe.html",
        id=id,
        aside=recipes.is_aside(id),
        whose=workbench_of(request).belongings.of("recipe", id),
        recipe=recipe,
        steps=[
            {"step": step, "agitation": agitation_words(step) if step.formula else "", "rinse": rinse_words(step)}
            for step in recipe.route.steps
        ],
        names={c.substance: substance(c.substance).name for f in recipe.formulas for c in f.components},
        baths=recipes.from_my_bottles(recipe, volume_ml),
        volume_ml=volume_ml,
        volume_said=volume_said,
        densities=[patch.density for patch in recipe.curve],
    )


@router.get("/notebook/recipes/{id}/document.json", include_in_schema=False)
def document(request: Request, id: str) -> Response:
    """The document itself, to give away."""
    text = recipe_text(_recipes(request).export(id))
    return Response(
        text,
        media_type="application/json",
        headers={"Content-Disposition": f'attachment; filename="{_file_name(id)}.json"'},
    )


@router.get("/notebook/recipes/{id}/evening.pdf", include_in_schema=False)
def evening_pdf(
    request: Request, id: str, tank_ml: float | None = None, temperature_c: float | None = None, paper: str = ""
) -> Response:
    """The evening of this recipe on paper."""
    from obverse.sheets.process_sheet import process_sheet_pdf

    recipe = _recipes(request).export(id)
    plan = workbench_of(request).sink.plan_of(recipe, {"tank_ml": tank_ml, "temperature_c": temperature_c})
    today = workbench_of(request).clock.now().date()
    data = process_sheet_pdf(
        plan,
        recipe=recipe,
        recipe_text=recipe_text(recipe),
        paper=paper_of(request, paper),
        printed_on=today,
        units=workbench_of(request).units.shown(),
    )
    return Response(
        data,
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="evening-{_file_name(id)}.pdf"'},
    )


@router.get("/api/notebook/recipes")
def list_recipes(request: Request) -> JsonObject:
    """The recipes of the notebook."""
    return {
        "recipes": [
            {"id": kept.id, "name": kept.thing.name, "revision": kept.thing.revision}
            for kept in _recipes(request).all()
        ]
    }


@router.get("/api/notebook/recipes/{id}")
def recipe_document(request: Request, id: str) -> JsonObject:
    """One recipe as it travels."""
    return _recipes(request).export(id).model_dump(mode="json")


@router.post("/notebook/recipes/{id}/retire", include_in_schema=False)
def retire(request: Request, id: str) -> RedirectResponse:
    """Put a recipe aside."""
    touch(request, "recipe", id)
    _recipes(request).retire(id)
    return RedirectResponse("/notebook/recipes", status_code=303)


@router.post("/notebook/recipes/{id}/restore", include_in_schema=False)
def restore(request: Request, id: str) -> RedirectResponse:
    """Take a recipe back into use."""
    touch(request, "recipe", id)
    _recipes(request).restore(id)
    return RedirectResponse("/notebook/recipes", status_code=303)


def _file_name(id: str) -> str:
    return "".join(letter if letter.isascii() and (letter.isalnum() or letter in "-_") else "-" for letter in id)
