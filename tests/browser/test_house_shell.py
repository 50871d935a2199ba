"""Every page of the empty house, at both widths: no overflow, no axe finding, no complaint."""

import pytest

from .conftest import LAPTOP, PHONE, overflow

PAGES = ("/", "/shelf", "/bench", "/sink", "/light-table", "/notebook", "/projector")


@pytest.mark.parametrize("path", PAGES)
def test_every_place_stands_empty(house, page_at, axe, picture_of, path):
    page = page_at(LAPTOP)
    assert page.goto(house.url + path).status == 200
    page.wait_for_load_state("networkidle")
    assert page.locator("h1").count() == 1
    for width in (LAPTOP, PHONE):
        page.set_viewport_size({"width": width, "height": 844})
        assert overflow(page) <= 0
        picture_of(page, "empty-" + (path.strip("/").replace("/", "-") or "start"))
    axe(page)


def test_dim_red_is_kept_and_readable(house, page_at, axe, picture_of):
    page = page_at(390)
    page.goto(house.url + "/")
    # It is never offered as protection.
    button = page.get_by_role("button", name="Red screen")
    assert "protects nothing" in button.get_attribute("title")
    assert "safelight" not in page.content().lower()
    button.click()
    page.goto(house.url + "/nowhere")
    page.expected_errors.append("404")
    assert page.evaluate("document.documentElement.hasAttribute('data-dark')")
    assert page.get_by_role("button", name="Red screen").get_attribute("aria-pressed") == "true"
    axe(page)
    picture_of(page, "dim")


def test_by_keyboard_alone_to_the_content_and_to_a_place(house, page_at):
    page = page_at(1280)
    page.goto(house.url + "/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the content"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
    page.get_by_label("Places").get_by_role("link", name="Shelf").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/shelf")


def test_true_greys_and_a_failure_in_one_sentence(house, page_at):
    page = page_at(LAPTOP)
    page.expected_errors.append("404")
    page.goto(house.url + "/")
    greys = page.evaluate(
        "import('/static/house/house.js').then(h => [0, 0.3, 0.7447, 1, 2, 3, 9].map(h.greyOfDensity))"
    )
    # sRGB encoding of 10^-D, IEC 61966-2-1; the 18 % grey card (D 0.7447) is 118 of 255.
    assert greys == [255, 188, 118, 89, 25, 3, 0]
    page.evaluate("import('/static/house/house.js').then(h => h.attempt(() => h.get('/api/nowhere')))")
    page.get_by_text("There is no page /api/nowhere; go back to the start.").wait_for()
