"""The date of the house parts from its steady clock: the live page says so, asks, and goes on as it is told."""

from __future__ import annotations

import pytest

from .conftest import LAPTOP, PHONE, House, overflow, wait_until
from .forked import Forked
from .test_sink_evening import begin, look

SERVED = """
import sys
from datetime import timedelta
from pathlib import Path
from obverse.clock import SystemClock
from obverse.web.server import serve_workbench
from obverse.workbench.bootstrap import open_workbench

class Moved(SystemClock):
    counts_sleep = False
    def now(self):
        return super().now() + timedelta(seconds=float(moved.read_text() or 0))

home = Path(sys.argv[1])
moved = home / "moved"
moved.write_text("0")
serve_workbench(open_workbench(home, clock=Moved()), port=0)
"""


class MovedHouse(House):
    """A house whose date a test moves; its steady clock stays."""

    def _begun(self, arguments: list[str], environment: dict[str, str]) -> Forked:
        self.home.mkdir(exist_ok=True)
        return Forked([str(self.home)], environment, SERVED)

    def move(self, seconds: float) -> None:
        (self.home / "moved").write_text(str(seconds))


@pytest.fixture(scope="module")
def moved_house(tmp_path_factory):
    running = MovedHouse(tmp_path_factory.mktemp("home")).start()
    yield running
    running.stop()


def test_the_page_asks_what_the_date_means_and_counts_what_was_slept(moved_house, page_at, axe, picture_of):
    page = page_at(PHONE)
    run = begin(page, moved_house)
    page.keyboard.press("Enter")
    wait_until(lambda: look(page, run)["status"] == "running")
    assert page.locator("#parted").is_hidden()
    gone_s = look(page, run)["now_s"] - look(page, run)["started_s"]

    moved_house.move(180)
    page.wait_for_selector("#parted:not([hidden])")
    assert "may stand in sleep" in page.locator("#parted-words").inner_text()
    assert page.locator("#parted-choices button").all_inner_texts() == [
        "It slept: count 3 min",
        "The date was set: go on",
    ]
    assert overflow(page) <= 0
    axe(page)
    picture_of(page, "sink-parted")
    page.get_by_role("button", name="It slept: count 3 min").click()
    page.wait_for_selector("#parted", state="hidden")
    assert look(page, run)["now_s"] - look(page, run)["started_s"] >= gone_s + 180
    assert page.evaluate("obverseSink.now()") == pytest.approx(look(page, run)["now_s"], abs=20)

    moved_house.move(-60)
    page.wait_for_selector("#parted:not([hidden])")
    page.get_by_role("button", name="The date was set: go on").click()
    page.wait_for_selector("#parted", state="hidden")


def test_the_clock_is_tried_on_the_page(moved_house, page_at, axe, picture_of):
    page = page_at(LAPTOP)
    page.goto(moved_house.url + "/")
    page.get_by_role("link", name="This computer").click()
    assert str(moved_house.home) in page.locator("main").inner_text()
    page.get_by_role("button", name="Try it").click()
    page.wait_for_selector("text=The trial has begun")
    page.get_by_role("button", name="The lid is open again").click()
    page.wait_for_selector("text=did not sleep meanwhile")
    axe(page)
    picture_of(page, "this-computer")
