"""The hazard engine against situations written down by another hand: what it misses, what it says too much.

    python -m benchmarks.hazard_situations FILE.json [--all]

The file is a list of situations: `context`, `parts` (substance, strength, amount, role, perhaps `contains`),
perhaps `room`, `rinse`, `hours`, and `truth` with `severity` 0 to 4 and `must` refuse, caution or silent.
Names are plain English. What a name means is decided here by common words, never by the situation; names that
nobody knows are listed, and such a part counts as an unknown that may be acid and oxidiser at once only where
the engine is told so, so that it is seen and not silently dropped.
"""

from __future__ import annotations

import argparse
import json
import math
import re
from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any, get_args

from benchmarks.situations_in_fields import LARGEST_PUDDLE_M2, PUDDLE_ML_PER_M2, in_fields, told_in_fields
from obverse.chemistry import concentration_g_per_l
from obverse.chemistry.strength import parse_strength
from obverse.foundation import InputError
from obverse.process.catalog import substances
from obverse.safety.airborne import Room
from obverse.safety.body import Portion, liquid, powder
from obverse.safety.engine import OWN_VAPOURS, assess, severity_of
from obverse.safety.said_as import MATTER, VAGUE, bare_metal, plain_matter, said_words, salts_in
from obverse.safety.setting import Effect, Place, Setting, setting_for, unknown_room

# Words of a name -> substance, the longest that fits first: those of the house, each at its likeliest.
# (A developer is what `BATHS` says, all of it.)
WORDS: dict[str, str] = {word: meant[0] for word, meant in said_words().items() if word != "developer"}
# What says one thing goes before what may say several, and that before what says hardly anything.
# The name of a substance goes before a word for a job ("chloroform film cleaner").
_JOB = re.compile(
    r"\b(cleaner|remover|cement|toner|fixer|bath|stripper|opener|killer|thinner|tablet|fluid|spray|fuel|glue|paste|polish|etchant|"
    r"powder|granules?|solution|waste|reducer|converter|hardener|developer)s?$"
)
BY_WEIGHT = sorted(
    WORDS,
    key=lambda word: (word not in VAGUE, len(said_words()[word]) == 1, not _JOB.search(word), len(word)),
    reverse=True,
)
# Baths that are named only by their trade: what they usually hold, g/L.
BATHS: dict[str, dict[str, float]] = {
    "developer": {"sodium_sulfite": 50, "sodium_carbonate": 30, "hydroquinone": 5},
    "hypo clearing": {"sodium_sulfite": 20},
    "wash aid": {"sodium_sulfite": 20},
    "clearing bath": {"sodium_metabisulfite": 25},
    "stabiliser": {"formaldehyde": 3},
    "stabilizer": {"formaldehyde": 3},
}
# What a bath is for: a developer of film or paper is no plastic and no paper.
_WORKED_ON = ("polystyrene", "cellulose")
# Strength of a liquid that only a name tells, g/L.
USUAL: dict[str, float] = {
    "acetic_acid": 52, "sodium_hypochlorite": 54, "hydrochloric_acid": 105, "ammonia": 48, "sulfuric_acid": 474, "hydrogen_peroxide": 30,
    "ammonium_thiosulfate": 120, "sodium_thiosulfate": 200, "iron_iii_chloride": 560, "potassium_permanganate": 2, "potassium_dichromate": 9.5, "sodium_metabisulfite": 25,
    "sodium_sulfide": 10, "citric_acid": 15, "sodium_carbonate": 30, "sodium_sulfite": 50, "silver_chloride": 5, "silver_ammine_chloride": 3, "sodium_selenite": 10, "formaldehyde": 3, "potassium_ferricyanide": 50,
    "silver_nitrate": 20, "sodium_hydroxide": 40, "sodium_dithionite": 10, "potassium_cyanide": 20, "copper_ii_sulfate_pentahydrate": 100, "potassium_thiocyanate": 5, "phosphoric_acid": 300,
    "nitric_acid": 300, "sodium_bisulfate": 30, "sodium_nitrite": 20, "potassium_iodide": 20, "sodium_azide": 10, "ammonium_chloride": 50, "mercury_ii_chloride": 20, "thiourea": 10,
    "potassium_ferrocyanide": 50, "sodium_chlorite": 50, "potassium_chlorate": 30, "potassium_persulfate": 30, "oxalic_acid_dihydrate": 30, "formic_acid": 200, "sodium_hydroxymethanesulfinate": 30,
}  # fmt: skip
# Liquids that stand in a house as they are, g/L.
NEAT: dict[str, float] = {
    "vegetable_oil": 915, "white_spirit": 780, "petrol": 740, "turpentine": 865, "acetone": 790, "butanone": 805, "ethyl_acetate": 900,
    "diethyl_ether": 714, "glycerol": 1255, "ethylene_glycol": 1110, "ethanol": 770, "isopropanol": 785, "methanol": 792, "mercury": 13546,
    "bromine": 3100, "dichloromethane": 1330, "carbon_tetrachloride": 1590, "trichloroethylene": 1460, "tetrachloroethylene": 1620,
    "toluene": 867, "chloroform": 1490, "carbon_disulfide": 1260, "nicotine": 1010,
}  # fmt: skip
PLACES_BY_WORD: dict[str, Place] = {
    **{place: place for place in get_args(Place)},  # type: ignore[dict-item]
    "waste": "jug",
    "waste_jug": "jug",
    "storage": "shelf",
    "same_room": "room",
    "carryover": "carry_over",
    "closed": "closed_jug",
    "closed_bottle": "closed_jug",
}
_SOLID_WORDS = re.compile(
    r"\b(solid|powder|crystals?|granules?|pellets?|flakes?|foil|dry|neat solid|chips|turnings|tablets?|lumps?|filings|dust|sludge|mud|hexahydrate)\b"
)
_AMOUNT = re.compile(r"(?<![/\d])(\d+(?:\.\d+)?)\s*(kg|g|mg|mL|ml|L|l)\b")
# What is counted by the piece, and grams of one.
_PIECES, _A_PIECE_G, _A_THING_G = re.compile(r"\bpieces?\b|^(1|one|a)$"), 100.0, 20.0
# What is sold concentrated, and what a household dilutes it to, g/L (common practice, no source).
CONCENTRATED: dict[str, float] = {
    "acetic_acid": 1050, "sodium_hypochlorite": 150, "hydrochloric_acid": 370, "ammonia": 227, "sulfuric_acid": 1766, "nitric_acid": 900, "hydrogen_peroxide": 335, "formaldehyde": 400,
    "phosphoric_acid": 1430, "formic_acid": 1200, "sodium_hydroxide": 400, "potassium_hydroxide": 500, "ammonium_thiosulfate": 780, "sodium_thiosulfate": 600, "iron_iii_chloride": 560,
    "peracetic_acid": 160, "lactic_acid": 950, "sodium_selenite": 60, "hydrofluoric_acid": 450, "perchloric_acid": 1100, "ammonium_sulfide": 200, "potassium_polysulfide": 300,
    "sodium_chlorite": 300, "glutaraldehyde": 500, "hydrazine": 640, "hydrobromic_acid": 700, "tetrachloroethylene": 1620, "benzalkonium": 500,
}  # fmt: skip
AS_SOLD: dict[str, float] = CONCENTRATED | {
    "sodium_hypochlorite": 54,
    "hydrogen_peroxide": 30,
    "sodium_hydroxide": 200,
    "peracetic_acid": 50,
}
_CONCENTRATED = re.compile(
    r"\b(conc\.?|concentrated?|fuming|full[- ]strength|industrial|technical strength|saturated)(?!\w)"
)
_DILUTE, _DILUTED_TO = re.compile(r"\b(dilute[d]?|weak|thin|watered down|watery)\b"), 0.5
# What is so much of what the pure liquid weighs brings no water along.
_NEAT_SHARE = 0.95
_PURE = re.compile(r"\b(neat|pure|glacial|100 %|undiluted)\b")
_WATER = re.compile(
    r"(?:(?:in|with|into|over) (?=\d)|(?<![\d.])(?=\d[\d.]* ?(?:mL|ml|L|l) (?:of )?(?:\w+ )?water\b))(\d+(?:\.\d+)? ?(?:mL|ml|L|l))\b|with (?:a cup of )?water\b|"
    r"(?:in|into|with) (?:about )?(?P<said>half a litre|a litre|two litres|a bucket|a cup|a glass|a mug|a pint|a full bucket) of (?:\w+ )?water\b"
)
_SAID_ML = {
    "half a litre": 500.0,
    "a litre": 1000.0,
    "two litres": 2000.0,
    "a bucket": 5000.0,
    "a full bucket": 8000.0,
    "a pint": 500.0,
}
# A vessel or tool of bare metal is part of what meets.
_VESSEL = re.compile(
    r"(?<!stainless )\b(lead|aluminium|aluminum|galvani[sz]ed|zinc|iron|steel|copper|brass)( \w+)? "
    r"(tray|tank|bucket|pan|pot|tub|can|tin|spoon|reel|sink|pipe|dish|bowl|drum|lid|trap|grid|foil|scoop|bottle|jug|jar|cup|box|flask|"
    r"basin|step|frame|ladder|sill|rail|worktop|table top|drain|funnel|mesh|wire|clip|tongs|stirrer|cap|kettle|drainpipe|pipework|piping|saucepan|frying pan|tureen|colander)s?\b"
)
_HOT_PLATE = re.compile(
    r"\blit or heated|\bignited|\b(on|over) (a|the) burner|\bblow ?(torch|lamp)|\bmelt(ed|ing|s)?\b|\bhot ?plate|\boven\b|heated (dry|on|over|until)|\bburn(s|t|ing)?\b|\bfire\b|roast|glowing|smoulder|chars?\b|charr"
)
# What warms a room burns there.
_WARMS = re.compile(
    r"\b(to (warm|heat)|warms|heats|keeps? .{0,12}warm|heating) (up )?(the|a|his|her|my|its?|this)\b|\bgrill\b|\bbrazier\b|\bheater\b|\bstove\b"
)
# What is wetted with it and spreads it.
_A_CLOTH = r"(an?|the|his|her|my) (\w+ )?(cloth|rag|pad|swab|wipe|duster|towel|tissue)\b"
# Water that comes by itself to what lies there.
_DRIPS = re.compile(
    r"\b(damp (drum|bag|box|tub|tin|sack|jar|carton)|got (wet|damp)|grown damp|dripping|drips|leaking|leaks|leaky|wet (floor|shelf|board|wall)|under the sink trap)\b"
)
_DONE = re.compile(
    r"(?<!to be )(?<!to be ')\b(destroyed|already reduced|fully reduced|neutralised|neutralized|decolou?rised|exhausted and reduced|after bicarbonate)\b"
)
_FLAME = re.compile(
    r"\b(toaster|tea ?lights?|hot[- ]air gun|heat gun|open fire|oil lamp|incense|print dryer|mounting press|hot iron|hair ?dryer|electric fire|radiant|alight|flame|burning|lit\b|glowing|candle|spark|heater|smok|stove|pilot|lighted|match(es)?\b|cigarette|fireplace|soldering)",
    re.I,
)
# What is said to burn or glow already, by its name; a heater or plate does as long as nobody switches it off.
_ALIGHT = re.compile(r"\b(glowing|burning|smou?ldering|lit|ignited|alight|red-hot|half-burnt)\b(?! (oil|fat|wax)\b)")
# Tools that glow, by their names.
_GLOWS = re.compile(
    r"\b(electric fire|heater|hot ?plate|toaster|hair ?dryer|soldering iron|candles?|stove|burner|gas ring)(?!.{0,12}(oil|fuel|fluid|wax|black|polish|cleaner))\b"
)
_NO_FLAME = re.compile(r"no flame|no ignition|away from flame", re.I)


# What is drunk or eaten from, kept where food is, or in the way of a child or animal.
_FOOD = re.compile(
    r"\b(orangeade|lemonade|ginger beer|mineral water|drinking water|cola|coke|beer|wine|sherry|rum|brandy|whisky|gin|vodka|milk|juice|squash|cordial|syrup|cider|sauce|ketchup|vinegar|oil|"
    r"medicine|cough|pill|sweet|biscuit|cocoa|flour|baking powder|rice|pickle|yoghurt|yogurt|ice cream|margarine|butter|honey|mustard|lunch|thermos|vacuum|tea|coffee|sports|drinking|baby|feeding)"
    r"[ -](bottle|flask|jar|tin|box|tub|bowl|cup|mug|glass|pot|caddy|can|carton|packet)s?\b|"
    r"\bin an? (\w+ )?(water|soup|salad|fruit|serving|cereal|punch|mixing|salad) (bottle|bowl|dish|jug)\b|\bused for (baking|cooking|eating|drinking|food)\b|"
    r"\b(stands?|left|put|kept|next|beside) (\w+ )?(to|among|beside) the (glasses|plates|cups|food|groceries|drinks)\b|\b(swallow(s|ed)|licked|takes? a (sip|gulp|mouthful)|mistaken for (water|juice|milk|salt|sugar|lemonade|squash|wine|beer)|drinks? from it)\b|"
    r"\b(was|is|gets|got|been) (drunk|eaten|tasted|sipped)\b|\b(drank|drinks?|ate|sips?|tastes?) (it|of it|from it|some)\b|\b(fridge|refrigerator|larder|pantry|kitchen (table|cupboard|shelf|counter)|food (shelf|cupboard)|teapot|teacup|tumbler|drinking glass|lunch ?box|sugar bowl|dog bowl)\b|"
    r"\bin an? (\w+ )?(mug|coffee cup|tea cup)\b|beside (the |a |his |her |real |their )?(\w+ )?(drinks?|coffee|tea|water|lemonade)\b|"
    r"\b(toddler|child|children|infant|grandchild|kids?|dog|cat|pet)s? (\w+ )?(can |could |may )?(reach|reaches|drink|drinks|lap|laps|play|plays|find|finds|get)\b|"
    r"\breach of (\w+ ){0,2}(child|children|toddler|kids?|dog|cat|pet)|\b(child|toddler|kid) ?(about|around|crawls|in the house|height)|\bunlabelled jam jar\b|"
    r"\b(grand)?(child|children|toddlers?|kids?|baby|babies)\b[^,;.]{0,20}\b(visits?|stays?|lives?|plays?|crawls?|comes?|sleeps?)\b|\b(low|bottom|lowest) (shelf|drawer|cupboard)[^,;.]{0,30}(child|toddler|kid|baby|dog|cat)"
)
_KEPT_FROM = re.compile(r"\b(out of|beyond|away from|not in|not within|no|locked|never|hot water)\b[^,;.]{0,40}")
# What stands there under no name.
_NAMELESS = re.compile(
    r"\bunlabell?ed|\b(no|without (a )?|lost its) label|label (is )?(lost|gone|washed|fell|missing|faded)"
)
# Skin or eyes that it reaches.
_SKIN = re.compile(
    r"\bbare\b.{0,12}\b(hand|finger|arm|skin|feet|foot)s?\b|bare-?(handed|foot)|without (any )?(gloves|goggles)|no (gloves|goggles)|\b(holed|torn|leaky|leaking|split|cotton|wet) gloves?\b|"
    r"\b(inside|into|in) (a|the|his|her) (\w+ )?(glove|shoe|boot|slipper|sock|sleeve)s?\b|\b(on|onto|over) ((the|his|her|bare|wet|a) )+(skin|hands?|wrist|forearm|arms?|thigh|lap|fingers|face|foot|feet)\b|"
    r"\bround (a|the|his|her|my) (hand|foot|arm|leg|finger|wrist)\b|\bkneel\w*\b|\bunglove[ds]?\b|\bgloveless|\bgloves? (has|have|with) (an? )?(holes?|tears?)\b|\bwith (an?|the|his|her) (wet |bare )?fingers?\b|\bfingers? in (the|it)\b|"
    r"\bhands? (dipped|goes|go|put|reach(es|ed)?|plunged|held) in(to)?\b|\b(in|into) (the|his|her|a) face\b|\b(trodden|stepped|walked) (in|into|through|on) (it )?(in|with|wearing)? ?(socks|barefoot|bare feet|slippers)\b|"
    r"\b(pulled|fished|taken|lifted) (out )?by hand\b|\bsleeves? (soaked|wet) (with|through)|\bbare legs?\b|\bcut (on|in) (the|a|his|her) (finger|hand)\b|\b(worn|wearing) (for|all)\b|\bsoaked (trousers|jeans|socks|sleeves?|shoes|jumper|shirt|lap)\b|\bskin of\b|\b(in|into) (the |an |his |her )?eyes?\b|\b(on|in) (the )?(fingers|hands)\b|on the floor overnight|underfoot"
)
# Sieved, ground, swept dry or sprayed: it hangs in the air.
_DUSTY = re.compile(
    r"\b(dust(y|s|ed)?|siev(e|ed|ing)|sift(ed|ing)?|ground (up|in a|to)|grinding|pulveri[sz]ed|whirl(s|ed) up|vacuumed|hoovered|rubbed .{0,24}to (a )?(fine )?powder|tipped in fast|shaken (over|through)|mortar and pestle|crushed|swept (up )?dry|dry sweep\w*|brushed (up|off) dry|sand(ed|ing|s)\b|scraped (off |out )?dry|"
    r"blown|shaken out|spray(ed|ing|s)?|atomi[sz]\w+|nebuli[sz]\w+|airbrush\w*|mist(ed|ing)?|(no|without a?) (dust )?mask|poured from a height|puff(s|ed)?|cloud)\b"
)
_NOT_DUSTY = re.compile(
    r"\b(no|without|little|settled|free of|anti|never) ?(any )?(dust|mist|spray)\b|dust mask|mask on|spray (bottle|can)|dustbin|dust ?pan|fume cupboard"
)
# Two that cannot run into each other.
_OTHER_TRAY = re.compile(
    r"\b(another|separate|different|own) (tub|tray|bin|box|crate|bucket|bund|cupboard|cabinet) (of|in|on) (the|another|a)\b|\bin (separate|different) (tubs|trays|bins|boxes|crates|cupboards)\b"
)
_APART = re.compile(r"\b(own|another|separate|second) (tub|tray|bin|box|crate|bucket|bund|cupboard|cabinet)\b")
# Wet that is only the air's.
_AIR = re.compile(
    r"\b(damp|humid|moist|wet|cellar|room|sea|foggy|mild)? ?(air|humidity|damp|damp(ness)?|moisture|condensation|fog|mist|weather)\b"
)


@dataclass
class Read:
    """A situation as the engine takes it, and what was not understood."""

    portions: list[Portion]
    setting: Setting
    unknown: list[str]


@cache
def _word(words: str) -> re.Pattern[str]:
    """Where a word of the list begins; there are more of them than Python keeps compiled."""
    return re.compile(rf"(?<![a-z]){re.escape(words)}")


def _begins(words: str, text: str) -> bool:
    """Whether that word of the list begins in a text; most are not in it at all, which is found out in less time."""
    return words in text and _word(words).search(text) is not None


# What a thing is for, or where it comes from, is not what it is.
_PURPOSE = re.compile(r" (?:for|from|to|until|as)\b.*")


# What it smells of is no part of it, and what is worn out is no fume of an engine.
_NO_PART = re.compile(
    r"\bwith (an? |the )?\w+ (smell|odou?r)\b|\b(smell(s|ing)?|stink(s|ing)?|reek(s|ing)?) of \w+|\bexhausted\b"
)


def key_of(name: str) -> str | None:
    """Substance that a plain name means; None where no word fits."""
    low = name.lower().replace("sulph", "sulf")
    low = re.sub(r"\b(no|without|not|free of) (\w+ )?\w+", " ", low)
    low = _NO_PART.sub(" ", low)
    head = _PURPOSE.sub("", low)
    if head != low and (key := key_of(head)):
        return key
    plain = re.sub(r" \(.*\)", "", low).strip().replace(" ", "_").replace("-", "_")
    if plain in substances():
        return plain
    if metal := bare_metal(low):
        return metal
    if composed := salts_in(low):
        keys = composed[0][1]
        # The poison of its metal is worse than a little nitrate or lye.
        return keys[-1] if keys[0] in ("sodium_nitrate", "sodium_hydroxide", "sodium_metasilicate") else keys[0]
    if matter := plain_matter(low):
        return matter[0]
    for words in BY_WEIGHT:
        # A "paper developer" is a bath; of what a thing is made counts only where nothing else is said.
        if words in MATTER or (words == "paper" and any(bath in low for bath in BATHS)):
            continue
        if _begins(words, low):
            # "Limescale remover" is no limescale.
            whole = [each for each in BY_WEIGHT if words in each and each not in MATTER and _begins(each, low)]
            return WORDS[max(whole, key=len)]
    # A bleach that is nothing else is that of the laundry.
    return "sodium_hypochlorite" if re.search(r"\bbleach\b", low) else None


def exact_key(text: str) -> str | None:
    """Substance that a text names by its own name, the longest that is in it."""
    low = f" {text.lower().replace('sulph', 'sulf')} "
    named = [
        key
        for key in substances()
        if key != "water" and (words := key.replace("_", " ")) in low and re.search(rf"(?<![a-z]){words}(?![a-z])", low)
    ]
    return max(named, key=len, default=None)


# What a name only hints at is no further part.
_VAGUE = VAGUE | {"fixer"}
# In brackets they say nothing; acid and silver do.
_VAGUE_SAID = ("salt", "soda", "paint", "spirit")

# What a bath is for; what is in it is named beside, or it is taken as usual. So is what may mean several things.
_WORKS = frozenset(("stop bath", "rapid fixer", "selenium toner", "sulfide toner", "etchant", "bleach cleaner", "battery acid", "fixing bath", "fixer waste", "sepia bath")) | {
    word for word, meant in said_words().items() if len(meant) > 1
}  # fmt: skip


def parts_of_name(name: str) -> tuple[str | None, dict[str, float]]:
    """The substance that a strength is said of, and further ones in the name, g/L.

    Brackets at the end say what the strength is of, unless they give a strength of their own.
    """
    low = name.lower().replace("sulph", "sulf")
    low = re.sub(r"\b(no|without|not|free of) (\w+ )?\w+", " ", low)
    brackets = re.findall(r"\(([^()]*)\)(?!\w)", re.sub(r"\((i{1,3}|iv|vi{0,2})\)", "", low))
    inner = brackets[-1] if brackets else ""
    outside = re.sub(r"\((?!i{1,3}\)|iv\)|vi{0,2}\))[^()]*\)", " ", low)
    head = re.split(r",| with ", inner)[0]
    said_of = "" if re.search(r"\d|^(with|in)\b|^acid$", head) else head
    # Cloth is what it is, whatever it has soaked up.
    cloth = re.search(r"\b(rag|cloth|towel|wipe|tissue|newspaper|kitchen paper|blotting paper|sawdust)s?\b", outside)
    if cloth and re.search(r"\b(with|and|of|in|soaked|wet|damp|stains?|stained)\b", outside):
        soaked = key_of(name.replace(cloth[0], " "))
        return "cellulose", {soaked: 0.0} if soaked and soaked not in ("water", "cellulose") else {}
    said_key = key_of(said_of) if said_of and not any(_begins(w, said_of) for w in _VAGUE_SAID) else None
    # "Sulfuric acid (drain cleaner)": what it is for does not change what it is.
    if said_key and _JOB.search(said_of) and exact_key(outside):
        said_key = None
    shop, _, held = outside.partition(" with ")
    if shop.strip() in _WORKS and shop.strip() not in BATHS and not said_key:
        # "Rust remover with hydrofluoric acid": what it holds is surer than what the shop calls it.
        said_key = exact_key(held)
    key = said_key or key_of(re.split(r" (?:in|with|for|from) ", outside)[0]) or key_of(name)
    if not re.search(
        r"bleach|fogger|fixer|bath|developer|toner|stock|granules|waste|reducer|leftovers|\bin\b|\band\b|\bwith\b",
        f"{outside} {inner}",
    ) or re.search(r"used up|exhausted|destroyed|pharmacy|original", low):
        return key, {}
    found: dict[str, float] = {}
    for place, text in (("out", outside), *(("in", piece) for piece in re.split(r",| with ", inner))):
        rest = text
        for words in sorted(WORDS, key=len, reverse=True):
            if words not in _VAGUE and _begins(words, rest):
                rest = _word(words).sub(" ", rest)
                other = WORDS[words]
                # Outside of brackets only what stands right behind the word.
                behind = re.search(rf"{re.escape(words)}\w* (?:of |at )?(\d[\d.]* ?(?:g/l|% ?(?:w/[wv])?|mol/l))", text)
                said_here = text if place == "in" else behind[1].replace("/l", "/L") if behind else ""
                stated = grams_per_l(said_here, other)
                # "Citric acid stop bath": the work of a bath is no second substance.
                if words in _WORKS and place == "out":
                    continue
                if other != key and (
                    other in USUAL
                    or other in NEAT
                    or stated
                    or other in ("aluminium", "stannous_chloride", "manganese_dioxide")
                ):
                    in_it = rf"\bin (\w+ )?{re.escape(words)}" if other in NEAT else "(?!)"
                    neat = 0.8 * NEAT.get(other, 0.0) if re.search(in_it, text) else 0.0
                    found[other] = stated or neat or (20.0 if other == "sulfuric_acid" else USUAL.get(other, 10.0))
    named = {key, *found}
    silver = named & {"silver_chloride", "silver_nitrate", "silver_ammine_chloride", "silver_bromide"}
    inner_silver = re.search(r"(\d+(?:\.\d+)?) g/l silver", low)
    if inner_silver and silver:
        stated_silver = {each: float(inner_silver.group(1)) * 1.4 for each in silver & set(found)}
        found |= stated_silver
    if inner_silver and not silver:
        complexed = "silver_thiosulfate" if re.search(r"fixer|hypo\b|thiosulfate", low) else "silver_ammine_chloride"
        found[complexed] = float(inner_silver.group(1)) * 1.6
    if key == "silver_ammine_chloride" and re.search(r"fixer|hypo\b|thiosulfate", low) and "ammonia" not in low:
        # Fixer holds its silver as thiosulfate.
        key = "ammonium_thiosulfate"
        found["silver_thiosulfate"] = 10.0
    oxidisers = {"potassium_permanganate", "potassium_dichromate", "hydrogen_peroxide"}
    without_silver = re.search(r"\b(no|without|free of) (\w+ )?silver|\bunused\b", name.lower())
    if (
        key == "ammonia"
        and re.search(r"\b(used|spent|old)\b.*\bbath", low)
        and not silver
        and not inner_silver
        and not without_silver
    ):
        # What dissolves the negative's halide holds its silver afterwards.
        found["silver_ammine_chloride"] = USUAL["silver_ammine_chloride"]
    if key == "ammonium_thiosulfate" and re.search(r"\bacid (\w+ )?fixer", outside) and "acetic_acid" not in found:
        # Acid fixer holds weak acid and the sulfite that keeps it.
        found |= {"acetic_acid": 10.0, "sodium_sulfite": 10.0}
    acid = re.search(r"\bacid(ified|ic)?\b", outside) and not any("acid" in str(each) for each in named)
    if acid and named & oxidisers:
        # What a spent bleach has done has taken acid too.
        found["sulfuric_acid"] = 4.5 if re.search(r"\b(spent|used|old)\b", low) else 9.0
    return key, found


def grams_per_l(text: str, key: str) -> float | None:
    """The first strength in a text, g/L of a substance; None where it gives none."""
    text = text.replace("about", "").strip()
    first = re.search(r"\d+(?:\.\d+)?\s*(mL/L|g/L|%|mol/L|mg/L)", text)
    with_volume = re.search(r"(\d+(?:\.\d+)?)\s*mL/L", text) if first and first.group(1) == "mL/L" else None
    known = substances()[key]
    if with_volume:
        ml = float(with_volume.group(1))
        inner = re.search(r"(\d+(?:\.\d+)?)\s*%", text)
        percent = float(inner.group(1)) if inner else {"sulfuric_acid": 96.0, "acetic_acid": 99.0}.get(key, 100.0)
        return ml * (_strong(percent, key) or 10 * percent) / 1000
    number = re.search(
        r"(\d+(?:\.\d+)?)(?:\s*(?:-|to)\s*(\d+(?:\.\d+)?))?\s*(g/L|% w/w|% w/v|% v/v|%|mol/L|M\b|g per litre|mg/L)",
        text,
    )
    if not number:
        return None
    value = float(number.group(2) or number.group(1))
    unit = number.group(3)
    if unit in ("g/L", "g per litre"):
        return value
    if unit == "mg/L":
        return value / 1000
    if unit in ("mol/L", "M"):
        from obverse.chemistry import molar_mass_g_per_mol

        return value * molar_mass_g_per_mol(known.molar_mass_key)
    return _strong(value, key)


def _strong(percent: float, key: str) -> float:
    try:
        return float(concentration_g_per_l(parse_strength(f"{percent:g} % w/w"), substances()[key]).value)
    except InputError:
        # Organic liquids are lighter than water, solutions of salts heavier.
        light = key in ("ethanol", "isopropanol", "methanol", "acetone", "white_spirit", "petrol", "butanone")
        return 10 * percent * (1 - 0.2 * percent / 100 if light else 1 + 0.006 * percent)


_STRENGTH = re.compile(
    r"\d+(?:\.\d+)?(?:\s*(?:-|to)\s*\d+(?:\.\d+)?)?\s*(?:mL/L|g/L|% w/w|% w/v|% v/v|%|mol/L|M\b|g per litre|mg/L)"
)
# What a strength is counted as, and no substance beside.
_COUNTED_AS = re.compile(r"\b(available|active|free|silver|selenium|total|by (weight|mass|volume)|alc)\b")
_WATER_OF = re.compile(r"\bwater (?:of|from|off|after|with) (.+)")
# A bath that comes in parts is named by its job, and so is what only says what it does.
_IN_PARTS, _BY_JOB = re.compile(r"\b(part|bath|solution) [a-d1-4]\b"), ("bleach", "bath", "sensitizer", "sensitiser")


def named_strengths(strength: str) -> dict[str, float]:
    """Substances that a strength names, each with its own number, g/L; empty where a number in it names none."""
    found: dict[str, float] = {}
    for piece in re.split(r"[,;+]|\b(?:and|with|in)\b", strength):
        if not _STRENGTH.search(piece):
            continue
        rest = _STRENGTH.sub(" ", piece).lower()
        said = salts_in(rest) or any(words not in VAGUE and _begins(words, rest) for words in WORDS)
        key = None if _COUNTED_AS.search(rest) or not said else key_of(rest)
        value = grams_per_l(piece, key) if key and key != "water" else None
        if not key or value is None:
            return {}
        found[key] = value
    return found


def says_a_job(name: str) -> bool:
    """Whether a name only says what a thing is for, so that what stands beside it says what it is."""
    low = name.lower()
    if _IN_PARTS.search(low):
        return True
    return not any(
        _begins(words, low)
        for words in WORDS
        if words not in VAGUE
        and words not in _WORKS
        and len(said_words()[words]) == 1
        and not _JOB.search(words)
        and not words.endswith(_BY_JOB)
    )


# Nothing but a share by mass; a powder holds no less than so many per cent.
_SHARE, _A_POWDER_PERCENT = re.compile(r"(?:about )?(\d+(?:\.\d+)?) ?%(?: w/w)?"), 40.0
_CLINGS = re.compile(
    r"(\d+(?:\.\d+)? ?(?:mL|ml|g))\b (?:of it |of which )?(?:clings?|stays?|sticks?|(?:is|are) (?:left|carried)|left|carried|comes? along)"
)
# What is thinned, as "10 mL in 5 L of mop water" says.
_THINNED = re.compile(r"(\d+(?:\.\d+)?) ?(mL|ml|L|l) (?:of it )?(?:in|to|into) (\d+(?:\.\d+)?) ?(mL|ml|L|l)\b")
# A pH that a strength tells.
_PH = re.compile(r"\bph (?:of |about |around )?(\d+(?:\.\d+)?)")
_BATH_ACID, _ACETATE_PH, _NEUTRAL_PH, _LYE_PH = 10.0, 3.5, 6.0, 12.0
# Measures of a house: mL of a liquid and grams of a powder (common practice, no source).
_MEASURES: dict[str, tuple[float, float]] = {
    "drop": (0.05, 0.1), "trace": (1, 0.1), "pinch": (1, 1), "dash": (5, 2), "knife tip": (1, 1), "teaspoon": (5, 5), "tsp": (5, 5), "tablespoon": (15, 15), "tbsp": (15, 15),
    "spoon": (10, 10), "scoop": (50, 50), "splash": (20, 20), "squirt": (10, 10), "puff": (1, 1), "capful": (15, 15), "cap": (15, 15), "thimble": (3, 3), "shot": (30, 30),
    "handful": (50, 50), "cup": (200, 200), "glass": (200, 200), "mug": (250, 250), "pint": (500, 500), "quart": (1000, 1000), "gallon": (4000, 4000), "bottle": (750, 500),
    "jar": (400, 300), "tin": (500, 300), "can": (500, 300), "jug": (1000, 500), "tray": (1000, 500), "tank": (500, 500), "bowl": (1000, 500), "bucket": (5000, 5000),
    "canister": (5000, 5000), "drum": (20000, 20000), "sachet": (20, 20), "packet": (100, 100), "box": (500, 500), "tub": (500, 500), "bag": (500, 500), "sack": (10000, 10000),
    "tablet": (5, 5), "stick": (5, 10), "ounce": (28, 28), "oz": (28, 28), "pound": (450, 450), "lb": (450, 450), "cc": (1, 1), "cm3": (1, 1),
    "litre": (1000, 1000), "liter": (1000, 1000), "gram": (1, 1), "kilo": (1000, 1000), "kilogram": (1000, 1000), "millilitre": (1, 1), "milliliter": (1, 1),
}  # fmt: skip
_BY_MASS, _BY_VOLUME = (
    ("gram", "kilo", "kilogram", "ounce", "oz", "pound", "lb", "sack"),
    ("litre", "liter", "cc", "cm3", "millilitre", "milliliter", "pint", "quart", "gallon"),
)
_COUNTS: dict[str, float] = {
    "half": 0.5, "quarter": 0.25, "a": 1, "an": 1, "one": 1, "two": 2, "couple": 2, "three": 3, "few": 3, "some": 3, "four": 4, "five": 5, "several": 5, "six": 6, "ten": 10,
    "dozen": 12, "twenty": 20,
}  # fmt: skip
_MEASURE = re.compile(
    rf"(?:(?P<number>\d+(?:\.\d+)?)|(?P<part>\d+)/(?P<of>\d+)|\b(?P<word>{'|'.join(_COUNTS)}))?(?: (?:a|an|of|of a|full|small|large|big|good|level|heaped))*\s?"
    rf"\b(?P<unit>{'|'.join(sorted(map(re.escape, _MEASURES), key=len, reverse=True))})(?:ful)?(?:e?s)?\b"
)


def amount_of(text: str, *, powdery: bool = False) -> tuple[float, str]:
    """Number and unit, mL or g, of a `powdery` thing the latter where a measure may be both; a usual 500 mL where nothing is said."""
    text = re.sub(r"(\d),(\d)", r"\1.\2", text)
    if clings := _CLINGS.search(text):
        # "500 mL, 20 mL of it clings": that is what comes along.
        text = clings[1]
    match = _AMOUNT.search(text)
    if not match and (measured := _MEASURE.search(text.lower().replace("½", "0.5").replace("¼", "0.25"))):
        count = (
            float(measured["number"])
            if measured["number"]
            else float(measured["part"]) / float(measured["of"])
            if measured["part"]
            else _COUNTS.get(measured["word"] or "a", 1.0)
        )
        grams = measured["unit"] in _BY_MASS or (powdery and measured["unit"] not in _BY_VOLUME)
        return count * _MEASURES[measured["unit"]][grams], "g" if grams else "mL"
    if not match:
        return (_A_PIECE_G, "g") if _PIECES.search(text.lower()) else (500.0, "mL")
    value, unit = float(match.group(1)), match.group(2)
    factor, plain = {"kg": (1000, "g"), "g": (1, "g"), "mg": (0.001, "g"), "L": (1000, "mL"), "l": (1000, "mL")}.get(
        unit, (1, "mL")
    )
    return value * factor, plain


# A strength said in other words than the short ones below.
_OTHER_WORDS = (
    (re.compile(r"\bper ?cent\b", re.I), "%"),
    (re.compile(r"% by (weight|mass)\b", re.I), "% w/w"),
    (re.compile(r"% by volume\b", re.I), "% v/v"),
    (re.compile(r"\b(g|grams?|gm) ?(/|per|a|in a|to the) ?(l|litre|liter)\b", re.I), "g/L"),
    (re.compile(r"\bm[lL] ?(/|per|a|to the) ?(l|litre|liter)\b", re.I), "mL/L"),
    (re.compile(r"\bmol ?(/|per|a) ?(l|litre|liter)\b|\bmolar\b", re.I), "mol/L"),
    (
        re.compile(
            r"\b(as (sold|bought|it comes|it is)|straight (from|out of) the (bottle|can|tin|tub)|out of the (bottle|can|tin)|ready to use|full[- ]strength)\b",
            re.I,
        ),
        "neat",
    ),
)


def plainly(strength: str) -> str:
    """A strength in the short words that are read below."""
    for pattern, short in _OTHER_WORDS:
        strength = pattern.sub(short, strength)
    return strength


def _powdery(name: str, strength: str) -> bool:
    """Whether it is measured as a powder."""
    if _SOLID_WORDS.search(f"{name} {strength}".lower()) or strength.lower() == "metal":
        return True
    key = key_of(name)
    return bool(key) and not strength and substances()[str(key)].phase == "solid"


def portion_of(part: dict[str, Any], unknown: list[str]) -> Portion:
    """One part of a situation as a portion."""
    name, strength, role = str(part["substance"]), plainly(str(part.get("strength") or "")), str(part.get("role") or "")
    amount, unit = amount_of(str(part.get("amount") or ""), powdery=_powdery(name, strength))
    text = f"{strength} {role}".lower()
    if (matter := plain_matter(name)) and not _AMOUNT.search(str(part.get("amount") or "")):
        # Things are counted by the piece; hands, light and steam bring nothing.
        return Portion(name) if matter == ("water",) else powder(name, {matter[0]: _A_THING_G})
    key, besides = parts_of_name(name)
    if key == "iron_iii_chloride" and re.search(r"hydrate|lumps?\b", f"{name} {strength}".lower()):
        key = "iron_iii_chloride_hexahydrate"
    if key in ("silver_chloride", "silver_sulfide", "silver_ammine_chloride") and re.search(r"\bmetal(lic)?\b", text):
        key = "silver"
    stated_key = exact_key(strength) if _SOLID_WORDS.search(strength.lower()) else None
    if stated_key and stated_key != key and (key is None or exact_key(name) is None):
        # "Pool chlorine granules, solid, trichloroisocyanuric acid": the label is surer than the shop.
        key = stated_key
    if key == "water" and _STRENGTH.search(strength) and (whence := _WATER_OF.search(name.lower())):
        # Rinse water of something holds as much of it as is said.
        key = key_of(whence[1]) or key
        besides.pop(key or "", None)
    contents: dict[str, str] = {}
    for inner in part.get("contains") or ():
        inner_key = key_of(inner["substance"])
        alias = re.search(r"\bas (\w+ \w+)", str(inner.get("strength", "")))
        if alias and key_of(alias.group(1)):
            inner_key = key_of(alias.group(1))
        if inner_key is None:
            unknown.append(inner["substance"])
            continue
        if "dissolved as ammine" in inner["substance"]:
            inner_key = "silver_ammine_chloride"
        contents[inner_key] = str(inner.get("strength", ""))
    if _DONE.search(f"{name} {strength} {role}".lower()):
        # What was destroyed is taken out: the oxidiser and its acid are gone.
        contents = {
            k: s for k, s in contents.items() if not ({"oxidiser", "acid_strong"} & set(substances()[k].classes))
        }
        if key and {"oxidiser", "acid_strong"} & set(substances()[key].classes):
            key = "sodium_sulfate"
    bath = next((words for words in BATHS if words in name.lower()), None)
    solid = (unit == "g" and not re.search(r"g/L|% w/w|solution", strength)) or bool(
        _SOLID_WORDS.search(strength.lower()) and unit == "g"
    )
    share = _SHARE.fullmatch(strength.strip())
    flakes = bool(
        unit == "g"
        and share
        and key
        and substances()[key].phase == "solid"
        and (float(share[1]) >= _A_POWDER_PERCENT or _SOLID_WORDS.search(name.lower()))
    )
    solid = solid or flakes
    grams: dict[str, float] = {}
    named = {} if solid or contents else named_strengths(strength)
    if solid and key is None:
        key = key_of(strength)
    if named and key not in named and (key is None or says_a_job(name)):
        one_of_a_bath = bath and len(named) == 1 and not _IN_PARTS.search(name.lower())
        grams = (dict(BATHS[bath]) if one_of_a_bath and bath else {}) | named
    elif contents:
        for inner_key, inner_strength in contents.items():
            # The strength of the whole tells what an inner line leaves out.
            value = grams_per_l(inner_strength, inner_key)
            value = grams_per_l(strength, inner_key) if value is None else value
            grams[inner_key] = USUAL.get(inner_key, 20.0) if value is None else value
            if solid:
                share = re.search(r"(\d+(?:\.\d+)?)\s*%", inner_strength)
                grams[inner_key] = amount * (float(share.group(1)) / 100 if share else 0.5)
    elif bath and key and key not in BATHS[bath] and re.search(r"developer (\w+ )?with\b", name.lower()):
        stated_here = grams_per_l(strength, key)
        # A developer of iron is acid and holds no soda; further parts are as the name says.
        base = {} if substances()[key].classes and "iron" in key else BATHS[bath]
        grams = {**base, **besides, key: USUAL.get(key, 10.0) if stated_here is None else stated_here}
    elif bath and key in BATHS[bath] and not solid and re.search(r"developer \(", name.lower()):
        # One part of a developer that brackets name does not say that the others are missing.
        stated_part = grams_per_l(strength, key)
        grams = {**BATHS[bath], **besides, key: BATHS[bath][key] if stated_part is None else stated_part}
    elif (
        bath
        and (key is None or WORDS.get(bath) is None)
        and key_of(name.lower().replace(bath, "")) in (None, *_WORKED_ON)
    ):
        grams = dict(BATHS[bath])
    elif key == "water":
        # "Rinse water with a little vinegar".
        here = {other: grams_per_l(strength, other) or g for other, g in besides.items() if other != "water"}
        return liquid(name, here, amount) if here and unit == "mL" else Portion(name, {}, amount)
    elif key is None:
        unknown.append(name)
        return Portion(name, {"sodium_chloride": 0.001}, amount if unit == "mL" else 0.0, (name,))
    else:
        grams = {}
        if solid:
            grams[key] = amount * (min(1.0, float(share[1]) / 100) if flakes and share else 1.0)
        elif _PURE.search(text) or (
            substances()[key].phase == "liquid" and unit == "mL" and re.search(r"\b9\d(\.\d)? ?%", strength)
        ):
            density = AS_SOLD.get(key, NEAT.get(key)) or (
                800 if substances()[key].phase == "liquid" else USUAL.get(key, 100)
            )
            grams[key] = float(density) * (0.95 if "96" in strength and key != "sulfuric_acid" else 1.0)
        else:
            value = grams_per_l(strength, key)
            # What is sold as it is and no strength is said of stands there undiluted.
            usual = NEAT.get(key, USUAL.get(key, 20.0)) if not strength else USUAL.get(key, 20.0)
            if _CONCENTRATED.search(f"{name} {strength}".lower()) and not bath:
                usual = CONCENTRATED.get(key, NEAT.get(key, usual))
            elif _DILUTE.search(strength.lower()):
                usual *= _DILUTED_TO
            grams[key] = usual if value is None else value
        others = {} if solid else _of_another(strength, key)
        if others and len(re.findall(r"\d+(?:\.\d+)? ?(?:%|[a-zA-Z]*/L)", strength)) == len(others):
            grams[key] = USUAL.get(key, 20.0)
        if not solid:
            grams |= besides | _also(f"{strength}", key) | others
        elif besides:
            # Bits of something else in a powder: a tenth of it.
            grams |= dict.fromkeys(besides, 0.1 * amount)
    silver_said = re.search(r"(\d+(?:\.\d+)?) ?g/L (?:of )?(?:dissolved )?silver\b", strength)
    if (thinned := _THINNED.search(strength)) and not solid:
        ml = [float(thinned[n]) * (1000 if thinned[n + 1] in ("L", "l") else 1) for n in (1, 3)]
        grams = {each: g * min(1.0, ml[0] / ml[1]) for each, g in grams.items()}
    if (told_ph := _PH.search(strength.lower())) and not solid:
        grams = _of_ph(float(told_ph[1])) | grams
    if silver_said and key in ("ammonium_thiosulfate", "sodium_thiosulfate") and not solid and not contents:
        # So much silver is in it; the fixer is as strong as fixers are.
        grams |= {key: USUAL[key], "silver_thiosulfate": float(silver_said[1])}
    if (
        key
        and not contents
        and name.lower().startswith(("used", "old"))
        and "bleach" in name.lower()
        and solid is False
    ):
        grams |= _also(strength, key)
    if solid:
        dust = re.search(r"powder|dust|turnings|filings", strength.lower())
        made = powder(f"{name} {dust[0]}" if dust and key in ("zinc", "magnesium", "aluminium") else name, grams)
        water = _WATER.search(role)
        if water:
            # It stands there dissolved or wetted, as the role says.
            held_ml = _SAID_ML.get(water["said"] or "", 250.0)
            made = replace(made, water_ml=amount_of(water.group(0))[0] if water.group(1) else held_ml)
    else:
        volume = amount if unit == "mL" else amount / 1.2
        neat = key in NEAT and grams.keys() == {key} and grams[key] >= _NEAT_SHARE * NEAT[key]
        made = liquid(name, grams, volume, density_g_per_ml=grams[key] / 1000 if neat and key else None)
        if unit == "g" and not strength:
            made = powder(name, dict.fromkeys(list(grams)[:1], amount))
    if (
        made.solid
        and made.grams
        and re.search(r"\bdamp\b", f"{name} {role}".lower())
        and not re.search(r"moist air|not damp", role)
    ):
        made = replace(made, water_ml=0.04 * made.grams)
    if "working fixer" in name.lower() and not solid and any("thiosulfate" in held for held in made.moles):
        # Every fixer that is sold or mixed for use holds sulfite.
        made = liquid(name, {**grams, "sodium_sulfite": 10.0}, made.volume_ml)
    if re.search(r"\b(charging|on charge|charger)\b", role.lower()):
        made = replace(made, name=f"{name}, charging")
    if re.search(r"\bin the same (bath|bottle|solution)$", name):
        # It is part of what was named before, and brings no water of its own.
        made = replace(made, water_ml=0.0)
    slowly = bool(
        _JUST_ENOUGH.search(role)
        or re.search(
            r"portions|slowly|drop by drop|(small )?pinch(es)?|little by little|(small |by the )spoon|by spoonfuls",
            role,
        )
    )
    return replace(made, at_once=not slowly)


def _of_ph(ph: float) -> dict[str, float]:
    """What usually makes such a pH in a bath, g/L."""
    if ph < _ACETATE_PH:
        return {"sulfuric_acid": 98 * 10**-ph / 1.2}
    if ph <= _NEUTRAL_PH:
        return {"acetic_acid": _BATH_ACID, "sodium_acetate": _BATH_ACID}
    return {"sodium_hydroxide": 40 * 10 ** (ph - 14)} if ph >= _LYE_PH else {}


_NAMED = re.compile(
    r"\d+(?:\.\d+)?\s*(?:mL/L|g/L|% w/w|% w/v|%|mol/L|mg/L)\s+(?:of )?([a-z][a-z()-]*(?: [a-z()-]+)?)", re.I
)


def _of_another(strength: str, key: str) -> dict[str, float]:
    """Strengths that name something else than the part itself, such as "30 % nitric acid" of a silver solution."""
    found: dict[str, float] = {}
    for match in _NAMED.finditer(strength):
        words = [w for w in WORDS if w not in _VAGUE and _begins(w, match[1].lower())]
        if match[1].lower() == "acid" and "%" in match[0] and "oxidiser" in substances()[key].classes:
            words = ["sulfuric acid"]
        if words and (other := WORDS[max(words, key=len)]) != key:
            value = grams_per_l(match[0], other)
            if value is not None:
                found[other] = value
    return found


def _also(strength: str, key: str) -> dict[str, float]:
    """Further parts that a strength names, such as "2 g/L in 10 mL/L sulfuric acid"."""
    found: dict[str, float] = {}
    strength = re.sub(r"\b(no|without|not|free of) (\w+ )?\w+", " ", strength)
    for piece in re.split(r"\bin\b|\bwith\b|\band\b|,", strength)[1:]:
        other = key_of(piece)
        if other and other not in ("water", key):
            value = grams_per_l(piece, other)
            if value is not None or other in USUAL:
                found[other] = USUAL.get(other, 10.0) if value is None else value
    if re.search(r"\bacid\b", strength) and not found and key in ("potassium_permanganate", "potassium_dichromate"):
        found["sulfuric_acid"] = 9.0
    return found


# What is said of the part that does it, and of the part that it is done to.
_JUST_ENOUGH = re.compile(
    r"\b(just enough|until (it is |it's |it turns |all |the )?(purple|pink|brown|colou?r|yellow|orange|clear|colou?rless|green|white|decolou?rised|gone|pale)|to decolou?rise)\b"
)
_AFTERWARDS = re.compile(r"[ ,]*\b(decolou?rised|destroyed|already reduced|fully reduced)\b")


def _still_there(parts: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Parts before they meet: where a later one takes the oxidiser away, the oxidiser is still there for it to take."""
    does = any(_JUST_ENOUGH.search(str(part.get("role") or "")) for part in parts[1:])
    return [part | {"substance": _AFTERWARDS.sub("", part["substance"])} for part in parts] if does else parts


def read(situation: dict[str, Any]) -> Read:
    """A situation as portions and setting."""
    if told_in_fields(situation):
        return Read(*in_fields(situation), [])
    unknown: list[str] = []
    told = " ".join(str(p.get("role") or "") for p in situation["parts"]).lower()
    said = " ".join(f"{p.get('role') or ''} {p.get('strength') or ''}" for p in situation["parts"]).lower()
    if situation["context"] == "damp" and len(situation["parts"]) > 1:
        # What the air brings is what the place says.
        wet = [p for p in situation["parts"] if not _AIR.fullmatch(str(p["substance"]).lower())]
        situation = situation | {"parts": wet or situation["parts"]}
    portions = [portion_of(part, unknown) for part in _still_there(situation["parts"])]
    for part, made in zip(situation["parts"], tuple(portions), strict=True):
        # Solid lye that meets water left in a cup warms it; what is named as one thing is two.
        if (
            made.water_ml
            and made.has("hydroxide")
            and _WATER.search(str(part.get("role") or ""))
            and _SOLID_WORDS.search(str(part.get("strength") or "").lower())
        ):
            portions[portions.index(made)] = replace(made, water_ml=0.0)
            portions.insert(0, Portion("water", {}, made.water_ml))
    room = situation.get("room")
    if room is not None:
        usual = unknown_room()
        room = {
            "volume_m3": float(room.get("volume_m3") or usual.volume_m3),
            "air_changes_per_h": float(
                usual.air_changes_per_h if room.get("air_changes_per_h") is None else room["air_changes_per_h"]
            ),
        }
    outdoors = re.search(
        r"\b(outdoors|outside|open air|on the (patio|balcony|lawn|terrace)|in the (garden|yard|open))\b", told
    )
    if outdoors and not room:
        room = {"volume_m3": _YARD_M3, "air_changes_per_h": _WIND_PER_H}
    where = Room(max(0.5, room["volume_m3"]), room["air_changes_per_h"]) if room else unknown_room()
    place = PLACES_BY_WORD.get(str(situation["context"]).lower().replace(" ", "_").replace("-", "_"), "mixing")
    hours = float(
        situation.get("hours") or next((h for words, h in _SAID_HOURS.items() if re.search(words, told)), 0.0)
    )
    if place == "room" and len(portions) > 1 and _come_together(situation["parts"]):
        place = "mixing"
    if place == "shelf" and len(portions) == 1 and _DRIPS.search(told):
        place = "damp"
    if place == "mixing" and len(portions) > 1 and len(situation["parts"]) == len(portions):
        # What is trickled into the other comes after it.
        roles = [str(p.get("role") or "").lower() for p in situation["parts"]]
        if _GOES_IN.search(roles[0]) and _WAITS.search(roles[1]) and not _GOES_IN.search(roles[1]):
            portions[:2] = portions[1::-1]
    setting = setting_for(place, where, hours=hours)
    if place in ("room", "standing") and hours:
        setting = replace(setting, breathing_min=min(60.0, 60 * hours))
    vessel = _VESSEL.search(said)
    if vessel:
        metal = "lead" if vessel.group(1) == "lead" else str(key_of(vessel.group(1)))
        portions.append(powder(vessel.group(0), {metal: 50.0}))
    if place == "shelf" and re.search(r"\b(tin|steel can|metal can) of\b", " ".join(p.name for p in portions).lower()):
        portions.append(powder("the tin", {"iron": 50.0}))
    if place == "room" and re.search(
        r"\b(spilt|spilled|spills?|knocked over|breaks?|broke|broken|smashed|smashes|dropped|tipped over|tips over|(on|onto|over|across) the (bathroom |kitchen |cellar |tiled )?(floor|tiles|carpet|table top)(?! of)|bursts?|slops? over|(runs|ran|leaks|leaked) (out )?(over|onto|across))\b",
        said,
    ):
        # A puddle is some millimetres deep.
        setting = replace(
            setting,
            spilt=True,
            surface_m2=max(
                setting.surface_m2,
                min(LARGEST_PUDDLE_M2, math.fsum(p.volume_ml for p in portions) / PUDDLE_ML_PER_M2),
            ),
        )
    if re.search(
        r"\b(boil|evaporat|cook|simmer|steam|heat)(s|ed|ing|ting)? ?(it )?(down )?(dry\b|to (full )?(dryness|a (dry )?(crust|cake|powder)))|left heating|boil(ed|ing|s)? down\b|forgotten on (the|a) (stove|hob|hotplate|hot plate|ring)",
        said,
    ):
        setting = replace(setting, temperature_c=200.0)
        portions = [replace(p, water_ml=0.0) for p in portions]
    if place in ("room", "standing") and _SPREAD.search(told):
        # Wiped or brushed on, all of it evaporates.
        thin_m2 = math.fsum(p.volume_ml for p in portions) / _WIPED_ML_PER_M2
        setting = replace(setting, spilt=True, surface_m2=max(setting.surface_m2, min(LARGEST_PUDDLE_M2, thin_m2)))
    tray = re.search(r"(\d+)\s*x\s*(\d+)\s*cm", said)
    if tray:
        setting = replace(setting, surface_m2=float(tray.group(1)) * float(tray.group(2)) / 1e4)
    burns_here = " ".join(
        [
            *unknown,
            *(
                p["substance"]
                for p in situation["parts"]
                if _GLOWS.search(p["substance"].lower()) or _ALIGHT.search(p["substance"].lower())
            ),
        ]
    ).lower()
    if _FLAME.search(f"{said} {burns_here}") and not _NO_FLAME.search(said):
        setting = replace(setting, flame=True)
    names = " ".join(str(p["substance"]) for p in situation["parts"]).lower()
    if re.search(r"\bburn(t|ed)\b", said):
        setting = replace(setting, flame=True)
    if setting.temperature_c > 100:
        pass
    elif re.search(r"boil|simmer|hot ?plate.*(syrup|evaporat|thick)", said):
        setting = replace(setting, temperature_c=95.0)
    elif _HOT_PLATE.search(said) and all(
        p.solid or p.has("solvent") or p.has("fuel_gas") or p.has("mercury") for p in portions
    ):
        setting = replace(setting, temperature_c=200.0)
    elif re.search(r"\b(generator|engine|exhaust|lawnmower)\b", names) or (
        _WARMS.search(f"{said} {names}") and any(p.moles.get("charcoal") or p.has("fuel_gas") for p in portions)
    ):
        setting = replace(setting, temperature_c=200.0, flame=True)
    elif re.search(r"\bmolten\b", names):
        setting = replace(setting, temperature_c=350.0)
    elif re.search(r"\bhot (frying |chip |deep )?(oil|fat|wax)|burning (oil|fat|wax)", names):
        setting = replace(setting, temperature_c=180.0)
    elif re.search(r"near boiling|boiling (hot )?water|scalding", names):
        setting = replace(setting, temperature_c=90.0)
    elif re.search(r"\bhot (tap )?water\b(?! bottle)", names):
        setting = replace(setting, temperature_c=55.0)
    elif re.search(r"\bhot\b|heated", said):
        degrees = re.search(r"\b([3-9]\d)\s*c\b", said)
        setting = replace(setting, temperature_c=float(degrees.group(1)) if degrees else 70.0)
    elif stated := re.search(r"(?:at|to|of|in|nearly|about) (?:about )?([3-9]\d) ?(?:c|degrees)\b", f"{said} {names}"):
        setting = replace(setting, temperature_c=float(stated[1]))
    elif re.search(r"\bwarm(ed)?\b", said):
        degrees = re.search(r"(\d+)\s*c\b", said)
        setting = replace(setting, temperature_c=float(degrees.group(1)) if degrees else 40.0)
    if setting.temperature_c < 30 and re.search(r"\bsun(ny|light|shine)?\b|radiator|boiler", said):
        setting = replace(setting, temperature_c=35.0)
    capped = re.search(
        r"\b(lid clamped|clamped (down|shut|on)|stopper (is )?(in|pushed in|pressed in)|cap (is |was )?(put back on|back on|tightened|turned tight|done up)|capped|lid closed|tight(ly)?|airtight|shaken(?! in)|corked|lidded|lid (is )?(held )?tight|tight lid|cap tight|screwed (down|shut|tight)|wired down|lid (pressed|hammered|forced|clipped) (on|down|shut)|(?<!window )plugged|clip-top|swing-top|screw cap|sealed|screwed|stoppered|cap on|bottle closed|closed (\w+ )?(bottle|jug|canister|drum|jar|tub|tin|box|bag|can)|lid (on|shut))\b",
        said,
    )
    if place == "standing" and len(portions) == 1 and not capped and re.search(r"\bbottle\b", said):
        # Its neck is all that is open.
        setting = replace(setting, surface_m2=0.003)
    if capped and place in ("carry_over", "jug", "standing", "mixing", "damp"):
        setting = replace(setting, closed=True)
    if place == "shelf" and len(portions) == 1 and re.search(r"\b(tight|capped|sealed|stoppered)", said):
        setting = replace(setting, closed=True)
    said = said.replace("mineral-water", "mineral water").replace("soft-drink", "soft drink")
    kept = _KEPT_FROM.sub(" ", said)
    if (
        _FOOD.search(kept)
        or (place == "shelf" and _NAMELESS.search(kept))
        or re.search(
            r"\b(food|spice|sugar|salt|tea|coffee|marmalade|baby|kitchen|jam|lemonade|squash|cordial|syrup|pop|cider|whisky|gin|vodka|spirits|tonic|juice|drinks?|drinking|beer|wine|milk|mineral water|soft.?drink|cola|honey)\b[a-z -]{0,20}"
            r"\b(jar|bottle|can|glass|cup|box|tin|mug)s?\b|\bamong the (drinks|food|bottles of drink)\b|"
            r"\b(in|within) (the )?reach of (\w+ )?(child|toddler)|child'?s reach|children'?s reach|where (\w+ )?child(ren)? (can )?reach",
            said,
        )
    ):
        setting = replace(setting, food_vessel=True)
    in_tank = place in ("room", "standing") and re.search(r"\bin (a|the) (film |developing )?tank\b", said)
    if in_tank or (place in ("room", "standing") and re.search(r"lid on|(?<!un)covered|with a lid|lidded", said)):
        setting = replace(setting, surface_m2=0.003)
    if setting.closed and re.search(r"\bvented|open (bottle|jug|bucket|can|drum|pail|narrow|wide)|\bloose", said):
        setting = replace(setting, closed=False)
    if setting.closed and re.search(
        r"\bin (the|an?) (oven|fire|microwave)|on (the|a) (stove|hob|ring|hot ?plate)|in boiling", said
    ):
        setting = replace(setting, temperature_c=max(150.0, setting.temperature_c))
    if setting.closed:
        size = re.search(r"(\d+(?:\.\d+)?)\s*l\b", said)
        filled = sum(p.volume_ml for p in portions)
        if size and 1000 * float(size.group(1)) > filled:
            setting = replace(setting, headspace_ml=1000 * float(size.group(1)) - filled)
        elif re.search(r"full", said):
            setting = replace(setting, headspace_ml=max(20.0, 0.05 * filled))
        elif place == "carry_over":
            setting = replace(setting, headspace_ml=60.0)
    if re.search(r"\buv-?c\b|germicidal", f"{said} {names}") and not re.search(
        r"\b(switched off|unplugged|enclosed|closed box)\b", said
    ):
        setting = replace(setting, ultraviolet=True)
    if _DUSTY.search(_NOT_DUSTY.sub(" ", said)):
        setting = replace(setting, dusty=True)
    if not setting.closed and re.search(
        r"\bnarrow|\b(open|uncapped|in (a|the)) (\w+ )?(bottle|flask|carboy|demijohn)\b", said
    ):
        setting = replace(setting, narrow=True)
    if re.search(r"\bglass (jug|jar|bottle|flask|demijohn|carboy)|\b(in|of) (a |the )?([\w.]+ )*glass\b", said):
        setting = replace(setting, glass=True)
    if re.search(r"ground[- ]glass|glass[- ]stopper", said):
        setting = replace(setting, glass_stopper=True)
    if re.search(r"\basthma", said):
        setting = replace(setting, asthma=True)
    if re.search(
        r"septic|storm drain|gully|road drain|soakaway|cesspit|cesspool|\b(pond|stream|brook|ditch|garden|lawn|soil)\b",
        said,
    ):
        setting = replace(setting, septic=True)
    if place == "drain" and not vessel and re.search(r"\bmetal (pipe|trap|drain|sink|waste)", said):
        portions.append(powder("the pipe", {"iron": 50.0, "copper": 20.0}))
    if _SKIN.search(f"{said} {names}"):
        setting = replace(setting, bare_hands=True)
    if re.search(r"acidified", said):
        setting = replace(setting, acidified=True)
    for part, made in zip(situation["parts"], tuple(portions), strict=False):
        # "Tipped in with sulfuric acid": a glass of it, thin.
        added = re.search(
            r"\bwith (\w+ ){0,2}(sulph?uric|hydrochloric|nitric) acid", str(part.get("role") or "").lower()
        )
        if added and (acid := key_of(f"{added[2]} acid")) and acid not in made.moles:
            portions.append(liquid("the acid with it", {acid: 100.0}, 50.0))
    for part in situation["parts"]:
        if (
            re.search(r"\b(rag|cloth|towel)s?\b", str(part["substance"]).lower())
            and key_of(part["substance"]) != "cellulose"
        ):
            portions.append(powder("the cloth of it", {"cellulose": 0.5 * amount_of(str(part.get("amount", "")))[0]}))
        # What lies with it, named only in passing: an oily rag, a paper label.
        beside = re.search(
            r"\b(with|wrapped in|on|into|in) (an? )?(\w+ ){0,2}(rag|cloth|newspaper|paper|towel|sawdust|wood|cotton|tissue|oil|grease)",
            str(part.get("role", "")),
        )
        if beside:
            portions.append(powder("what lies with it", {"cellulose": 50.0}))
    if re.search(r"\b(rust|rusty|rusted|iron filings|metal (chips|filings|dust))\b(?! remover)", said):
        portions.append(powder("rust in it", {"iron_iii_chloride": 3.0}))
    named_with = " ".join(re.findall(r"with (?:dissolved |the )?silver\b", names))
    if any(p.has("peroxide") for p in portions) and re.search(
        r"\b(copper|iron|mangan\w+|permanganate|silver)\b|with (dissolved |the )?silver\b", f"{told} {named_with}"
    ):
        portions.append(powder("what is in it", {"copper_ii_sulfate_pentahydrate": 5.0}))
    rinse = situation.get("rinse")
    if isinstance(rinse, str) and portions:
        # The amount is then what is carried; a full wash leaves a thousandth of it, a short rinse a fifth (our judgement).
        portions[0] = portions[0].times({"full": 0.001, "short": 0.2}.get(rinse, 1.0))
    elif rinse and portions:
        fills, tank, carried = (
            int(rinse.get("fills", 0)),
            float(rinse.get("tank_ml", 500)),
            float(rinse.get("carried_ml", 30)),
        )
        first = portions[0]
        if not fills and "carried_ml" not in rinse and first.volume_ml <= _LEFT_IN_A_TANK_ML:
            # So little is itself what was left in the tank.
            carried = first.volume_ml
        share = min(1.0, carried / max(1.0, first.volume_ml)) * (carried / tank) ** fills
        portions[0] = first.times(share)
    later = re.search(
        r"\b(yesterday|the day before|days? (ago|earlier|before))\b|\bthen (\d\d+|ten|twenty) ?l(itres)? of (\w+ )?water|evening before|night before|long gone|\b\d+ ?l (of )?(tap )?water (after|between|run|since)|"
        r"after (ten|\d+|several|many|a few) flushes|(flushed|rinsed) (ten|\d+|several|many) times|hours (later|after)|next day|(\d+)\s*l of water later|(well|twice|thoroughly) flushed|flushed (well|twice|through|thoroughly|away|with (?!an? (cup|glass|mug)|(half )?a litre))|after (much|plenty of|\d+ l of) water|"
        r"(rinsed|followed|chased|run through) (with|by) (\d+|ten|twenty|thirty|fifty|many|several|plenty|much|buckets|a bucket)",
        said,
    )
    if later and place == "drain" and len(portions) > 1:
        # Water after one of them says which of them is gone.
        gone = next(
            (
                n
                for n, p in enumerate(situation["parts"])
                if re.search(r"water (after|since)", str(p.get("role") or ""))
            ),
            0,
        )
        portions[gone] = portions[gone].times(0.001)
    return Read(portions, setting, unknown)


# One thing that goes into or onto the other; and what it goes into that is its own vessel, or the floor.
_MEETS = re.compile(
    r"\b(spilled|spilt|poured|dripped|dripping|knocked|tipped|splashed|dissolv(es|ed|ing)|stirred|mixed|added|sprinkled|scattered|dropped|thrown|squirted|emptied|dumped|shaken|scrubbed|mopped|run|stood|put|fell|falls) "
    rf"(in(to)?|on(to)?|over|together|with|through)\b(?! {_A_CLOTH})"
)
_ON_THE_FLOOR = re.compile(
    r"\b(in|into|on|onto|over|across) (the|an?|his|her|my) (\w+ ){0,2}(floor|floorboards|tiles|carpet|rug|mat|bench|table|worktop|desk)\b"
)
_OWN_VESSEL = re.compile(
    r"\b(in|into) (an?|its own|another|his|her|my) (\w+ ){0,2}(tray|dish|bowl|bucket|jar|glass|cup|saucer|basin|tub|beaker|jug)\b"
)


def _come_together(parts: list[dict[str, Any]]) -> bool:
    """Whether things in one room meet by what is done with them."""
    roles = [str(part.get("role") or "").lower() for part in parts]
    if sum(bool(_ON_THE_FLOOR.search(role)) for role in roles) > 1 and any(map(_MEETS.search, roles)):
        return True
    return any(_MEETS.search(_OWN_VESSEL.sub(" ", _ON_THE_FLOOR.sub(" ", role))) for role in roles)


# What comes second, and what is there already.
_GOES_IN = re.compile(
    r"\b(trickled|dripped|poured|added|stirred|tipped|run|dropped|let) (in|slowly in|into)\b|\bgoes in\b|\b(slowly|carefully|drop by drop|in a thin stream)\b"
)
_WAITS = re.compile(
    r"^(in|already in|waiting|standing|there first|first|put in)\b|\bin the (jug|beaker|bucket|bowl|jar|tray|tank|basin|glass|sink)\b|already (there|in)|\bwaiting\b"
)
# Hours that words say where nobody counts them.
_SAID_HOURS = {
    r"\byears ago|\b(for|of) (\w+ )?years\b|\b(two|three|four|five|six|seven|eight|nine|ten|twelve|fifteen|twenty|thirty|\d+|many|several|some) years\b": 20000.0, r"\b(for|two|three|six|several|some) ?(\w+ )?months?\b|(all|last) (month|season|winter|summer)": 2000.0,
    r"\b(for|two|three|several|some) ?(\w+ )?weeks?\b|last week": 400.0, r"\b(for|two|three|several|some) ?(\w+ )?days\b|over the weekend": 60.0, r"\bfor a day\b|all day|since yesterday": 24.0,
    r"\bover ?night\b|all night|till morning|until morning|next morning": 10.0, r"all evening": 4.0,
}  # fmt: skip
# Wiped, brushed or laid out to dry, and how much of it covers a square metre.
_SPREAD = re.compile(
    rf"\b(on|onto|in|with) {_A_CLOTH}|\b(wip(ed?|es|ing)|brush(ed|ing) (on|over|along)|drying|dries on|left to dry|polish(ed|ing)|painted|varnish(ed|ing)|rubbed (on|over)|spread (out|over|on)|mopp(ed|ing)|soaked into (a|the) (rag|cloth|carpet|sofa))\b"
)
_WIPED_ML_PER_M2 = 100.0
# A yard, and how often the wind exchanges its air.
_YARD_M3, _WIND_PER_H = 1000.0, 60.0
# mL that a tank holds back when nobody rinses it.
_LEFT_IN_A_TANK_ML = 100.0
# What keeps two things from ever meeting: another room.
_ELSEWHERE = re.compile(
    r"\b(next door|across the room|(an|the)?other room|different rooms?|separate rooms?|other end of the house|downstairs|upstairs|outhouse|own room|"
    r"in the (garage|shed|attic|loft|kitchen|bathroom|laundry|cellar|garden)\b.{0,30}\b(while|and the|apart|far))\b"
)


def effects_of(situation: dict[str, Any], got: Read) -> tuple[Effect, ...]:
    """What the engine finds; of bottles in different rooms what each does by itself."""
    roles = " ".join(str(p.get("role") or "") for p in situation["parts"]).lower()
    apart = (
        _ELSEWHERE.search(roles)
        or (got.setting.place == "shelf" and _OTHER_TRAY.search(roles))
        or (got.setting.place == "shelf" and len(_APART.findall(roles)) > 1)
    )
    if got.setting.place in ("shelf", "room") and len(got.portions) > 1 and apart:
        alone = (effect for portion in got.portions for effect in assess([portion], got.setting))
        # On a shelf a bottle stands closed.
        return tuple(e for e in alone if got.setting.place == "room" or e.mechanism not in OWN_VAPOURS)
    return assess(got.portions, got.setting)


def verdict(effects: tuple[Effect, ...]) -> str:
    """What the engine does: refuse, caution or silent."""
    return {4: "refuse", 3: "caution", 2: "caution"}.get(severity_of(effects), "silent")


def run(situations: list[dict[str, Any]]) -> tuple[dict[str, Any], list[str]]:
    """Figures and disagreements."""
    rows: list[tuple[str, str, str, str]] = []
    lines: list[str] = []
    unknown: Counter[str] = Counter()
    for situation in situations:
        truth = situation["truth"]
        severity = int(truth.get("severity") or 0)
        must = truth.get("must") or ("refuse" if severity >= 4 else "caution" if severity >= 2 else "silent")
        kind = situation.get("kind") or ("ordinary" if must == "silent" else "dangerous")
        try:
            got = read(situation)
        except (InputError, KeyError, ValueError) as error:
            # What cannot be read counts as silent: the worst for the engine.
            rows.append((situation["context"], kind, must, "silent"))
            lines.append(f"{situation.get('id', '?')} could not be read: {error}")
            continue
        unknown.update(got.unknown)
        effects = effects_of(situation, got)
        says = verdict(effects)
        rows.append((situation["context"], kind, must, says))
        if says != must:
            heard = "; ".join(f"{e.severity} {e.what} ({e.amount})" for e in effects[:3]) or "nothing"
            parts = " + ".join(map(_shown, situation["parts"]))
            lines.append(
                f"{situation.get('id', '?')} {situation['context']}: must {must}, engine {says}. {parts}. Truth: {truth.get('what', '')}. Engine: {heard}"
            )
    return figures(rows) | {"unknown names": dict(unknown)}, lines


def _shown(part: dict[str, Any]) -> str:
    if "substance" in part:
        return f"{part['substance']} {part.get('strength', '')} {part.get('amount', '')}"
    amounts = part["grams"] if "grams" in part else part["holds"] | {"mL": part["volume_ml"]}
    return f"{part['name']} {amounts}"


def figures(rows: list[tuple[str, str, str, str]]) -> dict[str, Any]:
    """Missed lethal, found, false refusals and needless cautions, in all and by context."""

    def of(some: list[tuple[str, str, str, str]]) -> dict[str, Any]:
        lethal = [r for r in some if r[2] == "refuse"]
        dangerous = [r for r in some if r[1] == "dangerous"]
        ordinary = [r for r in some if r[1] == "ordinary"]
        return {
            "situations": len(some),
            "lethal": len(lethal),
            "lethal missed (silent)": sum(r[3] == "silent" for r in lethal),
            "lethal only cautioned": sum(r[3] == "caution" for r in lethal),
            "dangerous": len(dangerous),
            "dangerous found %": round(100 * sum(r[3] != "silent" for r in dangerous) / len(dangerous), 1)
            if dangerous
            else None,
            "cautions made refusals": sum(r[2] == "caution" and r[3] == "refuse" for r in some),
            "ordinary": len(ordinary),
            "false refusals": sum(r[3] == "refuse" for r in ordinary),
            "needless cautions %": round(100 * sum(r[3] == "caution" for r in ordinary) / len(ordinary), 1)
            if ordinary
            else None,
        }

    by: dict[str, list[tuple[str, str, str, str]]] = defaultdict(list)
    for row in rows:
        by[row[0]].append(row)
    return {"all": of(rows), **{context: of(some) for context, some in by.items()}}


def main() -> None:
    """Print the figures and each disagreement."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("file", type=Path)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    found, lines = run(json.loads(options.file.read_text(encoding="utf-8")))
    if options.json:
        print(json.dumps({"figures": found, "disagreements": lines}, indent=1))
        return
    for context, row in found.items():
        print(f"{context}: " + ", ".join(f"{name} {value}" for name, value in row.items()))
    print(*lines, sep="\n")


if __name__ == "__main__":
    main()
