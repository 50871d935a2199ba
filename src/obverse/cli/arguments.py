"""What a person gives on the command line: files, '-' for standard input, numbers, NAME=NUMBER."""

from __future__ import annotations

import functools
import inspect
import re
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Annotated, Any, NamedTuple, get_args

import typer

from obverse.cli.idle import Idle, not_used
from obverse.foundation import InputError, parse_number, without_turns

Json = Annotated[bool, typer.Option("--json", help="Print one JSON document.")]
Paper = Annotated[str, typer.Option("--paper", help="a4 or us-letter; default: as the notebook's units say.")]
Force = Annotated[bool, typer.Option("--force", help="Replace a file of that name.")]

HomeFolder = Annotated[
    str,
    typer.Option(
        "--home", metavar="FOLDER", help="Folder of the notebook; absent: the one that `obverse where` prints."
    ),
]

# A field of a document by the parameter of a command that fills it, where the two are called differently.
_FIELDS_OF = {"id": "name"}
# Parameters that are words of the person's own; a file's name is the computer's, whatever is in it.
_NAMES = ("name", "note", "film", "strip", "chosen", "look", "same_as")

MOST_BYTES = 1_000_000_000
# Said where a document was asked for and a text was given.
A_TABLE = "a table of strips is taken in by `obverse trials`, a list of readings is read by `obverse curve`"
# A series of 2000 trials with 2000 patches each is below this.
MOST_BYTES_OF_A_LIST = 100_000_000


def read_whole(path: Path, most_bytes: int = MOST_BYTES) -> bytes:
    """The bytes of a file that is not absurdly large.

    Raises
    ------
    InputError
        If it is larger than `most_bytes`; it is then not read at all.
    OSError
        As the computer says it.
    """
    size = path.stat().st_size
    if size > most_bytes:
        raise InputError(
            f"the file has {size / 1e6:.0f} MB; at most {most_bytes / 1e6:.0f} MB are read",
            where=str(path),
            remedy="give a smaller file",
        )
    return path.read_bytes()


def read_given(file: str, most_bytes: int = MOST_BYTES) -> bytes:
    """The bytes of a file, or of standard input where it is '-'.

    Raises
    ------
    InputError
        If it is larger than `most_bytes`.
    """
    if not file.strip():
        raise InputError("no file was named", remedy="name one, or say - for what is typed or piped in")
    if file != "-":
        return read_whole(Path(file), most_bytes)
    data = sys.stdin.buffer.read(most_bytes + 1)
    if len(data) > most_bytes:
        raise InputError(
            f"there is more than {most_bytes / 1e6:.0f} MB of it", where="standard input", remedy="give less"
        )
    return data


def stands(given: str) -> bool:
    """Whether there is a file of that name, or a pipe; a folder is none, nor is what is said at length."""
    try:
        return Path(given).exists() and not Path(given).is_dir()
    except OSError:
        return False


def text_of(file: str) -> str:
    """The text of a file, or of standard input where it is '-': UTF-8, UTF-16 or the code page of a spreadsheet.

    Raises
    ------
    InputError
        If it is no text, or too much of it.
    """
    from obverse.process import table_text

    return table_text(read_given(file, MOST_BYTES_OF_A_LIST), where="standard input" if file == "-" else file)


def pairs(given: Sequence[str] | None, option: str, example: str, *, of: str = "VALUE") -> list[tuple[str, str]]:
    """What stands on both sides of the equals sign.

    Raises
    ------
    InputError
        If a side is missing.
    """
    found = []
    for text in given or ():
        name, _, value = (part.strip() for part in text.partition("="))
        if not name or not value:
            raise InputError(f"{text!r} is not NAME={of}", where=option, remedy=f"write it like {example}")
        found.append((name, value))
    return found


def settings(given: Sequence[str] | None, option: str, example: str = "solvent_ml_per_l=8") -> dict[str, float]:
    """Controls given as NAME=NUMBER; whether the names are known is for the model to say.

    Raises
    ------
    InputError
        If one is not NAME=NUMBER.
    """
    return {
        name: parse_number(text, where=name, example=example)
        for name, text in pairs(given, option, example, of="NUMBER")
    }


def ask_before_replacing(path: Path, *, force: bool) -> None:
    """Let a file stand unless the person says otherwise: with --force, or when asked in the terminal.

    Raises
    ------
    InputError
        If the file stands and nobody said that it may go.
    """
    if force or not path.is_file():
        return
    if sys.stdin.isatty() and typer.confirm(f"{path} exists already. Replace it?"):
        return
    raise InputError(
        "there is a file of that name already", where=str(path), remedy="name another, or say --force to replace it"
    )


class _Typed(NamedTuple):
    """An argument as a person sees it, its parameter, and what stands there where nothing is typed."""

    shown: str
    parameter: str
    unsaid: object


def as_typed(command: Callable[..., Any], idle: Sequence[Idle] = ()) -> Callable[..., Any]:
    """The same command, whose numbers may be written as everywhere in the house, and which complains of what was typed.

    A decimal comma is understood; a complaint about a field of a document names the option that fills it; what was typed
    for nothing is said.
    """

    @functools.wraps(command)
    def typed(*given: Any, **named: Any) -> Any:
        straight = {name: _straight(named[name]) for name in _NAMES if name in named}
        if turned := [name for name, value in straight.items() if value != named[name]]:
            named |= straight
            shown = " and ".join(options[name].shown for name in turned)
            typer.echo(f"Marks that turn the way of reading were taken out of {shown}.", err=True)
        said = {
            name for name, value in named.items() if name in options and value not in (None, [], options[name].unsaid)
        }
        if told := not_used(idle, said, {name: option.shown for name, option in options.items()}):
            typer.echo(told, err=True)
        try:
            return command(*given, **named)
        except InputError as error:
            field = re.match(r"(?:\w+\[\d+\]\.)?(\w+): ", error.what)
            option = options.get(_FIELDS_OF.get(field[1], field[1])) if field else None
            # What nobody typed stood in a document, which has its own name.
            if field and option and named.get(option.parameter) not in (None, option.unsaid):
                error.where, error.what = option.shown, error.what[field.end() :]
            raise

    signature = inspect.signature(command, eval_str=True)
    options: dict[str, _Typed] = {}
    for parameter in signature.parameters.values():
        kind, *said = get_args(parameter.annotation) if hasattr(parameter.annotation, "__metadata__") else (None,)
        kinds = {kind, *get_args(kind)}
        if not said:
            continue
        is_argument = isinstance(said[0], type(typer.Argument()))
        # In an annotation the first name of an option stands where else its default does.
        names = (said[0].default, *(said[0].param_decls or ()))
        declared = [name for name in names if isinstance(name, str) and name.startswith("--")]
        option = parameter.name if is_argument else declared[0] if declared else f"--{parameter.name.replace('_', '-')}"
        shown = said[0].metavar.strip("[]") if is_argument and said[0].metavar else option
        field_of = _Typed(shown, parameter.name, parameter.default)
        options[parameter.name] = options[option.lstrip("-").replace("-", "_")] = field_of
        if kinds & {int, float}:
            # A parser of one's own has no type to be shown in the help.
            said[0].metavar = said[0].metavar or ("WHOLE NUMBER" if int in kinds else "NUMBER")
            said[0].parser = functools.partial(
                _number, option=option, whole=int in kinds, least=said[0].min, most=said[0].max
            )
    typed.__signature__ = signature  # type: ignore[attr-defined]
    return typed


def _straight(value: Any) -> Any:
    """What was typed, without marks that turn the way of reading."""
    if isinstance(value, list):
        return [_straight(one) for one in value]
    return without_turns(value) if isinstance(value, str) else value


def _number(text: str | float, *, option: str, whole: bool, least: float | None, most: float | None) -> float:
    """What was typed for a number, or what stands where nothing was typed."""
    example = "3" if whole else "12.5"
    try:
        number = float(text) if isinstance(text, int | float) else parse_number(text, where=option, example=example)
    except InputError as error:
        # A refusal of the house is a ValueError, and that typer would say in words of its own.
        raise typer.BadParameter(error.sentence.removeprefix(f"{option}: "), param_hint=option) from None
    if whole and not number.is_integer():
        raise typer.BadParameter(f"{text!r} is not a whole number; write it like {example}.", param_hint=option)
    if (least is not None and number < least) or (most is not None and number > most):
        if most is None:
            bounds = f"{least:g} or more"
        else:
            bounds = f"{most:g} or less" if least is None else f"between {least:g} and {most:g}"
        raise typer.BadParameter(f"{text!r} is out of reach; give a number that is {bounds}.", param_hint=option)
    return int(number) if whole else number


def with_home(command: Callable[..., Any]) -> Callable[..., Any]:
    """The same command with an option --home: while it runs, the notebook lives there."""

    @functools.wraps(command)
    def at_home(*given: Any, home: str = "", **named: Any) -> Any:
        from obverse.workbench.bootstrap import in_home

        with in_home(Path(home) if home else None):
            return command(*given, **named)

    signature = inspect.signature(command, eval_str=True)
    option = inspect.Parameter("home", inspect.Parameter.KEYWORD_ONLY, default="", annotation=HomeFolder)
    at_home.__signature__ = signature.replace(parameters=[*signature.parameters.values(), option])  # type: ignore[attr-defined]
    return at_home
