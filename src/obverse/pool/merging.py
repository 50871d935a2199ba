"""What becomes of strips that are given again: known, corrected, disputed, new, taken back. The same for every way in.

A strip from a pool brings its lasting id and its revision (`merge_strips`); one from a person's table, a document or a
form brings a name and what it says (`fate_by_name`). What makes two entries one strip is asked of `same_strip` by both.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from obverse.pool.document import LentStrip
from obverse.process import DIGITS, Trial, content_mark, has_evidence, same_strip

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
    known: Iterable[Trial] = (),
) -> MergedStrips:
    """Put given strips beside those that are kept.

    Giving the same again changes nothing, and in whichever order revisions come, the newest stands.

    Parameters
    ----------
    kept, disputed : iterable of LentStrip
        As an earlier merge left them.
    withdrawn : collection of str
        Ids that were taken back, before or now.
    known : iterable of Trial, optional
        Strips that stand elsewhere in the notebook.

    Returns
    -------
    MergedStrips
        Those that count, and what became of each given one.
    """
    strips = {strip.id: strip for strip in kept}
    doubts: dict[tuple[str, str], LentStrip] = {(strip.id, _words(strip)): strip for strip in disputed}
    seen: dict[str, list[Trial]] = {}
    for trial in (*(strip.trial for strip in strips.values()), *known):
        seen.setdefault(content_mark(trial), []).append(trial)
    fates = []
    for strip in given:
        fate = _fate(strip, strips, seen, withdrawn)
        fates.append(StripFate(strip, fate))
        if fate in ("new", "corrected"):
            strips[strip.id] = strip
            seen.setdefault(content_mark(strip.trial), []).append(strip.trial)
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
    seen: Mapping[str, Sequence[Trial]],
    withdrawn: Collection[str],
) -> Fate:
    if strip.id in withdrawn:
        return "taken back"
    here = strips.get(strip.id)
    if here is None:
        stands = any(same_strip(strip.trial, other) for other in seen.get(content_mark(strip.trial), ()))
        return "known" if stands else "new"
    if strip.revision != here.revision:
        return "corrected" if strip.revision > here.revision else "older"
    return "known" if _words(strip) == _words(here) else "disputed"


def fate_by_name(given: Trial, here: Sequence[Trial]) -> tuple[Fate, int | None]:
    """What becomes of a strip that brings no lasting id, only a name and what it says.

    Parameters
    ----------
    here : sequence of Trial
        The strips of that film, those put aside among them.

    Returns
    -------
    tuple of str and int or None
        known: the strip at that place says the same; corrected: the one of its name waits to be read, and this is what
        was read; disputed: the one of its name says something else; new.
    """
    alike = [k for k, one in enumerate(here) if same_strip(given, one) or _same_plan(given, one)]
    if alike:
        return "known", next((k for k in alike if here[k].id == given.id), alike[0])
    named = next((k for k, one in enumerate(here) if one.id == given.id), None)
    if named is None:
        return "new", None
    plan = {"steps": (), "grades": (), "faults": ()}
    waited = content_mark(given.model_copy(update=plan)) == content_mark(here[named])
    return ("corrected" if waited else "disputed"), named


def _same_plan(one: Trial, other: Trial) -> bool:
    """Whether two entries of one name are one strip on which nothing was seen yet."""
    seen = has_evidence(one) or has_evidence(other)
    return not seen and one.id == other.id and content_mark(one) == content_mark(other)


def _words(strip: LentStrip) -> str:
    """All that a revision says; last bits are no difference."""
    body = json.loads(strip.model_dump_json(), parse_float=lambda text: round(float(text), DIGITS))
    return json.dumps(body, sort_keys=True)
