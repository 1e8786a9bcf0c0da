"""Photographs: looked at before they are decoded, and without their position when they leave.

A telephone writes where a picture was taken into it, and often a second picture, a film or the
owner's name. The clean copy of a JPEG or PNG holds the very same coded picture, copied byte for
byte, with only what a viewer needs: colour profile, resolution, and which way is up.
"""

import io
import struct
import warnings
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from PIL import Image

from claywit.errors import CasebookError

MAX_BYTES = 64_000_000
MAX_PIXELS = 120_000_000  # a 60-megapixel back, twice; decoded that is at most half a gigabyte
MAX_SIDE = 65_500
FORMATS = ("JPEG", "PNG", "TIFF")
ORIENTATION = 0x0112
UPRIGHT = 1
Media = Literal["image/jpeg", "image/png", "image/tiff"]
MEDIA: dict[str, Media] = {"JPEG": "image/jpeg", "PNG": "image/png", "TIFF": "image/tiff"}
# What a viewer needs; all other chunks are remarks (PNG, third edition, 11.2 and 11.3).
PNG_KEPT = {
    b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"cHRM", b"gAMA", b"iCCP", b"sBIT", b"sRGB",
    b"cICP", b"mDCV", b"cLLI", b"bKGD", b"pHYs",
}  # fmt: skip


@dataclass(frozen=True)
class Picture:
    """A photograph as it came: its kind, its size in pixels, and which way is up (EXIF 1 to 8)."""

    content: bytes
    media: Media
    width: int
    height: int
    orientation: int


def look_at(content: bytes, name: str) -> Picture:
    """Return what *content* is, from its header alone; nothing is decoded.

    Raises:
        CasebookError: too large, too many pixels, or no JPEG, PNG or TIFF.
    """
    if len(content) > MAX_BYTES:
        raise CasebookError(
            f"{name}: {len(content):,} bytes, at most {MAX_BYTES:,} are kept; save it smaller"
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # the size is judged below
            with Image.open(io.BytesIO(content), formats=FORMATS) as image:
                (width, height), kind = image.size, str(image.format)
                _refuse_large(name, width, height)
                frames = getattr(image, "n_frames", 1) if kind == "TIFF" else 1
                up = image.getexif().get(ORIENTATION, UPRIGHT)
    except CasebookError:
        raise
    except Image.DecompressionBombError:
        raise CasebookError(f"{name}: more pixels than {MAX_PIXELS:,}; save it smaller") from None
    except Exception:  # noqa: BLE001 - a reader of pictures may stumble over anything
        raise CasebookError(f"{name}: no JPEG, PNG or TIFF; save it as one of them") from None
    if frames > 1:
        raise CasebookError(f"{name}: holds {frames} pictures; save the one you mean by itself")
    orientation = up if isinstance(up, int) and 1 <= up <= 8 else UPRIGHT
    return Picture(content, MEDIA[kind], width, height, orientation)


def _refuse_large(name: str, width: int, height: int) -> None:
    if width * height > MAX_PIXELS or max(width, height) > MAX_SIDE or min(width, height) < 1:
        raise CasebookError(
            f"{name}: {width:,} × {height:,} pixels, at most {MAX_PIXELS:,} are kept;"
            " save it smaller"
        )


def clean(picture: Picture, name: str) -> bytes:
    """Return a copy of the picture without position, remarks, or anything after its end.

    The coded picture of a JPEG or PNG is copied byte for byte. A TIFF, whose picture and remarks
    are one list, leaves as a PNG of the same pixels.

    Raises:
        CasebookError: it ends early, or its parts do not fit.
    """
    try:
        if picture.media == "image/jpeg":
            return b"".join(_jpeg(picture))
        if picture.media == "image/png":
            return b"".join(_png(picture))
        return _tiff_as_png(picture)
    except (ValueError, IndexError, struct.error):
        raise CasebookError(f"{name}: ends early or is damaged; save it again") from None


def _only_orientation(orientation: int) -> bytes:
    """Return an EXIF block (TIFF 6.0, big-endian) that says which way is up, and nothing else."""
    entry = struct.pack(">HHIHH", ORIENTATION, 3, 1, orientation, 0)
    return b"MM\x00\x2a\x00\x00\x00\x08" + struct.pack(">H", 1) + entry + struct.pack(">I", 0)


def _jpeg(picture: Picture) -> Iterator[bytes]:
    """Yield the segments of a JPEG that make the picture (ISO/IEC 10918-1, B.1)."""
    content = picture.content
    yield content[:2]
    if picture.orientation != UPRIGHT:
        block = b"Exif\x00\x00" + _only_orientation(picture.orientation)
        yield b"\xff\xe1" + struct.pack(">H", len(block) + 2) + block
    at = 2
    while True:
        at = content.index(b"\xff", at)
        while content[at + 1] == 0xFF:  # fill bytes
            at += 1
        marker = content[at + 1]
        if marker == 0xD9:
            yield content[at : at + 2]
            return
        if marker in (0x01, *range(0xD0, 0xD8)):
            yield content[at : at + 2]
            at += 2
            continue
        (length,) = struct.unpack_from(">H", content, at + 2)
        end = at + 2 + length
        if length < 2 or end > len(content):
            raise ValueError("a segment is too long")
        if marker == 0xDA:
            end = _end_of_scan(content, end)
        if _is_kept(marker, content[at + 4 : end]):
            yield content[at:end]
        at = end


def _end_of_scan(content: bytes, at: int) -> int:
    """Return where the coded data end: at a marker that is neither a stuffed byte nor a restart."""
    while True:
        at = content.index(b"\xff", at)
        if content[at + 1] not in (0x00, 0xFF, *range(0xD0, 0xD8)):
            return at
        at += 1 if content[at + 1] == 0xFF else 2


def _is_kept(marker: int, block: bytes) -> bool:
    if marker == 0xE0:
        return block.startswith(b"JFIF\x00")
    if marker == 0xE2:
        return block.startswith(b"ICC_PROFILE\x00")
    if marker == 0xEE:
        return block.startswith(b"Adobe")  # says how the colours are coded
    return marker != 0xFE and not 0xE0 <= marker <= 0xEF


def _png(picture: Picture) -> Iterator[bytes]:
    """Yield the chunks of a PNG that make the picture."""
    content, at = picture.content, 8
    yield content[:8]
    while True:
        length, kind = struct.unpack_from(">I4s", content, at)
        end = at + 12 + length
        if end > len(content):
            raise ValueError("a chunk is too long")
        if kind in PNG_KEPT:
            yield content[at:end]
        if kind == b"IHDR" and picture.orientation != UPRIGHT:
            yield _chunk(b"eXIf", _only_orientation(picture.orientation))
        if kind == b"IEND":
            return
        at = end


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def _tiff_as_png(picture: Picture) -> bytes:
    try:
        with Image.open(io.BytesIO(picture.content), formats=["TIFF"]) as image:
            profile = image.info.get("icc_profile")
            bare = Image.new(image.mode, image.size)
            bare.paste(image)
        written = io.BytesIO()
        bare.save(written, "PNG", icc_profile=profile)
    except Exception:  # noqa: BLE001 - a reader of pictures may stumble over anything
        raise ValueError("not readable") from None
    upright = Picture(written.getvalue(), "image/png", *image.size, picture.orientation)
    return b"".join(_png(upright))
