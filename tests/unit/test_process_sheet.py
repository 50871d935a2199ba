"""The evening on paper: complete, in order, on two pages, with the recipe in its code."""

from datetime import date

import pytest

from obverse.cli.main import run
from obverse.foundation import InputError
from obverse.process import AIMS, FilmStock, Patch, Recipe
from obverse.process.catalog import formulas, routes
from obverse.sheets.process_sheet import pages_of, process_sheet_pdf, sheet_data
from obverse.workbench.recipes import evening, recipe_text, settled


def recipe_of():
    route = routes()["iron_ammonia_light"]
    needed = dict.fromkeys(step.formula for step in route.steps if step.formula)
    return Recipe(
        name="Grey base, projection",
        film=FilmStock(name="a 100-speed grey-base film", box_speed=100),
        exposure_index=80,
        controls={"first_developer_time_min": 11},
        route=route,
        formulas=tuple(formulas()[key] for key in needed),
        aim=AIMS["projection"],
    )


@pytest.mark.parametrize("route_key", list(routes()))
def test_every_route_has_its_whole_evening_on_two_pages(route_key):
    plan = evening(routes()[route_key], tank_ml=500)
    data = sheet_data(plan, None, "", "a4", None)
    told = [row["name"] for column in data["before"] for row in column] + [
        row["name"] for row in data["film"] + data["after"]
    ]
    for step in routes()[route_key].steps:
        if step.kind not in ("dry",):
            assert any(step.name in name for name in told), step.name
    for paper in ("a4", "us-letter"):
        assert pages_of(process_sheet_pdf(plan, paper=paper)) <= 2


def test_steps_stand_in_the_order_of_the_plan_with_their_times():
    recipe = settled(recipe_of())
    data = sheet_data(evening(recipe, tank_ml=500), recipe, recipe_text(recipe), "a4", date(2031, 11, 5))
    baths = [row["name"] for row in data["film"] if row["time"]]
    assert baths.index("First development") < baths.index("Iron(III) chloride bleach") < baths.index("Ammonia bath")
    first = next(row for row in data["film"] if row["name"] == "First development")
    assert "11:00" == first["time"]


def test_the_fills_of_a_rinse_have_a_box_each_with_its_inversions():
    data = sheet_data(evening(routes()["iron_ammonia_light"], tank_ml=500), None, "", "a4", None)
    rinse = next(row for row in data["film"] if row["name"] == "Rinse after first development")
    assert ["5", "10", "20"] == rinse["fills"]


def test_the_ammonia_bath_is_never_kept_and_its_destruction_is_on_the_sheet():
    data = sheet_data(evening(routes()["iron_ammonia_light"], tank_ml=500), None, "", "a4", None)
    assert "destroy tonight" == next(row for row in data["film"] if row["name"] == "Ammonia bath")["fate"]
    assert any("acid" in row["name"].lower() for row in data["after"])


def test_the_code_on_the_sheet_says_what_it_holds():
    recipe = settled(recipe_of())
    data = sheet_data(evening(recipe, tank_ml=500), recipe, recipe_text(recipe), "a4", None)
    assert data["qr"].startswith("<svg")
    assert "without its prose" in data["qr_words"]
    long = recipe.model_copy(
        update={"curve": tuple(Patch(log_exposure=i / 1000, density=2 + (i * 7919 % 1000) / 1003) for i in range(1500))}
    )
    data = sheet_data(evening(long, tank_ml=500), long, recipe_text(long), "a4", None)
    assert "" == data["qr"]
    assert "sha256" in data["qr_words"]


def test_a_paper_nobody_has_is_refused():
    with pytest.raises(InputError, match="papyrus"):
        process_sheet_pdf(evening(routes()["iron_ammonia_light"], tank_ml=500), paper="papyrus")


def test_the_command_writes_the_sheet(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    out = tmp_path / "evening.pdf"
    assert 0 == run(["sheet", "permanganate_light", "--out", str(out), "--paper", "us-letter"])
    assert out.read_bytes().startswith(b"%PDF")
    assert 2 == run(["sheet", "nothing", "--out", str(out), "--force"])
    assert 2 == run(["sheet", "permanganate_light", "--out", str(tmp_path / "no" / "e.pdf")])
    assert 2 == run(["sheet", "permanganate_light", "--out", str(out), "--force", "--temperature-c", "40"])


def test_a_caution_that_most_baths_share_is_told_once_for_the_whole_evening():
    plan = evening(routes()["iron_ammonia_light"], tank_ml=500)
    data = sheet_data(plan, None, "", "a4", None)
    told = data["throughout"] + [text for row in data["film"] for text in row["cautions"]]
    said = {text for action in plan.actions if action.kind in ("bath", "wash", "reexpose") for text in action.cautions}
    assert said <= set(told), "no caution is lost"
    assert all(told.count(text) == 1 for text in data["throughout"])
    assert any("Goggles" in text for text in data["throughout"])
