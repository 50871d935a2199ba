"""The care pages under the shelf: may these meet, baths, jugs, the hazards of a route, the air of the room."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from pydantic import Field
from starlette.datastructures import FormData

from obverse.foundation import Deferral, Document, InputError, JsonObject, UnsafeError, parse_number
from obverse.process.catalog import formulas
from obverse.web.entries import EntryRoute, Form, adds_one, revision_seen
from obverse.web.pages import page, workbench_of
from obverse.web.units import temperature_c_of, volume_ml_of
from obverse.workbench.care import (
    FILMS,
    MEETING_WORDS,
    NOTHING,
    Care,
    Finding,
    Room,
    ammonia_in_air,
    refuse_lethal,
    shown_and_folded,
    usual_jug,
)

router = APIRouter(route_class=EntryRoute)

# A number in words, or true for 1, is a slip of a program: it is told, not guessed at.
Amount = Annotated[float, Field(strict=True)]
DEFAULT_FILM = "135-36"


class MixedBath(Document):
    """A bath that was mixed."""

    formula: str
    volume_ml: Amount
    name: str = ""


class NoteOfBath(Document):
    """One thing that is noted of a bath."""

    looks: str | None = None
    added_ml: Amount | None = None
    clip_s: Amount | None = None
    restored: str | None = None


class CountedPass(Document):
    """Films that went through a bath."""

    film: str = DEFAULT_FILM
    films: Amount = 1.0
    area_m2: Amount | None = None
    time_ratio: Amount = 1.0
    run: str = ""


class GhostSeen(Document):
    """Whether a ghost was seen after a pass, counted from 0; null takes the judgement back."""

    index: int = Field(strict=True)
    ghost: bool | None = Field(default=None, strict=True)


class NewJug(Document):
    """A jug to be set up."""

    letter: str
    capacity_ml: Amount
    name: str = ""
    vented: bool = Field(default=True, strict=True)


class PouredIn(Document):
    """What is poured into a jug."""

    what: str
    volume_ml: Amount
    treated: bool = Field(default=False, strict=True)
    films: Amount = 0.0
    film: str = DEFAULT_FILM


# Beside an open bath where nobody says otherwise: half a mole of ammonia a litre, the mouth of a tank, as long as it is poured and
# mixed; and as long as a step with ammonia lasts.
AMMONIA_MOL_PER_L, TANK_MOUTH_M2, OPEN_MIN, STEP_MIN = 0.5, 0.01, 5.0, 4


def _care(request: Request) -> Care:
    care: Care = request.app.state.workbench.care
    return care


@router.get("/shelf/care", response_class=HTMLResponse, include_in_schema=False)
def care_page(
    request: Request,
    a: str = "",
    b: str = "",
    a_amount: str = "",
    b_amount: str = "",
    context: str = "any",
    ask: str = "",
    jug: str = "",
    ask_ml: str = "",
) -> HTMLResponse:
    """Everything that needs care: the checker, baths, jugs, routes, the room."""
    care = _care(request)
    room, apart = care.room(), care.shelf_findings()
    asked = _asked(care, ((a, a_amount), (b, b_amount)), context)
    poured, poured_refusal = _asked_jug(request, jug, ask, ask_ml)
    return page(
        request,
        "care/care.html",
        names=care.names(),
        contexts=MEETING_WORDS,
        a=a,
        b=b,
        context=context,
        a_amount=a_amount,
        b_amount=b_amount,
        asked=None if asked is None else shown_and_folded(asked),
        nothing=NOTHING,
        shelf_findings=apart,
        shelf_folded=shown_and_folded(apart),
        baths=care.baths(),
        formulas={
            key: f for key, f in formulas().items() if f.role in ("bleach", "halide_solvent", "fixer", "fogging")
        },
        films=FILMS,
        jugs=care.jugs(),
        silver=care.silver_g(),
        classes=care.classes(),
        usual_jug=usual_jug,
        pourable={key: f.name for key, f in workbench_of(request).processes.formulas().items()},
        ask=ask,
        ask_ml=ask_ml,
        ask_jug=jug,
        ask_findings=None if poured is None else shown_and_folded(poured),
        ask_refusal=poured_refusal,
        ask_class=care.wrong_class(jug, ask) if poured is not None else None,
        routes=workbench_of(request).processes.every(),
        room=room,
        room_revision=care.room_revision(),
        air=ammonia_in_air(room, AMMONIA_MOL_PER_L, TANK_MOUTH_M2, STEP_MIN),
    )


@router.get("/shelf/care/routes/{key}", response_class=HTMLResponse, include_in_schema=False)
def route_page(request: Request, key: str) -> HTMLResponse:
    """The hazards of a route, step by step."""
    care = _care(request)
    route = care.route(key)
    return page(
        request,
        "care/route.html",
        fold=shown_and_folded,
        care=route,
        # Who is heard before us is said at the foot.
        warnings=[warning for warning in route.route.warnings if not Deferral.is_said_by(warning)],
        room=care.room(),
        formulas=workbench_of(request).processes.formulas(),
    )


@router.get("/shelf/care/baths/{id}/destroy", response_class=HTMLResponse, include_in_schema=False)
def destroy_page(request: Request, id: str) -> HTMLResponse:
    """How a used bath is destroyed, with its clock."""
    care = _care(request)
    view = care.bath(id)
    started = view.clock_started
    return page(
        request,
        "care/destroy.html",
        bath=view,
        steps=care.destruction(id),
        deadline=None
        if view.residue is None or started is None
        else started.timestamp() + 60 * view.residue.deadline_min,
        now=care.now().timestamp(),
        jugs=care.jugs(),
    )


# Forms


@router.post("/shelf/care/baths", include_in_schema=False)
@adds_one
def mix_bath(request: Request, form: Form) -> RedirectResponse:
    """A bath was mixed."""
    _care(request).mix_bath(
        str(form.get("formula", "")), _volume(request, form, "volume_ml"), name=str(form.get("name", "")).strip()
    )
    return _back("#baths")


@router.post("/shelf/care/baths/standing", include_in_schema=False)
@adds_one
def stands_already(request: Request, form: Form) -> RedirectResponse:
    """A bath was poured back into its jug before this book knew of it."""
    since = str(form.get("since", "")).strip()
    _care(request).stands_already(
        str(form.get("formula", "")),
        _volume(request, form, "volume_ml"),
        name=str(form.get("name", "")).strip(),
        films=_number(form, "films") if str(form.get("films", "")).strip() else None,
        film=str(form.get("film", "")).strip() or DEFAULT_FILM,
        since=_day(since) if since else None,
        looks=str(form.get("looks", "")),
    )
    return _back("#baths")


@router.post("/shelf/care/baths/{id}/note", include_in_schema=False)
@adds_one
def note_bath(request: Request, form: Form, id: str) -> RedirectResponse:
    """What a bath looks like, how much was added, how long a clip took; whatever of it was filled in."""
    care = _care(request)
    fields = ("looks", "added_ml", "clip_s", "restored")
    looks, added, clip, restored = (str(form.get(name, "")).strip() for name in fields)
    if not (looks or added or clip or restored):
        raise InputError("nothing was filled in", where="bath", remedy="write what it looks like, or a number")
    # All of it is read before any of it is kept.
    added_ml = volume_ml_of(request, added, where="fresh bath") if added else None
    clip_s = _parsed(clip, "clip_s") if clip else None
    if clip_s is not None:
        care.clip_words(care.bath(id).formula, clip_s)
    if looks:
        care.look(id, looks)
    if added_ml is not None:
        care.top_up(id, added_ml)
    if restored:
        care.restore(id, restored)
    if clip_s is not None:
        care.clip_test(id, clip_s)
    return _back("#baths")


@router.post("/shelf/care/baths/{id}/passes", include_in_schema=False)
@adds_one
def count_pass(request: Request, form: Form, id: str) -> RedirectResponse:
    """Films go through a bath."""
    _care(request).count_pass(id, film=str(form.get("film", DEFAULT_FILM)), films=_number(form, "films"))
    return _back("#baths")


@router.post("/shelf/care/baths/{id}/judge", include_in_schema=False)
def judge(request: Request, form: Form, id: str) -> RedirectResponse:
    """A ghost was seen on a film, or none."""
    seen = {"ghost": True, "clean": False, "open": None}
    word = str(form.get("ghost", ""))
    if word not in seen:
        raise InputError(f"a film cannot be judged {word!r}", where="bath", remedy="use ghost, clean or open")
    _care(request).judge(id, int(_number(form, "index")), seen[word])
    return _back("#baths")


@router.post("/shelf/care/baths/{id}/gone", include_in_schema=False)
def bath_gone(request: Request, form: Form, id: str) -> RedirectResponse:
    """A bath went to a jug, or elsewhere."""
    care, destroyed, jug = _care(request), bool(form.get("destroyed")), str(form.get("jug", ""))
    if not jug:
        raise InputError("nobody said where it went", where="bath", remedy="choose a jug, or elsewhere")
    if jug != "elsewhere":
        volume = _volume(request, form, "volume_ml") if form.get("volume_ml") else None
        care.bath_into_jug(id, jug, destroyed=destroyed, volume_ml=volume)
        return _back("#jugs")
    care.bath_gone(id, destroyed=destroyed)
    return _back("#baths")


@router.post("/shelf/care/jugs", include_in_schema=False)
def begin_jug(request: Request, form: Form) -> RedirectResponse:
    """Set up a jug."""
    _care(request).begin_jug(
        str(form.get("letter", "")), _volume(request, form, "capacity_ml"), vented=bool(form.get("vented"))
    )
    return _back("#jugs")


@router.post("/shelf/care/jugs/{id}/pour", include_in_schema=False)
@adds_one
def pour(request: Request, form: Form, id: str) -> RedirectResponse:
    """Pour something into a jug."""
    films = _number(form, "films") if form.get("films") else 0.0
    _care(request).pour(
        id,
        str(form.get("what", "")),
        _volume(request, form, "volume_ml"),
        treated=bool(form.get("treated")),
        films=films,
        film=str(form.get("film", "")) or DEFAULT_FILM,
    )
    return _back("#jugs")


@router.post("/shelf/care/jugs/{id}/handed-in", include_in_schema=False)
def hand_in(request: Request, id: str) -> RedirectResponse:
    """A jug went to the authority's collection."""
    _care(request).hand_in(id)
    return _back("#jugs")


@router.post("/shelf/care/room", include_in_schema=False)
def set_room(request: Request, form: Form) -> RedirectResponse:
    """What the room is like."""
    _care(request).set_room(
        workbench_of(request)
        .units.shown()
        .said_room(str(form.get("volume_m3", "")), where="room", bare=str(form.get("cubic", ""))),
        _number(form, "air_changes_per_h"),
        temperature_c_of(request, str(form.get("temperature_c", "")), degrees=str(form.get("degrees", ""))),
        expected_revision=revision_seen(form),
    )
    return _back("#room")


# JSON


@router.get("/api/care/check")
def check_document(
    request: Request, names: Annotated[list[str], Query()], context: str = "any", refuse: bool = False
) -> JsonObject:
    """What is recorded of these coming together. With `refuse`, what could kill answers as an error."""
    found = _care(request).meet(names, context)
    if refuse:
        refuse_lethal(found)
    return {
        "findings": [finding.document() for finding in found],
        "refused": any(finding.refused for finding in found),
        "said": NOTHING if not found else "",
    }


@router.get("/api/care/names")
def names_document(request: Request) -> dict[str, str]:
    """Every key that the checker understands, with its name."""
    return _care(request).names()


@router.get("/api/care/routes/{key}")
def route_document(request: Request, key: str) -> JsonObject:
    """A route with its hazards, findings, air and destruction, step by step."""
    return _care(request).route(key).document()


@router.get("/api/care/baths")
def baths_document(request: Request) -> list[JsonObject]:
    """Every mixed bath with its forecast."""
    return [view.document() for view in _care(request).baths()]


@router.post("/api/care/baths")
def mix_bath_document(request: Request, body: MixedBath) -> dict[str, str]:
    """Write down that a bath was mixed."""
    return {"id": _care(request).mix_bath(body.formula, body.volume_ml, name=body.name)}


@router.post("/api/care/baths/{id}/notes")
def note_bath_document(request: Request, id: str, body: NoteOfBath) -> JsonObject:
    """Note one thing of a bath: `looks` in words, `added_ml` of fresh bath, what it was `restored` with, or `clip_s`, the seconds of a clip."""
    care = _care(request)
    if sum(given is not None for given in (body.looks, body.added_ml, body.clip_s, body.restored)) != 1:
        raise InputError("a note says one thing", where="bath", remedy="give looks, added_ml, clip_s or restored")
    if body.looks is not None:
        return care.look(id, body.looks).document()
    if body.restored is not None:
        return care.restore(id, body.restored).document()
    if body.added_ml is not None:
        return care.top_up(id, body.added_ml).document()
    return care.clip_test(id, body.clip_s or 0.0).document()


@router.post("/api/care/baths/{id}/passes")
def count_pass_document(request: Request, id: str, body: CountedPass) -> JsonObject:
    """Count films: `film` (a size as people say it) and `films`, or `area_m2`."""
    view = _care(request).count_pass(
        id, film=body.film, films=body.films, area_m2=body.area_m2, time_ratio=body.time_ratio, run=body.run
    )
    return view.document()


@router.post("/api/care/baths/{id}/judgements")
def judge_document(request: Request, id: str, body: GhostSeen) -> JsonObject:
    """Say of a pass whether a ghost was seen."""
    return _care(request).judge(id, body.index, body.ghost).document()


@router.get("/api/care/jugs")
def jugs_document(request: Request) -> list[JsonObject]:
    """Every jug with its contents and silver."""
    return [view.document() for view in _care(request).jugs()]


@router.post("/api/care/jugs")
def begin_jug_document(request: Request, body: NewJug) -> dict[str, str]:
    """Set up a jug."""
    return {"id": _care(request).begin_jug(body.letter, body.capacity_ml, name=body.name, vented=body.vented)}


@router.post("/api/care/jugs/{id}/pour")
def pour_document(request: Request, id: str, body: PouredIn) -> JsonObject:
    """Pour something in, perhaps with the `films` it has seen."""
    view = _care(request).pour(id, body.what, body.volume_ml, treated=body.treated, films=body.films, film=body.film)
    return view.document()


@router.get("/api/care/air")
def air_document(
    volume_m3: float,
    air_changes_per_h: float = 0.5,
    ammonia_mol_per_l: float = AMMONIA_MOL_PER_L,
    surface_m2: float = TANK_MOUTH_M2,
    time_min: float = OPEN_MIN,
) -> JsonObject:
    """Ammonia beside an open bath: an estimate on the high side."""
    return ammonia_in_air(Room(volume_m3, air_changes_per_h), ammonia_mol_per_l, surface_m2, time_min).document()


def _asked(care: Care, things: tuple[tuple[str, str], ...], context: str) -> tuple[Finding, ...] | None:
    """Findings of the checker's form; None where it asks nothing."""
    if not any(name for name, _ in things):
        return None
    for place, (name, _) in zip("ab", things, strict=True):
        if name and not name.strip():
            raise InputError("nothing is named here", where=place, remedy="write what it is, such as vinegar")
    return care.meet([f"{name}={amount}" if amount.strip() else name for name, amount in things if name], context)


def _asked_jug(request: Request, jug: str, what: str, volume: str) -> tuple[tuple[Finding, ...] | None, str]:
    """What would be met if it were poured in, or the reason why that is refused outright."""
    if not jug or not what:
        return None, ""
    volume_ml = volume_ml_of(request, volume) if volume.strip() else None
    try:
        return _care(request).ask_jug(jug, what, volume_ml), ""
    except UnsafeError as error:
        return None, error.sentence


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(f"{text!r} is no day", where="since when", remedy="write it like 2031-11-05") from None


def _number(form: FormData, name: str) -> float:
    return _parsed(str(form.get(name, "")), name)


def _volume(request: Request, form: FormData, name: str) -> float:
    return volume_ml_of(request, str(form.get(name, "")), where=name.removesuffix("_ml"))


def _parsed(text: str, name: str) -> float:
    return parse_number(text, where=name.replace("_", " "))


def _back(anchor: str) -> RedirectResponse:
    return RedirectResponse(f"/shelf/care{anchor}", status_code=303)
