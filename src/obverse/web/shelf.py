"""The shelf page: what the labels say, what stands there, what can be made."""

from __future__ import annotations

from collections.abc import Callable
from itertools import zip_longest
from typing import Annotated, Any, Literal, get_args

from fastapi import APIRouter, Body, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from obverse.foundation import (
    InputError,
    JsonObject,
    NotFoundError,
    parse_number,
    read_document,
    whole_number,
)
from obverse.process import (
    Bottle,
    Equipment,
    LabelRead,
    Product,
    ProductLabel,
    Tool,
    amount_in,
    label_of,
    read_label,
    told_amount,
)
from obverse.process.catalog import products as generic_products
from obverse.process.catalog import substances
from obverse.sheets.labels import GRIDS, labels_pdf
from obverse.sheets.labels import label_of as label_for
from obverse.sheets.pictograms import GHS_NUMBER, WORDS, pictogram_svg
from obverse.web.entries import EntryRoute, Form, adds_one, revision_seen
from obverse.web.pages import Asked, page, workbench_of
from obverse.web.people import ask_first, touch
from obverse.web.sharing import phone_link
from obverse.web.units import Volume, VolumeSaid
from obverse.workbench.house_opinion import USUAL_TANK_ML
from obverse.workbench.nouns import Stored
from obverse.workbench.shelf import content_words, pictogram_families, strength_meaning, substance_facts
from obverse.workbench.stock import bottle_told

router = APIRouter(route_class=EntryRoute)

ADDITIVE_NAMES = get_args(get_args(Product.model_fields["additives"].annotation)[0])
ROLE_NAMES = get_args(get_args(Product.model_fields["roles"].annotation)[0])
# Rows of a form for what a label says is in a product.
MOST_CONTENTS = 4


@router.get("/shelf", response_class=HTMLResponse, include_in_schema=False)
def shelf_page(
    request: Request, asked: Asked, volume_ml: Volume, volume_typed: VolumeSaid, holds: str = "", used_as: str = ""
) -> HTMLResponse:
    """Everything that stands on the shelf and what can be made of it; a label that is looked for is begun."""
    begun = {"contents": [{"substance": holds}] if holds else [], "roles": [used_as] if used_as else []}
    bench = workbench_of(request)
    shelf = bench.shelf
    here = {kept.id for kept in shelf.products()}
    openings = shelf.openings(_volume(volume_ml))
    families = {one.key: pictogram_families(one) for one in openings}
    found, solids = shelf.find_bottles(asked), shelf.solids()
    return page(
        request,
        "shelf/shelf.html",
        products=shelf.products(),
        found=found,
        bottles=found.rows,
        whose=bench.belongings.of_all("bottle"),
        bottles_told=[
            {**told.document(), "where": ""}
            for kept in shelf.bottles()
            for told in bottle_told(kept.thing, bench.clock.now().date())
        ],
        kinds={kept.id: "mass" if kept.thing.product in solids else "volume" for kept in found.rows},
        told_amount=told_amount,
        content_words=content_words,
        tools=shelf.tools(),
        equipment=shelf.equipment(),
        elsewhere=shelf.elsewhere(),
        usual_tools=shelf.tools_for_mixing(),
        openings=openings,
        pictograms={key: [family for family in GHS_NUMBER if family in shown] for key, shown in families.items()},
        volume_said=volume_typed,
        reckoned="volume_ml" in request.query_params,
        pictogram_words=WORDS,
        apart=bench.care.shelf_findings(),
        volume_ml=volume_ml,
        generic=[p for p in generic_products().values() if p.key not in here],
        substances=substances(),
        additive_names=ADDITIVE_NAMES,
        role_names=ROLE_NAMES,
        label=read_document(ProductLabel, {"name": "", **begun}, where="label"),
        label_begun=bool(holds or used_as),
        contents_rows=range(MOST_CONTENTS),
        tool_kinds=get_args(Tool.model_fields["kind"].annotation),
        equipment_kinds=get_args(Equipment.model_fields["kind"].annotation),
    )


@router.get("/shelf/products/{key}", response_class=HTMLResponse, include_in_schema=False)
def product_page(request: Request, key: str) -> HTMLResponse:
    """Correct what a label says."""
    kept = workbench_of(request).shelf.product(key)
    label = label_of(kept.thing)
    return _label_page(request, key, kept.thing.name, label, _read(request, label), str(kept.revision))


def _read(request: Request, label: ProductLabel) -> LabelRead:
    return read_label(label, usual=workbench_of(request).units.shown().usual)


@router.post("/shelf/products", include_in_schema=False)
def add_product(request: Request, form: Form) -> Response:
    """Take a label's words; where some cannot be, or were not read, the label with what is wrong beside each."""
    label, read = _label_in(request, form)
    if _asks(form, read):
        return _label_page(request, "", label.name, label, read, "")
    workbench_of(request).shelf.add_label(read)
    return _back("#products")


@router.post("/shelf/products/{key}", include_in_schema=False)
def change_product(request: Request, form: Form, key: str) -> Response:
    """Take the corrected words of a label."""
    revision = str(form.get("revision", "")).strip()
    label, read = _label_in(request, form)
    if _asks(form, read):
        return _label_page(request, key, label.name, label, read, revision)
    workbench_of(request).shelf.change_label(key, read, whole_number(revision))
    return _back("#products")


def _asks(form: FormData, read: LabelRead) -> bool:
    """Whether something is wrong, or words were not read and nobody said yet that they may stay as a note."""
    return bool(read.problems or (read.unread and not form.get("as_note")))


def _label_page(
    request: Request, key: str, name: str, label: ProductLabel, read: LabelRead, revision: str
) -> HTMLResponse:
    """The fields of a label as they were typed, what cannot be or was not read beside each."""
    problems = {problem.field: problem.error.sentence for problem in (*read.problems, *read.unread)}
    sent = request.method == "POST"
    return page(
        request,
        "shelf/product.html",
        status_code=InputError.http_status if sent else 200,
        key=key,
        name=name,
        label=label,
        revision=revision,
        problems=problems,
        sent=sent,
        asks=bool(sent and read.unread and not read.problems),
        readings=() if read.unread else read.readings,
        substances=substances(),
        additive_names=ADDITIVE_NAMES,
        role_names=ROLE_NAMES,
        contents_rows=range(max(MOST_CONTENTS, len(label.contents) + 1)),
    )


@router.post("/shelf/generic", include_in_schema=False)
def add_generic(request: Request, form: Form) -> RedirectResponse:
    """Put generic products on the shelf: one, or all of a purchase."""
    for key in form.getlist("key"):
        workbench_of(request).shelf.add_generic(str(key))
    if "sheet" in form:
        return RedirectResponse(f"/bench/sheet?{form['sheet']}", status_code=303)
    # Bought for a process, they lead back to it: it is open now.
    return _back("#routes" if form.get("for") == "process" else "#products")


@router.post("/shelf/bottles", include_in_schema=False)
@adds_one
def add_bottle(request: Request, form: Form) -> RedirectResponse:
    """Put a bottle there."""
    document: dict[str, object] = {
        name: str(form[name]).strip()
        for name in ("name", "product", "filled_on", "opened_on", "expires_on", "note")
        if form.get(name)
    }
    if form.get("hours_open"):
        document["hours_open"] = _number(form, "hours_open")
    document |= _amount(request, form, str(form.get("product", "")))
    touch(request, "bottle", workbench_of(request).shelf.add_bottle(document), anyway=True)
    return _back("#bottles")


def _amount(request: Request, form: FormData, product: str) -> JsonObject:
    """What is left in a bottle, mL or g, with the unit it was said in; empty where nothing was said."""
    words = str(form.get("amount", "")).strip()
    if not words:
        return {}
    solid = workbench_of(request).shelf.is_solid(product)
    value, unit = amount_in(
        words, "solid" if solid else "liquid", where="amount", usual=workbench_of(request).units.shown().usual
    )
    return {"amount": value, "amount_unit": unit if unit not in ("ml", "g") else ""}


@router.get("/shelf/bottles/{id}", response_class=HTMLResponse, include_in_schema=False)
def bottle_page(request: Request, id: str) -> HTMLResponse:
    """One bottle: what is in it, what it may do, its dates; the QR code of its label leads here."""
    shelf = workbench_of(request).shelf
    kept = shelf.bottle(id)
    return page(
        request,
        "shelf/bottle.html",
        id=id,
        revision=kept.revision,
        bottle=kept.thing,
        whose=workbench_of(request).belongings.of("bottle", id),
        kind=_kind_of(request, kept.thing),
        told_amount=told_amount,
        facts=shelf.facts(kept.thing),
        grids=GRIDS,
    )


def _kind_of(request: Request, bottle: Bottle) -> str:
    """Whether what is left of it is a volume or a mass."""
    solid = workbench_of(request).shelf.is_solid(bottle.product or "")
    return "mass" if solid else "volume"


@router.post("/shelf/bottles/{id}", include_in_schema=False)
def change_bottle(request: Request, form: Form, id: str) -> RedirectResponse:
    """Write down the present state of a bottle."""
    shelf = workbench_of(request).shelf
    document = shelf.bottle(id).thing.model_dump(mode="json")
    for name in ("name", "filled_on", "opened_on", "expires_on", "note"):
        if name in form:
            document[name] = str(form[name]).strip() or ("" if name == "note" else None)
    if "hours_open" in form:
        document["hours_open"] = _number(form, "hours_open") if str(form["hours_open"]).strip() else 0
    if "amount" in form:
        document |= {"amount": None, "amount_unit": "", **_amount(request, form, document.get("product") or "")}
    ask_first(request, "bottle", id)
    shelf.change_bottle(id, document, revision_seen(form))
    touch(request, "bottle", id, anyway=True)
    return RedirectResponse(f"/shelf/bottles/{id}", status_code=303)


@router.get("/shelf/labels.pdf", include_in_schema=False)
def labels(
    request: Request, bottle: Annotated[list[str], Query()] = [], grid: str = "a4-8", skip: int = 0, copies: int = 1
) -> Response:
    """Labels of these bottles; of all that stand there where none is named."""
    shelf = workbench_of(request).shelf
    kept = [shelf.bottle(id) for id in bottle] if bottle else shelf.bottles()
    if not 1 <= copies <= 50:
        raise InputError(f"{copies} copies cannot be printed", where="copies", remedy="give 1 to 50")
    made = []
    for k in kept:
        facts = shelf.facts(k.thing)
        label = label_for(
            k.thing,
            facts.hazards,
            contents=facts.contents,
            link=phone_link(request, f"/shelf/bottles/{k.id}"),
            id=k.id[:8],
            keeps=facts.keeps,
        )
        made += [label] * copies
    return Response(
        labels_pdf(made, grid, skip=skip),
        media_type="application/pdf",
        headers={"Content-Disposition": 'inline; filename="labels.pdf"'},
    )


@router.get("/shelf/pictograms/{family}.svg", include_in_schema=False)
def pictogram(family: str) -> Response:
    """A hazard pictogram of our own drawing."""
    if family not in GHS_NUMBER:
        raise NotFoundError(f"there is no pictogram {family!r}", remedy="use one of " + ", ".join(GHS_NUMBER))
    return Response(pictogram_svg(family), media_type="image/svg+xml", headers={"Cache-Control": "max-age=86400"})


@router.post("/shelf/tools", include_in_schema=False)
@adds_one
def add_tool(request: Request, form: Form) -> RedirectResponse:
    """Put a tool or a piece of equipment there."""
    document: dict[str, object] = {name: str(form[name]).strip() for name in ("name", "kind", "note") if form.get(name)}
    measured = "solid" if document.get("kind") == "balance" else "liquid"
    for name in ("graduation", "capacity", "volume_ml"):
        if form.get(name):
            document[name], unit = amount_in(str(form[name]), measured, where=_FIELD_NAMES[name])
            if name == "graduation" and unit not in ("ml", "g"):
                document["unit"] = unit
    for name in ("films", "films_120", "sheets"):
        if form.get(name):
            document[name] = _number(form, name)
    workbench_of(request).shelf.add_tool(document)
    return _back("#tools")


# What a person calls the fields of a form, where it is not their name.
_FIELD_NAMES = {"graduation": "smallest step", "capacity": "holds at most", "volume_ml": "volume"}


@router.post("/shelf/retire", include_in_schema=False)
def retire(request: Request, form: Form) -> RedirectResponse:
    """Take something off the shelf; the notebook keeps it."""
    _move(request, form, workbench_of(request).shelf.retire)
    return _back()


@router.post("/shelf/restore", include_in_schema=False)
def restore(request: Request, form: Form) -> RedirectResponse:
    """Put back what was taken off."""
    _move(request, form, workbench_of(request).shelf.restore)
    return _back("#bottles")


def _move(request: Request, form: FormData, move: Callable[[str, str], object]) -> None:
    """Take off or put back what the form names; about another's bottle one is asked first, and who did it is written down."""
    kind, id = str(form.get("kind", "")), str(form.get("id", ""))
    if kind == "bottle":
        ask_first(request, "bottle", id)
    move(kind, id)
    if kind == "bottle":
        touch(request, "bottle", id, anyway=True)


@router.post("/shelf/claim", include_in_schema=False)
def claim(request: Request, form: Form) -> RedirectResponse:
    """What came with another notebook stands here too."""
    workbench_of(request).shelf.claim(str(form.get("kind", "")), str(form.get("id", "")))
    return _back()


@router.get("/api/shelf")
def shelf_document(request: Request) -> JsonObject:
    """All that stands on the shelf."""
    shelf = workbench_of(request).shelf

    def plain(kept: Stored[Any]) -> JsonObject:
        return {"id": kept.id, "revision": kept.revision, **kept.thing.model_dump(mode="json")}

    return {
        "products": [plain(k) for k in shelf.products()],
        "bottles": [plain(k) for k in shelf.bottles()],
        "tools": [plain(k) for k in shelf.tools()],
        "equipment": [plain(k) for k in shelf.equipment()],
    }


@router.get("/api/shelf/strength")
def meaning_of_strength(
    substance: str, strength: str, form: Literal["liquid", "solid"] = "liquid", density_g_per_ml: str | None = None
) -> JsonObject:
    """What a printed strength means: g/L and mol/L of a liquid, share by weight of a solid.

    A strength that is none is an answer too: `refused` says why.
    """
    try:
        return {"refused": "", **strength_meaning(substance, strength, form, density_g_per_ml)}
    except InputError as error:
        return {
            "refused": error.sentence,
            "words": "",
            "reading": "",
            "g_per_l": None,
            "mol_per_l": None,
            "cautions": [],
        }


@router.get("/shelf/substances", response_class=HTMLResponse, include_in_schema=False)
def substances_page(request: Request) -> HTMLResponse:
    """All substances the book knows, with formula, molar mass and hazards as recorded."""
    return page(request, "shelf/substances.html", rows=substance_facts())


@router.get("/api/shelf/openings")
def openings(request: Request, volume_ml: float = USUAL_TANK_ML) -> list[JsonObject]:
    """Every process, one's own first: open or not, what it lacks, the least purchase, the cost per roll."""
    return [
        {
            "route": o.key,
            "name": o.route.name,
            "hazard_rank": o.route.hazard_rank,
            "open": o.is_open,
            "baths": [
                {
                    "formula": b.reach.formula.key,
                    "step": b.step,
                    "optional": b.optional,
                    "lacks": list(b.reach.lacks),
                    "reason": b.reach.reason,
                }
                for b in o.baths
            ],
            "least_purchase": None if o.purchase is None else [p.key for p in o.purchase],
            "cost_per_roll": {"known": o.cost_per_roll.known, "unpriced": list(o.cost_per_roll.unpriced)},
        }
        for o in workbench_of(request).shelf.openings(_volume(volume_ml))
    ]


@router.post("/api/shelf/products")
def add_product_document(request: Request, body: JsonObject = Body(...)) -> dict[str, str]:
    """Put a product on the shelf."""
    return {"key": workbench_of(request).shelf.add_product(body)}


@router.post("/api/shelf/labels")
def add_label_document(request: Request, body: JsonObject = Body(...)) -> JsonObject:
    """Put a product on the shelf from its label in its own words, with what was read otherwise than it stands there."""
    label = read_document(ProductLabel, body, where="label")
    read = read_label(label)
    return {"key": workbench_of(request).shelf.add_label(read), "readings": list(read.readings)}


@router.post("/api/shelf/bottles")
def add_bottle_document(request: Request, body: JsonObject = Body(...)) -> dict[str, str]:
    """Put a bottle on the shelf."""
    id = workbench_of(request).shelf.add_bottle(body)
    touch(request, "bottle", id, anyway=True)
    return {"id": id}


@router.post("/api/shelf/tools")
def add_tool_document(request: Request, body: JsonObject = Body(...)) -> dict[str, str]:
    """Put a tool or a piece of equipment on the shelf."""
    return {"key": workbench_of(request).shelf.add_tool(body)}


def _volume(volume_ml: float) -> float:
    if not 1 <= volume_ml <= 100_000:
        raise InputError(f"a tank of {volume_ml:g} mL cannot be", where="volume", remedy="give 1 mL to 100 L")
    return volume_ml


def _label_in(request: Request, form: FormData) -> tuple[ProductLabel, LabelRead]:
    """The label that a form describes, in the words that were typed, and as it is read."""

    def words(name: str) -> str:
        return str(form.get(name, ""))

    columns = (map(str, form.getlist(name)) for name in ("substance", "strength", "doubt"))
    rows = zip_longest(*columns, fillvalue="")
    document = {
        "name": words("name"),
        "form": words("form") or "liquid",
        "contents": [
            {"substance": substance, "strength": strength, "doubt_percent": doubt}
            for substance, strength, doubt in rows
            if substance.strip() or strength.strip() or doubt.strip()
        ],
        "use": words("dilution"),
        "roles": form.getlist("roles"),
        "density": words("density_g_per_ml"),
        "package": words("package_amount"),
        "price": words("package_price"),
        "statements": words("statements"),
        "additives": form.getlist("additives"),
        "household": bool(form.get("household")),
        "note": words("note"),
    }
    label = read_document(ProductLabel, document, where="label")
    return label, _read(request, label)


def _number(form: FormData, name: str) -> float:
    return parse_number(str(form[name]), where=name.replace("_", " "))


def _back(anchor: str = "") -> RedirectResponse:
    return RedirectResponse(f"/shelf{anchor}", status_code=303)
