"""What may not meet, and the hazards of a route step by step."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from functools import lru_cache

from obverse.foundation import InputError, JsonObject
from obverse.process import Formula, Process, Product, Step
from obverse.reference import number, record
from obverse.safety import (
    KILLS,
    AirEstimate,
    Finding,
    HazardSheet,
    Matter,
    Room,
    ammonia_in_air,
    assess,
    check_room,
    check_route,
    check_storage,
    destruction_steps,
    finding_of,
    hazards_of_route,
    known_names,
    of_formula,
    of_product,
    once_each,
    portion_of,
    release_in_air,
    setting_for,
    sulfur_dioxide_from_g,
)
from obverse.safety.meeting import MEETING_WORDS, brought, meeting
from obverse.workbench.care.called import called
from obverse.workbench.care.room import RoomPlace
from obverse.workbench.known_baths import known_process


@dataclass(frozen=True, slots=True)
class StepCare:
    """One step of a route: its hazards, its findings, its air, and the destruction that follows it."""

    step: Step
    sheet: HazardSheet | None
    findings: tuple[Finding, ...]
    air: AirEstimate | None
    destruction: tuple[Step, ...]

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "step": self.step.model_dump(mode="json"),
            "hazards": self.sheet.document() if self.sheet else None,
            "findings": [finding.document() for finding in self.findings],
            "air": self.air.document() if self.air else None,
            "destruction": [step.model_dump(mode="json") for step in self.destruction],
        }


@dataclass(frozen=True, slots=True)
class RouteCare:
    """A whole route with all that care has to say of it."""

    route: Process
    steps: tuple[StepCare, ...]
    elsewhere: tuple[Finding, ...]

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, those of the steps first."""
        return tuple(finding for step in self.steps for finding in step.findings) + self.elsewhere

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "route": self.route.key,
            "name": self.route.name,
            "warnings": list(self.route.warnings),
            "steps": [step.document() for step in self.steps],
            "elsewhere": [finding.document() for finding in self.elsewhere],
        }


# As many readings of ambiguous names are tried together.
MOST_READINGS = 48
# More bottles than this are not tried two by two.
MOST_BOTTLES = 40


class Hazards(RoomPlace):
    """What may not meet, on the shelf, in the room, along a route."""

    def route(self, key: str, *, room: Room | None = None) -> RouteCare:
        """All that care has to say of a route.

        Raises
        ------
        InputError
            If there is no route of that key.
        """
        route = known_process(self._store, key)
        found = route_care(route, route.baths(self._formulas()), room or self.room())
        return replace(found, elsewhere=(*found.elsewhere, *self._out_of_the_room(route)))

    def names(self) -> dict[str, str]:
        """Every key that the checker understands here, with its name: what is packaged and the person's own products."""
        return known_names() | {product.key: product.name for product in self._own_products()}

    def meet(self, names: list[str], context: str) -> tuple[Finding, ...]:
        """What is known of these coming together in this context, or in all of them for ``"any"``.

        A name may carry its amount (``"vinegar_5=200mL"``). The person's own products count as their labels say, before a packaged one of the same key.
        A word that may mean several things counts as the worst of them, an unknown one as the worst that shops sell; how it was taken comes first.

        Raises
        ------
        InputError
            If there is no such context, or an amount cannot be read.
        """
        if context != "any" and context not in MEETING_WORDS:
            raise InputError(
                f"things do not meet {context!r}", where="context", remedy=f"use any, {', '.join(MEETING_WORDS)}"
            )
        own = {word.lower(): product for product in self._own_products() for word in (product.name, product.key)}
        things = [brought(name) for name in names]
        formulas = self._formulas()
        named = [called(str(thing.given), own, formulas) for thing in things]
        how = [told for each in named if (told := each.told(context)) is not None]
        found: list[Finding] = []
        for meant in itertools.islice(itertools.product(*(each.meanings for each in named)), MOST_READINGS):
            together = [replace(thing, given=given) for thing, given in zip(things, meant, strict=True)]
            found += meeting(together, context, self.room())
        if not all(each.known for each in named):
            # What stands for an unknown thing is the worst there is: told as loud as can be, and nothing is proven.
            found = [replace(finding, refused=False) for finding in found]
        return (*how, *once_each(found))

    def shelf_findings(self) -> tuple[Finding, ...]:
        """What stands on the shelf and should not stand side by side."""
        matters: list[Matter] = [of_product(product) for product in self._own_products()]
        known = self._formulas()
        for row in self._store.bottles.all(own=True):
            formula = known.get(row.thing.formula or "")
            if formula is not None:
                matters.append(of_formula(formula, used=bool(row.thing.passes)))
        return (*check_storage(*matters, where="shelf"), *self._broken_side_by_side())

    def _broken_side_by_side(self) -> list[Finding]:
        """Two bottles that break beside each other and could kill in this room, beyond what is recorded."""
        room = self.room()
        stands = self._own_products()[:MOST_BOTTLES]
        found = (_broken(one, other, room) for one, other in itertools.combinations(stands, 2))
        return [finding for each in found for finding in each]

    def _out_of_the_room(self, route: Process) -> list[Finding]:
        """What the person owns that must not be in the room while this route is run."""
        known = route.baths(self._formulas())
        baths = [of_formula(known[step.formula], used=True) for step in route.steps if step.formula in known]
        found: dict[tuple[str, str], Finding] = {}
        for product in self._own_products():
            # One finding a bottle and pair is enough: it leaves the room because of any of the baths.
            for finding in check_room(of_product(product), *baths, where="the room"):
                if product.name in (finding.a_from, finding.b_from):
                    found.setdefault((product.key, finding.pair), finding)
        return list(found.values())


# What makes two bottles a matter of the cupboard and not only of a spill: poison at once, fire, explosion.
_GRAVE = (
    "acid_sulfide",
    "acid_cyanide",
    "acid_azide",
    "hypochlorite",
    "chlorate",
    "ketone_peroxide",
    "nitric",
    "nitrogen",
)
_GRAVE_TOO = ("fire", "manganese_heptoxide", "fulminate", "ammoniacal_silver", "perchloric", "burning", "aqua_regia")


@lru_cache(maxsize=4096)
def _broken(one: Product, other: Product, room: Room) -> tuple[Finding, ...]:
    """The gravest thing that two broken bottles do to each other, if it could kill; one finding at most."""
    setting = setting_for("shelf", room)
    alone = _of_one_alone(one, room) | _of_one_alone(other, room)
    grave = [
        effect
        for effect in assess([portion_of(one), portion_of(other)], setting)
        if effect.severity >= KILLS
        and effect.mechanism not in alone
        and effect.mechanism.startswith(_GRAVE + _GRAVE_TOO)
    ]
    return tuple(finding_of(effect, setting, "shelf", usual=True) for effect in grave[:1])


@lru_cache(maxsize=4096)
def _of_one_alone(product: Product, room: Room) -> frozenset[str]:
    """What a bottle does that breaks by itself."""
    return frozenset(effect.mechanism for effect in assess([portion_of(product)], setting_for("shelf", room)))


def route_care(route: Process, given: dict[str, Formula], room: Room) -> RouteCare:
    """Every step of a route with its hazards, findings, air and destruction; findings of jugs stand elsewhere."""
    findings = check_route(route, given, room=room)
    sheets = {step.key: sheet for step, sheet in hazards_of_route(route, given)}
    steps = []
    for step in route.steps:
        formula = given.get(step.formula or "")
        steps.append(
            StepCare(
                step=step,
                sheet=sheets.get(step.key),
                findings=tuple(finding for finding in findings if finding.where == step.key),
                air=_air(step, formula, room) if formula is not None else None,
                destruction=destruction_steps(formula) if formula is not None and step.after_use == "destroy" else (),
            )
        )
    named = {step.key for step in route.steps}
    return RouteCare(route, tuple(steps), tuple(finding for finding in findings if finding.where not in named))


def _air(step: Step, formula: Formula, room: Room) -> AirEstimate | None:
    """The gas a step may give off: ammonia of an open mouth, or the sulfur dioxide of carried-in acid."""
    parts = of_formula(formula).ingredients
    ammonia = next((part for part in parts if part.key == "ammonia"), None)
    if ammonia is not None and ammonia.g_per_l:
        return ammonia_in_air(
            room, ammonia.g_per_l / number("mm.ammonia"), number("practice.air.tank_mouth_m2"), step.time_min
        )
    sulfite = next((part for part in parts if part.key in ("sodium_metabisulfite", "sodium_dithionite")), None)
    if sulfite is not None and sulfite.g_per_l:
        grams = sulfite.g_per_l * record("practice.air.sulfite_released_ml").number / 1000
        return release_in_air(room, "sulfur_dioxide", sulfur_dioxide_from_g(sulfite.key, grams))
    return None
