"""The pool by files: two homes lend each other films, correct, withdraw and dispute; hostile documents are bounded."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from obverse.cli.main import run
from obverse.clock import FixedClock
from obverse.foundation import ConflictError, InputError, read_document
from obverse.pool import PoolDocument, counted_here, seal_of, sealed
from obverse.pool.document import ALKALI_G_PER_ML, MOST_STRIPS
from obverse.workbench.bootstrap import Workbench, open_workbench
from obverse.workbench.pool import call_the_same, start_from
from obverse.workbench.pool_sources import INDEX, MOST_BYTES, index_of, read_pool

pytestmark = pytest.mark.usefixtures("few_draws")

FILM = {"name": "a 100-speed grey-base film", "box_speed": 100, "base_density": 0.3}
CONTROLS = {"first_developer_time_min": 10.0, "solvent_ml_per_l": 4.0, "alkali_ml_per_l": 8.0}
SECRET = "do not tell"


def steps(density: float) -> list[dict[str, float]]:
    return [{"log_exposure": x, "density": density - x / 2} for x in (-1.0, -0.5, 0.0, 0.5, 1.0)]


class Home:
    """A darkroom with a clock of its own."""

    def __init__(self, folder: Path, name: str):
        folder.mkdir()
        self.clock = FixedClock(datetime(2031, 5, 1, 20, tzinfo=UTC))
        self.bench: Workbench = open_workbench(folder, url="sqlite://", clock=self.clock)
        self.pool, self.notebook = self.bench.pool, self.bench.notebook
        self.pool.call(name)

    def film(self, **more: object) -> str:
        return self.notebook.add_film({**FILM, **more}).id

    def strip(self, film: str, density: float, **more: object) -> str:
        self.clock.advance(3600)
        trial = {"controls": CONTROLS, "steps": steps(density), "person": "Ada", "note": SECRET, **more}
        return self.notebook.add_trial(film, trial).id

    def lend(self, *films: str, **more: bool) -> PoolDocument:
        return self.pool.lend(films, **more)

    def told(self, document: PoolDocument) -> list[str]:
        return [film.sentence for film in self.pool.take(document)]


@pytest.fixture
def homes(tmp_path: Path):
    both = Home(tmp_path / "north", "Northtown"), Home(tmp_path / "south", "Southtown")
    yield both
    for home in both:
        home.bench.close()


def again(document: PoolDocument) -> PoolDocument:
    """As it is after a way through a file."""
    return read_document(PoolDocument, json.loads(json.dumps(document.model_dump(mode="json"))))


def holds_what_was_promised(home: Home, document: PoolDocument) -> None:
    """What stands there of that darkroom is what it lent, byte for byte, and what it took back is gone."""
    (page,) = (one.thing for one in home.pool.pages() if one.thing.darkroom.id == document.darkroom.id)
    (film,) = document.films
    promised = {strip.id: strip.model_dump_json() for strip in film.strips}
    assert {strip.id: strip.model_dump_json() for strip in page.strips} == promised
    assert (page.film, page.counted_in, page.darkroom) == (film.film, document.counted_in, document.darkroom)
    assert page.withdrawn == document.withdrawn and not set(page.withdrawn) & set(promised)


HEAD = "a 100-speed grey-base film, 100, from Northtown: "


def test_twice_in_both_directions_with_growth_correction_withdrawal_and_dispute(homes):
    north, south = homes
    here, there = north.film(), south.film(name="A 100-Speed Grey-Base Film!")
    first, second = north.strip(here, 1.5), north.strip(here, 1.2)
    south.strip(there, 1.4)

    lent = again(north.lend(here))
    assert [film.sentence for film in south.pool.look(lent)] == [HEAD + "2 new."]
    assert south.pool.pages() == []
    assert south.told(lent) == [HEAD + "2 new."]
    assert south.told(lent) == [HEAD + "2 known and not counted twice."]
    assert south.pool.pages()[0].revision == 1

    # Growth and a correction.
    north.strip(here, 1.0)
    north.notebook.change_trial(first, {"steps": steps(1.55)})
    grown = again(north.lend(here))
    assert south.told(grown) == [HEAD + "1 new, 1 corrected, 1 known and not counted twice."]
    holds_what_was_promised(south, grown)
    # The older document once more takes nothing back.
    assert south.told(lent) == [HEAD + "2 known and not counted twice."]
    holds_what_was_promised(south, grown)

    # The other way; what came from there is not passed on as one's own.
    back = again(south.lend(there))
    assert [len(film.strips) for film in back.films] == [1]
    assert [f.sentence for f in north.pool.take(back)] == ["A 100-Speed Grey-Base Film!, 100, from Southtown: 1 new."]
    holds_what_was_promised(north, back)
    own = south.strip(there, 1.3)
    south.notebook.change_trial(own, {"note": "", "steps": steps(1.35)})
    second_back = again(south.lend(there))
    assert north.told(second_back)[0].endswith("from Southtown: 1 new, 1 known and not counted twice.")
    holds_what_was_promised(north, second_back)

    # A withdrawal.
    north.pool.take_back(here, [north.notebook.trial(second).thing.trial.id])
    assert south.told(again(north.lend(here))) == [HEAD + "2 known and not counted twice, 1 taken back."]
    assert south.told(grown) == [HEAD + "2 known and not counted twice."]
    holds_what_was_promised(south, again(north.lend(here)))

    # A dispute: one revision that says two things, both kept, neither counted until it is decided.
    strip = grown.films[0].strips[0]
    other = strip.model_copy(update={"trial": strip.trial.model_copy(update={"note": "another word"})})
    doubled = grown.model_copy(
        update={"films": (grown.films[0].model_copy(update={"strips": (other,)}),), "signature": ""}
    )
    doubled = doubled.model_copy(update={"darkroom": doubled.darkroom.model_copy(update={"public_key": ""})})
    assert "not sealed by the key" in south.told(doubled)[0]
    (given,) = south.pool.take(doubled, even_so=True)
    assert given.sentence == HEAD + "1 disputed (both are kept and neither counts until you decide)."
    page = south.pool.pages()[0]
    assert len(page.thing.strips) == 2 and len(page.thing.counting) == 1
    assert page.thing.darkroom.public_key == lent.darkroom.public_key
    with pytest.raises(ConflictError):
        south.pool.decide(page.id, strip.id, take_other=True, expected_revision=page.revision - 1)
    south.pool.decide(page.id, strip.id, take_other=True, expected_revision=page.revision)
    settled = south.pool.pages()[0].thing
    assert not settled.disputed and "another word" in {one.trial.note for one in settled.strips}


def test_what_is_lent_teaches_and_stands_apart(homes):
    north, south = homes
    here, there = north.film(), south.film()
    for density in (1.5, 1.3):
        north.strip(here, density)
    south.pool.take(again(north.lend(here)))
    (darkroom,) = south.notebook.lent(there)
    assert darkroom.name == "Northtown" and len(darkroom.trials) == 2
    assert south.notebook.trials(there) == []
    answer = south.notebook.next_strips(there)
    assert "2 strips of this film from other darkrooms" in answer.message
    south.pool.put_aside(south.pool.pages()[0].id)
    assert south.notebook.lent(there) == []
    assert "films in general" in south.notebook.next_strips(there).message


def test_no_shelf_no_run_no_person_unless_asked(homes):
    north, _ = homes
    here = north.film(note=SECRET)
    north.strip(here, 1.5)
    text = north.lend(here).model_dump_json()
    assert SECRET not in text and "Ada" not in text
    assert "Ada" in north.lend(here, persons=True).model_dump_json()


def test_ones_own_strips_that_come_back_are_known(homes):
    north, _ = homes
    here = north.film()
    north.strip(here, 1.5)
    (given,) = north.pool.take(again(north.lend(here)))
    assert given.sentence.endswith("these are your own strips; nothing to take.") and not given.changes
    assert north.pool.pages() == []


def test_controls_count_by_what_was_in_the_senders_bottle(homes):
    north, south = homes
    here, there = north.film(), south.film()
    north.strip(here, 1.5)
    document = north.lend(here)
    strong = document.counted_in.model_copy(update={"alkali_g_per_ml": 5 * ALKALI_G_PER_ML})
    south.pool.take(document.model_copy(update={"counted_in": strong, "signature": ""}), even_so=True)
    trial = south.notebook.lent(there)[0].trials[0]
    assert trial.controls["alkali_ml_per_l"] == pytest.approx(40.0)
    assert trial.controls["solvent_ml_per_l"] == pytest.approx(4.0)
    assert trial.controls["first_developer_time_min"] == 10.0
    assert counted_here(trial, document.counted_in) is trial


def test_a_seal_tells_what_was_changed_since(homes):
    north, south = homes
    here = north.film()
    north.strip(here, 1.5)
    document = north.lend(here)
    assert seal_of(document) == "whole" and seal_of(again(document)) == "whole"
    patches = document.films[0].strips[0].trial.steps
    lie = (patches[0].model_copy(update={"density": 3.0}), *patches[1:])
    strip = document.films[0].strips[0]
    changed = strip.model_copy(update={"trial": strip.trial.model_copy(update={"steps": lie})})
    forged = document.model_copy(update={"films": (document.films[0].model_copy(update={"strips": (changed,)}),)})
    assert seal_of(forged) == "changed"
    assert "changed since it was sealed" in south.told(forged)[0]
    assert south.pool.pages() == []
    assert "1 new" in south.pool.take(forged, even_so=True)[0].sentence
    assert south.pool.pages()[0].thing.seal == "none"
    assert seal_of(document.model_copy(update={"signature": ""})) == "changed"
    bare = document.model_copy(
        update={"signature": "", "darkroom": document.darkroom.model_copy(update={"public_key": ""})}
    )
    assert seal_of(bare) == "none"


def test_another_key_under_a_known_darkroom_is_asked_about(homes):
    north, south = homes
    here = north.film()
    north.strip(here, 1.5)
    south.pool.take(north.lend(here))
    north.strip(here, 1.1)
    stranger = sealed(north.lend(here), b"x" * 32)
    assert seal_of(stranger) == "whole"
    assert "not sealed by the key that this darkroom had before" in south.told(stranger)[0]


def test_a_film_under_another_name_counts_once_it_is_confirmed(homes):
    north, south = homes
    here = north.film(name="the old stock")
    north.strip(here, 1.5)
    there = south.film()
    south.pool.take(north.lend(here))
    page = south.pool.pages()[0]
    assert south.notebook.lent(there) == []
    call_the_same(south.pool, south.notebook, page.id, there)
    call_the_same(south.pool, south.notebook, page.id, there)
    assert south.notebook.film(there).thing.same_as == ("the old stock",)
    assert len(south.notebook.lent(there)) == 1
    slow = south.notebook.add_film({"name": "slow", "box_speed": 25}).id
    with pytest.raises(InputError, match="speed 25 and the old stock of 100"):
        call_the_same(south.pool, south.notebook, page.id, slow)
    # Two that are called the same as each other, round about, count their own strips.
    a, b = south.film(name="round", same_as=["about"]), south.film(name="about", same_as=["round"])
    south.strip(a, 1.4)
    assert [len(south.notebook.trials(film)) for film in (a, b)] == [1, 0]
    assert south.notebook.lent(a) == south.notebook.lent(b) == []


def test_one_starts_from_what_others_know(homes):
    north, south = homes
    here = north.film()
    north.strip(here, 1.5)
    south.pool.take(north.lend(here))
    page = south.pool.pages()[0]
    film = start_from(south.pool, south.notebook, page.id)
    assert start_from(south.pool, south.notebook, page.id) == film
    assert len(south.notebook.lent(film)) == 1 and south.notebook.trials(film) == []


@pytest.mark.parametrize(
    ("text", "speed", "base", "found"),
    [
        ("", None, None, True),
        ("GREY northtown", None, None, True),
        ("grey southtown", None, None, False),
        ("", 125, None, True),
        ("", 160, None, False),
        ("", None, 0.26, True),
        ("", None, 0.2, False),
    ],
)
def test_the_pool_is_searched_by_words_speed_and_base(homes, text, speed, base, found):
    north, south = homes
    here = north.film()
    north.strip(here, 1.5)
    south.pool.take(north.lend(here))
    assert bool(south.pool.search(text, box_speed=speed, base_density=base)) is found


def test_an_exported_home_brings_its_pool(homes, tmp_path):
    north, south = homes
    here = north.film()
    north.strip(here, 1.5)
    south.pool.take(north.lend(here))
    third = open_workbench(tmp_path / "third", url="sqlite://", clock=south.clock)
    third.take_in(south.bench.export(), mine=("all",))
    assert [kept.thing.town for kept in third.pool.pages()] == ["Northtown"]
    third.close()


# Hostile documents


def spoilt(document: PoolDocument, **changes: object) -> bytes:
    return json.dumps({**document.model_dump(mode="json"), **changes}).encode()


def test_a_hostile_folder_is_read_to_its_end_and_every_evil_named(homes, tmp_path):
    north, _ = homes
    here = north.film()
    north.strip(here, 1.5)
    good = north.lend(here)
    folder = tmp_path / "pool"
    (folder / "deep").mkdir(parents=True)
    (folder / "circle").symlink_to(folder, target_is_directory=True)
    (folder / "link.json").symlink_to(folder / "good.json")
    (folder / "deep" / "good.json").write_text(good.model_dump_json())
    (folder / "nested.json").write_text("[" * 100_000)
    (folder / "nan.json").write_text('{"format": NaN}')
    (folder / "half.json").write_bytes(good.model_dump_json().encode()[:200])
    (folder / "binary.json").write_bytes(bytes(range(256)))
    (folder / "other.json").write_text('{"format": "obverse-recipe"}')
    with (folder / "huge.json").open("wb") as out:
        out.truncate(MOST_BYTES + 1)
    (folder / "many.json").write_text('{"films": [' + ",".join(["{}"] * 200_000) + "]}")
    (folder / "name.json").write_bytes(spoilt(good, darkroom={"id": "a1", "name": "a\u202eb"}))
    (folder / "traversal.json").write_bytes(spoilt(good, darkroom={"id": "../../x"}))
    (folder / "lies.json").write_bytes(spoilt(good, withdrawn=["zz"]))
    lent = good.model_dump(mode="json")["films"][0]
    crowd = [{**lent["strips"][0], "id": f"{k:032x}"} for k in range(MOST_STRIPS + 1)]
    (folder / "twice.json").write_bytes(spoilt(good, films=[{**lent, "strips": lent["strips"] * 2}]))
    (folder / "crowd.json").write_bytes(spoilt(good, films=[{**lent, "strips": crowd}]))
    found = {source.where: source for source in read_pool(str(folder))}
    assert {where for where, source in found.items() if source.document} == {"deep/good.json"}
    assert set(found) == {
        "deep/good.json",
        *(
            f"{n}.json"
            for n in [
                "nested",
                "nan",
                "half",
                "binary",
                "other",
                "huge",
                "many",
                "name",
                "traversal",
                "lies",
                "twice",
                "crowd",
            ]
        ),
    }
    # A million wrong things are not even counted to the end.
    assert "more than" in found["many.json"].sentence
    assert "at most 2000" in found["crowd.json"].sentence and "stands twice" in found["twice.json"].sentence
    for source in found.values():
        if source.document is None:
            assert source.sentence.endswith(".") and "\n" not in source.sentence


def test_nobody_takes_back_or_corrects_for_another(homes, tmp_path):
    north, south = homes
    here = north.film()
    north.strip(here, 1.5)
    lent = again(north.lend(here))
    south.pool.take(lent)
    # A stranger says that these strips are taken back, and brings the same strip in a newer revision.
    lie = lent.films[0].strips[0].model_copy(update={"revision": 9, "trial": lent.films[0].strips[0].trial})
    film = lent.films[0].model_copy(update={"strips": (lie,)})
    stranger = lent.model_copy(
        update={"darkroom": lent.darkroom.model_copy(update={"id": "stranger", "name": "Nowhere"}), "films": (film,)}
    )
    south.pool.take(again(sealed(stranger, b"s" * 32)))
    ids = tuple(strip.id for strip in lent.films[0].strips)
    south.pool.take(again(sealed(stranger.model_copy(update={"films": (), "withdrawn": ids}), b"s" * 32)))
    holds_what_was_promised(south, lent)
    (darkroom,) = south.notebook.lent(south.film())
    assert (darkroom.name, len(darkroom.trials)) == ("Northtown", 1)


def test_an_address_is_read_by_its_index_and_leads_nowhere_else(homes, tmp_path):
    from functools import partial
    from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
    from threading import Thread

    class Quiet(SimpleHTTPRequestHandler):
        def log_message(self, *_: object) -> None:
            pass

    north, _ = homes
    here = north.film()
    north.strip(here, 1.5)
    folder = tmp_path / "web"
    folder.mkdir()
    (folder / "north.json").write_text(north.lend(here).model_dump_json())
    (folder / INDEX).write_bytes(index_of(folder))
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(tmp_path)))
    Thread(target=server.serve_forever, daemon=True).start()
    try:
        address = f"http://127.0.0.1:{server.server_port}/web/"
        assert [bool(source.document) for source in read_pool(address)] == [True]
        assert [bool(source.document) for source in read_pool(address + "north.json")] == [True]
        (missing,) = read_pool(address + "none.json")
        assert "could not be fetched" in missing.sentence
        (folder / INDEX).write_text(
            json.dumps(
                {"format": "obverse-pool-index", "files": ["../x.json", "file:///etc/passwd", "//b.example/y.json"]}
            )
        )
        assert [source.document for source in read_pool(address)] == [None] * 3
        assert all("does not lie in that folder" in source.sentence for source in read_pool(address))
    finally:
        server.shutdown()
        server.server_close()
    with pytest.raises(InputError, match="only http and https"):
        list(read_pool("file:///etc/"))
    with pytest.raises(InputError, match="no such file or folder"):
        list(read_pool(str(tmp_path / "nowhere")))


# The command


def test_the_command_lends_and_borrows(tmp_path, monkeypatch, capsys):
    north, south = tmp_path / "n", tmp_path / "s"
    monkeypatch.setenv("OBVERSE_HOME", str(north))
    bench = open_workbench(north)
    film = bench.notebook.add_film(FILM)
    bench.notebook.add_trial(film.id, {"controls": CONTROLS, "steps": steps(1.5)})
    bench.close()
    folder = tmp_path / "pool"
    folder.mkdir()
    assert run(["pool", "name", "Northtown"]) == 0
    assert run(["pool", "export", FILM["name"], "--out", str(folder / "north.json"), "--index"]) == 0
    assert "lends 1 strip of 1 film" in capsys.readouterr().err
    assert json.loads((folder / INDEX).read_text())["files"] == ["north.json"]
    monkeypatch.setenv("OBVERSE_HOME", str(south))
    assert run(["pool", "add", str(folder)]) == 0
    assert capsys.readouterr().out == HEAD + "1 new.\nNothing was written; add --yes to take it in.\n"
    assert run(["pool", "list"]) == 0
    assert "No film of another darkroom is here yet" in capsys.readouterr().out
    assert run(["pool", "add", str(folder), "--yes", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["films"][0]["taken"] is True
    assert run(["pool", "search", "grey", "--speed", "100"]) == 0
    assert capsys.readouterr().out == "a 100-speed grey-base film, 100: 1 strip of Northtown\n"
    monkeypatch.setenv("OBVERSE_HOME", str(north))
    assert run(["pool", "withdraw", FILM["name"]]) == 0
    assert capsys.readouterr().out.startswith("1 strip taken back")
    assert run(["pool", "withdraw", FILM["name"], "strip 9"]) == 2
    assert run(["pool", "export", FILM["name"], "--out", str(folder / "north.json"), "--force"]) == 0
    monkeypatch.setenv("OBVERSE_HOME", str(south))
    capsys.readouterr()
    assert run(["pool", "add", str(folder), "--yes"]) == 0
    assert capsys.readouterr().out == HEAD + "1 taken back.\n"
