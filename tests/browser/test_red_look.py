"""The red look emits nothing beyond red: every pixel of every page is counted, in both looks; it is offered as no protection."""

from base64 import b64decode

import numpy as np

from .conftest import PHONE, wait_until
from .test_sink_evening import begin, look
from .touching import until_it_heeds

# Of a page that is looked at for its colours alone: what is a quarter as large takes a sixteenth of the painting, and a
# thin line is fainter then, not gone.
QUARTER = 0.25
# Of a page so long all kinds of things have been seen; what lies over the whole window covers no more than 32,768.
TALLEST_PX = 19_200
# Buttons take a moment from one colour to the other.
WHOLE_PAGE = """() => {
  for (const each of document.getAnimations()) if (each instanceof CSSTransition) each.finish();
  return document.documentElement.scrollHeight;
}"""


def beyond_red(page) -> tuple[int, int]:
    """Pixels that hold green or blue, and all pixels, of a page at a quarter of its size, in a window as high as it is."""
    from imagecodecs import png_decode

    tab = page.context.new_cdp_session(page)
    size = page.viewport_size

    def seen_as(height: int, scale: float) -> None:
        metrics = {"width": size["width"], "height": height, "deviceScaleFactor": scale, "mobile": False}
        tab.send("Emulation.setDeviceMetricsOverride", metrics)

    # Twice: lines are a pixel at least, so what is half as large may be a little higher.
    for _ in range(2):
        seen_as(min(TALLEST_PX, max(size["height"], page.evaluate(WHOLE_PAGE))), QUARTER)
    # Packed in haste: the packing is most of the work, and the file is thrown away.
    shot = tab.send("Page.captureScreenshot", {"format": "png", "optimizeForSpeed": True})
    seen_as(size["height"], 1)
    pixels = png_decode(b64decode(shot["data"]))
    return int(np.count_nonzero(pixels[..., 1] | pixels[..., 2])), pixels.shape[0] * pixels.shape[1]


def test_nothing_beyond_red_at_the_live_sink(house, page_at):
    page = page_at(PHONE)
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
