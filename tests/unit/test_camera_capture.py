"""The picture door: what is read from each kind of file, and the command by its contract."""

import io
import json
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest
import tifffile

from benchmarks.simulated_files import save_jpeg, save_png
from obverse.capture import load_picture, save_tiff
from obverse.capture.bracket import find_response, load_bracket
from obverse.cli.main import run
from obverse.densitometry import read_strip
from obverse.imaging.encoding import linear_to_srgb
from obverse.imaging.render import RenderedScene, RenderedStrip, expose, render

CORNERS = np.array([[60.0, 110], [360, 110], [360, 170], [60, 170]])


@pytest.fixture(scope="module")
def light():
    strip = RenderedStrip(tuple(np.linspace(0.1, 1.7, 6)), pitch_mm=30)
    return render(strip, RenderedScene(420, 280, CORNERS, mask=True, glare=0.001), np.random.default_rng(1))


def digital_negative(planes, *, black=512, white=16383, orientation=1, exposure=(1, 60)):
    """A smallest mosaic file: red, green, green, blue sites of an invented camera."""
    mosaic = np.empty((planes.shape[0] * 2, planes.shape[1] * 2), np.uint16)
    mosaic[0::2, 0::2], mosaic[0::2, 1::2] = planes[..., 0], planes[..., 1]
    mosaic[1::2, 0::2], mosaic[1::2, 1::2] = planes[..., 1], planes[..., 2]
    tags = [
        (50706, 1, 4, (1, 4, 0, 0), True),
        (50707, 1, 4, (1, 1, 0, 0), True),
        (50708, 2, None, "invented camera", True),
        (33421, 3, 2, (2, 2), True),
        (33422, 1, 4, (0, 1, 1, 2), True),
        (50710, 1, 3, (0, 1, 2), True),
        (50711, 3, 1, 1, True),
        (50713, 3, 2, (1, 1), True),
        (50714, 3, 1, black, True),
        (50717, 3, 1, white, True),
        (50721, 10, 9, (1, 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 0, 1, 0, 1, 1, 1), True),
        (50728, 5, 3, (1, 1, 1, 1, 1, 1), True),
        (50778, 3, 1, 21, True),
        (0x829A, 5, 1, exposure, True),
        (0x0112, 3, 1, orientation, True),
    ]
    out = io.BytesIO()
    tifffile.imwrite(out, mosaic, photometric=32803, metadata=None, extratags=tags)
    return out.getvalue()


def test_raw_is_read_at_its_sites_with_its_black_level(light):
    codes = expose(light, 1.0, np.random.default_rng(2), bits=14, black=512)
    picture = load_picture(digital_negative(codes))
    assert picture.codes.shape == codes.shape
    assert np.array_equal(picture.codes, codes)
    assert picture.black == (512.0, 512.0, 512.0)
    assert picture.saturation == 16383
    assert picture.exposure_s == pytest.approx(1 / 60)
    assert read_strip([picture], 6).density == pytest.approx(light.densities, abs=0.015)


def test_a_raw_picture_is_turned_as_it_says(light):
    codes = expose(light, 1.0, np.random.default_rng(2), bits=14, black=512)
    picture = load_picture(digital_negative(np.ascontiguousarray(codes[::-1, ::-1]), orientation=3))
    assert np.array_equal(picture.codes, codes)


def test_a_cell_with_one_clipped_green_site_counts_as_clipped():
    planes = np.full((40, 60, 3), 9000, np.uint16)
    data = bytearray(digital_negative(planes))
    picture = load_picture(bytes(data))
    assert picture.codes[..., 1].max() == 9000
    mosaic = np.full((80, 120), 9000, np.uint16)
    mosaic[1::2, 0::2] = 16383  # one of the two green sites of each cell
    with tifffile.TiffFile(io.BytesIO(bytes(data))) as file:
        start = file.pages[0].dataoffsets[0]
    data[start : start + mosaic.nbytes] = mosaic.tobytes()
    assert load_picture(bytes(data)).codes[..., 1].min() == 16383


def test_an_uncompressed_tiff_stays_on_disk_and_reads_the_same_when_compressed(light, tmp_path):
    codes = expose(light, 1.0, np.random.default_rng(3))
    plain = tmp_path / "plain.tif"
    plain.write_bytes(save_tiff(codes, exposure_s=1 / 125))
    packed = tmp_path / "packed.tif"
    tifffile.imwrite(packed, codes, photometric="rgb", compression="zlib", predictor=True)
    first, second = load_picture(plain), load_picture(packed)
    assert on_disk(first.codes) and not on_disk(second.codes)
    assert first.exposure_s == pytest.approx(1 / 125)
    assert first.simulated and not second.simulated
    assert np.array_equal(first.codes, second.codes)


def on_disk(array):
    """Whether the memory of an array is a mapped file."""
    while array is not None and not isinstance(array, np.memmap):
        array = getattr(array, "base", None)
    return array is not None


@pytest.mark.parametrize("planar", ["contig", "separate"])
def test_both_orders_of_channels(planar, tmp_path):
    codes = np.random.default_rng(4).integers(0, 65535, (30, 40, 3), dtype=np.uint16)
    path = tmp_path / "x.tif"
    stored = codes if planar == "contig" else np.moveaxis(codes, -1, 0)
    tifffile.imwrite(path, stored, photometric="rgb", planarconfig=planar)
    assert np.array_equal(load_picture(path).codes, codes)


def test_what_each_format_says_about_its_codes():
    grey = np.full((30, 40, 3), 128, np.uint8)
    assert load_picture(save_png(grey)).encoding == "srgb"
    assert load_picture(save_jpeg(grey)).code_sd > 0.3
    out = io.BytesIO()
    tifffile.imwrite(out, grey, photometric="rgb")
    assert load_picture(out.getvalue()).encoding == "srgb"
    assert load_picture(save_tiff(grey.astype(np.uint16))).encoding == "linear"


def test_pictures_saved_from_the_renderer_say_that_they_are_simulated():
    grey = np.full((30, 40, 3), 128, np.uint8)
    for data in (save_png(grey), save_jpeg(grey), save_tiff(grey.astype(np.uint16))):
        assert load_picture(data).simulated


CURVES = {
    "contrast": lambda v: v**1.25,
    "s": lambda v: v - 0.1 * np.sin(2 * np.pi * v),  # shadows darker, lights lighter, as cameras like it
}


@pytest.mark.parametrize("curve", CURVES)
def test_the_tone_curve_of_a_camera_is_measured_from_pictures_of_the_panel(light, curve):
    rng = np.random.default_rng(5)

    def bent(linear):
        return np.rint(255 * CURVES[curve](linear_to_srgb(np.clip(linear, 0, 1)))).astype(np.uint8)

    def shot(seen, exposure):
        return bent(expose(seen, exposure, rng).astype(float) / 65535)

    empty = render(
        RenderedStrip((0.0,), pitch_mm=1),
        RenderedScene(420, 280, CORNERS * 0 + [[-9, -9], [-8, -9], [-8, -8], [-9, -8]], falloff=(0.2, 0.1, 0, 0)),
        rng,
    )
    panels = [save_jpeg(shot(empty, 2.0**-k), quality=96, exposure_s=2.0**-k / 30) for k in range(9)]
    strip = save_jpeg(shot(light, 1.0), quality=96, exposure_s=1 / 30)
    by_standard, by_measured = read_strip([load_picture(strip)], 6), read_strip(load_bracket([strip], panels), 6)
    wrong, right = by_standard.density - light.densities, by_measured.density - light.densities
    assert np.abs(wrong).max() > 0.2
    assert np.abs(right).max() < 0.06

    def codes(reading):
        return {c.code for c in reading.cautions}

    assert "curve.standard" in codes(by_standard) and "curve.measured" not in codes(by_standard)
    assert "curve.measured" in codes(by_measured) and "curve.standard" not in codes(by_measured)
    table = find_response([load_picture(p) for p in panels])
    assert np.all(np.diff(table) >= 0) and table[255] == pytest.approx(1)


def test_the_command_by_its_contract(light, tmp_path, capsys):
    rng = np.random.default_rng(6)
    names = []
    for k, exposure in enumerate((1.0, 8.0)):
        path = tmp_path / f"strip{k}.tif"
        path.write_bytes(save_tiff(expose(light, exposure, rng), exposure_s=exposure / 100))
        names.append(str(path))
    assert run(["read", *names, "--patches", "6", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert [p["index"] for p in document["patches"]] == [1, 2, 3, 4, 5, 6]
    assert [p["sha256"] for p in document["pictures"]] == [sha256(Path(n).read_bytes()).hexdigest() for n in names]
    for patch, true in zip(document["patches"], light.densities, strict=True):
        assert patch["density"] == pytest.approx(true, abs=0.02)
        assert 0 < patch["density_sd"] < 0.02
        assert patch["clipped"] is False
    assert document["reference"]["density"] == 0.0
    assert any(c["code"] == "density.camera" for c in document["cautions"])
    given = ",".join(str(v) for v in np.roll(CORNERS, -2, axis=0).ravel())
    assert run(["read", names[0], "--patches", "6", "--corners", given, "--json"]) == 0
    turned = json.loads(capsys.readouterr().out)
    assert turned["corners_found"] is False
    assert [p["density"] for p in turned["patches"]] == pytest.approx(light.densities[::-1], abs=0.03)


def test_the_command_calibrates_by_a_tablet(light, tmp_path, capsys):
    path = tmp_path / "tablet.tif"
    path.write_bytes(save_tiff(expose(light, 1.0, np.random.default_rng(7))))
    known = ",".join(f"{d / 1.1:.4f}" for d in light.densities)
    assert run(["read", str(path), "--patches", "6", "--tablet", known, "--json"]) == 0
    calibration = tmp_path / "calibration.json"
    calibration.write_text(capsys.readouterr().out)
    assert run(["read", str(path), "--patches", "6", "--calibration", str(calibration), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["kind"] == "diffuse density"
    assert [p["density"] for p in document["patches"]] == pytest.approx(light.densities / 1.1, abs=0.02)
