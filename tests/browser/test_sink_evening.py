"""The evening on its page: how it is begun, gone through by keys or without hands; its plan, its dialog."""

import re
from urllib.parse import urljoin

from .conftest import LAPTOP, PHONE, PICTURED, asked, overflow, painted, wait_until
from .touching import hold, until_it_counts, until_it_is_sent

ROUTE = "iron_ammonia_fogging"
# Whatever step the evening stands at is done and told, to its end.
TO_ITS_END = """async run => {
  const { get, post } = await import('/static/house/house.js');
  const seen = [];
  let view = await get(`/api/sink/runs/${run}`);
  const send = async event => { view = (await post(`/api/sink/runs/${run}/events`, { event_id: `${run}${seen.length}${event.kind}`, ...event })).view; };
  if (view.status === 'planned') await send({ kind: 'started' });
  while (view.status === 'running') {
    const { key, waits_for_pour } = view.action;
    seen.push(key);
    if (waits_for_pour && view.clock_from_s === null) await send({ kind: 'poured', action: key });
    await send({ kind: 'acknowledged', action: key, cut_short: true });
  }
  return seen;
}"""


def begin(page, house, *, speed=1.0, route=ROUTE, **request) -> str:
    """Keep an evening through the JSON interface and open its page; returns its id."""
    (token,) = re.findall(r'name="obverse-token" content="([^"]+)"', asked(page, house.url + "/units").text())
    answer = page.request.post(
        house.url + "/api/sink/runs",
        data={"request": {"route": route, "tank_ml": 500, **request}, "speed": speed},
        headers={"X-Obverse-Token": token},
    )
    run = answer.json()["run"]
    page.goto(f"{house.url}/sink/{run}")
    wait_until(lambda: page.evaluate("Boolean(window.obverseSink?.sure())"))
    return run


def look(page, run) -> dict:
    # Beside the page, not in it: the page loads anew when the evening is over.
    return asked(page, urljoin(page.url, f"/api/sink/runs/{run}")).json()


def drive(page, run, picture_of, axe) -> set[str]:
    """Go through the evening by keys alone, a picture of each kind of step; the keys of the actions seen."""
    # A hurried evening flashes all the time: work of the browser that is no part of what is tried.
    page.emulate_media(reduced_motion="reduce")
    painted(page, PICTURED)
    seen, pictured = set(), set()
    now = look(page, run)
    while now["status"] != "finished":
        action = now["action"]
        if action:
            seen.add(action["key"])
            name = f"{action['kind']}-{now['phase']}"
            if name not in pictured:
                pictured.add(name)
                assert overflow(page) <= 0
                picture_of(page, f"sink-{name}")
                if name == "rinse-doing":
                    painted(page, True)
                    axe(page)
                    painted(page, PICTURED)
        until_it_counts(page)
        if page.locator("#veil").is_visible():
            if action["kind"] == "light_on":
                for _ in range(3):
                    page.keyboard.press("Enter")
            else:
                hold(page, "Enter")
        else:
            page.keyboard.press(" ")
        until_it_is_sent(page)
        # The house has heard of it when there is one event more.
        wait_until(
            lambda now=now: look(page, run)["seq"] == now["seq"] + 1, message=f"the touch did not count at {action}"
        )
        now = look(page, run)
    return seen


def test_plan_page(house, page_at, picture_of):
    page = page_at(LAPTOP)
    page.goto(house.url + "/sink")
    page.get_by_label("Process", exact=True).select_option("permanganate_fogging")
    page.get_by_label("Baths tonight, °C").fill("20.5")
    page.get_by_label("Rinsing water, °C").fill("16.5")
    page.get_by_role("button", name="Make the plan").click()
    page.get_by_role("heading", name="Two hands suffice").wait_for()
    # 4 C between baths, the film soft after acid permanganate: the loudest word.
    # What is beyond the three worst stands folded.
    cautions = page.locator("section", has=page.get_by_role("heading", name="Before you begin")).locator(".caution")
    told = [" ".join(text.split()) for text in cautions.all_text_contents()]
    # Colder and warmer, each said once with all its places, and first.
    assert all("After acid permanganate the gelatin is soft" in text for text in told[:2])
    assert told[0].startswith("Danger, Rinse after acid permanganate bleach; Rinse after clearing bath;"), told[0]
    # Who is heard before the book stands at the foot of every page.
    assert len(told) == len(set(told)) and not any("local codes come before" in text for text in told)
    for width in (LAPTOP, PHONE):
        page.set_viewport_size({"width": width, "height": 844})
        assert overflow(page) <= 0
        picture_of(page, "sink-plan")


def test_the_dim_appearance_and_the_dialog(house, page_at, picture_of, axe):
    page = page_at(PHONE)
    run = begin(page, house)
    page.keyboard.press("Enter")
    wait_until(lambda: look(page, run)["status"] == "running")
    page.get_by_role("button", name="Red screen").click()
    axe(page)
    picture_of(page, "sink-dim")
    page.get_by_role("button", name="More").press("Enter")
    axe(page)
    picture_of(page, "sink-more")
    page.get_by_label("Temperature, °C").fill("20,4")
    page.keyboard.press("Enter")
    wait_until(lambda: page.get_by_text("Noted: 20.4 C.").is_visible())
    # Keys typed in the dialog never touched the big button.
    assert look(page, run)["index"] == 0
    page.get_by_role("button", name="Red screen").click()
