"""A strip that takes the solvent the other way than the eye's word asks says so, and why, wherever it is proposed."""

import pytest

from obverse.inference import Suggestion
from obverse.process import Trial
from obverse.workbench import proposal
from obverse.workbench.proposal import against_the_word


def trial(*grades, solvent=4.0):
    controls = {"first_developer_time_min": 11, "solvent_ml_per_l": solvent, "alkali_ml_per_l": 8}
    return Trial(id="strip 2", controls=controls, grades=[{"of": of, "grade": grade} for of, grade in grades])


def strip(time=11.0, solvent=4.0, alkali=8.0, chance=0.08):
    controls = {"first_developer_time_min": time, "solvent_ml_per_l": solvent, "alkali_ml_per_l": alkali}
    return Suggestion(controls, chance, {}, 0.1, "Because.", (0.0,))


@pytest.mark.parametrize(
    ("grades", "proposed", "says"),
    [
        ([("highlights", "murky")], strip(17, 0, 15), ("Strip 2 was judged murky in the highlights, which commonly asks for more solvent; the notebook would clear the highlights by a longer first development and more alkali instead", "(8 %)", "with more solvent and nothing else")),
        ([("highlights", "slightly_murky")], strip(17, 0, 8), ("slightly murky", "by a longer first development instead")),
        ([("highlights", "murky")], strip(11, 0, 8), ("clear the highlights otherwise",)),
        ([("highlights", "murky")], strip(17, 0, 15, chance=0.7), ("clear the highlights",)),
        ([("blacks", "thin")], strip(9, 9, 8), ("judged thin in the blacks, which commonly asks for less solvent", "with less solvent and nothing else")),
        ([("highlights", "murky")], strip(17, 6, 15), ()),
        ([("highlights", "murky")], strip(17, 3.8, 15), ()),
        ([("highlights", "murky"), ("blacks", "thin")], strip(17, 0, 15), ()),
        ([("highlights", "clear")], strip(17, 0, 15), ()),
        ([("midtones", "dark")], strip(17, 0, 15), ()),
    ],
)  # fmt: skip
def test_the_word_and_the_strip(grades, proposed, says):
    told = against_the_word(trial(*grades), proposed)
    assert bool(told) == bool(says) and all(part in told for part in says)
    assert ("far from sure" in told) == (bool(says) and proposed.probability_in_aim < 0.5)


def test_the_reason_of_a_proposal_carries_it(monkeypatch):
    from dataclasses import dataclass

    @dataclass(frozen=True)
    class Answer:
        best_trial: Trial | None
        suggestions: tuple[Suggestion, ...]

    murky = trial(("highlights", "murky"))
    monkeypatch.setattr(proposal, "proposed", lambda series: Answer(murky, (strip(17, 0, 15), strip(17, 6, 15))))
    series = type("Few", (), {"trials": (murky,)})()
    first, second = proposal.next_strips(series).suggestions
    assert first.reason.startswith("Because. Strip 2 was judged murky") and second.reason == "Because."
