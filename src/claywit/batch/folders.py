"""The folder in which the parts of a batch wait, and what says of which batch they are."""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from claywit.errors import CasesError, ClaywitError
from claywit.records.alone import alone
from claywit.records.disk import make_folder, write_bytes
from claywit.records.drafting import clear_dead

RUN = "run.json"


@contextmanager
def begun(folder: Path, text: str) -> Iterator[None]:
    """Make the folder of parts, or make sure that it is of the batch that *text* describes.

    Nobody else works on it meanwhile.

    Raises:
        CasesError: it holds anything else.
        ClaywitError: it cannot be made, or another process is at work on it.
    """
    try:
        make_folder(folder)
    except OSError as wrong:
        raise ClaywitError(f"{folder}: cannot be made: {wrong.strerror}") from None
    with alone(folder):
        _begin(folder, text)
        yield


def _begin(folder: Path, text: str) -> None:
    if all(path.name.startswith(f".{RUN}.") for path in folder.iterdir()):  # new, or hardly begun
        write_bytes(folder / RUN, text.encode())
    before = ""
    with suppress(OSError, UnicodeDecodeError):
        before = (folder / RUN).read_text(encoding="utf-8")
    if before != text and _nothing_done(folder):
        write_bytes(folder / RUN, text.encode())
    elif before != text:
        raise CasesError(
            f"{folder}: holds something else, or parts of another batch (another model, other"
            " pieces or options, another version of claywit); remove it, or choose another name"
        )
    clear_dead(folder)


def _nothing_done(folder: Path) -> bool:
    """Return whether a batch began in a folder and ended before any part of it was written."""
    return [path.name for path in folder.iterdir() if not path.name.startswith(".")] == [RUN]


def forget(folder: Path) -> None:
    """Remove the parts; what says of which batch they are goes last, for an end midway.

    Raises:
        ClaywitError: it cannot be removed.
    """
    try:
        for waiting in sorted(folder.iterdir(), key=lambda path: path.name == RUN):
            waiting.unlink()
        folder.rmdir()
    except OSError as wrong:
        raise ClaywitError(
            f"{folder}: cannot be removed: {wrong.strerror}; the answer is whole, so remove it"
            " yourself"
        ) from None
