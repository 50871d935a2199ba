"""Jugs that stood before the book knew them, topped up, looked at, and tried on a clip at the sink."""

from datetime import date

import pytest

from obverse.foundation import InputError, UnsafeError

IRON = "bleach_iron_chloride"


def test_a_jug_that_was_poured_back_is_taken_as_it_is(workbench):
    care = workbench.care
    id = care.stands_already(
        IRON, 600, name="etchant jug", films=3, film="120", since=date(2031, 10, 20), looks="dark green, no smell"
    )
    view = care.bath(id)
    assert view.bottle.passes[0].films == 3 and view.bottle.passes[0].area_m2 == pytest.approx(3 * 0.05105)
    assert view.age_h == pytest.approx(16 * 24) and view.bottle.notes[0].text == "dark green, no smell"
    fresh = care.bath(care.mix_bath(IRON, 600))
    assert view.forecast.ghost_probability > fresh.forecast.ghost_probability
    with pytest.raises(InputError, match="still to come"):
        care.stands_already(IRON, 600, since=date(2031, 11, 6))
    with pytest.raises(InputError, match="films"):
        care.stands_already(IRON, 600, films=-1)


def test_topping_up_shares_its_films_among_more_of_it(workbench):
    care = workbench.care
    id = care.stands_already(IRON, 500, films=6)
    before = care.bath(id).forecast.ghost_probability
    view = care.top_up(id, 500)
    assert view.bottle.amount == 1000 and view.bottle.notes[-1].volume_ml == 500
    assert view.forecast.ghost_probability < before
    used = care.stands_already("ammonia_bath", 500, films=1)
    with pytest.raises(UnsafeError, match="not kept"):
        care.top_up(used, 100)


def test_a_clip_corrects_what_is_believed_of_that_jug_and_of_no_other(workbench):
    care = workbench.care
    jug, other = care.stands_already(IRON, 500, films=3), care.stands_already(IRON, 500, films=3)
    fresh = care.mix_bath(IRON, 500)
    care.clip_test(fresh, 50)
    before = care.bath(other).forecast.ghost_probability
    slow = care.clip_test(jug, 400)
    assert slow.clip.caution.code == "bath.clip_weak" and "1 test of fresh baths here" in slow.clip.caution.text
    assert slow.forecast.ghost_probability > before
    assert care.bath(other).forecast.ghost_probability == before
    told = care.before_an_evening(workbench.bench.route("iron_ammonia_light"), 0.06, 500)
    assert any(c.code == "bath.clip_weak" and c.text.startswith(slow.bottle.name) for c in told)
    with pytest.raises(InputError, match="cannot be"):
        care.clip_test(jug, 0)


def test_the_same_mark_of_an_evening_is_one_test(workbench):
    jug = workbench.care.stands_already("fixer_rapid", 500, films=1)
    for _ in range(2):
        workbench.care.clip_test(jug, 50, run="evening/clip.fixer_rapid#0")
    assert len(workbench.care.bath(jug).bottle.notes) == 1
    assert len(workbench.care.clip_test(jug, 60, run="evening/clip.fixer_rapid#1").bottle.notes) == 2


def test_a_bath_mixed_anew_tonight_is_another_bottle_than_the_one_that_stood(workbench, clock):
    old = workbench.care.stands_already("fixer_rapid", 500, films=4, name="jug of fixer")
    run = workbench.sink.begin({"route": "permanganate_light", "fresh": ["fixer_rapid"]})
    touch_through(workbench.sink, clock, run, None, clip_s=30)
    fixers = list(workbench.store.bottles.all(own=True, formula="fixer_rapid"))
    assert len(fixers) == 2 and len(workbench.care.bath(old).bottle.passes) == 1
    (new,) = [kept.thing for kept in fixers if kept.id != old]
    assert [p.run.split("/")[0] for p in new.passes] == [run]


def touch_through(sink, clock, run, until, clip_s):
    """Touch as planned until that action is in hand; clips take `clip_s`. Gives the answers of the clips."""
    answers = {}
    sink.record(run, "s", {"kind": "started"})
    while (action := sink.state(run).action) is not None and action.key != until:
        if action.waits_for_pour:
            clock.advance(action.pour_s)
            sink.record(run, f"p-{action.key}", {"kind": "poured", "action": action.key})
        clock.advance(clip_s if action.kind == "clip" else action.duration_s)
        answer = sink.record(run, f"a-{action.key}", {"kind": "acknowledged", "action": action.key})
        if action.kind == "clip":
            answers[action.key] = answer
            twice = sink.record(run, f"a-{action.key}", {"kind": "acknowledged", "action": action.key})
            assert not twice.fresh
    return answers


def test_each_bath_is_tried_before_the_film_meets_it_timed_told_and_noted(workbench, clock):
    sink, care = workbench.sink, workbench.care
    jug = care.stands_already("fixer_rapid", 500, films=3, name="jug of fixer")
    request = {"route": "permanganate_light", "clip_tests": True}
    plan = sink.plan(request)
    kinds = [a.kind for a in plan.actions]
    clips = [a for a in plan.actions if a.kind == "clip"]
    assert [c.formula for c in clips][:1] == ["fixer_rapid"] and "first_developer" in [c.formula for c in clips]
    assert plan.proof.holds and kinds.index("clip") < kinds.index("lights_out")
    assert max(i for i, kind in enumerate(kinds) if kind == "clip") < kinds.index("bath")
    run = sink.begin(request)
    answers = touch_through(sink, clock, run, "first_development", clip_s=200.0)
    told = answers["clip.fixer_rapid"].orders[-1]
    assert told.do == "caution" and "The clip took 3.3 min to clear" in told.text
    # It is booked when the evening ends, as it then stands; ended early counts too.
    assert care.bath(jug).bottle.notes == ()
    sink.record(run, "x", {"kind": "aborted", "text": "the fixer is weak"})
    (note,) = care.bath(jug).bottle.notes
    assert note.clip_s == 200 and note.area_m2 == pytest.approx(3 * 0.0577, rel=0.01)
    sink.settle(run)
    assert len(care.bath(jug).bottle.notes) == 1


def test_without_asking_for_it_no_clip_is_planned_and_a_rehearsal_notes_none(workbench, clock):
    sink, care = workbench.sink, workbench.care
    jug = care.stands_already("fixer_rapid", 500, films=1)
    assert not [a for a in sink.plan({"route": "permanganate_light"}).actions if a.kind == "clip"]
    run = sink.begin({"route": "permanganate_light", "clip_tests": True}, speed=100)
    answers = touch_through(sink, clock, run, "first_development", clip_s=0.4)
    assert answers
    sink.record(run, "x", {"kind": "aborted", "text": "enough"})
    assert care.bath(jug).bottle.notes == ()


def test_the_page_takes_a_jug_and_its_notes_and_keeps_all_or_nothing(client, workbench):
    body = {
        "formula": IRON,
        "volume_ml": "600",
        "films": "2",
        "film": "16 mm 3 m",
        "since": "2031-11-01",
        "looks": "green",
    }
    assert client.post("/shelf/care/baths/standing", data=body).status_code == 200
    (view,) = workbench.care.baths()
    assert view.bottle.passes[0].area_m2 == pytest.approx(2 * 3 * 0.01595)
    wrong = client.post(
        f"/shelf/care/baths/{view.id}/note", data={"looks": "brown", "added_ml": "20", "clip_s": "soon"}
    )
    assert wrong.status_code == 422 and len(workbench.care.bath(view.id).bottle.notes) == 1
    client.post(f"/shelf/care/baths/{view.id}/note", data={"looks": "brown", "added_ml": "20", "clip_s": "80"})
    kept = workbench.care.bath(view.id).bottle
    assert [n.kind for n in kept.notes] == ["looked", "looked", "topped_up", "clip"] and kept.amount == 620
    client.post(f"/shelf/care/baths/{view.id}/note", data={"restored": "peroxide"})
    page = client.get("/shelf/care").text
    assert "brought back with peroxide" in page and "written down nobody knows" not in page
    assert "brown" in page and "20 mL added" in page and "Strength by its last clip" in page
    client.post("/shelf/care/baths/standing", data=body | {"films": ""})
    assert "How far\n          it is used up nobody knows" in client.get("/shelf/care").text
    form = client.get("/sink").text
    assert 'name="clip_tests" value="1" checked' in form
    answer = client.post(f"/api/care/baths/{view.id}/notes", json={"clip_s": 75})
    assert answer.status_code == 200 and answer.json()["clip"]["time_s"] == 75
    assert client.post(f"/api/care/baths/{view.id}/notes", json={}).status_code == 422


def test_a_jug_at_the_end_of_its_count_or_of_unknown_count_is_tried_on_a_clip_unless_it_was_or_nobody_wants_it(
    workbench,
):
    sink, care = workbench.sink, workbench.care
    way = workbench.processes.from_document(
        {
            "name": "counted",
            "tank_ml": 500,
            "steps": [
                {"does": "develop", "bath": "first_developer", "time": "9 min"},
                {
                    "does": "fix",
                    "bath": "fixer_rapid",
                    "time": "4 min",
                    "after": "back to its jug, good for 8 films, topped up with 15 mL of fixer per roll, regenerated with steel wool, then good for 3 more films",
                },
            ],
        }
    )
    workbench.processes.take_in(way.model_dump(mode="json"))
    jug = care.stands_already("fixer_rapid", 500, films=6)

    def tried(**more):
        plan = sink.plan({"route": way.key, **more})
        told = [c.text for c in plan.cautions if c.code == "bath.counted"]
        assert any("that is 15 mL" in c.text for c in plan.cautions if c.code == "bath.top_up")
        return [a.formula for a in plan.actions if a.kind == "clip"], told

    assert tried() == ([], [])
    assert care.baths()[0].renewals == (
        "Fixing of counted: topped up with 15 mL of fixer per film, restored with steel wool for 3 films.",
    )
    care.count_pass(jug, films=1)
    clips, (told,) = tried()
    assert clips == ["fixer_rapid"] and "it has seen 7. Try a clip in it before the film." in told
    assert tried(clip_tests=False)[0] == [] and tried(fresh=["fixer_rapid"]) == ([], [])
    care.count_pass(jug, films=1)
    assert "Steel wool brings it back" in tried()[1][0]
    # Brought back: its count begins anew, and ends at three.
    care.restore(jug, "steel wool")
    assert tried() == ([], [])
    care.count_pass(jug, films=2)
    assert tried()[0] == ["fixer_rapid"]
    care.clip_test(jug, 40)
    assert tried()[0] == []
    care.bath_gone(jug)
    unknown = care.stands_already("fixer_rapid", 500, films=None)
    clips, (told,) = tried()
    assert clips == ["fixer_rapid"] and "nobody knows" in told
    care.clip_test(unknown, 40)
    assert tried() == ([], [])
