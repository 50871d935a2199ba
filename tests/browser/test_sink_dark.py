"""The dark part as a film in text: what is seen, heard, spoken and felt at each touch, on both devices; and an evening as it is announced.

The texts are kept in tests/golden and read through by a person; OBVERSE_GOLDEN=1 writes them anew.
"""

import os
import re
from pathlib import Path

import pytest

from .conftest import PHONE, PICTURES, House, overflow, wait_until
from .test_sink_evening import begin, look
from .touching import hold, until_it_heeds, until_it_is_settled

GOLDEN = Path(__file__).parents[1] / "golden"
EARS = """
window.spoken = []; window.shaken = [];
Object.defineProperty(window, 'speechSynthesis', { value: { speak: u => window.spoken.push(u.text), cancel: () => {} } });
window.SpeechSynthesisUtterance = function (text) { this.text = text; };
navigator.vibrate = pattern => { window.shaken.push(pattern); return true; };
"""


@pytest.fixture
def own_house(tmp_path):
    """A house without the duties of other evenings."""
    running = House(tmp_path / "home", "serve").start()
    yield running
    running.stop()


def kept(name: str, text: str) -> str:
    """The text as it is kept; written anew where that is asked for."""
    file = GOLDEN / name
    if os.environ.get("OBVERSE_GOLDEN"):
        file.write_text(text + "\n")
    return file.read_text().rstrip("\n")


def until(page, run, key) -> None:
    page.evaluate(
        """async ([run, key]) => {
          const { get, post } = await import('/static/house/house.js');
          let n = 0, view = await get(`/api/sink/runs/${run}`);
          const send = async event => { view = (await post(`/api/sink/runs/${run}/events`, { event_id: `${key}${n++}`, ...event })).view; };
          if (view.status === 'planned') await send({ kind: 'started' });
          while (view.action.key !== key) {
            const a = view.action;
            if (a.waits_for_pour && view.clock_from_s === null) await send({ kind: 'poured', action: a.key });
            else await send({ kind: 'acknowledged', action: a.key, cut_short: true });
          }
        }""",
        [run, key],
    )


class Film:
    """What two devices show and tell at each touch of the first."""

    def __init__(self, page, other, run):
        self.page, self.other, self.run = page, other, run
        self.lines: list[str] = []

    def hear(self, page) -> str:
        heard = page.evaluate(
            "({ tones: obverseSink.answers().splice(0), spoken: spoken.splice(0), shaken: shaken.splice(0) })"
        )
        tones = (
            ", ".join(f"{t['kind']} x{t['count']}" if t["count"] > 1 else t["kind"] for t in heard["tones"])
            or "nothing"
        )
        screen = "BLACK" if page.locator("#veil").is_visible() else "lit: " + page.locator("#title").inner_text()
        # On a very busy computer the house may be silent for a while, which is rightly said and is not part of this film.
        spoken = [text for text in heard["spoken"] if text.strip() and not text.startswith("No sign of the house.")]
        said = " / ".join(spoken) or "nothing"
        return f"screen {screen}; tones: {tones}; felt: {'yes' if heard['shaken'] else 'no'}; spoken: {said}"

    def take(self, what: str) -> None:
        wait_until(lambda: self.page.evaluate("obverseSink.waiting()") == 0)
        now = look(self.page, self.run)
        wait_until(lambda: self.other.evaluate("obverseSink.core().index") == now["index"])
        self.lines += [
            f"* {what}",
            f"    hand device: {self.hear(self.page)}",
            f"    other device: {self.hear(self.other)}",
        ]

    def hold(self) -> None:
        hold(self.page)

    def tap(self) -> None:
        self.page.keyboard.press(" ")

    def three_taps(self) -> None:
        """Short whatever else this computer does: down and up within one turn of the page."""
        self.page.evaluate(
            """() => { for (const kind of ['keydown', 'keyup', 'keydown', 'keyup', 'keydown', 'keyup'])
              document.dispatchEvent(new KeyboardEvent(kind, { key: ' ', bubbles: true, cancelable: true })); }"""
        )


def test_two_strips_in_the_dark(house, page_at, axe, picture_of):
    page, other = page_at(PHONE), page_at(PHONE)
    page.add_init_script(EARS)
    other.add_init_script(EARS)
    strips = [{"name": n, "controls": {"first_developer_time_min": t}} for n, t in (("A", 8.0), ("B", 11.0))]
    run = begin(page, house, route="permanganate_light", strips=strips)
    until(page, run, "prewarm")
    page.reload()
    other.goto(f"{house.url}/sink/{run}")
    for each in (page, other):
        wait_until(lambda each=each: each.evaluate("Boolean(window.obverseSink?.sure())"))
        each.mouse.click(200, 120)
    film = Film(page, other, run)
    film.take("the bottles stand in warm water")
    until_it_is_settled(page)
    film.tap()
    film.take("touch: prewarm is done, the brief comes")
    until_it_is_settled(page)
    film.tap()
    film.take("touch before all is read: the page scrolls on, nothing else")
    assert look(page, run)["action"]["key"] == "brief"
    until_it_heeds(page)
    film.tap()
    film.take("touch after all is read: light out")
    film.tap()
    film.take("a short touch: nothing")
    film.three_taps()
    film.take("three short taps, too early: no light")
    film.hold()
    film.take("held: it is dark")
    film.hold()
    film.take("held: B is loaded")
    film.hold()
    film.take("held: A is loaded")
    assert look(page, run)["action"]["key"] == "light_on"
    film.hold()
    film.take("a doubtful hold more: no light")
    film.tap()
    film.take("one tap: no light")
    page.wait_for_timeout(2600)
    film.three_taps()
    film.take("three short taps: light")
    assert look(page, run)["action"]["key"].startswith("prepare")
    until(page, run, "brief.join")
    page.reload()
    wait_until(lambda: page.evaluate("Boolean(window.obverseSink?.sure())"))
    page.mouse.click(200, 120)
    wait_until(lambda: other.evaluate("obverseSink.core().index") == look(page, run)["index"])
    # What was told of the steps between, in quick time, is not part of this film.
    film.hear(page), film.hear(other)
    film.take("both are developed and wait in water: the brief for joining, screen lit")
    until_it_heeds(page)
    film.tap()
    film.take("touch: light out")
    film.hold()
    film.take("held: it is dark")
    axe(page)
    film.hold()
    film.take("held: the reels are in one tank")
    film.three_taps()
    film.take("three short taps: light")
    told = "\n".join(film.lines)
    assert told == kept("dark_part.txt", told)
    # In the dark no device is ever lit, and the hand device answers every held touch by tones, touch and speech.
    for what, hand, away in zip(film.lines[::3], film.lines[1::3], film.lines[2::3], strict=True):
        if what.startswith("* held"):
            assert "tones: felt" in hand and "felt: yes" in hand and "spoken: nothing" not in hand, what
            assert "tones: nothing" not in away and "spoken: nothing" not in away, what
        if "no light" in what or what.startswith("* held"):
            assert "screen BLACK" in hand and "screen BLACK" in away, what
    # What comes with the light on, and in no other film of these tests, is no wider than the phone either.
    actions = page.evaluate("JSON.parse(document.getElementById('plan').textContent).actions")
    for here in [next(action for action in actions if action["kind"] == kind) for kind in ("open", "reexpose")]:
        until(page, run, here["key"])
        wait_until(lambda here=here: page.locator("#title").inner_text() == here["title"])
        assert overflow(page) <= 0
        picture_of(page, f"sink-{here['kind']}")


def test_a_key_on_what_lies_behind_the_black_reaches_nothing(house, page_at):
    page = page_at(PHONE)
    run = begin(page, house, route="permanganate_light")
    until(page, run, "load.1")
    page.reload()
    wait_until(lambda: page.locator("#veil").is_visible())
    for key in ("Tab", "Enter", "Tab", "Tab", " ", "F1", "a", "ArrowDown", "Escape", "Home"):
        page.keyboard.press(key)
    page.mouse.click(20, 20)
    page.wait_for_timeout(400)
    assert page.url.endswith(f"/sink/{run}") and page.locator("#veil").is_visible()
    assert look(page, run)["action"]["key"] == "load.1"


def test_an_evening_as_a_screen_reader_tells_it(own_house, page_at):
    """Step changes once, with the next step's title; no chatter between them; the tree of every step as text."""
    page = page_at(PHONE)
    page.add_init_script(
        """window.addEventListener('DOMContentLoaded', () => {
          window.announced = [];
          const box = document.getElementById('announce');
          if (box) new MutationObserver(() => window.announced.push(box.textContent)).observe(box, { childList: true });
          window.live = 0;
          for (const e of document.querySelectorAll('[aria-live=polite], [role=status]')) new MutationObserver(() => { if (e.id !== 'announce' && e.getAttribute('aria-live') !== 'off' && e.textContent && !e.hidden) window.live += 1; }).observe(e, { childList: true, characterData: true, subtree: true });
        });"""
    )
    run = begin(page, own_house, route="permanganate_light")
    until(page, run, "lay_out")
    page.reload()
    wait_until(lambda: page.evaluate("Boolean(window.obverseSink?.sure())"))
    trees, told = [], []
    count = look(page, run)["count"]
    for _ in range(count - 1):
        now = look(page, run)
        key = now["action"]["key"]
        told_before = page.evaluate("window.announced.length")
        black = page.locator("#veil").is_visible()
        trees.append(f"== {key}\n{page.locator('#veil' if black else 'main').aria_snapshot()}")
        page.evaluate(
            """async ([run, key, pour]) => {
              const { post } = await import('/static/house/house.js');
              if (pour) await post(`/api/sink/runs/${run}/events`, { event_id: key + 'p', kind: 'poured', action: key });
              await post(`/api/sink/runs/${run}/events`, { event_id: key, kind: 'acknowledged', action: key, cut_short: true });
            }""",
            [run, key, now["action"]["waits_for_pour"]],
        )
        wait_until(lambda told_before=told_before: page.evaluate("window.announced.length") > told_before)
        told += page.evaluate("from => window.announced.slice(from)", told_before)
    assert len(told) == count - 1, "each change of step is announced once"
    # Titles and what comes next; what hands do is the route's own text, and changes with it.
    text = "\n".join(f"{line.split('. ')[0]}. ... {line[line.rindex('Then') :]}" for line in told)
    plan = page.evaluate("JSON.parse(document.getElementById('plan').textContent).actions")
    assert all(action["do"] in line for action, line in zip(plan[1:], told, strict=True)), "what to do is said"
    (PICTURES / "announced_evening.txt").write_text("\n\n".join(told) + "\n")
    for words in ("by ",):
        text = "\n".join(
            line.split(f": destroy it {words}")[0].split(f": use it up {words}")[0] for line in text.splitlines()
        )
    assert text == kept("announced_evening.txt", text)
    assert all("Then" in line for line in told), "what comes next is said"
    # The clock and the deadlines carry the hour, which is another one every day.
    # What is said in passing ("Tap the title once") goes after some seconds, wherever the evening then is.
    tree = re.sub(r"\d{1,2}:\d{2}(:\d{2})?( ?[AP]M)?|\bin \d+ min\b", "#", "\n".join(trees))
    tree = "\n".join(line for line in tree.splitlines() if "Tap the title once" not in line)
    assert tree == kept("tree_of_evening.txt", tree)
    assert page.evaluate("window.live") < 3 * count
