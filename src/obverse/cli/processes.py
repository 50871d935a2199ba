"""Commands of processes: `obverse process list|show|new|edit|compare|check`."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from obverse.cli.arguments import Force, Json, ask_before_replacing, read_given, stands
from obverse.cli.darkroom import darkroom
from obverse.cli.telling import in_my_units, json_text, tell

if TYPE_CHECKING:
    from obverse.process import Process
    from obverse.workbench.processes import Processes

Given = Annotated[str, typer.Argument(help="Id of a process, see obverse process list; or a file; or '-' for stdin.")]


def register(app: typer.Typer) -> None:
    """Add the group."""
    group = typer.Typer(
        no_args_is_help=True, rich_markup_mode=None, help="Your own way, step by step.\n\nExample: obverse process list"
    )
    for name, command in (
        ("list", list_processes),
        ("show", show),
        ("new", new),
        ("edit", edit),
        ("compare", compare_two),
        ("check", check),
    ):
        group.command(name)(command)
    app.add_typer(group, name="process")


def list_processes(as_json: Json = False) -> None:
    """The processes an evening may be planned by: yours, then those that are shipped.

    Example: obverse process list
    """
    with _processes() as processes:
        own = {kept.id: kept for kept in processes.own()}
        rows = [
            {
                "id": id,
                "name": process.name,
                "shipped": id not in own,
                "revision": own[id].revision if id in own else 0,
            }
            for id, process in processes.every().items()
        ]
    if as_json:
        typer.echo(json_text({"processes": rows}))
        return
    for row in rows:
        tell(f"{row['id']:30} {row['name']}, {'shipped' if row['shipped'] else 'revision ' + str(row['revision'])}")


def show(
    process: Given,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the whole document, as other darkrooms read it.")
    ] = False,
    in_words: Annotated[
        bool, typer.Option("--words", help="Print the document in words, as process edit reads it.")
    ] = False,
    out: Annotated[Path | None, typer.Option("--out", help="File to write; default: standard output.")] = None,
    force: Force = False,
) -> None:
    """Print a process, step by step in words; or its document.

    Example: obverse process show iron_ammonia_fogging --words --out my-way.json
    """
    from obverse.cli.house import write_whole
    from obverse.workbench.processes import in_words as words_document
    from obverse.workbench.processes import process_text

    if out is not None:
        ask_before_replacing(out, force=force)
    with _processes() as processes:
        found = _given(processes, process)
        draft = processes.draft(found)
        if in_words:
            text = json_text(words_document(found, draft)) + "\n"
        elif as_json or out is not None:
            text = process_text(found)
        else:
            text = f"{found.name}\n" + "".join(
                f"{place:3}. {row['name'] or row['does']}: "
                + "; ".join(f"{name} {in_my_units(row[name])}" for name in _SHOWN if row[name] not in ("", "none"))
                + "\n"
                for place, row in enumerate(draft.rows, start=1)
            )
    if out is None:
        typer.echo(text, nl=False)
        return
    write_whole(out, text.encode())
    if as_json:
        typer.echo(json_text({"file": str(out), "name": found.name}))
        return
    typer.echo(f"{out} holds the process.", err=True)


_SHOWN = ("bath", "time", "temperature", "agitation", "made", "after", "rinse", "light", "note")


def new(
    name: Annotated[str, typer.Argument(help="Its name; or with --file what the file calls it.")] = "",
    source: Annotated[
        str,
        typer.Option(
            "--from", help="Begin from a process, 'evening:last', 'evening:ID' or 'recipe:ID'; absent: from nothing."
        ),
    ] = "",
    file: Annotated[
        str, typer.Option("--file", help="Take it in from a document, in fields or in words; '-' for stdin.")
    ] = "",
    as_json: Json = False,
) -> None:
    """Begin a process, from nothing, from another, from an evening, a recipe or a document; prints its id.

    Example: obverse process new "My fogging way" --from iron_ammonia_fogging
    """
    with _processes() as processes:
        id = processes.take_in_text(_text(file), where=file) if file else processes.begin(name, source=source)
        revision = processes.revision(id)
    if as_json:
        typer.echo(json_text({"id": id, "revision": revision}))
        return
    typer.echo(id)
    typer.echo(f"Kept as revision {revision}.", err=True)


def edit(
    process: Annotated[str, typer.Argument(help="Id of a process of your own.")],
    file: Annotated[str, typer.Argument(help="Its document as it shall be, in fields or in words; '-' for stdin.")],
    as_json: Json = False,
) -> None:
    """Keep a document as the next revision of a process; what was before stays readable.

    Example: obverse process edit my_fogging_way my-way.json
    """
    with _processes() as processes:
        kept = processes.put_text(process, _text(file), where=file)
    if as_json:
        typer.echo(json_text({"id": kept.id, "revision": kept.revision, "name": kept.thing.name}))
        return
    typer.echo(f"{kept.thing.name} is kept as revision {kept.revision}.", err=True)


def compare_two(first: Given, second: Given, as_json: Json = False) -> None:
    """In what two processes differ, in words.

    Example: obverse process compare my_fogging_way iron_ammonia_fogging
    """
    from dataclasses import asdict

    from obverse.workbench.processes import compare

    with _processes() as processes:
        found = compare(_given(processes, first), _given(processes, second), processes.formulas())
    if as_json:
        typer.echo(json_text({"differences": [asdict(one) for one in found]}))
        return
    for one in found:
        tell(f"{one.where}\n     first:  {one.first}\n     second: {one.second}")
    if not found:
        typer.echo("The two ask for the same work.")


def check(process: Given, as_json: Json = False) -> None:
    """What the house would do otherwise at each step, why, and how sure it is. Nothing is changed.

    Example: obverse process check my_fogging_way
    """
    with _processes() as processes:
        found = _given(processes, process)
        said = processes.opinions(found)
    if as_json:
        typer.echo(json_text({"opinions": [one.document() for one in said]}))
        return
    for step in found.steps:
        here = [one for one in said if one.step == step.key]
        if here:
            typer.echo(step.name)
        for one in here:
            tell(f"  {one.level.value}: {one.says} {one.why} ({one.source.words})")
            if one.declined:
                tell(f"    You do it so: {one.declined}")
    if not said:
        typer.echo("The house would do nothing otherwise.")


@contextmanager
def _processes() -> Iterator[Processes]:
    with darkroom() as bench:
        yield bench.processes


def _text(file: str) -> bytes:
    from obverse.workbench.processes import MOST_BYTES_OF_A_PROCESS

    return read_given(file, MOST_BYTES_OF_A_PROCESS)


def _given(processes: Processes, given: str) -> Process:
    from obverse.foundation import parse_json
    from obverse.workbench.processes import NO_PLAIN_TEXT

    if given == "-" or stands(given):
        return processes.from_document(parse_json(_text(given), where=given, of_words=NO_PLAIN_TEXT), where=given)
    return processes.process(given)
