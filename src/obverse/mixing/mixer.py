"""Formula + products + volume + tools -> mix sheet."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

from obverse.chemistry import (
    HEAT_CAPACITY_KJ_PER_G_K,
    WATER_G_PER_MOL,
    concentration_g_per_l,
    dilution_heat_kj,
    molar_mass_g_per_mol,
    ph_of,
)
from obverse.foundation import Z90, Caution, Estimate, InputError, Interval, Level
from obverse.mixing.choose import (
    MOST_COMBINATIONS,
    Need,
    answers,
    combinations,
    merged,
    need_of,
    options_for,
    role_options,
)
from obverse.mixing.portions import ProductPortion, portions_of, water_to_add
from obverse.mixing.sheet import Made, MixLine, MixSheet, active_mol_per_l
from obverse.mixing.sources import Candidate, candidates
from obverse.process import USUAL_TOOLS, Formula, Product, Substance, Tool
from obverse.process.catalog import substance as known_substance
from obverse.reference import number, record

A = TypeVar("A")

# Beyond this, rounding is worth a word.
ROUNDING_WORTH_SAYING = 0.05

# Share of the water to begin with, rounded to so much where there is enough of it; common practice, no source.
FIRST_WATER = 0.75
ROUND_ML, ROUND_FROM_ML = 5.0, 50.0


def mix(
    formula: Formula,
    volume_ml: float,
    products: Sequence[Product],
    tools: Sequence[Tool] = USUAL_TOOLS,
    *,
    choices: Mapping[str, str] | None = None,
) -> MixSheet:
    """Work out how to make a bath.

    Parameters
    ----------
    volume_ml : float
        Of the finished bath.
    products : sequence of Product
        What stands on the shelf.
    tools : sequence of Tool
        What measures it.
    choices : mapping of str to str, optional
        Product key to take for a substance or a dilution role, where the person has chosen.

    Returns
    -------
    MixSheet
        Lines in order of adding, rounded to the tools, with what comes of it. A product on the
        shelf that fits is found by trying the nearest first.

    Raises
    ------
    InputError
        With the reason, if it cannot be made: something is missing, too weak to fit the volume,
        too little to measure, or will not dissolve.
    """
    return _first_that_works(formula, volume_ml, products, tools, choices, _sheet)


def refusal(
    formula: Formula, volume_ml: float, products: Sequence[Product], tools: Sequence[Tool] = USUAL_TOOLS
) -> InputError | None:
    """Why the bath cannot be mixed; None where it can. Quicker than `mix`: nothing is worked out beyond that.

    Parameters
    ----------
    formula : Formula
        By active substances.
    volume_ml : float
        Of the bath, mL.
    products : sequence of Product
        The bottles at hand.
    tools : sequence of Tool, optional
        What measures; the usual three where absent.
    """
    try:
        _first_that_works(formula, volume_ml, products, tools, None, lambda *_: None)
    except InputError as error:
        return error
    return None


def _first_that_works(
    formula: Formula,
    volume_ml: float,
    products: Sequence[Product],
    tools: Sequence[Tool],
    choices: Mapping[str, str] | None,
    finish: Callable[[Formula, float, Sequence[Need], Sequence[ProductPortion], float, Sequence[Tool]], A],
) -> A:
    """Try the choices of products, the nearest first; `finish` makes the answer of the first that fits."""
    if not (math.isfinite(volume_ml) and 0 < volume_ml <= 100_000):
        raise InputError(
            f"a bath of {volume_ml:g} mL cannot be mixed", where="volume", remedy="give a volume from 1 mL to 100 L"
        )
    shelf, bench, chosen = tuple(products), tuple(tools), dict(choices or {})
    needs = merged(tuple(need_of(component, volume_ml, formula) for component in formula.components))
    # What only came along with another product is no reason to refuse a bath of other bottles.
    needs = tuple(n for n in needs if not n.component.beside or candidates(n.substance, shelf, n.component.acid_must))
    options: list[list[Candidate]] = [options_for(need, shelf, chosen, formula) for need in needs]
    roles: list[list[Product]] = [role_options(line, shelf, chosen, formula) for line in formula.dilutions]
    first_refusal: InputError | None = None
    for picks, bottles in itertools.islice(combinations(options, roles), MOST_COMBINATIONS):
        try:
            portions = portions_of(formula, volume_ml, needs, picks, bottles, bench, options, roles)
            water_ml = water_to_add(formula, volume_ml, portions)
        except InputError as error:
            first_refusal = first_refusal or error
            continue
        return finish(formula, volume_ml, needs, portions, water_ml, bench)
    assert first_refusal is not None  # every need has at least one option by now
    raise first_refusal


def _sheet(
    formula: Formula,
    volume_ml: float,
    needs: Sequence[Need],
    portions: Sequence[ProductPortion],
    water_ml: float,
    tools: Sequence[Tool],
) -> MixSheet:
    made = tuple(_made(need, portions, volume_ml, tools) for need in needs)
    contents = _contents(portions, volume_ml)
    grams = {k: v * molar_mass_g_per_mol(known_substance(k).molar_mass_key) for k, v in contents.items()}
    bounds = _bounds(portions, volume_ml)
    undeclared = tuple(dict.fromkeys((*(p.product.name for p in portions if p.product.undeclared), *formula.unread)))
    ph, ph_note = _acidity(contents, {k: b.times(1 / grams[k]) for k, b in bounds.items() if grams[k]}, undeclared)
    return MixSheet(
        formula=formula.key,
        name=formula.name,
        role=formula.role,
        volume_ml=volume_ml,
        lines=_lines(portions, water_ml, volume_ml, tools, formula.unread),
        made=made,
        contents_mol_per_l=contents,
        contents_g_per_l=grams,
        water_to_add_ml=water_ml,
        water_in_products_ml=_water_in(portions),
        ph=ph,
        ph_note=ph_note,
        use_within_min=formula.use_within_min,
        make_just_before_use=formula.make_just_before_use,
        note=formula.note,
        cautions=(*_result_cautions(made), *_left_out(formula, grams), *_sulfured(contents, ph)),
        amounts={p.product.key: p.measured.amount for p in portions},
        bounds_g_per_l=bounds,
        undeclared=undeclared,
    )


def _left_out(formula: Formula, grams: Mapping[str, float]) -> tuple[Caution, ...]:
    """What came along with the products the bath was written for, and no bottle here brings."""
    inside = {known_substance(key).active or key for key in grams}
    names = [
        known.name
        for known in (known_substance(c.substance) for c in formula.components if c.beside)
        if (known.active or known.key) not in inside
    ]
    if not names:
        return ()
    text = (
        f"Without {' and '.join(names)}, which came along with the product this bath was written for: "
        "nothing on this shelf brings it. It may work a little otherwise."
    )
    return (Caution("mix.without", text, Level.NOTE, formula.name),)


def _falls_to_sulfur(contents: Mapping[str, float], ph: float) -> bool:
    """Whether acid turns the thiosulfate of these substances (mol/L) to sulfur: less acid where enough sulfite keeps it."""
    active = active_mol_per_l(contents)
    hypo, sulfite = active.get("thiosulfate", 0.0), active.get("sulfite", 0.0) + active.get("bisulfite", 0.0)
    kept = sulfite >= number("mix.hypo_sulfite") * hypo
    return hypo > 0 and ph < float(record("mix.hypo_ph").value["with_sulfite" if kept else "without"])


def _sulfured(contents: Mapping[str, float], ph: Estimate | None) -> tuple[Caution, ...]:
    """That hypo in this acid is no fixer for long."""
    if ph is None or not _falls_to_sulfur(contents, ph.value):
        return ()
    text = (
        f"At pH {ph.value:.1f} hypo falls to sulfur, within minutes to hours: the bath turns milky, sulfur settles in the film, and it smells of "
        "sulfur dioxide. Leave the acid out: plain hypo fixes. An acid fixer holds sulfite, dissolved before the acid, and stands at pH 4 to 6."
    )
    return (Caution("mix.sulfur", text, Level.DANGER, source="mix.hypo_ph"),)


def _made(need: Need, portions: Sequence[ProductPortion], volume_ml: float, tools: Sequence[Tool]) -> Made:
    factor = (
        molar_mass_g_per_mol(need.substance.molar_mass_key)
        / (need.substance.active_per_mole or 1.0)
        / (volume_ml / 1000)
    )
    total = least = most = variance = 0.0
    for portion in portions:
        if not portion.counts:
            continue
        for brings in portion.contents:
            if not answers(need, brings):
                continue
            unit = brings.active_per_unit if need.substance.active else brings.moles_per_unit
            share = factor * unit * portion.measured.amount
            total += share
            least, most = least + share * brings.factors.low, most + share * brings.factors.high
            strength_sd = brings.relative_sd if brings.bounds is None else 0.0
            variance += (share * math.hypot(strength_sd, portion.measured.reading_sd / portion.measured.amount)) ** 2
    variance += (total * _volume_relative_sd(volume_ml, tools)) ** 2
    sd = math.sqrt(variance)
    # What a label leaves open widens the interval to its ends, and never below nothing.
    known = Estimate(total, math.hypot(sd, (most - least) / math.sqrt(12)), max(0.0, least - Z90 * sd), most + Z90 * sd)
    return Made(
        need.substance.key,
        need.substance.name,
        need.g_per_l,
        known,
        total / need.g_per_l - 1,
        need.component.standing.value,
        need.component.source,
    )


def _volume_relative_sd(volume_ml: float, tools: Sequence[Tool]) -> float:
    """Doubt of making up to the mark, with the best vessel at hand."""
    vessels = [t for t in tools if t.kind in ("cylinder", "jug")] or [
        t for t in tools if t.kind in ("syringe", "pipette")
    ]
    if not vessels:
        return number("mix.mark_relative_sd")
    fills = [(math.ceil(volume_ml / t.capacity), t) for t in vessels]
    return float(min(t.graduation / math.sqrt(12) * math.sqrt(n) / volume_ml for n, t in fills))


def _contents(portions: Sequence[ProductPortion], volume_ml: float) -> dict[str, float]:
    """mol/L of every declared substance in the finished bath."""
    found: dict[str, float] = {}
    for portion in portions:
        for brings in portion.contents:
            key = brings.substance.key
            found[key] = found.get(key, 0.0) + brings.moles_per_unit * portion.measured.amount / (volume_ml / 1000)
    return found


def _bounds(portions: Sequence[ProductPortion], volume_ml: float) -> dict[str, Interval]:
    """g/L, least to most, of every substance of which a label leaves the share open."""
    found: dict[str, Interval] = {}
    open_ones = {b.substance.key for p in portions for b in p.contents if b.bounds is not None}
    for portion in portions:
        for b in portion.contents:
            if b.substance.key not in open_ones:
                continue
            grams = Interval.exact(b.grams_per_unit) if b.bounds is None else b.bounds
            amount = grams.times(portion.measured.amount / (volume_ml / 1000))
            found[b.substance.key] = amount.plus(found.get(b.substance.key, Interval.exact(0.0)))
    return found


# A pH that may lie anywhere in so many units is no pH; a strip of paper does better. Our judgement.
WIDEST_PH = 3.0


def _acidity(
    contents: Mapping[str, float], factors: Mapping[str, Interval], undeclared: Sequence[str]
) -> tuple[Estimate | None, str]:
    """pH as sure as the labels allow; none where they allow nothing."""
    if undeclared:
        return None, f"not told: the label of {', '.join(undeclared)} leaves open what is in it; measure it"
    likely, note = acidity_of(contents)
    if likely is None or not factors:
        return likely, note
    low, high = likely.low90, likely.high90
    ends: dict[bool, dict[str, float]] = {False: dict(contents), True: dict(contents)}
    for key, factor in factors.items():
        one, _ = acidity_of({**contents, key: contents[key] * factor.low})
        other, _ = acidity_of({**contents, key: contents[key] * factor.high})
        if one is None or other is None:
            continue
        # Each open share at the end that drives the pH the same way.
        rises = other.value > one.value
        ends[rises][key], ends[not rises][key] = contents[key] * factor.high, contents[key] * factor.low
        low, high = min(low, one.low90, other.low90), max(high, one.high90, other.high90)
    for found, _ in (acidity_of(ends[False]), acidity_of(ends[True])):
        if found is not None:
            low, high = min(low, found.low90), max(high, found.high90)
    if high - low > WIDEST_PH:
        return (
            None,
            f"not told: by what the labels leave open it lies anywhere from {low:.0f} to {high:.0f}; measure it",
        )
    return Estimate(likely.value, (high - low) / math.sqrt(12), low, high), f"{note}; as wide as the labels leave it"


def acidity_of(contents: Mapping[str, float]) -> tuple[Estimate | None, str]:
    """pH of substances at these mol/L, with what was counted; None with the reason where it cannot be told.

    Parameters
    ----------
    contents : mapping of str to float
        mol/L by substance key.

    Returns
    -------
    Estimate or None, str
    """
    ions: dict[str, float] = {}
    buffers: dict[str, float] = {}
    silent = []
    for key, moles in contents.items():
        known = known_substance(key)
        if not (known.ions or known.buffers):
            silent.append(known.name)
        for name, count in known.ions.items():
            ions[name] = ions.get(name, 0.0) + count * moles
        for name, count in known.buffers.items():
            buffers[name] = buffers.get(name, 0.0) + count * moles
    if not ions and not buffers:
        return None, "no acid or base is declared"
    if "sodium_dithionite" in contents and not buffers:
        return None, "dithionite alone is about pH 5 to 6 and falls as it ages (common practice, no source)"
    try:
        acidity = ph_of(ions, buffers)
    except InputError as error:
        return None, error.what
    note = "charge balance over " + (", ".join(b.replace("_", " ") for b in acidity.buffers) or "strong ions")
    return acidity.ph, note + (f"; not counted: {', '.join(silent)}" if silent else "")


def _water_in(portions: Sequence[ProductPortion]) -> float | None:
    """mL of water inside the products: liquid minus what is dissolved, and crystal water."""
    total = 0.0
    for portion in portions:
        dissolved = sum(b.grams_per_unit for b in portion.contents)
        if portion.product.form == "liquid":
            density = portion.product.density_g_per_ml or _table_density(portion.product)
            if density is None:
                return None
            total += portion.measured.amount * max(density - dissolved, 0.0)
        for brings in portion.contents:
            waters = _crystal_waters(brings.substance)
            total += waters * brings.moles_per_unit * portion.measured.amount * number("mm.water")
    return total


def _table_density(product: Product) -> float | None:
    if len(product.contents) != 1 or product.contents[0].is_other:
        return None
    content = product.contents[0]
    try:
        return concentration_g_per_l(content.parsed, known_substance(content.substance)).density_g_per_ml
    except InputError:
        return None


def _crystal_waters(substance: Substance) -> int:
    tail = substance.formula.rpartition("(H2O)")
    return int(tail[2] or 1) if tail[1] else 0


def _result_cautions(made: tuple[Made, ...]) -> tuple[Caution, ...]:
    found = []
    for m in made:
        if abs(m.rounding_error) > ROUNDING_WORTH_SAYING:
            word = "more" if m.rounding_error > 0 else "less"
            found.append(
                Caution(
                    "mix.rounding",
                    f"{m.name} comes out {100 * abs(m.rounding_error):.0f} % {word} than the formula asks; "
                    "a finer tool or a larger volume would mend it.",
                    Level.CAUTION,
                    where=m.substance,
                )
            )
    return tuple(found)


_DO = (
    ("permanganate", "Dissolve wholly; hold it to the light: no crystal left before any acid goes in."),
    ("dichromate", "Gloves and goggles. Slip the powder in without raising dust; stir until dissolved."),
    (
        "dithionite",
        "Scatter the powder over the bath at the last moment; never water onto the powder. Stir gently, use at once.",
    ),
    ("peroxide", "Add last, stir gently; no metal; leave the vessel open."),
    ("acid_strong", "Slowly, in portions, into the liquid, stirring. Acid into water, never water into acid."),
    ("ammonia", "Last. Fan on, face away; stir gently and put the lid on."),
    ("hydroxide", "Little by little into cold water, stirring; it heats. Never water onto it."),
    ("iron_chloride", "Stir. It stains everything: gloves, no steel."),
)


def _do(portion: ProductPortion) -> str:
    classes = {cls for b in portion.contents for cls in b.substance.classes}
    for name, text in _DO:
        if name in classes:
            return text
    return "Stir until dissolved." if portion.product.form == "solid" else "Stir."


def _lines(
    portions: Sequence[ProductPortion],
    water_ml: float,
    volume_ml: float,
    tools: Sequence[Tool],
    as_said: Sequence[str] = (),
) -> tuple[MixLine, ...]:
    lines: list[MixLine] = []
    first = _first_water(water_ml, tools)
    if first > 0:
        warm = ", 20 to 30 C." if any(p.product.form == "solid" for p in portions) else "."
        lines.append(
            MixLine(1, "water", "", "water", "mL", first, first, f"about {first:g} mL", "Start with water" + warm)
        )
    warming = _warming(portions, first)
    for p, heat in zip(portions, warming, strict=True):
        lines.append(
            MixLine(
                len(lines) + 1,
                "product",
                p.product.key,
                p.product.name,
                "mL" if p.product.form == "liquid" else "g",
                p.raw,
                p.measured.amount,
                p.measured.words,
                _do(p),
                p.names,
                p.reading,
                p.cautions + heat,
                p.alternatives,
            )
        )
    for said in as_said:
        # Nobody here knows it, so nothing of it is reckoned; on the list it stays.
        do = f"By your own measure: its hazards were not judged, its room in the {volume_ml:g} mL and its strength not reckoned."
        lines.append(MixLine(len(lines) + 1, "as_said", "", said, "", 0.0, 0.0, "as said", do))
    lines.append(
        MixLine(
            len(lines) + 1,
            "make_up",
            "",
            "water",
            "mL",
            round(water_ml - first, 1),
            round(water_ml - first, 1),
            f"to {volume_ml:g} mL",
            f"Fill up to the mark (about {water_ml - first:.0f} mL more) and stir.",
        )
    )
    return tuple(lines)


# Warming or cooling that is worth a word, and warming that burns, in kelvin.
WARMS_K, BURNS_K, COOLS_K = 12.0, 35.0, 8.0


def _warming(portions: Sequence[ProductPortion], first_water_ml: float) -> list[tuple[Caution, ...]]:
    """What each line warms or cools the bath by dissolving or being thinned, if it goes in at once."""
    found: list[tuple[Caution, ...]] = []
    water_ml, grams = first_water_ml, first_water_ml
    for portion in portions:
        amount = portion.measured.amount
        dissolved = sum(b.grams_per_unit for b in portion.contents)
        weight = amount * (max(1.0, dissolved) if portion.product.form == "liquid" else 1.0)
        own_water_ml = max(0.0, weight - dissolved * amount)
        water_ml, grams = water_ml + own_water_ml, grams + weight
        heat_kj = sum(
            dilution_heat_kj(
                b.substance.key, b.moles_per_unit * amount, own_water_ml / WATER_G_PER_MOL, water_ml / WATER_G_PER_MOL
            )
            for b in portion.contents
        )
        rise_k = heat_kj / (HEAT_CAPACITY_KJ_PER_G_K * max(1.0, grams))
        found.append(_heat_words(portion.product.name, rise_k))
    return found


# From a cool tap to boiling: the water gets no hotter.
TO_BOILING_K = 80


def _heat_words(name: str, rise_k: float) -> tuple[Caution, ...]:
    if rise_k >= BURNS_K:
        text = (
            f"{name} heats the water by about {min(rise_k, TO_BOILING_K):.0f} C if it goes in at once; it may boil and spit. "
            "Much cold water first, small portions, a minute apart; plastic, no thick glass; goggles."
        )
        return (Caution("mix.heat", text, Level.DANGER, source="heat_of_solution.sodium_hydroxide"),)
    if rise_k >= WARMS_K:
        text = f"{name} warms the water by about {rise_k:.0f} C: in portions, and let it cool before use."
        return (Caution("mix.heat", text, Level.CAUTION),)
    if rise_k <= -COOLS_K:
        return (Caution("mix.heat", f"{name} cools the water by about {-rise_k:.0f} C: start warmer.", Level.NOTE),)
    return ()


def _first_water(water_ml: float, tools: Sequence[Tool]) -> float:
    """About three quarters of the water, in round numbers of a vessel at hand."""
    step = min((t.graduation for t in tools if t.kind in ("cylinder", "jug")), default=1.0)
    step = max(step, ROUND_ML) if water_ml > ROUND_FROM_ML else step
    return math.floor(FIRST_WATER * water_ml / step) * step
