"""The evening on paper: complete, in order, on two pages, with the recipe in its code."""

import re
from datetime import date

import pytest

from obverse.cli.main import run
from obverse.foundation import InputError
from obverse.process import AIMS, FilmStock, Patch, Recipe
from obverse.process.catalog import formulas, routes
from obverse.sheets.process_sheet import pages_of, process_sheet_pdf, sheet_data
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.evening_words import do_words
from obverse.workbench.ready_words import bath_words, ready_groups
from obverse.workbench.recipes import recipe_text, settled
from tests.acceptance_way import VARIANTS, WAY


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    found = open_workbench(tmp_path_factory.mktemp("house"), url="sqlite://")
    yield found
    found.close()


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
def test_every_route_has_its_whole_evening_on_two_pages(house, route_key):
    plan = house.sink.plan_of(routes()[route_key], {"tank_ml": 500})
    data = sheet_data(plan, None, "", "a4", None)
    told = [row["name"] for column in data["before"] for row in column] + [
        row["name"] for row in data["film"] + data["after"]
    ]
    for step in routes()[route_key].steps:
        if step.kind not in ("dry",):
            assert any(step.name in name for name in told), step.name
    # Told at the foot, and nowhere above it.
    assert str(data).count("Labels, safety data sheets and local codes") == 1
    # The shorter of the two papers; the longest evening stands on the other, too.
    assert pages_of(process_sheet_pdf(plan, paper="us-letter")) <= 2
    if route_key == "iron_ammonia_fogging":
        assert pages_of(process_sheet_pdf(plan, paper="a4")) <= 2


def test_steps_stand_in_the_order_of_the_plan_with_their_times(house):
    recipe = settled(recipe_of())
    data = sheet_data(
        house.sink.plan_of(recipe, {"tank_ml": 500}), recipe, recipe_text(recipe), "a4", date(2031, 11, 5)
    )
    baths = [row["name"] for row in data["film"] if row["time"]]
    assert baths.index("First development") < baths.index("Iron(III) chloride bleach") < baths.index("Ammonia bath")
    first = next(row for row in data["film"] if row["name"] == "First development")
    assert "11:00" == first["time"]


def test_the_fills_of_a_rinse_have_a_box_each_with_its_inversions(house):
    data = sheet_data(house.sink.plan_of(routes()["iron_ammonia_light"], {"tank_ml": 500}), None, "", "a4", None)
    rinse = next(row for row in data["film"] if row["name"] == "Rinse after first development")
    assert ["5", "10", "20"] == rinse["fills"]


def test_the_ammonia_bath_is_never_kept_and_its_destruction_is_on_the_sheet(house):
    data = sheet_data(house.sink.plan_of(routes()["iron_ammonia_light"], {"tank_ml": 500}), None, "", "a4", None)
    assert "destroy tonight" == next(row for row in data["film"] if row["name"] == "Ammonia bath")["fate"]
    assert any("acid" in row["name"].lower() for row in data["after"])


def test_the_code_on_the_sheet_says_what_it_holds(house):
    recipe = settled(recipe_of())
    data = sheet_data(house.sink.plan_of(recipe, {"tank_ml": 500}), recipe, recipe_text(recipe), "a4", None)
    assert data["qr"].startswith("<svg")
    assert "without its prose" in data["qr_words"]
    long = recipe.model_copy(
        update={"curve": tuple(Patch(log_exposure=i / 1000, density=2 + (i * 7919 % 1000) / 1003) for i in range(1500))}
    )
    data = sheet_data(house.sink.plan_of(long, {"tank_ml": 500}), long, recipe_text(long), "a4", None)
    assert "" == data["qr"]
    assert "sha256" in data["qr_words"]


def test_a_paper_nobody_has_is_refused(house):
    with pytest.raises(InputError, match="papyrus"):
        process_sheet_pdf(house.sink.plan_of(routes()["iron_ammonia_light"], {"tank_ml": 500}), paper="papyrus")


def test_the_command_writes_the_sheet(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    out = tmp_path / "evening.pdf"
    assert 0 == run(["sheet", "permanganate_light", "--out", str(out), "--paper", "us-letter"])
    assert out.read_bytes().startswith(b"%PDF")
    assert 2 == run(["sheet", "nothing", "--out", str(out), "--force"])
    assert 2 == run(["sheet", "permanganate_light", "--out", str(tmp_path / "no" / "e.pdf")])
    assert 2 == run(["sheet", "permanganate_light", "--out", str(out), "--force", "--temperature-c", "40"])


def test_a_caution_that_most_baths_share_is_told_once_for_the_whole_evening(house):
    plan = house.sink.plan_of(routes()["iron_ammonia_light"], {"tank_ml": 500})
    data = sheet_data(plan, None, "", "a4", None)
    told = data["throughout"] + [text for row in data["film"] for text in row["cautions"]]
    said = {text for action in plan.actions if action.kind in ("bath", "wash", "reexpose") for text in action.cautions}
    assert said <= set(told), "no caution is lost"
    assert all(told.count(text) == 1 for text in data["throughout"])
    assert any("Goggles" in text for text in data["throughout"])


@pytest.fixture(scope="module")
def second_house(tmp_path_factory):
    """Where other bottles stand."""
    found = open_workbench(tmp_path_factory.mktemp("second"), url="sqlite://")
    for name, form, content, strength in (
        ("plain hypo", "solid", "sodium_thiosulfate_pentahydrate", "99 % w/w"),
        ("strong ammonia water", "liquid", "ammonia", "25 % w/w"),
        ("etching solution", "liquid", "iron_iii_chloride", "38 % w/w"),
    ):
        contents = [{"substance": content, "strength": strength}]
        found.shelf.add_product({"name": name, "form": form, "contents": contents})
    found.shelf.add_product({"name": "print developer", "form": "liquid", "roles": ["paper_developer"]})
    yield found
    found.close()


# Amounts beyond what anything at a bench is measured to, and what one slip of a template doubles.
SLIPS = re.compile(r"\d+\.\d{3,} (?:mL|g|L)\b|\b(\w{3,}) \1\b|\b1 (?:films|turns|tanks)\b", re.I)


@pytest.mark.parametrize("of", [*routes(), WAY["name"], *(v["name"] for v in VARIANTS.values())])
def test_the_sheet_says_of_every_bath_what_the_plan_says(house, second_house, of):
    """One plan stands behind both: no addition is lost, no bath is without a name, and bottles are those of the bench."""
    own = {way["name"]: way for way in (WAY, *VARIANTS.values())}
    process = routes().get(of) or house.processes.from_document(own[of])
    for bench in (house, second_house):
        plan = bench.sink.plan_of(process, {})
        data = sheet_data(plan, None, "", "a4", None)
        rows = [*data["before"][0], *data["before"][1], *data["film"], *data["after"]]
        written = " ".join(f"{row['name']} {row['do']}" for row in rows)
        assert {bath.formula for bath in plan.baths} == {step.formula for step in process.steps if step.formula}
        for bath in plan.baths:
            for portion in bath.portions:
                assert f"{portion.unit} {portion.name}" in written, (of, bath.name)
            assert bath_words(bath).rstrip(".")[8:] in written
        assert not (found := SLIPS.search(written)), found
        ready = [line.what for group in ready_groups(plan) for line in group.lines]
        assert not any(SLIPS.search(line) for line in ready)
    first = next(bath for bath in plan.baths if bath.formula == process.first_development.formula)
    if "household ammonia" in first.said:
        names = [portion.name for portion in first.portions]
        assert "strong ammonia water" in names and all(portion.amount > 0 for portion in first.portions)
        assert not any("household ammonia" in name for name in names)


def test_tank_and_temperature_are_those_of_the_process_until_somebody_says_otherwise(house):
    warm = {**WAY["steps"][0], "temperature": "30 C"}
    process = house.processes.from_document({**WAY, "steps": [warm, *WAY["steps"][1:]]})
    plan = house.sink.plan_of(process, {})
    assert (plan.tank_ml, plan.temperature_c, plan.action("first_developer").duration_s) == (600, 30, 660)
    cool = house.sink.plan_of(process, {"tank_ml": 300, "temperature_c": 22})
    assert (cool.tank_ml, cool.temperature_c) == (300, 22)
    assert "temperature.window" in {caution.code for caution in cool.cautions}
    peroxide = house.sink.plan_of(house.processes.from_document(VARIANTS["peroxide"]), {})
    assert peroxide.action("peroxide_and_vinegar").temperature_c == 35 and peroxide.temperature_c == 20
    # The basin of the evening warms no bleach of 35 C; and a powder is stirred into what its step says, not into the tank's volume.
    assert "A second, warmer basin for Peroxide and vinegar (35 C)" in do_words(peroxide.action("prewarm"))
    assert "warmer basin" not in do_words(plan.action("prewarm"))
    powder = next(bath for bath in peroxide.baths if bath.name == "Fogging developer")
    assert powder.volume_ml == 350 and sum(portion.amount for portion in powder.portions) < 12


def test_a_part_that_was_not_read_is_told_at_its_step_in_the_plan(house):
    fix = {
        "does": "fix",
        "bath": "100 mL rapid fixer concentrate + 2 mL unknown drops, water to 500 mL",
        "time": "5 min",
        "after": "back to its jug",
    }
    process = house.processes.from_document({"name": "Unread", "tank_ml": 500, "steps": [WAY["steps"][0], fix]})
    told = {caution.code: caution for caution in house.sink.plan_of(process, {}).cautions if caution.where == "fixing"}
    assert {"pair.unread", "bath.unread"} <= set(told) and "down to none" in told["bath.unread"].text
