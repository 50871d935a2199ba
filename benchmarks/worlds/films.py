"""One film of one world with its aim, its limits and its way of being seen."""

from __future__ import annotations

import json
import zlib
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from benchmarks.truths import families

WAYS = ("patches21", "frames11", "frames5", "words", "words_contrast", "mixed")
# How surely the eye tells the contrast where it is asked for it (`words_contrast`).
CONTRAST_SD = 0.12
TROUBLES = ("none", "ammonia_flat", "warm", "mislabelled")
HARDNESS = ("hard", "medium", "easy")
# What each truth's words are called in the series document.
WORDS = {
    "slightly murky": "slightly_murky",
    "slightly thin": "slightly_thin",
    "too dark": "dark",
    "a bit dark": "slightly_dark",
    "a bit light": "slightly_light",
    "too light": "light",
}
# Controls that nobody changes here: each world's own usual ones.
HELD = ("temperature_c", "developer_parts_water")
# Box speed of a film of which its world tells none: the one by which little is known.
MEDIUM = 100
UNITS = {"first_developer_time_min": "min", "solvent_ml_per_l": "mL/L", "alkali_ml_per_l": "mL/L"}


@dataclass(frozen=True)
class Case:
    """What is to be learned, and how it is seen."""

    family: str
    hardness: str
    index: int
    aim: str
    ranges: str
    way: str
    trouble: str

    @property
    def key(self) -> str:
        return "/".join([self.family, self.hardness, str(self.index), self.aim, self.ranges, self.way, self.trouble])

    @property
    def rng_seed(self) -> int:
        return zlib.crc32(self.key.encode())


def cases(
    letters: list[str], hardness: list[str], count: int, ways: list[str], troubles: list[str], aims: list[str]
) -> list[Case]:
    """Films of each family and hardness; aims and ranges take turns, so that few films show many."""
    found = []
    known = families()
    for letter in letters:
        _, common = known[letter]
        names = [a for a in common.AIMS if not aims or a in aims]
        for hard in hardness:
            for i in range(count):
                for way in ways:
                    for trouble in troubles:
                        found.append(
                            Case(
                                letter,
                                hard,
                                i,
                                names[i % len(names)],
                                list(common.RANGES)[(1 + i + i // 3) % 3],
                                way,
                                trouble,
                            )
                        )
    return found


class Picker:
    """Seeds of films whose share of good recipes lies in the band, remembered in a file."""

    def __init__(self, file: Path):
        self.file = file
        self.seeds: dict[str, int | None] = json.loads(file.read_text()) if file.exists() else {}

    def pick(self, case: Case) -> Any | None:
        """The film; None where none was found among a few hundred seeds."""
        module, common = families()[case.family]
        key = "/".join([case.family, case.hardness, str(case.index), case.aim, case.ranges])
        if key not in self.seeds:
            try:
                films = common.pick_films(
                    module, 1, case.hardness, case.aim, case.ranges, start_seed=1000 + 400 * case.index, max_tries=120
                )
            except RuntimeError:
                films = []
            self.seeds[key] = (1000 + 400 * case.index + _offset(films[0], module, case)) if films else None
            self.file.write_text(json.dumps(self.seeds))
        seed = self.seeds[key]
        return None if seed is None else module.make_film(seed, case.hardness)


def _offset(film: Any, module: ModuleType, case: Case) -> int:
    first = 1000 + 400 * case.index
    if hasattr(film, "seed"):
        return int(film.seed) - first
    return next(k for k in range(400) if module.make_film(first + k, case.hardness).name == film.name)


@dataclass
class Bench:
    """A film on the bench: strips are made and seen here, and only here is the truth known."""

    case: Case
    film: Any
    common: ModuleType
    rng: np.random.Generator
    person: Any = None
    strips: list[dict[str, Any]] = field(default_factory=list)
    labels: list[dict[str, float]] = field(default_factory=list)
    made: list[dict[str, float]] = field(default_factory=list)

    @classmethod
    def of(cls, case: Case, film: Any) -> Bench:
        _, common = families()[case.family]
        rng = np.random.default_rng(case.rng_seed)
        person = common.make_person(rng) if hasattr(common, "make_person") else None
        return cls(case, film, common, rng, person)

    def aim(self) -> dict[str, Any]:
        return {"name": self.case.aim} | {k: v for k, v in self.common.AIMS[self.case.aim].items() if v is not None}

    def limits(self) -> dict[str, dict[str, Any]]:
        return {
            name: {"unit": UNITS.get(name, ""), "low": low, "high": high, "step": step}
            for name, (low, high, step) in self.common.RANGES[self.case.ranges].items()
        }

    def series(self, trials: list[dict[str, Any]] | None = None) -> dict[str, Any]:
        rough = self.case.way in ("frames11", "frames5", "mixed")
        return {
            "format": "obverse-series",
            "version": 1,
            "film": {
                "name": getattr(self.film, "name", self.case.key),
                "box_speed": getattr(self.film, "box_speed", MEDIUM),
                "base_density": None if rough else round(self.film.base_density, 3),
            },
            "controls": self.limits(),
            "aim": self.aim(),
            "trials": self.strips if trials is None else trials,
        }

    def make(self, controls: dict[str, float]) -> bool:
        """Make and see one strip; whether it truly lies in the aim."""
        k = len(self.strips)
        made = {name: usual for name, usual in self.common.DEFAULTS.items() if name in HELD} | controls
        if self.case.trouble == "mislabelled" and k % 5 == 4:
            # One strip of each five was swapped: it is a strip of another recipe that is read under this label.
            made = dict(self.labels[int(self.rng.integers(k - 4, k))])
        extra = {"person": self.person} if self.person is not None else {}
        trouble = "none" if self.case.trouble == "mislabelled" else self.case.trouble
        way = "words" if self.case.way == "words_contrast" else self.case.way
        seen = self.common.see(self.film, made, self.rng, way, trouble, strip_index=k, aim=self.case.aim, **extra)
        self.labels.append(controls)
        self.made.append(seen["true_controls"])
        self.strips.append({"id": f"strip {k + 1}", "controls": controls} | self._read(seen["reading"]))
        if self.case.way == "words_contrast":
            self.strips[-1]["grades"].append({"of": "contrast", "grade": self._contrast(k)})
        return self.truly(k)

    def _contrast(self, k: int) -> str:
        """What the eye calls the contrast of strip k, against the bounds of the aim; where there is no mid-tone, flat."""
        aim = self.common.AIMS[self.case.aim]
        gradient = self.observed(k)["gradient"] + CONTRAST_SD * self.rng.standard_normal()
        if gradient >= (aim["gradient_min"] or 0.0):
            return "hard" if aim["gradient_max"] is not None and gradient > aim["gradient_max"] else "right"
        return "flat"

    @staticmethod
    def _read(reading: dict[str, Any]) -> dict[str, Any]:
        if "density" in reading:
            rows = zip(reading["log_exposure"], reading["density"], reading["density_sd"], strict=True)
            return {"steps": [{"log_exposure": x, "density": min(d, 6.0), "density_sd": s} for x, d, s in rows]}
        return {
            "grades": [
                {"of": of, "grade": WORDS.get(reading[of], reading[of])} for of in ("highlights", "blacks", "midtones")
            ]
        }

    def truly(self, k: int) -> bool:
        """Whether strip k, as it was truly made, lies in the aim."""
        judge = getattr(self.common, "meets", None) or self.common.in_aim
        made = {name: np.array([value]) for name, value in self.made[k].items()}
        return bool(judge(self.film, made, self.case.aim)[0])

    def observed(self, k: int) -> dict[str, float]:
        """True observables of strip k, in our names."""
        made = {name: np.array([value]) for name, value in self.made[k].items()}
        if hasattr(self.common, "observables"):
            o = self.common.observables(self.film, made, self.common.AIMS[self.case.aim]["midtone_density"])
            names = {
                "dmax": "dmax",
                "highlight": "highlight_density",
                "gradient": "gradient",
                "midtone": "midtone_log_exposure",
            }
            return {ours: float(o[theirs][0]) for theirs, ours in names.items()}
        return {name: float(v[0]) for name, v in self.common.measure(self.film, made, self.case.aim).items()}
