"""The loop closed: walls rendered by another hand than the preview's, and slides against what was promised of them."""

import numpy as np
import pytest
import tifffile

from benchmarks.bench_wall_seen import off, truths, wall
from obverse.cli.main import run
from obverse.foundation import InputError
from obverse.imaging import Picture
from obverse.light import Believed, Tone, fit_wall
from obverse.workbench.preview import Screen
from obverse.workbench.slide_curve import example_curve
from obverse.workbench.slide_seen import slide_seen
from obverse.workbench.wall_seen import ScaleAsked, close_loop, opened, scale_of


@pytest.fixture(scope="module")
def walls():
    """Two walls that other code drew: steps in order in a dim room, shuffled in a light one."""
    return {seed: (opened([(data, "wall.tif")]), *rest) for seed in (2, 1) for data, *rest in [wall(seed)]}


@pytest.mark.parametrize("seed", [2, 1])
def test_a_rendered_wall_says_what_is_true_of_it(walls, seed):
    pictures, asked, screen, truth = walls[seed]
    found = close_loop(pictures, asked, screen)
    true, seen = truths(truth), {one.key: one.seen for one in found.findings}
    assert abs(seen["callier"].value - true["callier"]) < 0.08
    assert found.screen.black_share == pytest.approx(true["black"], rel=0.3)
    assert found.screen.gate_cd_m2 == pytest.approx(true["gate"], rel=0.15)
    assert not found.cautions
    # Believed far off, it comes back.
    far = close_loop(pictures, asked, screen.model_copy(update={"callier": 1.6})).screen.callier
    assert abs(far - true["callier"]) < 0.12
    # What was predicted comes nearer once the wall's own projector is reckoned with.
    assert off(close_loop(pictures, asked, found.screen)) < off(found) / 2


def test_the_words_follow_the_sign(walls):
    pictures, asked, screen, _ = walls[2]

    def words(stray):
        dark = screen.model_copy(update={"stray": stray, "room_lux": 0.0})
        return close_loop(pictures, asked, dark).findings[0].words

    assert "blacks are worth more" in words(0.02)
    assert "blacks are worth less" in words(0.00005)
    assert "worth" not in words(0.001)


def test_a_scale_that_says_nothing_changes_nothing():
    alike = [Tone(1.0, 0.02, 0.05, 0.0005)] * 6
    found = fit_wall(alike, Believed(1.3, 0.1, 0.003, 3.0), base_density=0.1, aspect=1.5)
    assert found.callier.value == pytest.approx(1.3, abs=0.02) and found.callier.sd == pytest.approx(0.1, rel=0.1)
    with pytest.raises(InputError, match="4 tones"):
        fit_wall(alike[:4], Believed(1.3, 0.1, 0.003, 3.0), base_density=0.1, aspect=1.5)


def test_one_dirty_patch_is_named_and_bends_little(walls):
    pictures, asked, screen, _ = walls[2]
    clean = close_loop(pictures, asked, screen)
    lines = asked.densities.splitlines()
    lines[3] = str(float(lines[3]) + 1.2)
    dirty = close_loop(pictures, asked.model_copy(update={"densities": "\n".join(lines)}), screen)
    assert [one.code for one in dirty.cautions] == ["seen.poor"] and "no. 4)" in dirty.cautions[0].text
    assert abs(dirty.screen.callier - clean.screen.callier) < 0.08


def test_what_was_learned_keeps_its_doubt_while_its_value_stays(workbench, walls):
    pictures, asked, _, _ = walls[2]
    projector = workbench.projector
    revision = projector.take_over(projector.wall_seen(pictures, asked).screen, expected_revision=0)
    learned = projector.screen()
    assert learned.callier_sd and learned.stray_sd and learned.flux_sd_lm and learned.seen_on is not None
    shown = learned.model_dump(exclude={"callier_sd", "stray_sd", "flux_sd_lm", "seen_on", "corner_light"})
    projector.keep_screen(Screen(**{**shown, "stray": 0.01}), expected_revision=revision)
    after = projector.screen()
    assert (after.callier_sd, after.stray_sd, after.seen_on) == (learned.callier_sd, None, learned.seen_on)
    assert after.corner_light == learned.corner_light
    # Emptied by hand, the fall-off is not known any more.
    projector.keep_screen(Screen(**shown, corner_light=None), expected_revision=revision + 1)
    assert projector.screen().corner_light is None and projector.screen().callier_sd


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"densities": "0.1\n0.2"}, "24 patches lie on the wall and 2 densities"),
        ({"densities": ""}, "densities of the patches are not known"),
        ({"corners": None}, "not marked"),
        ({"corners": ((0, 0), (9, 9), (9, 0), (0, 9))}, "do not go round"),
        ({"corners": ((9000, 0), (9900, 0), (9900, 900), (9000, 900))}, "only 0 patches"),
        ({"spot_patch": 50}, "patch 50 was not read"),
    ],
)
def test_what_cannot_be_compared_is_said(walls, change, complaint):
    pictures, asked, screen, _ = walls[2]
    with pytest.raises(InputError, match=complaint):
        close_loop(pictures, asked.model_copy(update=change), screen)


def frame(density: float, exposure_s: float = 1 / 30) -> Picture:
    """One frame of a bracket roll on the wall: Callier factor 1.25, a black of a hundredth, the middle of an even picture."""
    light = 0.6 * (10 ** -(0.1 + 1.25 * density) + 0.01)
    codes = np.full((60, 90, 1), round(65535 * light), dtype=np.uint16)
    return Picture(codes, name="frame.tif", exposure_s=exposure_s)


def test_a_bracket_roll_frame_by_frame_says_the_same_but_no_fall_off():
    silver = np.linspace(0, 2.4, 9)
    asked = ScaleAsked(columns=1, rows=1, densities="\n".join(f"{0.1 + d:.3f}" for d in silver), base_density=0.1)
    screen = Screen(callier=1.35, stray=0.004)
    found = close_loop([frame(d) for d in silver], asked, screen)
    seen = {one.key: one.seen for one in found.findings}
    assert "fall_off" not in seen and found.screen.corner_light is None
    assert seen["callier"].low90 < 1.25 < seen["callier"].high90
    assert seen["black"].value == pytest.approx(0.01, rel=0.25)
    uneven = [frame(d, 1 / 30 if d else 1 / 8) for d in silver]
    with pytest.raises(InputError, match="different exposures"):
        close_loop(uneven, asked, screen)


def test_densities_are_read_from_the_slide_on_the_panel():
    density = np.linspace(0.1, 2.0, 12).reshape(3, 4)
    light = np.full((420, 640), 0.8)
    light[100:320, 120:520] = 0.8 * 10**-0.9
    for row, column in np.ndindex(density.shape):
        light[103 + 72 * row : 173 + 72 * row, 125 + 98 * column : 217 + 98 * column] = (
            0.8 * 10 ** -density[row, column]
        )
    # A piece of opaque card beside it measures the glare.
    light[20:60, 300:360] = 0.0001
    noise = np.random.default_rng(3).normal(0, 0.002, light.shape)
    panel = Picture(
        np.rint(65535 * np.clip(light + noise * light, 0, 1)).astype(np.uint16)[..., None], name="panel.tif"
    )
    asked = ScaleAsked(columns=4, rows=3, panel_corners=((121, 101), (518, 101), (518, 318), (121, 318)))
    walls = [frame(d - 0.1) for d in density.ravel()]
    found = close_loop(walls, asked, Screen(), panel=panel)
    assert [one.density for one in found.patches] == pytest.approx(density.ravel().tolist(), abs=0.03)


def test_densities_come_with_exposures_or_without():
    assert scale_of("0.1\n\n2,5\n").density == (0.1, 2.5)
    both = scale_of("log_exposure,density\n1.0,0.2\n-1.0,2.4\n")
    assert both.log_exposure == (1.0, -1.0) and both.density == (0.2, 2.4)


X = np.linspace(-1.5, 1.5, 11)


@pytest.mark.parametrize(("stops", "words"), [(0.8, "0.8 stop more light"), (-0.8, "0.8 stop less light")])
def test_a_slide_says_what_the_meter_did(stops, words):
    curve = example_curve()
    found = slide_seen(curve, X, curve.at(X + stops * 0.30103), [0.02] * 11, exposed="shutter")
    assert [one.key for one in found.departures if one.told] == ["exposure"] and words in found.words
    assert found.departures[0].by.low90 < stops < found.departures[0].by.high90


@pytest.mark.parametrize(("by", "words"), [(0.4, "denser than promised"), (-0.4, "thinner than promised")])
def test_a_slide_says_what_became_of_its_blacks(by, words):
    curve = example_curve()
    promised = curve.at(X)
    found = slide_seen(
        curve, X, promised + by * (promised - curve.dmin) / (curve.dmax_with_base - curve.dmin), [0.02] * 11
    )
    assert "blacks" in {one.key for one in found.departures if one.told} and words in found.words


def test_a_slide_as_promised_says_so():
    curve = example_curve()
    found = slide_seen(curve, X, curve.at(X), [None] * 11)
    assert found.as_promised and "promised, within their doubt" in found.words
    with pytest.raises(InputError, match="do not go together"):
        slide_seen(curve, X, [1.0], [None])


def test_the_page_and_the_command_say_the_same(client, workbench, walls, tmp_path, capsys):
    (picture,), asked, _, _ = walls[2]
    tifffile.imwrite(tmp_path / "wall.tif", picture.codes, photometric="rgb")
    scale = tmp_path / "scale.txt"
    scale.write_text(asked.densities)
    corners = ",".join(str(v) for point in asked.corners for v in point)
    answer = client.post(
        "/projector/seen/pictures",
        files={"wall": ("wall.tif", (tmp_path / "wall.tif").read_bytes())},
        data={"densities": asked.densities, "columns": "6", "rows": "4", "base_density": str(asked.base_density)},
    )
    assert answer.status_code == 200 and "the photograph of the wall" in answer.text and asked.densities in answer.text
    asking = f"{answer.url}&corners={corners}"
    said = client.get(asking).text
    assert "It says" in said and "Callier factor" in said
    assert "eight numbers" in client.get(f"{answer.url}&corners=1,2").text
    home = tmp_path / "home"
    given = ["seen", str(tmp_path / "wall.tif"), "--home", str(home), "--densities", str(scale), "--corners", corners]
    assert run([*given, "--base-density", str(asked.base_density)]) == 0
    told = capsys.readouterr().out
    sentence = next(line for line in told.splitlines() if line.startswith("Callier")).split(": ", 1)[1]
    assert sentence in said
    client.post(asking.replace("/projector/seen?", "/projector/seen/take?"), data={"revision": "0"})
    assert workbench.projector.screen().callier_sd is not None
