"""The picture page in a real browser, at a laptop's and a phone's width."""

import zipfile

import numpy as np
import pytest

from benchmarks.render_random import Draw, random_scene, random_strip
from benchmarks.simulated_files import save_jpeg
from obverse.capture import load_picture
from obverse.imaging.render import RenderedScene, RenderedStrip, develop, expose, render

from .conftest import LAPTOP, PHONE, overflow


def test_a_strip_is_read_its_corners_moved_by_key_and_laid_on_the_table(house, page_at, picture_of, axe):
    page = page_at(LAPTOP)
    page.set_default_timeout(60_000)
    page.goto(house.url + "/light-table/picture")
    page.click("#simulated")
    page.wait_for_selector("#pictures li")
    page.click("#read")
    page.wait_for_selector("#result:not([hidden])")
    assert page.inner_text("#found") == "strip found"
    assert page.locator("#table tbody tr").count() == 11
    assert page.locator(".handle").count() == 4
    for width in (LAPTOP, PHONE):
        page.set_viewport_size({"width": width, "height": 844})
        assert overflow(page) <= 0
        picture_of(page, "camera-read")
    axe(page)
    first = page.locator(".handle").first
    before = first.get_attribute("aria-label")
    first.focus()
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("ArrowDown")
    assert first.get_attribute("aria-label") != before
    assert "by hand" in page.inner_text("#found")
    box = page.locator(".handle").nth(2).bounding_box()
    page.mouse.move(box["x"] + 22, box["y"] + 22)
    page.mouse.down()
    page.mouse.move(box["x"] + 19, box["y"] + 24)
    page.mouse.up()
    page.click("#read")
    page.locator("#found", has_text="corners by hand").and_(
        page.locator("#found", has_not_text="read again")
    ).wait_for()
    page.click("#onward-button")
    page.wait_for_url("**/light-table?reading=*")
    page.wait_for_selector("#readings tbody tr")
    assert page.locator("#readings tbody tr").count() == 11


def untimed_bracket() -> tuple[int, list[bytes]]:
    """Two small pictures for the eye, two stops apart, that state no shutter times."""
    rng, how = np.random.default_rng(31), Draw(width=560, height=370, most_density=1.8)
    strip = random_strip(rng, how)
    light = render(strip, random_scene(strip, rng, how), rng)
    return len(strip.densities), [save_jpeg(develop(expose(light, time, rng)), quality=92) for time in (1.0, 0.25)]


def test_what_is_no_picture_gets_its_sentence_and_a_bracket_without_times_its_buttons(house, page_at):
    page = page_at(LAPTOP)
    page.goto(house.url + "/light-table/picture")
    page.set_input_files("#files", {"name": "list.tif", "mimeType": "image/tiff", "buffer": b"density 0.1\n"})
    page.wait_for_selector("#pictures .refused")
    assert "list.tif: this is text, not a picture" in page.inner_text("#pictures .refused")
    assert page.is_disabled("#read")
    patches, files = untimed_bracket()
    page.set_input_files(
        "#files", [{"name": f"{n}.jpg", "mimeType": "image/jpeg", "buffer": data} for n, data in enumerate(files)]
    )
    page.wait_for_selector("#pictures li:nth-child(2)")
    page.wait_for_selector("#read:not([disabled])")
    page.fill("#patches", str(patches))
    page.click("#read")
    page.wait_for_selector("#against button:has-text('2 stops apart')")
    densities = (
        "[...document.querySelectorAll('#table tbody tr')].map((row) => Number(row.cells[1].textContent.split(' ')[0]))"
    )
    by_two = page.evaluate(densities)
    page.click("#against button:has-text('1 stop apart')")
    # Half the stops between the pictures make every density about half as high.
    page.wait_for_selector("#against button", state="detached")
    assert page.input_value("#stops") == "1"
    assert sum(page.evaluate(densities)) == pytest.approx(0.53 * sum(by_two), rel=0.1)


# Two patches as dense as the film beyond the row, of which there is none before them and more than a patch at the other end: the
# picture cannot tell where the row begins, and the likelier place, one later, is the wrong one.
MERGED = (1.7, 1.7, 0.3, 0.6, 0.9, 1.2, 1.5)

LEAD_MM = (5.0, 28.0)


def merged_strip() -> bytes:
    strip = RenderedStrip(MERGED, pitch_mm=24, rebate_density=1.7, lead_mm=LEAD_MM)
    corners = np.array([[50.0, 130], [650, 130], [650, 224], [50, 224]])
    rng = np.random.default_rng(5)
    light = render(strip, RenderedScene(700, 360, corners, mask=True, grain=0.02), rng)
    return save_jpeg(develop(expose(light, 1.0, rng)), quality=92, exposure_s=0.01)


def densities_on(page) -> list[float]:
    return page.evaluate(
        "[...document.querySelectorAll('#table tbody tr')].map((row) => Number(row.cells[1].textContent.split(' ')[0]))"
    )


@pytest.mark.parametrize("width", [LAPTOP, PHONE])
def test_a_row_found_in_the_wrong_place_is_put_right_by_press_by_shift_and_by_dragging(
    house, page_at, picture_of, width, tmp_path
):
    page = page_at(width)
    page.goto(house.url + "/light-table/picture")
    page.set_input_files("#files", {"name": "merged.jpg", "mimeType": "image/jpeg", "buffer": merged_strip()})
    page.wait_for_selector("#pictures li")
    page.fill("#patches", str(len(MERGED)))
    page.click("#read")
    page.wait_for_selector("#result:not([hidden])")
    assert densities_on(page) != pytest.approx(MERGED, abs=0.12)
    assert "The row may as well lie elsewhere" in page.inner_text("#against")
    picture_of(page, "camera-elsewhere")

    def read_anew(press):
        with page.expect_response("**/api/light-table/pictures/read"):
            press()
        page.wait_for_selector("#working", state="hidden")

    read_anew(lambda: page.click("#against button:has-text('Read it so: all of it one patch')"))
    assert densities_on(page) == pytest.approx(MERGED, abs=0.12)
    assert "elsewhere" not in page.inner_text("#against")
    # The same by the two buttons.
    read_anew(lambda: page.click("#find"))
    assert densities_on(page) != pytest.approx(MERGED, abs=0.12)
    read_anew(lambda: page.click("#earlier"))
    assert densities_on(page) == pytest.approx(MERGED, abs=0.12)
    # A divider dragged half into its neighbour and back is where it was dragged, after each reading.
    page.click("#dividers")
    divider = page.locator(".divider").nth(2)
    divider.scroll_into_view_if_needed()
    pitch = page.locator(".divider").nth(3).bounding_box()["x"] - divider.bounding_box()["x"]
    for way in (1, -1):
        box, before = divider.bounding_box(), float(divider.get_attribute("aria-valuenow"))
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + way * 0.5 * pitch, y, steps=5)
        page.mouse.up()
        picture_of(page, f"camera-divider-{way}")
        read_anew(lambda: page.click("#again"))
        moved = float(divider.get_attribute("aria-valuenow")) - before
        assert moved == pytest.approx(way * 50 / len(MERGED), abs=1.0)
    assert densities_on(page) == pytest.approx(MERGED, abs=0.12)
    # Found again and laid with all four corners by hand, dragged from where the row was thought to lie.
    page.click("#dividers")
    read_anew(lambda: page.click("#find"))
    stage = page.locator("#canvas").bounding_box()
    scale = stage["width"] / 700
    whole = sum(LEAD_MM) + 24 * len(MERGED)
    ends = [50 + 600 * mm / whole for mm in (LEAD_MM[0], whole - LEAD_MM[1])]
    for k, (x, y) in enumerate([(ends[0], 140), (ends[1], 140), (ends[1], 214), (ends[0], 214)]):
        handle = page.locator(".handle").nth(k)
        handle.scroll_into_view_if_needed()
        stage, box = page.locator("#canvas").bounding_box(), handle.bounding_box()
        page.mouse.move(box["x"] + 22, box["y"] + 22)
        page.mouse.down()
        page.mouse.move(stage["x"] + x * scale, stage["y"] + y * scale, steps=5)
        picture_of(page, f"camera-held-{k}")
        page.mouse.up()
    picture_of(page, "camera-corners-dragged")
    read_anew(lambda: page.click("#again"))
    assert "by hand" in page.inner_text("#found")
    assert densities_on(page) == pytest.approx(MERGED, abs=0.12)
    if page.is_visible("#accept"):
        read_anew(lambda: page.click("#accept"))
    assert overflow(page) <= 0
    picture_of(page, "camera-put-right")
    # What was put right is what is kept.
    page.reload()
    page.goto(house.url + "/light-table/picture")
    page.click("a:has-text('merged.jpg')")
    page.wait_for_selector("#result:not([hidden])")
    assert densities_on(page) == pytest.approx(MERGED, abs=0.12)
    # The report shows what is taken out before it is kept.
    page.click("#report-box summary")
    page.click("#report")
    page.wait_for_selector("#report-made a")
    assert "picture-1.jpg: EXIF or XMP (place, time, maker, serial number, thumbnail)" in page.inner_text(
        "#report-made"
    )
    picture_of(page, "camera-report")
    with page.expect_download() as download:
        page.click("#report-made a")
    download.value.save_as(tmp_path / "report.zip")
    with zipfile.ZipFile(tmp_path / "report.zip") as archive:
        bare = archive.read("strip-report/picture-1.jpg")
        # Of what EXIF says the exposure alone is written anew, in the least that holds it.
        assert load_picture(bare).exposure_s == pytest.approx(0.01) and bare[4:6] == b"\0\x48"
        assert b"merged" not in b"".join(archive.read(name) for name in archive.namelist())
