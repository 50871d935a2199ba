"""What the chemistry does to the film along a route, beside what it does to people.

Chloride against the positive's bromide, swelling by jumps of pH, iron carried into dithionite, light on silver
chloride, the wash, and toning. The limits are the records ``film.*``; most are common practice without a source.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping

from obverse.chemistry import molar_mass_g_per_mol, silver_per_roll_g
from obverse.foundation import InputError, Level, Source, Standing
from obverse.process import Formula, Process, Step
from obverse.process.catalog import substances
from obverse.reference import number, record
from obverse.safety.amounts import of_bath
from obverse.safety.body import Pool
from obverse.safety.finding import Finding

# Grams on a mole of silver.
_SILVER_G_PER_MOL = 107.868
# Full changes of water that wash as well as running water does (common practice, no source).
_WASHING_FILLS = 3
FIXERS = ("rapid", "plain", "hardening")


def bromide_that_chloride_may_convert(chloride_mol_per_l: float, volume_ml: float, silver_bromide_mol: float) -> float:
    """Share of a film's silver bromide that chloride could turn into silver chloride if time did not matter.

    AgBr + Cl- = AgCl + Br-; at equilibrium the bromide in the bath is the chloride times the ratio of the solubility
    products (records ``const.Ksp.AgBr``, ``const.Ksp.AgCl``). Diffusion and time hold it back, not equilibrium.

    Parameters
    ----------
    silver_bromide_mol : float
        In the film.
    """
    if not silver_bromide_mol > 0:
        return 0.0
    bromide_mol_per_l = chloride_mol_per_l * number("const.Ksp.AgBr") / number("const.Ksp.AgCl")
    return min(1.0, bromide_mol_per_l * volume_ml / 1000 / silver_bromide_mol)


def wash_needed_min(fixer: str, *, wash_aid: bool) -> float:
    """Minutes of running water that a film needs to keep (record ``film.wash_min``).

    Film base, acetate or polyester, takes up no fixer; fibre-based paper does and is not meant here.

    Raises
    ------
    InputError
        For a fixer that is none of `FIXERS`.
    """
    if fixer not in FIXERS:
        raise InputError(f"no wash is known after {fixer!r}", where="wash", remedy="use one of " + ", ".join(FIXERS))
    return float(record("film.wash_min").value[f"{fixer}_with_wash_aid" if wash_aid else fixer])


def film_findings(
    route: Process, formulas: Mapping[str, Formula], *, tank_ml: float, retained_ml: float
) -> tuple[Finding, ...]:
    """What is to be told for the film's sake; severity 2, never refused."""
    baths = [(step, formula) for step in route.steps if (formula := formulas.get(step.formula or "")) is not None]
    return (
        *_conversion(baths, tank_ml),
        *_swelling(route, baths, tank_ml),
        *_iron_into_dithionite(route, formulas, tank_ml, retained_ml),
        *_light_on_chloride(route, formulas),
        *_wash(route, formulas),
        *_toning(baths, tank_ml),
    )


def _say(name: str, step: Step, bath: str, text: str, advice: str, key: str, level: Level = Level.CAUTION) -> Finding:
    source = record(key).source if key else Source("charge balance and stoichiometry", Standing.COMPUTED, True)
    return Finding(
        pair=f"film.{name}",
        severity=2,
        context="mixing",
        level=level,
        refused=False,
        a=bath,
        b="the film",
        a_from=bath,
        b_from="the film",
        product=text,
        text=text,
        advice=advice,
        source=source,
        where=step.key,
    )


def _conversion(baths: list[tuple[Step, Formula]], tank_ml: float) -> list[Finding]:
    found = []
    for step, formula in baths:
        bath = of_bath(formula, tank_ml)
        chloride = bath.has("chloride") / (tank_ml / 1000)
        longest = number("film.chloride_most_min")
        if step.kind != "bleach" or chloride < 0.1 or step.time_min <= longest:
            continue
        # Half of the coated silver is the positive's halide, as the other half was the negative.
        positive_mol = silver_per_roll_g().likely / 2 / _SILVER_G_PER_MOL
        share = bromide_that_chloride_may_convert(chloride, tank_ml, positive_mol)
        found.append(
            _say(
                "conversion",
                step,
                formula.name,
                f"{step.time_min:g} min in {chloride:.1g} mol/L of chloride: it slowly turns the positive's bromide into chloride "
                f"(by equilibrium up to {100 * share:.0f} % of it), which the next solvent dissolves: thin blacks.",
                f"Bleach no longer than the silver needs, {longest:g} min at most; a stronger bath rather than a longer one.",
                "film.chloride_most_min",
            )
        )
    return found


def _swelling(route: Process, baths: list[tuple[Step, Formula]], tank_ml: float) -> list[Finding]:
    found = []
    places = {step.key: place for place, step in enumerate(route.steps)}
    for (before, first), (step, second) in itertools.pairwise(baths):
        between = route.steps[places[before.key] : places[step.key]]
        if any(one.mix and one.formula is None for one in between):
            # What a bath between does that nobody can read is not known.
            continue
        rinses = [one.rinse_after for one in between if one.rinse_after is not None]
        fills = sum(len(rinse.fills) + rinse.running_water_min for rinse in rinses)
        one, other = Pool((of_bath(first, tank_ml),)).ph, Pool((of_bath(second, tank_ml),)).ph
        if abs(other - one) < number("film.ph_jump") or fills >= number("film.ph_jump_fills"):
            continue
        found.append(
            _say(
                "swelling",
                step,
                second.name,
                f"From pH {one:.0f} to pH {other:.0f} with {fills:g} {'change' if fills == 1 else 'changes'} of water between: gelatin swells at once and may "
                "reticulate, soft films first.",
                "Three changes of water at the same temperature between, or harden the film before (formula hardener_chrome_alum).",
                "film.ph_jump",
            )
        )
    return found


def _iron_into_dithionite(
    route: Process, formulas: Mapping[str, Formula], tank_ml: float, retained_ml: float
) -> list[Finding]:
    carried_mol, name = 0.0, ""
    found = []
    for step in route.steps:
        formula = formulas.get(step.formula or "")
        if formula is not None:
            bath = of_bath(formula, tank_ml)
            dithionite = bath.has("dithionite")
            share = 0.5 * carried_mol / dithionite if dithionite else 0.0
            if share > number("film.iron_in_dithionite"):
                text = f"Iron carried from {name} takes {100 * min(1.0, share):.0f} % of the dithionite: the film is fogged unevenly or not at all."
                found.append(
                    _say(
                        "iron_in_dithionite",
                        step,
                        formula.name,
                        text,
                        "Acid rinse, then three changes of water.",
                        "film.iron_in_dithionite",
                    )
                )
            # The bath itself thins what was carried in.
            carried_mol *= retained_ml / (tank_ml + retained_ml)
            if bath.has("iron_iii"):
                carried_mol, name = carried_mol + bath.has("iron_iii") * retained_ml / tank_ml, formula.name
        if step.rinse_after is not None:
            fills = len(step.rinse_after.fills) + step.rinse_after.running_water_min
            carried_mol *= (retained_ml / (tank_ml + retained_ml)) ** fills
    return found


def _light_on_chloride(route: Process, formulas: Mapping[str, Formula]) -> list[Finding]:
    chloride = False
    for step in route.steps:
        formula = formulas.get(step.formula or "")
        if formula is not None and step.kind == "bleach":
            chloride = of_bath(formula, number("hazard.usual.liquid_ml")).has("chloride") > 0.01
        elif chloride and step.kind in ("dissolve", "fix", "reexpose", "redevelop", "fog"):
            return []
        if chloride and step.light == "light":
            return [
                _say(
                    "light_on_chloride",
                    step,
                    step.name,
                    "Light before the silver chloride of the negative is dissolved prints it out: that silver stays as a ghost.",
                    "Keep it dark, or as short and dim as can be, until the chloride is gone.",
                    "film.light_on_chloride",
                )
            ]
    return []


# What tones, by the class of its substance, and what is to be said of it.
_TONERS = {
    "sulfide": (
        "any acid that comes into it makes hydrogen sulfide",
        "Wash all acid and fixer out before it, keep it alkaline, move the air, and wash after it.",
    ),
    "selenium": (
        "it poisons by mouth, skin and breath, and builds up",
        "Gloves, moving air, no powder in the air; used it goes into a jug of its own to the authority, never down a drain.",
    ),
}


def _toning(baths: list[tuple[Step, Formula]], tank_ml: float) -> Iterator[Finding]:
    """A toner among the baths; no process of the house has one."""
    for step, formula in baths:
        bath = of_bath(formula, tank_ml)
        for kind, (harm, advice) in _TONERS.items():
            held = {key: n for key, n in bath.moles.items() if kind in substances()[key].classes}
            grams = math.fsum(n * molar_mass_g_per_mol(substances()[key].molar_mass_key) for key, n in held.items())
            if grams:
                text = f"Toning with {grams:.2g} g of {kind} in the bath: {harm}. No process of the house needs it."
                yield _say("toning", step, formula.name, text, advice, "film.toning")


def _washing(route: Process, formulas: Mapping[str, Formula]) -> tuple[Step, str, float] | None:
    """The last wash after a fixer, after what it comes, and the minutes of running water that takes; None where nothing is fixed or washed."""
    fixer = next((formulas.get(s.formula or "") for s in route.steps if s.kind == "fix"), None)
    washes = [step for step in route.steps if step.kind == "wash"]
    if fixer is None or not washes:
        return None
    bath = of_bath(fixer, number("hazard.usual.liquid_ml"))
    kind = "hardening" if bath.substance_with("hardener") else "rapid" if bath.has("ammonia") > 0.01 else "plain"
    aid = any(f is not None and f.role == "wash_aid" for f in (formulas.get(s.formula or "") for s in route.steps))
    return washes[-1], f"a {kind} fixer{' and a wash aid' if aid else ''}", wash_needed_min(kind, wash_aid=aid)


def wash_told(route: Process, formulas: Mapping[str, Formula]) -> str:
    """How long a film is washed that shall keep, with how that is known; empty where nothing is fixed or washed."""
    found = _washing(route, formulas)
    if found is None:
        return ""
    _, after, needed = found
    return (
        f"To keep, film on acetate or polyester is washed about {needed:g} min in running water after {after}, or in {_WASHING_FILLS} changes "
        f"with many turns ({record('film.wash_min').source.words})."
    )


def _wash(route: Process, formulas: Mapping[str, Formula]) -> list[Finding]:
    found = _washing(route, formulas)
    if found is None:
        return []
    last, after, needed = found
    fills = 0 if last.rinse_after is None else len(last.rinse_after.fills)
    if last.time_min >= needed or fills >= _WASHING_FILLS:
        return []
    text = f"{last.time_min:g} min of wash after {after}: to keep, a film needs about {needed:g} min of running water."
    return [
        _say(
            "wash",
            last,
            last.name,
            text,
            "Wash longer, or three changes with many turns each.",
            "film.wash_min",
            Level.NOTE,
        )
    ]
