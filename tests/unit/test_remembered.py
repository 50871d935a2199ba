"""What is kept at hand is reckoned once for the same, and anew as soon as anything it hangs on changes."""

from __future__ import annotations

import threading
import time
from concurrent.futures import ThreadPoolExecutor

from obverse.process import AIMS, FilmStock, Recipe
from obverse.process.catalog import formulas, routes
from obverse.workbench.remembered import Remembered


def test_the_same_is_reckoned_once_and_the_longest_unasked_goes():
    asked = []
    kept = Remembered(2)

    def ask(key):
        return kept.of(key, lambda: asked.append(key) or key.upper())

    assert "".join(map(ask, "abacab")) == "ABACAB"
    assert asked == ["a", "b", "c", "b"]


def test_what_many_ask_for_at_once_is_reckoned_once_and_one_after_another():
    kept, began, asked, at_work = Remembered(9), threading.Barrier(6), [], []

    def work(key):
        at_work.append(key)
        assert len(at_work) == 1, "two are reckoned at once"
        asked.append(key)
        # The others would come in meanwhile if they could.
        time.sleep(0.01)
        at_work.remove(key)
        return key.upper()

    def pupil(key):
        began.wait()
        return kept.of(key, lambda: kept.of(f"{key} of {key}", lambda: work(key)))

    with ThreadPoolExecutor(6) as pupils:
        assert "".join(pupils.map(pupil, "aaabbb")) == "AAABBB"
    assert sorted(asked) == ["a", "b"]


def test_a_recipe_is_mixed_anew_when_what_stands_on_the_shelf_has_changed(workbench):
    shelf, recipes = workbench.shelf, workbench.recipes
    route = routes()["iron_ammonia_light"]
    recipe = Recipe(
        name="any",
        film=FilmStock(name="any", box_speed=100),
        exposure_index=100,
        controls={},
        route=route,
        formulas=tuple(formulas()[key] for key in dict.fromkeys(step.formula for step in route.steps if step.formula)),
        aim=AIMS["projection"],
    )

    def ammonia_ml(volume_ml=500.0):
        baths = recipes.from_my_bottles(recipe, volume_ml)
        sheet = next(bath.sheet for bath in baths if bath.formula.key == "ammonia_bath")
        return sheet.amounts["household_ammonia_5"]

    shelf.add_generic("household_ammonia_5")
    fresh = ammonia_ml()
    assert ammonia_ml() == fresh
    # Another volume, and a bottle that stood open, are other questions.
    assert ammonia_ml(1000.0) > 1.9 * fresh
    shelf.add_bottle({"name": "ammonia", "product": "household_ammonia_5", "amount": 800, "hours_open": 40})
    assert ammonia_ml() > fresh
