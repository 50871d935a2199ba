"""The darkroom of this computer, opened at most once for one command."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from obverse.workbench.bootstrap import Workbench


class _Call:
    """What one command has opened; closed when it ends."""

    def __init__(self) -> None:
        self.held = ExitStack()
        self.bench: Workbench | None = None


_call: ContextVar[_Call | None] = ContextVar("_call", default=None)


@contextmanager
def one_opening() -> Iterator[None]:
    """While it lasts, the notebook is opened at most once."""
    call = _Call()
    with call.held:
        before = _call.set(call)
        try:
            yield
        finally:
            _call.reset(before)


@contextmanager
def darkroom(url: str | None = None) -> Iterator[Workbench]:
    """The workbench of a command; what it is made of is loaded only now.

    Parameters
    ----------
    url : str, optional
        Of a database; absent: the notebook of this home, which stays open until the command ends.
    """
    from obverse.workbench.bootstrap import open_workbench

    call = _call.get()
    if url is not None or call is None:
        with closing(open_workbench(url=url)) as bench:
            yield bench
        return
    if call.bench is None:
        call.bench = call.held.enter_context(closing(open_workbench()))
    yield call.bench
