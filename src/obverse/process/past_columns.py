"""The columns of a person's table of past strips: what each is, by its head or by the person's word."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from obverse.foundation import InputError, regex, whole_number
from obverse.process.as_written import NUMBER, plain_number
from obverse.process.control import ALKALI, CONTROLS, DILUTION, SOLVENT, TEMPERATURE, TIME
from obverse.process.eye_words import read_words
from obverse.process.table import TableRow, unaccented
from obverse.process.trial import GRADES

ANOTHER_ALKALI = f"mL are counted as {ALKALI.meaning.split(' in each')[0]}, which the notebook knows; another alkali is learned by what it does"
# Rows among which the head is looked for.
MOST_HEAD_ROWS = 15
# Heads one below the other that tell a table lying on its side from one with a strange head.
FEWEST_HEADS_OF_A_SIDE = 3

WHATS = {
    "film": "film",
    "name": "strip",
    "date": "date",
    TIME.key: TIME.word,
    SOLVENT.key: SOLVENT.word,
    ALKALI.key: ALKALI.word,
    TEMPERATURE.key: TEMPERATURE.word,
    DILUTION.key: DILUTION.word,
    "volume": "volume of the bath, mL",
    "speed": "box speed",
    "base": "base density",
    "blacks": "blacks: words, or density of the border",
    "highlights": "highlights: words, or density of the lightest place",
    "midtones": "mid-tones: words, or density at the metered exposure",
    "contrast": "contrast, in words",
    "tint": "tint, in words",
    "seen": "what was seen, in words",
    "note": "note",
    "nothing": "nothing: leave it out",
}
# Names by which a person may also call them on the command line.
SHORT = {
    "strip": "name",
    "time": TIME.key,
    "solvent": SOLVENT.key,
    "alkali": ALKALI.key,
    "temperature": TEMPERATURE.key,
    "dilution": DILUTION.key,
}
DENSITY_AT = "density:"

_NOTES = r"notes?|remarks?|comments?|notiz\w*|bemerkung\w*|anmerkung\w*|remarques?|observaciones|osservazioni|opmerking\w*|note|notas?|memo|misc"
# Heads of columns in usual speech, the narrower before the wider.
_HEADS: tuple[tuple[str, str], ...] = (
    (
        "date",
        r"dates?|day|when|datum|fecha|data|giorno|dag|tag|jour|dia|(?:developed|made|shot|exposed|souped|done) on|made|le",
    ),
    (
        "note",
        r".*\b(?:bleach\w*|clearing|fogging|2nd|second|redev\w*|wash|rinse|agit\w*|fix(?:ing)? time|lens|meter|camera|lamp|ei)\b.*",
    ),
    (
        "film",
        r"film(?: ?(?:stock|name|type|used|material|sort\w*|iso|brand|roll))?|stock|emulsion|material|negative|neg|pellicule|pelicula|pellicola|filmsoort",
    ),
    (
        "name",
        r"(?:(?:test ?)?strip|test|trial|sample|clip|(?:probe|pruf)?streifen|bande|essai)(?: ?(?:id|no|nr|number|name|#))?|id|no|nr|num\w*|n[\u00b0\u00ba]|number|#|name",
    ),
    ("speed", r"(?:box )?speed|iso|asa|din|iso speed|box iso|film speed|empfindlichkeit"),
    ("base", r"base(?: density| d| fog)?|film base|b f|fb f|base and fog|d base"),
    ("volume", r"(?:tank |bath |total |developer |dev )?(?:vol\w*|tank)|total|made up to|bath|ansatz"),
    (TEMPERATURE.key, r"(?:dev\w* |bath )?temp(?!s$)\w*|deg|degrees|t|t ?\u00b0(?: ?[cf])?|.*temperatur\w*"),
    (
        DILUTION.key,
        r"(?:dev\w* |fd )?(?:dil\w*|concentration)|(?:paper )?developer|verd(?:unn\w*)?|parts? (?:of )?water|water|1|soup|entwickler",
    ),
    (
        SOLVENT.key,
        r".*\b(?:solvent|hypo|fixer|fix|rapid fix\w*|thio\w*|fixierer|fixierbad|fixateur|fijador|fissaggio|fissatore|fixeer\w*|halide solvent)\b.*",
    ),
    (
        ALKALI.key,
        r".*\b(?:alkali|ammonia\w*|nh3|nh4oh|ammoniak|ammoniaque|amoniaco|alk|lye|caustic(?: soda)?|hydroxide|naoh|koh|soude|natron\w*|lauge|loog|natronloog|sosa|soda|carbonate|ammoniaca)\b.*",
    ),
    (
        TIME.key,
        r"(?:1st|first|1er|1re|premier|f|erst)? ?(?:dev\w*|fd|entw\w*|d.v\w*)(?: time| t| zeit)?|(?:dev\w* |fd )?(?:time|zeit|temps|tiempo|dauer|dur.e)|min\w*|(?:time|min\w*) (?:of|in) (?:the )?(?:1st|first) dev\w*|1er r.v.lateur|r.v.lateur|erst\w*|ee|e1|1 ?e|premier bain|1er bain|sviluppo|primo sviluppo|revelado|primer revelado|ontw\w*|eerste ontw\w*|tempo|tijd",
    ),
    ("blacks", r"blacks?|shadows?|d ?max|max\w* d\w*|border(?: d\w*)?|schwarz\w*|schatten|schw.rzen|noirs?|ombres"),
    ("highlights", r"high ?lights?|hilites|whites?|lights|d ?min|min\w* d\w*|lichter|hautes lumi.res|blancs"),
    ("midtones", r"mid ?tones?|mids?|middle(?: grey)?|mid grey|mid d\w*|d mid|mittelt.ne|overall|brightness|gris"),
    ("contrast", r"contrast|gradation|slope|kontrast|contraste|gamma|gradient"),
    ("tint", r"tint|stain\w*|colou?r(?: cast)?|cast|hue|t.nung|teinte|base tint"),
    (
        "seen",
        r"results?|looks?(?: like)?|what i think|(?:my )?(?:thoughts?|view|opinion)|appearance|seen|what i saw|by eye|eye|verdict|judged|jugement|urteil|impressions?|judge?ment|observations?|outcome"
        r"|faults?|defects?|quality|projected|on (?:the )?(?:screen|wall)|ergebnis|befund|giudizio|risultato|resultado|juicio|oordeel|beoordeling|resultaat|opinion|appreciation|(?:it |how it )?came out|comes out|bewertung|aussehen|how(?: it)?(?: looks?| looked)?|r.sultat|aspect|how it looks?",
    ),
    ("note", _NOTES),
)
_ROLLS = r"(?:rolls?|rolle|bobine|rollo|rullino)(?: ?(?:no|nr|#))?"
_UNITS = r"min(?:utes?|s)?|mm:ss|m:s|s|secs?|seconds?|ml|cc|ml ?/ ?l|ml per l\w*|%|\u00b0 ?[cf]|c|f|deg c|deg f|iso|d|1 ?\+|parts|ml.*"
# What stands in a cell of which nothing is known.
ABSENT = r"|[-\u2013\u2014?./]+|n/?a|unknown|forgot\w*|lost|unsure|tbd|\?+"


@dataclass(frozen=True, slots=True)
class TableColumn:
    """A column and what it is taken for.

    Parameters
    ----------
    place : int
        From 0.
    head : str
        As the person wrote it.
    what : str
        A key of `WHATS`, or ``density:STOPS`` for readings at an exposure, in stops from the metered mid-tone.
    in_ml : float or None
        For mL of solvent and alkali: in how many mL of bath; None where the head does not tell.
    unit : str
        As the head tells it.
    told : str
        What was decided for the person, one sentence; empty where nothing was.
    factor : float
        Of mL of another bottle: how many mL of the control's own they count as.
    words : str
        What a cross in it says, such as ``"highlights murky"``; empty where its cells are no crosses.
    """

    place: int
    head: str
    what: str
    in_ml: float | None = None
    unit: str = ""
    told: str = ""
    factor: float = 1.0
    words: str = ""


def what_of(text: str) -> str:
    """What a person calls a column by, as a key of `WHATS` or ``density:STOPS``.

    Parameters
    ----------
    text : str
        A short name, a key of `WHATS`, or ``density:STOPS``, in stops from the metered mid-tone.

    Raises
    ------
    InputError
        If it is none of them.
    """
    plain = text.strip()
    found = SHORT.get(plain, plain)
    if found.startswith(DENSITY_AT):
        stops = plain_number(found.removeprefix(DENSITY_AT).lstrip("+"), signed=True)
        if stops is not None:
            return f"{DENSITY_AT}{stops:g}"
    if found not in WHATS:
        names = [*SHORT, *(name for name in WHATS if name not in SHORT.values())]
        raise InputError(
            f"{plain!r} is nothing that a column can be",
            where="match",
            remedy=f"use one of {', '.join(sorted(names))}, or {DENSITY_AT}STOPS for readings at an exposure",
        )
    return found


def tidy_head(head: str) -> str:
    plain = re.sub(r"[\[({].*?[\])}]", " ", unaccented(head).replace("mid-tone", "midtone"))
    return " ".join(re.sub(r"[_\-./:,+*?'\"=]", " ", plain).split())


def found_what(head: str) -> str:
    at = re.fullmatch(
        rf"(?:d(?:ensity)?\s*(?:at|@)?\s*)?(?P<sign>[+\-\u2212]?)\s*(?P<n>{NUMBER})\s*(?P<u>stops?|ev)?",
        head.lower().strip(),
    )
    if at and (at["sign"] or at["u"] or at["n"] == "0" or head.lower().startswith("d")):
        stops = plain_number(at["n"]) or 0.0
        below = at["sign"] in ("-", "\N{MINUS SIGN}")
        return f"{DENSITY_AT}{-stops if below else stops:g}"
    if re.search(r"\b1\s*\+\s*(?:[nx?]|\.{2,}|\N{HORIZONTAL ELLIPSIS})?\s*\)?$", head.strip(), re.I):
        # "Syrup 1+": the cells say how many parts of water.
        return DILUTION.key
    # Units stand behind the name as often as in brackets.
    tidy = tidy_head(head)
    bare = re.sub(
        rf"\s(?:min(?:utes?|s)?|sec(?:onds?)?|s|\u00b0 ?[cf]|c|f|%|in stock|(?:{NUMBER})? ?(?:ml|cc)(?: .*)?|(?:per|pro|par|je) l\w*)$",
        "",
        tidy,
    )
    if re.search(r"[\u00b0][cf]$|^(?:deg )?[cf]$", tidy):
        return TEMPERATURE.key
    for what, pattern in _HEADS:
        if re.fullmatch(pattern, bare) or re.fullmatch(pattern, tidy):
            return what
    return ""


def lies_on_its_side(rows: Sequence[TableRow]) -> bool:
    """Whether the heads stand one below the other, and each column is a strip."""
    if _head_row(rows) is not None:
        return False
    known = {found_what(cell_of(row, 0)) for row in rows if len(row.cells) > 1} - {""}
    return len(known) >= FEWEST_HEADS_OF_A_SIDE


def turned(rows: Sequence[TableRow]) -> list[TableRow]:
    """The table with its columns as rows; the line of each is the number of the column."""
    width = max(len(row.cells) for row in rows)
    return [TableRow(place + 1, tuple(cell_of(row, place) for row in rows)) for place in range(width)]


def _head_row(rows: Sequence[TableRow]) -> int | None:
    """The row with most known heads; the first of them, so that a title that names a bottle or two is none."""
    best, most = None, 1
    for k, row in enumerate(rows[:MOST_HEAD_ROWS]):
        known = {found_what(cell) for cell in row.cells if cell} - {""}
        numbers = sum(plain_number(cell) is not None for cell in row.cells)
        if len(known) > most and numbers <= len(row.cells) / 2 and (best is None or len(known) >= 2 * most):
            best, most = k, len(known)
    return best


def table_head(rows: Sequence[TableRow]) -> tuple[list[TableRow], tuple[str, ...], list[TableRow]]:
    """What stands above the heads, the heads of the columns, the rows below; a row of units belongs to the heads."""
    k = _head_row(rows)
    if k is not None:
        heads, body = list(rows[k].cells), list(rows[k + 1 :])
        if body and all(re.fullmatch(rf"\(?\[?(?:{_UNITS})\]?\)?", c.lower()) for c in body[0].cells if c):
            units = [*body[0].cells, *[""] * len(heads)]
            heads = [
                f"{name} ({unit.strip('()[]')})" if unit else name for name, unit in zip(heads, units, strict=False)
            ]
            body = body[1:]
        titles, heads = _with_groups(list(rows[:k]), heads)
        return titles, tuple(heads), [one for one in body if one.cells != rows[k].cells]
    first = rows[0]
    if any(plain_number(cell) is not None for cell in first.cells):
        return [], tuple(f"column {place + 1}" for place in range(len(first.cells))), list(rows)
    return [], first.cells, list(rows[1:])


def _with_groups(titles: list[TableRow], heads: list[str]) -> tuple[list[TableRow], list[str]]:
    """The heads with the word that stands above several of them, where alone they tell nothing: "Highlights" over "clear", "murky"."""
    groups = titles[-1].cells if titles else ()
    if not any(groups[1:]):
        return titles, heads
    above, found = "", []
    for place, head in enumerate(heads):
        above = cell_of(titles[-1], place) or above
        found.append(
            f"{above} {head}"
            if head and above and not found_what(head) and read_words(f"{above} {head}").grades
            else head
        )
    # A title with a comma in it stands over nothing and says what the rows leave out.
    return (titles if found == heads else titles[:-1]), found


# A cross, a tick, a word for yes; twice for much, in brackets for little; and what says no.
_CROSS = regex(
    r"(?P<open>\()?(?P<cross>[x\N{MULTIPLICATION SIGN}\N{CHECK MARK}\N{HEAVY CHECK MARK}+*]{1,3}|yes|y|ja|j|oui|1)\)?",
    re.I,
)
_NO_CROSS = regex(rf"no|n|nein|non|0|{ABSENT}", re.I)


def crossed(cell: str, words: str) -> str:
    """What a cross in a cell says of a strip.

    Parameters
    ----------
    cell : str
        Such as ``"x"``, ``"xx"``, ``"(x)"``, ``"no"``.
    words : str
        What a cross in this column says.

    Returns
    -------
    str
        The words, with "very" or "slightly" before them; empty for a cell that says no; the cell itself where it is no cross.
    """
    plain = cell.strip()
    if _NO_CROSS.fullmatch(plain):
        return ""
    found = _CROSS.fullmatch(plain)
    if found is None:
        return cell
    how = (
        "slightly "
        if found["open"]
        else "very "
        if len(found["cross"]) > 1 and found["cross"].lower() == found["cross"][0].lower() * len(found["cross"])
        else ""
    )
    thing, _, shade = words.rpartition(" ")
    return f"{thing} {how}{shade}".strip()


def _crosses(column: TableColumn, body: Sequence[TableRow]) -> TableColumn:
    """The column with what a cross in it says, where its cells are crosses and its head is a word of strips."""
    cells = [cell.strip() for row in body if (cell := cell_of(row, column.place))]
    if column.what not in (*GRADES, "seen", "note") or not any(_CROSS.fullmatch(cell) for cell in cells):
        return column
    words = tidy_head(column.head)
    if not all(_CROSS.fullmatch(cell) or _NO_CROSS.fullmatch(cell) for cell in cells) or not read_words(words).grades:
        return column
    return replace(column, what="seen", words=words, told=f"a cross in it is read as {words!r}")


def is_note(head: str) -> bool:
    """Whether a head says no more than that notes stand below it, or nothing at all."""
    return bool(re.fullmatch(rf"{_NOTES}|column \d+|", tidy_head(head)))


_BOTH = regex(r"\s*(?:/|\||&|\+|,|;| - |\band\b)\s*", re.I)


def parted(
    names: Sequence[str], body: Sequence[TableRow], match: Mapping[str, str]
) -> tuple[list[str], list[TableRow]]:
    """A column that tells two things in one cell ("film / strip", "Dmax / Dmin") as two: the second stands behind all columns.

    Parameters
    ----------
    names : sequence of str
        Heads of the columns.
    match : mapping of str to str
        What the person said columns are; such a column is left alone.

    Returns
    -------
    tuple of (list of str, list of TableRow)
    """
    for place, name in enumerate(names):
        heads = _BOTH.split(name.strip())
        whats = [found_what(head) for head in heads]
        if len(heads) != 2 or "" in whats or whats[0] == whats[1] or found_what(name) or name in match:
            continue
        rows, cut = [], 0
        for row in body:
            cells = [*row.cells, *[""] * (len(names) - len(row.cells))]
            first, joint, second = _cut(cells[place])
            if joint and len(cells) == len(names):
                cut += 1
                cells[place] = first
                cells.append(second)
            rows.append(TableRow(row.line, tuple(cells)))
        if cut:
            return [heads[0] if k == place else head for k, head in enumerate(names)] + [heads[1]], rows
    return list(names), list(body)


def _cut(cell: str) -> tuple[str, str, str]:
    """A cell cut at its last stroke, else at its last lone dash or comma; a decimal comma cuts nothing."""
    for joint in (r"\s*[/|]\s*", r"\s[-\N{EN DASH}]\s", r"\s*[,;]\s+"):
        if cuts := list(re.finditer(joint, cell)):
            return cell[: cuts[-1].start()], cuts[-1][0], cell[cuts[-1].end() :]
    return cell, "", ""


def table_columns(
    names: Sequence[str], body: Sequence[TableRow], match: Mapping[str, str], where: str
) -> tuple[TableColumn, ...]:
    chosen = {}
    for key, what in match.items():
        places = [k for k, name in enumerate(names) if name.strip().lower() == key.strip().lower()]
        number = whole_number(key.strip().removeprefix("#"))
        if (key.strip().startswith("#") or not places) and number is not None and 1 <= number <= len(names):
            places = [number - 1]
        if not places:
            raise InputError(f"the table has no column {key!r}", where=where, remedy=f"it has {', '.join(names)[:200]}")
        chosen[places[0]] = what_of(what)
    columns = []
    taken: set[str] = set(chosen.values())
    for place, name in enumerate(names):
        what = chosen.get(place, "")
        told = ""
        if not what:
            what = found_what(name)
            if what in taken and what not in ("note", "seen"):
                told = f"a column before it is {WHATS.get(what, what)} already: its text goes into the note"
                what = "note"
            elif not what:
                filled = any(len(row.cells) > place and row.cells[place] for row in body)
                told = "its head is not known: its text goes into the note" if filled else "it is empty"
                what = "note" if filled else "nothing"
            taken.add(what)
        column = _with_unit(TableColumn(place, name, what, told=told))
        columns.append(column if place in chosen else _crosses(column, body))
    whats = {column.what for column in columns}
    if "film" not in whats:
        # A column of rolls names the films where no other does; beside one that does, it is a note.
        rolls = [c for c in columns if c.place not in chosen and re.fullmatch(_ROLLS, tidy_head(c.head))]
        columns = [
            replace(c, what="film", told="no other column names the film") if c in rolls[:1] else c for c in columns
        ]
    columns = [
        replace(column, told=ANOTHER_ALKALI)
        if column.what == ALKALI.key and not re.search(r"ammon|nh3|nh4|alk", unaccented(column.head))
        else column
        for column in columns
    ]
    # Where nothing else tells what was seen, the notes do.
    if not chosen and not whats & ({*GRADES, "seen"} | {what for what in whats if what.startswith(DENSITY_AT)}):
        columns = [
            replace(column, what="seen", told="no other column tells what was seen: its words are read as that")
            if column.what == "note" and found_what(column.head) == "note" and _tells_words(column, body)
            else column
            for column in columns
        ]
    if any(column.what == "volume" for column in columns):
        return tuple(columns)
    return tuple(
        replace(
            column,
            in_ml=1000.0,
            told=f"no unit stands at its head: bare numbers are counted as {CONTROLS[column.what].unit}",
        )
        if column.what in (SOLVENT.key, ALKALI.key)
        and column.in_ml is None
        and not column.unit
        and not _own_units(column, body)
        else column
        for column in columns
    )


def cell_of(row: TableRow, place: int) -> str:
    return row.cells[place] if place < len(row.cells) else ""


def _tells_words(column: TableColumn, body: Sequence[TableRow]) -> bool:
    cells = [cell for row in body if (cell := cell_of(row, column.place))]
    return any(read_words(cell).grades for cell in cells)


def _own_units(column: TableColumn, body: Sequence[TableRow]) -> bool:
    cells = [cell for row in body if (cell := cell_of(row, column.place)) and not re.fullmatch(ABSENT, cell.lower())]
    return bool(cells) and all(plain_number(cell) is None for cell in cells)


def _with_unit(column: TableColumn) -> TableColumn:
    head = column.head.lower()
    if column.what in (SOLVENT.key, ALKALI.key):
        volume = re.search(
            rf"(?:\bin|\bper|\bpar|\bpro|/|\bauf|\bfor|\bto|\bpour|\bdans|\bvoor|\bpor|\ben|\bsu|\bje)\s*(?P<n>{NUMBER})?\s*(?P<u>ml|cc|l|lit\w+)?\b",
            head,
        )
        if volume and (volume["n"] or volume["u"]):
            many = plain_number(volume["n"] or "1") or 1.0
            return replace(column, in_ml=many * (1000.0 if (volume["u"] or "ml").startswith("l") else 1.0), unit="mL")
        if "%" in head:
            return replace(column, unit="%")
        return replace(column, unit="mL" if re.search(r"\bml\b|\bcc\b", head) else "")
    if column.what == TIME.key:
        in_seconds = re.search(r"\b(?:s|secs?|seconds?)\b", head) and not re.search(r"\bm(?:in\w*)?\b", head)
        return replace(column, unit="s" if in_seconds else "min")
    if column.what == TEMPERATURE.key:
        return replace(column, unit="F" if re.search(r"(?:\u00b0 ?|\bdeg ?|\()f\b|\bf\b|fahrenheit", head) else "")
    return column
