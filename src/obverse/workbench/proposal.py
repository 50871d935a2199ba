"""The next strips of a film, and what is said of them where they go against what a word of the eye commonly asks for."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from obverse.inference import NextStrips, Suggestion, percent
from obverse.inference import next_strips as proposed
from obverse.process import ALKALI, CONTROLS, SOLVENT, TIME, Series, Trial

__all__ = ["NextStrips", "next_strips", "percent"]

# A word of the eye, what it commonly asks of the solvent (common practice, no source), and the word that speaks for the opposite.
_ASKS = (
    ("highlights", ("murky", "slightly_murky"), 1, ("blacks", ("thin", "slightly_thin"))),
    ("blacks", ("thin", "slightly_thin"), -1, ("highlights", ("murky", "slightly_murky"))),
)


def next_strips(series: Series, **how: Any) -> NextStrips:
    """The strips to try next, as the notebook proposes them everywhere.

    Parameters
    ----------
    **how
        As `obverse.inference.next_strips` takes them.

    Returns
    -------
    NextStrips
        With a sentence more in the reason of a strip that goes against what was judged.
    """
    answer = proposed(series, **how)
    best = answer.best_trial
    trial = next((one for one in series.trials if best is not None and one.id == best.id), None)
    if trial is None:
        return answer
    told = tuple(
        replace(one, reason=" ".join(filter(None, (one.reason, against_the_word(trial, one)))))
        for one in answer.suggestions
    )
    return replace(answer, suggestions=told)


def against_the_word(trial: Trial, proposal: Suggestion) -> str:
    """Why a strip takes the solvent the other way than the eye's word about another commonly asks; empty where it does not.

    Parameters
    ----------
    trial : Trial
        The strip it is compared with.
    """
    grades: dict[str, str] = {grade.of: grade.grade for grade in trial.grades}

    def change(key: str) -> float:
        usual = CONTROLS[key].reference
        return float(proposal.controls.get(key, usual) - trial.controls.get(key, usual))

    solvent = change(SOLVENT.key)
    for of, words, asks, (other, speaks_for_less) in _ASKS:
        if grades.get(of) not in words or grades.get(other) in speaks_for_less:
            continue
        if asks * solvent > -SOLVENT_STEP:
            continue
        longer, stronger = change(TIME.key) > 0, change(ALKALI.key) > 0
        by = " and ".join(
            part for part, true in (("a longer first development", longer), ("more alkali", stronger)) if true
        )
        if asks > 0:
            way = f"{f'by {by} instead' if by else 'otherwise'}, and expects more solvent to cost the blacks"
        else:
            way = "from the other controls, and expects the highlights to need the solvent"
        want = "clear the highlights" if asks > 0 else "get the blacks"
        usual = "more" if asks > 0 else "less"
        told = (
            f"{trial.id[:1].upper()}{trial.id[1:]} was judged {grades[of].replace('_', ' ')} in the {of}, which commonly asks for {usual} solvent; "
            f"the notebook would {want} {way}."
        )
        if proposal.probability_in_aim >= LIKELY:
            return told
        return (
            f"{told} It is far from sure ({percent(proposal.probability_in_aim)}): a strip with {usual} solvent and nothing else "
            "changed is as good a question."
        )
    return ""


# A smaller change of the solvent is none, mL/L; and a strip less likely than not is a question.
SOLVENT_STEP, LIKELY = 0.5, 0.5
