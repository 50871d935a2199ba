"""Every screen: title, clock, cue, the worst caution and the big button stand inside the first screen; targets fit wet gloves.

Sizes of windows are those of the issue of everyday devices; a zoom of 200 or 400 % halves or quarters the window,
text at 200 % doubles the root size.
"""

import json
from pathlib import Path

import pytest

from .conftest import overflow, painted, wait_until
from .test_sink_evening import begin, look

SCREENS = [
    (320, 568),
    (360, 640),
    (375, 667),
    (390, 844),
    (568, 320),
    (640, 360),
    (667, 375),
    (844, 390),
    (768, 1024),
    (1024, 768),
    (1280, 800),
    (1440, 2560),
    (2560, 1440),
    (640, 400),  # 1280 by 800 at 200 %
    (320, 256),  # 1280 by 1024 at 400 %
    (195, 422),  # a phone of 390 by 844 at 200 %
    (422, 195),
]
MEASURE = """() => {
  const box = id => { const e = document.getElementById(id); if (!e || e.hidden) return null; const r = e.getBoundingClientRect(); return r.width && r.height ? r : null; };
  const stage = document.getElementById('stage').getBoundingClientRect();
  const out = {};
  for (const id of ['title', 'time', 'cue', 'worst', 'touch']) {
    const r = box(id);
    if (!r) { out[id] = 'absent'; continue; }
    const inside = r.left >= -0.5 && r.right <= innerWidth + 0.5 && r.top >= -0.5 && r.bottom <= innerHeight + 0.5;
    const inStage = id === 'touch' || (r.top >= stage.top - 1 && r.bottom <= stage.bottom + 1);
    out[id] = inside && inStage ? 'in' : `out ${Math.round(r.left)},${Math.round(r.top)} to ${Math.round(r.right)},${Math.round(r.bottom)} stage ${Math.round(stage.top)}..${Math.round(stage.bottom)}`;
  }
  const time = box('time'), dial = box('dial-box');
  out.dial = !time || !dial || (time.left >= dial.left - 1 && time.right <= dial.right + 1) ? 'in' : 'out';
  // A caution is whole, or hidden whole below the fold; nothing lies over it.
  out.cut = [...document.querySelectorAll('#worst, #cautions li')].flatMap(e => {
    const r = e.getBoundingClientRect();
    if (!r.height || r.top >= stage.bottom - 1 || r.bottom <= stage.top + 1 || r.bottom - r.top > 0.6 * (stage.bottom - stage.top)) return [];
    const seen = at => e.contains(document.elementFromPoint((r.left + r.right) / 2, at));
    const fold = document.getElementById('fold');
    const covered = !fold.hidden && fold.getBoundingClientRect().top <= r.top + 1;
    if (covered) return [];
    return r.bottom <= stage.bottom + 1 && seen(r.top + 2) && seen(Math.min(r.bottom, stage.bottom) - 2) ? [] : [`${e.textContent.slice(0, 40)} ${Math.round(r.top)}..${Math.round(r.bottom)} stage ${Math.round(stage.top)}..${Math.round(stage.bottom)}`];
  });
  out.sideways = document.documentElement.scrollWidth - innerWidth;
  out.small = [...document.querySelectorAll('.touch button, .touch a, .house-head button, .house-head a')].filter(e => e.offsetParent && e.getClientRects().length)
    .map(e => [e.id || e.textContent.trim(), e.getBoundingClientRect()]).filter(([, r]) => r.width < 63.5 && r.height < 63.5 || r.height < 63.5)
    .map(([name, r]) => `${name} ${Math.round(r.width)}x${Math.round(r.height)}`);
  return out;
}"""
PHASES = ("ready", "running", "used bath", "planned", "doing")
# Where most is to be seen all sizes are looked at, elsewhere those with the least room and the most.
FULLEST = ("running", "used bath")
EXTREMES = [(320, 568), (568, 320), (844, 390), (2560, 1440), (320, 256), (195, 422), (422, 195)]


@pytest.fixture(scope="module")
def at_the_bath(house, chromium):
    """Runs of the same evening that stand where most must be seen: id by what is seen."""
    context = chromium.new_context()
    page = context.new_page()
    found = {}
    for name, stop in (
        ("ready", "dissolving"),
        ("running", "dissolving"),
        ("used bath", "fixing"),
        ("doing", "prewarm"),
    ):
        found[name] = begin(page, house, route="iron_ammonia_light")
        page.evaluate(
            """async ([run, stop, pour]) => {
              const { post } = await import('/static/house/house.js');
              let n = 0;
              const send = event => post(`/api/sink/runs/${run}/events`, { event_id: `q${n++}`, ...event });
              let answer = await send({ kind: 'started' });
              while (answer.view.action.key !== stop) {
                const a = answer.view.action;
                if (a.waits_for_pour && answer.view.clock_from_s === null) answer = await send({ kind: 'poured', action: a.key });
                else answer = await send({ kind: 'acknowledged', action: a.key, cut_short: true });
              }
              if (pour) await send({ kind: 'poured', action: stop });
            }""",
            [found[name], stop, name == "running"],
        )
    found["planned"] = begin(page, house, route="iron_ammonia_light")
    context.close()
    return found


def test_the_first_screen(house, page_at, at_the_bath):
    """At every size, or at the extremes in a phase with less to show, with text at 100 and 200 %."""
    page = page_at(390, 844)
    told = {}
    for name in PHASES:
        page.set_viewport_size({"width": 390, "height": 844})
        page.goto(f"{house.url}/sink/{at_the_bath[name]}")
        wait_until(lambda: page.evaluate("Boolean(window.obverseSink?.sure())"))
        painted(page, False)
        for width, height in SCREENS if name in FULLEST else EXTREMES:
            page.set_viewport_size({"width": width, "height": height})
            for text in (100, 200):
                page.evaluate(
                    """size => {
                      document.documentElement.style.fontSize = size + '%';
                      return new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)));
                    }""",
                    text,
                )
                told[f"{width}x{height}, {name}, text {text} %"] = page.evaluate(MEASURE)
    folder = Path(__file__).parents[2] / "pictures-of-tests"
    folder.mkdir(exist_ok=True)
    (folder / "screens.json").write_text(json.dumps(told, indent=1))
    wrong = {
        f"{name}: {what}": value
        for name, one in told.items()
        for what, value in one.items()
        if (what in ("title", "time", "cue", "worst", "touch", "dial") and value not in ("in", "absent"))
        or (what == "sideways" and value > 0)
        or (what in ("small", "cut") and value)
    }
    assert wrong == {}
    for width, height in SCREENS:
        seen = told[f"{width}x{height}, running, text 100 %"]
        assert {seen["cue"], seen["worst"], seen["time"], seen["touch"]} == {"in"}


def test_dialogs_have_targets_for_wet_gloves(house, page_at, at_the_bath):
    page = page_at(320, 568)
    page.goto(f"{house.url}/sink/{at_the_bath['running']}")
    page.get_by_role("button", name="More").click()
    for each in page.locator("dialog summary").all():
        each.click()
    small = page.evaluate(
        """() => [...document.querySelectorAll('dialog[open] :is(button, a, summary, select, input:not([type=checkbox]), label.check)')]
          .map(e => [e.id || e.textContent.trim(), e.getBoundingClientRect()]).filter(([, r]) => r.height && r.height < 63.5).map(([n, r]) => n + ' ' + r.height)"""
    )
    assert small == []
    assert page.evaluate("document.getElementById('more').scrollWidth <= document.getElementById('more').clientWidth")
    page.keyboard.press("Escape")
    page.get_by_role("button", name="That was wrong").click()
    assert page.evaluate("document.getElementById('wrong').scrollWidth <= document.getElementById('wrong').clientWidth")
    assert look(page, at_the_bath["running"])["phase"] in ("running", "draining", "due")


def test_axe_finds_nothing_at_320_where_no_demo_leads(house, page_at, at_the_bath, axe):
    page = page_at(320, 568)
    page.expected_errors += ["422"]
    ended = begin(page, house, route="iron_ammonia_light")
    page.evaluate(
        """async run => {
          const { post } = await import('/static/house/house.js');
          await post(`/api/sink/runs/${run}/events`, { event_id: 'a', kind: 'started' });
          await post(`/api/sink/runs/${run}/events`, { event_id: 'b', kind: 'temperature_noted', temperature_c: 20.5 });
          await post(`/api/sink/runs/${run}/events`, { event_id: 'c', kind: 'aborted', text: 'the tank leaks' });
        }""",
        ended,
    )
    wait_until(
        lambda: "the tank leaks" in page.locator("main").inner_text(), message="the report did not come by itself"
    )
    for address in (
        "/sink?route=nothing",
        "/sink/plan?route=nothing",
        *(f"/sink/{at_the_bath[name]}" for name in PHASES),
        f"/sink/{ended}",
    ):
        answer = page.goto(house.url + address)
        assert answer.status in (200, 404, 422), address
        page.evaluate("for (const box of document.querySelectorAll('main details')) box.open = true")
        axe(page)
        assert overflow(page) <= 0, address
    assert "the tank leaks" in page.locator("main").inner_text()


def test_the_big_button_ends_a_pause_in_a_bath(house, page_at, at_the_bath):
    page = page_at(390, 844)
    page.goto(f"{house.url}/sink/{at_the_bath['ready']}")
    big = page.locator("#touch")

    def says(words):
        wait_until(lambda: big.text_content() == words, message=f"the big button does not say {words!r}")

    def touched():
        page.wait_for_timeout(800)  # longer than a slip of the hand
        big.click()

    says("It is in: start the clock")
    touched()
    says("Nothing to do yet")
    page.get_by_role("button", name="More").click()
    page.get_by_role("button", name="Pause").click()
    says("Go on")
    assert "waiting" not in big.get_attribute("class").split()
    touched()
    says("Nothing to do yet")
    assert look(page, at_the_bath["ready"])["status"] == "running"
