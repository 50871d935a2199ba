"""What a person writes stays text, wherever it is shown."""

import json
import os

import pytest

from obverse.process import FilmStock

from .forked import run_to_its_end

MARKUP = '"><img src=x onerror="window.broken=1"><b>film</b> & co'


@pytest.fixture(scope="module")
def filled(house):
    revision = {"revision": 1, "changed_at": "2031-11-05T19:00:00Z"}
    trial = {
        "film": "f",
        "trial": {
            "id": MARKUP[:100],
            "controls": {"first_developer_time_min": 10, "solvent_ml_per_l": 10, "alkali_ml_per_l": 5},
            "steps": [{"log_exposure": -1.5 + 0.3 * n, "density": 2.5 - 0.2 * n} for n in range(11)],
            "note": MARKUP,
        },
        **dict.fromkeys(("run", "picture", "reading", "recipe"), ""),
        "made_at": "2031-11-05T19:00:00Z",
    }
    product = {
        "key": "p",
        "name": MARKUP,
        "form": "solid",
        "contents": [{"substance": "ascorbic_acid", "strength": "99 % w/w"}],
    }
    film = FilmStock(name=MARKUP, box_speed=100, note=MARKUP).model_dump(mode="json")
    bodies = [("film", "f", film), ("trial", "t", trial), ("product", "p", product)]
    things = [
        {"kind": kind, "id": id, "created_at": revision["changed_at"], "revisions": [{**revision, "body": body}]}
        for kind, id, body in bodies
    ]
    document = {"format": "obverse-notebook", "version": 1, "things": things}
    (file := house.home / "told.json").write_text(json.dumps(document))
    code, words = run_to_its_end(["import", str(file)], {**os.environ, "OBVERSE_HOME": str(house.home)})
    assert code == 0, words
    return house


def test_markup_stays_text(filled, page_at):
    page = page_at(1280)
    for path in ("/", "/notebook", "/notebook/f", "/shelf", "/light-table", "/sink", "/bench/formula", "/projector"):
        page.goto(filled.url + path, wait_until="networkidle")
        if path == "/notebook/f":
            page.wait_for_function("() => !document.getElementById('message').textContent.startsWith('Looking')")
        assert page.evaluate("window.broken") is None, path
        assert page.locator("img[src=x]").count() == 0, path


def test_a_name_of_one_long_word_leaves_the_page_as_wide_as_its_window(filled, page_at):
    page = page_at(390)
    page.goto(filled.url + "/notebook")
    for tag in ("h1", "h3", "strong", "p", "a"):
        wide = page.evaluate(
            """tag => {
              const one = document.createElement(tag); one.textContent = "W".repeat(300);
              document.querySelector("main").append(one);
              const root = document.documentElement; const wide = root.scrollWidth - root.clientWidth;
              one.remove(); return wide; }""",
            tag,
        )
        assert wide == 0, tag
