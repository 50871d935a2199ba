"""What a notebook says against itself: strips made alike and judged apart, amounts that can hardly be, both words of one scale.

Nothing is corrected and nothing left out: each note says what it rests on and what would change it. Pure functions.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain

from obverse.process import CONTROLS, GRADES, Grade, Trial, read_words
from obverse.workbench.words import grades_text

# Shades side by side are one opinion; two steps apart they are two.
STEPS_APART = 2
# Of two words one says "both".
BOTH = 2


@dataclass(frozen=True, slots=True)
class Contradiction:
    """One thing the notebook says against itself.

    Parameters
    ----------
    code : str
        ``"contradiction.alike"``, ``"contradiction.amount"`` or ``"contradiction.words"``.
    strips : tuple of str
        Names of the strips it is about.
    text : str
        What stands against what.
    would_change : str
        What the person can do, and what that changes.
    """

    code: str
    strips: tuple[str, ...]
    text: str
    would_change: str


def contradictions(trials: Sequence[Trial]) -> tuple[Contradiction, ...]:
    """All of one film, in the order of its strips.

    Parameters
    ----------
    trials : sequence of Trial
        Those that count: what was put aside contradicts nothing.
    """
    return (*_made_alike(trials), *chain.from_iterable((*_amounts(trial), *_both_words(trial)) for trial in trials))


def _made_alike(trials: Sequence[Trial]) -> Iterable[Contradiction]:
    groups: defaultdict[tuple[object, ...], list[Trial]] = defaultdict(list)
    for trial in trials:
        if trial.controls and trial.grades:
            groups[(tuple(sorted(trial.controls.items())), tuple(sorted(trial.wear.items())))].append(trial)
    for alike in groups.values():
        apart = [of for of in GRADES if _apart([_of(one, of) for one in alike])]
        if not apart:
            continue
        said = "; ".join(
            f"{one.id}: {', '.join(grades_text(grade for of in apart for grade in _of(one, of)))}"
            for one in alike
            if any(_of(one, of) for of in apart)
        )
        yield Contradiction(
            "contradiction.alike",
            tuple(one.id for one in alike),
            f"Made alike ({CONTROLS.text(alike[0].controls)}) and judged apart. {said}.",
            "Was one of them made otherwise, with an older bath, warmer, or looked at by another light? Correct it, or put it aside: all of "
            "them count alike now, and what is believed of this film lies between them. If all are right, this way does not repeat "
            "itself: look for what differs from evening to evening before the recipe is changed.",
        )


def _amounts(trial: Trial) -> Iterable[Contradiction]:
    for key, control in CONTROLS.items():
        if key not in trial.controls:
            continue
        value = trial.controls[key]
        low, high = control.sensible
        if low <= value <= high:
            continue
        ask = "Does a figure stand in the wrong place, or another unit? Correct the strip"
        if control.unit == "mL/L" and value > high:
            ask = "Does a figure stand in the wrong place, or were mL of a diluted solution meant? Correct the strip"
        yield Contradiction(
            "contradiction.amount",
            (trial.id,),
            f"{trial.id} has {control.text(value)}; from {low:g} to {control.amount(high)} is where practice lies.",
            f"{ask}: as it stands it counts, and bends what is believed of {control.word} for all strips of this film. "
            "If it is right, leave it; predictions near it are a guess.",
        )


def _both_words(trial: Trial) -> Iterable[Contradiction]:
    said: dict[str, list[Grade]] = {of: _of(trial, of) for of in GRADES}
    read = read_words(trial.note)
    in_note = [*read.grades, *(grade for clause in read.left for grade in read_words(clause).grades)]
    for grade in in_note:
        said[grade.of].append(grade)
    for of, grades in said.items():
        if _spread(grades) < STEPS_APART:
            continue
        words = list(dict.fromkeys(grades_text(grades)))
        counting = list(dict.fromkeys(grades_text(_of(trial, of))))
        # Of a tint the first word counts alone.
        if of == "tint":
            counting = counting[:1]
        counts = (
            f"{'neither' if len(words) == BOTH else 'none'} counts now"
            if not counting
            else f"{'both' if len(counting) == BOTH else 'all'} count now"
            if len(counting) > 1
            else f"{counting[0]} counts now"
        )
        yield Contradiction(
            "contradiction.words",
            (trial.id,),
            f"{trial.id} says {'both' if len(words) == BOTH else 'all of these'}: {' and '.join(words)}.",
            f"Say which is meant, or where on the strip each was seen: {counts}. A word that is taken out or put in "
            f"moves what is believed of this film's {of}.",
        )


def _of(trial: Trial, of: str) -> list[Grade]:
    return [grade for grade in trial.grades if grade.of == of]


def _apart(judged: Sequence[Sequence[Grade]]) -> bool:
    """Whether strips, each with its grades on one scale, are judged apart; what one strip says twice is another matter."""
    said = [grades for grades in judged if grades]
    return len(said) > 1 and _spread(chain.from_iterable(said)) >= STEPS_APART


def _spread(grades: Iterable[Grade]) -> int:
    places = [GRADES[grade.of].index(grade.grade) for grade in grades]
    return max(places) - min(places) if places else 0
