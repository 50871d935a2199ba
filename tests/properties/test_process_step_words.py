"""What is told of a step is read back as the same step."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from obverse.foundation import InputError
from obverse.process import Agitation, Rinse, Step
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


@given(st.sampled_from(["keep", "discard", "waste", "destroy"]), st.sampled_from(["F", "E", "D2"]))
def test_after(use, jug):
    said = step(after_use=use, waste_jug=jug if use == "waste" else "")
    assert read_after(tell_after(said)) == {"after_use": use, "waste_jug": said.waste_jug}


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
    ],
)
def test_a_rinse_as_people_say_it(text, fills):
    assert read_rinse(text).fills == fills


def test_turns_as_people_say_them():
    assert read_agitation("15 s in every minute") == Agitation(initial_s=0, inversions=0, seconds=15)
    assert read_agitation("10 turns a minute") == Agitation(initial_s=0, inversions=10, seconds=0)
    assert read_agitation("first half minute, then 4 turns every 30 s").every_s == 30
    assert read_temperature("68 F") == {"temperature_low_c": 19, "temperature_high_c": 21}
    assert read_time("until black")["time_most_min"] == 20


@pytest.mark.parametrize(
    "read", [read_time, read_temperature, read_agitation, read_rinse, read_after, lambda text: read_made(text, {})]
)
def test_what_says_nothing_is_refused_with_how_to_write_it(read):
    with pytest.raises(InputError, match="write"):
        read("murky")
