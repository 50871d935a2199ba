"""The guided first evening: the whole way on the invented film, page by page, in ten minutes.

It runs in the teaching darkroom only. Each step leads to a page as it is; a bar at its foot says what to look at, and leads on.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from pydantic import Field

from obverse.foundation import Document, InputError
from obverse.web.entries import EntryRoute
from obverse.web.pages import page, workbench_of
from obverse.workbench.demo import CAMERA_FILM, STORY_FILM

router = APIRouter(route_class=EntryRoute)

# The route that asks for the fewest rare things; twenty times as fast an evening of two hours takes seven minutes.
REHEARSED_ROUTE = "permanganate_light"
SPEED = 20.0


class GuideStep(Document):
    """One step of the guided evening."""

    title: str = Field(description="what this step is", examples=["What the bottles can make"])
    words: str = Field(description="what to look at, and what to press", examples=["Look at the routes."])
    href: str = Field(description="the page it happens on", examples=["/shelf"])


STEPS: tuple[GuideStep, ...] = (
    GuideStep(
        title="Where you stand",
        words="Everything here is invented, so press what you like. This page always names the one thing to do next.",
        href="/",
    ),
    GuideStep(
        title="What the bottles can make",
        words="The shelf holds bottles as their labels print them. Below them are the processes they open, the least hazardous first, and "
        "what the others lack.",
        href="/shelf",
    ),
    GuideStep(
        title="What it can do to you",
        words="Every process has its hazards step by step: what to wear, what must never meet, what to destroy the same evening. Read "
        "this one to its end.",
        href=f"/shelf/care/routes/{REHEARSED_ROUTE}",
    ),
    GuideStep(
        title="Mix",
        words="Each bath, scaled to your tank and rounded to your own syringes and balance. Change the volume and see the amounts follow.",
        href="/bench",
    ),
    GuideStep(
        title="The evening, without water",
        words="Press the button to rehearse an evening, twenty times as fast: about seven minutes. Enter or the big button says that a bath "
        "is in or out. You may leave it at any time.",
        href="/guide/rehearse",
    ),
    GuideStep(
        title="Read the strip",
        words="This strip was read from three pictures of a camera. The curve falls from the black border to the clear highlights.",
        href=f"/notebook/{CAMERA_FILM}",
    ),
    GuideStep(
        title="What strips teach",
        words="Six strips of one film, from murky highlights to a good one. Move the sliders: the curve shows what another strip would give. "
        "The page names the next strip to try, or says that one is good.",
        href=f"/notebook/{STORY_FILM}",
    ),
    GuideStep(
        title="Keep what works",
        words="A strip that is good becomes a recipe, locked with its evidence. It prints as one sheet for the whole evening.",
        href="/notebook/recipes",
    ),
    GuideStep(
        title="On the wall",
        words="The slide before it is made: change the width of the picture or the light of the room, and see which tones part.",
        href="/projector",
    ),
    GuideStep(
        title="Now your own",
        words="That was the whole way. Start your own darkroom with the command obverse serve; this page says in what order.",
        href="/help/start-here",
    ),
)


@router.get("/api/guide")
def guide_document(request: Request) -> list[GuideStep]:
    """The steps of the guided evening; none outside the teaching darkroom."""
    return list(STEPS) if request.app.state.invented else []


@router.get("/guide", response_class=HTMLResponse, include_in_schema=False)
def guide_page(request: Request) -> HTMLResponse:
    """What the guided evening is, and its steps as a list."""
    return page(request, "house/guide.html", steps=STEPS)


@router.get("/guide/rehearse", response_class=HTMLResponse, include_in_schema=False)
def rehearse_page(request: Request) -> HTMLResponse:
    """The one step that begins something."""
    return page(request, "house/guide_rehearse.html")


@router.post("/guide/rehearse", include_in_schema=False)
def rehearse(request: Request) -> RedirectResponse:
    """Begin a rehearsal and go to it.

    Raises
    ------
    InputError
        Outside the teaching darkroom.
    """
    if not request.app.state.invented:
        raise InputError(
            "the guided evening runs in the teaching darkroom", where="guide", remedy="start it with `obverse demo`"
        )
    run = workbench_of(request).sink.begin({"route": REHEARSED_ROUTE, "name": "Guided evening"}, speed=SPEED)
    return RedirectResponse(f"/sink/{run}", status_code=303)
