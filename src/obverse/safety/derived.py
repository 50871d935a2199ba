"""What the engine finds, in the words of the checker; and recorded pairs weighed by it where amounts are known."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from obverse.foundation import Level, Source, Standing, open_and_folded
from obverse.safety.engine import REFUSED, TOLD, severity_of
from obverse.safety.finding import Finding
from obverse.safety.rules import PairRule, pair_rules
from obverse.safety.setting import HURTS, KILLS, Effect, Setting

RECKONED = "reckoned."
SOURCE = Source(
    "reckoned from composition, acidity, potentials and the room; many of the constants are from memory",
    Standing.COMPUTED,
    partly_memory=True,
)
_CONTEXTS = {
    "mixing": "mixing",
    "carry_over": "carry_over",
    "jug": "waste",
    "shelf": "storage",
    "room": "same_room",
}


def finding_of(effect: Effect, setting: Setting, where: str = "", *, usual: bool = False) -> Finding:
    """One effect in the checker's words."""
    amount = f" ({effect.amount})" if effect.amount else ""
    taken = " Usual amounts were taken, none was given." if usual else ""
    # Water that was added for the reckoning is nobody's doing.
    names = tuple(name for name in effect.parts if name != "water") or effect.parts or ("it",)
    together = " with ".join(dict.fromkeys((names[0], names[-1])))
    return Finding(
        pair=RECKONED + effect.mechanism,
        severity=effect.severity,
        context=_CONTEXTS.get(setting.place, setting.place),
        level=_level(effect.severity),
        refused=effect.severity == KILLS,
        a=names[0],
        b=names[-1],
        a_from=names[0],
        b_from=names[-1],
        product=effect.what,
        text=f"{together[:1].upper()}{together[1:]}: {effect.what}{amount}.{taken}",
        advice=effect.do or "Do not bring them together.",
        source=SOURCE,
        where=where,
        gas=bool(effect.gas),
    )


def weighed(
    pairs: Iterable[Finding],
    effects: Sequence[Effect],
    *,
    lethal_too: bool = False,
    told: bool = True,
    rinsed: bool = False,
) -> tuple[Finding, ...]:
    """Recorded pairs beside the engine's answer for the same amounts: no louder than it, and what it reckons as trifling is only noted.

    A pair of a kind that the engine does not reckon (stain, a lost bath, a rule of habit) stays as it is recorded.

    Parameters
    ----------
    lethal_too : bool
        A pair that can kill is weighed too: for what a person asks, with its amounts or the usual ones, never for a recipe that somebody
        will make larger.
    told : bool
        The amounts were told, so that none stays as recorded because of what more of it does.
    rinsed : bool
        Of what is carried over: water came between. Without it a pair that is a caution at the least stays one, for a rinse is easily had.
    """
    worst = severity_of(effects)
    rules = {rule.pair: rule for rule, _ in pair_rules() if rule.reckoned}
    return tuple(
        _no_louder(finding, worst, "the amounts here" if told else "usual amounts")
        if finding.pair in rules
        and _reckons(rules[finding.pair], finding.context, told=told, rinsed=rinsed)
        and (lethal_too or finding.severity < REFUSED)
        else finding
        for finding in pairs
    )


def _reckons(rule: PairRule, context: str, *, told: bool, rinsed: bool) -> bool:
    """Whether the engine's answer counts beside this pair here."""
    of_film = context == "carry_over" and (rule.harms_film or (rule.carry_floor == "caution" and not rinsed))
    return not of_film and (not rule.reckoned_in or context in rule.reckoned_in) and (told or not rule.stays_untold)


def _no_louder(finding: Finding, worst: int, amounts: str) -> Finding:
    if finding.severity >= TOLD > worst:
        text = f"{finding.text} In {amounts} it is reckoned as small."
        return replace(finding, refused=False, level=Level.NOTE, text=text)
    if finding.severity == KILLS > worst:
        text = f"{finding.text} In {amounts} it hurts; more of it can kill."
        return replace(finding, refused=False, severity=worst, level=_level(worst), text=text)
    return finding


def _level(severity: int) -> Level:
    return Level.DANGER if severity >= HURTS else Level.CAUTION


def once_each(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """The same thing told twice of one place, once and at its worst; worst first.

    What the engine reckons stands before a recorded pair of the same weight, because it says how much.
    """
    order = {Level.DANGER: 0, Level.CAUTION: 1, Level.NOTE: 2}

    def rank(finding: Finding) -> tuple[bool, int, int, bool, bool, str]:
        reckoned = finding.pair.startswith(RECKONED)
        # What two do to each other stands before what one does alone.
        alone = finding.a_from == finding.b_from
        return (not finding.refused, order[finding.level], -finding.severity, alone, not reckoned, finding.pair)

    best: dict[tuple[str, str, str, frozenset[str]], Finding] = {}
    for finding in found:
        key = (finding.pair, finding.context, finding.where, frozenset((finding.a_from, finding.b_from)))
        if key not in best or rank(finding) < rank(best[key]):
            best[key] = finding
    return tuple(sorted(best.values(), key=rank))


def shown_and_folded(found: Sequence[Finding]) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """What stands open and what is folded, as of all cautions; notes stand open only where there is nothing louder."""
    # How a name was taken stands before all.
    called = [finding for finding in found if finding.pair == "called"]
    others = [finding for finding in found if finding.pair != "called"]
    loud = [finding for finding in others if finding.level is not Level.NOTE] or others
    shown, folded = open_and_folded(loud, lambda one: one.level, kinds=_kinds)
    quiet = [finding for finding in others if all(finding is not other for other in loud)]
    return (*called, *shown), (*folded, *quiet)


def _kinds(finding: Finding) -> tuple[str, str]:
    # "chlorine" of a record is the "chlorine: acid on hypochlorite" that is reckoned.
    return finding.pair, f"makes {finding.product.partition(':')[0]}"
