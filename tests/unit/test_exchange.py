"""A whole notebook from elsewhere is checked by the nouns before any of it is kept."""

import copy

import pytest

from obverse.clock import SystemClock
from obverse.foundation import InputError
from obverse.process.catalog import products
from obverse.store import open_store
from obverse.workbench.bootstrap import Workbench
from obverse.workbench.exchange import take_in_notebook


@pytest.fixture(params=[("memory", "memory"), ("memory", "postgresql"), ("postgresql", "memory")], ids=" to ".join)
def stores(request, tmp_path):
    clock = SystemClock()
    urls = [
        "sqlite://" if kind == "memory" else request.getfixturevalue("postgresql").notebook() for kind in request.param
    ]
    both = [open_store(url, now=clock.now) for url in urls]
    yield both
    for store in both:
        store.close()


@pytest.fixture
def exported(stores, tmp_path):
    store = stores[0]
    notebook = Workbench(store, SystemClock(), tmp_path).notebook
    film = notebook.add_film({"name": "a 100-speed grey-base film", "box_speed": 100})
    notebook.add_trial(
        film if isinstance(film, str) else film.id, {"controls": {"first_developer_time_min": 10}, "steps": []}
    )
    store.put("product", products()["household_ammonia_5"].model_dump(mode="json"), id="household_ammonia_5")
    return store.export()


def thing(document, kind):
    return next(one for one in document["things"] if one["kind"] == kind)


def test_what_was_exported_is_taken_in_whole_and_unchanged(stores, exported):
    take_in_notebook(stores[1], copy.deepcopy(exported))
    assert exported["things"] == stores[1].export()["things"]


def test_a_default_that_a_hand_left_out_is_written_in(stores, exported):
    del thing(exported, "film")["revisions"][0]["body"]["base_density"]
    take_in_notebook(stores[1], exported)
    assert None is stores[1].list("film")[0].body["base_density"]


@pytest.mark.parametrize(
    ("kind", "change", "part"),
    [
        ("film", {"box_speed": -3}, "box_speed"),
        ("film", {"colour": "red"}, "colour"),
        ("product", {"contents": [{"strength": "60 %"}]}, "substance"),
        ("trial", {"trial": {"id": "a", "controls": {"magic": 1}}}, "magic"),
        ("trial", {"film": None}, "film"),
    ],
)
def test_a_thing_that_is_not_what_its_kind_says_stops_the_import_whole(stores, exported, kind, change, part):
    thing(exported, kind)["revisions"][0]["body"].update(change)
    with pytest.raises(InputError, match=part) as caught:
        take_in_notebook(stores[1], exported)
    assert f"import, {kind}" in caught.value.sentence
    assert [] == stores[1].export()["things"]
