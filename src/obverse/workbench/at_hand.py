"""Before the light goes out: what the evening needs, compared with what stands on this shelf."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from obverse.foundation import Caution, InputError, Level, UnsafeError
from obverse.mixing import cost_of
from obverse.process import CONTROLS, Bottle, Equipment, Formula
from obverse.run import AtHand, BathPortion, PlanCaution, PlannedBath, RunPlan
from obverse.workbench.stock import bottle_told, stock_told

if TYPE_CHECKING:
    from obverse.mixing import MixSheet
    from obverse.workbench.bench import Bench
    from obverse.workbench.shelf import Shelf

# What a label calls by another name is weighed in grams all the same; this much less is no reason to worry.
_ENOUGH_SHARE = 0.9


def with_shelf(
    plan: RunPlan, formulas: Mapping[str, Formula], bench: Bench, shelf: Shelf, today: date, choices: Mapping[str, str]
) -> RunPlan:
    """The plan with its baths as this shelf makes them, and with what is there of all that must stand ready.

    Parameters
    ----------
    formulas : mapping
        Every formula of the plan by key.
    choices : mapping
        Product that was chosen at the bench, by substance.
    """
    sheets: dict[str, MixSheet | str] = {}
    baths = []
    prepared = {action.formula for action in plan.actions if action.kind == "prepare"}
    # What is mixed while another bath works has no action of its own: its bath stands for it.
    meanwhile = {step.formula for step in plan.route.steps if step.made == "during"} - prepared
    for action in plan.actions:
        if action.kind == "prepare" or (action.kind == "bath" and action.formula in meanwhile):
            mix = next((step.mix for step in plan.route.steps if step.formula == action.formula and step.mix), "")
            volume_ml, formula = action.volume_ml or plan.tank_ml, formulas[action.formula]
            sheets[action.key] = sheet = _sheet(action.strips, volume_ml, plan, formula, bench, choices)
            baths.append(_bath(action.key, formula, sheet, volume_ml, mix))
    made = {bath.formula for bath in baths}
    standing = {kept.thing.formula: kept.thing for kept in shelf.bottles() if kept.thing.formula}
    told: list[Caution] = []
    for key in dict.fromkeys(step.formula for step in plan.route.steps if step.formula):
        if key in made or key not in formulas:
            continue
        bottle = standing.get(key)
        step = next(step for step in plan.route.steps if step.formula == key)
        volume_ml = step.volume_ml or plan.tank_ml
        if bottle is None:
            # What it would be mixed of is told all the same: on another shelf no jug of it stands.
            sheet = _sheet((), volume_ml, plan, formulas[key], bench, choices)
            bath = _bath("", formulas[key], sheet, volume_ml, step.mix)
            baths.append(bath.model_copy(update={"unmade": True}))
            continue
        baths.append(
            PlannedBath(formula=key, name=formulas[key].name, volume_ml=bottle.amount or volume_ml, bottle=bottle.name)
        )
        told += _of_a_standing_bath(bottle, plan.tank_ml, today)
    asked: dict[str, float] = {}
    for bath in baths:
        for part in bath.portions:
            asked[part.product] = asked.get(part.product, 0.0) + part.amount
    own = {kept.id: kept.thing for kept in shelf.products()}
    # Of the whole evening, and so at no single action.
    told += stock_told(asked, own, [kept.thing for kept in shelf.bottles()], today)
    said = [PlanCaution(**{**caution.document(), "where": ""}) for caution in dict.fromkeys(told)]
    for key, sheet in sheets.items():
        if not isinstance(sheet, str):
            said += [
                PlanCaution(**{**caution.document(), "where": key})
                for caution in sheet.all_cautions
                # What could not be read is told at its step already.
                if caution.level is not Level.NOTE and not caution.code.startswith(("bottle.", "pair.unread"))
            ]
    costs = [cost_of(sheet, shelf.products_or_generic()) for sheet in sheets.values() if not isinstance(sheet, str)]
    priced = sum(cost.known for cost in costs)
    return plan.model_copy(
        update={
            "cost": priced or None,
            "unpriced": tuple(dict.fromkeys(name for cost in costs for name in cost.unpriced)),
            "baths": tuple(baths),
            "at_hand": _compared(plan.at_hand, shelf),
            "choices": dict(choices),
            # On an empty shelf the bath is reckoned from generic bottles, and those are nobody's.
            "cautions": (*(plan.cautions if shelf.is_empty else _with_own_bottles(plan.cautions, baths)), *said),
        }
    )


def _sheet(
    strips: Sequence[str], volume_ml: float, plan: RunPlan, formula: Formula, bench: Bench, choices: Mapping[str, str]
) -> MixSheet | str:
    strip = next((one for one in plan.strips if one.name in strips), plan.strips[0])
    mixed_in = {control.key for control in CONTROLS.mixed()}
    controls = {name: value for name, value in strip.controls.items() if name in mixed_in}
    try:
        return bench.sheet(formula, volume_ml, controls=controls, choices=choices)
    except (InputError, UnsafeError) as error:
        return error.sentence


def _bath(action: str, formula: Formula, sheet: MixSheet | str, volume_ml: float, mix: str) -> PlannedBath:
    if isinstance(sheet, str):
        return PlannedBath(
            formula=formula.key, name=formula.name, action=action, volume_ml=volume_ml, said=mix, reason=sheet
        )
    portions = tuple(
        BathPortion(product=line.product, name=line.name, amount=line.amount, unit=line.unit)
        for line in sheet.lines
        if line.kind == "product"
    )
    return PlannedBath(
        formula=formula.key,
        name=formula.name,
        action=action,
        volume_ml=volume_ml,
        portions=portions,
        as_said=formula.unread,
        said=mix,
    )


def _of_a_standing_bath(bottle: Bottle, tank_ml: float, today: date) -> tuple[Caution, ...]:
    told = bottle_told(bottle, today)
    if bottle.amount and round(bottle.amount) < round(tank_ml):
        text = (
            f"{bottle.name} holds {bottle.amount:.0f} mL, and the tank takes {tank_ml:.0f} mL. "
            "Top it up with fresh bath, or mix it anew."
        )
        told = (*told, Caution("bottle.short", text, Level.CAUTION, bottle.name))
    return told


def _compared(asked: tuple[AtHand, ...], shelf: Shelf) -> tuple[AtHand, ...]:
    """Whether it stands on the shelf, for all baths together: a bucket in which one bath stands is no bucket for the next.

    Nothing is said of what nobody enters there: a jar, a cup.
    """
    if shelf.is_empty and not shelf.equipment():
        return asked
    things = [kept.thing for kept in shelf.equipment()]
    buckets = sorted((one for one in things if one.kind == "bucket"), key=lambda one: one.volume_ml or math.inf)
    taken: dict[str, float] = {}
    found = []
    for one in asked:
        if one.key == "bucket":
            free = [bucket for bucket in buckets if _holds(bucket, one)][: one.count]
            buckets = [bucket for bucket in buckets if all(bucket is not used for used in free)]
            found.append(_as_found(one, len(free) >= one.count, [bucket.name for bucket in free]))
        elif one.key == "test_strips":
            strips = [thing.name for thing in things if thing.kind == "test_strips"]
            found.append(_as_found(one, bool(strips), strips))
        elif one.substances:
            found.append(_as_bottled(one, shelf, taken))
        else:
            found.append(one)
    return tuple(found)


def _as_found(one: AtHand, enough: bool, names: list[str]) -> AtHand:
    state = "there" if enough else "short" if names else "missing"
    return one.model_copy(update={"state": state, "have": " and ".join(names[:2])})


def _as_bottled(one: AtHand, shelf: Shelf, taken: dict[str, float]) -> AtHand:
    """Whether the bottles hold so much of it beyond what baths before this one need; that is written into `taken`."""
    # A powder that holds it among other things will not do: soda in a rust remover is no washing soda.
    own = [kept.thing for kept in shelf.products()]
    fit = [p for p in own if p.contents and all(c.substance in one.substances for c in p.contents)]
    keys = {product.key for product in fit}
    bottles = [kept.thing for kept in shelf.bottles() if kept.thing.product in keys]
    known = bool(bottles) and all(bottle.amount is not None for bottle in bottles)
    taken[one.key] = taken.get(one.key, 0.0) + (one.amount or 0.0)
    left = sum(bottle.amount or 0.0 for bottle in bottles)
    enough = bool(fit) and (not known or left >= _ENOUGH_SHARE * taken[one.key])
    return _as_found(one, enough, [product.name for product in fit])


def _holds(thing: Equipment, one: AtHand) -> bool:
    """A bucket that nobody measured is taken at its word."""
    return one.key != "bucket" or thing.volume_ml is None or thing.volume_ml >= (one.amount or 0.0)


def _with_own_bottles(cautions: tuple[PlanCaution, ...], baths: list[PlannedBath]) -> tuple[PlanCaution, ...]:
    """Cautions that name a bath name the person's bottles in it as well."""
    parts = ((bath, " and ".join(dict.fromkeys(part.name for part in bath.portions))) for bath in baths)
    made_of = {bath.name: names or bath.bottle for bath, names in parts}
    named = {name: bottles for name, bottles in made_of.items() if bottles and bottles != name}
    found = []
    for caution in cautions:
        text = caution.text
        if caution.level != "note":
            for name, bottles in named.items():
                for called in dict.fromkeys((name, name[:1].upper() + name[1:])):
                    # "Bath I" is no part of "Bath III".
                    whole = rf"(?<!\w){re.escape(called)}(?!\w)"
                    text = re.sub(whole, lambda found, mine=bottles: f"{found[0]} (yours: {mine})", text, count=1)  # type: ignore[misc]
        found.append(caution.model_copy(update={"text": text}))
    return tuple(found)
