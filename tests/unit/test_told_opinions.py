"""Each kind of opinion in its own words: its number, its sign, and what turns at its limit; no process is needed for that."""

import inspect
from dataclasses import replace

import pytest

from obverse.foundation import Estimate, Level
from obverse.light import reexpose
from obverse.reference import number, record
from obverse.safety import not_judged
from obverse.safety.bath_life import IronLife
from obverse.workbench import opinion_words as told

NOTE, CAUTION, DANGER = Level.NOTE, Level.CAUTION, Level.DANGER
FEWEST = int(number("film.ph_jump_fills"))
RESERVE = number("process.fogging_reserve")
UNJUDGED = not_judged(["brew"])


def films(likely, low, high):
    return Estimate(likely, 1.0, low, high)


def lamp(on_reel, verdict):
    return told.LampReckoned("60", 0.4, 30.0, on_reel, replace(reexpose(600.0, 0.4, 30.0), verdict=verdict))


# Story, level, the beginning or the whole of what is said, and what is said nowhere in it.
SAID = [
    (told.WordsTaken("Reckoned: time 'a while' as 5 min."), NOTE, "Reckoned: time 'a while' as 5 min.", "!"),
    (told.VagueAmounts(("a pinch as 0.4 g", "a dash as 1 mL")), NOTE, "Taken: a pinch as 0.4 g; a dash as 1 mL. Weigh", "!"),
    (told.PartsUnknown(("brew", "goo"), UNJUDGED), UNJUDGED.level, "Not reckoned: brew, goo. Say its amount in mL, g or a spoon", "!"),
    (told.PartsUnknown(("brew",), replace(UNJUDGED, level=DANGER)), DANGER, "Not reckoned: brew. Say", "goo"),
    (told.BathAsRead((("etchant", "iron 42 Be"), ("salt", "NaCl"))), NOTE, "Read as etchant: iron 42 Be; salt: NaCl.", "  "),
    (told.BathAsRead((), "read as 1+4"), NOTE, "Read as 1+4.", "Read as ."),
    (told.BathAsRead((("a", "b"),), "the rest is water"), NOTE, "Read as a: b. The rest is water.", "  "),
    (told.DownTheDrain("dichromate", False, "C"), DANGER, "A bath with chromium(VI) never goes into a drain: into waste jug C.", "destroy"),
    (told.DownTheDrain("silver_ammine", True, "S"), DANGER, "Ammonia that dissolved silver never goes into a drain: destroy it the same evening.", "jug"),
    (told.NoneAdded("solvent", 2, 500), NOTE, "Nearly every way begins with about 2 mL/L of rapid fixer concentrate; yours has none. Both are known to work", "read"),
    (told.NoneAdded("alkali", 8, 500, unread=True), NOTE, "Nearly every way begins with about 8 mL/L of household ammonia; whether yours has any cannot be told", "none"),
    (told.AnotherAdded("alkali", 8, (("soda", 5.04),)), NOTE, "Its alkali is 5 g/L of soda. How it compares", "as much"),
    (told.AnotherAdded("solvent", 2, (("hypo", 3.0), ("ats", 1.0)), 8.0), NOTE, "Its solvent is 3 g/L of hypo and 1 g/L of ats, as much thiosulfate as in 8 mL/L of rapid fixer concentrate; the house starts at 2. The strip decides.", "lower"),
    (told.AnotherAdded("solvent", 2, (("hypo", 3.0),), 8.1), CAUTION, "Its solvent is 3 g/L of hypo, as much thiosulfate as in 8.1 mL/L of rapid fixer concentrate; the house starts at 2. Begin lower", "The strip"),
    (told.AddedOtherwise("solvent", 16, 2, 16), NOTE, "16 mL/L of rapid fixer concentrate; the house starts at 2. Both are common.", "far"),
    (told.AddedOtherwise("alkali", 16.1, 8, 16), CAUTION, "16.1 mL/L of household ammonia is far above the usual start of 8; begin lower", "common"),
    # Half of the usual 5 min and twice it are still common.
    (told.AnotherTime(2.5, "process.iron_bleach_min"), NOTE, "2.5 min; usual are 5 min. Both are common.", "far"),
    (told.AnotherTime(2.4, "process.iron_bleach_min"), NOTE, "2.4 min is far below the usual 5 min.", "common"),
    (told.AnotherTime(10, "process.iron_bleach_min"), NOTE, "10 min; usual are 5 min. Both are common.", "far"),
    (told.AnotherTime(10.1, "process.iron_bleach_min"), NOTE, "10.1 min is far above the usual 5 min.", "common"),
    (told.MadeTooEarly(30, 20), CAUTION, "Made so early it is 30 min old at its end, the rinses not counted; such a bath does its work for about 20 min. Make it just before.", "!"),
    (told.ReelUncovered(300, 500), NOTE, "300 mL in a tank of 500 mL: see that it covers the reel", "!"),
    (told.FilmsReckoned(500, films(1.0, 0.5, 2.0)), NOTE, "500 mL are reckoned to suffice for about 1 film of 36 (0.5 to 2).", "Mix more"),
    (told.FilmsReckoned(500, films(0.99, 0.5, 2.0)), CAUTION, "500 mL are reckoned to suffice for about 0.99 films of 36 (0.5 to 2). Mix more, or stronger, for one film.", "none"),
    (told.FilmsReckoned(500, films(14, 9, 999)), NOTE, "500 mL are reckoned to suffice for about 14 films of 36 (9 to 1000).", "thousand"),
    (told.FilmsReckoned(500, films(14, 9, 1000), "brew"), CAUTION, "By its known parts 500 mL suffice for a thousand and more films of 36 at most; with brew in it", "about"),
    (told.ClearingAfterPeroxide(1), NOTE, "After peroxide 1 min does in a clearing bath; after iron or permanganate 2 min are usual.", ";  "),
    (told.ClearingAfterPeroxide(2), NOTE, "After peroxide 1 min does", "2 min; "),
    (told.ClearingAfterPeroxide(2.5), NOTE, "2.5 min; after peroxide 1 min does", "After"),
    (told.DithioniteReckoned(RESERVE, 0.1, 1.0), NOTE, f"It holds about {RESERVE:.2g} g of dithionite; the silver of a film takes 0.1 to 1 g, and air its share.", "Take more"),
    (told.DithioniteReckoned(RESERVE * 0.99, 0.1, 1.0), CAUTION, f"It holds about {RESERVE * 0.99:.2g} g of dithionite", "With"),
    (told.DithioniteReckoned(RESERVE, 0.1, 1.0, "brew"), CAUTION, f"It holds about {RESERVE:.2g} g of dithionite; the silver of a film takes 0.1 to 1 g, and air its share. With brew in it", "Take more"),
    (told.NothingReckoned(), CAUTION, "What it suffices for cannot be said", "!"),
    (lamp(True, "likely"), NOTE, "A glowing lamp of 60 W at 0.4 m, 30 s a side, the film left on its reel: ", "off its"),
    (lamp(False, "ample"), NOTE, "A glowing lamp of 60 W at 0.4 m, 30 s a side, the film off its reel: ", "left on"),
    (lamp(False, "unknown"), CAUTION, "A glowing lamp of 60 W", "left on"),
    (told.SulfiteReckoned(1.0, "Bleach"), NOTE, "Its sulfite is enough for what film and tank carry of Bleach about 1 times over.", "With"),
    (told.SulfiteReckoned(0.994, "Bleach"), CAUTION, "Its sulfite undoes only about 99 % of what film and tank carry of Bleach: rinse more", "enough"),
    (told.SulfiteReckoned(2.0, "Bleach", "brew"), CAUTION, "Its sulfite is enough for what film and tank carry of Bleach about 2 times over. With brew in it", "rinse"),
    (told.RinseReckoned(1.0, 0.1, "fix"), CAUTION, "Nothing rinses between this and fix: all that film and tank hold goes along.", "%"),
    (told.RinseReckoned(0.02, 9.9e-6, "fix"), NOTE, "The rinse leaves about 2 % of the bath for fix; three fills would leave under 0.001 %.", "Nothing"),
    (told.RinseReckoned(0.02, 1e-5, "fix"), NOTE, "The rinse leaves about 2 % of the bath for fix; three fills would leave 0.001 %.", "under"),
    (told.AcidRinseMissing((5, 10), "dark"), NOTE, "An acid rinse between iron and ammonia, two fills", "!"),
    (told.ClearingMissing(True), NOTE, "A clearing bath of metabisulfite before the fogging bath.", "!"),
    (told.ClearingKept(), NOTE, "A clearing bath before dithionite: keep it, but let little of it go along.", "!"),
    (told.SecondHalfMissing(), CAUTION, "After this nothing makes the positive: light and a second developer", "!"),
    (told.SecondDeveloperMissing(), CAUTION, "After the light a second developer is missing.", "!"),
    (told.WashReckoned(0, 0, 1.0, 10), CAUTION, "After it comes no water. By dilution that leaves 100 % of the fixer", "fill"),
    (told.WashReckoned(1, 0, 0.02, 10), CAUTION, "After it comes 1 fill. By dilution that leaves 2 % of the fixer", "fills"),
    (told.WashReckoned(1, 9, 0.02, 10), CAUTION, "After it come 1 fill and 9 min of running water.", "fills"),
    (told.WashReckoned(0, 10, 0.02, 10), NOTE, "After it come 10 min of running water.", "fill"),
    (told.WashReckoned(FEWEST, 0, 0.02, 10), CAUTION, f"After it come {FEWEST} fills. By dilution", "min of running water. By"),
    (told.WashReckoned(FEWEST + 1, 0, 0.02, 10), NOTE, f"After it come {FEWEST + 1} fills.", "min of running water. By"),
    (told.CareFound(UNJUDGED, 2), UNJUDGED.level, UNJUDGED.text, "cannot be planned"),
    (told.CareFound(replace(UNJUDGED, refused=True), 1), UNJUDGED.level, f"{UNJUDGED.text} An evening with this cannot be planned.", "!"),
]  # fmt: skip


@pytest.mark.parametrize(("story", "level", "says", "never"), SAID)
def test_an_opinion_says_its_numbers_on_this_side_of_its_limit(story, level, says, never):
    one = story.at("here")
    assert (one.step, one.level) == ("here", level)
    assert one.says.startswith(says) and never not in one.says, one.says


def test_every_kind_of_opinion_is_in_the_list():
    kinds = {kind for _, kind in inspect.getmembers(told, inspect.isclass) if issubclass(kind, told.OpinionStory)}
    assert kinds - {told.OpinionStory} == {type(story) for story, *_ in SAID}


def test_what_one_press_does_and_the_reason_that_is_given():
    pressed = {
        told.NoneAdded("solvent", 2, 500, "50 mL developer, water to 500 mL"): {
            "bath": "50 mL developer + 1 mL rapid fixer concentrate, water to 500 mL"
        },
        told.NoneAdded("solvent", 2, 500, "50 mL developer, water to 500 mL", unread=True): {},
        told.NoneAdded("solvent", 2, 500): {},
        told.AnotherTime(9, "process.iron_bleach_min"): {"time": "5 min"},
        told.MadeTooEarly(30, 20): {"made": "just before"},
        told.ReelUncovered(300, 500): {"volume": "500 mL"},
        told.RinseReckoned(1.0, 0.1, "fix"): {"rinse": "5, 10, 20"},
        told.DownTheDrain("dichromate", False, "C"): {"after": "waste jug C"},
        told.DownTheDrain("silver_ammine", True, "S"): {"after": "destroy, jug S"},
        told.ClearingKept(): {},
    }
    assert {story: dict(story.at("x").change) for story in pressed} == pressed
    put_in = {
        told.AcidRinseMissing((5, 10), "dark"): ("rinse", None, "5, 10, acidified", True),
        told.ClearingMissing(True): ("clear", f"{number('process.clearing_min'):g} min", "5, 10", False),
        told.SecondHalfMissing(): ("fog", f"{number('process.fogging_min'):g} min", "5, 10, 20", True),
        told.SecondDeveloperMissing(): ("develop again", f"{number('process.second_developer_min'):g} min", "5, 10", True),
    }  # fmt: skip
    for story, (does, time, rinse, after) in put_in.items():
        one = story.at("x")
        assert (one.insert["does"], one.insert.get("time"), one.insert["rinse"], one.after) == (
            does,
            time,
            rinse,
            after,
        )
    assert told.FilmsReckoned(500, films(14, 9, 20)).at("x").why.startswith("By its active substance")
    assert (
        told.FilmsReckoned(500, films(3, 2, 6), peroxide=True)
        .at("x")
        .why.startswith("As practice counts it: silver makes the peroxide")
    )
    iron = {
        life: told.FilmsReckoned(500, films(14, 9, 20), iron=life).at("x").why
        for life in (IronLife(27, 430), IronLife(4.9, 5))
    }
    assert [why.partition(". ")[0] for why in iron.values()] == [
        "Practice counts about 8 films to 300 mL of such a bath; its iron(III) alone would take about 130",
        "Practice counts about 1 film to 300 mL of such a bath; its iron(III) alone would take about 2",
    ]
    assert "use up the dithionite and stain" in told.ClearingMissing(True).at("x").why
    assert "use up the fogging bath and stain" in told.ClearingMissing(False).at("x").why
    why = {minutes: told.AnotherTime(minutes, "process.iron_bleach_min").at("x").why for minutes in (2, 9)}
    assert why[2].startswith("Too short leaves work undone") and why[9].startswith("Longer does little more")


def test_what_asks_and_how_it_is_known():
    film, dithionite = told.FilmsReckoned(500, films(9, 4, 12)), told.DithioniteReckoned(9, 0.1, 0.4)
    assert not film.at("x").asks and told.FilmsReckoned(500, films(0.5, 0.1, 1)).at("x").asks
    assert told.AnotherAdded("alkali", 8, (("soda", 5.0),)).at("x").asks and not told.WordsTaken("x").at("x").asks
    assert told.ReelUncovered(300, 500).at("x").can_be_taken_over and not film.at("x").can_be_taken_over
    assert told.AcidRinseMissing((5,), "dark").at("x").can_be_taken_over
    assert dithionite.at("x").source == record("fog.dithionite_per_ag").source
    assert replace(film, source=told.PRACTICE).at("x").source == told.PRACTICE
    assert replace(film, source=told.PRACTICE, nameless="brew").at("x").source == told.PRACTICE
    assert film.at("x").document() == {
        "step": "x", "code": "suffices", "says": film.at("x").says, "why": film.at("x").why, "level": "note",
        "standing": film.at("x").source.words, "change": {}, "insert": None, "declined": "",
    }  # fmt: skip
