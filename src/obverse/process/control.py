"""What is varied from strip to strip, and all that is known of each of these controls.

Whatever differs between one control and another stands in its entry in `CONTROLS`: its words, its range,
its error. A further control is one entry more, and its law: a term in `obverse.model.curve.layers`, and
where it is mixed into the first developer, a line in `obverse.mixing.controls`. Pages, commands, sheets
and the notebook read the rest from here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, Self

from pydantic import Field, model_validator

from obverse.foundation import ML_PER_L, Array, Document, InputError
from obverse.reference import number, record

# What mixes, checks or lists needs the names and limits alone, and loads no numpy for them.
if TYPE_CHECKING:
    from numpy.typing import ArrayLike

# Steps of a control that a search may take; more would never be tried.
MOST_STEPS = 10_000
# No bath takes longer than two days, as no step of a process does; and a drop in a litre develops nothing.
MOST_MIN, MOST_PARTS = 2880.0, 1000.0


class ControlRange(Document):
    """The limits of a control in one series, and the smallest step the person's tools can make."""

    unit: str = Field(default="", max_length=40)
    low: float
    high: float
    step: float = Field(gt=0)

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.low > self.high:
            raise ValueError(f"low {self.low} lies above high {self.high}")
        if (self.high - self.low) / self.step > MOST_STEPS:
            raise ValueError(f"step {self.step} is too fine for the range {self.low} to {self.high}")
        return self


@dataclass(frozen=True, slots=True)
class DosingError:
    """How exactly a control is made with usual tools.

    Parameters
    ----------
    tool : str
        Key of the record of the tool's own error, in the control's unit; empty where there is none.
    share : str
        Key of the record of the error that grows with the amount, as a fraction; empty where there is none.
    none_at_zero : bool
        What is left out is left out exactly.
    """

    tool: str = ""
    share: str = ""
    none_at_zero: bool = True

    def sd(self, values: ArrayLike) -> Array:
        """Standard uncertainty of values of any shape, in their unit."""
        import numpy as np

        v = np.asarray(values, dtype=float)
        tool = number(self.tool) if self.tool else 0.0
        share = number(self.share) if self.share else 0.0
        sd = np.hypot(tool, share * v)
        return np.where(v == 0, 0.0, sd) if self.none_at_zero else sd


@dataclass(frozen=True, slots=True, eq=False)
class Control:
    """One thing that may be varied from strip to strip.

    Parameters
    ----------
    key : str
        Its name in data, unit included.
    symbol : str
        As the pages of the model write it.
    word, label, unit, unit_of_one : str
        In a sentence; over a field; the unit of many and of one.
    pattern, short : str
        How a value is written in a line, and where room is scarce; ``{}`` stands for the number.
    meaning, hint : str
        What is counted, in a sentence and in a few words.
    more, less : str
        What a larger and a smaller value do.
    reference : float
        What it is held at where a series is silent.
    start : float, optional
        What the shipped first developer holds of it; None: as `reference`.
    quoted_at : float
        Where the parameters of the model are quoted: about the middle of what is tried.
    low, high, step : float
        Range that a new film begins with.
    sensible : (float, float)
        Where the model was made; a prediction beyond is a guess.
    handy_step, small_error : float
        A change that a person would make on purpose, and one that slips in.
    axis : str
        Coordinate in which equal steps do about as much: the value, its logarithm, or that of 1 + value / few.
    few : float
        Values below it change little in ratio.
    axis_step : float
        A step on the coordinate that matters.
    least, most : float
        Nothing below or above it can be done.
    mixed : bool
        True if it is mixed into the first developer, false if it is kept at the sink.
    varied_first : bool
        True if a new film varies it where nobody chooses.
    """

    key: str
    symbol: str
    word: str
    label: str
    unit: str
    pattern: str
    short: str
    meaning: str
    hint: str
    more: str
    less: str
    reference: float
    quoted_at: float
    low: float
    high: float
    step: float
    sensible: tuple[float, float]
    handy_step: float
    small_error: float
    dosing: DosingError
    axis: Literal["linear", "log", "log1p"]
    axis_step: float
    few: float = 1.0
    unit_of_one: str = ""
    least: float = 0.0
    most: float = math.inf
    mixed: bool = False
    varied_first: bool = False
    start: float | None = None

    @property
    def begins_at(self) -> float:
        """What a first strip by a shipped process has of it."""
        return self.reference if self.start is None else self.start

    @property
    def range(self) -> ControlRange:
        """The limits that a new film begins with."""
        return ControlRange(unit=self.unit, low=self.low, high=self.high, step=self.step)

    def text(self, value: float) -> str:
        """Such as "first development 10 min" or "dilution 1 + 15"."""
        return self.pattern.format(f"{value:g}")

    def short_text(self, value: float) -> str:
        """The same where room is scarce, such as "10 min" or "1+15"."""
        return self.short.format(f"{value:g}")

    def amount(self, value: float) -> str:
        """A number with its unit, such as "2 mL/L" or "1 part of water"."""
        unit = self.unit_of_one if self.unit_of_one and value == 1 else self.unit
        return f"{value:g} {unit}"

    def change(self, step: float) -> str:
        """Such as "more solvent by 2 mL/L"."""
        return f"{self.more if step > 0 else self.less} by {self.amount(abs(step))}"

    def on_axis(self, values: ArrayLike) -> Array:
        """Values of any shape in the coordinate in which equal steps do about as much."""
        import numpy as np

        v = np.asarray(values, dtype=float)
        if self.axis == "log":
            # A tenth stands in for what cannot be made: no logarithm of nothing.
            result: Array = np.log(np.maximum(v, 0.1))
            return result
        return np.log1p(np.maximum(v, 0.0) / self.few) if self.axis == "log1p" else v

    def steps(self, values: ArrayLike) -> Array:
        """Values of any shape in steps that matter, none where the model is quoted."""
        result: Array = (self.on_axis(values) - self.on_axis(self.quoted_at)) / self.axis_step
        return result

    def facts(self) -> dict[str, str | float | bool]:
        """What the pages know of it."""
        return {
            "symbol": self.symbol,
            "word": self.word,
            "label": self.label,
            "unit": self.unit,
            "unit_of_one": self.unit_of_one or self.unit,
            "meaning": self.meaning,
            "hint": self.hint,
            "reference": self.reference,
            "start": self.begins_at,
            "low": self.low,
            "high": self.high,
            "step": self.step,
            "mixed": self.mixed,
            "varied_first": self.varied_first,
        }


def _sensible(key: str) -> tuple[float, float]:
    low, high = record(f"control.sensible.{key}").value
    return float(low), float(high)


# Words, ranges and steps of the five controls. The ranges that a new film begins with, the steps and the errors that slip
# in are common practice, no source.
TIME = Control(
    key="first_developer_time_min",
    symbol="t",
    word="first development",
    label="First development, min",
    unit="min",
    pattern="first development {} min",
    short="{} min",
    meaning="minutes in the first developer",
    hint="in the first developer",
    more="longer first development",
    less="shorter first development",
    reference=10.0,
    quoted_at=10.0,
    low=4,
    high=20,
    step=0.5,
    sensible=_sensible("first_developer_time_min"),
    handy_step=1.0,
    small_error=0.5,
    most=MOST_MIN,
    dosing=DosingError(tool="notebook.strip_sd.time_min"),
    axis="log",
    axis_step=0.4,
    varied_first=True,
)
# Ranges and steps as above.
SOLVENT = Control(
    key="solvent_ml_per_l",
    symbol="s",
    word="solvent",
    label="Solvent, mL/L",
    unit="mL/L",
    pattern="solvent {} mL/L",
    short="solv. {}",
    meaning="rapid-fixer concentrate (ammonium thiosulfate 60 % w/v) in each litre of first developer",
    hint="fixer concentrate 60 % w/v",
    more="more solvent",
    less="less solvent",
    reference=10.0,
    quoted_at=3.0,
    low=0,
    high=30,
    step=1,
    sensible=_sensible("solvent_ml_per_l"),
    handy_step=2.0,
    small_error=0.5,
    start=number("process.start.solvent_ml_per_l"),
    most=ML_PER_L,
    dosing=DosingError(tool="notebook.strip_sd.solvent_ml_per_l", share="notebook.strip_sd.solvent_share"),
    axis="log1p",
    few=2.0,
    axis_step=0.7,
    mixed=True,
    varied_first=True,
)
# Ranges and steps as above.
ALKALI = Control(
    key="alkali_ml_per_l",
    symbol="a",
    word="alkali",
    label="Alkali, mL/L",
    unit="mL/L",
    pattern="alkali {} mL/L",
    short="alk. {}",
    meaning="household ammonia (5 % w/w) in each litre of first developer",
    hint="household ammonia 5 %",
    more="more alkali",
    less="less alkali",
    reference=5.0,
    quoted_at=8.0,
    low=0,
    high=20,
    step=1,
    sensible=_sensible("alkali_ml_per_l"),
    handy_step=1.0,
    small_error=0.5,
    start=number("process.start.alkali_ml_per_l"),
    most=ML_PER_L,
    dosing=DosingError(tool="notebook.strip_sd.alkali_ml_per_l", share="notebook.strip_sd.alkali_share"),
    axis="log1p",
    few=4.0,
    axis_step=0.7,
    mixed=True,
    varied_first=True,
)
# Ranges and steps as above.
TEMPERATURE = Control(
    key="temperature_c",
    symbol="T",
    word="temperature",
    label="Temperature, \N{DEGREE SIGN}C",
    unit="\N{DEGREE SIGN}C",
    pattern="temperature {} \N{DEGREE SIGN}C",
    short="{} \N{DEGREE SIGN}C",
    meaning="of the first developer",
    hint="of the first developer",
    more="warmer",
    less="cooler",
    reference=20.0,
    quoted_at=20.0,
    low=18,
    high=24,
    step=0.5,
    sensible=_sensible("temperature_c"),
    handy_step=1.0,
    small_error=0.5,
    dosing=DosingError(tool="notebook.strip_sd.temperature_c", none_at_zero=False),
    axis="linear",
    axis_step=2.0,
    least=-math.inf,
)
# Ranges and steps as above.
DILUTION = Control(
    key="developer_parts_water",
    symbol="n",
    word="dilution",
    label="Dilution 1 +",
    unit="parts of water",
    unit_of_one="part of water",
    pattern="dilution 1 + {}",
    short="1+{}",
    meaning="parts of water to one of liquid paper developer",
    hint="parts of water",
    more="weaker developer",
    less="stronger developer",
    reference=15.0,
    quoted_at=15.0,
    low=5,
    high=25,
    step=1,
    sensible=_sensible("developer_parts_water"),
    handy_step=1.0,
    small_error=0.5,
    most=MOST_PARTS,
    dosing=DosingError(tool="notebook.strip_sd.developer_parts_water"),
    axis="log1p",
    axis_step=0.4,
    mixed=True,
)


class Controls(Mapping[str, Control]):
    """All controls by their keys, in the order in which they are told and laid out in arrays."""

    def __init__(self, *entries: Control):
        self._entries = {entry.key: entry for entry in entries}
        self._place = {entry.key: place for place, entry in enumerate(entries)}

    def __getitem__(self, key: str) -> Control:
        return self._entries[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._entries)

    def __len__(self) -> int:
        return len(self._entries)

    def place(self, control: Control | str) -> int:
        """The column of a control in an array of all."""
        return self._place[control if isinstance(control, str) else control.key]

    def problem(self, values: Mapping[str, float]) -> str:
        """What is wrong with these settings, in words; empty where nothing is."""
        if unknown := self.problem_with_names(values):
            return unknown
        for key, value in values.items():
            if not math.isfinite(value):
                return f"{key} is not a number ({value})"
            if value < self._entries[key].least:
                return f"{key} cannot be negative ({value:g})"
        return ""

    def beyond(self, values: Mapping[str, float]) -> str:
        """What cannot be done of these settings, `problem` among it, in words; a strip that is written down may hold more."""
        over = (
            f"{key} is more than can be ({v:g}; at most {self[key].most:g})"
            for key, v in values.items()
            if v > self[key].most
        )
        return self.problem(values) or next(over, "")

    def problem_with_names(self, names: Iterable[str]) -> str:
        """What is wrong with these names, in words; empty where nothing is."""
        unknown = [name for name in names if name not in self._entries]
        return f"unknown control {unknown[0]!r}; the model knows {', '.join(self)}" if unknown else ""

    def reference(self) -> dict[str, float]:
        """What each is held at where nobody says otherwise."""
        return {key: entry.reference for key, entry in self.items()}

    def starts(self) -> dict[str, float]:
        """What a first strip by a shipped process has of each, where nobody says otherwise."""
        return {key: entry.begins_at for key, entry in self.items()}

    def first_ranges(self) -> dict[str, ControlRange]:
        """What a new film varies where nobody chooses, and between which limits."""
        return {key: entry.range for key, entry in self.items() if entry.varied_first}

    def mixed(self) -> tuple[Control, ...]:
        """Those that are mixed into the first developer."""
        return tuple(entry for entry in self.values() if entry.mixed)

    def text(self, settings: Mapping[str, float]) -> str:
        """All controls of a strip on one line."""
        return ", ".join(entry.text(settings[key]) for key, entry in self.items() if key in settings)

    def short_text(self, settings: Mapping[str, float]) -> str:
        """The same in few letters, for a phone."""
        return " \N{MIDDLE DOT} ".join(
            entry.short_text(settings[key]) for key, entry in self.items() if key in settings
        )

    def facts(self) -> dict[str, dict[str, str | float | bool]]:
        """What the pages know of the controls, as JSON."""
        return {key: entry.facts() for key, entry in self.items()}


CONTROLS = Controls(TIME, SOLVENT, ALKALI, TEMPERATURE, DILUTION)


class ControlVector:
    """Controls of strips as an array with one named column each.

    Parameters
    ----------
    values : (..., K) array
        In the order of `CONTROLS`.
    """

    __slots__ = ("values",)

    def __init__(self, values: ArrayLike):
        import numpy as np

        found = np.asarray(values)
        # Single precision stays what it is.
        self.values: Array = found if found.dtype.kind == "f" else found.astype(float)

    @classmethod
    def of(cls, settings: Mapping[str, float] | Sequence[Mapping[str, float]]) -> ControlVector:
        """From the settings of one strip, shape (K,), or of several, (T, K); what is absent is at its reference.

        Raises
        ------
        InputError
            For an unknown control.
        """
        import numpy as np

        if not isinstance(settings, Mapping):
            return cls(np.array([cls.of(one).values for one in settings]).reshape(-1, len(CONTROLS)))
        if problem := CONTROLS.problem_with_names(settings):
            raise InputError(problem, where="controls", remedy="name one of them")
        return cls([float(settings.get(key, entry.reference)) for key, entry in CONTROLS.items()])

    def __getitem__(self, control: Control) -> Array:
        """The column of a control, shape (...)."""
        column: Array = self.values[..., CONTROLS.place(control)]
        return column

    def __setitem__(self, control: Control, column: ArrayLike) -> None:
        self.values[..., CONTROLS.place(control)] = column

    def settings(self) -> dict[str, float]:
        """The settings of one strip by name."""
        return dict(zip(CONTROLS, map(float, self.values), strict=True))

    def dosing_sd(self) -> Array:
        """Standard uncertainty of each with usual tools, shape (..., K)."""
        import numpy as np

        return np.stack([entry.dosing.sd(self[entry]) for entry in CONTROLS.values()], axis=-1)

    def steps(self) -> Array:
        """Each in steps that matter, none where the model is quoted, shape (..., K)."""
        import numpy as np

        return np.stack([entry.steps(self[entry]) for entry in CONTROLS.values()], axis=-1)
