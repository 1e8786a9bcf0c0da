"""Photographs leave with the same pixels, without their position; bombs are never decoded."""

import io
import struct

import numpy as np
import pytest
from PIL import Image

from claywit.errors import CasebookError
from claywit.records.photographs import clean, look_at


def picture(kind, orientation=6):
    rng = np.random.default_rng(3)
    image = Image.fromarray(rng.integers(0, 255, (24, 32, 3), dtype=np.uint8))
    exif = Image.Exif()
    exif[0x0112], exif[0x010F] = orientation, "MAKER-NAME"
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 30.0, 0.0)})
    out = io.BytesIO()
    image.save(out, kind, exif=exif)
    return out.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF"])
def test_the_clean_copy_has_the_same_pixels_and_no_position(kind):
    content = picture(kind) + b"a film with another position"
    copy = clean(look_at(content, "p"), "p")
    with Image.open(io.BytesIO(content)) as one, Image.open(io.BytesIO(copy)) as other:
        assert np.array_equal(np.asarray(one), np.asarray(other))
        assert dict(other.getexif()) == {0x0112: 6}  # which way is up, and nothing else
        assert not other.getexif().get_ifd(0x8825)
    assert b"MAKER-NAME" not in copy
    assert b"another position" not in copy


def test_a_bomb_is_refused_from_its_header():
    content = bytearray(picture("PNG"))
    content[16:24] = struct.pack(">II", 60_000, 60_000)
    with pytest.raises(CasebookError, match=r"pixels|no JPEG"):
        look_at(bytes(content), "p")


@pytest.mark.parametrize("content", [b"", b"hello", b"\xff\xd8\xff", b"GIF89a" + b"\0" * 40])
def test_what_is_no_photograph_is_refused(content):
    with pytest.raises(CasebookError, match="no JPEG, PNG or TIFF"):
        look_at(content, "p")


def test_a_photograph_cut_short_is_refused():
    content = picture("JPEG")
    with pytest.raises(CasebookError, match="ends early"):
        clean(look_at(content[:-2], "p"), "p")
