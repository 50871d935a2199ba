"""The light table and the notebook through the web face: what a person can do, and what is refused."""

import numpy as np
import pytest

from obverse.model.simulate import demo_film, simulate_series, simulate_trial
from obverse.process import read_series
from obverse.workbench.proposal import percent

pytestmark = pytest.mark.usefixtures("few_draws")

TRIALS = [
    {"first_developer_time_min": 8, "solvent_ml_per_l": 4, "alkali_ml_per_l": 5},
    {"first_developer_time_min": 12, "solvent_ml_per_l": 10, "alkali_ml_per_l": 5},
    {"first_developer_time_min": 13, "solvent_ml_per_l": 16, "alkali_ml_per_l": 6},
]
PATCHES = [
    {"log_exposure": x, "density": d, "density_sd": 0.02}
    for x, d in ((-1.2, 2.2), (-0.6, 1.9), (0, 1.2), (0.6, 0.55), (1.2, 0.38))
]


@pytest.fixture
def film(workbench):
    series = simulate_series(demo_film(), TRIALS, seed=3)
    return workbench.notebook.import_series(series.model_dump(mode="json")).id


def ok(answer):
    assert 200 == answer.status_code, answer.text
    return answer.json()


def refused(answer, part):
    assert 400 <= answer.status_code < 500, answer.text
    sentence = answer.json()["detail"]
    assert part in sentence
    assert "\n" not in sentence


def test_readings_become_strip_curve_numbers(client):
    seen = ok(client.post("/api/light-table/look", json={"patches": PATCHES, "base_density": 0.25, "box_speed": 100}))
    assert pytest.approx([1.95, 1.65, 0.95, 0.3, 0.13]) == seen["strip"]
    assert 2.2 == pytest.approx(seen["numbers"]["dmax"]["value"], abs=0.2)
    assert seen["curve"]["low90"] < seen["curve"]["density"] < seen["curve"]["high90"]


def test_a_dropped_list_and_its_export_are_the_same_readings(client):
    text = "log_exposure,density,sd\n" + "\n".join(f"{p['log_exposure']},{p['density']},0.02" for p in PATCHES)
    read = ok(client.post("/api/light-table/read-text", json={"text": text}))
    patches = read["patches"]
    for kind in ("csv", "cgats"):
        written = client.post("/api/light-table/export", json={"patches": patches, "format": kind}).text
        assert patches == ok(client.post("/api/light-table/read-text", json={"text": written}))["patches"]


@pytest.mark.parametrize(
    ("address", "body", "part"),
    [
        ("look", {"patches": []}, "patches"),
        ("look", {"patches": PATCHES[:2]}, "3 readings"),
        ("look", {"patches": [{"log_exposure": 0, "density": 99}]}, "density"),
        ("look", {"patches": PATCHES, "aim": "cinema"}, "aim"),
        ("look", {"patches": PATCHES, "base_density": -1}, "base_density"),
        ("read-text", {"text": "a,b\n1,2", "name": "strip.csv"}, "strip.csv, line 1"),
        ("read-text", {"text": "{}", "name": "x.json"}, "x.json"),
        ("shots", {"low_stops": 3, "high_stops": -3}, "bracket"),
        ("attach", {"film": "nobody", "patches": PATCHES, "controls": {"first_developer_time_min": 9}}, "nobody"),
    ],
)
def test_bad_readings_are_one_sentence(client, address, body, part):
    refused(client.post(f"/api/light-table/{address}", json=body), part)


def test_readings_can_be_written_into_a_waiting_trial(client, workbench, film):
    waiting = ok(client.post(f"/api/notebook/films/{film}/trials", json={"controls": TRIALS[0]}))
    assert "strip 4" == waiting["name"]
    ok(client.post("/api/light-table/attach", json={"film": film, "trial": waiting["id"], "patches": PATCHES}))
    assert 5 == len(workbench.notebook.series(film).trials[3].steps)
    # The other device looked at it while it waited: what was read meanwhile is not replaced without a word.
    late = {"film": film, "trial": waiting["id"], "patches": PATCHES[:4], "revision": 1}
    answer = client.post("/api/light-table/attach", json=late)
    assert 409 == answer.status_code and "'strip 4' was changed meanwhile" == answer.json()["what"]
    assert 5 == len(workbench.notebook.series(film).trials[3].steps)


def test_the_pages_open(client, film, workbench):
    trial = workbench.notebook.trials(film)[0].id
    reading = ok(client.post("/api/light-table/reading", json={"patches": PATCHES}))["id"]
    for address in (
        "/notebook",
        f"/notebook/{film}",
        "/light-table",
        f"/light-table?reading={reading}",
        f"/light-table?trial={trial}",
    ):
        answer = client.get(address, headers={"accept": "text/html"})
        assert 200 == answer.status_code
        assert "<h1>" in answer.text
    assert 404 == client.get("/notebook/nobody", headers={"accept": "text/html"}).status_code


def test_the_story_tells_of_each_strip_and_of_what_was_learned(client, film):
    story = ok(client.get(f"/api/notebook/films/{film}/story"))
    assert ["strip 1", "strip 2", "strip 3"] == [trial["name"] for trial in story["trials"]]
    for trial in story["trials"]:
        assert "measured" == trial["curve_is"]
        assert 0 <= trial["probability_in_aim"] <= 1
        for name in ("dmax", "highlight_density", "gradient", "midtone_log_exposure"):
            estimate = trial["seen"][name]["estimate"]
            assert estimate["low90"] <= estimate["value"] <= estimate["high90"]
    truth = demo_film()
    base = next(row for row in story["learned"] if row["key"] == "base")["estimate"]
    assert base["low90"] <= truth.base_density <= base["high90"]
    solvent = next(row for row in story["effects"] if row["control"] == "solvent_ml_per_l")["changes"]
    assert solvent["dmax"]["value"] < 0, "solvent takes the blacks"


def test_what_if_follows_the_controls_and_the_aim(client, film):
    def ask(**controls):
        return ok(client.post(f"/api/notebook/films/{film}/what-if", json={"controls": {**TRIALS[1], **controls}}))

    little, much = ask(solvent_ml_per_l=2), ask(solvent_ml_per_l=25)
    assert much["seen"]["dmax"]["estimate"]["value"] < little["seen"]["dmax"]["estimate"]["value"]
    assert np.all(np.array(much["strip"]["density"]) <= np.array(little["strip"]["density"]) + 1e-6)
    # A strip written down a moment ago counts at once.
    before = ask()
    ok(client.post(f"/api/notebook/films/{film}/trials", json={"controls": TRIALS[1], "steps": PATCHES}))
    assert before["curve"] != ask()["curve"]
    impossible = {"name": "own", "midtone_density": 1.0, "dmax_min": 3.9}
    answer = ok(client.post(f"/api/notebook/films/{film}/what-if", json={"controls": TRIALS[1], "aim": impossible}))
    assert answer["probability_in_aim"] < 0.05
    refused(client.post(f"/api/notebook/films/{film}/what-if", json={"controls": {"magic": 1}}), "magic")
    refused(client.post(f"/api/notebook/films/{film}/what-if", json={"controls": {"solvent_ml_per_l": -3}}), "solvent")


def test_the_next_strips_come_with_their_looks_and_reasons(client, film):
    answer = ok(client.get(f"/api/notebook/films/{film}/next?count=2"))
    assert 2 == len(answer["suggestions"])
    for one in answer["suggestions"]:
        assert one["reason"]
        assert 27 == len(one["strip"]["density"])
    refused(client.get(f"/api/notebook/films/{film}/next?count=99"), "99")


def test_the_aim_can_be_drawn_anew_and_is_kept(client, workbench, film):
    aim = {**workbench.notebook.series(film).aim.model_dump(mode="json"), "name": "own", "dmax_min": 1.7}
    ok(client.post(f"/api/notebook/films/{film}/plan", json={"aim": aim}))
    assert 1.7 == workbench.notebook.series(film).aim.dmax_min
    refused(client.post(f"/api/notebook/films/{film}/plan", json={"aim": {**aim, "dmax_min": 0.5}}), "dmax_min")
    assert 1.7 == workbench.notebook.series(film).aim.dmax_min


def test_what_the_eye_says_is_kept_and_learned_from(client, workbench, film):
    new = ok(
        client.post(
            f"/api/notebook/films/{film}/trials",
            json={"controls": TRIALS[0], "grades": [{"of": "blacks", "grade": "thin"}]},
        )
    )
    story = ok(client.get(f"/api/notebook/films/{film}/story"))
    assert "predicted" == story["trials"][3]["curve_is"]
    changed = ok(
        client.post(f"/api/notebook/trials/{new['id']}", json={"revision": 1, "grades": [], "note": "wrong light"})
    )
    assert 2 == changed["revision"]
    refused(client.post(f"/api/notebook/trials/{new['id']}", json={"revision": 1, "note": "late"}), "changed meanwhile")
    refused(
        client.post(f"/api/notebook/trials/{new['id']}", json={"grades": [{"of": "blacks", "grade": "lovely"}]}),
        "lovely",
    )


def test_nothing_is_deleted(client, workbench, film):
    trial = workbench.notebook.trials(film)[0].id
    ok(client.post(f"/api/notebook/trials/{trial}/retire"))
    assert 2 == len(workbench.notebook.series(film).trials)
    ok(client.post(f"/api/notebook/trials/{trial}/restore"))
    assert 3 == len(workbench.notebook.series(film).trials)


def test_the_exported_series_begins_the_same_film_elsewhere(client, film):
    document = ok(client.get(f"/api/notebook/films/{film}/series"))
    assert read_series(document).trials == read_series({**document}).trials
    # Taken in where it came from, it finds its own film, and no strip stands twice.
    assert ok(client.post("/api/notebook/import", json=document))["id"] == film
    assert ok(client.get(f"/api/notebook/films/{film}/series"))["trials"] == document["trials"]
    document["film"]["name"] = "the same film elsewhere"
    again = ok(client.post("/api/notebook/import", json=document))["id"]
    assert document == ok(client.get(f"/api/notebook/films/{again}/series"))


def test_a_recipe_is_locked_with_its_evidence_and_revised(client, workbench, film):
    body = {"trial": "strip 2", "name": "Film A, projection", "route": "iron_ammonia_light"}
    refused(client.post(f"/api/notebook/films/{film}/recipes", json=body), "lock it anyway")
    body["anyway"] = True
    assert 1 == ok(client.post(f"/api/notebook/films/{film}/recipes", json=body))["revision"]
    assert 2 == ok(client.post(f"/api/notebook/films/{film}/recipes", json=body))["revision"]
    recipe = workbench.notebook.recipes()[0].thing.model_dump(mode="json")
    assert (3, "strip 2", 2) == (recipe["evidence"]["trials"], recipe["evidence"]["best_trial"], recipe["revision"])
    assert 2 == len(workbench.store.history("recipe", workbench.notebook.recipes()[0].id))
    told = f"{percent(recipe['evidence']['probability_in_aim'])} chance to lie in the aim"
    for page in (f"/notebook/{film}", f"/notebook/recipes/{workbench.notebook.recipes()[0].id}"):
        assert told in " ".join(client.get(page).text.split())
    for change, part in (
        ({"trial": "strip 9"}, "strip 9"),
        ({"route": "magic"}, "magic"),
        ({"name": "..."}, "letters or figures"),
    ):
        refused(client.post(f"/api/notebook/films/{film}/recipes", json={**body, **change}), part)


def test_the_control_chart_sees_a_bath_that_weakens(client, workbench, clock, film):
    ok(
        client.post(
            f"/api/notebook/films/{film}/recipes",
            json={"trial": "strip 2", "name": "A", "route": "iron_ammonia_light", "anyway": True},
        )
    )
    invented = demo_film()
    for i in range(14):
        clock.advance(7 * 86400)
        controls = {**TRIALS[1], "first_developer_time_min": 12 - (0 if i < 8 else 0.9 * (i - 7))}
        made = simulate_trial(invented, controls, id=f"control {i + 1}", seed=50 + i)
        workbench.notebook.add_trial(film, {**made.model_dump(mode="json"), "controls": TRIALS[1]}, recipe="a")
        if i == 2:
            refused(client.get("/api/notebook/recipes/a/chart"), "3 control strips")
    charts = {one["key"]: one for one in ok(client.get("/api/notebook/recipes/a/chart"))["charts"]}
    signals = [s["index"] for s in charts["midtone_log_exposure"]["signals"]]
    assert signals and min(signals) >= 8, "steady while the bath was fresh, told when it weakened"


def test_no_film_no_trial_and_no_reading_are_no_crash(client):
    film = ok(client.post("/api/notebook/films", json={"stock": {"name": "a new film", "box_speed": 400}}))["id"]
    story = ok(client.get(f"/api/notebook/films/{film}/story"))
    assert [] == story["trials"]
    assert "try" == ok(client.get(f"/api/notebook/films/{film}/next"))["status"]
    refused(client.post("/api/notebook/films", json={"stock": {"name": "a new film", "box_speed": 400}}), "already")
    refused(client.post("/api/notebook/films", json={"stock": {"name": "", "box_speed": 400}}), "name")
    refused(client.post("/api/notebook/films", json={"stock": {"name": "x", "box_speed": -4}}), "box_speed")


def test_a_list_in_stops_is_asked_about_and_converted_by_one_press(client):
    stops = "\n".join(f"{s},{0.3 + 2.4 / (1 + 3.0**s):.3f}" for s in range(-5, 6))
    asked = ok(client.post("/api/light-table/read-text", json={"text": stops}))
    assert [] == asked["patches"]
    assert ("stops", "likely_not", True) == tuple(asked["doubts"][0][k] for k in ("code", "verdict", "convertible"))
    taken = ok(client.post("/api/light-table/read-text", json={"text": stops, "convert": "stops"}))
    assert 0.301 == pytest.approx(taken["patches"][1]["log_exposure"] - taken["patches"][0]["log_exposure"], abs=0.001)
    as_it_stands = ok(client.post("/api/light-table/read-text", json={"text": stops, "as_it_is": True}))
    assert 1.0 == as_it_stands["patches"][1]["log_exposure"] - as_it_stands["patches"][0]["log_exposure"]
    refused(client.post("/api/light-table/read-text", json={"text": stops, "convert": "percent"}), "stops")


def test_how_a_strip_was_exposed_widens_what_is_read_along_the_exposure_axis(client):
    patches = [{"log_exposure": x / 10, "density": 0.3 + 2.2 / (1 + 10 ** (0.16 * x))} for x in range(-15, 16, 3)]

    def width(exposed: str, of: str) -> float:
        numbers = ok(client.post("/api/light-table/look", json={"patches": patches, "exposed": exposed}))["numbers"]
        return numbers[of]["high90"] - numbers[of]["low90"]

    assert 1.4 * width("wedge", "midtone_log_exposure") < width("flash", "midtone_log_exposure")
    assert 1.2 * width("wedge", "gradient") < width("shutter", "gradient")
