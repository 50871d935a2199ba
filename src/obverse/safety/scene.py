"""One meeting under way: the pool, where it is, and what the rules have found so far."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace

from obverse.foundation import regex
from obverse.safety.body import Pool, Portion
from obverse.safety.properties import gases, holds
from obverse.safety.redox import Met
from obverse.safety.release import STINGS, gas_severity, leaving_share, room_ppm
from obverse.safety.setting import HURTS, TELLS, Effect, Setting, setting_for

# A gas that kills below this share of the air is poison even where it only waits under a cap: up to ammonia (our judgement).
_POISON_PPM = 2000
# Severity from which it is told there, as `Effect` counts.
_HARMS = HURTS
# A whiff that is gone before a quarter of an hour is over, which is what the short-term limits are the mean of; what is added in portions
# comes in so many whiffs (our judgement).
_PUFF_MOL, _PUFFS = 5e-4, 10
# Gases that burn, and from how much on they are told of while somebody stands there (our judgement).
_BURNING_GASES, BURNS_MOL = ("hydrogen", "acetylene"), 0.1
# Share from which what left is replaced no more often: what boils or is driven out at once, and what goes by itself for hours (our judgement).
_REPLACED_UP_TO, _REPLACED_IN_HOURS = 0.99, 1 - 1e-9
# So warm a pool drives its gases out. A concentration that rounds to ten and more is told without decimals.
_HOT_C, _WHOLE_PPM, _MINUTES_PER_H = 85, 9.5, 60.0


class Scene:
    """One meeting under way: the pool, where it is, and what was found."""

    def __init__(self, portions: tuple[Portion, ...], setting: Setting) -> None:
        self.portions = portions
        self.setting = setting
        self.pool = Pool(portions, setting.temperature_c)
        self.first = Pool(portions, setting.temperature_c)
        self.met: list[Met] = []
        self.found: list[Effect] = []
        self.gas_mol: dict[str, float] = {}

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(p.name for p in self.portions))

    @property
    def hot(self) -> bool:
        return self.setting.temperature_c + self.pool.rise_k >= _HOT_C

    def say(self, mechanism: str, severity: int, what: str, amount: str, do: str, **more: object) -> None:
        if severity >= 2:
            self.found.append(
                Effect(mechanism, severity, what, amount, do, parts=self.names, **more)  # type: ignore[arg-type]
            )

    @contextmanager
    def as_it_stands(self, most_h: float = math.inf) -> Iterator[None]:
        """What comes by and by while it stands open, up to `most_h`: the air of the room carries it off as slowly."""
        was = self.setting
        if not was.closed and was.hours:
            self.setting = replace(was, breathing_min=_MINUTES_PER_H * min(most_h, was.hours))
        yield
        self.setting = was

    def gas(
        self,
        mechanism: str,
        gas: str,
        moles: float,
        why: str,
        do: str,
        *,
        all_of_it: bool = False,
        besides_mol: float = 0.0,
        follows_mol: float = 0.0,
        told_from: float = BURNS_MOL,
    ) -> None:
        """A gas is made: reckon what leaves and what the room then holds.

        `besides_mol` has left where acid dropped in; `follows_mol` is set free by a buffer as fast as the gas leaves; a gas that burns is told of from `told_from` moles, however large the room.
        """
        if moles <= 1e-9:
            return
        self.gas_mol[gas] = self.gas_mol.get(gas, 0.0) + moles
        if self.setting.closed and (len(self.portions) < 2 or gases()[gas].lethal_ppm > _POISON_PPM):
            return
        # What bursts or is opened lies open as what is mixed does.
        lies = setting_for("mixing", self.setting.room) if self.setting.closed else self.setting
        share = 1.0
        if not all_of_it:
            warm_c = self.setting.temperature_c + self.pool.rise_k
            share = leaving_share(gas, moles, self.pool.volume_l, lies, hot=self.hot, temperature_c=warm_c)
        whole = moles + follows_mol
        # Replaced as it leaves; what boils out at once is not replaced for ever.
        most = _REPLACED_UP_TO if self.hot or all_of_it else _REPLACED_IN_HOURS
        left = max(moles * share, whole * (1 - (1 - min(share, most)) ** (moles / whole)))
        ppm = room_ppm(min(whole, left + besides_mol), lies)
        severity = gas_severity(gas, ppm, lies)
        slowly = gas in STINGS and not all(p.at_once for p in self.portions)
        if severity == TELLS and moles < _PUFF_MOL * (_PUFFS if slowly else 1) and not (lies.asthma or all_of_it):
            severity = TELLS - 1
        if self.setting.closed:
            # It waits under the cap: told from what harms, because what only smells stays in.
            severity = severity if severity >= _HARMS else 0
            why = f"{why}; it comes out when the vessel is opened or bursts"
        limits = gases()[gas]
        if gas in _BURNING_GASES and severity < TELLS and moles >= told_from:
            severity = TELLS
        self.say(
            mechanism,
            severity,
            f"{limits.name}: {why}",
            f"up to {amount_of(moles)} of it; about {ppm_words(ppm)} in {self.setting.room.volume_m3:g} m3 (published limits: {limits.limits})",
            do,
            gas=gas,
            ppm=ppm,
        )


def amount_of(moles: float) -> str:
    """Moles in words."""
    if moles >= 10:
        return f"{moles:.0f} mol"
    return f"{moles:.2g} mol" if moles >= 0.01 else f"{1000 * moles:.2g} mmol"


def ppm_words(ppm: float) -> str:
    """A concentration in words."""
    if ppm >= 10_000:
        return f"{ppm / 10_000:.2g} %"
    return f"{ppm:.0f} ppm" if ppm >= _WHOLE_PPM else f"{ppm:.1g} ppm"


# Metals that burn as powder, and words of a name that say powder.
_BURNING_METALS, _DUST = ("zinc", "magnesium", "aluminium"), regex(r"powder|dust|turnings|filings|flake")


def metal_dust_mol(portions: Iterable[Portion], *, of_no_shape: bool = False) -> float:
    """Moles of zinc, magnesium and aluminium that come as powder, by what the portions are called.

    `of_no_shape` counts what is called by the metal alone, too: who mixes it with a salt has it as powder.
    """
    dust = [
        p
        for p in portions
        if _DUST.search(p.name.lower()) or (of_no_shape and p.name.lower().removesuffix(" metal") in _BURNING_METALS)
    ]
    return math.fsum(p.moles.get(key, 0.0) for p in dust for key in _BURNING_METALS)


def concentrated(scene: Scene, entity: str, share: float) -> float:
    """Moles of an entity in portions that chiefly hold it (mass share of its substances)."""
    total = 0.0
    if not scene.first.has(entity):
        return total
    for portion in scene.portions:
        keys = [key for key in portion.moles if holds().get(key, {}).get(entity)]
        if keys and math.fsum(portion.share_of(key) for key in keys) >= share:
            total += portion.has(entity)
    return total


def grams_words(moles: float, molar_mass: float) -> str:
    """Moles as grams in words."""
    grams = moles * molar_mass
    if grams >= 10:
        return f"{grams:.0f} g"
    return f"{grams:.2g} g" if grams >= 0.1 else f"{1000 * grams:.2g} mg"
