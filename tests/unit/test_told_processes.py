"""What is made of a process as said, and what the house says of it: ways with each thing that can be right, wrong, or nearly so."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from obverse.clock import FixedClock
from obverse.process import Process
from obverse.process.catalog import routes
from obverse.workbench.bootstrap import Workbench, open_workbench
from obverse.workbench.processes import _blank, _others, _paired, compare, in_words, said_mix
from tests.told_kept import told_as_kept
from tests.unit.test_recipes import recipe_of
from tests.unit.test_told_everything import outcome
from tests.unit.test_told_opinions import SAID

DEVELOP = {
    "does": "develop",
    "bath": "100 mL paper developer + 2 mL rapid fixer + 8 mL household ammonia, water to 1 L",
    "time": "10 min",
    "rinse": "5, 10, 20",
}
GENERIC = {"does": "develop", "bath": "first_developer", "time": "10 min", "rinse": "5, 10, 20"}
IRON = {"does": "bleach", "bath": "bleach_iron_chloride", "time": "5 min", "after": "back to its jug", "rinse": "5, 10"}
AMMONIA = {"does": "dissolve", "bath": "100 mL household ammonia, water to 500 mL", "time": "3 min", "after": "destroy"}
CLEAR = {"does": "clear", "bath": "30 g sodium metabisulfite in 1 L", "time": "2 min", "rinse": "5, 10"}
FOG = {"does": "fog", "bath": "5 g sodium dithionite in 500 mL", "time": "5 min", "made": "just before"}
LIGHT = {"does": "second exposure", "name": "Light", "time": "2 min"}
AGAIN = {"does": "develop again", "bath": "second_developer", "time": "3 min", "rinse": "5, 10"}
FIX = {"does": "fix", "bath": "fixer 1+4", "time": "4 min", "rinse": "running water 10 min"}
PERMANGANATE = {"does": "bleach", "bath": "2 g permanganate + 10 mL battery acid, water to 1 L", "time": "4 min"}
DICHROMATE = {
    "does": "bleach",
    "bath": "5 g potassium dichromate + 10 mL battery acid, water to 500 mL",
    "time": "4 min",
    "rinse": "5",
}
PEROXIDE = {"does": "bleach", "bath": "300 mL peroxide 3 % + 200 mL vinegar 5 %", "time": "12 min"}
BREW = {"does": "stare", "bath": "40 mL strange brew, water to 500 mL", "time": "3 min"}


def but(row: dict[str, str], **changes: str) -> dict[str, str]:
    return {**row, **changes}


def developer(bath: str, **more: str) -> dict[str, str]:
    return but(DEVELOP, bath=bath, **more)


WAYS: dict[str, list[dict[str, str]]] = {
    "all as it should be": [DEVELOP, IRON, AMMONIA, CLEAR, FOG, FIX],
    "by light": [GENERIC, PERMANGANATE, CLEAR, LIGHT, AGAIN, FIX],
    "developer only": [GENERIC],
    "nothing of either": [developer("100 mL paper developer, water to 1 L")],
    "too much of both": [developer("100 mL paper developer + 20 mL rapid fixer + 60 mL household ammonia, water to 1 L")],
    "half of both": [developer("100 mL paper developer + 1 mL rapid fixer + 4 mL household ammonia, water to 1 L")],
    "less than half": [developer("100 mL paper developer + 0.9 mL rapid fixer + 3.5 mL household ammonia, water to 1 L")],
    "twice of both": [developer("100 mL paper developer + 4 mL rapid fixer + 16 mL household ammonia, water to 1 L")],
    "others in their place": [developer("100 mL paper developer + 5 g sodium thiosulfate crystals + 5 g sodium carbonate, water to 1 L")],
    "two in their place": [developer("100 mL paper developer + 5 g hypo + 2 g potassium thiocyanate, water to 1 L")],
    "a brew in it": [developer("100 mL paper developer + 5 mL strange brew, water to 1 L")],
    "vague": [developer("100 mL paper developer + a pinch of potassium bromide + a dash of rapid fixer, water to 1 L")],
    "times apart": [GENERIC, but(IRON, time="9 min"), but(AMMONIA, time="9 min"), but(CLEAR, time="9 min"), but(FOG, time="15 min"), but(FIX, time="9 min")],
    "times a little apart": [GENERIC, but(IRON, time="6.7 min"), but(AMMONIA, time="4 min"), CLEAR, but(FOG, time="3.4 min"), but(FIX, time="5.3 min")],
    "times too short": [GENERIC, but(IRON, time="1 min"), but(AMMONIA, time="1 min"), but(CLEAR, time="20 s"), but(FOG, time="1 min"), but(FIX, time="1 min")],
    "until it is clear": [GENERIC, but(IRON, time="2 to 9 min, until clear"), but(AGAIN, time="9 min")],
    "peroxide and a clearing": [GENERIC, PEROXIDE, but(CLEAR, time="2 min"), FOG],
    "a wash aid": [GENERIC, FIX, but(CLEAR, time="9 min", rinse="running water 5 min")],
    "down the drain": [GENERIC, but(DICHROMATE, after="drain"), but(AMMONIA, after="drain"), but(FIX, after="drain")],
    "small baths": [GENERIC, but(IRON, volume="449 mL"), but(AMMONIA, volume="450 mL"), but(FOG, volume="100 mL")],
    "weak fog": [GENERIC, IRON, AMMONIA, but(FOG, bath="0.3 g sodium dithionite in 500 mL")],
    "fog made early": [GENERIC, but(IRON, time="30 min"), but(FOG, made="while Bleach works"), FIX],
    "fog made ahead": [GENERIC, IRON, but(FOG, made="ahead"), FIX],
    "no clearing": [GENERIC, PERMANGANATE, FOG],
    "no rinse": [but(GENERIC, rinse="none"), but(IRON, rinse="none"), AMMONIA],
    "one fill": [but(GENERIC, rinse="5"), but(IRON, rinse="5"), AMMONIA],
    "acid rinse": [GENERIC, but(IRON, rinse="5, 10, acidified"), AMMONIA],
    "water of its own": [but(GENERIC, rinse="none"), {"does": "rinse", "rinse": "5, 10"}, but(IRON, rinse="none"), {"does": "wash", "rinse": "running water 2 min"}, AMMONIA],
    "bleach and no more": [GENERIC, IRON],
    "light and no more": [GENERIC, PERMANGANATE, CLEAR, LIGHT],
    "lamps": [GENERIC, PERMANGANATE, but(LIGHT, name="Light 100 W 50 cm off the reel"), but(LIGHT, name="Second light", note="60 W at 3 ft, on the reel"),
              but(LIGHT, name="Third light", note="8 W LED at 1 m"), but(LIGHT, name="Fourth light", note="150 W at 1 m on its spiral", time="30 s"), AGAIN],
    "little sulfite": [GENERIC, PERMANGANATE, but(CLEAR, bath="0.2 g sodium metabisulfite in 1 L"), FOG],
    "sulfite and a brew": [GENERIC, PERMANGANATE, but(CLEAR, bath="30 g sodium metabisulfite + 5 mL strange brew, water to 1 L"), FOG],
    "two bleaches, two clearings": [GENERIC, PERMANGANATE, CLEAR, but(DICHROMATE, name="Bleach two"), but(CLEAR, name="Clear two", bath="20 g sodium sulfite in 1 L"), FOG],
    "a brew between": [GENERIC, IRON, BREW, AMMONIA, FIX],
    "brewed": [GENERIC, but(IRON, bath="40 mL etchant + 40 mL strange brew, water to 500 mL"), but(FOG, bath="10 g sodium dithionite + 5 g secret stuff, water to 500 mL"), but(FIX, bath="a sachet of something")],
    "washed a little": [GENERIC, but(FIX, rinse="5")],
    "washed by fills": [GENERIC, but(FIX, rinse="5, 10, 20, 20, 20, 20, 20")],
    "washed with an aid": [GENERIC, but(FIX, rinse="5"), but(CLEAR, bath="20 g sodium sulfite in 1 L"), {"does": "wash", "rinse": "running water 5 min"}],
    "a hardening fixer": [GENERIC, but(FIX, name="Hardening fixer", rinse="running water 12 min")],
    "two fixers": [GENERIC, but(FIX, rinse="none"), but(FIX, name="Fix two", rinse="running water 30 min")],
    "lethal": [GENERIC, but(IRON, bath="100 mL laundry bleach, water to 500 mL", rinse="none"), but(AMMONIA, bath="200 mL household ammonia, water to 500 mL")],
    "said as another": [DEVELOP, IRON, AMMONIA, but(DEVELOP, name="Second", does="develop again", bath="same as first developer but without ammonia")],
    "many carry": [but(GENERIC, rinse="none"), but(DICHROMATE, rinse="none"), but(CLEAR, rinse="none"), but(AMMONIA, rinse="none"), but(PERMANGANATE, name="B", rinse="none"), FIX],
}  # fmt: skip


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    clock = FixedClock(datetime(2031, 11, 5, 19, 0, tzinfo=UTC))
    found = open_workbench(tmp_path_factory.mktemp("home"), url="sqlite://", clock=clock)
    yield found
    found.close()


def _in_short(process: Process) -> list[Any]:
    steps = [
        [s.key, s.kind, s.formula, s.volume_ml, s.time_min, s.time_most_min, s.after_use, s.waste_jug, s.made, s.light]
        for s in process.steps
    ]
    baths = [
        [f.key, f.role, f.one_shot, f.use_within_min, list(f.unread), [[c.substance, c.parsed.value] for c in f.components]] for f in process.formulas
    ]  # fmt: skip
    return [process.bleach, process.reversal, process.hazard_rank, process.warnings, steps, baths]


@pytest.mark.parametrize("name", WAYS)
def test_what_is_said_of_a_way_is_what_was_read(bench, name):
    process = bench.processes.from_document({"name": name, "tank_ml": 500, "steps": WAYS[name]})
    said = [
        [one.step, one.code, one.says, one.level.value, dict(one.change), one.insert and one.insert["does"]]
        for one in bench.processes.opinions(process)
    ]
    assert not told_as_kept("process_ways", {name: [_in_short(process), said]})


MIXES = (
    "same", "ditto", "as above", "same as first developer", "same again but without ammonia", "the same, minus fixer and ammonia",
    "as the first developer plus 5 g potassium bromide", "first developer with 10 mL household ammonia", "first developer but 3 mL rapid fixer instead",
    "like bleach with 10 mL vinegar more", "same without sugar", "same without 3 g of it", "same plus fairy dust", "same as nothing", "first developer",
    "same but with 2 mL wetting agent and without household ammonia", "3", "same as 3", "fixer 1+4", "fixer 1+4 with 10 g borax", "fixer 1+4 with hardener",
    "fixer 1+4 with a wink", "10 g borax", "10 g borax + a wink, water to 500 mL", "a wink", "a wink + two winks", "10 g borax, 5 g salt and a wink",
    "40 mL etchant with 40 mL water", "10 g borax in 500 mL", "half water", "tap water + a wink", "one lump of borax, 1 L water", "same with 10 parts water",
)  # fmt: skip
OTHERS = {
    "before": "100 mL paper developer + 2 mL rapid fixer + 8 mL household ammonia, water to 1 L",
    "first developer": "100 mL paper developer + 2 mL rapid fixer + 8 mL household ammonia, water to 1 L",
    "bleach": "40 mL etchant, water to 500 mL",
    "3": "5 g borax, water to 1 L",
}


def mixes(bench: Workbench) -> dict[str, Any]:
    def said(text: str, others: dict[str, str]) -> Any:
        mix, lost = said_mix(text, others)
        return [mix.way, [[p.amount.text, p.what, p.amount.best] for p in mix.parts], lost]

    return {text: [outcome(lambda t=text, o=o: said(t, o)) for o in (OTHERS, {})] for text in MIXES}


def pressed(bench: Workbench) -> dict[str, Any]:
    """Every press that takes an opinion over, what it makes of the step, and presses that are refused."""
    found: dict[str, Any] = {}
    for name in ("nothing of either", "no clearing", "bleach and no more"):
        document = {"name": f"press {name}", "tank_ml": 500, "steps": WAYS[name]}
        id = bench.processes.take_in(document)
        for _ in range(2):
            open_ = [one for one in bench.processes.opinions(bench.processes.process(id)) if one.can_be_taken_over]
            if not open_:
                break
            bench.processes.take_over(id, open_[0].step, open_[0].code)
        process = bench.processes.process(id)
        found[name] = [bench.processes.revision(id), in_words(process, bench.processes.draft(process))]
    found["declined"] = outcome(lambda: _in_short(bench.processes.decline(id, "bleach", "suffices", " ").thing))
    found["declined with a reason"] = [
        [one.code, one.declined] for one in bench.processes.opinions(bench.processes.decline(id, "bleach", "suffices", " I like it ").thing)
    ]  # fmt: skip
    found["declined for nothing"] = outcome(
        lambda: bench.processes.decline(id, "first_development", "no such", "I like it")
    )
    kept = bench.processes.begin("  My   fogging way ", source="iron_ammonia_fogging")
    said = {
        "begun": [kept, bench.processes.process(kept).name], "begun again": bench.processes.begin("my fogging way"),
        "no name": outcome(lambda: bench.processes.begin(" !! ")), "no evening": outcome(lambda: bench.processes.begin("x", source="evening:last")),
        "no such evening": outcome(lambda: bench.processes.begin("x", source="evening:17")),
        "no such process": outcome(lambda: bench.processes.begin("x", source="seventeen")),
        "a shipped one": outcome(lambda: bench.processes.keep("iron_ammonia_light", bench.processes.process(kept))),
        "taken in again": bench.processes.take_in(WAYS_DOCUMENT), "and again": bench.processes.take_in({**WAYS_DOCUMENT, "name": "named so"}),
        "not of one's own": outcome(lambda: bench.processes.put_text("seventeen", "{}")),
        "an unknown field": outcome(lambda: bench.processes.from_document({"name": "x", "steps": [{"tune": "hum"}]})),
        "a wrong time": outcome(lambda: bench.processes.from_document({"name": "x", "steps": [{**GENERIC, "time": "long"}]})),
        "no step": outcome(lambda: bench.processes.from_document({"name": "x", "steps": []})),
        "too long": outcome(lambda: bench.processes.take_in_text(" " * 1_000_001)),
    }  # fmt: skip
    tanks = ("", "49", "50 mL", "20000", "20001", "big")
    process = bench.processes.process(kept)
    rows = bench.processes.draft(process).rows
    said |= {f"a tank of {tank}": _draft(bench, process, {"tank_ml": tank}, rows) for tank in tanks}
    said |= {
        "nameless": _draft(bench, process, {"name": " "}, rows),
        "two wrong": _draft(bench, process, {"tank_ml": "9"}, [{"does": ""}]),
    }
    changed = [dict(row) for row in rows]
    changed[0] |= {"time": "12 min", "does": "bleach"}
    said["another kind"] = _draft(bench, process, {}, changed[:3])
    return found | said


WAYS_DOCUMENT = {"name": "taken", "tank_ml": 500, "steps": WAYS["by light"]}


def _draft(bench: Workbench, process: Process, head: dict[str, str], rows: Any) -> Any:
    draft = bench.processes.read(process, head, rows)
    wrong = {f"{place} {field}": sentence for (place, field), sentence in draft.wrong.items()}
    return [
        wrong,
        draft.process
        and [draft.process.tank_ml, [s.key for s in draft.process.steps], [s.time_min for s in draft.process.steps]],
    ]


def compared(bench: Workbench) -> dict[str, Any]:
    known = bench.processes.formulas()
    light, fogging, other = (
        routes()[key] for key in ("iron_ammonia_light", "iron_ammonia_fogging", "permanganate_light")
    )
    turned = light.model_copy(update={"steps": (light.steps[1], light.steps[0], *light.steps[2:])})
    pairs = {
        "alike": (light, light),
        "by fog": (light, fogging),
        "another bleach": (light, other),
        "turned": (light, turned),
        "less": (light, light.model_copy(update={"steps": light.steps[:2]})),
    }
    found: dict[str, Any] = {name: compare(*pair, known) for name, pair in pairs.items()}
    found["controls"] = {key: bench.processes.controls(process) for key, process in routes().items()}
    own = {
        "nothing of either": {},
        "too much of both": {},
        "warm": {"temperature": "30 C"},
        "generic warm": {"temperature": "30 C"},
    }
    for name, more in own.items():
        row = {**(GENERIC if name == "generic warm" else WAYS.get(name, [DEVELOP])[0]), **more}
        found[f"controls {name}"] = bench.processes.controls(
            bench.processes.from_document({"name": name, "steps": [row]})
        )
    return found


def others_called(bench: Workbench) -> dict[str, Any]:
    """By which words the bath of another step is called, from where each step stands; and steps of two processes that are the same."""
    steps = [
        DEVELOP,
        IRON,
        AMMONIA,
        but(IRON, name="Bleach two", bath="40 mL etchant, water to 500 mL"),
        CLEAR,
        but(DEVELOP, name="Second", does="develop again", bath="5 g borax, water to 1 L"),
        FIX,
    ]
    process = bench.processes.from_document({"name": "called", "tank_ml": 500, "steps": steps})
    stranger = process.steps[0].model_copy(update={"key": "elsewhere"})
    found: dict[str, Any] = {step.key: _others(process, step) for step in (*process.steps, stranger)}
    turned = process.model_copy(
        update={"steps": (process.steps[1], *process.steps[3:], process.steps[2].model_copy(update={"key": "x"}))}
    )
    for name, pair in {"alike": (process, process), "turned": (process, turned), "back": (turned, process)}.items():
        found[f"paired {name}"] = [[one and one.key for one in both] for both in _paired(*pair)]
    found["begun from nothing"] = _blank()
    found["compared"] = compare(process, turned, bench.processes.formulas())
    return found


def kept_on(bench: Workbench) -> dict[str, Any]:
    """What is kept of a process from one revision to the next, what a bath is read to again, and whence a process begins."""
    own, found = bench.processes, dict[str, Any]()
    way = [
        DEVELOP,
        but(IRON, after="to the city collection"),
        but(AMMONIA, after="into jug Q"),
        but(CLEAR, after=""),
        but(FIX, after=""),
    ]
    id = own.take_in({"name": "kept on " + "x" * 80, "tank_ml": 500, "steps": way})
    process = own.process(id)
    found["sent"] = [[s.key, s.after_use, s.waste_jug, s.formula, s.volume_ml] for s in process.steps]
    found["key"] = [id, len(process.steps[0].formula or "")]
    rows = [dict(row) for row in own.draft(process).rows]

    def changed(place: int, revision: int | None, **more: str) -> Any:
        typed = [dict(row) for row in rows]
        typed[place] |= more
        draft = own.change(id, {"name": process.name}, typed, revision)
        now = draft.process
        return [
            own.revision(id),
            now and [[f.key, f.one_shot, f.note[:30], len(f.components)] for f in now.formulas],
            now and [[s.key, s.after_use, s.said] for s in now.steps],
            draft.wrong and [*map(str, draft.wrong)],
        ]

    for name, place, revision, more in (
        ("a note", 0, 1, {"note": "mine"}), ("an old revision", 0, 1, {"note": "late"}), ("whatever revision", 0, None, {"note": "last"}), ("kept in a jug", 0, None, {"after": "back to its jug"}),
        ("poured away again", 0, None, {"after": "discard"}), ("another bath", 0, None, {"bath": "5 g borax, water to 1 L"}), ("a wrong time", 0, None, {"time": "long"}), ("another name", 1, None, {"name": "Iron"}),
        ("the same name twice", 1, None, {"name": "Fix"}), ("moved otherwise", 4, None, {"agitation": "gently"}), ("left alone", 4, None, {}),
    ):  # fmt: skip
        found[name] = outcome(lambda place=place, revision=revision, more=more: changed(place, revision, **more))
    found["read again"] = [
        [
            one.way if hasattr(one, "way") else "",
            one.formula and one.formula.key,
            one.formula and one.formula.note,
            list(one.unread),
        ]
        for one in (own.reading(step, process) for step in process.steps if step.mix)
    ]
    found["by a bottle's name"] = [
        [one.formula and one.formula.note, one.formula and one.formula.key, list(one.unread)]
        for one in (
            own.reading(process.steps[0].model_copy(update={"mix": mix}), process, key="k")
            for mix in ("household ammonia", "my secret", "fixer", "same")
        )
    ]
    run = bench.sink.run(bench.sink.begin({"route": "iron_ammonia_light", "tank_ml": 500}, id="evening-0")).thing
    other = run.plan.model_copy(update={"route": routes()["permanganate_light"]})
    bench.store.runs.put(run.model_copy(update={"plan": other}), id="evening-1")
    for source in (
        "evening:last",
        "evening:",
        "evening:evening-0",
        "evening:none",
        "recipe:none",
        "permanganate_fogging",
        id,
        "",
    ):
        found[f"from {source}"] = outcome(
            lambda source=source: [
                begun := own.begin(f"of {source}", source=source),
                [step.key for step in own.process(begun).steps][:4],
            ]
        )
    long = own.read(process, {"name": process.name, "summary": "s" * 601, "tank_ml": "50"}, rows).process
    said = own.opinions(process)[0]
    declined = (id, said.step, said.code)
    found["cut"] = [long and len(long.summary), long and long.tank_ml]
    found["a long reason"] = len(own.decline(*declined, "r" * 401).thing.step(declined[1]).declined[-1].reason)
    recipe = recipe_of(name="Lent")
    mine = recipe.model_copy(
        update={"formulas": (*recipe.formulas, recipe.formulas[0].model_copy(update={"key": "mine"}))}
    )
    kept = bench.recipes.take_in(mine).id
    found["from a recipe"] = [formula.key for formula in own.process(own.begin("z", source=f"recipe:{kept}")).formulas]
    found["put aside"] = [
        own.retire("z"),
        "z" in [one.id for one in own.own()],
        own.revision("z"),
        own.revision("no such"),
    ]
    return found


def opinions_in_full(bench: Workbench) -> dict[str, Any]:
    return {f"{place} {type(story).__name__}": story.at("here").document() for place, (story, *_) in enumerate(SAID)}


@pytest.mark.parametrize(
    "telling",
    [opinions_in_full, mixes, pressed, compared, others_called, kept_on],
    ids=lambda telling: telling.__name__,
)
def test_what_is_made_of_processes_is_what_was_read(bench, telling):
    assert not told_as_kept(f"process_{telling.__name__}", telling(bench))
