"""A finished roll against its exposure notes, and as a strip in the notebook."""

import re

import numpy as np
import pytest
import tifffile

from obverse.cli.main import run
from obverse.foundation import InputError
from obverse.imaging import Picture
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.roll import density_at
from obverse.workbench.slide_seen import stops_words
from tests.unit.test_recipes import recipe_of

ZONES = {"1": 3, "2": 5, "3": 7, "4": 4}


def on_panel(density: float, glare: float = 0.004) -> Picture:
    """A frame on a panel: even film of that density in the middle, panel round it, a veil over both."""
    light = np.full((240, 320), 0.8)
    light[60:180, 80:240] = 0.8 * 10**-density
    codes = np.rint(65535 * (light + glare * 0.8)).astype(np.uint16)
    return Picture(codes[..., None], name="frame.tif")


@pytest.mark.parametrize("density", [0.3, 1.0, 1.8])
def test_a_frame_on_the_panel_has_its_density(density):
    found, _ = density_at(on_panel(density), (160, 120), (20, 20))
    assert found.low90 < density < found.high90 and found.value == pytest.approx(density, abs=0.05)
    assert density_at(on_panel(1.8), (160, 120), (20, 20))[0].sd > density_at(on_panel(0.3), (160, 120), (20, 20))[0].sd


@pytest.mark.parametrize(
    ("place", "panel", "complaint"),
    [((20, 20), (160, 120), "not lighter"), ((1, 1), (20, 20), "at the rim")],
)
def test_places_that_cannot_be_read_are_named(place, panel, complaint):
    with pytest.raises(InputError, match=complaint):
        density_at(on_panel(1.0), place, panel)


@pytest.fixture
def roll(workbench):
    """Four frames of five metered, by a recipe with a curve, and the film in the notebook."""
    notebook, slides = workbench.notebook, workbench.projector.slides
    film = notebook.add_film({"name": "a grey film", "box_speed": 100, "base_density": 0.15})
    x = np.linspace(-1.5, 1.5, 16)
    steps = [
        {"log_exposure": round(float(v), 3), "density": round(0.15 + 2.3 / (1 + float(np.exp(v / 0.3))), 3)} for v in x
    ]
    made = recipe_of(film=film.thing, curve=steps, controls={"first_developer_time_min": 10}, exposure_index=None)
    workbench.recipes.take_in(made)
    recipe = workbench.recipes.all()[0]
    kept = slides.add_roll("harbour", 5, recipe=recipe.id)
    ids = {one.thing.frame: one.id for one in kept}
    for frame, zone in ZONES.items():
        workbench.rolls.note(ids[frame], {"zone": zone, "exposure_index": 100})
    return workbench, film.id, recipe.id, ids


def came_out(bench, ids, stops: float) -> None:
    """All frames got so many stops more light than noted."""
    curve = bench.projector.curve(f"recipe:{bench.recipes.all()[0].id}")
    for frame, zone in ZONES.items():
        density = float(curve.at((zone - 5 + stops) * np.log10(2)))
        bench.rolls.note(ids[frame], {"density": round(density, 3), "density_sd": 0.03})


@pytest.mark.parametrize(
    ("stops", "words"), [(0.3, "0.3 stop"), (-1.04, "1.0 stop"), (1.06, "1.1 stops"), (-3.2, "3.2 stops")]
)
def test_stops_are_counted_in_words(stops, words):
    assert stops_words(stops) == words


@pytest.mark.parametrize(
    ("stops", "words"), [(1.6, "stops more light"), (-1.6, "stops less light"), (0.0, "promised, within")]
)
def test_a_roll_says_what_the_meter_did(roll, stops, words):
    bench, _, _, ids = roll
    came_out(bench, ids, stops)
    found = bench.rolls.seen("harbour")
    assert words in found.seen.words and found.waiting == ("5",)
    assert found.seen.departures[0].by.low90 < stops < found.seen.departures[0].by.high90


def test_a_roll_becomes_one_strip_of_its_film(roll):
    bench, film, recipe, ids = roll
    with pytest.raises(InputError, match="two frames or more"):
        bench.rolls.into_notebook("harbour")
    came_out(bench, ids, 0.5)
    first = bench.rolls.into_notebook("harbour").thing
    assert (first.recipe, first.trial.exposed, len(first.trial.steps)) == (recipe, "metered", 4)
    assert first.trial.controls == {"first_developer_time_min": 10}
    assert first.trial.steps[1].log_exposure == pytest.approx(-0.301, abs=1e-3)
    bench.rolls.note(ids["5"], {"zone": 6, "exposure_index": 100, "density": 0.6})
    assert len(bench.rolls.into_notebook("harbour").thing.trial.steps) == 5
    assert sum(one.thing.trial.id == "roll harbour" for one in bench.notebook.trials(film)) == 1


def test_the_page_keeps_notes_and_reads_a_frame(client, roll, tmp_path):
    bench, _, _, ids = roll
    page = client.get("/projector/rolls?roll=harbour").text
    assert "Two frames or more need" in page
    typed = {
        f"zone-{ids['2']}": "5",
        f"density-{ids['2']}": "1.35",
        f"zone-{ids['1']}": "3",
        f"density-{ids['1']}": "2.1",
    }
    for frame in ("1", "2"):
        typed[f"exposure_index-{ids[frame]}"] = "100"
    assert "within their doubt" in client.post("/projector/rolls/notes?roll=harbour", data=typed).text
    without = client.post("/projector/rolls/picture?roll=harbour", data={"frame": ids["3"]})
    assert "no photograph of the frame was given" in without.text
    tifffile.imwrite(tmp_path / "f.tif", on_panel(1.0).codes[..., 0], photometric="minisblack")
    asked = client.post(
        "/projector/rolls/picture?roll=harbour",
        data={"frame": ids["3"]},
        files={"file": ("f.tif", (tmp_path / "f.tif").read_bytes())},
    )
    assert "Where was it metered?" in asked.text
    picture = asked.url.params["picture"]
    client.post(
        "/projector/rolls/read?roll=harbour",
        data={"frame": ids["3"], "picture": picture, "places": "160,120,20,20"},
    )
    slide = bench.projector.slides.of_roll("harbour")[2].thing
    assert slide.density == pytest.approx(1.0, abs=0.05) and slide.picture == picture


def test_the_command_notes_and_says_what_is_missing(tmp_path, capsys):
    bench = open_workbench(tmp_path)
    bench.projector.slides.add_roll("harbour", 3)
    bench.close()
    home = ["--home", str(tmp_path)]
    assert run(["roll", "harbour", *home, "--zone", "2=5", "--density", "2=1.3"]) == 0
    assert "No recipe with a curve" in capsys.readouterr().out
    assert run(["roll", "harbour", *home, "--zone", "99=5"]) == 2
    assert "no frame 99" in capsys.readouterr().err
    assert run(["roll", "harbour", *home, "--into-notebook"]) == 2
    assert "no film of the notebook" in capsys.readouterr().err


NOTES = ("zone", "exposure_index", "density")


def test_notes_of_two_devices_on_one_roll_stay_both(client, roll):
    bench, _, _, ids = roll
    frame = ids["2"]
    seen = re.findall(r'name="stood"\s+value="([^"]+)"', client.get("/projector/rolls?roll=harbour").text)
    of = lambda id: bench.store.slides.get(id).thing  # noqa: E731
    page = {"accept": "text/html"}

    def keep(seen, **typed):
        notes = {f"{name}-{frame}": text for name, text in typed.items()}
        data = {"stood_on": "/projector/rolls?roll=harbour", "stood": seen, **notes}
        return client.post("/projector/rolls/notes?roll=harbour", data=data, headers=page)

    assert keep(seen, density="1.35", zone="5").status_code == 200
    assert keep(seen, density="", zone="6").status_code == 200, "an old page that says nothing of the density"
    assert (of(frame).density, of(frame).zone) == (1.35, 6)
    late = keep(seen, density="1.5", zone="6")
    assert late.status_code == 422 and "somebody else made it 1.35 meanwhile" in late.text and of(frame).density == 1.35
    field = re.search(f'<input[^>]*name="density-{frame}"[^>]*>', late.text)[0]
    assert 'value="1.5"' in field and "aria-invalid" in field, "what was typed stands in its field"
    keep(re.findall(r'name="stood"\s+value="([^"]+)"', late.text), density="1.5", zone="6")
    assert (of(frame).density, of(frame).zone) == (1.5, 6)


def test_a_press_after_a_refusal_takes_back_nothing_of_the_other_device(client, roll):
    bench, _, _, ids = roll
    place, stood = "/projector/rolls?roll=harbour", r'name="stood"\s+value="([^"]+)"'
    old = client.get(place).text

    def all_fields(text: str) -> dict[str, str]:
        fields = (re.search(rf'<input name="{name}-{id}".*?>', text, re.S)[0] for id in ids.values() for name in NOTES)
        return {re.search('name="([^"]*)"', one)[1]: re.search(r'\bvalue="([^"]*)"', one)[1] for one in fields}

    def keep(text: str, typed: dict[str, str]):
        data = {"stood_on": place, "stood": re.findall(stood, text), **all_fields(text), **typed}
        return client.post("/projector/rolls/notes?roll=harbour", data=data, headers={"accept": "text/html"})

    other = {
        f"zone-{ids['1']}": "4",
        f"density-{ids['1']}": "1.5",
        f"zone-{ids['2']}": "8",
        f"density-{ids['2']}": "0.4",
    }
    assert keep(old, other).status_code == 200
    refused = keep(old, {f"zone-{ids['1']}": "6"})
    assert refused.status_code == 422 and "somebody else made it 4 meanwhile" in refused.text
    assert all_fields(refused.text) == {**all_fields(old), **other, f"zone-{ids['1']}": "6"}
    assert keep(refused.text, {}).status_code == 200
    of = [bench.store.slides.get(ids[frame]).thing for frame in ("1", "2")]
    assert [(one.zone, one.density) for one in of] == [(6, 1.5), (8, 0.4)]
