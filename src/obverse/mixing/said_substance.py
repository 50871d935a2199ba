"""What a part of a bath is called, held against the product it was taken for: no shared word makes another substance of it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from obverse.chemistry import BARE, MOST_OF_A_UNIT, Strength, parse_strength
from obverse.foundation import InputError, regex
from obverse.mixing.sources import contents_of
from obverse.process import OTHER, Product, substance_of
from obverse.process.catalog import products as generic_products
from obverse.process.catalog import substances

# A strength within the name of a part: "peroxide 10 volumes", "acid (66 Be)", "ammonia 10 %".
_STRENGTH = regex(
    r"\(?\s*\b(?P<said>\d+(?:[.,]\d+)?\s*(?:%(?:\s*[wv]/[wv])?|vol(?:ume)?s?\b|(?:\N{DEGREE SIGN}\s*)?b[e\N{LATIN SMALL LETTER E WITH ACUTE}]\b|mol/l\b|M\b|N\b))\s*\)?",
    re.I,
)
_CRYSTAL_WATER = regex(r"hydrat|anhydr|calcined|\b(?:mono|di|penta|hexa|deca)\b", re.I)
_HYDRATE = regex(r"_(?:mono|di|tri|penta|hexa|hepta|deca)?hydrate$")
# What a salt is a salt of: another than the product names is another salt.
_SALT_OF = frozenset(
    (
        "sodium",
        "potassium",
        "ammonium",
        "lithium",
        "calcium",
        "magnesium",
        "barium",
        "strontium",
        "zinc",
        "copper",
        "iron",
        "ferric",
        "ferrous",
        "nickel",
        "cobalt",
        "manganese",
        "tin",
        "stannous",
        "lead",
        "silver",
        "mercury",
        "mercuric",
        "aluminium",
        "aluminum",
    )
)
# Labels round; two strengths this near are one.
SAME_STRENGTH = 0.05


def told_g_per_l(weight_g: float, volume_ml: float, substance: str, *, where: str) -> str:
    """A concentration in g/L, four figures and no power of ten, so that it can be read back.

    Raises
    ------
    InputError
        If no bath can hold so much: then its volume was not said, or not understood.
    """
    told = format(Decimal(f"{1000 * weight_g / volume_ml:.4g}"), "f")
    if float(told) > MOST_OF_A_UNIT["g/L"]:
        raise InputError(
            f"{weight_g:.4g} g of {substances()[substance].name} in {volume_ml:.4g} mL are more than any bath holds",
            where=where,
            remedy="say how much the whole bath is, at the end, such as water to 1 L",
        )
    return told


def rightly_taken(what: str, taken: Product | None, products: Sequence[Product]) -> Product | None:
    """The product that a part means, where words alone took it for `taken`.

    Parameters
    ----------
    what : str
        What the part was called.
    taken : Product or None
        What shares most words with it.
    products : sequence of Product
        Of the person's shelf.

    Returns
    -------
    Product or None
        `taken` where it holds what was named in the strength that was said; else a product that does, or the substance
        itself; None where another salt was named than any that is known here.
    """
    said = _said_strength(what)
    key = _named(what)
    if key is None:
        return None if taken is None or _another_salt(what, taken) else taken
    # "Hypo" is the crystals, unless the person has none but dry.
    crystals = _dry(key) != key and (taken not in products or any(_is(p, key, said, exact=True) for p in products))
    exact = crystals or bool(_CRYSTAL_WATER.search(what))
    if taken is not None and _is(taken, key, said, exact=exact):
        return taken
    for product in (*products, *generic_products().values()):
        if len(product.contents) == 1 and _is(product, key, said, exact=True):
            return product
    return _itself(key, said) or (taken if taken is not None and _is(taken, key, None, exact=exact) else None)


def _named(what: str) -> str | None:
    # As it stands first: of "acid (66 Be)" the strength tells the acid.
    for words in (what, _STRENGTH.sub(" ", what)):
        key = substance_of(words)
        if key not in (OTHER, "water"):
            return key
    return None


def _said_strength(what: str) -> Strength | None:
    match = _STRENGTH.search(what)
    if match is None:
        return None
    told = match["said"].replace("\N{DEGREE SIGN}", "")
    if told.endswith("N"):
        # Normal: moles of acid or base; sulfuric acid has two.
        told = f"{float(told[:-1].replace(',', '.')) / (2 if re.search('sul(?:f|ph)ur', what, re.I) else 1):g} mol/L"
    try:
        return parse_strength(told)
    except InputError:
        return None


def _is(product: Product, key: str, said: Strength | None, *, exact: bool) -> bool:
    """Whether a product holds a substance, in the strength that was said; its crystal water counts where it was said."""
    for content in product.contents:
        same = content.substance == key if exact else _dry(content.substance) == _dry(key)
        if same and (said is None or _agree(parse_strength(content.strength), said)):
            return True
    return False


def _dry(key: str) -> str:
    return _HYDRATE.sub("", key)


def _agree(label: Strength, said: Strength) -> bool:
    open_percent = BARE in (label.unit, said.unit) and "%" in label.unit and "%" in said.unit
    near = abs(label.value - said.value) <= SAME_STRENGTH * said.value
    return near and (label.unit == said.unit or open_percent)


def _another_salt(what: str, taken: Product) -> bool:
    def salts(text: str) -> set[str]:
        return {_SAME_METAL.get(word, word) for word in re.findall(r"[a-z]+", text.lower()) if word in _SALT_OF}

    holds = " ".join((taken.name, *(content.substance for content in taken.contents))).replace("_", " ")
    return not salts(what) <= salts(holds)


_SAME_METAL = {"ferric": "iron", "ferrous": "iron", "stannous": "tin", "mercuric": "mercury", "aluminum": "aluminium"}


def pure_product(key: str, *, solid: bool, strength: str = "") -> Product:
    """A substance as a product of its own: pure, or of the strength that is said."""
    name = substances()[key].name
    return Product.model_validate(
        {
            "key": f"pure_{key}",
            "name": f"{name}, {strength}" if strength else name,
            "form": "solid" if solid else "liquid",
            "contents": [{"substance": key, "strength": strength or "100 % w/w"}],
            "standing": "from_memory",
        }
    )


def _itself(key: str, said: Strength | None) -> Product | None:
    """The substance as such: dry, or a solution of the strength that was said; None of a liquid that says none."""
    known = substances()[key]
    solid = known.phase == "solid" and (said is None or "%" in said.unit)
    if not solid and said is None:
        return None
    product = pure_product(key, solid=solid, strength=said.text if said is not None else "")
    try:
        return product if contents_of(product) else None
    except InputError:
        return None
