"""What is told of baths, jugs, clips, air and routes, at both sides of each limit: names and amounts as given, lives, destructions.

Only told here; what they said when they were last read stands in ``tests/unit/told``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import asdict, replace
from typing import Any

from obverse.foundation import ObverseError
from obverse.process import Formula, Process, Rinse, Step
from obverse.process.catalog import formulas, products, routes, substances
from obverse.safety import (
    airborne,
    along_route,
    bath_life,
    by_chemistry,
    check,
    clip,
    derived,
    destroy,
    film,
    hazards,
    meeting,
    said_as,
    waste,
)
from obverse.safety.airborne import Room
from obverse.safety.amounts import Amount, asked, of_bath, portion_of, told_by_things
from obverse.safety.bath_life import Pass
from obverse.safety.body import powder
from obverse.safety.finding import Finding
from obverse.safety.matter import as_matter, known_names, of_formula, of_product, things
from obverse.safety.setting import setting_for
from obverse.safety.waste import Jug, Poured


def tried(work: Callable[[], Any]) -> Any:
    """What a call answers, or the sentence of its refusal."""
    try:
        return work()
    except ObverseError as error:
        return f"refused: {error.sentence}"


def short(finding: Finding) -> list[Any]:
    """A finding without its source."""
    return [
        finding.pair,
        finding.severity,
        finding.level,
        finding.refused,
        finding.context,
        finding.where,
        finding.text,
        finding.advice,
        finding.gas,
        finding.residual_g_per_l,
    ]


def _bath(key: str, **changes: Any) -> Formula:
    return formulas()[key].model_copy(update=changes)


def amounts_given() -> dict[str, Any]:
    """Names with and without amounts, and what each brings."""
    texts = (
        "vinegar_5=250 mL",
        "soda ash = 1,5kg",
        "ammonia_25=0.5 l",
        "hypo_crystals=20g",
        "vinegar_5 = 2 L",
        "vinegar_5=",
        "=3 mL",
        "vinegar_5=0 mL",
        "x=1000 kg",
        "x=1000.1 kg",
    )
    found: dict[str, Any] = {
        text: tried(lambda text=text: [asked(text)[0], asked(text)[1] and asdict(asked(text)[1])]) for text in texts
    }
    names = (
        *products(),
        *(f"used_{key}" for key in formulas()),
        *formulas(),
        "Soda ash",
        "water",
        "ammonia",
        "nitric_acid",
        "sodium_azide",
        *things(),
        "nonsense",
    )
    for name in names:
        found[f"brings {name}"] = tried(lambda name=name: asdict(portion_of(name)))
        found[f"40 of {name}"] = tried(
            lambda name=name: [(p := portion_of(name, Amount(40.0, "mL"))).grams, p.water_ml, p.unknown]
        )
    matter = of_product(products()["laundry_bleach"])
    found["as matter"] = [
        asdict(portion_of(one))
        for one in (
            matter,
            products()["soda_ash"],
            substances()["ethanol"],
            substances()["sodium_sulfite"],
            formulas()["fixer_rapid"],
        )
    ]
    found["as made"] = [
        asdict(portion_of(as_matter(name)))
        for name in ("used_fixer_rapid", "used_ammonia_bath", "etchant_42be", "zinc", "paper", "citric_acid")
    ]
    found["unread"] = asdict(of_bath(_bath("fixer_rapid", unread=("5 mL of mystery",)), 300.0))
    setting = setting_for("mixing", Room(12), hours=50.0)
    for name in (
        "standing",
        "storage",
        "drying",
        "warming",
        "closed_jug",
        "food_vessel",
        "asthma",
        "flame",
        "bare_hands",
        "septic_tank",
        "damp",
        "iron",
    ):
        found[f"set by {name}"] = [
            asdict(told_by_things(replace(setting, hours=hours), [name])) for hours in (0.0, 50.0)
        ]
    return found


def matters() -> dict[str, Any]:
    """Bottles, baths and things as their dangerous parts; names that are known, and what is near one that is not."""
    found: dict[str, Any] = {}
    for name in (
        *products(),
        *formulas(),
        "used_fixer_rapid",
        "used_ammonia_bath",
        "used_bleach_permanganate",
        "used_bleach_iron_chloride",
        "zinc",
        "Tap water",
        "etchant 42be",
    ):
        found[name] = tried(
            lambda name=name: [
                [one.kind, one.key, one.g_per_l, one.state, one.origin, one.residual, one.statements]
                for one in as_matter(name).ingredients
            ]
        )
    for unread in ("5 mL household vinegar", "12,5 g of sodium sulfite", "mystery", "water"):
        bath = _bath("stop_citric", unread=(unread,))
        found[f"with {unread}"] = [
            [one.kind, one.key, one.name, one.state, one.g_per_l]
            for one in of_formula(bath, used=True, aged=True).ingredients
        ]
    found["diluted"] = [
        [one.g_per_l, one.residual, one.state]
        for part in as_matter("zinc").ingredients + as_matter("vinegar_5").ingredients
        for one in (part.diluted(0.1).diluted(0.5),)
    ]
    found["not known"] = [
        tried(lambda name=name: as_matter(name)) for name in ("ammonia_26", "xy", "blix", "used nothing")
    ]
    found["names"] = [len(known_names()) > len(substances()), [key for key in known_names() if key.startswith("used_")]]
    found["said"] = {
        said: said_as.meant_by(said)
        for said in ("drain cleaner", "old spirit of salts", "mystery salt", "salt", "some old salt crystals", "Sulphuric Acid", "acid", "vinegar and ammonia", "bleaches", "nothing", "battery_acid", "rinse acid", "water of the house")
    }  # fmt: skip
    return found


def labels() -> dict[str, Any]:
    """Bottles whose labels say a range, nothing, something that is no substance of ours, or statements of their own."""
    bottle, tub = products()["vinegar_5"], products()["citric_anhydrous"]
    acid, powder_ = bottle.contents[0], tub.contents[0]
    other = acid.model_copy(update={"substance": "other", "name": "herbs"})
    ways = {
        "a range": bottle.model_copy(update={"contents": (acid.model_copy(update={"strength": "20-30 % w/w"}),)}),
        "a least": bottle.model_copy(update={"contents": (acid.model_copy(update={"strength": "> 30 % w/w"}),)}),
        "nothing": bottle.model_copy(update={"contents": (acid.model_copy(update={"strength": "not said"}),)}),
        "herbs too": bottle.model_copy(update={"contents": (acid, other)}),
        "no contents": bottle.model_copy(update={"contents": ()}),
        "its own word": bottle.model_copy(update={"statements": ("H290", "H314")}),
        "a powder, a range": tub.model_copy(
            update={"contents": (powder_.model_copy(update={"strength": "50-80 % w/w"}), other)}
        ),
        "a powder, a high range": tub.model_copy(
            update={"contents": (powder_.model_copy(update={"strength": "90-100 % w/w"}),)}
        ),
        "of nobody": bottle.model_copy(update={"contents": (acid.model_copy(update={"substance": "unobtainium"}),)}),
    }
    found: dict[str, Any] = {}
    for name, product in ways.items():
        found[name] = [
            tried(
                lambda product=product: [
                    [one.kind, one.name, one.g_per_l, one.state, one.statements]
                    for one in of_product(product).ingredients
                ]
            ),
            tried(lambda product=product: asdict(portion_of(product))),
            tried(
                lambda product=product: [
                    hazards.hazards_of(product).unknown,
                    hazards.hazards_of(product).wear,
                    [code.code for code in hazards.hazards_of(product).codes],
                ]
            ),
        ]
    line = formulas()["wetting_bath"].dilutions[0]
    for dilution in ("1+15", "5 mL/L", "20 g/L", "3 % w/w"):
        bath = _bath("wetting_bath", dilutions=(line.model_copy(update={"dilution": dilution}),))
        found[f"diluted {dilution}"] = tried(
            lambda bath=bath: [[one.key, one.g_per_l] for one in of_formula(bath).ingredients]
        )
    nowhere = _bath(
        "stop_citric",
        components=(formulas()["stop_citric"].components[0].model_copy(update={"substance": "unobtainium"}),),
    )
    found["a bath of nobody"] = [tried(lambda: of_formula(nowhere)), tried(lambda: of_bath(nowhere, 100.0))]
    for key in ("bleach_iron_chloride", "ammonia_bath"):
        both = _bath(key, components=(*formulas()[key].components, *formulas()["stop_citric"].components))
        found[f"{key} with citric acid"] = [
            [one.key for one in of_formula(both, used=True).ingredients],
            of_bath(both, 100.0, used=True).moles,
        ]
    route = routes()["permanganate_light"]
    found["by steps"] = [[step.key, sheet.name] for step, sheet in hazards.hazards_of_route(route, formulas())]
    found["not at hand"] = [tried(lambda step=step: hazards.hazards_of_step(step, {})) for step in route.steps[:3]]
    found["remnants"] = {
        key: [[one.key, one.kind, one.origin] for one in destroy.remnant_of(formula).ingredients]
        for key, formula in formulas().items()
    }
    return found


def hazards_said() -> dict[str, Any]:
    """Codes at strengths on both sides of a band, wear, air, and the words on labels we have no words for."""
    found: dict[str, Any] = {}
    rows = sorted({substance.hazard_row for substance in substances().values() if substance.hazard_row})
    for row in rows:
        told = {
            f"{percent}": hazards.codes_of(row, percent)[0::2]
            for percent in (None, 0.05, 0.999, 1.0, 4.9, 5.0, 9.99, 10.0, 24.9, 25.0, 35.0, 69.9, 99.9)
        }
        runs: list[Any] = []
        for percent, one in told.items():
            if not runs or runs[-1][1] != one:
                runs.append([percent, one])
        found[row] = runs
    bath = as_matter("ammonia_25")
    found["label"] = hazards.hazards_of(
        replace(
            bath,
            ingredients=tuple(
                replace(part, statements=("H290", "H999", "EUH031", "H360FD", "H361d")) for part in bath.ingredients
            ),
        )
    ).document()
    for name in (
        "battery_acid_37",
        "dithionite_85",
        "dichromate_crystals",
        "formalin_37",
        "soda_ash",
        "wetting_agent",
        "etchant_42be",
        "thiocyanate_crystals",
    ):
        found[name] = hazards.hazards_of(name).document()
    for percent in (0.99, 1.0, 9.4, 9.6, 950.0, 990.0):
        thin = as_matter("vinegar_5")
        found[f"thin {percent}"] = [
            code.code
            for code in hazards.hazards_of(
                replace(thin, ingredients=tuple(replace(part, g_per_l=percent) for part in thin.ingredients))
            ).codes
        ]
    return found


def airs() -> dict[str, Any]:
    """Rooms at the ends of what can be, air at both sides of its limits."""
    found: dict[str, Any] = {}
    ends = (
        (0.5, 0.0, -10.0),
        (10_000.0, 100.0, 45.0),
        (0.49, 1.0, 20.0),
        (10_001.0, 1.0, 20.0),
        (10.0, -0.1, 20.0),
        (10.0, 100.1, 20.0),
        (10.0, 1.0, -10.1),
        (10.0, 1.0, 45.1),
        (math.nan, 1.0, 20.0),
        (10.0, math.inf, 20.0),
    )
    for end in ends:
        found[f"room {end}"] = tried(lambda end=end: asdict(Room(*end)))
    found["usual"] = asdict(Room(10.0))
    found["held"] = [
        airborne.room_concentration_mg_m3(g, 20.0, removal, h, start_mg_m3=start, outside_mg_m3=outside, air_changes_per_h=changes)
        for g, removal, h, start, outside, changes in (
            (100.0, 0.5, 2.0, 0.0, 0.0, None), (100.0, 0.0, 2.0, 5.0, 0.0, None), (0.0, 2.0, 0.3, 7.0, 3.0, None), (50.0, 2.0, 1.0, 1.0, 3.0, 0.5), (100.0, 1e-13, 1.0, 0.0, 0.0, None)
        )
    ]  # fmt: skip
    found["aired"] = [
        tried(lambda a=a, b=b, n=n: airborne.purge_time_h(a, b, n))
        for a, b, n in ((8, 2, 0.5), (2, 2, 1), (1, 2, 1), (8, 2, 0), (-1, 2, 1), (0, 2, 1), (8, 0, 1), (8, 2, -1))
    ]
    found["units"] = [
        airborne.ppm_of_mg_m3(17.0, 17.0),
        airborne.ppm_of_mg_m3(17.0, 17.0, 0.0),
        airborne.near_exchange_m3_per_h(),
    ]
    found["ammonia"] = [
        tried(lambda c=c, a=a, t=t: airborne.ammonia_release_mg_per_h(c, a, t))
        for c, a, t in ((0.5, 0.02, 20.0), (0.5, 0.0, 20.0), (0.5, -0.01, 20.0), (2.0, 0.05, 25.0))
    ]
    found["sulfur dioxide"] = {
        name: tried(lambda name=name: airborne.sulfur_dioxide_from_g(name, 10.0))
        for name in (*airborne.SULFUR_DIOXIDE_OF, "salt")
    }
    room = Room(8.0, 0.5)
    found["times"] = [
        tried(lambda t=t: airborne.ammonia_in_air(room, 0.1, 0.005, t).document()) for t in (0.0, 1440.0, -0.1, 1440.1)
    ]
    found["still"] = airborne.ammonia_in_air(Room(8.0, 0.0), 0.1, 0.005, 30.0).document()
    found["bursts"] = [
        tried(lambda gas=gas, mg=mg: airborne.release_in_air(room, gas, mg).document())
        for gas, mg in (("ammonia", 0.0), ("ammonia", -1.0), ("argon", 1.0), ("chlorine", 2.0), ("chlorine", 500.0))
    ]
    limits = airborne.release_in_air(room, "hydrogen_sulfide", 1.0).limits
    found["meant for"] = [
        [one.name, one.meant_for] for gas in airborne.GASES for one in airborne.release_in_air(room, gas, 1.0).limits
    ]
    # Exactly at a limit it counts as passed.
    for one in limits:
        per_mg = airborne.release_in_air(room, "hydrogen_sulfide", 1.0).ppm_near[2]
        found[f"at {one.name}"] = [
            [c.code, c.text]
            for share in (0.99, 1.01)
            for c in airborne.release_in_air(room, "hydrogen_sulfide", share * one.ppm / per_mg).cautions
        ]
    return found


_AREA = 0.0583


def lives() -> dict[str, Any]:
    """How long baths last: fresh, worn, judged, old, thin, timed by clips; and what is said at each chance of a ghost."""
    found: dict[str, Any] = {}
    roll = Pass(_AREA)
    for key in (
        "fixer_rapid",
        "ammonia_bath",
        "bleach_permanganate",
        "bleach_peroxide_acid",
        "bleach_dichromate",
        "bleach_iron_chloride",
    ):
        bath = formulas()[key]
        belief = bath_life.first_belief(bath)
        found[f"{key} believed"] = asdict(belief)
        for n in (0, 1, 2, 4, 8, 16, 32, 64):
            told = bath_life.forecast(bath, [roll] * n, volume_ml=500.0)
            found[f"{key} {n}"] = [
                told.ghost_probability,
                asdict(told.rolls_left),
                told.ghost_on_roll,
                told.longer_time_ratio,
                [[c.code, c.text, c.level] for c in told.cautions],
            ]
        ghosts = [Pass(_AREA, False), Pass(_AREA), Pass(_AREA, True), Pass(_AREA, True, 2.0)]
        found[f"{key} judged"] = [
            asdict(bath_life.learn(belief, ghosts[:n], 500.0, before_m2=before))
            for n in range(5)
            for before in (0.0, 0.2)
        ]
        found[f"{key} by clips"] = [
            [asdict(one) for one in bath_life.learn_from_clips(belief, clips, 500.0, fresh_log_s=3.5, fresh_sd=sd)]
            for clips in ([], [(0.0, 40.0)], [(0.1, 40.0)], [(0.1, 40.0), (0.3, 90.0)], [(2.0, 3000.0)])
            for sd in (0.1, 0.5)
        ]
    fixer = formulas()["fixer_rapid"]
    found["used, whole"] = [
        bath_life.forecast(
            fixer, [roll] * 3, volume_ml=800.0, next_area_m2=0.1, age_h=5.0, time_ratio=1.3, strength=strength
        ).document()
        for strength in (bath_life.AS_MIXED, bath_life.BathStrength(-0.3, 0.2))
    ]
    peroxide = formulas()["bleach_peroxide_acid"]
    found["old"] = [
        [c.code for c in bath_life.forecast(peroxide, [roll] * n, volume_ml=500.0, age_h=age).cautions]
        for n in (0, 1)
        for age in (None, 0.99, 1.0, 1.01)
    ]
    found["unread"] = bath_life.forecast(
        fixer.model_copy(update={"unread": ("this", "that")}), [roll], volume_ml=500.0
    ).document()
    refusals: dict[str, dict[str, Any]] = {
        "no volume": {"volume_ml": 0.0}, "endless": {"volume_ml": math.inf}, "a lake": {"volume_ml": 1_000_001.0}, "the largest": {"volume_ml": 1e6}, "no film": {"volume_ml": 500.0, "next_area_m2": 0.0},
        "the longest film": {"volume_ml": 500.0, "next_area_m2": 100.0}, "too long a film": {"volume_ml": 500.0, "next_area_m2": 100.1}, "no time": {"volume_ml": 500.0, "time_ratio": 0.0},
        "tomorrow": {"volume_ml": 500.0, "age_h": -0.1}, "now": {"volume_ml": 500.0, "age_h": 0.0}, "endless time": {"volume_ml": 500.0, "time_ratio": math.inf}, "endless film": {"volume_ml": 500.0, "next_area_m2": math.inf},
    }  # fmt: skip
    found |= {
        name: tried(lambda way=way: bath_life.forecast(fixer, **way).ghost_probability)
        for name, way in refusals.items()
    }
    found["no life"] = [tried(lambda key=key: asdict(bath_life.first_belief(formulas()[key]))) for key in formulas()]
    found["wear"] = [key for key, formula in formulas().items() if bath_life.has_capacity(formula)]
    found["silver"] = [
        asdict(bath_life.silver_taken_g(formula, area)) for formula in formulas().values() for area in (0.0, 0.1)
    ]
    found["thin"] = [
        tried(lambda key=key: asdict(bath_life.first_belief(_bath(key, components=(), dilutions=()))))
        for key in ("fixer_rapid", "ammonia_bath", "bleach_permanganate")
    ]
    sure = bath_life.Belief(bath_life.first_belief(fixer).mean, 0.02)
    for key, volume_ml in (
        ("fixer_rapid", 500.0),
        ("bleach_permanganate", 500.0),
        ("fixer_rapid", 4000.0),
        ("fixer_rapid", 50_000.0),
    ):
        found[f"{key} surely, {volume_ml:g} mL"] = [
            [told.ghost_on_roll, told.longer_time_ratio, [c.text for c in told.cautions]]
            for n in (*range(8), 12, 16, 20)
            for told in (bath_life.forecast(formulas()[key], [roll] * n, volume_ml=volume_ml, belief=sure),)
        ]
    iron = formulas()["bleach_iron_chloride"]
    part = iron.components[0]
    for amount in ("5 g/L", "30 g/L", "60 g/L", "120 g/L", "300 g/L", "900 g/L"):
        bath = iron.model_copy(update={"components": (part.model_copy(update={"concentration": amount}),)})
        practice = bath_life.iron_life(bath)
        found[f"iron {amount}"] = [asdict(bath_life.first_belief(bath)), None if practice is None else asdict(practice)]
    found["no iron"] = [bath_life.iron_life(bath) for bath in (fixer, iron.model_copy(update={"role": "clearing"}))]
    found["weak"] = [
        bath_life.forecast(
            fixer, [roll] * n, volume_ml=500.0, strength=bath_life.BathStrength(-2.5, sd)
        ).ghost_probability
        for n in (0, 3)
        for sd in (0.0, 0.1)
    ]
    return found


def clips() -> dict[str, Any]:
    """Clips of film at both sides of what is said of them."""
    found: dict[str, Any] = {}
    for key, formula in formulas().items():
        found[key] = [
            clip.clip_does(formula),
            *(
                tried(lambda t=t, formula=formula: clip.clip_told(formula, t).document())
                for t in (1.0, 60.0, 119.6, 400.0, 3600.0)
            ),
        ]
    fixer = formulas()["fixer_rapid"]
    found["tested"] = [
        clip.clip_told(fixer, t, fresh).document()
        for fresh in ((20.0,), (20.0, 25.0, 30.0))
        for t in (20.0, 30.0, 34.0, 40.0, 44.0, 60.0)
    ]
    found["cannot be"] = [
        tried(lambda t=t: clip.clip_told(fixer, t).time_s) for t in (0.0, -1.0, 3600.1, math.nan, math.inf)
    ] + [tried(lambda: clip.clip_told(fixer, 9.0, (0.0,)).time_s)]
    found["words"] = [clip._seconds(t) for t in (119.4, 120.0, 121.0)]
    return found


def destroyed() -> dict[str, Any]:
    """How used baths are made harmless, in one bucket and in several, with what must be at hand and what is left."""
    found: dict[str, Any] = {}
    for key, formula in formulas().items():
        residue = destroy.residue_of(formula)
        found[f"{key} left"] = [asdict(destroy.remnant_portion(formula, 500.0, silver)) for silver in (0.0, 3.0)]
        if residue is None:
            found[key] = [
                destroy.destruction_steps(formula),
                destroy.destruction_supplies(formula),
                destroy.standing_caution(formula, 1e9),
            ]
            continue
        for ml, bucket in ((100.0, None), (500.0, None), (3000.0, 2000.0)):
            found[f"{key} {ml:g} {bucket}"] = [
                [[s.key, s.time_min, s.do, s.deal_with_within_min, s.waste_jug, s.after_use] for s in destroy.destruction_steps(formula, volume_ml=ml, bucket_ml=bucket)],
                [[one.words, one.amount, one.least, one.substances] for one in destroy.destruction_supplies(formula, volume_ml=ml, bucket_ml=bucket)],
            ]  # fmt: skip
        found[f"{key} clock"] = [
            [
                destroy.standing_caution(formula, residue.deadline_min + m).text,
                destroy.standing_caution(formula, residue.deadline_min + m).code,
            ]
            for m in (-9.0, -0.1, 0.0, 0.1, 90.0)
        ]
        found[f"{key} kinds"] = [
            (step.kind, step.light, step.temperature_low_c, step.temperature_high_c, step.cautions)
            for step in destroy.destruction_steps(formula)
        ]
    found["cannot be"] = [
        tried(lambda ml=ml: destroy.destruction_steps(formulas()["ammonia_bath"], volume_ml=ml))
        for ml in (0.0, -1.0, math.nan)
    ]
    found["acid"] = [
        destroy.bisulfate_to_ph_g(g, ml, ph=ph)
        for g, ml, ph in ((5.0, 5000.0, 2.0), (5.0, 5000.0, 4.0), (0.0, 1000.0, 2.0))
    ]
    found["another role"] = [
        destroy.residue_of(_bath(key, role="clearing"))
        for key in ("bleach_permanganate", "bleach_peroxide_acid", "ammonia_bath")
    ]
    return found


def jugs_at_their_limits() -> dict[str, Any]:
    """Jugs nearly full, closed, with silver and with strangers; what may be added and poured."""
    found: dict[str, Any] = {}

    def jug(letter: str, *poured: tuple[str, float, float], capacity_ml: float = 5000.0, vented: bool = True) -> Jug:
        return Jug(
            letter=letter,
            name=f"jug {letter}",
            capacity_ml=capacity_ml,
            vented=vented,
            contents=tuple(
                Poured(what=w, volume_ml=ml, silver_high_g=g, silver_likely_g=g / 2, silver_low_g=g / 4)
                for w, ml, g in poured
            ),
        )

    for ml, silver in ((4000.0, 0.0), (4000.1, 0.0), (1000.0, 0.005), (1000.0, 0.00501), (1000.0, 2.0)):
        found[f"{ml:g} mL with {silver:g} g"] = [
            [c.code, c.text, c.level] for c in waste.cautions_of(jug("A", ("fixer_rapid", ml, silver)))
        ]
    found["closed"] = [
        [c.code, c.text, c.level]
        for c in waste.cautions_of(
            jug(
                "B",
                ("fixer_rapid", 100.0, 0.0),
                ("laundry_bleach", 100.0, 0.0),
                ("fixer_rapid", 10.0, 0.0),
                vented=False,
            )
        )
    ]
    found["empty"] = [c.code for c in waste.cautions_of(jug("F"))]
    found["silver"] = asdict(
        waste.silver_total_g(
            [jug("A", ("fixer_rapid", 100.0, 1.0), ("fixer_rapid", 100.0, 0.5)), jug("B", ("x", 1.0, 0.1))]
        )
    )
    for key, formula in formulas().items():
        found[f"letters of {key}"] = [
            waste.usual_jug(formula),
            waste.classes_for(key),
            waste.classes_for(f"used_{key}"),
        ] + ([waste.classes_for(f"destroyed_{key}")] if destroy.residue_of(formula) else [])
    found["no letter"] = [tried(lambda: waste.jug_class("Z")), waste.classes_for("nothing")]
    for letter in ("A", "B", "C", "D", "D2", "F"):
        for what in (
            "laundry_bleach",
            "vinegar_5",
            "household_ammonia_5",
            "pure_salt",
            "etchant_42be",
            "peroxide_12",
            "caustic_soda",
            "wetting_agent",
        ):
            told = waste.wrong_class(jug(letter), what)
            found[f"{what} in {letter}"] = None if told is None else [told.code, told.text, told.level]
    pours: tuple[tuple[Jug, str, float], ...] = (
        (jug("A"), "fixer_rapid", 500.0), (jug("A", ("fixer_rapid", 4000.0, 1.0)), "fixer_rapid", 500.0), (jug("A", ("fixer_rapid", 4000.0, 1.0)), "fixer_rapid", 501.0),
        (jug("E"), "fixer_rapid", 5.0), (jug("A"), "ammonia_bath", 300.0), (jug("A"), "used_ammonia_bath", 300.0), (jug("B", ("bleach_iron_chloride", 500.0, 0.0)), "laundry_bleach", 200.0),
        (jug("F", ("second_developer", 900.0, 0.0)), "clearing_metabisulfite", 400.0), (jug("C", ("bleach_permanganate", 500.0, 0.2)), "fixer_rapid", 500.0), (jug("A", ("fixer_rapid", 500.0, 0.2)), "battery_acid_37", 300.0),
        (jug("A", ("fixer_rapid", 4500.0, 1.0), vented=False), "vinegar_essence_25", 300.0), (jug("A", ("fixer_rapid", 900.0, 1.0), capacity_ml=1000.0, vented=False), "citric_anhydrous", 50.0),
    )  # fmt: skip
    for place, (into, what, ml) in enumerate(pours):
        for treated in (False, True):
            found[f"{place} {what} {treated}"] = tried(
                lambda into=into, what=what, ml=ml, treated=treated: (
                    waste.pour(into, Poured(what=what, volume_ml=ml), treated=treated).contents[-1].what
                )
            )
        found[f"{place} {what} met"] = tried(
            lambda into=into, what=what, ml=ml: [
                short(one)
                for volume in (None, ml)
                for one in waste.may_be_added(into, what, volume_ml=volume, room=Room(6.0))
            ]
        )
    return found


def _changed(route: Process, **steps: dict[str, Any]) -> Process:
    return route.model_copy(
        update={
            "steps": tuple(
                step.model_copy(update=steps[step.key]) if step.key in steps else step for step in route.steps
            )
        }
    )


def films() -> dict[str, Any]:
    """What routes do to people and films where something is left out or put elsewhere, and what their baths warn of."""
    found: dict[str, Any] = {}
    known = formulas()
    for key, route in routes().items():
        found[f"{key} warns"] = by_chemistry.warnings_of(route, known)
        found[f"{key} after use"] = [
            by_chemistry.usual_after_use(step, known[step.formula], route, known)
            for step in route.steps
            if step.formula
        ]
    for key in ("iron_ammonia_fogging", "permanganate_light", "dichromate_fogging"):
        route = routes()[key]
        baths = [step for step in route.steps if step.formula]
        ways: dict[str, dict[str, dict[str, Any]]] = {
            "bare": {step.key: {"rinse_after": None} for step in route.steps},
            "one fill": {step.key: {"rinse_after": Rinse(fills=(5,))} for step in route.steps},
            "kept": {step.key: {"after_use": "keep"} for step in baths},
            "all in one jug": {step.key: {"after_use": "waste", "waste_jug": "F"} for step in baths},
            "a bath as said": {baths[2].key: {"formula": None, "mix": "5 g of mystery", "after_use": "keep"}},
        }
        for name, way in ways.items():
            changed = _changed(route, **way)
            told = along_route.check_route(changed, known, retained_ml=20.0, tank_ml=400.0, room=Room(7.0))
            found[f"{key} {name}"] = [short(one) for one in told]
        lame = {
            **known,
            baths[1].formula or "": known[baths[1].formula or ""].model_copy(update={"unread": ("a thing",)}),
        }
        found[f"{key} with a thing"] = [
            short(one) for one in along_route.check_route(route, lame) if one.pair == "unread"
        ]
    found["not at hand"] = tried(lambda: along_route.check_route(routes()["permanganate_light"], {}))
    return found


def harms_to_film() -> dict[str, Any]:
    """Chloride, swelling, iron, light and wash, each at both sides of its limit."""
    known, route = formulas(), routes()["iron_ammonia_fogging"]
    steps = {step.key: step for step in route.steps}
    iron, bleach = known["bleach_iron_chloride"], next(step for step in route.steps if step.kind == "bleach")
    longest = film.number("film.chloride_most_min")
    found: dict[str, Any] = {}

    def said(findings: Any) -> list[list[Any]]:
        return [[one.pair, one.level, one.where, one.text, one.advice, one.source.text] for one in findings]

    for strength in ("1 g/L", "5 g/L", "6 g/L", "30 g/L", "280 g/L"):
        thin = iron.model_copy(
            update={"components": (iron.components[0].model_copy(update={"concentration": strength}),)}
        )
        for minutes in (longest, longest + 0.1, 40.0):
            pairs = [(bleach.model_copy(update={"time_min": minutes}), thin)]
            found[f"chloride {strength} {minutes:g} min"] = said(film._conversion(pairs, 300.0))
    found["no bleach"] = said(
        film._conversion([(bleach.model_copy(update={"kind": "other", "time_min": 40.0}), iron)], 300.0)
    )
    found["converted"] = [
        film.bromide_that_chloride_may_convert(*one)
        for one in ((1.0, 500.0, 0.003), (1.0, 5000.0, 0.003), (1.0, 500.0, 0.0))
    ]
    fills = {
        "none": None,
        "one": Rinse(fills=(5,)),
        "two": Rinse(fills=(5, 5)),
        "three": Rinse(fills=(5, 5, 5)),
        "running": Rinse(running_water_min=1.0),
        "long": Rinse(fills=(5,), running_water_min=2.0),
    }
    first, fogging = route.steps[0], next(step for step in route.steps if "dithionite" in (step.formula or ""))
    between = Step.model_validate(first.model_dump() | {"key": "between", "formula": None, "mix": "", "kind": "rinse"})
    for name, rinse in fills.items():
        short_way = (bleach.model_copy(update={"rinse_after": rinse}), fogging)
        pairs = [(short_way[0], known["bleach_permanganate"]), (fogging, known["fogging_dithionite"])]
        for mix in ("", "tea"):
            way = (short_way[0], between.model_copy(update={"mix": mix, "rinse_after": None}), fogging)
            found[f"swelling, {name} {mix}"] = said(
                film._swelling(route.model_copy(update={"steps": way}), pairs, 500.0)
            )
        for retained_ml in (0.05, 1.0, 30.0, 300.0):
            found[f"iron, {name}, {retained_ml:g} mL"] = said(
                film._iron_into_dithionite(
                    route.model_copy(update={"steps": (*short_way, fogging)}), known, 500.0, retained_ml
                )
            )
    alike = [(bleach, known["stop_citric"]), (fogging, known["acid_rinse"])]
    found["no swelling"] = said(film._swelling(route.model_copy(update={"steps": (bleach, fogging)}), alike, 500.0))
    for key in steps:
        for other in ("iron_ammonia_light", "permanganate_light"):
            found[f"light at {key} {other}"] = said(
                film._light_on_chloride(_changed(routes()[other], **{key: {"light": "light"}}), known)
            )
    rapid, alum = known["fixer_rapid"], known["hardener_chrome_alum"]
    plain = rapid.components[0].model_copy(update={"substance": "sodium_thiosulfate_pentahydrate"})
    washed = routes()["iron_ammonia_light"]
    for name, parts in (
        ("hardening", (*rapid.components, *alum.components)),
        ("plain", (plain,)),
        ("rapid", rapid.components),
    ):
        fixers = {**known, "fixer_rapid": rapid.model_copy(update={"components": parts})}
        for aid in (False, True):
            needed = film.wash_needed_min(name, wash_aid=aid)
            kept = (
                washed
                if aid
                else washed.model_copy(
                    update={"steps": tuple(step for step in washed.steps if "wash_aid" not in (step.formula or ""))}
                )
            )
            for minutes in (needed - 0.1, needed):
                for rinse in (None, fills["two"], fills["three"]):
                    way = _changed(
                        kept,
                        **{
                            step.key: {"time_min": minutes, "rinse_after": rinse}
                            for step in kept.steps
                            if step.kind == "wash"
                        },
                    )
                    found[f"{name} {aid} {minutes:g} {0 if rinse is None else len(rinse.fills)}"] = said(
                        film._wash(way, fixers)
                    )
    for kind in ("wash", "fix"):
        without = washed.model_copy(update={"steps": tuple(step for step in washed.steps if step.kind != kind)})
        found[f"without {kind}"] = said(film._wash(without, known))
    found["wash"] = [
        tried(lambda kind=kind, aid=aid: film.wash_needed_min(kind, wash_aid=aid))
        for kind in (*film.FIXERS, "none")
        for aid in (False, True)
    ]
    found["all"] = [
        one.pair
        for one in film.film_findings(
            _changed(
                route, **{step.key: {"rinse_after": None, "light": "light", "time_min": 20.0} for step in route.steps}
            ),
            known,
            tank_ml=500.0,
            retained_ml=30.0,
        )
    ]
    return found


def rinsed() -> dict[str, Any]:
    """Rinses, carry-over, and the words of what is left at each strength."""
    found: dict[str, Any] = {}
    rinses = {
        "none": None,
        "one": Rinse(fills=(5,)),
        "five": Rinse(fills=(5,) * 5),
        "own volume": Rinse(fills=(5,), fill_volume_ml=1000.0),
        "running": Rinse(running_water_min=3.0),
        "acid": Rinse(fills=(5,), acidified=True),
    }
    for name, rinse in rinses.items():
        found[name] = tried(lambda rinse=rinse: check.rinse_factor(rinse, retained_ml=20.0, fill_ml=480.0))
        for first, second in (
            ("fixer_rapid", "bleach_permanganate"),
            ("clearing_metabisulfite", "ammonia_bath"),
            ("bleach_dichromate", "second_developer"),
            ("bleach_iron_chloride", "fogging_dithionite"),
            ("ammonia_bath", "bleach_iron_chloride"),
        ):
            found[f"{first}, {name}, {second}"] = [short(one) for one in check.check_carry_over(first, second, rinse)]
    found["cannot be"] = [
        tried(lambda one=one: check.rinse_factor(None, retained_ml=one[0], fill_ml=one[1]))
        for one in ((-0.1, 1.0), (0.0, 1.0), (1.0, 0.0))
    ]
    found["amounts"] = [
        [check._amount(x, of_bath=whole) for x in (0.1, 0.0999, 1e-4, 0.99e-4, 12.345, 0.5)] for whole in (False, True)
    ]
    found["levels"] = [
        check._carry_level(left, 1.0, floor)
        for left in (None, 10.1, 10.0, 1.1, 1.0, 0.5)
        for floor in ("note", "caution")
    ]
    for name, things_ in (
        ("etchant and soda", ("etchant_42be", "soda_ash")),
        ("bleach and vinegar", ("laundry_bleach", "vinegar_5")),
        ("dithionite", ("dithionite_85", "water")),
    ):
        found[f"{name} stored"] = [
            [short(one)[:7] for one in check.check_storage(*things_, damp=damp)] for damp in (False, True)
        ]
        found[f"{name} in a jug"] = [
            [short(one)[:7] for one in check.check_waste_jug(*things_, closed=closed)] for closed in (False, True)
        ]
    for key in ("fogging_dithionite", "bleach_permanganate", "fixer_rapid", "hardener_formalin"):
        found[f"{key} mixed"] = [
            short(one)
            for one in check.check_mix(
                formulas()[key],
                ["laundry_bleach", "vinegar_5", "metabisulfite_sodium"],
                volume_ml=700.0,
                room=Room(5.0),
                where="here",
            )
        ]
        found[f"{key} as sheet"] = [
            short(one)
            for one in check.check_mix(
                formulas()[key].model_copy(update={"unread": ("mystery",)}),
                added=(powder("a", {"sodium_dithionite": 50.0}), of_bath(formulas()["stop_citric"], 400.0)),
            )
        ]
    found["not judged"] = [
        short(check.not_judged(("a", "b"), as_matter(name) if name else None))
        for name in ("", "laundry_bleach", "soda_ash")
    ]
    lethal = check.check_mixture("laundry_bleach", "household_ammonia_5")
    found["refused"] = [tried(lambda some=some: check.refuse_lethal(some)) for some in (lethal[:1], lethal, ())]
    return found


def met() -> dict[str, Any]:
    """Things that meet, each place, with and without amounts; what is shown and what is folded away."""
    found: dict[str, Any] = {}
    asked_for = (
        ("laundry_bleach", "household_ammonia_5"), ("laundry_bleach=1 mL", "household_ammonia_5=1 mL"), ("metabisulfite_sodium=100 g", "citric_anhydrous=100 g"), ("used_ammonia_bath", "bleach_iron_chloride"),
        ("fogging_dithionite", "standing"), ("permanganate_crystals", "soda_ash"), ("fixer_ats_60wv", "vinegar_essence_25", "closed_jug"), ("vinegar_5", "water"), ("bleach_permanganate", "fixer_rapid"),
    )  # fmt: skip
    for texts in asked_for:
        for context in ("any", *meeting.MEETINGS):
            told = tried(
                lambda texts=texts, context=context: meeting.meeting(
                    [meeting.brought(text) for text in texts], context, Room(6.0)
                )
            )
            if isinstance(told, str):
                found[f"{texts} {context}"] = told
            elif told:
                shown, folded = derived.shown_and_folded(told)
                found[f"{' + '.join(texts)}, {context}"] = [
                    [[*short(one)[:4], one.text] for one in shown],
                    [one.pair for one in folded],
                ]
    found["cannot be"] = [
        tried(lambda: meeting.meeting([meeting.brought("vinegar_5")], "any")),
        tried(lambda: meeting.meeting([meeting.brought("vinegar_5"), meeting.brought("water")], "sea")),
    ]
    called = derived.finding_of(derived.Effect("m", 3, "what", "", "", parts=("water", "a", "b")), setting_for("damp"))
    found["words of a finding"] = [short(derived.finding_of(derived.Effect("m", severity, "what", amount, do, gas=gas, parts=parts), setting_for(place), "here", usual=usual)) for severity, amount, do, gas, parts, place, usual in (
        (2, "", "", "", (), "damp", False), (3, "3 g", "Run.", "ammonia", ("water",), "jug", True), (4, "", "", "", ("a", "water", "b"), "shelf", False), (4, "", "", "", ("a", "a"), "room", False))]  # fmt: skip
    found["once"] = [
        one.pair
        for one in derived.once_each(
            [
                called,
                replace(called, severity=4),
                replace(called, where="there"),
                replace(called, a_from="b"),
                replace(called, pair="12", severity=3),
                replace(called, refused=True),
            ]
        )
    ]
    found["called first"] = [
        [one.pair for one in part]
        for part in derived.shown_and_folded(
            [
                called,
                replace(called, pair="called"),
                replace(called, pair="x", product="x"),
                replace(called, pair="y", product="y"),
                replace(called, pair="z", product="z"),
                replace(called, pair="x", product="other"),
            ]
        )
    ]
    return found
