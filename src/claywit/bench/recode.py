"""A picture decoded and coded anew, in a process that may neither grow nor go on for long.

Run as `python -m claywit.bench.recode` with the picture on standard input; the new picture is
written to standard output. Whatever a decoder stumbles over ends with this process, and all its
memory goes back.
"""

import io
import sys

from PIL import Image, ImageOps

from claywit.errors import CasebookError
from claywit.records.photographs import FORMATS, look_at

REFUSED = 3  # exit status: standard error says why
# A plain JPEG is decoded at a part of its size; anything else has to be held whole.
MAX_PIXELS = 24_000_000
MAX_PIXELS_JPEG = 64_000_000
SIDE = 1400  # pixels of what is shown
SECONDS = 20  # of the processor's time
MEMORY = 700_000_000  # of addresses, most of them the interpreter's libraries


def recode(content: bytes) -> bytes:
    """Return a picture decoded, made smaller, and coded anew as JPEG.

    Raises:
        CasebookError: it is no picture, or too large; it is looked at before it is decoded.
        Exception: whatever a decoder raises over a damaged picture.
    """
    name = "the photograph"
    found = look_at(content, name)
    with Image.open(io.BytesIO(content), formats=FORMATS) as image:
        _refuse_large(image, found.width * found.height, name)
        image.draft("RGB", (SIDE, SIDE))
        image.thumbnail((SIDE, SIDE))
        small = ImageOps.exif_transpose(image).convert("RGB")
    written = io.BytesIO()
    small.save(written, "JPEG", quality=85)
    return written.getvalue()


def _refuse_large(image: Image.Image, pixels: int, name: str) -> None:
    """Refuse what would take too much room; a progressive JPEG cannot be decoded in part."""
    is_plain = image.format == "JPEG" and not image.info.get("progressive")
    most = MAX_PIXELS_JPEG if is_plain else MAX_PIXELS
    if pixels > most:
        raise CasebookError(
            f"{name}: {pixels:,} pixels, at most {most:,} are taken here; save it smaller, or as a"
            " plain JPEG"
        )


def _confine() -> None:
    """Bound time and memory, where the system lets us."""
    try:
        import resource
    except ImportError:  # not on Windows
        return
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))


def main() -> None:
    """Recode standard input to standard output."""
    _confine()
    try:
        sys.stdout.buffer.write(recode(sys.stdin.buffer.read()))
    except CasebookError as refused:
        sys.stderr.write(str(refused))
        sys.exit(REFUSED)


if __name__ == "__main__":
    main()
