"""Which devices are let in: a list with a name each, kept in the home of the house."""

from __future__ import annotations

import secrets
import threading
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Annotated

from pydantic import AwareDatetime, Field

from obverse.foundation import Document
from obverse.web.kept_file import KeptFile

# A phone that was let in stays so for a month, under a name that fits its line.
SESSION_LIFE = timedelta(days=30)
MOST_CHARACTERS_OF_A_NAME = 40
# Bytes of an id, that no two phones or forms are given alike; and of a secret, that nobody guesses.
ID_BYTES, SECRET_BYTES = 12, 32


class Device(Document):
    """One device that is let in."""

    id: str = Field(min_length=1, max_length=64)
    name: str = Field(min_length=1, max_length=MOST_CHARACTERS_OF_A_NAME + 8)
    let_in_at: AwareDatetime
    person: str = Field(default="", max_length=MOST_CHARACTERS_OF_A_NAME, description="whose it is")

    @property
    def until(self) -> datetime:
        """When it must be let in anew."""
        return self.let_in_at + SESSION_LIFE


class _Kept(Document):
    devices: Annotated[tuple[Device, ...], Field(max_length=1000)] = ()


class Devices:
    """The devices that are let in. Who is not on the list is out, whatever he shows.

    Parameters
    ----------
    file : Path, optional
        Where the list is kept; absent: it lasts as long as the program. Two programs over one home share it.
    now : callable
        Gives the present instant.

    Raises
    ------
    StoreError
        If the file is no such list.
    """

    def __init__(self, file: Path | None, now: Callable[[], datetime]):
        self._file = KeptFile(
            file,
            _Kept,
            what="the list of the devices that are let in",
            without="delete it; every phone is then paired anew",
        )
        self._now = now
        self._lock = threading.Lock()
        self._file.read()

    def all(self) -> tuple[Device, ...]:
        """Those that are let in now, the newest first."""
        with self._lock:
            return self._in_time()[::-1]

    def let_in(self, name: str) -> Device:
        """Put a device on the list, under a name that no other has."""
        wanted = "".join(sign for sign in name if sign.isprintable()).strip()[:MOST_CHARACTERS_OF_A_NAME] or "phone"
        with self._lock:
            taken = {device.name for device in self._in_time()}
            free = next(
                n for k in range(1, len(taken) + 2) if (n := wanted if k == 1 else f"{wanted} {k}") not in taken
            )
            device = Device(id=secrets.token_hex(ID_BYTES), name=free, let_in_at=self._now())
            self._keep((*self._in_time(), device))
        return device

    def knows(self, id: str) -> bool:
        """Whether that device is let in."""
        with self._lock:
            return any(device.id == id for device in self._in_time())

    def person_of(self, id: str) -> str:
        """Whose that device is; empty where nobody said."""
        with self._lock:
            return next((device.person for device in self._in_time() if device.id == id), "")

    def belongs(self, id: str, person: str) -> None:
        """Say whose a device is."""
        with self._lock:
            self._keep(
                tuple(
                    device.model_copy(update={"person": person}) if device.id == id else device
                    for device in self._in_time()
                )
            )

    def put_out(self, id: str) -> None:
        """Take a device off the list; from now on it is out."""
        with self._lock:
            self._keep(tuple(device for device in self._in_time() if device.id != id))

    def put_out_all(self) -> None:
        """Take all off the list."""
        with self._lock:
            self._keep(())

    def _in_time(self) -> tuple[Device, ...]:
        now = self._now()
        # A clock that was set back lets nobody in for longer than a day more.
        return tuple(d for d in self._file.read().devices if timedelta(days=-1) < now - d.let_in_at < SESSION_LIFE)

    def _keep(self, devices: tuple[Device, ...]) -> None:
        self._file.write(_Kept(devices=devices))
