"""Bad input to the safety floor: one clear sentence, never a traceback, never a silent guess."""

import json
import math

import pytest

from obverse.cli.main import run
from obverse.foundation import InputError
from obverse.process import Formula, Rinse
from obverse.safety import as_matter, check_mixture, check_storage, destruction_steps, of_formula, rinse_factor
from obverse.safety.airborne import (
    Room,
    ammonia_in_air,
    ammonia_release_mg_per_h,
    purge_time_h,
    release_in_air,
    sulfur_dioxide_from_g,
)
from obverse.safety.rules import Atom


def own(**component):
    return Formula.model_validate({"name": "own", "role": "bleach", "components": [component]})


@pytest.mark.parametrize("name", ["", "   ", "unobtainium", "bleach", "'; drop table", "x" * 5000])
def test_an_unknown_name_says_so(name):
    with pytest.raises(InputError) as error:
        as_matter(name)
    assert len(error.value.sentence) < 6000 and error.value.remedy


def test_a_near_name_is_offered():
    with pytest.raises(InputError, match="potassium_permanganate"):
        check_mixture("permanganat", "potassium permanganat")


def test_an_unknown_substance_in_a_formula_is_not_passed_over():
    with pytest.raises(InputError, match="cannot be checked"):
        check_mixture(own(substance="plutonium", concentration="1 g/L"))


def test_a_strength_that_cannot_be_reckoned_counts_as_strong():
    part = of_formula(own(substance="iron_iii_chloride", concentration="10 % v/v")).ingredients[1]
    # Parts by volume of a solid: the heaviest that it could be, well above the same figure by weight.
    assert part.g_per_l == pytest.approx(333, abs=1)


@pytest.mark.parametrize(
    ("volume", "changes", "temperature"),
    [
        (0, 1, 20),
        (-4, 1, 20),
        (math.nan, 1, 20),
        (math.inf, 1, 20),
        (10, -1, 20),
        (10, math.nan, 20),
        (10, 1e9, 20),
        (10, 1, 300),
    ],
)
def test_a_room_that_cannot_be(volume, changes, temperature):
    with pytest.raises(InputError):
        Room(volume, changes, temperature)


def test_air_refuses_what_cannot_be():
    room = Room(10)
    for broken in (
        lambda: ammonia_in_air(room, 0.5, 0.01, -1),
        lambda: ammonia_in_air(room, 0.5, -0.01, 5),
        lambda: ammonia_in_air(room, -0.5, 0.01, 5),
        lambda: ammonia_release_mg_per_h(math.nan, 0.01),
        lambda: release_in_air(room, "phosgene", 1),
        lambda: release_in_air(room, "ammonia", math.nan),
        lambda: purge_time_h(1, 0, 1),
        lambda: sulfur_dioxide_from_g("salt", 1),
        lambda: rinse_factor(Rinse(), retained_ml=-1, fill_ml=500),
        lambda: rinse_factor(Rinse(), retained_ml=10, fill_ml=0),
        lambda: destruction_steps(own(substance="hydrogen_peroxide", concentration="25 g/L"), volume_ml=math.nan),
    ):
        with pytest.raises(InputError):
            broken()


def test_a_rule_that_names_nothing_known_does_not_load():
    for broken in ({"class": "no_such_class"}, {"thing": "no_such_thing"}, {}, {"class": "ammonia", "bath": "fixer"}):
        with pytest.raises(ValueError):
            Atom.model_validate(broken)


def test_nothing_at_all_meets_nothing():
    assert check_mixture() == () and check_storage() == ()


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["check"], 2, "two things"),
        (["check", "laundry_bleach"], 2, "two things"),
        (["check", "laundry_bleach", "vinegar_5", "--context", "moon"], 2, "do not meet"),
        (["check", "laundry_bleach", "vinegar_5", "--context", "mixing"], 3, "chlorine"),
        (["routes", "nonsense"], 2, "no process is called"),
        (["destroy", "nonsense"], 2, "no formula is called"),
        (["destroy", "ammonia_bath", "--volume-ml", "-1"], 2, "less than nothing"),
        (["air", "--room-m3", "0"], 2, "cannot be"),
        (["air", "--room-m3", "nan"], 2, "not a number"),
    ],
)
def test_the_terminal_says_one_sentence(arguments, code, words, capsys):
    assert run(arguments) == code
    told = capsys.readouterr().err
    assert words in told and "Traceback" not in told and told.count("\n") == 1


def test_the_terminal_prints_one_json_document(capsys):
    for arguments in (
        ["check", "laundry_bleach", "vinegar_5", "--json"],
        ["check", "pure_salt", "water", "--json"],
        ["check", "--list", "--json"],
        ["routes", "--json"],
        ["routes", "permanganate_fogging", "--json"],
        ["destroy", "ammonia_bath", "--json"],
        ["air", "--room-m3", "6", "--json"],
    ):
        assert run(arguments) in (0, 3)
        json.loads(capsys.readouterr().out)


def test_a_refusal_still_prints_what_was_found(capsys):
    assert run(["check", "laundry_bleach", "household_ammonia_5"]) == 3
    shown = capsys.readouterr()
    assert "REFUSED" in shown.out and "chloramines" in shown.err
