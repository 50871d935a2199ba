"""From a route to an evening: what the hands do, when, and the proof that two of them suffice."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from typing import Any, Literal

from obverse.chemistry import concentration_after_fills
from obverse.foundation import Deferral, InputError
from obverse.process import (
    CONTROLS,
    TEMPERATURE,
    TIME,
    Agitation,
    Control,
    Formula,
    Process,
    Rhythm,
    Step,
    in_own_words,
    tell_agitation,
)
from obverse.process.catalog import substance
from obverse.reference import number, record
from obverse.run.plan import (
    Action,
    AtHand,
    Cue,
    Fill,
    Goes,
    Lived,
    PlanCaution,
    RunPlan,
    Strip,
    StripOrder,
    TimeTold,
    Vessel,
)
from obverse.run.proof import prove
from obverse.run.saying import Saying
from obverse.run.temperature import STEP_LEVEL, checked_temperature, compensated_time_s, kappa_per_c, temperature_step
from obverse.run.tonight import tonight
from obverse.safety import (
    Finding,
    Residue,
    Room,
    check_route,
    clip_does,
    destruction_steps,
    destruction_supplies,
    hazards_of,
    refuse_lethal,
    residue_of,
    warnings_of,
    wash_told,
)

# A warning to have the hands ready, so long before they are needed.
_READY_S = 10.0
# Seconds to take a lid off, and to look at a thermometer (common practice, no source).
_OPEN_S, _CHECK_S = 15, 30
# A powder that must be used within so many minutes is weighed before and stirred in at the last moment.
_LAST_MOMENT_MIN = 15.0
_MOST_STRIPS = 6
# What settles or airs longer than this does so by itself.
_HANDS_OFF_MIN = 60.0
# What moves as often as this leaves hands no pause to be called back from: "one stroke in four seconds"; ours.
_WITHOUT_A_PAUSE_S = 10.0
# As `obverse.process.read_temperature` takes one number: a degree to either side.
_ONE_TEMPERATURE_C = 2.0 + 1e-9


def plan_run(
    route: Process,
    formulas: Mapping[str, Formula],
    *,
    tank_ml: float,
    controls: Mapping[str, float] | None = None,
    strips: Sequence[Strip] = (),
    temperature_c: float | None = None,
    bath_temperatures_c: Mapping[str, float] | None = None,
    without: Sequence[str] = (),
    again: Sequence[str] = (),
    times_min: Mapping[str, float] | None = None,
    pace: float = 1.0,
    mixed: Sequence[str] = (),
    name: str = "",
    bucket_ml: float | None = None,
    fresh: Sequence[str] = (),
    clips_s: Mapping[str, float] | None = None,
    room: Room | None = None,
) -> RunPlan:
    """Plan a whole evening.

    Parameters
    ----------
    tank_ml : float
        Volume of a bath.
    controls : mapping, optional
        Controls of the one strip, where `strips` is not given. `first_developer_time_min` is the time at
        `temperature_c` of the controls (20 C where absent).
    strips : sequence of Strip
        Several strips, each with a first development of its own; they share every later bath.
    temperature_c : float, optional
        What the baths truly have; default: the temperature of the controls.
    bath_temperatures_c : mapping, optional
        By key of the step, where a bath differs.
    without, again : sequence of str
        Keys of steps that are left out, and of those that are done once more.
    times_min : mapping of str to float, optional
        Minutes by key of the step, where they are others tonight; of the first development its control goes before.
    pace : float
        Length of what hands do, 1 being common practice; a class takes 1.5.
    mixed : sequence of str
        Formula keys of baths that stand ready in their bottles.
    bucket_ml : float, optional
        Size of the bucket in which used baths are destroyed; default one of ten litres.
    fresh : sequence of str
        Formula keys of lasting baths that are mixed anew for this evening.
    clips_s : mapping of str to float, optional
        Formula keys of baths that are tested on a clip before the film meets them, with the seconds it takes in a fresh one.

    Raises
    ------
    InputError
        Outside 16 to 26 C, or for a plan that cannot be made.
    UnsafeError
        If two things that can kill would meet along the route.
    """
    if not 50 <= tank_ml <= 20_000:
        raise InputError(f"a tank of {tank_ml:g} mL cannot be planned for", where="tank", remedy="give 50 to 20000 mL")
    if not 0.3 <= pace <= 5:
        raise InputError(
            f"a pace of {pace:g} cannot be planned with", where="pace", remedy="give 0.3 to 5; 1 is common practice"
        )
    strips = tuple(strips) or (Strip(controls=dict(controls or {})),)
    if len(strips) > _MOST_STRIPS:
        raise InputError(
            f"{len(strips)} strips in one evening", where="strips", remedy=f"plan at most {_MOST_STRIPS} together"
        )
    if sum(strip.reels for strip in strips) > _MOST_STRIPS:
        raise InputError(
            f"{sum(strip.reels for strip in strips)} reels in one evening",
            where="film",
            remedy=f"plan at most {_MOST_STRIPS} together, and another evening for the rest",
        )
    if len({strip.name for strip in strips}) != len(strips):
        raise InputError("two strips have the same name", where="strips", remedy="name them differently")
    route = tonight(route, without=without, again=again, times_min=times_min)
    formulas = route.baths(formulas)
    findings = check_route(route, formulas, tank_ml=tank_ml, room=room)
    refuse_lethal(findings)
    first = route.first_development
    base_c = temperature_c if temperature_c is not None else _control(strips[0], TEMPERATURE)
    # No table gives a time beyond the limits; who says temperature and time of such a bath knows both.
    if first.temperature_compensated or not first.temperature_low_c <= base_c <= first.temperature_high_c:
        base_c = checked_temperature(base_c)
    return _Evening(
        route,
        formulas,
        tank_ml,
        strips,
        base_c,
        temperature_c is not None,
        dict(bath_temperatures_c or {}),
        pace,
        frozenset(mixed) - set(fresh),
        name,
        bucket_ml,
        frozenset(fresh),
        dict(clips_s or {}),
        findings,
    ).plan()


def _control(strip: Strip, control: Control) -> float:
    return strip.controls.get(control.key, control.reference)


def agitation_cues(agitation: Agitation, duration_s: float, drain_s: float, inversion_s: float) -> list[Cue]:
    """The moments at which the tank is moved, counted from the start of the bath.

    A bout that would run into the draining is left out.
    """
    last_s = duration_s - drain_s
    if agitation.constant:
        return [Cue(at_s=0, kind="agitate", do="keep_moving", lasts_s=last_s)]
    cues = []
    initial_s = min(agitation.initial_s, last_s)
    if initial_s > 0:
        cues.append(Cue(at_s=0, kind="agitate", do="turn_for", lasts_s=initial_s))
    begin_s = 0.0
    rhythms: list[tuple[float, Rhythm | Agitation]] = [(one.for_s, one) for one in agitation.before]
    # What it says last holds for as long as the bath takes.
    for for_s, rhythm in (*rhythms, (last_s, agitation)):
        bout_s = rhythm.inversions * inversion_s if rhythm.inversions else rhythm.seconds
        # A rhythm of its own begins with a bout; the one that only follows the first seconds, when its time has gone by.
        at_s = begin_s if agitation.before else rhythm.every_s
        until_s = min(begin_s + for_s, last_s)
        while bout_s > 0 and at_s < until_s and at_s + bout_s <= last_s:
            if rhythm.every_s <= _WITHOUT_A_PAUSE_S:
                # The first seconds are moved without a pause already.
                from_s = max(at_s, initial_s)
                if from_s < until_s:
                    cues.append(Cue(at_s=from_s, kind="agitate", do="keep_moving", lasts_s=until_s - from_s))
                break
            if at_s >= initial_s:
                cues.append(
                    Cue(at_s=at_s, kind="agitate", do="turn_over", turns=rhythm.inversions, lasts_s=bout_s)
                    if rhythm.inversions
                    else Cue(at_s=at_s, kind="agitate", do="move_for", lasts_s=bout_s)
                )
            at_s += rhythm.every_s
        begin_s += for_s
    return cues


class _Evening:
    """Builds the row of actions; the plan's clock is laid over them at the end."""

    def __init__(
        self,
        route: Process,
        formulas: Mapping[str, Formula],
        tank_ml: float,
        strips: Sequence[Strip],
        base_c: float,
        tonight: bool,
        bath_c: Mapping[str, float],
        pace: float,
        mixed: frozenset[str],
        name: str,
        bucket_ml: float | None,
        fresh: frozenset[str],
        clips_s: Mapping[str, float],
        findings: Sequence[Finding],
    ):
        self.route, self.formulas = route, formulas
        self.tank_ml, self.base_c, self.tonight = tank_ml, base_c, tonight
        windows = {step.key: (step.temperature_low_c, step.temperature_high_c) for step in route.steps}
        self.bath_c: dict[str, float] = {
            # What the step itself is meant for needs no table of times.
            key: c if key in windows and windows[key][0] <= c <= windows[key][1] else checked_temperature(c, where=key)
            for key, c in bath_c.items()
        }
        self.pace, self.mixed, self.name, self.bucket_ml, self.fresh = pace, mixed, name, bucket_ml, fresh
        self.clips_s = clips_s
        self.findings = findings
        self.film_ml = record("wash.retained").value["total_mL"] * sum(strip.reels for strip in strips)
        self.margin = number("practice.run.life_margin")
        self.pour_s = number("practice.run.pour_s_per_l") * tank_ml / 1000 * pace
        self.dump_s = number("practice.run.drain_s_per_l") * tank_ml / 1000 * pace
        self.inversion_s = number("practice.run.inversion_s")
        self.first = route.first_development
        self.strips, self.order = _ordered(strips, self.first)
        tanks = {strip.name: tank for tank, group in enumerate(_groups(self.strips), start=1) for strip in group}
        each = [(strip, part) for strip in self.strips for part in range(1, strip.reels + 1)]
        self.vessels = tuple(
            Vessel(
                strip=strip.name,
                reel=reel,
                tank=tanks[strip.name],
                of=len(each),
                part=f"{part} of {strip.reels}" if strip.reels > 1 else "",
                holder=strip.holder,
            )
            for reel, (strip, part) in enumerate(each, start=1)
        )
        self.lives: list[Lived] = []
        # Baths that are mixed while another works, by the action in which; and those for which hands are too few.
        self._meanwhile: dict[str, str] = {}
        self._no_hands: list[tuple[Step, Step]] = []
        self.destroyed_at_the_end: list[str] = []
        unknown = set(self.bath_c) - {step.key for step in route.steps} - {"water"}
        if unknown:
            raise InputError(
                f"the process has no step {sorted(unknown)[0]!r}",
                where="temperatures",
                remedy="name a step of the process, or water",
            )

    def plan(self) -> RunPlan:
        film = self._film_line()
        setup = self._setup(film)
        ending = self._ending()
        actions = _laid_out([*setup, *film, *ending])
        kappa = kappa_per_c()
        proof = prove(actions, self.lives)
        return RunPlan(
            name=self.name or self.route.name,
            route=self.route,
            tank_ml=self.tank_ml,
            strips=self.strips,
            temperature_c=self.base_c,
            kappa=kappa.value,
            kappa_sd=kappa.sd,
            actions=tuple(actions),
            lives=tuple(self.lives),
            cautions=tuple(self._cautions(actions)),
            proof=proof,
            order=self.order,
            vessels=self.vessels,
            at_hand=tuple(self._at_hand()),
        )

    def _at_hand(self) -> list[AtHand]:
        """What the destruction of used baths needs, each bath by itself: one bucket serves one bath."""
        found = []
        for key in dict.fromkeys(s.formula for s in self.route.steps if s.formula and s.after_use == "destroy"):
            formula = self.formulas[key]
            found += [
                AtHand(
                    key=supply.key,
                    what=supply.words,
                    of=formula.name,
                    substances=supply.substances,
                    amount=supply.amount,
                    unit=supply.unit,
                    count=supply.count,
                )
                for supply in destruction_supplies(formula, volume_ml=self._volume_of(key), bucket_ml=self.bucket_ml)
            ]
        return found

    # The film's way through the baths

    def _film_line(self) -> list[Action]:
        first_at = self.route.steps.index(self.first)
        rest = self.route.steps[first_at + 1 :]
        line: list[Action] = []
        groups = _groups(self.strips)
        for index, group in enumerate(groups):
            suffix = f".{index + 1}" if len(groups) > 1 else ""
            for step in self.route.steps[: first_at + 1]:
                line += self._step(step, group, suffix)
            if len(groups) > 1:
                line.append(
                    self._by_hand(
                        f"wait_in_water.{index + 1}",
                        "hold",
                        self.pour_s,
                        apart=True,
                        strips=tuple(strip.name for strip in group),
                        place="closed_tank",
                        exact=True,
                    )
                )
        if len(groups) > 1:
            join = self._by_hand(
                "join",
                "join",
                60 * number("practice.run.join_min"),
                why="From here on they share every bath.",
                strips=self._names,
                place="dark_room",
                vessels=self.vessels,
                cautions=("Every strip is still sensitive to light.",),
            )
            line += self._in_the_dark([join], suffix=".join", place="closed_tank")
        opened = False
        for position, step in enumerate(rest):
            if step.light == "light" and not opened and step.kind not in ("dry",):
                line.append(self._open(step))
                opened = True
            elif step.kind == "reexpose":
                line.append(self._open(step))
            if step.formula and self._made_at_the_sink(step, line, rest[position:]):
                line += self._hold(
                    step.key,
                    [self._dissolve(step)] if self._last_moment(step) else [self._prepare(step.formula)],
                    opened,
                )
            line += self._step(step, self.strips)
            line += self._destroyed_in_a_hold(step, rest[position + 1 :], line, opened)
        return line

    def _step(self, step: Step, strips: Sequence[Strip], suffix: str = "") -> list[Action]:
        if step.kind == "reexpose" and not step.formula:
            return [self._reexpose(step)]
        if step.kind == "wash" and not step.formula and step.rinse_after is not None:
            return self._fills(step, kind="wash", suffix=suffix)
        if step.kind == "rinse" and not step.formula and step.rinse_after is not None:
            return self._fills(step, kind="rinse", suffix=suffix)
        if step.kind == "dry":
            return self._dry(step)
        return self._bath(step, strips, suffix)

    def _bath(self, step: Step, strips: Sequence[Strip], suffix: str = "") -> list[Action]:
        at_c = self._temperature_of(step)
        longest_min = step.time_most_min if step.until and step.time_most_min is not None else step.time_min
        nominal_s, sd_s = 60 * longest_min, 0.0
        if step is self.first:
            nominal_s = 60 * _control(strips[0], TIME) if TIME.key in strips[0].controls else nominal_s
        if step.temperature_compensated:
            reference_c = _control(strips[0], TEMPERATURE) if step is self.first else TEMPERATURE.reference
            time = compensated_time_s(nominal_s, reference_c, at_c)
            duration_s, sd_s = time.value, time.sd
        else:
            duration_s = nominal_s
        drain_s = min(step.drain_s, duration_s / 2)
        cues = agitation_cues(step.agitation, duration_s, drain_s, self.inversion_s)
        hands = [(0.0, self.pour_s), *((self.pour_s + c.at_s, self.pour_s + c.at_s + c.lasts_s) for c in cues)]
        hands.append((self.pour_s + duration_s - drain_s, self.pour_s + duration_s))
        meanwhile: list[str] = []
        for later in self._made_meanwhile(step):
            spans = self._mixed_between(later, hands, self.pour_s + duration_s)
            if spans is None:
                self._no_hands.append((step, later))
                continue
            hands += spans
            self._meanwhile[later.formula or ""] = step.key + suffix
            meanwhile.append(self._formula_of(later).name)
        formula = self._formula_of(step) if step.formula else None
        names = tuple(strip.name for strip in strips)
        bath = Action(
            key=step.key + suffix,
            kind="bath",
            name=step.name,
            apart=bool(suffix),
            said=step.do or _own_words(step, formula),
            time=_time_told(step),
            mixed_meanwhile=tuple(meanwhile),
            why=step.why,
            cautions=(*(_guard(formula) if formula is not None else ()), *step.cautions),
            step=step.key,
            formula=step.formula or "",
            strips=names,
            pour_s=self.pour_s,
            duration_s=duration_s,
            drain_s=drain_s,
            nominal_s=nominal_s,
            time_sd_s=sd_s,
            ends_by="clock",
            waits_for_pour=True,
            hands=_merged(sorted(hands)),
            cues=_with_ends(cues, duration_s, drain_s, *_goes(step)),
            place="closed_tank" if step.light == "dark" else "open",
            temperature_c=at_c,
            temperature_low_c=step.temperature_low_c,
            temperature_high_c=step.temperature_high_c,
            after_use=step.after_use,
            waste_jug=step.waste_jug,
            volume_ml=(step.volume_ml or self.tank_ml) if formula is not None else None,
        )
        for key, during in self._meanwhile.items():
            if during == bath.key:
                self._lives_from(key, bath.key, "start")
        return [bath, *self._fills(step, kind="rinse", suffix=suffix, after=bath)]

    def _volume_of(self, key: str) -> float:
        """What is mixed of a bath, mL."""
        return next((s.volume_ml for s in self.route.steps if s.formula == key and s.volume_ml), self.tank_ml)

    def _temperature_of(self, step: Step) -> float:
        """What was said of the bath tonight; its own where its step says one, or one beyond any evening's; else the evening's."""
        if step.key in self.bath_c:
            return self.bath_c[step.key]
        low_c, high_c = step.temperature_low_c, step.temperature_high_c
        said = not self.tonight and high_c - low_c <= _ONE_TEMPERATURE_C and not low_c <= self.base_c <= high_c
        # Who says what tonight's baths have says it of the first developer before all.
        other = not (self.tonight and step is self.first)
        if said or (other and low_c > number("practice.run.temperature_high_c")):
            return (low_c + high_c) / 2
        return self.base_c

    def _warmer(self) -> tuple[str, ...]:
        """Baths that are used warmer than the evening, each with its temperature: the basin of the others does not warm them."""
        warmer = {
            f"{self._formula_of(step).name} ({at_c:g} C)"
            for step in self.route.steps
            if step.formula
            and (at_c := self._temperature_of(step)) > max(self.base_c, number("practice.run.temperature_high_c"))
        }
        return tuple(sorted(warmer))

    def _made_meanwhile(self, step: Step) -> list[Step]:
        """Steps whose baths a person mixes while this one works."""
        return [s for s in self.route.steps if s.made_during == step.key and s.formula and s.formula not in self.mixed]

    def _mixed_between(
        self, later: Step, hands: Sequence[tuple[float, float]], until_s: float
    ) -> list[tuple[float, float]] | None:
        """Where between the turns a bath is mixed; None where the hands have no time for it."""
        powder = _has_powder(self._formula_of(later))
        wanted = "dissolve_min" if self._last_moment(later) else "mix_powder_min" if powder else "mix_liquid_min"
        left_s = 60 * number(f"practice.run.{wanted}") * self.pace
        spans, at_s = [], 0.0
        for start, end in [*_merged(sorted(hands)), (until_s, until_s)]:
            took_s = min(left_s, start - at_s)
            if took_s >= _READY_S:
                spans.append((at_s, at_s + took_s))
                left_s -= took_s
            at_s = end
        return spans if left_s <= 0 else None

    def _fills(self, step: Step, *, kind: str, suffix: str = "", after: Action | None = None) -> list[Action]:
        rinse = step.rinse_after
        if rinse is None:
            return []
        fill_ml = rinse.fill_volume_ml or self.tank_ml
        names = after.strips if after else self._names
        at_c = self.bath_c.get("water", self.base_c)
        film_ml = step.carry_over_ml or self.film_ml
        actions = []
        count = len(rinse.fills)
        stand_s = rinse.fill_s or (60 * step.time_min / count if kind == "wash" and count else 0.0)
        for index, turns in enumerate(rinse.fills, start=1):
            moving_s = turns * self.inversion_s
            duration_s = max(self.pour_s + moving_s + self.dump_s, stand_s)
            still_s = duration_s - self.dump_s
            cues = (
                [Cue(at_s=self.pour_s, kind="agitate", do="turn_over", turns=turns, lasts_s=moving_s)] if turns else []
            )
            standing = stand_s > 0 and still_s > self.pour_s + moving_s + 1
            actions.append(
                Action(
                    key=f"{step.key}{suffix}.{kind}.{index}",
                    kind=kind,
                    name=step.name,
                    fill=Fill(
                        number=index,
                        count=count,
                        turns=turns,
                        after=after is not None,
                        acidified=rinse.acidified,
                        vessel=rinse.vessel,
                        stands=standing,
                    ),
                    why=self._why_washed(step) if kind == "wash" else "",
                    cautions=step.cautions if kind == "wash" and index == 1 else (),
                    step=step.key,
                    strips=names,
                    duration_s=duration_s,
                    drain_s=self.dump_s,
                    ends_by="clock" if standing else "person",
                    asked_until_s=0.0 if standing else self.pour_s + moving_s,
                    hands=_merged([(0.0, self.pour_s + moving_s), (still_s, duration_s)]),
                    cues=_with_ends(cues, duration_s, self.dump_s, "water"),
                    place="closed_tank" if step.light == "dark" else "open",
                    temperature_c=at_c,
                    temperature_low_c=step.temperature_low_c,
                    temperature_high_c=step.temperature_high_c,
                    carry_over=concentration_after_fills(1.0, film_ml, fill_ml, index),
                    volume_ml=fill_ml,
                )
            )
        if rinse.running_water_min:
            fills = rinse.running_water_min * number("practice.running_water_fills_per_min")
            # Filling and pouring out take their time however short the water runs.
            duration_s = max(60 * rinse.running_water_min, self.pour_s + self.dump_s)
            actions.append(
                Action(
                    key=f"{step.key}{suffix}.{kind}.running",
                    kind="wash",
                    name=step.name,
                    fill=Fill(number=1, count=1, after=after is not None),
                    step=step.key,
                    strips=names,
                    duration_s=duration_s,
                    drain_s=self.dump_s,
                    ends_by="clock",
                    hands=((0.0, self.pour_s), (duration_s - self.dump_s, duration_s)),
                    cues=_with_ends([], duration_s, self.dump_s, "water"),
                    place="closed_tank" if step.light == "dark" else "open",
                    temperature_c=at_c,
                    carry_over=concentration_after_fills(1.0, film_ml, fill_ml, count + round(fills)),
                    volume_ml=fill_ml,
                )
            )
        return actions

    def _why_washed(self, step: Step) -> str:
        """Why a step of washing is as long as it is; of the last one how long films are washed that shall keep."""
        last = next(one for one in reversed(self.route.steps) if one.kind == "wash")
        return f"{step.why} {wash_told(self.route, self.formulas)}".strip() if step.key == last.key else step.why

    def _reexpose(self, step: Step) -> Action:
        duration_s = 60 * step.time_min
        half_s = duration_s / 2
        cues = (
            Cue(at_s=half_s, kind="agitate", do="other_side"),
            Cue(at_s=duration_s, kind="end", do="enough_light"),
        )
        return Action(
            key=step.key,
            kind="reexpose",
            name=step.name,
            said=step.do or _own_words(step),
            why=step.why,
            cautions=step.cautions,
            step=step.key,
            strips=self._names,
            duration_s=duration_s,
            ends_by="clock",
            hands=((0.0, duration_s),),
            cues=cues,
            place="open",
            temperature_low_c=step.temperature_low_c,
            temperature_high_c=step.temperature_high_c,
        )

    def _dry(self, step: Step) -> list[Action]:
        return [
            self._by_hand(
                step.key,
                "hang",
                60 * number("practice.run.hang_min") * len(self.vessels),
                said=step.do or _own_words(step),
                why=step.why,
                cautions=step.cautions,
                step=step.key,
                strips=self._names,
                place="open",
                unattended_s=60 * step.time_min,
            )
        ]

    def _open(self, step: Step) -> Action:
        if step.kind == "reexpose":
            return self._by_hand(
                f"{step.key}.open",
                "open",
                60 * number("practice.run.open_tank_min"),
                why="What was developed is gone; what is left may see light.",
                step=step.key,
                strips=self._names,
                place="open",
            )
        fogged = any(s.kind == "fog" for s in self.route.steps)
        return self._by_hand("may_open", "may_open", _OPEN_S, lid_again=fogged, strips=self._names, place="open")

    # Baths made just in time

    def _prepared(self) -> list[str]:
        """Formula keys in the order of use, each once."""
        return list(dict.fromkeys(step.formula for step in self.route.steps if step.formula))

    def _made_at_the_sink(self, step: Step, line: Sequence[Action], rest: Sequence[Step]) -> bool:
        """True where the bath would be too old by the end of its use, were it made before the first bath."""
        formula = self._formula_of(step)
        if step.formula in self.mixed or step.made == "ahead" or step.formula in self._meanwhile:
            return False
        if step.made:
            return True
        if not self._short_lived(formula):
            return False
        before_s = sum(a.pour_s + a.duration_s for a in line)
        last_use = max(i for i, s in enumerate(rest) if s.formula == step.formula)
        use_s = sum(self.pour_s + 60 * s.time_min for s in rest[: last_use + 1])
        # What is made before the first bath waits through the developers and the winding of the film as well.
        ahead_s = 60 * self.pace * (number("practice.run.mix_liquid_min") * len(_groups(self.strips)) + 1)
        return before_s + use_s + ahead_s > self.margin * 60 * (formula.use_within_min or math.inf)

    def _formula_of(self, step: Step) -> Formula:
        """The formula of a step that has a bath."""
        assert step.formula is not None
        return self.formulas[step.formula]

    @staticmethod
    def _short_lived(formula: Formula) -> bool:
        return formula.make_just_before_use and formula.use_within_min is not None

    def _last_moment(self, step: Step) -> bool:
        formula = self._formula_of(step)
        return (
            formula.use_within_min is not None and formula.use_within_min <= _LAST_MOMENT_MIN and _has_powder(formula)
        )

    def _hold(self, key: str, work: list[Action], opened: bool) -> list[Action]:
        """The film waits in water while the hands do something else."""
        place = "open" if opened else "closed_tank"
        return [
            self._by_hand(
                f"{key}.hold",
                "hold",
                self.pour_s,
                exact=True,
                strips=self._names,
                place=place,
                why="Two hands cannot do two things: the film can wait in water.",
            ),
            *work,
            self._by_hand(
                f"{key}.hold_end",
                "hold_end",
                self.dump_s,
                strips=self._names,
                place=place,
                exact=True,
            ),
        ]

    def _dissolve(self, step: Step) -> Action:
        formula = self._formula_of(step)
        return self._made(
            self._by_hand(
                f"prepare.{step.formula}",
                "prepare",
                60 * number("practice.run.dissolve_min"),
                name=formula.name,
                stirred_in=True,
                volume_ml=step.volume_ml,
                formula=step.formula,
                cautions=step.cautions,
            ),
            edge="start",
        )

    def _prepare(self, key: str, suffix: str = "", strips: Sequence[Strip] = ()) -> Action:
        formula = self.formulas[key]
        minutes = (
            number("practice.run.mix_powder_min") if _has_powder(formula) else number("practice.run.mix_liquid_min")
        )
        return self._made(
            self._by_hand(
                f"prepare.{key}{suffix}",
                "prepare",
                60 * minutes,
                name=formula.name,
                apart=bool(suffix),
                volume_ml=self._volume_of(key),
                use_within_min=formula.use_within_min,
                formula=key,
                strips=tuple(s.name for s in strips),
                why=formula.note,
            ),
            edge="end",
        )

    def _made(self, action: Action, edge: Literal["start", "end"]) -> Action:
        """Note how long the bath may live after this action."""
        self._lives_from(action.formula, action.key, edge, action.key.removeprefix(f"prepare.{action.formula}"))
        return action

    def _lives_from(self, key: str, action: str, edge: Literal["start", "end"], suffix: str = "") -> None:
        formula = self.formulas[key]
        if formula.use_within_min is not None:
            last = [s for s in self.route.steps if s.formula == key][-1]
            self.lives.append(
                Lived(
                    formula=key,
                    from_action=action,
                    from_edge=edge,
                    to_action=last.key + suffix,
                    limit_s=60 * formula.use_within_min,
                    kind="life",
                )
            )

    # Used baths that must not stand

    def _destroyed_in_a_hold(
        self, step: Step, rest: Sequence[Step], line: Sequence[Action], opened: bool
    ) -> list[Action]:
        """Destruction while the film waits, where it cannot wait until the film hangs."""
        if step.after_use != "destroy" or not step.formula or any(s.formula == step.formula for s in rest):
            return []
        residue = residue_of(self._formula_of(step))
        if residue is None:
            return []
        work = self._destruction(step)
        since = _begin_of_clock(line, step.formula, residue.kind)
        elapsed_s = sum(a.pour_s + a.duration_s for a in line[since:])
        if residue.kind == "permanganate" and not any(a.key.startswith(f"prepare.{step.formula}") for a in line):
            elapsed_s += 60 * number("practice.run.mix_powder_min") * self.pace
        rest_s = sum(self._length_of(s) for s in rest)
        hands_on_s = sum(a.duration_s for a in work)
        self._must_go(step, residue, line, since, work)
        if elapsed_s + rest_s + hands_on_s <= self.margin * 60 * residue.deadline_min:
            self.destroyed_at_the_end.append(step.formula)
            return []
        return self._hold(f"{step.key}.destroy", work, opened)

    def _must_go(
        self, step: Step, residue: Residue, line: Sequence[Action], since: int, work: Sequence[Action]
    ) -> None:
        assert step.formula is not None
        made = f"prepare.{step.formula}"
        from_making = residue.kind in ("dithionite", "permanganate") and step.formula not in self.mixed
        begin, edge = (self._meanwhile.get(step.formula, made), "start") if from_making else (line[since].key, "pour")
        self.lives.append(
            Lived(
                formula=step.formula,
                from_action=begin,
                from_edge=edge,
                to_action=work[-1].key,
                limit_s=60 * residue.deadline_min,
                kind="deadline",
            )
        )

    def _destruction(self, step: Step) -> list[Action]:
        steps = destruction_steps(
            self._formula_of(step), volume_ml=step.volume_ml or self.tank_ml, bucket_ml=self.bucket_ml
        )
        actions = []
        for part in steps:
            hands_off = part.time_min >= _HANDS_OFF_MIN
            minutes = 2.0 if hands_off else part.time_min
            actions.append(
                self._by_hand(
                    f"{step.key}.{part.key}",
                    "destroy",
                    60 * minutes,
                    name=part.name,
                    said=part.do,
                    asked_until_s=0.0 if hands_off else 60 * minutes,
                    why=part.why,
                    cautions=part.cautions,
                    step=step.key,
                    formula=step.formula,
                    place="bench",
                    unattended_s=60 * part.time_min if hands_off else 0.0,
                    waste_jug=part.waste_jug,
                    exact=True,
                )
            )
        return actions

    def _length_of(self, step: Step) -> float:
        if step.kind == "dry":
            return 60 * number("practice.run.hang_min") * len(self.vessels) * self.pace
        rinse_s = sum(
            self.pour_s + n * self.inversion_s + self.dump_s
            for n in (step.rinse_after.fills if step.rinse_after else ())
        )
        return self.pour_s + 60 * step.time_min + rinse_s

    # Before and after

    def _setup(self, film: Sequence[Action]) -> list[Action]:
        made_later = {action.formula for action in film if action.kind == "prepare"} | set(self._meanwhile)
        first_key = self.first.formula or ""
        groups = _groups(self.strips)
        ready, lasting, short = [], [], []
        for key in self._prepared():
            formula = self.formulas[key]
            if key == first_key or key in made_later:
                continue
            if key in self.mixed or (not formula.one_shot and key not in self.fresh):
                ready.append(key)
            elif self._short_lived(formula):
                short.append(key)
            else:
                lasting.append(key)
        # The shortest life is made last, so that it is youngest when it is needed.
        short.sort(key=lambda key: -(self.formulas[key].use_within_min or math.inf))
        weighed = [s for s in self.route.steps if s.formula in made_later and self._last_moment(s)]
        actions = [
            self._by_hand(
                "lay_out",
                "lay_out",
                60 * number("practice.run.lay_out_min"),
                vessels=self.vessels,
                cautions=(
                    Deferral.FIRST.value,
                    "Nobody eats, drinks or carries children here tonight.",
                ),
            ),
            *(self._prepare(key) for key in lasting),
            self._by_hand(
                "fill_bottles",
                "fill_bottles",
                60 * number("practice.run.fill_bottles_min"),
                baths=tuple(self.formulas[key].name for key in ready),
            ),
            self._by_hand(
                "prewarm",
                "prewarm",
                60 * number("practice.run.prewarm_hands_min"),
                unattended_s=60 * number("practice.run.prewarm_stand_min"),
                temperature_c=self.base_c,
                baths=self._warmer(),
                exact=True,
            ),
            *(
                self._by_hand(
                    f"weigh.{s.formula}",
                    "weigh",
                    60 * number("practice.run.weigh_min"),
                    name=self._formula_of(s).name,
                    formula=s.formula,
                    cautions=s.cautions,
                )
                for s in weighed
            ),
            *(self._clip(key) for key in (*ready, *lasting) if key in self.clips_s),
            *self._in_the_dark(
                [
                    self._by_hand(
                        f"load.{vessel.reel}",
                        "load",
                        60 * number("practice.run.load_min"),
                        place="dark_room",
                        strips=(vessel.strip,),
                        vessels=(vessel,),
                    )
                    for vessel in self.vessels
                ],
                place="bench",
            ),
            *(self._prepare(key) for key in short),
            *(
                self._prepare(first_key, f".{i}" if len(groups) > 1 else "", group)
                for i, group in enumerate(groups, start=1)
                if first_key and first_key not in self.mixed
            ),
            *(self._clip(key) for key in (*short, first_key) if key in self.clips_s and len(groups) == 1),
        ]
        position = next(i for i, action in enumerate(actions) if action.key == "prewarm")
        since_s = sum(a.duration_s for a in actions[position + 1 :])
        missing_s = actions[position].unattended_s - since_s
        if missing_s > 0:
            actions.append(
                self._by_hand(
                    "wait_warm",
                    "wait",
                    missing_s,
                    asked_until_s=missing_s / 2,
                    exact=True,
                    hands=False,
                )
            )
        actions.append(
            self._by_hand(
                "check",
                "check",
                _CHECK_S,
                temperature_c=self.bath_c.get(self.first.key, self.base_c),
                exact=True,
            )
        )
        return actions

    def _clip(self, key: str) -> Action:
        """A clip of film in a bath, timed from the drop to what is seen; the film itself is somewhere else."""
        formula = self.formulas[key]
        before_s, takes_s = number("practice.run.clip_hands_s") * self.pace, self.clips_s[key]
        return Action(
            key=f"clip.{key}",
            kind="clip",
            name=formula.name,
            formula=key,
            clip=clip_does(formula) or "clear",
            pour_s=before_s,
            duration_s=takes_s,
            waits_for_pour=True,
            hands=((0.0, before_s + takes_s),),
            cautions=_guard(formula),
        )

    def _ending(self) -> list[Action]:
        work = []
        for key in self.destroyed_at_the_end:
            step = [s for s in self.route.steps if s.formula == key][-1]
            work += self._destruction(step)
        work.append(
            self._by_hand(
                "clear_up",
                "clear_up",
                60 * number("practice.run.clear_up_min"),
                cautions=("Look twice: nothing with ammonia and silver may be left standing.",)
                if any(k == "ammonia_bath" for k in self._prepared())
                else (),
            )
        )
        return work

    def _in_the_dark(self, work: list[Action], *, place: str, suffix: str = "") -> list[Action]:
        """What is done in the dark: read before, with the light out, and only then with light again."""
        return [
            self._by_hand(
                f"brief{suffix}",
                "brief",
                60 * number("practice.run.brief_min"),
                place=place,
                vessels=self.vessels,
                step="join" if suffix else "load",
                strips=self._names if suffix else (),
                cautions=("Film sees every screen, a black one too: turn it face down before the film comes out.",),
            ),
            self._by_hand(
                f"lights_out{suffix}",
                "lights_out",
                60 * number("practice.run.lights_out_min"),
                place="dark_room",
                strips=self._names if suffix else (),
            ),
            *work,
            self._by_hand(
                f"light_on{suffix}",
                "light_on",
                number("practice.run.light_on_s"),
                place="dark_room",
                vessels=self.vessels,
                step="join" if suffix else "load",
                strips=self._names,
                exact=True,
            ),
        ]

    # Small things

    @property
    def _names(self) -> tuple[str, ...]:
        return tuple(strip.name for strip in self.strips)

    def _by_hand(
        self, key: str, kind: str, seconds: float, *, exact: bool = False, hands: bool = True, **more: Any
    ) -> Action:
        """An action that is over when the person says so; `exact` lengths do not follow the pace."""
        seconds = seconds if exact else seconds * self.pace
        return Action(key=key, kind=kind, duration_s=seconds, hands=((0.0, seconds),) if hands else (), **more)

    def _cautions(self, actions: Sequence[Action]) -> list[PlanCaution]:
        told: list[PlanCaution] = []
        for finding in self.findings:
            told.append(PlanCaution(**finding.caution().document()))
        # A process that was kept before its baths were read so has the warnings of its chemistry too.
        rank, by_chemistry = warnings_of(self.route, self.formulas)
        grave = max(rank, self.route.hazard_rank) >= 8
        for warning in dict.fromkeys((*self.route.warnings, *by_chemistry)):
            told.append(PlanCaution(code="route.warning", text=warning, level="danger" if grave else "caution"))
        for works, later in self._no_hands:
            waits = Saying(kind="no_hands_meanwhile", name=works.name, other=self._formula_of(later).name)
            told.append(PlanCaution(code="made.during", say=waits, level="note", where=works.key))
        told += [
            PlanCaution(code="process.advice", text=text, level="note", source="common practice, no source")
            for text in self.route.advice
        ]
        before_c, soft = None, False
        for action in actions:
            if action.kind not in ("bath", "rinse", "wash") or action.temperature_c is None:
                continue
            if before_c is not None:
                step = temperature_step(before_c, action.temperature_c, soft=soft)
                if step is not None:
                    told.append(
                        PlanCaution(
                            code="temperature.step",
                            say=step,
                            level=STEP_LEVEL[soft],
                            where=action.key,
                            source="temp.reticulation",
                        )
                    )
            before_c = action.temperature_c
            low_c, high_c = action.temperature_low_c, action.temperature_high_c
            if (
                action.kind == "bath"
                and low_c is not None
                and high_c is not None
                and not low_c <= action.temperature_c <= high_c
            ):
                outside = Saying(
                    kind="planned_outside",
                    name=action.name,
                    temperature_c=action.temperature_c,
                    low_c=low_c,
                    high_c=high_c,
                )
                told.append(PlanCaution(code="temperature.window", say=outside, level="caution", where=action.key))
            if action.time_sd_s > 0 and action.nominal_s:
                changed = Saying(
                    kind="time_changed",
                    temperature_c=action.temperature_c,
                    before_s=action.nominal_s,
                    seconds=action.duration_s,
                    sd_s=action.time_sd_s,
                )
                told.append(
                    PlanCaution(code="temperature.time", say=changed, level="note", where=action.key, source="temp.law")
                )
            soft = soft or (
                self.route.bleach == "acid_permanganate"
                and action.step in {s.key for s in self.route.steps if s.kind == "bleach"}
            )
        return told


def _own_words(step: Step, formula: Formula | None = None) -> str:
    """What a person said of a step that has no instruction: its bath where it bears another name, how it is moved, the note.

    What goes into the bath is said where it is mixed, from the bottles that stand there.
    """
    own = dict(in_own_words(step, {}))
    moved = own.pop("agitation", "none" if step.kind in ("reexpose", "dry") else tell_agitation(step.agitation))
    named = formula.name if formula is not None and formula.name.casefold() != step.name.casefold() else ""
    parts = (
        step.mix if formula is None else named,
        "" if moved == "none" else f"moved: {moved}" if "agitation" in step.said else f"moved {moved}",
        *(f"{name}: {words}" for name, words in own.items()),
        step.note,
    )
    return " ".join(f"{part[:1].upper()}{part[1:].rstrip('.')}." for part in parts if part)


def _time_told(step: Step) -> TimeTold | None:
    """How a time is meant that is not one number; None where it is."""
    longest_min = step.time_min if step.time_most_min is None else step.time_most_min
    if step.until or longest_min > step.time_min:
        return TimeTold(until=step.until, from_min=step.time_min, longest_min=longest_min)
    return None


def _groups(strips: Sequence[Strip]) -> list[tuple[Strip, ...]]:
    """Strips with the same first development share it."""
    groups: dict[tuple[float | None, ...], list[Strip]] = {}
    for strip in strips:
        groups.setdefault(tuple(strip.controls.get(name) for name in CONTROLS), []).append(strip)
    return [tuple(group) for group in groups.values()]


def _ordered(strips: Sequence[Strip], first: Step) -> tuple[tuple[Strip, ...], StripOrder | None]:
    """The order of first developments in which strips wait least in water, all told."""
    groups = _groups(strips)
    if len(groups) == 1:
        return tuple(strips), None

    def minutes(group: Sequence[Strip]) -> float:
        return group[0].controls.get(TIME.key, first.time_min)

    def waited(order: Sequence[Sequence[Strip]]) -> float:
        return sum(minutes(later) for i in range(len(order)) for later in order[i + 1 :] for _ in order[i])

    best = min(itertools.permutations(groups), key=lambda order: (waited(order), [s.name for g in order for s in g]))
    ordered = tuple(strip for group in best for strip in group)
    order = StripOrder(
        groups=tuple(tuple(strip.name for strip in group) for group in best),
        waited_min=waited(best),
        worst_min=max(map(waited, itertools.permutations(groups))),
    )
    return ordered, order


def _has_powder(formula: Formula) -> bool:
    return (
        any(substance(component.substance).phase == "solid" for component in formula.components)
        and not formula.dilutions
    )


_GOES: dict[str, Goes] = {"keep": "bottle", "waste": "jug", "destroy": "bucket", "discard": "away"}


def _goes(step: Step) -> tuple[Goes, str]:
    """Where the used bath goes, and the letter of its jug where it goes into one."""
    goes = _GOES[step.after_use]
    return goes, step.waste_jug if goes == "jug" else ""


def _with_ends(cues: Sequence[Cue], duration_s: float, drain_s: float, goes: Goes, jug: str = "") -> tuple[Cue, ...]:
    drain_at_s = duration_s - drain_s
    found = list(cues)
    if drain_at_s > _READY_S:
        found.append(Cue(at_s=drain_at_s - _READY_S, kind="ready", do="hands_ready"))
    found.append(Cue(at_s=drain_at_s, kind="drain", do="pour_out", goes=goes, jug=jug, lasts_s=drain_s))
    found.append(Cue(at_s=duration_s, kind="end", do="out"))
    return tuple(sorted(found, key=lambda cue: cue.at_s))


def _guard(formula: Formula) -> tuple[str, ...]:
    """What to wear and how to air at this bath; nothing for one that is as good as water."""
    sheet = hazards_of(formula)
    return (
        (f"{sheet.wear[0].capitalize()}, {', '.join(sheet.wear[1:])}. {sheet.air}",)
        if sheet.codes or sheet.gives_off_gas
        else ()
    )


def _merged(spans: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Spans that follow each other without a gap become one; an overlap stays for the proof to find."""
    found: list[tuple[float, float]] = []
    for start, end in spans:
        if end <= start:
            continue
        if found and abs(start - found[-1][1]) < 1e-9:
            found[-1] = (found[-1][0], end)
        else:
            found.append((start, end))
    return tuple(found)


def _begin_of_clock(line: Sequence[Action], formula: str, kind: str) -> int:
    """Where in the line the clock of a used bath starts: at its making, or when the film goes in."""
    if kind in ("dithionite", "permanganate"):
        for index, action in enumerate(line):
            if action.kind == "prepare" and action.formula == formula:
                return index
        return 0
    return next(index for index, action in enumerate(line) if action.kind == "bath" and action.formula == formula)


def _laid_out(actions: Sequence[Action]) -> list[Action]:
    """Give every action its start: each begins when the one before it is over."""
    start_s = 0.0
    placed = []
    for action in actions:
        placed.append(action.model_copy(update={"start_s": start_s}))
        start_s = placed[-1].end_s
    return placed
