"""Processes: the person's own ways, kept with every revision, beside the routes that are shipped with the house.

A process is written in steps as people say them; its baths are read by the bottles that stand on the shelf and travel
with it by active substance.
"""

from __future__ import annotations

import json
import re
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from obverse.foundation import (
    ConflictError,
    Document,
    InputError,
    JsonObject,
    NotFoundError,
    TooLargeError,
    parse_json,
    read_document,
    regex,
)
from obverse.mixing import SaidBath, read_said, starting_controls, words_of
from obverse.process import (
    APART,
    LONGEST_NAME,
    STEP_WORDS,
    TEMPERATURE,
    TIME,
    Declined,
    Formula,
    Process,
    SaidMix,
    Step,
    heard,
    mix_in_words,
    parse_mix,
    step_from_words,
    step_in_words,
)
from obverse.process.catalog import formulas as generic_formulas
from obverse.process.catalog import routes
from obverse.safety import as_worked, usual_after_use, warnings_of
from obverse.workbench import words
from obverse.workbench.house_opinion import opinions
from obverse.workbench.known_baths import known_formulas, known_process, known_processes
from obverse.workbench.my_room import room_of
from obverse.workbench.opinion_words import Opinion
from obverse.workbench.place import Place
from obverse.workbench.shelf import Shelf

if TYPE_CHECKING:
    from obverse.clock import Clock
    from obverse.store import Store, Stored

# Forty steps and as many formulas are well below this.
MOST_BYTES_OF_A_PROCESS = 1_000_000
NO_PLAIN_TEXT = (
    "a way in plain words is typed on its page, step by step (Bench, Processes); a file says its steps as `obverse process show "
    "iron_ammonia_fogging --words` prints them"
)
# As the plan takes them.
SMALLEST_TANK_ML, LARGEST_TANK_ML = 50, 20_000


@dataclass(frozen=True, slots=True)
class Draft:
    """A process as it was typed.

    Parameters
    ----------
    process : Process or None
        None where something is wrong.
    rows : tuple of dict
        The words of each step as typed, with its key.
    wrong : dict of (int, str) to str
        What is wrong, by step and field; step -1 for the process itself.
    """

    process: Process | None
    rows: tuple[dict[str, str], ...]
    wrong: dict[tuple[int, str], str]


@dataclass(frozen=True, slots=True)
class StepDifference:
    """One thing in which two processes differ, in words."""

    where: str
    first: str
    second: str


class ProcessInWords(Document):
    """A process as a person writes it down: steps in words, as the fields of the page.

    It is read by the bottles on the shelf and kept as an ``obverse-process``.
    """

    name: str
    key: str = ""
    summary: str = ""
    tank_ml: float | None = None
    steps: tuple[dict[str, str], ...]


class Processes(Place):
    """Processes in the store, and those that are shipped.

    Parameters
    ----------
    shelf : Shelf
        By whose bottles a bath as said is read.
    """

    def __init__(self, store: Store, clock: Clock, home: Path | None, shelf: Shelf):
        super().__init__(store, clock, home)
        self._shelf = shelf

    def own(self) -> list[Stored[Process]]:
        """The person's own processes, oldest first."""
        return self._store.processes.all()

    def every(self) -> dict[str, Process]:
        """All that may be chosen at a plan: the person's own by id, then those that are shipped by key."""
        return known_processes(self._store)

    def process(self, id: str) -> Process:
        """One process, by its id or the key of a shipped one.

        Raises
        ------
        NotFoundError
            If there is none.
        """
        return known_process(self._store, id)

    def revision(self, id: str) -> int:
        """The revision of a process of one's own; 0 for one that is not kept here."""
        kept = self._store.processes.find(id)
        return 0 if kept is None else kept.revision

    def formulas(self) -> dict[str, Formula]:
        """Formulas that a bath may name: generic and own."""
        return known_formulas(self._store)

    # Beginning

    def begin(self, name: str, *, source: str = "") -> str:
        """Begin a process from nothing, a process, ``evening:ID`` (``evening:last``) or ``recipe:ID``; returns its id."""
        start = self._source(source)
        title = " ".join(name.split())
        stem = words.id_from(title, most=60, joint="_")
        if not stem:
            raise InputError(
                "a process needs a name with letters or figures",
                where="name",
                remedy="give one, such as 'my fogging way'",
            )
        if len(title) > LONGEST_NAME:
            raise InputError(
                f"it is too long: at most {LONGEST_NAME} signs", where="name", remedy="choose a shorter one"
            )
        key = words.free_id(stem, {*self._store.ids("route"), *routes()}, joint="_")
        if start is None:
            start = Process(key=key, name=title, steps=(_blank(),))
        process = start.model_copy(update={"key": key, "name": title})
        self._store.processes.put(process, id=key, expected_revision=0)
        return key

    def _source(self, source: str) -> Process | None:
        kind, _, id = source.partition(":")
        if not source:
            return None
        if kind == "recipe":
            recipe = self._store.recipes.get(id).thing
            return recipe.route.model_copy(
                update={"formulas": tuple(f for f in recipe.formulas if f.key not in generic_formulas())}
            )
        if kind == "evening":
            runs = self._store.runs.all()
            kept = runs[-1] if id in ("", "last") and runs else None
            if kept is None and id in ("", "last"):
                raise NotFoundError("no evening is kept yet", where="source", remedy="begin from a shipped process")
            return (kept or self._store.runs.get(id)).thing.plan.route
        return self.process(source)

    # Writing

    def draft(self, process: Process) -> Draft:
        """A process as its form shows it."""
        names = _names(process)
        known = {key: formula.name for key, formula in process.baths(self.formulas()).items()}
        called = list(known.values())
        rows = tuple(
            {
                "key": step.key,
                **step_in_words(step, names),
                **_volume_said(step),
                **_bath_by_name(step, known, called),
            }
            for step in process.steps
        )
        return Draft(process, rows, {})

    def read(self, before: Process, head: Mapping[str, str], rows: Sequence[Mapping[str, str]]) -> Draft:
        """A process out of what was typed; what a row leaves unsaid stays as the step of its key had it.

        Parameters
        ----------
        before : Process
            As it is kept; of it stays what the form does not show.
        head : mapping of str to str
            ``name``, ``summary``, ``tank_ml``.
        rows : sequence of mapping
            `STEP_WORDS` of each step, and its ``key`` where it has one.
        """
        wrong: dict[tuple[int, str], str] = {}
        known = {key: formula.name for key, formula in {**self.formulas(), **before.baths({})}.items()}
        kept = {step.key: step for step in before.steps}
        steps: list[Step] = []
        names: dict[str, str] = {}
        typed = tuple({name: str(row.get(name, "")) for name in ("key", *STEP_WORDS)} for row in rows)
        for index, row in enumerate(typed):
            dark = all(step.light == "dark" for step in steps)
            fields, told = step_from_words(row, names, known, dark=dark)
            wrong |= {(index, name): sentence for name, sentence in told.items()}
            old = kept.get(row["key"])
            # A step that does something else is another step; one that only got another name is not.
            stays = old is not None and row["key"] not in names and old.kind == fields["kind"]
            key = row["key"] if stays else _key(fields["name"], names.keys() | {one["key"] for one in typed})
            if told:
                names[key] = fields["name"]
                continue
            base = {} if old is None else _unsaid(old, fields)
            if old is not None and row["agitation"] == step_in_words(old, {**names, **_names(before)})["agitation"]:
                # Left as it stood: what the words do not show of it stays too.
                fields.pop("agitation", None)
            try:
                step = read_document(Step, {**base, **fields, "key": key}, where=fields["name"])
            except InputError as error:
                wrong[index, _field_of(error)] = error.sentence
                names[key] = fields["name"]
                continue
            names[key] = step.name
            steps.append(step)
        tank_ml = _tank(head.get("tank_ml", ""), wrong)
        if not head.get("name", before.name).strip():
            wrong[-1, "name"] = "the process has no name; give it one."
        if not typed:
            wrong[-1, "steps"] = "a process needs a step."
        if wrong:
            return Draft(None, typed, wrong)
        try:
            process = before.model_copy(
                update={
                    "name": " ".join(head.get("name", before.name).split()),
                    "summary": head.get("summary", before.summary).strip()[:600],
                    "tank_ml": tank_ml,
                    "steps": tuple(steps),
                }
            )
            silent = {
                key
                for key, row in zip((s.key for s in steps), typed, strict=True)
                if not row["after"].strip() or heard("after", row["after"]) == {}
            }
            process = self._sent(self.with_baths(process), silent)
            process = read_document(Process, process.model_dump(mode="json"), where=before.name)
        except InputError as error:
            return Draft(None, typed, {(-1, "steps"): error.sentence})
        return Draft(process, typed, {})

    def with_baths(self, process: Process) -> Process:
        """The process with every bath as said read into a formula of its own; one that was read before stays as it was."""
        formulas = {formula.key: formula for formula in process.formulas}
        steps = []
        for step in process.steps:
            if step.mix:
                read = self._read(process, step, formulas.get(step.formula or ""))
                if read is not None:
                    formulas[read.key] = read
                said = said_mix(step.mix)[0].volume_ml()
                step = step.model_copy(
                    update={
                        "formula": read.key if read is not None else None,
                        "volume_ml": step.volume_ml or (said.best if said is not None and said.best >= 1 else None),
                    }
                )
            steps.append(step)
        used = {step.formula for step in steps}
        route = process.model_copy(
            update={"steps": tuple(steps), "formulas": tuple(f for key, f in formulas.items() if key in used)}
        )
        known = route.baths(self.formulas())
        rank, told = warnings_of(route, known)
        own = {formula.key for formula in route.formulas}
        worked = {s.formula: as_worked(s, known[s.formula], route) for s in route.steps if s.formula in own and s.mix}
        return route.model_copy(
            update={
                "formulas": tuple(worked.get(f.key, f) for f in route.formulas),
                "warnings": tuple(dict.fromkeys((*process.warnings, *told))),
                "hazard_rank": max(process.hazard_rank, rank),
                "bleach": _bleach_of(steps, {**self.formulas(), **formulas}),
                "reversal": next((_REVERSALS[s.kind] for s in steps if s.kind in _REVERSALS), "own"),
            }
        )

    def _sent(self, process: Process, silent: Container[str]) -> Process:
        """The process with used baths of which nobody said where they go sent where their chemistry belongs."""
        known = process.baths(self.formulas())
        steps = []
        for step in process.steps:
            formula = known.get(step.formula or "")
            if step.key in silent and formula is not None:
                use, jug = usual_after_use(step, as_worked(step, formula, process), process, known)
                step = step.model_copy(update={"after_use": use, "waste_jug": jug})
            elif step.after_use == "waste" and "after" in step.said and formula is not None:
                # "To the city collection" names no jug: it is the one its chemistry belongs in.
                _, jug = usual_after_use(step, as_worked(step, formula, process), process, known)
                named = re.search(r"\bjug\s+[A-Za-z]", step.said["after"])
                step = step if named or not jug else step.model_copy(update={"waste_jug": jug})
            steps.append(step)
        return process.model_copy(update={"steps": tuple(steps)})

    def _read(self, process: Process, step: Step, before: Formula | None) -> Formula | None:
        """The formula of a step's mix; the one read before where the words are still the same."""
        if before is not None and before.note == _note(step.mix):
            keep = step.after_use == "keep"
            return before.model_copy(update={"one_shot": not keep}) if before.one_shot == keep else before
        found = self.reading(step, process, key=f"{process.key}.{step.key}"[:80], name=step.name)
        return found.formula

    def reading(self, step: Step, process: Process, *, key: str = "own", name: str = "") -> SaidBath:
        """What is made of a step's mix by the bottles that stand here."""
        mix, lost = said_mix(step.mix, _others(process, step))

        def read(said: SaidMix) -> SaidBath:
            return read_said(
                said,
                self._shelf.products_or_generic(),
                key=key,
                name=name or step.name,
                kind=step.kind,
                keep=step.after_use == "keep",
                lost=lost,
                tank_ml=step.volume_ml or process.tank_ml,
            )

        if mix.way != "words":
            return read(mix)
        # A bottle by its bare name is that bottle, as it is.
        bottle = read(_undiluted(step.mix))
        # The words that were said stay those of the bath, whatever they were read as.
        formula = bottle.formula
        if formula is None or bottle.unread or formula.unread or not _names_it(step.mix, bottle):
            return read(mix)
        return replace(bottle, formula=formula.model_copy(update={"note": _note(step.mix)}))

    def keep(self, id: str, process: Process, *, expected_revision: int | None = None) -> Stored[Process]:
        """Keep the next revision of a process of one's own."""
        if id in routes():
            raise InputError(
                f"{id!r} is shipped with the house and stays as it is",
                where="process",
                remedy="begin one of your own from it",
            )
        return self._store.processes.put(
            process.model_copy(update={"key": id}), id=id, expected_revision=expected_revision
        )

    def retire(self, id: str, *, expected_revision: int | None = None) -> None:
        """Put a process aside; it stays readable."""
        self._store.processes.retire(id, expected_revision=expected_revision)

    def change(
        self, id: str, head: Mapping[str, str], rows: Sequence[Mapping[str, str]], revision: int | None
    ) -> Draft:
        """Read what was typed and, where nothing is wrong, keep it as the next revision.

        Raises
        ------
        ConflictError
            If somebody else changed it meanwhile.
        """
        draft = self.read(self.process(id), head, rows)
        if revision is not None and revision != self.revision(id):
            raise ConflictError(
                "the process was changed meanwhile",
                where="process",
                remedy="look at what stands there now; what you typed is kept below",
                revision=self.revision(id),
            )
        if draft.process is not None:
            self.keep(id, draft.process, expected_revision=revision)
        return draft

    # As a document

    def take_in(self, data: Any, *, where: str = "process") -> str:
        """Take in a process from a document, in fields or in words; one of the same key becomes the next revision.

        What stands here already in the same words is known again and stays as it is, whatever it was called.

        Raises
        ------
        InputError
            For what is no process, with the step and the field.
        """
        process = self.from_document(data, where=where)
        for id, known in self.every().items():
            if known.model_copy(update={"key": process.key, "formulas": process.formulas}) == process and _same_baths(
                known, process
            ):
                return id
        key = process.key
        if key in routes():
            key = words.free_id(key, {*self._store.ids("route"), *routes()}, joint="_")
            process = process.model_copy(update={"key": key})
        self._store.processes.put(process, id=key)
        return key

    def from_document(self, data: Any, *, where: str = "process") -> Process:
        """The process that a document holds, its baths read by this shelf where it does not bring them."""
        if isinstance(data, Mapping) and "format" in data:
            return self.with_baths(read_document(Process, dict(data), where=where))
        said = read_document(ProcessInWords, data, where=where)
        key = said.key or words.id_from(said.name, most=60, joint="_", otherwise="process")
        for index, row in enumerate(said.steps, start=1):
            unknown = set(row) - set(STEP_WORDS)
            if unknown:
                raise InputError(
                    f"step {index} says {sorted(unknown)[0]!r}, which is no field of a step",
                    where=where,
                    remedy="use " + ", ".join(STEP_WORDS),
                )
        head = {
            "name": said.name,
            "summary": said.summary,
            "tank_ml": "" if said.tank_ml is None else f"{said.tank_ml:g}",
        }
        draft = self.read(Process(key=key, name=said.name, steps=(_blank(),)), head, said.steps)
        if draft.process is None:
            (index, name), sentence = next(iter(draft.wrong.items()))
            raise InputError(
                f"step {index + 1}, {name}: {sentence.rstrip('.')}" if index >= 0 else sentence.rstrip("."), where=where
            )
        return draft.process

    def take_in_text(self, text: str | bytes, *, where: str = "process") -> str:
        """As `take_in`, from the text of a file.

        Raises
        ------
        TooLargeError
            Above a megabyte: no process is that long.
        """
        if len(text) > MOST_BYTES_OF_A_PROCESS:
            raise TooLargeError(
                "it is longer than any process", where=where, remedy="choose the process file itself, below 1 MB"
            )
        return self.take_in(parse_json(text, where=where, of_words=NO_PLAIN_TEXT), where=where)

    def put_text(self, id: str, text: str | bytes, *, where: str = "process") -> Stored[Process]:
        """Keep the document of a text as the next revision of a process of one's own."""
        if self.revision(id) == 0:
            raise NotFoundError(
                f"there is no process {id!r} of your own", where="process", remedy="begin one with obverse process new"
            )
        data = parse_json(text, where=where, of_words=NO_PLAIN_TEXT)
        if isinstance(data, dict):
            data = {**data, "key": id}
        return self.keep(id, self.from_document(data, where=where))

    # What the house thinks, and comparing

    def opinions(self, process: Process) -> list[Opinion]:
        """What the house would do otherwise, step by step."""
        return opinions(
            process,
            process.baths(self.formulas()),
            {s.key: self.reading(s, process) for s in process.steps if s.mix},
            room=room_of(self._store),
        )

    def take_over(self, id: str, step: str, code: str, *, expected_revision: int | None = None) -> Stored[Process]:
        """Do at a step what the house would do."""
        process = self.process(id)
        opinion = self._opinion(process, step, code)
        position = next(i for i, one in enumerate(process.steps) if one.key == step)
        draft = self.draft(process)
        rows = [dict(row) for row in draft.rows]
        if opinion.insert is not None:
            rows.insert(position + (1 if opinion.after else 0), {"key": "", **opinion.insert})
        rows[position if opinion.insert is None else position + (0 if opinion.after else 1)] |= opinion.change
        changed = self.read(
            process, {"name": process.name, "summary": process.summary, "tank_ml": _g(process.tank_ml)}, rows
        )
        if changed.process is None:
            raise InputError(next(iter(changed.wrong.values())).rstrip("."), where=process.step(step).name)
        return self.keep(id, changed.process, expected_revision=expected_revision)

    def decline(self, id: str, step: str, code: str, reason: str) -> Stored[Process]:
        """Leave a step as it is; the reason is kept with the process."""
        process = self.process(id)
        self._opinion(process, step, code)
        if not reason.strip():
            raise InputError("no reason was given", where="reason", remedy="say in a few words why you do it so")
        old = process.step(step)
        declined = (*(d for d in old.declined if d.code != code), Declined(code=code, reason=reason.strip()[:400]))
        return self.keep(id, process.with_step(old.model_copy(update={"declined": declined})))

    def _opinion(self, process: Process, step: str, code: str) -> Opinion:
        found = next((one for one in self.opinions(process) if (one.step, one.code) == (step, code)), None)
        if found is None:
            raise NotFoundError(
                "the house says nothing of that kind of this step", where="opinion", remedy="load the page anew"
            )
        return found

    def controls(self, process: Process) -> dict[str, float]:
        """The first strip's controls as the process says them, for a plan."""
        return controls_of(process, process.baths(self.formulas()))


def controls_of(process: Process, known: Mapping[str, Formula]) -> dict[str, float]:
    """Controls of a first strip by a process that says its own first developer; empty for one that is shipped."""
    first = process.first_development
    formula = known.get(first.formula or "")
    low_c, high_c = first.temperature_low_c, first.temperature_high_c
    warmth = {} if low_c <= TEMPERATURE.reference <= high_c else {TEMPERATURE.key: (low_c + high_c) / 2}
    if not first.mix or formula is None:
        return warmth and {TIME.key: first.time_min, **warmth}
    return {TIME.key: first.time_min, **starting_controls(formula), **warmth}


def compare(first: Process, second: Process, known: Mapping[str, Formula]) -> tuple[StepDifference, ...]:
    """In what two processes differ, step by step in the order of the work, in words."""
    found: list[StepDifference] = []
    rows = [{step.key: step_in_words(step, _names(one)) for step in one.steps} for one in (first, second)]
    names = [{key: formula.name for key, formula in one.baths(known).items()} for one in (first, second)]
    pairs = _paired(first, second)
    for a, b in pairs:
        if a is None or b is None:
            there = b if a is None else a
            assert there is not None
            has, lacks = _summary(there), "no such step"
            found.append(StepDifference(there.name, lacks if a is None else has, has if a is None else lacks))
            continue
        one, other = rows[0][a.key], rows[1][b.key]
        for field in STEP_WORDS:
            left, right = one[field], other[field]
            if field == "bath":
                left, right = names[0].get(left, left), names[1].get(right, right)
            if left != right:
                found.append(
                    StepDifference(f"{a.name}: {field.replace('_', ' ')}", left or "not said", right or "not said")
                )
    order = [
        [s.key for s in one.steps if any(s is x for pair in pairs if None not in pair for x in pair)]
        for one in (first, second)
    ]
    matched = {a.key: b.key for a, b in pairs if a is not None and b is not None}
    if [matched[key] for key in order[0]] != order[1]:
        told = [", ".join(one.step(key).name for key in keys) for one, keys in zip((first, second), order, strict=True)]
        found.append(StepDifference("order", told[0], told[1]))
    return tuple(found)


def _bath_by_name(step: Step, known: Mapping[str, str], called: Sequence[str]) -> dict[str, str]:
    """The formula of a step by its name; by its key where another has the same name."""
    name = known.get(step.formula or "", "")
    return {"bath": name} if not step.mix and name and called.count(name) == 1 else {}


def _volume_said(step: Step) -> dict[str, str]:
    """Leaves the field of the volume empty where the mix says it already: there it is changed."""
    if not step.mix or step.volume_ml is None:
        return {}
    said = said_mix(step.mix)[0].volume_ml()
    return {"volume": ""} if said is not None and said.best == step.volume_ml else {}


def _names(process: Process) -> dict[str, str]:
    """Names of the steps, by key."""
    return {step.key: step.name for step in process.steps}


def _paired(first: Process, second: Process) -> list[tuple[Step | None, Step | None]]:
    """Steps of two processes that are the same step: by key, else by what they do and how often before."""
    left = list(second.steps)
    pairs: list[tuple[Step | None, Step | None]] = []
    for step in first.steps:
        other = next((s for s in left if s.key == step.key), None) or next(
            (s for s in left if s.kind == step.kind and s.key not in {one.key for one in first.steps}), None
        )
        pairs.append((step, other))
        if other is not None:
            left.remove(other)
    return [*pairs, *((None, step) for step in left)]


def _summary(step: Step) -> str:
    said = step_in_words(step, {step.made_during: step.made_during})
    return ", ".join(part for part in (said["bath"], said["time"], said["agitation"]) if part) or step.name


_AS_ANOTHER = regex(
    r"^(?:the\s+)?(?:(?:same|made|mixed)\s+)?(?:bath\s+)?(?:(?:as|like|what\s+is\s+left\s+of)\s+)?(?:(?:in|for|the|bath|step|no\.?)\s+)*"
    r"(?P<called>.+?)(?:\s+(?:batch|again|bath|above))*"
    r"(?P<edits>(?:[\s,;]+(?:but\s+)?(?:without|minus|no|less|plus|with|and|but)\b.*)?)$",
    re.I,
)
_EDIT = regex(
    r"[\s,;]*\b(?:(?:but|and)\s+(?=without|minus|no\b|less))?(?P<word>without|minus|no|less|plus|with|and|but)\s+(?P<rest>.+?)(?=[\s,;]+(?:(?:but|and)\s+)?(?:without|minus|plus|with|no|but|and\s+\d)|$)",
    re.I,
)
# "The same without ammonia", "ditto": the bath before it, of its own kind where there is one.
_SAME_AGAIN = regex(
    r"^(?:(?:the\s+)?same(?:\s+(?:again|bath|mix|mixture|developer|bleach|fixer|as\s+(?:above|before|last|the\s+one\s+before)))?|ditto|as\s+(?:above|before))(?=$|[\s,;]+(?:but|without|minus|no|less|plus|with|and)\b)",
    re.I,
)
_LEAVES_OUT = ("without", "minus", "no", "less")
_MORE = regex(r"\s+(?:more|extra|added|in\s+addition|instead)\s*$", re.I)


def _others(process: Process, step: Step) -> dict[str, str]:
    """The mixes of the other steps by the words they are called by, those before it first."""
    found: dict[str, str] = {}
    steps = [one for one in process.steps if one.key != step.key and one.mix]
    keys = [one.key for one in process.steps]
    here = keys.index(step.key) if step.key in keys else len(keys)
    earlier = [one for one in process.steps[:here] if one.mix]
    like = [one for one in earlier if one.kind == step.kind] or earlier
    if like:
        found["before"] = like[-1].mix
    for one in steps:
        for name in (one.name, one.key.replace("_", " ")):
            found.setdefault(_called(name), one.mix)
    for place, one in enumerate(process.steps, start=1):
        if one in steps:
            found.setdefault(f"{place}", one.mix)
    first = process.first_development
    if first.key != step.key and first.mix:
        for name in (
            "first developer",
            "first dev",
            "first development",
            "first",
            "developer",
            "i",
            "developer i",
            "1",
        ):
            found[name] = first.mix
    return found


def _called(name: str) -> str:
    return " ".join(re.findall(r"[a-z0-9]+", name.lower()))


def _as_another(text: str, others: Mapping[str, str]) -> tuple[SaidMix, tuple[str, ...]] | None:
    """The mix of another step with what is left out and what is added; None where no other step is named."""
    plain = _SAME_AGAIN.sub("same as before", " ".join(text.split()))
    found = _AS_ANOTHER.match(plain)
    if found is None:
        return None
    like = others.get(_called(found["called"]))
    edits = [(edit["word"].lower(), edit["rest"].strip(" ,;")) for edit in _EDIT.finditer(found["edits"] or "")]
    # A name alone is a bottle of that name; only "same as" makes it the other bath.
    if like is None or not (edits or re.match(r"\s*(?:the\s+)?(?:same|as|like|made|mixed|what)\b", plain, re.I)):
        return None
    mix, lost = said_mix(like)
    parts = list(mix.parts)
    for word, rest in edits:
        bare = re.sub(r"^(?:the|any)\s+", "", rest, flags=re.I)
        if word in _LEAVES_OUT and not re.search(r"\d", bare):
            lacks = [one.rstrip("s") for one in re.findall(r"[a-z]{3,}", bare.lower())]
            kept = [p for p in parts if not any(one in p.what.lower() for one in lacks)]
            if not lacks or len(kept) == len(parts) or not any(not p.is_water for p in kept):
                return None
            parts = kept
            continue
        try:
            added = parse_mix(_MORE.sub("", bare) + ", water to the mark", where="bath").parts
        except InputError:
            return None
        if word in _LEAVES_OUT:
            return None
        wanted = {w for p in added for w in words_of(p.what)}
        others_of_it = [p for p in parts if not wanted & words_of(p.what)]
        # "But 10 mL ammonia" where there is some already says how much of it; "10 mL more" adds to it.
        told_anew = word in ("but", "with") and not _MORE.search(bare) and len(others_of_it) == len(parts) - 1
        if bare.lower().endswith(" instead") or told_anew:
            parts = others_of_it
        elif not all(p.amount.quantity != "parts" for p in added):
            return None
        parts += added
    return mix.model_copy(update={"parts": tuple(parts), "text": text.strip()}), lost


def said_mix(text: str, others: Mapping[str, str] = MappingProxyType({})) -> tuple[SaidMix, tuple[str, ...]]:
    """A bath as said, and what of it cannot be read; all of it kept as words where no part can.

    Parameters
    ----------
    others : mapping of str to str
        The mixes of other steps, by what they are called: a bath may be said to be another with a change.
    """
    if others and (like := _as_another(text, others)) is not None:
        return like
    if _SAME_AGAIN.match(" ".join(text.split())):
        return mix_in_words(text), ()
    lost = tuple(match[1].strip() for match in re.finditer(r"\bwith\s+(\d[^+,;]*)", text))
    if proportions := re.match(r"^(.*\d\s*[+:]\s*\d\S*)\s+with\s+(.+)$", text.strip()):
        whole = _read_whole(text, proportions[2])
        if whole is not None:
            return whole, ()
        try:
            return parse_mix(proportions[1], where="bath"), (proportions[2],)
        except InputError:
            pass
    try:
        mix = parse_mix(text, where="bath")
        heard = " ".join(part.what for part in mix.parts)
        return mix, tuple(part for part in lost if not any(word in heard for word in re.findall(r"[a-z]{4,}", part)))
    except InputError:
        pass
    return _without_unread(text) or (mix_in_words(text), ())


def _without_unread(text: str) -> tuple[SaidMix, tuple[str, ...]] | None:
    """What can be read of a mix without one thing in it, or without all that cannot be read alone; and what that was."""
    pieces = APART.split(text.strip())
    if len(pieces) == 1:
        return None

    def read(left_out: Container[int]) -> SaidMix | None:
        kept = [(pieces[at - 1] if at else "", pieces[at]) for at in range(0, len(pieces), 2) if at not in left_out]
        try:
            return parse_mix(
                "".join(f"{joint if place else ''}{piece}" for place, (joint, piece) in enumerate(kept)), where="bath"
            )
        except InputError:
            return None

    for at in range(0, len(pieces), 2):
        if not WATER_SAID.match(pieces[at]) and (mix := read((at,))) is not None:
            return mix, (pieces[at].strip(),)
    lost = [at for at in range(0, len(pieces), 2) if not WATER_SAID.match(pieces[at]) and not _stands_alone(pieces[at])]
    found = read(lost)
    return None if found is None or not lost else (found, tuple(pieces[at].strip() for at in lost))


WATER_SAID = regex(r"\s*(?:\w+\s+)?water\b", re.I)


def _stands_alone(piece: str) -> bool:
    try:
        parse_mix(f"{piece}, water to the mark", where="bath")
    except InputError:
        return False
    return bool(re.search(r"\d|\b(?:an?|half|one|two|three)\b", piece))


def _read_whole(text: str, added: str) -> SaidMix | None:
    """The mix with what stands behind "with" among its parts; None where that was not read as an amount of something."""
    try:
        mix = parse_mix(text, where="bath")
    except InputError:
        return None
    if not all(p.what and not p.what.startswith("with ") for p in mix.parts):
        # "1+4 with hardener" is no four parts of it.
        return None
    heard = set(re.findall(r"[a-z]{3,}", " ".join(f"{p.amount.text} {p.what}" for p in mix.parts).lower()))
    return mix if set(re.findall(r"[a-z]{3,}", added.lower())) <= heard | _JOINTS else None


# What may stand between the parts of a mix and is none of them.
_JOINTS = frozenset(("and", "with", "plus", "per", "litre", "liter", "the", "tank"))


def _names_it(text: str, bottle: SaidBath) -> bool:
    """Whether the words are the name of the bottle, the whole of it: "fixer" alone is no bottle of concentrate."""
    names = {words_of(name.partition(",")[0]) for _, name in bottle.taken} | {words_of(n) for _, n in bottle.taken}
    return words_of(text.partition(",")[0]) in names


def _undiluted(text: str) -> SaidMix:
    try:
        return parse_mix(f"{text.strip()}, undiluted", where="bath")
    except InputError:
        return mix_in_words(text)


def process_text(process: Process) -> str:
    """The document as it is written to a file."""
    return json.dumps(process.model_dump(mode="json"), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def in_words(process: Process, draft: Draft) -> JsonObject:
    """A process as a person writes it down: what `Processes.from_document` reads back."""
    return {
        "name": process.name,
        **({"summary": process.summary} if process.summary else {}),
        **({"tank_ml": process.tank_ml} if process.tank_ml else {}),
        "steps": [{name: row[name] for name in STEP_WORDS if row[name]} for row in draft.rows],
    }


def _same_baths(one: Process, other: Process) -> bool:
    """Whether both bring the same baths, in whatever order."""
    return sorted(one.formulas, key=lambda f: f.key) == sorted(other.formulas, key=lambda f: f.key)


def _blank() -> Step:
    return Step(
        key="first_development", name="First development", kind="develop", formula="first_developer", time_min=10
    )


def _key(name: str, taken: Container[str]) -> str:
    return words.free_id(words.id_from(name, most=60, joint="_", otherwise="step"), taken, joint="_")


def _unsaid(old: Step, fields: JsonObject) -> JsonObject:
    """Of a step as it was, what a form does not show; the reading of its mix stays where the words are the same."""
    base = old.model_dump(mode="json")
    if fields.get("mix") and fields["mix"] == old.mix:
        base["formula"] = old.formula
    for name in STEP_FIELDS_OF_WORDS:
        base.pop(name, None)
    return base


# Fields that the words of a step say or leave empty.
STEP_FIELDS_OF_WORDS = (
    "mix",
    "volume_ml",
    "carry_over_ml",
    "made",
    "made_during",
    "note",
    "time_most_min",
    "until",
    "good_for_films",
    "renewal",
    "said",
)


def _field_of(error: InputError) -> str:
    return "bath" if error.where == "bath" else "time" if "time" in error.what else "name"


def _tank(text: str, wrong: dict[tuple[int, str], str]) -> float | None:
    from obverse.foundation import parse_number

    if not text.strip():
        return None
    try:
        value = parse_number(text.lower().removesuffix("ml"), where="tank", example="600")
    except InputError as error:
        wrong[-1, "tank_ml"] = error.sentence
        return None
    if not SMALLEST_TANK_ML <= value <= LARGEST_TANK_ML:
        wrong[-1, "tank_ml"] = f"a tank holds {SMALLEST_TANK_ML} to {LARGEST_TANK_ML} mL."
        return None
    return value


def _g(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _note(mix: str) -> str:
    return f"As said: {mix}"[:2000]


_REVERSALS = {"fog": "fogging", "reexpose": "light"}
_BLEACHES = (
    ("potassium_permanganate", "acid_permanganate"),
    ("potassium_dichromate", "acid_dichromate"),
    ("hydrogen_peroxide", "peroxide_acid"),
    ("iron_iii_chloride", "iron_chloride_ammonia"),
    ("iron_iii_chloride_hexahydrate", "iron_chloride_ammonia"),
)


def _bleach_of(steps: Sequence[Step], known: Mapping[str, Formula]) -> str:
    """Which of the bleaches the house knows this one is, by what is in it."""
    inside = {
        component.substance
        for step in steps
        if step.kind == "bleach" and step.formula and step.formula in known
        for component in known[step.formula].components
    }
    return next((name for substance, name in _BLEACHES if substance in inside), "own")
