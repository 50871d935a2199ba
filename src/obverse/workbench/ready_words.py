"""Words for what must stand ready before the light goes out: one place for page, sink and terminal."""

from __future__ import annotations

from dataclasses import dataclass

from obverse.chemistry import silver_per_roll_g
from obverse.foundation import JsonObject, figures
from obverse.process import FORMATS, ONE_FILM, area_of_pieces_m2, pieces_words, renewal_told
from obverse.run import Action, AtHand, PlannedBath, RunPlan
from obverse.workbench.evening_words import (
    conflict_words,
    cue_words,
    do_words,
    lines_words,
    order_words,
    proof_words,
    title_words,
    told_cautions,
)

# A film is a few hundred cm2.
_CM2_PER_M2 = 1e4
# A bottle that fills the bath to within this takes no water; finer than any cylinder shows.
_AS_IT_IS = 0.005
_STATES = {"there": "there", "short": "not enough of it", "missing": "not on your shelf", "asked": ""}


@dataclass(frozen=True, slots=True)
class ReadyLine:
    """One thing to have at hand.

    Parameters
    ----------
    what : str
        It, with how much.
    state : str
        ``"there"``, ``"short"``, ``"missing"`` or ``"asked"``, which is what nobody can know from the shelf.
    said : str
        The state in words; empty for ``"asked"``.
    formula : str
        Of a lasting bath that stands in no bottle, or that could be mixed anew.
    """

    what: str
    state: str
    said: str
    formula: str = ""


@dataclass(frozen=True, slots=True)
class ReadyGroup:
    """Things that belong together, under what they are for."""

    name: str
    lines: tuple[ReadyLine, ...]


def ready_groups(plan: RunPlan) -> tuple[ReadyGroup, ...]:
    """What must be at hand: what destroys the used baths, the baths, the jugs."""
    groups = [
        ReadyGroup(f"To destroy the used {_small(of)}", tuple(_supply(one) for one in plan.at_hand if one.of == of))
        for of in dict.fromkeys(one.of for one in plan.at_hand)
    ]
    if plan.baths:
        groups.append(ReadyGroup("The baths", tuple(_bath(bath) for bath in plan.baths)))
    bottles = dict.fromkeys(caution.text for caution in plan.cautions if caution.code.startswith("bottle."))
    if bottles:
        groups.append(ReadyGroup("Bottles", tuple(ReadyLine(text.rstrip("."), "short", "") for text in bottles)))
    jugs = sorted({action.waste_jug for action in plan.actions if action.waste_jug})
    if jugs:
        said = f"{'jug' if len(jugs) == 1 else 'jugs'} {', '.join(jugs)}, vented, open and with room in them"
        groups.append(ReadyGroup("Waste", (ReadyLine(said, "asked", ""),)))
    return tuple(groups)


def film_line(plan: RunPlan) -> str:
    """How much film it is, what silver it carries, and what is mixed for it: by area, whatever it is cut into."""
    pieces = [piece for strip in plan.strips for piece in strip.pieces or (ONE_FILM,)]
    area_m2 = sum(strip.film_area_m2 for strip in plan.strips)
    silver = silver_per_roll_g(area_m2)
    standings = dict.fromkeys(FORMATS[piece.format].standing.words for piece in pieces)
    one = area_of_pieces_m2(())
    told = [
        f"{pieces_words(pieces)}: {_CM2_PER_M2 * area_m2:.0f} cm² of film ({', '.join(standings)}), as much as {area_m2 / one:.2g} film{'' if f'{area_m2 / one:.2g}' == '1' else 's'} 135-36",
        f"coated silver about {silver.likely:.2g} g, {silver.low:.2g} to {silver.high:.2g}",
    ]
    if plan.cost:
        more = f", without {len(plan.unpriced)} unpriced" if plan.unpriced else ""
        told.append(
            f"what is mixed costs {plan.cost:.2f}{more}, {plan.cost * one / area_m2:.2f} for as much film as a 135-36"
        )
    return "; ".join(told) + "."


def lacking(plan: RunPlan) -> tuple[str, ...]:
    """What is missing or short, each in a few words; how much of it is there stands in its own line."""
    return tuple(
        line.what for group in ready_groups(plan) for line in group.lines if line.state in ("missing", "short")
    )


def action_lines(action: Action, plan: RunPlan) -> tuple[str, ...]:
    """What must be known of an action, line by line; of the laying out, everything that must stand ready."""
    groups = ready_groups(plan) if action.kind == "lay_out" else ()
    if not groups:
        return lines_words(action)
    told = [
        f"{group.name}: {'; '.join(line.what + (f' ({line.said})' if line.state != 'there' and line.said else '') for line in group.lines)}."
        for group in groups
    ]
    return (do_words(action), *told)


def action_do(action: Action, plan: RunPlan) -> str:
    """What hands do, with what is poured together where a bath is mixed."""
    bath = next((one for one in plan.baths if one.action and one.action == action.key), None)
    words = do_words(action)
    step = next((one for one in plan.route.steps if one.key == action.step), None) if action.kind == "bath" else None
    if step is not None and step.renewal is not None and step.after_use == "keep":
        words = f"{words} Its jug: {renewal_told(step.renewal)}.".strip()
    if bath is None:
        return words
    return f"{_capital(bath_words(bath).rstrip('.'))}. {words}"


def standing_words(plan: RunPlan) -> str:
    """What of the lasting baths: in which bottle each stands, or what it would be mixed of; empty where all are mixed tonight."""
    standing = (one for one in plan.baths if not one.action)
    return " ".join(f"{_capital(one.name)}: {_small(bath_words(one)).rstrip('.')}." for one in standing)


def bath_words(bath: PlannedBath) -> str:
    """What is poured together for a bath, or why it cannot be; where it stands."""
    if bath.bottle:
        return f"from its bottle, {bath.bottle}"
    if bath.unmade:
        why = (
            f"It cannot be mixed here: {bath.reason}" if bath.reason else f"Mix it at the bench first: {_mixed(bath)}."
        )
        return f"It stands in no bottle on this shelf. {why}"
    return _mixed(bath)


def _mixed(bath: PlannedBath) -> str:
    told = f"cannot be mixed. {bath.reason}" if bath.reason and not bath.portions else _poured(bath)
    # The measure a person used comes back to them beside what these bottles make of it.
    return f"{told.rstrip('.')} (said: {bath.said})" if bath.said and _plain(bath.said) != _plain(told) else told


def _poured(bath: PlannedBath) -> str:
    parts = (*(f"{figures(part.amount)} {part.unit} {part.name}" for part in bath.portions), *bath.as_said)
    volume = f"{figures(bath.volume_ml)} mL"
    if len(bath.portions) == 1 and not bath.as_said:
        (only,) = bath.portions
        if only.unit == "mL" and abs(only.amount - bath.volume_ml) <= _AS_IT_IS * bath.volume_ml:
            return f"{volume} {only.name}, undiluted"
    return f"{' + '.join(parts)}, water to {volume}" if parts else f"water, {volume}"


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def plan_document(plan: RunPlan) -> JsonObject:
    """A plan as JSON: its structure, and the words that faces show of it."""
    document = plan.model_dump(mode="json")
    for action, shown in zip(plan.actions, document["actions"], strict=True):
        shown |= {
            "title": title_words(action),
            "do": action_do(action, plan),
            "lines": list(action_lines(action, plan)),
        }
        for cue, told in zip(action.cues, shown["cues"], strict=True):
            told["text"] = cue_words(cue)
    for told, caution in zip(document["cautions"], told_cautions(plan), strict=True):
        told["text"] = caution.text
    document["proof"]["statements"] = list(proof_words(plan.proof))
    document["order_reason"] = order_words(plan)
    for conflict, told in zip(plan.proof.conflicts, document["proof"]["conflicts"], strict=True):
        told["text"] = conflict_words(conflict, plan)
    return document | {"holds": plan.proof.holds, "planned_s": plan.duration_s}


def _supply(one: AtHand) -> ReadyLine:
    said = _STATES[one.state]
    if one.state in ("there", "short") and one.have:
        said = f"{said}: {one.have}"
    return ReadyLine(one.what, one.state, said)


def _bath(bath: PlannedBath) -> ReadyLine:
    name = _capital(bath.name)
    if bath.unmade:
        return ReadyLine(name, "missing", bath_words(bath), bath.formula)
    if bath.reason:
        return ReadyLine(name, "missing", f"cannot be mixed. {bath.reason}")
    return ReadyLine(f"{name}: {bath_words(bath)}", "there", "", bath.formula if bath.bottle else "")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _small(text: str) -> str:
    return text[:1].lower() + text[1:] if text[1:2].islower() else text
