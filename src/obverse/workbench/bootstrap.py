"""The composition root: chooses the clock, the store and the data folder, and puts the places together."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from pathlib import Path
from typing import TYPE_CHECKING, Generic, TypeVar, overload

from obverse.clock import Clock, SystemClock
from obverse.foundation import InputError, JsonObject, ObverseError, StoreError, UnsafeError
from obverse.system import Home, close_to_others, find_home, make_private_folder

if TYPE_CHECKING:
    from sqlalchemy import URL

    from obverse.store import Keep, Store
    from obverse.store.copying import Contents
    from obverse.store.exchange import WrittenNotebook
    from obverse.workbench.backup import Backup, BackupLine
    from obverse.workbench.bench import Bench
    from obverse.workbench.camera import Camera
    from obverse.workbench.care import Care
    from obverse.workbench.duty import Duty
    from obverse.workbench.exchange import Checked
    from obverse.workbench.light_table import LightTable
    from obverse.workbench.notebook import Notebook
    from obverse.workbench.people import People
    from obverse.workbench.pool import Lending
    from obverse.workbench.processes import Processes
    from obverse.workbench.projector import Projector
    from obverse.workbench.recipes import Recipes
    from obverse.workbench.roll import Rolls
    from obverse.workbench.shelf import Shelf
    from obverse.workbench.sink import Sink
    from obverse.workbench.slides import Slides
    from obverse.workbench.start import StandingNow
    from obverse.workbench.units import Units
    from obverse.workbench.whose import Belongings

P = TypeVar("P")

NOTEBOOK = "notebook.sqlite"


class _Place(Generic[P]):
    """A place that is put up when it is first entered, once for all who enter; a command loads only what it uses."""

    def __init__(self, build: Callable[[Workbench], P]):
        self._build = build
        self.__doc__ = build.__doc__

    def __set_name__(self, owner: type, name: str) -> None:
        self._name = name

    @overload
    def __get__(self, bench: None, owner: type) -> _Place[P]: ...
    @overload
    def __get__(self, bench: Workbench, owner: type) -> P: ...
    def __get__(self, bench: Workbench | None, owner: type) -> _Place[P] | P:
        if bench is None:
            return self
        with bench._entering:
            if self._name not in bench.__dict__:
                bench.__dict__[self._name] = self._build(bench)
        built: P = bench.__dict__[self._name]
        return built


class Workbench:
    """The places of the darkroom over one store, one clock and one data folder.

    This is the one place that puts the others together: each gets those it works with handed in, so that
    what one remembers is remembered for all.
    """

    def __init__(self, store: Store, clock: Clock, home: Path):
        self.store = store
        self.clock = clock
        self.home = home
        self._entering = threading.RLock()
        self._backing_up = threading.Lock()
        self._backup_asked = ""

    @property
    def _ground(self) -> tuple[Store, Clock, Path]:
        return self.store, self.clock, self.home

    @_Place
    def shelf(self) -> Shelf:
        """Bottles, tools, what can be made of them."""
        from obverse.workbench.shelf import Shelf

        return Shelf(*self._ground)

    @_Place
    def care(self) -> Care:
        """Kept baths, waste jugs, hazards, the air of the room."""
        from obverse.workbench.care import Care

        return Care(*self._ground)

    @_Place
    def bench(self) -> Bench:
        """Mix sheets."""
        from obverse.workbench.bench import Bench

        return Bench(*self._ground, self.shelf)

    @_Place
    def processes(self) -> Processes:
        """Processes: the person's own and those that are shipped."""
        from obverse.workbench.processes import Processes

        return Processes(*self._ground, self.shelf)

    @_Place
    def recipes(self) -> Recipes:
        """Locked recipes."""
        from obverse.workbench.recipes import Recipes

        return Recipes(*self._ground, self.shelf)

    @_Place
    def sink(self) -> Sink:
        """Evenings."""
        from obverse.workbench.sink import Sink

        return Sink(*self._ground, self.care, self.notebook, self.bench, self.shelf)

    @_Place
    def light_table(self) -> LightTable:
        """Readings and curves."""
        from obverse.workbench.light_table import LightTable

        return LightTable(*self._ground)

    @_Place
    def camera(self) -> Camera:
        """Pictures and what was read from them."""
        from obverse.workbench.camera import Camera

        return Camera(*self._ground)

    @_Place
    def notebook(self) -> Notebook:
        """Films, trials, what they taught."""
        from obverse.workbench.notebook import Notebook

        return Notebook(*self._ground, self.light_table, self.pool)

    @_Place
    def people(self) -> People:
        """Who works at this bench."""
        from obverse.workbench.people import People

        return People(*self._ground)

    @_Place
    def belongings(self) -> Belongings:
        """Whose films, formulas and recipes are."""
        from obverse.workbench.whose import Belongings

        return Belongings(*self._ground)

    @_Place
    def pool(self) -> Lending:
        """What is lent to other darkrooms, and what they lent."""
        from obverse.workbench.pool import Lending

        return Lending(*self._ground)

    @_Place
    def slides(self) -> Slides:
        """Frames and the order they are shown in."""
        from obverse.workbench.slides import Slides

        return Slides(*self._ground)

    @_Place
    def projector(self) -> Projector:
        """The picture on the wall."""
        from obverse.workbench.projector import Projector

        return Projector(*self._ground, self.notebook, self.slides)

    @_Place
    def rolls(self) -> Rolls:
        """Finished rolls against their exposure notes."""
        from obverse.workbench.roll import Rolls

        return Rolls(*self._ground, self.notebook, self.projector)

    @_Place
    def units(self) -> Units:
        """In which units this person reads."""
        from obverse.workbench.units import Units

        return Units(*self._ground)

    def where_one_stands(self) -> StandingNow:
        """What the start page says: what must not wait, films, runs, what to do next."""
        from obverse.workbench.start import where_one_stands

        return where_one_stands(self.store, self.duties())

    def duties(self) -> tuple[Duty, ...]:
        """Used baths that must be destroyed, the oldest clock first."""
        from obverse.workbench.duties import duties_of

        return duties_of(self.care, self.sink)

    def once(self, entry: str, work: Callable[[], JsonObject]) -> JsonObject:
        """Do the work of an entry in one transaction; sent again, its first answer is given. See `Store.once`."""
        return self.store.once(entry, work)

    def export(self) -> WrittenNotebook:
        """Everything that is kept, as one document."""
        return self.store.export()

    def take_in(self, document: JsonObject, *, mine: Collection[str] = (), keep: Keep | None = None) -> dict[str, int]:
        """Take in an exported document: all of it or nothing; `mine` and `keep` as `take_in_notebook`."""
        from obverse.workbench.exchange import take_in_notebook

        return take_in_notebook(self.store, document, mine=mine, keep=keep)

    def from_elsewhere(self) -> dict[str, int]:
        """How many things of other people's darkrooms stand here, by the id of the darkroom."""
        return self.store.from_elsewhere()

    def check(self) -> Checked:
        """Look the notebook through and mend what can be mended."""
        from obverse.workbench.exchange import check_notebook

        return check_notebook(self.store)

    def back_up_again(self, request_id: str) -> None:
        """A backup where the last one stands; a press that comes twice, or while the first is at work, makes one."""
        with self._backing_up:
            if not request_id or request_id != self._backup_asked:
                self.back_up()
                self._backup_asked = request_id

    def back_up(self, folder: Path | None = None) -> Backup:
        """Copy everything into a new file in `folder` (where the last backup stands, if it is not given).

        Raises
        ------
        InputError
            If there is nothing to back up, or no folder is known.
        """
        from obverse.store.copying import is_empty
        from obverse.workbench.backup import back_up, last_backup

        if is_empty(self.store):
            raise InputError("nothing is kept here yet", where=self.store.place, remedy="back up when there is")
        if folder is None:
            last = last_backup(self.home)
            if last is None:
                raise InputError(
                    "no folder is known for backups", remedy="make the first one with `obverse backup FOLDER`"
                )
            folder = Path(last.file).parent
        return back_up(self.store, folder, self.home, self.clock.now())

    def restore(self, backup: Path) -> Contents:
        """Take a backup into this notebook, which must be empty."""
        from obverse.workbench.backup import restore

        return restore(backup, self.store, self.home)

    def backup_line(self) -> BackupLine | None:
        """What the house says of backups; None where there is nothing to lose yet."""
        from obverse.workbench.backup import backup_line

        return backup_line(self.store, self.home, self.clock.now())

    @property
    def kept_in(self) -> str:
        """Where everything is kept, in words a person can follow."""
        return self.store.place

    def reckon_ahead(self) -> None:
        """Reckon what many will ask for at once, so that the first of them need not wait; what fails here is told when it is asked for."""
        with suppress(ObverseError):
            self.shelf.openings()
            self.care.shelf_findings()
            for kept in self.recipes.all():
                with suppress(InputError, UnsafeError):
                    self.recipes.from_my_bottles(self.recipes.export(kept.id), self.sink.tank_ml_of(kept.thing.route))
            for film in self.notebook.films():
                self.notebook.story(film.id)
                self.notebook.next_strips(film.id)

    def close(self) -> None:
        """Let go of the store."""
        self.store.close()


def this_computers_clock() -> Clock:
    """The clock of this computer, for what needs no workbench."""
    return SystemClock()


_told_home: ContextVar[Path | None] = ContextVar("_told_home", default=None)


@contextmanager
def in_home(folder: Path | None) -> Iterator[None]:
    """While it lasts, the notebook lives in `folder`; None changes nothing."""
    before = _told_home.set(folder or _told_home.get())
    try:
        yield
    finally:
        _told_home.reset(before)


def home() -> Home:
    """Where the notebook lives, and how that was found: --home, `OBVERSE_HOME`, the data folder of this system, an older one."""
    return find_home(_told_home.get(), lambda folder: (folder / NOTEBOOK).is_file())


def home_folder() -> Path:
    """Where the notebook lives."""
    return home().folder


def has_notebook() -> bool:
    """Whether there is a notebook to open: a file in the data folder, or a database that the settings name."""
    return bool(os.environ.get("OBVERSE_DATABASE")) or (home_folder() / NOTEBOOK).exists()


def _private_folder(home: Path) -> None:
    """Make the folder for its owner alone; one that held a notebook before is closed to others too."""
    make_private_folder(home)
    if home != Path.home() and any((home / name).exists() for name in (NOTEBOOK, "secret")):
        close_to_others(home)


def open_workbench(home: Path | None = None, *, url: str | URL | None = None, clock: Clock | None = None) -> Workbench:
    """Open the workbench.

    Parameters
    ----------
    home : Path, optional
        The data folder; made where it is missing. Default: `home_folder()`.
    url : str or URL, optional
        Address of the store: ``"sqlite://"`` for a twin in memory, or a PostgreSQL URL. Default:
        `OBVERSE_DATABASE`, else the file ``notebook.sqlite`` in `home`.
    clock : Clock, optional
        Default: the clock of this computer.

    Raises
    ------
    StoreError
        If the folder or the store cannot be opened.
    """
    from obverse.store import file_address, open_store
    from obverse.workbench.names import heal_names

    home = home or home_folder()
    clock = clock or SystemClock()
    try:
        _private_folder(home)
    except OSError as error:
        raise StoreError(
            f"the data folder cannot be made ({error.strerror})",
            where=str(home),
            remedy="set OBVERSE_HOME to a folder you may write",
        ) from error
    url = url or os.environ.get("OBVERSE_DATABASE") or file_address(home / NOTEBOOK)
    store = open_store(url, now=clock.now)
    # Names that stood twice, from before they were told apart at writing, are told apart now.
    heal_names(store)
    # Pictures' bytes that a kill left without a record, from before both were written together, are cleared.
    store.clear_orphans()
    return Workbench(store, clock, home)
