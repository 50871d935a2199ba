"""What the air of the room may hold: the well-mixed room, an estimate and never a promise.

V dC/dt = G - Q C (record ``room.formula``). Whoever bends over a tank breathes more than the mean of
the room: around the bath stands a half sphere of air that exchanges with the room at beta, half its
free surface times the random air speed, so that there C = C_room + G / beta (the two-zone model; records
``practice.air.near_*``). For what is set free at once the near figure is a plain multiple of the mean
(``practice.air.burst_near``). Nothing here says that air is safe.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from obverse.chemistry import GAS_J_PER_MOL_K, KELVIN, ammonia_pressure_pa, molar_mass_g_per_mol
from obverse.foundation import Caution, InputError, JsonObject, Level
from obverse.reference import number, record

# One standard atmosphere: exact by definition.
ATMOSPHERE_PA = 101_325.0
# A room where nobody says otherwise: its air, and how often an hour it is exchanged with the window closed; common practice.
ROOM_C, CLOSED_WINDOW_PER_H = 20.0, 0.5
# Moles of sulfur dioxide that acid may free of a mole of each, at most.
SULFUR_DIOXIDE_OF = {
    "sodium_metabisulfite": 2.0,
    "sodium_sulfite": 1.0,
    "sodium_dithionite": 1.5,
    "ammonium_thiosulfate": 1.0,
}

# Gas -> (record of its molar mass, record of its limits).
GASES = {
    "ammonia": ("ammonia", "limit.NH3"),
    "sulfur_dioxide": ("sulfur_dioxide", "limit.SO2"),
    "chlorine": ("chlorine", "limit.Cl2"),
    "hydrogen_cyanide": ("hydrogen_cyanide", "limit.HCN"),
    "hydrogen_sulfide": ("hydrogen_sulfide", "limit.H2S"),
}

# What kind of time a published limit is meant for, by the tail of its name in the record.
LIMIT_WORDS = {
    "EU_8h": "mean over a working day",
    "EU_15min": "mean over 15 minutes",
    "REL": "mean over a working day",
    "PEL": "mean over a working day",
    "TWA": "mean over a working day",
    "STEL": "mean over 15 minutes",
    "ceiling_15min": "mean over 15 minutes",
    "ceiling": "never to be passed",
    "IDLH": "immediate danger to life or health",
}


@dataclass(frozen=True, slots=True)
class Room:
    """The room one works in.

    Parameters
    ----------
    volume_m3 : float
    air_changes_per_h : float
        Fresh air; about 0.5 with a closed window, several with a fan. Unknown means closed.
    temperature_c : float
    """

    volume_m3: float
    air_changes_per_h: float = CLOSED_WINDOW_PER_H
    temperature_c: float = ROOM_C

    def __post_init__(self) -> None:
        if not (math.isfinite(self.volume_m3) and 0.5 <= self.volume_m3 <= 10_000):
            raise InputError(
                f"a room of {self.volume_m3:g} m3 cannot be",
                where="room",
                remedy="give length x width x height in metres",
            )
        if not (math.isfinite(self.air_changes_per_h) and 0 <= self.air_changes_per_h <= 100):
            raise InputError(
                f"{self.air_changes_per_h:g} air changes an hour cannot be", where="room", remedy="give 0 to 100"
            )
        if not -10 <= self.temperature_c <= 45:
            raise InputError(
                f"a room at {self.temperature_c:g} C cannot be worked in", where="room", remedy="give -10 to 45 C"
            )


@dataclass(frozen=True, slots=True)
class LimitShown:
    """A published limit and how far the estimate stands to it."""

    name: str
    ppm: float
    meant_for: str
    passed: bool


@dataclass(frozen=True, slots=True)
class AirEstimate:
    """What the air may hold of one gas.

    Parameters
    ----------
    gas : str
    ppm_room : tuple of float
        Low, likely and high of the mean of the room at the end of the time.
    ppm_near : tuple of float
        The same near the bath.
    limits : tuple of LimitShown
        Published limits, lowest first; `passed` compares the high figure near the bath.
    clears_in_min : float or None
        After the release has stopped: time until the high room figure is under the lowest limit. None if never.
    """

    gas: str
    ppm_room: tuple[float, float, float]
    ppm_near: tuple[float, float, float]
    limits: tuple[LimitShown, ...]
    limits_source: str
    limits_standing: str
    clears_in_min: float | None
    cautions: tuple[Caution, ...]

    def document(self) -> JsonObject:
        """The JSON shape."""
        names = ("low", "likely", "high")
        return {
            "gas": self.gas,
            "estimate": "an estimate by the well-mixed-room model; it never says that air is safe",
            "ppm_room": dict(zip(names, self.ppm_room, strict=True)),
            "ppm_near": dict(zip(names, self.ppm_near, strict=True)),
            "limits": [
                {"name": x.name, "ppm": x.ppm, "meant_for": x.meant_for, "passed": x.passed} for x in self.limits
            ],
            "limits_source": {"text": self.limits_source, "standing": self.limits_standing},
            "clears_in_min": self.clears_in_min,
            "cautions": [caution.document() for caution in self.cautions],
        }


def room_concentration_mg_m3(
    generation_mg_per_h: float,
    volume_m3: float,
    removal_per_h: float,
    time_h: float,
    *,
    start_mg_m3: float = 0.0,
    outside_mg_m3: float = 0.0,
    air_changes_per_h: float | None = None,
) -> float:
    """Concentration of a well-mixed room after a time.

    Parameters
    ----------
    removal_per_h : float
        All that takes the gas away, per hour: air changes, filter, deposition.
    outside_mg_m3 : float
        Of the air that comes in at `air_changes_per_h` (default: all of the removal).
    """
    changes = removal_per_h if air_changes_per_h is None else air_changes_per_h
    source = generation_mg_per_h / volume_m3 + changes * outside_mg_m3
    gone = removal_per_h * time_h
    # With hardly any removal the rise is a line; the quotient would lose its digits there.
    rising_h = time_h if gone < 1e-12 else -math.expm1(-gone) / removal_per_h
    return source * rising_h + start_mg_m3 * math.exp(-gone)


def purge_time_h(start: float, target: float, air_changes_per_h: float) -> float:
    """Time to air a room from one concentration to another, t = ln(C0 / C) / (air changes); inf without any."""
    if not (start >= 0 and target > 0 and air_changes_per_h >= 0):
        raise InputError("airing a room needs a target above zero and no negative number", remedy="correct the numbers")
    if start <= target:
        return 0.0
    return math.log(start / target) / air_changes_per_h if air_changes_per_h > 0 else math.inf


def ppm_of_mg_m3(mg_m3: float, molar_mass: float, temperature_c: float = ROOM_C) -> float:
    """Parts per million by volume at one atmosphere."""
    litres_per_mol = 1000 * GAS_J_PER_MOL_K * (temperature_c + KELVIN) / ATMOSPHERE_PA
    return mg_m3 * litres_per_mol / molar_mass


def ammonia_release_mg_per_h(concentration_mol_per_l: float, surface_m2: float, temperature_c: float = ROOM_C) -> float:
    """Ammonia leaving an open surface, G = k A C_sat, likely figure; k is known to its order of magnitude."""
    if not surface_m2 >= 0:
        raise InputError(f"a surface of {surface_m2:g} m2 cannot be", where="bath", remedy="give zero or more")
    pressure, _ = ammonia_pressure_pa(concentration_mol_per_l, temperature_c)
    saturated_mg_m3 = pressure * molar_mass_g_per_mol("ammonia") * 1000 / (GAS_J_PER_MOL_K * (temperature_c + KELVIN))
    return 3600 * number("vapour.transfer") * surface_m2 * saturated_mg_m3


def ammonia_in_air(room: Room, concentration_mol_per_l: float, surface_m2: float, time_min: float) -> AirEstimate:
    """Ammonia in the air at the end of a time beside an open bath.

    The release is taken as steady, though the bath weakens: that is on the high side.
    """
    spread = record("vapour.transfer").factor
    likely = ammonia_release_mg_per_h(concentration_mol_per_l, surface_m2, room.temperature_c)
    _, cautions = ammonia_pressure_pa(concentration_mol_per_l, room.temperature_c)
    return _estimate("ammonia", room, [likely / spread, likely, likely * spread], time_min, cautions)


def release_in_air(room: Room, gas: str, release_mg: float) -> AirEstimate:
    """A gas set free at once in the whole room: worst case, all of it and none aired yet."""
    _gas(gas)
    if not release_mg >= 0:
        raise InputError(f"a release of {release_mg:g} mg cannot be", where="room", remedy="give zero or more")
    mg_m3 = release_mg / room.volume_m3
    near = number("practice.air.burst_near") * mg_m3
    return _shown(gas, room, [mg_m3, mg_m3, mg_m3], [near, near, near], ())


def sulfur_dioxide_from_g(substance: str, grams: float) -> float:
    """Most SO2, in mg, that acid can set free from this much of a substance: every mole it can give."""
    per_mole = SULFUR_DIOXIDE_OF
    if substance not in per_mole:
        raise InputError(
            f"no yield of sulfur dioxide is held for {substance!r}", remedy="choose one of " + ", ".join(per_mole)
        )
    key = {"sodium_sulfite": "sodium_sulfite_anhydrous"}.get(substance, substance)
    return 1000 * grams / molar_mass_g_per_mol(key) * per_mole[substance] * molar_mass_g_per_mol("sulfur_dioxide")


def _gas(gas: str) -> tuple[str, str]:
    if gas not in GASES:
        raise InputError(f"no limits are held for {gas!r}", where="room", remedy="choose one of " + ", ".join(GASES))
    return GASES[gas]


def _estimate(
    gas: str, room: Room, releases_mg_per_h: list[float], time_min: float, cautions: tuple[Caution, ...]
) -> AirEstimate:
    if not 0 <= time_min <= 24 * 60:
        raise InputError(f"{time_min:g} minutes beside a bath cannot be", where="room", remedy="give 0 to 1440 minutes")
    held = [
        room_concentration_mg_m3(g, room.volume_m3, room.air_changes_per_h, time_min / 60) for g in releases_mg_per_h
    ]
    beta = near_exchange_m3_per_h()
    return _shown(
        gas,
        room,
        held,
        [mean + release / beta for mean, release in zip(held, releases_mg_per_h, strict=True)],
        cautions,
    )


def near_exchange_m3_per_h() -> float:
    """Air that the half sphere around the bath exchanges with the room: half its free surface times the air speed."""
    radius = number("practice.air.near_radius_m")
    return 0.5 * 2 * math.pi * radius**2 * number("practice.air.near_speed_m_per_s") * 3600


def _shown(
    gas: str, room: Room, mg_m3: list[float], near_mg_m3: list[float], cautions: tuple[Caution, ...]
) -> AirEstimate:
    mass_key, limit_key = _gas(gas)
    mass = molar_mass_g_per_mol(mass_key)
    ppm = [ppm_of_mg_m3(value, mass, room.temperature_c) for value in mg_m3]
    near = [ppm_of_mg_m3(value, mass, room.temperature_c) for value in near_mg_m3]
    known, european = record(limit_key), record(limit_key.replace("limit.", "limit_eu."))
    limits = sorted(
        (
            LimitShown(name.replace("_", " "), float(value), _meant_for(name), near[2] >= float(value))
            for name, value in (known.value | european.value).items()
            if isinstance(value, (int, float))
        ),
        key=lambda shown: shown.ppm,
    )
    lowest = limits[0].ppm
    clears = purge_time_h(ppm[2], lowest, room.air_changes_per_h)
    return AirEstimate(
        gas=gas.replace("_", " "),
        ppm_room=(ppm[0], ppm[1], ppm[2]),
        ppm_near=(near[0], near[1], near[2]),
        limits=tuple(limits),
        limits_source=f"{known.source.text}; {european.source.text}",
        limits_standing=known.source.words,
        clears_in_min=60 * clears if math.isfinite(clears) else None,
        cautions=(*cautions, *_words(gas, near[2], limits)),
    )


def _meant_for(name: str) -> str:
    return next((words for tail, words in LIMIT_WORDS.items() if name.endswith(tail)), "published limit")


def _words(gas: str, near_high: float, limits: list[LimitShown]) -> list[Caution]:
    name = gas.replace("_", " ")
    danger = next((x for x in limits if "IDLH" in x.name), None)
    told = [
        Caution(
            "air.estimate",
            "An estimate by the well-mixed-room model, on the high side; noses, lungs and rooms differ. It never says that air is safe.",
            Level.NOTE,
            source="room.formula",
        )
    ]
    if danger is not None and danger.passed:
        told.append(
            Caution(
                "air.idlh",
                f"The {name} near the bath may reach {near_high:.0f} ppm, above {danger.ppm:g} ppm, where life and health are in danger at once. "
                "Do not do this indoors.",
                Level.DANGER,
            )
        )
    elif any(x.passed for x in limits):
        first = next(x for x in limits if x.passed)
        told.append(
            Caution(
                "air.limit",
                f"The {name} near the bath may pass {first.ppm:g} ppm ({first.name}, {first.meant_for}). More air, a lid, a weaker bath, less time.",
                Level.CAUTION,
            )
        )
    else:
        told.append(
            Caution(
                "air.below",
                f"Under the published limits for {name} by this estimate; ventilate all the same.",
                Level.NOTE,
            )
        )
    return told
