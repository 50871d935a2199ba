"""The picture page in a real browser, at a laptop's and a phone's width."""

import numpy as np
import pytest

from benchmarks.render_random import Draw, random_scene, random_strip
from benchmarks.simulated_files import save_jpeg
from obverse.imaging.render import develop, expose, render

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
