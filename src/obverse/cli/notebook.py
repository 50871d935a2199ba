"""Commands of the notebook: next, trial."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated

import typer

from obverse.cli.arguments import read_given, settings, text_of

if TYPE_CHECKING:
    from obverse.process import Patch, Series
    from obverse.workbench.nouns import NextStrips


def register(app: typer.Typer) -> None:
    """Add the commands of the notebook."""
    app.command("next")(next_)
    app.command()(trial)


def next_(
    series: Annotated[str, typer.Argument(help="A series document (JSON), or '-' for stdin.")],
    count: Annotated[int, typer.Option("--count", help="Strips of one roll to plan together.")] = 1,
    seed: Annotated[int, typer.Option("--seed", help="Same series and seed, same answer.")] = 0,
    others: Annotated[
        list[str] | None, typer.Option("--other", help="Series of another film to learn from; may be repeated.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Say which strip to try next, or that a tried one is good.

    Example: obverse next my-film.json --count 3
    """
    from obverse.workbench.proposal import next_strips

    answer = next_strips(_series(series), count=count, seed=seed, others=[_series(o) for o in others or []])
    if as_json:
        typer.echo(json.dumps(answer.document(), indent=1, allow_nan=False))
    else:
        _print(answer)


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
    films_before: Annotated[
        float, typer.Option("--films-before", help="Films that this first developer had developed already; 0 is fresh.")
    ] = 0,
    developer_ml: Annotated[float, typer.Option("--developer-ml", help="Volume of that developer.")] = 500,
    name: Annotated[str, typer.Option("--name", help="Of the trial; the next strip by number where not given.")] = "",
    note: Annotated[str, typer.Option("--note", help="What a reader should know.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Write a strip into the notebook, with its readings or to be read later.

    Example: obverse trial "grey base 100" first_developer_time_min=12 solvent_ml_per_l=8 --films-before 2
    """
    from obverse.foundation import InputError
    from obverse.workbench.bootstrap import open_workbench
    from obverse.workbench.wear import wear_text, with_films_before

    document = {
        "id": name,
        "controls": settings(controls, "controls"),
        "steps": [patch.model_dump(mode="json") for patch in _patches(readings)] if readings else [],
        "wear": with_films_before({}, films_before, developer_ml),
        "note": note,
    }
    bench = open_workbench()
    try:
        chosen = [kept for kept in bench.notebook.films() if film in (kept.id, kept.thing.name)]
        if not chosen:
            raise InputError(
                f"there is no film called {film!r} in the notebook",
                where="film",
                remedy="`obverse show` alone lists them",
            )
        kept = bench.notebook.add_trial(chosen[0].id, document)
    finally:
        bench.close()
    written = kept.thing.trial.model_dump(mode="json")
    if as_json:
        typer.echo(json.dumps(written, indent=1, allow_nan=False))
        return
    worn = wear_text(written["wear"])
    state = f"{len(written['steps'])} readings" if written["steps"] else "waits for its readings"
    typer.echo(f"{written['id']} of {chosen[0].thing.name}: {state}{'; ' + worn if worn else ''}.")


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


def _series(given: str) -> Series:
    from obverse.foundation import parse_json
    from obverse.process import read_series

    return read_series(parse_json(read_given(given), where=given), where=given)


def _print(answer: NextStrips) -> None:
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
        console.print(f"{which}: {CONTROLS.text(s.controls)}")
        console.print(f"  {s.reason}")
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
    for caution in answer.cautions:
        console.print(f"Note: {caution.text}.")
    if answer.best_trial and answer.status == "ready":
        for row in answer.best_trial.robustness:
            console.print(f"  {row['sentence']}")
