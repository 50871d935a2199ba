"""Screen luminance, stray light, lightness, surround, lamps and granularity.

Sources: SMPTE RP 51-1995 citing 196M (fL, smpte196, stray; looked up); worked examples in feet and metres (screen-*,
looked up); CIE 1976 L* by colour-science (lstar*, computed); Bartleson and Breneman 1967 second-hand, RLAB, CIECAM02
(surround-*); lamp lists (lamp-*, looked up) and the inverse square (lamp-E); a home recipe (reexp-home, looked up);
Selwyn's law (selwyn-G from memory, selwyn-scale looked up).
"""

import numpy as np
import pytest

from obverse.foundation import InputError, Standing
from obverse.light import (
    CD_M2_PER_FOOT_LAMBERT,
    along_film,
    bare_lamp_lux,
    base_cost,
    callier_projector,
    candelas_per_m2,
    cinema_luminance_cd_m2,
    contrast_left,
    density_sd,
    foot_lamberts,
    into_reel,
    largest_width_m,
    lightness,
    luminance_caution,
    reexpose,
    screen_luminance_cd_m2,
    selwyn_constant_um,
    separated,
    surround_exponent,
    visible_steps,
)
from obverse.reference import number, record

FOOT = 0.3048


def test_the_foot_lambert():
    assert CD_M2_PER_FOOT_LAMBERT == pytest.approx(number("fL"), abs=record("fL").within)
    facts = record("smpte196-conv")
    assert candelas_per_m2(facts.inputs["fL"]) == pytest.approx(facts.value, abs=facts.within)
    assert foot_lamberts(facts.value) == pytest.approx(facts.inputs["fL"], abs=1e-3)


def test_screen_luminance_examples():
    facts = record("screen-1")
    wide, high = facts.inputs["ft"]
    found = screen_luminance_cd_m2(facts.inputs["lm"], wide * high * FOOT**2, facts.inputs["gain"])
    assert found == pytest.approx(facts.value["cd_m2"], abs=facts.within)
    assert float(foot_lamberts(found)) == pytest.approx(facts.value["fL"], abs=facts.within)
    # In feet: foot-lamberts = gain x lumens per square foot; 40 fL on 61 square feet take 2440 lm.
    facts = record("screen-2")
    area = facts.inputs["ft2"] * FOOT**2
    assert float(foot_lamberts(screen_luminance_cd_m2(facts.number, area))) == pytest.approx(
        facts.inputs["fL"], rel=1e-9
    )
    facts = record("screen-3")
    assert screen_luminance_cd_m2(facts.inputs["lm"], np.prod(facts.inputs["m"])) == pytest.approx(
        facts.number, abs=facts.within
    )


def test_the_largest_screen_has_the_luminance_it_was_asked_for():
    width = largest_width_m(700, cinema_luminance_cd_m2(), aspect=1.5, gain=1.1)
    assert screen_luminance_cd_m2(700, width * width / 1.5, 1.1) == pytest.approx(54.82, abs=0.01)


def test_cinema_practice_is_a_window():
    assert luminance_caution(55) is None
    assert "under the cinema practice of 48 to 62" in luminance_caution(30).text
    assert "to spare" in luminance_caution(200).text


def test_stray_light():
    facts = record("flare-contrast")
    for dmax, dmin, stray, given in zip(
        facts.inputs["Dmax"], facts.inputs["Dmin"], facts.inputs["f"], facts.value, strict=True
    ):
        assert contrast_left(dmax, dmin, stray) == pytest.approx(given, abs=facts.within)


def test_what_a_grey_base_costs():
    """0.30 is a stop: half the light, the picture narrower by the root of two."""
    cost = base_cost(np.log10(2))
    assert (cost.transmittance, cost.stops, cost.width_factor) == pytest.approx((0.5, 1.0, 0.5**0.5))


@pytest.mark.parametrize("key", ["lstar", "lstar-dens"])
def test_lightness(key):
    facts = record(key)
    relative = np.array(facts.inputs["Y"]) / 100 if "Y" in facts.inputs else 10.0 ** -np.array(facts.inputs["D"])
    assert lightness(relative) == pytest.approx(facts.value, abs=facts.within)


def test_surround_models_disagree_and_are_named():
    classic = record("surround-classic").value
    assert surround_exponent("classic", "dark", "average") == pytest.approx(classic[0] / classic[2], abs=1e-12)
    assert surround_exponent("rlab", "dark", "average") == pytest.approx(2.3 / 3.5, abs=1e-5)
    assert surround_exponent("ciecam02", "dark", "average") == pytest.approx(0.525 / 0.69, abs=1e-5)
    assert surround_exponent("none", "dark", "average") == 1
    for model in ("classic", "rlab", "ciecam02"):
        assert surround_exponent(model, "dark", "dark") == 1
        assert surround_exponent(model, "dark", "average") < surround_exponent(model, "dark", "dim") < 1
    with pytest.raises(InputError, match="no surround model"):
        surround_exponent("other")


def test_bare_lamps():
    facts = record("lamp-E")
    for flux, distance, given in zip(facts.inputs["lm"], facts.inputs["d_m"], facts.value, strict=True):
        assert float(bare_lamp_lux(flux, distance)) == pytest.approx(given, abs=facts.within)
    # The flux that lamp lists print for 100 W is the one the example counts with.
    assert record("lamp-100W").value[1] == facts.inputs["lm"][3]


def test_the_home_recipe():
    facts = record("reexp-home")
    for seconds, given in zip(facts.inputs["s"], facts.value["lx_s"], strict=True):
        found = reexpose(facts.inputs["lm"], facts.inputs["d_m"], seconds, sides=1)
        assert found.most_lx_s == pytest.approx(given, abs=facts.within["lx_s"])


def test_a_film_stretched_in_front_of_a_lamp():
    """cos^3: at 45 degrees off the lamp a film facing it gets 0.354 of the middle."""
    place, share = along_film(2.0, 1.0)
    assert share[0] == pytest.approx(0.5**1.5) and share[-1] == pytest.approx(share[0])
    assert share[len(share) // 2] == 1 and place[len(place) // 2] == 0


def test_light_on_the_reel_is_least_in_the_middle():
    """View factor of an opening of height g from depth z on the wall: (1 - z / sqrt(z^2 + g^2)) / 2."""
    across, share = into_reel(0.035, 0.0015)
    assert share[0] == pytest.approx(0.5, abs=1e-3)
    assert share[20] == pytest.approx(1 - 0.0175 / np.hypot(0.0175, 0.0015), rel=1e-9)
    assert share.argmin() == 20 and across[20] == pytest.approx(0.0175)


@pytest.mark.parametrize(
    ("flux", "distance", "seconds", "verdict"),
    [(1690, 0.25, 600, "ample"), (1690, 0.46, 60, "likely"), (400, 1.5, 6, "unknown"), (10, 2.0, 2, "too_little")],
)
def test_verdicts_on_reexposure_say_what_they_rest_on(flux, distance, seconds, verdict):
    found = reexpose(flux, distance, seconds, film_length_m=0.4)
    assert found.verdict == verdict
    assert "safe" not in found.words
    if verdict != "ample":
        assert found.source.standing is Standing.COMMON_PRACTICE
    assert 0 < found.evenness < 1


def test_selwyn():
    facts = record("selwyn-G")
    assert selwyn_constant_um(facts.inputs["sigma_D"], facts.inputs["aperture_um"]) == pytest.approx(
        facts.number, abs=facts.within
    )
    facts = record("selwyn-scale")
    for aperture, given in zip(facts.inputs["aperture_um"], facts.value, strict=True):
        area = np.pi * (aperture / 2) ** 2
        assert density_sd(1000 * facts.inputs["sigma48"], area) == pytest.approx(given, abs=1e-9)


def test_callier_of_a_projector_lies_within_that_of_silver():
    low, high = callier_projector()
    least, most = record("callier-range").value
    assert least <= low < high <= most
    assert record("wall.callier_projector").source.standing is Standing.COMMON_PRACTICE


def test_tones_run_together_where_the_curve_is_flat():
    x = np.linspace(-2, 2, 401)
    density = np.interp(x, [-1, 1], [2.6, 0.2])
    apart = separated(x, 150 * 10.0**-density, 15.0)
    assert apart[np.abs(x) < 0.8].all()
    assert not apart[np.abs(x) > 1.2].any()


@pytest.mark.parametrize(("per_log_exposure", "apart"), [(19.0, False), (21.0, True)])
def test_the_step_that_separates_is_taken_over_a_third_of_a_stop(per_log_exposure, apart):
    """A third of a stop is 0.1003: two visible steps over it are 19.9 in each log exposure."""
    x = np.linspace(-1, 1, 201)
    luminances = np.geomspace(0.1, 1000, 4000)
    veil = number("wall.eye_veil") * 10.0
    luminance = np.interp(300 + per_log_exposure * x, visible_steps(luminances), luminances) - veil
    assert (separated(x, luminance, 10.0)[20:-20] == apart).all()


def test_ample_begins_where_the_home_recipe_begins():
    given = record("reexp-home").inputs
    verdicts = [reexpose(given["lm"], given["d_m"], seconds, film_length_m=0.01).verdict for seconds in (59, 61)]
    assert verdicts == ["likely", "ample"]
