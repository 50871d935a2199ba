"""A page that is open while the database is stopped and started: its clock goes on, no touch is lost, it recovers."""

import pytest

from obverse.store import open_store

from .conftest import PHONE, House, wait_until
from .test_sink_evening import begin
from .test_sink_faults import at_first_bath
from .touching import until_it_heeds


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
    # The bath stands ready: the touch that starts its clock is the one that must not be lost.
    at_first_bath(page, house, run)
    store = open_store(address)
    kept = len(store.events(run))
    store.close()
    before = page.evaluate("obverseSink.now()")
    until_it_heeds(page)
    postgresql.stop()
    try:
        page.get_by_text("The clock here goes on").first.wait_for()
        page.keyboard.press("Enter")
        wait_until(lambda: page.evaluate("obverseSink.waiting()") == 1)
        other = page_at(PHONE)
        other.expected_errors += ["503", "Failed to load resource"]
        assert other.goto(house.url + "/shelf").status == 503
        other.get_by_text("The clock of a film in a bath goes on").wait_for()
        assert page.evaluate("obverseSink.now()") > before
        assert page.evaluate("obverseSink.waiting()") == 1
    finally:
        postgresql.start()
    # Neither page is touched from here on.
    other.get_by_role("heading", name="Shelf").first.wait_for()
    store = open_store(address)
    wait_until(lambda: len(store.events(run)) > kept, 60, "the touch that was kept on the page did not come")
    assert [event.event.kind for event in store.happened(run, kept)] == ["poured"]
    seqs = [event.seq for event in store.events(run)]
    assert seqs == list(range(1, len(seqs) + 1))
    store.close()
    page.get_by_text("The clock here goes on").first.wait_for(state="hidden")
