"""Drafts beside the files that they become: locked by their writers, cleared once they are dead."""

import os
import re
import secrets
import shutil
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO

from claywit.records.alone import lock

SHOWN = 40  # letters of a name in that of its draft, which must not grow too long
DRAFT = ".draft"
ANY_DRAFT = re.compile(rf"\..+\.[0-9a-f]{{8}}\{DRAFT}", re.DOTALL)


def locked_file(draft: Path, mode: int) -> BinaryIO:
    """Make a draft that is locked while it is open, readable by whom *mode* lets."""

    def private(name: str, flags: int) -> int:
        return os.open(name, flags, mode)

    while True:
        stream = open(draft, "xb", opener=private)  # noqa: SIM115 - the caller closes
        lock(stream.fileno())
        if os.fstat(stream.fileno()).st_nlink:
            return stream
        stream.close()  # somebody cleared it away before it was locked


def locked_folder(folder: Path) -> int:
    """Make a folder of one's own; return the handle that locks it until it is closed."""
    while True:
        folder.mkdir(0o700, exist_ok=True)
        with suppress(FileNotFoundError):  # as above
            handle = os.open(folder, os.O_RDONLY)
            lock(handle, wait=True)
            if os.fstat(handle).st_nlink:
                return handle
            os.close(handle)


def draft_name(path: Path) -> Path:
    """Return a name beside *path* that nobody has yet."""
    return path.with_name(f".{path.name[:SHOWN]}.{secrets.token_hex(4)}{DRAFT}")


def clear_drafts(path: Path) -> None:
    """Remove the drafts of *path* whose writers died; those of writers at work are locked."""
    name = re.escape(path.name[:SHOWN])
    with suppress(OSError):
        clear_dead(path.parent, re.compile(rf"\.{name}\.[0-9a-f]{{8}}\{DRAFT}"))


def clear_dead(folder: Path, named: re.Pattern[str] = ANY_DRAFT) -> None:
    """Remove from *folder* the drafts of that name, by default all, whose writers died."""
    with os.scandir(folder) as found:
        names = [entry.name for entry in found if named.fullmatch(entry.name)]
    for name in names:
        with suppress(OSError):
            _clear(folder / name)


def _clear(draft: Path) -> None:
    # Without waiting: another user may have put a pipe of that name there, which nobody ever opens.
    handle = os.open(draft, os.O_RDONLY | os.O_NOFOLLOW | os.O_CLOEXEC | os.O_NONBLOCK)
    try:
        if lock(handle) == "ours":
            shutil.rmtree(draft) if draft.is_dir() else draft.unlink()
    finally:
        os.close(handle)
