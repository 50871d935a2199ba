"""What a planned evening is made of: actions in a row, each with its cues, its hands and its reasons."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field, model_validator

from obverse.foundation import Document
from obverse.process import FilmPiece, Process, area_of_pieces_m2, reels_of
from obverse.run.saying import Saying

ActionKind = Literal[
    "lay_out",
    "prepare",
    "weigh",
    "fill_bottles",
    "prewarm",
    "clip",
    "wait",
    "brief",
    "lights_out",
    "load",
    "light_on",
    "check",
    "bath",
    "rinse",
    "wash",
    "hold",
    "hold_end",
    "join",
    "may_open",
    "open",
    "reexpose",
    "hang",
    "dry",
    "destroy",
    "clear_up",
]

# What hands do at a cue. The words for it are made where they are shown.
Move = Literal[
    "keep_moving",
    "turn_for",
    "turn_over",
    "move_for",
    "other_side",
    "hands_ready",
    "pour_out",
    "out",
    "enough_light",
]
# Where a liquid goes: back to its bottle, into its jug, to be destroyed, away; water that rinsed.
Goes = Literal["", "bottle", "jug", "bucket", "away", "water"]
_OLD_CUES: dict[str, Move] = {"agitate": "move_for", "ready": "hands_ready", "drain": "pour_out", "end": "out"}


class Cue(Document):
    """One thing to do at a moment of an action, seconds after its clock started.

    Parameters
    ----------
    kind : str
        How it sounds.
    do : str
        What hands do; `turns` for ``turn_over``, `lasts_s` for what goes on, `goes` and `jug` for ``pour_out``.
    """

    at_s: float = Field(ge=0)
    kind: Literal["agitate", "ready", "drain", "end"]
    do: Move
    lasts_s: float = Field(default=0, ge=0)
    turns: int = Field(default=0, ge=0)
    goes: Goes = ""
    jug: str = ""

    @model_validator(mode="before")
    @classmethod
    def _of_an_older_plan(cls, data: Any) -> Any:
        # Plans that were kept before cues had a structure hold a sentence; its kind says enough to read on.
        if isinstance(data, dict) and "text" in data and "do" not in data:
            rest = {name: value for name, value in data.items() if name != "text"}
            return rest | {"do": _OLD_CUES.get(str(data.get("kind")), "move_for")}
        return data


class Fill(Document):
    """One filling with water: which of how many, and how often the tank is turned over.

    `turns` is None under running water.
    """

    number: int = Field(ge=1)
    count: int = Field(ge=1)
    turns: int | None = Field(default=None, ge=0)
    after: bool = Field(
        default=False, description="rinses the bath whose name the action bears; else the action is a wash of its own"
    )
    acidified: bool = False
    vessel: Literal["", "bucket", "tray"] = ""
    stands: bool = Field(default=False, description="after the turns it stands until its time is over")


# In these the film may be bare: no face may light up, and each touch is held and answered without the eye.
DARK = ("lights_out", "load", "join", "light_on")


class Vessel(Document):
    """The reel on which a strip goes, and the tank it goes into; both by number, so that fingers can tell them."""

    strip: str
    reel: int = Field(ge=1)
    tank: int = Field(ge=1)
    of: int = Field(ge=1, description="so many reels in all")
    part: str = Field(default="", description="which of several reels of one strip, such as 1 of 2")
    holder: Literal["reel", "sheet holder"] = "reel"


class Strip(Document):
    """One strip or film of the evening: its name and its own first development."""

    name: str = Field(default="strip", min_length=1, max_length=80)
    controls: dict[str, float] = Field(default_factory=dict)
    film: str = Field(
        default="", max_length=120, description="id of the film in the notebook; empty where it has no page"
    )
    recipe: str = Field(default="", max_length=120, description="id of the locked recipe that this strip controls")
    pieces: tuple[FilmPiece, ...] = Field(default=(), max_length=6, description="what film it is; default: one 135-36")
    area_m2: float | None = Field(default=None, gt=0, le=20, description="counts before what `pieces` come to")

    @property
    def film_area_m2(self) -> float:
        """Film area of it, m2."""
        return self.area_m2 or area_of_pieces_m2(self.pieces)

    @property
    def reels(self) -> int:
        """Reels it takes, or sheet holders where it is cut film: one at least."""
        return max(1, reels_of(self.pieces))

    @property
    def holder(self) -> Literal["reel", "sheet holder"]:
        """What it goes onto."""
        return "reel" if reels_of(self.pieces) or not self.pieces else "sheet holder"


class TimeTold(Document):
    """A time that is not one number: from when one looks, until what is seen, and how long it may stay at most."""

    until: str = ""
    from_min: float
    longest_min: float


class KeptWords(Document):
    """Title and sentence of an action in a plan that was kept when plans still held words; shown as they were."""

    title: str
    do: str = ""


class Action(Document):
    """One action of the evening, as structure: what a person reads of it is made where it is shown.

    Its clock starts when it begins, or, where `waits_for_pour`, when the bath is in. `duration_s` is counted
    from that start; `pour_s` comes before it. A bath is out at the end of its duration: draining begins
    `drain_s` before. Hands are busy in the spans `hands`, seconds from the planned start.
    """

    key: str
    kind: ActionKind
    name: str = Field(default="", description="of the step, the bath or the piece of work, as route or shelf has it")
    said: str = Field(default="", description="what whoever wrote the step says to do, in their own words")
    kept: KeptWords | None = None
    apart: bool = Field(default=False, description="only some strips of the evening are in it: they are named with it")
    baths: tuple[str, ...] = Field(
        default=(), description="names of the baths that come from their bottles, or that stand in a warmer basin"
    )
    stirred_in: bool = Field(default=False, description="powder goes into measured water at the last moment")
    use_within_min: float | None = None
    time: TimeTold | None = None
    mixed_meanwhile: tuple[str, ...] = Field(default=(), description="names of baths that hands mix while it works")
    clip: Literal["", "blacken", "bleach", "clear"] = Field(
        default="", description="what the bath does to a clip of film"
    )
    lid_again: bool = Field(default=False, description="after it has been open the tank is closed once more, vented")
    why: str = ""
    cautions: tuple[str, ...] = ()
    step: str = Field(default="", description="key of the step of the route")
    formula: str = Field(default="", description="key of the bath's formula")
    strips: tuple[str, ...] = Field(default=(), description="names of the strips it works on")
    start_s: float = Field(default=0, ge=0, description="planned, seconds after the evening began")
    pour_s: float = Field(default=0, ge=0)
    duration_s: float = Field(ge=0)
    drain_s: float = Field(default=0, ge=0)
    nominal_s: float | None = Field(default=None, description="time before temperature was allowed for")
    time_sd_s: float = Field(default=0, ge=0, description="uncertainty of the compensated time, from kappa alone")
    ends_by: Literal["clock", "person"] = "person"
    waits_for_pour: bool = False
    asked_until_s: float = Field(default=0, ge=0, description="whoever says before this that it is done is asked once")
    unattended_s: float = Field(default=0, ge=0, description="goes on by itself after the hands have left it")
    hands: tuple[tuple[float, float], ...] = ()
    cues: tuple[Cue, ...] = ()
    place: Literal["bench", "dark_room", "closed_tank", "open"] = "bench"
    temperature_c: float | None = None
    temperature_low_c: float | None = None
    temperature_high_c: float | None = None
    carry_over: float | None = Field(
        default=None, description="share of the bath before it that is still in film and tank"
    )
    after_use: str = ""
    volume_ml: float | None = None
    waste_jug: str = ""
    fill: Fill | None = None
    vessels: tuple[Vessel, ...] = Field(default=(), description="reels and tanks it is about, in their order")

    @model_validator(mode="before")
    @classmethod
    def _of_an_older_plan(cls, data: Any) -> Any:
        if isinstance(data, dict) and "title" in data:
            rest = {name: value for name, value in data.items() if name not in ("title", "do")}
            words = {"title": data["title"], "do": data.get("do", "")}
            # Its name is all that the run itself says of it, in refusals and cautions.
            return {"name": data["title"], "kept": words} | rest
        return data

    @property
    def end_s(self) -> float:
        """Planned end, seconds after the evening began; what goes on unattended is not counted."""
        return self.start_s + self.pour_s + self.duration_s


class PlanCaution(Document):
    """A caution at the action where it applies: words of whoever made it, or what the run has to say."""

    code: str
    text: str = ""
    say: Saying | None = Field(default=None, description="the words for it are made where it is shown")
    level: Literal["note", "caution", "danger"]
    where: str = ""
    source: str = ""


class Conflict(Document):
    """One thing in which the plan does not hold, between two actions by their keys.

    `over_s` is by how long the hands are still needed, or how old the bath `formula` would be, where `limit_s` is allowed.
    """

    kind: Literal["hands", "film", "life", "deadline", "light"]
    first: str
    second: str
    over_s: float = 0.0
    limit_s: float = 0.0
    formula: str = ""

    @model_validator(mode="before")
    @classmethod
    def _of_an_older_plan(cls, data: Any) -> Any:
        # Plans that were kept before conflicts had a structure hold a sentence; what they are about says enough.
        return {k: v for k, v in data.items() if k != "text"} if isinstance(data, dict) else data


class StripOrder(Document):
    """In what order strips are developed one after another, and what it spares: strips wait in water for the others."""

    groups: tuple[tuple[str, ...], ...] = Field(description="names of strips that share a bath, in their order")
    waited_min: float = Field(ge=0, description="strip-minutes in water, in this order")
    worst_min: float = Field(ge=0, description="strip-minutes in the worst order")


class Proof(Document):
    """Whether two hands suffice, and everything else that was checked."""

    proved: tuple[Literal["hands", "lives", "light"], ...] = Field(default=(), description="what was checked and holds")
    conflicts: tuple[Conflict, ...]
    spans_checked: int
    busy_s: float = Field(default=0, ge=0, description="the hands are at work for so long")
    whole_s: float = Field(default=0, ge=0, description="of so long an evening")
    kept: tuple[str, ...] = Field(
        default=(), description="sentences of a plan that was kept when plans still held some; shown as they were"
    )

    @model_validator(mode="before")
    @classmethod
    def _of_an_older_plan(cls, data: Any) -> Any:
        if isinstance(data, dict) and "statements" in data:
            rest = {name: value for name, value in data.items() if name != "statements"}
            return {"kept": data["statements"]} | rest
        return data

    @property
    def holds(self) -> bool:
        """True where nothing overlaps and nothing is too old."""
        return not self.conflicts


class Lived(Document):
    """A bath with a limited life: where it begins, where it must have ended."""

    formula: str
    from_action: str
    from_edge: Literal["start", "pour", "end"]
    to_action: str
    limit_s: float = Field(gt=0)
    kind: Literal["life", "deadline"]


class AtHand(Document):
    """One thing that must stand ready before the light goes out, and whether the person's shelf holds it."""

    key: str
    what: str = Field(description="what it is, with how much")
    of: str = Field(default="", description="name of the used bath that it destroys")
    substances: tuple[str, ...] = Field(default=(), description="any of these will do")
    amount: float | None = None
    unit: str = ""
    count: int = 1
    state: Literal["asked", "there", "short", "missing"] = Field(
        default="asked", description="asked: nothing is known of it; the others as the shelf says"
    )
    have: str = Field(default="", description="what of the person's own it is")


class BathPortion(Document):
    """So much of one of the person's bottles, for a bath."""

    product: str
    name: str
    amount: float
    unit: str


_OLD_UNMADE = "It stands in no bottle on this shelf."


class PlannedBath(Document):
    """A bath of the evening as this shelf makes it, or the bottle in which it stands ready."""

    formula: str
    name: str
    action: str = Field(default="", description="key of the action that mixes it; empty where it stands ready")
    volume_ml: float
    portions: tuple[BathPortion, ...] = ()
    as_said: tuple[str, ...] = Field(
        default=(), description="what else goes in by the person's own measure: nothing is known of it"
    )
    said: str = Field(default="", description="the bath as its writer says it, whatever bottles stand here")
    bottle: str = Field(default="", description="name of the bottle it stands in")
    unmade: bool = Field(default=False, description="it lasts, and stands in no bottle on this shelf")
    reason: str = Field(default="", description="why it cannot be mixed")

    @model_validator(mode="before")
    @classmethod
    def _of_an_older_plan(cls, data: Any) -> Any:
        # Plans that were kept before hold what faces told of a bath that stands nowhere, in place of what it is.
        if not isinstance(data, dict) or not str(data.get("reason", "")).startswith(_OLD_UNMADE):
            return data
        return {**data, "unmade": True, "reason": str(data["reason"]).partition("It cannot be mixed here: ")[2]}


class RunPlan(Document):
    """A whole evening, from laying out to clearing up."""

    format: Literal["obverse-run-plan"] = "obverse-run-plan"
    version: Literal[1] = 1
    name: str
    route: Process
    tank_ml: float
    strips: tuple[Strip, ...]
    temperature_c: float
    kappa: float
    kappa_sd: float
    actions: tuple[Action, ...] = Field(min_length=1)
    lives: tuple[Lived, ...] = ()
    cautions: tuple[PlanCaution, ...] = ()
    proof: Proof
    order: StripOrder | None = Field(default=None, description="where strips are developed one after another")
    order_reason: str = Field(
        default="", description="of a plan that was kept when plans still held sentences; shown as it was"
    )
    vessels: tuple[Vessel, ...] = ()
    at_hand: tuple[AtHand, ...] = Field(default=(), description="what the destruction of used baths needs")
    baths: tuple[PlannedBath, ...] = Field(
        default=(), description="as the shelf makes them; none where nobody asked it"
    )
    cost: float | None = Field(default=None, description="of what is mixed tonight, in the currency of the labels")
    unpriced: tuple[str, ...] = Field(default=(), description="bottles in it whose label names no price")
    choices: dict[str, str] = Field(default_factory=dict, description="product chosen at the bench, by substance")

    def action(self, key: str) -> Action:
        """The action of that key (KeyError if there is none)."""
        for action in self.actions:
            if action.key == key:
                return action
        raise KeyError(key)

    @property
    def duration_s(self) -> float:
        """Until the hands are free; drying and settling go on."""
        return max(action.end_s for action in self.actions)
