"""The invented teaching darkroom: films, products, strips and an evening that nobody ever lived.

The strips come from the simulator of `obverse.model`; its truth is invented and documented there.
Every name says that it is invented.
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from obverse.clock import FixedClock, SystemClock
from obverse.densitometry import short
from obverse.foundation import InputError, JsonObject
from obverse.model import SimulatedFilm, demo_film, simulate_film, simulate_trial
from obverse.process import CONTROLS, Patch, Series, SeriesFilm, Trial
from obverse.store import file_address
from obverse.store.records import DemoMark
from obverse.workbench.bootstrap import NOTEBOOK, Workbench, open_workbench
from obverse.workbench.strip_files import ReadAsked

MARK = "teaching-darkroom"
STORY_ROUTE = "iron_ammonia_light"
A_WEEK_S = 7 * 24 * 3600.0
# Far more than an evening has; only a guard against a run that would not end.
MOST_ACTIONS = 400
STORY_FILM = "teaching-film-a"

# What stands there, and an invented price of the package, so that a cost of a roll can be shown.
PRODUCTS: dict[str, float] = {
    "paper_developer_concentrate": 14.0,
    "fixer_ats_60wv": 12.0,
    "household_ammonia_5": 2.5,
    "etchant_40ww": 9.0,
    "citric_monohydrate": 6.0,
    "metabisulfite_sodium": 5.0,
    "sulfite_anhydrous": 7.0,
    "soda_ash": 3.0,
    "vitamin_c": 8.0,
    "dithionite_85": 11.0,
    "permanganate_crystals": 10.0,
    "battery_acid_37": 6.0,
    "peroxide_12": 4.0,
    "vinegar_essence_25": 3.0,
    "wetting_agent": 9.0,
}

TOOLS: tuple[JsonObject, ...] = (
    {"key": "syringe_20", "name": "syringe, 20 mL by 0.5 mL", "kind": "syringe", "graduation": 0.5, "capacity": 20},
    {
        "key": "cylinder_100",
        "name": "measuring cylinder, 100 mL by 1 mL",
        "kind": "cylinder",
        "graduation": 1,
        "capacity": 100,
    },
    {
        "key": "cylinder_500",
        "name": "measuring cylinder, 500 mL by 5 mL",
        "kind": "cylinder",
        "graduation": 5,
        "capacity": 500,
    },
    {"key": "balance", "name": "kitchen balance by 0.1 g", "kind": "balance", "graduation": 0.1, "capacity": 500},
    {"key": "tank_500", "name": "daylight tank for one film", "kind": "tank", "volume_ml": 500, "films": 1},
    {"key": "panel", "name": "light panel of the teaching darkroom (invented)", "kind": "light_panel"},
)

# Six evenings with one film, as somebody who changes one thing at a time would do it.
STORY_STRIPS: tuple[tuple[dict[str, float], str], ...] = (
    (
        {"first_developer_time_min": 10, "solvent_ml_per_l": 5, "alkali_ml_per_l": 0},
        "first try: dark, highlights murky",
    ),
    (
        {"first_developer_time_min": 10, "solvent_ml_per_l": 10, "alkali_ml_per_l": 0},
        "twice the solvent: a little clearer",
    ),
    (
        {"first_developer_time_min": 10, "solvent_ml_per_l": 10, "alkali_ml_per_l": 5},
        "some ammonia: a great step, still dark",
    ),
    (
        {"first_developer_time_min": 14, "solvent_ml_per_l": 25, "alkali_ml_per_l": 10},
        "everything at once: clear, but the blacks are thin",
    ),
    (
        {"first_developer_time_min": 8, "solvent_ml_per_l": 20, "alkali_ml_per_l": 5},
        "short with much solvent: murky again",
    ),
    (
        {"first_developer_time_min": 10, "solvent_ml_per_l": 5, "alkali_ml_per_l": 10},
        "little solvent, more ammonia: close",
    ),
)

# The story began so long ago that its last evening was two days ago.
STORY_DAYS = 7 * len(STORY_STRIPS) + 2

SECOND_FILM, SECOND_FILM_SEED = "teaching-film-b", 11
CAMERA_FILM, CAMERA_FILM_SEED = "teaching-film-d", 23
# Strips of the locked recipe over the months, for its control chart, and a first roll made by it.
CONTROL_STRIPS = 8
SLIDE_TITLES = ("Window, north light", "Three spheres", "Stairs", "Wet street", "Her hands", "Snow, late")
SECOND_STRIPS: tuple[dict[str, float], ...] = (
    {"first_developer_time_min": 10, "solvent_ml_per_l": 10, "alkali_ml_per_l": 5},
    {"first_developer_time_min": 12, "solvent_ml_per_l": 15, "alkali_ml_per_l": 5},
)


def make_the_demo(home: Path) -> tuple[Workbench, str]:
    """Live the weeks of the demo up to tonight in that folder; returns the workbench and the id of the film to show."""
    # The folder's own file, whatever database a club's settings name.
    url = file_address(home / NOTEBOOK)
    tonight = SystemClock().now().replace(hour=18, minute=30, second=0, microsecond=0)
    then = FixedClock(tonight - timedelta(days=STORY_DAYS))
    past = open_workbench(home, url=url, clock=then)
    try:
        film = fill_with_the_demo(past, then)
    finally:
        past.close()
    return open_workbench(home, url=url), film


def fill_with_the_demo(workbench: Workbench, clock: FixedClock) -> str:
    """Fill an empty home with the teaching darkroom; returns the id of the film its story is about.

    A home that was filled before is left as it is.

    Parameters
    ----------
    workbench : Workbench
        Opened with `clock`.
    clock : FixedClock
        Stands at the day on which the story begins; it is moved from evening to evening, so that
        everything bears the date at which it would have been written down.

    Raises
    ------
    InputError
        If the home holds something else: nobody's own notebook is mixed with invented things.
    """
    store = workbench.store
    if store.demo_marks.find(MARK) is not None:
        return STORY_FILM
    if any(store.ids(kind) for kind in ("film", "product", "run", "recipe", "trial")):
        raise InputError(
            "this home holds a notebook that is not the demo's",
            where=str(workbench.home),
            remedy="name an empty folder with --home",
        )
    # Wholly or not at all: a home that was left half filled would be taken for somebody's own.
    with store.transaction():
        _fill_shelf(workbench)
        _fill_other_films(workbench)
        _read_a_strip_with_the_camera(workbench)
        _fill_story_film(workbench, clock)
        store.demo_marks.put(DemoMark(), id=MARK, expected_revision=0)
    return STORY_FILM


def _fill_shelf(workbench: Workbench) -> None:
    shelf = workbench.shelf
    for key, price in PRODUCTS.items():
        shelf.add_generic(key)
        shelf.change_product(key, {**shelf.product(key).thing.model_dump(mode="json"), "package_price": price})
    for tool in TOOLS:
        shelf.add_tool(tool)
    today = workbench.clock.now().date()
    shelf.add_bottle(
        {
            "name": "Fixer, opened",
            "product": "fixer_ats_60wv",
            "amount": 700,
            "filled_on": str(today - timedelta(days=90)),
            "opened_on": str(today - timedelta(days=40)),
        }
    )
    shelf.add_bottle(
        {
            "name": "Bleach, working bath",
            "formula": "bleach_iron_chloride",
            "amount": 500,
            "filled_on": str(today - timedelta(days=30)),
        }
    )


def story_trials() -> list[Trial]:
    """The six strips, made by the simulator with fixed seeds."""
    film = demo_film()
    return [
        simulate_trial(film, controls, id=f"strip {place}", seed=100 + place).model_copy(
            update={"note": f"{note} (invented)"}
        )
        for place, (controls, note) in enumerate(STORY_STRIPS, 1)
    ]


def story_series_text() -> str:
    """The series document of the story, as JSON text."""
    film = demo_film()
    series = Series(
        format="obverse-series",
        version=1,
        film=SeriesFilm(name=film.name, box_speed=film.box_speed, base_density=round(film.base_density, 3)),
        controls={name: CONTROLS[name].range for name in STORY_STRIPS[0][0]},
        trials=tuple(story_trials()),
    )
    return series.model_dump_json(indent=1, exclude_defaults=True) + "\n"


def _begin_film(workbench: Workbench, film: SimulatedFilm, film_id: str, *, tint: str, note: str) -> None:
    """The page of an invented film."""
    stock = {
        "name": film.name,
        "box_speed": film.box_speed,
        "base_density": round(film.base_density, 3),
        "base_tint": tint,
        "note": note,
    }
    workbench.notebook.add_film(stock, aim="projection", film_id=film_id)


def _fill_story_film(workbench: Workbench, clock: FixedClock) -> None:
    notebook = workbench.notebook
    note = "Invented for teaching; no film of this name was ever made. Its truth is written in obverse.model.simulate."
    _begin_film(workbench, demo_film(), STORY_FILM, tint="grey", note=note)
    for trial in story_trials():
        clock.advance(A_WEEK_S)
        last = trial.id == f"strip {len(STORY_STRIPS)}"
        run = _live_an_evening(workbench, clock, trial) if last else ""
        notebook.add_trial(STORY_FILM, trial.model_dump(mode="json"), run=run)


def _live_an_evening(workbench: Workbench, clock: FixedClock, trial: Trial) -> str:
    """One whole evening at the sink, every action acknowledged as it falls due; returns the run's id."""
    sink = workbench.sink
    strip = {"name": f"Teaching film A, {trial.id}", "controls": trial.controls}
    run = sink.begin(
        {
            "route": STORY_ROUTE,
            "name": f"{trial.id.capitalize()} of teaching film A (invented)",
            "tank_ml": 500,
            "temperature_c": 20,
            "strips": [strip],
        }
    )
    sink.record(run, "start", {"kind": "started"})
    for number in range(MOST_ACTIONS):
        look = sink.look(run)
        action, now_s, due_s = look.view.action, look.view.now_s, look.view.state.due_s
        if look.view.status != "running" or action is None:
            break
        if look.view.phase == "ready":
            kind = "poured"
            clock.advance(10)
        else:
            kind = "acknowledged"
            clock.advance(max((now_s + 20 if due_s is None else due_s) - now_s, 5) + 2)
        sink.record(run, f"event-{number}", {"kind": kind, "action": action.key})
    return run


def _fill_other_films(workbench: Workbench) -> None:
    notebook = workbench.notebook
    second = simulate_film(
        SECOND_FILM_SEED, name="Teaching film B (invented), 400-speed, clear base", box_speed=400, spread=0.4
    )
    _begin_film(workbench, second, SECOND_FILM, tint="clear", note="Invented for teaching.")
    for place, controls in enumerate(SECOND_STRIPS, 1):
        trial = simulate_trial(second, controls, id=f"strip {place}", seed=200 + place)
        notebook.add_trial(SECOND_FILM, trial.model_dump(mode="json"))
    recipe = notebook.lock_recipe(
        SECOND_FILM,
        f"strip {len(SECOND_STRIPS)}",
        name="Teaching recipe B (invented)",
        route_key=STORY_ROUTE,
        note="Locked from an invented strip, to show what a recipe is.",
        exposure_index=400,
        anyway=True,
    )
    for place in range(1, CONTROL_STRIPS + 1):
        strip = simulate_trial(second, SECOND_STRIPS[-1], id=f"control {place}", seed=300 + place)
        notebook.add_trial(SECOND_FILM, strip.model_dump(mode="json"), recipe=recipe.id)
    _fill_slides(workbench, recipe.id, second.name)
    third = notebook.add_film(
        {
            "name": "Teaching film C (invented), 50-speed",
            "box_speed": 50,
            "note": "Invented for teaching; judged by eye only, as on a first evening.",
        },
        aim="light_table",
        film_id="teaching-film-c",
    )
    notebook.add_trial(
        third.id,
        {
            "id": "strip 1",
            "controls": {"first_developer_time_min": 9, "solvent_ml_per_l": 8, "alkali_ml_per_l": 5},
            "grades": [{"of": "highlights", "grade": "slightly_murky"}, {"of": "blacks", "grade": "deep"}],
            "note": "graded by eye against the window (invented)",
        },
    )


def _read_a_strip_with_the_camera(workbench: Workbench) -> None:
    """A fourth film: its one strip is drawn as three pictures, and read as a camera's pictures are."""
    film = simulate_film(
        CAMERA_FILM_SEED, name="Teaching film D (invented), 125-speed, grey base", box_speed=125, spread=0.4
    )
    made = simulate_trial(film, SECOND_STRIPS[0], id="strip 1", seed=400)
    camera = workbench.camera
    pictures = [one.id for one in camera.add_simulated(CAMERA_FILM_SEED, [step.density for step in made.steps])]
    read = camera.read(pictures, ReadAsked(len(made.steps))).reading
    steps = tuple(
        Patch(
            log_exposure=step.log_exposure,
            density=short(seen.density.value),
            density_sd=short(seen.density.sd),
            stain_index=None if seen.stain_index is None else short(seen.stain_index),
        )
        for step, seen in zip(made.steps, read.patches, strict=True)
        if not seen.clipped
    )
    reading = workbench.light_table.keep_reading(
        steps, name="Strip 1 of teaching film D (simulated)", source="picture", picture=pictures[0]
    )
    _begin_film(
        workbench,
        film,
        CAMERA_FILM,
        tint="grey",
        note="Invented for teaching; its strip was read from simulated pictures.",
    )
    workbench.notebook.add_trial(
        CAMERA_FILM,
        {
            **made.model_dump(mode="json"),
            "steps": [step.model_dump(mode="json") for step in steps],
            "note": "read with the camera from simulated pictures (invented)",
        },
        reading=reading.id,
        picture=pictures[0],
    )


def _fill_slides(workbench: Workbench, recipe_id: str, film_name: str) -> None:
    slides = workbench.projector.slides
    kept = slides.add_roll("B-1 (invented)", len(SLIDE_TITLES), recipe=recipe_id, film=film_name)
    for slide, title in zip(kept, SLIDE_TITLES, strict=True):
        slides.change(
            slide.id, {"title": title, "keywords": ("invented", "first roll"), "mounted": True, "place": "box 1"}
        )
    slides.keep_list({"name": "Open evening (invented)", "slides": tuple(slide.id for slide in kept[:4])})
