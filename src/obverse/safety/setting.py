"""Where and how matter meets: the vessel, the time, the room, and what the engine finds there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from obverse.reference import number, record
from obverse.safety.airborne import ROOM_C, Room

Place = Literal["mixing", "carry_over", "jug", "shelf", "room", "drain", "closed_jug", "standing", "damp"]
# Severities of an `Effect`: it can kill, it injures, it is worth a word.
KILLS, HURTS, TELLS = 4, 3, 2
# mL of air in a closed vessel that is full to its neck (our judgement).
LEAST_AIR_ML = 20.0


def unknown_room() -> Room:
    """The room of a person who has told nothing: a small bathroom with its door closed."""
    usual = record("practice.room.unknown").value
    return Room(usual["volume_m3"], usual["air_changes_per_h"])


@dataclass(frozen=True, slots=True)
class Setting:
    """How a meeting happens.

    Parameters
    ----------
    place : str
        As `Place` lists them.
    room : Room
    surface_m2 : float
        Open surface of the liquid.
    breathing_min : float
        How long somebody breathes beside it before leaving or before it is covered.
    hours : float
        How long it then stands.
    closed : bool
        A tight cap; `headspace_ml` above the liquid, None for a fifth of the volume.
    temperature_c : float
    flame : bool
        Something burns or glows nearby.
    acidified : bool
        Ammonia was neutralised at once.
    food_vessel : bool
        It is kept in a vessel that somebody may eat or drink from.
    asthma : bool
        Somebody with asthma is in the room.
    septic : bool
        Behind the drain is a septic tank or soakaway.
    bare_hands : bool
        Somebody reaches into it without gloves.
    ultraviolet : bool
        A bare germicidal lamp burns in the room.
    glass : bool
        The vessel is of glass: it throws splinters where it bursts.
    glass_stopper : bool
        A ground-glass stopper or lid closes it.
    dusty : bool
        It hangs in the air as dust or mist: sieved, ground, swept dry or sprayed.
    spilt : bool
        It lies as a puddle.
    narrow : bool
        An open vessel with a narrow neck, such as a bottle.
    metal_reel : bool
        The film is on a reel of metal.
    film : bool
        A film or print lies in it.
    """

    place: Place
    room: Room
    surface_m2: float
    breathing_min: float
    hours: float = 0.0
    closed: bool = False
    headspace_ml: float | None = None
    temperature_c: float = ROOM_C
    flame: bool = False
    acidified: bool = False
    food_vessel: bool = False
    asthma: bool = False
    septic: bool = False
    bare_hands: bool = False
    ultraviolet: bool = False
    glass: bool = False
    glass_stopper: bool = False
    dusty: bool = False
    spilt: bool = False
    narrow: bool = False
    metal_reel: bool = False
    film: bool = False

    @property
    def released_h(self) -> float:
        """Time over which gas is set free."""
        return self.breathing_min / 60


def setting_for(place: Place, room: Room | None = None, *, hours: float = 0.0) -> Setting:
    """The usual vessel of a place (records ``hazard.surface.*`` and ``hazard.minutes.*``)."""
    return Setting(
        place,
        room or unknown_room(),
        surface_m2=number(f"hazard.surface.{place}"),
        breathing_min=number(f"hazard.minutes.{place}"),
        hours=hours,
        closed=place == "closed_jug",
    )


@dataclass(frozen=True, slots=True)
class Effect:
    """One thing that can happen.

    Parameters
    ----------
    mechanism : str
        Name of the rule, such as ``"acid_sulfide"``.
    severity : int
        4 can kill, 3 injures, 2 harms a little or spoils, 1 trifling: not told.
    what : str
        In words.
    amount : str
        How much, in words with its numbers.
    do : str
        What the person can do.
    gas : str
        Key of the gas, empty where none.
    ppm : float or None
        Mean of the room.
    parts : tuple of str
        Names of the portions that bring it about.
    """

    mechanism: str
    severity: int
    what: str
    amount: str
    do: str
    gas: str = ""
    ppm: float | None = None
    parts: tuple[str, ...] = ()
