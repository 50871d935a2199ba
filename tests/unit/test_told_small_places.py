"""What the smaller places tell and where they end: people, whose a thing is, parts of a list, the clock of a computer, folders of a pool, a cluster, the first page."""

from __future__ import annotations

import inspect
import json
import sys
from collections.abc import Callable
from concurrent.futures import Executor, Future
from concurrent.futures.process import BrokenProcessPool
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from obverse.clock import FixedClock
from obverse.foundation import Estimate
from obverse.inference import OFFSETS, UNKNOWNS
from obverse.process import Bottle, Trial
from obverse.process.catalog import products
from obverse.store import Stored
from obverse.store.records import TrialEntry
from obverse.system import Home
from obverse.workbench import past_strips, pool_learning, pool_sources, start
from obverse.workbench.bootstrap import Workbench, open_workbench
from obverse.workbench.people import MOST_PEOPLE, People, Person
from obverse.workbench.pool_learning import cluster
from obverse.workbench.pool_prior import population_of, said_of
from obverse.workbench.pool_sources import PoolSource, document_of, index_of, prior_from, read_pool
from obverse.workbench.remembered import Remembered
from obverse.workbench.seek import ListAsked, ListedBy, seek
from obverse.workbench.stock import bottle_told, day_words, stock_told
from obverse.workbench.story import LearnedRow, taught_by_words
from obverse.workbench.this_computer import begin_clock_trial, clock_standing, end_clock_trial, home_words, trial_words
from obverse.workbench.wear import developer_wear, wear_text
from obverse.workbench.whose import Whose
from obverse.workbench.words import free_id, grades_text, id_from
from tests.told_kept import told_as_kept
from tests.unit.test_recipes import recipe_of
from tests.unit.test_told_everything import outcome

EVENING = datetime(2031, 11, 5, 19, 0, tzinfo=UTC)


@pytest.fixture
def clock():
    return FixedClock(EVENING)


@pytest.fixture
def bench(tmp_path, clock):
    opened = open_workbench(tmp_path / "home", url="sqlite://", clock=clock)
    yield opened
    opened.close()


def people(bench: Workbench) -> dict[str, Any]:
    places = People(bench.store, FixedClock(EVENING), None)
    found: dict[str, Any] = {
        name: outcome(lambda name=name: places.add(name).thing.name)
        for name in ("K.", " K . ", "k.", "", "  ", "--", "x" * 40, "x" * 41, "a\x07b", "Ida  Maria", "ida maria")
    }
    found["in order"] = [[kept.thing.name, kept.id[:7]] for kept in places.all()]
    found["known"] = [places.knows("K."), places.knows("k."), places.knows("L.")]
    crowd = [SimpleNamespace(thing=Person(name=f"P{number}")) for number in range(MOST_PEOPLE)]
    for count in (499, 500):
        places.all = lambda count=count: crowd[:count]  # type: ignore[method-assign, assignment, return-value]
        found[f"one more than {count}"] = outcome(lambda: places.add("New").thing.name)
    return found


def belongings(bench: Workbench) -> dict[str, Any]:
    whose, found = bench.belongings, dict[str, Any]()
    for person in ("", "K.", "K.", "L.", "K.", "L."):
        whose.touched("film", "x", person)
        found[f"{len(found)} {person}"] = whose.of("film", "x")
    whose.touched("recipe", "x", "M.")
    found["of films"], found["of bottles"] = whose.of_all("film"), whose.of_all("bottle")
    found["sentences"] = [
        Whose(person=person, changed_by=by).sentence for person in ("", "K.", "ida") for by in ("", "L.")
    ]
    return found


def parts(bench: Workbench) -> dict[str, Any]:
    by = ListedBy(text=lambda one: one.thing, orders={"name": lambda one: one.thing, "backwards": lambda one: -one.id})

    def listed(count: int, aside: int = 0) -> list[Any]:
        return [
            SimpleNamespace(
                id=n, thing=f"n{n:03} é" if n % 2 else f"n{n:03}", retired_at=EVENING if n < aside else None
            )
            for n in range(count)
        ]

    found: dict[str, Any] = {}
    for count, aside, asked in (
        (0, 0, {}), (1, 0, {}), (2, 0, {}), (1, 1, {}), (40, 0, {}), (41, 0, {}), (41, 0, {"part": 2}), (81, 0, {"part": 2}), (81, 0, {"part": 9}), (41, 3, {"shown": "aside"}),
        (5, 0, {"sort": "backwards"}), (5, 0, {"sort": "no such"}), (5, 0, {"find": "E n00"}), (5, 0, {"find": "n 7"}), (0, 0, {"find": "x"}), (3, 0, {"shown": "aside"}),
    ):  # fmt: skip

        def told(count: int = count, aside: int = aside, asked: dict[str, Any] = asked) -> Any:
            got = seek(listed(count, aside), ListAsked(**asked), by)
            rows: list[Stored[Any]] = list(got.rows)
            return [[one.thing for one in (*rows[:1], *rows[-1:])], len(rows), got.matching, got.total, got.aside, got.parts, got.asked.part, got.asked.sort, got.told, got.empty_by_asking]  # fmt: skip

        found[f"{count}, {aside} aside, {asked}"] = outcome(told)
    return found


def clocks(bench: Workbench) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for counts in (True, False):
        home, clock = bench.home / f"clock {counts}", FixedClock(EVENING, counts_sleep=counts)
        home.mkdir()

        def standing(home: Path = home, clock: FixedClock = clock) -> Any:
            return [clock_standing(clock, home).document(), clock_standing(clock, home).sentence]

        told: list[Any] = [standing(), outcome(lambda home=home, clock=clock: end_clock_trial(clock, home))]
        for slept_s in (60.0, 0.5):
            clock.sleep(slept_s)
            told.append([slept_s, standing()])
        happenings: tuple[tuple[str, Callable[[], Any]], ...] = (
            ("awake", lambda clock=clock: clock.advance(90)), ("started anew", lambda clock=clock: clock.start_anew(90)),
            ("the date set", lambda clock=clock: (clock.sleep(90), clock.set_date(500))), ("slept", lambda clock=clock: clock.sleep(90)),
        )  # fmt: skip
        for name, happens in happenings:
            begin_clock_trial(clock, home)
            trying = clock_standing(clock, home).trying
            happens()
            slept = end_clock_trial(clock, home)
            told.append([name, trying, slept, trial_words(slept), standing()])
        (home / "clock.json").write_text("{")
        found[f"counts sleep: {counts}"] = [*told, standing()]
    for how in ("told", "variable", "usual", "older"):
        for beside in (None, Path("old")):
            found[f"home {how}, beside {beside}"] = home_words(Home(Path("new"), how, beside))  # type: ignore[arg-type]
    return found


def stock(bench: Workbench) -> dict[str, Any]:
    today, key = date(2031, 11, 5), "fixer_ats_60wv"

    def bottle(amount: float | None, days: int | None = None, **more: Any) -> Bottle:
        expires = None if days is None else today + timedelta(days=days)
        return Bottle(name="Mine", product=key, amount=amount, expires_on=expires, **more)

    bottles = [bottle(amount, days) for amount in (None, 0.0, 1.0) for days in (None, -1, 0, 1)]
    found: dict[str, Any] = {
        "a bottle": [[one.amount, str(one.expires_on), bottle_told(one, today)] for one in bottles]
    }
    for name, asked, held in (
        ("enough", {key: 100.0}, [100.0]), ("all but a drop", {key: 100.0}, [99.5]), ("a drop short", {key: 100.0}, [99.49]), ("of two", {key: 100.0}, [60.0, 39.0]),
        ("one of two unmeasured", {key: 100.0}, [1.0, None]), ("empty", {key: 100.0}, [0.0]), ("one empty", {key: 100.0}, [0.0, 100.0]), ("no bottle", {key: 100.0}, []), ("another", {"x": 1.0}, [1.0]),
    ):  # fmt: skip
        found[name] = stock_told(asked, products(), [bottle(amount, -1) for amount in held], today)
    found["a solid"] = stock_told(
        {"soda_ash": 10}, products(), [Bottle(name="Ash", product="soda_ash", amount=4)], today
    )
    found["a day"] = [day_words(date(2031, 1, 2)), day_words(date(2030, 12, 31))]
    found["worn by three films"] = [developer_wear(3.0), developer_wear(3.0, 500.0), developer_wear(3.0, 1000.0)]
    found["worn"] = [
        wear_text(wear)
        for wear in ({}, {"bleach": 0.0}, {"first_developer": 0.254, "bleach": 0.5, "second_developer": 1.0})
    ]
    return found


def folders(bench: Workbench) -> dict[str, Any]:
    folder = bench.home / "pool"
    deepest = folder / "1" / "2" / "3" / "4" / "5"
    deepest.mkdir(parents=True)
    (folder / ".hidden").mkdir()
    for place in (folder, deepest.parent, deepest, folder / ".hidden"):
        (place / "a.json").write_text("{}")
        (place / "b.txt").write_text("{}")
    (folder / "obverse-pool-index.json").write_text("{}")
    (folder / "link.json").symlink_to(folder / "a.json")
    for name, size in (("as long.json", 16 * 1024 * 1024), ("longer.json", 16 * 1024 * 1024 + 1)):
        with (folder / name).open("wb") as file:
            file.truncate(size)

    def told(found: PoolSource) -> Any:
        return [
            found.where.removeprefix(str(bench.home)),
            found.document,
            found.sentence.replace(str(bench.home), "")[:110],
        ]

    kept: dict[str, Any] = {
        "index": index_of(folder).decode(), "a folder": [told(one) for one in read_pool(str(folder))], "a file": [told(one) for one in read_pool(str(folder / "a.json"))],
        "none": outcome(lambda: list(read_pool("no such folder"))), "nowhere": outcome(lambda: [told(one) for one in read_pool("ftp://x/a.json")]),
        "bytes": [outcome(lambda n=n: document_of(b" " * n, "here")) for n in (16 * 1024 * 1024, 16 * 1024 * 1024 + 1)],
        "no prior": outcome(lambda: prior_from(Path("no such file"))),
    }  # fmt: skip
    for size in (1024 * 1024, 1024 * 1024 + 1):
        with (folder / "prior.json").open("wb") as file:
            file.truncate(size)
        kept[f"a prior of {size}"] = outcome(lambda: prior_from(folder / "prior.json")).replace(str(bench.home), "")
    return kept


def addresses(bench: Workbench, monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """Folders on a web server, whose answers are told here."""
    asked: list[str] = []
    index = {"format": "obverse-pool-index", "files": ["a.json", "b.json", "a.json", "../c.json", "http://y/d.json"]}
    answers: dict[str, Any] = {"http://x/obverse-pool-index.json": index}

    def fetch(address: str) -> bytes:
        asked.append(address)
        return json.dumps(answers.get(address, {})).encode()

    monkeypatch.setattr(pool_sources, "_fetch", fetch)

    def read(address: str) -> Any:
        asked.clear()
        return outcome(lambda: [[one.where, one.document, one.sentence[:80]] for one in read_pool(address)]), list(
            asked
        )

    found: dict[str, Any] = {"a folder": read("http://x/"), "a document": read("http://x/a.json")}
    for name, given in {
        "no format": {"files": []},
        "no list": {**index, "files": "a"},
        "no names": {**index, "files": [1]},
        "no index": [],
    }.items():
        answers["http://x/obverse-pool-index.json"] = given
        found[name] = read("http://x/")
    answers["http://x/obverse-pool-index.json"] = {**index, "files": [f"{n}.json" for n in range(1900)]}
    found["many"] = [len(read("http://x/")[1])]
    return found


class _Hands(Executor):
    """Does its work at once, and breaks at the n-th time it is asked."""

    def __init__(self, log: list[str], breaks: bool):
        self.log, self.breaks = log, breaks

    def submit(self, work: Any, /, *given: Any, **more: Any) -> Future[Any]:
        future: Future[Any] = Future()
        if self.breaks and given[0][0][0] == "b":
            future.set_exception(BrokenProcessPool("killed"))
        else:
            self.log.append(given[0][0][0])
            future.set_result(given[0][0][0].encode())
        return future


def hands(bench: Workbench, monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    chunks = [[(name, b"")] for name in "abc"]
    found: dict[str, Any] = {}
    for breakdowns in (0, 1, 5, 6):
        log: list[str] = []
        left = [breakdowns]

        def begin(log: list[str] = log, left: list[int] = left) -> Executor:
            left[0] -= 1
            return _Hands(log, left[0] >= 0)

        found[f"{breakdowns} breakdowns"] = [
            outcome(lambda begin=begin: sorted(map(str, pool_learning._by_all_hands(begin, chunks, [0, 1, 2])))),
            log,
        ]
    many: list[str] = []
    done = list(
        pool_learning._by_all_hands(lambda: _Hands(many, False), [[(str(n), b"")] for n in range(130)], range(130))
    )
    found["many"] = [len(done), sorted(k for k, _ in done) == list(range(130))]
    monkeypatch.setitem(sys.modules, "distributed", None)
    found["no cluster"] = outcome(lambda: cluster("tcp://x").__enter__())
    told: list[Any] = []

    class Client:
        def __init__(self, address: str, **how: Any):
            told.append([address, how])
            if address == "tcp://away":
                raise OSError("refused")

        def get_executor(self, **how: Any) -> Executor:
            told.append(how)
            return _Hands([], False)

        def close(self) -> None:
            told.append("closed")

    monkeypatch.setitem(sys.modules, "distributed", SimpleNamespace(Client=Client))
    with cluster("tcp://here") as begins:
        begins()
    found["a cluster"] = [told, outcome(lambda: cluster("tcp://away").__enter__())]
    return found


def learned(bench: Workbench) -> dict[str, Any]:
    def said(darkrooms: int, gain: float, gain_sd: float) -> str:
        learned_from = SimpleNamespace(strips=9, series=3, darkrooms=darkrooms)
        left_out = SimpleNamespace(gain=gain, gain_sd=gain_sd, inside90=0.876)
        return said_of(SimpleNamespace(learned_from=learned_from, left_out=left_out))  # type: ignore[arg-type]

    def population(names: tuple[str, ...]) -> Any:
        films = [SimpleNamespace(name=name, shift=0.1 * n, spread=1.0 + n) for n, name in enumerate(names)]
        rooms = [SimpleNamespace(name=name, spread=2.0 + n) for n, name in enumerate(OFFSETS)]
        document: Any = SimpleNamespace(films=films, darkrooms=rooms, learned_from=SimpleNamespace(series=7))
        return population_of(document)

    gains = ((1, 0.21, 0.1), (2, 0.2, 0.1), (1, -0.2, 0.1), (1, -0.21, 0.1), (0, 0.0, 0.0))
    answers, work = Remembered(2), list[str]()

    def ask(key: str) -> str:
        return answers.of(key, lambda: work.append(key) or key.upper())

    return {
        "said": [said(*one) for one in gains],
        "population": [outcome(lambda n=n: population(n)) for n in (UNKNOWNS, UNKNOWNS[::-1], UNKNOWNS[1:], (*UNKNOWNS, "x"))],
        "remembered": [[ask(key) for key in ("a", "b", "a", "c", "a", "b")], work],
        "ids": [id_from("A  b-C!", most=9), id_from("A  b-C!", most=3, joint="_"), id_from("!", most=9, otherwise="x"), free_id("a", ()), free_id("a", {"a", "a-2"}), free_id("a", {"a"}, joint="_")],
        "grades": grades_text([SimpleNamespace(of=of, grade=grade) for of, grade in (("tint", "none"), ("tint", "slight_warm"), ("blacks", "none"))]),  # type: ignore[misc]
    }  # fmt: skip


def past_counts(bench: Workbench) -> dict[str, Any]:
    """What a table of past strips would do and did, none, one and two of each."""
    names = ("new", "corrected", "known", "waiting", "not_taken", "not_understood")
    found: dict[str, Any] = {}
    for counts in (
        (0, 0, 0, 0, 0, 0),
        (1, 1, 1, 1, 1, 1),
        (2, 2, 2, 2, 2, 2),
        (0, 1, 0, 0, 0, 2),
        (3, 0, 0, 1, 0, 0),
        (0, 0, 2, 0, 3, 0),
    ):
        for films in (1, 2):
            seen: Any = SimpleNamespace(**dict(zip(names, counts, strict=True)), films=(None,) * films)
            found[f"{counts} of {films}"] = [past_strips._sentence(seen), past_strips._done(seen, films)]
    rows: Any = [
        SimpleNamespace(film="", becomes=b, corrects=c, strip=SimpleNamespace(remarks=(), waits_for_bath=False))
        for b, c in (("new", True), ("new", False), ("known", False), ("same_name", False), ("left_out", False))
    ]
    table: Any = SimpleNamespace(left_out=[SimpleNamespace(understood=u) for u in (True, False, False)], columns=())
    preview = past_strips.PastPreview(table, (), rows)
    found["counted"] = [
        preview.new,
        preview.corrected,
        preview.known,
        preview.waiting,
        preview.not_taken,
        preview.not_understood,
        preview.needs_tank,
        preview.needs_film,
    ]
    entries = [
        TrialEntry(film="f", number=1, trial=Trial(id="strip 1", person=whose), changed_by="M.") for whose in ("", "K.")
    ]
    found["corrected"] = [
        [one.changed_by, one.trial.person, one.trial.id]
        for entry in entries
        for person in ("", "K.", "L.")
        for one in [past_strips._corrected(entry, Trial(id="x", note="n"), person)]
    ]
    return found


def words_taught(bench: Workbench) -> dict[str, Any]:
    """What words alone did to the belief about a film: none, one and two strips, and what moved least enough to be told."""

    def row(name: str, moved: float, narrower: float, before_sd: float = 1.0, unit: str = "") -> LearnedRow:
        now = Estimate(5.0 + moved, before_sd * narrower)
        return LearnedRow(name, name, "", now, Estimate(5.0, before_sd), 2, unit)

    def said(strips: tuple[int, ...], *rows: LearnedRow, read: tuple[bool, ...] = (False, False, True)) -> str:
        grades = [SimpleNamespace(strip=strip) for strip in strips]
        fit: Any = SimpleNamespace(evidence=SimpleNamespace(grades=grades, own_size=2, has_readings=np.array(read)))
        return taught_by_words(fit, rows)

    much, less, least = row("Speed", 1.0, 1.0, unit="stops"), row("Fog", 0.0, 0.5), row("Base", -0.3, 1.0)
    unknown = LearnedRow("x", "X", "", None, None, 2, "")
    return {
        "nothing judged": [said(()), said((2, 3)), said((0,), much, read=(True, False, True)), said((0,), much, read=(False, True, False))],
        "hardly": [said((0,)), said((0, 0, 1), row("Speed", 0.1, 1.0), row("Fog", 0.0, 0.9), row("None", 1.0, 1.0, before_sd=0.0), unknown)],
        "moved": [said((0,), row("Speed", 0.11, 1.0)), said((1, 0), row("Fog", 0.0, 0.89)), said((0,), row("Wider", 0.0, 1.5)), said((0,), row("Both", -0.06, 0.95))],
        "most of three": [said((0, 2), least, much, less)],
    }  # fmt: skip


def first_page(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    """The first page: how many of each it shows, which of them, and what it says to do next."""

    def film(name: str, trials: int = 0, unread: int = 0) -> start.FilmLine:
        return start.FilmLine(name, name, 100.0, "2031", trials, unread, ())

    def run(status: str) -> start.RunLine:
        return start.RunLine("r", "Fog", status, "2031")

    found: dict[str, Any] = {}
    for name, films, runs, held in (
        ("going", (film("A", 1, 1),), (run("finished"), run("running")), 0), ("paused", (), (run("paused"),), 0), ("planned", (), (run("planned"), run("elsewhere")), 3), ("unread", (film("A", 3), film("B", 2, 1), film("C", 2, 1)), (), 0),
        ("no shelf", (film("A", 3),), (), 0), ("no strip", (film("A"), film("B", 2)), (), 1), ("one strip", (film("A", 1),), (), 1), ("two", (film("A", 2),), (), 1),
    ):  # fmt: skip
        found[name] = start._next(films, runs, held)
    names = [film(str(n)) for n in range(8)]
    found["shown"] = [one.name for one in start.StandingNow(tuple(names), (), (), 0, 0, found["planned"]).films_shown]
    notebook = bench.notebook
    ids = []
    for n in range(2):
        ids.append(notebook.add_film({"name": f"Film {n}", "box_speed": 100, "base_density": 0.2}).id)
        clock.advance(60)
    steps = [{"log_exposure": 0.0, "density": 1.2}]
    for n in range(8):
        evidence = {"steps": steps} if n != 3 else {"grades": [{"of": "blacks", "grade": "thin"}]} if n == 3 else {}
        notebook.add_trial(ids[0], {"id": f"strip {n}", "controls": {"first_developer_time_min": 5.0 + n}, **evidence})
    notebook.add_trial(ids[0], {"id": "unread", "controls": {"first_developer_time_min": 20.0}})
    standing = bench.where_one_stands()
    found["two films"] = [
        [f.name, f.trials, f.unread, [[id, [round(d, 3) for d in strip]] for id, strip in f.strips]]
        for f in standing.films
    ]
    run = bench.sink.run(bench.sink.begin({"route": "iron_ammonia_light", "tank_ml": 500}, id="e")).thing
    found["a long name"] = [
        len(bench.recipes.take_in(recipe_of(name="y" * 90, exposure_index=ei)).id) for ei in (50, 64)
    ]
    for n in range(5):
        bench.store.runs.put(run.model_copy(update={"name": f"E{n}" if n else ""}), id=f"e{n}")
    found["evenings"] = [[line.id, line.status] for line in bench.where_one_stands().runs]
    return found


@pytest.mark.parametrize(
    "telling",
    [
        people,
        belongings,
        parts,
        clocks,
        stock,
        folders,
        addresses,
        hands,
        learned,
        past_counts,
        words_taught,
        first_page,
    ],
    ids=lambda telling: telling.__name__,
)
def test_what_small_places_tell_is_what_was_read(telling, bench, clock, monkeypatch):
    # What the engine finds has tests of its own, and takes longest.
    monkeypatch.setattr("obverse.run.planner.check_route", lambda *given, **more: [])
    offered = {"monkeypatch": monkeypatch, "clock": clock}
    asked = inspect.signature(telling).parameters
    told = telling(bench, **{name: one for name, one in offered.items() if name in asked})
    assert not told_as_kept(f"small_{telling.__name__}", told)
