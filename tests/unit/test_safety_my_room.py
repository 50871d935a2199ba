"""One room of the notebook for everything that reckons with air: mixing, the evening, recipes from elsewhere, opinions."""

import pytest

from obverse.foundation import UnsafeError
from obverse.process import AIMS, USUAL_TOOLS, Component, FilmStock, Recipe
from obverse.process.catalog import formulas, products, routes
from obverse.run import plan_run
from obverse.safety.airborne import Room
from obverse.workbench import house_opinion, sink
from obverse.workbench.bench import make_sheet
from obverse.workbench.recipes import read_recipe

CUPBOARD, HALL = Room(1, 0), Room(40, 2)


def with_ammonia(g_per_l):
    bath = formulas()["ammonia_bath"]
    return bath.model_copy(
        update={"components": (Component(substance="ammonia", concentration=f"{g_per_l} g/L"),), "dilutions": ()}
    )


STRONG = with_ammonia(60)
ALL = tuple(products().values())


def told(room):
    return {c.code for c in make_sheet(STRONG, 1000, ALL, USUAL_TOOLS, room=room).all_cautions}


def test_a_mix_is_refused_in_a_cupboard_told_in_a_bathroom_and_silent_in_a_hall():
    with pytest.raises(UnsafeError):
        told(CUPBOARD)
    assert "pair.reckoned.ammonia" in told(None)
    assert "pair.reckoned.ammonia" not in told(HALL)


def test_the_bench_mixes_in_the_persons_room(workbench):
    assert "pair.reckoned.ammonia" in {c.code for c in workbench.bench.sheet(STRONG, 1000).all_cautions}
    workbench.care.set_room(1, 0)
    with pytest.raises(UnsafeError):
        workbench.bench.sheet(STRONG, 1000)


def test_an_evening_is_planned_in_the_persons_room(workbench, monkeypatch):
    route, known = routes()["iron_ammonia_light"], formulas() | {"ammonia_bath": with_ammonia(100)}
    plan_run(route, known, tank_ml=1000, room=HALL)
    with pytest.raises(UnsafeError):
        plan_run(route, known, tank_ml=1000, room=Room(0.5, 0))
    workbench.care.set_room(17, 3)
    rooms = []
    monkeypatch.setattr(sink, "plan_run", lambda *a, **more: rooms.append(more["room"]) or plan_run(*a, **more))
    workbench.sink.plan({"route": "iron_ammonia_light", "tank_ml": 500})
    assert [(17, 3)] == [(room.volume_m3, room.air_changes_per_h) for room in rooms]


def test_the_house_thinks_of_a_process_in_the_persons_room(workbench, monkeypatch):
    workbench.care.set_room(17, 3)
    rooms = []
    check = house_opinion.check_route
    monkeypatch.setattr(
        house_opinion, "check_route", lambda *a, **more: rooms.append(more["room"].volume_m3) or check(*a, **more)
    )
    workbench.processes.opinions(routes()["iron_ammonia_light"])
    assert [17] == rooms


def test_a_recipe_from_elsewhere_is_looked_at_in_the_room_it_comes_to():
    route, known = routes()["iron_ammonia_light"], formulas() | {"ammonia_bath": with_ammonia(100)}
    recipe = Recipe(
        name="Strong ammonia",
        film=FilmStock(name="a 100-speed grey-base film", box_speed=100, base_density=0.25),
        exposure_index=80,
        controls={"first_developer_time_min": 11, "solvent_ml_per_l": 12, "alkali_ml_per_l": 4},
        route=route,
        formulas=tuple(known[key] for key in dict.fromkeys(step.formula for step in route.steps if step.formula)),
        aim=AIMS["projection"],
    ).model_dump(mode="json")
    assert "Strong ammonia" == read_recipe(recipe, room=HALL).name
    with pytest.raises(UnsafeError):
        read_recipe(recipe, room=Room(0.5, 0))
