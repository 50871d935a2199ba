"""Load a picture: its kind from its first bytes, its size from its header, only then its pixels."""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import tifffile
from numpy.typing import NDArray

from obverse.capture.exif import Exposure, read_exif
from obverse.capture.headers import (
    READABLE,
    TIFF_UNITS,
    kind_of,
    read_jpeg_header,
    read_png_header,
    read_tiff_directories,
)
from obverse.capture.modern import Decoded, decode_avif, decode_heic, size_of
from obverse.capture.profiles import gamma_table, icc_table, is_high_range, transfer_table
from obverse.capture.saving import SIMULATED
from obverse.foundation import Caution, InputError, Level, TooLargeError
from obverse.imaging import RAW, Picture, srgb_table
from obverse.reference import number

# Exif (CIPA DC-008-2012, 4.6.4): orientations that lie, whose rows and whose columns run backwards.
_LYING, _UPSIDE_DOWN, _SIDES_CHANGED = (5, 6, 7, 8), (3, 4, 7, 8), (2, 3, 6, 7)
# Gammas that a PNG may state and a curve can have; the last code by the kind of number; channels of colour; bits of a deep picture.
_LEAST_GAMMA, _MOST_GAMMA = 0.2, 1.2
_SATURATION = {"uint8": 255.0, "uint16": 65535.0}
_CHANNELS, _SIXTEEN = 3, 16
MOST_SIDE = 20_000  # pixels
# Of a picture that is unpacked with two bytes to a channel; and of one that takes no more room: of one byte, or left in its file.
MOST_PIXELS, MOST_PIXELS_OF_A_LIGHT_ONE = 120_000_000, 210_000_000
MOST_BYTES = 6 * MOST_PIXELS_OF_A_LIGHT_ONE + 40_000_000  # 16 bits of three colours, and what goes with them
# A picture in passes has about ten; each further one costs the time of the whole picture and hardly a byte.
MOST_PASSES = 64
# What a byte can hold at the very most: one block of 8 x 8 per bit; deflate's own bound; one site per bit.
_JPEG_PIXELS_PER_BYTE, _DEFLATE_BYTES_PER_BYTE, _RAW_SITES_PER_BYTE = 8 * 64, 1032, 8
# The newer coders have no such bound: one byte may stand for a whole block of sky. A photograph at the poorest quality
# has a byte for some fifty pixels; what states more than this is a flat sheet or a few bytes that ask for a gigabyte.
_MODERN_PIXELS_PER_BYTE = 8000
_HEAD = 4096
_UNPACKED = (1, 5, 8, 32773, 32946)  # plain, LZW, deflate, packed runs, deflate by its older number
_SMALL_TILE = 1024 * 1024  # pixels
_CFA, _LINEAR_RAW, _SEPARATED, _PALETTE, _RGB, _BLACK_IS_ZERO, _WHITE_IS_ZERO = 32803, 34892, 5, 3, 2, 1, 0
_PHOTOMETRIC = 262
_ICC = 34675
_NEARLY_LINEAR = 1e-3
# Cameras write 72 to 350 dots to the inch, whatever they took; film is scanned at 1200 and more.
_SCAN_DOTS_PER_INCH = 600
_RESOLUTION, _RESOLUTION_UNIT, _INCH = 282, 296, 2  # tags of a TIFF, and the unit where it names none
_DEVICE_CLASS = slice(12, 16)  # of an ICC profile (ICC.1:2022, 7.2.7)
# Kinds of second picture in a HEIC or AVIF that say how much each part is to be brightened, in small letters; `tmap` is
# that of ISO 21496-1. They are named among the boxes at the front.
_GAIN_MAPS = (b"hdrgainmap", b"tmap\0")
_GAIN_MAP_WITHIN = 65536  # bytes
_FEWEST_LEVELS = 64  # between black and white of a RAW file


@dataclass(frozen=True)
class _File:
    """The bytes of a picture, or the file that holds them; a large file is mapped where it lies."""

    held: Path | bytes

    def size(self) -> int:
        return len(self.held) if isinstance(self.held, bytes) else self.held.stat().st_size

    def whole(self) -> bytes:
        return self.held if isinstance(self.held, bytes) else self.held.read_bytes()

    def head(self) -> bytes:
        if isinstance(self.held, bytes):
            return self.held[:_HEAD]
        with self.held.open("rb") as file:
            return file.read(_HEAD)

    def mapped(self) -> bytes | memoryview:
        """As much as is asked of it: nothing of a file is read before."""
        if isinstance(self.held, bytes):
            return self.held
        return np.memmap(self.held, dtype=np.uint8, mode="r").data

    def for_decoder(self) -> str | io.BytesIO:
        return io.BytesIO(self.held) if isinstance(self.held, bytes) else str(self.held)


def load_picture(source: str | Path | bytes, *, name: str = "") -> Picture:
    """A picture from a file or from bytes, turned the right way up.

    Parameters
    ----------
    source : path or bytes
    name : str, optional
        What messages call it; the file's name by default.

    Returns
    -------
    Picture
        RAW is linear, and so is a 16-bit TIFF unless a profile in it states a curve; a 16-bit PNG follows the curve
        that it states; other pictures carry the sRGB curve. An uncompressed TIFF file stays mapped on disk.

    Raises
    ------
    InputError
        One sentence for every kind of picture that cannot be used; nothing is decoded before the
        size in the header has been found bearable.
    """
    if isinstance(source, (bytes, bytearray, memoryview)):
        file, name = _File(bytes(source)), name or "picture"
    else:
        path = Path(source)
        file, name = _File(path), name or path.name
        if path.is_dir():
            raise InputError("it is a folder", where=name, remedy="name the pictures in it")
        if not path.is_file():
            raise InputError("there is no such file", where=name, remedy="check the name")
    size = file.size()
    kind = kind_of(file.head(), name)
    if size > MOST_BYTES:
        raise TooLargeError(
            f"the file has {size / 1e6:.0f} MB", where=name, remedy=f"give at most {MOST_BYTES / 1e6:.0f} MB"
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            if kind == "tiff":
                picture = _load_tiff(file, name)
            elif kind == "unknown":
                picture = _load_raw(file, name)
            else:
                file = _File(file.whole())
                picture = _LOADERS[kind](file.whole(), name)
    except (InputError, MemoryError):
        raise
    except Exception as error:  # decoders raise what they like; the person gets one sentence
        raise InputError(
            f"the {kind.upper()} file is damaged and cannot be decoded", where=name, remedy="copy it again"
        ) from error
    return picture


def _bearable(width: int, height: int, name: str, most: int = MOST_PIXELS) -> None:
    if width < 1 or height < 1:
        raise InputError("the picture has no pixels", where=name, remedy=READABLE)
    if max(width, height) > MOST_SIDE or width * height > most:
        raise TooLargeError(
            f"the picture is {width} by {height} pixels",
            where=name,
            remedy=f"give one of at most {MOST_SIDE} pixels a side and {most // 1_000_000} million in all",
        )


def _holds(held: float, width: int, height: int, size: int, name: str) -> None:
    """Refuse a file that states more pixels than its bytes can hold, before room is made for them."""
    if width * height > held:
        raise InputError(
            f"it states {width} by {height} pixels, more than its {size} bytes can hold",
            where=name,
            remedy="copy it from the camera again",
        )


def _turned(codes: np.ndarray, orientation: int) -> np.ndarray:
    """Right way up, by the EXIF orientation; a view, never a copy."""
    if orientation in _LYING:
        codes = codes.swapaxes(0, 1)
    rows = orientation in _UPSIDE_DOWN
    columns = orientation in _SIDES_CHANGED
    return codes[:: -1 if rows else 1, :: -1 if columns else 1]


def _scanned(said: Exposure, dots_per_inch: float | None, profile: bytes = b"") -> bool:
    """Whether a file says that a scanner made it: by its profile's kind of device, or as finely sampled paper or film."""
    fine = said.exposure_s is None and (dots_per_inch or 0.0) >= _SCAN_DOTS_PER_INCH
    return fine or profile[_DEVICE_CLASS] == b"scnr"


def _picture(codes: np.ndarray, said: Exposure, name: str, **more: Any) -> Picture:
    if codes.ndim == 2:
        codes = codes[..., None]
    if codes.shape[2] == 2 or codes.shape[2] == 4:
        codes = codes[..., :-1]
    metadata = {"orientation": said.orientation} | ({"taken_at": said.taken_at} if said.taken_at else {})
    return Picture(
        codes=_turned(codes, said.orientation),
        exposure_s=said.exposure_s,
        f_number=said.f_number,
        iso=said.iso,
        name=name,
        metadata=metadata,
        **more,
    )


def _by_parts(said: Exposure, gain_map: bool, name: str) -> tuple[Caution, ...]:
    """What a file says of having been brightened part by part."""
    if not gain_map and not said.rendered:
        return ()
    words = (
        "The device says that it worked on this picture beyond a tone curve, as telephones do that brighten it part by part; "
        "then no one curve holds, and densities are only rough. Turn that off (often called high dynamic range), or take RAW."
    )
    return (Caution("picture.by_parts", words, Level.CAUTION, where=name),)


def _load_jpeg(data: bytes, name: str) -> Picture:
    header = read_jpeg_header(data, name)
    if header.components == 4:
        raise InputError("the JPEG is CMYK, made for printing", where=name, remedy=READABLE)
    if header.components not in (1, 3) or header.precision != 8:
        raise InputError("the JPEG is of a rare kind", where=name, remedy=READABLE)
    # One that comes in passes is held as it is put together, in twice the room.
    _bearable(header.width, header.height, name, MOST_PIXELS if header.passes > 1 else MOST_PIXELS_OF_A_LIGHT_ONE)
    _holds(len(data) * _JPEG_PIXELS_PER_BYTE, header.width, header.height, len(data), name)
    if header.passes > MOST_PASSES:
        raise InputError(
            f"the JPEG comes in {header.passes} passes", where=name, remedy=f"save it again in at most {MOST_PASSES}"
        )
    said = read_exif(header.exif) if header.exif else Exposure()
    cautions = _by_parts(said, header.gain_map, name)
    if said.colour_space not in (None, 1):
        cautions = (
            *cautions,
            Caution(
                "picture.colour_space",
                "The picture's colour space is not sRGB; densities are less sure.",
                Level.CAUTION,
                where=name,
            ),
        )
    return _picture(
        imagecodecs.jpeg8_decode(data),
        said,
        name,
        encoding="srgb",
        table=icc_table(header.profile, 256) if header.profile else None,
        saturation=255,
        code_sd=number("camera.jpeg_codes"),
        media_type="image/jpeg",
        scanned=_scanned(said, header.dots_per_inch, header.profile),
        simulated=any(SIMULATED.encode() in c for c in header.comments),
        cautions=cautions,
    )


def _load_png(data: bytes, name: str) -> Picture:
    header = read_png_header(data, name)
    if header.bits < 8:
        raise InputError(
            f"the PNG has only {header.bits} bit{'s' if header.bits > 1 else ''} per pixel", where=name, remedy=READABLE
        )
    if header.colour == 3:
        raise InputError("the PNG has a palette of at most 256 colours", where=name, remedy=READABLE)
    _bearable(header.width, header.height, name)
    # Bytes of a pixel are at least one of the eight bits that were asked for above.
    _holds(len(header.needed) * _DEFLATE_BYTES_PER_BYTE, header.width, header.height, len(data), name)
    linear = header.gamma is not None and abs(header.gamma - 1) < 0.01 and not header.srgb
    table = None
    if header.profile:
        table = icc_table(header.profile, 2**header.bits)
    elif header.gamma and not header.srgb and not linear and _LEAST_GAMMA < header.gamma < _MOST_GAMMA:
        table = gamma_table(1 / header.gamma, 2**header.bits)
    # Sixteen bits with a curve stated were written by a program that knew what it wrote; eight bits are made for the eye.
    stated = header.bits == _SIXTEEN and (table is not None or header.srgb)
    said = read_exif(header.exif) if header.exif else Exposure()
    return _picture(
        imagecodecs.png_decode(header.needed),
        said,
        name,
        encoding="linear" if linear else "profile" if stated else "srgb",
        table=None if linear else srgb_table(2**header.bits) if table is None else table,
        saturation=2**header.bits - 1,
        media_type="image/png",
        scanned=_scanned(said, header.dots_per_inch, header.profile),
        simulated=any(SIMULATED.encode() in c for c in header.comments),
    )


def _load_modern(data: bytes, name: str, decode: Callable[[bytes], Decoded]) -> Picture:
    """HEIC or AVIF: a picture for the eye of 8, 10 or 12 bits."""
    width, height = size_of(data, name)
    _bearable(width, height, name)
    _holds(len(data) * _MODERN_PIXELS_PER_BYTE, width, height, len(data), name)
    held = decode(data)
    if not held.profile and is_high_range(held.transfer):
        raise InputError(
            "the picture is of high dynamic range, whose light depends on the screen",
            where=name,
            remedy="turn that off in the camera, or give a camera RAW file or a JPEG",
        )
    said = read_exif(held.exif) if held.exif else Exposure()
    gain_map = any(mark in data[:_GAIN_MAP_WITHIN].lower() for mark in _GAIN_MAPS)
    if held.orientation is not None:
        said = replace(said, orientation=held.orientation)
    levels = int(held.saturation) + 1
    table = icc_table(held.profile, levels) if held.profile else None
    if table is None and held.transfer is not None and not held.profile:
        table = transfer_table(held.transfer, levels)
    return _picture(
        held.codes,
        said,
        name,
        encoding="srgb",
        table=table,
        saturation=held.saturation,
        code_sd=number("camera.jpeg_codes") * held.saturation / 255,
        cautions=_by_parts(said, gain_map, name),
        media_type="image/avif" if decode is decode_avif else "image/heic",
    )


def _load_tiff(file: _File, name: str) -> Picture:
    directories = read_tiff_directories(file.mapped(), name)
    if any(directory.photometric in (_CFA, _LINEAR_RAW) for directory in directories):
        return _load_raw(file, name)
    if not all(directory.bears for directory in directories):
        raise InputError("the TIFF file is damaged: it points beyond its end", where=name, remedy="copy it again")
    with tifffile.TiffFile(file.for_decoder()) as opened:
        # A page or a frame of the library: what both know is all that is asked here.
        pages: list[Any] = list(opened.pages)
        if not pages:
            raise InputError("the TIFF holds no picture", where=name, remedy=READABLE)
        full = [page for page in pages if not page.is_reduced] or pages
        # A scanner puts its preview before the picture and its infrared plane behind it.
        page = max(full, key=lambda one: (one.imagewidth * one.imagelength, one.samplesperpixel))
        _check_tiff(page, name)
        # Other kinds of number, and what is counted from white, are made over.
        as_it_is = page.dtype.name in _SATURATION and _photometric(page) != _WHITE_IS_ZERO
        light = as_it_is and _stays_in_file(page, file)
        _bearable(page.imagewidth, page.imagelength, name, MOST_PIXELS_OF_A_LIGHT_ONE if light else MOST_PIXELS)
        codes = _tiff_codes(page, file, name)
        description = page.description or ""
        profile = page.tags.get(_ICC)
        dots = _dots_per_inch(page)
    saturation = _SATURATION.get(codes.dtype.name, 1.0)
    cautions: tuple[Caution, ...] = ()
    if len(full) > 1:
        which = full.index(page) + 1
        words = f"The file holds {len(full)} pictures; number {which}, {page.imagewidth} by {page.imagelength} pixels, was read."
        cautions = (Caution("picture.pages", words, Level.NOTE, where=name),)
    table = None
    if profile is not None and codes.dtype.kind == "u":
        table = icc_table(bytes(profile.value), int(saturation) + 1)
        if table is None:
            words = "The colour profile in the file states no tone curve of its own; the codes were taken as "
            words += "sRGB." if codes.dtype == np.uint8 else "linear."
            cautions = (*cautions, Caution("picture.profile", words, Level.CAUTION, where=name))
        elif codes.dtype != np.uint8 and float(np.abs(table - np.linspace(0, 1, table.size)).max()) < _NEARLY_LINEAR:
            table = None
    said = read_exif(file.mapped())
    return _picture(
        codes,
        said,
        name,
        encoding="srgb" if codes.dtype == np.uint8 else "linear" if table is None else "profile",
        table=table,
        saturation=saturation,
        media_type="image/tiff",
        scanned=_scanned(said, dots, bytes(profile.value) if profile is not None else b""),
        simulated=SIMULATED in description,
        cautions=cautions,
    )


def _dots_per_inch(page: Any) -> float | None:
    """Of a TIFF page; None where it does not say."""
    value, unit = page.tags.get(_RESOLUTION), page.tags.get(_RESOLUTION_UNIT)
    scale = TIFF_UNITS.get(int(unit.value) if unit is not None else _INCH, 0.0)
    try:
        upper, lower = value.value
        return float(upper) / float(lower) * scale or None
    except (AttributeError, TypeError, ValueError, ZeroDivisionError):
        return None


def _photometric(page: Any) -> int:
    """As the page states it; -1 where it does not: what is white would be guessed then."""
    stated = page.tags.get(_PHOTOMETRIC)
    return -1 if stated is None else int(stated.value)


def _check_tiff(page: Any, name: str) -> None:
    photometric, bits = _photometric(page), page.bitspersample
    if photometric == _SEPARATED:
        raise InputError("the TIFF is CMYK, made for printing", where=name, remedy=READABLE)
    if bits == 1 or (isinstance(bits, tuple) and max(bits) < 8) or (isinstance(bits, int) and bits < 8):
        raise InputError(
            f"the TIFF has only {bits} bit{'s' if bits != 1 else ''} per pixel", where=name, remedy=READABLE
        )
    if photometric == _PALETTE:
        raise InputError("the TIFF has a palette of colours", where=name, remedy=READABLE)
    negative = photometric == _WHITE_IS_ZERO and page.dtype is not None and page.dtype.kind == "u"
    if photometric not in (_RGB, _BLACK_IS_ZERO) and not negative:
        raise InputError("the TIFF stores its colours in a way that is not read here", where=name, remedy=READABLE)
    if page.dtype is None or page.dtype.name not in ("uint8", "uint16", "float64", "float32", "float16"):
        raise InputError("the TIFF has an unusual kind of number for its pixels", where=name, remedy=READABLE)
    if page.samplesperpixel > 4 or page.imagedepth > 1:
        raise InputError("the TIFF has more channels than a picture", where=name, remedy=READABLE)
    if page.compression not in _UNPACKED:
        # Other packings state a size of their own inside, which no header check here sees.
        raise InputError(
            "the TIFF is packed in a way that is not read here", where=name, remedy="save it uncompressed, or with LZW"
        )
    if page.is_tiled and page.tilewidth * page.tilelength > max(_SMALL_TILE, 4 * page.imagewidth * page.imagelength):
        raise InputError("the TIFF file is damaged: its tiles are larger than it", where=name, remedy="copy it again")


def _stays_in_file(page: Any, file: _File) -> bool:
    """Whether the pixels lie in a file as they are, so that it need only be mapped."""
    return isinstance(file.held, Path) and page.is_contiguous and page.compression == 1 and page.fillorder == 1


def _tiff_codes(page: Any, file: _File, name: str) -> np.ndarray:
    start, length = page.dataoffsets[0] if page.dataoffsets else 0, sum(page.databytecounts)
    whole = file.size()
    if not page.dataoffsets or max(o + n for o, n in zip(page.dataoffsets, page.databytecounts, strict=True)) > whole:
        raise InputError("the file ends before the picture does", where=name, remedy="copy it from the camera again")
    if isinstance(file.held, Path) and _stays_in_file(page, file):
        if length < page.nbytes:
            raise InputError(
                "the file ends before the picture does", where=name, remedy="copy it from the camera again"
            )
        dtype = page.parent.byteorder + page.dtype.char
        codes = np.asarray(np.memmap(file.held, dtype=dtype, mode="r", offset=start, shape=page.shape))
    else:
        codes = page.asarray()
    if codes.ndim == 3 and page.planarconfig == 2 and codes.shape[0] <= 4:
        codes = np.moveaxis(codes, 0, -1)
    if codes.dtype.name in ("float16", "float64"):
        codes = codes.astype(np.float32)
    if _photometric(page) == _WHITE_IS_ZERO:
        # Full code is black: the same light, counted from the other end.
        codes = np.iinfo(codes.dtype).max - codes
    if codes.dtype.kind == "f" and not np.isfinite(codes).all():
        raise InputError("the TIFF holds values that are not numbers", where=name, remedy="save it again")
    return codes


def _load_raw(file: _File, name: str) -> Picture:
    import rawpy  # loads a large library; only RAW files need it

    try:
        raw = rawpy.imread(file.for_decoder())
    except rawpy.LibRawError as error:
        raise InputError("it is no kind of picture that can be read here", where=name, remedy=READABLE) from error
    with raw:
        sizes = raw.sizes
        _bearable(sizes.width, sizes.height, name)
        _bearable(sizes.raw_width, sizes.raw_height, name)
        size = file.size()
        _holds(size * _RAW_SITES_PER_BYTE, sizes.raw_width, sizes.raw_height, size, name)
        if raw.raw_type == rawpy.RawType.Stack:
            codes, black, white = _layers(raw)
        else:
            pattern = raw.raw_pattern
            if pattern is not None and pattern.shape == (1, 1):
                codes, black, white = _bare_sites(raw)
            elif pattern is None or pattern.shape != (2, 2) or not set(np.ravel(pattern).tolist()) <= {0, 1, 2, 3}:
                kind = "no pattern" if pattern is None else f"a colour pattern of {len(pattern)} by {len(pattern[0])}"
                raise InputError(
                    f"the sensor of this RAW file has {kind}, and only 2 by 2 is read here",
                    where=name,
                    remedy="convert it to a linear 16-bit TIFF",
                )
            else:
                codes, black, white = _sites(raw, name)
    if white <= max(black) + _FEWEST_LEVELS:
        raise InputError(
            f"the RAW file says that white is {white:.0f} and black {max(black):.0f}, which leaves no light between",
            where=name,
            remedy="convert it to a linear 16-bit TIFF",
        )
    said = read_exif(file.mapped())
    return _picture(
        codes,
        # The raw array of a mosaic is not turned by the reader, so the EXIF orientation holds.
        said,
        name,
        encoding="linear",
        saturation=white,
        black=black,
        media_type=RAW,
    )


def _layers(raw: Any) -> tuple[NDArray[np.uint16], tuple[float, ...], float]:
    """A picture whose colours were made before it was written as RAW: three values, or one, at every pixel."""
    image = raw.raw_image_visible
    channels = _CHANNELS if raw.num_colors >= _CHANNELS else 1
    levels = tuple(float(v) for v in raw.black_level_per_channel[:channels])
    return np.array(image[..., :channels], dtype=np.uint16), levels, float(raw.white_level)


def _bare_sites(raw: Any) -> tuple[NDArray[np.uint16], tuple[float, ...], float]:
    """A sensor without colour filters: one value at every pixel."""
    return (
        np.array(raw.raw_image_visible, dtype=np.uint16),
        (float(raw.black_level_per_channel[0]),),
        float(raw.white_level),
    )


def _sites(raw: Any, name: str) -> tuple[np.ndarray, tuple[float, ...], float]:
    """Red, green and blue at half the size, without interpolation: one value per 2 x 2 cell.

    The two green sites of a cell are averaged; where one is clipped the cell counts as clipped.
    """
    image, colours = raw.raw_image_visible, raw.raw_colors_visible[:2, :2]
    rows, columns = image.shape[0] // 2 * 2, image.shape[1] // 2 * 2
    levels = [float(v) for v in raw.black_level_per_channel]
    letters = raw.color_desc.decode("ascii", "replace")
    sites: dict[str, list[tuple[np.ndarray, float]]] = {"R": [], "G": [], "B": []}
    for r in (0, 1):
        for c in (0, 1):
            index = int(colours[r, c])
            sites.setdefault(letters[index], []).append((image[r:rows:2, c:columns:2], levels[index]))
    if [len(sites[letter]) for letter in "RGB"] != [1, 2, 1]:
        raise InputError(
            "the RAW file names other colours than red, green and blue",
            where=name,
            remedy="convert it to a linear 16-bit TIFF",
        )
    codes = np.empty((rows // 2, columns // 2, _CHANNELS), dtype=np.uint16)
    codes[..., 0], codes[..., 2] = sites["R"][0][0], sites["B"][0][0]
    (first, _), (second, _) = sites["G"]
    white = float(raw.white_level)
    green = ((first.astype(np.uint32) + second + 1) // 2).astype(np.uint16)
    codes[..., 1] = np.where(np.maximum(first, second) >= white, np.maximum(first, second), green)
    black = (sites["R"][0][1], (sites["G"][0][1] + sites["G"][1][1]) / 2, sites["B"][0][1])
    return codes, black, white


_LOADERS: dict[str, Callable[[bytes, str], Picture]] = {
    "jpeg": _load_jpeg,
    "png": _load_png,
    "heic": lambda data, name: _load_modern(data, name, decode_heic),
    "avif": lambda data, name: _load_modern(data, name, decode_avif),
}
