"""A used bath that must be destroyed is one duty with one state: in the run, on every page, on the shelf, in the report."""

import pytest

from obverse.store.records import TrialEntry
from tests.unit.test_sink_workbench import play


@pytest.fixture
def left(workbench, clock):
    """An evening that ended with the used ammonia bath standing."""
    run = workbench.sink.begin({"route": "iron_ammonia_light"})
    play(workbench.sink, clock, run, until="dissolving.rinse.1")
    workbench.sink.record(run, "end", {"kind": "aborted", "text": "fire alarm"})
    return run


def pages(workbench):
    (bath,) = workbench.care.used_that_must_go()
    return [
        "/shelf",
        "/shelf/care",
        "/bench",
        "/notebook",
        "/light-table",
        "/projector",
        "/",
        "/sink",
        f"/shelf/care/baths/{bath.id}/destroy",
    ]


def test_while_it_stands_it_is_on_every_page_with_its_time_and_its_steps(workbench, client, clock, left):
    (bath,) = workbench.care.used_that_must_go()
    for address in pages(workbench):
        text = client.get(address).text
        assert f"/shelf/care/baths/{bath.id}/destroy" in text and "min are left" in text, address
    report = client.get(f"/sink/{left}").text
    assert "must be destroyed" in report and f"/shelf/care/baths/{bath.id}/destroy" in report
    # One state: nothing on the report says that it is gone.
    assert "destroyed," not in report and "stands; must be destroyed" in report
    clock.advance(5 * 3600)
    assert "min ago. It must not stand: do it now." in client.get("/bench").text


def test_who_takes_it_stands_on_every_page(workbench, client, left):
    answer = client.post(
        f"/sink/{left}/duty", data={"formula": "ammonia_bath", "who": "Ada", "token": client.headers["X-Obverse-Token"]}
    )
    assert answer.status_code == 200
    assert "Ada does it." in client.get("/bench").text and "Ada does it." in client.get(f"/sink/{left}").text


def test_once_it_is_gone_it_is_gone_everywhere(workbench, client, clock, left):
    (bath,) = workbench.care.used_that_must_go()
    clock.advance(600)
    workbench.care.bath_gone(bath.id, destroyed=True)
    assert workbench.duties() == ()
    assert "What must not wait" not in client.get("/bench").text
    report = workbench.sink.report(left).document()
    assert report["still_to_destroy"] == []
    text = client.get(f"/sink/{left}").text
    assert "must be destroyed" not in text and "destroyed, " in text


def test_a_running_evening_is_a_duty_until_its_last_step_is_done(workbench, client, clock):
    run = workbench.sink.begin({"route": "iron_ammonia_light"})
    play(workbench.sink, clock, run, until="dissolving")
    assert workbench.duties() == ()
    play(workbench.sink, clock, run, until="dissolving.rinse.2")
    (duty,) = workbench.duties()
    assert duty.href == f"/sink/{run}" and "mmonia" in duty.what
    assert f'href="/sink/{run}"' in client.get("/notebook").text
    play(workbench.sink, clock, run, until="clear_up")
    assert workbench.duties() == ()


def test_an_end_taken_back_leaves_no_second_bath_on_the_shelf(workbench, clock, left):
    workbench.sink.record(left, "oops", {"kind": "taken_back", "of": "end"})
    assert workbench.sink.state(left).status == "running"
    play(workbench.sink, clock, left)
    assert workbench.sink.state(left).status == "finished"
    assert workbench.duties() == () and workbench.care.used_that_must_go() == []
    assert workbench.sink.report(left).document()["still_to_destroy"] == []


def test_a_bath_that_was_only_mixed_is_a_duty_until_somebody_says_that_it_is_gone(workbench, client, clock):
    run = workbench.sink.begin({"route": "permanganate_light"})
    play(workbench.sink, clock, run, until="first_development")
    workbench.sink.record(run, "end", {"kind": "aborted", "text": "no film"})
    (duty,) = workbench.duties()
    assert duty.href == f"/sink/{run}" and duty.formula == "bleach_permanganate"
    assert "Every step is done" in client.get(f"/sink/{run}").text
    client.post(
        f"/sink/{run}/duty",
        data={"formula": "bleach_permanganate", "done": "true", "token": client.headers["X-Obverse-Token"]},
    )
    assert workbench.duties() == () and workbench.sink.report(run).document()["still_to_destroy"] == []


# Corrections in the report, by form


def test_the_report_is_corrected_by_form_and_the_trial_follows(workbench, client, clock):
    film = workbench.notebook.add_film({"name": "Invented grey base 100", "box_speed": 100}).id
    run = workbench.sink.begin({"route": "permanganate_light", "strips": [{"name": "A", "film": film}]})
    play(workbench.sink, clock, run, until="first_development")
    workbench.sink.record(run, "slip", {"kind": "temperature_noted", "action": "check", "temperature_c": 25})
    play(workbench.sink, clock, run)
    token = client.headers["X-Obverse-Token"]

    def trial():
        (kept,) = workbench.notebook.trials(film)
        return kept.thing.trial

    assert trial().controls["temperature_c"] == 25
    form = {"of": "slip", "do": "change", "token": token}
    wrong = client.post(f"/sink/{run}/correct", data=form | {"value": "68"})
    assert wrong.status_code == 422 and "68 F would be 20.0 C" in wrong.text and 'value="68"' in wrong.text
    wrong = client.post(f"/sink/{run}/correct", data=form | {"value": "warm"})
    assert wrong.status_code == 422 and "is not a number" in wrong.text and 'value="warm"' in wrong.text
    page = client.post(f"/sink/{run}/correct", data=form | {"value": "20"})
    words = " ".join(page.text.split())
    assert page.status_code == 200 and "truly 20" in words and "25 °C" in words
    assert trial().controls["temperature_c"] == 20 and "follows the correction" in page.text
    # What a person writes into the trial afterwards is not written over.
    (kept,) = workbench.notebook.trials(film)
    workbench.notebook.change_trial(kept.id, {"controls": trial().controls | {"temperature_c": 20.2}})
    client.get(f"/sink/{run}")
    assert trial().controls["temperature_c"] == 20.2
    client.post(f"/sink/{run}/correct", data={"of": "slip", "do": "take_back", "token": token})
    assert "Nobody read the temperature" in trial().note
    # It is found by what it is, not by its note: a note that a person wrote is theirs, and the controls follow all the same.
    workbench.notebook.change_trial(kept.id, {"note": "under the red lamp"})
    back = next(e.id for e in workbench.sink.state(run).events if e.kind == "taken_back")
    workbench.sink.record(run, "back", {"kind": "taken_back", "of": back})
    workbench.sink.record(run, "truly", {"kind": "changed", "of": "slip", "temperature_c": 22})
    client.get(f"/sink/{run}")
    assert trial().controls["temperature_c"] == 22 and trial().note == "under the red lamp"
    # Books of older versions tell the strip in the first words of its note alone.
    (entry,) = workbench.notebook.trials(film)
    older = entry.thing.model_dump(mode="json", exclude={"strip", "booked_note"})
    older["trial"]["note"] = "strip 2 of this evening. It went by plan."
    assert TrialEntry.model_validate(older).strip == "strip 2" and entry.thing.strip == "A"


def test_an_evening_that_another_device_let_go_on_is_no_longer_over(workbench, client, clock):
    run = workbench.sink.begin({"route": "permanganate_light", "strips": [{"name": "A"}]})
    play(workbench.sink, clock, run, until="first_development")
    workbench.sink.record(run, "stop", {"kind": "aborted", "text": "it leaks"})
    assert "it leaks" in client.get(f"/sink/{run}").text
    again = {"of": "stop", "do": "take_back", "token": client.headers["X-Obverse-Token"]}
    for _device in ("laptop", "phone, whose page is old"):
        answer = client.post(f"/sink/{run}/correct", data=again, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, f"/sink/{run}")
    assert workbench.sink.look(run).view.status == "running"


def test_a_slip_of_typing_is_no_danger_and_planned_evenings_name_their_strips(workbench, client):
    workbench.sink.begin({"route": "permanganate_light", "strips": [{"name": "Wet hands"}]})
    page = client.get("/sink/plan?route=permanganate_light&tank_ml=500&strip=A&first_developer_time_min=ten")
    assert page.status_code == 422 and "Wet hands" in page.text
    assert "Danger" not in page.text and 'role="alert" class="wrong wrong-plan"' in page.text


def test_a_plan_that_cannot_be_made_comes_back_to_its_form(client):
    query = "route=permanganate_light&tank_ml=500&bath_c=40&strip=A&first_developer_time_min=9,5&strip=B&first_developer_time_min=11&pace=1.5"
    page = client.get(f"/sink/plan?{query}")
    assert page.status_code == 422 and "too warm" in page.text
    for typed in ('value="40"', 'value="9,5"', 'value="A"', 'value="B"', 'value="11"'):
        assert typed in page.text, typed
    assert '<option value="1.5" selected' in " ".join(page.text.split())
