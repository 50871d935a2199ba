"""A phone is let in by a code that works once; before that it sees nothing."""

import re

import pytest

from .conftest import PHONE, House

# Another loopback address stands in for the local network: its name is not one of the computer's own.
LAN = "127.0.0.2"


@pytest.fixture(scope="module")
def shared(tmp_path_factory):
    running = House(tmp_path_factory.mktemp("home"), "serve", "--share", "--address", LAN).start()
    yield running
    running.stop()


def test_pairing_as_a_person_does_it(shared, page_at, axe, picture_of):
    link = re.search(rf"http://{re.escape(LAN)}:\d+/pair#\w+", shared.told)[0]
    lan = link.split("/pair")[0]
    assert "█" in shared.told and "not sealed" in shared.told

    owner = page_at(1280)
    owner.goto(shared.url + "/share")
    owner.get_by_text(link).wait_for()
    axe(owner)
    picture_of(owner, "share")

    phone = page_at(PHONE)
    phone.expected_errors += ["403"]
    assert phone.goto(lan + "/").status == 403
    phone.get_by_text("is not paired with the house").wait_for()
    axe(phone)
    phone.goto(link)
    assert phone.evaluate("location.hash") == "", "the secret must leave the address bar"
    axe(phone)
    picture_of(phone, "pair")
    phone.get_by_label("Name of this phone").fill("the red phone")
    phone.get_by_role("button", name="Pair").click()
    phone.wait_for_url("**/sink")
    assert phone.goto(lan + "/").status == 200
    assert phone.evaluate("document.cookie") == ""

    late = page_at(PHONE)
    late.expected_errors += ["403"]
    late.goto(link)
    late.get_by_role("button", name="Pair").click()
    late.get_by_text("This pairing code is not valid").wait_for()

    owner.reload()
    owner.get_by_text("The last code was used").wait_for()
    axe(owner)
    owner.get_by_role("button", name="Show a new code").click()
    owner.get_by_text("Scan this with the phone").wait_for()
    owner.get_by_role("button", name="Put out the red phone").click()
    owner.get_by_text("Nobody but this computer").wait_for()
    axe(owner)
    assert phone.goto(lan + "/").status == 403


def test_a_paired_phone_stays_paired_when_the_house_is_restarted(shared, page_at):
    owner = page_at(1280)
    owner.goto(shared.url + "/share")
    if owner.get_by_text("The last code was used").count():
        owner.get_by_role("button", name="Show a new code").click()
    link = owner.locator("code.link").inner_text()
    lan = link.split("/pair")[0]
    phone = page_at(PHONE)
    phone.goto(link)
    phone.get_by_role("button", name="Pair").click()
    phone.wait_for_url("**/sink")
    shared.kill()
    shared.restart()
    assert phone.goto(lan + "/").status == 200
    # The token of a page that was open before is still good.
    assert (
        phone.evaluate(
            "import('/static/house/house.js').then(h => h.post('/api/share/code').catch(e => e.document.code))"
        )
        == "denied"
    )
    # What the browser asked for while nobody was at home.
    phone.expected_errors += ["403", "ERR_"]


def test_not_shared(house, page_at):
    page = page_at(1280)
    page.goto(house.url + "/share")
    page.get_by_text("open to this computer only").wait_for()
