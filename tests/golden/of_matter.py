"""What matter is and does in the hazard engine, function by function: strengths, speeds, gases, words of amounts.

Only told here; what they said when they were last read stands in ``tests/unit/told``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any, get_args

from obverse.safety import redox, release
from obverse.safety.airborne import Room
from obverse.safety.body import Pool, Portion, acid_in, heat_of_meeting_kj, liquid, powder
from obverse.safety.engine import assess, severity_of, worst_first
from obverse.safety.properties import gases, oxidants, reductants
from obverse.safety.scene import Scene, amount_of, concentrated, grams_words, ppm_words
from obverse.safety.setting import Effect, Place, Setting, setting_for

# Amounts on both sides of where words change, and at it.
_AMOUNTS = (1e-5, 0.0099, 0.01, 0.099, 0.1, 0.3, 9.4, 9.5, 9.99, 10.0, 44.4, 9999.0, 10_000.0, 123_456.0)
_POTS = (
    ({}, 1000.0), ({"sulfuric_acid": 3.0}, 1000.0), ({"sulfuric_acid": 0.001}, 1000.0), ({"acetic_acid": 1.0}, 500.0), ({"sodium_hydroxide": 2.0}, 300.0),
    ({"sodium_carbonate": 1.0, "ammonia": 0.5}, 1000.0), ({"iron_iii_chloride": 0.5}, 800.0), ({"stannous_chloride": 0.5}, 700.0),
    ({"nitric_acid": 9.0}, 200.0), ({"sodium_bisulfate": 1.0}, 400.0), ({"citric_acid": 0.2, "sodium_sulfite": 0.4}, 250.0),
)  # fmt: skip


def words_of_amounts() -> dict[str, Any]:
    """Amounts in words, on both sides of each change of unit."""
    return {f"{x:g}": [amount_of(x), ppm_words(x), grams_words(x, 1.0)] for x in _AMOUNTS}


def pots() -> dict[str, Any]:
    """Portions and what they become together: mass, volume, pH, acid, heat."""
    found: dict[str, Any] = {}
    for moles, water_ml in _POTS:
        pot = Portion("pot", moles, water_ml)
        pool = Pool((pot,))
        found[" ".join([*moles, "in water"])] = [
            pot.grams, pot.volume_ml, pot.solid, pool.ph, pool.protons_mol_per_l, pool.acid_above(2.0), pool.acid_above(9.0), acid_in(pot, 7.0),
            pool.volume_l, pool.water_l, pool.wet, pool.share_of(*moles), asdict(pot.times(0.3)),
        ]  # fmt: skip
    dry, oil = powder("dry", {"sodium_carbonate": 53.0, "citric_acid": 0.0}), powder("oil", {"acetic_acid": 60.0})
    paste, thick = Portion("paste", {"sucrose": 1.0}, 17.0), Portion("thick", {"sucrose": 1.0}, 19.0)
    for one in (dry, oil, paste, thick, Portion("nothing"), Portion("drop", {}, 1.0), Portion("two drops", {}, 1.1)):
        found[one.name] = [
            one.grams, one.solid, one.volume_ml, one.share_of("sucrose"), one.has("sugar"), Pool((one,)).wet, Pool((one,)).share_of("sucrose"),
            one.substance_with("carbonate"), Pool((one,)).volume_l,
        ]  # fmt: skip
    found["liquids"] = [
        asdict(liquid("vinegar", {"acetic_acid": 50.0}, 200.0, unknown=("herbs",), at_once=False)),
        asdict(liquid("battery acid", {"sulfuric_acid": 470.0, "water": 0.0}, 100.0, density_g_per_ml=1.28)),
        asdict(liquid("too strong", {"sodium_hydroxide": 2500.0}, 100.0)),
        asdict(liquid("heavier than it can be", {"sulfuric_acid": 1900.0}, 100.0, density_g_per_ml=1.8)),
    ]
    found["heat of meeting"] = [
        heat_of_meeting_kj((Portion("a", *_POTS[one]), Portion("b", *_POTS[other])))
        for one, other in ((1, 0), (0, 4), (1, 4), (4, 1), (3, 5), (5, 1), (1, 1), (4, 5), (9, 5))
    ] + [heat_of_meeting_kj((Portion("acid", {"sulfuric_acid": 2.0}, 20.0), Portion("water", {}, 500.0), dry))]
    pool = Pool((Portion("both", {"sodium_sulfite": 0.5, "potassium_permanganate": 0.2}, 500.0),))
    pool.take("sulfite", 0.2)
    pool.turn(0.2, {"sulfite": 1, "MnO4-": 0.4, "Na+": 9.0}, {"sulfate": 1, "Mn 2+": 0.4})
    found["turned"] = [pool.left, pool.ions, pool.buffers, pool.ph, pool.has("sulfite"), pool.has("gold")]
    pool.take("sulfite", 9.0)
    pool.heat_kj = 21.0
    found["warmed"] = [pool.has("sulfite"), pool.rise_k, Pool(()).rise_k, Pool(()).volume_l]
    return found


def speeds() -> dict[str, Any]:
    """How much of each pair reacts, in neutral, weakly and strongly acid solution, with its electrons; what is alike stands together."""
    acids = (-0.5, 2.2, 2.6, 3.1, 3.9, 4.1, 5.9, 6.1, 9.0)
    pools = []
    for ph in acids:
        for moles in (
            {},
            {"nitric_acid": 2.3},
            {"nitric_acid": 1.9},
            {"potassium_nitrate": 2.6, "sulfuric_acid": 1.2},
            {"potassium_nitrate": 2.6, "sulfuric_acid": 0.2},
            {"potassium_nitrate": 1.9, "sulfuric_acid": 1.2},
        ):
            pool = Pool((Portion("pot", moles, 600.0),))
            pool.known_ph = ph
            pools.append(pool)
    found: dict[str, Any] = {}
    for oxidant in oxidants():
        for reductant in (*reductants(), "peroxide"):
            shares = [redox.speed(oxidant, reductant, pool) for pool in pools]
            if not any(shares):
                continue
            key = f"{oxidant} {redox.electrons_of(oxidant, reductant):g} {_in_runs(shares)}"
            found[key] = f"{found[key]} {reductant}" if key in found else reductant
    return found


def _in_runs(shares: list[float]) -> str:
    """Shares with how often each follows itself."""
    runs: list[list[float]] = []
    for share in shares:
        if runs and runs[-1][0] == share:
            runs[-1][1] += 1
        else:
            runs.append([share, 1])
    return " ".join(f"{share:g}x{count:g}" for share, count in runs)


_MEET = (
    ({"sodium_hypochlorite": 0.1}, {"sodium_thiosulfate": 0.05, "sodium_sulfite": 0.3}), ({"potassium_permanganate": 0.05, "sulfuric_acid": 0.2}, {"sodium_thiosulfate": 0.2}),
    ({"iron_iii_chloride": 0.2}, {"sodium_dithionite": 0.3, "sodium_thiosulfate": 0.1}), ({"potassium_dichromate": 0.05, "sulfuric_acid": 0.3}, {"sodium_dithionite": 0.2}),
    ({"hydrogen_peroxide": 0.4}, {"sodium_sulfide": 0.1, "sodium_sulfite": 0.1}), ({"potassium_permanganate": 0.05, "sulfuric_acid": 0.2}, {"hydrogen_peroxide": 0.3}),
    ({"sodium_persulfate": 0.1}, {"potassium_iodide": 0.1, "iron_ii_sulfate": 0.1}), ({"nitric_acid": 5.0}, {"sodium_sulfite": 0.2, "potassium_thiocyanate": 0.1}),
    ({"copper_ii_sulfate": 0.1}, {"sodium_dithionite": 0.1, "potassium_iodide": 0.1}), ({"potassium_ferricyanide": 0.1}, {"sodium_thiosulfate": 0.1, "sodium_sulfide": 0.05}),
    ({"iodine": 0.1}, {"sodium_thiosulfate": 0.3}), ({"sodium_hypochlorite": 0.5}, {"potassium_thiocyanate": 0.05, "potassium_bromide": 0.1, "sodium_cyanide": 0.05}),
    ({"cerium_iv_sulfate": 0.1, "sulfuric_acid": 0.2}, {"hydrogen_peroxide": 0.05}), ({"sodium_nitrite": 0.1, "sulfuric_acid": 0.1}, {"potassium_iodide": 0.2}),
    ({"sodium_hypochlorite": 0.3}, {"sodium_sulfide": 0.05}), ({"hydrogen_peroxide": 0.2}, {"stannous_chloride": 0.1}),
)  # fmt: skip


def oxidised() -> dict[str, Any]:
    """What meets what, and what the liquid is afterwards."""
    from obverse.process.catalog import substances

    found = {}
    for one, other in _MEET:
        if not {*one, *other} <= set(substances()):
            continue
        pool = Pool((Portion("a", one, 500.0), Portion("b", other, 500.0)))
        met = [asdict(each) for each in redox.react(pool)]
        found[" with ".join((" ".join(one), " ".join(other)))] = [
            met, pool.left, {k: n for k, n in pool.ions.items() if n}, {k: n for k, n in pool.buffers.items() if n}, pool.heat_kj, pool.ph,
        ]  # fmt: skip
    return found


def _settings() -> Iterator[tuple[str, Setting]]:
    for place in get_args(Place):
        yield place, setting_for(place, Room(12, 0.5), hours=3.0)
    yield "airless", setting_for("mixing", Room(12, 0.0))
    yield "a hall", setting_for("mixing", Room(500, 6.0))


def leaving() -> dict[str, Any]:
    """What leaves the liquid, what the room then holds, and from what on that is told, injures or kills."""
    found: dict[str, Any] = {}
    for name, setting in _settings():
        found[f"leaves {name}"] = [
            release.leaving_share(gas, moles, litres, setting, hot=hot, temperature_c=warm_c)
            for gas in ("ammonia", "hydrogen_sulfide", "oxygen")
            for moles, litres in ((0.0, 1.0), (0.002, 0.01), (0.1, 1.0), (0.1, 8.0))
            for hot, warm_c in ((False, 20.0), (False, 60.0), (True, 110.0))
        ]
        found[f"room {name}"] = [asdict(setting), setting.released_h, release.room_ppm(0.01, setting)]
    near = release.number("practice.air.burst_near")
    for gas, limits in gases().items():
        found[f"told of {gas}"] = [release.dissolved_capacity_mol_per_l(gas)] + [
            release.gas_severity(gas, ppm, Setting(place, Room(12), 0.05, 10.0, asthma=asthma))
            for place in ("mixing", "room", "shelf")
            for asthma in (False, True)
            for limit in (limits.caution_ppm, 5 * limits.caution_ppm, limits.lethal_ppm, limits.lethal_ppm / near, 5 * limits.lethal_ppm / near, 0.2 * limits.caution_ppm)
            for ppm in (limit, 0.99 * limit, 1.01 * limit)
        ]  # fmt: skip
    return found


def gases_said() -> dict[str, Any]:
    """A gas as the scene tells it: open, closed, alone, hot, besides what dropped in, too little, and what counts of concentrated stuff."""
    two = (Portion("acid", {"sulfuric_acid": 0.2}, 300.0), Portion("salt", {"sodium_sulfite": 0.5}, 200.0))
    found: dict[str, Any] = {}
    for name, setting in _settings():
        for gas, moles in (
            ("hydrogen_sulfide", 0.02),
            ("ammonia", 0.4),
            ("hydrogen", 0.1),
            ("hydrogen", 0.099),
            ("sulfur_dioxide", 2e-9),
            ("chlorine", 0.9e-9),
            ("oxygen", 3.0),
        ):
            for parts in (two, two[:1]):
                scene = Scene(parts, setting)
                scene.gas("test", gas, moles, "why", "do", all_of_it=gas == "oxygen", besides_mol=moles / 50)
                scene.gas("test", gas, moles, "why", "do")
                found[f"{name} {gas} {moles:g} of {len(parts)}"] = [
                    [[one.severity, one.what, one.amount, one.ppm] for one in scene.found], scene.gas_mol
                ]  # fmt: skip
    scene = Scene((*two, two[0], Portion("lye", {"sodium_hydroxide": 2.0}, 20.0)), setting_for("mixing"))
    scene.pool.heat_kj = 200.0
    found["names, heat, shares"] = [
        scene.names, scene.hot, [concentrated(scene, "hydroxide", share) for share in (0.1, 0.79, 0.81)], concentrated(scene, "gold", 0.0)
    ]  # fmt: skip
    scene.say("quiet", 1, "trifle", "", "")
    scene.say("loud", 2, "word", "much", "run", ppm=3.0)
    found["said"] = [asdict(one) for one in scene.found]
    return found


def assessed() -> dict[str, Any]:
    """The engine on whole meetings: drains with their trap, shelves, open vessels in reach, parts of which nobody knows."""
    ammonia, bleach = (
        liquid("ammonia", {"ammonia": 240.0}, 500.0),
        liquid("laundry bleach", {"sodium_hypochlorite": 55.0}, 500.0),
    )
    acid, salts = liquid("acid", {"hydrochloric_acid": 360.0}, 500.0), powder("sulfite", {"sodium_sulfite": 200.0})
    vinegar, unknown = (
        liquid("vinegar", {"acetic_acid": 100.0}, 500.0),
        liquid("mystery", {}, 5.0, unknown=("mystery", "mystery")),
    )
    tin, silver = (
        powder("tin", {"sodium_dithionite": 300.0}),
        liquid("ammine", {"silver_ammine_chloride": 20.0, "ammonia": 40.0}, 300.0),
    )
    metabisulfite, carbide = (
        powder("metabisulfite", {"sodium_metabisulfite": 500.0}),
        powder("carbide", {"calcium_carbide": 60.0}),
    )
    met: dict[str, tuple[Portion, ...]] = {
        "ammonia and bleach": (ammonia, bleach), "acid and bleach": (acid, bleach), "acid and sulfite": (acid, salts), "vinegar and sulfite": (vinegar, salts),
        "acid": (acid,), "vinegar": (vinegar,), "bleach and mystery": (bleach, unknown), "vinegar and mystery": (vinegar, unknown), "mystery": (unknown,), "tin": (tin,),
        "ammine": (silver,), "acid and ammonia": (acid, ammonia), "metabisulfite": (metabisulfite,), "acid and metabisulfite": (acid, metabisulfite), "carbide": (carbide,),
        "nothing": (Portion("nothing"),), "sulfite and mystery": (salts, unknown), "three": (acid, bleach, ammonia),
    }  # fmt: skip
    found: dict[str, Any] = {}
    for name, parts in met.items():
        for place in get_args(Place):
            told = assess(parts, setting_for(place, Room(12, 0.5), hours=30.0))
            if told:
                found[f"{name}, {place}"] = [
                    [one.mechanism, one.severity, one.gas, one.ppm, list(one.parts), one.what, one.do] for one in told
                ]
    effects = [
        Effect("a", 2, "", "", "", ppm=None),
        Effect("b", 3, "", "", "", ppm=1.0),
        Effect("a", 2, "", "", "", ppm=5.0),
        Effect("a", 2, "", "", "", gas="chlorine", ppm=2.0),
    ]
    found["worst first"] = [[one.mechanism, one.gas, one.ppm] for one in worst_first(effects)]
    found["worst"] = [severity_of(effects), severity_of([])]
    return found
