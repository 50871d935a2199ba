"""Ways as other people do it, told by another hand in plain words and entered here step by step as they said it."""

from __future__ import annotations

from typing import Any

DARK, LIGHT = {"light": "dark"}, {"light": "light"}


def step(does: str, name: str, bath: str = "", time: str = "", **more: str) -> dict[str, str]:
    """A step in words; what is not said is left out."""
    said = {"does": does, "name": name, "bath": bath, "time": time, **more}
    return {key: value for key, value in said.items() if value}


OTHER_WAYS: tuple[dict[str, Any], ...] = (
    {
        "name": "One roll in steel, kitchen lamp",
        "tank_ml": 300,
        "steps": [
            step("develop", "First development", "60 mL print developer + a level teaspoon hypo crystals (5 g) + 1/4 teaspoon lye beads, water to 300 mL", "10.5 min", temperature="20-23", agitation="1 turn every 30 s", rinse="5, 5, 5, 5, 5", after="drain", **DARK),
            step("bleach", "Bleach", "30 mL etching liquid 40 percent + 270 mL water", "5 min until yellow white, at most 8 min", rinse="5, 5, 5", after="back to its jug", **DARK),
            step("rinse", "Citric rinse", "a pinch of citric acid in 300 mL", "1 min", rinse="5, 5", **LIGHT),
            step("dissolve", "Ammonia", "household ammonia and water, 1+2", "3 min", rinse="5 changes", after="destroy", **LIGHT),
            step("expose", "Kitchen halogen spot", "", "2 min", note="50 W, a hand's width away in water, one minute each side.", **LIGHT),
            step("develop again", "Second development", "print developer 1+4", "4 min until it gets no blacker", rinse="5, 10", **LIGHT),
            step("fix", "Fixing", "fixer_rapid", "3 min", after="back to its jug", **LIGHT),
            step("wash", "Wash", "", "10 min", rinse="running water 10 min", **LIGHT),
            step("wet", "Last water", "1 drop washing-up liquid in 300 mL", "1 min", **LIGHT),
            step("dry", "Over the bath", **LIGHT),
        ],
    },
    {
        "name": "Ounces and Fahrenheit",
        "tank_ml": 950,
        "steps": [
            step("develop", "First developer", "6 fl oz paper developer concentrate + 1/8 oz sodium thiocyanate, water to 32 fl oz", "12 min", temperature="68 F", agitation="5 s every 30 s", rinse="running water 3 min", after="drain", **DARK),
            step("bleach", "Bleach", "equal parts of part A (permanganate) and part B (sulphuric acid)", "4-6 min", temperature="68-70 F", agitation="all the time", made="just before", rinse="running water 1 min", after="destroy", **DARK),
            step("clear", "Clear", "1 oz sodium bisulfite in 32 fl oz", "2 min until clean cream colored, at most 5 min", rinse="running water 2 min", **LIGHT),
            step("expose", "Flash", "", "2 min", note="a photo lamp of 250 W, 3 ft, off the reel, a minute a side.", **LIGHT),
            step("develop again", "Second developer", "paper developer 1+4", "3 min", temperature="68 F", **LIGHT),
            step("fix", "Hardening fixer", "rapid fixer with hardener 1+4", "5 min", after="back to its jug", **LIGHT),
            step("wash", "Wash", "", "20 min", rinse="running water 20 min", **LIGHT),
            step("wet", "Wetting", "wetting_bath", "30 s", **LIGHT),
            step("dry", "Shower stall", **LIGHT),
        ],
    },
    {
        "name": "16 mm on the big spiral",
        "tank_ml": 1600,
        "steps": [
            step("presoak", "Presoak", "", "2 min", **DARK),
            step("develop", "First developer", "high contrast developer undiluted + 2.5 g/L potassium thiocyanate", "5 min", temperature="24 C", agitation="all the time", rinse="running water 5 min", **DARK),
            step("bleach", "Dichromate bleach", "bleach_dichromate", "3-4 min", after="back to its jug, jug D", rinse="running water 5 min", **DARK),
            step("clear", "Sulfite", "90 g sodium sulfite in 1 L", "2 min", after="back to its jug", rinse="running water 1 min", **LIGHT),
            step("expose", "LED work lamp", "", "4 min", note="20 W, 30 cm, spiral in a white bucket with water, a quarter every 15 s, then flipped.", **LIGHT),
            step("develop again", "Second developer", "high contrast developer undiluted", "3 min", temperature="24 C", **LIGHT),
            step("fix", "Fix if need be", "rapid fixer 1:7", "2 min", **LIGHT),
            step("wash", "Wash", "", "10 min", rinse="running water 10 min", **LIGHT),
            step("dry", "Drying drum", **LIGHT),
        ],
    },
    {
        "name": "Everything from the supermarket",
        "tank_ml": 500,
        "steps": [
            step("develop", "D1", "500 mL film developer stock + 4 mL rapid fixer concentrate", "13:30", temperature="24 C", agitation="4 turns every minute", rinse="3 fills", after="back to its bottle", **DARK),
            step("bleach", "Warm peroxide", "400 mL hydrogen peroxide 3 % + 100 mL water + 25 g citric acid", "8-15 min until white", temperature="35-38 C", agitation="1 turn a minute", rinse="3 fills", after="destroy", **DARK),
            step("fog", "Colour-run remover", "1 teaspoon colour-run remover in 500 mL", "2 min", temperature="30 C", agitation="all the time", made="just before", rinse="5, 5, 5, 5, 5", after="destroy", **LIGHT),
            step("wet", "Last water", "a drop of wetting agent in 500 mL", "1 min", **LIGHT),
            step("dry", "Over the tub", **LIGHT),
        ],
    },
    {
        "name": "Six sheets in trays",
        "tank_ml": 1000,
        "steps": [
            step("wet", "Wetting", "", "1 min", **DARK),
            step("develop", "First developer", "paper developer 1+9 with 3 g hypo crystals in 1 L", "8 min", temperature="20 C", agitation="30 s every 30 s", after="drain", **DARK),
            step("stop", "Vinegar water", "vinegar and water 1:1", "30 s", rinse="5, 5, 5", **DARK),
            step("bleach", "Bleach", "2 g potassium permanganate + 25 g pool pH-minus, water to 1 L", "5 min", made="just before", rinse="5", after="destroy", **DARK),
            step("clear", "Clearing", "20 g metabisulfite in 1 L", "1-2 min until the brown is away", rinse="5, 5, 5", **LIGHT),
            step("expose", "Bulb", "", "1 min", note="100 W at 1 m, 30 s front and 30 s back, on a glass plate.", **LIGHT),
            step("develop again", "Second developer", "paper developer 1+9", "5 min", after="back to its bottle", **LIGHT),
            step("fix", "Fixer", "fixer 1+9", "2 min", **LIGHT),
            step("wash", "Wash", "", "15 min", rinse="running water 15 min", **LIGHT),
            step("dry", "By a corner", **LIGHT),
        ],
    },
    {
        "name": "Two 120 back to back",
        "tank_ml": 1000,
        "steps": [
            step("develop", "FD", "125 mL universal developer + 6 mL rapid fixer conc. + 4 mL of 10N lye, water to 1 L", "7 min", temperature="30 C", agitation="first 30 s, then 2 turns every 30 s", rinse="4 fills", after="drain", **DARK),
            step("bleach", "Bleach", "50 g iron chloride in 1 L", "3 min", temperature="30 C", rinse="6 fills", after="back to its jug", **DARK),
            step("dissolve", "Ammonia", "household ammonia undiluted", "2 min", rinse="4 fills", after="destroy", **DARK),
            step("fog", "The closer", "10 g thiourea dioxide + 25 g washing soda in 1 L", "5 min", temperature="40 C", agitation="all the time", rinse="10 fills", after="drain", **LIGHT),
            step("wet", "Distilled", "", "1 min", **LIGHT),
            step("dry", "Hang", **LIGHT),
        ],
    },
)  # fmt: skip
