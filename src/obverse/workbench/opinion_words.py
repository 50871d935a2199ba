"""What the house says of a step, made of its numbers: one kind of story for each thing that can be said, words at one place.

What is reckoned, and when nothing is said, stands in `house_opinion`. A story knows its numbers and decides by them alone
how its sentence goes, how serious it is and what one press would change.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, field

from obverse.foundation import ML_PER_L, Estimate, JsonObject, Level, Source, Standing
from obverse.light import Reexposure
from obverse.reference import number, record
from obverse.safety import Finding
from obverse.safety.bath_life import IronLife

PRACTICE = Source("common practice, no source", Standing.COMMON_PRACTICE)
CATALOGUE = Source("the shelf and the catalogue", Standing.COMPUTED)
# Beyond so many times, or below such a part of it, a time is no longer told as common, too; ours.
FAR_IN_TIME = 2.0
# Twice the start and more is told as far above it.
FAR_ABOVE = 4.0
# A jug in which practice counts its films; see the record ``practice.bath.iron_rolls_per_l``.
JUG_ML = 300.0
# So many times over and more are no longer counted; ours.
MANY = 1000.0
# A share that is told as under a thousandth of a percent.
SMALL_SHARE = 1e-5
# What the house begins with, and why it is there at all, by what it does.
ADDED = {
    "solvent": (
        "rapid fixer concentrate",
        "It dissolves the halide that would veil the highlights; too much of it thins the blacks.",
    ),
    "alkali": (
        "household ammonia",
        "It keeps the developer working while the solvent thins it; too much of it fogs.",
    ),
}
# Baths that no drain takes, by what is in them, and why.
NO_DRAIN = {
    "dichromate": (
        "A bath with chromium(VI)",
        "It may cause cancer and poisons water for good; nothing that held it goes into a drain or household rubbish. Local codes decide.",
    ),
    "silver_ammine": (
        "Ammonia that dissolved silver",
        "What forms in it, in a trap as in a jug, can explode when touched; and silver poisons water. Local codes decide.",
    ),
}


@dataclass(frozen=True, slots=True)
class Opinion:
    """One thing that the house would do otherwise at a step, or wants known of it.

    Parameters
    ----------
    step : str
        Key of the step.
    code : str
        Of what it is about; unique at the step.
    says, why : str
        What the house would do, or has reckoned; and the reason.
    change : dict of str to str
        Words of the step that would be taken over; empty where there is nothing to press.
    insert : dict of str to str or None
        Words of a step that would be put in before it, or after it.
    declined : str
        The person's reason, where the word was not followed.
    """

    step: str
    code: str
    says: str
    why: str
    source: Source
    level: Level = Level.NOTE
    change: Mapping[str, str] = field(default_factory=dict)
    insert: Mapping[str, str] | None = None
    after: bool = False
    declined: str = ""

    @property
    def can_be_taken_over(self) -> bool:
        """Whether one press does it."""
        return bool(self.change) or self.insert is not None

    @property
    def asks(self) -> bool:
        """Whether it is a matter of doing otherwise, and not only of knowing."""
        return self.can_be_taken_over or self.level is not Level.NOTE or self.code.startswith("developer.")

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "step": self.step,
            "code": self.code,
            "says": self.says,
            "why": self.why,
            "standing": self.source.words,
            "level": self.level.value,
            "change": self.change,
            "insert": self.insert,
            "declined": self.declined,
        }


@dataclass(frozen=True, slots=True)
class OpinionStory(ABC):
    """What is said of one step, as its numbers; each kind of story is a class of its own."""

    @abstractmethod
    def at(self, step: str) -> Opinion:
        """The story in words, at the step whose key is given."""


# What the person wrote


@dataclass(frozen=True, slots=True)
class WordsTaken(OpinionStory):
    """What a person's own words of a step come to."""

    read: str

    def at(self, step: str) -> Opinion:
        """In words."""
        why = (
            "What you wrote stands and goes along to sheet and sink; correct the field where another reading is meant."
        )
        return Opinion(step, "words", self.read, why, Source("the words of this step", Standing.COMPUTED))


@dataclass(frozen=True, slots=True)
class VagueAmounts(OpinionStory):
    """Amounts as a hand takes them, each with what it was taken as."""

    taken: tuple[str, ...]

    def at(self, step: str) -> Opinion:
        """In words."""
        return Opinion(
            step,
            "bath.vague",
            f"Taken: {'; '.join(self.taken)}. Weigh or measure yours once, and write that.",
            "A pinch and a capful are what a hand and a cap make of them; nobody has one in common with another.",
            Source("what people mean by a pinch, a dash, a capful and a splash", Standing.FROM_MEMORY),
        )


@dataclass(frozen=True, slots=True)
class PartsUnknown(OpinionStory):
    """Parts of a bath that could not be read, and what the safety engine makes of that."""

    names: tuple[str, ...]
    judged: Finding

    def at(self, step: str) -> Opinion:
        """In words; as serious as what is not judged may be."""
        return Opinion(
            step,
            "bath.unknown",
            f"Not reckoned: {', '.join(self.names)}. Say its amount in mL, g or a spoon, or put it on the shelf with what its label says, be it little.",
            f"{self.judged.text} What is not known counts as nothing in what is reckoned here.",
            CATALOGUE,
            self.judged.level,
        )


@dataclass(frozen=True, slots=True)
class BathAsRead(OpinionStory):
    """What a bath's words were read as: what was said with what it was taken for, and what had to be supposed."""

    taken: tuple[tuple[str, str], ...]
    supposed: str = ""

    def at(self, step: str) -> Opinion:
        """In words."""
        told = "; ".join(f"{what}: {taken}" for what, taken in self.taken)
        supposed = f"{self.supposed[:1].upper()}{self.supposed[1:]}." if self.supposed else ""
        return Opinion(
            step,
            "bath.reading",
            " ".join(filter(None, (f"Read as {told}." if told else "", supposed))),
            "The bath is reckoned by these; name the bottle on your shelf where another is meant.",
            CATALOGUE,
        )


@dataclass(frozen=True, slots=True)
class DownTheDrain(OpinionStory):
    """A bath that is poured away though no drain takes it: the class it is of, and where it belongs."""

    of: str
    destroyed: bool
    jug: str

    def at(self, step: str) -> Opinion:
        """In words."""
        what, why = NO_DRAIN[self.of]
        goes = "destroy it the same evening." if self.destroyed else f"into waste jug {self.jug}."
        after = f"destroy, jug {self.jug}" if self.destroyed else f"waste jug {self.jug}"
        says = f"{what} never goes into a drain: {goes}"
        return Opinion(step, "drain", says, why, PRACTICE, Level.DANGER, change={"after": after})


# The first developer


@dataclass(frozen=True, slots=True)
class NoneAdded(OpinionStory):
    """A first developer with no solvent, or no alkali, beside its own; or one that cannot be read to the end.

    Parameters
    ----------
    word : str
        ``"solvent"`` or ``"alkali"``.
    start_ml_per_l : float
        What the house begins with.
    bath_ml : float
        Of the bath, for what one press would add.
    mix : str
        The bath in the person's words; empty where it is a formula.
    unread : bool
        Whether parts of it could not be read.
    """

    word: str
    start_ml_per_l: float
    bath_ml: float
    mix: str = ""
    unread: bool = False

    def at(self, step: str) -> Opinion:
        """In words."""
        what, why = ADDED[self.word]
        begins = f"Nearly every way begins with about {self.start_ml_per_l:g} mL/L of {what}; "
        change = {}
        if self.unread:
            says = f"{begins}whether yours has any cannot be told from what could be read."
        else:
            says = f"{begins}yours has none. Both are known to work: the strip decides."
            if self.mix:
                body, comma, water = self.mix.partition(", water")
                change = {
                    "bath": f"{body} + {self.start_ml_per_l * self.bath_ml / ML_PER_L:.2g} mL {what}{comma}{water}"
                }
        return Opinion(step, f"developer.{self.word}", says, why, PRACTICE, change=change)


@dataclass(frozen=True, slots=True)
class AnotherAdded(OpinionStory):
    """A first developer whose solvent or alkali is another than the house's start.

    Parameters
    ----------
    parts : tuple of (str, float)
        Name and g/L of what does the work.
    as_ml_per_l : float or None
        Of rapid fixer concentrate with as much thiosulfate; None where that says nothing.
    """

    word: str
    start_ml_per_l: float
    parts: tuple[tuple[str, float], ...]
    as_ml_per_l: float | None = None

    def at(self, step: str) -> Opinion:
        """In words; a caution far above the start."""
        what, why = ADDED[self.word]
        names = " and ".join(f"{float(f'{grams:.2g}'):g} g/L of {name}" for name, grams in self.parts)
        level = Level.NOTE
        if self.as_ml_per_l is None:
            says = f"Its {self.word} is {names}. How it compares with the house's start the strip decides."
        else:
            says = (
                f"Its {self.word} is {names}, as much thiosulfate as in {rounded(self.as_ml_per_l)} mL/L of {what}; "
                f"the house starts at {self.start_ml_per_l:g}."
            )
            if self.as_ml_per_l > FAR_ABOVE * self.start_ml_per_l:
                says, level = f"{says} Begin lower and let a strip decide.", Level.CAUTION
            else:
                says = f"{says} The strip decides."
        return Opinion(step, f"developer.{self.word}", says, why, PRACTICE, level)


@dataclass(frozen=True, slots=True)
class AddedOtherwise(OpinionStory):
    """A first developer with more or less of the house's own addition than it starts with.

    Parameters
    ----------
    most_ml_per_l : float
        Above it a start is told as far above the usual.
    """

    word: str
    has_ml_per_l: float
    start_ml_per_l: float
    most_ml_per_l: float

    def at(self, step: str) -> Opinion:
        """In words; a caution far above the start."""
        what, why = ADDED[self.word]
        has = f"{self.has_ml_per_l:.3g} mL/L of {what}"
        if self.has_ml_per_l > self.most_ml_per_l:
            says = f"{has} is far above the usual start of {self.start_ml_per_l:g}; begin lower and let a strip decide."
            return Opinion(step, f"developer.{self.word}", says, why, PRACTICE, Level.CAUTION)
        says = f"{has}; the house starts at {self.start_ml_per_l:g}. Both are common."
        return Opinion(step, f"developer.{self.word}", says, why, PRACTICE)


# Times and volumes


@dataclass(frozen=True, slots=True)
class AnotherTime(OpinionStory):
    """A time apart from the usual one, which the record of that key gives."""

    time_min: float
    key: str

    def at(self, step: str) -> Opinion:
        """In words."""
        usual_min = number(self.key)
        short = self.time_min < usual_min
        if usual_min / FAR_IN_TIME <= self.time_min <= FAR_IN_TIME * usual_min:
            says = f"{self.time_min:g} min; usual are {usual_min:g} min. Both are common."
        else:
            says = f"{self.time_min:g} min is far {'below' if short else 'above'} the usual {usual_min:g} min."
        why = (
            "Too short leaves work undone; look at the film, or give it longer."
            if short
            else "Longer does little more, and gelatin swells the longer it is wet."
        )
        return Opinion(step, "time", says, why, record(self.key).source, change={"time": f"{usual_min:g} min"})


@dataclass(frozen=True, slots=True)
class MadeTooEarly(OpinionStory):
    """A bath that ages fast, made before it is needed: its age at its end, and how long such a bath does its work."""

    age_min: float
    works_min: float

    def at(self, step: str) -> Opinion:
        """In words."""
        says = (
            f"Made so early it is {self.age_min:g} min old at its end, the rinses not counted; "
            f"such a bath does its work for about {self.works_min:g} min. Make it just before."
        )
        why = "It decays from the moment it is mixed."
        return Opinion(step, "made", says, why, PRACTICE, Level.CAUTION, change={"made": "just before"})


@dataclass(frozen=True, slots=True)
class ReelUncovered(OpinionStory):
    """A bath smaller than its tank."""

    volume_ml: float
    tank_ml: float

    def at(self, step: str) -> Opinion:
        """In words."""
        says = (
            f"{self.volume_ml:g} mL in a tank of {self.tank_ml:g} mL: see that it covers the reel, "
            "or mix the same strength for the tank."
        )
        why = "What stands out of the bath is worked on only while the tank is turned."
        return Opinion(step, "volume", says, why, PRACTICE, change={"volume": f"{self.tank_ml:g} mL"})


# What a bath suffices for


@dataclass(frozen=True, slots=True)
class FilmsReckoned(OpinionStory):
    """For how many films a bath is reckoned to suffice.

    Parameters
    ----------
    volume_ml : float
        Of the bath.
    films : Estimate
        Median with 90 % interval.
    nameless : str
        Parts of which nothing is known, in words; empty where there are none.
    source : Source or None
        Of the life of such a bath; None where no record tells of it.
    iron : IronLife or None
        Of an iron bleach that practice counts at fewer films than its iron would take.
    peroxide : bool
        Whether it bleaches by peroxide, which is counted by practice alone.
    """

    volume_ml: float
    films: Estimate
    nameless: str = ""
    source: Source | None = None
    iron: IronLife | None = None
    peroxide: bool = False

    def at(self, step: str) -> Opinion:
        """In words; a caution where it may not be enough for one."""
        if self.nameless:
            return Opinion(
                step,
                "suffices",
                f"By its known parts {self.volume_ml:g} mL suffice for {rounded(self.films.high90)} films of 36 at most; "
                f"with {self.nameless} in it, of which nothing is known, it may be for none.",
                "What nobody knows may use the bath up itself; a clip decides.",
                self.source or Source("the known parts alone", Standing.COMPUTED, True),
                Level.CAUTION,
            )
        likely, short = rounded(self.films.value), self.films.value < 1
        return Opinion(
            step,
            "suffices",
            f"{self.volume_ml:g} mL are reckoned to suffice for about {likely} {'film' if likely == '1' else 'films'} of 36 "
            f"({rounded(self.films.low90)} to {rounded(self.films.high90)}).{' Mix more, or stronger, for one film.' if short else ''}",
            self._why(),
            self.source or Source("stoichiometry and the silver of a film", Standing.COMPUTED, True),
            Level.CAUTION if short else Level.NOTE,
        )

    def _why(self) -> str:
        if self.peroxide:
            return "As practice counts it: silver makes the peroxide decompose long before it has used it up; a clip decides."
        if self.iron is None:
            return (
                "By its active substance and the silver of a film, which is known only to about half; a clip decides."
            )
        practice, by_iron = (
            max(1, round(each * JUG_ML / ML_PER_L)) for each in (self.iron.by_practice_per_l, self.iron.by_iron_per_l)
        )
        return (
            f"Practice counts about {practice} {'film' if practice == 1 else 'films'} to {JUG_ML:g} mL of such a bath; its iron(III) alone "
            f"would take about {rounded(by_iron)}. Acid thinned by the water that films bring, iron(II) and sludge end it sooner; a clip decides."
        )


@dataclass(frozen=True, slots=True)
class DithioniteReckoned(OpinionStory):
    """What a fogging bath holds against what a film takes, least and most."""

    holds_g: float
    takes_least_g: float
    takes_most_g: float
    nameless: str = ""

    def at(self, step: str) -> Opinion:
        """In words; a caution where it may run out."""
        enough = self.holds_g >= self.takes_most_g * number("process.fogging_reserve")
        return Opinion(
            step,
            "suffices",
            f"It holds about {self.holds_g:.2g} g of dithionite; the silver of a film takes {self.takes_least_g:.2g} to "
            f"{self.takes_most_g:.2g} g, and air its share."
            + _with_unknown(self.nameless)
            + ("" if enough else " Take more: it may run out before the film is black."),
            "Reckoned from one dithionite for two silver; how much the air takes is not known.",
            record("fog.dithionite_per_ag").source,
            Level.NOTE if enough and not self.nameless else Level.CAUTION,
        )


@dataclass(frozen=True, slots=True)
class NothingReckoned(OpinionStory):
    """A bath of which nothing that does its work could be read."""

    def at(self, step: str) -> Opinion:
        """In words."""
        return Opinion(
            step,
            "suffices",
            "What it suffices for cannot be said: what would do its work in it was not read. Try a clip of film in it first.",
            "Of what nobody knows no share can be reckoned.",
            CATALOGUE,
            Level.CAUTION,
        )


@dataclass(frozen=True, slots=True)
class LampReckoned(OpinionStory):
    """The light of a second exposure."""

    watts: str
    metres: float
    side_s: float
    on_reel: bool
    seen: Reexposure

    def at(self, step: str) -> Opinion:
        """In words; a caution where it may be too little."""
        where = "left on its reel" if self.on_reel else "off its reel"
        return Opinion(
            step,
            "suffices",
            f"A glowing lamp of {self.watts} W at {self.metres:.3g} m, {self.side_s:g} s a side, the film {where}: {self.seen.words}",
            "From the light of a lamp of that kind and the distance; what the bleach does to the film's speed nobody has published.",
            self.seen.source,
            Level.NOTE if self.seen.verdict in ("ample", "likely") else Level.CAUTION,
        )


@dataclass(frozen=True, slots=True)
class SulfiteReckoned(OpinionStory):
    """How many times the sulfite of a clearing bath undoes what is carried of the bleach that is named."""

    times: float
    bleach: str
    nameless: str = ""

    def at(self, step: str) -> Opinion:
        """In words; a caution below one time."""
        enough = self.times >= 1
        return Opinion(
            step,
            "suffices",
            (
                f"Its sulfite is enough for what film and tank carry of {self.bleach} about {rounded(self.times)} times over."
                if enough
                else f"Its sulfite undoes only about {100 * self.times:.0f} % of what film and tank carry of {self.bleach}: "
                "rinse more before it, or take more."
            )
            + _with_unknown(self.nameless),
            "Electron by electron, after the rinses between; what gelatin holds back longer is not in it.",
            record("wash.formula").source,
            Level.NOTE if enough and not self.nameless else Level.CAUTION,
        )


@dataclass(frozen=True, slots=True)
class ClearingAfterPeroxide(OpinionStory):
    """The minutes of a clearing bath that has only peroxide to undo."""

    time_min: float

    def at(self, step: str) -> Opinion:
        """In words."""
        enough_min, others_min = (number(f"process.clearing_{after}") for after in ("after_peroxide_min", "min"))
        longer = f"{self.time_min:g} min; " if self.time_min > enough_min * FAR_IN_TIME else ""
        begin = "after" if longer else "After"
        return Opinion(
            step,
            "clearing.peroxide",
            f"{longer}{begin} peroxide {enough_min:g} min does in a clearing bath; after iron or permanganate {others_min:g} min are usual.",
            "Peroxide leaves nothing coloured in the gelatin and sulfite undoes it at once; rust and manganese have to be dissolved out of it.",
            record("process.clearing_after_peroxide_min").source,
        )


# Between the baths


@dataclass(frozen=True, slots=True)
class RinseReckoned(OpinionStory):
    """The share of a bath that its rinse leaves for the next, and the share that three fills would leave."""

    left: float
    after_three_fills: float
    next_bath: str

    def at(self, step: str) -> Opinion:
        """In words; a caution where nothing rinses at all."""
        unrinsed = self.left == 1
        says = (
            f"Nothing rinses between this and {self.next_bath}: all that film and tank hold goes along."
            if unrinsed
            else f"The rinse leaves about {in_percent(self.left)} of the bath for {self.next_bath}; "
            f"three fills would leave {in_percent(self.after_three_fills)}."
        )
        return Opinion(
            step,
            "rinse",
            says,
            "Two baths that meet spoil each other; a fill of water thins what is held about fifty times.",
            record("wash.formula").source,
            Level.CAUTION if unrinsed else Level.NOTE,
            change={"rinse": "5, 10, 20"},
        )


@dataclass(frozen=True, slots=True)
class AcidRinseMissing(OpinionStory):
    """Iron that goes to ammonia without an acid rinse; the turns of its fills, and the light it is done in."""

    turns: tuple[int, ...]
    light: str

    def at(self, step: str) -> Opinion:
        """In words."""
        return Opinion(
            step,
            "acid_rinse",
            "An acid rinse between iron and ammonia, two fills with a little citric acid, then the plain ones.",
            "Iron(III) stays dissolved in acid only; what is still in the gelatin becomes rust in the ammonia and stains.",
            PRACTICE,
            insert={
                "does": "rinse",
                "name": "Acid rinse",
                "bath": "none",
                "rinse": f"{', '.join(map(str, self.turns))}, acidified",
                "light": self.light,
            },
            after=True,
        )


@dataclass(frozen=True, slots=True)
class ClearingMissing(OpinionStory):
    """A fogging bath, of dithionite or another, after a bleach that nothing clears."""

    dithionite: bool

    def at(self, step: str) -> Opinion:
        """In words."""
        return Opinion(
            step,
            "clearing",
            "A clearing bath of metabisulfite before the fogging bath.",
            f"It takes out what the bleach left, which would use up the {'dithionite' if self.dithionite else 'fogging bath'} and stain.",
            PRACTICE,
            insert={
                "does": "clear",
                "name": "Clearing bath",
                "bath": str(record("process.clearing_words").value),
                "time": f"{number('process.clearing_min'):g} min",
                "agitation": "all the time",
                "rinse": "5, 10",
                "after": "waste jug F",
                "light": "light",
            },
        )


@dataclass(frozen=True, slots=True)
class ClearingKept(OpinionStory):
    """A clearing bath of sulfite before dithionite."""

    def at(self, step: str) -> Opinion:
        """In words."""
        return Opinion(
            step,
            "clearing.why",
            "A clearing bath before dithionite: keep it, but let little of it go along.",
            "It undoes what is left of the bleach and dissolves iron; its sulfite only joins what dithionite itself becomes, its acid makes "
            "dithionite decay and smell.",
            PRACTICE,
        )


@dataclass(frozen=True, slots=True)
class SecondHalfMissing(OpinionStory):
    """A bleach after which nothing makes the positive."""

    def at(self, step: str) -> Opinion:
        """In words."""
        return Opinion(
            step,
            "second_half",
            "After this nothing makes the positive: light and a second developer, or a fogging bath, is missing.",
            "What the bleach leaves is halide that nobody sees until it is developed.",
            PRACTICE,
            Level.CAUTION,
            insert={
                "does": "fog",
                "bath": "fogging_dithionite",
                "time": f"{number('process.fogging_min'):g} min",
                "agitation": "all the time",
                "rinse": "5, 10, 20",
                "after": "destroy, jug F",
                "made": "just before",
                "light": "light",
            },
            after=True,
        )


@dataclass(frozen=True, slots=True)
class SecondDeveloperMissing(OpinionStory):
    """A second exposure that nothing develops."""

    def at(self, step: str) -> Opinion:
        """In words."""
        return Opinion(
            step,
            "second_developer",
            "After the light a second developer is missing.",
            "Light alone makes no black.",
            PRACTICE,
            Level.CAUTION,
            insert={
                "does": "develop again",
                "bath": "second_developer",
                "time": f"{number('process.second_developer_min'):g} min",
                "rinse": "5, 10",
                "after": "waste jug F",
                "light": "light",
            },
            after=True,
        )


@dataclass(frozen=True, slots=True)
class WashReckoned(OpinionStory):
    """The water after the last fixer.

    Parameters
    ----------
    fills : int
        Of the tank.
    running_min : float
        Minutes of running water.
    left : float
        Share of the fixer that is left by dilution.
    needed_min : float
        Minutes in running water for films that are kept.
    """

    fills: int
    running_min: float
    left: float
    needed_min: float

    def at(self, step: str) -> Opinion:
        """In words; a caution where it is less than films are washed that are kept."""
        enough = self.running_min >= self.needed_min or self.fills >= number("film.ph_jump_fills") + 1
        parts = (
            f"{self.fills} {'fill' if self.fills == 1 else 'fills'}" if self.fills else "",
            f"{self.running_min:g} min of running water" if self.running_min else "",
        )
        water = " and ".join(filter(None, parts))
        come = "come" if self.fills > 1 or self.running_min else "comes"
        return Opinion(
            step,
            "wash",
            f"After it {come} {water or 'no water'}. By dilution that leaves {in_percent(self.left)} of the fixer, if it is given time to "
            f"come out of the gelatin; to keep, films are washed about {self.needed_min:g} min in running water.",
            "Film base takes up no fixer, gelatin does; what is left bleaches the picture in years.",
            record("film.wash_min").source,
            Level.NOTE if enough else Level.CAUTION,
        )


@dataclass(frozen=True, slots=True)
class CareFound(OpinionStory):
    """What the safety engine and the film's chemistry find at a step, and which of them it is there."""

    found: Finding
    place: int

    def at(self, step: str) -> Opinion:
        """In words."""
        one = self.found
        return Opinion(
            step,
            f"care.{one.pair}.{self.place}",
            f"{one.text} An evening with this cannot be planned." if one.refused else one.text,
            one.advice,
            one.source,
            one.level,
        )


def rounded(times: float) -> str:
    """A count to two figures, as far as a person cares.

    Parameters
    ----------
    times : float
        Not negative.
    """
    return "a thousand and more" if times >= MANY else f"{float(f'{times:.2g}'):g}"


def in_percent(share: float) -> str:
    """A share to two figures.

    Parameters
    ----------
    share : float
        Of one.
    """
    return "under 0.001 %" if share < SMALL_SHARE else f"{float(f'{100 * share:.2g}'):g} %"


def _with_unknown(nameless: str) -> str:
    """That what is reckoned of the known parts need not hold with another in it; nothing where there is none."""
    return (
        f" With {nameless} in it, of which nothing is known, whether that suffices cannot be said." if nameless else ""
    )
