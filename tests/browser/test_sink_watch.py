"""A silent house is noticed, whatever silences it: quietly first, then loudly; every touch says where it is kept."""

import os
import re
import signal

import pytest

from .conftest import PHONE, House, asked, wait_until
from .relay import Relay
from .test_sink_dark import until
from .test_sink_evening import begin, look
from .touching import until_it_heeds

QUIET = "No sign of the house"


@pytest.fixture
def own_house(tmp_path):
    running = House(tmp_path / "home", "serve").start()
    yield running
    if running._process is not None:
        os.kill(running._process.pid, signal.SIGCONT)
    running.stop()


def shown(page) -> dict:
    return page.evaluate(
        "(() => { const t = document.getElementById('trouble'); return { trouble: t.hidden ? '' : t.textContent, loud: t.classList.contains('loud'), kept: document.getElementById('kept').textContent }; })()"
    )


def silent_for(page) -> None:
    """Wait until the page says that it hears nothing; the time is the page's own clock, not this computer's."""
    page.evaluate(
        """() => new Promise((done, fail) => {
          const from = performance.now();
          const look = () => {
            const t = document.getElementById('trouble');
            if (!t.hidden) { window.noticedAfter = performance.now() - from; done(); }
            else if (performance.now() - from > 120000) fail(new Error('nothing was noticed'));
            else setTimeout(look, 50);
          };
          look();
        })"""
    )


def a_running_evening(page, house) -> str:
    run = begin(page, house)
    page.keyboard.press("Enter")
    wait_until(lambda: look(page, run)["status"] == "running")
    wait_until(lambda: shown(page)["kept"] == "kept in the house")
    # What is to be laid out is read to its end, or a touch would only read on.
    page.evaluate("document.getElementById('stage').scrollTop = 1e6")
    return run


def test_a_stopped_process(own_house, page_at):
    page = page_at(PHONE)
    page.expected_errors += ["ERR_", "Failed to load"]
    run = a_running_evening(page, own_house)
    os.kill(own_house._process.pid, signal.SIGSTOP)
    silent_for(page)
    assert QUIET in shown(page)["trouble"] and not shown(page)["loud"]
    until_it_heeds(page)
    page.keyboard.press("Enter")
    wait_until(lambda: shown(page)["kept"] == "1 kept here")
    wait_until(lambda: shown(page)["loud"])
    os.kill(own_house._process.pid, signal.SIGCONT)
    wait_until(lambda: shown(page) == {"trouble": "", "loud": False, "kept": "kept in the house"})
    # The touch was sent several times and happened once.
    assert look(page, run)["index"] == 1
    log = asked(page, f"{own_house.url}/api/sink/runs/{run}/report").json()["log"]
    assert [e["kind"] for e in log] == ["started", "acknowledged"]


@pytest.mark.parametrize("how", ["dropped", "half_open"])
def test_a_lost_way(own_house, page_at, how):
    relay = Relay(own_house.port)
    page = page_at(PHONE)
    page.expected_errors += ["ERR_", "Failed to load"]

    class Through:
        url = f"http://127.0.0.1:{relay.port}"

    run = a_running_evening(page, Through)
    if how == "dropped":
        relay.mode = "dropped"
    else:
        relay.half_open()
    silent_for(page)
    assert QUIET in shown(page)["trouble"]
    until_it_heeds(page)
    page.keyboard.press("Enter")
    wait_until(lambda: shown(page)["kept"] == "1 kept here")
    relay.mode = "open"
    wait_until(lambda: shown(page) == {"trouble": "", "loud": False, "kept": "kept in the house"})
    log = asked(page, f"{own_house.url}/api/sink/runs/{run}/report").json()["log"]
    assert [e["kind"] for e in log] == ["started", "acknowledged"]
    relay.close()


def test_a_sleeping_phone_is_no_silent_house(own_house, page_at):
    page, other = page_at(PHONE), page_at(PHONE)
    run = a_running_evening(page, own_house)
    other.goto(f"{own_house.url}/sink/{run}")
    page.evaluate(
        """() => { window.told = []; new MutationObserver(() => { const t = document.getElementById('trouble'); if (!t.hidden) window.told.push(t.textContent); })
          .observe(document.getElementById('trouble'), { attributes: true, childList: true }); }"""
    )
    session = page.context.new_cdp_session(page)
    session.send("Page.setWebLifecycleState", {"state": "frozen"})
    other.wait_for_timeout(5000)
    other.evaluate("import('/static/house/house.js')")
    session.send("Page.setWebLifecycleState", {"state": "active"})
    wait_until(lambda: page.evaluate("obverseSink.sure()"))
    page.wait_for_timeout(1500)
    assert page.evaluate("window.told") == []
    assert shown(page)["trouble"] == ""


def test_the_sentence_is_told_once_and_not_every_second(own_house, page_at):
    page = page_at(PHONE)
    page.expected_errors += ["ERR_", "Failed to load"]
    a_running_evening(page, own_house)
    page.evaluate(
        """() => { window.told = 0; new MutationObserver(() => { window.told += 1; }).observe(document.getElementById('trouble'), { childList: true, characterData: true, subtree: true }); }"""
    )
    os.kill(own_house._process.pid, signal.SIGSTOP)
    until_it_heeds(page)
    page.keyboard.press("Enter")
    silent_for(page)
    page.wait_for_timeout(4000)
    assert page.evaluate("window.told") == 1


def test_the_last_touch_without_a_house_ends_the_evening_here_and_asks_for_nothing_done(own_house, page_at):
    page = page_at(PHONE)
    page.expected_errors += ["ERR_", "Failed to load"]
    run = begin(page, own_house, route="iron_ammonia_light")
    page.evaluate(
        """async run => {
          const { post } = await import('/static/house/house.js');
          let n = 0;
          const send = event => post(`/api/sink/runs/${run}/events`, { event_id: `q${n++}`, ...event });
          let answer = await send({ kind: 'started' });
          while (answer.view.action.key !== 'dissolving.destroy_settle') {
            const a = answer.view.action;
            if (a.waits_for_pour && answer.view.clock_from_s === null) answer = await send({ kind: 'poured', action: a.key });
            else answer = await send({ kind: 'acknowledged', action: a.key, cut_short: true });
          }
        }""",
        run,
    )
    page.reload()
    wait_until(lambda: page.evaluate("Boolean(window.obverseSink?.sure())"))
    assert "mmonia" in page.locator("#stage").inner_text()
    os.kill(own_house._process.pid, signal.SIGSTOP)
    for _ in range(2):
        until_it_heeds(page)
        page.keyboard.press("Enter")
    wait_until(lambda: page.evaluate("obverseSink.waiting()") == 2)
    text = page.locator("#stage").inner_text()
    assert "Over" in text and "NOT BEGUN" not in text.upper() and "destroy it" not in text
    assert shown(page)["kept"] == "2 kept here"
    os.kill(own_house._process.pid, signal.SIGCONT)
    page.get_by_role("heading", name="The log, to the second").wait_for()


def test_the_duty_of_another_evening_has_its_steps_and_its_time_and_goes_when_it_is_done(own_house, page_at):
    page = page_at(PHONE, own=True)
    other = begin(page, own_house, route="permanganate_light")
    until(page, other, "clearing")
    page.clock.install()
    begin(page, own_house)
    line = page.locator("#cautions li", has_text="Destroy acid permanganate bleach")
    line.wait_for()
    assert "min are left. It must not stand." in line.inner_text()
    assert line.get_by_role("link", name="Its steps").get_attribute("href") == f"/sink/{other}"
    # Who takes it is seen here without a reload; so is that it is done.
    page.evaluate(
        "run => import('/static/house/house.js').then(h => h.post(`/api/sink/runs/${run}/events`, { event_id: 'ada', kind: 'duty_taken', action: 'bleach_permanganate', text: 'Ada' }))",
        other,
    )
    page.clock.fast_forward(16_000)
    wait_until(lambda: "Ada does it." in line.inner_text())
    own_left = int(re.search(r"(-?\d+) min are left", line.inner_text())[1])
    page.route("**/duties", lambda route: route.abort())
    page.expected_errors += ["ERR_FAILED", "Failed to load"]
    line.get_by_role("link", name="Its steps").focus()
    page.clock.fast_forward(120_000)
    wait_until(lambda: f"{own_left - 2} min are left" in line.inner_text())
    assert page.evaluate("document.activeElement.textContent") == "Its steps", "a minute takes nobody's place away"
    page.unroute("**/duties")
    until(page, other, "clear_up")
    page.clock.fast_forward(16_000)
    wait_until(lambda: line.count() == 0)
