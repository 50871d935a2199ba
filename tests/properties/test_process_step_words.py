"""What is told of a step is read back as the same step."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from obverse.foundation import InputError
from obverse.process import Agitation, Rhythm, Rinse, Step
from obverse.process.said import parse_mix
from obverse.process.step_form import reading_of, step_from_words, step_in_words
from obverse.process.step_words import (
    read_after,
    read_agitation,
    read_made,
    read_rinse,
    read_temperature,
    read_time,
    tell_after,
    tell_agitation,
    tell_made,
    tell_rinse,
    tell_temperature,
    tell_time,
)

halves = st.integers(1, 400).map(lambda n: n / 2)


def step(**fields):
    return Step(**{"key": "a", "name": "A", "kind": "bleach", "time_min": 1, **fields})


@given(
    halves | st.integers(1, 600).map(lambda n: n / 60), st.none() | st.integers(0, 20), st.sampled_from(["", "clear"])
)
def test_time(low, more, until):
    most = None if more is None and not until else low + (more or 0)
    said = step(time_min=low, time_most_min=most, until=until)
    read = read_time(tell_time(said))
    assert read["until"] == until
    assert read["time_min"] == pytest.approx(low, abs=1e-6)
    assert (read["time_most_min"] is None) == (most is None)
    assert most is None or read["time_most_min"] == pytest.approx(most, abs=1e-6)


@given(
    st.builds(Agitation, initial_s=st.integers(0, 90), every_s=st.sampled_from([30, 60, 90, 120]), inversions=st.integers(1, 20), seconds=st.just(0))
    | st.builds(Agitation, initial_s=st.integers(0, 90), every_s=st.sampled_from([30, 60]), inversions=st.just(0), seconds=st.integers(1, 50))
    | st.just(Agitation(constant=True))
    | st.builds(Agitation, initial_s=st.just(0), every_s=st.sampled_from([4, 60]), inversions=st.integers(1, 9), seconds=st.just(0), before=st.lists(st.builds(Rhythm, for_s=st.sampled_from([60, 90]), every_s=st.sampled_from([30, 60]), inversions=st.integers(1, 9)), max_size=3).map(tuple))
)  # fmt: skip
def test_agitation(said):
    assert read_agitation(tell_agitation(said)) == said


@given(
    st.none()
    | st.builds(
        Rinse,
        fills=st.lists(st.integers(0, 60), min_size=1, max_size=6).map(tuple),
        acidified=st.booleans(),
        running_water_min=st.sampled_from([0, 5, 12.5]),
        fill_volume_ml=st.sampled_from([None, 500]),
        fill_s=st.sampled_from([None, 30, 90]),
        vessel=st.sampled_from(["", "", "bucket", "tray"]),
    )
)
def test_rinse(said):
    assert read_rinse(tell_rinse(said)) == said


@given(st.integers(10, 50), st.integers(0, 10))
def test_temperature(low, more):
    said = step(temperature_low_c=low, temperature_high_c=low + more)
    assert read_temperature(tell_temperature(said)) == {
        "temperature_low_c": low,
        "temperature_high_c": low + more,
    }


@given(
    st.sampled_from(["keep", "discard", "waste", "destroy"]),
    st.sampled_from(["F", "E", "D2"]),
    st.sampled_from([None, 1, 8, 12.5]),
)
def test_after(use, jug, films):
    said = step(after_use=use, waste_jug=jug if use == "waste" else "", good_for_films=films)
    counted = {} if films is None else {"good_for_films": films}
    assert read_after(tell_after(said)) == {"after_use": use, "waste_jug": said.waste_jug, **counted}


def test_made():
    names = {"bleach_b": "Bleach B"}
    said = step(key="fog", made="during", made_during="bleach_b")
    assert read_made(tell_made(said, names), names) == {"made": "during", "made_during": "bleach_b"}
    assert read_made("just before", names)["made"] == "just_before"


@pytest.mark.parametrize(
    ("text", "fills"),
    [
        ("three fills, 5 turns, each with twice the turns of the one before", (5, 10, 20)),
        ("3 fills", (5, 10, 20)),
        ("5 10 20", (5, 10, 20)),
        ("2 fills of 10 turns", (10, 10)),
        ("4 fills, 30 s each", (0, 0, 0, 0)),
        ("two buckets, 1 min each", (0, 0)),
        ("two buckets, then hose 3 min", (5, 5)),
        ("2', 2', 2'", (0, 0, 0)),
    ],
)
def test_a_rinse_as_people_say_it(text, fills):
    assert read_rinse(text).fills == fills


def test_turns_as_people_say_them():
    assert read_agitation("15 s in every minute") == Agitation(initial_s=0, inversions=0, seconds=15)
    assert read_agitation("10 turns a minute") == Agitation(initial_s=0, inversions=10, seconds=0)
    fives = read_agitation("5x in the first minute, then 3x")
    assert (fives.before, fives.inversions, fives.every_s) == ((Rhythm(for_s=60, every_s=60, inversions=5),), 3, 60)
    assert read_agitation("first half minute, then 4 turns every 30 s").every_s == 30
    assert read_temperature("68 F") == {"temperature_low_c": 19, "temperature_high_c": 21}
    assert read_time("until black")["time_most_min"] == 20


@pytest.mark.parametrize(
    "read", [read_time, read_temperature, read_agitation, read_rinse, read_after, lambda text: read_made(text, {})]
)
def test_what_says_nothing_is_refused_with_how_to_write_it(read):
    with pytest.raises(InputError, match="write"):
        read("murky")


@pytest.mark.parametrize(
    ("text", "use"),
    [
        ("never drain, keep in a jar", "keep"),
        ("keep in a jar, not down the drain", "keep"),
        ("not back to its jug, waste jug D", "waste"),
        ("poured away with water", "discard"),
        ("drain", "discard"),
        ("pour it down the sink", "discard"),
    ],
)
def test_a_negation_of_where_a_bath_goes_is_no_yes(text, use):
    assert read_after(text)["after_use"] == use


@pytest.mark.parametrize(
    "text",
    [
        "not down the drain, to the depot",
        "not down the drain",
        "never the sink, drain or toilet",
        "no drain",
        "don't pour it away",
        "drain after it has gone colourless",
        "in a jar, not in the creek",
    ],
)
def test_what_is_not_understood_of_a_used_bath_is_asked_about(text):
    with pytest.raises(InputError, match=r"write|name the jug"):
        read_after(text)


@pytest.mark.parametrize(
    ("text", "fills", "running_min"),
    [
        ("hose 5 min", (), 5),
        ("5 min under the tap", (), 5),
        ("two fills, then hose 3 min", (5, 10), 3),
        ("running water 90 s", (), 1.5),
        ("hose 2'", (), 2),
    ],
)
def test_running_water_is_no_turn(text, fills, running_min):
    read = read_rinse(text)
    assert (read.fills, read.running_water_min) == (fills, running_min)


@pytest.mark.parametrize("text", ["2', 3', 2'", "count to 60", "10 min in the bath"])
def test_a_rinse_that_cannot_be_held_is_told(text):
    with pytest.raises(InputError, match=r"(was not understood|is a time).*running water 5 min"):
        read_rinse(text)


def test_agitation_is_read_whole_or_asked_about():
    assert read_agitation("5x/min") == Agitation(initial_s=0, inversions=5, seconds=0)
    for text in (
        "1 stroke in 4 s",
        "5x/min first min, then 3x",
        "4 turns a minute, then 2 turns a minute",
        "constant first minute, then 4 turns",
    ):
        with pytest.raises(InputError, match="was not understood"):
            read_agitation(text)
    assert tell_agitation(Agitation(initial_s=0, inversions=1, seconds=0)) == "1 turn every minute"


def said_step(**words):
    return step_from_words(words, {}, {}, dark=False)[0]


def test_once_more_is_the_same_work_and_keeps_the_word():
    again = said_step(does="bleach again")
    assert (again["kind"], again["name"]) == ("bleach", "Bleach again")
    assert said_step(does="develop again")["kind"] == "redevelop"
    assert said_step(does="stare again")["kind"] == "other"


def test_what_the_house_put_in_is_told_as_the_house_s():
    put_in = "At most 20 min is the house's word"
    first = said_step(does="clear", time="2 min until no yellow", note="mine")
    assert first["note"].startswith("mine At most") and put_in in first["note"]
    kept = said_step(does="clear", time="2 min until no yellow, at most 20 min", note=first["note"])
    assert kept["note"] == first["note"]
    own = said_step(does="clear", time="2 min until no yellow, at most 8 min", note=first["note"])
    assert own["note"] == "mine"
    assert said_step(does="clear", time="6-8' til no grey")["note"] == ""
    five = said_step(does="clear", rinse="5 fills")
    assert "(5, 5, 5, 5, 5) are the house's" in five["note"]
    assert said_step(does="clear", rinse="2 fills of 10 turns")["note"] == ""


def test_what_is_wrong_stands_beside_its_field_and_does_not_name_it_twice():
    wrong = step_from_words({"does": "develop", "time": "murky", "volume": "0 jars"}, {}, {}, dark=False)[1]
    assert wrong["time"].startswith("'murky' is no time") and wrong["volume"].startswith("'0 jars'")


def test_where_and_how_is_no_bath_and_a_rinse_may_be_told_in_its_place():
    for does, bath, fills in (
        ("expose", "reel in a glass jar", None),
        ("dry", "clothes line", None),
        ("rinse", "four portions of 250 cm3", (5, 10, 20, 40)),
        ("rinse", "~5 changes, til not blue", (5,) * 5),
        ("wash", "3 changes of water", (5, 10, 20)),
    ):
        fields, wrong = step_from_words({"does": does, "bath": bath}, {}, {}, dark=False)
        assert wrong == {} and (fields["mix"], fields["formula"], fields["said"]) == ("", None, {"bath": bath})
        assert fills is None or fields["rinse_after"].fills == fills
    acid = step_from_words({"does": "rinse", "bath": "water with a pinch of citric acid"}, {}, {}, dark=False)[0]
    assert acid["mix"] == "water with a pinch of citric acid"


def test_words_that_cannot_be_read_stand_beside_what_the_house_does_instead():
    typed = {"does": "clear", "time": "murky", "rinse": "5 or 6 as you like", "agitation": "2, 7 and 9"}
    fields, wrong = step_from_words(typed, {}, {}, dark=False)
    assert wrong == {} and {name: fields["said"][name] for name in ("time", "rinse", "agitation")} == {
        name: typed[name] for name in ("time", "rinse", "agitation")
    }
    assert (fields["time_min"], fields["rinse_after"].fills) == (2, (5, 10, 20))
    step = Step(**fields, key="clear")
    assert "time 'murky' as 2 min" in reading_of(
        step, {}
    ) and "rinse '5 or 6 as you like' as 5, 10, 20 turns" in reading_of(step, {})


@pytest.mark.parametrize(
    ("field", "text", "read"),
    [
        ("time", "ten and a half minutes", {"time_min": 10.5, "time_most_min": None}),
        ("time", "13:30 min", {"time_min": 13.5}),
        ("time", "one minute each side", {"time_min": 2}),
        ("time", "30 seconds front and 30 seconds back", {"time_min": 1}),
        ("time", "2 min in total, then flipped and all again", {"time_min": 4}),
        ("time", "2 min, again if brown is left", {"time_min": 2}),
        ("time", "1 or 2 min, until the brown is away", {"time_min": 1, "time_most_min": 2, "until": "the brown is away"}),
        ("temperature", "20 in winter, 23 in August", {"temperature_low_c": 20, "temperature_high_c": 23}),
        ("temperature", "68 give or take 3", {"temperature_low_c": 18.33, "temperature_high_c": 21.67}),
        ("agitation", "Shake 5 sec. every 30 sec.", {"agitation": Agitation(initial_s=0, seconds=5, inversions=0, every_s=30)}),
        ("agitation", "turned over once every half minute", {"agitation": Agitation(initial_s=0, inversions=1, seconds=0, every_s=30)}),
        ("agitation", "lid loose, burp every min", {"agitation": Agitation()}),
        ("agitation", "roughly twice a minute", {"agitation": Agitation(initial_s=0, inversions=2, seconds=0)}),
        ("agitation", "up-down all time, 1 stroke in 4 s", {"agitation": Agitation(constant=True)}),
        (
            "agitation",
            "5x/min first min, then 3x",
            {"agitation": Agitation(initial_s=0, inversions=3, seconds=0, before=(Rhythm(for_s=60, every_s=60, inversions=5, seconds=0),))},
        ),
        ("time", "count to 60", {"time_min": 1}),
        ("rinse", "fill, shake, dump, \N{MULTIPLICATION SIGN}6", {"rinse_after": Rinse(fills=(5,) * 6)}),
        ("rinse", "until water no longer yellow (4-5 min)", {"rinse_after": Rinse(fills=(), running_water_min=5)}),
        ("after", "into the old clear until no color, then drain", {"after_use": "destroy"}),
        ("after", "dump after two rolls", {"after_use": "discard"}),
        ("after", "when green-brown to the city collection, never the drain", {"after_use": "waste", "waste_jug": "F"}),
        ("after", "'old dev' bottle, used for test strips next week, then drain", {"after_use": "keep"}),
        ("light", "kitchen lamp on once the lid is lifted", {"light": "dark"}),
        ("light", "white light from now on", {"light": "light"}),
        ("time", "a quarter of an hour", {"time_min": 15}),
        ("time", "11 mins 30 secs", {"time_min": 11.5}),
        ("time", "10 +/- 1 min", {"time_min": 9, "time_most_min": 11}),
        ("time", "no less than 4 min", {"time_min": 4}),
        ("agitation", "every 30 s", {"agitation": Agitation(initial_s=0, inversions=1, seconds=0, every_s=30)}),
        ("agitation", "rotary processor, 40 rpm", {"agitation": Agitation(constant=True)}),
        ("after", "silver recovery bucket", {"after_use": "waste"}),
        ("made", "the night before", {"made": "ahead"}),
        ("volume", "32 fl oz", {"volume_ml": pytest.approx(946.35, abs=0.1)}),
    ],
)  # fmt: skip
def test_own_words_stand_and_come_to_what_they_mean(field, text, read):
    fields, wrong = step_from_words({"does": "bleach", "bath": "1+4", field: text}, {}, {}, dark=True)
    assert wrong == {}
    kept = Step(**fields, key="a")
    assert {name: getattr(kept, name) for name in read} == read
    assert step_in_words(kept, {})[field] == text
    # Once the step does something else, what was typed of it no longer stands.
    changed = kept.model_copy(
        update={"time_min": 99, "temperature_low_c": 1, "agitation": Agitation(inversions=33), "rinse_after": None}
        | {"after_use": "waste" if kept.after_use != "waste" else "keep", "light": "dark" if kept.light == "light" else "light"}
        | {"volume_ml": 1, "made": ""}
    )  # fmt: skip
    assert field == "agitation" or step_in_words(changed, {})[field] != text


@pytest.mark.parametrize(
    ("field", "text"), [("time", "not 6 min"), ("agitation", "never 4 turns"), ("rinse", "not 3 fills of it")]
)
def test_what_is_turned_round_is_asked_about(field, text):
    assert field in step_from_words({"does": "bleach", field: text}, {}, {}, dark=True)[1]


@pytest.mark.parametrize(
    ("text", "grams", "per_ml"), [("5 g/qt hypo", 5, 946.35), ("6 oz/gal. sulfite", 170.1, 3785.4)]
)
def test_so_much_to_the_quart_and_to_the_gallon(text, grams, per_ml):
    (part,) = parse_mix(text).parts
    assert part.amount is not None
    assert (part.amount.best, part.per_ml) == (pytest.approx(grams, abs=0.01), pytest.approx(per_ml, abs=0.1))
