"""The wall in a real browser: a photograph that a package ships, two slides, marks, the meter by hand and by keys."""

import time
from importlib.resources import files

import pytest

from obverse.imaging.encoding import srgb_to_linear

LAPTOP, PHONE = 1280, 390

DRAWN_MEAN = """(id) => { const c = document.getElementById(id); const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
  let t = 0; for (let i = 0; i < d.length; i += 4) t += d[i]; return t / (d.length / 4); }"""


def overflow(page) -> int:
    return page.evaluate("document.documentElement.scrollWidth - window.innerWidth")


def wait_until(what, message: str = "it did not happen") -> None:
    end = time.monotonic() + 120
    while not what():
        assert time.monotonic() < end, message
        time.sleep(0.05)


def sample(name: str) -> str:
    return str(files("skimage").joinpath(f"data/{name}"))


def open_wall(page, url: str) -> None:
    page.goto(url + "/projector")
    wait_until(lambda: len(page.inner_text("#gate")) > 1, "the wall was not drawn")


def mean(page, side="a") -> float:
    return page.evaluate(DRAWN_MEAN, f"canvas-{side}")


def test_a_photograph_through_two_slides(demo_house, page_at, picture_of):
    page = page_at(LAPTOP)
    open_wall(page, demo_house.url)
    before = mean(page)
    page.set_input_files("#file", sample("coffee.png"))
    wait_until(lambda: page.inner_text("#photo-name") == "coffee.png")
    wait_until(lambda: abs(mean(page) - before) > 2, message="the photograph was not drawn")
    values = page.eval_on_selector_all("#source-b option", "all => all.map((one) => one.value)")
    page.select_option("#source-b", next(v for v in values if v.startswith("trial:")))
    page.wait_for_selector("#figure-b:visible")
    wait_until(lambda: mean(page, "b") > 5)
    assert "strip" in page.inner_text("#caption-b")
    picture_of(page, "projector-two")


def test_more_light_makes_a_lighter_slide_and_the_marks_are_a_pattern(demo_house, page_at):
    page = page_at(LAPTOP)
    open_wall(page, demo_house.url)
    page.select_option("#source-a", "example")
    page.set_input_files("#file", sample("astronaut.png"))
    wait_until(lambda: page.inner_text("#photo-name") == "astronaut.png")
    wait_until(lambda: mean(page) > 5)
    before = mean(page)
    page.evaluate(
        "() => { const s = document.getElementById('index-a'); s.value = -6; s.dispatchEvent(new Event('input')); }"
    )
    wait_until(lambda: mean(page) < before - 5, message="less light did not darken the slide")
    page.evaluate(
        "() => { const s = document.getElementById('index-a'); s.value = 6; s.dispatchEvent(new Event('input')); }"
    )
    wait_until(lambda: mean(page) > before + 5, message="more light did not lighten the slide")
    words = ("more light", "less light")
    wait_until(
        lambda: any(each in page.inner_text("#index-words-a") for each in words),
        message="the words did not follow the slider",
    )
    plain = mean(page)
    page.check("#marks")
    wait_until(lambda: abs(mean(page) - plain) > 0.2, message="nothing was marked")


AHEAD = """async () => {
  const { SlideCanvas } = await import("/static/projector/preview.js");
  const { post } = await import("/static/house/house.js");
  const look = async (exposure_index) => (await post("/api/projector/look", { slides: [{ source: "example", exposure_index, metered_code: 2500 }] })).slides[0];
  const [one, more] = [new SlideCanvas(document.createElement("canvas")), new SlideCanvas(document.createElement("canvas"))];
  one.slide(await look(100));
  more.slide(await look(50));
  one.ahead(Math.round(Math.log10(2) / 0.00125));
  let off = 0;
  for (let code = 0; code < 4096 - 300; code++) off = Math.max(off, Math.abs(one.tables.greys[code] - more.tables.greys[code]));
  const moved = one.tables.greys[2500] - one.answered.greys[2500];
  const even = { width: 90, height: 60, codes: new Uint16Array(5400).fill(4095) };
  const screen = { corner_light: 0.5, stray: 0, room_lux: 0 };
  const found = await post("/api/projector/look", { slides: [{ source: "example" }], screen, viewing: { model: "none", white: "gate" } });
  one.slide(found.slides[0], 1.5);
  document.createElement("div").append(one.canvas);
  one.load(even);
  one.draw({});
  const [centre, corner, edge] = [30 * 90 + 45, 0, 45].map((i) => one.pixels[i] & 255);
  one.slide((await post("/api/projector/look", { slides: [{ source: "example" }] })).slides[0], 1.5);
  one.draw({});
  return { off, moved, centre, corner, edge, flat: new Set(one.pixels).size };
}"""


def test_while_dragging_the_page_shows_what_the_house_will_answer(demo_house, page_at):
    page = page_at(LAPTOP)
    open_wall(page, demo_house.url)
    found = page.evaluate(AHEAD)
    assert found["off"] <= 1 and found["moved"] > 10
    # The lamp's light, half at the corners: an even slide is drawn so, and even where the fall-off is not known.
    light = {place: float(srgb_to_linear(found[place] / 255)) for place in ("centre", "corner", "edge")}
    assert light["corner"] / light["centre"] == pytest.approx(0.5, rel=0.03)
    assert light["edge"] / light["centre"] == pytest.approx(0.5 ** (1.5**-2 / (1 + 1.5**-2)), rel=0.03)
    assert found["flat"] == 1


def test_the_meters_spot_by_pointer_and_by_keys(demo_house, page_at):
    page = page_at(LAPTOP)
    open_wall(page, demo_house.url)
    page.click("#canvas-a", position={"x": 120, "y": 120})
    page.wait_for_selector("#spot:visible")
    first = page.inner_text("#spot-words")
    page.focus("#canvas-a")
    page.keyboard.press("ArrowRight")
    wait_until(lambda: page.inner_text("#spot-words") != first)
    assert page.is_checked("#meter-spot")
    page.hover("#canvas-a", position={"x": 300, "y": 200})
    assert "cd/m" in page.inner_text("#readout")


def test_a_broken_photograph_is_told_in_one_sentence(demo_house, page_at, tmp_path):
    page = page_at(LAPTOP)
    page.expected_errors.append("422")
    open_wall(page, demo_house.url)
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(b"\xff\xd8\xff\xe0 no picture")
    page.set_input_files("#file", str(broken))
    page.wait_for_selector(".toast-error")
    assert "broken.jpg" in page.inner_text(".toast-error p")
    assert "still life" in page.inner_text("#photo-name")


def test_a_roll_of_slides_and_an_evening(house, page_at, axe, picture_of):
    page = page_at(LAPTOP)
    page.goto(house.url + "/projector/slides")
    page.fill("#roll", "2031-11 harbour")
    page.fill("#frames", "4")
    page.click("text=Write it down")
    page.wait_for_selector("tr[data-slide]")
    title = page.locator("input[data-field=title]").first
    with page.expect_response("**/api/projector/slides/*"):
        title.fill("Two cranes")
        title.press("Tab")
    page.locator("button[data-show]").nth(2).click()
    page.locator("button[data-show]").nth(0).click()
    page.get_by_label("earlier").last.click()
    page.locator("button[data-show]").nth(1).click()
    # By hand to the top, by keys down again to the end.
    grip = page.locator("#show .grip").last
    grip.drag_to(page.locator("#show .grip").first, target_position={"x": 5, "y": 2})
    assert [text.split()[2].rstrip(",") for text in page.locator("#show .show-name").all_inner_texts()] == [
        "2",
        "1",
        "3",
    ]
    page.locator("#show .grip").first.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.fill("#list-name", "An evening")
    page.click("#keep-list")
    page.wait_for_url("**/projector/slides?list=*")
    shown = page.locator("#show li").all_inner_texts()
    assert "2031-11 harbour 1, Two cranes" in shown[0] and "harbour 2" in shown[-1] and len(shown) == 3
    axe(page)
    picture_of(page, "projector-slides")
    page.set_viewport_size({"width": PHONE, "height": 844})
    assert overflow(page) <= 0
