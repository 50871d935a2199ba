"""On a phone, 390 by 844: every kind of step fits, and what a step itself warns of stands in its first screen, with nothing to scroll."""

import json

from tests.browser.conftest import PHONE, overflow

SEEN_JS = """
() => {
  const top = document.querySelector('#stage').getBoundingClientRect().top;
  const bottom = document.querySelector('#stage').getBoundingClientRect().bottom;
  const found = [];
  for (const each of document.querySelectorAll('#worst, #telling li, #telling .do')) {
    const box = each.getBoundingClientRect();
    if (box.height && box.top >= top - 1 && box.bottom <= bottom) found.push(each.textContent);
  }
  return found.join(' | ');
}
"""
SEND_JS = """
async ([run, kind, action, id]) => {
  const { post } = await import('/static/house/house.js');
  await post(`/api/sink/runs/${run}/events`, { event_id: id, kind, action, cut_short: true, device: 'test' });
}
"""
AT_WORK = ("bath", "destroy", "weigh")
KINDS = {
    *("lay_out", "prepare", "weigh", "prewarm", "lights_out", "load", "check", "bath", "rinse", "hold"),
    *("may_open", "wash", "hang", "destroy", "clear_up"),
}


def test_every_steps_own_cautions_are_in_the_first_screen(house, page_at, picture_of):
    page = page_at(PHONE)
    page.goto(house.url + "/sink/plan?route=iron_ammonia_fogging&tank_ml=500&strip=A")
    page.get_by_role("button", name="Rehearse it").click()
    page.locator("#touch").wait_for()
    run = page.url.rsplit("/", 1)[1]
    plan = json.loads(page.locator("#plan").text_content())
    hidden, looked, kinds = [], [], set()

    def send(number, kind, action=""):
        page.evaluate(SEND_JS, [run, kind, action, f"{number}-{kind}"])

    send("first", "started")
    for number, action in enumerate(plan["actions"]):
        page.wait_for_function("title => document.querySelector('#title').textContent === title", arg=action["title"])
        if action["kind"] not in kinds:
            kinds.add(action["kind"])
            assert overflow(page) <= 0, action["key"]
            picture_of(page, f"sink-{action['kind']}")
        if action["kind"] in AT_WORK:
            seen = page.evaluate(SEEN_JS)
            looked.append(action["key"])
            hidden += [(action["key"], text) for text in action["cautions"] if text not in seen]
        if action["kind"] == "lay_out":
            told = page.locator("#telling").text_content()
            assert "pH test strips" in told and "kitchen salt" in told and "plastic bucket" in told
            assert page.locator("#touch").text_content() == "It all stands here"
        if action["waits_for_pour"]:
            send(number, "poured", action["key"])
        send(number, "acknowledged", action["key"])
    assert hidden == [] and kinds >= KINDS
    assert len(looked) > 12 and {"dissolving", "dissolving.destroy_acid", "weigh.fogging_dithionite"} <= set(looked)
