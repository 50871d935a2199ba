"""Words for what hands do at the sink, made of the structure of the plan: one place for page, terminal and paper."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

from pydantic import Field

from obverse.foundation import Caution, Document, Level, clock_span, figures
from obverse.run import (
    Action,
    Conflict,
    Cue,
    Developed,
    Event,
    Order,
    PlanCaution,
    Proof,
    RunPlan,
    Saying,
    TouchEffect,
    Vessel,
)

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


# Titles of what is done once, in the words of the trade; what bears a name of its own is told by `_titled`.
_TITLES: dict[str, str] = {
    "lay_out": "Lay out the evening",
    "fill_bottles": "Fill the bottles and stand them in order",
    "wait": "Let the bottles come to temperature",
    "brief": "Before the light goes out",
    "lights_out": "Put the light out",
    "light_on": "Every lid is locked",
    "check": "Measure the first developer",
    "join": "Put the reels into one tank",
    "may_open": "The tank may be opened",
    "open": "Open the tank",
    "hang": "Hang the film",
    "hold_end": "Pour the water out",
    "clear_up": "Clear up",
}
_DO: dict[str, str] = {
    "fill_bottles": "All baths in the order of use, water for the rinses, the waste jugs open and at hand.",
    "prewarm": "A basin of water at the temperature of the evening; bottles to the neck, rinsing water too.",
    "wait": "Sit down. Everything stands ready.",
    "weigh": "Weigh the powder into a dry cup with a lid, measure its water apart. They meet at the last moment.",
    "open": "Put the light on, take the lid off, lift the reel out. Keep the film wet.",
    "hold_end": "The wait is over.",
    "clear_up": "Caps on what may be closed, vented caps on the jugs, labels and dates on all. Tank, reel and funnel "
    "rinsed until nothing smells. Wipe, wash hands.",
    "lights_out": "Complete darkness, no lamp of any colour, no safelight. Wait until you would see a leak of light. Then hold.",
    "light_on": "Feel every lid: locked? Then three short taps, and the light may come back.",
}


_CLIP_DO = {
    "blacken": "A clip of film that has seen the light, emulsion up. Put a drop of the bath on it and press; press again when it is black "
    "and gets no blacker.",
    "bleach": "A clip that was developed black and rinsed. Put a drop of the bath on it and press; press again when no black is left to be "
    "seen.",
    "clear": "A clip with its milky layer: unexposed film, or one that was bleached and rinsed. Dip it and press; press again when it is "
    "clear.",
}


def title_words(action: Action) -> str:
    """Name of an action, with its fill where it is one of several."""
    title = action.kept.title if action.kept is not None else _titled(action)
    fill = action.fill
    if fill is None:
        return title
    return f"{title}: running water" if fill.turns is None else f"{title}: {fill_words(action)}"


def short_title_words(action: Action) -> str:
    """Name of an action without its fill: what the fills of one rinse share."""
    return action.kept.title if action.kept is not None else _titled(action)


def _titled(action: Action) -> str:
    who = ", ".join(action.strips)
    if action.kind == "hold":
        return f"{who}: leave it in water" if action.apart else "Let the film wait in water"
    if action.kind == "load":
        part = action.vessels[0].part if action.vessels else ""
        return f"Load {who}{f' ({part})' if part else ''} in the dark"
    if action.kind == "prewarm":
        return f"Stand the bottles in water of {action.temperature_c:g} C"
    if action.kind == "weigh":
        return f"Weigh dry: {action.name}"
    if action.kind == "clip":
        return f"Clip test: {action.name}"
    if action.kind == "prepare":
        made = f"Stir in the powder: {action.name}" if action.stirred_in else f"Mix: {action.name}"
        return f"{made} for {who}" if action.apart else made
    if action.fill is not None and action.fill.after:
        return f"Rinse after {action.name[:1].lower()}{action.name[1:]}"
    if action.kind in _TITLES:
        return _TITLES[action.kind]
    return f"{action.name}: {who}" if action.apart else action.name


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
    if action.kept is not None and action.kept.do:
        return action.kept.do
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
    if action.kind == "load":
        return " ".join([*(vessel_words(vessel) for vessel in vessels), "Then hold."])
    if action.kind == "join":
        return f"Stack the reels in the one tank: {', then '.join(f'reel {v.reel}' for v in vessels)}. Lid on and locked. Then hold."
    if action.kind == "fill_bottles" and action.baths:
        return f"From their bottles: {'; '.join(action.baths)}. {_DO['fill_bottles']}"
    if action.kind == "prewarm" and action.baths:
        return (
            f"{_DO['prewarm']} A second, warmer basin for {' and '.join(action.baths)}, in a bottle that is not shut."
        )
    if action.kind == "clip" and action.clip:
        return _CLIP_DO[action.clip]
    if action.kind == "hold":
        return _hold_words(action)
    if action.kind == "prepare":
        return _prepare_words(action)
    if action.kind == "check" and action.temperature_c is not None:
        return f"Its temperature should be {action.temperature_c:g} C. Write down what it is."
    if action.kind == "may_open":
        lid = "put the lid back for the fogging bath, vented" if action.lid_again else "the lid may stay off"
        return f"The film may see light from here on. Look at it if you wish; {lid}."
    if fill is None:
        return " ".join(part for part in (action.said or _DO.get(action.kind, ""), *_more_words(action)) if part)
    if fill.turns is None:
        return "Let water of the same temperature run through the tank; pour out at the end."
    if fill.vessel:
        moved = f", move it up and down {times(fill.turns)}" if fill.turns else ""
        stays = ", leave it in" if fill.stands else ""
        return f"Reel into a {fill.vessel} of {_WATER[fill.acidified]}{moved}{stays}, then lift it out."
    steps = [f"Fill with {_WATER[fill.acidified]}"]
    if fill.turns:
        steps.append(f"turn over {times(fill.turns)}")
    if fill.stands:
        steps.append("let it stand")
    return f"{', '.join(steps)}, pour out."


def _more_words(action: Action) -> tuple[str, ...]:
    """How long it may stay, where that is not one number, and what is mixed meanwhile."""
    told = [f"While it works, between the turns: mix {name}." for name in action.mixed_meanwhile]
    time = action.time
    if time is None:
        return tuple(told)
    if not time.until:
        return (f"It may stay until {time.longest_min:g} min.", *told)
    since = f"From {time.from_min:g} min on look" if time.from_min < time.longest_min else "Look"
    return (f"{since}: over as soon as it is {time.until}, after {time.longest_min:g} min at the latest.", *told)


def _hold_words(action: Action) -> str:
    water = "Fill the tank with water of the same temperature"
    if action.apart:
        return f"{water}. It waits in the dark, lid on, until the others are as far."
    return f"{water} and let it stand.{' Lid on.' if action.place == 'closed_tank' else ''}"


def _prepare_words(action: Action) -> str:
    if action.stirred_in:
        return "Powder into the measured water, never water onto the powder. Stir until clear and use it at once."
    last = f" Use it within {action.use_within_min:g} minutes." if action.use_within_min else ""
    return (
        f"Mix {figures(action.volume_ml)} mL by its sheet from the bench.{last}" if action.volume_ml else last.strip()
    )


def conflict_words(conflict: Conflict, plan: RunPlan) -> str:
    """In what the plan does not hold."""
    first, second = (title_words(plan.action(key)) for key in (conflict.first, conflict.second))
    if conflict.kind == "hands":
        if conflict.first == conflict.second:
            return f"{first}: one bout of agitation is not over when the next begins."
        return f"{first} still needs the hands for {conflict.over_s:.0f} s when {second} begins."
    if conflict.kind == "film":
        return f"The film would be in {first} and in {second} at once."
    if conflict.kind == "light":
        if conflict.first == conflict.second:
            return f"{first} would light the film."
        return f"{second} needs the dark, but the tank was opened before it."
    what = "is older than its life" if conflict.kind == "life" else "is not gone in time"
    name = next((a.name for a in plan.actions if a.formula == conflict.formula and a.kind == "prepare"), "")
    with_process = plan.route.baths({})
    if not name and conflict.formula in with_process:
        name = with_process[conflict.formula].name
    return (
        f"The bath {name or conflict.formula} {what}: {conflict.over_s / 60:.0f} min until the end of {second}, "
        f"{conflict.limit_s / 60:.0f} min allowed."
    )


def entry_words(event: Event, plan: RunPlan) -> str:
    """One entry of the record, as a sentence."""
    title = next((title_words(a) for a in plan.actions if a.key == event.action), "")
    at = f" ({title})" if title else ""
    return {
        "poured": f"it is in{at}.",
        "acknowledged": f"it is done{at}.",
        "step_repeated": f"the repeating{at}.",
        "step_skipped": f"the leaving out{at}.",
        "aborted": "the end of the evening.",
        "finished": "the end of the evening.",
        "temperature_noted": f"{event.temperature_c or 0:g} C{at}.",
        "note": f"the note{at}.",
        "photo": f"the picture{at}.",
        "agitation_skipped": f"agitation left out{at}.",
        "step_extended": f"{event.seconds or 0:.0f} seconds longer{at}.",
        "duty_taken": "who destroys the bath.",
        "duty_done": "that the bath is destroyed.",
        "taken_back": "the correction before.",
        "changed": "the correction before.",
    }.get(event.kind, "an entry.")


# What is said the same each time.
_SAID: dict[str, str] = {
    "nothing_to_correct": "There is nothing to correct: it changed nothing, or is not of this evening.",
    "taken_back_before": "That was taken back before.",
    "cannot_be_taken_back": "That cannot be taken back.",
    "later_entries": "Entries rest on it. Strike those first.",
    "no_temperature": "Only a temperature that was noted can be changed into another.",
    "no_words": "Only words that were written can be changed into others.",
    "time_stays": "The time of that cannot be changed.",
    "not_between": "It must lie between the touch before it and the one after it. Nothing was changed.",
    "begun": "The evening has begun already.",
    "another_bath": "That bath is not the one in hand. Nothing was changed.",
    "in_already": "This bath is in already; its clock runs.",
    "not_running": "The evening is not running.",
    "moved_on": "The evening has moved on to another action. Nothing was changed.",
    "not_in_yet": "The bath is not poured in yet: say first that it is in.",
    "no_such_action": "The evening is not running, or has no such action.",
    "bath_in_tank": "A bath is in the tank. Finish it first.",
    "not_repeatable": "This cannot be repeated: baths, rinses, light and what is made for them can.",
    "not_done_yet": "That has not been done yet; it cannot be repeated.",
    "not_in_hand": "That is not the action in hand. Nothing was changed.",
    "end_it_instead": "It is in the tank; end the bath instead.",
    "over_already": "That action is over already.",
    "not_paused": "The evening is not paused.",
    "not_begun": "The evening has not begun.",
    "ended_already": "The evening has ended already.",
    "film_on_its_way": "The film is still on its way; end it early with a reason if you must.",
    "later_touches": "Later touches rest on it. Take those back first, the last one first.",
    "goes_on": "The evening goes on.",
    "over": "The evening is over.",
    "duty_done": "Noted: it is destroyed.",
    "agitation_left_out": "Noted: one bout of agitation was left out. Take the next one as it comes.",
    "paused": "Paused. What follows waits for you.",
    "bath_goes_on": "The cues are quiet, but the bath does not wait: its clock runs on.",
    "resumed": "On it goes.",
    "written": "Written down.",
    "ended_early": "Ended here. What was used is booked; baths that must not stand still have to be destroyed.",
}


def saying_words(say: Saying) -> str:
    """What the run has to say, as a sentence."""
    if say.kind in _SAID:
        return _SAID[say.kind]
    between = f"{say.low_c or 0:g} to {say.high_c or 0:g} C"
    at = f"{say.temperature_c or 0:g} C"
    if say.kind == "temperature_step":
        return _step_words(say.difference_c or 0.0, say.high_c or 0.0, soft=say.soft)
    if say.kind == "time_changed":
        sd = span_of_sd_words(say.sd_s or 0.0)
        return (
            f"The time was changed from {clock_span(say.before_s or 0)} to {clock_span(say.seconds or 0)} for {at}; "
            f"kappa alone leaves it uncertain by {sd}."
        )
    return {
        "too_early": f"{say.seconds or 0:.0f} seconds are left. Nothing was changed; say so if you truly want to end it now.",
        "duty_taken": f"Noted: {say.by} destroys it.",
        "noted": f"Noted: {at}.",
        "noted_outside": f"{at} is noted. {say.name} is meant for {between}.",
        "planned_outside": f"{say.name} is meant for {between}; you plan {at}.",
        "longer": f"{say.seconds or 0:.0f} seconds longer.",
        "no_hands_meanwhile": f"The turns of {say.name} leave no time to mix {say.other} meanwhile: the film waits in water for it.",
        "clock": say.text,
        "corrected": "Corrected.",
    }[say.kind]


def _step_words(difference_c: float, limit_c: float, *, soft: bool) -> str:
    way = "warmer" if difference_c > 0 else "colder"
    text = f"This bath is {abs(difference_c):.1f} C {way} than the one before it; a swollen emulsion may wrinkle (reticulation)."
    near = f"Bring the two within {limit_c:g} C"
    if soft:
        return f"{text} After acid permanganate the gelatin is soft: it may come off. {near} before you pour."
    return f"{text} {near}."


def span_of_sd_words(sd_s: float) -> str:
    """An uncertain span: seconds up to a minute and a half, then minutes."""
    return f"{sd_s:.0f} s" if sd_s < SECONDS_TOLD_UP_TO else f"{sd_s / SECONDS_OF_MINUTE:.1f} min"


def order_told(order: Order, plan: RunPlan) -> Order:
    """The order with its sentence: the run leaves the words to the face."""
    if order.entry is not None:
        what = "Taken back" if order.corrects == "taken_back" else "Corrected"
        text = f"{what}: {entry_words(order.entry, plan)} Both stay in the record."
    elif order.say is not None:
        text = saying_words(order.say)
    else:
        return order
    return order.model_copy(update={"text": text})


def told_cautions(plan: RunPlan) -> tuple[PlanCaution, ...]:
    """The cautions of a plan with their words: those of who made them, or those for what the run has to say."""
    return tuple(
        caution if caution.say is None else caution.model_copy(update={"text": saying_words(caution.say)})
        for caution in plan.cautions
    )


def told_once(plan: RunPlan, cautions: Iterable[PlanCaution]) -> tuple[Caution, ...]:
    """Cautions of a plan, what several of its actions share said once with the names of them all."""
    titles = {action.key: short_title_words(action) for action in plan.actions}
    steps = {step.key: step.name for step in plan.route.steps}
    places: dict[tuple[str, str], list[str]] = {}
    for caution in cautions:
        named = places.setdefault((caution.level, caution.text), [])
        if caution.where:
            named.append(titles.get(caution.where) or steps.get(caution.where, caution.where))
    return tuple(
        Caution("plan", text, Level(level), "; ".join(dict.fromkeys(named))) for (level, text), named in places.items()
    )


def proof_words(proof: Proof) -> tuple[str, ...]:
    """What was checked of a plan and holds; sentences that were kept with it as they were."""
    told = {
        "hands": f"Two hands suffice: {proof.spans_checked} spans of handling, the hands at work for "
        f"{proof.busy_s / SECONDS_OF_MINUTE:.0f} of {proof.whole_s / SECONDS_OF_MINUTE:.0f} min, no two overlap.",
        "lives": "Every short-lived bath is used within its life, every used bath that must go is gone in time.",
        "light": "No light reaches the film before the tank may be opened.",
    }
    return proof.kept or tuple(told[what] for what in proof.proved)


def order_words(plan: RunPlan) -> str:
    """In what order strips are developed and why; empty where there is nothing to order."""
    if plan.order is None:
        return plan.order_reason
    groups = ", then ".join(" and ".join(names) for names in plan.order.groups)
    return (
        f"Order proposed: {groups}. Developed strips wait in water for the others; in this order they wait "
        f"{plan.order.waited_min:.0f} strip-minutes, the worst order makes it {plan.order.worst_min:.0f}."
    )


def developed_words(went: Developed) -> str:
    """How a first development went, as it stands in the trial."""
    took, planned = went.took_s / SECONDS_OF_MINUTE, went.planned_s / SECONDS_OF_MINUTE
    told = [f"First development took {took:.2f} min ({planned:.2f} min planned)."]
    if went.passes > 1:
        told.append(f"It was done in {went.passes} passes.")
    count = len(went.noted_c)
    if went.before:
        told.append(
            f"Nobody read the bath; the {went.noted_c[0]:g} C read before it are taken, with a wide uncertainty."
        )
    elif count:
        told.append(f"{count} temperature reading{'s' if count != 1 else ''}.")
    else:
        told.append("Nobody read the temperature; the planned one is taken, with a wide uncertainty.")
    if went.outside_c is not None:
        low_c, high_c = went.outside_c
        told.append(f"A reading lies outside {low_c:g} to {high_c:g} C, where the law of time and temperature ends.")
    if went.skipped:
        told.append(f"{went.skipped} bout{'s' if went.skipped > 1 else ''} of agitation left out.")
    if went.cut_short:
        told.append("Ended before its time on purpose.")
    return " ".join(told)


def effect_words(effect: TouchEffect, names: Mapping[str, str]) -> tuple[str, ...]:
    """What a touch would do to the rest of the evening, the worst last so that it is read last.

    Parameters
    ----------
    names : mapping
        Names of baths by the key of their formula.
    """
    if effect.refused is not None:
        return (saying_words(effect.refused),)
    told = []
    if effect.comes:
        told.append(f"Comes again: {', '.join(title_words(action) for action in effect.comes)}.")
    if effect.drops:
        told.append(f"Will not be done: {', '.join(title_words(action) for action in effect.drops)}.")
    minutes = round(effect.later_s / 60)
    if minutes:
        told.append(f"The hands are free about {abs(minutes)} min {'later' if minutes > 0 else 'earlier'}.")
    else:
        told.append("The hands are free at about the same time.")
    spent = [action for action in effect.comes if action.kind == "bath" and action.after_use in ("discard", "waste")]
    told += [
        f"{title_words(action)}: this bath is used once and then gone. Have a fresh one ready." for action in spent
    ]
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


SECONDS_OF_MINUTE, MINUTES_OF_HOUR = 60, 60
# Beyond a minute and a half seconds say more than is known.
SECONDS_TOLD_UP_TO = 90


def span_words(seconds: float) -> str:
    """A length of time in whole seconds, minutes and hours, such as "3 min 5 s"."""
    minutes, rest = divmod(round(abs(seconds)), SECONDS_OF_MINUTE)
    hours, minutes = divmod(minutes, MINUTES_OF_HOUR)
    parts = [f"{count} {unit}" for count, unit in ((hours, "h"), (minutes, "min"), (rest, "s")) if count]
    return " ".join(parts) or "0 s"


class ClockOption(Document):
    """One of the things a person may say of a date that has parted from the steady clock."""

    how: Literal["slept", "date_set"]
    words: str


class ClockQuestion(Document):
    """What is asked where date and steady clock have parted."""

    ahead_s: float = Field(description="how far the date has gone ahead; below zero, behind")
    text: str
    choices: tuple[ClockOption, ...]


def parted_words(ahead_s: float, *, counts_sleep: bool) -> ClockQuestion:
    """What is told where the date has gone ahead of the steady clock (or, below zero, behind it), and what may be chosen."""
    span = span_words(ahead_s)
    set_ = ClockOption(how="date_set", words="The date was set: go on")
    if ahead_s < 0:
        text = f"The date has gone back by {span}. No sleep does that, so the evening goes on by the steady clock."
        return ClockQuestion(ahead_s=ahead_s, text=text, choices=(set_,))
    why = (
        "This steady clock should go on in sleep, so the date was probably set."
        if counts_sleep
        else "This steady clock may stand in sleep: if the lid was closed, the bath has gone on and the clock has not."
    )
    text = f"The date has gone {span} ahead of the computer's steady clock. {why} Look at another clock, then choose."
    slept = ClockOption(how="slept", words=f"It slept: count {span}")
    return ClockQuestion(ahead_s=ahead_s, text=text, choices=(slept, set_))


def settled_words(ahead_s: float, *, counted: bool) -> str:
    """What stands in the record of an evening after the choice."""
    span = span_words(ahead_s)
    if counted:
        return f"The computer slept and its steady clock missed {span}; they are counted now."
    return f"The date was set {'ahead' if ahead_s > 0 else 'back'} by {span}; the evening goes on as it went."
