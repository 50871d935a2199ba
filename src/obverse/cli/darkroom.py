"""The darkroom of this computer, opened for one command."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from obverse.workbench.bootstrap import Workbench


@contextmanager
def darkroom(url: str | None = None) -> Iterator[Workbench]:
    """The workbench while a command needs it; what it is made of is loaded only then.

    Parameters
    ----------
    url : str, optional
        Of a database; absent: the notebook of this home.
    """
    from obverse.workbench.bootstrap import open_workbench

    bench = open_workbench(url=url)
    try:
        yield bench
    finally:
        bench.close()
