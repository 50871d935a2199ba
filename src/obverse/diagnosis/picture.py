"""Faults from the picture: what the eye would see on the strip, measured, and weighed in one comparison.

How well faults are told, and how often something is told of sound strips: docs/faults.md.
"""

from __future__ import annotations

from collections.abc import Sequence

from obverse.densitometry import StripReading
from obverse.diagnosis.finding import NAMES, FaultFinding
from obverse.diagnosis.measures import Measures, measure
from obverse.diagnosis.picture_words import CURES, evidence, what_stands_out
from obverse.diagnosis.sheet import lay_flat
from obverse.diagnosis.weighing import ELSE, EXPLANATIONS, FAULTS, Weights, learned
from obverse.imaging import Picture
from obverse.reference import number

# A fault is told from this probability on, and that something is there: sound strips of other hands came near it.
TOLD = number("diagnosis.picture.told_from")
_LIKELIER = 0.5  # than all else together
_LEAST_NAMED = 0.001


def diagnose_picture(pictures: Sequence[Picture], reading: StripReading) -> tuple[FaultFinding, ...]:
    """Faults that the picture of a strip shows, the likeliest first.

    Parameters
    ----------
    pictures : sequence of Picture
        What the reading was made from.

    Returns
    -------
    tuple of FaultFinding
        Only what is likely (`TOLD`), each against its alternatives; "cannot_tell" where the strip is likely
        not sound and no fault is likely; empty for a sound strip.
    """
    if not_looked_for(pictures, reading):
        return ()
    return weigh(measure(lay_flat(pictures, reading), reading), learned())


def not_looked_for(pictures: Sequence[Picture], reading: StripReading) -> str:
    """Why faults were not looked for, in one sentence; empty where they were.

    A halo, a tone curve of a camera or stray light over the edges looks like fog, a leak or a stain, and the comparison was
    learned where none of them was left unknown; elsewhere silence is better than a false alarm.

    Returns
    -------
    str
        Empty where faults were looked for.
    """
    if any(picture.encoding not in ("linear", "profile") for picture in pictures):
        return "Faults were not looked for: a picture whose tone curve the camera chose itself hides and invents them; give RAW or a linear TIFF."
    if not reading.reference.glare.measured:
        return "Faults were not looked for: without an opaque piece beside the strip stray light cannot be told from fog or a leak."
    if reading.reference.clipped:
        return "Faults were not looked for: the open panel is overexposed."
    return ""


def weigh(found: Measures, weights: Weights) -> tuple[FaultFinding, ...]:
    """Findings from the measures of a strip."""
    weighed = list(zip(EXPLANATIONS, weights.probabilities(found.numbers), strict=True))
    chance = {fault: float(sum(p for parts, p in weighed if fault in parts)) for fault in (*FAULTS, ELSE)}
    sound = float(sum(p for parts, p in weighed if not parts))
    strange = bool(weights.unlike_anything(found.numbers))
    told = [] if strange else [fault for fault in FAULTS if chance[fault] > TOLD]
    findings = [
        FaultFinding(
            fault, round(chance[fault], 4), evidence(fault, found), CURES[fault], _instead(fault, set(told), weighed)
        )
        for fault in sorted(told, key=lambda f: -chance[f])
    ]
    if not findings and (strange or sound < 1 - TOLD):
        findings.append(_cannot_tell(found, weights, chance, sound, strange))
    return tuple(findings)


def _instead(fault: str, told: set[str], weighed: list[tuple[tuple[str, ...], float]]) -> tuple[tuple[str, float], ...]:
    """What else explains the look that speaks for a fault: the explanations without it, less the other faults told."""
    rest: dict[str, float] = {}
    for parts, probability in weighed:
        if fault not in parts:
            name = "+".join(part for part in parts if part not in told) or "sound"
            rest[name] = rest.get(name, 0.0) + float(probability)
    return tuple((name, round(p, 4)) for name, p in sorted(rest.items(), key=lambda one: -one[1]) if p >= _LEAST_NAMED)


def _cannot_tell(
    found: Measures, weights: Weights, chance: dict[str, float], sound: float, strange: bool
) -> FaultFinding:
    seen = what_stands_out(found, weights.scale)
    likely = [(fault, p) for fault, p in sorted(chance.items(), key=lambda one: -one[1]) if p > 0.1 and fault != ELSE]
    if strange or chance[ELSE] > _LIKELIER:
        said = f"The strip is not even, in a way that none of the known faults makes: {seen}."
    elif len(likely) > 1:
        said = f"Something is there that fits several faults ({' or '.join(NAMES[fault].lower() for fault, _ in likely)}): {seen}."
    else:
        said = f"Something is there, too faint to be named: {seen}."
    others = sorted([("sound", sound), *chance.items()], key=lambda one: -one[1])
    # Where the strip is like nothing known, probabilities among the known explanations mean little.
    named = () if strange else tuple((name, round(p, 4)) for name, p in others if p >= _LEAST_NAMED)
    return FaultFinding("cannot_tell", round(1 - sound, 4), said, CURES["cannot_tell"], named)
