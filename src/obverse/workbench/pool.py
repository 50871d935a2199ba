"""The pool: what one lends to other darkrooms, and what they lent, kept apart from one's own and shown as theirs."""

from __future__ import annotations

import contextlib
import hashlib
import secrets
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import Field

from obverse.foundation import InputError, NotFoundError, StoreError
from obverse.inference import OtherDarkroom, Population
from obverse.pool import (
    CountedIn,
    LendingDarkroom,
    LentFilm,
    LentStrip,
    MergedStrips,
    PoolDocument,
    PriorDocument,
    Seal,
    counted_here,
    merge_strips,
    seal_of,
    sealed,
)
from obverse.process import (
    CONTROLS,
    FilmStock,
    Series,
    SeriesFilm,
    Trial,
    has_evidence,
    plain_name,
    read_series,
    same_film,
    strip_id,
)
from obverse.store import Repository, Store, Stored
from obverse.store.records import StoredRecord
from obverse.system import new_private_file
from obverse.workbench.names import meant
from obverse.workbench.place import Place
from obverse.workbench.pool_prior import ID as PRIOR_ID
from obverse.workbench.pool_prior import AdoptedPrior, adopt, adopted, population_of, priors_of
from obverse.workbench.remembered import AT_HAND_S

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from obverse.clock import Clock
    from obverse.workbench.notebook import Notebook

KEY_FILE = "darkroom.key"
# A private key of Ed25519 (RFC 8032) is this long.
KEY_BYTES = 32
# Of the mark of a film in the id of its page: two films of one darkroom do not meet by chance.
CHARACTERS_OF_A_FILM = 16
MOST_CHARACTERS_OF_A_NAME = 60
# What a box speed and a base may differ by and still be found: a third of a stop, and what two panels differ by.
SPEED_FACTOR, BASE_APART = 2 ** (1 / 3) + 0.01, 0.05


class PoolPage(StoredRecord):
    """One film as another darkroom knows it."""

    what: Literal["pool"] = "pool"
    darkroom: LendingDarkroom
    film: FilmStock
    counted_in: CountedIn = CountedIn()
    strips: tuple[LentStrip, ...] = ()
    disputed: tuple[LentStrip, ...] = ()
    withdrawn: tuple[str, ...] = ()
    seal: Seal = "none"

    @property
    def town(self) -> str:
        """The name of the other darkroom, or what stands for it."""
        return self.darkroom.name or f"darkroom {self.darkroom.id[:8]}"

    @property
    def counting(self) -> tuple[Trial, ...]:
        """Strips that teach, none that is disputed, their additions counted as they count here."""
        doubted = {strip.id for strip in self.disputed}
        return tuple(counted_here(one.trial, self.counted_in) for one in self.strips if one.id not in doubted)


class OwnDarkroom(StoredRecord):
    """The name this darkroom chose, and the strips it took back."""

    what: Literal["darkroom"] = "darkroom"
    name: Annotated[str, Field(max_length=60)] = ""
    withdrawn: tuple[str, ...] = ()


@dataclass(frozen=True)
class GivenFilm:
    """What one film of a document would bring, or brought.

    Parameters
    ----------
    page : PoolPage
        As it stands afterwards.
    refused : str
        Why it is left out; empty where it is taken.
    """

    page: PoolPage
    merged: MergedStrips
    refused: str = ""

    @property
    def changes(self) -> bool:
        """Whether anything would be written."""
        count = self.merged.count
        return not self.refused and bool(count("new") + count("corrected") + count("disputed") + len(self.merged.gone))

    @property
    def sentence(self) -> str:
        """What becomes of it, in one sentence."""
        head = f"{self.page.film.name}, {self.page.film.box_speed:g}, from {self.page.town}: "
        if self.refused:
            return head + self.refused
        count = self.merged.count
        told = (
            (count("new"), "new"),
            (count("corrected"), "corrected"),
            (count("known") + count("older"), "known and not counted twice"),
            (count("disputed"), "disputed (both are kept and neither counts until you decide)"),
            (len(self.merged.gone), "taken back"),
        )
        parts = [f"{number} {what}" for number, what in told if number]
        return head + (", ".join(parts) or "no strips") + "."


def pool_pages_of(store: Store) -> Repository[PoolPage]:
    """Films of other darkrooms, in a store."""
    return store.keeping("setting", PoolPage, {"what": "pool"})


def own_darkroom_of(store: Store) -> Repository[OwnDarkroom]:
    """What a store says of its own darkroom, under the one id ``"darkroom"``."""
    return store.keeping("setting", OwnDarkroom, {"what": "darkroom"})


class Lending(Place):
    """What is lent and borrowed, over the store."""

    def __init__(self, store: Store, clock: Clock, home: Path | None):
        super().__init__(store, clock, home)
        self._held: tuple[datetime, list[Stored[PoolPage]]] | None = None

    def _every(self) -> list[Stored[PoolPage]]:
        """All pages in use; the book is looked up once in a while, as a large pool takes its time to read."""
        now, held = self._clock.now(), self._held
        if held is None or abs((now - held[0]).total_seconds()) > AT_HAND_S:
            held = self._held = (now, self._pages.all())
        return held[1]

    @property
    def _pages(self) -> Repository[PoolPage]:
        return pool_pages_of(self._store)

    @property
    def _own(self) -> Repository[OwnDarkroom]:
        return own_darkroom_of(self._store)

    # Oneself

    def own(self) -> OwnDarkroom:
        """The name this darkroom chose, and what it took back."""
        kept = self._own.find("darkroom")
        return OwnDarkroom() if kept is None else kept.thing

    def own_revision(self) -> int:
        """The revision of what this darkroom says of itself; 0 where it said nothing."""
        kept = self._own.find("darkroom")
        return 0 if kept is None else kept.revision

    def call(self, name: str, *, expected_revision: int | None = None) -> OwnDarkroom:
        """Choose the name under which others see what is lent; `expected_revision` as `Store.put`."""
        name = name.strip()
        if len(name) > MOST_CHARACTERS_OF_A_NAME or not name.isprintable():
            raise InputError(
                f"a darkroom's name has at most {MOST_CHARACTERS_OF_A_NAME} printable signs",
                where="name",
                remedy="choose a shorter or plainer one",
            )
        with self._store.transaction():
            changed = self.own().model_copy(update={"name": name})
            self._own.put(changed, id="darkroom", expected_revision=expected_revision)
        return changed

    def _private_key(self) -> bytes | None:
        """The key that seals what is lent, made once and kept for the owner of this home alone."""
        if self._home is None:
            return None
        file = self._home / KEY_FILE
        try:
            with contextlib.suppress(FileExistsError), new_private_file(file) as out:
                out.write(secrets.token_bytes(KEY_BYTES))
            key = file.read_bytes()
        except OSError as error:
            raise StoreError(
                f"the key of this darkroom cannot be used ({error.strerror})",
                where=str(file),
                remedy="check the folder",
            ) from error
        if len(key) != KEY_BYTES:
            raise StoreError(
                "the key of this darkroom is damaged", where=str(file), remedy="put it aside; a new one is made"
            )
        return key

    # Lending

    def lend(self, film_ids: Sequence[str], *, persons: bool = False) -> PoolDocument:
        """The document that lends these films: strips with their evidence, and nothing of shelf, evenings or persons.

        Parameters
        ----------
        persons : bool
            True leaves the persons' names on the strips.
        """
        own = self.own()
        films = tuple(
            LentFilm(
                film=self._store.films.get(film_id).thing.model_copy(update={"note": ""}),
                strips=tuple(strip for strip in self._strips_of(film_id, persons) if strip.id not in own.withdrawn),
            )
            for film_id in dict.fromkeys(film_ids)
        )
        document = PoolDocument(
            darkroom=self.who(),
            made_at=self._clock.now(),
            films=films,
            withdrawn=own.withdrawn,
        )
        key = self._private_key()
        return document if key is None else sealed(document, key)

    def _strips_of(self, film_id: str, persons: bool) -> Iterable[LentStrip]:
        for kept in self._store.trials.all(film=film_id, own=True):
            trial = kept.thing.trial
            if not has_evidence(trial):
                continue
            hidden = {"note": ""} if persons else {"note": "", "person": ""}
            read_by = "camera" if kept.thing.picture else "list" if kept.thing.reading else ""
            yield LentStrip(
                id=self._id_of(kept.id),
                revision=kept.revision,
                trial=trial.model_copy(update=hidden),
                read_by=read_by,
            )

    def _id_of(self, trial_id: str) -> str:
        """The lasting id of an own strip: by how it was first written down."""
        first = self._store.trials.first(trial_id)
        return strip_id(self._store.darkroom, first.thing.trial, first.created_at.isoformat())

    def take_back(self, film_id: str, trials: Collection[str] = ()) -> tuple[str, ...]:
        """Withdraw strips of a film (all of them where none is named): the next document says so, and others follow it.

        Parameters
        ----------
        trials : collection of str
            Names of the strips.
        """
        kept = self._store.trials.all(film=film_id, own=True, retired=True)
        names = {one.thing.trial.id for one in kept}
        trials = {meant(name, names) for name in trials}
        unknown = trials - names
        if unknown:
            raise NotFoundError(
                f"this film has no strip {sorted(unknown)[0]!r}", where="withdraw", remedy="`obverse show` lists them"
            )
        gone = [self._id_of(one.id) for one in kept if not trials or one.thing.trial.id in trials]
        with self._store.transaction():
            own = self.own()
            changed = own.model_copy(update={"withdrawn": tuple(sorted({*own.withdrawn, *gone}))})
            self._own.put(changed, id="darkroom")
        return tuple(gone)

    # Borrowing

    def look(self, document: PoolDocument, *, even_so: bool = False) -> tuple[GivenFilm, ...]:
        """What a document would bring; nothing is written.

        Parameters
        ----------
        even_so : bool
            True takes what was changed since it was sealed, or is sealed by another key than before, as unsealed.
        """
        if document.darkroom.id == self._store.darkroom:
            refused = "these are your own strips; nothing to take."
        else:
            refused = "" if even_so else self._doubt(document)
        known = [kept.thing.trial for kept in self._store.trials.all(retired=True)]
        seal: Seal = "none" if even_so else seal_of(document)
        given = {_page_id(document.darkroom.id, lent.film): lent for lent in document.films}
        # A withdrawal holds for films that the document does not hold any more, too.
        for kept in self._pages.all():
            gone = any(strip.id in document.withdrawn for strip in kept.thing.strips)
            if gone and kept.thing.darkroom.id == document.darkroom.id and kept.id not in given:
                given[kept.id] = LentFilm(film=kept.thing.film)
        return tuple(self._given(id, lent, document, known, refused, seal) for id, lent in given.items())

    def _given(
        self, id: str, lent: LentFilm, document: PoolDocument, known: Sequence[Trial], refused: str, seal: Seal
    ) -> GivenFilm:
        kept = self._pages.find(id)
        before = PoolPage(darkroom=document.darkroom, film=lent.film) if kept is None else kept.thing
        merged = merge_strips(
            before.strips,
            lent.strips,
            disputed=before.disputed,
            withdrawn={*before.withdrawn, *document.withdrawn},
            known=known,
        )
        page = before.model_copy(
            update={
                "darkroom": document.darkroom,
                "film": lent.film,
                "counted_in": document.counted_in,
                "strips": merged.strips,
                "disputed": merged.disputed,
                "withdrawn": merged.withdrawn,
                "seal": seal,
            }
        )
        return GivenFilm(page, merged, refused)

    def _doubt(self, document: PoolDocument) -> str:
        """Why a document is asked about before it is taken; empty where nothing speaks against it."""
        if seal_of(document) == "changed":
            return "it was changed since it was sealed; ask the sender for it anew, or take it even so, as unsealed."
        keys = {
            kept.thing.darkroom.public_key
            for kept in self._pages.all(retired=True)
            if kept.thing.darkroom.id == document.darkroom.id and kept.thing.darkroom.public_key
        }
        if keys and document.darkroom.public_key not in keys:
            return "it is not sealed by the key that this darkroom had before; ask the sender, or take it even so, as unsealed."
        return ""

    def take(self, document: PoolDocument, *, even_so: bool = False) -> tuple[GivenFilm, ...]:
        """Take a document in, apart from one's own strips. Taking it again changes nothing."""
        self._held = None
        with self._store.transaction():
            given = self.look(document, even_so=even_so)
            for film in given:
                if film.changes:
                    id = _page_id(document.darkroom.id, film.page.film)
                    page = film.page
                    kept = self._pages.find(id)
                    if even_so and kept is not None:
                        # The key one trusted first stays the one that counts.
                        page = page.model_copy(update={"darkroom": kept.thing.darkroom})
                    elif even_so:
                        page = page.model_copy(update={"darkroom": page.darkroom.model_copy(update={"public_key": ""})})
                    if kept is not None and kept.retired_at is not None:
                        self._pages.restore(id)
                    self._pages.put(page, id=id)
        return given

    def pages(self, *, retired: bool = False) -> list[Stored[PoolPage]]:
        """Films of other darkrooms, oldest first."""
        return self._pages.all(retired=retired)

    def page(self, page_id: str) -> Stored[PoolPage]:
        """One of them."""
        return self._pages.get(page_id)

    def put_aside(self, page_id: str) -> None:
        """What this darkroom says of this film no longer counts; it stays readable."""
        self._held = None
        self._pages.retire(page_id)

    def take_up(self, page_id: str) -> None:
        """Let it count again."""
        self._held = None
        self._pages.restore(page_id)

    def decide(self, page_id: str, strip: str, *, take_other: bool, expected_revision: int | None = None) -> None:
        """Settle a dispute: the words that stand, or the other ones."""
        self._held = None
        page = self.page(page_id).thing
        other = [one for one in page.disputed if one.id == strip]
        if not other:
            raise NotFoundError("nothing is disputed of that strip", where="pool", remedy="load the page again")
        strips = tuple(other[-1] if take_other and one.id == strip else one for one in page.strips)
        left = tuple(one for one in page.disputed if one.id != strip)
        self._pages.put(
            page.model_copy(update={"strips": strips, "disputed": left}),
            id=page_id,
            expected_revision=expected_revision,
        )

    def search(
        self, text: str = "", *, box_speed: float | None = None, base_density: float | None = None
    ) -> list[Stored[PoolPage]]:
        """Films of the pool by words of their name or of the darkroom's, box speed to a third of a stop, base to 0.05."""
        wanted = [plain_name(word) for word in text.split()]

        def fits(page: PoolPage) -> bool:
            said = plain_name(" ".join((page.film.name, page.town, *page.film.same_as, page.film.batch)))
            if not all(word in said for word in wanted):
                return False
            if box_speed is not None and not 1 / SPEED_FACTOR <= page.film.box_speed / box_speed <= SPEED_FACTOR:
                return False
            base = page.film.base_density
            return base_density is None or (base is not None and abs(base - base_density) <= BASE_APART)

        return [kept for kept in self._every() if fits(kept.thing)]

    # What many taught

    def adopt(self, document: PriorDocument, *, even_so: bool = False) -> Stored[AdoptedPrior]:
        """Let what very many films taught count in this notebook, beside films in general."""
        return adopt(self._store, document, even_so=even_so)

    def adopted(self) -> AdoptedPrior | None:
        """What was adopted; None where nothing is."""
        return adopted(self._store)

    def put_prior_aside(self) -> None:
        """It no longer counts."""
        if adopted(self._store) is None:
            raise NotFoundError("nothing of that kind was adopted", where="prior", remedy="load the page again")
        priors_of(self._store).retire(PRIOR_ID)

    def learned(self) -> tuple[Population | None, str]:
        """What counts beside films in general, and a mark of it."""
        kept = adopted(self._store)
        if kept is None:
            return None, ""
        try:
            return population_of(kept.document), kept.document.model_dump_json()
        except InputError:
            # Of another version of the model: the page says so; it does not count, and nothing else stands still for it.
            return None, ""

    def who(self) -> LendingDarkroom:
        """This darkroom, as it signs what it learned."""
        return LendingDarkroom(id=self._store.darkroom, name=self.own().name)

    def seal(self, document: PriorDocument) -> PriorDocument:
        """The document under this darkroom's seal."""
        key = self._private_key()
        return document if key is None else sealed(document, key)

    def other_films(self, film: FilmStock) -> list[Series]:
        """Films of the pool that are not this one, as series of their own."""
        every = (kept.thing for kept in self._every())
        unlike = (page for page in every if not same_film(film, page.film, also=film.same_as))
        return [series_of(page.film, page.counting) for page in unlike if page.counting]

    def lent_for(self, film: FilmStock) -> list[OtherDarkroom]:
        """What other darkrooms say of this very film: those with most strips first."""
        found: dict[str, OtherDarkroom] = {}
        for kept in self._every():
            page = kept.thing
            if not same_film(film, page.film, also=film.same_as):
                continue
            trials = page.counting
            if page.darkroom.id in found:
                trials = (*found[page.darkroom.id].trials, *trials)
            found[page.darkroom.id] = OtherDarkroom(page.darkroom.id, trials, page.film.base_density, page.town)
        return sorted((one for one in found.values() if one.trials), key=lambda one: (-len(one.trials), one.id))


def start_from(pool: Lending, notebook: Notebook, page_id: str) -> str:
    """Begin a film of one's own from what another darkroom knows; the id of its page. One that stands already is given."""
    page = pool.page(page_id).thing
    for kept in notebook.films():
        if same_film(kept.thing, page.film, also=kept.thing.same_as):
            return kept.id
    film = page.film.model_copy(update={"same_as": (), "batch": "", "base_density": None})
    return notebook.add_film(film.model_dump(mode="json")).id


def call_the_same(pool: Lending, notebook: Notebook, page_id: str, film_id: str) -> None:
    """Confirm that a film of one's own is what another darkroom calls otherwise; its strips count from now on.

    Raises
    ------
    InputError
        If the box speeds differ: then it is another film.
    """
    theirs, kept = pool.page(page_id).thing.film, notebook.film(film_id)
    if kept.thing.box_speed != theirs.box_speed:
        raise InputError(
            f"{kept.thing.name} is of speed {kept.thing.box_speed:g} and {theirs.name} of {theirs.box_speed:g}",
            where="the same as",
            remedy="choose the film of that speed",
        )
    if not same_film(kept.thing, theirs, also=kept.thing.same_as):
        film = kept.thing.model_copy(update={"same_as": (*kept.thing.same_as, theirs.name)})
        notebook.change_film(film_id, film.model_dump(mode="json"), expected_revision=kept.revision)


def series_of(film: FilmStock, trials: Sequence[Trial]) -> Series:
    """Strips of another darkroom as a series of that film.

    Returns
    -------
    Series
        Its strips are numbered anew.
    """
    document = {
        "format": "obverse-series",
        "version": 1,
        "film": film.model_dump(include=set(SeriesFilm.model_fields)),
        "controls": {name: limits.model_dump() for name, limits in CONTROLS.first_ranges().items()},
        "trials": [trial.model_copy(update={"id": str(k)}) for k, trial in enumerate(trials)],
    }
    return read_series(document, where=film.name)


def _page_id(darkroom: str, film: FilmStock) -> str:
    mark = hashlib.sha256(f"{plain_name(film.name)} {film.box_speed:g}".encode()).hexdigest()[:CHARACTERS_OF_A_FILM]
    return f"pool.{darkroom}.{mark}"
