"""Golden traces of whole evenings, replayed by Python and by the page's own module: the same to the microsecond."""

import pytest

from obverse.run import Event, advance, begin, view
from obverse.web.sink import shown_plan

from ..golden import traces

# What a page cannot know without the house: it takes the house's word.
ONLY_THE_HOUSE = ("step_repeated", "temperature_noted", "note")
NUMBERS = ("began_s", "clock_from_s", "extended_s", "due_s", "ends_s", "progress")


@pytest.mark.parametrize("number", range(5))
def test_python_replays_it(number):
    kept = traces.kept()[number]
    state = begin(traces.plans()[kept["plan"]])
    for step in kept["steps"]:
        event = Event.model_validate(step["event"])
        state, orders = advance(state, event, event.at_s)
        assert traces.refused(orders) == step["refused"]
        for look in step["looks"]:
            assert traces.shown(state, look["now_s"]) == look
        assert [[c[name] for name in traces.CUE] for c in view(state, event.at_s).document()["cues"]] == step["cues"]


def told_otherwise_by_the_page(page, kept) -> list:
    """Where the page's module, given the events of a trace, does not tell what the house told."""
    plan = shown_plan("", traces.plans()[kept["plan"]])
    state, steps = begin(traces.plans()[kept["plan"]]), []
    for step in kept["steps"]:
        event = Event.model_validate(step["event"])
        state, _ = advance(state, event, event.at_s)
        look = view(state, event.at_s).document()
        known = {name: look[name] for name in ("status", "index", "ahead", "began_s", "clock_from_s", "extended_s")}
        steps.append(step | {"house": known | {"skipped": look["skipped"], "press": look["press"]}})
    return page.evaluate(
        """async ([plan, steps, house_only, numbers, does, cue_]) => {
          const run = await import("/static/sink/run.js");
          const wrong = [];
          const near = (a, b) => a === b || (a !== null && b !== null && Math.abs(a - b) < 1e-5);
          let core = run.begin();
          for (const [i, step] of steps.entries()) {
            const why = run.refusalOf(plan, core, step.event);
            if (step.event.kind !== "taken_back" && !house_only.includes(step.event.kind) &&
                !(why === null ? step.refused === null : step.refused?.[0] === why.kind && near(why.seconds ?? null, step.refused[1])))
              wrong.push([i, step.event.kind, "refused", why, step.refused]);
            const before = core;
            core = run.advance(plan, core, step.event);
            if (house_only.includes(step.event.kind)) core = run.coreOf(step.house);
            for (const look of step.looks) {
              const now = look.now_s;
              const action = run.actionOf(plan, core);
              const due = run.dueOf(plan, core), end = run.endOf(plan, core, now);
              // The plan's key order is not the trace's.
              const flat = (thing) => (thing && typeof thing === "object" && !Array.isArray(thing) ? Object.entries(thing).sort() : thing);
              if (action && JSON.stringify(does.map((name) => flat(action[name]))) !== JSON.stringify(look.does.map(flat)))
                wrong.push([i, step.event.kind, "does", look.does]);
              const told = { ...core, phase: run.phaseOf(plan, core, now), due_s: due, progress: run.progressOf(plan, core, now),
                ends_s: run.isOver(core) ? look.ends_s : end, action: action?.key ?? null, next: run.coming(plan, core)[0]?.key ?? null };
              for (const name of Object.keys(look)) {
                if (name === "now_s" || name === "does") continue;
                const same = numbers.includes(name) ? near(told[name], look[name]) : JSON.stringify(told[name]) === JSON.stringify(look[name]);
                if (!same) wrong.push([i, step.event.kind, name, told[name], look[name]]);
              }
            }
            const cues = run.cuesOf(plan, core);
            if (cues.length !== step.cues.length || cues.some((cue, n) => !near(cue.at_s, step.cues[n][0]) || cue_.slice(1).some((name, m) => cue[name] !== step.cues[n][m + 1])))
              wrong.push([i, step.event.kind, "cues"]);
            if (JSON.stringify(core.press?.before) !== JSON.stringify(step.house.press?.before) && step.event.kind !== "taken_back")
              wrong.push([i, step.event.kind, "press", core.press, step.house.press]);
            core = { ...core, press: step.house.press };
          }
          return wrong;
        }""",
        [plan, steps, list(ONLY_THE_HOUSE), list(NUMBERS), list(traces.DOES), list(traces.CUE)],
    )


def test_the_module_of_the_page_replays_them(house, page_at):
    page = page_at()
    page.goto(house.url + "/sink")
    assert [told_otherwise_by_the_page(page, kept) for kept in traces.kept()] == [[]] * 5


def test_the_traces_hold_what_can_go_wrong():
    kinds = {step["event"]["kind"] for kept in traces.kept() for step in kept["steps"]}
    refused = {step["refused"][0] for kept in traces.kept() for step in kept["steps"] if step["refused"]}
    assert refused >= {"too_early", "moved_on", "another_bath", "end_it_instead"}
    assert kinds >= {"taken_back", "step_repeated", "step_skipped", "step_extended", "paused", "resumed"}
    ended = [kept["steps"][-1]["looks"][0]["status"] for kept in traces.kept()]
    assert ended[:2] == ["finished", "finished"]
