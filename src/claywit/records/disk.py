"""Bytes from disk and to disk: read with a cap, written whole or not at all."""

import os
import tempfile
from pathlib import Path

from claywit.errors import ClaywitError


def read_bytes(path: Path, most: int, error: type[ClaywitError]) -> bytes:
    """Return the bytes of a file, one more than *most* where it is too large.

    Raises:
        ClaywitError: of the kind *error*: there is no such file, or it cannot be read.
    """
    try:
        with path.open("rb") as stream:
            return stream.read(most + 1)
    except OSError as wrong:
        raise error(f"{path}: cannot be read: {wrong.strerror}") from None


def write_bytes(path: Path, content: bytes) -> None:
    """Write *content* so that the file is either the old one or the whole new one.

    Raises:
        ClaywitError: the folder does not exist, is full, or may not be written.
    """
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            Path(name).chmod(0o644)
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as wrong:
        raise ClaywitError(f"{path}: cannot be written: {wrong.strerror}") from None
