"""The page of a film is asked for at the instant at which a strip is written down: it is whole, with the strip or without."""

import pytest

from obverse.model import demo_film, simulate_series
from obverse.workbench import notebook
from obverse.workbench.bootstrap import open_workbench

pytestmark = pytest.mark.usefixtures("few_draws")

RECIPES = [{"first_developer_time_min": 10.0, "solvent_ml_per_l": s, "alkali_ml_per_l": 6.0} for s in (4.0, 8.0)]


def test_a_strip_written_between_two_readings_breaks_no_page(tmp_path, monkeypatch):
    bench = open_workbench(tmp_path, url="sqlite://")
    try:
        series = simulate_series(demo_film(), RECIPES, seed=3).model_dump(mode="json")
        late = series["trials"].pop()
        film = bench.notebook.import_series(series).id
        known, written = bench.notebook._known_films, []

        def while_it_is_written(film_id):
            if not written:
                written.append(bench.notebook.add_trial(film_id, late))
            return known(film_id)

        monkeypatch.setattr(bench.notebook, "_known_films", while_it_is_written)
        assert len(bench.notebook.story(film).document()["trials"]) == 1 and written
        assert len(bench.notebook.story(film).document()["trials"]) == 2
    finally:
        bench.close()


def test_a_film_of_more_strips_than_a_series_holds_has_a_page(tmp_path, monkeypatch):
    monkeypatch.setattr(notebook, "MOST_TRIALS_OF_A_SERIES", 1)
    bench = open_workbench(tmp_path, url="sqlite://")
    try:
        film = bench.notebook.import_series(simulate_series(demo_film(), RECIPES, seed=3).model_dump(mode="json")).id
        (shown,) = bench.notebook.story(film).document()["trials"]
        assert shown["controls"]["solvent_ml_per_l"] == 8.0
    finally:
        bench.close()
