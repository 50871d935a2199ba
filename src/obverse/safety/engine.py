"""The engine: what can happen to matter with amounts in a place, derived from what it is.

`assess` is what the checker, the bench, the plan, the jugs and an import ask. No effect means that no rule
found one, and proves nothing.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import replace

from obverse.safety.body import Portion, acid_in, liquid
from obverse.safety.reactions import happen, vapours_apart
from obverse.safety.setting import HURTS, KILLS, Effect, Setting, setting_for

# Severities from which something is told of, and refused.
TOLD = 2
REFUSED = KILLS
# mL that something unknown is tried with at the least.
_LEAST_TRIED_ML = 20.0


def assess(portions: Sequence[Portion], setting: Setting) -> tuple[Effect, ...]:
    """Everything worth telling, worst first; each mechanism once.

    Parameters
    ----------
    portions : sequence of Portion
        In the order they come; the first is there already.
    setting : Setting

    Returns
    -------
    tuple of Effect
        Severity 4 is refused, 3 and 2 are cautions. Open vessels in one room are not mixed.
    """
    parts = tuple(p for p in portions if p.moles or p.water_ml)
    if not setting.hours:
        setting = replace(setting, hours=_CAPPED_H if setting.closed else _DAMP_H if setting.place == "damp" else 0.0)
    if setting.place == "drain" and parts and not any(p.water_ml for p in parts):
        # Every trap holds water.
        parts = (Portion("water", {}, _TRAP_ML), *parts)
    if setting.place == "drain":
        parts = _flushed(parts)
    found: list[Effect] = [_LAMP] if setting.ultraviolet else []
    if setting.place == "room":
        for portion in parts:
            found += vapours_apart(portion, setting)
        found += _within_reach(parts, setting)
    elif parts:
        found += happen(parts, setting)
        if setting.place in _WETTED_IN and len(parts) > 1 and all(part.solid for part in parts):
            found += _wetted(parts, setting, found)
        if setting.place == "shelf" and len(parts) > 1:
            found = [
                e
                for e in found
                if not _only_smells(e, parts) and (_acid_frees(e, parts) or not _of_one_bottle(e, parts, setting))
            ]
    found += _what_nobody_knows(parts, setting)
    return worst_first(found)


# Hours that what is capped, and what lies in the damp, is taken to stand where nobody says it (our judgement).
_CAPPED_H, _DAMP_H = 48.0, 24.0
# Where powders lie together in one vessel, and the glass of water that wets them (our judgement).
_WETTED_IN, _GLASS_ML = ("mixing", "jug", "standing"), 200.0
# Photokeratitis and burnt skin from minutes of 254 nm at arm's length (photobiology limits of 3 mJ/cm2 a day, from memory).
_LAMP = Effect(
    "germicidal_lamp",
    HURTS,
    "a bare germicidal (UV-C) lamp burns eyes and skin, felt only hours later",
    "minutes at arm's length are enough",
    "Never in its light: only in a closed box, or in an empty room with the switch outside.",
)
# Water that has taken along what ran down before it, as the tap does in a minute, mL, and what stays of it in the trap (our judgement).
_FLUSHES_ML, _STAYS = 5000.0, 0.001
# What a trap under a sink holds, mL; a splash from one open vessel into the next, or what a wet hand, tongs or a film carries, mL (our judgement).
_TRAP_ML, _SPLASH_ML = 300.0, 50.0


def _flushed(parts: tuple[Portion, ...]) -> tuple[Portion, ...]:
    """What is in the trap where much water ran down between one thing and the next."""
    last = max((n for n, p in enumerate(parts[:-1]) if n and not p.moles and p.water_ml >= _FLUSHES_ML), default=None)
    if last is None:
        return parts
    return (*(p.times(_STAYS) for p in parts[:last] if p.moles), *parts[last + 1 :])


def _wetted(parts: tuple[Portion, ...], setting: Setting, dry: Sequence[Effect]) -> list[Effect]:
    """What powders that lie in one vessel do together once they are wetted, which comes sooner or later."""
    water = Portion("water", {}, _GLASS_ML)
    known = {effect.mechanism for effect in dry}
    known |= {effect.mechanism for part in parts for effect in happen((part, water), setting)}
    return [
        replace(effect, severity=min(HURTS, effect.severity), what=f"{effect.what}, once it is wetted")
        for effect in happen((*parts, water), setting)
        # Froth comes as slowly as the damp or the splash that wets them.
        if effect.mechanism not in known and effect.mechanism != "foam"
    ]


def _within_reach(parts: Sequence[Portion], setting: Setting) -> list[Effect]:
    """Open vessels side by side of which a splash of one into the other could kill or injure lungs: told once, the worst."""
    mixing = replace(setting_for("mixing", setting.room), asthma=setting.asthma)
    worst: list[Effect] = []
    for one, other in itertools.combinations(parts, 2):
        splash = [p.times(min(1.0, _SPLASH_ML / max(1.0, p.grams))) for p in (one, other)]
        alone = {effect.mechanism for part in splash for effect in happen((part,), mixing)}
        worst += [e for e in happen(tuple(splash), mixing) if _grave_splash(e) and e.mechanism not in alone]
    return [
        replace(effect, severity=TOLD, what=f"open within reach of each other, and a splash of one in the other is enough for {effect.what}",
                do="Lids on, or one of them in another room.")
        for effect in worst_first(worst)[:1]
    ]  # fmt: skip


# Gases of cleaners that injure lungs from a splash on.
_OF_CLEANERS = ("chlorine", "chloramine")


def _grave_splash(effect: Effect) -> bool:
    return effect.severity >= REFUSED or (effect.severity >= HURTS and effect.gas in _OF_CLEANERS)


OWN_VAPOURS = ("ammonia", "acid_fumes", "formaldehyde", "solvent_vapour", "acid_sulfide")


# Acid is what stands below this, and so much of it is more than the trace that an ammonium salt gives (our judgement).
_NEUTRAL_PH, _SOUR_MOL = 7.0, 0.01
# What stands below this is no stop bath.
_STOP_BATH_PH = 0.5
# Gases that a broken bottle lets one smell before they harm.
_SMELLS = ("ammonia", "acid_sulfite", "carbonate", "heat")


# Classes of what is an acid and nothing else.
ACIDS = frozenset(("acid_strong", "acid_weak", "organic_acid"))
# Acids that fume, or boil water, from this share by mass on (as the vapours of acids have it; our judgement).
_FUMING, _FUMES = ("hydrochloric_acid", "nitric_acid", "sulfuric_acid"), 0.15
# What boils and spits where it runs into another bottle, from the same share on, and from half on.
_SPITS = (*_FUMING, "sodium_hydroxide", "potassium_hydroxide", "calcium_oxide")
_SPITS_STRONG, _NEARLY_PURE = ("acetic_acid", "formic_acid", "phosphoric_acid"), 0.5
# What a jug of an acid bleach smells of where it runs onto salt.
_SMELLS_OF_BLEACH = ("permanganate_chloride", "dichromate_chloride", "oxidised_bromide")
_STRONG_OXIDISERS = ("permanganate", "hypochlorite", "chlorate", "perchlorate", "dichromate", "nitrate")


def _strong_oxidiser(part: Portion) -> bool:
    return part.solid and any(map(part.has, _STRONG_OXIDISERS))


def _only_smells(effect: Effect, parts: Sequence[Portion]) -> bool:
    """Whether two broken bottles only smell: no reason to keep them apart.

    A weak acid brings fixer to smell for hours; stop bath and fixer stand side by side in every darkroom.
    """
    if effect.mechanism == "acid_sulfite" and effect.severity >= HURTS:
        # Essence of vinegar on hypo falls apart for hours and keeps most of its gas; sulfite gives it at once.
        only_hypo = not any(part.has("sulfite") or part.has("dithionite") for part in parts)
        # An etchant is sour by its iron, and a bath is thin.
        weak = (
            acid_in(part, _STOP_BATH_PH) <= 0
            or (only_hypo and part.has("organic_acid"))
            or not any(map(part.substance_with, ACIDS))
            for part in parts
        )
        return (effect.severity == HURTS or only_hypo) and all(weak)
    if effect.mechanism == "heat" and any(
        part.substance_with("acid_strong") and max(map(part.share_of, _FUMING)) >= _FUMES for part in parts
    ):
        # Fuming acid and ammonia smoke at each other through their caps as well.
        return False
    if effect.mechanism == "ammonia" and not any(part.moles.get("ammonia") or part.has("hydroxide") for part in parts):
        # Soda frees ammonia from a salt or fixer only by and by.
        return effect.severity <= HURTS
    if effect.mechanism in _SMELLS_OF_BLEACH:
        # A jug of bleach beside salt.
        return effect.severity <= HURTS
    if effect.mechanism == "heat":
        # Nobody holds what runs warm on a shelf; strong acid, lye and strong oxidisers boil and spit.
        boils = any(max(map(part.share_of, _SPITS)) >= _FUMES for part in parts)
        boils = boils or any(max(map(part.share_of, _SPITS_STRONG)) >= _NEARLY_PURE for part in parts)
        return effect.severity <= TOLD or not (boils or any(map(_strong_oxidiser, parts)))
    if effect.mechanism == "foam":
        # Soda is what one sweeps on the spill of a salt that is sour, such as an etchant, and chalk on that of thin acid; a bottle of acid on soda sprays.
        chalk = all(part.has("carbonate") == part.moles.get("calcium_carbonate", 0.0) for part in parts)
        thin = all(max(map(part.share_of, _FUMING)) < _FUMES for part in parts)
        return (chalk and thin) or not any(part.substance_with(kind) for part in parts for kind in ACIDS)
    return effect.mechanism in _SMELLS and effect.severity <= TOLD


def _acid_frees(effect: Effect, parts: Sequence[Portion]) -> bool:
    """What kills, but for the gas of a sulfide beside which no acid stands: it gives that off by itself."""
    sour = effect.mechanism != "acid_sulfide" or any(acid_in(part, _NEUTRAL_PH) > _SOUR_MOL for part in parts)
    return effect.severity > HURTS and sour


def _of_one_bottle(effect: Effect, parts: Sequence[Portion], setting: Setting) -> bool:
    """Whether a bottle that breaks smells so by itself: no reason to keep two apart."""
    if effect.mechanism not in OWN_VAPOURS:
        return False
    alone = (one for part in parts for one in happen((part,), setting))
    return any(one.mechanism == effect.mechanism and one.severity >= effect.severity - 1 for one in alone)


# What a part that nobody knows may be at its worst, one at a time.
_WORST = ({"sulfuric_acid": 100.0}, {"sodium_hypochlorite": 54.0}, {"ammonia": 50.0})


def _what_nobody_knows(parts: tuple[Portion, ...], setting: Setting) -> list[Effect]:
    """A part of unknown nature counts as the worst of acid, hypochlorite and ammonia; more than a caution it never makes."""
    dry_shelf = setting.place == "shelf" and all(part.solid for part in parts)
    if not any(part.unknown for part in parts) or len(parts) < 2 or setting.place == "room" or dry_shelf:
        return []
    worst = 0
    for guess in _WORST:
        tried = [
            liquid(part.name, guess, max(_LEAST_TRIED_ML, part.volume_ml)) if part.unknown else part for part in parts
        ]
        worst = max(worst, severity_of(happen(tuple(tried), setting)))
    names = ", ".join(dict.fromkeys(name for part in parts for name in part.unknown))
    if worst < HURTS:
        return []
    return [
        Effect(
            "unknown_part",
            2,
            f"nobody knows what {names} holds",
            "counted as acid, hypochlorite or ammonia it would be dangerous here",
            "Read its label and safety data sheet before they meet.",
            parts=tuple(part.name for part in parts),
        )
    ]


def worst_first(found: Iterable[Effect]) -> tuple[Effect, ...]:
    """Each mechanism at its loudest, the worst at the head."""
    best: dict[tuple[str, str], Effect] = {}
    for effect in found:
        key = (effect.mechanism, effect.gas)
        if key not in best or (effect.severity, effect.ppm or 0) > (best[key].severity, best[key].ppm or 0):
            best[key] = effect
    return tuple(sorted(best.values(), key=lambda e: (-e.severity, -(e.ppm or 0.0), e.mechanism)))


def severity_of(effects: Iterable[Effect]) -> int:
    """The worst, 0 for none."""
    return max((effect.severity for effect in effects), default=0)
