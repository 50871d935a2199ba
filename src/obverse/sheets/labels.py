"""Bottle labels: contents, strength, dates, hazards in words and codes, and a QR code that opens the bottle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from obverse.foundation import InputError, JsonObject
from obverse.process import Bottle
from obverse.sheets.pictograms import pictogram_svg
from obverse.sheets.typeset import qr_svg, typeset
from obverse.workbench.nouns import HazardSheet

DEFER = "See the safety data sheet."
# More than any shelf at home needs in one go.
MOST_LABELS = 200
# Layout: the longest title that a type size still holds on the smallest label, and how many hazards stay in words.
TITLE_SIZES_PT = ((24, 22), (44, 18), (10_000, 15))
HAZARDS_IN_WORDS = (3, 2, 1)


@dataclass(frozen=True, slots=True)
class LabelGrid:
    """A sheet of labels; all lengths in mm.

    `left_mm`, `top_mm` are the corner of the first label, `pitch_*` the step from label to label.
    """

    name: str
    paper: str
    columns: int
    rows: int
    width_mm: float
    height_mm: float
    left_mm: float
    top_mm: float
    pitch_x_mm: float
    pitch_y_mm: float

    @property
    def count(self) -> int:
        """Labels on one sheet."""
        return self.columns * self.rows


# Usual die-cut sheets by their measures (from memory), and plain paper to cut along the lines.
GRIDS = {
    "a4-8": LabelGrid("A4, 8 labels of 99 x 68 mm", "a4", 2, 4, 99.1, 67.7, 4.7, 13.1, 101.6, 67.7),
    "a4-21": LabelGrid("A4, 21 labels of 64 x 38 mm", "a4", 3, 7, 63.5, 38.1, 7.2, 15.2, 66.0, 38.1),
    "letter-6": LabelGrid("Letter, 6 labels of 4 x 3 1/3 in", "us-letter", 2, 3, 101.6, 84.7, 4.0, 12.7, 106.3, 84.7),
    "letter-10": LabelGrid("Letter, 10 labels of 4 x 2 in", "us-letter", 2, 5, 101.6, 50.8, 4.0, 12.7, 106.3, 50.8),
    "a4-plain": LabelGrid("plain A4, 6 labels to cut", "a4", 2, 3, 95.0, 90.0, 10.0, 13.5, 95.0, 90.0),
    "letter-plain": LabelGrid("plain Letter, 6 labels to cut", "us-letter", 2, 3, 98.0, 82.0, 10.0, 16.0, 98.0, 82.0),
}


@dataclass(frozen=True, slots=True)
class BottleLabel:
    """What one label says.

    Parameters
    ----------
    title : str
        What is in the bottle, in the fewest words.
    contents : str
        Substances with their strengths.
    dates : str
        Such as ``"filled 2031-11-05, keeps years"``.
    signal : str
        The signal word; empty where no code asks for one.
    hazards : tuple of (words, code)
    pictograms : tuple of str
        Families of `obverse.sheets.pictograms`.
    link : str
        What the QR code opens; empty for a label without one.
    id : str
        Short id of the bottle, printed below the code.
    """

    title: str
    contents: str
    dates: str
    signal: str
    hazards: tuple[tuple[str, str], ...]
    unknown: tuple[str, ...]
    pictograms: tuple[str, ...]
    link: str
    id: str


# Codes that the UN system answers with the graver of its two signal words (from memory).
_DANGER = {"H251", "H271", "H272", "H301", "H310", "H314", "H318", "H330", "H334", "H340", "H350", "H360FD", "H372"}


def label_of(
    bottle: Bottle, hazards: HazardSheet, *, contents: str, link: str, id: str, keeps: str = ""
) -> BottleLabel:
    """The label of a bottle.

    Parameters
    ----------
    hazards : HazardSheet
        Of what is in it.
    contents : str
        Substances with strength, in words.
    keeps : str
        How long such a solution keeps, in words; used where the bottle has no expiry date.
    """
    codes = {code.code for code in hazards.codes}
    signal = "danger" if codes & _DANGER else "warning" if hazards.codes else ""
    dates = [
        f"filled {bottle.filled_on}" if bottle.filled_on else "",
        f"opened {bottle.opened_on}" if bottle.opened_on else "",
    ]
    dates.append(f"use by {bottle.expires_on}" if bottle.expires_on else f"keeps {keeps}" if keeps else "")
    return BottleLabel(
        title=bottle.name,
        contents=contents,
        dates="   ".join(d for d in dates if d) or "filled ____________",
        signal=signal,
        hazards=tuple((code.words, code.code) for code in hazards.codes),
        unknown=hazards.unknown,
        pictograms=hazards.pictograms,
        link=link,
        id=id,
    )


def labels_pdf(labels: Sequence[BottleLabel], grid: str = "a4-8", *, skip: int = 0) -> bytes:
    """A sheet (or several) of bottle labels as PDF.

    Parameters
    ----------
    grid : str
        A key of `GRIDS`.
    skip : int
        Labels of the first sheet that are used up already.

    Raises
    ------
    InputError
        For an unknown grid, no label, too many, or a skip beyond the sheet.
    """
    return typeset("labels", labels_data(labels, grid, skip=skip))


def labels_data(labels: Sequence[BottleLabel], grid: str, *, skip: int = 0) -> JsonObject:
    """What the template is given: the grid, and the labels page by page."""
    if grid not in GRIDS:
        raise InputError(
            f"there is no label sheet {grid!r}", where="labels", remedy="choose one of " + ", ".join(GRIDS)
        )
    if not labels:
        raise InputError("there is nothing to put on a label", where="labels", remedy="choose at least one bottle")
    if len(labels) > MOST_LABELS:
        raise InputError(
            f"{len(labels)} labels at once are too many", where="labels", remedy=f"print at most {MOST_LABELS}"
        )
    sheet = GRIDS[grid]
    if not 0 <= skip < sheet.count:
        raise InputError(
            f"{skip} used labels cannot be on a sheet of {sheet.count}",
            where="labels",
            remedy=f"give 0 to {sheet.count - 1}",
        )
    cells = [None] * skip + [_cell(label) for label in labels]
    pages = [cells[i : i + sheet.count] for i in range(0, len(cells), sheet.count)]
    return {
        "paper": sheet.paper,
        "outline": grid.endswith("plain"),
        "grid": {name: value for name, value in asdict(sheet).items() if name not in ("name", "paper")},
        "pages": pages,
    }


def _cell(label: BottleLabel) -> JsonObject:
    long = len(label.title)
    return {
        "title": _whole(label.title),
        "title_pt": next(size for most, size in TITLE_SIZES_PT if long <= most),
        "contents": _whole(label.contents),
        "dates": label.dates,
        "signal": label.signal,
        # The template takes the fullest that fits; the gravest is always in words.
        "hazards": [_hazards(label.hazards, in_words) for in_words in (len(label.hazards), *HAZARDS_IN_WORDS)],
        "unknown": ("No codes recorded for " + ", ".join(label.unknown) + ": see its safety data sheet.")
        if label.unknown
        else "",
        "pictograms": [pictogram_svg(p) for p in label.pictograms[:4]],
        "qr": qr_svg(label.link) if label.link else "",
        "id": label.id,
        "defer": DEFER,
    }


def _hazards(pairs: tuple[tuple[str, str], ...], in_words: int) -> str:
    told = "; ".join(f"{words} ({code})" for words, code in pairs[:in_words])
    rest = ", ".join(code for _, code in pairs[in_words:])
    return f"{told}; also {rest}" if rest else told


def _whole(text: str) -> str:
    """Numbers stay with their units: no line ends inside ``5 % w/w``."""
    joined = (
        text.replace(" %", "\u00a0%")
        .replace("% w/", "%\u00a0w/")
        .replace("% v/", "%\u00a0v/")
        .replace(" g/L", "\u00a0g/L")
    )
    return joined.replace("w/w", "w\u2060/\u2060w").replace("w/v", "w\u2060/\u2060v").replace("g/L", "g\u2060/\u2060L")
