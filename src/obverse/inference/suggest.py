"""What to try next, and when to stop.

A candidate is judged by what it is expected to bring: the chance that it lies in the aim itself,
and, where it does not, the best chance that the strip after it would then have. The second part is
computed over the draws of the film: each draw invents the strip's densities, the draws are
weighted anew by how well they agree with them, and the best candidate is looked up again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from obverse.foundation import Array, Caution, Estimate, InputError, JsonObject, Level
from obverse.inference.borne_out import as_told, learned_part
from obverse.inference.candidates import REACHES, RecipeGrid, neighbours, spread_out, unique, without
from obverse.inference.elsewhere import OtherDarkroom
from obverse.inference.fit import BELIEFS, NO_MIDTONE, FilmFit, fit_film, summary
from obverse.inference.law import knees_of
from obverse.inference.middle import NEAR, at_rest, away, mesh_about
from obverse.inference.population import Population
from obverse.inference.words import BestWords, ControlOff, bracket, named, percent, reason, robustness_words
from obverse.model import OBSERVABLES, SCALE, bounds_of, in_aim, margins, observables_of
from obverse.process import CONTROLS, TIME, Aim, ControlVector, Series, has_evidence
from obverse.reference import number

READY = number("notebook.ready_from")
# Strips proposed at once: what a person makes of one film in an evening.
MOST_AT_ONCE = 12
# A search looks wide with one draw in so many, but no fewer than these, and keeps so many recipes and the latest strips. Of
# those, and of what a strip would teach, no more draws are asked than so many; all draws of the few that can still be the best.
SEARCH_PART, FEWEST_SEARCHED, TAUGHT_DRAWS = 8, 128, 1024
CAN_STILL_WIN = 8
# Draws asked for the middle, recipes times draws in all, and the fewest draws however many recipes.
MIDDLE_DRAWS, MIDDLE_ASKED, FEWEST_MIDDLE = 1024, 1024 * 256, 512
KEPT, LATEST_KEPT = 100, 30
SHORT_LIST = 32
# A recipe just outside by less than half a just noticeable step counts as within reach.
REACHED = 0.5
# Outcomes of a strip that are imagined: one for so many draws, but no fewer than these.
OUTCOMES_PART, FEWEST_OUTCOMES = 21, 64
# Seed of a search: the same notebook gets the same proposal.
SEARCH_SEED = 79
# A recipe has a mid-tone where more than so many of so many draws have one.
OF_DRAWS, HAVE_IT = 4, 3
# A good recipe that repeats less often than this sits near an edge of the aim.
FRAGILE = 0.6
# How well a strip tells its curve coordinates when asking what it would teach, and how much worse words do.
IMAGINED_SD, BY_WORDS = np.array([0.04, 0.15, 0.05, 0.10, 0.10]), 4.0
# A chance nearer to never or always than this is not believed to be surer.
LEAST_CHANCE = number("notebook.chance_least")
# Chances that differ by less than this part of the spread of hit or miss are as good; but a recipe that loses more than
# this part of the best chance is not.
AS_GOOD_SD, AS_GOOD_PART = 0.065, 0.15
# A chance is known to this on any desk (docs/notebook.md): recipes nearer to each other than that cannot be told apart.
KNOWN_TO = 0.02
# Other recipes that are as good: so many are told, of so many that are asked; a recipe is another beyond one step of a tool.
AS_GOOD_TOLD, AS_GOOD_ASKED = 2, 3
# By so few recipes nearly every film meets the aim that can.
COVER = 8
# This part of a strip's worth is for how near the aim it lies, so that the search has a slope where nothing is inside.
FOR_NEARNESS = 0.2 / 1.2
# What a strip in the aim now is worth beyond one that is sure to come next.
HIT_NOW = 0.5
# From this part on a chance is called told by what came true.
MOSTLY = 0.5
# The aim counts as out of reach when fewer draws than this find any recipe that meets it.
OUT_OF_REACH = number("notebook.out_of_reach_below")
# A person sets an aim in the belief that it can be met: films that can meet it within the limits are believed so many
# times more than what films in general would give.
MEANT_TO_BE_MET = number("notebook.meant_to_be_met")
# A strip is made because those before it may not do. Where one of them is good already, another good one is worth so
# much of a first.
WORTH_OF_ANOTHER = 0.2
# The belief by which a strip was made and missed may be wrong about its neighbours in the same way: it counts as if so many
# strips had said it against each miss just there. More than so many misses count as these: where many strips were made the
# belief stands on them, and they are no reason to go anywhere else (docs/notebook-tried.md has how often each came true).
BELIEF_AGAINST_MISSES, MOST_MISSES = 2.0, 3.0
# Where a strip is good so much more often for a base in one half of what is believed of it than in the other, it is the base
# that is to be measured, not another strip.
HANGS_ON_BASE = 0.25
# Film and evening: a strip with the longest first development counts by this part less.
COST_OF_TIME = 0.01


@dataclass(frozen=True)
class Suggestion:
    """One strip to try.

    Parameters
    ----------
    probability_in_aim : float
        That this very strip lies in the aim.
    predicted : dict of Estimate
    gain : float
        Chance that this strip, or failing that the next, lies in the aim.
    log_exposures : tuple of float
        Bracket to expose on the strip.
    """

    controls: dict[str, float]
    probability_in_aim: float
    predicted: dict[str, Estimate]
    gain: float
    reason: str
    log_exposures: tuple[float, ...]
    cautions: tuple[Caution, ...] = ()

    def document(self) -> JsonObject:
        """The JSON shape of contract 2, with the reason, the gain and the bracket added."""
        return {
            "controls": self.controls,
            "probability_in_aim": self.probability_in_aim,
            "predicted": {
                name: {"value": e.value, "low90": e.low90, "high90": e.high90} for name, e in self.predicted.items()
            },
            "gain": self.gain,
            "reason": self.reason,
            "log_exposures": list(self.log_exposures),
            "cautions": [c.document() for c in self.cautions],
        }


@dataclass(frozen=True)
class BestTrial:
    """The tried strip most likely to lie in the aim.

    Parameters
    ----------
    probability_in_aim : float
        That this strip truly lies in the aim.
    probability_repeated : float
        That its recipe, repeated with the errors of the person's own tools, does.
    robustness : tuple of ControlOff
        For each control: what one error of the tool, and one step, does.
    """

    id: str
    in_aim: bool
    probability_in_aim: float
    probability_repeated: float
    observed: dict[str, Estimate]
    robustness: tuple[ControlOff, ...]

    def document(self) -> JsonObject:
        """The JSON shape of contract 2, with what repeating it would bring added."""
        return {
            "id": self.id,
            "in_aim": self.in_aim,
            "probability_in_aim": self.probability_in_aim,
            "probability_repeated": self.probability_repeated,
            "observed": {
                name: {"value": e.value, "low90": e.low90, "high90": e.high90} for name, e in self.observed.items()
            },
            "robustness": [one.document() for one in self.robustness],
        }


@dataclass(frozen=True)
class InTheWay:
    """A bound of the aim that no recipe within the limits meets together with all the others.

    Parameters
    ----------
    sense : str
        "at least" or "at most".
    limit, would_do : float
        What the aim asks, and what would very likely be met.
    """

    observable: str
    sense: str
    limit: float
    would_do: float

    def sentence(self) -> str:
        """Which bound, and how far it would have to give."""
        name = self.observable.replace("_", " ")
        return f"What stands in the way is {name} {self.sense} {self.limit:.2f}; {self.sense} {self.would_do:.2f} could be met."

    def words(self) -> str:
        """What could be met beside other bounds, and what was asked."""
        return f"{self.observable.replace('_', ' ')} {self.sense} {self.would_do:.2f} (asked {self.limit:.2f})"

    def document(self) -> dict[str, str | float]:
        """The JSON shape."""
        return {"observable": self.observable, "sense": self.sense, "limit": self.limit, "would_do": self.would_do}


@dataclass(frozen=True)
class AnotherRecipe:
    """A recipe that is as good as the one proposed by what is known."""

    controls: dict[str, float]
    probability_in_aim: float

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "controls": self.controls,
            "controls_text": CONTROLS.text(self.controls),
            "probability_in_aim": self.probability_in_aim,
        }


@dataclass(frozen=True)
class AsGood:
    """What is as good as the strip proposed, where that is not the only one.

    Parameters
    ----------
    from_percent : int
        Every recipe is, that is told to lie in the aim with so many per cent or more.
    recipes : tuple of AnotherRecipe
        Some of them, as unlike the one proposed and each other as they are found.
    """

    from_percent: int
    recipes: tuple[AnotherRecipe, ...]

    def sentence(self) -> str:
        """Which recipes, and how any other is known to be one of them."""
        told = "; or ".join(CONTROLS.text(one.controls) for one in self.recipes)
        return f"As good by what is known, as is any recipe with a chance of {self.from_percent} % or more: {told}."

    def holds(self, probability: float) -> bool:
        """Whether a recipe with this chance is one of them, as the chance is told."""
        return round(100 * probability) >= self.from_percent

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "from_percent": self.from_percent,
            "recipes": [one.document() for one in self.recipes],
            "sentence": self.sentence(),
        }


@dataclass(frozen=True)
class NextStrips:
    """The answer to "what next".

    Parameters
    ----------
    status : str
        ``"ready"`` when the best tried strip lies in the aim with probability 0.8 or more, else ``"try"``.
    reachable : float
        Probability that any recipe within the limits meets the aim.
    message : str
        One sentence for the person.
    in_the_way : InTheWay or None
        Where the aim is out of reach: the bound that would have to give.
    to_relax : tuple of InTheWay
        Where it is out of reach and one bound alone would not do: all that would have to give together.
    as_good : AsGood or None
        Where one strip is proposed that is not the only one of its worth: others.
    """

    status: str
    suggestions: tuple[Suggestion, ...]
    best_trial: BestTrial | None
    reachable: float
    message: str
    cautions: tuple[Caution, ...]
    in_the_way: InTheWay | None = None
    to_relax: tuple[InTheWay, ...] = ()
    as_good: AsGood | None = None

    def document(self) -> JsonObject:
        """The JSON shape of contract 2; further fields are ours."""
        return {
            "status": self.status,
            "suggestions": [s.document() for s in self.suggestions],
            "best_trial": self.best_trial.document() if self.best_trial else None,
            "reachable": self.reachable,
            "message": self.message,
            "in_the_way": self.in_the_way.document() if self.in_the_way else None,
            "to_relax": [one.document() for one in self.to_relax],
            "as_good": self.as_good.document() if self.as_good else None,
            "cautions": [c.document() for c in self.cautions],
        }


def next_strips(
    series: Series,
    *,
    count: int = 1,
    others: tuple[Series, ...] | list[Series] = (),
    fit: FilmFit | None = None,
    elsewhere: Sequence[OtherDarkroom] = (),
    learned: Population | None = None,
) -> NextStrips:
    """Choose the strips to try next, or say that a tried one is good.

    Parameters
    ----------
    count : int
        Strips of one roll, planned together.
    others : sequence of Series, optional
        Other films of the notebook: they say what to expect, and from the second strip on what to choose.
    fit : FilmFit, optional
        If the film has been fitted already.
    elsewhere : sequence of OtherDarkroom, optional
        Strips of this very film from other darkrooms.
    learned : Population, optional
        What many films taught.

    Raises
    ------
    InputError
        If `count` is not between 1 and 12.
    """
    if not 1 <= count <= MOST_AT_ONCE:
        raise InputError(f"cannot plan {count} strips at once", where="count", remedy=f"ask for 1 to {MOST_AT_ONCE}")
    fit = fit or fit_film(series, others=others, elsewhere=elsewhere, learned=learned)
    chooser = _chooser(fit)
    search = _Search(chooser, series.aim)
    if chooser is fit:
        fit.counted[series.aim.model_dump_json()] = search.told_weight(), search.reachable
    best = _best_trial(fit, series.aim)
    chosen = search.choose(count)
    # What becomes of it is said as well as it is known, by more draws than it is chosen by.
    expected, weight = recipe_draws(fit, np.array([setting for setting, _ in chosen]), series.aim)
    believed = _in_aim(expected, weight, series.aim)
    chances = recipes_as_told(fit, believed, series.aim)
    words = BestWords.of(fit, series.aim, best.id if best else None, best.observed if best else None)
    gains = recipes_as_told(fit, np.clip([gain for _, gain in chosen], 0.0, 1.0), series.aim)
    suggestions = tuple(
        _suggestion(fit, words, setting, float(gains[k]), expected[:, k], float(chances[k]))
        for k, (setting, _) in enumerate(chosen)
    )
    status = "ready" if best and best.probability_in_aim >= READY else "try"
    told = bool(fit.evidence.has_readings.any() or fit.evidence.grades)
    out_of_reach = search.reachable < OUT_OF_REACH and told
    # The aim may be met by some recipe, but by what is known no single one has a chance worth an evening.
    no_chance = (
        told and not out_of_reach and max((s.probability_in_aim for s in suggestions), default=1.0) < OUT_OF_REACH
    )
    stuck = (out_of_reach or no_chance) and status == "try"
    in_the_way = search.in_the_way() if stuck else None
    to_relax = search.to_relax() if stuck and in_the_way is None else ()
    no_midtone = stuck and in_the_way is None and not search.reaches_midtone()
    why = _what_to_relax(in_the_way, to_relax, series.aim.midtone_density if no_midtone else None)
    reachable = _counted(fit, series.aim)[1]
    message, cautions = _message(fit, status, best, suggestions, reachable, out_of_reach, no_chance, why)
    alone = len(suggestions) == 1 and status == "try" and not stuck
    also = _as_good(fit, search, chosen[0][0], float(believed[0])) if alone else None
    return NextStrips(status, suggestions, best, search.reachable, message, cautions, in_the_way, to_relax, also)


def _what_to_relax(in_the_way: InTheWay | None, to_relax: tuple[InTheWay, ...], unreached: float | None) -> str:
    """Which bound of the aim would have to give and how far, or which of them together; or the mid-tone that is not reached."""
    if in_the_way is not None:
        return in_the_way.sentence()
    if unreached is not None:
        could = ", ".join(one.words() for one in to_relax)
        beside = f"; beside it could be met: {could}" if could else ""
        return f"Those that come closest reach no mid-tone of density {unreached:.2f} at all{beside}."
    if len(to_relax) == 1:
        return to_relax[0].sentence()
    if not to_relax:
        return "No bound alone stands in the way; one measured strip would tell more."
    together = ", ".join(one.words() for one in to_relax)
    return f"More than one bound stands in the way; together could be met: {together}."


def _as_good(fit: FilmFit, search: _Search, setting: Array, believed: float) -> AsGood | None:
    """Recipes as good as the one proposed; None where none beyond a step of the tools is found."""
    least = recipes_as_told(fit, np.array(as_good_from(believed)), fit.series.aim)
    found = AsGood(whole_percent(float(least)), ())
    asked = search.others_like(setting, found)
    if not len(asked):
        return None
    chances = recipe_chances(fit, asked, fit.series.aim)
    good = [(one, float(p)) for one, p in zip(asked, chances, strict=True) if found.holds(float(p))]
    recipes = tuple(AnotherRecipe(_controls_of(fit, one), p) for one, p in good[:AS_GOOD_TOLD])
    return replace(found, recipes=recipes) if recipes else None


def as_good_from(believed: float) -> float:
    """The chance, as it is believed, from which a recipe is as good as one of this chance."""
    return max(believed - max(as_good(believed), KNOWN_TO), 0.0)


def whole_percent(told: float) -> int:
    """From how many per cent on, as chances are told: never from none at all."""
    return max(round(100 * told), 1)


def _controls_of(fit: FilmFit, setting: Array) -> dict[str, float]:
    return {name: value for name, value in ControlVector(setting).settings().items() if name in fit.series.controls}


def _chooser(fit: FilmFit) -> FilmFit:
    """The belief the strips are chosen by: the fit, or films in general where nothing of this very film is known.

    Films known already say how this one may behave, not which kind it is. A first strip placed for
    their kind would be lost on a film of another; placed for films in general, it tells the kind.
    """
    told = fit.evidence.has_readings.any() or fit.evidence.grades
    in_general = len(fit.posterior.weights) == len(BELIEFS)
    return fit if told or in_general else fit_film(fit.series, drawn=fit.drawn)


@dataclass(frozen=True)
class _Looked:
    """Recipes asked of some draws: grid indices and controls (T, K), observables (M, T, 4), hopes (M, T), and imagined curves (A, T, Q) of the draws that may be taught."""

    index: NDArray[np.int_]
    controls: Array
    observed: Array
    hope: Array
    imagined: Array

    def only(self, keep: NDArray[np.bool_] | NDArray[np.int_]) -> _Looked:
        """Some of them."""
        return _Looked(
            self.index[keep], self.controls[keep], self.observed[:, keep], self.hope[:, keep], self.imagined[:, keep]
        )


class _Search:
    """Candidates of one fit with, for each draw, whether they would lie in the aim."""

    def __init__(self, fit: FilmFit, aim: Aim):
        self.fit, self.aim = fit, aim
        grid = self.grid = RecipeGrid.of(fit.series)
        rng = np.random.default_rng(SEARCH_SEED)
        own = fit.evidence.recipes[: fit.evidence.own_size]
        tried = grid.index(own) if len(own) else np.zeros((0, len(CONTROLS)), dtype=int)
        # How much each draw of the film still lacks a good strip, and how surely each strip missed.
        good = in_aim(fit.strip_observables(aim.midtone_density)[: len(fit.draws)], aim)
        self.lacks = np.where(good.any(axis=1), WORTH_OF_ANOTHER, 1.0)
        seen = np.array([has_evidence(trial) for trial in fit.series.trials], dtype=bool)
        # A strip that was given more than once missed once.
        rows, first = np.unique(fit.evidence.rows, return_index=True)
        self.missed = np.where(seen, 1.0 - good.mean(axis=0), 0.0)[first]
        self.made = fit.law.positions(fit.evidence.controls[rows])
        index = spread_out(grid)
        if len(tried):
            index = unique(np.concatenate([index, tried[-LATEST_KEPT:]]))
        wide = max(len(fit.draws) // SEARCH_PART, FEWEST_SEARCHED)
        score = self._score(index, wide)
        for reach in REACHES[::-1]:
            if len(index) == grid.size:
                break
            best = index[np.argsort(-score, kind="stable")[:6]]
            more = without(neighbours(grid, best, (reach, 2 * reach), rng), index)
            if len(more):
                index = np.concatenate([index, more])
                score = np.concatenate([score, self._score(more, wide)])
        keep = np.argsort(-score, kind="stable")[:KEPT]
        # What is kept, and what a strip would teach, is asked of no more draws than that needs.
        self.taught = fit.picked(TAUGHT_DRAWS)
        self.kept = self._look(index[keep], TAUGHT_DRAWS)
        self.index, self.observed, self.hope = self.kept.index, self.kept.observed, self.kept.hope
        self.margins = margins(self.observed, aim)
        near = self.margins.min(axis=-1) > -REACHED
        self.cover = _cover(near)
        can, by_few = near.any(axis=1), near[:, self.cover].any(axis=1)
        # Of draws that meet it by none of these few, so many can by another recipe.
        self.others_can = float((can & ~by_few).sum()) / max(float((~by_few).sum()), 1.0)
        weight = self._weight_of(fit)
        weight[self.taught] = np.where(can, MEANT_TO_BE_MET, 1.0)
        self.weight = weight / weight.sum()
        self.reachable = float((weight.mean() - 1.0) / (MEANT_TO_BE_MET - 1.0))
        still = weight * self.lacks
        self.still = still / still.sum()
        outcomes = min(max(len(still) // OUTCOMES_PART, FEWEST_OUTCOMES), len(self.taught))
        self.outcomes = np.linspace(0, len(self.taught) - 1, outcomes).astype(int)
        # A few of them say which recipes can still be the best.
        self.few = np.linspace(0, outcomes - 1, min(FEWEST_OUTCOMES, outcomes)).astype(int)
        self.tried = {tuple(row) for row in tried.tolist()}

    def _score(self, index: NDArray[np.int_], most: int) -> Array:
        observed = self.fit.observed(self.grid.settings(index), self.aim.midtone_density, repeated=True, most=most)
        miss = margins(observed, self.aim).min(axis=-1)
        lacks = self.lacks[self.fit.picked(most)]
        worth: Array = lacks @ _hope(miss) / lacks.sum()
        return worth * self._for_its_time(index) * self._unlike_misses(index)

    def _unlike_misses(self, index: NDArray[np.int_]) -> Array:
        """What is left of the belief in settings (T, K) by the strips near them that missed, (T,)."""
        places = self.fit.law.positions(self.grid.settings(index))
        near = np.exp(-0.5 * ((places[:, None] - self.made) ** 2).sum(axis=-1) / NEAR**2)
        misses = np.minimum(near @ self.missed, MOST_MISSES)
        result: Array = BELIEF_AGAINST_MISSES / (BELIEF_AGAINST_MISSES + misses)
        return result

    def _for_its_time(self, index: NDArray[np.int_]) -> Array:
        time = CONTROLS.place(TIME)
        # In proportion, so that where hardly anything has a chance it is still the chance that decides, not the clock.
        result: Array = 1.0 - COST_OF_TIME * index[:, time] / max(self.grid.count[time], 1)
        return result

    def told_weight(self) -> Array:
        """What each of the draws counts that numbers are told from, (N,)."""
        weight = self._weight_of(self.fit.further)
        both = np.concatenate([self.weight, weight / weight.sum()])
        result: Array = both / both.sum()
        return result

    def _weight_of(self, fit: FilmFit) -> Array:
        """What each draw of a fit counts, (M,): by the few recipes by which most films meet the aim, and as many of the others as can."""
        otherwise = 1.0 + (MEANT_TO_BE_MET - 1.0) * self.others_can
        if not self.cover:
            return np.full(len(fit.draws), otherwise)
        observed = fit.observed(self.kept.controls[self.cover], self.aim.midtone_density, repeated=True)
        can = (margins(observed, self.aim).min(axis=-1) > -REACHED).any(axis=1)
        return np.where(can, MEANT_TO_BE_MET, otherwise)

    def others_like(self, setting: Array, good: AsGood) -> Array:
        """Controls (T, K) of untried recipes that seem as good as one, none within a step of it, the most unlike first."""
        here = self.grid.index(setting[None])[0]
        weight = self.weight[self.taught] / self.weight[self.taught].sum()
        chances = weight @ (self.margins.min(axis=-1) >= 0)
        told = recipes_as_told(self.fit, np.clip(chances, 0.0, 1.0), self.aim)
        fit = np.array([good.holds(float(p)) for p in told]) & (np.abs(self.index - here) > 1).any(axis=1)
        fit &= np.array([tuple(row) not in self.tried for row in self.index.tolist()])
        left, far = self.index[fit], np.full(int(fit.sum()), np.inf)
        found: list[NDArray[np.int_]] = []
        while len(found) < min(AS_GOOD_ASKED, len(left)):
            far = np.minimum(far, away(self.grid, self.fit.law, left, (found[-1] if found else here).astype(float)))
            found.append(left[int(far.argmax())])
        return self.grid.settings(np.array(found)) if found else np.empty((0, len(here)))

    def in_the_way(self) -> InTheWay | None:
        """The one bound of the aim that would have to give, and to where; None where more than one stands in the way.

        For each draw of the film and each bound: how far short the best recipe falls of it, of those that
        meet all others. The bound that gives least, in just noticeable steps, is named.
        """
        found: list[tuple[float, InTheWay]] = []
        bounds = bounds_of(self.aim)
        for b, (name, sign, limit) in enumerate(bounds):
            others = np.delete(self.margins, b, axis=-1)
            met = (others >= 0).all(axis=-1)
            there = np.isfinite(self.observed[..., OBSERVABLES.index(name)])
            short = np.where(met & there, np.maximum(-self.margins[..., b], 0.0), np.inf).min(axis=1)
            # In three draws out of four this much would do.
            give = float(np.sort(short)[3 * len(short) // 4])
            if np.isfinite(give):
                found.append(
                    (
                        give,
                        InTheWay(name, "at least" if sign > 0 else "at most", limit, limit - sign * give * SCALE[name]),
                    )
                )
        return min(found, key=lambda one: one[0])[1] if found else None

    def to_relax(self) -> tuple[InTheWay, ...]:
        """The bounds that would have to give, and to where, for the recipe that falls short by the least in all.

        In three draws out of four each bound falls short of what the aim asks by no more than is told. A bound of what
        is not there at all, on a curve that does not reach the mid-tone, is none that could give.
        """
        bounds = bounds_of(self.aim)
        if not bounds:
            return ()
        recipe, least = self._least_short()
        # A curve that does not reach the mid-tone has nothing that could be told but its blacks.
        there = self._there(recipe)
        return tuple(
            InTheWay(name, "at least" if sign > 0 else "at most", limit, limit - sign * float(give) * SCALE[name])
            for (name, sign, limit), give in zip(bounds, least, strict=True)
            if give > 0 and name in there
        )

    def reaches_midtone(self) -> bool:
        """Whether any of the best recipes reaches the mid-tone, in three draws out of four."""
        return "midtone_log_exposure" in self._there(self._least_short()[0])

    def _there(self, recipe: int) -> set[str]:
        """The observables that a recipe has in three draws out of four."""
        draws = np.isfinite(self.observed[:, recipe]).sum(axis=0)
        return {
            name
            for name, count in zip(OBSERVABLES, draws, strict=True)
            if OF_DRAWS * count > HAVE_IT * len(self.observed)
        }

    def _least_short(self) -> tuple[int, Array]:
        """The recipe that falls short by the least in all, of those that reach the mid-tone if any does, and by how much of each bound (B,)."""
        short = np.sort(np.maximum(-self.margins, 0.0), axis=0)[HAVE_IT * len(self.margins) // OF_DRAWS]
        reached = np.isfinite(self.observed[..., OBSERVABLES.index("midtone_log_exposure")]).sum(axis=0)
        whole = OF_DRAWS * reached > HAVE_IT * len(self.observed)
        in_all = short.sum(axis=1)
        recipe = int(np.argmin(np.where(whole, in_all, np.inf) if whole.any() else in_all))
        return recipe, short[recipe]

    def _imagined_sd(self) -> Array:
        """How well a strip yet to be made would tell its curve: as well as the strips so far were read."""
        e = self.fit.evidence
        if e.grades and not e.has_readings.any():
            return IMAGINED_SD * BY_WORDS
        typical = float(np.median(e.density_sd[e.known])) if e.known.any() else number("notebook.reading_sd")
        result: Array = IMAGINED_SD * np.clip(typical / number("notebook.reading_sd"), 1.0, BY_WORDS)
        return result

    def choose(self, count: int) -> list[tuple[Array, float]]:
        """Settings and gain of the strips to try."""
        worth = (self.still[self.taught] @ self.hope) * self._for_its_time(self.index)
        fresh = np.array([tuple(row) not in self.tried for row in self.index.tolist()])
        if not fresh.any():
            fresh[:] = True
        short = self.kept.only(np.flatnonzero(fresh)[np.argsort(-worth[fresh], kind="stable")[:SHORT_LIST]])
        told = np.zeros((len(self.outcomes), len(self.taught)), dtype=self.hope.dtype)
        done = np.zeros(len(self.still))
        found: list[tuple[Array, float]] = []
        taken: set[tuple[int, ...]] = set()
        for _ in range(min(count, len(short.index))):
            left = short.only(np.array([tuple(row) not in taken for row in short.index.tolist()]))
            if not len(left.index):
                break
            seems = self._values(left, told[self.few], done, self.outcomes[self.few])[0]
            closer = self._look(left.index[np.argsort(-seems, kind="stable")[:CAN_STILL_WIN]])
            best = closer.index[int(np.argmax(self._values(closer, told, done, self.outcomes)[0]))]
            one = self._look(self._middle(best, done, self.tried | taken)[None])
            gain = float(self._values(one, told, done, self.outcomes)[1][0])
            taken.add(tuple(one.index[0].tolist()))
            told = told - 0.5 * _apart(one.imagined[self.outcomes, 0], one.imagined[:, 0])
            done = np.maximum(done, one.hope[:, 0])
            found.append((one.controls[0], gain))
        return found

    def _look(self, index: NDArray[np.int_], most: int | None = None) -> _Looked:
        """Ask settings (T, K) of all draws, or of so many."""
        controls = self.grid.settings(index)
        settings = self.fit.settings(controls, repeated=True, most=most)
        asked = self.fit.picked(most)
        observed = observables_of(
            settings, knees_of(self.fit.draws[asked]).astype(settings.dtype), self.aim.midtone_density
        )
        hope = _hope(margins(observed, self.aim).min(axis=-1)) * self._unlike_misses(index).astype(observed.dtype)
        taught = settings if len(asked) == len(self.taught) else settings[self.taught]
        imagined = (taught - taught.mean(axis=0)) / self._imagined_sd().astype(settings.dtype)
        return _Looked(index, controls, observed, hope, imagined)

    def _values(self, looked: _Looked, told: Array, done: Array, outcomes: NDArray[np.int_]) -> tuple[Array, Array]:
        """What each of some recipes is worth with the strip after it, and the chance that one of the two is a hit.

        Parameters
        ----------
        looked : _Looked
            Asked of all draws, or of those that may be taught.
        told : (O, A) array
            By the strips chosen before: how well each draw that may be taught agrees with each outcome.
        done : (M,) array
            How good each draw of all has a strip by them.
        outcomes : (O,) int array
            Which of the draws that may be taught are imagined as outcomes.
        """
        every = len(looked.hope) == len(self.still)
        still, done = (self.still, done) if every else (self.still[self.taught], done[self.taught])
        among = self.taught[outcomes] if every else outcomes
        still, of_outcome = still / still.sum(), still[among] / still[among].sum()
        before = np.log(self.still[self.taught]).astype(told.dtype) + told
        likely, gains = np.empty(len(looked.index)), np.empty(len(looked.index))
        for s in range(len(looked.index)):
            weight_log = before - 0.5 * _apart(looked.imagined[outcomes, s], looked.imagined[:, s])
            weight = np.exp(weight_log - weight_log.max(axis=1, keepdims=True))
            then = (weight @ self.hope).max(axis=1) / weight.sum(axis=1)
            hit = np.maximum(done, looked.hope[:, s])
            # The few outcomes are asked only for what follows a miss; how often it is a hit all draws say.
            likely[s] = float(still @ hit)
            missed = of_outcome * (1.0 - hit[among])
            gains[s] = likely[s] + (1.0 - likely[s]) * float(missed @ then) / max(float(missed.sum()), 1e-9)
        return (gains + HIT_NOW * likely) * self._for_its_time(looked.index), gains

    def _middle(self, best: NDArray[np.int_], done: Array, known: set[tuple[int, ...]]) -> NDArray[np.int_]:
        """The setting to take for the best one (K,): the middle of those about it that may be as good for all the draws say."""
        mesh = without(mesh_about(self.grid, self.fit.law, best), np.array([*known], dtype=int).reshape(-1, len(best)))
        if not len(mesh):
            return best
        # The more recipes, the fewer draws: the middle is a mean over all of them.
        most = max(min(MIDDLE_DRAWS, MIDDLE_ASKED // len(mesh)), FEWEST_MIDDLE)
        worth = self._chances(mesh, done, most)
        itself = float(self._chances(best[None], done, most)[0])
        most_worth = max(float(worth.max()), itself)
        good = most_worth - as_good(most_worth)
        if itself < good or worth.max() < good:
            # Taken for what it teaches, not for its chance, and its likelier neighbours would not do as well; or alone.
            return best
        middle = at_rest(self.grid, self.fit.law, mesh, worth, as_good(most_worth), best)
        nearest: NDArray[np.int_] = np.round(middle).astype(int)
        if tuple(nearest.tolist()) not in known and self._chances(nearest[None], done, most)[0] >= good:
            return nearest
        # Where the middle itself is not as good: of those that are, the one nearest to it.
        far = away(self.grid, self.fit.law, mesh, middle)
        result: NDArray[np.int_] = mesh[int(np.argmin(np.where(worth >= good, far, np.inf)))]
        return result

    def _chances(self, index: NDArray[np.int_], done: Array, most: int) -> Array:
        """How often each of some settings is a hit where those chosen before are not, asked of so many draws; less its cost."""
        asked = self.fit.picked(most)
        observed = self.fit.observed(self.grid.settings(index), self.aim.midtone_density, repeated=True, most=most)
        hope = _hope(margins(observed, self.aim).min(axis=-1))
        lacking = self.still[asked] / self.still[asked].sum()
        result: Array = (
            ((lacking * (1.0 - done[asked])) @ hope) * self._for_its_time(index) * self._unlike_misses(index)
        )
        return result


def as_good(best: float) -> float:
    """By how much less a chance may be than the best and be as good: so little no person's few strips will ever tell."""
    often = min(max(best, LEAST_CHANCE), 1.0 - LEAST_CHANCE)
    return min(AS_GOOD_SD * float(np.sqrt(often * (1.0 - often))), AS_GOOD_PART * best)


def _cover(near: NDArray[np.bool_]) -> list[int]:
    """The few of some recipes by which most draws (M, T) are near."""
    left, found = near.any(axis=1), list[int]()
    while left.any() and len(found) < COVER:
        found.append(int(near[left].sum(axis=0).argmax()))
        left &= ~near[:, found[-1]]
    return found


def _apart(some: Array, all_of_them: Array) -> Array:
    """Squared distances between rows of (A, Q) and (B, Q): (A, B)."""
    squared = (some**2).sum(axis=1)[:, None] + (all_of_them**2).sum(axis=1) - 2.0 * some @ all_of_them.T
    result: Array = np.maximum(squared, 0.0)
    return result


def _soft(miss: Array) -> Array:
    """1 inside, falling with the distance outside in just noticeable steps."""
    return np.exp(np.minimum(miss, 0.0))


def _hope(miss: Array) -> Array:
    """What a strip is worth, 0 to 1: most of it for lying inside, the rest for how near, in just noticeable steps."""
    result: Array = FOR_NEARNESS * _soft(miss)
    return result + (1.0 - FOR_NEARNESS) * (miss >= 0).astype(miss.dtype)


def nearest_strip(fit: FilmFit, aim: Aim) -> int | None:
    """Place in the series of the strip most likely to lie in the aim, of those that were read or judged; None without one.

    Whoever names the nearest strip, or counts from it, asks here, so that all name the same.

    Returns
    -------
    int or None
        Index into ``fit.series.trials``, from 0.
    """
    seen = np.array([has_evidence(trial) for trial in fit.series.trials], dtype=bool)
    if not seen.any():
        return None
    miss = margins(fit.strip_observables(aim.midtone_density), aim).min(axis=-1)
    order = (miss >= 0).mean(axis=0) + 1e-3 * _soft(miss).mean(axis=0)
    return int(np.argmax(np.where(seen, order, -1.0)))


def strip_chance(fit: FilmFit, place: int, aim: Aim) -> float:
    """The chance that a strip, as it was made, lies in the aim.

    Whoever tells it asks here, so that all tell the same.

    Parameters
    ----------
    place : int
        Index into ``fit.series.trials``, from 0.
    """
    return float(strip_chances(fit, aim)[place])


def strip_chances(fit: FilmFit, aim: Aim) -> Array:
    """The chance of each strip of a film, as it was made, to lie in the aim; see `strip_chance`.

    Returns
    -------
    array (T,)
        In the order of ``fit.series.trials``.
    """
    found: Array = in_aim(fit.strip_observables(aim.midtone_density), aim).mean(axis=0)
    return found


def recipe_draws(fit: FilmFit, settings: Array, aim: Aim) -> tuple[Array, Array]:
    """Observables of strips to be made by some recipes, and what each draw counts.

    Parameters
    ----------
    settings : array (T, 5)
        Controls, one row a recipe.

    Returns
    -------
    tuple of arrays
        Observables (N, T, 4) and weights (N,) that add up to one: an aim is set to be met, so that films which can meet it
        count for more.
    """
    observed = fit.observed_often(settings, aim.midtone_density)
    weight, _ = _counted(fit, aim)
    times = len(observed) // len(weight)
    return observed, np.tile(weight / times, times)


def recipe_chances(fit: FilmFit, settings: Array, aim: Aim) -> Array:
    """The chance that a strip made by each of some recipes, with the errors of the person's tools, lies in the aim.

    Whoever tells it asks here, so that all tell the same.

    Parameters
    ----------
    settings : array (T, 5)
        Controls, one row a recipe.

    Returns
    -------
    array (T,)
    """
    return recipes_as_told(fit, _in_aim(*recipe_draws(fit, settings, aim), aim), aim)


def recipes_as_told(fit: FilmFit, believed: Array, aim: Aim) -> Array:
    """What is told of recipes that are believed to lie in the aim, or to keep a bound of it, with some chances.

    Parameters
    ----------
    believed : array (...)
        What the draws say.

    Returns
    -------
    array (...)
        See `obverse.inference.borne_out`.
    """
    return as_told(fit, believed, _counted(fit, aim)[1])


def _in_aim(observed: Array, weight: Array, aim: Aim) -> Array:
    """The part of the weight (N,) of which observables (N, T, 4) lie in the aim, (T,)."""
    found: Array = np.clip(weight @ in_aim(observed, aim), 0.0, 1.0)
    return found


def recipe_chance(fit: FilmFit, controls: dict[str, float], aim: Aim | None = None) -> float:
    """The chance that a strip made by a recipe lies in the aim; see `recipe_chances`.

    Parameters
    ----------
    controls : dict of str to float
    aim : Aim, optional
        That of the series where it is absent.

    Raises
    ------
    InputError
        For unknown or impossible controls.
    """
    return float(recipe_chances(fit, fit.checked(controls), aim or fit.series.aim)[0])


def _counted(fit: FilmFit, aim: Aim) -> tuple[Array, float]:
    """What each draw that numbers are told from counts where an aim is to be met, (N,), and the part of the believed films that can."""
    key = aim.model_dump_json()
    if key not in fit.counted:
        search = _Search(fit, aim)
        fit.counted[key] = search.told_weight(), search.reachable
    return fit.counted[key]


def _best_trial(fit: FilmFit, aim: Aim) -> BestTrial | None:
    j = nearest_strip(fit, aim)
    if j is None:
        return None
    observed = fit.strip_observables(aim.midtone_density)
    probability = strip_chance(fit, j, aim)
    estimates = summary(observed[:, j])
    middle = np.array([e.value for e in estimates.values()])
    name = fit.series.trials[j].id
    nominal = fit.evidence.recipes[[fit.evidence.rows[j]]]
    return BestTrial(
        name,
        bool(in_aim(middle, aim) and probability >= 0.5),
        probability,
        float(recipe_chances(fit, nominal, aim)[0]),
        estimates,
        robustness_words(fit, aim, nominal, lambda settings: recipe_chances(fit, settings, aim)),
    )


def _suggestion(
    fit: FilmFit, words: BestWords, setting: Array, gain: float, observed: Array, chance: float
) -> Suggestion:
    controls = _controls_of(fit, setting)
    predicted = summary(observed)
    return Suggestion(
        controls,
        chance,
        predicted,
        gain,
        reason(words, controls, predicted),
        bracket(predicted["midtone_log_exposure"]),
        fit.cautions(controls),
    )


def _untried(fit: FilmFit, suggestion: Suggestion) -> Caution | None:
    """Says where a suggestion lies outside all that was tried by more than a step that a person makes on purpose."""
    if not fit.evidence.size:
        return None
    low, high = ControlVector(fit.evidence.recipes.min(axis=0)), ControlVector(fit.evidence.recipes.max(axis=0))
    outside = [
        f"{CONTROLS[name].text(value)} (tried {_span(float(low[CONTROLS[name]]), float(high[CONTROLS[name]]))})"
        for name, value in suggestion.controls.items()
        if not low[CONTROLS[name]] - CONTROLS[name].handy_step
        <= value
        <= high[CONTROLS[name]] + CONTROLS[name].handy_step
    ]
    if not outside:
        return None
    return Caution("notebook.untried", f"it lies outside all that was tried: {', '.join(outside)}", Level.NOTE)


def _span(low: float, high: float) -> str:
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


def _contrast_unsaid(fit: FilmFit, strip: str) -> bool:
    """Whether of a strip that the eye alone has judged its contrast is less sure than all else, and nobody has told it."""
    trial = next(trial for trial in fit.series.trials if trial.id == strip)
    aim = fit.series.aim
    if any(grade.of == "contrast" for grade in trial.grades) or aim.gradient_min is aim.gradient_max is None:
        return False
    place = fit.series.trials.index(trial)
    observed = fit.strip_observables(aim.midtone_density)[:, place]
    met = margins(observed, aim) >= 0
    contrast = np.array([name == "gradient" for name, _, _ in bounds_of(aim)])
    return bool(met[:, contrast].all(axis=-1).mean() < met[:, ~contrast].all(axis=-1).mean())


def _hangs_on_base(fit: FilmFit, strip: str) -> bool:
    """Whether it is a base that nobody measured which leaves open if a strip lies in the aim: all densities of it count from there."""
    if fit.series.film.base_density is not None:
        return False
    place = next(k for k, trial in enumerate(fit.series.trials) if trial.id == strip)
    good = in_aim(fit.strip_observables(fit.series.aim.midtone_density), fit.series.aim)[:, place]
    base = np.concatenate([fit.base, fit.further.base])
    clear = base < np.median(base)
    return bool(abs(good[clear].mean() - good[~clear].mean()) > HANGS_ON_BASE)


def _message(
    fit: FilmFit,
    status: str,
    best: BestTrial | None,
    suggestions: tuple[Suggestion, ...],
    reachable: float,
    out_of_reach: bool,
    no_chance: bool,
    why: str,
) -> tuple[str, tuple[Caution, ...]]:
    cautions: list[Caution] = []
    if status == "try":
        cautions += [caution for s in suggestions[:1] if (caution := _untried(fit, s))]
    if fit.evidence.grades and not fit.evidence.has_readings.any():
        cautions.append(
            Caution(
                "notebook.eyes_only",
                "only the eye has judged so far; one measured strip would say much more",
                Level.NOTE,
            )
        )
        if best is not None and status == "try" and _contrast_unsaid(fit, best.id):
            text = f"of {named(best.id)} nobody has said whether its contrast is flat, right or hard; no other word tells that"
            cautions.append(Caution("notebook.contrast_unsaid", text, Level.NOTE))
    if best is not None and status == "try" and _hangs_on_base(fit, best.id):
        text = f"whether {named(best.id)} is good hangs on the base of this film, which nobody has measured: read a piece of it cleared of all silver"
        cautions.append(Caution("notebook.base_unmeasured", text, Level.NOTE))
    if status == "ready" and best is not None:
        name = named(best.id)
        text = (
            f"{name[0].upper()}{name[1:]} is good: it lies in the aim with probability {percent(best.probability_in_aim)}, "
            f"and repeated with your tools with {percent(best.probability_repeated)}."
        )
        if best.probability_repeated < FRAGILE:
            edge = "the recipe sits near an edge of the aim: repeated, it may miss it; see what each control does"
            cautions.append(Caution("notebook.fragile", edge, Level.CAUTION))
        return text, tuple(cautions)
    if out_of_reach:
        can = "cannot reach" if fit.evidence.has_readings.any() else "by your words hardly reaches"
        foretold = suggestions[0].predicted
        # Without a mid-tone the curve has no gradient and no lights to be told.
        there = foretold["midtone_log_exposure"].value not in NO_MIDTONE
        names = list(foretold) if there else ["dmax"]
        shown = ", ".join(f"{name.replace('_', ' ')} {foretold[name].value:.2f}" for name in names)
        shown += "" if there else ", no mid-tone"
        cautions.append(
            Caution(
                "notebook.out_of_reach",
                f"within the limits of the controls this film {can} this aim",
                Level.CAUTION,
            )
        )
        return f"This film {can} this aim within these limits; the strip proposed is foretold at {shown}. {why}", tuple(
            cautions
        )
    if not fit.evidence.own_size and fit.darkrooms:
        lent = fit.evidence.size
        told = f"{'one strip' if lent == 1 else f'{lent} strips'} of this film from other darkrooms"
        return f"Nothing has been tried here: this strip follows from {told}.", tuple(cautions)
    if no_chance:
        best_chance = percent(max(s.probability_in_aim for s in suggestions))
        cautions.append(
            Caution(
                "notebook.hardly_in_reach",
                "by what is known no recipe within the limits has a fair chance: the aim may be out of reach",
                Level.CAUTION,
            )
        )
        return f"No recipe within these limits has more than {best_chance} by what is known. {why}", tuple(cautions)
    if not fit.evidence.size:
        start = "Nothing has been tried: this strip is a start for films in general, and will teach the most."
        told = " Its chance is told by how often such strips came true on invented films."
        return f"{start}{told if learned_part(fit, reachable) > MOSTLY else ''}", tuple(cautions)
    return f"Try {'this strip' if len(suggestions) == 1 else 'these strips'} next.", tuple(cautions)
