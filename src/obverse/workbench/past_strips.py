"""Past strips: a person's own table looked at, and written down when it is confirmed."""

from __future__ import annotations

import difflib
import hashlib
import json
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import date
from typing import Literal

from pydantic import Field

from obverse.foundation import ConflictError, Document, InputError, JsonObject, read_document, whole_number
from obverse.pool import Fate, fate_by_name
from obverse.process import (
    BORDER,
    CONTROLS,
    LIGHTEST,
    MOST_TABLE_COLUMNS,
    ControlRange,
    FilmStock,
    PastStrip,
    PastTable,
    Trial,
    has_evidence,
    plain_name,
    read_past_strips,
)
from obverse.store import Stored
from obverse.store.records import TrialEntry
from obverse.workbench.names import apart, next_strip
from obverse.workbench.notebook import Notebook
from obverse.workbench.words import grades_text

# Where neither the table nor the name tells a box speed; the person is told and asked.
SPEED_UNTOLD = 100.0
# Speeds that films have been sold at; common practice, no source. A number of a name is one of these or tells nothing.
SPEEDS = frozenset(
    (6, 8, 10, 12, 20, 25, 32, 40, 50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1600, 3200)
)
# Names so alike are shown side by side; the person says whether they are one film.
ALIKE = 0.85
# Cells of a column shown as examples.
EXAMPLES = 3

Becomes = Literal["new", "known", "same_name", "left_out"]


class PastTableGiven(Document):
    """A table of past strips, and what the person says of it.

    `match` names columns by their head or number; `films` gives films other names than the table does, such as that of
    a film in the notebook; `leave_out`, `as_another`, `as_correction` are lines of the table.
    """

    text: str = Field(max_length=2_000_000)
    match: dict[str, str] = Field(default_factory=dict)
    held: dict[str, float] = Field(default_factory=dict)
    tank_ml: float | None = Field(default=None, gt=0, le=100_000)
    month_first: bool = False
    film: str = Field(default="", max_length=120)
    films: dict[str, str] = Field(default_factory=dict)
    speeds: dict[str, float] = Field(default_factory=dict)
    corrections: dict[str, str] = Field(default_factory=dict, description="'LINE:COLUMN' to what is meant there")
    leave_out: tuple[int, ...] = ()
    as_another: tuple[int, ...] = ()
    as_correction: tuple[int, ...] = ()
    seen: str = Field(default="", max_length=80, description="the mark of the preview that was confirmed")


@dataclass(slots=True)
class _PlannedRow:
    """A row of the table and what will become of it."""

    strip: PastStrip
    film: str
    name: str
    becomes: Becomes
    why: str = ""
    corrects: str = ""
    trial: Trial | None = None


@dataclass(slots=True)
class _PlannedFilm:
    """A film of the table: the one of the notebook, or a new one."""

    name: str
    kept: Stored[FilmStock] | None
    written: list[str] = field(default_factory=list)
    box_speed: float = SPEED_UNTOLD
    speed_from: str = ""
    base_density: float | None = None
    alike: str = ""


@dataclass(slots=True)
class _Planned:
    table: PastTable
    films: dict[str, _PlannedFilm]
    rows: list[_PlannedRow]


@dataclass(frozen=True, slots=True)
class PastFilm:
    """A film of the table, with how many of its strips would be written down; `id` is empty for a new one."""

    key: str
    name: str
    written: list[str]
    id: str
    box_speed: float
    speed_from: str
    base_density: float | None
    alike: str
    strips: int
    new: int

    def document(self) -> JsonObject:
        """The JSON shape."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class PastRow:
    """A row of the table and what becomes of it."""

    strip: PastStrip
    film: str
    name: str
    becomes: Becomes
    why: str
    corrects: bool

    @property
    def controls_short(self) -> str:
        """What was done, in few words."""
        return CONTROLS.short_text(self.strip.controls)

    @property
    def evidence_text(self) -> str:
        """What was seen, in words."""
        return evidence_text(self.strip)

    def document(self) -> JsonObject:
        """The JSON shape."""
        strip = self.strip
        return {
            "line": strip.line,
            "film": self.film,
            "name": self.name,
            "becomes": self.becomes,
            "why": self.why,
            "corrects": self.corrects,
            "made_at": strip.made_at,
            "controls": strip.controls,
            "controls_text": CONTROLS.text(strip.controls),
            "controls_short": self.controls_short,
            "evidence_text": self.evidence_text,
            "note": strip.note,
            "remarks": [asdict(remark) for remark in strip.remarks],
        }


@dataclass(frozen=True, slots=True)
class PastPreview:
    """What each column is, what each row becomes, what was not understood, and how many of each there are."""

    table: PastTable
    films: tuple[PastFilm, ...]
    rows: tuple[PastRow, ...]

    def _count(self, becomes: Becomes) -> int:
        return sum(row.becomes == becomes for row in self.rows)

    @property
    def corrected(self) -> int:
        """Strips that the table corrects."""
        return sum(row.corrects for row in self.rows)

    @property
    def new(self) -> int:
        """Strips that would be written down."""
        return self._count("new") - self.corrected

    @property
    def known(self) -> int:
        """Strips that stand there already."""
        return self._count("known")

    @property
    def waiting(self) -> int:
        """Strips that wait for a word."""
        return self._count("same_name")

    @property
    def not_taken(self) -> int:
        """Rows that become no strip."""
        return self._count("left_out") + sum(not one.understood for one in self.table.left_out)

    @property
    def not_understood(self) -> int:
        """Cells that could not be taken as what their column is."""
        return sum(not remark.understood for row in self.rows for remark in row.strip.remarks)

    @property
    def needs_tank(self) -> bool:
        """Whether amounts wait for the volume of their bath."""
        return any(row.strip.waits_for_bath for row in self.rows)

    @property
    def needs_film(self) -> bool:
        """Whether a strip is of no film."""
        return any(not row.film for row in self.rows)

    @property
    def sentence(self) -> str:
        """What would be done, in a sentence."""
        return _sentence(self)

    @property
    def mark(self) -> str:
        """By which a preview is known again: of its rows and films."""
        told = [[row.document() for row in self.rows], [film.document() for film in self.films]]
        return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "columns": [
                {
                    "place": c.place,
                    "head": c.head,
                    "what": c.what,
                    "told": c.told,
                    "in_ml": c.in_ml,
                    "examples": _examples(c.place, self.table),
                }
                for c in self.table.columns
            ],
            "held": [
                {"control": key, "word": CONTROLS[key].word, "value": value, "text": CONTROLS[key].amount(value)}
                for key, value in self.table.held.items()
            ],
            "films": [film.document() for film in self.films],
            "rows": [row.document() for row in self.rows],
            "left_out": [asdict(one) for one in self.table.left_out],
            "new": self.new,
            "corrected": self.corrected,
            "known": self.known,
            "waiting": self.waiting,
            "not_taken": self.not_taken,
            "not_understood": self.not_understood,
            "needs_tank": self.needs_tank,
            "needs_film": self.needs_film,
            "sentence": self.sentence,
            "mark": self.mark,
        }


@dataclass(frozen=True, slots=True)
class PastTaken:
    """What was written down of a table, and on the pages of which films: (id, name)."""

    written: int
    corrected: int
    known: int
    films: tuple[tuple[str, str], ...]
    sentence: str

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {**asdict(self), "films": [{"id": id, "name": name} for id, name in self.films]}


def look(notebook: Notebook, given: PastTableGiven) -> PastPreview:
    """What each column is, what each row becomes and what was not understood; nothing is written.

    Raises
    ------
    InputError
        If it is no table.
    """
    return _previewed(_plan(notebook, given))


def take_in(notebook: Notebook, given: PastTableGiven, *, person: str = "") -> PastTaken:
    """Write down what the preview showed, all of it or nothing; what is known already is not written again.

    Parameters
    ----------
    person : str, optional
        Whose the new strips are, and who corrects others'.

    Raises
    ------
    ConflictError
        If the notebook changed since the preview that `given.seen` names.
    """
    with notebook.writing() as store:
        planned = _plan(notebook, given)
        seen = _previewed(planned)
        _ask_first(seen)
        if given.seen and seen.new + seen.corrected and seen.mark != given.seen:
            raise ConflictError(
                "the notebook changed since this was looked at",
                where="past strips",
                remedy="look at the preview once more and confirm it again",
            )
        ids: dict[str, str] = {}
        for key, film in planned.films.items():
            rows = [row for row in planned.rows if row.film == key and row.becomes == "new"]
            if not rows:
                continue
            kept = film.kept or notebook.add_film(_stock(film), controls=_ranges(rows))
            ids[key] = kept.id
            number = max((one.thing.number for one in store.trials.all(retired=True, film=kept.id)), default=0)
            for row in rows:
                if row.trial is None:
                    continue
                if row.corrects:
                    store.trials.put(
                        _corrected(store.trials.get(row.corrects).thing, row.trial, person), id=row.corrects
                    )
                    continue
                number += 1
                made = row.trial.model_copy(update={"person": person})
                entry = TrialEntry(film=kept.id, number=number, trial=made, made_at=row.strip.made_at)
                store.trials.put(entry)
    films = tuple((ids[key], film.name) for key, film in planned.films.items() if key in ids)
    return PastTaken(seen.new, seen.corrected, seen.known, films, _done(seen, len(ids)))


def _corrected(entry: TrialEntry, trial: Trial, person: str) -> TrialEntry:
    """A strip as the table corrects it: it stays whose it was, and another who corrects it stands beside."""
    whose = entry.trial.person
    changed_by = person if person and whose and person != whose else entry.changed_by
    named = trial.model_copy(update={"person": whose or person, "id": entry.trial.id})
    return entry.model_copy(update={"trial": named, "changed_by": changed_by})


def _ask_first(seen: PastPreview) -> None:
    """Refuse what no later word could mend for all rows at once: amounts in no known bath, strips of no film."""
    if seen.needs_tank:
        raise InputError(
            "it gives amounts in mL and not in how much bath",
            where="past strips",
            remedy="say the volume of the bath in mL, or take those columns as notes",
        )
    if seen.needs_film and not seen.films:
        raise InputError("no row names a film", where="past strips", remedy="say which film they are of")


def _done(seen: PastPreview, films: int) -> str:
    new, corrected = seen.new, seen.corrected
    if not new + corrected:
        return "Nothing was written: every strip of the table stands in the notebook already or was left out."
    parts = [f"{_strips(new)} written down"] * bool(new) + [f"{_strips(corrected)} corrected"] * bool(corrected)
    known = f" {_strips(seen.known)} known already." if seen.known else ""
    return f"{' and '.join(parts)}, on the page{'s' if films > 1 else ''} of {films} film{'s' if films > 1 else ''}.{known}"


def _strips(count: int) -> str:
    return f"{count} strip{'' if count == 1 else 's'}"


def _plan(notebook: Notebook, given: PastTableGiven) -> _Planned:
    table = read_past_strips(
        given.text,
        match=given.match,
        held=given.held,
        tank_ml=given.tank_ml,
        month_first=given.month_first,
        corrections={_place(key): text for key, text in given.corrections.items()},
        film=given.film,
    )
    renamed = {plain_name(name): other for name, other in given.films.items() if other.strip()}
    kept = {plain_name(one.thing.name): one for one in notebook.films()}
    films: dict[str, _PlannedFilm] = {}
    for strip in table.strips:
        if strip.film:
            _count_film(films, kept, renamed.get(plain_name(strip.film), strip.film), strip)
    for key, film in films.items():
        _tell_film(film, key, films, kept, given, [s for s in table.strips if _key(s, renamed) == key])
    rows: list[_PlannedRow] = []
    known = {key: _Known(notebook, film) for key, film in films.items()}
    for strip in table.strips:
        rows.append(_row(strip, _key(strip, renamed), known, given))
    return _Planned(table, films, rows)


def _place(key: str) -> tuple[int, int]:
    line, _, place = map(whole_number, key.partition(":"))
    if line is None or place is None or place >= MOST_TABLE_COLUMNS:
        raise InputError(f"{key[:80]!r} is no cell", where="corrections", remedy="write it as LINE:COLUMN")
    return line, place


def _key(strip: PastStrip, renamed: Mapping[str, str]) -> str:
    return plain_name(renamed.get(plain_name(strip.film), strip.film)) if strip.film else ""


def _count_film(
    films: dict[str, _PlannedFilm], kept: Mapping[str, Stored[FilmStock]], name: str, strip: PastStrip
) -> None:
    key = plain_name(name)
    if key not in films:
        found = kept.get(key)
        films[key] = _PlannedFilm(found.thing.name if found else name.strip(), found)
    if strip.film not in films[key].written:
        films[key].written.append(strip.film)


def _tell_film(
    film: _PlannedFilm,
    key: str,
    films: Mapping[str, _PlannedFilm],
    kept: Mapping[str, Stored[FilmStock]],
    given: PastTableGiven,
    strips: Sequence[PastStrip],
) -> None:
    if film.kept is not None:
        stock = film.kept.thing
        film.box_speed, film.speed_from, film.base_density = stock.box_speed, "notebook", stock.base_density
        return
    speeds = Counter(strip.box_speed for strip in strips if strip.box_speed is not None)
    bases = [strip.base_density for strip in strips if strip.base_density is not None]
    film.base_density = bases[0] if bases else None
    named = next(
        (speed for name, speed in given.speeds.items() if plain_name(name) in (key, *map(plain_name, film.written))),
        None,
    )
    if named is not None:
        film.box_speed, film.speed_from = named, "you"
    elif speeds:
        film.box_speed, film.speed_from = float(speeds.most_common(1)[0][0] or SPEED_UNTOLD), "table"
    else:
        told = [int(number) for number in re.findall(r"\d+", film.name) if int(number) in SPEEDS]
        film.box_speed, film.speed_from = (float(told[-1]), "name") if told else (SPEED_UNTOLD, "")
    others = [other for other in {**kept, **films} if other != key]
    near = difflib.get_close_matches(key, others, n=1, cutoff=ALIKE)
    # Films told apart by a number are two, however alike their names are.
    if near and re.findall(r"\d+", near[0]) == re.findall(r"\d+", key):
        film.alike = kept[near[0]].thing.name if near[0] in kept else films[near[0]].name


class _Known:
    """The strips of one film that stand in the notebook, each to be found once."""

    def __init__(self, notebook: Notebook, film: _PlannedFilm):
        kept = [] if film.kept is None else [*notebook.trials(film.kept.id), *notebook.retired_trials(film.kept.id)]
        self.by_name = {one.thing.trial.id: one for one in kept}
        self.free = {one.id: one for one in kept}
        self.names = set(self.by_name)

    def fate(self, strip: PastStrip, trial: Trial) -> tuple[Fate, Stored[TrialEntry] | None]:
        """What becomes of a row, and the strip of the notebook that it is or that has its name."""
        # Kept as another strip of one name it has that name with a number behind.
        named = rf"{re.escape(strip.name)}(?: \(\d+\))?"
        dated = [one for one in self.free.values() if _dates_agree(_day_of(one.thing), strip.made_at)]
        dated.sort(key=lambda one: re.fullmatch(named, one.thing.trial.id) is None)
        if not strip.name and (alike := next((one for one in dated if _says_the_same(one.thing.trial, trial)), None)):
            # Without a name it is known by what was done and seen: the same table twice makes no strip double.
            return "known", self.free.pop(alike.id)
        fate, place = fate_by_name(trial, [one.thing.trial for one in dated])
        if fate == "known" and place is not None:
            return fate, self.free.pop(dated[place].id)
        stands = self.by_name.get(strip.name)
        if stands is None:
            return "new", None
        fate, _ = fate_by_name(trial, [stands.thing.trial])
        # Of the same content and another day it is another strip under its name.
        return ("corrected" if fate == "corrected" else "disputed"), stands


def _says_the_same(kept: Trial, told: Trial) -> bool:
    """Whether a strip was made so, and looks so where that is told."""
    seen = [(one.steps, one.grades, one.faults) for one in (kept, told)]
    return kept.controls == told.controls and (seen[0] == seen[1] or not has_evidence(told))


def _day_of(entry: TrialEntry) -> str:
    """The day a strip was made, as far as it is known; when it was written down says nothing of that."""
    if entry.trial.made_on is not None:
        return entry.trial.made_on.isoformat()
    return entry.made_at if len(entry.made_at) <= len("2024-03-31") else ""


def _dates_agree(one: str, other: str) -> bool:
    """Whether two dates may be the same day; one without a day may be any of its month."""
    return one.startswith(other) or other.startswith(one)


def _row(strip: PastStrip, key: str, known: Mapping[str, _Known], given: PastTableGiven) -> _PlannedRow:
    if not key:
        return _PlannedRow(strip, key, strip.name, "left_out", "no film is named for it: say above which it is")
    if strip.line in given.leave_out:
        return _PlannedRow(strip, key, strip.name, "left_out", "you left it out")
    here = known[key]
    trial = _trial(strip)
    fate, stands = here.fate(strip, trial)
    if fate == "known" and stands is not None:
        name = stands.thing.trial.id
        where = "it stands in the notebook" if stands.retired_at is None else "it was put aside in the notebook"
        return _PlannedRow(strip, key, name, "known", f"{where} as {name}: not counted twice")
    if stands is not None and strip.line not in given.as_another:
        if fate == "disputed" and strip.line not in given.as_correction:
            why = f"{strip.name} stands there with other values: keep it as another strip, or correct the one that stands there"
            return _PlannedRow(strip, key, strip.name, "same_name", why)
        person = stands.thing.trial.person
        whose = f"{person}'s strip of that name" if person else "the strip of that name"
        why = f"it corrects {whose}" if fate == "disputed" else f"it is what was read of {whose}, which waited for it"
        return _PlannedRow(strip, key, strip.name, "new", why, stands.id, trial)
    name = apart(strip.name, here.names) if strip.name else next_strip(here.names)
    here.names.add(name)
    why = ""
    if strip.name and name != strip.name:
        why = f"a strip before it has its name already: it is called {name}"
    return _PlannedRow(strip, key, name, "new", why, "", trial.model_copy(update={"id": name}))


def _trial(strip: PastStrip) -> Trial:
    whole = len(strip.made_at) == len("2024-03-31")
    return read_document(
        Trial,
        {
            "id": strip.name or "strip",
            "controls": strip.controls,
            "control_sds": strip.control_sds,
            "steps": strip.steps,
            "grades": strip.grades,
            "faults": strip.faults,
            "made_on": date.fromisoformat(strip.made_at) if whole else None,
            "note": strip.note,
        },
        where=f"line {strip.line}",
    )


def _stock(film: _PlannedFilm) -> JsonObject:
    return {"name": film.name, "box_speed": film.box_speed, "base_density": film.base_density}


def _ranges(rows: Sequence[_PlannedRow]) -> JsonObject:
    """What a new film varies: what is usual, what its strips varied, as far as they went."""
    ranges: dict[str, ControlRange] = {}
    for key, control in CONTROLS.items():
        values = [row.strip.controls[key] for row in rows if key in row.strip.controls]
        if len(set(values)) == 1 and not control.varied_first:
            # What was the same for all is held there, not where films in general are.
            ranges[key] = control.range.model_copy(update={"low": values[0], "high": values[0]})
        elif values or control.varied_first:
            low, high = min([control.low, *values]), max([control.high, *values])
            ranges[key] = control.range.model_copy(update={"low": low, "high": high})
    return {key: limits.model_dump() for key, limits in ranges.items()}


# The preview


def _previewed(planned: _Planned) -> PastPreview:
    films = tuple(_film_of(key, film, planned.rows) for key, film in planned.films.items())
    rows = tuple(
        PastRow(
            row.strip,
            planned.films[row.film].name if row.film else "",
            row.name,
            row.becomes,
            row.why,
            bool(row.corrects),
        )
        for row in planned.rows
    )
    return PastPreview(planned.table, films, rows)


def _examples(place: int, table: PastTable) -> list[str]:
    return [cells[place] for cells in table.examples if place < len(cells) and cells[place]][:EXAMPLES]


def _sentence(seen: PastPreview) -> str:
    films = f"{len(seen.films)} film{'' if len(seen.films) == 1 else 's'}"
    parts = [f"{_strips(seen.new)} of {films} would be written down"]
    for count, word in (
        (seen.corrected, "corrected"),
        (seen.known, "known already"),
        (seen.waiting, "waiting for your word"),
    ):
        if count:
            parts.append(f"{count} {word}")
    if seen.not_taken:
        parts.append(f"{seen.not_taken} row{'' if seen.not_taken == 1 else 's'} left out")
    missed = seen.not_understood
    cells = (
        f" {missed} cell{' was' if missed == 1 else 's were'} not understood."
        if missed
        else " Every cell was understood."
    )
    return f"{', '.join(parts)}.{cells}"


def _film_of(key: str, film: _PlannedFilm, rows: Sequence[_PlannedRow]) -> PastFilm:
    mine = [row for row in rows if row.film == key]
    return PastFilm(
        key=key,
        name=film.name,
        written=film.written,
        id=film.kept.id if film.kept else "",
        box_speed=film.box_speed,
        speed_from=film.speed_from,
        base_density=film.base_density,
        alike=film.alike,
        strips=len(mine),
        new=sum(row.becomes == "new" for row in mine),
    )


def evidence_text(strip: PastStrip) -> str:
    """What a row says was seen, in words; "nothing seen" where it says nothing."""
    readings = [f"D {patch.density:g} at {_exposure(patch.log_exposure)}" for patch in strip.steps]
    parts = [*readings, *grades_text(strip.grades), *(fault.replace("_", " ") for fault in strip.faults)]
    return ", ".join(parts) or "not read yet"


def _exposure(log_exposure: float) -> str:
    if log_exposure <= BORDER:
        return "the border"
    return "the lightest place" if log_exposure >= LIGHTEST else f"{log_exposure:+.2f}"
