"""Past strips from a person's own table: what each column is, what each row becomes, what was not understood.

Pure: text in, values out. What is already in the notebook, and what is written there, is for the workbench.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from obverse.foundation import InputError, regex
from obverse.process.as_written import (
    ML,
    MONTHS,
    NUMBER,
    WARMEST_C,
    BathNotSaid,
    celsius,
    iso_date,
    minutes,
    ml_of,
    ml_per_l,
    parts_water,
    plain_number,
    with_doubt,
)
from obverse.process.control import ALKALI, CONTROLS, DILUTION, SOLVENT, TEMPERATURE, TIME, Control
from obverse.process.eye_words import read_words
from obverse.process.past_columns import (
    ABSENT,
    ANOTHER_ALKALI,
    DENSITY_AT,
    WHATS,
    TableColumn,
    cell_of,
    crossed,
    is_note,
    lies_on_its_side,
    parted,
    table_columns,
    table_head,
    turned,
)
from obverse.process.past_headings import Heading, read_heading
from obverse.process.table import DITTO, TableRow, table_rows
from obverse.process.trial import GRADES, Grade, Patch

# Where a reading of the unexposed border and of the lightest place stands on the exposure scale: beyond both ends of any curve.
BORDER, LIGHTEST = -4.0, 4.0
# log10 of one stop.
STOP = 0.30103
# What stands above the head names the film where it is short; longer, it is an explanation of the table.
LONGEST_NAME_IN_A_TITLE = 60
# From so many rows on, a column of whole numbers alone is a mark given to strips rather than their density.
FEWEST_MARKS = 3
# A litre holds no more than a litre, nobody develops for five hours, and water boils.
MOST = {TIME.key: 300.0, SOLVENT.key: 1000.0, ALKALI.key: 1000.0, TEMPERATURE.key: 100.0, DILUTION.key: 1000.0}
EXAMPLES_OF = {TIME.key: "11:30 or 11.5", TEMPERATURE.key: "20 or 68 F", DILUTION.key: "1+15"}
# Twice as wide either way covers the range that a new film begins with.
RANGE_PER_SD = 4.0
# What the documents of a film and of a patch hold.
MOST_BASE, DENSITIES = 1.5, (-0.5, 6.0)
# Letters that the note of a strip holds, rows kept as examples.
MOST_NOTE, MOST_EXAMPLES = 4000, 12

# A day and a month, perhaps with the day of the week, and no year.
_DAY_ALONE = regex(r"(?:[A-Za-z]{2,9}\.?,?\s+)?(\d{1,2})\s?[./]\s?(\d{1,2})\.?")
HALF_A_YEAR = 6
_DITTO = rf"{DITTO}|\"|''|ditto|do\.?|dto\.?|id\.|idem|same|as above|\u2193|\u201e|\u201d"


@dataclass(frozen=True, slots=True)
class CellRemark:
    """One sentence about one cell; `understood` is false where the cell could not be taken as what its column is."""

    line: int
    place: int
    text: str
    sentence: str
    understood: bool = False


@dataclass(frozen=True, slots=True)
class PastStrip:
    """What a row becomes.

    Parameters
    ----------
    line : int
        Where the row begins in the text, from 1.
    film, name, made_at : str
        As told; empty where the row does not say.
    steps, grades, faults, note
        As a `Trial` has them.
    box_speed, base_density : float or None
        Of the film, where the row tells them.
    waits_for_bath : bool
        An amount cannot be counted as long as the volume of its bath is not said.
    """

    line: int
    film: str
    name: str
    made_at: str
    controls: dict[str, float]
    control_sds: dict[str, float]
    steps: tuple[Patch, ...]
    grades: tuple[Grade, ...]
    faults: tuple[str, ...]
    note: str
    box_speed: float | None = None
    base_density: float | None = None
    remarks: tuple[CellRemark, ...] = ()
    waits_for_bath: bool = False


@dataclass(frozen=True, slots=True)
class PastTable:
    """A table of past strips as it was understood.

    Parameters
    ----------
    left_out : tuple of CellRemark
        Rows that became no strip, with the reason; `place` is -1.
    held : dict
        Controls of which the table says nothing, and what they are counted as.
    examples : tuple of tuple of str
        The cells of the first rows below the head.
    """

    columns: tuple[TableColumn, ...]
    strips: tuple[PastStrip, ...]
    left_out: tuple[CellRemark, ...]
    held: dict[str, float]
    examples: tuple[tuple[str, ...], ...] = ()


def read_past_strips(
    text: str,
    *,
    match: Mapping[str, str] | None = None,
    held: Mapping[str, float] | None = None,
    tank_ml: float | None = None,
    month_first: bool = False,
    corrections: Mapping[tuple[int, int], str] | None = None,
    film: str = "",
    where: str = "table",
) -> PastTable:
    """Read a person's table of past strips.

    Parameters
    ----------
    text : str
        The whole table.
    match : mapping, optional
        Head of a column, or its number such as ``#3``, to what it is (`what_of`); what is absent is found by its head.
    held : mapping, optional
        Controls of which the table says nothing; else they are counted as a film's usual.
    tank_ml : float, optional
        Volume of the bath for bare mL.
    month_first : bool, optional
        Of dates that may be read both ways.
    corrections : mapping, optional
        (line, place of the column) to what is meant in that cell.
    film : str, optional
        The film of rows that do not name one.
    where : str, optional
        Names the input in an error.

    Raises
    ------
    InputError
        If it is no table, or `match` names a column that is not there.
    """
    if problem := CONTROLS.problem(held or {}):
        raise InputError(problem, where="held", remedy="name a control and give a number")
    found, mark = table_rows(text, where=where)
    on_its_side = lies_on_its_side(found)
    rows = turned(found) if on_its_side else list(found)
    for (line, place), said in (corrections or {}).items():
        rows = [_corrected(row, place, said) if row.line == line else row for row in rows]
    titles, head, body = table_head(rows)
    # A decimal comma between cells kept apart by commas makes a row too long; then no cell is where it belongs.
    width = len(head) if mark == "," else max(len(row.cells) for row in rows)
    names = [*head, *(f"column {place + 1}" for place in range(len(head), width))]
    names, body = parted(names, body, match or {})
    columns = table_columns(names, body, match or {}, where)
    if tank_ml is None:
        tank_ml = _tank_of(titles)
        columns = _told_tank(columns, tank_ml)
    if not film and titles and not any(column.what == "film" for column in columns):
        # A table of one film, or of one under another, has the name above the head.
        film = _alone(titles[-1])
        if len(film) > LONGEST_NAME_IN_A_TITLE:
            film = ""
    title = read_heading(" | ".join(" ".join(cell for cell in row.cells if cell) for row in titles))
    columns = _of_bottles(columns, title)
    reader = _Reader(
        columns, {**title.controls, **(held or {})}, tank_ml, _month_first(columns, body, month_first), film
    )
    reader.section = dict(title.controls)
    reader.year = _year_of(titles)
    reader.water_more = title.water_more
    strips, left_out = reader.read(body)
    if title.controls:
        told = f"the title says {CONTROLS.text(title.controls)}: counted where a row says nothing of it"
        left_out.insert(0, CellRemark(titles[0].line, -1, "the title", told, True))
    if title.water_more:
        told = f"the title says how dilutions were written: {title.water_more:+g} parts of water to each"
        left_out.insert(0, CellRemark(titles[0].line, -1, "the title", told, True))
    if on_its_side:
        side = "it lies on its side: each column is read as a strip, and lines are counted as columns"
        left_out.insert(0, CellRemark(1, -1, "the table", side, True))
    examples = tuple(row.cells for row in body[:MOST_EXAMPLES])
    return PastTable(columns, tuple(strips), tuple(left_out), reader.absent, examples)


def _of_bottles(columns: Sequence[TableColumn], title: Heading) -> tuple[TableColumn, ...]:
    """The columns with the bottle that the title or their own head means, where it is another than the control counts."""
    found = []
    for column in columns:
        if column.what not in (SOLVENT.key, ALKALI.key):
            found.append(column)
            continue
        own = read_heading(column.head).factors.get(column.what)
        factor = own if own is not None else title.factors.get(column.what, 1.0)
        if factor == 1.0 or (column.what == ALKALI.key and column.told == ANOTHER_ALKALI):
            found.append(column)
            continue
        who = "its head" if own is not None else "the title"
        told = f"{who} names another bottle: each mL counts as {factor:.3g} mL of {CONTROLS[column.what].meaning.split(' in each')[0]}"
        found.append(replace(column, factor=factor, told=told))
    return tuple(found)


def _alone(row: TableRow) -> str:
    """The text of a row of one cell; empty for any other."""
    filled = [cell for cell in row.cells if cell]
    text = filled[0] if len(filled) == 1 and row.cells[0] else ""
    return re.sub(r"^(?:film|pellicule|pel.cula|pellicola)\s*:\s*", "", text, flags=re.IGNORECASE)


def _tank_of(titles: Sequence[TableRow]) -> float | None:
    """The volume of the bath where what stands above the head tells one, such as "small tank 300 ml"."""
    for row in titles:
        if found := re.search(rf"({NUMBER})\s*(?:ml|cc)\b", " ".join(row.cells).lower()):
            return plain_number(found[1])
    return None


def _year_of(titles: Sequence[TableRow]) -> int | None:
    """The year that a title names."""
    found = re.search(r"(?<!\d)(?:19[5-9]|20\d)\d(?!\d)", " ".join(cell for row in titles for cell in row.cells))
    return int(found[0]) if found else None


def _told_tank(columns: Sequence[TableColumn], tank_ml: float | None) -> tuple[TableColumn, ...]:
    bare = [column for column in columns if column.unit == "mL" and column.in_ml is None]
    if tank_ml is None or not bare or any(column.what == "volume" for column in columns):
        return tuple(columns)
    told = f"bare mL are counted in {tank_ml:g} mL, as the title says"
    return tuple(replace(column, in_ml=tank_ml, told=told) if column in bare else column for column in columns)


def _corrected(row: TableRow, place: int, said: str) -> TableRow:
    cells = [*row.cells, *[""] * (place + 1 - len(row.cells))]
    cells[place] = " ".join(said.split())
    return TableRow(row.line, tuple(cells))


def _month_first(columns: Sequence[TableColumn], body: Iterable[TableRow], otherwise: bool) -> bool:
    """Whether dates of the table have the month first: told by those that can be read one way only."""
    places = [column.place for column in columns if column.what == "date"]
    for row in body:
        for place in places:
            parts = re.match(r"(\d{1,2})[./\- ](\d{1,2})[./\- ]\d", cell_of(row, place))
            if parts and max(int(parts[1]), int(parts[2])) > len(MONTHS):
                return int(parts[2]) > len(MONTHS)
    return otherwise


# Rows


@dataclass(slots=True)
class _Row:
    """A strip in the making."""

    line: int
    controls: dict[str, float] = field(default_factory=dict)
    control_sds: dict[str, float] = field(default_factory=dict)
    steps: list[Patch] = field(default_factory=list)
    grades: dict[str, Grade] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    remarks: list[CellRemark] = field(default_factory=list)
    told: dict[str, str] = field(default_factory=dict)
    box_speed: float | None = None
    base_density: float | None = None
    waits_for_bath: bool = False


class _Reader:
    """Rows one after the other, each wiser by the one above."""

    def __init__(
        self,
        columns: Sequence[TableColumn],
        held: Mapping[str, float],
        tank_ml: float | None,
        month_first: bool,
        film: str,
    ):
        self.columns, self.tank_ml, self.month_first, self.film = columns, tank_ml, month_first, film
        named = {column.what for column in columns}
        self.absent = {key: held.get(key, entry.reference) for key, entry in CONTROLS.items() if key not in named}
        self.said_absent = {key: value for key, value in held.items() if key in self.absent}
        self.section: dict[str, float] = {}
        self.water_more = 0.0
        self.year: int | None = None
        self.month = 0
        self.marks: set[int] = set()
        self.above: dict[int, str] = {}

    def read(self, body: Sequence[TableRow]) -> tuple[list[PastStrip], list[CellRemark]]:
        """Strips, and rows that are none."""
        self.marks = {column.place for column in self.columns if self._is_mark(column, body)}
        strips, left_out = [], []
        seen: dict[tuple[str, ...], int] = {}
        has_film = any(column.what == "film" for column in self.columns)
        # "#" before a comment; but where nothing else names a film, before its name.
        headed_by_signs = not (has_film or self.film or any(_alone(row)[:1] not in ("", "#") for row in body))
        for row in body:
            filled = [cell for cell in row.cells if cell]
            heading = _alone(row)
            if (
                heading
                and (not has_film or cell_of(row, self._place("film")) == heading)
                and (not heading.startswith("#") or headed_by_signs)
            ):
                headed = read_heading(heading.lstrip("# "))
                self.film = self.above[self._place("film")] = headed.left or self.film
                self.section = {**self.section, **headed.controls}
                self.said_absent.update({key: value for key, value in headed.controls.items() if key in self.absent})
                told_as = "it heads the rows below: taken as their film" if headed.left else "it heads the rows below"
                told_as += (
                    f"; counted where they say nothing of it: {CONTROLS.text(headed.controls)}"
                    if headed.controls
                    else ""
                )
                left_out.append(CellRemark(row.line, -1, heading, told_as, True))
                continue
            if any(row.cells[len(self.columns) :]):
                many = (
                    f"{len(row.cells)} cells stand under {len(self.columns)} heads: keep a decimal comma in quotation marks, "
                    "or the cells apart by semicolons"
                )
                left_out.append(CellRemark(row.line, -1, " ".join(filled)[:80], many))
                continue
            if heading:
                left_out.append(CellRemark(row.line, -1, heading[:80], "it is one cell alone, no strip", True))
                continue
            cells = self._filled(row)
            told = tuple(cells)
            if told in seen:
                same = f"it says the same as line {seen[told]} in every cell: one strip, counted once"
                left_out.append(CellRemark(row.line, -1, " ".join(filled)[:80], same))
                continue
            strip = self._strip(row.line, cells)
            if strip is None:
                nothing = "it tells neither what was done to a strip nor what was seen on it"
                left_out.append(CellRemark(row.line, -1, " ".join(filled)[:80], nothing))
                continue
            seen[told] = row.line
            strips.append(strip)
        return strips, left_out

    def _place(self, what: str) -> int:
        return next((column.place for column in self.columns if column.what == what), -1)

    def _is_mark(self, column: TableColumn, body: Sequence[TableRow]) -> bool:
        """Whether the numbers of a column of words are marks somebody gave, not densities."""
        if column.what not in GRADES and not column.what.startswith(DENSITY_AT):
            return False
        if re.search(r"1\s*[-\u2013]\s*\d|score|rating|mark|points?|/\s*(?:5|10)\b", column.head.lower()):
            return True
        cells = [cell for row in body if (cell := cell_of(row, column.place)) and plain_number(cell) is not None]
        return len(cells) >= FEWEST_MARKS and all(cell.isdigit() for cell in cells) and len(set(cells)) > 1

    def _filled(self, row: TableRow) -> list[str]:
        """The cells of a row, ditto marks and empty film cells filled from above."""
        cells = []
        for column in self.columns:
            cell = cell_of(row, column.place)
            ditto = bool(re.fullmatch(_DITTO, cell.lower())) and column.what not in ("note", "seen")
            if ditto or (column.what == "film" and not cell):
                cell = self.above.get(column.place, "")
            self.above[column.place] = cell
            cells.append(cell)
        return cells

    def _strip(self, line: int, cells: Sequence[str]) -> PastStrip | None:
        row = _Row(line)
        volume = self._volume(row, cells)
        for column, cell in zip(self.columns, cells, strict=True):
            self._take(row, column, cell, volume)
        if not (row.controls or row.steps or row.grades or row.faults):
            return None
        row.controls.update(self.said_absent)
        above_base = [column for column in self.columns if re.search(r"above base|\bnet\b", column.head.lower())]
        steps = self._from_base(row, above_base)
        return PastStrip(
            line=line,
            film=row.told.get("film", "") or self.film,
            name=self._name(row.told.get("name", "")),
            made_at=row.told.get("date", ""),
            controls=row.controls,
            control_sds=row.control_sds,
            steps=tuple(sorted(steps, key=lambda patch: patch.log_exposure)),
            grades=tuple(row.grades[of] for of in GRADES if of in row.grades),
            faults=tuple(row.faults),
            note="; ".join(dict.fromkeys(note for note in row.notes if note))[:MOST_NOTE],
            box_speed=row.box_speed,
            base_density=row.base_density,
            remarks=tuple(row.remarks),
            waits_for_bath=row.waits_for_bath,
        )

    @staticmethod
    def _name(text: str) -> str:
        return f"strip {text}" if text.isdigit() else text[:120]

    @staticmethod
    def _from_base(row: _Row, above_base: Sequence[TableColumn]) -> list[Patch]:
        """Readings against the open panel: where the heads say above base, the base is added."""
        if not above_base or not row.steps:
            return row.steps
        if row.base_density is None:
            column = above_base[0]
            told = "the base is not told: counted as read against the open panel"
            row.remarks.append(CellRemark(row.line, column.place, "", told))
            return row.steps
        return [patch.model_copy(update={"density": patch.density + row.base_density}) for patch in row.steps]

    def _volume(self, row: _Row, cells: Sequence[str]) -> float | None:
        place = self._place("volume")
        if place < 0 or not cells[place]:
            return self.tank_ml
        units = "|".join(f"(?:{unit})" for unit in ML)
        found = re.fullmatch(rf"({NUMBER})\s*({units})?", cells[place].lower())
        if found and (value := (plain_number(found[1]) or 0.0) * ml_of(found[2])) > 0:
            return value
        row.remarks.append(
            CellRemark(row.line, place, cells[place], f"{cells[place]!r} is no volume; write it in mL, such as 500")
        )
        return self.tank_ml

    def _take(self, row: _Row, column: TableColumn, cell: str, volume: float | None) -> None:
        what = column.what
        if what in ("nothing", "volume"):
            return
        if what in CONTROLS:
            self._control(row, column, cell, volume)
        elif not cell:
            return
        elif what == "note":
            row.notes.append(cell.strip("()") if is_note(column.head) else f"{column.head}: {cell}")
        elif what in ("film", "name"):
            row.told[what] = cell[:120]
        elif what == "date":
            self._when(row, column, cell)
        elif what in ("speed", "base"):
            self._of_film(row, column, cell)
        elif said := crossed(cell, column.words) if column.words else cell:
            self._seen(row, column, said)

    @staticmethod
    def _missed(row: _Row, column: TableColumn, cell: str, sentence: str) -> None:
        """A cell that was not understood: one sentence, and its text goes into the note."""
        row.remarks.append(CellRemark(row.line, column.place, cell, sentence))
        row.notes.append(f"{column.head}: {cell}")

    def _when(self, row: _Row, column: TableColumn, cell: str) -> None:
        found = iso_date(cell, self.month_first)
        day = None if found else _DAY_ALONE.fullmatch(cell.strip())
        if day is not None and (self.year is not None):
            a, b = int(day[1]), int(day[2])
            month = a if self.month_first else b
            # The year turns where the months begin again.
            self.year += month < self.month - HALF_A_YEAR
            self.month = month
            found = iso_date(f"{a}.{b}.{self.year}", self.month_first)
        if found:
            self.year, self.month = int(found[:4]), int(found[5:7])
            row.told["date"] = found
        elif day is not None:
            told = "no year is said: the day stands in the note"
            row.remarks.append(CellRemark(row.line, column.place, cell, told, True))
            row.notes.append(f"{column.head}: {cell}")
        elif not re.fullmatch(ABSENT, cell.lower()):
            self._missed(row, column, cell, f"{cell!r} is no date; write it like 2024-03-31")

    def _of_film(self, row: _Row, column: TableColumn, cell: str) -> None:
        found = re.search(NUMBER, cell)
        value = plain_number(found[0]) if found else None
        if column.what == "speed" and value is not None and 0 < value <= 100_000:
            row.box_speed = value
        elif column.what == "base" and value is not None and value <= MOST_BASE:
            row.base_density = value
        elif not re.fullmatch(ABSENT, cell.lower()):
            example = "100" if column.what == "speed" else "0.27"
            self._missed(row, column, cell, f"{cell!r} is no {WHATS[column.what]}; write it like {example}")

    def _control(self, row: _Row, column: TableColumn, cell: str, volume: float | None) -> None:
        control = CONTROLS[column.what]
        if not cell and control.key in self.section:
            row.controls[control.key] = self.section[control.key]
            told = f"nothing is said here: {control.amount(self.section[control.key])}, as the heading says"
            row.remarks.append(CellRemark(row.line, column.place, cell, told, True))
            return
        if re.fullmatch(ABSENT, cell.lower()):
            self._unknown(row, column, cell, "nothing is said here" if not cell else f"{cell!r} is not known")
            return
        plain, spread, about = with_doubt(cell)
        read = self._amount(control, plain, column, volume)
        if isinstance(read, str):
            self._unknown(row, column, cell, read)
            row.waits_for_bath |= isinstance(read, BathNotSaid)
            row.notes.append(f"{column.head}: {cell}")
            return
        read = (
            max(0.0, read + self.water_more)
            if control is DILUTION and not re.search(r"\+|\bin\b", plain)
            else read * column.factor
        )
        row.controls[control.key] = round(read, 4)
        written = re.match(NUMBER, plain)
        number = plain_number(written[0]) or 0.0 if written else 0.0
        if about:
            # The width of a range is in the person's own measure, as its middle is.
            wide = spread * read / number if spread and number else max(2 * control.handy_step, 0.1 * read)
            row.control_sds[control.key] = round(wide, 4)
            told = f"counted as {control.amount(round(read, 2))}, give or take {wide:.2g}"
            row.remarks.append(CellRemark(row.line, column.place, cell, told, True))
        if control is TEMPERATURE and column.unit != "F" and "f" not in plain and number > WARMEST_C:
            told = f"taken as degrees Fahrenheit: {read:.1f} \N{DEGREE SIGN}C"
            row.remarks.append(CellRemark(row.line, column.place, cell, told, True))

    @staticmethod
    def _amount(control: Control, plain: str, column: TableColumn, volume: float | None) -> float | str:
        """The value of a control, or the sentence that says why there is none."""
        read: float | str | None
        if control is TIME:
            read = minutes(plain, column.unit)
        elif control is TEMPERATURE:
            read = celsius(plain, column.unit)
        elif control is DILUTION:
            read = parts_water(plain)
        else:
            read = ml_per_l(plain, column.in_ml or volume, column.unit == "%")
        if read is None:
            return f"{plain!r} is no {control.word}; write it like {EXAMPLES_OF[control.key]}"
        if isinstance(read, str) or _can_be(control, read):
            return read
        return f"{control.text(read)} cannot be; look at the number and its unit"

    def _unknown(self, row: _Row, column: TableColumn, cell: str, why: str) -> None:
        """A control that is not told: counted as usual, and widely open."""
        control = CONTROLS[column.what]
        sd = (control.high - control.low) / RANGE_PER_SD
        # Left out of the recipe it is counted as held, where the doubt leaves it open.
        row.control_sds[control.key] = sd
        counted = f"{why}: counted as {control.amount(control.reference)}, give or take {sd:.2g}"
        row.remarks.append(CellRemark(row.line, column.place, cell, counted))

    def _seen(self, row: _Row, column: TableColumn, cell: str) -> None:
        number = plain_number(re.sub(r"^\s*d\s*=?\s*", "", cell.lower()), signed=True)
        if number is not None:
            self._density(row, column, cell, number)
            return
        if re.fullmatch(ABSENT, cell.lower()):
            return
        if column.what.startswith(DENSITY_AT):
            self._missed(row, column, cell, f"{cell!r} is no density; write it like 1.05")
            return
        read = read_words(cell, of=column.what if column.what in GRADES else "")
        for grade in read.grades:
            before = row.grades.get(grade.of)
            if before is not None and before.grade != grade.grade:
                other = f"{grade.of} {grade.grade.replace('_', ' ')} here, {before.grade.replace('_', ' ')} elsewhere in the row: the first counts"
                row.remarks.append(CellRemark(row.line, column.place, cell, other))
            else:
                row.grades[grade.of] = grade
        row.faults += [fault for fault in read.faults if fault not in row.faults]
        row.remarks += [CellRemark(row.line, column.place, cell, doubt, True) for doubt in read.doubts]
        for clause in read.left:
            # A word that is known stands apart only because another word of its scale came before it.
            known = read_words(clause).grades
            why = "speaks against what stands before it" if known else "is no word known here"
            row.remarks.append(
                CellRemark(
                    row.line, column.place, cell, f"{clause!r} {why}: it stands in the note and counts for nothing"
                )
            )
        if read.left or (read.faults and not read.grades):
            row.notes.append(cell if column.what == "seen" else f"{column.head}: {cell}")

    def _density(self, row: _Row, column: TableColumn, cell: str, value: float) -> None:
        places = {"blacks": BORDER, "highlights": LIGHTEST, "midtones": 0.0}
        if column.what.startswith(DENSITY_AT):
            at = float(column.what.removeprefix(DENSITY_AT)) * STOP
        elif column.what in places:
            at = places[column.what]
        else:
            self._missed(
                row, column, cell, f"{cell!r} is a number, and {WHATS[column.what].split(',')[0]} is told in words"
            )
            return
        if column.place in self.marks:
            self._missed(
                row, column, cell, f"{cell!r} is a mark, not a density: it stands in the note; say it in words"
            )
        elif not DENSITIES[0] <= value <= DENSITIES[1]:
            self._missed(row, column, cell, f"a density of {value:g} cannot be; look at the decimal sign")
        else:
            row.steps.append(Patch(log_exposure=round(at, 4), density=value))


def _can_be(control: Control, value: float) -> bool:
    return max(control.least, 0.0) <= value <= MOST[control.key] and (control is not TIME or value > 0)
