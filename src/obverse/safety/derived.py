"""What the engine finds, in the words of the checker; and recorded pairs weighed by it where amounts are known."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from obverse.foundation import Level, Source, Standing, open_and_folded
from obverse.safety.engine import REFUSED, TOLD, severity_of
from obverse.safety.finding import Finding
from obverse.safety.rules import pair_rules
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
    level = Level.DANGER if effect.severity >= HURTS else Level.CAUTION
    together = " with ".join(dict.fromkeys((names[0], names[-1])))
    return Finding(
        pair=RECKONED + effect.mechanism,
        severity=effect.severity,
        context=_CONTEXTS.get(setting.place, setting.place),
        level=level,
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
    pairs: Iterable[Finding], effects: Sequence[Effect], *, lethal_too: bool = False, rinsed: bool = False
) -> tuple[Finding, ...]:
    """Recorded pairs beside the engine's answer for the same known amounts: what it reckons as trifling is only noted.

    A pair of a kind that the engine does not reckon (stain, a lost bath, a rule of habit) stays as it is recorded.

    Parameters
    ----------
    lethal_too : bool
        A pair that can kill is only noted too where its amounts are small: for what a person asks with its amounts,
        never for a recipe that somebody will make larger.
    rinsed : bool
        Of what is carried over: water came between. Without it a pair that is a caution at the least stays one, for a rinse is easily had.
    """
    worst = severity_of(effects)
    rules = {rule.pair: rule for rule, _ in pair_rules() if rule.reckoned}
    found = []
    for finding in pairs:
        small = worst < TOLD and (lethal_too or finding.severity < REFUSED)
        rule = rules.get(finding.pair)
        if rule is None:
            found.append(finding)
            continue
        stays = rule.harms_film or (rule.carry_floor == "caution" and not rinsed)
        if small and finding.severity >= TOLD and not (stays and finding.context == "carry_over"):
            text = f"{finding.text} In the amounts here it is reckoned as small."
            finding = replace(finding, refused=False, level=Level.NOTE, text=text)
        found.append(finding)
    return tuple(found)


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
