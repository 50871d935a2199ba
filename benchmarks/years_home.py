"""A home after a year: 20 films, 200 strips, 60 recipes, 40 bottles, all invented; and how long its pages take.

Run: python benchmarks/years_home.py FOLDER fills an empty folder and measures; with a folder that is filled it only
measures. Look at it with obverse serve --home FOLDER. Seconds by the clock, and of the processor beside them (a busy machine stretches the first), second call.
"""

from __future__ import annotations

import random
import sys
import time
from datetime import date, timedelta
from pathlib import Path

from fastapi.testclient import TestClient

from obverse.process import AIMS, FilmStock, Recipe
from obverse.process.catalog import formulas, products, routes
from obverse.web.app import create_app
from obverse.workbench.bootstrap import Workbench, open_workbench

FILMS, STRIPS, RECIPES, BOTTLES = 20, 200, 60, 40
BASES = ("clear", "grey")
SPEEDS = (25, 50, 100, 200, 400)
GRADES = {
    "highlights": ("clear", "slightly_murky", "murky"),
    "blacks": ("deep", "slightly_thin", "thin"),
    "midtones": ("light", "right", "dark"),
}
NOTES = (
    "",
    "",
    "tap water this time",
    "the developer was a week old",
    "thermometer drifted",
    "second roll of the evening",
)
# Seconds above which a page is too slow to work with.
SLOW_S = 1.0


def fill(workbench: Workbench, seed: int = 1) -> None:
    """Write the invented year."""
    drawn = random.Random(seed)
    films = [
        workbench.notebook.add_film(
            {
                "name": f"a {drawn.choice(SPEEDS)}-speed {drawn.choice(BASES)}-base film, batch {number + 1}",
                "box_speed": drawn.choice(SPEEDS),
                "base_density": round(drawn.uniform(0.05, 0.35), 2),
            }
        )
        for number in range(FILMS)
    ]
    for number in range(STRIPS):
        read = drawn.random() < 0.5
        dmax, speed = drawn.uniform(1.2, 2.6), drawn.uniform(-0.4, 0.4)
        steps = [
            {
                "log_exposure": round(-1.5 + 0.3 * step, 2),
                "density": round(0.1 + dmax / (1 + 10 ** (2 * (-1.5 + 0.3 * step - speed))), 3),
            }
            for step in range(11)
        ]
        workbench.notebook.add_trial(
            drawn.choice(films).id,
            {
                "controls": {
                    "first_developer_time_min": drawn.randint(6, 16),
                    "solvent_ml_per_l": drawn.randint(1, 12),
                    "alkali_ml_per_l": drawn.randint(0, 10),
                },
                "steps": steps if read else [],
                "grades": [{"of": of, "grade": drawn.choice(words)} for of, words in GRADES.items()],
                "made_on": str(date(2030, 1, 1) + timedelta(days=number)),
                "note": drawn.choice(NOTES),
            },
        )
    for number in range(RECIPES):
        route = drawn.choice(list(routes().values()))
        film = drawn.choice(films).thing
        needed = dict.fromkeys(step.formula for step in route.steps if step.formula)
        workbench.notebook.keep_recipe(
            Recipe(
                name=f"{film.name}, evening {number + 1}",
                origin=workbench.store.darkroom,
                film=FilmStock.model_validate(film.model_dump()),
                exposure_index=film.box_speed,
                controls={"first_developer_time_min": drawn.randint(6, 16)},
                route=route,
                formulas=tuple(formulas()[key] for key in needed),
                aim=AIMS["projection"],
            )
        )
    for key in products():
        workbench.shelf.add_generic(key)
    keys = list(products())
    for number in range(BOTTLES):
        filled = date(2030, 1, 1) + timedelta(days=drawn.randint(0, 360))
        workbench.shelf.add_bottle(
            {
                "name": f"bottle {number + 1}, {products()[drawn.choice(keys)].name[:60]}",
                "product": drawn.choice(keys),
                "amount": drawn.randint(0, 1000),
                "filled_on": str(filled),
                "expires_on": str(filled + timedelta(days=drawn.randint(60, 700))) if drawn.random() < 0.7 else None,
            }
        )
    workbench.processes.begin("My way in the bathroom", source="iron_ammonia_fogging")


def pages_of_home(workbench: Workbench) -> list[str]:
    """The pages that hold long lists, and one of each kind of thing."""
    film = max(workbench.notebook.films(), key=lambda kept: len(workbench.notebook.trials(kept.id))).id
    recipe = workbench.recipes.all()[0].id
    return [
        "/",
        "/shelf",
        "/shelf?find=acid&sort=what+expires+first",
        "/notebook",
        "/notebook?sort=name",
        "/notebook/strips",
        "/notebook/strips?find=murky+tap",
        "/sink/all",
        f"/notebook/{film}",
        "/notebook/recipes",
        "/notebook/recipes?find=grey&sort=film",
        f"/notebook/recipes/{recipe}",
        "/bench",
        "/sink",
        "/light-table",
        "/projector",
    ]


def main() -> None:
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    workbench = open_workbench(folder)
    if not workbench.notebook.films():
        fill(workbench)
    print(f"{'page':48} {'status':>6} {'s':>7} {'cpu s':>7} {'kB':>6}")
    with TestClient(create_app(workbench, hosts=("testserver",), token="t")) as client:
        for path in pages_of_home(workbench):
            client.get(path)
            start, worked = time.perf_counter(), time.process_time()
            answer = client.get(path)
            took, worked = time.perf_counter() - start, time.process_time() - worked
            mark = "  slow" if worked > SLOW_S else ""
            print(
                f"{path[:48]:48} {answer.status_code:6} {took:7.2f} {worked:7.2f} {len(answer.content) / 1000:6.0f}{mark}"
            )
    workbench.close()


if __name__ == "__main__":
    main()
