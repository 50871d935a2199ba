"""Six ways as other people told them: their own words, copied into the fields of a step by step."""

from __future__ import annotations

from typing import Any

OTHER_WAYS: tuple[dict[str, Any], ...] = (
    {
        "name": "Kitchen way",
        "tank_ml": 300,
        "steps": [
            {"does": "develop", "bath": "60 ml hydroquinone print developer + 240 ml water + a level teaspoon (5 g and a bit) plain hypo crystals + a quarter teaspoon lye beads", "time": "10 1/2 min", "temperature": "20 in winter, 23 in August", "agitation": "turned over once every half minute", "after": "poured down the sink with the tap running", "rinse": "five times", "note": "nine in August"},
            {"does": "bleach", "bath": "two soup spoons (30 ml) etching liquid 40 % in 270 ml of water", "time": "about 5 min, until yellow white with no black", "after": "back in the brown jug; about eight films, then slow", "rinse": "till the water has no yellow", "light": "kitchen lamp on once the lid is lifted"},
            {"does": "rinse", "name": "Acid rinse", "bath": "water with a pinch of citric acid"},
            {"does": "rinse", "rinse": "two plain"},
            {"does": "dissolve", "name": "Silver chloride out", "bath": "household ammonia without soap, one part and two parts water", "time": "3 minutes", "after": "straight into the bucket with vinegar until no smell, never left standing", "rinse": "5 changes"},
            {"does": "expose", "name": "Under the halogen spot", "time": "one minute each side", "note": "50 W halogen spot, a hand's width away, reel in water"},
            {"does": "develop again", "bath": "developer 1+4", "time": "4 minutes, until it won't get blacker", "rinse": "rinse"},
            {"does": "fix", "bath": "fixer", "time": "3 min", "after": "kept, 15 films a litre", "rinse": "running water 10 min"},
            {"does": "wet", "bath": "one drop washing-up liquid in the last water"},
            {"does": "dry"},
        ],
    },
    {
        "name": "News lab way",
        "tank_ml": 946,
        "steps": [
            {"does": "develop", "bath": "Paper developer concentrate 6 fl oz to make 32 fl oz + 1/8 oz (avoirdupois) sodium thiocyanate per quart", "time": "12 min", "temperature": "68 F", "agitation": "Shake 5 sec. every 30 sec.", "after": "dump after two rolls", "rinse": "running water, three min"},
            {"does": "bleach", "bath": "part A and part B equal parts: A 60 grains potassium permanganate in 32 oz; B 3 fl oz sulphuric acid, battery acid strength, in 29 oz water", "time": "4 to 6 min", "temperature": "68-70 F", "agitation": "gentle half turn all the time", "after": "into the old clear until no color, then drain", "rinse": "running water 1 min", "made": "just before"},
            {"does": "clear", "bath": "1 oz sodium bisulfite to the quart", "time": "2 min, again if brown is left", "after": "drain", "rinse": "running water 2 min", "light": "light"},
            {"does": "expose", "name": "Flash", "time": "1 min a side", "note": "big lamp 250 watt, 3 ft off, film off the reel"},
            {"does": "develop again", "bath": "paper developer 1 plus 4", "time": "3 min", "temperature": "68 F"},
            {"does": "fix", "bath": "hardening fixer", "time": "5 min", "rinse": "running 20 min"},
            {"does": "wet", "time": "30 sec", "bath": "wetting agent"},
            {"does": "dry", "note": "hung in the shower stall"},
        ],
    },
    {
        "name": "Sixteen millimetre way",
        "tank_ml": 1600,
        "steps": [
            {"does": "presoak", "bath": "water", "time": "2 min", "light": "red lamp"},
            {"does": "develop", "bath": "high contrast developer made from powder, undiluted + 2.5 g/L potassium thiocyanate", "time": "5 min, +30 s second length, +1 min third", "temperature": "24 C", "agitation": "lift and drop spiral ten times a minute", "rinse": "running water 5'", "after": "does all three lengths, then finished"},
            {"does": "bleach", "bath": "100 + 100 in 800 water", "time": "3 to 4 min", "after": "back into the bottle; when green-brown to the city collection, never the drain", "rinse": "until water no longer yellow (4-5 min)", "note": "potassium dichromate 9.5 g plus 12 mL strong sulphuric acid in a litre"},
            {"does": "clear", "bath": "sulfite 90 g/L", "time": "2 min", "after": "used for all three lengths, then dumped", "rinse": "1 min"},
            {"does": "expose", "time": "2 min in total, then flipped and all again", "note": "LED work lamp 20 W, 30 cm, spiral in a white bucket"},
            {"does": "develop again", "bath": "first developer without thiocyanate", "time": "3 min", "temperature": "24 C"},
            {"does": "fix", "bath": "rapid fixer 1:7", "time": "2 min", "rinse": "10 min"},
            {"does": "dry"},
        ],
    },
    {
        "name": "Supermarket way",
        "tank_ml": 500,
        "steps": [
            {"does": "develop", "name": "D1", "bath": "film developer stock, straight, 500 ml + rapid fixer concentrate 4ml", "time": "13:30 min", "temperature": "24\u00b0C", "agitation": "4 inversions at start of each min", "after": "'old dev' bottle, used for test strips next week, then drain", "rinse": "water x3"},
            {"does": "bleach", "bath": "400ml 3% pharmacy peroxide + 100ml water + 25g citric acid powder (2 heaped tablespoons, ~)", "time": "8-15 min", "temperature": "35-38\u00b0", "agitation": "lid loose, burp every min", "after": "single use, sink, with water", "rinse": "x3"},
            {"does": "fog", "bath": "1 teaspoon colour-run remover (dithionite with soda, ca. 30 %?) in 500 ml", "time": "2 min", "temperature": "30\u00b0", "agitation": "swirling", "after": "sink with lots of water within the hour", "rinse": "x5"},
            {"does": "wet", "bath": "a drop of wetting agent"},
            {"does": "dry"},
        ],
    },
    {
        "name": "Sheets in trays",
        "tank_ml": 1000,
        "steps": [
            {"does": "wetting", "bath": "water", "time": "1 minute"},
            {"does": "develop", "bath": "pyrazolidone-hydroquinone developer 1+9, one litre, 3 g hypo, a soup\u00e7on of potassium bromide", "time": "8 minutes", "temperature": "20 degrees", "agitation": "one full shuffle in 30 seconds", "after": "thrown away after six sheets"},
            {"does": "stop", "bath": "half-strength vinegar water", "time": "30 seconds", "rinse": "three trays of plain water, one minute each"},
            {"does": "bleach", "bath": "permanganate 2 g + sodium bisulfate 25 g to one litre", "time": "5 minutes", "agitation": "soft", "after": "poured slowly into the spent clearing tray until colourless, toilet", "light": "green lamp after 2 minutes, room light after 3", "rinse": "one tray, 1 minute"},
            {"does": "clear", "bath": "metabisulfite 20 g per litre", "time": "1 or 2 min, until the brown is away", "rinse": "3 x 1 minute", "after": "takes the spent bleach, toilet"},
            {"does": "expose", "time": "30 seconds front and 30 seconds back", "note": "100 W bulb at 1 metre, one sheet at a time"},
            {"does": "develop again", "bath": "developer 1+9", "time": "5 min, by watching", "after": "kept for the next evening"},
            {"does": "fix", "bath": "fixer 1+9", "time": "two minutes", "rinse": "Running water 15 min"},
            {"does": "last bath", "bath": "demineralised water"},
            {"does": "dry"},
        ],
    },
    {
        "name": "The closer",
        "tank_ml": 1000,
        "steps": [
            {"does": "develop", "name": "FD", "bath": "universal developer 125 + 875 water, 6 ml rapid fixer conc., 4 ml of 10N lye", "time": "7 min", "temperature": "30 \u00b0C!", "agitation": "Continuous first 30 s, then 2 turns every 30 s", "after": "discard", "rinse": "fill, shake, dump, \u00d74"},
            {"does": "bleach", "bath": "iron chloride 50 g/L", "time": "3 min", "temperature": "30", "after": "back in its jug, a stroke per roll, up to 20 strokes", "rinse": "\u00d76"},
            {"does": "dissolve", "name": "Ammonia", "bath": "Ammonia 5 %", "time": "2 min", "after": "straight away acidified with citric and poured off", "rinse": "\u00d74"},
            {"does": "fog", "name": "The closer", "bath": "10 g thiourea dioxide and 25 g washing soda in 1 L hot water", "time": "5 minutes", "temperature": "40 \u00b0C", "agitation": "moving the reels", "after": "drain", "rinse": "\u00d710"},
            {"does": "dry"},
        ],
    },
)  # fmt: skip
