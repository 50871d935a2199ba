"""The demo, walked through: what a first visitor sees, and where it leads; every page of it is looked at in test_every_page."""

import re

FILM = "/notebook/teaching-film-a"


# Words of the figure that meet another word or a handle of the aim; what stands out of its card.
OVERPRINTED_JS = """
() => {
  const boxes = [...document.querySelectorAll('#figure svg text, #figure .aim-handle circle[stroke]')]
    .map(one => [one.textContent, one.getBoundingClientRect()]).filter(([, box]) => box.width);
  const meet = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1
    && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 2;
  const found = [];
  boxes.forEach(([words, a], i) => boxes.slice(i + 1).forEach(([other, b]) => {
    if ((words || other) && meet(a, b)) found.push([words, other]);
  }));
  for (const card of document.querySelectorAll('#whatif, #figure')) {
    const right = card.getBoundingClientRect().right;
    for (const field of card.querySelectorAll('input, select, button, svg'))
      if (field.getBoundingClientRect().width && field.getBoundingClientRect().right > right) found.push([field.id, 'out of its card']);
  }
  return found;
}
"""


def test_the_demo_opens_on_the_story(demo_house, page_at, picture_of):
    assert demo_house.start_path == FILM
    page = page_at(1280)
    page.goto(demo_house.url + demo_house.start_path)
    page.get_by_text(re.compile(r"Strip 6 comes nearest")).wait_for()
    page.get_by_text(re.compile(r"The next strip, made with your tools, has a chance of .*\d+ %")).wait_for()
    picture_of(page, "story")
    page.set_viewport_size({"width": 390, "height": 844})
    page.wait_for_function("() => document.querySelector('#figure svg').width.baseVal.value < 390")
    page.wait_for_function("() => document.querySelector('#figure').textContent.includes('%')")
    assert page.evaluate(OVERPRINTED_JS) == []
    # A table that is cut says that it goes on, to eyes and to a screen reader.
    goes_on = page.locator(".goes-on:visible").first
    goes_on.wait_for()
    assert page.locator(f'[aria-describedby="{goes_on.get_attribute("id")}"][tabindex="0"]').count() == 1
    # What is as good by what is known is a choice: looked at, and then written down as any other.
    page.get_by_text(
        re.compile(r"As good by what is known, as is any recipe with a chance of \d+ % or more")
    ).wait_for()
    page.get_by_role("button", name="Look at the first").click()
    page.get_by_text(re.compile(r"As good as the strip proposed, by what is known: .*\d+ % against .*\d+ %")).wait_for()


def test_from_the_start_to_the_story_and_to_the_evening(demo_house, page_at):
    page = page_at(390)
    page.goto(demo_house.url + "/")
    page.locator("a.film-card", has_text="Teaching film A").click()
    page.wait_for_url("**" + FILM)
    page.go_back()
    page.get_by_role("link", name="Strip 6 of teaching film A (invented)").click()
    page.get_by_text("What was truly done").wait_for()


def test_a_strip_leads_to_its_picture_and_to_its_evening(demo_house, page_at):
    page = page_at(1280)
    page.goto(demo_house.url + "/notebook/teaching-film-d")
    page.locator("details.trial > summary").first.click()
    page.get_by_role("link", name="Its picture").click()
    page.get_by_text("This picture was computed by the program").wait_for()
    assert page.get_by_role("row").count() == 22
    page.goto(demo_house.url + FILM)
    page.locator("details.trial > summary").last.click()
    page.locator("details.trial").last.get_by_role("link", name="Its evening").click()
    page.get_by_role("heading", name="The log, to the second").wait_for()
