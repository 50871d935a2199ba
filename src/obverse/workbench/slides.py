"""The slides: frames of a roll, what is mounted, and the lists to show an evening with."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from obverse.foundation import InputError, JsonObject, read_document, whole_number
from obverse.process import ShowList, Slide
from obverse.reference import record
from obverse.store import Stored
from obverse.workbench.place import Place

# Frames of a roll with the few that are won at its ends.
MOST_FRAMES = 40
PROJECTORS = "AB"
# What heat does to slides, and the records that say it.
HEAT = (
    ("Popping", "wall.heat_popping"),
    ("Warming", "wall.heat_prewarming"),
    ("Glass", "wall.heat_glass"),
    ("Rings under glass", "wall.heat_rings"),
)


@dataclass(frozen=True, slots=True)
class Turn:
    """One slide of an evening: its number, and where it lies. Trays are counted for each projector."""

    number: int
    projector: str
    tray: int
    slot: int
    id: str
    slide: Slide


@dataclass(frozen=True, slots=True)
class SlideNote:
    """Something that is known of slides, and how."""

    title: str
    words: str
    standing: str


@dataclass(frozen=True, slots=True)
class Show:
    """An evening, ready to be laid into trays.

    Parameters
    ----------
    remarks : tuple of str
        What to see to before: mounts that the focus or the tray cannot follow, slides without a mount.
    """

    order: ShowList
    turns: tuple[Turn, ...]
    remarks: tuple[str, ...]

    @property
    def trays(self) -> int:
        """Trays in all, over the projectors."""
        return len({(turn.projector, turn.tray) for turn in self.turns})

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            "list": self.order.model_dump(mode="json"),
            "trays": self.trays,
            "turns": [
                {
                    "number": turn.number,
                    "projector": turn.projector,
                    "tray": turn.tray,
                    "slot": turn.slot,
                    "id": turn.id,
                    "slide": turn.slide.model_dump(mode="json"),
                }
                for turn in self.turns
            ],
            "remarks": list(self.remarks),
        }


def turns_of(order: ShowList, slides: Sequence[tuple[str, Slide]]) -> tuple[Turn, ...]:
    """Number, projector, tray and slot of each slide; two projectors take turns, A first.

    Parameters
    ----------
    slides : sequence of (id, Slide)
        In the order of the evening.
    """
    found = []
    for place, (id, slide) in enumerate(slides):
        turn, projector = divmod(place, order.projectors)
        tray, slot = divmod(turn + min(order.first_slot, order.tray_slots) - 1, order.tray_slots)
        found.append(Turn(place + 1, PROJECTORS[projector], tray + 1, slot + 1, id, slide))
    return tuple(found)


def moved(order: Sequence[str], press: str, id: str) -> list[str]:
    """The order of an evening after one press.

    Parameters
    ----------
    order : sequence of str
        Ids of slides.
    press : {"earlier", "later", "out", "in", "keep"}
    id : str
        Place in the order from 0, as text; for ``"in"`` the id of the slide that comes last.

    Raises
    ------
    InputError
        For another press, or a place that is none.
    """
    found = list(order)
    if press == "keep":
        return found
    if press == "in":
        return [*found, id]
    place = whole_number(id)
    if press not in ("earlier", "later", "out") or place is None or place >= len(found):
        raise InputError(f"{press} {id!r} is no move in a list of {len(found)}", where="list", remedy="load it again")
    slide = found.pop(place)
    if press != "out":
        found.insert(max(0, place - 1) if press == "earlier" else place + 1, slide)
    return found


def heat_notes() -> tuple[SlideNote, ...]:
    """What the heat of the gate does to silver slides, each with how it is known."""
    return tuple(SlideNote(title, str(record(key).value), record(key).source.words) for title, key in HEAT)


def spot_note() -> SlideNote:
    """Where the spot of a mount goes."""
    row = record("wall.spot_place")
    return SlideNote("Spot", str(row.value), row.source.words)


def _remarks(turns: Sequence[Turn]) -> Iterator[str]:
    bare = [turn.number for turn in turns if not turn.slide.mounted]
    if bare:
        yield f"Not mounted yet: {_numbers(bare)}."
    mixed = {turn.slide.mount for turn in turns} >= {"glass", "no glass"}
    if mixed:
        glass = [turn.number for turn in turns if turn.slide.mount == "glass"]
        yield f"Some mounts have glass ({_numbers(glass)}) and others none: the focus will have to follow."
    row = record("wall.mount_thickness")
    thinnest, thickest = row.value
    odd = [turn.number for turn in turns if not thinnest <= (turn.slide.thickness_mm or thinnest) <= thickest]
    if odd:
        yield f"Thinner than {thinnest:g} mm or thicker than {thickest:g} mm ({row.source.words}): {_numbers(odd)}. Try them in the tray first; they may jam."


def _numbers(numbers: Sequence[int]) -> str:
    return f"no. {', '.join(str(n) for n in numbers)}"


class Slides(Place):
    """Slides and projection lists over the store (kind "slide")."""

    def all(self, words: str = "") -> list[Stored[Slide]]:
        """Slides in use by roll and frame; with `words`, those that have every one of them somewhere."""
        wanted = words.lower().split()
        found = [kept for kept in self._store.slides.all() if all(word in _searched(kept.thing) for word in wanted)]
        return sorted(found, key=lambda kept: (kept.thing.roll, _frame_order(kept.thing.frame)))

    def add_roll(self, roll: str, frames: int, *, recipe: str = "", film: str = "") -> list[Stored[Slide]]:
        """Write down the frames of a roll, 1 to `frames`; frames that stand already stay as they are."""
        if not 1 <= frames <= MOST_FRAMES:
            raise InputError(f"a roll of {frames} frames", where="frames", remedy=f"give 1 to {MOST_FRAMES}")
        first = read_document(Slide, {"roll": roll.strip(), "frame": "1", "recipe": recipe, "film": film}, where="roll")
        with self._store.transaction():
            if recipe:
                self._store.recipes.get(recipe)
            known = {kept.thing.frame for kept in self._store.slides.all(roll=first.roll)}
            return [
                self._store.slides.put(first.model_copy(update={"frame": str(n)}))
                for n in range(1, frames + 1)
                if str(n) not in known
            ]

    def change(self, id: str, changes: JsonObject, *, expected_revision: int | None = None) -> Stored[Slide]:
        """Change parts of a slide."""
        with self._store.transaction():
            before = self._store.slides.get(id).thing.model_dump(mode="json")
            slide = read_document(Slide, {**before, **changes}, where="slide")
            if slide.recipe:
                self._store.recipes.get(slide.recipe)
            return self._store.slides.put(slide, id=id, expected_revision=expected_revision)

    def retire(self, id: str) -> Stored[Slide]:
        """Put a slide aside; lists keep its place."""
        return self._store.slides.retire(id)

    def called(self, id: str) -> str:
        """A slide as a person finds it in its box; the id where none stands here."""
        kept = self._store.slides.find(id)
        return id if kept is None else f"frame {kept.thing.frame} of roll {kept.thing.roll}"

    def lists(self) -> list[Stored[ShowList]]:
        """Projection lists in use."""
        return self._store.show_lists.all()

    def keep_list(
        self, document: JsonObject, *, id: str | None = None, expected_revision: int | None = None
    ) -> Stored[ShowList]:
        """Keep a projection list, new or changed; every slide it names must stand here. What is not said stays."""
        before = self._store.show_lists.find(id) if id else None
        stands = before.thing.model_dump(mode="json") if before else {}
        found = read_document(ShowList, {**stands, **document, "what": "list"}, where="list")
        for slide in found.slides:
            self._store.slides.get(slide)
        return self._store.show_lists.put(found, id=id, expected_revision=expected_revision)

    def shown(self, list_id: str) -> tuple[ShowList, list[Stored[Slide]]]:
        """A list with its slides, in its order; one that came without its slide shows the others."""
        found = self._store.show_lists.get(list_id).thing
        slides = (self._store.slides.find(id) for id in found.slides)
        return found, [kept for kept in slides if kept is not None]

    def list_revision(self, list_id: str) -> int:
        """How often a list was kept: what whoever changes it must have seen."""
        return self._store.show_lists.get(list_id).revision

    def show(self, list_id: str) -> Show:
        """A list as it is laid into the trays, with what to see to before."""
        order, kept = self.shown(list_id)
        turns = turns_of(order, [(one.id, one.thing) for one in kept])
        return Show(order, turns, tuple(_remarks(turns)))

    def list_named(self, name: str) -> Stored[ShowList]:
        """A kept list by its id or name.

        Raises
        ------
        InputError
            If there is none, or several of that name.
        """
        lists = self.lists()
        found = [kept for kept in lists if kept.id == name] or [kept for kept in lists if kept.thing.name == name]
        if len(found) != 1:
            raise InputError(
                f"{'no list is' if not found else 'several lists are'} called {name!r}",
                where="show list",
                remedy="; ".join(f"{kept.id}: {kept.thing.name}" for kept in lists) or "make one on the page of slides",
            )
        return found[0]

    def of_roll(self, roll: str) -> list[Stored[Slide]]:
        """Slides of one roll by frame.

        Raises
        ------
        InputError
            If there are none.
        """
        found = [kept for kept in self.all() if kept.thing.roll == roll]
        if not found:
            raise InputError(f"no roll is called {roll!r}", where="roll", remedy="write it down first")
        return found


def _searched(slide: Slide) -> str:
    parts = (
        slide.roll,
        slide.frame,
        slide.title,
        " ".join(slide.keywords),
        slide.place,
        slide.note,
        slide.film,
        slide.recipe,
    )
    return " ".join(parts).lower()


def _frame_order(frame: str) -> tuple[int, str]:
    number = whole_number("".join(c for c in frame if c.isdecimal()))
    return (10_000 if number is None else number, frame)
