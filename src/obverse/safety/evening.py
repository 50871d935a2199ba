"""Where the baths of an evening meet though no film carries them: in a jug, in the trap of the drain, in the air, under a cap.

Each place with the amounts of the tank and for the person's room, by the same engine as everything else.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from obverse.foundation import Level
from obverse.process import Formula, Process, Step
from obverse.reference import number
from obverse.safety.airborne import Room
from obverse.safety.amounts import of_bath
from obverse.safety.body import Portion
from obverse.safety.check import as_worked, check_waste_jug, rinse_factor, water_factor
from obverse.safety.derived import finding_of, weighed
from obverse.safety.destroy import remnant_of, remnant_portion, residue_of
from obverse.safety.engine import assess
from obverse.safety.finding import Finding
from obverse.safety.setting import Effect, Setting, setting_for

# A jug and a bottle of a kept bath stand until the next evening at the least: a week.
STANDS_H = 168.0


@dataclass(frozen=True, slots=True)
class _Used:
    """A bath of the evening as it is poured away: its step, as it is used, and how much of it."""

    step: Step
    formula: Formula
    ml: float

    @property
    def portion(self) -> Portion:
        return of_bath(self.formula, self.ml, used=True)


def evening_findings(
    route: Process, formulas: Mapping[str, Formula], *, tank_ml: float, room: Room | None = None
) -> tuple[Finding, ...]:
    """What the used baths of an evening meet in their jugs, in the drain, in the room and in closed bottles.

    Parameters
    ----------
    formulas : mapping of str to Formula
        By key; a step whose formula is not among them is left out.
    tank_ml : float
        Of each bath whose step says no volume of its own, mL.
    room : Room, optional
        Default one of which nothing is known.
    """
    baths = [
        _Used(step, as_worked(step, formulas[step.formula], route), step.volume_ml or tank_ml)
        for step in route.steps
        if step.formula is not None and step.formula in formulas
    ]
    return (*_jugs(baths, room), *_drain(route, baths, room), *_open(baths, room), *_kept(baths, room))


def _together(portions: Sequence[Portion], setting: Setting) -> list[Effect]:
    """What they do to each other, beyond what each does by itself."""
    effects = assess(portions, setting)
    # Of most evenings nothing is met, and nothing need be taken out.
    alone = {effect.mechanism for portion in portions for effect in assess([portion], setting)} if effects else set()
    return [effect for effect in effects if effect.mechanism not in alone]


@lru_cache(maxsize=2048)
def _side_by_side(
    one: Formula, one_ml: float, other: Formula, other_ml: float, room: Room | None
) -> tuple[Effect, ...]:
    """What two open baths do to each other: a plan asks it again and again of the same ones."""
    return tuple(_together([of_bath(one, one_ml), of_bath(other, other_ml)], setting_for("room", room)))


def _jugs(baths: Sequence[_Used], room: Room | None) -> Iterator[Finding]:
    poured: dict[str, list[_Used]] = {}
    for bath in baths:
        if bath.step.waste_jug and bath.step.after_use != "discard":
            poured.setdefault(bath.step.waste_jug, []).append(bath)
    setting = setting_for("jug", room, hours=STANDS_H)
    for letter, used in poured.items():
        where = f"jug {letter}"
        # Of a bath that is destroyed only what is left; that is still acid, or sulfite.
        together = {bath.formula.name: remnant_of(bath.formula) for bath in used}.values()
        mixed = check_waste_jug(*together, closed=False, where=where)
        effects = _together([left for bath in used if (left := _left_of(bath)) is not None], setting)
        # What one bath already holds by its own recipe is no new danger when another joins it.
        alone = {finding.pair for finding in mixed if finding.a_from == finding.b_from}
        joined = weighed((finding for finding in mixed if finding.a_from != finding.b_from), effects)
        for f in joined:
            loud = f.pair in alone and not f.refused and f.level is Level.DANGER
            yield replace(f, level=Level.CAUTION) if loud else f
        yield from (finding_of(effect, setting, where) for effect in effects)


def _left_of(bath: _Used) -> Portion | None:
    """What of a bath comes into its jug."""
    residue = residue_of(bath.formula)
    if bath.step.after_use != "destroy" or residue is None:
        return bath.portion
    return None if residue.leaves_sludge else remnant_portion(bath.formula, bath.ml, 0.0)


def _drain(route: Process, baths: Sequence[_Used], room: Room | None) -> Iterator[Finding]:
    """What is poured down, and what the trap still holds of the bath before it, as far as water has not flushed it."""
    setting = setting_for("drain", room)
    trap_ml = number("hazard.trap_ml")
    places = {step.key: place for place, step in enumerate(route.steps)}
    down = [bath for bath in baths if bath.step.after_use == "discard"]
    for before, bath in zip((None, *down), down, strict=False):
        held: list[Portion] = []
        if before is not None:
            left = min(1.0, trap_ml / before.ml)
            for step in route.steps[places[before.step.key] : places[bath.step.key]]:
                if step.formula is None:
                    left *= water_factor(step, retained_ml=trap_ml, fill_ml=bath.ml)
                else:
                    left *= rinse_factor(step.rinse_after, retained_ml=trap_ml, fill_ml=bath.ml)
            held.append(before.portion.times(left))
        # What the bath before does by itself was told when it went down.
        told = {effect.mechanism for effect in assess(held, setting)} if held else set()
        for effect in assess([*held, bath.portion], setting):
            if effect.mechanism not in told:
                yield finding_of(effect, setting, bath.step.key)


def _open(baths: Sequence[_Used], room: Room | None) -> Iterator[Finding]:
    """Two baths that stand open at once, as in trays; each two once."""
    setting = setting_for("room", room)
    each = {bath.formula.key: bath for bath in baths}.values()
    for one, other in itertools.combinations(each, 2):
        for effect in _side_by_side(one.formula, one.ml, other.formula, other.ml, room):
            yield finding_of(effect, setting, other.step.key)


def _kept(baths: Sequence[_Used], room: Room | None) -> Iterator[Finding]:
    """A used bath that goes back into its bottle stands there under a cap."""
    setting = setting_for("closed_jug", room, hours=STANDS_H)
    for bath in baths:
        if bath.step.after_use == "keep":
            for effect in assess([bath.portion], setting):
                yield finding_of(effect, setting, bath.step.key)
