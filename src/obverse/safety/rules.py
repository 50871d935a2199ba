"""The pair rules: which recorded pair is met when these parts come together.

Each of the 72 recorded pairs has one rule that binds its two sides, written there in words, to
substance classes, single substances, whole baths and things of the room. Severity, contexts and
source stay in the record; a rule may only add a milder case of the same pair, with its reason.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal, Self

from pydantic import Field, model_validator

from obverse.foundation import Document
from obverse.process import CLASSES, ROLES
from obverse.process.catalog import substances
from obverse.reference import IncompatiblePair, incompatible_pairs
from obverse.safety.matter import Ingredient, things

Context = Literal["mixing", "carry_over", "waste", "storage", "same_room"]
CONTEXT_WORDS = {
    "mixing": "in one bath or tank",
    "carry_over": "carried over in the wet film",
    "waste": "in one waste jug",
    "storage": "on one shelf",
    "same_room": "in the same room this evening",
}


class Atom(Document):
    """One way a side of a pair may be met. Exactly one of class, substance, bath, thing is given."""

    class_: str | None = Field(default=None, alias="class")
    substance: str | None = None
    bath: str | None = None
    thing: str | None = None
    at_least_g_per_l: float | None = Field(default=None, gt=0)
    state: Literal["solid", "liquid", "aged"] | None = None
    carry_limit_g_per_l: float | None = Field(default=None, gt=0)

    @model_validator(mode="after")
    def _one(self) -> Self:
        named = [value for value in (self.class_, self.substance, self.bath, self.thing) if value]
        if len(named) != 1:
            raise ValueError("a rule names exactly one of class, substance, bath, thing")
        for value, known, kind in (
            (self.class_, CLASSES, "class"),
            (self.substance, substances(), "substance"),
            (self.bath, ROLES, "bath"),
            (self.thing, things(), "thing"),
        ):
            if value is not None and value not in known:
                raise ValueError(f"no {kind} is called {value!r}")
        return self

    def meets(self, part: Ingredient) -> bool:
        """Whether this part is what the atom means; what is not known about it counts against it."""
        if self.class_ is not None:
            named = self.class_ in part.classes
        elif self.substance is not None:
            named = part.kind == "substance" and part.key == self.substance
        elif self.bath is not None:
            named = part.kind == "bath" and part.key == self.bath
        else:
            named = part.kind == "thing" and part.key == self.thing
        if not named:
            return False
        if self.state is not None and part.state not in ("", self.state):
            return False
        return self.at_least_g_per_l is None or part.g_per_l is None or part.g_per_l >= self.at_least_g_per_l


class Case(Document):
    """One pair of sides. `also` must be met by anything present; `severity` makes it milder than the record, for `basis`."""

    a: tuple[Atom, ...] = Field(min_length=1)
    b: tuple[Atom, ...] = Field(min_length=1)
    also: tuple[tuple[Atom, ...], ...] = ()
    severity: int | None = Field(default=None, ge=1, le=4)
    basis: str = ""
    contexts: tuple[Context, ...] = ()
    carried: Literal["a", "b", ""] = Field(default="", description="the side that has to be carried over to do harm")


class PairRule(Document):
    """How one recorded pair is recognised."""

    pair: str
    cases: tuple[Case, ...] = Field(min_length=1)
    gas: bool = False
    extra_contexts: tuple[Context, ...] = ()
    carry_limit_g_per_l: float = Field(gt=0)
    carry_floor: Literal["note", "caution"] = "note"
    advice: str = Field(min_length=1)
    reckoned: bool = Field(
        default=False, description="the engine reckons this kind, so that known amounts may make it small"
    )
    reckoned_in: tuple[Context, ...] = Field(default=(), description="only in these places does the engine reckon it")
    stays_untold: bool = Field(
        default=False,
        description="where no amounts are told it stays as recorded, for more of it does what the usual ones do not",
    )
    harms_film: bool = Field(
        default=False, description="carried over in the film it harms that too, which the engine does not reckon"
    )
    sentence: str = Field(default="", description="says it where naming the two sides would not")


@dataclass(frozen=True, slots=True)
class Match:
    """A recorded pair met by two parts."""

    rule: PairRule
    record: IncompatiblePair
    severity: int
    a: Ingredient
    b: Ingredient
    limit_a_g_per_l: float
    limit_b_g_per_l: float
    basis: str = ""
    carried: str = ""


@cache
def pair_rules() -> tuple[tuple[PairRule, IncompatiblePair], ...]:
    """Every recorded pair with its rule, worst first.

    Raises
    ------
    ValueError
        If a pair has no rule or more than one, or a case is harsher than its record: a mistake of ours.
    """
    rows = json.loads(files("obverse.safety").joinpath("data/pair_rules.json").read_text(encoding="utf-8"))
    rules = [PairRule.model_validate(row) for row in rows]
    by_pair = {rule.pair: rule for rule in rules}
    recorded = incompatible_pairs()
    if len(by_pair) != len(rules) or by_pair.keys() != {pair.key for pair in recorded}:
        raise ValueError("the pair rules and the recorded pairs do not fit one to one")
    for pair in recorded:
        if any((case.severity or 0) > pair.severity for case in by_pair[pair.key].cases):
            raise ValueError(f"a case of {pair.key} is harsher than its record")
    return tuple((by_pair[pair.key], pair) for pair in recorded)


def applies(rule: PairRule, record: IncompatiblePair, context: str) -> bool:
    """Whether the pair counts in this context, by its record or by the rule's own addition."""
    return context in record.contexts or context in rule.extra_contexts


def matches(parts: tuple[Ingredient, ...], context: str) -> Iterator[Match]:
    """Every recorded pair that two different parts meet in this context, the sharpest case of each two."""
    # Hardly any case has both its sides here; the names alone tell, in less than half the time.
    here = set[str]().union(*(part.classes for part in parts), (part.key for part in parts))
    for rule, record in _rules_of(context):
        found: dict[tuple[int, int], Match] = {}
        for case, names_a, names_b in _named(rule.pair):
            if here.isdisjoint(names_a) or here.isdisjoint(names_b):
                continue
            if case.contexts and context not in case.contexts:
                continue
            if not all(any(atom.meets(part) for atom in side for part in parts) for side in case.also):
                continue
            severity = _severity(case, record, context)
            for i, a in _meeting(case.a, parts):
                for j, b in _meeting(case.b, parts):
                    key = (min(i, j), max(i, j))
                    if i == j or (key in found and found[key].severity >= severity):
                        continue
                    found[key] = Match(
                        rule,
                        record,
                        severity,
                        a,
                        b,
                        _limit(case.a, a, rule),
                        _limit(case.b, b, rule),
                        case.basis,
                        case.carried,
                    )
        yield from found.values()


@cache
def _rules_of(context: str) -> tuple[tuple[PairRule, IncompatiblePair], ...]:
    return tuple((rule, record) for rule, record in pair_rules() if applies(rule, record, context))


@cache
def _named(pair: str) -> tuple[tuple[Case, frozenset[str], frozenset[str]], ...]:
    """The cases of a pair with all that its two sides name."""
    (rule,) = (rule for rule, _ in pair_rules() if rule.pair == pair)
    return tuple((case, _names(case.a), _names(case.b)) for case in rule.cases)


def _names(side: tuple[Atom, ...]) -> frozenset[str]:
    return frozenset(atom.class_ or atom.substance or atom.bath or atom.thing or "" for atom in side)


def _severity(case: Case, record: IncompatiblePair, context: str) -> int:
    recorded = record.severity
    if context == "carry_over" and record.severity_carry_over is not None:
        recorded = record.severity_carry_over
    return min(recorded, case.severity) if case.severity is not None else recorded


def _meeting(side: tuple[Atom, ...], parts: tuple[Ingredient, ...]) -> list[tuple[int, Ingredient]]:
    return [(i, part) for i, part in enumerate(parts) if any(atom.meets(part) for atom in side)]


def _limit(side: tuple[Atom, ...], part: Ingredient, rule: PairRule) -> float:
    """Least limit that any atom naming this part sets for what may be carried."""
    own = [atom.carry_limit_g_per_l for atom in side if atom.carry_limit_g_per_l is not None and atom.meets(part)]
    return min(own, default=rule.carry_limit_g_per_l)
