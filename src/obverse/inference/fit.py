"""The fit of one film: draws of its law, and predictions from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from obverse.foundation import QUANTILES_90, Array, Caution, Estimate, InputError, JsonObject, Level
from obverse.inference.elsewhere import DarkroomSaid, OtherDarkroom, beliefs, darkrooms_said
from obverse.inference.evidence import FilmEvidence, gather
from obverse.inference.law import BASE, KNEE_MEAN, K, Law, P, Q, curves_of, knees_of
from obverse.inference.posterior import Posterior, Prior, enough_draws, infer, spread_normals, what_strips_tell
from obverse.inference.readings import EXPOSURE_SD, STRIP_SD, departed
from obverse.inference.told import moved_centre
from obverse.model import (
    AT_ONCE,
    BASE_READ_SD,
    FLAT,
    INDEX,
    LEAST_BASE,
    OBSERVABLES,
    PARAMETERS,
    PLACE,
    PRIOR_MEAN,
    PRIOR_SD,
    natural,
    observables_of,
    with_activity,
)
from obverse.process import CONTROLS, ControlVector, Series
from obverse.sensitometry import GRADIENT_REACH, HIGHLIGHT_OFFSET

if TYPE_CHECKING:
    from obverse.inference.population import Population

# Draws of which a curve and its band are drawn: a line on a page shows no more.
DRAWS_OF_A_BAND = 200
# Log exposures at which a curve is told where nobody asks for others: two decades to either side, ten to a decade.
DRAWN_AT = np.linspace(-2.0, 2.0, 41)
# A measured base is believed no worse than films in general.
MOST_LN_BASE_SD = 0.5
# A curve without a mid-tone whose black is below this lies wholly below the mid-tone, another wholly above.
THIN_BLACK = 1.5
# Seeds beside the film's own, so that strips imagined of it are none of its draws, and of those drawn once more.
OTHER_SEED, FURTHER_SEED = 77, 500
# Of how far strips lie off their coordinates.
DEPARTED_SEED = 78
LIGHTS, GRADIENT, MIDTONE = (
    OBSERVABLES.index(name) for name in ("highlight_density", "gradient", "midtone_log_exposure")
)
# Strips imagined where a number is told to a person, some of each film: the errors of making one are much of its doubt.
STRIPS_IMAGINED = 12288
# Beliefs that the strips decide between: films that nearly obey the process model, loosely, hardly. Their
# departures differ this many times as widely.
BELIEFS = (1.0, 2.2, 5.0)
# What the mid-tone is called where the curve lies wholly below or above its density.
NO_MIDTONE = (-2.4, 2.6)


@dataclass(frozen=True)
class CurveBand:
    """A predicted curve with its 90 % band.

    Parameters
    ----------
    log_exposure, density, low90, high90 : (N,) arrays
        Densities with base; `density` is the median.
    """

    log_exposure: Array
    density: Array
    low90: Array
    high90: Array
    cautions: tuple[Caution, ...] = ()

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "log_exposure": self.log_exposure.tolist(),
            "density": self.density.tolist(),
            "low90": self.low90.tolist(),
            "high90": self.high90.tolist(),
            "cautions": [c.document() for c in self.cautions],
        }


@dataclass(frozen=True)
class FilmFit:
    """What the notebook believes of one film.

    Parameters
    ----------
    drawn : int
        Which of many possible sets of draws these are.
    darkrooms : tuple of DarkroomSaid
        What became of the strips of other darkrooms.
    learned : Population, optional
        What many films taught, where such was adopted.
    """

    series: Series
    evidence: FilmEvidence
    law: Law
    posterior: Posterior
    drawn: int
    darkrooms: tuple[DarkroomSaid, ...] = ()
    learned: Population | None = None

    @property
    def draws(self) -> Array:
        """Draws of the unknowns, shape (M, U)."""
        return self.posterior.draws

    @cached_property
    def further(self) -> FilmFit:
        """The same belief by other draws: numbers that are told to a person stand on both."""
        return replace(self, drawn=self.drawn + FURTHER_SEED, posterior=self.posterior.further())

    @cached_property
    def base(self) -> Array:
        """Base density in each draw, shape (M,)."""
        return np.exp(self.draws[:, BASE])

    @cached_property
    def counted(self) -> dict[str, tuple[Array, float]]:
        """What each draw counts (M,) and the part of the films that can meet it, by the aim that is to be met, as far as it was reckoned."""
        return {}

    @cached_property
    def repeats(self) -> tuple[Array, Array]:
        """One invented strip error per draw: of the controls (M, 5, standardised), of the curve coordinates (M, Q)."""
        z = spread_normals(len(self.draws), [len(CONTROLS), Q + 1], [self.drawn + OTHER_SEED])
        own = z[:, len(CONTROLS) : -1] * STRIP_SD
        own[:, PLACE] += EXPOSURE_SD * z[:, -1]
        # Which error meets which film must not depend on the order the draws were made in.
        order = np.random.default_rng([self.drawn, OTHER_SEED]).permutation(len(z))
        return z[order, : len(CONTROLS)], own[order]

    @cached_property
    def _short(self) -> dict[int, tuple[Array, Array, Array]]:
        return {}

    def _in_short(self, most: int | None = None) -> tuple[Array, Array, Array]:
        """So many draws and errors of one strip of each (`repeats`), in single precision; with the draws last in memory, as all goes draw by draw."""
        pick = self.picked(most)
        if len(pick) not in self._short:
            draws, e_controls, own = (one[pick].astype("f4", order="F") for one in (self.draws, *self.repeats))
            self._short[len(pick)] = draws, e_controls, own
        return self._short[len(pick)]

    def parameters(self) -> dict[str, Estimate]:
        """The parameters of the process model, in their own units."""
        found = {}
        for i, p in enumerate(PARAMETERS):
            values = np.exp(self.draws[:, i]) if p.positive else self.draws[:, i]
            found[p.name] = _estimate(values)
        return found

    def settings(self, controls: Array, *, repeated: bool = False, most: int | None = None) -> Array:
        """Curve coordinates above base in each draw, (M, T, Q).

        Parameters
        ----------
        controls : (T, 5) array
        repeated : bool
            With the errors of making one more strip, in single precision: a search asks very many; otherwise the film's
            law at these very controls.
        most : int, optional
            Use only this many draws.
        """
        if not repeated:
            return self.law.settings(self.draws[self.picked(most)], controls)
        draws, e_controls, own = self._in_short(most)
        return self._made(draws, controls, e_controls[:, None], own[:, None])[:, 0]

    def _made(self, draws: Array, controls: Array, e_controls: Array, own: Array) -> Array:
        """Curve coordinates (M, R, T, Q) of R strips made of each of some films by each recipe, with these errors (M, R, ...) of the controls and their own."""
        exact = draws.dtype
        sd = with_activity(controls, self.tool_sd(controls)).astype(exact)
        features = self.law.feature_values(controls).astype(exact)
        # Each control stands by itself in memory, and the films last: the law takes one after the other.
        meant, off = (np.ascontiguousarray(one.T, dtype=exact)[..., None] for one in (controls, sd))
        (films, strips, _), recipes = e_controls.shape, len(controls)
        found = np.empty((Q, strips, recipes, films), dtype=exact)
        # So few at once that they stay in the processor's own memory: twice as quick.
        rows, parameters = max(1, AT_ONCE // films), natural(draws[:, :P])
        for strip in range(strips):
            by, its_own = e_controls[:, strip].T[:, None], own[:, strip].T[:, None]
            for part in (slice(first, first + rows) for first in range(0, recipes, rows)):
                moved = meant[:, part] + by * off[:, part]
                settled = self.law.settings(draws, moved.T, features=features[part], parameters=parameters)
                found[:, strip, part] = settled.T + its_own
        return np.swapaxes(found, 0, -1)

    def picked(self, most: int | None) -> NDArray[np.int_]:
        """Which draws are used when only so many are wanted: evenly among all."""
        m = len(self.draws) if most is None else min(most, len(self.draws))
        return np.linspace(0, len(self.draws) - 1, m).astype(int)

    def curves(self, controls: Array, log_exposure: Array, *, repeated: bool = False, most: int | None = None) -> Array:
        """Densities with base in each draw, (M, T, N); see `settings`."""
        return curves_of(
            self.settings(controls, repeated=repeated, most=most), self.draws[self.picked(most)], log_exposure
        )

    def tool_sd(self, controls: Array) -> Array:
        """Errors of the person's own tools: what the trials state, else the usual ones; shape of `controls`."""
        sd = ControlVector(controls).dosing_sd()
        for k, name in enumerate(CONTROLS):
            stated = [t.control_sds[name] for t in self.series.trials if name in t.control_sds]
            if stated:
                sd[..., k] = float(np.median(stated))
        return sd

    def observed(self, controls: Array, midtone_density: float, *, repeated: bool, most: int | None = None) -> Array:
        """Observables in each draw, shape (M, T, 4); NaN where there is no mid-tone."""
        settings = self.settings(controls, repeated=repeated, most=most)
        knees = knees_of(self.draws[self.picked(most)]).astype(settings.dtype)
        return observables_of(settings, knees, midtone_density)

    def observed_often(self, controls: Array, midtone_density: float) -> Array:
        """As `observed`, by all draws and with several strips imagined of each film, all films in order, again and again: (n, T, 4)."""
        both = (self, self.further)
        of_each = max(STRIPS_IMAGINED // sum(len(one.draws) for one in both), 1)
        parts = [one._observed_often(controls, midtone_density, of_each) for one in both]
        return np.concatenate(parts, axis=1).reshape(-1, *parts[0].shape[2:])

    def _observed_often(self, controls: Array, midtone_density: float, of_each: int) -> Array:
        draws, e_controls, own = self._in_short()
        # Another film's errors each time: each of them is used as often as before.
        shifts = [k * len(own) // of_each for k in range(of_each)]
        e_controls, own = (np.stack([np.roll(part, by, axis=0) for by in shifts], axis=1) for part in (e_controls, own))
        settings = self._made(draws, controls, e_controls, own)
        observed = observables_of(settings, knees_of(draws)[:, None], midtone_density)
        return np.moveaxis(observed, 1, 0)

    def predict_curve(self, controls: dict[str, float], log_exposure: ArrayLike | None = None) -> CurveBand:
        """Curve of the recipe with its 90 % band; densities with base.

        Raises
        ------
        InputError
            For unknown or impossible controls.
        """
        x = DRAWN_AT if log_exposure is None else np.atleast_1d(np.asarray(log_exposure, dtype=float))
        if not np.all(np.isfinite(x)):
            raise InputError(
                "log exposures must be numbers", where="log_exposure", remedy="leave out what is not a number"
            )
        drawn = self.curves(self.checked(controls), x, most=DRAWS_OF_A_BAND)[:, 0]
        low, mid, high = np.quantile(drawn, QUANTILES_90, axis=0)
        return CurveBand(x, mid, low, high, self.cautions(controls))

    def predict_observables(
        self, controls: dict[str, float], *, midtone_density: float | None = None
    ) -> dict[str, Estimate]:
        """Dmax, highlight density, gradient (above base) and mid-tone exposure of one more strip by this recipe."""
        level = self.series.aim.midtone_density if midtone_density is None else midtone_density
        return summary(self.observed_often(self.checked(controls), level)[:, 0])

    def checked(self, controls: dict[str, float]) -> Array:
        """Controls as an array (1, 5).

        Raises
        ------
        InputError
            If one is unknown, negative or not a number.
        """
        if problem := CONTROLS.problem(controls):
            raise InputError(problem, where="controls", remedy="give zero or more")
        return ControlVector.of([held(self.series) | controls]).values

    def cautions(self, controls: dict[str, float]) -> tuple[Caution, ...]:
        """What to be told about predictions at these controls."""
        found = []
        for name, value in controls.items():
            low, high = CONTROLS[name].sensible
            if not low <= value <= high:
                text = f"{CONTROLS[name].text(value)} lies outside {low:g} to {high:g}, where the model was made; the prediction is a guess"
                found.append(Caution("notebook.far", text, Level.CAUTION, name))
        if self.evidence.grades and not self.evidence.has_readings.any():
            judged = len({grade.strip for grade in self.evidence.grades})
            text = f"learned from words alone, of {judged} strip{'' if judged == 1 else 's'}: as wide as words are"
            found.append(Caution("notebook.by_words", text, Level.NOTE))
        elif not self.evidence.has_readings.any():
            text = "no strip has been read or judged yet: this is what films in general do"
            found.append(Caution("notebook.no_readings", text, Level.NOTE))
        return tuple(found)

    def strip_observables(self, midtone_density: float) -> Array:
        """Observables of the tried strips themselves by all draws, those the film was fitted with first, (N, T, 4), in the order of the series.

        A strip differs from its film's law by the errors of its making; its readings tell how. Reckoned once for each
        mid-tone, and not to be written to.
        """
        if midtone_density not in self._of_strips:
            both = (self, self.further)
            strips = np.concatenate([one.posterior.strips for one in both])
            found = observables_of(strips, np.concatenate([knees_of(one.draws) for one in both]), midtone_density)
            # Too much light on a strip is no fault of its recipe.
            found[..., MIDTONE] -= np.concatenate([one.posterior.exposures for one in both])
            if self.evidence.has_readings.any():
                self._depart(found, strips)
            found = found[:, self.evidence.rows]
            found.flags.writeable = False
            self._of_strips[midtone_density] = found
        return self._of_strips[midtone_density]

    def _depart(self, found: Array, strips: Array) -> None:
        """Observables (N, T, 4) of read strips as they are where no coordinates follow their readings, to the first order."""
        both = (self, self.further)
        common = np.concatenate(
            [np.concatenate([knees_of(one.draws), one.draws[:, None, [BASE]]], axis=-1) for one in both]
        )
        curves = np.concatenate([strips, np.broadcast_to(common, (*strips.shape[:2], K + 1))], axis=-1)
        there = np.isfinite(found[..., MIDTONE])
        # A curve that hardly ever reaches the mid-tone is asked anywhere: nothing of it is told there.
        middle = np.array(
            [np.median(row[has]) if has.any() else 0.0 for row, has in zip(found[..., MIDTONE].T, there.T, strict=True)]
        )
        asked = middle[:, None] + np.array([-GRADIENT_REACH, 0.0, GRADIENT_REACH, HIGHLIGHT_OFFSET])
        normals = spread_normals(len(found), [asked.size], [self.drawn, DEPARTED_SEED]).reshape(
            len(found), *asked.shape
        )
        before, here, beyond, brightest = np.moveaxis(departed(self.evidence, curves, asked, normals), -1, 0)
        found[..., MIDTONE] += here / np.maximum(found[..., GRADIENT], FLAT)
        found[..., GRADIENT] += (before - beyond) / (2 * GRADIENT_REACH)
        found[..., LIGHTS] += brightest

    @cached_property
    def _of_strips(self) -> dict[float, Array]:
        return {}

    def document(self) -> JsonObject:
        """What was learned, as JSON."""
        return {
            "film": self.series.film.name,
            "strips": self.evidence.own_size,
            "parameters": {
                p.name: {
                    **value.document(),
                    "unit": p.unit,
                    "meaning": p.meaning,
                    "prior": {"centre": p.centre, "spread": p.spread, "reason": p.reason, "standing": p.standing.value},
                }
                for p, value in zip(PARAMETERS, self.parameters().values(), strict=True)
            },
            "method": {
                "beliefs": list(self.posterior.weights),
                "rounds": self.posterior.rounds,
            },
        }


def fit_film(
    series: Series,
    *,
    others: Sequence[Series | FilmFit] = (),
    elsewhere: Sequence[OtherDarkroom] = (),
    learned: Population | None = None,
    draws: int | None = None,
    drawn: int = 0,
) -> FilmFit:
    """Learn a film from its strips.

    Parameters
    ----------
    others : sequence of Series or FilmFit, optional
        Other films of the notebook; what they have in common makes further priors that compete
        with the broad one.
    elsewhere : sequence of OtherDarkroom, optional
        Strips of this very film from other darkrooms.
    learned : Population, optional
        What many films and darkrooms taught; competes with the broad prior.
    draws : int, optional
        Draws that stand for what is believed; by default the more, the fewer strips are known.
    drawn : int, optional
        Which of many possible sets of draws. The notebook has the first of them, always; the others measure how little it
        matters (`benchmarks/bench_seeds.py`).

    Returns
    -------
    FilmFit
        What is believed of the film, with what became of the strips of other darkrooms.
    """
    evidence = gather(series, elsewhere)
    if learned is not None:
        evidence = replace(evidence, offset_sds=learned.offset_sds)
    law = Law(evidence.varied)
    alone = [broad_prior(law, series, belief) for belief in BELIEFS]
    shared: list[Prior] = []
    if others:
        from obverse.inference.sharing import shared_priors

        shared = shared_priors(law, series, others)
    if learned is not None:
        shared = [*shared, *learned.priors(law, alone)]
    priors, widest = _priors(evidence, alone, shared, len(elsewhere))
    posterior = infer(evidence, law, priors, draws=draws or enough_draws(evidence.size), drawn=drawn, widest=widest)
    said = _said(evidence, elsewhere, priors, posterior)
    return FilmFit(series, evidence, law, posterior, drawn, said, learned)


def told_by_strips(
    series: Series, elsewhere: Sequence[OtherDarkroom] = (), about: Population | None = None
) -> tuple[FilmEvidence, Array, Array]:
    """What the strips of a film say by themselves, without what is believed of films.

    Parameters
    ----------
    series : Series
        With at least one strip.

    Returns
    -------
    tuple of Evidence, (N, N) and (N,) arrays
        Information and pull, as `what_strips_tell` gives them.
    """
    evidence = gather(series, elsewhere)
    law = Law(evidence.varied)
    alone = [broad_prior(law, series, belief) for belief in BELIEFS]
    if about is not None:
        alone = [about.centred(law, prior) for prior in alone]
    priors, widest = _priors(evidence, alone, [], len(elsewhere))
    return evidence, *what_strips_tell(evidence, law, priors, widest=widest)


def _priors(evidence: FilmEvidence, alone: list[Prior], shared: list[Prior], darkrooms: int) -> tuple[list[Prior], int]:
    """All that is believed possible, and which of it allows the largest departures."""
    if evidence.own_size == evidence.size:
        return [*alone, *shared], len(alone) - 1
    return _with_darkrooms(alone, shared, darkrooms)


def _with_darkrooms(alone: list[Prior], shared: list[Prior], count: int) -> tuple[list[Prior], int]:
    """Each belief about the film with beliefs about the other darkrooms, and which of them is the widest.

    As usual is asked of all beliefs about films; that something is wrong somewhere only of the wider ones, and that no
    other darkroom is believed of the widest. Which strip is odd is judged there: no number of strips from elsewhere
    makes those odd that were made here.
    """
    usual, *some, none_believed = beliefs(count)
    found = [replace(prior, darkrooms=usual, likely=usual.likely / len(alone)) for prior in alone]
    wider = alone[1:]
    found += [replace(prior, darkrooms=one, likely=one.likely / len(wider)) for one in some for prior in wider]
    found.append(replace(alone[-1], darkrooms=none_believed, likely=none_believed.likely))
    # What other films taught comes last, and takes nothing from how all else stands to each other.
    told = [replace(prior, darkrooms=usual, likely=usual.likely * prior.likely / len(shared)) for prior in shared]
    return [*found, *told], len(found) - 1


def _said(
    evidence: FilmEvidence, elsewhere: Sequence[OtherDarkroom], priors: list[Prior], posterior: Posterior
) -> tuple[DarkroomSaid, ...]:
    known = [prior.darkrooms for prior in priors if prior.darkrooms is not None]
    if not known:
        return ()
    counts = [int((evidence.origin == k).sum()) for k in range(len(elsewhere))]
    return darkrooms_said(elsewhere, counts, known, posterior.weights, posterior.offsets, usual=evidence.offset_sds)


def broad_prior(law: Law, series: Series, departures: float = 1.0) -> Prior:
    """Films in general, as far as this one is known before any strip; the base as measured, where it was; departures this many times as wide as usual."""
    mean = np.concatenate([PRIOR_MEAN + moved_centre(series.film), KNEE_MEAN, np.zeros(law.size - P - K)])
    sd = np.concatenate([PRIOR_SD, law.departure_sd(departures)])
    base = series.film.base_density
    if base is not None:
        mean[INDEX["base"]] = np.log(max(base, LEAST_BASE))
        sd[INDEX["base"]] = min(MOST_LN_BASE_SD, BASE_READ_SD / max(base, LEAST_BASE))
    return Prior(mean, sd)


def held(series: Series) -> dict[str, float]:
    """What each control is held at where nobody says otherwise; within the series' own limits."""
    values = CONTROLS.reference()
    for name, control in series.controls.items():
        values[name] = float(np.clip(values[name], control.low, control.high))
    return values


def summary(observed: Array) -> dict[str, Estimate]:
    """Estimates from observables of shape (M, 4); where there is no mid-tone it is called an end of the range."""
    o = observed.astype(float)
    none = ~np.isfinite(o[:, 3])
    thin = none & (o[:, 0] < THIN_BLACK)
    o[none, 3] = np.where(thin[none], *NO_MIDTONE)
    o[none, 1] = np.where(thin[none], 0.0, o[none, 0])
    o[none, 2] = 0.0
    return {name: _estimate(o[:, i]) for i, name in enumerate(OBSERVABLES)}


def _estimate(values: Array) -> Estimate:
    low, mid, high = np.quantile(values, QUANTILES_90)
    return Estimate(float(mid), float(values.std()), float(low), float(high))
