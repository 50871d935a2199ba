"""Formula + products + volume + tools -> mix sheet."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from obverse.chemistry import concentrate_ml, concentration_g_per_l, molar_mass_g_per_mol
from obverse.chemistry.acidity import ph_of
from obverse.foundation import Caution, Estimate, InputError, Level
from obverse.mixing.measuring import Measured, measure
from obverse.mixing.sheet import Made, MixLine, MixSheet
from obverse.mixing.sources import Brings, Candidate, additive_cautions, candidates, contents_of
from obverse.process import USUAL_TOOLS, Component, Dilution, Formula, Product, Substance, Tool
from obverse.process.catalog import substance as known_substance
from obverse.reference import number

MOST_COMBINATIONS = 200
# Beyond this, rounding is worth a word.
ROUNDING_WORTH_SAYING = 0.05

# Order of adding where the formula does not say; ammonia always comes last.
_CLASS_ORDER = (
    ("sulfite", 10),
    ("permanganate", 15),
    ("dichromate", 15),
    ("developer_agent", 20),
    ("carbonate", 30),
    ("borate", 30),
    ("hydroxide", 35),
    ("bromide", 40),
    ("chloride", 40),
    ("thiosulfate", 50),
    ("thiocyanate", 50),
    ("acid_weak", 60),
    ("acid_strong", 65),
    ("peroxide", 70),
    ("dithionite", 80),
    ("ammonia", 90),
)


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
    formula : Formula
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
    if not (math.isfinite(volume_ml) and 0 < volume_ml <= 100_000):
        raise InputError(f"a bath of {volume_ml:g} mL cannot be mixed", where="volume", remedy="give a volume from 1 mL to 100 L")
    shelf, bench, chosen = tuple(products), tuple(tools), dict(choices or {})
    needs = _merged(tuple(_need(component, volume_ml, formula) for component in formula.components))
    options: list[list[Candidate]] = [_options(need, shelf, chosen, formula) for need in needs]
    roles: list[list[Product]] = [_role_options(line, shelf, chosen, formula) for line in formula.dilutions]
    refusal: InputError | None = None
    for trial in itertools.islice(_combinations(options, roles), MOST_COMBINATIONS):
        try:
            return _attempt(formula, volume_ml, needs, trial[0], trial[1], bench, options, roles)
        except InputError as error:
            refusal = refusal or error
    assert refusal is not None  # every need has at least one option by now
    raise refusal


@dataclass(frozen=True, slots=True)
class _Need:
    component: Component
    substance: Substance
    g_per_l: float
    active_moles: float


def _need(component: Component, volume_ml: float, formula: Formula) -> _Need:
    substance = known_substance(component.substance, where=formula.name)
    strength = component.parsed
    if strength.unit == "% w/w":
        # A bath is close to water; the formula means g per 100 g of it.
        g_per_l = 10 * strength.value * number("density.water.20C") / 1000
    else:
        try:
            g_per_l = concentration_g_per_l(strength, substance).value
        except InputError as error:
            raise InputError(error.what, where=f"{formula.name}, {substance.name}", remedy=error.remedy) from error
    if not g_per_l > 0:
        raise InputError(
            f"{substance.name} at {strength.text} adds nothing", where=formula.name, remedy="leave the line out or give an amount above zero"
        )
    if substance.solubility_key and g_per_l > number(substance.solubility_key):
        raise InputError(
            f"{g_per_l:g} g/L of {substance.name} will not dissolve: water at 20 C takes {number(substance.solubility_key):g} g/L",
            where=formula.name,
            remedy="ask for a weaker bath",
        )
    moles = g_per_l / molar_mass_g_per_mol(substance.molar_mass_key) * volume_ml / 1000
    return _Need(component, substance, g_per_l, moles * (substance.active_per_mole or 1.0))


def _merged(needs: tuple[_Need, ...]) -> tuple[_Need, ...]:
    """Lines that bring the same active thing (two hydrates, two acids) are one need, named by the first."""
    found: dict[str, _Need] = {}
    for need in needs:
        name = need.substance.active or need.substance.key
        if name in found:
            first = found[name]
            share = (first.active_moles + need.active_moles) / first.active_moles
            found[name] = replace(first, g_per_l=first.g_per_l * share, active_moles=first.active_moles * share)
        else:
            found[name] = need
    return tuple(found.values())


def _options(need: _Need, shelf: tuple[Product, ...], chosen: dict[str, str], formula: Formula) -> list[Candidate]:
    found = list(candidates(need.substance, shelf))
    if not found:
        raise InputError(
            f"nothing on the shelf brings {need.substance.name}",
            where=formula.name,
            remedy="add a product that holds it, another hydrate or another salt of it",
        )
    wish = chosen.get(need.substance.key)
    if wish is None:
        return found
    taken = [c for c in found if c.product.key == wish]
    if not taken:
        raise InputError(
            f"{wish!r} does not bring {need.substance.name}",
            where=formula.name,
            remedy="choose one of " + ", ".join(c.product.key for c in found),
        )
    return taken


def _role_options(line: Dilution, shelf: tuple[Product, ...], chosen: dict[str, str], formula: Formula) -> list[Product]:
    role = line.product_role.replace("_", " ")
    found = [p for p in shelf if line.product_role in p.roles]
    if not found:
        raise InputError(f"no {role} stands on the shelf", where=formula.name, remedy=f"add a product used as {role}")
    wish = chosen.get(line.product_role)
    if wish is None:
        return found
    taken = [p for p in found if p.key == wish]
    if not taken:
        raise InputError(f"{wish!r} is no {role}", where=formula.name, remedy="choose one of " + ", ".join(p.key for p in found))
    return taken


def _combinations(options: list[list[Candidate]], roles: list[list[Product]]):
    """Choices of one product per line, the nearest first; two lines from one bottle only as a last resort."""
    count = len(options)
    every = list(itertools.islice(itertools.product(*options, *roles), 20 * MOST_COMBINATIONS))

    def cost(picks) -> tuple:
        bottles = [c.product.key for c in picks[:count]]
        return (len(bottles) - len(set(bottles)), sum(c.order[0] for c in picks[:count]))

    for picks in sorted(every, key=cost):
        yield picks[:count], picks[count:]


@dataclass(frozen=True, slots=True)
class _Portion:
    """One product and how much of it."""

    product: Product
    contents: tuple[Brings, ...]
    raw: float
    measured: Measured
    order: tuple
    names: tuple[str, ...]
    reading: str
    cautions: tuple[Caution, ...]
    alternatives: tuple[str, ...]
    counts: bool  # whether its contents answer for components (dilutions are additional to them)


def _attempt(formula, volume_ml, needs, picks, bottles, tools, options, roles) -> MixSheet:
    portions = _component_portions(formula, needs, picks, tools, options)
    portions += [
        _dilution_portion(line, product, volume_ml, tools, formula, roles[i])
        for i, (line, product) in enumerate(zip(formula.dilutions, bottles))
    ]
    portions.sort(key=lambda p: p.order)
    water_ml = _water_to_add(formula, volume_ml, portions)
    made = tuple(_made(need, portions, volume_ml, tools) for need in needs)
    contents = _contents(portions, volume_ml)
    ph, ph_note = acidity_of(contents)
    return MixSheet(
        formula=formula.key,
        name=formula.name,
        role=formula.role,
        volume_ml=volume_ml,
        lines=_lines(portions, water_ml, volume_ml, tools),
        made=made,
        contents_mol_per_l=contents,
        contents_g_per_l={k: v * molar_mass_g_per_mol(known_substance(k).molar_mass_key) for k, v in contents.items()},
        water_to_add_ml=water_ml,
        water_in_products_ml=_water_in(portions),
        ph=ph,
        ph_note=ph_note,
        use_within_min=formula.use_within_min,
        make_just_before_use=formula.make_just_before_use,
        note=formula.note,
        cautions=_result_cautions(made),
        amounts={p.product.key: p.measured.amount for p in portions},
    )


def _component_portions(formula, needs, picks, tools, options) -> list[_Portion]:
    """Solve how much of each product: every product's whole contents count for every component."""
    products = list({c.product.key: c.product for c in picks}.values())
    contents = [contents_of(p) for p in products]
    raw = _amounts(needs, picks, products, contents)
    portions = []
    for product, brings, amount in zip(products, contents, raw):
        mine = [(n, c, o) for n, c, o in zip(needs, picks, options) if c.product.key == product.key]
        if amount <= 0:
            continue
        names = tuple(n.substance.name for n, _, _ in mine)
        classes = {cls for n, c, _ in mine for cls in c.brings.substance.classes}
        changes = tuple(
            Caution("mix.substitution", text + ".", Level.NOTE, where=n.substance.key) for n, c, _ in mine for text in c.changes
        )
        others = {a.product.key: a.product.name for _, _, o in mine for a in o if a.product.key != product.key}
        doubts = tuple(x for b in brings for x in b.cautions)
        portions.append(
            _Portion(
                product,
                brings,
                amount,
                measure(amount, product.form, tools, where=f"{formula.name}, {product.name}"),
                _order(min(n.component.add_order for n, _, _ in mine), classes),
                names,
                "",
                changes + doubts + additive_cautions(product),
                tuple(others.values()),
                counts=True,
            )
        )
    return portions


def _amounts(needs, picks, products, contents) -> list[float]:
    """Amounts (mL or g) of the products that meet the needs, none negative."""
    if not needs:
        return []
    matrix = np.zeros((len(needs), len(products)))
    for i, need in enumerate(needs):
        for j, brings in enumerate(contents):
            matrix[i, j] = sum(b.active_per_unit if need.substance.active else b.moles_per_unit for b in brings if _answers(need, b))
    wanted = np.array([n.active_moles for n in needs])
    # One equation per product: the first component it was chosen for.
    rows = [next(i for i, c in enumerate(picks) if c.product.key == p.key) for p in products]
    live = list(range(len(products)))
    amounts = np.zeros(len(products))
    while live:
        block = matrix[np.ix_([rows[j] for j in live], live)]
        amounts[:] = 0
        amounts[live] = np.linalg.solve(block, wanted[[rows[j] for j in live]])
        # What other products already bring in full needs no bottle of its own.
        over = [j for j in live if amounts[j] <= 1e-12]
        if not over:
            break
        live = [j for j in live if j not in over]
    return [float(a) for a in amounts]


def _answers(need: _Need, brings: Brings) -> bool:
    if need.substance.active:
        return brings.substance.active == need.substance.active
    return brings.substance.key == need.substance.key


def _dilution_portion(line: Dilution, product: Product, volume_ml: float, tools, formula: Formula, options) -> _Portion:
    strength = line.parsed
    if strength.unit == "1+n":
        amount = concentrate_ml(strength.value, volume_ml)
    elif strength.unit in ("mL/L", "g/L"):
        amount = strength.value * volume_ml / 1000
    else:
        raise InputError(
            f"{strength.text} does not say how much {line.product_role.replace('_', ' ')} to take",
            where=formula.name,
            remedy="write 1+n or mL/L",
        )
    where = f"{formula.name}, {product.name}"
    if not amount > 0:
        raise InputError(f"{strength.text} takes none of it", where=where, remedy="give a dilution above zero")
    brings = contents_of(product)
    reading = strength.reading or (f"{strength.text}: one part and {strength.value:g} parts" if strength.unit == "1+n" else "")
    return _Portion(
        product,
        brings,
        amount,
        measure(amount, product.form, tools, where=where),
        _order(0, {"sulfite"}),
        (line.product_role.replace("_", " "),),
        reading,
        tuple(x for b in brings for x in b.cautions) + additive_cautions(product),
        tuple(p.name for p in options if p.key != product.key),
        counts=False,
    )


def _order(add_order: int, classes: set[str]) -> tuple:
    rank = max((value for name, value in _CLASS_ORDER if name in classes), default=45)
    return ("ammonia" in classes, add_order, rank)


def _water_to_add(formula: Formula, volume_ml: float, portions: list[_Portion]) -> float:
    liquids = sum(p.measured.amount for p in portions if p.product.form == "liquid")
    solids = sum(p.measured.amount for p in portions if p.product.form == "solid")
    water = volume_ml - liquids - solids * number("mix.solid_displacement")
    if water >= -1e-9:
        return max(water, 0.0)
    largest = max(portions, key=lambda p: p.measured.amount)
    unit = "mL" if largest.product.form == "liquid" else "g"
    solids_words = f" and {solids:.4g} g of powder" if solids else ""
    raise InputError(
        f"it does not fit: {liquids:.4g} mL of products{solids_words} for {volume_ml:g} mL of bath; {largest.product.name} alone takes {largest.measured.amount:.4g} {unit}",
        where=formula.name,
        remedy=f"use a stronger product than {largest.product.name}, or ask for a weaker bath",
    )


def _made(need: _Need, portions: list[_Portion], volume_ml: float, tools) -> Made:
    factor = molar_mass_g_per_mol(need.substance.molar_mass_key) / (need.substance.active_per_mole or 1.0) / (volume_ml / 1000)
    total = variance = 0.0
    for portion in portions:
        if not portion.counts:
            continue
        for brings in portion.contents:
            if not _answers(need, brings):
                continue
            unit = brings.active_per_unit if need.substance.active else brings.moles_per_unit
            share = factor * unit * portion.measured.amount
            total += share
            variance += (share * math.hypot(brings.relative_sd, portion.measured.reading_sd / portion.measured.amount)) ** 2
    variance += (total * _volume_relative_sd(volume_ml, tools)) ** 2
    return Made(
        need.substance.key,
        need.substance.name,
        need.g_per_l,
        Estimate(total, math.sqrt(variance)),
        total / need.g_per_l - 1,
        need.component.standing.value,
        need.component.source,
    )


def _volume_relative_sd(volume_ml: float, tools) -> float:
    """Doubt of making up to the mark, with the best vessel at hand."""
    vessels = [t for t in tools if t.kind in ("cylinder", "jug")] or [t for t in tools if t.kind in ("syringe", "pipette")]
    if not vessels:
        return number("mix.mark_relative_sd")
    fills = [(math.ceil(volume_ml / t.capacity), t) for t in vessels]
    return min(t.graduation / math.sqrt(12) * math.sqrt(n) / volume_ml for n, t in fills)


def _contents(portions: list[_Portion], volume_ml: float) -> dict[str, float]:
    """mol/L of every declared substance in the finished bath."""
    found: dict[str, float] = {}
    for portion in portions:
        for brings in portion.contents:
            key = brings.substance.key
            found[key] = found.get(key, 0.0) + brings.moles_per_unit * portion.measured.amount / (volume_ml / 1000)
    return found


def acidity_of(contents: Mapping[str, float]) -> tuple[Estimate | None, str]:
    """pH of substances at these mol/L, with what was counted; None with the reason where it cannot be told."""
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
    try:
        acidity = ph_of(ions, buffers)
    except InputError as error:
        return None, error.what
    note = "charge balance over " + (", ".join(b.replace("_", " ") for b in acidity.buffers) or "strong ions")
    return acidity.ph, note + (f"; not counted: {', '.join(silent)}" if silent else "")


def _water_in(portions: list[_Portion]) -> float | None:
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
    if len(product.contents) != 1:
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
                    f"{m.name} comes out {100 * abs(m.rounding_error):.0f} % {word} than the formula asks; a finer tool or a larger volume would mend it.",
                    Level.CAUTION,
                    where=m.substance,
                )
            )
    return tuple(found)


_DO = (
    ("permanganate", "Dissolve wholly; hold it to the light: no crystal left before any acid goes in."),
    ("dichromate", "Gloves and goggles. Slip the powder in without raising dust; stir until dissolved."),
    ("dithionite", "Scatter the powder over the bath at the last moment; never water onto the powder. Stir gently, use at once."),
    ("peroxide", "Add last, stir gently; no metal; leave the vessel open."),
    ("acid_strong", "Slowly, in portions, into the liquid, stirring. Acid into water, never water into acid."),
    ("ammonia", "Last. Fan on, face away; stir gently and put the lid on."),
    ("iron_chloride", "Stir. It stains everything: gloves, no steel."),
)


def _do(portion: _Portion) -> str:
    classes = {cls for b in portion.contents for cls in b.substance.classes}
    for name, text in _DO:
        if name in classes:
            return text
    return "Stir until dissolved." if portion.product.form == "solid" else "Stir."


def _lines(portions, water_ml, volume_ml, tools) -> tuple[MixLine, ...]:
    lines: list[MixLine] = []
    first = _first_water(water_ml, tools)
    if first > 0:
        warm = any(p.product.form == "solid" for p in portions)
        lines.append(
            MixLine(
                len(lines) + 1, "water", "", "water", "mL", first, first, f"about {first:g} mL", "Start with water" + (", 20 to 30 C." if warm else ".")
            )
        )
    for p in portions:
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
                p.cautions,
                p.alternatives,
            )
        )
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


def _first_water(water_ml: float, tools) -> float:
    """About three quarters of the water, in round numbers of a vessel at hand."""
    step = min((t.graduation for t in tools if t.kind in ("cylinder", "jug")), default=1.0)
    step = max(step, 5.0) if water_ml > 50 else step
    return math.floor(0.75 * water_ml / step) * step
