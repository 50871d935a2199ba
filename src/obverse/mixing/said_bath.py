"""A bath as people say it becomes a formula by active substance, read by the bottles that stand there."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from obverse.foundation import ML_PER_L, Standing, read_document, regex
from obverse.mixing.portions import SAID_AS
from obverse.mixing.said_substance import pure_product, rightly_taken, told_g_per_l
from obverse.mixing.sources import CHIEF_SHARE, Brings, contents_of
from obverse.process import (
    DEVELOPERS,
    LONGEST_NAME,
    OTHER,
    PURE,
    STRONGEST_G_PER_L,
    STRONGEST_OF_OTHERS_G_PER_L,
    Component,
    Dilution,
    Formula,
    Product,
    SaidMix,
    SaidPart,
    SaidPortion,
    substance_of,
)
from obverse.process.catalog import formulas as generic_formulas
from obverse.process.catalog import products as generic_products
from obverse.process.catalog import substances

# What a step does, and the role of its bath.
ROLE_OF = {
    "develop": "first_developer",
    "stop": "stop",
    "bleach": "bleach",
    "dissolve": "halide_solvent",
    "clear": "clearing",
    "fog": "fogging",
    "redevelop": "second_developer",
    "fix": "fixer",
    "wash": "wash_aid",
    "rinse": "acid_rinse",
    "wet": "wetting",
}
# What a bath is for whose step says it only in the person's own words, by what is in it; else it is one more bath of water.
ROLE_BY_CONTENTS = (
    ("sulfite", "clearing"),
    ("thiosulfate", "fixer"),
    ("dithionite", "fogging"),
    ("acid", "acid_rinse"),
)
ROLE_OF_OTHERS = "wetting"
# Products that a formula takes whole, by dilution: what they hold beside what the label names matters as much.
TAKEN_WHOLE = frozenset((*DEVELOPERS, "first_developer", "second_developer", "wetting_agent"))
# What a liquid that nobody here knows is taken for, by what its step does.
_BY_DILUTION = {"develop": "paper_developer", "redevelop": "paper_developer", "wet": "wetting_agent"}
# Share of the words of a part by which a product is known again; ours.
NAMED_ENOUGH = 0.5
# Words that many products share, and what one of them counts beside another word; ours.
_COMMON = frozenset({"sodium", "potassium", "ammonium", "acid", "chloride", "iron", "hydrogen"})
LITTLE_SAID = 0.25
# Metals that name a salt as well.
_METALS = frozenset({"copper", "zinc", "lead", "silver", "gold", "tin", "mercury", "aluminium", "magnesium", "calcium"})
PERCENT = 100.0
_PERCENT = regex(r"(\d+(?:[.,]\d+)?)\s*%(?:\s*(?:w/w|w/v|v/v))?", re.I)
# Parts of water nearer than this to a whole number are told as 1+n; measuring is no finer.
WHOLE_PARTS = 0.05
# What a thing is said to be without is not in it.
_WITHOUT = regex(r"[\s,]*\b(?:without|free\s+of|no|not)\b.*$", re.I)
# Words that tell nothing apart.
_FILLERS = frozenset(
    [
        "a",
        "an",
        "and",
        "the",
        "of",
        "in",
        "with",
        "my",
        "our",
        "own",
        "some",
        "household",
        "solution",
        "concentrate",
        "powder",
        "liquid",
        "general",
        "purpose",
        "distilled",
        "about",
        "level",
        "heaped",
        "crystals",
        "granules",
        "w",
        "v",
    ]
)
# Other words for what the catalogue calls by one name; common usage, from memory.
_SAME = {
    "syrup": "developer",
    "dev": "developer",
    "hypo": "thiosulfate",
    "fix": "fixer",
    "etching": "etchant",
    "lye": "caustic",
    "sulphuric": "sulfuric",
    "ferric": "iron",
    "sulphite": "sulfite",
    "metabisulphite": "metabisulfite",
    "bisulphite": "metabisulfite",
    "bisulfite": "metabisulfite",
    "thiosulphate": "thiosulfate",
    "hydrosulfite": "dithionite",
    "hydrosulphite": "dithionite",
    "perhydrol": "peroxide",
    "bichromate": "dichromate",
}


@dataclass(frozen=True, slots=True)
class SaidBath:
    """What was made of a bath as said.

    Parameters
    ----------
    formula : Formula or None
        None where nothing in it is known here.
    taken : tuple of (str, str)
        What each part was called, and the product or substance it was taken for.
    unread : tuple of str
        Parts of which nothing is known here.
    volume_ml : float or None
        What the person mixes of it; None where only proportions were said.
    choices : tuple of (str, str)
        Substance or role, and the key of the product that was said: another that holds it too is not meant.
    supposed : str
        What had to be supposed of how it is mixed; empty where nothing.
    vague : tuple of str
        Pinches and capfuls, with what they were taken for and how far from it they may be.
    """

    formula: Formula | None
    taken: tuple[tuple[str, str], ...]
    unread: tuple[str, ...]
    volume_ml: float | None
    choices: tuple[tuple[str, str], ...] = ()
    supposed: str = ""
    vague: tuple[str, ...] = ()


def read_said(
    mix: SaidMix,
    products: Sequence[Product],
    *,
    key: str,
    name: str,
    kind: str,
    keep: bool,
    lost: Sequence[str] = (),
    tank_ml: float | None = None,
) -> SaidBath:
    """The formula of a bath as said.

    Parts are looked for among `products` first, then among the generic ones and the substances. A product that a
    formula takes by dilution stays one: on another bench another product of that role may stand for it.

    Parameters
    ----------
    products : sequence of Product
        Of the person's shelf.
    key, name : str
        Of the formula.
    kind : str
        What its step does; see `obverse.process.Step`.
    keep : bool
        Whether the bath goes back to its jug after use.
    lost : sequence of str
        What else was said to go in, of which not even the amount could be read.
    tank_ml : float, optional
        What the bath fills where its volume was not said, mL; default a litre.

    Returns
    -------
    SaidBath
        With no formula where nothing in the mix is known here, or it is kept as words.
    """
    if mix.way == "words":
        return SaidBath(None, (), (mix.text, *lost), None)
    said_ml = mix.volume_ml()
    volume_ml = said_ml.best if said_ml is not None and said_ml.best > 0 else _poured_ml(mix, tank_ml)
    grams: dict[str, float] = {}
    words: dict[str, str] = {}
    standings: dict[str, Standing] = {}
    dilutions: list[Dilution] = []
    taken, unread, choices = [], [], {}
    meant: set[str] = set()
    stocks: list[tuple[str, float]] = []
    vague: list[str] = []
    # As it stands on the list of the bath: nobody reckons it, but the person puts it in.
    as_said = list(lost)
    for portion in mix.portions(None if said_ml is not None else volume_ml):
        what = portion.part.what.strip()
        amount = portion.grams.best if portion.grams is not None else portion.amount.best
        called = _WITHOUT.sub("", what).strip()
        product = _pure_by_weight(called, portion) or _product(
            portion.part.model_copy(update={"what": called}), products
        )
        if not portion.part.product and not (product is not None and called.startswith(f"{PURE} ")):
            product = rightly_taken(called, product, products) or _named_within(called, products)
            product = _as_weighed(called, portion, product)
        if portion.part.amount.unit in _VAGUE and portion.part.amount.weighs_g is None:
            vague.append(_vague_told(portion, solid=product is not None and product.form == "solid"))
        known_salt = False
        if product is not None and product.form == "solid" and portion.grams is None:
            # So many mL of a salt are a solution of it; so many of "hydroquinone developer" are no powder.
            product, known_salt = _in_solution(called, product), substance_named(called) is not None
            known_salt = known_salt and not _DEVELOPER.search(called)
            if kind in _BY_DILUTION and not known_salt and product is not None and product.form == "solid":
                product = None
        whole = None if product is None else _taken_whole(product)
        if product is not None and whole is not None and portion.quantity == "volume":
            dilutions.append(_dilution(whole, amount, volume_ml, mix, product.name))
            choices[whole] = product.key
            taken.append((what, product.name))
            continue
        if product is not None:
            solid = product.form == "solid"
            if solid and portion.grams is None:
                unread.append(what)
                as_said.append(f"{portion.part.amount.tell()} {what}")
                continue
            brought = contents_of(product)
            if not solid and portion.quantity == "mass":
                amount /= _g_per_ml(product, brought)
            if not brought and product.roles:
                # Nothing is known of what is in it: it stays what the person uses it as.
                text = f"{1000 * amount / volume_ml:.4g} {'g/L' if solid else 'mL/L'}"
                note = f"{product.name}: {mix.text}"[:400]
                dilutions.append(Dilution(product_role=product.roles[0], dilution=text, note=note))
                choices[product.roles[0]] = product.key
                taken.append((what, product.name))
                continue
            chief = CHIEF_SHARE * max((b.grams_per_unit for b in brought), default=0.0)
            for brings in brought:
                grams[brings.substance.key] = grams.get(brings.substance.key, 0.0) + amount * brings.grams_per_unit
                standings[brings.substance.key] = product.standing
                if brings.grams_per_unit >= chief:
                    meant.add(brings.substance.key)
                    choices.setdefault(brings.substance.key, product.key)
                words.setdefault(brings.substance.key, portion.part.amount.tell())
            taken.append((what, product.name))
            continue
        if (
            kind in _BY_DILUTION
            and portion.quantity == "volume"
            and portion.grams is None
            and _is_stock(called)
            and stocks
        ):
            # Two stocks of one developer are one dilution of it.
            stocks.append((what, amount))
            together = " and ".join(name for name, _ in stocks)
            dilutions[-1] = _dilution(dilutions[-1].product_role, sum(a for _, a in stocks), volume_ml, mix, together)
            taken.append((what, taken[-1][1]))
            continue
        by_dilution = kind in _BY_DILUTION and not known_salt
        if by_dilution and portion.quantity == "volume" and portion.grams is None and not dilutions:
            role = _BY_DILUTION[kind]
            if _is_stock(called):
                stocks.append((what, amount))
            dilutions.append(_dilution(role, amount, volume_ml, mix, what))
            taken.append((what, f"any {role.replace('_', ' ')}"))
            continue
        unread.append(what)
        as_said.append(f"{portion.part.amount.tell()} {what}".strip())
    components = tuple(
        Component(
            substance=substance,
            concentration=f"{told_g_per_l(weight, volume_ml, substance, where=name)} g/L",
            standing=standings[substance],
            source="read from the mix as said",
            add_order=order,
            beside=substance not in meant,
            note=f"{SAID_AS} {words[substance]}",
        )
        for order, (substance, weight) in enumerate(grams.items(), start=1)
        if weight > 0
    )
    best_ml = None if said_ml is None else said_ml.best
    if not components and not dilutions:
        return SaidBath(None, tuple(taken), (*unread, *lost), best_ml)
    role = _role(kind, components)
    like = _alike(components, role)
    formula = Formula(
        key=key,
        name=name,
        role=role,
        components=components,
        dilutions=tuple(dilutions)[:4],
        unread=tuple(as_said),
        keeps=like.keeps if like else "",
        one_shot=not keep,
        make_just_before_use=bool(like and like.make_just_before_use),
        use_within_min=like.use_within_min if like else None,
        note=f"As said: {mix.text}"[:2000],
    )
    return SaidBath(formula, tuple(taken), (*unread, *lost), best_ml, tuple(choices.items()), mix.reading, tuple(vague))


# Measures that nobody has in common with another.
_VAGUE = frozenset(("pinch", "dash", "capful", "splash"))


def _vague_told(portion: SaidPortion, *, solid: bool) -> str:
    amount = portion.grams if solid and portion.grams is not None else portion.amount
    unit = "g" if solid and portion.grams is not None else "mL"
    span = f"{amount.best:.2g} {unit} ({amount.low:.2g} to {amount.high:.2g})"
    return f"{portion.part.amount.text} of {portion.part.what or 'it'} as {span}"


# One of two or more solutions that only work together.
_STOCK = regex(
    r"^(?:(?:stock|part|solution|bottle|component|bath)\s*)?(?:solution\s*)?[A-D]$|^stock\s+(?:one|two|1|2)$", re.I
)


def _is_stock(what: str) -> bool:
    return bool(_STOCK.match(what.strip()))


_DEVELOPER = regex(r"\bdev(?:eloper)?\b", re.I)


def _in_solution(what: str, product: Product) -> Product:
    """The solution of a salt whose percentage was said; the salt itself where none was."""
    key, strength = substance_named(what), _PERCENT.search(what)
    if key is None or strength is None:
        return product
    return pure_product(key, solid=False, strength=f"{strength[1].replace(',', '.')} % w/v")


def _pure_by_weight(what: str, portion: SaidPortion) -> Product | None:
    """The substance itself, where what was said is so much of it and no bottle."""
    head, _, name = what.partition(" ")
    key = substance_of(name) if head.lower() == PURE and portion.quantity == "mass" else OTHER
    return None if key in (OTHER, "water") else pure_product(key, solid=True)


def _g_per_ml(product: Product, brought: Sequence[Brings]) -> float:
    """What a mL of a liquid weighs: its label's word, else what its strength by weight comes to, else as water."""
    if product.density_g_per_ml is not None:
        return product.density_g_per_ml
    for content, brings in zip((c for c in product.contents if not c.is_other), brought, strict=False):
        if content.parsed.unit == "% w/w" and content.parsed.value > 0:
            return PERCENT * brings.grams_per_unit / content.parsed.value
    return 1.0


def _as_weighed(what: str, portion: SaidPortion, product: Product | None) -> Product | None:
    """What was weighed is the dry substance, where no bottle of the person's is meant."""
    key = substance_of(what)
    solution = (
        product is not None
        and product.form == "liquid"
        and product.key in generic_products()
        and portion.quantity == "mass"
    )
    if not solution or key in (OTHER, "water") or substances()[key].phase != "solid":
        return product
    return pure_product(key, solid=True)


def product_called(what: str, products: Sequence[Product]) -> Product | None:
    """The product or pure substance that a person means by a name; None where nothing here is called so.

    Parameters
    ----------
    what : str
        Such as ``"KMnO4"``, ``"javel"``, ``"pool acid"``, ``"peroxide 10 volumes"``.
    products : sequence of Product
        Of the person's shelf.
    """
    if len(what) > LONGEST_NAME:
        return None
    part = read_document(SaidPart, {"what": what, "amount": "1 part"}, where="mix")
    return rightly_taken(what, _product(part, products), products) or _named_within(what, products)


def _taken_whole(product: Product) -> str | None:
    """The use for which a product is taken by dilution and not by what is in it; None where its substances say more."""
    known = bool(contents_of(product))
    return next((role for role in product.roles if role in TAKEN_WHOLE or not known), None)


def _dilution(role: str, amount_ml: float, volume_ml: float, mix: SaidMix, name: str) -> Dilution:
    parts_water = volume_ml / amount_ml - 1
    whole = abs(parts_water - round(parts_water)) < WHOLE_PARTS and parts_water >= 1
    text = f"1+{round(parts_water)}" if whole else f"{1000 * amount_ml / volume_ml:.4g} mL/L"
    return Dilution(product_role=role, dilution=text, note=f"{name}: {mix.text}"[:400])


def _product(part: SaidPart, products: Sequence[Product]) -> Product | None:
    """The product that a part names: by its key, else the one that shares most words; the person's own first."""
    if part.product:
        return next((p for p in (*products, *generic_products().values()) if p.key == part.product), None)
    wanted = words_of(part.what)
    if not wanted:
        return None
    found = [
        one
        for shelf in (products, tuple(generic_products().values()))
        if (one := _best(part.what, wanted, shelf)) is not None
    ]
    named = next((product for product, fit in found if fit == 1), None)
    return named or _pure(wanted) or next((product for product, _ in found), None)


def _named_within(what: str, products: Sequence[Product]) -> Product | None:
    """What brings the substance whose name is in what was said; as strong as shops sell it where nobody says how strong."""
    key = substance_named(what)
    if key is None:
        return None
    strength = _PERCENT.search(what)
    said = f"{strength[1].replace(',', '.')} % w/w" if strength else ""
    return rightly_taken(f"{key.replace('_', ' ')} {said}".strip(), None, products) or _as_sold(key)


def _as_sold(key: str) -> Product:
    """A substance as strong as shops sell it."""
    solid = substances()[key].phase == "solid"
    strength = "100 % w/w" if solid else f"{STRONGEST_G_PER_L.get(key, STRONGEST_OF_OTHERS_G_PER_L):g} g/L"
    return pure_product(key, solid=solid, strength=strength)


def substance_named(what: str) -> str | None:
    """Key of the substance that a thing is called by, the whole of it or the longest run of its words; None for none."""
    words = _PERCENT.sub(" ", what).split()
    for count in range(len(words), 0, -1):
        for start in range(len(words) - count + 1):
            called = words[start : start + count]
            # "Sodium" in the name of a salt is not the metal.
            if count < len(words) and count == 1 and called[0].lower() in _COMMON | _METALS:
                continue
            key = substance_of(" ".join(called))
            if key not in (OTHER, "water"):
                return key
    return None


def _best(what: str, wanted: frozenset[str], shelf: Sequence[Product]) -> tuple[Product, float] | None:
    """The product of a shelf that shares most words, and what share of them; None where none shares enough."""
    scored = [(_fit(wanted, p), _numbers(what, p), -len(words_of(p.name)), -place) for place, p in enumerate(shelf)]
    best = max(scored, default=None)
    if best is None or best[0] < NAMED_ENOUGH:
        return None
    return shelf[-best[3]], best[0]


def _weight(words: Iterable[str]) -> float:
    """How much words tell: a salt is known by its anion, an acid by its name."""
    return sum(LITTLE_SAID if word in _COMMON else 1.0 for word in words)


def _poured_ml(mix: SaidMix, tank_ml: float | None) -> float:
    """What measured liquids make together, where no volume was said and nothing fills them up."""
    liquids = [p.amount.best for p in mix.parts if p.amount.quantity == "volume" and not p.amount.is_spoon]
    measured = all(p.amount.quantity != "parts" and p.per_ml is None for p in mix.parts)
    filled = mix.way == "to_the_mark" and tank_ml is not None
    return sum(liquids) if liquids and measured and not filled else tank_ml or ML_PER_L


def _numbers(what: str, product: Product) -> int:
    """How many strengths in words the product has on its label."""
    return len(set(re.findall(r"\d+", what)) & set(re.findall(r"\d+", product.name)))


def _fit(wanted: frozenset[str], product: Product) -> float:
    """Share of the words that name this product, its contents counting as its names."""
    named = words_of(product.name) | {
        word for content in product.contents for word in words_of(content.substance.replace("_", " "))
    }
    return _weight(wanted & named) / _weight(wanted)


def _pure(wanted: frozenset[str]) -> Product | None:
    """A substance that is called so, taken as pure."""
    for key, known in substances().items():
        called = words_of(known.name.partition(",")[0])
        if known.phase == "solid" and called and called <= wanted:
            return pure_product(key, solid=True)
    return None


def words_of(text: str) -> frozenset[str]:
    """The words by which a thing is known again, in one spelling.

    Parameters
    ----------
    text : str
        What it is called.

    Returns
    -------
    frozenset of str
        Without those that tell nothing apart.
    """
    found: Iterable[str] = re.findall(r"[a-z]{2,}", text.lower())
    singular = (word[:-1] if word.endswith("s") and not word.endswith("ss") else word for word in found)
    return frozenset(_SAME.get(word, word) for word in singular if word not in _FILLERS)


def _role(kind: str, components: Sequence[Component]) -> str:
    """What a bath is for, by what is in it where the step's word covers two: ammonia after an etchant bleaches nothing."""
    inside = {component.substance for component in components}
    if kind == "bleach" and inside == {"ammonia"}:
        return "halide_solvent"
    by_contents = (role for word, role in ROLE_BY_CONTENTS if any(word in substance for substance in inside))
    return ROLE_OF.get(kind) or next(by_contents, ROLE_OF_OTHERS)


def _alike(components: Sequence[Component], role: str) -> Formula | None:
    """The formula of the house of that role whose chief substances are in this bath: it knows how long such a bath lives."""
    inside = {component.substance for component in components}
    for formula in generic_formulas().values():
        if formula.role != role:
            continue
        chief = {component.substance for component in formula.components}
        if not chief or chief & inside or role == "first_developer":
            return formula
    return None
