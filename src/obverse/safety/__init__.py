"""Safety: what must not meet, what must not stand, what the air holds, how long a bath lasts, where waste goes.

Nothing of this floor ever says that something is safe: it warns, it refuses, and it defers to labels,
safety data sheets and local codes. How long a bath lasts is asked of `bath_life`, what
comes together of `meeting`, each by its own name.
"""

from obverse.safety.airborne import ROOM_C, AirEstimate, Room, ammonia_in_air, release_in_air, sulfur_dioxide_from_g
from obverse.safety.along_route import check_route
from obverse.safety.amounts import Amount, portion_of
from obverse.safety.body import Portion
from obverse.safety.by_chemistry import classes_of, usual_after_use, warnings_of
from obverse.safety.check import (
    USUAL_BATH_ML,
    as_worked,
    check_carry_over,
    check_mix,
    check_mixture,
    check_room,
    check_storage,
    check_waste_jug,
    not_judged,
    refuse_lethal,
    rinse_factor,
)
from obverse.safety.clip import MOST_CLIP_S, ClipTold, clip_does, clip_told, fresh_clip
from obverse.safety.derived import finding_of, once_each, shown_and_folded
from obverse.safety.destroy import (
    Residue,
    Supply,
    destruction_steps,
    destruction_supplies,
    residue_of,
    standing_caution,
)
from obverse.safety.engine import assess
from obverse.safety.film import wash_needed_min, wash_told
from obverse.safety.finding import Finding
from obverse.safety.hazards import HazardSheet, hazards_of, hazards_of_route
from obverse.safety.matter import (
    Given,
    Ingredient,
    Matter,
    as_matter,
    known_names,
    of_formula,
    of_product,
    of_substance,
    of_thing,
    things,
)
from obverse.safety.rules import CONTEXT_WORDS, pair_rules
from obverse.safety.said_as import EMPTY, meant_by
from obverse.safety.setting import HURTS, KILLS, setting_for, unknown_room
from obverse.safety.waste import (
    Jug,
    JugClass,
    Poured,
    cautions_of,
    jug_class,
    jug_classes,
    may_be_added,
    pour,
    silver_total_g,
    usual_jug,
    wrong_class,
)

__all__ = [
    "CONTEXT_WORDS",
    "EMPTY",
    "HURTS",
    "KILLS",
    "MOST_CLIP_S",
    "ROOM_C",
    "USUAL_BATH_ML",
    "AirEstimate",
    "Amount",
    "ClipTold",
    "Finding",
    "Given",
    "HazardSheet",
    "Ingredient",
    "Jug",
    "JugClass",
    "Matter",
    "Portion",
    "Poured",
    "Residue",
    "Room",
    "Supply",
    "ammonia_in_air",
    "as_matter",
    "as_worked",
    "assess",
    "cautions_of",
    "check_carry_over",
    "check_mix",
    "check_mixture",
    "check_room",
    "check_route",
    "check_storage",
    "check_waste_jug",
    "classes_of",
    "clip_does",
    "clip_told",
    "destruction_steps",
    "destruction_supplies",
    "finding_of",
    "fresh_clip",
    "hazards_of",
    "hazards_of_route",
    "jug_class",
    "jug_classes",
    "known_names",
    "may_be_added",
    "meant_by",
    "not_judged",
    "of_formula",
    "of_product",
    "of_substance",
    "of_thing",
    "once_each",
    "pair_rules",
    "portion_of",
    "pour",
    "refuse_lethal",
    "release_in_air",
    "residue_of",
    "rinse_factor",
    "setting_for",
    "shown_and_folded",
    "silver_total_g",
    "standing_caution",
    "sulfur_dioxide_from_g",
    "things",
    "unknown_room",
    "usual_after_use",
    "usual_jug",
    "warnings_of",
    "wash_needed_min",
    "wash_told",
    "wrong_class",
]
