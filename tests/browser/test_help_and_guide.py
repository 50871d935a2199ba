"""Help where one stands: words explained on touch, the guided evening by keyboard and on a phone."""

from tests.browser.conftest import HEIGHT, LAPTOP, PHONE, overflow, wait_until
from tests.browser.test_sink_dark import until
from tests.browser.test_sink_evening import begin, look


def test_the_whole_guided_evening_by_enter_alone(demo_house, page_at, axe, picture_of):
    page = page_at(PHONE)
    page.goto(f"{demo_house.url}/guide")
    page.locator("#guide-begin").focus()
    page.keyboard.press("Enter")
    seen = []
    bar = page.locator("#guide-bar")

    def in_sight(number: int, width: int) -> None:
        """The way on is in sight, and no navigation lies over it."""
        assert overflow(page) <= 0
        box = bar.bounding_box()
        assert box["height"] < 0.45 * page.viewport_size["height"]
        way_on = bar.locator("a.primary, button").last.bounding_box()
        middle = [way_on["x"] + way_on["width"] / 2, way_on["y"] + way_on["height"] / 2]
        on_top = page.evaluate("([x, y]) => document.elementFromPoint(x, y)?.closest('#guide-bar') !== null", middle)
        assert on_top
        if number == 5:
            # A short page: the bar lies where it lies on a long one.
            foot = page.evaluate(
                "innerHeight - (document.querySelector('.places').getBoundingClientRect().height % innerHeight)"
            )
            assert box["y"] + box["height"] >= (foot if width == PHONE else page.viewport_size["height"]) - 2
        if number in (2, 10):
            picture_of(page, f"guide-{number}")

    for number in range(1, 11):
        bar.get_by_text(f"Step {number} of 10").wait_for()
        seen.append(bar.locator("h2").text_content())
        for width in (LAPTOP, PHONE):
            page.set_viewport_size({"width": width, "height": HEIGHT[width]})
            in_sight(number, width)
        if number in (2, 10):
            axe(page)
        page.keyboard.press("Enter")
    bar.wait_for(state="detached")
    assert seen[0] == "Where you stand" and seen[-1] == "Now your own" and len(set(seen)) == 10


def test_the_guide_is_left_at_any_step_and_stays_away(demo_house, page_at):
    page = page_at(PHONE)
    page.goto(f"{demo_house.url}/guide")
    page.locator('a[data-guide-step="3"]').click()
    page.locator("#guide-bar").get_by_text("Step 4 of 10").wait_for()
    page.locator("#guide-bar").get_by_role("button", name="Leave").click()
    page.goto(f"{demo_house.url}/shelf")
    page.wait_for_function("() => document.readyState === 'complete'")
    assert page.locator("#guide-bar").count() == 0


def test_a_word_explains_itself_by_touch_and_by_key(demo_house, page_at, axe, picture_of):
    page = page_at(LAPTOP)
    page.goto(f"{demo_house.url}/notebook/teaching-film-a")
    # Until the page has reckoned, what stands about its figures takes no key.
    page.wait_for_selector(".next-card")
    word = page.get_by_role("button", name="log exposure")
    word.wait_for()
    note = page.locator("#word-note")
    for width in (LAPTOP, PHONE):
        page.set_viewport_size({"width": width, "height": HEIGHT[width]})
        assert not note.is_visible() and word.get_attribute("aria-expanded") == "false"
        word.focus()
        page.keyboard.press("Enter")
        note.wait_for()
        assert len(note.locator("p").text_content()) > 40 and word.get_attribute("aria-expanded") == "true"
        box = note.bounding_box()
        assert box["x"] >= 0 and box["x"] + box["width"] <= width
        picture_of(page, "word")
        if width == PHONE:
            axe(page, within="#word-note")
        page.keyboard.press("Escape")
        note.wait_for(state="hidden")
    word.click()
    note.get_by_role("link", name="In the glossary").click()
    page.wait_for_url("**/help/glossary#*")


def test_help_finds_words(demo_house, page_at):
    page = page_at(PHONE)
    page.goto(f"{demo_house.url}/help")
    page.get_by_label("Look for").fill("halation")
    page.keyboard.press("Enter")
    page.get_by_role("link", name="Glossary: halation").wait_for()
    assert overflow(page) <= 0


def test_wall_sink_and_film_are_told_and_typed_in_the_units_of_the_notebook(house, page_at):
    page = page_at(LAPTOP)
    page.goto(f"{house.url}/units")
    page.get_by_label("feet and inches").check()
    page.get_by_label("°F").check()
    page.get_by_label("My tank").fill("500")
    page.get_by_role("button", name="Keep").click()
    page.get_by_text("7.87 ft").wait_for()
    page.goto(f"{house.url}/projector")
    page.get_by_label("Picture width").fill("2")
    page.get_by_label("Picture width").press("Tab")
    page.get_by_text("6.56 ft", exact=True).wait_for()
    assert page.locator("#largest + .tile-unit").text_content() == "ft"
    assert " ft wide" in page.locator("#width-words").text_content()
    run = begin(page, house, route="permanganate_light")
    until(page, run, "check")
    page.locator("p.do").get_by_text("Its temperature should be 68 °F.").wait_for()
    page.get_by_role("button", name="Write the temperature down").click()
    page.get_by_label("Temperature, °F").fill("69.8")
    page.keyboard.press("Enter")
    wait_until(lambda: [e["temperature_c"] for e in look(page, run)["entries"]] == [21])
    film = page.evaluate(
        "body => import('/static/house/house.js').then(h => h.post('/api/notebook/films', body)).then(kept => kept.id)",
        {"stock": {"name": "grey base", "box_speed": 100}},
    )
    page.goto(f"{house.url}/notebook/{film}")
    page.get_by_text("mL in my tank").first.wait_for()
    page.get_by_text("What you hold").click()
    page.get_by_label("Temperature, °F", exact=True).first.wait_for()
