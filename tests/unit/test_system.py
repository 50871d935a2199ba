"""What differs between systems: every branch, run here by stand-ins for what the systems answer."""

from __future__ import annotations

import errno
import io
import mimetypes
import os
import socket
import sys
from pathlib import Path, PureWindowsPath
from types import SimpleNamespace

import pytest

from obverse.foundation import InputError
from obverse.system import (
    can_say,
    close_to_others,
    doubts_about,
    find_home,
    flush_to_disk,
    keys_of_terminal,
    kind_of,
    let_everything_be_said,
    listening_socket,
    make_private_folder,
    may_colour,
    may_open_browser,
    new_private_file,
    open_browser,
    put_in_place,
)
from obverse.system.folders import older_folder, places_of_linux, places_of_macos, usual_folder
from obverse.system.terminal import PLAIN, plain


@pytest.mark.parametrize(
    ("platform", "kind"),
    [("linux", "linux"), ("darwin", "macos"), ("win32", "windows"), ("cygwin", "other"), ("freebsd14", "other")],
)
def test_kinds(platform, kind):
    assert kind_of(platform) == kind


# Keys


class Console:
    """What msvcrt answers: keys that were typed, one by one; those of the keypad come as two."""

    def __init__(self, typed: str):
        self._typed = list(typed)

    def kbhit(self):
        return bool(self._typed)

    def getwch(self):
        return self._typed.pop(0)


def test_keys_of_windows():
    with keys_of_terminal("windows", lambda name: {"msvcrt": Console("t\xe0Hé\r")}[name]) as keys:
        assert [keys.read() for _ in range(5)] == ["t", "", "é", "\r", ""]
    with keys_of_terminal("windows", lambda _: Console("\x1a")) as keys:
        assert keys.read() is None
    with keys_of_terminal("windows", lambda _: Console("\x03")) as keys, pytest.raises(KeyboardInterrupt):
        keys.read()


def test_keys_of_a_posix_terminal(monkeypatch):
    """A true pseudo-terminal: single keys come without Enter, and the terminal is as before."""
    import pty
    import termios

    ours, theirs = pty.openpty()
    with os.fdopen(theirs, "r", encoding="utf-8") as stdin:
        monkeypatch.setattr(sys, "stdin", stdin)
        before = termios.tcgetattr(stdin)
        with keys_of_terminal("linux") as keys:
            assert termios.tcgetattr(stdin) != before
            os.write(ours, "p é".encode())
            assert keys.read() == "p é"
        assert termios.tcgetattr(stdin) == before
        os.close(ours)


# The terminal


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "cp437", "utf-16", "utf-8"])
def test_everything_can_be_said(encoding):
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding, newline="\n")
    let_everything_be_said(stream)
    stream.write("−0.3 ± 0.1 at 20 °C × 2 … Lösung → ≥ 1 µm \U0001f4f7\n")
    stream.flush()
    told = raw.getvalue().decode(encoding)
    assert told.endswith("\n") and "0.3" in told and "20" in told
    if encoding == "ascii":
        assert told == "-0.3 +/- 0.1 at 20 deg C x 2 ... Losung -> >= 1 um ?\n"
    if encoding.startswith("utf"):
        assert told.startswith("−0.3 ± 0.1 at 20 °C")


def test_plain_letters_are_plain():
    assert all(written.isascii() for written in PLAIN.values())
    assert plain("".join(PLAIN)).isascii() and plain("\u4e2d") == "?"


@pytest.mark.parametrize(
    ("keys", "environment", "may"),
    [(True, {}, True), (False, {}, False), (True, {"NO_COLOR": "1"}, False), (True, {"TERM": "dumb"}, False)],
)
def test_where_colours_are_written(keys, environment, may):
    assert may_colour(SimpleNamespace(isatty=lambda: keys), environment) is may


def test_what_a_stream_can_say():
    blocks = "\N{UPPER HALF BLOCK}\N{LOWER HALF BLOCK}\N{FULL BLOCK}"
    assert can_say(blocks, SimpleNamespace(encoding="utf-8")) and can_say(blocks, SimpleNamespace(encoding="cp437"))
    assert not can_say(blocks, SimpleNamespace(encoding="cp1252")) and not can_say(
        blocks, SimpleNamespace(encoding=None)
    )
    assert not can_say(blocks, SimpleNamespace(encoding="no such code page"))


# Ports


class Sockets:
    """`socket` of a system, with its options noted."""

    AF_INET, SOCK_STREAM, SOL_SOCKET, SO_REUSEADDR = "inet", "stream", "sol", "reuse"

    def __init__(self, *, windows: bool):
        self.done: list[tuple] = []
        if windows:
            self.SO_EXCLUSIVEADDRUSE = "exclusive"

    def socket(self, *_):
        return self

    def setsockopt(self, _level, option, value):
        self.done.append((option, value))

    def bind(self, address):
        self.done.append(("bind", address))

    def listen(self, _count):
        self.done.append(("listen",))


def test_the_port_is_exclusive_on_windows_and_only_there():
    on_windows, elsewhere = Sockets(windows=True), Sockets(windows=False)
    listening_socket("127.0.0.1", 8137, "windows", on_windows)
    listening_socket("127.0.0.1", 8137, "linux", elsewhere)
    assert on_windows.done[0] == ("exclusive", 1) and ("reuse", 1) not in on_windows.done
    assert elsewhere.done[0] == ("reuse", 1)
    assert on_windows.done[1:] == elsewhere.done[1:] == [("bind", ("127.0.0.1", 8137)), ("listen",)]


def test_a_port_that_another_holds_alone_is_told_as_taken():
    class Held(Sockets):
        def bind(self, address):
            raise PermissionError(13, "forbidden by its access permissions")

        def close(self):
            self.done.append(("closed",))

    for kind, code in (("windows", errno.EADDRINUSE), ("linux", errno.EACCES)):
        held = Held(windows=kind == "windows")
        with pytest.raises(OSError) as caught:
            listening_socket("127.0.0.1", 80, kind, held)
        assert caught.value.errno == code and held.done[-1] == ("closed",)


def test_a_second_server_does_not_get_the_port():
    with listening_socket("127.0.0.1", 0) as first, pytest.raises(OSError):
        listening_socket("127.0.0.1", first.getsockname()[1])
    assert socket.SO_REUSEADDR  # the true module was used


# The browser


@pytest.mark.parametrize(
    ("kind", "environment", "may"),
    [
        ("windows", {}, True),
        ("macos", {}, True),
        ("linux", {}, False),
        ("linux", {"DISPLAY": ":0"}, True),
        ("linux", {"WAYLAND_DISPLAY": "wayland-0"}, True),
        ("macos", {"SSH_CONNECTION": "a b c d"}, False),
        ("windows", {"SSH_TTY": "x"}, False),
        ("linux", {"DISPLAY": ":10", "SSH_CONNECTION": "a b c d"}, False),
    ],
)
def test_where_a_browser_is_opened(kind, environment, may):
    assert may_open_browser(kind, environment) is may


def test_a_browser_that_cannot_be_started_is_no_failure(monkeypatch):
    asked = []

    def fail(address):
        asked.append(address)
        raise OSError("no browser")

    monkeypatch.setattr("webbrowser.open", fail)
    open_browser("http://127.0.0.1:1/")
    assert asked == ["http://127.0.0.1:1/"]


# Files


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such rights")
def test_files_are_for_their_owner_alone(tmp_path):
    file = tmp_path / "secret"
    with new_private_file(file) as out:
        out.write(b"a\n")
    assert file.stat().st_mode & 0o777 == 0o600 and file.read_bytes() == b"a\n"
    with pytest.raises(FileExistsError):
        new_private_file(file)
    file.chmod(0o644)
    assert close_to_others(file, "windows") is False and file.stat().st_mode & 0o077
    assert close_to_others(file, "linux") is True and not file.stat().st_mode & 0o077
    assert close_to_others(file, "linux") is False
    make_private_folder(tmp_path / "a" / "home")
    assert (tmp_path / "a" / "home").stat().st_mode & 0o777 == 0o700
    put_in_place(file, b"b", "linux", private=True)
    assert file.stat().st_mode & 0o777 == 0o600
    put_in_place(file, b"c", "linux")
    assert file.stat().st_mode & 0o777 == 0o644


def test_what_belongs_to_somebody_else_keeps_its_rights(tmp_path, monkeypatch):
    file = tmp_path / "theirs"
    file.write_text("")
    file.chmod(0o644)
    monkeypatch.setattr(os, "getuid", lambda: file.stat().st_uid + 1, raising=False)
    assert close_to_others(file, "linux") is False


@pytest.mark.parametrize("code", [5, 32, 1224])
def test_a_file_that_a_viewer_holds_open(tmp_path, monkeypatch, code):
    file = tmp_path / "evening.pdf"
    file.write_bytes(b"old")

    def held(_from, _to):
        error = PermissionError(13, "Access is denied")
        error.winerror = code
        raise error

    monkeypatch.setattr(os, "replace", held)
    with pytest.raises(InputError) as caught:
        put_in_place(file, b"new", "windows")
    assert "another program holds the file open" in caught.value.sentence and "close it there" in caught.value.sentence
    assert file.read_bytes() == b"old" and [path.name for path in tmp_path.iterdir()] == ["evening.pdf"]
    with pytest.raises(PermissionError):
        put_in_place(file, b"new", "linux")


def test_a_full_disk_leaves_the_old_file(tmp_path, monkeypatch):
    file = tmp_path / "kept"
    file.write_bytes(b"old")

    def full(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        put_in_place(file, b"new", "linux")
    assert file.read_bytes() == b"old" and len(list(tmp_path.iterdir())) == 1


def test_macos_is_asked_to_flush_the_drive_too(tmp_path, monkeypatch):
    fcntl = pytest.importorskip("fcntl")
    asked, synced = [], []
    monkeypatch.setattr(fcntl, "fcntl", lambda _handle, command: asked.append(command))
    monkeypatch.setattr(os, "fsync", synced.append)
    put_in_place(tmp_path / "kept", b"x", "macos")
    assert asked == [getattr(fcntl, "F_FULLFSYNC", 51)] and synced == []

    def unknown(_handle, _command):
        raise OSError(45, "not supported")

    monkeypatch.setattr(fcntl, "fcntl", unknown)
    flush_to_disk(tmp_path / "kept", "macos")
    assert len(synced) == 1


def test_windows_flushes_what_is_open_for_writing(tmp_path, monkeypatch):
    file = tmp_path / "part"
    file.write_bytes(b"x")
    asked = []
    true_open = os.open
    monkeypatch.setattr(os, "open", lambda path, flags: asked.append(flags & 3) or true_open(path, flags))
    flush_to_disk(file, "windows")
    flush_to_disk(file, "linux")
    assert asked == [os.O_RDWR, os.O_RDONLY]


# Scripts


def test_scripts_are_scripts_whatever_the_registry_says(workbench, monkeypatch):
    """A browser that is told not to guess refuses a script that is served as plain text."""
    from starlette.testclient import TestClient

    from obverse.web.app import create_app

    spoilt = mimetypes.MimeTypes()
    for ending in (".js", ".css", ".svg"):
        spoilt.add_type("text/plain", ending)
    monkeypatch.setattr(mimetypes, "_db", spoilt)
    app = create_app(workbench, hosts=("testserver",))
    with TestClient(app, client=("127.0.0.1", 1)) as web:
        for path, kind in (("house.js", "text/javascript"), ("house.css", "text/css"), ("icons.svg", "image/svg+xml")):
            answer = web.get(f"/static/house/{path}")
            assert answer.status_code == 200 and answer.headers["content-type"].split(";")[0] == kind
            assert answer.headers["x-content-type-options"] == "nosniff"


# Folders


def test_the_usual_folder_is_that_of_the_system(monkeypatch, tmp_path):
    from platformdirs.macos import MacOS
    from platformdirs.unix import Unix

    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert Unix("obverse", False).user_data_path == tmp_path / "obverse" == older_folder()
    monkeypatch.delenv("XDG_DATA_HOME")
    assert Unix("obverse", False).user_data_path == Path.home() / ".local/share/obverse" == older_folder()
    assert MacOS("obverse", False).user_data_path == Path.home() / "Library/Application Support/obverse"
    if sys.platform.startswith("linux"):
        assert usual_folder() == older_folder()


def test_which_home_is_taken(tmp_path):
    usual, older, told = tmp_path / "usual", tmp_path / "older", tmp_path / "told"
    notebooks: set[Path] = set()

    def found(told_, **environment):
        return find_home(told_, notebooks.__contains__, environment=environment, usual=usual, older=older)

    assert (found(None).folder, found(None).how) == (usual, "usual")
    assert (found(None, OBVERSE_HOME=str(told)).folder, found(None, OBVERSE_HOME=str(told)).how) == (told, "variable")
    assert found(told, OBVERSE_HOME=str(older)).how == "told"
    notebooks.add(older)
    assert (found(None).folder, found(None).how, found(None).beside) == (older, "older", None)
    notebooks.add(usual)
    assert (found(None).folder, found(None).how, found(None).beside) == (usual, "usual", older)


MOUNTINFO = r"""
22 1 254:0 / / rw,relatime shared:1 - ext4 /dev/vda rw
30 22 0:40 / /homes/a/net\040work rw shared:9 - nfs4 server:/x rw
31 30 254:1 / /homes/a/net\040work/disk rw - ext4 /dev/vdb rw
broken line
""".splitlines()
MAC_MOUNTS = """/dev/disk3s1s1 on / (apfs, sealed, local, read-only, journaled)
//a@server/share on /Volumes/share (smbfs, nodev, nosuid, mounted by a)
""".splitlines()


@pytest.mark.parametrize(
    ("folder", "place"),
    [
        ("/homes/a/.local/share/obverse", ""),
        ("/homes/a/net work/obverse", "/homes/a/net work, nfs4"),
        ("/homes/a/net work/disk/obverse", ""),
        ("/homes/a/net work 2", ""),
    ],
)
def test_network_drives_of_linux(folder, place):
    told = doubts_about(Path(folder), "linux", environment={}, mounts=lambda _: places_of_linux(MOUNTINFO))
    assert [doubt.place for doubt in told] == ([place] if place else [])


def test_network_drives_of_macos():
    def told(folder):
        return doubts_about(Path(folder), "macos", environment={}, mounts=lambda _: places_of_macos(MAC_MOUNTS))

    assert told("/Users/a/Library/Application Support/obverse") == ()
    (doubt,) = told("/Volumes/share/obverse")
    assert doubt.kind == "network" and "/Volumes/share, smbfs" in doubt.text and "obverse backup" in doubt.text


def test_network_drives_of_windows():
    kernel = SimpleNamespace(GetDriveTypeW=lambda root: {"C:\\": 3, "Z:\\": 4}[root])
    libraries = SimpleNamespace(WinDLL=lambda _: kernel)

    def told(folder):
        # A path of Windows, as far as its drive is asked.
        return doubts_about(PureWindowsPath(folder), "windows", environment={}, libraries=libraries)

    assert told(r"C:\Users\a\AppData\Local\obverse") == ()
    assert told(r"Z:\obverse")[0].place == "Z:"
    assert told(r"\\server\share\obverse")[0].place == r"\\server\share"
    assert doubts_about(PureWindowsPath(r"C:\x"), "windows", environment={}, libraries=SimpleNamespace()) == ()


@pytest.mark.parametrize(
    ("folder", "variables", "synced"),
    [
        ("/homes/a/Dropbox/obverse", {}, "/homes/a/Dropbox"),
        ("/homes/a/OneDrive - club/x/obverse", {}, "/homes/a/OneDrive - club"),
        ("/Users/a/Library/Mobile Documents/obverse", {}, "/Users/a/Library/Mobile Documents"),
        ("/Users/a/Library/CloudStorage/b/obverse", {}, "/Users/a/Library/CloudStorage"),
        ("/d/desk/obverse", {"OneDrive": "/d/desk"}, "/d/desk"),
        ("/homes/a/dropboxes/obverse", {}, ""),
        ("/homes/a/obverse", {"OneDrive": "/d/desk"}, ""),
    ],
)
def test_synced_folders(folder, variables, synced):
    told = doubts_about(Path(folder), "linux", environment=variables, mounts=lambda _: [])
    assert [doubt.place for doubt in told] == ([synced] if synced else [])


def test_a_mark_of_synchronising_in_a_folder_above(tmp_path):
    (tmp_path / ".stfolder").mkdir()
    (doubt,) = doubts_about(tmp_path / "deep" / "obverse", "linux", environment={}, mounts=lambda _: [])
    assert doubt.kind == "synced" and doubt.place == str(tmp_path)
