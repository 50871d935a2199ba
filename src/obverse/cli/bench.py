"""Commands of the bench: mix."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated

import typer

from obverse.cli.arguments import pairs, read_given, settings, stands
from obverse.cli.darkroom import darkroom
from obverse.cli.telling import EVERY, VOLUME, in_my_units, json_text, tell, tell_cautions, units_told, volume_said
from obverse.foundation import Deferral, InputError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from obverse.process import Formula, Product, Tool
    from obverse.workbench.care import Room
    from obverse.workbench.nouns import MixSheet

# A shelf of a hundred products is a tenth of it.
LEAST_ROUNDING = 0.0005  # one that shows as a tenth of a per cent is told
MOST_BYTES_OF_A_DOCUMENT = 16_000_000
SAID_FOR = "other"  # what a bath does of which nothing was said
_NOR_A_FORMULA = ", nor a generic formula of that name"
_SAID_IS_MIXED = "a bath in words is worked out by `obverse mix`"
_A_SHELF = "`obverse schema shelf` prints what a shelf looks like as a file"


def register(app: typer.Typer) -> None:
    """Add the commands of the bench."""
    app.command()(mix)
    app.command()(adapt)


def mix(
    formula: Annotated[
        str,
        typer.Argument(
            help="A formula document, '-' for stdin, the key of a generic formula such as first_developer, "
            "or a bath as you would say it: '40 mL paper developer, water to 600 mL'."
        ),
    ],
    volume: Annotated[
        str,
        typer.Option(
            "--volume-ml",
            "--volume",
            metavar="VOLUME",
            help=f"Of the finished bath; default: what the bath as said says. {VOLUME}",
        ),
    ] = "",
    does: Annotated[
        str, typer.Option("--does", help="Of a bath as said: develop, bleach, dissolve, clear, fog, redevelop, fix ...")
    ] = "",
    shelf: Annotated[
        str | None,
        typer.Option("--shelf", help="A shelf document; default: your own shelf, else the generic products."),
    ] = None,
    choose: Annotated[
        list[str] | None, typer.Option("--choose", help="SUBSTANCE=PRODUCT: take this product for it; may be repeated.")
    ] = None,
    control: Annotated[
        list[str] | None,
        typer.Option("--control", help="NAME=NUMBER: a control of the first developer; may be repeated."),
    ] = None,
    every: Annotated[bool, EVERY] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Work out what to measure for a bath: order of adding, amounts rounded to your tools, what comes of it.

    What a formula, a product and a shelf look like as documents: obverse schema formula (product, shelf).

    Example: obverse mix first_developer --volume-ml 500
    """
    from obverse.process.catalog import formulas
    from obverse.workbench.bench import as_said, make_sheet, sheet_document, with_settings

    products, tools, whose = shelf_for(shelf)
    written = _written(formula)
    said = as_said(written, products, does=does or SAID_FOR) if isinstance(written, str) else None
    if said is None and does:
        raise InputError(
            "a formula says itself what it does", where="--does", remedy="leave it out, or say the bath in amounts"
        )
    if said is not None:
        chosen_formula = said.formula
    else:
        chosen_formula = _formula(written, formula) if isinstance(written, bytes) else formulas()[formula]
    if control:
        chosen_formula = with_settings(chosen_formula, settings(control, "--control", "solvent_ml_per_l=12"))
    asked_ml = volume_said(volume, "--volume-ml")
    volume_ml = said.volume_ml if asked_ml is None and said is not None else asked_ml
    if volume_ml is None:
        raise InputError("no volume was said", where="--volume-ml", remedy="give the volume of the finished bath in mL")
    wishes = dict(pairs(choose, "--choose", "ammonia=household_ammonia_5"))
    _refuse_strangers(chosen_formula, wishes)
    sheet = make_sheet(
        chosen_formula,
        volume_ml,
        products,
        tools,
        choices={**(said.choices if said else {}), **wishes},
        room=room_here(),
    )
    if as_json:
        typer.echo(json_text({**sheet_document(sheet), "shelf": whose}))
    else:
        print_sheet(sheet, whose, every=every)


def adapt(
    bath: Annotated[
        str, typer.Argument(help="A bath written by another bench's bottles (obverse-bath), '-' for stdin.")
    ],
    volume: Annotated[
        str,
        typer.Option("--volume-ml", "--volume", metavar="VOLUME", help=f"To mix here; default: theirs. {VOLUME}"),
    ] = "",
    shelf: Annotated[
        str | None,
        typer.Option("--shelf", help="A shelf document; default: your own shelf, else the generic products."),
    ] = None,
    every: Annotated[bool, EVERY] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Make another bench's bath from your own bottles, by active substance; says what cannot be matched.

    What such a bath looks like as a document: obverse schema bath.

    Example: obverse adapt their-developer.json --volume-ml 500
    """
    from obverse.foundation import parse_json, read_document
    from obverse.process import BathByBottles
    from obverse.workbench.bench import adapt as adapt_bath
    from obverse.workbench.bench import sheet_document

    products, tools, whose = shelf_for(shelf)
    theirs = read_document(BathByBottles, parse_json(_read(bath), where=bath, of_words=_SAID_IS_MIXED), where=bath)
    found = adapt_bath(theirs, products, tools, volume_said(volume, "--volume-ml"), room=room_here())
    if as_json:
        document = {**found.document(), "sheet": sheet_document(found.sheet), "shelf": whose}
        typer.echo(json_text(document))
        return
    print_sheet(found.sheet, whose, every=every)
    typer.echo("")
    tell("What cannot be matched:" if found.unmatched else "Nothing recorded differs.")
    for unmatched in found.unmatched:
        tell(f"     {unmatched.what}: theirs {unmatched.theirs}, mine {unmatched.mine}; {unmatched.text}")


def _written(given: str) -> str | bytes | None:
    """A bath as a person says it, typed or in a file of plain text; the bytes of a document; None for a key."""
    from obverse.process import table_text
    from obverse.process.catalog import formulas

    sentence = re.compile(r"\S\s\S|^\s*\d+[+:]\d+\s*$")
    if given in formulas():
        return None
    if sentence.search(given) and not given.lower().endswith(".json") and not stands(given):
        return given
    data = _read(given, _NOR_A_FORMULA)
    if not re.match(rb"(?:\xef\xbb\xbf)?\s*[{[]", data) and sentence.search(text := table_text(data, where=given)):
        return " ".join(text.split())
    return data


def _refuse_strangers(formula: Formula, wishes: Mapping[str, str]) -> None:
    """A product that is chosen for something else than the formula holds would be passed over."""
    has = [c.substance for c in formula.components] + [d.product_role for d in formula.dilutions]
    if strangers := [what for what in wishes if what not in has]:
        remedy = f"it has {', '.join(dict.fromkeys(has))}" if has else "nothing of it is chosen"
        raise InputError(f"{formula.name} has no {strangers[0]!r}", where="--choose", remedy=remedy)


def _formula(data: bytes, where: str) -> Formula:
    from obverse.foundation import parse_json, read_document
    from obverse.process import Formula

    return read_document(Formula, parse_json(data, where=where), where=where)


def shelf_for(given: str | None) -> tuple[Sequence[Product], Sequence[Tool], str]:
    """Products, tools and whose they are: of a shelf document, the own shelf, or generic."""
    from obverse.foundation import parse_json, read_document
    from obverse.process import USUAL_TOOLS, ShelfDocument
    from obverse.process.catalog import products
    from obverse.workbench.bootstrap import has_notebook

    if given is not None:
        data = parse_json(_read(given), where=given, of_words=_A_SHELF)
        # A bare list of products is a shelf with the usual tools.
        document = read_document(ShelfDocument, {"products": data} if isinstance(data, list) else data, where=given)
        return document.full_products(), document.tools or USUAL_TOOLS, given
    if has_notebook():
        with darkroom() as bench:
            own = bench.shelf.products_for_mixing()
            if own:
                return own, bench.shelf.tools_for_mixing(), "your shelf"
    return tuple(products().values()), USUAL_TOOLS, "generic products"


def room_here() -> Room | None:
    """The room of the notebook at hand; None where there is no notebook."""
    from obverse.workbench.bootstrap import has_notebook

    if not has_notebook():
        return None
    with darkroom() as bench:
        return bench.care.room()


def _read(given: str, nor: str = "") -> bytes:
    if given.strip() not in ("", "-") and not stands(given):
        raise InputError(f"there is no such file{nor}", where=given, remedy="check the name")
    return read_given(given, MOST_BYTES_OF_A_DOCUMENT)


def print_sheet(sheet: MixSheet, whose: str, *, every: bool = False) -> None:
    """A mix sheet in the terminal."""
    from obverse.process import METRIC
    from obverse.workbench.bench import remarks

    tell(f"{sheet.name}, {sheet.volume_ml:g} mL   (from {whose})")
    typer.echo("")
    units = units_told()
    for line in sheet.lines:
        # As the tool shows it, with the person's unit beside; then the tool itself, in its own marks.
        by_tool = units.measured(line.amount, line.unit) if line.kind == "product" else ""
        otherwise = by_tool not in ("", METRIC.measured(line.amount, line.unit))
        measure = by_tool if otherwise else line.measure if line.kind == "product" else in_my_units(line.measure)
        typer.echo(f"{line.order:>3}. [ ] {measure:<42} {line.name}")
        if otherwise:
            typer.echo(f"          {line.measure}")
        tell(f"          {line.do}")
        if line.reading:
            typer.echo(f"          {line.reading}")
        if line.kind == "product" and abs(line.rounding_error) >= LEAST_ROUNDING:
            typer.echo(
                f"          exactly {line.raw_amount:.4g} {line.unit}; rounding {100 * line.rounding_error:+.1f} %"
            )
        tell_cautions(((c.level, c.text) for c in line.cautions), every=every, indent="          ")
    if sheet.made:
        typer.echo("")
        tell("What comes of it (90 % interval):")
        for made in sheet.made:
            e = made.made_g_per_l
            tell(
                f"     {made.name}: {e.value:.4g} g/L ({e.low90:.4g} to {e.high90:.4g}), wanted {made.target_g_per_l:.4g}"
            )
    if sheet.ph is not None:
        tell(f"     pH about {sheet.ph.value:.1f} ({sheet.ph.low90:.1f} to {sheet.ph.high90:.1f}), {sheet.ph_note}")
    elif sheet.undeclared or sheet.bounds_g_per_l:
        tell(f"     pH {sheet.ph_note}")
    for left in sheet.left_open:
        tell(f"     left open by the labels: {left}")
    for insight in remarks(sheet):
        tell(f"     {insight.text}")
    if sheet.use_within_min:
        tell(f"     Use within {sheet.use_within_min:g} min of mixing.")
    tell_cautions(((c.level, c.text) for c in sheet.cautions), every=every)
    tell(Deferral.FIRST.value)
