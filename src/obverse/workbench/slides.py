"""The slides: frames of a roll, what is mounted, and the lists to show an evening with."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from obverse.foundation import InputError, read_document
from obverse.process import ShowList, Slide
from obverse.store import Stored
from obverse.workbench.place import Place

MOST_FRAMES = 40


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

    def change(self, id: str, changes: Mapping[str, Any], *, expected_revision: int | None = None) -> Stored[Slide]:
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

    def lists(self) -> list[Stored[ShowList]]:
        """Projection lists in use."""
        return self._store.show_lists.all()

    def keep_list(
        self, document: Mapping[str, Any], *, id: str | None = None, expected_revision: int | None = None
    ) -> Stored[ShowList]:
        """Keep a projection list, new or changed; every slide it names must stand here."""
        found = read_document(ShowList, {"what": "list", **document}, where="list")
        for slide in found.slides:
            self._store.slides.get(slide)
        return self._store.show_lists.put(found, id=id, expected_revision=expected_revision)

    def shown(self, list_id: str) -> tuple[ShowList, list[Stored[Slide]]]:
        """A list with its slides, in its order; one that came without its slide shows the others."""
        found = self._store.show_lists.get(list_id).thing
        slides = (self._store.slides.find(id) for id in found.slides)
        return found, [kept for kept in slides if kept is not None]


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
    digits = "".join(c for c in frame if c.isdigit())
    return (int(digits) if digits else 10_000, frame)
