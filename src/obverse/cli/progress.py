"""How far something is that takes a while: a line on stderr that goes away again, and nothing where nobody watches."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator
from typing import IO


@contextlib.contextmanager
def watched(what: str, stream: IO[str] | None = None) -> Iterator[Callable[[float, str], None]]:
    """Show how far work is while it goes on.

    Parameters
    ----------
    what : str
        What is done, such as ``"reading the pictures"``.
    stream : file, optional
        Where it is shown; absent: stderr. Where that is no terminal nothing is shown, so that what is piped stays clean.

    Yields
    ------
    callable
        Takes the share that is done, 0 to 1, and words for what is done now. Where it is never called the line only says that work goes on.
    """
    stream = stream or sys.stderr
    if not stream.isatty():
        yield lambda share, words: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    columns = (SpinnerColumn("line"), TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(file=stream), transient=True) as shown:
        task = shown.add_task(what, total=None)
        yield lambda share, words: shown.update(task, total=1.0, completed=share, description=words)
