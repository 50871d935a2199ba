"""Safety: what must not meet, what must not stand, what the air holds, how long a bath lasts, where waste goes.

Nothing of this floor ever says that something is safe: it warns, it refuses, and it defers to labels,
safety data sheets and local codes.
"""

from obverse.safety.by_chemistry import classes_of, usual_after_use, warnings_of
from obverse.safety.check import (
    as_worked,
    check_carry_over,
    check_mix,
    check_mixture,
    check_room,
    check_route,
    check_storage,
    check_waste_jug,
    not_judged,
    refuse_lethal,
    rinse_factor,
)
from obverse.safety.destroy import (
    Residue,
    Supply,
    destruction_steps,
    destruction_supplies,
    residue_of,
    standing_caution,
)
from obverse.safety.finding import Finding
from obverse.safety.matter import (
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

__all__ = [
    "CONTEXT_WORDS",
    "Finding",
    "Ingredient",
    "Matter",
    "Residue",
    "Supply",
    "as_matter",
    "as_worked",
    "check_carry_over",
    "check_mix",
    "check_mixture",
    "check_room",
    "check_route",
    "check_storage",
    "check_waste_jug",
    "classes_of",
    "destruction_steps",
    "destruction_supplies",
    "known_names",
    "not_judged",
    "of_formula",
    "of_product",
    "of_substance",
    "of_thing",
    "pair_rules",
    "refuse_lethal",
    "residue_of",
    "rinse_factor",
    "standing_caution",
    "things",
    "usual_after_use",
    "warnings_of",
]
