"""After the run: uses of the kept baths, waste jugs with their silver, destruction, the trials that wait.

Each booking has a key and can be done twice without harm: it looks first whether it was done.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from hashlib import sha256

from obverse.foundation import InputError, ObverseError
from obverse.process import TEMPERATURE, TIME, Bottle, Formula
from obverse.run import BathUse, Done, RunState, TrueControls, bath_uses, still_to_destroy, true_controls
from obverse.safety import MOST_CLIP_S
from obverse.store import Store, Stored
from obverse.store.records import TrialEntry
from obverse.workbench.care import Care
from obverse.workbench.evening_words import developed_words
from obverse.workbench.known_baths import known_formulas
from obverse.workbench.notebook import Notebook
from obverse.workbench.wear import wear_in_run

# A jug nobody has set up yet gets this size until somebody says what it is.
USUAL_JUG_ML = 5000.0
Booking = tuple[str, Callable[[], str]]


def book(store: Store, care: Care, notebook: Notebook, run_id: str, state: RunState) -> Iterator[Booking]:
    """The bookings of an ended run, one after the other: key, and what does it and says what was done."""
    areas = {strip.name: strip.film_area_m2 for strip in state.plan.strips}
    standing = set(still_to_destroy(state))
    known = state.plan.route.baths(known_formulas(store))
    destroyed = set()
    for use in bath_uses(state):
        area_m2 = sum(areas[name] for name in use.strips)
        mark = f"{run_id}/{use.mark}"
        if use.after_use == "keep":
            yield f"bath:{use.mark}", _kept_bath(store, care, use, area_m2, mark, state)
        elif use.after_use == "waste":
            yield f"jug:{use.mark}", _jug(care, use, area_m2, mark, known[use.formula])
        elif use.after_use == "destroy" and use.formula in standing:
            yield f"standing:{use.mark}", _still_standing(store, use, area_m2, mark, state, known[use.formula].name)
        elif use.after_use == "destroy" and use.formula not in destroyed:
            destroyed.add(use.formula)
            yield f"destroyed:{use.formula}", _destroyed(store, use, run_id, state, known[use.formula].name)
    for number, done in enumerate(done for done in state.done if state.plan.action(done.key).kind == "clip"):
        yield f"clip:{done.key}:{number}", _clip(store, care, done, f"{run_id}/{done.key}#{number}", state)
    for true in true_controls(state):
        if true.strip.film:
            yield f"trial:{true.strip.name}", _trial(store, care, notebook, run_id, true, state)
            if _corrected_since(state, f"trial:{true.strip.name}"):
                # Once for each truth: what a person writes into the trial afterwards is not written over.
                mark = sha256(repr((true.controls, true.control_sds, developed_words(true.went))).encode()).hexdigest()[
                    :12
                ]
                yield f"trial:{true.strip.name}:{mark}", _trial_again(notebook, run_id, true)


def _kept_bath(store: Store, care: Care, use: BathUse, area_m2: float, mark: str, state: RunState) -> Callable[[], str]:
    def work() -> str:
        known = store.bottles.all(own=True, formula=use.formula)
        if any(entry.run == mark for kept in known for entry in kept.thing.passes):
            return "counted before"
        made_tonight = {a.key for a in state.plan.actions if a.kind == "prepare" and a.formula == use.formula}
        anew = any(done.key in made_tonight for done in state.done)
        # What was mixed tonight is another bath than the one that stands from before.
        id = known[-1].id if known and not anew else care.mix_bath(use.formula, use.volume_ml)
        ratio = min(10.0, max(0.1, use.took_s / use.planned_s))
        bath = care.count_pass(id, films=len(use.strips), area_m2=area_m2, time_ratio=ratio, run=mark)
        times = len(bath.bottle.passes)
        return f"{bath.bottle.name}: used {'once' if times == 1 else f'{times} times'} so far"

    return work


def _clip(store: Store, care: Care, done: Done, mark: str, state: RunState) -> Callable[[], str]:
    """A clip that was timed is noted at its bottle; a bath that is used once has none, and it is only told."""

    def work() -> str:
        formula = state.plan.action(done.key).formula
        if not 0 < done.took_s <= MOST_CLIP_S:
            return f"{done.took_s:.0f} s is no time of a clip; nothing was noted"
        known = store.bottles.all(own=True, formula=formula)
        if not known:
            return f"{done.took_s:.0f} s; no bottle of it stands, so nothing was noted"
        bath = care.clip_test(known[-1].id, done.took_s, run=mark)
        return f"{bath.bottle.name}: {bath.clip.caution.text if bath.clip else ''}"

    return work


def _jug(care: Care, use: BathUse, area_m2: float, mark: str, formula: Formula) -> Callable[[], str]:
    def work() -> str:
        jugs = [view for view in care.jugs() if view.jug.letter == use.waste_jug]
        if any(item.note == mark for view in jugs for item in view.jug.contents):
            return "poured before"
        fits = care.jug_for(use.waste_jug, use.volume_ml)
        id = care.begin_jug(use.waste_jug, max(USUAL_JUG_ML, 2 * use.volume_ml)) if fits is None else fits.id
        from obverse.safety.bath_life import silver_taken_g

        silver = silver_taken_g(formula, area_m2)
        entry = {
            "what": use.formula,
            "volume_ml": use.volume_ml,
            "silver_low_g": silver.low,
            "silver_likely_g": silver.likely,
            "silver_high_g": silver.high,
            "on": care.now().date().isoformat(),
            "note": mark,
        }
        try:
            view = care.pour_document(id, entry)
        except ObverseError as error:
            raise InputError(
                f"{use.formula} was not booked into jug {use.waste_jug}: {error.what}",
                where="waste",
                remedy="book it by hand on the care page",
            ) from error
        likely_g = f"{view.jug.silver_g.likely:.2f}"
        told = "less than 0.01 g" if float(likely_g) == 0 else f"about {likely_g} g"
        return f"{view.jug.name}: {view.jug.volume_ml:.0f} mL, {told} of silver"

    return work


def _still_standing(
    store: Store, use: BathUse, area_m2: float, mark: str, state: RunState, name: str
) -> Callable[[], str]:
    """A used bath that must not stand is put on the list of baths, where its clock is shown until it is gone."""

    def work() -> str:
        if any(entry.run == mark for kept in store.bottles.all(retired=True) for entry in kept.thing.passes):
            return "listed before"
        done = {d.key: d for d in state.done}
        made = next(
            (
                done[a.key]
                for a in state.plan.actions
                if a.kind == "prepare" and a.formula == use.formula and a.key in done
            ),
            None,
        )
        poured_s = done[use.action].clock_from_s if use.action in done else state.clock_from_s or state.last_s
        body = {
            "name": f"{name}, USED: destroy it",
            "formula": use.formula,
            "amount": use.volume_ml,
            "mixed_at": _instant(made.ended_s if made else poured_s),
            "passes": [{"area_m2": area_m2, "films": len(use.strips), "at": _instant(poured_s), "run": mark}],
        }
        from obverse.foundation import read_document
        from obverse.process import Bottle

        store.bottles.put(read_document(Bottle, body, where="bath"))
        return "put on the list of used baths, where its clock runs"

    return work


def _destroyed(store: Store, use: BathUse, run_id: str, state: RunState, name: str) -> Callable[[], str]:
    def work() -> str:
        for kept in used_bottles(store, run_id, use.formula):
            # It stood for a while, as the evening was ended and then went on.
            store.bottles.retire(kept.id)
        steps = [a for a in state.plan.actions if a.kind == "destroy" and a.formula == use.formula]
        jug = next((a.waste_jug for a in reversed(steps) if a.waste_jug), "")
        ways = "one step" if len(steps) == 1 else f"{len(steps)} steps"
        return f"{name}: destroyed in {ways}" + (f"; what settles goes to jug {jug}" if jug else "")

    return work


def _trial(
    store: Store, care: Care, notebook: Notebook, run_id: str, true: TrueControls, state: RunState
) -> Callable[[], str]:
    def work() -> str:
        if any(_is_of(kept.thing, run_id, true) for kept in store.trials.all(retired=True, film=true.strip.film)):
            return "written before"
        note = _note_of(true)
        wear = wear_in_run(store, care, run_id, state, true.strip.name)
        trial = {
            "controls": true.controls,
            "control_sds": true.control_sds,
            "wear": wear,
            "person": store.runs.get(run_id).thing.person,
            "note": note,
        }
        of_run = {"run": run_id, "strip": true.strip.name, "booked_note": note, "recipe": true.strip.recipe}
        kept = notebook.add_trial(true.strip.film, trial, **of_run)
        return f"{kept.thing.trial.id} hangs and waits for its reading"

    return work


def _is_of(entry: TrialEntry, run_id: str, true: TrueControls) -> bool:
    """Whether a trial is what that evening made of this strip."""
    return entry.run == run_id and entry.strip == true.strip.name


def _note_of(true: TrueControls) -> str:
    return f"{true.strip.name} of this evening. {developed_words(true.went)}"


def _corrected_since(state: RunState, booking: str) -> bool:
    """Whether anything of the evening was corrected after that booking."""
    kinds = [(event.kind, event.text) for event in state.events]
    if ("booked", booking) not in kinds:
        return False
    return any(kind in ("taken_back", "changed") for kind, _ in kinds[kinds.index(("booked", booking)) :])


def _trial_again(notebook: Notebook, run_id: str, true: TrueControls) -> Callable[[], str]:
    """After a correction the trial follows; empty where it says the same already."""

    def work() -> str:
        note = _note_of(true)
        for kept in notebook.trials(true.strip.film):
            trial = kept.thing.trial
            if not _is_of(kept.thing, run_id, true):
                continue
            # A note that a person wrote is theirs.
            own = trial.note != kept.thing.booked_note
            new = {"controls": true.controls, "control_sds": true.control_sds, "note": trial.note if own else note}
            if all(getattr(trial, name) == value for name, value in new.items()):
                return ""
            notebook.change_trial(kept.id, {**new, "booked_note": note})
            return f"{trial.id} follows the correction: {true.controls[TIME.key]:g} min at {true.controls[TEMPERATURE.key]:g} C"
        return ""

    return work


def used_bottles(store: Store, run_id: str, formula: str, *, retired: bool = False) -> list[Stored[Bottle]]:
    """The used baths of that formula that an evening left standing."""
    return [
        kept
        for kept in store.bottles.all(retired=retired, formula=formula)
        if any(entry.run.startswith(f"{run_id}/") for entry in kept.thing.passes)
    ]


def _instant(at_s: float) -> str:
    return datetime.fromtimestamp(at_s, UTC).isoformat(timespec="seconds")
