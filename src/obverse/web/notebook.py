"""The notebook pages: films, the story of one film, what-if, aim, next strips, recipes."""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Sequence

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from pydantic import Field

from obverse.foundation import Document, InputError, JsonObject
from obverse.process import (
    AIMS,
    CONTROLS,
    FAULTS,
    GRADES,
    WHATS,
    Aim,
    ControlRange,
    FilmStock,
    Grade,
    Patch,
    table_text,
)
from obverse.web.entries import EntryRoute, named_by_itself
from obverse.web.pages import Asked, page, workbench_of
from obverse.web.people import ask_first, by_another, person_of, touch
from obverse.web.units import paper_of, retold_everywhere
from obverse.workbench.contradictions import contradictions
from obverse.workbench.light_table import strip_of
from obverse.workbench.notebook import Notebook, recipe_id_of
from obverse.workbench.past_strips import PastTableGiven, look, take_in
from obverse.workbench.story import FEWEST_CONTROL_STRIPS, aim_reasons, as_read
from obverse.workbench.wear import BATHS, USUAL_DEVELOPER_ML, with_films_before
from obverse.workbench.words import grades_text

router = APIRouter(route_class=EntryRoute)


class NewFilm(Document):
    """A film to begin pages for."""

    stock: FilmStock
    controls: dict[str, ControlRange] | None = None
    aim: str | JsonObject = "projection"


class NewTrial(Document):
    """A trial to write down; without `id` it becomes the next strip by number."""

    id: str = Field(default="", max_length=120)
    controls: dict[str, float]
    steps: tuple[Patch, ...] = Field(default=(), max_length=2000)
    grades: tuple[Grade, ...] = ()
    faults: tuple[str, ...] = ()
    note: str = Field(default="", max_length=4000)
    recipe: str = Field(default="", max_length=120)
    wear: dict[str, float] = Field(
        default_factory=dict, description="share of its capacity each bath had used before, 0 to 1"
    )
    films_before: float = Field(default=0, description="films that the first developer had developed already")
    developer_ml: float = Field(default=USUAL_DEVELOPER_ML, description="volume of that developer")


class TrialChanges(Document):
    """Parts of a trial to change; what is absent stays."""

    revision: int | None = Field(default=None, ge=1)
    controls: dict[str, float] | None = None
    grades: tuple[Grade, ...] | None = None
    faults: tuple[str, ...] | None = None
    note: str | None = Field(default=None, max_length=4000)
    recipe: str | None = Field(default=None, max_length=120)
    wear: dict[str, float] | None = None
    anyway: bool = Field(default=False, description="though it is another person's strip")


class PlanChanges(Document):
    """The aim or the controls of a film; `revision` is the one that was seen, 0 for a plan nobody changed yet."""

    revision: int | None = Field(default=None, ge=0)
    aim: str | JsonObject | None = None
    controls: dict[str, ControlRange] | None = None


class StockChanges(FilmStock):
    """What is said of a film, and the revision that was seen."""

    revision: int | None = Field(default=None, ge=1)


class WhatIf(Document):
    """Controls to look at, with an aim that is still being drawn."""

    controls: dict[str, float]
    aim: Aim | None = None


class Lock(Document):
    """A recipe to lock from a trial."""

    trial: str = Field(min_length=1, max_length=120)
    name: str = Field(min_length=1, max_length=160)
    route: str = Field(default="", max_length=120, description="key of the process; empty: the one that made the strip")
    note: str = Field(default="", max_length=4000)
    anyway: bool = Field(default=False, description="though the strip misses the aim")


class TableFile(Document):
    """The bytes of a table that was chosen as a file."""

    name: str = Field(default="table", max_length=255)
    base64: str = Field(max_length=6_000_000)


def _notebook(request: Request) -> Notebook:
    return workbench_of(request).notebook


@router.get("/notebook", response_class=HTMLResponse, include_in_schema=False)
def films_page(request: Request, asked: Asked) -> HTMLResponse:
    """The films as they are asked for, each with its strips."""
    notebook = _notebook(request)
    found = notebook.find_films(asked)
    every, films = notebook.trials_by_film(), []
    for kept in found.rows:
        trials = every.get(kept.id, [])
        strips = [
            {
                "name": one.thing.trial.id,
                "strip": strip_of([p.density for p in _sorted(one.thing.trial.steps)], kept.thing.base_density),
            }
            for one in trials
            if one.thing.trial.steps
        ]
        judged = sum(bool(one.thing.trial.grades) for one in trials)
        films.append({**kept.document(), "trials": len(trials), "judged": judged, "strips": strips[-7:]})
    return page(
        request,
        "notebook/films.html",
        found=found,
        films=films,
        controls=CONTROLS.facts(),
        aims=list(AIMS),
    )


@router.get("/notebook/past-strips", response_class=HTMLResponse, include_in_schema=False)
def past_strips_page(request: Request) -> HTMLResponse:
    """A table of past strips: pasted or loaded, looked at, then written down."""
    return page(
        request,
        "notebook/past_strips.html",
        whats=WHATS,
        controls=CONTROLS.facts(),
        films=[kept.thing.name for kept in _notebook(request).films()],
    )


@router.get("/notebook/book.pdf", include_in_schema=False)
def book(request: Request, paper: str = "") -> Response:
    """The whole notebook as a book."""
    from obverse.sheets.book import book_pdf

    bench = workbench_of(request)
    data = book_pdf(
        bench.notebook.every_series(),
        [kept.thing for kept in bench.recipes.all()],
        paper=paper_of(request, paper),
        printed_on=bench.clock.now().date(),
        units=bench.units.shown(),
    )
    return Response(
        data, media_type="application/pdf", headers={"Content-Disposition": 'inline; filename="notebook.pdf"'}
    )


@router.get("/notebook/strips", response_class=HTMLResponse, include_in_schema=False)
def strips_page(request: Request, asked: Asked, film: str = "") -> HTMLResponse:
    """Strips of all films, or of one, as they are asked for."""
    notebook = _notebook(request)
    films = {kept.id: kept.thing for kept in ([notebook.film(film)] if film else notebook.films())}
    found = notebook.find_strips(asked, film)
    me = person_of(request)
    strips = [
        {
            "id": kept.id,
            "name": kept.thing.trial.id,
            "film": kept.thing.film,
            "film_name": films[kept.thing.film].name,
            "controls": CONTROLS.text(kept.thing.trial.controls),
            "said": grades_text(kept.thing.trial.grades),
            "faults": [fault.replace("_", " ") for fault in kept.thing.trial.faults],
            "note": kept.thing.trial.note,
            "day": kept.thing.trial.made_on or kept.created_at.date(),
            "person": kept.thing.trial.person,
            "mine": not (me and kept.thing.trial.person) or kept.thing.trial.person == me,
            "strip": strip_of(
                [patch.density for patch in _sorted(kept.thing.trial.steps)], films[kept.thing.film].base_density
            ),
        }
        for kept in found.rows
    ]
    return page(
        request,
        "notebook/strips.html",
        found=found,
        strips=strips,
        film=film,
        film_name=films[film].name if film else "",
    )


@router.post("/notebook/strips/{trial_id}/retire", include_in_schema=False)
def retire_strip(request: Request, trial_id: str) -> RedirectResponse:
    """Put a strip aside from the list; another person's is asked about first."""
    _aside(request, trial_id, back=False)
    return RedirectResponse("/notebook/strips", status_code=303)


@router.post("/notebook/strips/{trial_id}/restore", include_in_schema=False)
def restore_strip(request: Request, trial_id: str) -> RedirectResponse:
    """Take a strip back from the list; another person's is asked about first."""
    _aside(request, trial_id, back=True)
    return RedirectResponse("/notebook/strips", status_code=303)


@router.post("/notebook/{film_id}/retire", include_in_schema=False)
def retire_film(request: Request, film_id: str) -> RedirectResponse:
    """Put a film aside with its strips."""
    touch(request, "film", film_id)
    _notebook(request).retire_film(film_id)
    return RedirectResponse("/notebook", status_code=303)


@router.post("/notebook/{film_id}/restore", include_in_schema=False)
def restore_film(request: Request, film_id: str) -> RedirectResponse:
    """Take a film back into use."""
    touch(request, "film", film_id)
    _notebook(request).restore_film(film_id)
    return RedirectResponse(f"/notebook/{film_id}", status_code=303)


@router.get("/notebook/{film_id}", response_class=HTMLResponse, include_in_schema=False)
def film_page(request: Request, film_id: str) -> HTMLResponse:
    """The story of one film."""
    notebook = _notebook(request)
    film = notebook.film(film_id)
    series = notebook.series(film_id)
    return page(
        request,
        "notebook/film.html",
        film=film.document(),
        whose=workbench_of(request).belongings.of("film", film_id),
        aside=film.retired_at is not None,
        trial_count=len(series.trials),
        strips=retold_everywhere(request, as_read(series), only=_SENTENCES),
        controls=CONTROLS.facts(),
        held=CONTROLS.text(CONTROLS.reference()),
        aims={name: aim.model_dump(mode="json") for name, aim in AIMS.items()},
        aim_reasons=aim_reasons(series.aim),
        grades=GRADES,
        faults=FAULTS,
        routes=[{"key": key, "name": route.name} for key, route in workbench_of(request).processes.every().items()],
        recipes=[
            {
                "id": kept.id,
                **kept.thing.model_dump(mode="json", include={"name", "revision", "evidence", "controls"}),
                "text": CONTROLS.text(kept.thing.controls),
                "strips": notebook.control_strips(kept.id),
            }
            for kept in notebook.recipes(film.thing.name)
        ],
        fewest_control_strips=FEWEST_CONTROL_STRIPS,
        baths=BATHS,
        usual_developer_ml=USUAL_DEVELOPER_ML,
        contradictions=contradictions(series.trials),
        retired=[{"id": kept.id, "name": kept.thing.trial.id} for kept in notebook.retired_trials(film_id)],
    )


@router.post("/api/notebook/past-strips/text")
@named_by_itself
def past_strips_text(request: Request, body: TableFile) -> dict[str, str]:
    """The text of a table file, whatever its encoding; nothing is kept."""
    try:
        data = base64.b64decode(body.base64, validate=True)
    except ValueError:
        raise InputError("it did not arrive whole", where=body.name, remedy="choose it once more") from None
    return {"text": table_text(data, where=body.name)}


# Of a table only what the house says of it; its cells stay as they were written.
_OF_PAST_STRIPS = frozenset({"told", "controls_short", "controls_text", "sentence", "why"})


@router.post("/api/notebook/past-strips/look")
@named_by_itself
def look_at_past_strips(request: Request, body: PastTableGiven) -> JsonObject:
    """What each column is, what each row becomes, what was not understood; nothing is written."""
    return retold_everywhere(request, look(_notebook(request), body).document(), only=_OF_PAST_STRIPS)


@router.post("/api/notebook/past-strips")
def take_in_past_strips(request: Request, body: PastTableGiven) -> JsonObject:
    """Write down the strips of a table as the preview showed them."""
    return take_in(_notebook(request), body, person=person_of(request)).document()


@router.post("/api/notebook/films")
def add_film(request: Request, body: NewFilm) -> JsonObject:
    """Begin the pages of a film."""
    kept = _notebook(request).add_film(
        body.stock.model_dump(mode="json"),
        controls=None
        if body.controls is None
        else {name: control.model_dump() for name, control in body.controls.items()},
        aim=body.aim,
    )
    touch(request, "film", kept.id)
    return {"id": kept.id}


@router.post("/api/notebook/import")
def import_series(request: Request, body: JsonObject) -> JsonObject:
    """Take in a series document as a new film."""
    kept = _notebook(request).import_series(body)
    touch(request, "film", kept.id, anyway=True)
    return {"id": kept.id}


@router.get("/api/notebook/films/{film_id}/series")
def series(request: Request, film_id: str) -> Response:
    """The series document of a film (contract 1)."""
    document = _notebook(request).series(film_id).model_dump(mode="json")
    stem = re.sub(r"[^A-Za-z0-9]+", "-", document["film"]["name"]).strip("-") or "film"
    return Response(
        json.dumps(document, indent=1, allow_nan=False),
        media_type="application/json",
        headers={"Content-Disposition": f'attachment; filename="{stem}.series.json"'},
    )


# Ours, and of the controls of a strip; what a person wrote is told as it was written.
_SENTENCES = frozenset({"controls_text", "reason", "message", "robustness", "step", "as_good"})


@router.get("/api/notebook/films/{film_id}/story")
def story(request: Request, film_id: str) -> JsonObject:
    """Strips, curves, what was learned."""
    return retold_everywhere(request, _notebook(request).story(film_id).document(), only=_SENTENCES)


@router.get("/api/notebook/films/{film_id}/next")
def next_strips(request: Request, film_id: str, count: int = 1) -> JsonObject:
    """What to try next (contract 2), each with its predicted strip and curve."""
    notebook = _notebook(request)
    found = notebook.next_strips(film_id, count)
    foretold = []
    for one in found.suggestions:
        seen = notebook.what_if(film_id, one.controls).document()
        parts = ("strip", "curve", "controls_text", "controls_short")
        foretold.append({**one.document(), **{part: seen[part] for part in parts}})
    return retold_everywhere(request, {**found.document(), "suggestions": foretold}, only=_SENTENCES)


@router.post("/api/notebook/films/{film_id}/what-if")
@named_by_itself
def what_if(request: Request, film_id: str, body: WhatIf) -> JsonObject:
    """Predicted curve, tone strip and chances for any controls; made to be asked many times a second."""
    return _notebook(request).what_if(film_id, body.controls, body.aim).document()


@router.post("/api/notebook/films/{film_id}/plan")
def plan(request: Request, film_id: str, body: PlanChanges, anyway: bool = False) -> JsonObject:
    """Change the aim or the controls of a film; another's only `anyway`."""
    touch(request, "film", film_id, anyway=anyway)
    changes = {
        name: value for name, value in body.model_dump(mode="json", exclude={"revision"}).items() if value is not None
    }
    notebook = _notebook(request)
    changed = notebook.plan(film_id, changes, expected_revision=body.revision)
    return {
        "revision": notebook.plan_revision(film_id),
        **changed.model_dump(mode="json", include={"aim", "controls"}),
    }


@router.post("/api/notebook/films/{film_id}/stock")
def change_film(request: Request, film_id: str, body: StockChanges, anyway: bool = False) -> JsonObject:
    """Correct what is said of a film; `revision` is the one that was seen; another's only `anyway`."""
    touch(request, "film", film_id, anyway=anyway)
    stock = body.model_dump(mode="json", exclude={"revision"})
    return {"revision": _notebook(request).change_film(film_id, stock, expected_revision=body.revision).revision}


@router.post("/api/notebook/films/{film_id}/trials")
def add_trial(request: Request, film_id: str, body: NewTrial) -> JsonObject:
    """Write a trial down."""
    trial = body.model_dump(mode="json", exclude={"recipe", "films_before", "developer_ml"})
    trial["wear"] = with_films_before(trial["wear"], body.films_before, body.developer_ml)
    kept = _notebook(request).add_trial(film_id, {**trial, "person": person_of(request)}, recipe=body.recipe)
    return {"id": kept.id, "name": kept.thing.trial.id}


@router.post("/api/notebook/trials/{trial_id}")
def change_trial(request: Request, trial_id: str, body: TrialChanges) -> JsonObject:
    """Change controls, eye grades, faults, wear of the baths or the note of a trial."""
    changes = {
        name: value
        for name, value in body.model_dump(mode="json", exclude={"revision", "anyway"}).items()
        if value is not None
    } | by_another(request, trial_id, anyway=body.anyway)
    kept = _notebook(request).change_trial(trial_id, changes, expected_revision=body.revision)
    return {"id": kept.id, "revision": kept.revision}


@router.get("/api/notebook/trials/{trial_id}/faults")
def faults(request: Request, trial_id: str) -> JsonObject:
    """Faults of one trial with their likely causes and cures."""
    return {"faults": [fault.document() for fault in _notebook(request).faults(trial_id)]}


@router.post("/api/notebook/trials/{trial_id}/retire")
def retire_trial(request: Request, trial_id: str, anyway: bool = False) -> JsonObject:
    """Put a trial aside; nothing is deleted."""
    return {"id": _aside(request, trial_id, back=False, anyway=anyway)}


@router.post("/api/notebook/trials/{trial_id}/restore")
def restore_trial(request: Request, trial_id: str, anyway: bool = False) -> JsonObject:
    """Take a trial back; another's only `anyway`."""
    return {"id": _aside(request, trial_id, back=True, anyway=anyway)}


@router.post("/api/notebook/films/{film_id}/recipes")
def lock_recipe(request: Request, film_id: str, body: Lock, anyway: bool = False) -> JsonObject:
    """Lock a recipe from a trial, with its evidence; the same name again makes the next revision, of another's only `anyway`."""
    ask_first(request, "recipe", recipe_id_of(body.name), anyway=anyway)
    kept = _notebook(request).lock_recipe(
        film_id, body.trial, name=body.name, route_key=body.route, note=body.note, anyway=body.anyway
    )
    touch(request, "recipe", kept.id, anyway=True)
    return {"id": kept.id, "revision": kept.thing.revision}


@router.get("/api/notebook/recipes/{recipe_id}/chart")
def chart(request: Request, recipe_id: str) -> JsonObject:
    """Control chart of the strips made by a locked recipe."""
    return {"charts": [chart.document() for chart in _notebook(request).control_chart(recipe_id)]}


def _aside(request: Request, trial_id: str, *, back: bool, anyway: bool = False) -> str:
    """Put a strip aside or take it back, another's once one was asked and with the name beside it; its id."""
    notebook, signed = _notebook(request), by_another(request, trial_id, anyway=anyway)
    if back:
        notebook.restore_trial(trial_id)
    if signed:
        notebook.change_trial(trial_id, signed)
    if not back:
        notebook.retire_trial(trial_id)
    return trial_id


def _sorted(steps: Sequence[Patch]) -> list[Patch]:
    return sorted(steps, key=lambda patch: patch.log_exposure)
