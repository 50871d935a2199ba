"""What a whole pool teaches: the reduction, the bookkeeping of films and parts, the document and its adoption.

How near it comes to a population that is known, on how many films and in what time, and a cluster of which a worker is
killed, is measured by `benchmarks/bench_pool_learn.py`.
"""

from __future__ import annotations

import json
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from fastapi.testclient import TestClient

from obverse.cli.main import run
from obverse.clock import FixedClock
from obverse.foundation import InputError
from obverse.inference import OFFSETS, UNKNOWNS, Lesson, Population, fit_film, learn_population, left_out
from obverse.inference.elsewhere import USUAL_SDS
from obverse.inference.sharing import OWN
from obverse.model import PRIOR_MEAN, PRIOR_SD, demo_film, simulate_series
from obverse.pool import LendingDarkroom, LentFilm, LentStrip, PoolDocument, PriorDocument, sealed
from obverse.process import FilmStock, Trial, strip_id
from obverse.web.app import create_app
from obverse.workbench import pool_learning
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.pool_learning import KnownPool, films_of_pool, learn, processes, sum_up
from obverse.workbench.pool_prior import population_of, said_of
from obverse.workbench.pool_sources import PoolSource

pytestmark = pytest.mark.usefixtures("few_draws")

NOW = datetime(2031, 5, 1, tzinfo=UTC)
FILMS = 55
WIDTH = len(UNKNOWNS)


def lesson(id: str, value: float, precision: float = 1.0, offsets: int = 0) -> Lesson:
    """A film that tells each unknown by itself, all alike."""
    sd = np.sqrt(precision)
    return Lesson(id, 3, sd * np.eye(WIDTH), np.full(WIDTH, sd * value), np.zeros((WIDTH, offsets, len(OFFSETS))))


def lessons(count: int, *, shift: float = 1.0, spread: float = 0.3, off: float = 1.5) -> list[Lesson]:
    """Films of a population that is known, told as few strips tell: unknowns together, and never one by itself.

    Their darkrooms differ `off` times as widely as usual, and two others know each film.
    """
    rng = np.random.default_rng(7)
    found = []
    for k in range(count):
        of = 2.0 * rng.standard_normal((WIDTH // 3, WIDTH))
        offsets = rng.standard_normal((WIDTH // 3, 2, len(OFFSETS)))
        film = shift + spread * rng.standard_normal(WIDTH)
        rooms = off * rng.standard_normal((3, len(OFFSETS)))
        value = of @ film + np.einsum("rmn,mn->r", offsets, rooms[1:] - rooms[0]) + rng.standard_normal(len(of))
        found.append(Lesson(f"{k:04}", 3, of, value, offsets))
    return found


def test_a_population_is_found_again_in_whatever_order_it_is_told():
    told = lessons(150)
    learned, again = learn_population(told), learn_population([*told[::-1], *told[:50]])
    assert (learned.shift.tobytes(), learned.spread.tobytes()) == (again.shift.tobytes(), again.spread.tobytes())
    assert learned.offset_sds == again.offset_sds and learned.films == again.films == 150
    # The middle leans to films in general, the spread to the imagined films, as long as the films are few.
    assert np.all(np.abs(learned.shift - 1.0) < 0.25) and 0.25 < learned.spread.min() < learned.spread.max() < 0.5
    assert np.all(np.abs(np.array(learned.offset_sds) / USUAL_SDS / 1.5 - 1.0) < 0.25)
    fifths = left_out(told)
    assert fifths.films == 150 and fifths.gain > 10 * fifths.gain_sd
    assert fifths.inside_in_general < 0.89 < fifths.inside < 0.96


def test_what_tellings_err_by_is_not_taken_from_the_spread_of_films():
    rng, told = np.random.default_rng(3), []
    for k in range(120):
        sharp = (0.3, 2.0)[k % 2]
        value = sharp * 0.6 * rng.standard_normal(WIDTH) + 0.3 * rng.standard_normal(WIDTH)
        told.append(Lesson(str(k), 3, sharp * np.eye(WIDTH), value, np.zeros((WIDTH, 0, len(OFFSETS)))))
    assert np.median(learn_population(told).spread) == pytest.approx(0.6, abs=0.05)


def test_films_that_tell_nothing_leave_films_in_general():
    nothing = [Lesson(str(k), 1, np.zeros((0, WIDTH)), np.zeros(0), np.zeros((0, 0, len(OFFSETS)))) for k in range(60)]
    learned = learn_population(nothing)
    assert np.allclose(learned.shift, 0.0) and np.allclose(learned.spread, 1.0)
    assert np.allclose(learned.offset_sds, USUAL_SDS)


def strip(k: int, density: float, room: str = "a", **more: object) -> LentStrip:
    steps = [{"log_exposure": x, "density": density - x / 2} for x in (-1.0, 0.0, 1.0)]
    controls = {"first_developer_time_min": 8.0 + k % 5, "solvent_ml_per_l": 4.0, "alkali_ml_per_l": 8.0}
    trial = Trial.model_validate({"id": f"strip {k}", "controls": controls, "steps": steps, "person": "Ada"})
    return LentStrip(id=strip_id(room, trial), trial=trial, **more)


def document(room: str = "a", days: int = 0, films: int = FILMS, **more: object) -> PoolDocument:
    lent = tuple(
        LentFilm(
            film=FilmStock(name=f"film {k}", box_speed=100),
            strips=(strip(k, (1.5 if room == "a" else 1.7) + k / 100, room),),
        )
        for k in range(films)
    )
    return PoolDocument.model_validate(
        {"darkroom": LendingDarkroom(id=room), "made_at": NOW + timedelta(days=days), "films": lent, **more}
    )


def pool(*documents: PoolDocument) -> KnownPool:
    return films_of_pool(PoolSource(f"{k}.json", one) for k, one in enumerate(documents))


def test_films_are_known_by_name_and_speed_once_corrected_and_without_what_was_taken_back():
    first, second = document(), document("b", films=2)
    both = pool(first, second)
    assert [film.darkrooms for film in both.films].count(2) == 2 and len(both.films) == FILMS
    assert both.digest == pool(second, first).digest == pool(first, second, first).digest
    assert both.unsealed == 2 and b"Ada" not in pool_learning.zlib.decompress(both.films[0].packed)
    # A newer document corrects one strip and takes back another, of a film that it does not hold any more.
    corrected = strip(0, 2.0).model_copy(update={"id": first.films[0].strips[0].id, "revision": 2})
    gone = first.films[1].strips[0].id
    film = first.films[0].model_copy(update={"strips": (corrected,)})
    newer = document(days=1).model_copy(update={"films": (film,), "withdrawn": (gone,)})
    after = pool(newer, first)
    assert len(after.films) == FILMS - 1 and after.digest != pool(first).digest
    assert after.digest == pool(first, newer).digest
    # One revision that says two things counts for neither; who holds another key speaks for another darkroom.
    other = strip(0, 2.2).model_copy(update={"id": first.films[0].strips[0].id})
    said_twice = first.model_copy(update={"films": (first.films[0].model_copy(update={"strips": (other,)}),)})
    assert len(pool(first, said_twice).films) == FILMS - 1
    assert len(pool(first, sealed(said_twice, b"x" * 32)).films) == FILMS
    forged = sealed(first, b"x" * 32).model_copy(update={"made_at": NOW + timedelta(days=9)})
    assert pool(forged).films == () and "changed since it was sealed" in pool(forged).unread[0]


class Breaks(Executor):
    """An executor that does one piece of work, then breaks, as when a process is killed."""

    def __init__(self) -> None:
        self.done = 0

    def submit(self, work, /, *given, **more):
        future: Future = Future()
        self.done += 1
        if self.done == 1:
            future.set_result(work(*given))
        else:
            future.set_exception(BrokenExecutor("killed"))
        return future


@pytest.fixture
def cheap(monkeypatch):
    """A lesson for nothing: the mean density of the strips. It counts how many films were summed up."""
    summed: list[str] = []

    def cheap_lesson(id, series, elsewhere=()):
        summed.append(id)
        mean = float(np.mean([patch.density for trial in series.trials for patch in trial.steps]))
        whole = lesson(id, mean)
        return replace(
            whole, strips=len(series.trials), of=whole.of[:4], value=whole.value[:4], offsets=whole.offsets[:4]
        )

    monkeypatch.setattr(pool_learning, "lesson_of", cheap_lesson)
    return summed


def learned_by(known: KnownPool, hands, parts: Path):
    return learn(known, darkroom=LendingDarkroom(id="me"), made_at=NOW, hands=hands, parts=parts)


def test_the_same_answer_by_any_hands_after_a_breakdown_and_after_a_stop(tmp_path, cheap):
    known = pool(document())
    whole = learned_by(known, lambda: ThreadPoolExecutor(1), tmp_path / "parts")
    assert (whole.chunks, whole.done_before, len(cheap)) == (3, 0, FILMS)
    assert not (tmp_path / "parts").exists()
    many = learned_by(pool(document()), lambda: ThreadPoolExecutor(4), tmp_path / "parts")
    assert many.document.model_dump_json() == whole.document.model_dump_json()
    # Hands that break again and again: each did one part; in the end it is told, and what was done is kept.
    cheap.clear()
    begun = [Breaks(), Breaks(), ThreadPoolExecutor(2)]
    broken = learned_by(known, lambda: begun.pop(0), tmp_path / "parts")
    assert broken.document == whole.document and len(cheap) == FILMS

    def stop(done: int, of: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        learn(
            known,
            darkroom=LendingDarkroom(id="me"),
            made_at=NOW,
            hands=lambda: ThreadPoolExecutor(1),
            parts=tmp_path / "parts",
            heard=stop,
        )
    (part,) = (tmp_path / "parts").iterdir()
    went_on = learned_by(known, lambda: ThreadPoolExecutor(1), tmp_path / "parts")
    assert went_on.done_before == 1 and went_on.document == whole.document
    # A part that is spoilt is done anew.
    (tmp_path / "parts").mkdir()
    part.write_text('{"way": 1, "lessons": [{"id": "x"}], "unlearned": []}')
    spoilt = learned_by(known, lambda: ThreadPoolExecutor(1), tmp_path / "parts")
    assert spoilt.done_before == 0 and spoilt.document == whole.document


def test_too_few_and_what_cannot_be_learned_from(tmp_path, cheap, monkeypatch):
    with pytest.raises(InputError, match="3 films with strips, and it takes 50"):
        learned_by(pool(document(films=3)), lambda: ThreadPoolExecutor(1), tmp_path / "parts")
    learned_from = pool_learning.lesson_of

    def fails(id, series, elsewhere=()):
        if series.film.name == "film 7":
            raise np.linalg.LinAlgError("no such matrix")
        return learned_from(id, series, elsewhere)

    monkeypatch.setattr(pool_learning, "lesson_of", fails)
    learned = learned_by(pool(document()), lambda: ThreadPoolExecutor(1), tmp_path / "parts")
    assert learned.unlearned == ("film 7: no such matrix",)
    assert learned.document.learned_from.left_aside == 1 and learned.document.learned_from.series == FILMS - 1


def test_processes_sum_up_as_one_does():
    """Real lessons, of films that two darkrooms know, to the last figure."""
    known = pool(document(films=1), document("b", films=1))
    chunks = [[(film.id, film.packed)] for film in known.films]
    with processes(1)() as executor:
        apart = list(executor.map(sum_up, chunks))
    assert apart == [sum_up(chunk) for chunk in chunks]
    (told,) = json.loads(apart[0])["lessons"]
    of, offsets = np.array(told["of"]), np.array(told["offsets"])
    assert told["darkrooms"] == 1 and np.abs(offsets).max() > 0 and np.abs(of).max() > 0
    assert not of[:, [UNKNOWNS.index(name) for name in OWN]].any()


@pytest.fixture
def prior(tmp_path, cheap) -> PriorDocument:
    learned = learned_by(pool(document(), document("b", films=2)), lambda: ThreadPoolExecutor(1), tmp_path / "p")
    return learned.document


def test_what_is_adopted_counts_until_it_is_put_aside(tmp_path, prior, capsys, monkeypatch):
    home = tmp_path / "home"
    monkeypatch.setenv("OBVERSE_HOME", str(home))
    file = tmp_path / "learned.json"
    file.write_text(sealed(prior, b"k" * 32).model_dump_json())
    assert run(["pool", "adopt"]) == 0
    assert "does not count here" in capsys.readouterr().out
    assert run(["pool", "adopt", str(file)]) == 0
    assert capsys.readouterr().out.startswith(
        "Learned from 55 strips of 55 films in 2 darkrooms. On films left out it foretells"
    )
    bench = open_workbench(home)
    film = bench.notebook.add_film({"name": "new", "box_speed": 100}).id
    taught = bench.notebook.fit(film)
    assert taught.learned is not None and taught.learned.films == FILMS and len(taught.posterior.weights) == 6
    bench.close()
    lie = json.loads(file.read_text())
    lie["films"][0]["shift"] = 3.9
    file.write_text(json.dumps(lie))
    assert run(["pool", "adopt", str(file)]) == 2
    assert "changed since it was sealed" in capsys.readouterr().err
    assert run(["pool", "adopt", str(file), "--even-so"]) == 0
    assert capsys.readouterr().out.startswith("Not sealed. Learned from")
    assert run(["pool", "adopt", "--aside"]) == 0
    assert "does not count here" in capsys.readouterr().out
    bench = open_workbench(home, clock=FixedClock(NOW))
    assert bench.notebook.fit(film).learned is None
    bench.close()


def test_the_page_adopts_and_puts_aside(tmp_path, prior):
    (tmp_path / "home").mkdir()
    bench = open_workbench(tmp_path / "home", url="sqlite://", clock=FixedClock(NOW))
    with TestClient(create_app(bench, hosts=("testserver",), token="t")) as client:

        def give(document: PriorDocument, **more: str):
            file = ("learned.json", document.model_dump_json())
            return client.post("/notebook/pool/prior", data={"token": "t", **more}, files={"file": file})

        named = sealed(prior.model_copy(update={"darkroom": LendingDarkroom(id="me", name="<b>North")}), b"k" * 32)
        assert "On films left out" in (page := give(named).text) and "By\n    &lt;b&gt;North." in page
        changed = named.model_copy(update={"made_at": NOW + timedelta(days=1)})
        assert give(changed).status_code == 422 and bench.pool.adopted().seal == "whole"
        assert "Not sealed." in give(changed, even_so="yes").text
        aside = client.post("/notebook/pool/prior/aside", data={"token": "t"})
        assert "Let it count here" in aside.text and bench.pool.adopted() is None
    bench.close()


def test_a_hostile_prior_is_bounded(prior, tmp_path, capsys):
    body = prior.model_dump(mode="json")
    file = tmp_path / "lie.json"
    for spoil in (
        {"films": [{**body["films"][0], "shift": 1e9}, *body["films"][1:]]},
        {"films": [{**body["films"][0], "spread": 0.0}, *body["films"][1:]]},
        {"films": [body["films"][0]] * 2},
        {"darkrooms": [{**one, "spread": 1e9} for one in body["darkrooms"]]},
        {"darkroom": {"id": "me", "name": "a\u202eb"}},
        {"learned_from": {**body["learned_from"], "series": 10**9}},
    ):
        file.write_text(json.dumps({**body, **spoil}))
        assert run(["pool", "adopt", str(file)]) == 2
        assert capsys.readouterr().err.count("\n") == 1
    strange = prior.model_copy(update={"films": prior.films[1:]})
    with pytest.raises(InputError, match="another version of the model"):
        population_of(strange)


@pytest.mark.parametrize(
    ("gain", "said"),
    [(1.0, "better than"), (0.1, "about as well as"), (-0.1, "about as well as"), (-1.0, "worse than")],
)
def test_what_is_told_of_it(prior, gain, said):
    fifths = prior.left_out.model_copy(update={"gain": gain, "gain_sd": 0.2, "inside90": 0.893})
    one_room = prior.learned_from.model_copy(update={"darkrooms": 1})
    sentence = said_of(prior.model_copy(update={"left_out": fifths, "learned_from": one_room}))
    assert f"in 1 darkroom. On films left out it foretells them {said} films in general do" in sentence
    assert f"{gain:+.2f} a film, standard error 0.20); 89 % of what" in sentence


def test_what_many_taught_narrows_and_never_replaces_films_in_general():
    film = demo_film()
    series = simulate_series(film, [], seed=1)
    right = learn_population([lesson(str(k), 0.05 * ((k % 3) - 1), 25.0) for k in range(60)])
    alone, taught = fit_film(series), fit_film(series, learned=right)
    recipe = {"first_developer_time_min": 10.0, "solvent_ml_per_l": 4.0}
    assert taught.predict_observables(recipe)["gradient"].sd < 0.9 * alone.predict_observables(recipe)["gradient"].sd
    # A lie far from the film gives way to the film's own strips.
    lie = learn_population([lesson(str(k), 3.5, 25.0) for k in range(60)])
    strips = simulate_series(film, [recipe, {**recipe, "solvent_ml_per_l": 10.0}], seed=1)
    np.testing.assert_array_equal(fit_film(strips, learned=lie).draws, fit_film(strips).draws)
    # However well it foretells a film, films in general keep half: nothing is told to be less than half as likely.
    shift, spread = np.zeros(len(UNKNOWNS)), np.ones(len(UNKNOWNS))
    shift[: len(PRIOR_MEAN)], spread[: len(PRIOR_MEAN)] = (film.coordinates - PRIOR_MEAN) / PRIOR_SD, 0.1
    knows_it = Population(60, shift, spread)
    weights = fit_film(strips, learned=knows_it).posterior.weights
    assert sum(weights[:3]) == pytest.approx(0.5)
