"""The exposure card: two faces side by side, to cut, fold and keep in the bag."""

from __future__ import annotations

from datetime import date

from obverse.foundation import InputError, JsonObject
from obverse.sheets.typeset import PAPERS, typeset
from obverse.workbench.exposure_card import THIRDS, Card, Zone, f_number_words, watch_words

KINDS = {
    "measured": "from a measured strip",
    "predicted": "from a PREDICTED curve",
    "example": "from an INVENTED curve",
}


def exposure_card_pdf(card: Card, *, printed_on: date | None = None, paper: str = "a4") -> bytes:
    """The card as PDF.

    Parameters
    ----------
    printed_on : date, optional
        Shown at the foot.
    paper : str
        ``"a4"`` or ``"us-letter"``.
    """
    if paper not in PAPERS:
        raise InputError(f"there is no paper {paper!r}", where="paper", remedy="use a4 or us-letter")
    return typeset("exposure_card", card_data(card, printed_on, paper))


def card_data(card: Card, printed_on: date | None, paper: str) -> JsonObject:
    """What the template is given."""
    return {
        "paper": paper,
        "film": card.curve.film[:1].upper() + card.curve.film[1:],
        "by": card.curve.name,
        "kind": KINDS[card.curve.kind] + (f": {card.curve.controls_text}" if card.curve.controls_text else ""),
        "dial": f"{card.dial:g}",
        "known": card.known,
        "range": f"{card.range_stops:.1f}",
        "span": f"{card.under_stops:.1f} under, {card.over_stops:.1f} over the metered tone",
        "scene": f"an average outdoor scene has {card.scene_stops:.1f}",
        "zones": [_zone(zone) for zone in card.zones],
        "bracket": " ".join("0" if stop == 0 else f"{_stops(stop)}" for stop in card.bracket)
        if len(card.bracket) > 1
        else "one frame",
        "bracket_words": card.bracket_words,
        "latitude": f"{card.latitude_stops:g}",
        "filters": [
            {"name": name, "factor": f"{factor:g}x", "stops": f"+{stops:g}"} for name, factor, stops in card.filters
        ],
        "long": [
            {"metered": f"{m:g} s", "give": watch_words(g), "range": f"{watch_words(low)} to {watch_words(high)}"}
            for m, g, low, high in card.reciprocity
        ],
        "p": f"{card.reciprocity_p:g}",
        "flash": [{"distance": f"{d:g} m", "stop": f_number_words(f)} for d, f in card.flash],
        "guide": f"{card.guide_number_m:g} m at 100",
        "cautions": [c.text for c in card.cautions if c.level.value != "note"],
        "printed": f"printed {printed_on}" if printed_on else "",
    }


def _zone(zone: Zone) -> JsonObject:
    return {
        "name": zone.name,
        "density": f"{zone.density:.2f}",
        "grey": 100 * zone.grey,
        "subject": zone.words,
    }


def _stops(stop: float) -> str:
    sign = "+" if stop > 0 else "\N{MINUS SIGN}"
    whole, thirds = divmod(round(abs(stop) * THIRDS), THIRDS)
    return sign + " ".join(part for part in (str(whole) if whole else "", f"{thirds}/3" if thirds else "") if part)
