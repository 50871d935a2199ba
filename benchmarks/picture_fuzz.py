"""Mutated picture files, read one by one in child processes under limits of time and memory.

    python -m benchmarks.picture_fuzz [--files 20000] [--kinds tiff,jpeg,png,raw,exif,heic,avif] [--first-seed 0]

Each file comes from its own seed alone, so that any of them can be made again. What an honest picture
takes is measured here on whole files of the same kind; what a file states is read here from its bytes,
without the product's help.
"""

from __future__ import annotations

import argparse
import io
import json
import multiprocessing
import os
import resource
import struct
import sys
import time
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection

import imagecodecs
import numpy as np
import tifffile
from PIL import Image

LIMIT_S = 2.0
LIMIT_TIMES = 4.0
# What the interpreter and the libraries take and give back by themselves from one file to the next.
ALLOWANCE_BYTES = 8_000_000
ADDRESS_SPACE_BYTES = 6_000_000_000
# A child that says nothing for so long is ended; what counts as a hang is its own processor time.
SILENCE_S = 30.0
INTERESTING = (
    0,
    1,
    2,
    3,
    7,
    8,
    16,
    127,
    128,
    255,
    256,
    4096,
    16_000,
    32_767,
    32_768,
    65_535,
    2**31 - 1,
    2**31,
    2**32 - 1,
)


def _grey(height: int = 24, width: int = 32) -> np.ndarray:
    return np.random.default_rng(1).integers(0, 65535, (height, width, 3), dtype=np.uint16)


def _tiff(codes: np.ndarray, **options) -> bytes:
    out = io.BytesIO()
    tifffile.imwrite(out, codes, metadata=None, **options)
    return out.getvalue()


def tiff_seeds() -> list[bytes]:
    """Whole TIFF files of many makes."""
    rgb16, rgb8 = _grey(), (_grey() >> 8).astype(np.uint8)
    exposure = [(0x829A, 5, 1, (1, 60), True)]
    return [
        _tiff(rgb16, photometric="rgb", extratags=exposure),
        _tiff(rgb8, photometric="rgb"),
        _tiff(rgb16[..., 0], photometric="minisblack"),
        _tiff(rgb16, photometric="rgb", byteorder=">"),
        _tiff(rgb16, photometric="rgb", bigtiff=True),
        _tiff(rgb16, photometric="rgb", compression="zlib", predictor=True),
        _tiff(rgb8, photometric="rgb", compression="lzw"),
        _tiff(rgb8, photometric="rgb", compression="packbits"),
        _tiff(rgb16, photometric="rgb", tile=(16, 16)),
        _tiff(rgb16, photometric="rgb", tile=(16, 16), compression="zlib"),
        _tiff(rgb16, photometric="rgb", rowsperstrip=4, compression="zlib"),
        _tiff(np.moveaxis(rgb16, -1, 0), photometric="rgb", planarconfig="separate"),
        _tiff((rgb16 / 65535).astype(np.float32), photometric="rgb"),
        _tiff(np.concatenate([rgb16, rgb16[..., :1]], axis=2), photometric="rgb", extrasamples=["unassalpha"]),
        _tiff(np.stack([rgb16, rgb16]), photometric="rgb"),
        _below(rgb16, {}),
    ]


def _below(codes: np.ndarray, options: dict, **first) -> bytes:
    """A small picture whose directory leads down to that of the true one."""
    out = io.BytesIO()
    with tifffile.TiffWriter(out) as writer:
        writer.write((_grey(6, 8) >> 8).astype(np.uint8), photometric="rgb", subifds=1, metadata=None, **first)
        writer.write(codes, subfiletype=0, metadata=None, **({"photometric": "rgb"} | options))
    return out.getvalue()


def _exif(order: str = "<") -> bytes:
    head = (b"II*\0" if order == "<" else b"MM\0*") + struct.pack(order + "I", 8)
    first = struct.pack(order + "H", 2) + struct.pack(order + "HHIHH", 0x0112, 3, 1, 6, 0)
    first += struct.pack(order + "HHII", 0x8769, 4, 1, 38) + struct.pack(order + "I", 0)
    second = struct.pack(order + "H", 5)
    second += struct.pack(order + "HHII", 0x829A, 5, 1, 104) + struct.pack(order + "HHII", 0x829D, 5, 1, 112)
    second += struct.pack(order + "HHIHH", 0x8827, 3, 1, 100, 0) + struct.pack(order + "HHII", 0x9003, 2, 20, 120)
    second += struct.pack(order + "HHIHH", 0xA001, 3, 1, 1, 0) + struct.pack(order + "I", 0)
    return head + first + second + struct.pack(order + "IIII", 1, 60, 56, 10) + b"2031:11:05 19:00:00\0"


def _with_exif(jpeg: bytes, exif: bytes) -> bytes:
    body = b"Exif\0\0" + exif
    return jpeg[:2] + struct.pack(">BBH", 0xFF, 0xE1, len(body) + 2) + body + jpeg[2:]


def _in_passes(codes: np.ndarray) -> bytes:
    out = io.BytesIO()
    Image.fromarray(codes).save(out, "JPEG", progressive=True)
    return out.getvalue()


def jpeg_seeds() -> list[bytes]:
    """Whole JPEG files: colour, grey, thinned colour, in several passes."""
    codes = (_grey() >> 8).astype(np.uint8)
    encode = imagecodecs.jpeg8_encode
    return [
        encode(codes, level=90),
        encode(np.ascontiguousarray(codes[..., 0]), level=90),
        encode(codes, level=80, subsampling="420"),
        encode(codes, level=80, subsampling="422", optimize=True),
        _in_passes(codes),
        _with_exif(encode(codes, level=90), _exif()),
        _with_exif(_in_passes(codes), _exif(">")),
    ]


def png_chunk(kind: bytes, body: bytes) -> bytes:
    """A chunk with its true check sum."""
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png_seeds() -> list[bytes]:
    """Whole PNG files: 8 and 16 bit, grey and colour, with exposure, interlaced."""
    codes = _grey()
    eight = (codes >> 8).astype(np.uint8)
    plain = imagecodecs.png_encode(eight)
    alpha = np.concatenate([eight, eight[..., :1]], axis=2)
    rows = b"".join(b"\0" + eight[:1, :1].tobytes() for _ in range(1))
    interlaced = struct.pack(">IIBBBBB", 1, 1, 8, 2, 0, 0, 1)
    return [
        plain,
        imagecodecs.png_encode(codes),
        imagecodecs.png_encode(np.ascontiguousarray(codes[..., 0])),
        imagecodecs.png_encode(np.ascontiguousarray(eight[..., 0])),
        imagecodecs.png_encode(alpha),
        plain[:33] + png_chunk(b"eXIf", _exif()) + png_chunk(b"gAMA", struct.pack(">I", 100_000)) + plain[33:],
        plain[:33]
        + png_chunk(b"tEXt", b"Comment\0a strip")
        + png_chunk(b"zTXt", b"x\0\0" + zlib.compress(b"y" * 99))
        + plain[33:],
        plain[:8] + png_chunk(b"IHDR", interlaced) + png_chunk(b"IDAT", zlib.compress(rows)) + png_chunk(b"IEND", b""),
    ]


def raw_seeds() -> list[bytes]:
    """Whole mosaic files of an invented camera, plain and packed without loss, also below a small picture."""
    mosaic = (_grey(48, 64)[..., 0] >> 2).astype(np.uint16)
    tags = [
        (50706, 1, 4, (1, 4, 0, 0), True),
        (50707, 1, 4, (1, 1, 0, 0), True),
        (50708, 2, None, "invented camera", True),
        (33421, 3, 2, (2, 2), True),
        (33422, 1, 4, (0, 1, 1, 2), True),
        (50710, 1, 3, (0, 1, 2), True),
        (50711, 3, 1, 1, True),
        (50713, 3, 2, (1, 1), True),
        (50714, 3, 1, 512, True),
        (50717, 3, 1, 16383, True),
        (50721, 10, 9, (1, 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 0, 1, 0, 1, 1, 1), True),
        (50728, 5, 3, (1, 1, 1, 1, 1, 1), True),
        (50778, 3, 1, 21, True),
        (0x829A, 5, 1, (1, 60), True),
        (0x0112, 3, 1, 1, True),
    ]
    packed = imagecodecs.ljpeg_encode(mosaic, bitspersample=14)
    out = io.BytesIO()
    tifffile.imwrite(
        out, iter([packed]), shape=mosaic.shape, dtype=np.uint16, photometric=32803, compression=7,
        metadata=None, extratags=tags, rowsperstrip=mosaic.shape[0],
    )  # fmt: skip
    return [
        _tiff(mosaic, photometric=32803, extratags=tags),
        _tiff(mosaic, photometric=32803, extratags=tags, byteorder=">"),
        _tiff(mosaic, photometric=32803, extratags=tags, rowsperstrip=8),
        out.getvalue(),
        _below(mosaic, {"photometric": 32803, "extratags": tags}, subfiletype=1, extratags=tags[:3]),
    ]


def _heic(codes: np.ndarray, **more: object) -> bytes:
    import pillow_heif

    out = io.BytesIO()
    pillow_heif.from_bytes("RGB", (codes.shape[1], codes.shape[0]), codes.tobytes()).save(out, quality=60, **more)
    return out.getvalue()


def heic_seeds() -> list[bytes]:
    """Whole HEIC files: plain, with exposure, two pictures in one file."""
    import pillow_heif

    codes = (_grey() >> 8).astype(np.uint8)
    two = pillow_heif.HeifFile()
    for one in (codes, codes[::2, ::2]):
        one = np.ascontiguousarray(one)
        two.add_frombytes("RGB", (one.shape[1], one.shape[0]), one.tobytes())
    out = io.BytesIO()
    two.save(out, quality=60)
    return [_heic(codes), _heic(codes, exif=b"Exif\0\0" + _exif()), out.getvalue()]


def avif_seeds() -> list[bytes]:
    """Whole AVIF files: 8 and 10 bit, colour and grey."""
    codes = (_grey() >> 8).astype(np.uint8)
    return [
        imagecodecs.avif_encode(codes, level=80, speed=9),
        imagecodecs.avif_encode(np.ascontiguousarray(codes[..., 0]), level=80, speed=9),
        imagecodecs.avif_encode((_grey() >> 6).astype(np.uint16), level=80, speed=9, bitspersample=10),
    ]


SEEDS: dict[str, Callable[[], list[bytes]]] = {
    "tiff": tiff_seeds,
    "jpeg": jpeg_seeds,
    "png": png_seeds,
    "raw": raw_seeds,
    "exif": lambda: [_exif(), _exif(">")],
    "heic": heic_seeds,
    "avif": avif_seeds,
}


def mutate(kind: str, seed: int, seeds: list[bytes]) -> bytes:
    """The mutated file of that number."""
    rng = np.random.default_rng([seed, list(SEEDS).index(kind)])
    data = bytearray(seeds[int(rng.integers(len(seeds)))])
    for _ in range(int(rng.choice([1, 1, 1, 2, 3, 6, 12]))):
        data = _changed(kind, data, rng, seeds)
    if kind == "png" and rng.random() < 0.8:
        data = _true_sums(data)
    if kind == "exif":
        picture = imagecodecs.jpeg8_encode((_grey() >> 8).astype(np.uint8), level=60)
        return _with_exif(picture, bytes(data[:60_000]))
    return bytes(data)


def _changed(kind: str, data: bytearray, rng: np.random.Generator, seeds: list[bytes]) -> bytearray:
    if len(data) < 16:
        return data
    # Most of what a reader believes stands in the first few hundred bytes, or in the last.
    place = int(rng.integers(min(len(data), 600))) if rng.random() < 0.7 else int(rng.integers(len(data)))
    choice = int(rng.integers(9))
    if choice == 0:
        data[place] ^= 1 << int(rng.integers(8))
    elif choice == 1:
        data[place] = int(rng.integers(256))
    elif choice == 2:
        value = int(rng.choice((*INTERESTING, len(data), place)))
        width = int(rng.choice([1, 2, 4, 8]))
        piece = (value % 2 ** (8 * width)).to_bytes(width, "little" if rng.random() < 0.5 else "big")
        data[place : place + width] = piece
    elif choice == 3:
        del data[place : place + int(rng.integers(1, 40))]
    elif choice == 4:
        span = data[place : place + int(rng.integers(1, 200))]
        data[place:place] = span * int(rng.integers(1, 4))
    elif choice == 5:
        other = seeds[int(rng.integers(len(seeds)))]
        start = int(rng.integers(len(other)))
        data[place:place] = other[start : start + int(rng.integers(1, 300))]
    elif choice == 6:
        del data[place + 8 :]
    else:
        _STRUCTURED[kind](data, rng)
    return data


def _tiff_entry(data: bytearray, rng: np.random.Generator) -> None:
    """One entry of the first directory gets another tag, kind, count or value."""
    order = "<" if data[:2] == b"II" else ">"
    big = 43 in (data[2], data[3])
    (place,) = struct.unpack_from(order + ("Q" if big else "I"), data, 8 if big else 4)
    if place + 2 > len(data):
        return
    entries = struct.unpack_from(order + "H", data, place)[0]
    start, size, wide = place + (8 if big else 2), 20 if big else 12, "Q" if big else "I"
    at = start + size * int(rng.integers(max(1, min(entries, 40))))
    if at + size > len(data):
        return
    part = int(rng.integers(4))
    value = int(rng.choice((*INTERESTING, len(data), place, 8, 330, 273, 324, 259, 322, 32803)))
    if part == 0:
        struct.pack_into(order + "H", data, at, int(rng.choice([254, 256, 257, 258, 259, 262, 273, 277, 278, 279, 284, 317, 322, 323, 324, 325, 330, 339, 34665, value % 65536])))  # fmt: skip
    elif part == 1:
        struct.pack_into(order + "H", data, at + 2, int(rng.integers(20)))
    elif part == 2:
        struct.pack_into(order + wide, data, at + 4, value)
    elif rng.random() < 0.5:
        struct.pack_into(order + wide, data, at + size // 2 + 2, value)
    else:
        struct.pack_into(order + "H", data, at + size // 2 + 2, value % 65536)


def _jpeg_segment(data: bytearray, rng: np.random.Generator) -> None:
    """A segment gets another length or mark, stands twice, or is moved; or the frame another size."""
    marks = [k for k in range(2, len(data) - 4) if data[k] == 0xFF and data[k + 1] not in (0, 0xFF)]
    if not marks:
        return
    at = int(rng.choice(marks))
    part = int(rng.integers(5))
    (length,) = struct.unpack_from(">H", data, at + 2)
    if part == 0:
        struct.pack_into(">H", data, at + 2, int(rng.choice(INTERESTING)) % 65536)
    elif part == 1:
        data[at + 1] = int(
            rng.choice([0xC0, 0xC1, 0xC2, 0xC3, 0xC4, 0xC9, 0xCA, 0xD0, 0xD8, 0xD9, 0xDA, 0xDB, 0xDD, 0xE1, 0xFE])
        )
    elif part == 2:
        data[at:at] = data[at : at + 2 + length] * int(rng.integers(1, 60))
    elif part == 3:
        span = data[at : at + 2 + length]
        del data[at : at + 2 + length]
        to = int(rng.integers(2, max(3, len(data))))
        data[to:to] = span
    else:
        frames = [k for k in marks if data[k + 1] in (0xC0, 0xC2) and k + 10 < len(data)]
        if frames:
            sides = [int(rng.choice([1, 8, 999, 5000, 16_000, 65_535])) for _ in range(2)]
            struct.pack_into(">HH", data, frames[0] + 5, *sides)


def _png_part(data: bytearray, rng: np.random.Generator) -> None:
    """A chunk stands twice, is moved or renamed; or the head states another size or depth."""
    places, at = [], 8
    while at + 12 <= len(data) and len(places) < 100:
        places.append(at)
        at += 12 + struct.unpack_from(">I", data, at)[0]
    if not places:
        return
    at = int(rng.choice(places))
    (length,) = struct.unpack_from(">I", data, at)
    part = int(rng.integers(6))
    if part == 0:
        data[at:at] = data[at : at + 12 + length] * int(rng.integers(1, 30))
    elif part == 1:
        span = data[at : at + 12 + length]
        del data[at : at + 12 + length]
        to = int(rng.choice(places))
        data[to:to] = span
    elif part == 2:
        data[at + 4 : at + 8] = bytes(
            rng.choice([b"IHDR", b"IDAT", b"PLTE", b"IEND", b"tRNS", b"eXIf", b"gAMA", b"acTL", b"iCCP"])
        )
    elif part == 3 and len(data) > 33:
        struct.pack_into(
            ">II", data, 16, *(int(rng.choice([0, 1, 999, 5000, 11_000, 16_000, 2**31])) for _ in range(2))
        )
    elif part == 4 and len(data) > 33:
        data[24 + int(rng.integers(5))] = int(rng.choice([0, 1, 2, 3, 4, 6, 8, 16]))
    else:
        struct.pack_into(">I", data, at, int(rng.choice((*INTERESTING, len(data)))))


BOXES = (b"meta", b"hdlr", b"pitm", b"iinf", b"infe", b"iref", b"iprp", b"ipco", b"ipma", b"ispe", b"pixi", b"colr",
         b"irot", b"imir", b"iloc", b"idat", b"mdat", b"hvcC", b"av1C", b"grid", b"ftyp")  # fmt: skip


def _box(data: bytearray, rng: np.random.Generator) -> None:
    """A box gets another length or name, stands twice, or states another size."""
    places = [k for kind in BOXES for k in _all(bytes(data[:4000]), kind) if k >= 4]
    if not places:
        return
    at = int(rng.choice(places))
    (length,) = struct.unpack_from(">I", data, at - 4)
    part = int(rng.integers(5))
    if part == 0:
        struct.pack_into(">I", data, at - 4, int(rng.choice((*INTERESTING, len(data), length + 1))) % 2**32)
    elif part == 1:
        data[at : at + 4] = bytes(rng.choice(BOXES))
    elif part == 2:
        data[at - 4 : at - 4] = data[at - 4 : at - 4 + min(length, 400)] * int(rng.integers(1, 20))
    elif part == 3:
        sizes = _all(bytes(data), b"ispe")
        if sizes and sizes[0] + 16 <= len(data):
            sides = [int(rng.choice([0, 1, 64, 999, 5000, 16_000, 65_535, 2**31])) for _ in range(2)]
            struct.pack_into(">II", data, sizes[0] + 8, *sides)
    else:
        # Versions, counts and offsets stand in the first bytes of a box.
        for k in range(at + 4, min(at + 4 + int(rng.integers(1, 8)), len(data))):
            data[k] = int(rng.choice([0, 1, 2, 0x7F, 0xFF, int(rng.integers(256))]))


def _true_sums(data: bytearray) -> bytearray:
    """The same with true check sums, so that a decoder looks beyond them."""
    at = 8
    while at + 12 <= len(data):
        (length,) = struct.unpack_from(">I", data, at)
        end = at + 8 + length
        if end + 4 > len(data):
            break
        struct.pack_into(">I", data, end, zlib.crc32(data[at + 4 : end]))
        at = end + 4
    return data


_STRUCTURED: dict[str, Callable[[bytearray, np.random.Generator], None]] = {
    "tiff": _tiff_entry,
    "raw": _tiff_entry,
    "exif": _tiff_entry,
    "jpeg": _jpeg_segment,
    "png": _png_part,
    "heic": _box,
    "avif": _box,
}


def stated_pixels(kind: str, data: bytes) -> int:
    """The largest number of pixels that the file states anywhere, as read here."""
    try:
        if kind == "png":
            found = [struct.unpack_from(">II", data, k + 4) for k in _all(data, b"IHDR")]
        elif kind in ("heic", "avif"):
            found = [struct.unpack_from(">II", data, k + 8) for k in _all(data, b"ispe") if k + 16 <= len(data)]
        elif kind in ("jpeg", "exif"):
            frames = [
                k
                for mark in range(0xC0, 0xD0)
                if mark not in (0xC4, 0xC8, 0xCC)
                for k in _all(data, bytes([0xFF, mark]))
            ]
            found = [struct.unpack_from(">HH", data, k + 5) for k in frames if k + 9 <= len(data)]
        else:
            order = "<" if data[:2] == b"II" else ">"
            found = []
            for low in (256, 322):
                sides = [_numbers(data, order, tag) or [0] for tag in (low, low + 1)]
                found.append((max(sides[0]), max(sides[1])))
    except struct.error:
        return 0
    return max((a * b for a, b in found), default=0)


def _all(data: bytes, what: bytes) -> list[int]:
    found, at = [], data.find(what)
    while at >= 0 and len(found) < 2000:
        found.append(at)
        at = data.find(what, at + 1)
    return found


def _numbers(data: bytes, order: str, tag: int) -> list[int]:
    """Values of what looks like an entry of that tag, anywhere in the file."""
    found = []
    for at in _all(data, struct.pack(order + "H", tag)):
        for kind, letter in ((3, "H"), (4, "I"), (16, "Q")):
            if data[at + 2 : at + 4] == struct.pack(order + "H", kind):
                for place in (at + 8, at + 12):
                    if place + struct.calcsize(letter) <= len(data):
                        found.append(struct.unpack_from(order + letter, data, place)[0])
    return found


# Children


def _reset_peak() -> None:
    with open("/proc/self/clear_refs", "w") as file:
        file.write("5")


def _peak_bytes() -> int:
    with open("/proc/self/status") as file:
        for line in file:
            if line.startswith("VmHWM"):
                return int(line.split()[1]) * 1024
    raise RuntimeError("this system does not say how much memory was used")


def _resident_bytes() -> int:
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1]) * resource.getpagesize()


def _read(data: bytes) -> str:
    from obverse.capture import load_picture
    from obverse.foundation import InputError

    try:
        load_picture(data, name="strip")
    except InputError as error:
        return "" if error.sentence.startswith("strip: ") and "\n" not in error.sentence else f"odd: {error.sentence}"
    except BaseException as error:
        return f"{type(error).__name__}: {error}"[:200]
    return "read"


def _apart() -> multiprocessing.context.ForkServerContext:
    """Processes of their own, from one that has loaded what all of them use and nothing more."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([__name__, "obverse.capture"])
    return context


def _child(pipe: Connection, kind: str, first: int, last: int) -> None:
    resource.setrlimit(resource.RLIMIT_AS, (ADDRESS_SPACE_BYTES, ADDRESS_SPACE_BYTES))
    os.nice(15)
    devnull = os.open(os.devnull, os.O_WRONLY)
    os.dup2(devnull, 2)
    seeds = SEEDS[kind]()
    for data in seeds:
        _read(_with_exif(jpeg_seeds()[0], data) if kind == "exif" else data)  # libraries are loaded
    for seed in range(first, last):
        data = mutate(kind, seed, seeds)
        pipe.send(("begins", seed))
        _reset_peak()
        before, began = _resident_bytes(), time.process_time()
        told = _read(data)
        seconds, more = time.process_time() - began, _peak_bytes() - before
        pipe.send(("done", seed, told, seconds, more, stated_pixels(kind, data), len(data)))
    pipe.send(("over",))


@dataclass
class Tally:
    """What came of the files of one kind."""

    kind: str
    files: int = 0
    read: int = 0
    refused: int = 0
    longest_s: float = 0.0
    most_bytes: int = 0
    most_times: float = 0.0
    bad: list[dict] = field(default_factory=list)


def honest_bytes_per_pixel(kind: str) -> float:
    """The memory of a whole picture of 4 million pixels, per pixel, measured in a process of its own."""
    rng = np.random.default_rng(2)
    codes = rng.integers(0, 16383, (2000, 2000, 3), dtype=np.uint16)
    # What a decoder takes does not depend on what is shown; these encoders take ten seconds for noise.
    ramp = np.repeat(np.add.outer(np.arange(2000), np.arange(2000))[..., None] >> 4, 3, axis=2).astype(np.uint8)
    if kind in ("jpeg", "exif"):
        data = imagecodecs.jpeg8_encode((codes >> 6).astype(np.uint8), level=60)
    elif kind == "png":
        data = imagecodecs.png_encode((codes >> 6).astype(np.uint8), level=1)
    elif kind == "heic":
        data = _heic(ramp)
    elif kind == "avif":
        data = imagecodecs.avif_encode(ramp, level=60, speed=10)
    elif kind == "tiff":
        data = _tiff(codes, photometric="rgb", compression="zlib")
    else:
        small = raw_seeds()[0]
        tags = {50706, 33421, 33422, 50714, 50717}
        with tifffile.TiffFile(io.BytesIO(small)) as file:
            extra = [(t.code, t.dtype, t.count, t.value, True) for t in file.pages[0].tags.values() if t.code in tags]
        data = _tiff(codes[..., 0], photometric=32803, extratags=extra)
    with _apart().Pool(1) as pool:
        return pool.apply(_taken, (data,)) / (2000 * 2000)


def _taken(data: bytes) -> int:
    _read(SEEDS["jpeg"]()[0]), _read(SEEDS["raw"]()[0])
    _reset_peak()
    before = _resident_bytes()
    if _read(data) != "read":
        raise RuntimeError("the honest picture was refused")
    return _peak_bytes() - before


def fuzz(kind: str, first: int, count: int, *, batch: int = 2000) -> Tally:
    """Read `count` mutated files of a kind, the numbers from `first` on."""
    tally, per_pixel = Tally(kind), honest_bytes_per_pixel(kind)
    context = _apart()
    seed, end = first, first + count
    while seed < end:
        here, there = context.Pipe(duplex=False)
        last = min(seed + batch, end)
        child = context.Process(target=_child, args=(there, kind, seed, last))
        child.start()
        there.close()
        open_seed = seed
        while True:
            try:
                if not here.poll(SILENCE_S + 60 * (open_seed == seed)):
                    tally.bad.append({"seed": open_seed, "what": "hang"})
                    tally.files += 1
                    break
                said = here.recv()
            except EOFError:
                child.join()
                tally.bad.append({"seed": open_seed, "what": f"the process died ({child.exitcode})"})
                tally.files += 1
                break
            if said[0] == "over":
                open_seed = last - 1
                break
            if said[0] == "begins":
                open_seed = said[1]
                continue
            _judge(tally, per_pixel, *said[1:])
        child.kill()
        child.join()
        here.close()
        seed = open_seed + 1
    return tally


def _judge(
    tally: Tally, per_pixel: float, seed: int, told: str, seconds: float, more: int, pixels: int, size: int
) -> None:
    tally.files += 1
    tally.read += told == "read"
    tally.refused += told == ""
    tally.longest_s = max(tally.longest_s, seconds)
    tally.most_bytes = max(tally.most_bytes, more)
    honest = per_pixel * pixels + size
    times = max(0, more - ALLOWANCE_BYTES) / max(honest, 1)
    tally.most_times = max(tally.most_times, times)
    if told not in ("read", ""):
        tally.bad.append({"seed": seed, "what": told})
    if seconds > LIMIT_S:
        tally.bad.append({"seed": seed, "what": f"{seconds:.1f} s"})
    if times > LIMIT_TIMES:
        tally.bad.append({"seed": seed, "what": f"{more / 1e6:.0f} MB for {pixels} pixels in {size} bytes"})


def main() -> int:
    """Print one row per kind, and what was bad, as JSON lines."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=20_000)
    parser.add_argument("--kinds", default=",".join(SEEDS))
    parser.add_argument("--first-seed", type=int, default=0)
    given = parser.parse_args()
    bad = 0
    print("kind   files  read  refused  longest s  most MB  most times honest  bad")
    for kind in given.kinds.split(","):
        tally = fuzz(kind, given.first_seed, given.files)
        print(
            f"{kind:5} {tally.files:6} {tally.read:5} {tally.refused:8} {tally.longest_s:10.3f}"
            f" {tally.most_bytes / 1e6:8.1f} {tally.most_times:18.2f} {len(tally.bad):4}",
            flush=True,
        )
        for one in tally.bad[:40]:
            print("   ", json.dumps(one), flush=True)
        bad += len(tally.bad)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
