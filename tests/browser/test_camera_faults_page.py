"""The faults of a picture on its page: what, how likely against what else, why, and what to do."""

import pytest

from benchmarks.render_faults import render_faults
from benchmarks.render_strange import HELD_BACK
from obverse.capture import save_tiff
from obverse.imaging.render import expose

from .conftest import LAPTOP, PHONE


@pytest.mark.parametrize(
    ("width", "faults", "seed", "name", "badge", "against"),
    [
        (
            LAPTOP,
            {"drying_marks": 0.8, "stain": 1.6},
            65,
            "Drying marks",
            "over 99 %",
            "Nothing else that was looked at comes near.",
        ),
        (
            PHONE,
            {"fingerprint": 1.0},
            62,
            "Cannot tell",
            "something is there: 95 %",
            "It might be: something else",
        ),
    ],
)
def test_what_is_on_the_strip_is_told_with_what_else_it_might_be(
    house, page_at, picture_of, axe, width, faults, seed, name, badge, against
):
    light, rng = render_faults(faults, seed, others=HELD_BACK)
    picture = save_tiff(expose(light, 1.0, rng), exposure_s=1 / 125)
    page = page_at(width)
    page.set_default_timeout(60_000)
    page.goto(house.url + "/light-table/picture")
    page.set_input_files("#files", {"name": f"{name}.tif", "mimeType": "image/tiff", "buffer": picture})
    page.wait_for_selector("#pictures li")
    page.fill("#patches", str(len(light.strip.densities)))
    page.click("#read")
    page.wait_for_selector("#result:not([hidden])")
    card = page.locator(".fault", has=page.locator("h3", has_text=name))
    assert card.locator(".badge").inner_text() == badge
    assert against in card.inner_text()
    assert card.locator("ol li").count() >= 2
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    picture_of(page, "camera-faults")
    axe(page)
