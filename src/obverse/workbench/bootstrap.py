"""Build the workbench: the one place that chooses the real clock, the real store and the home folder."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from obverse.clock import Clock, SystemClock
from obverse.foundation import StoreError
from obverse.store import Store, open_store
from obverse.workbench.bench import Bench
from obverse.workbench.light_table import LightTable
from obverse.workbench.notebook import Notebook
from obverse.workbench.projector import Projector
from obverse.workbench.shelf import Shelf
from obverse.workbench.sink import Sink


@dataclass(frozen=True)
class Workbench:
    """The six places of the darkroom over one store and one clock."""

    store: Store
    clock: Clock
    home: Path
    shelf: Shelf
    bench: Bench
    sink: Sink
    light_table: LightTable
    notebook: Notebook
    projector: Projector

    def close(self) -> None:
        """Let go of the store."""
        self.store.close()


def home_folder() -> Path:
    """Where the notebook lives: `OBVERSE_HOME`, else the data folder of the desktop (XDG)."""
    own = os.environ.get("OBVERSE_HOME")
    if own:
        return Path(own).expanduser()
    data = os.environ.get("XDG_DATA_HOME")
    return (Path(data) if data else Path.home() / ".local" / "share") / "obverse"


def open_workbench(home: Path | None = None, *, url: str | None = None, clock: Clock | None = None) -> Workbench:
    """Open the workbench.

    Parameters
    ----------
    home : Path, optional
        The data folder; made where it is missing. Default: `home_folder()`.
    url : str, optional
        Address of the store: ``"sqlite://"`` for a twin in memory, or a PostgreSQL URL. Default:
        `OBVERSE_DATABASE`, else the file ``notebook.sqlite`` in `home`.
    clock : Clock, optional
        Default: the clock of this computer.

    Raises
    ------
    StoreError
        If the folder or the store cannot be opened.
    """
    home = home or home_folder()
    clock = clock or SystemClock()
    try:
        home.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"the data folder cannot be made ({error.strerror})",
            where=str(home),
            remedy="set OBVERSE_HOME to a folder you may write",
        ) from error
    url = url or os.environ.get("OBVERSE_DATABASE") or f"sqlite:///{home / 'notebook.sqlite'}"
    store = open_store(url, now=clock.now)
    shared = (store, clock, home)
    return Workbench(
        store=store,
        clock=clock,
        home=home,
        shelf=Shelf(*shared),
        bench=Bench(*shared),
        sink=Sink(*shared),
        light_table=LightTable(*shared),
        notebook=Notebook(*shared),
        projector=Projector(*shared),
    )
