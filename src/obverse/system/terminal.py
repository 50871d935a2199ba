"""The terminal: what it can say, and single keys from it."""

from __future__ import annotations

import codecs
import importlib
import os
import select
import sys
import threading
import unicodedata
from collections.abc import Callable, Mapping
from typing import Any, Protocol, Self

from obverse.system.kind import THIS, Kind

HANDLER = "obverse-plain"
# How signs of the trade are written where a code page has none; all others lose their accents or become a question mark.
PLAIN = {
    "\N{MINUS SIGN}": "-",
    "\N{EN DASH}": "-",
    "\N{EM DASH}": "-",
    "\N{HYPHEN}": "-",
    "\N{NON-BREAKING HYPHEN}": "-",
    "\N{HORIZONTAL ELLIPSIS}": "...",
    "\N{LEFT SINGLE QUOTATION MARK}": "'",
    "\N{RIGHT SINGLE QUOTATION MARK}": "'",
    "\N{LEFT DOUBLE QUOTATION MARK}": '"',
    "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
    "\N{MULTIPLICATION SIGN}": "x",
    "\N{MIDDLE DOT}": "*",
    "\N{DOT OPERATOR}": "*",
    "\N{PLUS-MINUS SIGN}": "+/-",
    "\N{ALMOST EQUAL TO}": "about ",
    "\N{LESS-THAN OR EQUAL TO}": "<=",
    "\N{GREATER-THAN OR EQUAL TO}": ">=",
    "\N{RIGHTWARDS ARROW}": "->",
    "\N{LEFTWARDS ARROW}": "<-",
    "\N{GREEK SMALL LETTER MU}": "u",
    "\N{MICRO SIGN}": "u",
    "\N{GREEK CAPITAL LETTER DELTA}": "delta ",
    "\N{INCREMENT}": "delta ",
    "\N{GREEK CAPITAL LETTER OMEGA}": "ohm",
    # A space stands before it already.
    "\N{DEGREE SIGN}": "deg ",
    "\N{CHECK MARK}": "yes",
    "\N{BALLOT X}": "no",
    "\N{BULLET}": "*",
    "\N{FULL BLOCK}": "#",
    "\N{UPPER HALF BLOCK}": "#",
    "\N{LOWER HALF BLOCK}": "#",
    "\N{BOX DRAWINGS LIGHT HORIZONTAL}": "-",
    "\N{BOX DRAWINGS HEAVY HORIZONTAL}": "-",
    "\N{BOX DRAWINGS LIGHT VERTICAL}": "|",
}
# A key is looked for this often where a system cannot wait for one.
LOOK_EVERY_S = 0.05
WAIT_S = 0.1
READ_BYTES = 256


def plain(text: str) -> str:
    """A text in letters that every code page has."""
    found = []
    for sign in text:
        written = PLAIN.get(sign)
        if written is None:
            written = unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode() or "?"
        found.append(written)
    return "".join(found)


def _handle(error: UnicodeError) -> tuple[str | bytes, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return plain(error.object[error.start : error.end]), error.end


def let_everything_be_said(*streams: Any) -> None:
    """Have streams write what their code page lacks in plain letters, rather than fail half way.

    Parameters
    ----------
    *streams
        Text streams; absent: standard output and standard error of this program.
    """
    codecs.register_error(HANDLER, _handle)
    for stream in streams or (sys.stdout, sys.stderr):
        # What a test or another program put in its place may not know how.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=HANDLER)


def can_say(text: str, stream: Any) -> bool:
    """Whether a stream can write a text as it is.

    Parameters
    ----------
    text : str
        What shall be written.
    stream
        A text stream.

    Returns
    -------
    bool
        False too where the stream does not tell its encoding.
    """
    try:
        text.encode(getattr(stream, "encoding", None) or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def may_colour(stream: Any, environment: Mapping[str, str] = os.environ) -> bool:
    """Whether colours may be written to a stream.

    Parameters
    ----------
    stream
        A text stream.
    environment : mapping
        The environment of this program.

    Returns
    -------
    bool
        False where it is no terminal, where the person wants none (NO_COLOR), and where the terminal knows none.
    """
    return bool(stream.isatty()) and not environment.get("NO_COLOR") and environment.get("TERM") != "dumb"


class KeyReader(Protocol):
    """Single keys of a terminal, while it is entered; the terminal is as before when it is left."""

    def __enter__(self) -> Self: ...

    def __exit__(self, *_: object) -> None: ...

    def read(self) -> str | None:
        """What was typed since, perhaps nothing; None where the input has ended."""
        ...


def keys_of_terminal(kind: Kind = THIS, module: Callable[[str], Any] = importlib.import_module) -> KeyReader:
    """Single keys of standard input, which must be a terminal.

    Parameters
    ----------
    kind : {"linux", "macos", "windows", "other"}
        The system.
    module : callable
        Loads a module by its name; tests hand in what this computer does not have.

    Returns
    -------
    KeyReader
        To be entered.
    """
    return _WindowsKeys(module("msvcrt")) if kind == "windows" else _PosixKeys(module("termios"), module("tty"))


class _PosixKeys:
    def __init__(self, termios: Any, tty: Any):
        self._termios, self._tty = termios, tty
        self._saved: Any = None

    def __enter__(self) -> Self:
        self._saved = self._termios.tcgetattr(sys.stdin)
        self._tty.setcbreak(sys.stdin)
        return self

    def __exit__(self, *_: object) -> None:
        self._termios.tcsetattr(sys.stdin, self._termios.TCSADRAIN, self._saved)

    def read(self) -> str | None:
        # Past the buffer of sys.stdin, which would hide keys from select.
        source = sys.stdin.fileno()
        if not select.select([source], [], [], WAIT_S)[0]:
            return ""
        return os.read(source, READ_BYTES).decode(errors="replace") or None


class _WindowsKeys:
    """By msvcrt (looked up: Python's library reference): a key that is no letter comes as two, the first one of these."""

    FIRST_OF_TWO = ("\x00", "\xe0")
    END = "\x1a"

    def __init__(self, msvcrt: Any):
        self._msvcrt = msvcrt
        self._pause = threading.Event()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        return None

    def read(self) -> str | None:
        if not self._msvcrt.kbhit():
            self._pause.wait(LOOK_EVERY_S)
            return ""
        key = str(self._msvcrt.getwch())
        if key in self.FIRST_OF_TWO:
            self._msvcrt.getwch()
            return ""
        if key == "\x03":
            raise KeyboardInterrupt
        return None if key == self.END else key
