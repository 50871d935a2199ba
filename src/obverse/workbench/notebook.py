"""The notebook: films, their trials, what was learned, what to try next, recipes that are locked."""

from __future__ import annotations

import contextlib
import json
from collections import OrderedDict
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from obverse.clock import Clock
from obverse.foundation import ConflictError, InputError, NotFoundError, read_document
from obverse.inference import FilmFit, fit_film, next_strips
from obverse.process import (
    CONTROLS,
    Aim,
    Evidence,
    FilmStock,
    Recipe,
    Series,
    SeriesFilm,
    Trial,
    read_series,
)
from obverse.store import Kept, Store
from obverse.workbench import story, words
from obverse.workbench.light_table import LightTable, colour_of_patches, faults_of, film_from_others
from obverse.workbench.place import Place

# Fits of films kept at hand: one for each state of a film's trials that the person looks at.
MOST_FITS = 40
# Films whose fits make a new one wiser; more would add little and cost time at the first look.
MOST_OTHER_FILMS = 5
# Seconds for which a fit is used again without looking whether another program wrote into the book.
AT_HAND_S = 2.0


class Notebook(Place):
    """Films and their trials over the store.

    Parameters
    ----------
    store, clock, home
        As every place has them.
    light_table : LightTable
        Where strips are read.
    """

    def __init__(self, store: Store, clock: Clock, home: Path | None, light_table: LightTable):
        super().__init__(store, clock, home)
        self._table = light_table
        self._fits: OrderedDict[str, Any] = OrderedDict()
        self._at_hand: dict[str, tuple[datetime, FilmFit]] = {}

    # Films

    def films(self) -> list[Kept]:
        """All films in use, oldest first."""
        return self._store.list("film")

    def film(self, film_id: str) -> Kept:
        """One film."""
        return self._store.get("film", film_id)

    def add_film(
        self,
        stock: Mapping[str, Any],
        *,
        controls: Mapping[str, Any] | None = None,
        aim: str | Mapping[str, Any] = "projection",
        film_id: str | None = None,
    ) -> Kept:
        """Begin the pages of a film.

        Parameters
        ----------
        stock : mapping
            A `FilmStock` document.
        controls : mapping, optional
            What may be varied; time, solvent and alkali where absent.
        aim : str or mapping
            Name of an aim or its windows.
        """
        film = read_document(FilmStock, dict(stock), where="film")
        if any(kept.body["name"] == film.name for kept in self.films()):
            raise ConflictError(
                f"a film called {film.name!r} stands in the notebook already",
                where="name",
                remedy="choose another name",
            )
        chosen = controls or {name: limits.model_dump() for name, limits in CONTROLS.first_ranges().items()}
        checked = self._checked_series(film, chosen, aim, [])
        kept = self._store.put("film", film.model_dump(mode="json"), id=film_id)
        self._put_plan(kept.id, checked)
        return kept

    def change_film(self, film_id: str, stock: Mapping[str, Any], *, expected_revision: int | None = None) -> Kept:
        """Correct what is said of a film."""
        film = read_document(FilmStock, dict(stock), where="film")
        self._at_hand.clear()
        return self._store.put("film", film.model_dump(mode="json"), id=film_id, expected_revision=expected_revision)

    def plan(self, film_id: str, changes: Mapping[str, Any]) -> Series:
        """Change the aim or the controls of a film; returns its series."""
        unknown = set(changes) - {"aim", "controls"}
        if unknown:
            raise InputError(
                f"{sorted(unknown)[0]!r} is no part of a plan", where="plan", remedy="give aim or controls"
            )
        series = self.series(film_id)
        document = {**series.model_dump(mode="json"), **changes}
        changed = read_series(document, where="plan")
        self._put_plan(film_id, changed)
        return changed

    def _put_plan(self, film_id: str, series: Series) -> None:
        body = {
            "what": "series",
            "film": film_id,
            "controls": {name: control.model_dump() for name, control in series.controls.items()},
            "aim": series.aim.model_dump(mode="json"),
        }
        self._at_hand.clear()
        self._store.put("setting", body, id=f"series.{film_id}")

    def _checked_series(self, film: FilmStock, controls, aim, trials) -> Series:
        return read_series(
            {
                "format": "obverse-series",
                "version": 1,
                "film": SeriesFilm(
                    name=film.name, box_speed=film.box_speed, base_density=film.base_density
                ).model_dump(),
                "controls": dict(controls),
                "aim": aim if isinstance(aim, str) else dict(aim),
                "trials": trials,
            },
            where=film.name,
        )

    # Trials

    def trials(self, film_id: str) -> list[Kept]:
        """The trials of a film, in the order they were written down."""
        return sorted(self._store.list("trial", film=film_id), key=lambda kept: kept.body.get("number", 0))

    def trial(self, trial_id: str) -> Kept:
        """One trial."""
        return self._store.get("trial", trial_id)

    def add_trial(
        self,
        film_id: str,
        trial: Mapping[str, Any],
        *,
        run: str = "",
        picture: str = "",
        reading: str = "",
        recipe: str = "",
        made_at: str = "",
    ) -> Kept:
        """Write a trial into the book.

        Parameters
        ----------
        trial : mapping
            A `Trial` document; without `id` it becomes the next strip by number.
        run, picture, reading : str
            Ids of what it came from.
        recipe : str
            Id of the locked recipe this strip controls.
        """
        self.film(film_id)
        every = self._store.list("trial", retired=True, film=film_id)
        known = {kept.body["trial"]["id"] for kept in every}
        document = dict(trial)
        if not document.get("id"):
            document["id"] = _next_name(known)
        checked = read_document(Trial, document, where="trial")
        if checked.id in known:
            raise ConflictError(
                f"a trial called {checked.id!r} stands on this film's page already",
                where="id",
                remedy="choose another name",
            )
        body = {
            "film": film_id,
            "number": 1 + max((kept.body.get("number", 0) for kept in every), default=0),
            "trial": checked.model_dump(mode="json"),
            "run": run,
            "picture": picture,
            "reading": reading,
            "recipe": recipe,
            "made_at": made_at or self._clock.now().isoformat(timespec="seconds"),
        }
        self._at_hand.clear()
        return self._store.put("trial", body)

    def change_trial(self, trial_id: str, changes: Mapping[str, Any], *, expected_revision: int | None = None) -> Kept:
        """Change parts of a trial: controls, steps, grades, faults, note."""
        kept = self.trial(trial_id)
        links = {name: changes[name] for name in ("run", "picture", "reading", "recipe") if name in changes}
        parts = {name: value for name, value in changes.items() if name not in links}
        checked = read_document(Trial, {**kept.body["trial"], **parts}, where="trial")
        body = {**kept.body, **links, "trial": checked.model_dump(mode="json")}
        self._at_hand.clear()
        return self._store.put("trial", body, id=trial_id, expected_revision=expected_revision)

    def retired_trials(self, film_id: str) -> list[Kept]:
        """Trials that were put aside."""
        return [kept for kept in self._store.list("trial", retired=True, film=film_id) if kept.retired_at is not None]

    def retire_trial(self, trial_id: str) -> Kept:
        """Put a trial aside; nothing is deleted."""
        self._at_hand.clear()
        return self._store.retire("trial", trial_id)

    def restore_trial(self, trial_id: str) -> Kept:
        """Take a trial back."""
        self._at_hand.clear()
        return self._store.restore("trial", trial_id)

    # Series

    def series(self, film_id: str) -> Series:
        """The series document of a film: its plan and its trials."""
        film = read_document(FilmStock, self.film(film_id).body, where="film")
        try:
            plan = self._store.get("setting", f"series.{film_id}").body
        except NotFoundError:
            plan = {
                "controls": {name: limits.model_dump() for name, limits in CONTROLS.first_ranges().items()},
                "aim": "projection",
            }
        return self._checked_series(
            film, plan["controls"], plan["aim"], [kept.body["trial"] for kept in self.trials(film_id)]
        )

    def import_series(self, document: Any, *, where: str = "series") -> Kept:
        """Take in a series document as a new film with its trials."""
        series = read_series(document, where=where)
        film = FilmStock(**series.film.model_dump())
        kept = self.add_film(
            film.model_dump(mode="json"),
            controls={name: control.model_dump() for name, control in series.controls.items()},
            aim=series.aim.model_dump(mode="json"),
        )
        for trial in series.trials:
            self.add_trial(kept.id, trial.model_dump(mode="json"))
        return kept

    # What was learned

    def fit(self, film_id: str):
        """What the trials taught of this film, wiser by the other films; the same trials are learned from once."""
        return self._fit(self.series(film_id), self._known_films(film_id))

    def _fit(self, series: Series, others: list[FilmFit]) -> FilmFit:
        return self._kept_fit(f"fit {_told_by(others)}", series, lambda: fit_film(series, others=others))

    def _known_films(self, film_id: str) -> list[FilmFit]:
        """The newest other films that have been read, each fitted by itself."""
        every = [self.series(kept.id) for kept in self.films() if kept.id != film_id]
        read = [series for series in every if any(trial.steps for trial in series.trials)]
        return [
            self._kept_fit("alone", series, lambda series=series: fit_film(series))
            for series in read[-MOST_OTHER_FILMS:]
        ]

    def story(self, film_id: str) -> dict[str, Any]:
        """The page of a film: strips, curves, what was learned, what each control does at the newest strip."""
        kept = self.trials(film_id)
        fit = self.fit(film_id)
        series = fit.series
        rows = [
            {
                "id": one.id,
                "revision": one.revision,
                **{name: one.body[name] for name in ("run", "picture", "reading", "recipe", "made_at")},
            }
            for one in kept
        ]
        pages = story.trial_pages(fit, rows, [self._curve(series, trial) for trial in series.trials])
        best = max(pages, key=lambda trial: trial["probability_in_aim"], default=None)
        here = best["controls"] if best else {}
        return {
            "film": {"id": film_id, **self.film(film_id).body},
            "aim": series.aim.model_dump(mode="json"),
            "controls": {name: control.model_dump() for name, control in series.controls.items()},
            "base": story.base_of(fit),
            "trials": pages,
            "best": best["id"] if best else None,
            "learned": story.learned(fit),
            "effects": story.effects(fit, here),
            "robustness": story.robustness(fit, here) if best else [],
        }

    def what_if(self, film_id: str, controls: Mapping[str, float], aim: Aim | None = None) -> dict[str, Any]:
        """What these controls would give."""
        return story.what_if(self._fit_at_hand(film_id), dict(controls), aim)

    def _fit_at_hand(self, film_id: str) -> FilmFit:
        """The fit while a hand moves: the book is looked up once in a while, not for every move."""
        now = self._clock.now()
        held = self._at_hand.get(film_id)
        if held is None or abs((now - held[0]).total_seconds()) > AT_HAND_S:
            held = self._at_hand[film_id] = (now, self.fit(film_id))
        return held[1]

    def _curve(self, series: Series, trial: Trial):
        """The measured curve of a trial; None where its readings are too few for one."""
        try:
            return self._table.curve(
                trial.steps, base_density=series.film.base_density, midtone_density=series.aim.midtone_density
            )
        except InputError:
            return None

    def faults(self, trial_id: str) -> list[dict[str, Any]]:
        """Faults of one trial, judged by what the film's other strips teach of it."""
        kept = self.trial(trial_id)
        series = self.series(kept.body["film"])
        trial = read_document(Trial, kept.body["trial"], where="trial")
        curve = self._curve(series, trial)
        if curve is None:
            return []
        others = self._known_films(kept.body["film"])
        film = self._kept_fit(
            f"without {trial.id} {_told_by(others)}", series, lambda: film_from_others(series, trial.id, others)
        )
        colour = colour_of_patches(trial.steps, [other for other in series.trials if other.id != trial.id])
        return faults_of(
            curve, series.aim, base_density=series.film.base_density, trial=trial, film=film, colour=colour
        )

    def control_strips(self, recipe_id: str) -> int:
        """How many read strips were made by a locked recipe to control it."""
        return sum(bool(kept.body["trial"]["steps"]) for kept in self._store.list("trial", recipe=recipe_id))

    def control_chart(self, recipe_id: str) -> dict[str, Any]:
        """Control chart of the strips made by a locked recipe, in order of making."""
        strips = []
        for kept in sorted(
            self._store.list("trial", recipe=recipe_id), key=lambda one: (one.body["made_at"], one.body["number"])
        ):
            series = self.series(kept.body["film"])
            trial = read_document(Trial, kept.body["trial"], where="trial")
            curve = self._curve(series, trial)
            if curve is not None:
                strips.append((trial.id, kept.body["made_at"][:10], curve))
        return story.control_chart(strips)

    def next_strips(self, film_id: str, count: int = 1):
        """The strips to try next, or that it is ready."""
        if not 1 <= count <= 6:
            raise InputError(f"{count} strips cannot be planned together", where="count", remedy="ask for 1 to 6")
        series, others = self.series(film_id), self._known_films(film_id)
        return self._kept_fit(
            f"next {count} {_told_by(others)}",
            series,
            lambda: next_strips(series, count=count, fit=self._fit(series, others)),
        )

    def _kept_fit(self, what: str, series: Series, work):
        key = what + json.dumps(series.model_dump(mode="json"), sort_keys=True)
        if key in self._fits:
            self._fits.move_to_end(key)
        else:
            self._fits[key] = work()
            if len(self._fits) > MOST_FITS:
                self._fits.popitem(last=False)
        return self._fits[key]

    # Recipes

    def recipes(self, film_name: str | None = None) -> list[Kept]:
        """Locked recipes, oldest first; of one film where named."""
        return [
            kept for kept in self._store.list("recipe") if film_name is None or kept.body["film"]["name"] == film_name
        ]

    def lock_recipe(
        self,
        film_id: str,
        trial_id: str,
        *,
        name: str,
        route_key: str,
        note: str = "",
        exposure_index: float | None = None,
    ) -> Kept:
        """Lock a recipe from a trial, with the evidence behind it. The same name again makes the next revision."""
        from obverse.process.catalog import formulas, routes

        series = self.series(film_id)
        chosen = next((trial for trial in series.trials if trial.id == trial_id), None)
        if chosen is None:
            raise NotFoundError(
                f"this film has no trial {trial_id!r}", where="trial", remedy="choose one of its strips"
            )
        if route_key not in routes():
            raise InputError(
                f"there is no route {route_key!r}", where="route", remedy=f"use one of {', '.join(routes())}"
            )
        route = routes()[route_key]
        fit = self.fit(film_id)
        probability = float(fit.probability_in_aim(chosen.controls, series.aim))
        recipe_id = words.id_from(name, most=80)
        if not recipe_id:
            raise InputError(
                "a recipe needs a name with letters or figures",
                where="name",
                remedy="give one, such as 'grey-base film for projection'",
            )
        revision = 1
        with contextlib.suppress(NotFoundError):
            revision = self._store.get("recipe", recipe_id).body["revision"] + 1
        needed = dict.fromkeys(step.formula for step in route.steps if step.formula)
        recipe = Recipe(
            name=name,
            revision=revision,
            film=read_document(FilmStock, self.film(film_id).body, where="film"),
            exposure_index=exposure_index or series.film.box_speed,
            controls=chosen.controls,
            route=route,
            formulas=tuple(formulas()[key] for key in needed if key in formulas()),
            aim=series.aim,
            curve=chosen.steps,
            evidence=Evidence(
                trials=len(series.trials),
                best_trial=chosen.id,
                probability_in_aim=min(max(probability, 0.0), 1.0),
                robustness=tuple(story.robustness(fit, chosen.controls)),
            ),
            note=note,
        )
        return self._store.put("recipe", recipe.model_dump(mode="json"), id=recipe_id)


def _told_by(others: list[FilmFit]) -> str:
    """The strips of other films, by which what was learned with them is known again: a changed strip is another teacher."""
    return "with " + json.dumps([one.series.model_dump(mode="json") for one in others], sort_keys=True)


def _next_name(known: set[str]) -> str:
    number = len(known) + 1
    while f"strip {number}" in known:
        number += 1
    return f"strip {number}"
