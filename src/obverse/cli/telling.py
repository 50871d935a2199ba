"""What the terminal tells, in the units of the person, and what is typed in them; --json and files stay in mL, g, C and m."""

from __future__ import annotations

import functools
import inspect
import json
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

import typer

from obverse.cli.darkroom import darkroom
from obverse.foundation import ObverseError

if TYPE_CHECKING:
    from obverse.process import UnitsShown

Units = Annotated[
    str,
    typer.Option(
        "--units",
        metavar="UNITS",
        help="Units for this call: metric, us, imperial, or parts such as f,oz; absent: as the notebook's page of units says.",
    ),
]
VOLUME = "In mL, or with its unit: '16 fl oz'."
LENGTH = "In m, or with its unit: '8 ft'."
TEMPERATURE = "In C, or with its unit: 68F."


@dataclass(slots=True)
class _Reading:
    """The units of one call: what was said for it, and what that came to once somebody asked."""

    said: str = ""
    found: UnitsShown | None = None


_reading: ContextVar[_Reading | None] = ContextVar("_reading", default=None)


@contextmanager
def one_call() -> Iterator[None]:
    """While it lasts, the units of the person are looked up at most once."""
    before = _reading.set(_Reading())
    try:
        yield
    finally:
        _reading.reset(before)


def units_told() -> UnitsShown:
    """In what this person reads: as the page of units keeps it, with what --units says for this call."""
    reading = _reading.get() or _Reading()
    if reading.found is None:
        reading.found = _units_of_notebook().with_others(reading.said, where="--units")
    return reading.found


def units_of_call() -> UnitsShown:
    """What --units says for this call and else metric ones, for what is told without a notebook."""
    from obverse.process import METRIC

    return METRIC.with_others((_reading.get() or _Reading()).said, where="--units")


def _units_of_notebook() -> UnitsShown:
    from obverse.process import METRIC
    from obverse.workbench.bootstrap import has_notebook

    if not has_notebook():
        return METRIC
    # What does not need the notebook is told without it.
    with suppress(ObverseError), darkroom() as bench:
        return bench.units.shown()
    return METRIC


def in_my_units(text: str) -> str:
    """A sentence of the house in the units of the person; the notebook is asked only where there is a figure to tell."""
    from obverse.process import has_house_units

    return units_told().retold(text) if has_house_units(text) else text


def refusal_told(sentence: str) -> str:
    """A refusal in the units of this call, where they are known."""
    reading = _reading.get()
    return sentence if reading is None or reading.found is None else reading.found.retold(sentence)


def tell(text: object = "", *, err: bool = False) -> None:
    """Print a line in the units of the person."""
    typer.echo(in_my_units(str(text)), err=err)


# Said where more than the worst is asked for.
EVERY = typer.Option("--all", help="Print every finding, not only the worst three.")


def tell_cautions(told: Iterable[tuple[str, str]], *, every: bool, indent: str = "") -> None:
    """Print cautions, each with its level; the worst, and how many more there are, unless all are asked for."""
    from obverse.foundation import open_and_folded

    shown, rest = open_and_folded(told, lambda one: one[0])
    for level, text in (*shown, *rest) if every else shown:
        tell(f"{indent}{level.upper()}: {text}")
    if rest and not every:
        tell(f"{indent}{len(rest)} more of the same kinds or milder: --all")


def json_text(document: object) -> str:
    """A document as every command prints it."""
    return json.dumps(document, indent=1, allow_nan=False)


def volume_said(words: str, where: str) -> float | None:
    """mL of a volume as it was typed; None where nothing was.

    Raises
    ------
    InputError
        If it is none.
    """
    if not words.strip():
        return None
    from obverse.process import amount_in

    usual = "metric" if words.strip().replace(".", "").isdigit() else units_told().usual
    return amount_in(words, "liquid", where=where, usual=usual)[0]


def temperature_said(words: str, where: str) -> float | None:
    """C of a temperature as it was typed; None where nothing was.

    Raises
    ------
    InputError
        If it is none.
    """
    from obverse.process import METRIC

    return METRIC.said_temperature(words, where=where) if words.strip() else None


def length_said(words: str, where: str) -> float | None:
    """m of a length as it was typed; None where nothing was.

    Raises
    ------
    InputError
        If it is none.
    """
    from obverse.process import METRIC

    return METRIC.said_length(words, where=where, bare="m") if words.strip() else None


def with_units(command: Callable[..., Any]) -> Callable[..., Any]:
    """The same command with an option --units; what it refuses is told in them too."""

    @functools.wraps(command)
    def in_units(*given: Any, units: str = "", **named: Any) -> Any:
        from obverse.process import METRIC

        METRIC.with_others(units, where="--units")
        reading = _reading.get()
        if reading is not None:
            reading.said = units
        try:
            return command(*given, **named)
        except ObverseError:
            # While the home of this call is known.
            with suppress(ObverseError):
                units_told()
            raise

    signature = inspect.signature(command, eval_str=True)
    option = inspect.Parameter("units", inspect.Parameter.KEYWORD_ONLY, default="", annotation=Units)
    in_units.__signature__ = signature.replace(parameters=[*signature.parameters.values(), option])  # type: ignore[attr-defined]
    return in_units
