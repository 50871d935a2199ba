"""Film of any size in the tank: reels, room, area of the baths, and two tanks side by side."""

import pytest

from obverse.foundation import InputError
from obverse.process.formats import film_said


def codes(plan):
    return [caution.code for caution in plan.cautions]


def planned(workbench, *films, tank_ml=500, tanks=1):
    strips = [{"name": f"film {n}", "pieces": film_said(said)} for n, said in enumerate(films, start=1)]
    return workbench.sink.plan({"route": "permanganate_light", "tank_ml": tank_ml, "tanks": tanks, "strips": strips})


def test_two_rolls_of_one_strip_go_onto_two_reels(workbench):
    plan = planned(workbench, "2 x 120")
    assert [(v.strip, v.reel, v.part) for v in plan.vessels] == [("film 1", 1, "1 of 2"), ("film 1", 2, "2 of 2")]
    loads = [a for a in plan.actions if a.kind == "load"]
    assert [a.key for a in loads] == ["load.1", "load.2"] and {a.strips for a in loads} == {("film 1",)}
    one = planned(workbench, "120")
    assert plan.action("drying").duration_s == 2 * one.action("drying").duration_s
    assert plan.proof.holds and one.vessels[0].part == ""


def test_a_film_nobody_measured_is_one_135_36(workbench):
    plan = workbench.sink.plan({"route": "permanganate_light"})
    assert plan.strips[0].film_area_m2 == pytest.approx(0.0577, abs=0.001) and len(plan.vessels) == 1


def test_sheets_hang_in_a_holder(workbench):
    plan = planned(workbench, "6 x 4x5 sheet")
    assert [(v.reel, v.holder) for v in plan.vessels] == [(1, "sheet holder")]


def test_more_reels_than_can_be_told_by_touch_are_refused(workbench):
    with pytest.raises(InputError, match="another evening"):
        planned(workbench, "7 x 120")


@pytest.mark.parametrize(
    ("films", "tanks", "full"),
    [
        (("135-36", "135-24"), 1, False),
        (("135-36", "135-24", "16 mm 3 m"), 1, True),
        (("135-36", "135-24", "16 mm 3 m"), 2, False),
        (("135-36", "120"), 1, True),
        (("120",), 1, False),
        (("4x5 sheet",), 1, False),  # nobody said how many sheets it takes
    ],
)
def test_the_tank_says_when_the_film_has_no_room(workbench, films, tanks, full):
    workbench.shelf.add_tool({"name": "small tank", "kind": "tank", "volume_ml": 500, "films": 2, "films_120": 1})
    assert ("tank.full" in codes(planned(workbench, *films, tanks=tanks))) is full
    assert "tank.full" not in codes(planned(workbench, *films, tank_ml=1000))


def test_two_tanks_double_every_bath_and_three_are_another_evening(workbench):
    one, two = planned(workbench, "120"), planned(workbench, "2 x 120", tanks=2)
    assert two.tank_ml == 2 * one.tank_ml and "tank.several" in codes(two)
    assert two.action("first_development").pour_s == 2 * one.action("first_development").pour_s
    with pytest.raises(InputError, match="another evening"):
        planned(workbench, "3 x 120", tanks=3)


def test_the_page_takes_film_as_it_is_said_and_gives_it_back(client):
    query = "route=permanganate_light&tank_ml=500&strip=A&size=2+x+120"
    page = client.get(f"/sink/plan?{query}")
    assert page.status_code == 200 and "Load A (2 of 2) in the dark" in page.text
    wrong = client.get("/sink/plan?route=permanganate_light&tank_ml=500&strip=A&size=a+heap")
    assert wrong.status_code == 422 and "names no film size" in wrong.text and 'value="a heap"' in wrong.text


def test_baths_count_the_area_of_the_film_that_was_said(workbench):
    bath = workbench.care.mix_bath("fixer_rapid", 500)
    view = workbench.care.count_pass(bath, film="16 mm 3.2 m", films=2)
    assert view.bottle.passes[0].area_m2 == pytest.approx(2 * 3.2 * 0.01595)
    jug = workbench.care.begin_jug("A", 5000)
    small = workbench.care.pour(jug, "fixer_rapid", 100, films=1, film="4x5 sheet").jug.silver_g.likely
    large = workbench.care.pour(jug, "fixer_rapid", 100, films=1, film="8x10 sheet").jug.silver_g.likely - small
    assert large / small == pytest.approx(509 / 125.4, rel=0.02)
