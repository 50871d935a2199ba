"""Words for what hands do at the sink, made of the structure of the plan: one place for page, terminal and paper."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from obverse.run import Action, Cue, Effect, Vessel

# Nobody needs to be told "1 of 1"; running water is one long fill.
_WATER = {False: "water", True: "acidified water"}
_POUR_OUT = {
    "bottle": "Pour it back into its bottle.",
    "bucket": "Pour it into the bucket in which it will be destroyed.",
    "away": "Pour it out, where local codes allow.",
    "water": "Pour the water out.",
    "": "Pour it out.",
}


def times(count: int) -> str:
    """Once, twice, or so many times."""
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def title_words(action: Action) -> str:
    """Name of an action, with its fill where it is one of several."""
    fill = action.fill
    if fill is None:
        return action.title
    return f"{action.title}: running water" if fill.turns is None else f"{action.title}: {fill_words(action)}"


def fill_words(action: Action) -> str:
    """Which fill it is, such as "fill 2 of 3"; empty for an action that is none."""
    return "" if action.fill is None else f"fill {action.fill.number} of {action.fill.count}"


# Shapes for the eye, rubber bands for the fingers, tones for the ear: none of them a colour.
MARKS = (
    "\N{BLACK CIRCLE}",
    "\N{BLACK UP-POINTING TRIANGLE}",
    "\N{BLACK SQUARE}",
    "\N{BLACK DIAMOND}",
    "\N{HEAVY GREEK CROSS}",
    "\N{BLACK STAR}",
)
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")


def mark_of(count: int) -> str:
    """The shape that stands for a reel or a tank of that number."""
    return MARKS[(count - 1) % len(MARKS)]


def bands(count: int) -> str:
    """The rubber bands by which fingers know it, such as "two rubber bands"."""
    return f"{_NUMBERS[count]} rubber band{'s' if count != 1 else ''}"


def _tones(count: int) -> str:
    return f"{_NUMBERS[count]} tone{'s' if count != 1 else ''}"


def tanks_of(vessels: Sequence[Vessel]) -> tuple[int, ...]:
    """Numbers of the tanks, each once."""
    return tuple(dict.fromkeys(vessel.tank for vessel in vessels))


def vessel_words(vessel: Vessel) -> str:
    """Which strip goes where, as fingers find it."""
    if vessel.of == 1:
        return f"The film: {'on the reel' if vessel.holder == 'reel' else 'into its sheet holder'}, into the tank, lid on and locked."
    part = f" ({vessel.part})" if vessel.part else ""
    return (
        f"{vessel.strip}{part}: {'on reel' if vessel.holder == 'reel' else 'into holder'} {vessel.reel} ({mark_of(vessel.reel)}, {bands(vessel.reel)}), "
        f"into tank {vessel.tank} ({mark_of(vessel.tank)}, {bands(vessel.tank)}), lid on and locked."
    )


def lines_words(action: Action) -> tuple[str, ...]:
    """What must be known of an action, line by line; empty where `do_words` says it all."""
    if action.kind != "brief":
        return ()
    vessels = action.vessels
    alone = len(vessels) == 1
    lines = [
        "From the next touch on the screen is black and nothing can be read. Read this to the end, or let it be read out."
    ]
    first = "Then put the light out and wait until you would see a leak of it. Hold: one tone answers, it is dark."
    if action.step == "load":
        lines.append(
            "Lay out, from left to right, in the order of use: film, scissors, reel, tank, lid."
            if alone
            else "Lay out, from left to right, in the order of use: film, scissors, reels, tanks, lids. Put the rubber bands on now."
        )
        lines.append(first)
        lines += [f"{vessel_words(v)} Then hold: {_tones(v.reel)} answer{'s' if v.reel == 1 else ''}." for v in vessels]
    else:
        reels = ", then ".join(f"reel {v.reel} ({v.strip}, {bands(v.reel)})" for v in vessels)
        lines.append(f"The tank that holds {_NUMBERS[len(vessels)]} reels stands open and empty at your right hand.")
        lines.append(first)
        lines.append(
            f"Take each reel out of its tank and stack them in the one: {reels}. Lid on and locked. Then hold: {_tones(len(vessels))} answer."
        )
    lines.append(
        f"That makes {_NUMBERS[len(vessels) + 1 if action.step == 'load' else 2]} holds. To hold: the screen, or Enter or Space, for a second and a half. It is counted when the tones come; a short touch does nothing."
    )
    lines.append(
        "When every lid is locked: three short taps light the screen again. Nothing else does, and nothing does before."
    )
    return tuple(lines)


def do_words(action: Action) -> str:
    """What hands do in an action, in a sentence or two."""
    fill = action.fill
    vessels = action.vessels
    alone = len(vessels) == 1
    if action.kind == "lay_out" and vessels:
        tanks = len(tanks_of(vessels))
        what = "Tank, reel" if alone else f"{'Tank' if tanks == 1 else f'{tanks} tanks'}, {len(vessels)} reels"
        room = f" One tank must hold all {len(vessels)} reels." if tanks > 1 else ""
        return (
            f"Gloves and goggles on, window open or fan running. {what}, scissors, bottles, funnel, "
            f"thermometer, this clock.{room} Label every bottle and jug."
        )
    if action.kind == "brief":
        return " ".join(lines_words(action))
    if action.kind == "lights_out":
        return "Complete darkness, no lamp of any colour, no safelight. Wait until you would see a leak of light. Then hold."
    if action.kind == "load":
        return " ".join([*(vessel_words(vessel) for vessel in vessels), "Then hold."])
    if action.kind == "join":
        return f"Stack the reels in the one tank: {', then '.join(f'reel {v.reel}' for v in vessels)}. Lid on and locked. Then hold."
    if action.kind == "light_on":
        return "Feel every lid: locked? Then three short taps, and the light may come back."
    if fill is None:
        return action.do
    if fill.turns is None:
        return "Let water of the same temperature run through the tank; pour out at the end."
    steps = [f"Fill with {_WATER[fill.acidified]}"]
    if fill.turns:
        steps.append(f"turn over {times(fill.turns)}")
    if fill.stands:
        steps.append("let it stand")
    return f"{', '.join(steps)}, pour out."


def effect_words(effect: Effect, names: Mapping[str, str]) -> tuple[str, ...]:
    """What a touch would do to the rest of the evening, the worst last so that it is read last.

    Parameters
    ----------
    names : mapping
        Names of baths by the key of their formula.
    """
    if effect.refused:
        return (effect.refused,)
    told = []
    if effect.comes:
        told.append(f"Comes again: {', '.join(title_words(action) for action in effect.comes)}.")
    if effect.drops:
        told.append(f"Will not be done: {', '.join(title_words(action) for action in effect.drops)}.")
    minutes = round(abs(effect.later_s) / 60)
    if minutes:
        told.append(f"The hands are free about {minutes} min {'later' if effect.later_s > 0 else 'earlier'}.")
    else:
        told.append("The hands are free at about the same time.")
    spent = [action for action in effect.comes if action.kind == "bath" and action.after_use in ("discard", "waste")]
    told += [f"{action.title}: this bath is used once and then gone. Have a fresh one ready." for action in spent]
    for life in effect.breaks:
        name = names.get(life.formula, life.formula)
        told.append(
            f"{name} would be older than its life when it is used."
            if life.kind == "life"
            else f"{name} would not be destroyed in time. It must not stand; destroy it first."
        )
    return tuple(told)


def cue_words(cue: Cue) -> str:
    """What a cue asks for."""
    if cue.do == "turn_over":
        return f"Turn it over {times(cue.turns)}."
    if cue.do == "pour_out":
        return f"Pour it into jug {cue.jug}." if cue.goes == "jug" else _POUR_OUT[cue.goes]
    return {
        "keep_moving": "Keep it moving all the time.",
        "turn_for": f"Turn the tank for {cue.lasts_s:.0f} seconds.",
        "move_for": f"Move it for {cue.lasts_s:.0f} seconds.",
        "other_side": "Turn the reel over: the other side to the light.",
        "hands_ready": "Hands ready to pour out.",
        "out": "It is out.",
        "enough_light": "Enough light.",
    }[cue.do]
