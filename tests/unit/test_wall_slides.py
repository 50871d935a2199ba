"""Slides, lists, card and wall through the workbench, the web and the terminal."""

import base64
import json

import numpy as np
import pytest

from obverse.cli.main import run
from obverse.foundation import ConflictError, InputError, NotFoundError
from obverse.sheets.show_list import mount_labels_data, mount_words
from obverse.web.projector import Lamp
from obverse.workbench.preview import Screen
from obverse.workbench.slides import moved

SERIES_STEPS = [
    {"log_exposure": round(-1.8 + 0.15 * i, 2), "density": d}
    for i, d in enumerate(
        [
            2.5,
            2.5,
            2.48,
            2.45,
            2.4,
            2.3,
            2.15,
            1.98,
            1.78,
            1.56,
            1.33,
            1.1,
            0.88,
            0.68,
            0.52,
            0.4,
            0.31,
            0.25,
            0.21,
            0.19,
            0.18,
        ]
    )
]


@pytest.fixture
def film(workbench):
    kept = workbench.notebook.add_film(
        {"name": "a grey film", "box_speed": 100, "base_density": 0.15, "base_tint": "grey"}
    )
    trial = workbench.notebook.add_trial(
        kept.id, {"id": "strip 1", "controls": {"first_developer_time_min": 10}, "steps": SERIES_STEPS}
    )
    return kept.id, trial.id


def test_a_roll_is_written_down_once(workbench):
    slides = workbench.projector.slides
    assert len(slides.add_roll("harbour", 12)) == 12
    assert len(slides.add_roll("harbour", 14)) == 2
    assert [kept.thing.frame for kept in slides.all()] == [str(n) for n in range(1, 15)]
    with pytest.raises(InputError, match="99 frames"):
        slides.add_roll("harbour", 99)


def test_slides_are_found_by_every_word(workbench):
    slides = workbench.projector.slides
    first, second = slides.add_roll("harbour", 2)
    slides.change(first.id, {"title": "Two cranes", "keywords": "Crane, evening , crane", "mounted": True})
    slides.change(second.id, {"title": "Fog"})
    assert [k.id for k in slides.all("crane evening")] == [first.id]
    assert slides.all("crane fog") == []
    assert slides.all("crane")[0].thing.keywords == ("crane", "evening")
    with pytest.raises(InputError, match="colour"):
        slides.change(first.id, {"colour": "blue"})
    with pytest.raises(ConflictError):
        slides.change(first.id, {"title": "old"}, expected_revision=1)


def test_a_list_keeps_its_order_and_names_only_what_stands_here(workbench):
    slides = workbench.projector.slides
    a, b, c = (kept.id for kept in slides.add_roll("harbour", 3))
    kept = slides.keep_list({"name": "An evening", "slides": [c, a]})
    assert [s.id for s in slides.shown(kept.id)[1]] == [c, a]
    slides.retire(a)
    assert [s.id for s in slides.shown(kept.id)[1]] == [c, a]
    with pytest.raises(NotFoundError):
        slides.keep_list({"name": "Another", "slides": ["nothing"]})
    with pytest.raises(InputError, match="no slide is kept under"):
        slides.keep_list({"name": "Nested", "slides": [kept.id]})
    assert b in {s.id for s in slides.all()}


@pytest.mark.parametrize(
    ("press", "id", "order"),
    [
        ("earlier", "1", "bac"),
        ("later", "1", "acb"),
        ("earlier", "0", "abc"),
        ("later", "2", "abc"),
        ("out", "0", "bc"),
        ("in", "d", "abcd"),
        ("keep", "", "abc"),
    ],
)
def test_one_press_moves_one_slide(press, id, order):
    assert "".join(moved("abc", press, id)) == order
    with pytest.raises(InputError, match="no move"):
        moved("abc", "later", "3")


def test_a_show_is_put_in_order_without_a_script(client, workbench):
    slides = workbench.projector.slides
    a, b = (kept.id for kept in slides.add_roll("harbour", 2))
    slides.change(a, {"picture": "p1", "spot": "upper right"})
    typed = {"name": "An evening", "projectors": "2", "tray_slots": "50", "first_slot": "3"}
    page = client.post("/projector/lists", data={**typed, "slide": [b], "press": f"in:{a}"})
    (kept,) = slides.lists()
    assert (kept.thing.slides, kept.thing.tray_slots, kept.thing.first_slot) == ((b, a), 50, 3)
    assert "/api/light-table/pictures/p1/view.jpg?longest=160" in page.text and 'value="earlier:1"' in page.text
    client.post(f"/projector/lists?list={kept.id}", data={**typed, "slide": [b, a], "press": "earlier:1"})
    assert slides.lists()[0].thing.slides == (a, b)
    shown = client.get(f"/projector/slides?list={kept.id}").text
    late = {**typed, "slide": [a, b], "press": "out:0", "revision": "1"}
    assert 'name="revision" value="2"' in shown, "the page says which order it shows"
    assert client.post(f"/projector/lists?list={kept.id}", data=late).status_code == 409
    assert slides.lists()[0].thing.slides == (a, b), "a page that shows an older order does not undo the newer"
    assert client.post("/projector/lists", data={**typed, "tray_slots": "many", "slide": [a]}).status_code == 422
    cells = mount_labels_data([("1", slides.show(kept.id).turns[0].slide)], "a4-cut")["pages"][0]
    assert cells[0]["spot"] == ["upper", "right"]
    assert "spot upper right" in mount_words(slides.show(kept.id).turns[0].slide)


def test_the_wall_of_a_measured_strip(client, film):
    body = {"slides": [{"source": f"trial:{film[1]}", "metered_code": 2048}], "screen": Screen().model_dump()}
    answer = client.post("/api/projector/look", json=body)
    assert answer.status_code == 200
    found = answer.json()
    slide = found["slides"][0]
    assert slide["kind"] == "measured" and slide["dmax"] == pytest.approx(2.5, abs=0.05)
    # The scale's middle is the meter's mid-tone: 1.0 above base at the curve's own index.
    assert slide["scale"]["density"][10] == pytest.approx(1.15, abs=0.03)
    assert any("acetate" in c["text"] for c in found["sums"]["cautions"])
    # The grey scale under the picture has the picture's own greys.
    table = base64.b64decode(slide["grey"])
    first = slide["readout"]["log_exposure"][0] - np.log10(100 / slide["exposure_index_set"])
    for stops, grey in zip(slide["scale"]["stops"], slide["scale"]["grey"], strict=True):
        assert abs(grey - table[round((stops * 0.30103 - first) / 0.00125)]) <= 1, stops


def test_a_spot_put_on_another_zone_moves_the_whole_scale(client, film):
    on = {
        zone: client.post("/api/projector/look", json={"slides": [{"source": f"trial:{film[1]}", "zone": zone}]}).json()
        for zone in (5, 7)
    }
    # Zone VII of one is what stands two stops up in the other: four steps of half a stop.
    five, seven = (on[zone]["slides"][0]["scale"]["density"] for zone in (5, 7))
    assert seven[10] == pytest.approx(five[14], abs=1e-3)
    assert on[5]["slides"][0]["exposure_index_set"] == pytest.approx(on[7]["slides"][0]["exposure_index_set"])


def test_highlights_and_blacks_are_gate_light_through_the_slide(client, film):
    body = {
        "slides": [{"source": f"trial:{film[1]}"}],
        "screen": {**Screen().model_dump(), "stray": 0.0, "callier": 1.0},
    }
    found = client.post("/api/projector/look", json=body).json()
    slide, sums = found["slides"][0], found["sums"]
    assert sums["slides"][0]["highlight_cd_m2"] == pytest.approx(sums["gate_cd_m2"] * 10 ** -slide["dmin"], rel=1e-6)
    assert sums["slides"][0]["black_cd_m2"] == pytest.approx(sums["gate_cd_m2"] * 10 ** -slide["dmax"], rel=1e-6)


def test_two_settings_side_by_side_share_one_white(client, film):
    sides = [{"source": f"trial:{film[1]}", "exposure_index": e, "metered_code": 2048} for e in (50, 100)]
    slides = client.post("/api/projector/look", json={"slides": sides}).json()["slides"]
    assert slides[0]["scale"]["cd_m2"][10] > slides[1]["scale"]["cd_m2"][10]
    assert [round(s["exposure_index_set"]) for s in slides] == [50, 100]


def test_a_predicted_curve_says_that_it_is_one(workbench, film):
    curve = workbench.projector.curve(
        f"film:{film[0]}", {"first_developer_time_min": 12, "solvent_ml_per_l": 10, "alkali_ml_per_l": 5}
    )
    assert curve.kind == "predicted"
    card = workbench.projector.card(f"film:{film[0]}", controls={"first_developer_time_min": 12})
    assert any(c.code == "card.predicted" for c in card.cautions)


@pytest.mark.parametrize("source", ["nonsense", "film:", "reading:x", "trial:nothing"])
def test_a_source_that_is_none(client, source):
    answer = client.post("/api/projector/look", json={"slides": [{"source": source}]})
    assert answer.status_code in (404, 422)
    assert answer.json()["detail"].endswith(".")


@pytest.mark.parametrize(
    "change",
    [{"flux_lm": 0}, {"width_m": -1}, {"stray": 1}, {"callier": 0.5}, {"gain": "nan"}, {"lamp": 3}],
)
def test_a_projector_that_cannot_be(client, change):
    answer = client.post("/api/projector/look", json={"slides": [{}], "screen": {**Screen().model_dump(), **change}})
    assert answer.status_code == 422
    assert answer.json()["detail"].count(".") >= 1


def test_a_meter_that_cannot_be(client):
    for bad in ({"exposure_index": 0}, {"exposure_index": -100}, {"metered_code": 1e300}, {"zone": 400}):
        answer = client.post("/api/projector/look", json={"slides": [bad]})
        assert answer.status_code == 422, bad


def test_the_projector_is_remembered(client, workbench):
    mine = Screen(flux_lm=350, width_m=1.1, stray=0.01)
    assert client.post("/api/projector/screen", json=mine.model_dump()).status_code == 200
    assert workbench.projector.screen() == mine


def test_a_screen_that_another_device_kept_meanwhile_is_not_written_over(client, workbench):
    def post(width_m, revision):
        return client.post("/api/projector/screen", json={"width_m": width_m, "revision": revision})

    assert f'"screen_revision": {workbench.projector.screen_revision()}' in client.get("/projector").text
    assert post(1.1, 0).json()["revision"] == 1
    first, late = post(1.2, 1), post(1.3, 1)
    assert first.json()["revision"] == 2 and late.status_code == 409
    assert post(1.4, 0).json()["revision"] == 2, "whoever saw none is told the same"
    assert workbench.projector.screen().width_m == 1.2
    assert post(1.3, late.json()["revision"]).status_code == 200
    assert workbench.projector.screen().width_m == 1.3


def test_a_photograph_goes_in_and_a_broken_one_is_refused(client):
    import numpy as np

    from benchmarks.simulated_files import save_jpeg

    grey = np.linspace(0, 255, 64 * 48).astype(np.uint8).reshape(48, 64)
    answer = client.post(
        "/api/projector/photograph", files={"file": ("a.jpg", save_jpeg(np.repeat(grey[..., None], 3, axis=2)))}
    )
    assert answer.status_code == 200 and answer.content[:4] == b"OBVL"
    for data in (b"", b"not a picture at all", save_jpeg(np.repeat(grey[..., None], 3, axis=2))[:200]):
        refused = client.post("/api/projector/photograph", files={"file": ("a.jpg", data)})
        assert refused.status_code == 422
        assert "a.jpg" in refused.json()["detail"]


def test_reexposure_through_the_interface(client):
    answer = client.post(
        "/api/projector/reexposure", json=Lamp(flux_lm=1690, distance_m=0.4572, seconds_a_side=60, sides=1).model_dump()
    )
    assert answer.json()["most_lx_s"] == pytest.approx(38602.5, abs=1)  # record reexp-home
    assert answer.json()["verdict"] in ("likely", "ample")


def test_card_and_wall_in_the_terminal(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("OBVERSE_HOME", str(tmp_path / "home"))
    file = tmp_path / "card.pdf"
    assert run(["card", "example", "--out", str(file), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert file.read_bytes()[:5] == b"%PDF-" and told["dial"] == 80
    assert run(["wall", "example", "--lumens", "1000", "--width-m", "1.8288", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["gate_cd_m2"] == pytest.approx(1000 / 3.14159265 / (1.8288**2 / 1.5), rel=1e-6)
    assert run(["card", "example"]) == 0
    assert "8.2 stops usable: 2.8 under, 5.4 over the metered tone" in capsys.readouterr().out.splitlines()
    words = "--lumens 700 --focal-mm 85 --throw-m 4 --corner-light 0.6"
    assert run(["wall", "example", *words.split()]) == 0
    told = capsys.readouterr().out.splitlines()
    for line in (
        "open gate   134 cd/m2, 39.1 fL (cinema practice 16 +- 2 fL, looked up)",
        "fall-off    159 cd/m2 in the middle, 95 at the corners",
        "contrast    270 : 1, without stray light 1772 : 1",
        "widest      2.46 m at 16 fL through the open gate, 2.2 m for the slide's highlights",
        "lens        85 mm, 4 m from the wall: 1.58 m x 1.05 m",
    ):
        assert line in told
    assert run(["card", "nothing"]) == 2
    assert run(["wall", "example", "--stray", "2"]) == 2
    assert run(["card", "example", "--p", "0.2"]) == 2


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_the_card_fits_one_page(paper):
    from dataclasses import replace

    from obverse.foundation import Caution, Estimate
    from obverse.sheets.exposure_card import card_data, exposure_card_pdf
    from obverse.sheets.typeset import ask
    from obverse.workbench.exposure_card import exposure_card
    from obverse.workbench.slide_curve import example_curve

    full = replace(
        example_curve(),
        film="A film with quite a long name of its own, 100-speed, grey base",
        midtone=Estimate(0.1, 0.3),
        cautions=(Caution("a", "Something that must be told, at some length. " * 3),),
    )
    card = exposure_card(full, Screen())
    assert ask("exposure_card", card_data(card, None, paper), "pages") == [1]
    assert exposure_card_pdf(card, paper=paper)[:5] == b"%PDF-"


def test_no_card_on_a_paper_nobody_has():
    from obverse.sheets.exposure_card import exposure_card_pdf
    from obverse.workbench.exposure_card import exposure_card
    from obverse.workbench.slide_curve import example_curve

    with pytest.raises(InputError, match="no paper"):
        exposure_card_pdf(exposure_card(example_curve(), Screen()), paper="a7")
