"""The camera of the light table: keep pictures, read strips from them, remember the calibration."""

from __future__ import annotations

import hashlib
import json
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from threading import Lock

import imagecodecs
import numpy as np
from pydantic import BaseModel, JsonValue

from obverse.capture import load_picture, save_deep_png, save_tiff
from obverse.capture.report import Packed, report_files
from obverse.clock import Clock
from obverse.densitometry import Calibration, calibrate, read_strip
from obverse.foundation import InputError, JsonObject, NotFoundError
from obverse.imaging import Picture, linear_to_srgb
from obverse.store import Store, Stored
from obverse.store.camera_records import CalibrationEntry
from obverse.store.records import PictureEntry
from obverse.workbench.place import Place
from obverse.workbench.simulated_strip import simulated_bracket
from obverse.workbench.strip_files import ReadAsked, StripRead

_CALIBRATION = "camera-calibration"
# A view for the eye: quality of its JPEG, the percentile that is its panel, and how light that is shown: its fall-off is to be seen.
VIEW_QUALITY, PANEL_PERCENT, PANEL_SHOWN, RGB = 88, 98, 0.82, 3
# Shares of a reading, as somebody who waits is told: the pictures themselves, and where faults are looked for.
PICTURES_SHARE, READ_SHARE = 0.8, 0.85
# Pictures at hand while corners are being moved: a few, and no more than a laptop can spare.
_KEPT_DECODED = 3
_KEPT_DECODED_BYTES = 256 * 1024 * 1024
_MOST_PICTURES = 12


class _ReadStep(BaseModel):
    """What a calibration asks of one patch of a reading that was kept."""

    density: float
    density_sd: float
    clipped: bool


class _ReadTablet(BaseModel):
    """A reading that was kept, as far as a calibration asks it."""

    kind: str
    patches: tuple[_ReadStep, ...]


class Camera(Place):
    """Pictures in the notebook and what was read from them."""

    def __init__(self, store: Store, clock: Clock, home: Path | None):
        super().__init__(store, clock, home)
        self._decoded: OrderedDict[str, Picture] = OrderedDict()
        self._lock = Lock()

    def add(self, data: bytes, name: str) -> Stored[PictureEntry]:
        """Keep a picture, once it is known to be one; the same bytes are kept once.

        Raises
        ------
        InputError
            If it cannot be used; then nothing is kept.
        """
        picture = load_picture(data, name=name)
        kept = self._keep(_entry_of(picture, data, name), data)
        self._remember(kept, picture)
        return kept

    def add_all(self, files: Sequence[tuple[bytes, str]]) -> tuple[list[Stored[PictureEntry]], list[InputError]]:
        """Keep those that can be used, all of them at once; returns them, and why the others were refused."""
        good, refused = [], []
        for data, name in files:
            # Looked at before anything is written: that takes long, and the notebook is open to others meanwhile.
            try:
                good.append((_entry_of(load_picture(data, name=name), data, name), data))
            except InputError as error:
                refused.append(error)
        with self._store.transaction():
            return [self._keep(entry, data) for entry, data in good], refused

    def _keep(self, entry: PictureEntry, data: bytes) -> Stored[PictureEntry]:
        """The picture with its bytes: both or neither."""
        with self._store.transaction():
            self._store.put_blob(data, entry.media_type)
            known = self._store.pictures.all(sha256=entry.sha256, purpose="strip")
            return known[0] if known else self._store.pictures.put(entry)

    def add_frames(self, data: bytes, width: int, height: int, exposure_s: float | None) -> Stored[PictureEntry]:
        """Keep the mean of several frames of a live camera as a 16-bit PNG.

        Parameters
        ----------
        data : bytes
            Codes of 16 bits, low byte first, red, green, blue, row by row.
        width, height : int
            Pixels.
        exposure_s : float or None
            As the device says.

        Raises
        ------
        InputError
            If there are not as many codes as pixels.
        """
        if len(data) != 2 * RGB * width * height:
            raise InputError(
                f"{len(data)} bytes came for {width} by {height} pixels", where="frames", remedy="take them again"
            )
        codes = np.frombuffer(data, "<u2").reshape(height, width, RGB).astype(np.uint16)
        # Those of one bracket come within a second, and are told apart by their exposure.
        time = f", {1000 * exposure_s:.3g} ms" if exposure_s else ""
        return self.add(save_deep_png(codes, exposure_s=exposure_s), f"live {self._clock.now():%H.%M.%S}{time}.png")

    def look(self, data: bytes, patches: int) -> JsonObject:
        """Where the strip lies in a frame; `found` is false where none is seen, and nothing is kept."""
        try:
            reading = read_strip([load_picture(data, name="frame")], patches)
        except InputError as error:
            return {"found": False, "patches": [], "words": error.sentence}
        return {"found": True, "patches": [p.document()["corners"] for p in reading.patches], "words": ""}

    def add_simulated(self, seed: int, densities: Sequence[float] | None = None) -> list[Stored[PictureEntry]]:
        """A bracket of three computed pictures of an invented strip, to try the place with.

        Parameters
        ----------
        densities : sequence of float, optional
            Patches of the strip, from the first corner. Default: a falling curve of eleven.
        """
        made = [
            (save_tiff(codes, exposure_s=exposure_s), f"simulated strip {seed}, exposure {k + 1}.tif")
            for k, (codes, exposure_s) in enumerate(simulated_bracket(seed, densities))
        ]
        return self.add_all(made)[0]

    def picture(self, id: str) -> Stored[PictureEntry]:
        """A kept picture.

        Raises
        ------
        NotFoundError
            If there is none of that id.
        """
        kept = self._store.pictures.get(id)
        if kept.thing.purpose != "strip":
            raise NotFoundError("it is not a picture of a strip", where=id, remedy="choose one from the light table")
        return kept

    def opened(self, id: str) -> Picture:
        """A kept picture, decoded."""
        return self._load(id)

    def recent(self, count: int = 8) -> list[Stored[PictureEntry]]:
        """The pictures kept last, newest first."""
        kept = sorted(self._store.pictures.all(purpose="strip"), key=lambda k: k.created_at, reverse=True)
        return kept[:count]

    def view(self, id: str, longest: int = 1600) -> bytes:
        """A JPEG of the picture for the eye, no larger than `longest` pixels."""
        picture = self._load(id)
        step = max(1, int(np.ceil(max(picture.width, picture.height) / longest)))
        rows, columns = picture.height // step, picture.width // step
        light = np.zeros((rows, columns, picture.channels), dtype=np.float32)
        for offset in (0, step // 2) if step > 1 else (0,):
            light += picture.linear(
                np.ascontiguousarray(
                    picture.codes[offset : offset + rows * step : step, offset : offset + columns * step : step]
                )
            )
        light /= 2 if step > 1 else 1
        bright = max(float(np.percentile(light, PANEL_PERCENT)), 1e-4)
        shown = np.clip(light * (PANEL_SHOWN / bright), 0, 1)
        codes = np.rint(linear_to_srgb(shown) * 255).astype(np.uint8)
        return bytes(imagecodecs.jpeg8_encode(codes if picture.channels == RGB else codes[..., 0], level=VIEW_QUALITY))

    def read(
        self,
        ids: Sequence[str],
        asked: ReadAsked,
        *,
        panel: str = "",
        calibrated: bool = True,
        progress: Callable[[float, str], None] | None = None,
    ) -> StripRead:
        """Read a strip from kept pictures, with the faults that can be seen; keeps the result with the first picture."""
        if not 1 <= len(ids) <= _MOST_PICTURES:
            raise InputError(
                f"{len(ids)} pictures were chosen", where="pictures", remedy=f"choose one to {_MOST_PICTURES}"
            )
        ids = list(dict.fromkeys(ids))
        tell = progress or (lambda share, words: None)
        tell(0.0, "opening the pictures")
        self._belong(ids)
        pictures = [self._load(id) for id in ids]
        reading = asked.of(
            pictures,
            self._load(panel) if panel else None,
            self.calibration() if calibrated else None,
            lambda share, words: tell(PICTURES_SHARE * share, words),
        )
        tell(READ_SHARE, "looking for faults")
        found = StripRead.of(pictures, reading)
        document: dict[str, JsonValue] = json.loads(json.dumps(found.document()))
        first = self.picture(ids[0])
        read = first.thing.model_copy(update={"reading": document, "together": tuple(ids[1:])})
        self._store.pictures.put(read, id=first.id, expected_revision=first.revision)
        return found

    def _belong(self, ids: Sequence[str]) -> None:
        """Keep which pictures go with the first: they do whether or not they can be read."""
        first = self.picture(ids[0])
        if first.thing.together != tuple(ids[1:]):
            # What was read from others of them is no reading of these.
            asked = first.thing.model_copy(update={"reading": None, "together": tuple(ids[1:])})
            self._store.pictures.put(asked, id=first.id, expected_revision=first.revision)

    def report(self, id: str, patches: int | None = None) -> Packed:
        """The files of a report on a strip that was read, or that could not be: pictures and reading without what is personal.

        Parameters
        ----------
        patches : int, optional
            How many were asked for.
        """
        kept = self.picture(id)
        every = [kept, *(self.picture(other) for other in kept.thing.together)]
        return report_files(
            [(self._store.get_blob(one.thing.sha256), one.thing.name) for one in every],
            {"patches": patches, "reading": kept.thing.reading},
        )

    def calibration(self) -> Calibration | None:
        """The calibration of this set-up; None where no tablet was read yet."""
        kept = self._store.calibrations.find(_CALIBRATION)
        return None if kept is None or kept.retired_at is not None or kept.elsewhere else kept.thing.calibration

    def calibration_revision(self) -> int:
        """The revision of the calibration, forgotten or not; 0 where there never was one."""
        kept = self._store.calibrations.find(_CALIBRATION)
        return 0 if kept is None else kept.revision

    def calibrate(self, id: str, known: Sequence[float], *, expected_revision: int | None = None) -> Calibration:
        """Tie camera density to the known densities of the step tablet that this picture was read as.

        Raises
        ------
        ConflictError
            If another revision of the calibration stands there than expected.
        """
        document = self.picture(id).thing.reading
        if not document:
            raise InputError("the picture was not read yet", where="step tablet", remedy="read it first")
        read = _ReadTablet.model_validate(document)
        if read.kind != "camera density":
            raise InputError(
                "the tablet was read with a calibration already",
                where="step tablet",
                remedy="read it again without one",
            )
        rows = read.patches
        if len(rows) != len(known):
            raise InputError(
                f"{len(rows)} steps were read and {len(known)} are known",
                where="step tablet",
                remedy="give one density for every step",
            )
        good = [(row, value) for row, value in zip(rows, known, strict=True) if not row.clipped]
        made = calibrate(
            [r.density for r, _ in good],
            [r.density_sd for r, _ in good],
            [v for _, v in good],
            tablet=self.picture(id).thing.name,
        )
        with self._store.transaction():
            before = self._store.calibrations.find(_CALIBRATION)
            if before is not None and before.retired_at is not None:
                restored = self._store.calibrations.restore(_CALIBRATION, expected_revision=expected_revision)
                expected_revision = restored.revision
            entry = CalibrationEntry(calibration=made, picture=id)
            self._store.calibrations.put(entry, id=_CALIBRATION, expected_revision=expected_revision)
            self._store.claim("setting", _CALIBRATION)
        return made

    def forget_calibration(self, *, expected_revision: int | None = None) -> None:
        """Go back to camera density; refused where another revision stands there than expected."""
        if self.calibration() is not None:
            self._store.calibrations.retire(_CALIBRATION, expected_revision=expected_revision)

    def _load(self, id: str) -> Picture:
        kept = self.picture(id)
        with self._lock:
            if id in self._decoded:
                self._decoded.move_to_end(id)
                return self._decoded[id]
        picture = load_picture(self._store.get_blob(kept.thing.sha256), name=kept.thing.name)
        return self._remember(kept, picture)

    def _remember(self, kept: Stored[PictureEntry], picture: Picture) -> Picture:
        picture = replace(picture, sha256=kept.thing.sha256)
        with self._lock:
            self._decoded[kept.id] = picture
            while len(self._decoded) > _KEPT_DECODED or self._decoded_bytes() > _KEPT_DECODED_BYTES:
                self._decoded.popitem(last=False)
        return picture

    def _decoded_bytes(self) -> int:
        return sum(picture.codes.nbytes for picture in self._decoded.values())


def _entry_of(picture: Picture, data: bytes, name: str) -> PictureEntry:
    return PictureEntry(
        name=name[:200],
        sha256=hashlib.sha256(data).hexdigest(),
        media_type=picture.media_type,
        bytes=len(data),
        width=picture.width,
        height=picture.height,
        encoding=picture.encoding,
        exposure_s=picture.exposure_s,
        f_number=picture.f_number,
        iso=picture.iso,
        simulated=picture.simulated,
        metadata=dict(picture.metadata),
    )


def picture_document(kept: Stored[PictureEntry]) -> JsonObject:
    """A kept picture as it is answered; `read` says whether it was read."""
    return {
        "id": kept.id,
        **kept.thing.model_dump(mode="json", exclude={"reading", "together"}),
        "read": bool(kept.thing.reading),
    }
