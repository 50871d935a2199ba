"""Commands of recipes: `obverse recipe list|export|import|diff|adapt`, and the sheet of an evening."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from obverse.cli.arguments import Force, Json, Paper, ask_before_replacing, stands
from obverse.cli.darkroom import darkroom
from obverse.cli.telling import EVERY, TEMPERATURE, VOLUME, json_text, tell, temperature_said, units_told, volume_said

if TYPE_CHECKING:
    from obverse.process import Recipe
    from obverse.workbench.recipes import Recipes


def register(app: typer.Typer) -> None:
    """Add the group."""
    group = typer.Typer(
        no_args_is_help=True, rich_markup_mode=None, help="Recipes that travel.\n\nExample: obverse recipe list"
    )
    group.command("list")(list_recipes)
    group.command("lock")(lock)
    group.command("export")(export)
    group.command("import")(import_)
    group.command("diff")(diff)
    group.command("adapt")(adapt)
    app.add_typer(group, name="recipe")
    app.command("sheet")(sheet)


def list_recipes(as_json: Json = False) -> None:
    """The recipes of this notebook.

    Example: obverse recipe list
    """
    with _recipes() as recipes:
        rows = [
            {
                "id": kept.id,
                "name": kept.thing.name,
                "revision": kept.thing.revision,
                "film": kept.thing.film.name,
            }
            for kept in recipes.all()
        ]
    if as_json:
        typer.echo(json_text({"recipes": rows}))
        return
    for row in rows:
        typer.echo(f"{row['id']:36} {row['name']}, revision {row['revision']}, for {row['film']}")
    if not rows:
        typer.echo("No recipe is locked yet; lock one on the page of a film in the notebook, or import one.")


def lock(
    film: Annotated[str, typer.Argument(help="Name or id of a film in your notebook.")],
    strip: Annotated[str, typer.Argument(help="Name of the strip that stands behind it.")],
    name: Annotated[str, typer.Argument(help="Of the recipe; the same name again makes the next revision.")],
    process: Annotated[
        str, typer.Option("--process", help="The process; default: the one whose evening made the strip.")
    ] = "",
    note: Annotated[str, typer.Option("--note", help="What a reader should know.")] = "",
    anyway: Annotated[bool, typer.Option("--anyway", help="Though the strip misses the aim or was not read.")] = False,
    as_json: Json = False,
) -> None:
    """Lock a recipe from a strip, with its process, its baths and the evidence behind it; prints its id.

    Example: obverse recipe lock "grey base 100" 3 "For projection" --process my_fogging_way
    """

    with darkroom() as bench:
        kept = bench.notebook.lock_recipe(
            bench.notebook.film_called(film).id, strip, name=name, route_key=process, note=note, anyway=anyway
        )
    told = {"id": kept.id, "revision": kept.thing.revision, "name": kept.thing.name}
    typer.echo(json_text(told) if as_json else kept.id)


def export(
    recipe: Annotated[str, typer.Argument(help="Id of a recipe, see obverse recipe list.")],
    out: Annotated[Path | None, typer.Option("--out", help="File to write; default: standard output.")] = None,
    force: Force = False,
    as_json: Json = False,
) -> None:
    """Write a recipe as a document that other darkrooms can read, with or without this program.

    Example: obverse recipe export grey-base-for-projection --out recipe.json
    """
    from obverse.cli.house import write_whole
    from obverse.workbench.recipes import recipe_text

    if out is not None:
        ask_before_replacing(out, force=force)
    with _recipes() as recipes:
        text = recipe_text(recipes.export(recipe))
    if out is None:
        typer.echo(text, nl=False)
        return
    write_whole(out, text.encode())
    if as_json:
        typer.echo(json_text({"file": str(out), "id": recipe}))
        return
    typer.echo(f"{out} holds the recipe.", err=True)


def import_(
    file: Annotated[str, typer.Argument(help="A recipe document, '-' for stdin, or the text of a recipe's QR code.")],
    as_json: Json = False,
) -> None:
    """Take in a recipe from elsewhere; it never replaces one that stands here.

    Example: obverse recipe import recipe.json
    """
    with _recipes() as recipes:
        recipe = _from_elsewhere(recipes, file)
        taken = recipes.take_in(recipe)
    if as_json:
        typer.echo(json_text({"id": taken.id, "new": taken.new, "name": recipe.name}))
    else:
        typer.echo(f"{recipe.name} {taken.words}.")


def diff(
    first: Annotated[str, typer.Argument(help="A recipe document or an id.")],
    second: Annotated[str, typer.Argument(help="A recipe document or an id.")],
    as_json: Json = False,
) -> None:
    """In what two recipes differ, baths by active substance.

    Example: obverse recipe diff mine theirs.json
    """
    from obverse.workbench.recipes import difference_documents, differences

    with _recipes() as recipes:
        found = differences(_from_elsewhere(recipes, first), _from_elsewhere(recipes, second))
    if as_json:
        typer.echo(json_text({"differences": difference_documents(found)}))
        return
    for difference in found:
        tell(f"{difference.where}\n     first:  {difference.first}\n     second: {difference.second}")
    if not found:
        typer.echo("The two recipes ask for the same work.")


def adapt(
    recipe: Annotated[str, typer.Argument(help="A recipe document or an id.")],
    volume: Annotated[
        str, typer.Option("--volume-ml", "--volume", metavar="VOLUME", help=f"Of each bath. {VOLUME}")
    ] = "500",
    shelf: Annotated[
        str | None,
        typer.Option("--shelf", help="A shelf document; default: your own shelf, else the generic products."),
    ] = None,
    every: Annotated[bool, EVERY] = False,
    as_json: Json = False,
) -> None:
    """Every bath of a recipe from your own bottles, and what cannot be matched.

    Example: obverse recipe adapt theirs.json --volume-ml 500
    """
    from obverse.cli.bench import print_sheet, shelf_for
    from obverse.workbench.recipes import adapted_document, from_my_bottles

    products, tools, whose = shelf_for(shelf)
    volume_ml = volume_said(volume, "--volume-ml") or 0.0
    with _recipes() as recipes:
        baths = from_my_bottles(_from_elsewhere(recipes, recipe), volume_ml, products, tools)
    if as_json:
        typer.echo(json_text({"shelf": whose, "baths": [adapted_document(bath) for bath in baths]}))
        return
    for bath in baths:
        if bath.sheet is None:
            tell(f"{bath.formula.name}: cannot be mixed here. {bath.reason}\n")
            continue
        print_sheet(bath.sheet, whose, every=every)
        for unmatched in bath.unmatched:
            tell(f"NOT MATCHED: {unmatched.what}: theirs {unmatched.theirs}, mine {unmatched.mine}; {unmatched.text}")
        typer.echo("")


def sheet(
    recipe: Annotated[
        str, typer.Argument(help="A recipe document, the id of a recipe, or the id of a process, shipped or your own.")
    ],
    out: Annotated[Path, typer.Option("--out", help="PDF file to write.")],
    tank: Annotated[
        str,
        typer.Option(
            "--tank-ml", "--tank", metavar="VOLUME", help=f"Of the tank; default: as the process says. {VOLUME}"
        ),
    ] = "",
    temperature: Annotated[
        str,
        typer.Option(
            "--temperature-c",
            "--temperature",
            metavar="TEMPERATURE",
            help=f"What the baths truly have; default: as the recipe says. {TEMPERATURE}",
        ),
    ] = "",
    paper: Paper = "",
    force: Force = False,
    as_json: Json = False,
) -> None:
    """Print the whole evening: everything to do in its order, boxes to tick, cautions in place.

    Example: obverse sheet iron_ammonia_light --out evening.pdf
    """
    from obverse.cli.house import write_whole
    from obverse.process import Recipe
    from obverse.sheets.process_sheet import process_sheet_pdf
    from obverse.workbench.recipes import recipe_text, settled

    ask_before_replacing(out, force=force)
    tonight = {
        "tank_ml": volume_said(tank, "--tank-ml"),
        "temperature_c": temperature_said(temperature, "--temperature-c"),
    }
    with darkroom() as workbench:
        process = workbench.processes.every().get(recipe)
        of = process or settled(_from_elsewhere(workbench.recipes, recipe))
        plan = workbench.sink.plan_of(of, tonight)
    units = units_told()
    found = of if isinstance(of, Recipe) else None
    text = recipe_text(found) if found else ""
    write_whole(out, process_sheet_pdf(plan, recipe=found, recipe_text=text, paper=paper or units.paper, units=units))
    told = {"file": str(out), "plan": plan.model_dump(mode="json")}
    typer.echo(json_text(told) if as_json else f"{out} holds the evening.")


@contextmanager
def _recipes() -> Iterator[Recipes]:
    with darkroom() as bench:
        yield bench.recipes


def _from_elsewhere(recipes: Recipes, given: str) -> Recipe:
    """A recipe by file, stdin, QR text, or id."""
    from obverse.cli.arguments import read_whole
    from obverse.process import CODE_HEAD, read_code
    from obverse.workbench.recipes import MOST_BYTES_OF_A_RECIPE, find_recipe, read_recipe

    if given.strip().startswith(CODE_HEAD):
        return read_recipe(read_code(given), where="QR code", room=recipes.room())
    if given == "-":
        return find_recipe(
            recipes, "standard input", text=typer.get_text_stream("stdin").read(MOST_BYTES_OF_A_RECIPE + 1)
        )
    if not stands(given):
        return find_recipe(recipes, given)
    return find_recipe(recipes, given, text=read_whole(Path(given), MOST_BYTES_OF_A_RECIPE))
