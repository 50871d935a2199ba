"""What people's files hold: RAW of every order of colours, HEIC, AVIF, deep PNG, profiles of scanners, many pages."""

import io
import json
import struct
import zlib

import imagecodecs
import numpy as np
import pillow_heif
import pytest
import tifffile
from PIL import Image

from benchmarks.simulated_files import save_jpeg
from obverse.capture import load_picture
from obverse.capture.profiles import icc_table
from obverse.capture.report import report_files, without_personal, write_report
from obverse.cli.main import run
from obverse.densitometry import read_strip
from obverse.foundation import InputError
from obverse.imaging.encoding import linear_to_srgb, srgb_to_linear
from obverse.imaging.render import RenderedScene, RenderedStrip, develop, expose, render

CORNERS = np.array([[60.0, 110], [360, 110], [360, 170], [60, 170]])
PHASES = {"RGGB": (0, 1, 1, 2), "GRBG": (1, 0, 2, 1), "GBRG": (1, 2, 0, 1), "BGGR": (2, 1, 1, 0)}


@pytest.fixture(scope="module")
def light():
    strip = RenderedStrip(tuple(np.linspace(0.1, 1.7, 6)), pitch_mm=30)
    return render(strip, RenderedScene(420, 280, CORNERS, mask=True, glare=0.001), np.random.default_rng(1))


def digital_negative(data, *, phase="RGGB", black=512, white=16383, linear=False, packed=False, pattern=None):
    """A smallest digital negative (DNG) of an invented camera."""
    channels = 3 if linear else 1
    tags = [
        (50706, 1, 4, (1, 4, 0, 0), True),
        (50707, 1, 4, (1, 1, 0, 0), True),
        (50708, 2, None, "invented camera", True),
        (50714, 3, channels, (black,) * channels if linear else black, True),
        (50717, 3, channels, (white,) * channels if linear else white, True),
        (50721, 10, 9, (1, 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 0, 1, 0, 1, 1, 1), True),
        (50728, 5, 3, (1, 1, 1, 1, 1, 1), True),
        (50778, 3, 1, 21, True),
        (0x829A, 5, 1, (1, 60), True),
    ]
    if not linear:
        size, sites = pattern or (2, PHASES[phase])
        tags += [
            (33421, 3, 2, (size, size), True),
            (33422, 1, size * size, sites, True),
            (50710, 1, 3, (0, 1, 2), True),
            (50711, 3, 1, 1, True),
            (50713, 3, 2, (1, 1), True),
        ]
    out = io.BytesIO()
    kept = {"photometric": 34892 if linear else 32803, "metadata": None, "extratags": tags}
    if packed:  # lossless JPEG, as cameras do it
        strip = imagecodecs.ljpeg_encode(data, bitspersample=14)
        tifffile.imwrite(
            out, iter([strip]), shape=data.shape, dtype=data.dtype, compression=7, rowsperstrip=len(data), **kept
        )
    else:
        tifffile.imwrite(out, data, **kept)
    return out.getvalue()


def mosaic(planes, phase):
    """One value per site: the colour that the filter over it lets through."""
    made = np.empty((planes.shape[0] * 2, planes.shape[1] * 2), np.uint16)
    for place, colour in enumerate(PHASES[phase]):
        made[place // 2 :: 2, place % 2 :: 2] = planes[..., colour]
    return made


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize(("bits", "black", "white"), [(14, 512, 16383), (12, 64, 4095)])
def test_a_mosaic_is_read_in_every_order_of_its_colours_and_depth(light, phase, bits, black, white):
    codes = expose(light, 1.0, np.random.default_rng(2), bits=bits, black=black)
    picture = load_picture(digital_negative(mosaic(codes, phase), phase=phase, black=black, white=white))
    assert np.array_equal(picture.codes, codes)
    assert picture.black == (black,) * 3 and picture.saturation == white
    assert picture.exposure_s == pytest.approx(1 / 60)


def test_a_packed_mosaic_is_the_same(light):
    codes = expose(light, 1.0, np.random.default_rng(2), bits=14, black=512)
    packed = digital_negative(mosaic(codes, "RGGB"), packed=True)
    assert len(packed) < len(digital_negative(mosaic(codes, "RGGB")))
    assert np.array_equal(load_picture(packed).codes, codes)


def test_a_linear_digital_negative_keeps_its_levels(light):
    codes = expose(light, 1.0, np.random.default_rng(3), bits=14, black=512)
    picture = load_picture(digital_negative(codes, linear=True))
    assert np.array_equal(picture.codes, codes)
    assert picture.black == (512.0,) * 3 and picture.saturation == 16383
    assert read_strip([picture], 6).density == pytest.approx(light.densities, abs=0.015)


def test_a_sensor_without_colours_and_a_scan_counted_from_white_are_read(light):
    codes = expose(light, 1.0, np.random.default_rng(3), bits=14, black=512)[..., 1]
    plain = io.BytesIO()
    levels = [(50714, 3, 1, 512, True), (50717, 3, 1, 16383, True), (50706, 1, 4, (1, 4, 0, 0), True)]
    tifffile.imwrite(plain, codes, photometric="minisblack", metadata=None, extratags=levels)
    grey, bare = (struct.pack("<HHIH", 262, 3, 1, kind) for kind in (1, 34892))
    picture = load_picture(plain.getvalue().replace(grey, bare))
    assert np.array_equal(picture.codes[..., 0], codes) and picture.black == (512.0,)
    scan, wide = io.BytesIO(), io.BytesIO()
    tifffile.imwrite(scan, 65535 - codes, photometric="miniswhite")
    assert np.array_equal(load_picture(scan.getvalue()).codes[..., 0], codes)
    tifffile.imwrite(wide, codes / 65535, photometric="minisblack")
    assert load_picture(wide.getvalue()).codes[..., 0] == pytest.approx(codes / 65535)


def test_a_digital_negative_with_a_wrong_tag_gets_a_sentence(light):
    codes = mosaic(expose(light, 1.0, np.random.default_rng(3), bits=14, black=512), "RGGB")
    with pytest.raises(InputError, match="white is 400 and black 512, which leaves no light between"):
        load_picture(digital_negative(codes, white=400))


def test_a_sensor_of_six_by_six_is_told_plainly(light):
    codes = np.full((120, 180), 9000, np.uint16)
    sites = (1, 1, 0, 1, 1, 2, 1, 1, 2, 1, 1, 0, 2, 0, 1, 0, 2, 1, 1, 1, 2, 1, 1, 0, 1, 1, 0, 1, 1, 2, 0, 2, 1, 2, 0, 1)
    with pytest.raises(InputError, match="convert it to a linear 16-bit TIFF"):
        load_picture(digital_negative(codes, pattern=(6, sites)))


def deep(light, exposure=1.0, curve=linear_to_srgb, seed=4):
    linear = np.clip(expose(light, exposure, np.random.default_rng(seed)).astype(float) / 65535, 0, 1)
    return np.rint(curve(linear) * 65535).astype(np.uint16)


@pytest.mark.parametrize("bits", [8, 10])
def test_a_heic_is_read_at_its_own_depth(light, bits):
    codes = deep(light)
    height, width = codes.shape[:2]
    if bits == 8:
        made = pillow_heif.from_bytes("RGB", (width, height), (codes // 257).astype(np.uint8).tobytes())
    else:
        made = pillow_heif.from_bytes("RGB;16", (width, height), np.ascontiguousarray(codes).tobytes())
    out = io.BytesIO()
    made.save(out, quality=95)
    picture = load_picture(out.getvalue(), name="strip.heic")
    assert picture.codes.dtype == (np.uint8 if bits == 8 else np.uint16)
    reading = read_strip([picture], 6)
    assert reading.density == pytest.approx(light.densities, abs=0.04)
    assert "curve.standard" in {c.code for c in reading.cautions}


def test_an_avif_is_read(light):
    codes = (deep(light) // 257).astype(np.uint8)
    picture = load_picture(imagecodecs.avif_encode(codes, level=95, speed=9), name="strip.avif")
    assert picture.codes.shape == codes.shape and picture.saturation == 255
    assert read_strip([picture], 6).density == pytest.approx(light.densities, abs=0.05)


def png16(codes, *chunks):
    data = imagecodecs.png_encode(codes, level=1)
    made = b""
    for kind, body in chunks:
        made += struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
    return data[:33] + made + data[33:]


def assert_read(picture, light):
    """A deep picture that names no maker may be a scan or a camera's: what stray light is taken off its last patch leaves 0.02 open."""
    reading = read_strip([picture], 6)
    off = np.abs(reading.density - light.densities)
    assert off[:-1].max() < 0.01 and off[-1] < min(0.02, 2 * reading.density_sd[-1])


@pytest.mark.parametrize(
    ("curve", "chunks", "encoding"),
    [
        (linear_to_srgb, ((b"sRGB", b"\0"),), "profile"),
        (lambda v: v ** (1 / 2.2), ((b"gAMA", struct.pack(">I", 45455)),), "profile"),
        (lambda v: v, ((b"gAMA", struct.pack(">I", 100000)),), "linear"),
        (linear_to_srgb, (), "srgb"),
    ],
)
def test_a_deep_png_follows_the_curve_that_it_states(light, curve, chunks, encoding):
    picture = load_picture(png16(deep(light, curve=curve), *chunks))
    assert picture.encoding == encoding
    assert_read(picture, light)


def profile(tag):
    """A smallest profile whose green curve is `tag`."""
    body = b"\0" * 128 + struct.pack(">I", 1) + struct.pack(">4sII", b"gTRC", 144, len(tag))
    return struct.pack(">I", len(body) + len(tag)) + body[4:] + tag


SRGB_PARAMETERS = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)


@pytest.mark.parametrize(
    ("tag", "law"),
    [
        (b"curv\0\0\0\0" + struct.pack(">IH", 1, 461), lambda v: v ** (461 / 256)),
        (b"curv\0\0\0\0" + struct.pack(">I", 0), lambda v: v),
        (
            b"curv\0\0\0\0"
            + struct.pack(">I", 1024)
            + np.rint(65535 * srgb_to_linear(np.linspace(0, 1, 1024))).astype(">u2").tobytes(),
            srgb_to_linear,
        ),
        (b"para\0\0\0\0" + struct.pack(">HHi", 0, 0, round(2.2 * 65536)), lambda v: v**2.2),
        (
            b"para\0\0\0\0" + struct.pack(">HH5i", 3, 0, *(round(v * 65536) for v in SRGB_PARAMETERS)),
            srgb_to_linear,
        ),
    ],
)
def test_the_curve_of_a_profile(tag, law):
    found = icc_table(profile(tag), 4096)
    assert found == pytest.approx(law(np.linspace(0, 1, 4096)), abs=2e-4)


@pytest.mark.parametrize(
    "broken", [b"", b"\0" * 200, profile(b"curv\0\0\0\0" + struct.pack(">I", 9)), profile(b"what")]
)
def test_a_profile_without_a_curve_says_none(broken):
    assert icc_table(broken, 256) is None


def test_a_scan_in_sixteen_bits_follows_its_profile_and_not_the_straight_line(light):
    codes = deep(light, curve=lambda v: v ** (1 / 1.8))
    out = io.BytesIO()
    tag = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(1.8 * 256))
    tifffile.imwrite(out, codes, photometric="rgb", iccprofile=profile(tag))
    picture = load_picture(out.getvalue())
    assert picture.encoding == "profile"
    assert_read(picture, light)


def test_of_many_pages_the_largest_is_read_and_said(light):
    codes = deep(light, curve=lambda v: v)
    out = io.BytesIO()
    with tifffile.TiffWriter(out) as file:
        file.write(np.zeros((60, 90, 3), np.uint16), photometric="rgb")
        file.write(codes, photometric="rgb")
        file.write(codes[..., 0], photometric="minisblack")
    picture = load_picture(out.getvalue(), name="scan.tif")
    assert np.array_equal(picture.codes, codes)
    assert "holds 3 pictures; number 2" in picture.cautions[0].text


def test_a_report_holds_no_place_no_name_and_the_same_pixels(light, tmp_path):
    shown = develop(expose(light, 1.0, np.random.default_rng(7)))
    bare = save_jpeg(shown, exposure_s=1 / 50)
    secret = b"GPS 52.1 N, serial 12345"
    place = b"\xff\xe1" + struct.pack(">H", len(secret) + 2) + secret
    path = tmp_path / "Marta at home.jpg"
    # A second picture, as telephones append one, has descriptions of its own; between passes there may stand more.
    second = bare[:2] + place + bare[2:]
    path.write_bytes(bare[:2] + place + bare[2:] + second + b"a clip behind the picture")
    kept = io.BytesIO()
    Image.fromarray(shown).save(kept, "jpeg", progressive=True)
    whole = kept.getvalue()
    last = whole.rindex(b"\xff\xda")
    assert without_personal(whole[:last] + place + whole[last:] + second, "a")[0] == whole
    report = write_report(tmp_path / "report", [path], {"patches": 6, "refused": "Marta at home.jpg: no strip"})
    packed = b"".join((tmp_path / "report" / name).read_bytes() for name in report.files)
    for word in (b"GPS", b"12345", b"Marta", b"clip behind"):
        assert word not in packed
    assert any("EXIF" in words for words in report.left_out)
    assert np.array_equal(load_picture(tmp_path / "report" / "picture-1.jpg").codes, load_picture(path).codes)
    said = json.loads((tmp_path / "report" / "report.json").read_text())
    assert said["refused"] == "picture-1.jpg: no strip"
    assert said["pictures"][0]["exposure_s"] == pytest.approx(1 / 50)
    with pytest.raises(InputError, match="not empty"):
        write_report(tmp_path / "report", [path], {})


def test_a_report_of_other_kinds_keeps_their_codes(light):
    codes = expose(light, 1.0, np.random.default_rng(8), bits=14, black=512)
    packed = report_files(
        [(digital_negative(mosaic(codes, "RGGB")), "x.dng"), (png16(deep(light), (b"tEXt", b"a\0b")), "y")], {}
    )
    assert np.array_equal(load_picture(packed.files["picture-1.tif"]).codes, codes)
    assert b"tEXt" not in packed.files["picture-2.png"]
    assert json.loads(packed.files["report.json"])["pictures"][0]["black"] == [512.0] * 3


def test_a_report_is_read_as_what_it_was_made_of(light):
    """Its own end, the way up and the curve stay; the small picture and who made the profile do not."""
    shown, deep_codes = (
        develop(expose(light, 1.0, np.random.default_rng(9))),
        deep(light, curve=lambda v: v ** (1 / 1.8)),
    )
    named = profile(b"curv\0\0\0\0" + struct.pack(">IH", 1, 461)) + b"made by Marta"
    turned, kept = Image.Exif(), io.BytesIO()
    turned[0x0112] = 6
    Image.fromarray(shown).save(kept, "jpeg", exif=turned, icc_profile=named)
    small = b"JFXX\0\x13\1\1abcuncut"
    data = kept.getvalue()
    data = data[:20] + b"\xff\xe0" + struct.pack(">H", len(small) + 2) + small + data[20:]
    scan, phone = io.BytesIO(), io.BytesIO()
    tifffile.imwrite(scan, deep_codes, photometric="rgb", iccprofile=named)
    ten = (deep_codes >> 6).astype(np.uint16)
    pillow_heif.from_bytes("RGB;16", ten.shape[1::-1], (ten << 6).tobytes()).save(phone, quality=-1, chroma=444)
    given = [(data, "a.jpg"), (scan.getvalue(), "b.tif"), (phone.getvalue(), "c.heic")]
    packed = report_files(given, {})
    for (before, name), (after, made) in zip(given, list(packed.files.items())[:-1], strict=True):
        one, other = load_picture(before, name=name), load_picture(made, name=after)
        assert one.codes.shape == other.codes.shape
        assert other.linear(other.codes) == pytest.approx(one.linear(one.codes), abs=2e-4)
        assert b"Marta" not in made and b"uncut" not in made
    assert "picture-1.jpg: a thumbnail" in packed.left_out


def test_what_cannot_be_read_is_reported_without_a_byte_of_it():
    packed = report_files([(b"\xff\xd8\xff\xe1Marta", "Marta.jpg")], {"refused": "Marta.jpg: no"})
    (said,) = packed.files.values()
    assert b"Marta" not in said and json.loads(said)["pictures"][0]["refused"].startswith("the file ends before")
    assert packed.left_out[0].startswith("picture-1: all of it")


def test_where_no_strip_is_found_the_command_gives_corners_to_be_put_right(tmp_path, capsys):
    path = tmp_path / "panel.png"
    path.write_bytes(png16(np.full((120, 200, 3), 40_000, np.uint16)))
    assert run(["read", str(path), "--patches", "4", "--report", str(tmp_path / "report")]) == 2
    said = capsys.readouterr().err
    corners = next(word for word in said.split() if word.count(",") == 7)
    assert "200 by 120 pixels" in said and (tmp_path / "report" / "picture-1.png").is_file()
    assert run(["read", str(path), "--patches", "4", "--corners", corners]) == 0
    path.write_bytes(png16(np.full((120, 200, 3), 65535, np.uint16)))
    assert run(["read", str(path), "--patches", "4"]) == 2
    assert "white all over; expose shorter" in capsys.readouterr().err


def test_the_command_prints_what_it_believed_ready_to_be_given_again(light, tmp_path, capsys):
    path = tmp_path / "strip.png"
    path.write_bytes(png16(deep(light), (b"sRGB", b"\0")))
    assert run(["read", str(path), "--patches", "4"]) == 0
    said = capsys.readouterr().out
    assert "speak rather for" in said or "beyond the last one read" in said
    believed = next(line for line in said.splitlines() if line.startswith("Believed: "))
    again = believed.removeprefix("Believed: ").split()
    assert run(["read", str(path), "--patches", "4", "--json"]) == 0
    first = json.loads(capsys.readouterr().out)
    assert run(["read", str(path), "--patches", "4", *again, "--accept", "--json"]) == 0
    second = json.loads(capsys.readouterr().out)
    assert [p["density"] for p in second["patches"]] == pytest.approx(
        [p["density"] for p in first["patches"]], abs=0.01
    )
    assert not [c for c in second["cautions"] if c["where"] == "patches"]
    assert run(["read", str(path), "--patches", "5", "--shift", "1", "--json"]) == 0
    moved = json.loads(capsys.readouterr().out)
    assert len(moved["patches"]) == 5


def test_a_scan_is_known_by_what_its_file_says(light):
    codes = deep(light)
    fine, coarse = io.BytesIO(), io.BytesIO()
    tifffile.imwrite(fine, codes, photometric="rgb", resolution=(2400, 2400), resolutionunit=2)
    tifffile.imwrite(coarse, codes, photometric="rgb", resolution=(300, 300), resolutionunit=2)
    assert load_picture(fine.getvalue()).scanned and not load_picture(coarse.getvalue()).scanned
    dots = struct.pack(">IIB", 47244, 47244, 1)  # 1200 to the inch
    assert load_picture(png16(codes, (b"pHYs", dots))).scanned and not load_picture(png16(codes)).scanned


def test_a_picture_that_was_brightened_part_by_part_is_told_to_be_so(light):
    plain = save_jpeg(develop(expose(light, 1.0, np.random.default_rng(1))))
    entry = struct.pack("<HHIHH", 0xA401, 3, 1, 1, 0)
    exif = b"Exif\0\0II*\0\x08\0\0\0" + struct.pack("<H", 1) + entry + bytes(4)
    for body in (exif, b"http://ns.example/xap/1.0/\0<x hdrgm:Version='1.0'/>"):
        told = plain[:2] + b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body + plain[2:]
        assert [c.code for c in load_picture(told).cautions] == ["picture.by_parts"]
    assert load_picture(plain).cautions == ()
