"""The command, and the one place where the terminal face turns errors into words."""

from __future__ import annotations

import contextlib
import errno
import gc
import os
import re
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, cast

import typer

from obverse import __version__
from obverse.cli import bench, camera, house, light_table, notebook, pool, processes, projector, recipes, safety, sink
from obverse.cli.arguments import as_typed, with_home
from obverse.cli.darkroom import one_opening
from obverse.cli.idle import IDLE
from obverse.cli.telling import one_call, refusal_told, with_units
from obverse.foundation import ObverseError, on_one_line
from obverse.system import let_everything_be_said

if TYPE_CHECKING:
    from typer.models import CommandInfo

# What a command loads stays to its end; looking through it after every 700 new things for what is not used any more (the
# usual number) took an eighth of the time a command needs. Enough to find by then: some megabytes.
NEW_THINGS_BEFORE_A_LOOK = 20_000

_PLACES = (house, bench, safety, sink, light_table, camera, notebook, recipes, processes, pool, projector)

# These read what they are given and never open a notebook; the demo has a home of its own.
HOMELESS = frozenset(
    {"demo", "schema", "sources", "routes", "destroy", "air", "curve", "shots", "list", "read", "next"}
)

# These tell temperatures, volumes, masses or lengths, or print a sheet that does.
TELLS_AMOUNTS = frozenset(
    {
        *("mix", "adapt", "check", "routes", "destroy", "run", "sheet"),
        *("show", "curve", "next", "trial", "trials", "book", "card", "wall"),
        *("process show", "process compare", "process check", "recipe diff", "recipe adapt"),
    }
)

MOST_SIGNS_OF_A_NAME = 160  # told of a file that cannot be read; what else stands there helps nobody

EXIT_DONE = 0
EXIT_MISTAKE = 1
EXIT_BAD_INPUT = 2
EXIT_STOPPED = 130  # as shells count what an interrupt ended: 128 and its number
EXIT_CODES = "Exit codes: 0 done, 1 a mistake of ours, 2 bad input, 3 unsafe and refused, 130 stopped by you."

# The base of every complaint about options and arguments; typer does not export it by name.
_Complaint = cast(type[typer.BadParameter], typer.BadParameter.__mro__[2])


def build(asked: str = "") -> typer.Typer:
    """The command with the commands of every place; or of one alone, where its name is the first word that was typed."""
    app = typer.Typer(
        name="obverse",
        add_completion=True,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
    )

    @app.callback(invoke_without_command=True, epilog=EXIT_CODES)
    def _top(
        context: typer.Context,
        version: bool = typer.Option(
            False, "--version", help="Print the version and stop.", is_eager=True, callback=_version
        ),
    ) -> None:
        """A bench book that computes: black-and-white slides from ordinary negative film.

        Example: obverse demo
        """
        if context.invoked_subcommand is None:
            typer.echo(context.get_help())

    for place in _PLACES:
        place.register(app)
    # To look through the options of all fifty takes as long as loading numpy. A name that is none leaves them all, so that those
    # written alike can be told.
    if mine := [one for one in app.registered_commands if _name(one) == asked]:
        app.registered_commands, app.registered_groups = mine, []
    elif groups := [one for one in app.registered_groups if one.name == asked]:
        app.registered_commands, app.registered_groups = [], groups
    for prefix, group in (("", app), *((f"{one.name} ", one.typer_instance) for one in app.registered_groups)):
        for command in group.registered_commands if group is not None else ():
            name = prefix + _name(command)
            command.epilog = EXIT_CODES
            if command.callback is not None:
                command.callback = as_typed(command.callback, IDLE.get(name, ()))
            if command.callback is not None and name in TELLS_AMOUNTS:
                command.callback = with_units(command.callback)
            if command.callback is not None and name not in HOMELESS:
                command.callback = with_home(command.callback)
    return app


def _name(command: CommandInfo) -> str:
    return command.name or getattr(command.callback, "__name__", "").replace("_", "-")


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"obverse {__version__}")
        raise typer.Exit


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command and leave with its exit code: 0 done, 2 bad input, 3 unsafe and refused."""
    gc.set_threshold(NEW_THINGS_BEFORE_A_LOOK)
    code = run(arguments)
    # Looking through all that was loaded once more, only to leave, took a fifth of a short command.
    gc.freeze()
    sys.exit(code)


def run(arguments: Sequence[str] | None = None) -> int:
    """Run the command; every failure becomes one sentence on stderr and an exit code."""
    let_everything_be_said()
    with one_opening(), one_call():
        return _run(arguments)


def _run(arguments: Sequence[str] | None) -> int:
    try:
        words = list(sys.argv[1:] if arguments is None else arguments)
        result = build(words[0] if words else "")(args=words, prog_name="obverse", standalone_mode=False)
        sys.stdout.flush()
        return result if isinstance(result, int) else EXIT_DONE
    except ObverseError as error:
        return _say(refusal_told(error.sentence), error.exit_code)
    except typer.Exit as stop:
        return stop.exit_code
    except _Complaint as error:
        return _say(_complaint_words(error), EXIT_BAD_INPUT)
    except (typer.Abort, KeyboardInterrupt):
        return _say("stopped; what was stored is whole.", EXIT_STOPPED)
    except BrokenPipeError:
        # The reader of our output went away (such as `| head`); nobody is left to be told.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return EXIT_DONE
    except OSError as error:
        return _say(_os_words(error), EXIT_BAD_INPUT)
    except MemoryError:
        return _say(
            "the computer has too little memory for this; close other programs or give a smaller file.", EXIT_BAD_INPUT
        )
    except RecursionError:
        return _say("the input is nested too deeply; give a simpler file.", EXIT_BAD_INPUT)
    except Exception as error:
        if os.environ.get("OBVERSE_TRACE"):
            raise
        kind = " ".join(f"{type(error).__name__}: {error}".split())
        return _say(
            f"this is a mistake of ours, not of yours ({kind}); what was stored is whole; OBVERSE_TRACE=1 shows where.",
            EXIT_MISTAKE,
        )


def _say(sentence: str, code: int) -> int:
    with contextlib.suppress(OSError):  # nobody reads stderr; the exit code still tells
        print(sentence, file=sys.stderr)
    return code


def _complaint_words(error: typer.BadParameter) -> str:
    """What is wrong with the command line; a command that is none gets those that are written alike."""
    told = error.format_message()
    if invalid := re.match(r"Invalid value for '?(.+?)'?: (?:Value error, )?(.*)", told, re.DOTALL):
        return f"{invalid[1]}: {invalid[2]}"
    unknown = re.match(r"No such command '(.*?)'", told)
    if unknown is None or error.ctx is None:
        return told
    names = list(getattr(error.ctx.command, "commands", {}))
    import difflib

    # An unfinished name counts as well as a mistyped one.
    alike = [n for n in names if n.startswith(unknown[1])] or difflib.get_close_matches(unknown[1], names)
    way_on = (
        f"did you mean {' or '.join(alike)}?" if alike else f"`{error.ctx.command_path} --help` lists the commands."
    )
    return f"there is no command {unknown[1]!r}; {way_on}"


def _os_words(error: OSError) -> str:
    name = on_one_line(str(error.filename or "")).strip()
    shown = name if len(name) <= MOST_SIGNS_OF_A_NAME else f"{name[:MOST_SIGNS_OF_A_NAME]}..."
    place = f"{shown}: " if shown else ""
    words = {
        errno.ENOSPC: "the disk is full; make room and try again.",
        errno.EDQUOT: "your share of the disk is full; make room and try again.",
        errno.ENOENT: "there is no such file; check the name.",
        errno.EACCES: "it may not be read or written; check the permissions.",
        errno.ENAMETOOLONG: "no file can have so long a name; check the name.",
        errno.EISDIR: "this is a folder; name a file.",
        errno.EADDRINUSE: "the port is taken by another program; choose another with --port.",
    }
    return place + words.get(error.errno or 0, f"the computer says: {error.strerror or error}.")


if __name__ == "__main__":
    main()
