"""The whole notebook as a book: each film with its strips as greys, curves and words; each recipe with its baths and steps."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from obverse.foundation import InputError, JsonObject
from obverse.process import CONTROLS, METRIC, Recipe, Series, Trial, UnitsShown, retold_in
from obverse.sheets.mix_sheet import DEFER
from obverse.sheets.typeset import PAPERS, typeset
from obverse.workbench.contradictions import contradictions
from obverse.workbench.light_table import greys_of, strip_of
from obverse.workbench.recipes import baths_in_words, settled, step_words
from obverse.workbench.words import grades_text

# Layout of a curve: its picture in units of its own, the exposures and densities that it spans.
CURVE_WIDTH, CURVE_HEIGHT = 200.0, 100.0
CURVE_FROM, CURVE_TO, CURVE_DMAX = -2.2, 2.2, 3.0

# Of the house, and no words of a person.
_SENTENCES = frozenset({"controls", "warnings", "baths", "steps"})


def book_pdf(
    films: Sequence[Series],
    recipes: Sequence[Recipe],
    *,
    paper: str = "a4",
    printed_on: date | None = None,
    units: UnitsShown = METRIC,
) -> bytes:
    """The notebook as PDF.

    Parameters
    ----------
    films : sequence of Series
        Each film with its strips, in the order of the book.
    recipes : sequence of Recipe
        As they travel.
    paper : str
        ``"a4"`` or ``"us-letter"``.
    units : UnitsShown
        In what amounts and temperatures are told.
    """
    if paper not in PAPERS:
        raise InputError(f"there is no paper {paper!r}", where="paper", remedy="use a4 or us-letter")
    return typeset("book", retold_in(units, book_data(films, recipes, paper, printed_on), only=_SENTENCES))


def book_data(films: Sequence[Series], recipes: Sequence[Recipe], paper: str, printed_on: date | None) -> JsonObject:
    """What the template is given."""
    strips = sum(len(film.trials) for film in films)
    return {
        "paper": paper,
        "holds": ", ".join((_counted(len(films), "film"), _counted(strips, "strip"), _counted(len(recipes), "recipe"))),
        "printed": f"printed {printed_on}" if printed_on else "",
        "defer": DEFER,
        "films": [_film(series) for series in films],
        "recipes": [_recipe(recipe) for recipe in recipes],
    }


def _film(series: Series) -> JsonObject:
    film, aim = series.film, series.aim
    base = "not measured" if film.base_density is None else f"{film.base_density:.2f}"
    return {
        "name": film.name,
        "facts": f"box speed {film.box_speed:g}, base {base}, aim {aim.name.replace('_', ' ')}",
        "strips": [_strip(trial, film.base_density) for trial in series.trials],
        "against": [one.text for one in contradictions(series.trials)],
    }


def _strip(trial: Trial, base_density: float | None) -> JsonObject:
    patches = sorted(trial.steps, key=lambda patch: patch.log_exposure)
    above = strip_of([patch.density for patch in patches], base_density)
    said = [*grades_text(trial.grades), *(fault.replace("_", " ") for fault in trial.faults)]
    return {
        "name": trial.id,
        "day": ", ".join(part for part in (str(trial.made_on or ""), trial.person) if part),
        "controls": CONTROLS.text(trial.controls),
        "said": ", ".join(said),
        "note": trial.note,
        "greys": [round(100 * grey, 1) for grey in greys_of(above)],
        "curve": _curve([patch.log_exposure for patch in patches], above),
    }


def _curve(log_exposures: Sequence[float], densities: Sequence[float]) -> str:
    """Density above base over log exposure as SVG; empty where two patches do not make a line."""
    if not densities[1:]:
        return ""
    points = " ".join(
        f"{CURVE_WIDTH * (min(max(x, CURVE_FROM), CURVE_TO) - CURVE_FROM) / (CURVE_TO - CURVE_FROM):.1f},"
        f"{CURVE_HEIGHT * (1 - min(d, CURVE_DMAX) / CURVE_DMAX):.1f}"
        for x, d in zip(log_exposures, densities, strict=True)
    )
    middle = CURVE_WIDTH * -CURVE_FROM / (CURVE_TO - CURVE_FROM)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {CURVE_WIDTH:g} {CURVE_HEIGHT:g}">'
        f'<path d="M0 0V{CURVE_HEIGHT:g}H{CURVE_WIDTH:g}M{middle:g} 0V{CURVE_HEIGHT:g}" fill="none" stroke="#b8ae9c"/>'
        f'<polyline points="{points}" fill="none" stroke="#1c1914" stroke-width="2.5"/></svg>'
    )


def _recipe(kept: Recipe) -> JsonObject:
    recipe = settled(kept)
    speed = f"exposed at EI {recipe.exposure_index:g}" if recipe.exposure_index else ""
    return {
        "name": recipe.name,
        "facts": ", ".join(
            part
            for part in (
                recipe.film.name,
                speed,
                recipe.route.name,
                f"revision {recipe.revision}",
                f"{_counted(recipe.evidence.trials, 'strip')} behind it",
            )
            if part
        ),
        "controls": CONTROLS.text(recipe.controls),
        "warnings": list(recipe.route.warnings),
        "baths": [[what, amount] for what, amount in baths_in_words(recipe).items()],
        "steps": [[step.name, step_words(step)] for step in recipe.route.steps],
        "note": recipe.note,
    }


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
