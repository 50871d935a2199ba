"""A table of past strips by keyboard and by file: looked at, mended, written once; then its film, judged by words alone."""

from __future__ import annotations

import pytest

from tests.browser.conftest import LAPTOP, PHONE, overflow, refused, wait_until

TABLE = """Film;Nr;Date;Dev;gloop;Ammonia mL/L;Look;Remarks
Grauträger 100;1;5.3.2024;11:30;4;5;murky, blacks thin;first try
;2;13.3.2024;12,5;2,5;5;a bit murky;
;3;14.3.2024;9;3;5;weird;
;4;15.3.2024;10;3;5;a bit dark, slight tint;
"""


@pytest.mark.parametrize("width", [PHONE])
def test_a_table_goes_in_once_and_its_film_is_told_by_words(house, page_at, axe, picture_of, width):
    page = page_at(width)

    def told(words: str) -> None:
        # Words of the trade may be marked within a sentence.
        wait_until(lambda: words in page.locator("main").inner_text(), message=f"{words!r} was not told")

    page.goto(house.url + "/notebook")
    # What a script's form cannot use is told at its field, and nothing typed is lost.
    assert refused(page, "#new-film", {"#f-name": " ", "#f-speed": "80"})[1].startswith("Name: nothing is written here")
    assert refused(page, "#new-film", {"#f-name": "x", "#f-speed": "80", "#f-base": "clear"})[0] == "f-base"
    page.get_by_role("link", name="Past strips from a table").click()
    page.wait_for_url("**/notebook/past-strips")
    page.wait_for_load_state("load")
    assert refused(page, "#table-form", {"#table-text": "", "#said-film": "Grey"})[0] == "table-text"
    assert (
        refused(page, "#table-form", {"#table-text": "a;b", "#said-film": "", "#said-tank": "a jug"})[0] == "said-tank"
    )
    page.locator("#said-tank").fill("")
    page.set_input_files(
        "#table-file", {"name": "strips.csv", "mimeType": "text/csv", "buffer": TABLE.encode("utf-16")}
    )
    told("4 strips of 1 film would be written down")
    assert page.input_value("#table-text").startswith("\ufeffFilm") or page.input_value("#table-text").startswith(
        "Film"
    )
    # A volume as it is typed; 16 US and 20 imperial fluid ounces by their definitions.
    typed = ["500", "0,5 L", "16 US fl oz", "20 imperial fl oz", "16 fl oz", "a jug"]
    read = "async (said) => said.map((await import('/static/house/house.js')).millilitresOf).map((ml) => String(ml))"
    assert page.evaluate(read, typed) == ["500", "500", "473.176473", "568.26125", "473.176473", "NaN"]
    # A column of the person's own name is matched by hand, a word is said otherwise, a volume is told.
    page.get_by_label("gloop").select_option("solvent_ml_per_l")
    told("No unit stands at its head")
    mend = page.get_by_label("Look, line 4: what is meant")
    mend.fill("blacks thin")
    mend.press("Enter")
    told("Every cell was understood")
    assert overflow(page) <= 0
    axe(page)
    picture_of(page, "past-strips")
    page.get_by_role("button", name="Write 4 strips down").first.click()
    told("4 strips written down, on the page of 1 film.")
    # The same again: known, and nothing to press.
    page.get_by_role("button", name="Look at it").click()
    told("4 known already")

    page.goto(house.url + "/notebook")
    page.get_by_role("link", name="Grauträger 100").click()
    told("comes nearest: by your words")
    assert page.locator("#by-words").inner_text().startswith("4 strips judged by eye")
    assert "films in general" not in page.locator("main").inner_text()
    nearest = page.locator("#message").inner_text().split(" comes nearest")[0].split()[-1]
    assert f"strip {nearest}, the nearest strip" in page.locator("#effects-at").inner_text()
    # What lies beyond the slider, and what is held, may be thought of; the card holds all of it.
    page.locator("#held-controls summary").click()
    page.locator("#type-developer_parts_water").fill("31")
    page.locator("#type-developer_parts_water").press("Enter")
    wait_until(lambda: "1+31" in page.locator("#figure").text_content())
    card = page.locator("#whatif").evaluate("e => [e.scrollWidth - e.clientWidth, e.scrollHeight - e.clientHeight]")
    assert card == [0, 0]
    assert overflow(page) <= 0
    page.set_viewport_size({"width": LAPTOP, "height": 860})
    assert page.locator("#whatif").evaluate("e => e.scrollHeight - e.clientHeight") == 0
    axe(page)
    picture_of(page, "film-by-words")
    # An aim that nothing here meets: that and what could be met is told, not a chance of 1 % to spend an evening on.
    page.locator("#aim-dmax_min").fill("4")
    page.locator("#aim-dmax_min").press("Enter")
    wait_until(lambda: "4.00" in page.locator("#message").inner_text(), 60, "the new aim was not judged")
    stuck = page.locator("#message").inner_text()
    assert "comes nearest" in stuck and " could be met" in stuck and "The next strip, made" not in stuck
