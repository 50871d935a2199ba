"""What a person is told of a film, a recipe and its control strips: the number, the sign and the condition."""

import re

import numpy as np
import pytest

from obverse.foundation import Estimate, InputError
from obverse.inference import READY, fit_film
from obverse.inference.suggest import AnotherRecipe, AsGood
from obverse.inference.words import bracket, named, percent
from obverse.model import NAMES, demo_film, in_aim, natural, simulate_series
from obverse.process import AIMS, CONTROLS, TEMPERATURE, ControlVector, Grade, Trial
from obverse.run import checked_temperature
from obverse.workbench import notebook, story
from obverse.workbench.story import (
    against,
    aim_reasons,
    base_of,
    control_chart,
    effects,
    estimate_of,
    learned,
    missed,
    robustness,
    strip_verdict,
    taught_by_words,
    trial_pages,
    verdicts,
    what_if,
)
from tests.told_kept import told_as_kept

RECIPE = {"first_developer_time_min": 10.0, "solvent_ml_per_l": 8.0, "alkali_ml_per_l": 6.0}


@pytest.fixture(scope="module")
def fit():
    return fit_film(simulate_series(demo_film(), [RECIPE, {**RECIPE, "solvent_ml_per_l": 4.0}], seed=5))


def test_the_aims_are_those_that_were_agreed():
    windows = {
        name: (
            aim.dmax_min, aim.gradient_min, aim.gradient_max, aim.highlight_density_max,
            aim.midtone_log_exposure_min, aim.midtone_log_exposure_max, aim.midtone_density,
        )
        for name, aim in AIMS.items()
    }  # fmt: skip
    assert windows == {
        "projection": (2.0, 1.3, 1.9, 0.25, -0.15, 0.15, 1.0),
        "light_table": (1.8, 1.1, 1.6, 0.30, -0.20, 0.20, 1.0),
        "scan": (1.5, 0.8, 1.4, 0.40, -0.30, 0.30, 1.0),
    }


def test_two_minutes_more_are_ten_to_twelve(fit):
    (row,) = [one for one in learned(fit) if one.key == "push"]
    assert row.name == "Two minutes more" and "from 10 minutes" in row.meaning
    push = natural(fit.draws[:, : len(NAMES)])["push"]
    stops = np.median(push) * np.log((10 + 2) / 10) / np.log10(2)
    assert row.estimate.value == pytest.approx(stops, rel=1e-9)


@pytest.mark.parametrize("key", ["fog", "solvent_blacks", "solvent_highlights", "done"])
def test_shares_that_were_learned_are_percentages(fit, key):
    (row,) = [one for one in learned(fit) if one.key == key]
    assert row.unit == "%" and 0 <= row.estimate.low90 <= row.estimate.high90 <= 100


def test_ten_degrees_are_ten_degrees(fit):
    (row,) = [one for one in learned(fit) if one.key == "q10"]
    rate = natural(fit.draws[:, : len(NAMES)])["temperature_rate"]
    assert row.estimate.value == pytest.approx(float(np.median(np.exp(10 * rate))), rel=1e-6)


def test_at_worst_is_the_worse_side(fit):
    aim = fit.series.aim
    centre = in_aim(fit.observed(fit.checked(RECIPE), aim.midtone_density, repeated=True)[:, 0], aim).mean()
    told = robustness(fit, RECIPE)
    assert len(told) == 4
    assert [line.split(" off by ")[0] for line in told][-1] == "temperature"
    for line in told:
        control = next(one for one in CONTROLS.values() if line.startswith(f"{one.word} off by "))
        sides = []
        for off in (-control.small_error, control.small_error):
            moved = ControlVector(fit.checked(RECIPE)[0].copy())
            moved[control] = max(float(moved[control]) + off, control.least)
            seen = fit.observed(moved.values[None], aim.midtone_density, repeated=True)[:, 0]
            sides.append(100 * float(in_aim(seen, aim).mean()))
        figures = [int(one) for one in re.findall(r"(\d+) %", line)]
        before, worst = figures[0], figures[-1]
        # Several strips imagined of each film, films that can meet the aim counting for more: near the plain count.
        assert before == pytest.approx(100 * float(centre), abs=6)
        assert worst == pytest.approx(min(sides), abs=6)


@pytest.mark.parametrize(
    ("temperature", "told"),
    [(15.9, True), (16.0, False), (20.0, False), (26.0, False), (26.1, True), (45.0, True), (7.0, True)],
)
def test_a_prediction_beyond_16_to_26_degrees_is_called_a_guess(fit, temperature, told):
    texts = [c.text for c in fit.cautions({**RECIPE, TEMPERATURE.key: temperature}) if c.code == "notebook.far"]
    assert bool(texts) == told
    if told:
        assert "lies outside 16 to 26" in texts[0]


@pytest.mark.parametrize(("temperature", "fine"), [(15.9, False), (16, True), (26, True), (26.1, False)])
def test_the_sink_takes_16_to_26_degrees(temperature, fine):
    if fine:
        assert checked_temperature(temperature) == temperature
    else:
        with pytest.raises(InputError, match="between 16 and 26 C"):
            checked_temperature(temperature)


STEPS = [{"log_exposure": x, "density": d} for x, d in ((-1.2, 2.3), (-0.6, 2.0), (0, 1.2), (0.6, 0.5), (1.2, 0.35))]
DENSER = [{**one, "density": one["density"] + 0.3} for one in STEPS]


@pytest.fixture
def hasty(workbench, monkeypatch):
    """A notebook that knows films by few draws: whether an answer is another one hangs on none of them."""
    monkeypatch.setattr(notebook, "fit_film", lambda series, **how: fit_film(series, draws=256, **how))
    return workbench.notebook


@pytest.mark.parametrize(
    "change",
    [
        lambda notebook, film, kept: notebook.add_trial(film, {"controls": RECIPE, "steps": DENSER}),
        lambda notebook, film, kept: notebook.change_trial(kept, {"steps": DENSER}),
        lambda notebook, film, kept: notebook.retire_trial(kept),
        lambda notebook, film, kept: notebook.plan(film, {"aim": "scan"}),
        lambda notebook, film, kept: notebook.change_film(
            film, {"name": "Invented", "box_speed": 100, "base_density": 0.05}
        ),
    ],
    ids=["add", "change", "retire", "plan", "film"],
)
def test_what_if_forgets_the_film_as_it_was(hasty, change):
    film = hasty.add_film({"name": "Invented", "box_speed": 100, "base_density": 0.3}).id
    kept = hasty.add_trial(film, {"controls": RECIPE, "steps": STEPS}).id
    before = hasty.what_if(film, RECIPE).document()
    assert hasty.what_if(film, RECIPE).document() == before
    change(hasty, film, kept)
    assert hasty.what_if(film, RECIPE).document() != before


def test_what_if_knows_a_strip_that_was_taken_back(hasty):
    film = hasty.add_film({"name": "Invented", "box_speed": 100}).id
    kept = hasty.add_trial(film, {"controls": RECIPE, "steps": STEPS}).id
    hasty.retire_trial(kept)
    before = hasty.what_if(film, RECIPE).document()
    hasty.restore_trial(kept)
    assert hasty.what_if(film, RECIPE).document() != before


class _Curve:
    """As much of a curve as a control chart asks for."""

    def __init__(self, dmax: float, sd: float) -> None:
        self.dmax_above_base = self.highlight_density = self.midtone_log_exposure = Estimate(dmax, sd)


def chart_of(values, sd):
    strips = [(f"strip {i}", f"2031-01-{i + 1:02}", _Curve(v, sd)) for i, v in enumerate(values)]
    return control_chart(strips)[0]


def test_a_chart_is_no_narrower_than_the_readings_repeat():
    # Strips that repeat to the digit do not make the next one a fault: the floor is the reading, and half a hundredth.
    chart = chart_of([2.4] * 8, 0.02)
    assert chart.sigma == 0.02
    assert chart.upper - chart.mean == pytest.approx(3 * 0.02 * np.sqrt(1 + 1 / 8))
    assert chart.mean - chart.lower == pytest.approx(chart.upper - chart.mean)
    assert chart_of([2.4] * 8, 0.0).sigma == story.LEAST_READING_SD == 0.005


def test_a_chart_needs_five_strips_and_takes_five():
    with pytest.raises(InputError, match="4 control strips"):
        chart_of([2.4] * 4, 0.02)
    assert len(chart_of([2.4, 2.41, 2.39, 2.4, 2.42], 0.02).values) == 5


def test_a_strip_that_stands_off_is_named_and_a_quiet_chart_says_so():
    values = [2.4, 2.41, 2.39, 2.4, 2.42, 2.4, 2.38, 2.41]
    quiet = chart_of(values, 0.02)
    assert quiet.signals == () and "nothing stands out in 8 strips" in quiet.verdict
    off = chart_of([*values, 2.9], 0.02)
    assert [signal.index for signal in off.signals] == [8]
    assert "strip 8 stands off all before it" in off.verdict


def test_a_bound_is_kept_on_its_own_side():
    aim = AIMS["projection"]
    seen = np.array([[2.1, 0.2, 1.5, 0.0], [1.9, 0.3, 2.0, 0.2], [2.2, 0.1, 1.2, -0.2], [2.3, 0.24, 1.6, 0.1]])
    told = verdicts(seen, aim)
    assert {name: row.probability for name, row in told.items()} == {
        "dmax": 0.75, "highlight_density": 0.75, "gradient": 0.5, "midtone_log_exposure": 0.5,
    }  # fmt: skip
    assert (told["dmax"].least, told["dmax"].most) == (2.0, None)
    assert (told["gradient"].least, told["gradient"].most) == (1.3, 1.9)
    assert (told["highlight_density"].least, told["highlight_density"].most) == (None, 0.25)


def test_an_estimate_of_draws_is_their_middle_and_none_where_most_have_none():
    values = np.arange(101.0)
    told = estimate_of(values)
    assert (told.value, told.low90, told.high90) == (50.0, 5.0, 95.0)
    half = np.concatenate([values, np.full(101, np.nan)])
    assert estimate_of(half).value == 50.0
    assert estimate_of(np.concatenate([half, [np.nan]])) is None


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        (0.0, "under 1 %"),
        (0.004, "under 1 %"),
        (0.006, "1 %"),
        (0.5, "50 %"),
        (0.994, "99 %"),
        (0.996, "over 99 %"),
        (1.0, "over 99 %"),
    ],
)
def test_no_probability_is_told_as_certain(probability, words):
    assert percent(probability) == words


def test_a_strip_is_named_as_a_person_names_it():
    assert (named("strip 4"), named("Trial b"), named("7")) == ("strip 4", "Trial b", "strip 7")


def test_a_bracket_holds_the_midtone_its_black_and_its_highlight():
    shots = bracket(Estimate(0.0, 0.1))
    assert shots[0] <= -0.3 - 0.9 + 0.05 and shots[-1] >= 0.3 + 1.1 - 0.05
    assert len(shots) <= 12 and np.all(np.diff(shots) > 0)
    wide = bracket(Estimate(0.0, 2.0))
    assert -3.05 <= wide[0] <= -2.95 and 2.95 <= wide[-1] <= 3.6 and len(wide) <= 13


BY_EYE = (Grade(of="highlights", grade="murky"),)


def test_the_story_of_a_film_is_what_was_read(fit):
    series = fit.series
    trials = (*series.trials, Trial(id="unread", controls=RECIPE), Trial(id="by eye", controls=RECIPE, grades=BY_EYE))
    by_words = fit_film(series.model_copy(update={"trials": (Trial(id="strip 1", controls=RECIPE, grades=BY_EYE),)}))
    before = fit_film(series.model_copy(update={"trials": ()}))
    one = what_if(fit, {**RECIPE, "temperature_c": 27.0}).document()
    page = trial_pages(fit, [{"id": "a"}, {"id": "b"}], [None, None])[0].document()
    told = {
        "learned": [row.document() for row in learned(fit, before)],
        "by words": [taught_by_words(by_words, learned(by_words, before)), taught_by_words(fit, learned(fit, before))],
        "by words that moved nothing": taught_by_words(by_words, learned(before, before)),
        "effects": [effect.document() for effect in effects(fit, RECIPE)],
        "robust with warmth": robustness(fit, {**RECIPE, "temperature_c": 21.0}),
        "what if": [one["seen"], one["probability_in_aim"], one["cautions"], one["controls_text"], one["curve"]["density"][::11], one["strip"]["density"][::5], one["strip"]["low90"][::5]],
        "a page": [page["verdict"], page["curve_is"], page["strip"], page["seen"], page["probability_in_aim"], page["curve"]["high90"][::11]],
        "base": [base_of(fit), base_of(fit_film(series.model_copy(update={"trials": (), "film": series.film.model_copy(update={"base_density": None})})))],
    }  # fmt: skip
    assert not told_as_kept("story_of_a_fit", told, nearly=0.05)
    seen = np.array([[2.1, 0.2, 1.5, 0.0], [1.9, 0.3, 2.0, 0.2], [2.2, 0.1, 1.2, -0.2], [2.3, np.nan, 1.6, 0.1]])
    by = verdicts(seen, AIMS["projection"])
    exact = {
        "verdicts": {name: one.document() for name, one in by.items()},
        "by weight": {name: one.probability for name, one in verdicts(seen, AIMS["projection"], np.array([0.7, 0.1, 0.1, 0.1])).items()},
        "missed": [missed(trial, by, chance) for trial in trials for chance in (0.2, 0.499, 0.5)],
        "missed without bounds": missed(trials[0], {}, 0.2),
        "strip verdicts": [strip_verdict(trial, chance) for trial in trials[1:] for chance in (0.0, 1 - READY, 0.3, READY, 1.0)],
        "against": [against(RECIPE, RECIPE), against({**RECIPE, "solvent_ml_per_l": 9.5}, RECIPE), against({"alkali_ml_per_l": 2.0}, {}), against(RECIPE, {**RECIPE, "first_developer_time_min": 12.0004})],
        "reasons": {name: aim_reasons(aim) for name, aim in AIMS.items()},
    }  # fmt: skip
    for name, values in {
        "quiet": [2.4, 2.41, 2.39, 2.4, 2.42, 2.4, 2.38, 2.41], "moved": [2.4, 2.41, 2.39, 2.4, 2.42, 2.4, 2.1, 2.11, 2.09, 2.1, 2.12], "one off": [2.4, 2.41, 2.39, 2.4, 2.42, 2.4, 2.41, 2.0],
    }.items():  # fmt: skip
        exact[f"chart {name}"] = chart_of(values, 0.01).document()
    exact["a chart of what was read too rarely"] = [
        one.key for one in control_chart([(f"s{i}", "2031", _Read(i)) for i in range(6)])
    ]
    assert not told_as_kept("story", exact)


class _Read:
    """Blacks always, highlights in one strip only, the mid-tone in five."""

    def __init__(self, place):
        self.dmax_above_base = Estimate(2.4 + place / 100, 0.02)
        self.highlight_density = Estimate(0.3, 0.02) if place == 0 else None
        self.midtone_log_exposure = Estimate(0.1, 0.001) if place else None


def test_what_is_as_good_is_one_sentence():
    another = AnotherRecipe({**RECIPE, "first_developer_time_min": 12.5, "alkali_ml_per_l": 0.0}, 0.284)
    told = {
        f"{least} %, {len(recipes)}": AsGood(least, recipes).sentence()
        for least, recipes in ((27, (AnotherRecipe(RECIPE, 0.27),)), (1, (another, AnotherRecipe(RECIPE, 0.014))))
    }
    assert not told_as_kept("strips_as_good", told)
