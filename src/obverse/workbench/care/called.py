"""What a person calls a thing before the checker: by key, formula sign or trade word; every meaning of it, or none that is known."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from obverse.foundation import InputError, Level, Source, Standing
from obverse.mixing import product_called
from obverse.process import Formula, Product
from obverse.process.catalog import formulas as packaged
from obverse.safety import EMPTY, Finding, Given, as_matter, known_names, meant_by, of_formula

# What stands for a thing that nobody here knows: the worst that a shop sells, an oxidiser and a strong acid. Ours.
WORST = ("laundry_bleach", "hydrochloric_acid")
# Words that many things share.
_HEADS = frozenset((
    "salt", "crystal", "powder", "remover", "cleaner", "bleach", "acid", "solution", "liquid", "concentrate", "hydrate", "anhydrous"
))  # fmt: skip
# What burns or glows in a room, and nothing that is burnt in it ("lighter" and not its fuel).
_BURNS = re.compile(
    r"(?:an? |the |lit |burning |lighted |open |naked )*(?:candles?|tea ?lights?|match(?:es)?|lighter|cigarettes?|pilot (?:light|flame)|gas (?:stove|cooker|hob|ring|burner|heater|fire|flame)|"
    r"stove|burner|fire|fireplace|hearth|spirit lamp|oil lamp|incense|(?:electric |fan |space )?heater|hot ?plate|blow ?(?:torch|lamp)|toaster|spark)"
)
# What is told of what is no bottle.
_NO_BOTTLES = (("flame",), ("drain",))
# What a sink, a toilet or a sewer is to what is poured into it.
_DRAIN = re.compile(
    r"(?:down |into |in )?(?:an? |the |my |our )?(?:(?:kitchen|bathroom|house|floor|shower|storm) )?(?:drains?|drain ?pipe|sink|wash ?basin|toilet|wc|lavatory|sewer|gully|plug ?hole|septic tank)"
)
# What is said of a bath that has done its work.
_WORN, _WHICH = frozenset(("used", "spent", "exhausted", "worn", "tired")), frozenset(("first", "second"))
# More meanings of one word are not tried.
MOST_MEANINGS = 6
_OUR_WORD = Source("what a word means in the trade and the household, from memory", Standing.FROM_MEMORY)


@dataclass(frozen=True, slots=True)
class Called:
    """A name and all that it may mean.

    Parameters
    ----------
    name : str
        As it was typed.
    meanings : tuple
        What the checker may be given for it; those of `WORST` where nothing is known.
    known : bool
        Whether anything here is called so.
    exact : bool
        Whether it is a key or a whole name.
    """

    name: str
    meanings: tuple[Given, ...]
    known: bool
    exact: bool

    def told(self, context: str = "any") -> Finding | None:
        """How the name was taken where this was asked, one of `MEETING_WORDS` or ``"any"``; nothing where it was exact."""
        if self.exact:
            return None
        *others, last = (_name(each) for each in self.meanings)
        taken = f"{'; '.join(others)} or {last}" if others else last
        if self.known:
            worst = "; the worst of them counts" if len(self.meanings) > 1 else ""
            text, level = f"{self.name!r} is taken as {taken}{worst}.", Level.NOTE
            # A sink and a candle have no label, and neither has what films have used.
            if self.meanings in _NO_BOTTLES:
                advice = "Say it in other words where something else is meant."
            elif not _WORN.isdisjoint(self.name.lower().replace("_", " ").split()):
                advice = "Say which bath it was where another is meant."
            else:
                advice = "Name it by its label, or put it on your shelf, where another is meant."
        else:
            text = f"Nothing is known here of {self.name!r}: it is judged as the worst that shops sell, {taken}."
            level = Level.CAUTION
            advice = "Read its label and safety data sheet: flame, skull and test tube pictograms, H numbers, and the words acid, lye, chlorine, oxidising, flammable, poison. Put it on the shelf with what the label says."
        return Finding(
            pair="called", severity=1, context=context, level=level, refused=False, a=self.name, b=taken,
            a_from=self.name, b_from=self.name, product=f"how {self.name!r} is taken", text=text, advice=advice, source=_OUR_WORD,
        )  # fmt: skip


def called(name: str, own: Mapping[str, Product], formulas: Mapping[str, Formula]) -> Called:
    """All that a name may mean.

    Parameters
    ----------
    own : mapping of str to Product
        The person's products by their names and keys, in small letters.
    formulas : mapping of str to Formula
        Baths that are known here, by key.
    """
    plain = name.strip().lower()
    if plain in own:
        return Called(name, (own[plain],), known=True, exact=True)
    try:
        as_matter(name)
    except InputError:
        pass
    else:
        return Called(name, (name,), known=True, exact=True)
    spoken = plain.replace("_", " ")
    if _BURNS.fullmatch(spoken):
        return Called(name, ("flame",), known=True, exact=False)
    if _DRAIN.fullmatch(spoken):
        return Called(name, ("drain",), known=True, exact=False)
    if worn := _used(spoken, formulas):
        return Called(name, worn[:MOST_MEANINGS], known=True, exact=False)
    product = product_called(name.replace("_", " "), tuple(dict.fromkeys(own.values())))
    # One word may be a bottle of the household and the work of a bath: "bleach", "fixer".
    baths = [formula for formula in formulas.values() if plain in (formula.role, *formula.key.split("_"))]
    words = meant_by(name)
    left = {word.removesuffix("s") for word in re.findall(r"[a-z]+", plain)} - EMPTY
    whole = product is not None and (product in own.values() or left <= _words(product))
    inside = {content.substance for content in product.contents} if product is not None and whole else set()
    taken = (product,) if product is not None and (whole or not words) else ()
    meanings: tuple[Given, ...] = (*taken, *baths, *(word for word in words if word not in inside))
    shared = left & _words(product) if product is not None else left
    if product is not None and meanings == (product,) and not whole and shared <= _HEADS:
        # "Red bleach" shares a word with a bottle that everybody has, and may be anything: that bottle, or the worst.
        return Called(name, (*meanings, *(key for key in WORST if key != product.key)), known=False, exact=False)
    return Called(name, meanings[:MOST_MEANINGS] or WORST, known=bool(meanings), exact=False)


def _name(given: Given) -> str:
    """In words; a used bath says that it is one."""
    return known_names().get(given, as_matter(given).name) if isinstance(given, str) else as_matter(given).name


def _used(spoken: str, formulas: Mapping[str, Formula]) -> tuple[Given, ...]:
    """Baths that "used fixer" or "spent permanganate bleach" may be, as the films have left them; none where nothing is said of use."""
    said = set(re.findall(r"[a-z]+", spoken))
    if _WORN.isdisjoint(said):
        return ()
    rest = said - _WORN - (EMPTY - _WHICH)
    return tuple(
        f"used_{formula.key}" if formula == packaged().get(formula.key) else of_formula(formula, used=True)
        for formula in formulas.values()
        if rest
        and rest <= set(re.findall(r"[a-z]+", f"{formula.key} {formula.role} {formula.name}".lower().replace("_", " ")))
    )


def _words(product: Product) -> set[str]:
    """The words by which a product is known."""
    text = " ".join((product.name, *(content.substance for content in product.contents)))
    return {word.removesuffix("s") for word in re.findall(r"[a-z]+", text.lower())}
