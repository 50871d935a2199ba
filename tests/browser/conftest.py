"""A real server process, a real browser: fixtures for every test that looks at a page."""

from __future__ import annotations

import fcntl
import json
import os
import re
import shutil
import signal
import subprocess
import time
from pathlib import Path

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import sync_playwright

from .forked import Forked, last_as_long_as_the_run

LAPTOP = 1280
PHONE = 390
HEIGHT = {LAPTOP: 860, PHONE: 844}
# How many times slower the browser reckons than it could: OBVERSE_SLOW_BROWSER=6 tries the pages as a weak phone has them.
SLOWER = float(os.environ.get("OBVERSE_SLOW_BROWSER", "1"))
PICTURES = Path(__file__).parents[2] / "pictures-of-tests"
# Pictures are for a person to look at and prove nothing: they are only taken where OBVERSE_PICTURES asks for them.
PICTURED = bool(os.environ.get("OBVERSE_PICTURES"))


# No page is looked at long enough that making its scripts faster pays for itself.
# Pages of one device share the program that shows them, which takes longer to begin than a page to load.
FRUGAL = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--js-flags=--no-opt",
    "--renderer-process-limit=1",
]


class House:
    """A running `obverse` with its own home folder."""

    def __init__(self, home: Path, *command: str):
        self.home = home
        self._command = command
        self.url = ""
        self.start_path = ""
        self.told = ""
        self._process: Forked | None = None

    def start(self, port: int = 0) -> House:
        """Start the server and wait until it says where it is."""
        environment = {**os.environ, "OBVERSE_HOME": str(self.home), "PYTHONUNBUFFERED": "1"}
        self._process = self._begun([*self._command, "--port", str(port)], environment)
        self.told = ""
        for line in self._process.stdout:
            self.told += line
            found = re.search(r"(https?)://127\.0\.0\.1:(\d+)(\S*)", line)
            if found:
                self.port = int(found[2])
                self.url = f"{found[1]}://127.0.0.1:{self.port}"
                self.start_path = found[3]
                return self
        pytest.fail(f"the server did not start:\n{self.told}")

    def _begun(self, arguments: list[str], environment: dict[str, str]) -> Forked:
        return Forked(arguments, environment)

    def kill(self) -> None:
        """As a power cut would."""
        self._end(signal.SIGKILL)

    def stop(self) -> None:
        """As Ctrl+C would."""
        self._end(signal.SIGINT)

    def restart(self) -> None:
        """Start again at the same port over the same home."""
        self.start(self.port)

    def _end(self, how: int) -> None:
        if self._process is None:
            return
        self._process.send_signal(how)
        try:
            self._process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            self._process.send_signal(signal.SIGKILL)
            self._process.wait()
        self._process.stdout.close()
        self._process = None


def browser_path(*, whole: bool = False) -> str:
    """The chromium of this computer; rather the build without windows, which does the same with less work, unless the `whole` is needed."""
    for name in (
        ("chromium", "chromium-browser") if whole else ("chromium-headless-shell", "chromium", "chromium-browser")
    ):
        if path := shutil.which(name):
            return path
    pytest.fail("chromium is not installed; install the package chromium (make test does it where it may)")


@pytest.fixture(scope="session")
def playwright():
    """The driver of all browsers: there is only one in a process."""
    with sync_playwright() as started:
        yield started


@pytest.fixture(scope="session")
def chromium(playwright):
    """The browser of this computer, without a window."""
    browser = playwright.chromium.launch(executable_path=browser_path(), args=FRUGAL)
    yield browser
    browser.close()


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    """An empty darkroom, served; one for all tests of a file."""
    running = House(tmp_path_factory.mktemp("home"), "serve").start()
    yield running
    running.stop()


@pytest.fixture(scope="session")
def demo_house(tmp_path_factory, the_demo):
    """The invented teaching darkroom, served; one for all workers of a run. Do not change what it holds."""
    folder = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        folder = folder.parent
    with (folder / "demo.lock").open("a+") as alone:
        fcntl.flock(alone, fcntl.LOCK_EX)
        alone.seek(0)
        running = House(folder / "demo", "demo", "--no-browser")
        if told := alone.read():
            running.url, running.start_path = json.loads(told)
        else:
            shutil.copytree(the_demo, folder / "demo")
            running.start()
            last_as_long_as_the_run(running._process)
            alone.write(json.dumps([running.url, running.start_path]))
    return running


class Device:
    """A browser of one person: what it keeps is kept from others, and forgotten before the next person has it."""

    def __init__(self, chromium, **options):
        self.context = chromium.new_context(**options)
        self.context.set_default_timeout(1000 * PATIENCE_S)
        # An empty page of the same computer keeps the program running that shows the others.
        self._resting = self.context.new_page()
        self._resting.route("**/*", lambda route: route.fulfill(body="", content_type="text/html"))
        self._resting.goto("http://127.0.0.1/")
        self._tab = self.context.new_cdp_session(self._resting)
        self._houses: set[str] = set()

    def page(self, width: int, height: int):
        page = self.context.new_page()
        page.set_viewport_size({"width": width, "height": height})
        page.on("framenavigated", lambda frame: self._houses.add("/".join(frame.url.split("/")[:3])))
        return page

    def forget(self) -> None:
        for page in self.context.pages:
            if page is not self._resting:
                page.close()
        self.context.clear_cookies()
        for house in self._houses:
            self._tab.send("Storage.clearDataForOrigin", {"origin": house, "storageTypes": "all"})
        self._houses.clear()


@pytest.fixture(scope="session")
def devices() -> list[Device]:
    """Those that nobody has in hand."""
    return []


@pytest.fixture
def page_at(chromium, devices):
    """Make pages of a given width: ``page = page_at(390)``; then ``page.goto(house.url + "/shelf")``.

    Each is on a device of its own; with any option (of `new_context`) or `own` on one that no other test gets, as is needed
    where a clock is put in. Any error on the console and any uncaught error of a script fails the test. Lines that a test
    provokes on purpose are let through by ``page.expected_errors.append("part of the line")``.
    """
    lent, owned, pages = [], [], []

    def make(width: int = LAPTOP, height: int | None = None, *, own: bool = False, **options):
        device = devices.pop() if devices and not (own or options) else Device(chromium, **options)
        (owned if own or options else lent).append(device)
        page = device.page(width, height or HEIGHT.get(width, 860))
        if SLOWER > 1:
            device.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
        page.told, page.expected_errors = [], []
        page.on(
            "console",
            lambda message: (
                page.told.append(f"{message.text} ({message.location.get('url', '')})")
                if message.type == "error"
                else None
            ),
        )
        page.on("pageerror", lambda error: page.told.append(str(error)))
        pages.append(page)
        return page

    yield make
    told = [line for page in pages for line in page.told if not any(part in line for part in page.expected_errors)]
    for device in owned:
        device.context.close()
    for device in lent:
        device.forget()
    devices.extend(lent)
    assert told == [], f"the browser complained: {told}"


@pytest.fixture
def picture_of():
    """Keep a picture of a page for a person to look at, where pictures are asked for: ``picture_of(page, "shelf")``."""

    def keep(page, name: str) -> None:
        if PICTURED:
            PICTURES.mkdir(exist_ok=True)
            file = PICTURES / f"{name}-{page.viewport_size['width']}.png"
            # A computer that is busy with other tests paints slowly; that is no fault of the page.
            page.screenshot(path=file, full_page=True, timeout=1000 * PATIENCE_S)

    return keep


# Contrast was two thirds of what axe did. Words of the same colour and size on the same ground have the same contrast: one
# of them is looked at by a worker, wherever it stands first; all other rules are asked of everything each time. No style
# sheets are asked for anew, and of what is in order nothing is told: both cost more than the looking.
LOOKED_AT_JS = """async ([within, seen]) => {
  // Buttons take a moment from one colour to the other; what is between them is nobody's colour.
  for (const each of document.getAnimations()) if (each instanceof CSSTransition) each.finish();
  const grounds = new Map([[null, '']]);
  const groundOf = element => {
    if (!grounds.has(element)) {
      const is = getComputedStyle(element), behind = groundOf(element.parentElement);
      const bare = is.backgroundColor === 'rgba(0, 0, 0, 0)' && is.backgroundImage === 'none';
      const through = [is.opacity, is.filter, is.mixBlendMode].join() === '1,none,normal';
      // What is laid over something else has the ground that happens to be there.
      const over = is.position === 'static' || is.position === 'relative' ? '' : `${element.tagName}.${element.className}`;
      grounds.set(element, bare && through && !over ? behind
        : [behind, is.backgroundColor, is.backgroundImage, is.opacity, is.filter, is.mixBlendMode, over].join());
    }
    return grounds.get(element);
  };
  const short = text => { let sum = 0; for (const letter of text) sum = (Math.imul(sum, 31) + letter.codePointAt(0)) | 0; return sum; };
  const known = new Set(seen), fresh = new Map();
  for (const element of document.querySelector(within).querySelectorAll('*')) {
    const field = /^(INPUT|TEXTAREA|SELECT)$/.test(element.tagName);
    if (!field && ![...element.childNodes].some(node => node.nodeType === 3 && node.data.trim())) continue;
    // What is not to be seen now may be met later.
    if (!element.checkVisibility({ visibilityProperty: true, opacityProperty: true })) continue;
    const is = getComputedStyle(element);
    const large = parseFloat(is.fontSize) >= (is.fontWeight >= 700 ? 18.66 : 24);
    const quiet = element.closest(':disabled, [aria-disabled=true], [inert]') !== null;
    const all = [groundOf(element), is.color, is.textShadow, large, quiet, field].join();
    const look = `${short(all)} ${short(all + all.length)}`;
    if (!known.has(look)) fresh.set(element, look);
  }
  for (const element of fresh.keys()) element.setAttribute('data-new-in-colour', '');
  axe.configure({ rules: [{ id: 'color-contrast', selector: '[data-new-in-colour]' }] });
  const found = await axe.run(within, {
    resultTypes: ['violations'],
    preload: false,
    rules: { 'color-contrast': { enabled: fresh.size > 0 } },
  });
  for (const element of fresh.keys()) element.removeAttribute('data-new-in-colour');
  const wrong = found.violations.map(each => `${each.id}: ${each.help} at ${each.nodes.slice(0, 4).map(node => node.target).join(', ')}`);
  return [wrong, wrong.length ? [] : [...new Set(fresh.values())]];
}"""
_seen_in_colour: set[str] = set()


def findings_of_axe(page, within="html") -> list[str]:
    """What axe finds wrong with the page as it stands, or with a part of it."""
    if page.evaluate("typeof axe") == "undefined":
        page.evaluate(AXE_SCRIPT)
    wrong, looked_at = page.evaluate(LOOKED_AT_JS, [within, sorted(_seen_in_colour)])
    _seen_in_colour.update(looked_at)
    return wrong


@pytest.fixture
def axe():
    """Fail on any finding of axe: ``axe(page)``; ``axe(page, within="dialog")`` of a part."""

    def check(page, **how) -> None:
        found = findings_of_axe(page, **how)
        assert found == [], "\n".join(found)

    return check


def refused(page, form, typed):
    """Send a form of a page's script with that typed (by selector); where and what its refusal is, every word typed still there."""
    for field, value in typed.items():
        page.locator(field).fill(value)
    page.locator(form).evaluate("form => form.requestSubmit()")
    page.locator(f"{form} .refused").wait_for()
    assert {field: page.locator(field).input_value() for field in typed} == typed
    return page.evaluate(
        """form => {
          const [field] = form.querySelectorAll('[aria-invalid]');
          const told = document.getElementById(field.getAttribute('aria-describedby'));
          return document.activeElement === field ? [field.id || field.name, told.textContent] : ['not gone to', ''];
        }""",
        page.locator(form).element_handle(),
    )


def asked(page, address: str):
    """What the house answers beside the page.

    A connection that rested may be closed by the house just as it is used again: then it is asked once more.
    """
    return page.request.get(address, max_retries=3)


def painted(page, shown: bool) -> None:
    """Whether the page is painted: what is only measured, or gone through by keys, need not be. All else of it stays as it is."""
    page.evaluate("shown => { document.documentElement.style.opacity = shown ? '' : 0; }", shown)


def overflow(page) -> int:
    """How many pixels the page is wider than its window, once it has loaded."""
    page.wait_for_load_state("load")
    return page.evaluate("document.documentElement.scrollWidth - window.innerWidth")


# Only a thing that never happens is waited for so long: a busy computer is no fault of what is tested.
PATIENCE_S = 120.0
FIRST_PAUSE_S, LONGEST_PAUSE_S = 0.02, 0.3


def wait_until(what, seconds: float = PATIENCE_S, message: str = "it did not happen") -> None:
    """Wait until `what()` is true: asked often at first, then less often, for the asking is work, too."""
    end, pause_s = time.monotonic() + seconds, FIRST_PAUSE_S
    while time.monotonic() < end:
        if what():
            return
        time.sleep(pause_s)
        pause_s = min(1.5 * pause_s, LONGEST_PAUSE_S)
    pytest.fail(message)
