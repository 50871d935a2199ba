"""Bad pictures: one clear sentence each, and nothing decoded before its size is known."""

import io
import struct
import subprocess
import sys
import tracemalloc
import zlib

import imagecodecs
import numpy as np
import pytest
import tifffile
from PIL import Image

from benchmarks.picture_fuzz import SEEDS, fuzz
from benchmarks.simulated_files import save_jpeg, save_png
from obverse.capture import load_picture, save_tiff
from obverse.cli.main import run
from obverse.densitometry import read_strip
from obverse.foundation import InputError
from obverse.imaging import Picture
from obverse.imaging.render import RenderedScene, RenderedStrip, develop, expose, render
from obverse.workbench import camera as place_of_camera

GREY = np.full((60, 80, 3), 128, dtype=np.uint8)


def tiff(codes, **options):
    out = io.BytesIO()
    tifffile.imwrite(out, codes, **options)
    return out.getvalue()


def png_chunk(kind, body):
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png(width, height, bits, colour, packed=b"", extra=b""):
    header = struct.pack(">IIBBBBB", width, height, bits, colour, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + png_chunk(b"IHDR", header) + extra + png_chunk(b"IDAT", packed) + png_chunk(b"IEND", b"")
    )


def jpeg_of_size(width, height):
    data = bytearray(imagecodecs.jpeg8_encode(GREY))
    place = data.find(b"\xff\xc0")
    data[place + 5 : place + 9] = struct.pack(">HH", height, width)
    return bytes(data)


BAD = {
    "empty": (b"", "the file is empty"),
    "text": (b"patch,density\n1,0.05\n" * 50, "text, not a picture"),
    "noise": (np.random.default_rng(1).bytes(5000), "no kind of picture"),
    "zip": (b"PK\x03\x04" + bytes(100), "ZIP archive"),
    "gif": (b"GIF89a" + bytes(100), "GIF"),
    "film clip": (b"\0\0\0\x18ftypisom" + bytes(100), "film clip"),
    "pdf": (b"%PDF-1.7\n" + bytes(100), "PDF"),
    "jpeg cut": (
        save_jpeg(np.random.default_rng(2).integers(0, 255, (90, 90, 3), dtype=np.uint8))[:-900],
        "ends before the picture",
    ),
    "jpeg cut in its head": (save_jpeg(GREY)[:30], "ends before the picture"),
    "png cut": (save_png(GREY)[:-30], "ends before the picture"),
    "tiff cut": (tiff(GREY.astype(np.uint16))[:-5000], "ends before the picture"),
    "tiff cut in its head": (tiff(GREY)[:6], "damaged"),
    "jpeg cmyk": (
        imagecodecs.jpeg8_encode(np.zeros((20, 20, 4), np.uint8), colorspace="CMYK", outcolorspace="CMYK"),
        "CMYK",
    ),
    "tiff cmyk": (tiff(np.zeros((20, 20, 4), np.uint8), photometric="separated"), "CMYK"),
    "tiff 1 bit": (tiff(np.zeros((32, 32), bool)), "only 1 bit"),
    "png 1 bit": (png(16, 2, 1, 0, zlib.compress(b"\0\0\0" * 2)), "only 1 bit"),
    "png palette": (png(4, 1, 8, 3, zlib.compress(b"\0\0\0\0\0")), "palette"),
    "png animated": (
        png(4, 1, 8, 0, zlib.compress(bytes(5)), png_chunk(b"acTL", struct.pack(">II", 2, 0))),
        "animated",
    ),
    "png 20000": (png(20_000, 20_000, 8, 2, zlib.compress(bytes(100))), "20000 by 20000"),
    "jpeg 20000": (jpeg_of_size(20_000, 300), "20000 by 300"),
    "png with a damaged picture": (png(40, 40, 8, 2, b"not deflate"), "damaged"),
    "tiff of numbers that are none": (tiff(np.full((30, 30), np.nan, np.float32)), "not numbers"),
}


@pytest.mark.parametrize("name", BAD)
def test_one_sentence(name):
    data, words = BAD[name]
    with pytest.raises(InputError) as caught:
        load_picture(data, name="strip.x")
    sentence = caught.value.sentence
    assert words in sentence
    assert sentence.startswith("strip.x: ")
    assert sentence.endswith(".") and "\n" not in sentence and len(sentence) < 200


def test_a_large_text_is_known_by_its_first_bytes(tmp_path):
    path = tmp_path / "list.tif"
    with path.open("wb") as file:
        file.write(b"density 0.05\n" * 1000)
        file.truncate(200_000_000)
    tracemalloc.start()
    with pytest.raises(InputError, match="text, not a picture"):
        load_picture(path)
    assert tracemalloc.get_traced_memory()[1] < 1_000_000
    tracemalloc.stop()


@pytest.fixture(scope="module")
def bomb():
    return zlib.compress(bytes(120_000_000), 9)


@pytest.mark.parametrize("kind", ["png", "text chunk", "tiff"])
def test_a_bomb_is_not_unpacked(kind, bomb):
    if kind == "png":
        data = png(40, 30, 8, 2, bomb)
    elif kind == "text chunk":
        data = png(40, 30, 8, 2, zlib.compress(bytes(30 * 121)), png_chunk(b"zTXt", b"x\0\0" + bomb))
    else:
        plain = tiff(np.zeros((30, 40, 3), np.uint8), photometric="rgb", compression="zlib")
        with tifffile.TiffFile(io.BytesIO(plain)) as file:
            tags = file.pages[0].tags
            offsets, counts = tags["StripOffsets"].valueoffset, tags["StripByteCounts"].valueoffset
            wide = tags["StripByteCounts"].dtype.value == 4, tags["StripOffsets"].dtype.value == 4
        grown = bytearray(plain + bomb)
        struct.pack_into("<I" if wide[1] else "<H", grown, offsets, len(plain))
        struct.pack_into("<I" if wide[0] else "<H", grown, counts, len(bomb) if wide[0] else min(len(bomb), 65535))
        data = bytes(grown)
    before = peak_memory()
    try:
        picture = load_picture(data)
        assert picture.codes.shape == (30, 40, 3)
    except InputError as error:
        assert "damaged" in error.sentence
    assert peak_memory() - before < 60_000_000


def peak_memory() -> int:
    import resource

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def strip_picture(count=6, densities=None, **scene):
    strip = RenderedStrip(densities or tuple(np.linspace(0.1, 1.6, count)), pitch_mm=30)
    corners = np.array([[60.0, 110], [360, 110], [360, 170], [60, 170]])
    rng = np.random.default_rng(7)
    light = render(strip, RenderedScene(420, 280, corners, mask=True, **scene), rng)
    return strip, light, rng


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_picture_turned_by_exif_reads_the_same(orientation):
    strip, light, rng = strip_picture()
    codes = develop(expose(light, 1.0, rng))
    # What the camera would have stored for this view, held that way.
    undo = {
        1: lambda a: a,
        2: lambda a: a[:, ::-1],
        3: lambda a: a[::-1, ::-1],
        4: lambda a: a[::-1],
        5: lambda a: a.swapaxes(0, 1),
        6: lambda a: a.swapaxes(0, 1)[::-1],
        7: lambda a: a[::-1, ::-1].swapaxes(0, 1),
        8: lambda a: a.swapaxes(0, 1)[:, ::-1],
    }[orientation]
    picture = load_picture(save_jpeg(np.ascontiguousarray(undo(codes)), orientation=orientation, exposure_s=0.01))
    assert picture.codes.shape == codes.shape
    assert picture.exposure_s == pytest.approx(0.01)
    # Packed held that way, and so not to the last code the same.
    assert np.abs(picture.codes.astype(float) - codes).mean() < 1
    if orientation == 6:
        assert read_strip([picture], 6).density == pytest.approx(strip.densities, abs=0.03)


@pytest.mark.parametrize("asked", [7, 8, 9, 11, 12])
def test_another_number_of_patches_is_read_as_asked_and_cautioned(asked):
    _, light, rng = strip_picture(10)
    picture = Picture(expose(light, 1.0, rng))
    reading = read_strip([picture], asked)
    assert len(reading.patches) == asked
    (said,) = [c for c in reading.cautions if c.where == "patches"]
    assert said.code in ("patches.count", "patches.elsewhere")
    if said.code == "patches.count":
        assert f"speak rather for 10 patches than for {asked}." in said.text
        assert reading.document()["against"][0]["patches"] == 10
    taken = read_strip([picture], asked, accept=True)
    assert not [c for c in taken.cautions if c.where == "patches"]


def test_a_row_that_shows_few_of_its_steps_is_cautioned():
    """Ten patches, of which two differ from their neighbours."""
    _, light, rng = strip_picture(10, densities=(0.4, 0.4, 0.4, 0.4, 1.2, 1.2, 1.2, 0.4, 0.4, 0.4))
    reading = read_strip([Picture(expose(light, 1.0, rng))], 10, accept=False)
    assert [c.code for c in reading.cautions if c.where == "patches"] == ["patches.faint"]
    (said,) = [c.text for c in reading.cautions if c.code == "patches.faint"]
    assert "at 2 of 9 places" in said


def test_the_right_number_of_patches_is_not_doubted():
    _, light, rng = strip_picture(10)
    assert not [c for c in read_strip([Picture(expose(light, 1.0, rng))], 10).cautions if c.where == "patches"]


@pytest.mark.parametrize("patches", [0, -3, 201, True, 2.5])
def test_an_impossible_number_of_patches(patches):
    _, light, rng = strip_picture()
    with pytest.raises(InputError, match="whole number from 1 to 200"):
        read_strip([Picture(expose(light, 1.0, rng))], patches)


def test_no_panel_visible():
    strip = RenderedStrip((0.2, 0.6, 1.0, 1.4), pitch_mm=60)
    filling = np.array([[-40.0, -60], [460, -60], [460, 340], [-40, 340]])
    rng = np.random.default_rng(8)
    picture = Picture(expose(render(strip, RenderedScene(420, 280, filling), rng), 1.0, rng))
    with pytest.raises(InputError, match="panel"):
        read_strip([picture], 4)
    with pytest.raises(InputError, match="no open panel is visible beside the strip"):
        read_strip([picture], 4, [(0, 0), (419, 0), (419, 279), (0, 279)])


@pytest.mark.parametrize("level", [0, 30000])
def test_an_even_picture_has_no_strip(level):
    codes = np.random.default_rng(9).normal(level, 50, (200, 300, 3)).clip(0, 65535).astype(np.uint16)
    with pytest.raises(InputError, match=r"black|no strip"):
        read_strip([Picture(codes)], 5)


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        ([(60, 110), (360, 110), (60, 170), (360, 170)], "do not go round"),
        ([(60, 110), (360, 110), (900, 170), (60, 170)], "outside the picture"),
        ([(60, 110), (60, 110), (60, 110), (60, 110)], "do not go round"),
        ([(60, 110), (360, float("nan")), (360, 170), (60, 170)], "not four points"),
        ([(60, 110), (360, 110)], "not four points"),
    ],
)
def test_corners_that_make_no_strip(corners, words):
    _, light, rng = strip_picture()
    with pytest.raises(InputError, match=words):
        read_strip([Picture(expose(light, 1.0, rng))], 6, corners)


def with_borders(densities, lead_mm, rebate=2.45):
    strip = RenderedStrip(densities, pitch_mm=24, rebate_density=rebate, lead_mm=lead_mm)
    corners = np.array([[60.0, 120], [540, 120], [540, 216], [60, 216]])
    rng = np.random.default_rng(23)
    return Picture(expose(render(strip, RenderedScene(600, 340, corners, mask=True, grain=0.02), rng), 1.0, rng))


@pytest.mark.parametrize("lead_mm", [24.0, 4.0])
def test_a_stretch_of_border_as_long_as_a_patch_alone_is_no_reason_for_doubt(lead_mm):
    reading = read_strip([with_borders((0.15, 0.5, 0.9, 1.3, 1.7, 2.1), (4.0, lead_mm))], 6)
    assert reading.density == pytest.approx((0.15, 0.5, 0.9, 1.3, 1.7, 2.1), abs=0.02)
    assert not [c for c in reading.cautions if c.where == "patches"] and not reading.others


def test_where_the_row_may_begin_at_two_places_both_are_told_and_either_is_read_as_asked():
    """Two patches and the film beyond the row are alike: of four stretches of a patch's length any may be the row's."""
    densities = (1.7, 1.7, 0.3, 0.6, 0.9, 1.2, 1.5)
    picture = with_borders(densities, (5.0, 28.0), rebate=1.7)
    reading = read_strip([picture], 7)
    assert reading.density == pytest.approx((1.7, 0.3, 0.6, 0.9, 1.2, 1.5, 1.7), abs=0.02)
    (said,) = [c for c in reading.cautions if c.where == "patches"]
    assert said.code == "patches.elsewhere" and "elsewhere: all of it one patch earlier." in said.text
    assert [one.words for one in reading.others] == ["all of it one patch earlier"]
    taken = read_strip([picture], 7, other=1)
    assert taken.density == pytest.approx(densities, abs=0.02)
    assert taken.area == reading.others[0].corners
    assert not [c for c in taken.cautions if c.where == "patches"] and not taken.others
    with pytest.raises(InputError, match="no other placing 2"):
        read_strip([picture], 7, other=2)
    with pytest.raises(InputError, match="corners were given too"):
        read_strip([picture], 7, reading.area, other=1)


def bracket(second, turned=0.0, shift=(0.0, 0.0), name="b.tif"):
    """Two exposures, the camera touched in between; the second shows the strip `second`."""
    strip = RenderedStrip(tuple(np.linspace(0.1, 2.6, 6)), pitch_mm=30)
    corners = np.array([[60.0, 110], [360, 110], [360, 170], [60, 170]])
    middle = corners.mean(0)
    turn = np.array([[np.cos(turned), np.sin(turned)], [-np.sin(turned), np.cos(turned)]])
    moved = (corners - middle) @ turn + middle + shift
    rng = np.random.default_rng(21)
    lights = [
        render(s, RenderedScene(420, 280, c, mask=True), rng) for s, c in ((strip, corners), (second or strip, moved))
    ]
    return [
        Picture(expose(light, t, rng), exposure_s=t, name=n)
        for light, t, n in zip(lights, (1.0, 16.0), ("a.tif", name), strict=True)
    ], lights[0]


@pytest.mark.parametrize("shift", [(3.0, 0.0), (-7.0, 5.0), (22.0, -9.0)])
def test_shifted_pictures_of_a_bracket_are_laid_on_each_other(shift):
    pictures, light = bracket(None, shift=shift)
    reading = read_strip(pictures, 6)
    (said,) = [c for c in reading.cautions if c.code == "bracket.shifted"]
    assert f"b.tif lies {np.hypot(*shift):.0f} pixels off a.tif" in said.text
    assert reading.density == pytest.approx(light.densities, abs=0.02)


def test_pictures_that_lie_right_are_not_called_shifted():
    reading = read_strip(bracket(None)[0], 6)
    assert not [c for c in reading.cautions if c.where == "bracket"]


@pytest.mark.parametrize("turned", [0.08, 0.12])
def test_a_turned_picture_in_a_bracket_is_told(turned):
    reading = read_strip(bracket(None, turned=turned)[0], 6)
    (said,) = [c for c in reading.cautions if c.code == "bracket.loose"]
    assert said.text.startswith("b.tif: this fits a.tif only roughly")


def test_a_picture_of_something_else_in_a_bracket_is_refused():
    with pytest.raises(InputError, match=r"b\.tif does not show the same view as a\.tif"):
        read_strip(bracket(RenderedStrip((2.4, 0.2, 1.5, 0.9), pitch_mm=45))[0], 6)


def picture_of_four(rng):
    corners = np.array([[60.0, 110], [360, 110], [360, 170], [60, 170]])
    return render(RenderedStrip((1.6, 1.2, 0.8, 0.4), pitch_mm=40), RenderedScene(420, 280, corners, mask=True), rng)


def test_a_picture_given_twice_counts_once_and_finished_ones_of_one_exposure_make_no_curve():
    rng = np.random.default_rng(24)
    light = picture_of_four(rng)
    first, second = (load_picture(save_jpeg(develop(expose(light, 0.9, rng))), name=n) for n in ("a.jpg", "b.jpg"))
    alone = read_strip([first], 4)
    for pictures, code in (([first, first], "bracket.twice"), ([first, second], "bracket.alike")):
        reading = read_strip(pictures, 4)
        assert [c.code for c in reading.cautions if c.where == "bracket"] == [code]
        assert reading.density == pytest.approx(alone.density)


def test_the_empty_panel_among_the_pictures_of_a_strip_is_named():
    rng = np.random.default_rng(25)
    light = picture_of_four(rng)
    codes = np.asarray(develop(expose(light, 0.9, rng)))
    empty = np.clip(np.median(codes[:20]) + rng.normal(size=codes.shape), 0, 255).astype(np.uint8)
    pictures = [load_picture(save_jpeg(c), name=n) for c, n in ((codes, "a.jpg"), (empty, "panel.jpg"))]
    with pytest.raises(InputError, match=r"panel\.jpg does not show the same view.*empty panel is given as that"):
        read_strip(pictures, 4)


def test_pictures_of_different_size_do_not_merge():
    with pytest.raises(InputError, match="pictures of the same view"):
        read_strip([Picture(np.zeros((50, 50, 3), np.uint16)), Picture(np.zeros((50, 51, 3), np.uint16))], 3)


def test_the_command_says_one_sentence_and_leaves_with_2(tmp_path, capsys):
    path = tmp_path / "strip.tif"
    path.write_bytes(b"hello\n")
    assert run(["read", str(path), "--patches", "5"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert (
        said.err
        == "strip.tif: this is text, not a picture; give a linear 16-bit TIFF, a camera RAW file, or a JPEG, PNG, HEIC or AVIF picture.\n"
    )
    assert run(["read", str(tmp_path), "--patches", "5"]) == 2
    assert capsys.readouterr().err.endswith("it is a folder; name the pictures in it.\n")
    good = tmp_path / "good.tif"
    good.write_bytes(save_tiff(np.zeros((50, 60, 3), np.uint16)))
    assert run(["read", str(good), "--patches", "5", "--corners", "1,2,3"]) == 2
    assert "8 numbers are needed, not 3" in capsys.readouterr().err


def classic(*entries, following=0, order="<"):
    """One directory of a TIFF, its entries as (tag, kind, count, value)."""
    body = b"".join(struct.pack(order + "HHII", *entry) for entry in entries)
    return struct.pack(order + "H", len(entries)) + body + struct.pack(order + "I", following)


ROUND = {
    "points to itself": b"II*\0" + struct.pack("<I", 8) + classic(following=8),
    "points to itself, other order": b"MM\0*" + struct.pack(">I", 8) + classic(following=8, order=">"),
    "two point to each other": b"II*\0" + struct.pack("<I", 8) + classic(following=14) + classic(following=8),
    "is its own sub-directory": b"II*\0" + struct.pack("<I", 8) + classic((330, 4, 1, 8)),
    "large form": b"II+\0" + struct.pack("<HHQ", 8, 0, 16) + struct.pack("<QQ", 0, 16),
}


READ_ALL = """
import sys
from obverse.capture import load_picture
from obverse.foundation import InputError
for path in sys.argv[1:]:
    try:
        load_picture(path, name="strip.tif")
    except InputError as error:
        print(error.sentence, flush=True)
"""


def test_directories_that_go_round_end(tmp_path):
    """In a process of its own: what hangs must not hang the suite."""
    assert len(ROUND["points to itself"]) == 14
    for name, data in ROUND.items():
        (tmp_path / name).write_bytes(data)
    command = [sys.executable, "-c", READ_ALL, *(tmp_path / name for name in ROUND)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=600)
    told = "strip.tif: the TIFF file is damaged: an image directory leads back to itself; copy it again."
    assert done.stdout.splitlines() == [told] * len(ROUND)


def test_a_chain_of_directories_without_end_is_not_followed():
    chain = b"II*\0" + struct.pack("<I", 8) + b"".join(classic(following=14 + 6 * k) for k in range(5000))
    with pytest.raises(InputError, match="more than 100 image directories"):
        load_picture(chain)


def test_an_entry_that_claims_more_than_the_file_is_not_read():
    data = b"II*\0" + struct.pack("<I", 8) + classic((273, 4, 2**31, 8))
    with pytest.raises(InputError, match="points beyond its end"):
        load_picture(data)


def resized_jpeg(width, height, passes=0, progressive=True):
    """A JPEG of several passes, or of one, that states another size; its last pass stands `passes` times more."""
    out = io.BytesIO()
    Image.fromarray(GREY).save(out, "JPEG", progressive=progressive)
    data = bytearray(out.getvalue())
    place = data.find(b"\xff\xc2" if progressive else b"\xff\xc0")
    data[place + 5 : place + 9] = struct.pack(">HH", height, width)
    last = data.rfind(b"\xff\xda")
    return bytes(data[:-2] + data[last:-2] * passes + data[-2:])


def packed_tiff(compression):
    """A TIFF that states 16 by 16 pixels; what is packed inside states 2048 by 2048."""
    data = bytearray(tiff(np.zeros((2048, 2048, 3), np.uint8), photometric="rgb", compression=compression))
    with tifffile.TiffFile(io.BytesIO(bytes(data))) as file:
        for name in ("ImageWidth", "ImageLength", "RowsPerStrip"):
            tag = file.pages[0].tags[name]
            struct.pack_into("<H" if tag.dtype == 3 else "<I", data, tag.valueoffset, 16)
    return bytes(data)


def wide_tiles():
    data = bytearray(tiff(np.zeros((32, 32, 3), np.uint8), photometric="rgb", tile=(16, 16)))
    with tifffile.TiffFile(io.BytesIO(bytes(data))) as file:
        for name in ("TileWidth", "TileLength"):
            tag = file.pages[0].tags[name]
            struct.pack_into("<H" if tag.dtype == 3 else "<I", data, tag.valueoffset, 60_000)
    return bytes(data)


SECOND_HEAD = png_chunk(b"IHDR", struct.pack(">IIBBBBB", 10, 10, 8, 2, 0, 0, 0))

GREEDY = {
    "jpeg of few bytes": (lambda: resized_jpeg(16_000, 7_500), "it states 16000 by 7500 pixels, more than its"),
    "jpeg of few bytes and 200 million pixels": (
        lambda: resized_jpeg(17_320, 11_548, progressive=False),
        "it states 17320",
    ),
    "jpeg of 200 million pixels in passes": (lambda: resized_jpeg(17_320, 11_548), "and 120 million in all"),
    "jpeg of many passes": (lambda: resized_jpeg(80, 60, passes=2000), "passes"),
    "png of few bytes": (lambda: png(10_000, 10_000, 8, 2, zlib.compress(bytes(100))), "it states 10000 by 10000"),
    "png of two heads": (lambda: png(10, 10, 8, 2, zlib.compress(bytes(310)), SECOND_HEAD), "the PNG is damaged"),
    "tiff packed otherwise": (lambda: packed_tiff("jpeg2000"), "packed in a way that is not read here"),
    "tiff of wide tiles": (wide_tiles, "its tiles are larger than it"),
}


@pytest.mark.parametrize("name", GREEDY)
def test_what_asks_for_more_than_it_holds_gets_no_room(name):
    make, words = GREEDY[name]
    data = make()
    before = peak_memory()
    with pytest.raises(InputError, match=words):
        load_picture(data)
    assert peak_memory() - before < 20_000_000


@pytest.mark.parametrize("kind", ["heic", "avif"])
def test_a_few_bytes_that_state_80_million_pixels_are_refused(kind):
    """Such a file kept the reader for seconds and took a gigabyte; found by benchmarks/picture_fuzz.py."""
    data = bytearray(SEEDS[kind]()[0])
    place = data.find(b"ispe")
    struct.pack_into(">II", data, place + 8, 16_000, 5_000)
    with pytest.raises(InputError, match="states 16000 by 5000 pixels, more than its"):
        load_picture(bytes(data), name="strip")


@pytest.mark.parametrize("kind", SEEDS)
def test_mutated_files_neither_hang_nor_take_much_memory(kind):
    """A short share of what benchmarks/picture_fuzz.py does at length; the decoders of film frames are slow."""
    files = 10 if kind in ("heic", "avif") else 60
    tally = fuzz(kind, 1_000_000, files)
    assert tally.bad == []
    assert tally.files == tally.read + tally.refused == files


def test_pictures_at_hand_are_bounded_by_their_bytes(workbench, monkeypatch):
    """A small file may unpack to much more: a picture larger than what is spared is decoded anew each time."""
    spared = 4_000_000
    assert place_of_camera._KEPT_DECODED_BYTES <= 256 * 1024 * 1024
    monkeypatch.setattr(place_of_camera, "_KEPT_DECODED_BYTES", spared)
    for side, kept in ((500, 1), (900, 2), (1200, 0)):
        camera = workbench.camera
        camera.add(imagecodecs.png_encode(np.zeros((side, side, 3), np.uint8)), f"{side}.png")
        assert sum(picture.codes.nbytes for picture in camera._decoded.values()) <= spared
        assert len(camera._decoded) == kept
