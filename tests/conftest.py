"""What every test may use: a workbench in memory, and a web client that is let in."""

import gc
import os
import secrets
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import settings

from obverse.clock import FixedClock
from tests.longest_first import LONGEST_FIRST

# The same examples on every machine, so that a red suite is red for everybody; OBVERSE_EXPLORE=1 draws new ones.
# A busy machine breaks no law: no example has a time it must keep.
settings.register_profile("same", derandomize=True, deadline=None, max_examples=60)
if not os.environ.get("OBVERSE_EXPLORE"):
    settings.load_profile("same")

# As the command does for itself; see obverse.cli.main.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# The thousands of tests and all libraries stay to the end: Python need not look through them again and again for what is
# not used any more, which took an eighth of all time.
gc.set_threshold(20_000, 20, 20)


def pytest_collection_modifyitems(items):
    """Files that take long come first; within a file nothing is moved."""
    tests = Path(__file__).parent
    # Of the others those in a browser first: each is a story of its own.
    places = {tests / name: place for place, name in enumerate((*LONGEST_FIRST, "browser"))}
    items.sort(key=lambda item: places.get(item.path, places.get(item.path.parent, len(places))))


def pytest_collection_finish():
    """What was collected is left alone from here on."""
    gc.collect()
    gc.freeze()


EVENING = datetime(2031, 11, 5, 19, 0, tzinfo=UTC)


@pytest.fixture(scope="session", autouse=True)
def new_stores_are_copied():
    """What the migrations make of nothing is made by them once; further new SQLite stores begin as copies of it.

    Programs that tests start, and stores that hold something, go through the migrations themselves.
    """
    import sqlite3
    import threading

    from obverse.store.engine import Database

    migrate, one_at_a_time = Database._migrate, threading.Lock()
    made = sqlite3.connect(":memory:", check_same_thread=False)

    @contextmanager
    def raw(database: Database) -> Iterator[sqlite3.Connection]:
        with closing(database.engine.raw_connection()) as pooled:
            yield pooled.driver_connection

    def is_empty(connection: sqlite3.Connection) -> bool:
        return connection.execute("SELECT count(*) FROM sqlite_master").fetchone() == (0,)

    def copied(database: Database) -> None:
        with one_at_a_time:
            # Asked first as the store asks: what cannot be opened is told in its words.
            if database.engine.dialect.name != "sqlite" or database._version() is not None:
                migrate(database)
                return
            with raw(database) as connection:
                was_empty = is_empty(connection)
                if was_empty and not is_empty(made):
                    made.backup(connection)
                    # Every store is a darkroom of its own.
                    here = (secrets.token_hex(8), datetime.now(UTC).isoformat())
                    connection.execute("UPDATE darkrooms SET id = ?, since = ?", here)
                    connection.commit()
                    return
            migrate(database)
            if was_empty:
                with raw(database) as connection:
                    connection.backup(made)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Database, "_migrate", copied)
        yield
    made.close()


@pytest.fixture(scope="module")
def few_draws():
    """A file that uses it knows films by an eighth of the draws: pages and commands, whose words hang on no last digit.

    Where it uses `the_demo` too, that is named before this: the demo belongs to all.
    """
    from obverse.inference import fit, posterior

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(posterior, "DRAWS_BY_STRIPS", ((posterior.CURVED_STRIPS, 512),))
        patch.setattr(posterior, "FEWEST_DRAWS", 256)
        patch.setattr(fit, "STRIPS_IMAGINED", fit.STRIPS_IMAGINED // 8)
        yield


@pytest.fixture
def clock() -> FixedClock:
    """A clock that stands still until moved: an evening in November."""
    return FixedClock(EVENING)


@pytest.fixture(scope="session")
def the_demo(tmp_path_factory) -> Path:
    """A home in which the weeks of the demo were lived, once for all workers: to be copied, never opened."""
    import fcntl

    from obverse.inference.posterior import DRAWS_BY_STRIPS
    from obverse.workbench.demo import make_the_demo

    assert len(DRAWS_BY_STRIPS) > 1, "it is lived as it is shipped: name it before few_draws"
    place = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        # Each worker has a folder of its own in that of the run.
        place = place.parent
    home = place / "the-demo"
    with (place / "the-demo.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not home.exists():
            lived = tmp_path_factory.mktemp("lived")
            make_the_demo(lived)[0].close()
            lived.rename(home)
    return home


@pytest.fixture(scope="session")
def postgresql():
    """A running PostgreSQL server; `postgresql.database()` gives the address of a fresh database."""
    from tests.postgresql import Cluster, programs

    if programs() is None:
        pytest.skip("no PostgreSQL server is installed")
    cluster = Cluster()
    yield cluster
    cluster.close()


@pytest.fixture
def store_url(request):
    """Where the store of a test stands: in memory, or where `on_both` says."""
    if getattr(request, "param", "memory") == "memory":
        return "sqlite://"
    return request.getfixturevalue("postgresql").notebook()


@pytest.fixture
def workbench(tmp_path, clock, store_url):
    """A workbench over a store in memory (or where `on_both` says) and an empty home folder."""
    from obverse.workbench.bootstrap import open_workbench

    bench = open_workbench(tmp_path, url=store_url, clock=clock)
    yield bench
    bench.close()


@pytest.fixture
def client(workbench):
    """A web client at the right address, with the token of the page."""
    from fastapi.testclient import TestClient

    from obverse.web.app import create_app

    app = create_app(workbench)
    with TestClient(app, base_url="http://127.0.0.1", headers={"X-Obverse-Token": app.state.token}) as web:
        yield web
