"""Tables as people keep them: bytes of any usual encoding, cells apart by any usual sign."""

from __future__ import annotations

import csv
import io
import math
import re
import unicodedata
from collections import Counter
from dataclasses import dataclass

from obverse.foundation import InputError, TooLargeError

# A notebook of many years is shorter and narrower; each row becomes a strip that is fitted.
MOST_TABLE_ROWS = 2000
MOST_TABLE_COLUMNS = 200
MOST_TABLE_CHARACTERS = 2_000_000
# Signs between cells, the surest first: text holds tabs and bars seldom, commas often.
SEPARATORS = ("\t", ";", "|", ",")
# A zero byte in so many bytes of two tells text of two bytes a letter.
SHARE_OF_ZEROS = 0.3
DITTO = "\N{DITTO MARK}"
# What begins a packed spreadsheet, an old one, a PDF.
_NO_TEXT = {
    b"PK\x03\x04": "a packed spreadsheet file",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet file",
    b"%PDF": "a PDF",
}


@dataclass(frozen=True, slots=True)
class TableRow:
    """One row: the line it begins at in the text, from 1, and its cells."""

    line: int
    cells: tuple[str, ...]


def unaccented(text: str) -> str:
    """In small letters without their accents, for words of other languages that are written either way."""
    return "".join(sign for sign in unicodedata.normalize("NFKD", text.lower()) if not unicodedata.combining(sign))


def table_text(data: bytes, *, where: str = "table") -> str:
    """The text of a table file: UTF-8, UTF-16 with or without a mark, else the single-byte code of western desks.

    Parameters
    ----------
    data : bytes
        The whole file.
    where : str, optional
        Names the input in an error.

    Raises
    ------
    InputError
        If it is no text: a packed spreadsheet, a picture.
    """
    for head, kind in _NO_TEXT.items():
        if data.startswith(head):
            raise InputError(
                f"it is {kind}, not text",
                where=where,
                remedy="save it as CSV there, or copy its cells and paste them",
            )
    for mark, code in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if data.startswith(mark):
            return data.decode(code, errors="replace")
    zeros = [data[place::2].count(0) for place in (0, 1)]
    if max(zeros, default=0) * 2 > SHARE_OF_ZEROS * len(data) > 0:
        return data.decode("utf-16-be" if zeros[0] > zeros[1] else "utf-16-le", errors="replace")
    if b"\0" in data:
        raise InputError("it is not text", where=where, remedy="give a table as CSV or as cells pasted")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def table_rows(text: str, *, where: str = "table") -> tuple[tuple[TableRow, ...], str]:
    """The rows of a table that hold anything, and the sign that keeps their cells apart; empty where blanks do.

    Raises
    ------
    InputError
        If there is nothing in it, or it is no table.
    TooLargeError
        If it is longer or wider than any notebook.
    """
    if len(text) > MOST_TABLE_CHARACTERS:
        raise TooLargeError(
            f"a table of {len(text)} characters is more than a notebook holds", where=where, remedy="give it in parts"
        )
    # Some spreadsheets tell their sign in a line of its own above the head.
    plain = (
        re.sub(r"^\ufeff?sep=.\s*\n", "", text)
        .lstrip("\ufeff")
        .replace("\r\n", "\n")
        .replace("\r", "\n")
        .replace("\0", "")
    )
    if not plain.strip():
        raise InputError("there is nothing in it", where=where, remedy="paste the rows with their head")
    if re.match(r"\s*[{\[]\s*[\"{\[]", plain):
        raise InputError(
            "it is a JSON document, not a table",
            where=where,
            remedy="a series document goes in under 'From a file' on the notebook page",
        )
    split = {mark: _split(plain, mark) for mark in SEPARATORS}
    mark = max(split, key=lambda one: _evenness(split[one]))
    # Columns kept apart by blanks alone, as a table in a letter is.
    mark = mark if _evenness(split[mark]) > 0 else ""
    rows = split[mark] if mark else _by_blanks(plain)
    kept = [TableRow(line, cells) for line, cells in rows if any(cells) and not _is_rule(cells)]
    if len(kept) > MOST_TABLE_ROWS:
        raise TooLargeError(
            f"{len(kept)} rows are more than a notebook holds", where=where, remedy=f"give at most {MOST_TABLE_ROWS}"
        )
    if not kept or max(len(row.cells) for row in kept) < 2:
        raise InputError(
            "it has one column, which is no table of strips",
            where=where,
            remedy="keep the cells apart by tabs, semicolons or commas",
        )
    width = max(len(row.cells) for row in kept)
    if width > MOST_TABLE_COLUMNS:
        raise TooLargeError(
            f"{width} columns are more than a strip has", where=where, remedy=f"give at most {MOST_TABLE_COLUMNS}"
        )
    return tuple(kept), mark


Rows = list[tuple[int, tuple[str, ...]]]


def _split(text: str, mark: str) -> Rows:
    # A ditto mark is a quotation mark alone in its cell; read as one it would swallow the rows below.
    sign = re.escape(mark)
    marked = re.sub(rf'(?m)(^|{sign})[ ]*"[ ]*(?={sign}|$)', rf"\g<1>{DITTO}", text)
    # A quotation that never ends is a seconds or an inch mark at the head of a cell; then quotes are plain letters.
    reader = csv.reader(
        io.StringIO(marked),
        delimiter=mark,
        quoting=csv.QUOTE_MINIMAL if marked.count('"') % 2 == 0 else csv.QUOTE_NONE,
        skipinitialspace=mark != "\t",
    )
    rows: Rows = []
    begins = 1
    try:
        for cells in reader:
            tidy = tuple(" ".join(cell.split()) for cell in cells)
            if any(tidy):
                rows.append((begins, tidy))
            begins = reader.line_num + 1
    except csv.Error:
        return []
    # A table drawn with bars has an empty cell at both ends of each row.
    barred = [cells for _, cells in rows if len(cells) > 2]
    if mark == "|" and barred and all(not cells[0] and not cells[-1] for cells in barred):
        rows = [(line, cells[1:-1] if len(cells) > 2 else cells) for line, cells in rows]
    return rows


def _by_blanks(text: str) -> Rows:
    return [
        (number, tuple(re.split(r"\s{2,}|\t", line.strip())))
        for number, line in enumerate(text.split("\n"), 1)
        if line.strip()
    ]


def _evenness(rows: Rows) -> float:
    """How much the rows look like rows of one table: many cells, as many in each."""
    if not rows:
        return 0.0
    # Cells left empty at the end of a row are often not written.
    width, often = Counter(len(cells) for _, cells in rows).most_common(1)[0]
    return math.log(width) * often / len(rows)


def _is_rule(cells: tuple[str, ...]) -> bool:
    return all(re.fullmatch(r"[:\-=_+ ]*", cell) for cell in cells) and any(len(cell) > 2 for cell in cells)
