"""Whatever is decided and told, sentence by sentence and number by number.

The files of ``tests/unit/told`` hold what each telling said when it was last looked at: they judge nothing, but a change of a
word, a number, a sign or a condition is a change of a line there, which somebody must mean. Where the change is meant, ``make told`` writes them anew, and the
difference is read before it is kept. Numbers may differ by a thousandth: no last digit is anybody's business.
"""

from __future__ import annotations

import dataclasses
import enum
import json
import math
import os
import re
import tempfile
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pydantic import BaseModel

from benchmarks.hazard_situations import read
from obverse.clock import FixedClock
from obverse.diagnosis.curve import diagnose_curve
from obverse.diagnosis.finding import Cure, FaultFinding
from obverse.diagnosis.measures import Measures
from obverse.diagnosis.picture_words import _EVIDENCE, evidence
from obverse.foundation import ObverseError
from obverse.process import USUAL_TOOLS, Agitation
from obverse.process.catalog import formulas, products, routes, substances
from obverse.reference import number
from obverse.run import (
    Event,
    RunPlan,
    Strip,
    TemperatureNote,
    advance,
    bath_uses,
    begin,
    effective_development,
    plan_run,
    true_controls,
    view,
)
from obverse.run.temperature import compensated_time_s, doubt_about
from obverse.safety import (
    check_carry_over,
    check_mix,
    check_mixture,
    check_room,
    check_route,
    check_storage,
    check_waste_jug,
)
from obverse.safety.airborne import Room, ammonia_in_air, purge_time_h, release_in_air, sulfur_dioxide_from_g
from obverse.safety.bath_life import Pass, forecast, has_capacity, silver_taken_g
from obverse.safety.body import Portion, liquid, powder
from obverse.safety.destroy import bisulfate_to_ph_g, destruction_steps, remnant_of, residue_of, standing_caution
from obverse.safety.engine import assess
from obverse.safety.hazards import hazards_of
from obverse.safety.setting import Place, Setting, setting_for
from obverse.safety.waste import Jug, Poured, cautions_of, jug_classes, usual_jug, wrong_class
from obverse.sensitometry import fit_curve
from obverse.workbench.bench import make_sheet, remarks, sheet_document
from obverse.workbench.bootstrap import Workbench, open_workbench
from obverse.workbench.evening_words import (
    developed_words,
    do_words,
    order_words,
    proof_words,
    title_words,
    told_cautions,
)
from obverse.workbench.recipes import agitation_words, rinse_words, step_words
from tests.golden import of_care, of_matter, of_strips, of_words, rules

FOLDER = Path(__file__).parent / "told"
WRITE = bool(os.environ.get("OBVERSE_WRITE_TOLD"))
AREA_M2 = number("area.135-36")
TANK_ML = 500.0


def plain(value: Any) -> Any:
    """A value as JSON has it: nouns as mappings, sets in order, numbers to six digits."""
    if isinstance(value, enum.Enum):
        return value.value
    if isinstance(value, str):
        # Ids are drawn; nobody is told them.
        return re.sub(r"\b[0-9a-f]{16}\b", "ID", value)
    if isinstance(value, (bool, int)) or value is None:
        return value
    if isinstance(value, float):
        return str(value) if not math.isfinite(value) else float(f"{value:.6g}")
    if isinstance(value, np.generic):
        return plain(value.item())
    if isinstance(value, (datetime, date)):
        return value.isoformat()
    if isinstance(value, BaseModel):
        return plain(value.model_dump(exclude_defaults=True))
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, (set, frozenset)):
        return sorted(plain(one) for one in value)
    return [plain(one) for one in value]


def outcome(work: Callable[[], Any]) -> Any:
    """What a call answers, or the sentence of its refusal."""
    try:
        return plain(work())
    except ObverseError as error:
        return f"refused: {error.sentence}"


def differences(kept: Any, now: Any, path: str = "") -> Iterator[str]:
    """Places where two tellings differ, numbers by more than a thousandth."""
    if isinstance(kept, (int, float)) and isinstance(now, (int, float)) and not isinstance(kept, bool):
        if not math.isclose(kept, now, rel_tol=1e-3, abs_tol=1e-6):
            yield f"{path}: {kept} became {now}"
    elif isinstance(kept, dict) and isinstance(now, dict):
        if list(kept) != list(now):
            yield f"{path}: {sorted(set(kept) ^ set(now)) or 'another order'}"
        for key in kept.keys() & now.keys():
            yield from differences(kept[key], now[key], f"{path}/{key}")
    elif isinstance(kept, list) and isinstance(now, list):
        if len(kept) != len(now):
            yield f"{path}: {len(kept)} became {len(now)}"
        for place, (one, other) in enumerate(zip(kept, now, strict=False)):
            yield from differences(one, other, f"{path}/{place}")
    elif kept != now:
        yield f"{path}: {kept!r} became {now!r}"


# The evening


def plans() -> dict[str, Any]:
    two = (
        Strip(name="A", controls={"first_developer_time_min": 8.0}),
        Strip(name="B", controls={"first_developer_time_min": 11.0}),
    )
    every = formulas()
    found = {
        key: outcome(
            lambda key=key: _told(plan_run(routes()[key], every, tank_ml=TANK_ML, strips=two, temperature_c=21.5))
        )
        for key in ("iron_ammonia_light", "permanganate_fogging", "peroxide_acid_light", "dichromate_light")
    }
    iron = routes()["iron_ammonia_light"]
    ways: dict[str, dict[str, Any]] = {
        "slow hands": {"pace": 1.5},
        "large tank": {"tank_ml": 2000.0},
        "small tank": {"tank_ml": 50.0},
        "a tank too small": {"tank_ml": 49.9},
        "a tank too large": {"tank_ml": 20_001.0},
        "a pace too slow": {"pace": 5.1},
        "a pace too quick": {"pace": 0.29},
        "a cold bath": {"bath_temperatures_c": {iron.steps[2].key: 17.0}},
        "baths that stand ready": {"mixed": tuple(every)},
        "an unknown step left out": {"without": ("none",)},
        "every step left out": {"without": tuple(step.key for step in iron.steps)},
        "what is optional left out": {"without": tuple(step.key for step in iron.steps if step.optional)},
        "two of one name": {"strips": (Strip(name="A"), Strip(name="A"))},
        "warm": {"controls": {"temperature_c": 24.0, "first_developer_time_min": 7.0}, "temperature_c": 24.0},
        "too warm": {"temperature_c": 26.5},
        "too cold": {"temperature_c": 15.5},
    }
    for name, way in ways.items():
        found[name] = outcome(lambda way=way: _in_short(plan_run(iron, every, **{"tank_ml": TANK_ML, **way})))
    return found


def _told(plan: RunPlan) -> dict[str, Any]:
    told = plain(plan)
    for action, one in zip(plan.actions, told["actions"], strict=True):
        one |= {"title": title_words(action), "do": do_words(action)}
    told["cautions"] = plain(told_cautions(plan))
    told["proved"], told["ordered"] = proof_words(plan.proof), order_words(plan)
    del told["route"]
    return told


def _in_short(plan: RunPlan) -> list[Any]:
    """What a way of planning changes: times, volumes and cautions of each action, without its words."""
    names = ("key", "start_s", "duration_s", "time_sd_s", "volume_ml", "temperature_c")
    return [
        *([getattr(action, name) for name in names] + [len(action.cues), len(action.cautions)] for action in plan.actions),
        proof_words(plan.proof), plan.proof.conflicts, plan.lives, [c.text for c in told_cautions(plan)],
    ]  # fmt: skip


def evenings() -> dict[str, Any]:
    """Two evenings touched through, one by plan and one with long waits, and what is seen and counted of them."""
    found = {}
    for name, late in (("by plan", 0.0), ("late", 95.0)):
        plan = plan_run(routes()["iron_ammonia_fogging"], formulas(), tank_ml=TANK_ML, temperature_c=21.0)
        state, now, looks = begin(plan), 1_900_000_000.0, []
        count = 0

        def do(kind: str, now: float, **more: Any) -> None:
            nonlocal state, count
            count += 1
            state, _ = advance(state, Event(kind=kind, at_s=now, id=f"e{count}", **more), now)

        looks.append(view(state, now).document())
        do("started", now)
        while state.action is not None and count < 400:
            action = state.action
            if action.waits_for_pour and state.clock_from_s is None:
                now += action.pour_s + late / 10
                do("poured", now, action=action.key)
                if action.kind == "bath" and count % 3 == 0:
                    do("temperature_noted", now, temperature_c=20.0 + count % 4)
            looks.append({key: one for key, one in view(state, now).document().items() if key not in ("plan", "rows")})
            now += action.duration_s + late
            do("acknowledged", now, action=action.key)
        found[name] = plain(
            {
                "looks": looks[::5],
                "uses": bath_uses(state),
                "true": true_controls(state),
                "told": [developed_words(one.went) for one in true_controls(state)],
                "end": {key: one for key, one in view(state, now).document().items() if key not in ("plan", "rows")},
            }
        )
    return found


def temperatures() -> dict[str, Any]:
    notes = [TemperatureNote(0.0, 20.0), TemperatureNote(300.0, 22.0), TemperatureNote(900.0, 19.0)]
    return {
        "doubt": {
            str(t): outcome(lambda t=t: doubt_about(t, of_a_bath=True))
            for t in (-5, 3, 9, 12, 15.9, 16, 20, 26, 26.1, 30, 38, 45, 70)
        },
        "doubt of the room": {
            str(t): outcome(lambda t=t: doubt_about(t, of_a_bath=False)) for t in (-5, 3, 9, 15, 20, 30, 38, 45, 70)
        },
        "time": {
            f"{a} to {b}": plain(compensated_time_s(600.0, a, b)) for a, b in ((20, 20), (20, 24), (24, 20), (18, 26))
        },
        "effective": [
            plain(effective_development(0.0, 600.0, notes[:count], 20.0, handling_s=handling))
            for count in range(4)
            for handling in (0.0, 40.0)
        ],
        "no time": outcome(lambda: effective_development(10.0, 10.0, [], 20.0)),
    }


def steps_in_words() -> dict[str, Any]:
    return {
        key: [[step_words(step), agitation_words(step), rinse_words(step)] for step in route.steps]
        for key, route in routes().items()
    }


# Safety

MEETINGS = (
    ("laundry_bleach", "household_ammonia_5"), ("laundry_bleach", "vinegar_5"), ("laundry_bleach", "fixer_ats_60wv"),
    ("metabisulfite_sodium", "sulfuric_96"), ("dithionite_85", "citric_anhydrous"), ("peroxide_12", "vinegar_essence_25"),
    ("permanganate_crystals", "sulfuric_96"), ("etchant_42be", "caustic_soda"), ("thiocyanate_crystals", "battery_acid_37"),
    ("soda_ash", "citric_anhydrous"), ("pure_salt", "soda_ash"), ("household_ammonia_5", "etchant_42be"),
    ("peroxide_12", "permanganate_crystals"), ("fixer_ats_60wv", "battery_acid_37"), ("wetting_agent", "water"),
)  # fmt: skip


def meetings() -> dict[str, Any]:
    checks = {"mixture": check_mixture, "room": check_room, "storage": check_storage, "jug": check_waste_jug}
    found = {
        " and ".join(pair): {
            name: outcome(lambda check=check, pair=pair: check(*pair)) for name, check in checks.items()
        }
        for pair in MEETINGS
    }
    return found | {
        "damp": outcome(lambda: check_storage("dithionite_85", "permanganate_crystals", damp=True)),
        "nobody knows": outcome(lambda: check_mixture("unobtainium", "water")),
    }


def portions_of_all_hands() -> dict[str, tuple[list[Portion], Setting]]:
    """The situations of all hands as portions in a setting; kept, because to read their words takes longer than to reckon."""
    file = FOLDER.parents[1] / "data" / "hazard_portions.json"
    if WRITE:
        root = FOLDER.parents[2]
        sets = [
            *sorted((root / "tests" / "recovery").glob("hazard_situations_*.json")),
            root / "benchmarks" / "hazard_situations_five.json",
        ]
        every = [one for path in sets for one in json.loads(path.read_text(encoding="utf-8"))]
        got = {one["id"]: read(one) for one in every}
        lines = {
            name: json.dumps(
                [[dataclasses.asdict(p) for p in one.portions], dataclasses.asdict(one.setting)], ensure_ascii=False
            )
            for name, one in got.items()
        }
        text = ",\n".join(f'"{name}": {line}' for name, line in lines.items())
        file.write_text(f"{{\n{text}\n}}\n", encoding="utf-8")
    return {
        name: (
            [Portion(**{**one, "unknown": tuple(one["unknown"])}) for one in portions],
            Setting(**{**setting, "room": Room(**setting["room"])}),
        )
        for name, (portions, setting) in json.loads(file.read_text(encoding="utf-8")).items()
    }


ELSEWHERE: tuple[tuple[Place, float], ...] = (
    ("mixing", 0.0), ("jug", 700.0), ("shelf", 9000.0), ("closed_jug", 24.0), ("standing", 9.0), ("damp", 700.0), ("room", 1.0),
    ("drain", 0.0),
)  # fmt: skip


def reckoned() -> dict[str, Any]:
    """What the engine reckons of the situations of all hands, and where each danger begins.

    For that, the same with less and more of all or of one, elsewhere, warmer and later.
    """
    found: dict[str, Any] = {}
    more: dict[str, Any] = {}
    for count, (name, (portions, setting)) in enumerate(portions_of_all_hands().items()):
        first, *rest = portions
        here = assess(portions, setting)
        found[name] = [list(vars_of(effect).values()) for effect in here]
        if not here:
            continue
        tried = {
            f"{share:g} of all": ([p.times(share) for p in portions], setting) for share in (0.0113, 0.113, 0.37, 3.1)
        }
        tried |= {f"{share:g} of the first": ([first.times(share), *rest], setting) for share in (0.113, 11.3)}
        for place, hours in (ELSEWHERE[count % 8], ELSEWHERE[(count + 3) % 8]):
            tried[place] = (portions, setting_for(place, setting.room, hours=hours))
        tried["hot"] = (portions, dataclasses.replace(setting, temperature_c=61.0))
        tried["on the stove"] = (portions, dataclasses.replace(setting, temperature_c=155.0, flame=True))
        for how, (some, where) in tried.items():
            more[f"{name} {how}"] = [[one.mechanism, one.severity, one.gas, one.ppm] for one in assess(some, where)]
    return found | _alike(more)


def substances_met() -> dict[str, Any]:
    """Every substance of the house, 80 g of it: alone in each kind of place, and with what is likeliest to answer it."""
    liquids: dict[str, tuple[dict[str, float], float]] = {
        "strong acid": ({"sulfuric_acid": 1750.0}, 60.0), "nitric acid": ({"nitric_acid": 950.0}, 60.0),
        "salt's acid": ({"hydrochloric_acid": 300.0}, 100.0), "laundry bleach": ({"sodium_hypochlorite": 60.0}, 300.0),
        "peroxide": ({"hydrogen_peroxide": 330.0}, 100.0), "ammonia": ({"ammonia": 100.0}, 200.0),
        "alcohol": ({"ethanol": 770.0}, 100.0), "silver": ({"silver_nitrate": 60.0}, 100.0), "azide": ({"sodium_azide": 60.0}, 100.0),
    }  # fmt: skip
    beside = {name: liquid(name, grams, volume_ml) for name, (grams, volume_ml) in liquids.items()}
    beside |= {
        "water": liquid("water", {}, 100.0),
        "sugar": powder("sugar", {"sucrose": 30.0}),
        "ammonium": powder("ammonium", {"ammonium_chloride": 30.0}),
    }
    mixed, closed = setting_for("mixing"), setting_for("closed_jug", hours=700.0)
    found: dict[str, Any] = {}
    for key in substances():
        it = powder(key, {key: 80.0})
        met = {f"and {name}": assess((it, other), mixed) for name, other in beside.items()}
        met |= {
            f"closed with {name}": assess((it, beside[name]), closed)
            for name in ("water", "salt's acid", "laundry bleach")
        }
        met |= {
            place: assess((it,), setting_for(place, hours=700.0)) for place in ("damp", "room", "drain", "standing")
        }
        met["on the stove"] = assess((it,), dataclasses.replace(mixed, temperature_c=155.0, flame=True))
        found |= {
            f"{key} {how}": [[one.mechanism, one.severity, one.gas, one.ppm] for one in told]
            for how, told in met.items()
        }
    return _alike(found)


def _alike(found: Mapping[str, Any]) -> dict[str, Any]:
    """Names of one telling together, so that the file stays short."""
    grouped: dict[str, tuple[list[str], Any]] = {}
    for name, one in found.items():
        what, how = name.split(" ", 1)
        grouped.setdefault(f"{what} {json.dumps(plain(one))}", ([what], one))[0].append(how)
    return {f"{names[0]} {', '.join(names[1:])}": one for names, one in grouped.values()}


def routes_checked() -> dict[str, Any]:
    return {
        key: outcome(lambda route=route: check_route(route, formulas(), tank_ml=TANK_ML))
        for key, route in routes().items()
    }


def carried() -> dict[str, Any]:
    every = formulas()
    rinse = routes()["iron_ammonia_light"].steps[0].rinse_after
    return {
        f"{first} into {second}{' rinsed' if between else ''}": outcome(
            lambda first=first, second=second, between=between: check_carry_over(every[first], every[second], between)
        )
        for first in ("first_developer", "bleach_permanganate", "ammonia_bath", "fixer_rapid", "fogging_dithionite")
        for second in ("bleach_iron_chloride", "bleach_permanganate", "clearing_metabisulfite", "second_developer")
        for between in (None, rinse)
        if first != second
    }


def baths() -> dict[str, Any]:
    found = {}
    for key, formula in formulas().items():
        residue = residue_of(formula)
        minutes = (
            [0.0, 1.0, 60.0, 1e4]
            if residue is None
            else [0.0, residue.deadline_min - 1, residue.deadline_min, residue.deadline_min + 61]
        )
        found[key] = {
            "residue": plain(residue),
            "destruction": [
                outcome(lambda ml=ml, formula=formula: destruction_steps(formula, volume_ml=ml))
                for ml in (300.0, 1000.0)
            ],
            "remnant": outcome(lambda formula=formula: remnant_of(formula)),
            "clock": [plain(standing_caution(formula, m)) for m in minutes],
            "jug": usual_jug(formula),
            "silver": outcome(lambda formula=formula: silver_taken_g(formula, AREA_M2)),
            "hazards": outcome(lambda formula=formula: hazards_of(formula)),
            "met": outcome(lambda formula=formula: check_mix(formula)),
        }
        if has_capacity(formula):
            found[key]["life"] = [
                outcome(
                    lambda n=n, age=age, formula=formula: forecast(
                        formula, [Pass(AREA_M2)] * n, volume_ml=TANK_ML, age_h=age
                    )
                )
                for n in (0, 1, 3, 6, 12, 40)
                for age in (None, 1.0, 30.0)
            ]
    return found


def bottles() -> dict[str, Any]:
    return {key: outcome(lambda product=product: hazards_of(product)) for key, product in products().items()}


def jugs() -> dict[str, Any]:
    found: dict[str, Any] = {"classes": plain(jug_classes())}
    for letter in jug_classes():
        for share in (0.1, 0.79, 0.81, 0.95):
            jug = Jug(
                letter=letter,
                name=f"jug {letter}",
                capacity_ml=5000,
                contents=(
                    Poured(
                        what="fixer_rapid",
                        volume_ml=5000 * share,
                        silver_low_g=0.1,
                        silver_likely_g=0.2,
                        silver_high_g=0.4,
                    ),
                ),
            )
            found[f"{letter} {share}"] = plain(cautions_of(jug))
        found[f"{letter} wrong"] = {
            what: outcome(lambda jug=jug, what=what: wrong_class(jug, what)) for what in formulas()
        }
    return found


def air() -> dict[str, Any]:
    rooms = {"closet": Room(4, 0.5), "hall": Room(200, 6, 25)}
    return {
        name: {
            "ammonia": [
                outcome(lambda room=room, c=c, t=t: ammonia_in_air(room, c, 0.02, t))
                for c in (0.05, 0.5, 3.0)
                for t in (1, 120)
            ],
            "burst": {
                gas: [
                    outcome(lambda room=room, gas=gas, mg=mg: release_in_air(room, gas, mg))
                    for mg in (0.0, 1.0, 300.0, 20_000.0)
                ]
                for gas in ("ammonia", "sulfur_dioxide", "chlorine", "hydrogen_cyanide", "hydrogen_sulfide")
            },
        }
        for name, room in rooms.items()
    } | {
        "purge": [
            outcome(lambda a=a, b=b, n=n: purge_time_h(a, b, n))
            for a, b, n in ((100, 1, 2), (100, 50, 0.5), (1, 1, 1), (10, 20, 1))
        ],
        "sulfur dioxide": {
            s: outcome(lambda s=s: sulfur_dioxide_from_g(s, 10))
            for s in ("sodium_metabisulfite", "sodium_dithionite", "sodium_sulfite")
        },
        "bisulfate": [outcome(lambda g=g, ml=ml: bisulfate_to_ph_g(g, ml)) for g, ml in ((1, 500), (5, 7500))],
    }


# The bench and the light table


def sheets() -> dict[str, Any]:
    every = tuple(products().values())
    found = {}
    for key, formula in formulas().items():
        sheet = outcome(lambda formula=formula: sheet_document(make_sheet(formula, 730.0, every, USUAL_TOOLS)))
        found[key] = {
            "sheet": sheet,
            "remarks": outcome(lambda formula=formula: remarks(make_sheet(formula, 730.0, every, USUAL_TOOLS))),
        }
    return found


def faults_said() -> dict[str, Any]:
    """The sentences of each fault, and how a finding is told at several chances."""
    found: dict[str, Any] = {}
    for place, fault in enumerate(sorted(_EVIDENCE)):
        numbers = _Steady(0.03 + 0.01 * place)
        said = Measures(numbers=numbers, places=_Word("in the middle"), words=_Word("brown"))
        found[fault] = outcome(lambda fault=fault, said=said: evidence(fault, said))
    for probability in (0.004, 0.2, 0.5, 0.985, 0.995):
        for fault, look in (("stain", False), ("murky_highlights", True), ("cannot_tell", False)):
            finding = FaultFinding(
                fault,
                probability,
                "Seen.",
                (Cure("Clear longer."),),
                (("stain+frilling", 0.3), ("none of these", 0.1), ("light_leak", 0.004)),
                look,
            )
            found[f"{fault} {probability}"] = plain(finding.document())
    return found


def curve_faults() -> dict[str, Any]:
    """What is said of curves that miss the aim in one way each."""
    x = np.linspace(-1.8, 1.8, 13)

    def falling(dmax: float, dmin: float, place: float, width: float) -> np.ndarray:
        return dmin + (dmax - dmin) / (1 + np.exp((x - place) / width))

    curves = {
        "good": falling(2.7, 0.30, 0.0, 0.33),
        "murky": falling(2.7, 0.62, 0.1, 0.33),
        "thin": falling(1.7, 0.28, 0.0, 0.30),
        "dark": falling(2.7, 0.30, 0.5, 0.33),
        "light": falling(2.7, 0.30, -0.5, 0.33),
        "flat": falling(2.6, 0.30, 0.0, 0.75),
        "stained": falling(2.9, 0.55, 0.0, 0.33),
    }
    found = {}
    for name, density in curves.items():
        curve = fit_curve(x, density, np.full(x.size, 0.02), base_density=0.25)
        found[name] = [
            [
                one.fault,
                round(one.probability, 1),
                one.evidence.split(":")[0],
                [cure.text for cure in one.cures],
                one.look,
            ]
            for one in diagnose_curve(curve, base_density=0.25)
        ]
    return found


def darkroom() -> dict[str, Any]:
    """A darkroom from its first bottle to the morning after its first evening, as each place tells of it."""
    clock = FixedClock(datetime(2031, 11, 5, 19, 0, tzinfo=UTC))
    with tempfile.TemporaryDirectory() as home:
        bench = open_workbench(Path(home), url="sqlite://", clock=clock)
        try:
            return _darkroom(bench, clock)
        finally:
            bench.close()


def _darkroom(bench: Workbench, clock: FixedClock) -> dict[str, Any]:
    found: dict[str, Any] = {"empty": plain(bench.where_one_stands())}
    shelf, care, sink, notebook = bench.shelf, bench.care, bench.sink, bench.notebook
    for key in (
        "paper_developer_liquid",
        "fixer_ats_60wv",
        "household_ammonia_5",
        "metabisulfite_sodium",
        "etchant_42be",
    ):
        if key in products():
            shelf.add_generic(key)
    found["shelf"] = [
        [one.route.key, one.is_open, plain([vars_of(bath) for bath in one.closed])] for one in shelf.openings(TANK_ML)
    ]
    found["care of routes"] = {key: care.route(key).document() for key in ("iron_ammonia_light", "permanganate_light")}
    film = notebook.add_film({"name": "Invented 100", "box_speed": 100, "base_density": 0.25}).id
    found["a film"] = plain(bench.where_one_stands())
    run = sink.begin(
        {
            "route": "iron_ammonia_light",
            "tank_ml": 400,
            "strips": [{"name": "A", "film": film, "controls": {"first_developer_time_min": 9}}],
        },
        speed=1.0,
        id="run-1",
    )
    sink.record(run, "start", {"kind": "started"})
    while (action := sink.state(run).action) is not None and action.kind != "destroy":
        if action.waits_for_pour and sink.state(run).clock_from_s is None:
            clock.advance(action.pour_s)
            sink.record(run, f"{action.key}-poured", {"kind": "poured", "action": action.key})
        clock.advance(action.duration_s)
        sink.record(run, f"{action.key}-done", {"kind": "acknowledged", "action": action.key})
    found["before the destruction"] = plain([bench.where_one_stands(), bench.duties()])
    sink.record(run, "stop", {"kind": "aborted"})
    sink.settle(run)
    clock.advance(7200)
    found["two hours late"] = plain(
        [
            bench.duties(),
            sorted((view.document() for view in care.baths()), key=lambda one: str(one["name"])),
            sorted((view.document() for view in care.jugs()), key=lambda one: str(one["name"])),
        ]
    )
    found["report"] = plain(sink.report(run).document())
    found["trials"] = plain(
        [[kept.thing.trial.id, kept.thing.trial.controls, kept.thing.trial.wear] for kept in notebook.trials(film)]
    )
    found["next morning"] = plain(
        care.before_an_evening(routes()["iron_ammonia_light"], area_m2=AREA_M2, tank_ml=TANK_ML)
    )
    return found


def vars_of(bath: Any) -> dict[str, Any]:
    """The fields of a noun, without the sheet a bath could be mixed by."""
    return {field.name: getattr(bath, field.name) for field in dataclasses.fields(bath) if field.name != "sheet"}


class _Steady(dict[str, float]):
    """A measure for every name that is asked for."""

    def __init__(self, value: float) -> None:
        super().__init__()
        self.value = value

    def __missing__(self, key: str) -> float:
        return self.value

    def get(self, key: str, default: Any = None) -> float:
        return self.value


class _Word(dict[str, str]):
    """A word for every name that is asked for."""

    def __init__(self, word: str) -> None:
        super().__init__()
        self.word = word

    def __missing__(self, key: str) -> str:
        return self.word

    def get(self, key: str, default: Any = None) -> str:
        return self.word


TELLINGS: dict[str, Callable[[], Any]] = {
    one.__name__: one
    for one in (
        plans,
        evenings,
        temperatures,
        steps_in_words,
        meetings,
        reckoned,
        substances_met,
        routes_checked,
        carried,
        baths,
        bottles,
        jugs,
        air,
        sheets,
        curve_faults,
        darkroom,
        faults_said,
        rules.rules,
        of_matter.words_of_amounts,
        of_matter.pots,
        of_matter.speeds,
        of_matter.oxidised,
        of_matter.leaving,
        of_matter.gases_said,
        of_matter.assessed,
        of_care.amounts_given,
        of_care.matters,
        of_care.labels,
        of_care.hazards_said,
        of_care.airs,
        of_care.lives,
        of_care.clips,
        of_care.destroyed,
        of_care.jugs_at_their_limits,
        of_care.films,
        of_care.harms_to_film,
        of_care.rinsed,
        of_care.met,
        of_strips.looks_measured,
        of_strips.laid_flat,
        of_strips.rings_found,
        of_strips.weighed_and_said,
        of_strips.colours,
        of_strips.curves_said,
        of_strips.causes_compared,
        of_words.reasons,
        of_words.errors_said,
        of_words.brackets,
        of_words.eyes,
    )
}


@pytest.mark.parametrize("name", TELLINGS)
def test_what_is_told_is_what_was_read(name):
    now = json.loads(json.dumps(plain(TELLINGS[name]()), ensure_ascii=False))
    file = FOLDER / f"{name}.json"
    if WRITE:
        file.write_text(json.dumps(now, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    kept = json.loads(file.read_text(encoding="utf-8"))
    told = list(differences(kept, now))
    assert not told, "\n".join(["`make told` writes it anew, if this is meant:", *told[:20]])


def test_a_changed_word_number_or_line_is_a_difference():
    kept = {"a": [1.0, "at least 2"], "b": {"c": True}}
    assert list(differences(kept, {"a": [1.0005, "at least 2"], "b": {"c": True}})) == []
    assert len(list(differences(kept, {"a": [1.002, "at most 2"], "b": {"c": False}}))) == 3
    assert list(differences(kept, {"a": [1.0], "b": {"c": True}})) == ["/a: 2 became 1"]


def test_agitation_has_words():
    step = routes()["iron_ammonia_light"].steps[0]
    for moved in (Agitation(constant=True), Agitation(inversions=1, every_s=30), Agitation(initial_s=0)):
        assert agitation_words(step.model_copy(update={"agitation": moved}))
