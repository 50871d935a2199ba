"""An evening on paper: the order of the slides with their slots, and labels for their mounts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date

from obverse.foundation import InputError, JsonObject
from obverse.process import Slide
from obverse.sheets.labels import LabelGrid
from obverse.sheets.typeset import PAPERS, typeset
from obverse.workbench.slides import Show, heat_notes, spot_note

# Strips for the rim of a 50 x 50 mm mount: to cut from plain paper, and a usual die-cut sheet (from memory).
MOUNT_GRIDS = {
    "a4-cut": LabelGrid("plain A4, 76 labels of 46 x 14 mm to cut", "a4", 4, 19, 46.0, 14.0, 13.0, 15.5, 46.0, 14.0),
    "letter-cut": LabelGrid(
        "plain Letter, 68 labels of 46 x 14 mm to cut", "us-letter", 4, 17, 46.0, 14.0, 15.9, 20.7, 46.0, 14.0
    ),
    "letter-80": LabelGrid(
        "Letter, 80 labels of 1 3/4 x 1/2 in", "us-letter", 4, 20, 44.45, 12.7, 7.6, 12.7, 52.1, 12.7
    ),
}
# A longer title is cut on a label.
MOST_OF_A_TITLE = 80


# Where the thumb lies that puts the slide into the tray.
USUAL_SPOT = "lower left"


def show_list_pdf(show: Show, *, printed_on: date | None = None, paper: str = "a4") -> bytes:
    """The show list as PDF.

    Raises
    ------
    InputError
        For another paper, or a list without slides.
    """
    if paper not in PAPERS:
        raise InputError(f"there is no paper {paper!r}", where="paper", remedy="use a4 or us-letter")
    return typeset("show_list", show_data(show, printed_on, paper))


def show_data(show: Show, printed_on: date | None, paper: str) -> JsonObject:
    """What the template is given."""
    if not show.turns:
        raise InputError("the list holds no slide yet", where="show list", remedy="put slides on it and keep it")
    two = show.order.projectors == len("AB")
    many = show.trays > show.order.projectors
    count = len(show.turns)
    return {
        "paper": paper,
        "title": show.order.name,
        "head": ", ".join(
            [
                f"{count} slide{'' if count == 1 else 's'}",
                "two projectors, A and B in turn" if two else "one projector",
                f"{show.trays} tray{'' if show.trays == 1 else 's'} of {show.order.tray_slots}",
            ]
        ),
        "note": show.order.note,
        "turns": [
            {
                "number": turn.number,
                "slot": (f"{turn.projector} " if two else "")
                + (f"{turn.tray}/{turn.slot}" if many else f"{turn.slot}"),
                "title": turn.slide.title or f"{turn.slide.roll}, frame {turn.slide.frame}",
                "frame": f"{turn.slide.roll}, frame {turn.slide.frame}" if turn.slide.title else "",
                "place": turn.slide.place,
                "mount": mount_words(turn.slide),
                "upright": turn.slide.upright,
                "note": turn.slide.note,
            }
            for turn in show.turns
        ],
        "slot_head": "tray/slot" if many else "slot",
        "remarks": list(show.remarks),
        "spot": asdict(spot_note()),
        "heat": [asdict(told) for told in heat_notes()],
        "printed": f"printed {printed_on}" if printed_on else "",
    }


def mount_words(slide: Slide) -> str:
    """The mount of a slide in words: glass, thickness, how the picture stands."""
    parts = (
        "" if slide.mounted else "not mounted",
        slide.mount,
        f"{slide.thickness_mm:g} mm" if slide.thickness_mm else "",
        "upright" if slide.upright else "",
        f"spot {slide.spot}" if slide.spot else "",
    )
    return ", ".join(part for part in parts if part)


def mount_labels_pdf(slides: Sequence[tuple[str, Slide]], grid: str = "a4-cut", *, skip: int = 0) -> bytes:
    """Labels for mounts as PDF.

    Parameters
    ----------
    slides : sequence of (mark, Slide)
        The mark stands in the corner: number of the evening, or nothing.
    grid : str
        A key of `MOUNT_GRIDS`.
    skip : int
        Labels of the first sheet that are used up already.

    Raises
    ------
    InputError
        For an unknown grid, no slide, or a skip beyond the sheet.
    """
    return typeset("mount_labels", mount_labels_data(slides, grid, skip=skip))


def mount_labels_data(slides: Sequence[tuple[str, Slide]], grid: str, *, skip: int = 0) -> JsonObject:
    """What the template is given: the grid, and the labels page by page."""
    if grid not in MOUNT_GRIDS:
        raise InputError(
            f"there is no label sheet {grid!r}", where="labels", remedy="choose one of " + ", ".join(MOUNT_GRIDS)
        )
    if not slides:
        raise InputError("there is no slide to label", where="labels", remedy="choose a roll or a list with slides")
    sheet = MOUNT_GRIDS[grid]
    if not 0 <= skip < sheet.count:
        raise InputError(
            f"{skip} used labels cannot be on a sheet of {sheet.count}",
            where="labels",
            remedy=f"give 0 to {sheet.count - 1}",
        )
    cells = [None] * skip + [_cell(mark, slide) for mark, slide in slides]
    return {
        "paper": sheet.paper,
        "outline": grid.endswith("cut"),
        "grid": {name: value for name, value in asdict(sheet).items() if name not in ("name", "paper")},
        "pages": [cells[i : i + sheet.count] for i in range(0, len(cells), sheet.count)],
    }


def _cell(mark: str, slide: Slide) -> JsonObject:
    title = slide.title
    if len(title) > MOST_OF_A_TITLE:
        title = title[:MOST_OF_A_TITLE].rsplit(" ", 1)[0] + " \N{HORIZONTAL ELLIPSIS}"
    return {
        "mark": mark,
        "title": title,
        "frame": f"{slide.roll} {slide.frame}" + (", upright" if slide.upright else ""),
        "date": f"{slide.taken_on}" if slide.taken_on else "",
        "spot": (slide.spot or USUAL_SPOT).split(),
    }
