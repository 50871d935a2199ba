"""A mix sheet on paper: order of adding, tick boxes, cautions at their line."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from obverse.foundation import Caution, InputError, JsonObject, open_and_folded
from obverse.process import METRIC, UnitsShown, retold_in
from obverse.sheets.typeset import PAPERS, qr_svg, typeset
from obverse.workbench.nouns import HazardSheet, MixLine, MixSheet

DEFER = "Labels, safety data sheets and local codes come before this sheet."

# A rounding error under this shows as +0.0 % and is not told.
SHOWN_ERROR = 0.0005


def mix_sheets_pdf(
    sheets: Sequence[tuple[MixSheet, HazardSheet, str]],
    *,
    printed_on: date | None = None,
    paper: str = "a4",
    units: UnitsShown = METRIC,
) -> bytes:
    """Mix sheets as PDF, each on a page of its own.

    Parameters
    ----------
    sheets : sequence of (MixSheet, HazardSheet, str)
        What to wear and how to air stand at the head; the QR code opens the text, where there is one.
    printed_on : date, optional
        Shown at the foot.
    paper : str
        ``"a4"`` or ``"us-letter"``.
    units : UnitsShown
        In what amounts are told, beside the marks of the tools.

    Raises
    ------
    InputError
        For another paper, or where there is no sheet.
    """
    if paper not in PAPERS:
        raise InputError(f"there is no paper {paper!r}", where="paper", remedy="use a4 or us-letter")
    if not sheets:
        raise InputError(
            "there is no mix sheet to print", where="mix sheet", remedy="put what is missing on the shelf first"
        )
    return typeset("mix_sheet", sheets_data(sheets, printed_on, paper, units))


def sheets_data(
    sheets: Sequence[tuple[MixSheet, HazardSheet, str]], printed_on: date | None, paper: str, units: UnitsShown = METRIC
) -> JsonObject:
    """What the template is given."""
    return {
        "paper": paper,
        "defer": DEFER,
        "printed": f"printed {printed_on}" if printed_on else "",
        "sheets": retold_in(
            units, [_sheet(sheet, hazards, link, units) for sheet, hazards, link in sheets], only=_SENTENCES
        ),
    }


# Of the house, and no amount of a line, which is told in the unit of its tool.
_SENTENCES = frozenset({"do", "note", "cautions", "also"})


def _sheet(sheet: MixSheet, hazards: HazardSheet, link: str, units: UnitsShown) -> JsonObject:
    shown, rest = open_and_folded(sheet.cautions, lambda c: c.level)
    return {
        "name": sheet.name[:1].upper() + sheet.name[1:],
        "volume": sheet.volume_said or units.volume(sheet.volume_ml),
        "use_within": f"Use within {sheet.use_within_min:g} min." if sheet.use_within_min else "",
        "note": sheet.note,
        "wear": f"Wear {', '.join(hazards.wear)}. {hazards.air}",
        "cautions": [_caution(c) for c in shown],
        "also": [c.text for c in rest],
        "lines": [_line(line, sheet.volume_said or units.volume(sheet.volume_ml), units) for line in sheet.lines],
        "made": [
            {
                "name": m.name,
                "made": f"{m.made_g_per_l.value:.4g}",
                "range": f"{m.made_g_per_l.low90:.3g} to {m.made_g_per_l.high90:.3g}",
                "target": f"{m.target_g_per_l:.4g}",
                "standing": m.standing_words,
            }
            for m in sheet.made
        ],
        "ph": _acidity(sheet),
        "qr": qr_svg(link) if link else "",
    }


def _acidity(sheet: MixSheet) -> str:
    """The pH as far as it is known, and what the labels leave open."""
    told = []
    if sheet.ph:
        told.append(f"pH about {sheet.ph.value:.1f} ({sheet.ph.low90:.1f} to {sheet.ph.high90:.1f}), estimated.")
    elif sheet.undeclared or sheet.bounds_g_per_l:
        told.append(f"pH {sheet.ph_note}.")
    if sheet.left_open:
        told.append(f"Left open by the labels: {'; '.join(sheet.left_open)}.")
    return " ".join(told)


def _line(line: MixLine, volume: str, units: UnitsShown) -> JsonObject:
    small = []
    if line.kind == "product":
        small.append(line.measure)
        if abs(line.rounding_error) >= SHOWN_ERROR:
            small.append(f"exactly {line.raw_amount:.4g} {line.unit}, rounding {100 * line.rounding_error:+.1f} %")
        if line.reading:
            small.append(line.reading)
    return {
        "amount": {"make_up": f"to {volume}", "as_said": line.measure}.get(line.kind)
        or units.measured(line.amount, line.unit),
        "name": line.name,
        "do": line.do,
        "small": "; ".join(small),
        "cautions": [_caution(c) for c in line.cautions],
    }


def _caution(caution: Caution) -> dict[str, str]:
    return {"level": caution.level.value, "text": caution.text}
