"""Bytes from disk and to disk: read with a cap, written whole or not at all."""

import errno
import hashlib
import os
import shutil
import stat
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from io import BufferedReader
from pathlib import Path
from typing import BinaryIO

from claywit.errors import ClaywitError
from claywit.records.drafting import clear_drafts, draft_name, locked_file, locked_folder

OPEN = 0o666  # less what the user does not let others do


class AlreadyThere(ClaywitError):  # noqa: N818 - it names the state of affairs
    """A file that was to be new is there already."""


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
    with drafted(path) as stream:
        stream.write(content)


def write_new(path: Path, content: bytes, *, mode: int = OPEN) -> None:
    """Write *content* to a file that is not there yet, whole or not at all.

    Raises:
        ClaywitError: it is there already, or as `write_bytes`.
    """
    write_all_new({path: content}, mode=mode)


def write_all_new(files: Mapping[Path, bytes], *, mode: int = OPEN) -> None:
    """Write files that are not there yet, all of them or none; they appear in their order.

    They are readable by whom the user lets read (umask), and by no more than *mode* says.

    Raises:
        ClaywitError: one is there already, or as `write_bytes`.
    """
    made: list[Path] = []
    try:
        with ExitStack() as drafts:
            whole = []
            for path, content in files.items():
                stream, draft = drafts.enter_context(_drafting(path, mode))
                stream.write(content)
                _settle(stream)
                whole.append((path, draft))
            for path, draft in whole:
                with _told(path):
                    path.hardlink_to(draft)  # unlike a rename, this never replaces a file
                    made.append(path)
                    confirm(path)
    except BaseException:
        for path in made:
            with suppress(OSError):
                path.unlink()
        raise


@contextmanager
def drafted(path: Path) -> Iterator[BinaryIO]:
    """Yield a stream whose content becomes the file at *path* if the block ends well.

    Whatever stops the block, an error or an interruption, leaves the old file or none. A new file
    is readable by whom the user lets read (umask), a replaced one by whom the old one was.

    Raises:
        ClaywitError: as `write_bytes`.
    """
    with _told(path):
        path = _ordinary(path)
    with _drafting(path, OPEN) as (stream, draft):
        yield stream
        if path.exists():
            draft.chmod(stat.S_IMODE(path.stat().st_mode))
        _settle(stream)
        draft.replace(path)
        try:
            confirm(path)
        except OSError as wrong:
            raise ClaywitError(
                f"{path}: was written, but the disk did not confirm it ({wrong.strerror}); see to"
                " the disk before you rely on it"
            ) from None


def _ordinary(path: Path) -> Path:
    """Return the file that *path* means, behind any link.

    Raises:
        ClaywitError: it is a folder, a device or a pipe, which a file must never take the place of.
    """
    target = path.resolve() if path.is_symlink() else path
    if target.exists() and not target.is_file():
        raise ClaywitError(f"{path}: is no ordinary file; choose the name of a file")
    return target


@contextmanager
def _drafting(path: Path, mode: int) -> Iterator[tuple[BinaryIO, Path]]:
    """Yield a locked draft beside *path*, which is gone in the end unless it took its name."""
    with _told(path):
        clear_drafts(path)
        draft = draft_name(path)
        try:
            with locked_file(draft, mode) as stream:
                yield stream, draft
        finally:
            _clear_away(draft)


def _clear_away(draft: Path) -> None:
    """Remove a draft, even if a signal comes in the midst of that."""
    try:
        draft.unlink(missing_ok=True)
    except (KeyboardInterrupt, SystemExit):
        draft.unlink(missing_ok=True)
        raise


@contextmanager
def drafts_folder(path: Path) -> Iterator[Path]:
    """Yield a new folder beside *path*, in which it can be made; it is gone in the end."""
    clear_drafts(path)
    folder, handle = draft_name(path), -1
    try:
        handle = locked_folder(folder)
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        if handle >= 0:
            os.close(handle)


def _settle(stream: BinaryIO) -> None:
    """Let the content be on the disk before the name is, so that no name has half a content."""
    stream.flush()
    os.fsync(stream.fileno())


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Turn what the system says of a write into an error that names the file."""
    try:
        yield
    except FileExistsError:
        raise AlreadyThere(_there(path)) from None
    except BrokenPipeError:
        raise  # somebody else's pipe, not this file
    except OSError as wrong:
        raise ClaywitError(f"{path}: cannot be written: {wrong.strerror}") from None


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
    clear_drafts(path)
    if path.exists():
        raise AlreadyThere(_there(path))


def _there(path: Path) -> str:
    return f"{path}: is there already; choose another name"


def make_folder(folder: Path, mode: int = 0o777) -> None:
    """Make a folder that outlives a power cut, unless it is there.

    Raises:
        OSError: it cannot be made, or the one above it is not there.
    """
    if not folder.is_dir():
        folder.mkdir(mode, exist_ok=True)
        confirm(folder)


def make_folders(folder: Path, mode: int) -> None:
    """Do as `make_folder` with those above it first."""
    if not folder.is_dir():
        make_folders(folder.parent, mode)
        make_folder(folder, mode)


def confirm(path: Path) -> None:
    """Make sure that the name of a new file outlives a power cut, where the system lets us.

    Raises:
        OSError: the disk failed.
    """
    try:
        handle = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    except OSError as wrong:
        if wrong.errno in {errno.EIO, errno.ENOSPC}:
            raise
