"""Commands of the house itself: serve, export, import, schema."""

from __future__ import annotations

import contextlib
import dataclasses
import os
import sys
import tempfile
from pathlib import Path
from typing import Annotated, Literal

import typer

from obverse.cli.arguments import A_TABLE, Force, Json, ask_before_replacing, read_given
from obverse.cli.darkroom import darkroom
from obverse.cli.idle import tell_not_used
from obverse.cli.progress import watched
from obverse.cli.telling import json_text
from obverse.foundation import InputError, JsonObject, parse_json
from obverse.system import put_in_place

# Ports that no service of a usual computer takes; the demo lies beside one's own.
OWN_PORT, DEMO_PORT = 8137, 8138
Port = Annotated[int, typer.Option(min=0, max=65535, help="Port; 0 takes any free one.")]


def register(app: typer.Typer) -> None:
    """Add the commands of the house."""
    app.command()(serve)
    app.command()(demo)
    app.command()(where)
    app.command("export")(export_)
    app.command("import")(import_)
    app.command("check-store")(check_store)
    app.command()(backup)
    app.command()(restore)
    app.command()(schema)
    app.command()(sources)


def serve(
    port: Port = OWN_PORT,
    share: Annotated[bool, typer.Option("--share", help="Let paired phones of the local network in.")] = False,
    address: Annotated[str, typer.Option(help="Address to share at, where the computer has several.")] = "",
    tls: Annotated[bool, typer.Option("--tls", help="Seal the connection with a certificate made here.")] = False,
) -> None:
    """Serve the six places to the browser of this computer, and to nobody else unless you say --share.

    Example: obverse serve --share --tls
    """
    from obverse.web.server import checked_address, lan_address, serve_workbench
    from obverse.workbench.bootstrap import home, open_workbench
    from obverse.workbench.this_computer import clock_standing, home_doubts, home_words

    if address and not share:
        raise InputError("an address is only used for sharing", where="--address", remedy="add --share")
    share_at = (checked_address(address) if address else lan_address()) if share else None
    found = home()
    bench = open_workbench()
    to_say = (
        f"Everything is kept in {bench.kept_in}. {home_words(found)}",
        *(doubt.text for doubt in home_doubts(found)),
        clock_standing(bench.clock, bench.home).sentence,
    )
    serve_workbench(bench, port=port, share_at=share_at, tls=tls, to_say=to_say)


def where(
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Print where everything is kept, what is wrong with that place, and whether this computer's clock survives a closed lid.

    Example: obverse where
    """
    from obverse.workbench.bootstrap import has_notebook, home, this_computers_clock
    from obverse.workbench.this_computer import clock_standing, home_doubts, home_words

    found, doubts = home(), home_doubts(home())
    standing = clock_standing(this_computers_clock(), found.folder)
    if as_json:
        document = {
            "folder": str(found.folder),
            "how": found.how,
            "beside": None if found.beside is None else str(found.beside),
            "notebook": has_notebook(),
            "doubts": [{"kind": doubt.kind, "place": doubt.place, "text": doubt.text} for doubt in doubts],
            "clock": standing.document(),
        }
        typer.echo(json_text(document))
        return
    typer.echo(found.folder)
    if os.environ.get("OBVERSE_DATABASE"):
        held = "The notebook is in the database that OBVERSE_DATABASE names; here lie the files of this computer."
    else:
        held = "It holds a notebook." if has_notebook() else "There is no notebook yet."
    typer.echo(f"{home_words(found)} {held}")
    for doubt in doubts:
        typer.echo(doubt.text)
    typer.echo(standing.sentence)
    for line in standing.what_to_do:
        typer.echo(f"  {line}")


def demo(
    home: Annotated[str, typer.Option(help="Folder to keep it in; absent: a temporary one.")] = "",
    port: Port = DEMO_PORT,
    browser: Annotated[bool, typer.Option(help="Open the browser where there is one.")] = True,
) -> None:
    """Open the invented teaching darkroom: six strips of one film, what they taught, the strip to try next.

    Example: obverse demo
    """
    from obverse.web.server import serve_workbench
    from obverse.workbench.demo import make_the_demo

    with contextlib.ExitStack() as stack:
        folder = (
            Path(home)
            if home
            else Path(
                stack.enter_context(tempfile.TemporaryDirectory(prefix="obverse-demo-", ignore_cleanup_errors=True))
            )
        )
        typer.echo("This is the teaching darkroom: its films, products and measurements are invented.")
        bench, film = make_the_demo(folder)
        serve_workbench(bench, port=port, start_path=f"/notebook/{film}", invented=True, browser=browser)


def export_(
    file: Annotated[str, typer.Argument(help="File to write; '-' writes to stdout.")],
    force: Force = False,
    as_json: Json = False,
) -> None:
    """Write everything that is kept into one JSON document; --json tells how much it holds.

    Example: obverse export notebook-2031-11-05.json
    """

    if file != "-":
        ask_before_replacing(Path(file), force=force)
    with darkroom() as bench, watched("writing it down"):
        document = bench.export()
        text = json_text(document) + "\n"
    if file == "-":
        tell_not_used("where all of it is printed", {"--force": force, "--json": as_json})
        sys.stdout.write(text)
        return
    write_whole(Path(file), text.encode())
    if as_json:
        typer.echo(json_text({"file": file, **{part: len(document[part]) for part in ("things", "events", "blobs")}}))
        return
    typer.echo(f"Written to {file}.")


def import_(
    file: Annotated[
        str, typer.Argument(help="A document written by `obverse export`, or a shelf document; '-' reads stdin.")
    ],
    mine: Annotated[
        list[str] | None,
        typer.Option("--mine", help="Id of a darkroom of the document that is your own, or 'all'; may be repeated."),
    ] = None,
    keep: Annotated[
        Literal["mine", "theirs"] | None,
        typer.Option("--keep", help="What becomes of things that went different ways here and there."),
    ] = None,
    as_json: Json = False,
) -> None:
    """Take in an exported document: all of it, or nothing where things went different ways and --keep is not said.

    What was made in another darkroom is marked and never counts as yours; say --mine for a notebook of your own.

    Example: obverse import notebook-2031-11-05.json --mine all
    """
    from obverse.workbench.backup import SQLITE_BEGINS

    data = read_given(file)
    if data.startswith(SQLITE_BEGINS):
        raise InputError(
            "it is a backup, not an exported notebook",
            where=file,
            remedy="take it into another home with `obverse restore`, write it out there with `obverse export`, and import that here",
        )
    document = parse_json(data, where=file, of_words=A_TABLE)
    if not isinstance(document, dict):
        raise InputError("not an exported notebook", where=file, remedy="give a file that `obverse export` wrote")
    if document.get("format") == "obverse-shelf":
        with darkroom() as bench:
            names = bench.shelf.take_in(document, where=file)
        tell_not_used("where a shelf is taken in", {"--mine": mine, "--keep": keep})
        told = f"New on the shelf: {', '.join(names)}." if names else "All of it stood on the shelf already."
        typer.echo(json_text({"products": names}) if as_json else told)
        return
    with darkroom() as bench:
        with watched("taking it in"):
            new = bench.take_in(document, mine=_own_darkrooms(document, mine or []), keep=keep)
        foreign = bench.from_elsewhere()
    if as_json:
        typer.echo(json_text({**new, "from_elsewhere": foreign}))
        return
    typer.echo(f"New here: {new['revisions']} revisions, {new['events']} run events, {new['blobs']} files.")
    if new.get("parted"):
        went = "1 thing" if new["parted"] == 1 else f"{new['parted']} things"
        typer.echo(
            f"{went} went different ways here and there. "
            + (
                "What stands here was left as it is."
                if keep == "mine"
                else "What stood here is an older revision now; evenings stay as they went here."
            )
        )
    for from_where, count in foreign.items():
        typer.echo(
            f"{count} things of the darkroom {from_where or '(not told)'} are marked as from elsewhere and never count as "
            f"yours; if it is yours: obverse import {file} --mine {from_where or 'all'}"
        )


def _own_darkrooms(document: JsonObject, mine: list[str]) -> set[str]:
    """The darkrooms that a person calls their own, of those that the document holds things of."""
    things = document.get("things")
    held = {
        str(thing.get("origin", ""))
        for thing in (things if isinstance(things, list) else [])
        if isinstance(thing, dict)
    }
    if "all" in mine:
        return held
    for one in mine:
        if one not in held:
            raise InputError(
                f"the document holds nothing of a darkroom {one!r}",
                where="--mine",
                remedy="use 'all', or one of " + ", ".join(sorted(held - {""})),
            )
    return set(mine)


def check_store(as_json: Json = False) -> None:
    """Look the notebook through: names that stand twice are told apart, files that nothing names are cleared.

    Example: obverse check-store
    """

    with darkroom() as bench:
        found = bench.check()
    if as_json:
        typer.echo(json_text(dataclasses.asdict(found)))
        return
    typer.echo(f"{found.renamed} names told apart, {found.orphans} files that nothing names cleared.")
    for line in found.unreadable:
        typer.echo(f"Cannot be read, and is left as it is: {line}")


def backup(
    folder: Annotated[str, typer.Argument(help="Folder to put it in, best on another disk; made where it is missing.")],
    as_json: Json = False,
) -> None:
    """Copy the whole notebook into one new file, while the house may be open, and read it back.

    Example: obverse backup /media/stick/darkroom
    """
    from obverse.workbench.backup import how_much

    with darkroom() as bench, watched("copying it, and reading it back"):
        made = bench.back_up(Path(folder))
    if as_json:
        typer.echo(made.model_dump_json(indent=1))
        return
    typer.echo(f"Backed up {how_much(made)} to {made.file}. Read back, and found the same.")


def restore(
    backup: Annotated[str, typer.Argument(help="A file that `obverse backup` wrote, or the folder of several.")],
    as_json: Json = False,
) -> None:
    """Take a backup into an empty notebook: another home (OBVERSE_HOME), or another database (OBVERSE_DATABASE).

    Example: obverse restore /media/stick/darkroom (with OBVERSE_HOME=~/darkroom-2 set before it)
    """
    from obverse.workbench.backup import how_much

    with darkroom() as bench:
        with watched("taking it in, and reading it back"):
            held = bench.restore(Path(backup))
        place = bench.kept_in
    if as_json:
        counts = {"revisions": held.revisions, "events": held.events, "blobs": held.blobs}
        typer.echo(json_text({"kept_in": place, **counts}))
        return
    typer.echo(f"Restored {how_much(held)} into {place}. Read back, and found the same.")


def schema(
    kind: Annotated[
        str,
        typer.Argument(help="series, recipe, formula, product, shelf, bath, process, film, aim, trial or notebook."),
    ],
) -> None:
    """Print the JSON schema (draft 2020-12) of a document that others may write, with an example of every field.

    Example: obverse schema series
    """
    from obverse.workbench.schemas import schema_of

    typer.echo(json_text(schema_of(kind)))


def sources(as_json: Json = False) -> None:
    """Print every number the house uses, with how it is known and where from (Markdown, or --json).

    Example: obverse sources > sources.md
    """
    from obverse.workbench.sources import sources_document, sources_page

    if as_json:
        typer.echo(json_text(sources_document()))
        return
    typer.echo(sources_page(), nl=False)


def write_whole(path: Path, data: bytes) -> None:
    """Write a file wholly or not at all: a full disk leaves the old file as it was."""
    if path.exists() and not path.is_file():
        # A pipe or a device is written to, never replaced.
        with path.open("wb", buffering=0) as file:
            file.write(data)
        return
    if not path.parent.is_dir():
        # Said here: the name of the temporary file would tell a person nothing.
        raise InputError(
            f"there is no folder {str(path.parent)!r}", where=path.name, remedy="make it, or name another file"
        )
    put_in_place(path, data)
