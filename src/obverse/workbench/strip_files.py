"""A strip read from pictures that lie in a folder, without a darkroom: what `obverse read` does."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Self

from obverse.capture import load_picture
from obverse.capture.bracket import load_bracket
from obverse.capture.report import Report, write_report
from obverse.densitometry import StripReading, read_strip
from obverse.diagnosis import FaultFinding, diagnose_picture, not_looked_for
from obverse.foundation import JsonObject, parse_json
from obverse.imaging import Picture
from obverse.imaging.finding import NoStripError

if TYPE_CHECKING:
    from obverse.densitometry import Calibration

__all__ = [
    "FaultFinding",
    "NoStripError",
    "ReadAsked",
    "Report",
    "StripFiles",
    "StripRead",
    "StripReading",
    "calibration_of",
    "write_report",
]

# Where corners are laid for a person to put right: the middle of a picture (shares of its width and height).
_LAID = ((0.15, 0.35), (0.85, 0.35), (0.85, 0.65), (0.15, 0.65))


@dataclass(frozen=True)
class StripRead:
    """A strip as it was read, with the faults that its pictures show; `not_looked_for` says why none were looked for."""

    reading: StripReading
    faults: tuple[FaultFinding, ...]
    not_looked_for: str

    @classmethod
    def of(cls, pictures: Sequence[Picture], reading: StripReading) -> Self:
        """A reading, with the faults looked for in its pictures."""
        return cls(reading, diagnose_picture(pictures, reading), not_looked_for(pictures, reading))

    def document(self) -> JsonObject:
        """The JSON shape."""
        return {
            **self.reading.document(),
            "faults": [fault.document() for fault in self.faults],
            "faults_not_looked_for": self.not_looked_for,
        }


@dataclass(frozen=True)
class ReadAsked:
    """How a strip lies in its pictures, as `obverse.densitometry.read_strip` takes it."""

    patches: int
    corners: Sequence[Sequence[float]] | None = None
    dividers: Sequence[float] | None = None
    shift: int = 0
    other: int = 0
    accept: bool = False
    stops: float | None = None

    def of(
        self,
        pictures: Sequence[Picture],
        panel: Picture | None,
        calibration: Calibration | None,
        progress: Callable[[float, str], None] | None,
    ) -> StripReading:
        """The strip, read from these pictures.

        Raises
        ------
        InputError
            If it cannot be.
        """
        return read_strip(pictures, panel=panel, calibration=calibration, progress=progress, **vars(self))


@dataclass(frozen=True)
class StripFiles:
    """Pictures of one view of a strip that lie in a folder, opened.

    Parameters
    ----------
    pictures : tuple of Picture
        Decoded by the response that pictures of the empty panel showed, where there were any.
    """

    files: tuple[Path, ...]
    pictures: tuple[Picture, ...]

    @classmethod
    def opened(cls, files: Sequence[Path], panels: Sequence[Path] = (), *, marked: bool = True) -> Self:
        """The files, opened.

        Parameters
        ----------
        marked : bool
            Whether a digest of each file goes with it, for what is kept of a reading; it takes as long as the reading.

        Raises
        ------
        InputError
            If one cannot be used, or those of the empty panel give no tone curve.
        """
        opened = load_bracket(files, panels)
        if marked:
            opened = [replace(one, sha256=_mark(file)) for one, file in zip(opened, files, strict=True)]
        return cls(tuple(files), tuple(opened))

    def read(
        self,
        asked: ReadAsked,
        *,
        panel: Path | None,
        calibration: Path | None,
        progress: Callable[[float, str], None] | None,
    ) -> StripReading:
        """The strip as it is asked for; a calibration is a file that `obverse read --tablet --json` printed.

        Raises
        ------
        InputError
            If the strip cannot be read, or a file is not what it should be.
        """
        known = None
        if calibration is not None:
            from obverse.densitometry import Calibration
            from obverse.foundation import read_document

            where = calibration.name
            known = read_document(Calibration, parse_json(calibration.read_bytes(), where=where), where=where)
        return asked.of(self.pictures, load_picture(panel) if panel else None, known, progress)

    def corners_to_correct(self) -> list[tuple[int, int]]:
        """Corners in the middle of the picture, for a person to put right where nothing was found."""
        first = self.pictures[0]
        return [(round(x * first.width), round(y * first.height)) for x, y in _LAID]

    def with_faults(self, reading: StripReading) -> StripRead:
        """A reading of these pictures with the faults that they show."""
        return StripRead.of(self.pictures, reading)


def _mark(file: Path) -> str:
    # Piece by piece: a picture need not lie in memory a second time.
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def calibration_of(reading: StripReading, known: Sequence[float]) -> Calibration:
    """Camera density tied to the known densities of a step tablet, by those of its steps that were not clipped."""
    from obverse.densitometry import calibrate

    good = [patch for patch in reading.patches if not patch.clipped]
    return calibrate(
        [patch.density.value for patch in good],
        [patch.density.sd for patch in good],
        [known[patch.index - 1] for patch in good],
        tablet="step tablet",
    )
