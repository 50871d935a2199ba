"""Mixed baths: what they have seen, and what the next film may expect."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from obverse.foundation import Caution, InputError, UnsafeError, read_document
from obverse.process import FORMATS, BathPass, Bottle, Formula, Process, Step, area_of_pieces_m2, film_said
from obverse.safety import Residue, destruction_steps, residue_of, standing_caution
from obverse.safety.bath_life import Belief, Forecast, Pass, first_belief, forecast, has_capacity, learn
from obverse.workbench.care.hazards import Hazards

if TYPE_CHECKING:
    from obverse.store import Stored

# What a form offers; any size may be written, one that goes by length with its length.
FILMS = (*(key for key, one in FORMATS.items() if one.kind != "length"), "16 mm, 30.5 m", "double-8, 7.5 m")

# Cautions of a forecast that belong before the evening.
_BEFORE = ("bath.ghost", "bath.weak", "bath.soon", "bath.old")


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

    @property
    def clock_started(self) -> datetime | None:
        """When the clock of what must be destroyed began; None where nothing runs."""
        if self.residue is None or not self.bottle.passes:
            return None
        if self.residue.from_mixing:
            return self.bottle.mixed_at or self.bottle.passes[0].at
        return self.bottle.passes[0].at or self.bottle.mixed_at

    def document(self) -> dict[str, Any]:
        """The JSON shape."""
        return {
            "id": self.id,
            "revision": self.revision,
            "name": self.bottle.name,
            "formula": self.formula.key,
            "volume_ml": self.bottle.amount,
            "age_h": self.age_h,
            "passes": [entry.model_dump(mode="json") for entry in self.bottle.passes],
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
        kept = [self._bath(row) for row in self._store.bottles.all(own=True) if row.thing.formula in known]
        order = {"danger": 0, "caution": 1, "note": 2}
        return sorted(kept, key=lambda view: min((order[c.level.value] for c in view.cautions), default=2))

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
        view = self.bath(id)
        if area_m2 is None:
            area_m2 = films * film_area_m2(film)
        entry = {
            "area_m2": area_m2,
            "films": films,
            "time_ratio": time_ratio,
            "at": self._clock.now().isoformat(),
            "run": run,
        }
        passed = read_document(BathPass, entry, where="bath")
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
        told += [
            replace(c, text=f"{view.bottle.name}: {c.text}", where="")
            for view in standing
            for c in view.cautions
            if c.code.startswith("destroy.")
        ]
        told += [replace(finding.caution(), where="") for finding in self._out_of_the_room(route)]
        return tuple(told)

    def destruction(self, id: str) -> tuple[Step, ...]:
        """The steps that make this used bath harmless; empty where it may go to its jug."""
        view = self.bath(id)
        return destruction_steps(view.formula, volume_ml=view.bottle.amount or 500.0)

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
        age_h = None if age_h is None else max(0.0, age_h)
        view = BathView(row.id, row.revision, bottle, formula, age_h, None, residue_of(formula), ())
        if has_capacity(formula) and bottle.amount:
            expected = self._forecast(formula, view, None, bottle.amount)
            view = replace(view, forecast=expected, cautions=expected.cautions)
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
        return forecast(
            formula, passes, volume_ml=view.bottle.amount, next_area_m2=area_m2, age_h=view.age_h, belief=belief
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
            ghost = verdicts.get(entry.run.split("/", 1)[0])
        found.append(Pass(entry.area_m2, ghost, entry.time_ratio))
    return tuple(found)
