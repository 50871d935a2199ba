"""What a person is told of baths, clocks and jugs: the number, the sign and the condition of each sentence."""

import math

import pytest

from obverse.foundation import InputError, Level
from obverse.process.catalog import formulas
from obverse.reference import number
from obverse.safety.bath_life import Belief, Pass, forecast
from obverse.safety.destroy import residue_of, standing_caution
from obverse.workbench.booking import USUAL_JUG_ML
from obverse.workbench.wear import developer_wear, wear_text, with_films_before

AREA = number("area.135-36")
BLEACH = formulas()["bleach_dichromate"]


def of(result, code):
    return [caution for caution in result.cautions if caution.code == code]


def forecast_with(ghost: float, rolls: int = 2):
    """A forecast whose probability of a ghost is about `ghost`: the belief is moved until it is."""
    low, high = math.log(0.05), math.log(60.0)
    for _ in range(60):
        middle = (low + high) / 2
        seen = forecast(BLEACH, [Pass(AREA)] * rolls, volume_ml=500, belief=Belief(middle, 0.3))
        low, high = (middle, high) if seen.ghost_probability < ghost else (low, middle)
    return seen


@pytest.mark.parametrize(
    ("ghost", "code", "level"),
    [
        (0.05, None, None),
        (0.12, "bath.weak", Level.CAUTION),
        (0.28, "bath.weak", Level.CAUTION),
        (0.48, "bath.weak", Level.CAUTION),
        (0.52, "bath.ghost", Level.DANGER),
        (0.90, "bath.ghost", Level.DANGER),
    ],
)
def test_a_weak_bath_is_told_from_one_in_ten_and_refused_from_one_in_two(ghost, code, level):
    seen = forecast_with(ghost)
    assert seen.ghost_probability == pytest.approx(ghost, abs=0.01)
    told = [*of(seen, "bath.weak"), *of(seen, "bath.ghost")]
    assert [(caution.code, caution.level) for caution in told] == ([] if code is None else [(code, level)])
    if told:
        assert f"({100 * seen.ghost_probability:.0f} in 100)" in told[0].text


def test_a_clock_that_nobody_started_counts_as_run_out(workbench, clock):
    care = workbench.care
    id = care.mix_bath("bleach_peroxide_acid", 500)
    care.count_pass(id)
    kept = workbench.store.bottles.get(id)
    blank = [entry.model_copy(update={"at": None}) for entry in kept.thing.passes]
    workbench.store.bottles.put(kept.thing.model_copy(update={"passes": tuple(blank), "mixed_at": None}), id=id)
    (told,) = [c for c in care.bath(id).cautions if c.code.startswith("destroy.")]
    assert (told.code, told.level) == ("destroy.overdue", Level.DANGER)


@pytest.mark.parametrize("key", ["bleach_peroxide_acid", "ammonia_bath", "fogging_dithionite"])
def test_the_clock_says_how_long_is_left_and_then_how_long_it_is_late(key):
    formula = formulas()[key]
    deadline = residue_of(formula).deadline_min
    soon, late = standing_caution(formula, deadline - 7), standing_caution(formula, deadline + 7)
    assert (soon.code, soon.level, soon.text) == ("destroy.clock", Level.CAUTION, "Destroy it within 7 minutes.")
    assert (late.code, late.level) == ("destroy.overdue", Level.DANGER)
    assert late.text.startswith("It stands 7 minutes too long. ")
    assert standing_caution(formula, deadline).code == "destroy.overdue"
    moved = "Do not move or shake it" in late.text
    assert moved == (residue_of(formula).kind == "ammonia_silver")


def test_nothing_is_said_of_a_bath_that_may_stand():
    assert standing_caution(formulas()["fixer_rapid"], 1e6) is None


def test_an_old_bath_is_told_by_its_own_limit():
    formula = formulas()["first_developer"]
    limit_h = formula.use_within_min / 60
    young, old = (
        forecast(BLEACH.model_copy(update={"use_within_min": 120.0}), volume_ml=500, age_h=age) for age in (2.0, 2.1)
    )
    assert limit_h == 2.0
    assert of(young, "bath.old") == []
    assert of(old, "bath.old")[0].text == "Mixed 2.1 hours ago; it is used within 120 minutes. Mix it fresh."


def test_the_usual_volumes_are_half_a_litre_and_a_jug_of_five_litres():
    takes = number("notebook.wear.developer_films_per_l")
    assert developer_wear(1) == developer_wear(1, 500) == pytest.approx(1 / (takes * 0.5))
    assert USUAL_JUG_ML == 5000


def test_a_bath_without_a_volume_is_destroyed_and_booked_as_half_a_litre(workbench):
    care = workbench.care
    id = care.mix_bath("bleach_permanganate", 500)
    care.count_pass(id)
    with_volume = [step.do for step in care.destruction(id)]
    kept = workbench.store.bottles.get(id)
    workbench.store.bottles.put(kept.thing.model_copy(update={"amount": None}), id=id)
    assert [step.do for step in care.destruction(id)] == with_volume
    jug = care.begin_jug("A", 5000)
    fixer = care.mix_bath("fixer_rapid", 500)
    kept = workbench.store.bottles.get(fixer)
    workbench.store.bottles.put(kept.thing.model_copy(update={"amount": None}), id=fixer)
    seen = care.bath_into_jug(fixer, jug)
    assert seen.jug.contents[-1].volume_ml == 500


def test_wear_is_told_in_percent_and_only_of_what_was_used():
    assert wear_text({}) == wear_text({"bleach": 0.0}) == ""
    assert wear_text({"first_developer": 0.25, "bleach": 0.0}) == "first developer 25 % used before"
    assert wear_text({"first_developer": 0.25, "bleach": 0.6}) == "first developer 25 %, bleach 60 % used before"
    assert with_films_before({"bleach": 0.1}, 0, 500) == {"bleach": 0.1}
    assert set(with_films_before({"bleach": 0.1}, 1, 500)) == {"bleach", "first_developer"}


@pytest.mark.parametrize(
    ("films", "volume", "words"),
    [(1001, 500, "1001 films"), (-0.1, 500, "-0.1 films"), (1, 0, "0 mL"), (1, 100_001, "100001 mL")],
)
def test_wear_is_refused_at_its_limits_and_not_before(films, volume, words):
    with pytest.raises(InputError, match=words):
        developer_wear(films, volume)
    assert developer_wear(1000, 100_000) == 1
    assert developer_wear(100, 100_000) == pytest.approx(1 / number("notebook.wear.developer_films_per_l"))
