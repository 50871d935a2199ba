"""pH of a bath by a charge balance over named buffers.

The strong ions keep their charge; each buffer is spread over its protonation states by its
acid constants; the pH is where all charges cancel. Activity coefficients, ion pairs and
precipitates are left out, and the answer says how much that may matter.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache

from obverse.foundation import Estimate, InputError, regex, root_between
from obverse.reference import number, record, records

# Wider than any bath at hand; an acidity outside means that ions are missing from the list.
LOWEST_PH, HIGHEST_PH = -2.0, 16.0
_CHARGE = regex(r"^\S+(?: (\d+))?([+-])$")


@dataclass(frozen=True, slots=True)
class Buffer:
    """An acid-base system: its acid constants and the charge of its most protonated form."""

    name: str
    pka: tuple[float, ...]
    pka_sd: float
    charge_fully_protonated: int
    source: str


@cache
def buffers() -> dict[str, Buffer]:
    """The named buffers, from the records ``acidity.*``."""
    return {
        r.key.removeprefix("acidity."): Buffer(
            r.key.removeprefix("acidity."),
            tuple(r.value["pKa"]),
            r.sd,
            int(r.value["charge_fully_protonated"]),
            r.key,
        )
        for r in records().values()
        if r.key.startswith("acidity.") and isinstance(r.value, dict)
    }


@cache
def ion_charge(ion: str) -> int:
    """Charge of a strong ion by its name, such as ``"Na+"`` or ``"S2O3 2-"``."""
    match = _CHARGE.match(ion)
    if not match:
        raise ValueError(f"{ion!r} names no charge")
    size = int(match.group(1) or 1)
    return size if match.group(2) == "+" else -size


def mean_charge(buffer: Buffer, ph: float, shift: float = 0.0) -> float:
    """Mean charge per mole of a buffer at that pH; `shift` moves all its acid constants (for the uncertainty)."""
    logs = [0.0]
    for pka in buffer.pka:
        logs.append(logs[-1] + ph - (pka + shift))
    top = max(logs)
    lost = whole = 0.0
    for protons, log in enumerate(logs):
        weight = 10 ** (log - top)
        lost += protons * weight
        whole += weight
    return buffer.charge_fully_protonated - lost / whole


def charge_curve(
    ions: dict[str, float], buffer_mol_per_l: dict[str, float], *, shifts: dict[str, float] | None = None
) -> Callable[[float], float]:
    """Net charge of the solution over its pH, zero where the pH is the true one.

    What does not hang on the pH is reckoned once: a plan asks thousands of times.

    Parameters
    ----------
    ions : dict of float
        Strong ions, mol/L, by name with charge such as ``"Na+"`` or ``"SO4 2-"``.
    buffer_mol_per_l : dict of float
        Buffers by name, mol/L.
    shifts : dict of float, optional
        Added to the acid constants of a buffer, by its name.

    Returns
    -------
    callable
        From pH to mol/L; positive where the solution lacks negative ions.
    """
    shifts = shifts or {}
    pkw = number("acidity.water") + shifts.get("water", 0.0)
    strong = sum(ion_charge(ion) * amount for ion, amount in ions.items())
    weak = [(amount, buffers()[name], shifts.get(name, 0.0)) for name, amount in buffer_mol_per_l.items()]

    def charge(ph: float) -> float:
        total = 10.0**-ph - 10.0 ** (ph - pkw) + strong
        for amount, buffer, shift in weak:
            total += amount * mean_charge(buffer, ph, shift)
        return float(total)

    return charge


@dataclass(frozen=True, slots=True)
class Acidity:
    """pH of a bath.

    Parameters
    ----------
    buffers : tuple of str
        Those that were counted.
    """

    ph: Estimate
    buffers: tuple[str, ...]


def ph_of(ions: dict[str, float], buffer_mol_per_l: dict[str, float]) -> Acidity:
    """pH by charge balance.

    Parameters
    ----------
    ions : dict of str to float
        Strong ions in mol/L, named with their charge (``"Na+"``, ``"SO4 2-"``).
    buffer_mol_per_l : dict of str to float
        Total of each named buffer in mol/L.

    Returns
    -------
    Acidity
        The uncertainty joins that of the acid constants (each moved by its standard uncertainty)
        and the record ``acidity.model_sd`` for what the model leaves out.

    Raises
    ------
    InputError
        For an unknown buffer, a negative amount, or charges that no pH from -2 to 16 can balance.
    """
    for name, amount in (*ions.items(), *buffer_mol_per_l.items()):
        if not amount >= 0:
            raise InputError(f"{name} cannot be present at {amount:g} mol/L", where="pH", remedy="give zero or more")
    unknown = [name for name in buffer_mol_per_l if name not in buffers()]
    if unknown:
        raise InputError(
            f"no acid constants of {unknown[0]} are held here",
            where="pH",
            remedy="choose one of " + ", ".join(buffers()),
        )

    return _balanced(tuple(ions.items()), tuple(buffer_mol_per_l.items()))


@lru_cache(maxsize=4096)
def _balanced(strong: tuple[tuple[str, float], ...], weak: tuple[tuple[str, float], ...]) -> Acidity:
    ions, buffer_mol_per_l = dict(strong), dict(weak)

    def solve(shifts: dict[str, float]) -> float:
        balance = charge_curve(ions, buffer_mol_per_l, shifts=shifts)
        # The charge falls steadily with pH, so there is one root or none.
        if balance(LOWEST_PH) < 0 or balance(HIGHEST_PH) > 0:
            raise InputError(
                "its ions do not balance at any pH",
                where="pH",
                remedy="check that every substance is listed with both its ions",
            )
        return root_between(balance, LOWEST_PH, HIGHEST_PH)

    best = solve({})
    variance = number("acidity.model_sd") ** 2
    for name in (*buffer_mol_per_l, "water"):
        sd = buffers()[name].pka_sd if name != "water" else record("acidity.water").sd
        variance += ((solve({name: sd}) - solve({name: -sd})) / 2) ** 2
    return Acidity(Estimate(best, math.sqrt(variance)), tuple(buffer_mol_per_l))
