"""Pages: one template house for all places, with the few helpers they share."""

from __future__ import annotations

import json
from collections.abc import Iterable
from contextvars import ContextVar
from http import HTTPStatus
from importlib.resources import files
from typing import Annotated

from fastapi import Depends, Request
from fastapi.responses import HTMLResponse
from fastapi.templating import Jinja2Templates
from jinja2 import pass_context
from jinja2.runtime import Context
from markupsafe import Markup

from obverse.foundation import (
    Caution,
    JsonObject,
    Level,
    ObverseError,
    open_and_folded,
    read_document,
    whole_number,
    without_turns,
)
from obverse.process import METRIC, UnitsShown
from obverse.web.entries import entry_id
from obverse.web.form_again import PAGE
from obverse.workbench.bootstrap import Workbench
from obverse.workbench.duty import Duty
from obverse.workbench.proposal import percent
from obverse.workbench.seek import ListAsked

PLACES = (
    ("shelf", "/shelf", "Shelf"),
    ("bench", "/bench", "Bench"),
    ("sink", "/sink", "Sink"),
    ("light-table", "/light-table", "Light table"),
    ("notebook", "/notebook", "Notebook"),
    ("projector", "/projector", "Projector"),
)

# Part of docs/places.md that explains each page, by the beginning of its address; the longest that fits counts.
HELP_PARTS = {
    "/": "start",
    "/shelf": "shelf",
    "/shelf/care": "care",
    "/bench": "bench",
    "/bench/processes": "processes",
    "/sink": "sink",
    "/light-table": "light-table",
    "/light-table/picture": "camera",
    "/notebook": "notebook",
    "/notebook/recipes": "recipes",
    "/notebook/pool": "pool",
    "/projector": "projector",
    "/share": "letting-a-phone-in",
    "/people": "letting-a-phone-in",
    "/pair": "letting-a-phone-in",
    "/tokens": "tokens",
    "/units": "units",
    "/guide": "guided-evening",
    "/this-computer": "this-computer",
}

LEVEL_WORDS = {Level.NOTE: "Note", Level.CAUTION: "Caution", Level.DANGER: "Danger"}


def _asked(request: Request) -> ListAsked:
    """What the address asks of the list on its page; what belongs to the rest of the page is left alone."""
    given = {name: value for name, value in request.query_params.items() if name in ListAsked.model_fields and value}
    part = whole_number(given.get("part", ""))
    return read_document(ListAsked, given if part is None else {**given, "part": part}, where="list")


Asked = Annotated[ListAsked, Depends(_asked)]


def page(request: Request, template: str, *, status_code: int = HTTPStatus.OK, **context: object) -> HTMLResponse:
    """Render ``templates/<template>`` with `context`.

    The template extends ``base.html``; its blocks are `title`, `place` (key of the place, for the
    navigation), `head`, `content` and `scripts`.
    """
    return _templates.TemplateResponse(request, template, context, status_code=status_code)


def help_address(path: str) -> str:
    """Address of the part of the help that explains the page at `path`."""
    fitting = [start for start in HELP_PARTS if path == start or path.startswith(f"{start}/")]
    return f"/help/places#{HELP_PARTS[max(fitting, key=len, default='/')]}"


def number(value: float | None, digits: int = 2) -> str:
    """A number for the eye: true minus sign, no negative zero, a dash where there is none."""
    if value is None or value != value:
        return "\N{EN DASH}"
    text = f"{value:.{digits}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", "\N{MINUS SIGN}")


def caution_document(caution: Caution | JsonObject) -> JsonObject:
    """A caution as the template wants it, with its level in words."""
    document = caution.document() if isinstance(caution, Caution) else dict(caution)
    level = Level(str(document.get("level", Level.CAUTION.value)))
    return {**document, "level": level.value, "word": LEVEL_WORDS[level]}


def _open_and_folded(items: Iterable[Caution | JsonObject]) -> tuple[tuple[JsonObject, ...], tuple[JsonObject, ...]]:
    """Cautions as the template wants them, those to be shown and those to be folded."""
    return open_and_folded(map(caution_document, items), lambda one: str(one["level"]))


def json_island(id: str, data: object) -> Markup:
    """Data for a script, as an inert block: ``<script type="application/json" id=...>``."""
    text = json.dumps(data, allow_nan=False).replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
    return Markup('<script type="application/json" id="{}">').format(id) + Markup(text) + Markup("</script>")


def workbench_of(request: Request) -> Workbench:
    """The workbench that the application stands over."""
    workbench: Workbench = request.app.state.workbench
    return workbench


@pass_context
def token_field(context: Context) -> Markup:
    """The hidden fields of a form: the token that lets it in, an id, so that sent twice it is kept once, and its page."""
    app = context["request"].app
    return Markup(
        '<input type="hidden" name="token" value="{}"><input type="hidden" name="request_id" value="{}">'
    ).format(app.state.token, entry_id(app.state.workbench.clock.now().timestamp())) + page_field(context)


@pass_context
def page_field(context: Context) -> Markup:
    """The hidden field that says on which page a form stands, so that refused it comes back there."""
    request = context["request"]
    here = f"{request.url.path}?{request.url.query}" if request.url.query else request.url.path
    stood_on = here if request.method == "GET" else dict(request.scope.get("obverse_typed", ())).get(PAGE, here)
    return Markup('<input type="hidden" name="{}" value="{}">').format(PAGE, stood_on)


def _duties(request: Request) -> tuple[Duty, ...]:
    try:
        found: tuple[Duty, ...] = request.app.state.workbench.duties()
    except ObverseError:
        # A page that tells of a trouble of the store is shown all the same.
        return ()
    return found


def _units(request: Request) -> UnitsShown:
    try:
        found: UnitsShown = request.app.state.workbench.units.shown()
    except ObverseError:
        return UnitsShown()
    return found


def _retold(text: object) -> str:
    """A sentence in the units of whoever reads this page; parts that are imported see nothing else of the page."""
    return _reading.get().retold(str(text))


@pass_context
def _volume(context: Context, volume_ml: float) -> str:
    return str(context["units"].volume(volume_ml))


@pass_context
def _mass(context: Context, mass_g: float) -> str:
    return str(context["units"].mass(mass_g))


@pass_context
def _measured(context: Context, amount: float, unit: str) -> str:
    return str(context["units"].measured(amount, unit))


@pass_context
def _temperature(context: Context, low_c: float, high_c: float | None = None) -> str:
    units = context["units"]
    return str(units.temperature_of(low_c) if high_c is None else units.temperatures(low_c, high_c))


@pass_context
def _distance(context: Context, length_m: float) -> str:
    return str(context["units"].length(length_m))


@pass_context
def _per_litre(context: Context, ml_per_l: float) -> str:
    return str(context["units"].per_litre(ml_per_l))


def _shared(request: Request) -> dict[str, object]:
    # The guard needs pages for its refusals.
    from obverse.web.guard import LOOPBACK_PEERS

    units = _units(request)
    _reading.set(units)
    return {
        "places": PLACES,
        "token": request.app.state.token,
        "path": request.url.path,
        "help_address": help_address(request.url.path),
        "invented": request.app.state.invented,
        "duties": _duties(request),
        "units": units,
        "here": request.client is None or request.client.host in LOOPBACK_PEERS,
    }


def _readable(value: object) -> object:
    """What a page says, so that a name from elsewhere turns nothing round."""
    return value if isinstance(value, Markup) or not isinstance(value, str) else without_turns(value)


_reading: ContextVar[UnitsShown] = ContextVar("reading", default=METRIC)
_templates = Jinja2Templates(directory=str(files("obverse.web").joinpath("templates")), context_processors=[_shared])
_templates.env.globals.update(token_field=token_field, page_field=page_field, json_island=json_island)
_templates.env.filters.update(
    retold=_retold, number=number, percent=percent, caution=caution_document, open_and_folded=_open_and_folded
)
_templates.env.filters.update(
    volume=_volume, mass=_mass, measured=_measured, temperature=_temperature, distance=_distance, per_litre=_per_litre
)
_templates.env.finalize = _readable
_templates.env.trim_blocks = True
_templates.env.lstrip_blocks = True
