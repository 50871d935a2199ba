"""The sink page: choose an evening, see its plan and proof, run it at arm's length, read what happened."""

from __future__ import annotations

import asyncio
import json
import math
import secrets
from collections.abc import AsyncIterator
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Annotated, Literal, TypedDict

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response, StreamingResponse
from pydantic import Field

from obverse.foundation import (
    Caution,
    Deferral,
    Document,
    InputError,
    JsonObject,
    ObverseError,
    UnsafeError,
    clock_span,
    parse_json,
    parse_number,
)
from obverse.process import CONTROLS, TEMPERATURE, Process, film_said, read_time, tell_time
from obverse.web.entries import EntryRoute, named_by_itself
from obverse.web.failures import problem_of
from obverse.web.form_again import filled, text_of
from obverse.web.pages import number, page, workbench_of
from obverse.web.people import person_of, touch
from obverse.web.units import retold_everywhere, temperature_c_of, volume_ml_of
from obverse.workbench.care import FILMS
from obverse.workbench.duty import local_clock
from obverse.workbench.evening_words import (
    conflict_words,
    do_words,
    effect_words,
    order_words,
    proof_words,
    short_title_words,
    title_words,
    told_cautions,
    told_once,
)
from obverse.workbench.nouns import DARK, PlanCaution, RunPlan
from obverse.workbench.ready_words import film_line, lacking, plan_document, ready_groups
from obverse.workbench.sink import ENDED, PlanRequest, Sink, asked_limits, bath_name
from obverse.workbench.this_computer import clock_standing

router = APIRouter(route_class=EntryRoute)

# Strips that one tank develops side by side.
MOST_STRIPS_ON_THE_FORM = 4
# Evenings that go on and duties are always shown, however many; of these the newest.
MOST_PLANNED_SHOWN = 6
MOST_PAST_SHOWN = 12
REHEARSAL_SPEED = 20.0
# A device hears of a change within this, of the present instant at least every `_BEAT_S`: its sign that the house lives.
_IN_HOURS_S = 5400  # from an hour and a half on a time is told in hours
_LOOK_EVERY_S = 0.15
_BEAT_S = 1.0


class Begin(Document):
    """An evening to be kept."""

    request: PlanRequest
    speed: float = Field(default=1.0, ge=1, le=600)


class Told(Document):
    """An event as a device tells it. The instant may be left out: then it is the house's."""

    event_id: str = Field(min_length=1, max_length=100, pattern=r"^[!-~]+$")
    kind: str = Field(min_length=1, max_length=40)
    at_s: float | None = Field(default=None, ge=0, le=1e11)
    action: str = Field(default="", max_length=200)
    cut_short: bool = False
    temperature_c: float | None = None
    seconds: float | None = None
    text: str = Field(default="", max_length=2000)
    sure: bool = False
    of: str = Field(default="", max_length=200)
    to_s: float | None = Field(default=None, ge=0, le=1e11)
    device: str = Field(default="", max_length=80)


# Pages


@router.get("/sink", response_class=HTMLResponse, include_in_schema=False)
def sink_page(request: Request) -> HTMLResponse:
    """Open evenings, past ones, and the form for the next."""
    return _sink_page(request)


def _sink_page(request: Request, error: InputError | UnsafeError | None = None) -> HTMLResponse:
    bench = workbench_of(request)
    runs, going = bench.sink.runs(), bench.sink.open_runs()
    return page(
        request,
        "sink/sink.html",
        status_code=200 if error is None else error.http_status,
        wrong="" if error is None else error.sentence,
        lethal=isinstance(error, UnsafeError),
        local=_local_day,
        going=going,
        planned=[run for run in runs if run.thing.status == "planned" and not run.elsewhere][:MOST_PLANNED_SHOWN],
        past=[run for run in runs if run.thing.status in ENDED or run.elsewhere][:MOST_PAST_SHOWN],
        **_choices(request),
        given=_as_given(request),
        lid=clock_standing(bench.clock, bench.home),
    )


@router.get("/sink/plan", response_class=HTMLResponse, include_in_schema=False)
def plan_page(request: Request) -> HTMLResponse:
    """The plan of an evening with its proof; nothing is kept yet. What cannot be planned comes back to its form."""
    try:
        wanted = _from_query(request)
        plan = workbench_of(request).sink.plan(wanted)
    except InputError as error:
        return filled(request, error, text_of(_sink_page(request))) or _sink_page(request, error)
    except UnsafeError as error:
        return _sink_page(request, error)
    return page(
        request,
        "sink/plan.html",
        plan=plan,
        request_json=PlanRequest.model_validate(wanted).model_dump_json(),
        conflict_words=conflict_words,
        proved=proof_words(plan.proof),
        ordered=order_words(plan),
        rehearsal_speed=REHEARSAL_SPEED,
        lacking=lacking(plan),
        ready=ready_groups(plan),
        film_line=film_line(plan),
        film_of_recipe=next((strip.film for strip in plan.strips if strip.film), ""),
        shelf_is_empty=workbench_of(request).shelf.is_empty,
        before=_before(plan),
        rows=_rows(plan),
        bands=_bands(plan),
        query=str(request.url.query),
        steps=_changes(workbench_of(request).sink.process_of(wanted), request),
        kept_fields=[
            (name, text)
            for name, text in request.query_params.multi_items()
            if name not in ("without", "again") and not name.startswith(_TIME_OF)
        ],
    )


@router.post("/sink/begin", include_in_schema=False)
def begin_page(
    request: Request, plan: Annotated[str, Form()], speed: Annotated[float, Form()] = 1.0
) -> RedirectResponse:
    """Keep the plan and go to the sink."""
    run_id = workbench_of(request).sink.begin(parse_json(plan, where="plan"), speed=speed, person=person_of(request))
    return RedirectResponse(f"/sink/{run_id}", status_code=303)


@router.post("/sink/recipe", include_in_schema=False)
def keep_recipe_page(
    request: Request, plan: Annotated[str, Form()], name: Annotated[str, Form(max_length=160)] = ""
) -> RedirectResponse:
    """Keep what was planned as a recipe, and show it."""
    if not name.strip():
        raise InputError("the recipe has no name", where="name", remedy="give one, such as Projection, June")
    kept = workbench_of(request).sink.keep_as_recipe(parse_json(plan, where="plan"), name=name.strip())
    touch(request, "recipe", kept, anyway=True)
    return RedirectResponse(f"/notebook/recipes/{kept}", status_code=303)


@router.get("/sink/{run_id}", response_class=HTMLResponse, include_in_schema=False)
def run_page(request: Request, run_id: str) -> HTMLResponse:
    """The live run, or what happened once it has ended."""
    sink = workbench_of(request).sink
    look = sink.look(run_id)
    kept = sink.run(run_id)
    if look.view.status in ENDED:
        return _report(request, run_id)
    plan = shown_plan(kept.thing.name, sink.state(run_id).plan)
    told = {part: retold_everywhere(request, plan[part]) for part in ("actions", "cautions")}
    shown = {**plan, **told, "duties": _other_duties(request, run_id)}
    whose = kept.thing.person
    another = whose if whose and whose != person_of(request) else ""
    return page(request, "sink/live.html", run=kept, look=look.document(), plan=shown, dark=DARK, another=another)


def _other_duties(request: Request, run_id: str) -> list[JsonObject]:
    """What other evenings have left to destroy, with the time that is left, which a silent house goes on counting on the page."""
    workbench = workbench_of(request)
    now_s = workbench.care.now().timestamp()
    return [
        {
            "what": duty.what,
            "why": duty.why,
            "steps": duty.href,
            "taken": duty.taken,
            "left_s": None if duty.by_s is None else duty.by_s - now_s,
            "by": "" if duty.by_s is None else local_clock(duty.by_s),
        }
        for duty in workbench.duties()
        if duty.run != run_id
    ]


def _event_id(request: Request) -> str:
    """The id of the event that a form writes down: sent again, it is the same event."""
    return str(request.state.entry) or secrets.token_hex(8)


@router.post("/sink/{run_id}/correct", include_in_schema=False)
@named_by_itself
def correct_page(
    request: Request,
    run_id: str,
    of: Annotated[str, Form()],
    do: Annotated[str, Form()],
    value: Annotated[str, Form()] = "",
    sure: Annotated[bool, Form()] = False,
    degrees: Annotated[str, Form()] = "",
) -> Response:
    """Take an entry of the record back, or say what it truly was; what was typed stays where it is refused."""
    sink = workbench_of(request).sink
    try:
        event: JsonObject = (
            {"kind": "taken_back", "of": of}
            if do == "take_back"
            else _changed(request, run_id, of, value, sure, degrees)
        )
        answer = sink.record(run_id, _event_id(request), {**event, "device": "report"})
        refused = next((order.text for order in answer.orders if order.do == "refuse"), "")
    except InputError as error:
        refused = error.sentence
    # Where another device has let the evening go on, its report is a page of the past.
    if not refused or sink.look(run_id).view.status not in ENDED:
        return RedirectResponse(f"/sink/{run_id}", status_code=303)
    return _report(request, run_id, wrong={"of": of, "do": do, "value": value, "sentence": refused})


@router.post("/sink/{run_id}/duty", include_in_schema=False)
@named_by_itself
def duty_page(
    request: Request,
    run_id: str,
    formula: Annotated[str, Form()],
    who: Annotated[str, Form(max_length=60)] = "",
    done: Annotated[bool, Form()] = False,
) -> RedirectResponse:
    """Somebody says that they destroy a used bath, or that it is destroyed."""
    event = {"kind": "duty_done" if done else "duty_taken", "action": formula, "text": who.strip() or "somebody"}
    workbench_of(request).sink.record(run_id, _event_id(request), event)
    return RedirectResponse(f"/sink/{run_id}" if done else "/sink", status_code=303)


def _changed(request: Request, run_id: str, of: str, value: str, sure: bool, degrees: str) -> JsonObject:
    """What a person typed into the report, as the correction of that entry."""
    sink = workbench_of(request).sink
    event = next((e for e in sink.state(run_id).events if e.id == of), None)
    if event is None:
        raise InputError("there is no such entry", where="correction", remedy="choose one of the record")
    if event.kind == "temperature_noted":
        return {
            "kind": "changed",
            "of": of,
            "temperature_c": temperature_c_of(request, value, degrees=degrees),
            "sure": sure,
        }
    if event.kind == "note":
        return {"kind": "changed", "of": of, "text": value}
    return {"kind": "changed", "of": of, "to_s": instant_near(value, event.at_s)}


def _report(request: Request, run_id: str, wrong: dict[str, str] | None = None) -> HTMLResponse:
    """What happened, with what was wrong in the correction just tried."""
    sink = workbench_of(request).sink
    return page(
        request,
        "sink/report.html",
        status_code=200 if wrong is None else 422,
        run=sink.run(run_id),
        report=sink.report(run_id).document(),
        plan=sink.state(run_id).plan,
        clock=clock_span,
        instant=_instant,
        meaning=_meaning,
        title_words=title_words,
        do_words=do_words,
        wrong=wrong or {},
    )


# JSON


@router.post("/api/sink/plan")
def make_plan(request: Request, wanted: PlanRequest) -> JsonObject:
    """The plan of an evening; nothing is kept."""
    plan = workbench_of(request).sink.plan(wanted.model_dump())
    return plan_document(plan)


@router.post("/api/sink/runs")
def begin_run(request: Request, wanted: Begin) -> dict[str, str]:
    """Keep an evening that may start."""
    sink = workbench_of(request).sink
    return {"run": sink.begin(wanted.request.model_dump(), speed=wanted.speed, person=person_of(request))}


@router.get("/api/sink/runs/{run_id}")
def look(request: Request, run_id: str) -> JsonObject:
    """Everything a device shows now."""
    return workbench_of(request).sink.look(run_id).document()


@router.get("/api/sink/runs/{run_id}/clock")
def clock(request: Request, run_id: str) -> dict[str, float]:
    """The present instant of the run's clock, and nothing else: devices set theirs by it."""
    return {"now_s": workbench_of(request).sink.now_s(run_id)}


class ClockChoice(Document):
    """What the person says of a date that has parted from the steady clock."""

    how: Literal["slept", "date_set"]


@router.post("/api/sink/runs/{run_id}/clock")
@named_by_itself
def settle_clock(request: Request, run_id: str, choice: ClockChoice) -> JsonObject:
    """Count what the steady clock missed, or go on as it went; pressed twice it is done once."""
    return workbench_of(request).sink.settle_clock(run_id, choice.how).document()


@router.get("/api/sink/runs/{run_id}/duties")
def other_duties(request: Request, run_id: str) -> JsonObject:
    """What other evenings have left to destroy: the live page asks from time to time."""
    return {"duties": _other_duties(request, run_id)}


@router.get("/api/sink/runs/{run_id}/report")
def report(request: Request, run_id: str) -> JsonObject:
    """What truly happened so far."""
    return workbench_of(request).sink.report(run_id).document()


@router.post("/api/sink/runs/{run_id}/events")
@named_by_itself
def record(request: Request, run_id: str, told: Told) -> JsonObject:
    """Write one event down. Sent twice under one id it happened once."""
    event = _signed(request, run_id, told.model_dump(exclude={"event_id"}, exclude_none=True))
    answer = workbench_of(request).sink.record(run_id, told.event_id, event)
    orders = tuple(o.model_copy(update={"text": retold_everywhere(request, o.text)}) for o in answer.orders)
    return replace(answer, orders=orders).document()


def _signed(request: Request, run_id: str, event: JsonObject) -> JsonObject:
    """The event with whoever told it; who ends another's evening stands in the report beside the reason."""
    me = person_of(request)
    if not me:
        return event
    whose = workbench_of(request).sink.run(run_id).thing.person
    if event["kind"] == "aborted" and whose and whose != me:
        return {**event, "device": me, "text": f"{me} ended {whose}'s evening: {event.get('text', '')}"}
    return {**event, "device": me}


@router.post("/api/sink/runs/{run_id}/what-if")
@named_by_itself
def what_if(request: Request, run_id: str, told: Told) -> JsonObject:
    """What an event would do to the rest of the evening; nothing is written down."""
    sink = workbench_of(request).sink
    found = sink.what_if(run_id, told.model_dump(exclude={"event_id"}, exclude_none=True))
    plan = sink.state(run_id).plan
    names = {life.formula: bath_name(life.formula, plan) for life in found.breaks}
    return {
        "refused": found.refused is not None,
        "later_s": found.later_s,
        "sentences": retold_everywhere(request, effect_words(found, names)),
    }


@router.post("/api/sink/runs/{run_id}/photo")
@named_by_itself
def photo(request: Request, run_id: str, picture: Annotated[UploadFile, File()]) -> JsonObject:
    """Keep a picture taken at the sink."""
    answer = workbench_of(request).sink.keep_photo(
        run_id, picture.file.read(), picture.content_type or "", _event_id(request)
    )
    return answer.document()


@router.get("/api/sink/runs/{run_id}/stream", include_in_schema=False)
def stream(request: Request, run_id: str) -> StreamingResponse:
    """Server-sent events: where the run stands, at every change and every few seconds."""
    sink = workbench_of(request).sink
    sink.look(run_id)  # an unknown run is told before the stream begins
    return StreamingResponse(
        _beats(request, sink, run_id), media_type="text/event-stream", headers={"X-Accel-Buffering": "no"}
    )


async def _beats(request: Request, sink: Sink, run_id: str) -> AsyncIterator[str]:
    seen, quiet_s = -1, 0.0
    while not await request.is_disconnected():
        try:
            # Off the loop: a writer that waits for the disk must not keep the other devices waiting.
            seq = await asyncio.to_thread(sink.last_seq, run_id)
            if seq != seen or quiet_s >= _BEAT_S:
                seen, quiet_s = seq, 0.0
                look = await asyncio.to_thread(lambda: sink.look(run_id).document())
                yield f"data: {json.dumps(look, allow_nan=False)}\n\n"
        except ObverseError as error:
            # A locked file passes; the device keeps what it has and hears of it.
            yield f"event: trouble\ndata: {problem_of(request, error).told()}\n\n"
            quiet_s = 0.0
        await asyncio.sleep(_LOOK_EVERY_S)
        quiet_s += _LOOK_EVERY_S


# Words and numbers for the templates


def shown_plan(name: str, plan: RunPlan) -> JsonObject:
    """A plan as the live page has it: its structure, and the words for it."""
    whole = plan_document(plan)
    document = {name: whole[name] for name in ("actions", "cautions", "tank_ml", "strips", "choices")}
    developer = plan.route.first_development.formula
    return {**document, "name": name, "first_developer": developer, "asked": asked_limits()}


class _Choices(TypedDict):
    """What the form of an evening offers."""

    routes: object
    recipes: object
    films: object
    tanks: object
    film_sizes: object
    baths_stand: bool
    controls: object
    most_strips: int
    optional: object


def _choices(request: Request) -> _Choices:
    bench = workbench_of(request)
    return {
        "routes": bench.processes.every(),
        "recipes": bench.recipes.all(),
        "films": bench.notebook.films(),
        "tanks": bench.shelf.tanks(),
        "film_sizes": FILMS,
        # A jug that has seen films is tried first, until somebody chooses otherwise.
        "baths_stand": not request.url.query and any(kept.thing.passes for kept in bench.shelf.bottles()),
        "controls": CONTROLS.values(),
        "most_strips": MOST_STRIPS_ON_THE_FORM,
        "optional": {
            step.key: step.name for route in bench.processes.every().values() for step in route.steps if step.optional
        },
    }


def _as_given(request: Request) -> JsonObject:
    """What the address asks for, so that other places can link to a filled form."""
    query = request.query_params
    names = ("strip", "film", "size", *CONTROLS)
    columns = {name: query.getlist(name) for name in names}
    strips = [
        {name: column[index] if index < len(column) else "" for name, column in columns.items()}
        for index in range(MOST_STRIPS_ON_THE_FORM)
    ]
    given = {
        name: query.get(name, "")
        for name in ("route", "recipe", "name", "tank_ml", "tanks", "bath_c", "water_c", "pace")
    }
    return {
        **given,
        "without": query.getlist("without"),
        "again": query.getlist("again"),
        "times": _times(request),
        "choose": query.getlist("choose"),
        "fresh": query.getlist("fresh"),
        "clip_tests": bool(query.get("clip_tests")),
        "strips": strips,
    }


# Before the key of a step, in the address of a plan: its time tonight.
_TIME_OF = "time."


def _times(request: Request) -> dict[str, str]:
    """What was typed as the time of a step tonight, by its key."""
    return {
        name.removeprefix(_TIME_OF): text.strip()
        for name, text in request.query_params.items()
        if name.startswith(_TIME_OF) and text.strip()
    }


def _changes(process: Process, request: Request) -> list[JsonObject]:
    """The steps of the process for the form in which a person changes them for tonight."""
    times, query = _times(request), request.query_params
    return [
        {
            "key": step.key,
            "name": step.name,
            "usual": tell_time(step),
            "time": times.get(step.key, ""),
            "out": step.key in query.getlist("without"),
            "again": step.key in query.getlist("again"),
        }
        for step in process.steps
    ]


def _from_query(request: Request) -> JsonObject:
    query = request.query_params
    columns = {name: query.getlist(name) for name in (*CONTROLS, "film", "strip", "size")}
    count = max(1, max(len(column) for column in columns.values()))
    strips = []
    for index in range(count):
        cells = {name: (column[index].strip() if index < len(column) else "") for name, column in columns.items()}
        controls = {
            name: temperature_c_of(request, cells[name], where=control.label, degrees=query.get("degrees", ""))
            if name == TEMPERATURE.key
            else _number(cells[name], control.label)
            for name, control in CONTROLS.items()
            if cells[name]
        }
        if index and not controls and not any(cells[name] for name in ("strip", "size", "film")):
            continue
        strips.append(
            {
                "name": cells["strip"] or (f"strip {index + 1}" if count > 1 else "strip"),
                "film": cells["film"],
                "controls": controls,
                "pieces": film_said(cells["size"]) if cells["size"] else (),
            }
        )
    wanted: dict[str, object] = {
        "route": query.get("route", "").strip(),
        "recipe": query.get("recipe", "").strip(),
        "name": query.get("name", "").strip(),
        "without": query.getlist("without"),
        "again": query.getlist("again"),
        "times_min": {key: read_time(text, where=key)["time_min"] for key, text in _times(request).items()},
        "choose": query.getlist("choose"),
        "fresh": query.getlist("fresh"),
        "clip_tests": bool(query.get("clip_tests")),
        "strips": strips,
    }
    if query.get("tanks", "").strip():
        wanted["tanks"] = int(_number(query["tanks"], "tanks"))
    said = {name: query.get(name, "").strip() for name in ("tank_ml", "bath_c", "water_c", "pace")}
    if said["tank_ml"]:
        wanted["tank_ml"] = volume_ml_of(request, said["tank_ml"], where="tank")
    for name, field, words in (("bath_c", "temperature_c", "temperature"), ("water_c", "water_c", "water")):
        if said[name]:
            wanted[field] = temperature_c_of(request, said[name], where=words, degrees=query.get("degrees", ""))
    if said["pace"]:
        wanted["pace"] = _number(said["pace"], "pace")
    return wanted


def _number(text: str, where: str) -> float:
    return parse_number(text, where=where, example="20.5")


def _before(plan: RunPlan) -> tuple[Caution, ...]:
    """What to know before one begins; what is said of a bottle stands where the bottles are."""
    return told_once(
        plan,
        (
            caution
            for caution in told_cautions(plan)
            if not caution.code.startswith("bottle.")
            and not Deferral.is_said_by(caution.text)
            and (
                caution.level == "danger"
                or (caution.level != "note" and (not caution.where or caution.where.startswith("jug")))
            )
        ),
    )


@dataclass(frozen=True)
class _TimelineRow:
    """One line of the timeline of a plan; rinses of one bath are one."""

    fold: tuple[object, ...]
    kind: str
    title: str
    start: str
    seconds: float
    fills: int
    carry_over: float | None
    place: str
    temperature_c: float | None
    agitations: int
    unattended_s: float
    do: str
    cautions: tuple[PlanCaution, ...]

    @property
    def length(self) -> str:
        """How long it takes, as a clock tells it."""
        return clock_span(self.seconds)

    @property
    def unattended(self) -> str:
        """How long it may be left alone, in words."""
        return _words(self.unattended_s)


def _rows(plan: RunPlan) -> list[_TimelineRow]:
    """The timeline: rinses of one bath folded into one line."""
    rows: list[_TimelineRow] = []
    cautions: dict[str, tuple[PlanCaution, ...]] = {}
    for caution in told_cautions(plan):
        cautions[caution.where] = (*cautions.get(caution.where, ()), caution)
    for action in plan.actions:
        own = cautions.get(action.key, ())
        fold = (action.kind, action.step, action.strips)
        if action.fill is not None and rows and rows[-1].fold == fold:
            row = rows[-1]
            rows[-1] = replace(
                row,
                seconds=row.seconds + action.pour_s + action.duration_s,
                fills=row.fills + 1,
                carry_over=action.carry_over,
                cautions=(*row.cautions, *own),
            )
            continue
        of_step = cautions.get(action.step, ()) if action.kind == "bath" and action.key != action.step else ()
        rows.append(
            _TimelineRow(
                fold=fold,
                kind=action.kind,
                title=short_title_words(action),
                start=clock_span(action.start_s),
                seconds=action.pour_s + action.duration_s,
                fills=1,
                carry_over=action.carry_over,
                place=action.place,
                temperature_c=action.temperature_c,
                agitations=sum(cue.kind == "agitate" for cue in action.cues),
                unattended_s=action.unattended_s,
                do=do_words(action),
                cautions=(*own, *of_step),
            )
        )
    return rows


def _bands(plan: RunPlan) -> dict[str, list[dict[str, float]]]:
    """Spans as shares of the evening: hands at work, the film in the dark, baths at work."""
    total_s = plan.duration_s

    def share(start_s: float, end_s: float) -> dict[str, float]:
        return {"left": round(100 * start_s / total_s, 3), "width": round(100 * (end_s - start_s) / total_s, 3)}

    dark = [a for a in plan.actions if a.place in ("dark_room", "closed_tank")]
    return {
        "hands": [share(a.start_s + s, a.start_s + e) for a in plan.actions for s, e in a.hands],
        "lights": [share(a.start_s, a.end_s) for a in plan.actions if a.place == "dark_room"],
        "tank": [share(a.start_s, a.end_s) for a in dark if a.place == "closed_tank"],
        "baths": [share(a.start_s + a.pour_s, a.end_s) for a in plan.actions if a.kind == "bath"],
    }


def _words(seconds: float) -> str:
    if not seconds:
        return ""
    return f"{seconds / 3600:.3g} hours" if seconds >= _IN_HOURS_S else f"{seconds / 60:.0f} minutes"


def _instant(at_s: float | None) -> str:
    return "" if at_s is None else local_clock(at_s, seconds=True)


def _local_day(at: datetime) -> str:
    return at.astimezone().strftime("%d %B %Y, %H:%M")


def instant_near(text: str, near_s: float) -> float:
    """The instant of a time of day, such as 20:15:30, on the clock beside this computer, next to another instant.

    Raises
    ------
    InputError
        For words that are no time of day.
    """
    parts = text.strip().split(":")
    try:
        hours, minutes, seconds = (int(part) for part in (*parts, *(["0"] if len(parts) == 2 else [])))
        at = (
            datetime.fromtimestamp(near_s)
            .astimezone()
            .replace(hour=hours, minute=minutes, second=seconds, microsecond=0)
        )
    except ValueError as error:
        raise InputError(f"{text!r} is no time of day", where="time", remedy="write it like 20:15:30") from error
    days = round((near_s - at.timestamp()) / 86_400)
    return at.timestamp() + 86_400 * days


def _meaning(value: float, sd: float) -> tuple[str, str]:
    """A value and its uncertainty with the digits that mean something: one of the uncertainty, two where it begins with 1."""
    if not sd > 0:
        return f"{value:g}", ""
    place = -math.floor(math.log10(sd))
    if round(sd * 10**place) < 2:
        place += 1
    digits = max(0, place)
    return number(round(value, place), digits), number(round(sd, place), digits)
