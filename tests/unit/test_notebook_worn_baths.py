"""Worn baths as a person meets them: said by hand, by the command, booked by the sink, shown on the page."""

import json

import pytest

from obverse.cli.main import run
from obverse.foundation import InputError
from obverse.process import AIMS, FilmStock, Recipe, read_series
from obverse.process.catalog import formulas, routes
from obverse.reference import number
from obverse.workbench.wear import developer_wear, wear_text

pytestmark = pytest.mark.usefixtures("few_draws")

CONTROLS = {"first_developer_time_min": 10.0, "solvent_ml_per_l": 8.0, "alkali_ml_per_l": 5.0}
STEPS = [{"log_exposure": x, "density": d} for x, d in ((-1.2, 2.2), (-0.6, 1.9), (0, 1.2), (0.6, 0.55), (1.2, 0.38))]


@pytest.fixture
def film(workbench):
    return workbench.notebook.add_film({"name": "Invented grey base 100", "box_speed": 100}).id


def evening(sink, clock, **request) -> str:
    """A whole evening, touched by plan."""
    began = sink.begin(request, speed=1.0)
    sink.record(began, f"{began}-start", {"kind": "started"})
    while (action := sink.state(began).action) is not None:
        if action.waits_for_pour and sink.state(began).clock_from_s is None:
            clock.advance(action.pour_s)
            sink.record(began, f"{began}-{action.key}-poured", {"kind": "poured", "action": action.key})
        clock.advance(action.duration_s)
        sink.record(began, f"{began}-{action.key}", {"kind": "acknowledged", "action": action.key})
    return began


def worn(workbench, film) -> list[dict]:
    return [kept.thing.trial.wear for kept in workbench.notebook.trials(film)]


def test_films_before_become_a_share_of_what_the_developer_can_do():
    takes = number("notebook.wear.developer_films_per_l")
    assert developer_wear(0) == 0
    assert developer_wear(1, 1000) == pytest.approx(1 / takes)
    assert developer_wear(1, 500) == pytest.approx(2 * developer_wear(1, 1000))
    assert developer_wear(50, 500) == 1


@pytest.mark.parametrize(("films", "volume"), [(-1, 500), (float("nan"), 500), (1, 0), (1, float("inf"))])
def test_what_cannot_be_is_refused(films, volume):
    with pytest.raises(InputError):
        developer_wear(films, volume)


def test_a_bleach_that_goes_back_to_its_bottle_is_worn_on_the_second_evening(workbench, clock, film):
    strips = [{"name": "A", "film": film, "controls": CONTROLS}]
    for _ in range(3):
        evening(workbench.sink, clock, route="dichromate_light", strips=strips)
    first, second, third = worn(workbench, film)
    # Developers are mixed for the evening by this route; only the bleach comes from its bottle.
    assert first == {}
    assert set(second) == set(third) == {"bleach"}
    assert third["bleach"] == pytest.approx(2 * second["bleach"], rel=0.02)
    assert 0 < second["bleach"] < 0.5


def test_a_first_developer_that_is_kept_is_worn_by_the_films_before(workbench, clock, film):
    # A developer that lasts: the shipped one must be used within the hour, and is mixed anew each evening.
    lasting = formulas()["first_developer"].model_copy(
        update={"key": "lasting_developer", "one_shot": False, "use_within_min": None, "make_just_before_use": False}
    )
    workbench.store.put("formula", lasting.model_dump(mode="json"), id=lasting.key)
    route = routes()["dichromate_light"]
    steps = tuple(
        step.model_copy(update={"after_use": "keep", "formula": lasting.key}) if step.kind == "develop" else step
        for step in route.steps
    )
    body = Recipe(
        name="Developer kept",
        film=FilmStock(name="Invented grey base 100", box_speed=100),
        controls=CONTROLS,
        route=route.model_copy(update={"steps": steps}),
        formulas=(*formulas().values(), lasting),
        aim=AIMS["projection"],
    )
    recipe = workbench.store.put("recipe", body.model_dump(mode="json")).id
    for _ in range(2):
        evening(workbench.sink, clock, recipe=recipe)
    first, second = worn(workbench, film)
    assert "first_developer" not in first
    assert second["first_developer"] == pytest.approx(developer_wear(1, 500), abs=0.001)


def test_the_page_takes_films_before_shows_the_wear_and_changes_it(client, film):
    body = {"controls": CONTROLS, "films_before": 1, "developer_ml": 1000, "wear": {"bleach": 0.4}}
    new = client.post(f"/api/notebook/films/{film}/trials", json=body).json()["id"]
    (told,) = client.get(f"/api/notebook/films/{film}/story").json()["trials"]
    assert told["wear"] == {"bleach": 0.4, "first_developer": 0.25}
    assert told["wear_text"] == "bleach 40 %, first developer 25 % used before"
    assert client.post(f"/api/notebook/trials/{new}", json={"wear": {}}).status_code == 200
    (told,) = client.get(f"/api/notebook/films/{film}/story").json()["trials"]
    assert told["wear"] == {} and told["wear_text"] == ""
    refused = client.post(f"/api/notebook/films/{film}/trials", json={"controls": CONTROLS, "films_before": -2})
    assert refused.status_code == 422 or refused.status_code == 400
    assert "films" in refused.json()["detail"]


def test_a_series_carries_wear_and_needs_none(client, film):
    for films in (0, 2):
        client.post(f"/api/notebook/films/{film}/trials", json={"controls": CONTROLS, "films_before": films})
    document = client.get(f"/api/notebook/films/{film}/series").json()
    assert [trial["wear"] for trial in document["trials"]] == [{}, {"first_developer": 1.0}]
    for trial in document["trials"]:
        del trial["wear"]
    assert [trial.wear for trial in read_series(document).trials] == [{}, {}]


def test_words_of_wear():
    assert wear_text({}) == wear_text({"bleach": 0.0}) == ""


def test_the_command_writes_a_trial_down(tmp_path, monkeypatch, capsys):
    from obverse.workbench.bootstrap import open_workbench

    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path))
    bench = open_workbench()
    film = bench.notebook.add_film({"name": "Invented grey base 100", "box_speed": 100}).id
    bench.close()
    file = tmp_path / "strip.csv"
    file.write_text("log_exposure,density\n" + "".join(f"{step['log_exposure']},{step['density']}\n" for step in STEPS))
    done = ["first_developer_time_min=10", "solvent_ml_per_l=8"]
    assert (
        run(
            [
                "trial",
                "Invented grey base 100",
                *done,
                "--readings",
                str(file),
                "--films-before",
                "1",
                "--developer-ml",
                "500",
            ]
        )
        == 0
    )
    assert capsys.readouterr().out.split() == [
        "strip",
        "1",
        "of",
        "Invented",
        "grey",
        "base",
        "100:",
        "5",
        "readings;",
        "first",
        "developer",
        "50",
        "%",
        "used",
        "before.",
    ]
    assert run(["trial", film, *done, "--json"]) == 0
    written = json.loads(capsys.readouterr().out)
    assert written["id"] == "strip 2" and written["wear"] == {} and written["controls"]["solvent_ml_per_l"] == 8
    for wrong, part in (
        (["trial", "nobody", *done], "nobody"),
        (["trial", film, "solvent_ml_per_l"], "is not NAME=NUMBER"),
        (["trial", film, "sugar=1"], "sugar"),
        (["trial", film, *done, "--films-before", "-1"], "films"),
    ):
        assert run(wrong) == 2
        told = capsys.readouterr()
        assert told.out == "" and part in told.err and told.err.count("\n") == 1


def test_a_film_is_judged_by_strips_with_their_wear_counted(workbench, film):
    """The same strip of a long-used developer is no fault where the wear is said, by the very controls."""
    from obverse.workbench.light_table import made_of

    trial = read_series_trial({"first_developer": 1.0})
    fresh, sds_fresh = made_of(read_series_trial({}))
    controls, sds = made_of(trial)
    assert controls["developer_parts_water"] > fresh["developer_parts_water"] + 2
    assert sds["developer_parts_water"] > sds_fresh["developer_parts_water"]
    assert {**controls, "developer_parts_water": 0} == {**fresh, "developer_parts_water": 0}


def read_series_trial(wear):
    from obverse.process import Trial

    return Trial(id="a", controls=CONTROLS, wear=wear)
