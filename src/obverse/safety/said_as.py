"""What plain words of house, garden and trade mean to the hazard rules: each word with the substances it may stand for.

Where shops sell several things under one word, all are listed; where the very substance is not known here, its nearest kin stands
for it. Our knowledge, from memory: a label that says otherwise goes before it.
"""

from __future__ import annotations

import json
import re
from functools import cache
from importlib.resources import files

# Plain matter of the house: of what it is made is known, and it holds nothing else where nothing else is said ("film cleaner" is no film).
MATTER: dict[str, str] = {
    word: key
    for key, words in json.loads(
        files("obverse.safety").joinpath("data/matter_of_the_house.json").read_text(encoding="utf-8")
    ).items()
    for word in words
}
# What is said of such a thing without making it another: where it is, how wet, whose.
_HANDLED = frozenset((
    "a", "an", "the", "my", "our", "some", "few", "of", "in", "on", "over", "up", "to", "at", "and", "new", "old", "clean", "big", "small",
    "wet", "damp", "dry", "drying", "hung", "hanging", "lying", "standing", "warm", "cold", "cool", "bare", "first", "second", "two", "three",
    "house", "home", "kitchen", "cellar", "bathroom", "line", "led", "red",
))  # fmt: skip
# Words that mean a thing only where nothing else is said: "mystery salt" is not table salt.
VAGUE = frozenset((
    "acid", "air", "ether", "oil", "paint", "paper", "rinse", "salt", "silver", "soda", "spirit", "stop", "wash", "water", "wood", "plastic", "rubber", "foam", "hair", "sand", "rust", "resin", "leather", "sponge", "batteries", "rechargeable"
))  # fmt: skip
# Words of a name that say nothing of what it is.
EMPTY = frozenset((
    "a", "an", "the", "of", "some", "my", "our", "old", "new", "used", "spent", "fresh", "cheap", "strong", "weak", "plain", "pure",
    "bit", "bottle", "box", "tin", "bag", "jar", "tub", "rest", "powder", "crystal", "solution", "liquid", "concentrate", "granule",
    "working", "house", "household", "home", "kitchen", "garage", "cellar", "big", "small", "tap", "hot", "warm", "lukewarm", "cold", "cool",
    "boiling", "running", "standing", "dripping", "distilled", "clean", "dirty", "first", "second", "waste", "stock", "strength", "in", "c",
))  # fmt: skip


@cache
def said_words() -> dict[str, tuple[str, ...]]:
    """Substance keys by the word that may mean them, the likeliest first."""
    rows = json.loads(files("obverse.safety").joinpath("data/said_as.json").read_text(encoding="utf-8"))
    return {word: (meant,) if isinstance(meant, str) else tuple(meant) for word, meant in (rows | MATTER).items()}


# Metals by name, the ones not known here as their nearest kin, and the shapes in which a metal is bare and no salt.
_METALS = {
    "copper": "copper", "brass": "copper", "bronze": "copper", "silver": "silver", "lead": "lead", "tin": "iron", "pewter": "lead", "iron": "iron", "steel": "iron", "nickel": "iron",
    "chromium": "iron", "cobalt": "iron", "zinc": "zinc", "aluminium": "aluminium", "aluminum": "aluminium", "magnesium": "magnesium", "titanium": "aluminium", "calcium": "magnesium",
    "sodium": "sodium", "potassium": "sodium", "lithium": "sodium",
}  # fmt: skip
_SHAPES = (
    "turning", "filing", "powder", "dust", "shaving", "piece", "chip", "scrap", "sheet", "plate", "rod", "wire", "coil", "tube", "pipe", "nail", "clipping", "mesh", "granule",
    "ribbon", "grain", "strip", "lump", "chunk", "offcut", "swarf", "gauze", "wool", "shot", "bar", "ingot", "coin", "flake", "foil", "disc", "metal",
)  # fmt: skip
# Salts of these are sold as powder, pieces or lumps too: only what nobody sells of a salt says the metal.
_SALTS_TOO = frozenset(("calcium", "potassium", "sodium", "chromium", "cobalt", "nickel"))
_ONLY_METAL = frozenset(("turning", "wire", "metal", "foil", "ingot", "shaving", "chunk"))
_METAL_IN_SHAPE = re.compile(rf"(?<![a-z])({'|'.join(_METALS)})(?: metal)? ({'|'.join(_SHAPES)})s?(?![a-z])")


def bare_metal(name: str) -> str | None:
    """Metal that a name says by its shape, such as ``"copper turnings"``; None where it says none.

    Parameters
    ----------
    name : str
        Lower case.
    """
    said = _METAL_IN_SHAPE.search(name)
    if said is None or said[0] in said_words() or said[0].removesuffix("s") in said_words():
        return None
    return None if said[1] in _SALTS_TOO and said[2] not in _ONLY_METAL else _METALS[said[1]]


# What says nothing of the harm where the other half of the name tells more.
_MILD = frozenset(
    (
        "sodium_chloride",
        "sodium_sulfate",
        "sodium_acetate",
        "sodium_citrate",
        "trisodium_phosphate",
        "sodium_carbonate",
        "calcium_carbonate",
        "sodium_bicarbonate",
    )
)


@cache
def _salts() -> tuple[re.Pattern[str], dict[str, str], dict[str, str]]:
    """A pattern of "metal acid" and "acid of metal", and what each metal and each acid is taken as."""
    rows = json.loads(files("obverse.safety").joinpath("data/salts_as.json").read_text(encoding="utf-8"))
    metals, acids = ({word: key for key, words in rows[part].items() for word in words} for part in ("metals", "acids"))
    metal, acid = ("|".join(sorted(map(re.escape, words), key=len, reverse=True)) for words in (metals, acids))
    few = "(?:(?:mono|di|tri|tetra|penta|bi|sesqui|per|proto)-?)??"
    return (
        re.compile(
            rf"(?<![a-z])(?:(?P<metal>{metal}) ?(?:\([iv]+\))? {few}(?P<acid>{acid})|{few}(?P<first>{acid}) of (?P<of>{metal}))(?![a-z])"
        ),
        metals,
        acids,
    )


def salts_in(name: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Salts that a name is composed of, new style or old, which no word of the list says as a whole.

    Parameters
    ----------
    name : str
        Lower case, such as ``"thallium nitrate"`` or ``"muriate of iron"``.

    Returns
    -------
    tuple
        Of each its words and the keys of what it counts as: the harm of its acid, then that of its metal.
    """
    pattern, metals, acids = _salts()
    found = []
    for match in pattern.finditer(name):
        if any(word in match[0] or match[0] in word for word in said_words() if " " in word and match[0] != word):
            continue
        if match[0] in said_words():
            continue
        metal, acid = metals[match["metal"] or match["of"]], acids[match["acid"] or match["first"]]
        told = [key for key in (acid, metal) if key and not (key in _MILD and metal)]
        found.append((match[0], tuple(dict.fromkeys(told)) or (acid,)))
    return tuple(found)


@cache
def _matter_words() -> re.Pattern[str]:
    return re.compile(
        rf"(?<![a-z])({'|'.join(sorted(map(re.escape, MATTER), key=len, reverse=True))})(?:e?s)?(?![a-z])"
    )


def plain_matter(name: str) -> tuple[str, ...]:
    """What a name is made of that says nothing but things of the house, such as ``"wet film on the drying line"``; else empty."""
    left = name.lower()
    found = dict.fromkeys(match[1] for match in _matter_words().finditer(left))
    if not set(re.findall(r"[a-z]+", _matter_words().sub(" ", left))) <= _HANDLED:
        return ()
    return tuple(dict.fromkeys(MATTER[word] for word in found))


@cache
def _longest_first() -> tuple[str, ...]:
    return tuple(sorted(said_words(), key=len, reverse=True))


def meant_by(name: str) -> tuple[str, ...]:
    """Substances that a name may mean by the words in it, longest words first; empty where none is known.

    Parameters
    ----------
    name : str
        As a person says it, such as ``"drain cleaner"`` or ``"old spirit of salts"``.

    Returns
    -------
    tuple of str
        Keys. Where several words are in it, all that they may mean.
    """
    left = " ".join(name.lower().replace("sulph", "sulf").replace("_", " ").split())
    if left in said_words():
        return said_words()[left]
    if matter := plain_matter(left):
        return matter
    found: list[str] = []
    if metal := bare_metal(left):
        found.append(metal)
        left = _METAL_IN_SHAPE.sub(" ", left)
    for words, keys in salts_in(left):
        found += keys
        left = left.replace(words, " ")
    for word in _longest_first():
        if word not in left or word in MATTER:
            continue
        here = re.compile(rf"(?<![a-z]){re.escape(word)}(?:e?s|y)?(?![a-z])")
        if here.search(left) is None:
            continue
        rest = {each.removesuffix("s") for each in re.findall(r"[a-z]+", here.sub(" ", left))}
        if word in VAGUE and (found or not rest <= EMPTY):
            continue
        found += said_words()[word]
        left = here.sub(" ", left)
    return tuple(dict.fromkeys(found))
