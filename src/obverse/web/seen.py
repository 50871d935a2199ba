"""Pages that close the loop: a grey scale on the wall against what was predicted, a roll against its notes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, File, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from obverse.foundation import InputError, JsonObject, ObverseError, parse_number, read_document
from obverse.process import Slide
from obverse.web.entries import EntryRoute, Form
from obverse.web.form_again import STOOD, filled, stood_in, text_of
from obverse.web.light_table import HOW_EXPOSED
from obverse.web.pages import page, workbench_of
from obverse.workbench.bootstrap import Workbench
from obverse.workbench.exposure_card import ZONE_NAMES
from obverse.workbench.wall_seen import Closed, ScaleAsked

router = APIRouter(route_class=EntryRoute)

# Photographs of the wall that are kept in mind; the oldest go.
MOST_PICTURES = 40
CORNER_NUMBERS = 8
# What the address carries from one look to the next.
TYPED = (
    "columns",
    "rows",
    "corners",
    "densities",
    "panel_corners",
    "base_density",
    "spot_patch",
    "spot_cd_m2",
    "exposed",
    "source",
    "panel",
)


@router.get("/projector/seen", response_class=HTMLResponse, include_in_schema=False)
def seen_page(request: Request) -> HTMLResponse:
    """The form, and what the wall says once all is given."""
    bench = workbench_of(request)
    typed = {name: request.query_params.get(name, "") for name in TYPED}
    walls = request.query_params.getlist("wall")[:MOST_PICTURES]
    found: Closed | None = None
    refused: ObverseError | None = None
    if walls and "corners" in request.query_params:
        try:
            found = _close(bench, walls, typed)
        except ObverseError as error:
            refused = error
    shown = page(
        request,
        "projector/seen.html",
        typed=typed,
        walls=walls,
        found=found,
        drawing=_drawing(found) if found else None,
        refused="" if refused is None else refused.sentence,
        screen=bench.projector.screen(),
        revision=bench.projector.screen_revision(),
        query=request.url.query,
        sizes={id: _size(bench, id) for id in (*walls, typed["panel"]) if id},
        exposed=HOW_EXPOSED,
        sources=[one for one in bench.projector.sources() if not one["id"].startswith("film:")],
        readings=[
            {"name": kept.thing.name, "text": _lines(kept.thing.patches)} for kept in bench.light_table.readings()[:12]
        ],
        status_code=200 if refused is None else refused.http_status,
    )
    if refused is None:
        return shown
    return filled(request, refused, text_of(shown), leads_to="/projector/seen/pictures") or shown


@router.post("/projector/seen/pictures", include_in_schema=False)
def seen_pictures(
    request: Request,
    form: Form,
    wall: Annotated[list[UploadFile] | None, File()] = None,
    panel: Annotated[UploadFile | None, File()] = None,
) -> RedirectResponse:
    """Keep the photographs with those of the light table, and go on with all that was typed."""
    camera = workbench_of(request).camera
    given = [one for one in wall or [] if one.filename]
    ids = [camera.add(one.file.read(), _name(one)).id for one in given[:MOST_PICTURES]]
    typed = {name: str(form.get(name, "")) for name in TYPED if isinstance(form.get(name, ""), str)}
    if panel is not None and panel.filename:
        typed["panel"] = camera.add(panel.file.read(), _name(panel)).id
    else:
        typed["panel"] = str(form.get("panel_kept", ""))
    walls = ids or [str(one) for one in form.getlist("wall_kept")]
    if not walls:
        raise InputError("no photograph of the wall was given", where="photograph", remedy="choose one")
    if ids:
        # Corners belong to a picture.
        typed.pop("corners", None)
    query = urlencode([*(("wall", id) for id in walls), *((n, v) for n, v in typed.items() if v)])
    return RedirectResponse(f"/projector/seen?{query}", status_code=303)


@router.post("/projector/seen/take", include_in_schema=False)
def take_over(request: Request, form: Form) -> RedirectResponse:
    """Reckon with the projector as the wall showed it."""
    bench = workbench_of(request)
    typed = {name: request.query_params.get(name, "") for name in TYPED}
    found = _close(bench, request.query_params.getlist("wall")[:MOST_PICTURES], typed)
    bench.projector.take_over(found.screen, expected_revision=int(_number(str(form.get("revision", "0")), "revision")))
    return RedirectResponse("/projector", status_code=303)


def _close(bench: Workbench, walls: Sequence[str], typed: Mapping[str, str]) -> Closed:
    asked = read_document(ScaleAsked, _asked(typed), where="grey scale")
    return bench.projector.wall_seen(
        [bench.camera.opened(id) for id in walls],
        asked,
        panel=bench.camera.opened(typed["panel"]) if typed["panel"] else None,
        source=typed["source"],
    )


def _asked(typed: Mapping[str, str]) -> JsonObject:
    """The fields of the form as the document has them; what is empty is not said."""
    asked: dict[str, object] = {"densities": typed["densities"]}
    for name in ("columns", "rows", "spot_patch"):
        if typed[name].strip():
            asked[name] = int(_number(typed[name], name))
    for name in ("base_density", "spot_cd_m2"):
        if typed[name].strip():
            asked[name] = _number(typed[name], name)
    for name in ("corners", "panel_corners"):
        if typed[name].strip():
            asked[name] = _corners(typed[name], name)
    if typed["exposed"]:
        asked["exposed"] = typed["exposed"]
    return asked


def _corners(text: str, where: str) -> list[tuple[float, float]]:
    values = [_number(part, where) for part in text.replace(";", ",").split(",") if part.strip()]
    if len(values) != CORNER_NUMBERS:
        raise InputError(
            f"four corners are eight numbers ({len(values)} were given)",
            where=where,
            remedy="give x1,y1,x2,y2,x3,y3,x4,y4 or press the four corners in the picture",
        )
    return list(zip(values[::2], values[1::2], strict=True))


def _number(text: str, where: str) -> float:
    return parse_number(text, where=where)


def _size(bench: Workbench, id: str) -> str:
    kept = bench.camera.picture(id).thing
    return f"{kept.width}x{kept.height}"


def _name(upload: UploadFile) -> str:
    return (upload.filename or "picture").replace("\\", "/").rsplit("/", 1)[-1]


def _lines(patches: Sequence[Any]) -> str:
    return "\n".join(f"{patch.log_exposure:g}, {patch.density:g}" for patch in patches)


# A roll against its notes


@router.get("/projector/rolls", response_class=HTMLResponse, include_in_schema=False)
def roll_page(request: Request, roll: str = "", frame: str = "", picture: str = "") -> Response:
    """Exposure notes of a roll, densities read on the panel, and what both say of recipe and meter; without a roll, all of them."""
    if not roll:
        return RedirectResponse("/projector/slides", status_code=303)
    bench = workbench_of(request)
    return page(
        request,
        "projector/roll.html",
        found=bench.rolls.seen(roll),
        slides=bench.projector.slides.of_roll(roll),
        frame=frame,
        picture=picture,
        sizes={picture: _size(bench, picture)} if picture else {},
        zones=ZONE_NAMES,
        noted=_noted,
    )


@router.post("/projector/rolls/notes", include_in_schema=False)
def roll_notes(request: Request, roll: str, form: Form) -> RedirectResponse:
    """Keep the notes of all frames, with densities where they were typed; what another device wrote meanwhile stays.

    Raises
    ------
    InputError
        For a note that was changed here and there; pressed once more, the one that was typed counts.
    """
    bench = workbench_of(request)
    seen = stood_in(form.getlist(STOOD))
    for kept in bench.projector.slides.of_roll(roll):
        changes = dict[str, object]()
        for name, now in _noted(kept.thing).items():
            field, where = f"{name}-{kept.id}", f"{_NOTED[name]} of frame {kept.thing.frame}"
            before = seen.get(field, now)
            text = str(form.get(field, before)).strip()
            value = _number(text, where) if text else None
            if text == before or value == getattr(kept.thing, name):
                continue
            if now != before:
                raise InputError(
                    f"somebody else made it {now or 'empty'} meanwhile",
                    where=where,
                    remedy="write that, or keep yours and press once more",
                )
            changes[name] = value
        if changes:
            bench.rolls.note(kept.id, {**changes, **({"density_sd": None} if "density" in changes else {})})
    return _to_roll(roll)


# What is noted of a frame, and what its field is called.
_NOTED = {"zone": "zone", "exposure_index": "meter setting", "density": "density"}


def _noted(slide: Slide) -> dict[str, str]:
    """The notes of a frame as their fields show them."""
    values = {name: getattr(slide, name) for name in _NOTED}
    return {name: f"{value:g}" if value is not None else "" for name, value in values.items()}


@router.post("/projector/rolls/picture", include_in_schema=False)
def roll_picture(
    request: Request, roll: str, form: Form, file: Annotated[UploadFile | None, File()] = None
) -> RedirectResponse:
    """Keep the photograph of a frame on the panel, and ask where it was metered."""
    if file is None or not file.filename:
        raise InputError("no photograph of the frame was given", where="photograph", remedy="choose one")
    kept = workbench_of(request).camera.add(file.file.read(), _name(file))
    return _to_roll(roll, frame=str(form.get("frame", "")), picture=kept.id)


@router.post("/projector/rolls/read", include_in_schema=False)
def roll_read(request: Request, roll: str, form: Form) -> RedirectResponse:
    """Read the density of the metered place against the open panel."""
    bench = workbench_of(request)
    picture = str(form.get("picture", ""))
    text = str(form.get("places", ""))
    values = [_number(part, "places") for part in text.split(",") if part.strip()]
    if len(values) != len(("x", "y", "x", "y")):
        raise InputError(
            "two places are wanted",
            where="photograph",
            remedy="press the metered place, then bare panel beside the slide",
        )
    bench.rolls.read_frame(
        str(form.get("frame", "")),
        bench.camera.opened(picture),
        picture,
        (values[0], values[1]),
        (values[2], values[-1]),
    )
    return _to_roll(roll)


@router.post("/projector/rolls/notebook", include_in_schema=False)
def roll_into_notebook(request: Request, roll: str) -> RedirectResponse:
    """Write the roll into the notebook as a strip of its film."""
    kept = workbench_of(request).rolls.into_notebook(roll)
    return RedirectResponse(f"/notebook/{kept.thing.film}", status_code=303)


def _to_roll(roll: str, **more: str) -> RedirectResponse:
    return RedirectResponse(f"/projector/rolls?{urlencode({'roll': roll, **more})}", status_code=303)


# The drawing: density across, light on the wall up, both logarithmic; in the units of its own box.
WIDTH, HEIGHT, LEFT, BELOW = 640, 300, 52, 34


def _drawing(found: Closed) -> JsonObject:
    """Points and lines of predicted, seen and fitted light over density."""
    patches = sorted(found.patches, key=lambda one: one.density)
    lights = [v for one in patches for v in (one.predicted_cd_m2, one.seen_cd_m2)]
    low, high = math.floor(math.log10(min(lights))), math.ceil(math.log10(max(lights)))
    most = math.ceil(max(one.density for one in patches))

    def at(density: float, light: float) -> tuple[float, float]:
        across = LEFT + (WIDTH - LEFT) * density / most
        up = (HEIGHT - BELOW) * (1 - (math.log10(light) - low) / (high - low))
        return round(across, 1), round(up, 1)

    return {
        "width": WIDTH,
        "height": HEIGHT,
        "predicted": " ".join("{},{}".format(*at(one.density, one.predicted_cd_m2)) for one in patches),
        "seen": [at(one.density, one.seen_cd_m2) for one in patches],
        "across": [(at(float(d), 10.0**low)[0], d) for d in range(most + 1)],
        "up": [(at(0.0, 10.0**p)[1], f"{10.0**p:g}") for p in range(low, high + 1)],
    }
