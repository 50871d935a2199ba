"""Pages of processes: the person's own ways, written in one form, judged by the house step by step, compared."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from http import HTTPStatus

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from obverse.foundation import InputError, JsonObject, regex, whole_number
from obverse.process import DOES, STEP_WORDS, UnitsShown
from obverse.process.catalog import routes
from obverse.web.entries import EntryRoute, Form, adds_one, revision_seen
from obverse.web.pages import page, workbench_of
from obverse.web.people import ask_first, touch
from obverse.web.units import paper_of, volume_ml_of
from obverse.workbench.opinion_words import Opinion
from obverse.workbench.processes import MOST_BYTES_OF_A_PROCESS, Draft, Processes, compare, process_text

router = APIRouter(route_class=EntryRoute)
# Of one form; a process has no more steps.
MOST_ROWS = 60
# Fields of a step that are told and typed in the person's units.
_MEASURED = ("temperature", "volume", "carry_over")
_IN_ML = regex(r"(\d+(?:\.\d+)?) mL")
_NO_DEGREES = regex(r"\s*[\d.,]+(?:\s*(?:-|\N{EN DASH}|to)\s*[\d.,]+)?\s*")
_BARE_OUNCES = regex(r"(?<!us )(?<!imperial )\bfl\.? ?oz\b", re.I)
# The page comes back with what was typed and what is wrong with it.
NOT_KEPT = HTTPStatus.UNPROCESSABLE_ENTITY


def _processes(request: Request) -> Processes:
    return workbench_of(request).processes


@router.get("/bench/processes", response_class=HTMLResponse, include_in_schema=False)
def processes_page(request: Request, first: str = "", second: str = "", source: str = "") -> HTMLResponse:
    """All processes; a new one is begun here, and two are compared."""
    processes = _processes(request)
    bench = workbench_of(request)
    compared = None
    if first and second:
        compared = compare(processes.process(first), processes.process(second), processes.formulas())
    return page(
        request,
        "processes/processes.html",
        own=processes.own(),
        shipped=routes(),
        every=processes.every(),
        evenings=[run for run in bench.sink.runs() if not run.elsewhere][:12],
        recipes=bench.recipes.all(),
        first=first,
        second=second,
        compared=compared,
        source=source,
    )


@router.post("/bench/processes", include_in_schema=False)
@adds_one
def begin(request: Request, form: Form) -> Response:
    """Begin a process from nothing, another process, an evening or a recipe; or take one in from its document."""
    processes = _processes(request)
    name, source = str(form.get("name", "")), str(form.get("source", ""))
    file = form.get("file")
    if file is not None and not isinstance(file, str) and file.filename:
        id = processes.take_in_text(file.file.read(MOST_BYTES_OF_A_PROCESS + 1), where=file.filename[:80])
    else:
        id = processes.begin(name, source=source)
    touch(request, "process", id)
    return RedirectResponse(f"/bench/processes/{id}", status_code=303)


@router.get("/bench/processes/{id}", response_class=HTMLResponse, include_in_schema=False)
def process_page(request: Request, id: str, kept: str = "") -> HTMLResponse:
    """One process: its steps as a form, and what the house thinks of each."""
    processes = _processes(request)
    process = processes.process(id)
    return _form_page(request, id, _in_units(request, processes.draft(process)), processes.opinions(process), kept=kept)


def _in_units(request: Request, draft: Draft) -> Draft:
    units = workbench_of(request).units.shown()
    return replace(draft, rows=tuple(_measured_told(units, row) for row in draft.rows))


def _measured_told(units: UnitsShown, row: Mapping[str, str]) -> dict[str, str]:
    """A step with its temperature and volumes in the person's units; what is said in words stays as it was said."""
    poured = {name: _IN_ML.fullmatch(row[name]) for name in ("volume", "carry_over")}
    volumes = {name: units.volume(float(found[1])).split(" (")[0] for name, found in poured.items() if found}
    return {**row, "temperature": units.retold(row["temperature"]), **volumes}


def _measured_typed(units: UnitsShown, row: Mapping[str, str], kept: Mapping[str, str] | None) -> dict[str, str]:
    """A step as it was typed in the person's units: what was not touched is what is kept, a bare number is in their degrees."""
    typed = dict(row)
    if units.temperature == "f" and _NO_DEGREES.fullmatch(row["temperature"]):
        typed["temperature"] += " F"
    for name in ("volume", "carry_over"):
        typed[name] = _BARE_OUNCES.sub(f"{units.usual if units.usual != 'metric' else 'us'} fl oz", row[name])
    told = {} if kept is None else _measured_told(units, kept)
    return typed | {name: kept[name] for name in _MEASURED if kept is not None and row[name] == told[name]}


def _form_page(
    request: Request,
    id: str,
    draft: Draft,
    opinions: list[Opinion],
    *,
    head: dict[str, str] | None = None,
    kept: str = "",
    reasons: dict[str, str] | None = None,
    status: int = HTTPStatus.OK,
) -> HTMLResponse:
    processes = _processes(request)
    process = processes.process(id)
    beside: dict[str, list[Opinion]] = {}
    for one in opinions:
        beside.setdefault(one.step, []).append(one)
    return page(
        request,
        "processes/process.html",
        status_code=status,
        id=id,
        process=process,
        revision=processes.revision(id),
        whose=workbench_of(request).belongings.of("process", id),
        mine=id not in routes(),
        head=head
        or {
            "name": process.name,
            "summary": process.summary,
            "tank_ml": "" if process.tank_ml is None else f"{process.tank_ml:g}",
        },
        rows=draft.rows,
        wrong=draft.wrong,
        wrong_rows={row for row, _ in draft.wrong},
        beside=beside,
        reasons=reasons or {},
        does=list(DOES),
        formulas={key: formula.name for key, formula in processes.formulas().items() if "." not in key},
        bottles=[kept.thing.name for kept in workbench_of(request).shelf.products() if kept.thing.form == "liquid"],
        kept=kept,
    )


@router.post("/bench/processes/{id}", include_in_schema=False)
def change(request: Request, id: str, form: Form) -> Response:
    """Keep what was typed as the next revision; move, repeat, leave out or add a step; follow the house or say why not."""
    processes = _processes(request)
    act, _, at = str(form.get("act", "keep")).partition(":")
    columns = {name: [str(value) for value in form.getlist(name)][:MOST_ROWS] for name in ("key", *STEP_WORDS)}
    count = len(columns["does"])
    rows = [{name: column[i] if i < len(column) else "" for name, column in columns.items()} for i in range(count)]
    at_row = _rearranged(rows, act, at)
    units = workbench_of(request).units.shown()
    stands = {row["key"]: row for row in processes.draft(processes.process(id)).rows}
    head = {name: str(form.get(name, "")) for name in ("title", "summary", "tank_ml")}
    head["name"] = head.pop("title")
    tank = head["tank_ml"]
    with suppress(InputError):  # what is no volume is refused beside its field
        tank = f"{volume_ml_of(request, tank):.12g}" if tank.strip() else ""
    revision = revision_seen(form) or 0
    ask_first(request, "process", id)
    house = [_measured_typed(units, row, stands.get(row["key"])) for row in rows]
    draft = processes.change(id, {**head, "tank_ml": tank}, house, revision)
    reasons = {name[7:]: str(value) for name, value in form.multi_items() if name.startswith("reason:")}
    if draft.process is None:
        typed = [
            {**read, **{name: row[name] for name in _MEASURED}} for read, row in zip(draft.rows, rows, strict=True)
        ]
        draft = replace(draft, rows=tuple(typed))
        opinions = processes.opinions(processes.process(id))
        return _form_page(request, id, draft, opinions, head=head, reasons=reasons, status=NOT_KEPT)
    touch(request, "process", id, anyway=True)
    wrong = _judged(processes, id, act, at, reasons)
    if wrong:
        fresh = processes.draft(processes.process(id))
        told = _in_units(request, Draft(None, fresh.rows, {(-1, "steps"): wrong}))
        return _form_page(
            request, id, told, processes.opinions(processes.process(id)), reasons=reasons, status=NOT_KEPT
        )
    place = f"#step-{at_row + 1}" if at_row is not None else "#kept"
    return RedirectResponse(f"/bench/processes/{id}?kept={processes.revision(id)}{place}", status_code=303)


def _rearranged(rows: list[dict[str, str]], act: str, at: str) -> int | None:
    """Do to the rows what was pressed; returns the row that is looked at afterwards."""
    if act == "add":
        rows.append(dict.fromkeys(("key", *STEP_WORDS), "") | {"does": "rinse", "rinse": "5, 10, 20"})
        return len(rows) - 1
    here = whole_number(at)
    if here is None or here >= len(rows):
        return None
    if act == "up" and here:
        rows[here - 1], rows[here] = rows[here], rows[here - 1]
        return here - 1
    if act == "down" and here + 1 < len(rows):
        rows[here + 1], rows[here] = rows[here], rows[here + 1]
        return here + 1
    if act == "repeat":
        rows.insert(here + 1, dict(rows[here]))
        return here + 1
    if act == "drop" and len(rows) > 1:
        del rows[here]
        return max(0, here - 1)
    return None


def _judged(processes: Processes, id: str, act: str, at: str, reasons: dict[str, str]) -> str:
    """Follow the house where that was pressed, and keep the reasons that were given; says what is wrong."""
    try:
        if act == "take":
            step, _, code = at.partition(" ")
            processes.take_over(id, step, code)
        if act == "decline":
            reasons.setdefault(at, "")
        for place, reason in reasons.items():
            step, _, code = place.partition(" ")
            pressed = act == "decline" and at == place
            if reason.strip() or pressed:
                processes.decline(id, step, code, reason)
    except InputError as error:
        return error.sentence
    return ""


@router.get("/bench/processes/{id}/evening.pdf", include_in_schema=False)
def evening_pdf(request: Request, id: str, paper: str = "") -> Response:
    """The evening of this process on paper."""
    from obverse.sheets.process_sheet import process_sheet_pdf

    plan = workbench_of(request).sink.plan_of(_processes(request).process(id), {})
    today = workbench_of(request).clock.now().date()
    return Response(
        process_sheet_pdf(
            plan, paper=paper_of(request, paper), printed_on=today, units=workbench_of(request).units.shown()
        ),
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="evening-{id}.pdf"'},
    )


@router.get("/api/processes")
def listed(request: Request) -> JsonObject:
    """All processes that an evening may be planned by, the person's own first."""
    processes = _processes(request)
    return {
        "processes": [
            {"id": id, "name": process.name, "shipped": id in routes(), "revision": processes.revision(id)}
            for id, process in processes.every().items()
        ]
    }


@router.get("/api/processes/{id}")
def document(request: Request, id: str) -> Response:
    """The document of a process."""
    text = process_text(_processes(request).process(id))
    return Response(
        text,
        media_type="application/json",
        headers={"Content-Disposition": f'attachment; filename="{id}.process.json"'},
    )


@router.get("/api/processes/{id}/opinions")
def house_opinions(request: Request, id: str) -> JsonObject:
    """What the house would do otherwise at each step of a process."""
    processes = _processes(request)
    return {"opinions": [one.document() for one in processes.opinions(processes.process(id))]}


@router.post("/api/processes")
def take_in(request: Request, body: JsonObject, anyway: bool = False) -> JsonObject:
    """Take in a process from its document, or from steps in words; one of the same key becomes the next revision, of another's only `anyway`."""
    processes = _processes(request)
    ask_first(request, "process", str(body.get("key", "")), anyway=anyway)
    id = processes.take_in(body)
    touch(request, "process", id, anyway=True)
    return {"id": id, "revision": processes.revision(id)}
