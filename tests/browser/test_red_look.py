"""The red look emits nothing beyond red: every pixel of every page is counted, in both looks; it is offered as no protection."""

from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Error

from .conftest import LAPTOP, PHONE, wait_until
from .test_sink_evening import begin, look
from .touching import until_it_heeds


def beyond_red(page, windows=8) -> tuple[int, int]:
    """Pixels that hold green or blue, and all pixels, window by window down the page."""
    from imagecodecs import png_decode

    found = whole = 0
    for number in range(windows):
        # Asked anew each time: a page may still grow while it is looked at.
        if page.evaluate("number => number * innerHeight >= document.documentElement.scrollHeight", number):
            break
        page.evaluate("number => scrollTo(0, number * innerHeight)", number)
        page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
        pixels = np.asarray(png_decode(page.screenshot(timeout=120_000)))
        found += int(np.count_nonzero((pixels[..., 1] > 0) | (pixels[..., 2] > 0)))
        whole += pixels.shape[0] * pixels.shape[1]
    page.evaluate("scrollTo(0, 0)")
    return found, whole


def addresses(page, house, visit=lambda address: None) -> list[str]:
    """Every page that can be reached by links from the start, at most one of a kind that only differs by its id.

    `visit` is called while each is shown.
    """
    seen, queue, kinds = (
        [],
        ["/", "/sink/plan?route=iron_ammonia_light", "/bench/sheet?formula=first_developer&volume_ml=500", "/nowhere"],
        set(),
    )
    while queue:
        address = queue.pop(0)
        kind = "/".join(
            "*" if any(c.isdigit() for c in part) and len(part) > 6 else part
            for part in address.split("?")[0].split("/")
        )
        if address in seen or (kind in kinds and address not in ("/",)):
            continue
        kinds.add(kind)
        if kind.startswith("/help/") and sum(k.startswith("/help/") for k in kinds) > 2:
            continue  # documents, all of one make
        try:
            answer = page.goto(house.url + address)
        except Error:
            continue  # handed over as a file
        if answer is None or "text/html" not in answer.headers.get("content-type", ""):
            continue  # a sheet, which the browser shows by itself
        seen.append(address)
        for found in page.eval_on_selector_all("a[href^='/']", "all => all.map(a => a.getAttribute('href'))"):
            if found.count("/") < 6 and not found.startswith(("/static", "/api")):
                queue.append(found.split("#")[0])
        visit(address)
    return seen


def test_nothing_beyond_red_on_any_page(demo_house, page_at):
    # Half the pixels each way: what holds green or blue still shows in the mean of its neighbours.
    page = page_at(PHONE, 2400, device_scale_factor=0.5)
    page.expected_errors += ["404", "Failed to load resource"]
    table = []

    def visit(address: str) -> None:
        page.evaluate("for (const box of document.querySelectorAll('details')) box.open = true")
        # Each look is held against its own pixels: tables that come late make a page longer between the two.
        light, of_light = beyond_red(page, windows=1)
        page.evaluate("document.documentElement.setAttribute('data-dark', '')")
        red, of_red = beyond_red(page)
        table.append((address, of_light, light, of_red, red))

    every = addresses(page, demo_house, visit)
    assert len(every) >= 20, every
    folder = Path(__file__).parents[2] / "pictures-of-tests"
    folder.mkdir(exist_ok=True)
    (folder / "red.txt").write_text(
        "\n".join(
            f"{address[:58]:60} beyond red: paper {light:8} of {of_light:8} pixels, red {red:3} of {of_red:8}"
            for address, of_light, light, of_red, red in table
        )
    )
    assert [(address, red) for address, *_, red in table if red] == []
    dim = [(address, light / of_light) for address, of_light, light, *_ in table if light <= 0.5 * of_light]
    assert dim == [], "the count can tell"


@pytest.mark.parametrize("width", [PHONE, LAPTOP])
def test_nothing_beyond_red_at_the_live_sink(house, page_at, width):
    page = page_at(width)
    run = begin(page, house)
    page.get_by_role("button", name="Red screen").click()
    assert beyond_red(page)[0] == 0
    page.keyboard.press("PageDown")
    wait_until(lambda: look(page, run)["status"] == "running")
    page.get_by_role("button", name="More").click()
    for each in page.locator("dialog summary").all():
        each.click()
    page.get_by_label("Temperature, °C").fill("abc")
    page.get_by_role("button", name="Note", exact=True).click()
    assert beyond_red(page)[0] == 0
    page.keyboard.press("Escape")
    until_it_heeds(page)
    page.keyboard.press("PageDown")
    page.get_by_role("button", name="That was wrong").click()
    assert beyond_red(page)[0] == 0
    page.keyboard.press("Escape")
    page.get_by_role("button", name="Red screen").click()
    assert beyond_red(page)[0] > 1000
    assert run


def test_the_black_screen_is_black(house, page_at):
    page = page_at(PHONE)
    run = begin(page, house)
    page.evaluate(
        """async run => {
          const { post } = await import('/static/house/house.js');
          let n = 0;
          const send = event => post(`/api/sink/runs/${run}/events`, { event_id: `q${n++}`, ...event });
          let answer = await send({ kind: 'started' });
          while (answer.view.action.key !== 'lights_out') answer = await send({ kind: 'acknowledged', action: answer.view.action.key });
        }""",
        run,
    )
    wait_until(lambda: page.locator("#veil").is_visible())

    def lit() -> int:
        from imagecodecs import png_decode

        return int(np.count_nonzero(np.asarray(png_decode(page.screenshot()))[..., :3]))

    assert lit() == 0
    page.reload()
    page.locator("#veil").wait_for()
    assert lit() == 0


def test_it_is_never_offered_as_protection(demo_house, page_at):
    page = page_at(LAPTOP)
    page.goto(demo_house.url)
    button = page.get_by_role("button", name="Red screen")
    assert "protects nothing" in button.get_attribute("title")
    assert "safelight" not in page.content().lower()
