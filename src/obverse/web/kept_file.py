"""One checked document in a file of the home, for its owner alone; programs over one home share it."""

from __future__ import annotations

from pathlib import Path
from typing import Generic, TypeVar

from obverse.foundation import Document, InputError, StoreError, parse_json, read_document
from obverse.system import put_in_place

D = TypeVar("D", bound=Document)


class KeptFile(Generic[D]):
    """A document that is read again whenever its file has changed.

    Parameters
    ----------
    file : Path, optional
        Where it is kept; absent: it lasts as long as the program.
    kind : type[D]
        What it is; one without entries stands for a file that is not there.
    what : str
        The words for it in an error, such as ``"the list of the tokens"``.
    without : str
        What to do where it cannot be read.
    """

    def __init__(self, file: Path | None, kind: type[D], *, what: str, without: str):
        self._file = file
        self._kind = kind
        self._what = what
        self._without = without
        self._seen: tuple[int, int] | None = None
        self._document = kind()

    def read(self) -> D:
        """The document as it stands now.

        Raises
        ------
        StoreError
            If the file is no such document.
        """
        if self._file is None:
            return self._document
        try:
            found = self._file.stat()
            if (found.st_mtime_ns, found.st_ino) != self._seen:
                self._document = read_document(self._kind, parse_json(self._file.read_bytes()))
                self._seen = (found.st_mtime_ns, found.st_ino)
        except FileNotFoundError:
            self._document, self._seen = self._kind(), None
        except (OSError, InputError) as error:
            raise StoreError(f"{self._what} cannot be read", where=str(self._file), remedy=self._without) from error
        return self._document

    def write(self, document: D) -> None:
        """Keep `document` instead; the file is whole at every moment.

        Raises
        ------
        StoreError
            If it cannot be written.
        """
        self._document = document
        if self._file is None:
            return
        try:
            put_in_place(self._file, document.model_dump_json(indent=1).encode(), private=True)
        except OSError as error:
            raise StoreError(
                f"{self._what} cannot be written ({error.strerror})",
                where=str(self._file),
                remedy="make room, or check its permissions, and try again",
            ) from error
        found = self._file.stat()
        self._seen = (found.st_mtime_ns, found.st_ino)
