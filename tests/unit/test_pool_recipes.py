"""A newer revision of a recipe stays the same recipe, a grown series the same film; a recipe's curve is one lent strip."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from obverse.clock import FixedClock
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.recipes import differences, read_recipe_text, recipe_text

pytestmark = pytest.mark.usefixtures("few_draws")

TEACHING = json.loads((Path(__file__).parents[2] / "docs" / "teaching-film-a.json").read_text())


@pytest.fixture
def benches(tmp_path):
    clock = FixedClock(datetime(2031, 5, 1, tzinfo=UTC))
    both = [open_workbench(tmp_path / name, url="sqlite://", clock=clock) for name in ("north", "south")]
    yield both
    for bench in both:
        bench.close()


def locked(bench, film: str, **more: object):
    trial = TEACHING["trials"][-1]["id"]
    kept = bench.notebook.lock_recipe(
        film, trial, name="for projection", route_key="permanganate_light", anyway=True, **more
    )
    return read_recipe_text(recipe_text(bench.recipes.export(kept.id)))


def test_revisions_follow_each_other_and_ones_own_is_never_replaced(benches):
    north, south = benches
    film = north.notebook.import_series(TEACHING).id
    first = locked(north, film)
    second = locked(north, film, note="a word more")
    assert first.origin == north.store.darkroom and (first.revision, second.revision) == (1, 2)
    assert [row.where for row in differences(first, second)] == ["revision: number"]

    taken = [south.recipes.take_in(recipe) for recipe in (first, second, second, first)]
    assert [(one.new, one.follows) for one in taken] == [(True, 0), (True, 1), (False, 0), (False, 0)]
    assert taken[1].words == "follows revision 1 of for-projection"
    assert [kept.thing.note for kept in south.recipes.all()] == ["a word more"]
    assert len(south.store.history("recipe", "for-projection")) == 2

    # Back home a later revision by somebody else stands beside one's own.
    third = second.model_copy(update={"revision": 3, "note": "theirs"})
    back = north.recipes.take_in(third)
    assert back.words == "is kept as for-projection-2"
    assert north.recipes.recipe("for-projection").note == "a word more"


def test_another_film_or_another_darkroom_is_another_recipe(benches):
    north, south = benches
    first = locked(north, north.notebook.import_series(TEACHING).id)
    south.recipes.take_in(first)
    for changes in (
        {"origin": "another"},
        {"film": first.film.model_copy(update={"name": "another film"})},
        {"film": first.film.model_copy(update={"box_speed": 400})},
    ):
        assert south.recipes.take_in(first.model_copy(update={"revision": 2, **changes})).follows == 0
    assert len(south.recipes.all()) == 4


def test_a_recipe_shows_one_strip_to_whoever_has_the_film(benches):
    north, south = benches
    home = north.notebook.import_series(TEACHING).id
    south.recipes.take_in(locked(north, home))
    film = south.notebook.add_film(north.notebook.film(home).thing.model_dump(mode="json")).id
    (shown,) = south.notebook.lent(film)
    assert shown.name == "the recipe for projection" and len(shown.trials) == 1
    assert shown.trials[0].steps == north.notebook.trials(home)[-1].thing.trial.steps
    # Where it was locked it is a strip that stands there.
    assert north.notebook.lent(home) == []


def test_a_grown_series_is_the_same_film(benches):
    north, _ = benches
    few = {**TEACHING, "trials": TEACHING["trials"][:2]}
    film = north.notebook.import_series(few).id
    assert north.notebook.import_series(TEACHING).id == film
    assert north.notebook.import_series(TEACHING).id == film
    assert [kept.thing.trial.id for kept in north.notebook.trials(film)] == [t["id"] for t in TEACHING["trials"]]


def test_a_strip_that_says_two_things_is_kept_twice_and_counts_as_it_stood(benches):
    north, _ = benches
    film = north.notebook.import_series(TEACHING).id
    lie = json.loads(json.dumps(TEACHING))
    lie["trials"][0]["steps"][0]["density"] += 0.3
    north.notebook.import_series(lie)
    assert len(north.notebook.trials(film)) == len(TEACHING["trials"])
    (aside,) = north.notebook.retired_trials(film)
    assert aside.thing.trial.id == f"{TEACHING['trials'][0]['id']} (2)"
