"""The light table and the notebook in a real browser: hands, keyboard, phone, accessibility."""

import json
import re
from pathlib import Path

import numpy as np
import pytest

from obverse.model.simulate import demo_film, simulate_series

from .conftest import LAPTOP, PHONE, asked, overflow, refused, wait_until

CSV = "log_exposure,density,sd\n" + "\n".join(
    f"{x},{d},0.02"
    for x, d in (
        (-1.5, 2.3),
        (-1.2, 2.25),
        (-0.9, 2.1),
        (-0.6, 1.9),
        (-0.3, 1.55),
        (0, 1.15),
        (0.3, 0.8),
        (0.6, 0.55),
        (0.9, 0.43),
        (1.2, 0.38),
    )
)
TRIALS = [
    {"first_developer_time_min": 8, "solvent_ml_per_l": 4, "alkali_ml_per_l": 5},
    {"first_developer_time_min": 12, "solvent_ml_per_l": 10, "alkali_ml_per_l": 5},
    {"first_developer_time_min": 13, "solvent_ml_per_l": 16, "alkali_ml_per_l": 6},
]


@pytest.fixture(scope="module")
def series_file(tmp_path_factory):
    file = tmp_path_factory.mktemp("series") / "film.json"
    file.write_text(json.dumps(simulate_series(demo_film(), TRIALS, seed=3).model_dump(mode="json")))
    return file


@pytest.fixture
def film_page(house, page_at, series_file):
    """The page of a film that was brought from a file, at a given width."""

    def open_at(width):
        page = page_at(width)
        page.goto(house.url + "/notebook")
        if page.locator(".film-card").count() == 0:
            page.set_input_files("#series-file", series_file)
            page.wait_for_url(re.compile(r"/notebook/\w+$"))
        else:
            page.locator(".film-card").first.click()
        page.wait_for_selector(".next-card")
        return page

    return open_at


def fits_at_both_widths(page, picture_of, name: str) -> None:
    """Nothing stands out sideways at the laptop, then at the phone, where the page is left."""
    for width in (LAPTOP, PHONE):
        page.set_viewport_size({"width": width, "height": 844})
        assert overflow(page) <= 0
        picture_of(page, name)


def test_a_dropped_list_becomes_a_curve(house, page_at, axe, picture_of):
    page = page_at(LAPTOP)
    page.goto(house.url + "/light-table")
    page.set_input_files("#file", {"name": "strip.csv", "mimeType": "text/csv", "buffer": CSV.encode()})
    page.wait_for_selector("#seen:not([hidden])")
    page.wait_for_selector("#plot svg path.line")
    assert 10 == page.locator("#strip > span").count()
    before = page.locator("#numbers .tile-number").nth(4).inner_text()
    page.fill("#base", "0.25")
    wait_until(lambda: page.locator("#numbers .tile-number").nth(4).inner_text() != before)
    # Every reading is drawn; the windows of the aim where the base is known; the curve read by keys.
    assert page.locator("#plot .reading").count() == 10
    wait_until(lambda: page.locator("#plot .aim-box").count() == 3)
    page.locator("#plot svg").focus()
    page.keyboard.press("ArrowRight")
    words = page.locator("#plot .curve-words").inner_text()
    assert re.match(r"Log exposure \+0\.\d\d \(\+0\.\d stops\): density 1\.\d\d, 90 % \d\.\d\d to \d\.\d\d\.", words), (
        words
    )
    fits_at_both_widths(page, picture_of, "light-table")
    axe(page)
    # A bad list is one sentence, and the table stays.
    page.expected_errors.append("422")
    page.set_input_files("#file", {"name": "bad.csv", "mimeType": "text/csv", "buffer": b"a,b\n1,2\n"})
    page.wait_for_selector(".toast-error")
    assert "bad.csv, line 1" in page.locator(".toast-error p").inner_text()
    place, why = refused(page, "#bracket-form", {"#b-low": "dim", "#b-name": "roll 7"})
    assert (place, why) == ("b-low", "From, stops: \u201cdim\u201d is no number; write it like -5.")
    page.expected_errors.append("422")
    assert refused(page, "#bracket-form", {"#b-low": "-900", "#b-time": "1/30"})[0] == "b-low"
    assert 10 == page.locator("#strip > span").count()


def test_strip_and_curve_follow_the_hand(film_page, picture_of):
    page = film_page(LAPTOP)
    assert 3 == page.locator(".strip-row").count()
    fits_at_both_widths(page, picture_of, "notebook-film")
    page.set_viewport_size({"width": LAPTOP, "height": 860})
    wait_until(lambda: "%" in page.locator("#chance").inner_text())

    def greys():
        return page.locator("#whatif-strip").evaluate("e => [...e.children].map(c => c.style.background).join()")

    before = greys()
    page.evaluate(
        """async () => {
          const slider = document.getElementById('slide-solvent_ml_per_l');
          for (let value = 2; value <= 28; value += 1) {
            slider.value = value;
            slider.dispatchEvent(new Event('input'));
            await new Promise(requestAnimationFrame);
          }
        }"""
    )
    wait_until(lambda: greys() != before)
    assert "28" == page.input_value("#type-solvent_ml_per_l")
    wait_until(lambda: "solvent 28 mL/L" in page.locator("#figure").text_content())


def test_the_figures_values_stand_as_tables_one_key_away(film_page):
    page = film_page(PHONE)
    page.locator("#values summary").focus()
    page.keyboard.press("Enter")
    tables = page.locator("#values table")
    wait_until(lambda: tables.count() == 3)
    film = page.url.rsplit("/", 1)[-1]
    story = asked(page, f"{page.url.split('/notebook')[0]}/api/notebook/films/{film}/story").json()

    def row(table: int, name: str) -> list[str]:
        found = tables.nth(table).locator("tbody tr").filter(has=page.locator("th", has_text=re.compile(name)))
        return [text.replace("\u2212", "-") for text in found.first.locator("td").all_inner_texts()]

    second = story["trials"][1]
    blacks = second["seen"]["dmax"]["estimate"]["value"]
    assert row(0, r"^2\.")[3].startswith(f"{blacks:.2f} (")
    assert f"at least {story['aim']['dmax_min']:.2f}" == row(0, "The aim")[3]
    patches = sorted(second["patches"], key=lambda patch: patch["log_exposure"])
    read = [text for text in row(1, r"^2\.") if text != "\u2013"]
    assert [float(text) for text in read] == pytest.approx([p["density"] - story["base"] for p in patches], abs=0.0051)
    # At the metered mid-tone, by another way than the page's.
    there = np.interp(0.0, second["curve"]["log_exposure"], second["curve"]["density"])
    assert float(row(2, r"^2\.")[7]) == pytest.approx(there, abs=0.0051)
    # The strip one thinks of follows the hand.
    wait_until(lambda: "(" in row(2, "predicted$")[7])
    before = row(2, "predicted$")
    page.locator("#slide-solvent_ml_per_l").press("End")
    wait_until(lambda: row(2, "predicted$") not in (before, []))
    assert overflow(page) <= 0
    # The figure is saved as it is seen.
    for button, beginning in (("#save-svg", b"<svg"), ("#save-png", b"\x89PNG")):
        with page.expect_download() as waiting:
            page.click(button)
        data = Path(waiting.value.path()).read_bytes()
        assert data.startswith(beginning)
        assert len(data) > 5000


def test_the_aim_is_drawn_by_hand_and_by_keyboard_and_is_kept(film_page):
    page = film_page(LAPTOP)
    handle = page.locator('.aim-handle[data-bound="dmax_min"]')
    start = float(handle.get_attribute("aria-valuenow"))
    with page.expect_response(lambda r: r.url.endswith("/plan")):
        handle.focus()
        page.keyboard.press("ArrowDown")
    assert start - 0.05 == pytest.approx(float(page.input_value("#aim-dmax_min")))
    page.wait_for_load_state("networkidle")
    box = page.locator('.aim-handle[data-bound="dmax_min"]').bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    with page.expect_response(lambda r: r.url.endswith("/plan")):
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x, y + 40, steps=4)
        page.mouse.up()
    page.wait_for_load_state("networkidle")
    lower = float(page.input_value("#aim-dmax_min"))
    assert lower < start - 0.1
    page.reload()
    page.wait_for_selector(".next-card")
    assert lower == float(page.input_value("#aim-dmax_min"))
    with page.expect_response(lambda r: r.url.endswith("/plan")):
        page.select_option("#aim-name", "projection")
    page.wait_for_load_state("networkidle")


def test_a_strip_of_a_used_developer_is_written_down_corrected_judged_by_eye_and_put_aside(film_page, axe, picture_of):
    page = film_page(LAPTOP)
    before = page.locator(".trial").count()
    page.click("#used-before summary")
    page.get_by_label("Films it had developed").fill("1")
    page.get_by_label("In how much of it").fill("1000")
    write = page.locator("#write-strip")
    write.focus()
    page.keyboard.down("Enter")
    wait_until(lambda: page.locator(".trial").count() == before + 1)
    # Held on, the key comes again; and the second half of a slow double click, after the answer, when what was said of the
    # developer is forgotten: no more strips, as is counted below when the page has loaded anew.
    page.keyboard.down("Enter")
    page.keyboard.up("Enter")
    wait_until(lambda: page.get_by_label("Films it had developed").input_value() == "0")
    write.dispatch_event("click", {"detail": 2})
    strip = page.locator(".trial").nth(before)

    def said() -> str:
        return page.locator(".trial").nth(before).locator("summary").first.inner_text()

    assert "first developer 25 % used before" in said()
    strip.locator("summary").first.click()
    strip.locator("form details summary").click()
    strip.get_by_label("Bleach used before, %").fill("140")
    strip.get_by_role("button", name="Keep").click()
    wait_until(lambda: "0 to 100" in strip.locator(".refused").first.inner_text())
    strip.get_by_label("Bleach used before, %").fill("40")
    strip.get_by_label("First developer used before, %").fill("0")
    strip.locator('select[name="highlights"]').select_option("murky")
    strip.get_by_role("button", name="Keep").click()
    wait_until(lambda: "bleach 40 % used before" in said())
    assert "first developer" not in said()
    wait_until(lambda: "by eye" in page.locator("#figure").text_content())
    fits_at_both_widths(page, picture_of, "used-before")
    axe(page)
    strip.locator("summary").first.click()
    strip.get_by_role("button", name="Put aside").click()
    wait_until(lambda: page.locator(".trial").count() == before)


def test_the_film_and_its_controls_are_corrected(film_page):
    page = film_page(LAPTOP)
    page.click("#plan > summary")
    assert refused(page, "#plan-form", {"#p-name": "", "#p-base": "0.3"})[0] == "p-name"
    assert refused(page, "#plan-form", {"#p-name": "x", "#p-speed": "fast"})[0] == "p-speed"
    page.expected_errors.append("422")
    place, why = refused(page, "#plan-form", {"#p-speed": "-5"})
    assert place == "p-speed" and "box_speed" not in why, why
    solvent = '#plan-controls tr:has(input[value="solvent_ml_per_l"]) input[name="high"]'
    assert refused(page, "#plan-form", {"#p-speed": "100", solvent: "lots"})[1].endswith(
        "give three numbers, from, to and the step."
    )
    assert refused(page, "#lock", {"#lock-name": "", "#lock-note": "as ever"})[0] == "lock-name"
    page.locator(".trial summary").first.click()
    page.locator(".trial form details summary").first.click()
    time = '.trial form input[name="first_developer_time_min"]'
    assert refused(page, ".trial:first-child form", {f"{time} >> nth=0": "long"})[0].startswith("was-")
    page.reload()
    page.click("#plan > summary")
    page.fill("#p-base", "0.31")
    page.get_by_label("temperature in steps of").fill("0.25")
    page.check('#plan-controls input[value="temperature_c"]')
    page.click("#plan-form button[type=submit]")
    page.locator(".facts", has_text="base 0.31").wait_for()
    page.wait_for_selector(".next-card")
    assert "0.25" == page.get_attribute("#slide-temperature_c", "step")


def test_of_many_strips_the_telling_ones_stand_in_the_figure(house, page_at, tmp_path):
    document = simulate_series(
        demo_film(), [{**TRIALS[1], "solvent_ml_per_l": 2.0 * i} for i in range(12)], seed=4
    ).model_dump(mode="json")
    document["film"]["name"] = "a film of many strips"
    file = tmp_path / "many.json"
    file.write_text(json.dumps(document))
    page = page_at(LAPTOP)
    page.goto(house.url + "/notebook")
    held = []
    page.route("**/story", lambda route: held.append(route), times=1)
    page.set_input_files("#series-file", file)
    # The strips stand there before anything is reckoned of them; what cannot be answered yet takes no finger.
    page.wait_for_selector(".strip-row:nth-child(8)")
    assert page.get_by_text("Reckoning").is_visible() and page.locator("#write-strip").evaluate(
        "e => !!e.closest('[inert]')"
    )
    place = page.locator("#figure").bounding_box()
    wait_until(lambda: held)
    held[0].continue_()
    page.wait_for_selector(".next-card")
    assert place["y"] == page.locator("#figure").bounding_box()["y"]
    assert page.locator("[inert]").count() == 0
    assert 8 == page.locator(".strip-row").count()
    assert 12 == page.locator(".trial").count()
    page.click("#all-strips")
    assert 12 == page.locator(".strip-row").count()


def test_the_colour_of_a_patch_travels_over_the_table_until_its_density_is_typed_anew(house, page_at, tmp_path):
    document = simulate_series(demo_film(), TRIALS[:1], seed=5).model_dump(mode="json")
    document["film"]["name"] = "read in colour"
    for step in document["trials"][0]["steps"]:
        step["stain_index"] = 0.11
    (file := tmp_path / "film.json").write_text(json.dumps(document))
    page = page_at(LAPTOP)
    page.goto(house.url + "/notebook")
    page.set_input_files("#series-file", file)
    page.wait_for_url(re.compile(r"/notebook/\w+$"))
    film = page.url.rsplit("/", 1)[-1]
    page.wait_for_selector(".trial")
    page.goto(house.url + page.locator(".trial a").first.get_attribute("href"))
    page.wait_for_selector("#seen:not([hidden])")
    page.locator('#readings input[name="density"]').first.fill("2.5")
    page.click("#attach")
    page.wait_for_url(re.compile(rf"/notebook/{film}"))
    series = asked(page, f"{house.url}/api/notebook/films/{film}/series").json()
    steps = series["trials"][0]["steps"]
    assert (2.5, None) == (steps[0]["density"], steps[0]["stain_index"])
    assert {0.11} == {step["stain_index"] for step in steps[1:]}
