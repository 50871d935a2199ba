"""A person finds a film that another darkroom lent, looks, takes it in and starts from it, on a phone; names stay words."""

from __future__ import annotations

import pytest

from obverse.model import demo_film, simulate_series
from obverse.workbench.bootstrap import open_workbench

from .conftest import LAPTOP, PHONE, House, overflow
from .test_every_page import TARGET_PX, TOO_SMALL

RECIPES = [
    {"first_developer_time_min": t, "solvent_ml_per_l": s, "alkali_ml_per_l": a} for t, s, a in ((8, 4, 4), (12, 8, 8))
]
EVIL = '<script>document.title="taken over"</script>'


@pytest.fixture(scope="module")
def south(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pool")
    north = open_workbench(folder / "north")
    north.pool.call(EVIL)
    film = north.notebook.import_series(simulate_series(demo_film(), RECIPES, seed=2).model_dump(mode="json")).id
    (folder / "lent.json").write_text(north.pool.lend([film]).model_dump_json())
    north.close()
    running = House(folder / "south", "serve").start()
    running.lent = folder / "lent.json"
    yield running
    running.stop()


def test_from_a_document_to_the_first_strip(south, page_at, axe, picture_of):
    page = page_at(PHONE)

    def fit_for_fingers(name: str) -> None:
        assert overflow(page) <= 0, name
        assert page.evaluate(TOO_SMALL, TARGET_PX) == [], name
        assert page.title() != "taken over"
        axe(page)
        picture_of(page, name)

    page.goto(south.url + "/notebook")
    page.get_by_role("link", name="The pool").click()
    page.get_by_role("button", name="Look at them first").wait_for()
    fit_for_fingers("pool-empty")
    page.get_by_label("Documents").set_input_files(south.lent)
    page.get_by_role("button", name="Look at them first").click()
    page.get_by_text("2 new.").wait_for()
    fit_for_fingers("pool-given")
    page.get_by_role("button", name="Take it in").click()
    page.get_by_text(f"from {EVIL}").wait_for()
    fit_for_fingers("pool")
    page.locator(".film-card").click()
    page.get_by_role("button", name="Start from these").wait_for()
    assert page.locator(".their-curve").count() == 3
    fit_for_fingers("pool-film")
    page.get_by_role("button", name="Start from these").click()
    page.wait_for_url("**/notebook/*")
    page.get_by_text("2 strips of this film from other darkrooms").first.wait_for()

    page.goto(south.url + "/people")
    page.get_by_label("Another name").fill("Ada")
    page.get_by_role("button", name="Add").click()
    page.get_by_role("button", name="Ada", exact=True).click()
    page.get_by_text("This device belongs to Ada.").wait_for()
    fit_for_fingers("people")
    page.goto(south.url + "/sink/all")
    fit_for_fingers("all-evenings")
    page.set_viewport_size({"width": LAPTOP, "height": 860})
    assert overflow(page) <= 0
