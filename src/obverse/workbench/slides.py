"""The slides: frames of a roll, what is mounted, and the lists to show an evening with."""

from __future__ import annotations

from datetime import date
from typing import Any, Literal

from pydantic import Field, field_validator

from obverse.foundation import Document, InputError, read_document
from obverse.store import Kept
from obverse.workbench.place import Place

MOST_FRAMES = 40


class Slide(Document):
    """One frame, mounted or still in its strip."""

    what: Literal["slide"] = "slide"
    roll: str = Field(min_length=1, max_length=80)
    frame: str = Field(min_length=1, max_length=12)
    title: str = Field(default="", max_length=160)
    keywords: tuple[str, ...] = Field(default=(), max_length=30)
    mounted: bool = False
    place: str = Field(default="", max_length=80, description="box or tray it lies in")
    recipe: str = Field(default="", max_length=120, description="id of the recipe it was made by")
    film: str = Field(default="", max_length=120)
    taken_on: date | None = None
    note: str = Field(default="", max_length=2000)

    @field_validator("keywords", mode="before")
    @classmethod
    def _words(cls, value: Any) -> Any:
        """Keywords may come as one line with commas; each stands once, in small letters."""
        words = value.split(",") if isinstance(value, str) else value
        if not isinstance(words, (list, tuple)) or not all(isinstance(w, str) for w in words):
            return words
        return tuple(dict.fromkeys(w.strip().lower()[:40] for w in words if w.strip()))


class ShowList(Document):
    """Slides in the order of an evening."""

    what: Literal["list"] = "list"
    name: str = Field(min_length=1, max_length=120)
    slides: tuple[str, ...] = Field(default=(), max_length=500)
    note: str = Field(default="", max_length=2000)


class Slides(Place):
    """Slides and projection lists over the store (kind "slide")."""

    def all(self, words: str = "") -> list[Kept]:
        """Slides in use by roll and frame; with `words`, those that have every one of them somewhere."""
        wanted = words.lower().split()
        found = [
            kept
            for kept in self._store.list("slide", what="slide")
            if all(word in _searched(kept.body) for word in wanted)
        ]
        return sorted(found, key=lambda kept: (kept.body["roll"], _frame_order(kept.body["frame"])))

    def add_roll(self, roll: str, frames: int, *, recipe: str = "", film: str = "") -> list[Kept]:
        """Write down the frames of a roll, 1 to `frames`; frames that stand already stay as they are."""
        if not 1 <= frames <= MOST_FRAMES:
            raise InputError(f"a roll of {frames} frames", where="frames", remedy=f"give 1 to {MOST_FRAMES}")
        if recipe:
            self._store.get("recipe", recipe)
        first = read_document(Slide, {"roll": roll.strip(), "frame": "1", "recipe": recipe, "film": film}, where="roll")
        known = {kept.body["frame"] for kept in self._store.list("slide", what="slide", roll=first.roll)}
        return [
            self._store.put("slide", first.model_copy(update={"frame": str(n)}).model_dump(mode="json"))
            for n in range(1, frames + 1)
            if str(n) not in known
        ]

    def change(self, id: str, changes: dict[str, Any], *, expected_revision: int | None = None) -> Kept:
        """Change parts of a slide."""
        slide = read_document(Slide, {**self._slide(id).body, **changes}, where="slide")
        if slide.recipe:
            self._store.get("recipe", slide.recipe)
        return self._store.put("slide", slide.model_dump(mode="json"), id=id, expected_revision=expected_revision)

    def retire(self, id: str) -> Kept:
        """Put a slide aside; lists keep its place."""
        self._slide(id)
        return self._store.retire("slide", id)

    def _slide(self, id: str) -> Kept:
        kept = self._store.get("slide", id)
        if kept.body["what"] != "slide":
            raise InputError("that is a list, not a slide", where="slide")
        return kept

    def lists(self) -> list[Kept]:
        """Projection lists in use."""
        return self._store.list("slide", what="list")

    def keep_list(self, document: dict[str, Any], *, id: str | None = None) -> Kept:
        """Keep a projection list, new or changed; every slide it names must stand here."""
        found = read_document(ShowList, {"what": "list", **document}, where="list")
        for slide in found.slides:
            self._slide(slide)
        return self._store.put("slide", found.model_dump(mode="json"), id=id)

    def shown(self, list_id: str) -> tuple[ShowList, list[Kept]]:
        """A list with its slides, in its order."""
        found = read_document(ShowList, self._store.get("slide", list_id).body, where="list")
        return found, [self._slide(id) for id in found.slides]


def _searched(body: dict[str, Any]) -> str:
    parts = (
        body["roll"],
        body["frame"],
        body["title"],
        " ".join(body["keywords"]),
        body["place"],
        body["note"],
        body["film"],
        body["recipe"],
    )
    return " ".join(parts).lower()


def _frame_order(frame: str) -> tuple[int, str]:
    digits = "".join(c for c in frame if c.isdigit())
    return (int(digits) if digits else 10_000, frame)
