"""The folder in which the parts of a batch wait, or stay: whose they are, and which are done.

What is no answer stands in a folder of its own below, whose name begins with `_`: readers of a
folder of partitions pass over such names.
"""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from pydantic import ValidationError

from claywit.errors import CasesError, ClaywitError
from claywit.records.alone import alone
from claywit.records.disk import make_folder, write_bytes
from claywit.records.drafting import ANY_DRAFT, clear_dead
from claywit.records.rejects import Account
from claywit.report.batched import BatchPart, BatchRun

ASIDE, RUN, MARK = "_batch", "run.json", ".part.json"


def rejects_of(folder: Path, part: str) -> Path:
    """Return where the rejects of a part stand."""
    return folder / ASIDE / f"{part}.rejects.csv"


def ids_of(folder: Path, part: str) -> Path:
    """Return where the digests of the ids of a part stand until all parts are done."""
    return folder / ASIDE / f"{part}.ids"


def mark_done(folder: Path, part: str, account: Account) -> None:
    """Write the account of a part, which says that it is done.

    Raises:
        ClaywitError: it cannot be written.
    """
    done = BatchPart(read=account.read, used=account.used, rejected=account.rejected)
    write_bytes(_mark(folder, part), done.model_dump_json().encode())


def done_before(folder: Path, part: str) -> Account | None:
    """Return the account of a part that an earlier run finished, None where it is to be done."""
    try:
        found = BatchPart.model_validate_json(_mark(folder, part).read_bytes())
    except (OSError, ValidationError):
        return None
    if min(found.used, found.rejected) < 0 or found.read != found.used + found.rejected:
        return None  # damaged, so the part is done again
    return Account(found.read, found.used, found.rejected)


@contextmanager
def whole(folder: Path) -> Iterator[None]:
    """Say in one line that a finished part cannot be read, where its files were damaged.

    Raises:
        CasesError: as said.
    """
    try:
        yield
    except (OSError, ValueError, IndexError) as wrong:  # ArrowInvalid is a ValueError
        said = str(wrong).splitlines()[0] if str(wrong) else type(wrong).__name__
        raise CasesError(
            f"{folder}: a finished part was damaged or taken away ({said[:200]}); remove the folder"
            " and run the batch again"
        ) from None


def _mark(folder: Path, part: str) -> Path:
    return folder / ASIDE / f"{part}{MARK}"


@contextmanager
def begun(folder: Path, now: BatchRun) -> Iterator[None]:
    """Make the folder of parts, or make sure that the parts in it are of the batch *now*.

    Nobody else works on it meanwhile.

    Raises:
        CasesError: they are of another batch, or the folder holds something else.
        ClaywitError: it cannot be made, or another process is at work on it.
    """
    try:
        make_folder(folder)
    except OSError as wrong:
        raise ClaywitError(f"{folder}: cannot be made: {wrong.strerror}") from None
    with alone(folder):
        _begin(folder, now)
        yield


def _begin(folder: Path, now: BatchRun) -> None:
    try:
        if not any(folder.iterdir()):
            make_folder(folder / ASIDE)
    except OSError as wrong:
        raise ClaywitError(f"{folder}: cannot be made: {wrong.strerror}") from None
    before = _begun(folder)
    if before != now and _nothing_done(folder):
        write_bytes(folder / ASIDE / RUN, now.model_dump_json(indent=2).encode())
    elif before != now:
        raise CasesError(f"{folder}: {_differs(before, now)}; remove it, or choose another name")
    clear(folder)


def _begun(folder: Path) -> BatchRun | None:
    try:
        return BatchRun.model_validate_json((folder / ASIDE / RUN).read_bytes())
    except (OSError, ValidationError):
        return None


def _nothing_done(folder: Path) -> bool:
    """Return whether no part was finished here, and nothing else lies about."""
    if [path.name for path in folder.iterdir() if not _is_draft(path)] != [ASIDE]:
        return False
    return all(path.name == RUN or _is_draft(path) for path in (folder / ASIDE).iterdir())


def _is_draft(path: Path) -> bool:
    """Return whether a part or a file beside it was being written when something ended it."""
    return ANY_DRAFT.fullmatch(path.name) is not None


def _differs(before: BatchRun | None, now: BatchRun) -> str:
    if before is None:
        return "holds something else than parts of this batch"
    what = {
        "claywit": f"claywit {before.claywit}, and this is {now.claywit}",
        "model": "another model",
        "sources": "other pieces, or the same file before it was changed",
        "options": "other options",
        "block": "other options",
        "output": f"an answer called {before.output}",
    }
    said = dict.fromkeys(w for key, w in what.items() if getattr(before, key) != getattr(now, key))
    return f"holds parts of another batch: {', '.join(said)}"


def clear(folder: Path) -> None:
    """Remove what a worker had begun when it died."""
    for place in (folder, folder / ASIDE):
        with suppress(OSError):  # in nobody's way
            clear_dead(place)


def remove(folder: Path) -> None:
    """Remove the parts, so that an end midway leaves some to be done again, and none half there.

    What says that a part is done goes first, and what says of which batch they are goes last.

    Raises:
        ClaywitError: they cannot be removed.
    """
    try:
        aside = [path for path in (folder / ASIDE).iterdir() if path.name != RUN]
        marks = [path for path in aside if path.name.endswith(MARK)]
        parts = [path for path in folder.iterdir() if path.name != ASIDE]
        for path in (*marks, *(path for path in aside if path not in set(marks)), *parts):
            path.unlink()
        (folder / ASIDE / RUN).unlink()
        (folder / ASIDE).rmdir()
        folder.rmdir()
    except OSError as wrong:
        raise ClaywitError(
            f"{folder}: cannot be removed: {wrong.strerror}; the answer is whole, so remove it"
            " yourself"
        ) from None


def forget_ids(folder: Path) -> None:
    """Remove what told whether an id stands in two files."""
    for ids in (folder / ASIDE).glob("*.ids"):
        with suppress(OSError):  # in nobody's way
            ids.unlink()
