"""One tolerant path: the same eight situations by each of the four doors through which a strip comes in.

The doors are a person's table, a series document, the form (and `obverse trial`), and the pool. What became of a strip is
seen from what stands in the notebook afterwards, not from what the door says.
"""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from obverse.foundation import ConflictError
from obverse.pool import LendingDarkroom, LentFilm, LentStrip, PoolDocument, fate_by_name, merge_strips
from obverse.process import FilmStock, Trial, strip_id
from obverse.workbench.bootstrap import Workbench, open_workbench
from obverse.workbench.past_strips import PastTableGiven, look, take_in

NOW = datetime(2031, 5, 1, tzinfo=UTC)
# As a table says exposures.
STOPS = (-1, 0, 1)
FILM = FilmStock(name="grey", box_speed=100)


def strip(name: str, time: float, density: float | None, day: str = "") -> Trial:
    read = (
        [] if density is None else [{"log_exposure": 0.301 * stops, "density": density - stops / 4} for stops in STOPS]
    )
    made_on = date.fromisoformat(day) if day else None
    return Trial.model_validate(
        {"id": name, "controls": {"first_developer_time_min": time}, "steps": read, "made_on": made_on}
    )


READ, WAITS, ASIDE = strip("one", 9, 1.5, "2031-04-01"), strip("two", 10, None), strip("three", 11, 1.2)
SITUATIONS = {
    "the same again": (READ, "known"),
    "the same under another name": (READ.model_copy(update={"id": "uno"}), "known"),
    "the same to the last bits": (strip("one", 9 + 1e-9, 1.5 + 1e-9, "2031-04-01"), "known"),
    "its name and other words": (strip("one", 9, 1.6, "2031-04-01"), "disputed"),
    "what was read of one that waited": (strip("two", 10, 1.4), "corrected"),
    "a new one": (strip("four", 12, 1.1), "new"),
    "the same words on another day": (READ.model_copy(update={"id": "five", "made_on": date(2031, 4, 2)}), "new"),
    "one that was put aside": (ASIDE, "known"),
}


@pytest.fixture
def home(tmp_path):
    bench = open_workbench(tmp_path, url="sqlite://")
    film = bench.notebook.add_film(FILM.model_dump(mode="json")).id
    for one in (READ, WAITS, ASIDE):
        kept = bench.notebook.add_trial(film, one.model_dump(mode="json"))
    bench.notebook.retire_trial(kept.id)
    yield bench
    bench.close()


def by_table(bench: Workbench, film: str, given: Trial) -> str:
    (time,) = given.controls.values()
    read = ";".join(f"{patch.density:.12g}" for patch in given.steps) or ";;"
    text = f"film;strip;date;time min;a;b;c\ngrey;{given.id};{given.made_on or ''};{time!r};{read}\n"
    table = PastTableGiven(text=text, match={head: f"density:{at}" for head, at in zip("abc", STOPS, strict=True)})
    if look(bench.notebook, table).document()["waiting"]:
        return "disputed"
    take_in(bench.notebook, table)
    return ""


def by_document(bench: Workbench, film: str, given: Trial) -> str:
    series = bench.notebook.series(film).model_dump(mode="json")
    bench.notebook.import_series({**series, "trials": [given.model_dump(mode="json")]})
    return ""


def by_form(bench: Workbench, film: str, given: Trial) -> str:
    try:
        bench.notebook.add_trial(film, given.model_dump(mode="json"))
    except ConflictError as error:
        assert "stands on this film's page already" in error.sentence
        return "disputed"
    return ""


@pytest.mark.parametrize("door", [by_table, by_document, by_form], ids=lambda door: door.__name__)
@pytest.mark.parametrize("situation", SITUATIONS)
def test_what_becomes_of_a_strip_does_not_depend_on_its_door(home, door, situation):
    given, expected = SITUATIONS[situation]
    (film,) = (kept.id for kept in home.notebook.films())

    def standing() -> dict[str, tuple[int, bool]]:
        every = [*home.notebook.trials(film), *home.notebook.retired_trials(film)]
        return {kept.id: (kept.revision, kept.retired_at is None) for kept in every}

    before = standing()
    told, after = door(home, film, given), standing()
    fresh = [counts for id, (_, counts) in after.items() if id not in before]
    if fresh:
        found = "new" if fresh[0] else "disputed"
    else:
        found = "corrected" if after != before else told or "known"
    # Whoever gives by hand what was put aside takes it back; a table or a document does not.
    by_hand = door is by_form and given is ASIDE
    assert found == ("corrected" if by_hand else expected)
    # Once more: what was taken in is known now, and nothing stands double.
    door(home, film, given)
    assert standing() == after


@pytest.mark.parametrize("situation", SITUATIONS)
def test_the_pool_tells_the_same(home, situation):
    """A strip of the pool has its lasting id in place of a name; one put aside is one that its lender took back."""
    given, expected = SITUATIONS[situation]

    def lent(trial: Trial, first: Trial, revision: int = 1) -> LentStrip:
        return LentStrip(id=strip_id("north", first), revision=revision, trial=trial)

    of = {one.id: one for one in (READ, WAITS, ASIDE)}.get(given.id, given)
    rows = [lent(given, of, 2 if expected == "corrected" else 1)]
    merged = merge_strips([lent(READ, READ), lent(WAITS, WAITS)], rows, withdrawn=[lent(ASIDE, ASIDE).id])
    assert merged.fates[0].fate == ("taken back" if of is ASIDE else expected)
    assert len(merged.strips) == 2 + (expected == "new") and len(merged.disputed) == (expected == "disputed")
    document = PoolDocument(
        darkroom=LendingDarkroom(id="north"), made_at=NOW, films=(LentFilm(film=FILM, strips=tuple(rows)),)
    )
    # What stands on one's own pages, put aside or not, comes back from another darkroom as known.
    (own,) = home.pool.take(document)
    is_own = situation in ("the same again", "the same under another name", "the same to the last bits")
    assert (own.merged.fates[0].fate == "known") == (is_own or of is ASIDE)


def test_of_two_that_say_the_same_the_one_of_its_name_is_meant():
    twin = READ.model_copy(update={"id": "uno"})
    assert fate_by_name(READ, [twin, READ]) == ("known", 1)
    assert fate_by_name(WAITS, [WAITS]) == ("known", 0)
    assert fate_by_name(strip("two", 12, 1.4), [WAITS]) == ("disputed", 0)
