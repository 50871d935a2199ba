"""Words of the sink are made of the structure of the plan, and say its numbers."""

from typing import get_args

import pytest

from obverse.process.catalog import formulas, routes
from obverse.run import Action, Conflict, Cue, Fill, Proof, Saying, Strip, plan_run
from obverse.run.saying import News, Refusal, Warned
from obverse.safety import destruction_steps
from obverse.workbench.evening_words import (
    conflict_words,
    cue_words,
    do_words,
    proof_words,
    saying_words,
    times,
    title_words,
    told_cautions,
)
from obverse.workbench.sink import bath_name


def filled(**fill) -> Action:
    return Action(key="r", kind="rinse", name="Bleaching", duration_s=60, fill=Fill(after=True, **fill))


def test_a_fill_says_its_number_and_its_turns():
    fill = filled(number=2, count=3, turns=10)
    assert title_words(fill) == "Rinse after bleaching: fill 2 of 3"
    assert do_words(fill) == "Fill with water, turn over 10 times, pour out."
    soured = filled(number=1, count=1, turns=1, acidified=True, stands=True)
    assert do_words(soured) == "Fill with acidified water, turn over once, let it stand, pour out."
    assert do_words(filled(number=1, count=1, turns=0)) == "Fill with water, pour out."
    running = filled(number=1, count=1)
    assert title_words(running) == "Rinse after bleaching: running water" and "run through" in do_words(running)


@pytest.mark.parametrize(
    ("cue", "words"),
    [
        ({"kind": "agitate", "do": "turn_over", "turns": 4}, "Turn it over 4 times."),
        ({"kind": "agitate", "do": "turn_over", "turns": 2}, "Turn it over twice."),
        ({"kind": "agitate", "do": "turn_for", "lasts_s": 30}, "Turn the tank for 30 seconds."),
        ({"kind": "agitate", "do": "move_for", "lasts_s": 10}, "Move it for 10 seconds."),
        ({"kind": "drain", "do": "pour_out", "goes": "jug", "jug": "F"}, "Pour it into jug F."),
        ({"kind": "drain", "do": "pour_out", "goes": "bottle"}, "Pour it back into its bottle."),
        ({"kind": "drain", "do": "pour_out", "goes": "water"}, "Pour the water out."),
        ({"kind": "drain", "do": "pour_out", "goes": "away"}, "Pour it out, where local codes allow."),
        ({"kind": "end", "do": "enough_light"}, "Enough light."),
    ],
)
def test_a_cue_says_what_to_do(cue, words):
    assert cue_words(Cue(at_s=0, **cue)) == words


def test_every_cue_of_every_route_has_words_and_the_bath_that_must_go_goes_to_the_bucket():
    for key, route in routes().items():
        plan = plan_run(route, formulas(), tank_ml=500)
        for action in plan.actions:
            assert title_words(action)
            assert all(cue_words(cue) for cue in action.cues)
            goes = {cue.goes for cue in action.cues if cue.do == "pour_out"}
            if action.kind == "bath":
                wanted = {"keep": "bottle", "waste": "jug", "destroy": "bucket", "discard": "away"}[action.after_use]
                assert goes == {wanted}, (key, action.key)
            elif action.fill is not None:
                assert goes == {"water"}


def test_the_run_holds_structure_and_no_sentence_of_its_own():
    for key, route in routes().items():
        baths = {step.formula: formulas()[step.formula] for step in route.steps if step.formula}
        work = [part for bath in baths.values() for part in destruction_steps(bath, volume_ml=500)]
        names = {"", *(s.name for s in route.steps), *(b.name for b in baths.values()), *(w.name for w in work)}
        said = {"", *(s.do for s in route.steps), *(w.do for w in work)}
        two = [Strip(name=n, controls={"first_developer_time_min": t}) for n, t in (("A", 8.0), ("B", 11.0))]
        for action in plan_run(route, formulas(), tank_ml=500, strips=two).actions:
            assert action.name in names and action.said in said, (key, action.key)
            assert action.kept is None and set(action.baths) <= names


@pytest.mark.parametrize(
    ("action", "title", "do"),
    [
        ({"kind": "prewarm", "temperature_c": 21.5}, "Stand the bottles in water of 21.5 C", "A basin of water"),
        (
            {"kind": "prepare", "name": "fixer", "volume_ml": 300},
            "Mix: fixer",
            "Mix 300 mL by its sheet from the bench.",
        ),
        (
            {"kind": "prepare", "name": "fixer", "volume_ml": 300, "use_within_min": 15},
            "Mix: fixer",
            "within 15 minutes.",
        ),
        ({"kind": "prepare", "name": "fixer", "apart": True, "strips": ("A", "B")}, "Mix: fixer for A, B", ""),
        (
            {"kind": "prepare", "name": "dithionite", "stirred_in": True},
            "Stir in the powder: dithionite",
            "never water onto",
        ),
        (
            {"kind": "fill_bottles", "baths": ("bleach", "fixer")},
            "Fill the bottles",
            "From their bottles: bleach; fixer. All",
        ),
        ({"kind": "hold", "apart": True, "strips": ("A",)}, "A: leave it in water", "until the others are as far."),
        ({"kind": "hold", "place": "closed_tank"}, "Let the film wait in water", "let it stand. Lid on."),
        ({"kind": "hold", "place": "open"}, "Let the film wait in water", "let it stand."),
        ({"kind": "check", "temperature_c": 19.5}, "Measure the first developer", "should be 19.5 C."),
        (
            {"kind": "may_open", "lid_again": True},
            "The tank may be opened",
            "put the lid back for the fogging bath, vented.",
        ),
        ({"kind": "may_open"}, "The tank may be opened", "the lid may stay off."),
        (
            {"kind": "bath", "name": "Fixing", "said": "Gently.", "apart": True, "strips": ("A",)},
            "Fixing: A",
            "Gently.",
        ),
        ({"kind": "bath", "name": "Fixing", "strips": ("A",)}, "Fixing", ""),
    ],
)
def test_each_kind_of_action_has_its_words(action, title, do):
    made = Action(key="k", duration_s=60, **action)
    assert title_words(made).startswith(title) and do in do_words(made)
    if not action.get("apart"):
        assert " for " not in title_words(made) and not title_words(made).endswith(": A")
    if action.get("place") == "open":
        assert "Lid on" not in do_words(made)


def test_a_plan_that_was_kept_with_words_is_shown_with_those_words():
    old = {"key": "check", "kind": "check", "title": "Measure it", "do": "It was 20 C then.", "duration_s": 30}
    action = Action.model_validate(old)
    assert (title_words(action), do_words(action), action.name) == ("Measure it", "It was 20 C then.", "Measure it")
    assert Action.model_validate(action.model_dump(mode="json")) == action
    rinse = {
        "key": "r",
        "kind": "rinse",
        "title": "Rinse after fixing",
        "duration_s": 9,
        "fill": {"number": 1, "count": 2, "turns": 3},
    }
    kept = Action.model_validate(rinse)
    assert title_words(kept) == "Rinse after fixing: fill 1 of 2" and "turn over 3 times" in do_words(kept)
    conflict = {"kind": "hands", "first": "a", "second": "b", "text": "a still needs the hands"}
    assert Conflict.model_validate(conflict) == Conflict(kind="hands", first="a", second="b")
    proof = Proof.model_validate({"statements": ["All holds."], "conflicts": [], "spans_checked": 3})
    assert proof_words(proof) == ("All holds.",) and Proof.model_validate(proof.model_dump(mode="json")) == proof


# The whole number that a saying may be about, and what of it must stand in the sentence.
ABOUT = {
    "name": "Fixing",
    "other": "Bleach",
    "by": "Ada",
    "text": "the date",
    "seconds": 61.0,
    "before_s": 90.0,
    "sd_s": 4.0,
}
ABOUT_C = {"temperature_c": 21.5, "low_c": 18.0, "high_c": 21.0, "difference_c": -4.25}


@pytest.mark.parametrize(
    ("kind", "told"),
    [
        ("too_early", ("61 seconds are left", "Nothing was changed")),
        ("noted", ("21.5 C",)),
        ("noted_outside", ("21.5 C is noted", "Fixing is meant for 18 to 21 C")),
        ("planned_outside", ("Fixing is meant for 18 to 21 C", "you plan 21.5 C")),
        ("time_changed", ("from 1:30 to 1:01 for 21.5 C", "uncertain by 4 s")),
        ("longer", ("61 seconds longer",)),
        ("duty_taken", ("Ada destroys it",)),
        ("no_hands_meanwhile", ("turns of Fixing", "mix Bleach")),
        ("clock", ("the date",)),
        ("temperature_step", ("4.2 C colder", "within 21 C.")),
    ],
)
def test_a_saying_is_told_with_its_numbers(kind, told):
    words = saying_words(Saying(kind=kind, **ABOUT, **ABOUT_C))
    assert [part for part in told if part not in words] == [], words
    soft = saying_words(Saying(kind="temperature_step", difference_c=4, high_c=3, soft=True))
    assert "4.0 C warmer" in soft and "it may come off. Bring the two within 3 C before you pour." in soft


def test_whatever_the_run_may_say_has_its_words_and_none_of_its_own():
    kinds = get_args(Refusal) + get_args(News) + get_args(Warned)
    told = {kind: saying_words(Saying(kind=kind, **ABOUT, **ABOUT_C)) for kind in kinds}
    assert all(words.rstrip(".") and "{" not in words for words in told.values()) and len(set(told.values())) == len(
        told
    )
    warm = plan_run(routes()["permanganate_light"], formulas(), tank_ml=500, temperature_c=24)
    own = [c for c in warm.cautions if c.code.startswith(("temperature.", "made."))]
    assert {c.say.kind for c in own} >= {"time_changed", "planned_outside"} and not any(c.text for c in own)
    assert all(c.text for c in told_cautions(warm))


@pytest.mark.parametrize(
    ("conflict", "words"),
    [
        (
            {"kind": "hands", "first": "a", "second": "b", "over_s": 12.4},
            "Bleaching still needs the hands for 12 s when Fixing begins.",
        ),
        (
            {"kind": "hands", "first": "a", "second": "a"},
            "Bleaching: one bout of agitation is not over when the next begins.",
        ),
        ({"kind": "film", "first": "a", "second": "b"}, "The film would be in Bleaching and in Fixing at once."),
        ({"kind": "light", "first": "a", "second": "a"}, "Bleaching would light the film."),
        ({"kind": "light", "first": "a", "second": "b"}, "Fixing needs the dark, but the tank was opened before it."),
        (
            {"kind": "life", "first": "a", "second": "b", "over_s": 1500, "limit_s": 900, "formula": "x"},
            "The bath x is older than its life: 25 min until the end of Fixing, 15 min allowed.",
        ),
        (
            {"kind": "deadline", "first": "a", "second": "b", "over_s": 1500, "limit_s": 900, "formula": "x"},
            "The bath x is not gone in time: 25 min until the end of Fixing, 15 min allowed.",
        ),
    ],
)
def test_a_conflict_says_what_when_and_how_long(conflict, words):
    plan = plan_run(routes()["iron_ammonia_light"], formulas(), tank_ml=500)
    ab = tuple(Action(key=k, kind="bath", name=n, duration_s=60) for k, n in (("a", "Bleaching"), ("b", "Fixing")))
    assert conflict_words(Conflict(**conflict), plan.model_copy(update={"actions": ab})) == words


def test_a_plan_kept_before_cues_had_a_structure_is_still_read():
    old = {"at_s": 30, "kind": "drain", "text": "Pour it into jug F.", "lasts_s": 10}
    assert Cue.model_validate(old) == Cue(at_s=30, kind="drain", do="pour_out", lasts_s=10)
    assert cue_words(Cue.model_validate(old)) == "Pour it out."


def test_times_in_words():
    assert [times(n) for n in (1, 2, 3, 40)] == ["once", "twice", "3 times", "40 times"]


def test_a_bath_is_called_as_its_process_calls_it():
    own = formulas()["first_developer"].model_copy(
        update={"key": "mrs_pell_club.first_development", "name": "The brew"}
    )
    plan = plan_run(routes()["iron_ammonia_light"], formulas(), tank_ml=500)
    plan = plan.model_copy(update={"route": plan.route.model_copy(update={"formulas": (own,)})})
    assert bath_name(own.key, plan) == "The brew"
    assert bath_name("ammonia_bath", plan) == formulas()["ammonia_bath"].name
