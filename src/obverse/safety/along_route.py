"""Along a route: what is met in each bath, from bath to bath, in the jugs and in what is kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from obverse.foundation import Level
from obverse.process import Formula, Process, Rinse, Step
from obverse.process.catalog import substances
from obverse.safety.airborne import Room
from obverse.safety.amounts import of_bath
from obverse.safety.check import (
    as_worked,
    carried_into,
    check_mixture,
    dissolves_silver,
    formula_of,
    into_rinse,
    met_apart,
    not_judged,
    of_own_bath,
    rinse_factor,
    rinsed,
    volumes,
    water_factor,
    worst_and_once,
)
from obverse.safety.derived import finding_of, weighed
from obverse.safety.engine import assess
from obverse.safety.evening import evening_findings
from obverse.safety.film import film_findings
from obverse.safety.finding import Finding
from obverse.safety.matter import Ingredient, Matter, of_formula, of_substance, of_thing
from obverse.safety.rules import Context
from obverse.safety.setting import Effect, setting_for

# A part thinner than this is no longer followed along the route.
_FORGOTTEN = 1e-12
# Of a bath that is thinner than this the engine has nothing more to reckon; a last bath so thin is rinsed off the reel. Ours.
_WASHED_OUT, _RINSED_OUT = 1e-3, 3e-3


def check_route(
    route: Process,
    formulas: Mapping[str, Formula],
    *,
    retained_ml: float | None = None,
    tank_ml: float | None = None,
    room: Room | None = None,
) -> tuple[Finding, ...]:
    """Everything met along a route: in each bath, from bath to bath, in the jugs, and in what is kept.

    What is carried is followed through every bath and rinse, not only to the next one: a bath that
    comes without a rinse dilutes like a fill. The end of the route is followed into the first bath of
    the next roll, because reel and tank are the same. The engine reckons each bath and each carry-over in
    the amounts of the tank and for the person's room.

    Raises
    ------
    InputError
        If a step names a formula that is not given.
    """
    formulas = route.baths(formulas)
    found: list[Finding] = []
    carried: tuple[Ingredient, ...] = ()
    neighbour = ""
    before: Step | None = None
    left = 1.0
    retained, fill = volumes(retained_ml, tank_ml, None)
    film = of_thing("film")
    for step in route.steps:
        if step.formula is None:
            if step.mix:
                found += _unread_bath(step, route)
            thinned = water_factor(step, retained_ml=retained, fill_ml=fill)
            # A wash of its own: hardly anything is left of the bath before it.
            left *= thinned
            before = None if step.mix or left < _WASHED_OUT else before
            carried = tuple(thin for part in carried if (thin := part.diluted(thinned)).residual > _FORGOTTEN)
            continue
        formula = as_worked(step, formula_of(step, formulas), route)
        if formula.unread:
            found.append(not_judged(formula.unread, of_formula(formula), where=step.key))
            if dissolves_silver(step, route):
                found += _kept_silver(step, formula.name)
        own = of_own_bath(of_bath(formula, fill), room)
        found += weighed(check_mixture(formula, film, where=step.key), own)
        found += [finding_of(effect, setting_for("mixing", room), step.key) for effect in own]
        # After a bath that nobody can read nothing is reckoned of what came before it.
        met: tuple[Effect, ...] = ()
        reckoned, water_between = before is not None or left < _WASHED_OUT, left < 1.0
        if before is not None:
            held = of_bath(as_worked(before, formula_of(before, formulas), route), retained, used=True).times(left)
            met = assess([held, of_bath(formula, fill)], setting_for("carry_over", room))
            found += [finding_of(effect, setting_for("carry_over", room), step.key) for effect in met]
        before, left = step, rinse_factor(step.rinse_after, retained_ml=retained, fill_ml=fill)
        bath = of_formula(formula, used=True)
        # Of what is thin enough only the bath just before is named, lest the page be full of notes.
        far, near = (tuple(p for p in carried if (p.origin == neighbour) == is_near) for is_near in (False, True))
        found += [f for f in carried_into(far, bath.ingredients, step.key) if f.level is not Level.NOTE]
        into = carried_into(near, bath.ingredients, step.key)
        found += weighed(into, met, rinsed=water_between) if reckoned else into
        found += into_rinse(bath.ingredients, step.rinse_after, step.key)
        found += _after_use(step, bath)
        # In the bath itself what was carried in is diluted like by a fill; with the film leaves the bath as it is.
        carried = _follow(
            (*(part.diluted(retained / (fill + retained)) for part in carried), *bath.ingredients),
            step.rinse_after,
            retained,
            fill,
        )
        neighbour = bath.name
    first = next((step for step in route.steps if step.formula is not None), None)
    if first is not None:
        again = carried_into(carried, of_formula(formula_of(first, formulas)).ingredients, first.key)
        rinsed_out = before is None or left < _RINSED_OUT
        found += [_on_the_next(f) for f in again if f.refused or (f.level is not Level.NOTE and not rinsed_out)]
    found += evening_findings(route, formulas, tank_ml=fill, room=room)
    found += film_findings(route, formulas, tank_ml=fill, retained_ml=retained)
    return worst_and_once(found)


def _on_the_next(finding: Finding) -> Finding:
    """What the last bath does to the first of the next film, where reel and tank go on as they are."""
    if finding.refused:
        return finding
    text = f"If reel and tank go to the next film without a rinse: {finding.text[:1].lower()}{finding.text[1:]}"
    return replace(finding, level=Level.CAUTION, text=text)


def _unread_bath(step: Step, route: Process) -> list[Finding]:
    found = [not_judged((step.mix,), where=step.key)]
    return [*found, *_kept_silver(step, step.name)] if dissolves_silver(step, route) else found


def _kept_silver(step: Step, name: str) -> list[Finding]:
    """A bath that nobody can read dissolves silver halide: it may be ammonia, and that is never kept."""
    if step.after_use not in ("keep", "waste"):
        return []
    used = Matter(name, of_substance(substances()["silver_ammine_chloride"], origin=name).ingredients)
    return _after_use(step, used)


def _after_use(step: Step, bath: Matter) -> list[Finding]:
    """What must not happen to a used bath: it is not kept, poured away or left in a jug if it must be destroyed."""
    if step.after_use == "destroy":
        return []
    standing = of_thing("storage" if step.after_use == "keep" else "standing")
    context: Context = "storage" if step.after_use == "keep" else "waste"
    return [
        finding
        for finding in met_apart((*bath.ingredients, *standing.ingredients), context, step.key)
        if finding.refused
    ]


def _follow(
    carried: tuple[Ingredient, ...], rinse: Rinse | None, retained_ml: float, fill_ml: float
) -> tuple[Ingredient, ...]:
    left = rinsed(carried, rinse, retained_ml=retained_ml, fill_ml=fill_ml)
    return tuple(part for part in left if part.residual > _FORGOTTEN)
