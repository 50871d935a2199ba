"""On the page: that was wrong, a strange temperature, a step repeated or left out; what is typed wrong stays with words beside it."""

import re

from .conftest import PHONE, asked, wait_until
from .test_sink_dark import until
from .test_sink_evening import begin, look
from .touching import until_it_heeds


def test_slips_on_the_page(house, page_at, axe):
    page, other = page_at(PHONE), page_at(PHONE)
    run = begin(page, house, route="permanganate_light")
    # Even the beginning is a touch that can be taken back.
    page.keyboard.press("Enter")
    page.get_by_role("button", name="That was wrong").click()
    page.get_by_role("button", name="Take it back").click()
    page.get_by_role("button", name="Begin the evening").wait_for()
    wait_until(lambda: look(page, run)["status"] == "planned" and page.evaluate("obverseSink.waiting()") == 0)
    other.goto(f"{house.url}/sink/{run}")
    until(page, run, "check")
    page.reload()
    wait_until(lambda: page.evaluate("Boolean(window.obverseSink?.sure())"))
    # Keys that are no big button.
    for key in ("b", "F1", "ArrowDown", "NumLock", "Home", "1"):
        page.keyboard.press(key)
    assert page.evaluate("obverseSink.waiting()") == 0
    assert look(page, run)["action"]["key"] == "check"
    # Words for what is no number; the dialog and the words stay.
    page.get_by_role("button", name="Write the temperature down").click()
    page.get_by_label("Temperature, °C").fill("abc")
    page.get_by_role("button", name="Note", exact=True).click()
    assert "“abc” is not a number" in page.locator("#temperature-wrong").inner_text()
    assert page.get_by_label("Temperature, °C").input_value() == "abc"
    page.get_by_label("Temperature, °C").fill("200")
    page.get_by_role("button", name="Note", exact=True).click()
    assert "200 °C cannot be kept" in page.locator("#temperature-wrong").inner_text()
    # Fahrenheit is asked about, and one press mends it.
    page.get_by_label("Temperature, °C").fill("68")
    page.get_by_role("button", name="Note", exact=True).click()
    axe(page)
    page.get_by_role("button", name="It was 68 °F: keep 20 °C").click()
    wait_until(lambda: [e["temperature_c"] for e in look(page, run)["entries"]] == [20])
    # A wrong touch here is taken back on the other device.
    until_it_heeds(page)
    page.keyboard.press("Enter")
    wait_until(lambda: look(page, run)["action"]["key"] == "first_development")
    wait_until(lambda: other.locator("#title").inner_text() == "First development")
    other.get_by_role("button", name="That was wrong").click()
    axe(other)
    other.get_by_role("button", name="Take it back").click()
    wait_until(lambda: look(page, run)["action"]["key"] == "check")
    wait_until(lambda: page.locator("#title").inner_text() == "Measure the first developer")
    # The temperature is changed, then struck.
    other.get_by_role("button", name="That was wrong").click()
    other.get_by_label("It was, °C").fill("20,5")
    other.locator(".entries li", has=other.get_by_label("It was, °C")).get_by_role("button", name="Change it").click()
    wait_until(lambda: [e["temperature_c"] for e in look(page, run)["entries"]] == [20.5])


def test_a_second_hand_within_three_seconds_changes_nothing(house, page_at):
    page, other = page_at(PHONE), page_at(PHONE)
    run = begin(page, house, route="permanganate_light")
    page.keyboard.press("Enter")
    wait_until(lambda: look(page, run)["status"] == "running")
    other.goto(f"{house.url}/sink/{run}")
    wait_until(lambda: other.evaluate("Boolean(window.obverseSink?.sure())"))
    until_it_heeds(page)
    page.keyboard.press("Enter")
    # The other hand comes as soon as its page has moved on, however slow this computer is.
    other.evaluate(
        """() => new Promise(done => {
          const look = () => {
            if (obverseSink.core().index !== 1) { setTimeout(look, 20); return; }
            document.dispatchEvent(new KeyboardEvent('keydown', { key: 'Enter', bubbles: true }));
            done();
          };
          look();
        })"""
    )
    wait_until(
        lambda: (
            "changed nothing" in other.locator("#said").inner_text()
            or "Nothing was changed" in other.locator("#said").inner_text()
        )
    )
    wait_until(lambda: other.evaluate("obverseSink.waiting()") == 0)
    assert look(page, run)["index"] == 1
    log = asked(page, f"{house.url}/api/sink/runs/{run}/report").json()["log"]
    assert [(e["kind"], e["ignored"]) for e in log] == [
        ("started", False),
        ("acknowledged", False),
        ("acknowledged", True),
    ]


def test_a_step_is_repeated_after_its_effect_was_shown(house, page_at, axe):
    page = page_at(PHONE)
    run = begin(page, house, route="iron_ammonia_light")
    until(page, run, "dissolving")
    page.reload()
    wait_until(lambda: page.evaluate("Boolean(window.obverseSink?.sure())"))
    page.get_by_role("button", name="More").click()
    page.get_by_text("Repeat a step, or leave one out").click()
    page.get_by_label("Step to repeat").select_option("acid_rinse_2")
    page.get_by_role("button", name="Repeat", exact=True).click()
    assert "Say in a word why" in page.locator("#step-wrong").inner_text()
    page.get_by_label("Because", exact=True).fill("still yellow")
    page.get_by_role("button", name="Repeat", exact=True).click()
    page.locator("#effect").wait_for()
    told = page.locator("#effect").inner_text()
    assert "Comes again: " in told and "min later" in told and look(page, run)["action"]["key"] == "dissolving"
    axe(page)
    page.get_by_role("button", name="Yes, repeat it").click()
    wait_until(lambda: look(page, run)["action"]["key"] == "acid_rinse_2")
    assert look(page, run)["ahead"][-1] == next(
        i
        for i, a in enumerate(page.evaluate("JSON.parse(document.getElementById('plan').textContent).actions"))
        if a["key"] == "dissolving"
    )


def test_an_early_done_is_asked_about_and_what_is_over_is_no_longer_warned_of(house, page_at):
    page = page_at(PHONE, locale="en-US")
    run = begin(page, house, route="permanganate_light")
    until(page, run, "brief")
    wait_until(lambda: "Film sees every screen" in page.locator("#worst").inner_text())
    assert re.search(r"about \d\d:\d\d$", page.locator("#end-of-evening").inner_text()), "one form of the clock"
    until(page, run, "prepare.first_developer")
    wait_until(lambda: page.locator("#title").inner_text().startswith("Mix: "))
    assert "Film sees" not in page.locator("#worst").inner_text(), "every lid is locked"
    until(page, run, "first_development.rinse.1")
    wait_until(lambda: "fill 1" in page.locator("#title").inner_text())
    until_it_heeds(page)  # the touch of another hand is no longer fresh
    # A touch and its bounce, in one turn of the page.
    page.evaluate(
        "() => { for (let i = 0; i < 2; i += 1) document.dispatchEvent(new KeyboardEvent('keydown', { key: 'Enter', bubbles: true })); }"
    )
    wait_until(lambda: "touch once more" in page.locator("#said").inner_text())
    assert look(page, run)["action"]["key"] == "first_development.rinse.1"
    page.wait_for_timeout(800)
    page.keyboard.press("Enter")
    wait_until(lambda: look(page, run)["action"]["key"] != "first_development.rinse.1")
    log = asked(page, f"{house.url}/api/sink/runs/{run}/report").json()["log"]
    assert [entry["cut_short"] for entry in log if entry["action"] == "first_development.rinse.1"] == [True]
    page.get_by_role("button", name="That was wrong").click()
    assert re.fullmatch(r"\d\d:\d\d:\d\d", page.get_by_label("It truly was at").input_value())
