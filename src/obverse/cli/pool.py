"""Commands of the pool: `obverse pool name|export|add|list|search|withdraw|learn|adopt`."""

from __future__ import annotations

import os
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from obverse.cli.arguments import Force, Json, ask_before_replacing
from obverse.cli.darkroom import darkroom
from obverse.cli.progress import watched
from obverse.cli.telling import json_text
from obverse.foundation import JsonObject

if TYPE_CHECKING:
    from obverse.workbench.nouns import Stored
    from obverse.workbench.pool import PoolPage


def register(app: typer.Typer) -> None:
    """Add the group."""
    group = typer.Typer(
        no_args_is_help=True,
        rich_markup_mode=None,
        help="Strips that darkrooms lend each other, as files: any way to copy a folder is enough.\n\nExample: obverse pool list",
    )
    group.command("name")(name)
    group.command("export")(export)
    group.command("add")(add)
    group.command("list")(list_)
    group.command("search")(search)
    group.command("withdraw")(withdraw)
    group.command("learn")(learn)
    group.command("adopt")(adopt)
    app.add_typer(group, name="pool")


def name(
    chosen: Annotated[str, typer.Argument(help="Under which others see what you lend, such as a town; 60 signs.")],
    as_json: Json = False,
) -> None:
    """Choose the name of your darkroom.

    Example: obverse pool name "Cellar in Northtown"
    """
    with darkroom() as bench:
        called = bench.pool.call(chosen).name
    typer.echo(json_text({"name": called}) if as_json else f"Others see what you lend as from {called!r}.")


def export(
    films: Annotated[list[str], typer.Argument(help="Names or ids of films in your notebook.")],
    out: Annotated[Path | None, typer.Option("--out", help="File to write; default: standard output.")] = None,
    persons: Annotated[bool, typer.Option("--persons", help="Leave the persons' names on the strips.")] = False,
    index: Annotated[
        bool, typer.Option("--index", help="Also write the index by which the folder can be read from a web server.")
    ] = False,
    force: Force = False,
    as_json: Json = False,
) -> None:
    """Write what you lend of some films: strips, evidence, the strengths of your bottles; no shelf, no evenings, no persons.

    Example: obverse pool export "grey base 100" --out northtown.json
    """
    from obverse.cli.house import write_whole
    from obverse.foundation import InputError
    from obverse.workbench.pool_sources import INDEX, index_of

    if index and out is None:
        raise InputError("an index lies beside a file", where="--index", remedy="name the file with --out")
    if out is not None:
        ask_before_replacing(out, force=force)
    with darkroom() as bench:
        document = bench.pool.lend([bench.notebook.film_called(film).id for film in films], persons=persons)
    text = json_text(document.model_dump(mode="json")) + "\n"
    if out is None:
        typer.echo(text, nl=False)
        return
    write_whole(out, text.encode())
    if index:
        write_whole(out.parent / INDEX, index_of(out.parent))
    strips = sum(len(film.strips) for film in document.films)
    if as_json:
        typer.echo(json_text({"file": str(out), "films": len(document.films), "strips": strips}))
        return
    typer.echo(f"{out} lends {_counted(strips, 'strip')} of {_counted(len(document.films), 'film')}.", err=True)


def add(
    sources: Annotated[list[str], typer.Argument(help="Files, folders or addresses (http, https) of a pool.")],
    yes: Annotated[bool, typer.Option("--yes", help="Take it in; without this nothing is written.")] = False,
    even_so: Annotated[
        bool, typer.Option("--even-so", help="Take what was changed since it was sealed, too, as unsealed.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Say what a pool would bring, and with --yes take it in. It is kept apart from your own strips and shown as theirs.

    Example: obverse pool add pool-folder --yes
    """
    from obverse.workbench.pool_sources import read_pool

    rows: list[JsonObject] = []
    with darkroom() as bench, watched("reading the pool") as progress:
        read = [one for given in sources for one in read_pool(given)]
        # The newest document of a darkroom has the last word.
        read.sort(key=lambda one: 0.0 if one.document is None else one.document.made_at.timestamp())
        for place, source in enumerate(read):
            progress(place / len(read), f"{'taking in' if yes else 'looking at'} {source.where}")
            if source.document is None:
                rows.append({"where": source.where, "taken": False, "sentence": source.sentence})
                continue
            work = bench.pool.take if yes else bench.pool.look
            for film in work(source.document, even_so=even_so):
                taken = yes and not film.refused
                rows.append({"where": source.where, "taken": taken, "sentence": film.sentence})
    if as_json:
        typer.echo(json_text({"written": yes, "films": rows}))
        return
    for row in rows:
        typer.echo(row["sentence"])
    if not rows:
        typer.echo("No document of a pool is there.")
    elif not yes:
        typer.echo("Nothing was written; add --yes to take it in.")


def list_(as_json: Json = False) -> None:
    """The films of other darkrooms.

    Example: obverse pool list
    """
    with darkroom() as bench:
        _show(bench.pool.pages(), as_json, empty="No film of another darkroom is here yet")


def search(
    words: Annotated[list[str] | None, typer.Argument(help="Words of the film's or the darkroom's name.")] = None,
    speed: Annotated[float | None, typer.Option("--speed", min=0.1, help="Box speed, to a third of a stop.")] = None,
    base: Annotated[float | None, typer.Option("--base", min=0, help="Base density, to 0.05.")] = None,
    as_json: Json = False,
) -> None:
    """Find a film of the pool.

    Example: obverse pool search grey --speed 100
    """
    with darkroom() as bench:
        _show(
            bench.pool.search(" ".join(words or []), box_speed=speed, base_density=base),
            as_json,
            empty="No such film is in your pool",
        )


def withdraw(
    film: Annotated[str, typer.Argument(help="Name or id of a film in your notebook.")],
    strips: Annotated[
        list[str] | None, typer.Argument(help="Names of strips; all of the film where none is named.")
    ] = None,
    as_json: Json = False,
) -> None:
    """Take strips back that you lent: the next document says so, and whoever adds it follows.

    Example: obverse pool withdraw "grey base 100" "strip 3"
    """
    with darkroom() as bench:
        gone = bench.pool.take_back(bench.notebook.film_called(film).id, strips or [])
    if as_json:
        typer.echo(json_text({"taken_back": list(gone)}))
        return
    typer.echo(f"{_counted(len(gone), 'strip')} taken back; export the film again and pass it on.")


def learn(
    folder: Annotated[str, typer.Argument(help="A folder, file or address of a pool, of 50 to 10,000 films.")],
    out: Annotated[Path, typer.Option("--out", help="File to write what was learned to.")],
    workers: Annotated[
        int, typer.Option("--workers", min=0, max=256, help="Processes of this machine; 0: one for each core.")
    ] = 0,
    at_cluster: Annotated[
        str, typer.Option("--cluster", help="Scheduler of a Dask cluster that runs already; needs obverse[pool].")
    ] = "",
    force: Force = False,
    as_json: Json = False,
) -> None:
    """Learn from a whole pool what films have in common and how far darkrooms differ, for any notebook to adopt.

    Stopped halfway, the same command goes on where it stopped: what is done lies beside the file, in a folder that ends
    in .parts, until all is done.

    Example: obverse pool learn pool-folder --out learned.json --workers 4
    """
    from obverse.cli.house import write_whole
    from obverse.workbench.pool_learning import cluster, learn, processes, read_folder
    from obverse.workbench.pool_prior import said_of

    ask_before_replacing(out, force=force)
    by = cluster(at_cluster) if at_cluster else nullcontext(processes(workers or os.cpu_count() or 1))
    with by as hands, darkroom() as bench:
        pool = read_folder(folder)
        for sentence in pool.unread:
            typer.echo(sentence, err=True)
        learned = learn(
            pool,
            darkroom=bench.pool.who(),
            made_at=bench.clock.now(),
            hands=hands,
            parts=out.with_name(out.name + ".parts"),
            heard=lambda done, of: typer.echo(f"{done} of {of} parts", err=True),
        )
        document = bench.pool.seal(learned.document)
    write_whole(out, (json_text(document.model_dump(mode="json")) + "\n").encode())
    for sentence in learned.unlearned:
        typer.echo(f"left aside: {sentence}", err=True)
    if as_json:
        typer.echo(json_text(document.model_dump(mode="json", exclude={"films", "signature"})))
        return
    typer.echo(said_of(document))


def adopt(
    file: Annotated[Path | None, typer.Argument(help="A document that `obverse pool learn` wrote.")] = None,
    even_so: Annotated[
        bool, typer.Option("--even-so", help="Adopt what was changed since it was sealed, too, as unsealed.")
    ] = False,
    aside: Annotated[bool, typer.Option("--aside", help="Let what was adopted count no longer.")] = False,
    as_json: Json = False,
) -> None:
    """Let what a pool taught count in your notebook, beside films in general; without a file, say what counts now.

    Example: obverse pool adopt learned.json
    """
    from obverse.foundation import InputError
    from obverse.workbench.pool_sources import prior_from

    if file is not None and aside:
        raise InputError("adopt a file or put aside, not both", where="--aside", remedy="leave one of them out")
    with darkroom() as bench:
        if aside:
            bench.pool.put_prior_aside()
        elif file is not None:
            bench.pool.adopt(prior_from(file), even_so=even_so)
        kept = bench.pool.adopted()
    if as_json:
        told = None if kept is None else {"seal": kept.seal, "sentence": kept.sentence}
        typer.echo(json_text({"adopted": told}))
        return
    if kept is None:
        typer.echo("What many films taught does not count here; films in general do.")
        return
    typer.echo(f"{'' if kept.seal == 'whole' else 'Not sealed. '}{kept.sentence}")


def _show(pages: list[Stored[PoolPage]], as_json: bool, *, empty: str) -> None:
    if as_json:
        rows = [
            {
                "id": kept.id,
                "film": kept.thing.film.name,
                "box_speed": kept.thing.film.box_speed,
                "base_density": kept.thing.film.base_density,
                "darkroom": kept.thing.town,
                "strips": len(kept.thing.strips),
                "disputed": len(kept.thing.disputed),
                "seal": kept.thing.seal,
            }
            for kept in pages
        ]
        typer.echo(json_text({"films": rows}))
        return
    for kept in pages:
        page = kept.thing
        disputed = f", {len(page.disputed)} disputed" if page.disputed else ""
        strips = _counted(len(page.strips), "strip")
        typer.echo(f"{page.film.name}, {page.film.box_speed:g}: {strips} of {page.town}{disputed}")
    if not pages:
        typer.echo(f"{empty}; add documents with `obverse pool add FOLDER`.")


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
