"""Mixed baths: what they have seen, and what the next film may expect."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from obverse.foundation import Caution, InputError, JsonObject, UnsafeError, read_document
from obverse.process import (
    FORMATS,
    BathNote,
    BathPass,
    Bottle,
    Formula,
    Process,
    Step,
    area_of_pieces_m2,
    film_said,
    renewal_told,
)
from obverse.safety import (
    USUAL_BATH_ML,
    ClipTold,
    Residue,
    clip_does,
    clip_told,
    destruction_steps,
    fresh_clip,
    residue_of,
    standing_caution,
)
from obverse.safety.bath_life import (
    AS_MIXED,
    Belief,
    Forecast,
    Pass,
    first_belief,
    forecast,
    has_capacity,
    learn,
    learn_from_clips,
)
from obverse.workbench.care.hazards import Hazards

if TYPE_CHECKING:
    from obverse.store import Stored

# What a form offers; any size may be written, one that goes by length with its length.
FILMS = (*(key for key, one in FORMATS.items() if one.kind != "length"), "16 mm, 30.5 m", "double-8, 7.5 m")
# Nobody sends more through one bath; the notebook keeps no more of one entry.
MOST_FILMS = 1000

# Cautions of a forecast that belong before the evening.
_BEFORE = ("bath.ghost", "bath.weak", "bath.soon", "bath.old", "bath.unread")
# What a clip said belongs there too, of every bath that stands.
_CLIP = ("bath.clip_weak", "bath.clip_slow")


@dataclass(frozen=True, slots=True)
class BathView:
    """A mixed bath as it stands: what it has seen and what the next film may expect."""

    id: str
    revision: int
    bottle: Bottle
    formula: Formula
    age_h: float | None
    forecast: Forecast | None
    residue: Residue | None
    cautions: tuple[Caution, ...]
    clip: ClipTold | None = None
    renewals: tuple[str, ...] = ()

    @property
    def clock_started(self) -> datetime | None:
        """When the clock of what must be destroyed began; None where nothing runs."""
        if self.residue is None or not self.bottle.passes:
            return None
        if self.residue.from_mixing:
            return self.bottle.mixed_at or self.bottle.passes[0].at
        return self.bottle.passes[0].at or self.bottle.mixed_at

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "id": self.id,
            "revision": self.revision,
            "name": self.bottle.name,
            "formula": self.formula.key,
            "volume_ml": self.bottle.amount,
            "age_h": self.age_h,
            "passes": [entry.model_dump(mode="json") for entry in self.bottle.passes],
            "notes": [entry.model_dump(mode="json") for entry in self.bottle.notes],
            "clip": self.clip.document() if self.clip else None,
            "renewals": list(self.renewals),
            "forecast": self.forecast.document() if self.forecast else None,
            "destroy_within_min": self.residue.deadline_min if self.residue else None,
            "cautions": [caution.document() for caution in self.cautions],
        }


class Baths(Hazards):
    """The mixed baths of one person."""

    def now(self) -> datetime:
        """The instant by the clock of the house."""
        return self._clock.now()

    def baths(self) -> list[BathView]:
        """Every mixed bath that is still there, the one that needs care most first."""
        known = self._formulas()
        brought_back = self._renewals()
        kept = [
            replace(self._bath(row), renewals=brought_back.get(row.thing.formula or "", ()))
            for row in self._store.bottles.all(own=True)
            if row.thing.formula in known
        ]
        order = {"danger": 0, "caution": 1, "note": 2}
        return sorted(kept, key=lambda view: min((order[c.level.value] for c in view.cautions), default=2))

    def _renewals(self) -> dict[str, tuple[str, ...]]:
        """How the person's processes bring back a bath that is kept, by the key of its formula."""
        found: dict[str, dict[str, None]] = {}
        for kept in self._store.processes.all():
            for step in kept.thing.steps:
                if step.formula and step.renewal is not None:
                    found.setdefault(step.formula, {})[
                        f"{step.name} of {kept.thing.name}: {renewal_told(step.renewal)}."
                    ] = None
        return {formula: tuple(told) for formula, told in found.items()}

    def used_that_must_go(self) -> list[BathView]:
        """The used baths among them that must be destroyed; cheap enough for every page."""
        known = self._formulas()
        rows = [row for row in self._store.bottles.all(own=True) if row.thing.formula in known and row.thing.passes]
        return [self._bath(row) for row in rows if residue_of(known[row.thing.formula or ""]) is not None]

    def bath(self, id: str) -> BathView:
        """One mixed bath.

        Raises
        ------
        InputError
            If that bottle holds a product.
        """
        return self._bath(self._store.bottles.get(id))

    def mix_bath(self, formula_key: str, volume_ml: float, *, name: str = "") -> str:
        """Write down that a bath was mixed now; returns its id."""
        formula = self._formula(formula_key)
        now = self._clock.now()
        bottle = read_document(
            Bottle,
            {
                "name": name or formula.name,
                "formula": formula.key,
                "amount": volume_ml,
                "filled_on": now.date().isoformat(),
                "mixed_at": now.isoformat(),
            },
            where="bath",
        )
        return self._store.bottles.put(bottle).id

    def stands_already(
        self,
        formula_key: str,
        volume_ml: float,
        *,
        name: str = "",
        films: float | None = 0.0,
        film: str = "135-36",
        since: date | None = None,
        looks: str = "",
    ) -> str:
        """Write down a bath that was poured back into its jug before this book knew of it; returns its id.

        Parameters
        ----------
        films : float or None
            How many films it has seen, each of the size `film`; nobody looked for a ghost on them. None: nobody knows.
        since : date, optional
            Day it was mixed.
        looks : str
            Colour, smell, sludge.

        Raises
        ------
        InputError
            For a day to come, or amounts that cannot be.
        """
        formula = self._formula(formula_key)
        today = self._clock.now().date()
        if since is not None and since > today:
            raise InputError(
                f"{since.isoformat()} is still to come", where="since when", remedy="give the day it was mixed"
            )
        if films is not None and not 0 <= films <= MOST_FILMS:
            raise InputError(f"it cannot have seen {films:g} films", where="films", remedy="give 0 or more")
        document: dict[str, object] = {
            "name": name or formula.name,
            "formula": formula.key,
            "amount": volume_ml,
            "filled_on": None if since is None else since.isoformat(),
            "count_known": films is not None,
        }
        if films:
            document["passes"] = [
                {"area_m2": films * film_area_m2(film), "films": films, "note": "before it was written down"}
            ]
        if looks.strip():
            document["notes"] = [{"kind": "looked", "at": self._clock.now().isoformat(), "text": looks.strip()}]
        return self._store.bottles.put(read_document(Bottle, document, where="bath")).id

    def look(self, id: str, text: str) -> BathView:
        """Note what a bath looks or smells like."""
        return self._note(id, {"kind": "looked", "text": text.strip()})

    def top_up(self, id: str, volume_ml: float) -> BathView:
        """Note that so much fresh bath was added; its films are from then on shared by more of it.

        Raises
        ------
        UnsafeError
            For a used bath that must be destroyed: it is not kept, and so not topped up.
        """
        view = self.bath(id)
        if view.residue is not None and view.bottle.passes:
            raise UnsafeError(
                "once used it is not kept for another evening",
                where=view.bottle.name,
                remedy="destroy it, and mix a fresh one",
            )
        note = {"kind": "topped_up", "volume_ml": volume_ml}
        return self._note(id, note, amount=(view.bottle.amount or 0.0) + volume_ml)

    def restore(self, id: str, text: str) -> BathView:
        """Note that a bath was brought back, and with what; the person's own count of its films begins anew.

        What the house reckons of it goes on as before: how much came back it does not know until a clip says so.
        """
        seen = sum(entry.area_m2 for entry in self.bath(id).bottle.passes)
        return self._note(id, {"kind": "restored", "text": text.strip(), "area_m2": seen})

    def clip_test(self, id: str, time_s: float, *, run: str = "") -> BathView:
        """Note how long a clip took in a bath; the same mark of an evening twice is one test.

        Raises
        ------
        InputError
            For a bath that shows nothing on a clip, or a time that cannot be.
        """
        view = self.bath(id)
        clip_told(view.formula, time_s)
        if run and any(note.run == run for note in view.bottle.notes):
            return view
        evening = run.partition("/")[0]
        before = sum(p.area_m2 for p in view.bottle.passes if not evening or p.run.partition("/")[0] != evening)
        return self._note(id, {"kind": "clip", "clip_s": time_s, "area_m2": before, "run": run})

    def clip_words(self, formula: Formula, time_s: float) -> Caution:
        """What a clip tells of a bath of that kind, before it is noted anywhere."""
        return clip_told(formula, time_s, self._fresh_clips(formula)).caution

    def clip_expected_s(self, formula: Formula) -> float:
        """What a clip takes in a fresh bath of that kind, by the records and the person's own tests."""
        return fresh_clip(formula, self._fresh_clips(formula)).time_s.value

    def _note(self, id: str, note: JsonObject, **more: Any) -> BathView:
        with self._store.transaction():
            view = self.bath(id)
            entry = read_document(BathNote, {"at": self._clock.now().isoformat(), **note}, where=view.bottle.name)
            return self._rewrite(view, notes=(*view.bottle.notes, entry), **more)

    def _fresh_clips(self, formula: Formula, *, without: str = "") -> tuple[float, ...]:
        """Seconds of clips in baths of this kind that had seen no film, retired ones too."""
        return tuple(
            note.clip_s
            for row in self._store.bottles.all(retired=True, formula=formula.key)
            if row.id != without
            for note in row.thing.notes
            if note.kind == "clip" and note.clip_s is not None and note.area_m2 == 0
        )

    def count_pass(
        self,
        id: str,
        *,
        film: str = "135-36",
        films: float = 1.0,
        area_m2: float | None = None,
        time_ratio: float = 1.0,
        run: str = "",
    ) -> BathView:
        """Count films that go through a bath now.

        Parameters
        ----------
        film : str
            As `obverse.process.formats.film_said` reads it; `area_m2` (of all the films together) counts before it.
        """
        if area_m2 is None:
            if not 0 < films <= MOST_FILMS:
                raise InputError(
                    f"{films:g} films do not go through a bath", where="films", remedy="give more than 0, such as 1"
                )
            area_m2 = films * film_area_m2(film)
        entry = {
            "area_m2": area_m2,
            "films": films,
            "time_ratio": time_ratio,
            "at": self._clock.now().isoformat(),
            "run": run,
        }
        passed = read_document(BathPass, entry, where="bath")
        with self._store.transaction():
            view = self.bath(id)
            return self._rewrite(view, passes=(*view.bottle.passes, passed))

    def judge(self, id: str, index: int, ghost: bool | None) -> BathView:
        """Say whether a ghost of the negative was seen on the films of a pass; the forecasts of all baths of this kind learn from it."""
        view = self.bath(id)
        if not 0 <= index < len(view.bottle.passes):
            raise InputError(
                f"the bath has seen no film number {index + 1}",
                where=view.bottle.name,
                remedy="choose one of its films",
            )
        passes = list(view.bottle.passes)
        passes[index] = passes[index].model_copy(update={"ghost": ghost})
        return self._rewrite(view, passes=tuple(passes))

    def _verdicts(self) -> dict[str, bool]:
        """What the notebook's trials say of each run: a ghost was among their faults, or the strip was read or graded and none was."""
        seen: dict[str, bool] = {}
        for row in self._store.trials.all():
            run, trial = row.thing.run, row.thing.trial
            if not run or not (trial.faults or trial.steps or trial.grades):
                continue
            seen[run] = seen.get(run, False) or "ghost_negative" in trial.faults
        return seen

    def belief(self, formula: Formula) -> Belief:
        """What all judged films say of this kind of bath, retired bottles too."""
        return self._belief(formula, without="", verdicts=self._verdicts())

    def before_an_evening(
        self, route: Process, area_m2: float, tank_ml: float, *, given: Mapping[str, Formula] | None = None
    ) -> tuple[Caution, ...]:
        """What is to be told before a film is put at risk: baths that are near their end, old ones that still stand, what must leave the room.

        Parameters
        ----------
        area_m2 : float
            Film area of the evening.
        tank_ml : float
            Of a bath that is mixed fresh; a kept one counts as its bottle says.
        given : mapping, optional
            Formulas by key; default the packaged ones.

        Returns
        -------
        tuple of Caution
            `where` is the key of the step, empty for what concerns the evening.
        """
        known = given or self._formulas()
        told = []
        standing = [
            self._bath(row) for row in self._store.bottles.all(own=True) if row.thing.formula in self._formulas()
        ]
        kept = {view.formula.key: view for view in standing}
        for step in route.steps:
            formula = known.get(step.formula or "")
            if formula is None or not has_capacity(formula):
                continue
            view = kept.get(formula.key) if step.after_use == "keep" else None
            told += [
                replace(c, where=step.key)
                for c in self._forecast(formula, view, area_m2, tank_ml).cautions
                if c.code in _BEFORE
            ]
        asked = {step.formula for step in route.steps}
        told += [
            replace(c, text=f"{view.bottle.name}: {c.text}", where="")
            for view in standing
            for c in view.cautions
            if c.code.startswith("destroy.") or (c.code in _CLIP and view.formula.key in asked)
        ]
        told += [replace(finding.caution(), where="") for finding in self._out_of_the_room(route)]
        return tuple(told)

    def destruction(self, id: str) -> tuple[Step, ...]:
        """The steps that destroy this used bath; empty where it may go to its jug."""
        view = self.bath(id)
        return destruction_steps(view.formula, volume_ml=view.bottle.amount or USUAL_BATH_ML)

    def bath_gone(self, id: str, *, destroyed: bool = False) -> None:
        """Take a bath off the list that went elsewhere.

        Raises
        ------
        UnsafeError
            If it must be destroyed and nobody says that it was.
        """
        view = self.bath(id)
        if view.residue is not None and view.bottle.passes and not destroyed:
            raise UnsafeError(
                "it must be destroyed, not only put away",
                where=view.bottle.name,
                remedy="do its destruction steps and say that they are done",
            )
        self._store.bottles.retire(id)

    def _bath(self, row: Stored[Bottle]) -> BathView:
        bottle = row.thing
        if bottle.formula is None:
            raise InputError("it holds a product, not a mixed bath", where=bottle.name, remedy="choose a bath")
        formula = self._formula(bottle.formula)
        age_h = None if bottle.mixed_at is None else (self._clock.now() - bottle.mixed_at).total_seconds() / 3600
        if age_h is None and bottle.filled_on is not None:
            # Only the day is known; its age is that of the evening before.
            age_h = 24.0 * (self._clock.now().date() - bottle.filled_on).days
        age_h = None if age_h is None else max(0.0, age_h)
        view = BathView(row.id, row.revision, bottle, formula, age_h, None, residue_of(formula), ())
        if has_capacity(formula) and bottle.amount:
            expected = self._forecast(formula, view, None, bottle.amount)
            view = replace(view, forecast=expected, cautions=expected.cautions)
        last = next((note for note in reversed(bottle.notes) if note.kind == "clip"), None)
        if last is not None and last.clip_s is not None and clip_does(formula) is not None:
            # A test of a fresh bath is judged by those of other baths, not by itself.
            told = clip_told(formula, last.clip_s, self._fresh_clips(formula, without="" if last.area_m2 else row.id))
            view = replace(view, clip=told, cautions=(told.caution, *view.cautions))
        if view.residue is None or not bottle.passes:
            return view
        # A clock that nobody started counts as run out.
        since = view.clock_started
        minutes = (self._clock.now() - since).total_seconds() / 60 if since else view.residue.deadline_min
        clock = standing_caution(formula, minutes)
        return replace(view, cautions=(clock, *view.cautions)) if clock else view

    def _forecast(self, formula: Formula, view: BathView | None, area_m2: float | None, tank_ml: float) -> Forecast:
        """What the next film may expect of a bath that stands, or of one mixed fresh where `view` is None."""
        verdicts = self._verdicts()
        belief = self._belief(formula, without=view.id if view else "", verdicts=verdicts)
        if view is None or not view.bottle.amount:
            return forecast(formula, volume_ml=tank_ml, next_area_m2=area_m2, belief=belief)
        passes = _passes(view.bottle, formula, verdicts)
        clips = [(note.area_m2, note.clip_s) for note in view.bottle.notes if note.kind == "clip" and note.clip_s]
        strength = AS_MIXED
        if clips and clip_does(formula) is not None:
            fresh = fresh_clip(formula, self._fresh_clips(formula))
            belief, strength = learn_from_clips(
                belief, clips, view.bottle.amount, fresh_log_s=fresh.mean, fresh_sd=fresh.sd
            )
        return forecast(
            formula,
            passes,
            volume_ml=view.bottle.amount,
            next_area_m2=area_m2,
            age_h=view.age_h,
            belief=belief,
            strength=strength,
        )

    def _belief(self, formula: Formula, *, without: str, verdicts: dict[str, bool]) -> Belief:
        """What the other baths of the kind have taught."""
        belief = first_belief(formula)
        for row in self._store.bottles.all(retired=True, formula=formula.key):
            bottle = row.thing
            if row.id != without and bottle.amount:
                belief = learn(belief, _passes(bottle, formula, verdicts), bottle.amount)
        return belief

    def _rewrite(self, view: BathView, **values: Any) -> BathView:
        bottle = view.bottle.model_copy(update=values)
        return self._bath(self._store.bottles.put(bottle, id=view.id, expected_revision=view.revision))


def film_area_m2(film: str) -> float:
    """Area of film as a person says it, m2: "120", "16 mm 3.2 m", "2 x 4x5 in".

    Raises
    ------
    InputError
        Where the size cannot be told from it.
    """
    return area_of_pieces_m2(film_said(film))


def _passes(bottle: Bottle, formula: Formula, verdicts: dict[str, bool]) -> tuple[Pass, ...]:
    """The passes with what was seen of them: what the person said here, else what the notebook's trials of that run say."""
    found = []
    for entry in bottle.passes:
        ghost = entry.ghost
        # A ghost of the negative is the bleach's doing, or the ammonia's; fixer and fogging leave none.
        if ghost is None and formula.role in ("bleach", "halide_solvent"):
            ghost = verdicts.get(entry.run.partition("/")[0])
        found.append(Pass(entry.area_m2, ghost, entry.time_ratio))
    return tuple(found)
