"""Opening of lists and documents: the text of a file, or one sentence why not."""

from __future__ import annotations

from pathlib import Path

from obverse.foundation import InputError, TooLargeError

# A series of 2000 trials with 2000 patches each is below this.
MOST_BYTES = 100 * 1024 * 1024


def read_text(path: str | Path, *, most_bytes: int = MOST_BYTES) -> str:
    """The text of a UTF-8 file.

    Raises
    ------
    InputError
        If it is not there, not a file, not allowed, not text.
    TooLargeError
        If it is larger than `most_bytes`; it is then not read at all.
    """
    path = Path(path)
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise InputError("this is a folder", where=path.name, remedy="give a file")
        if size > most_bytes:
            raise TooLargeError(
                f"the file has {size / 1e6:.0f} MB, a list has less than {most_bytes / 1e6:.0f}",
                where=path.name,
                remedy="give the list alone",
            )
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise InputError("there is no such file", where=str(path), remedy="check the name") from None
    except PermissionError:
        raise InputError("the file may not be read", where=str(path), remedy="check its permissions") from None
    except UnicodeDecodeError:
        raise InputError("it is not text", where=path.name, remedy="give a UTF-8 text file") from None
    except OSError as error:
        raise InputError(f"the file cannot be read ({error.strerror})", where=str(path)) from None
