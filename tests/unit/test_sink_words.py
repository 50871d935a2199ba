"""Words of the sink are made of the structure of the plan, and say its numbers."""

import pytest

from obverse.process.catalog import formulas, routes
from obverse.run import Action, Cue, Fill, plan_run
from obverse.workbench.evening_words import cue_words, do_words, times, title_words


def filled(**fill) -> Action:
    return Action(key="r", kind="rinse", title="Rinse after bleaching", duration_s=60, fill=Fill(**fill))


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


def test_a_plan_kept_before_cues_had_a_structure_is_still_read():
    old = {"at_s": 30, "kind": "drain", "text": "Pour it into jug F.", "lasts_s": 10}
    assert Cue.model_validate(old) == Cue(at_s=30, kind="drain", do="pour_out", lasts_s=10)
    assert cue_words(Cue.model_validate(old)) == "Pour it out."


def test_times_in_words():
    assert [times(n) for n in (1, 2, 3, 40)] == ["once", "twice", "3 times", "40 times"]
