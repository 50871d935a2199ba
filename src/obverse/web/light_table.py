"""The light table page: enter or drop readings, see tone strip, curve, numbers and faults."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Annotated, Literal

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, PlainTextResponse
from pydantic import Field

from obverse.foundation import Document, JsonObject
from obverse.process import AIMS, CONTROLS, Exposed, Patch
from obverse.web.entries import EntryRoute
from obverse.web.pages import page, workbench_of
from obverse.web.people import by_another, person_of
from obverse.workbench.light_table import FIRST_FRAME_STOPS, LAST_FRAME_STOPS, list_text, readings_of, shots
from obverse.workbench.notebook import Notebook

router = APIRouter(route_class=EntryRoute)

# In the words of the form; each has its usual errors on record.
HOW_EXPOSED: dict[Exposed, str] = {
    "unstated": "not stated",
    "wedge": "through a step tablet, in contact",
    "shutter": "frames by different shutter times",
    "aperture": "frames by different apertures",
    "flash": "frames by flash at different distances",
    "timer": "steps by an enlarger's timer",
    "metered": "frames of a roll, each metered on its subject",
}

Patches = Annotated[tuple[Patch, ...], Field(min_length=1, max_length=2000)]


class Look(Document):
    """Readings and what is known of their film."""

    patches: Patches
    base_density: float | None = Field(default=None, ge=0, le=1.5)
    box_speed: float | None = Field(default=None, gt=0, le=100_000)
    exposed: Exposed = "unstated"
    aim: str | JsonObject = "projection"
    film: str = Field(default="", max_length=120, description="id of the film in the notebook")
    trial: str = Field(default="", max_length=120, description="id of the kept strip whose readings these are")


class ListText(Document):
    """A dropped list."""

    text: str = Field(max_length=4_000_000)
    name: str = Field(default="dropped list", max_length=200)
    convert: str = Field(default="", max_length=40, description="code of what the list was found to be")
    as_it_is: bool = False
    base_density: float | None = Field(default=None, ge=0, le=1.5)
    box_speed: float | None = Field(default=None, gt=0, le=100_000)


class NewReading(Document):
    """Readings to be kept."""

    name: str = Field(default="readings", min_length=1, max_length=200)
    source: Literal["typed", "list", "frames", "picture"] = "typed"
    picture: str = Field(default="", max_length=120)
    patches: Patches


class Attach(Document):
    """Readings that belong to a trial."""

    film: str = Field(min_length=1, max_length=120)
    trial: str = Field(default="", max_length=120, description="id of the kept trial; empty makes a new one")
    controls: dict[str, float] = Field(default_factory=dict)
    patches: Patches
    reading: str = Field(default="", max_length=120)
    picture: str = Field(default="", max_length=120)
    exposed: Exposed = "unstated"
    anyway: bool = Field(default=False, description="though it is another person's strip, and was read before")
    revision: int | None = Field(
        default=None, ge=1, description="of the trial as it was looked at; absent: whatever it is"
    )


class Bracket(Document):
    """A shot list to make."""

    low_stops: float = FIRST_FRAME_STOPS
    high_stops: float = LAST_FRAME_STOPS
    step_stops: float = 1
    metered_shutter_s: float | None = None
    name: str = Field(default="", max_length=120)


class Export(Document):
    """Readings to be written as a list."""

    patches: Patches
    format: Literal["csv", "cgats"] = "csv"
    name: str = Field(default="readings", max_length=120)


@router.get("/light-table", response_class=HTMLResponse, include_in_schema=False)
def light_table_page(request: Request, reading: str = "", film: str = "", trial: str = "") -> HTMLResponse:
    """The table, empty or with a kept reading or trial on it."""
    bench = workbench_of(request)
    films = [
        {
            **kept.document(),
            "aim": series.aim.model_dump(mode="json"),
            "controls": list(series.controls),
            "trials": [
                {
                    "id": one.id,
                    "name": one.thing.trial.id,
                    "read": bool(one.thing.trial.steps),
                    "revision": one.revision,
                }
                for one in bench.notebook.trials(kept.id)
            ],
        }
        for kept in bench.notebook.films()
        for series in [bench.notebook.series(kept.id)]
    ]
    laid: dict[str, object] = {
        "exposed": "unstated",
        "patches": [],
        "name": "",
        "reading": "",
        "picture": "",
        "film": film,
        "trial": "",
    }
    if reading:
        listed = bench.light_table.reading(reading)
        laid.update(
            patches=_plain(listed.thing.patches),
            name=listed.thing.name,
            reading=listed.id,
            picture=listed.thing.picture,
        )
    if trial:
        written = bench.notebook.trial(trial)
        laid.update(
            patches=_plain(written.thing.trial.steps),
            exposed=written.thing.trial.exposed,
            name=written.thing.trial.id,
            film=written.thing.film,
            trial=written.id,
        )
    return page(
        request,
        "light_table/light_table.html",
        films=films,
        laid=laid,
        exposed=HOW_EXPOSED,
        aims={name: aim.model_dump(mode="json") for name, aim in AIMS.items()},
        readings=bench.light_table.readings()[:8],
        shot_lists=bench.light_table.shot_lists()[:6],
        controls=CONTROLS.facts(),
    )


@router.post("/api/light-table/look")
def look(request: Request, body: Look) -> JsonObject:
    """Tone strip, curve with its 90 % band, numbers and faults of these readings."""
    bench = workbench_of(request)
    return bench.light_table.look(
        body.patches,
        base_density=body.base_density,
        box_speed=body.box_speed,
        exposed=body.exposed,
        aim=body.aim,
        advice=_advice(bench.notebook, body) if body.film else None,
    )


def _advice(notebook: Notebook, body: Look) -> Callable[[], str]:
    """What the notebook says of these readings: of a kept strip as it was read, its word; of any other, that it waits for them."""

    def said() -> str:
        if body.trial:
            trial = notebook.trial(body.trial).thing.trial
            if _same_readings(trial.steps, body.patches):
                return notebook.advice(body.film, trial)
        return notebook.advice(body.film)

    return said


def _same_readings(one: Sequence[Patch], other: Sequence[Patch]) -> bool:
    return sorted((p.log_exposure, p.density) for p in one) == sorted((p.log_exposure, p.density) for p in other)


@router.post("/api/light-table/read-text")
def read_text(request: Request, body: ListText) -> JsonObject:
    """Readings out of CSV, CGATS.17 text or a series document of one trial."""
    patches, doubts = workbench_of(request).light_table.read_text(
        body.text,
        body.name,
        convert=body.convert,
        as_it_is=body.as_it_is,
        base_density=body.base_density,
        box_speed=body.box_speed,
    )
    return {
        "name": body.name,
        "patches": [patch.model_dump() for patch in patches],
        "doubts": [doubt.document() for doubt in doubts],
    }


@router.post("/api/light-table/reading")
def keep_reading(request: Request, body: NewReading) -> JsonObject:
    """Keep a list of readings; returns its id."""
    kept = workbench_of(request).light_table.keep_reading(
        body.patches, name=body.name, source=body.source, picture=body.picture
    )
    return {"id": kept.id}


@router.get("/api/light-table/reading/{id}")
def reading(request: Request, id: str) -> JsonObject:
    """A kept list of readings."""
    kept = workbench_of(request).light_table.reading(id)
    return kept.document()


@router.post("/api/light-table/attach")
def attach(request: Request, body: Attach) -> JsonObject:
    """Write readings into a trial, a new one or one that waits for them; over another's readings only `anyway`."""
    notebook = workbench_of(request).notebook
    steps = [patch.model_dump(mode="json") for patch in body.patches]
    if body.trial:
        # A strip that waits to be read may be read by whoever stands at the table; who did it is written down.
        waits = not notebook.trial(body.trial).thing.trial.steps
        signed = by_another(request, body.trial, anyway=body.anyway or waits)
        read = {"steps": steps, "exposed": body.exposed, "reading": body.reading, "picture": body.picture}
        kept = notebook.change_trial(body.trial, {**read, **signed}, expected_revision=body.revision)
    else:
        kept = notebook.add_trial(
            body.film,
            {"controls": body.controls, "steps": steps, "exposed": body.exposed, "person": person_of(request)},
            reading=body.reading,
            picture=body.picture,
        )
    return {"id": kept.id, "film": kept.thing.film, "name": kept.thing.trial.id}


def _plain(patches: Sequence[Patch]) -> list[dict[str, float | None]]:
    return [patch.model_dump(mode="json") for patch in patches]


@router.post("/api/light-table/shots")
def shot_list(request: Request, body: Bracket) -> JsonObject:
    """A shot list: a bracket of grey frames that stands in for a wedge; kept where it is named."""
    found = shots(body.low_stops, body.high_stops, body.step_stops, metered_shutter_s=body.metered_shutter_s)
    id = ""
    if body.name:
        id = (
            workbench_of(request)
            .light_table.keep_shot_list(
                body.name, body.low_stops, body.high_stops, body.step_stops, body.metered_shutter_s
            )
            .id
        )
    return {"id": id, "shots": [shot.document() for shot in found]}


@router.post("/api/light-table/export", response_class=PlainTextResponse)
def export(request: Request, body: Export) -> PlainTextResponse:
    """The readings as CSV or as CGATS.17 / ISO 28178 text."""
    readings = readings_of(body.patches)
    text = list_text(readings, body.format, name=body.name, created=workbench_of(request).clock.now())
    stem = re.sub(r"[^A-Za-z0-9]+", "-", body.name).strip("-") or "readings"
    ending = "csv" if body.format == "csv" else "txt"
    return PlainTextResponse(text, headers={"Content-Disposition": f'attachment; filename="{stem}.{ending}"'})
