"""One comparison of all explanations of a picture: its arithmetic and its words."""

from dataclasses import replace

import numpy as np
import pytest

from benchmarks.render_faults import FAULTS as DRAWN
from obverse.cli.camera import told
from obverse.diagnosis import measures as measures_module
from obverse.diagnosis import sheet as sheet_module
from obverse.diagnosis.finding import NAMES, Cure, FaultFinding
from obverse.diagnosis.measures import Measures
from obverse.diagnosis.picture import weigh
from obverse.diagnosis.picture_words import CURES
from obverse.diagnosis.sheet import CELL_MM, FILM_MM, PICTURE_MM, Sheet
from obverse.diagnosis.weighing import ELSE, EXPLANATIONS, FAULTS, TERMS, Weights, learned, membership, prior
from obverse.process import FAULTS as KNOWN_FAULTS

PLACES = dict.fromkeys(("stain", "surge", "one_side", "drag", "rings", "uneven", "edge_wander"), "somewhere")
WORDS = {"stain": "brown", "colour": "brown"}


def measures(**given):
    """Measures of an ordinary sound strip, some of them changed."""
    scale = learned().scale
    numbers = dict(zip(scale.names, np.sinh(scale.sound) * scale.unit, strict=True))
    return Measures({**numbers, **given}, PLACES, WORDS)


def fixed(**log_odds) -> Weights:
    """Weights that look at nothing: the log-odds of the terms are given."""
    known = learned()
    terms = np.zeros_like(known.terms)
    for term, value in log_odds.items():
        terms[TERMS.index(term), 0] = value
    return replace(known, terms=terms, pair=0.0, log_share=np.log(prior()))


def test_every_fault_of_the_renderer_has_cures_a_name_and_a_place_in_the_notebook():
    assert set(DRAWN) == set(FAULTS)
    assert set(CURES) == {*FAULTS, "cannot_tell"} <= set(NAMES)
    assert set(FAULTS) <= set(KNOWN_FAULTS)


def test_the_prior_is_one_in_all_and_every_explanation_has_its_terms():
    assert prior().sum() == pytest.approx(1)
    made = membership()
    assert made.shape == (len(EXPLANATIONS), len(TERMS) + 1)
    assert made[EXPLANATIONS.index(("stain", "frilling"))].tolist() == [1, 0, 0, 0, 0, 0, 0, 1, 0, 1]
    assert made[EXPLANATIONS.index((ELSE,)), :-1].tolist() == [0] * 8 + [1]


def test_a_sound_strip_is_told_nothing_of():
    assert weigh(measures(), learned()) == ()


def test_measures_that_cannot_be_had_speak_for_nothing():
    assert weigh(Measures(), learned()) == ()


def test_probabilities_are_those_of_bayes():
    # Log-odds of 3 for one fault: e^3 for it alone, and once more with each other fault beside it.
    found = fixed(light_leak=3.0, stain=1.0).probabilities({})
    weight = np.array([np.exp(3.0 * ("light_leak" in h) + 1.0 * ("stain" in h)) for h in EXPLANATIONS])
    np.testing.assert_allclose(found, weight / weight.sum(), rtol=1e-12)


def test_what_stands_out_of_all_sound_strips_of_other_hands_is_no_longer_doubted():
    known = replace(fixed(light_leak=2.0, frilling=2.0), doubt=np.full(len(TERMS), 7.0))
    leak, frill = known.beyond["light_leak"], known.beyond["frilling"]
    just = {name: 1.001 * most for name, most in leak.items()}
    for name in leak:
        assert not known.stands_out({**just, name: leak[name]}).any()
    assert known.stands_out(just).tolist() == [term == "light_leak" for term in TERMS]
    before, after = (known.probabilities(numbers)[EXPLANATIONS.index(("light_leak",))] for numbers in ({}, just))
    odds = [known.probabilities(numbers)[0] / p for numbers, p in (({}, before), (just, after))]
    assert odds[0] / odds[1] == pytest.approx(np.exp(7.0))
    assert {fault.fault for fault in weigh(measures(**just), known)} == {"light_leak"}
    assert {fault.fault for fault in weigh(measures(**{n: 1.001 * v for n, v in frill.items()}), known)} == {"frilling"}


def _strip(loss=None, tint=None):
    """A strip laid flat: five patches of 12 mm, a dark rebate with perforations, and what is drawn on it at (across, along) mm."""
    across, along = sheet_module._rows(), (np.arange(240) + 0.5) * CELL_MM
    y, x = across[:, None], along[None, :]
    levels = np.array([0.2, 0.5, 0.8, 1.1, 1.4])
    patch = np.repeat(np.arange(5), 48)
    picture = (y > 5.8) & (y < FILM_MM - 5.8)
    density = np.where(picture, levels[patch][None, :], 1.8) * (1 - (loss(y, x) if loss else 0.0))
    inside = (np.abs(along % 12 - 6) < 4.3)[None, :] & (y > PICTURE_MM[0]) & (y < PICTURE_MM[1])
    residual = np.where(inside, density - levels[patch][None, :], np.nan)
    blue = np.broadcast_to(tint(y, x), density.shape) if tint else np.zeros(density.shape)
    colour = np.stack([0.07 + blue, 0.02 + 0.1 * blue])
    return Sheet(density, residual, inside, patch, along % 12 / 12, levels, 0.1, colour=colour)


def _of_strip(**drawn):
    found = Measures()
    measures_module._leak(found, sheet := _strip(**drawn))
    measures_module._uneven_stain(found, sheet, sheet.colour)
    return found


@pytest.mark.parametrize(
    "loss",
    [
        lambda y, x: 0.6 * np.exp(-np.maximum(y, 0) / 8) + 0 * x,
        lambda y, x: 0.7 * np.exp(-np.hypot(y, x - 30) / 14),
        lambda y, x: 0.8 * np.exp(-((x % 4.75 - 2.4) ** 2) / 2) * np.exp(-np.maximum(y - 3, 0) / 6),
    ],
    ids=["edge", "fan", "perforations"],
)
def test_a_leak_takes_density_from_one_edge_of_the_rebate_and_from_the_picture_beside_it(loss):
    plain = learned().plain["light_leak"][0]["leak"]
    leaking = _of_strip(loss=loss)
    assert leaking.numbers["leak"] > plain
    assert leaking.places["leak"].startswith("on the upper edge, ")
    numbers = measures(**leaking.numbers, perforated=1.0).numbers
    said = weigh(Measures(numbers, PLACES | leaking.places, WORDS), learned())
    assert [one.fault for one in said] == ["light_leak"]
    assert _of_strip(loss=lambda y, x: loss(FILM_MM - y, x)).places["leak"].startswith("on the lower edge, ")
    for sound in (
        None,
        lambda y, x: loss(y, x) + loss(FILM_MM - y, x) if x.size else 0,  # stray light reaches both edges
        lambda y, x: np.where(y < 5.8, loss(y, x), 0.0),  # only the rebate: edge marks, and what was cut
    ):
        assert _of_strip(loss=sound).numbers["leak"] < plain


@pytest.mark.parametrize(
    ("tint", "look"),
    [
        (lambda y, x: 0.06 * np.exp(-np.maximum(y - 5.8, 0) / 5) + 0 * x, "stain_across"),
        (lambda y, x: 0.06 * (np.hypot(y - 8, x - 30) < 9), "stain_in_blocks"),
        (lambda y, x: 0.25 * np.exp(-x / 20) + 0 * y, "stain_by_density"),
    ],
)
def test_colour_that_lies_unevenly_is_a_stain_and_an_even_one_may_be_the_base(tint, look):
    plain = {name: size for one in learned().plain["stain"] for name, size in one.items()}
    stained, base = _of_strip(tint=tint).numbers, _of_strip(tint=lambda y, x: 0.2 + 0 * x * y).numbers
    assert stained[look] > plain[look]
    said = weigh(measures(**stained), learned())
    assert [one.fault for one in said] == ["stain"]
    assert said[0].evidence.startswith("A stain that lies unevenly")
    assert all(base[name] < size for name, size in plain.items())


def test_a_fault_and_its_alternatives_make_one():
    (found,) = weigh(measures(), fixed(light_leak=9.0))
    assert found.fault == "light_leak"
    assert found.probability + sum(p for _, p in found.alternatives) == pytest.approx(1, abs=2e-3)


def test_another_fault_that_is_told_is_no_alternative():
    found = weigh(measures(), fixed(light_leak=5.0, stain=5.0))
    assert {one.fault for one in found} == {"light_leak", "stain"}
    for one in found:
        other = ({"light_leak", "stain"} - {one.fault}).pop()
        assert one.alternatives[0][0] == "sound" and all(other not in name.split("+") for name, _ in one.alternatives)


def test_what_fits_two_faults_alike_cannot_be_told():
    (found,) = weigh(measures(), replace(fixed(light_leak=7.0, uneven_agitation=7.0), pair=-14.0))
    assert found.fault == "cannot_tell"
    assert "fits several faults (uneven agitation, surge marks or light leak)" in found.evidence
    assert found.against.startswith("It might be: ") and "light leak" in found.against


def test_what_is_none_of_the_faults_cannot_be_told():
    (found,) = weigh(measures(uneven_rest=0.2, spots_thinner=0.4), fixed(something_else=12.0))
    assert found.fault == "cannot_tell" and found.probability > 0.5
    assert (
        "none of the known faults makes: in places density departs by 40 % from its patch, somewhere" in found.evidence
    )


def test_a_measure_far_from_all_that_was_learned_is_given_no_name():
    (found,) = weigh(measures(grain=3.0), learned())
    assert found.fault == "cannot_tell" and found.alternatives == ()


@pytest.mark.parametrize("share", [0.5, 1e-4])
def test_a_cleaner_picture_than_any_learned_from_is_only_a_better_one(share):
    without_unit = {"net_skew", "net_lean", "net_local", "spots", "surge_sharpness", "ring_best", "rings", "ring_count"}
    cleaner = {name: share * value for name, value in measures().numbers.items() if name not in without_unit}
    assert weigh(measures(**cleaner), learned()) == ()


def test_beyond_what_was_learned_a_measure_counts_no_more():
    scale = learned().scale
    np.testing.assert_array_equal(scale.common(scale.high + 1), scale.common(scale.high))
    np.testing.assert_array_equal(scale.common(scale.low - 1), scale.common(scale.low))


def test_the_command_says_how_likely_against_what_else_and_what_to_do():
    others = (("sound", 0.05), ("uneven_agitation+stain", 0.014), ("frilling", 0.004))
    leak = FaultFinding("light_leak", 0.9312, "One side is thin.", (Cure("Cheap."), Cure("Dear.")), others)
    assert told(leak) == [
        "Light leak (93 %): One side is thin. Instead of it: no fault 5 %, uneven agitation, surge marks and stain or fog over all 1 %.",
        "   1. Cheap.",
        "   2. Dear.",
    ]
    unclear = FaultFinding("cannot_tell", 0.9987, "It is uneven.", (), (("something_else", 0.9),))
    assert told(unclear) == [
        "Cannot tell (something is there: over 99 %): It is uneven. It might be: something else 90 %."
    ]
