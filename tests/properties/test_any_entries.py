"""Whatever was written, by whom, in which order, taken in from where: every page and every command still answers."""

import contextlib
import json
import tempfile
from datetime import timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from obverse.cli.main import run as command
from obverse.clock import FixedClock
from obverse.foundation import ObverseError
from obverse.store import KINDS
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench
from tests.conftest import EVENING
from tests.every_form import addresses
from tests.faults.kill import recipe_of

NAMES = st.sampled_from(["", "strip 1", "strip 2", "strip 1 (2)", "ß\N{COMBINING ACUTE ACCENT}", "x" * 120])
FILMS = st.sampled_from(["grey 100", "grey 100 (2)", "a/b?c#d", "<b>"])
STEPS = [{"log_exposure": x, "density": 2 - x} for x in (-1.0, 0.0, 1.0)]
# Bodies that no noun would write: of another program, of another time.
ODD = st.sampled_from(
    [{}, {"name": None}, {"what": "list"}, {"what": "series"}, {"film": "film", "trial": {"id": "strip 1"}}]
)

ENTRY = st.one_of(
    st.tuples(st.just("trial"), NAMES, st.booleans()),
    st.tuples(st.just("film"), FILMS),
    st.tuples(st.just("rename film"), FILMS),
    st.tuples(st.just("rename trial"), NAMES.filter(bool)),
    st.tuples(st.just("put aside"), st.sampled_from(["trial", "film", "recipe", "slide", "bottle", "run"])),
    st.tuples(st.just("old double"), NAMES.filter(bool)),
    st.tuples(st.just("odd"), st.sampled_from(KINDS), ODD),
    st.tuples(st.just("evening"), st.sampled_from(["planned", "running", "paused", "aborted"])),
    st.tuples(st.just("shelf")),
    st.tuples(st.just("recipe"), FILMS),
    st.tuples(st.just("slides")),
    st.tuples(st.just("reading")),
    st.tuples(st.just("room")),
    st.tuples(st.just("bring"), st.booleans()),
    st.tuples(st.just("take away")),
)

# Addresses that say in words what they still need, each with its answer.
ASKS = {
    "/pair": 404,  # a house that is not shared
    "/api/shelf/strength": 422,  # of which substance
    "/api/care/check": 422,  # which two
    "/api/bench/sheet": 422,  # which formula
    "/sink/plan": 422,  # which process; the form stands below
}


def film_of(bench):
    films = bench.notebook.films()
    return films[0].id if films else bench.notebook.add_film({"name": "grey 100", "box_speed": 100}, film_id="film").id


def newest(bench, kind):
    return sorted(bench.store.ids(kind))[-1]


def write(bench, entry, number):
    """One entry; a refusal is an answer too."""
    kind, *what = entry
    book, store = bench.notebook, bench.store
    if kind == "trial":
        book.add_trial(
            film_of(bench), {"id": what[0], "controls": {"solvent_ml_per_l": 5}, "steps": STEPS if what[1] else []}
        )
    elif kind == "film":
        book.add_film({"name": what[0], "box_speed": 100})
    elif kind == "rename film":
        book.change_film(film_of(bench), {"name": what[0], "box_speed": 50})
    elif kind == "rename trial":
        book.change_trial(newest(bench, "trial"), {"id": what[0]})
    elif kind == "put aside":
        store.retire(what[0], newest(bench, what[0]))
    elif kind == "old double":
        trial = {"id": what[0], "controls": {}, "steps": STEPS}
        store.put("trial", {"film": film_of(bench), "number": number, "trial": trial})
    elif kind == "odd":
        store.put(what[0], what[1])
    elif kind == "evening":
        run = bench.sink.begin({"route": "iron_ammonia_light", "tank_ml": 500})
        if what[0] != "planned":
            bench.sink.record(run, "start", {"kind": "started"})
        if what[0] == "paused":
            bench.sink.record(run, "pause", {"kind": "paused"})
        if what[0] == "aborted":
            bench.sink.record(run, "end", {"kind": "aborted", "text": "enough"})
    elif kind == "shelf":
        bench.shelf.add_generic("fixer_ats_60wv")
        bench.shelf.add_bottle({"name": "Fixer", "product": "fixer_ats_60wv", "amount": 100})
        bench.care.count_pass(bench.care.mix_bath("ammonia_bath", 500))
    elif kind == "recipe":
        from obverse.workbench.recipes import read_recipe_text

        bench.recipes.take_in(read_recipe_text(recipe_of(what[0])))
    elif kind == "slides":
        made = bench.slides.add_roll(f"roll {number}", 2)
        bench.slides.keep_list({"name": "an evening", "slides": [made[0].id]})
    elif kind == "reading":
        bench.light_table.keep_shot_list("card", -2, 2, 1, None)
        from obverse.process import Patch

        bench.light_table.keep_reading(tuple(Patch(**step) for step in STEPS), name="a list")
    elif kind == "room":
        bench.care.set_room(12, 1)


@pytest.fixture(scope="module")
def web():
    """One application; the notebook behind it is changed from example to example."""
    bench = open_workbench(Path(tempfile.gettempdir()), url="sqlite://")
    app = create_app(bench)
    with TestClient(app, base_url="http://127.0.0.1", headers={"X-Obverse-Token": app.state.token}) as client:
        yield client, app
    bench.close()


def pages(app, bench):
    """Every page and every reading address: whether it must answer with 200, or may say that there is nothing."""
    ids = {
        "film_id": bench.store.ids("film"),
        "trial_id": bench.store.ids("trial"),
        "recipe_id": bench.store.ids("recipe"),
        "run_id": bench.store.ids("run"),
        "key": bench.store.ids("product"),
        "id": bench.store.ids("bottle") | bench.store.ids("recipe") | bench.store.ids("picture"),
    }
    slow = ("/story", "/next", "/stream", "/faults", ".pdf", "/chart", "/sample", "openapi", "/card", "/air", "/help")
    for path in (route.path for route in addresses(app)):
        if any(part in path for part in slow):
            continue
        names = [part.split("}")[0] for part in path.split("{")[1:]]
        if not names:
            yield path, True
        elif len(names) == 1 and names[0] in ids:
            yield from ((path.replace("{" + names[0] + "}", id), False) for id in sorted(ids[names[0]]))


# Each example walks some hundred pages, so few are tried and each holds much; more random ones: max_examples.
@settings(max_examples=1, deadline=None, suppress_health_check=list(HealthCheck))
@example(
    [
        (0, ("old double", "strip 1")),
        (1, ("old double", "strip 1")),
        (0, ("trial", "", True)),
        (1, ("old double", "strip 2")),
        (0, ("trial", "strip 1", True)),
        (0, ("bring", False)),
        (1, ("trial", "", False)),
        (0, ("bring", True)),
        (1, ("take away",)),
    ]
)
@example(
    [(0, ("odd", kind, {"name": None})) for kind in KINDS]
    + [(1, ("shelf",)), (0, ("recipe", "<b>")), (1, ("slides",)), (0, ("reading",)), (1, ("room",))]
    + [
        (0, ("film", "a/b?c#d")),
        (1, ("rename film", "grey 100")),
        (0, ("put aside", "slide")),
        (1, ("put aside", "bottle")),
    ]
    + [(place % 2, ("evening", status)) for place, status in enumerate(("planned", "aborted", "paused", "running"))]
)
@given(st.lists(st.tuples(st.integers(0, 1), ENTRY), min_size=3, max_size=9))
def test_every_page_and_every_command_answers(web, monkeypatch, capsys, entries):
    client, app = web
    clock = FixedClock(EVENING)
    with contextlib.ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        url = f"sqlite:///{folder / 'notebook.sqlite'}"
        devices = [
            stack.enter_context(contextlib.closing(open_workbench(folder, url=url, clock=clock))) for _ in range(2)
        ]
        town = stack.enter_context(contextlib.closing(open_workbench(folder, url="sqlite://", clock=clock)))
        for number, (device, entry) in enumerate(entries):
            clock.advance(timedelta(seconds=7).total_seconds())
            with contextlib.suppress(ObverseError, IndexError):
                if entry[0] == "bring":
                    write(town, ("trial", "strip 1", True), number)
                    devices[device].take_in(town.export(), mine=[town.store.darkroom] if entry[1] else [])
                elif entry[0] == "take away":
                    town.take_in(devices[device].export())
                else:
                    write(devices[device], entry, number)
        for bench in (devices[1], town):
            app.state.workbench = bench
            if hasattr(app.state, "camera_room"):
                del app.state.camera_room  # it holds the notebook that was open before
            walked = list(pages(app, bench)) if bench is devices[1] else []
            assert len(walked) > 40 or bench is town
            for path, must in walked:
                answer = client.get(path)
                assert answer.status_code in (200, ASKS.get(path)) if must else answer.status_code < 500, (
                    path,
                    answer.text[-400:],
                )
            for film in bench.notebook.films():
                assert client.get(f"/notebook/{film.id}").status_code == 200
                names = [one.thing.trial.id for one in bench.notebook.trials(film.id)]
                assert len(names) == len(set(names))
            names = [film.thing.name for film in bench.notebook.films()]
            assert len(names) == len(set(names))
        for bench in devices:
            bench.close()
        # Opened anew, the doubles of an old home are told apart in the file itself.
        monkeypatch.setenv("OBVERSE_HOME", str(folder))
        monkeypatch.delenv("OBVERSE_DATABASE", raising=False)
        with contextlib.closing(open_workbench(folder, url=url, clock=clock)) as again:
            assert again.store.doubled_names() == (set(), False)
            films = [film.id for film in again.notebook.films()]
        capsys.readouterr()
        for arguments in (["show"], ["recipe", "list"], ["check-store"], *(["show", film] for film in films)):
            assert command(arguments) == 0, (arguments, capsys.readouterr())
        capsys.readouterr()
        assert command(["export", "-"]) == 0
        assert json.loads(capsys.readouterr().out)["format"] == "obverse-notebook"
