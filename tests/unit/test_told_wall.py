"""What the wall is told to show: card, aim, preview, sums, the loop closed, a roll against its notes.

Cases on both sides of each limit; their figures and sentences are kept in ``tests/unit/told`` as they were read.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest

from obverse.foundation import Estimate
from obverse.imaging import Picture
from obverse.process import ShowList, Slide
from obverse.workbench.exposure_card import _third, _tone, exposure_card, f_number_words, nearest_dial, watch_words
from obverse.workbench.preview import (
    Photograph,
    Screen,
    Viewing,
    default_screen,
    grain_standing,
    light_in_the_middle,
    look,
    photograph,
    ring_light,
    white_of,
)
from obverse.workbench.projector import Lens, Shown, aspect_of, shift_of, sums
from obverse.workbench.roll import density_at
from obverse.workbench.sample_scene import sample_scene
from obverse.workbench.slide_curve import SlideCurve, example_curve, learned_spread, strip_spread
from obverse.workbench.slide_seen import slide_seen, stops_words
from obverse.workbench.slides import heat_notes, moved, spot_note, turns_of
from obverse.workbench.wall_aim import as_shown, slide_density, wall_aim
from obverse.workbench.wall_seen import ScaleAsked, close_loop, scale_of
from tests.told_kept import told_as_kept
from tests.unit.test_told_everything import outcome

HOME = Screen(flux_lm=650, width_m=1.6, stray=0.003, callier=1.25)
LIT = HOME.model_copy(update={"room_lux": 3.0, "gain": 1.6, "corner_light": 0.62})


def strip(**changes: Any) -> SlideCurve:
    """A measured curve: the example's with another place, tint and doubt."""
    return replace(example_curve(), kind="measured", name="B 7", base_tint="blue", cautions=(), **changes)


def cards() -> dict[str, Any]:
    sure, no_middle = strip(midtone=Estimate(0.1, 0.01)), strip(midtone=None)
    asked: dict[str, tuple[SlideCurve, Screen, dict[str, Any]]] = {
        "the example": (example_curve(), HOME, {}),
        "predicted": (replace(example_curve(), kind="predicted"), HOME, {}),
        "a dim wall": (strip(), HOME.model_copy(update={"stray": 0.2}), {}),
        "corners a third of a stop darker": (sure, HOME.model_copy(update={"corner_light": 0.79}), {}),
        "corners less than a third darker": (sure, HOME.model_copy(update={"corner_light": 0.80}), {}),
        "corners two stops darker": (sure, HOME.model_copy(update={"corner_light": 0.25}), {}),
        "set by hand": (sure, HOME, {"exposure_index": 80.0}),
        "set far over": (sure, HOME, {"exposure_index": 125.0}),
        "set far under": (sure, HOME, {"exposure_index": 32.0}),
        "no mid-tone": (no_middle, HOME, {}),
        "no mid-tone, set": (no_middle, HOME, {"exposure_index": 64.0}),
        "another law, another flash": (sure, HOME, {"p": 0.7, "guide_number_m": 14.0}),
        "a law of nothing": (sure, HOME, {"p": 1.0}),
    }
    for sd in (0.03, 0.06, 0.12, 0.3, 0.6, 1.0):
        for from_strip_to_strip, own in ((0.0, 0), (0.05, 1), (0.05, 4)):
            curve = strip(midtone=Estimate(0.1, sd), strip_log_exposure_sd=from_strip_to_strip, own_strips=own)
            asked[f"doubt {sd}, strips differ by {from_strip_to_strip}, {own} own"] = (curve, HOME, {})
    found = {}
    for name, (curve, screen, more) in asked.items():
        told = outcome(lambda curve=curve, screen=screen, more=more: exposure_card(curve, screen, **more).document())
        if isinstance(told, dict):
            told["latitude"] = exposure_card(curve, screen, **more).latitude_stops
            if found:
                del told["filters"], told["curve"]
            if name.startswith("doubt"):
                told = {
                    key: told[key]
                    for key in ("exposure_index", "known", "dial", "bracket", "bracket_words", "strip_stops")
                }
        found[name] = told
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr("obverse.workbench.exposure_card.latitude_stops", lambda: 0.25)
        found["a smaller latitude"] = [
            [card.bracket, card.bracket_words] for sd in (0.02, 0.12, 0.3) for card in [exposure_card(strip(midtone=Estimate(0.1, sd)), HOME)]
        ]  # fmt: skip
    times = (0.24, 0.26, 1.0, 9.7, 9.9, 10.0, 59.6, 179.4, 180.0, 239.6, 240.0, 241.0, 3600.0)
    numbers = (0.5, 0.88, 0.95, 1.0, 1.1, 1.7, 2.3, 5.7, 8.1, 63.0, 64.0, 69.0, 80.0, 500.0)
    return found | {
        "watch": [watch_words(s) for s in times],
        "f-numbers": [f_number_words(n) for n in numbers],
        "all f-numbers": [f_number_words(2 ** (k / 6)) for k in range(-1, 38)],
        "tones": [
            _tone(light, 0.0, (-1.0, 1.0)) for most in (0, 10, 25, 40, 60, 75, 90) for light in (most, most + 0.1)
        ],
        "beyond": [_tone(50.0, x, (-1.0, 1.0)) for x in (-1.1, -1.0, 1.0, 1.1)],
        "thirds": [_third(s) for s in (0.0, 0.16, 0.17, 0.5, 0.51, 0.83, 0.84, 1.0, 1.17, 1.4, 2.0, 2.7)],
        "greys of zones": [zone.grey for zone in exposure_card(sure, HOME).zones],
        "dials": [nearest_dial(index) for index in (2.0, 6.5, 7.5, 55.0, 57.5, 90.0, 450.0, 5000.0, 1e6)],
    }


def aims() -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, screen in (
        ("home", HOME),
        ("lit", LIT),
        ("strong", HOME.model_copy(update={"flux_lm": 4000.0, "stray": 0.0004})),
    ):
        for surround in ("average", "dim", "dark"):
            found[f"{name}, {surround}"] = wall_aim(screen, surround=surround, base_density=0.2).document()  # type: ignore[arg-type]
    for against in ("light_table", "scan", "none"):
        found[f"against {against}"] = outcome(lambda against=against: wall_aim(HOME, against=against).document())
    own = wall_aim(HOME)
    found["murky"] = wall_aim(HOME.model_copy(update={"stray": 0.3})).document()
    found["as the named one"] = replace(own, aim=own.aim.model_copy(update={"midtone_density": 1.0})).not_words
    for shown_on in ("wall", "light_table", "screen"):
        found[f"shown on {shown_on}"] = [*as_shown(LIT, shown_on)]  # type: ignore[arg-type]
    x = np.linspace(-2, 2, 9)
    found["a slide"] = slide_density(x, dmax=2.4, gradient=1.4, midtone_density=1.0)
    for midtone in (0.0, 0.01, 2.39, 2.4):
        found[f"mid-tone {midtone}"] = outcome(
            lambda midtone=midtone: slide_density(x, dmax=2.4, gradient=1.4, midtone_density=midtone)
        )
    return found


def previews() -> dict[str, Any]:
    found: dict[str, Any] = {"default": [default_screen(), grain_standing()]}
    for name, screen in (("home", HOME), ("lit", LIT), ("drowned", HOME.model_copy(update={"room_lux": 2000.0}))):
        found[f"{name}: gate, black, room"] = [screen.gate_cd_m2, screen.black_share, screen.room_share]
        found[f"{name}: rings, middle"] = [ring_light(screen), light_in_the_middle(screen)]
    found["no fall-off: rings"] = ring_light(HOME.model_copy(update={"corner_light": 1.0}))
    found["night in the corners: rings"] = ring_light(HOME.model_copy(update={"corner_light": 0.02}))[::9]
    curve = example_curve()
    for white in ("slide", "gate"):
        for shown_in in ("average", "dark"):
            viewing = Viewing(white=white, shown_in=shown_in, rms_granularity=14, pixels_wide=1200)  # type: ignore[arg-type]
            whites = [white_of([curve, strip(base_density=0.3)], LIT, viewing, light) for light in (1.0, 1.3)]
            seen = look(curve, 0.2, 2000.0, LIT, viewing, *whites)
            rings = seen.rings
            found[f"{white} white in {shown_in}"] = [
                whites, seen.grey[::128], seen.run_together[::64], seen.grain[::128], seen.density[::256], seen.screen[::256],
                None if rings is None else [rings.light[::4], rings.grey[::9, ::256], rings.run_together[::9, ::256]],
            ]  # fmt: skip
    found["no rings"] = look(curve, 0.0, 2048.0, HOME, Viewing(), 0.8, 0.9).rings
    grey = np.repeat(np.array([[60, 2000, 20_000, 65_535], [80, 300, 9000, 64_000]], dtype=np.uint16), 3, axis=1)
    shots = {
        "linear": Picture(codes=grey[..., None], name="grey"),
        "colours": Picture(codes=np.stack([grey, grey[::-1], grey // 2], axis=-1), name="three"),
        "for the eye": Picture(codes=grey[..., None], name="eye", encoding="srgb"),
        "hardly clipped": Picture(
            codes=np.where(np.arange(1000) < 2, 65535, 900).astype(np.uint16)[None, :, None], name="a"
        ),
        "clipped": Picture(codes=np.where(np.arange(1000) < 3, 65535, 900).astype(np.uint16)[None, :, None], name="b"),
        "raw": Picture(codes=grey[..., None], name="raw", media_type="image/x-raw"),
        "black": Picture(codes=0 * grey[..., None], name="cap"),
    }
    for name, picture in shots.items():
        found[name] = outcome(lambda picture=picture: _shot(photograph(picture)))
    scene = sample_scene(150, 100)
    found["the still life"] = [
        scene.average_code,
        scene.codes.reshape(20, 5, 25, 6).mean(axis=(1, 3)),
        scene.codes[::9, ::13],
    ]
    return found


def _shot(shot: Photograph) -> dict[str, Any]:
    return {
        "codes": shot.codes[:, :12].tolist(),
        "mean": shot.average_code,
        "said": [one.document() for one in shot.cautions],
    }


def projections() -> dict[str, Any]:
    dense = strip(base_density=0.35, density=example_curve().density + 0.3)
    found: dict[str, Any] = {
        f"sums, {name}": sums(screen, curves).document()
        for name, screen, curves in (
            ("home", HOME, [example_curve(), dense]),
            ("lit", LIT, [dense]),
            ("empty", HOME, []),
        )
    }
    for one in ({"zone": 5.0}, {"zone": 7.0, "exposure_index": 50.0}, {"zone": 3.0}):
        for name, curve in (
            ("its own", strip()),
            ("used", strip(exposure_index_used=64.0)),
            ("none", strip(midtone=None)),
        ):
            found[f"shift {one}, {name}"] = shift_of(curve, Shown(**one))  # type: ignore[arg-type]
    for given in (
        {"sought": "focal", "throw_m": 3.0, "width_m": 1.5}, {"sought": "throw", "focal_mm": 90.0, "width_m": 1.5},
        {"sought": "width", "focal_mm": 90.0, "throw_m": 3.0}, {"sought": "width", "focal_mm": 90.0},
        {"sought": "focal", "width_m": 1.5}, {"sought": "throw", "width_m": 1.5}, {"sought": "throw", "focal_mm": 90.0},
    ):  # fmt: skip
        found[f"lens {given}"] = outcome(lambda given=given: Lens(**given).solved().document())
    found["aspect"] = aspect_of("24 x 36")
    found["strips differ by"] = [strip_spread({"first_developer_time_min": t}) for t in (2.0, 12.0)] + [
        strip_spread({})
    ]
    own = [Estimate(x, sd) for x, sd in ((0.1, 0.02), (0.22, 0.03), (0.02, 0.01))]
    found["learned"] = [learned_spread(0.05, own[:count]) for count in range(4)] + [
        learned_spread(0.05, [Estimate(0.1, 0.2)] * 3)
    ]
    return found


X = np.linspace(-1.4, 1.4, 8)


def slides() -> dict[str, Any]:
    curve = strip(midtone=Estimate(0.1, 0.03))
    dark = (curve.density - curve.dmin) / (curve.dmax_with_base - curve.dmin)
    found: dict[str, Any] = {}
    for name, (stops, blacks, highlights) in {
        "as promised": (0.0, 0.0, 0.0),
        "a little more light": (0.3, 0.0, 0.0),
        "more light": (1.6, 0.0, 0.0),
        "less light": (-1.6, 0.0, 0.0),
        "thinner blacks": (0.0, -0.6, 0.0),
        "denser blacks": (0.0, 0.6, 0.0),
        "murky": (0.0, 0.0, 0.35),
        "clear": (0.0, 0.0, -0.09),
        "all at once": (1.3, -0.5, 0.3),
    }.items():
        moved_by = 0.30103 * stops
        seen = np.interp(X + moved_by, curve.log_exposure, curve.density + blacks * dark + highlights * (1 - dark))
        found[name] = slide_seen(curve, [*X], [*seen], [0.015, None] * 4, exposed="metered").document()
    found["exposed on one sheet"] = slide_seen(
        curve, [*X], [*(curve.at(X) + 0.1)], [None] * 8, exposed="wedge"
    ).document()
    for count in (0, 1, 2):
        found[f"{count} readings"] = outcome(
            lambda count=count: slide_seen(curve, [*X[:count]], [1.0] * count, [None] * count).words
        )
    found["lists of unlike length"] = [
        outcome(lambda: slide_seen(curve, [0.0, 1.0], [1.0], [None])),
        outcome(lambda: slide_seen(curve, [0.0, 1.0], [1.0, 1.0], [None])),
    ]
    found["stops"] = [stops_words(s) for s in (-2.0, -1.0, 0.0, 0.5, 1.04, 1.06)]
    five = [(f"s{n}", Slide(roll="r", frame=str(n))) for n in range(5)]
    orders = ((1, 80, 1), (2, 80, 1), (2, 36, 36), (1, 36, 34), (1, 36, 99))
    found["turns"] = {
        str(order): [
            [turn.number, turn.projector, turn.tray, turn.slot]
            for turn in turns_of(
                ShowList(name="n", projectors=order[0], tray_slots=order[1], first_slot=order[2]), five
            )
        ]
        for order in orders
    }
    found["moved"] = {
        f"{press} {id}": outcome(lambda press=press, id=id: moved(["a", "b", "c"], press, id))
        for press in ("earlier", "later", "out", "in", "keep", "up")
        for id in ("0", "1", "2", "3", "x")
    }
    found["heat and spot"] = [*heat_notes(), spot_note()]
    return found


def walls() -> dict[str, Any]:
    """A grey scale of 5 by 3 on an even wall that falls off to the corners, in 16-bit codes."""
    height, width = 90, 150
    down, across = np.mgrid[0:height, 0:width]
    patch = down // 30 * 5 + across // 30
    density = np.array([0.1, 0.5, 1.4, 2.2, 0.9, 0.3, 1.8, 1.1, 2.6, 0.7, 1.6, 0.2, 2.0, 1.2, 0.4])
    out = np.hypot((across - 74.5) / 75, (down - 44.5) / 75)

    def wall(callier: float = 1.2, black: float = 0.004, fall: float = 0.5, lost: int = 0, **more: Any) -> Picture:
        light = (10.0 ** (-0.1 - callier * (density - 0.1)))[patch] * (1 - (1 - fall) * out**2 / 1.36) + black
        codes = np.rint(48_000 * light).astype(np.uint16)
        codes[(patch < lost)] = 65_535
        return Picture(codes=codes[..., None], name="wall", **more)

    corners = ((0.0, 0.0), (149.0, 0.0), (149.0, 89.0), (0.0, 89.0))
    typed = "\n".join(f"{d:g}," for d in density)
    noted = "log_exposure,density\n" + "\n".join(
        f"{x:.2f},{d:g}" for x, d in zip(np.linspace(1.2, -1.2, 15), np.sort(density), strict=True)
    )
    usual = ScaleAsked(columns=5, rows=3, corners=corners, densities=typed)
    asks: dict[str, tuple[list[Picture], dict[str, Any], Screen, dict[str, Any]]] = {
        "as entered": ([wall()], {}, HOME, {}),
        "a lit room": ([wall(black=0.02)], {}, LIT, {}),
        "darker than entered": ([wall(black=0.0012)], {}, HOME.model_copy(update={"stray": 0.03}), {}),
        "by the meter": ([wall()], {"spot_patch": 1, "spot_cd_m2": 60.0}, HOME, {"seen_on": date(2031, 11, 5)}),
        "a meter on nothing": ([wall(lost=1)], {"spot_patch": 1, "spot_cd_m2": 60.0}, HOME, {}),
        "one patch white": ([wall(lost=1)], {}, HOME, {}),
        "two patches white": ([wall(lost=2)], {}, HOME, {}),
        "nearly all white": ([wall(lost=11)], {}, HOME, {}),
        "for the eye": ([wall(encoding="srgb")], {}, HOME, {}),
        "no corners": ([wall()], {"corners": None}, HOME, {}),
        "crossed corners": ([wall()], {"corners": (corners[0], corners[2], corners[1], corners[3])}, HOME, {}),
        "corners outside": ([wall()], {"corners": ((-60.0, 0.0), *corners[1:])}, HOME, {}),
        "fourteen densities": ([wall()], {"densities": "\n".join(typed.splitlines()[:14])}, HOME, {}),
        "no densities": ([wall()], {"densities": " "}, HOME, {}),
        "a dirty patch": ([wall()], {"densities": typed.replace("2.2,", "0.6,")}, HOME, {}),
        "a panel without corners": ([wall()], {}, HOME, {"panel": wall()}),
        "learned before": ([wall()], {}, HOME.model_copy(update={"stray_sd": 0.0004, "callier_sd": 0.02}), {}),
        "frames of a roll": ([wall(lost=0), wall(callier=1.4), wall(black=0.1)], {"densities": "1\n2\n1.5"}, HOME, {}),
    }
    found: dict[str, Any] = {}
    for name, (pictures, changes, screen, more) in asks.items():
        asked = usual.model_copy(update=changes)
        told = outcome(
            lambda pictures=pictures, asked=asked, screen=screen, more=more: close_loop(
                pictures, asked, screen, **more
            ).document()
        )
        if isinstance(told, dict) and found:
            told["patches"] = [
                [one["number"], one["seen_cd_m2"], one["off_stops"], round(one["left_sd"], 2)]
                for one in told["patches"][::4]
            ]
        found[name] = told
    by_recipe = usual.model_copy(update={"densities": noted})
    found["by its recipe"] = outcome(
        lambda: close_loop([wall()], by_recipe, HOME, curve=strip(midtone=Estimate(0.1, 0.03))).document()["slide"]
    )
    found["scales"] = [
        scale_of("0,1\n 1.2;\n\n2"),
        scale_of("log_exposure,density,sd\n-1,2.1,0.02\n0,1.2,0.02\n1,0.3,"),
        outcome(lambda: scale_of("one\ntwo")),
    ]
    return found


def rolls() -> dict[str, Any]:
    def frame(density: float, glare: float = 0.004, **more: Any) -> Picture:
        light = np.full((120, 900), 0.8)
        light[20:100, 200:700] = 0.8 * 10**-density
        return Picture(np.rint(65_535 * (light + 0.8 * glare)).astype(np.uint16)[..., None], name="frame", **more)

    places: dict[str, tuple[Picture, tuple[float, float], tuple[float, float]]] = {
        f"density {d}": (frame(d), (450.0, 60.0), (60.0, 60.0)) for d in (0.1, 1.0, 2.2, 3.6, 5.0)
    }
    eye = frame(1.0, encoding="srgb")
    places |= {
        "for the eye": (eye, (450.0, 60.0), (60.0, 60.0)),
        "turned round": (frame(1.0), (60.0, 60.0), (450.0, 60.0)),
        "the same twice": (frame(1.0), (60.0, 60.0), (61.0, 60.0)),
        "upper rim": (frame(1.0), (450.0, 4.0), (60.0, 60.0)),
        "just within": (frame(1.0), (450.0, 60.0), (5.0, 5.0)),
        "left rim": (frame(1.0), (450.0, 60.0), (4.0, 60.0)),
        "lower rim": (frame(1.0), (450.0, 115.0), (60.0, 60.0)),
        "right rim": (frame(1.0), (450.0, 60.0), (895.0, 60.0)),
        "just within right and below": (frame(1.0), (450.0, 60.0), (894.0, 114.0)),
        "a white panel": (Picture(np.full((40, 40, 1), 65_535, dtype=np.uint16), name="w"), (9.0, 9.0), (20.0, 20.0)),
    }
    return {name: outcome(lambda asked=asked: density_at(*asked)) for name, asked in places.items()}


@pytest.mark.parametrize(
    "told", [cards, aims, previews, projections, slides, walls, rolls], ids=lambda told: told.__name__
)
def test_what_the_wall_is_told_is_what_was_read(told):
    assert not told_as_kept(f"wall_{told.__name__}", told())


def test_a_photograph_is_told_in_codes_of_its_own_light():
    def shot(codes: np.ndarray) -> Photograph:
        return photograph(Picture(codes=codes.astype(np.uint16)[..., None], name="p"))

    even, halves = shot(np.full((4, 6), 9000)), shot(np.repeat([[40_000, 20_000]], 3, axis=0))
    assert set(even.codes.ravel().tolist()) == {4095} and even.average_code == pytest.approx(4095, abs=1e-3)
    assert halves.codes[0].tolist() == [4095, 4095 + round(np.log10(0.5) / 0.00125)]
    assert halves.average_code == pytest.approx(4095 + np.log10(0.75) / 0.00125, abs=1e-2)
    # Two million pixels are kept as they are; of more, blocks of two by two become one.
    assert [shot(np.full((1000, columns), 9)).codes.shape for columns in (2000, 2001)] == [(1000, 2000), (500, 1000)]
    packed = even.packed()
    head = 8 + int.from_bytes(packed[4:8], "little")
    assert packed[:4] == b"OBVL" and head % 8 == 0 and len(packed) == head + 2 * 24
    assert packed[head : head + 2] == (4095).to_bytes(2, "little")
