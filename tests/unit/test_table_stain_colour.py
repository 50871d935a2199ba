"""The colour that a picture reading found travels with the readings and tells a stain from silver; other films teach too."""

import numpy as np
import pytest

from benchmarks.faulty_strips import X, draw_controls, faulty_strip, film_seeds
from obverse.inference import next_strips
from obverse.model.simulate import simulate_film, simulate_series

pytestmark = pytest.mark.usefixtures("few_draws")

SEED = film_seeds(40, 1)[0]


def series_of(seed: int, name: str) -> dict:
    random = np.random.default_rng([13, seed])
    series = simulate_series(simulate_film(seed), [draw_controls(random) for _ in range(3)], seed=seed).model_dump(
        mode="json"
    )
    series["film"]["name"] = name
    return series


def patches_of(strip, *, coloured: bool) -> list[dict]:
    return [
        {
            "log_exposure": float(x),
            "density": float(d),
            "density_sd": 0.02,
            "stain_index": float(index) if coloured else None,
        }
        for x, d, index in zip(X, strip.density, strip.stain_index, strict=True)
    ]


@pytest.fixture
def film(workbench):
    return workbench.notebook.import_series(series_of(SEED, "the film")).id


def chance_of_stain(client, film, strip, *, coloured: bool) -> float:
    body = {"film": film, "controls": strip.controls, "patches": patches_of(strip, coloured=coloured)}
    kept = client.post("/api/light-table/attach", json=body)
    assert kept.status_code == 200, kept.text
    faults = client.get(f"/api/notebook/trials/{kept.json()['id']}/faults").json()["faults"]
    client.post(f"/api/notebook/trials/{kept.json()['id']}/retire")
    return next(
        (one["probability"] if one["fault"] == "stain" else one["alternatives"].get("stain", 0.0) for one in faults),
        0.0,
    )


def test_the_stain_index_stays_with_its_patch(client, workbench, film):
    strip = faulty_strip(SEED, "stain", 0.25)
    patches = patches_of(strip, coloured=True)
    kept = client.post("/api/light-table/reading", json={"patches": patches, "source": "picture"}).json()["id"]
    read = client.get(f"/api/light-table/reading/{kept}").json()["patches"]
    assert [p["stain_index"] for p in read] == [p["stain_index"] for p in patches]
    client.post("/api/light-table/attach", json={"film": film, "controls": strip.controls, "patches": read})
    series = client.get(f"/api/notebook/films/{film}/series").json()
    assert [p["stain_index"] for p in series["trials"][3]["steps"]] == [p["stain_index"] for p in patches]
    assert series["trials"][0]["steps"][0]["stain_index"] is None


def test_a_weak_stain_is_told_by_the_colour_that_travelled(client, film):
    strip = faulty_strip(SEED, "stain", 0.15)
    without, with_ = (chance_of_stain(client, film, strip, coloured=coloured) for coloured in (False, True))
    assert with_ > 0.5 and (1 - with_) < 0.5 * (1 - without), (without, with_)


def test_the_table_itself_sees_the_colour(client):
    strip = faulty_strip(SEED, "stain", 0.35)
    seen = []
    for coloured in (False, True):
        body = {"patches": patches_of(strip, coloured=coloured), "base_density": strip.film.base_density}
        faults = client.post("/api/light-table/look", json=body).json()["faults"]
        seen.append(
            max(
                [f["probability"] if f["fault"] == "stain" else f["alternatives"].get("stain", 0) for f in faults],
                default=0,
            )
        )
    assert seen[1] > seen[0] + 0.1, seen


def test_page_and_command_learn_alike_from_the_other_films(workbench, film, monkeypatch):
    # A film as alike as can be: its own strips speak for what that one taught.
    other = workbench.notebook.import_series(series_of(SEED, "another film"))
    notebook = workbench.notebook
    page = notebook.next_strips(film).document()
    command = next_strips(notebook.series(film), others=[notebook.series(other.id)]).document()
    alone = next_strips(notebook.series(film)).document()
    assert page == command != alone
    asked = []
    from obverse.workbench import notebook as module

    real = module.film_from_others
    monkeypatch.setattr(
        module, "film_from_others", lambda series, trial, others: asked.append(others) or real(series, trial, others)
    )
    first = notebook.trials(film)[0].id
    notebook.faults(first)
    assert [[one.series.film.name for one in others] for others in asked] == [["another film"]]


def test_a_changed_strip_of_another_film_teaches_anew(workbench, film):
    other = workbench.notebook.import_series(series_of(SEED + 1, "another film"))
    before = workbench.notebook.fit(film)
    assert workbench.notebook.fit(film) is before
    workbench.notebook.retire_trial(workbench.notebook.trials(other.id)[0].id)
    assert workbench.notebook.fit(film) is not before
