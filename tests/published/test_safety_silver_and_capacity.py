"""Silver of a film and what a bath takes.

Sources: silver per area, a radiology handbook about 1940 (3 to 10 g/m2) and an emulsion engineer (1.6 to 3.2 g/m2), both
looked up in the reference; fixer capacity, a published note (about 20 rolls of 80 square inches a litre); AgCl in ammonia,
textbook equilibrium. Records named beside each.
"""

import pytest

from obverse.process.catalog import formulas
from obverse.reference import number, record, records
from obverse.safety.bath_life import Pass, first_belief, forecast, silver_taken_g
from obverse.workbench.care import FILMS, film_area_m2

# The source gives silver for these formats; it knows nothing of the others.
SILVER = {
    film: key
    for film, key in {f: f"silver.per.{f.replace(', ', '_').replace(' ', '_')}" for f in FILMS}.items()
    if key in records()
}


def test_the_source_speaks_of_the_common_formats():
    assert {"135-36", "135-24", "120", "16 mm, 30.5 m"} <= SILVER.keys()


@pytest.mark.parametrize(("film", "key"), SILVER.items())
def test_negative_silver_lies_within_the_coated_silver(film, key):
    low, typical, high = record(key).value
    taken = silver_taken_g(formulas()["bleach_dichromate"], film_area_m2(film))
    assert taken.low == pytest.approx(0.3 * low, rel=0.01)
    assert taken.likely == pytest.approx(0.5 * typical, rel=0.01)
    assert taken.high == pytest.approx(0.7 * high, rel=0.01)


def test_a_litre_of_fixer_lasts_about_twenty_rolls():
    # Record fixer.capacity: 20 rolls a litre, give or take 5.
    fresh = forecast(formulas()["fixer_rapid"], volume_ml=1000)
    assert fresh.rolls_left.value == pytest.approx(number("fixer.capacity"), abs=1)
    assert (
        number("fixer.capacity") - 5 <= fresh.rolls_left.low90
        and fresh.rolls_left.high90 <= number("fixer.capacity") + 6
    )


def ammonia_of(concentration):
    """The ammonia bath at the strength that the record speaks of; ours is stronger."""
    bath = formulas()["ammonia_bath"]
    (ammonia,) = bath.components
    return bath.model_copy(update={"components": (ammonia.model_copy(update={"concentration": concentration}),)})


def test_ammonia_bath_stays_under_its_equilibrium():
    # Record capacity.ammonia.0.5M: 11.5 rolls a litre hold all coated silver at equilibrium; practical is half or less
    # of that, while only about half of the silver is negative.
    fresh = forecast(ammonia_of("0.5 mol/L"), volume_ml=1000)
    assert 0.25 * 11.5 < fresh.rolls_left.value < 11.5


def test_permanganate_stays_under_its_oxidant():
    # Record capacity.kmno4_2gL: 6.83 g Ag/L; at 0.115 g of negative silver a roll that would be 59 rolls.
    fresh = forecast(formulas()["bleach_permanganate"], volume_ml=1000)
    assert fresh.rolls_left.high90 < 6.83 / 0.115


def test_iron_outlasts_dichromate_outlasts_ammonia():
    baths = (formulas()["bleach_iron_chloride"], formulas()["bleach_dichromate"], ammonia_of("0.5 mol/L"))
    rolls = [forecast(bath, volume_ml=1000).rolls_left.value for bath in baths]
    assert rolls == sorted(rolls, reverse=True)


def test_the_published_range_is_kept_as_doubt():
    # low 2, typical 4, high 10 g/m2 (record silver.default): a factor of five, so the doubt of u is no less than 0.3.
    assert first_belief(formulas()["bleach_permanganate"]).sd > 0.3


def test_the_third_roll_is_warned_of_before_it_is_lost():
    # Not published: our own example.
    area = number("area.135-36")
    passes = [Pass(area)] * 2
    told = forecast(ammonia_of("0.5 mol/L"), passes, volume_ml=500)
    assert {"bath.ghost", "bath.weak"} & {caution.code for caution in told.cautions}
