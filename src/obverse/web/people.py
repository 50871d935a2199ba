"""Pages of a shared bench: who works here, whose device this is, and all evenings that go on."""

from __future__ import annotations

from datetime import timedelta

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from obverse.foundation import InputError, UnlikelyError
from obverse.web.entries import EntryRoute, Form
from obverse.web.failures import ANOTHERS
from obverse.web.pages import page, workbench_of
from obverse.web.sharing import COOKIE, Sharing
from obverse.workbench.sink import EveningLook
from obverse.workbench.whose import Kind

router = APIRouter(route_class=EntryRoute)

# Whose device this is, where it is not one that was let in: the computer of the bench itself.
PERSON_COOKIE = "obverse_person"
REMEMBERED = timedelta(days=1)


def person_of(request: Request) -> str:
    """The name of whoever this device belongs to; empty where nobody said."""
    sharing: Sharing | None = request.app.state.sharing
    if sharing is not None and not request.scope.get("obverse_owner"):
        return sharing.person_of(request.cookies.get(COOKIE))
    people = workbench_of(request).people
    name = request.cookies.get(PERSON_COOKIE, "")
    # Names travel in a cookie by their id: a cookie holds no accents.
    return next((kept.thing.name for kept in people.all() if kept.id == name), "") if name else ""


def touch(request: Request, kind: Kind, id: str, *, anyway: bool = False) -> None:
    """Write down who begins or changes a film, a formula, a recipe, a process or a bottle; another's is asked about first.

    Raises
    ------
    UnlikelyError
        If it is another's and nobody said that it is meant so.
    """
    ask_first(request, kind, id, anyway=anyway)
    workbench_of(request).belongings.touched(kind, id, person_of(request))


def ask_first(request: Request, kind: Kind, id: str, *, anyway: bool = False) -> None:
    """Whether a thing may be changed by whoever asks: one's own, nobody's, or another's after one was asked.

    Parameters
    ----------
    request : Request
        `anyway=true` in its address says, too, that one has asked.
    kind : str
    anyway : bool
        True where the person said so.

    Raises
    ------
    UnlikelyError
        If it is another's and nobody said that it is meant so.
    """
    me, whose = person_of(request), workbench_of(request).belongings.of(kind, id).person
    if me and whose and whose != me and not (anyway or request.query_params.get("anyway") == "true"):
        raise UnlikelyError(
            f"this {kind} is {whose}'s", where=ANOTHERS, remedy="ask first, or say that you change it anyway"
        )


def by_another(request: Request, trial_id: str, *, anyway: bool = False) -> dict[str, str]:
    """Who changes another person's strip, to be written down with the change; empty where it is one's own.

    Parameters
    ----------
    request : Request
        `anyway=true` in its address says, too, that one has asked.
    anyway : bool
        True where the person said so.

    Raises
    ------
    UnlikelyError
        If it is another's and nobody said that it is meant so.
    """
    me, trial = person_of(request), workbench_of(request).notebook.trial(trial_id).thing.trial
    if not me or not trial.person or trial.person == me:
        return {}
    if not (anyway or request.query_params.get("anyway") == "true"):
        raise UnlikelyError(
            f"{trial.id} is {trial.person}'s strip",
            where=ANOTHERS,
            remedy="ask first, or say that you change it anyway",
        )
    return {"changed_by": me}


@router.get("/people", response_class=HTMLResponse, include_in_schema=False)
def people_page(request: Request) -> HTMLResponse:
    """Who works here, and whose this device is."""
    return page(request, "house/people.html", people=workbench_of(request).people.all(), me=person_of(request))


@router.post("/people", include_in_schema=False)
def add(request: Request, form: Form) -> RedirectResponse:
    """Write somebody down."""
    workbench_of(request).people.add(str(form.get("name", "")))
    return RedirectResponse("/people", status_code=303)


@router.post("/people/me", include_in_schema=False)
def choose(request: Request, form: Form) -> RedirectResponse:
    """This device belongs to somebody from now on; to nobody where none is chosen."""
    person_id = str(form.get("person", ""))
    chosen = next((kept for kept in workbench_of(request).people.all() if kept.id == person_id), None)
    if person_id and chosen is None:
        raise InputError("nobody of that name works here", where="people", remedy="choose one of the names")
    sharing: Sharing | None = request.app.state.sharing
    answer = RedirectResponse("/people", status_code=303)
    if sharing is not None and not request.scope.get("obverse_owner"):
        sharing.belongs(request.cookies.get(COOKIE), "" if chosen is None else chosen.thing.name)
        return answer
    answer.set_cookie(
        PERSON_COOKIE, person_id, max_age=int(REMEMBERED.total_seconds()), httponly=True, samesite="strict", path="/"
    )
    return answer


@router.post("/people/{person_id}/go", include_in_schema=False)
def let_go(request: Request, person_id: str) -> RedirectResponse:
    """Somebody no longer works here."""
    workbench_of(request).people.let_go(person_id)
    return RedirectResponse("/people", status_code=303)


@router.get("/sink/all", response_class=HTMLResponse, include_in_schema=False)
def all_evenings(request: Request) -> HTMLResponse:
    """All evenings that go on: whose, at what, and what each waits for; what must not wait stands above."""
    sink = workbench_of(request).sink
    rows = []
    for kept in sink.open_runs():
        look = sink.look(kept.id)
        rows.append({"run": kept, "status": look.view.status, "waits": waits_for(look)})
    return page(request, "sink/all.html", rows=rows)


def waits_for(look: EveningLook) -> str:
    """What an evening waits for, in a few words, from what its page shows."""
    if look.title:
        return f"now: {look.title}"
    return f"next: {look.next_title}" if look.next_title else "all is done; it may be ended"
