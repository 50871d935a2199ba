"""Words for what hands do at the sink, made of the structure of the plan: one place for page, terminal and paper."""

from __future__ import annotations

from obverse.run import Action, Cue

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


def do_words(action: Action) -> str:
    """What hands do in an action, in a sentence or two."""
    fill = action.fill
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
