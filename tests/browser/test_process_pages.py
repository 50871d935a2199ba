"""A person's own way, from nothing by keys alone: written, judged, planned, rehearsed at phone width, and taken elsewhere."""

import re

import pytest

from tests.acceptance_way import WAY

from .conftest import LAPTOP, PHONE, asked, overflow, wait_until
from .test_house_first_evening import DENSITIES
from .test_sink_evening import TO_ITS_END, drive, look

FIELDS = ("does", "name", "temperature", "light", "bath", "time", "agitation", "rinse", "after", "made")
SPEED = 600

# How many presses of Tab from what has the focus to a thing; one where that cannot be told.
HOW_FAR = """which => {
  const here = document.activeElement;
  const is = e => [e?.id, e?.textContent.trim(), e?.getAttribute('aria-label')].includes(which);
  if (is(here)) return 0;
  const all = [...document.querySelectorAll('a[href], button, input, select, textarea, summary')]
    .filter(e => e.tabIndex >= 0 && !e.disabled && e.checkVisibility({ visibilityProperty: true }) && !e.closest('[inert]'));
  const from = all.indexOf(here);
  const to = all.findIndex((e, place) => place > from && is(e));
  return from >= 0 && to > 0 ? to - from : 1;
}"""


class Keys:
    """Hands on the keyboard, and how much they did."""

    def __init__(self, page):
        self.page, self.pressed, self.fields = page, 0, 0

    def press(self, key):
        self.page.keyboard.press(key)
        self.pressed += 1

    def reach(self, which):
        """Go on by Tab until that thing has the focus; `which` is its id, or the words of a button or link."""
        for _ in range(400):
            # Where it stands among what takes the focus is only a guess of how often; what has it at last is asked.
            away = self.page.evaluate(HOW_FAR, which)
            if away == 0:
                return
            for _ in range(away):
                self.press("Tab")
        pytest.fail(f"{which} is not reached by keys")

    def fill(self, id, text):
        self.reach(id)
        self.page.keyboard.press("Control+A")
        # As a word of a phone's keyboard comes, all of it at once.
        self.page.keyboard.insert_text(text)
        self.fields += 1

    def choose(self, id, text):
        self.reach(id)
        self.page.keyboard.type(text)
        self.fields += 1


def test_the_way_from_nothing_by_keys(house, page_at, picture_of, axe, tmp_path):
    page = page_at(LAPTOP)
    page.goto(house.url + "/bench/processes")
    hands = Keys(page)
    hands.fill("name", WAY["name"])
    hands.press("Enter")
    page.get_by_role("heading", name=WAY["name"]).wait_for()
    hands.fill("tank_ml--1", "600")
    for place, step in enumerate(WAY["steps"]):
        if place:
            hands.reach("Add a step")
            hands.press("Enter")
            page.locator(f"#step-{place + 1}").wait_for()
        for name in FIELDS:
            said = step.get(name, "none" if name == "rinse" else "")
            if not said or (name == "light" and said == "dark"):
                continue
            if name == "made":
                page.locator(f"#step-{place + 1} details details summary").focus()
                hands.press("Enter")
            (hands.choose if name == "light" else hands.fill)(f"{name}-{place}", said)
    hands.press("Enter")
    page.get_by_text("Kept as revision").wait_for()
    # Eight steps in some sixty fields; hands that type do it in a few minutes.
    assert hands.fields <= 70
    print(f"the way: {hands.fields} fields, {hands.pressed} presses beside the typing")
    picture_of(page, "process")
    at = page.locator("#step-2 .opinion", has_text="acid rinse between iron and ammonia")
    at.get_by_role("button", name="Take it over").press("Enter")
    page.locator("#step-3 > details > summary", has_text="Acid rinse").wait_for()
    late = page.locator("#step-6 .opinion", has_text="Make it just before")
    late.get_by_text("I do it so").press("Enter")
    late.get_by_label("because").fill("The powder is fresh and I am quick.")
    late.get_by_role("button", name="Keep the reason").press("Enter")
    page.get_by_text("You do it so: The powder is fresh and I am quick.").wait_for()
    # A field that is refused: the sentence beside it, and all that was typed.
    page.locator("#time-0").fill("a good while")
    page.locator("#time-0").press("Enter")
    page.locator("#time-0-wrong", has_text="is no time").wait_for()
    assert page.locator("#time-0").input_value() == "a good while"
    axe(page)
    page.expected_errors.append("422")
    page.goto(house.url + "/bench/processes/my_fogging_way")
    page.set_viewport_size({"width": PHONE, "height": 844})
    assert overflow(page) <= 0
    page.locator("#step-1 .whole-words:visible", has_text=WAY["steps"][0]["bath"]).wait_for()
    axe(page)
    picture_of(page, "process")

    # Planned and rehearsed to its end at 390 px.
    page.get_by_role("link", name="Plan an evening").press("Enter")
    assert page.get_by_label("Process", exact=True).input_value() == "my_fogging_way"
    page.get_by_role("button", name="Make the plan").press("Enter")
    page.get_by_role("heading", name="My fogging way").wait_for()
    page.goto(house.url + "/units")
    page.get_by_label("My tank").fill("600")
    page.get_by_role("button", name="Keep").press("Enter")
    page.locator("dd", has_text="in my tank").wait_for()
    film = page.evaluate(
        "film => import('/static/house/house.js').then(h => h.post('/api/notebook/films', film)).then(answer => answer.id)",
        {"stock": {"name": "Invented grey base", "box_speed": 100}},
    )
    run = page.evaluate(
        "body => import('/static/house/house.js').then(h => h.post('/api/sink/runs', body)).then(answer => answer.run)",
        {
            "request": {
                "route": "my_fogging_way",
                "tank_ml": 600,
            },
            "speed": SPEED,
        },
    )
    page.goto(f"{house.url}/sink/{run}")
    wait_until(lambda: page.evaluate("Boolean(window.obverseSink?.sure())"))
    seen = drive(page, run, picture_of, axe)
    assert look(page, run)["status"] == "finished"
    page.get_by_role("heading", name="The log, to the second").wait_for()  # the page has loaded anew
    done = page.evaluate("run => fetch(`/api/sink/runs/${run}/report`).then(answer => answer.json())", run)["done"]
    assert [d["key"] for d in done if d["key"] not in seen] == [] and len(done) >= 30
    timed = [d for d in done if d["key"] in ("first_development", "bleach_a", "bleach_b", "fogging_developer")]
    assert len(timed) == 4 and all(d["took_s"] >= d["planned_s"] - 12 for d in timed)
    assert {"first_development", "bleach_a", "acid_rinse.rinse.1", "bleach_b", "clearing", "fogging_developer"} <= seen

    # A rehearsal books nothing: its strip is written down and read, the next one proposed in mL of the tank, the recipe locked by that way, and printed.
    page.evaluate(
        """film => import('/static/house/house.js').then(h => h.post(`/api/notebook/films/${film}/trials`, {
          controls: { first_developer_time_min: 11, solvent_ml_per_l: 2.5, alkali_ml_per_l: 8.33 } }))""",
        film,
    )
    page.goto(house.url + "/light-table")
    page.locator("#film").select_option(label="Invented grey base")
    page.locator("#fill").select_option("tablet-21")
    patches = page.locator(
        "#readings tbody tr input[data-field='density'], #readings tbody tr td:nth-child(3) input"
    ).all()
    for patch, density in zip(patches, DENSITIES, strict=True):
        patch.fill(str(density))
    page.locator("#numbers .tile").first.wait_for()
    page.locator("#trial").select_option(index=1)
    page.get_by_role("button", name="Write into the notebook").press("Enter")
    page.wait_for_url(f"**/notebook/{film}#trials")
    page.locator(".next-card", has_text=re.compile(r"\d mL in my tank")).first.wait_for()
    page.locator("#lock-route").select_option("my_fogging_way")
    page.locator("#lock-name").fill("Mine")
    page.on("dialog", lambda asked: asked.accept())
    page.get_by_role("button", name="Lock it").press("Enter")
    page.get_by_role("heading", name="Mine").wait_for()
    recipe = asked(page, house.url + "/notebook/recipes/mine/document.json").text()
    assert asked(page, house.url + "/notebook/recipes/mine/evening.pdf").body()[:4] == b"%PDF"

    # Its documents go into another darkroom with other bottles, and the evening is gone through there.
    # Nothing of a page still asks the house that closes.
    page.goto("about:blank")
    house.stop()
    house.home = tmp_path / "other"
    house.restart()
    page.goto(house.url + "/notebook/recipes")
    sent = "([where, body]) => import('/static/house/house.js').then(h => h.post(where, body))"
    content = {"substance": "ammonia", "strength": "25 % w/w"}
    ammonia = {"name": "strong ammonia", "form": "liquid", "contents": [content]}
    page.evaluate(sent, ["/api/shelf/products", ammonia])
    page.set_input_files("#r-file", {"name": "mine.json", "mimeType": "application/json", "buffer": recipe.encode()})
    page.get_by_role("button", name="Take it in").press("Enter")
    page.get_by_role("heading", name="Mine").wait_for()
    assert "strong ammonia" in page.locator("main").inner_text()
    id = page.evaluate("location.pathname").rsplit("/", 1)[1]
    run = page.evaluate(sent, ["/api/sink/runs", {"request": {"recipe": id}}])["run"]
    seen = set(page.evaluate(TO_ITS_END, run))
    assert {"first_development", "bleach_a", "bleach_b", "clearing", "fogging_developer"} <= seen
    page.goto(f"{house.url}/sink/{run}")
    page.get_by_role("heading", name="The log, to the second").wait_for()
