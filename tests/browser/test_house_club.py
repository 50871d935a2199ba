"""A page that is open while the database is stopped and started: its clock goes on, no touch is lost, it recovers."""

import pytest

from obverse.store import open_store

from .conftest import PHONE, House, wait_until
from .test_sink_evening import begin


@pytest.fixture
def club(postgresql, tmp_path, monkeypatch):
    """A house on the server, and the address of its database."""
    address = postgresql.database()
    monkeypatch.setenv("OBVERSE_DATABASE", address)
    running = House(tmp_path / "home", "serve").start()
    yield running, address
    running.stop()


def test_an_open_page_of_the_sink_recovers_by_itself(club, postgresql, page_at):
    house, address = club
    page = page_at(PHONE)
    page.expected_errors += ["503", "Failed to load resource"]
    run = begin(page, house)
    page.keyboard.press("Enter")
    store = open_store(address)
    wait_until(lambda: len(store.events(run)) >= 1)
    kept = len(store.events(run))
    store.close()
    before = page.evaluate("obverseSink.now()")
    postgresql.stop()
    try:
        page.wait_for_timeout(720)
        page.keyboard.press("Enter")
        page.get_by_text("The clock here goes on").first.wait_for()
        other = page_at(PHONE)
        other.expected_errors += ["503", "Failed to load resource"]
        assert other.goto(house.url + "/shelf").status == 503
        other.get_by_text("The clock of a film in a bath goes on").wait_for()
        page.wait_for_timeout(1000)
        assert page.evaluate("obverseSink.now()") > before
    finally:
        postgresql.start()
    # Neither page is touched from here on.
    other.get_by_role("heading", name="Shelf").first.wait_for()
    store = open_store(address)
    wait_until(lambda: len(store.events(run)) > kept, 60, "the touch that was kept on the page did not come")
    seqs = [event.seq for event in store.events(run)]
    assert seqs == list(range(1, len(seqs) + 1))
    store.close()
    page.get_by_text("The clock here goes on").first.wait_for(state="hidden")
