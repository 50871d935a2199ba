"""The whole notebook as a book: what stands in it, whatever a person wrote, from the page and from the command."""

import re
from datetime import date

import pytest
from fastapi.testclient import TestClient
from typer.testing import CliRunner

from obverse.cli.main import build
from obverse.foundation import InputError
from obverse.process import AIMS, FilmStock, Recipe
from obverse.process.catalog import formulas, routes
from obverse.sheets.book import book_data, book_pdf
from obverse.sheets.process_sheet import pages_of
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench

DAY = date(2030, 5, 1)
HOSTILE = '#read("/etc/passwd") $x^ *a* <b> "q" \\ // \N{GREEK SMALL LETTER OMEGA}'


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    folder = tmp_path_factory.mktemp("home")
    bench = open_workbench(folder)
    film = bench.notebook.add_film({"name": HOSTILE, "box_speed": 100, "base_density": 0.2})
    steps = [{"log_exposure": x, "density": d} for x, d in ((1, 0.2), (-1, 2.2), (0, 1.2))]
    bench.notebook.add_trial(film.id, {"controls": {"first_developer_time_min": 9}, "steps": steps, "note": HOSTILE})
    bench.notebook.add_trial(film.id, {"grades": [{"of": "highlights", "grade": "slightly_murky"}]})
    bench.notebook.add_trial(film.id, {})
    aside = bench.notebook.add_film({"name": "put aside", "box_speed": 400})
    bench.notebook.retire_film(aside.id)
    route = routes()["permanganate_light"]
    needed = dict.fromkeys(step.formula for step in route.steps if step.formula)
    bench.notebook.keep_recipe(
        Recipe(
            name="For the wall",
            film=FilmStock(name=HOSTILE, box_speed=100),
            controls={"first_developer_time_min": 9.5},
            route=route,
            formulas=tuple(formulas()[key] for key in needed),
            aim=AIMS["projection"],
        )
    )
    bench.close()
    return folder


@pytest.fixture(scope="module")
def held(home):
    bench = open_workbench(home)
    yield bench.notebook.every_series(), [kept.thing for kept in bench.recipes.all()]
    bench.close()


def test_it_holds_what_is_in_use_and_counts_it(held):
    data = book_data(*held, "a4", DAY)
    assert "1 film, 3 strips, 1 recipe" == data["holds"]
    assert [HOSTILE] == [film["name"] for film in data["films"]]


def test_a_strip_is_shown_by_its_greys_and_curve_or_by_words(held):
    read, judged, bare = book_data(*held, "a4", DAY)["films"][0]["strips"]
    # From the least exposure on, dark to clear: the base is white.
    assert read["greys"] == sorted(read["greys"]) and 100.0 == read["greys"][-1]
    points = re.search(r'points="([^"]+)"', read["curve"])[1].split()
    # Two densities above base of three lie a third of the height below the top, one exposure each side of the middle.
    assert ["54.5,33.3", "100.0,66.7", "145.5,100.0"] == points
    assert ("highlights slightly murky", "", []) == (judged["said"], judged["curve"], judged["greys"])
    assert ("", "", []) == (bare["said"], bare["curve"], bare["greys"])


def test_a_recipe_has_its_warnings_baths_and_the_time_it_was_locked_with(held):
    (recipe,) = book_data(*held, "a4", DAY)["recipes"]
    assert list(routes()["permanganate_light"].warnings) == recipe["warnings"] and recipe["warnings"]
    assert any("potassium permanganate" in what and "g/L" in amount for what, amount in recipe["baths"])
    assert recipe["steps"][0][1].startswith("9.5 min")


def test_an_empty_notebook_and_an_unknown_paper():
    assert 1 == pages_of(book_pdf([], []))
    with pytest.raises(InputError, match="us-letter"):
        book_pdf([], [], paper="a3")


def test_the_page_and_the_command_print_it(home, tmp_path):
    bench = open_workbench(home)
    with TestClient(create_app(bench, hosts=("testserver",), token="t")) as client:
        assert "/notebook/book.pdf" in client.get("/notebook").text
        answer = client.get("/notebook/book.pdf")
    bench.close()
    out = tmp_path / "book.pdf"
    given = ["book", "--home", str(home), "--out", str(out)]
    told = CliRunner().invoke(build(), given)
    assert 0 == told.exit_code and str(out) in told.output
    # A title, what it holds, the films, the recipe.
    assert 4 == pages_of(out.read_bytes()) == pages_of(answer.content)
    assert 0 != CliRunner().invoke(build(), given).exit_code
