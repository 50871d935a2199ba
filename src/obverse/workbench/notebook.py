"""The notebook: films, their trials, what was learned, what to try next, recipes that are locked."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from obverse.clock import Clock
from obverse.diagnosis import FaultFinding
from obverse.foundation import ConflictError, InputError, JsonObject, NotFoundError, UnlikelyError, read_document
from obverse.inference import (
    MOST_DARKROOMS,
    FilmFit,
    NextStrips,
    OtherDarkroom,
    fit_film,
    most_alike,
    nearest_strip,
    recipe_chance,
    strip_chance,
)
from obverse.pool import fate_by_name
from obverse.process import (
    CONTROLS,
    TIME,
    Aim,
    Evidence,
    FilmStock,
    Process,
    Recipe,
    Series,
    SeriesFilm,
    Trial,
    has_evidence,
    read_series,
    same_film,
)
from obverse.sensitometry import CharacteristicCurve
from obverse.store import Store, Stored
from obverse.store.records import SeriesPlan, TrialEntry
from obverse.workbench import story, words
from obverse.workbench.known_baths import known_formulas, known_process
from obverse.workbench.light_table import LightTable, colour_of_patches, faults_of, film_from_others
from obverse.workbench.names import apart, films_apart, meant, next_strip, trials_apart
from obverse.workbench.place import Place
from obverse.workbench.pool import Lending
from obverse.workbench.proposal import against_the_word, next_strips
from obverse.workbench.remembered import AT_HAND_S, Remembered
from obverse.workbench.seek import Found, ListAsked, ListedBy, by_name, seek
from obverse.workbench.story import ControlChart, RecipeForetold

# Fits of films kept at hand: of each of some twenty films the film by itself, the film, the film before its strips, what is
# told beside it, its next.
MOST_FITS = 110
# Curves of strips kept at hand: all of a large home.
MOST_CURVES = 500
# Of an id made from a name: as many as an id may have.
MOST_CHARACTERS_OF_AN_ID = 80
# What a series document holds; of a longer page the newest count.
MOST_TRIALS_OF_A_SERIES = 2000
# Films whose fits make a new one wiser, the most alike; more would add little and cost time at the first look.
MOST_OTHER_FILMS = 5
# What stands beside a trial in its entry and may be changed with it.
LINKS = ("run", "picture", "reading", "recipe", "changed_by")

L = TypeVar("L")

FILMS_BY: ListedBy[Stored[FilmStock]] = ListedBy(
    text=lambda kept: " ".join((kept.thing.name, *kept.thing.same_as, f"{kept.thing.box_speed:g}")),
    orders={
        "newest first": lambda kept: -kept.created_at.timestamp(),
        "name": lambda kept: by_name(kept.thing.name),
        "box speed": lambda kept: (kept.thing.box_speed, by_name(kept.thing.name)),
    },
)


@dataclass(frozen=True)
class FilmStory:
    """The page of a film: strips, curves, what was learned, what each control does at the strip nearest to the aim.

    Parameters
    ----------
    best : str or None
        Id of that strip.
    repeated : float or None
        The chance of its recipe, made once more.
    """

    film: Stored[FilmStock]
    plan_revision: int
    series: Series
    base: float
    trials: tuple[story.TrialPage, ...]
    best: str | None
    learned: tuple[story.LearnedRow, ...]
    by_words: str
    effects: tuple[story.ControlEffect, ...]
    robustness: tuple[str, ...]
    repeated: float | None

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "film": self.film.document(),
            "plan_revision": self.plan_revision,
            "aim": self.series.aim.model_dump(mode="json"),
            "controls": {name: control.model_dump() for name, control in self.series.controls.items()},
            "base": self.base,
            "trials": [page.document() for page in self.trials],
            "best": self.best,
            "learned": [row.document() for row in self.learned],
            "by_words": self.by_words,
            "effects": [effect.document() for effect in self.effects],
            "robustness": list(self.robustness),
            "repeated": self.repeated,
        }


class Notebook(Place):
    """Films and their trials over the store.

    Parameters
    ----------
    light_table : LightTable
        Where strips are read.
    pool : Lending
        What other darkrooms lent.
    """

    def __init__(self, store: Store, clock: Clock, home: Path | None, light_table: LightTable, pool: Lending):
        super().__init__(store, clock, home)
        self._table = light_table
        self._pool = pool
        self._fits = Remembered(MOST_FITS)
        self._curves = Remembered(MOST_CURVES)
        self._at_hand: dict[str, tuple[datetime, FilmFit]] = {}

    # Films

    def films(self) -> list[Stored[FilmStock]]:
        """All films in use, oldest first, each under a name of its own."""
        return films_apart(self._store.films.all())

    def film_called(self, name: str) -> Stored[FilmStock]:
        """The film of that id, or else of that name.

        Raises
        ------
        NotFoundError
            If there is none.
        """
        films = self.films()
        called = meant(name, {kept.thing.name for kept in films})
        chosen = next((kept for kept in films if kept.id == name), None)
        chosen = chosen or next((kept for kept in films if kept.thing.name == called), None)
        if chosen is None:
            raise NotFoundError(
                f"there is no film called {name!r} in the notebook",
                where="film",
                remedy="`obverse show` alone lists them",
            )
        return chosen

    def find_films(self, asked: ListAsked) -> Found[FilmStock]:
        """A part of the films as it was asked for."""
        aside = [kept for kept in self._store.films.all(retired=True) if kept.retired_at is not None]
        return seek([*self.films(), *aside], asked, FILMS_BY)

    def find_strips(self, asked: ListAsked, film_id: str = "") -> Found[TrialEntry]:
        """A part of the strips as it was asked for: of one film, or of all films in use."""
        films = {kept.id: kept for kept in ([self.film(film_id)] if film_id else self.films())}
        names = {id: kept.thing.name for id, kept in films.items()}
        if film_id:
            every = trials_apart(self._store.trials.all(retired=True, film=film_id))
        else:
            trials = self.trials_by_film(retired=True)
            every = [kept for id in films for kept in trials.get(id, [])]
        return seek(every, asked, _strips_by(names))

    def retire_film(self, film_id: str) -> None:
        """Put a film aside with its strips; nothing is deleted, and its pages stay readable."""
        self._at_hand.clear()
        self._store.films.retire(film_id)

    def restore_film(self, film_id: str) -> None:
        """Take a film back into use."""
        self._at_hand.clear()
        self._store.films.restore(film_id)

    def film(self, film_id: str) -> Stored[FilmStock]:
        """One film."""
        return self._store.films.get(film_id)

    def add_film(
        self,
        stock: JsonObject,
        *,
        controls: JsonObject | None = None,
        aim: str | JsonObject = "projection",
        film_id: str | None = None,
    ) -> Stored[FilmStock]:
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
        checked = self._checked_series(film, controls or _usual_controls(), aim, [])
        with self._store.transaction():
            self._refuse_a_second(film.name, but="")
            kept = self._store.films.put(film, id=film_id, expected_revision=None if film_id is None else 0)
            self._put_plan(kept.id, checked)
        return kept

    def change_film(
        self, film_id: str, stock: JsonObject, *, expected_revision: int | None = None
    ) -> Stored[FilmStock]:
        """Correct what is said of a film."""
        film = read_document(FilmStock, dict(stock), where="film")
        self._at_hand.clear()
        with self._store.transaction():
            self._refuse_a_second(film.name, but=film_id)
            return self._store.films.put(film, id=film_id, expected_revision=expected_revision)

    def _refuse_a_second(self, name: str, *, but: str) -> None:
        if any(kept.thing.name == name and kept.id != but for kept in self._store.films.all()):
            raise ConflictError(
                f"a film called {name!r} stands in the notebook already",
                where="name",
                remedy="choose another name",
            )

    def plan(self, film_id: str, changes: JsonObject, *, expected_revision: int | None = None) -> Series:
        """Change the aim or the controls of a film; returns its series."""
        unknown = set(changes) - {"aim", "controls"}
        if unknown:
            raise InputError(
                f"{sorted(unknown)[0]!r} is no part of a plan", where="plan", remedy="give aim or controls"
            )
        series = self.series(film_id)
        document = {**series.model_dump(mode="json"), **changes}
        changed = read_series(document, where="plan")
        self._put_plan(film_id, changed, expected_revision=expected_revision)
        return changed

    def plan_revision(self, film_id: str) -> int:
        """The revision of a film's plan; 0 where it stands as it usually is."""
        kept = self._store.plans.find(f"series.{film_id}")
        return 0 if kept is None else kept.revision

    def _put_plan(self, film_id: str, series: Series, *, expected_revision: int | None = None) -> None:
        self._at_hand.clear()
        plan = SeriesPlan(film=film_id, controls=series.controls, aim=series.aim)
        self._store.plans.put(plan, id=f"series.{film_id}", expected_revision=expected_revision)

    def _checked_series(
        self,
        film: FilmStock,
        controls: JsonObject,
        aim: str | Aim | JsonObject,
        trials: Sequence[Any],
    ) -> Series:
        return read_series(
            {
                "format": "obverse-series",
                "version": 1,
                "film": SeriesFilm(
                    name=film.name,
                    box_speed=film.box_speed,
                    base_density=film.base_density,
                    emulsion=film.emulsion,
                    label_time_min=film.label_time_min,
                ).model_dump(),
                "controls": dict(controls),
                "aim": dict(aim) if isinstance(aim, Mapping) else aim,
                "trials": trials,
            },
            where=film.name,
        )

    # Trials

    def trials(self, film_id: str) -> list[Stored[TrialEntry]]:
        """The trials of a film, in the order they were written down, each under a name of its own."""
        return trials_apart(self._store.trials.all(film=film_id))

    def trials_by_film(self, *, retired: bool = False) -> dict[str, list[Stored[TrialEntry]]]:
        """The trials of all films as `trials` gives them, by the id of the film, in one question however many films there are."""
        found: dict[str, list[Stored[TrialEntry]]] = {}
        for kept in self._store.trials.all(retired=retired):
            found.setdefault(kept.thing.film, []).append(kept)
        return {film_id: trials_apart(kept) for film_id, kept in found.items()}

    def trial(self, trial_id: str) -> Stored[TrialEntry]:
        """One trial."""
        return self._store.trials.get(trial_id)

    def add_trial(
        self,
        film_id: str,
        trial: JsonObject,
        *,
        run: str = "",
        strip: str = "",
        booked_note: str = "",
        picture: str = "",
        reading: str = "",
        recipe: str = "",
        made_at: str = "",
    ) -> Stored[TrialEntry]:
        """Write a trial into the book; one that stands there already is given back, in use again if it was put aside.

        Parameters
        ----------
        trial : mapping
            A `Trial` document; without `id` it becomes the next strip by number.
        run, picture, reading : str
            Ids of what it came from.
        strip, booked_note : str
            The name it had in that run, and what the run noted of it.
        recipe : str
            Id of the locked recipe this strip controls.

        Raises
        ------
        ConflictError
            If another strip of its name says something else.
        """
        links = {"run": run, "strip": strip, "booked_note": booked_note, "picture": picture, "reading": reading}
        links |= {"recipe": recipe, "made_at": made_at}
        with self._store.transaction():
            here = self._store.trials.all(retired=True, film=film_id)
            name = str(trial.get("id") or next_strip({kept.thing.trial.id for kept in here}))
            given = read_document(Trial, {**trial, "id": name}, where="trial")
            # A strip that nobody measured is known by its name alone: two of them may well have been judged in the same words.
            nameless = not trial.get("id") and not given.steps
            fate, place = ("new", None) if nameless else fate_by_name(given, [kept.thing.trial for kept in here])
            if place is None or fate == "disputed":
                return self._add_trials(film_id, [given.model_dump(mode="json")], links)[0]
            stands = here[place]
            told = {name: value for name, value in links.items() if value}
            if stands.retired_at is not None:
                # Whoever gives it by hand takes it back.
                self._store.trials.restore(stands.id)
            elif fate == "known":
                return stands
            return self._read_of(stands, given, told)

    def _read_of(
        self, stands: Stored[TrialEntry], given: Trial, links: Mapping[str, str] = MappingProxyType({})
    ) -> Stored[TrialEntry]:
        """What was read of a strip that waited for it."""
        self._at_hand.clear()
        seen = {"steps": given.steps, "grades": given.grades, "faults": given.faults, "exposed": given.exposed}
        trial = stands.thing.trial.model_copy(update=seen)
        return self._store.trials.put(stands.thing.model_copy(update={"trial": trial, **links}), id=stands.id)

    def _add_trials(
        self, film_id: str, trials: Sequence[JsonObject], links: Mapping[str, str]
    ) -> list[Stored[TrialEntry]]:
        """Write trials down one after the other; a name is free or taken within the same transaction."""
        self._at_hand.clear()
        written = []
        with self._store.transaction():
            self.film(film_id)
            every = self._store.trials.all(retired=True, film=film_id)
            known = {kept.thing.trial.id for kept in every}
            number = max((kept.thing.number for kept in every), default=0)
            for trial in trials:
                document = dict(trial)
                if not document.get("id"):
                    document["id"] = next_strip(known)
                checked = read_document(Trial, document, where="trial")
                if checked.id in known:
                    raise ConflictError(
                        f"a trial called {checked.id!r} stands on this film's page already",
                        where="id",
                        remedy="choose another name",
                    )
                known.add(checked.id)
                number += 1
                made_at = links.get("made_at") or self._clock.now().isoformat(timespec="seconds")
                entry = TrialEntry(film=film_id, number=number, trial=checked, **{**links, "made_at": made_at})
                written.append(self._store.trials.put(entry))
        return written

    @contextmanager
    def writing(self) -> Iterator[Store]:
        """One transaction, for what writes many strips of several films at once."""
        self._at_hand.clear()
        with self._store.transaction():
            yield self._store

    def change_trial(
        self, trial_id: str, changes: JsonObject, *, expected_revision: int | None = None
    ) -> Stored[TrialEntry]:
        """Change parts of a trial: controls, steps, grades, faults, note."""
        links = {name: changes[name] for name in (*LINKS, "booked_note") if name in changes}
        parts = {name: value for name, value in changes.items() if name not in links}
        self._at_hand.clear()
        with self._store.transaction():
            kept = self.trial(trial_id)
            entry = kept.thing
            if "controls" in parts and "control_sds" not in parts:
                # What is said anew is known as well as usual; the doubt stays where nothing was said.
                given, before = parts["controls"], entry.trial
                said = given if isinstance(given, Mapping) else {}
                parts["control_sds"] = {
                    name: sd for name, sd in before.control_sds.items() if said.get(name) == before.controls.get(name)
                }
            checked = read_document(Trial, {**entry.trial.model_dump(mode="json"), **parts}, where="trial")
            if checked.id != entry.trial.id and any(
                other.thing.trial.id == checked.id and other.id != trial_id
                for other in self._store.trials.all(retired=True, film=entry.film)
            ):
                raise ConflictError(
                    f"a trial called {checked.id!r} stands on this film's page already",
                    where="id",
                    remedy="choose another name",
                )
            changed = read_document(
                TrialEntry, {**entry.model_dump(mode="json"), **links, "trial": checked}, where="trial"
            )
            return self._store.trials.put(changed, id=trial_id, expected_revision=expected_revision)

    def retired_trials(self, film_id: str) -> list[Stored[TrialEntry]]:
        """Trials that were put aside."""
        every = trials_apart(self._store.trials.all(retired=True, film=film_id))
        return [kept for kept in every if kept.retired_at is not None]

    def retire_trial(self, trial_id: str) -> Stored[TrialEntry]:
        """Put a trial aside; nothing is deleted."""
        self._at_hand.clear()
        return self._store.trials.retire(trial_id)

    def restore_trial(self, trial_id: str) -> Stored[TrialEntry]:
        """Take a trial back."""
        self._at_hand.clear()
        return self._store.trials.restore(trial_id)

    # Series

    def series(self, film_id: str) -> Series:
        """The series document of a film: its plan and its trials."""
        return self._series_of(film_id, self._teaching(film_id))

    def _teaching(self, film_id: str) -> list[Stored[TrialEntry]]:
        """The trials that a series has room for: the newest."""
        return self.trials(film_id)[-MOST_TRIALS_OF_A_SERIES:]

    def _series_of(self, film_id: str, kept_trials: Sequence[Stored[TrialEntry]]) -> Series:
        kept = self._store.plans.find(f"series.{film_id}")
        return self._series_by(self.film(film_id).thing, None if kept is None else kept.thing, kept_trials)

    def _series_by(self, film: FilmStock, plan: SeriesPlan | None, kept_trials: Sequence[Stored[TrialEntry]]) -> Series:
        controls: JsonObject = _usual_controls() if plan is None else plan.controls
        aim: Any = "projection" if plan is None else plan.aim
        return self._checked_series(film, controls, aim, [_dated(one.thing) for one in kept_trials])

    def every_series(self) -> list[Series]:
        """The series of all films in use, oldest first, each under the name it is told apart by."""
        names = {kept.id: kept.thing.name for kept in self.films()}
        return [
            series.model_copy(update={"film": series.film.model_copy(update={"name": names[id]})})
            for id, series in self._every_series()
            if id in names
        ]

    def _every_series(self) -> list[tuple[str, Series]]:
        """The series of all films in use by the id of the film, in three questions however many films there are."""
        trials = self.trials_by_film()
        plans = {kept.id: kept.thing for kept in self._store.plans.all()}
        return [
            (
                kept.id,
                self._series_by(
                    kept.thing,
                    plans.get(f"series.{kept.id}"),
                    trials.get(kept.id, [])[-MOST_TRIALS_OF_A_SERIES:],
                ),
            )
            for kept in self._store.films.all()
        ]

    def import_series(self, document: Any, *, where: str = "series") -> Stored[FilmStock]:
        """Take in a series document: a new film with its trials, or what has grown since on the page of that film.

        A strip that stands there already is not written again. One whose name stands there with other content is
        kept beside under a name of its own, put aside until the person decides.
        """
        series = read_series(document, where=where)
        film = FilmStock(**series.film.model_dump())
        with self._store.transaction():
            for here in self.films():
                if same_film(here.thing, film, also=here.thing.same_as):
                    self._add_what_is_new(here.id, series.trials)
                    return here
            kept = self.add_film(
                film.model_dump(mode="json"),
                controls={name: control.model_dump() for name, control in series.controls.items()},
                aim=series.aim.model_dump(mode="json"),
            )
            self._add_trials(kept.id, [trial.model_dump(mode="json") for trial in series.trials], {})
        return kept

    def _add_what_is_new(self, film_id: str, trials: Sequence[Trial]) -> None:
        every = self._store.trials.all(retired=True, film=film_id)
        for trial in trials:
            fate, place = fate_by_name(trial, [kept.thing.trial for kept in every])
            if fate == "corrected" and place is not None:
                every[place] = self._read_of(every[place], trial)
            elif fate != "known":
                name = apart(trial.id, {kept.thing.trial.id for kept in every})
                written = self._add_trials(film_id, [{**trial.model_dump(mode="json"), "id": name}], {})[0]
                every.append(written)
                if fate == "disputed":
                    self.retire_trial(written.id)

    # What was learned

    def fit(self, film_id: str) -> FilmFit:
        """What the trials taught of this film, wiser by the other films; the same trials are learned from once."""
        return self._fit(self.series(film_id), self._known_films(film_id), self.lent(film_id))

    def _fit(self, series: Series, others: list[FilmFit], lent: list[OtherDarkroom]) -> FilmFit:
        learned, digest = self._pool.learned()
        return self._kept_fit(
            f"fit {digest} {_told_by(others, lent)}",
            series,
            lambda: fit_film(series, others=others, elsewhere=lent, learned=learned),
        )

    def lent(self, film_id: str) -> list[OtherDarkroom]:
        """Strips of this very film from other darkrooms, and what recipes from elsewhere show of it."""
        film = self.film(film_id).thing
        found = [*self._pool.lent_for(film), *self._shown_by_recipes(film_id, film)]
        return found[:MOST_DARKROOMS]

    def _shown_by_recipes(self, film_id: str, film: FilmStock) -> list[OtherDarkroom]:
        """The curve of each recipe from elsewhere, as one strip that it lends."""
        recipes = [
            kept
            for kept in self._store.recipes.all()
            if kept.thing.curve and same_film(film, kept.thing.film, also=film.same_as)
        ]
        if not recipes:
            return []
        # A recipe that was locked here shows a strip that stands, or stood, on this page.
        own = {kept.thing.trial.id for kept in self._store.trials.all(film=film_id, retired=True)}
        return [
            OtherDarkroom(
                f"recipe {kept.id}",
                (Trial(id=kept.id[:120], controls=kept.thing.controls, steps=kept.thing.curve),),
                kept.thing.film.base_density,
                f"the recipe {kept.thing.name}",
            )
            for kept in recipes
            if kept.thing.origin != self._store.darkroom
            and (kept.thing.origin or kept.thing.evidence.best_trial not in own)
        ]

    def _known_films(self, film_id: str) -> list[FilmFit]:
        """The other films most alike to this one, own and lent, each fitted by itself."""
        here = self.series(film_id)
        own = [series for id, series in self._every_series() if id != film_id]
        chosen = most_alike(here, [*own, *self._pool.other_films(self.film(film_id).thing)], MOST_OTHER_FILMS)
        # A strip that waits for its readings teaches other films nothing, and is no reason to learn from them anew.
        told = [series.model_copy(update={"trials": tuple(filter(has_evidence, series.trials))}) for series in chosen]
        return [self._kept_fit("alone", series, partial(fit_film, series)) for series in told]

    def story(self, film_id: str) -> FilmStory:
        """The page of a film: strips, curves, what was learned, what each control does at the newest strip."""
        # The strips are read once: one that is written meanwhile is on the next page.
        kept = self._teaching(film_id)
        others, lent = self._known_films(film_id), self.lent(film_id)
        fit = self._fit(self._series_of(film_id, kept), others, lent)
        series = fit.series
        # The film as it was known before any of its strips.
        before = self._fit(series.model_copy(update={"trials": ()}), others, lent)
        rows: list[JsonObject] = [
            {
                "id": one.id,
                "revision": one.revision,
                **one.thing.model_dump(include={*LINKS, "made_at"}),
                "process": self._process_word(one.thing),
            }
            for one in kept
        ]
        pages = story.trial_pages(fit, rows, [self._curve(series, trial) for trial in series.trials])
        place = nearest_strip(fit, series.aim)
        here = {} if place is None else series.trials[place].controls
        effects, robustness, repeated = self._kept_fit(
            f"beside {self._pool.learned()[1]} {_told_by(others, lent)}",
            series,
            lambda: (
                tuple(story.effects(fit, here)),
                () if place is None else tuple(story.robustness(fit, here)),
                None if place is None else recipe_chance(fit, here),
            ),
        )
        rows_learned = story.learned(fit, before)
        return FilmStory(
            film=self.film(film_id),
            plan_revision=self.plan_revision(film_id),
            series=series,
            base=story.base_of(fit),
            trials=tuple(pages),
            best=None if place is None else kept[place].id,
            learned=tuple(rows_learned),
            by_words=story.taught_by_words(fit, rows_learned),
            effects=effects,
            robustness=robustness,
            repeated=repeated,
        )

    def _process_word(self, entry: TrialEntry) -> str:
        """The name of the process that made a strip; empty where no evening of the house tells it."""
        run = self._store.runs.find(entry.run) if entry.run else None
        return "" if run is None else run.thing.plan.route.name

    def what_if(self, film_id: str, controls: Mapping[str, float], aim: Aim | None = None) -> RecipeForetold:
        """What these controls would give."""
        return story.what_if(self._fit_at_hand(film_id), dict(controls), aim)

    def _fit_at_hand(self, film_id: str) -> FilmFit:
        """The fit while a hand moves: the book is looked up once in a while, not for every move."""
        now = self._clock.now()
        held = self._at_hand.get(film_id)
        if held is None or abs((now - held[0]).total_seconds()) > AT_HAND_S:
            held = self._at_hand[film_id] = (now, self.fit(film_id))
        return held[1]

    def _curve(self, series: Series, trial: Trial) -> CharacteristicCurve | None:
        """The measured curve of a trial; None where its readings are too few for one."""
        base, midtone = series.film.base_density, series.aim.midtone_density

        def work() -> CharacteristicCurve | None:
            try:
                return self._table.curve(trial.steps, base_density=base, midtone_density=midtone, exposed=trial.exposed)
            except InputError:
                return None

        return self._curves.of((trial.steps, trial.exposed, base, midtone), work)

    def faults(self, trial_id: str) -> tuple[FaultFinding, ...]:
        """Faults of one trial, judged by what the film's other strips teach of it."""
        film_id = self.trial(trial_id).thing.film
        series = self.series(film_id)
        shown = {one.id: one.thing.trial for one in [*self.trials(film_id), *self.retired_trials(film_id)]}
        trial = shown[trial_id]
        curve = self._curve(series, trial)
        if curve is None:
            return ()
        others = self._known_films(film_id)
        film = self._kept_fit(
            f"without {trial.id} {_told_by(others)}", series, lambda: film_from_others(series, trial.id, others)
        )
        colour = colour_of_patches(trial.steps, [other for other in series.trials if other.id != trial.id])
        return faults_of(
            curve,
            series.aim,
            base_density=series.film.base_density,
            trial=trial,
            film=film,
            colour=colour,
            advice=partial(self.advice, film_id, trial),
        )

    def advice(self, film_id: str, trial: Trial | None = None) -> str:
        """What to change in the first developer, in the one place where it is said: the notebook weighs all strips of a film.

        Parameters
        ----------
        trial : Trial, optional
            The strip it is compared with; absent: readings that belong to no strip yet.
        """
        if trial is None:
            return (
                "What to change in the first developer the notebook of this film says once these readings belong to one of its "
                "strips: it weighs all of them."
            )
        answer = self.next_strips(film_id)
        best = answer.best_trial
        if answer.status == "ready" and best is not None:
            if best.id == trial.id:
                return "Nothing in the first developer: the notebook holds this strip for good."
            good = next(one.thing.trial for one in self.trials(film_id) if one.thing.trial.id == best.id)
            return f"The notebook holds {best.id} for good: {story.against(good.controls, trial.controls)}."
        first = answer.suggestions[0].controls
        told = f"The notebook's next strip, {CONTROLS.text(first)}: {story.against(first, trial.controls)}."
        return " ".join(filter(None, (told, against_the_word(trial, answer.suggestions[0]))))

    def control_strips(self, recipe_id: str) -> int:
        """How many read strips were made by a locked recipe to control it."""
        return sum(bool(kept.thing.trial.steps) for kept in self._store.trials.all(recipe=recipe_id))

    def control_chart(self, recipe_id: str) -> list[ControlChart]:
        """Control charts of the strips made by a locked recipe, in order of making."""
        strips = []
        for kept in sorted(
            self._store.trials.all(recipe=recipe_id), key=lambda one: (one.thing.made_at, one.thing.number)
        ):
            if self._store.films.find(kept.thing.film) is None:
                continue
            curve = self._curve(self.series(kept.thing.film), kept.thing.trial)
            if curve is not None:
                strips.append((kept.thing.trial.id, kept.thing.made_at[:10], curve))
        return story.control_chart(strips)

    def next_strips(self, film_id: str, count: int = 1) -> NextStrips:
        """The strips to try next, or that it is ready."""
        if not 1 <= count <= 6:
            raise InputError(f"{count} strips cannot be planned together", where="count", remedy="ask for 1 to 6")
        series, others, lent = self.series(film_id), self._known_films(film_id), self.lent(film_id)
        return self._kept_fit(
            f"next {count} {self._pool.learned()[1]} {_told_by(others, lent)}",
            series,
            lambda: next_strips(series, count=count, fit=self._fit(series, others, lent)),
        )

    def _kept_fit(self, what: str, series: Series, work: Callable[[], L]) -> L:
        key = what + json.dumps(series.model_dump(mode="json"), sort_keys=True)
        return self._fits.of(key, work)

    # Recipes

    def recipes(self, film_name: str | None = None) -> list[Stored[Recipe]]:
        """Locked recipes, oldest first; of one film where named."""
        return [kept for kept in self._store.recipes.all() if film_name is None or kept.thing.film.name == film_name]

    def _process_of(self, film_id: str, trial_id: str) -> Process:
        """The process that made a strip, as its evening ran it."""
        entry = next(one.thing for one in self.trials(film_id) if one.thing.trial.id == trial_id)
        run = self._store.runs.find(entry.run) if entry.run else None
        if run is None:
            raise InputError(f"no evening here tells which process made {trial_id}", where="route", remedy="choose it")
        return run.thing.plan.route

    @staticmethod
    def _ask_before_locking(fit: FilmFit, place: int) -> None:
        aim = fit.series.aim
        seen = fit.strip_observables(aim.midtone_density)[:, place]
        told = story.missed(fit.series.trials[place], story.verdicts(seen, aim), strip_chance(fit, place, aim))
        if told:
            raise UnlikelyError(told, where="recipe", remedy="choose another strip, or say that you lock it anyway")

    def lock_recipe(
        self,
        film_id: str,
        trial_id: str,
        *,
        name: str,
        route_key: str = "",
        note: str = "",
        exposure_index: float | None = None,
        anyway: bool = False,
    ) -> Stored[Recipe]:
        """Lock a recipe from a trial, with the evidence behind it. The same name again makes the next revision.

        Parameters
        ----------
        route_key : str
            The process; the one that made the strip where it is not given.
        anyway : bool
            The person knows that the strip misses the aim.

        Raises
        ------
        UnlikelyError
            If the strip misses the aim or was not read, and nobody said that it may be locked anyway.
        InputError
            If no evening tells which process made the strip, and none is given.
        """
        series = self.series(film_id)
        chosen = next((trial for trial in series.trials if trial.id == trial_id), None)
        if chosen is None:
            raise NotFoundError(
                f"this film has no trial {trial_id!r}", where="trial", remedy="choose one of its strips"
            )
        recipe_id_of(name)
        route = known_process(self._store, route_key) if route_key else self._process_of(film_id, trial_id)
        known = route.baths(known_formulas(self._store))
        fit = self.fit(film_id)
        if not anyway:
            self._ask_before_locking(fit, series.trials.index(chosen))
        needed = dict.fromkeys(step.formula for step in route.steps if step.formula)
        recipe = Recipe(
            name=name,
            origin=self._store.darkroom,
            film=self.film(film_id).thing,
            exposure_index=exposure_index or series.film.box_speed,
            controls=chosen.controls,
            route=route,
            formulas=tuple(known[key] for key in needed if key in known),
            aim=series.aim,
            curve=chosen.steps,
            evidence=Evidence(
                trials=len(series.trials),
                best_trial=chosen.id,
                probability_in_aim=recipe_chance(fit, chosen.controls),
                robustness=tuple(story.robustness(fit, chosen.controls)),
            ),
            note=note,
        )
        return self.keep_recipe(recipe)

    def keep_recipe(self, recipe: Recipe) -> Stored[Recipe]:
        """Keep a recipe under the id of its name; the same name again makes the next revision.

        Raises
        ------
        InputError
            For a name without letters or figures.
        """
        recipe_id = recipe_id_of(recipe.name)
        with self._store.transaction():
            before = self._store.recipes.find(recipe_id)
            if before is not None:
                recipe = recipe.model_copy(update={"revision": before.thing.revision + 1})
                if before.retired_at is not None:
                    self._store.recipes.restore(recipe_id)
            return self._store.recipes.put(recipe, id=recipe_id)


def recipe_id_of(name: str) -> str:
    """The id of a recipe of that name."""
    found = words.id_from(name, most=MOST_CHARACTERS_OF_AN_ID)
    if not found:
        raise InputError(
            "a recipe needs a name with letters or figures",
            where="name",
            remedy="give one, such as 'grey-base film for projection'",
        )
    return found


def _strips_by(films: Mapping[str, str]) -> ListedBy[Stored[TrialEntry]]:
    """How strips are found, with the names of their films by id."""

    def text(kept: Stored[TrialEntry]) -> str:
        trial = kept.thing.trial
        said = (*words.grades_text(trial.grades), *trial.faults)
        return " ".join(
            (films[kept.thing.film], trial.id, CONTROLS.text(trial.controls), *said, trial.note, trial.person)
        ).replace("_", " ")

    return ListedBy(
        text=text,
        orders={
            "newest first": lambda kept: -kept.created_at.timestamp(),
            "film": lambda kept: (by_name(films[kept.thing.film]), kept.thing.number),
            "name": lambda kept: by_name(kept.thing.trial.id),
            "time in the first developer": lambda kept: kept.thing.trial.controls.get(TIME.key, 0.0),
        },
    )


def _told_by(others: list[FilmFit], lent: Sequence[OtherDarkroom] = ()) -> str:
    """The strips of other films and darkrooms, by which what was learned with them is known again: a changed strip is another teacher."""
    films = [one.series.model_dump(mode="json") for one in others]
    darkrooms = [
        [one.id, one.name, one.base_density, [trial.model_dump(mode="json") for trial in one.trials]] for one in lent
    ]
    return "with " + json.dumps([films, darkrooms], sort_keys=True)


def _dated(entry: TrialEntry) -> Trial:
    """The trial with the day it was made, where an evening at the sink tells it and nobody else did."""
    if entry.trial.made_on is not None or not entry.run:
        return entry.trial
    try:
        made_on = datetime.fromisoformat(entry.made_at).date()
    except ValueError:
        # Nobody wrote an instant there, or another program did in its own way.
        return entry.trial
    return entry.trial.model_copy(update={"made_on": made_on})


def _usual_controls() -> JsonObject:
    return {name: limits.model_dump() for name, limits in CONTROLS.first_ranges().items()}
