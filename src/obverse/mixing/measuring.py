"""Rounding an amount to the tool in hand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from obverse.foundation import InputError
from obverse.process import Tool, told_amount
from obverse.reference import number

VOLUME_KINDS = ("syringe", "pipette", "cylinder", "jug")
# A tool is precise enough when rounding and reading together stay within this fraction.
ENOUGH = 0.01
MOST_FILLS = 4


@dataclass(frozen=True, slots=True)
class Measured:
    """An amount as the hand will measure it.

    Parameters
    ----------
    amount : float
        mL or g, a whole number of the tool's graduations.
    reading_sd : float
        Standard uncertainty of measuring it, same unit.
    fills : int
        How many times the tool is filled.
    words : str
        Such as ``"2 level spoons of 5 mL"``.
    """

    amount: float
    reading_sd: float
    fills: int
    tool: Tool
    words: str


def measure(amount: float, form: str, tools: Sequence[Tool], *, where: str = "") -> Measured:
    """Choose the tool and round the amount to it.

    The choice is the tool that needs the fewest fills among those precise enough; if none is, the
    most precise.

    Parameters
    ----------
    amount : float
        mL of a liquid or g of a solid; more than zero.
    form : str
        ``"liquid"`` or ``"solid"``.

    Raises
    ------
    InputError
        If no tool can measure it: none of its kind at hand, or the amount is below half a
        graduation of the finest.
    """
    unit = "mL" if form == "liquid" else "g"
    options = [_with(tool, amount, form) for tool in tools if _fits(tool, form)]
    if not options:
        raise InputError(
            f"no tool at hand measures {unit}",
            where=where,
            remedy="add a syringe or cylinder to the shelf"
            if form == "liquid"
            else "add a balance or a spoon to the shelf",
        )
    usable = [m for m in options if m.amount > 0]
    if not usable:
        finest = min(options, key=lambda m: m.tool.graduation)
        raise InputError(
            f"{amount:.3g} {unit} is less than the {finest.tool.name} can measure",
            where=where,
            remedy="use a finer tool, mix a larger volume, or make a 1+9 dilution of it first and take ten times the volume",
        )
    few = [m for m in usable if m.fills <= MOST_FILLS] or [min(usable, key=lambda m: m.fills)]
    good = [m for m in few if _error(m, amount) <= ENOUGH * amount]
    if good:
        return min(good, key=lambda m: (m.fills, _error(m, amount)))
    return min(few, key=lambda m: (_error(m, amount), m.fills))


def _fits(tool: Tool, form: str) -> bool:
    return tool.kind in VOLUME_KINDS if form == "liquid" else tool.kind in ("balance", "spoon")


def _with(tool: Tool, amount: float, form: str) -> Measured:
    if tool.kind == "spoon":
        return _spoon(tool, amount)
    steps = math.floor(amount / tool.graduation + 0.5)
    rounded = round(steps * tool.graduation, 9)
    fills = max(1, math.ceil(rounded / tool.capacity - 1e-9))
    sd = tool.graduation / math.sqrt(12) * math.sqrt(fills)
    unit = "mL" if form == "liquid" else "g"
    told = (
        told_amount(rounded, tool.unit, kind="volume" if form == "liquid" else "mass")
        if tool.unit
        else f"{rounded:g} {unit}"
    )
    words = told + (f" in {fills} fills" if fills > 1 else "")
    return Measured(rounded, sd, fills, tool, f"{words}, {tool.name}")


def _spoon(tool: Tool, grams: float) -> Measured:
    """A level spoon holds a volume; the powder's bulk density, poorly known, makes it grams."""
    bulk, doubt = number("spoon.bulk_density"), number("spoon.bulk_density_relative_sd")
    steps = math.floor(grams / bulk / tool.graduation + 0.5)
    volume = steps * tool.graduation
    rounded = round(volume * bulk, 9)
    fills = max(1, math.ceil(volume / tool.capacity - 1e-9))
    count = volume / tool.capacity
    words = f"{count:g} level {tool.name}" if count <= 1 else f"{count:g} level measures of {tool.name}"
    return Measured(rounded, doubt * rounded, fills, tool, f"{words}, about {rounded:.3g} g")


def _error(measured: Measured, amount: float) -> float:
    return abs(measured.amount - amount) + measured.reading_sd
