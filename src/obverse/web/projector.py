"""The projector pages: the wall with its sums and its exposure card, the slides in their boxes."""

from __future__ import annotations

from typing import Annotated, Any, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, File, Query, Request, Response, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse
from pydantic import Field

from obverse.foundation import Document, InputError, JsonObject, whole_number
from obverse.process import AIMS
from obverse.web.entries import EntryRoute, Form, revision_seen
from obverse.web.pages import page, workbench_of
from obverse.web.units import paper_of
from obverse.workbench.exposure_card import USUAL_GUIDE_NUMBER_M, f_number_words
from obverse.workbench.preview import Screen, Viewing, grain_standing, photograph_of
from obverse.workbench.projector import Lens, Shown
from obverse.workbench.sample_scene import sample_scene
from obverse.workbench.slides import heat_notes, moved, spot_note
from obverse.workbench.wall_aim import ShownOn, Surround

# Length of a film of 36 frames with its ends.
ONE_FILM_M = 1.6
router = APIRouter(route_class=EntryRoute)


class LookAt(Document):
    """One or two slides, a projector, a monitor."""

    slides: Annotated[tuple[Shown, ...], Field(min_length=1, max_length=2)]
    screen: Screen = Screen()
    viewing: Viewing = Viewing()


class KeptScreen(Screen):
    """The projector and its room, and the revision that was seen; 0 where nobody had left one."""

    revision: int | None = Field(default=None, ge=0)


class AimAt(Document):
    """A wall, for the aim that it asks for."""

    screen: Screen = Screen()
    surround: Surround = "dark"
    base_density: float = Field(default=0.1, ge=0, le=1.5)
    against: str = Field(default="projection", max_length=80)
    shown_on: ShownOn = "wall"
    source: str = Field(default="", max_length=200, description="whose meter setting for this aim is asked, too")


class Lamp(Document):
    """A lamp and how the film is held to it."""

    flux_lm: float | None = Field(default=None, ge=1, le=1_000_000)
    distance_m: float | None = Field(default=None, ge=0.01, le=100)
    lux: float | None = Field(default=None, ge=0.01, le=1_000_000, description="at the film, in place of a lamp")
    box_speed: float = Field(default=100, gt=0, le=100_000)
    seconds_a_side: float = Field(ge=0.001, le=100_000)
    sides: Literal[1, 2] = 2
    how: Literal["hand", "reel"] = "hand"
    film_length_m: float = Field(default=ONE_FILM_M, ge=0.01, le=50)


# The wall


@router.get("/projector", response_class=HTMLResponse, include_in_schema=False)
def wall_page(request: Request, recipe: str = "", source: str = "") -> HTMLResponse:
    """The wall, with a recipe or strip on it where one is named."""
    projector = workbench_of(request).projector
    sources = projector.sources()
    chosen = f"recipe:{recipe}" if recipe else source
    known = {one["id"] for one in sources}
    granted = projector.assumptions()
    return page(
        request,
        "projector/wall.html",
        sources=sources,
        chosen=chosen if chosen in known else sources[0]["id"],
        missing=bool(chosen) and chosen not in known,
        screen=projector.screen().model_dump(),
        screen_revision=projector.screen_revision(),
        viewing=Viewing().model_dump(),
        lamps=projector.lamps(),
        grain_standing=grain_standing(),
        models=granted.models,
        callier=granted.callier,
        callier_standing=granted.callier_standing,
        fogging=granted.fogging,
        windows=granted.windows,
        films=[{"id": kept.id, "name": kept.thing.name} for kept in workbench_of(request).notebook.films()],
        aims=AIMS,
    )


@router.post("/api/projector/photograph", response_class=Response)
def photograph_in(request: Request, file: Annotated[UploadFile, File()]) -> Response:
    """A photograph as codes of log luminance, at most two million of them; it is not kept."""
    data = file.file.read()
    if not data:
        raise InputError("the file is empty", where=file.filename or "picture", remedy="choose another")
    packed = photograph_of(data, name=file.filename or "picture").packed()
    return Response(packed, media_type="application/octet-stream")


@router.get("/api/projector/sample", response_class=Response)
def sample() -> Response:
    """An invented still life, computed, for whoever has no photograph at hand."""
    return Response(sample_scene().packed(), media_type="application/octet-stream")


@router.get("/api/projector/sources")
def sources(request: Request) -> JsonObject:
    """What a slide can be predicted from."""
    return {"sources": workbench_of(request).projector.sources()}


@router.post("/api/projector/look")
def look(request: Request, body: LookAt) -> JsonObject:
    """Tables from photograph codes to monitor greys, readings along them, and the projection sums."""
    return workbench_of(request).projector.look_document(body.slides, body.screen, body.viewing)


@router.post("/api/projector/lens")
def lens(request: Request, body: Lens) -> JsonObject:
    """Focal length, distance or width of the picture, from the two others."""
    return body.solved().document()


@router.post("/api/projector/aim")
def aim(request: Request, body: AimAt) -> JsonObject:
    """The aim that a wall asks for, and what the named one costs there."""
    return workbench_of(request).projector.aim(
        body.screen,
        surround=body.surround,
        shown_on=body.shown_on,
        base_density=body.base_density,
        against=body.against,
        source=body.source,
    )


@router.post("/api/projector/screen")
def keep_screen(request: Request, body: KeptScreen) -> JsonObject:
    """Remember the projector and its room; `revision` is the one that was seen."""
    screen = Screen(**body.model_dump(exclude={"revision"}))
    return {"revision": workbench_of(request).projector.keep_screen(screen, expected_revision=body.revision)}


@router.post("/api/projector/reexposure")
def reexposure(request: Request, body: Lamp) -> JsonObject:
    """Lux seconds of a second exposure, and how evenly they fall."""
    return workbench_of(request).projector.reexposure(**body.model_dump())


@router.get("/api/projector/card")
def card(
    request: Request,
    source: str,
    exposure_index: Annotated[float | None, Query(gt=0, le=100_000)] = None,
    p: Annotated[float | None, Query(ge=0.7, le=1)] = None,
    guide_number_m: Annotated[float, Query(gt=0, le=500)] = USUAL_GUIDE_NUMBER_M,
) -> JsonObject:
    """The exposure card of a source."""
    found = workbench_of(request).projector.card(
        source, exposure_index=exposure_index, p=p, guide_number_m=guide_number_m
    )
    flash = [{"distance_m": d, "f_number": f, "words": f_number_words(f)} for d, f in found.flash]
    return {**found.document(), "flash": flash}


@router.get("/projector/card.pdf", include_in_schema=False)
def card_pdf(
    request: Request,
    source: str,
    exposure_index: Annotated[float | None, Query(gt=0, le=100_000)] = None,
    p: Annotated[float | None, Query(ge=0.7, le=1)] = None,
    guide_number_m: Annotated[float, Query(gt=0, le=500)] = USUAL_GUIDE_NUMBER_M,
    paper: str = "",
) -> Response:
    """The exposure card on paper."""
    from obverse.sheets.exposure_card import exposure_card_pdf

    bench = workbench_of(request)
    found = bench.projector.card(source, exposure_index=exposure_index, p=p, guide_number_m=guide_number_m)
    return _pdf(
        exposure_card_pdf(found, printed_on=bench.clock.now().date(), paper=paper_of(request, paper)), "exposure-card"
    )


# Slides


@router.get("/projector/slides", response_class=HTMLResponse, include_in_schema=False)
def slides_page(request: Request, words: str = "", list: str = "") -> HTMLResponse:
    """Frames, mounts, keywords; and the lists of an evening."""
    bench = workbench_of(request)
    slides = bench.projector.slides
    chosen, shown = slides.shown(list) if list else (None, [])
    return page(
        request,
        "projector/slides.html",
        slides=slides.all(words),
        words=words,
        lists=slides.lists(),
        list_id=list,
        chosen=chosen,
        list_revision=slides.list_revision(list) if list else 0,
        shown=shown,
        remarks=slides.show(list).remarks if list else (),
        heat=heat_notes(),
        spot=spot_note(),
        recipes={kept.id: kept.thing.name for kept in bench.recipes.all()},
        films=[kept.thing.name for kept in bench.notebook.films()],
    )


@router.get("/projector/lists/{id}.pdf", include_in_schema=False)
def show_list_sheet(request: Request, id: str, paper: str = "") -> Response:
    """The list of an evening on paper."""
    from obverse.sheets.show_list import show_list_pdf

    bench = workbench_of(request)
    show = bench.projector.slides.show(id)
    return _pdf(
        show_list_pdf(show, printed_on=bench.clock.now().date(), paper=paper_of(request, paper)),
        "show-list",
    )


@router.get("/projector/slides/labels.pdf", include_in_schema=False)
def mount_labels(
    request: Request, list: str = "", roll: str = "", grid: str = "", skip: Annotated[int, Query(ge=0)] = 0
) -> Response:
    """Labels for the mounts of a list, numbered by it, or of a roll."""
    from obverse.sheets.show_list import mount_labels_pdf

    slides = workbench_of(request).projector.slides
    if list:
        marked = [(str(turn.number), turn.slide) for turn in slides.show(list).turns]
    else:
        marked = [("", kept.thing) for kept in slides.of_roll(roll)]
    usual = "letter-cut" if paper_of(request, "") == "us-letter" else "a4-cut"
    return _pdf(mount_labels_pdf(marked, grid or usual, skip=skip), "mount-labels")


@router.post("/projector/lists", include_in_schema=False)
def order_list(request: Request, form: Form, list: str = "") -> RedirectResponse:
    """One press in the order of a show: a slide earlier, later, out or in; all that was typed is kept with it."""
    slides = workbench_of(request).projector.slides
    order = [str(id) for id in form.getlist("slide")]
    press, _, id = str(form.get("press", "keep")).partition(":")
    kept = slides.keep_list(
        {
            "name": str(form.get("name", "")).strip() or "an evening",
            "slides": moved(order, press, id),
            **{name: _whole(form, name) for name in ("projectors", "tray_slots", "first_slot")},
        },
        id=list or None,
        expected_revision=revision_seen(form),
    )
    return RedirectResponse(f"/projector/slides?{urlencode({'list': kept.id})}#show-title", status_code=303)


def _whole(form: Form, name: str) -> int:
    text = str(form.get(name, "")).strip()
    number = whole_number(text)
    if number is None:
        raise InputError(
            f"{text[:80]!r} is no whole number", where=name.replace("_", " "), remedy="give one in figures"
        )
    return number


@router.post("/projector/slides/roll", include_in_schema=False)
def add_roll(request: Request, form: Form) -> RedirectResponse:
    """Write down a roll."""
    roll = str(form.get("roll", ""))
    said = str(form.get("frames", "36")).strip()
    frames = whole_number(said)
    if frames is None:
        raise InputError(f"{said[:80]!r} is no number of frames", where="frames", remedy="give 1 to 40")
    workbench_of(request).projector.slides.add_roll(
        roll, frames, recipe=str(form.get("recipe", "")), film=str(form.get("film", ""))[:120]
    )
    return RedirectResponse("/projector/slides", status_code=303)


@router.post("/api/projector/slides/{id}")
def change_slide(request: Request, id: str, body: JsonObject) -> JsonObject:
    """Change a slide: title, keywords, mounted, place, recipe, taken_on, note."""
    changes = dict(body)
    revision = _revision(changes.pop("revision", None))
    return workbench_of(request).projector.slides.change(id, changes, expected_revision=revision).document()


@router.post("/api/projector/slides/{id}/retire")
def retire_slide(request: Request, id: str) -> JsonObject:
    """Put a slide aside."""
    return {"id": workbench_of(request).projector.slides.retire(id).id}


@router.post("/api/projector/lists")
def keep_list(request: Request, body: JsonObject, id: str = "") -> JsonObject:
    """Keep a projection list."""
    document = dict(body)
    revision = _revision(document.pop("revision", None))
    slides = workbench_of(request).projector.slides
    return slides.keep_list(document, id=id or None, expected_revision=revision).document()


def _revision(seen: Any) -> int | None:
    if seen is not None and (isinstance(seen, bool) or not isinstance(seen, int) or seen < 0):
        raise InputError("a revision is a whole number", where="revision", remedy="load it again")
    return seen


def _pdf(data: bytes, stem: str) -> Response:
    return Response(
        data, media_type="application/pdf", headers={"Content-Disposition": f'inline; filename="{stem}.pdf"'}
    )
