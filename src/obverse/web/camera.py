"""The picture page of the light table: drop pictures, see what is found, put the corners right."""

from __future__ import annotations

import io
import threading
import uuid
import zipfile
from collections import OrderedDict
from typing import Annotated

from fastapi import APIRouter, File, Query, Request, Response, UploadFile
from fastapi.responses import HTMLResponse
from pydantic import Field

from obverse.foundation import Document, InputError, JsonObject, NotFoundError, ObverseError
from obverse.web.entries import EntryRoute
from obverse.web.failures import problem_of
from obverse.web.pages import page
from obverse.workbench.camera import Camera, picture_document
from obverse.workbench.strip_files import ReadAsked

router = APIRouter(route_class=EntryRoute)

# Readings that are remembered for their pages; the oldest go.
_MOST_JOBS = 40
# The first day that a zip archive can name.
_NO_DATE = (1980, 1, 1, 0, 0, 0)
Point = tuple[float, float]


class ReadPictures(Document):
    """What to read."""

    pictures: Annotated[tuple[str, ...], Field(min_length=1, max_length=12)]
    patches: int = Field(ge=1, le=200)
    corners: tuple[Point, Point, Point, Point] | None = None
    dividers: Annotated[tuple[Annotated[float, Field(ge=-2, le=3)], ...], Field(max_length=201)] | None = None
    shift: int = Field(default=0, ge=-200, le=200)
    other: int = Field(default=0, ge=0, le=20, description="take that one of the other placings of a reading, from 1")
    accept: bool = False
    stops: float | None = Field(
        default=None, gt=0, le=6, description="between neighbours of a bracket that states no shutter times"
    )
    panel: str = Field(default="", max_length=120)
    calibrated: bool = True


class Tablet(Document):
    """The known densities of a step tablet that was read."""

    picture: str = Field(max_length=120)
    densities: Annotated[tuple[Annotated[float, Field(ge=0, le=6)], ...], Field(min_length=4, max_length=200)]
    revision: int | None = Field(default=None, ge=0, description="of the calibration that was seen; 0 where none was")


class Simulated(Document):
    """Which invented strip to compute."""

    seed: int = Field(default=1, ge=0, le=10_000)


class _Job:
    """One reading under way; read by the page, written by one thread."""

    def __init__(self) -> None:
        self.share, self.words = 0.0, "waiting"
        self.result: JsonObject | None = None
        self.error: ObverseError | None = None

    def tell(self, share: float, words: str) -> None:
        """How far it is."""
        self.share, self.words = share, words


class _Room:
    """The camera and its jobs, one for each application."""

    def __init__(self, camera: Camera):
        self.camera = camera
        self.jobs: OrderedDict[str, _Job] = OrderedDict()
        # One reading at a time: a laptop has no memory for more.
        self.one = threading.Lock()

    def begin(self, body: ReadPictures) -> str:
        """Start reading; returns the name of the job."""
        job, name = _Job(), uuid.uuid4().hex
        self.jobs[name] = job
        while len(self.jobs) > _MOST_JOBS:
            self.jobs.popitem(last=False)
        threading.Thread(target=self._work, args=(job, body), daemon=True).start()
        return name

    def _work(self, job: _Job, body: ReadPictures) -> None:
        try:
            with self.one:
                job.result = self.camera.read(
                    body.pictures,
                    ReadAsked(
                        body.patches, body.corners, body.dividers, body.shift, body.other, body.accept, body.stops
                    ),
                    panel=body.panel,
                    calibrated=body.calibrated,
                    progress=job.tell,
                ).document()
        except ObverseError as error:
            job.error = error
        except MemoryError:
            job.error = InputError("the computer has too little memory for these pictures", remedy="give smaller ones")
        except Exception:
            job.error = InputError(
                "the picture could not be read because of a mistake in this program",
                remedy="try other corners, and report it",
            )
            raise


_making = threading.Lock()


def _room(request: Request) -> _Room:
    state = request.app.state
    with _making:
        if not hasattr(state, "camera_room"):
            state.camera_room = _Room(state.workbench.camera)
        room: _Room = state.camera_room
    return room


@router.get("/light-table/picture", response_class=HTMLResponse, include_in_schema=False)
def picture_page(
    request: Request, picture: str = "", patches: Annotated[int | None, Query(ge=1, le=200)] = None
) -> HTMLResponse:
    """Drop pictures here; `patches` is how many were asked for elsewhere."""
    room = _room(request)
    kept = room.camera.picture(picture) if picture else None
    opened = (
        {
            "pictures": [kept.id, *kept.thing.together],
            "reading": kept.thing.reading,
            "patches": patches,
            "known": _of(room, [kept.id, *kept.thing.together]),
        }
        if kept
        else None
    )
    return page(
        request,
        "light_table/picture.html",
        recent=[picture_document(one) for one in room.camera.recent()],
        opened=opened,
        calibration=room.camera.calibration(),
        calibration_revision=room.camera.calibration_revision(),
        shot_lists=[
            {"name": one.thing.name, "log_exposure": [shot.log_exposure for shot in one.thing.shots]}
            for one in request.app.state.workbench.light_table.shot_lists()[:12]
        ],
    )


def _of(room: _Room, ids: list[str]) -> list[JsonObject]:
    return [
        {"id": id, **room.camera.picture(id).thing.model_dump(mode="json", exclude={"reading", "together"})}
        for id in ids
    ]


@router.get("/light-table/live", response_class=HTMLResponse, include_in_schema=False)
def live_page(request: Request) -> HTMLResponse:
    """The camera of the device that looks at this page."""
    return page(request, "light_table/live.html")


@router.post("/api/light-table/frames/look")
def look(
    request: Request,
    files: Annotated[list[UploadFile], File(max_length=1)],
    patches: Annotated[int, Query(ge=1, le=200)],
) -> JsonObject:
    """Where the strip lies in one frame of a live picture; nothing is kept."""
    return _room(request).camera.look(files[0].file.read(), patches)


@router.post("/api/light-table/frames")
def add_frames(
    request: Request,
    files: Annotated[list[UploadFile], File(max_length=1)],
    width: Annotated[int, Query(ge=24, le=16_000)],
    height: Annotated[int, Query(ge=24, le=16_000)],
    exposure_s: Annotated[float | None, Query(gt=0, le=600)] = None,
) -> JsonObject:
    """Keep the mean of several frames: 16-bit codes, red, green, blue, the low byte first."""
    return picture_document(_room(request).camera.add_frames(files[0].file.read(), width, height, exposure_s))


@router.post("/api/light-table/pictures")
def add_pictures(request: Request, files: Annotated[list[UploadFile], File()]) -> JsonObject:
    """Keep pictures; each either gets an id or one sentence about why not."""
    given = [
        (upload.file.read(), (upload.filename or "picture").replace("\\", "/").rsplit("/", 1)[-1]) for upload in files
    ]
    kept, refused = _room(request).camera.add_all(given)
    return {
        "pictures": [picture_document(one) for one in kept],
        "refused": [problem_of(request, error) for error in refused],
    }


@router.post("/api/light-table/pictures/simulated")
def add_simulated(request: Request, body: Simulated) -> JsonObject:
    """A computed bracket of an invented strip."""
    kept = _room(request).camera.add_simulated(body.seed)
    return {"pictures": [picture_document(one) for one in kept], "refused": []}


@router.get("/api/light-table/pictures/{id}/view.jpg", response_class=Response)
def view(request: Request, id: str, longest: Annotated[int, Query(ge=64, le=1600)] = 1600) -> Response:
    """The picture for the eye, no larger than `longest` pixels."""
    return Response(
        _room(request).camera.view(id, longest),
        media_type="image/jpeg",
        headers={"Cache-Control": "private, max-age=3600"},
    )


@router.get("/api/light-table/pictures/{id}/report")
def report(request: Request, id: str, patches: Annotated[int | None, Query(ge=1, le=200)] = None) -> JsonObject:
    """What a report of a reading, or of pictures that could not be read, would hold, and what is left out of it."""
    packed = _room(request).camera.report(id, patches)
    return {
        "files": [{"name": name, "bytes": len(data)} for name, data in packed.files.items()],
        "left_out": list(packed.left_out),
    }


@router.get("/api/light-table/pictures/{id}/report.zip", response_class=Response)
def report_archive(request: Request, id: str, patches: Annotated[int | None, Query(ge=1, le=200)] = None) -> Response:
    """The report as one file, to be handed over by the person; nothing is sent from here."""
    packed = _room(request).camera.report(id, patches)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in packed.files.items():
            # A fixed date: when the strip was read is nobody's business.
            archive.writestr(zipfile.ZipInfo(f"strip-report/{name}", _NO_DATE), data)
    return Response(
        out.getvalue(),
        media_type="application/zip",
        headers={"Content-Disposition": 'attachment; filename="strip-report.zip"'},
    )


@router.post("/api/light-table/pictures/read")
def read(request: Request, body: ReadPictures) -> JsonObject:
    """Begin to read; ask for the job until it is done."""
    return {"job": _room(request).begin(body)}


@router.get("/api/light-table/pictures/jobs/{name}")
def job(request: Request, name: str) -> JsonObject:
    """How far a reading is, and its result."""
    found = _room(request).jobs.get(name)
    if found is None:
        raise NotFoundError("this reading is no longer under way", where="reading", remedy="read the picture again")
    if found.error is not None:
        raise found.error
    return {"share": found.share, "words": found.words, "done": found.result is not None, "reading": found.result}


@router.post("/api/light-table/pictures/calibration")
def calibrate(request: Request, body: Tablet) -> JsonObject:
    """Take the reading of a step tablet as the calibration of this set-up."""
    camera = _room(request).camera
    made = camera.calibrate(body.picture, body.densities, expected_revision=body.revision)
    return {"calibration": made, "revision": camera.calibration_revision()}


@router.delete("/api/light-table/pictures/calibration")
def forget_calibration(request: Request, revision: Annotated[int | None, Query(ge=0)] = None) -> JsonObject:
    """Go back to camera density; `revision` is the one of the calibration that was seen."""
    _room(request).camera.forget_calibration(expected_revision=revision)
    return {"calibration": None}
