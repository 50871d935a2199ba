"""Words for what the documents name: controls, observables, grades. One place, so that all pages speak alike."""

from __future__ import annotations

import re

CONTROLS: dict[str, tuple[str, str]] = {
    "first_developer_time_min": ("first development", "min"),
    "solvent_ml_per_l": ("solvent", "mL/L"),
    "alkali_ml_per_l": ("alkali", "mL/L"),
    "temperature_c": ("temperature", "\N{DEGREE SIGN}C"),
    "developer_parts_water": ("dilution 1 +", ""),
}

CONTROL_MEANINGS: dict[str, str] = {
    "first_developer_time_min": "minutes in the first developer",
    "solvent_ml_per_l": "rapid-fixer concentrate (ammonium thiosulfate 60 % w/v) in each litre of first developer",
    "alkali_ml_per_l": "household ammonia (5 % w/w) in each litre of first developer",
    "temperature_c": "of the first developer",
    "developer_parts_water": "parts of water to one of liquid paper developer",
}

OBSERVABLES: dict[str, tuple[str, str]] = {
    "dmax": ("Blacks", "density of the unexposed border, above base"),
    "highlight_density": ("Highlights", "density 0.80 above the mid-tone exposure, above base"),
    "gradient": ("Gradient", "mean slope from 0.25 below to 0.25 above the mid-tone"),
    "midtone_log_exposure": ("Mid-tone", "log exposure of the mid-tone density, against the metered one"),
}


def control_text(name: str, value: float) -> str:
    """Such as "first development 10 min" or "dilution 1 + 15"."""
    word, unit = CONTROLS[name]
    return f"{word} {value:g}{' ' + unit if unit else ''}"


def controls_text(controls: dict[str, float]) -> str:
    """All controls of a strip on one line, in the order of the house."""
    return ", ".join(control_text(name, controls[name]) for name in CONTROLS if name in controls)


def id_from(name: str, *, most: int, joint: str = "-", otherwise: str = "") -> str:
    """The letters and figures of a name as an id of at most `most` characters; `otherwise` where it has none."""
    return re.sub(r"[^a-z0-9]+", joint, name.lower()).strip(joint)[:most] or otherwise


def free_id(stem: str, taken, *, joint: str = "-") -> str:
    """The stem, or with the first number from 2 on that is not taken."""
    id, number = stem, 2
    while id in taken:
        id, number = f"{stem}{joint}{number}", number + 1
    return id
