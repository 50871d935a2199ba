"""Strengths that stand where an amount would: "0.02 M potassium permanganate", "0.4 N sulfuric acid", "2 % citric acid".

Such a strength is that of the finished bath; it is put as g in a litre, and the reading is told. A strength with an amount
beside it ("200 mL of 9 % peroxide") is that of the bottle and stays with the name.
"""

from __future__ import annotations

import re

from obverse.chemistry import BLEACHES, molar_mass_g_per_mol
from obverse.foundation import regex, take_number
from obverse.process.catalog import substances
from obverse.process.product import OTHER
from obverse.process.substance_words import substance_of

# What is weighed without any regard to its bottle is told so.
PURE = "pure"
# Grams in a litre of one percent by weight in volume.
G_PER_L_OF_PERCENT = 10.0
_MILLI = 1e-3
_NUMBER = r"(?:(?:about|ca\.?|~)\s*)?\d+(?:[.,]\d+)?(?:\s*(?:-|\N{EN DASH}|to)\s*\d+(?:[.,]\d+)?)?"
_PERCENT = r"%(?:\s*\(?w\s?/\s?v\)?)?|per\s?cent"
_MOLES = r"(?-i:M|N|mM)(?![A-Za-z])|molar|normal|m?mol\s*(?:/|per)\s*l(?:itre|iter)?|moles?\s+per\s+lit(?:re|er)"
_FRACTION = r"(?-i:[MN])\s?/\s?\d+"
_NAME = r"[A-Za-z(][^+;&%]*?"
_TAIL = r"(?P<tail>(?:\s+(?:in|into|per|to|for)\s+.*)?)"
_LEADING = regex(
    rf"^(?:(?P<count>{_NUMBER})\s*(?P<unit>{_PERCENT}|{_MOLES})|(?P<part>{_FRACTION}))\s*(?:(?:solution|of)\s+)*(?P<what>{_NAME}){_TAIL}$",
    re.I,
)
_TRAILING = regex(
    rf"^(?P<what>{_NAME})[\s,]+\(?(?:(?P<count>{_NUMBER})\s*(?P<unit>{_MOLES})|(?P<part>{_FRACTION}))\)?{_TAIL}$", re.I
)
_MEASURED = r"\d+(?:[.,]\d+)?\s*(?:m?l|cc|c?l|g|fl\.?\s?oz|drops?|parts?)\b"
# "40 mL/L", "40 mL per litre", "5 mL per 100 mL": what stands behind an amount and belongs to it.
PER = r"(?:\s*(?:/|\bper\b)\s*(?:\d+(?:[.,]\d+)?\s*)?(?:m?l|lit(?:re|er)s?)(?![a-z]))?"
# "9 % peroxide 200 mL", "vinegar 5 % 50 mL/L", "lye 10N: 20 mL": the strength is the bottle's.
_BOTTLE = regex(
    rf"^(?:(?P<first>\d+(?:[.,]\d+)?\s?%)\s+(?P<what>{_NAME})|(?P<name>{_NAME})\s+\(?(?P<second>\d+(?:[.,]\d+)?\s?(?:%|vol(?:ume)?s?\b|(?-i:[MN])\b))\)?)[\s,:]+(?P<amount>{_MEASURED}{PER})(?P<tail>.*)$",
    re.I,
)
_VOLUME = r"\d+(?:[.,]\d+)?\s*(?:m?l|cc|lit(?:re|er)s?)"
_JOINTS = regex(r"(\s*[+;&]\s*|\s*,\s+|\s+(?:and|with|plus)\s+)", re.I)
# Where proportions are said, a strength is that of what is poured.
_PROPORTIONS = regex(r"\d\s*[+:]\s*\d|\bparts?\b|\bundiluted\b|\bneat\b|\bhalf and half\b", re.I)


def strengths_of_the_bath(text: str) -> tuple[str, tuple[str, ...]]:
    """A mix with every strength that stands for an amount put as g in a litre.

    Parameters
    ----------
    text : str
        As it was typed, its spaces single.

    Returns
    -------
    tuple of (str, tuple of str)
        The mix, and how each was read.
    """
    if _PROPORTIONS.search(text):
        return text, ()
    pieces = _JOINTS.split(text)
    alone = len(pieces) == 1
    told: list[str] = []
    place = 0
    for place in range(0, len(pieces), 2):
        piece = pieces[place]
        if bottle := _BOTTLE.match(piece):
            strength = bottle["first"] or bottle["second"]
            pieces[place] = f"{bottle['amount']} {strength} {bottle['what'] or bottle['name']}{bottle['tail']}"
            continue
        found = _LEADING.match(piece) or _TRAILING.match(piece)
        read = None if found is None else _in_grams(found, alone)
        if found is not None and read is not None:
            pieces[place] = f"{read} {found['tail']}".rstrip()
            told.append(f"{piece[: len(piece) - len(found['tail'])].strip()} is read as {read}")
    if told and place and re.fullmatch(_VOLUME, pieces[-1].strip(), re.I):
        # "20 % sulfite, 300 mL": what comes last is the bath.
        pieces[-2:] = [", water to ", pieces[-1].strip()]
    return "".join(pieces), tuple(told)


def _in_grams(found: re.Match[str], alone: bool) -> str | None:
    """ "3.161 g/L pure potassium permanganate"; None where the substance is none of the list, or a bottle is meant."""
    called = found["what"].strip(" ,")
    # "Permanganate", "ferricyanide": as shops sell them, the potassium salt before the sodium one.
    ways = (called, f"{called} acid", f"potassium {called}", f"sodium {called}")
    keys = (substance_of(way) for way in ways)
    key = next((one for one in keys if one != OTHER), OTHER)
    if key in (OTHER, "water") or re.search(r"\d\s*(?:m?l|g)\b", found["what"], re.I):
        return None
    known = substances()[key]
    if found["part"]:
        letter, _, parts = found["part"].replace(" ", "").partition("/")
        if not int(parts):
            return None
        low = high = 1 / int(parts)
        unit = letter
    else:
        taken = take_number(found["count"], where="strength")
        if taken is None:
            return None
        low, high, unit = taken[0].interval.low, taken[0].interval.high, found["unit"].strip()
    if "%" in unit or "cent" in unit.lower():
        if known.phase != "solid" and alone:
            return None
        size, pure = G_PER_L_OF_PERCENT, "" if known.phase == "solid" else f"{PURE} "
    else:
        size, pure = molar_mass_g_per_mol(known.molar_mass_key), f"{PURE} "
        if unit.lower().startswith("mm"):
            size *= _MILLI
        elif unit == "N" or unit.lower() == "normal":
            counted = equivalents(key)
            if counted is None:
                return None
            size /= counted
    ends = f"{low * size:.4g}" if low == high else f"{low * size:.4g}-{high * size:.4g}"
    return f"{ends} g/L {pure}{known.name.partition(',')[0]}"


def equivalents(substance: str) -> float | None:
    """Equivalents in a mole, by which a normal strength is counted.

    Of an oxidant of silver the electrons that one mole takes up (records ``bleach.*``), of an acid the protons it gives, of
    ammonia or a caustic one.

    Parameters
    ----------
    substance : str
        Key of the substance.

    Returns
    -------
    float or None
        None where neither is known.
    """
    known = substances()[substance]
    oxidant = next((one for one in BLEACHES.values() if f"mm.{one.oxidant}" == known.molar_mass_key), None)
    if oxidant is not None:
        return float(oxidant.silver_per_mole)
    counted = {"acid_strong", "acid_weak", "hydroxide", "ammonia"} & set(known.classes)
    return known.active_per_mole if counted and known.active_per_mole > 0 else None
