"""What a picture file is, from its first bytes, before anything is decoded."""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from typing import Literal

from obverse.capture.exif import SHORT
from obverse.capture.profiles import icc_of_jpeg, unpacked_profile
from obverse.foundation import InputError

READABLE = "give a linear 16-bit TIFF, a camera RAW file, or a JPEG, PNG, HEIC or AVIF picture"

# First bytes of things people do hand over, and what to call them.
_OTHERS = (
    (b"GIF8", 0, "it is a GIF, which holds at most 256 colours and may be animated"),
    (b"BM", 0, "it is a BMP"),
    (b"WEBP", 8, "it is a WebP picture"),
    (b"%PDF", 0, "it is a PDF document"),
    (b"PK\x03\x04", 0, "it is a ZIP archive"),
    (b"\x1f\x8b", 0, "it is a compressed archive"),
    (b"\x00\x00\x00\x0cjP  ", 0, "it is a JPEG 2000 picture"),
    (b"\xff\x0a", 0, "it is a JPEG XL picture"),
    (b"AVI ", 8, "it is a film clip and no picture"),
    (b"\x1a\x45\xdf\xa3", 0, "it is a film clip and no picture"),
    # Brands of ISO/IEC 14496-12 and 14496-14, and of the format that they came from; RAW files have brands of their own.
    *((b"ftyp" + brand, 4, "it is a film clip and no picture") for brand in (b"iso", b"mp4", b"avc1", b"qt  ", b"3gp")),
)


# Brands of ISO/IEC 23008-12 and AV1 Image File Format; "mif1" and "msf1" name the container and leave the coding open.
_HEIC_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx")
_AVIF_BRANDS = (b"avif", b"avis")


def _boxed_kind(head: bytes) -> str:
    """ "heic" or "avif" by the brands in the first box; empty for any other."""
    if head[4:8] != b"ftyp":
        return ""
    length = min(struct.unpack_from(">I", head)[0], len(head))
    brands = [
        head[8:12],
        *(head[k : k + _BRAND_BYTES] for k in range(_FIRST_BRAND, length - _BRAND_BYTES + 1, _BRAND_BYTES)),
    ]
    if any(brand in _AVIF_BRANDS for brand in brands):
        return "avif"
    return "heic" if any(brand in (*_HEIC_BRANDS, b"mif1") for brand in brands) else ""


def kind_of(head: bytes, where: str) -> str:
    """ "jpeg", "png", "tiff", "heic", "avif" or "unknown" (perhaps RAW), from the first bytes.

    Raises
    ------
    InputError
        If it is empty, text, or a kind of file that cannot be used.
    """
    if not head:
        raise InputError("the file is empty", where=where, remedy=READABLE)
    if head.startswith(b"\xff\xd8\xff"):
        return "jpeg"
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "png"
    if head[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return "tiff"
    if boxed := _boxed_kind(head):
        return boxed
    for magic, place, words in _OTHERS:
        if head[place : place + len(magic)] == magic:
            raise InputError(words, where=where, remedy=READABLE)
    if b"\0" not in head and _is_text(head):
        raise InputError("this is text, not a picture", where=where, remedy=READABLE)
    return "unknown"


def _is_text(head: bytes) -> bool:
    try:
        head.decode("utf-8", "strict")
    except UnicodeDecodeError as error:
        return error.start >= len(head) - _LETTER_BYTES and error.start > 0
    return True


_CENTIMETRES_IN_INCH = 2.54  # by definition
# How many of a unit of length make an inch, by the unit's number: in JFIF (ISO/IEC 10918-5), a TIFF and a PNG.
JFIF_UNITS = {1: 1.0, 2: _CENTIMETRES_IN_INCH}
TIFF_UNITS = {2: 1.0, 3: _CENTIMETRES_IN_INCH}
PNG_UNITS = {1: _CENTIMETRES_IN_INCH / 100}
# A second picture in the file says how much each part is to be brightened: by the prefix that names it in the
# description of the picture, or by the name of ISO 21496-1.
_GAIN_MAP, _GAIN_MAP_ISO = b"hdrgm:", b"urn:iso:std:iso:ts:21496:-1"
# Marks of a JPEG (ITU-T T.81, table B.1) that stand alone, frames and the three among them that are none, end, scan, colours, comment;
# and the bytes of a frame's head.
_TEM, _FIRST_RST, _LAST_RST, _END, SCAN, COLOURS, COMMENT = 0x01, 0xD0, 0xD7, 0xD9, 0xDA, 0xE2, 0xFE
_FIRST_FRAME, _LAST_FRAME, _NO_FRAMES, _FRAME_BYTES = 0xC0, 0xCF, (0xC4, 0xC8, 0xCC), 6
# Bytes of a PNG chunk without its body, of a gamma, of a brand of a box and where the first lies, and of one letter at the most.
CHUNK_BYTES, _GAMMA_BYTES, _BRAND_BYTES, _FIRST_BRAND, _LETTER_BYTES = 12, 4, 4, 16, 4
# Where a TIFF tells its first directory, in the form of large files and in the usual one.
_FIRST_OF_BIG, _FIRST_OF_USUAL = 8, 4
APP1 = 0xE1  # the segment of a JPEG that holds descriptions
_APP0 = 0xE0  # the segment of a JPEG that tells its grain
_JFIF, _PHYSICAL = struct.Struct(">7sBH"), struct.Struct(">IIB")


@dataclass(frozen=True)
class JpegHeader:
    """What the segments of a JPEG say."""

    width: int
    height: int
    components: int
    precision: int
    exif: bytes = b""
    comments: tuple[bytes, ...] = ()
    passes: int = 1
    profile: bytes = b""
    dots_per_inch: float | None = None
    gain_map: bool = False


def read_jpeg_header(data: bytes, where: str) -> JpegHeader:
    """Walk the segments up to the image data.

    Raises
    ------
    InputError
        If the file ends before the picture does, or has no frame.
    """
    place, exif, passes = 2, b"", 0
    frame: tuple[int, int, int, int] | None = None
    comments: list[bytes] = []
    profile: list[bytes] = []
    dots: float | None = None
    gain_map = False
    while True:
        if place + 4 > len(data):
            raise _cut(where)
        if data[place] != 0xFF:
            raise InputError("the JPEG is damaged", where=where, remedy="save or copy the picture again")
        marker = data[place + 1]
        if marker == 0xFF:
            place += 1
            continue
        if marker == _TEM or _FIRST_RST <= marker <= _LAST_RST:
            place += 2
            continue
        if marker == _END:
            break
        (length,) = struct.unpack_from(">H", data, place + 2)
        body = data[place + 4 : place + 2 + length]
        if _FIRST_FRAME <= marker <= _LAST_FRAME and marker not in _NO_FRAMES and len(body) >= _FRAME_BYTES:
            precision, height, width, components = struct.unpack_from(">BHHB", body)
            frame = (width, height, components, precision)
        elif marker == _APP0 and body.startswith(b"JFIF\0") and len(body) >= _JFIF.size:
            _, unit, number = _JFIF.unpack_from(body)
            dots = JFIF_UNITS.get(unit, 0.0) * number or None
        elif marker == APP1 and body.startswith(b"Exif\0\0"):
            exif = exif or bytes(body[6:])
        elif marker == APP1:
            gain_map |= _GAIN_MAP in bytes(body)
        elif marker == COLOURS:
            gain_map |= body.startswith(_GAIN_MAP_ISO)
            profile.append(bytes(body))
        elif marker == COMMENT:
            comments.append(bytes(body))
        if marker == SCAN:
            # Entropy-coded data holds no bare end mark, so the end of the file must show one.
            if data.rfind(b"\xff\xd9", place) < 0:
                raise _cut(where)
            # Nor does it hold the mark of a further pass.
            passes = data.count(b"\xff\xda", place)
            break
        place += 2 + length
    if frame is None:
        raise InputError("the JPEG holds no picture", where=where, remedy=READABLE)
    width, height, components, precision = frame
    return JpegHeader(
        width,
        height,
        components,
        precision,
        exif=exif,
        comments=tuple(comments),
        passes=passes,
        profile=icc_of_jpeg(profile),
        dots_per_inch=dots,
        gain_map=gain_map,
    )


@dataclass(frozen=True)
class PngHeader:
    """What the chunks of a PNG say; `needed` is the file with nothing but the picture in it."""

    width: int
    height: int
    bits: int
    colour: int
    gamma: float | None
    exif: bytes
    comments: tuple[bytes, ...]
    profile: bytes = b""
    srgb: bool = False
    dots_per_inch: float | None = None
    needed: bytes = field(repr=False, default=b"")


def read_png_header(data: bytes, where: str) -> PngHeader:
    """Walk all chunks; compressed text is never unpacked, a profile only up to a bound.

    Raises
    ------
    InputError
        If the file ends too soon, or is animated.
    """
    place, exif = 8, b""
    header: tuple[int, int, int, int] | None = None
    gamma: float | None = None
    comments: list[bytes] = []
    profile, srgb = b"", False
    dots: float | None = None
    needed = [bytes(data[:8])]
    while True:
        if place + 12 > len(data):
            raise _cut(where)
        length, kind = struct.unpack_from(">I4s", data, place)
        end = place + CHUNK_BYTES + length
        if end > len(data):
            raise _cut(where)
        body = data[place + 8 : place + 8 + length]
        if kind == b"IHDR":
            if header is not None:  # a decoder believes the first, and the size would be checked by the last
                raise InputError("the PNG is damaged", where=where, remedy="save or copy the picture again")
            header = struct.unpack_from(">IIBB", body)
        elif kind == b"acTL":
            raise InputError("the PNG is animated", where=where, remedy="give a single picture")
        elif kind == b"gAMA" and length == _GAMMA_BYTES:
            gamma = struct.unpack(">I", body)[0] / 100000
        elif kind == b"pHYs" and length == _PHYSICAL.size:
            number, _, unit = _PHYSICAL.unpack(body)
            dots = number * PNG_UNITS.get(unit, 0.0) or None
        elif kind == b"sRGB":
            srgb = True
        elif kind == b"iCCP":
            profile = unpacked_profile(body)
        elif kind == b"eXIf":
            exif = bytes(body)
        elif kind == b"tEXt":
            comments.append(bytes(body[:2000]))
        if kind in (b"IHDR", b"PLTE", b"IDAT", b"IEND"):
            needed.append(bytes(data[place:end]))
        if kind == b"IEND":
            break
        place = end
    if header is None:
        raise InputError("the PNG is damaged", where=where, remedy="save or copy the picture again")
    width, height, bits, colour = header
    return PngHeader(
        width,
        height,
        bits,
        colour,
        gamma=gamma,
        exif=exif,
        comments=tuple(comments),
        profile=profile,
        srgb=srgb,
        dots_per_inch=dots,
        needed=b"".join(needed),
    )


# A roll in one file has fewer; a file that says more is made to tire its reader.
MOST_DIRECTORIES = 100
_MOST_ENTRIES = 4096
_MOST_NUMBERS = 1_000_000  # in one entry; the tiles of the largest picture are fewer
_PHOTOMETRIC, _SUB_DIRECTORIES = 262, 330
_VALUE_BYTES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4, 16: 8, 17: 8, 18: 8}
_OFFSETS = {4: "I", 13: "I", 16: "Q", 18: "Q"}  # kinds of entry that may hold places in the file


@dataclass(frozen=True)
class TiffDirectory:
    """What one image directory of a TIFF says of itself."""

    offset: int
    photometric: int | None
    bears: bool
    """False where an entry claims more than the file holds, or more numbers than any picture needs."""


def read_tiff_directories(data: bytes | memoryview, where: str) -> tuple[TiffDirectory, ...]:
    """Walk the image directories and their sub-directories, each once, before a decoder follows them.

    Parameters
    ----------
    data : bytes or memoryview
        The whole file; a mapped one is read only where its directories stand.

    Raises
    ------
    InputError
        If a directory leads back to one that was read already, or there are more than `MOST_DIRECTORIES`.
    struct.error
        If the first directory is cut off.
    """
    order = "<" if bytes(data[:2]) == b"II" else ">"
    big = bytes(data[2:4]) in (b"+\0", b"\0+")
    count, entry, offset = ("Q", "HHQ8s", "Q") if big else ("H", "HHI4s", "I")
    (first,) = struct.unpack_from(order + offset, data, _FIRST_OF_BIG if big else _FIRST_OF_USUAL)
    waiting: list[tuple[int, bool]] = [(first, True)]
    seen: set[int] = set()
    found: list[TiffDirectory] = []
    while waiting:
        place, in_chain = waiting.pop()
        if place == 0 or (found and place >= len(data)):
            continue
        if place in seen:
            raise InputError(
                "the TIFF file is damaged: an image directory leads back to itself", where=where, remedy="copy it again"
            )
        if len(found) == MOST_DIRECTORIES:
            raise InputError(
                f"the TIFF holds more than {MOST_DIRECTORIES} image directories",
                where=where,
                remedy="save the picture to be read by itself",
            )
        seen.add(place)
        try:
            directory, below, after = _tiff_directory(data, place, order, count, entry)
            following = struct.unpack_from(order + offset, data, after)[0] if in_chain else 0
        except struct.error:
            if not found:
                raise
            continue  # a later directory is cut off; what stands before it may still be whole
        found.append(directory)
        waiting.append((following, in_chain))
        waiting += [(sub, False) for sub in below]
    return tuple(found)


def _tiff_directory(
    data: bytes | memoryview, place: int, order: str, count: str, entry: str
) -> tuple[TiffDirectory, tuple[int, ...], int]:
    """A directory, the places of those below it, and where the place of the next one stands."""
    (entries,) = struct.unpack_from(order + count, data, place)
    if entries > _MOST_ENTRIES:
        raise struct.error("more entries than any directory has")
    start, size = place + struct.calcsize(order + count), struct.calcsize(order + entry)
    photometric: int | None = None
    below: tuple[int, ...] = ()
    bears = True
    for k in range(entries):
        tag, kind, number, value = struct.unpack_from(order + entry, data, start + k * size)
        width = _VALUE_BYTES.get(kind, 1)
        inline = number * width <= len(value)
        at = start + (k + 1) * size - len(value) if inline else int.from_bytes(value, _ENDIAN[order])
        fits = at + number * width <= len(data) and (width == 1 or number <= _MOST_NUMBERS)
        bears = bears and fits
        if tag == _PHOTOMETRIC and kind == SHORT and number >= 1 and fits:
            (photometric,) = struct.unpack_from(order + "H", data, at)
        elif tag == _SUB_DIRECTORIES and kind in _OFFSETS and fits:
            # One more than is allowed is enough to be told so.
            some = min(number, MOST_DIRECTORIES + 1)
            below = struct.unpack_from(f"{order}{some}{_OFFSETS[kind]}", data, at)
    return TiffDirectory(place, photometric, bears), below, start + entries * size


_ENDIAN: dict[str, Literal["little", "big"]] = {"<": "little", ">": "big"}


def _cut(where: str) -> InputError:
    return InputError("the file ends before the picture does", where=where, remedy="copy it from the camera again")
