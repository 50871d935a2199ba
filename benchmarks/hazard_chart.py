"""The public compatibility chart by reactivity group beside the engine, for every pair of groups met here.

    python -m benchmarks.hazard_chart            (writes docs/hazards.md)

Each group is stood for by one or a few things of this trade at shop strength; two powders meet in 100 mL of water.
What one of the two does by itself, or with that water, is taken out: the chart is about meeting.
"""

from __future__ import annotations

import itertools
import json
from dataclasses import dataclass
from pathlib import Path

from obverse.process.catalog import substances
from obverse.safety.body import Pool, Portion, heat_of_meeting_kj, liquid, powder
from obverse.safety.engine import assess, severity_of
from obverse.safety.properties import holds
from obverse.safety.setting import Effect, setting_for

CHART = json.loads(Path(__file__).with_name("hazard_chart.json").read_text(encoding="utf-8"))
PAGE = Path(__file__).parents[1] / "docs" / "hazards.md"
WATER = Portion("water", {}, 100.0)

REPRESENTATIVES: dict[int, tuple[Portion, ...]] = {
    1: (liquid("hydrochloric acid 31 %", {"hydrochloric_acid": 358}, 200), liquid("sulfuric acid 37 %", {"sulfuric_acid": 474}, 200)),
    2: (liquid("nitric acid 65 %", {"nitric_acid": 905}, 200), liquid("sulfuric acid 96 %", {"sulfuric_acid": 1766}, 200)),
    3: (liquid("acetic acid 80 %", {"acetic_acid": 856}, 200),),
    4: (liquid("ethanol 96 %", {"ethanol": 770}, 100), liquid("glycerol", {"glycerol": 1255}, 100)),
    5: (liquid("formalin 37 %", {"formaldehyde": 400}, 100),),
    6: (powder("urea", {"urea": 50}),),
    7: (liquid("triethanolamine", {"triethanolamine": 1120}, 50),),
    8: (liquid("hydrazine", {"hydrazine": 640}, 50),),
    10: (liquid("lye 30 %", {"sodium_hydroxide": 398}, 200), liquid("ammonia 25 %", {"ammonia": 227}, 200)),
    11: (powder("potassium cyanide", {"potassium_cyanide": 20}),),
    13: (liquid("ethyl acetate", {"ethyl_acetate": 900}, 100),),
    14: (liquid("ether", {"diethyl_ether": 710}, 100),),
    15: (powder("ammonium bifluoride", {"ammonium_bifluoride": 50}),),
    19: (liquid("acetone", {"acetone": 790}, 100),),
    20: (powder("thiourea", {"thiourea": 30}),),
    21: (powder("sodium", {"sodium": 10}), powder("magnesium", {"magnesium": 20})),
    22: (powder("zinc powder", {"zinc": 30}), powder("aluminium powder", {"aluminium": 20})),
    23: (powder("iron", {"iron": 50}), powder("copper", {"copper": 50})),
    24: (powder("copper sulfate", {"copper_ii_sulfate_pentahydrate": 50}), powder("silver nitrate", {"silver_nitrate": 20})),
    28: (liquid("turpentine", {"turpentine": 860}, 100),),
    29: (liquid("petrol", {"petrol": 700}, 100),),
    30: (liquid("peracetic acid 15 %", {"peracetic_acid": 160, "acetic_acid": 200, "hydrogen_peroxide": 150}, 100),),
    31: (powder("hydroquinone", {"hydroquinone": 50}),),
    33: (powder("sodium sulfide", {"sodium_sulfide": 50}),),
    101: (powder("sawdust", {"cellulose": 50}), powder("charcoal", {"charcoal": 30})),
    102: (powder("sodium azide", {"sodium_azide": 10}),),
    104: (
        powder("permanganate", {"potassium_permanganate": 50}),
        powder("calcium hypochlorite", {"calcium_hypochlorite": 50}),
        liquid("peroxide 35 %", {"hydrogen_peroxide": 396}, 100),
        powder("chlorate", {"potassium_chlorate": 30}),
    ),
    105: (powder("dithionite", {"sodium_dithionite": 50}), powder("borohydride", {"sodium_borohydride": 20})),
    106: (Portion("water", {}, 500),),
    107: (powder("calcium carbide", {"calcium_carbide": 50}),),
}  # fmt: skip
# Cells where a rule is missing rather than an amount small: said plainly.
GAPS = {
    8: "no rule for hydrazine falling apart or condensing; it has no place in this process",
    102: "sodium azide stands for all explosives and is a mild one; only its acid, copper and silver are ruled",
}
CELLS: dict[tuple[int, int], str] = {}
for _cell in CHART["cells"].split():
    _pair, _, _codes = _cell.partition(":")
    _a, _b = (int(part) for part in _pair.split("-"))
    CELLS[_a, _b] = _codes


@dataclass(frozen=True)
class Row:
    """Two groups: what the chart says, what the engine finds, and why they differ."""

    a: int
    b: int
    chart: str
    found: tuple[Effect, ...]
    stand_in: str
    rise_k: float
    why: str

    @property
    def verdict(self) -> str:
        """Where the two agree."""
        if self.chart and self.found:
            return "both"
        return "chart only" if self.chart else "engine only" if self.found else "neither"


def rows() -> list[Row]:
    """Every pair of groups."""
    setting = setting_for("mixing")
    alone: dict[str, dict[str, int]] = {}
    for portion in itertools.chain.from_iterable(REPRESENTATIVES.values()):
        own = [*assess([portion], setting), *assess([portion, WATER], setting)]
        alone[portion.name] = {effect.mechanism: effect.severity for effect in reversed(own)}
    made = []
    for a, b in itertools.combinations(sorted(REPRESENTATIVES), 2):
        best: tuple[Effect, ...] = ()
        either: tuple[Effect, ...] = ()
        stand_in, rise = "", 0.0
        for one, other in itertools.product(REPRESENTATIVES[a], REPRESENTATIVES[b]):
            portions = [one, other, *([WATER] if one.solid and other.solid else [])]
            pool = Pool(tuple(portions))
            pool.heat_kj = heat_of_meeting_kj(tuple(portions))
            rise = max(rise, pool.rise_k)
            for order in (portions, portions[::-1]):
                whole = assess(order, setting)
                by_itself = {} if {106, 107} & {a, b} else _louder(alone[one.name], alone[other.name])
                effects = tuple(e for e in whole if e.severity > by_itself.get(e.mechanism, 0))
                if (severity_of(effects), len(effects)) > (severity_of(best), len(best)):
                    best, stand_in = effects, f"{one.name} with {other.name}"
                if severity_of(whole) > severity_of(either):
                    either = whole
        codes = CELLS.get((a, b), "") or ("with everything" if b == 107 else "")
        if codes and not best and either:
            made.append(Row(a, b, codes, either, "either", rise, "told of one of the two by itself, whatever it meets"))
            continue
        made.append(Row(a, b, codes, best, stand_in, rise, why(a, b, codes, best, rise)))
    return made


def _louder(one: dict[str, int], other: dict[str, int]) -> dict[str, int]:
    return {name: max(one.get(name, 0), other.get(name, 0)) for name in {*one, *other}}


# Words by which an effect says that something explodes, and gases that burn or smother but are no poison.
EXPLODES, NO_POISON = ("explo", "burst", "deton"), ("hydrogen", "carbon_dioxide", "oxygen", "acetylene")


def told_otherwise(codes: str, found: tuple[Effect, ...]) -> list[str]:
    """Explosion and toxic gas of the chart where the engine tells of something else."""
    said = {
        "E": any(word in effect.what for effect in found for word in EXPLODES),
        "GT": any(effect.gas and effect.gas not in NO_POISON for effect in found),
    }
    return [code for code, is_said in said.items() if code in codes.split(",") and not is_said]


# Why another thing is told than the chart's explosion or toxic gas, by the group that decides it.
OTHERWISE: dict[str, dict[int, str]] = {
    "E": {
        102: "sodium azide stands for all explosives: its gas or the heat is what is told; explosives as such have no rule but by their names",
        30: "peracetic acid of 15 % stands for organic peroxides: it heats, foams and burns; the pure ones that explode have no rule",
        104: "told as fire and heat: so it burns in the open; what is rammed or shut in explodes",
        33: "hydrazine on sulfide: heat only is reckoned; no rule for an explosion",
    },
    "GT": {
        15: "told as the burn of the skin that kills; the vapour beside it is not reckoned apart",
        30: "told as fire; its smoke is not reckoned apart",
        6: "told as fire; its brown smoke is not reckoned apart",
    },
}


def why(a: int, b: int, codes: str, found: tuple[Effect, ...], rise_k: float) -> str:
    """Why chart and engine differ; empty where they agree."""
    if codes and found:
        return "; ".join(
            OTHERWISE[code][group]
            for code in told_otherwise(codes, found)
            for group in OTHERWISE[code]
            if group in (a, b)
        )
    if not codes and not found:
        return ""
    if not codes:
        return f"the chart has no entry; the engine reckons {found[0].what.split(':')[0]} in these amounts"
    if codes == "S":
        return "toxic metal goes into solution: the engine reckons burns, fire and breath, not what a waste then holds; it goes to the collection either way"
    for group, words in GAPS.items():
        if group in (a, b):
            return words
    if set(codes.split(",")) <= {"H", "P"}:
        return f"heat only: reckoned as {rise_k:.0f} K at shop strength, below 30 K"
    return {
        (20, 22): "thiourea and metal powder react only with acid or great heat; no rule",
        (22, 28): "oil on metal powder heats itself in rags over days; no rule",
        (22, 106): "zinc and aluminium powder in cold plain water: slow, no rule without acid or lye",
        (33, 106): "sulfide in plain water stays alkaline (pH near 13) and keeps its gas; acid of any kind is found",
        (31, 102): GAPS[102],
        (101, 102): GAPS[102],
    }.get((a, b), "no rule")


# Groups of what a substance holds, and of substances that hold nothing which tells it.
GROUPS_OF_ENTITY: dict[str, tuple[int, ...]] = {
    "alcohol": (4,), "polyol": (4,), "aldehyde": (5,), "hydrazine": (8,), "hydroxide": (10,), "carbonate": (10,), "cyanide": (11,),
    "fluoride": (15,), "ketone": (19,), "thiourea": (20,), "silver": (24,), "copper_ii": (24,), "mercury": (24,), "lead": (24,),
    "selenite": (24,), "dichromate": (24, 104), "developer": (31,), "sulfide": (33,), "cellulose": (101,), "sugar": (101,),
    "powder_fuel": (101,), "solvent": (101,), "fuel_gas": (101,), "azide": (102,), "explosive": (102,), "nitrocellulose": (101, 102),
    "hypochlorite": (104,), "permanganate": (104,), "peroxide": (104,), "persulfate": (104,), "chlorate": (104,), "perchlorate": (104,),
    "iodate": (104,), "nitrate": (104,), "nitrite": (104,), "halogen": (104,), "manganese_dioxide": (104,), "cerium_iv": (104,),
    "iron_iii": (104,), "ferricyanide": (104,), "dithionite": (105,), "thiourea_dioxide": (20, 105), "stannous": (105,), "hydride": (105, 107),
    "hypophosphite": (105,), "sulfite": (105,), "carbide": (107,), "phosphide": (107,), "organic_acid": (3,),
}  # fmt: skip
GROUPS_OF_SUBSTANCE: dict[str, tuple[int, ...]] = {
    "water": (106,), "sulfuric_acid": (2, 107), "nitric_acid": (2, 104), "perchloric_acid": (2, 104), "chromium_trioxide": (2, 24, 104),
    "ammonia": (10,), "urea": (6,), "triethanolamine": (4, 7), "hydroxylamine_sulfate": (1, 105), "ethyl_acetate": (13,), "diethyl_ether": (14,),
    "turpentine": (28,), "vegetable_oil": (13, 101), "petrol": (29,), "white_spirit": (29,), "butane": (29,), "sodium": (21, 107), "magnesium": (21,),
    "zinc": (22, 23), "aluminium": (22, 23), "iron": (23,), "copper": (23,), "lead": (23, 24), "mercury": (24,), "peracetic_acid": (3, 30, 104),
    "calcium_oxide": (10, 107), "trisodium_phosphate": (10,), "sodium_metaborate": (10,), "chromium_iii_sulfate": (24,), "chrome_alum": (24,),
    "ascorbic_acid": (3, 31), "silver_oxide": (24, 104), "silver_sulfide": (24, 33), "gold_chloride": (1, 24, 104),
    # The chart's own group of aromatics has no pair here; they burn as the others do.
    "toluene": (29,), "carbon_disulfide": (20, 101), "white_phosphorus": (101, 105), "ozone": (104,), "polyvinyl_chloride": (101,), "barium_chloride": (24,), "nicotine": (7,),
    "polystyrene": (101,), "polyurethane": (101,), "setting_resin": (101,), "cyanoacrylate": (101,), "isocyanate": (101,),
}  # fmt: skip


def groups_of(key: str) -> tuple[int, ...]:
    """The groups of the chart that a substance belongs to; empty for salts and others that it does not sort."""
    if key in GROUPS_OF_SUBSTANCE:
        return GROUPS_OF_SUBSTANCE[key]
    found = {group for entity in holds().get(key, {}) for group in GROUPS_OF_ENTITY.get(entity, ())}
    if "acid_strong" in substances()[key].classes:
        found.add(1)
    if "fluoride" in substances()[key].classes:
        found.add(15)
    return tuple(sorted(found))


def grouped() -> list[str]:
    """Lines of the page: each group with the substances that the house can name, and those that the chart does not sort."""
    names = {int(number): words for number, words in CHART["groups"].items()} | {0: "in no group of the chart"}
    inside: dict[int, list[str]] = {}
    for key, substance in substances().items():
        for group in groups_of(key) or (0,):
            inside.setdefault(group, []).append(substance.name)
    order = sorted(inside, key=lambda group: (group == 0, group))
    return [f"| {names[group]} | {'; '.join(sorted(inside[group]))} |" for group in order]


# Sets by hands that did not know the rules, as they were first run; afterwards each was used to mend. Written by hand.
JUDGED = [
    "",
    "## Judged by situations that the engine had not seen",
    "",
    "Each set was run once before anything was mended by it. Lethal ones silent and only cautioned, dangerous ones found, ordinary ones refused and cautioned.",
    "",
    "| set | lethal | silent | only cautioned | found % | false refusals | needless % |",
    "|---|---|---|---|---|---|---|",
    "| six, 140 situations | 19 | 1 | 3 | 90 | 4 | 5.7 |",
    "| eight, 160 situations | 22 | 2 | 4 | 81 | 2 | 3.8 |",
    "| nine, 160 situations | 20 | 1 | 2 | 85.0 | 1 | 3.8 |",
    "| nine again, on the engine mended by eight and not by it | 20 | 0 | 2 | 90.0 | 1 | 2.5 |",
    "| ten, 140 situations | 19 | 0 | 4 | 91.4 | 0 | 4.3 |",
    "| eleven, 140 situations | 18 | 1 | 3 | 80.0 | 2 | 2.9 |",
    "| twelve, 140 situations | 18 | 1 | 1 | 87.1 | 0 | 5.7 |",
    "| thirteen, 140 situations | 18 | 1 | 2 | 88.6 | 0 | 1.4 |",
    "| thirteen again, on the engine mended by eleven and twelve and not by it | 18 | 1 | 2 | 90.0 | 0 | 1.4 |",
    "| fourteen, 140 situations, kept: nothing was mended by it, on the engine before eleven | 18 | 1 | 2 | 81.4 | 0 | 5.7 |",
    "| fourteen again, on the engine mended by eleven, twelve and thirteen | 18 | 0 | 3 | 88.6 | 0 | 5.7 |",
    "| fifteen, 140 situations in fields and numbers | 19 | 0 | 1 | 95.7 | 0 | 0.0 |",
    "| sixteen, 140 situations in fields and numbers | 20 | 0 | 1 | 97.1 | 0 | 1.4 |",
    "| seventeen, 140 situations told in fields and numbers | 19 | 0 | 1 | 94.3 | 0 | 1.4 |",
    "| nineteen, 140 situations in plain words | 20 | 0 | 1 | 92.9 | 1 | 4.3 |",
    "| eighteen, 140 situations in fields and numbers | 20 | 0 | 1 | 94.3 | 0 | 0.0 |",
    "| eighteen again, on the engine mended by fifteen to seventeen and nineteen and not by it | 20 | 0 | 1 | 97.1 | 0 | 0.0 |",
    "| twenty, 140 situations in plain words | 20 | 0 | 1 | 95.7 | 0 | 2.9 |",
    "| twenty again, on the engine mended by fifteen to seventeen and nineteen and not by it | 20 | 0 | 0 | 97.1 | 0 | 5.7 |",
    "| names typed into `check` and `mix`, 332, mostly without amounts | 51 | 0 | 3 | 92.4 | 5 | 16.0 |",
    "| names again by another hand, 332 | 53 | 1 | 2 | 90.5 | 4 | 12.6 |",
    "| the same, on the engine mended by other sets and not by it | 53 | 0 | 0 | 93.6 | 3 | 2.9 |",
    "| names by a third hand, 332, on the engine before the second was learned | 49 | 0 | 0 | 93.0 | 0 | 0.0 |",
    "| the same, on the engine mended by the second and not by it | 49 | 0 | 0 | 93.7 | 0 | 0.0 |",
    "| names by a fourth hand, 332, on the engine before the third was learned | 52 | 0 | 1 | 94.8 | 2 | 1.7 |",
    "| the same, on the engine mended by the third and not by it | 52 | 0 | 1 | 96.1 | 2 | 1.7 |",
    "| twenty-one, 140 situations in plain words | 21 | 1 | 1 | 95.7 | 0 | 4.3 |",
    "| twenty-two, 140 situations in fields and numbers | 18 | 0 | 1 | 95.7 | 0 | 2.9 |",
    "| twenty-three, 140 situations in fields and numbers | 19 | 0 | 1 | 98.6 | 0 | 1.4 |",
    "| twenty-three again, on the engine mended by twenty-one and twenty-two and not by it | 19 | 0 | 1 | 98.6 | 0 | 0.0 |",
    "| twenty-four, 140 situations in plain words | 19 | 1 | 1 | 91.4 | 0 | 1.4 |",
    "| twenty-four again, on the engine mended by twenty-one and twenty-two and not by it | 19 | 1 | 1 | 91.4 | 0 | 1.4 |",
    "| twenty-five, 140 situations in fields and numbers | 19 | 0 | 0 | 98.6 | 0 | 5.7 |",
    "| twenty-five again, on the engine mended by other sets and not by it | 19 | 0 | 0 | 98.6 | 0 | 4.3 |",
    "| twenty-six, 140 situations in plain words | 20 | 1 | 1 | 92.9 | 0 | 1.4 |",
    "| twenty-six again, on the engine mended by other sets and not by it | 20 | 0 | 1 | 94.3 | 0 | 1.4 |",
    "| names by a fifth hand, 332 | 51 | 0 | 1 | 94.5 | 0 | 4.2 |",
    "| the same, on the engine mended by other sets and not by it | 51 | 0 | 1 | 95.1 | 0 | 2.4 |",
    "| twenty-seven, 140 situations in fields and numbers | 18 | 0 | 0 | 97.1 | 0 | 0.0 |",
    "| twenty-eight, 140 situations in plain words | 19 | 0 | 0 | 95.7 | 1 | 1.4 |",
    "| names by a sixth hand, 332 | 50 | 0 | 1 | 94.9 | 1 | 2.9 |",
    "| names by a seventh hand, 332, on the engine before the sixth was learned | 52 | 0 | 1 | 96.1 | 0 | 0.6 |",
    "| twenty-nine, 140 situations in fields and numbers | 20 | 0 | 0 | 100.0 | 0 | 0.0 |",
    "| thirty, 140 situations in plain words | 19 | 0 | 0 | 92.9 | 0 | 1.4 |",
    "| names by an eighth hand, 332 | 52 | 0 | 0 | 98.1 | 0 | 1.2 |",
]


def page(found: list[Row]) -> str:
    """docs/hazards.md."""
    counts = {
        verdict: sum(row.verdict == verdict for row in found)
        for verdict in ("both", "chart only", "engine only", "neither")
    }
    head = [
        "# Hazards: a public chart beside the engine",
        "",
        "Written by `python -m benchmarks.hazard_chart`. Nothing here, and no empty cell, says that two things may meet.",
        "",
        f"The chart: {CHART['source']}. {CHART['note']}",
        "Codes: " + ", ".join(f"{code} {words}" for code, words in CHART["codes"].items()) + ".",
        "",
        "The engine mixes one or a few things of each group at shop strength (50 to 200 mL, 10 to 50 g) in a closed bathroom of 6 m3; "
        "what one of them does by itself is taken out. Groups of the chart that nothing here belongs to (carbamates, isocyanates, nitro "
        "compounds and others) are left out.",
        "",
        f"Of {len(found)} pairs: {counts['both']} found by both, {counts['chart only']} by the chart only, {counts['engine only']} by the "
        f"engine only, {counts['neither']} by neither.",
        "",
        "| groups | chart | engine | worst pair | why they differ |",
        "|---|---|---|---|---|",
    ]
    names = {int(number): words for number, words in CHART["groups"].items()}
    body = [
        f"| {names[row.a]}, {names[row.b]} | {row.chart or '-'} | {_effects(row.found)} | {row.stand_in or '-'} | {row.why or '-'} |"
        for row in found
        if row.verdict != "neither"
    ]
    groups = ["", "## The groups of what the house can name", "", "| group | substances |", "|---|---|", *grouped()]
    return "\n".join(head + body + groups + JUDGED) + "\n"


def _effects(found: tuple[Effect, ...]) -> str:
    words = dict.fromkeys(
        f"{effect.severity} {effect.gas.replace('_', ' ') or effect.mechanism.replace('_', ' ')}" for effect in found
    )
    return "; ".join(list(words)[:3]) or "-"


def main() -> None:
    """Write the page."""
    PAGE.write_text(page(rows()), encoding="utf-8")
    print(PAGE.read_text(encoding="utf-8").split("\n\n")[4])


if __name__ == "__main__":
    main()
