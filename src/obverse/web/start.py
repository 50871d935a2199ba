"""The start page: where one stands, and what to do next."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from obverse.foundation import DeniedError
from obverse.web.pages import page, workbench_of

router = APIRouter()


@router.get("/", response_class=HTMLResponse, include_in_schema=False)
def start(request: Request) -> HTMLResponse:
    """Films, last runs, the next action."""
    workbench = workbench_of(request)
    invented = request.app.state.invented
    backup = None if invented else workbench.backup_line()
    return page(request, "house/start.html", standing=workbench.where_one_stands(), backup=backup, teaching=invented)


@router.post("/backup", include_in_schema=False)
def back_up(request: Request) -> RedirectResponse:
    """Make a backup beside the last one."""
    if not request.scope.get("obverse_owner"):
        raise DeniedError("only the computer itself makes backups", remedy="open this page there")
    workbench_of(request).back_up_again(request.state.entry)
    return RedirectResponse("/#backup-title", status_code=303)
