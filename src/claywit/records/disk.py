"""Bytes from disk and to disk: read with a cap, written whole or not at all."""

import errno
import hashlib
import os
import re
import secrets
import shutil
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from claywit.errors import ClaywitError
from claywit.records.alone import lock

OPEN = 0o644
DRAFT = ".draft"
ANY_DRAFT = re.compile(rf"\..+\.[a-z0-9_]{{8}}\{DRAFT}")


class AlreadyThere(ClaywitError):  # noqa: N818 - it names the state of affairs
    """A file that was to be new is there already."""

O_BINARY = getattr(os, "O_BINARY", 0)  # on Windows a line's end would be written otherwise


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
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as wrong:
        raise error(f"{path}: cannot be read: {wrong.strerror}") from None


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

    Raises:
        ClaywitError: one is there already, or as `write_bytes`.
    """
    made: list[Path] = []
    try:
        with ExitStack() as drafts:
            whole = []
            for path, content in files.items():
                stream, draft = drafts.enter_context(_drafting(path))
                stream.write(content)
                _settle(stream, draft, mode)
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

    Whatever stops the block, an error or an interruption, leaves the old file.

    Raises:
        ClaywitError: as `write_bytes`.
    """
    with _drafting(path) as (stream, draft):
        yield stream
        _settle(stream, draft, OPEN)
        draft.replace(path)
        try:
            confirm(path)
        except OSError as wrong:
            raise ClaywitError(
                f"{path}: was written, but the disk did not confirm it ({wrong.strerror}); see to"
                " the disk before you rely on it"
            ) from None


@contextmanager
def _drafting(path: Path) -> Iterator[tuple[BinaryIO, Path]]:
    """Yield a locked draft beside *path*, which is gone in the end unless it took its name."""
    with _told(path):
        clear_drafts(path)
        draft = _draft_name(path)
        try:
            with _locked_file(draft) as stream:
                yield stream, draft
        finally:
            draft.unlink(missing_ok=True)


@contextmanager
def drafts_folder(path: Path) -> Iterator[Path]:
    """Yield a new folder beside *path*, in which it can be made; it is gone in the end."""
    clear_drafts(path)
    folder, handle = _draft_name(path), -1
    try:
        handle = _locked_folder(folder)
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        if handle >= 0:
            os.close(handle)


def _locked_file(draft: Path) -> BinaryIO:
    while True:
        stream = open(draft, "xb", opener=_own)  # noqa: SIM115 - a mode; the caller closes
        lock(stream.fileno())
        if os.fstat(stream.fileno()).st_nlink:
            return stream
        stream.close()  # somebody cleared it away before it was locked


def _locked_folder(folder: Path) -> int:
    while True:
        folder.mkdir(0o700, exist_ok=True)
        with suppress(FileNotFoundError):  # as above
            handle = os.open(folder, os.O_RDONLY)
            lock(handle, wait=True)
            if os.fstat(handle).st_nlink:
                return handle
            os.close(handle)


def _draft_name(path: Path) -> Path:
    return path.with_name(f".{path.name}.{secrets.token_hex(4)}{DRAFT}")


def _own(name: str, flags: int) -> int:
    return os.open(name, flags, 0o600)


def _settle(stream: BinaryIO, draft: Path, mode: int) -> None:
    """Let the content be on the disk before the name is, so that no name has half a content."""
    stream.flush()
    draft.chmod(mode)
    os.fsync(stream.fileno())


def clear_drafts(path: Path) -> None:
    """Remove the drafts of *path* whose writers died; those of writers at work are locked."""
    with suppress(OSError):
        clear_dead(path.parent, re.compile(rf"\.{re.escape(path.name)}\.[a-z0-9_]{{8}}\{DRAFT}"))


def clear_dead(folder: Path, named: re.Pattern[str] = ANY_DRAFT) -> None:
    """Remove from *folder* the drafts of that name, by default all, whose writers died."""
    with os.scandir(folder) as found:
        names = [entry.name for entry in found if named.fullmatch(entry.name)]
    for name in names:
        with suppress(OSError):
            _clear(folder / name)


def _clear(draft: Path) -> None:
    handle = os.open(draft, os.O_RDONLY | os.O_NOFOLLOW | os.O_CLOEXEC)
    try:
        if lock(handle) == "ours":
            shutil.rmtree(draft) if draft.is_dir() else draft.unlink()
    finally:
        os.close(handle)


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
