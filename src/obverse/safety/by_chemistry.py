"""What holds of a process by the chemistry of its baths, whoever wrote it: its warnings, and where its used baths go."""

from __future__ import annotations

from collections.abc import Mapping

from obverse.process import Formula, Process, Step
from obverse.process.catalog import routes
from obverse.safety.check import as_worked
from obverse.safety.destroy import destruction_steps, residue_of
from obverse.safety.matter import of_formula
from obverse.safety.waste import usual_jug

# Baths that no drain takes though they need not be destroyed the same evening.
_TO_A_JUG = frozenset(("permanganate", "dichromate", "iron_chloride", "copper", "silver_ammine", "thiosulfate"))
# The shipped process whose warnings hold where such a bath is used, and another whose warnings are set aside.
_SHIPPED = {
    "dichromate": ("dichromate_light", ""),
    "permanganate": ("permanganate_light", ""),
    "silver_ammine": ("iron_ammonia_light", ""),
    "dithionite": ("peroxide_acid_fogging", "peroxide_acid_light"),
}


def classes_of(formula: Formula) -> frozenset[str]:
    """What the bath holds once a film was in it, as the hazard rules name it."""
    return frozenset(name for part in of_formula(formula, used=True).ingredients for name in part.classes)


def warnings_of(process: Process, known: Mapping[str, Formula]) -> tuple[int, tuple[str, ...]]:
    """How late a process is shown (rank, 9 last) and what it warns of, by what its baths hold.

    The words are those of the shipped processes with the same chemistry. A bath that is none of theirs warns of nothing
    here; the engine and the recorded pairs judge it all the same.
    """
    rank, told = 1, []
    inside = [
        classes_of(as_worked(step, known[step.formula], process))
        for step in process.steps
        if step.formula and step.formula in known
    ]
    for name, (key, less) in _SHIPPED.items():
        if not any(name in classes for classes in inside):
            continue
        aside = routes()[less].warnings if less else ()
        told += [text for text in routes()[key].warnings if text not in aside]
        rank = max(rank, routes()[key].hazard_rank if not less else 1)
    return rank, tuple(dict.fromkeys(told))


def usual_after_use(step: Step, formula: Formula, process: Process, known: Mapping[str, Formula]) -> tuple[str, str]:
    """What is done with a used bath of which nobody said it, and the letter of its jug.

    What must not stand is destroyed; what no drain takes goes to the jug of its class, and so does what clears a film
    after dichromate. Of everything else it stays what the step says.
    """
    if residue_of(formula) is not None:
        return "destroy", destruction_steps(formula)[-1].waste_jug
    if _TO_A_JUG & classes_of(formula):
        return "waste", usual_jug(formula)
    before = process.steps[: process.steps.index(step)]
    if step.kind == "clear" and any(
        "dichromate" in classes_of(known[s.formula]) for s in before if s.formula and s.formula in known
    ):
        return "waste", "D2"
    return step.after_use, step.waste_jug
