"""Where the data lie: the folder of this system, older places, and folders that are no good for a notebook."""

from __future__ import annotations

import ctypes
import os
import re
import subprocess
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePath, PureWindowsPath
from typing import Any, Literal

import platformdirs

from obverse.system.kind import THIS, Kind

NAME = "obverse"
HOME_VARIABLE = "OBVERSE_HOME"
# How Linux and macOS call file systems that lie on another computer (proc(5), mount(8)).
ON_THE_NETWORK = frozenset(
    [
        "9p",
        "afpfs",
        "afs",
        "ceph",
        "cifs",
        "davfs",
        "fuse.davfs2",
        "fuse.glusterfs",
        "fuse.rclone",
        "fuse.sshfs",
        "glusterfs",
        "gpfs",
        "lustre",
        "ncpfs",
        "nfs",
        "nfs4",
        "smb3",
        "smbfs",
        "sshfs",
        "virtiofs",
        "webdav",
    ]
)
# DRIVE_REMOTE of GetDriveTypeW.
REMOTE_DRIVE = 4
# Folders that programs for synchronising give their own names, in small letters; a blank or a dash may follow.
SYNCED_NAMES = (
    "dropbox",
    "onedrive",
    "google drive",
    "googledrive",
    "icloud drive",
    "nextcloud",
    "owncloud",
    "syncthing",
)
# Parts of a path under which macOS keeps what it synchronises.
SYNCED_PARTS = (("library", "mobile documents"), ("library", "cloudstorage"))
# What such a program leaves in the top folder of what it synchronises (from memory).
SYNCED_MARKS = (".dropbox", ".stfolder", ".owncloudsync.log")
# A network drive that has gone away can hold mount(8) for minutes.
MOUNT_TIMEOUT_S = 5
SYNCED_VARIABLES = ("OneDrive", "OneDriveConsumer", "OneDriveCommercial")


@dataclass(frozen=True, slots=True)
class Home:
    """The data folder, and how it was found.

    Parameters
    ----------
    how : {"told", "variable", "usual", "older"}
        By --home, by OBVERSE_HOME, where this system keeps such data, or where an older version kept them.
    beside : Path, optional
        An older folder that holds a notebook too and is not used.
    """

    folder: Path
    how: Literal["told", "variable", "usual", "older"]
    beside: Path | None = None


@dataclass(frozen=True, slots=True)
class FolderDoubt:
    """Why a folder is no good place for a notebook."""

    kind: Literal["network", "synced"]
    place: str
    text: str


def usual_folder() -> Path:
    """Where this system keeps such data for one person."""
    return platformdirs.user_data_path(NAME, appauthor=False)


def older_folder() -> Path:
    """Where the first version kept them on every system."""
    data = os.environ.get("XDG_DATA_HOME")
    return (Path(data) if data else Path.home() / ".local" / "share") / NAME


def find_home(
    told: Path | None,
    holds: Callable[[Path], bool],
    *,
    environment: Mapping[str, str] = os.environ,
    usual: Path | None = None,
    older: Path | None = None,
) -> Home:
    """The data folder: what the person says, else the usual one, else an older one that holds a notebook.

    Parameters
    ----------
    told : Path, optional
        What stands after --home.
    holds : callable
        Whether a folder holds a notebook.
    environment : mapping
        The environment of this program.
    usual, older : Path, optional
        Default: `usual_folder` and `older_folder`.

    Returns
    -------
    Home
        The folder, and how it was found.
    """
    if told is not None:
        return Home(told.expanduser(), "told")
    if environment.get(HOME_VARIABLE):
        return Home(Path(environment[HOME_VARIABLE]).expanduser(), "variable")
    usual = usual or usual_folder()
    older = older or older_folder()
    if older == usual or not holds(older):
        return Home(usual, "usual")
    return Home(usual, "usual", beside=older) if holds(usual) else Home(older, "older")


def doubts_about(
    folder: Path,
    kind: Kind = THIS,
    *,
    environment: Mapping[str, str] = os.environ,
    mounts: Callable[[Kind], list[tuple[str, str]]] | None = None,
    libraries: Any = ctypes,
) -> tuple[FolderDoubt, ...]:
    """Whether a folder lies on another computer, or is copied by a program for synchronising.

    SQLite keeps a log beside the notebook and needs locks that network drives rarely keep (looked up: sqlite.org, "Write-Ahead
    Logging": "WAL does not work over a network filesystem"). A program for synchronising may copy one file without the other.

    Parameters
    ----------
    folder : Path
        The data folder.
    kind : {"linux", "macos", "windows", "other"}
        The system.
    environment : mapping
        The environment of this program.
    mounts : callable, optional
        Tells what is mounted; default: `mounted`.
    libraries
        `ctypes`, or what a test puts in its place.

    Returns
    -------
    tuple of FolderDoubt
        Empty where nothing speaks against it.
    """
    found = []
    network = _network_place(folder, kind, mounts or mounted, libraries)
    if network:
        found.append(
            FolderDoubt(
                "network",
                network,
                f"The data folder lies on a network drive ({network}). A notebook there can be damaged when the network fails or two "
                "computers write. Keep it on this computer and let `obverse backup` copy it there.",
            )
        )
    synced = _synced_place(folder, environment)
    if synced:
        found.append(
            FolderDoubt(
                "synced",
                synced,
                f"The data folder lies in a synced folder ({synced}). A program that copies the notebook while it is written can "
                "damage it. Keep it outside and let `obverse backup` copy it there.",
            )
        )
    return tuple(found)


def mounted(kind: Kind) -> list[tuple[str, str]]:
    """Places and kinds of all file systems that are mounted."""
    if kind == "linux":
        try:
            lines = Path("/proc/self/mountinfo").read_text(encoding="utf-8", errors="replace").splitlines()
        except OSError:
            return []
        return places_of_linux(lines)
    if kind == "macos":
        try:
            told = subprocess.run(["/sbin/mount"], capture_output=True, text=True, timeout=MOUNT_TIMEOUT_S)
        except (OSError, subprocess.SubprocessError):
            return []
        return places_of_macos(told.stdout.splitlines())
    return []


def places_of_linux(lines: list[str]) -> list[tuple[str, str]]:
    """Place and kind from the lines of /proc/self/mountinfo (proc_pid_mountinfo(5))."""
    found = []
    for line in lines:
        before, _, after = line.partition(" - ")
        left, right = before.split(), after.split()
        if len(left) > 4 and right:
            place = re.sub(r"\\([0-7]{3})", lambda octal: chr(int(octal[1], 8)), left[4])
            found.append((place, right[0]))
    return found


def places_of_macos(lines: list[str]) -> list[tuple[str, str]]:
    """Place and kind from what mount(8) prints: `WHAT on PLACE (KIND, ...)`."""
    matches = (re.match(r"^.* on (/.*) \(([^,)]+)", line) for line in lines)
    return [(match[1], match[2]) for match in matches if match]


def _network_place(folder: Path, kind: Kind, mounts: Callable[[Kind], list[tuple[str, str]]], libraries: Any) -> str:
    if kind == "windows":
        drive = PureWindowsPath(folder).drive
        if drive.startswith("\\\\"):
            return drive
        try:
            remote = bool(drive) and libraries.WinDLL("kernel32").GetDriveTypeW(drive + "\\") == REMOTE_DRIVE
        except (AttributeError, OSError):
            return ""
        return drive if remote else ""
    whole = PurePath(os.path.abspath(folder))
    over = [(place, name) for place, name in mounts(kind) if whole.is_relative_to(place)]
    if not over:
        return ""
    place, name = max(over, key=lambda one: len(one[0]))
    return f"{place}, {name}" if name in ON_THE_NETWORK else ""


def _synced_place(folder: Path, environment: Mapping[str, str]) -> str:
    folder = Path(os.path.abspath(folder))
    for name in SYNCED_VARIABLES:
        top = environment.get(name)
        if top and folder.is_relative_to(top):
            return top
    for place in (folder, *folder.parents):
        parts = tuple(part.lower() for part in place.parts)
        if any(parts[-2:] == pair for pair in SYNCED_PARTS):
            return str(place)
        if parts and re.match(rf"({'|'.join(map(re.escape, SYNCED_NAMES))})([ -]|$)", parts[-1]):
            return str(place)
        # The folder of a person is nobody's mark: such a program keeps its own settings there.
        if place != Path.home() and any((place / mark).exists() for mark in SYNCED_MARKS):
            return str(place)
    return ""
