"""Waste jugs: one class each, what may be added, how much silver is in them, where they go.

The classes are the rows of the reference. The rules of the town decide; whatever is said here defers to them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from pydantic import Field

from obverse.chemistry import Range
from obverse.foundation import Caution, Document, InputError, Level, UnsafeError
from obverse.process import Formula
from obverse.process.catalog import formulas
from obverse.reference import number, record, waste_jug_rows
from obverse.safety.airborne import Room
from obverse.safety.amounts import Amount, of_bath, portion_of
from obverse.safety.body import Portion
from obverse.safety.check import check_waste_jug, refuse_lethal
from obverse.safety.derived import finding_of, once_each, weighed
from obverse.safety.destroy import destruction_steps, remnant_of, remnant_portion, residue_of
from obverse.safety.engine import assess
from obverse.safety.finding import Finding
from obverse.safety.matter import Matter, as_matter, of_formula
from obverse.safety.setting import KILLS, LEAST_AIR_ML, setting_for

LOCAL_CODES = "Ask the waste authority of your town before anything leaves the house; its rules come first."

# Letter, name, what its contents are of the classes A to G of the record, where it goes, and whether it holds silver or chromium.
_OWN = {
    "D2": (
        "chromium clearing bath",
        "the clearing bath that followed a dichromate bleach",
        "the acid bleach of jug D, acid, hypochlorite",
    ),
}
_GOES = {
    "A": "silver recovery or the collection of the authority; never a drain, never a septic tank",
    "B": "the collection of the authority; it eats metal pipes",
    "C": "the collection of the authority, colourless, with its silver",
    "D": "the collection of the authority as it is; nothing of it into any drain",
    "D2": "the collection of the authority; nothing of it into any drain",
    "E": "never a jug: destroyed the same evening",
    "F": "the collection of the authority, or where it says; the first developer holds silver",
    "G": "never a jug: into plenty of water, aired outdoors, then jug F",
}
NEVER_A_JUG = ("E", "G")
# The words of each row's "never", as classes of substances; a test holds the two together.
_NEVER: dict[str, tuple[str, ...]] = {
    "A": ("acid_strong", "acid_weak", "iron_chloride", "oxidiser", "hypochlorite"),
    "B": ("ammonia", "ammonium_salt", "hydroxide", "carbonate", "peroxide", "metal", "thiosulfate", "dithionite"),
    "C": ("combustible", "chloride", "ammonia", "ammonium_salt", "peroxide", "thiosulfate"),
    "D": ("peroxide", "alcohol", "ketone", "sulfite", "dithionite"),
    "D2": ("dichromate", "acid_strong", "hypochlorite"),
    "F": ("acid_strong", "permanganate", "dichromate", "iron_chloride"),
}
# A jug stands until the authority takes it: what needs hours has them.
_STANDS_H = 168.0
# The part of a jug from which it is handed in.
_NEARLY_FULL = 0.8


@dataclass(frozen=True, slots=True)
class JugClass:
    """A class of waste."""

    letter: str
    name: str
    accepts: str
    never: str
    goes: str
    standing: str
    kept: bool = True


class Poured(Document):
    """One thing that was poured into a jug."""

    what: str = Field(min_length=1, max_length=120, description="key of a formula, product or substance")
    volume_ml: float = Field(gt=0, le=1_000_000)
    silver_low_g: float = Field(default=0, ge=0)
    silver_likely_g: float = Field(default=0, ge=0)
    silver_high_g: float = Field(default=0, ge=0)
    on: str = Field(default="", max_length=40)
    note: str = Field(default="", max_length=400)


class Jug(Document):
    """A waste jug and all that was poured into it, oldest first."""

    letter: str = Field(min_length=1, max_length=2)
    name: str = Field(min_length=1, max_length=120)
    capacity_ml: float = Field(gt=0, le=1_000_000)
    vented: bool = True
    contents: tuple[Poured, ...] = Field(default=(), max_length=2000)
    note: str = Field(default="", max_length=1000)

    @property
    def volume_ml(self) -> float:
        """What is in it."""
        return math.fsum(item.volume_ml for item in self.contents)

    @property
    def silver_g(self) -> Range:
        """Silver in it, as a range."""
        return Range(
            math.fsum(item.silver_low_g for item in self.contents),
            math.fsum(item.silver_likely_g for item in self.contents),
            math.fsum(item.silver_high_g for item in self.contents),
        )


def jug_classes() -> dict[str, JugClass]:
    """The classes of waste by letter, those of the record and our own."""
    found = {}
    for row in waste_jug_rows():
        letter, name = row.jug.split(" ", 1)
        found[letter] = JugClass(
            letter, name, row.accepts, row.never, _GOES[letter], row.source.words, letter not in NEVER_A_JUG
        )
    for letter, (name, accepts, never) in _OWN.items():
        found[letter] = JugClass(
            letter, name, accepts, never, _GOES[letter], "our judgement: sulfite and acid must not meet"
        )
    return dict(sorted(found.items()))


def jug_class(letter: str) -> JugClass:
    """The class of that letter.

    Raises
    ------
    InputError
        If there is none.
    """
    try:
        return jug_classes()[letter]
    except KeyError:
        raise InputError(
            f"no jug has the letter {letter!r}", where="jug", remedy="use one of " + ", ".join(jug_classes())
        ) from None


def usual_jug(formula: Formula) -> str:
    """Letter of the class that this bath belongs to when it is used up."""
    classes = {name for part in of_formula(formula).ingredients for name in part.classes}
    if formula.role == "bleach":
        return next(
            (
                letter
                for kind, letter in (
                    ("iron_chloride", "B"),
                    ("copper", "B"),
                    ("permanganate", "C"),
                    ("dichromate", "D"),
                )
                if kind in classes
            ),
            "A",
        )
    return {"fixer": "A", "halide_solvent": "E", "fogging": "G", "acid_rinse": "B"}.get(formula.role, "F")


def classes_for(what: str, known: Mapping[str, Formula] | None = None) -> tuple[str, ...]:
    """Letters of the classes that this may go into; empty for what is no bath of ours and has no class."""
    known = formulas() if known is None else known
    formula = known.get(what.removeprefix("destroyed_").removeprefix("used_"))
    if formula is None:
        return ()
    if what.startswith("destroyed_"):
        return (destruction_steps(formula)[-1].waste_jug,)
    also = {"clearing": ("D2",), "acid_rinse": ("F",), "wash_aid": ("A",), "wetting": ("A",)}
    return (usual_jug(formula), *also.get(formula.role, ()))


def wrong_class(jug: Jug, what: str, known: Mapping[str, Formula] | None = None) -> Caution | None:
    """What is to be told where this belongs into another class than that of the jug."""
    letters = classes_for(what, known)
    if jug.letter in letters:
        return None
    if not letters:
        held = {name for part in _poured_matter(what, known or formulas()).ingredients for name in part.classes}
        barred = sorted(held & set(_NEVER.get(jug.letter, ())))
        if not barred:
            return None
        named = ", ".join(name.replace("_", " ") for name in barred)
        text = f"It brings {named}; into a jug of class {jug.letter} never goes: {jug_class(jug.letter).never}."
        return Caution("jug.never", text, Level.DANGER, jug.name)
    text = f"It belongs into class {' or '.join(letters)}, this is a jug of class {jug.letter}: waste of two classes is not poured together."
    return Caution("jug.class", text, Level.CAUTION, jug.name)


def may_be_added(
    jug: Jug,
    what: str,
    known: Mapping[str, Formula] | None = None,
    *,
    volume_ml: float | None = None,
    room: Room | None = None,
) -> tuple[Finding, ...]:
    """What would be met if this were poured in.

    Everything that was ever poured into the jug since it was emptied counts, tonight and before: for the recorded
    pairs at the strength it came with, for the engine with its volumes and its silver, standing for a week.

    Parameters
    ----------
    known : mapping, optional
        Formulas by key; default the packaged ones.
    volume_ml : float, optional
        Of what is poured (g of a powder); default a usual amount.
    room : Room, optional
        Default one of which nothing is known.

    Raises
    ------
    UnsafeError
        If the jug is of a class that never holds anything.
    InputError
        If nothing is called that.
    """
    if jug.letter in NEVER_A_JUG:
        raise UnsafeError(
            f"nothing of class {jug.letter} is kept in a jug",
            where=jug.name,
            remedy=jug_class(jug.letter).accepts.removeprefix("none: "),
        )
    known = formulas() if known is None else known
    held = [_poured_matter(item.what, known) for item in jug.contents]
    where = f"jug {jug.letter}"
    pairs = check_waste_jug(*held, _poured_matter(what, known), closed=not jug.vented, where=where)
    setting = setting_for("jug", room, hours=_STANDS_H)
    if not jug.vented:
        setting = replace(setting, closed=True, headspace_ml=max(LEAST_AIR_ML, jug.capacity_ml - jug.volume_ml))
    inside = [_portion(item.what, item.volume_ml, item.silver_high_g, known) for item in jug.contents]
    coming = _portion(what, volume_ml, 0.0, known)
    alone = {effect.mechanism for effect in assess(inside, setting)} if inside else set()
    effects = assess([*inside, coming], setting)
    reckoned = [effect for effect in effects if effect.mechanism not in alone or effect.severity == KILLS]
    if volume_ml is not None:
        pairs = weighed(pairs, effects)
    return once_each((*pairs, *(finding_of(effect, setting, where, usual=volume_ml is None) for effect in reckoned)))


def pour(
    jug: Jug,
    poured: Poured,
    *,
    treated: bool = False,
    known: Mapping[str, Formula] | None = None,
    room: Room | None = None,
) -> Jug:
    """The jug with this poured in.

    Parameters
    ----------
    treated : bool
        A bath that must be destroyed first was destroyed by its steps: only what is left comes in, and that is checked too.
    known : mapping, optional
        Formulas by key; default the packaged ones.

    Raises
    ------
    UnsafeError
        If it could kill, or must be destroyed first.
    InputError
        If the jug would be fuller than nine tenths.
    """
    known = formulas() if known is None else known
    formula = known.get(poured.what.removeprefix("used_"))
    if formula is not None and residue_of(formula) is not None:
        if not treated:
            raise UnsafeError(
                f"{formula.name} must not stand in a jug as it is",
                where=jug.name,
                remedy="do its destruction steps first, the same evening",
            )
        poured = poured.model_copy(update={"what": f"destroyed_{formula.key}"})
    refuse_lethal(may_be_added(jug, poured.what, known, volume_ml=poured.volume_ml, room=room))
    if jug.volume_ml + poured.volume_ml > 0.9 * jug.capacity_ml:
        raise InputError(
            f"{poured.volume_ml:g} mL would fill it beyond nine tenths",
            where=jug.name,
            remedy="take a new jug of the same class",
        )
    return jug.model_copy(update={"contents": (*jug.contents, poured)})


def cautions_of(jug: Jug, known: Mapping[str, Formula] | None = None) -> tuple[Caution, ...]:
    """What is to be told of a jug: fullness, strangers in it, silver against published limits, where it goes."""
    told = []
    if not jug.vented:
        told.append(
            Caution(
                "jug.vent",
                "Give it a vented cap: a closed jug that makes gas can burst.",
                Level.DANGER,
                jug.name,
                "inc.72",
            )
        )
    if jug.volume_ml > _NEARLY_FULL * jug.capacity_ml:
        told.append(Caution("jug.full", "Nearly full: hand it in, begin another.", Level.CAUTION, jug.name))
    named = formulas() if known is None else known
    strangers = [
        named[item.what].name if item.what in named else item.what.replace("_", " ")
        for item in jug.contents
        if wrong_class(jug, item.what, known)
    ]
    if strangers:
        told.append(
            Caution(
                "jug.class",
                f"It holds what belongs into another class: {', '.join(dict.fromkeys(strangers))}.",
                Level.CAUTION,
                jug.name,
            )
        )
    limit = record("waste.TC.silver")
    mg_per_l = 1e6 * jug.silver_g.high / jug.volume_ml if jug.volume_ml else 0.0
    if mg_per_l > limit.value["mg_L"]:
        sewer = record("waste.sewer.example").value["silver_mg_L_max"]
        told.append(
            Caution(
                "jug.silver",
                f"It may hold up to {mg_per_l:.0f} mg/L of silver. In the United States {limit.value['mg_L']:g} mg/L makes a business waste hazardous, "
                f"and one town's sewer limit is {sewer:g} mg/L; other places differ.",
                Level.CAUTION,
                jug.name,
                "waste.TC.silver",
            )
        )
    told.append(Caution("jug.local", LOCAL_CODES, Level.NOTE, jug.name))
    return tuple(told)


def silver_total_g(jugs: Iterable[Jug]) -> Range:
    """Silver in all the jugs, as a range."""
    jugs = tuple(jugs)
    return Range(
        math.fsum(jug.silver_g.low for jug in jugs),
        math.fsum(jug.silver_g.likely for jug in jugs),
        math.fsum(jug.silver_g.high for jug in jugs),
    )


def _portion(what: str, volume_ml: float | None, silver_g: float, known: Mapping[str, Formula]) -> Portion:
    """What was poured, with its amounts; a bath counts as used, with the silver that was counted into it."""
    key = what.removeprefix("destroyed_").removeprefix("used_")
    if key not in known:
        return portion_of(what, None if volume_ml is None else Amount(volume_ml, "mL"))
    ml = number("hazard.usual.liquid_ml") if volume_ml is None else volume_ml
    if what.startswith("destroyed_"):
        return remnant_portion(known[key], ml, silver_g)
    return of_bath(known[key], ml, used=True)


def _poured_matter(what: str, known: Mapping[str, Formula]) -> Matter:
    """What was poured: a used bath where it is a bath, what its destruction leaves where it was destroyed."""
    key = what.removeprefix("destroyed_").removeprefix("used_")
    if key not in known:
        return as_matter(what)
    return remnant_of(known[key]) if what.startswith("destroyed_") else of_formula(known[key], used=True)
