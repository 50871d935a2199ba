"""What becomes of strips that are given again: known, corrected, disputed, new, taken back. The same for every way in."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from obverse.pool.document import LentStrip
from obverse.process import content_mark, has_evidence

# known: stands here, told and not counted twice; corrected: a newer revision, which follows the older; older: one that
# was corrected here already; disputed: one revision says two things, both are kept and asked about; taken back: by its
# lender.
Fate = Literal["new", "known", "corrected", "older", "disputed", "taken back"]


@dataclass(frozen=True)
class StripFate:
    """What becomes of one strip."""

    strip: LentStrip
    fate: Fate


@dataclass(frozen=True)
class MergedStrips:
    """The strips of a film after others were given.

    Parameters
    ----------
    strips : tuple of LentStrip
        Those that count.
    disputed : tuple of LentStrip
        Other words for strips of `strips`, under the same ids; neither counts until it is decided.
    withdrawn : tuple of str
        Ids that were taken back, whether they ever came or not.
    fates : tuple of StripFate
        Of the given strips, in their order.
    gone : tuple of LentStrip
        Strips that stood here and were taken back now.
    """

    strips: tuple[LentStrip, ...]
    disputed: tuple[LentStrip, ...]
    withdrawn: tuple[str, ...]
    fates: tuple[StripFate, ...]
    gone: tuple[LentStrip, ...]

    def count(self, fate: Fate) -> int:
        """How many went that way."""
        return sum(one.fate == fate for one in self.fates)


def merge_strips(
    kept: Iterable[LentStrip],
    given: Iterable[LentStrip],
    *,
    disputed: Iterable[LentStrip] = (),
    withdrawn: Collection[str] = (),
    known_marks: Mapping[str, str] | None = None,
) -> MergedStrips:
    """Put given strips beside those that are kept.

    Giving the same again changes nothing, and in whichever order revisions come, the newest stands.

    Parameters
    ----------
    kept, disputed : iterable of LentStrip
        As an earlier merge left them.
    given : iterable of LentStrip
    withdrawn : collection of str
        Ids that were taken back, before or now.
    known_marks : mapping of str to str, optional
        Content marks of strips that count elsewhere in the notebook, each with a name for it.

    Returns
    -------
    MergedStrips
        Those that count, and what became of each given one.
    """
    strips = {strip.id: strip for strip in kept}
    doubts: dict[tuple[str, str], LentStrip] = {(strip.id, _words(strip)): strip for strip in disputed}
    marks = {content_mark(strip.trial): strip.id for strip in strips.values() if has_evidence(strip.trial)}
    fates = []
    for strip in given:
        fate = _fate(strip, strips, marks, withdrawn, known_marks or {})
        fates.append(StripFate(strip, fate))
        if fate in ("new", "corrected"):
            strips[strip.id] = strip
            marks[content_mark(strip.trial)] = strip.id
        elif fate == "disputed":
            doubts[strip.id, _words(strip)] = strip
    gone = tuple(strip for strip in strips.values() if strip.id in withdrawn)
    left = tuple(strip for strip in strips.values() if strip.id not in withdrawn)
    newest = {strip.id: strip.revision for strip in left}
    # A newer revision settles what was disputed of an older one.
    open_still = tuple(one for one in doubts.values() if newest.get(one.id) == one.revision)
    return MergedStrips(left, open_still, tuple(sorted(set(withdrawn))), tuple(fates), gone)


def _fate(
    strip: LentStrip,
    strips: Mapping[str, LentStrip],
    marks: Mapping[str, str],
    withdrawn: Collection[str],
    known_marks: Mapping[str, str],
) -> Fate:
    if strip.id in withdrawn:
        return "taken back"
    here = strips.get(strip.id)
    if here is None:
        mark = content_mark(strip.trial)
        seen = has_evidence(strip.trial) and (mark in marks or mark in known_marks)
        return "known" if seen else "new"
    if strip.revision != here.revision:
        return "corrected" if strip.revision > here.revision else "older"
    return "known" if _words(strip) == _words(here) else "disputed"


def _words(strip: LentStrip) -> str:
    """All that a revision says."""
    return strip.model_dump_json()
