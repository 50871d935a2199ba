"""What the light table makes of readings, and what a notebook makes of its strips: what each part decides, asked by itself."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, get_args

import numpy as np
import pytest

from obverse.clock import FixedClock
from obverse.diagnosis import Cure, FaultFinding
from obverse.foundation import Standing
from obverse.process import AIMS, TIME, Exposed, Patch, Series, SeriesFilm, Trial
from obverse.sensitometry import FEWEST_READINGS, ReadingList
from obverse.workbench import light_table as table
from tests.told_kept import EVENING, darkroom, told_as_kept
from tests.unit.test_told_everything import outcome, plain

X = np.round(np.arange(-1.5, 1.51, 0.25), 2)
D = np.round(0.3 + 2.2 / (1 + 10 ** (1.6 * (X + 0.1))), 3)
WAY = {"first_developer_time_min": 10.0, "solvent_ml_per_l": 5.0}


def listed(x: Any, d: Any) -> ReadingList:
    return ReadingList(tuple(map(float, x)), tuple(map(float, d)), (None,) * len(x), {})


def patches(count: int = len(X), **more: Any) -> tuple[Patch, ...]:
    return tuple(Patch(log_exposure=float(x), density=float(d), **more) for x, d in zip(X[:count], D, strict=False))


def _series(*steps: int) -> Series:
    strips = tuple(Trial(id=f"strip {n}", controls=WAY, steps=patches(count)) for n, count in enumerate(steps, 1))
    return Series(
        format="obverse-series", version=1, film=SeriesFilm(name="Grey", box_speed=100, base_density=0.3), controls={TIME.key: TIME.range}, trials=strips
    )  # fmt: skip


def lists(bench: Any, clock: FixedClock) -> dict[str, Any]:
    found = dict[str, Any]()
    given = {
        "right": listed(X, D), "stops": listed(np.arange(13) - 6, D), "percent": listed(X, 100 * 10**-D), "swapped": listed(D, X), "rising": listed(-X, D),
        "twice": listed(np.tile(X, 2), np.tile(D, 2)), "few": listed(X[:3], D[:3]), "negative": listed(X, -D), "below the base": listed(X, D - 0.2),
    }  # fmt: skip
    for name, readings in given.items():
        for convert, as_it_is in (
            ("", False),
            ("", True),
            (name if name in ("stops", "percent", "swapped") else "rising", False),
        ):

            def taken(readings: ReadingList = readings, convert: str = convert, as_it_is: bool = as_it_is) -> Any:
                seen = table.take_list(
                    readings, where="list", convert=convert, as_it_is=as_it_is, base_density=0.3, box_speed=100.0
                )
                against = seen.standing_against
                return [
                    against and [against.code, against.verdict],
                    [[d.code, d.verdict] for d in seen.beside],
                    seen.readings.log_exposure[:3],
                    seen.readings.density[:3],
                ]

            found[f"{name}, {convert or 'as given'}{', all the same' if as_it_is else ''}"] = outcome(taken)  # fmt: skip
    turned = table.patches_of(ReadingList((0.5, -0.5), (1.0, 2.0), (0.02, None), {}))
    found["as patches"] = [turned, table.readings_of(turned)]
    found["with frames"] = [
        outcome(lambda: table.paired_with_frames([2.0, 1.5, 1.0, 0.5, 0.3], -2, 2, 1)),
        outcome(lambda: table.paired_with_frames([2.0, 1.5], -2, 2, 1)),
    ]
    found["shots"] = [[s.document() for s in (each[0], each[-1])] + [len(each)] for each in (table.shots(), table.shots(-2, 2, 0.5, metered_shutter_s=0.25))]  # fmt: skip
    kept = listed(X[:3], D[:3])
    found["as text"] = [
        table.list_text(kept, form, name="Mine", created=EVENING.replace(microsecond=5)) for form in ("csv", "cgats")
    ]  # type: ignore[arg-type]
    series = _series(6).model_dump_json()
    found["read"] = [
        type(table.read_anything(text, where="x")).__name__ for text in (series, f"\ufeff \n{series}", "0,1\n1,0.5\n2,0.4")
    ] + [outcome(lambda: table.read_anything("[1]", where="x"))]  # fmt: skip
    found["strips"] = [
        table.strip_of([], None),
        table.strip_of(D, 0.3),
        table.strip_of(D, 0.5),
        table.strip_of(D[:4], None),
        table.strip_of([1.23456789], 0.1),
    ]
    found["greys"] = [round(grey, 4) for grey in table.greys_of([0.0, 0.3, 1.0, 2.0])]
    found["errors"] = [table.exposure_errors(one) for one in get_args(Exposed)]
    return found


def strips(bench: Any, clock: FixedClock) -> dict[str, Any]:
    """What is asked of the fit and of the diagnosis, without their sums."""
    found, mine = dict[str, Any](), pytest.MonkeyPatch()
    asked = list[Any]()
    try:
        mine.setattr(table, "fit_film", lambda series, others: (asked.append([[t.id for t in series.trials], others]), SimpleNamespace(draws=1, law=SimpleNamespace(density=2)))[1])  # fmt: skip
        known = [table.film_from_others(_series(*steps), "strip 1") for steps in ((6, 6), (6, 6, 6), (2, 6, 6), (6, 2, 6), (6, FEWEST_READINGS, 6), (6, FEWEST_READINGS - 1, 6))]  # fmt: skip
        found["a film from others"] = [[one is None for one in known], plain(known[1]), asked[:]]
        table.film_from_others(_series(6, 6, 6), "strip 2", ["another"])  # type: ignore[list-item]
        found["others, too"] = asked[-1]
        told = list[Any]()
        mine.setattr(table, "film_from_others", lambda series, id: f"without {id}")
        mine.setattr(table, "trial_answer", lambda trial, series, film: told.append([trial.id, film]))
        for count in (1, 2, 3, 10, 11):
            told.clear()
            table.series_answer(_series(*[6] * count))
            found[f"{count} strips"] = told[:2]
        told.clear()
        table.series_answer(_series(*[6] * 10, 2, 2))
        found["ten measured of twelve"] = told[-1]
        mine.undo()
        cures = tuple(
            Cure(text, first_developer=first)
            for text, first in (("wash", False), ("longer", True), ("fix", False), ("solvent", True))
        )
        finding = FaultFinding("x", 0.5, "seen", cures)
        given = list[Any]()

        def diagnosed(curve: Any, **more: Any) -> Any:
            given.append(more)
            return (finding, replace(finding, cures=cures[:1]))[: 1 if more["base_density"] is None else 2]

        mine.setattr(table, "diagnose_curve", diagnosed)
        one = Trial(id="strip 1", controls=WAY, control_sds={"solvent_ml_per_l": 0.7}, wear={"first_developer": 0.5})
        for name, more in {
            "no word": {}, "a word": {"advice": lambda: "ask the book"}, "of a trial": {"trial": one, "base_density": 0.2, "advice": lambda: "ask"},
            "of none made": {"trial": one.model_copy(update={"controls": {}})},
        }.items():  # fmt: skip
            seen = table.faults_of("curve", AIMS["projection"], **more)  # type: ignore[arg-type]
            found[f"faults, {name}"] = [
                [
                    [c.text, c.standing.value if c.standing is not Standing.COMMON_PRACTICE else "", c.first_developer]
                    for c in f.cures
                ]
                for f in seen
            ]
            found[f"asked, {name}"] = {key: given[-1][key] for key in ("controls", "control_sds", "base_density")}
        mine.setattr(table, "diagnose_curve", lambda *a, **b: (replace(finding, cures=cures[:1]),))
        silent = list[str]()
        table.faults_of("curve", AIMS["projection"], advice=lambda: silent.append("asked") or "")  # type: ignore[arg-type, func-returns-value]
        found["nothing to ask"] = silent
        mine.setattr(
            table,
            "faults_of",
            lambda curve, aim, **more: (more["advice"] and more["advice"](), more["base_density"], more["film"])[:3],
        )
        found["of a series"] = [
            [told.curve is None, told.faults, told.reason, told.box_speed]
            for steps in ((13,), (13, 2), (2, 13))
            for told in [table.trial_answer(_series(*steps).trials[0], _series(*steps), film="known")]  # type: ignore[arg-type]
        ]
    finally:
        mine.undo()
    curve = table.curve_of_patches(patches(), base_density=0.3, midtone_density=1.0)
    found["told of a trial"] = [
        table.TrialTold("a", None, 100.0, "too few").document(), table.TrialTold("a", curve, 100.0, faults=(replace(finding, fault="stain"),)).document()["faults"],
        table.TrialTold("a", curve, 100.0).document()["curve"] == curve.document(100.0), table.SeriesTold(_series(6).film, ()).document(),
    ]  # fmt: skip
    colours = [patches(8, stain_index=0.2), patches(8)]
    found["colour"] = [
        one is None for one in (table.colour_of_patches(colours[0]), table.colour_of_patches(colours[1]))
    ]
    return found


def kept(bench: Any, clock: FixedClock) -> dict[str, Any]:
    found, mine, place = dict[str, Any](), pytest.MonkeyPatch(), bench.light_table
    fitted = list[Any]()
    try:
        mine.setattr(
            table, "curve_of_patches", lambda p, **more: fitted.append([len(p), *more.values()]) or len(fitted)
        )
        found["curves"] = [place.curve(patches(n)) for n in (5, 6, 5)]
        for n in range(511):
            place.curve((), base_density=n / 1000)
        fitted.clear()
        # Of 513 the one that was asked for longest ago is gone, and the next of them goes for it.
        counts = list[int]()
        for given, base in ((patches(5), None), (patches(6), None), (patches(5), None), ((), 0.0)):
            place.curve(given, base_density=base)
            counts.append(len(fitted))
        found["after many"] = counts
        fitted.clear()
        found["others"] = [
            place.curve(patches(5), **more)
            for more in ({"base_density": 0.1}, {"midtone_density": 0.9}, {"exposed": "wedge"})
        ]
        found["fitted"] = fitted
    finally:
        mine.undo()
    found["no strip"] = outcome(lambda: place.look(()))
    for name, aim in (
        ("named", "scan"),
        ("a document", AIMS["scan"].model_dump()),
        ("itself", AIMS["scan"]),
        ("no aim", {"dmax_min": -1}),
        ("unknown", "moon"),
    ):
        seen = outcome(lambda aim=aim: place.look(patches()[::-1], base_density=0.3, box_speed=100.0, aim=aim))
        found[f"aim {name}"] = (
            seen
            if isinstance(seen, str)
            else [
                seen["strip"],
                seen["readings"][0],
                seen["curve"]["log_exposure"][::40],
                [f["fault"] for f in seen["faults"]],
            ]
        )
    drawn = place.look(patches(6), base_density=0.3)
    digits = [
        [len(repr(value).partition(".")[2]) for value in many]
        for many in (
            *drawn["curve"].values(),
            drawn["strip"],
            [
                one["weight"]
                for one in place.look((*patches()[:6], Patch(log_exposure=0.1, density=1.3), *patches()[6:]))[
                    "readings"
                ]
            ],
        )
    ]
    found["digits"] = [max(many) for many in digits]
    for far in (5.3, 5.4, 5.5, 9.0):
        seen = place.look((Patch(log_exposure=-float(far), density=2.5), *patches()[2:9]))
        found[f"from {far} below"] = [
            seen["curve"]["log_exposure"][0],
            seen["curve"]["log_exposure"][-1],
            len(seen["curve"]["log_exposure"]),
        ]
    text = "\n".join(f"{x},{d}" for x, d in zip(X, D, strict=True))
    turned = "\n".join(f"{-x},{d}" for x, d in zip(X, D, strict=True))
    for name, (words, more) in {
        "a list": (text, {}), "turned": (turned, {}), "turned, converted": (turned, {"convert": "rising"}), "turned, as it is": (turned, {"as_it_is": True}),
        "a series of one": (_series(6).model_dump_json(), {}), "of two": (_series(6, 6).model_dump_json(), {}), "of none": (_series().model_dump_json(), {}),
    }.items():  # fmt: skip

        def taken(words: str = words, more: dict[str, Any] = more) -> Any:
            read, doubts = place.read_text(words, "x.csv", base_density=0.3, box_speed=100.0, **more)
            return [len(read), read[:1], [doubt.code for doubt in doubts]]

        found[f"read {name}"] = outcome(taken)
    one = place.keep_reading(patches(3), name="One")
    clock.advance(60)
    place.keep_reading(patches(2), name="Two", source="picture", picture="p")
    found["readings"] = [
        [k.thing.name, k.thing.source, k.thing.picture, str(k.thing.read_at), len(k.thing.patches)]
        for k in place.readings()
    ] + [place.reading(one.id).thing.name]
    for name in ("A", "B"):
        clock.advance(60)
        place.keep_shot_list(name, -1, 1, 1, 0.5 if name == "B" else None)
    found["shot lists"] = [[k.thing.name, str(k.thing.made_at), k.thing.shots] for k in place.shot_lists()]
    return found


@pytest.mark.parametrize("telling", [lists, strips, kept], ids=lambda telling: telling.__name__)
def test_what_the_light_table_makes_of_it_is_what_was_read(tmp_path, telling):
    # A fitted curve is not the same to the digit on every processor.
    with darkroom(tmp_path) as opened:
        assert not told_as_kept(f"table_{telling.__name__}", telling(*opened), nearly=0.01)
