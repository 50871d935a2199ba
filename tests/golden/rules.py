"""Each rule of the hazard engine by itself, on matter that is told to it in moles and at a pH that is told to it, too.

So the limit of every rule can be met exactly. What the rules said when it was last read stands in ``tests/unit/told``.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from obverse.safety import on_a_person, over_time, reactions, recorded, redox, stands_by
from obverse.safety.airborne import Room
from obverse.safety.body import Portion
from obverse.safety.scene import Scene
from obverse.safety.setting import Effect, setting_for

CASES = Path(__file__).parents[1] / "data" / "rule_cases.json"


def scene_of(case: Mapping[str, Any]) -> Scene:
    """The scene of a case: portions in moles, the place with what is changed about it, whether the oxidisers have acted, the pH."""
    portions = tuple(
        Portion(
            part.get("name", f"part {place}"),
            {key: moles for key, moles in part.items() if key not in ("name", "water_ml", "at_once")},
            part.get("water_ml", 0.0),
            at_once=part.get("at_once", True),
        )
        for place, part in enumerate(case["portions"], start=1)
    )
    told = dict(case.get("setting", {}))
    room = Room(told.pop("room_m3", 12), 0.5)
    setting = replace(setting_for(told.pop("place", "mixing"), room), **told)
    scene = Scene(portions, setting)
    if case.get("reacts"):
        scene.met.extend(redox.react(scene.pool))
    scene.pool.heat_kj += case.get("heat_kj", 0.0)
    scene.gas_mol |= case.get("gas_mol", {})
    scene.found += [Effect(mechanism, 2, "", "", "") for mechanism in case.get("found", ())]
    if "ph" in case:
        scene.pool.known_ph = scene.first.known_ph = case["ph"]
    return scene


def rule_of(name: str) -> Callable[[Scene], None]:
    """A rule by its name."""
    return next(
        getattr(room, name) for room in (reactions, over_time, on_a_person, stands_by, recorded) if hasattr(room, name)
    )


def found_by(case: Mapping[str, Any]) -> dict[str, Any]:
    """What the rule of a case finds, and what it leaves behind for the rules after it."""
    scene = scene_of(case)
    heat_kj, sulfide, before = scene.pool.heat_kj, scene.pool.has("sulfide"), len(scene.found)
    rule_of(case["rule"])(scene)
    return {
        "found": [
            [one.mechanism, one.severity, one.what, one.amount, one.do, one.gas, one.ppm, list(one.parts)]
            for one in scene.found[before:]
        ],
        "gas_mol": scene.gas_mol,
        "heat_kj": scene.pool.heat_kj - heat_kj,
        "sulfide": scene.pool.has("sulfide") - sulfide,
    }


def case_in_words(case: Mapping[str, Any]) -> str:
    """A case in a line: its rule, what meets, the pH that was told, the place and what is changed about it."""
    parts = [
        ", ".join(f"{key} {value:g}" if isinstance(value, float) else f"{key}={value}" for key, value in part.items())
        for part in case["portions"]
    ]
    told = [case["rule"].lstrip("_"), " + ".join(parts)]
    told += [f"pH {case['ph']:g}"] if "ph" in case else ["oxidisers acted"] if case.get("reacts") else []
    for name in ("heat_kj", "gas_mol", "found"):
        told += [f"{name} {case[name]}"] if name in case else []
    told += [", ".join(f"{key} {value}" for key, value in case.get("setting", {}).items())]
    return " | ".join(part for part in told if part)


def rules() -> dict[str, Any]:
    """What each rule finds in each case, and its sentences, each once."""
    found: dict[str, Any] = {}
    sentences: dict[str, list[str]] = {}
    for case in json.loads(CASES.read_text(encoding="utf-8")):
        out = found_by(case)
        told = []
        for mechanism, severity, what, amount, do, gas, ppm, _ in out["found"]:
            told.append([mechanism, severity, amount, gas, ppm])
            said = f"{what}. {do}"
            if said not in sentences.setdefault(mechanism, []):
                sentences[mechanism].append(said)
        left = {name: out[name] for name in ("gas_mol", "heat_kj", "sulfide") if out[name]}
        found[case_in_words(case)] = [*told, left] if left else told
    return found | {"sentences": {mechanism: sorted(said) for mechanism, said in sorted(sentences.items())}}
