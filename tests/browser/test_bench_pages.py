"""Shelf and bench in a real browser: from an empty shelf to a printed sheet; each page by itself is looked at in test_every_page."""

from .conftest import asked


def calm(page):
    return page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0


def test_from_an_empty_shelf_to_a_mix_sheet(house, page_at, axe, picture_of):
    page = page_at(1280)
    page.goto(house.url + "/shelf")
    # Closed at first; the least purchase puts the bottles there and opens it.
    card = page.locator("li.route", has_text="Iron(III) chloride and ammonia, second exposure")
    assert card.get_by_text("missing").count() == 1
    card.get_by_role("button", name="Put these on the shelf").click()
    card = page.locator("li.route", has_text="Iron(III) chloride and ammonia, second exposure")
    card.get_by_text("open", exact=True).wait_for()
    picture_of(page, "shelf")
    card.get_by_role("link", name="Take it to the bench").click()
    page.wait_for_url("**/bench?route=*")
    page.set_viewport_size({"width": 390, "height": 844})
    assert calm(page)
    axe(page)
    picture_of(page, "bench-route")
    page.set_viewport_size({"width": 1280, "height": 860})
    page.locator("li.bath", has_text="ammonia bath").get_by_role("link", name="Mix sheet").click()
    assert page.locator("h1").inner_text().startswith("Ammonia bath")
    tick = page.get_by_role("checkbox").first
    tick.check()
    assert tick.is_checked()
    picture_of(page, "bench-sheet")
    answer = asked(page, house.url + "/bench/sheet.pdf?formula=ammonia_bath&volume_ml=500")
    assert answer.body().startswith(b"%PDF")


def test_a_label_is_entered_and_a_bottle_gets_its_label(house, page_at, picture_of):
    page = page_at(1280)
    page.goto(house.url + "/shelf")
    page.get_by_text("Add from a label").click()
    page.get_by_label("Name on the label").fill("Corner shop ammonia")
    page.locator("#p-substance-0").fill("ammonia")
    page.locator("#p-strength-0").fill("8 % w/w")
    page.locator("#p-strength-0").blur()
    page.get_by_text("4.53 mol/L").wait_for()
    page.get_by_role("button", name="Put it on the shelf").click()
    page.get_by_role("link", name="Corner shop ammonia").wait_for()
    page.get_by_text("Write down a bottle").click()
    page.locator("#b-name").fill("under the sink")
    page.get_by_label("Holds", exact=True).select_option("corner_shop_ammonia")
    page.get_by_role("button", name="Write it down").click()
    page.get_by_role("link", name="under the sink").click()
    page.wait_for_url("**/shelf/bottles/*")
    assert "8 % w/w" in page.locator(".lead").inner_text()
    picture_of(page, "bottle")
    link = page.url.rsplit("/", 1)[1]
    assert asked(page, f"{house.url}/shelf/labels.pdf?bottle={link}&grid=a4-21").body().startswith(b"%PDF")


def test_a_label_that_cannot_be_is_told_beside_its_field_and_an_open_one_is_taken(house, page_at, axe, picture_of):
    page = page_at(390)
    page.expected_errors.append("422")
    page.goto(house.url + "/shelf")
    page.get_by_text("Add from a label").click()
    page.get_by_label("Name on the label").fill("Vague fixer")
    page.locator("#p-substance-0").fill("ammonium thiosulphate")
    page.locator("#p-strength-0").fill("160 %")
    page.locator("#p-substance-1").fill("something with a long name")
    page.locator("#p-strength-1").fill("under 5 %")
    page.get_by_label("Package").fill("16 fl oz")
    page.get_by_role("button", name="Put it on the shelf").press("Enter")
    page.locator("#why-strength-0", has_text="more than can be").wait_for()
    assert page.get_by_label("Name on the label").input_value() == "Vague fixer"
    assert page.locator("#p-substance-1").input_value() == "something with a long name"
    assert page.get_by_label("Package").input_value() == "16 fl oz"
    assert calm(page)
    axe(page)
    picture_of(page, "label-refused")
    page.locator("#p-strength-0").fill("60 %")
    page.locator("#p-strength-0").blur()
    page.get_by_text("both are reckoned with").wait_for()
    page.get_by_role("button", name="Put it on the shelf").press("Enter")
    page.get_by_role("link", name="Vague fixer").wait_for()
    page.get_by_text("something with a long name under 5 %").wait_for()


def test_another_bench(house, page_at, axe, picture_of):
    page = page_at(1280)
    page.goto(house.url + "/bench/adapt")
    page.get_by_label("It is a").select_option("first_developer")
    for row, (product, amount) in enumerate(
        (("paper_developer_concentrate", "62.5"), ("fixer_ats_45wv_hardening", "12"), ("household_ammonia_10", "3"))
    ):
        page.locator(f"#a-p{row}").select_option(product)
        page.locator(f"#a-a{row}").fill(amount)
    page.get_by_role("button", name="Make it mine").click()
    page.get_by_role("heading", name="What cannot be matched").wait_for()
    assert page.locator(".unmatched dt", has_text="hardener").count() == 1
    assert page.locator("#a-a1").input_value() == "12"
    axe(page)
    picture_of(page, "bench-adapt")


def test_the_dichromate_route_says_first_what_it_is(house, page_at):
    page = page_at(1280)
    page.goto(house.url + "/shelf#routes")
    names = page.locator("li.route h3").all_inner_texts()
    assert "dichromate" in names[-1] and "dichromate" in names[-2]
    assert page.locator("li.route").last.locator(".caution-danger").count() == 1
