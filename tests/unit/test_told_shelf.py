"""What shelf, baths, jugs and notebook tell of what was written into them: one darkroom, touched from all sides."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from obverse.clock import FixedClock
from obverse.process import ALKALI, SOLVENT, TIME, Bottle, Grade, Patch, Trial
from obverse.process.catalog import formulas, products, routes
from obverse.workbench import shelf as shelves
from obverse.workbench.bootstrap import Workbench, open_workbench
from obverse.workbench.care.called import called
from obverse.workbench.names import apart, next_strip
from obverse.workbench.proposal import against_the_word
from obverse.workbench.seek import ListAsked, by_name
from obverse.workbench.stock import bottle_told, stock_told
from obverse.workbench.wear import developer_wear, wear_text, with_films_before
from tests.told_kept import told_as_kept
from tests.unit.test_told_everything import outcome

EVENING = datetime(2031, 11, 5, 19, 0, tzinfo=UTC)


class _Suggested:
    """As much of a proposal as is asked for here."""

    def __init__(self, controls: dict[str, float], chance: float):
        self.controls, self.probability_in_aim = controls, chance


def _opened(home: Path) -> tuple[Workbench, FixedClock]:
    clock = FixedClock(EVENING)
    return open_workbench(home, url="sqlite://", clock=clock), clock


def _told(view: Any) -> Any:
    """A bath or a jug in short: what it has seen, what is foretold, what is to be told."""
    document = view.document()
    seen = document.get("forecast") or {}
    names = ("name", "formula", "volume_ml", "age_h", "destroy_within_min", "renewals", "letter", "silver_g", "goes")
    said = [[c["code"], c["level"], c["text"]] for c in document["cautions"]]
    notes = [[n["kind"], n.get("volume_ml"), n.get("area_m2"), n.get("clip_s")] for n in document.get("notes", [])]
    passes = [[p["films"], p["area_m2"], p.get("ghost"), p.get("time_ratio")] for p in document.get("passes", [])]
    short = {name: document[name] for name in names if document.get(name)}
    return [short, passes, notes, seen.get("rolls_left"), seen.get("ghost_probability"), document.get("clip"), said]


def baths(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    care, found = bench.care, dict[str, Any]()
    iron = care.mix_bath("bleach_iron_chloride", 1000, name="Iron")
    clock.advance(60)
    ammonia = care.mix_bath("ammonia_bath", 500)
    clock.advance(60)
    fixer = care.stands_already("fixer_rapid", 1000, films=6, film="120", since=date(2031, 10, 1), looks=" yellowish ")
    clock.advance(60)
    unknown = care.stands_already("bleach_permanganate", 500, films=None)
    clock.advance(60)
    new = care.stands_already("bleach_dichromate", 300, films=0, since=EVENING.date(), looks=" ")
    found["refused"] = [
        outcome(lambda: care.stands_already("fixer_rapid", 500, since=date(2031, 11, 6))),
        outcome(lambda: care.stands_already("fixer_rapid", 500, films=-1)),
        outcome(lambda: care.stands_already("no such", 500)), outcome(lambda: care.mix_bath("fixer_rapid", -5)),
        outcome(lambda: care.judge(iron, 0, True)), outcome(lambda: care.count_pass(iron, film="a wink")),
    ]  # fmt: skip
    for id in (iron, ammonia, fixer):
        care.count_pass(id, films=2, run="run-1/step")
    clock.advance(3600)
    found["an hour later"] = [_told(view) for view in care.baths()]
    found["of use"] = sorted(view.bottle.name for view in care.used_that_must_go())
    care.judge(iron, 0, True)
    found["a ghost was seen"] = _told(care.bath(iron))
    care.judge(iron, 0, None)
    clock.advance(3600 * 24 * 9)
    care.count_pass(iron, film="120", time_ratio=1.5)
    found["topped up"] = _told(care.top_up(iron, 250))
    found["looked at"] = _told(care.look(iron, " cloudy "))
    found["brought back"] = _told(care.restore(iron, "peroxide"))
    found["a used one is not topped up"] = outcome(lambda: care.top_up(ammonia, 100))
    for id, seconds in ((fixer, 40.0), (fixer, 90.0), (new, 30.0), (iron, 200.0)):
        found[f"clip {seconds}"] = outcome(lambda id=id, s=seconds: _told(care.clip_test(id, s, run=f"r{s}/clip")))
    found["the same clip twice"] = len(care.clip_test(fixer, 70.0, run="r90.0/clip").bottle.notes)
    found["no clip of it"] = [
        outcome(lambda: care.clip_test(unknown, 0.0)),
        outcome(lambda: care.clip_test(care.mix_bath("wetting_bath", 500), 5.0)),
    ]
    found["a clip in words"] = [care.clip_words(care.bath(fixer).formula, s).text for s in (20.0, 60.0, 300.0)]
    found["a clip takes"] = care.clip_expected_s(care.bath(fixer).formula)
    found["before an evening"] = [
        [c.code, c.where, c.text] for c in care.before_an_evening(routes()["iron_ammonia_light"], 0.054, 500.0)
    ]
    found["late"] = [_told(view) for view in care.baths()]
    found["how it is destroyed"] = [[step.key, step.time_min] for step in care.destruction(ammonia)]
    found["put away"] = [
        outcome(lambda: care.bath_gone(ammonia)),
        outcome(lambda: care.bath_gone(ammonia, destroyed=True)),
        outcome(lambda: care.bath_gone(new)),
    ]
    jug = care.begin_jug("A", 9000)
    found["a class never kept"] = [
        outcome(lambda letter=letter: care.begin_jug(letter, 5000, name="J", vented=False) and "begun")
        for letter in care.classes()
    ]
    found["poured"] = _told(care.pour(jug, "fixer_rapid", 900, films=4, film="135-24"))
    found["asked"] = [[f.pair, f.level, f.text] for f in care.ask_jug(jug, "bleach_permanganate", 400)]
    found["wrong"] = outcome(lambda: care.wrong_class(jug, "bleach_permanganate"))
    found["refused in it"] = [
        outcome(lambda w=w: _told(care.pour(jug, w, 400 if w == "battery_acid_37" else 4000)))
        for w in ("laundry_bleach", "battery_acid_37", "fixer_rapid", "ammonia_bath")
    ]
    found["whole bath into it"] = _told(care.bath_into_jug(fixer, jug))
    found["some of it"] = _told(care.bath_into_jug(iron, jug, destroyed=True, volume_ml=50))
    found["all silver"] = care.silver_g()
    care.hand_in(jug)
    found["left"] = [[v.bottle.name for v in care.baths()], [v.jug.letter for v in care.jugs()]]
    found["a room"] = [care.room_revision(), care.room(), care.set_room(12.0, 2.0), care.room_revision(), care.room()]
    return found  # fmt: skip


def stands(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    shelf, found = bench.shelf, dict[str, Any]()
    found["empty"] = [shelf.is_empty, len(shelf.products_or_generic()), shelf.tanks(), len(shelf.tools_for_mixing())]
    for key in ("household_ammonia_5", "fixer_ats_60wv", "metabisulfite_sodium"):
        shelf.add_generic(key)
        clock.advance(60)
    shelf.retire("product", "fixer_ats_60wv")
    found["back on the shelf"] = [shelf.add_generic("fixer_ats_60wv"), [kept.id for kept in shelf.products()]]
    found["refused"] = [
        outcome(lambda: shelf.add_generic("no such")), outcome(lambda: shelf.retire("cat", "x")), outcome(lambda: shelf.add_bottle({})),
        outcome(lambda: shelf.add_product({"name": "x", "form": "gas"})), outcome(lambda: shelf.add_tool({"name": "cup"})),
    ]  # fmt: skip
    old = shelf.add_bottle(
        {
            "name": "Ammonia 1",
            "product": "household_ammonia_5",
            "amount": 300,
            "hours_open": 40,
            "expires_on": "2031-11-04",
        }
    )
    clock.advance(60)
    shelf.add_bottle({"name": "Ammonia 2", "product": "household_ammonia_5", "amount": 500})
    clock.advance(60)
    shelf.add_bottle({"name": "Bag 10", "product": "metabisulfite_sodium", "amount": 100, "note": "Grey"})
    clock.advance(60)
    shelf.add_bottle({"name": "Bag 9", "formula": "fixer_rapid", "amount": 100, "expires_on": "2031-11-05"})
    clock.advance(60)
    shelf.add_bottle({"name": "Odd", "product": "nobody_knows", "amount": 10})
    clock.advance(60)
    found["as it stands open"] = [[p.key, [c.strength for c in p.contents]] for p in shelf.products_for_mixing()]
    found["taken"] = [
        shelf.take({"household_ammonia_5": 450.0, "fixer_ats_60wv": 5.0, "metabisulfite_sodium": 100.0}),
        shelf.take({"household_ammonia_5": 450.0}),
    ]
    found["amounts"] = [[kept.thing.name, kept.thing.amount] for kept in shelf.bottles()]
    found["facts"] = [
        [kept.thing.name, facts.contents, facts.keeps, facts.hazards.codes]
        for kept in shelf.bottles()
        for facts in [shelf.facts(kept.thing)]
    ]
    for sort in ("name", "what expires first", "newest first", "colour"):
        found[f"by {sort}"] = outcome(
            lambda sort=sort: [kept.thing.name for kept in shelf.find_bottles(ListAsked(sort=sort)).rows]
        )
    shelf.retire("bottle", old)
    for asked in ({"find": "grey"}, {"find": "ammonia"}, {"find": "no such"}, {"shown": "aside"}, {"part": 7}):
        seen = shelf.find_bottles(ListAsked(**asked))  # type: ignore[arg-type]
        found[f"asked {asked}"] = [
            [k.thing.name for k in seen.rows],
            seen.matching,
            seen.total,
            seen.aside,
            seen.parts,
            seen.asked.part,
            seen.told,
            seen.empty_by_asking,
        ]
    shelf.restore("bottle", old)
    shelf.add_tool({"name": "Tank two", "kind": "tank", "volume_ml": 600})
    found["tanks"] = [[tank.key, tank.name] for tank in shelf.tanks()]
    for asked in (("ammonium thiosulfate", "60 % w/v", "liquid"), ("ammonia", "5 % w/w", "liquid", "0.98"), ("sodium carbonate", "99 %", "solid"), ("dust", "5 %", "liquid"),
                  ("ammonia", "4-6 %", "liquid"), ("iron chloride", "42 Be", "liquid"), ("ammonia", "strong", "liquid"), ("sodium dithionite", "80-90 %", "solid")):  # fmt: skip
        found[f"strength {asked}"] = outcome(lambda asked=asked: shelves.strength_meaning(*asked))
    found["content words"] = [shelves.content_words(one) for one in list(products().values())[::4]]
    found["openings"] = [
        [one.key, one.is_open, one.own, [b.step for b in one.closed], one.substitutions, one.purchase and [p.key for p in one.purchase], one.cost_per_roll]
        for one in shelf.openings(500.0)[:4]
    ]  # fmt: skip
    found["solids"] = [shelf.is_solid(key) for key in ("metabisulfite_sodium", "fixer_ats_60wv", "no such")] + [
        len(shelf.solids())
    ]
    bottle = Bottle(name="B", product="fixer_ats_60wv", amount=100.0)
    day = EVENING.date()
    held = {"none": (), "enough": (bottle,), "nearly": (bottle.model_copy(update={"amount": 99.6}),), "short": (bottle.model_copy(update={"amount": 99.0}),), "empty": (bottle.model_copy(update={"amount": 0.0}),),
            "not measured": (bottle, bottle.model_copy(update={"amount": None})), "old": (bottle.model_copy(update={"expires_on": date(2031, 11, 4)}),), "of today": (bottle.model_copy(update={"expires_on": day}),)}  # fmt: skip
    for name, bottles in held.items():
        found[f"stock {name}"] = [
            [c.code, c.text] for c in stock_told({"fixer_ats_60wv": 100.0, "x": 5.0}, products(), bottles, day)
        ]
        found[f"bottle {name}"] = [[c.code, c.text] for one in bottles for c in bottle_told(one, day)]
    return found


def strips(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    notebook, found = bench.notebook, dict[str, Any]()
    film = notebook.add_film({"name": "Grey 10", "box_speed": 100}).id
    clock.advance(60)
    other = notebook.add_film({"name": "Grey 9", "box_speed": 50, "base_density": 0.2}, aim="scan").id
    clock.advance(60)
    found["refused"] = [
        outcome(lambda: notebook.add_film({"name": "Grey 10", "box_speed": 25})), outcome(lambda: notebook.change_film(other, {"name": "Grey 10", "box_speed": 25})),
        outcome(lambda: notebook.film_called("Grey")), outcome(lambda: notebook.plan(film, {"colour": 1})), outcome(lambda: notebook.next_strips(film, 0)), outcome(lambda: notebook.next_strips(film, 7)),
        outcome(lambda: notebook.lock_recipe(film, "strip 9", name="x")), outcome(lambda: notebook.control_chart("x")), outcome(lambda: notebook.add_trial("x", {"controls": {}})),
    ]  # fmt: skip
    found["called"] = [notebook.film_called("Grey 9").thing.name, notebook.film_called(film).thing.name]
    found["plans"] = [
        notebook.plan_revision(film),
        notebook.plan(film, {"aim": "light_table"}).aim.name,
        notebook.plan_revision(film),
        notebook.plan_revision("x"),
    ]
    steps = [{"log_exposure": x, "density": d} for x, d in ((-1.0, 2.2), (0.0, 1.1), (1.0, 0.3))]
    first = notebook.add_trial(
        film, {"controls": {"first_developer_time_min": 9}}, run="r1", made_at="2031-11-05T19:30:00"
    )
    read = notebook.add_trial(
        film, {"id": "strip 1", "controls": {"first_developer_time_min": 9}, "steps": steps}, picture="p"
    )
    clock.advance(60)
    same = notebook.add_trial(film, {"id": "strip 1", "controls": {"first_developer_time_min": 9}, "steps": steps})
    found["read of what waited"] = [
        first.id == read.id == same.id,
        read.thing.picture,
        read.thing.run,
        len(read.thing.trial.steps),
    ]
    found["another of its name"] = outcome(
        lambda: notebook.add_trial(
            film, {"id": "strip 1", "controls": {"first_developer_time_min": 12}, "steps": steps[:2]}
        )
    )
    second = notebook.add_trial(
        film,
        {"controls": {"first_developer_time_min": 11}, "grades": [{"of": "blacks", "grade": "thin"}], "note": "Window"},
    )
    clock.advance(60)
    notebook.add_trial(other, {"controls": {"first_developer_time_min": 7}, "faults": ["stain"]})
    clock.advance(60)
    changed = notebook.change_trial(
        second.id, {"controls": {"first_developer_time_min": 11, "temperature_c": 21}, "note": "Door"}
    ).thing.trial
    found["changed"] = [changed.controls, changed.control_sds, changed.note]
    found["a taken name"] = outcome(lambda: notebook.change_trial(second.id, {"id": "strip 1"}))
    notebook.retire_trial(second.id)
    found["put aside"] = [
        [k.thing.trial.id for k in notebook.trials(film)],
        [k.thing.trial.id for k in notebook.retired_trials(film)],
    ]
    found["given by hand again"] = (
        notebook.add_trial(
            film,
            {
                "id": "strip 2",
                "controls": dict(changed.controls),
                "grades": [{"of": "blacks", "grade": "thin"}],
                "note": "Door",
            },
        ).id
        == second.id
    )
    for sort in ("newest first", "film", "name", "time in the first developer"):
        found[f"strips by {sort}"] = [
            k.thing.trial.id + k.thing.film[:0] + str(k.thing.trial.controls)
            for k in notebook.find_strips(ListAsked(sort=sort)).rows
        ]
    for words in ("thin", "stain", "door", "grey 9", "window", "9 min"):
        found[f"strips of {words}"] = [k.thing.trial.id for k in notebook.find_strips(ListAsked(find=words)).rows]
    for sort in ("newest first", "name", "box speed"):
        found[f"films by {sort}"] = [k.thing.name for k in notebook.find_films(ListAsked(sort=sort)).rows]
    series = notebook.series(film)
    document = series.model_dump(mode="json")
    found["dated"] = [[trial.id, trial.made_on] for trial in series.trials]
    again = notebook.import_series(document)
    clock.advance(60)
    document["trials"][1]["note"] = "as another has it"
    document["trials"].append(
        {**document["trials"][0], "id": "strip 7", "controls": {"first_developer_time_min": 15.0}}
    )
    notebook.import_series(document)
    found["imported"] = [
        again.id == film,
        [k.thing.trial.id for k in notebook.trials(film)],
        [k.thing.trial.id for k in notebook.retired_trials(film)],
    ]
    new = notebook.import_series({**document, "film": {**document["film"], "name": "Of another"}})
    found["imported new"] = [
        new.thing.name,
        len(notebook.trials(new.id)),
        [one.film.name for one in notebook.every_series()],
    ]
    notebook.retire_film(other)
    found["films"] = [[k.thing.name for k in notebook.films()], len(notebook.find_films(ListAsked(shown="aside")).rows)]
    notebook.restore_film(other)
    found["control strips"] = [notebook.control_strips("x"), notebook.advice(film)]
    found["names"] = [
        next_strip(set()),
        next_strip({"strip 1", "strip 3"}),
        next_strip({"a", "strip 2"}),
        apart("a", ()),
        apart("a", ("a", "a (2)")),
        len(apart("x" * 120, ["x" * 120])),
    ]
    found["in order"] = sorted(("strip 10", "Strip 9", "strip é", "strip e", "2 a", "10 a"), key=by_name)
    found["worn"] = [
        outcome(lambda f=f, v=v: developer_wear(f, v))
        for f, v in (
            (0, 500),
            (3, 500),
            (3, 1000),
            (1000, 500),
            (1001, 500),
            (-1, 500),
            (1, 0),
            (1, 1e5),
            (1, 1e6),
            (float("nan"), 1),
        )
    ]
    found["worn in words"] = [
        wear_text({}),
        wear_text({"bleach": 0.0}),
        wear_text({"bleach": 0.25, "first_developer": 0.5}),
        with_films_before({}, 0, 500),
        with_films_before({"bleach": 0.1}, 3, 500),
    ]
    found["against the word"] = _against_the_word()
    return found


def _against_the_word() -> dict[str, str]:
    """A strip judged so, and a proposal that takes the solvent so far the other way."""
    found = {}
    base = {TIME.key: 10.0, SOLVENT.key: 8.0, ALKALI.key: 5.0}
    for words in (
        ("murky", None),
        ("slightly_murky", None),
        (None, "thin"),
        (None, "slightly_thin"),
        ("murky", "thin"),
        ("clear", "deep"),
    ):
        grades = [Grade(of=of, grade=word) for of, word in zip(("highlights", "blacks"), words, strict=True) if word]  # type: ignore[arg-type]
        trial = Trial(id="strip 4", controls=base, grades=tuple(grades))
        for solvent, more, chance in (
            (-0.5, {}, 0.5),
            (-0.4, {}, 0.5),
            (-2.0, {TIME.key: 12.0}, 0.49),
            (-2.0, {TIME.key: 12.0, ALKALI.key: 7.0}, 0.8),
            (0.5, {ALKALI.key: 7.0}, 0.4),
            (0.4, {}, 0.5),
            (3.0, {}, 0.6),
        ):
            proposal = _Suggested({**base, SOLVENT.key: 8.0 + solvent, **more}, chance)
            if said := against_the_word(trial, proposal):  # type: ignore[arg-type]
                found[f"{words} {solvent} {more} {chance}"] = said
    return found


NAMES = (
    "bleach",
    "red bleach",
    "laundry bleach",
    "laundry_bleach",
    "fixer",
    "my fixer",
    "ammonia",
    "salt",
    "acid",
    "fairy dust",
    "drain cleaner",
    "kitchen sink",
    "candle",
    "used fixer",
    "rust remover",
    "dev",
    "hypo",
    "vinegar",
    "iron",
    "etchant liquid",
    "washing soda",
    "My Own",
    "first_developer",
)


def names(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    """What a name may mean, formulas of one's own, and a strip on the light table."""
    own = {"my own": products()["etchant_42be"]}
    found: dict[str, Any] = {}
    for name in NAMES:
        one = called(name, own, formulas())
        told = one.told()
        found[f"called {name}"] = [
            one.known,
            one.exact,
            [getattr(m, "key", m) for m in one.meanings],
            told and [told.text, told.level.value, told.advice],
        ]
    lab, document = (
        bench.bench,
        {
            "name": "Strong fixer",
            "role": "fixer",
            "components": [{"substance": "ammonium_thiosulfate", "concentration": "180 g/L"}],
        },
    )
    found["kept"] = [
        lab.keep_formula(document),
        lab.formula_revision("strong_fixer"),
        lab.formula_revision("x"),
        lab.key_of({"name": "?!"}),
        lab.key_of({"key": "k", "name": "n"}),
    ]
    bench.store.formulas.retire("strong_fixer")
    found["back in use"] = [
        lab.keep_formula(document),
        "strong_fixer" in lab.formulas(),
        lab.formula_revision("strong_fixer") > 1,
    ]
    found["refused"] = [
        outcome(lambda c=c: lab.keep_formula({**document, **c}))
        for c in (
            {"key": "fixer_rapid"},
            {"components": [{"substance": "moon_dust", "concentration": "1 g/L"}]},
            {"role": "soup"},
        )
    ]
    found["no such"] = [
        outcome(lambda: lab.formula("x").key),
        lab.formula("strong_fixer").name,
        lab.controls(given={"solvent_ml_per_l": 3.0}),
        lab.controls(),
    ]
    said = [
        lab.keep_said("fixer 1+4", does="fix"),
        lab.keep_said("fixer 1+4", does="fix", name="My fixer"),
        lab.keep_said("fixer 1+4", does="fix"),
    ]
    found["said"] = [[one.formula.key, one.formula.name, one.formula.role] for one in said]
    patches = [
        Patch(log_exposure=round(-1.2 + 0.4 * i, 2), density=round(2.3 - 0.3 * i, 2), density_sd=0.02) for i in range(7)
    ]
    far = [Patch(log_exposure=-9.0, density=2.5, density_sd=0.02), *patches]
    for name, given in {"a strip": patches, "turned": patches[::-1], "from the border": far, "nothing": []}.items():
        told = outcome(lambda given=given: bench.light_table.look(tuple(given), base_density=0.2, box_speed=100.0))
        if isinstance(told, dict):
            told = {
                **told,
                "curve": {key: one[::20] for key, one in told["curve"].items()},
                "faults": len(told["faults"]),
            }
        found[name] = told
    return found


@pytest.mark.parametrize("telling", [baths, stands, strips, names], ids=lambda telling: telling.__name__)
def test_what_a_darkroom_tells_is_what_was_read(telling, tmp_path):
    bench, clock = _opened(tmp_path)
    try:
        # A fitted curve is not the same to the digit on every processor.
        assert not told_as_kept(
            f"shelf_{telling.__name__}", telling(bench, clock), nearly=0.01 if telling is names else 0.0
        )
    finally:
        bench.close()
