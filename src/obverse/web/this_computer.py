"""The page of this computer: whether its clock survives a closed lid, and where the notebook lies."""

from __future__ import annotations

from http import HTTPStatus
from typing import Annotated, Literal

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse

from obverse.foundation import DeniedError, ObverseError
from obverse.web.pages import page, workbench_of
from obverse.workbench.bootstrap import home
from obverse.workbench.this_computer import (
    begin_clock_trial,
    clock_standing,
    end_clock_trial,
    home_doubts,
    home_words,
    trial_words,
)

router = APIRouter()


@router.get("/this-computer", response_class=HTMLResponse, include_in_schema=False)
def this_computer(request: Request) -> HTMLResponse:
    """Clock, data folder, and what is wrong with them."""
    return _page(request)


@router.post("/this-computer/clock", response_class=HTMLResponse, include_in_schema=False)
def try_the_clock(request: Request, step: Annotated[Literal["begin", "end"], Form()]) -> HTMLResponse:
    """Begin the trial of the clock, or end it and say what it showed."""
    if not request.scope.get("obverse_owner"):
        raise DeniedError("only the computer itself tries its clock", remedy="open this page there")
    bench = workbench_of(request)
    if step == "begin":
        begin_clock_trial(bench.clock, bench.home)
        return _page(request)
    try:
        told = trial_words(end_clock_trial(bench.clock, bench.home))
    except ObverseError as error:
        return _page(request, told=error.sentence, status_code=error.http_status)
    return _page(request, told=told)


def _page(request: Request, *, told: str = "", status_code: int = HTTPStatus.OK) -> HTMLResponse:
    bench = workbench_of(request)
    found = home()
    return page(
        request,
        "house/this_computer.html",
        status_code=status_code,
        standing=clock_standing(bench.clock, bench.home),
        told=told,
        folder=bench.home,
        # A demo, and a house that was opened over a folder of its own, lie where they were put.
        how=home_words(found) if found.folder == bench.home else "",
        doubts=home_doubts(found) if found.folder == bench.home else (),
    )
