"""An invented person's way, as issue texts give it: entered by document, by command and by keyboard in the tests."""

from __future__ import annotations

from typing import Any

RINSE = "5, 10, 20"
WAY: dict[str, Any] = {
    "name": "My fogging way",
    "tank_ml": 600,
    "steps": [
        {
            "does": "develop",
            "name": "First developer",
            "bath": "40 mL general-purpose developer syrup + 1.5 mL rapid fixer concentrate + 5 mL household ammonia, water to 600 mL",
            "time": "11 min",
            "temperature": "20 C",
            "agitation": "15 s in every minute",
            "rinse": "three fills, 5 turns, each with twice the turns of the one before",
            "after": "waste jug F",
            "light": "dark",
        },
        {
            "does": "bleach",
            "name": "Bleach A",
            "bath": "equal parts etchant and distilled water",
            "time": "6 min",
            "agitation": "10 turns a minute",
            "rinse": RINSE,
            "after": "back to its jug, jug C",
            "light": "dark",
        },
        {
            "does": "bleach",
            "name": "Bleach B",
            "bath": "three parts household ammonia and one part water",
            "time": "4 min",
            "agitation": "10 turns a minute",
            "rinse": RINSE,
            "after": "destroy, jug E",
            "light": "dark",
        },
        {
            "does": "clear",
            "name": "Clearing",
            "bath": "two level teaspoons sodium metabisulfite in 500 mL",
            "time": "3 min",
            "agitation": "all the time",
            "rinse": "none",
            "after": "back to its jug",
            "light": "light",
        },
        {
            "does": "fog",
            "name": "Fogging developer",
            "bath": "a level tablespoon rust remover powder in 350 mL distilled water",
            "time": "6 min",
            "agitation": "4 turns every minute",
            "rinse": RINSE,
            "made": "while Bleach B works",
            "after": "destroy, jug G",
            "light": "light",
        },
        {
            "does": "fix",
            "name": "Fixer with hardener",
            "bath": "rapid fixer with hardener 1+4",
            "time": "3 min",
            "rinse": RINSE,
            "after": "back to its jug, jug A",
            "light": "light",
        },
        {"does": "wet", "name": "Wetting agent", "bath": "3 mL wetting agent in 600 mL", "time": "1 min", "light": "light"},
        {"does": "dry", "name": "Hang up", "light": "light"},
    ],
}  # fmt: skip


def variant(name: str, replaced: dict[str, list[dict[str, str]]]) -> dict[str, Any]:
    """The way with other steps in place of those of these names."""
    steps: list[dict[str, str]] = []
    for step in WAY["steps"]:
        steps += replaced.get(step["name"], [step])
    return WAY | {"name": name, "steps": steps}


VARIANTS = {
    "light": variant(
        "My way by light",
        {
            "Fogging developer": [
                {
                    "does": "expose",
                    "name": "Lamp",
                    "time": "3 min",
                    "light": "light",
                    "note": "Film off the reel, a 100 W lamp at 40 cm, 90 s a side.",
                },
                {
                    "does": "develop again",
                    "name": "Paper developer",
                    "bath": "paper developer 1+3",
                    "time": "4 min",
                    "agitation": "4 turns every minute",
                    "rinse": RINSE,
                    "after": "waste jug F",
                    "light": "light",
                },
            ]
        },
    ),
    "peroxide": variant(
        "My way by peroxide",
        {
            "Bleach A": [
                {
                    "does": "bleach",
                    "name": "Peroxide and vinegar",
                    "bath": "300 mL hydrogen peroxide 6 % + 300 mL vinegar 5 %",
                    "time": "8-12 min until clear",
                    "temperature": "35 C",
                    "agitation": "10 turns a minute",
                    "rinse": RINSE,
                    "after": "destroy, jug A",
                    "light": "dark",
                }
            ],
            "Bleach B": [],
            "Fogging developer": [{**WAY["steps"][4], "made": "just before"}],
        },
    ),
    "plain": variant(
        "My way without solvent",
        {
            "First developer": [
                {
                    **WAY["steps"][0],
                    "bath": "40 mL general-purpose developer syrup, water to 600 mL",
                    "time": "9 min",
                }
            ]
        },
    ),
}
