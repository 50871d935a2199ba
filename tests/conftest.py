"""What every test may use: a workbench in memory, and a web client that is let in."""

import gc
import os
from datetime import UTC, datetime

import pytest
from hypothesis import settings

from obverse.clock import FixedClock

# The same examples on every machine, so that a red suite is red for everybody; OBVERSE_EXPLORE=1 draws new ones.
# A busy machine breaks no law: no example has a time it must keep.
settings.register_profile("same", derandomize=True, deadline=None)
if not os.environ.get("OBVERSE_EXPLORE"):
    settings.load_profile("same")

# As the command does for itself; see obverse.cli.main.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# The thousands of tests and all libraries stay to the end: Python need not look through them again and again for what is
# not used any more, which took an eighth of all time.
gc.set_threshold(20_000, 20, 20)


def pytest_collection_finish():
    """What was collected is left alone from here on."""
    gc.collect()
    gc.freeze()


EVENING = datetime(2031, 11, 5, 19, 0, tzinfo=UTC)


@pytest.fixture
def clock() -> FixedClock:
    """A clock that stands still until moved: an evening in November."""
    return FixedClock(EVENING)


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
    return request.getfixturevalue("postgresql").database()


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
