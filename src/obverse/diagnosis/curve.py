"""Faults from the curve: what the aim misses, and which cause the process model believes."""

from __future__ import annotations

import numpy as np

from obverse.diagnosis.causes import TOLD, KnownFilm, compare, told_of
from obverse.diagnosis.colour import Colour
from obverse.diagnosis.finding import NAMES, NONE_OF_THESE, Cure, FaultFinding
from obverse.foundation import Array, Estimate, Standing
from obverse.process import AIMS, Aim
from obverse.reference import number, record
from obverse.sensitometry import CharacteristicCurve

__all__ = ["KnownFilm", "diagnose_curve"]

_PRACTICE = Standing.COMMON_PRACTICE
# Readings further from the middle of a strip than this log exposure stand for the border; of more readings than so many groups
# are made: they add nothing.
_NEAR, _MOST_READINGS = 5, 48


def _stops(key: str) -> Cure:
    row = record(key)
    value = number(key)
    if row.unit == "stop":
        return Cure(f"Give {value:g} stop more exposure.", row.source.standing)
    return Cure(f"Develop {value:g} minutes longer in the first developer.", row.source.standing, first_developer=True)


CURES: dict[str, tuple[Cure, ...]] = {
    "ghost_negative": (
        Cure(
            "Bleach longer, and move the film more in the bleach: no black silver may be left when seen from the back.",
            _PRACTICE,
        ),
        Cure("Use fresh bleach.", _PRACTICE),
        Cure("Rinse better before the bleach, so that no developer is carried into it.", _PRACTICE),
    ),
    "incomplete_second_development": (
        Cure("If the strip was not fixed: give it more light and put it back into the second developer.", _PRACTICE),
        Cure("Expose both sides longer before the second development.", _PRACTICE),
        Cure("Develop the second time longer, warmer or in fresh developer; it runs to completion.", _PRACTICE),
    ),
    "stain": (
        Cure("Clear longer, in a fresh clearing bath.", _PRACTICE),
        Cure("Rinse longer between bleach and clearing bath.", _PRACTICE),
        Cure("Read the base of this film again: a wrong base looks the same.", _PRACTICE),
    ),
    "murky_highlights": (
        _stops("table.first_cure_exposure"),
        _stops("table.second_cure_time"),
        Cure(
            "More solvent in the first developer, in small steps: too much makes the blacks thin.",
            _PRACTICE,
            first_developer=True,
        ),
    ),
    "thin_blacks": (
        Cure("Less solvent in the first developer.", _PRACTICE, first_developer=True),
        Cure(
            "Develop shorter or cooler the first time: fog and solvent take the blacks.",
            _PRACTICE,
            first_developer=True,
        ),
        Cure("Use a film with more silver or a clearer base.", _PRACTICE),
    ),
    "low_contrast": (
        Cure("Develop longer in the first developer and give less exposure.", _PRACTICE, first_developer=True),
        Cure("More alkali or a stronger first developer.", _PRACTICE, first_developer=True),
    ),
    "underexposed": (_stops("table.first_cure_exposure"), _stops("table.second_cure_time")),
    "overexposed": (
        Cure("Give half a stop to a stop less exposure.", _PRACTICE),
        Cure("Develop shorter the first time; the blacks gain too.", _PRACTICE, first_developer=True),
    ),
}


def diagnose_curve(
    curve: CharacteristicCurve,
    *,
    aim: Aim = AIMS["projection"],
    base_density: float | None = None,
    controls: dict[str, float] | None = None,
    control_sds: dict[str, float] | None = None,
    film: KnownFilm | None = None,
    colour: Colour | None = None,
) -> tuple[FaultFinding, ...]:
    """Faults that a curve shows, the likeliest first.

    Parameters
    ----------
    aim : Aim
        What the strip should have been.
    controls, control_sds : dict, optional
        What was done to the strip, where known, and how well.
    film : KnownFilm, optional
        The film as its OTHER strips have taught it.
    colour : Colour, optional
        Of the strip, where a colour picture was read: it tells a stain from silver.

    Returns
    -------
    tuple of FaultFinding
        Empty for a strip without a visible fault.
    """
    near = np.abs(curve.log_exposure - np.median(curve.log_exposure)) < _NEAR
    x, d, sd = (part[near] for part in (curve.log_exposure, curve.density_read, curve.density_sd))
    # A reading that counted little for the curve counts little here.
    sd = sd / np.sqrt(np.maximum(curve.weight[near], 0.01))
    if x.size > _MOST_READINGS:
        x, d, sd = _grouped(x, d, sd, _MOST_READINGS)
    causes = compare(
        x, d, sd, base_density=base_density, controls=controls, control_sds=control_sds, film=film, colour=colour
    )
    outcomes = _outcomes(curve, aim)
    cause = told_of(causes, film)
    # What a cause of its own explains is not put down to the first developer; where none is told, the look is said as it is.
    hidden = (
        {}
        if cause == ""
        else {
            "murky_highlights": causes["ghost_negative"] + causes["stain"],
            "thin_blacks": causes["incomplete_second_development"],
            "low_contrast": causes["incomplete_second_development"],
            "overexposed": causes["incomplete_second_development"],
        }
    )
    found = []
    for fault in ("ghost_negative", "incomplete_second_development", "stain"):
        if fault == cause:
            found.append(
                FaultFinding(
                    fault, causes[fault], _cause_evidence(fault, curve, colour), CURES[fault], _others(causes, fault)
                )
            )
    for fault, (chance, evidence) in outcomes.items():
        probability = chance * (1 - min(hidden.get(fault, 0.0), 1.0))
        # Where the comparison is surer of a slip of exposure than the look alone, it is a cause as others are.
        weighed = causes.get(fault, 0.0) > probability
        if weighed:
            probability = causes[fault]
        if fault in ("underexposed", "overexposed"):
            evidence += _exposure_evidence(causes.get(fault))
        if probability >= TOLD:
            found.append(
                FaultFinding(fault, probability, evidence, CURES[fault], _others(causes, fault), look=not weighed)
            )
    if not found and cause is None:
        names = " or ".join(
            f"{NAMES[f].lower()} ({p:.0%})" for f, p in sorted(causes.items(), key=lambda c: -c[1]) if f and p > 0.1
        )
        found.append(
            FaultFinding(
                "cannot_tell",
                1 - causes[""],
                f"The curve is unlike what films do, and fits several explanations: {names}. A second strip, or a measured base, would tell.",
                (),
                _others(causes, ""),
            )
        )
    return tuple(sorted(found, key=lambda finding: -finding.probability))


def _grouped(x: Array, d: Array, sd: Array, most: int) -> tuple[Array, Array, Array]:
    """Neighbouring readings averaged by weight; more of them say no more about a cause."""
    groups = np.array_split(np.argsort(x), most)
    weight = [sd[g] ** -2 for g in groups]
    total = np.array([w.sum() for w in weight])

    def mean(values: Array) -> Array:
        result: Array = np.array([(w * values[g]).sum() for w, g in zip(weight, groups, strict=True)]) / total
        return result

    return mean(x), mean(d), total**-0.5


def _others(causes: dict[str, float], fault: str) -> tuple[tuple[str, float], ...]:
    rest = ((name or NONE_OF_THESE, round(p, 4)) for name, p in causes.items() if name != fault)
    return tuple(sorted(rest, key=lambda one: -one[1]))


def _chance(estimate: Estimate | None, draws: Array, limit: float | None, above: bool) -> float:
    if estimate is None or limit is None:
        return 0.0
    finite = draws[np.isfinite(draws)]
    return float(np.mean(finite > limit if above else finite < limit)) if finite.size else 0.0


def _outcomes(curve: CharacteristicCurve, aim: Aim) -> dict[str, tuple[float, str]]:
    """Chance of each miss of the aim, with the evidence in words."""
    drawn = curve.numbers_drawn()
    low, high = aim.midtone_log_exposure_min, aim.midtone_log_exposure_max
    never = 1 - curve.reaches_midtone
    # A curve wholly over the mid-tone density is dark all through; wholly under it, light.
    dark_all = never if curve.dmin.value > curve.base_draws.mean() + aim.midtone_density else 0.0
    thin_all = never - dark_all
    return {
        "murky_highlights": (
            max(
                _chance(curve.highlight_density, drawn["highlight_density"], aim.highlight_density_max, True), dark_all
            ),
            _said("Highlights", curve.highlight_density, "above base where the aim allows", aim.highlight_density_max),
        ),
        "thin_blacks": (
            max(_chance(curve.dmax_above_base, drawn["dmax_above_base"], aim.dmax_min, False), thin_all),
            _said("Blacks", curve.dmax_above_base, "above base where the aim asks for", aim.dmax_min),
        ),
        "low_contrast": (
            _chance(curve.gradient, drawn["gradient"], aim.gradient_min, False),
            _said("Gradient", curve.gradient, "where the aim asks for", aim.gradient_min),
        ),
        "underexposed": (
            max(_chance(curve.midtone_log_exposure, drawn["midtone_log_exposure"], high, True), dark_all),
            _exposure_said(curve.midtone_log_exposure, high, "more"),
        ),
        "overexposed": (
            _chance(curve.midtone_log_exposure, drawn["midtone_log_exposure"], low, False),
            _exposure_said(curve.midtone_log_exposure, low, "less"),
        ),
    }


def _said(what: str, estimate: Estimate | None, relation: str, limit: float | None) -> str:
    if estimate is None or limit is None:
        return f"{what}: the curve never passes through the mid-tone."
    return f"{what} {estimate.value:.2f} ({estimate.low90:.2f} to {estimate.high90:.2f}) {relation} {limit:.2f}."


def _exposure_said(estimate: Estimate | None, limit: float | None, way: str) -> str:
    if estimate is None or limit is None:
        return (
            "The whole strip is denser than the mid-tone."
            if way == "more"
            else "The whole strip is thinner than the mid-tone."
        )
    stops = abs(estimate.value) / np.log10(2)
    return f"The mid-tone needs {stops:.1f} stops {way} exposure than metered."


def _exposure_evidence(slip: float | None) -> str:
    """What is known of exposure against development; `slip` is the chance of a slip of exposure, None where the film is not known."""
    if slip is None:
        return " Exposure and first development look the same on one strip; exposure is the cheaper cure."
    if slip >= TOLD:
        return " This film's other strips say that the exposure was off, not the development."
    return " This film's other strips say that it comes of the first development; more or less exposure would help all the same."


def _cause_evidence(fault: str, curve: CharacteristicCurve, colour: Colour | None) -> str:
    dmin, dmax = curve.dmin, curve.dmax_with_base
    if fault == "ghost_negative":
        return (
            f"The light end does not clear ({dmin.value:.2f}) and stays level or rises with exposure, "
            "as silver of the negative does that the bleach left; residual halide would go on falling."
        )
    if fault == "incomplete_second_development":
        return (
            f"All densities of the image are thin in one proportion (Dmax {dmax.value:.2f}), with highlights clear: "
            "solvent or fog would have moved the curve as well."
        )
    lifted = f"The whole curve is lifted, its clear end to {dmin.value:.2f}: an even density that no exposure changes."
    if colour is None:
        return lifted + " A reading by colour picture would say more: a stain has a colour, silver has none."
    if abs(colour.excess) > 2 * colour.sd:
        way = "more" if colour.excess > 0 else "less"
        return (
            f"{lifted} It is coloured: {abs(colour.excess):.2f} {way} density in blue than in red, as silver has not."
        )
    return lifted + " It has no colour that could be told."
