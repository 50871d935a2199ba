"""The care pages in a browser: at both widths, with the clock of a used ammonia bath."""

import pytest

from .conftest import LAPTOP, PHONE, overflow


@pytest.mark.parametrize(
    "path",
    [
        "/shelf/care?a=laundry+bleach&b=nonsense",
        "/shelf/care?a=laundry_bleach&b=household_ammonia_5",
        "/shelf/care/routes/dichromate_fogging",
    ],
)
def test_pages_fit_and_are_accessible(house, page_at, axe, picture_of, path):
    page = page_at(LAPTOP)
    assert page.goto(house.url + path).status == 200
    for width in (LAPTOP, PHONE):
        page.set_viewport_size({"width": width, "height": 844})
        assert overflow(page) <= 0
        picture_of(page, "care-route" if "routes" in path else "care")
    axe(page)


def test_an_evening_with_an_ammonia_bath(house, page_at, axe, picture_of):
    page = page_at(390)
    page.goto(house.url + "/shelf/care")
    page.get_by_label("Class").select_option("A")
    page.get_by_role("button", name="Set it up").click()
    page.get_by_label("Bath", exact=True).select_option("ammonia_bath")
    page.get_by_role("button", name="Count it").click()
    page.get_by_role("button", name="Count films").click()
    page.get_by_text("Destroy it within").wait_for()
    page.get_by_role("link", name="Destroy it").click()
    page.wait_for_url("**/destroy")
    running = "() => document.getElementById('countdown-figure')?.textContent ?? ''"
    page.wait_for_function(f"() => /^1(19|20):\\d\\d$/.test(({running})())")
    shown = page.locator("#countdown-figure").text_content()
    page.wait_for_function(f"was => ({running})() !== was", arg=shown)
    axe(page)
    picture_of(page, "care-destroy")
    page.get_by_label("I did every step above").check()
    page.get_by_role("button", name="Take it off the list").click()
    page.get_by_text("100 mL of 5000 mL").wait_for()
    assert page.get_by_text("Destroy it within").count() == 0


def test_the_page_cannot_say_done_without_the_tick(house, page_at):
    page = page_at(390)
    page.goto(house.url + "/shelf/care")
    page.get_by_label("Bath", exact=True).select_option("fogging_dithionite")
    page.get_by_role("button", name="Count it").click()
    page.get_by_role("link", name="Destroy it").first.click()
    page.wait_for_url("**/destroy")
    page.get_by_role("button", name="Take it off the list").click()
    assert "/destroy" in page.url
