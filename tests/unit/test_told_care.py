"""What care makes of bottles, baths and names in one darkroom, asked part by part; and the smaller places beside it."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import imagecodecs
import numpy as np
import pytest

from obverse.capture import save_deep_png
from obverse.chemistry import Range
from obverse.clock import FixedClock
from obverse.densitometry import Calibration
from obverse.foundation import Caution, Estimate, InputError, Level, StoreError
from obverse.imaging import Picture
from obverse.model.simulate import simulate_film, simulate_trial
from obverse.process import USUAL_TOOLS, FilmStock, Grade, Trial
from obverse.process.catalog import formulas, products, routes
from obverse.safety import known_names
from obverse.safety.setting import unknown_room
from obverse.store.records import TrialEntry
from obverse.workbench import backup, bench, booking, bootstrap, camera, contradictions, demo, strip_files
from obverse.workbench.bootstrap import open_workbench
from obverse.workbench.care import baths, hazards
from obverse.workbench.care.called import called
from obverse.workbench.duties import duties_of
from obverse.workbench.names import heal_names
from tests.told_kept import EVENING, darkroom, told_as_kept
from tests.unit.test_told_everything import outcome

WAY = {"first_developer_time_min": 9.0}


def names(house: Any, clock: FixedClock) -> dict[str, Any]:
    """What may not meet, by names that are keys, words or nothing known."""
    found, care = dict[str, Any](), house.care
    many = {
        f"bleach_{n}": formulas()["bleach_iron_chloride"].model_copy(update={"key": f"bleach_{n}"}) for n in range(9)
    }
    found["many meanings"] = [len(called("bleach", {}, many).meanings), len(called("bleach_3", {}, many).meanings)]
    found["no such context"] = outcome(lambda: care.meet(["vinegar_5"], "moon"))
    asked = list[Any]()
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr(
            hazards,
            "meeting",
            lambda things, context, room: (
                asked.append([[getattr(t.given, "key", t.given) for t in things], context]) or []
            ),
        )
        for typed in (["bleach", "vinegar"], ["bleach", "bleach", "developer"], ["laundry_bleach=100mL", "moon dust"]):
            asked.clear()
            how = care.meet(typed, "mixing")
            found[f"tried {typed}"] = [len(asked), asked[:2], [one.text[:40] for one in how]]
    for typed in (
        ["laundry_bleach=200mL", "battery_acid_37=100mL"],
        ["laundry_bleach=200mL", "moon dust"],
        ["vinegar_5", "soda_ash"],
    ):
        found[f"meet {typed}"] = [
            [one.pair, one.level, one.refused, one.text[:70]] for one in care.meet(typed, "mixing")
        ]
    own = products()["battery_acid_37"].model_copy(update={"key": "mine", "name": "My Vinegar"})
    house.store.products.put(own, id="mine")
    found["one's own"] = [
        care.names()["mine"],
        [[one.pair, one.refused] for one in care.meet(["my vinegar=100mL", "laundry_bleach=200mL"], "mixing")],
    ]
    return found


def cupboard(house: Any, clock: FixedClock) -> dict[str, Any]:
    found, care, shelf = dict[str, Any](), house.care, house.shelf
    for key in ("laundry_bleach", "household_ammonia_10", "vinegar_essence_25", "metabisulfite_sodium"):
        shelf.add_generic(key)
        clock.advance(60)

    def seen() -> Any:
        return sorted(
            {(one.pair, one.a_from[:24], one.b_from[:24], str(one.level.value)) for one in care.shelf_findings()}
        )

    found["bottles"] = seen()
    id = care.mix_bath("bleach_permanganate", 500)
    found["a fresh bath more"] = [one for one in seen() if one not in found["bottles"]]
    care.count_pass(id)
    before = seen()
    found["a used one"] = [one for one in before if one not in found["bottles"]]
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr(hazards, "MOST_BOTTLES", 1)
        found["no two by two"] = [one for one in before if one not in seen()]
        mine.setattr(hazards, "check_storage", lambda *matters, where: ([len(matters), where],))
        found["asked of storage"] = care.shelf_findings()
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr(care, "_own_products", lambda: list(range(41)))
        mine.setattr(hazards, "_broken", lambda one, other, room: (one,))
        found["pairs of 41"] = len(care._broken_side_by_side())
    found["out of the room"] = [
        [one.pair, one.a_from, one.b_from] for one in care._out_of_the_room(routes()["permanganate_light"])
    ]
    air = list[Any]()
    for key in ("iron_ammonia_fogging", "permanganate_light"):
        told = care.route(key)
        for step in told.steps:
            if step.air is not None:
                air.append([step.step.key, step.air.gas, step.air.ppm_room, step.air.ppm_near, step.air.clears_in_min])
        found[f"route {key}"] = [
            [s.step.key, s.sheet is not None, [f.pair for f in s.findings], [d.key for d in s.destruction]] for s in told.steps
        ] + [[f.pair for f in told.elsewhere], len(told.findings)]  # fmt: skip
    found["air"] = air
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr(hazards, "check_route", lambda route, given, room: [])
        mine.setattr(hazards, "hazards_of_route", lambda route, given: [])
        fogging = routes()["iron_ammonia_fogging"]
        stands = fogging.with_step(fogging.step("dissolving").model_copy(update={"after_use": "waste"}))
        for name, way, given in (
            ("stands", stands, formulas()),
            ("destroyed", fogging, formulas()),
            ("unknown", fogging, {}),
        ):
            told = hazards.route_care(way, given, care.room())
            found[f"dissolving {name}"] = [
                [s.step.key, s.air is None, len(s.destruction)]
                for s in told.steps
                if s.step.key in ("dissolving", "fogging")
            ]
    step = routes()["iron_ammonia_fogging"].step("dissolving")
    room = care.room()
    for key in ("fixer_rapid", "clearing_metabisulfite", "fogging_dithionite"):
        told = hazards._air(step, formulas()[key], room)
        found[f"air of {key}"] = told and [told.gas, told.ppm_room, told.clears_in_min]
    return found


def ages(house: Any, clock: FixedClock) -> dict[str, Any]:
    """Baths by how old they are, by what the notebook says of their films, and by what stands in the processes."""
    found, care, store = dict[str, Any](), house.care, house.store
    iron = care.mix_bath("bleach_iron_chloride", 1000, name="Iron")

    def put(id: str, **changes: Any) -> Any:
        store.bottles.put(store.bottles.get(id).thing.model_copy(update=changes), id=id)
        return care.bath(id)

    clock.advance(90 * 60)
    found["age"] = [
        care.bath(iron).age_h, put(iron, mixed_at=None).age_h, put(iron, filled_on=EVENING.date() - timedelta(days=3)).age_h,
        put(iron, filled_on=EVENING.date() + timedelta(days=3)).age_h, put(iron, filled_on=None).age_h,
    ]  # fmt: skip
    found["no amount"] = [
        put(iron, amount=None).forecast is None,
        put(iron, amount=0.0).forecast is None,
        put(iron, amount=1000.0).forecast is None,
    ]
    film = house.notebook.add_film({"name": "Grey", "box_speed": 100}).id
    for run, more in (
        ("r1", {"faults": ["ghost_negative"]}),
        ("r2", {"grades": [{"of": "blacks", "grade": "thin"}]}),
        ("r3", {}),
        ("r4", {"faults": ["stain"]}),
        ("", {"faults": ["ghost_negative"]}),
    ):
        clock.advance(60)
        house.notebook.add_trial(film, {"id": f"of {run}", "controls": WAY, **more}, run=run)
    found["verdicts"] = care._verdicts()
    for run in ("r1/x", "r2/x", "r3/x", "r4/x", ""):
        care.count_pass(iron, run=run)
    care.judge(iron, 4, True)
    bottle = store.bottles.get(iron).thing
    found["seen of its films"] = [
        [one.ghost for one in baths._passes(bottle, formulas()[key], care._verdicts())] for key in ("bleach_iron_chloride", "ammonia_bath", "fixer_rapid")
    ]  # fmt: skip
    found["no such film"] = [outcome(lambda n=n: care.judge(iron, n, True)) for n in (-1, 5)]
    kind = formulas()["bleach_iron_chloride"]
    known = care.belief(kind)
    store.bottles.retire(iron)
    found["belief"] = [
        known,
        care.belief(kind) == known,
        care._belief(kind, without=iron, verdicts={}),
        care._forecast(kind, None, 0.1, 500.0).document(),
    ]
    fixer = care.mix_bath("fixer_rapid", 500, name="Fixer")
    clock.advance(60)
    care.clip_test(fixer, 30.0, run="r1/clip")
    fresh = formulas()["fixer_rapid"]
    found["fresh clips"] = [
        care._fresh_clips(fresh),
        care._fresh_clips(fresh, without=fixer),
        care.clip_expected_s(fresh),
    ]
    care.count_pass(fixer, run="r5/fixing")
    care.count_pass(fixer, run="r6/fixing", films=2.0)
    for run in ("r6/clip", "", "r7/clip"):
        clock.advance(60)
        found[f"films before, {run}"] = care.clip_test(fixer, 50.0, run=run).bottle.notes[-1].area_m2
    store.bottles.retire(fixer)
    found["fresh clips of one put away"] = care._fresh_clips(fresh)
    kept = {
        "does": "fix",
        "bath": "fixer_rapid",
        "time": "4 min",
        "after": "back to its jug, good for 6 films, topped up with 20 mL a film, restored with citric acid",
        "name": "Fix",
    }
    for name in ("One", "Two"):
        clock.advance(60)
        house.processes.take_in({"name": name, "tank_ml": 500, "steps": [kept, {**kept, "after": "waste jug A"}]})
    found["renewals"] = care._renewals()
    danger = care.mix_bath("ammonia_bath", 500, name="Late")
    care.count_pass(danger)
    clock.advance(60)
    note = care.mix_bath("wetting_bath", 500, name="Quiet")
    clock.advance(60)
    care.mix_bath("fixer_rapid", 500, name="Third")
    clock.advance(3 * 3600)
    found["in order"] = [[v.bottle.name, [c.level for c in v.cautions], v.renewals] for v in care.baths()]
    found["must go"] = [v.bottle.name for v in care.used_that_must_go()]
    started = care.bath(danger)
    found["its clock"] = [
        str(replace(started, **more).clock_started)
        for more in ({}, {"residue": None}, {"bottle": started.bottle.model_copy(update={"passes": ()})}, {"bottle": started.bottle.model_copy(update={"passes": (started.bottle.passes[0].model_copy(update={"at": None}),)})})
    ] + [care.bath(note).clock_started]  # fmt: skip
    found["before an evening"] = [
        [[c.code, c.where, c.text] for c in care.before_an_evening(routes()["iron_ammonia_fogging"], area, tank)]
        for area, tank in ((0.05, 500.0), (2.0, 500.0), (0.05, 50.0))
    ]  # fmt: skip
    old = care.bath(care.stands_already("fixer_rapid", 500, films=3)).bottle
    jug = care.begin_jug("A", 5000)
    poured = [
        care.pour(jug, "fixer_rapid", 100.0, **more).jug.contents[-1].silver_likely_g
        for more in ({}, {"films": 1.0}, {"films": 1.0, "film": "120"})
    ]
    found["poured"] = [
        poured,
        care.jug(jug).jug.vented,
        outcome(lambda: care.bath_into_jug(danger, jug)),
        outcome(lambda: care.pour(jug, "ammonia_bath", 10.0)),
    ]
    found["counted"] = [
        [p.films, p.area_m2, p.time_ratio] for p in care.count_pass(care.mix_bath("fixer_rapid", 500)).bottle.passes
    ]
    found["sizes"] = baths.FILMS
    found["stood new"] = [
        care.bath(care.stands_already("fixer_rapid", 500)).bottle.passes,
        care.bath(care.stands_already("fixer_rapid", 500)).bottle.count_known,
    ]
    found["stood before"] = [[p.note, p.films, p.area_m2, p.at] for p in old.passes]
    found["a product"] = outcome(lambda: care.bath(house.shelf.add_bottle({"name": "Bag", "product": "soda_ash"})))
    return found


def contradicted(house: Any, clock: FixedClock) -> dict[str, Any]:
    def strip(name: str, *grades: tuple[str, str], note: str = "", **controls: float) -> Trial:
        return Trial(
            id=name, controls=WAY | controls, note=note, grades=[Grade(of=of, grade=grade) for of, grade in grades]
        )  # type: ignore[arg-type]

    clear, hazy, murky = ("highlights", "clear"), ("highlights", "slightly_murky"), ("highlights", "murky")
    asked = {
        "two apart": (strip("a", clear), strip("b", murky)), "side by side": (strip("a", clear), strip("b", hazy)), "one says both": (strip("a", clear, murky),), "both and another": (strip("a", clear, murky), strip("b", murky)),
        "three": (strip("a", clear), strip("b", hazy, ("blacks", "deep")), strip("c", murky, ("blacks", "thin"))), "by the note": (strip("a", clear, note="murky"),), "in the note alone": (strip("a", note="murky; clear, then thin"),),
        "three words": (strip("a", clear, hazy, murky),), "said twice": (strip("a", murky, murky, note="clear"),), "tints": (strip("a", ("tint", "none"), ("tint", "strong")),),
        "too long": (strip("a", first_developer_time_min=400.0),), "too much": (strip("a", solvent_ml_per_l=900.0),), "too warm": (strip("a", temperature_c=90.0),), "too little": (strip("a", first_developer_time_min=0.01),),
        "put together": (strip("a", clear, solvent_ml_per_l=900.0), strip("b", murky, solvent_ml_per_l=900.0)),
    }  # fmt: skip
    return {name: contradictions.contradictions(trials) for name, trials in asked.items()}


def backups(house: Any, clock: FixedClock) -> dict[str, Any]:
    found, home, store = dict[str, Any](), Path(house.home), house.store
    folder = home / "copies"
    found["nothing to lose"] = backup.backup_line(store, home, EVENING)
    house.shelf.add_generic("soda_ash")
    found["never"] = backup.backup_line(store, home, EVENING)
    made = backup.back_up(store, folder, home, EVENING)
    again = backup.back_up(store, folder, home, EVENING)
    found["made"] = [
        Path(made.file).name[:8],
        Path(again.file).name[-9:],
        made.revisions,
        made.events,
        made.blobs,
        made.made_at,
        sorted(p.name[:1] for p in folder.iterdir()),
    ]
    found["line"] = [
        [line.made_on[:7], Path(line.folder).name, line.days] for after in (backup.OLD, backup.OLD + timedelta(seconds=1)) if (line := backup.backup_line(store, home, EVENING + after))
    ]  # fmt: skip
    found["held"] = [
        backup.how_much(SimpleNamespace(revisions=a, events=b, blobs=c)) for a, b, c in ((1, 1, 1), (2, 0, 3))
    ]  # type: ignore[arg-type]
    # The bytes that say how a file is written: one alone, without a log beside it.
    found["one file"] = Path(made.file).read_bytes()[18:20].hex()
    (home / "last-backup.json").write_text("{")
    found["unreadable"] = backup.last_backup(home)
    other = open_workbench(home / "other", url="sqlite://", clock=clock)
    try:
        told = backup.restore(folder, other.store, home)
        found["restored"] = [
            told.revisions,
            told.events,
            told.blobs,
            [p.key for p in other.shelf.products_or_generic()][:2],
        ]
    finally:
        other.close()
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr(backup, "contents_of", lambda store: None)
        last = open_workbench(home / "last", url="sqlite://", clock=clock)
        found["not as it was"] = outcome(lambda: backup.restore(folder, last.store, home))
        last.close()
    empty = home / "none"
    empty.mkdir()
    spoilt = home / "spoilt.sqlite"
    spoilt.write_bytes(b"SQLite format 3\0" + b"x" * 4000)
    found["refused"] = [
        outcome(lambda p=p: backup.restore(p, store, home)).replace(str(home), "") for p in (empty, home / "no.sqlite", spoilt)
    ]  # fmt: skip
    blocked = home / "file"
    blocked.write_text("x")
    found["blocked"] = (
        outcome(lambda: backup.back_up(store, blocked / "in", home, EVENING)).partition("(")[0].replace(str(home), "")
    )
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr(backup, "_read_back", lambda part: None)
        try:
            backup.back_up(store, home / "bad", home, EVENING)
        except StoreError as error:
            found["not read back"] = error.what
        found["left of it"] = [p.name for p in (home / "bad").iterdir()]
    return found


def pictures(house: Any, clock: FixedClock) -> dict[str, Any]:
    found, place, store = dict[str, Any](), house.camera, house.store
    codes = (np.arange(8 * 12 * 3, dtype=np.uint16).reshape(8, 12, 3) * 200 + 500).astype(np.uint16)
    first = place.add(save_deep_png(codes, exposure_s=0.5), "one.png")
    again = place.add(save_deep_png(codes, exposure_s=0.5), "again.png")
    clock.advance(60)
    frames = place.add_frames(codes[::-1].astype("<u2").tobytes(), 12, 8, 0.25)
    found["kept"] = [
        again.id == first.id,
        frames.thing.name,
        frames.thing.width,
        frames.thing.height,
        frames.thing.exposure_s,
    ]
    found["refused"] = [
        outcome(lambda: place.add_frames(b"xx", 12, 8, None)),
        outcome(lambda: place.add(b"x", "x.png"))[:40],
    ]
    clock.advance(60)
    kept, refused = place.add_all(
        [(b"x", "bad.png"), (save_deep_png(np.ascontiguousarray(codes[:, ::-1]), exposure_s=1.0), "n" * 300)]
    )
    found["all"] = [[len(k.thing.name) for k in kept], len(refused)]
    clock.advance(60)
    found["recent"] = [[k.thing.name[:5] for k in place.recent()], len(place.recent(1))]
    found["look"] = place.look(save_deep_png(codes, exposure_s=1.0), 5)
    found["views"] = [
        len(place.view(first.id)) > 300,
        place.view(first.id) == place.view(first.id, longest=12),
        place.view(first.id) == place.view(first.id, longest=6),
    ]
    held = [len(place._decoded)]
    with pytest.MonkeyPatch.context() as mine:
        for most, octets in ((1, 10**9), (2, 2 * codes.nbytes), (3, 2 * codes.nbytes - 1)):
            place._decoded.clear()
            mine.setattr(camera, "_KEPT_DECODED", most)
            mine.setattr(camera, "_KEPT_DECODED_BYTES", octets)
            for id in (first.id, frames.id):
                place.opened(id)
                held.append(len(place._decoded))
    found["decoded"] = held
    found["too many"] = [outcome(lambda n=n: place.read([first.id] * n, strip_files.ReadAsked(5))) for n in (0, 13)]
    document = {
        "kind": "camera density",
        "patches": [{"density": 0.2 * n, "density_sd": 0.01, "clipped": n == 3} for n in range(8)],
    }
    asked = list[Any]()
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr(
            camera, "calibrate", lambda *given, tablet: asked.append([*given, tablet]) or Calibration.model_construct()
        )
        for name, reading in (
            ("not read", {}),
            ("calibrated before", {**document, "kind": "density"}),
            ("too few known", document),
        ):
            store.pictures.put(store.pictures.get(first.id).thing.model_copy(update={"reading": reading}), id=first.id)
            found[f"calibrate, {name}"] = outcome(lambda: place.calibrate(first.id, [0.1] * 7))
        mine.setattr(camera, "CalibrationEntry", lambda **more: (_ for _ in ()).throw(RuntimeError()))
        with pytest.raises(RuntimeError):
            place.calibrate(first.id, [float(n) for n in range(8)])
    found["calibrated by"] = asked
    found["no calibration"] = [place.calibration(), place.calibration_revision(), place.forget_calibration()]
    seen = camera.picture_document(store.pictures.get(first.id))
    found["document"] = [seen["read"], seen["name"], "reading" in seen, camera.picture_document(frames)["read"]]
    return found


def readings(house: Any, clock: FixedClock) -> dict[str, Any]:
    """What a strip is read from and what is kept of it, with a reader that only notes what it was given."""
    found, place, store, asked, told = dict[str, Any](), house.camera, house.store, list[Any](), list[Any]()
    codes = (np.arange(30 * 40 * 3, dtype=np.uint16).reshape(30, 40, 3) * 15 + 500).astype(np.uint16)
    ids = [place.add(save_deep_png(codes + 10 * n, exposure_s=0.5), f"{n}.png").id for n in range(3)]
    corner = SimpleNamespace(document=lambda: {"corners": [[1, 2]]})
    reading = SimpleNamespace(document=lambda: {"kind": "camera density", "patches": []}, patches=[corner])

    def read(pictures: Any, patches: int, corners: Any = None, **more: Any) -> Any:
        if "progress" in more:
            more.pop("progress")(0.5, "half")
        asked.append(
            [[one.name for one in pictures], patches, corners, {k: getattr(v, "name", v) for k, v in more.items()}]
        )
        return reading

    made = Calibration(slope=1.1, bend=0.0, covariance=((0.1, 0.0), (0.0, 0.1)), residual_sd=0.01, highest=2.0, steps=7)
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr(camera, "read_strip", read)
        mine.setattr(strip_files, "read_strip", read)
        mine.setattr(strip_files, "diagnose_picture", lambda pictures, reading: ())
        mine.setattr(strip_files, "not_looked_for", lambda pictures, reading: "too few")
        mine.setattr(camera, "calibrate", lambda *given, tablet: made)
        mine.setattr(
            camera, "simulated_bracket", lambda seed, densities: [(codes + seed + n, 0.1 * (n + 1)) for n in range(2)]
        )
        found["look"] = place.look(save_deep_png(codes, exposure_s=1.0), 5)
        found["twelve"] = place.read(ids * 4, strip_files.ReadAsked(5)).not_looked_for
        asked.pop()
        found["read"] = place.read(
            ids,
            strip_files.ReadAsked(5, [[0, 0]], [1.0], 2, accept=True, stops=3.0),
            panel=ids[1],
            progress=lambda share, words: told.append([round(share, 3), words]),
        ).document()
        found["told meanwhile"] = told
        first = store.pictures.get(ids[0]).thing
        found["kept with it"] = [
            first.reading,
            [ids.index(id) for id in first.together],
            store.pictures.get(ids[1]).thing.reading,
        ]
        tablet = {
            "kind": "camera density",
            "patches": [{"density": 0.2 * n, "density_sd": 0.01, "clipped": False} for n in range(8)],
        }
        store.pictures.put(first.model_copy(update={"reading": tablet}), id=ids[0])
        known = [0.2 * n for n in range(8)]
        place.calibrate(ids[0], known)
        found["calibrated"] = [place.calibration() == made, place.calibration_revision()]
        for calibrated in (True, False):
            place.read(ids[1:2], strip_files.ReadAsked(5), calibrated=calibrated)
        place.forget_calibration(expected_revision=1)
        place.forget_calibration()
        found["forgotten"] = [place.calibration(), place.calibration_revision()]
        found["an older revision"] = outcome(lambda: place.calibrate(ids[0], known, expected_revision=1))[:30]
        place.calibrate(ids[0], known, expected_revision=2)
        found["calibrated anew"] = [
            place.calibration() == made,
            place.calibration_revision(),
            outcome(lambda: place.calibrate(ids[0], known, expected_revision=1))[:30],
        ]
        found["forgotten too late"] = outcome(lambda: place.forget_calibration(expected_revision=1))[:30]
        found["simulated"] = [one.thing.name for one in place.add_simulated(7)]
        report = list[Any]()
        mine.setattr(
            camera, "report_files", lambda pictures, told: report.append([[name for _, name in pictures], told])
        )
        store.pictures.put(store.pictures.get(ids[0]).thing.model_copy(update={"together": (ids[2],)}), id=ids[0])
        place.report(ids[0])
        found["reported"] = [report[0][0], report[0][1]["reading"]["kind"]]
    found["asked"] = asked
    for name in "abcdef":
        clock.advance(60)
        store.pictures.put(store.pictures.get(ids[1]).thing.model_copy(update={"name": name}))
    found["as many as are asked"] = [
        [one.thing.name for one in place.recent()][:6],
        len(place.recent()),
        len(place.recent(99)),
    ]
    place._decoded.clear()
    for one in place.recent(99):
        place.opened(one.id)
    found["at hand"] = len(place._decoded)
    place._decoded[ids[1]] = Picture(codes=np.full((3, 3300, 1), 900, dtype=np.uint16), name="long")
    found["as wide as is shown"] = imagecodecs.jpeg8_decode(place.view(ids[1])).shape
    wall = store.pictures.put(store.pictures.get(ids[2]).thing.model_copy(update={"purpose": "wall"}), id=ids[2])
    found["of the wall"] = [outcome(lambda: place.picture(wall.id)).replace(wall.id, "ID"), len(place.recent())]
    return found


def exchanged(house: Any, clock: FixedClock) -> dict[str, Any]:
    """A whole notebook that is looked through and taken in: what is unreadable, doubled, of another program, or of nobody."""
    found, store = dict[str, Any](), house.store
    film = house.notebook.add_film({"name": "Grey", "box_speed": 100}).id
    for name, warm_c in (("a", 20.0), ("b", 21.0)):
        clock.advance(60)
        house.notebook.add_trial(film, {"id": name, "controls": WAY | {"temperature_c": warm_c}})
    slide = house.projector.slides.add_roll("R", 1)[0].id
    house.projector.slides.keep_list({"name": "Evening", "slides": [slide]})
    house.light_table.keep_shot_list("Card", -1, 1, 1, None)
    house.care.set_room(12.0, 2.0)
    house.shelf.add_generic("soda_ash")
    # What the engine finds has tests of its own, and takes longest.
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr("obverse.run.planner.check_route", lambda *given, **more: [])
        run = house.sink.begin({"route": "permanganate_light", "tank_ml": 500, "name": "Try"}, id="run-1")
    house.sink.record(run, "start", {"kind": "started"})
    for key in ("ammonia_bath", "fixer_rapid"):
        clock.advance(60)
        house.care.count_pass(house.care.mix_bath(key, 500))
    house.care.begin_jug("A", 5000)
    document = house.export()
    other = open_workbench(Path(house.home) / "other", url="sqlite://", clock=clock)
    try:
        taken = other.take_in(json.loads(json.dumps(document)))
        found["taken in"] = [
            taken,
            other.take_in(json.loads(json.dumps(document))),
            other.from_elsewhere() == {store.darkroom: sum(taken.values())} or sorted(other.from_elsewhere().values()),
        ]
        found["there"] = [
            [k.thing.name for k in other.notebook.films()],
            len(other.notebook.trials(film)),
            other.sink.state("run-1").status,
            len(other.projector.slides.lists()),
            len(other.light_table.shot_lists()),
        ]
        found["checked"] = other.check()
        other.shelf.add_generic("laundry_bleach")
        theirs = other.care
        with pytest.MonkeyPatch.context() as mine:
            mine.setattr(hazards, "check_storage", lambda *matters, where: (len(matters),))
            found["of another's things"] = [
                theirs.shelf_findings(), theirs.baths(), theirs.used_that_must_go(), theirs.jugs(), theirs.silver_g().likely, sorted(set(theirs.names()) - set(known_names())), theirs.room() == unknown_room(),
                [c.where for c in theirs.before_an_evening(routes()["permanganate_light"], 0.05, 500.0) if c.code.startswith("destroy.")],
            ]  # fmt: skip
        use: Any = SimpleNamespace(
            formula="fixer_rapid", volume_ml=400.0, took_s=60.0, planned_s=60.0, strips=("A",), key="x"
        )
        evening: Any = SimpleNamespace(plan=SimpleNamespace(actions=(), action=lambda key: use), done=())
        found["booked beside another's"] = [
            booking._clip(other.store, theirs, use, "m", evening)(), booking._kept_bath(other.store, theirs, use, 0.05, "m", evening)(), [k.thing.amount for k in other.store.bottles.all(own=True)],
        ]  # fmt: skip
        bent = json.loads(json.dumps(document))
        for one in bent["things"]:
            if one["kind"] == "setting" and one["revisions"][-1]["body"].get("what") == "shot_list":
                one["revisions"][-1]["body"] = {"what": "moon", "x": 1}
                one["id"] = "of-a-newer-program"
        third = open_workbench(Path(house.home) / "third", url="sqlite://", clock=clock)
        try:
            third.take_in(bent)
            found["of a newer program"] = [third.store.get("setting", "of-a-newer-program").body, third.check()]
            third.store.put("film", {"name": "bad", "box_speed": -1})
            third.store.put("trial", {"film": film, "number": 9, "trial": {"id": "a", "controls": WAY}})
            told = third.check()
            found["unreadable"] = [
                told.renamed,
                told.orphans,
                [re.sub(r"[0-9a-f]{16}", "ID", one) for one in told.unreadable],
            ]
            third.store.put("film", {"name": "bad", "box_speed": -1}, id="aside")
            third.store.retire("film", "aside")
            found["unreadable, aside"] = len(third.check().unreadable)
        finally:
            third.close()
        for name, change in {
            "an event of nothing": {"kind": "moon"},
            "an event too long": {"kind": "step_extended", "seconds": -5.0},
        }.items():
            bad = json.loads(json.dumps(document))
            events = next(
                value
                for key, value in bad.items()
                if isinstance(value, list) and key != "things" and value and "body" in value[0]
            )
            events[0]["body"] = {**events[0]["body"], **change}
            fourth = open_workbench(Path(house.home) / "fourth", url="sqlite://", clock=clock)
            found[name] = [outcome(lambda bad=bad, fourth=fourth: fourth.take_in(bad)), len(fourth.export()["things"])]
            bad["things"] = [one for one in bad["things"] if one["kind"] != "run"]
            found[f"{name}, without its run"] = str(outcome(lambda bad=bad, fourth=fourth: fourth.take_in(bad)))[:60]
            fourth.close()
    finally:
        other.close()
    return found


def told_at_home(house: Any, clock: FixedClock) -> dict[str, Any]:
    found, home = dict[str, Any](), Path(house.home)
    (home / "one").mkdir()
    (home / "two").mkdir()
    with pytest.MonkeyPatch.context() as mine:
        for name in ("OBVERSE_HOME", "OBVERSE_DATABASE"):
            mine.delenv(name, raising=False)
        with bootstrap.in_home(home / "one"):
            with bootstrap.in_home(None):
                inner = bootstrap.home_folder().name
            with bootstrap.in_home(home / "two"):
                inner += bootstrap.home_folder().name
            found["folders"] = [inner, bootstrap.home_folder().name, bootstrap.home().how]
            seen = [bootstrap.has_notebook()]
            (home / "one" / "notebook.sqlite").write_text("")
            seen.append(bootstrap.has_notebook())
        with bootstrap.in_home(home / "two"):
            mine.setenv("OBVERSE_DATABASE", "x")
            seen.append(bootstrap.has_notebook())
        found["has a notebook"] = seen
    made = list[str]()
    house.back_up = lambda: made.append("made")
    for press in ("", "", "a", "a", "b", "a"):
        house.back_up_again(press)
        made.append(press)
    found["pressed"] = made
    told = duties_of(
        SimpleNamespace(used_that_must_go=lambda: (_ for _ in ()).throw(InputError("it cannot be read", where="bath"))),
        SimpleNamespace(),
    )  # type: ignore[arg-type]
    found["a bath that cannot be read"] = told
    return found


def views(house: Any, clock: FixedClock) -> dict[str, Any]:
    """What the eye is shown of a picture: how light its panel is, what of it is left in a smaller one."""
    found = dict[str, Any]()
    ramp = np.linspace(3000, 60000, 64).astype(np.uint16)
    even = np.repeat(ramp[None, :], 48, axis=0)
    striped = even.copy()
    striped[1::2] //= 4
    striped[:, 1::2] //= 2
    dark = np.full((48, 64), 3, dtype=np.uint16)
    kept = house.camera.add(save_deep_png(np.ascontiguousarray(np.stack([even] * 3, axis=-1)), exposure_s=1.0), "x.png")
    for name, codes in (("even", even), ("striped", striped), ("dark", dark)):
        for channels in (1, 3):
            shades = codes[..., None] if channels == 1 else np.stack([codes, codes // 2, codes // 4], axis=-1)
            house.camera._decoded[kept.id] = Picture(codes=shades, name=name)
            for longest in (64, 63, 22):
                seen = imagecodecs.jpeg8_decode(house.camera.view(kept.id, longest))
                found[f"{name}, {channels} channels, {longest} px"] = [
                    list(seen.shape),
                    seen[:: max(1, seen.shape[0] // 2), :: seen.shape[1] // 4].astype(int).ravel(),
                ]
    return found


def mixed(house: Any, clock: FixedClock) -> dict[str, Any]:
    found, place = dict[str, Any](), house.bench
    shelf = tuple(products().values())
    for text, does in (
        ("40 mL paper developer + 5 mL household ammonia, water to 600 mL", "develop"),
        ("fixer 1+4", "fix"),
        ("a wink", "fix"),
        ("10 g moon dust in 1 L", "other"),
        ("fixer 1+4", "dance"),
    ):
        told = outcome(lambda text=text, does=does: bench.as_said(text, shelf, does=does))
        found[f"said {text}, {does}"] = (
            told
            if isinstance(told, str)
            else [told["formula"]["key"], told["formula"]["name"], told["volume_ml"], told["choices"]]
        )
    house.shelf.add_generic("fixer_ats_60wv")
    house.shelf.add_bottle({"name": "Fixer", "product": "fixer_ats_60wv", "amount": 400})
    clock.advance(60)
    sheet = place.sheet("fixer_rapid", 500)
    found["mixed"] = [
        place.mixed(sheet) is not None,
        clock.advance(60).minute,
        place.mixed(place.sheet("fixer_rapid", 100)) is not None,
    ]
    found["bottles"] = [
        [k.thing.name, k.thing.formula, k.thing.amount, k.thing.contents, str(k.thing.filled_on)]
        for k in house.shelf.bottles()
    ]
    found["not kept"] = outcome(lambda: place.keep_as_bottle("ammonia_bath", 500))
    found["route"] = [
        [one.formula.key, [s.key for s in one.steps], one.sheet is not None, one.reason] for one in place.route_baths("iron_ammonia_light", 500)
    ]  # fmt: skip
    found["when"] = [[a.kind, a.formula, round(a.start_s)] for a in place.when_to_mix("iron_ammonia_fogging", 500)]
    found["options"] = {key: [p.key for p in many] for key, many in place.options(formulas()["fixer_rapid"]).items()}
    plain = place.sheet("fixer_rapid", 500)
    found["added"] = bench._as_added(plain, [products()["fixer_ats_60wv"]])
    dry = bench.make_sheet(formulas()["clearing_metabisulfite"], 500, shelf, USUAL_TOOLS)
    found["added dry"] = [[one.name, one.water_ml, one.at_once] for one in bench._as_added(dry, shelf)]
    acid, soda, other = products()["vinegar_5"], products()["soda_ash"], products()["battery_acid_37"]

    def says(bottle: Any, code: str) -> Any:
        return bottle.model_copy(update={"statements": (code,)})

    for name, bottles in {
        "gas, alone": (says(soda, "EUH031"),), "gas, acid": (says(soda, "EUH031"), acid), "strong gas, two acids": (says(soda, "EUH032"), acid, other), "an acid's own": (says(acid, "EUH031"),), "an acid's own, another": (acid, says(other, "EUH031")),
        "others, alone": (says(soda, "EUH206"),), "others, two": (says(soda, "EUH206"), acid), "nothing said": (soda, acid), "both": (soda.model_copy(update={"statements": ("EUH031", "EUH206")}), acid),
    }.items():  # fmt: skip
        found[f"by labels: {name}"] = [[c.code, c.level, c.text] for c in bench._told_by_labels(bottles)]
    met = list[Any]()
    refused = [replace(one, refused=True) for one in house.care.meet(["vinegar_5", "soda_ash"], "mixing")]
    with pytest.MonkeyPatch.context() as mine:
        for name, told, bounds in (
            ("nothing", (), False),
            ("heat", ("reckoned.heat",), False),
            ("open ends", ("x",), True),
        ):
            met.clear()
            mine.setattr(
                bench,
                "_met",
                lambda formula, sheet, bottles, room, told=told: (
                    met.append([b.key for b in bottles])
                    or tuple(replace(refused[0], pair=one, refused=False) for one in told)
                ),
            )
            given = (
                replace(plain, bounds_g_per_l={"ammonium_thiosulfate": Range(100.0, 120.0, 140.0)}) if bounds else plain
            )
            seen = bench._checked(formulas()["fixer_rapid"], given, shelf, None)
            hot = bench._checked(
                formulas()["fixer_rapid"],
                given.with_cautions((Caution("mix.heat", "hot", Level.CAUTION),)),
                shelf,
                None,
            )
            found[f"checked: {name}"] = [
                met[:3],
                [c.code for c in seen.all_cautions],
                [c.code for c in hot.all_cautions],
            ]
        mine.setattr(bench, "_met", lambda *given: refused)
        found["refused"] = outcome(lambda: bench._checked(formulas()["fixer_rapid"], plain, shelf, None))
    found["as mixed"] = [
        [c.substance, c.concentration] for c in bench._as_mixed(formulas()["fixer_rapid"], plain).components
    ]
    return found


def opened(house: Any, clock: FixedClock) -> dict[str, Any]:
    """What is done when a notebook is opened, names that stand twice in it, and what is reckoned ahead."""
    found, store, home = dict[str, Any](), house.store, Path(house.home)
    called_ = list[str]()
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr("obverse.workbench.names.heal_names", lambda store: called_.append("names"))
        mine.setattr("obverse.store.Store.clear_orphans", lambda store: called_.append("orphans"))
        mine.setattr(bootstrap, "close_to_others", lambda folder: called_.append(folder.name))
        for name, file in (("new", ""), ("old", "notebook.sqlite"), ("served", "secret")):
            (home / name).mkdir()
            if file:
                (home / name / file).write_text("")
            called_.append(f"{name}:")
            open_workbench(home / name, url="sqlite://", clock=clock).close()
        called_.append("one's own:")
        mine.setattr(Path, "home", lambda: home / "old")
        open_workbench(home / "old", url="sqlite://", clock=clock).close()
        found["opened"] = called_
        (home / "a file").write_text("")
        found["no folder"] = (
            outcome(lambda: open_workbench(home / "a file" / "in", url="sqlite://", clock=clock))
            .partition("(")[0]
            .replace(str(home), "")
        )
    found["back up"] = [
        outcome(lambda: house.back_up()),
        house.shelf.add_generic("soda_ash") and outcome(lambda: house.back_up()),
    ]
    made = house.back_up(home / "copies")
    found["there again"] = [Path(house.back_up().file).parent == Path(made.file).parent, house.backup_line().days]
    film = store.films.put(FilmStock(name="Grey", box_speed=100.0)).id
    clock.advance(60)
    store.films.put(FilmStock(name="Grey", box_speed=50.0))
    clock.advance(60)
    store.films.put(FilmStock(name="Grey (2)", box_speed=25.0))
    for number, name in ((3, "a"), (1, "a"), (2, "b"), (2, "a")):
        clock.advance(60)
        store.trials.put(
            TrialEntry(film=film, number=number, trial=Trial(id=name, controls=WAY | {"temperature_c": 20.0 + number}))
        )
    shown = [[k.thing.name, k.thing.box_speed] for k in house.notebook.films()]
    before = [[k.thing.number, k.thing.trial.id] for k in house.notebook.trials(film)]
    found["shown apart"] = [shown, before]
    found["told apart"] = [
        heal_names(store),
        heal_names(store),
        [k.thing.name for k in store.films.all()],
        [[k.thing.number, k.thing.trial.id] for k in store.trials.all(film=film)],
    ]
    asked = list[str]()
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr(house.shelf, "openings", lambda: asked.append("openings"))
        mine.setattr(house.care, "shelf_findings", lambda: asked.append("findings"))
        mine.setattr(house.notebook, "story", lambda id: asked.append("story"))
        mine.setattr(house.notebook, "next_strips", lambda id: asked.append("next"))
        mine.setattr(house.recipes, "all", lambda: (_ for _ in ()).throw(InputError("x")))
        house.reckon_ahead()
        mine.setattr(house.recipes, "all", lambda: [SimpleNamespace(id="r", thing=SimpleNamespace(route=None))])
        mine.setattr(house.recipes, "export", lambda id: asked.append(id) or (_ for _ in ()).throw(InputError("x")))
        house.reckon_ahead()
    found["reckoned ahead"] = asked
    closed: Any = SimpleNamespace(close=lambda: asked.append("closed"))
    bootstrap.Workbench(closed, clock, home).close()
    found["places"] = [house.shelf is house.shelf, type(type(house).shelf).__name__]
    return found


def test_what_the_eye_is_shown_is_what_was_seen(tmp_path):
    # A picture that was packed is not the same to the digit in every library.
    with darkroom(tmp_path) as opened:
        assert not told_as_kept("care_views", views(*opened), nearly=0.04)


def lived(house: Any, clock: FixedClock) -> dict[str, Any]:
    """The weeks of the demo, with a camera and a sink that only note what is asked of them."""
    found, asked = dict[str, Any](), list[Any]()
    made = simulate_trial(
        simulate_film(demo.CAMERA_FILM_SEED, name="x", box_speed=125, spread=0.4),
        demo.SECOND_STRIPS[0],
        id="s",
        seed=400,
    )
    patches = [
        SimpleNamespace(
            density=Estimate(0.1 + 0.1 * n, 0.01 + 0.001 * n), stain_index=None if n % 2 else 0.3, clipped=n == 3
        )
        for n in range(len(made.steps))
    ]
    place = house.camera

    def simulated(seed: int, densities: Any) -> Any:
        asked.append([seed, [round(d, 3) for d in densities][::6]])
        return [SimpleNamespace(id=name) for name in ("p1", "p2")]

    place.add_simulated = simulated
    place.read = lambda pictures, how: (
        asked.append([pictures, how.patches]) or SimpleNamespace(reading=SimpleNamespace(patches=patches))
    )
    demo._read_a_strip_with_the_camera(house)
    (trial,) = house.notebook.trials(demo.CAMERA_FILM)
    (reading,) = house.light_table.readings()
    found["read"] = [
        asked[:], trial.thing.trial.note, trial.thing.picture, trial.thing.reading == reading.id, house.notebook.film(demo.CAMERA_FILM).thing,
        [[p.log_exposure, p.density, p.density_sd, p.stain_index] for p in trial.thing.trial.steps[:5]], len(trial.thing.trial.steps), reading.thing.name, reading.thing.source, reading.thing.picture,
    ]  # fmt: skip
    asked.clear()
    looks = [
        ("running", "ready", 100.0, None), ("running", "works", 110.0, 150.0), ("running", "works", 160.0, None), ("running", "works", 170.0, 168.0), ("finished", "", 0.0, None), ("running", "ready", 0.0, None),
    ]  # fmt: skip

    def look(run: str) -> Any:
        status, phase, now_s, due_s = looks[len(asked) - 2]
        return SimpleNamespace(
            view=SimpleNamespace(
                status=status,
                phase=phase,
                action=SimpleNamespace(key=f"a{len(asked)}"),
                now_s=now_s,
                state=SimpleNamespace(due_s=due_s),
            )
        )

    began = clock.now()

    def note(*given: Any) -> str:
        asked.append([*given, round((clock.now() - began).total_seconds())])
        return "run"

    house.__dict__["sink"] = SimpleNamespace(begin=note, record=note, look=look)
    found["an evening"] = [demo._live_an_evening(house, clock, made.model_copy(update={"id": "strip 6"})), asked[:]]
    looks[2:] = [("running", "works", 0.0, None)] * 500
    asked.clear()
    demo._live_an_evening(house, clock, made)
    found["one without end"] = len(asked)
    done = list[Any]()
    with pytest.MonkeyPatch.context() as mine:
        mine.setattr(demo, "_live_an_evening", lambda workbench, clock, trial: done.append(trial.id) or "the run")
        mine.setattr(
            demo,
            "story_trials",
            lambda: [
                made.model_copy(update={"id": f"strip {n}", "controls": WAY | {"temperature_c": 20.0 + n}})
                for n in (1, 5, 6)
            ],
        )
        demo._fill_story_film(house, clock)
        found["story"] = [
            done[:],
            house.notebook.film(demo.STORY_FILM).thing,
            [[k.thing.trial.id, k.thing.run, k.thing.made_at] for k in house.notebook.trials(demo.STORY_FILM)],
        ]
        for part in ("_fill_shelf", "_fill_other_films", "_read_a_strip_with_the_camera"):
            mine.setattr(demo, part, lambda workbench, part=part: done.append(part))
        mine.setattr(demo, "_fill_story_film", lambda workbench, clock: done.append("_fill_story_film"))
        for kind in ("", "film", "product", "run", "recipe", "trial", "jug"):
            done.clear()
            mine.setattr(house.store, "ids", lambda asked, kind=kind: ["x"] if asked == kind else [])
            found[f"with a {kind or 'nothing'}"] = [
                outcome(lambda: demo.fill_with_the_demo(house, clock)).replace(str(house.home), ""),
                done[:],
            ]
            if house.store.demo_marks.find(demo.MARK) is not None:
                found[f"with a {kind or 'nothing'}"].append(
                    outcome(lambda: demo.fill_with_the_demo(house, clock)) == demo.STORY_FILM and len(done)
                )
                mine.setattr(house.store.demo_marks, "find", lambda mark: None)
                mine.setattr(house.store.demo_marks, "put", lambda *given, **more: None)
        opened_ = list[Any]()
        mine.setattr(
            demo,
            "open_workbench",
            lambda home, url, clock=None: (
                opened_.append([str(url)[-16:], clock and clock.now().isoformat()])
                or SimpleNamespace(close=lambda: opened_.append("closed"))
            ),
        )
        mine.setattr(demo, "fill_with_the_demo", lambda past, then: "filled")
        mine.setattr(demo, "SystemClock", lambda: FixedClock(datetime(2031, 11, 5, 9, 7, 8, 9, tzinfo=UTC)))
        found["made"] = [demo.make_the_demo(Path("home"))[1], opened_]
    return found


@pytest.mark.parametrize(
    "telling",
    [names, cupboard, ages, contradicted, backups, pictures, mixed, opened, lived, readings, exchanged, told_at_home],
    ids=lambda telling: telling.__name__,
)
def test_what_is_made_of_it_is_what_was_read(tmp_path, telling):
    with darkroom(tmp_path) as opened:
        assert not told_as_kept(f"care_{telling.__name__}", telling(*opened))
