"""What is measured on strips laid flat, weighed and said: each look drawn on a small sheet of its own, without a picture.

Only told here; what they said when they were last read stands in ``tests/unit/told``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, replace
from types import SimpleNamespace
from typing import Any
from unittest import mock

import numpy as np

from obverse.diagnosis import causes, curve, finding, measures, picture, picture_words, rings, sheet, weighing
from obverse.diagnosis.causes import Hypothesis, KnownFilm, compare
from obverse.diagnosis.colour import Colour, colour_of
from obverse.diagnosis.measures import Measures
from obverse.diagnosis.sheet import CELL_MM, FILM_MM, Sheet
from obverse.foundation import Estimate
from obverse.imaging.warp import Warp
from obverse.model import PRIOR_MEAN, PRIOR_SD
from obverse.model.parameters import INDEX
from obverse.process import AIMS, Aim, ControlVector

_LEVELS = np.array([0.25, 0.45, 0.7, 1.0, 1.3, 1.7])
_WIDE = 36  # columns of a patch
_Drawn = Callable[[np.ndarray, np.ndarray], np.ndarray]


def _reading(levels: np.ndarray, tint: tuple[float, float, float] = (0.0, 0.0, 0.0), **more: Any) -> Any:
    """As much of a reading as the measures ask for."""
    patches = tuple(
        SimpleNamespace(
            clipped=False,
            channels=tuple(float(d + t) for t in tint),
            density=Estimate(float(d), 0.01, float(d), float(d)),
        )
        for d in levels
    )
    given = {"patches": patches, "density": levels, "warp": None, "corners": ((0, 0), (90, 0), (90, 20), (0, 20))}
    return SimpleNamespace(**(given | more))


def _sheet(
    drawn: _Drawn | None = None, levels: np.ndarray = _LEVELS, noise: float = 0.01, pixel_mm: float = 0.1
) -> Sheet:
    """A strip of even patches with a rebate, even grain, and what is drawn over them: of mm across and along, in density."""
    columns = _WIDE * levels.size
    across, along = sheet._rows(), (np.arange(columns) + 0.5) * CELL_MM
    density = np.repeat(levels, _WIDE)[None, :].repeat(across.size, axis=0)
    density[(across < 6.3) | (across > FILM_MM - 6.3)] = 1.6
    density[(across < 0) | (across > FILM_MM)] = 0.0
    density = density + noise * np.random.default_rng(3).standard_normal(density.shape)
    if drawn is not None:
        density = density + drawn(across[:, None], along[None, :])
    middles = (np.arange(levels.size) + 0.5) / levels.size
    return sheet._sheet(density, middles, np.full(levels.size, 1 / levels.size), pixel_mm, _reading(levels))


def _scale(along: np.ndarray) -> np.ndarray:
    return np.repeat(_LEVELS, _WIDE)[None, :] * np.ones_like(along)


_LOOKS: dict[str, _Drawn] = {
    "surge": lambda y, x: 0.1 * np.cos(2 * np.pi * x / 4.75) * np.exp(-np.minimum(y - 5, 30 - y) / 2) * _scale(x),
    "surge of one edge": lambda y, x: 0.1 * np.cos(2 * np.pi * x / 4.7) * np.exp(-(y - 5) / 2) * _scale(x) - 0.05 * _scale(x) * ((y < 9) | (y > 26)),
    "leak": lambda y, x: -0.3 * np.exp(-((x - 20) ** 2) / 40 - y / 9) * _scale(x),
    "leak opposite": lambda y, x: -0.3 * np.exp(-((x - 30) ** 2) / 60 - (FILM_MM - y) / 9) * _scale(x),
    "drag": lambda y, x: 0.06 * np.exp(-(x % (_WIDE * CELL_MM)) / 3) + 0 * y,
    "drag the other way": lambda y, x: -0.06 * np.exp(-(9 - x % (_WIDE * CELL_MM)) / 3) + 0 * y,
    "net": lambda y, x: 0.05 * np.maximum(np.sin(2 * np.pi * x / 1.1) * np.sin(2 * np.pi * y / 1.0), 0) * np.sqrt(_scale(x)),
    "rings": lambda y, x: sum(0.12 * np.exp(-(((np.hypot(y - a, x - b) - r) / 0.4) ** 2)) for a, b, r in ((12, 7, 2.0), (20, 24, 2.8), (17, 40, 1.6))) + 0 * x,
    "spots": lambda y, x: -0.2 * np.exp(-((y - 15) ** 2 + (x - 15) ** 2) / 8) + 0.25 * np.exp(-((y - 20) ** 2 + (x - 33) ** 2) / 6),
    "across": lambda y, x: 0.01 * (y - 17) * _scale(x) + 0.1 * (y > 18) * _scale(x),
    "along": lambda y, x: 0.08 * np.sin(2 * np.pi * x / 30) * _scale(x) + 0 * y,
    "frills": lambda y, x: -1.6 * (y < 0.6 + 0.5 * np.sin(x)) * (y > 0) - 1.6 * (y > FILM_MM - 0.5 - 0.2 * np.sin(x / 2)) * (y < FILM_MM),
    "frills of one edge": lambda y, x: -1.6 * (y > FILM_MM - 0.6 - 0.5 * np.sin(x)) * (y < FILM_MM) + 0 * x,
}  # fmt: skip


def _measured(laid: Sheet, reading: Any) -> list[Any]:
    found = measures.measure(laid, reading)
    return [found.numbers, found.places, found.words]


def looks_measured() -> dict[str, Any]:
    """Every number of each look."""
    plain = _reading(_LEVELS)
    found: dict[str, Any] = {"sound": _measured(_sheet(), plain), "coarse": _measured(_sheet(noise=0.05), plain)}
    found |= {name: _measured(_sheet(drawn), plain) for name, drawn in _LOOKS.items()}
    found["coarse picture"] = sorted(measures.measure(_sheet(_LOOKS["frills"], pixel_mm=0.46), plain).numbers)
    found["thin"] = _measured(_sheet(levels=0.12 + 0.001 * np.arange(6)), plain)
    found["dark"] = _measured(_sheet(levels=2.0 + 0.01 * np.arange(6)), _reading(2.0 + 0.01 * np.arange(6)))
    found["two patches"] = _measured(_sheet(levels=np.array([0.4, 0.9])), _reading(np.array([0.4, 0.9])))
    for name, bend in (
        ("straight", (0.0,)),
        ("bent", (0.0, 0.05)),
        ("curled", (0.0, 0.1, -0.1)),
        ("hardly", (0.0, 0.06, -0.06)),
    ):
        quad = np.array([[0.0, 0.0], [90.0, 0.0], [90.0, 20.0], [0.0, 20.0]])
        found[f"{name} curls"] = measures._curls(_reading(_LEVELS, warp=Warp(quad, bend)))
    for name, tint in (
        ("yellow", (0.0, 0.02, 0.2)),
        ("brown", (0.0, 0.1, 0.2)),
        ("pink", (0.0, 0.2, 0.1)),
        ("blue-green", (0.2, 0.05, 0.0)),
        ("grey", (0.0, 0.0, 0.0)),
    ):
        told = Measures()
        measures._stain(told, _reading(_LEVELS, tint))
        found[f"stained {name}"] = [told.numbers, told.places, told.words]
    light = _reading(_LEVELS)
    for place, one in enumerate(light.patches):
        one.channels = (one.channels[0], one.channels[1], one.channels[2] + (0.2 if place < 2 else 0.0))
    light.patches[5].clipped = True
    told = Measures()
    measures._stain(told, light)
    found["stained where light"] = [told.numbers, told.places]
    for few in ((0.3,), (0.3, 0.5, 0.9), (0.3,) * 5):
        told = Measures()
        measures._stain(told, _reading(np.array(few), (0.0, 0.0, 0.1)))
        measures._stain(told, _reading(np.array([])))
        found[f"stained, {len(few)} patches"] = [told.numbers, told.places]
    laid = _sheet()
    found["patches"] = [
        measures.patches_in_words(laid, np.array(columns, dtype=int)) for columns in ((0, 5), (0, 40, 100), ())
    ] + [measures.patches_in_words(replace(laid, patch=np.full_like(laid.patch, -1)), np.array([1, 2]))]
    return found


def laid_flat() -> dict[str, Any]:
    """A sheet and how it comes from a picture: places, cells, levels, edges."""
    laid = _sheet(_LOOKS["along"])
    found: dict[str, Any] = {
        "sheet": [
            laid.density.shape,
            laid.patch[::9],
            laid.phase[::9],
            laid.levels,
            np.nan_to_num(laid.scale[::9]),
            laid.usable[::3],
            laid.across_mm[:3],
            laid.edges,
            float(np.nansum(np.abs(laid.residual))),
            laid.inner.sum(),
        ]
    }
    clipped = _reading(_LEVELS)
    clipped.patches[1].clipped = True
    clipped.patches[5].density = Estimate(1.9, 0.01, 1.9, 1.9)
    clipped.patches[4].density = Estimate(1.901, 0.01, 1.9, 1.9)
    found["left out"] = sheet._sheet(
        laid.density, np.array([0.1, 0.25, 0.4, 0.6, 0.75, 0.985]), np.full(6, 0.12), 0.1, clipped
    ).levels
    apart = sheet._sheet(
        laid.density, np.array([0.1, 0.25, 0.4, 0.6, 0.75, 0.985]), np.full(6, 0.12), 0.1, _reading(_LEVELS)
    )
    found["apart"] = [apart.patch[::4], apart.inner[60, ::3], np.nan_to_num(apart.scale[::7])]
    found["few columns"] = sheet._sheet(
        laid.density[:, :20], (np.arange(6) + 0.5) / 6, np.full(6, 1 / 6), 0.1, _reading(_LEVELS)
    ).levels
    found["edges"] = [
        sheet._edges(np.array(quad, dtype=float))
        for quad in (
            ((0, 0), (9, 0), (9, 2), (0, 2)),
            ((0, 2), (9, 2), (9, 0), (0, 0)),
            ((0, 0), (0, 9), (2, 9), (2, 0)),
            ((2, 0), (2, 9), (0, 9), (0, 0)),
            ((0, 0), (9, 3), (8, 5), (-1, 2)),
        )
    ]
    pixels = np.add.outer(np.linspace(0.2, 0.9, 60), np.linspace(0, 0.1, 200))
    seen = SimpleNamespace(
        width=200,
        height=60,
        name="second",
        codes=np.zeros((60, 200, 1)),
        light_at=lambda x, y: pixels[np.clip(y, 0, 59), np.clip(x, 0, 199)],
    )
    warp = Warp(np.array([[20.0, 12.0], [180.0, 14.0], [180.0, 46.0], [20.0, 44.0]]))
    found["between"] = sheet._between(seen, np.array([[0.5, 0.25], [10.2, 30.7], [-3.0, 70.0], [199.0, 59.0]]))
    layout = SimpleNamespace(centres=lambda: (np.arange(6) + 0.5) / 6, lengths=lambda: np.full(6, 1 / 6))
    panel = SimpleNamespace(light=lambda p: 0.9 - 0.001 * p[..., 0])
    for rays, pixel_mm in (("one ray", 0.3), ("two rays", 0.12), ("five rays", 0.03)):
        density = sheet._density(seen, warp, 40, pixel_mm, panel)
        found[rays] = [density[::30, ::9], float(density.mean())]
    given = {"warp": warp, "layout": layout, "field": panel, "reference": SimpleNamespace(picture="second")}
    first = SimpleNamespace(**(vars(seen) | {"name": "first", "light_at": lambda x, y: np.full(np.shape(x), 0.5)}))
    for name, length in (("short", 8.0), ("long", 40_000.0)):
        far = Warp(np.array([[0.0, 12.0], [length, 12.0], [length, 46.0], [0.0, 46.0]]))
        with mock.patch.object(sheet, "_density", return_value=laid.density) as made:
            sheet.lay_flat((seen,), _reading(_LEVELS, **(given | {"warp": far})))
        found[f"a {name} strip"] = made.call_args.args[2:4]
    for name, pictures in (("of two", (first, seen)), ("of one", (first,))):
        flat = sheet.lay_flat(pictures, _reading(_LEVELS, **given))
        found[name] = [flat.density.shape, flat.pixel_mm, float(flat.density.mean()), flat.edges]
    for part in ("warp", "layout", "field"):
        try:
            sheet.lay_flat((seen,), _reading(_LEVELS, **(given | {part: None})))
        except ValueError as error:
            found[f"without {part}"] = str(error)
    return found


def rings_found() -> dict[str, Any]:
    """Rims on the map: kernels, the map itself, how complete a rim is."""
    kernels, shapes = rings._kernels()
    found: dict[str, Any] = {"kernels": [kernels.shape, kernels[:, ::6, ::6].round(6).ravel()[::7], shapes]}
    laid = _sheet(_LOOKS["rings"])
    noise, weight = rings._map(laid)
    found["map"] = [noise.shape, noise[::9, ::9], weight.mean(), float(np.abs(noise).sum())]
    y, x = np.mgrid[0:40, 0:60]
    whole = 3.0 * np.exp(-(((np.hypot(y - 20, x - 30) * 0.5 - 3.0) / 0.5) ** 2))
    for name, image in (
        ("whole", whole),
        ("half", whole * (x > 30)),
        ("spot", 3.0 * (np.hypot(y - 20, x - 30) < 6)),
        ("drawn out", 3.0 * np.exp(-(((np.hypot((y - 20) * 1.12, (x - 30) / 1.12) * 0.5 - 3.0) / 0.5) ** 2))),
    ):
        found[name] = [
            rings._completeness(image, known, row, column, radius, stretch)
            for known in (np.ones(image.shape), 1.0 * (x > 29), 1.0 * (x > 40))
            for row, column in ((20, 30), (0, 30), (20, 58))
            for radius, stretch in ((3.0, 1.0), (3.0, 1.12), (2.2, 0.9))
        ]
    for name, drawn in (
        ("three", _LOOKS["rings"]),
        ("none", None),
        (
            "many",
            lambda y, x: (
                sum(
                    0.1 * np.exp(-(((np.hypot(y - a, x - b) - 2.4) / 0.4) ** 2))
                    for a in (10, 17, 24)
                    for b in (4, 12, 22, 31, 40)
                )
                + 0 * x
            ),
        ),
    ):
        told = Measures()
        rings.rings(told, _sheet(drawn))
        found[f"{name} told"] = [told.numbers, told.places]
    told = Measures()
    rings.rings(told, _sheet(levels=np.full(6, 2.0)))
    rings.rings(told, replace(laid, patch=np.where(np.arange(laid.patch.size) < 12, 0, -1)))
    found["nothing"] = told.numbers
    return found


def weighed_and_said() -> dict[str, Any]:
    """The comparison of a picture's faults: scale, weights, findings, and what is said where nothing is named."""
    # Put together anew, so that nothing is told of what was kept.
    known = weighing.learned.__wrapped__()
    scale = known.scale
    sound = dict(zip(scale.names, (np.sinh(scale.sound) * scale.unit).tolist(), strict=True))
    places = dict.fromkeys(("stain", "surge", "one_side", "drag", "rings", "uneven", "edge_wander"), "somewhere")
    words = {"stain": "red 0.10", "colour": "brown"}
    found: dict[str, Any] = {
        "prior": weighing.prior(),
        "as learned": weighing.learned(doubted=False).terms[:, 0],
        "terms": known.terms.sum(axis=1),
    }
    for name in scale.names:
        far = {
            **sound,
            name: 6 * abs(sound[name])
            + 3 * float(np.sinh(scale.high[scale.names.index(name)]) * scale.unit[scale.names.index(name)]),
        }
        found[f"far {name}"] = [
            scale.bend(far)[scale.names.index(name)],
            scale.common(scale.bend(far))[scale.names.index(name)],
            scale.beyond(scale.bend(far))[scale.names.index(name)],
            known.unlike_anything(far),
            known.probabilities(far)[0],
            picture_words.what_stands_out(Measures(far, places, words), scale),
        ]
    found["cures"] = picture_words.CURES
    found["scale"] = [scale.low, scale.high, known.log_share, known.pair]
    found["nothing known"] = [scale.common(scale.bend({})), known.unlike_anything({})]

    def fixed(**log_odds: float) -> weighing.Weights:
        terms = np.zeros_like(known.terms)
        for term, value in log_odds.items():
            terms[weighing.TERMS.index(term), 0] = value
        return replace(known, terms=terms, pair=0.0, log_share=np.log(weighing.prior()))

    for odds in (
        {},
        {"stain": 6.0},
        {"stain": 3.0, "frilling": 3.0},
        {"stain": 6.0, "light_leak": 6.0},
        {"something_else": 4.0},
        {"something_else": 9.0},
        {"stain": 1.0, "frilling": 1.0, "coarse_grain": 1.0},
        {"bromide_drag": 2.2},
        dict.fromkeys(weighing.TERMS, -9.0),
        dict.fromkeys(weighing.TERMS, -2.0),
        {**dict.fromkeys(weighing.TERMS, -9.0), "stain": 1.0, "frilling": -0.5},
    ):
        found[f"odds {odds}"] = [
            [one.document(), one.fault] for one in picture.weigh(Measures(sound, places, words), fixed(**odds))
        ]
    strange = {**sound, "net": 60 * sound["net"]}
    found["strange"] = [one.document() for one in picture.weigh(Measures(strange, places, words), known)]
    glare = SimpleNamespace(measured=True)
    fine = SimpleNamespace(reference=SimpleNamespace(glare=glare, clipped=False))
    for name, encoding, reading in (
        ("linear", "linear", fine), ("profile", "profile", fine), ("srgb", "srgb", fine),
        ("no glare", "linear", SimpleNamespace(reference=SimpleNamespace(glare=SimpleNamespace(measured=False), clipped=False))), ("clipped", "linear", SimpleNamespace(reference=SimpleNamespace(glare=glare, clipped=True))),
    ):  # fmt: skip
        found[f"looked for, {name}"] = picture.not_looked_for([SimpleNamespace(encoding=encoding)], reading)
        found[f"diagnosed, {name}"] = (
            picture.diagnose_picture([SimpleNamespace(encoding=encoding)], reading)
            if found[f"looked for, {name}"]
            else "asked"
        )
    mixed = [SimpleNamespace(encoding=encoding) for encoding in ("linear", "srgb")]
    found["looked for, mixed"] = picture.not_looked_for(mixed, fine)
    for thinner in (0.004, 0.005, 0.006, 0.2):
        found[f"edges thinner by {thinner}"] = picture_words.evidence(
            "uneven_agitation", Measures({"surge": 0.03, "edges_thinner": thinner}, places, words)
        )
    for numbers in ({"one_side": 0.2, "one_side_rebate": -0.1}, {"one_side": 0.2, "one_side_rebate": 0.3}):
        found[f"leak {numbers}"] = picture_words.evidence(
            "light_leak", Measures(numbers, {"one_side": "on the upper edge, patch 2"}, words)
        )
    for p, others in (
        (0.99, ()),
        (0.991, (("sound", 0.005),)),
        (0.4, (("sound", 0.0049), ("stain+frilling", 0.3), ("light_leak", 0.2), ("other", 0.1))),
    ):
        for look in (False, True):
            for fault in ("stain", "cannot_tell"):
                one = finding.FaultFinding(fault, p, "", (), (*others, (finding.NONE_OF_THESE, 0.2)), look)
                found[f"{fault} {p} {look} {len(others)}"] = [one.name, one.chance, one.against]
    return found


def colours() -> dict[str, Any]:
    """The colour of strips, with others of the film and without."""
    density = np.array([0.3, 0.6, 0.9, 1.2, 1.6])
    found: dict[str, Any] = {}
    for name, index in (
        ("none", 0.0 * density),
        ("stained", 0.08 + 0.0 * density),
        ("toned", 0.05 * density),
        ("both", 0.08 + 0.05 * density),
    ):
        for others in (
            (),
            ((density, 0.03 + 0 * density),),
            ((density, 0.03 + 0 * density), (density, 0.3 + 0 * density), (density[:2], density[:2])),
        ):
            told = colour_of(density, index, others)
            found[f"{name} beside {len(others)}"] = told and [
                asdict(told),
                [told.log_chance(stain) for stain in (0.0, 0.05, 0.3)],
            ]
    found["few"] = [colour_of(density[:n], 0 * density[:n]) is None for n in (2, 3)]
    found["gaps"] = asdict(colour_of(density, np.array([np.nan, 0.1, 0.1, 0.1, np.nan])) or Colour(0.0, 1.0))
    return found


class _Curve:
    """A curve whose numbers are given."""

    def __init__(
        self,
        highlight: float,
        dmax: float,
        gradient: float,
        midtone: float | None,
        dmin: float = 0.5,
        reaches: float = 1.0,
    ) -> None:
        def about(value: float | None) -> Estimate | None:
            return None if value is None else Estimate(value, 0.1, value - 0.16, value + 0.16)

        never = midtone is None
        self.highlight_density, self.gradient, self.midtone_log_exposure = (
            None if never else about(v) for v in (highlight, gradient, midtone)
        )
        self.dmax_above_base, self.dmin, self.dmax_with_base = about(dmax), about(dmin), about(dmax + 0.25)
        self.base_draws, self.reaches_midtone = np.full(5, 0.25), reaches
        spread = np.array([-0.2, -0.1, 0.0, 0.1, 0.2, np.nan])
        self._drawn = {
            "highlight_density": highlight + spread,
            "dmax_above_base": dmax + spread,
            "gradient": gradient + spread,
            "midtone_log_exposure": (midtone or 0.0) + spread,
        }

    def numbers_drawn(self) -> dict[str, np.ndarray]:
        return self._drawn


def curves_said() -> dict[str, Any]:
    """What a curve misses of its aim and how it is said; causes that are given, each told with its evidence."""
    aims = {"projection": AIMS["projection"], "open": Aim()}
    ways: dict[str, tuple[Any, ...]] = {
        "good": (0.2, 2.4, 1.5, 0.0), "murky": (0.45, 2.4, 1.5, 0.0), "thin": (0.2, 1.5, 1.5, 0.0), "flat": (0.2, 2.4, 0.7, 0.0), "dark": (0.2, 2.4, 1.5, 0.6), "light": (0.2, 2.4, 1.5, -0.6),
        "all dark": (0.2, 2.4, 1.5, None, 1.9, 0.0), "all thin": (0.2, 0.8, 1.5, None, 0.3, 0.2),
    }  # fmt: skip
    found: dict[str, Any] = {}
    for name, way in ways.items():
        for aim, wanted in aims.items():
            found[f"{name}, {aim}"] = curve._outcomes(_Curve(*way), wanted)
    for fault in ("ghost_negative", "incomplete_second_development", "stain"):
        for colour in (None, Colour(0.1, 0.02), Colour(-0.1, 0.02), Colour(0.1, 0.05), Colour(0.1, 0.06)):
            found[f"{fault} {colour}"] = curve._cause_evidence(fault, _Curve(*ways["good"]), colour)
    found["slips"] = [curve._exposure_evidence(slip) for slip in (None, causes.TOLD, causes.TOLD - 0.01, 0.0)]
    x, d, sd = np.linspace(1, -1, 7), np.linspace(0.2, 2.0, 7) ** 2, np.linspace(0.01, 0.04, 7)
    found["grouped"] = curve._grouped(x, d, sd, 3)
    found["others"] = curve._others({"": 0.2, "stain": 0.12345, "ghost_negative": 0.5}, "stain")
    found["cures"] = curve.CURES
    found["stops"] = [curve._stops(key) for key in ("table.first_cure_exposure", "table.second_cure_time")]
    readings = SimpleNamespace(
        log_exposure=np.linspace(-2, 2, 60),
        density_read=np.linspace(2.0, 0.2, 60),
        density_sd=np.full(60, 0.02),
        weight=np.linspace(0.001, 1, 60),
    )
    for count in (60, 48, 12):
        for name, chances in (
            ("sound", {"": 0.9, "ghost_negative": 0.04, "incomplete_second_development": 0.03, "stain": 0.03}), ("ghost", {"": 0.1, "ghost_negative": 0.8, "incomplete_second_development": 0.05, "stain": 0.05}),
            ("half", {"": 0.02, "ghost_negative": 0.1, "incomplete_second_development": 0.8, "stain": 0.08}), ("who knows", {"": 0.02, "ghost_negative": 0.36, "incomplete_second_development": 0.34, "stain": 0.28}),
            ("slip", {"": 0.2, "ghost_negative": 0.0, "incomplete_second_development": 0.0, "stain": 0.0, "underexposed": 0.7, "overexposed": 0.1}),
        ):  # fmt: skip
            for way in ("good", "murky", "thin", "dark", "light"):
                if count != 12 and way != "good":
                    continue
                given = _Curve(*ways[way])
                for field, values in vars(readings).items():
                    setattr(given, field, values[:count])
                asked: list[Any] = []

                def told(
                    *args: Any, chances: dict[str, float] = chances, asked: list[Any] = asked, **more: Any
                ) -> dict[str, float]:
                    asked.append([len(args[0]), float(args[0][0]), float(args[2].sum()), sorted(more)])
                    return chances

                with mock.patch.object(curve, "compare", told):
                    film = KnownFilm(np.zeros((5, 2))) if name == "slip" else None
                    seen = curve.diagnose_curve(given, base_density=0.2, film=film)
                found[f"{name}, {way}, {count}"] = [
                    asked,
                    [
                        [one.fault, one.probability, one.evidence, one.alternatives, one.look, len(one.cures)]
                        for one in seen
                    ],
                ]
    return found


def causes_compared() -> dict[str, Any]:
    """The comparison of causes, part by part: beliefs, laws, the best explanation, and the whole on a few strips."""
    found: dict[str, Any] = {"hypotheses": [asdict(one) for one in causes.HYPOTHESES]}
    film = KnownFilm(PRIOR_MEAN + 0.3 * PRIOR_SD * np.random.default_rng(5).standard_normal((40, PRIOR_MEAN.size)))
    for name, one in (("unknown", None), ("known", film)):
        for controls in (True, False):
            mean, covariance = causes.beliefs(one, controls)
            found[f"believed of {name} {controls}"] = [mean, np.diag(covariance), float(covariance.sum())]
    enough, more = causes.TOLD, causes.TOLD_OF_UNKNOWN
    found["told"] = [
        causes.told_of({"": sound, "stain": p, "ghost_negative": 0.01}, one)
        for one in (None, film) for p in (enough - 0.01, enough, more - 0.01, more) for sound in (1 - more - 0.01, 1 - more + 0.01, 1 - enough - 0.01, 1 - enough + 0.01)
    ]  # fmt: skip
    found["told of the likeliest"] = causes.told_of({"": 0.0, "stain": 0.2, "ghost_negative": 0.8}, film)
    found["doubt of controls"] = [
        causes._control_sd(one, stated)
        for one in ({}, {"first_developer_time_min": 8.0, "solvent_ml_per_l": 0.0})
        for stated in ({}, {"temperature_c": 3.0})
    ]
    jacobian, r, z = np.array([[1.0, 0.5, 0.0], [0.0, 2.0, 1.0]]), np.array([0.3, -0.7]), np.array([0.1, -0.2, 0.3])
    found["move"] = [causes._move(jacobian, r, z, damping) for damping in (0.0, 0.01, 5.0)]

    def bowl(points: np.ndarray) -> np.ndarray:
        return np.stack([points[:, 0] ** 2 - 4.0 + points[:, 1], 3 * points[:, 1] - 1.5 * points[:, 0]], axis=1)

    def sloped(point: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return bowl(point[None])[0], np.array([[2 * point[0], 1.0], [-1.5, 3.0]])

    found["best"] = causes._best(bowl, sloped, 2)
    found["far"] = causes._best(lambda p: 100 * (p - 30.0), lambda p: (100 * (p - 30.0), 100 * np.eye(1)), 1)
    x = np.linspace(-1.5, 1.5, 9)
    usual = ControlVector.of({}).values[None, None]
    unknowns, parts = np.tile(PRIOR_MEAN, (2, 1)), np.array([0.5, 0.9])
    law = KnownFilm(
        film.draws, lambda u, c, e: 0.3 + 0.5 / (1 + np.exp(3 * np.broadcast_to(e, (len(u), 1, e.shape[-1]))))
    )
    for name, one in (("unknown", None), ("model", film), ("own law", law)):
        density = causes._law_of(one)
        found[f"law {name}"] = [density(unknowns, usual, np.tile(x, (2, 1, 1)), part) for part in (None, parts)]
    sound = causes._law_of(None)(PRIOR_MEAN[None], usual, x[None, None], None)[0]
    base = float(np.exp(PRIOR_MEAN[INDEX["base"]]))
    strips = {
        "sound": sound,
        "lifted": sound + 0.3,
        "thin": base + 0.6 * (sound - base),
        "ghost": np.maximum(sound, base + 0.5),
    }
    for name, strip in strips.items():
        for how, more_known in (
            ("", {}),
            (" known", {"film": film, "controls": {"first_developer_time_min": 10.0}, "base_density": base}),
            (" coloured", {"colour": Colour(0.1, 0.02), "film": KnownFilm(film.draws[:3]), "base_density": 0.001}),
        ):
            chances = compare(x, strip, np.full(x.size, 0.02), **more_known)
            # To a thousandth of the whole: what is rarer hangs on the last digits of the best explanation.
            found[name + how] = {fault: round(p, 2) for fault, p in chances.items()}
    made = causes._Making(ControlVector.of({}).values, causes._control_sd({}, {}), 0.05)
    whiten = np.eye(x.size) / 0.05
    for one in (
        Hypothesis("", 1.0),
        Hypothesis("a", 1.0, {"stain": (-1.0, 0.3)}),
        Hypothesis("b", 1.0, part=(0.5, 0.8)),
        Hypothesis("c", 1.0, shift=(0.3, 0.2)),
    ):
        found[f"evidence {one.fault}"] = causes._log_evidence(
            one, PRIOR_MEAN, np.diag(PRIOR_SD**2), causes._law_of(None), made, x, strips["lifted"], whiten
        )
    return found
