"""A label in its own words becomes a product: what is read is reckoned with, what is not stays as it was said.

Only what cannot be is refused (more than 100 %, less than nothing); each complaint names its field.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Literal, NotRequired, TypedDict, TypeVar

from pydantic import Field

from obverse.chemistry import HEAVY_MODULUS, LIGHT_MODULUS, LIGHT_OFFSET, NOT_SAID, parse_strength
from obverse.foundation import Document, InputError, JsonObject, System, parse_number, regex, take_number, take_unit
from obverse.process.catalog import substances
from obverse.process.product import OTHER, STATEMENT, USES, Content, Product
from obverse.process.said import parse_amount
from obverse.process.substance_words import plain_words, substance_of

# As long as the name of a product may be.
MOST_WORDS = 160
# A salt of another name on the label than what is counted: how far the strength may be off (ammonia told as its hydroxide,
# which weighs twice as much).
HYDROXIDE_DOUBT = 0.3
# No liquid of a shop is lighter or heavier than this, g/mL.
LIGHTEST, HEAVIEST = 0.3, 4.0


T = TypeVar("T")


class _ContentFields(TypedDict):
    """Fields of a `Content` as they are read from a line of a label."""

    substance: str
    strength: str
    name: NotRequired[str]
    said: NotRequired[str]
    strength_relative_sd: NotRequired[float]


class LabelContent(Document):
    """One line of what a label names."""

    substance: str = Field(max_length=MOST_WORDS, description="as the label calls it, or a key of the list")
    strength: str = Field(default="", max_length=80, description="as printed; empty where it says nothing")
    doubt_percent: str = Field(default="", max_length=20, description="how far it may be off, where the person knows")


class ProductLabel(Document):
    """What a label says, field by field as a person types it."""

    name: str = Field(max_length=MOST_WORDS)
    form: str = Field(default="liquid", max_length=60, description="liquid, powder, granules, tablets ...")
    contents: tuple[LabelContent, ...] = Field(default=(), max_length=20)
    use: str = Field(default="", max_length=200, description="how to dilute, as printed")
    roles: tuple[str, ...] = Field(default=(), max_length=len(USES))
    density: str = Field(default="", max_length=80, description="such as 1.32 g/mL, 42 Be, 9.2 lb/gal")
    package: str = Field(default="", max_length=80, description="such as 1 L bottle, 64 fl oz, 2 x 75 g")
    price: str = Field(default="", max_length=40)
    statements: str = Field(default="", max_length=400, description="hazard statements, such as H314, EUH031")
    additives: tuple[str, ...] = Field(default=(), max_length=20)
    household: bool = False
    note: str = Field(default="", max_length=2000)


@dataclass(frozen=True, slots=True)
class FieldProblem:
    """Why one field cannot be used.

    Parameters
    ----------
    field : str
        Such as ``"strength[2]"`` or ``"density"``.
    """

    field: str
    error: InputError


@dataclass(frozen=True, slots=True)
class LabelRead:
    """What came of a label.

    Parameters
    ----------
    document : dict
        Of the product, for `read_document`; whole only where there is no problem.
    problems : tuple of FieldProblem
        What cannot be, field by field.
    readings : tuple of str
        What was read otherwise than it stands there, in words.
    unread : tuple of FieldProblem
        Words of which nothing was read, field by field; the note of the product has them.
    """

    document: JsonObject
    problems: tuple[FieldProblem, ...]
    readings: tuple[str, ...]
    unread: tuple[FieldProblem, ...] = ()


def read_label(label: ProductLabel, *, usual: System = "metric") -> LabelRead:
    """Read a label.

    Parameters
    ----------
    usual : str
        System of a fluid or kitchen measure that names none.

    Returns
    -------
    LabelRead
        Its problems are empty where a product can be made of it.
    """
    problems: list[FieldProblem] = []
    readings: list[str] = []
    unread: dict[str, str] = {}

    def given(field: str, work: Callable[[], T]) -> T | None:
        try:
            return work()
        except InputError as error:
            problems.append(FieldProblem(field, error))
            return None

    form = _form(label.form)
    if not label.name.strip():
        problems.append(
            FieldProblem("name", InputError("it has no name", where="name", remedy="write what the label calls it"))
        )
    contents = []
    for i, line in enumerate(label.contents):
        told = line.strength.strip() or line.doubt_percent.strip()
        if not line.substance.strip() and not told:
            continue
        if not line.substance.strip():
            missing = InputError(
                f"{told!r} of what", where="substance", remedy="write the substance, or clear what stands beside it"
            )
            problems.append(FieldProblem(f"substance[{i}]", missing))
            continue
        if substance_of(line.substance) == "water":
            continue
        doubt = given(f"doubt[{i}]", partial(_doubt, line))
        content = given(f"strength[{i}]", partial(_content, line, doubt, form, readings))
        if content is not None:
            contents.append(content)
    density = None
    if form == "liquid" and label.density.strip():
        light = any(c["substance"] == "ammonia" for c in contents)
        density = given("density", lambda: _density(label.density, light=light))
        if density is None and not any(p.field == "density" for p in problems) and not _is_nothing(label.density):
            unread["density"] = label.density.strip()
    package = None
    if label.package.strip():
        package = given("package", lambda: _package(label.package, form, density, usual))
        if package is None and not any(p.field == "package" for p in problems) and not _is_nothing(label.package):
            if re.search(r"\d", label.package):
                # "50 tablets" says how much it is all the same.
                readings.append(f"{label.package!r} was read as no amount in {'mL' if form == 'liquid' else 'g'}")
            else:
                unread["package"] = label.package.strip()
    if label.use.strip() and not _says_how(label.use) and not _is_nothing(label.use):
        unread["dilution"] = label.use.strip()
    readings += [f"no {field} was read in {words!r}; the note has it" for field, words in unread.items()]
    price = given("price", lambda: _price(label.price)) if label.price.strip() else None
    statements, beside = _statements(label.statements)
    if beside:
        readings.append(f"{beside!r} is no hazard statement; it is kept in the note")
    asides = [f"Also on the label: {beside}"] if beside else []
    asides += [f"On the label, {field}: {words}" for field, words in unread.items()]
    document: dict[str, object] = {
        "name": label.name.strip(),
        "form": form,
        "contents": contents,
        "roles": [role for role in label.roles if role in USES],
        "dilution": "" if "dilution" in unread else label.use.strip(),
        "statements": list(statements),
        "density_g_per_ml": density,
        "density_said": "" if "density" in unread else label.density.strip(),
        "package_amount": package,
        "package_said": "" if "package" in unread else label.package.strip(),
        "package_price": price,
        "additives": list(dict.fromkeys((*label.additives, *_additives(contents)))),
        "household": label.household,
        "note": "\n".join(filter(None, (label.note.strip(), *(a for a in asides if a not in label.note))))[:2000],
    }
    return LabelRead(document, tuple(problems), tuple(readings), tuple(_unread(*one) for one in unread.items()))


# How each of them is written where it can be read.
_WRITTEN = {"density": "1.32 g/mL or 42 Be", "package": "500 mL or 1 lb", "dilution": "1+14 or 20 mL/L"}


def _unread(field: str, words: str) -> FieldProblem:
    remedy = f"write it like {_WRITTEN[field]}, or keep it in the note"
    return FieldProblem(field, InputError(f"no {field} was read in {words!r}", remedy=remedy))


_NUMBER_WORDS = regex(
    r"\b(?:one|two|three|four|five|six|seven|eight|nine|ten|twelve|fifteen|twenty|half|equal)\b", re.I
)
_AS_IT_IS = regex(r"\b(?:neat|undiluted|ready|as it is|as is|full strength|straight|stock|working|unverd|pur)", re.I)


def _says_how(words: str) -> bool:
    """Whether a dilution holds a figure, two numbers in words, or that nothing is to be done."""
    in_words = len(_NUMBER_WORDS.findall(words))
    return bool(re.search(r"\d", words) or in_words > 1 or _AS_IT_IS.search(words))


def label_of(product: Product) -> ProductLabel:
    """A product as its label was typed, to be corrected.

    Returns
    -------
    ProductLabel
        Fields in words; empty where the product says nothing or what is usual.
    """
    return ProductLabel(
        name=product.name,
        form="liquid" if product.form == "liquid" else "powder",
        contents=tuple(
            LabelContent(
                substance=c.name or (substances()[c.substance].name if c.substance in substances() else c.substance),
                strength=c.said or c.strength,
                doubt_percent="" if c.strength_relative_sd == _USUAL_DOUBT else f"{100 * c.strength_relative_sd:g}",
            )
            for c in product.contents
        ),
        use=product.dilution,
        roles=product.roles,
        density=product.density_said or (f"{product.density_g_per_ml:g}" if product.density_g_per_ml else ""),
        package=product.package_said or (f"{product.package_amount:g}" if product.package_amount else ""),
        price="" if product.package_price is None else f"{product.package_price:g}",
        statements=", ".join(product.statements),
        additives=product.additives,
        household=product.household,
        note=product.note,
    )


_USUAL_DOUBT = Content.model_fields["strength_relative_sd"].default
_SOLID = regex(
    r"powder|granul|crystal|tablet|flake|pellet|salt|solid|bead|prill|pulver|stick|bag|sachet|lump|capsule|stone|chip|dust|pearl|grain|block",
    re.I,
)


def _form(words: str) -> Literal["liquid", "solid"]:
    return "solid" if _SOLID.search(words) and not re.match(r"\s*liquid", words, re.I) else "liquid"


def _is_nothing(words: str) -> bool:
    try:
        return parse_strength(words).unit == NOT_SAID
    except InputError:
        return False


def _doubt(line: LabelContent) -> float | None:
    words = line.doubt_percent.strip()
    return parse_number(words, where="doubt of the strength") / 100 if words else None


def _content(line: LabelContent, doubt: float | None, form: str, readings: list[str]) -> _ContentFields:
    words, said = line.substance.strip(), line.strength.strip()
    key = substance_of(words)
    strength = said or NOT_SAID
    try:
        parse_strength(strength)
    except InputError as error:
        cannot_be = re.search(r"more than can be|less than nothing|cannot be|runs backwards|may be", error.what)
        if cannot_be or _looks_like_a_slip(strength):
            raise
        readings.append(f"{said!r} of {words} says no share: it is reckoned as not said")
        strength = NOT_SAID
    if form == "solid" and parse_strength(strength).unit in ("g/L", "mol/L", "mL/L", "% v/v", "% w/v", "vol", "Be"):
        readings.append(f"{said!r} is the strength of a liquid, and this is none: it is reckoned as not said")
        strength = NOT_SAID
    content: _ContentFields = {"substance": key, "strength": strength}
    if key == OTHER or plain_words(words) != plain_words(substances()[key].name):
        content["name"] = words[:120]
    if said and strength != said:
        content["said"] = said[:80]
    if doubt is not None:
        content["strength_relative_sd"] = doubt
    elif key == "ammonia" and re.search(r"hydroxid", words, re.I):
        content["strength_relative_sd"] = HYDROXIDE_DOUBT
        readings.append("ammonium hydroxide is reckoned as ammonia, which weighs half of it: its strength is doubtful")
    return content


def _looks_like_a_slip(text: str) -> bool:
    """A number and a percent sign, or g/L, that still cannot be read: a slip of the finger, to be asked about."""
    return bool(re.search(r"\d", text) and re.search(r"%|g\s*/\s*l\b", text, re.I))


_ADDITIVES = (
    ("perfume", r"perfum|parfum|fragranc|scent|limonene|linalool"),
    (
        "surfactant",
        r"surfactant|tenside|detergent|soap|sulfonate|ethoxylate|betaine|sulph?ate, sodium laur|laureth|lauryl",
    ),
    ("dye", r"colou?rant|dye|pigment|colou?ring"),
    ("thickener", r"thicken|cetearyl|cetyl|gum|cellulose|carbomer"),
    ("hardener", r"hardener|alum\b|aluminium"),
    ("anti_caking", r"anti-?caking|flow agent|silica"),
)


def _additives(contents: Sequence[_ContentFields]) -> list[str]:
    names = " ; ".join(c.get("name", "") for c in contents if c["substance"] == OTHER)
    return [key for key, pattern in _ADDITIVES if re.search(pattern, names, re.I)]


def _density(words: str, *, light: bool) -> float | None:
    """g/mL of a density as labels and data sheets print it; None where it says none."""
    if _is_nothing(words):
        return None
    text = re.sub(r"(?<=\d)[ \N{NO-BREAK SPACE}\N{THIN SPACE}](?=\d{3}(?!\d))", "", words)
    text = re.sub(
        r"\(?\s*(?:at|@|bei|/)?\s*\d+(?:[.,]\d+)?\s*(?:\N{DEGREE SIGN}|deg\.?)?\s*[CF]\b\s*\)?\s*:?", " ", text
    )
    text = re.sub(r"\(\s*water\s*=\s*1\s*\)", " ", text, flags=re.I)
    name = r"(?:relative\s+)?density|sp(?:ec(?:ific)?)?\.?\s*gr(?:avity|\.)?|s\.?\s?g\.?|d(?:ichte)?(?:\s?20)?(?:\s?/\s?4)?|\N{GREEK SMALL LETTER RHO}|rho"
    text = re.sub(rf"^\s*(?:{name})\s*[:=]?\s*", "", text, flags=re.I)
    taken = take_number(text, where="density")
    if taken is None:
        return None
    value, rest = taken[0].interval.best, taken[1].strip().lower()
    if re.match(r"(?:\N{DEGREE SIGN}|deg(?:rees)?\.?)?\s*(?:b[eé]|baum[eé])", rest):
        value = LIGHT_MODULUS / (LIGHT_OFFSET + value) if light else HEAVY_MODULUS / (HEAVY_MODULUS - value)
    elif match := re.match(r"(?P<mass>kg|mg|g|lbs?|oz)\s*(?:/|per)\s*(?P<rest>.+)", rest):
        volume = take_unit(
            match["rest"]
            .replace("\N{SUPERSCRIPT THREE}", "3")
            .replace("cm3", "ml")
            .replace("dm3", "l")
            .replace("m3", "l"),
            usual="us",
        )
        mass = take_unit(match["mass"])
        if volume is None or mass is None or volume[0][0].quantity != "volume":
            return None
        size = volume[0][0].size * (1000 if re.match(r"(?:1\s*)?m(?:3|\N{SUPERSCRIPT THREE})", match["rest"]) else 1)
        value *= mass[0][0].size / size
    elif rest and not re.match(r"[(\[,;]|sp", rest):
        return None
    if not LIGHTEST < value <= HEAVIEST:
        raise InputError(
            f"a density of {value:g} g/mL cannot be", where="density", remedy="give 0.5 to 3 g/mL, or leave it empty"
        )
    return round(value, 6)


_MANY = regex(
    r"^\s*(?P<count>.+?)\s*(?:[x*\N{MULTIPLICATION SIGN}](?=\s*[\d.])|[\s-]*(?:pack|packs|bottles?|sachets?|tablets?|bags?|tins?|cans?|packets?|pouches|pieces|pcs)\s*(?:of|\N{LATIN SMALL LETTER A WITH GRAVE}|@)\s*)(?P<each>.*\d.*)$",
    re.I,
)
_STARTS = regex(
    r"(?:^|(?<=[\s(/,]))(?=[\w.\N{VULGAR FRACTION ONE HALF}\N{VULGAR FRACTION ONE QUARTER}\N{VULGAR FRACTION THREE QUARTERS}])"
)


def _package(words: str, form: str, density: float | None, usual: System) -> float | None:
    """mL or g of a package; None where its words give none."""
    # No package holds a thousandth of what another does: "1,000 ml", "1.000 ml" and "1 000 ml" are a litre.
    text = re.sub(r"(?<![\d.,])(\d{1,3})[.,\s](\d{3})(?=\s*(?:ml|g)\b)", r"\1\2", words, flags=re.I)
    if many := _MANY.match(text):
        count = take_number(many["count"], where="package")
        if count is not None and not count[1].strip(" -") and count[0].interval.best > 0:
            each = _package(many["each"], form, density, usual)
            return None if each is None else count[0].interval.best * each
    wanted = "volume" if form == "liquid" else "mass"
    by_density = None
    for start in _STARTS.finditer(text):
        piece = text[start.start() :]
        taken = take_number(piece, where="package")
        best, rest = (1.0, piece) if taken is None else (taken[0].interval.best, taken[1])
        if taken is not None and not rest.strip() and start.start() == 0:
            # A bare number is in the unit of the form.
            return best if best > 0 else None
        found = take_unit(rest, usual=usual)
        if found is None or not best > 0:
            continue
        unit = found[0][0]
        if form == "liquid" and unit.key == "oz":
            unit = next(u for u in (take_unit("fl oz", usual=usual) or ((unit,), ""))[0])
        if unit.quantity == wanted:
            return best * unit.size
        if form == "liquid" and density and unit.quantity == "mass" and by_density is None:
            by_density = best * unit.size / density
    return by_density


def _price(words: str) -> float:
    found = re.search(r"\d+(?:[.,]\d+)?", words)
    price = parse_number(found[0] if found else words, where="price")
    if re.search(rf"[-\N{{MINUS SIGN}}]\s*{re.escape(found[0])}" if found else "$^", words):
        raise InputError("a price is not below nothing", where="price", remedy="give zero or more")
    return price


def _statements(words: str) -> tuple[tuple[str, ...], str]:
    """The hazard statements in the words, and what else stands there."""
    joined = re.sub(r"\b(EUH|H)\s+(?=\d{3})", r"\1", words, flags=re.I)
    found, others = [], []
    for word in re.split(r"[\s,;+/]+", joined.strip()):
        code = re.sub(r"^(euh|h)", lambda m: m[0].upper(), word.strip(".:()"), flags=re.I)
        code = code.upper() if code.startswith("EUH") else code
        if re.match(STATEMENT, code):
            found.append(code)
        elif word.strip("-.:"):
            others.append(word)
    rest = " ".join(others)
    return tuple(dict.fromkeys(found)), "" if _is_nothing(rest) else rest


def amount_in(words: str, form: str, *, where: str, usual: System = "metric") -> tuple[float, str]:
    """mL of a liquid or g of a solid, and the key of the unit that was used, from an amount as it is said.

    Parameters
    ----------
    words : str
        Such as ``"16 fl oz"``, ``"250"`` (then in mL or g).
    form : str
        ``"liquid"`` or ``"solid"``.
    where : str
        The field, for the error.
    usual : str
        System of a fluid or kitchen measure that names none.

    Returns
    -------
    tuple of (float, str)
        mL or g, and the key of the unit.

    Raises
    ------
    InputError
        If it is none, or of the other kind.
    """
    wanted, house = ("volume", "ml") if form == "liquid" else ("mass", "g")
    if form == "liquid":
        # "1.000 ml" and "1,000" are a litre: nobody at home measures a thousandth of a millilitre.
        words = re.sub(r"^(\s*[1-9]\d{0,2})[.,](\d{3}\s*(?:ml)?\s*)$", r"\1\2", words, flags=re.I)
    said = parse_amount(
        re.sub(r"(?<!fl )(?<!fl\.)\boz\b", "fl oz", words) if form == "liquid" else words,
        usual=usual,
        unit=house,
        where=where,
    )
    if said.quantity == wanted:
        return said.best, said.unit
    if said.is_spoon and form == "solid":
        return said.grams().best, said.unit
    raise InputError(
        f"{words.strip()!r} is no {'volume' if form == 'liquid' else 'weight'}",
        where=where,
        remedy="write it like 250 mL" if form == "liquid" else "write it like 250 g",
    )
