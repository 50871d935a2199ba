"""Lists of readings as text: comma-separated values, and the keyword text of ISO 28178 (CGATS.17).

Pure: text in, values out. Who opens the file is the capture door.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from obverse.foundation import InputError, TooLargeError, with_point

# A curve needs no more, and no list typed or scanned at home is longer.
MOST_ROWS = 20_000
MOST_CHARACTERS = 4_000_000
# An sd beyond this says nothing of film.
MOST_DENSITY_SD = 3.0
# Numbers of any unit are taken in: what they may be is told by `recognise`, with a way to convert them.
MOST = 1e7

# Words we accept at the head of a column, after lowering and dropping blanks, dashes and units.
_COLUMNS = {
    "log_exposure": ("log_exposure", "logexposure", "log_h", "logh", "log_e", "loge", "x"),
    "density": ("density", "d", "d_vis", "d_visual", "visual", "d_status"),
    "sd": ("sd", "density_sd", "stdev", "stdev_d", "std", "uncertainty"),
}


@dataclass(frozen=True, slots=True)
class ReadingList:
    """Readings in the order of the list.

    Parameters
    ----------
    density_sd : tuple of float or None
        None where the list does not state one.
    keywords : dict
        Header of a CGATS.17 file; empty for CSV.
    """

    log_exposure: tuple[float, ...]
    density: tuple[float, ...]
    density_sd: tuple[float | None, ...]
    keywords: dict[str, str]

    def sds(self) -> list[float]:
        """Uncertainties with NaN where none is stated."""
        return [math.nan if sd is None else sd for sd in self.density_sd]


def read_list(text: str, *, where: str = "readings") -> ReadingList:
    """Read CSV or CGATS.17 text, whichever it is.

    Parameters
    ----------
    text : str
        The whole file.
    where : str, optional
        Names the input in an error.

    Returns
    -------
    ReadingList
        In the order of the text.

    Raises
    ------
    InputError
        With the line and what is wrong there.
    """
    if len(text) > MOST_CHARACTERS:
        raise TooLargeError(
            f"a list of readings has no {len(text)} characters", where=where, remedy="give the list alone"
        )
    if "\0" in text:
        raise InputError("it is not text", where=where, remedy="give comma-separated values or a CGATS.17 text")
    return _read_cgats(text, where) if re.search(r"^\s*BEGIN_DATA_FORMAT\b", text, re.M) else _read_csv(text, where)


def _read_csv(text: str, where: str) -> ReadingList:
    lines = [
        (number, line)
        for number, line in enumerate(text.lstrip("\ufeff").splitlines(), 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise InputError("the list is empty", where=where, remedy="give the columns log_exposure,density[,sd]")
    separator = _separator(lines[0][1], where)
    head = _cells(lines[0][1], separator)
    named = not all(_is_number(cell, separator == ";") for cell in head)
    # Without names the columns are taken in the order in which they are usually written.
    columns = (
        _columns(head, where, lines[0][0])
        if named
        else dict(zip(("log_exposure", "density", "sd"), range(len(head)), strict=False))
    )
    if "density" not in columns:
        raise InputError(
            "one column is no list of readings", where=where, remedy="give the columns log_exposure,density[,sd]"
        )
    rows = []
    for number, line in lines[1:] if named else lines:
        cells = _cells(line, separator)
        if len(cells) != len(head):
            raise InputError(
                f"{len(cells)} values stand under {len(head)} columns",
                where=f"{where}, line {number}",
                remedy="give one value for each column, with a point as the decimal sign"
                if separator == ","
                else "give one value for each column",
            )
        rows.append((f"{where}, line {number}", cells))
    return _listed(rows, columns, {}, where, decimal_comma=separator == ";")


def _separator(head: str, where: str) -> str:
    for mark in (";", "\t", ","):
        if mark in head:
            return mark
    raise InputError(
        f"the first line is {head.strip()[:40]!r}, not the names of columns",
        where=where,
        remedy="begin with the line log_exposure,density or log_exposure,density,sd",
    )


def _cells(line: str, separator: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader([line], delimiter=separator))]


def _columns(head: list[str], where: str, line: int) -> dict[str, int]:
    found: dict[str, int] = {}
    for index, cell in enumerate(head):
        name = re.sub(r"[\s\-]+", "_", cell.lower().strip().strip('"'))
        for column, words in _COLUMNS.items():
            if name in words:
                if column in found:
                    raise InputError(
                        f"the column {column} stands twice",
                        where=f"{where}, line {line}",
                        remedy="leave one of them out",
                    )
                found[column] = index
    for column in ("log_exposure", "density"):
        if column not in found:
            raise InputError(
                f"the column {column} is missing (found {', '.join(head)[:80]})",
                where=f"{where}, line {line}",
                remedy="name the columns log_exposure,density[,sd]",
            )
    return found


def _listed(
    rows: Sequence[tuple[str, Sequence[str]]],
    columns: dict[str, int],
    keywords: dict[str, str],
    where: str,
    *,
    decimal_comma: bool = False,
) -> ReadingList:
    if not rows:
        raise InputError("no reading stands under the column names", where=where, remedy="add the readings")
    if len(rows) > MOST_ROWS:
        raise TooLargeError(
            f"{len(rows)} readings are more than a curve needs", where=where, remedy=f"give at most {MOST_ROWS}"
        )
    x, d, sds = [], [], []
    for place, cells in rows:
        x.append(_number(cells[columns["log_exposure"]], "log_exposure", place, -MOST, MOST, decimal_comma))
        d.append(_number(cells[columns["density"]], "density", place, -MOST, MOST, decimal_comma))
        stated = cells[columns["sd"]] if "sd" in columns else ""
        sd = None if stated in ("", "-") else _number(stated, "sd", place, 0, MOST_DENSITY_SD, decimal_comma)
        if sd == 0:
            raise InputError(
                "an sd of 0 would mean perfect certainty", where=place, remedy="leave it empty where it is not known"
            )
        sds.append(sd)
    return ReadingList(tuple(x), tuple(d), tuple(sds), keywords)


def _value(cell: str, decimal_comma: bool) -> float:
    """A number as it is written; a shutter time may be a fraction of a second, 1/250."""
    text = with_point(cell) if decimal_comma else cell
    over, slash, under = text.partition("/")
    return float(over) / float(under) if slash and float(under) else float(text)


def _is_number(cell: str, decimal_comma: bool) -> bool:
    try:
        _value(cell, decimal_comma)
    except ValueError:
        return False
    return True


def _number(cell: str, column: str, place: str, low: float, high: float, decimal_comma: bool) -> float:
    try:
        value = _value(cell, decimal_comma)
    except ValueError:
        shown = f"{cell[:30]!r} is not a number" if cell else "nothing stands there"
        raise InputError(f"{column}: {shown}", where=place, remedy="give a number or leave the line out") from None
    if not math.isfinite(value):
        raise InputError(f"{column}: {cell} is not a reading", where=place, remedy="leave the line out")
    if not low <= value <= high:
        raise InputError(
            f"{column} {value:g} lies outside {low:g} to {high:g}", where=place, remedy="check the reading"
        )
    return value


def _read_cgats(text: str, where: str) -> ReadingList:
    keywords: dict[str, str] = {}
    columns: dict[str, int] | None = None
    width = 0
    rows: list[tuple[str, list[str]]] = []
    names: list[str] = []
    state = "head"
    first = True
    for number, line in enumerate(text.lstrip("\ufeff").splitlines(), 1):
        cells = _words(line)
        if not cells:
            continue
        place = f"{where}, line {number}"
        word = cells[0].upper()
        if word == "BEGIN_DATA_FORMAT":
            state = "format"
        elif word == "END_DATA_FORMAT":
            columns, width, state = _columns(names, where, number), len(names), "head"
        elif word == "BEGIN_DATA":
            if columns is None:
                raise InputError("data begin before their format", where=place, remedy="put BEGIN_DATA_FORMAT first")
            state = "data"
        elif word == "END_DATA":
            state = "done"
            break
        elif state == "format":
            names.extend(cells)
        elif state == "data":
            if len(cells) != width:
                raise InputError(
                    f"{len(cells)} values stand under {width} fields",
                    where=place,
                    remedy="give one value for each field",
                )
            rows.append((place, cells))
        elif len(cells) > 1:
            keywords[cells[0]] = " ".join(cells[1:])
        elif first:
            keywords["identifier"] = cells[0]
        first = False
    if state != "done":
        raise InputError(
            "the data do not end with END_DATA: the file is cut short", where=where, remedy="copy the whole file"
        )
    declared = keywords.get("NUMBER_OF_SETS")
    if declared is not None and declared.strip() != str(len(rows)):
        raise InputError(
            f"it declares {declared} sets and holds {len(rows)}", where=where, remedy="copy the whole file"
        )
    return _listed(rows, columns or {}, keywords, where)


def _words(line: str) -> list[str]:
    """Split at blanks, keep quoted words whole, drop what follows #."""
    return [
        quoted or plain
        for quoted, plain in re.findall(r'"([^"]*)"|([^\s"#]+)', re.sub(r'#(?=(?:[^"]*"[^"]*")*[^"]*$).*', "", line))
    ]


def write_csv(readings: ReadingList) -> str:
    """The list as CSV; the sd column stands only where one is stated. It reads back to the same values.

    Parameters
    ----------
    readings : ReadingList
        As read.
    """
    with_sd = any(sd is not None for sd in readings.density_sd)
    out = io.StringIO()
    out.write("log_exposure,density" + (",sd" if with_sd else "") + "\n")
    for x, d, sd in zip(readings.log_exposure, readings.density, readings.density_sd, strict=True):
        out.write(f"{x!r},{d!r}" + (f",{'' if sd is None else repr(sd)}" if with_sd else "") + "\n")
    return out.getvalue()


def write_cgats(readings: ReadingList, *, created: str, descriptor: str = "") -> str:
    """The list as CGATS.17 / ISO 28178 keyword text.

    Parameters
    ----------
    created : str
        Date and time in ISO 8601; the caller has the clock.
    descriptor : str
        What was read, on one line.
    """
    stated = any(sd is not None for sd in readings.density_sd)
    fields = ["SAMPLE_ID", "LOG_EXPOSURE", "D_VIS"] + (["STDEV_D"] if stated else [])
    lines = [
        "CGATS.17",
        'ORIGINATOR "obverse"',
        f'DESCRIPTOR "{_quotable(descriptor)}"',
        f'CREATED "{_quotable(created)}"',
        # LOG_EXPOSURE is no keyword of the standard; it asks that such words be declared.
        'KEYWORD "LOG_EXPOSURE"',
        *(['KEYWORD "STDEV_D"'] if stated else []),
        f"NUMBER_OF_FIELDS {len(fields)}",
        "BEGIN_DATA_FORMAT",
        " ".join(fields),
        "END_DATA_FORMAT",
        f"NUMBER_OF_SETS {len(readings.density)}",
        "BEGIN_DATA",
    ]
    for index, (x, d, sd) in enumerate(
        zip(readings.log_exposure, readings.density, readings.density_sd, strict=True), 1
    ):
        lines.append(f"{index} {x!r} {d!r}" + (f" {'-' if sd is None else repr(sd)}" if stated else ""))
    return "\n".join([*lines, "END_DATA", ""])


def _quotable(text: str) -> str:
    return re.sub(r'[\s"\x00-\x1f]+', " ", text).strip()
