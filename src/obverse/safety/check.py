"""The checker: recorded pairs and what the engine derives, for what may not meet, in a bath, in a jug, on a shelf, in a room.

Nothing here says that something is safe. No finding means: none of the recorded pairs is met. What can
kill is refused; `refuse_lethal` turns that into an `UnsafeError`, and nothing downgrades it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from obverse.foundation import InputError, Level, Source, Standing, UnsafeError
from obverse.process import Formula, Process, Rinse, Step
from obverse.process.catalog import substances
from obverse.reference import number, record
from obverse.safety.airborne import Room
from obverse.safety.amounts import of_bath
from obverse.safety.body import Pool, Portion
from obverse.safety.derived import finding_of, weighed
from obverse.safety.engine import OWN_VAPOURS, assess, worst_first
from obverse.safety.finding import Finding
from obverse.safety.matter import BATH_G_PER_L, Given, Ingredient, Matter, as_matter, of_formula, of_thing, pool
from obverse.safety.on_a_person import blinding_bath, deadly_gulp, lasting_bath
from obverse.safety.properties import holds
from obverse.safety.redox import used_up
from obverse.safety.rules import CONTEXT_WORDS, Context, Match, matches
from obverse.safety.setting import HURTS, KILLS, TELLS, Effect, setting_for

# What a bath is checked as where nobody says how much is mixed.
USUAL_BATH_ML = number("hazard.usual.liquid_ml")
# What a recipe is written for, and judged at where nobody says how much of it.
_RECIPE_ML = 1000.0

# Share of an oxidiser that a recipe uses up by itself from which the bath is dead (our judgement).
_DEAD = 0.5

# Running water is counted as one tank volume a minute (record "practice.running_water_fills_per_min").
_RUNNING = "practice.running_water_fills_per_min"


def check_mixture(*given: Given, where: str = "") -> tuple[Finding, ...]:
    """What is met when all of these are brought together in one bath or tank.

    Each keeps the concentration it comes with, so that adding one more thing never removes a finding.
    """
    return _joined(pool(as_matter(item) for item in given), "mixing", where)


def check_mix(
    formula: Formula,
    bottles: Iterable[Given] = (),
    *,
    volume_ml: float = _RECIPE_ML,
    added: Sequence[Portion] = (),
    room: Room | None = None,
    where: str = "",
) -> tuple[Finding, ...]:
    """What is met in the finished bath, and what the bottles would meet if the order of adding were broken.

    The first kind is refused where it can kill, weighed by the amounts in this volume; the second kind comes as a
    danger at the line, because the mix sheet dissolves and dilutes each before the next.

    Parameters
    ----------
    volume_ml : float
        Default a litre, for which recipes are written.
    added : sequence of Portion
        What goes in, in this order, where a sheet tells it; default the finished bath as one.
    room : Room, optional
        Default one of which nothing is known.
    """
    place = where or formula.name
    setting = setting_for("mixing", room)
    whole = of_bath(formula, volume_ml)
    effects = of_own_bath(whole, room, added)
    told = (deadly_gulp(whole), blinding_bath(whole), lasting_bath(whole), _uses_itself_up(whole))
    own = [effect for effect in told if effect is not None]
    finished = worst_and_once(
        (
            *weighed(check_mixture(formula, where=place), effects),
            *(finding_of(effect, setting, place) for effect in (*effects, *own)),
            *((not_judged(formula.unread, of_formula(formula), where=place),) if formula.unread else ()),
        )
    )
    brought = [as_matter(item) for item in bottles]
    seen = {finding.pair for finding in finished}
    if not brought:
        return finished
    neat = _joined((*pool(brought), *pool([as_matter("water")])), "mixing", place)
    # What one bottle holds has met long ago, in the bottle.
    order = [_as_order(finding) for finding in neat if finding.pair not in seen and finding.a_from != finding.b_from]
    return worst_and_once((*finished, *order))


def of_own_bath(bath: Portion, room: Room | None, added: Sequence[Portion] = ()) -> tuple[Effect, ...]:
    """What a bath does by itself: while it is mixed, and what its gas does to whoever then works beside it (``hazard.minutes.worked``).

    Whoever pours together by mistake leaves; a bath of a sheet is made to be used, so that a gas it goes on giving off is refused by
    what the room holds by then. What only hurts is told of the mixing, and so is what a bath smells of while nothing in it breaks.
    """
    setting = setting_for("mixing", room)
    worked = replace(setting, breathing_min=number("hazard.minutes.worked"))
    lethal = (
        replace(
            effect,
            amount=f"{effect.amount}, within {worked.breathing_min:g} minutes of work beside it",
            do="This bath destroys itself and fills the room: leave out one of the parts that make the gas.",
        )
        for effect in assess((bath,), worked)
        if effect.gas and effect.severity == KILLS and effect.mechanism not in OWN_VAPOURS
    )
    return worst_first((*assess(tuple(added) or (bath,), setting), *lethal))


def _uses_itself_up(bath: Portion) -> Effect | None:
    """A recipe whose oxidiser is gone before a film is in the bath, for what else it holds takes it."""
    gone = used_up(Pool((bath,)))
    if gone is None or gone[2] < _DEAD:
        return None
    oxidiser, taker = (
        next(substances()[key].name for key in bath.moles if entity in holds().get(key, {})) for entity in gone[:2]
    )
    return Effect(
        "uses_itself_up", TELLS, f"{taker} uses up {oxidiser} as soon as they are in one bath: it is dead before a film is in it", f"{100 * gone[2]:.0f} % of it",
        "Leave one of the two out; they belong in two baths, with a rinse between.", parts=(bath.name,),
    )  # fmt: skip


def check_storage(*given: Given, damp: bool = False, where: str = "") -> tuple[Finding, ...]:
    """What must not stand on the same shelf or in the same cupboard; what must not be stored at all."""
    parts = [*pool(as_matter(item) for item in given), *pool([of_thing("storage"), of_thing("standing")])]
    if damp:
        parts += pool([of_thing("damp")])
    return met_apart(tuple(parts), "storage", where)


def check_room(*given: Given, where: str = "") -> tuple[Finding, ...]:
    """What must not be open in the same room on the same evening."""
    return met_apart(pool(as_matter(item) for item in given), "same_room", where)


def check_waste_jug(*given: Given, closed: bool = True, where: str = "") -> tuple[Finding, ...]:
    """What is met when all of these are poured into one jug, which then stands.

    Parameters
    ----------
    closed : bool
        A jug with a tight cap; one that makes gas can burst.
    """
    parts = [*pool(as_matter(item) for item in given), *pool([of_thing("standing")])]
    found = _joined(tuple(parts), "waste", where)
    if closed:
        parts += pool([of_thing("closed_jug")])
        if any(finding.gas for finding in found):
            parts += pool([of_thing("gas_making")])
        found = _joined(tuple(parts), "waste", where)
    return found


def check_carry_over(
    previous: Given | tuple[Ingredient, ...],
    following: Given,
    rinse: Rinse | None = None,
    *,
    retained_ml: float | None = None,
    tank_ml: float | None = None,
    where: str = "",
) -> tuple[Finding, ...]:
    """What the wet film and tank carry from one bath into the next, with the rinse between.

    The rinse dilutes what is held back by v / (V + v) at each fill (record ``wash.formula``, which assumes
    that the gelatin comes to equilibrium at each fill).

    Parameters
    ----------
    retained_ml, tank_ml : float, optional
        What is held back at each dump and what fills the tank; default: record ``wash.retained``.
    """
    parts = previous if isinstance(previous, tuple) else as_matter(previous).ingredients
    retained, fill = volumes(retained_ml, tank_ml, rinse)
    found = [*into_rinse(parts, rinse, where)]
    carried = rinsed(parts, rinse, retained_ml=retained, fill_ml=fill)
    found += carried_into(carried, as_matter(following).ingredients, where)
    return worst_and_once(found)


def rinse_factor(rinse: Rinse | None, *, retained_ml: float, fill_ml: float) -> float:
    """Share of what was held back that a rinse leaves: (v / (V + v)) to the number of fills."""
    if not retained_ml >= 0 or not fill_ml > 0:
        raise InputError(
            "a rinse needs a positive fill and no negative amount", where="rinse", remedy="correct the volumes"
        )
    if rinse is None:
        return 1.0
    fills = len(rinse.fills) + rinse.running_water_min * record(_RUNNING).number
    return float((retained_ml / ((rinse.fill_volume_ml or fill_ml) + retained_ml)) ** fills)


def rinsed(
    parts: Iterable[Ingredient], rinse: Rinse | None, *, retained_ml: float, fill_ml: float
) -> tuple[Ingredient, ...]:
    """The parts as they are left in the film after the rinse."""
    factor = rinse_factor(rinse, retained_ml=retained_ml, fill_ml=fill_ml)
    return tuple(part.diluted(factor) for part in parts)


def water_factor(step: Step, *, retained_ml: float, fill_ml: float) -> float:
    """Share of what was held back that a step without a known bath leaves: water, or a bath nobody can read, is a fill."""
    left = rinse_factor(step.rinse_after, retained_ml=retained_ml, fill_ml=fill_ml)
    wet = step.kind not in ("reexpose", "dry") and (step.mix or step.rinse_after is None)
    return left * retained_ml / (fill_ml + retained_ml) if wet and step.time_min else left


# What with a thing of the household that nobody declared makes gas that kills, fire or what explodes.
_GRAVE_BESIDE = frozenset(
    (
        "oxidiser",
        "permanganate",
        "dichromate",
        "peroxide",
        "hypochlorite",
        "persulfate",
        "chlorate",
        "halogen",
        "nitrite",
        "acid_strong",
        "acid_weak",
        "organic_acid",
        "sulfide",
        "cyanide",
        "thiocyanate",
        "azide",
    )
)
_OUR_WORD = Source("the bath as it was said; what is not known is taken at its worst", Standing.COMPUTED)


def not_judged(names: Sequence[str], beside: Matter | None = None, *, where: str = "") -> Finding:
    """That a part of a bath is not known, so that its hazards were not judged.

    A danger where it stands beside what a common thing of the household makes deadly, else a caution.

    Parameters
    ----------
    names : sequence of str
        As said.
    beside : Matter, optional
        The bath, as far as it is known.
    """
    parts = () if beside is None else beside.ingredients
    grave = next((part for part in parts if part.kind == "substance" and _GRAVE_BESIDE & set(part.classes)), None)
    told = " and ".join(names)
    danger = (
        ""
        if grave is None
        else f" It goes in beside {grave.name}, with which common things of the household make gas that kills, fire or worse."
    )
    return Finding(
        pair="unread",
        severity=2 if grave is None else HURTS,
        context="mixing",
        level=Level.CAUTION if grave is None else Level.DANGER,
        refused=False,
        a=told,
        b=grave.name if grave is not None else told,
        a_from=told,
        b_from=grave.name if grave is not None else told,
        product="not judged",
        text=f"The hazards of {told} were not judged: nothing is known here of what it holds.{danger}",
        advice="Read its label and safety data sheet before anything meets it, and put it on the shelf with what the label says; measure it as you said it.",
        source=_OUR_WORD,
        where=where,
    )


def dissolves_silver(step: Step, route: Process) -> bool:
    """Whether a step takes the silver halide of a bleach out of the film: by what is done, whatever its bath is called."""
    if step.kind != "dissolve":
        return False
    return any(before.kind == "bleach" for before in route.steps[: route.steps.index(step)])


def as_worked(step: Step, formula: Formula, route: Process) -> Formula:
    """The bath as its step uses it: ammonia after a bleach takes up silver, whatever its own role says."""
    bleached = any(before.kind == "bleach" for before in route.steps[: route.steps.index(step)])
    if bleached and step.kind in ("dissolve", "bleach", "clear", "rinse", "wash", "other"):
        classes = {name for part in of_formula(formula).ingredients for name in part.classes}
        if "ammonia" in classes and formula.role != "halide_solvent":
            return formula.model_copy(update={"role": "halide_solvent"})
    return formula


def refuse_lethal(findings: Iterable[Finding]) -> None:
    """Raise if anything found can kill.

    Raises
    ------
    UnsafeError
        With the worst finding as its sentence and the number of others.
    """
    refused = [finding for finding in findings if finding.refused]
    if not refused:
        return
    first = refused[0]
    more = f" (and {len(refused) - 1} more)" if len(refused) > 1 else ""
    raise UnsafeError(first.text.rstrip(".") + more, where=first.where, remedy=_lowered(first.advice.rstrip(".")))


def _lowered(text: str) -> str:
    return text[:1].lower() + text[1:]


def formula_of(step: Step, formulas: Mapping[str, Formula]) -> Formula:
    try:
        return formulas[step.formula or ""]
    except KeyError:
        raise InputError(
            f"its formula {step.formula!r} is not at hand", where=step.name, remedy="give the formula with the route"
        ) from None


def volumes(retained_ml: float | None, tank_ml: float | None, rinse: Rinse | None) -> tuple[float, float]:
    held = record("wash.retained")
    retained = held.value["total_mL"] if retained_ml is None else retained_ml
    fill = held.inputs["tank_mL"] if tank_ml is None else tank_ml
    if rinse is not None and rinse.fill_volume_ml is not None:
        fill = rinse.fill_volume_ml
    return float(retained), float(fill)


def _joined(parts: tuple[Ingredient, ...], context: Context, where: str) -> tuple[Finding, ...]:
    return worst_and_once(_finding(match, context, where) for match in matches(parts, context))


def met_apart(parts: tuple[Ingredient, ...], context: Context, where: str) -> tuple[Finding, ...]:
    """As `_joined`, but only what comes from two different bottles or baths."""
    return worst_and_once(
        _finding(match, context, where) for match in matches(parts, context) if match.a.origin != match.b.origin
    )


def carried_into(carried: Iterable[Ingredient], bath: Iterable[Ingredient], where: str) -> list[Finding]:
    carried, bath = tuple(carried), tuple(bath)
    inside = set(map(id, bath))
    found = []
    for match in matches((*carried, *bath), "carry_over"):
        a_inside, b_inside = id(match.a) in inside, id(match.b) in inside
        if a_inside != b_inside and match.carried in ("", "a" if b_inside else "b"):
            found.append(_finding(match, "carry_over", where, carried_a=b_inside))
    return found


def into_rinse(parts: tuple[Ingredient, ...], rinse: Rinse | None, where: str) -> list[Finding]:
    """What the first plain water of a rinse meets in the film, before it has diluted anything."""
    if rinse is None or rinse.acidified or not (rinse.fills or rinse.running_water_min):
        return []
    return carried_into(parts, of_thing("tap_water").ingredients, where)


def _finding(match: Match, context: Context, where: str, *, carried_a: bool | None = None) -> Finding:
    a, b, pair = match.a, match.b, match.record
    residual = None
    if carried_a is not None:
        part, limit = (a, match.limit_a_g_per_l) if carried_a else (b, match.limit_b_g_per_l)
        residual = part.g_per_l
        level = _carry_level(residual, limit, match.rule.carry_floor)
    elif match.severity >= HURTS:
        # A bath that holds both by its own recipe is known and careful; two bottles that meet are not.
        level = Level.CAUTION if match.severity == HURTS and a.origin == b.origin else Level.DANGER
    else:
        level = Level.CAUTION if match.severity == 2 else Level.NOTE
    return Finding(
        pair=pair.key,
        severity=match.severity,
        context=context,
        level=level,
        refused=match.severity == KILLS,
        a=a.name,
        b=b.name,
        a_from=a.origin,
        b_from=b.origin,
        product=pair.product,
        text=_text(match, context, level, carried_a, residual),
        advice=match.rule.advice,
        source=pair.source,
        where=where,
        gas=match.rule.gas,
        residual_g_per_l=residual,
    )


def _carry_level(residual_g_per_l: float | None, limit_g_per_l: float, floor: str) -> Level:
    """Louder with what is left; ten times the limit is a danger to the film."""
    if residual_g_per_l is None or residual_g_per_l > 10 * limit_g_per_l:
        return Level.DANGER
    if residual_g_per_l > limit_g_per_l or floor == "caution":
        return Level.CAUTION
    return Level.NOTE


def _text(match: Match, context: Context, level: Level, carried_a: bool | None, residual_g_per_l: float | None) -> str:
    product = match.record.product
    if match.rule.sentence:
        return f"{match.rule.sentence}: {product}."
    if carried_a is not None:
        came, met = (match.a, match.b) if carried_a else (match.b, match.a)
        # A bath that is carried names itself; a substance is told with the bath it comes from.
        what = came.name if came.kind == "bath" else f"{came.name} from {came.origin}"
        left = "much" if residual_g_per_l is None else _amount(residual_g_per_l, of_bath=came.kind == "bath")
        if level is Level.NOTE:
            return f"The rinse leaves {left} of {what} before {met.origin}. More would mean: {product}."
        if came.kind == "bath" and residual_g_per_l == BATH_G_PER_L:
            return f"{_capital(what)} comes undiluted into {met.origin}: {product}."
        return f"{left[:1].upper() + left[1:]} of {what} comes into {met.origin}: {product}."
    if match.a.origin == match.b.origin:
        return f"{_capital(match.a.origin)} holds both {match.a.name} and {match.b.name}: {product}."
    verb = "must not meet" if match.severity >= HURTS else "do not go together"
    return f"{_capital(match.a.origin)} and {match.b.origin} {verb} {CONTEXT_WORDS[context]}: {product}."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


# Of a bath, per cent, that is worth a figure (our judgement).
_LEAST_SHARE = 1e-4


def _amount(g_per_l: float, *, of_bath: bool) -> str:
    if of_bath:
        share = 100 * g_per_l / BATH_G_PER_L
        return f"{float(f'{share:.2g}'):g} %" if share >= _LEAST_SHARE else "next to nothing"
    if g_per_l >= 0.1:
        return f"{float(f'{g_per_l:.2g}'):g} g/L"
    if g_per_l >= 1e-4:
        return f"{float(f'{1000 * g_per_l:.2g}'):g} mg/L"
    return "under 0.1 mg/L"


def _as_order(finding: Finding) -> Finding:
    level = Level.DANGER if finding.severity >= HURTS else finding.level
    text = f"Keep to the order of this sheet. Otherwise {finding.a_from} and {finding.b_from} meet: {finding.product}."
    return replace(finding, refused=False, level=level, text=text)


def worst_and_once(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Worst first; the same two parts of the same pair once, at its loudest."""
    order = {Level.DANGER: 0, Level.CAUTION: 1, Level.NOTE: 2}
    best: dict[tuple[str, str, str, frozenset[str]], Finding] = {}
    for finding in found:
        key = (finding.pair, finding.context, finding.where, frozenset((finding.a_from, finding.b_from)))
        held = best.get(key)
        if held is None or (-finding.severity, order[finding.level]) < (-held.severity, order[held.level]):
            best[key] = finding
    return tuple(sorted(best.values(), key=lambda f: (not f.refused, order[f.level], -f.severity, f.pair, f.where)))
