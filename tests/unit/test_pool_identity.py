"""What makes a strip the same strip, and a film the same film."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from obverse.inference import next_strips
from obverse.process import Grade, Patch, Trial, content_mark, first_of_each, read_series, same_film, strip_id
from obverse.process.film import FilmStock

pytestmark = pytest.mark.usefixtures("few_draws")

TEACHING = Path(__file__).parents[2] / "docs" / "teaching-film-a.json"


def strip(name: str, density: float = 1.0, day: str | None = None, **more: object) -> Trial:
    steps = tuple(Patch(log_exposure=x, density=density - x / 3) for x in (-0.6, 0.0, 0.6))
    made_on = None if day is None else date.fromisoformat(day)
    return Trial(id=name, controls={"first_developer_time_min": 10.0}, steps=steps, made_on=made_on, **more)


def test_a_strip_is_its_content_whatever_it_is_called():
    assert content_mark(strip("1", note="mine", person="Ada")) == content_mark(strip("strip one"))
    assert content_mark(strip("1")) != content_mark(strip("1", 1.01))
    assert content_mark(strip("1")) != content_mark(strip("1", wear={"bleach": 0.5}))
    assert content_mark(strip("1")) != content_mark(strip("1", grades=(Grade(of="blacks", grade="thin"),)))


def test_order_of_readings_and_last_bits_are_no_difference():
    one = strip("1")
    turned = one.model_copy(update={"steps": one.steps[::-1], "controls": {"first_developer_time_min": 10.0 + 1e-12}})
    assert content_mark(one) == content_mark(turned)


@pytest.mark.parametrize(
    ("days", "firsts"),
    [
        ((None, None, None), [0, 0, 0]),
        ((None, "2031-05-01", "2031-05-02"), [0, 0, 2]),
        (("2031-05-02", "2031-05-01", None), [0, 1, 1]),
        (("2031-05-02", None, "2031-05-02"), [0, 0, 0]),
    ],
)
def test_two_days_make_two_strips_in_whatever_order(days: tuple[str | None, ...], firsts: list[int]):
    assert first_of_each([strip(str(k), day=day) for k, day in enumerate(days)]) == firsts


def test_strips_not_yet_seen_are_never_one():
    planned = [Trial(id=str(k), controls={"first_developer_time_min": 10.0}) for k in range(3)]
    assert first_of_each(planned) == [0, 1, 2]


def test_strips_given_three_times_count_once():
    document = json.loads(TEACHING.read_text())
    given = document["trials"]
    thrice = [{**trial, "id": f"{trial['id']} {copy}"} for copy in "abc" for trial in given]
    once = next_strips(read_series(document)).document()
    again = next_strips(read_series({**document, "trials": thrice})).document()
    assert again["best_trial"].pop("id") == once["best_trial"].pop("id") + " a"
    assert again["best_trial"]["probability_in_aim"] == once["best_trial"]["probability_in_aim"]
    assert [s["controls"] for s in again["suggestions"]] == [s["controls"] for s in once["suggestions"]]
    assert [s["probability_in_aim"] for s in again["suggestions"]] == [
        s["probability_in_aim"] for s in once["suggestions"]
    ]


def test_a_strip_keeps_its_id_and_two_darkrooms_have_two():
    first = strip("1", day="2031-05-01")
    assert strip_id("a1", first, "t") == strip_id("a1", first.model_copy(update={"note": "corrected"}), "t")
    assert strip_id("a1", first, "t") != strip_id("b2", first, "t")
    assert strip_id("a1", first, "t") != strip_id("a1", first, "u")
    assert strip_id("a1", first) != strip_id("a1", first.model_copy(update={"made_on": date(2031, 5, 2)}))


@pytest.mark.parametrize(
    ("name", "speed", "also", "same"),
    [
        ("Grey Base 100", 100, (), True),
        ("grey-base 100", 100, (), True),
        ("Gréy base 100", 100, (), True),
        ("grey base 100", 125, (), False),
        ("grey base", 100, (), False),
        ("the old stock", 100, ("The Old Stock",), True),
        ("!", 100, ("?",), False),
    ],
)
def test_a_film_is_its_words_and_its_box_speed(name: str, speed: float, also: tuple[str, ...], same: bool):
    mine = FilmStock(name="grey base 100", box_speed=100)
    assert same_film(mine, FilmStock(name=name, box_speed=speed), also=also) is same


@pytest.mark.parametrize(
    ("run", "made_at", "day"),
    [
        ("run-1", "2031-05-01T20:15:00+02:00", date(2031, 5, 1)),
        ("", "2031-05-01T20:15:00+02:00", None),
        ("run-1", "some day", None),
        ("run-1", "", None),
    ],
)
def test_a_strip_from_the_sink_knows_its_day(run: str, made_at: str, day: date | None):
    from obverse.store.records import TrialEntry
    from obverse.workbench.notebook import _dated

    entry = TrialEntry(film="f", trial=strip("1"), run=run, made_at=made_at)
    assert _dated(entry).made_on == day
    given = strip("1", day="2030-01-01")
    assert _dated(entry.model_copy(update={"trial": given})).made_on == date(2030, 1, 1)
