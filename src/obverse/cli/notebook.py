"""Commands of the notebook: next."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer


def register(app: typer.Typer) -> None:
    """Add the commands of the notebook."""
    app.command("next")(next_)


def next_(
    series: Annotated[str, typer.Argument(help="A series document (JSON), or '-' for stdin.")],
    count: Annotated[int, typer.Option("--count", help="Strips of one roll to plan together.")] = 1,
    seed: Annotated[int, typer.Option("--seed", help="Same series and seed, same answer.")] = 0,
    others: Annotated[list[str] | None, typer.Option("--other", help="Series of another film to learn from; may be repeated.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Say which strip to try next, or that a tried one is good.

    Example: obverse next my-film.json --count 3
    """
    from obverse.inference import next_strips

    answer = next_strips(_series(series), count=count, seed=seed, others=[_series(o) for o in others or []])
    if as_json:
        typer.echo(json.dumps(answer.document(), indent=1, allow_nan=False))
    else:
        _print(answer)


def _series(given: str):
    from obverse.cli.house import read_whole
    from obverse.foundation import parse_json
    from obverse.process import read_series

    text = sys.stdin.buffer.read() if given == "-" else read_whole(Path(given))
    return read_series(parse_json(text, where=given), where=given)


def _print(answer) -> None:
    from rich.console import Console
    from rich.table import Table

    from obverse.inference.words import percent
    from obverse.workbench.words import controls_text

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
        console.print(f"Strip {i}: {controls_text(s.controls)}")
        console.print(f"  {s.reason}")
        table = Table("predicted", "value", "90 % interval", box=None, pad_edge=False)
        for name, e in s.predicted.items():
            table.add_row(name.replace("_", " "), f"{e.value:.2f}", f"{e.low90:.2f} to {e.high90:.2f}")
        console.print(table)
        console.print(f"  in the aim with probability {percent(s.probability_in_aim)}")
        console.print("  expose at (log10 from the metered mid-tone): " + ", ".join(f"{x:+.1f}" for x in s.log_exposures) + ", and leave one frame unexposed")
    for caution in answer.cautions:
        console.print(f"Note: {caution.text}.")
    if answer.best_trial and answer.status == "ready":
        for row in answer.best_trial.robustness:
            console.print(f"  {row['sentence']}")
