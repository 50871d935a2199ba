"""The web face: one application, six places, one guard at the door."""

from __future__ import annotations

import json
import mimetypes
import secrets
from collections.abc import Sequence
from functools import cache
from importlib.resources import files

from fastapi import APIRouter, Depends, FastAPI, Response
from fastapi.staticfiles import StaticFiles

from obverse import __version__
from obverse.web import (
    bench,
    camera,
    care,
    guide,
    light_table,
    manual,
    notebook,
    people,
    pool,
    processes,
    projector,
    recipes,
    seen,
    shelf,
    sink,
    start,
    this_computer,
)
from obverse.web import sharing as share_pages
from obverse.web import tokens as token_pages
from obverse.web import units as unit_pages
from obverse.web.answers import DescribedApp
from obverse.web.devices import SECRET_BYTES
from obverse.web.entries import Added, name_entry
from obverse.web.failures import answer_failures
from obverse.web.guard import LOOPBACK_HOSTS, Guard, check_token
from obverse.web.sharing import Sharing
from obverse.web.tokens import Tokens
from obverse.workbench.bootstrap import Workbench
from obverse.workbench.schemas import schema_of

MEDIA_TYPES = (
    ("text/javascript", ".js"),
    ("text/css", ".css"),
    ("image/svg+xml", ".svg"),
    ("image/png", ".png"),
    ("text/html", ".html"),
    ("application/json", ".json"),
)
# The recipes stand before the notebook, whose pages are named by films.
_PLACES = (shelf, care, processes, bench, people, sink, light_table, camera, recipes, pool, notebook, projector, seen)


def create_app(
    workbench: Workbench,
    *,
    hosts: Sequence[str] = LOOPBACK_HOSTS,
    token: str | None = None,
    invented: bool = False,
    sharing: Sharing | None = None,
) -> FastAPI:
    """The application over a workbench.

    Parameters
    ----------
    hosts : sequence of str
        Host names the application answers to, without port.
    token : str, optional
        What state-changing requests must show; a fresh one where absent.
    invented : bool
        True where everything shown is the invented teaching darkroom; every page then says so.
    sharing : Sharing, optional
        Where the house is open to the local network: pairing and sessions.
    """
    app = DescribedApp(
        title="obverse",
        version=__version__,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
    )
    app.state.workbench = workbench
    app.state.token = token or secrets.token_urlsafe(SECRET_BYTES)
    app.state.tokens = Tokens(workbench.home / "tokens.json", workbench.clock.now)
    app.state.invented = invented
    app.state.added = Added()
    answer_failures(app)
    app.state.sharing = sharing
    # Set by a server that closes; streams then end.
    app.state.closing = None
    app.add_middleware(Guard, hosts=tuple(hosts), sharing=sharing)
    app.router.routes.extend(_every_place().routes)
    # The registry of a computer may call scripts plain text; a browser that is told not to guess would refuse them.
    for kind, ending in MEDIA_TYPES:
        mimetypes.add_type(kind, ending)
    app.mount("/static", StaticFiles(directory=str(files("obverse.web").joinpath("static"))), name="static")
    return app


@cache
def _every_place() -> APIRouter:
    """What every application of this process answers; what an address asks for is found out once for all of them."""
    every = APIRouter(dependencies=[Depends(check_token), Depends(name_entry)])
    for router in (_own, start.router, manual.router, guide.router, this_computer.router, share_pages.router):
        every.include_router(router)
    for router in (token_pages.router, unit_pages.router, *(place.router for place in _PLACES)):
        every.include_router(router)
    return every


_own = APIRouter()


@_own.get("/api/health")
def health() -> dict[str, str]:
    """Whether the house stands, and which one it is."""
    return {"status": "ok", "version": __version__}


@_own.get("/api/schemas/{kind}")
def schema_document(kind: str) -> Response:
    """The JSON schema of a document that others may write, as `obverse schema` prints it."""
    return Response(json.dumps(schema_of(kind)), media_type="application/schema+json")
