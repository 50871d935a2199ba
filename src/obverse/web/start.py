"""The start page: where one stands, and what to do next."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from obverse.web.pages import page, workbench_of

router = APIRouter()


@router.get("/", response_class=HTMLResponse, include_in_schema=False)
def start(request: Request) -> HTMLResponse:
    """Films, last runs, the next action."""
    return page(request, "house/start.html", standing=workbench_of(request).where_one_stands())
