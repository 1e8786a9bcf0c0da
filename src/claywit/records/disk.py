"""Bytes from disk and to disk: read with a cap, written whole or not at all."""

import hashlib
import os
import secrets
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from io import BufferedReader
from pathlib import Path
from typing import BinaryIO

from claywit.errors import ClaywitError

O_BINARY = getattr(os, "O_BINARY", 0)  # on Windows a line's end would be written otherwise


@contextmanager
def plain_file(path: Path, error: type[ClaywitError]) -> Iterator[BufferedReader]:
    """Yield a stream of the bytes of a file, which is neither a folder nor a pipe nor a device.

    A pipe keeps whoever opens it waiting for a writer, and a device may never end; neither can be
    read twice, as a digest needs.

    Raises:
        ClaywitError: of the kind *error*: there is no such file, it is none, or it cannot be
            read, now or while the block reads on.
    """
    try:
        with open(path, "rb", opener=_without_waiting) as stream:
            refuse_unplain(path, error, os.fstat(stream.fileno()).st_mode)
            yield stream
    except OSError as wrong:
        raise error(f"{path}: cannot be read: {wrong.strerror}") from None


def _without_waiting(name: str, flags: int) -> int:
    return os.open(name, flags | getattr(os, "O_NONBLOCK", 0))


def refuse_unplain(path: Path, error: type[ClaywitError], mode: int | None = None) -> None:
    """Refuse what is no file but a pipe or a device, by its *mode* or as it is found at *path*.

    Raises:
        ClaywitError: of the kind *error*: it is one, or there is nothing.
    """
    try:
        found = path.stat().st_mode if mode is None else mode
    except OSError as wrong:
        raise error(f"{path}: cannot be read: {wrong.strerror}") from None
    if not stat.S_ISREG(found):
        kind = "a folder" if stat.S_ISDIR(found) else "a pipe or a device"
        raise error(f"{path}: cannot be read: is {kind}, a file is expected; save it as one first")


def read_bytes(path: Path, most: int, error: type[ClaywitError]) -> bytes:
    """Return the bytes of a file, one more than *most* where it is too large.

    Raises:
        ClaywitError: of the kind *error*: there is no such file, or it cannot be read.
    """
    with plain_file(path, error) as stream:
        return stream.read(most + 1)


def read_whole(path: Path, most: int) -> bytes:
    """Return the content of a file of at most *most* bytes.

    Raises:
        ClaywitError: it cannot be read, or is longer.
    """
    content = read_bytes(path, most, ClaywitError)
    if len(content) > most:
        raise ClaywitError(f"{path}: more than the {most:,} bytes that are read")
    return content


def digest_of(path: Path, error: type[ClaywitError]) -> str:
    """Return the SHA-256 of a file of any size, as 64 hexadecimal digits.

    Raises:
        ClaywitError: of the kind *error*: there is no such file, or it cannot be read.
    """
    with plain_file(path, error) as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def write_bytes(path: Path, content: bytes) -> None:
    """Write *content* so that the file is either the old one or the whole new one.

    Raises:
        ClaywitError: the folder does not exist, is full, or may not be written.
    """
    _write(path, content, replace=True)


def write_new(path: Path, content: bytes) -> None:
    """Write *content* to a file that is not there yet, whole or not at all.

    Raises:
        ClaywitError: it is there already, or as `write_bytes`.
    """
    _write(path, content, replace=False)


def _write(path: Path, content: bytes, *, replace: bool) -> None:
    with drafted(path, replace=replace) as stream:
        stream.write(content)


@contextmanager
def drafted(path: Path, *, replace: bool = True) -> Iterator[BinaryIO]:
    """Yield a stream whose content becomes the file at *path* if the block ends well.

    Whatever stops the block, an error or an interruption, leaves the old file or none. A new file
    is readable by whom the user lets read (umask), a replaced one by whom the old one was.

    Raises:
        ClaywitError: as `write_bytes`, or as `write_new` without *replace*.
    """
    try:
        if replace:
            path = _ordinary(path)
        draft = path.with_name(f".{path.name[:40]}.{secrets.token_hex(8)}")
        handle = os.open(draft, os.O_CREAT | os.O_EXCL | os.O_WRONLY | O_BINARY, 0o666)
        try:
            with os.fdopen(handle, "wb") as stream:
                yield stream
                stream.flush()
                os.fsync(stream.fileno())
            if path.exists():
                draft.chmod(stat.S_IMODE(path.stat().st_mode))
            if replace:
                draft.replace(path)
            else:
                path.hardlink_to(draft)  # unlike a rename, this never replaces a file
            sync_folder(path.parent)
        finally:
            draft.unlink(missing_ok=True)
    except FileExistsError:
        raise ClaywitError(_there(path)) from None
    except BrokenPipeError:
        raise  # somebody else's pipe, not this file
    except OSError as wrong:
        raise ClaywitError(f"{path}: cannot be written: {wrong.strerror}") from None


def _ordinary(path: Path) -> Path:
    """Return the file that *path* means, behind any link.

    Raises:
        ClaywitError: it is a folder, a device or a pipe, which a file must never take the place of.
    """
    target = path.resolve()
    if target.exists() and not target.is_file():
        raise ClaywitError(f"{path}: is no ordinary file; choose the name of a file")
    return target


def refuse_over(output: Path | None, *read: Path) -> None:
    """Refuse to write over a file that is read.

    Raises:
        ClaywitError: *output* is one of the files *read*, whatever both are called.
    """
    for path in read:
        if output and output.exists() and path.exists() and output.samefile(path):
            raise ClaywitError(f"{output}: is the file that is read; choose another name")


def refuse_existing(path: Path) -> None:
    """Refuse a name that is taken before any work is done for it, as `write_new` would after.

    Raises:
        ClaywitError: there is a file of that name.
    """
    if path.exists():
        raise ClaywitError(_there(path))


def _there(path: Path) -> str:
    return f"{path}: is there already; choose another name"


def sync_folder(folder: Path) -> None:
    """Make sure that the name of a new file outlives a power cut, where the system lets us."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
