"""The film page says what is so: of strips nobody read, of words alone, of aims out of reach, of a recipe that misses."""

from __future__ import annotations

import json

import numpy as np
import pytest

from obverse.foundation import InputError, UnlikelyError
from obverse.inference import fit_film, nearest_strip, next_strips, recipe_chance
from obverse.inference.suggest import InTheWay, _what_to_relax
from obverse.inference.words import percent
from obverse.model import demo_film, simulate_series
from obverse.process import AIMS, Grade, Trial
from obverse.workbench.light_table import series_answer
from obverse.workbench.story import against, missed, strip_verdict, taught_by_words

pytestmark = pytest.mark.usefixtures("few_draws")

USUAL = {"first_developer_time_min": 10.0, "solvent_ml_per_l": 8.0, "alkali_ml_per_l": 5.0}
THIN_AND_MURKY = (Grade(of="blacks", grade="thin"), Grade(of="highlights", grade="murky"))


def judged(workbench, *, strips=6, grades=THIN_AND_MURKY, aim="projection", name="judged by eye"):
    """A film of whose strips the eye said the same every time."""
    kept = workbench.notebook.add_film({"name": name, "box_speed": 100}, aim=aim)
    for place in range(strips):
        workbench.notebook.add_trial(
            kept.id,
            {
                "controls": {**USUAL, "first_developer_time_min": 8.0 + place},
                "grades": [grade.model_dump() for grade in grades],
            },
        )
    return kept.id


@pytest.fixture(scope="module")
def read_series_fit():
    series = simulate_series(demo_film(), [USUAL, USUAL | {"first_developer_time_min": 14.0}], seed=1)
    return fit_film(series)


def test_a_strip_that_nobody_read_is_no_miss():
    unread = Trial(id="a", controls=USUAL)
    by_eye = Trial(id="a", controls=USUAL, grades=THIN_AND_MURKY)
    assert strip_verdict(unread, 0.02) == "not read yet"
    assert strip_verdict(by_eye, 0.02) == "off the aim, by your words"
    assert strip_verdict(by_eye, 0.85) == "in the aim"
    assert strip_verdict(by_eye, 0.42) == "42 % in the aim"


def test_an_unread_strip_is_never_the_nearest(read_series_fit):
    series = read_series_fit.series
    assert nearest_strip(read_series_fit, series.aim) is not None
    unread = series.model_copy(
        update={"trials": tuple(trial.model_copy(update={"steps": ()}) for trial in series.trials)}
    )
    fit = fit_film(unread)
    assert nearest_strip(fit, unread.aim) is None
    assert next_strips(unread, fit=fit).best_trial is None


def test_the_nearest_is_a_strip_that_was_seen_though_an_unread_one_promises_more():
    series = simulate_series(demo_film(), [USUAL | {"solvent_ml_per_l": 0.0, "first_developer_time_min": 3.0}], seed=1)
    promising = Trial(id="unread", controls=next_strips(series).suggestions[0].controls)
    both = series.model_copy(update={"trials": (promising, *series.trials)})
    fit = fit_film(both)
    chances = [recipe_chance(fit, trial.controls, both.aim) for trial in both.trials]
    assert chances[0] > chances[1]
    assert nearest_strip(fit, both.aim) == 1


def test_words_alone_are_told_as_words(workbench):
    film = judged(workbench)
    story = workbench.notebook.story(film).document()
    answer = workbench.notebook.next_strips(film)
    told = [caution.text for caution in (*answer.cautions, *answer.suggestions[0].cautions)]
    assert any("words alone, of 6 strips" in text for text in told)
    assert not any("films in general" in text for text in told)
    assert story["by_words"].startswith("6 strips judged by eye moved most: ")
    moved = [row for row in story["learned"] if row["before"]["value"] != row["estimate"]["value"]]
    assert moved and all(row["before"]["sd"] > 0 for row in story["learned"])
    # One strip is the nearest, whoever names it.
    assert story["best"] == next(t["id"] for t in story["trials"] if t["name"] == answer.best_trial.id)
    assert 0 <= story["repeated"] <= 1


def test_the_page_stands_before_anything_is_reckoned_of_its_strips(workbench, client, monkeypatch):
    film = judged(workbench, strips=1)
    read = simulate_series(demo_film(), [USUAL], seed=1).trials[0]
    workbench.notebook.add_trial(film, read.model_dump(mode="json") | {"id": "read"})
    monkeypatch.setattr("obverse.workbench.notebook.fit_film", None)
    page = client.get(f"/notebook/{film}").text
    strips = json.loads(page.split('id="strips">')[1].split("</script>")[0])
    assert [len(strip["patches"]) for strip in strips["trials"]] == [0, len(read.steps)]
    assert strips["trials"][1]["patches"] == sorted(
        strips["trials"][1]["patches"], key=lambda patch: patch["log_exposure"]
    )
    assert strips["base"] == min(patch.density for patch in read.steps)
    assert "Reckoning" in page


def test_a_strip_that_waits_is_no_reason_to_learn_from_other_films_anew(workbench, monkeypatch):
    one, other = judged(workbench, strips=1), judged(workbench, strips=1, name="another")
    fits = []
    monkeypatch.setattr(
        "obverse.workbench.notebook.fit_film",
        lambda series, **how: fits.append(series) or fit_film(series, draws=64, **how),
    )
    workbench.notebook.fit(one)
    assert [len(series.trials) for series in fits] == [1, 1]
    workbench.notebook.add_trial(other, {"controls": USUAL})
    workbench.notebook.fit(one)
    assert len(fits) == 2
    workbench.notebook.add_trial(other, {"controls": USUAL, "grades": [THIN_AND_MURKY[1].model_dump()]})
    workbench.notebook.fit(one)
    assert len(fits) == 4


def test_the_list_of_films_knows_strips_judged_by_eye(workbench, client):
    assert "No strip read yet" not in client.get("/notebook").text
    workbench.notebook.add_film({"name": "untouched", "box_speed": 100})
    assert "No strip read yet" in client.get("/notebook").text
    judged(workbench, strips=2)
    assert "2 strips judged by eye, none read" in client.get("/notebook").text


def test_measured_strips_are_not_put_down_to_words(read_series_fit):
    assert taught_by_words(read_series_fit, []) == ""


@pytest.mark.parametrize("windows", [{"dmax_min": 4.5}, {"dmax_min": 4.0, "highlight_density_max": 0.01}])
def test_an_aim_out_of_reach_says_which_bound_to_relax_and_by_how_much(windows):
    series = simulate_series(demo_film(), [USUAL, USUAL | {"first_developer_time_min": 14.0}], seed=1)
    aim = series.aim.model_copy(update={**windows, "name": "own"})
    answer = next_strips(series.model_copy(update={"aim": aim}))
    named = answer.to_relax or (answer.in_the_way,)
    assert "dmax" in {one.observable for one in named}
    for one in named:
        # It gives in the direction that eases the aim, and the person is told to where.
        assert (one.would_do < one.limit) == (one.sense == "at least")
        assert f"{one.would_do:.2f}" in answer.message and f"{one.limit:.2f}" in answer.message
    assert {caution.code for caution in answer.cautions} & {"notebook.out_of_reach", "notebook.hardly_in_reach"}


def test_a_shade_lies_between_its_words():
    read = simulate_series(demo_film(), [USUAL], seed=1)

    def midtone(grade):
        trial = Trial(id="a", controls=USUAL, grades=(Grade(of="midtones", grade=grade),))
        curve = fit_film(read.model_copy(update={"trials": (trial,)})).predict_curve(USUAL, np.array([0.0]))
        return float(curve.density[0])

    light, shade, dark_shade, dark = map(midtone, ("light", "slightly_light", "slightly_dark", "dark"))
    assert light < shade < dark_shade < dark


def test_a_recipe_of_a_strip_that_misses_asks_first(workbench):
    film = judged(workbench, strips=2)
    notebook = workbench.notebook
    with pytest.raises(UnlikelyError, match="lies in the aim with a chance of") as asked:
        notebook.lock_recipe(film, "strip 1", name="r", route_key="permanganate_light")
    # The eye said thin and murky: either bound may be named, with what was wanted.
    assert "wanted at least 2.00" in asked.value.what or "wanted at most 0.25" in asked.value.what
    kept = notebook.lock_recipe(film, "strip 1", name="r", route_key="permanganate_light", anyway=True)
    assert kept.thing.route.key == "permanganate_light"


def test_a_recipe_is_of_the_process_that_made_the_strip(workbench):
    film = judged(workbench, strips=1)
    with pytest.raises(InputError, match="no evening here tells which process made strip 1"):
        workbench.notebook.lock_recipe(film, "strip 1", name="r", anyway=True)


def test_an_unread_strip_is_no_recipe():
    assert "neither read nor judged" in missed(Trial(id="a", controls=USUAL), {}, 0.9)
    assert missed(Trial(id="a", controls=USUAL, grades=THIN_AND_MURKY), {}, 0.9) == ""


def test_changes_are_told_against_the_strip():
    assert against(USUAL, {**USUAL, "solvent_ml_per_l": 6.0}) == "against this strip more solvent by 2 mL/L"
    assert against(USUAL, USUAL) == "the same recipe as this strip once more"


def test_light_table_and_notebook_speak_with_one_voice(workbench, client):
    series = simulate_series(demo_film(), [USUAL, USUAL | {"solvent_ml_per_l": 2.0}], seed=3)
    aim = AIMS["projection"].model_copy(update={"name": "own", "highlight_density_max": 0.05, "dmax_min": 3.0})
    film = workbench.notebook.import_series(series.model_copy(update={"aim": aim}).model_dump(mode="json")).id
    proposed = workbench.notebook.next_strips(film).suggestions[0].controls
    for kept in workbench.notebook.trials(film):
        trial = kept.thing.trial
        body = {
            "patches": [patch.model_dump() for patch in trial.steps],
            "base_density": series.film.base_density,
            "aim": aim.model_dump(),
            "film": film,
            "trial": kept.id,
        }
        at_table = client.post("/api/light-table/look", json=body).json()["faults"]
        in_notebook = [fault.document() for fault in workbench.notebook.faults(kept.id)]
        said = f"{against(proposed, trial.controls)}."
        for faults in (at_table, in_notebook):
            cures = [cure["text"] for fault in faults for cure in fault["cures"]]
            assert any(text.endswith(said) for text in cures), (kept.thing.trial.id, cures)
            assert not any(text.startswith(("More solvent", "Less solvent", "Develop")) for text in cures)
            # More exposure costs nothing: it stays before what changes the recipe.
            for fault in faults:
                texts = [cure["text"] for cure in fault["cures"]]
                if "more exposure" in " ".join(texts):
                    assert "more exposure" in texts[0]
        waiting = client.post("/api/light-table/look", json={**body, "trial": ""}).json()["faults"]
        assert any("once these readings belong" in cure["text"] for fault in waiting for cure in fault["cures"])


def test_a_series_is_told_to_ask_the_search_and_a_strip_alone_what_usually_helps():
    series = simulate_series(demo_film(), [USUAL, USUAL | {"solvent_ml_per_l": 2.0}], seed=3)
    aim = AIMS["projection"].model_copy(update={"name": "own", "highlight_density_max": 0.05, "dmax_min": 3.0})
    several = series.model_copy(update={"aim": aim})
    alone = several.model_copy(update={"trials": series.trials[:1]})

    def cures(answer):
        return [cure.text for fault in answer.trials[0].faults for cure in fault.cures]

    assert any("`obverse next`" in text for text in cures(series_answer(several)))
    assert not any(
        text.startswith(("More solvent", "Less solvent", "Develop")) for text in cures(series_answer(several))
    )
    assert any(text.startswith(("More solvent", "Less solvent", "Develop")) for text in cures(series_answer(alone)))


def test_one_strip_and_one_recipe_have_one_chance_wherever_it_is_told(workbench, client):
    """A film of twelve strips with an aim that few films like it can meet, where every way of counting gives another figure."""
    dark = [USUAL | {"first_developer_time_min": 5.0 + i, "solvent_ml_per_l": 0.5 * i} for i in range(12)]
    series = simulate_series(demo_film(), dark, seed=5)
    aim = series.aim.model_dump(mode="json") | {"name": "own", "dmax_min": 1.8, "highlight_density_max": 0.18}
    book = workbench.notebook
    film = book.add_film({"name": "twelve strips", "box_speed": 100}, aim=aim).id
    for trial in series.trials:
        book.add_trial(film, {"controls": trial.controls, "steps": [p.model_dump() for p in trial.steps]})
    story, answer = book.story(film).document(), book.next_strips(film)
    best, first = answer.best_trial, answer.suggestions[0]
    page = next(one for one in story["trials"] if one["name"] == best.id)
    assert page["probability_in_aim"] == best.probability_in_aim
    with pytest.raises(UnlikelyError, match=f"with a chance of {percent(best.probability_in_aim)} only"):
        book.lock_recipe(film, best.id, name="r", route_key="iron_ammonia_fogging")
    locked = book.lock_recipe(film, best.id, name="r", route_key="iron_ammonia_fogging", anyway=True).thing.evidence
    shown = client.post(f"/api/notebook/films/{film}/what-if", json={"controls": page["controls"]}).json()
    once_more = {
        best.probability_repeated,
        story["repeated"],
        locked.probability_in_aim,
        shown["probability_in_aim"],
        recipe_chance(book.fit(film), page["controls"]),
    }
    assert len({round(one, 9) for one in once_more}) == 1, once_more
    assert all(percent(best.probability_repeated) in said for said in (*locked.robustness, *story["robustness"]))
    told = book.what_if(film, first.controls).document()
    assert told["probability_in_aim"] == pytest.approx(first.probability_in_aim, abs=1e-9)
    # No bound is kept less often than all of them together.
    assert all(
        one["probability"] is None or one["probability"] >= told["probability_in_aim"] - 1e-9
        for one in told["seen"].values()
    )
    assert answer.reachable < 0.99 and first.probability_in_aim > 0.1, "an aim that all can meet or none proves nothing"


def test_thirty_judged_strips_and_none_measured_are_told_as_what_they_are(workbench):
    film = workbench.notebook.add_film({"name": "thirty by eye", "box_speed": 100}).id
    said = (Grade(of="blacks", grade="thin"), Grade(of="highlights", grade="murky"))
    shades = (Grade(of="midtones", grade="slightly_dark"), Grade(of="tint", grade="slight"))
    for place in range(30):
        controls = USUAL | {"first_developer_time_min": 6.0 + place % 10, "solvent_ml_per_l": 2.0 + 3 * (place // 10)}
        grades = [grade.model_dump() for grade in said + (shades if place == 0 else ())]
        workbench.notebook.add_trial(film, {"controls": controls, "grades": grades})
    story, answer = workbench.notebook.story(film).document(), workbench.notebook.next_strips(film)
    proposed = answer.suggestions[0]
    # Shades are kept as they were entered.
    assert [(one["of"], one["grade"]) for one in story["trials"][0]["grades"]][-2:] == [
        ("midtones", "slightly_dark"),
        ("tint", "slight"),
    ]
    assert story["by_words"].startswith("30 strips judged by eye moved most: ")
    told = " ".join((answer.message, proposed.reason, *(c.text for c in (*answer.cautions, *proposed.cautions))))
    assert "words alone, of 30 strips" in told and "films in general" not in told
    # One strip is the nearest; what a proposal changes is counted from it, and nothing else is called so.
    nearest = next(trial for trial in story["trials"] if trial["id"] == story["best"])
    assert nearest["name"] == answer.best_trial.id and proposed.reason.startswith(f"Against {nearest['name']}: ")
    assert "nearest" not in told
    # Thin, murky and dark by every recipe: the aim is told as out of reach, and no number is told of what is not there.
    assert proposed.probability_in_aim < 0.01
    assert {c.code for c in answer.cautions} & {"notebook.out_of_reach", "notebook.hardly_in_reach"}
    assert all(abs(one.would_do) < 3 for one in answer.to_relax)
    assert "gradient at least -" not in answer.message


def test_a_curve_without_a_midtone_is_told_without_its_numbers():
    bounds = (InTheWay("dmax", "at least", 2.0, 1.22),)
    assert _what_to_relax(None, bounds, 1.0) == (
        "Those that come closest reach no mid-tone of density 1.00 at all; beside it could be met: "
        "dmax at least 1.22 (asked 2.00)."
    )
    assert _what_to_relax(None, bounds, None).startswith("What stands in the way is dmax at least 2.00")
