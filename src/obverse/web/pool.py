"""Pages of the pool: films of other darkrooms, found, looked at beside one's own, taken in, lent."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from obverse.foundation import InputError, TooLargeError, parse_json, with_point
from obverse.process import CONTROLS, Trial, same_film
from obverse.web.entries import EntryRoute, Form, revision_seen
from obverse.web.pages import page, workbench_of
from obverse.workbench.pool import GivenFilm, Lending, call_the_same, start_from
from obverse.workbench.pool_sources import document_of, prior_of

router = APIRouter(route_class=EntryRoute)

# What a page carries to and fro while it is looked at; larger pools go in by the command.
MOST_BYTES_BY_THE_PAGE = 4 * 1024 * 1024
# The scale on which all strips of a film stand: log exposure and density, and the picture's size.
EXPOSURES, DENSITIES = (-2.5, 2.5), (0.0, 3.5)
# Whole densities are marked, up to the last on the scale.
MARKED_DENSITIES = (0, 1, 2, 3)
WIDTH, HEIGHT = 600.0, 360.0
MOST_CURVES = 60


@dataclass(frozen=True)
class DrawnStrip:
    """One strip on the common scale.

    Parameters
    ----------
    points : str
        As a polyline takes them; empty where it was judged by words.
    """

    name: str
    controls: str
    points: str
    densities: list[float]
    words: str

    @classmethod
    def of(cls, trial: Trial) -> DrawnStrip:
        """From a trial."""
        patches = sorted(trial.steps, key=lambda patch: patch.log_exposure)
        points = " ".join(f"{_across(patch.log_exposure):.1f},{_down(patch.density):.1f}" for patch in patches)
        words = [f"{grade.of} {grade.grade}" for grade in trial.grades] + list(trial.faults)
        return cls(
            trial.id,
            CONTROLS.text(trial.controls),
            points,
            [patch.density for patch in patches],
            ", ".join(words).replace("_", " "),
        )


def _across(log_exposure: float) -> float:
    low, high = EXPOSURES
    return WIDTH * (min(max(log_exposure, low), high) - low) / (high - low)


def _down(density: float) -> float:
    low, high = DENSITIES
    return HEIGHT * (1.0 - (min(max(density, low), high) - low) / (high - low))


def _pool(request: Request) -> Lending:
    return workbench_of(request).pool


Number = Annotated[str, Query(max_length=20)]


def _number(text: str, where: str) -> float | None:
    try:
        return float(with_point(text)) if text.strip() else None
    except ValueError:
        raise InputError(f"{text!r} is no number", where=where, remedy="give a number, or leave it empty") from None


@router.get("/notebook/pool", response_class=HTMLResponse, include_in_schema=False)
def pool_page(
    request: Request, words: Annotated[str, Query(max_length=120)] = "", speed: Number = "", base: Number = ""
) -> HTMLResponse:
    """Films of other darkrooms, searched by words, speed and base; what one lends."""
    pool = _pool(request)
    box_speed = _number(speed, "box speed")
    if box_speed is not None and box_speed <= 0:
        raise InputError("a box speed is more than nothing", where="box speed", remedy="give it as on the box")
    found = pool.search(words, box_speed=box_speed, base_density=_number(base, "base density"))
    return page(
        request,
        "notebook/pool.html",
        pages=found,
        every=len(pool.pages()),
        aside=[kept for kept in pool.pages(retired=True) if kept.retired_at is not None],
        own=pool.own(),
        own_revision=pool.own_revision(),
        films=workbench_of(request).notebook.films(),
        words=words,
        speed=speed,
        base=base,
        prior=pool.adopted(),
    )


@router.post("/notebook/pool/name", include_in_schema=False)
def choose_name(request: Request, form: Form) -> RedirectResponse:
    """The name under which others see what is lent."""
    _pool(request).call(str(form.get("name", "")), expected_revision=revision_seen(form))
    return RedirectResponse("/notebook/pool", status_code=303)


@router.post("/notebook/pool/prior", include_in_schema=False)
def adopt(request: Request, form: Form) -> RedirectResponse:
    """Let what very many films taught count here."""
    file = form.get("file")
    if file is None or isinstance(file, str) or not file.filename:
        raise InputError("no document was given", where="pool", remedy="choose the file that was learned")
    data = file.file.read(MOST_BYTES_BY_THE_PAGE + 1)
    _pool(request).adopt(prior_of(data, file.filename[:80]), even_so=form.get("even_so") == "yes")
    return RedirectResponse("/notebook/pool#prior", status_code=303)


@router.post("/notebook/pool/prior/aside", include_in_schema=False)
def prior_aside(request: Request) -> RedirectResponse:
    """It no longer counts."""
    _pool(request).put_prior_aside()
    return RedirectResponse("/notebook/pool#prior", status_code=303)


@router.post("/notebook/pool/lend", include_in_schema=False)
def lend(request: Request, form: Form) -> Response:
    """The document that lends the chosen films."""
    chosen = [value for value in form.getlist("film") if isinstance(value, str)]
    if not chosen:
        raise InputError("no film was chosen", where="lend", remedy="mark the films that you lend")
    document = _pool(request).lend(chosen, persons=form.get("persons") == "yes")
    text = json.dumps(document.model_dump(mode="json"), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    headers = {"content-disposition": 'attachment; filename="lent.json"'}
    return Response(text, media_type="application/json", headers=headers)


@router.post("/notebook/pool/look", response_class=HTMLResponse, include_in_schema=False)
def look(request: Request, form: Form) -> HTMLResponse:
    """What the given documents would bring; nothing is written."""
    texts: list[str] = []
    for file in form.getlist("file"):
        if not isinstance(file, str) and file.filename:
            texts.append(file.file.read(MOST_BYTES_BY_THE_PAGE + 1).decode("utf-8", errors="replace"))
    if not texts:
        raise InputError("no document was given", where="pool", remedy="choose one or more files")
    if sum(map(len, texts)) > MOST_BYTES_BY_THE_PAGE:
        raise TooLargeError(
            "this is more than a page carries", where="pool", remedy="add it with `obverse pool add FOLDER --yes`"
        )
    return _given_page(request, texts, even_so=False)


@router.post("/notebook/pool/take", response_class=HTMLResponse, include_in_schema=False)
def take(request: Request, form: Form) -> Response:
    """Take them in as they were shown; or, where something was refused, look again with that refusal waived."""
    try:
        texts = parse_json(str(form.get("documents", "[]")), where="pool")
    except InputError:
        texts = None
    if not isinstance(texts, list) or not all(isinstance(text, str) for text in texts):
        raise InputError("the documents were lost on the way", where="pool", remedy="choose the files again")
    even_so = form.get("even_so") == "yes"
    if form.get("look") == "again":
        return _given_page(request, texts, even_so=even_so)
    pool = _pool(request)
    for text in texts:
        try:
            pool.take(document_of(text.encode(), "pool"), even_so=even_so)
        except InputError:
            # It was shown with its reason before, and nothing of it is taken.
            continue
    return RedirectResponse("/notebook/pool", status_code=303)


def _given_page(request: Request, texts: list[str], *, even_so: bool) -> HTMLResponse:
    pool = _pool(request)
    given: list[GivenFilm] = []
    unread: list[str] = []
    for number, text in enumerate(texts, 1):
        try:
            given += pool.look(document_of(text.encode(), f"document {number}"), even_so=even_so)
        except InputError as error:
            unread.append(error.sentence)
    return page(
        request,
        "notebook/pool_given.html",
        given=given,
        unread=unread,
        texts=json.dumps(texts),
        even_so=even_so,
        refused=any(film.refused for film in given),
        changes=any(film.changes for film in given),
    )


@router.get("/notebook/pool/{page_id}", response_class=HTMLResponse, include_in_schema=False)
def film_page(request: Request, page_id: str) -> HTMLResponse:
    """One film of another darkroom: its strips on one scale with one's own."""
    kept = _pool(request).page(page_id)
    notebook = workbench_of(request).notebook
    films = notebook.films()
    mine = next((one for one in films if same_film(one.thing, kept.thing.film, also=one.thing.same_as)), None)
    own: Iterable[Trial] = [one.thing.trial for one in notebook.trials(mine.id)] if mine else ()
    said = [one.sentence for one in notebook.fit(mine.id).darkrooms if one.id == kept.thing.darkroom.id] if mine else []
    doubted = {strip.id: strip for strip in kept.thing.disputed}
    return page(
        request,
        "notebook/pool_film.html",
        kept=kept,
        theirs=[DrawnStrip.of(trial) for trial in kept.thing.counting][:MOST_CURVES],
        own=[DrawnStrip.of(trial) for trial in own if trial.steps][-MOST_CURVES:],
        mine=mine,
        said=said,
        alike=[one for one in films if one.thing.box_speed == kept.thing.film.box_speed],
        disputes=[
            (strip.id, DrawnStrip.of(strip.trial), DrawnStrip.of(doubted[strip.id].trial))
            for strip in kept.thing.strips
            if strip.id in doubted
        ],
        width=WIDTH,
        height=HEIGHT,
        across=[(x, _across(x)) for x in (-2, -1, 0, 1, 2)],
        down=[(d, _down(d)) for d in MARKED_DENSITIES],
    )


@router.post("/notebook/pool/{page_id}/start", include_in_schema=False)
def start(request: Request, page_id: str) -> RedirectResponse:
    """Begin a film of one's own from these strips."""
    film = start_from(_pool(request), workbench_of(request).notebook, page_id)
    return RedirectResponse(f"/notebook/{film}", status_code=303)


@router.post("/notebook/pool/{page_id}/same", include_in_schema=False)
def same(request: Request, page_id: str, form: Form) -> RedirectResponse:
    """Confirm that a film of one's own is this one."""
    call_the_same(_pool(request), workbench_of(request).notebook, page_id, str(form.get("film", "")))
    return RedirectResponse(f"/notebook/pool/{page_id}", status_code=303)


@router.post("/notebook/pool/{page_id}/decide", include_in_schema=False)
def decide(request: Request, page_id: str, form: Form) -> RedirectResponse:
    """Settle what is disputed of a strip."""
    _pool(request).decide(
        page_id,
        str(form.get("strip", "")),
        take_other=form.get("words") == "other",
        expected_revision=int(_number(str(form.get("revision", "")), "revision") or 0),
    )
    return RedirectResponse(f"/notebook/pool/{page_id}", status_code=303)


@router.post("/notebook/pool/{page_id}/aside", include_in_schema=False)
def aside(request: Request, page_id: str) -> RedirectResponse:
    """It no longer counts; it stays readable."""
    _pool(request).put_aside(page_id)
    return RedirectResponse("/notebook/pool", status_code=303)


@router.post("/notebook/pool/{page_id}/back", include_in_schema=False)
def back(request: Request, page_id: str) -> RedirectResponse:
    """It counts again."""
    _pool(request).take_up(page_id)
    return RedirectResponse(f"/notebook/pool/{page_id}", status_code=303)
