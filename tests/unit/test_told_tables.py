"""What is told of tables of past strips, of recipes that travel, of what darkrooms lend, and of the parts of the demo."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from obverse.clock import FixedClock
from obverse.process import AIMS, USUAL_TOOLS, Evidence
from obverse.process.catalog import products, routes
from obverse.workbench import demo, past_strips, pool
from obverse.workbench.bootstrap import Workbench, open_workbench
from obverse.workbench.past_strips import PastTableGiven
from obverse.workbench.preview import Screen, Viewing
from obverse.workbench.projector import Shown
from obverse.workbench.recipes import (
    RecipeTaken,
    differences,
    find_recipe,
    from_my_bottles,
    read_recipe,
    read_recipe_text,
    settled,
    with_products,
)
from tests.told_kept import told_as_kept
from tests.unit.test_recipes import recipe_of
from tests.unit.test_told_everything import outcome

EVENING = datetime(2031, 11, 5, 19, 0, tzinfo=UTC)
TABLE = """Film;Nr;Date;Dev;Hypo (mL in 500 mL);Ammonia mL/L;Speed;Base;Highlights;Blacks;Look;Remarks
Grey base 100;1;5.3.2024;11:30;4;5;;0,2;murky;deep;;first try
;2;13.3.2024;12,5;2,5;5;;;a bit murky;a bit thin;slight tint;
Clear 400;3;14.3.2024;9;none;5;;;clear;thin;a bit dark, weird;
Clear 400;3;15.3.2024;9;none;7;;;clear;thin;;
Clear 401;;3.2024;9;none;5;;;;;;
grey bass;5;;nobody;1;5;250;;;deep;;
grey base;6;;8;1;5;250;;;deep;;
"""


def _looked(seen: past_strips.PastPreview) -> Any:
    document = seen.document()
    names = (
        "new",
        "corrected",
        "known",
        "waiting",
        "not_taken",
        "not_understood",
        "needs_tank",
        "needs_film",
        "sentence",
        "films",
        "held",
        "left_out",
    )
    rows = [
        [
            r["line"],
            r["film"],
            r["name"],
            r["becomes"],
            r["why"],
            r["corrects"],
            r["evidence_text"],
            r["controls_short"],
        ]
        for r in document["rows"]
    ]  # type: ignore[union-attr]
    return [
        {name: document[name] for name in names},
        rows,
        [[c["head"], c["what"], c["examples"]] for c in document["columns"]],
    ]  # type: ignore[union-attr]


def past(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    notebook, found = bench.notebook, dict[str, Any]()
    speeds = {"speeds": {"clear 401": 320.0}, "films": {"Clear 401": "Clear 402"}}
    for name, more in {
        "as it is": {}, "names and speeds": speeds, "left out": {"leave_out": (2, 4)}, "in a tank": {"tank_ml": 250.0}, "another film": {"film": "Grey 9"},
        "a cell corrected": {"corrections": {"7:3": "9"}}, "no cell": {"corrections": {"7": "9"}}, "beyond the columns": {"corrections": {"7:4000": "9"}}, "held": {"held": {"temperature_c": 21.0}},
    }.items():  # fmt: skip
        found[name] = outcome(lambda more=more: _looked(past_strips.look(notebook, PastTableGiven(text=TABLE, **more))))
    for name, text in {
        "one": "Film;Dev;Blacks\nGrey 64 or 125;9;deep\n", "no film": "Nr;Dev\n1;9\n", "some film": "Film;Nr;Dev\n;1;9\nA;2;9\n", "mL in nothing": "Film;Nr;Dev;Hypo mL\nA;1;9;4\n",
        "readings": "Film;Nr;Dev;Dmax;Dmin\nA 100;1;9;2,4;0,3\n", "nothing": "", "held alike": "Film;Nr;Dev;Temp\nB;1;9;24\nB;2;10;24\n",
    }.items():  # fmt: skip
        found[f"table {name}"] = outcome(
            lambda text=text: _looked(past_strips.look(notebook, PastTableGiven(text=text)))
        )
        found[f"taken {name}"] = outcome(
            lambda text=text: past_strips.take_in(notebook, PastTableGiven(text=text), person="K.").sentence
        )
        clock.advance(60)
    for name, given in {
        "taken": {}, "taken again": {}, "changed": {"text": TABLE.replace("11:30", "12:30")}, "as another": {"text": TABLE.replace("11:30", "12:30"), "as_another": (2,)},
        "as a correction": {"text": TABLE.replace("12,5;2,5", "14;3"), "as_correction": (3,)}, "seen before": {"text": TABLE.replace("9;none;7", "9;none;8"), "seen": "x"},
    }.items():  # fmt: skip
        asked = PastTableGiven(**{"text": TABLE, **given})
        found[f"{name}, looked at"] = outcome(
            lambda asked=asked: [
                _looked(past_strips.look(notebook, asked))[0]["sentence"],
                [r.why for r in past_strips.look(notebook, asked).rows],
            ]
        )
        found[name] = outcome(
            lambda asked=asked: past_strips.take_in(notebook, asked, person="L.").document()["sentence"]
        )
        clock.advance(60)
    found["kept"] = [
        [film.thing.name, film.thing.box_speed, film.thing.base_density, {k: [c.low, c.high] for k, c in notebook.series(film.id).controls.items()},
         [[k.thing.number, k.thing.trial.id, k.thing.trial.person, k.thing.changed_by, k.thing.made_at, k.thing.trial.made_on, k.thing.trial.controls] for k in notebook.trials(film.id)]]
        for film in sorted(notebook.films(), key=lambda kept: kept.thing.name)
    ]  # fmt: skip
    return found


def recipes(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    found, mine = dict[str, Any](), bench.recipes
    one = recipe_of(evidence=Evidence(trials=3, best_trial="strip 1", probability_in_aim=0.7))
    other = recipe_of(
        "permanganate_fogging",
        name="Other",
        revision=2,
        controls={"first_developer_time_min": 9},
        aim=AIMS["scan"],
        exposure_index=None,
    )
    found["differ"] = [[d.where, d.first, d.second] for d in differences(one, other)]
    found["alike"] = differences(one, settled(one))
    shelf = [
        products()[key]
        for key in ("fixer_ats_60wv", "household_ammonia_5", "etchant_42be", "metabisulfite_sodium", "citric_anhydrous")
    ]
    theirs = with_products(one, tuple(products().values()), USUAL_TOOLS)
    found["with products"] = [
        [p.key for p in theirs.products],
        [p.key for p in with_products(one, shelf, USUAL_TOOLS).products],
    ]
    found["from my bottles"] = [
        [b.formula.key, b.sheet is not None, b.reason, b.unmatched]
        for b in from_my_bottles(theirs, 600.0, shelf, USUAL_TOOLS)
    ]
    for name, given in {
        "new": one, "again": one, "with products": theirs, "another revision": one.model_copy(update={"revision": 3, "exposure_index": 50.0}), "an older one": one.model_copy(update={"revision": 2, "exposure_index": 64.0}),
        "another name": one.model_copy(update={"name": "Grey base"}), "the same name": one.model_copy(update={"exposure_index": 99.0}), "from here": one.model_copy(update={"origin": bench.store.darkroom, "exposure_index": 25.0}),
        "from here, later": one.model_copy(update={"origin": bench.store.darkroom, "revision": 9}), "from elsewhere": one.model_copy(update={"origin": "0" * 16, "revision": 9}),
    }.items():  # fmt: skip
        found[f"taken {name}"] = mine.take_in(given).words
        clock.advance(60)
    found["words"] = [RecipeTaken("a", True).words, RecipeTaken("a", True, 2).words, RecipeTaken("a", False).words]
    mine.retire("grey-base")
    found["put aside"] = [
        mine.is_aside("grey-base"),
        mine.take_in(one.model_copy(update={"name": "Grey base"})).words,
        [kept.id for kept in mine.all()],
    ]
    found["found"] = [outcome(lambda n=n: find_recipe(mine, n).name) for n in ("grey-base", "no such")]
    document = one.model_dump(mode="json")
    document["formulas"][0]["components"][0]["substance"] = "moon_dust"
    found["refused"] = [
        outcome(lambda: read_recipe(document)),
        outcome(lambda: read_recipe_text("{")),
        outcome(lambda: read_recipe_text(" " * 1_000_001)),
        outcome(lambda: read_recipe_text(" " * 1_000_000)),
    ]
    found["travels"] = [p.key for p in mine.export("grey-base-2").products][:5]
    return found


def lent(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    found, lending, notebook = dict[str, Any](), bench.pool, bench.notebook
    found["called"] = [
        lending.call(" Attic ").name,
        outcome(lambda: lending.call("x" * 61)),
        lending.call("x" * 60).name[:3],
        outcome(lambda: lending.call("a\nb")),
        lending.call("Attic").name,
    ]
    film = notebook.add_film({"name": "Grey 100", "box_speed": 100, "base_density": 0.2, "note": "mine"}).id
    steps = [{"log_exposure": x, "density": d} for x, d in ((-1.0, 2.2), (0.0, 1.1), (1.0, 0.3))]
    for number, more in enumerate(
        ({"steps": steps, "person": "K."}, {"grades": [{"of": "blacks", "grade": "thin"}], "note": "hm"}, {})
    ):
        clock.advance(60)
        notebook.add_trial(
            film,
            {"controls": {"first_developer_time_min": 9.0 + number}, **more},
            picture="p" if number == 0 else "",
            reading="r" if number == 1 else "",
        )
    document = lending.lend([film, film])
    found["lent"] = [
        [
            f.film.name,
            f.film.note,
            [[s.trial.id, s.trial.person, s.trial.note, s.read_by, s.revision] for s in f.strips],
        ]
        for f in document.films
    ]
    found["with persons"] = [s.trial.person for s in lending.lend([film], persons=True).films[0].strips]
    found["one's own"] = [given.sentence for given in lending.take(document)]
    other = open_workbench(bench.home / "other", url="sqlite://", clock=clock)
    try:
        theirs = other.pool
        found["looked at"] = [[given.sentence, given.changes] for given in theirs.look(document)]
        found["taken"] = [given.sentence for given in theirs.take(document)]
        found["again"] = [[given.sentence, given.changes] for given in theirs.take(document)]
        changed = document.model_copy(update={"darkroom": document.darkroom.model_copy(update={"name": "Cellar"})})
        found["changed since sealed"] = [given.sentence for given in theirs.look(changed)]
        found["even so"] = [given.sentence for given in theirs.look(changed, even_so=True)]
        (page,) = theirs.pages()
        found["page"] = [
            page.thing.town,
            page.thing.seal,
            len(page.thing.counting),
            page.thing.model_copy(update={"darkroom": page.thing.darkroom.model_copy(update={"name": ""})}).town[:9],
        ]
        for text, speed, base in (
            ("grey", None, None),
            ("attic grey", None, None),
            ("cellar", None, None),
            ("", 125.0, None),
            ("", 130.0, None),
            ("", 80.0, None),
            ("", 75.0, None),
            ("", None, 0.25),
            ("", None, 0.26),
            ("", None, 0.14),
        ):
            found[f"sought {text} {speed} {base}"] = len(theirs.search(text, box_speed=speed, base_density=base))
        found["of this film"] = [[one.name, len(one.trials)] for one in theirs.lent_for(page.thing.film)]
        found["other films"] = [
            [len(series.trials) for series in theirs.other_films(f)]
            for f in (page.thing.film, page.thing.film.model_copy(update={"name": "Else"}))
        ]
        begun = pool.start_from(theirs, other.notebook, page.id)
        found["begun"] = [other.notebook.film(begun).thing, pool.start_from(theirs, other.notebook, page.id) == begun]
        mine = other.notebook.add_film({"name": "My grey", "box_speed": 100}).id
        fast = other.notebook.add_film({"name": "My fast", "box_speed": 400}).id
        found["called the same"] = [
            outcome(lambda: pool.call_the_same(theirs, other.notebook, page.id, fast)),
            pool.call_the_same(theirs, other.notebook, page.id, mine),
            other.notebook.film(mine).thing.same_as,
        ]
        theirs.put_aside(page.id)
        clock.advance(60)
        found["put aside"] = [
            len(theirs.pages()),
            len(theirs.pages(retired=True)),
            len(theirs.search("grey")),
            theirs.lent_for(page.thing.film),
        ]
        theirs.take_up(page.id)
        found["nothing disputed"] = [
            outcome(lambda: theirs.decide(page.id, "x", take_other=True)),
            outcome(theirs.put_prior_aside),
            theirs.adopted(),
            theirs.learned(),
        ]
        trial = notebook.trials(film)[0]
        notebook.change_trial(trial.id, {"steps": [*steps, {"log_exposure": 2.0, "density": 0.2}]})
        clock.advance(60)
        found["corrected"] = [given.sentence for given in theirs.take(lending.lend([film]))]
        found["no such strip"] = outcome(lambda: lending.take_back(film, ["strip 9"]))
        found["taken back"] = [
            len(lending.take_back(film, ["Strip 2"])),
            len(lending.lend([film]).films[0].strips),
            [given.sentence for given in theirs.take(lending.lend([film]))],
        ]
        clock.advance(60)
        found["all taken back"] = [
            len(lending.take_back(film)),
            [given.sentence for given in theirs.take(lending.lend([]))],
            len(theirs.pages()[0].thing.strips),
        ]
    finally:
        other.close()
    return found


def parts_of_the_demo(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    demo._fill_shelf(bench)
    notebook, locked = bench.notebook, list[Any]()

    def lock(film_id: str, trial_id: str, **how: Any) -> Any:
        locked.append([film_id, trial_id, how])
        return notebook.keep_recipe(recipe_of(name=how["name"]))

    notebook.lock_recipe = lock  # type: ignore[method-assign, assignment]
    demo._fill_other_films(bench)
    slides = bench.projector.slides
    return {
        "shelf": [[kept.id, kept.thing.package_price] for kept in bench.shelf.products()],
        "bottles": sorted([k.thing.name, k.thing.product, k.thing.formula, k.thing.amount, str(k.thing.filled_on), str(k.thing.opened_on)] for k in bench.shelf.bottles()),
        "tools": demo.TOOLS, "days": [demo.STORY_DAYS, demo.A_WEEK_S, demo.CONTROL_STRIPS], "locked": locked,
        "story": [[t.id, t.controls, t.note, [p.density for p in t.steps[::5]]] for t in demo.story_trials()],
        "film": demo.story_series_text()[:700],
        "others": [[f.thing, [[k.thing.trial.id, k.thing.trial.controls, k.thing.trial.grades, k.thing.trial.note, [p.density for p in k.thing.trial.steps[::9]]] for k in notebook.trials(f.id)]] for f in notebook.films()],
        "slides": [[s.thing.frame, s.thing.title, s.thing.keywords, s.thing.mounted, s.thing.place, s.thing.film] for s in slides.of_roll("B-1 (invented)")],
        "lists": [[one.thing.name, len(one.thing.slides)] for one in slides.lists()], "mark": [demo.MARK, demo.STORY_ROUTE in routes(), demo.MOST_ACTIONS],
    }  # fmt: skip


def projector(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    """Slides, lists, rolls and looks of one projector: what stands there, in which order, and what is refused."""
    found, place, notebook, slides = dict[str, Any](), bench.projector, bench.notebook, bench.projector.slides
    steps = [
        {"log_exposure": round(-1.5 + 0.25 * i, 2), "density": round(2.6 - 0.19 * i, 2), "density_sd": 0.02}
        for i in range(13)
    ]
    film = notebook.add_film(
        {"name": "a 100-speed grey-base film", "box_speed": 100, "base_density": 0.25, "base_tint": "grey"}
    ).id
    recipe = notebook.keep_recipe(recipe_of()).id
    bare = notebook.keep_recipe(recipe_of(name="Bare", curve=())).id
    trials = []
    for number, more in enumerate(
        (
            {},
            {"steps": steps},
            {"steps": [{**one, "log_exposure": one["log_exposure"] + 0.1} for one in steps]},
            {"steps": steps[:2]},
        )
    ):
        clock.advance(60)
        controls = {"first_developer_time_min": 11, "solvent_ml_per_l": 12, "alkali_ml_per_l": 4}
        trials.append(
            notebook.add_trial(
                film, {"controls": controls, "id": f"strip {number}", **more}, recipe=recipe if number < 2 else ""
            ).id
        )
    named = {f"trial:{trial}": f"trial {number}" for number, trial in enumerate(trials)} | {f"film:{film}": "the film"}
    found["sources"] = [[named.get(one["id"], one["id"]), one["group"], one["name"]] for one in place.sources()]
    for name, source in (
        ("recipe", f"recipe:{recipe}"),
        ("bare", f"recipe:{bare}"),
        ("read", f"trial:{trials[1]}"),
        ("too few", f"trial:{trials[3]}"),
        ("unread", f"trial:{trials[0]}"),
        ("none", "x"),
        ("no id", "film:"),
        ("example", "example"),
    ):
        told = outcome(lambda source=source: place.curve(source).document())
        if isinstance(told, dict):
            curve = place.curve(source)
            told = {
                **told,
                "id": "",
                "strips": [curve.own_strips, curve.strip_log_exposure_sd],
                "at": curve.at([-1.0, 0.0, 1.0]).tolist(),
                "sd": curve.sd_at([-1.0, 0.0, 1.0]).tolist(),
                "same": place.curve(source) is curve or source == "example",
            }
        found[f"curve {name}"] = told
    notebook.retire_trial(trials[1])
    found["put aside"] = outcome(lambda: place.curve(f"trial:{trials[1]}").name)
    screen = Screen(
        flux_lm=650,
        width_m=1.6,
        stray=0.003,
        callier=1.25,
        callier_sd=0.05,
        stray_sd=0.001,
        corner_light=0.6,
        seen_on=EVENING.date(),
    )
    found["kept"] = [place.screen_revision(), place.screen(), place.keep_screen(screen), place.screen_revision()]
    bare_screen = screen.model_dump(exclude={"callier_sd", "stray_sd", "seen_on", "corner_light"})
    for name, changes in {
        "shown again": {},
        "another stray light": {"stray": 0.004},
        "both": {"stray": 0.004, "callier": 1.3},
        "hardly": {"stray": 0.003 * 1.000009},
        "no corners": {"corner_light": None},
    }.items():
        place.keep_screen(screen)
        place.keep_screen(Screen(**{**bare_screen, **changes}))
        kept = place.screen()
        found[f"kept {name}"] = [kept.callier_sd, kept.stray_sd, str(kept.seen_on), kept.corner_light]
    shown = [Shown(source="example"), Shown(source=f"recipe:{recipe}", zone=6.0, exposure_index=64.0)]
    for count in (0, 3):
        found[f"{count} slides"] = outcome(
            lambda count=count: place.look_document((shown * 2)[:count], screen, Viewing())
        )
    document = place.look_document(shown, screen, Viewing(white="gate"))
    one = document["slides"][1]  # type: ignore[index]
    found["looked at"] = [
        one["exposure_index_set"],
        one["name"],
        one["rings"]["ring_light"][::9],
        {k: v[::40] if isinstance(v, list) else v for k, v in one["readout"].items()},
        {k: v[::4] for k, v in one["scale"].items()},
        len(one["grey"]),
    ]
    found["no rings"] = place.look_document(shown[:1], screen.model_copy(update={"corner_light": None}), Viewing())[
        "slides"
    ][0]["rings"]  # type: ignore[index]
    found["aims"] = [
        [told["aim"]["midtone_density"], told["setting"]]
        for told in (
            place.aim(screen),
            place.aim(screen, source="example"),
            place.aim(screen, source=f"recipe:{recipe}", shown_on="screen"),
            place.aim(screen, base_density=0.3, against="scan"),
        )
    ]  # type: ignore[index]
    found["cards"] = [
        [card.dial, card.exposure_index.value, card.known]
        for card in (
            place.card(f"recipe:{recipe}"),
            place.card("example", screen),
            place.card(f"recipe:{recipe}", exposure_index=25.0, p=None),
        )
    ]
    found["lamps"] = [
        place.lamps(),
        place.assumptions(),
        place.reexposure(flux_lm=600.0, distance_m=0.5, seconds_a_side=30.0),
    ]
    found["rolls"] = [
        outcome(lambda n=n: [one.thing.frame for one in slides.add_roll("R", n, recipe=recipe)])
        for n in (0, 1, 3, 40, 41)
    ] + [outcome(lambda: slides.add_roll("Q", 2, recipe="x"))]
    frames = slides.of_roll("R")
    for number, changes in enumerate(
        (
            {"mount": "glass", "mounted": True, "title": "Sea, wide", "thickness_mm": 3.5},
            {"mount": "no glass", "thickness_mm": 0.9},
            {"mounted": True, "thickness_mm": 1.5, "keywords": ["sea", "night"]},
            {"recipe": "x"},
        )
    ):
        found[f"changed {number}"] = outcome(lambda n=number, c=changes: slides.change(frames[n].id, c).revision)
    for words in ("sea", "SEA wide", "sea night", "7", "nothing"):
        found[f"slides of {words}"] = [one.thing.frame for one in slides.all(words)][:8]
    ids = [one.id for one in frames[:4]]
    show = slides.keep_list({"name": "Evening", "slides": ids}).id
    slides.keep_list({"projectors": 2, "tray_slots": 2}, id=show)
    slides.keep_list({"name": "Twice"})
    slides.keep_list({"name": "Twice"})
    slides.retire(frames[3].id)
    told_show = slides.show(show)
    found["show"] = [
        told_show.trays,
        told_show.remarks,
        [[t.number, t.projector, t.tray, t.slot, t.slide.frame] for t in told_show.turns],
        [s.thing.frame for s in slides.shown(show)[1]],
    ]
    found["remarks of none"] = slides.show(slides.keep_list({"name": "Bound", "slides": [frames[2].id]}).id).remarks
    found["lists called"] = [outcome(lambda n=n: slides.list_named(n).thing.name) for n in ("Evening", show)] + [
        outcome(lambda n=n: slides.list_named(n).thing.name).partition(";")[0] for n in ("Twice", "None")
    ]
    found["no such slide"] = [
        outcome(lambda: slides.keep_list({"name": "x", "slides": ["y"]})),
        outcome(lambda: slides.of_roll("none")),
    ]
    rolls = bench.rolls
    found["a roll"] = [
        [seen.why_not, len(seen.waiting), len(seen.noted), bool(seen.film), seen.trial] for seen in [rolls.seen("R")]
    ]
    found["too early"] = outcome(lambda: rolls.into_notebook("R"))
    for number, (zone, density) in enumerate(((3, 2.0), (5, 1.2), (7, 0.5))):
        rolls.note(
            frames[number + 4].id, {"zone": zone, "density": density, "exposure_index": 64 if number == 1 else None}
        )
    seen = rolls.seen("R")
    found["noted"] = [
        [[n.frame, n.log_exposure, n.density] for n in seen.noted],
        seen.seen and seen.seen.words,
        seen.why_not,
    ]
    clock.advance(60)
    kept = rolls.into_notebook("R").thing
    found["in the notebook"] = [
        kept.trial.id,
        kept.trial.controls,
        kept.trial.exposed,
        [[p.log_exposure, p.density] for p in kept.trial.steps],
        kept.recipe == recipe,
        rolls.seen("R").trial != "",
        rolls.into_notebook("R").thing.number == kept.number,
    ]
    slides.add_roll("S", 2, film="nothing known")
    found["a roll of nothing"] = [rolls.seen("S").why_not, outcome(lambda: rolls.into_notebook("S"))]
    return found


@pytest.mark.parametrize(
    "telling", [past, recipes, lent, parts_of_the_demo, projector], ids=lambda telling: telling.__name__
)
def test_what_is_told_of_what_travels_is_what_was_read(telling, tmp_path):
    clock = FixedClock(EVENING)
    bench = open_workbench(tmp_path, url="sqlite://", clock=clock)
    try:
        # A fitted curve is not the same to the digit on every processor.
        assert not told_as_kept(
            f"tables_{telling.__name__}", telling(bench, clock), nearly=0.01 if telling is projector else 0.0
        )
    finally:
        bench.close()
