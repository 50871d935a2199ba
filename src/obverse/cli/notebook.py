"""Commands of the notebook: next, trial, trials, book."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from obverse.cli.arguments import (
    A_TABLE,
    MOST_BYTES_OF_A_LIST,
    Force,
    Json,
    Paper,
    ask_before_replacing,
    pairs,
    read_given,
    settings,
    stands,
    text_of,
)
from obverse.cli.darkroom import darkroom
from obverse.cli.progress import watched
from obverse.cli.telling import VOLUME, json_text, tell, units_of_call, units_told, volume_said

if TYPE_CHECKING:
    from obverse.foundation import JsonObject
    from obverse.process import Patch, Series, UnitsShown
    from obverse.workbench.nouns import NextStrips
    from obverse.workbench.past_strips import PastPreview


def register(app: typer.Typer) -> None:
    """Add the commands of the notebook."""
    app.command("next")(next_)
    app.command()(trial)
    app.command()(trials)
    app.command()(book)


def next_(
    series: Annotated[
        str, typer.Argument(help="A film of your notebook, by name or id; or a series document (JSON), '-' for stdin.")
    ],
    count: Annotated[int, typer.Option("--count", help="Strips of one roll to plan together.")] = 1,
    tank: Annotated[
        str,
        typer.Option(
            "--tank-ml",
            "--tank",
            metavar="VOLUME",
            help=f"Tank in which solvent and alkali are told; absent: your own where one is kept, else 500 mL. {VOLUME}",
        ),
    ] = "",
    others: Annotated[
        list[str] | None, typer.Option("--other", help="Series of another film to learn from; may be repeated.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Say which strip to try next, or that a tried one is good.

    A film of your notebook is told in the notebook's units, a file in mL and C unless --units names others: for a file
    the notebook stays closed.

    Example: obverse next my-film.json --count 3
    """
    from obverse.workbench.proposal import next_strips

    with watched("reckoning what to try next"):
        answer = next_strips(_series(series), count=count, others=[_series(o) for o in others or []])
    if as_json:
        typer.echo(json_text(answer.document()))
    else:
        # A file needs no notebook: opening one would take longer than the answer is worth; --units asks for other units.
        units = units_told() if _is_of_notebook(series) else units_of_call()
        _print(answer, volume_said(tank or str(units.tank_ml or "500"), "--tank-ml") or 0.0, units)
        if not others:
            tell(
                "This knows the one file. The page of a film learns from the other films of the notebook too, so its strip may lie "
                "a step of your tools beside this one; --other FILE takes them in here."
            )


def trial(
    film: Annotated[str, typer.Argument(help="Name or id of a film in your notebook.")],
    controls: Annotated[
        list[str],
        typer.Argument(
            help="What was done, as NAME=NUMBER, such as solvent_ml_per_l=8; a name that is not known is answered by those that are."
        ),
    ],
    readings: Annotated[
        str,
        typer.Option(
            "--readings", help="Its densities: CSV log_exposure,density[,sd] or CGATS.17 text; '-' reads stdin."
        ),
    ] = "",
    look: Annotated[
        str, typer.Option("--look", help="What the eye says, in words, such as 'highlights a bit murky, blacks deep'.")
    ] = "",
    films_before: Annotated[
        float, typer.Option("--films-before", help="Films that this first developer had developed already; 0 is fresh.")
    ] = 0,
    developer: Annotated[
        str, typer.Option("--developer-ml", "--developer", metavar="VOLUME", help=f"Of that developer. {VOLUME}")
    ] = "500",
    name: Annotated[str, typer.Option("--name", help="Of the trial; the next strip by number where not given.")] = "",
    note: Annotated[str, typer.Option("--note", help="What a reader should know.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Write a strip into the notebook, with its readings or to be read later.

    Example: obverse trial "grey base 100" first_developer_time_min=12 solvent_ml_per_l=8 --films-before 2
    """
    from obverse.workbench.wear import wear_text, with_films_before

    document = {
        "id": name,
        "controls": settings(controls, "controls"),
        "steps": [patch.model_dump(mode="json") for patch in _patches(readings)] if readings else [],
        **_looked(look),
        "wear": with_films_before({}, films_before, volume_said(developer, "--developer-ml") or 0.0),
        "note": note,
    }
    with darkroom() as bench:
        chosen = bench.notebook.film_called(film)
        before = {one.id: one.revision for one in bench.notebook.trials(chosen.id)}
        kept = bench.notebook.add_trial(chosen.id, document)
    written = kept.thing.trial.model_dump(mode="json")
    if as_json:
        typer.echo(json_text(written))
        return
    if before.get(kept.id) == kept.revision:
        tell(f"{written['id']} of {chosen.thing.name} says the same already: not counted twice.")
        return
    worn = wear_text(written["wear"])
    state = f"{len(written['steps'])} readings" if written["steps"] else "waits for its readings"
    tell(f"{written['id']} of {chosen.thing.name}: {state}{'; ' + worn if worn else ''}.")


def trials(
    table: Annotated[
        str,
        typer.Argument(help="A table of past strips: CSV, tabs or semicolons, in any usual encoding; '-' reads stdin."),
    ],
    match: Annotated[
        list[str] | None,
        typer.Option("--match", help="What a column is, as HEAD=WHAT, such as 'hypo=solvent'; may be repeated."),
    ] = None,
    held: Annotated[
        list[str] | None,
        typer.Option("--held", help="A control of which the table says nothing, such as alkali_ml_per_l=0."),
    ] = None,
    film: Annotated[str, typer.Option("--film", help="The film of rows that name none.")] = "",
    same_as: Annotated[
        list[str] | None,
        typer.Option("--same-as", help="A film of the table that goes by another name, as NAME=NAME IN THE NOTEBOOK."),
    ] = None,
    speed: Annotated[
        list[str] | None, typer.Option("--speed", help="Box speed of a new film, as FILM=NUMBER; may be repeated.")
    ] = None,
    tank: Annotated[
        str,
        typer.Option(
            "--tank-ml", "--tank", metavar="VOLUME", help=f"Of the bath, for amounts in mL without one. {VOLUME}"
        ),
    ] = "",
    month_first: Annotated[
        bool, typer.Option("--month-first", help="Of dates that may be read both ways, the month stands first.")
    ] = False,
    same_name: Annotated[
        str,
        typer.Option(
            "--same-name",
            help="A strip whose name stands there with other values: ask (leave it out), another, correct.",
        ),
    ] = "ask",
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what would be written, and write nothing.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Take in a table of past strips, of one film or of many; strips that are known are not counted twice.

    Example: obverse trials strips.csv --match "hypo=solvent" --dry-run
    """
    from obverse.foundation import InputError, parse_number, read_document
    from obverse.process import table_text, what_of
    from obverse.workbench.past_strips import PastTableGiven, look, take_in

    if same_name not in ("ask", "another", "correct"):
        raise InputError(f"{same_name!r} is no answer", where="--same-name", remedy="say ask, another or correct")
    said = {
        "text": table_text(read_given(table, MOST_BYTES_OF_A_LIST), where=table),
        "match": {name: what_of(what) for name, what in pairs(match, "--match", "hypo=solvent", of="WHAT")},
        "held": settings(held, "--held", "alkali_ml_per_l=0"),
        "tank_ml": volume_said(tank, "--tank-ml"),
        "month_first": month_first,
        "film": film,
        "films": dict(pairs(same_as, "--same-as", "'pan 100=grey base 100'", of="NAME")),
        "speeds": {
            name: parse_number(text, where=name, example="100")
            for name, text in pairs(speed, "--speed", "'grey base=100'", of="NUMBER")
        },
    }
    given = read_document(PastTableGiven, said, where=table)
    with darkroom() as bench, watched("reading the table"):
        seen = look(bench.notebook, given)
        waiting = tuple(row.strip.line for row in seen.rows if row.becomes == "same_name")
        if waiting and same_name != "ask":
            given = given.model_copy(update={"as_another" if same_name == "another" else "as_correction": waiting})
            seen = look(bench.notebook, given)
        done = None if dry_run else take_in(bench.notebook, given)
    if as_json:
        typer.echo(json_text({**seen.document(), "done": done.document() if done else None}))
    else:
        _print_past(seen)
        tell(done.sentence if done else f"{seen.sentence} Nothing was written.")


def _print_past(seen: PastPreview) -> None:
    """What each column is, what each row becomes, and what was not understood."""
    from rich.console import Console
    from rich.table import Table

    from obverse.process import CONTROLS, WHATS

    units = units_told()
    console = Console(width=None, highlight=False)
    columns = Table("column", "taken as", "", box=None, pad_edge=False)
    for column in seen.table.columns:
        of = f", in {units.volume(column.in_ml)}" if column.in_ml else ""
        columns.add_row(column.head, WHATS.get(column.what, column.what) + of, units.retold(column.told))
    console.print(columns)
    held = [(CONTROLS[key], value) for key, value in seen.table.held.items()]
    if held:
        counted = (f"{control.word}, counted as {units.retold(control.amount(value))}" for control, value in held)
        console.print("The table says nothing of: " + ", ".join(counted))
    for film in seen.films:
        state = "in the notebook" if film.id else f"new, box speed {film.box_speed:g}"
        told = "" if film.speed_from else ", which nothing tells (--speed says it)"
        alike = f"; much like {film.alike} (--same-as says that it is the same)" if film.alike else ""
        console.print(f"{film.name}: {film.strips} rows, {state}{told}{alike}")
    rows = Table("line", "film", "strip", "becomes", "done", "seen", box=None, pad_edge=False)
    for row in seen.rows:
        rows.add_row(
            str(row.strip.line),
            row.film,
            row.name,
            "corrected" if row.corrects else row.becomes.replace("_", " "),
            units.retold(row.controls_short),
            row.evidence_text,
        )
    console.print(rows)
    for row in seen.rows:
        if row.why:
            tell(f"line {row.strip.line}: {row.why}")
        for remark in row.strip.remarks:
            tell(f"line {row.strip.line}, {seen.table.columns[remark.place].head}: {remark.sentence}")
    for remark in seen.table.left_out:
        tell(f"line {remark.line}: {remark.sentence}")


def _looked(words: str) -> JsonObject:
    """Grades and faults of what the eye says."""
    from obverse.foundation import InputError
    from obverse.process import GRADES, read_words

    read = read_words(words)
    if read.left:
        known = "; ".join(f"{of} {', '.join(grades)}".replace("_", " ") for of, grades in GRADES.items())
        raise InputError(f"{read.left[0]!r} is no word known here", where="--look", remedy=f"say one of {known}")
    return {"grades": [grade.model_dump() for grade in read.grades], "faults": list(read.faults)}


def _patches(file: str) -> tuple[Patch, ...]:
    from obverse.process import Series
    from obverse.workbench.light_table import patches_of, read_anything

    found = read_anything(text_of(file), where=file)
    if isinstance(found, Series):
        from obverse.foundation import InputError

        raise InputError(
            "it is a whole series", where=file, remedy="import it on the notebook page, or give a list of readings"
        )
    return patches_of(found)


def _is_of_notebook(given: str) -> bool:
    """Whether a film of the notebook is named, and no file."""
    return given != "-" and not stands(given) and not given.endswith(".json")


def _series(given: str) -> Series:
    from obverse.foundation import parse_json
    from obverse.process import read_series

    if _is_of_notebook(given):
        with darkroom() as bench:
            return bench.notebook.series(bench.notebook.film_called(given).id)
    return read_series(parse_json(read_given(given), where=given, of_words=A_TABLE), where=given)


def _print(answer: NextStrips, tank_ml: float, units: UnitsShown) -> None:
    from rich.console import Console
    from rich.table import Table

    from obverse.process import CONTROLS
    from obverse.workbench.proposal import percent

    console = Console()
    console.print(answer.message)
    if answer.best_trial and answer.status != "ready":
        best = answer.best_trial
        console.print(
            f"Best strip so far: {best.id}, in the aim with probability {percent(best.probability_in_aim)}; "
            f"its recipe repeated with your tools: {percent(best.probability_repeated)}."
        )
    for i, s in enumerate(answer.suggestions, 1):
        console.print()
        which = "The next strip" if len(answer.suggestions) == 1 else f"Next, {i} of {len(answer.suggestions)}"
        console.print(f"{which}: {units.retold(CONTROLS.text(s.controls))}")
        poured = [(c.word, s.controls[c.key] * tank_ml / 1000) for c in CONTROLS.mixed() if c.key in s.controls]
        if poured:
            amounts = ", ".join(f"{word} {amount:.3g} mL" for word, amount in poured)
            console.print(units.retold(f"  in {tank_ml:g} mL: {amounts}"))
        console.print(f"  {units.retold(s.reason)}")
        table = Table("predicted", "value", "90 % interval", box=None, pad_edge=False)
        for name, e in s.predicted.items():
            table.add_row(name.replace("_", " "), f"{e.value:.2f}", f"{e.low90:.2f} to {e.high90:.2f}")
        console.print(table)
        console.print(f"  in the aim with probability {percent(s.probability_in_aim)}")
        console.print(
            "  expose at (log10 from the metered mid-tone): "
            + ", ".join(f"{x:+.1f}" for x in s.log_exposures)
            + ", and leave one frame unexposed"
        )
    if answer.as_good:
        console.print(units.retold(answer.as_good.sentence()))
    for caution in answer.cautions:
        console.print(f"Note: {units.retold(caution.text)}.")
    if answer.best_trial and answer.status == "ready":
        for row in answer.best_trial.robustness:
            console.print(f"  {units.retold(row.sentence)}")


def book(
    out: Annotated[Path, typer.Option("--out", help="File to write.")] = Path("notebook.pdf"),
    paper: Paper = "",
    force: Force = False,
    as_json: Json = False,
) -> None:
    """Print the whole notebook as a book: films, strips with curves or words, recipes.

    Example: obverse book --out notebook.pdf
    """
    from obverse.cli.house import write_whole
    from obverse.sheets.book import book_pdf

    ask_before_replacing(out, force=force)
    with darkroom() as bench:
        films, recipes = bench.notebook.every_series(), [kept.thing for kept in bench.recipes.all()]
        units, today = units_told(), bench.clock.now().date()
    with watched("setting the book"):
        printed = book_pdf(films, recipes, paper=paper or units.paper, printed_on=today, units=units)
    write_whole(out, printed)
    told = {"file": str(out), "films": len(films), "recipes": len(recipes)}
    typer.echo(json_text(told) if as_json else f"{out} holds the notebook.")
