"""Matter with amounts: portions as they are poured, and the pool that they become.

The pool knows its moles of each entity, its acidity by the charge balance of `obverse.chemistry.acidity`, what
acid and alkali have met, its mass and its heat.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache, cached_property, lru_cache

from obverse.chemistry import (
    HEAT_CAPACITY_KJ_PER_G_K,
    WATER_G_PER_MOL,
    charge_curve,
    dilution_heat_kj,
    molar_mass_g_per_mol,
)
from obverse.foundation import root_between
from obverse.process.catalog import substances
from obverse.safety.airborne import ROOM_C
from obverse.safety.properties import holds

# A weak solution is nearly water; what is dissolved takes about this room (record mix.solid_displacement).
_DISPLACED_ML_PER_G = 0.45
# A liquid that is dissolved takes about this (our judgement), and a portion with less water than this part of its mass is solid.
_LIQUID_ML_PER_G, _NO_WATER = 0.8, 0.05
# pH between which a bath is looked for, the strongest acid and lye that are sold; and pH of pure water.
_STRONGEST_ACID_PH, _STRONGEST_LYE_PH, _NEUTRAL_PH = -1.5, 15.0, 7.0
_NEUTRALISATION_KJ = 55.0
# Acid that a mole of carbonate takes down to pH 7, and the heat of each (H+ and carbonate to bicarbonate 15 kJ, bicarbonate to gas about
# nothing; from memory).
_ACID_OF_CARBONATE, _OF_CARBONATE_KJ = 1.2, 12.0


@dataclass(frozen=True)
class Portion:
    """Something that is brought: a liquid or a solid with its amounts.

    Parameters
    ----------
    name : str
        As the person calls it.
    moles : dict of str to float
        Of each substance, by key.
    water_ml : float
        Water it brings.
    unknown : tuple of str
        Parts whose nature or strength nobody knows: they were counted at their worst.
    at_once : bool
        False for what is added little by little, stirring.
    bottled : bool
        It stands open in the bottle that it is sold in: only the neck lets vapour out.
    """

    name: str
    moles: dict[str, float] = field(default_factory=dict)
    water_ml: float = 0.0
    unknown: tuple[str, ...] = ()
    at_once: bool = True
    bottled: bool = False

    @cached_property
    def grams(self) -> float:
        """All of it, with its water."""
        return self.water_ml + math.fsum(n * _mass(key) for key, n in self.moles.items())

    @cached_property
    def solid(self) -> bool:
        """No water to speak of, and chiefly of solids."""
        return self.water_ml < _NO_WATER * self.grams and all(substances()[k].phase == "solid" for k in self.moles)

    @cached_property
    def volume_ml(self) -> float:
        """About what it fills."""
        return self.water_ml + math.fsum(
            n * _mass(key) * (_DISPLACED_ML_PER_G if substances()[key].phase == "solid" else _LIQUID_ML_PER_G)
            for key, n in self.moles.items()
        )

    def times(self, share: float) -> Portion:
        """A share of it."""
        return Portion(
            self.name,
            {k: n * share for k, n in self.moles.items()},
            self.water_ml * share,
            self.unknown,
            self.at_once,
            self.bottled,
        )

    def share_of(self, key: str) -> float:
        """Mass fraction of a substance in it."""
        return self.moles.get(key, 0.0) * _mass(key) / self.grams if self.grams else 0.0

    def substance_with(self, class_: str) -> bool:
        """Whether a substance of that class is in it."""
        return any(class_ in substances()[key].classes for key in self.moles)

    def has(self, entity: str) -> float:
        """Moles of an entity in it."""
        return math.fsum(n * holds().get(key, {}).get(entity, 0.0) for key, n in self.moles.items())


def liquid(
    name: str,
    grams_per_l: dict[str, float],
    volume_ml: float,
    *,
    density_g_per_ml: float | None = None,
    unknown: tuple[str, ...] = (),
    at_once: bool = True,
) -> Portion:
    """A solution of these strengths; its water is what the rest leaves room for."""
    litres = volume_ml / 1000
    moles = {key: g * litres / _mass(key) for key, g in grams_per_l.items() if g > 0}
    dissolved = math.fsum(grams_per_l.values())
    weight_g_per_l = 1000 * density_g_per_ml if density_g_per_ml else None
    if weight_g_per_l is None:
        bulk = math.fsum(
            g * (_DISPLACED_ML_PER_G if substances()[k].phase == "solid" else _LIQUID_ML_PER_G)
            for k, g in grams_per_l.items()
        )
        water = max(0.0, 1000 - bulk)
    else:
        water = max(0.0, weight_g_per_l - dissolved)
    return Portion(name, moles, water * litres, unknown, at_once)


def powder(name: str, grams: dict[str, float], *, unknown: tuple[str, ...] = (), at_once: bool = True) -> Portion:
    """A solid of these grams of each substance."""
    return Portion(name, {key: g / _mass(key) for key, g in grams.items() if g > 0}, 0.0, unknown, at_once)


@cache
def _mass(key: str) -> float:
    return molar_mass_g_per_mol(substances()[key].molar_mass_key)


@dataclass
class Pool:
    """What portions become together; the reactions use up what is `left` and leave their products in its ions and buffers."""

    portions: tuple[Portion, ...]
    temperature_c: float = ROOM_C
    left: dict[str, float] = field(default_factory=dict)
    ions: dict[str, float] = field(default_factory=dict)
    buffers: dict[str, float] = field(default_factory=dict)
    heat_kj: float = 0.0
    known_ph: float | None = None

    def __post_init__(self) -> None:
        for portion in self.portions:
            for key, n in portion.moles.items():
                for entity, per in holds().get(key, {}).items():
                    self.left[entity] = self.left.get(entity, 0.0) + n * per
                for ion, per in substances()[key].ions.items():
                    self.ions[ion] = self.ions.get(ion, 0.0) + n * per
                for name, per in substances()[key].buffers.items():
                    self.buffers[name] = self.buffers.get(name, 0.0) + n * per

    def has(self, entity: str) -> float:
        """Moles of an entity that no reaction has taken yet."""
        return self.left.get(entity, 0.0)

    def take(self, entity: str, moles: float) -> None:
        """Use some up."""
        self.left[entity] = max(0.0, self.has(entity) - moles)

    def turn(self, moles: float, lost: dict[str, float], made: dict[str, float]) -> None:
        """Change ions and buffers per mole of a reaction; acid then follows from the charges."""
        self.known_ph = None
        for change, sign in ((lost, -1.0), (made, 1.0)):
            for name, per in change.items():
                where = self.ions if name.endswith(("+", "-")) else self.buffers
                where[name] = max(0.0, where.get(name, 0.0) + sign * per * moles)

    def substance(self, *keys: str) -> float:
        """Moles of substances."""
        brought = self._brought
        return brought.get(keys[0], 0.0) if len(keys) == 1 else math.fsum(brought.get(key, 0.0) for key in keys)

    @cached_property
    def _brought(self) -> dict[str, float]:
        brought: dict[str, float] = {}
        for portion in self.portions:
            for key, n in portion.moles.items():
                brought[key] = brought.get(key, 0.0) + n
        return brought

    @cached_property
    def volume_l(self) -> float:
        """About what all of it fills; never quite zero."""
        return max(1e-4, math.fsum(p.volume_ml for p in self.portions) / 1000)

    @cached_property
    def water_l(self) -> float:
        """Its water."""
        return math.fsum(p.water_ml for p in self.portions) / 1000

    @cached_property
    def grams(self) -> float:
        """Its mass."""
        return math.fsum(p.grams for p in self.portions)

    @cached_property
    def wet(self) -> bool:
        """Whether there is enough liquid for what is dissolved to meet."""
        return any(not p.solid for p in self.portions) and self.volume_l > 1e-3

    @property
    def ph(self) -> float:
        """pH by charge balance, cut to -1.5 to 15 where the solution is stronger than the model."""
        if self.known_ph is None:
            self.known_ph = _ph(tuple(self.ions.items()), tuple(self.buffers.items()), self.volume_l)
        return self.known_ph

    @property
    def protons_mol_per_l(self) -> float:
        """Hydrogen ions."""
        return float(10**-self.ph)

    def acid_above(self, ph: float) -> float:
        """Moles of acid that stand free above a pH: what alkali it would take to come up to it; negative for alkali."""
        return -_charge(self.ions, self.buffers, self.volume_l)(ph) * self.volume_l

    @property
    def rise_k(self) -> float:
        """Temperature rise if all the heat stays in it."""
        return self.heat_kj / (HEAT_CAPACITY_KJ_PER_G_K * max(1.0, self.grams))

    def share_of(self, *keys: str) -> float:
        """Mass fraction of substances in the whole."""
        return (
            math.fsum(self._brought[key] * _mass(key) for key in keys if key in self._brought) / self.grams
            if self.grams
            else 0.0
        )


# Iron(III) gives its third proton where its hydroxide falls out; the bench's own buffer stops at the second. Tin(II)
# gives both of its own (from memory).
_IRON_FALLS_AT_PH, _TIN_FALLS_AT_PH = 4.0, 2.0


def _charge(ions: dict[str, float], buffers: dict[str, float], volume_l: float) -> Callable[[float], float]:
    rest = charge_curve({k: n / volume_l for k, n in ions.items()}, {k: n / volume_l for k, n in buffers.items()})
    iron, tin = buffers.get("iron_iii", 0.0), 2 * ions.get("Sn 2+", 0.0)
    if not iron and not tin:
        return rest

    def balance(ph: float) -> float:
        third = iron / (1 + 10 ** (3 * (_IRON_FALLS_AT_PH - ph)))
        both = tin / (1 + 10 ** (2 * (_TIN_FALLS_AT_PH - ph)))
        return rest(ph) - (third + both) / volume_l

    return balance


@lru_cache(maxsize=4096)
def _ph(ions: tuple[tuple[str, float], ...], buffers: tuple[tuple[str, float], ...], volume_l: float) -> float:
    balance = _charge(dict(ions), dict(buffers), volume_l)
    if balance(_STRONGEST_ACID_PH) < 0:
        return _STRONGEST_ACID_PH
    if balance(_STRONGEST_LYE_PH) > 0:
        return _STRONGEST_LYE_PH
    return root_between(balance, _STRONGEST_ACID_PH, _STRONGEST_LYE_PH, within=1e-6)


def acid_in(portion: Portion, ph: float) -> float:
    """Moles of acid that a portion holds above a pH; negative for alkali."""
    return Pool((portion,)).acid_above(ph)


def heat_of_meeting_kj(portions: tuple[Portion, ...]) -> float:
    """Heat of dissolving, diluting and neutralising when the portions come together."""
    total = 0.0
    acid = alkali = 0.0
    water_mol = math.fsum(p.water_ml for p in portions) / WATER_G_PER_MOL
    whole: dict[str, float] = {}
    for p in portions:
        for key, n in p.moles.items():
            whole[key] = whole.get(key, 0.0) + n
    soda = 0.0
    for p in portions:
        free = acid_in(p, _NEUTRAL_PH)
        acid, alkali = acid + max(0.0, free), alkali + max(0.0, -free)
        soda += min(max(0.0, -free), _ACID_OF_CARBONATE * p.has("carbonate"))
        for key, n in p.moles.items():
            shared = water_mol * n / whole[key]
            total += dilution_heat_kj(key, n, p.water_ml / WATER_G_PER_MOL, shared)
    # Of what is alkaline the lye is taken first; carbonate spends its heat on gas.
    lye = min(acid, alkali - soda)
    return total + _NEUTRALISATION_KJ * lye + _OF_CARBONATE_KJ * (min(acid, alkali) - lye)
