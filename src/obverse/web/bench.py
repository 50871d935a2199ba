"""The bench page: choose a route or a bath, scale it to the tank, read the mix sheet."""

from __future__ import annotations

import inspect
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import zip_longest
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Body, Depends, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import BeforeValidator
from starlette.datastructures import FormData

from obverse.foundation import (
    ConflictError,
    InputError,
    JsonObject,
    UnsafeError,
    read_document,
    together,
    with_point,
)
from obverse.process import CONTROLS, ROLES, USES, BathByBottles, amount_in
from obverse.process.catalog import products as generic_products
from obverse.process.catalog import substances
from obverse.web.entries import EntryRoute, Form, adds_one, revision_seen
from obverse.web.pages import page, workbench_of
from obverse.web.people import ask_first, touch
from obverse.web.sharing import phone_link
from obverse.web.units import Volume, VolumeOrNone, VolumeSaid, paper_of, volume_ml_of, volume_told
from obverse.workbench.bench import SAID_KINDS, hazards, remarks
from obverse.workbench.bench import sheet_document as document_of
from obverse.workbench.bootstrap import Workbench
from obverse.workbench.evening_words import title_words
from obverse.workbench.house_opinion import USUAL_TANK_ML
from obverse.workbench.nouns import Conversion

router = APIRouter(route_class=EntryRoute)

# A field of a form that may be left empty, and may be written with a decimal comma.
Optional = Annotated[float | None, BeforeValidator(lambda v: (with_point(v) or None) if isinstance(v, str) else v)]


def _controls(**given: float | None) -> dict[str, float]:
    """The controls of the first developer that the request names."""
    return {name: value for name, value in given.items() if value is not None}


# The address may name every control that is mixed in: fastapi reads a function's parameters from its signature.
_controls.__signature__ = inspect.Signature(  # type: ignore[attr-defined]
    [
        inspect.Parameter(control.key, inspect.Parameter.KEYWORD_ONLY, default=None, annotation=Optional)
        for control in CONTROLS.mixed()
    ],
    return_annotation=dict[str, float],
)


Controls = Annotated[dict[str, float], Depends(_controls)]
Choose = Annotated[list[str], Query()]


@router.get("/bench", response_class=HTMLResponse, include_in_schema=False)
def bench_page(
    request: Request,
    controls: Controls,
    said: VolumeSaid,
    volume_ml: VolumeOrNone,
    route: str = "",
    recipe: str = "",
) -> HTMLResponse:
    """All routes; or, with one chosen, every bath of it at this volume."""
    workbench = workbench_of(request)
    tanks = workbench.shelf.tanks()
    volume = volume_ml or (tanks[0].volume_ml if tanks and tanks[0].volume_ml else USUAL_TANK_ML)
    settings = workbench.bench.controls(recipe, controls)
    chosen = workbench.bench.route(route, recipe=recipe) if route or recipe else None
    return page(
        request,
        "bench/bench.html",
        routes=workbench.processes.every(),
        recipes=workbench.bench.recipes(),
        recipe=recipe,
        chosen=chosen,
        baths=workbench.bench.route_baths(route, volume, controls=controls, recipe=recipe) if chosen else [],
        when=_when(workbench, route, volume, controls, recipe) if chosen else [],
        to_the_sink=_to_the_sink(route, recipe, volume, controls, []),
        formulas=workbench.bench.formulas(),
        own=workbench.bench.own_formulas(),
        volume_ml=volume,
        said=said,
        told=volume_told(request, said),
        tanks=tanks,
        controls={**CONTROLS.starts(), **settings},
        query=urlencode({**controls, **({"recipe": recipe} if recipe else {})}),
        mixed=CONTROLS.mixed(),
        shelf_is_empty=workbench.shelf.is_empty,
    )


def _to_the_sink(route: str, recipe: str, volume_ml: float, controls: dict[str, float], choose: list[str]) -> str:
    """The address of the plan's form with everything that was chosen here: nothing is typed twice."""
    given: list[tuple[str, str]] = [("recipe", recipe)] if recipe else [("route", route)] if route else []
    given.append(("tank_ml", f"{volume_ml:g}"))
    given += [(name, f"{value:g}") for name, value in controls.items()]
    # An empty choice is "nearest that fits", which is what the sink does by itself.
    given += [("choose", text) for text in choose if not text.endswith(":")]
    return urlencode(given)


def _when(
    workbench: Workbench, route: str, volume_ml: float, controls: dict[str, float], recipe: str
) -> list[JsonObject]:
    """Minutes of the evening at which something is mixed, weighed or destroyed; empty where none can be planned."""
    try:
        actions = workbench.bench.when_to_mix(route, volume_ml, controls=controls, recipe=recipe)
    except (InputError, UnsafeError):
        return []  # the baths themselves say why; a tank below 50 mL has no evening
    return [
        {
            "clock": f"{int(a.start_s // 3600)}:{int(a.start_s % 3600 // 60):02d}",
            "kind": a.kind,
            "title": title_words(a),
            "formula": a.formula,
        }
        for a in actions
    ]


@router.get("/bench/formula", response_class=HTMLResponse, include_in_schema=False)
def formula_page(request: Request, key: str = "") -> HTMLResponse:
    """Write a formula of one's own, from nothing or from another."""
    bench = workbench_of(request).bench
    formula = bench.formula(key) if key else None
    is_own = key in bench.own_formulas()
    document: JsonObject = {} if formula is None else formula.model_dump(mode="json")
    if formula is not None and not is_own:
        document = {**document, "key": "", "name": f"my {formula.name}"}
    return page(
        request,
        "bench/formula.html",
        said_kinds=SAID_KINDS,
        formula=document,
        revision=str(bench.formula_revision(key)) if is_own else "",
        roles=ROLES,
        substances=substances(),
        component_rows=range(max(COMPONENT_ROWS, len(formula.components if formula else ()) + 1)),
        dilution_rows=range(max(2, len(formula.dilutions if formula else ()) + 1)),
        dilution_roles=USES,
    )


# Rows that a form shows at the least: as many as a usual formula and a usual mix have.
COMPONENT_ROWS, POURED_ROWS = 6, 5


@router.post("/bench/formula", include_in_schema=False)
def keep_formula_form(request: Request, form: Form) -> RedirectResponse:
    """Keep it, and show its mix sheet."""

    def lines(*names: str) -> dict[int, list[str]]:
        rows = enumerate(zip_longest(*(form.getlist(name) for name in names), fillvalue=""))
        return {at: [str(v).strip() for v in row] for at, row in rows if any(str(v).strip() for v in row)}

    components, dilutions = lines("substance", "concentration"), lines("product_role", "dilution")
    document = {
        "name": str(form.get("name", "")).strip(),
        "key": str(form.get("key", "")).strip(),
        "role": str(form.get("role", "")),
        "note": str(form.get("note", "")).strip(),
        "one_shot": not form.get("keeps"),
        "make_just_before_use": bool(form.get("make_just_before_use")),
        "components": [
            {"substance": s, "concentration": c, "add_order": i} for i, (s, c) in enumerate(components.values())
        ],
        "dilutions": [{"product_role": r, "dilution": d} for r, d in dilutions.values()],
    }
    bench = workbench_of(request).bench
    ask_first(request, "formula", bench.key_of(document))
    # A form that was begun from nothing changes nothing that stands: only one that was opened does.
    if not document["key"] and bench.key_of(document) in bench.own_formulas():
        raise InputError(
            f"a formula called {document['name']!r} stands already",
            where="name",
            remedy="choose another name, or open that one to change it",
        )
    try:
        key = bench.keep_formula(document, expected_revision=_revision(form))
    except ConflictError:
        raise
    except InputError as error:
        stood = {"components": list(components), "dilutions": list(dilutions)}
        raise together([_at_its_row(one, stood) for one in (error, *error.others)]) from error
    touch(request, "formula", key, anyway=True)
    return RedirectResponse(f"/bench/sheet?formula={key}&volume_ml=500", status_code=303)


def _at_its_row(error: InputError, stood: Mapping[str, Sequence[int]]) -> InputError:
    """A complaint about a line of a formula, with the row of the form that it stood in: empty rows are no lines."""

    def row(line: re.Match[str]) -> str:
        return f"{line[1]}[{stood[line[1]][int(line[2])]}]"

    return InputError(re.sub(r"^(components|dilutions)\[(\d+)\]", row, error.what), remedy=error.remedy)


@router.post("/bench/said", include_in_schema=False)
def keep_said_form(request: Request, form: Form) -> RedirectResponse:
    """Keep a bath as it was said, and show its mix sheet."""
    text, does = str(form.get("said", "")), str(form.get("does", ""))
    workbench = workbench_of(request)
    kept = workbench.bench.keep_said(text, does=does, usual=workbench.units.shown().usual)
    touch(request, "formula", kept.formula.key)
    query = [("formula", kept.formula.key), ("volume_ml", f"{kept.volume_ml or USUAL_TANK_ML:g}")]
    query += [("choose", f"{what}:{product}") for what, product in kept.choices.items()]
    return RedirectResponse(f"/bench/sheet?{urlencode(query)}", status_code=303)


@router.get("/bench/route.pdf", include_in_schema=False)
def route_pdf(
    request: Request,
    controls: Controls,
    said: VolumeSaid,
    volume_ml: Volume,
    route: str = "",
    recipe: str = "",
    paper: str = "",
) -> Response:
    """The mix sheets of a whole route, one page each; a bath that cannot be mixed is left out."""
    from obverse.sheets.mix_sheet import mix_sheets_pdf

    workbench = workbench_of(request)
    more = {**controls, **({"recipe": recipe} if recipe else {})}
    sheets = [
        (
            replace(b.sheet, volume_said=volume_told(request, said)),
            hazards(b.formula),
            phone_link(
                request,
                "/bench/sheet?" + urlencode({"formula": b.formula.key, "volume_ml": said or f"{volume_ml:g}", **more}),
            ),
        )
        for b in workbench.bench.route_baths(route, volume_ml, controls=controls, recipe=recipe)
        if b.sheet is not None
    ]
    data = mix_sheets_pdf(
        sheets,
        printed_on=workbench.clock.now().date(),
        paper=paper_of(request, paper),
        units=workbench.units.shown(),
    )
    return Response(
        data, media_type="application/pdf", headers={"Content-Disposition": f'inline; filename="mix-{route}.pdf"'}
    )


@router.get("/bench/sheet", response_class=HTMLResponse, include_in_schema=False)
def sheet_page(
    request: Request,
    controls: Controls,
    said: VolumeSaid,
    volume_ml: Volume,
    formula: str = "",
    choose: Choose = [],
    recipe: str = "",
    route: str = "",
) -> Response:
    """One mix sheet, to work by; where the shelf lacks something, what it is and the way on."""
    workbench = workbench_of(request)
    if not formula:
        return RedirectResponse("/bench", status_code=303)
    bath, choices = workbench.bench.formula(formula, recipe=recipe), _choices(choose)
    try:
        sheet = workbench.bench.sheet(formula, volume_ml, choices=choices, controls=controls, recipe=recipe)
    except InputError as error:
        unmixed = workbench.bench.unmixed(bath, volume_ml, error, controls=controls, recipe=recipe)
        return page(
            request,
            "bench/unmixed.html",
            status_code=200 if unmixed.lacks else error.http_status,
            unmixed=unmixed,
            formula=bath,
            hazards=hazards(bath),
            whose=workbench.belongings.of("formula", bath.key),
            is_own=bath.key in workbench.bench.own_formulas(),
            typed=[(name, value) for name, value in request.query_params.multi_items() if name != "volume_ml"],
            volume_ml=volume_ml,
            volume=said or f"{volume_ml:g}",
            told=volume_told(request, said),
            query=request.url.query,
        )
    return page(
        request,
        "bench/sheet.html",
        sheet=replace(sheet, volume_said=volume_told(request, said)),
        said=said,
        insights=remarks(sheet),
        hazards=hazards(bath),
        formula=bath,
        whose=workbench.belongings.of("formula", bath.key),
        options=workbench.bench.options(bath),
        recipe=recipe,
        route=route,
        to_the_sink=_to_the_sink(route, recipe, volume_ml, controls, choose),
        chosen=choices,
        volume_ml=volume_ml,
        controls=controls,
        query=request.url.query,
        shelf_is_empty=workbench.shelf.is_empty,
    )


@router.get("/bench/sheet.pdf", include_in_schema=False)
def sheet_pdf(
    request: Request,
    controls: Controls,
    said: VolumeSaid,
    formula: str,
    volume_ml: Volume,
    choose: Choose = [],
    recipe: str = "",
    paper: str = "",
) -> Response:
    """The mix sheet on paper; where phones are let in, its QR code opens the page of the same sheet."""
    from obverse.sheets.mix_sheet import mix_sheets_pdf

    workbench = workbench_of(request)
    sheet = workbench.bench.sheet(formula, volume_ml, choices=_choices(choose), controls=controls, recipe=recipe)
    link = phone_link(request, "/bench/sheet?" + request.url.query)
    bath_hazards = hazards(workbench.bench.formula(formula, recipe=recipe))
    data = mix_sheets_pdf(
        [(replace(sheet, volume_said=volume_told(request, said)), bath_hazards, link)],
        printed_on=workbench.clock.now().date(),
        paper=paper_of(request, paper),
        units=workbench.units.shown(),
    )
    return Response(
        data,
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="mix-{sheet.formula}.pdf"'},
    )


@router.post("/bench/mixed", include_in_schema=False)
@adds_one
def mixed(
    request: Request, controls: Controls, formula: str, volume_ml: Volume, choose: Choose = [], recipe: str = ""
) -> RedirectResponse:
    """Write down that this sheet was mixed; a bath that keeps leads on to its bottle and label."""
    bench = workbench_of(request).bench
    sheet = bench.sheet(formula, volume_ml, choices=_choices(choose), controls=controls, recipe=recipe)
    bottle = bench.mixed(sheet, recipe=recipe)
    if bottle:
        touch(request, "bottle", bottle, anyway=True)
    return RedirectResponse(f"/shelf/bottles/{bottle}" if bottle else "/shelf#bottles", status_code=303)


@router.get("/bench/adapt", response_class=HTMLResponse, include_in_schema=False)
def adapt_page(request: Request) -> HTMLResponse:
    """A bath from another bench, to be filled in."""
    return _adapt_page(request, None, {}, ())


@router.post("/bench/adapt", response_class=HTMLResponse, include_in_schema=False)
def adapt_form(request: Request, form: Form) -> HTMLResponse:
    """The same bath from the bottles of this shelf."""
    typed = {name: [str(v) for v in form.getlist(name)] for name in ("product", "strength", "amount")}
    rows = [row for row in zip_longest(typed["product"], typed["strength"], typed["amount"], fillvalue="") if any(row)]
    given = {name: str(form.get(name, "")).strip() for name in ("role", "volume_ml", "my_volume_ml")}
    document = {
        "role": given["role"],
        "volume_ml": volume_ml_of(request, given["volume_ml"]),
        "poured": [_poured(i, *row) for i, row in enumerate(rows)],
    }
    bath = read_document(BathByBottles, document, where="bath")
    mine = volume_ml_of(request, given["my_volume_ml"], where="my volume") if given["my_volume_ml"] else None
    found = workbench_of(request).bench.adapt(bath, mine)
    return _adapt_page(request, found, given, rows)


def _poured(row: int, product: str, strength: str, amount: str) -> JsonObject:
    """One bottle of the other bench; a complaint begins with its row."""
    try:
        if not product:
            raise InputError("which bottle is it", where="kind", remedy="choose its kind, or clear the row")
        form = generic_products()[product].form if product in generic_products() else "liquid"
        return {
            "product": _of_strength(product, strength.strip()),
            "amount": amount_in(amount, form, where="amount")[0],
        }
    except InputError as error:
        raise InputError(f"poured[{row}]: {error.what}", where=f"bottle {row + 1}", remedy=error.remedy) from error


@router.post("/api/bench/adapt")
def adapt_document(request: Request, body: JsonObject = Body(...), volume_ml: float | None = None) -> JsonObject:
    """Another bench's bath from the bottles of this shelf."""
    found = workbench_of(request).bench.adapt(read_document(BathByBottles, body, where="bath"), volume_ml)
    return {**found.document(), "sheet": document_of(found.sheet)}


def _adapt_page(
    request: Request, found: Conversion | None, given: Mapping[str, str], rows: Sequence[Sequence[str]]
) -> HTMLResponse:
    """The other bench's bath as it was typed, and what became of it."""
    return page(
        request,
        "bench/adapt.html",
        found=found,
        given={**given, "rows": rows} if given else {},
        generic=sorted(generic_products().values(), key=lambda p: p.form != "liquid"),
        roles=ROLES,
        rows=range(max(POURED_ROWS, len(rows))),
    )


def _of_strength(key: str, strength: str) -> str | JsonObject:
    """A generic product, its chief strength as the other bench's label prints it where that is given."""
    if key not in generic_products() or not strength:
        return key
    product = generic_products()[key]
    first = {**product.contents[0].model_dump(mode="json"), "strength": strength}
    contents = [first, *(c.model_dump(mode="json") for c in product.contents[1:])]
    return {
        **product.model_dump(mode="json"),
        "name": f"{product.name}, at {strength}",
        "contents": contents,
        "density_g_per_ml": None,
    }


@router.get("/api/bench/formulas")
def formula_documents(request: Request) -> JsonObject:
    """All formulas by key."""
    return {key: f.model_dump(mode="json") for key, f in workbench_of(request).bench.formulas().items()}


@router.post("/api/bench/formulas")
def keep_formula(request: Request, body: JsonObject = Body(...), anyway: bool = False) -> dict[str, str]:
    """Keep a formula of one's own; another's is changed only `anyway`."""
    bench = workbench_of(request).bench
    ask_first(request, "formula", str(bench.key_of(body)), anyway=anyway)
    key = bench.keep_formula(body)
    touch(request, "formula", key, anyway=True)
    return {"key": key}


@router.get("/api/bench/sheet")
def sheet_document(
    request: Request, controls: Controls, formula: str, volume_ml: float, choose: Choose = [], recipe: str = ""
) -> JsonObject:
    """One mix sheet as a document."""
    sheet = workbench_of(request).bench.sheet(
        formula, volume_ml, choices=_choices(choose), controls=controls, recipe=recipe
    )
    return document_of(sheet)


def _choices(choose: list[str]) -> dict[str, str]:
    found = {}
    for text in choose:
        name, sign, product = text.partition(":")
        if not sign:
            raise InputError(
                f"{text!r} is not SUBSTANCE:PRODUCT", where="choose", remedy="choose a product from the sheet page"
            )
        if product:
            found[name] = product
    return found


def _revision(form: FormData) -> int | None:
    """The revision that a form showed; None where it showed none, which is what a new thing does."""
    return revision_seen(form) or None
