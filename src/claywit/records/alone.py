"""Who is at work on a file or folder: a lock that ends with the process that holds it.

A lock is on the open file (`flock`), so nothing has to be cleared away after a crash. Where there
are no locks, as on some network drives, nobody is kept out and nothing is called dead.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Literal

from claywit.errors import ClaywitError

try:
    from fcntl import LOCK_EX, LOCK_NB, flock
except ImportError:  # not on Windows
    flock = None  # type: ignore[assignment]


def lock(handle: int, *, wait: bool = False) -> Literal["ours", "theirs", "unknown"]:
    """Lock what *handle* opened until it is closed, and return whose the lock is."""
    if flock is None:
        return "unknown"
    try:
        flock(handle, LOCK_EX if wait else LOCK_EX | LOCK_NB)
    except BlockingIOError:
        return "theirs"
    except OSError:
        return "unknown"
    return "ours"


@contextmanager
def alone(folder: Path, *, wait: bool = False) -> Iterator[None]:
    """Keep every other process out of *folder* that asks for it too; *wait* for it, or refuse.

    Raises:
        ClaywitError: another process is at work there.
    """
    handle = None
    with suppress(OSError):  # a folder that cannot be opened says so once it is written
        handle = os.open(folder, os.O_RDONLY)
    try:
        if handle is not None and lock(handle, wait=wait) == "theirs":
            raise ClaywitError(
                f"{folder}: another claywit is at work here; wait until it is done, or choose"
                " another name"
            )
        yield
    finally:
        if handle is not None:
            os.close(handle)
