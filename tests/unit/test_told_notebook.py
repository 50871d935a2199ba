"""What a notebook does with what is written into it: each touch by itself, with fits that cost nothing."""

from __future__ import annotations

import json
from datetime import date
from types import SimpleNamespace
from typing import Any

import pytest

from obverse.clock import FixedClock
from obverse.process import AIMS, TIME, Evidence, FilmStock, Trial
from obverse.store.records import TrialEntry
from obverse.workbench import notebook as book
from obverse.workbench.seek import ListAsked
from tests.told_kept import EVENING, darkroom, told_as_kept
from tests.unit.test_recipes import recipe_of
from tests.unit.test_told_everything import outcome

STEPS = [{"log_exposure": x, "density": d} for x, d in ((-1.0, 2.2), (0.0, 1.1), (1.0, 0.3))]
WAY = {"first_developer_time_min": 9.0}
SEEN = {"controls": WAY, "steps": STEPS}
SEEN_TOO = {"controls": WAY, "steps": [{**one, "density": one["density"] + 0.05} for one in STEPS]}


@pytest.fixture
def asked(monkeypatch):
    """Fits that are drawn of nothing: who is asked with what."""
    asked = list[Any]()

    def fitted(series: Any, **more: Any) -> Any:
        asked.append([series.film.name, [t.id for t in series.trials], [one.series.film.name for one in more.get("others", ())], [one.id for one in more.get("elsewhere", ())]])  # fmt: skip
        return SimpleNamespace(series=series, strip_observables=lambda density: _Column(density))

    monkeypatch.setattr(book, "fit_film", fitted)
    return asked


class _Column:
    def __init__(self, density: float):
        self.density = density

    def __getitem__(self, place: Any) -> Any:
        return {"density": self.density, "place": place[1]}


def _strips(notebook: Any, film: str) -> list[Any]:
    return [[k.thing.number, k.thing.trial.id, k.thing.trial.controls, k.thing.trial.control_sds, len(k.thing.trial.steps), k.thing.made_at] for k in notebook.trials(film)]  # fmt: skip


def pages(bench: Any, clock: FixedClock, asked: list[Any]) -> dict[str, Any]:
    notebook, found = bench.notebook, dict[str, Any]()

    def films(**asked: Any) -> list[Any]:
        seen = notebook.find_films(ListAsked(**asked))
        return [[k.thing.name for k in seen.rows], seen.total, seen.aside]

    first = notebook.add_film({"name": "Grey 10", "box_speed": 100}).id
    clock.advance(60)
    named = notebook.add_film(
        {"name": first, "box_speed": 25, "same_as": ["Ten"]}, controls={TIME.key: {"low": 5, "high": 9, "step": 0.5}}, aim={"dmax_min": 2.2, "name": "mine"}, film_id="second"
    )  # fmt: skip
    clock.advance(60)
    third = notebook.add_film({"name": "Grey 9", "box_speed": 400, "base_density": 0.2}).id
    found["called"] = [notebook.film_called(first).id == first, notebook.film_called("Grey 9").id == third, named.id]
    found["no such"] = outcome(lambda: notebook.film_called("x"))
    found["twice"] = outcome(lambda: notebook.add_film({"name": "Other", "box_speed": 1}, film_id="second"))
    found["series"] = [
        [s.film.name == first or s.film, list(s.controls), s.controls[TIME.key], s.aim.name, s.aim.dmax_min] for s in notebook.every_series()
    ]  # fmt: skip
    found["orders"] = [[n == first or n for n in films(sort=sort)[0]] for sort in ("newest first", "name", "box speed")]
    notebook.retire_film(third)
    found["asked"] = [films(find="ten"), films(find="400"), films(shown="aside"), films(find="grey"), [s.film.box_speed for s in notebook.every_series()]]  # fmt: skip
    notebook.restore_film(third)
    found["back"] = films(find="grey")
    other = notebook.film(third).revision
    found["changed"] = [
        outcome(lambda: notebook.change_film(third, {"name": "Grey 10", "box_speed": 1})),
        notebook.change_film(third, {"name": "Grey 9", "box_speed": 200}, expected_revision=other).thing.box_speed,
        outcome(lambda: notebook.change_film(third, {"name": "Grey 9", "box_speed": 300}, expected_revision=other)).partition(";")[0][:60],
    ]  # fmt: skip
    found["plan"] = [
        outcome(lambda: notebook.plan(first, {"moon": 1, "aim": "scan"})), notebook.plan(first, {"aim": "scan"}).aim.name,
        notebook.plan(first, {"controls": {TIME.key: {"low": 5, "high": 9, "step": 0.5}}}, expected_revision=2).controls, notebook.plan_revision(first), notebook.series(first).aim.name,
        outcome(lambda: notebook.plan(first, {"aim": "scan"}, expected_revision=1))[:21],
    ]  # fmt: skip
    return found


def trials(bench: Any, clock: FixedClock, asked: list[Any]) -> dict[str, Any]:
    notebook, found = bench.notebook, dict[str, Any]()
    film = notebook.add_film({"name": "Grey", "box_speed": 100}).id
    judged = {"controls": WAY, "grades": [{"of": "blacks", "grade": "thin"}]}

    def add(**more: Any) -> Any:
        clock.advance(60)
        links = more.pop("links", {})
        kept = notebook.add_trial(film, more, **links)
        return [kept.thing.number, kept.thing.trial.id, len(kept.thing.trial.steps), kept.retired_at is not None,
                [getattr(kept.thing, name) for name in ("run", "strip", "booked_note", "picture", "reading", "recipe", "made_at")]]  # fmt: skip

    links = {
        "run": "r",
        "strip": "A",
        "booked_note": "b",
        "picture": "p",
        "reading": "l",
        "recipe": "q",
        "made_at": "2031-01-01",
    }
    for name, more in {
        "waits": {"controls": WAY}, "waits too": {"controls": WAY}, "judged alike": judged, "judged alike again": judged, "with all": {**SEEN, "links": links},
        "with all again": SEEN, "of its name": {**SEEN, "id": "strip 5"}, "read now": {**SEEN_TOO, "id": "strip 1", "links": {"picture": "now"}},
        "of another": {"controls": WAY, "steps": STEPS[:2], "id": "strip 3"}, "named": {"controls": WAY, "id": "Mine"}, "named again": {"controls": WAY, "id": "Mine"}, "a number ahead": {"controls": WAY, "id": "strip 8"},
        "after it": {"controls": {"first_developer_time_min": 3.0}}, "and on": {"controls": {"first_developer_time_min": 4.0}},
    }.items():  # fmt: skip
        found[name] = outcome(lambda more=more: add(**more))
    found["page"] = _strips(notebook, film)
    spare = notebook.add_film({"name": "Spare", "box_speed": 100}).id
    many = notebook._add_trials(
        spare, [{"controls": WAY}, {"controls": WAY}, {"id": "x", "controls": WAY}, {"controls": WAY}], {}
    )
    found["many at once"] = [[k.thing.number, k.thing.trial.id] for k in many]
    found["two of one name at once"] = outcome(
        lambda: notebook._add_trials(spare, [{"id": "y", "controls": WAY}] * 2, {})
    )
    found["no film"] = outcome(lambda: notebook.add_trial("x", SEEN))
    ids = {k.thing.trial.id: k.id for k in notebook.trials(film)}
    notebook.retire_trial(ids["Mine"])
    found["aside"] = [
        [k.thing.trial.id for k in notebook.retired_trials(film)],
        add(controls=WAY, id="Mine"),
        notebook.retired_trials(film),
    ]
    notebook.retire_trial(ids["strip 5"])
    found["read again"] = [add(**SEEN), len(notebook.retired_trials(film))]
    changes: dict[str, dict[str, Any]] = {
        "doubts": {"control_sds": {"first_developer_time_min": 0.3, "temperature_c": 0.4}, "controls": {**WAY, "temperature_c": 20.0}},
        "one said anew": {"controls": {"first_developer_time_min": 9.5, "temperature_c": 20.0}}, "nothing said": {"note": "n"}, "said as another kind": {"controls": 5},
        "links": {"run": "r2", "picture": "p2", "reading": "l2", "recipe": "q2", "changed_by": "K.", "booked_note": "bb", "note": "m"}, "its own name": {"id": "strip 1"},
        "a free name": {"id": "Free"}, "a taken one": {"id": "strip 2"}, "one put aside": {"id": "strip 8"},
    }  # fmt: skip
    notebook.retire_trial(ids["strip 8"])
    for name, change in changes.items():
        told = outcome(lambda change=change: notebook.change_trial(ids["strip 1"], change).thing)
        found[f"changed, {name}"] = told if isinstance(told, str) else {**told, "trial": {k: v for k, v in told["trial"].items() if k != "steps"}, "film": ""}  # fmt: skip
    revision = notebook.trial(ids["strip 1"]).revision
    found["of an older revision"] = [
        notebook.change_trial(ids["strip 1"], {"note": "x"}, expected_revision=revision).thing.trial.note,
        outcome(lambda: notebook.change_trial(ids["strip 1"], {"note": "y"}, expected_revision=revision))[:40],
    ]
    for sort in ("newest first", "film", "name", "time in the first developer"):
        found[f"by {sort}"] = [k.thing.trial.id for k in notebook.find_strips(ListAsked(sort=sort), film).rows]
    found["found"] = {
        w: [k.thing.trial.id for k in notebook.find_strips(ListAsked(find=w)).rows]
        for w in ("thin", "grey", "9.5", "strip 2", "x")
    }
    found["put aside"] = [
        [k.thing.trial.id for k in notebook.find_strips(ListAsked(shown="aside"), of).rows] for of in ("", film)
    ]
    document = notebook.series(film).model_dump(mode="json")
    document["trials"][0]["steps"] = SEEN_TOO["steps"][:2]
    document["trials"][-1]["steps"] = SEEN_TOO["steps"]
    document["trials"].append({**SEEN, "controls": {"first_developer_time_min": 20.0}, "id": "strip 12"})
    clock.advance(60)
    found["imported"] = [
        notebook.import_series(document).id == film,
        _strips(notebook, film),
        [[k.thing.trial.id, len(k.thing.trial.steps)] for k in notebook.retired_trials(film)],
    ]
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr(book, "MOST_TRIALS_OF_A_SERIES", 2)
        found["the newest"] = [[t.id for t in s.trials] for s in (notebook.series(film), *notebook.every_series())]
    return found


def dates(bench: Any, clock: FixedClock, asked: list[Any]) -> dict[str, Any]:
    found = dict[str, Any]()
    one = TrialEntry(film="f", trial=Trial(id="s", controls=WAY), run="r", made_at="2031-11-05T19:30:00")
    for name, entry in {
        "of an evening": one, "by hand": one.model_copy(update={"run": ""}), "another's way": one.model_copy(update={"made_at": "yesterday"}),
        "said": one.model_copy(update={"trial": one.trial.model_copy(update={"made_on": date(2030, 1, 1)})}),
    }.items():  # fmt: skip
        found[name] = str(book._dated(entry).made_on)
    found["ids"] = [outcome(lambda name=name: book.recipe_id_of(name)) for name in ("Grey base, 2", "x" * 90, "?!")]
    return found


def held(bench: Any, clock: FixedClock, asked: list[Any]) -> dict[str, Any]:
    """Which touches forget the fit that a moving hand is answered from, and for how long it is kept."""
    notebook, found = bench.notebook, dict[str, Any]()
    film = notebook.add_film({"name": "Grey", "box_speed": 100}).id
    kept = notebook.add_trial(film, SEEN).id
    spare = notebook.add_trial(film, {"controls": WAY}).id
    document = notebook.series(film).model_dump(mode="json")
    document["film"]["name"] = "New"
    for name, touch in {
        "film changed": lambda: notebook.change_film(film, {"name": "Grey", "box_speed": 125}), "planned": lambda: notebook.plan(film, {"aim": "scan"}),
        "written": lambda: notebook.add_trial(film, {"controls": WAY}), "read": lambda: notebook.add_trial(film, {**SEEN_TOO, "id": "strip 2"}),
        "changed": lambda: notebook.change_trial(kept, {"note": "x"}), "put aside": lambda: notebook.retire_trial(spare), "taken back": lambda: notebook.restore_trial(spare),
        "imported": lambda: notebook.import_series(document), "looked at": lambda: notebook.trials(film), "many": lambda: notebook.writing().__enter__(),
        "film put aside": lambda: notebook.retire_film(film), "film taken back": lambda: notebook.restore_film(film), "begun": lambda: notebook.add_film({"name": "x", "box_speed": 1}),
    }.items():  # fmt: skip
        notebook._at_hand["x"] = (EVENING, "fit")
        touch()
        found[name] = "held" if notebook._at_hand else "forgotten"
    notebook._at_hand.clear()
    answers = iter(range(9))
    notebook.fit = lambda film_id: next(answers)
    for step_s in (0.0, 2.0, 0.1, 2.1, -2.0, -0.1, -0.2):
        clock.advance(step_s)
        found[f"after {step_s} s more"] = notebook._fit_at_hand("a")
    return found


def learned(bench: Any, clock: FixedClock, asked: list[Any]) -> dict[str, Any]:
    """Who teaches whom, what is advised, and what is locked."""
    notebook, found, mine = bench.notebook, dict[str, Any](), pytest.MonkeyPatch()
    film = notebook.add_film({"name": "Grey", "box_speed": 100}).id
    other = notebook.add_film({"name": "Other", "box_speed": 100}).id
    notebook.add_film({"name": "Empty", "box_speed": 100})
    for of, times in ((film, (9.0, 11.0)), (other, (8.0,))):
        for time_min in times:
            clock.advance(60)
            notebook.add_trial(of, {"controls": {TIME.key: time_min}, "steps": STEPS})
    notebook.add_trial(other, {"controls": WAY})
    notebook.fit(film)
    found["fitted"] = asked[:]
    notebook.fit(film)
    found["once"] = len(asked)
    notebook.change_trial(notebook.trials(other)[0].id, {"note": "x"})
    notebook.fit(film)
    found["another teacher"] = asked[len(found["fitted"]) :]
    here = bench.store.darkroom
    stock = FilmStock(name="Grey", box_speed=100, base_density=0.3)
    for name, changes in {
        "Elsewhere": {"origin": "0" * 16}, "Here": {"origin": here}, "Of none": {}, "Of none, its strip": {"evidence": Evidence(trials=1, best_trial="strip 1", probability_in_aim=0.5)},
        "Elsewhere, its strip": {"origin": "0" * 16, "evidence": Evidence(trials=1, best_trial="strip 1", probability_in_aim=0.5)}, "No curve": {"origin": "0" * 16, "curve": ()},
        "Of another film": {"origin": "0" * 16, "film": FilmStock(name="Clear", box_speed=100)},
    }.items():  # fmt: skip
        notebook.keep_recipe(recipe_of(**{"name": name, "film": stock, **changes}))
    found["lent"] = [[one.id, one.base_density, one.name, one.trials[0].id, len(one.trials[0].steps), one.trials[0].controls] for one in notebook.lent(film)]  # fmt: skip
    with pytest.MonkeyPatch.context() as few:
        few.setattr(book, "MOST_DARKROOMS", 1)
        found["lent, one at most"] = len(notebook.lent(film))
    with pytest.MonkeyPatch.context() as few:
        most = list[int]()
        few.setattr(book, "most_alike", lambda here, others, count: most.append(count) or [])
        few.setattr(notebook, "trials", lambda film_id: list(range(2001)))
        few.setattr(notebook, "series", lambda film_id: None)
        notebook._known_films(film)
        found["at most"] = [most, len(notebook._teaching(film)), notebook._teaching(film)[0]]
    for remembered in (notebook._fits, notebook._curves):
        for place in range(600):
            remembered.of(f"key {place}", lambda: 0)
    found["kept at hand"] = [len(notebook._fits._answers), len(notebook._curves._answers)]
    found["recipes"] = [[k.id for k in notebook.recipes(name)] for name in ("Grey", "x")] + [len(notebook.recipes())]
    notebook.recipes_revision = notebook.keep_recipe(recipe_of(name="Here")).thing.revision
    bench.store.recipes.retire("here")
    found["kept again"] = [notebook.recipes_revision, notebook.keep_recipe(recipe_of(name="Here")).thing.revision, "here" in [k.id for k in notebook.recipes()]]  # fmt: skip
    trial = notebook.trials(film)[0].thing.trial
    step = SimpleNamespace(controls={TIME.key: 12.0, "solvent_ml_per_l": 5.0}, probability_in_aim=0.4)
    for name, (status, best) in {"ready, this": ("ready", trial.id), "ready, another": ("ready", "strip 2"), "try": ("try", trial.id), "ready, none": ("ready", None)}.items():  # fmt: skip
        answer = SimpleNamespace(status=status, best_trial=best and SimpleNamespace(id=best), suggestions=(step,))
        mine.setattr(notebook, "next_strips", lambda film_id, answer=answer: answer)
        found[f"advice, {name}"] = notebook.advice(film, trial)
    murky = Trial(
        id="strip 1",
        controls={TIME.key: 12.0, "solvent_ml_per_l": 8.0},
        grades=[{"of": "highlights", "grade": "murky"}],
    )
    found["advice against the word"] = notebook.advice(film, murky)
    mine.undo()
    try:
        mine.setattr(book.story, "verdicts", lambda seen, aim: {"seen": seen, "aim": aim.name})
        mine.setattr(
            book.story, "missed", lambda trial, told, chance: f"{trial.id} {told} {chance}" if chance < 1 else ""
        )
        mine.setattr(book.story, "robustness", lambda fit, controls: ("as robust",))
        mine.setattr(book, "recipe_chance", lambda fit, controls: 0.25)
        mine.setattr(book, "strip_chance", lambda fit, place, aim: float(place))
        way = {"name": "Locked", "route_key": "iron_ammonia_light"}
        for name, (strip, more) in {
            "missed": ("strip 1", way), "anyway": ("strip 1", {**way, "anyway": True}), "in the aim": ("strip 2", {**way, "note": "n", "exposure_index": 64.0}),
            "no strip": ("strip 9", way), "no name": ("strip 2", {**way, "name": "?"}), "no process": ("strip 2", {"name": "x"}), "no name, missed": ("strip 1", {**way, "name": "?"}), "no such process": ("strip 2", {"name": "x", "route_key": "y"}),
        }.items():  # fmt: skip
            told = outcome(lambda strip=strip, more=more: notebook.lock_recipe(film, strip, **more).thing)
            if isinstance(told, dict):
                told = {k: v for k, v in told.items() if k not in ("route", "origin")} | {
                    "formulas": [f["key"] for f in told["formulas"]]
                }
            found[f"locked, {name}"] = told
    finally:
        mine.undo()
    return found


def charts(bench: Any, clock: FixedClock, asked: list[Any]) -> dict[str, Any]:
    notebook, found, mine = bench.notebook, dict[str, Any](), pytest.MonkeyPatch()
    film = notebook.add_film({"name": "Grey", "box_speed": 100}).id
    for number, (made, steps) in enumerate((("2031-11-03T20:00:00", STEPS), ("2031-11-01T20:00:00", STEPS), ("2031-11-02T20:00:00", STEPS[:2]), ("2031-11-01T20:00:00", STEPS), ("2031-11-04", []))):  # fmt: skip
        notebook.add_trial(
            film, {"id": f"c{number}", "controls": {TIME.key: 5.0 + number}, "steps": steps}, recipe="q", made_at=made
        )
    found["strips"] = [notebook.control_strips("q"), notebook.control_strips("x")]
    told = list[Any]()
    try:
        mine.setattr(
            book.story,
            "control_chart",
            lambda strips: told.append([[id, on, curve is not None] for id, on, curve in strips]),
        )
        notebook.control_chart("q")
        looked = list[Any]()
        mine.setattr(book, "faults_of", lambda curve, aim, **more: (looked.append([aim.name, more["base_density"], more["trial"].id, more["film"], more["colour"], more["advice"]()[:40]]), ("fault",))[1])  # fmt: skip
        mine.setattr(book, "film_from_others", lambda series, id, others: [id, len(series.trials), len(others)])
        mine.setattr(book, "colour_of_patches", lambda steps, others: [len(steps), [one.id for one in others]])
        mine.setattr(notebook, "advice", lambda film_id, trial: f"advised of {trial.id}, {film_id == film}")
        kept = notebook.trials(film)
        found["faults"] = [notebook.faults(kept[place].id) for place in (0, 2)] + looked
    finally:
        mine.undo()
    found["count"] = [outcome(lambda n=n: notebook.next_strips(film, n)) for n in (0, 7)]
    words = book._told_by([], ())
    found["told by"] = [words, json.dumps(AIMS["scan"].name)]
    return {**found, "chart": told}


def stories(bench: Any, clock: FixedClock, asked: list[Any]) -> dict[str, Any]:
    """The page of a film, of sums that only note what they are asked."""
    notebook, found, looked = bench.notebook, dict[str, Any](), list[Any]()
    film = notebook.add_film({"name": "Grey", "box_speed": 100, "base_density": 0.2}).id
    other = notebook.add_film({"name": "Other", "box_speed": 100}).id
    notebook.add_trial(other, SEEN)
    for number, more in enumerate(({"steps": STEPS}, {}, {"steps": STEPS})):
        clock.advance(60)
        notebook.add_trial(
            film,
            {"id": f"s{number}", "controls": {TIME.key: 5.0 + number}, **more},
            run="r1" if number else "",
            picture="p" if number else "",
        )
    run = SimpleNamespace(thing=SimpleNamespace(plan=SimpleNamespace(route=SimpleNamespace(name="Iron way"))))
    noted = ("effects", "robustness", "learned", "taught_by_words", "base_of", "trial_pages")
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr(notebook._store.runs, "find", lambda id: run if id == "r1" else None)
        for name in noted:
            mine.setattr(
                book.story,
                name,
                lambda fit, *more, name=name: (
                    looked.append(
                        [
                            name,
                            len(fit.series.trials),
                            *(
                                []
                                if name == "trial_pages"
                                else [getattr(one, "series", one) is not one or one for one in more]
                            ),
                        ]
                    )
                    or (0.2 if name == "base_of" else f"by {name}" if name == "taught_by_words" else [name])
                ),
            )
        pages_seen = list[Any]()
        mine.setattr(
            book.story,
            "trial_pages",
            lambda fit, rows, curves: (
                pages_seen.append(
                    [
                        [{k: v for k, v in row.items() if k != "id"} for row in rows],
                        [curve is not None for curve in curves],
                    ]
                )
                or []
            ),
        )
        mine.setattr(book, "recipe_chance", lambda fit, here: here[TIME.key] / 10)
        for place in (None, 0, 2):
            looked.clear()
            notebook._fits = book.Remembered(book.MOST_FITS)
            mine.setattr(book, "nearest_strip", lambda fit, aim, place=place: place)
            told = notebook.story(film)
            best = next((kept.thing.trial.id for kept in notebook.trials(film) if kept.id == told.best), None)
            found[f"nearest {place}"] = [
                best,
                told.plan_revision,
                told.base,
                told.learned,
                told.by_words,
                told.effects,
                told.robustness,
                told.repeated,
                looked[:],
            ]
        found["rows"] = pages_seen[0]
        found["made by"] = [outcome(lambda name=name: notebook._process_of(film, name).name) for name in ("s0", "s1")]
        looked.clear()
        notebook.story(film)
        found["asked again"] = looked[:]
        bench.pool.learned = lambda: (None, "another digest")
        looked.clear()
        notebook.story(film)
        found["asked with another prior"] = [one[0] for one in looked]
        proposed = list[Any]()
        mine.setattr(
            book,
            "next_strips",
            lambda series, count, fit: proposed.append([len(series.trials), count, fit.series.film.name]) or "next",
        )
        for count in (1, 6, 1):
            notebook.next_strips(film, count)
        bench.pool.learned = lambda: (None, "a third")
        notebook.next_strips(film, 1)
        found["proposed"] = proposed
    document = book.FilmStory(
        **{**dict.fromkeys(("trials", "learned", "effects"), ()), "film": notebook.film(film), "plan_revision": 3, "series": notebook.series(film), "base": 0.2, "best": "b", "by_words": "w", "robustness": ("r",), "repeated": 0.4}
    ).document()  # fmt: skip
    found["as a document"] = {
        key: value for key, value in document.items() if key not in ("film", "controls", "aim")
    } | {"keys": list(document), "aim": document["aim"]["name"]}  # type: ignore[index, call-overload]
    return found


@pytest.mark.parametrize(
    "telling", [pages, trials, dates, held, learned, charts, stories], ids=lambda telling: telling.__name__
)
def test_what_a_notebook_makes_of_it_is_what_was_read(tmp_path, telling, asked):
    with darkroom(tmp_path) as opened:
        assert not told_as_kept(f"notebook_{telling.__name__}", telling(*opened, asked))
