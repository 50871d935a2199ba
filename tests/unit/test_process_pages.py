"""The pages of processes without a browser: what comes back, what is kept once, what is too late, what is refused."""

import re

import pytest

from obverse.process import STEP_WORDS
from tests.acceptance_way import WAY


def form_of(page: str) -> dict:
    """The fields of the form on a page, as a browser would send them."""
    fields: dict = {}
    for tag in re.findall(
        r"<input[^>]*>|<select[^>]*name=\"light\".*?</select>", page.split('class="process"')[1], re.S
    ):
        name = re.search(r'name="([^"]+)"', tag)
        if name is None or name[1].startswith("reason:"):
            continue
        value = re.search(r'value="([^"]*)"', tag)
        said = value[1] if value else ""
        if tag.startswith("<select"):
            chosen = re.search(r"<option selected>(\w+)", tag)
            said = chosen[1] if chosen else ""
        fields.setdefault(name[1], []).append(said)
    return fields


@pytest.fixture
def way(client):
    assert client.post("/api/processes", json=WAY).json() == {"id": "my_fogging_way", "revision": 1}
    return "/bench/processes/my_fogging_way"


def test_the_form_sent_back_as_it_came_changes_nothing_but_the_revision(client, workbench, way):
    before = workbench.processes.process("my_fogging_way")
    fields = form_of(client.get(way).text)
    assert {*STEP_WORDS, "key"} <= set(fields)
    answer = client.post(way, data={**fields, "act": "keep"}, follow_redirects=False)
    assert answer.status_code == 303 and answer.headers["location"].endswith("kept=2#kept")
    assert workbench.processes.process("my_fogging_way") == before


def test_in_other_units_what_is_not_touched_stays_and_what_is_typed_is_theirs(client, workbench, way):
    kept = workbench.processes.process("my_fogging_way")
    workbench.units.keep({"temperature": "f", "fluids": "imperial", "spoons": "imperial"})
    fields = form_of(client.get(way).text)
    assert set("".join(fields["temperature"])) & {"F"} and " C" not in " ".join(fields["temperature"])
    assert client.post(way, data={**fields, "act": "keep"}, follow_redirects=False).status_code == 303
    assert workbench.processes.process("my_fogging_way") == kept
    # 70.7 F is 21.5 C; an imperial fluid ounce is 28.4130625 mL.
    fields = form_of(client.get(way).text)
    fields["temperature"][0], fields["volume"][1], fields["tank_ml"][0] = "70.7", "20 fl oz", "20 fl oz"
    assert client.post(way, data={**fields, "act": "keep"}, follow_redirects=False).status_code == 303
    found = workbench.processes.process("my_fogging_way")
    assert (found.steps[0].temperature_low_c, found.steps[0].temperature_high_c) == (20.5, 22.5)
    assert found.steps[1].volume_ml == pytest.approx(568.26125) and found.tank_ml == pytest.approx(568.26125)
    page = client.get(way).text
    assert 'value="20 imperial fl oz"' in page
    wrong = form_of(page)
    wrong["temperature"][0], wrong["time"][0] = "20 C", "a while"
    told = client.post(way, data={**wrong, "act": "keep"}, headers={"accept": "text/html"})
    assert told.status_code == 422 and 'value="20 C"' in told.text, "as it was typed"


def test_sent_twice_it_is_kept_once_and_sent_late_it_is_told_with_what_was_typed(client, workbench, way):
    fields = form_of(client.get(way).text)
    fields["time"][0] = "12 min"
    first = client.post(way, data={**fields, "act": "keep"}, follow_redirects=False)
    again = client.post(way, data={**fields, "act": "keep"}, follow_redirects=False)
    assert first.headers["location"] == again.headers["location"]
    assert workbench.processes.revision("my_fogging_way") == 2
    late = {**fields, "act": "keep", "request_id": "another", "time": ["9 min", *fields["time"][1:]]}
    told = client.post(way, data=late, headers={"accept": "text/html"})
    assert told.status_code == 409 and "9 min" in told.text
    assert workbench.processes.process("my_fogging_way").steps[0].time_min == 12
    # Late and wrong besides: the page of what stands there now may not come back as if it were the one that was seen.
    late = {**late, "request_id": "a third", "time": ["a while", *fields["time"][1:]]}
    assert client.post(way, data=late, headers={"accept": "text/html"}).status_code == 409


def test_what_is_refused_stands_beside_its_field_and_nothing_typed_is_lost(client, workbench, way):
    fields = form_of(client.get(way).text)
    fields["time"][0], fields["bath"][1] = "a while", "my other etchant"
    told = client.post(way, data={**fields, "act": "keep"}, headers={"accept": "text/html"})
    assert told.status_code == 422
    assert "is no time; write it like" in told.text
    assert 'value="a while"' in told.text and 'value="my other etchant"' in told.text
    assert workbench.processes.revision("my_fogging_way") == 1


@pytest.mark.parametrize(
    ("act", "names"),
    [
        ("up:1", ["Bleach A", "First developer", "Bleach B"]),
        ("down:0", ["Bleach A", "First developer", "Bleach B"]),
        ("drop:0", ["Bleach A", "Bleach B", "Clearing"]),
        ("repeat:0", ["First developer", "First developer", "Bleach A"]),
        ("up:0", ["First developer", "Bleach A", "Bleach B"]),
        ("drop:99", ["First developer", "Bleach A", "Bleach B"]),
    ],
)
def test_steps_are_moved_repeated_and_left_out(client, workbench, way, act, names):
    fields = form_of(client.get(way).text)
    assert client.post(way, data={**fields, "act": act}, follow_redirects=False).status_code == 303
    assert [step.name for step in workbench.processes.process("my_fogging_way").steps][:3] == names


def test_a_step_that_another_waits_for_is_not_left_out_unseen(client, workbench, way):
    fields = form_of(client.get(way).text)
    told = client.post(way, data={**fields, "act": "drop:2"}, headers={"accept": "text/html"})
    assert told.status_code == 422 and "does not say when the bath is made" in told.text
    assert len(workbench.processes.process("my_fogging_way").steps) == 8


def test_the_house_is_followed_or_told_why_not(client, workbench, way):
    fields = form_of(client.get(way).text)
    client.post(way, data={**fields, "act": "take:clearing time"}, follow_redirects=False)
    assert workbench.processes.process("my_fogging_way").step("clearing").time_min == 2
    fields = form_of(client.get(way).text)
    told = client.post(way, data={**fields, "act": "decline:clearing rinse"}, headers={"accept": "text/html"})
    assert told.status_code == 422 and "no reason was given" in told.text
    fields = form_of(client.get(way).text)
    client.post(way, data={**fields, "act": "decline:clearing rinse", "reason:clearing rinse": "It never hurt."})
    assert "You do it so: It never hurt." in client.get(way).text


def test_a_shipped_process_is_shown_and_not_changed(client):
    page = client.get("/bench/processes/iron_ammonia_fogging")
    assert page.status_code == 200 and "Begin one of your own from" in page.text and 'name="act"' not in page.text
    fields = form_of(page.text)
    told = client.post("/bench/processes/iron_ammonia_fogging", data={**fields, "act": "keep"})
    assert told.status_code == 422 and "shipped" in told.text


def test_begin_compare_and_the_sheet(client, way):
    begun = client.post("/bench/processes", data={"name": "Mine", "source": "my_fogging_way"}, follow_redirects=False)
    assert begun.headers["location"] == "/bench/processes/mine"
    assert "They ask for the same work" in client.get("/bench/processes?first=mine&second=my_fogging_way").text
    assert "no such step" in client.get("/bench/processes?first=mine&second=permanganate_light").text
    typed = {"name": "?!", "source": "mine", "stood_on": "/bench/processes"}
    refused = client.post("/bench/processes", data=typed, headers={"accept": "text/html"})
    assert refused.status_code == 422 and 'value="?!"' in refused.text and 'value="mine" selected' in refused.text
    assert client.get(f"{way}/evening.pdf").content.startswith(b"%PDF")
    assert client.get("/bench/processes/nowhere").status_code == 422
    assert client.get("/api/processes/my_fogging_way").json()["format"] == "obverse-process"
    assert any(
        one["code"] == "acid_rinse" for one in client.get("/api/processes/my_fogging_way/opinions").json()["opinions"]
    )
    listed = client.get("/api/processes").json()["processes"]
    assert {one["id"] for one in listed if not one["shipped"]} == {"mine", "my_fogging_way"}


def test_the_plan_and_the_bench_offer_it(client, way):
    for path in ("/sink?route=my_fogging_way", "/bench?route=my_fogging_way", "/shelf/care/routes/my_fogging_way"):
        page = client.get(path)
        assert page.status_code == 200 and "My fogging way" in page.text, path
    assert client.get("/sink/plan?route=my_fogging_way&tank_ml=600").status_code == 200
    # Of its own tank where none is named; any step left out, done once more or timed anew for tonight.
    asked = "/sink/plan?route=my_fogging_way&without=bleach_b&again=clearing&time.fogging_developer=90+s"
    changed = client.get(asked).text
    assert "600 mL" in changed and "Tonight without Bleach B." in changed and "Clearing, once more" in changed
    assert 'name="time.fogging_developer"' in changed and 'value="90 s"' in changed
    assert "My fogging way" in client.get("/sink?" + asked.partition("?")[2]).text
    assert (
        client.get("/sink/plan?route=my_fogging_way&time.clearing=soon", headers={"accept": "text/html"}).status_code
        == 422
    )
